"""What any car on its wheels must keep: sums add up, weight moved forward goes to the front, spreads hold."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.weights.brakes import Braked, Split, adhesion_used, first_to_lock, ideal_forces
from halfshaft.weights.moments import Moments, Stance, axle_rows, centre_mm, corner_rows, item, loads_kg, nothing
from halfshaft.weights.moves import Movable, Rest, best_moves
from halfshaft.weights.park import friction_wanted, steepest_deg
from halfshaft.weights.reconcile import reconcile
from halfshaft.weights.scales import Height, Tilt, Weighing, seen, weighed
from halfshaft.weights.tilt import height_mm

some = st.floats
STANCE = Stance(2600.0, 1400.0, 1450.0)
kilos = some(1.0, 400.0)
along, across, up = some(-800.0, 3400.0), some(-800.0, 800.0), some(100.0, 1600.0)


@st.composite
def things(draw: st.DrawFn) -> list[tuple[float, tuple[float, float, float], float, float]]:
    one = st.tuples(kilos, st.tuples(along, across, up), some(0.0, 5.0), some(0.0, 60.0))
    return draw(st.lists(one, min_size=1, max_size=8))


def car_of(rows: list[tuple[float, tuple[float, float, float], float, float]], roll: float = 0.5) -> Moments:
    whole = nothing()
    for mass, at, mass_spread, place_spread in rows:
        whole = whole + item(mass, at, mass_spread, place_spread**2 * np.eye(3), roll)
    return whole


@given(things(), some(0.0, 1.0))
def test_corners_and_axles_add_up_to_the_whole(rows: list, roll: float) -> None:
    car = car_of(rows, roll)
    axles, _ = loads_kg(car, axle_rows(STANCE))
    corners, covariance = loads_kg(car, corner_rows(STANCE))
    assert axles.sum() == pytest.approx(car.mass_kg)
    assert corners.sum() == pytest.approx(car.mass_kg)
    assert corners[:2].sum() == pytest.approx(axles[0])
    assert covariance.sum() == pytest.approx(car.covariance[0, 0], rel=1e-6, abs=1e-6)
    # the corners hold the lean: moments about the centre line
    lean = 700.0 * (corners[0] - corners[1]) + 725.0 * (corners[2] - corners[3])
    assert lean == pytest.approx(car.values[2], rel=1e-9, abs=1e-6)


@given(things(), st.integers(0, 7), some(0.0, 2000.0))
def test_weight_moved_forward_never_unloads_the_front(rows: list, which: int, way: float) -> None:
    number = which % len(rows)
    mass, (x, y, z), *spreads = rows[number]
    moved = [*rows[:number], (mass, (x + way, y, z), *spreads), *rows[number + 1 :]]
    before, after = (loads_kg(car_of(r), axle_rows(STANCE))[0][0] for r in (rows, moved))
    assert after >= before - 1e-9
    assert after - before == pytest.approx(mass * way / 2600.0, abs=1e-6)


@given(things(), things())
def test_what_goes_in_and_comes_out_again_leaves_the_car_as_it_was_but_less_sure(rows: list, more: list) -> None:
    car, extra = car_of(rows), car_of(more)
    back = car + extra - extra
    assert back.values == pytest.approx(car.values, abs=1e-6)
    assert np.all(np.diag(back.covariance) >= np.diag(car.covariance) - 1e-9)


def test_spreads_of_a_ledger_are_those_of_drawn_ledgers() -> None:
    """Independent code: each mass and place drawn, the centre summed plainly, 200 000 times."""
    rows = [
        (900.0, (1300.0, 10.0, 560.0), 4.0, 12.0),
        (118.0, (0.0, 0.0, 420.0), 2.0, 20.0),
        (240.0, (1700.0, -80.0, 480.0), 3.0, 25.0),
    ]
    gone = (190.0, (2300.0, 20.0, 610.0), 5.0, 30.0)
    car = car_of(rows) - item(gone[0], gone[1], gone[2], gone[3] ** 2 * np.eye(3))
    centre, covariance = centre_mm(car)
    dice = np.random.default_rng(7)
    count = 200_000
    total, moment = np.zeros(count), np.zeros((count, 3))
    for sign, (mass, at, mass_spread, place_spread) in ((1, rows[0]), (1, rows[1]), (1, rows[2]), (-1, gone)):
        m = dice.normal(mass, mass_spread, count)
        p = np.array(at) + dice.normal(0.0, place_spread, (count, 3))
        total += sign * m
        moment += sign * m[:, None] * p
    drawn = moment / total[:, None]
    assert centre == pytest.approx(drawn.mean(axis=0), abs=0.3)
    assert np.sqrt(np.diag(covariance)) == pytest.approx(drawn.std(axis=0), rel=0.02)
    assert covariance[0, 2] == pytest.approx(np.cov(drawn.T)[0, 2], rel=0.15)


def test_spreads_of_a_tilt_are_those_of_drawn_readings() -> None:
    told = Weighing((432.0, 418.0, 331.0, 339.0), 1.0, Tilt("rear", 600.0, 882.0, 3.0, 1.5, 350.0, 350.0, 3.0))
    centre, covariance = centre_mm(weighed(told, Stance(2920.0, 1510.0, 1530.0)))
    dice = np.random.default_rng(11)
    count = 100_000
    fl, fr, rl, rr = (dice.normal(kg, 1.0, count) for kg in told.corners_kg)
    other, lift = dice.normal(882.0, 1.5, count), dice.normal(600.0, 3.0, count)
    front, rear = dice.normal(350.0, 3.0, count), dice.normal(350.0, 3.0, count)
    # statics of the lifted car, by solving for the angle and the height one after the other
    d = rear - front
    angle = np.full(count, 0.2)
    for _ in range(8):
        angle -= (2920.0 * np.sin(angle) + d * np.cos(angle) - lift - d) / (2920.0 * np.cos(angle) - d * np.sin(angle))
    total = fl + fr + rl + rr
    b = 2920.0 * (fl + fr) / total
    arm = other / total * (2920.0 * np.cos(angle) - d * np.sin(angle))
    drawn = rear + (arm - b * np.cos(angle)) / np.sin(angle)
    assert centre[2] == pytest.approx(drawn.mean(), abs=0.5)
    assert math.sqrt(covariance[2, 2]) == pytest.approx(drawn.std(), rel=0.02)


@given(
    some(0.25, 0.75), some(250.0, 1200.0), some(250.0, 420.0), some(250.0, 420.0), some(0.05, 0.5),
    st.sampled_from(["front", "rear"]),
)  # fmt: skip
def test_a_tilt_gives_back_the_height_that_made_its_readings(
    share: float, height: float, stays: float, lifted: float, angle: float, end: str
) -> None:
    """The car as points in the plane, turned: supports straight under both axle centres carry it."""
    base, mass = 2600.0, 1500.0
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    up_axle, down_axle = np.array([0.0, lifted]), np.array([base, stays])
    cog = np.array([share * base, height])
    turned = [turn @ (point - down_axle) for point in (up_axle, cog)]
    lift = turned[0][1] - (lifted - stays)
    # moments about the centre of the lifted axle
    carried = mass * (turned[1][0] - turned[0][0]) / (0.0 - turned[0][0])
    found = float(height_mm(mass * share, mass, carried, lift, base, stays, lifted))
    assert found == pytest.approx(height, rel=1e-7)


@given(things())
def test_scales_that_agree_make_the_car_surer_and_leave_it_where_it_is(rows: list) -> None:
    ledger = car_of([(1200.0, (1300.0, 0.0, 560.0), 8.0, 15.0), *rows])
    corners, _ = loads_kg(ledger, corner_rows(STANCE))
    if np.min(corners) <= 1.0:
        return
    told = Weighing(tuple(float(one) for one in corners), 2.0)
    found = reconcile(ledger, weighed(told, STANCE), seen(told), STANCE)
    assert found.best.values[:3] == pytest.approx(ledger.values[:3], rel=1e-6, abs=1.0)
    assert found.best.values[3] == pytest.approx(ledger.values[3], rel=1e-5)
    assert found.chance > 0.99
    assert np.all(np.diag(found.best.covariance) <= np.diag(ledger.covariance) * (1.0 + 1e-9) + 1e-6)


def test_reconciling_is_weighted_least_squares() -> None:
    """Independent code: the stacked normal equations of both tellings, solved by numpy."""
    ledger = car_of([(1200.0, (1300.0, 30.0, 560.0), 8.0, 15.0), (200.0, (200.0, -100.0, 480.0), 4.0, 30.0)], 0.4)
    told = Weighing((335.0, 330.0, 370.0, 380.0), 2.0, Height(545.0, 20.0))
    scales = weighed(told, STANCE, 0.4)
    found = reconcile(ledger, scales, seen(told), STANCE)
    # the ledger's fifth moment follows the third here, so its covariance has no inverse: a nudge stands in
    size = np.sqrt(np.diag(ledger.covariance))
    one = np.linalg.inv(ledger.covariance / np.outer(size, size) + 1e-9 * np.eye(5)) / np.outer(size, size)
    two = np.linalg.inv(scales.covariance)
    best = np.linalg.solve(one + two, one @ ledger.values + two @ scales.values)
    assert found.best.values == pytest.approx(best, rel=1e-4)


cars = st.builds(Braked, some(0.3, 0.7), some(0.12, 0.35))
splits = st.builds(
    Split, some(0.3, 0.95), st.one_of(st.just(math.inf), some(0.05, 0.6)), some(0.0, 1.0), some(0.0, 0.4),
    st.sampled_from(["front", "rear", "all"]),
)  # fmt: skip


@given(cars, splits, some(0.0, 1.2))
def test_brake_forces_add_up_to_the_deceleration(car: Braked, split: Split, z: float) -> None:
    front, rear = split.forces(z)
    assert float(front + rear) == pytest.approx(z, abs=1e-12)
    assert min(float(front), float(rear)) >= -1e-12


@given(cars, some(0.05, 1.0))
def test_on_the_ideal_curve_both_axles_ask_for_the_same(car: Braked, z: float) -> None:
    front, _ = ideal_forces(car, z)
    share = float(front) / z
    if share < 1.0:
        one, two = adhesion_used(car, Split(share), z)
        assert float(one) == pytest.approx(float(two), rel=1e-9)
        assert float(one) == pytest.approx(z, rel=1e-9)


@given(cars, splits, some(0.15, 1.0))
def test_no_car_stops_harder_than_its_road_and_none_locks_sooner_than_told(
    car: Braked, split: Split, friction: float
) -> None:
    lock = first_to_lock(car, split, friction)
    assert lock.at_g <= friction + 1e-9
    below = np.linspace(0.0, max(lock.at_g - 1e-6, 0.0), 200)
    for used in adhesion_used(car, split, below):
        assert np.all(used <= friction + 1e-6)
    above = adhesion_used(car, split, lock.at_g + 1e-6)
    assert max(float(one) for one in above) >= friction - 1e-6


@given(cars, some(0.3, 1.0), st.sampled_from(["front", "rear"]), st.sampled_from(["uphill", "downhill"]))
def test_a_car_holds_on_less_than_its_steepest_slope_and_slides_on_more(
    car: Braked, friction: float, end: str, way: str
) -> None:
    steepest = steepest_deg(car, end, friction, way)
    assert float(friction_wanted(car, end, 0.99 * steepest, way)) <= friction
    assert float(friction_wanted(car, end, 1.01 * steepest, way)) >= friction


@st.composite
def shuffles(draw: st.DrawFn) -> tuple[Rest, list[Movable], dict[str, int], float]:
    names = ["nose", "middle", "tail"]
    spots = {name: (draw(some(-600.0, 3000.0)), draw(some(-500.0, 500.0))) for name in names}
    count = draw(st.integers(1, 5))
    holds = {name: draw(st.integers(2, 5)) for name in names}
    things = []
    room = dict(holds)
    for number in range(count):
        now = draw(st.sampled_from([name for name in names if room[name] > 0]))
        room[now] -= 1
        may = draw(st.sets(st.sampled_from(names), min_size=1)) | {now}
        things.append(
            Movable(f"box_{number}", draw(some(10.0, 90.0)), now, {name: spots[name] for name in sorted(may)})
        )
    mass = draw(some(900.0, 2500.0))
    base = 2600.0
    rest = Rest(mass, mass * base * draw(some(0.35, 0.65)), mass * draw(some(-20.0, 20.0)), base)
    return rest, things, holds, draw(some(0.4, 0.6))


@given(shuffles())
def test_moves_are_the_best_of_all_there_are(told: tuple[Rest, list[Movable], dict[str, int], float]) -> None:
    """Against trying every arrangement."""
    rest, things, holds, wanted = told
    best: dict[int, float] = {}
    for choice in itertools.product(*(sorted(thing.places) for thing in things)):
        if any(choice.count(name) > most for name, most in holds.items()):
            continue
        moved = sum(place != thing.now for place, thing in zip(choice, things, strict=True))
        gain = sum(t.mass_kg * (t.places[p][0] - t.places[t.now][0]) for p, t in zip(choice, things, strict=True))
        off = abs((rest.along_kg_mm + gain) / (rest.wheelbase_mm * rest.mass_kg) - wanted)
        best[moved] = min(best.get(moved, math.inf), off)
    found = best_moves(rest, things, holds, wanted, most_moves=5)
    assert found[0].to == {}
    for move in found:
        within = min(off for count, off in best.items() if count <= len(move.to))
        assert abs(move.front_share - wanted) <= within + 3e-5
    assert abs(found[-1].front_share - wanted) <= min(best.values()) + 2e-4
