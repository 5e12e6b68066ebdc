"""Bolt groups against a worked example, brute force, and equilibrium."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import minimize, nnls
from shapely.geometry import Point, Polygon, box

from halfshaft.mounts.bolt_group import BoltLoads, BoltPattern, CannotHold, bolt_loads, pattern

SEAT = box(-50.0, -60.0, 50.0, 60.0)
ORIGIN = (0.0, 0.0, 0.0)


# Shigley's Mechanical Engineering Design, 9th ed., example 8-7, pp. 457 and 458 (read): four M16 bolts 150 mm by
# 120 mm, 16 kN at 425 mm from their middle: A and B 21.0 kN, C and D 14.8 kN
def test_a_bar_on_four_bolts_is_that_of_shigley() -> None:
    bolts = pattern([(75.0, 60.0), (75.0, -60.0), (-75.0, 60.0), (-75.0, -60.0)], 144.0)
    found = np.linalg.norm(bolt_loads(bolts, (0.0, -16e3, 0.0), ORIGIN, (425.0, 0.0, 0.0)).shear_n, axis=1)
    assert found / 1e3 == pytest.approx([21.0, 21.0, 14.8, 14.8], abs=0.05)


def brute(bolts: BoltPattern, load: np.ndarray, preload: np.ndarray, cells: int = 120) -> tuple[np.ndarray, float]:
    """Bolts and a seat of many little pads, by scipy's minimiser over the three motions: tensions and contact."""
    assert bolts.footprint is not None
    low_x, low_y, high_x, high_y = bolts.footprint.bounds
    side_x, side_y = (high_x - low_x) / cells, (high_y - low_y) / cells
    xs = low_x + side_x * (np.arange(cells) + 0.5)
    ys = low_y + side_y * (np.arange(cells) + 0.5)
    pads = np.array([(x, y) for x in xs for y in ys])
    pads = pads[[bolts.footprint.contains(Point(*pad)) for pad in pads]]
    reach = 100.0
    at = np.column_stack([np.ones(len(preload)), bolts.places_mm[:, 1] / reach, -bolts.places_mm[:, 0] / reach])
    on = np.column_stack([np.ones(len(pads)), pads[:, 1] / reach, -pads[:, 0] / reach])
    k_bolt, k_pad = bolts.areas_mm2, side_x * side_y * bolts.seat_stiffness
    push = load / np.array([1.0, reach, reach])
    # tightened first, the whole seat pressed: pads alone against the preloads
    q0 = np.linalg.lstsq(k_pad * on.T @ on, -at.T @ preload, rcond=None)[0]
    assert (on @ q0 <= 1e-9).all()
    preload = preload - k_bolt * (at @ q0)

    def energy(q: np.ndarray) -> tuple[float, np.ndarray]:
        pull = np.maximum(0.0, preload + k_bolt * (at @ q))
        press = np.maximum(0.0, -k_pad * (on @ q))
        value = (pull**2 / (2.0 * k_bolt)).sum() + (press**2).sum() / (2.0 * k_pad) - push @ q
        return float(value), at.T @ pull - on.T @ press - push

    q = np.zeros(3)
    for _ in range(5):
        q = minimize(energy, q, jac=True, method="BFGS", options={"gtol": 1e-7 * abs(push).max()}).x
    tension = np.maximum(0.0, preload + k_bolt * (at @ q))
    return tension, float(np.maximum(0.0, -k_pad * (on @ q)).sum())


@pytest.mark.parametrize(
    ("places", "load", "preload"),
    [
        ([(0.0, 40.0), (0.0, -40.0)], (0.0, 1e6, 0.0), 0.0),
        ([(30.0, 40.0), (-30.0, 40.0), (0.0, -45.0)], (4e3, 8e5, -5e5), 0.0),
        ([(30.0, 40.0), (-30.0, 40.0), (0.0, -45.0)], (4e3, 8e5, -5e5), 20e3),
        ([(30.0, 20.0), (-30.0, 20.0)], (-6e3, 3e5, 9e5), 0.0),
    ],
)
def test_the_neutral_axis_is_that_of_brute_force(
    places: list[tuple[float, float]], load: tuple[float, float, float], preload: float
) -> None:
    bolts = pattern(places, 84.3, SEAT)
    found = bolt_loads(bolts, (0.0, 0.0, load[0]), (load[1], load[2], 0.0), ORIGIN, preload)
    tension, contact = brute(bolts, np.array(load), np.full(len(places), preload))
    size = max(float(tension.max()), 1.0)
    # the pads are a hundredth of the seat: bounds by the grain
    assert found.tension_n / size == pytest.approx(tension / size, abs=0.01)
    assert found.contact_n / size == pytest.approx(contact / size, abs=0.015)


