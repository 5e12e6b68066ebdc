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
    format_speed,
    format_temperature,
    format_use,
    format_way,
)
from halfshaft.build.units import (
    KG_PER_POUND,
    N_PER_POUND_FORCE,
    format_force,
    format_length,
    format_mass,
    format_thickness,
)
from halfshaft.build.value import UnitSystem
from halfshaft.checks import Assumed, Check, Good, worst_first
from halfshaft.cut import CutFiles
from halfshaft.cut.cautions import CUTTING, FOLDING, FRAME, LOADS
from halfshaft.fold.model import Bracket
from halfshaft.measure.model import Measured
from halfshaft.measure.next_best import NextReading
from halfshaft.road.cautions import CHARGING, DRIVING

if TYPE_CHECKING:
    from halfshaft.fitup.model import Placed
    from halfshaft.fitup.station import FitUp
    from halfshaft.mounts.model import Mount, Mounts
    from halfshaft.road.label import Printed
    from halfshaft.road.model import Drive, Road
    from halfshaft.road.plain_car import PlainUse

Array = NDArray[np.float64]

CAUTIONS = (*FRAME, *LOADS, CUTTING[1], FOLDING[1])
ROAD_CAUTIONS = (DRIVING, CHARGING)


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
        rows.append((point.name.split(".", 1)[1], body, *where, f"{half[0]:.2f}", f"{half[2]:.2f}"))
    columns = ("point", "body", "x forward", "y left", "z up", "± worst way mm (95 %)", "± best way mm (95 %)")
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
                f"{reading.residual:+.2f}",
                f"{reading.spread:.2f}",
                f"{reading.redundancy:.2f}",
                f"{reading.w:+.1f}" if np.isfinite(reading.w) else "unchecked",
                f"{reading.least_seen:.1f}" if np.isfinite(reading.least_seen) else "none",
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
    rows = tuple((f"line {s.line}", s.label, s.kind, f"{s.w:+.1f}", s.words) for s in measured.suspects)
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
            reading.kind,
            " ".join(name.split(".", 1)[-1] for name in reading.names),
            reading.instrument,
            amount(reading.expected, reading.unit, units),
            f"{reading.before_mm:.2f}",
            f"{reading.after_mm:.2f}",
        )
        for bracket, readings in asked.items()
        for number, reading in enumerate(readings, 1)
    )
    columns = ("bracket", "", "reading", "points", "with", "will read about", "holes ± now mm", "then mm")
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
                f"{bracket.sheet} {format_length(bracket.thickness_mm, units)}",
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
                f"{format_length(place.clearance_mm, units)} to {place.nearest}" if place.nearest else "",
                f"{place.worst_angle_deg:.1f}°" if place.shafts else "",
                format_length(place.ground_mm, units),
            )
        )
        mood.append("" if place.fits else "bad")
    columns = (
        "place", "fits", "forward, left, up", "turned °", "metal cut", "section lost", "least room", "joints",
        "over ground",
    )  # fmt: skip
    return Table("Places, from where the search begins", columns, tuple(rows), (4, 7, 8), tuple(mood), "no place found")


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


def way_table(fit_up: FitUp) -> Table:
    """The way in, step by step."""
    way = fit_up.way
    rows = (
        [(f"{number}", step.words, ", ".join(step.pieces_on)) for number, step in enumerate(way.steps, 1)]
        if way
        else []
    )
    blocked = f"no way in was found; in the way: {', '.join(way.blocked_by)}" if way and way.blocked_by else ""
    return Table("Way in", ("step", "do", "pieces on"), tuple(rows), (0,), (), blocked or "no way in was looked for")


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


def mounts_table(found: Mounts, units: UnitSystem) -> Table:
    """Each mount with its largest force, what would give way first, and what to change."""
    from halfshaft.mounts.model import use_of

    rows, mood = [], []
    assert found.cases is not None
    names = [case.name for case in found.cases.cases]
    for mount in found.mounts:
        size = np.linalg.norm(mount.force_n, axis=1)
        at = int(np.argmax(size))
        worst = mount.weakest
        used = use_of(worst) if worst is not None else None
        failed = [c for c in mount.checks if not c.ok]
        stops = any(c.severity == "stop" for c in failed)
        rows.append(
            (
                mount.name,
                mount.bracket,
                f"{format_force(float(size[at]), units)}, {names[at]}",
                f"{worst.about.removeprefix(f'mount {mount.name}, ')}: {worst.title}" if worst is not None else "",
                f"{100.0 * used:.0f} %" if used is not None and np.isfinite(used) else "",
                (mount.change if stops else "") or ("holds; see its cautions" if failed else "holds"),
            )
        )
        mood.append("bad" if stops else "care" if failed else "good")
    columns = ("mount", "bracket", "largest force", "gives way first", "used", "what to change")
    return Table("Mounts", columns, tuple(rows), (4,), tuple(mood), "the unit is not held: see the checks")


