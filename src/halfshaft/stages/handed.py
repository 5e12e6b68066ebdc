"""What of a build each station is handed: no more than it may depend on, so that what is remembered is honest."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import Any

from halfshaft.build import Build
from halfshaft.build.schema import BracketInput
from halfshaft.measure import Measured
from halfshaft.measure.hidden import HiddenSlips
from halfshaft.measure.next_best import NextReading, next_readings
from halfshaft.measure.station import Surveyed
from halfshaft.stages.steps import Part

# what was worked before for these very inputs, by the name of the step; None where it was not, or is not kept
Known = Callable[[str, tuple[Any, ...]], Any | None]


def nothing_known(_name: str, _of: tuple[Any, ...]) -> None:
    """Of a run that takes up no more than it was asked for."""


def tied(measured: Measured, name: str) -> bool:
    """Whether a point or face is located and its body is tied to the root: only then can a reading better its place."""
    found = measured.points.get(name) or measured.faces.get(name)
    return name in measured.where and found is not None and found.tied


def next_part(
    read: Build, surveyed: Surveyed, measured: Measured, slips: HiddenSlips, name: str, told: BracketInput, count: int
) -> Part[tuple[NextReading, ...]]:
    """The step that says which readings would better a bracket most."""
    known = tuple(need for need in told.needs if tied(measured, need))
    network, adjustment = surveyed.network, surveyed.snooped.adjustment
    pick = partial(next_readings, read, network, adjustment, known, count, hidden=slips)
    return f"next {name}", (read, known), pick if len(known) > 1 else tuple


def only(build: Build, *parts: str) -> Build:
    """The build with nothing but its own table and these parts."""
    empty = type(build)(build=build.build)
    return empty.model_copy(update={part: getattr(build, part) for part in parts})


def for_bracket(common: Build, build: Build, name: str) -> Build:
    """What one bracket may depend on: what is `common` to all of them, its sheet and its gussets', itself."""
    told = build.bracket[name]
    named = dict.fromkeys([told.sheet, *(wish.sheet for wish in told.gusset if wish.sheet)])
    sheets = {sheet: build.sheet[sheet] for sheet in named if sheet in build.sheet}
    return common.model_copy(update={"bracket": {name: told}, "sheet": sheets})


def mesh_prints(folder: Path, build: Build) -> tuple[tuple[str, str], ...]:
    """Mesh files by name with a fingerprint of what is in them."""
    pieces = build.fitup.piece.values() if build.fitup is not None else ()
    names = sorted({one.mesh for one in (*build.obstacle.values(), *pieces) if one.mesh})
    return tuple((n, sha256((folder / n).read_bytes()).hexdigest()) for n in names if (folder / n).is_file())


def print_of(file: Path) -> str:
    return sha256(file.read_bytes()).hexdigest() if file.is_file() else ""
