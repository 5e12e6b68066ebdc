"""What the mounts station worked out: load cases, forces, motion, modes, and each mount with its joints; frozen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from halfshaft.checks import Assumed, Check, Good, Severity
from halfshaft.mounts.bulk import Body
from halfshaft.mounts.bushings import Bushing
from halfshaft.mounts.loads import Cases
from halfshaft.mounts.modes import Modes
from halfshaft.mounts.motion import Motion
from halfshaft.mounts.seat import Seat
from halfshaft.mounts.shake import Band
from halfshaft.mounts.statics import Settled
from halfshaft.mounts.stiffness_choice import StiffnessChoice
from halfshaft.mounts.sweep import Sweep
from halfshaft.mounts.verdict import CARE
from halfshaft.mounts.weld_group import WeldLine

if TYPE_CHECKING:
    # its finite elements take a second to load
    from halfshaft.mounts.bracket_stress import BracketStress
    from halfshaft.mounts.frame_change import FrameChange
    from halfshaft.mounts.resize import Resized

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class JointForces:
    """What one joint carries: over the cases worked in full, by name, force (k, 3) and moment (k, 3) on its part.

    Root axes; the moment is about the mount's centre. `pull_n` (k, n) and `shear_n` (k, n) of each bolt.
    """

    seat: Seat
    cases: tuple[str, ...]
    force_n: Array
    moment_nmm: Array
    pull_n: Array
    shear_n: Array


@dataclass(frozen=True, eq=False)
class Mount:
    """One mount: what it puts on the frame in each case of the table, (c, 3) root axes, at its drawn centre."""

    name: str
    bracket: str  # empty where no folded bracket carries it
    bushing: Bushing
    force_n: Array
    moment_nmm: Array
    joints: tuple[JointForces, ...]
    welds: tuple[WeldLine, ...]
    checks: tuple[Check, ...]  # worst first
    unit_loads: Mapping[str, tuple[Array, Array]]  # force and moment (3,) at rest and in each unit case of the duty
    stress: BracketStress | None = None  # of its bracket; None until it is worked, which takes longer

    @property
    def weakest(self) -> Check | None:
        """What gives way first: the judgement on strength with the largest share of its limit used."""
        return max((c for c in self.checks if use_of(c) is not None), key=lambda c: use_of(c) or 0.0, default=None)

    @property
    def change(self) -> str:
        """What to change about it, in a sentence; empty where nothing fails."""
        worst = self.weakest
        failed = [c for c in self.checks if not c.ok]
        if worst is not None and not worst.ok:
            failed = [worst]
        return failed[0].do.removesuffix(CARE).strip() if failed else ""


_STRENGTH = ("N", "MPa", "%", "")  # lengths and torques are set by hand, they do not give way


def use_of(check: Check) -> float | None:
    """Share of a limit used, 1 at the limit, of a judgement that can stop the work; None of any other."""
    if check.severity is not Severity.STOP or check.unit not in _STRENGTH:
        return None
    if check.failed_outright:
        return np.inf
    if check.good is not Good.AT_MOST or check.found is None or not check.limit:
        return None
    if check.title.startswith("fatigue"):
        # damage grows with the third power of stress: told as stress, so that it compares with strength
        return float(np.cbrt(check.found / check.limit))
    return check.found / check.limit


@dataclass(frozen=True, eq=False)
class Closest:
    """The least room of the unit as it moves: which piece, to what, in which case, beside what was asked for."""

    piece: str
    thing: str
    case: str
    distance_mm: float
    at_rest_mm: float  # the same pair's, as drawn
    asked_mm: float


@dataclass(frozen=True, eq=False)
class Mounts:
    """The station's result. Where the unit is not held, or something is missing, all but `cases` and checks is empty.

    `states` are in the order of `cases.cases`; `closest`, room as it moves, and
    `members`, what windows leave of the frame, stay None until they are worked, which takes longer.
    """

    cases: Cases | None
    body: Body | None
    mounts: tuple[Mount, ...]
    states: tuple[Settled, ...]
    modes: Modes | None
    motion: Motion | None
    checks: tuple[Check, ...]  # of all, those of single mounts in short
    assumed: tuple[Assumed, ...]
    closest: tuple[Closest, ...] | None = None
    members: tuple[FrameChange, ...] | None = None
    sweep: Sweep | None = None
    choice: StiffnessChoice | None = None  # all mounts softer and stiffer
    bands: tuple[Band, ...] = ()  # what shakes the unit
    thinnest: tuple[Resized, ...] | None = None  # stock sheet in which each bracket still holds, where asked

    @property
    def held(self) -> bool:
        return bool(self.states)

    def mount(self, name: str) -> Mount:
        """Raises KeyError with the names that there are."""
        for mount in self.mounts:
            if mount.name == name:
                return mount
        raise KeyError(f"no mount '{name}'; there are: {', '.join(m.name for m in self.mounts)}")

    @property
    def seats(self) -> tuple[tuple[str, Seat], ...]:
        """Every bolted joint, with the name of its mount."""
        return tuple((mount.name, joint.seat) for mount in self.mounts for joint in mount.joints)

    @property
    def by_name(self) -> Mapping[str, Mount]:
        return {mount.name: mount for mount in self.mounts}
