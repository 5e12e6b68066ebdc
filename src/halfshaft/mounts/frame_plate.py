"""A plate that gives back what a window took: a member, what is left of it and stock in; a flat bracket to cut out.

An open channel is boxed in across its open side; else a doubler goes on walls that are whole, then round the window.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from halfshaft.fitup.member import length_mm, runs_of, station_of
from halfshaft.fitup.model import Member
from halfshaft.fitup.sections import WallName
from halfshaft.fitup.window import Window
from halfshaft.fold.flat import flat_part
from halfshaft.fold.model import Bracket, Panel
from halfshaft.geometry import Contour, Pose
from halfshaft.mounts.frame_strength import (
    Figure,
    Kept,
    SectionStrength,
    kept_of,
    moments_of,
    roughly_j_mm4,
    strength_of,
)

Array = NDArray[np.float64]

EDGE_MM = 8.0  # a doubler stays so far from a wall's edge, for its weld (common practice)
_DENSITY = 7.85e-6
_SIDES: tuple[WallName, ...] = ("left", "right", "up", "down")
_FULL = 0.995
_NEAR = 0.93  # by thin walls: worth working exactly


@dataclass(frozen=True, eq=False)
class Plated:
    """A member's section with plates welded on: what it keeps of the whole one, and the plates as flat brackets.

    `restores` tells whether bending, shear and twist are all back to what was asked.
    """

    walls: tuple[WallName, ...]
    thickness_mm: float
    figure: Figure
    kept: Kept
    brackets: tuple[Bracket, ...]
    mass_kg: float
    restores: bool
    words: str


def plate_rect(member: Member, wall: WallName, thickness_mm: float) -> Polygon:
    """The plate's own section in the member's u, v: on the outside of a wall, or across a channel's open side."""
    section = member.section
    w, h = section.width_mm / 2.0, section.height_mm / 2.0
    boxing = section.shape == "channel" and wall == section.opens
    if wall in ("left", "right"):
        half = h if boxing else h - EDGE_MM
        low, high = (w, w + thickness_mm) if wall == "left" else (-w - thickness_mm, -w)
        return shapely.box(low, -half, high, half)
    half = w if boxing else w - EDGE_MM
    low, high = (h, h + thickness_mm) if wall == "up" else (-h - thickness_mm, -h)
    return shapely.box(-half, low, half, high)


def restored(
    member: Member,
    before: Figure,
    after: Figure,
    windows: Sequence[Window],
    thicknesses_mm: Sequence[float],
    sheet: str = "plate",
    *,
    bending: float = 1.0,
    twist: float = 1.0,
    free: Callable[[WallName], bool] = lambda _: True,
) -> Plated | None:
    """The lightest set of plates that brings bending, shear and twist of the cut section back to shares of the whole.

    Plates run past the windows by the member's depth at each end, tapered there. A wall with a window takes none, since
    the window stays open; `free` tells whether a wall has room outside. Where nothing restores all, the set that
    comes nearest. None where no wall takes a plate (a tube, or none free). Raises ValueError for no window or no
    thickness. Source: docs/bracket_stress.md; ends past the opening by the depth, tapered (common practice).
    """
    if not windows or not thicknesses_mm:
        raise ValueError(f"member {member.name}: a plate wants a window to make up for, and thicknesses to choose from")
    if member.section.shape == "tube":
        return None
    cut = {window.wall.name for window in windows}
    walls = [w for w in _SIDES if w not in cut and free(w)]
    if member.section.shape == "flat":
        walls = []
    whole = strength_of(before)
    options: list[tuple[float, tuple[WallName, ...], float, Figure]] = []
    for count in (1, 2, 3):
        for chosen in combinations(walls, count):
            for thickness in sorted(thicknesses_mm):
                plates = [plate_rect(member, wall, thickness) for wall in chosen]
                options.append((sum(p.area for p in plates), chosen, thickness, _joined(after, plates)))
    if not options:
        return None
    j_before = roughly_j_mm4(before)

    def roughly(figure: Figure) -> float:
        return min(_quick(figure, whole) / bending, roughly_j_mm4(figure) / j_before / twist, 1.0)

    ranked = [(roughly(figure), *rest) for rest in sorted(options, key=lambda o: o[0]) for figure in rest[3:]]
    # the lightest of those that come nearest by thin walls, unless one proves to restore all
    best = max(share for share, *_ in ranked)
    near = [row for row in ranked if row[0] >= _NEAR]
    for row in [*near, next(row for row in ranked if row[0] >= best - 0.02)]:
        _, _, chosen, thickness, figure = row
        kept = kept_of(strength_of(figure), whole)
        score = min(kept.bending / bending, kept.shear / bending, kept.twist / twist, 1.0)
        if score >= _FULL:
            break
    brackets = tuple(_bracket(member, wall, thickness, windows, sheet) for wall in chosen)
    mass = sum(b.mass_kg for b in brackets)
    return Plated(
        chosen, thickness, figure, kept, brackets, mass, score >= _FULL, _words(member, chosen, thickness, kept, score)
    )  # fmt: skip


