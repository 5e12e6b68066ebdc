"""The sheet that goes to the bench with a bracket. Bracket and its laid parts in, bytes of a PDF out.

What is folded, which way, how far and in which order; what is welded, bolted and drilled; whether it will fit; what is
assumed; what to take care of. A refused bracket's sheet says why and what to do, and shows nothing to cut.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from halfshaft.build.schema import Build
from halfshaft.build.units import (
    format_angle,
    format_force,
    format_length,
    format_mass,
    format_ordinate,
    format_sheet,
    format_thickness,
)
from halfshaft.checks import Check, Good, Severity, worst_first
from halfshaft.cut import cautions
from halfshaft.cut.drawing import boxed
from halfshaft.cut.flat_drawing import flat_drawing, hole_letters, in_order
from halfshaft.cut.folded_drawing import fold_numbers, folded_drawing
from halfshaft.cut.typeset import SIZES_MM, mm, pdf, text
from halfshaft.fold.fit import FIT_TITLE
from halfshaft.fold.model import Bracket, FlatPart, Fold, Hole

_MARGIN_MM = 12.0
_INK, _GREY, _RED, _AMBER, _GREEN = "#161616", "#6d6d6d", "#a3202a", "#8a5a00", "#22663a"

_USES = {"bolt": "bolts on", "locate": "locates", "join": "joins plates", "open": "stays open"}


def shop_sheet_pdf(build: Build, bracket: Bracket, parts: Sequence[FlatPart], kerf_mm: float) -> bytes:
    """The sheet; `parts` are the bracket's flat parts as they lie in the cut files."""
    return pdf(sheet_source(build, bracket, parts, kerf_mm))


def refusal_pdf(build: Build, bracket: Bracket) -> bytes:
    """The sheet of a bracket that is not to be cut."""
    stops = stops_of(bracket)
    words = [f"'{bracket.name}' is not to be cut", "No cut file was written. What stands in the way, worst first:"]
    body = [
        _page(build, f"{bracket.name}: refused"),
        f'#text(size: 17pt, weight: "bold", fill: rgb("{_RED}"))[{text(words[0])}]',
        f"#v(1mm) {text(words[1])}",
        "#v(2mm)",
        *(_check_lines(check, build) for check in stops),
        *_section("Also found", [_check_lines(c, build) for c in _failed(bracket) if c not in stops]),
        *_view_block(bracket, 170.0, 110.0),
        *_section("Assumed", _assumed(bracket)),
    ]
    return pdf("\n".join(body))


def stops_of(bracket: Bracket) -> list[Check]:
    return [check for check in _failed(bracket) if check.severity is Severity.STOP]


def sheet_source(build: Build, bracket: Bracket, parts: Sequence[FlatPart], kerf_mm: float) -> str:
    units = build.build.units
    width = SIZES_MM[build.shop.paper][0] - 2 * _MARGIN_MM
    numbers = fold_numbers(bracket)
    body = [_page(build, bracket.name), _title(build, bracket, parts)]
    body += _flat_block(build, bracket, parts[0], kerf_mm, (width, 112.0)) if parts else []
    view = _view_block(bracket, 78.0, 72.0)
    folds = _folds(numbers, units)
    body += [
        "#grid(columns: (80mm, 1fr), column-gutter: 4mm, [",
        *view,
        "], [",
        *folds,
        "])",
    ]
    for part in parts[1:]:
        body += _flat_block(build, bracket, part, kerf_mm, (width, 85.0))
    for part in parts:
        body += _holes(part, units)
    body += _bolts(parts, units)
    body += _welds(numbers, units)
    body += _gussets(bracket, units)
    body += _fit(bracket)
    # the chance has its own section
    open_ones = [c for c in _failed(bracket) if bracket.fit is None or c.title != FIT_TITLE]
    passed = sum(1 for check in bracket.checks if check.ok)
    rest = "the chance of fit, see above" if len(_failed(bracket)) > len(open_ones) else "nothing"
    settled = text(f"{rest[0].upper()}{rest[1:]}: {passed} checks passed.")
    body += _section("To settle", [_check_lines(check, build) for check in open_ones] or [settled])
    hot = (*cautions.CUTTING, *cautions.FOLDING, *cautions.LOADS, *cautions.FRAME)
    body += _section("Take care", [f"- {text(words)}" for words in hot])
    body += _section("Assumed, because the build does not say", _assumed(bracket))
    return "\n".join(body)


