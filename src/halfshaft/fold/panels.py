"""Panels before they have an outline: wishes and measured faces in, slabs of metal with their bosses out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.catalogue import bolt as bolt_row
from halfshaft.build.catalogue import default
from halfshaft.build.schema import BracketInput, FaceWay, HoleInput, PanelInput
from halfshaft.fold.model import Hole
from halfshaft.geometry import Plane
from halfshaft.measure.model import Measured

Array = NDArray[np.float64]

WAYS = {
    FaceWay.FRONT: np.array([1.0, 0.0, 0.0]),
    FaceWay.REAR: np.array([-1.0, 0.0, 0.0]),
    FaceWay.LEFT: np.array([0.0, 1.0, 0.0]),
    FaceWay.RIGHT: np.array([0.0, -1.0, 0.0]),
    FaceWay.UP: np.array([0.0, 0.0, 1.0]),
    FaceWay.DOWN: np.array([0.0, 0.0, -1.0]),
}


@dataclass(frozen=True, eq=False)
class Slab:
    """Metal between normal . x = low_mm and high_mm, in root axes, with what it must hold.

    `touches` is the side that lies on the face: -1 the low one, +1 the high one, 0 none. `bosses_mm` (n, 3) are the
    middles of `holes`; `drawn_mm` (m, 3) the builder's outline; `toward_mm` (3,) a spot on the side where the metal is
    when neither bosses nor an outline tell.
    """

    name: str
    normal: Array
    low_mm: float
    high_mm: float
    touches: int
    face: str
    wishes: tuple[HoleInput, ...]
    bosses_mm: Array
    drawn_mm: Array | None
    toward_mm: Array | None
    lip: bool = False

    @property
    def middle(self) -> Plane:
        return Plane(self.normal, (self.low_mm + self.high_mm) / 2.0)

    @property
    def pulls_mm(self) -> Array:
        """Spots (n, 3) that tell on which side of a line the metal is, dropped on the middle plane."""
        spots = [self.bosses_mm]
        if self.drawn_mm is not None:
            spots = [self.drawn_mm.mean(axis=0)[None, :]] if not len(self.bosses_mm) else spots
        if not len(spots[0]) and self.toward_mm is not None:
            spots = [self.toward_mm[None, :]]
        return np.asarray(self.middle.foot_mm(spots[0]))


def slab_of(bracket: BracketInput, name: str, measured: Measured, thickness_mm: float) -> Slab:
    """The slab of one panel.

    Raises ValueError saying what is not located, with the reading that would fix it, or what the panel lacks.
    """
    panel = bracket.panel[name]
    plane, toward = _plane_of(panel, measured)
    standoff = panel.standoff_mm
    if panel.lip and not panel.given("standoff_mm"):
        standoff = float(default("fold.lip_gap").value)
    if panel.side == "outside":
        low, high, touches = plane.distance_mm + standoff, plane.distance_mm + standoff + thickness_mm, -1
    else:
        low, high, touches = plane.distance_mm - standoff - thickness_mm, plane.distance_mm - standoff, 1
    # A panel that stands off its face by more than a shim lies on something else.
    if not panel.face or (standoff > 1.0 and not panel.lip):
        touches = 0
    spots = [_spot(measured, hole.at) for hole in panel.holes]
    drawn = [_spot(measured, corner) for corner in panel.outline]
    if 0 < len(drawn) < 3:
        raise ValueError(f"the outline of panel {name} wants three corners or more, found {len(drawn)}")
    return Slab(
        name,
        plane.normal,
        low,
        high,
        touches,
        panel.face or "",
        panel.holes,
        np.array(spots).reshape(-1, 3),
        np.array(drawn) if drawn else None,
        toward,
        panel.lip,
    )


def _plane_of(panel: PanelInput, measured: Measured) -> tuple[Plane, Array | None]:
    if panel.face:
        if panel.face not in measured.faces:
            raise ValueError(_missing(measured, panel.face, "face"))
        face = measured.faces[panel.face]
        if not face.tied:
            raise ValueError(f"body '{face.body}' is not tied to the car: read across from it to the car")
        return face.plane, face.middle_mm
    spots = np.array([_spot(measured, point) for point in panel.through]).reshape(-1, 3)
    way = WAYS[panel.looks] if panel.looks else None
    if panel.square_to:
        if panel.square_to not in measured.faces:
            raise ValueError(_missing(measured, panel.square_to, "face"))
        if len(spots) < 2:
            raise ValueError("a panel square to a face wants two points in 'through'")
        normal = np.cross(spots[1] - spots[0], measured.faces[panel.square_to].plane.normal)
        size = float(np.linalg.norm(normal))
        if size < 1e-6 * float(np.linalg.norm(spots[1] - spots[0])) or size == 0.0:
            raise ValueError(
                f"the line through the two points stands square on '{panel.square_to}': no one plane holds it"
            )
        plane = Plane(normal / size, float(normal / size @ spots.mean(axis=0)))
    elif len(spots) >= 3:
        plane = Plane.through(spots)
    else:
        raise ValueError("a panel wants a face, three points in 'through', or two points and 'square_to'")
    if way is not None and float(plane.normal @ way) < 0.0:
        plane = plane.flipped()
    return plane, spots.mean(axis=0)


def _spot(measured: Measured, at: str | tuple[float, float, float]) -> Array:
    if not isinstance(at, str):
        return np.asarray(at, dtype=float)
    if at not in measured.points:
        raise ValueError(_missing(measured, at, "point"))
    point = measured.points[at]
    if not point.tied:
        raise ValueError(f"body '{point.body}' of point '{at}' is not tied to the car: read across from it to the car")
    return point.xyz_mm


def _missing(measured: Measured, name: str, what: str) -> str:
    for one in measured.unlocated:
        if one.name == name:
            return f"{what} '{name}' is not located ({one.why}): take {one.take}"
    return f"{what} '{name}' is not located: no reading holds it"


def hole_of(panel_name: str, wish: HoleInput, centre_mm: Array) -> Hole:
    """The hole of one bolt in its panel's axes; clearance, washer and socket by the bolt's row, metal about it by rule.

    Raises KeyError with the nearest names where the bolt is not in the catalogue.
    """
    row = bolt_row(wish.bolt)
    diameter = {"oversize": row.oversize_mm, "snug": row.close_mm}.get(wish.shape, row.clearance_mm)
    diameter = diameter if wish.hole_mm is None else wish.hole_mm
    washer = row.washer_mm if wish.washer_mm is None else wish.washer_mm
    boss = max(float(default("fold.boss").value) * diameter, washer / 2.0 + float(default("fold.washer_rim").value))
    slot, way = 0.0, np.array([1.0, 0.0])
    if wish.shape == "slot":
        slot = wish.slot_length_mm or float(default("fold.slot_length").value) * row.shank_mm
        angle = np.radians(wish.slot_angle_deg or 0.0)
        way = np.array([np.cos(angle), np.sin(angle)])
    return Hole(
        name=f"{panel_name}.{wish.at.rsplit('.', 1)[-1]}",
        point=wish.at,
        centre_mm=np.asarray(centre_mm, dtype=float),
        diameter_mm=float(diameter),
        bolt=wish.bolt,
        bolt_mm=float(row.shank_mm),
        frame_hole_mm=float(row.shank_mm if wish.frame_hole_mm is None else wish.frame_hole_mm),
        slot_mm=float(slot),
        slot_way=way,
        use="locate" if wish.shape == "snug" else "bolt",
        boss_mm=float(boss if wish.boss_mm is None else wish.boss_mm),
        washer_mm=float(washer),
        socket_mm=float(row.socket_mm if wish.socket_mm is None else wish.socket_mm),
    )
