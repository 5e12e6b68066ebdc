"""Gussets. Panels, folds and wishes in; plates that stand square between two panels and are welded to both, out.

A plate stands on the inside of where two panels meet, square to both, so that its welds are plain fillets. Its corner
is nipped round, clear of the fold and its weld; its tips are left blunt.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import MultiPoint

from halfshaft.build.catalogue import default
from halfshaft.checks import Assumed, Check, Good, Origin, Severity, Source
from halfshaft.fold.gusset_plan import Corner, Plan, corner_of, plan_of
from halfshaft.fold.gusset_room import troubles
from halfshaft.fold.model import Fold, Gusset, Panel
from halfshaft.fold.slab import parts_of, slab
from halfshaft.fold.stiffen import WAYS
from halfshaft.geometry import Pose, mesh

if TYPE_CHECKING:
    from halfshaft.build.schema import BracketInput, GussetInput, Sheet

_STEP_MM = 1.0  # an end plate without a distance is moved in by such steps until it stands clear
_SINK_MM = 0.05  # a common region thinner than this is a touch


@dataclass(frozen=True, eq=False)
class Made:
    """What `add_gussets` gives: all panels with the plates among them, how each is welded, judgements, assumptions."""

    panels: dict[str, Panel]
    gussets: tuple[Gusset, ...]
    checks: tuple[Check, ...] = ()
    assumed: tuple[Assumed, ...] = ()


def add_gussets(
    panels: Mapping[str, Panel],
    folds: Sequence[Fold],
    bracket: BracketInput,
    sheets: Mapping[str, Sheet],
    name: str,
) -> Made:
    """Panels with every wished plate, named gusset1, gusset2 in the order written; each is a part of its own.

    A plate that runs off a panel, into a washer, a socket's room, another panel or what a panel lies on, gets a STOP
    that says how far. Raises ValueError naming each that cannot be drawn at all, all at once: panels that are parallel,
    of two parts, no end that way, or a reach that leaves no foot.
    """
    out, made, checks, assumed, problems = dict(panels), [], [], [], []
    parts = parts_of(tuple(panels), folds)
    for number, (wish, names) in enumerate(zip(bracket.gusset, bracket.gusset_names, strict=True)):
        where = f"gusset between {wish.between[0]} and {wish.between[1]}"
        try:
            corner = _corner_told(panels, folds, parts, wish)
            plan = plan_of(corner, folds, wish, bracket, sheets)
            ends = _ends(corner, wish)
        except ValueError as why:
            problems.append(f"{where}: {why}")
            continue
        assumed += _assumed(name, number, wish, plan, bracket)
        for key, end in zip(names, ends, strict=True):
            at = _spot(plan, corner, wish, end, bracket)
            plate, gusset = _plate(key, plan, corner, at)
            others = {n: p for n, p in out.items() if n not in wish.between}
            checks += _judged(name, plate, gusset, plan, corner, at, bracket)
            checks += _hits(name, plate, gusset, others)
            out[key] = plate
            made.append(gusset)
    if problems:
        raise ValueError("; ".join(problems))
    return Made(out, tuple(made), tuple(checks), tuple(dict.fromkeys(assumed)))


def _corner_told(
    panels: Mapping[str, Panel], folds: Sequence[Fold], parts: Sequence[Sequence[str]], wish: GussetInput
) -> Corner:
    a, b = wish.between
    missing = [name for name in (a, b) if name not in panels]
    if missing:
        raise ValueError(f"there is no panel '{missing[0]}'; panels are {', '.join(panels)}")
    if not any(a in part and b in part for part in parts):
        raise ValueError(f"{a} and {b} are parts that come off each other: a gusset would weld them for good")
    fold = next((f for f in folds if {f.a, f.b} == {a, b}), None)
    return corner_of(panels[a], panels[b], fold)


def _ends(corner: Corner, wish: GussetInput) -> tuple[str, ...]:
    """'start', 'end' or 'middle' of the corner's line for each plate of a wish."""
    if wish.ends:
        return ("start", "end")
    if wish.at == "middle":
        return ("middle",)
    lean = float(np.array(WAYS[wish.at]) @ corner.way)
    if abs(lean) < 0.2:
        names = [n for n, way in WAYS.items() if abs(float(np.array(way) @ corner.way)) >= 0.5]
        raise ValueError(
            f"the corner runs square to '{wish.at}', so no end of it lies that way: write at = "
            + " or ".join(f'"{n}"' for n in names)
        )
    return ("end",) if lean > 0.0 else ("start",)


def _spot(plan: Plan, corner: Corner, wish: GussetInput, end: str, bracket: BracketInput) -> float:
    """Where the middle of the plate stands along the corner's line.

    At an end without a distance: as near to it as its fillets have metal under them and it clears bolts, looked for as
    far as the middle.
    """
    middle = (corner.start_mm + corner.end_mm) / 2.0
    if end == "middle":
        return middle
    edge, inward = (corner.start_mm, 1.0) if end == "start" else (corner.end_mm, -1.0)
    if wish.distance_mm is not None:
        return edge + inward * wish.distance_mm
    nearest = edge + inward * (plan.half_mm + float(default("gusset.rim").value))
    at = nearest
    while (middle - at) * inward > 0.0:
        if not troubles(plan, corner, at, bracket):
            return at
        at += inward * _STEP_MM
    return nearest


