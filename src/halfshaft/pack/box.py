"""A box for the modules of a bay: tray, lid, straps and feet of folded sheet, as thick as holds them in a crash.

Modules of one bay of the chosen layout and [pack.box] in; brackets with their flat patterns, numbers and checks out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from halfshaft.build import Build
from halfshaft.build.catalogue import bolt as bolt_row
from halfshaft.build.catalogue import material, mount_load
from halfshaft.build.pack import BoxInput
from halfshaft.build.schema import BracketInput, FaceWay, Sheet
from halfshaft.checks import Assumed, Check, Good, Origin, Severity, Source
from halfshaft.fold.model import Bracket
from halfshaft.geometry import Pose
from halfshaft.mounts.bolts import Plate, Spots, bearing_n, bolt_of, shear_n, tension_n, together
from halfshaft.mounts.welds import weld_strength
from halfshaft.pack.bay import Bay
from halfshaft.pack.box_draw import Bore, Drawn, Flat, folded
from halfshaft.pack.box_strength import (
    foot_bending_n,
    most_pull_n,
    plate_collapse_mpa,
    plate_stress_mpa,
    strip_tension_n,
    wall_collapse_mpa,
)
from halfshaft.pack.layout import Placed
from halfshaft.pack.retention import Retention

Array = NDArray[np.float64]

STATION = "pack"
_G = 9.80665
_SEAM_MM = 0.5  # between sides at a corner, which is welded
_PLAY_MM = 0.5  # between a lid and its sides, and a strap and its side
_STAND_MM = 15.0  # from a bolt's middle to what it must not touch
_LEG_MM = 45.0  # of a foot, up the side
_RIM_MM, _BEAD_MM = 10.0, 15.0  # from a corner to a foot, and between feet: room for beads
_MOST_FEET, _MOST_STRAPS = 16, 8
_DERIVED = Source(Origin.DERIVED, "docs/pack.md, boxes")
_CARE = (
    "Boxes and their fixings are safety parts: have them judged by whoever licenses the car; what is told here is no "
    "approval."
)


@dataclass(frozen=True, eq=False, slots=True)
class Piece:
    """One kind of part of a box and how many of it: the bracket is drawn where the first of them goes.

    `told` is the bracket as a builder would have written it.
    """

    bracket: Bracket
    told: BracketInput
    count: int
    what: str


@dataclass(frozen=True, eq=False, slots=True)
class Box:
    """A bay's box. Inner size (3,) in the bay's axes; spots (n, 3) of straps' and feet's bolts in the box's axes.

    `pose` takes the box's axes, its rear right lower inner corner the origin, to the root's.
    """

    bay: str
    pose: Pose
    inner_mm: Array
    sheet: str
    thickness_mm: float
    pieces: tuple[Piece, ...]
    straps_mm: tuple[float, ...]  # their middles along the box
    feet_mm: tuple[float, ...]  # along each of the two longer sides
    mass_kg: float
    hold: Retention
    checks: tuple[Check, ...]
    assumed: tuple[Assumed, ...]

    @property
    def refused(self) -> bool:
        return any(not c.ok and c.severity is Severity.STOP for c in self.checks)


@dataclass(frozen=True, slots=True)
class _Steel:
    """A sheet and what it bears."""

    name: str
    thickness_mm: float
    yield_mpa: float
    ultimate_mpa: float
    material: str

    @classmethod
    def of(cls, name: str, told: Sheet) -> _Steel:
        row = material(told.material)
        return cls(
            name, told.thickness_mm, told.yield_mpa or row.yield_mpa, told.ultimate_mpa or row.ultimate_mpa,
            told.material,
        )  # fmt: skip


def box_of(
    build: Build, told: BoxInput, bay: Bay, modules: Sequence[Placed], hold: Retention, allowed_kg: float
) -> Box:
    """The box about a bay's modules; `hold` is what its fixings bear, `allowed_kg` what was allowed for it.

    Raises ValueError, in words, where there is nothing to put in it or the modules lie too low for a lid and a strap.
    """
    if not modules:
        raise ValueError("no modules, no box")
    low = np.min([one.corner_mm - one.turn.inner_mm for one in modules], axis=0)
    high = np.max([one.corner_mm - one.turn.inner_mm + one.turn.room_mm for one in modules], axis=0)
    tops = float(max((one.corner_mm + one.turn.size_mm)[2] for one in modules))
    steels = sorted((_Steel.of(name, build.sheet[name]) for name in told.sheet), key=lambda s: s.thickness_mm)
    lid_steel = _Steel.of(told.lid_sheet, build.sheet[told.lid_sheet]) if told.lid_sheet else steels[0]
    strap_steel = _Steel.of(told.strap_sheet, build.sheet[told.strap_sheet]) if told.strap_sheet else steels[0]
    room = told.clearance_mm
    sides = max(room, strap_steel.thickness_mm + 2 * _PLAY_MM) if told.straps != 0 else room
    origin = low - np.array([room, sides, room])
    inner = high - low + np.array([2 * room, 2 * sides, room])
    inner[2] = max(inner[2], tops - origin[2] + (strap_steel.thickness_mm if told.straps != 0 else 0.0)) + room
    if told.straps != 0 and inner[2] < told.skirt_mm + 2 * _STAND_MM + 20.0:
        raise ValueError(
            f"a box {inner[2]:.0f} mm deep is too low for a lid and straps: write straps = 0 or a shorter skirt"
        )
    pose = Pose(bay.pose.rotation, np.asarray(bay.pose.apply(origin)))
    about = f"box {bay.name}"

    walls = _walls(told, inner, hold)
    bottom = hold.mass_kg * _G * float(mount_load("load.bump").value) / (inner[0] * inner[1])
    steel = next((s for s in steels if _holds(s, told, inner, walls, bottom)), steels[-1])
    checks = _sheet_checks(about, steel, told, inner, walls, bottom)
    straps = _straps(told, strap_steel, steel, hold, inner)
    checks += _strap_checks(about, told, strap_steel, steel, hold, len(straps)) if straps else []
    feet, more = _feet(about, told, steel, hold, inner)
    checks += more
    checks.append(_room_check(about, told, bay, origin, inner, steel, lid_steel))

    name = f"box_{bay.name}"
    pieces = [_piece(_tray(build, told, pose, name, steel, inner, straps, bay.cables), 1, "tray")]
    if told.lid:
        lid = _lid(build, told, pose, f"{name}_lid", steel, lid_steel, inner, straps, bay.cables)
        pieces.append(_piece(lid, 1, "lid"))
    if straps:
        top = tops - float(origin[2])
        strap = _strap(build, told, pose, f"{name}_strap", strap_steel, inner, straps[0], top)
        pieces.append(_piece(strap, len(straps), "hold-down strap"))
    foot = _foot(build, told, pose, f"{name}_foot", steel, inner, feet[0])
    pieces.append(_piece(foot, 2 * len(feet), "foot"))
    stops = tuple(c for c in checks if not c.ok and c.severity is Severity.STOP)
    for piece in pieces:
        checks += list(piece.bracket.checks)
    # what does not hold is not cut: the files of each part then say why
    pieces = [replace(p, bracket=replace(p.bracket, checks=(*stops, *p.bracket.checks))) for p in pieces]
    mass = sum(piece.count * piece.bracket.mass_kg for piece in pieces)
    checks.append(
        Check(
            STATION, about, "Mass of the box against what was allowed for boxes and cables", _DERIVED, Severity.NOTE,
            "Write other_mass in [pack] with this box and the cables in it, or weigh it in [weights.in].",
            mass, allowed_kg, "kg", Good.AT_MOST,
        )
    )  # fmt: skip
    assumed = tuple(dict.fromkeys(a for piece in pieces for a in piece.bracket.assumed))
    return Box(
        bay.name, pose, inner, steel.name, steel.thickness_mm, tuple(pieces), straps, feet, mass, hold,
        tuple(dict.fromkeys(checks)), assumed,
    )  # fmt: skip


def _piece(drawn: Drawn, count: int, what: str) -> Piece:
    bracket, told = drawn
    words = told.what if count == 1 else f"{told.what}; cut {count} of it"
    return Piece(bracket, told.model_copy(update={"what": words}), count, what)


def _walls(told: BoxInput, inner: Array, hold: Retention) -> tuple[tuple[str, float, float], ...]:
    """Name, width and pressure in MPa of the walls that modules are thrown against: their mass over the whole wall."""
    length, width, height = (float(x) for x in inner)
    return (
        ("front and rear", width, hold.along_n / (width * height)),
        ("left and right", length, hold.across_n / (length * height)),
    )


def _bears_mpa(steel: _Steel, told: BoxInput, width: float, height: float) -> float:
    if not told.lid:
        return wall_collapse_mpa(steel.yield_mpa, height, steel.thickness_mm)
    return plate_collapse_mpa(steel.yield_mpa, width, height, steel.thickness_mm)


def _holds(
    steel: _Steel, told: BoxInput, inner: Array, walls: Sequence[tuple[str, float, float]], bottom: float
) -> bool:
    height = float(inner[2])
    sides = all(_bears_mpa(steel, told, width, height) >= pressure for _, width, pressure in walls)
    bends = plate_stress_mpa(bottom, float(inner[0]), float(inner[1]), steel.thickness_mm)
    return sides and bends <= steel.yield_mpa


def _sheet_checks(
    about: str,
    steel: _Steel,
    told: BoxInput,
    inner: Array,
    walls: Sequence[tuple[str, float, float]],
    bottom: float,
) -> list[Check]:
    """Sides in a crash, bottom over a bump; what thickness would do where none of the sheets does."""
    height, t = float(inner[2]), steel.thickness_mm
    held = "with the lid bolted on" if told.lid else "its upper edge free"
    lines = "yield lines (Johansen) of a plate" if told.lid else "yield line of a strip"
    found = []
    for name, width, pressure in walls:
        bears = _bears_mpa(steel, told, width, height)
        wanted = t * float(np.sqrt(pressure / bears))
        found.append(
            Check(
                STATION, about, f"Sides {name} hold the modules in a crash",
                Source(Origin.FROM_MEMORY, f"{lines}; UN Regulation No. 100, lower plateau"), Severity.STOP,
                f"Sheet '{steel.name}' of {t:g} mm, {held}: they bend and do not tear. {wanted:.1f} mm would just do. "
                f"{_CARE}",
                1000.0 * bears, 1000.0 * pressure, "kPa", Good.AT_LEAST,
            )
        )  # fmt: skip
    stress = plate_stress_mpa(bottom, float(inner[0]), float(inner[1]), t)
    wanted = t * float(np.sqrt(stress / steel.yield_mpa))
    found.append(
        Check(
            STATION, about, "Bottom under the modules over a bump",
            Source(Origin.FROM_MEMORY, "Roark, table 11.4, case 1a: plate held on four edges"), Severity.STOP,
            f"{wanted:.1f} mm would just do, or a bearer under its middle. {_CARE}", stress, steel.yield_mpa, "MPa",
            Good.AT_MOST,
        )
    )  # fmt: skip
    return found


def _strap_bears(told: BoxInput, strap: _Steel, wall: _Steel) -> tuple[float, float]:
    """What one leg bears: the strip at its hole, and its bolt, N."""
    bolt = bolt_of(told.strap_bolt, told.grade)
    strip = strip_tension_n(told.strap_width_mm, bolt.hole_mm, strap.thickness_mm, strap.yield_mpa, strap.ultimate_mpa)
    end = Spots(end_mm=_STAND_MM, edge_mm=told.strap_width_mm / 2.0)
    plies = [Plate(one.thickness_mm, one.yield_mpa, one.ultimate_mpa) for one in (strap, wall)]
    bears = min(bearing_n(bolt, plies[0], end), bearing_n(bolt, plies[1], Spots(end_mm=2 * _STAND_MM)))
    return strip, min(shear_n(bolt), bears)


def _straps(told: BoxInput, strap: _Steel, wall: _Steel, hold: Retention, inner: Array) -> tuple[float, ...]:
    """Middles of the straps along the box, evenly; as many as hold, two at least, or as told."""
    if told.straps == 0:
        return ()
    each = min(_strap_bears(told, strap, wall))
    wants = hold.mass_kg * _G * told.up_g / 2.0
    count = told.straps or int(min(max(2, np.ceil(wants / each)), _MOST_STRAPS))
    length = float(inner[0])
    return tuple(float(x) for x in (np.arange(count) + 0.5) * length / count)


def _strap_checks(about: str, told: BoxInput, strap: _Steel, wall: _Steel, hold: Retention, count: int) -> list[Check]:
    strip, bolt = _strap_bears(told, strap, wall)
    pull = hold.mass_kg * _G * told.up_g / (2.0 * count)
    words = (
        f"{count} straps of {told.strap_width_mm:g} x {strap.thickness_mm:g} mm hold {told.up_g:g} g upward. {_CARE}"
    )
    en = Source(Origin.PUBLISHED, "EN 1993-1-1:2005, 6.2.3 (2)")
    bolts = Source(Origin.PUBLISHED, "EN 1993-1-8:2005, table 3.4")
    return [
        Check(STATION, about, "Pull that a leg of a strap bears", en, Severity.STOP, words, strip, pull, "N",
              Good.AT_LEAST),
        Check(STATION, about, f"Pull that a strap's bolt {told.strap_bolt} {told.grade} bears", bolts, Severity.STOP,
              f"One bolt a leg, in shear and bearing. {_CARE}", bolt, pull, "N", Good.AT_LEAST),
    ]  # fmt: skip


def _feet(
    about: str, told: BoxInput, steel: _Steel, hold: Retention, inner: Array
) -> tuple[tuple[float, ...], list[Check]]:
    """Middles of the feet along each of the two longer sides, and whether they hold; as many as hold, or as told."""
    run = float(max(inner[0], inner[1]))
    room = max(2, int((run - 2 * _RIM_MM + _BEAD_MM) / (told.foot_width_mm + _BEAD_MM)))
    counts = [told.feet // 2] if told.feet else list(range(2, min(room, _MOST_FEET // 2) + 1))
    spots: tuple[float, ...] = ()
    checks: list[Check] = []
    for each in counts:
        margin = told.foot_width_mm / 2.0 + _RIM_MM
        spots = tuple(float(x) for x in np.linspace(margin, max(run - margin, margin), each))
        checks = _foot_checks(about, told, steel, hold, inner, spots)
        if all(check.ok for check in checks):
            break
    if len(spots) > room:
        do = f"{room} of them go along a side of {run:.0f} mm: write fewer, or a smaller foot_width."
        checks.append(
            Check(STATION, about, "Feet run into each other", _DERIVED, Severity.STOP, do, failed_outright=True)
        )
    return spots, checks


def _runs_along(inner: Array) -> bool:
    """Whether the longer sides, which the feet are on, run along the bay."""
    return bool(inner[0] >= inner[1])


def _foot_checks(
    about: str, told: BoxInput, steel: _Steel, hold: Retention, inner: Array, spots: Sequence[float]
) -> list[Check]:
    """Bolts, bending and welds of the feet under the shock along and across, the heavier of the two for each."""
    bolt = bolt_of(told.foot_bolt, told.grade)
    arm = told.foot_reach_mm / 2.0 + 2.0
    height = float(inner[2]) / 2.0 + steel.thickness_mm
    width = float(min(inner[0], inner[1])) + 2.0 * (steel.thickness_mm + arm)
    count = 2 * len(spots)
    first = min(spots) - told.foot_width_mm / 2.0
    # along its longer sides the box tips over a row's end, across them over the other row
    run, base = (hold.along_n, hold.across_n) if _runs_along(inner) else (hold.across_n, hold.along_n)
    along = most_pull_n(run * height / 2.0, [x - first for x in spots])
    across = most_pull_n(base * height, [width] * len(spots))
    plate = Plate(steel.thickness_mm, steel.yield_mpa, steel.ultimate_mpa)
    shears = min(shear_n(bolt), bearing_n(bolt, plate, Spots(told.foot_reach_mm / 2.0, told.foot_width_mm / 2.0)))
    uses = [together(force / count, shears, pull, tension_n(bolt)) for force, pull in ((run, along), (base, across))]
    pull = max(along, across)
    bends = foot_bending_n(told.foot_width_mm, steel.thickness_mm, arm, steel.yield_mpa)
    throat = 0.7 * steel.thickness_mm
    bead = 2.0 * _LEG_MM * throat * weld_strength(steel.material).shear_mpa
    force = float(np.hypot(max(hold.along_n, hold.across_n) / count, pull))
    words = f"{count} bolts {told.foot_bolt} {told.grade}"
    return [
        Check(STATION, about, "Use of a foot's bolt, sheared and pulled", _table34(), Severity.STOP,
              f"{words}, in the heavier of the shock along and across. More feet or a bigger bolt. {_CARE}",
              max(uses), 1.0, "", Good.AT_MOST),
        Check(STATION, about, "Pull that bends a foot at its fold",
              Source(Origin.PUBLISHED, "plastic modulus, EN 1993-1-1:2005, 6.2.5"), Severity.STOP,
              f"Thicker sheet, more feet, or a gusset in each. {_CARE}", bends, pull, "N", Good.AT_LEAST),
        Check(STATION, about, "What the two upright beads of a foot bear",
              Source(Origin.PUBLISHED, "EN 1993-1-8:2005, 4.5.3.3"), Severity.STOP,
              f"Fillets with a throat of {throat:.1f} mm along both edges of its leg, {_LEG_MM:g} mm each. {_CARE}",
              bead, force, "N", Good.AT_LEAST),
    ]  # fmt: skip


def _table34() -> Source:
    return Source(Origin.PUBLISHED, "EN 1993-1-8:2005, table 3.4")


def _room_check(about: str, told: BoxInput, bay: Bay, origin: Array, inner: Array, steel: _Steel, lid: _Steel) -> Check:
    """Whether the box's outside stays in its bay, feet aside."""
    over = lid.thickness_mm + _PLAY_MM if told.lid else 0.0
    wall = steel.thickness_mm + over
    low = origin - np.array([wall, wall, steel.thickness_mm])
    high = origin + inner + np.array([wall, wall, lid.thickness_mm if told.lid else 0.0])
    left = float(min(low.min(), (bay.size_mm - high).min()))
    do = f"Write wall_room = {bay.wall_mm - min(left, 0.0):.0f} or more for the bay, thinner sheet, or less clearance."
    return Check(STATION, about, "Room left between box and bay", _DERIVED, Severity.CAUTION,
                 f"{do} Feet stand out by {told.foot_reach_mm + steel.thickness_mm:.0f} mm more: look that they go in.",
                 left, 0.0, "mm", Good.AT_LEAST)  # fmt: skip


