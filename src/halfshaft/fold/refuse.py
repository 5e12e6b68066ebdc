"""What cannot be cut or folded, and why: panels, folds and the flat part in, checks out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations

import numpy as np
import shapely
from shapely.geometry import LineString, Point

from halfshaft.build.catalogue import default
from halfshaft.build.schema import Cutter, Shop
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.fold.flat import moved
from halfshaft.fold.model import FlatPart, Fold, Hole, Panel
from halfshaft.fold.slab import figure, hole_figure, line_of
from halfshaft.measure.model import Measured

_SHARED_MM2 = 0.05  # panels side by side share no more than rounding
_CHORDS_MM = 0.02  # an edge drawn as chords may lie this much inside the arc that is cut


def refused(bracket: str, about: str, title: str, why: str, do: str = "") -> Check:
    """A judgement without a number that stops the bracket."""
    what = f"bracket {bracket}, {about}" if about else f"bracket {bracket}"
    source = Source(Origin.DERIVED, "geometry of the measured faces, docs/folding.md")
    said = ". ".join(one[:1].upper() + one[1:].rstrip(".") for one in (why, do) if one)
    return Check("fold", what, title, source, Severity.STOP, f"{said}.", failed_outright=True)


def too_large(bracket: str, panels: Mapping[str, Panel]) -> tuple[Check, ...]:
    """A STOP for each panel that no sheet is long enough for: as a rule one figure is a slip of the pen."""
    row = default("fold.largest")
    out = []
    for name, panel in panels.items():
        longest = float(np.ptp(panel.outline.points_mm, axis=0).max())
        if not longest <= float(row.value):
            do = (
                "Look for a boss, slot, outline or height in it that is a slip of the pen, or for points "
                "that lie far apart by a slip in the readings."
            )
            about = f"bracket {bracket}, panel {name}"
            out.append(
                Check("fold", about, "Larger than any sheet", row.source, Severity.STOP, do, found=longest,
                      limit=float(row.value), unit="mm", good=Good.AT_MOST)
            )  # fmt: skip
    return tuple(out)


def flat_checks(
    bracket: str,
    part: FlatPart,
    names: Sequence[str],
    panels: Mapping[str, Panel],
    folds: Sequence[Fold],
    kerf_mm: float,
) -> Iterable[Check]:
    """Panels that overlap in the flat, or come nearer than the cut is wide."""
    shapes = {name: moved(figure(panels[name]), part.placed[name]) for name in names}
    beside = {frozenset((f.a, f.b)) for f in folds}
    for one, other in combinations(names, 2):
        # on a grid: panels that share a fold line but for rounding have upset the exact overlay
        shared = shapely.intersection(shapes[one], shapes[other], grid_size=1e-6).area
        if shared > _SHARED_MM2:
            yield Check(
                "fold",
                f"bracket {bracket}, panels {one} and {other}",
                "Panels overlap in the flat",
                Source(Origin.DERIVED, "flat pattern, docs/folding.md"),
                Severity.STOP,
                f"Unfolded, {one} and {other} want {shared / 100.0:.1f} cm² of the same sheet. Draw one of them "
                "narrower, let it hang on another panel, or bolt it on as a plate of its own.",
                found=shared,
                limit=0.0,
                unit="mm²",
                good=Good.AT_MOST,
            )
        elif frozenset((one, other)) not in beside:
            gap = shapes[one].distance(shapes[other])
            # panels that meet in a corner of their common neighbour are parted there by its relief
            if 1e-6 < gap < kerf_mm:
                yield Check(
                    "fold",
                    f"bracket {bracket}, panels {one} and {other}",
                    "Panels lie closer in the flat than the cut is wide",
                    Source(Origin.BUILDER, "shop.kerf"),
                    Severity.CAUTION,
                    f"The cutter cannot pass between {one} and {other}: draw one of them narrower.",
                    found=gap,
                    limit=kerf_mm,
                    unit="mm",
                )


def hole_checks(
    bracket: str, part: FlatPart, panels: Mapping[str, Panel], folds: Sequence[Fold], shop: Shop
) -> Iterable[Check]:
    """Holes too small to cut, too near an edge, a fold or each other."""
    edges = [part.outline.polygon(0.005).exterior, *(o.polygon(0.005).exterior for o in part.openings)]
    border = shapely.union_all(edges)
    for hole in part.bores:
        about = f"bracket {bracket}, hole {hole.name}"
        if hole.diameter_mm < shop.least_hole_mm and shop.cutter is not Cutter.HAND:
            yield Check(
                "fold",
                about,
                "Hole under the cutter's least diameter",
                Source(Origin.BUILDER if shop.given("least_hole_mm") else Origin.COMMON_PRACTICE, "shop.least_hole"),
                Severity.STOP,
                f"The {shop.cutter.value} cannot cut a hole of {hole.diameter_mm:.1f} mm round. Drill it: write "
                f'least_hole = "{hole.diameter_mm:g} mm" under [shop] and drill what the torch '
                "leaves out of round; or take a larger bolt.",
                found=hole.diameter_mm,
                limit=shop.least_hole_mm,
                unit="mm",
            )
        path = _path(hole)
        row = default("fold.edge_slot" if hole.slot_mm > 0.0 else "fold.edge_least")
        away, limit = float(path.distance(border)), float(row.value) * hole.diameter_mm
        away = limit if limit - _CHORDS_MM < away < limit else away
        yield Check(
            "fold",
            about,
            "Hole to edge",
            row.source,
            Severity.STOP,
            "The metal about it is wide enough."
            if away >= limit
            else f"Give the hole a larger boss, or draw the outline {limit - away:.1f} mm farther out.",
            found=away,
            limit=limit,
            unit="mm",
        )
    for one, other in combinations(part.bores, 2):
        row = default("fold.spacing_least")
        limit = float(row.value) * max(one.diameter_mm, other.diameter_mm)
        apart = float(_path(one).distance(_path(other)))
        if apart < limit:
            meet = apart < (one.diameter_mm + other.diameter_mm) / 2.0
            yield Check(
                "fold",
                f"bracket {bracket}, holes {one.name} and {other.name}",
                "Holes run into each other" if meet else "Holes close together",
                row.source,
                Severity.STOP if meet else Severity.CAUTION,
                "Leave one of the two out or take smaller bolts.",
                found=apart,
                limit=limit,
                unit="mm",
            )
    yield from _near_folds(bracket, panels, folds)


def _near_folds(bracket: str, panels: Mapping[str, Panel], folds: Sequence[Fold]) -> Iterable[Check]:
    row = default("fold.hole_to_fold")
    for fold in folds:
        for name, other in ((fold.a, fold.b), (fold.b, fold.a)):
            panel = panels[name]
            wraps = panels[other].contact == ("upper" if fold.up else "under")
            limit = float(row.value) * panel.thickness_mm + fold.slit_width_mm / 2.0
            for hole in panel.holes:
                away = float(hole_figure(hole).distance(LineString(line_of(fold, name))))
                if away < limit:
                    off = ""
                    if wraps:  # round a corner of the metal the fold moves out with the panel across it
                        more = (limit - away) * float(np.sin(np.radians(fold.angle_deg)))
                        off = f", or let {other} stand off its face by {np.ceil(10.0 * more) / 10.0:.1f} mm more"
                    yield Check(
                        "fold",
                        f"bracket {bracket}, hole {hole.name}",
                        f"Hole too near fold {fold.name}",
                        row.source,
                        Severity.STOP,
                        f"The fold would pull it out of round. Use another hole or a smaller bolt{off}.",
                        found=away,
                        limit=limit,
                        unit="mm",
                    )


def angle_checks(bracket: str, folds: Sequence[Fold]) -> Iterable[Check]:
    """Folds that hardly turn, or turn farther than a hand and a torch can follow."""
    for fold in folds:
        shallow = fold.angle_deg < float(default("fold.angle_least").value)
        row = default("fold.angle_least" if shallow else "fold.angle_most")
        if shallow:
            do = "Let one panel carry both sets of holes."
        elif fold.angle_deg > float(row.value):
            do = "Put a panel between the two so that each fold turns less."
        else:
            shows = 180.0 - fold.angle_deg
            do = f"Turn it {fold.angle_deg:.1f}° from flat: between the panels an angle finder then shows {shows:.1f}°."
        yield Check(
            "fold",
            f"bracket {bracket}, fold {fold.name}",
            "Turn of the fold",
            row.source,
            Severity.STOP,
            do,
            found=fold.angle_deg,
            limit=float(row.value),
            unit="deg",
            good=Good.AT_LEAST if shallow else Good.AT_MOST,
        )


def seat_checks(bracket: str, panels: Mapping[str, Panel], measured: Measured) -> Iterable[Check]:
    """Bolts whose measured point does not lie on the face that the panel lies on."""
    row = default("fold.off_face")
    for panel in panels.values():
        if panel.face not in measured.faces or panel.contact == "none":
            continue
        plane = measured.faces[panel.face].plane
        for hole in panel.holes:
            if hole.point not in measured.points or hole.use == "join":
                continue
            off = abs(float(plane.height_mm(measured.points[hole.point].xyz_mm)))
            if off > float(row.value):
                yield Check(
                    "fold",
                    f"bracket {bracket}, hole {hole.name}",
                    "Bolt's point lies off the face",
                    row.source,
                    Severity.CAUTION,
                    f"{hole.point} does not lie on {panel.face}: name the face it lies on, or measure it again.",
                    found=off,
                    limit=float(row.value),
                    unit="mm",
                    good=Good.AT_MOST,
                )


def _path(hole: Hole) -> LineString | Point:
    half = np.asarray(hole.slot_way) * hole.slot_mm / 2.0
    return LineString([hole.centre_mm - half, hole.centre_mm + half]) if hole.slot_mm > 0.0 else Point(hole.centre_mm)
