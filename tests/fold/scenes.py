"""Brackets with what they were measured from, by hand: panels and folds in, a build, a Measured and a Bracket out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from halfshaft.build import Build
from halfshaft.fold.model import Bracket, Fold, Panel
from halfshaft.geometry import Plane
from halfshaft.measure.model import FaceEstimate, GlobalTest, Measured, PointEstimate

Array = NDArray[np.float64]


def bracket_of(panels: Sequence[Panel], folds: Sequence[Fold] = (), name: str = "front") -> Bracket:
    return Bracket(name, "plate", panels[0].thickness_mm, {p.name: p for p in panels}, tuple(folds), (), 1.0)


def build_of(bracket: Bracket, **shop: object) -> Build:
    quiet = {"cut_spread": "0 mm", "fold_spread": "0 deg", "pull_up": "0.5 mm"}
    return Build.model_validate(
        {
            "build": {"name": "a scene", "seed": 7},
            "shop": {**quiet, **shop},
            "sheet": {"plate": {"thickness": f"{bracket.thickness_mm} mm", "pivot_depth": "1 mm"}},
            "bracket": {bracket.name: {"sheet": "plate", "panel": {n: {} for n in bracket.panels}}},
        }
    )


def measured_of(
    bracket: Bracket,
    point_mm: float = 0.0,
    face_mm: float = 0.0,
    face_rad: float = 0.0,
    bodies: Mapping[str, str] | None = None,
    covariance: Array | None = None,
) -> Measured:
    """Points where the holes are and faces where the panels lie, each with independent spreads.

    `face_mm` shifts a face, `face_rad` tilts it about its two directions. `covariance` overrules all.
    """
    vector: list[float] = []
    where: dict[str, slice] = {}
    points, faces, blocks = {}, {}, []
    for panel in bracket.panels.values():
        top = panel.contact == "upper"
        height = panel.thickness_mm if top else 0.0
        for hole in panel.holes:
            if not hole.point or hole.point in points:
                continue
            at = panel.pose.apply(np.append(hole.centre_mm, height))
            where[hole.point] = slice(len(vector), len(vector) + 3)
            vector += list(at)
            blocks.append(point_mm**2 * np.eye(3))
            points[hole.point] = PointEstimate(hole.point, hole.point.split(".")[0], at, blocks[-1])
        if panel.contact != "none" and panel.face not in faces:
            normal = panel.pose.rotation[:, 2] * (-1.0 if top else 1.0)
            middle = panel.pose.apply(np.append(panel.outline.points_mm.mean(axis=0), height))
            where[panel.face] = slice(len(vector), len(vector) + 4)
            vector += [*normal, float(normal @ middle)]
            tilts = np.linalg.svd(normal[None, :])[2][1:]
            columns = [np.append(face_rad * t, face_rad * float(t @ middle)) for t in tilts]
            columns.append(np.array([0.0, 0.0, 0.0, face_mm]))
            blocks.append(sum(np.outer(c, c) for c in columns))
            faces[panel.face] = FaceEstimate(
                panel.face, panel.face.split(".")[0], Plane(normal, vector[-1]), middle, blocks[-1], ()
            )
    if covariance is None:
        covariance = np.zeros((len(vector), len(vector)))
        for part, block in zip(where.values(), blocks, strict=True):
            covariance[part, part] = block
    return Measured(
        points, faces, {}, np.array(vector), covariance, where, (), (), (), GlobalTest(0, 0.0, 0.0, 0.0, 1.0)
    )
