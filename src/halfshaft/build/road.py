"""What a builder can write of the car on the road, where it is driven and where it is charged, as frozen values."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from halfshaft.build import moving_units as read
from halfshaft.build.value import Length, Mass, Torque, Value, assumed


def _read_by(parse: Any) -> BeforeValidator:
    def of(value: Any, info: Any) -> Any:
        return parse(value, (info.context or {}).get("units", "metric"))

    return BeforeValidator(of)


Speed = Annotated[float, _read_by(read.read_speed_kmh)]
Power = Annotated[float, _read_by(read.read_power_w)]
Energy = Annotated[float, _read_by(read.read_energy_wh)]
Area = Annotated[float, _read_by(read.read_area_m2)]
Way = Annotated[float, _read_by(read.read_way_m)]
Temperature = Annotated[float, _read_by(read.read_temperature_c)]
Volts = Annotated[float, _read_by(read.read_volts_v)]
Amps = Annotated[float, _read_by(read.read_current_a)]
Ohms = Annotated[float, _read_by(read.read_resistance_ohm)]
Turns = Annotated[float, _read_by(read.read_turns_rpm)]
Change = Annotated[float, _read_by(read.read_change_m_s2)]
LoadA = Annotated[float, _read_by(read.read_load_a_n)]
LoadB = Annotated[float, _read_by(read.read_load_b_n_s_m)]
LoadC = Annotated[float, _read_by(read.read_load_c_n_s2_m2)]
Plain = Annotated[float, Field(allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]


class CoefficientsInput(Value):
    """Road load a + b v + c v² from a report, at a test mass."""

    a_n: LoadA = Field(alias="a", ge=0, le=1e5)
    b_n_s_m: LoadB = Field(0.0, alias="b", ge=-1e3, le=1e4)
    c_n_s2_m2: LoadC = Field(alias="c", ge=0, le=1e3)
    mass_kg: Mass = Field(alias="mass", gt=50, le=1e5)


class CoastRun(Value):
    """Seconds from one speed down to another in neutral, one way and back over the same road."""

    from_kmh: Speed = Field(alias="from", gt=0, le=300)
    to_kmh: Speed = Field(alias="to", ge=0, le=300)
    there_s: Plain = Field(alias="there", gt=0.2, le=3600)
    back_s: Plain | None = Field(None, alias="back", gt=0.2, le=3600)


class CoastDownInput(Value):
    """The shop's own coast-down: the mass it was done at, and the day."""

    mass_kg: Mass = Field(alias="mass", gt=50, le=1e5)
    runs: tuple[CoastRun, ...]
    temperature_c: Temperature = assumed("coast_down.temperature", alias="temperature", ge=-40, le=60)
    altitude_m: Way = Field(0.0, alias="altitude", ge=-500, le=6000)
    spread_s: Plain = assumed("coast_down.spread", alias="spread", gt=0, le=60)


class MotorInput(Value):
    """A motor with its inverter: flat torque, then flat power. Losses from a map, from four numbers, or usual ones."""

    torque_nm: Torque = Field(alias="torque", gt=1, le=1e5)
    power_w: Power = Field(alias="power", gt=100, le=5e6)
    lasting_power_w: Power | None = Field(None, alias="lasting_power", gt=100, le=5e6)  # half an hour and more
    most_rpm: Turns = Field(alias="most_turns", gt=100, le=1e5)
    map: str | None = None  # CSV beside build.toml: rpm, Nm, efficiency
    copper: Plain | None = Field(None, ge=0, le=1e3)  # W/Nm²
    iron: Plain | None = Field(None, ge=0, le=1e3)  # W/(rad/s)
    windage: Plain | None = Field(None, ge=0, le=1)  # W/(rad/s)³
    fixed_w: Power | None = Field(None, alias="fixed", ge=0, le=1e5)
    mass_kg: Mass | None = Field(None, alias="mass", gt=1, le=5e3)  # what warms up
    coolant_c: Temperature = assumed("motor.coolant", alias="coolant", ge=0, le=120)
    holds_back_c: Temperature = assumed("motor.holds_back", alias="holds_back", ge=40, le=220)
    most_c: Temperature = assumed("motor.most", alias="most", ge=50, le=240)


class GearInput(Value):
    """From the motor to the road."""

    ratio: Plain = Field(gt=0.1, le=100)  # overall, final drive in it
    efficiency: Plain = assumed("gear.efficiency", gt=0.3, le=1)
    drag_nm: Torque = assumed("gear.drag", alias="drag", ge=0, le=1e3)  # at the motor


