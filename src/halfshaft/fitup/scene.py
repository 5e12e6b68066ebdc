"""All that placing looks at, from the builder's words: a build and its measured points in, a scene out.

What cannot be made, for want of a located point say, is told as checks and left out; without a piece of the unit there
is no scene.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.build import Build
from halfshaft.build.catalogue import default
from halfshaft.build.fitup import FitupInput, JointInput, MemberInput, OutputInput, PieceInput, WheelInput
from halfshaft.build.tyre import free_size_mm
from halfshaft.build.value import Places, Value
from halfshaft.checks import Assumed, Check, Origin, Severity, Source
from halfshaft.fitup.halfshaft import joints_from
from halfshaft.fitup.member import member_of
from halfshaft.fitup.model import (
    Bounds,
    Fixed,
    Joints,
    Member,
    MountHole,
    OutputFlange,
    Piece,
    Scene,
    Section,
    ShaftBody,
    SideName,
    Unit,
    Wheel,
    middle_of,
)
from halfshaft.fitup.suspension import arm_rods, swept_arms, swept_tyre
from halfshaft.fitup.travel import (
    Arm,
    Corner,
    DoubleWishbone,
    ToeLink,
    TrailingArm,
    heights_mm,
    wheel_of_arms,
    wheel_of_table,
)
from halfshaft.geometry import Pose, mesh
from halfshaft.geometry.pose import turn
from halfshaft.measure.model import Measured
from halfshaft.measure.obstacles import obstacles_of, points_of

Array = NDArray[np.float64]
T = TypeVar("T")

STATION = "fitup"
_UP = np.array([0.0, 0.0, 1.0])
_DERIVED = Source(Origin.DERIVED, "docs/fitup.md")


def scene_of(
    build: Build, measured: Measured, folder: Path
) -> tuple[Scene | None, tuple[Check, ...], tuple[Assumed, ...]]:
    """The scene of [fitup], the checks of what is missing from it, and the values that were assumed.

    None where the build has no [fitup], or nothing of the unit can be made or it was not mocked up in the frame.
    """
    told = build.fitup
    if told is None:
        return None, (), ()
    checks: list[Check] = []

    def tried(about: str, make: Callable[[], T]) -> T | None:
        try:
            return make()
        except (ValueError, KeyError) as problem:
            words = str(problem.args[0] if problem.args else problem)
            checks.append(
                Check(
                    STATION, about, "Cannot be placed", _DERIVED, Severity.STOP,
                    f"{words}. Until then nothing is known of it.", failed_outright=True,
                )
            )  # fmt: skip
            return None

    members: dict[str, Member] = {}
    fixed: list[Fixed] = []
    for name, wish in told.member.items():
        made = tried(f"member {name}", partial(_member, name, wish, build, measured))
        if made is not None:
            members[name] = made
            fixed.append(Fixed(name, "member" if wish.may_cut else "keep", made.solid, wish.clearance_mm))
    obstacles, more = obstacles_of(build, measured, folder)
    checks += more
    fixed += [Fixed(o.name, "keep", o.solid, o.clearance_mm, o.hidden) for o in obstacles]
    unit = told.unit
    laid = tried(f"unit {unit}", partial(_drawing, told, measured))
    drawing = laid or Pose.identity()
    pose = _mocked_up(build, measured, unit, drawing)
    if pose is None:
        tried(f"unit {unit}", partial(_not_tied, unit))
    own = partial(_spot_of, unit=unit, measured=measured, drawing=drawing)
    pieces = _made(tried(f"piece {n}", partial(_piece, n, p, own, folder)) for n, p in told.piece.items())
    outputs = _made(tried(f"output {s}", partial(_output, s, o, own)) for s, o in told.output.items())
    wheels = _made(tried(f"wheel {s}", partial(_wheel, s, w, build, measured)) for s, w in told.wheel.items())
    on_arms = [wheel.side for wheel in wheels if not told.wheel[wheel.side].table]
    moving = [arm for side in on_arms for arm in _swept(side, told.wheel[side], build, measured)]
    moving += _made(tried(f"tyre {w.side}", partial(_tyre, w, told.wheel[w.side], build, measured)) for w in wheels)
    fixed += moving
    assumed = tuple(_assumed(told))
    if pose is None or not pieces or laid is None:
        return None, tuple(checks), assumed
    joints, more_assumed = _joints(told.joint)
    scene = Scene(
        fixed=tuple(fixed),
        members=members,
        unit=Unit(tuple(pieces), tuple(outputs), tuple(_mounts(build, unit, measured, drawing)), drawing),
        wheels=tuple(wheels),
        joints=joints,
        bounds=Bounds(
            _begin(pose.after(drawing), told, pieces, unit in measured.poses),
            np.array(told.shift_mm),
            np.array(told.turn_deg),
        ),
        ground_clearance_mm=told.ground_mm,
        service_mm=told.service_mm,
        shaft_body=_shaft_body(told.joint, moving),
        mocked_up=measured.poses[unit].after(drawing) if unit in measured.poses else None,
    )
    return scene, tuple(checks), (*assumed, *more_assumed)


def _made(tried: Iterable[T | None]) -> list[T]:
    return [one for one in tried if one is not None]


def _joints(told: JointInput) -> tuple[Joints, tuple[Assumed, ...]]:
    def own(field: str, value: float) -> float | None:
        return value if told.given(field) else None

    return joints_from(
        own("angle_deg", told.angle_deg),
        own("travel_angle_deg", told.travel_angle_deg),
        own("stroke_mm", told.stroke_mm),
        told.least_length_mm,
        told.most_length_mm if told.most_length_mm is not None else np.inf,
    )


def _mocked_up(build: Build, measured: Measured, unit: str, drawing: Pose) -> Pose | None:
    """Where readings tie the unit; where none do and fit-up places it, its drawing's axes laid on the root's."""
    found = measured.poses.get(unit)
    return drawing.inverse() if found is None and build.body[unit].placed == "fitup" else found


def _not_tied(unit: str) -> None:
    raise ValueError(
        f"nothing ties '{unit}' to the frame: mock it up and take readings between the two, or write "
        f'placed = "fitup" for it and its place as begin'
    )


def _begin(pose: Pose, told: FitupInput, pieces: list[Piece], tied: bool) -> Pose:
    """The mocked-up place, turned about the unit's own middle and shifted as the builder says."""
    if not tied:
        return Pose(np.asarray(turn(np.radians(told.begin_turn_deg))), np.array(told.begin_mm))
    return moved_about(pose, middle_of(pieces), told.begin_mm, told.begin_turn_deg)


