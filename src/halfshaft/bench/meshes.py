"""Meshes that a build may name: a file from the browser in, kept beside build.toml, or words on why it is refused."""

from __future__ import annotations

import os
import re
from pathlib import Path

from nicegui import events, ui

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.texts import read_meshes
from halfshaft.build.whole import write_whole

LARGEST_MESH_BYTES = 15_000_000
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_ -]{0,80}\.(stl|step|stp)", re.IGNORECASE)
_STL_HEAD, _STL_TRIANGLE = 84, 50  # bytes of a binary STL: its head with the count, and each triangle


class Refused(Exception):
    """A file that is not taken; the text says why."""


def keep_mesh(folder: Path, name: str, data: bytes) -> None:
    """Write a mesh into the build folder. Raises Refused; nothing is written then."""
    if not _NAME.fullmatch(name):
        raise Refused("its name wants letters, digits, - and _, and .stl, .step or .stp at its end")
    if len(data) > LARGEST_MESH_BYTES:
        raise Refused(f"it is larger than {LARGEST_MESH_BYTES // 1_000_000} MB")
    if not _looks_like(name, data):
        raise Refused("what is in it is no STL and no STEP")
    if os.path.lexists(folder / name):
        raise Refused("there is a file of that name already: give it another one")
    try:
        write_whole(folder / name, data)
    except OSError as why:
        raise Refused(f"it cannot be written ({why.strerror or 'no reason given'})") from None


def _looks_like(name: str, data: bytes) -> bool:
    """By the first bytes and the length: ISO 10303-21 begins with its own number, a text STL with the word solid."""
    head = data[:200].lstrip()
    if not name.lower().endswith(".stl"):
        return head.startswith(b"ISO-10303-21;")
    if len(data) >= _STL_HEAD and len(data) == _STL_HEAD + _STL_TRIANGLE * int.from_bytes(data[80:84], "little"):
        return True
    return head[:6].lower().startswith(b"solid") and b"facet" in data


def draw_meshes(desk: Desk) -> None:
    """What is there, and a place to bring another."""
    with look.panel("Meshes in the build folder"):
        ui.label("An obstacle may name one: a part as it was scanned or drawn, as STL or STEP.").classes("hs-faint")
        box = look.column()

        def show() -> None:
            box.clear()
            with box:
                for name, (_, size) in read_meshes(desk.folder).items():
                    ui.label(f"{name}, {size / 1000:.0f} kB").classes("hs-text")

        async def brought(event: events.UploadEventArguments) -> None:
            name = event.file.name
            try:
                keep_mesh(desk.folder, name, await event.file.read())
            except Refused as why:
                desk.say(f"{name[:80]} is not taken: {why}", "bad")
                return
            desk.look()
            show()

        def too_large() -> None:
            desk.say(f"It is not taken: STL or STEP, up to {LARGEST_MESH_BYTES // 1_000_000} MB", "bad")

        made = ui.upload(
            label="bring an STL or STEP file",
            on_upload=brought,
            on_rejected=too_large,
            max_file_size=LARGEST_MESH_BYTES,
            auto_upload=True,
        )
        made.props('accept=".stl,.step,.stp" flat bordered').classes("hs-grow")
        show()
        look.follow(desk, show)
