"""Sizes of a screw thread: diameter and pitch in; pitch and core diameters and the stress area out."""

from __future__ import annotations

import math
from dataclasses import dataclass

from halfshaft.build import catalogue
from halfshaft.build.catalogue import mounts as rows


@dataclass(frozen=True, slots=True)
class Thread:
    """A 60 degree thread; `inch`: its core is cut as of the unified inch series.

    Source of its sizes: ISO 68-1 and ISO 724, stress area ISO 898-1, 9.1.6; inch ASME B1.1.
    """

    diameter_mm: float
    pitch_mm: float
    inch: bool = False

    def __post_init__(self) -> None:
        if not 0.0 < self.pitch_mm < self.diameter_mm / 2.0:
            raise ValueError(f"a thread of {self.diameter_mm:g} mm cannot have a pitch of {self.pitch_mm:g} mm")

    @property
    def height_mm(self) -> float:
        """Height of the sharp triangle, H."""
        return math.sqrt(3.0) / 2.0 * self.pitch_mm

    @property
    def pitch_diameter_mm(self) -> float:
        """d2 = D2."""
        return self.diameter_mm - 0.75 * self.height_mm

    @property
    def core_mm(self) -> float:
        """Core of the bolt, d3."""
        return self.diameter_mm - (1.5 if self.inch else 17.0 / 12.0) * self.height_mm

    @property
    def bore_mm(self) -> float:
        """Bore of the nut, D1."""
        return self.diameter_mm - 1.25 * self.height_mm

    @property
    def stress_diameter_mm(self) -> float:
        return (self.pitch_diameter_mm + self.core_mm) / 2.0

    @property
    def stress_area_mm2(self) -> float:
        """Tensile stress area As."""
        return math.pi / 4.0 * self.stress_diameter_mm**2

    @property
    def core_area_mm2(self) -> float:
        return math.pi / 4.0 * self.core_mm**2

    @property
    def shank_area_mm2(self) -> float:
        return math.pi / 4.0 * self.diameter_mm**2


def thread_of(bolt: str) -> Thread:
    """The coarse thread of a bolt of the catalogue: 'M12', '1/2 in'. Raises KeyError with the nearest names."""
    row = catalogue.bolt(bolt)
    return Thread(row.shank_mm, rows.thread(row.name).pitch_mm, row.name.endswith(" in"))