def moved_about(pose: Pose, spot_mm: ArrayLike, shift_mm: ArrayLike, turn_deg: ArrayLike) -> Pose:
    """A pose turned by a rotation vector about one spot of the body, given in its axes, then shifted."""
    middle = pose.apply(spot_mm)
    turned = np.asarray(turn(np.radians(turn_deg)))
    return Pose(turned, middle - turned @ middle + np.asarray(shift_mm, dtype=float)).after(pose)


def members_of(build: Build, measured: Measured) -> tuple[Member, ...]:
    """The frame's members as far as their points are located; empty where the build tells none."""
    found = []
    for name, wish in build.fitup.member.items() if build.fitup is not None else ():
        with suppress(ValueError, KeyError):
            found.append(_member(name, wish, build, measured))
    return tuple(found)


def _line(places: Places, build: Build, measured: Measured) -> Array:
    """Points and spots (n, 3) in root axes."""
    return np.array([points_of([at], build, measured, 1)[0][0] if isinstance(at, str) else at for at in places])


def _member(name: str, wish: MemberInput, build: Build, measured: Measured) -> Member:
    line = _line(wish.along, build, measured)
    height = wish.height_mm if wish.height_mm is not None else wish.width_mm
    section = Section(wish.section, wish.width_mm, height, wish.wall_mm, wish.opens or "")
    along = line[-1] - line[0]
    left = np.cross(_UP, along)
    size = float(np.linalg.norm(left))
    # of an upright member 'left' and 'up' are said of the car
    across = left / size if size > 1e-6 * float(np.linalg.norm(along)) else np.array([0.0, 1.0, 0.0])
    up = _UP if size > 1e-6 * float(np.linalg.norm(along)) else np.array([1.0, 0.0, 0.0])
    made = member_of(name, section, line + wish.offset_mm[0] * across + wish.offset_mm[1] * up, up)
    return replace(made, welds_mm=tuple(_line(weld, build, measured) for weld in wish.welds))


