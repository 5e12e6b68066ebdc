"""Lists beside the measured view: slips, what is not located, what to measure next, and one thing that was picked."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.measure_entry import EntryLine
from halfshaft.bench.measure_rows import plain_cells
from halfshaft.bench.measure_table import ReadingsTable, take_proposal
from halfshaft.bench.measure_words import natural, told
from halfshaft.build.units import format_length
from halfshaft.measure import Measured
from halfshaft.measure.words import short_name
from halfshaft.study import Study


class Lists:
    """The three lists; drawn again when what is measured, or the units on show, change."""

    def __init__(self, desk: Desk, entry: EntryLine) -> None:
        self._desk, self._entry = desk, entry
        self._shown: object = None
        self._bracket = ""
        self._box = look.column()
        self.show()
        look.follow(desk, self.show)

    def show(self) -> None:
        study = self._desk.study
        shown = (study.measured if study else None, study.measure_next if study else None, self._desk.units)
        if shown == self._shown:
            return
        self._shown = shown
        self._box.clear()
        with self._box:
            if study is None:
                ui.label("The readings are being worked.").classes("hs-faint")
                return
            self._slips(study)
            self._unlocated(study)
            self._next(study)

    def _slips(self, study: Study) -> None:
        if not study.measured.suspects:
            return
        with look.panel("Slips: set aside until you settle them", "bad"):
            for suspect in study.measured.suspects:
                with ui.element("div").classes("hs-item"):
                    look.mark("bad", f"{suspect.label}, w {suspect.w:+.1f}")
                    ui.label(suspect.words).classes("hs-text")
                    with look.row():
                        if suspect.proposal is not None:
                            look.button("Take the proposal", lambda s=suspect: take_proposal(self._desk, s))
                        if suspect.index >= 0:
                            reading = study.build.readings[suspect.index]
                            look.button("Change the row", lambda r=reading: self._entry.change_row(r))

    def _unlocated(self, study: Study) -> None:
        if not study.measured.unlocated:
            return
        with look.panel("Not located yet", "care"):
            for missing in study.measured.unlocated:
                with ui.element("div").classes("hs-item"):
                    look.mark("care", short_name(study.build, missing.name))
                    ui.label(f"{missing.why}.").classes("hs-text")
                    with look.row():
                        ui.label("Take:").classes("hs-faint")
                        for taken in missing.take.split("; "):
                            self._to_take(taken)

    def _to_take(self, taken: str) -> None:
        kind, cut, points = taken.partition(", ")
        if cut and " " not in kind:
            cells = {"reading": kind, "points": points.partition(",")[0]}
            look.button(taken, lambda: self._entry.take(cells))
        else:
            ui.label(taken).classes("hs-text")

    def _next(self, study: Study) -> None:
        asked = {name: taken for name, taken in study.measure_next.items() if taken}
        with look.panel("Measure next"):
            if not asked:
                ui.label("No bracket asks for a further reading.").classes("hs-faint")
                return
            if self._bracket not in asked:
                self._bracket = next(iter(asked))
            choice = ui.select(
                list(asked),
                value=self._bracket,
                label="what helps the holes of",
                on_change=lambda e: self._other(e.value),
            )
            choice.props('outlined dense aria-label="bracket"')
            self._readings(study, self._bracket)

    def _other(self, bracket: str) -> None:
        self._bracket = bracket
        self._shown = None
        self.show()

    def _readings(self, study: Study, bracket: str) -> None:
        units = self._desk.units
        for number, reading in enumerate(study.measure_next[bracket], 1):
            cells = plain_cells(study.build, reading.kind, reading.names, reading.instrument, reading.frame)
            with ui.element("div").classes("hs-item hs-next"):
                with ui.element("div").classes("hs-grow"):
                    ui.label(f"{number}. {reading.kind} {cells['points']}").classes("hs-strong")
                    about = told(reading.kind, reading.expected, units)
                    ui.label(f"with the {reading.instrument.replace('_', ' ')}, about {about}").classes("hs-small")
                    before, after = format_length(reading.before_mm, units), format_length(reading.after_mm, units)
                    ui.label(f"holes among themselves: {before} -> {after}").classes("hs-small hs-faint")
                look.button("Take it", lambda cells=cells: self._entry.take(cells))


class Picked:
    """What was tapped in the view or the list of points: where it is, how well known, and its readings."""

    def __init__(self, desk: Desk, entry: EntryLine, table: Callable[[], ReadingsTable]) -> None:
        self._desk, self._entry, self._table = desk, entry, table
        self._name = ""
        self._box = ui.element("div").classes("hs-picked").props('role="status"')
        self.show()
        look.follow(desk, self.show)

    def pick(self, name: str) -> None:
        self._name = name
        self.show()

    def show(self) -> None:
        self._box.clear()
        study = self._desk.study
        with self._box:
            if study is None or self._name not in {*study.measured.points, *study.measured.faces}:
                ui.label("Tap a point or a face, or pick it in the list of points.").classes("hs-faint")
                return
            short = short_name(study.build, self._name)
            ui.label(short).classes("hs-strong")
            ui.label(_described(study.measured, self._name, self._desk)).classes("hs-text hs-num hs-grow")
            look.button("Put in the line", lambda: self._entry.add_name(short))
            look.button("Its readings", lambda: self._table().search(short))


def _described(measured: Measured, name: str, desk: Desk) -> str:
    units = desk.units
    if name in measured.faces:
        face = measured.faces[name]
        parts = zip(face.plane.normal, ("forward", "left", "up"), strict=True)
        return f"face over {len(face.points)} points; looks {', '.join(f'{part:+.3f} {way}' for part, way in parts)}"
    point = measured.points[name]
    half, ways = point.ellipsoid_mm
    x, y, z = (format_length(float(v), units) for v in point.xyz_mm)
    spread = format_length(float(half[0]), units)
    along = ("along", "across", "in height")[int(abs(ways[:, 0]).argmax())]
    own = "" if point.tied else f", in the axes of {point.body}"
    return f"{x} forward, {y} left, {z} up{own}; within {spread} at 95 %, worst {along}"


class PointList:
    """Every point as a row with a button: the view without a pointer."""

    def __init__(self, desk: Desk, pick: Callable[[str], None]) -> None:
        self._desk, self._pick = desk, pick
        self._shown: object = None
        with ui.expansion("Points and faces as a list").classes("hs-points") as self._opened:
            self._box = ui.element("div").classes("hs-scroll")
        self._opened.on_value_change(self.show)
        self.show()
        look.follow(desk, self.show)

    def show(self) -> None:
        study = self._desk.study
        shown = (study.measured if study else None, self._desk.units)
        if study is None or shown == self._shown or not self._opened.value:
            return  # a long list: drawn for who wants it
        self._shown = shown
        units, build, measured = self._desk.units, study.build, study.measured
        self._box.clear()
        with self._box, ui.element("table").classes("hs-table"):
            with ui.element("tr"):
                for head in ("point", "forward", "left", "up", "within, 95 %"):
                    with ui.element("th"):
                        ui.label(head)
            for name in sorted(measured.points, key=natural):
                point = measured.points[name]
                half, _ = point.ellipsoid_mm
                self._row(short_name(build, name), name, [*point.xyz_mm.tolist(), float(half[0])], units)
            for name in sorted(measured.faces, key=natural):
                self._row(short_name(build, name), name, [*measured.faces[name].middle_mm.tolist()], units)

    def _row(self, short: str, name: str, lengths: list[float], units: str) -> None:
        with ui.element("tr"):
            with ui.element("td"):
                look.button(short, lambda: self._pick(name), "plain")
            for value in lengths:
                with ui.element("td").classes("hs-num"):
                    ui.label(format_length(value, units))
