"""A page of the book on the bench: a file of the out folder in, its jump list and its paper on the screen."""

from __future__ import annotations

import asyncio

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.book_preview import preview
from halfshaft.bench.desk import Desk


def add_style() -> None:
    look.add_sheet("book")


async def draw_paper(desk: Desk, relative: str, box: ui.element) -> None:
    """Fill `box` with the page, or with why it cannot be shown."""
    try:
        path = desk.out_file(relative)
        found = await asyncio.to_thread(lambda: preview(path.read_text(encoding="utf-8")))
    except (OSError, ValueError) as why:
        if not box.is_deleted:
            box.clear()
            with box:
                ui.label(f"It cannot be shown: {why}.").classes("hs-text")
        return
    if box.is_deleted:
        return
    box.clear()
    with box, ui.element("div").classes("hk-split"):
        jumps = "".join(f'<a href="#{key}">{title}</a>' for key, title in found.jumps)
        ui.html(jumps, sanitize=False, tag="nav").classes("hk-jumps").props('aria-label="jump to"')
        ui.html(found.body, sanitize=False, tag="article").classes("hk-paper")