def _spot_of(name: str, unit: str, measured: Measured, drawing: Pose) -> Array:
    """A point (3,) of the unit in the axes of its drawing. Raises ValueError where it is not located."""
    return drawing.inverse().apply(_own(name, unit, measured))


def _own(name: str, unit: str, measured: Measured) -> Array:
    """A point (3,) in the axes of the unit's body. Raises ValueError where it is not located."""
    point = measured.points.get(name)
    pose = measured.poses.get(unit)
    if point is not None and point.body == unit and not point.tied:
        return np.asarray(point.xyz_mm)
    if point is None or not point.tied or pose is None:
        raise ValueError(f"{name} is not located in the axes of the frame; take more readings of it")
    return pose.inverse().apply(point.xyz_mm)


def _drawing(told: FitupInput, measured: Measured) -> Pose:
    """From the axes of the unit's drawing to its own. Raises ValueError where a point is missing or spots lie else."""
    if told.at is None:
        return Pose.identity()
    spots = np.array([_own(name, told.unit, measured) for name in told.on])
    pose, miss = mesh.placing(np.asarray(told.at, dtype=float), spots)
    most = float(default("fitup.drawing_miss").value)
    if miss > most:
        raise ValueError(
            f"the drawing's spots and {', '.join(told.on)} do not lie alike, {miss:.1f} mm off, at most {most:g}: "
            f"check the spots, or read the points again"
        )
    return pose


def _piece(name: str, wish: PieceInput, spot_of: Callable[[str], Array], folder: Path) -> Piece:
    if wish.box is not None:
        solid = mesh.box(*wish.box)
    elif wish.tube is not None and wish.diameter_mm is not None:
        foot, top = (np.asarray(end, dtype=float) for end in wish.tube)
        way = top - foot
        solid = mesh.cylinder(foot, way, wish.diameter_mm / 2.0, float(np.linalg.norm(way)))
    elif wish.mesh is not None:
        solid = mesh.read_mesh(folder / wish.mesh)
        if wish.at is not None:
            pose, _ = mesh.placing(np.asarray(wish.at, dtype=float), np.array([spot_of(n) for n in wish.on]))
            solid = mesh.moved(solid, pose)
    else:
        raise ValueError("write a box, a tube or a mesh")
    if solid.empty:
        raise ValueError("it has no room inside: write corners or ends that are apart")
    return Piece(name, solid, wish.comes_off, wish.sway_mm)


def _output(side: SideName, wish: OutputInput, spot_of: Callable[[str], Array]) -> OutputFlange:
    at = spot_of(wish.at)
    way = at - spot_of(wish.inward)
    size = float(np.linalg.norm(way))
    if size < 1.0:
        raise ValueError(f"{wish.at} and {wish.inward} lie in one place: name a point further in on the axis")
    return OutputFlange(side, at, way / size)


def _wheel(side: SideName, wish: WheelInput, build: Build, measured: Measured) -> Wheel:
    if wish.table:
        rows = np.array([[travel, *joint, *hub] for travel, joint, hub in wish.table])
        return wheel_of_table(side, rows[:, 0], rows[:, 1:4], rows[:, 4:7] - rows[:, 1:4])
    (joint, hub), _ = points_of((wish.joint or "", wish.hub or ""), build, measured, least=2)
    corner = Corner(side, hub, joint, hub - joint)
    arms, travel = _arms(wish, build, measured), heights_mm(wish.droop_mm, wish.bump_mm)
    made = wheel_of_arms(corner, arms, travel)
    return replace(made, arms=arm_rods(corner, arms, travel), arm_mm=wish.arm_mm)


def _arms(wish: WheelInput, build: Build, measured: Measured) -> TrailingArm | DoubleWishbone:
    if wish.pivot:
        pivot, _ = points_of(wish.pivot, build, measured, least=2)
        return TrailingArm(*pivot)
    lower, upper = (Arm(*points_of(names, build, measured)[0]) for names in (wish.lower, wish.upper))
    toe = ToeLink(*points_of(wish.toe, build, measured, least=2)[0]) if wish.toe else None
    return DoubleWishbone(lower, upper, toe)


