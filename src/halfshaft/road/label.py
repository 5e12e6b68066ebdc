"""What test reports print, from energies of a test: ranges, means of city and highway, miles a gallon alike."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from scipy.constants import mile

from halfshaft.road.plain_car import PlainUse

WH_PER_GALLON = 33_705.0  # 40 CFR 600.002: energy of a gallon of petrol
CITY = 0.55  # 40 CFR 600.206: share of city driving
LABEL = 0.7  # 40 CFR 600.210-12(a): from the test to the label, where no further cycles are driven


@dataclass(frozen=True, slots=True)
class MultiCycle:
    """Use and range of a multi-cycle test: DC at the pack, AC at the wall. Wh/m and m."""

    city_wh_m: float
    highway_wh_m: float
    city_range_m: float
    highway_range_m: float
    range_m: float  # 55 to 45
    city_wall_wh_m: float
    highway_wall_wh_m: float


def multi_cycle(
    city_wh: tuple[float, ...],
    city_wh_m: tuple[float, ...],
    highway_wh_m: tuple[float, ...],
    usable_wh: float,
    wall_per_dc: float = 1.0,
) -> MultiCycle:
    """The four city and two highway drives of a multi-cycle test, the first city drive weighed by its own energy.

    `city_wh` holds at least the energy of the first city drive. Source: SAE J1634 (from memory).
    """
    if not 0.0 < city_wh[0] < usable_wh or len(city_wh_m) < 2 or not highway_wh_m:
        raise ValueError("a multi-cycle test wants two city drives or more, a highway drive, and more energy than one")
    first = city_wh[0] / usable_wh
    others = (1.0 - first) / (len(city_wh_m) - 1)
    city = first * city_wh_m[0] + others * sum(city_wh_m[1:])
    highway = sum(highway_wh_m) / len(highway_wh_m)
    far, far_highway = usable_wh / city, usable_wh / highway
    mixed = CITY * far + (1.0 - CITY) * far_highway
    return MultiCycle(city, highway, far, far_highway, mixed, city * wall_per_dc, highway * wall_per_dc)


def gallons_alike(wall_wh_m: float) -> float:
    """Miles on a petrol gallon's worth of energy from the wall. Source: 40 CFR 600.002."""
    return WH_PER_GALLON / (wall_wh_m * float(mile))


def mixed_wh_m(city_wh_m: float, highway_wh_m: float) -> float:
    """City and highway use as 55 to 45 of the way. Source: 10 CFR 474, appendix A."""
    return CITY * city_wh_m + (1.0 - CITY) * highway_wh_m


@dataclass(frozen=True, slots=True)
class Printed:
    """What a label in the USA would print of a city and a highway cycle, from the wall: Wh/m and miles a gallon alike.

    `label` numbers are 0.7 of the test; `derived` ones are by the five-cycle lines, told to compare.
    """

    mixed_wh_m: float
    city: float
    highway: float
    mixed: float
    label_city: float
    label_highway: float
    label_mixed: float
    derived_city: float
    derived_highway: float


def printed(city_wh_m: float, highway_wh_m: float) -> Printed:
    """City and highway use at the wall as printed. Mixed numbers are 55 to 45 of the way.

    Source: 40 CFR 600.210-12, with the derived five-cycle coefficients from model year 2017 (from memory).
    Raises ValueError where a use is not over nought.
    """
    if not (city_wh_m > 0.0 and highway_wh_m > 0.0):
        raise ValueError("a label wants uses over nought")
    city, highway = gallons_alike(city_wh_m), gallons_alike(highway_wh_m)
    mixed_use = mixed_wh_m(city_wh_m, highway_wh_m)
    mixed = gallons_alike(mixed_use)
    return Printed(
        mixed_use, city, highway, mixed, LABEL * city, LABEL * highway, LABEL * mixed,
        1.0 / (0.004091 + 1.1601 / city), 1.0 / (0.003191 + 1.2945 / highway),
    )  # fmt: skip


def printed_of(rows: Iterable[PlainUse]) -> Printed | None:
    """What a label would print, where UDDS and HWFET are both among the drives and each takes energy."""
    use = {row.cycle: row.wall_wh_km / 1000.0 for row in rows}
    city, highway = use.get("udds", 0.0), use.get("hwfet", 0.0)
    return printed(city, highway) if city > 0.0 and highway > 0.0 else None
