"""Results as plain tables of text, in the builder's units: what the terminal prints and what stands in out/*.csv."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.moving_units import (
    M_PER_MILE,
    M_S_PER_MPH,
)
from halfshaft.build.units import (
    KG_PER_POUND,
    N_PER_POUND_FORCE,
    format_force,
    format_length,
    format_mass,
    format_sheet,
    format_thickness,
)
from halfshaft.build.value import UnitSystem
from halfshaft.checks import Assumed, Check, Good, worst_first
from halfshaft.cut import CutFiles
from halfshaft.cut.cautions import CUTTING, FOLDING, FRAME, LOADS
from halfshaft.fold.model import Bracket
from halfshaft.measure.model import Measured
from halfshaft.measure.next_best import NextReading

if TYPE_CHECKING:
    from halfshaft.fitup.model import Placed
    from halfshaft.fitup.station import FitUp

Array = NDArray[np.float64]

CAUTIONS = (*FRAME, *LOADS, CUTTING[1], FOLDING[1])


NOUGHT = 1e-9  # what is smaller is what rounding left of nothing

# what checks tell in metric units besides lengths -> as an inch build reads it
_INCH: Mapping[str, tuple[str, Callable[[float], float]]] = {
    "km": ("mi", lambda km: 1000.0 * km / M_PER_MILE),
    "km/h": ("mph", lambda kmh: kmh / 3.6 / M_S_PER_MPH),
    "C": ("F", lambda celsius: 1.8 * celsius + 32.0),
    "kg": ("lb", lambda kilos: kilos / KG_PER_POUND),
    "N": ("lbf", lambda newtons: newtons / N_PER_POUND_FORCE),
}


@dataclass(frozen=True)
class Table:
    """`right` tells the columns that hold numbers; a row may be marked 'bad', 'care', 'good' or ''."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()
    mood: tuple[str, ...] = ()
    empty: str = "nothing to show"

    def as_csv(self) -> str:
        """The table as CSV text (RFC 4180), first row the columns."""
        out = io.StringIO()
        writer = csv.writer(out)
        writer.writerow(self.columns)
        writer.writerows(self.rows)
        return out.getvalue()


def amount(value: float | None, unit: str, units: UnitSystem) -> str:
    """A number with its unit as the builder reads it."""
    if value is None:
        return ""
    if abs(value) < NOUGHT:
        value = 0.0
    if unit == "mm":
        return format_length(value, units)
    if units == "inch" and unit in _INCH:
        unit, value = _INCH[unit][0], _INCH[unit][1](value)
    return f"{value:.4g} {unit}".strip()


def points_table(measured: Measured, units: UnitSystem) -> Table:
    rows = []
    for point in measured.points.values():
        half, _ = point.ellipsoid_mm
        where = tuple(format_length(float(v), units) for v in point.xyz_mm)
        body = point.body if point.tied else f"{point.body} (own axes)"
        ways = (format_length(float(half[0]), units), format_length(float(half[2]), units))
        rows.append((point.name.split(".", 1)[1], body, *where, *ways))
    columns = ("point", "body", "x forward", "y left", "z up", "± worst way (95 %)", "± best way (95 %)")
    return Table("Points", columns, tuple(rows), right=(2, 3, 4, 5, 6), empty="no point is located")


def readings_table(measured: Measured, units: UnitSystem) -> Table:
    rows, moods = [], []
    for reading in measured.readings:

        def told(value: float, unit: str = reading.unit) -> str:
            return amount(value, unit, units) if unit == "mm" else f"{value:.2f}°"

        rows.append(
            (
                str(reading.line) if reading.line else "face",
                reading.label,
                told(reading.value),
                told(reading.adjusted),
                ("" if reading.residual < 0.0 else "+") + told(reading.residual),
                told(reading.spread),
                f"{reading.redundancy:.2f}",
                f"{reading.w:+.1f}" if np.isfinite(reading.w) else "unchecked",
                told(reading.least_seen) if np.isfinite(reading.least_seen) else "none",
                "yes" if reading.used else "set aside",
            )
        )
        moods.append("" if reading.used else "bad")
    columns = (
        "line",
        "reading",
        "read",
        "adjusted",
        "residual",
        "spread",
        "redundancy",
        "w",
        "least slip seen",
        "used",
    )
    return Table("Readings", columns, tuple(rows), right=tuple(range(2, 9)), mood=tuple(moods))


