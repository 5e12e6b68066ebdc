"""Gussets in a bracket's mesh: plates and the panels they stand on in; strips of panel and plates that share corners.

Under its foot a panel's flat mesh has a strip as wide as the plate is thick, in quads from station to station; the
plate carries the same corners. So the two are one over the plate's thickness; the fillets themselves are not meshed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from halfshaft.fold.model import Gusset, Panel
from halfshaft.geometry.triangles import triangulated

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_ARC_MM = 0.2  # the nip and a hollow edge are followed as near as this
_LEAST_STATIONS = 4
_SAME_MM = 1e-4


@dataclass(frozen=True, eq=False)
class Foot:
    """A gusset's foot as meshed: corners (stations, 2) of the whole mesh on the two sides of the plate.

    Unit vectors (3,) in root axes: `into` along the foot from nip to tip, `square` from the panel into the plate,
    `across` from the first side to the second. `layer` is the panel's layer that it stands on, 0 or -1.
    """

    gusset: str
    panel: str
    stations_mm: Array
    corners: Ints
    into: Array
    square: Array
    across: Array
    layer: int
    thickness_mm: float
    leg_mm: float


@dataclass(frozen=True, eq=False)
class Strip:
    """What a foot takes of a panel's flat mesh, in the panel's axes: corners (stations, 2, 2), side by side."""

    gusset: str
    panel: str
    stations_mm: Array
    plate_mm: Array  # (stations, 2) in the plate's axes
    spots_mm: Array
    layer: int

    @property
    def figure(self) -> Polygon:
        return Polygon(np.vstack([self.spots_mm[:, 0], self.spots_mm[::-1, 1]]))


def strips_of(gusset: Gusset, panels: Mapping[str, Panel], step_mm: float) -> list[Strip]:
    """The strips of both its feet, stations about `step_mm` apart."""
    plate = panels[gusset.panel]
    out = []
    feet = ((gusset.a, gusset.foot_a_mm, gusset.side_a), (gusset.b, gusset.foot_b_mm, gusset.side_b))
    for name, foot, side in feet:
        length = float(np.linalg.norm(foot[1] - foot[0]))
        count = max(_LEAST_STATIONS, int(np.ceil(length / step_mm)) + 1)
        along = np.linspace(0.0, 1.0, count)
        flat = foot[0] + along[:, None] * (foot[1] - foot[0])
        back = panels[name].pose.inverse()
        sides = [
            back.apply(plate.pose.apply(np.column_stack([flat, np.full(count, z)])))[:, :2]
            for z in (0.0, plate.thickness_mm)
        ]
        layer = -1 if side == "upper" else 0
        out.append(Strip(gusset.panel, name, along * length, flat, np.stack(sides, axis=1), layer))
    return out


def cut_out(figure: Polygon, strips: Sequence[Strip]) -> Polygon:
    """A panel's figure less the strips of its feet.

    Raises ValueError where a strip is not wholly within it.
    """
    for strip in strips:
        if not figure.buffer(-_SAME_MM).contains(strip.figure):
            raise ValueError(f"{strip.gusset} does not stand wholly on panel '{strip.panel}'")
        rest = figure.difference(strip.figure)
        if not isinstance(rest, Polygon):
            raise ValueError(f"{strip.gusset} parts panel '{strip.panel}' in two")
        figure = rest
    return figure


def filled_in(points: Array, triangles: Ints, strips: Sequence[Strip]) -> tuple[Array, Ints]:
    """The flat mesh (points (n, 2), triangles (t, 3)) with the strips meshed too, each quad parted from the corner of
    least number, as prisms_to_tets parts the plate's side of it."""
    more = []
    for strip in strips:
        at = corners_at(points, strip.spots_mm)
        for one, other in pairwise(at):
            quad = [one[0], other[0], other[1], one[1]]
            least = int(np.argmin(quad))
            a, b, c, d = quad[least:] + quad[:least]
            more += [[a, b, c], [a, c, d]]
    if not more:
        return points, triangles
    added = np.array(more, dtype=np.int64)
    u, v, w = (points[added[:, i]] for i in range(3))
    turned = (v - u)[:, 0] * (w - u)[:, 1] - (v - u)[:, 1] * (w - u)[:, 0] < 0.0
    added[turned] = added[turned][:, ::-1]
    return points, np.vstack([triangles, added])


def corners_at(points: Array, spots: Array) -> Ints:
    """Numbers (...,) of the corners at spots (..., 2). Raises ValueError where a spot has none."""
    flat = spots.reshape(-1, 2)
    away = np.linalg.norm(points[None, :, :] - flat[:, None, :], axis=2)
    at = np.argmin(away, axis=1)
    if float(away[np.arange(len(flat)), at].max()) > _SAME_MM:
        raise ValueError("a gusset's foot is not whole in the mesh")
    return np.asarray(at.reshape(spots.shape[:-1]), dtype=np.int64)


def plate_mesh(plate: Panel, strips: Sequence[Strip], size_mm: float) -> tuple[Array, Ints]:
    """Flat mesh of a plate: its corners (n, 2), triangles (t, 3), the stations of its feet among the corners."""
    ring = plate.outline.flattened_mm(_ARC_MM)
    out: list[Array] = []
    for start, end in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        out.append(start)
        run = next((s for s in (_between(strip, start, end) for strip in strips) if s is not None), None)
        if run is None:
            count = int(np.ceil(np.linalg.norm(end - start) / size_mm))
            run = start + (np.arange(1, count) / count)[:, None] * (end - start)
        out += list(run)
    return triangulated(Polygon(np.array(out)), 0.45 * size_mm**2)


def _between(strip: Strip, start: Array, end: Array) -> Array | None:
    """The inner stations of a foot where a run of the outline is that foot."""
    spots = strip.plate_mm
    if np.linalg.norm(spots[0] - start) < _SAME_MM and np.linalg.norm(spots[-1] - end) < _SAME_MM:
        return spots[1:-1]
    if np.linalg.norm(spots[-1] - start) < _SAME_MM and np.linalg.norm(spots[0] - end) < _SAME_MM:
        return spots[-2:0:-1]
    return None


def rows_beside(strip: Strip, reaches_mm: Sequence[float]) -> Array:
    """Spots (k, 2) beside a strip and past its tip, at set distances, where the stress at its toes is read."""
    spots = strip.spots_mm
    across = spots[0, 1] - spots[0, 0]
    across = across / np.linalg.norm(across)
    along = spots[-1, 0] - spots[0, 0]
    along = along / np.linalg.norm(along)
    tip = np.vstack([spots[-1], spots[-1].mean(axis=0)[None, :]])
    return np.vstack(
        [
            block
            for reach in reaches_mm
            for block in (spots[:, 0] - reach * across, spots[:, 1] + reach * across, tip + reach * along)
        ]
    )


def foot_of(strip: Strip, gusset: Gusset, panels: Mapping[str, Panel], corners: Ints) -> Foot:
    """The foot with its corners (stations, 2) in the whole mesh."""
    plate = panels[strip.gusset]
    way = strip.plate_mm[-1] - strip.plate_mm[0]
    into = plate.pose.rotation @ np.append(way / np.linalg.norm(way), 0.0)
    normal = panels[strip.panel].pose.rotation[:, 2]
    square = normal if strip.layer == -1 else -normal
    return Foot(
        strip.gusset, strip.panel, strip.stations_mm, corners, into, square, plate.pose.rotation[:, 2], strip.layer,
        plate.thickness_mm, gusset.leg_mm,
    )  # fmt: skip
