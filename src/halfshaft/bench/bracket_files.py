"""Cut files of a bracket to take away: its own first, then those of the rest of the build."""

from __future__ import annotations

from collections.abc import Sequence

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.downloads import file_row, zipped
from halfshaft.cut import CutFile, CutFiles
from halfshaft.cut.cautions import CUTTING, FOLDING, FRAME, LOADS
from halfshaft.fold.model import Bracket


def draw_files(desk: Desk, bracket: Bracket) -> None:
    files = desk.study.files if desk.study else None
    with look.panel("Cut files"):
        if files is None:
            ui.label("They are written into the folder out beside build.toml, and stay there.").classes("hs-text")
            look.button("Write the cut files", desk.cut, "main")
        else:
            _listed(desk, bracket, files)
    with look.panel(edge="care"):
        for words in (*FRAME, *LOADS, CUTTING[1], FOLDING[1]):
            ui.label(words).classes("hs-text")


def _listed(desk: Desk, bracket: Bracket, files: CutFiles) -> None:
    own, others = _parted(bracket, files.files)
    if len(own) > 1:
        look.button(f"All {len(own)} of {bracket.name}, zipped", lambda: zipped(desk, bracket.name, own), "main")
    for file in own:
        file_row(desk, file)
    if not own:
        ui.label("Nothing was written of it.").classes("hs-faint")
    if others:
        with ui.expansion(f"{len(others)} files of the rest of the build"):
            look.button("Everything, zipped", lambda: zipped(desk, "all", files.files))
            for file in others:
                file_row(desk, file)
    look.button("Write them again", desk.cut)


def _parted(bracket: Bracket, files: Sequence[CutFile]) -> tuple[list[CutFile], list[CutFile]]:
    """The bracket's own files, and the others: each bracket has a folder of its own."""
    parts = {bracket.name, *(part.name for part in bracket.parts)}
    rooms = {_room(file) for file in files if file.part in parts}
    own = [file for file in files if _room(file) in rooms]
    return own, [file for file in files if _room(file) not in rooms]


def _room(file: CutFile) -> str:
    return file.path.rsplit("/", 1)[0]
