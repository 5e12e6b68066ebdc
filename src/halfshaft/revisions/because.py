"""What each changed reading does by itself to the brackets' holes: two sets of inputs in, sentences out."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from halfshaft.build import BuildProblems, load
from halfshaft.measure.station import measured_of, survey
from halfshaft.revisions.results import TOLD_MM
from halfshaft.revisions.told_inputs import Said

_MOST_TRIED = 8  # readings whose own effect is worked, one at a time


def because(old: Path, new: Path, said: tuple[Said, ...], record: Mapping[str, Any]) -> tuple[str, ...]:
    """What each changed reading does by itself to the brackets' holes: the old readings adjusted with it alone."""
    rows = [one for one in said if one.file == "readings.csv"]
    if not rows:
        return ()
    try:
        before, after = load(old), load(new)
    except BuildProblems:
        return ()
    if before.body.keys() != after.body.keys() or before.instrument != after.instrument:
        return ()
    if any(b.point.keys() != after.body[n].point.keys() for n, b in before.body.items()):
        return ()
    start = measured_of(before, survey(before))
    by_line_new = {reading.line: reading for reading in after.readings}
    out = []
    for one in rows[:_MOST_TRIED]:
        changed = by_line_new.get(one.line) if one.new else None
        if one.old and one.new and changed is not None:
            match = [r for r in before.readings if (r.kind, r.names) == (changed.kind, changed.names)]
            tried = tuple(changed if r is match[0] else r for r in before.readings) if match else None
        elif one.new and changed is not None:
            tried = (*before.readings, changed)
        else:
            tried = tuple(r for r in before.readings if r.line != one.line)
        if tried is None:
            continue
        other = before.model_copy(update={"readings": tried})
        alone = measured_of(other, survey(other))
        parts = []
        for bracket, needs in record.get("needs", {}).items():
            far = {
                name: float(np.linalg.norm(start.points[name].xyz_mm - alone.points[name].xyz_mm))
                for name in needs
                if name in start.points and name in alone.points
            }
            worst = max(far, key=lambda name: far[name], default=None)
            if worst is not None and far[worst] >= TOLD_MM:
                parts.append(f"{worst} of {bracket} by {far[worst]:.2f} mm")
        moves = "; ".join(parts) or "no hole of a bracket"
        out.append(f"{one.file} line {one.line}, {one.where} ({one.words}), by itself moves {moves}.")
    if len(rows) > _MOST_TRIED:
        out.append(f"{len(rows) - _MOST_TRIED} further readings changed; their single effects were not worked.")
    return tuple(out)
