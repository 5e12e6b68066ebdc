"""Gussets from the page: what is picked becomes rows of build.toml that load as meant, comments kept, undone whole."""

from __future__ import annotations

from pathlib import Path

import pytest

from halfshaft.bench.bracket_edit import save
from halfshaft.bench.bracket_gussets import ENDS, gusset_values, place_values, reach_values, reaches_mm, without_gusset
from halfshaft.bench.desk import Desk
from halfshaft.bench.workroom import Workroom
from halfshaft.build import load
from halfshaft.build.schema import BracketInput

AT = ("bracket", "corner", "gusset", 0)


@pytest.fixture
def desk(small_folder: Path, room: Workroom) -> Desk:
    return Desk(small_folder, room)


def _corner(desk: Desk) -> BracketInput:
    return load(desk.folder).bracket["corner"]


def test_a_gusset_is_added_moved_to_both_ends_and_taken_out_again(desk: Desk) -> None:
    before = (desk.folder / "build.toml").read_text()
    assert save(desk, "one", gusset_values("corner", _corner(desk), "web, flange", "1 in"))
    (one,) = _corner(desk).gusset
    assert (one.between, one.at, one.ends) == (("web", "flange"), "middle", False)
    assert reaches_mm(one) == pytest.approx((25.4, 25.4))  # an inch is 25.4 mm exactly
    assert save(desk, "two", gusset_values("corner", _corner(desk), "web, flange", "30 mm"))
    assert save(desk, "ends", place_values(AT, one, ENDS))
    assert _corner(desk).gusset_names == (("gusset1", "gusset2"), ("gusset3",))
    assert save(desk, "middle", place_values(AT, _corner(desk).gusset[0], "middle"))
    assert _corner(desk).gusset_names == (("gusset1",), ("gusset2",))
    assert save(desk, "out", without_gusset("corner", _corner(desk), 1))
    assert save(desk, "out", without_gusset("corner", _corner(desk), 0))
    assert _corner(desk).gusset == ()
    for _ in range(6):
        desk.undo()
    assert (desk.folder / "build.toml").read_text() == before


def test_a_reach_is_one_number_until_the_two_differ(desk: Desk) -> None:
    save(desk, "one", gusset_values("corner", _corner(desk), "web, flange", "30 mm"))

    save(desk, "along", reach_values(AT, _corner(desk).gusset[0], 1, "25 mm", "metric"))
    assert reaches_mm(_corner(desk).gusset[0]) == pytest.approx((30.0, 25.0))
    save(desk, "along", reach_values(AT, _corner(desk).gusset[0], 0, "25 mm", "metric"))
    assert _corner(desk).gusset[0].reach_mm == pytest.approx(25.0)
