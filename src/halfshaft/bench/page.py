"""One page of the bench: where it is, what it is called, how it is drawn, how far its station has come."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from nicegui import ui

from halfshaft.bench.desk import Desk
from halfshaft.study import Study

NONE_YET = "none yet"


@dataclass(frozen=True, slots=True)
class Page:
    """`symbol` is an SVG path on a 24 x 24 grid, drawn as a line.

    `told` says in a few words how far it has come: empty or NONE_YET where the build says nothing of it, begun with
    'not ' where it is not worked.

    A check leads to `path`?about=... with the check's own words, for the page to go to the thing they name.
    `draw` is called inside the frame, once for each browser that opens the page; what must change with the build
    is drawn again by `look.follow`.
    """

    path: str  # '/measure'
    title: str
    symbol: str
    draw: Callable[[Desk], None]
    told: Callable[[Study], str]
    settles: tuple[str, ...] = ()  # stations whose checks are settled on this page


def asked_of_page() -> dict[str, str]:
    """What the address of the page being drawn asks it to show, by name."""
    request = ui.context.client.request
    return dict(request.query_params) if request else {}