def _along(length: float, pitch: float, edge: float) -> list[float]:
    """Spots along an edge, at most the pitch apart."""
    count = max(2, int(np.ceil((length - 2 * edge) / pitch)) + 1)
    return [float(x) for x in np.linspace(edge, length - edge, count)]


def _rect(*corners: tuple[float, float, float]) -> Array:
    return np.array(corners, dtype=float)


def _lid_bolts(told: BoxInput, inner: Array, straps: Sequence[float]) -> list[float]:
    """Spots of the lid's bolts along the long sides, clear of the straps' bolts."""
    gap = bolt_row(told.lid_bolt).socket_mm / 2.0 + bolt_row(told.strap_bolt).socket_mm / 2.0
    found = _along(float(inner[0]), told.lid_pitch_mm, 30.0)
    return [next((x + d for d in (0.0, gap, -gap) if all(abs(x + d - s) >= gap for s in straps)), x) for x in found]


def _gland(told: BoxInput, inner: Array, side: str) -> dict[str, tuple[Bore, ...]]:
    """The cable gland by the panel that it goes through: where the bay's cables leave."""
    if told.gland_mm <= 0.0:
        return {}
    length, width, height = (float(x) for x in inner)
    at = {
        "front": (length, width / 2, height / 2), "rear": (0.0, width / 2, height / 2),
        "left": (length / 2, width, height / 3), "right": (length / 2, 0.0, height / 3),
        "top": (length / 2, width / 2, height), "bottom": (length / 2, width / 2, 0.0),
    }  # fmt: skip
    return {side: (Bore("gland", at[side], "M24", told.gland_mm),)}