class PackInput(Value):
    """The pack as far as the road needs it; the window that is used is full to empty. Where [pack] tells the modules,
    energy, volts and limits come from them."""

    energy_wh: Energy | None = Field(None, alias="energy", gt=100, le=1e6)  # usable
    volts_v: Volts | None = Field(None, alias="volts", gt=10, le=2000)  # usual, mean over the window
    full_v: Volts | None = Field(None, alias="full_volts", gt=10, le=2500)
    curve: str = "nmc"  # a row of catalogue/pack_curves.toml
    resistance_ohm: Ohms | None = Field(None, alias="resistance", ge=0, le=50)
    discharge_w: Power | None = Field(None, alias="discharge_power", gt=100, le=5e6)
    charge_w: Power | None = Field(None, alias="brake_power", ge=0, le=5e6)
    charge_a: Amps | None = Field(None, alias="charge_current", gt=0.1, le=5e3)
    fast: tuple[tuple[Share, Power], ...] = ()  # charge and the most power it takes there
    mass_kg: Mass | None = Field(None, alias="mass", gt=1, le=2e4)  # of the cells: what warms up
    cooling_w_k: Plain = assumed("pack.cooling", alias="cooling", ge=0, le=1e4)


class BrakingInput(Value):
    """What the motor brakes."""

    share: Plain = assumed("braking.share", ge=0, le=1)
    most_m_s2: Change = assumed("braking.most", alias="most", ge=0, le=10)
    fades_kmh: Speed = assumed("braking.fades", alias="fades", ge=0, le=60)
    ends_kmh: Speed = assumed("braking.ends", alias="ends", ge=0, le=60)


class CabinInput(Value):
    """Heat and cold of the cabin."""

    wanted_c: Temperature = assumed("cabin.wanted", alias="wanted", ge=0, le=35)
    loss_w_k: Plain = assumed("cabin.loss", alias="loss", ge=0, le=1e3)  # through roof, glass and floor
    fresh_m3_s: Plain = assumed("cabin.fresh", alias="fresh_air", ge=0, le=1)
    heater: Literal["resistance", "heat pump", "none"] = "resistance"
    heater_w: Power = assumed("cabin.heater", alias="heater_power", ge=0, le=3e4)
    cooler_w: Power = assumed("cabin.cooler", alias="cooler_power", ge=0, le=3e4)
    sun_w: Power = assumed("cabin.sun", alias="sun", ge=0, le=5e3)
    warms_j_k: Plain = assumed("cabin.warms", alias="warms", ge=0, le=1e7)


class ChargerInput(Value):
    """The charger in the car."""

    power_w: Power = Field(alias="power", gt=100, le=2e5)  # from the wall
    current_a: Amps = assumed("charger.current", alias="current", gt=1, le=500)  # a phase
    phases: Literal[1, 3] = 1
    efficiency: Plain = assumed("charger.efficiency", gt=0.3, le=1)


class CarInput(Value):
    """The finished car as far as the road feels it."""

    mass_kg: Mass | None = Field(None, alias="mass", gt=50, le=1e5)  # ready to drive, nobody in it; else of [weights]
    load_kg: Mass = assumed("car.load", alias="load", ge=0, le=5e4)  # people and goods
    drag_area_m2: Area | None = Field(None, alias="drag_area", gt=0.05, le=50)
    drag: Plain | None = Field(None, gt=0.05, le=3)
    frontal_area_m2: Area | None = Field(None, alias="frontal_area", gt=0.1, le=50)
    shape: str | None = None  # a row of catalogue/shapes.toml, for the drag
    width_mm: Length | None = Field(None, alias="width", gt=300, le=5000)
    height_mm: Length | None = Field(None, alias="height", gt=300, le=6000)
    tyre_kind: str = "radial"  # a row of catalogue/rolling.toml
    rolling: Plain | None = Field(None, gt=0.001, le=0.2)
    tyre: str | None = None  # '165/80R15'
    wheel_radius_mm: Length | None = Field(None, alias="wheel_radius", gt=50, le=2000)  # as it rolls
    rotating: Plain = assumed("car.rotating", ge=0, le=1)
    wheelbase_mm: Length = assumed("car.wheelbase", alias="wheelbase", gt=500, le=10000)
    centre_height_mm: Length = assumed("car.centre_height", alias="centre_height", gt=50, le=4000)
    front_share: Plain = assumed("car.front_share", gt=0.05, lt=0.95)
    driven: Literal["front", "rear", "all"] = "rear"
    grip: Plain = assumed("car.grip", gt=0.05, le=2)
    aux_w: Power = assumed("car.aux", alias="aux", ge=0, le=2e4)  # lamps, pumps, converter
    coefficients: CoefficientsInput | None = None
    coast_down: CoastDownInput | None = None
    motor: MotorInput
    gear: GearInput
    pack: PackInput = Field(default_factory=PackInput)
    braking: BrakingInput = Field(default_factory=BrakingInput)
    cabin: CabinInput = Field(default_factory=CabinInput)
    charger: ChargerInput | None = None


