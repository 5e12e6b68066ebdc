"""Panels of a box as a bracket's: corners and bolts in the box's own axes in, folded parts with flat patterns out.

A box stands on no measured face, so its panels are told by points of their own, and go the way of any bracket from
there: fold lines, reliefs, bridges, flat pattern, order of folds, marks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.build import Build
from halfshaft.build.schema import BracketInput, FaceWay, FoldInput, HoleInput, PanelInput
from halfshaft.fold.model import Bracket, Hole
from halfshaft.fold.station import in_units, shaped
from halfshaft.geometry import Pose
from halfshaft.measure.model import Measured, PointEstimate

Array = NDArray[np.float64]
Drawn = tuple[Bracket, BracketInput]


@dataclass(frozen=True, slots=True)
class Bore:
    """A hole through a panel: its middle (3,) in the box's axes, and the bolt it is for.

    With a diameter of its own it stays open, and `bolt` tells the metal about it.
    """

    name: str
    at_mm: tuple[float, float, float]
    bolt: str
    open_mm: float | None = None


@dataclass(frozen=True, eq=False, slots=True)
class Flat:
    """A panel by its corners (n, 3) in the box's axes, on its inner face; its metal lies beyond, the way it `looks`."""

    name: str
    looks: FaceWay
    corners_mm: Array
    bores: tuple[Bore, ...] = ()


@dataclass(eq=False, slots=True)
class _Points:
    """Points that panels and holes are told by, gathered with their places in root axes."""

    pose: Pose
    found: dict[str, PointEstimate] = field(default_factory=dict)

    def add(self, name: str, at_mm: ArrayLike) -> str:
        whole = f"box.{name}"
        spot = np.asarray(self.pose.apply(np.asarray(at_mm, dtype=float)))
        self.found[whole] = PointEstimate(whole, "box", spot, np.zeros((3, 3)))
        return whole


def folded(
    build: Build,
    pose: Pose,
    name: str,
    sheet: str,
    flats: Sequence[Flat],
    folds: Sequence[tuple[str, str]],
    kind: str,
    what: str,
) -> Drawn:
    """One sheet part of the panels `flats`, folded along the pairs of `folds`, `kind` 'slit' or 'brake'.

    In root axes by the box's `pose`. What cannot be drawn comes back without parts and with a check that stops.
    """
    points = _Points(pose)
    panels = {}
    for flat in flats:
        names = tuple(points.add(f"{flat.name}.{n}", spot) for n, spot in enumerate(flat.corners_mm[:3]))
        holes = tuple(
            HoleInput.model_validate({"at": points.add(f"{bore.name}", bore.at_mm), "bolt": bore.bolt,
                                      "hole": bore.open_mm, "relief": False})
            for bore in flat.bores
        )  # fmt: skip
        corners = tuple(tuple(float(x) for x in pose.apply(spot)) for spot in flat.corners_mm)
        panels[flat.name] = PanelInput.model_validate(
            {"through": names, "looks": flat.looks, "outline": corners, "holes": holes, "round": 2.0}
        )
    told = BracketInput.model_validate(
        {"sheet": sheet, "fold": kind, "panel": panels, "what": what,
         "folds": tuple(FoldInput.model_validate({"between": pair}) for pair in folds)}
    )  # fmt: skip
    own = type(build)(build=build.build).model_copy(
        update={"shop": build.shop, "sheet": build.sheet, "bracket": {name: told}}
    )
    measured = replace(Measured.none(), points=points.found)
    opened = {f"{flat.name}.{bore.name}" for flat in flats for bore in flat.bores if bore.open_mm is not None}
    return _opened(in_units(own, shaped(own, measured, name)), opened), told


def _opened(bracket: Bracket, names: set[str]) -> Bracket:
    """The bracket with these holes told as open: no bolt goes in."""

    def of(holes: tuple[Hole, ...]) -> tuple[Hole, ...]:
        return tuple(replace(h, use="open", bolt="", washer_mm=0.0) if h.name in names else h for h in holes)

    panels = {key: replace(panel, holes=of(panel.holes)) for key, panel in bracket.panels.items()}
    parts = tuple(replace(part, bores=of(part.bores)) for part in bracket.parts)
    return replace(bracket, panels=panels, parts=parts)
