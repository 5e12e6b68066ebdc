"""What a laid-out pack weighs, where, and how hard it is to turn. Modules of one layout in, mass by bay out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.pack.bay import Bay
from halfshaft.pack.layout import Placed

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class Lump:
    """Modules of one bay, or of all: mass, centre (3,) in root axes, inertia (3, 3) in kg m² about that centre."""

    name: str
    modules: int
    mass_kg: float
    centre_mm: Array
    inertia_kg_m2: Array


def lump_of(name: str, modules: Sequence[Placed], bays: Sequence[Bay], each_kg: float) -> Lump:
    """Modules as even blocks: m (h² + w²) / 12 of each about its own axes, then to the common centre (Steiner).

    Raises ValueError without modules. Source: moment of inertia of a cuboid, any handbook of mechanics.
    """
    if not modules:
        raise ValueError("no modules, no mass")
    turns = {bay.name: bay.pose.rotation for bay in bays}
    spots = np.array([one.centre_mm for one in modules])
    centre = spots.mean(axis=0)
    total = np.zeros((3, 3))
    for one, spot in zip(modules, spots, strict=True):
        size = one.turn.size_mm / 1000.0
        own = each_kg / 12.0 * np.diag(size @ size - size**2)
        turn = turns[one.bay]
        off = (spot - centre) / 1000.0
        total += turn @ own @ turn.T + each_kg * (off @ off * np.eye(3) - np.outer(off, off))
    return Lump(name, len(modules), each_kg * len(modules), centre, total)


def lumps_of(modules: Sequence[Placed], bays: Sequence[Bay], each_kg: float) -> tuple[Lump, ...]:
    """One lump for each bay that holds modules, in the order of the bays."""
    own = {bay.name: [one for one in modules if one.bay == bay.name] for bay in bays}
    return tuple(lump_of(name, held, bays, each_kg) for name, held in own.items() if held)


@dataclass(frozen=True, eq=False, slots=True)
class Spot:
    """One module by name, '1.3' for the third of the first string, with its bay and its centre (3,) in root axes."""

    name: str
    bay: str
    centre_mm: Array


@dataclass(frozen=True, eq=False, slots=True)
class Room:
    """A bay with its middle (3,) in root axes and how many modules it takes beside those in it."""

    name: str
    middle_mm: Array
    room: int


@dataclass(frozen=True, eq=False, slots=True)
class PackWeight:
    """The pack as a ledger sees it: modules of one layout, each of `each_kg`, boxes and cables as a share of them."""

    number: int  # of the layout
    each_kg: float
    box_share: float
    modules: tuple[Spot, ...]
    lumps: tuple[Lump, ...]
    bays: tuple[Room, ...]
