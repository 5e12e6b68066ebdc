"""What shakes a unit and whether its modes keep clear of it: modes and bands in, checks out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from halfshaft.build.catalogue import mount_load
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.mounts.modes import MOTIONS, Modes


@dataclass(frozen=True, slots=True)
class Band:
    """Frequencies at which something shakes the unit."""

    name: str
    low_hz: float
    high_hz: float
    source: Source

    def __post_init__(self) -> None:
        if not (np.isfinite(self.low_hz) and np.isfinite(self.high_hz) and 0.0 <= self.low_hz <= self.high_hz):
            raise ValueError(
                f"band '{self.name}' runs from {self.low_hz:g} to {self.high_hz:g} Hz; write low, then high"
            )


def wheel_hop() -> Band:
    """The wheels hopping on their tyres, from the catalogue."""
    row = mount_load("modes.wheel_hop")
    return Band("wheel hop", float(row.value[0]), float(row.value[1]), row.source)


def shaft_band(name: str, low_rpm: float, high_rpm: float, order: float = 1.0) -> Band:
    """What shakes `order` times a turn over a range of speeds: first order of the motor, gear teeth, joints twice.

    Raises ValueError for an order not over nought, or speeds out of order.
    """
    if not (np.isfinite(order) and order > 0.0):
        raise ValueError(f"'{name}': an order of {order:g} shakes nothing; it is over nought")
    source = Source(Origin.DERIVED, f"order {order:g} at {low_rpm:g} to {high_rpm:g} rpm")
    return Band(name, order * low_rpm / 60.0, order * high_rpm / 60.0, source)


def apart_percent(frequency_hz: float, band: Band) -> float:
    """How far a frequency is from a band, in percent of the band's near edge; within it, minus how deep."""
    if frequency_hz < band.low_hz:
        return 100.0 * (band.low_hz - frequency_hz) / band.low_hz
    if frequency_hz > band.high_hz:
        return 100.0 * (frequency_hz - band.high_hz) / band.high_hz if band.high_hz > 0.0 else np.inf
    nearest = min(frequency_hz - band.low_hz, band.high_hz - frequency_hz)
    edge = band.low_hz if frequency_hz - band.low_hz <= band.high_hz - frequency_hz else band.high_hz
    return -100.0 * nearest / edge if edge > 0.0 else 0.0


def amplification(frequency_hz: float, band: Band, loss: float) -> float:
    """Most that a mode swings in a band over what the same push would move it slowly.

    `1 / sqrt((1 - r^2)^2 + loss^2)` with r the band's frequency over the mode's, rubber with a loss factor.
    Source: any handbook of vibration; from memory.
    """
    nearest = float(np.clip(frequency_hz, band.low_hz, band.high_hz)) / frequency_hz
    return float(1.0 / max(np.hypot(1.0 - nearest**2, loss), 1e-12))


def mode_checks(modes: Modes, bands: Sequence[Band]) -> tuple[Check, ...]:
    """Of each band the nearest mode, of the set its least decoupled mode, and whether the slowest is too slow."""
    keep = mount_load("modes.keep_away")
    out: list[Check] = []
    for band in bands:
        apart = [apart_percent(float(f), band) for f in modes.frequency_hz]
        worst = int(np.argmin(apart))
        within = [n for n, a in zip(modes.names, apart, strict=True) if a < float(keep.value)]
        frequency = float(modes.frequency_hz[worst])
        swing = amplification(frequency, band, float(modes.loss[worst]))
        where = f"{frequency:.1f} Hz, {band.name} {band.low_hz:.1f} to {band.high_hz:.1f} Hz"
        also = f" Near it: {', '.join(within)}." if len(within) > 1 else ""
        out.append(
            Check(
                "mounts", f"mode {modes.names[worst]}",
                f"Distance from {band.name} ({where}; swings up to {swing:.1f} times)", keep.source, Severity.CAUTION,
                f"Change stiffness or mass so that the mode leaves the band ({band.source}).{also} "
                "See the frequencies over stiffness before new mounts are bought.",
                float(apart[worst]), float(keep.value), "%", Good.AT_LEAST,
            )
        )  # fmt: skip
    row = mount_load("modes.decoupled")
    least = int(np.argmin(modes.decoupled))
    first, second = (MOTIONS[int(i)] for i in np.argsort(-modes.energy[least], kind="stable")[:2])
    out.append(
        Check(
            "mounts", f"mode {modes.names[least]}", "Kinetic energy in the main motion of the most mixed mode",
            row.source, Severity.NOTE,
            f"{first} and {second} shake each other: bring the mounts' stiff axes toward the centre of mass in the "
            "plane of both, or even out the stiffness on its two sides.",
            100.0 * float(modes.decoupled[least]), float(row.value), "%", Good.AT_LEAST,
        )
    )  # fmt: skip
    row = mount_load("modes.lowest")
    out.append(
        Check(
            "mounts", f"mode {modes.names[0]}", "Slowest mode", row.source, Severity.CAUTION,
            f"The unit wallows in {modes.names[0]}: make the mounts stiffer in that motion, or set them wider.",
            float(modes.frequency_hz[0]), float(row.value), "Hz", Good.AT_LEAST,
        )
    )  # fmt: skip
    return tuple(out)
