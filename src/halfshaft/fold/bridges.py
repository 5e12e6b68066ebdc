"""A slit fold in; its bridges, the pull that folds it by hand, and the slits to weld, out.

A bridge is a bar of rectangular section that turns plastically as the fold closes. Its plastic moment is flow stress x
width x thickness^2 / 4 (plastic section modulus b h^2 / 4, EN 1993-1-1:2005, 6.2.5), the flow stress midway between
yield and ultimate. Before welding it must stay elastic under the weight it carries: yield x width x thickness^2 / 6.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.catalogue import MaterialRow, default
from halfshaft.build.schema import Sheet, Shop
from halfshaft.build.units import STANDARD_GRAVITY
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.fold.model import Bridge, Fold, Panel
from halfshaft.fold.slab import figure, into_metal, line_of

Array = NDArray[np.float64]

_DERIVED = Source(Origin.DERIVED, "docs/bridges.md; plastic modulus b h^2 / 4, EN 1993-1-1:2005, 6.2.5")


@dataclass(frozen=True, slots=True)
class WeldRun:
    """One slit to weld after folding, from `start_mm` to `end_mm` along the fold line, on the outside of the fold."""

    fold: str
    start_mm: float
    end_mm: float
    side: str = "outside"

    @property
    def length_mm(self) -> float:
        return self.end_mm - self.start_mm


def with_bridges(
    fold: Fold,
    sheet: Sheet,
    material: MaterialRow,
    shop: Shop,
    panels: Mapping[str, Panel] | None = None,
    folds: Sequence[Fold] = (),
) -> Fold:
    """The slit fold with its bridges, hand force and weld length; a brake bend comes back as it is.

    `panels` and `folds`, where given, keep bridges clear of holes, and say what hangs on the fold. Bridges are of the
    usual width and spacing; wider where the weight wants it; fewer, then narrower, where one person could not fold
    them. What cannot be met is said by `bridge_checks`.
    """
    if fold.kind != "slit":
        return fold
    t = sheet.thickness_mm
    room, least = _thicknesses("fold.bridge_room", t), _thicknesses("fold.bridge_least", t)
    each_mm = plastic_moment_nmm(1.0, t, flow_stress_mpa(sheet, material))
    most_width = (1.0 - 1e-9) * shop.hand_force_n * _arm_mm(fold, shop, panels) / each_mm
    hold_width = 6.0 * _hanging_moment_nmm(fold, material, panels, folds) / (_yield_mpa(sheet, material) * t**2)
    width = _thicknesses("fold.bridge_width", t)
    count = max(2, int(np.ceil(fold.length_mm / float(default("fold.bridge_spacing").value))))
    count = max(1, min(count, int((fold.length_mm - room) / (least + room))))
    if count * width > most_width:
        count = max(min(2, count), int(most_width / width))
    width = max(least, min(width, most_width / count), hold_width / count)
    width = min(width, max(fold.length_mm - 2.0 * room, least) / count)
    taken = _near_holes(fold, panels, room) if panels else []
    bridges = _placed(fold.length_mm, count, width, room, taken)
    total = sum(b.end_mm - b.start_mm for b in bridges)
    return replace(
        fold,
        bridges=bridges,
        hand_force_n=plastic_moment_nmm(total, t, flow_stress_mpa(sheet, material)) / _arm_mm(fold, shop, panels),
        weld_length_mm=fold.length_mm - total,
    )


def plastic_moment_nmm(width_mm: float, thickness_mm: float, stress_mpa: float) -> float:
    """Moment that turns a rectangular bar plastically: stress x width x thickness^2 / 4.

    Source: EN 1993-1-1:2005, 6.2.5 (2), with the plastic modulus b h^2 / 4 of a rectangle.
    """
    return stress_mpa * width_mm * thickness_mm**2 / 4.0


def flow_stress_mpa(sheet: Sheet, material: MaterialRow) -> float:
    """Midway between yield and ultimate, the builder's figures before the catalogue's. Source: common practice."""
    return 0.5 * (_yield_mpa(sheet, material) + (sheet.ultimate_mpa or material.ultimate_mpa))


def weld_runs(folds: Sequence[Fold]) -> tuple[WeldRun, ...]:
    """The slits between the bridges of every slit fold, in order along each line."""
    runs = []
    for fold in folds:
        if fold.kind != "slit":
            continue
        at = 0.0
        for bridge in sorted(fold.bridges, key=lambda b: b.start_mm):
            runs.append(WeldRun(fold.name, at, bridge.start_mm))
            at = bridge.end_mm
        runs.append(WeldRun(fold.name, at, fold.length_mm))
    return tuple(run for run in runs if run.length_mm > 1e-6)


def bridge_checks(
    bracket: str,
    folds: Sequence[Fold],
    panels: Mapping[str, Panel],
    sheet: Sheet,
    material: MaterialRow,
    shop: Shop,
) -> tuple[Check, ...]:
    """Whether each fold can be folded by one person and holds itself until it is welded."""
    checks: list[Check] = []
    for fold in folds:
        about = f"bracket {bracket}, fold {fold.name}"
        if fold.kind != "slit":
            checks.append(_brake_check(about))
            continue
        total = sum(b.end_mm - b.start_mm for b in fold.bridges)
        if not fold.bridges:
            checks.append(_no_bridge_check(about, fold))
            continue
        arm = _arm_mm(fold, shop, panels)
        moment = plastic_moment_nmm(total, sheet.thickness_mm, flow_stress_mpa(sheet, material))
        longer = moment / shop.hand_force_n
        checks.append(
            Check(
                station="fold",
                about=about,
                title="pull on the lever that folds it",
                source=_DERIVED,
                severity=Severity.CAUTION,
                do=(
                    f"Pull at {arm:.0f} mm from the fold line, once and never back."
                    if fold.hand_force_n <= shop.hand_force_n
                    else f"Use a lever of {10.0 * np.ceil(longer / 10.0):.0f} mm or two people, or thinner sheet; "
                    "the bridges are as few and narrow as they may be."
                ),
                found=fold.hand_force_n,
                limit=shop.hand_force_n,
                unit="N",
                good=Good.AT_MOST,
            )
        )
        holds = _yield_mpa(sheet, material) * total * sheet.thickness_mm**2 / 6.0
        handling = float(default("fold.handling").value)
        weight = _hanging_moment_nmm(fold, material, panels, folds) / handling
        checks.append(
            Check(
                station="fold",
                about=about,
                title="times the hanging weight that the bridges hold before welding",
                source=_DERIVED,
                severity=Severity.CAUTION,
                do=(
                    "Tack both ends of the fold before the part is moved."
                    if holds >= handling * weight
                    else "Carry the folded part by its heavy panel and tack this fold where it lies."
                ),
                found=holds / max(weight, 1e-9),
                limit=handling,
                unit="",
            )
        )
        checks.append(_stretch_check(about, fold, sheet.thickness_mm))
    return tuple(checks)


def _brake_check(about: str) -> Check:
    return Check(
        station="fold",
        about=about,
        title="brake bend",
        source=Source(Origin.COMMON_PRACTICE),
        severity=Severity.CAUTION,
        do="This bend wants a press brake: have it bent outside with the angle and radius on the shop sheet, or write "
        'kind = "slit" for a fold by hand.',
        good=Good.TOLD,
    )


def _no_bridge_check(about: str, fold: Fold) -> Check:
    return Check(
        station="fold",
        about=about,
        title="room for bridges",
        source=_DERIVED,
        severity=Severity.STOP,
        do=f"Holes and openings leave no room for a bridge on a fold line of {fold.length_mm:.0f} mm: move the nearest "
        "hole off the fold, or make the line longer.",
        failed_outright=True,
    )


def _stretch_check(about: str, fold: Fold, thickness_mm: float) -> Check:
    """The outer fibre lies t - p from the turn's axis; it spreads over the slit and half a thickness a side."""
    turned = float(np.radians(fold.angle_deg)) * (thickness_mm - fold.pivot_depth_mm)
    return Check(
        station="fold",
        about=about,
        title="stretch of the bridges' outside",
        source=_DERIVED,
        severity=Severity.NOTE,
        do="Fold once, never back, and weld over cracked bridges. Put no load on the part before all slits are welded.",
        found=100.0 * turned / (fold.slit_width_mm + thickness_mm),
        unit="%",
        good=Good.TOLD,
    )


