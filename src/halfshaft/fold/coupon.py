"""A sheet in, a test coupon with a table to fill in out; and back: the filled table in, the sheet's pivot depth out.

The coupon is a comb: a base with tongues, each on a slit fold. With the base flat on the bench, outside down, a tongue
of flat length B turned up by theta about a line p under the inside face of sheet t stands
    height = B sin + t - p (1 - cos)             for theta up to 90 (the inner corner is highest),
             B sin + (t - p) (1 - cos)           beyond (the outer corner is highest)
over the bench, and reaches, from the base's far edge at D from the line,
    reach  = D + B cos + (t - p) sin             for theta up to 90.
Derived here from a rigid turn, docs/bridges.md.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.catalogue import default, material
from halfshaft.build.schema import Sheet, Shop
from halfshaft.build.units import format_sheet, read_angle_deg, read_length_mm
from halfshaft.fold.bridges import with_bridges
from halfshaft.fold.model import FlatPart, Fold, Mark
from halfshaft.fold.strokes import strokes_of
from halfshaft.geometry import Contour

Array = NDArray[np.float64]

_GAP_MM = 15.0  # between tongues
_RUNG_MM = 10.0  # between the ladder's marks
_TICK_MM = 4.0
HEADER = ("fold", "thickness_mm", "flat_leg_mm", "flat_base_mm", "angle_deg", "height_mm", "reach_mm")


@dataclass(frozen=True, eq=False, slots=True)
class Coupon:
    """The part to cut, its folds with their angles, and the table to fill in as CSV text."""

    part: FlatPart
    folds: tuple[Fold, ...]
    table: str


@dataclass(frozen=True, slots=True)
class CouponRow:
    """One folded tongue as measured; `height_mm` or `reach_mm` may be missing, not both."""

    fold: str
    thickness_mm: float
    flat_leg_mm: float
    flat_base_mm: float
    angle_deg: float
    height_mm: float | None = None
    reach_mm: float | None = None


@dataclass(frozen=True, slots=True)
class PivotFound:
    """`value_mm` is what to write as the sheet's pivot_depth; `each_mm` what each fold alone gives."""

    value_mm: float
    spread_mm: float
    each_mm: tuple[tuple[str, float, float], ...]  # fold, angle (deg), depth (mm)
    words: tuple[str, ...]  # what to mind, empty when all agrees


def coupon(
    name: str, sheet: Sheet, shop: Shop, angles_deg: Sequence[float] = (90.0, 90.0, 60.0), units: str = "metric"
) -> Coupon:
    """A comb of one tongue an angle, all folded up, with ladder marks every 10 mm from each fold line.

    `name` is the sheet's name in the build. Raises ValueError for no angles, or one outside 30 to 120 degrees:
    shallower folds hardly show the depth, steeper ones hide the tongue's end.
    """
    if not angles_deg or any(not 30.0 <= angle <= 120.0 for angle in angles_deg):
        raise ValueError(f"a coupon wants angles between 30 and 120 degrees, not {list(angles_deg)}")
    t = sheet.thickness_mm
    long, wide = float(default("fold.coupon_tongue").value), float(default("fold.coupon_width").value)
    slit = shop.slit_width_mm or shop.kerf_mm
    step, width = wide + _GAP_MM, len(angles_deg) * (wide + _GAP_MM) - _GAP_MM
    corners: list[tuple[float, float]] = [(0.0, -long), (width, -long)]
    folds, marks, slits, lines = [], [], [], {}
    placed: dict[str, tuple[Array, Array]] = {"base": (np.eye(2), np.zeros(2))}
    steel = material(sheet.material)
    for i in reversed(range(len(angles_deg))):
        left, right = i * step, i * step + wide
        if i < len(angles_deg) - 1:
            corners += [(right + _GAP_MM, -t), (right, -t)]
        corners += [(right, long), (left, long)]
    for i, angle in enumerate(angles_deg):
        left, label = i * step, f"{name}.{i + 1}"
        line = np.array([[left, 0.0], [left + wide, 0.0]])
        depth = _expected_depth(t, slit, angle)
        local = line - [left, 0.0]
        set_back = -depth * float(np.tan(np.radians(angle) / 2.0))
        bare = Fold(label, "base", f"tongue {i + 1}", "slit", angle, True, line, local, 0.0, set_back, depth, 0.0, slit)
        fold = with_bridges(bare, sheet, steel, shop)
        folds.append(fold)
        lines[label] = line
        placed[fold.b] = (np.eye(2), np.array([left, 0.0]))
        at = [left, *(left + e for b in fold.bridges for e in (b.start_mm, b.end_mm)), left + wide]
        slits += [np.array([[a, 0.0], [b, 0.0]]) for a, b in zip(at[::2], at[1::2], strict=True) if b - a > 1e-6]
        marks.append(_text(f"{i + 1}: {angle:g}°", left + 8.0, long / 2.0))
    marks.append(_text(f"{name} {format_sheet(t, units)}", 8.0, -long + 8.0))
    letters = list(marks)
    marks += [_ladder(i * step, wide, long, letters) for i in range(len(angles_deg))]
    part = FlatPart(
        f"coupon.{name}", name, t, Contour.of_points(corners), (), (), tuple(slits), slit, lines, tuple(marks), placed
    )
    rows = [(fold.name, "", f"{long:g}", f"{long:g}", "", "", "") for fold in folds]
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([HEADER, *rows])
    return Coupon(part, tuple(folds), _HOW + out.getvalue())


