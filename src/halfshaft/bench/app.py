"""The server of the bench: a build folder and a port in, pages for this machine's own browser out."""

from __future__ import annotations

import asyncio
import contextlib
import gc
import socket
import sys
import webbrowser
from pathlib import Path

import uvicorn
from fastapi import FastAPI
from fastapi.responses import RedirectResponse, Response
from nicegui import app as inner
from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.guard import Guard
from halfshaft.bench.page import Page
from halfshaft.bench.pages import PAGES, start_page
from halfshaft.bench.place_hand import make_ahead
from halfshaft.bench.workroom import Workroom
from halfshaft.memory import Memory

HERE = "127.0.0.1"


class PortTaken(Exception):
    """The port cannot be listened on; the text says which and why."""


def serve(folder: Path, port: int = 0, show: bool = True, memory: Memory | None = None) -> None:
    """Serve the bench for `folder` on this machine only, until interrupted. Port 0 takes a free one.

    The address is printed as one line. `memory` is what has been worked already. Raises PortTaken.
    """
    desk = Desk(folder, Workroom(memory))
    # what is loaded by now stays: it need not be gone through again and again for things that can be forgotten
    gc.collect()
    gc.freeze()
    desk.room.begin()  # before the listener is there, so that nobody but the server holds it
    try:
        listener = socket.create_server((HERE, port))
    except OSError as why:
        desk.close()
        raise PortTaken(f"port {port} cannot be listened on ({why.strerror})") from None
    port = listener.getsockname()[1]
    address = f"http://{HERE}:{port}/"
    guarded = Guard(_pages(desk), port)
    config = uvicorn.Config(
        guarded, log_level="warning", access_log=False, server_header=False, proxy_headers=False, lifespan="on"
    )

    def ready() -> None:
        print(f"the bench is at {address}", flush=True)
        if show:
            webbrowser.open(address)

    inner.on_startup(ready)
    try:
        with contextlib.suppress(KeyboardInterrupt):
            uvicorn.Server(config).run(sockets=[listener])
    finally:
        desk.close()
    sys.stdout.flush()


def _pages(desk: Desk) -> FastAPI:
    """The app with every page of the list in its frame."""
    for page in PAGES:
        _page(desk, page)
    look.style()
    tasks: set[asyncio.Task[None]] = set()
    inner.on_startup(lambda: tasks.update(map(asyncio.create_task, (desk.attend(), make_ahead(desk)))))
    outer = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    ui.run_with(
        outer,
        title="Halfshaft",
        dark=None,
        tailwind=False,
        favicon=look.FAVICON,
        show_welcome_message=False,
        reconnect_timeout=60.0,  # a machine that is busy folding must not cost a half-typed row
    )
    return outer


def _page(desk: Desk, page: Page) -> None:
    @ui.page(page.path, title=f"{page.title} - Halfshaft")
    def draw() -> Response | None:
        if desk.empty and page is not start_page.PAGE:
            return RedirectResponse(start_page.PAGE.path)
        look.frame(desk, page, PAGES)
        return None
