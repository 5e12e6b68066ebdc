"""Station of brackets as the study calls it: each by itself, its shape first, then what is in its way and its fit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import Any

from halfshaft.build import Build
from halfshaft.cut.files import Names
from halfshaft.cut.station import Made, bracket_files
from halfshaft.fold import Bracket, in_units, judged, shaped
from halfshaft.measure import Measured
from halfshaft.progress import Progress, within
from halfshaft.stages.handed import for_bracket, only
from halfshaft.stages.steps import Part, Steps


def brackets_of(
    build: Build,
    folder: Path,
    read: Build,
    measured: Measured,
    meshes: tuple[tuple[str, str], ...],
    step: Steps,
    first: str,
    progress: Progress | None,
    begun: Callable[[], None],
    meanwhile: Callable[[Mapping[str, Bracket], frozenset[str]], None],
) -> dict[str, Bracket]:
    """Every bracket, `first` before the others, which other cores may work.

    `begun` is called once all are handed out; `meanwhile` hears of brackets so far, and which are no more than shapes.
    """
    common = read.model_copy(update={"shop": build.shop, "obstacle": build.obstacle})
    around = only(build, "shop", "obstacle")
    own: dict[str, Build] = {}
    hangs_on: dict[str, tuple[Any, ...]] = {}
    done: dict[str, Bracket] = {}
    for name, told in build.bracket.items():
        own[name] = for_bracket(common, build, name)
        hangs_on[name] = (name, read, around, told, own[name].sheet, measured, meshes)
        remembered = step.memory.remembered("fold", hangs_on[name])
        if remembered is not None:
            done[name] = remembered
            step.seconds[f"fold {name}"] = 0.0
    to_work = sorted((name for name in build.bracket if name not in done), key=lambda name: name != first)
    tell = {}
    for number, name in enumerate(to_work):
        share = 0.25 + 0.45 * number / len(to_work)
        tell[name] = within(progress, share, share + 0.45 / len(to_work), name)
    for name in to_work[1:]:
        step.crew.ahead(f"bracket {name}", partial(_whole, own[name], measured, name, folder, tell[name]))
    begun()

    def told_so_far(*shapes: Bracket) -> None:
        brackets = done | {shape.name: in_units(build, shape) for shape in shapes}
        meanwhile(brackets, frozenset(shape.name for shape in shapes))

    for number, name in enumerate(to_work):
        both = partial(_whole, own[name], measured, name, folder, tell[name])
        shape_of, fold_of = (f"shape {name}", hangs_on[name][:-1]), (f"fold {name}", hangs_on[name])
        elsewhere = step.both(f"bracket {name}", shape_of, fold_of, both)
        if elsewhere is not None:
            done[name] = elsewhere[1]
        else:
            shape = step(*shape_of, partial(shaped, own[name], measured, name, tell[name]))
            told_so_far(shape)
            done[name] = step(*fold_of, partial(judged, own[name], measured, shape, folder, tell[name]))
        if number + 1 < len(to_work):
            told_so_far()
    return {name: done[name] for name in build.bracket}


def _whole(own: Build, measured: Measured, name: str, folder: Path, tell: Progress) -> tuple[Bracket, Bracket]:
    """The shape and all of the bracket together: parts that both have cross between processes as one."""
    shape = shaped(own, measured, name, tell)
    return shape, judged(own, measured, shape, folder, tell)


def places_of(build: Build) -> dict[str, str]:
    """Folder of each bracket's files in out."""
    names = Names()
    return {name: names.take(name) for name in build.bracket}


def files_part(build: Build, bracket: Bracket, place: str) -> Part[Made]:
    """The step that draws a bracket's files."""
    own = only(build, "shop").model_copy(update={"bracket": {bracket.name: build.bracket[bracket.name]}})
    return f"drawn {bracket.name}", (own, bracket, place), partial(bracket_files, own, bracket, place)