_HOW = """\
# Before folding measure the thickness, each tongue from the middle of its slit to its end (flat_leg_mm) and the base
# from the middle of the slit to its far edge (flat_base_mm); write over what stands there. Dress the edges.
# Fold each tongue up to about its angle, base flat on the bench, marks inside. Then read: the angle turned from flat,
# the tongue's highest point over the bench (height_mm), and from the base's far edge to the farthest point of the
# tongue, level (reach_mm). Leave reach_mm empty beyond 90 degrees. Numbers are mm; a length may be told as 2 3/8 in.
"""


def read_table(text: str) -> tuple[CouponRow, ...]:
    """Rows of a filled table; rows with nothing read yet are passed over.

    Cells are mm and degrees, or carry a unit ('2 3/8 in'); a table saved with semicolons and decimal commas will do.
    Raises ValueError with one line for each fault: the line's number, what was found and what to write.
    """
    rows, faults = [], []
    for number, line in enumerate(text.splitlines(), start=1):
        bare = line.split("#", 1)[0].strip()
        if not bare:
            continue
        parted = bare.replace(",", ".").split(";") if ";" in bare else bare.split(",")
        cells = [cell.strip().strip('"').strip() for cell in parted]
        if tuple(cells) == HEADER or not any(cells):
            continue
        if len(cells) != len(HEADER):
            faults.append(
                f"line {number}: {len(cells)} found of {len(HEADER)} values; "
                f"write {', '.join(HEADER)}, and leave empty what was not read but keep its comma"
            )
            continue
        if not any(cells[4:]):
            continue
        values: list[float | None] = []
        for title, cell in zip(HEADER[1:], cells[1:], strict=True):
            may_miss = title in ("height_mm", "reach_mm")
            value = _number(cell, title == "angle_deg")
            if value is None and not (may_miss and not cell):
                found = f"found '{cell[:40]}' for {title}" if cell else f"{title} is empty"
                faults.append(f"line {number}: {found}; write {_WRITE[title]}")
            values.append(value)
        thickness, leg, base, angle, height, reach = values
        if thickness is None or leg is None or base is None or angle is None:
            continue
        if not any(cells[5:]):
            faults.append(f"line {number}: neither height_mm nor reach_mm is filled in; write at least one of them")
            continue
        rows.append(CouponRow(cells[0], thickness, leg, base, angle, height, reach))
    if faults:
        raise ValueError("\n".join(faults))
    return tuple(rows)


def pivot_from_coupon(rows: Sequence[CouponRow], sheet: Sheet) -> PivotFound:
    """Pivot depth of a sheet by least squares over folded tongues: one depth, and each fold's true angle.

    Observations are heights, reaches and angles, with the catalogue's spreads; the spread that comes out grows with
    the misfit where the folds agree less than their readings should. `sheet` gives the thickness to compare with.
    Raises ValueError where no row is filled in, and naming rows that cannot be.
    """
    faults = [f"fold {row.fold}: {why}" for row in rows for why in _impossible(row, sheet)]
    if not rows:
        faults.append("the coupon's table holds no folded tongue: fill in angle_deg and height_mm")
    if faults:
        raise ValueError("\n".join(faults))
    depth, spread, scale = _least_squares(rows)
    each = tuple((row.fold, row.angle_deg, _least_squares([row])[0]) for row in rows)
    words = []
    t = float(np.mean([row.thickness_mm for row in rows]))
    if not -2.0 * spread <= depth <= t / 2.0 + 2.0 * spread:
        words.append(
            f"The depth found, {depth:.2f} mm, lies outside 0 to {t / 2.0:.2f} mm (mid-thickness): measure the flat "
            "lengths and the thickness again."
        )
    if len(rows) > 1 and scale > 2.0:
        far = max(each, key=lambda one: abs(one[2] - depth))
        words.append(
            f"The folds agree {scale:.1f} times worse than their readings: fold {far[0]} gives {far[2]:.2f} mm. "
            "Measure it again; if it stays, take the depth of the fold whose angle is nearest your brackets'."
        )
    return PivotFound(float(depth), float(spread), each, tuple(words))


def tongue_mm(
    depth_mm: float, thickness_mm: float, leg_mm: float, base_mm: float, angle_deg: float
) -> tuple[float, float]:
    """Height over the bench and reach from the base's far edge of one folded tongue; formulas at the top."""
    sine, cosine = float(np.sin(np.radians(angle_deg))), float(np.cos(np.radians(angle_deg)))
    out = thickness_mm - depth_mm
    height = leg_mm * sine + out + max(depth_mm * cosine, -out * cosine)
    return height, base_mm + max(leg_mm * cosine, 0.0) + out * sine