def mount_checks_table(mount: Mount, units: UnitSystem, most: int | None = None) -> Table:
    """Every judgement of one mount, the worst first; `most` rows of it."""
    from halfshaft.mounts.seat_checks import badness

    ordered = sorted(
        mount.checks,
        key=lambda c: (c.ok, {"stop": 0, "caution": 1}.get(c.severity.value, 2) if not c.ok else 0, -badness(c)),
    )
    rows, mood = [], []
    for check in ordered[:most]:
        used = badness(check)
        limit = amount(check.limit, check.unit, units)
        sense = "" if check.good is Good.TOLD or not limit else f"{check.good.value} "
        rows.append(
            (
                "ok" if check.ok else check.severity.value,
                f"{100.0 * used:.0f} %" if 0.0 <= used < 1e4 else "",
                check.about.removeprefix(f"mount {mount.name}").removeprefix(", ") or "rubber",
                check.title,
                amount(check.found, check.unit, units),
                sense + limit,
            )
        )
        mood.append(mood_of(check))
    left = len(ordered) - len(rows)
    title = f"Mount {mount.name}, worst first" + (f" ({left} more)" if left > 0 else "")
    return Table(title, ("", "used", "of", "check", "found", "limit"), tuple(rows), (1, 4, 5), tuple(mood))


def load_cases_table(found: Mounts, units: UnitSystem) -> Table:
    """What pulls at the unit in each case, at its centre of mass, and where that comes from."""
    cases = found.cases.cases if found.cases is not None else ()
    rows = tuple(
        (case.name, case.kind, _vector(case.force_n, units), _turns(case.moment_nmm), case.words, str(case.source))
        for case in cases
    )
    columns = ("case", "kind", "force forward, left, up", "moment about them Nm", "", "source")
    return Table("Load cases", columns, rows, (2, 3))


def mount_forces_table(found: Mounts, units: UnitSystem) -> Table:
    """What the unit puts on each mount in each case: forward, left, up."""
    cases = found.cases.cases if found.cases is not None and found.held else ()
    rows = tuple(
        (case.name, *(_vector(mount.force_n[at], units) for mount in found.mounts)) for at, case in enumerate(cases)
    )
    columns = ("case", *(mount.name for mount in found.mounts))
    title = f"Forces on the mounts in {'N' if units == 'metric' else 'lbf'}: forward, left, up"
    return Table(title, columns, rows, tuple(range(1, len(columns))))


def modes_table(found: Mounts) -> Table:
    """The six ways the unit shakes on its rubber, and where the energy of each is."""
    from halfshaft.mounts.modes import MOTIONS

    shakes = found.modes
    rows = (
        tuple(
            (f"{shakes.frequency_hz[i]:.1f}", name, *(f"{round(100.0 * float(e))}" for e in shakes.energy[i]))
            for i, name in enumerate(shakes.names)
        )
        if shakes is not None
        else ()
    )
    columns = ("Hz", "moves in", *(f"{motion} %" for motion in MOTIONS))
    return Table("How the unit shakes: six modes, share of energy in each motion", columns, rows, (0, *range(2, 8)))


def motion_table(found: Mounts, units: UnitSystem) -> Table:
    """How far each piece moves, and the least room that leaves."""
    near = {one.piece: one for one in found.closest or ()}
    rows, mood = [], []
    for move in found.motion.pieces if found.motion is not None else ():
        one = near.get(move.piece)
        room = f"{format_length(one.distance_mm, units)} to {one.thing}, {one.case}" if one is not None else ""
        rows.append(
            (move.piece, format_length(move.moved_mm, units), move.case, format_length(move.sway_mm, units), room)
        )
        mood.append(
            "bad" if one is not None and one.distance_mm <= 0.0 else "care" if move.moved_mm > move.sway_mm else ""
        )
    columns = ("piece", "moves", "most under", "sway kept room for", "least room as it moves")
    return Table("How far the unit moves", columns, tuple(rows), (1, 3), tuple(mood))


