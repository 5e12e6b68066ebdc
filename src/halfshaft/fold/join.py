"""Removable plates. Panels, wishes and spots of the bolts in; a cover that lies flat on its panel, bored alike, out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon

from halfshaft.build.catalogue import bolt as bolt_row
from halfshaft.build.catalogue import default
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.fold.model import Hole, Panel
from halfshaft.fold.panels import hole_of
from halfshaft.fold.slab import figure
from halfshaft.geometry import Pose
from halfshaft.geometry.arcs import contours_of

if TYPE_CHECKING:
    from halfshaft.build.schema import BracketInput, HoleInput, JoinInput

Array = NDArray[np.float64]

_LEAST_MM2 = 1.0  # less is no plate
_TOUCH_MM = 0.05


@dataclass(frozen=True, slots=True)
class Seat:
    """How a cover lies on its panel: lean in degrees, gap in mm (less than zero: into each other), and which side."""

    tilt_deg: float
    gap_mm: float
    over: bool  # the cover lies over the panel's upper side


def join_covers(
    panels: Mapping[str, Panel],
    bracket: BracketInput,
    spots_mm: Mapping[str, Array],
    pull_up_mm: float,
    name: str = "",
) -> tuple[dict[str, Panel], tuple[Check, ...]]:
    """Panels with bolt holes of every join bored in both plates, covers made where the builder gave them no plane.

    `spots_mm` gives each bolt's spot (3,) in root axes by the name written; spots are dropped square onto the panel. A
    cover without a plane of its own lies flat on the side of the panel that looks away from its face; its outline is
    the hull of its bosses. A cover with a plane is judged: it must lie level to the panel and within the pull-up of it.
    Raises ValueError naming joins whose panel, spot or bolt is not known, all at once.
    """
    out, checks, problems = dict(panels), [], []
    for join in bracket.join:
        fault = _faults(join, out, spots_mm)
        if fault:
            problems.append(fault)
            continue
        on = out[join.on]
        spots = [np.asarray(spots_mm[wish.at], dtype=float) for wish in join.bolts]
        made = join.cover not in out
        cover = _laid_on(join.cover, on) if made else out[join.cover]
        about = f"bracket {name}, cover {join.cover}" if name else f"cover {join.cover}"
        checks.extend(_seat_checks(about, join, seat_of(on, cover, spots), pull_up_mm, on.thickness_mm))
        for key, panel in ((join.on, on), (join.cover, cover)):
            holes = [_hole(key, panel, wish, spot) for wish, spot in zip(join.bolts, spots, strict=True)]
            given = bracket.panel[key].holes if made and key == join.cover and key in bracket.panel else ()
            own = [
                hole_of(key, wish, panel.pose.inverse().apply(spots_mm[wish.at])[:2])
                for wish in given
                if wish.at in spots_mm
            ]
            out[key] = _bored(panel, [*own, *holes], fresh=made and key == join.cover)
    if problems:
        raise ValueError("; ".join(problems))
    return out, tuple(checks)


def cover_names(bracket: BracketInput) -> tuple[str, ...]:
    """Panels that are plates of their own, bolted on."""
    return tuple(dict.fromkeys(join.cover for join in bracket.join))


def seat_of(on: Panel, cover: Panel, spots_mm: Sequence[Array]) -> Seat:
    """Lean between the two plates and the least gap between their facing sides at the bolts' spots (3,)."""
    lean = float(np.degrees(np.arccos(np.clip(abs(on.pose.rotation[:, 2] @ cover.pose.rotation[:, 2]), 0.0, 1.0))))
    axis, back = on.pose.rotation[:, 2], cover.pose.inverse()
    low, high = [], []
    for spot in spots_mm:
        foot = on.pose.apply([*on.pose.inverse().apply(spot)[:2], 0.0])
        start, way = back.apply(foot), back.rotation @ axis
        ends = sorted((z - start[2]) / way[2] for z in (0.0, cover.thickness_mm))
        low.append(ends[0])
        high.append(ends[1])
    over = float(np.mean(low) + np.mean(high)) / 2.0 >= on.thickness_mm / 2.0
    gap = min(low) - on.thickness_mm if over else -max(high)
    return Seat(lean, float(gap), over)


def _faults(join: JoinInput, panels: Mapping[str, Panel], spots: Mapping[str, Array]) -> str:
    where = f"join of {join.cover} on {join.on}"
    if join.on not in panels:
        return f"{where}: there is no panel '{join.on}'; panels are {', '.join(panels)}"
    if len(join.bolts) < 1:
        return f"{where}: no bolt holds the cover; name one spot or more"
    missing = [wish.at for wish in join.bolts if wish.at not in spots]
    if missing:
        return f"{where}: no spot is known for {', '.join(missing)}"
    for wish in join.bolts:
        try:
            bolt_row(wish.bolt)
        except KeyError as problem:
            return f"{where}: {problem.args[0]}"
    return ""


