"""Stations of sheets and cutter as the study calls them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from time import perf_counter
from typing import TYPE_CHECKING, Any

from halfshaft.build import Build
from halfshaft.fold import Bracket
from halfshaft.progress import Progress, within

if TYPE_CHECKING:
    from halfshaft.study import Study
from halfshaft.stages.handed import Known, nothing_known, only, print_of


def with_sheets(
    so_far: Study,
    build: Build,
    meshes: tuple[tuple[str, str], ...],
    step: Callable[[str, tuple[Any, ...], Callable[[], Any]], Any],
    wholly: bool,
    progress: Progress | None,
    known: Known = nothing_known,
) -> Study:
    """Parts laid on sheets, the torch's path over them; `wholly` with plates for the frame, which take longer, else
    with those that are known.
    """
    from halfshaft.cut.nest.station import nest, parts_to_lay, plates_left
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
    own = only(build, "shop", "sheet", "opening", "stock", "offcut", "sheets")
    drawings = tuple((n, print_of(folder / n)) for n in sorted({o.dxf for o in build.offcut.values() if o.dxf}))
    boxes = so_far.boxes.boxes if so_far.boxes is not None else ()
    parts = parts_to_lay(own, measured, tuple(brackets.values()), plates or (), boxes)
    tell = within(progress, 0.7, 0.75 if not wholly else 0.95, "sheets")
    laid = step("sheets", (own, drawings, *parts), partial(nest, own, folder, parts, tell))
    if so_far.boxes is None and build.pack is not None and build.pack.box is not None:
        from halfshaft.pack.boxes import boxes_left

        laid = replace(laid, checks=(*laid.checks, boxes_left()))
    if plates is None:
        laid = replace(laid, checks=(*laid.checks, plates_left()))
    table = only(build, "shop", "cutter")
    torch = step("paths", (table, own, drawings, *parts), partial(paths_of, table, laid))
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