def _flat_block(
    build: Build, bracket: Bracket, part: FlatPart, kerf_mm: float, room_mm: tuple[float, float]
) -> list[str]:
    drawing = flat_drawing(part, kerf_mm, fold_numbers(bracket), bracket.panels, build.build.units, room_mm)
    note = f"{part.name}: {part.sheet}, flat, upper side toward you, drawn 1 : {1 / drawing.ratio:.2g}"
    if part.mirrored:
        note += ", the mirrored twin"
    return [
        "#block(breakable: false)[",
        f'#text(size: 9pt, weight: "bold")[{text(note)}]',
        "#v(1mm)",
        boxed(drawing),
        "]",
    ]


def weld_runs_mm(fold: Fold) -> list[float]:
    """Lengths of the slits between bridges, in order along the fold: each is a run of weld."""
    edges = [0.0]
    for bridge in sorted(fold.bridges, key=lambda b: b.start_mm):
        edges += [bridge.start_mm, bridge.end_mm]
    edges.append(fold.length_mm)
    return [b - a for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 0.05]


def _page(build: Build, title: str) -> str:
    width, height = SIZES_MM[build.shop.paper]
    foot = f"{build.build.name}  ·  {title}  ·  lengths {'in mm' if build.build.units == 'metric' else 'in inches'}"
    number = '#context counter(page).display("1 / 1", both: true)'
    return "\n".join(
        [
            f"#set document(title: {text(title)[1:]})",
            f'#set text(font: "Libertinus Serif", size: 9pt, lang: "en", fill: rgb("{_INK}"))',
            f"#set page(width: {mm(width)}, height: {mm(height)}, "
            f"margin: (x: {mm(_MARGIN_MM)}, top: 11mm, bottom: 14mm), "
            f'footer: text(size: 7.5pt, fill: rgb("{_GREY}"))[{text(foot)} #h(1fr) {number}])',
            "#set par(leading: 0.5em, spacing: 0.7em)",
            "#set table(stroke: (x, y) => if y == 0 { (bottom: 0.4mm) } else { (bottom: 0.1mm + luma(170)) }, "
            "inset: (x: 1.2mm, y: 0.9mm))",
            "#show table: set text(size: 8pt)",
        ]
    )


def _title(build: Build, bracket: Bracket, parts: Sequence[FlatPart]) -> str:
    units = build.build.units
    sheet = f"{bracket.sheet}, {format_sheet(bracket.thickness_mm, units)}"
    single = sum(1 for part in parts if not part.mirrored)
    count = f"{single} parts, together" if single > 1 else "one part,"
    twin = ", and as much again for the mirrored twin" if len(parts) > single else ""
    facts = [f"{sheet}  ·  {count} {format_mass(bracket.mass_kg, units)}{twin}"]
    what = build.bracket[bracket.name].what if bracket.name in build.bracket else ""
    if what:
        facts.append(what)
    chance = ""
    if bracket.fit:
        good = _GREEN if bracket.fit.passes >= 0.95 else _AMBER
        chance = (
            f'#text(size: 17pt, weight: "bold", fill: rgb("{good}"))[{text(f"{100 * bracket.fit.passes:.1f} %")}]'
            f" #linebreak() {text('chance that the first one fits')}"
        )
    return (
        f'#grid(columns: (1fr, auto), [#text(size: 17pt, weight: "bold")[{text(bracket.name)}] #linebreak() '
        + " #linebreak() ".join(text(fact) for fact in facts)
        + f"], align(right)[{chance}])\n#line(length: 100%, stroke: 0.4mm)\n#v(-1mm)"
    )


def _section(title: str, lines: Iterable[str], whole: bool = False) -> list[str]:
    """A heading and its lines; `whole` keeps them on one page."""
    rows = list(lines)
    if not rows:
        return []
    head = f'#v(1.5mm) #text(size: 10pt, weight: "bold")[{text(title)}]'
    if whole:
        return ["#block(breakable: false)[", head, "", *rows, "", "]"]
    return [head, "", *rows, ""]


