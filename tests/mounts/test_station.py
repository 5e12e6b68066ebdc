"""The mounts station: forces by hand, sums, refusals in words, and what gives way first."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.constants import g

from halfshaft.checks import Severity
from halfshaft.mounts.model import use_of
from halfshaft.mounts.seams import seams_under
from halfshaft.mounts.station import mounts_of, softer_or_stiffer
from tests.mounts.stands import BOLTS, DECK_MM, THREE, stand, state, worked

SNUBBED = {
    "stiffness": [300, 900, 700], "turn_stiffness": [5, 10, 10], "free": [2, 2, 2], "snubber": [4000, 4000, 4000],
    "travel": [20, 20, 20],
}  # fmt: skip


def test_a_torque_on_three_mounts_is_shared_as_by_hand() -> None:
    # by hand: 1200 N m about the axle over 600 mm from the front pair to the rear one is a couple of 2000 N; the
    # weight of 100 kg midway between them rests half on the rear one
    found = worked(case={"twist": {"axle_torque": 1200, "kind": "everyday"}})
    up = {m.name: m.force_n[2] for m in state(found, "twist").mounts}
    assert up["left"] == pytest.approx(1000.0 - 100.0 * g / 4.0, rel=2e-3)
    assert up["right"] == pytest.approx(up["left"], rel=1e-6)
    assert up["rear"] == pytest.approx(-2000.0 - 100.0 * g / 2.0, rel=2e-3)


def test_front_mounts_are_pulled_up_and_the_rear_one_pushed_down_when_driving_forward() -> None:
    # common practice, no source: the housing turns against the wheels
    found = worked(rubber=SNUBBED)
    rest, launch, back = (state(found, name) for name in ("at rest", "launch", "launch in reverse"))
    for front in ("left", "right"):
        assert launch.mount(front).force_n[2] > 0.0 > rest.mount(front).force_n[2]
        assert back.mount(front).force_n[2] < rest.mount(front).force_n[2]
    assert launch.mount("rear").force_n[2] < rest.mount("rear").force_n[2] < back.mount("rear").force_n[2]


def test_reactions_sum_to_the_loads_in_every_case() -> None:
    found = worked(
        rubber=SNUBBED, case={"hook": {"felt": [0.3, -0.5, -1.4], "force": [900, -400, 1500], "at": [80, -60, 300]}}
    )
    assert len(found.states) > 25
    assert any(m.on_snubber.any() for one in found.states for m in one.mounts)
    for case, settled in zip(found.cases.cases, found.states, strict=True):
        centre = found.body.centre_mm + settled.shift_mm
        force = sum(m.force_n for m in settled.mounts)
        moment = sum(
            m.moment_nmm + np.cross(mount.bushing.centre_mm - centre, m.force_n)
            for m, mount in zip(settled.mounts, found.mounts, strict=True)
        )
        size = sum(np.linalg.norm(m.force_n) for m in settled.mounts)
        assert np.linalg.norm(force - case.force_n) < 1e-9 * size
        assert np.linalg.norm(moment - case.moment_nmm) < 1e-9 * size * 300.0


def test_every_case_has_a_source_and_the_tyres_bound_the_torque() -> None:
    told = {
        "axle": "rear",
        "axle_mass": 800,
        "car_mass": 1500,
        "wheelbase": 2500,
        "cog_height": 500,
        "wheel_radius": 300,
    }
    found = worked(motor_torque=1000, friction=1.0, **told)
    # by hand: N = 800 g / (1 - 500 / 2500) = 1000 g, torque 1000 g x 0.3 m
    assert found.cases.named("launch").moment_nmm[1] == pytest.approx(-1000.0 * g * 300.0, rel=1e-9)
    assert all(case.source.text for case in found.cases.cases)
    assert not any(a.where in ("mounts.axle_mass", "mounts.friction") for a in found.assumed)


def test_what_is_not_told_is_listed_as_assumed_with_its_source() -> None:
    found = worked()
    listed = {a.where: a for a in found.assumed}
    for key in (
        "bump",
        "shock",
        "axle_mass",
        "class",
        "regeneration_torque",
        "dynamic_ratio",
        "mount.left.joint.plate.class",
    ):
        assert listed[f"mounts.{key}"].source.text
    assert "mounts.mass" not in listed


@pytest.mark.parametrize(
    ("at", "where"),
    [
        ({"one": (300.0, 0.0), "two": (0.0, 0.0), "three": (-250.0, 0.0)}, "in one line"),
        ({"one": (0.0, -300.0), "two": (0.0, 0.0), "three": (1.0, 280.0)}, "in one line"),
        ({"one": (100.0, 100.0)}, "in one spot"),
    ],
)
def test_mounts_in_one_line_or_spot_are_refused_in_words(at: dict[str, tuple[float, float]], where: str) -> None:
    # with rubber that hardly resists turning, and with rubber that does not at all
    for turning in ([0.5, 0.5, 0.5], [0, 0, 0]):
        found = worked(at=at, rubber={"stiffness": [900, 900, 900], "turn_stiffness": turning})
        assert not found.held
        (check,) = found.checks
        assert not check.ok
        assert check.severity is Severity.STOP
        assert where in check.title
        assert "off that line" in check.do


def test_mounts_that_leave_a_move_free_are_refused_in_words() -> None:
    found = worked(rubber={"stiffness": [900, 0, 900], "turn_stiffness": [0, 0, 0]})
    assert not found.held
    assert "slides" in found.checks[0].do


def test_a_straight_pull_is_shared_evenly_by_four_bolts() -> None:
    found = worked(case={"lift": {"felt": [0, 0, 0], "force": [0, 0, 12000], "at": [0, 0, DECK_MM], "kind": "hard"}})
    joint = found.mount("left").joints[0]
    # by hand: half of 12 kN on the front pair, a quarter of each half on each bolt
    assert joint.pull_n[joint.cases.index("lift")] == pytest.approx(np.full(4, 12000.0 / 4.0 / 4.0), rel=2e-3)
    assert joint.shear_n[joint.cases.index("lift")] == pytest.approx(np.zeros(4), abs=1.0)


def test_a_sideways_push_at_the_seat_is_shared_evenly_in_shear() -> None:
    found = worked(case={"push": {"felt": [0, 0, 0], "force": [9000, 0, 0], "at": [0, 0, DECK_MM], "kind": "hard"}})
    joint = found.mount("rear").joints[0]
    assert joint.shear_n[joint.cases.index("push")] == pytest.approx(np.full(4, 9000.0 / 3.0 / 4.0), rel=2e-3)


def test_a_plate_made_too_thin_is_caught_named_and_told_what_to_change() -> None:
    # by hand: a third of 90 kN on four bolts is 7.5 kN; 0.8 mm of S235 bears 2.5 x 360 x 12 x 0.8 / 1.25 = 6.9 kN at
    # each, EN 1993-1-8 table 3.4
    push = {"push": {"felt": [0, 0, 0], "force": [90000, 0, 0], "at": [0, 0, DECK_MM], "kind": "hard"}}
    sound = worked(case=push)
    thin = worked(case=push, joint={"thickness": 0.8})
    assert not [c for c in sound.checks if not c.ok and c.severity is Severity.STOP]
    weakest = thin.mount("rear").weakest
    assert weakest is not None
    assert not weakest.ok
    assert "plate" in weakest.about
    assert "bearing of the hole" in weakest.title
    assert use_of(weakest) == pytest.approx(7500.0 / 6912.0, rel=2e-2)
    assert "make the plate" in thin.mount("rear").change
    assert any(c.about == weakest.about and not c.ok for c in thin.checks)


def test_checks_of_a_mount_stand_worst_first_and_the_weakest_uses_most() -> None:
    for mount in worked(motor_torque=900).mounts:
        failed = [not c.ok for c in mount.checks]
        assert failed == sorted(failed, reverse=True)
        used = [use for c in mount.checks if (use := use_of(c)) is not None]
        assert use_of(mount.weakest) == max(used)


def test_wide_holes_must_hold_by_friction() -> None:
    # painted faces hold a fifth of what blasted ones do
    def slip(surface: str) -> tuple[float, bool]:
        found = worked(motor_torque=900, joint={"surface": surface}).mount("rear")
        check = next(c for c in found.checks if c.title.startswith("slip"))
        return check.limit, check.severity is Severity.CAUTION

    assert slip("A")[0] == pytest.approx(5.0 * slip("painted")[0], rel=0.02)
    assert slip("A")[1]  # a round hole: it bears when it slips, so a rattle is no stop


def test_a_closed_tube_without_a_sleeve_is_caught_and_a_crush_tube_mends_it() -> None:
    tube = {"tube": [60, 100], "wall": 3, "torque": 60}
    empty = worked(joint=tube).mount("rear")
    filled = worked(joint={**tube, "into": "crush tube", "sleeve": [24, 13]}).mount("rear")
    assert any("torque" in c.title and "wall" in c.title and not c.ok for c in empty.checks)
    assert all(c.ok for c in filled.checks if c.severity is Severity.STOP)


def test_a_mount_held_by_welds_alone_has_their_stress_by_hand() -> None:
    # two runs of 100 mm, throat 4, along the mount's sides; 3 kN along them: the ends lose a throat each, EN 1993-1-8
    # 4.5.1 (1); the shear limit of S235 is 360 / (0.8 x 1.25 x sqrt 3) = 207.8 MPa, table 4.1 and (4.4)
    x, y = THREE["rear"]
    own = {
        "at": [[x, y, DECK_MM]], "axis": "up", "rubber": "own",
        "weld": {
            side: {"along": [[x - 50, y + off, DECK_MM], [x + 50, y + off, DECK_MM]], "throat": 4, "wall": 6}
            for side, off in (("near", -40.0), ("far", 40.0))
        },
    }  # fmt: skip
    build, known = stand(
        case={"push": {"felt": [0, 0, 0], "force": [9000, 0, 0], "at": [0, 0, DECK_MM], "kind": "hard"}}
    )
    mount = type(next(iter(build.mounts.mount.values()))).model_validate(own, context={"units": "metric"})
    told = build.mounts.model_copy(update={"mount": {**build.mounts.mount, "rear": mount}})
    found = mounts_of(build.model_copy(update={"mounts": told}), known, {}, Path()).mount("rear")
    assert sum(line.length_mm for line in found.welds) == pytest.approx(2 * 92.0)
    force, moment = np.array([[3000.0, 0.0, 0.0]]), np.zeros((1, 3))
    checks = seams_under(
        "w", found.welds, ("mild steel S235",), np.array([x, y, DECK_MM]), [_Named("push")], force, moment
    )
    use = 3000.0 / (2 * 92.0 * 4.0) / (360.0 / (0.8 * 1.25 * np.sqrt(3.0)))
    assert [c.found for c in checks] == pytest.approx([100.0 * use] * 2)
    assert any("fatigue" in c.title for c in found.checks)


class _Named:
    """A case of which only name and kind are read."""

    kind = "hard"

    def __init__(self, name: str) -> None:
        self.name = name


def test_a_lost_point_is_told_and_nothing_is_worked_with_a_mount_missing() -> None:
    build, known = stand()
    del known.points["car.left2"]
    found = mounts_of(build, known, {}, Path())
    assert not found.held
    (check,) = found.checks
    assert check.about == "mount left"
    assert "car.left2" in check.do


def test_a_unit_without_mass_or_pieces_is_told() -> None:
    found = worked(mass=None)
    assert not found.held
    assert "write mass" in found.checks[0].do


def test_two_bolts_in_a_line_hold_with_their_seat_and_one_bolt_is_told_what_it_lacks() -> None:
    two = worked(bolts=BOLTS[:2])
    assert two.held
    assert all(len(m.joints) == 1 for m in two.mounts)
    one = worked(bolts=BOLTS[:1], rubber=SNUBBED)
    assert one.held
    lost = [c for c in one.mount("rear").checks if c.title.startswith("bolts and seat cannot hold")]
    assert [c.ok for c in lost] == [False]
    assert "second bolt" in lost[0].do


def test_softer_and_stiffer_mounts_follow_the_root_law_from_what_is_told() -> None:
    build, points = stand()
    found = softer_or_stiffer(mounts_of(build, points, {}, Path()), build)
    assert found.choice is not None
    assert found.modes is not None
    middle = len(found.choice.factor) // 2
    assert found.choice.factor[middle] == pytest.approx(1.0)
    np.testing.assert_allclose(found.choice.frequency_hz[middle], found.modes.frequency_hz, rtol=1e-9)
    stiffest = found.choice.frequency_hz[-1] / found.choice.frequency_hz[middle]
    np.testing.assert_allclose(stiffest, np.sqrt(found.choice.factor[-1]), rtol=2e-2)  # linear springs
    assert {band.name for band in found.bands} >= {"wheel hop"}