def _tray(
    build: Build,
    told: BoxInput,
    pose: Pose,
    name: str,
    steel: _Steel,
    inner: Array,
    straps: Sequence[float],
    cables: str,
) -> Drawn:
    """Bottom with four sides folded up, corners welded; holes for drain, gland, straps and lid."""
    length, width, height = (float(x) for x in inner)
    g = _SEAM_MM
    holes = _gland(told, inner, cables if told.lid or cables != "top" else "front")
    lid_z = height - told.skirt_mm / 2.0
    strap_z = height - (told.skirt_mm if told.lid else 0.0) - _STAND_MM
    drain = (Bore("drain", (_STAND_MM + 10.0, _STAND_MM + 10.0, 0.0), "M8", told.drain_mm),) if told.drain_mm else ()
    bolts: dict[str, tuple[Bore, ...]] = {}
    for side, y in (("left", width), ("right", 0.0)):
        lids = _lid_bolts(told, inner, straps) if told.lid else []
        bolts[side] = (
            *(Bore(f"lid_{side}{n}", (x, y, lid_z), told.lid_bolt) for n, x in enumerate(lids, 1)),
            *(Bore(f"strap_{side}{n}", (x, y, strap_z), told.strap_bolt) for n, x in enumerate(straps, 1)),
        )
    flats = (
        Flat("bottom", FaceWay.DOWN, _rect((0, 0, 0), (length, 0, 0), (length, width, 0), (0, width, 0)),
             (*drain, *holes.get("bottom", ()))),
        Flat("front", FaceWay.FRONT,
             _rect((length, g, 0), (length, width - g, 0), (length, width - g, height), (length, g, height)),
             holes.get("front", ())),
        Flat("rear", FaceWay.REAR, _rect((0, g, 0), (0, width - g, 0), (0, width - g, height), (0, g, height)),
             holes.get("rear", ())),
        Flat("left", FaceWay.LEFT,
             _rect((g, width, 0), (length - g, width, 0), (length - g, width, height), (g, width, height)),
             (*bolts["left"], *holes.get("left", ()))),
        Flat("right", FaceWay.RIGHT, _rect((g, 0, 0), (length - g, 0, 0), (length - g, 0, height), (g, 0, height)),
             (*bolts["right"], *holes.get("right", ()))),
    )  # fmt: skip
    folds = [("bottom", side) for side in ("front", "rear", "left", "right")]
    return folded(build, pose, name, steel.name, flats, folds, told.fold, "battery tray: weld its corners tight")