def _table(columns: Sequence[str], rows: Iterable[Sequence[str]], widths: str, right: Sequence[int] = ()) -> str:
    cells = [f'[#text(weight: "bold")[{text(column)}]]' for column in columns]
    cells += [f"[{cell if cell.startswith('#') else text(cell)}]" for row in rows for cell in row]
    sides = ", ".join("right" if i in right else "left" for i in range(len(columns)))
    return f"#table(columns: {widths}, align: ({sides},), {', '.join(cells)})"


def _folds(numbers: Mapping[str, tuple[int, Fold]], units: str) -> list[str]:
    if not numbers:
        return []
    rows = []
    for name, (number, fold) in numbers.items():
        bridges = str(len(fold.bridges)) if fold.kind == "slit" else f"R {format_length(fold.radius_mm, units)}"
        rows.append(
            (
                str(number),
                name,
                "up ▲" if fold.up else "down ▼",
                format_angle(fold.angle_deg, 1),
                format_angle(180.0 - fold.angle_deg, 1),
                format_length(fold.setback_mm, units),
                bridges,
                format_force(fold.hand_force_n, units) if fold.hand_force_n > 0 else "",
            )
        )
    columns = ("", "fold", "way", "turn", "inside", "setback", "bridges", "pull")
    words = (
        "In this order. 'Turn' is how far from flat, 'inside' what an angle finder shows between the inside faces; "
        "'up' is toward you as the blank lies drawn. 'Pull' is by hand at the end of the shop's lever."
    )
    table = _table(columns, rows, "(auto, 1fr, auto, auto, auto, auto, auto, auto)", (3, 4, 5, 6, 7))
    return [*_section("Folds", [table, f"#text(size: 8pt)[{text(words)}]"])]


def _holes(part: FlatPart, units: str) -> list[str]:
    letters = hole_letters(part.bores)
    rows = [
        (
            letters[hole.name],
            hole.name,
            format_length(hole.diameter_mm, units),
            f"{format_thickness(hole.slot_mm, units)} between ends" if hole.slot_mm > 0 else "round",
            format_ordinate(float(hole.centre_mm[0]), units),
            format_ordinate(float(hole.centre_mm[1]), units),
            hole.bolt or "",
            _USES.get(hole.use, hole.use),
        )
        for hole in in_order(part.bores)
    ]
    if not rows:
        return []
    columns = ("", "hole", "diameter", "shape", "x", "y", "bolt", "use")
    words = "x and y from the square mark: the longest resting edge against a fence, the leftmost point on a stop."
    table = _table(columns, rows, "(auto, 1fr, auto, auto, auto, auto, auto, auto)", (2, 4, 5))
    return _section(f"Holes of {part.name}", [table, f"#text(size: 8pt)[{text(words)}]"], whole=len(rows) < 20)


def _bolts(parts: Sequence[FlatPart], units: str) -> list[str]:
    def kind(hole: Hole) -> str:
        washer = f", washer {format_length(hole.washer_mm, units)} across" if hole.washer_mm > 0 else ""
        return f"{hole.bolt}{washer}"

    # a bolt that joins two plates goes through a hole in each
    single = Counter(kind(h) for part in parts for h in part.bores if h.bolt and h.use == "bolt")
    through: Counter[str] = Counter()
    for words, count in Counter(kind(h) for part in parts for h in part.bores if h.bolt and h.use == "join").items():
        through[words] = (count + 1) // 2
    rows = [f"{count} × {words}" for words, count in sorted((single + through).items())]
    return _section("Bolts, for all parts drawn here", [text(";  ".join(rows))] if rows else [])


def _welds(numbers: Mapping[str, tuple[int, Fold]], units: str) -> list[str]:
    rows = []
    for name, (number, fold) in numbers.items():
        if fold.kind != "slit":
            continue
        runs = ",  ".join(format_length(run, units) for run in weld_runs_mm(fold))
        rows.append((str(number), name, runs, format_length(fold.weld_length_mm, units)))
    if not rows:
        return []
    total = sum(fold.weld_length_mm for _, fold in numbers.values() if fold.kind == "slit")
    words = (
        f"{format_length(total, units)} of weld in all, on the outside of each fold, after every angle is checked. "
        "Tack all folds, check angles and holes on the car again, then weld in short runs from the middle."
    )
    table = _table(("", "fold", "runs between bridges", "to weld"), rows, "(auto, auto, 1fr, auto)", (3,))
    return _section("Welds", [table, f"#text(size: 8pt)[{text(words)}]"], whole=len(rows) < 15)


