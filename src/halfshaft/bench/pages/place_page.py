"""Place: the unit moved by hand with its room and joints told at once; places found, windows to cut, the way in."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from nicegui import background_tasks, ui
from numpy.typing import NDArray

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.head import unsaid, worked
from halfshaft.bench.page import Page
from halfshaft.bench.place_hand import Hand, Stage, begin_of
from halfshaft.bench.place_moves import Moves
from halfshaft.bench.place_numbers import draw_numbers, room_words
from halfshaft.bench.place_scene import PlaceScene
from halfshaft.bench.place_way import WayPlayer
from halfshaft.bench.place_windows import draw_windows
from halfshaft.bench.region import Region, apart
from halfshaft.build.save import save_values
from halfshaft.build.units import format_length
from halfshaft.geometry import Pose
from halfshaft.study import Study

if TYPE_CHECKING:
    from halfshaft.build.fitup import PlaceInput
    from halfshaft.fitup.model import Placed
    from halfshaft.fitup.station import FitUp

Array = NDArray[np.float64]


class PlacePage:
    """The page in one browser."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.hand = Hand(desk.folder, self._judged)
        self.at = ""  # label of the place that is looked at; empty by hand
        self._taking = False
        self._aimed = False
        look.add_sheet("place")
        top = apart()
        self.whole = look.column()
        with self.whole, ui.element("div").classes("hp-page"):
            with ui.element("div").classes("hs-left"):
                self.scene = PlaceScene(self._dragged)
                moves = apart()
            with look.column():
                with look.panel("Where it stands now"):
                    numbers = apart().props('aria-live="polite"')
                    acts = apart("hp-acts")
                places = apart()
                with look.panel("The way in") as self.way_box:
                    way = apart()
                with look.panel("Windows to cut") as self.windows_box:
                    windows = apart()
        self.moves = Moves(self.hand, self.show)
        with self.way_box:
            self.player = WayPlayer(self._played)
        self.regions = [
            Region(top, self._top_key, self._top),
            Region(moves, lambda: (self.moves.size, desk.units, self.hand.stage is None), self._moves),
            Region(numbers, lambda: (self.hand.judged, self.hand.waiting, desk.units), self._numbers),
            Region(acts, lambda: self.hand.stage is None, self._acts),
            Region(places, lambda: (self.fit_up, self.at, desk.units, self._stale()), self._places),
            Region(windows, lambda: (self.fit_up, desk.units), self._windows),
            Region(way, lambda: (self.fit_up, desk.units), self._way),
        ]
        self.show()
        look.follow(desk, self.show)

    # what stands

    @property
    def fit_up(self) -> FitUp | None:
        """As last worked."""
        return self.desk.study.fit_up if self.desk.study else None

    def _stale(self) -> bool:
        """Whether the places are from before the last change."""
        found, stage = self.fit_up, self.hand.stage
        if found is None or found.scene is None or stage is None:
            return False
        return not _alike(found.scene.bounds.begin, stage.scene.bounds.begin)

    def _top_key(self) -> Any:
        study = self.desk.study
        return (study is None, bool(study and study.build.fitup), self.hand.stage is None, self.hand.checks)

    # drawing

    def show(self) -> None:
        """Bring every part of the page up to what stands on the desk."""
        study = self.desk.study
        self.whole.set_visibility(self.hand.stage is not None)
        found = self.fit_up
        self.windows_box.set_visibility(bool(found and found.chosen))
        self.way_box.set_visibility(bool(found and found.way))
        for region in self.regions:
            region.show()
        if study is not None and study.build.fitup is not None and not self._taking:
            self._taking = True
            background_tasks.create(self._take(study), name="unit and frame made ready")

    async def _take(self, study: Study) -> None:
        try:
            another = await self.hand.take(study)
        finally:
            self._taking = False
        stage = self.hand.stage
        if not another or self.whole.is_deleted:
            return
        with self.whole:
            if stage is not None:
                self.scene.show(stage.scene, aim=not self._aimed)
                self._aimed = True
                self.scene.move(self.hand.pose)
                self._show_windows()
            self.show()

    def _judged(self) -> None:
        if self.whole.is_deleted:
            return
        with self.whole:
            for region in self.regions:
                region.show()

    def _top(self) -> None:
        study = worked(self.desk)
        if study is None:
            return
        if study.build.fitup is None:
            unsaid(
                "Nothing says yet what the unit has to sit among",
                "Write [fitup] in build.toml: the members of the frame along measured points, the pieces of the "
                "unit, its output flanges and where the wheels go. docs/fitup.md shows each.",
                "fitup",
            )
            return
        for check in self.hand.checks:
            with look.panel(edge=look.mood_of(check)):
                look.mark(look.mood_of(check), f"{check.about}: {check.title}")
                ui.label(check.do).classes("hs-text")
        if self.hand.stage is None and not self.hand.checks:
            ui.label("The frame and the unit are being made ready.").classes("hs-title")

    def _moves(self) -> None:
        if self.hand.stage is not None:
            self.moves.draw(self.desk.units)

    def _numbers(self) -> None:
        draw_numbers(self.hand, self.desk.units)

    def _acts(self) -> None:
        if self.hand.stage is None:
            return
        look.button("Better it nearby", self._better)
        look.button("Take this place", self._take_place)
        look.button("As mocked up", lambda: self._go(self.hand.stage.mocked_up if self.hand.stage else None))
        look.button("Search from here", self._search, "main")

    def _places(self) -> None:
        found = self.fit_up
        if found is None:
            return
        if self._stale():
            ui.label("The search has been moved since: these places are from before.").classes("hs-faint")
        if not found.placing.places:
            names = ", ".join(found.placing.blocked_by) or "the bounds of the search"
            look.mark("bad", f"no place was found; in the way: {names}")
        with ui.element("div").classes("hs-cards-wide"):
            for place in _listed(found):
                self._place(place, found)

    def _place(self, place: Placed, found: FitUp) -> None:
        here = place.label == self.at
        button = ui.button(on_click=lambda: self._choose(place), color=None).props("unelevated no-caps")
        look.press(button.classes("hs-card hp-place"), here, "aria-pressed", "hs-here")
        units = self.desk.units
        with button:
            with look.row().classes("hs-row-tight"):
                ui.label("where the search began" if place is found.hand else place.label).classes("hs-title")
                if place.clearance_mm < 0.0:
                    look.mark("bad", "hits")
                elif not place.fits:
                    look.mark("bad", "does not fit")
                elif place.over_edge:
                    look.mark("care", "no whole window")
            for words in _told_of(place, units):
                ui.label(words).classes("hs-num hs-small hs-text")

    def _windows(self) -> None:
        if self.fit_up is not None and self.fit_up.chosen is not None:
            ui.label(f"For the place '{self.fit_up.chosen.label}'.").classes("hs-faint")
            draw_windows(self.fit_up.windows, self.desk.units)
        self._show_windows()

    def _show_windows(self) -> None:
        if self.hand.stage is not None:
            self.scene.open(self.fit_up.windows if self.fit_up else ())

    def _way(self) -> None:
        if self.fit_up is not None and self.fit_up.way is not None:
            from halfshaft.fitup.station import on_lift

            words = [one.step.words for one in on_lift(self.fit_up, self.desk.units)]
            self.player.draw(self.fit_up.way, words, self.desk.units)

    # acts

    def _dragged(self, shift_mm: Array, end: bool) -> None:
        self.at = ""
        self.player.stop()
        pose = Pose(self.hand.pose.rotation, shift_mm)
        self.hand.to(pose)
        self.scene.move(pose, drag=not end)
        if end:
            self.show()

    def _go(self, pose: Pose | None, at: str = "") -> None:
        if pose is None:
            return
        self.at = at
        self.player.stop()
        self.scene.wear(None)
        self.hand.to(pose)
        self.scene.move(pose)
        self.show()

    def _choose(self, place: Placed) -> None:
        self._go(place.pose, place.label)

    def _played(self, pose: Pose, on: tuple[str, ...]) -> None:
        self.scene.wear(on)
        self.scene.move(pose)

    async def _better(self) -> None:
        self.desk.say("Sliding to where nothing near is better", "note")
        await self.hand.better()
        with self.whole:
            self._go(self.hand.pose)

    async def _take_place(self) -> None:
        """Windows, way in and a unit that fit-up places are of where the unit stands; all of it is worked."""
        from halfshaft.fitup.taken import six_of

        stage = self.hand.stage
        if stage is None:
            return
        told = _place_keys(*six_of(stage.scene, self.hand.pose))
        if self.desk.change("place taken", lambda folder: save_values(folder, told)):
            await self.desk.fit_up()

    async def _search(self) -> None:
        """The search begins where the unit stands; then everything about its place is worked."""
        stage = self.hand.stage
        if stage is None:
            return
        if not _alike(self.hand.pose, stage.scene.bounds.begin):
            shift, turned = begin_of(stage.mocked_up, self.hand.pose, stage.middle_mm)
            told: dict[Any, Any] = {
                "fitup.begin": [f"{v:.2f} mm" for v in shift],
                "fitup.begin_turn": [f"{v:.3f} deg" for v in turned],
            }
            if self.desk.study is not None and self.desk.study.build.fitup is not None:
                told |= _still_taken(stage, self.desk.study.build.fitup.place, self.hand.pose)
            if not self.desk.change("unit put by hand", lambda folder: save_values(folder, told)):
                return
        await self.desk.fit_up()