def _lid(
    build: Build,
    told: BoxInput,
    pose: Pose,
    name: str,
    steel: _Steel,
    lid: _Steel,
    inner: Array,
    straps: Sequence[float],
    cables: str,
) -> Drawn:
    """A top with four skirts folded down over the tray's sides, its bolts through those of the long sides."""
    off = steel.thickness_mm + _PLAY_MM
    length, width, height = (float(x) for x in inner)
    low, long, wide, g = -off, length + off, width + off, _SEAM_MM
    foot, bolt_z = height - told.skirt_mm, height - told.skirt_mm / 2.0
    bolts = {
        side: tuple(Bore(f"lid_{side}{n}", (x, y, bolt_z), told.lid_bolt)
                    for n, x in enumerate(_lid_bolts(told, inner, straps), 1))
        for side, y in (("left", wide), ("right", low))
    }  # fmt: skip
    gland = _gland(told, inner, cables).get("top", ())
    flats = (
        Flat("top", FaceWay.UP, _rect((low, low, height), (long, low, height), (long, wide, height),
                                      (low, wide, height)), gland),
        Flat("front", FaceWay.FRONT, _rect((long, low + g, height), (long, wide - g, height), (long, wide - g, foot),
                                           (long, low + g, foot))),
        Flat("rear", FaceWay.REAR, _rect((low, low + g, height), (low, wide - g, height), (low, wide - g, foot),
                                         (low, low + g, foot))),
        Flat("left", FaceWay.LEFT, _rect((low + g, wide, height), (long - g, wide, height), (long - g, wide, foot),
                                         (low + g, wide, foot)), bolts["left"]),
        Flat("right", FaceWay.RIGHT, _rect((low + g, low, height), (long - g, low, height), (long - g, low, foot),
                                           (low + g, low, foot)), bolts["right"]),
    )  # fmt: skip
    folds = [("top", side) for side in ("front", "rear", "left", "right")]
    return folded(build, pose, name, lid.name, flats, folds, told.fold, "lid: a seal goes under it")


