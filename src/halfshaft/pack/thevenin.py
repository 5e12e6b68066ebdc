"""One cell under a current: R0, one resistance with a capacitor, its own warmth and that of what holds it.

A current in steps in; charge, volts and temperatures at asked times out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.integrate import solve_ivp

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Branch:
    """A cell as R0 and one R1 beside C1 in row; charge in Ah."""

    charge_ah: float
    r0_ohm: float
    r1_ohm: float
    c1_f: float


@dataclass(frozen=True, slots=True)
class Warmth:
    """Heat that cell and jig take a kelvin, J/K; flow between them and from the jig to the air, W/K."""

    cell_j_k: float
    jig_j_k: float
    cell_jig_w_k: float
    jig_air_w_k: float
    air_c: float = 25.0


@dataclass(frozen=True, eq=False, slots=True)
class Discharge:
    """Arrays (n,) at the times asked."""

    time_s: Array
    charge: Array
    open_v: Array
    terminal_v: Array
    cell_c: Array
    jig_c: Array


def discharge(
    branch: Branch,
    open_v: Callable[[Array], Array],
    current_a: float | Callable[[float], float],
    time_s: ArrayLike,
    *,
    charge: float = 1.0,
    warmth: Warmth | None = None,
    start_c: float | None = None,
) -> Discharge:
    """Charge, volts and temperatures at times (n,) that rise from nought; current above nought empties.

    dz/dt = -I/Q, dU1/dt = I/C1 - U1/(R1 C1), U = open(z) - I R0 - U1; heat I (open - U) flows to the jig, then air.
    Raises ValueError where times do not rise from nought, or a part of the branch is not above nought.
    Source: Plett, Battery Management Systems vol. 1, ch. 2 (from memory); heat as Bernardi et al.,
    J. Electrochem. Soc. 132 (1985) 5, without the entropic part (from memory).
    """
    at = np.asarray(time_s, dtype=float)
    if at.ndim != 1 or at[0] < 0.0 or np.any(np.diff(at) <= 0.0):
        raise ValueError("times must rise from nought")
    if min(branch.charge_ah, branch.r1_ohm, branch.c1_f) <= 0.0 or branch.r0_ohm < 0.0:
        raise ValueError("charge, R1 and C1 of a cell must be above nought, and R0 not below")
    air = warmth.air_c if warmth is not None else 25.0
    begin = air if start_c is None else start_c

    def amps(t: float) -> float:
        return current_a(t) if callable(current_a) else current_a

    def slope(t: float, state: Array) -> list[float]:
        i, u1, cell, jig = amps(t), state[1], state[2], state[3]
        heat = i * (i * branch.r0_ohm + u1)
        into_cell = into_jig = 0.0
        if warmth is not None:
            over = warmth.cell_jig_w_k * (cell - jig)
            into_cell = (heat - over) / warmth.cell_j_k
            into_jig = (over - warmth.jig_air_w_k * (jig - warmth.air_c)) / warmth.jig_j_k
        return [
            -i / (3600.0 * branch.charge_ah),
            i / branch.c1_f - u1 / (branch.r1_ohm * branch.c1_f),
            into_cell,
            into_jig,
        ]

    tau = branch.r1_ohm * branch.c1_f
    done = solve_ivp(
        slope, (0.0, max(float(at[-1]), 1e-9)), [charge, 0.0, begin, begin], t_eval=at, method="LSODA",
        rtol=1e-9, atol=1e-10, max_step=max(tau, 1.0),
    )  # fmt: skip
    z, u1, cell, jig = done.y
    volts = np.asarray(open_v(z), dtype=float)
    current = np.array([amps(float(t)) for t in at])
    return Discharge(at, z, volts, volts - current * branch.r0_ohm - u1, cell, jig)
