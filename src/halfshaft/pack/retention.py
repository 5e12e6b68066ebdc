"""What a bay's fixings hold in a crash and over the road. Mass and class of vehicle in, forces out."""

from __future__ import annotations

from dataclasses import dataclass

from scipy.constants import g as gravity_m_s2

from halfshaft.mounts.crash import crash_cases


@dataclass(frozen=True, slots=True)
class Retention:
    """Loads on the fixings of one bay, N; `along_g` and `across_g` as the class of vehicle wants."""

    bay: str
    modules: int
    mass_kg: float  # modules with their box
    along_g: float
    across_g: float
    along_n: float
    across_n: float
    weight_n: float


def retention(bay: str, modules: int, mass_kg: float, vehicle_class: str = "M1") -> Retention:
    """Forces of the shock of UN Regulation No. 100, the lower plateau, for a mass that a bay holds.

    Raises ValueError for a class that there is not, or no mass. Source: the rows of `halfshaft.mounts.crash`.
    """
    cases = crash_cases(mass_kg, vehicle_class)
    along = max(abs(float(case.force_n[0])) for case in cases)
    across = max(abs(float(case.force_n[1])) for case in cases)
    weight = mass_kg * gravity_m_s2
    return Retention(bay, modules, mass_kg, along / weight, across / weight, along, across, weight)