def _laid_on(name: str, on: Panel) -> Panel:
    """A plate of the same thickness on the side of `on` away from its face, with the same side up."""
    step = -on.thickness_mm if on.contact == "upper" else on.thickness_mm
    pose = on.pose.after(Pose(np.eye(3), np.array([0.0, 0.0, step])))
    return Panel(name, pose, on.thickness_mm, on.outline, (), (), on.contact, "")


def _hole(panel_name: str, panel: Panel, wish: HoleInput, spot: Array) -> Hole:
    """The joining bolt's hole in one of the two plates; the other plate's like hole is what it must meet."""
    hole = hole_of(panel_name, wish, panel.pose.inverse().apply(spot)[:2])
    return replace(hole, point="", use="join", frame_hole_mm=hole.diameter_mm)


def _bored(panel: Panel, holes: Sequence[Hole], fresh: bool) -> Panel:
    """The panel with the holes added and metal round each; a fresh plate is the hull of its bosses."""
    known = {hole.name for hole in panel.holes}
    added = [hole for hole in holes if hole.name not in known]
    discs = [Point(hole.centre_mm).buffer(hole.boss_mm, quad_segs=48) for hole in added]
    if not added:
        return panel
    if fresh:
        hull = shapely.convex_hull(shapely.union_all(discs))
        figures = contours_of(hull) if hull.area > _LEAST_MM2 else []
        if not figures:
            small = ", ".join(f"{hole.name} {hole.boss_mm:.2g} mm" for hole in added)
            raise ValueError(f"cover {panel.name}: bosses of {small} leave no plate; leave 'boss' out, or write more")
        return replace(panel, outline=figures[0][0], openings=figures[0][1], holes=tuple(added))
    shape, grown = figure(panel), figure(panel)
    for disc, hole in zip(discs, added, strict=True):
        grown = _with_boss(grown, disc, hole)
    if grown.symmetric_difference(shape).area < 1e-6:
        return replace(panel, holes=(*panel.holes, *added))
    outline, openings = contours_of(grown)[0]
    return replace(panel, outline=outline, openings=openings, holes=(*panel.holes, *added))


def _with_boss(shape: Polygon, disc: Polygon, hole: Hole) -> Polygon:
    """The figure with a boss hulled to it: to the whole of a convex figure, else to what lies near."""
    if shape.covers(disc.buffer(-1e-3)):
        return shape
    whole = shapely.convex_hull(shapely.union_all([shape, disc]))
    if shapely.convex_hull(shape).area - shape.area < 1e-3 * shape.area:
        return whole
    near = disc.centroid.buffer(shape.distance(disc.centroid) + 2.0 * hole.boss_mm).intersection(shape)
    return shapely.union_all([shape, shapely.convex_hull(shapely.union_all([disc, near]))])


def _seat_checks(about: str, join: JoinInput, seat: Seat, pull_up_mm: float, thickness_mm: float) -> list[Check]:
    most_tilt = default("fold.join_tilt")
    side = "upper side" if seat.over else "underside"
    checks = [
        Check(
            "fold", about, "Cover lies level", most_tilt.source, Severity.STOP,
            f"The cover lies level to panel {join.on}."
            if seat.tilt_deg <= float(most_tilt.value)
            else f"The cover leans {seat.tilt_deg:.1f}° against panel {join.on} and its bolts would pull it crooked: "
            f"let it lie on the same face, or leave its face out so that it lies on {join.on}.",
            found=seat.tilt_deg, limit=float(most_tilt.value), unit="deg", good=Good.AT_MOST,
        )
    ]  # fmt: skip
    if seat.gap_mm < -_TOUCH_MM:
        checks.append(
            Check(
                "fold", about, "Cover runs into its panel", Source(Origin.DERIVED, "planes of both plates"),
                Severity.STOP,
                f"The cover lies {-seat.gap_mm:.1f} mm inside panel {join.on} at a bolt: add {-seat.gap_mm:.1f} mm to "
                f"the stand-off of {join.cover} (a plate on top of another stands off by its thickness, "
                f"{thickness_mm:.1f} mm).",
                found=seat.gap_mm, limit=0.0, unit="mm",
            )
        )  # fmt: skip
    else:
        checks.append(
            Check(
                "fold", about, "Cover sits on its panel", Source(Origin.COMMON_PRACTICE, "pull-up of bolts"),
                Severity.CAUTION,
                f"Between the cover and the {side} of panel {join.on} the gap is {seat.gap_mm:.1f} mm: put shims of "
                f"{seat.gap_mm:.1f} mm at the bolts, or take that off the stand-off of {join.cover}."
                if seat.gap_mm > pull_up_mm
                else f"The cover sits on the {side} of panel {join.on}.",
                found=seat.gap_mm, limit=pull_up_mm, unit="mm", good=Good.AT_MOST,
            )
        )  # fmt: skip
    return checks