def _thicknesses(key: str, thickness_mm: float) -> float:
    return float(default(key).value) * thickness_mm


def _yield_mpa(sheet: Sheet, material: MaterialRow) -> float:
    return sheet.yield_mpa or material.yield_mpa


def _arm_mm(fold: Fold, shop: Shop, panels: Mapping[str, Panel] | None) -> float:
    """The lever, or the panel's own depth where that reaches farther."""
    if panels is None or fold.b not in panels:
        return shop.lever_mm
    shape, line = figure(panels[fold.b]), line_of(fold, fold.b)
    depth = (np.asarray(shape.exterior.coords) - line[0]) @ into_metal(shape, line)
    return max(shop.lever_mm, float(depth.max()))


def _hanging_moment_nmm(
    fold: Fold, material: MaterialRow, panels: Mapping[str, Panel] | None, folds: Sequence[Fold]
) -> float:
    """Weight that hangs on the fold times its reach from the line, worst way up, times the handling factor."""
    if panels is None or fold.b not in panels:
        return 0.0
    hanging, queue = set(), [fold.b]
    while queue:
        name = queue.pop()
        if name not in hanging and name in panels:
            hanging.add(name)
            queue += [other.b for other in folds if other.a == name]
    line = panels[fold.b].pose.apply(np.column_stack([line_of(fold, fold.b), np.zeros(2)]))
    axis = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
    moment = 0.0
    for name in hanging:
        panel, shape = panels[name], figure(panels[name])
        middle = panel.pose.apply(np.array([shape.centroid.x, shape.centroid.y, panel.thickness_mm / 2.0]))
        reach = float(np.linalg.norm(np.cross(middle - line[0], axis)))
        mass_kg = shape.area * panel.thickness_mm * 1e-9 * material.density_kg_m3
        moment += mass_kg * STANDARD_GRAVITY * reach
    return moment * float(default("fold.handling").value)


