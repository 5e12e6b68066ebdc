"""Brackets to order: planes and points in root axes in, a build and a Measured with the station's own inputs out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike

from halfshaft.build import Build
from halfshaft.geometry import Plane
from halfshaft.measure.model import FaceEstimate, GlobalTest, Measured, PointEstimate, Unlocated


def measured_of(
    points: Mapping[str, ArrayLike],
    faces: Mapping[str, tuple[ArrayLike, ArrayLike]] = {},
    unlocated: Sequence[Unlocated] = (),
    spread_mm: float = 0.3,
) -> Measured:
    """`faces` maps a name to a spot on the face and its outward normal. All points have the same spread."""
    vector: list[float] = []
    where: dict[str, slice] = {}
    known, seen = {}, {}
    for name, at in points.items():
        spot = np.asarray(at, dtype=float)
        where[name] = slice(len(vector), len(vector) + 3)
        vector += list(spot)
        known[name] = PointEstimate(name, name.split(".")[0], spot, spread_mm**2 * np.eye(3))
    for name, (spot, way) in faces.items():
        normal = np.asarray(way, dtype=float) / np.linalg.norm(way)
        middle = np.asarray(spot, dtype=float)
        where[name] = slice(len(vector), len(vector) + 4)
        vector += [*normal, float(normal @ middle)]
        seen[name] = FaceEstimate(
            name, name.split(".")[0], Plane(normal, float(normal @ middle)), middle, np.zeros((4, 4)), ()
        )
    covariance = np.zeros((len(vector), len(vector)))
    for name in known:
        covariance[where[name], where[name]] = spread_mm**2 * np.eye(3)
    return Measured(
        known,
        seen,
        {},
        np.array(vector),
        covariance,
        where,
        (),
        (),
        tuple(unlocated),
        GlobalTest(0, 0.0, 0.0, 0.0, 1.0),
    )


def build_of(bracket: Mapping[str, object], sheet: Mapping[str, object], **shop: object) -> Build:
    return Build.model_validate(
        {
            "build": {"name": "a test piece"},
            "shop": {"slit_width": "2 mm", **shop},
            "sheet": {"plate": sheet},
            "bracket": {"piece": {"sheet": "plate", **bracket}},
        }
    )


def bolts(*names: str, **more: object) -> list[dict[str, object]]:
    return [{"at": name, "bolt": "M10", **more} for name in names]
