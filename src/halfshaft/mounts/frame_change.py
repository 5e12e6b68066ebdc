"""A frame member before and after its window, and with the bracket on it: figures in; ratios and checks out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from halfshaft.build.catalogue import default
from halfshaft.checks import Check, Severity
from halfshaft.fitup.member import frame_at
from halfshaft.fitup.model import Member
from halfshaft.fitup.sections import section_at
from halfshaft.fitup.window import Window
from halfshaft.fold.model import Bracket
from halfshaft.fold.slab import slab
from halfshaft.geometry.mesh import MeshSolid, slice_of
from halfshaft.mounts.frame_bearing import Opening, Web, bearing_kept
from halfshaft.mounts.frame_plate import Plated, restored
from halfshaft.mounts.frame_strength import Figure, Kept, SectionStrength, kept_of, strength_of
from halfshaft.mounts.verdict import least

_TOUCH_MM = 1.5  # a bracket's panel nearer than this lies on the member
_PARALLEL = 0.9


@dataclass(frozen=True, eq=False)
class FrameChange:
    """One member at the worst station of its windows. `bearing` is the share left under a load pressed on the flange.

    `with_bracket` counts the panels that lie on the member there: bolted, they bend and shear with it and close no
    cell; None where none does.
    """

    member: str
    along_mm: float
    before: SectionStrength
    after: SectionStrength
    kept: Kept
    bearing: float
    bracket: str
    with_bracket: Kept | None
    plated: Plated | None
    checks: tuple[Check, ...]


def frame_change(
    member: Member,
    cut: MeshSolid,
    windows: Sequence[Window],
    brackets: Sequence[Bracket] = (),
    thicknesses_mm: Sequence[float] = (3.0, 4.0, 5.0, 6.0, 8.0),
    *,
    patch_mm: float = 60.0,
    welded: bool = False,
    sheet: str = "plate",
) -> FrameChange:
    """A member with `windows` cut: `cut` is what is left of it. `welded`: brackets are welded on all round, not bolted.

    Raises ValueError where the member has no window, or is cut right through.
    Source: docs/bracket_stress.md.
    """
    if not windows:
        raise ValueError(f"member {member.name} has no window")
    along = min(windows, key=lambda w: w.section.after.area_mm2).section.along_mm
    whole, left = section_at(member, along), section_at(member, along, cut)
    if left.is_empty or left.area < 1.0:
        raise ValueError(f"member {member.name} is cut right through at {along:.0f} mm along it")
    before, after = strength_of(whole), strength_of(left)
    kept = kept_of(after, before)
    on = [(b, figure) for b in brackets if (figure := bracket_figure(member, b, along)) is not None]
    with_bracket = None
    if on:
        plates = [figure for _, figure in on]
        if welded:
            reinforced = strength_of(shapely.union_all([left, *(_closed_up(p) for p in plates)]))
        else:
            reinforced = strength_of(left, tuple(plates))
        with_bracket = kept_of(reinforced, before)
    bearing = _bearing(member, windows, patch_mm)
    best = with_bracket or kept
    plated = None
    wanted_bending, wanted_twist = (float(default(f"fitup.{k}_kept").value) for k in ("bending", "torsion"))
    if min(best.bending, best.shear) < wanted_bending or best.twist < wanted_twist:
        plated = restored(member, whole, left, windows, thicknesses_mm, sheet)
    names = ", ".join(b.name for b, _ in on)
    out = FrameChange(member.name, along, before, after, kept, bearing, names, with_bracket, plated, ())
    return FrameChange(
        member.name, along, before, after, kept, bearing, names, with_bracket, plated, _checks(out, best)
    )  # fmt: skip


def bracket_figure(member: Member, bracket: Bracket, along_mm: float) -> Figure | None:
    """The section, in the member's u, v, of the bracket's panels that lie on the member at a station; None for none."""
    frame = frame_at(member, along_mm)
    outside = section_at(member, along_mm)
    found = []
    for panel in bracket.panels.values():
        # only plates along the member stiffen it
        if panel.contact == "none" or abs(float(panel.pose.rotation[:, 2] @ frame.rotation[:, 2])) > 1.0 - _PARALLEL:
            continue
        figure = slice_of(slab(panel), frame)
        if not figure.is_empty and figure.distance(outside) < _TOUCH_MM:
            found.append(figure.difference(outside))
    whole = shapely.union_all(found) if found else None
    return whole if whole is not None and whole.area > 1.0 else None


def _closed_up(figure: Figure) -> Figure:
    return figure.buffer(_TOUCH_MM / 2.0, join_style="mitre")


def _bearing(member: Member, windows: Sequence[Window], patch_mm: float) -> float:
    """Of a load pressed down on the member in the middle of its windows."""
    section = member.section
    if section.shape in ("tube", "flat"):
        return 1.0
    sides = [w for w in ("left", "right") if not (section.shape == "channel" and section.opens == w)]
    webs = tuple(Web(section.height_mm - 2.0 * section.wall_mm, section.wall_mm) for _ in sides)
    openings: list[Opening | None] = []
    for side in sides:
        own = [w for w in windows if w.wall.name == side]
        if not own:
            openings.append(None)
            continue
        points = own[0].contour.flattened_mm(0.1)
        middle = (points[:, 0].min() + points[:, 0].max()) / 2.0
        below = section.height_mm / 2.0 - float(points[:, 1].max())
        openings.append(Opening(float(points[:, 0].min() - middle), float(points[:, 0].max() - middle), below))
    return bearing_kept(webs, tuple(openings), patch_mm) if webs else 1.0


def _checks(change: FrameChange, best: Kept) -> tuple[Check, ...]:
    bending, twist = default("fitup.bending_kept"), default("fitup.torsion_kept")
    where = f"{change.along_mm:.0f} mm along"
    about = f"member {change.member}"
    held = f" with {change.bracket} on it" if change.with_bracket is not None else ""
    do = change.plated.words if change.plated is not None else "Keep it as it is."
    after = f"cut, {where}{held}"
    rows = [
        ("Bending strength left", best.bending, bending),
        ("Shear strength left", best.shear, bending),
        ("Strength and stiffness in twist left", best.twist, twist),
    ]
    out = [
        least(
            about, f"{title}, {after}", 100.0 * found, 100.0 * float(row.value), "%", row.source, do, Severity.CAUTION
        )
        for title, found, row in rows
    ]  # fmt: skip
    out.append(
        least(
            about, f"Bearing of the web under a load over the window, {where}", 100.0 * change.bearing,
            100.0 * float(bending.value), "%", bending.source,
            "Put no load on the flange over the window, or stand a plate under it to each side.", Severity.CAUTION,
        )
    )  # fmt: skip
    return tuple(out)
