"""Retention in a crash: mass and class of vehicle in, load cases along and across the car out."""

from __future__ import annotations

from halfshaft.build.catalogue import mount_load
from halfshaft.mounts.loads import Case, field_case

CLASSES = ("M1", "N1", "M2", "N2", "M3", "N3")


def crash_cases(mass_kg: float, vehicle_class: str = "M1") -> tuple[Case, ...]:
    """Four cases: thrown forward, rearward, to the left, to the right, own weight in each.

    What hangs in the car must stay in it; it need not serve again. The regulation is one for batteries; for a drive
    unit it is taken over as common practice. Raises ValueError for a class that there is not, or no mass.
    Source: UN Regulation No. 100, mechanical shock; the rows of the catalogue.
    """
    if vehicle_class not in CLASSES:
        raise ValueError(f"no vehicle class '{vehicle_class}'; there are: {', '.join(CLASSES)}")
    row = mount_load(f"crash.{vehicle_class}")
    along, across = (float(value) for value in row.value)
    ways = (
        ("forward", (along, 0.0, -1.0)),
        ("rearward", (-along, 0.0, -1.0)),
        ("left", (0.0, across, -1.0)),
        ("right", (0.0, -across, -1.0)),
    )
    return tuple(field_case(f"crash, thrown {way}", mass_kg, field, "crash", row.source) for way, field in ways)
