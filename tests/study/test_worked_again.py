"""What an edit works again: all that hangs on it, and the numbers are those of a study that remembers nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from halfshaft.memory import Memory
from halfshaft.study import work
from tests.study import small

GUSSET = """
[[bracket.corner.gusset]]
between = ["web", "flange"]
reach = 25
sheet = "rib"
[sheet.rib]
thickness = 4
pivot_depth = 0.7
"""


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ("[sheet.rib]\nthickness = 4", "[sheet.rib]\nthickness = 6"),  # a gusset's own sheet
        ("[sheet.plate]\nthickness = 4", "[sheet.plate]\nthickness = 5"),
        ("kerf = 1.5", "kerf = 2.5"),
        ("[100, 500, 300]", "[100, 420, 300]"),  # an obstacle nearer
    ],
)
def test_a_remembering_study_gives_what_a_fresh_one_gives(tmp_path: Path, was: str, now: str) -> None:
    folder = small.write(tmp_path / "build")
    path = folder / "build.toml"
    path.write_text(path.read_text() + GUSSET)
    memory = Memory()
    before = work(folder, until="fold", memory=memory).brackets["corner"]
    text = path.read_text()
    assert text.count(was) == 1
    path.write_text(text.replace(was, now))
    again, fresh = (work(folder, until="fold", memory=m).brackets["corner"] for m in (memory, Memory()))
    assert again.mass_kg == fresh.mass_kg
    assert [c.title for c in again.checks] == [c.title for c in fresh.checks]
    assert [p.thickness_mm for p in again.parts] == [p.thickness_mm for p in fresh.parts]
    assert [c.found for c in again.checks] == [c.found for c in fresh.checks]
    assert again is not before
