"""Claims about places that readings and hints leave open, on figures whose images are known by symmetry."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.build.schema import Build, Reading
from halfshaft.measure.station import Surveyed, measured_of, survey
from tests.measure.shop import places

FOOT = {"A": (0.0, 0.0, 500.0), "B": (900.0, 0.0, 500.0), "C": (0.0, 700.0, 500.0), "D": (850.0, 650.0, 500.0)}
APEX = (400.0, 300.0, 820.0)


def _read(names: list[tuple[str, ...]], spots: dict[str, tuple[float, float, float]]) -> list[Reading]:
    rows = []
    for kind, *ends in names:
        a = np.array(spots[ends[0]])
        if kind == "tape":
            value = float(np.linalg.norm(a - np.array(spots[ends[1]])))
        else:
            value = float(a[("station", "offset", "height").index(kind)])
        rows.append(Reading(kind=kind, names=tuple(f"car.{n}" for n in ends), value=(value,), line=len(rows) + 2))
    return rows


def _tent(more: list[tuple[str, ...]], **hint: str) -> tuple[Build, Surveyed]:
    """Four points in one level, known well, and an apex that tapes from them hold."""
    spots = FOOT | {"P": APEX, "Q": (100.0, 200.0, 900.0)}
    rows = [(kind, n) for n in FOOT for kind in ("station", "offset", "height") for _ in range(2)]
    rows += [("tape", n, "P") for n in FOOT] + [("tape", "A", "P")]
    point = {n: {} for n in spots if n != "Q"} | {"P": hint}
    build = Build.model_validate(
        {"build": {"name": "t"}, "body": {"car": {"point": point}}, "readings": _read([*rows, *more], spots)}
    )
    return build, survey(build)


def test_a_point_on_tapes_from_one_plane_fits_on_either_side_of_it() -> None:
    build, surveyed = _tent([])
    (one,) = surveyed.undecided
    assert one.name == "car.P"
    # the image in the level of the four: twice 320 mm away
    assert one.away_mm == pytest.approx(640.0, abs=5.0)
    assert "height" in one.hint
    (check,) = [c for c in measured_of(build, surveyed).checks if c.title == "fits in two places"]
    assert not check.ok
    assert one.hint in check.do


@pytest.mark.parametrize(("word", "z"), [("up", 820.0), ("down", 180.0)])
def test_the_eye_decides(word: str, z: float) -> None:
    _, surveyed = _tent([], height=word)
    assert surveyed.undecided == ()
    at = surveyed.network.point_names.index("car.P")
    assert surveyed.snooped.adjustment.state.points_mm[at, 2] == pytest.approx(z, abs=3.0)


def test_a_reading_out_of_the_plane_decides() -> None:
    _, surveyed = _tent([("height", "P")])
    assert surveyed.undecided == ()


def _frame(**hint: str) -> Surveyed:
    """A frame of rails read by tapes and heights: its image in a mirror reads the same."""
    spots = places()
    names = list(spots)
    rows: list[tuple[str, ...]] = [("tape", a, b) for i, a in enumerate(names) for b in names[i + 1 :]]
    rows += [("height", a) for a in names]
    point = {n: {} for n in names} | {"L1": hint}
    build = Build.model_validate(
        {"build": {"name": "t"}, "body": {"car": {"point": point}}, "readings": _read(rows, spots)}
    )
    return survey(build)


def test_a_frame_without_a_side_said_has_its_image() -> None:
    (one,) = _frame().undecided
    assert one.name == ""
    assert "side" in one.hint


def test_one_point_said_to_be_on_the_left_is_enough() -> None:
    assert _frame(side="left").undecided == ()


EARS = {"A": (0.0, -320.0, 500.0), "B": (0.0, -300.0, 600.0), "C": (0.0, 310.0, 520.0), "D": (0.0, 330.0, 640.0)}
FOOT_OF = {"P": (-400.0, 60.0, 300.0), "Q": (-400.0, -70.0, 300.0), "S": (-460.0, 50.0, 300.0),
           "T": (-470.0, -60.0, 300.0)}  # fmt: skip


def _ears_and_foot(**hint: str) -> tuple[Build, Surveyed]:
    """Two ears in one plane and a foot read from them: it fits as well before that plane as behind it."""
    spots = EARS | FOOT_OF
    rows: list[tuple[str, ...]] = [("tape", a, b) for a in spots for b in spots if a < b]
    rows += [("height", a) for a in spots]
    point = {n: {"side": "left" if y > 0.0 else "right"} for n, (_, y, _) in spots.items()}
    point["P"] = point["P"] | hint
    face = {"foot": {"points": list(FOOT_OF), "looks": "down"}}
    build = Build.model_validate(
        {
            "build": {"name": "t"},
            "body": {"car": {"point": point, "face": face}},
            "readings": _read(rows, spots),
        }
    )
    return build, survey(build)


def test_a_foot_that_fits_before_and_behind_the_ears_is_told_as_one() -> None:
    build, surveyed = _ears_and_foot()
    (one,) = surveyed.undecided
    assert set(one.name.split()) == {f"car.{n}" for n in FOOT_OF}
    # twice as far as the foot is from the plane of the ears, 400 to 470 mm
    assert 800.0 < one.away_mm < 940.0
    assert "end" in one.hint
    (check,) = [c for c in measured_of(build, surveyed).checks if c.title == "fits in two places"]
    assert check.about == "P, Q, S, T"


@pytest.mark.parametrize(("word", "sign"), [("front", 1.0), ("rear", -1.0)])
def test_one_word_about_one_point_settles_the_whole_foot(word: str, sign: float) -> None:
    _, surveyed = _ears_and_foot(end=word)
    assert surveyed.undecided == ()
    state, names = surveyed.snooped.adjustment.state, surveyed.network.point_names
    ears = np.mean([state.points_mm[names.index(f"car.{n}"), 0] for n in EARS])
    foot = np.mean([state.points_mm[names.index(f"car.{n}"), 0] for n in FOOT_OF])
    assert (foot - ears) * sign > 300.0
