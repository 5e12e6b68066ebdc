"""The book on paper. Book in; bytes of a PDF out."""

from __future__ import annotations

import re

from halfshaft.book.model import Beside, Block, Book, Grid, Judgements, Picture, Points, Section, Ticks, Words
from halfshaft.cut.drawing import GREY, INK, boxed
from halfshaft.cut.typeset import SIZES_MM, mm, pdf, text
from halfshaft.tables import Table

MARGIN_MM = 14.0
_TOP_MM, _BOTTOM_MM = 13.0, 16.0
_CHAR_MM = 1.36  # mean width of a sign at 8 pt, with some room
_CELL_MM = 2.8
_CONTENTS = ("== In this book", "#outline(title: none, depth: 1, indent: 0mm)")
_MARKS = {"stop": "STOP", "caution": "CARE", "note": "NOTE", "ok": "OK"}


def book_pdf(book: Book) -> bytes:
    """All sheets. Raises typeset.Unprintable with the typesetter's words."""
    return pdf(book_source(book))


def room_mm(paper: str, wide: bool = False) -> tuple[float, float]:
    """Width and height of a sheet inside its margins, less a heading."""
    width, height = SIZES_MM[paper]
    if wide:
        width, height = height, width
    return width - 2 * MARGIN_MM, height - _TOP_MM - _BOTTOM_MM - 14.0


def book_source(book: Book) -> str:
    width, _ = SIZES_MM[book.paper]
    lines = [_set_up(book), _cover(book, width - 2 * MARGIN_MM)]
    for section in book.sections:
        lines.append(_section(section, book))
    return "\n".join(lines)


def _set_up(book: Book) -> str:
    width, height = SIZES_MM[book.paper]
    number = '#context counter(page).display("1 / 1", both: true)'
    return "\n".join(
        [
            f"#set document(title: {text(book.title)[1:]})",
            f'#set text(font: "Libertinus Serif", size: 9.5pt, lang: "en", fill: rgb("{INK}"))',
            f"#set page(width: {mm(width)}, height: {mm(height)}, margin: (x: {mm(MARGIN_MM)}, top: {mm(_TOP_MM)}, "
            f'bottom: {mm(_BOTTOM_MM)}), footer: text(size: 8pt, fill: rgb("{GREY}"))'
            f"[{text(book.foot)} #h(1fr) {number}])",
            "#set par(leading: 0.52em, spacing: 0.75em)",
            "#set table(stroke: (x, y) => if y == 0 { (bottom: 0.4mm) } else { (bottom: 0.18mm + luma(150)) }, "
            "inset: (x: 1.2mm, y: 0.9mm))",
            "#show table: set text(size: 8pt)",
            "#show table: set par(leading: 0.42em)",
            "#set enum(spacing: 0.7em)",
            "#set list(spacing: 0.6em)",
            "#show heading.where(level: 1): it => block(below: 3mm, above: 0mm, width: 100%, "
            'stroke: (bottom: 0.4mm), inset: (bottom: 1.4mm), text(size: 16pt, weight: "bold", it.body))',
            "#show heading.where(level: 2): it => block(above: 3.5mm, below: 1.5mm, sticky: true, "
            'text(size: 10.5pt, weight: "bold", it.body))',
        ]
    )


def _cover(book: Book, wide_mm: float) -> str:
    about = [f"Revision {book.revision}" if book.revision else "No revision told", book.by]
    return "\n".join(
        [
            f'#text(size: 24pt, weight: "bold")[{text(book.title)}]',
            "#v(-2mm)",
            f"#text(size: 12pt)[{text('  ·  '.join(word for word in about if word))}]",
            "#line(length: 100%, stroke: 0.6mm)",
            *(_block(block, wide_mm) for block in book.cover),
            *(_CONTENTS if len(book.sections) > 3 else ()),
        ]
    )


def _section(section: Section, book: Book) -> str:
    width, height = SIZES_MM[book.paper]
    room = (height if section.wide else width) - 2 * MARGIN_MM
    body = "\n".join([f"= {text(section.title)}", *(_block(block, room) for block in section.blocks)])
    if section.wide:
        return f"#page(width: {mm(height)}, height: {mm(width)})[{body}]"
    return f"#pagebreak(weak: true)\n{body}" if section.fresh else f"#v(5mm)\n{body}"


