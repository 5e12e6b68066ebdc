"""The table of readings: a study and units on show in, rows to search, change and take away out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.measure_rows import cells_of, changed, proposal_cells, removed
from halfshaft.bench.measure_words import signed, size, told
from halfshaft.build import BuildProblems, RowFaults, parse_row, rows_by_line
from halfshaft.build.readings import with_units
from halfshaft.build.schema import Reading
from halfshaft.build.value import UnitSystem
from halfshaft.measure import ReadingResult, Suspect
from halfshaft.measure.station import UNCHECKED
from halfshaft.measure.words import short_name
from halfshaft.study import Study

_COLUMNS = (
    ("mood", "", "left"),
    ("kind", "reading", "left"),
    ("points", "points", "left"),
    ("value", "read", "left"),
    ("adjusted", "adjusted", "right"),
    ("residual", "residual", "right"),
    ("redundancy", "checked", "right"),
    ("w", "w", "right"),
    ("do", "", "right"),
)
_EXPLAIN = {
    "residual": "read less adjusted",
    "redundancy": "how far other readings check it: 0 not at all, 1 wholly",
    "w": "residual in its own spreads; past 3.29 it is set aside as a slip (Baarda)",
}
_ORDERS = {"worst": "worst first", "newest": "newest first", "file": "as in the file"}
_PENCIL = "M5 19 L6 15 L16 5 L19 8 L9 18 Z"
_BIN = "M5 7 H19 M9 7 V4 H15 V7 M7 7 L8 20 H16 L17 7 M10.5 10.5 V16.5 M13.5 10.5 V16.5"


def _svg(path: str) -> str:
    return (
        '<span class="hs-symbol"><svg width="24" height="24" viewBox="0 0 24 24" aria-hidden="true">'
        f'<path d="{path}"/></svg></span>'
    )


# The rows are drawn inside the virtual scroll, whose parent is the table: hence the double parent.
# Everything that comes from the build goes in by {{ }} or a bound attribute, which show text as text.
_BODY = (
    r"""
<q-tr :props="props" :data-line="props.row.line"
    :class="'hs-m hs-m-' + props.row.mood + (props.row.lit ? ' hs-m-lit' : '')">
  <q-td class="hs-m-mark">"""
    + "".join(
        f"""<span v-if="props.row.mood === '{mood}'" class="hs-mark hs-{mood}">{look.shape(mood)}"""
        """<span>{{ props.row.state }}</span></span>"""
        for mood in ("bad", "care", "note", "good")
    )
    + r"""</q-td>
  <q-td>{{ props.row.kind }}</q-td>
  <q-td class="hs-m-points">{{ props.row.points }}<div v-if="props.row.note" class="hs-faint hs-small hs-m-note">{{
    props.row.note }}</div></q-td>
  <q-td><input v-if="props.row.kind !== 'mirror'" class="hs-cell" :value="props.row.value" autocomplete="off"
      :aria-label="'value of ' + props.row.label + ', line ' + props.row.line"
      @keydown.enter="$event.target.blur()"
      @keydown.esc="$event.target.value = props.row.value; $event.target.blur()"
      @change="$parent.$parent.$emit('typed', [props.row.id, $event.target.value])"></q-td>
  <q-td class="text-right hs-num">{{ props.row.adjusted }}</q-td>
  <q-td class="text-right hs-num">{{ props.row.residual }}</q-td>
  <q-td class="text-right hs-num hs-wide">{{ props.row.redundancy }}</q-td>
  <q-td class="text-right hs-num" :class="'hs-' + props.row.mood">{{ props.row.w }}</q-td>
  <q-td class="text-right hs-m-do">
    <q-btn unelevated no-caps class="hs-button hs-plain" :aria-label="'change ' + props.row.label"
      @click="$parent.$parent.$emit('pencil', props.row.id)">"""
    + _svg(_PENCIL)
    + r"""</q-btn>
    <q-btn unelevated no-caps class="hs-button hs-plain" :aria-label="'take away ' + props.row.label"
      @click="$parent.$parent.$emit('bin', props.row.id)">"""
    + _svg(_BIN)
    + r"""</q-btn></q-td>
</q-tr>
<q-tr v-if="props.row.words" class="q-virtual-scroll--with-prev hs-m-more">
  <q-td colspan="100%"><div class="hs-row"><span class="hs-text hs-grow">{{ props.row.words }}</span>
    <q-btn v-if="props.row.proposal" unelevated no-caps class="hs-button"
      @click="$parent.$parent.$emit('take', props.row.id)">
      Take the proposal: {{ props.row.proposal }}</q-btn></div></q-td>
