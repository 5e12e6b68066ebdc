"""Where a mount is bolted on: a bracket's panel, or bolts told one by one, in; the joint's geometry and metals out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPoint, Point, Polygon
from shapely.geometry.base import BaseGeometry

from halfshaft.build import Build
from halfshaft.build.catalogue import default, material, mount_load
from halfshaft.build.catalogue import mounts as rows
from halfshaft.build.mounts import Into, JointInput, MountInput
from halfshaft.checks import Assumed, Origin, Source
from halfshaft.fold.model import Bracket, Hole, Panel
from halfshaft.geometry import Pose
from halfshaft.measure.model import Measured
from halfshaft.mounts.blind import friction_of
from halfshaft.mounts.bolts import Bolt, Plate, bolt_of
from halfshaft.mounts.tighten import Preload, permitted_preload_n, preload_from_torque, torque_for_most_nm

Array = NDArray[np.float64]
Side = Literal["frame", "unit"]

_PAST_MM, _SEAM_MM = 100.0, 5.0  # metal beyond a fold; no slit or setback parts it from the panel
_ROUND = 6  # straight runs to a quarter circle of a footprint
_AS_BOLT = Source(Origin.DERIVED, "what stretches the bolt to 0.9 of its yield at the high end of friction")


@dataclass(frozen=True, eq=False)
class Seat:
    """A joint: bolts through one flat part onto something. `pose` carries its axes to the root's.

    Its x and y lie in the seat, z points off it into the part. `at_mm` (n, 2); `footprint` is where metal rests on
    metal; `fold_mm` (n,) from each bolt to the nearest fold of the part, and `fold_length_mm` of that fold, if any.
    """

    name: str
    side: Side
    pose: Pose
    bolts: tuple[str, ...]
    at_mm: Array
    bolt: Bolt
    holes: tuple[str, ...]  # as the hole factors name them
    part: Plate
    part_material: str
    outline: Polygon | None  # gone on past its folds
    footprint: Polygon
    other: Plate
    other_material: str
    into: Into
    tube_mm: tuple[float, float] | None
    told: JointInput
    thread: str
    surface: str
    preload: Preload
    washer_mm: float
    fold_mm: Array
    fold_length_mm: Array

    @property
    def places_mm(self) -> Array:
        """Bolts (n, 3) on the seat, root axes."""
        return self.pose.apply(np.column_stack([self.at_mm, np.zeros(len(self.at_mm))]))


def seats_of(
    name: str, mount: MountInput, bracket: Bracket | None, build: Build, measured: Measured
) -> tuple[tuple[Seat, ...], tuple[Assumed, ...]]:
    """All joints of a mount: the bracket's panels with bolts into the frame or the unit, then those told by points.

    Raises ValueError, in words, where a point or face is not located, or a panel could not be made.
    """
    seats: list[Seat] = []
    assumed: list[Assumed] = []
    told = build.bracket[mount.bracket].panel if mount.bracket is not None else {}
    for panel_name in told:
        if bracket is None:
            break
        if not told[panel_name].holes or told[panel_name].face is None:
            continue
        panel = bracket.panels.get(panel_name)
        if panel is None:
            raise ValueError(
                f"the panel '{panel_name}' of the bracket '{bracket.name}' could not be made: see its checks"
            )
        holes = [hole for hole in panel.holes if hole.use == "bolt" and hole.bolt]
        if not holes:
            continue
        wish = mount.joint.get(panel_name, JointInput())
        flat = _of_panel(panel, holes, bracket, build, measured)
        seats.append(_seat(f"mounts.mount.{name}.joint.{panel_name}", panel_name, flat, wish, mount, build, assumed))
    for joint_name, wish in mount.joint.items():
        if joint_name not in told:
            flat = _of_points(joint_name, wish, measured)
            seats.append(
                _seat(f"mounts.mount.{name}.joint.{joint_name}", joint_name, flat, wish, mount, build, assumed)
            )
    return tuple(seats), tuple(assumed)


@dataclass(frozen=True, eq=False)
class _Flat:
    """One part's flat with its bolts, in axes whose z points off the seat."""

    body: str
    pose: Pose
    bolts: tuple[str, ...]
    at_mm: Array
    sizes: tuple[str, ...]
    diameters_mm: tuple[float, ...]
    slotted: tuple[bool, ...]
    bosses_mm: tuple[float, ...]
    washer_mm: float
    thickness_mm: float
    material: str
    strengths: tuple[float | None, float | None]  # over the catalogue's
    outline: Polygon | None
    known: BaseGeometry | None  # hull of what was measured on the face it rests on: metal for sure
    folds_mm: tuple[Array, ...]


