"""What the road station gives back: frozen results as plain numbers and small arrays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from halfshaft.checks import Assumed, Check
from halfshaft.road.band import Band
from halfshaft.road.charge import Charging
from halfshaft.road.climb import Climb
from halfshaft.road.coastdown import CoastDown
from halfshaft.road.curves import Curve
from halfshaft.road.inputs import Inputs

Array = NDArray[np.float64]
Kind = Literal["cycle", "steady", "way"]

# where the energy of a drive goes, in the order it is told
PARTS: Mapping[str, str] = {
    "rolling": "tyres and driveline", "air": "air", "slope": "height", "brakes": "friction brakes", "gear": "gear",
    "motor": "motor and inverter", "aux": "lamps, pumps, cabin", "pack": "heat in the pack",
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Drive:
    """One cycle, steady speed or recorded way: use, range with its band, and where the energy goes."""

    name: str
    kind: Kind
    distance_m: float
    seconds: float
    mean_m_s: float
    wh_m: float  # at the pack, cabin and what warms it included
    wall_wh_m: float  # from the wall
    range_m: float
    band: Band | None
    parts_wh_m: Mapping[str, float]  # keys of PARTS, of one drive at half charge
    back_wh_m: float  # taken up while braking
    most_pull_w: float
    motor_short_s: float
    pack_short_s: float
    up_m: float = 0.0
    down_m: float = 0.0


@dataclass(frozen=True, eq=False)
class Pull:
    """What the car can pull; times in s, speeds in m/s, slopes as rise over run; infinite where never."""

    hundred_s: float
    sixty_s: float
    quarter_s: float
    quarter_m_s: float
    top_m_s: float
    top_by_speed: bool
    slips_to_m_s: float
    most_g: float
    start_grade: float
    start_grade_dry_motor: float  # by the motor alone, tyres aside
    hold_80_grade: float
    hold_100_grade: float
    lasting_power_w: float
    lasting_hold_80_grade: float  # with the power that lasts
    low_hundred_s: float  # at a tenth of the charge
    cold_hundred_s: float  # at -10 C


@dataclass(frozen=True, eq=False)
class Plug:
    """Charging at one socket or station."""

    name: str
    kind: Literal["socket", "station"]
    run: Charging
    wall_w: float  # highest
    ten_eighty_s: float
    ten_full_s: float
    ten_minutes_m: float  # way gained in the first ten minutes from 10 %, at the first cycle's range
    each_ten_m: Array  # and in those after them until it ends, two hours at most
    drawn_10_80_wh: float
    cold: Charging | None  # the same at -10 C of the pack, where it charges at all


@dataclass(frozen=True, eq=False)
class Weather:
    """Range against temperature (k,) and steady speed (j,): m, arrays (k, j); and of the first cycle (k,)."""

    temperature_c: Array
    speed_m_s: Array
    range_m: Array
    cycle: str
    cycle_range_m: Array
    cycle_no_cabin_m: Array  # with the cabin's heat and cold switched off


@dataclass(frozen=True, eq=False)
class Road:
    """Everything the road says of one car."""

    inputs: Inputs
    rolling: float
    drag_area_m2: float
    coast: CoastDown | None
    drives: tuple[Drive, ...]
    pull: Pull
    weather: Weather | None
    climb: Climb
    climb_lasting_m_s: float  # speed that the climb's slope is held at for ever
    plugs: tuple[Plug, ...]
    checks: tuple[Check, ...]
    assumed: tuple[Assumed, ...]
    over_speed: Curve | None = None  # steady, on the flat, on the day told
    over_temperature: Curve | None = None  # of the weather's cycle, the pack as cold as the day