def suspects_table(measured: Measured) -> Table:
    rows = tuple(
        (f"line {s.line}" if s.line else "face", s.label, s.kind, f"{s.w:+.1f}", s.words) for s in measured.suspects
    )
    columns = ("readings.csv", "reading", "looks like", "w", "what to do")
    return Table("Slips found", columns, rows, right=(3,), mood=("bad",) * len(rows), empty="no slip found")


def unlocated_table(measured: Measured) -> Table:
    rows = tuple((u.name, u.why, u.take) for u in measured.unlocated)
    return Table("Not located", ("name", "why", "take this reading"), rows, mood=("bad",) * len(rows))


def next_table(asked: Mapping[str, Sequence[NextReading]], units: UnitSystem) -> Table:
    rows = tuple(
        (
            bracket,
            str(number),
            f"{reading.kind}, again" if reading.repeat else reading.kind,
            " ".join(name.split(".", 1)[-1] for name in reading.names),
            reading.instrument,
            amount(reading.expected, reading.unit, units),
            format_length(reading.before_mm, units),
            format_length(reading.after_mm, units),
        )
        for bracket, readings in asked.items()
        for number, reading in enumerate(readings, 1)
    )
    columns = ("bracket", "", "reading", "points", "with", "will read about", "holes ± now", "then")
    return Table("Measure next", columns, rows, right=(1, 5, 6, 7), empty="no reading would help the holes")


def brackets_table(brackets: Iterable[Bracket], units: UnitSystem) -> Table:
    rows, moods = [], []
    for bracket in brackets:
        stops = [c for c in bracket.checks if not c.ok and c.severity == "stop"]
        cautions = [c for c in bracket.checks if not c.ok and c.severity == "caution"]
        fit = f"{100 * bracket.fit.passes:.1f} ± {100 * bracket.fit.standard_error:.1f} %" if bracket.fit else ""
        spoils = bracket.fit.holes[0].hole if bracket.fit and bracket.fit.holes else ""
        angles = " ".join(f"{fold.angle_deg:.1f}°" for fold in bracket.folds)
        rows.append(
            (
                bracket.name,
                f"{bracket.sheet}, {format_sheet(bracket.thickness_mm, units)}",
                str(len(bracket.panels) - len(bracket.gussets)),
                angles,
                format_mass(bracket.mass_kg, units),
                fit,
                spoils,
                "; ".join(c.title for c in (stops or cautions)[:2]) or "ready to cut",
            )
        )
        moods.append("bad" if stops else "care" if cautions else "good")
    columns = ("bracket", "sheet", "panels", "folds", "mass", "chance of fit", "worst hole", "state")
    return Table("Brackets", columns, tuple(rows), right=(2, 4, 5), mood=tuple(moods), empty="no bracket in build.toml")


def places_table(fit_up: FitUp, units: UnitSystem) -> Table:
    """The place taken and the short list, then the places that the builder put by hand, with why they fail."""
    from halfshaft.fitup.taken import six_of

    rows, mood = [], []
    for place in _all_places(fit_up):
        assert fit_up.scene is not None  # there is no place without one
        shift, turned = six_of(fit_up.scene, place.pose)
        worst = max(place.cuts, key=lambda cut: cut.section_lost, default=None)
        rows.append(
            (
                place.label,
                "yes" if place.fits else "no",
                " ".join(_moved(float(v), units) for v in shift),
                " ".join(f"{v + 0.0:.1f}" for v in np.round(turned, 1)),
                f"{place.removed_mm3 / 1000.0:.1f} cm³" if place.cuts else "none",
                f"{worst.member} {100.0 * worst.section_lost:.0f} %" if worst else "",
                _to_edge(place, units),
                f"{format_length(place.clearance_mm, units)} to {place.nearest}" if place.nearest else "",
                f"{place.worst_angle_deg:.1f}°" if place.shafts else "",
                format_length(place.ground_mm, units),
            )
        )
        mood.append("bad" if not place.fits else "care" if place.over_edge else "")
    columns = (
        "place", "fits", "forward, left, up", "turned °", "metal cut", "section lost", "cut to edge", "least room",
        "joints", "over ground",
    )  # fmt: skip
    return Table("Places, from where the search begins", columns, tuple(rows), (4, 8, 9), tuple(mood), "no place found")


