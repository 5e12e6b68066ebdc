"""What the weights station worked out: the car before, empty and laden, springs, brakes, moves and checks; frozen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.checks import Assumed, Check
from halfshaft.weights.brakes import Braked, End, Lock, Split
from halfshaft.weights.moments import Moments, Stance
from halfshaft.weights.moves import Move
from halfshaft.weights.reconcile import Reconciled

Array = NDArray[np.float64]
CORNERS = ("front left", "front right", "rear left", "rear right")


@dataclass(frozen=True, eq=False)
class Line:
    """A row of the ledger. `table` is 'out', 'in' or 'load'; place (3,) in root axes."""

    table: str
    name: str
    mass_kg: float
    spread_kg: float
    at_mm: Array
    place: str  # a name of [weights.place], or empty
    sprung: bool
    what: str
    moments: Moments


@dataclass(frozen=True, eq=False)
class State:
    """The car in one state of load. Heights over the ground; the centre of gravity in root axes."""

    name: str  # 'before', 'empty', 'laden'
    moments: Moments
    stance: Stance
    centre_mm: Array  # (3,)
    centre_covariance_mm2: Array  # (3, 3)
    axles_kg: Array  # (2,) front, rear
    axle_spread_kg: Array  # (2,)
    corners_kg: Array  # (4,) as CORNERS
    corner_spread_kg: Array  # (4,)
    stability: float
    stability_spread: float

    @property
    def mass_kg(self) -> float:
        return self.moments.mass_kg

    @property
    def mass_spread_kg(self) -> float:
        return self.moments.mass_spread_kg

    @property
    def front_share(self) -> float:
        return float(self.axles_kg[0]) / self.mass_kg

    @property
    def front_share_spread(self) -> float:
        return float(np.sqrt(max(self.centre_covariance_mm2[0, 0], 0.0))) / self.stance.wheelbase_mm

    @property
    def height_mm(self) -> float:
        return float(self.centre_mm[2]) - self.stance.ground_mm

    @property
    def height_spread_mm(self) -> float:
        return float(np.sqrt(max(self.centre_covariance_mm2[2, 2], 0.0)))

    @property
    def cross_share(self) -> float:
        """Share of the weight on front left and rear right."""
        return float(self.corners_kg[0] + self.corners_kg[3]) / self.mass_kg

    @property
    def braked(self) -> Braked:
        return Braked(self.front_share, self.height_mm / self.stance.wheelbase_mm)


@dataclass(frozen=True, slots=True)
class AxleSprings:
    """One axle's springs under the new weight; masses and rates of one wheel. None where no before is told."""

    end: End
    rate_n_mm: float
    wheel_rate_n_mm: float
    sprung_kg: float
    hz: float
    hz_laden: float | None
    damping: float | None
    sprung_before_kg: float | None = None
    hz_before: float | None = None
    damping_before: float | None = None
    drop_mm: float | None = None  # the body sinks so far; negative where it rises
    drop_spread_mm: float | None = None
    spacer_mm: float | None = None  # over the spring: less where it is negative
    new_rate_n_mm: float | None = None  # as long as the old spring, at the old height
    hz_new: float | None = None
    damper_kept: float | None = None  # factor on the damper with the old springs
    damper_new: float | None = None  # and with new ones
    words: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Braking:
    """Brake balance in one state. Curves over `z_g` (n,): friction that each axle asks for, ideal front share."""

    state: str
    regeneration: bool  # false as well: a full pack takes none
    split: Split
    dry: Lock
    slippery: Lock
    balanced_g: tuple[float, ...]  # where both axles ask for the same
    rear_first_g: float | None  # least deceleration in the band of the rule at which the rear asks for more
    z_g: Array
    front_used: Array
    rear_used: Array
    ideal_front: Array


@dataclass(frozen=True, slots=True)
class Parked:
    """The park brake on its slope, in the heaviest state told."""

    state: str
    axle: str
    slope_deg: float
    force_n: float
    torque_nm: float  # at the wheels, of all that are braked
    friction_uphill: float
    friction_downhill: float
    steepest_deg: float  # on which the tyres hold, the worse way round


@dataclass(frozen=True, eq=False)
class Weights:
    """The station's result. `empty` is the finished car with nobody in it; None where it cannot be worked."""

    stance: Stance | None
    ledger: tuple[Line, ...]
    before: State | None
    empty: State | None
    laden: State | None
    agreed: Reconciled | None  # ledger against scales, where both are told
    springs: tuple[AxleSprings, ...]
    braking: tuple[Braking, ...]
    parked: Parked | None
    moves: tuple[Move, ...]
    wanted_front: float | None
    checks: tuple[Check, ...]
    assumed: tuple[Assumed, ...]

    @property
    def states(self) -> tuple[State, ...]:
        return tuple(state for state in (self.before, self.empty, self.laden) if state is not None)

    @property
    def heaviest(self) -> State | None:
        return self.laden or self.empty
