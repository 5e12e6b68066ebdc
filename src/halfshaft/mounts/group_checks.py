"""All bolts of one foot: their loads, the bolt and the plies in; checks of each bolt, named, out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from halfshaft.checks import Check, Origin, Severity, Source
from halfshaft.mounts.bolt_group import BoltLoads, BoltPattern
from halfshaft.mounts.bolts import Bolt, Plate, Spots, bolt_checks
from halfshaft.mounts.slip import Friction, slip_check
from halfshaft.mounts.spots import spots_along
from halfshaft.mounts.verdict import most, told

_SEAT = Source(Origin.DERIVED, "one-sided contact of a stiff plate, bolts and seat alike elastic")


@dataclass(frozen=True, eq=False, slots=True)
class Ply:
    """One plate of the foot. `outline` in the pattern's x, y, or None where edges are far.

    `loaded`: the ply that brings the load, which the bolts push back; else the one that they push on with it.
    """

    plate: Plate
    outline: Polygon | None = None
    loaded: bool = True


def group_checks(
    about: str,
    names: Sequence[str],
    pattern: BoltPattern,
    loads: BoltLoads,
    bolt: Bolt,
    plies: Sequence[Ply],
    *,
    pried_n: Sequence[float] | None = None,
    threads_in_plane: bool = True,
    hole: str | Sequence[str] = "round",
    surface: str | None = None,
    preload_low_n: float = 0.0,
) -> tuple[Check, ...]:
    """Each bolt of a group by EN 1993-1-8, then the seat.

    `pried_n` is the tension of each bolt with prying in, where worked; else that of the group. `hole` is the kind of
    all holes, or of each. `surface` asks for a check against slip with `preload_low_n` in each bolt. Tension counted
    for strength is the pull that the load brings, not the preload, which a bolt sheds before it breaks.
    Raises ValueError where names do not fit the bolts, a hole is not in its ply, or there is no ply.
    """
    count = len(pattern.places_mm)
    if len(names) != count or (pried_n is not None and len(pried_n) != count):
        raise ValueError(f"{about}: {count} bolts want {count} names and pulls, found {len(names)}")
    holes = (hole,) * count if isinstance(hole, str) else tuple(hole)
    pulls = np.maximum(0.0, loads.added_n) if pried_n is None else np.asarray(pried_n, dtype=float)
    out: list[Check] = []
    for i, name in enumerate(names):
        where = f"{about}, bolt {name}"
        across = loads.shear_n[i]
        seen = [
            (ply.plate, Spots())
            if ply.outline is None
            else (
                ply.plate,
                spots_along(ply.outline, pattern.places_mm, i, -across if ply.loaded else across, bolt.hole_mm),
            )
            for ply in plies
        ]
        shear = float(np.hypot(*across))
        out += bolt_checks(
            where, bolt, seen, shear, float(pulls[i]), threads_in_plane=threads_in_plane, hole=holes[i],
            single_row_lap=count == 1,
        )  # fmt: skip
        if surface is not None:
            out.append(slip_check(where, shear, preload_low_n, Friction(surface, holes[i]), float(pulls[i])))
    softest = min(ply.plate.yield_mpa for ply in plies)
    if loads.lifts:
        out.append(told(about, "the foot lifts off its seat", _SEAT, "Tighten the bolts: a loose foot hammers."))
    else:
        out.append(
            most(
                about, "pressure at the edge of the seat", loads.pressure_mpa, softest, "MPa", _SEAT,
                "Make the foot longer beyond the bolts, or thicker, or back it with a plate.", Severity.CAUTION,
            )
        )  # fmt: skip
    return tuple(out)
