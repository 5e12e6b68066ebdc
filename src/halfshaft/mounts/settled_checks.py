"""What mounts say of themselves at rest under loads: settled states in; travel run out, tension, lift-off as checks."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.mounts.bushings import AXES
from halfshaft.mounts.loads import Case
from halfshaft.mounts.statics import MountState, Settled

_TRAVEL = Source(Origin.BUILDER, "travel of the mount")
_PAD = Source(
    Origin.COMMON_PRACTICE, "bonded rubber lasts in compression and shear, not in tension; no published source"
)
_BALANCE = Source(Origin.DERIVED, "balance of forces and moments in the turned state")
_SAFE = (
    "What holds a drive unit or a battery is a safety part: have it judged by a licensed engineer or certifier under "
    "the rules of the place before the car is driven."
)


def mount_checks(cases: Sequence[Case], states: Sequence[Settled]) -> tuple[Check, ...]:
    """Of each mount its worst travel over all cases that are no crash, its tension, and whether the unit leaves it.

    In a crash a mount may run out of travel, since it need not serve again; that is told as a note.
    Raises ValueError where cases and states do not belong together.
    """
    if len(cases) != len(states) or any(c.name != s.name for c, s in zip(cases, states, strict=True)):
        raise ValueError("each case wants its own settled state, in the same order")
    if not states:
        return ()
    out: list[Check] = []
    for at, mount in enumerate(states[0].mounts):
        served = [(s, s.mounts[at]) for c, s in zip(cases, states, strict=True) if c.kind != "crash"]
        crashed = [(s, s.mounts[at]) for c, s in zip(cases, states, strict=True) if c.kind == "crash"]
        out.extend(_travel(mount.name, served, Severity.STOP))
        out.extend(_travel(mount.name, crashed, Severity.NOTE))
        pulled = [(s, m) for s, m in served if m.in_tension]
        if pulled:
            state, worst = max(pulled, key=lambda pair: float(pair[1].own_force_n[0]))
            out.append(
                Check(
                    "mounts", f"mount {mount.name}", f"The pad's rubber is pulled, most under '{state.name}'", _PAD,
                    Severity.CAUTION,
                    f"Turn the pad over, set the mounts wider, or bolt through it with a second pad below. {_SAFE}",
                    float(worst.own_force_n[0]), 0.0, "N", Good.AT_MOST,
                )
            )  # fmt: skip
        left = [s.name for s, m in served if m.let_go]
        if left:
            out.append(
                Check(
                    "mounts", f"mount {mount.name}", f"The unit leaves the mount under {_listed(left)}", _BALANCE,
                    Severity.STOP,
                    f"A mount that only rests on its seat needs a bolt or a strap that holds it down. {_SAFE}",
                    failed_outright=True,
                )
            )  # fmt: skip
    return tuple(out)


def _travel(name: str, states: Sequence[tuple[Settled, MountState]], severity: Severity) -> list[Check]:
    if not states:
        return []
    used = np.array([mount.used for _, mount in states])
    at, axis = (int(i) for i in np.unravel_index(int(np.argmax(used)), used.shape))
    if used[at, axis] <= 0.0:
        return []
    return [
        Check(
            "mounts", f"mount {name}", f"Travel used, {AXES[axis]}, most under '{states[at][0].name}'", _TRAVEL,
            severity,
            f"Take a stiffer mount or a snubber that comes in sooner, or set the mounts wider apart. {_SAFE}",
            100.0 * float(used[at, axis]), 100.0, "%", Good.AT_MOST,
        )
    ]  # fmt: skip


def _listed(names: Sequence[str]) -> str:
    return ", ".join(f"'{name}'" for name in names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
