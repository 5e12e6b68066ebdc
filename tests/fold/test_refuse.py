"""Everything that is refused says what, why and what to do: one case each, drawn so that it cannot be made."""

from __future__ import annotations

import re

import numpy as np
import pytest

from halfshaft.checks import Check, Severity
from halfshaft.fold import Bracket
from halfshaft.fold.order import fold_order
from halfshaft.fold.station import fold, shaped
from halfshaft.measure.model import Unlocated
from tests.fold.builders import hung, meeting_volume_mm3, plate, slit
from tests.fold.frames import bolts, build_of, measured_of
from tests.properties.trays import part_of

FLOOR = ((0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
WALL = ((0.0, 0.0, 0.0), (-1.0, 0.0, 0.0))  # metal on the side of -x
SHELF = ((0.0, 0.0, 70.0), (0.0, 0.0, 1.0))
FACES = {"car.floor": FLOOR, "car.wall": WALL, "car.shelf": SHELF}
POINTS = {"car.A": (-60, -30, 0), "car.B": (-60, 30, 0), "car.C": (0, -30, 70), "car.D": (0, 30, 70)}
FOOT = {"face": "car.floor", "holes": bolts("car.A", "car.B")}
BACK = {"face": "car.wall", "holes": bolts("car.C", "car.D")}


def stops(bracket: Bracket) -> list[Check]:
    return [c for c in bracket.checks if c.severity is Severity.STOP and not c.ok]


def corner(
    points: dict[str, object] | None = None, foot: dict[str, object] = FOOT, back: dict[str, object] = BACK,
    **shop: object,
) -> list[Check]:  # fmt: skip
    build = build_of({"panel": {"foot": foot, "back": back}, "folds": [{"between": ["foot", "back"]}]},
                     {"thickness": 4.0}, **shop)  # fmt: skip
    return stops(shaped(build, measured_of({**POINTS, **(points or {})}, FACES), "piece"))  # type: ignore[dict-item]


def test_panels_that_want_the_same_sheet_are_refused_with_the_area_they_share() -> None:
    # a flange up along x = 100, 160 long and 50 high, and a flange down along y = 60, 150 long and 90 deep: folded they
    # lie apart, flat they share the corner from (100, 60) to (150, 150): about 50 x 90 mm, 45 square centimetres
    faces = {
        "car.base": FLOOR,
        "car.side": ((104.0, 0.0, 0.0), (-1.0, 0.0, 0.0)),
        "car.front": ((0.0, 60.0, 0.0), (0.0, 1.0, 0.0)),
    }
    panels = {
        "base": {"face": "car.base", "outline": [[0, 0, 0], [100, 0, 0], [100, 60, 0], [0, 60, 0]]},
        "side": {"face": "car.side", "outline": [[104, 0, 0], [104, 150, 0], [104, 150, 54], [104, 0, 54]]},
        "front": {"face": "car.front", "outline": [[0, 60, 0], [150, 60, 0], [150, 60, -90], [0, 60, -90]]},
    }
    folds = [{"between": ["base", "side"]}, {"between": ["base", "front"]}]
    build = build_of({"panel": panels, "folds": folds}, {"thickness": 4.0})
    (check,) = stops(shaped(build, measured_of({}, faces), "piece"))
    assert check.title == "Panels overlap in the flat"
    assert check.found == pytest.approx(50.0 * 90.0, rel=0.15)
    assert all(word in check.do for word in ("side", "front", "cm²", "bolt it on"))


def test_two_flanges_that_lock_through_each_other_are_refused_though_they_fit_when_folded() -> None:
    # Both turn 160 degrees over the web from opposite edges. Their planes cross over its middle, where each is a neck
    # beside the other's; past its neck each has a head that lies over the other's root. No order goes round.
    head = [(0, 0), (50, 0), (50, 42), (20, 42), (20, 66), (50, 66), (50, 88), (0, 88)]
    web = plate("web", [(0, 0), (100, 0), (100, 50), (0, 50)])
    folds = (
        slit("web", "one", [(0, 50), (0, 0)], [(50, 0), (0, 0)], 160.0),
        slit("web", "two", [(100, 0), (100, 50)], [(50, 0), (0, 0)], 160.0),
    )
    panels = {"web": web} | {
        name: hung(plate(name, head), f, web) for name, f in zip(("one", "two"), folds, strict=True)
    }
    assert meeting_volume_mm3(panels, folds) == {}
    order, checks = fold_order(part_of(panels), panels, folds)
    assert order == ()
    assert {check.title for check in checks} == {"Folds collide on the way round"}
    for check in checks:
        assert not check.ok
        assert check.severity is Severity.STOP
        assert all(word in check.do for word in ("one", "two", "trim", "bolted plate"))


def test_flanges_that_end_in_the_same_space_are_refused() -> None:
    web = plate("web", [(0, 0), (100, 0), (100, 50), (0, 50)])
    folds = (
        slit("web", "one", [(0, 50), (0, 0)], [(50, 0), (0, 0)], 135.0),
        slit("web", "two", [(100, 0), (100, 50)], [(50, 0), (0, 0)], 135.0),
    )
    flange = [(0, 0), (50, 0), (50, 100), (0, 100)]
    panels = {"web": web} | {
        name: hung(plate(name, flange), f, web) for name, f in zip(("one", "two"), folds, strict=True)
    }
    _, checks = fold_order(part_of(panels), panels, folds)
    (check,) = checks
    assert check.title == "Panels fill the same space"
    # two slabs 5 thick, 50 wide, crossing square: 5 x 5 x 50 mm
    assert check.found == pytest.approx(5.0 * 5.0 * 50.0, rel=0.02)


@pytest.mark.parametrize("away", [10.0, 12.0])
def test_a_hole_too_near_a_fold_is_refused_with_the_distance_it_has(away: float) -> None:
    # the fold line lies p tan 45 = 1 mm beyond the inside apex at x = -4; the hole of 11 mm ends 5.5 mm nearer
    (check,) = [c for c in corner({"car.A": (-away, -30, 0)}) if c.title.startswith("Hole too near fold")]
    assert check.found == pytest.approx(away - 4.0 + 1.0 - 5.5, abs=0.01)
    assert check.title.endswith("foot-back")
    assert all(word in check.do for word in ("fold", "another hole", "smaller bolt"))
    assert "stand off" not in check.do  # in an inner corner that would bring the fold nearer


def test_standing_off_as_told_takes_a_fold_round_a_corner_away_from_the_hole() -> None:
    # foot on top of a block, back down its side: the fold goes round the block's edge at x = 0
    points = {"car.A": (-9, -30, 0), "car.B": (-60, 30, 0), "car.C": (0, -30, -70), "car.D": (0, 30, -70)}
    faces = {"car.floor": FLOOR, "car.wall": ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0))}

    def near(standoff: str) -> list[Check]:
        panels = {"foot": FOOT, "back": {**BACK, "standoff": standoff}}
        build = build_of({"panel": panels, "folds": [{"between": ["foot", "back"]}]}, {"thickness": 4.0})
        bracket = shaped(build, measured_of(points, faces), "piece")  # type: ignore[arg-type]
        return [c for c in stops(bracket) if c.title.startswith("Hole too near fold")]

    (check,) = near("0 mm")
    told = re.search(r"let back stand off its face by ([\d.]+) mm more", check.do)
    assert told is not None
    assert near(f"{float(told[1]) - 0.2:.1f} mm")
    assert not near(f"{told[1]} mm")