def _strap(
    build: Build, told: BoxInput, pose: Pose, name: str, steel: _Steel, inner: Array, at: float, top: float
) -> Drawn:
    """A flat bar over the modules, its ends folded down along the inside of the sides and bolted there."""
    half = told.strap_width_mm / 2.0
    width, height = float(inner[1]), float(inner[2])
    bolt_z = height - (told.skirt_mm if told.lid else 0.0) - _STAND_MM
    low, left, right = bolt_z - _STAND_MM, width - steel.thickness_mm - _PLAY_MM, steel.thickness_mm + _PLAY_MM
    a, b = at - half, at + half
    flats = (
        Flat("over", FaceWay.UP, _rect((a, right, top), (b, right, top), (b, left, top), (a, left, top))),
        Flat("left", FaceWay.LEFT, _rect((a, left, top), (b, left, top), (b, left, low), (a, left, low)),
             (Bore("left", (at, left, bolt_z), told.strap_bolt),)),
        Flat("right", FaceWay.RIGHT, _rect((a, right, top), (b, right, top), (b, right, low), (a, right, low)),
             (Bore("right", (at, right, bolt_z), told.strap_bolt),)),
    )  # fmt: skip
    what = "hold-down strap: insulate it toward the modules"
    return folded(build, pose, name, steel.name, flats, [("over", "left"), ("over", "right")], told.fold, what)


