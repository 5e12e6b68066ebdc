"""The pages of the bench in their order: one module a page, one line here."""

from halfshaft.bench.page import Page
from halfshaft.bench.pages import (
    book_page,
    brackets_page,
    measure_page,
    mounts_page,
    pack_page,
    place_page,
    revisions_page,
    road_page,
    settle_page,
    sheets_page,
    start_page,
    weights_page,
)

PAGES: tuple[Page, ...] = (
    settle_page.PAGE,
    measure_page.PAGE,
    place_page.PAGE,
    brackets_page.PAGE,
    mounts_page.PAGE,
    pack_page.PAGE,
    weights_page.PAGE,
    road_page.PAGE,
    sheets_page.PAGE,
    book_page.PAGE,
    revisions_page.PAGE,
    start_page.PAGE,
)
