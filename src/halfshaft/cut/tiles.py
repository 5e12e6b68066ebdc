"""How a part is spread over sheets of paper. Outline and paper in; tiles out, as few as can be.

A tile is a window onto the part. Neighbours overlap by a band; down the middle of the band runs the trimming line.
A roll has one width, and pages as long as the part wants.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor

import shapely
from shapely.affinity import rotate
from shapely.geometry import Polygon, box

from halfshaft.build.schema import Shop
from halfshaft.cut.typeset import SIZES_MM
from halfshaft.fold.model import FlatPart

# common practice: office printers leave 4 to 6 mm unprinted; 10 mm keeps clear of all
MARGIN_MM = 10.0
HEAD_MM = 15.0  # strip for the label
RULER_MM = 13.0  # strip for a check length
OVERLAP_MM = 12.0

_PAD_MM = 1.0  # line width, and nothing lies on the very rim
_TURNS_DEG = (0, 15, 30, 45, 60, 75, 90, 105, 120, 135, 150, 165)


# ISO 32000-1:2008, annex C.2 (from memory): a page is at most 14 400 units of 1/72 in, 5080 mm, either way
LONGEST_MM = 5000.0
_SHORTEST_MM = 150.0  # a check length stands beside the window


@dataclass(frozen=True, slots=True)
class Paper:
    """What templates are printed on, upright; a roll has no length of its own."""

    name: str
    width_mm: float
    length_mm: float | None

    @staticmethod
    def sheet(name: str) -> Paper:
        """Raises KeyError for a size that is not known."""
        if name not in SIZES_MM:
            raise KeyError(f"no paper '{name}'; write one of {', '.join(SIZES_MM)}")
        return Paper(name, *SIZES_MM[name])

    @staticmethod
    def roll(width_mm: float) -> Paper:
        return Paper("roll", width_mm, None)

    @staticmethod
    def of(shop: Shop) -> Paper:
        """The roll where the shop has one, else its sheets."""
        return Paper.sheet(shop.paper) if shop.roll_width_mm is None else Paper.roll(shop.roll_width_mm)


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
    """`turn_deg`: the part is turned so far, counter-clockwise about its origin, before it is spread.

    `scale`: what this printer makes of a length, across and up the page as it lies.
    """

    paper: Paper
    page_mm: tuple[float, float]
    landscape: bool
    scale: tuple[float, float]
    turn_deg: float
    rows: int
    columns: int
    window_mm: tuple[float, float]  # of the part seen on one tile
    tiles: tuple[Tile, ...]
    figure: Polygon  # the turned part

    @property
    def cover_mm(self) -> tuple[float, float]:
        """Size of the first page, which shows the whole."""
        return self.page_mm if self.paper.length_mm is not None else (self.page_mm[0], SIZES_MM["A4"][1])

    @property
    def check_mm(self) -> tuple[float, float]:
        """Longest check length across and up: 100 mm, on a roll as many hundreds as the window holds."""
        if self.paper.length_mm is not None:
            return 100.0, 100.0
        across, up = (max(100.0, 100.0 * floor((w - 2.0) / 100.0)) for w in self.window_mm)
        return across, up

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


def tiling(part: FlatPart, paper: Paper | str = "A4", scale: tuple[float, float] = (1.0, 1.0)) -> Tiling:
    """The spread with the fewest tiles; upright and unturned where that costs none. On a roll, the shortest.

    `scale` is measured over nominal of a check length along the short side of the sheet, or across the roll, and along
    the other, as this printer prints it.
    Raises KeyError for an unknown paper, ValueError where the scale is not within 5 % of one.
    """
    own = Paper.sheet(paper) if isinstance(paper, str) else paper
    if not all(0.95 <= s <= 1.05 for s in scale):
        raise ValueError(
            f"printer scale {scale[0]:.4f} by {scale[1]:.4f}: a printer errs by less than 5 %, measure again"
        )
    figure = part.outline.polygon(0.05)
    if own.length_mm is None:
        rolled = [_rolled(figure, own, turn, scale) for turn in _TURNS_DEG]
        return min(rolled, key=lambda t: (len(t.tiles), round(len(t.tiles) * t.page_mm[1]), t.turn_deg))
    choices = [_sheets(figure, own, landscape, turn, scale) for turn in _TURNS_DEG for landscape in (False, True)]
    return min(choices, key=lambda t: (len(t.tiles), t.turn_deg != 0, t.landscape, t.turn_deg))


def _window_mm(page_mm: tuple[float, float]) -> tuple[float, float]:
    """Width and height of the window on the page."""
    return page_mm[0] - 2 * MARGIN_MM - RULER_MM, page_mm[1] - 2 * MARGIN_MM - HEAD_MM - RULER_MM


def _sheets(figure: Polygon, paper: Paper, landscape: bool, turn_deg: float, scale: tuple[float, float]) -> Tiling:
    assert paper.length_mm is not None
    page = (paper.width_mm, paper.length_mm)
    if landscape:  # the printer errs along its own ways, whichever way the page lies
        page, scale = page[::-1], scale[::-1]
    return _spread(figure, paper, page, landscape, turn_deg, scale)


def _rolled(figure: Polygon, paper: Paper, turn_deg: float, scale: tuple[float, float]) -> Tiling:
    _, y0, _, y1 = (rotate(figure, turn_deg, origin=(0.0, 0.0)) if turn_deg else figure).bounds
    most = _window_mm((paper.width_mm, LONGEST_MM))[1] * scale[1]
    high = y1 - y0 + 2 * _PAD_MM
    rows = max(1, ceil((high - OVERLAP_MM) / (most - OVERLAP_MM) - 1e-9))
    window = (high + (rows - 1) * OVERLAP_MM) / rows / scale[1] + 0.01
    length = min(max(window + LONGEST_MM - _window_mm((0.0, LONGEST_MM))[1], _SHORTEST_MM), LONGEST_MM)
    return _spread(figure, paper, (paper.width_mm, length), False, turn_deg, scale)


def _spread(
    figure: Polygon,
    paper: Paper,
    page_mm: tuple[float, float],
    landscape: bool,
    turn_deg: float,
    scale: tuple[float, float],
) -> Tiling:
    figure = rotate(figure, turn_deg, origin=(0.0, 0.0)) if turn_deg else figure
    on_page = _window_mm(page_mm)
    # a printer that prints 1.01 for 1 is given 1 / 1.01: the window then shows that much more of the part
    window = (on_page[0] * scale[0], on_page[1] * scale[1])
    x0, y0, x1, y1 = figure.bounds
    size = (x1 - x0 + 2 * _PAD_MM, y1 - y0 + 2 * _PAD_MM)
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
    return Tiling(paper, page_mm, landscape, scale, turn_deg, rows, columns, window, tuple(tiles), figure)


def _cell(tile: Tile, rows: int, columns: int, window: tuple[float, float]) -> Polygon:
    """What only this tile is for: its window up to the trimming lines."""
    half = OVERLAP_MM / 2
    return box(
        tile.x_mm + (half if tile.column > 0 else 0.0),
        tile.y_mm + (half if tile.row < rows - 1 else 0.0),
        tile.x_mm + window[0] - (half if tile.column < columns - 1 else 0.0),
        tile.y_mm + window[1] - (half if tile.row > 0 else 0.0),
    )
