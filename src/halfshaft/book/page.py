"""The book as one page for a browser: everything in it, nothing fetched. Book in; text of the file out."""

from __future__ import annotations

from html import escape

from halfshaft.book.model import Beside, Block, Book, Grid, Judgements, Picture, Points, Section, Ticks, Words
from halfshaft.cut.drawing import svg

_STYLE = """
:root { color-scheme: light; }
body { font: 16px/1.45 Georgia, 'Times New Roman', serif; color: #161616; background: #fff; margin: 0; }
main { max-width: 74rem; margin: 0 auto; padding: 1.5rem 1.25rem 4rem; }
h1 { font-size: 2rem; line-height: 1.15; margin: 0 0 .25rem; }
h2 { font-size: 1.5rem; border-bottom: 2px solid #161616; padding-bottom: .25rem; margin: 3rem 0 1rem; }
h3 { font-size: 1.05rem; margin: 1.5rem 0 .4rem; }
nav ul { columns: 18rem; padding-left: 1.2rem; }
nav a { display: inline-block; padding: .35rem 0; color: #1f4fa3; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; font-size: .875rem; line-height: 1.3; margin: .25rem 0 .75rem; }
th, td { text-align: left; vertical-align: top; padding: .25rem .6rem; border-bottom: 1px solid #999; }
th { border-bottom: 2px solid #161616; }
.r { text-align: right; font-variant-numeric: tabular-nums; }
.bad { font-weight: bold; } .care { font-style: italic; }
.small { font-size: .875rem; color: #444; } .strong { font-weight: bold; }
.frame { border: 2px solid #161616; padding: .6rem .8rem; margin: .6rem 0; }
figure { margin: 1rem 0; } figcaption { font-size: .875rem; color: #444; }
figure svg { max-width: 100%; height: auto; font-family: Georgia, 'Times New Roman', serif; }
.beside { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(24rem, 100%), 1fr)); gap: 1.5rem; }
.ticks td { border: 0; } .box { display: inline-block; width: 1.1rem; height: 1.1rem; border: 2px solid #161616; }
.line { display: inline-block; min-width: 9rem; border-bottom: 1px solid #161616; }
@media print { nav { display: none; } h2 { break-before: page; } figure, tr { break-inside: avoid; } }
"""


def book_html(book: Book) -> str:
    """The whole page."""
    title = f"{book.title}, revision {book.revision}" if book.revision else book.title
    about = [f"Revision {book.revision}" if book.revision else "No revision told", book.by]
    out = [
        "<!DOCTYPE html>",
        '<html lang="en"><head><meta charset="utf-8">',
        # what stands in it is all there is: nothing is asked of any network
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">",
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(title)}</title><style>{_STYLE}</style></head><body><main>",
        f"<h1>{escape(book.title)}</h1>",
        f"<p>{escape('  ·  '.join(word for word in about if word))}</p>",
        *(_block(block) for block in book.cover),
        '<nav aria-label="Jump to"><h3>Jump to</h3><ul>',
        *(f'<li><a href="#{escape(s.key)}">{escape(s.title)}</a></li>' for s in book.sections),
        "</ul></nav>",
        *(_section(section) for section in book.sections),
        f'<p class="small">{escape(book.foot)}</p>',
        "</main></body></html>\n",
    ]
    return "\n".join(out)


def _section(section: Section) -> str:
    head = f'<section id="{escape(section.key)}"><h2>{escape(section.title)}</h2>'
    return "\n".join([head, *(_block(block) for block in section.blocks), "</section>"])


def _block(block: Block) -> str:
    match block:
        case Words(text=text, kind=kind):
            told = escape(text)
            return {
                "small": f'<p class="small">{told}</p>',
                "bold": f'<p class="strong">{told}</p>',
                "care": f'<p class="frame">{told}</p>',
                "head": f"<h3>{told}</h3>",
            }.get(kind, f"<p>{told}</p>")
        case Points(rows=rows, numbered=numbered):
            tag = "ol" if numbered else "ul"
            return f"<{tag}>{''.join(f'<li>{escape(row)}</li>' for row in rows)}</{tag}>"
        case Grid():
            return _grid(block)
        case Picture(drawing=drawing, title=title, note=note):
            head = f"<h3>{escape(title)}</h3>" if title else ""
            foot = f"<figcaption>{escape(note)}</figcaption>" if note else ""
            return f"{head}<figure>{svg(drawing, title or note)}{foot}</figure>"
        case Beside(left=left, right=right):
            halves = ("\n".join(_block(inner) for inner in half) for half in (left, right))
            return f'<div class="beside">{"".join(f"<div>{half}</div>" for half in halves)}</div>'
        case Judgements(rows=rows):
            return "\n".join(
                f"<p><strong>{escape(row.mark)}: {escape(row.title)}</strong> {escape(row.text)} "
                f'<span class="small">({escape(row.source)})</span></p>'
                for row in rows
            )
        case Ticks():
            return _ticks(block)


def _grid(grid: Grid) -> str:
    table = grid.table
    out = [f"<h3>{escape(table.title)}</h3>"] if table.title else []
    if not table.rows:
        return "\n".join([*out, f'<p class="small">{escape(table.empty)}</p>'])
    sides = [' class="r"' if at in table.right else "" for at in range(len(table.columns))]
    out.append('<div class="wide"><table>')
    if any(table.columns):
        names = "".join(f"<th{side}>{escape(name)}</th>" for side, name in zip(sides, table.columns, strict=True))
        out.append(f"<thead><tr>{names}</tr></thead>")
    out.append("<tbody>")
    for number, row in enumerate(table.rows):
        mood = f' class="{table.mood[number]}"' if table.mood and table.mood[number] else ""
        cells = "".join(f"<td{side}>{escape(cell)}</td>" for side, cell in zip(sides, row, strict=True))
        out.append(f"<tr{mood}>{cells}</tr>")
    out.append("</tbody></table></div>")
    if grid.note:
        out.append(f'<p class="small">{escape(grid.note)}</p>')
    return "\n".join(out)


def _ticks(ticks: Ticks) -> str:
    out = [f"<h3>{escape(ticks.title)}</h3>"] if ticks.title else []
    out.append('<table class="ticks"><tbody>')
    line = '<span class="line">&nbsp;</span>'
    for tick in ticks.rows:
        if tick.sign:
            cells = f'<td colspan="3"><strong>{escape(tick.text)}</strong> {escape(tick.wanted)} {line}</td>'
        else:
            cells = f"<td>{escape(tick.text)}</td><td>{escape(tick.wanted)}</td><td>{line}</td>"
        out.append(f'<tr><td><span class="box"></span></td>{cells}</tr>')
    out.append("</tbody></table>")
    return "\n".join(out)
