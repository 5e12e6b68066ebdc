"""How the unit gets into its place, as the shop needs it: a fit-up in; windows, the way in in words, judgements out.

Fit-up takes long, so what it found is kept beside its files: `kept` gives what cannot be worked again soon, plain and
ready for JSON, and `entry_again` makes the rest of it anew.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from halfshaft.build import Build
from halfshaft.checks import Assumed, Check, Good, Origin, Severity, Source
from halfshaft.fitup.model import Step, WayIn
from halfshaft.fitup.scene import scene_of
from halfshaft.fitup.station import FitUp, windows_at
from halfshaft.fitup.window import Window
from halfshaft.geometry import Pose
from halfshaft.measure.model import Measured


@dataclass(frozen=True, eq=False)
class Entry:
    """Of the place `place`, `taken` by the builder or found: steps of the way in may be without their poses."""

    place: str
    taken: bool
    windows: tuple[Window, ...]
    way: WayIn | None
    checks: tuple[Check, ...]
    assumed: tuple[Assumed, ...]


def entry_of(found: FitUp) -> Entry:
    """What a fit-up just worked gives the shop; of no place where none was found."""
    place = found.chosen.label if found.chosen is not None else ""
    return Entry(place, found.taken, found.windows, found.way, found.checks, found.assumed)


def kept(found: FitUp) -> dict[str, Any]:
    """What of a fit-up is written down, to be taken up by a later run of the same build."""
    chosen, way = found.chosen, found.way
    return {
        "place": chosen.label if chosen is not None else "",
        "taken": found.taken,
        "rotation": chosen.pose.rotation.tolist() if chosen is not None else None,
        "shift_mm": chosen.pose.shift_mm.tolist() if chosen is not None else None,
        "cut": list(dict.fromkeys(cut.member for cut in chosen.cuts)) if chosen is not None else [],
        "way": None
        if way is None
        else {
            "steps": [{"on": list(step.pieces_on), "words": step.words} for step in way.steps],
            "least_clearance_mm": float(way.least_clearance_mm),
            "blocked_by": list(way.blocked_by),
            "checks": [asdict(check) for check in way.checks],
        },
        "checks": [asdict(check) for check in found.checks],
        "assumed": [asdict(row) for row in found.assumed],
    }


def entry_again(build: Build, measured: Measured, folder: Path, told: dict[str, Any]) -> Entry:
    """The entry of a fit-up that was kept, for the very build that it was worked for; its windows are worked anew.

    Raises KeyError, TypeError or ValueError where what was kept is damaged.
    """
    windows: tuple[Window, ...] = ()
    if told["cut"]:
        scene, _, _ = scene_of(build, measured, folder)
        if scene is None:
            raise ValueError("no scene can be made for the place that was kept")
        pose = Pose(np.array(told["rotation"], dtype=float), np.array(told["shift_mm"], dtype=float))
        windows = windows_at(build, scene, pose, [str(name) for name in told["cut"]])
    way = told["way"]
    if way is not None:
        steps = tuple(Step((), tuple(step["on"]), str(step["words"])) for step in way["steps"])
        least = float(way["least_clearance_mm"])
        way = WayIn(steps, least, tuple(way["blocked_by"]), tuple(_check(one) for one in way["checks"]))
    checks = tuple(_check(one) for one in told["checks"])
    assumed = tuple(Assumed(row["where"], row["value"], _source(row["source"])) for row in told["assumed"])
    return Entry(str(told["place"]), bool(told["taken"]), windows, way, checks, assumed)


def _check(told: dict[str, Any]) -> Check:
    told = told | {"severity": Severity(told["severity"]), "good": Good(told["good"])}
    return Check(**told | {"source": _source(told["source"])})


def _source(told: dict[str, Any]) -> Source:
    return Source(Origin(told["origin"]), told["text"])
