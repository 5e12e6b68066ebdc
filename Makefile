PY := .venv/bin/python
HALFSHAFT := .venv/bin/halfshaft

.DEFAULT_GOAL := run

.venv/ready: pyproject.toml requirements.lock
	python3 -m venv .venv
	$(PY) -m pip install -q --disable-pip-version-check -r requirements.lock
	$(PY) -m pip install -q --disable-pip-version-check --no-deps -e .
	touch $@

.PHONY: run open test search long check format bench pictures

run: .venv/ready  ## work the demo build to finished files
	@test -e demo/build.toml || $(HALFSHAFT) new demo --demo
	$(HALFSHAFT) run demo
	@echo "or: make open"

open: .venv/ready  ## the demo build on the bench, in the browser
	@test -e demo/build.toml || $(HALFSHAFT) new demo --demo
	$(HALFSHAFT) open demo

test: check  ## lint, types and tests, the bench in a real browser among them
	$(PY) -m pytest tests -n 2

search: .venv/ready  ## property tests with new random examples, each time other ones
	HALFSHAFT_EXAMPLES=search $(PY) -m pytest tests/properties -n 2

long: .venv/ready  ## what takes long: ways in, all planted places, hard frames, fine meshes
	HALFSHAFT_LONG=1 HALFSHAFT_PLANTED=10 $(PY) -m pytest tests/fitup tests/measure tests/mounts tests/cut tests/bench/test_mounts_page.py -n 2

check: .venv/ready
	.venv/bin/ruff check src tests benchmarks
	.venv/bin/ruff format --check -q src tests benchmarks
	.venv/bin/mypy

format: .venv/ready
	.venv/bin/ruff check --fix -q src tests benchmarks
	.venv/bin/ruff format -q src tests benchmarks

bench: .venv/ready  ## ratios against references, side by side
	for one in benchmarks/*_speed.py; do $(PY) $$one || exit 1; done
	$(PY) benchmarks/simulated_shop.py
	$(PY) benchmarks/bench_ready.py

pictures: .venv/ready  ## screenshots of each page of the bench, into docs/pictures
	$(PY) benchmarks/pictures.py
