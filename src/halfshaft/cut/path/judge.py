"""What is to be known of a sheet's path before the torch is lit. The plan in, checks out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.cut.layers import Path
from halfshaft.cut.path.model import OnSheet, Setup, Stock
from halfshaft.cut.path.plan import Planned

Array = NDArray[np.float64]

_OWN = Source(Origin.DERIVED, "docs/tool_path.md")
_TRADE = Source(Origin.COMMON_PRACTICE, "docs/tool_path.md; no published source")


def checks_of(
    stock: Stock, parts: Sequence[OnSheet], setup: Setup, found: Planned, feed_known: bool
) -> tuple[Check, ...]:
    about = f"sheet {stock.name}"
    out: list[Check] = []

    def told(names: Sequence[str], title: str, severity: Severity, do: str, source: Source = _OWN) -> None:
        for name in dict.fromkeys(names):
            out.append(Check("path", f"{about}, part {name}", title, source, severity, do, failed_outright=True))

    told(found.off_sheet, "A cut runs off the sheet", Severity.STOP,
         "Lay the part further in, or take a larger sheet: its file must not be run.")  # fmt: skip
    told(found.cuts_into, "A cut takes metal of the part beside it", Severity.STOP,
         "Lay the parts further apart than the kerf: the sheet's file must not be run.")  # fmt: skip
    told(found.narrow, "An opening is narrower than the kerf", Severity.STOP,
         "It is left out of the file. Widen it, or draw it as a slit.")  # fmt: skip
    told(found.no_lead, "No room for a lead-in", Severity.CAUTION,
         "The torch pierces on the edge itself and leaves a mark. Move the parts apart, or write a shorter lead_in.",
         )  # fmt: skip
    told(found.tight, "The pierced spot reaches the edge", Severity.CAUTION,
         "Give more room, drill a start hole there, or write the width of a pierce in [cutter] pierce_width.",
         _TRADE)  # fmt: skip
    told(found.few_tabs, "Fewer tabs than asked for", Severity.NOTE,
         "There was no room for more with a lead-in at each. Hold the part another way.")  # fmt: skip
    by_part: dict[str, list[float]] = {}
    for name, _, wide in found.drill:
        by_part.setdefault(name, []).append(wide)
    mark = "The file marks them: drill there." if setup.marker else "Prick them through the paper template and drill."
    for name, widths in by_part.items():
        out.append(Check(
            "path", f"{about}, part {name}", f"{len(widths)} hole(s) too small for the cutter", _TRADE, Severity.NOTE,
            f"They are left out of the cutting. {mark}", min(widths), max(setup.least_hole_mm, setup.kerf_mm), "mm",
            Good.AT_LEAST,
        ))  # fmt: skip
    for part in parts:
        bridge = _least_bridge_mm(part)
        if np.isfinite(bridge):
            least = (setup.pierce_width_mm - setup.kerf_mm) / 2.0 + setup.kerf_mm
            out.append(Check(
                "path", f"{about}, part {part.name}", "Bridges between slits stand a pierce beside them", _TRADE,
                Severity.CAUTION, "Make bridges wider, or cut the slits with a smaller nozzle.",
                bridge - setup.kerf_mm, least, "mm",
            ))  # fmt: skip
    if not feed_known:
        out.append(Check(
            "path", about, "No feed is known for this thickness", setup.feed_source, Severity.CAUTION,
            "It is drawn on past the table. Write your own in [[cutter.setting]] after a try on scrap.",
            failed_outright=True,
        ))  # fmt: skip
    if found.close_pierces:
        out.append(Check(
            "path", about, "Some pierces are made close to the one before", _TRADE, Severity.NOTE,
            "There was nothing else left to cut meanwhile. Let the plate cool, or clamp it flat.",
            float(found.close_pierces), good=Good.TOLD,
        ))  # fmt: skip
    return tuple(out)


def _least_bridge_mm(part: OnSheet) -> float:
    """Least way between the ends of two slits' middle lines in one line; infinite where there is none."""
    lines = [f.shape.points_mm for f in part.figures if f.layer == "slit" and isinstance(f.shape, Path)]
    least = np.inf
    for number, a in enumerate(lines):
        way = (a[-1] - a[0]) / max(float(np.linalg.norm(a[-1] - a[0])), 1e-9)
        for b in lines[number + 1 :]:
            off = np.abs((b - a[0])[:, 0] * way[1] - (b - a[0])[:, 1] * way[0])
            if off.max() > 0.5:
                continue
            ends = np.array([np.linalg.norm(p - q) for p in (a[0], a[-1]) for q in (b[0], b[-1])])
            least = min(least, float(ends.min()))
    return float(least)
