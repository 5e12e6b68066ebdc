"""What pulls at a unit on its mounts: driveline, axle, mass and numbers in; named load cases with their sources out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.constants import g as gravity_m_s2

from halfshaft.build.catalogue import mount_load
from halfshaft.checks import Assumed, Check, Good, Origin, Severity, Source
from halfshaft.geometry.pose import turn
from halfshaft.mounts.grip import DrivenAxle, Grip, Way, grip

Array = NDArray[np.float64]
Kind = Literal["everyday", "hard", "crash"]
Pull = Literal["forward drive", "reverse drive", "regeneration"]

_NMM = 1000.0
_STILL = (0.0, 0.0, -1.0)
_TORQUE_SOURCE = Source(
    Origin.DERIVED,
    "moments on the closed housing: the wheels' torque comes back whole; the rotor's own inertia is left out",
)


@dataclass(frozen=True, eq=False)
class Case:
    """One load on the unit, root axes: force (3,) and moment (3,) at its centre of mass, weight and inertia in them.

    `field_g` (3,) is what a mass feels, gravity less the acceleration of the car: (0, 0, -1) at rest.
    """

    name: str
    force_n: Array
    moment_nmm: Array
    field_g: Array
    kind: Kind
    source: Source
    words: str = ""


@dataclass(frozen=True, eq=False)
class Driveline:
    """A drive unit whose gears are inside its housing: motor torque over `ratio` to the axle.

    `axis` (3,) runs along the outputs in root axes, the way forward drive turns the wheels: to the left.
    """

    motor_torque_nm: float
    ratio: float
    regeneration_torque_nm: float | None = None  # at the motor; as in drive where it is not told
    reverse_torque_nm: float | None = None
    axis: Array | None = None
    park_lock: bool = False

    def __post_init__(self) -> None:
        named = {
            "motor_torque_nm": self.motor_torque_nm, "ratio": self.ratio,
            "regeneration_torque_nm": self.regeneration, "reverse_torque_nm": self.reverse,
        }  # fmt: skip
        wrong = [f"{n} is {v:g}" for n, v in named.items() if not (np.isfinite(v) and v >= 0.0)]
        if not self.ratio > 0.0:
            wrong.append(f"ratio is {self.ratio:g}")
        if wrong:
            raise ValueError(f"a driveline wants torques of nought or more and a ratio over nought: {', '.join(wrong)}")

    @property
    def regeneration(self) -> float:
        return self.motor_torque_nm if self.regeneration_torque_nm is None else self.regeneration_torque_nm

    @property
    def reverse(self) -> float:
        return self.motor_torque_nm if self.reverse_torque_nm is None else self.reverse_torque_nm

    @property
    def along(self) -> Array:
        """Unit vector (3,) of the output axis. Raises ValueError where it has no length."""
        told = np.array([0.0, 1.0, 0.0]) if self.axis is None else np.asarray(self.axis, dtype=float)
        length = float(np.linalg.norm(told))
        if not length > 0.0:
            raise ValueError("the driveline's axis has no length")
        return told / length


@dataclass(frozen=True, slots=True)
class LoadNumbers:
    """Accelerations in g, friction, shock and efficiency that the cases are made of."""

    bump_g: float
    rebound_g: float
    braking_g: float
    cornering_g: float
    towing_g: float
    lift_tilt_deg: float
    lift_jerk: float
    shock: float
    friction: float
    efficiency: float

    def __post_init__(self) -> None:
        wrong = [
            f.name for f in fields(self) if not (np.isfinite(getattr(self, f.name)) and getattr(self, f.name) >= 0)
        ]
        if wrong:
            raise ValueError(f"nought or more is wanted for: {', '.join(wrong)}")
        if not 0.0 < self.efficiency <= 1.0:
            raise ValueError(f"an efficiency of {self.efficiency:g} is not between 0 and 1")
        if self.shock < 1.0:
            raise ValueError(f"a shock of {self.shock:g} would make the torque less than it is")


_ROWS = {
    "bump_g": "load.bump", "rebound_g": "load.rebound", "braking_g": "load.braking",
    "cornering_g": "load.cornering", "towing_g": "load.towing", "lift_tilt_deg": "load.lift_tilt",
    "lift_jerk": "load.lift_jerk", "shock": "load.shock", "friction": "load.friction", "efficiency": "load.efficiency",
}  # fmt: skip


def load_numbers(**given: float) -> tuple[LoadNumbers, tuple[Assumed, ...]]:
    """Numbers as given, the rest from the catalogue, which are told as assumed.

    Raises TypeError for a name that there is not, ValueError for numbers below nought.
    """
    unknown = sorted(set(given) - set(_ROWS))
    if unknown:
        raise TypeError(f"no load number {', '.join(unknown)}; there are: {', '.join(_ROWS)}")
    rows = {name: mount_load(key) for name, key in _ROWS.items()}
    used = LoadNumbers(**{name: float(given.get(name, row.value)) for name, row in rows.items()})
    assumed = [
        Assumed(f"mounts.{name}", f"{float(row.value):g} {row.unit}".strip(), row.source)
        for name, row in rows.items()
        if name not in given
    ]
    return used, tuple(assumed)


@dataclass(frozen=True, slots=True)
class TorqueLimit:
    """Which of two things bounds the axle torque in one pull: what the motor can twist, or what the tyres hold."""

    pull: Pull
    motor_nm: float  # at the axle, efficiency and shock in
    steady_nm: float  # at the axle without the shock
    grip: Grip
    friction: float  # left for the pull beside what holds the car in its bend
    case: str = ""

    @property
    def torque_nm(self) -> float:
        return min(self.motor_nm, self.grip.torque_nm)

    @property
    def limited_by(self) -> Literal["motor", "tyres"]:
        return "motor" if self.motor_nm <= self.grip.torque_nm else "tyres"

    @property
    def over(self) -> float:
        """The larger of the two over the smaller; infinite where the smaller is nought."""
        low, high = sorted((self.motor_nm, self.grip.torque_nm))
        return high / low if low > 0.0 else np.inf

    @property
    def words(self) -> str:
        what = {"motor": "the motor", "tyres": "the tyres' grip"}
        other = "tyres" if self.limited_by == "motor" else "motor"
        by = f"{self.over:.2f} times that" if np.isfinite(self.over) else "more"
        return (
            f"{self.torque_nm:.0f} N m about the axle in {self.case or self.pull}, bounded by {what[self.limited_by]}; "
            f"{what[other]} would stand for {by}"
        )


def _pull(drive: Driveline, pull: Pull, efficiency: float) -> tuple[float, float, Way]:
    """Steady axle torque in N m without sign, its sign on the wheels about `along`, and how the road pushes the car."""
    if pull == "forward drive":
        return drive.motor_torque_nm * drive.ratio * efficiency, 1.0, "forward"
    if pull == "reverse drive":
        return drive.reverse * drive.ratio * efficiency, -1.0, "backward"
    # the wheels drive the motor: the gears' losses add to what the motor takes
    return drive.regeneration * drive.ratio / efficiency, -1.0, "backward"


def torque_limit(
    drive: Driveline,
    axle: DrivenAxle,
    numbers: LoadNumbers,
    pull: Pull,
    vertical_g: float = 1.0,
    sideways_g: float = 0.0,
    case: str = "",
) -> TorqueLimit:
    """Axle torque in one pull, bounded by motor and tyres.

    The housing's reaction is the whole of it: motor torque x ratio x efficiency, not the motor's own torque.
    In a bend the tyres have `sqrt(mu^2 - (sideways / vertical)^2)` left to pull with, nought where the bend takes all.
    Source: the circle of friction, any textbook of vehicle dynamics, from memory.
    """
    steady, _, way = _pull(drive, pull, numbers.efficiency)
    bend = abs(sideways_g) / vertical_g if vertical_g > 0.0 else 0.0
    left = float(np.sqrt(max(numbers.friction**2 - bend**2, 0.0)))
    return TorqueLimit(pull, steady * numbers.shock, steady, grip(axle, left, way, vertical_g), left, case)


def field_case(
    name: str,
    mass_kg: float,
    field_g: ArrayLike,
    kind: Kind,
    source: Source,
    moment_nmm: ArrayLike = (0.0, 0.0, 0.0),
    force_n: ArrayLike = (0.0, 0.0, 0.0),
    words: str = "",
) -> Case:
    """A case from an acceleration field (3,) in g, with a force (3,) and moment (3,) besides.

    Also for the builder's own cases. Raises ValueError for numbers that are none, or no mass.
    """
    field, moment, more = (np.asarray(v, dtype=float) for v in (field_g, moment_nmm, force_n))
    if not (np.isfinite(mass_kg) and mass_kg > 0.0):
        raise ValueError(f"case '{name}': a unit of {mass_kg:g} kg has no weight to carry")
    for what, vector in (("field", field), ("moment", moment), ("force", more)):
        if vector.shape != (3,) or not np.all(np.isfinite(vector)):
            raise ValueError(f"case '{name}': its {what} wants three numbers, found {vector.tolist()}")
    return Case(name, mass_kg * gravity_m_s2 * field + more, moment, field, kind, source, words)


def pulled_at(
    case: Case, name: str, force_n: ArrayLike, at_mm: ArrayLike, centre_mm: ArrayLike, source: Source
) -> Case:
    """The case with one more force (3,) at a spot (3,), as the pull of a half-shaft that will not slide.

    `centre_mm` (3,) is the unit's centre of mass.
    """
    force = np.asarray(force_n, dtype=float)
    lever = np.asarray(at_mm, dtype=float) - np.asarray(centre_mm, dtype=float)
    return Case(
        name,
        case.force_n + force,
        case.moment_nmm + np.cross(lever, force),
        case.field_g,
        case.kind,
        source,
        case.words,
    )


def drive_case(
    name: str,
    drive: Driveline,
    axle: DrivenAxle,
    mass_kg: float,
    numbers: LoadNumbers,
    pull: Pull,
    kind: Kind = "everyday",
    field_g: ArrayLike = _STILL,
) -> tuple[Case, TorqueLimit]:
    """A pull at the wheels in a field that holds all but the pull's own acceleration, and what bounds its torque.

    The tyres are pressed down by the field's vertical part. The car gains speed by the torque without its shock.
    """
    field = np.asarray(field_g, dtype=float)
    limit = torque_limit(drive, axle, numbers, pull, max(-float(field[2]), 0.0), float(field[1]), name)
    _, sign, way = _pull(drive, pull, numbers.efficiency)
    ahead = 1.0 if way == "forward" else -1.0
    steady_g = limit.steady_nm / (axle.wheel_radius_mm * 1e-3) / (axle.car_mass_kg * gravity_m_s2)
    gained = min(limit.grip.accelerates_g, steady_g) * ahead
    case = field_case(
        name, mass_kg, field + np.array([-gained, 0.0, 0.0]), kind, _TORQUE_SOURCE,
        moment_nmm=-sign * limit.torque_nm * _NMM * drive.along, words=limit.words,
    )  # fmt: skip
    return case, limit


@dataclass(frozen=True, eq=False)
class Cases:
    """The table of load cases, what bounds each pull, and what was assumed for them."""

    cases: tuple[Case, ...]
    limits: tuple[TorqueLimit, ...]
    assumed: tuple[Assumed, ...] = ()

    def named(self, name: str) -> Case:
        """Raises KeyError with the names that there are."""
        for case in self.cases:
            if case.name == name:
                return case
        raise KeyError(f"no load case '{name}'; there are: {', '.join(c.name for c in self.cases)}")


def usual_cases(
    drive: Driveline,
    axle: DrivenAxle,
    mass_kg: float,
    numbers: LoadNumbers,
    own: Sequence[Case] = (),
    assumed: Iterable[Assumed] = (),
) -> Cases:
    """Rest, drive, reverse, regeneration, road, towing and lifting cases, combined ones, then the builder's own.

    Raises ValueError where two cases bear one name.
    """
    n = numbers
    row = {name: mount_load(key).source for name, key in _ROWS.items()}
    cases: list[Case] = [field_case("at rest", mass_kg, _STILL, "everyday", Source(Origin.DERIVED, "weight alone"))]
    limits: list[TorqueLimit] = []
    bumped = (0.0, 0.0, -n.bump_g)
    pulls: tuple[tuple[str, Pull, Kind, tuple[float, float, float]], ...] = (
        ("launch", "forward drive", "everyday", _STILL),
        ("launch in reverse", "reverse drive", "everyday", _STILL),
        ("regeneration", "regeneration", "everyday", _STILL),
        ("launch over a bump", "forward drive", "hard", bumped),
        ("regeneration over a bump", "regeneration", "hard", bumped),
        ("launch out of a left bend", "forward drive", "hard", (0.0, -n.cornering_g, -1.0)),
        ("launch out of a right bend", "forward drive", "hard", (0.0, n.cornering_g, -1.0)),
    )
    for name, pull, kind, field in pulls:
        case, limit = drive_case(name, drive, axle, mass_kg, n, pull, kind, field)
        cases.append(case)
        limits.append(limit)
    if drive.park_lock:
        for name, sign in (("forward", 1.0), ("backward", -1.0)):
            held = grip(axle, n.friction, "backward" if sign > 0.0 else "forward")
            cases.append(
                field_case(
                    f"park lock caught rolling {name}", mass_kg, (sign * held.accelerates_g, 0.0, -1.0), "hard",
                    _TORQUE_SOURCE, moment_nmm=sign * held.torque_nm * _NMM * drive.along,
                    words="the wheels stop at once: what the tyres hold comes onto the housing",
                )
            )  # fmt: skip
    # in a left bend the car is pushed to the left, and what hangs in it leans to the right
    plain: tuple[tuple[str, tuple[float, float, float], Kind, str], ...] = (
        ("bump", bumped, "everyday", "bump_g"),
        ("rebound", (0.0, 0.0, n.rebound_g), "everyday", "rebound_g"),
        ("braking", (n.braking_g, 0.0, -1.0), "everyday", "braking_g"),
        ("braking over a bump", (n.braking_g, 0.0, -n.bump_g), "hard", "braking_g"),
        ("left bend", (0.0, -n.cornering_g, -1.0), "everyday", "cornering_g"),
        ("right bend", (0.0, n.cornering_g, -1.0), "everyday", "cornering_g"),
        ("left bend over a bump", (0.0, -n.cornering_g, -n.bump_g), "hard", "cornering_g"),
        ("right bend over a bump", (0.0, n.cornering_g, -n.bump_g), "hard", "cornering_g"),
        ("towed forward, jerk", (-n.towing_g, 0.0, -1.0), "hard", "towing_g"),
        ("towed backward, jerk", (n.towing_g, 0.0, -1.0), "hard", "towing_g"),
    )
    for name, field, kind, number in plain:
        cases.append(field_case(name, mass_kg, field, kind, row[number]))
    for corner, front, left in (
        ("front left", 1.0, 1.0), ("front right", 1.0, -1.0), ("rear left", -1.0, 1.0), ("rear right", -1.0, -1.0),
    ):  # fmt: skip
        # car axes turn with the car: what hangs in it feels gravity turned the other way
        tilt = np.radians(n.lift_tilt_deg)
        car = turn([0.0, -front * tilt, 0.0]) @ turn([left * tilt, 0.0, 0.0])
        field = tuple(n.lift_jerk * (car.T @ np.array(_STILL)))
        cases.append(field_case(f"lifted by the {corner} corner", mass_kg, field, "hard", row["lift_tilt_deg"]))
    cases.extend(own)
    names = [case.name for case in cases]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ValueError(f"load cases bear one name: {', '.join(twice)}; give each its own")
    return Cases(tuple(cases), tuple(limits), tuple(assumed))


def torque_checks(cases: Cases) -> tuple[Check, ...]:
    """What bounds the torque of each pull, and by how much, as facts to know."""
    out = []
    for limit in cases.limits:
        out.append(
            Check(
                "mounts", limit.case or limit.pull, f"Axle torque: {limit.words}", _TORQUE_SOURCE, Severity.NOTE,
                "Mounts and brackets are worked for this torque; stickier tyres, more car on the axle or a stronger "
                "motor raise it: work them again then.",
                limit.torque_nm, max(limit.motor_nm, limit.grip.torque_nm), "N m", Good.TOLD,
            )
        )  # fmt: skip
        if limit.grip.lifts_other_axle:
            out.append(
                Check(
                    "mounts", limit.case or limit.pull, "The tyres hold enough to lift the other axle",
                    _TORQUE_SOURCE, Severity.CAUTION,
                    "Check the height of the centre of gravity and the wheelbase; bound the motor's torque in its "
                    "controller before the first drive.",
                    failed_outright=True,
                )
            )  # fmt: skip
    return tuple(out)
