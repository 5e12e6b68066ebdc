"""Files of the out folder to take away, one by one or together: written by the study, handed out by the browser."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.cut import CutFile
from halfshaft.cut.files import safe_name

_WHAT = {
    "dxf": "DXF, for the table",
    "svg": "SVG, for a laser or the eye",
    "paper": "paper template, 1:1",
    "step": "STEP, the folded solid",
    "shop sheet": "shop sheet",
    "refusal": "why it is refused",
    "coupon table": "table to fill in",
    "list": "list of parts",
    "offcuts": "rows for build.toml",
    "ngc": "code for the table's control",
}


def file_row(desk: Desk, file: CutFile, room: str = "") -> None:
    """One file and its button; `room` is the folder in out that its path begins in, with a slash."""
    name = file.path.rsplit("/", 1)[-1]
    with ui.element("div").classes("hs-file"):
        with ui.element("div"):
            ui.label(name).classes("hs-text")
            ui.label(f"{_WHAT.get(file.kind, file.kind)}, {file.bytes / 1000:.0f} kB").classes("hs-faint hs-small")
        look.button("Download", lambda: _handed(desk, room + file.path), say=f"download {name}")


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


def _handed(desk: Desk, path: str) -> None:
    try:
        ui.download.content(desk.out_file(path).read_bytes(), path.rsplit("/", 1)[-1])
    except (ValueError, OSError) as why:
        desk.say(f"It cannot be handed out: {why}. Write the files again.", "bad")
