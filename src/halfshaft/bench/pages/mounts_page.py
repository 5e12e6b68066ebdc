"""Mounts: what each carries as the torque grows, what gives way first and what to change; its stress; how it shakes."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import ui

from halfshaft import tables_mounts
from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.fold_out import fold_out
from halfshaft.bench.head import Asked, Head, unsaid, worked
from halfshaft.bench.mounts_cards import draw_cards, worst_first
from halfshaft.bench.mounts_shown import MountsShown
from halfshaft.bench.page import Page, asked_of_page
from halfshaft.bench.plain_table import draw_table
from halfshaft.bench.region import Region, apart
from halfshaft.cut.cautions import FRAME
from halfshaft.mounts.verdict import CARE
from halfshaft.study import Study

if TYPE_CHECKING:
    from halfshaft.mounts.model import Mount, Mounts

MOST_CHECKS = 12
ASKED = Asked(
    "Mounts, their brackets and the frame",
    "Forces, joints, stress of the brackets and the room left as the unit moves. It takes a minute or two; the bench "
    "can be used meanwhile.",
    "Work the mounts",
    "Work them again",
    CARE,
)


class MountsPage:
    """The page in one browser."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.mount = ""
        self._about = asked_of_page().get("about", "")
        look.add_sheet("mounts", "chart")
        top = apart()

        def told() -> Any:
            return desk.study and desk.study.mounts, desk.units

        self.head = Head(ASKED, desk.hold, told, self._why_not, self._thinner)
        self.whole = ui.element("div").classes("hs-pair")
        with self.whole:
            with ui.element("div").classes("hs-left"):
                self.shown = MountsShown(desk, lambda: self.found, self.one)
            with look.column():
                cards = apart()
                checks = apart()
        thinnest = apart()
        more = apart()
        self.regions = [
            Region(top, lambda: (desk.study is None, self._wanted()), self._top),
            Region(cards, lambda: (self.found, desk.units), self._cards),
            Region(checks, lambda: (self.found, self.mount, desk.units), self._checks),
            Region(thinnest, lambda: (self.found, desk.units), self._thinnest),
            Region(more, lambda: (self.found, desk.units), self._more),
        ]
        self._card_buttons: dict[str, ui.button] = {}
        self.show()
        look.follow(desk, self.show)

    # what stands

    @property
    def found(self) -> Mounts | None:
        """As last worked, where the unit is held."""
        found = self.desk.study.mounts if self.desk.study else None
        return found if found is not None and found.held else None

    def one(self) -> Mount | None:
        """The mount that is looked at."""
        return self.found.by_name.get(self.mount) if self.found else None

    def _wanted(self) -> bool:
        """Whether the build says how the unit is held."""
        return self.desk.study is not None and self.desk.study.build.mounts is not None

    # drawing

    def show(self) -> None:
        """Bring every part of the page up to what stands on the desk."""
        found = self.found
        self.whole.set_visibility(found is not None)
        if found is not None and self.mount not in found.by_name:
            self.mount = self._asked(found)
        any_found = self.desk.study is not None and self.desk.study.mounts is not None
        self.head.show(self._wanted(), any_found, self.desk.standing.mounts_behind)
        for region in self.regions:
            region.show()
        for name, button in self._card_buttons.items():
            look.press(button, name == self.mount, "aria-pressed", "hs-here")
        self.shown.show()

    def _asked(self, found: Mounts) -> str:
        """The mount that a check is about, else the one that stands worst."""
        about, self._about = self._about, ""
        words = about.replace(",", " ").split()
        named = next((name for name in found.by_name if name in words), "")
        return named or (worst_first(found)[0].name if found.mounts else "")

    def _top(self) -> None:
        study = worked(self.desk)
        if study is None:
            return
        if study.build.mounts is None:
            unsaid(
                "Nothing says yet how the unit is held",
                "Write [mounts] in build.toml: the torque, and each mount with its rubber and its bracket. "
                "docs/mounts.md shows each.",
                "mounts",
            )

    def _why_not(self) -> None:
        """Why nothing is held."""
        found = self.desk.study.mounts if self.desk.study else None
        for check in found.checks if found is not None and not found.held else ():
            if not check.ok:
                look.mark(look.mood_of(check), f"{check.about}: {check.title}")
                ui.label(check.do).classes("hs-text")

    def _thinner(self) -> None:
        if self.found is not None:
            look.button("Find the thinnest sheet", self.desk.thin_down)

    def _cards(self) -> None:
        found = self.found
        self._card_buttons = draw_cards(found, self.desk.units, self._choose) if found is not None else {}

    def _checks(self) -> None:
        one = self.one()
        if one is None:
            return
        table = tables_mounts.mount_checks_table(one, self.desk.units, MOST_CHECKS)
        with look.panel(table.title):
            draw_table(table)
        if len(one.checks) > MOST_CHECKS:
            fold_out(
                f"all {len(one.checks)} checks of {one.name}",
                lambda: draw_table(tables_mounts.mount_checks_table(one, self.desk.units)),
            )

    def _thinnest(self) -> None:
        if self.found is None or self.found.thinnest is None:
            return
        with look.panel("Thinnest sheet that holds"):
            draw_table(tables_mounts.thinnest_table(self.found, self.desk.units))
            ui.label(CARE).classes("hs-faint hs-small hs-text")

    def _more(self) -> None:
        found, units = self.found, self.desk.units
        if found is None:
            return
        for title, table in (
            ("Load cases, and where each comes from", tables_mounts.load_cases_table(found, units)),
            ("Forces on the mounts in each case", tables_mounts.mount_forces_table(found, units)),
            ("How far the unit moves, and the room left", tables_mounts.motion_table(found, units)),
        ):
            fold_out(title, partial(draw_table, table))
        with look.panel():
            for words in FRAME:
                ui.label(words).classes("hs-faint hs-small hs-text")

    # acts

    def _choose(self, name: str) -> None:
        self.mount = name
        self.shown.turn()
        self.show()


def _told(study: Study) -> str:
    found = study.mounts
    if study.build.mounts is None:
        return ""
    if found is None:
        return "not worked"
    if not found.held:
        return "not held"
    failed = sum(any(not c.ok and c.severity == "stop" for c in mount.checks) for mount in found.mounts)
    return f"{len(found.mounts)}, {failed} give way" if failed else f"{len(found.mounts)} hold"


def _draw(desk: Desk) -> None:
    MountsPage(desk)


_SYMBOL = (
    "M4 20 H20 M7 20 V15 M17 20 V15 M5 15 H9 V11 H5 Z M15 15 H19 V11 H15 Z M7 11 V7 H17 V11 M12 7 V3 M10 5 L12 3 L14 5"
)
PAGE = Page("/mounts", "Mounts", _SYMBOL, _draw, _told, ("mounts", "brackets under load"))
