"""What a builder can write of choices to weigh against each other: packs, ratios, tyres, motors, with their costs."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from halfshaft.build.road import Change as Change
from halfshaft.build.road import Plain, Speed, Way
from halfshaft.build.value import Mass, Value, assumed

Aim = Literal["range", "weight", "hundred", "top", "cost", "charge"]
AIMS: tuple[Aim, ...] = ("range", "weight", "hundred", "top", "cost", "charge")
Money = Annotated[float, Field(ge=-1e9, le=1e9, allow_inf_nan=False)]
Scalar = str | int | float | tuple[Any, ...]  # any value that the key itself may have in build.toml


class ChoiceInput(Value):
    """One thing that may be chosen: the keys that it writes, what it costs and what it adds to the car."""

    set: dict[str, Scalar]  # 'car.gear.ratio' and such
    cost: Money = 0.0
    cost_spread: Money = Field(0.0, ge=0)  # one standard deviation
    mass_kg: Mass = Field(0.0, alias="mass", ge=-5e3, le=5e3)  # beside what motor and pack weigh themselves
    uncertain: str = ""  # what is not sure of it, in words


class PartInput(Value):
    """One part of the car that is open: options told whole, or one key with values."""

    key: str | None = None
    values: tuple[Scalar, ...] = ()
    least: Plain | None = Field(None, alias="from")
    most: Plain | None = Field(None, alias="to")
    steps: int | None = Field(None, ge=2, le=1000)
    cost: Money | tuple[Money, ...] = 0.0  # of each value, or one for each
    cost_spread: Money = Field(0.0, ge=0)
    uncertain: str = ""
    option: dict[str, ChoiceInput] = {}


class WorthInput(Value):
    """Differences that count: under these two choices are alike."""

    range_m: Way = assumed("choose.range", alias="range", ge=0, le=1e6)
    weight_kg: Mass = assumed("choose.weight", alias="weight", ge=0, le=1e4)
    hundred_s: Plain = assumed("choose.hundred", alias="hundred", ge=0, le=100)
    top_kmh: Speed = assumed("choose.top", alias="top", ge=0, le=100)
    cost: Money = assumed("choose.cost", ge=0)
    charge_s: Plain = assumed("choose.charge", alias="charge", ge=0, le=1e5)


class ChooseInput(Value):
    """Choices to weigh: every combination of an option of each part is driven."""

    part: dict[str, PartInput] = {}
    cycle: str | None = None  # for the range; the first of [road] when not told
    station: str | None = None  # of [road.station], for the time from 10 to 80 %; the first when not told
    aims: tuple[Aim, ...] = Field(AIMS, min_length=1)
    worth: WorthInput = Field(default_factory=WorthInput)
    cost: Money = 0.0  # of what is bought whatever is chosen
    cost_spread: Money = Field(0.0, ge=0)
    money: str = Field("", max_length=8)  # '€' or '$', beside costs
    most: int = assumed("choose.most", ge=1, le=2_000_000)  # variants
