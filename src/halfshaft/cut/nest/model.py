"""Sheets to cut from, sheets as they are laid out, and what is left of them: frozen values, lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from halfshaft.checks import Assumed, Check
from halfshaft.cut.part import Laid, SheetKey, SheetPart

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Blank:
    """One sheet to cut from, in its own axes: x along its length, the lower left of its bounds at the origin.

    `table` is 'stock.NAME' or 'offcut.NAME' as the build tells it; `number` counts the sheets of one stock from 1.
    `rolling_deg`: way it was rolled, from x; None where not told. `density_kg_m3` is of its material.
    """

    table: str
    number: int
    key: SheetKey
    outline_mm: Array  # (n, 2), counter-clockwise
    openings_mm: tuple[Array, ...]
    margin_mm: float
    gap_mm: float  # least between two parts
    clamps_mm: tuple[Array, ...]  # no-go strips, each a ring (n, 2)
    clamp_gap_mm: float
    rolling_deg: float | None
    density_kg_m3: float
    cost: float | None = None
    assumed: bool = False  # a common size, where the build tells of no sheet of that kind

    @property
    def name(self) -> str:
        """Name to lay parts by: 'stock.plate 2'; offcuts are single."""
        return self.table if self.is_offcut else f"{self.table} {self.number}"

    @property
    def is_offcut(self) -> bool:
        return self.table.startswith("offcut.")

    @property
    def metal(self) -> Polygon:
        return Polygon(self.outline_mm, list(self.openings_mm))

    @property
    def room(self) -> Polygon | shapely.MultiPolygon:
        """Where metal of parts may lie: inside the margin, off the clamps' strips. It may be empty."""
        inner = self.metal.buffer(-self.margin_mm, join_style="mitre", mitre_limit=10.0)
        for ring in self.clamps_mm:
            inner = inner.difference(Polygon(ring).buffer(self.clamp_gap_mm, join_style="mitre"))
        return inner

    @property
    def size_mm(self) -> tuple[float, float]:
        low, high = self.outline_mm.min(axis=0), self.outline_mm.max(axis=0)
        return float(high[0] - low[0]), float(high[1] - low[1])

    @property
    def mass_kg(self) -> float:
        return float(self.metal.area) * self.key.thickness_mm * self.density_kg_m3 * 1e-9


@dataclass(frozen=True, eq=False)
class Leftover:
    """Metal of a cut sheet worth keeping, in that sheet's axes; `name` is that of the new offcut."""

    name: str
    outline_mm: Array
    openings_mm: tuple[Array, ...]

    @property
    def metal(self) -> Polygon:
        return Polygon(self.outline_mm, list(self.openings_mm))


@dataclass(frozen=True, eq=False)
class CutSheet:
    """A sheet with the parts laid on it, in the order in which they were given their places."""

    blank: Blank
    laid: tuple[Laid, ...]
    leftovers: tuple[Leftover, ...]

    @property
    def parts_mm2(self) -> float:
        """Area inside the parts' outlines."""
        return float(sum(abs(one.part.outline.area_mm2) for one in self.laid))

    @property
    def kept_mm2(self) -> float:
        return float(sum(one.metal.area for one in self.leftovers))

    @property
    def of_sheet(self) -> float:
        """Share of the sheet that becomes parts."""
        return self.parts_mm2 / float(self.blank.metal.area)

    @property
    def of_used(self) -> float:
        """Share that becomes parts of what is used up: of the sheet less what is kept as offcuts."""
        return min(1.0, self.parts_mm2 / max(float(self.blank.metal.area) - self.kept_mm2, 1e-9))

    @property
    def parts_kg(self) -> float:
        """Metal of the parts, without openings and holes."""
        volume = sum(one.part.area_mm2 for one in self.laid) * self.blank.key.thickness_mm
        return float(volume * self.blank.density_kg_m3 * 1e-9)

    @property
    def cost(self) -> float | None:
        """Price of what is used up; None where the sheet has none."""
        if self.blank.cost is None:
            return None
        return self.blank.cost * (1.0 - self.kept_mm2 / float(self.blank.metal.area))


def copy_name(part: SheetPart, copy: int) -> str:
    """A copy's name: the part's own where there is one of it, else with its number, 'wall no. 2'."""
    return part.name if part.quantity == 1 else f"{part.name} no. {copy}"


@dataclass(frozen=True)
class Wish:
    """A part that the builder has laid by hand: which copy, on which sheet, how turned, where its origin goes."""

    part: str
    copy: int
    sheet: str  # name of a blank
    turn_deg: float
    at_mm: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Sheets:
    """Every part of a build on its sheet. `spare` are blanks that stay whole; `left_out` fit on none."""

    parts: tuple[SheetPart, ...]
    sheets: tuple[CutSheet, ...]
    left_out: tuple[tuple[SheetPart, int], ...]  # with the copy's number
    spare: tuple[Blank, ...]
    checks: tuple[Check, ...] = ()
    assumed: tuple[Assumed, ...] = ()
    by_hand: bool = False
    done: tuple[str, ...] = ()  # parts that the build says are cut
    more: tuple[Blank, ...] = ()  # the next sheet of each stock that is not counted

    @property
    def laid(self) -> tuple[Laid, ...]:
        return tuple(one for sheet in self.sheets for one in sheet.laid)