def _swept(side: SideName, wish: WheelInput, build: Build, measured: Measured) -> list[Fixed]:
    """What the arms of a wheel take on their way, as things that the unit keeps clear of."""
    (joint, hub), _ = points_of((wish.joint or "", wish.hub or ""), build, measured, least=2)
    travel = heights_mm(wish.droop_mm, wish.bump_mm)
    solids = swept_arms(Corner(side, hub, joint, hub - joint), _arms(wish, build, measured), travel, wish.arm_mm)
    clearance = float(default("fitup.clearance").value)
    return [Fixed(name, "keep", solid, clearance, swept=True) for name, solid in solids.items()]


def _tyre(wheel: Wheel, wish: WheelInput, build: Build, measured: Measured) -> Fixed:
    """What a tyre takes on its way, as a thing that the unit keeps clear of."""
    if wish.table:
        middles = [float(np.linalg.norm(np.subtract(hub, joint))) for _, joint, hub in wish.table]
        middle_off = float(np.mean(middles))
    else:
        (joint, hub), _ = points_of((wish.joint or "", wish.hub or ""), build, measured, least=2)
        middle_off = float(np.linalg.norm(hub - joint))
    diameter, width = free_size_mm(wish.tyre) if wish.tyre else default("fitup.tyre").value
    grown = 1.0 + float(default("fitup.tyre_growth").value)
    solid = swept_tyre(wheel, middle_off, diameter, width * grown, wish.steer_deg)
    return Fixed(
        f"{wheel.side} tyre through its travel", "keep", solid, float(default("fitup.clearance").value), swept=True
    )


def _shaft_body(told: JointInput, moving: Iterable[Fixed]) -> ShaftBody:
    # what hangs on the wheel rises and falls with the shaft, so one's whole travel says nothing of the other's
    past = frozenset(told.past) | {one.name for one in moving}
    return ShaftBody(told.shaft_diameter_mm, told.shaft_clearance_mm, past, not told.given("shaft_clearance_mm"))


def _mounts(build: Build, unit: str, measured: Measured, drawing: Pose) -> list[MountHole]:
    """Bolt holes of the unit that a bracket names, each with the normal of the face it is bolted to."""
    found: dict[str, MountHole] = {}
    pose = measured.poses.get(unit)
    back = drawing.inverse()
    if pose is not None:
        back = back.after(pose.inverse())
    for bracket in build.bracket.values():
        for panel in bracket.panel.values():
            face = measured.faces.get(panel.face or "")
            if face is None or face.body != unit or face.tied == (pose is None):
                continue
            for hole in panel.holes:
                point = measured.points.get(hole.at)
                if point is not None and point.body == unit and point.tied == face.tied:
                    axis = back.rotation @ face.plane.normal
                    found[hole.at] = MountHole(hole.at, back.apply(point.xyz_mm), axis, hole.bolt)
    return list(found.values())


def _assumed(told: FitupInput) -> list[Assumed]:
    """Values of [fitup] that the builder left to the catalogue."""
    out = []
    for field in ("shift_mm", "turn_deg", "ground_mm", "service_mm"):
        out += _left_open(told, field, "fitup")
    for name, member in told.member.items():
        out += _left_open(member, "clearance_mm", f"fitup.member.{name}")
    for name, piece in told.piece.items():
        out += _left_open(piece, "sway_mm", f"fitup.piece.{name}")
    for side, wheel in told.wheel.items():
        if not wheel.tyre:
            out += _left_open(wheel, "tyre", f"fitup.wheel.{side}")
        if not wheel.table:
            out += _left_open(wheel, "bump_mm", f"fitup.wheel.{side}") + _left_open(
                wheel, "droop_mm", f"fitup.wheel.{side}"
            )
            out += _left_open(wheel, "arm_mm", f"fitup.wheel.{side}")
    if told.wheel and told.output:
        for field in ("shaft_diameter_mm", "shaft_clearance_mm"):
            out += _left_open(told.joint, field, "fitup.joint")
    return out


def _left_open(value: Value, field: str, where: str) -> list[Assumed]:
    if value.given(field):
        return []
    key = field.removesuffix("_mm").removesuffix("_deg")
    row = default(f"fitup.{key}")
    numbers = row.value if isinstance(row.value, list) else [row.value]
    return [Assumed(f"{where}.{key}", f"{', '.join(f'{v:g}' for v in numbers)} {row.unit}", row.source)]
