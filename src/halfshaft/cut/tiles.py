"""How a part is spread over sheets of paper. Outline and paper in; tiles out, as few as can be.

A tile is a window onto the part. Neighbours overlap by a band; down the middle of the band runs the trimming line.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import shapely
from shapely.affinity import rotate
from shapely.geometry import Polygon, box

from halfshaft.cut.typeset import SIZES_MM
from halfshaft.fold.model import FlatPart

# common practice: office printers leave 4 to 6 mm unprinted; 10 mm keeps clear of all
MARGIN_MM = 10.0
HEAD_MM = 15.0  # strip for the label
RULER_MM = 13.0  # strip for a check length
OVERLAP_MM = 12.0

_TURNS_DEG = (0, 15, 30, 45, 60, 75, 90, 105, 120, 135, 150, 165)


@dataclass(frozen=True, slots=True)
class Tile:
    """`x_mm`, `y_mm`: lower left corner of its window on the turned part. Row 0 is the top one."""

    row: int
    column: int
    x_mm: float
    y_mm: float

    @property
    def name(self) -> str:
        """'A1' is the top left one; rows are letters, columns numbers."""
        return f"{row_letters(self.row)}{self.column + 1}"


@dataclass(frozen=True, slots=True)
class Tiling:
    """`turn_deg`: the part is turned so far, counter-clockwise about its origin, before it is spread."""

    paper: str
    landscape: bool
    turn_deg: float
    rows: int
    columns: int
    window_mm: tuple[float, float]  # of the part seen on one tile
    tiles: tuple[Tile, ...]
    figure: Polygon  # the turned part

    @property
    def page_mm(self) -> tuple[float, float]:
        width, height = SIZES_MM[self.paper]
        return (height, width) if self.landscape else (width, height)

    def at(self, row: int, column: int) -> Tile | None:
        """The tile there, None where none is printed."""
        return next((tile for tile in self.tiles if (tile.row, tile.column) == (row, column)), None)


def row_letters(row: int) -> str:
    """A to Z, then AA, AB ... as columns of a ledger are counted."""
    letters = ""
    row += 1
    while row > 0:
        row, rest = divmod(row - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def tiling(part: FlatPart, paper: str = "A4", scale: tuple[float, float] = (1.0, 1.0)) -> Tiling:
    """The spread with the fewest tiles; upright and unturned where that costs none.

    `scale` is measured over nominal of a check length across and up the page as this printer prints it.
    Raises KeyError for an unknown paper, ValueError where the scale is not within 5 % of one.
    """
    if paper not in SIZES_MM:
        raise KeyError(f"no paper '{paper}'; write one of {', '.join(SIZES_MM)}")
    if not all(0.95 <= s <= 1.05 for s in scale):
        raise ValueError(
            f"printer scale {scale[0]:.4f} by {scale[1]:.4f}: a printer errs by less than 5 %, measure again"
        )
    figure = part.outline.polygon(0.05)
    choices = [_spread(figure, paper, landscape, turn, scale) for turn in _TURNS_DEG for landscape in (False, True)]
    return min(choices, key=lambda t: (len(t.tiles), t.turn_deg != 0, t.landscape, t.turn_deg))


def window_page_mm(paper: str, landscape: bool) -> tuple[float, float]:
    """Width and height of the window on the page."""
    width, height = SIZES_MM[paper] if not landscape else SIZES_MM[paper][::-1]
    return width - 2 * MARGIN_MM - RULER_MM, height - 2 * MARGIN_MM - HEAD_MM - RULER_MM


def _spread(figure: Polygon, paper: str, landscape: bool, turn_deg: float, scale: tuple[float, float]) -> Tiling:
    figure = rotate(figure, turn_deg, origin=(0.0, 0.0)) if turn_deg else figure
    on_page = window_page_mm(paper, landscape)
    # a printer that prints 1.01 for 1 is given 1 / 1.01: the window then shows that much more of the part
    window = (on_page[0] * scale[0], on_page[1] * scale[1])
    x0, y0, x1, y1 = figure.bounds
    pad = 1.0  # line width, and nothing lies on the very rim
    size = (x1 - x0 + 2 * pad, y1 - y0 + 2 * pad)
    step = (window[0] - OVERLAP_MM, window[1] - OVERLAP_MM)
    columns, rows = (max(1, ceil((size[i] - OVERLAP_MM) / step[i] - 1e-9)) for i in (0, 1))
    left = (x0 + x1) / 2 - (columns * step[0] + OVERLAP_MM) / 2
    top = (y0 + y1) / 2 + (rows * step[1] + OVERLAP_MM) / 2
    tiles = []
    for row in range(rows):
        for column in range(columns):
            tile = Tile(row, column, left + column * step[0], top - row * step[1] - window[1])
            if shapely.intersects(figure, _cell(tile, rows, columns, window)):
                tiles.append(tile)
    return Tiling(paper, landscape, turn_deg, rows, columns, window, tuple(tiles), figure)


def _cell(tile: Tile, rows: int, columns: int, window: tuple[float, float]) -> Polygon:
    """What only this tile is for: its window up to the trimming lines."""
    half = OVERLAP_MM / 2
    return box(
        tile.x_mm + (half if tile.column > 0 else 0.0),
        tile.y_mm + (half if tile.row < rows - 1 else 0.0),
        tile.x_mm + window[0] - (half if tile.column < columns - 1 else 0.0),
        tile.y_mm + window[1] - (half if tile.row > 0 else 0.0),
    )
