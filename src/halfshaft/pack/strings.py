"""Modules in series and strings beside each other: volts, resistance, energy, power limits and heat of the whole."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.pack.chemistry import Chemistry, cell_open_v, mean_open_v, resistance_times
from halfshaft.pack.current import charge_limit_w, current_a, discharge_limit_w

Array = NDArray[np.float64]
Curve = tuple[tuple[float, float], ...]


@dataclass(frozen=True, eq=False, slots=True)
class Cells:
    """The electric side of one module: cells in series, its amp hours, 10 s ohms at half charge and 25 C, its amps."""

    chemistry: Chemistry
    series: int
    charge_ah: float
    resistance_ohm: float
    peak_a: float  # out, half a minute
    lasting_a: float  # out, for good
    charge_a: float  # in
    heat_j_k: float


@dataclass(frozen=True, eq=False, slots=True)
class Strings:
    """`series` modules in a string, `parallel` strings; `window` is the charge used, of what is left.

    `left` is the share of charge that age leaves, `grown` the times it has raised the resistance: both 1 when new.
    Shares of the current against temperature hold beyond their ends.
    """

    cells: Cells
    series: int
    parallel: int
    window: tuple[float, float]
    gives: Curve = ((0.0, 1.0),)
    takes: Curve = ((0.0, 1.0),)
    left: float = 1.0
    grown: float = 1.0

    @property
    def cells_in_series(self) -> int:
        return self.series * self.cells.series

    @property
    def charge_ah(self) -> float:
        """Amp hours from empty to full, of all strings."""
        return self.parallel * self.cells.charge_ah * self.left

    @property
    def least_v(self) -> float:
        return self.cells_in_series * self.cells.chemistry.least_v

    @property
    def most_v(self) -> float:
        return self.cells_in_series * self.cells.chemistry.most_v


def aged(strings: Strings, left: float, grown: float) -> Strings:
    """The pack with less charge and more resistance."""
    return replace(strings, left=left, grown=grown)


def open_v(strings: Strings, charge: ArrayLike) -> Array:
    """Open-circuit volts at a charge from 0 to 1 of the whole, not of the window."""
    return strings.cells_in_series * cell_open_v(strings.cells.chemistry, charge)


def resistance_ohm(strings: Strings, charge: ArrayLike = 0.5, celsius: ArrayLike = 25.0) -> Array:
    """10 s resistance between the pack's terminals; cables and contactors apart."""
    one = strings.cells.resistance_ohm * strings.grown * strings.series / strings.parallel
    return one * resistance_times(strings.cells.chemistry, charge, celsius)


def energy_wh(strings: Strings, low: float = 0.0, high: float = 1.0) -> float:
    """Open-circuit energy between two charges."""
    mean = strings.cells_in_series * mean_open_v(strings.cells.chemistry, low, high)
    return strings.charge_ah * (high - low) * mean


def discharge_w(
    strings: Strings, charge: ArrayLike, celsius: ArrayLike, least_v: float = 0.0, lasting: bool = False
) -> Array:
    """Most power out at the terminals; `least_v` is what the inverter wants, over the cells' own least volts."""
    amps = strings.parallel * (strings.cells.lasting_a if lasting else strings.cells.peak_a)
    return discharge_limit_w(
        open_v(strings, charge),
        resistance_ohm(strings, charge, celsius),
        amps * share_at(strings.gives, celsius),
        max(strings.least_v, least_v),
    )


def charge_w(strings: Strings, charge: ArrayLike, celsius: ArrayLike, most_v: float = np.inf) -> Array:
    """Most power in at the terminals, above nought; `most_v` is what the inverter bears, under the cells' own most."""
    return charge_limit_w(
        open_v(strings, charge),
        resistance_ohm(strings, charge, celsius),
        strings.parallel * strings.cells.charge_a * share_at(strings.takes, celsius),
        min(strings.most_v, most_v),
    )


def loaded_v(strings: Strings, power_w: ArrayLike, charge: ArrayLike, celsius: ArrayLike) -> Array:
    """Volts at the terminals under a power, W; what it cannot give at all is held to what it can."""
    ohm = resistance_ohm(strings, charge, celsius)
    volts = open_v(strings, charge)
    return volts - ohm * current_a(volts, ohm, power_w)


def heat_w(strings: Strings, amps: ArrayLike, charge: ArrayLike = 0.5, celsius: ArrayLike = 25.0) -> Array:
    """Heat in the whole pack at a current through it: I² R."""
    return np.asarray(amps, dtype=float) ** 2 * resistance_ohm(strings, charge, celsius)


def module_heat_w(strings: Strings, amps: ArrayLike, charge: ArrayLike = 0.5, celsius: ArrayLike = 25.0) -> Array:
    """Heat in one module at a current through the pack."""
    return heat_w(strings, amps, charge, celsius) / (strings.series * strings.parallel)


def warms_k_min(strings: Strings, amps: ArrayLike, charge: ArrayLike = 0.5, celsius: ArrayLike = 25.0) -> Array:
    """Rise of the modules a minute where no heat leaves them, K/min."""
    return 60.0 * module_heat_w(strings, amps, charge, celsius) / strings.cells.heat_j_k


def share_at(curve: Curve, celsius: ArrayLike) -> Array:
    """A curve against temperature, straight between, level beyond its ends."""
    at, share = np.array(curve).T
    return np.asarray(np.interp(np.asarray(celsius, dtype=float), at, share))
