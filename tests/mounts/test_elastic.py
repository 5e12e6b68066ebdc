"""Bolted plates against beam theory (Gere, Mechanics of Materials: M y / I, M L^2 / 2 E I, from memory) and balance."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from halfshaft.mounts.elastic import Body, along_mpa
from halfshaft.mounts.held_part import Answer, Case, HeldPart, Push
from tests.mounts.plates import disc, plate

LONG, WIDE, THICK = 200.0, 40.0, 6.0
BOLTED = 210_000.0 / THICK
UP = np.array([0.0, 0.0, 1.0])
SPOTS = {"near": (15.0, WIDE / 2.0), "far": (45.0, WIDE / 2.0), "end": (LONG - 15.0, WIDE / 2.0)}


def bar(seats: bool = False) -> HeldPart:
    bores = shapely.union_all([disc(spot, 5.0) for spot in SPOTS.values()])
    figure = shapely.box(0.0, 0.0, LONG, WIDE).difference(bores)
    mesh = plate(figure, (0.0, THICK), 8.0, {name: disc(spot, 12.0) for name, spot in SPOTS.items()})
    return HeldPart(mesh, ("near", "far"), {"under": UP} if seats else {}, BOLTED)


FREE, SEATED = bar(), bar(seats=True)


def pushed(part: HeldPart, force_n: tuple[float, ...], moment_nmm: tuple[float, ...] = (0.0, 0.0, 0.0)) -> Answer:
    about = np.array([LONG - 15.0, WIDE / 2.0, THICK / 2.0])
    return part.answer(Case("by hand", (Push(("end",), np.array(force_n), np.array(moment_nmm), about),)))


def surface_mpa(part: HeldPart, case: Answer, x_mm: float, z_mm: float) -> float:
    """Direct stress along the bar on a flat, over the nodes within 5 mm of a station, as the beam's line goes."""
    nodes = part.body.nodes_mm
    near = (np.abs(nodes[:, 0] - x_mm) < 5.0) & (np.abs(nodes[:, 2] - z_mm) < 1e-9)
    stress = along_mpa(part.body.stress_mpa(case.moved_mm)[near], [1.0, 0.0, 0.0])
    _, start = np.polyfit(nodes[near, 0] - x_mm, stress, 1)
    return float(start)


def test_a_cantilever_bends_as_a_beam_does() -> None:
    case = pushed(FREE, (0.0, 0.0, -100.0))
    second = WIDE * THICK**3 / 12.0
    for x in (90.0, 115.0, 140.0):
        expected = 100.0 * (LONG - 15.0 - x) * (THICK / 2.0) / second
        assert surface_mpa(FREE, case, x, THICK) == pytest.approx(expected, rel=0.03)
        assert surface_mpa(FREE, case, x, 0.0) == pytest.approx(-expected, rel=0.03)


def test_held_rings_bear_what_is_pushed_to_the_last_digits() -> None:
    for part in (FREE, SEATED):
        case = pushed(part, (30.0, -40.0, -100.0), (500.0, 0.0, -900.0))
        np.testing.assert_allclose(sum(case.reactions_n.values()), [-30.0, 40.0, 100.0], atol=1e-9 * 112.0)


def test_held_rings_bear_the_moment_of_what_is_pushed() -> None:
    case = pushed(FREE, (30.0, -40.0, -100.0), (500.0, 0.0, -900.0))
    about = np.zeros(3)
    borne = sum(FREE.body.spring_moment_nmm(case.moved_mm, f"ring {name}", about) for name in FREE.held)
    arm = np.array([LONG - 15.0, WIDE / 2.0, THICK / 2.0])
    pushed_by = np.cross(arm, [30.0, -40.0, -100.0]) + np.array([500.0, 0.0, -900.0])
    np.testing.assert_allclose(borne, -pushed_by, atol=1e-9 * float(np.linalg.norm(pushed_by)))


def test_a_moment_bends_the_free_length_to_an_even_arc() -> None:
    case = pushed(FREE, (0.0, 0.0, 0.0), (0.0, 5000.0, 0.0))
    nodes = FREE.body.nodes_mm
    middle = (nodes[:, 0] > 65.0) & (nodes[:, 0] < 160.0) & (np.abs(nodes[:, 1] - WIDE / 2.0) < 3.0)
    curve = 2.0 * np.polyfit(nodes[middle, 0], case.moved_mm[middle, 2], 2)[0]
    # a moment about +y bends the free end down
    assert curve == pytest.approx(-5000.0 / (210_000.0 * WIDE * THICK**3 / 12.0), rel=0.05)


def test_a_seat_presses_and_never_pulls() -> None:
    down, up = pushed(SEATED, (0.0, 0.0, -100.0)), pushed(SEATED, (0.0, 0.0, 100.0))
    assert down.reactions_n["under"][2] > 90.0
    # lifted at its end the bar turns about its heel: the seat may press there, but only upward
    assert up.reactions_n["under"][2] >= 0.0


def test_a_seat_makes_a_part_stiffer_only_where_it_presses() -> None:
    bare, pressed = (pushed(p, (0.0, 0.0, -100.0)).moved_mm[:, 2].min() for p in (FREE, SEATED))
    assert abs(pressed) < 0.5 * abs(bare)
    lifted, seated = (pushed(p, (0.0, 0.0, 100.0)).moved_mm[:, 2].max() for p in (FREE, SEATED))
    assert 0.5 * lifted < seated <= lifted * (1.0 + 1e-9)


def test_cases_add_up_where_nothing_touches() -> None:
    one, other = pushed(FREE, (10.0, 0.0, -100.0)), pushed(FREE, (0.0, 50.0, 0.0), (100.0, 0.0, 300.0))
    both = pushed(FREE, (10.0, 50.0, -100.0), (100.0, 0.0, 300.0))
    np.testing.assert_allclose(one.moved_mm + other.moved_mm, both.moved_mm, atol=1e-9)


def test_what_is_held_nowhere_or_loaded_nowhere_is_refused() -> None:
    with pytest.raises(ValueError, match="held at one bolt at least"):
        HeldPart(FREE.mesh, (), {}, BOLTED)
    with pytest.raises(ValueError, match="the mesh has no ring away"):
        HeldPart(FREE.mesh, ("away",), {}, BOLTED)
    with pytest.raises(ValueError, match="nothing is loaded at ring away"):
        FREE.answer(Case("x", (Push(("away",), UP, np.zeros(3), np.zeros(3)),)))
    with pytest.raises(ValueError, match="flies away"):
        Body(FREE.mesh, 210_000.0, 0.3, {})
