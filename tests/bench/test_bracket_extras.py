"""Stiffeners, joined plates, outlines, lips and twins as edits of the desk: saved, undone, and written as by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from halfshaft.bench.bracket_edit import save
from halfshaft.bench.bracket_extras import (
    NO_TWIN,
    join_values,
    lip_values,
    outline_of,
    outline_text,
    stiffener_values,
    twin_values,
    without_flat,
    without_join,
)
from halfshaft.bench.desk import Desk
from halfshaft.bench.workroom import Workroom
from halfshaft.build import load
from halfshaft.build.schema import BracketInput


@pytest.fixture
def desk(small_folder: Path, room: Workroom) -> Desk:
    return Desk(small_folder, room)


def _corner(desk: Desk) -> BracketInput:
    return load(desk.folder).bracket["corner"]


def _text(desk: Desk) -> str:
    return (desk.folder / "build.toml").read_text()


def _comments(text: str) -> list[str]:
    return [line.partition("#")[2] for line in text.splitlines() if "#" in line]


def _kept_and_undone(desk: Desk, before: str) -> None:
    """Every comment stands, tables are parted by one empty line, and undo brings back the very text."""
    text = _text(desk)
    assert [c for c in _comments(before) if c not in _comments(text)] == []
    assert "\n\n\n" not in text
    lines = text.splitlines()
    for number, line in enumerate(lines[1:], 1):
        if line.startswith("["):
            assert not lines[number - 1] or lines[number - 1].startswith("#"), f"no room above {line}"
    desk.undo()
    assert _text(desk) == before


def test_a_stiffener_is_added_and_written_as_a_table_of_its_own(desk: Desk):
    before = _text(desk)
    assert save(desk, "stiffener", stiffener_values("corner", _corner(desk), "web", "3/4 in"))
    rib = _corner(desk).stiffener["rib"]
    assert (rib.on, rib.height_mm, rib.angle_deg) == ("web", pytest.approx(19.05), 90.0)
    assert '[bracket.corner.stiffener.rib]\non = "web"\nheight = "3/4 in"\n' in _text(desk)
    _kept_and_undone(desk, before)


def test_a_second_stiffener_gets_another_name_and_one_is_taken_out(desk: Desk):
    save(desk, "first", stiffener_values("corner", _corner(desk), "web", "20"))
    one = _text(desk)
    save(desk, "second", stiffener_values("corner", _corner(desk), "flange", "15 mm"))
    assert {key: rib.on for key, rib in _corner(desk).stiffener.items()} == {"rib": "web", "rib_2": "flange"}
    assert save(desk, "out", without_flat("corner", _corner(desk), "stiffener", "rib_2"))
    assert list(_corner(desk).stiffener) == ["rib"]
    assert _text(desk).rstrip() == one.rstrip()


def test_plates_are_joined_one_after_the_other_and_taken_off_again(desk: Desk):
    before = _text(desk)
    assert save(desk, "plate", join_values("corner", _corner(desk), "web", {"at": "A", "bolt": "M8"}))
    joined = _text(desk)
    assert 'join = [{ on = "web", cover = "lid", bolts = [{ at = "A", bolt = "M8" }] }]\n' in joined
    assert save(desk, "plate", join_values("corner", _corner(desk), "flange", {"at": "B", "bolt": "M8"}))
    assert [(j.on, j.cover, j.bolts[0].at) for j in _corner(desk).join] == [
        ("web", "lid", "car.A"),
        ("flange", "lid_2", "car.B"),
    ]
    assert save(desk, "off", without_join("corner", _corner(desk), 1))
    assert save(desk, "off", without_join("corner", _corner(desk), 0))
    assert _corner(desk).join == ()
    for _ in range(3):
        desk.undo()
    assert _text(desk) == joined
    _kept_and_undone(desk, before)


def test_a_bolt_is_added_to_a_plate_that_is_joined(desk: Desk):
    save(desk, "plate", join_values("corner", _corner(desk), "web", {"at": "A", "bolt": "M8"}))
    assert save(desk, "bolt", {("bracket", "corner", "join", 0, "bolts", 1): {"at": "B", "bolt": "M6"}})
    assert [(b.at, b.bolt) for b in _corner(desk).join[0].bolts] == [("car.A", "M8"), ("car.B", "M6")]


def test_an_outline_is_drawn_by_names_and_spots_and_left_to_the_bench_again(desk: Desk):
    before = _text(desk)
    at = ("bracket", "corner", "panel", "web", "outline")
    corners = outline_of("A\n-20, 0, 12.5\n\n1 in; 2 in; 0 in\n")
    assert corners == ["A", [-20, 0, 12.5], ["1 in", "2 in", "0 in"]]
    assert save(desk, "outline", {at: corners})
    told = _corner(desk).panel["web"].outline
    assert told == ("car.A", (-20.0, 0.0, 12.5), (25.4, 50.8, 0.0))
    # shown in the units of the build, and read again as the same corners
    text = outline_text(told, "metric", ["car.A", "car.B"])
    assert text == "A\n-20 0 12.5\n25.4 50.8 0"
    assert save(desk, "again", {at: outline_of(text)})
    assert _corner(desk).panel["web"].outline == told
    assert outline_of(" \n") is None
    assert save(desk, "left to the bench", {at: None})
    assert _corner(desk).panel["web"].outline == ()
    desk.undo()
    desk.undo()
    _kept_and_undone(desk, before)


def test_an_outline_of_two_corners_or_of_an_unknown_point_is_refused(desk: Desk):
    before = _text(desk)
    for corners in (["A", "B"], ["A", "B", "nowhere"]):
        assert not save(desk, "outline", {("bracket", "corner", "panel", "web", "outline"): corners})
        assert desk.refused
    assert _text(desk) == before


def test_a_panel_becomes_a_lip_and_is_bolted_again(desk: Desk):
    before = _text(desk)
    at = ("bracket", "corner", "panel", "flange")
    assert save(desk, "lip", lip_values(at, _corner(desk).panel["flange"], "lip"))
    assert save(desk, "depth", {(*at, "lip_depth"): "1 in"})
    panel = _corner(desk).panel["flange"]
    assert (panel.lip, panel.lip_depth_mm) == (True, pytest.approx(25.4))
    assert save(desk, "bolted", lip_values(at, panel, "bolts"))
    panel = _corner(desk).panel["flange"]
    assert (panel.lip, panel.lip_depth_mm) == (False, None)
    desk.undo()
    desk.undo()
    _kept_and_undone(desk, before)


def test_the_mirrored_twin_is_asked_for_and_not(desk: Desk):
    before = _text(desk)
    assert save(desk, "twin", twin_values("corner", _corner(desk), "twin"))
    assert _corner(desk).twin
    assert save(desk, "one", twin_values("corner", _corner(desk), NO_TWIN))
    assert not _corner(desk).twin
    desk.undo()
    _kept_and_undone(desk, before)


def test_a_panel_goes_with_its_folds_and_stiffeners(desk: Desk):
    save(desk, "rib", stiffener_values("corner", _corner(desk), "flange", "20 mm"))
    assert save(desk, "out", without_flat("corner", _corner(desk), "panel", "flange"))
    told = _corner(desk)
    assert (list(told.panel), told.folds, dict(told.stiffener)) == (["web"], (), {})
