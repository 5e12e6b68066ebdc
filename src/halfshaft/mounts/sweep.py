"""The unit under a pull that grows, from the hardest backward to the hardest forward: cases in, forces out."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from halfshaft.geometry import Pose
from halfshaft.mounts.bulk import Body
from halfshaft.mounts.bushings import Rubber
from halfshaft.mounts.loads import Case, Cases
from halfshaft.mounts.statics import settle_cases

Array = NDArray[np.float64]

STEPS = 12  # each way
FORWARD, BACKWARD, REST = "launch", "launch in reverse", "at rest"


@dataclass(frozen=True, eq=False)
class Sweep:
    """Torque (k,) about the axle in Nm, backward below nought; what each of m mounts is loaded with, (k, m, 3) in N,
    root axes, and where the unit stands, k poses that carry root spots of the drawn place."""

    torque_nm: Array
    force_n: Array
    poses: tuple[Pose, ...]


def swept(rubber: Rubber, unit: Body, cases: Cases) -> Sweep:
    """From the hardest launch in reverse to the hardest forward, at their share of thrust and weight shift.

    Raises ValueError where the unit is not held, KeyError where a case is missing.
    """
    rest, forward, backward = (cases.named(name) for name in (REST, FORWARD, BACKWARD))
    shares = np.arange(STEPS + 1) / STEPS
    loads = [_between(rest, backward, share) for share in shares[:0:-1]]
    loads += [_between(rest, forward, share) for share in shares]
    states = settle_cases(rubber, unit, loads)
    torque = [-_torque_nm(backward) * share for share in shares[:0:-1]] + [_torque_nm(forward) * s for s in shares]
    force = np.array([[mount.force_n for mount in state.mounts] for state in states])
    return Sweep(np.array(torque), force, tuple(state.pose for state in states))


def _between(rest: Case, case: Case, share: float) -> Case:
    return replace(
        case,
        name=f"{share:.0%} of {case.name}",
        force_n=rest.force_n + share * (case.force_n - rest.force_n),
        moment_nmm=rest.moment_nmm + share * (case.moment_nmm - rest.moment_nmm),
    )


def _torque_nm(case: Case) -> float:
    return float(np.linalg.norm(case.moment_nmm)) / 1000.0
