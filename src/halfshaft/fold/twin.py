"""The mirrored twin. A part or panels for one side in; the same for the other side of the car out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from halfshaft.fold.marks import free_metal
from halfshaft.fold.model import FlatPart, Fold, Hole, Mark, Panel
from halfshaft.fold.strokes import strokes_of
from halfshaft.geometry import Contour, Pose

Array = NDArray[np.float64]

_FLIP = np.diag([-1.0, 1.0])
_STILL = np.zeros(2)


def mirrored(part: FlatPart, renamed: Mapping[str, str] | None = None) -> FlatPart:
    """The flat part mirrored about x = 0, its upper side still up, so that every fold keeps its way.

    Letters stay readable: each text is written anew within the mirrored place of the old one. `renamed` gives points
    and holes their names on the other side. The name gets '.twin'.
    """
    names = dict(renamed or {})
    name = f"{part.name}.twin"
    bare = replace(
        part,
        name=name,
        outline=_contour(part.outline),
        openings=tuple(_contour(opening) for opening in part.openings),
        bores=tuple(_hole(hole, names) for hole in part.bores),
        slits_mm=tuple(slit @ _FLIP for slit in part.slits_mm),
        fold_lines_mm={key: np.asarray(line) @ _FLIP for key, line in part.fold_lines_mm.items()},
        marks=(),
        placed={
            key: (_FLIP @ np.asarray(rotation) @ _FLIP, _FLIP @ np.asarray(shift))
            for key, (rotation, shift) in part.placed.items()
        },
        mirrored=not part.mirrored,
    )
    texts = {part.name: name} | names
    flipped = [Mark(tuple(stroke @ _FLIP for stroke in mark.strokes_mm), mark.text) for mark in part.marks]
    texts_then = [texts.get(mark.text, mark.text) for mark in part.marks]
    hulls = [shapely.convex_hull(shapely.MultiLineString(list(mark.strokes_mm))) for mark in flipped]
    others = [shapely.union_all(hulls[:at] + hulls[at + 1 :]) for at in range(len(hulls))]
    changed = [then != mark.text for then, mark in zip(texts_then, part.marks, strict=True)]
    metal = free_metal(bare) if any(changed) else None
    marks = [
        _mark(mark, then, metal.difference(other) if metal is not None and new else None)
        for mark, then, other, new in zip(part.marks, texts_then, others, changed, strict=True)
    ]
    return replace(bare, marks=tuple(marks))


def mirrored_panels(
    panels: Mapping[str, Panel], folds: Sequence[Fold], renamed: Mapping[str, str] | None = None
) -> tuple[dict[str, Panel], tuple[Fold, ...]]:
    """Panels and folds of the twin in root axes, mirrored across the car's middle plane y = 0.

    Panel axes are mirrored in x, so that z, the way of the folds and which side is up stay.
    """
    names = dict(renamed or {})
    across, local = np.diag([1.0, -1.0, 1.0]), np.diag([-1.0, 1.0, 1.0])
    out = {
        key: replace(
            panel,
            pose=Pose(across @ panel.pose.rotation @ local, across @ panel.pose.shift_mm),
            outline=_contour(panel.outline),
            openings=tuple(_contour(opening) for opening in panel.openings),
            holes=tuple(_hole(hole, names) for hole in panel.holes),
        )
        for key, panel in panels.items()
    }
    turned = tuple(replace(fold, line_a_mm=fold.line_a_mm @ _FLIP, line_b_mm=fold.line_b_mm @ _FLIP) for fold in folds)
    return out, turned


def _contour(contour: Contour) -> Contour:
    return contour.moved(_FLIP, _STILL)


def _hole(hole: Hole, names: Mapping[str, str]) -> Hole:
    bare = hole.point.rsplit(".", 1)[-1]
    other = names.get(hole.point, names.get(bare, ""))
    short = other.rsplit(".", 1)[-1]
    called = names.get(hole.name) or (
        f"{hole.name[: -len(bare)]}{short}" if other and hole.name.endswith(bare) else hole.name
    )
    point = hole.point
    if other:
        point = other if "." in other else f"{hole.point[: -len(bare)]}{other}"
    return replace(
        hole, name=called, point=point, centre_mm=_FLIP @ hole.centre_mm, slot_way=_FLIP @ np.asarray(hole.slot_way)
    )


def _mark(mark: Mark, text: str, free: Polygon | MultiPolygon | None) -> Mark:
    """Strokes mirrored; letters written again about the mirrored middle of the old ones.

    The same letters fill the mirrored box of the old ones; `free` is then not asked for. Other letters keep their
    height where `free` has room, else they shrink to the box.
    """
    flipped = Mark(tuple(stroke @ _FLIP for stroke in mark.strokes_mm), mark.text)
    if not mark.text:
        return flipped
    plain, _ = strokes_of(mark.text, 1.0)
    if len(plain) != len(mark.strokes_mm):
        return flipped
    scale, turn, shift = _likeness(np.vstack(plain), np.vstack(mark.strokes_mm))
    low, high = _box(plain)
    middle = _FLIP @ (scale * turn @ ((low + high) / 2.0) + shift)
    again, _ = strokes_of(text, 1.0)
    low_b, high_b = _box(again)
    fitting = min(1.0, float((high - low)[0] / max((high_b - low_b)[0], 1e-9)))
    for share in (1.0, 0.85, 0.7, 0.55, fitting):
        # The mirror of letters written along an angle, read forward, lies along minus that angle.
        strokes = tuple(share * scale * (stroke - (low_b + high_b) / 2.0) @ turn + middle for stroke in again)
        room = shapely.convex_hull(shapely.MultiLineString(list(strokes))).buffer(0.5)
        if free is None or share <= fitting or free.contains(room):
            return Mark(strokes, text)
    return flipped


def _box(strokes: Sequence[Array]) -> tuple[Array, Array]:
    ends = np.vstack(strokes)
    return ends.min(axis=0), ends.max(axis=0)


def _likeness(source: Array, target: Array) -> tuple[float, Array, Array]:
    """Scale, rotation (2, 2) and shift (2,) that bring source points onto target points, least squares."""
    a, b = source - source.mean(axis=0), target - target.mean(axis=0)
    real = float(np.sum(a * b))
    turned = float(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]))
    scale = float(np.hypot(real, turned) / max(np.sum(a * a), 1e-12))
    angle = np.arctan2(turned, real)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return scale, turn, target.mean(axis=0) - scale * turn @ source.mean(axis=0)