def _to_edge(place: Placed, units: UnitSystem) -> str:
    if place.over_edge:
        return "runs over"
    return format_length(place.edge_mm, units) if np.isfinite(place.edge_mm) else ""


def limits_table(fit_up: FitUp) -> Table:
    """What limits each place, and why those put by hand fail, the worst first."""
    places = _all_places(fit_up)
    rows = tuple((place.label, "; ".join(place.limits[:4])) for place in places)
    mood = tuple("" if place.fits else "bad" for place in places)
    return Table("What limits them", ("place", "the tightest first"), rows, (), mood, "no place found")


def _all_places(fit_up: FitUp) -> tuple[Placed, ...]:
    """The place taken, the short list, the mocked-up place, those put by hand."""
    taken = (fit_up.chosen,) if fit_up.taken and fit_up.chosen else ()
    hand = (fit_up.hand,) if fit_up.hand else ()
    return (*taken, *fit_up.placing.places, *hand, *fit_up.placing.tried)


def _moved(value_mm: float, units: UnitSystem) -> str:
    return f"{value_mm + 0.0:.1f}" if units == "metric" else f"{value_mm / 25.4 + 0.0:.2f}"


def take_words(fit_up: FitUp) -> str:
    """What to write in build.toml to take the place that windows and way in are of."""
    from halfshaft.fitup.taken import six_of

    if fit_up.scene is None or fit_up.chosen is None or fit_up.taken:
        return ""
    shift, turned = six_of(fit_up.scene, fit_up.chosen.pose)
    told = ", ".join(f'"{v + 0.0:.1f} mm"' for v in np.round(shift, 1))
    turns = ", ".join(f"{v + 0.0:.2f}" for v in np.round(turned, 2))
    first = f"To take '{fit_up.chosen.label}', write in build.toml:"
    return f"{first}\n  [fitup.place]\n  shift = [{told}]\n  turn = [{turns}]"


def way_table(fit_up: FitUp, units: UnitSystem) -> Table:
    """The way in, step by step, and the same steps with the car let down on a lift."""
    from halfshaft.fitup.station import on_lift

    way = fit_up.way
    rows = (
        [
            (f"{number}", step.words, other.step.words, ", ".join(step.pieces_on))
            for number, (step, other) in enumerate(zip(way.steps, on_lift(fit_up, units), strict=True), 1)
        ]
        if way
        else []
    )
    blocked = f"no way in was found; in the way: {', '.join(way.blocked_by)}" if way and way.blocked_by else ""
    return Table(
        "Way in",
        ("step", "unit on a jack", "or the car on a lift", "pieces on"),
        tuple(rows),
        (0,),
        (),
        blocked or "no way in was looked for",
    )


def windows_table(fit_up: FitUp, units: UnitSystem) -> Table:
    """Openings to cut for the place chosen, and the member's section at its worst station, whole and cut."""
    rows = []
    for window in fit_up.windows:
        size = np.ptp(window.contour.flattened_mm(), axis=0)
        edge = min(window.edges_mm.values(), default=np.inf)
        whole, left = window.section.before, window.section.after
        rows.append(
            (
                window.wall.called,
                window.piece,
                f"{format_length(float(size[0]), units)} x {format_length(float(size[1]), units)}",
                f"{window.removed_mm3 / 1000.0:.1f} cm³",
                format_length(edge, units) if np.isfinite(edge) else "",
                f"{whole.area_mm2 / 100.0:.2f} to {left.area_mm2 / 100.0:.2f}",
                f"{whole.iu_mm4 / 1e4:.1f} to {left.iu_mm4 / 1e4:.1f}",
                f"{whole.iv_mm4 / 1e4:.1f} to {left.iv_mm4 / 1e4:.1f}",
                f"{whole.j_mm4 / 1e4:.3g} to {left.j_mm4 / 1e4:.3g}",
            )
        )
    columns = (
        "wall", "for", "opening", "metal", "to the nearest edge", "area cm²", "I up cm⁴", "I side cm⁴", "J cm⁴",
    )  # fmt: skip
    return Table("Windows to cut", columns, tuple(rows), tuple(range(2, 9)), (), "no member is cut")