def test_a_footprint_with_a_window_is_that_of_brute_force() -> None:
    frame = Polygon(SEAT.exterior.coords, [box(-30.0, -35.0, 30.0, 35.0).exterior.coords])
    bolts = pattern([(40.0, 48.0), (-40.0, 48.0), (-40.0, -48.0), (40.0, -48.0)], 84.3, frame)
    found = bolt_loads(bolts, (0.0, 0.0, 5e3), (6e5, 4e5, 0.0), ORIGIN)
    tension, _ = brute(bolts, np.array([5e3, 6e5, 4e5]), np.zeros(4))
    assert found.tension_n / tension.max() == pytest.approx(tension / tension.max(), abs=0.01)


def test_one_row_in_bending_obeys_the_cracked_section() -> None:
    # rectangular seat b x h with one row of bolts, area A, at depth d: b x^2 / 2 = A (d - x) (cracked section, any
    # handbook of reinforced concrete with n = 1), T = M / (d - x / 3)
    wide, deep, at, area, moment = 100.0, 120.0, 100.0, 2.0 * 84.3, 1e6
    axis = (-area + math.sqrt(area**2 + 2.0 * wide * area * at)) / wide
    bolts = pattern([(-30.0, at - deep / 2.0), (30.0, at - deep / 2.0)], area / 2.0, SEAT)
    found = bolt_loads(bolts, ORIGIN, (moment, 0.0, 0.0), ORIGIN)
    assert found.tension_n.sum() == pytest.approx(moment / (at - axis / 3.0))
    assert found.contact_share == pytest.approx(axis / deep)
    assert found.contact_centre_mm[1] == pytest.approx(axis / 3.0 - deep / 2.0)
    assert found.pressure_mpa == pytest.approx(2.0 * found.contact_n / (wide * axis))


def unbalance(found: BoltLoads, bolts: BoltPattern, force: np.ndarray, moment: np.ndarray, point: np.ndarray) -> float:
    """Greatest gap between what the load asks and what bolts and seat give, in parts of the load."""
    places = np.column_stack([bolts.places_mm, np.zeros(len(bolts.places_mm))])
    holds = np.column_stack([found.shear_n, found.tension_n])
    total, turn = holds.sum(axis=0), np.cross(places, holds).sum(axis=0)
    if found.contact_n > 0.0:
        push = np.array([0.0, 0.0, -found.contact_n])
        total = total + push
        turn = turn + np.cross([*np.nan_to_num(found.contact_centre_mm), 0.0], push)
    about = moment + np.cross(point, force)
    size = 1.0 + np.abs(force).max() + np.abs(about).max() / 50.0 + found.tension_n.max()
    return float(max(np.abs(total - force).max() / size, np.abs(turn - about).max() / (50.0 * size)))


numbers = st.floats(-1.0, 1.0, allow_nan=False)
places_in = st.lists(
    st.tuples(st.floats(-45.0, 45.0), st.floats(-55.0, 55.0)), min_size=1, max_size=6,
    unique_by=lambda p: (round(p[0] / 4), round(p[1] / 4)),
)  # fmt: skip


def _apart(places: list[tuple[float, float]]) -> bool:
    return all(math.dist(a, b) > 3.0 for i, a in enumerate(places) for b in places[:i])


@given(
    places=places_in, f=st.tuples(numbers, numbers, numbers), m=st.tuples(numbers, numbers, numbers),
    p=st.tuples(numbers, numbers, numbers), preload=st.sampled_from([0.0, 5e3, 40e3]), soft=st.floats(0.05, 2.0),
)  # fmt: skip
def test_bolts_and_seat_balance_any_load(
    places: list[tuple[float, float]],
    f: tuple[float, ...],
    m: tuple[float, ...],
    p: tuple[float, ...],
    preload: float,
    soft: float,
) -> None:
    assume(_apart(places) and len(places) > 1)
    force, moment, point = np.array(f) * 2e4, np.array(m) * 1e6, np.array(p) * 200.0
    bolts = pattern(places, 84.3, SEAT, seat_stiffness=soft)
    found = bolt_loads(bolts, force, moment, point, preload)
    assert unbalance(found, bolts, force, moment, point) < 1e-6
    assert (found.tension_n >= 0.0).all()
    assert found.contact_n >= 0.0


@given(places=places_in, load=st.tuples(numbers, numbers, numbers), times=st.floats(0.01, 100.0))
def test_twice_the_load_is_twice_each_pull(
    places: list[tuple[float, float]], load: tuple[float, ...], times: float
) -> None:
    assume(_apart(places))
    bolts = pattern(places, 84.3, SEAT)
    force, moment = np.array([0.0, 0.0, load[0] * 2e4]), np.array([load[1] * 1e6, load[2] * 1e6, 0.0])
    assume(np.abs(force).max() + np.abs(moment).max() > 1.0)
    one = bolt_loads(bolts, force, moment, ORIGIN)
    many = bolt_loads(bolts, times * force, times * moment, ORIGIN)
    size = max(1.0, float(one.tension_n.max()), one.contact_n)
    assert many.tension_n / times / size == pytest.approx(one.tension_n / size, abs=1e-5)


