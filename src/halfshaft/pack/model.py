"""What the pack station gives back: frozen results as plain numbers and small arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.checks import Assumed, Check
from halfshaft.pack.bay import Bay, Keep
from halfshaft.pack.layout import Layout
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
    checks: tuple[Check, ...]
    assumed: tuple[Assumed, ...]
    laid: Laid | None = None
