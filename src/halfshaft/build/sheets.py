"""What a builder can write of the sheets to cut from, and of how parts lie on them, as frozen values."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from halfshaft.build.value import Angle, Length, Names, Value

Way = Literal["length", "width"] | Angle  # of rolling: along the sheet's length or width, or an angle from its length
Corner = tuple[Length, Length]
SideOf = Literal["left", "right", "lower", "upper"]
Station = Literal["coupon", "bracket", "frame plate", "box", "template"]


class ClampInput(Value):
    """A strip along one side of a sheet where nothing is cut: clamps, pins, a torn edge."""

    side: SideOf
    reach_mm: Length = Field(alias="reach", gt=0)  # into the sheet
    start_mm: Length | None = Field(None, alias="start", ge=0)  # along the side, from its left or lower end
    end_mm: Length | None = Field(None, alias="end", gt=0)


class _SheetInput(Value):
    sheet: str  # a [sheet.NAME]: its steel and thickness
    rolling: Way | None = None
    margin_mm: Length | None = Field(None, alias="margin", ge=0)
    clamp: tuple[ClampInput, ...] = ()
    note: str = ""


class StockInput(_SheetInput):
    """Whole sheets of one size: what stands in the rack, or what can be bought."""

    size_mm: tuple[Length, Length] = Field(alias="size")  # length and width
    count: Annotated[int, Field(ge=0, le=200)] | None = None  # as many as wanted when not given
    cost: Annotated[float, Field(ge=0, le=1e7)] | None = None  # of one sheet, in the builder's own money


class OffcutInput(_SheetInput):
    """A piece left of an earlier job: its corners, or a drawing beside build.toml."""

    outline: tuple[Corner, ...] = ()
    openings: tuple[tuple[Corner, ...], ...] = ()
    dxf: str | None = None


class LaidInput(Value):
    """A part laid by hand: its origin at `at` on the sheet, turned counter-clockwise."""

    part: str
    copy_: int = Field(1, alias="copy", ge=1)
    sheet: str  # 'stock.NAME 1', 'offcut.NAME'
    at_mm: Corner = Field(alias="at")
    turn_deg: Angle = Field(0.0, alias="turn")


class SheetsInput(Value):
    """How parts are laid on sheets."""

    gap_mm: Length | None = Field(None, alias="gap", ge=0)  # between parts; from kerf and thickness when not given
    search: Literal["quick", "thorough"] = "quick"
    first: tuple[Station, ...] = ()  # whose parts get a sheet first
    templates: str | None = None  # the [sheet.NAME] that templates of openings are cut from; else they stay paper
    done: Names = ()  # parts that are cut already
    laid: tuple[LaidInput, ...] = ()