</q-tr>
"""
)


class ReadingsTable:
    """All rows with what the adjustment makes of them; `search` shows only some."""

    def __init__(self, desk: Desk, change_row: Callable[[Reading], None]) -> None:
        self._desk = desk
        self._change_row = change_row
        self._order = "worst"
        self._slips_only = False
        self._shown: object = None
        self._about = ""
        with look.panel().classes("hs-readings"):
            with look.row():
                self._title = ui.label("Readings").classes("hs-title hs-grow")
                self._search = ui.input("search", placeholder="RL3, tape, note").props(
                    'outlined dense clearable autocomplete=off aria-label="search the readings"'
                )
                self._slips = look.button("slips only", self._turn_slips)
                order = ui.select(_ORDERS, value="worst", on_change=self._reorder)
                order.props('outlined dense aria-label="order of the readings"')
            columns = [{"name": name, "label": label, "field": name, "align": align} for name, label, align in _COLUMNS]
            self._table = ui.table(columns=columns, rows=[], row_key="id").classes("hs-readings-table")
            self._table.props(
                "flat dense virtual-scroll :virtual-scroll-item-size=56 :rows-per-page-options=[0] hide-pagination "
                "hide-bottom"
            )
            for name, words in _EXPLAIN.items():
                label = next(column[1] for column in _COLUMNS if column[0] == name)
                wide = "hs-wide" if name == "redundancy" else ""
                head = f'<abbr title="{words}">{label}</abbr>'
                self._table.add_slot(f"header-cell-{name}", f'<q-th :props="props" class="{wide}">{head}</q-th>')
            self._table.add_slot("body", _BODY)
            self._table.bind_filter_from(self._search, "value", lambda text: text or "")
            self._none = ui.label("no reading yet: type the first one above").classes("hs-faint")
        self._table.on("typed", lambda e: self._typed(e.args[0], e.args[1]))
        self._table.on("pencil", lambda e: self._pencil(e.args))
        self._table.on("bin", lambda e: self._bin(e.args))
        self._table.on("take", lambda e: self._take(e.args))
        self.show()
        look.follow(desk, self.show)

    def search(self, text: str) -> None:
        """Show the rows that hold a text."""
        self._search.set_value(text)

    def point_at(self, about: str) -> None:
        """Mark the readings that a check is about, by their label or a name in them, and bring them to the top."""
        self._about = about
        self._shown = None
        self.show()

    def show(self) -> None:
        study = self._desk.study
        shown = (study.measured if study else None, self._desk.units, self._order, self._slips_only)
        if shown == self._shown:
            return
        self._shown = shown
        rows = self._rows(study) if study else []
        slips = sum(row["mood"] == "bad" for row in rows)
        self._title.set_text(
            f"Readings: {len(rows)}, {slips} set aside as slips" if slips else f"Readings: {len(rows)}"
        )
        if self._slips_only:
            rows = [row for row in rows if row["mood"] == "bad"]
        if self._order == "worst":
            rows.sort(key=lambda row: (row["rank"], -row["weight"]))
        elif self._order == "newest":
            rows.reverse()
        rows.sort(key=lambda row: not row["lit"])
        self._none.set_visibility(not rows)
        self._table.rows = rows
        self._table.update()

    def _rows(self, study: Study) -> list[dict[str, Any]]:
        build, units = study.build, self._desk.units
        by_row: dict[int, ReadingResult] = {}
        for result in study.measured.readings:
            held = by_row.get(result.index)
            if held is None or abs(result.w) > abs(held.w) or (held.used and not result.used):
                by_row[result.index] = result
        suspects = {suspect.index: suspect for suspect in study.measured.suspects}
        unchecked = {c.about for c in study.measured.checks if not c.ok and c.title == UNCHECKED}
        try:
            written = dict(rows_by_line(self._desk.folder).values())
        except BuildProblems:
            written = {}
        out = []
        for index, reading in enumerate(build.readings):
            cells = written.get(reading.text, {})
            points = " ".join(short_name(build, name) for name in reading.names)
            row: dict[str, Any] = {
                "id": index,
                "line": reading.line,
                "label": f"{reading.kind} {points}",
                "kind": reading.kind,
                "points": points,
                "value": cells.get("value", ""),
                "note": " ".join(filter(None, [cells.get("with", ""), cells.get("note", "")])),
                "words": "",
                "proposal": "",
                "lit": self._about in (f"{reading.kind} {points}", *points.split()),
            }
            alone = row["label"] in unchecked
            row |= _judged(by_row.get(index), suspects.get(index), alone, reading, units)
            suspect = suspects.get(index)
            if suspect:
                row["words"] = suspect.words
                row["proposal"] = _proposal_words(study, suspect, units)
            out.append(row)
        return out

    # changes

    def _reading(self, index: int) -> Reading:
        assert self._desk.study is not None
        return self._desk.study.build.readings[int(index)]

    def _typed(self, index: int, value: str) -> None:
        reading, study = self._reading(index), self._desk.study
        assert study is not None
        try:
            cells = cells_of(self._desk, reading) | {"value": value}
            parse_row(cells, study.build, system=self._desk.units)
        except (RowFaults, BuildProblems) as why:
            self._desk.say(f"Not changed. {why}", "bad")
            self._again()
            return
        if self._desk.units != study.build.build.units:
            value = with_units(reading.kind, value, self._desk.units)
        label = self._label(reading)
        if not self._desk.change(f"value of {label}", changed(reading, {"value": value})):
            self._again()

    def _pencil(self, index: int) -> None:
        self._change_row(self._reading(index))

    def _bin(self, index: int) -> None:
        reading = self._reading(index)
        if self._desk.change(f"{self._label(reading)} taken away", removed(reading)):
            self._desk.say(f"{self._label(reading)} is taken away; undo brings it back", "note")

    def _take(self, index: int) -> None:
        study = self._desk.study
        suspect = next((s for s in study.measured.suspects if s.index == index), None) if study else None
        if suspect:
            take_proposal(self._desk, suspect)

    def _label(self, reading: Reading) -> str:
        assert self._desk.study is not None
        return " ".join([reading.kind, *(short_name(self._desk.study.build, n) for n in reading.names)])

    def _again(self) -> None:
        self._shown = None
        self._table.rows = []
        self._table.update()
        self.show()

    def _turn_slips(self) -> None:
        self._slips_only = not self._slips_only
        self._slips.classes(toggle="hs-on")
        self._slips.props(f"aria-pressed={'true' if self._slips_only else 'false'}")
        self.show()

    def _reorder(self, event: Any) -> None:
        self._order = str(event.value)
        self.show()


def take_proposal(desk: Desk, suspect: Suspect) -> None:
    """Change a suspect's row to what would agree."""
    study = desk.study
    if study is None or suspect.proposal is None:
        return
    reading = study.build.readings[suspect.index]
    try:
        cells = proposal_cells(study.build, suspect, cells_of(desk, reading))
    except BuildProblems as why:
        desk.say(str(why.problems[0]), "bad")
        return
    desk.change(f"proposal for {suspect.label}", changed(reading, cells))