def _block(block: Block, wide_mm: float) -> str:
    match block:
        case Words():
            return _words(block)
        case Points(rows=rows, numbered=numbered):
            return "\n".join(f"{'+' if numbered else '-'} {soft(row)}" for row in rows) + "\n"
        case Grid():
            return _grid(block, wide_mm)
        case Picture(drawing=drawing, title=title, note=note):
            parts = ["#block(breakable: false, above: 2.5mm)["]
            parts += [f'#text(size: 9pt, weight: "bold")[{soft(title)}]\\', "#v(0.6mm)"] if title else []
            parts += [boxed(drawing)]
            parts += ["#v(0.4mm)", f'#text(size: 8pt, fill: rgb("{GREY}"))[{soft(note)}]'] if note else []
            return "\n".join([*parts, "]"])
        case Beside(left=left, right=right, left_mm=left_mm):
            one = "\n".join(_block(inner, left_mm) for inner in left)
            other = "\n".join(_block(inner, wide_mm - left_mm - 4.0) for inner in right)
            return f"#grid(columns: ({mm(left_mm)}, 1fr), column-gutter: 4mm, [{one}], [{other}])"
        case Judgements(rows=rows):
            return "\n".join(
                f'#block(spacing: 1.9mm, breakable: false)[#text(weight: "bold")[{text(row.mark)}: {soft(row.title)}]'
                f' {soft(row.text)} #text(size: 8pt, fill: rgb("{GREY}"))[({soft(row.source)})]]'
                for row in rows
            )
        case Ticks():
            return _ticks(block)


def _words(words: Words) -> str:
    body = soft(words.text)
    match words.kind:
        case "small":
            return f"#par(text(size: 8pt)[{body}])"
        case "bold":
            return f'#par(text(weight: "bold")[{body}])'
        case "care":
            return f"#block(stroke: 0.4mm, inset: 2mm, width: 100%, breakable: false)[{body}]"
        case "head":
            return f"== {body}"
        case _:
            return f"#par[{body}]"


def _grid(grid: Grid, wide_mm: float) -> str:
    table = grid.table
    head = f"== {soft(table.title)}" if table.title else ""
    if not table.rows:
        return f"{head}\n#par(text(size: 8pt)[{soft(table.empty)}])"
    note = f"#par(text(size: 8pt)[{soft(grid.note)}])" if grid.note else ""
    cells = []
    if any(table.columns):
        names = ", ".join(f'[#text(weight: "bold")[{soft(column)}]]' for column in table.columns)
        cells.append(f"table.header({names})")
    for number, row in enumerate(table.rows):
        mood = table.mood[number] if table.mood else ""
        weight = ', weight: "bold"' if mood == "bad" else ', style: "italic"' if mood == "care" else ""
        cells += [f"[#text(size: 8pt{weight})[{soft(cell)}]]" for cell in row]
    sides = ", ".join("right" if at in table.right else "left" for at in range(len(table.columns)))
    rule = "" if any(table.columns) else "stroke: (bottom: 0.18mm + luma(150)), "
    body = f"#table(columns: {_widths(table, wide_mm)}, {rule}align: ({sides},), {', '.join(cells)})"
    out = "\n".join(part for part in (head, body, note) if part)
    return f"#block(breakable: false)[{out}]" if grid.whole else out


def _widths(table: Table, wide_mm: float) -> str:
    """Columns as wide as what stands in them; where all does not fit, the long ones share what is left."""
    natural = []
    for at, column in enumerate(table.columns):
        cells = [len(row[at]) for row in table.rows]
        natural.append(max(max(cells, default=0), _longest(column)) * _CHAR_MM + _CELL_MM)
    if sum(natural) <= wide_mm:
        return "(" + "auto, " * len(natural) + ")"
    fair = wide_mm / len(natural)
    narrow = [at for at, width in enumerate(natural) if width <= fair]
    left = wide_mm - sum(natural[at] for at in narrow)
    shares = {at: width**0.6 for at, width in enumerate(natural) if at not in narrow}
    whole = sum(shares.values())
    told = [mm(natural[at]) if at in narrow else mm(left * shares[at] / whole) for at in range(len(natural))]
    return "(" + ", ".join(told) + ",)"


def _longest(words: str) -> int:
    return max((len(word) for word in words.split()), default=0)


def _ticks(ticks: Ticks) -> str:
    head = f"== {soft(ticks.title)}" if ticks.title else ""
    rows = []
    for tick in ticks.rows:
        box = "box(width: 4mm, height: 4mm, stroke: 0.3mm)"
        if tick.sign:
            rows.append(
                f'[#{box}], table.cell(colspan: 3)[#text(weight: "bold")[{soft(tick.text)}] #h(2mm) '
                f"{soft(tick.wanted)} #v(4.5mm) #line(length: 100%, stroke: 0.18mm)]"
            )
        else:
            rows.append(
                f"[#{box}], [{soft(tick.text)}], [{soft(tick.wanted)}], [#v(2.6mm) #line(length: 100%, stroke: 0.18mm)]"
            )
    body = (
        "#table(columns: (7mm, 1fr, 46mm, 26mm), stroke: none, inset: (x: 1mm, y: 1.2mm), "
        f"align: (left, left, left, bottom), {', '.join(rows)})"
    )
    return f"{head}\n#block[#show table: set text(size: 9pt)\n{body}]"


_BREAK = re.compile(r"(?<=[A-Za-z0-9_])([._/])(?=[A-Za-z_])")


def soft(words: str) -> str:
    """Words that may break after a dot, a slash or an underscore inside a long name."""
    told = text(words)
    return _BREAK.sub("\\1\\\\u{200b}", told) if _longest(words) > 14 else told


def marked(severity: str) -> str:
    """The word that stands before a judgement, legible without colour."""
    return _MARKS[severity]
