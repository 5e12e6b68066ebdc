"""What a builder can write of the pack: its modules, how they are joined, where they may go, as frozen values."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from halfshaft.build.mounts import VehicleClass
from halfshaft.build.road import Amps, Ohms, Plain, Power, Share, Temperature, Volts
from halfshaft.build.value import Length, Mass, Names, Places, Spot, Value, assumed

Side = Literal["front", "rear", "left", "right", "top", "bottom"]
Count = Annotated[int, Field(ge=1, le=400)]
Size = tuple[Length, Length, Length]


class ModuleInput(Value):
    """A module: a row of catalogue/modules.toml, numbers of one's own, or a row with some of them changed."""

    like: str | None = None
    chemistry: str | None = None  # a row of catalogue/cells.toml
    series: Count | None = None  # cells in it
    # cells beside each other count in its charge and resistance
    charge_ah: Plain | None = Field(None, alias="charge", gt=0.1, le=5000)  # of the module
    resistance_ohm: Ohms | None = Field(None, alias="resistance", gt=0, le=10)  # 10 s, half full, 25 C
    size_mm: Size | None = Field(None, alias="size")  # length, width, height
    mass_kg: Mass | None = Field(None, alias="mass", gt=0.05, le=500)
    minus_mm: Spot | None = Field(None, alias="minus")  # terminals from its rear right lower corner
    plus_mm: Spot | None = Field(None, alias="plus")
    terminal_face: Side | None = None
    may_look_up: tuple[Side, ...] | None = Field(None, min_length=1)
    cools: Side | None = None  # face that a cooling plate wants
    peak_a: Amps | None = Field(None, alias="peak_current", gt=0.1, le=2e4)
    lasting_a: Amps | None = Field(None, alias="lasting_current", gt=0.1, le=2e4)
    charge_a: Amps | None = Field(None, alias="charge_current", gt=0.1, le=2e4)


class BayInput(Value):
    """A place for modules: a box between two corners, or a floor of three corners and a height."""

    box: Places = ()  # two opposite corners: points, or spots in the car's axes
    floor: Places = ()  # rear right, front right, rear left
    height_mm: Length | None = Field(None, alias="height", gt=10, le=5000)
    wall_mm: Length = assumed("pack.wall_room", alias="wall_room", ge=0, le=300)
    cooled: Side | None = None  # side with a cooling plate
    cables: Side = "top"  # side where cables leave
    what: str = ""


class KeepOutInput(Value):
    """A box in the car where no module goes."""

    box: Places
    room_mm: Length = assumed("pack.keep_room", alias="room", ge=0, le=500)
    what: str = ""


class BoxInput(Value):
    """Boxes of folded sheet about the modules of each bay."""

    sheet: Names = Field(min_length=1)  # of [sheet]: the thinnest of these that holds is taken
    lid_sheet: str | None = None  # the thinnest of them when not told
    strap_sheet: str | None = None
    fold: Literal["slit", "brake"] = "slit"
    clearance_mm: Length = assumed("box.clearance", alias="clearance", ge=0, le=100)
    lid: bool = True
    skirt_mm: Length = assumed("box.skirt", alias="skirt", ge=15, le=200)
    lid_bolt: str = "M6"
    lid_pitch_mm: Length = assumed("box.lid_pitch", alias="lid_pitch", ge=30, le=1000)
    straps: int | None = Field(None, ge=0, le=20)  # as many as hold when not told
    strap_width_mm: Length = assumed("box.strap_width", alias="strap_width", ge=15, le=300)
    strap_bolt: str = "M8"
    feet: int | None = Field(None, ge=4, le=24)  # as many as hold when not told, half on each side
    foot_width_mm: Length = assumed("box.foot_width", alias="foot_width", ge=25, le=400)
    foot_reach_mm: Length = assumed("box.foot_reach", alias="foot_reach", ge=20, le=300)
    foot_bolt: str = "M10"
    grade: str = "8.8"  # of straps' and feet's bolts
    drain_mm: Length = assumed("box.drain", alias="drain", ge=0, le=50)
    gland_mm: Length = assumed("box.gland", alias="gland", ge=0, le=90)
    up_g: Plain = assumed("box.up", alias="up", ge=0, le=40)


class BatteryInput(Value):
    """The pack."""

    module: ModuleInput
    series: Count  # modules in a string
    parallel: Count = 1  # strings
    window: tuple[Share, Share] | None = None  # of the charge, that is used
    left: Plain | None = Field(None, gt=0.2, le=1)  # share of the charge that age leaves
    grown: Plain | None = Field(None, ge=1, le=10)  # times the resistance by then
    inverter_v: tuple[Volts, Volts] | None = Field(None, alias="inverter_volts")
    charger_v: tuple[Volts, Volts] | None = Field(None, alias="charger_volts")
    power_w: Power | None = Field(None, alias="power", gt=100, le=5e6)  # wanted at its terminals
    cold_c: Temperature = assumed("pack.cold", alias="cold", ge=-40, le=25)
    gap_mm: Length = assumed("pack.gap", alias="gap", ge=0, le=200)
    keep_mm: Length = assumed("pack.keep_room", alias="keep_room", ge=0, le=500)
    terminal_mm: Length = assumed("pack.terminal_room", alias="terminal_room", ge=0, le=300)
    station_mm: Length | None = Field(None, alias="station", ge=-2e4, le=2e4)  # where its centre of gravity is wanted
    side_mm: Length = Field(0.0, alias="side", ge=-5e3, le=5e3)
    junction: str | Spot | None = None  # where both ends of the strings go
    front_end_mm: Length | None = Field(None, alias="front_end", ge=-2e4, le=2e4)  # stations of the car's ends
    rear_end_mm: Length | None = Field(None, alias="rear_end", ge=-2e4, le=2e4)
    front_zone_mm: Length = assumed("pack.front_zone", alias="front_zone", ge=0, le=3000)
    rear_zone_mm: Length = assumed("pack.rear_zone", alias="rear_zone", ge=0, le=3000)
    other_mass: Plain = assumed("pack.other_mass", ge=0, le=3)  # boxes and cables, share of the modules
    vehicle_class: VehicleClass | None = Field(None, alias="class")
    layout: int = Field(1, ge=1, le=50)  # which of the answers is built
    past: Names = ()  # obstacles that modules need not keep clear of
    box: BoxInput | None = None
    bay: dict[str, BayInput] = {}
    keep_out: dict[str, KeepOutInput] = {}