def _joined(after: Figure, plates: Sequence[Polygon]) -> Figure:
    return shapely.union_all([after, *plates])


def _quick(figure: Figure, whole: SectionStrength) -> float:
    """The worse share of bending moduli, without finite elements."""
    _, (cu, cv), iu, iv, _ = moments_of(figure)
    low_u, low_v, high_u, high_v = figure.bounds
    wu, wv = iu / max(high_v - cv, cv - low_v), iv / max(high_u - cu, cu - low_u)
    return float(min(wu / whole.wu_mm3, wv / whole.wv_mm3))


def _bracket(member: Member, wall: WallName, thickness: float, windows: Sequence[Window], sheet: str) -> Bracket:
    """One plate as a flat bracket: one panel, its underside on the wall, tapered at both ends."""
    spots = np.vstack([window.corners_mm for window in windows])
    stations = [station_of(member, spot).along_mm for spot in spots]
    section = member.section
    past = max(section.width_mm, section.height_mm)
    start, end = max(0.0, min(stations) - past), min(length_mm(member), max(stations) + past)
    run, begins = _run_at(member, (min(stations) + max(stations)) / 2.0)
    u, v, along_line = run.rotation.T
    outward, across = {"left": (u, v), "right": (-u, v), "up": (v, u), "down": (-v, u)}[wall]
    along = np.cross(across, outward)
    sense = float(np.sign(along @ along_line))
    away = (section.width_mm if wall in ("left", "right") else section.height_mm) / 2.0
    pose = Pose(np.column_stack([along, across, outward]), run.shift_mm + away * outward)
    rect = plate_rect(member, wall, thickness)
    low_u, low_v, high_u, high_v = rect.bounds
    half = float((high_v - low_v) if wall in ("left", "right") else high_u - low_u) / 2.0
    low, high = sorted((sense * (start - begins), sense * (end - begins)))
    taper = min(half, (high - low) / 4.0)
    points = [(low, -half / 3.0), (low + taper, -half), (high - taper, -half), (high, -half / 3.0),
              (high, half / 3.0), (high - taper, half), (low + taper, half), (low, half / 3.0)]  # fmt: skip
    outline = Contour.of_points(points)
    name = f"{member.name}_{wall}_plate"
    panel = Panel("plate", pose, thickness, outline, (), (), "under", "")
    part = flat_part(name, sheet, ["plate"], {"plate": panel}, ())
    mass = outline.area_mm2 * thickness * _DENSITY
    return Bracket(name, sheet, thickness, {"plate": panel}, (), (part,), mass)


def _run_at(member: Member, along_mm: float) -> tuple[Pose, float]:
    begins = 0.0
    runs = runs_of(member)
    for pose, length in runs:
        if along_mm <= begins + length or pose is runs[-1][0]:
            return pose, begins
        begins += length
    raise ValueError(f"member {member.name} has no run")


def _words(member: Member, walls: Sequence[WallName], thickness: float, kept: Kept, score: float) -> str:
    names = {"up": "top", "down": "bottom", "left": "left", "right": "right"}
    boxing = member.section.shape == "channel" and member.section.opens in walls
    what = "a boxing plate across its open side" if boxing and len(walls) == 1 else "plates"
    if not boxing:
        what = "a doubler" if len(walls) == 1 else "doublers"
    sides = " and ".join(names[w] for w in walls)
    shares = f"bending {100 * kept.bending:.0f} %, shear {100 * kept.shear:.0f} %, twist {100 * kept.twist:.0f} %"
    lead = f"Weld {what} of {thickness:.3g} mm on the {sides} of {member.name}"
    if score >= _FULL:
        return f"{lead}: it brings back {shares} of the uncut member."
    lack = (
        "twist" if kept.twist < min(kept.bending, kept.shear) else "bending" if kept.bending < kept.shear else "shear"
    )
    more = "weld a trough or sleeve into the window, all round" if lack == "twist" else "narrow the window"
    return f"{lead}: it brings back {shares} of the uncut member, not all of it; {more}."