@given(lift=numbers, moment=numbers)
def test_a_symmetric_group_shares_alike(lift: float, moment: float) -> None:
    bolts = pattern([(30.0, 40.0), (-30.0, 40.0), (-30.0, -40.0), (30.0, -40.0)], 84.3, SEAT)
    found = bolt_loads(bolts, (0.0, 0.0, 1e4 * lift), (1e6 * moment, 0.0, 0.0), ORIGIN)
    a, b, c, d = found.tension_n
    assert (a, c) == pytest.approx((b, d), abs=1e-4 * (1.0 + a + c))


def test_forces_by_nonnegative_least_squares_hold_the_same_load() -> None:
    # a far load that only prying at the far edge can hold: pulls and pushes found by scipy's nnls exist, and ours
    # pull more than the statics of bolts alone
    bolts = pattern([(0.0, 0.0)], 84.3, SEAT)
    found = bolt_loads(bolts, (0.0, 0.0, 1e3), (0.0, 0.0, 0.0), (30.0, 0.0, 0.0))
    corners = np.array(SEAT.exterior.coords)[:-1]
    matrix = np.column_stack([
        [1.0, 0.0, 0.0], *[[-1.0, -y / 50.0, x / 50.0] for x, y in corners]
    ])  # fmt: skip
    _, left = nnls(matrix, np.array([1e3, 0.0, -3e4 / 50.0]))
    assert left == pytest.approx(0.0, abs=1e-6)
    # lever to the pressed edge: at least 1e3 (30 + 50) / 50 by the edge itself
    assert found.tension_n[0] >= 1e3 * 80.0 / 50.0


def test_preload_keeps_the_seat_shut_and_the_bolts_calm() -> None:
    bolts = pattern([(30.0, 40.0), (-30.0, 40.0), (-30.0, -40.0), (30.0, -40.0)], 84.3, SEAT)
    loose = bolt_loads(bolts, (0.0, 0.0, 8e3), (3e5, 0.0, 0.0), ORIGIN)
    tight = bolt_loads(bolts, (0.0, 0.0, 8e3), (3e5, 0.0, 0.0), ORIGIN, 30e3)
    assert tight.contact_share == pytest.approx(1.0)
    assert np.abs(tight.added_n).max() < 0.2 * loose.added_n.max()
    calm = bolt_loads(bolts, ORIGIN, ORIGIN, ORIGIN, 30e3)
    assert calm.tension_n == pytest.approx([30e3] * 4)
    # many times the preload: the bolts carry it all, as if never tightened
    torn = bolt_loads(bolts, (0.0, 0.0, 1e6), ORIGIN, ORIGIN, 30e3)
    assert torn.tension_n == pytest.approx([250e3] * 4)


def test_bolts_in_slots_leave_the_shear_to_others() -> None:
    bolts = pattern([(0.0, 0.0), (50.0, 0.0), (100.0, 0.0)], 84.3, in_shear=[True, False, True])
    found = bolt_loads(bolts, (0.0, 3e3, 0.0), ORIGIN, (50.0, 0.0, 0.0))
    assert found.shear_n[:, 1] == pytest.approx([1500.0, 0.0, 1500.0])


def test_what_cannot_hold_is_told() -> None:
    with pytest.raises(CannotHold, match="single bolt"):
        bolt_loads(pattern([(0.0, 0.0)], 84.3, SEAT), ORIGIN, (0.0, 0.0, 1e4), ORIGIN)
    with pytest.raises(CannotHold, match="in one line"):
        bolt_loads(pattern([(0.0, 0.0), (0.0, 50.0)], 84.3), ORIGIN, (0.0, 1e5, 0.0), ORIGIN)
    with pytest.raises(CannotHold, match="tips the plate"):
        bolt_loads(pattern([(0.0, 80.0), (10.0, 80.0)], 84.3, SEAT), (0.0, 0.0, 1e3), ORIGIN, ORIGIN)
    with pytest.raises(CannotHold, match="pushed"):
        bolt_loads(pattern([(0.0, 0.0), (0.0, 50.0), (50.0, 0.0)], 84.3), (0.0, 0.0, -1e3), ORIGIN, ORIGIN)


def test_patterns_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="no bolts"):
        pattern([], 84.3)
    with pytest.raises(ValueError, match="1 and 2 are at one place"):
        pattern([(0.0, 0.0), (0.0, 0.0)], 84.3)
    with pytest.raises(ValueError, match="area over zero"):
        pattern([(0.0, 0.0)], 0.0)
    with pytest.raises(ValueError, match="across the load"):
        pattern([(0.0, 0.0)], 84.3, in_shear=[False])
    with pytest.raises(ValueError, match="three numbers"):
        bolt_loads(pattern([(0.0, 0.0)], 84.3), (0.0, math.nan, 0.0), ORIGIN, ORIGIN)
