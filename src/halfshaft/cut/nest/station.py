"""The sheets of a build: parts to cut and the build's sheets in; every part on its sheet, with its checks, out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from halfshaft.build.schema import Build
from halfshaft.build.sheets import OffcutInput, SheetsInput, StockInput
from halfshaft.checks import Assumed, Check, Good, Origin, Severity, Source, worst_first
from halfshaft.cut.nest.blanks import MANY, Rack, gap_mm, margin_mm, racks
from halfshaft.cut.nest.clear import sheet_checks
from halfshaft.cut.nest.leftover import leftovers
from halfshaft.cut.nest.model import Blank, CutSheet, Sheets, Wish, copy_name
from halfshaft.cut.nest.plan import Copy, copies_of, plan
from halfshaft.cut.nest.size import goes_on, least_size_mm
from halfshaft.cut.opening import templates
from halfshaft.cut.part import SheetKey, SheetPart, parts_of
from halfshaft.fold.lay import laid
from halfshaft.fold.model import Bracket, FlatPart
from halfshaft.measure.model import Measured
from halfshaft.pack.box import Box
from halfshaft.progress import Progress, within

_OWN = Source(Origin.DERIVED, "docs/sheets.md")


def nest(build: Build, folder: Path, parts: Sequence[SheetPart], progress: Progress | None = None) -> Sheets:
    """Every part that is still to be cut, laid on the build's offcuts and sheets. Repeats exactly for a build's seed.

    `folder` is where drawings of offcuts lie. Raises Stopped where `progress` does.
    """
    told = build.sheets or SheetsInput()
    known = {name for part in parts for n in range(1, part.quantity + 1) for name in (part.name, copy_name(part, n))}
    done = tuple(name for name in told.done if name in known)
    own = [_ranked(part, told) for part in parts if part.name not in told.done and copies_of([part], told.done)]
    keys: dict[SheetKey, list[SheetPart]] = {}
    for part in own:
        key = next((k for k in keys if k.fits(part.key)), part.key)
        keys.setdefault(key, []).append(part)
    rack, checks, assumed = racks(build, folder, keys)
    wishes = [Wish(w.part, w.copy_, w.sheet, w.turn_deg, w.at_mm) for w in told.laid]
    checks += _lost_wishes(wishes, own, rack)
    sheets: list[CutSheet] = []
    names = set(build.offcut)
    spare: list[Blank] = []
    more: list[Blank] = []
    left_out: list[Copy] = []
    for number, (key, group) in enumerate(keys.items()):
        tell = within(progress, number / len(keys), (number + 1) / len(keys), "sheets")
        thorough = told.search == "thorough"
        filled, rest, whole = plan(group, rack[key], wishes, build.build.seed, thorough, tell, told.done)
        for blank, puts in filled:
            moved = tuple(replace(one, sheet=len(sheets)) for one in puts)
            checks += sheet_checks(blank, moved)
            kept = leftovers(blank, moved, build.shop.kerf_mm, names)
            names |= {left.name for left in kept}
            sheets.append(CutSheet(blank, moved, kept))
        left_out += rest
        spare += whole
        more += _more(rack[key], [blank for blank, _ in filled])
        checks += [_no_room(copy, rack[key]) for copy in rest]
        checks += _no_rolling(group, filled)
    assumed += _assumed(build, told, list(keys))
    used = {name for name in told.done if name not in done}
    checks += [_not_known(name) for name in sorted(used)]
    return Sheets(
        tuple(own), tuple(sheets), tuple(left_out), tuple(spare), tuple(worst_first(checks)),
        tuple(dict.fromkeys(assumed)), bool(told.laid), done, tuple(more),
    )  # fmt: skip


def parts_to_lay(
    build: Build,
    measured: Measured,
    brackets: Sequence[Bracket],
    plates: Sequence[Bracket],
    boxes: Sequence[Box] = (),
) -> tuple[SheetPart, ...]:
    """All parts of the build that are cut from sheet, those that are done among them."""
    sheet = build.sheets.templates if build.sheets is not None else None
    made: list[FlatPart] = []
    if sheet is not None:
        thickness = build.sheet[sheet].thickness_mm
        found = templates(build, measured).values()
        made = [replace(laid(p), sheet=sheet, thickness_mm=thickness) for template in found for p in template.parts]
    return parts_of(build, brackets, plates, made, sheet, boxes)


def plates_left() -> Check:
    """Told where plates for a cut frame may be wanted and were not worked."""
    do = "'halfshaft sheets' works them: it takes longer, so this run leaves them out."
    title = "Plates that a cut frame may want are not on the sheets"
    return Check("sheets", "frame", title, _OWN, Severity.NOTE, do, failed_outright=True)


def _more(rack: Rack, used: Sequence[Blank]) -> list[Blank]:
    """The next sheet of each stock that is as many as wanted."""
    numbers = {first.table: [b.number for b in used if b.table == first.table] for first, _ in rack.stocks}
    return [replace(first, number=max(numbers[first.table], default=0) + 1) for first, n in rack.stocks if n >= MANY]


def _ranked(part: SheetPart, told: SheetsInput) -> SheetPart:
    """The part with the place that [sheets] gives to its kind: kinds that are named come first."""
    if not told.first:
        return part
    rank = told.first.index(part.station) if part.station in told.first else len(told.first) + part.priority  # type: ignore[arg-type]
    return replace(part, priority=rank)


def _no_room(copy: Copy, rack: Rack) -> Check:
    """A part that fits on no sheet: whether any sheet is large enough, and what to do."""
    part, number = copy
    blanks = [*rack.offcuts, *(blank for blank, _ in rack.stocks)]
    length, width = least_size_mm(part, blanks[-1])
    margin = blanks[-1].margin_mm
    title = "Part has no place on any sheet"
    needs = f"it needs {length + 2 * margin:.0f} x {width + 2 * margin:.0f} mm with its margins"
    fits = any(goes_on(part, blank) for blank, count in rack.stocks if count > 0)
    kind = f"{part.key}"
    if fits:
        do = f"The sheets of {kind} run out: {needs}. Add one to [stock] or raise its count."
    else:
        do = f"Every sheet of {kind} is too small: {needs}. Add a larger one to [stock] or [offcut]."
    return Check(
        "sheets",
        f"part {copy_name(part, number)}",
        title,
        _OWN,
        Severity.STOP,
        do,
        failed_outright=True,
        good=Good.TOLD,
    )


def _no_rolling(group: Sequence[SheetPart], filled: Iterable[tuple[Blank, object]]) -> list[Check]:
    """Folds on a sheet whose rolling direction is not told."""
    folded = any(part.grain is not None for part in group)
    names = [blank.name for blank, _ in filled if blank.rolling_deg is None]
    if not folded or not names:
        return []
    do = (
        "Folds are laid any way on it. Find the rolling direction (the mill's paper, long scale lines) and write "
        'rolling = "length" or "width" in its table: a fold along it cracks first.'
    )
    source = Source(Origin.COMMON_PRACTICE, "fold across the rolling direction; no published source")
    about = f"sheet {names[0]}" + (f" and {len(names) - 1} more" if len(names) > 1 else "")
    return [Check("sheets", about, "Rolling direction is not told", source, Severity.NOTE, do, good=Good.TOLD)]


def _lost_wishes(wishes: Sequence[Wish], parts: Sequence[SheetPart], rack: dict[SheetKey, Rack]) -> list[Check]:
    """Parts laid by hand that are no longer there, or whose sheet is not there or of another kind."""
    out = []
    known = {(part.name, number): part for part in parts for number in range(1, part.quantity + 1)}
    for wish in wishes:
        part = known.get((wish.part, wish.copy))
        why = ""
        if part is None:
            why = f"there is no part '{wish.part}' to cut"
        else:
            key = next(k for k in rack if k.fits(part.key))
            names = [b.name for b in rack[key].offcuts]
            stocks = [(b.table, count) for b, count in rack[key].stocks]
            table, _, number = wish.sheet.rpartition(" ")
            there = wish.sheet in names or any(
                table == name and number.isdigit() and 1 <= int(number) <= count for name, count in stocks
            )
            why = "" if there else f"there is no sheet '{wish.sheet}' of {part.key}"
        if why:
            do = f"It was laid by hand, but {why}. It is laid anew; take its line out of sheets.laid."
            source = Source(Origin.BUILDER, "[sheets] laid")
            out.append(
                Check(
                    "sheets",
                    f"part {wish.part}",
                    "Layout by hand does not fit the build",
                    source,
                    Severity.CAUTION,
                    do,
                    good=Good.TOLD,
                    failed_outright=True,
                )
            )
    return out


def _not_known(name: str) -> Check:
    do = f"sheets.done names '{name}', which is no part of this build now. Take it out, or see whether it was renamed."
    source = Source(Origin.BUILDER, "[sheets] done")
    return Check("sheets", f"part {name}", "Part that is done is not known", source, Severity.NOTE, do, good=Good.TOLD)


def _assumed(build: Build, told: SheetsInput, keys: Sequence[SheetKey]) -> list[Assumed]:
    out = []
    source = Source(Origin.COMMON_PRACTICE, "from kerf and thickness, docs/sheets.md; no published source")
    for key in keys:
        if told.gap_mm is None:
            words = f"{gap_mm(build, key.thickness_mm):.1f} mm between parts of {key.thickness_mm:.4g} mm"
            out.append(Assumed("sheets.gap", words, source))
        rows: list[tuple[str, StockInput | OffcutInput]] = [(f"stock.{n}", s) for n, s in build.stock.items()]
        rows += [(f"offcut.{n}", o) for n, o in build.offcut.items()]
        for name, stock in rows:
            told_sheet = build.sheet.get(stock.sheet)
            if stock.margin_mm is None and told_sheet and abs(told_sheet.thickness_mm - key.thickness_mm) < 0.01:
                out.append(Assumed(f"{name}.margin", f"{margin_mm(None, key.thickness_mm):.1f} mm", source))
    return out
