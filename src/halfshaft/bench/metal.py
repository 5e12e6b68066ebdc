"""Solids and bundles of lines in a 3D view: arrays in, an object of the scene out."""

from __future__ import annotations

import numpy as np
from nicegui.elements.scene.scene_object3d import Object3D
from numpy.typing import NDArray


class Metal(Object3D, component="metal.js"):
    """Vertices (v, 3) in mm and triangles (t, 3). `edge` is a colour of ours, or empty for no edges.

    `over` shows it through whatever stands before it.
    """

    def __init__(
        self,
        vertices_mm: NDArray[np.float64],
        triangles: NDArray[np.int64],
        edge: str = "",
        edge_deg: float = 20.0,
        over: bool = False,
    ) -> None:
        spots = [round(float(v), 3) for v in np.asarray(vertices_mm).ravel()]
        corners = [int(t) for t in np.asarray(triangles).ravel()]
        super().__init__(spots, corners, edge, edge_deg, over)


class Strokes(Object3D, component="strokes.js"):
    """Straight lines from `ends` (n, 2, 3), all of one colour: hundreds of them cost no more than one."""

    def __init__(self, ends: NDArray[np.float64]) -> None:
        super().__init__([round(float(v), 4) for v in np.asarray(ends).ravel()])
