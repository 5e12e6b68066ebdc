"""Stations of sheets and cutter as the study calls them."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING, Any

from halfshaft.build import Build
from halfshaft.fold import Bracket
from halfshaft.progress import Progress, within

if TYPE_CHECKING:
    from halfshaft.cut.nest import Sheets
    from halfshaft.cut.part import SheetPart
    from halfshaft.cut.path.station import Paths
    from halfshaft.study import Study
from halfshaft.stages.handed import Known, nothing_known, only, print_of
from halfshaft.stages.steps import Steps

_BOTH = "sheets and paths"


def _parts(
    so_far: Study, build: Build, plates: tuple[Bracket, ...] = ()
) -> tuple[Build, tuple[Any, ...], tuple[SheetPart, ...]]:
    """What of the build sheets are asked of, all that they hang on, and the parts to lay."""
    from halfshaft.cut.nest.station import parts_to_lay

    own = only(build, "shop", "sheet", "opening", "stock", "offcut", "sheets")
    names = sorted({o.dxf for o in build.offcut.values() if o.dxf})
    drawings = tuple((name, print_of(so_far.folder / name)) for name in names)
    boxes = so_far.boxes.boxes if so_far.boxes is not None else ()
    parts = parts_to_lay(own, so_far.measured, tuple(so_far.brackets.values()), plates, boxes)
    return own, (own, drawings, *parts), parts


def _laid_out(
    own: Build, table: Build, folder: Path, parts: tuple[SheetPart, ...], tell: Progress
) -> tuple[Sheets, Paths]:
    """Sheets and the torch's paths over them in one go."""
    from halfshaft.cut.nest.station import nest
    from halfshaft.cut.path.station import paths_of

    laid = nest(own, folder, parts, tell)
    return laid, paths_of(table, laid)


def sheets_ahead(so_far: Study, build: Build, step: Steps, progress: Progress) -> None:
    """Have parts laid on sheets, without plates for the frame, begun on another core."""
    own, of, parts = _parts(so_far, build)
    if not step.known("sheets", of):
        step.crew.ahead(_BOTH, partial(_laid_out, own, only(build, "shop", "cutter"), so_far.folder, parts, progress))


def with_sheets(
    so_far: Study,
    build: Build,
    meshes: tuple[tuple[str, str], ...],
    step: Steps,
    wholly: bool,
    progress: Progress | None,
    known: Known = nothing_known,
) -> Study:
    """Parts laid on sheets, the torch's path over them; `wholly` with plates for the frame, which take longer, else
    with those that are known.
    """
    from halfshaft.cut.nest.station import nest, plates_left
    from halfshaft.cut.path.station import paths_of

    folder, measured, brackets = so_far.folder, so_far.measured, so_far.brackets
    plates: tuple[Bracket, ...] | None = ()
    held = tuple(dict.fromkeys(mount.bracket for mount in so_far.mounts.mounts)) if so_far.mounts else ()
    to_plate = held and build.fitup is not None
    if to_plate:
        own = only(build, "shop", "sheet", "body", "obstacle", "bracket", "fitup", "mounts")
        of = (held, own, measured, meshes, *brackets.values())
        plates = known("plates", of)
        if plates is None and wholly:
            from halfshaft.mounts.room import frame_plates

            plates = step("plates", of, partial(frame_plates, held, own, measured, folder, brackets))
    own, of, parts = _parts(so_far, build, plates or ())
    table = only(build, "shop", "cutter")
    tell = within(progress, 0.7, 0.75 if not wholly else 0.95, "sheets")
    sheets_of, torch_of = ("sheets", of), ("paths", (table, *of))
    both = partial(_laid_out, own, table, folder, parts, tell)
    elsewhere = step.both(_BOTH, sheets_of, torch_of, both) if not plates else None  # those were not handed out
    if elsewhere is not None:
        laid, torch = elsewhere
    else:
        laid = step(*sheets_of, partial(nest, own, folder, parts, tell))
        torch = step(*torch_of, partial(paths_of, table, laid))
    if so_far.boxes is None and build.pack is not None and build.pack.box is not None:
        from halfshaft.pack.boxes import boxes_left

        laid = replace(laid, checks=(*laid.checks, boxes_left()))
    if plates is None:
        laid = replace(laid, checks=(*laid.checks, plates_left()))
    return replace(so_far, sheets=laid, paths=torch)


def with_needs(so_far: Study) -> Study:
    """What is bought for all that was worked so far."""
    from halfshaft.buy import needs_of

    own = only(so_far.build, "sheet", "mounts", "buy")
    found = needs_of(own, so_far.brackets.values(), so_far.mounts, so_far.pack, so_far.sheets)
    return replace(so_far, needs=found)


def with_sheet_files(so_far: Study, seconds: dict[str, float]) -> Study:
    """Files of the sheets and of the paths over them in out/sheets."""
    from halfshaft.cut.path.station import path_files
    from halfshaft.cut.sheet_files import FOLDER, write_sheets

    build, laid, torch = so_far.build, so_far.sheets, so_far.paths
    assert laid is not None
    assert torch is not None
    start = perf_counter()
    files = write_sheets(build, laid, so_far.folder / "out" / FOLDER, path_files(build, torch))
    seconds["sheet files"] = perf_counter() - start
    return replace(so_far, sheet_files=files)
