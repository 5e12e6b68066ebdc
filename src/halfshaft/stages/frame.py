"""Stations of the frame as the study calls them: the unit set or placed, and what holds it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from halfshaft.build import Build
from halfshaft.cut import window_files
from halfshaft.fold import Bracket
from halfshaft.measure import Measured
from halfshaft.progress import Progress, within

if TYPE_CHECKING:
    from halfshaft.fitup.station import FitUp
    from halfshaft.mounts.model import Mounts
    from halfshaft.study import Study, Until
    from halfshaft.weights.model import Weights
from halfshaft.stages.fit_up_kept import WORKED, worked_text
from halfshaft.stages.handed import Known, nothing_known, only
from halfshaft.stages.power import car_weighed

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
    from halfshaft.fitup.station import fit_up, on_lift
    from halfshaft.fitup.way_words import way_text

    tell = within(progress, 0.25, 0.95, "fitup")
    of = (wish, so_far.measured, meshes)
    placed = step("fitup", of, partial(fit_up, wish, so_far.measured, so_far.folder, tell))
    more = {WORKED: worked_text(placed, of)}
    if placed.way is not None:
        let_down = [one.step.words for one in on_lift(placed, wish.build.units)]
        more["way-in.txt"] = way_text(placed.way, let_down).encode("utf-8")
    out = so_far.folder / "out" / "fitup"
    files = window_files(so_far.build, so_far.measured, placed.windows, out, more)
    return replace(so_far, fit_up=placed, fit_up_files=files, seconds=seconds)


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