def _of_panel(panel: Panel, holes: Sequence[Hole], bracket: Bracket, build: Build, measured: Measured) -> _Flat:
    over = np.array([1.0, -1.0]) if panel.contact == "upper" else np.array([1.0, 1.0])
    pose = panel.pose
    if panel.contact == "upper":
        # the seat is the sheet's upper side: looked at from there
        pose = pose.after(Pose(np.diag([1.0, -1.0, -1.0]), np.array([0.0, 0.0, panel.thickness_mm])))
    rings = [panel.outline.flattened_mm(0.05) * over, *(one.flattened_mm(0.05) * over for one in panel.openings)]
    outline = shapely.make_valid(Polygon(rings[0], rings[1:]))
    if outline.geom_type != "Polygon":
        outline = Polygon(rings[0])
    sheet = build.sheet[bracket.sheet]
    folds = [fold.line_a_mm * over for fold in bracket.folds if fold.a == panel.name]
    folds += [fold.line_b_mm * over for fold in bracket.folds if fold.b == panel.name]
    face = measured.faces.get(panel.face)
    on_face = [measured.points[p].xyz_mm for p in (face.points if face is not None else ()) if p in measured.points]
    known = MultiPoint(pose.inverse().apply(np.array(on_face))[:, :2]).convex_hull if on_face else None
    return _Flat(
        panel.face.split(".", 1)[0], pose, tuple(h.point.split(".", 1)[-1] for h in holes),
        np.array([h.centre_mm * over for h in holes]), tuple(h.bolt for h in holes),
        tuple(h.diameter_mm for h in holes), tuple(h.slot_mm > 0.0 for h in holes), tuple(h.boss_mm for h in holes),
        min((h.washer_mm for h in holes), default=0.0), panel.thickness_mm, sheet.material,
        (sheet.yield_mpa, sheet.ultimate_mpa), _past_folds(outline, folds), known, tuple(folds),
    )  # fmt: skip


def _past_folds(outline: Polygon, folds: Sequence[Array]) -> Polygon:
    """The outline with metal beyond its folds: there the plate goes on, and no edge is free."""
    grown = [outline]
    for line in folds:
        run = shapely.LineString(line[:2])
        sides = [run.buffer(far, single_sided=True, cap_style="flat") for far in (_PAST_MM, -_PAST_MM)]
        grown.append(min(sides, key=lambda side: side.intersection(outline).area).buffer(_SEAM_MM))
    joined = shapely.unary_union(grown)
    return joined if joined.geom_type == "Polygon" else outline


