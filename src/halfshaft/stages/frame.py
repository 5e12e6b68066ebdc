"""Stations of the frame as the study calls them: the unit set or placed, and what holds it."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from halfshaft.build import Build
from halfshaft.checks import Check, Origin, Severity, Source
from halfshaft.cut import window_files
from halfshaft.digest import digest
from halfshaft.fold import Bracket
from halfshaft.measure import Measured
from halfshaft.progress import Progress, within

if TYPE_CHECKING:
    from halfshaft.fitup.entry import Entry
    from halfshaft.fitup.station import FitUp
    from halfshaft.mounts.model import Mounts
    from halfshaft.study import Study, Until
    from halfshaft.weights.model import Weights
from halfshaft.stages.handed import Known, nothing_known, only
from halfshaft.stages.power import car_weighed

_OWN = Source(Origin.DERIVED, "docs/fitup.md")
_WORKED = "worked.json"  # tells of what build the files beside it are
MOUNTS = ("mounts", "thinnest")


def with_fit_up(
    so_far: Study,
    wish: Build,
    meshes: tuple[tuple[str, str], ...],
    step: Callable[[str, tuple[Any, ...], Callable[[], FitUp]], FitUp],
    seconds: dict[str, float],
    progress: Progress | None,
) -> Study:
    """The unit placed, and the templates of its windows and the way in written to out/fitup."""
    if so_far.build.fitup is None:
        return replace(so_far, seconds=seconds)
    # its libraries take a second to load: only who places a unit waits for them
    from halfshaft.fitup.entry import kept
    from halfshaft.fitup.station import fit_up
    from halfshaft.fitup.way_words import way_text

    tell = within(progress, 0.25, 0.95, "fitup")
    of = (wish, so_far.measured, meshes)
    placed = step("fitup", of, partial(fit_up, wish, so_far.measured, so_far.folder, tell))
    more = {_WORKED: json.dumps({"of": digest(*of), **kept(placed)}).encode()}
    if placed.way is not None:
        more["way-in.txt"] = way_text(placed.way).encode("utf-8")
    out = so_far.folder / "out" / "fitup"
    files = window_files(so_far.build, so_far.measured, placed.windows, out, more)
    return replace(so_far, fit_up=placed, fit_up_files=files, seconds=seconds)


def known_entry(
    wish: Build, measured: Measured, folder: Path, meshes: tuple[tuple[str, str], ...], known: Known
) -> Entry | None:
    """Windows and way in of this very build where they were worked before: in this process, or kept in out/fitup."""
    if wish.fitup is None:
        return None
    from halfshaft.fitup.entry import entry_again, entry_of

    of = (wish, measured, meshes)
    placed = known("fitup", of)
    if placed is not None:
        return entry_of(placed)
    told = _worked(folder / "out")
    if told.get("of") != digest(*of):
        return None
    try:
        return entry_again(wish, measured, folder, told)
    except (KeyError, TypeError, ValueError, AttributeError):
        return None  # of an older release, or spoiled: to be worked again


def _worked(out: Path) -> dict[str, Any]:
    """What the last fit-up wrote down; empty where there is none that can be read."""
    try:
        told = json.loads((out / "fitup" / _WORKED).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return told if isinstance(told, dict) else {}


def fit_up_files(out: Path, of: str) -> tuple[Check, ...]:
    """Whether the windows and the way in that lie in out/fitup are of this very build: this run does not work them."""
    worked = _worked(out).get("of", "")
    if worked == of:
        return ()
    title = "Windows and way in are of an earlier build" if worked else "Windows and way in have not been worked"
    severity = Severity.CAUTION if worked else Severity.NOTE
    do = "Work them with 'halfshaft fitup': it takes a minute, so 'run' leaves it to you."
    return (Check("fitup", "out/fitup", title, _OWN, severity, do, failed_outright=True),)


def mounts_of_build(
    build: Build,
    folder: Path,
    measured: Measured,
    brackets: Mapping[str, Bracket],
    meshes: tuple[tuple[str, str], ...],
    weights: Weights | None,
    step: Callable[[str, tuple[Any, ...], Callable[[], Mounts]], Mounts],
    until: Until,
    progress: Progress,
    known: Known = nothing_known,
) -> Mounts | None:
    """What the mounts carry; with what takes longer where `until` names it, or as far as that is known."""
    if build.mounts is None:
        return None
    from halfshaft.mounts.station import mounts_of, softer_or_stiffer

    own = only(build, "sheet", "body", "obstacle", "bracket", "fitup", "mounts", "car")
    weighed = car_weighed(weights)
    of = (own, measured, meshes, weighed, *brackets.values())
    tell = within(progress, 0.0, 0.3, "mounts")
    found = step("mounts", of, partial(mounts_of, own, measured, brackets, folder, tell, weighed))
    shop = own.model_copy(update={"shop": build.shop})
    if until not in MOUNTS:
        more = (known("room", (shop, longer, *of[1:])) for longer in reversed(MOUNTS))
        return next((whole for whole in more if whole is not None), found)
    from halfshaft.mounts.room import room_left
    from halfshaft.mounts.strength import stressed, thinnest

    tell = within(progress, 0.3, 0.8 if until == "mounts" else 0.5, "mounts")
    found = step("stress", of, partial(stressed, found, own, brackets, tell))
    tell = within(progress, 0.5, 0.5, "mounts")
    found = step("stiffness", (until, *of), partial(softer_or_stiffer, found, own, tell))
    if until == "thinnest":
        tell = within(progress, 0.5, 0.8, "mounts")
        found = step("thinnest", (shop, *of[1:]), partial(thinnest, found, shop, measured, brackets, tell))
    tell = within(progress, 0.8, 1.0, "mounts")
    return step("room", (shop, until, *of[1:]), partial(room_left, found, shop, measured, folder, tell, brackets))
