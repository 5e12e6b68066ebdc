"""What the station takes from elsewhere and gives on: the car's figures, room as it moves, the bracket's stress."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from halfshaft.build.catalogue import mounts as rows
from halfshaft.build.schema import Build
from halfshaft.checks import Severity
from halfshaft.fitup.member import member_of
from halfshaft.fitup.model import Bounds, Fixed, Joints, Piece, Scene, Section, Unit
from halfshaft.fitup.station import opened
from halfshaft.fitup.window import windows
from halfshaft.geometry import Pose, mesh
from halfshaft.mounts.bushings import Axis, Bushing
from halfshaft.mounts.duty import ranges, spectra
from halfshaft.mounts.loads import field_case
from halfshaft.mounts.room import closest_of, members_of, room_checks
from halfshaft.mounts.statics import settle
from halfshaft.mounts.station import STRESS, mounts_of
from halfshaft.mounts.strength import hardest, stressed
from halfshaft.mounts.verdict import practice
from tests.mounts.brackets import angle
from tests.mounts.stands import STIFF, stand

CAR = {
    "mass": 1500, "load": 100, "front_share": 0.5, "wheelbase": 2500, "centre_height": 500, "wheel_radius": 300,
    "motor": {"torque": 80, "power": 60000, "most_turns": 12000}, "gear": {"ratio": 9, "efficiency": 0.95},
    "pack": {"energy": "30 kWh", "volts": "350 V"},
}  # fmt: skip


def test_torque_and_masses_are_taken_from_the_car_and_listed() -> None:
    build, known = stand(motor_torque=None, ratio=None, shock=1.0)
    told = Build.model_validate({"build": {"name": "x"}, "car": CAR}, context={"units": "metric"}).car
    found = mounts_of(build.model_copy(update={"car": told}), known, {}, Path())
    # by hand: 80 N m x 9 x 0.95
    assert found.cases.named("launch").moment_nmm[1] == pytest.approx(-80.0 * 9.0 * 0.95 * 1000.0)
    assert found.cases.limits[0].grip.axle_load_n > 800.0 * 9.80665
    listed = {a.where: a.value for a in found.assumed if a.source.text == "[car]"}
    assert listed["mounts.car_mass"] == "1600"
    assert listed["mounts.axle_mass"] == "800"
    assert listed["mounts.wheel_radius"] == "300"


def test_the_room_of_a_piece_is_less_by_what_it_moves() -> None:
    # a cube of 100 mm stands 10 mm off a wall ahead; 800 N on 200 N/mm move it 4 mm forward
    rubber = Bushing("m", np.zeros(3), np.eye(3), (Axis(200.0),) * 3, (Axis(1e9),) * 3)
    piece = Piece("cube", mesh.box((-50, -50, -50), (50, 50, 50)), sway_mm=6.0)
    wall = Fixed("wall", "keep", mesh.box((60, -200, -200), (80, 200, 200)), 8.0)
    scene = Scene(
        (wall,), {}, Unit((piece,), (), ()), (), Joints(10.0, 20.0, 30.0),
        Bounds(Pose.identity(), np.ones(3), np.ones(3)), 100.0,
    )  # fmt: skip
    source = practice("a test")
    cases = [
        field_case("still", 10.0, (0, 0, 0), "everyday", source),
        field_case("pushed", 10.0, (0, 0, 0), "hard", source, force_n=(800.0, 0.0, 0.0)),
        field_case("crashed", 10.0, (0, 0, 0), "crash", source, force_n=(8000.0, 0.0, 0.0)),
    ]
    states = [settle([rubber], (0, 0, 0), case.force_n, case.moment_nmm, case.name) for case in cases]
    (near,) = closest_of(scene, Pose.identity(), cases, states)
    assert (near.piece, near.thing, near.case) == ("cube", "wall", "pushed")
    assert near.at_rest_mm == pytest.approx(10.0, abs=1e-6)
    assert near.distance_mm == pytest.approx(6.0, abs=1e-6)
    (check,) = room_checks([near])
    assert not check.ok
    assert check.severity is Severity.CAUTION


def test_a_member_with_a_window_is_told_before_and_after() -> None:
    line = np.array([[-500.0, 0.0, 0.0], [500.0, 0.0, 0.0]])
    rail = member_of("rail", Section("box", 60.0, 120.0, 3.0), line, np.array([0.0, 0.0, 1.0]))
    spur = Piece("spur", mesh.box((-40, 15, -20), (40, 80, 20)))
    fixed = Fixed("rail", "member", rail.solid, 5.0)
    bounds = Bounds(Pose.identity(), np.ones(3), np.ones(3))
    scene = Scene((fixed,), {"rail": rail}, Unit((spur,), (), ()), (), Joints(10.0, 20.0, 30.0), bounds, 100.0)
    cut = windows(rail, [spur], [Pose.identity()], 5.0, 1.5)
    (change,) = members_of(scene, opened(scene, cut), cut, [], {})
    assert change.member == "rail"
    # about the upright the cut wall is far out; a closed box that is opened loses nearly all of its twist: Bredt
    assert change.kept.bending_sideways < 0.9
    assert change.kept.twist_stiffness < 0.1
    assert change.bracket == ""
    assert members_of(scene, scene, (), [], {}) == ()


def test_spectra_of_one_part_of_a_stress_are_its_ranges() -> None:
    unit = {"torque": 90.0, "longitudinal": -20.0, "vertical": 35.0, "lateral": 5.0}
    across, along = spectra({n: np.array([v, 0.0, 0.0]) for n, v in unit.items()}, 150000.0)
    assert dict(across) == pytest.approx(dict(ranges(unit, 150000.0)))
    assert all(size == 0.0 for size, _ in along)
    _, along = spectra({n: np.array([0.0, 0.0, v]) for n, v in unit.items()}, 150000.0)
    assert [size for size, _ in along] == pytest.approx([size for size, _ in ranges(unit, 150000.0)])


@pytest.fixture(scope="module")
def held():
    """An angle bracket on a mount beside two others on the deck, its web on the frame and its ear on the unit."""
    bracket = angle(6.0)
    panels = {}
    for name, body in (("web", "car"), ("ear", "unit")):
        panel = bracket.panels[name]
        holes = tuple(
            replace(h, point=f"{body}.{h.name.split('.')[1]}", bolt="M12", boss_mm=20.0, washer_mm=24.0)
            for h in panel.holes
        )
        panels[name] = replace(panel, face=f"{body}.{name}", holes=holes, contact="under")
    bracket = replace(bracket, name="angle", panels=panels, sheet="plate")
    build, known = stand(
        at={"left": (-300.0, 250.0), "right": (-300.0, -250.0)}, centre=[-150, 0, 200], rubber=STIFF, motor_torque=20
    )
    told = {
        "bracket": "angle", "rubber": "own", "at": [30.0, 0.0, 30.0], "axis": "up",
        "joint": {"web": {"surface": "A"}, "ear": {"surface": "A"}},
    }  # fmt: skip
    holes = {n: [{"at": h.point, "bolt": "M12"} for h in panels[n].holes] for n in ("web", "ear")}
    values = {
        **build.model_dump(by_alias=True, exclude_unset=True),
        "sheet": {"plate": {"thickness": 6}},
        "bracket": {
            "angle": {
                "sheet": "plate", "folds": [{"between": ["web", "ear"]}],
                "panel": {
                    "web": {"face": "car.web", "holes": holes["web"]},
                    "ear": {"face": "unit.ear", "holes": holes["ear"]},
                },
            }
        },
    }  # fmt: skip
    values["mounts"] = {**values["mounts"], "mount": {**values["mounts"]["mount"], "ear": told}}
    whole = Build.model_validate(values, context={"units": "metric"})
    return whole, known, {"angle": bracket}


def test_a_bracket_is_loaded_by_its_mount_and_held_by_the_frame(held) -> None:
    build, known, brackets = held
    found = mounts_of(build, known, brackets, Path())
    assert found.held, [(c.title, c.do) for c in found.checks]
    assert any(c.about == STRESS for c in found.checks)
    after = stressed(found, build, brackets, compare=False)
    assert not any(c.about == STRESS for c in after.checks)
    mount = after.mount("ear")
    assert {j.seat.side for j in mount.joints} == {"frame", "unit"}
    assert mount.stress is not None
    names = [case.name for case in found.cases.cases]
    for case in mount.stress.cases:
        at = names.index(case.case)
        # what frame and seat put on the bracket balances what the unit puts on it
        held_by = sum(case.reactions_n.values())
        assert held_by == pytest.approx(-mount.force_n[at], abs=1e-6 * np.linalg.norm(mount.force_n[at]) + 1e-6)
    assert any(c.about.startswith("mount ear, bracket") for c in mount.checks)
    assert after.mount("left").stress is None
    assert any(a.where == "mounts.mount.ear.fold_throat" and a.value == "4.0 mm" for a in after.assumed)


def test_frame_and_unit_joints_feel_the_same_load_turned_round(held) -> None:
    build, known, brackets = held
    mount = mounts_of(build, known, brackets, Path()).mount("ear")
    by_side = {j.seat.side: j for j in mount.joints}
    both = set(by_side["frame"].cases) & set(by_side["unit"].cases)
    assert both
    for name in both:
        one, other = (by_side[s].force_n[by_side[s].cases.index(name)] for s in ("frame", "unit"))
        assert one == pytest.approx(-other)


def test_the_cases_picked_for_a_bracket_hold_every_extreme() -> None:
    build, known = stand()
    found = mounts_of(build, known, {}, Path())
    mount = found.mount("rear")
    served = [i for i, case in enumerate(found.cases.cases) if case.kind != "crash"]
    picked = hardest(mount, served, most=8)
    assert len(picked) <= 8
    assert set(picked) <= set(served)
    up = mount.force_n[:, 2]
    assert min(served, key=lambda i: up[i]) in picked
    assert max(served, key=lambda i: up[i]) in picked


def test_every_row_of_rubber_has_a_source_and_is_a_mount() -> None:
    for name in rows.rubbers():
        found = mounts_of(*_of_row(name), {}, Path())
        assert found.held, name
        assert rows.rubber(name).source.text


def _of_row(name: str):
    build, known = stand()
    mounts = {n: m.model_copy(update={"rubber": name}) for n, m in build.mounts.mount.items()}
    return build.model_copy(update={"mounts": build.mounts.model_copy(update={"mount": mounts})}), known
