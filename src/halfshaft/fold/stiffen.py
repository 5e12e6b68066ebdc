"""Stiffening lips. Panels, folds and wishes in; the same with a lip folded up along a free edge out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString

from halfshaft.fold.model import Fold, Panel
from halfshaft.fold.pivot import bend_allowance_mm, brake_setback_mm, pivot_depth_mm, slit_setback_mm
from halfshaft.fold.slab import figure, fold_pose, line_of
from halfshaft.geometry import Contour

if TYPE_CHECKING:
    from halfshaft.build.schema import BracketInput, Sheet, Shop, StiffenerInput

Array = NDArray[np.float64]

_LEAST_EDGE_MM = 10.0
WAYS = {
    "front": (1.0, 0.0, 0.0),
    "rear": (-1.0, 0.0, 0.0),
    "left": (0.0, 1.0, 0.0),
    "right": (0.0, -1.0, 0.0),
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
}


def add_stiffeners(
    panels: Mapping[str, Panel],
    folds: Sequence[Fold],
    bracket: BracketInput,
    sheet: Sheet,
    shop: Shop,
    brake_radius_mm: float | None = None,
    k_factor: float | None = None,
) -> tuple[dict[str, Panel], tuple[Fold, ...]]:
    """Panels and folds with every wished lip added, named as the builder named it; the fold is 'panel-lip'.

    The lip stands on the edge itself: the fold line is the edge, so the lip's height is told from it. Its free corners
    are rounded by half its height, or a quarter of its length when that is less. A brake bend wants the radius and
    K-factor of the sheet or, when it gives none, those passed.
    Raises ValueError naming the lip, for each that finds no edge, all at once.
    """
    out, lines, problems = dict(panels), list(folds), []
    for name, wish in bracket.stiffener.items():
        if wish.on not in out:
            problems.append(f"stiffener {name}: there is no panel '{wish.on}'; panels are {', '.join(panels)}")
            continue
        if name in out:
            problems.append(f"stiffener {name}: a panel has that name already")
            continue
        try:
            edge = _edge(out[wish.on], [f for f in lines if wish.on in (f.a, f.b)], wish)
            lip, fold = _lip(name, out[wish.on], edge, wish, bracket.fold, sheet, shop, brake_radius_mm, k_factor)
        except ValueError as problem:
            problems.append(f"stiffener {name}: {problem}")
            continue
        out[name] = lip
        lines.append(fold)
    if problems:
        raise ValueError("; ".join(problems))
    return out, tuple(lines)


def free_edges(panel: Panel, folds: Sequence[Fold]) -> list[tuple[Array, Array, Array]]:
    """Straight runs of the outline clear of every fold line: start (2,), end (2,), outward unit normal (2,)."""
    taken = shapely.union_all([LineString(line_of(f, panel.name)).buffer(1.0) for f in folds]) if folds else None
    points, out = panel.outline.points_mm, []
    for start, end, bulge in zip(points, np.roll(points, -1, axis=0), panel.outline.bulge, strict=True):
        length = float(np.linalg.norm(end - start))
        if abs(bulge) > 1e-12 or length < _LEAST_EDGE_MM:
            continue
        run = LineString([start, end])
        if taken is not None and run.intersection(taken).length > 2.5:
            continue
        way = (end - start) / length
        out.append((start, end, np.array([way[1], -way[0]])))
    return out


def _edge(panel: Panel, folds: Sequence[Fold], wish: StiffenerInput) -> tuple[Array, Array]:
    edges = free_edges(panel, folds)
    if wish.edge != "longest":
        way = panel.pose.rotation.T @ np.array(WAYS[wish.edge])
        flat = float(np.linalg.norm(way[:2]))
        if flat < 0.2:
            raise ValueError(
                f"panel '{panel.name}' lies square to '{wish.edge}', so no edge of it looks that way; name another edge"
            )
        edges = [edge for edge in edges if float(edge[2] @ way[:2]) / flat > np.cos(np.radians(46.0))]
    if not edges:
        wanted = "straight free" if wish.edge == "longest" else f"straight free {wish.edge}"
        raise ValueError(
            f"panel '{panel.name}' has no {wanted} edge of {_LEAST_EDGE_MM:.0f} mm or more; draw its outline"
        )
    start, end, _ = max(edges, key=lambda edge: float(np.linalg.norm(edge[1] - edge[0])))
    return start, end


def _lip(
    name: str, panel: Panel, edge: tuple[Array, Array], wish: StiffenerInput, kind: str, sheet: Sheet, shop: Shop,
    brake_radius_mm: float | None, k_factor: float | None,
) -> tuple[Panel, Fold]:  # fmt: skip
    start, end = edge
    length = float(np.linalg.norm(end - start))
    thickness, angle = panel.thickness_mm, wish.angle_deg
    away_is_up = panel.contact != "upper"
    up = away_is_up if wish.toward == "away" else not away_is_up
    slit_width = shop.slit_width_mm if shop.slit_width_mm is not None else shop.kerf_mm
    radius = allowance = 0.0
    if kind == "slit":
        given = sheet.pivot_depth_mm
        depth = pivot_depth_mm(thickness, slit_width, angle) if given is None else given
        setback = slit_setback_mm(depth, angle)
    else:
        bend = sheet.brake_radius_mm if sheet.brake_radius_mm is not None else brake_radius_mm
        k = sheet.k_factor if sheet.k_factor is not None else k_factor
        if bend is None or k is None:
            raise ValueError("a brake bend wants the sheet's brake_radius and k_factor")
        radius, depth, slit_width = bend, k * thickness, 0.0
        allowance = bend_allowance_mm(radius, k, thickness, angle)
        setback = brake_setback_mm(radius, angle)
    height = wish.height_mm
    if height <= max(-setback, 0.0) + thickness:
        raise ValueError(
            f"a height of {height:.1f} mm is under the thickness and fold; write at least {2 * thickness:.1f} mm"
        )
    line_a = np.array([start, end])
    # The lip's x axis runs against the edge so that its y axis points out of the panel with the same side up.
    line_b = np.array([[length, 0.0], [0.0, 0.0]])
    fold = Fold(
        f"{panel.name}-{name}", panel.name, name, kind, wish.angle_deg, up, line_a, line_b, allowance, float(setback),
        float(depth), radius, slit_width,
    )  # fmt: skip
    pose = panel.pose.after(fold_pose(fold, thickness, figure(panel)))
    outline = rounded_strip(length, height, min(height / 2.0, length / 4.0))
    return Panel(name, pose, thickness, outline, (), (), "none", ""), fold


def rounded_strip(length_mm: float, height_mm: float, radius_mm: float) -> Contour:
    """A strip from y = 0 to its height with its two upper corners rounded; counter-clockwise."""
    quarter = float(np.tan(np.pi / 8.0))
    r = radius_mm
    points = np.array(
        [[0.0, 0.0], [length_mm, 0.0], [length_mm, height_mm - r], [length_mm - r, height_mm], [r, height_mm],
         [0.0, height_mm - r]]
    )  # fmt: skip
    bulge = np.array([0.0, 0.0, quarter, 0.0, quarter, 0.0])
    keep = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1) > 1e-9
    return Contour(points[keep], bulge[keep])