def _proposal_words(study: Study, suspect: Suspect, units: UnitSystem) -> str:
    if suspect.proposal is None:
        return ""
    names, value = suspect.proposal
    reading = study.build.readings[suspect.index]
    parts = []
    if names != reading.names:
        parts.append(" ".join(short_name(study.build, name) for name in names))
    if value != reading.value:
        parts.append("; ".join(told(reading.kind, v, units) for v in value))
    return " ".join(parts)


def _judged(
    result: ReadingResult | None, suspect: Suspect | None, alone: bool, reading: Reading, units: UnitSystem
) -> dict[str, Any]:
    """What the adjustment makes of a row, as text; worst ranks first."""
    if result is None:
        return {
            "mood": "note", "state": "waits", "rank": 1, "weight": 0.0, "adjusted": "", "residual": "",
            "redundancy": "", "w": "", "words": "waits: what it names is not located yet",
        }  # fmt: skip
    bad = suspect is not None or not result.used
    mood = "bad" if bad else "care" if alone else "good"
    w = suspect.w if suspect else result.w
    return {
        "mood": mood,
        "state": {"bad": "slip", "care": "alone", "good": "ok"}[mood],
        "rank": 0 if bad else 2,
        "weight": abs(w),
        "adjusted": told(reading.kind, result.adjusted, units) or size(result.adjusted, result.unit, units),
        "residual": signed(result.residual, result.unit, units),
        "redundancy": "" if bad else f"{result.redundancy:.2f}",
        "w": f"{w:+.1f}" if w else "",
    }
