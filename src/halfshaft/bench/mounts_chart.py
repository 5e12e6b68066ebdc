"""Frequencies of the unit over the stiffness of its mounts, with what shakes it. Mounts in, a chart out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from halfshaft.bench.chart import Axis, Chart, Line, Spot, reach_to

if TYPE_CHECKING:
    from halfshaft.mounts.model import Mounts


def stiffness_chart(found: Mounts) -> Chart | None:
    """A line a mode and a band for each thing that shakes the unit; as told is marked."""
    choice = found.choice
    if choice is None or np.isnan(choice.frequency_hz).all():
        return None
    x = choice.factor
    told = int(np.argmin(np.abs(x - 1.0)))
    most = float(np.nanmax(choice.frequency_hz))
    bands = []
    for band in found.bands:
        if band.low_hz < most:
            low, high = np.full(len(x), band.low_hz), np.full(len(x), min(band.high_hz, 1.1 * most))
            bands.append(Line(band.name.partition(",")[0], x, (low + high) / 2.0, (low, high)))
    names = [name.partition(" with ")[0] for name in choice.names[told]]
    modes = [Line(name, x, choice.frequency_hz[:, at]) for at, name in enumerate(names)]
    return Chart(
        "frequencies of the six modes with all mounts softer or stiffer, and what shakes the unit",
        Axis("stiffness of all mounts, times what is told", 0.0, reach_to(x)),
        Axis("Hz", 0.0, reach_to([1.1 * most])),
        (*bands, *modes),
        (Spot("as told", 1.0, float(choice.frequency_hz[told][0])),),
        420.0,
    )