class RouteInput(Value):
    """A recorded way, as a GPX file beside build.toml."""

    file: str
    speed_kmh: Speed = Field(alias="speed", gt=1, le=250)
    stops_per_km: Plain = Field(0.0, ge=0, le=20)
    wind_kmh: Speed = Field(0.0, alias="wind", ge=0, le=150)
    wind_from_deg: Plain = Field(0.0, alias="wind_from", ge=-360, le=360)  # 0 is from the north, 90 from the east
    back: bool = False  # there and back


class ClimbInput(Value):
    """A long climb."""

    grade: Plain = assumed("climb.grade", ge=0, le=50)  # per cent
    length_m: Way = assumed("climb.length", alias="length", gt=10, le=2e5)
    speed_kmh: Speed = assumed("climb.speed", alias="speed", gt=1, le=250)
    temperature_c: Temperature = assumed("climb.temperature", alias="temperature", ge=-40, le=60)


class SocketInput(Value):
    """An outlet at home or on the way."""

    volts_v: Volts = Field(alias="volts", gt=50, le=1000)  # between lines for three phases
    breaker_a: Amps = Field(alias="breaker", gt=1, le=1000)
    phases: Literal[1, 3] = 1


class StationInput(Value):
    """A fast charger."""

    power_w: Power = Field(alias="power", gt=1000, le=5e6)
    current_a: Amps = Field(alias="current", gt=1, le=5e3)
    volts_v: Volts = Field(alias="volts", gt=50, le=2000)


class SpreadInput(Value):
    """How well the numbers are known: one standard deviation, as a share unless told."""

    mass: Plain = assumed("spread.mass", ge=0, le=0.5)
    tyres: Plain = assumed("spread.tyres", ge=0, le=0.5)
    drag: Plain = assumed("spread.drag", ge=0, le=0.5)
    motor_losses: Plain = assumed("spread.motor_losses", ge=0, le=0.5)
    energy: Plain = assumed("spread.energy", ge=0, le=0.5)
    resistance: Plain = assumed("spread.resistance", ge=0, le=0.5)
    aux: Plain = assumed("spread.aux", ge=0, le=0.5)
    cabin: Plain = assumed("spread.cabin", ge=0, le=0.5)
    braking: Plain = assumed("spread.braking", ge=0, le=0.5)
    temperature_k: Plain = assumed("spread.temperature", alias="temperature", ge=0, le=20)
    wind_kmh: Speed = assumed("spread.wind", alias="wind", ge=0, le=60)


class RoadInput(Value):
    """Where and when it is driven and charged, and what is hoped for."""

    cycles: tuple[str, ...] = ("wltc",)  # of the catalogue, or CSV files beside build.toml
    speeds_kmh: tuple[Speed, ...] = Field((50.0, 80.0, 100.0, 120.0), alias="speeds", max_length=20)
    temperature_c: Temperature = assumed("road.temperature", alias="temperature", ge=-40, le=55)
    pack_temperature_c: Temperature | None = Field(None, alias="pack_temperature", ge=-40, le=60)
    altitude_m: Way = Field(0.0, alias="altitude", ge=-500, le=5000)
    headwind_kmh: Speed = Field(0.0, alias="headwind", ge=-150, le=150)
    wanted_range_m: Way | None = Field(None, alias="wanted_range", gt=0, le=5e6)
    wanted_speed_kmh: Speed | None = Field(None, alias="wanted_speed", gt=0, le=400)
    route: dict[str, RouteInput] = {}
    climb: ClimbInput = Field(default_factory=ClimbInput)
    socket: dict[str, SocketInput] = {}
    station: dict[str, StationInput] = {}
    spread: SpreadInput = Field(default_factory=SpreadInput)
