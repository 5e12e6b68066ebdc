"""Road: how far against speed and cold with its band and what makes it, charging, pull, a long climb."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

from nicegui import ui

from halfshaft import tables_road
from halfshaft.bench import chart, look
from halfshaft.bench.choices_view import ChoicesView
from halfshaft.bench.desk import Desk
from halfshaft.bench.fold_out import fold_out
from halfshaft.bench.head import unsaid, worked
from halfshaft.bench.judged import draw_judged
from halfshaft.bench.page import Page, asked_of_page
from halfshaft.bench.plain_table import draw_table
from halfshaft.bench.region import Region, apart
from halfshaft.bench.road_charts import (
    charge_charts,
    climb_charts,
    each_ten_words,
    range_by_speed,
    range_by_temperature,
)
from halfshaft.build.moving_units import format_speed, format_way
from halfshaft.road.cautions import CHARGING, DRIVING
from halfshaft.study import Study

if TYPE_CHECKING:
    from halfshaft.road.model import Plug, Road


_LOOK_SECONDS = 3.0


class RoadPage:
    """The page in one browser."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.plug = ""
        self._about = asked_of_page().get("about", "")
        self._buttons: dict[str, ui.button] = {}
        chart.add_style()
        look.add_sheet("road")
        top = apart()
        self.whole = look.column().style("gap: 16px")
        with self.whole:
            first = apart()
            ranges = apart("hs-pair")
            band = apart()
            with look.panel("Charging"):
                choices = apart("hs-row").props('role="radiogroup" aria-label="where it is charged"')
                charging = apart()
            with ui.element("div").classes("hs-pair"):
                pull = apart()
                climb = apart()
            judged = apart()
            self.choices = ChoicesView(apart(), desk)
            more = apart()
        self.regions = [
            Region(top, self._top_key, self._top),
            Region(first, self._key, self._first),
            Region(ranges, self._key, self._ranges),
            Region(band, self._key, self._band),
            Region(choices, lambda: self.road and tuple(one.name for one in self.road.plugs), self._choices),
            Region(charging, lambda: (self.plug, *self._key()), self._charging),
            Region(pull, self._key, self._pull),
            Region(climb, self._key, self._climb),
            Region(judged, self._key, self._judged),
            Region(more, self._key, self._more),
        ]
        self.show()
        look.follow(desk, self.show)
        ui.timer(_LOOK_SECONDS, self.choices.show)  # another process writes that file

    @property
    def road(self) -> Road | None:
        """As last worked."""
        return self.desk.study.road if self.desk.study else None

    def _key(self) -> tuple[Any, ...]:
        return self.road, self.desk.units

    def _top_key(self) -> Any:
        study = self.desk.study
        return study is None, bool(study and study.build.car), self.road is None, self.desk.behind

    # drawing

    def show(self) -> None:
        """Bring every part of the page up to what stands on the desk."""
        road = self.road
        self.whole.set_visibility(road is not None)
        if road is not None and self.plug not in [one.name for one in road.plugs]:
            fast_first = sorted(road.plugs, key=lambda one: one.kind != "station")
            asked = [one.name for one in fast_first if one.name in self._about]
            self.plug = next(iter([*asked, *(one.name for one in fast_first)]), "")
        for region in self.regions:
            region.show()
        if road is not None:
            self.choices.show()
        for name, button in self._buttons.items():
            look.press(button, name == self.plug, "aria-checked")

    def _top(self) -> None:
        study = worked(self.desk)
        if study is None:
            return
        if study.build.car is None:
            unsaid(
                "Nothing says yet what car it is",
                "Write [car] in build.toml: its mass, its drag, its motor and gear; [road] for what is driven and "
                "where it is charged. docs/road.md shows each.",
                "car",
            )
        elif self.road is None:
            ui.label("The road is being worked.").classes("hs-title")
        elif self.desk.behind:
            ui.label("Being worked again: what stands here may be from before the last change.").classes("hs-faint")

    def _first(self) -> None:
        """The few numbers that are asked for first."""
        road, units = self.road, self.desk.units
        if road is None:
            return
        with ui.element("div").classes("hr-first"):
            for one in [one for one in road.drives if one.kind != "steady"][:2]:
                band = ""
                if one.band is not None and one.band.high_m < float("inf"):
                    low, high = format_way(one.band.low_m, units), format_way(one.band.high_m, units)
                    band = f"in nine cases of ten {low} to {high}"
                _fact(f"range on {one.name}", format_way(one.range_m, units), band)
            plug = next((one for one in road.plugs if one.kind == "station"), next(iter(road.plugs), None))
            if plug is not None:
                gained = format_way(plug.ten_minutes_m, units)
                _fact(f"in ten minutes at {plug.name}", gained, "from a charge of 10 %")
            sprint = ("0 to 100 km/h", road.pull.hundred_s) if units == "metric" else ("0 to 60 mph", road.pull.sixty_s)
            _fact(sprint[0], tables_road.seconds_words(sprint[1]), "with what the tyres hold")
            _fact("top speed", format_speed(road.pull.top_m_s, units), "")

    def _ranges(self) -> None:
        road, units = self.road, self.desk.units
        if road is None:
            return
        with look.panel("Range against steady speed"):
            _draw_or(range_by_speed(road, units), "There is no end to it, or no speed that the car reaches.")
            ui.label("On the flat, on the day told in [road]. Shaded: nine cases of ten.").classes("hs-faint hs-small")
        with look.panel("Range against the day's temperature"):
            _draw_or(range_by_temperature(road, units), "No cycle is told.")
            ui.label("The pack is as cold as the day. Shaded: nine cases of ten.").classes("hs-faint hs-small")

    def _band(self) -> None:
        road, units = self.road, self.desk.units
        one = next((one for one in road.drives if one.band is not None and one.band.shares), None) if road else None
        if one is None or one.band is None:
            return
        with look.panel(f"What makes the band of {one.name} so wide"):
            bars = [
                (share.words, share.share, f"{100.0 * share.share:.0f} %, {_pm(share.one_spread_m, units)}")
                for share in one.band.shares
            ]
            _bars(bars)
            ui.label(
                "Share of the variance, and what one spread of it does to the range. Measure what stands first: say a "
                "mass from scales, a coast-down from the road."
            ).classes("hs-faint hs-small hs-text")

    def _choices(self) -> None:
        self._buttons = {}
        if self.road is None:
            return
        if not self.road.plugs:
            ui.label("No socket and no station is told: write [road.socket.NAME] or [road.station.NAME].").classes(
                "hs-faint hs-text"
            )
        for one in self.road.plugs:
            words = f"{one.name}, {one.wall_w / 1000.0:.1f} kW"
            self._buttons[one.name] = look.button(words, partial(self._choose, one.name)).props('role="radio"')

    def _charging(self) -> None:
        plug = self._plugged()
        if plug is None or self.road is None:
            return
        units = self.desk.units
        draw_table(tables_road.charging_table(self.road, units))
        if len(plug.run.time_s) > 1:
            with ui.element("div").classes("hs-pair"):
                power, volts, charge = charge_charts(plug)
                with look.column():
                    chart.draw(power)
                    chart.draw(volts)
                with look.column():
                    chart.draw(charge)
                    ui.label("Way gained in each ten minutes").classes("hs-title")
                    rows = each_ten_words(plug, units)
                    _bars(rows if plug.kind == "station" else rows[:1])  # a socket's hardly change
            ui.label(_bounded_words(plug)).classes("hs-faint hs-small hs-text")
        else:
            ui.label(f"It does not charge there: {plug.run.ended}.").classes("hs-text")

    def _pull(self) -> None:
        if self.road is not None:
            with look.panel("Pull"):
                draw_table(tables_road.pull_table(self.road, self.desk.units))

    def _climb(self) -> None:
        road, units = self.road, self.desk.units
        if road is None:
            return
        with look.panel("A long climb"):
            for one in climb_charts(road, units):
                chart.draw(one)
            held = format_speed(road.climb_lasting_m_s, units)
            ui.label(f"{held} can be held there for good.").classes("hs-text hs-num")

    def _judged(self) -> None:
        if self.road is not None:
            draw_judged(self.road.checks, self.desk.units, self._about)

    def _more(self) -> None:
        road, units = self.road, self.desk.units
        if road is None:
            return
        with look.panel("Every drive"):
            draw_table(tables_road.range_table(road, units))
        for table in (
            tables_road.energy_table(road, units),
            tables_road.weather_table(road, units),
            tables_road.climb_table(road, units),
            tables_road.band_table(road),
        ):
            fold_out(table.title, partial(draw_table, table))
        with look.panel():
            for words in (DRIVING, CHARGING):
                ui.label(words).classes("hs-faint hs-small hs-text")

    # acts

    def _plugged(self) -> Plug | None:
        plugs = self.road.plugs if self.road else ()
        return next((one for one in plugs if one.name == self.plug), None)

    def _choose(self, name: str) -> None:
        self.plug = name
        self.show()