def test_a_hole_too_near_an_edge_is_refused_by_the_rule_for_bolts_in_clearance_holes() -> None:
    # EN 1993-1-8:2005, table 3.3: e1 and e2 at least 1.2 d0: M10 in 11 mm holes (ISO 273:1979, medium) wants 13.2 mm
    checks = corner(foot={"face": "car.floor", "holes": bolts("car.A", "car.B", boss="13 mm")})
    near = [c for c in checks if c.title == "Hole to edge"]
    assert [c.limit for c in near] == pytest.approx([13.2, 13.2])
    assert all("boss" in c.do for c in near)
    assert not [c for c in corner(foot={"face": "car.floor", "holes": bolts("car.A", "car.B", boss="13.4 mm")})
                if c.title == "Hole to edge"]  # fmt: skip


@pytest.mark.parametrize("bolt", ["M6", "M10", "M12", "M16", "3/8 in", "1/2 in"])
def test_a_slot_as_the_bench_draws_it_has_metal_enough_about_it(bolt: str) -> None:
    slots = [{"at": name, "bolt": bolt, "shape": "slot"} for name in ("car.A", "car.B")]
    points = {"car.A": (-60, -40, 0), "car.B": (-60, 40, 0)}
    checks = corner(points, foot={"face": "car.floor", "holes": slots})  # type: ignore[arg-type]
    assert [c.do for c in checks if c.title == "Hole to edge"] == []


