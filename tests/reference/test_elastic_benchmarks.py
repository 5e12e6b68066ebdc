"""The solver of brackets against published elasticity: an NAFEMS benchmark, a holed plate, a cantilever.

- NAFEMS LE10, thick plate under pressure: The Standard NAFEMS Benchmarks, 1990: sigma_yy at D -5.38 MPa (from memory).
- A round hole in a strip, R. B. Heywood: K on the net section 2 + (1 - d/w)^3 (Roark's Formulas, stress
  concentration, from memory); an infinite plate, G. Kirsch 1898: 3 at the hole's side.
- A cantilever, S. Timoshenko and J. Goodier, Theory of Elasticity, and shear by Cowper's factor 10 (1 + nu) /
  (12 + 11 nu), G. R. Cowper 1966 (both from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon

from halfshaft.mounts.elastic import Body, along_mpa
from tests.mounts.plates import plate


def arc(a: float, b: float, count: int) -> np.ndarray:
    angle = np.linspace(0.0, np.pi / 2.0, count)
    return np.column_stack([a * np.cos(angle), b * np.sin(angle)])


def test_le10_thick_plate_under_pressure() -> None:
    """A quarter of an elliptic ring, 600 mm thick, 1 MPa on top; its outer edge held, at mid height upright too."""
    inner, outer = arc(2000.0, 1000.0, 21), arc(3250.0, 2750.0, 21)
    sides = {"y": ([0, 0, 0], [0, 1, 0]), "x": ([0, 0, 0], [1, 0, 0])}
    mesh = plate(Polygon(np.vstack([inner, outer[::-1]])), (0.0, 300.0, 450.0, 600.0), 190.0, sides=sides)
    x, y, z = mesh.corners_mm.T
    ring = shapely.LineString(outer)
    on_outer = np.array([ring.distance(shapely.Point(a, b)) < 1e-6 for a, b in zip(x, y, strict=True)])
    rim = np.flatnonzero(on_outer)
    mid = np.flatnonzero(on_outer & (np.abs(z - 300.0) < 1e-9))
    fixed = {"y": (False, True, False), "x": (True, False, False)}
    pinned = [(rim, (True, True, False)), (mid, (False, False, True))]
    body = Body(mesh, 210_000.0, 0.3, {}, fixed, pinned)
    load = body.traction(["upper"], np.broadcast_to([0.0, 0.0, -1.0], mesh.corners_mm.shape))
    moved = body.moved_mm(body.solved(load[:, None])[:, 0])
    at = int(np.argmin(np.linalg.norm(body.nodes_mm - [2000.0, 0.0, 600.0], axis=1)))
    stress = along_mpa(body.stress_mpa(moved)[at], [0.0, 1.0, 0.0])
    assert float(stress) == pytest.approx(-5.38, rel=0.01)


def holed(wide: float) -> float:
    """Greatest stress over that on the net section, an eighth of a strip with a hole of 20 mm, pulled."""
    radius, long = 10.0, 2.0 * wide
    rim = arc(radius, radius, 19)
    figure = Polygon(np.vstack([[[long, 0.0], [long, wide / 2.0], [0.0, wide / 2.0]], rim[::-1]]))
    sides = {"y": ([0, 0, 0], [0, 1, 0]), "x": ([0, 0, 0], [1, 0, 0]), "end": ([long, 0, 0], [1, 0, 0])}
    mesh = plate(figure, (0.0, 1.0), wide / 5.0, sides=sides, keep_edge=False)
    fixed = {"y": (False, True, False), "x": (True, False, False), "under": (False, False, True)}
    body = Body(mesh, 210_000.0, 0.3, {}, fixed)
    load = body.traction(["end"], np.broadcast_to([1.0, 0.0, 0.0], mesh.corners_mm.shape))
    stress = body.stress_mpa(body.moved_mm(body.solved(load[:, None])[:, 0]))
    side = np.linalg.norm(body.nodes_mm[:, :2] - [0.0, radius], axis=1) < 1e-6
    return float(along_mpa(stress[side], [1.0, 0.0, 0.0]).mean()) * (wide - 2.0 * radius) / wide


def test_a_hole_in_a_wide_plate_trebles_the_stress() -> None:
    # Kirsch: 3 for a plate without end; at d / w = 1 / 20 Heywood's K on the net section is 2 + 0.95^3
    assert holed(400.0) * 400.0 / 380.0 == pytest.approx(3.0, rel=0.02)
    assert holed(400.0) == pytest.approx(2.0 + 0.95**3, rel=0.02)


@pytest.mark.parametrize("wide", [60.0, 100.0])
def test_a_hole_in_a_strip(wide: float) -> None:
    assert holed(wide) == pytest.approx(2.0 + (1.0 - 20.0 / wide) ** 3, rel=0.02)


def test_a_cantilever_by_its_tip() -> None:
    long, wide, high = 200.0, 10.0, 12.0
    mesh = plate(
        shapely.box(0.0, 0.0, long, wide), (0.0, 6.0, 12.0), 6.0,
        sides={"wall": ([0, 0, 0], [1, 0, 0]), "tip": ([long, 0, 0], [1, 0, 0])},
    )  # fmt: skip
    # held square at the wall, free to narrow there as beam theory has it
    wall = np.abs(mesh.corners_mm[:, 0]) < 1e-9
    middle = np.flatnonzero(wall & (np.abs(mesh.corners_mm[:, 2] - high / 2.0) < 1e-9))
    edge = np.flatnonzero(wall & (np.abs(mesh.corners_mm[:, 1]) < 1e-9))
    pins = [(middle, (False, False, True)), (edge, (False, True, False))]
    body = Body(mesh, 210_000.0, 0.3, {}, {"wall": (True, False, False)}, pins)
    load = body.traction(["tip"], np.broadcast_to([0.0, 0.0, -100.0 / (wide * high)], mesh.corners_mm.shape))
    moved = body.moved_mm(body.solved(load[:, None])[:, 0])
    tip = np.abs(body.nodes_mm[:, 0] - long) < 1e-9
    second, shear = wide * high**3 / 12.0, 210_000.0 / 2.6
    cowper = 10.0 * 1.3 / (12.0 + 11.0 * 0.3)
    expected = 100.0 * long**3 / (3.0 * 210_000.0 * second) + 100.0 * long / (cowper * shear * wide * high)
    assert -float(moved[tip, 2].mean()) == pytest.approx(expected, rel=0.005)
