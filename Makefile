PY := .venv/bin/python

.venv/ready: pyproject.toml requirements.lock
	python3 -m venv .venv
	$(PY) -m pip install -q -r requirements.lock
	$(PY) -m pip install -q --no-deps -e .
	touch $@

.PHONY: test
test: .venv/ready
	$(PY) -m pytest tests