def _near_holes(fold: Fold, panels: Mapping[str, Panel], room_mm: float) -> list[tuple[float, float]]:
    """Stretches of the line that holes and openings of either panel come too near to."""
    taken = []
    for name in (fold.a, fold.b):
        if name not in panels:
            continue
        panel, line = panels[name], line_of(fold, name)
        along = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
        across = np.array([-along[1], along[0]])
        for hole in panel.holes:
            away = np.asarray(hole.centre_mm, dtype=float) - line[0]
            reach = hole.diameter_mm / 2.0 + hole.slot_mm / 2.0 + room_mm
            if abs(float(away @ across)) < reach:
                taken.append((float(away @ along) - reach, float(away @ along) + reach))
        for opening in panel.openings:
            away = opening.flattened_mm(0.1) - line[0]
            if float(np.min(np.abs(away @ across))) < room_mm or float(np.ptp(np.sign(away @ across))) > 0.0:
                taken.append((float((away @ along).min()) - room_mm, float((away @ along).max()) + room_mm))
    return sorted(taken)


def _placed(
    length_mm: float, count: int, width_mm: float, room_mm: float, taken: Sequence[tuple[float, float]]
) -> tuple[Bridge, ...]:
    """Bridges as even as the taken stretches allow, each as near to its even place as it can be."""
    half = width_mm / 2.0
    first = min(room_mm, max(length_mm / 2.0 - half, 0.0)) + half
    last = length_mm - first
    barred = [(low - half, high + half) for low, high in taken]
    middles: list[float] = []
    for i in range(count):
        even = (i + 0.5) * length_mm / count
        edges = [even, first, last, *(edge for low, high in barred for edge in (low, high))]
        edges += [middle + width_mm + room_mm for middle in middles]
        free = [
            at
            for at in edges
            if first - 1e-9 <= at <= last + 1e-9
            and not any(low + 1e-9 < at < high - 1e-9 for low, high in barred)
            and all(abs(at - other) >= width_mm + room_mm - 1e-9 for other in middles)
        ]
        if free:
            middles.append(min(free, key=lambda at: abs(at - even)))
    return tuple(Bridge(at - half, at + half) for at in sorted(middles))
