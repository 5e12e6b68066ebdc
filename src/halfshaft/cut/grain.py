"""How a folded part may be turned on a sheet with a rolling direction. Flat part in, allowed turns out.

A fold cracks least where its line crosses the rolling direction, and most where it runs along it. The turns are told
for a rolling direction along x; a part without folds may lie any way.
"""

from __future__ import annotations

import numpy as np

from halfshaft.build.catalogue import default
from halfshaft.fold.model import FlatPart

_STEP_DEG = 15.0
_FINE_DEG = 0.5


def fold_directions_deg(part: FlatPart) -> tuple[float, ...]:
    """Direction of every fold line from x, 0 to 180, each once."""
    found: list[float] = []
    for line in part.fold_lines_mm.values():
        way = np.asarray(line, dtype=float)[1] - np.asarray(line, dtype=float)[0]
        found.append(round(float(np.degrees(np.arctan2(way[1], way[0]))) % 180.0, 6) % 180.0)
    return tuple(sorted(set(found)))


def across_deg(directions_deg: tuple[float, ...], turn_deg: float) -> float:
    """Least angle between any fold line and the rolling direction along x once the part is turned: 90 is across."""
    turned = (np.asarray(directions_deg, dtype=float) + turn_deg + 90.0) % 180.0 - 90.0
    return float(np.min(np.abs(turned)))


def allowed_turns(part: FlatPart) -> tuple[float, ...] | None:
    """Turns in degrees, 0 to 360, for a rolling direction along x; None for a part without folds.

    All folds lie at least `sheets.fold_across` off the rolling direction; where folds run too many ways for that, as
    far off it as can be. Source: common practice, docs/sheets.md.
    """
    directions = fold_directions_deg(part)
    if not directions:
        return None
    tried = np.arange(0.0, 180.0, _FINE_DEG)
    # the best turn lies midway between two neighbouring directions, put across the rolling direction
    gaps = [(b - a, (a + b) / 2.0) for a, b in zip(directions, (*directions[1:], directions[0] + 180.0), strict=True)]
    middle = max(gaps)[1]
    tried = np.concatenate([tried, [(-middle) % 180.0]])
    scores = np.array([across_deg(directions, float(turn)) for turn in tried])
    best = float(tried[int(np.argmax(scores))])
    least = min(float(default("sheets.fold_across").value), float(scores.max()))
    turns = (best + np.arange(0.0, 360.0, _STEP_DEG)) % 360.0
    return tuple(sorted(round(float(t), 6) for t in turns if across_deg(directions, float(t)) >= least - 1e-6))
