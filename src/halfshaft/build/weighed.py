"""The finished car as its weights were worked, for stations that need them. [car] and a weighed car in, [car] filled.

What [car] tells itself always comes first; what neither tells is a default, as ever.
"""

from __future__ import annotations

from dataclasses import dataclass

from halfshaft.build.road import CarInput
from halfshaft.checks import Assumed, Origin, Source

WEIGHTS = Source(Origin.DERIVED, "the weights of this build; docs/weights.md")


@dataclass(frozen=True, slots=True)
class Standing:
    """One state of load: mass with its spread, share on the front axle, height of the centre of gravity."""

    mass_kg: float
    mass_spread_kg: float
    front_share: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Weighed:
    """The finished car with nobody in it, and as it drives where a load is told."""

    wheelbase_mm: float
    empty: Standing
    laden: Standing | None = None


def as_weighed(car: CarInput, weighed: Weighed | None) -> tuple[CarInput, tuple[Assumed, ...]]:
    """[car] with mass, load, axle share, height and wheelbase from the weights where it leaves them out.

    A load that [car] tells stands on the empty car, in the middle of its weight; else the load of the weights does.
    A car without a mass stays so where nothing was weighed.
    """
    if weighed is None:
        return car, ()
    stands = weighed.empty if car.given("load_kg") or weighed.laden is None else weighed.laden
    found: dict[str, tuple[float, str]] = {
        "front_share": (stands.front_share, f"{stands.front_share:.3f}"),
        "centre_height_mm": (stands.height_mm, f"{stands.height_mm:.0f} mm"),
        "wheelbase_mm": (weighed.wheelbase_mm, f"{weighed.wheelbase_mm:.0f} mm"),
    }
    if car.mass_kg is None:
        mass = weighed.empty
        found["mass_kg"] = (mass.mass_kg, f"{mass.mass_kg:.0f} kg ± {mass.mass_spread_kg:.0f}")
    if weighed.laden is not None:
        load = weighed.laden.mass_kg - weighed.empty.mass_kg
        found["load_kg"] = (load, f"{load:.0f} kg")
    taken = {key: value for key, value in found.items() if not car.given(key)}
    listed = tuple(
        Assumed(f"car.{CarInput.model_fields[key].alias or key}", words, WEIGHTS) for key, (_, words) in taken.items()
    )
    return car.model_copy(update={key: value for key, (value, _) in taken.items()}), listed
