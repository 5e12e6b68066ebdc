"""What each station found, as sections of the book. A study in, sections out; no number is worked here."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, TypeVar

from halfshaft import tables, tables_mounts, tables_pack, tables_road, tables_weights
from halfshaft.book.model import Beside, Block, Grid, Judged, Judgements, Picture, Points, Section, Words
from halfshaft.book.sheets import marked
from halfshaft.build.units import format_length, format_mass, format_ordinate, format_sheet, format_torque
from halfshaft.build.value import UnitSystem
from halfshaft.checks import Assumed, Check, Severity, worst_first
from halfshaft.cut.flat_drawing import flat_drawing, hole_letters, in_order
from halfshaft.cut.folded_drawing import fold_numbers, folded_drawing
from halfshaft.cut.layers import bounds_mm
from halfshaft.cut.shop_sheet import weld_runs_mm
from halfshaft.cut.station import is_refused
from halfshaft.fold.lay import laid
from halfshaft.fold.model import Bracket, FlatPart
from halfshaft.study import Study
from halfshaft.tables import Table

if TYPE_CHECKING:
    from halfshaft.mounts.model import Mounts

T = TypeVar("T")


def judged(checks: Iterable[Check], units: UnitSystem) -> Judgements:
    """Checks as paragraphs, worst first."""
    rows = []
    for check in worst_first(checks):
        against = tables.against(check, units)
        told = f"{check.about}." + (f" {against[:1].upper()}{against[1:]}." if against else "") + f" {check.do}"
        mark = marked("ok" if check.ok else check.severity.value)
        rows.append(Judged(mark, f"{check.title}.", told.strip(), str(check.source)))
    return Judgements(tuple(rows))


def open_things(study: Study) -> Section:
    """What fails, worst first."""
    failed = [c for c in study.checks if not c.ok]
    blocks: tuple[Block, ...] = (judged(failed, study.build.build.units),) if failed else (Words("Nothing is open."),)
    return Section("open", "To settle, worst first", blocks)


def measured(study: Study) -> Section:
    found, units = study.measured, study.build.build.units
    test = found.global_test
    used = sum(1 for r in found.readings if r.used)
    verdict = "they agree as well as the tools' spreads say"
    if not test.ok:
        verdict = f"they agree {'worse' if test.chi2 > test.high else 'better'} than the tools' spreads say"
    words = (
        f"{len(found.points)} points and {len(found.faces)} faces from {used} readings used, "
        f"{test.degrees_of_freedom} more than needed; taken together, {verdict} (spread {test.sigma0:.2f} of what was "
        "stated). ± is half the length of the ellipsoid that holds the point in 95 of 100 cases."
    )
    asked = tables.next_table(study.measure_next, units)
    blocks: list[Block] = [Words(words), Grid(tables.points_table(found, units))]
    suspects = tables.suspects_table(found)
    blocks.append(Grid(suspects))
    if found.unlocated:
        blocks.append(Grid(tables.unlocated_table(found)))
    blocks.append(Grid(asked, "Each brings the holes of its bracket nearer; in the order to take them."))
    return Section("measured", "What was measured, and how well", tuple(blocks))


def bracket_sections(study: Study, kerf_mm: float, room_mm: tuple[float, float]) -> list[Section]:
    return [_bracket(study, bracket, kerf_mm, room_mm) for bracket in study.brackets.values()]


def _bracket(study: Study, bracket: Bracket, kerf_mm: float, room_mm: tuple[float, float]) -> Section:
    units = study.build.build.units
    told = study.build.bracket.get(bracket.name)
    key, title = f"bracket-{bracket.name}", f"Bracket {bracket.name}"
    what = [told.what] if told is not None and told.what else []
    # notes stand among what is to settle: here only what stops the work or wants care
    failed = [c for c in bracket.checks if not c.ok and c.severity is not Severity.NOTE]
    if is_refused(bracket):
        blocks: list[Block] = [*(Words(w) for w in what)]
        blocks.append(Words("Not to be cut: what stands in the way, worst first.", "care"))
        return Section(key, title, (*blocks, judged(failed, units)))
    parts = [laid(part) for part in bracket.parts]
    facts = f"{bracket.sheet}, {format_sheet(bracket.thickness_mm, units)}, {format_mass(bracket.mass_kg, units)}"
    blocks = [Words("; ".join([*what, facts]) + ". Flat parts lie with their upper side toward you.")]
    blocks.append(_flat(bracket, parts[0], kerf_mm, units, (room_mm[0], 105.0)))
    blocks.append(_beside(bracket, units))
    half = (room_mm[0] - 4.0) / 2.0
    small = [_flat(bracket, part, kerf_mm, units, (half, 62.0)) for part in parts[1:]]
    blocks += [Beside((a,), (b,), half) for a, b in zip(small[::2], small[1::2], strict=False)]
    blocks += small[len(small) - len(small) % 2 :]
    blocks += [Grid(_holes(part, units)) for part in parts if part.bores]
    blocks.append(
        Grid(_welds(bracket, units), "On the outside of each fold, tacked first, welded from the middle.", True)
    )
    if bracket.gussets:
        blocks.append(Grid(tables.gussets_table(bracket, units), "Fillets on both sides of each plate.", True))
    blocks += _chance(bracket)
    if failed:
        blocks += [Words("To settle", "head"), judged(failed, units)]
    return Section(key, title, tuple(blocks))


def _flat(bracket: Bracket, part: FlatPart, kerf_mm: float, units: UnitSystem, room_mm: tuple[float, float]) -> Picture:
    drawing = flat_drawing(part, kerf_mm, fold_numbers(bracket), bracket.panels, units, room_mm)
    twin = ", the mirrored twin" if part.mirrored else ""
    title = f"{part.name}, of {part.sheet}, drawn 1 : {1.0 / drawing.ratio:.3g}{twin}"
    return Picture(drawing, title)


def _beside(bracket: Bracket, units: UnitSystem) -> Block:
    rows = []
    for name, (number, fold) in fold_numbers(bracket).items():
        rows.append(
            (
                str(number),
                name,
                "up" if fold.up else "down",
                f"{fold.angle_deg:.1f}°",
                f"{180.0 - fold.angle_deg:.1f}°",
                format_length(fold.setback_mm, units),
            )
        )
    columns = ("", "fold", "way", "turn", "inside", "setback")
    table = Table("Folds, in this order", columns, tuple(rows), (3, 4, 5), empty="it is flat")
    note = "'turn' is how far from flat; 'inside' what an angle finder shows between the inside faces."
    try:
        drawing, words = folded_drawing(bracket, 86.0, 76.0)
    except ValueError:
        return Grid(table, note)
    return Beside((Picture(drawing, "", words),), (Grid(table, note),), 86.0)


def _holes(part: FlatPart, units: UnitSystem) -> Table:
    letters = hole_letters(part.bores)
    rows = tuple(
        (
            letters[hole.name],
            hole.name,
            format_length(hole.diameter_mm, units),
            f"slot, {format_length(hole.slot_mm, units)} between ends" if hole.slot_mm > 0 else "round",
            format_ordinate(float(hole.centre_mm[0]), units),
            format_ordinate(float(hole.centre_mm[1]), units),
            hole.bolt or "",
        )
        for hole in in_order(part.bores)
    )
    columns = ("", "hole", "across", "shape", "x", "y", "bolt")
    return Table(f"Holes of {part.name}, from the square mark", columns, rows, (2, 4, 5))


def _welds(bracket: Bracket, units: UnitSystem) -> Table:
    rows = tuple(
        (
            str(number),
            name,
            ", ".join(format_length(run, units) for run in weld_runs_mm(fold)),
            format_length(fold.weld_length_mm, units),
        )
        for name, (number, fold) in fold_numbers(bracket).items()
        if fold.kind == "slit"
    )
    return Table("Welds of the folds", ("", "fold", "runs between bridges", "in all"), rows, (3,), empty="none")


def _chance(bracket: Bracket) -> list[Block]:
    fit = bracket.fit
    if fit is None:
        return []
    words = (
        f"{100 * fit.passes:.1f} % ± {100 * fit.standard_error:.1f} that every bolt passes and every panel pulls up, "
        f"from {fit.samples} tries."
    )
    if fit.mostly_from:
        words += f" What misfit there is comes mostly from {fit.mostly_from}."
    return [Words("Chance of fit", "head"), Words(words), *([Points(fit.remedies)] if fit.remedies else [])]


def mounts(study: Study) -> Section | None:
    found, units = study.mounts, study.build.build.units
    if found is None:
        return None
    blocks: list[Block] = [
        Grid(tables_mounts.mounts_table(found, units), "Worst first in each mount; forces in the car's axes.")
    ]
    blocks.append(
        Grid(_bolts(found, units), "Torque with the thread in the state told; another state is another preload.", True)
    )
    if found.held:
        blocks += [Grid(tables_mounts.modes_table(found)), Grid(tables_mounts.motion_table(found, units))]
    blocks.append(
        Words("Stress in the brackets and the room left as the unit moves are worked by 'halfshaft mounts'.", "small")
    )
    return Section("mounts", "Mounts", tuple(blocks))


def _bolts(found: Mounts, units: UnitSystem) -> Table:
    rows = tuple(
        (
            mount,
            seat.name,
            f"{len(seat.bolts)} x {seat.bolt.label}",
            ", ".join(seat.bolts),
            seat.into,
            seat.thread,
            format_torque(seat.preload.torque_nm, units),
            f"{seat.preload.middle_n / 1000.0:.1f} kN",
        )
        for mount, seat in found.seats
    )
    columns = ("mount", "joint", "bolts", "at", "into", "thread", "torque", "preload")
    return Table("Bolts with their torque", columns, rows, (6, 7), empty="no joint is told")


def _grids(found: T, units: UnitSystem, *tables_of: Callable[[T, UnitSystem], Table]) -> list[Block]:
    """Tables of one station, in their order."""
    return [Grid(table(found, units)) for table in tables_of]


def _care(cautions: Iterable[str]) -> list[Block]:
    return [Words(words, "care") for words in cautions]


def pack(study: Study) -> Section | None:
    found, units = study.pack, study.build.build.units
    if found is None:
        return None
    blocks = _grids(found, units, tables_pack.pack_table, tables_pack.volts_table, tables_pack.limits_table)
    if found.laid is not None and found.laid.answers:
        blocks += _grids(
            found, units, tables_pack.answers_table, tables_pack.modules_table, tables_pack.retention_table
        )
    else:
        blocks.append(Words("Where the modules go, and what holds them, is worked by 'halfshaft pack'.", "small"))
    return Section("pack", "Battery pack", (*blocks, *_care(tables_pack.PACK_CAUTIONS)))


def weights(study: Study) -> Section | None:
    found, units = study.weights, study.build.build.units
    if found is None:
        return None
    blocks = _grids(found, units, tables_weights.states_table, tables_weights.loads_table, tables_weights.springs_table)
    blocks += [Grid(tables_weights.brakes_table(found)), Grid(tables_weights.ledger_table(found, units))]
    return Section("weights", "Weights, springs, brakes", (*blocks, *_care(tables_weights.WEIGHT_CAUTIONS)))


def road(study: Study) -> Section | None:
    found, units = study.road, study.build.build.units
    if found is None:
        return None
    blocks = _grids(
        found, units, tables_road.range_table, tables_road.pull_table, tables_road.weather_table,
        tables_road.climb_table, tables_road.charging_table,
    )  # fmt: skip
    return Section("road", "On the road", (*blocks, *_care(tables_road.ROAD_CAUTIONS)))


def cut_list(study: Study) -> Section:
    units = study.build.build.units
    rows = []
    for bracket in study.brackets.values():
        if is_refused(bracket):
            continue
        for part in (laid(p) for p in bracket.parts):
            x0, y0, x1, y1 = bounds_mm(part)
            rows.append(
                (
                    part.name,
                    f"{part.sheet}, {format_sheet(part.thickness_mm, units)}",
                    f"{format_length(x1 - x0, units)} x {format_length(y1 - y0, units)}",
                    str(len(part.bores)),
                    str(len(part.slits_mm)),
                    format_length(part.edge_mm, units),
                    f"out/{bracket.name}",
                )
            )
    columns = ("part", "sheet", "over all", "holes", "slits", "edge", "files")
    table = Table("Parts to cut", columns, tuple(rows), (2, 3, 4, 5), empty="no bracket may be cut yet")
    openings = tuple(
        (name, told.face.rpartition(".")[2], f"hole {told.hole}", "out/openings")
        for name, told in study.build.opening.items()
    )
    blocks: list[Block] = [Grid(table)]
    if openings:
        blocks.append(Grid(Table("Openings, by template", ("opening", "in face", "hangs on", "files"), openings)))
    return Section("cut-list", "Cut list", tuple(blocks))


def passed(study: Study) -> Grid:
    """Checks that hold, told once for each kind, with the one that has least room."""
    units = study.build.build.units
    groups: dict[tuple[str, str], list[Check]] = {}
    for check in worst_first(c for c in study.checks if c.ok):
        groups.setdefault((check.station, check.title), []).append(check)
    rows = tuple(
        (station, title, str(len(group)), group[0].about, tables.against(group[0], units), str(group[0].source))
        for (station, title), group in sorted(groups.items())
    )
    columns = ("station", "check", "times", "tightest at", "there", "source")
    return Grid(Table("What holds", columns, rows, (2,), empty="nothing was judged"))


def assumed(study: Study) -> Section:
    return Section("assumed", "Everything assumed", (Grid(tables.assumed_table(study.assumed)),))


def sources(study: Study) -> Section:
    """Every source that a judgement or an assumed value names, each once, by where it comes from."""
    rows: dict[str, set[str]] = {}
    things: list[Check | Assumed] = [*study.checks, *study.assumed]
    for one in things:
        if one.source.text:
            rows.setdefault(one.source.origin.value, set()).add(one.source.text)
    blocks: list[Block] = []
    for origin in sorted(rows):
        blocks += [Words(f"{origin[:1].upper()}{origin[1:]}", "head"), Points(tuple(sorted(rows[origin])))]
    return Section("sources", "Every source", tuple(blocks))
