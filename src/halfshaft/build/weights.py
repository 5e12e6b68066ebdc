"""What a builder can write of weights, axles, springs and brakes, as frozen values."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from halfshaft.build.moving_units import read_damping_n_s_m
from halfshaft.build.road import Change, Plain, Share
from halfshaft.build.value import Angle, Force, Length, Mass, Names, Spot, Stiffness, Value, assumed

_MOST_KG = 1e5
Damping = Annotated[
    float, BeforeValidator(lambda value, info: read_damping_n_s_m(value, (info.context or {}).get("units", "metric")))
]
End = Literal["front", "rear"]


class TiltInput(Value):
    """One axle lifted with blocked springs, and what the other then shows."""

    lifted: End
    lift_mm: Length = Field(alias="lift", ge=10, le=3000)  # of the wheels of that axle over level
    other_axle_kg: Mass = Field(alias="other_axle", gt=0, le=_MOST_KG)
    lift_spread_mm: Length = assumed("weights.lift_spread", alias="lift_spread", ge=0, le=200)
    spread_kg: Mass | None = Field(None, alias="spread", ge=0, le=1e4)  # of its scales; the corners' when not told


class WeighingInput(Value):
    """The car on scales: four corners, or two axles."""

    corners_kg: tuple[Mass, Mass, Mass, Mass] | None = Field(None, alias="corners")
    axles_kg: tuple[Mass, Mass] | None = Field(None, alias="axles")  # front, rear
    spread_kg: Mass = assumed("weights.scale_spread", alias="spread", ge=0, le=1e4)  # of each reading
    tilt: TiltInput | None = None
    cog_height_mm: Length | None = Field(None, alias="cog_height", gt=0, le=5000)  # over the ground, without a tilt
    cog_height_spread_mm: Length = assumed("weights.cog_height_spread", alias="cog_height_spread", ge=0, le=2000)
    what: str = ""


class ItemInput(Value):
    """One thing that comes out, goes in or rides along."""

    mass_kg: Mass = Field(alias="mass", ge=0, le=_MOST_KG)
    mass_spread_kg: Mass | None = Field(None, alias="mass_spread", ge=0, le=_MOST_KG)
    at: str | Spot | None = None  # its own centre of mass: a point, or a spot in root axes
    place: str | None = None  # or one of [weights.place]
    places: Names = ()  # where else it may go
    place_spread_mm: Length = assumed("weights.place_spread", alias="place_spread", ge=0, le=5000)
    sprung: bool = True  # false for wheels, axles, brakes
    what: str = ""


class PlaceInput(Value):
    """Room for things that may be moved."""

    at: str | Spot
    holds: int = Field(1, ge=0, le=1000)
    what: str = ""


class SpringInput(Value):
    """Springs, dampers and tyres of one axle; rates of one side."""

    rate_n_mm: Stiffness = Field(alias="rate", gt=0.1, le=1e4)
    ratio: Plain = Field(1.0, gt=0.05, le=5)  # travel of the spring over travel of the wheel
    unsprung_kg: Mass = assumed("weights.unsprung", alias="unsprung", ge=0, le=1e4)  # both wheels, brakes, axle
    tyre_rate_n_mm: Stiffness | None = Field(None, alias="tyre_rate", gt=1, le=1e5)
    damper_n_s_m: Damping | None = Field(None, alias="damper", ge=0, le=1e6)
    damper_ratio: Plain | None = Field(None, gt=0.05, le=5)  # the spring's when not told


class BrakesInput(Value):
    """How the brakes share, and what the park brake holds."""

    front_share: Plain = Field(ge=0, le=1)  # of the braking force with the rear circuit unreduced
    knee_m_s2: Change | None = Field(None, alias="valve_from", ge=0, le=20)  # where the rear valve begins
    slope: Plain | None = Field(None, alias="valve_slope", ge=0, le=1)  # what it lets by past that
    regeneration_m_s2: Change = Field(0.0, alias="regeneration", ge=0, le=8)  # of the laden car
    driven: Literal["front", "rear", "all"] = "rear"
    friction: Plain = assumed("weights.friction", gt=0.05, le=2)  # of a dry road
    slippery: Plain = assumed("weights.slippery", gt=0.02, le=2)
    park_axle: End | Literal["both"] = "rear"
    park_force_n: Force | None = Field(None, alias="park_force", ge=0, le=1e6)  # at the tyres' edge, all of it
    park_slope_deg: Angle = assumed("weights.park_slope", alias="park_slope", gt=0, lt=60)
    park_friction: Plain = assumed("weights.park_friction", gt=0.05, le=2)


class WeightsInput(Value):
    """What the car weighs, what comes out and goes in, and what carries it. Spreads are one standard deviation."""

    wheelbase_mm: Length | None = Field(None, alias="wheelbase", gt=300, le=20000)  # else of [mounts] or [car]
    track_front_mm: Length = Field(alias="track_front", gt=200, le=5000)
    track_rear_mm: Length | None = Field(None, alias="track_rear", gt=200, le=5000)  # as the front when not told
    rear_axle_mm: Length = Field(0.0, alias="rear_axle", ge=-20000, le=20000)  # its x in root axes
    ground_mm: Length = Field(0.0, alias="ground", ge=-20000, le=20000)  # its z
    wheel_radius_mm: Length | None = Field(None, alias="wheel_radius", gt=50, le=2000)  # loaded
    wheel_radius_rear_mm: Length | None = Field(None, alias="wheel_radius_rear", gt=50, le=2000)
    wheel_radius_spread_mm: Length = assumed("weights.radius_spread", alias="wheel_radius_spread", ge=0, le=500)
    front_roll: Share | None = None  # of a lean to the side, that the front axle takes
    gross_mass_kg: Mass | None = Field(None, alias="gross_mass", gt=0, le=_MOST_KG)
    front_rating_kg: Mass | None = Field(None, alias="front_rating", gt=0, le=_MOST_KG)
    rear_rating_kg: Mass | None = Field(None, alias="rear_rating", gt=0, le=_MOST_KG)
    tyre_front: int | None = Field(None, ge=0, le=300)  # load index
    tyre_rear: int | None = Field(None, ge=0, le=300)
    wanted_front: Plain | None = Field(None, gt=0.02, lt=0.98)  # share of the empty car's weight
    most_moves: int = Field(4, ge=0, le=12)
    pack: Literal["layout", "rows"] | None = None  # modules from the layout of [pack], or told in [weights.in]
    before: WeighingInput | None = None
    after: WeighingInput | None = None
    out: dict[str, ItemInput] = {}
    into: dict[str, ItemInput] = Field({}, alias="in")
    load: dict[str, ItemInput] = {}
    place: dict[str, PlaceInput] = {}
    spring: dict[End, SpringInput] = {}
    brakes: BrakesInput | None = None

    @property
    def items(self) -> tuple[tuple[str, str, Any], ...]:
        """Table, name and item of all in the ledger: out, in, load."""
        tables: tuple[tuple[str, dict[str, ItemInput]], ...] = (
            ("out", self.out),
            ("in", self.into),
            ("load", self.load),
        )
        return tuple((table, name, one) for table, rows in tables for name, one in rows.items())