def _of_points(name: str, wish: JointInput, measured: Measured) -> _Flat:
    face = measured.faces.get(wish.face or "")
    if face is None or not face.tied:
        raise ValueError(f"the face {wish.face} of the joint '{name}' is not located: take more readings of it")
    lost = [at for at in wish.bolts if at not in measured.points or not measured.points[at].tied]
    if lost:
        raise ValueError(f"{', '.join(lost)} of the joint '{name}' not located: take more readings")
    points = np.array([measured.points[at].xyz_mm for at in wish.bolts])
    normal = face.plane.normal
    across = points[-1] - points[0] if len(points) > 1 else np.zeros(3)
    across = across - normal * float(normal @ across)
    if np.linalg.norm(across) < 1e-6:
        across = np.cross(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
    x = across / np.linalg.norm(across)
    foot = points[0] - normal * float(normal @ points[0] - face.plane.distance_mm)
    pose = Pose(np.column_stack([x, np.cross(normal, x), normal]), foot)
    bolt = bolt_of(wish.bolt or "", "8.8")
    boss = float(default("fold.boss").value) * bolt.hole_mm
    count = len(points)
    return _Flat(
        face.body, pose, tuple(at.split(".", 1)[-1] for at in wish.bolts), pose.inverse().apply(points)[:, :2],
        (wish.bolt or "",) * count, (bolt.hole_mm,) * count, (False,) * count, (boss,) * count, bolt.washer_mm,
        wish.thickness_mm or 0.0, wish.part or "mild steel S235", (None, None), None, None, (),
    )  # fmt: skip


def _seat(
    where: str, name: str, flat: _Flat, wish: JointInput, mount: MountInput, build: Build, assumed: list[Assumed]
) -> Seat:
    side: Side = "frame" if flat.body == build.root else "unit"

    def or_row(value: str | float | None, key: str, row_name: str) -> str | float:
        if value is not None:
            return value
        row = mount_load(row_name)
        assumed.append(Assumed(f"{where}.{key}", f"{row.value} {row.unit}".strip(), row.source))
        return row.value  # type: ignore[no-any-return]

    grade = str(or_row(wish.bolt_class, "class", "bolt.class"))
    thread = str(or_row(wish.thread, "thread", "bolt.thread"))
    surface = str(or_row(wish.surface, "surface", "bolt.surface"))
    wall, tube, into = wish.wall_mm, wish.tube_mm, wish.into
    if side == "frame" and mount.member is not None and build.fitup is not None:
        wall, tube = _of_member(mount.member, flat, build, wall, tube)
    if into is None:
        into = "empty tube" if tube is not None else "plate"
        why = "no closed section is told" if tube is None else "a closed section, nothing told inside it"
        assumed.append(Assumed(f"{where}.into", into, Source(Origin.DERIVED, why)))
    thickness = float(or_row(wall, "wall", "frame.wall"))
    metal = str(or_row(wish.material, "material", "frame.material"))
    bolts = [bolt_of(size, grade) for size in flat.sizes]
    smallest = min(bolts, key=lambda bolt: bolt.thread.diameter_mm)
    bolt = bolt_of(smallest.name, grade, max(max(flat.diameters_mm), smallest.thread.diameter_mm))
    holes = tuple(
        "short slot across" if slotted else "oversize" if wide > smallest.hole_mm + 0.3 else "round"
        for slotted, wide in zip(flat.slotted, flat.diameters_mm, strict=True)
    )
    if wish.torque_nm is None:
        friction = friction_of(bolt, rows.torque_factor(thread).k)
        most = permitted_preload_n(bolt.thread, bolt.yield_mpa, friction)
        torque = float(np.floor(torque_for_most_nm(bolt.thread, most, thread)))
        if into in ("plate", "tapped"):
            assumed.append(Assumed(f"{where}.torque", f"{torque:.0f} Nm", _AS_BOLT))
    else:
        torque = wish.torque_nm
    steel, other = material(flat.material), material(metal)
    fy, fu = flat.strengths
    circles = [Point(*at).buffer(boss, quad_segs=_ROUND) for at, boss in zip(flat.at_mm, flat.bosses_mm, strict=True)]
    footprint = shapely.unary_union(circles).convex_hull
    if flat.outline is not None:
        whole = flat.outline.convex_hull
        known = footprint if flat.known is None else footprint.union(flat.known).convex_hull
        cut = (whole if wish.rests == "whole" else known).intersection(whole)
        footprint = cut if cut.geom_type == "Polygon" and cut.area > 0.0 else footprint
    away, long = _folds(flat)
    return Seat(
        name, side, flat.pose, flat.bolts, flat.at_mm, bolt, holes,
        Plate(flat.thickness_mm, fy or steel.yield_mpa, fu or steel.ultimate_mpa, "bracket"), flat.material,
        flat.outline, footprint, Plate(thickness, other.yield_mpa, other.ultimate_mpa, side), metal, into, tube, wish,
        thread, surface, preload_from_torque(bolt.thread, torque, thread), flat.washer_mm or bolt.washer_mm, away, long,
    )  # fmt: skip


def _of_member(
    member: str, flat: _Flat, build: Build, wall: float | None, tube: tuple[float, float] | None
) -> tuple[float | None, tuple[float, float] | None]:
    """Wall, and of a closed section its outside across and along the bolt, of the member that it is fastened to."""
    assert build.fitup is not None
    told = build.fitup.member[member]
    height = told.height_mm if told.height_mm is not None else told.width_mm
    upright = abs(float(flat.pose.rotation[2, 2])) > np.sqrt(0.5)
    sizes = (told.width_mm, height) if upright else (height, told.width_mm)
    closed = told.section in ("box", "tube")
    return wall if wall is not None else told.wall_mm, tube if tube is not None or not closed else sizes


def _folds(flat: _Flat) -> tuple[Array, Array]:
    """From each bolt to the nearest fold, and how long that fold is; infinite and nought without one."""
    away, long = np.full(len(flat.at_mm), np.inf), np.zeros(len(flat.at_mm))
    for line in flat.folds_mm:
        run = shapely.LineString(line[:2])
        for i, at in enumerate(flat.at_mm):
            distance = float(run.distance(Point(*at)))
            if distance < away[i]:
                away[i], long[i] = distance, float(run.length)
    return away, long