def _foot(build: Build, told: BoxInput, pose: Pose, name: str, steel: _Steel, inner: Array, at: float) -> Drawn:
    """An angle welded to a longer side by its leg, its foot level with the tray's underside and bolted to the car."""
    t, half = steel.thickness_mm, told.foot_width_mm / 2.0
    along = _runs_along(inner)
    wall = float(inner[1] if along else inner[0]) + t
    out = wall + t + told.foot_reach_mm
    a, b = at - half, at + half

    def spot(run: float, off: float, z: float) -> tuple[float, float, float]:
        return (run, off, z) if along else (off, run, z)

    bolt = Bore("foot", spot(at, wall + t + told.foot_reach_mm / 2.0, 0.0), told.foot_bolt)
    leg = (spot(a, wall + t, 0), spot(b, wall + t, 0), spot(b, wall + t, _LEG_MM), spot(a, wall + t, _LEG_MM))
    foot = (spot(a, wall, 0), spot(b, wall, 0), spot(b, out, 0), spot(a, out, 0))
    flats = (
        Flat("leg", FaceWay.RIGHT if along else FaceWay.REAR, _rect(*leg)),
        Flat("foot", FaceWay.DOWN, _rect(*foot), (bolt,)),
    )
    return folded(build, pose, name, steel.name, flats, [("leg", "foot")], told.fold, "foot: weld its leg to the side")
