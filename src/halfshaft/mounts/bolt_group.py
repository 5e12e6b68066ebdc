"""Bolts under one rigid plate: their places and a load at any point in; shear and tension of each out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
import shapely.affinity
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import linprog
from shapely.geometry import Polygon

Array = NDArray[np.float64]

_STEPS = 200
_NEAR = 1e-10


class CannotHold(ValueError):
    """No set of bolt pulls and contact pressures balances the load; the words tell what is missing."""


@dataclass(frozen=True, eq=False, slots=True)
class BoltPattern:
    """A rigid plate on its seat. x and y lie in the seat, z points off it; mm and mm2.

    `places_mm` (n, 2); `areas_mm2` (n,) tensile areas, which also share out shear; `footprint` where metal rests on
    metal, or None where the plate stands off on its bolts. `seat_mm` is the length over which a bolt and the metal in
    contact stretch and press alike: the two are equally stiff for each mm2 times `seat_stiffness`.
    `in_shear` tells which bolts bear across (not those in long slots).
    """

    places_mm: Array
    areas_mm2: Array
    footprint: Polygon | None = None
    in_shear: NDArray[np.bool_] | None = None
    seat_stiffness: float = 1.0


@dataclass(frozen=True, eq=False, slots=True)
class BoltLoads:
    """What each bolt feels, N: `shear_n` (n, 2), `tension_n` (n,) preload in, `added_n` (n,) over its preload.

    `contact_n` is the whole push of the seat and `contact_centre_mm` (2,) where it acts (nan without);
    `contact_share` is the share of the footprint that stays pressed, `pressure_mpa` the most there.
    """

    shear_n: Array
    tension_n: Array
    added_n: Array
    contact_n: float
    contact_centre_mm: Array
    contact_share: float
    pressure_mpa: float
    lifts: bool


def pattern(
    places_mm: ArrayLike,
    areas_mm2: ArrayLike,
    footprint: Polygon | None = None,
    in_shear: Sequence[bool] | None = None,
    seat_stiffness: float = 1.0,
) -> BoltPattern:
    """A checked bolt pattern; one area serves all bolts.

    Raises ValueError for no bolts, two bolts at one place, no area, no bolt in shear, or a footprint without area.
    """
    places = np.asarray(places_mm, dtype=float).reshape(-1, 2)
    if not len(places):
        raise ValueError("no bolts: name at least one")
    areas = np.broadcast_to(np.asarray(areas_mm2, dtype=float), len(places)).copy()
    if not (np.isfinite(places).all() and np.isfinite(areas).all() and (areas > 0.0).all()):
        raise ValueError("each bolt wants a place in numbers and an area over zero")
    apart = np.linalg.norm(places[:, None] - places[None], axis=-1) + np.eye(len(places)) * 1e9
    if (apart < 1e-6).any():
        one, other = np.argwhere(apart < 1e-6)[0]
        raise ValueError(f"bolts {one + 1} and {other + 1} are at one place")
    shears = np.ones(len(places), dtype=bool) if in_shear is None else np.asarray(in_shear, dtype=bool)
    if len(shears) != len(places) or not shears.any():
        raise ValueError("at least one bolt must bear across the load, and each bolt wants its own yes or no")
    if footprint is not None and not (footprint.is_valid and footprint.area > 0.0):
        raise ValueError("the footprint of the plate has no area, or crosses itself")
    if seat_stiffness <= 0.0:
        raise ValueError("the seat wants a stiffness over zero")
    return BoltPattern(places, areas, footprint, shears, float(seat_stiffness))


def bolt_loads(
    bolts: BoltPattern, force_n: ArrayLike, moment_nmm: ArrayLike, point_mm: ArrayLike, preload_n: ArrayLike = 0.0
) -> BoltLoads:
    """Loads of each bolt from a force and a moment on the plate, applied at a point (x, y, z above the seat).

    Shear goes by area about the centroid, friction not counted. Along z the plate is rigid: bolts only pull, the seat
    only pushes, pressure grows linearly from the neutral axis, which is found by Newton's method on the convex energy
    of both (pressures over the cut footprint are integrated in closed form). `preload_n` (n,), or one for all, is what
    each bolt has before the load comes, the seat pressed by them.
    Raises CannotHold where no pulls and pressures balance the load; ValueError for loads that are not numbers.
    Source: elastic bolt group, any machine design handbook; one-sided contact derived here, as for a cracked section.
    """
    force, moment = np.asarray(force_n, dtype=float), np.asarray(moment_nmm, dtype=float)
    point = np.asarray(point_mm, dtype=float)
    if not all(a.shape == (3,) and np.isfinite(a).all() for a in (force, moment, point)):
        raise ValueError("force, moment and point are each three numbers")
    preload = np.broadcast_to(np.asarray(preload_n, dtype=float), len(bolts.places_mm)).copy()
    if not (np.isfinite(preload).all() and (preload >= 0.0).all()):
        raise ValueError("preloads are numbers of at least zero")
    if bolts.footprint is None and preload.any():
        raise ValueError("a preload needs a seat to press: give the footprint")
    about = moment + np.cross(point, force)
    shear = _shear(bolts, force[:2], float(about[2]))
    return _pull(bolts, np.array([force[2], about[0], about[1]]), preload, shear)


def _shear(bolts: BoltPattern, force: Array, turn: float) -> Array:
    """In-plane part. `turn` is the moment about z at the origin."""
    weight = np.where(bolts.in_shear, bolts.areas_mm2, 0.0) if bolts.in_shear is not None else bolts.areas_mm2
    centre = weight @ bolts.places_mm / weight.sum()
    arms = bolts.places_mm - centre
    polar = float(weight @ (arms**2).sum(axis=1))
    left = turn - (centre[0] * force[1] - centre[1] * force[0])
    size = max(float(np.hypot(*force)), 1.0) * max(float(np.abs(bolts.places_mm).max()), 1.0)
    if polar <= 0.0:
        if abs(left) > _NEAR * size:
            raise CannotHold(
                f"a single bolt in shear cannot hold a twist of {left / 1000.0:.1f} N m: put in a second bolt"
            )
        spin = np.zeros_like(arms)
    else:
        spin = left / polar * np.column_stack([-arms[:, 1], arms[:, 0]])
    out: Array = weight[:, None] * (force / weight.sum() + spin)
    return out


def _pull(bolts: BoltPattern, load: Array, preload: Array, shear: Array) -> BoltLoads:
    """Part along z: `load` is (Fz, Mx, My) about the origin."""
    rows = np.column_stack([np.ones(len(preload)), bolts.places_mm[:, 1], -bolts.places_mm[:, 0]])
    middle = np.zeros(2) if bolts.footprint is None else np.asarray(bolts.footprint.centroid.coords[0])
    reach = max(float(np.ptp(bolts.places_mm, axis=0).max()), 1.0)
    if bolts.footprint is not None:
        low_x, low_y, high_x, high_y = bolts.footprint.bounds
        reach = max(reach, high_x - low_x, high_y - low_y)
    _refuse(bolts, rows, load, reach)
    # lengths in parts of the reach, about the middle, so that the three unknowns weigh alike
    shift = np.array([[1.0, 0.0, 0.0], [middle[1], reach, 0.0], [-middle[0], 0.0, reach]])
    local = np.linalg.solve(shift, load)
    scaled = np.column_stack([
        np.ones(len(preload)), (bolts.places_mm[:, 1] - middle[1]) / reach, -(bolts.places_mm[:, 0] - middle[0]) / reach
    ])  # fmt: skip
    seat = None
    if bolts.footprint is not None:
        seat = shapely.affinity.affine_transform(
            bolts.footprint, [1 / reach, 0, 0, 1 / reach, -middle[0] / reach, -middle[1] / reach]
        )
    unit = max(float(np.abs(local).max()), float(preload.max()), 1e-30)
    stiffness = bolts.areas_mm2 / bolts.areas_mm2.mean()
    bed = bolts.seat_stiffness * reach**2 / float(bolts.areas_mm2.mean())
    start = preload / unit
    if seat is not None and preload.any():
        # tightened, the bolts have their preload and the seat is pressed already
        start = start - stiffness * (scaled @ _pressed(scaled, start, seat, bed))
    move = _settle(scaled, stiffness, start, seat, bed, local / unit)
    tension = unit * np.maximum(0.0, start + stiffness * (scaled @ move))
    pressed, share, most = _contact(seat, move, bed)
    contact = float(pressed[0]) * unit
    centre = np.full(2, np.nan)
    if contact > _NEAR * unit:
        centre = middle + reach * np.array([-pressed[2], pressed[1]]) / pressed[0]
    return BoltLoads(
        shear, tension, tension - preload, contact, centre, share, most * unit / reach**2,
        bool(contact <= _NEAR * unit and bolts.footprint is not None),
    )  # fmt: skip


def _refuse(bolts: BoltPattern, rows: Array, load: Array, reach: float) -> None:
    """Raise where the load lies outside all that pulls at bolts and pushes at the footprint can balance."""
    columns = [rows]
    if bolts.footprint is not None:
        corners = np.asarray(bolts.footprint.convex_hull.exterior.coords)[:-1]
        columns.append(-np.column_stack([np.ones(len(corners)), corners[:, 1], -corners[:, 0]]))
    size = np.array([1.0, reach, reach]) * max(float(np.abs(load / [1.0, reach, reach]).max()), 1e-30)
    matrix = np.vstack(columns).T / np.array([1.0, reach, reach])[:, None]
    found = linprog(np.ones(matrix.shape[1]), A_eq=matrix, b_eq=load / size, method="highs")
    if found.status == 0:
        return
    if bolts.footprint is None:
        rank = np.linalg.matrix_rank(rows / np.array([1.0, reach, reach]))
        words = (
            "without a seat the bolts hold it only where none would be pushed" if rank == 3
            else "the bolts stand in one line with no seat beside them: put one off the line, or give the footprint"
        )  # fmt: skip
        raise CannotHold(f"the bolts cannot hold this load: {words}")
    raise CannotHold(
        "the bolts and the seat cannot hold this load: it tips the plate over a line of bolts that has no seat beyond; "
        "put a bolt farther out, or widen the plate"
    )


def _settle(rows: Array, stiffness: Array, preload: Array, seat: Polygon | None, bed: float, load: Array) -> Array:
    """Rigid motion (lift, turn about x, turn about y) where bolts and seat balance the load."""
    whole = (rows.T * stiffness) @ rows + (0.0 if seat is None else bed * _second(seat))
    firm = 1e-10 * float(np.trace(whole)) * np.eye(3)
    move: Array = np.asarray(np.linalg.solve(whole + firm, load - rows.T @ preload), dtype=float)
    gap = _balance(rows, stiffness, preload, seat, bed, load, move)
    scale = max(1.0, float(np.abs(load).max()), float(np.abs(preload).sum()))
    for _ in range(_STEPS):
        if float(np.abs(gap).max()) <= _NEAR * 1e-2 * scale:
            break
        step = _newton(rows, stiffness, preload, seat, bed, move, gap, firm)

        def slope(far: float, start: Array = move, way: Array = step) -> float:
            return float(_balance(rows, stiffness, preload, seat, bed, load, start + far * way) @ way)

        length = _along(slope)
        if length == 0.0:
            break
        move = move + length * step
        gap = _balance(rows, stiffness, preload, seat, bed, load, move)
    if float(np.abs(gap).max()) > 1e-7 * scale:
        raise CannotHold(
            "the bolts and the seat hardly hold this load: it stands on an edge of the seat; "
            "put a bolt farther out, or widen the plate"
        )
    return move


def _pressed(rows: Array, preload: Array, seat: Polygon, bed: float) -> Array:
    """Motion of the plate as the bolts are tightened, the seat alone against them."""
    try:
        return _settle(rows[:0], preload[:0], preload[:0], seat, bed, -rows.T @ preload)
    except CannotHold:
        raise CannotHold("the preloads tip the plate off its seat: widen the footprint under the bolts") from None


def _along(slope: Callable[[float], float]) -> float:
    """How far to go down a convex valley whose slope starts below zero: to where a tenth of it is left."""
    start = slope(0.0)
    if start >= 0.0:
        return 0.0
    low, at_low, high = 0.0, start, 1.0
    at_high = slope(high)
    for _ in range(60):
        if at_high >= 0.1 * start:
            break
        low, at_low, high = high, at_high, 2.0 * high
        at_high = slope(high)
    for _ in range(200):
        if abs(at_high) <= 0.1 * abs(start):
            return high
        # halves and chords in turn: either alone is slow at a corner
        chord = low - at_low * (high - low) / (at_high - at_low)
        for middle in (chord, (low + high) / 2.0):
            if not low < middle < high:
                continue
            value = slope(middle)
            if abs(value) <= 0.1 * abs(start):
                return middle
            if value < 0.0:
                low, at_low = middle, value
            else:
                high, at_high = middle, value
    return low


def _balance(
    rows: Array, stiffness: Array, preload: Array, seat: Polygon | None, bed: float, load: Array, move: Array
) -> Array:
    """What is left unbalanced: the slope of the energy."""
    pull = np.maximum(0.0, preload + stiffness * (rows @ move))
    push, _, _ = _contact(seat, move, bed)
    left: Array = rows.T @ pull - push - load
    return left


def _newton(
    rows: Array, stiffness: Array, preload: Array, seat: Polygon | None, bed: float, move: Array, gap: Array,
    firm: Array,
) -> Array:  # fmt: skip
    live = preload + stiffness * (rows @ move) > 0.0
    matrix = (rows[live].T * stiffness[live]) @ rows[live]
    wet = _wet(seat, move)
    if wet is not None:
        matrix = matrix + bed * _second(wet)
    step: Array = np.asarray(-np.linalg.solve(matrix + firm, gap), dtype=float)
    return step


def _contact(seat: Polygon | None, move: Array, bed: float) -> tuple[Array, float, float]:
    """Push of the seat as (N, Mx, My) with N upward on the plate; share pressed; most pressure."""
    wet = _wet(seat, move)
    if wet is None or seat is None:
        return np.zeros(3), 0.0, 0.0
    push = -bed * (_second(wet) @ move)
    corners = shapely.get_coordinates(wet)
    deep = -(move[0] + move[1] * corners[:, 1] - move[2] * corners[:, 0]).min()
    return push, float(wet.area / seat.area), float(bed * max(0.0, deep))


def _wet(seat: Polygon | None, move: Array) -> Polygon | None:
    """The part of the footprint that is pressed: where lift + turn_x y - turn_y x < 0."""
    if seat is None:
        return None
    slope = np.array([-move[2], move[1]])
    steep = float(np.hypot(*slope))
    if steep * 4.0 <= abs(move[0]) * 1e-12 or steep == 0.0:
        return seat if move[0] < 0.0 else None
    ahead = slope / steep
    start = -move[0] / steep * ahead
    if abs(move[0] / steep) > 10.0:
        return seat if move[0] < 0.0 else None
    side = np.array([-ahead[1], ahead[0]])
    far = 30.0
    box = Polygon([start + far * side, start - far * side, start - far * (side + ahead), start + far * (side - ahead)])
    cut = seat.intersection(box)
    return cut if cut.area > 0.0 else None


def _second(area: Polygon) -> Array:
    """Integral of r r^T over an area, r = (1, y, -x), by Green's theorem over its rings."""
    total = np.zeros(6)
    for piece in shapely.get_parts(area):
        if piece.geom_type != "Polygon":
            continue
        for ring, sign in [(piece.exterior, 1.0), *((hole, -1.0) for hole in piece.interiors)]:
            points = np.asarray(ring.coords)[:, :2]
            total += sign * _ring(points if shapely.is_ccw(ring) else points[::-1])
    one, x, y, xx, yy, xy = total
    return np.array([[one, y, -x], [y, yy, -xy], [-x, -xy, xx]])


def _ring(points: Array) -> Array:
    x, y = points[:-1].T
    u, v = points[1:].T
    cross = x * v - u * y
    return np.array([
        cross.sum() / 2.0,
        (cross * (x + u)).sum() / 6.0,
        (cross * (y + v)).sum() / 6.0,
        (cross * (x * x + x * u + u * u)).sum() / 12.0,
        (cross * (y * y + y * v + v * v)).sum() / 12.0,
        (cross * (x * v + 2.0 * x * y + 2.0 * u * v + u * y)).sum() / 24.0,
    ])  # fmt: skip