def _least_squares(rows: Sequence[CouponRow]) -> tuple[float, float, float]:
    """Depth, its spread, and how many times worse than stated the readings agree (at least 1)."""
    caliper, protractor = float(default("fold.coupon_caliper").value), float(default("fold.coupon_angle").value)
    seen, spreads = [], []
    for row in rows:
        for value in (row.height_mm, row.reach_mm):
            if value is not None:
                seen.append(value)
                spreads.append(caliper)
    seen += [row.angle_deg for row in rows]
    spreads += [protractor] * len(rows)

    def predicted(unknown: Array) -> Array:
        out: list[float] = []
        for row, angle in zip(rows, unknown[1:], strict=True):
            both = tongue_mm(unknown[0], row.thickness_mm, row.flat_leg_mm, row.flat_base_mm, angle)
            read = (row.height_mm, row.reach_mm)
            out += [told for told, value in zip(both, read, strict=True) if value is not None]
        return np.array([*out, *unknown[1:]])

    unknown = np.array([0.25 * rows[0].thickness_mm, *(row.angle_deg for row in rows)])
    weight = 1.0 / np.array(spreads)
    slopes = np.empty((len(seen), len(unknown)))
    for _ in range(30):
        for j in range(len(unknown)):
            step = np.zeros(len(unknown))
            step[j] = 1e-5
            slopes[:, j] = (predicted(unknown + step) - predicted(unknown - step)) / 2e-5
        change = np.linalg.lstsq(slopes * weight[:, None], (np.array(seen) - predicted(unknown)) * weight, rcond=None)[
            0
        ]
        unknown = unknown + change
        if np.max(np.abs(change)) < 1e-9:
            break
    left = (np.array(seen) - predicted(unknown)) * weight
    spare = len(seen) - len(unknown)
    scale = max(1.0, float(np.sqrt(left @ left / spare))) if spare > 0 else 1.0
    formal = float(np.sqrt(np.linalg.inv((slopes * weight[:, None]).T @ (slopes * weight[:, None]))[0, 0]))
    return float(unknown[0]), scale * formal, scale


def _impossible(row: CouponRow, sheet: Sheet) -> list[str]:
    why = []
    if row.height_mm is None and row.reach_mm is None:
        why.append("neither height_mm nor reach_mm is filled in")
    if not 20.0 <= row.angle_deg <= 130.0:
        why.append(f"angle_deg is {row.angle_deg:g}; write the angle turned from flat, between 20 and 130")
    if abs(row.thickness_mm - sheet.thickness_mm) > 0.25 * sheet.thickness_mm:
        why.append(f"thickness_mm is {row.thickness_mm:g}, the sheet is {sheet.thickness_mm:g} mm; measure it again")
    if row.reach_mm is not None and row.angle_deg > 92.0:
        why.append("reach_mm beyond 90 degrees tells nothing sure; leave it empty")
    return why


def _expected_depth(thickness_mm: float, slit_mm: float, angle_deg: float) -> float:
    """min(t / 2, k / (2 tan(theta / 2))): mid-thickness until the slit closes on the inside."""
    return min(thickness_mm / 2.0, slit_mm / (2.0 * float(np.tan(np.radians(angle_deg) / 2.0))))


_WRITE = {
    "thickness_mm": "the sheet's thickness, such as 4.9",
    "flat_leg_mm": "the tongue's length before folding, such as 59.6",
    "flat_base_mm": "the base's length, such as 60.2",
    "angle_deg": "how far the tongue is turned from flat, such as 88.5",
    "height_mm": "the tongue's highest point over the bench, such as 62.4, or nothing",
    "reach_mm": "how far the tongue reaches, such as 63.1, or nothing",
}


def _number(cell: str, angle: bool) -> float | None:
    try:
        value = read_angle_deg(cell) if angle else read_length_mm(cell)
    except ValueError:
        return None
    return value if np.isfinite(value) and value > 0.0 else None


def _ladder(left: float, wide: float, long: float, letters: Sequence[Mark]) -> Mark:
    """Ticks at both edges of a tongue every rung from its fold line, and down the base under it, clear of letters."""
    boxes = [np.vstack(mark.strokes_mm) for mark in letters]
    ticks = []
    for y in np.arange(_RUNG_MM, long - 1.0, _RUNG_MM):
        for at in (y, -y):
            for x, way in ((left + 1.0, 1.0), (left + wide - 1.0, -1.0)):
                tick = np.array([[x, at], [x + way * _TICK_MM, at]])
                low, high = tick.min(axis=0) - _TICK_MM / 2.0, tick.max(axis=0) + _TICK_MM / 2.0
                if not any(np.all(box.min(axis=0) < high) and np.all(box.max(axis=0) > low) for box in boxes):
                    ticks.append(tick)
    return Mark(tuple(ticks), "")


def _text(text: str, x: float, y: float) -> Mark:
    strokes, _ = strokes_of(text, 5.0)
    return Mark(tuple(stroke + np.array([x, y]) for stroke in strokes), text)
