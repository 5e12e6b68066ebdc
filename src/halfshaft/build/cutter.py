"""What a builder can write of the cutting table: how it leads in, how fast, and the words its control knows."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from halfshaft.build import moving_units as read
from halfshaft.build.value import Length, UnitSystem, Value, assumed


def _read_by(parse: Any) -> BeforeValidator:
    def of(value: Any, info: Any) -> Any:
        return parse(value, (info.context or {}).get("units", "metric"))

    return BeforeValidator(of)


_WORDS = re.compile(r"[A-Z][+-]?\d+(\.\d+)?( ?[A-Z][+-]?\d+(\.\d+)?)*")
_MOTION = re.compile(r"(?<![A-Z0-9.])(?:G0*[0-3](?![\d.])|[XYZIJ][+-]?\d)")


def _code(text: str) -> str:
    """Words of RS-274 that switch something, and move nothing."""
    clean = " ".join(text.upper().split())
    if not _WORDS.fullmatch(clean) or len(clean) > 60:
        raise ValueError(f"'{text}' is no line of code: write for example 'M3', 'M3 S1' or 'M64 P0'")
    if _MOTION.search(clean):
        raise ValueError(f"'{text}' would move the machine: write only what switches, for example 'M3'")
    return clean


Feed = Annotated[float, _read_by(read.read_feed_mm_min)]
Seconds = Annotated[float, _read_by(read.read_seconds_s)]
Plain = Annotated[float, Field(allow_inf_nan=False)]
Code = Annotated[str, AfterValidator(_code)]


class CutSettingInput(Value):
    """The shop's own feed and heights for one thickness; they go before the catalogue's row."""

    thickness_mm: Length = Field(alias="thickness", ge=0.1, le=150)
    material: str | None = None  # for all when not given
    feed_mm_min: Feed = Field(alias="feed", ge=1, le=2e5)
    pierce_s: Seconds | None = Field(None, alias="pierce", ge=0, le=600)
    pierce_height_mm: Length | None = Field(None, alias="pierce_height", ge=0, le=50)
    cut_height_mm: Length | None = Field(None, alias="cut_height", ge=0, le=50)


class CodeInput(Value):
    """The dialect that the control of the table reads."""

    units: UnitSystem | None = None  # of the numbers; the build's when not given
    torch_on: Code = "M3"
    torch_off: Code = "M5"
    marker_on: Code = "M7"
    marker_off: Code = "M9"
    dwell: Literal["s", "ms"] = "s"  # what G4 P counts
    comments: Literal["brackets", "semicolon", "none"] = "brackets"
    arcs: bool = True  # false: short straight runs for a control that knows no G2 and G3
    heights: bool = True  # false: a table that sets its own torch height
    numbered: bool = False
    first: tuple[Code, ...] = Field((), max_length=20)  # lines before the first move
    last: tuple[Code, ...] = Field((), max_length=20)  # lines after the last
    end: Literal["M2", "M30"] = "M30"
    ending: Annotated[str, Field(pattern=r"^[A-Za-z0-9]{1,8}$")] = "ngc"  # of the file's name


class PriceInput(Value):
    """What things cost, in the shop's own money."""

    power_kwh: Plain | None = Field(None, ge=0, le=1e4)
    gas_m3: Plain | None = Field(None, ge=0, le=1e5)
    abrasive_kg: Plain | None = Field(None, ge=0, le=1e4)
    wear_set: Plain | None = Field(None, ge=0, le=1e6)  # a set of what wears: electrode and nozzle, or orifice and tube
    hour: Plain | None = Field(None, ge=0, le=1e5)  # of the table and who minds it


class CutterInput(Value):
    """The table that cuts; [shop] says its kind and its kerf."""

    setting: tuple[CutSettingInput, ...] = Field((), max_length=100)
    rapid_mm_min: Feed = assumed("cutter.rapid", alias="rapid", ge=10, le=5e5)
    lead: Literal["arc", "line"] = "arc"
    lead_in_mm: Length = assumed("cutter.lead_in", alias="lead_in", gt=0, le=100)
    lead_out_mm: Length = assumed("cutter.lead_out", alias="lead_out", ge=0, le=100)
    overrun_mm: Length = assumed("cutter.overrun", alias="overrun", ge=0, le=50)
    pierce_width_kerfs: Plain = assumed("cutter.pierce_width", alias="pierce_width", ge=1, le=10)
    corner_clear_mm: Length = assumed("cutter.corner_clear", alias="corner_clear", ge=0, le=200)
    edge_clear_mm: Length = assumed("cutter.edge_clear", alias="edge_clear", ge=0, le=200)
    small_hole: Plain = assumed("cutter.small_hole", ge=0, le=20)  # slower below so many thicknesses across
    small_hole_feed: Plain = assumed("cutter.small_hole_feed", gt=0.05, le=1)
    good_side: Literal["left", "right"] = assumed("cutter.good_side")  # of the cut, looking the way it runs
    heat_gap_mm: Length = assumed("cutter.heat_gap", alias="heat_gap", ge=0, le=1000)
    tabs: int = Field(0, ge=0, le=12)  # on each outline
    tab_width_mm: Length = assumed("cutter.tab_width", alias="tab_width", gt=0, le=50)
    marker: bool = False  # the table can scribe, etch or centre-punch
    mark_feed_mm_min: Feed = assumed("cutter.mark_feed", alias="mark_feed", ge=10, le=2e5)
    mark_height_mm: Length = assumed("cutter.mark_height", alias="mark_height", ge=-5, le=50)
    mark_lift_mm: Length = assumed("cutter.mark_lift", alias="mark_lift", ge=0, le=100)  # between marks
    travel_height_mm: Length = assumed("cutter.travel_height", alias="travel_height", gt=0, le=300)
    code: CodeInput = Field(default_factory=CodeInput)
    price: PriceInput = Field(default_factory=PriceInput)