def test_a_hole_under_the_least_diameter_is_refused_and_drilling_offered() -> None:
    checks = corner(least_hole="12 mm")
    assert {c.title for c in checks} == {"Hole under the cutter's least diameter"}
    assert all("Drill it" in c.do and 'least_hole = "11 mm"' in c.do for c in checks)
    assert not corner(least_hole="11 mm")  # as the sentence says
    assert not corner(least_hole="12 mm", cutter="hand")


def test_parallel_faces_are_refused_and_a_panel_between_offered() -> None:
    (check,) = corner(back={"face": "car.shelf", "holes": bolts("car.C", "car.D")})
    assert all(word in check.do for word in ("foot", "back", "parallel", "third panel"))


def test_planes_that_never_meet_within_reach_are_refused_with_the_distance() -> None:
    (check,) = corner({"car.C": (0, -30, 900), "car.D": (0, 30, 900)})
    assert all(word in check.do for word in ("back", "never meet", "third panel"))


def test_a_fold_line_between_the_holes_of_a_panel_is_refused() -> None:
    (check,) = corner({"car.A": (60, -30, 0)})
    assert all(word in check.do for word in ("foot", "one side of its fold"))


def test_a_ring_of_folds_is_refused_and_a_seam_offered() -> None:
    side = {"face": "car.side", "holes": bolts("car.E")}
    points = {**POINTS, "car.E": (-50, 60, 50)}
    faces = {**FACES, "car.side": ((0.0, 60.0, 0.0), (0.0, -1.0, 0.0))}
    folds = [{"between": pair} for pair in (["foot", "back"], ["back", "side"], ["side", "foot"])]
    build = build_of({"panel": {"foot": FOOT, "back": BACK, "side": side}, "folds": folds}, {"thickness": 4.0})
    (check,) = stops(shaped(build, measured_of(points, faces), "piece"))
    assert all(word in check.do for word in ("ring", "leave one fold out", "weld"))


@pytest.mark.parametrize(("lost", "take"), [("car.C", "tape, C A"), ("car.wall", "onface, C wall")])
def test_what_is_not_located_is_named_with_the_reading_that_fixes_it(lost: str, take: str) -> None:
    points = {name: at for name, at in POINTS.items() if name != lost}
    faces = {name: at for name, at in FACES.items() if name != lost}
    missing = [Unlocated(lost, "too little holds it", take, 1)]
    build = build_of(
        {"panel": {"foot": FOOT, "back": BACK}, "folds": [{"between": ["foot", "back"]}]}, {"thickness": 4.0}
    )
    bracket = fold(build, measured_of(points, faces, missing), "piece")  # type: ignore[arg-type]
    assert bracket.parts == ()
    (check,) = stops(bracket)
    assert lost in check.do
    assert take in check.do


@pytest.mark.parametrize("turn", [1.5, 160.0])
def test_a_fold_that_hardly_turns_or_turns_too_far_is_refused(turn: float) -> None:
    way = np.radians(turn)
    normal = (-np.sin(way), 0.0, np.cos(way))
    points = {name: (80.0 * np.cos(way), y, 80.0 * np.sin(way)) for name, y in (("car.C", -30.0), ("car.D", 30.0))}
    build = build_of(
        {"panel": {"foot": FOOT, "back": BACK}, "folds": [{"between": ["foot", "back"]}]}, {"thickness": 4.0}
    )
    faces = {**FACES, "car.wall": ((0.0, 0.0, 0.0), normal)}
    checks = stops(shaped(build, measured_of({**POINTS, **points}, faces), "piece"))
    assert [c.found for c in checks if c.title == "Turn of the fold"] == [pytest.approx(turn, abs=1e-6)]