def mood_of(check: Check) -> str:
    return "" if check.ok else {"stop": "bad", "caution": "care"}.get(check.severity.value, "")


def against(check: Check, units: UnitSystem) -> str:
    """'found 3.2 mm, at least 5 mm'; empty where the judgement has no number."""
    if check.found is None:
        return ""
    found = f"found {amount(check.found, check.unit, units)}"
    if check.limit is None or check.good is Good.TOLD:
        return found
    return f"{found}, wanted {check.good.value} {amount(check.limit, check.unit, units)}"


def checks_table(checks: Iterable[Check], units: UnitSystem, title: str = "Checks") -> Table:
    rows, moods = [], []
    for check in worst_first(checks):
        limit = amount(check.limit, check.unit, units)
        sense = "" if check.good is Good.TOLD or not limit else f"{check.good.value} "
        rows.append(
            (
                "ok" if check.ok else check.severity.value,
                check.station,
                check.about,
                check.title,
                amount(check.found, check.unit, units),
                sense + limit,
                check.do,
                str(check.source),
            )
        )
        moods.append(mood_of(check))
    columns = ("", "station", "about", "check", "found", "limit", "what to do", "source")
    return Table(title, columns, tuple(rows), right=(4, 5), mood=tuple(moods))


def assumed_table(assumed: Iterable[Assumed]) -> Table:
    rows = tuple(dict.fromkeys((a.where, a.value, str(a.source)) for a in assumed))
    return Table("Assumed, because the build does not say", ("write this key to change it", "value", "source"), rows)


def folds_table(bracket: Bracket, units: UnitSystem) -> Table:
    """Folds in the order to fold them."""
    order = {name: number for number, name in enumerate(bracket.fold_order, 1)}
    rows = tuple(
        (
            str(order.get(f.name, "")),
            f.name,
            f.kind,
            "up" if f.up else "down",
            f"{f.angle_deg:.1f}°",
            format_length(f.length_mm, units),
            format_length(f.setback_mm, units),
            format_length(f.pivot_depth_mm, units),
            *(
                (str(len(f.bridges)), format_force(f.hand_force_n, units), format_length(f.weld_length_mm, units))
                if f.kind == "slit"
                else ("", "", "")
            ),
        )
        for f in sorted(bracket.folds, key=lambda f: order.get(f.name, 99))
    )
    columns = ("", "fold", "kind", "way", "turn", "length", "setback", "pivot", "bridges", "hand force", "weld")
    return Table(f"Folds of {bracket.name}", columns, rows, right=tuple(range(4, 11)), empty="none")


def gussets_table(bracket: Bracket, units: UnitSystem) -> Table:
    """Each gusset's plate and how it is welded to its two panels."""
    rows = tuple(
        (
            g.panel,
            f"{g.a}, {g.b}",
            format_sheet(bracket.panels[g.panel].thickness_mm, units),
            format_length(g.foot_length_mm(g.a), units),
            format_length(g.foot_length_mm(g.b), units),
            format_thickness(g.leg_mm, units),
        )
        for g in bracket.gussets
    )
    columns = ("", "between", "thick", "first foot", "other foot", "fillets' leg")
    return Table(f"Gussets of {bracket.name}", columns, rows, right=tuple(range(2, 6)), empty="none")


def files_table(files: CutFiles) -> Table:
    """One row for a part: what was written of it."""
    by_part: dict[tuple[str, str], list[str]] = {}
    for file in files.files:
        by_part.setdefault((file.path.rsplit("/", 1)[0], file.part), []).append(file.kind)
    rows = tuple((where, part, ", ".join(kinds)) for (where, part), kinds in by_part.items())
    mood = tuple("bad" if "refusal" in row[2] else "" for row in rows)
    return Table("Files", ("in", "part", "written"), rows, mood=mood, empty="no file was written")
