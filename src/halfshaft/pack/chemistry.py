"""A chemistry: open-circuit volts by charge, resistance by charge and temperature. A row of the catalogue in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import RegularGridInterpolator

from halfshaft.build.catalogue.pack import CellRow

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class Chemistry:
    """One cell's volts (k,) at charges (k,) from 0 to 1, and times (t, c) its resistance at half charge and 25 C."""

    name: str
    charge: Array
    volts: Array
    least_v: float
    most_v: float
    at_charge: Array
    at_celsius: Array
    times: Array


def chemistry_of(row: CellRow) -> Chemistry:
    """The chemistry of a catalogue's row."""
    return Chemistry(
        row.name,
        np.array(row.charge),
        np.array(row.volts),
        row.least_volts,
        row.most_volts,
        np.array(row.resistance_charge),
        np.array(row.resistance_celsius),
        np.array(row.resistance_times),
    )


def cell_open_v(cell: Chemistry, charge: ArrayLike) -> Array:
    """Open-circuit volts of a cell at a charge from 0 to 1; straight between the table's points."""
    return np.asarray(np.interp(np.asarray(charge, dtype=float), cell.charge, cell.volts))


def resistance_times(cell: Chemistry, charge: ArrayLike, celsius: ArrayLike) -> Array:
    """Times the resistance at half charge and 25 C; the table's edge beyond it."""
    q, t = np.broadcast_arrays(np.asarray(charge, dtype=float), np.asarray(celsius, dtype=float))
    table = RegularGridInterpolator((cell.at_celsius, cell.at_charge), cell.times)
    spots = (
        np.clip(t, cell.at_celsius[0], cell.at_celsius[-1]),
        np.clip(q, cell.at_charge[0], cell.at_charge[-1]),
    )
    return np.asarray(table(np.stack(spots, axis=-1)), dtype=float).reshape(q.shape)


def mean_open_v(cell: Chemistry, low: float, high: float) -> float:
    """Mean open-circuit volts between two charges: the exact integral of the straight pieces.

    Raises ValueError where the charges do not rise.
    """
    if not 0.0 <= low < high <= 1.0:
        raise ValueError(f"charges from {low:g} to {high:g} are no window: write two shares from 0 to 1 that rise")
    inner = cell.charge[(cell.charge > low) & (cell.charge < high)]
    at = np.concatenate([[low], inner, [high]])
    return float(np.trapezoid(cell_open_v(cell, at), at) / (high - low))


def plateau_v(cell: Chemistry, low: float = 0.2, high: float = 0.9) -> float:
    """How much the open volts rise between two charges, V: small where volts do not tell the charge."""
    return float(cell_open_v(cell, high) - cell_open_v(cell, low))
