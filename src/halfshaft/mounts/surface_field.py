"""What a page draws of a stressed bracket: a mesh with its answer in; plain arrays of the skin out, small to send."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.mounts.elastic import Body, mises_mpa

Array = NDArray[np.float32]
Ints = NDArray[np.int32]

MOST_TRIANGLES = 20_000


@dataclass(frozen=True, eq=False)
class Skin:
    """Vertices (n, 3) in mm, root axes, and triangles (t, 3), outward, each part into four where that stays small."""

    vertices_mm: Array
    triangles: Ints


@dataclass(frozen=True, eq=False)
class SurfaceField:
    """One case on a skin: von Mises stress (n,) in MPa and displacement (n, 3) in mm at its vertices."""

    case: str
    mises_mpa: Array
    moved_mm: Array


class Drawn:
    """The skin of a body, to draw cases on."""

    def __init__(self, body: Body, skin: NDArray[np.int64]) -> None:
        """Raises ValueError for a skin of more than 20,000 triangles."""
        if len(skin) > MOST_TRIANGLES:
            raise ValueError(f"a skin of {len(skin)} triangles is too large to send: mesh it coarser")
        triangles = skin
        if 4 * len(skin) <= MOST_TRIANGLES:
            ab, bc, ca = body.middles(skin, np.array([[0, 1], [1, 2], [2, 0]])).T
            a, b, c = skin.T
            parts = ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))
            triangles = np.vstack([np.column_stack(part) for part in parts])
        self._nodes, flat = np.unique(triangles, return_inverse=True)
        self.skin = Skin(body.nodes_mm[self._nodes].astype(np.float32), flat.reshape(-1, 3).astype(np.int32))

    def field(self, case: str, moved_mm: NDArray[np.float64], stress_mpa: NDArray[np.float64]) -> SurfaceField:
        """From displacement (nodes, 3) and stress (nodes, 6) of the body."""
        return SurfaceField(
            case,
            mises_mpa(stress_mpa[self._nodes]).astype(np.float32),
            moved_mm[self._nodes].astype(np.float32),
        )