def members_table(found: Mounts) -> Table:
    """What windows leave of each cut member at its worst station, as shares of the whole, and what brings it back."""
    rows = tuple(
        (
            one.member,
            *(f"{100.0 * share:.0f} %" for share in (one.kept.bending, one.kept.shear, one.kept.twist, one.bearing)),
            one.bracket or "none",
            one.plated.words if one.plated is not None else "",
        )
        for one in found.members or ()
    )
    columns = (
        "member",
        "bending left",
        "shear",
        "twist",
        "bearing over the window",
        "bracket on it",
        "to bring it back",
    )
    return Table("Cut members of the frame", columns, rows, (1, 2, 3, 4), (), "no member is cut")


def stiffness_table(found: Mounts) -> Table:
    """Frequencies with all mounts softer and stiffer by a factor, and the most travel used under full pull."""
    choice = found.choice
    if choice is None:
        return Table("All mounts softer or stiffer", ("stiffness",), (), (), (), "how it shakes could not be worked")
    rows = tuple(
        (
            f"{factor:.2f} x",
            *("" if np.isnan(hz) else f"{hz:.1f}" for hz in choice.frequency_hz[at]),
            "" if np.isnan(choice.sag_mm[at]) else f"{choice.sag_mm[at]:.1f} mm",
            "" if np.isnan(choice.most_used[at]).all() else f"{100.0 * np.nanmax(choice.most_used[at]):.0f} %",
        )
        for at, factor in enumerate(choice.factor)
    )
    names = next((names for factor, names in zip(choice.factor, choice.names, strict=True) if factor >= 0.999), ())
    columns = ("stiffness", *(f"{name}, Hz" for name in names), "sags", "travel used at full pull")
    bands = "; ".join(f"{band.name} {band.low_hz:.0f} to {band.high_hz:.0f} Hz" for band in found.bands)
    title = f"All mounts softer or stiffer (shaken by {bands})" if bands else "All mounts softer or stiffer"
    return Table(title, columns, rows, tuple(range(1, len(columns))), (), "")


def thinnest_table(found: Mounts, units: UnitSystem) -> Table:
    """The sheet that each bracket could be made of, and what was tried, with the mass and how much is used of each."""
    rows = tuple(
        (
            one.bracket,
            format_thickness(one.as_drawn_mm, units),
            format_thickness(one.least_mm, units) if one.least_mm is not None else "none",
            "; ".join(
                format_thickness(t.thickness_mm, units)
                + (" cannot be made" if t.refused else f" {100.0 * min(t.use, 9.99):.0f} %")
                for t in one.trials
            ),
            one.words,
        )
        for one in found.thinnest or ()
    )
    columns = ("bracket", "drawn in", "holds from", "tried, and used of what it may bear", "")
    return Table("Thinnest sheet that holds", columns, rows, (), (), "no mount has a bracket")


def _vector(values: Array, units: UnitSystem) -> str:
    part = 1.0 if units == "metric" else 4.4482216152605
    return " ".join(f"{value / part + 0.0:.0f}" for value in np.round(values))


def _turns(values: Array) -> str:
    return " ".join(f"{value + 0.0:.0f}" for value in np.round(values / 1000.0))


def range_table(road: Road, units: UnitSystem) -> Table:
    """How far it goes, with the band that nine of ten cases lie in."""
    rows, mood = [], []
    for one in road.drives:
        band = ""
        if one.band is not None and np.isfinite(one.band.high_m):
            band = f"{format_way(one.band.low_m, units)} to {format_way(one.band.high_m, units)}"
        rows.append(
            (
                _drive_name(one, units),
                format_speed(one.mean_m_s, units),
                format_use(one.wh_m, units),
                format_use(one.wall_wh_m, units),
                _way(one.range_m, units),
                band,
            )
        )
        mood.append("care" if one.motor_short_s > 0.0 or one.pack_short_s > 0.0 else "")
    columns = ("drive", "mean speed", "from the pack", "from the wall", "range", "in nine cases of ten")
    return Table("Range", columns, tuple(rows), (1, 2, 3, 4, 5), tuple(mood), "no cycle is told")