def _place_keys(shift_mm: Array, turn_deg: Array) -> dict[Any, Any]:
    return {
        "fitup.place.shift": [f"{v + 0.0:.2f} mm" for v in np.round(shift_mm, 2)],
        "fitup.place.turn": [f"{v + 0.0:.3f} deg" for v in np.round(turn_deg, 3)],
    }


def _still_taken(stage: Stage, place: PlaceInput | None, begin: Pose) -> dict[Any, Any]:
    """What [fitup.place] must say for the place taken to stay where it is when the search begins elsewhere."""
    from halfshaft.fitup.taken import taken_pose

    return {} if place is None else _place_keys(*begin_of(begin, taken_pose(stage.scene, place), stage.middle_mm))


def _listed(found: FitUp) -> tuple[Placed, ...]:
    """The place taken, those found, those tried by hand, and where the search began."""
    taken = (found.chosen,) if found.taken and found.chosen else ()
    return (*taken, *found.placing.places, *found.placing.tried, *((found.hand,) if found.hand else ()))


def _told_of(place: Placed, units: Any) -> list[str]:
    if not place.cuts:
        words = ["nothing cut"]
    else:
        worst = max(place.cuts, key=lambda cut: cut.section_lost)
        words = [f"{place.removed_mm3 / 1000.0:.1f} cm³ cut, {worst.member} loses {100 * worst.section_lost:.0f} %"]
        if place.over_edge:
            words.append("the cut runs over an edge of its wall")
        elif np.isfinite(place.edge_mm):
            words.append(f"{format_length(place.edge_mm, units)} of metal to the nearest edge")
    if place.nearest:
        words.append(room_words(place, units))
    if place.clearance_mm < 0.0 and place.limits:
        words.append(place.limits[0])
    if place.shafts:
        words.append(f"joints {place.worst_angle_deg:.1f}°, {format_length(place.ground_mm, units)} over the ground")
    return words


def _alike(one: Pose, other: Pose) -> bool:
    return bool(
        np.allclose(one.shift_mm, other.shift_mm, atol=5e-3) and np.allclose(one.rotation, other.rotation, atol=2e-5)
    )


def _told(study: Study) -> str:
    found = study.fit_up
    if found is None:
        return "" if study.build.fitup is None else "not searched"
    if not found.placing.places:
        return "no place"
    way = found.way is not None and found.way.found
    return f"{len(found.placing.places)} places" + ("" if way else ", no way in")


def _draw(desk: Desk) -> None:
    PlacePage(desk)


_SYMBOL = "M3 20 H21 M6 20 V14 H18 V20 M9 14 V8 H15 V14 M12 3 V8 M9.5 5.5 L12 8 L14.5 5.5"
PAGE = Page("/place", "Place", _SYMBOL, _draw, _told, ("fitup",))
