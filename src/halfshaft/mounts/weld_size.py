"""How big and how long a weld may be: thicknesses in; least and largest throat, what length counts, checks out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from halfshaft.build.catalogue import mounts as rows
from halfshaft.checks import Check, Severity
from halfshaft.mounts.verdict import GEOMETRY, least, most, published, refused
from halfshaft.mounts.weld_group import WeldLine

_THIN = published("EN 1993-1-8:2005 4.1 (1): its rules for welds begin at 4 mm; EN 1993-1-3 8.4 for thinner sheet")
_THIN_FROM_MM = 4.0


def throat_of_leg_mm(leg_mm: float, between_deg: float = 90.0) -> float:
    """Throat of an equal-leg fillet between faces that stand so, mm.

    Raises ValueError outside 60 to 120 degrees, where a fillet is no fillet.
    Source: EN 1993-1-8:2005 4.3.2.1 and 4.5.2 (1): height of the triangle.
    """
    if not 60.0 <= between_deg <= 120.0:
        raise ValueError(
            f"faces at {between_deg:g} degrees: under 60 it is a partial penetration weld, over 120 it wants a trial"
        )
    return leg_mm * math.cos(math.radians(between_deg / 2.0))


def partial_throat_mm(depth_mm: float, proven: bool = False) -> float:
    """Throat of a partial penetration weld, as at a slit fold, from the depth of its groove, mm; never under zero.

    `proven`: trial welds cut through and etched show that the whole depth fuses.
    Source: EN 1993-1-8:2005 4.3.4 and 4.7.2, less 2 mm where nothing is proven.
    """
    return max(0.0, depth_mm - (0.0 if proven else rows.weld_rule("partial_penetration", "loss_mm").value))


def counted_length_mm(length_mm: float, throat_mm: float, full_ends: bool = False) -> float:
    """Length of a weld that counts, mm: less a throat at each end unless full-size there; zero where too short.

    Source: EN 1993-1-8:2005 4.5.1 (1) and (2): at least 30 mm and 6 throats, else it carries nothing.
    """
    length = length_mm if full_ends else length_mm - 2.0 * throat_mm
    wanted = max(
        rows.weld_rule("least_throat", "least_length_mm").value,
        rows.weld_rule("least_throat", "length_per_throat").value * throat_mm,
    )
    return length if length >= wanted else 0.0


def counted_line(line: WeldLine, full_ends: bool = False) -> WeldLine | None:
    """The part of a run that counts, a throat cut off each end; None where too short to carry."""
    length = counted_length_mm(line.length_mm, line.throat_mm, full_ends)
    if length <= 0.0:
        return None
    if full_ends:
        return line
    start, end = np.asarray(line.start_mm, dtype=float), np.asarray(line.end_mm, dtype=float)
    cut = (end - start) / line.length_mm * line.throat_mm
    first, last = start + cut, end - cut
    return replace(
        line,
        start_mm=(float(first[0]), float(first[1]), float(first[2])),
        end_mm=(float(last[0]), float(last[1]), float(last[2])),
    )


def least_throat_mm(
    thicknesses_mm: Sequence[float], *, low_hydrogen: bool = True, cyclic: bool = True, between_deg: float = 90.0
) -> float:
    """Least throat of a fillet between sheets, mm.

    The greater of 3 mm and the throat of the least leg by thickness: of the thinner sheet with a low-hydrogen process
    (gas-shielded wire is one), of the thicker without; `cyclic` asks 5 mm of leg; no leg is asked over the thinner.
    Raises ValueError for no thickness.
    Source: EN 1993-1-8:2005 4.5.2 (2); AWS D1.1 minimum fillet sizes with notes.
    """
    if not thicknesses_mm or min(thicknesses_mm) <= 0.0:
        raise ValueError("a weld joins sheets with thicknesses over zero")
    thin, thick = min(thicknesses_mm), max(thicknesses_mm)
    leg = rows.least_leg(thin if low_hydrogen else thick).value
    if cyclic:
        leg = max(leg, rows.weld_rule("least_leg", "cyclic_leg_mm").value)
    by_leg = throat_of_leg_mm(min(leg, thin), between_deg)
    return max(by_leg, min(rows.weld_rule("least_throat", "throat_mm").value, thin))


def size_checks(
    about: str,
    line: WeldLine,
    thicknesses_mm: Sequence[float],
    *,
    full_ends: bool = False,
    low_hydrogen: bool = True,
    cyclic: bool = True,
    fillet: bool = True,
) -> tuple[Check, ...]:
    """One weld as drawn: thick enough to fuse, not so thick that it burns the sheet, long enough to count."""
    asked = least_throat_mm(thicknesses_mm, low_hydrogen=low_hydrogen, cyclic=cyclic)
    thin = min(thicknesses_mm)
    source = rows.weld_rule("least_leg", "cyclic_leg_mm").source
    largest = rows.weld_rule("largest_throat", "share")
    name = f"{about}, {line.name or 'weld'}"
    out = []
    if fillet:
        out += [
            least(
                name, "throat against its least", line.throat_mm, asked, "mm", source,
                f"Draw the throat {asked:.1f} mm or more: a small weld on thick metal cools too fast and cracks.",
            ),
            most(
                name, "throat against its largest", line.throat_mm, max(largest.value * thin, asked), "mm",
                largest.source, f"Make the throat {largest.value * thin:.1f} mm or less, and the weld longer.",
                Severity.CAUTION,
            ),
        ]  # fmt: skip
    elif line.throat_mm > thin:
        out.append(
            refused(
                name, "throat over the sheet", GEOMETRY,
                f"A butt weld is no thicker than the sheet: write {thin:g} mm or less.",
            )
        )  # fmt: skip
    per = rows.weld_rule("least_throat", "length_per_throat").value * line.throat_mm
    wanted = max(rows.weld_rule("least_throat", "least_length_mm").value, per)
    counts = line.length_mm if full_ends else line.length_mm - 2.0 * line.throat_mm
    out.append(
        least(
            name, "length that counts", counts, wanted, "mm", rows.weld_rule("least_throat", "throat_mm").source,
            f"Weld {wanted + (0.0 if full_ends else 2.0 * line.throat_mm):.0f} mm or more, or carry the weld round the "
            "corner: shorter ones are not counted.",
        )
    )  # fmt: skip
    if thin < _THIN_FROM_MM:
        out.append(
            least(
                name, "thinner sheet", thin, _THIN_FROM_MM, "mm", _THIN,
                "Prove the weld with trial pieces of this sheet bent to breaking.", Severity.CAUTION,
            )
        )  # fmt: skip
    return tuple(out)
