"""Flat parts drawn by hand for the tests: arcs, slots, slits, marks."""

from __future__ import annotations

import numpy as np

from halfshaft.fold.model import FlatPart, Hole, Mark
from halfshaft.geometry import Contour


def hole(
    name: str, x: float, y: float, diameter: float = 13.5, slot: float = 0.0, way: tuple[float, float] = (1, 0)
) -> Hole:
    return Hole(name, f"car.{name}", np.array([x, y]), diameter, "M12", 12.0, 12.0, slot, np.array(way, float))


def rounded(width: float, height: float, radius: float) -> Contour:
    """A rectangle with its corners rounded, counter-clockwise from (radius, 0)."""
    w, h, r, b = width, height, radius, float(np.tan(np.pi / 8))
    points = [(r, 0), (w - r, 0), (w, r), (w, h - r), (w - r, h), (r, h), (0, h - r), (0, r)]
    return Contour(np.array(points, float), np.array([0, b, 0, b, 0, b, 0, b]))


def plate(name: str = "shelf", width: float = 300.0, height: float = 180.0) -> FlatPart:
    """A rounded plate with two round holes, a slot, a round window, a row of slits and a mark."""
    window = Contour(np.array([[160.0, 60.0], [140.0, 60.0]]), np.array([-1.0, -1.0]))
    slits = tuple(np.array([[110.0, y0], [110.0, y1]]) for y0, y1 in ((0.0, 50.0), (65.0, 115.0), (130.0, height)))
    return FlatPart(
        name,
        "3 mm plate",
        3.0,
        rounded(width, height, 12.0),
        (window,),
        (hole("A1", 30.0, 40.0), hole("A2", 30.0, 140.0), hole("B1", 240.0, 90.0, slot=20.0, way=(0, 1))),
        slits,
        1.5,
        {"web-ear": np.array([[110.0, 0.0], [110.0, height]])},
        (Mark((np.array([[200.0, 150.0], [205.0, 160.0], [210.0, 150.0]]),), "A"),),
        {"web": (np.eye(2), np.zeros(2))},
    )