def _plate(key: str, plan: Plan, corner: Corner, at_mm: float) -> tuple[Panel, Gusset]:
    x = corner.into_a
    z = corner.way if float(np.cross(corner.way, x) @ corner.into_b) > 0.0 else -corner.way
    origin = corner.apex_mm + corner.way * at_mm - z * plan.thickness_mm / 2.0
    pose = Pose(np.column_stack([x, np.cross(z, x), z]), origin)
    plate = Panel(key, pose, plan.thickness_mm, plan.outline, (), (), "none", "")
    points = plan.outline.points_mm
    sides = ("upper" if corner.upper_a else "under", "upper" if corner.upper_b else "under")
    feet = points[[0, 1]], points[[5, 4]]
    from_end, way = min((at_mm - corner.start_mm, -1.0), (corner.end_mm - at_mm, 1.0))
    end = max(WAYS, key=lambda word: way * float(np.array(WAYS[word]) @ corner.way))
    return plate, Gusset(key, corner.a.name, corner.b.name, *feet, *sides, plan.leg_mm, end, from_end)


def _judged(
    name: str, plate: Panel, gusset: Gusset, plan: Plan, corner: Corner, at_mm: float, bracket: BracketInput
) -> list[Check]:
    about = f"bracket {name}, {plate.name} between {gusset.a} and {gusset.b}"
    source = Source(Origin.DERIVED, "figures of the panels, docs/folding.md")
    out = [
        Check(
            "fold", about, trouble.title, source, Severity.STOP if trouble.hard else Severity.CAUTION, trouble.words,
            found=-trouble.amount_mm, limit=0.0, unit="mm",
        )
        for trouble in troubles(plan, corner, at_mm, bracket)
    ]  # fmt: skip
    row = default("gusset.free_edge")
    points = plate.outline.points_mm
    free = float(np.linalg.norm(points[3] - points[2]))
    most = float(row.value) * plan.thickness_mm
    out.append(
        Check(
            "fold", about, "Gusset's free edge", row.source, Severity.CAUTION,
            "Its free edge is short enough to stand in compression." if free <= most else
            "So long an edge may buckle: take a thicker sheet for it, or make its reach shorter.",
            found=free, limit=most, unit="mm", good=Good.AT_MOST,
        )
    )  # fmt: skip
    row = default("gusset.run_least")
    foot = min(float(np.linalg.norm(f[1] - f[0])) for f in (gusset.foot_a_mm, gusset.foot_b_mm))
    run, wanted = 2.0 * foot + plan.thickness_mm, max(float(row.value), 6.0 * gusset.throat_mm)
    out.append(
        Check(
            "fold", about, "Run of fillet round the gusset's shorter foot", row.source, Severity.CAUTION,
            "Welded round its tip in one run it is long enough to count." if run >= wanted else
            "A shorter run counts for nothing: make its reach longer.",
            found=run, limit=wanted, unit="mm",
        )
    )  # fmt: skip
    thinner = min(plan.thickness_mm, corner.a.thickness_mm)
    out.append(
        Check(
            "fold", about, "Gusset's fillet", Source(Origin.COMMON_PRACTICE, "no published source"), Severity.CAUTION,
            "The fillet suits the plates." if plan.leg_mm <= thinner + 1e-9 else
            "A leg over the thinner plate's thickness burns its edge: write a smaller leg or take a thicker plate.",
            found=plan.leg_mm, limit=thinner, unit="mm", good=Good.AT_MOST,
        )
    )  # fmt: skip
    return out


def _hits(name: str, plate: Panel, gusset: Gusset, others: Mapping[str, Panel]) -> list[Check]:
    own = slab(plate)
    out = []
    for key, other in others.items():
        solid = slab(other)
        if not mesh.boxes_meet(own, solid):
            continue
        both = mesh.overlap(own, solid)
        if both.empty or mesh.mean_width_mm(both) <= _SINK_MM:
            continue
        deep = float(MultiPoint(plate.pose.inverse().apply(both.triangles[0])[:, :2]).convex_hull.length) / 4.0
        out.append(
            Check(
                "fold", f"bracket {name}, {plate.name} between {gusset.a} and {gusset.b}", "Gusset runs into a panel",
                Source(Origin.DERIVED, "exact intersection of the folded solids"), Severity.STOP,
                f"It runs into {key} ({both.volume_mm3 / 1000.0:.2f} cm³ in common): shorten its reach, or move it "
                "along the fold with distance.",
                found=-deep, limit=0.0, unit="mm",
            )
        )  # fmt: skip
    return out


def _assumed(name: str, number: int, wish: GussetInput, plan: Plan, bracket: BracketInput) -> list[Assumed]:
    where = f"bracket.{name}.gusset.{number + 1}"
    out = []
    if wish.sheet is None:
        source = Source(Origin.COMMON_PRACTICE, "cut from the bracket's own sheet; no published source")
        out.append(Assumed(f"{where}.sheet", bracket.sheet, source))
    if wish.nip_mm is None:
        out.append(Assumed(f"{where}.nip", f"{plan.nip_mm:.1f} mm", default("gusset.nip").source))
    if wish.leg_mm is None:
        out.append(Assumed(f"{where}.leg", f"{plan.leg_mm:.1f} mm", default("gusset.leg").source))
    return out
