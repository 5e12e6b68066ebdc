"""The pack as the road sees it: volts by charge, resistance and limits in; current, sag and heat out."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.pack.current import current_a as current_a
from halfshaft.pack.current import most_w as most_w

Array = NDArray[np.float64]
Number = float | Array
Curve = tuple[tuple[float, float], ...]


@dataclass(frozen=True, eq=False)
class Supply:
    """A pack within the window that is used: charge 0 is where driving ends, 1 where charging ends.

    `curve` gives open-circuit volts against that charge as shares of `volts_v`; numbers may be arrays of one shape for
    many packs, the curve is common to them. Limits are at the terminals. This is what a pack station supplies.
    """

    energy_wh: Number  # open circuit, from full to empty
    volts_v: Number  # mean over the window, open circuit
    resistance_ohm: Number
    discharge_w: Number  # most it may give
    charge_w: Number  # most it may take, as by braking
    curve: Curve = ((0.0, 1.0), (1.0, 1.0))
    full_v: Number = np.inf  # charging holds the terminals to this
    charge_a: Number = np.inf
    heat_j_k: Number = np.inf  # warmth that a kelvin takes
    gives: Curve = ((0.0, 1.0),)  # share of `discharge_w` against charge
    takes: Curve = ((0.0, 1.0),)  # share of `charge_w` against charge

    @property
    def charge_ah(self) -> Number:
        """Charge from full to empty."""
        return self.energy_wh / (self.volts_v * self._mean)

    @property
    def _mean(self) -> float:
        soc, share = np.array(self.curve).T
        return float(np.trapezoid(share, soc))

    def open_v(self, charge: ArrayLike) -> Array:
        """Open-circuit volts at a charge from 0 to 1."""
        soc, share = np.array(self.curve).T
        return np.asarray(self.volts_v * np.interp(np.asarray(charge, dtype=float), soc, share))

    def gives_w(self, charge: ArrayLike) -> Array:
        """Most power out at a charge from 0 to 1."""
        soc, share = np.array(self.gives).T
        return np.asarray(self.discharge_w * np.interp(np.asarray(charge, dtype=float), soc, share))

    def takes_w(self, charge: ArrayLike) -> Array:
        """Most power in at a charge from 0 to 1."""
        soc, share = np.array(self.takes).T
        return np.asarray(self.charge_w * np.interp(np.asarray(charge, dtype=float), soc, share))


def room_w(supply: Supply, open_v: ArrayLike) -> Array:
    """Most charging power before the terminals reach full volts, W: nearly none of it is left in a full pack."""
    u, full = np.asarray(open_v, dtype=float), np.asarray(supply.full_v, dtype=float)
    ohm = np.maximum(np.asarray(supply.resistance_ohm, dtype=float), 1e-9)
    bound = np.where(np.isfinite(full), full, 1e9)
    return np.asarray(np.maximum(bound - u, 0.0) / ohm * bound)


@dataclass(frozen=True, eq=False)
class Chill:
    """What temperature does to a pack: shares of its energy, of the charge it may take and of the power it gives, and
    times its resistance.
    """

    energy: Number = 1.0
    resistance: Number = 1.0
    charge: Number = 1.0
    discharge: Number = 1.0
    charge_power: Number | None = None  # of the power it takes, where that is not as the current


def chilled(supply: Supply, chill: Chill) -> Supply:
    """The pack at a temperature."""
    return replace(
        supply,
        energy_wh=supply.energy_wh * chill.energy,
        resistance_ohm=supply.resistance_ohm * chill.resistance,
        discharge_w=supply.discharge_w * chill.discharge,
        charge_w=supply.charge_w * (chill.charge if chill.charge_power is None else chill.charge_power),
        charge_a=supply.charge_a * chill.charge,
    )