def _drive_name(one: Drive, units: UnitSystem) -> str:
    return f"steady {format_speed(one.mean_m_s, units)}" if one.kind == "steady" else one.name


def band_table(road: Road) -> Table:
    """What each range's band comes from, in per cent of its variance; bars for the first of them."""
    bands = [(one.name, one.band) for one in road.drives if one.band is not None and one.band.shares]
    rows: list[tuple[str, ...]] = []
    for first in bands[0][1].shares if bands else ():
        shares = [next((s.share for s in band.shares if s.name == first.name), 0.0) for _, band in bands]
        bar = "█" * round(20.0 * first.share) or "▏"
        rows.append((first.words, bar, *(f"{100.0 * share:.0f}" for share in shares)))
    columns = ("", bands[0][0] if bands else "", *(f"{name} %" for name, _ in bands))
    right = tuple(range(2, len(columns)))
    return Table("What the bands come from", columns, tuple(rows), right, (), "no band is worked")


def energy_table(road: Road, units: UnitSystem) -> Table:
    """Where the energy of each drive goes, as shares of what empties the pack."""
    from halfshaft.road.model import PARTS

    def row(one: Drive) -> tuple[str, ...]:
        whole = sum(one.parts_wh_m.values())
        shares = (f"{100.0 * one.parts_wh_m[part] / whole:.0f}" if whole > 0.0 else "" for part in PARTS)
        return (_drive_name(one, units), *shares, format_use(one.back_wh_m, units))

    columns = ("drive", *(f"{words} %" for words in PARTS.values()), "taken up braking")
    rows = tuple(row(one) for one in road.drives)
    return Table("Where the energy goes", columns, rows, tuple(range(1, len(columns))), (), "no cycle is told")


def pull_table(road: Road, units: UnitSystem) -> Table:
    """Acceleration, top speed and slopes."""
    pull, seconds = road.pull, seconds_words

    def slope(value: float) -> str:
        return f"{100.0 * value:.0f} %" if value < 3.0 else "steeper than any road"

    by = "by the motor's highest speed" if pull.top_by_speed else "by power"
    rows = (
        ("0 to 100 km/h", seconds(pull.hundred_s), f"{seconds(pull.low_hundred_s)} at 10 % charge"),
        ("0 to 60 mph", seconds(pull.sixty_s), ""),
        ("quarter mile from rest", seconds(pull.quarter_s), f"at {format_speed(pull.quarter_m_s, units)}"),
        ("0 to 100 km/h at -10 C", seconds(pull.cold_hundred_s), ""),
        ("most at the first moment", f"{pull.most_g:.2f} g", _spins(pull.slips_to_m_s, units)),
        ("top speed", format_speed(pull.top_m_s, units), by),
        ("steepest it starts on", slope(pull.start_grade), f"{slope(pull.start_grade_dry_motor)} by the motor alone"),
        ("steepest at 80 km/h", slope(pull.hold_80_grade), f"{slope(pull.lasting_hold_80_grade)} with lasting power"),
        ("steepest at 100 km/h", slope(pull.hold_100_grade), ""),
    )  # fmt: skip
    return Table("Pull", ("", "", ""), rows, (1,))


def seconds_words(value: float) -> str:
    return f"{value:.1f} s" if np.isfinite(value) else "never"


def _spins(speed_m_s: float, units: UnitSystem) -> str:
    return f"wheels spin up to {format_speed(speed_m_s, units)}" if speed_m_s > 0.0 else "wheels grip on a dry road"


def _way(way_m: float, units: UnitSystem) -> str:
    return format_way(way_m, units) if np.isfinite(way_m) else "no end"


def weather_table(road: Road, units: UnitSystem) -> Table:
    """Range against temperature, for the first cycle and each steady speed."""
    weather = road.weather
    if weather is None:
        return Table("Range by temperature", ("",), (), empty="no cycle is told")
    rows = tuple(
        (
            format_temperature(float(t), units),
            _way(float(weather.cycle_range_m[k]), units),
            _way(float(weather.cycle_no_cabin_m[k]), units),
            *(_way(float(far), units) for far in weather.range_m[k]),
        )
        for k, t in enumerate(weather.temperature_c)
    )
    speeds = (format_speed(float(v), units) for v in weather.speed_m_s)
    columns = ("outside", weather.cycle, "cabin off", *speeds)
    return Table("Range by temperature, pack as cold as the day", columns, rows, tuple(range(len(columns))))


