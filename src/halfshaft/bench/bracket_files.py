"""Cut files of a bracket to take away: written by the study into folder/out, handed out one by one or together."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.cut import CutFile, CutFiles
from halfshaft.cut.cautions import CUTTING, FOLDING, FRAME, LOADS
from halfshaft.cut.files import safe_name
from halfshaft.fold.model import Bracket

_WHAT = {
    "dxf": "DXF, for the table",
    "svg": "SVG, for a laser or the eye",
    "paper": "paper template, 1:1",
    "step": "STEP, the folded solid",
    "shop sheet": "shop sheet",
    "refusal": "why it is refused",
    "coupon table": "table to fill in",
}


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


def file_row(desk: Desk, file: CutFile, room: str = "") -> None:
    """One file and its button; `room` is the folder in out that its path begins in, with a slash."""
    name = file.path.rsplit("/", 1)[-1]
    with ui.element("div").classes("hb-file"):
        with ui.element("div"):
            ui.label(name).classes("hs-text")
            ui.label(f"{_WHAT.get(file.kind, file.kind)}, {file.bytes / 1000:.0f} kB").classes("hs-faint hs-small")
        look.button("Download", lambda: _handed(desk, room + file.path), say=f"download {name}")


def _handed(desk: Desk, path: str) -> None:
    try:
        ui.download.content(desk.out_file(path).read_bytes(), path.rsplit("/", 1)[-1])
    except (ValueError, OSError) as why:
        desk.say(f"It cannot be handed out: {why}. Write the files again.", "bad")


def zipped(desk: Desk, name: str, files: Sequence[CutFile], room: str = "") -> None:
    """All of them as one archive."""
    held = io.BytesIO()
    try:
        with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed:
            for file in files:
                packed.writestr(file.path, desk.out_file(room + file.path).read_bytes())
    except (ValueError, OSError) as why:
        desk.say(f"They cannot be handed out: {why}. Write the files again.", "bad")
        return
    ui.download.content(held.getvalue(), f"{safe_name(name)}.zip")
