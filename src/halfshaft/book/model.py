"""What stands in the book: words, tables, drawings and lines to sign, by section. Paper and page render just this."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

from halfshaft.build.value import UnitSystem
from halfshaft.cut.drawing import Drawing
from halfshaft.tables import Table

WordsKind = Literal["plain", "small", "bold", "care", "head"]


@dataclass(frozen=True, slots=True)
class Words:
    """A paragraph; 'care' is a warning in a frame, 'head' a small heading."""

    text: str
    kind: WordsKind = "plain"


@dataclass(frozen=True, slots=True)
class Points:
    """Sentences, each on its own; numbered where their order matters."""

    rows: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True, slots=True)
class Grid:
    """A table with a heading; `whole` keeps it on one sheet of paper."""

    table: Table
    note: str = ""
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing with a line over and a line under it."""

    drawing: Drawing
    title: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Beside:
    """Two columns, the left one so many mm wide."""

    left: tuple[Block, ...]
    right: tuple[Block, ...]
    left_mm: float = 90.0


@dataclass(frozen=True, slots=True)
class Judged:
    """A judgement in words: 'STOP', its title, what was found and what to do, where it comes from."""

    mark: str
    title: str
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class Judgements:
    rows: tuple[Judged, ...]


@dataclass(frozen=True, slots=True)
class Tick:
    """A thing to do or to look at, with a box to tick, room to write what was read, and to sign where `sign`."""

    text: str
    wanted: str = ""
    sign: bool = False


@dataclass(frozen=True, slots=True)
class Ticks:
    title: str
    rows: tuple[Tick, ...]


Block = Words | Points | Grid | Picture | Beside | Judgements | Ticks


@dataclass(frozen=True, slots=True)
class Section:
    """`key` names it in links; `wide` lays its paper across."""

    key: str
    title: str
    blocks: tuple[Block, ...]
    wide: bool = False
    fresh: bool = True  # begins a sheet of paper


@dataclass(frozen=True, slots=True)
class Book:
    title: str
    revision: str
    by: str
    units: UnitSystem
    paper: str
    cover: tuple[Block, ...]
    sections: tuple[Section, ...] = field(default=())

    @property
    def foot(self) -> str:
        """What stands under every sheet."""
        told = [self.title, f"revision {self.revision}" if self.revision else "no revision told"]
        return "  ·  ".join([*told, "lengths in mm" if self.units == "metric" else "lengths in inches"])


def told(book: Book) -> Iterator[str]:
    """Every piece of text in the book, in order: what both renderings hold."""
    yield from (book.title, book.revision, book.by)
    for block in book.cover:
        yield from _told(block)
    for section in book.sections:
        yield section.title
        for block in section.blocks:
            yield from _told(block)


def _told(block: Block) -> Iterator[str]:
    match block:
        case Words(text=text):
            yield text
        case Points(rows=rows):
            yield from rows
        case Grid(table=table, note=note):
            yield table.title
            if table.rows:
                yield from table.columns
                for row in table.rows:
                    yield from row
            else:
                yield table.empty
            yield note
        case Picture(drawing=drawing, title=title, note=note):
            yield title
            yield from drawing.words
            yield note
        case Beside(left=left, right=right):
            for inner in (*left, *right):
                yield from _told(inner)
        case Judgements(rows=judged):
            for one in judged:
                yield from (one.mark, one.title, one.text, one.source)
        case Ticks(title=title, rows=ticks):
            yield title
            for tick in ticks:
                yield from (tick.text, tick.wanted)