def _fact(words: str, number: str, more: str) -> None:
    with ui.element("div").classes("hr-fact"):
        ui.label(words).classes("hs-faint hs-text")
        ui.label(number).classes("hr-big")
        if more:
            ui.label(more).classes("hs-num hs-small hs-text")


def _draw_or(one: chart.Chart | None, words: str) -> None:
    if one is None:
        ui.label(words).classes("hs-faint")
    else:
        chart.draw(one)


def _bars(rows: Sequence[tuple[str, float, str]]) -> None:
    """Words, share of the longest bar's room, and the number."""
    most = max((share for _, share, _ in rows), default=0.0)
    with ui.element("div").classes("hc-bars"):
        for words, share, told in rows:
            ui.label(words).classes("hs-text")
            ui.element("div").classes("hc-bar").style(f"width: {100.0 * share / most if most else 0.0:.1f}%")
            ui.label(told).classes("hs-num hs-small")


def _pm(metres: float, units: Any) -> str:
    return f"± {format_way(abs(metres), units)}"


def _bounded_words(plug: Plug) -> str:
    """What bounds the charging, from which charge on."""
    parts: list[str] = []
    before = ""
    for charge, limit in zip(plug.run.charge, plug.run.limit, strict=True):
        if limit != before:
            parts.append(f"{limit} from {100.0 * charge:.0f} %")
            before = limit
    more = "; ".join(parts[:6]) + (" ..." if len(parts) > 6 else "")
    return f"Bounded by: {more}. It ended: {plug.run.ended}."


def _told(study: Study) -> str:
    road = study.road
    if study.build.car is None:
        return ""
    if road is None:
        return "not worked"
    far = next((one for one in road.drives if one.kind != "steady"), next(iter(road.drives), None))
    return "no drive" if far is None else format_way(far.range_m, study.build.build.units)


def _draw(desk: Desk) -> None:
    RoadPage(desk)


_SYMBOL = "M4 20 L9 4 M20 20 L15 4 M12 5 V8 M12 11 V14 M12 17 V20"
PAGE = Page("/road", "Road", _SYMBOL, _draw, _told, ("road",))
