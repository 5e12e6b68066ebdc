"""What the pack station gives back: frozen results as plain numbers and small arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.checks import Assumed, Check
from halfshaft.pack.bay import Bay, Keep
from halfshaft.pack.cold import ColdTable
from halfshaft.pack.layout import Layout
from halfshaft.pack.mass import Lump, PackWeight, Room, Spot, lumps_of
from halfshaft.pack.retention import Retention
from halfshaft.pack.strings import Strings

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Volts:
    """Volts of the pack in one state; `open_v` at rest, `loaded_v` under `power_w`."""

    name: str
    charge: float
    celsius: float
    open_v: float
    loaded_v: float
    power_w: float


@dataclass(frozen=True, eq=False, slots=True)
class Limits:
    """Power in W against temperature (t,) and charge (c,): arrays (t, c); out for half a minute, for good, and in."""

    celsius: Array
    charge: Array
    out_w: Array
    lasting_w: Array
    in_w: Array


@dataclass(frozen=True, eq=False, slots=True)
class Answer:
    """One layout with what its bays' fixings hold; `faults` of the check apart, empty where it fits."""

    layout: Layout
    retention: tuple[Retention, ...]
    faults: tuple[str, ...]


@dataclass(frozen=True, eq=False, slots=True)
class Laid:
    """Where modules can go: bays with how many each takes and whether more are ruled out, keep-outs, answers."""

    bays: tuple[Bay, ...]
    keeps: tuple[Keep, ...]
    most: tuple[tuple[int, bool], ...]
    wanted: int
    answers: tuple[Answer, ...]
    number: int = 1  # of the answer that is built, from 1
    lumps: tuple[Lump, ...] = ()  # what that one weighs, bay by bay, boxes and cables apart
    junction_mm: Array | None = None  # (3,) where both ends of the strings go, in root axes
    checks: tuple[Check, ...] = ()  # of the pack and its bays, whichever layout is built

    @property
    def chosen(self) -> Answer | None:
        """The answer that is built; None where there is none of that number."""
        return self.answers[self.number - 1] if self.number <= len(self.answers) else None


@dataclass(frozen=True, eq=False, slots=True)
class Pack:
    """Everything the station says of one pack; `laid` where places were asked for."""

    strings: Strings
    old: Strings
    module: str
    modules: int
    gross_wh: float
    usable_wh: float
    old_usable_wh: float
    mean_v: float  # over the window
    resistance_ohm: float
    volts: tuple[Volts, ...]
    limits: Limits
    lasting_heat_w: float
    lasting_rise_k_min: float
    modules_kg: float
    mass_kg: float  # with boxes and cables
    cold: ColdTable
    inverter_least_v: float  # volts between which the inverter works: nought and infinite where not told
    inverter_most_v: float
    checks: tuple[Check, ...]
    assumed: tuple[Assumed, ...]
    laid: Laid | None = None

    @property
    def weight(self) -> PackWeight | None:
        """What a ledger takes of the layout that is built; None where there is none, or places were not asked for."""
        laid = self.laid
        return None if laid is None or laid.chosen is None else self.weight_of(laid.number)

    @property
    def weights(self) -> tuple[PackWeight, ...]:
        """The same of every layout."""
        return () if self.laid is None else tuple(self.weight_of(n + 1) for n in range(len(self.laid.answers)))

    def weight_of(self, number: int) -> PackWeight:
        """What a ledger takes of one layout, from 1. Raises ValueError where places were not asked for, IndexError for
        a layout that there is not.
        """
        laid = self.laid
        if laid is None:
            raise ValueError("the pack was not laid out")
        each = self.modules_kg / self.modules
        layout = laid.answers[number - 1].layout
        spots = tuple(Spot(f"{m.string + 1}.{m.place + 1}", m.bay, m.centre_mm) for m in layout.modules)
        rooms = tuple(
            Room(bay.name, np.asarray(bay.pose.apply(bay.size_mm / 2.0)), max(most - held, 0))
            for bay, (most, _), held in zip(laid.bays, laid.most, layout.counts, strict=True)
        )
        lumps = lumps_of(layout.modules, laid.bays, each)
        return PackWeight(number, each, self.mass_kg / self.modules_kg - 1.0, spots, lumps, rooms)