def _gussets(bracket: Bracket, units: str) -> list[str]:
    """Where each gusset stands and what is welded."""
    rows = []
    for gusset in bracket.gussets:
        panel = bracket.panels[gusset.panel]
        for on in (gusset.a, gusset.b):
            length = gusset.foot_length_mm(on)
            rows.append(
                (
                    gusset.panel,
                    format_sheet(panel.thickness_mm, units),
                    f"{format_length(gusset.from_end_mm, units)} from the {gusset.end} end",
                    on,
                    f"2 × {format_length(length, units)}",
                    format_thickness(gusset.leg_mm, units),
                    format_thickness(gusset.throat_mm, units),
                )
            )
    if not rows:
        return []
    total = sum(2.0 * g.foot_length_mm(on) for g in bracket.gussets for on in (g.a, g.b))
    words = (
        f"{format_length(total, units)} of fillet in all, on both sides of each plate and round its tips. Weld the "
        "folds first, then set each plate square to both panels, its nip to the corner; tack, check the angle, weld. "
        "The nip stays open. The welds pull the two panels toward each other: clamp or bolt them to what they fit."
    )
    columns = ("plate", "thick", "its middle along the corner", "on panel", "fillets", "leg", "throat")
    table = _table(columns, rows, "(auto, auto, 1fr, auto, auto, auto, auto)", (1, 4, 5, 6))
    return _section("Gussets", [table, f"#text(size: 8pt)[{text(words)}]"], whole=len(rows) < 15)


def _fit(bracket: Bracket) -> list[str]:
    fit = bracket.fit
    if fit is None:
        return []
    error = 100 * fit.standard_error
    lines = [
        f"{100 * fit.passes:.1f} % ± {error:.1f} that every bolt passes and every panel pulls up ({fit.samples} tries)."
    ]
    blamed = [(one.spoils, f"Hole {one.hole}") for one in fit.holes]
    blamed += [(one.spoils, f"The seat of panel {one.hole}") for one in fit.panels]
    spoils, worst = max(blamed, default=(0.0, ""))
    if spoils > 0.0:
        lines.append(f"{worst} spoils it most: {100 * spoils:.0f} % of the misses are its own.")
    if fit.mostly_from:
        lines.append(f"The misfit comes mostly from {fit.mostly_from}.")
    body = [text(" ".join(lines))]
    body += [f"- {text(remedy)}" for remedy in fit.remedies]
    return _section("Will it fit", body)


def _failed(bracket: Bracket) -> list[Check]:
    return [check for check in worst_first(bracket.checks) if not check.ok]


def _check_lines(check: Check, build: Build) -> str:
    colour = {Severity.STOP: _RED, Severity.CAUTION: _AMBER}.get(check.severity, _GREY)
    found = ""
    if check.found is not None:
        found = f" Found {_amount(check.found, check.unit, build)}"
        if check.limit is not None and check.good is not Good.TOLD:
            found += f", {check.good.value} {_amount(check.limit, check.unit, build)}"
        found += "."
    return (
        f'#block(spacing: 1.6mm)[#text(weight: "bold", fill: rgb("{colour}"))[{text(check.severity.value.upper())}] '
        f'#text(weight: "bold")[{text(check.title)}], {text(check.about)}.{text(found)} {text(check.do)} '
        f'#text(size: 7.5pt, fill: rgb("{_GREY}"))[{text(f"({check.source})")}]]'
    )


def _assumed(bracket: Bracket) -> list[str]:
    rows = list(dict.fromkeys((a.where, a.value, str(a.source)) for a in bracket.assumed))
    if not rows:
        return []
    return [_table(("to change it, write", "value", "source"), rows, "(auto, auto, 1fr)")]


def _amount(value: float, unit: str, build: Build) -> str:
    if unit == "mm":
        return format_length(value, build.build.units)
    return f"{value:.4g} {unit}".strip()


def _view_block(bracket: Bracket, wide_mm: float, high_mm: float) -> list[str]:
    try:
        drawing, words = folded_drawing(bracket, wide_mm, high_mm)
    except ValueError:  # no panel, or none with metal left: the checks say why
        return []
    return [boxed(drawing), "", f'#text(size: 8pt, fill: rgb("{_GREY}"))[{text(words)}]', ""]