def climb_table(road: Road, units: UnitSystem) -> Table:
    """The long climb: speed, temperatures and charge at its quarters."""
    up = road.climb
    at = np.unique(np.linspace(0, len(up.time_s) - 1, 5).round().astype(int))
    rows = tuple(
        (
            f"{up.time_s[k] / 60.0:.1f} min",
            format_way(float(up.distance_m[k]), units),
            format_speed(float(up.speed_m_s[k]), units),
            format_temperature(float(up.motor_c[k]), units),
            format_temperature(float(up.pack_c[k]), units),
            f"{100.0 * up.charge[k]:.0f} %",
            f"{100.0 * up.share[k]:.0f} %",
        )
        for k in at
    )
    title = f"Climb of {100.0 * up.grade:.0f} %; {format_speed(road.climb_lasting_m_s, units)} can be held for good"
    columns = ("after", "way", "speed", "motor", "pack", "charge", "power left by heat")
    return Table(title, columns, rows, tuple(range(7)), ("care" if np.isfinite(up.held_back_s) else "",) * len(rows))


def charging_table(road: Road, units: UnitSystem) -> Table:
    """Times at each socket and fast charger."""

    def hours(seconds: float) -> str:
        if not np.isfinite(seconds):
            return "never"
        return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"

    rows = tuple(
        (
            plug.name,
            plug.kind,
            f"{plug.wall_w / 1000.0:.1f} kW",
            hours(plug.ten_eighty_s),
            hours(plug.ten_full_s),
            f"{plug.drawn_10_80_wh / 1000.0:.1f} kWh",
            _way(plug.ten_minutes_m, units),
            "charges" if plug.cold is not None else "does not charge",
        )
        for plug in road.plugs
    )
    columns = ("at", "", "most", "10 to 80 %", "10 % to full", "drawn 10 to 80 %", "gained in 10 min", "pack at -10 C")
    return Table("Charging", columns, rows, (2, 3, 4, 5, 6), (), "no socket and no station is told")


def printed_words(one: Printed) -> str:
    """City and highway mixed, and what a label would print, in a sentence."""
    return (
        f"City and highway, 55 to 45: {1000.0 * one.mixed_wh_m:.1f} Wh/km from the wall, {one.mixed:.0f} miles on a "
        f"gallon's energy; on a label, at 0.7 of the test: {one.label_city:.0f} city, {one.label_highway:.0f} highway."
    )


def plain_use_table(rows: Iterable[PlainUse], units: UnitSystem) -> Table:
    """Use of a car told by its road load."""
    told = tuple(
        (
            one.cycle,
            format_way(one.distance_m, units),
            f"{one.pull_wh_km:.1f}",
            f"{one.push_wh_km:.1f}",
            f"{one.dc_wh_km:.1f}",
            f"{one.wall_wh_km:.1f}",
            "" if one.range_m is None else _way(one.range_m, units),
        )
        for one in rows
    )
    columns = ("drive", "way", "wheels, driving", "wheels, braking", "from the pack", "from the wall", "range")
    return Table("Use in Wh/km", columns, told, (1, 2, 3, 4, 5, 6), (), "no cycle and no speed is told")


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
            f"{f.setback_mm:.2f}",
            f"{f.pivot_depth_mm:.2f}",
            str(len(f.bridges)) if f.kind == "slit" else "",
            format_force(f.hand_force_n, units),
            format_length(f.weld_length_mm, units),
        )
        for f in sorted(bracket.folds, key=lambda f: order.get(f.name, 99))
    )
    columns = ("", "fold", "kind", "way", "turn", "length", "setback mm", "pivot mm", "bridges", "hand force", "weld")
    return Table(f"Folds of {bracket.name}", columns, rows, right=tuple(range(4, 11)), empty="none")


def gussets_table(bracket: Bracket, units: UnitSystem) -> Table:
    """Each gusset's plate and how it is welded to its two panels."""
    rows = tuple(
        (
            g.panel,
            f"{g.a}, {g.b}",
            format_thickness(bracket.panels[g.panel].thickness_mm, units),
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
