"""The chance of fit against closed forms, and against a full placement of each sample by other code."""

from __future__ import annotations

import dataclasses
from math import erf, sqrt

import numpy as np
import pytest
from scipy.optimize import linprog

from halfshaft.fold.fit import UNSEEN, chance_of_fit, fit_checks, wilson
from halfshaft.fold.fit_samples import misfit_of
from halfshaft.fold.model import Bracket
from halfshaft.fold.placement import Play, placeable
from halfshaft.geometry import Pose
from halfshaft.geometry.pose import turn
from halfshaft.measure.model import Hidden, Measured
from tests.fold.builders import hole, hung, plate, slit
from tests.fold.scenes import bracket_of, build_of, measured_of

LONG = [(-100, -30), (100, -30), (100, 30), (-100, 30)]


def within(limit: float, spread: float) -> float:
    """Chance that a normal draw stays within plus or minus a limit."""
    return erf(limit / spread / sqrt(2.0))


def flat_with(*holes: object) -> Bracket:
    return bracket_of([plate("web", LONG, holes=holes)])  # type: ignore[arg-type]


def test_one_hole_always_fits() -> None:
    bracket = flat_with(hole("A", 0, 0))
    chance = chance_of_fit(build_of(bracket), measured_of(bracket, point_mm=5.0), bracket, 500)
    assert chance.passes == 1.0


@pytest.mark.parametrize("spread", [0.5, 1.0, 2.0])
def test_two_round_holes_fit_when_their_distance_is_within_both_clearances(spread: float) -> None:
    bracket = flat_with(hole("A", -70, 0), hole("B", 70, 0))
    chance = chance_of_fit(build_of(bracket), measured_of(bracket, point_mm=spread), bracket, 20_000)
    # only the error of the distance counts: two independent points; clearance 0.75 + 0.75
    expected = within(1.5, spread * sqrt(2.0))
    assert chance.passes == pytest.approx(expected, abs=4.0 * chance.standard_error + 2e-3)


def test_the_hole_in_the_frame_adds_its_own_clearance() -> None:
    bracket = flat_with(hole("A", -70, 0, frame_hole_mm=13.0), hole("B", 70, 0, frame_hole_mm=13.0))
    chance = chance_of_fit(build_of(bracket), measured_of(bracket, point_mm=1.5), bracket, 20_000)
    assert chance.passes == pytest.approx(within(2.5, 1.5 * sqrt(2.0)), abs=4.0 * chance.standard_error + 2e-3)


def test_a_slot_along_the_line_adds_half_its_length_and_one_across_adds_nothing() -> None:
    along = flat_with(hole("A", -70, 0), hole("B", 70, 0, slot_mm=3.0))
    across = flat_with(hole("A", -70, 0), hole("B", 70, 0, slot_mm=3.0, slot_way=np.array([0.0, 1.0])))
    for bracket, limit in ((along, 3.0), (across, 1.5)):
        chance = chance_of_fit(build_of(bracket), measured_of(bracket, point_mm=1.5), bracket, 20_000)
        assert chance.passes == pytest.approx(within(limit, 1.5 * sqrt(2.0)), abs=4.0 * chance.standard_error + 2e-3)


def test_cut_spread_adds_in_squares() -> None:
    bracket = flat_with(hole("A", -70, 0), hole("B", 70, 0))
    build = build_of(bracket, cut_spread="0.6 mm")
    chance = chance_of_fit(build, measured_of(bracket, point_mm=0.8), bracket, 20_000)
    assert chance.passes == pytest.approx(within(1.5, sqrt(2.0)), abs=4.0 * chance.standard_error + 2e-3)
    shares = dict(chance.shares)
    assert shares["the cut"] == pytest.approx(0.36, abs=0.01)
    assert shares["the readings of the car"] == pytest.approx(0.64, abs=0.01)
    assert chance.mostly_from == "the readings of the car"


def angle_bracket(fold_deg: float = 90.0, thickness: float = 5.0) -> Bracket:
    """Web flat on its face, ear folded up at x = 30; each has one big hole in the middle."""
    web = plate("web", [(-30, -30), (30, -30), (30, 30), (-30, 30)], thickness, holes=[hole("A", 0, 0, 30.0)])
    ear = plate("ear", [(0, -30), (60, -30), (60, 30), (0, 30)], thickness, holes=[hole("B", 30, 0, 30.0)])
    ear = dataclasses.replace(ear, face="unit.pad")
    fold = slit("web", "ear", [(30, -30), (30, 30)], [(0, -30), (0, 30)], fold_deg, thickness=thickness)
    return bracket_of([web, hung(ear, fold, web)], [fold])


@pytest.mark.parametrize("spread", [0.5, 1.5, 3.0])
def test_a_fold_off_its_angle_fits_when_both_panels_can_share_the_tilt(spread: float) -> None:
    bracket = angle_bracket()
    build = build_of(bracket, fold_spread=f"{spread} deg", pull_up="0.5 mm")
    chance = chance_of_fit(build, measured_of(bracket), bracket, 20_000)
    # the seat is the square round the washer, here as wide as the hole: 30 mm; each panel may tilt by 0.5 / 30
    limit = np.degrees(2.0 * 0.5 / 30.0)
    assert chance.passes == pytest.approx(within(limit, spread), abs=4.0 * chance.standard_error + 3e-3)
    assert chance.mostly_from == "the angle of fold web-ear"


def test_a_face_that_is_tilted_counts_like_a_fold_off_its_angle() -> None:
    bracket = angle_bracket()
    measured = measured_of(bracket, face_rad=0.02)
    chance = chance_of_fit(build_of(bracket), measured, bracket, 20_000)
    # tilt about the fold is seen by both faces; the two other tilts are moves of the whole part, or bear on one face
    limit = 2.0 * 0.5 / 30.0
    assert chance.passes == pytest.approx(within(limit, 0.02 * sqrt(2.0)), abs=0.03)


def test_tie_between_bodies_is_told_apart_from_their_own_shape() -> None:
    web = plate("web", LONG, holes=[hole("A", -70, 0), hole("B", -40, 0)])
    bracket = bracket_of([dataclasses.replace(web, holes=(*web.holes, hole("C", 70, 0, point="unit.C")))])
    measured = measured_of(bracket)
    covariance = np.zeros_like(measured.covariance)
    at = measured.where["unit.C"].start
    covariance[at, at] = 4.0
    loose = dataclasses.replace(measured, covariance=covariance)
    chance = chance_of_fit(build_of(bracket), loose, bracket, 4000)
    assert chance.mostly_from == "the readings that tie the car and the unit"
    assert dict(chance.shares)[chance.mostly_from] > 0.95


def test_the_odd_hole_is_the_one_that_spoils_it() -> None:
    holes = [hole("A", -70, -20), hole("B", 70, -20), hole("C", -70, 20), hole("D", 70, 20)]
    bracket = flat_with(*holes)
    measured = measured_of(bracket, point_mm=0.15)
    covariance = measured.covariance.copy()
    at = measured.where["car.D"].start
    covariance[at, at] = 9.0
    chance = chance_of_fit(build_of(bracket), dataclasses.replace(measured, covariance=covariance), bracket, 4000)
    assert chance.holes[0].hole == "D"
    assert chance.holes[0].passes == pytest.approx(chance.passes, abs=0.01)  # all others fit nearly always
    slot = chance.remedies[0]
    assert "hole D a slot" in slot
    assert 'slot_angle = "0 deg"' in slot
    assert "mostly fore and aft" in slot


def _with_hidden(measured: Measured, chance: float, off_mm: float, way_mm: float) -> Measured:
    """A reading that may have put hole B off along the line of the holes."""
    mean, way = np.zeros((1, len(measured.vector))), np.zeros((1, len(measured.vector)))
    at = measured.where["car.B"].start
    mean[0, at], way[0, at] = off_mm, way_mm
    return dataclasses.replace(measured, hidden=Hidden((7,), ("tape A B",), np.array([chance]), mean, way))


def test_a_hidden_slip_that_always_spoils_it_takes_its_own_chance_off() -> None:
    bracket = flat_with(hole("A", -70, 0), hole("B", 70, 0))
    measured = measured_of(bracket, point_mm=0.5)
    plain = chance_of_fit(build_of(bracket), measured, bracket, 20_000)
    told = chance_of_fit(build_of(bracket), _with_hidden(measured, 0.2, 30.0, 0.0), bracket, 20_000)
    assert told.passes == pytest.approx(0.8 * plain.passes, abs=4.0 * told.standard_error)
    assert told.mostly_from == UNSEEN
    assert any("tape A B" in words for words in told.remedies)


def test_a_hidden_slip_of_unknown_size_is_drawn_with_its_own_spread() -> None:
    bracket = flat_with(hole("A", -70, 0), hole("B", 70, 0))
    measured = measured_of(bracket, point_mm=0.5)
    told = chance_of_fit(build_of(bracket), _with_hidden(measured, 1.0, 0.0, 3.0), bracket, 20_000)
    expected = within(1.5, sqrt(0.5**2 + 0.5**2 + 3.0**2))
    assert told.passes == pytest.approx(expected, abs=4.0 * told.standard_error + 2e-3)


def test_a_slip_that_moves_the_whole_bracket_alike_spoils_nothing() -> None:
    bracket = flat_with(hole("A", -70, 0), hole("B", 70, 0))
    measured = measured_of(bracket, point_mm=0.5)
    alike = np.zeros((1, len(measured.vector)))
    for name in ("car.A", "car.B"):
        alike[0, measured.where[name].start] = 30.0
    hidden = Hidden((7,), ("station A",), np.array([1.0]), alike, np.zeros_like(alike))
    plain = chance_of_fit(build_of(bracket), measured, bracket, 5_000)
    told = chance_of_fit(build_of(bracket), dataclasses.replace(measured, hidden=hidden), bracket, 5_000)
    assert told.passes == pytest.approx(plain.passes, abs=0.02)


def test_a_proposed_slot_does_what_it_says() -> None:
    bracket = flat_with(hole("A", -70, 0), hole("B", 70, 0))
    measured = measured_of(bracket, point_mm=1.5)
    chance = chance_of_fit(build_of(bracket), measured, bracket, 10_000)
    words = next(text for text in chance.remedies if "a slot" in text)
    length = float(words.split('slot_length = "')[1].split(" mm")[0])
    said = float(words.split("becomes ")[1].split(" %")[0]) / 100.0
    # closed form: half the slot joins the clearances
    assert said == pytest.approx(within(1.5 + length / 2.0, 1.5 * sqrt(2.0)), abs=0.012)
    assert within(1.5 + (length - 1.0) / 2.0, 1.5 * sqrt(2.0)) < 0.957
    assert said >= 0.945


def test_a_proposed_reading_brings_what_it_says() -> None:
    bracket = flat_with(hole("A", -70, 0), hole("B", 70, 0))
    chance = chance_of_fit(build_of(bracket), measured_of(bracket, point_mm=1.5), bracket, 4000)
    words = next(text for text in chance.remedies if "Read also" in text)
    assert "caliper car.A car.B" in words
    said = float(words.split("becomes ")[1].split(" %")[0]) / 100.0
    # one observation more of the same length: 1 / variance adds up; caliper 0.15 mm
    after = sqrt(1.0 / (1.0 / (2.0 * 1.5**2) + 1.0 / 0.15**2))
    assert said == pytest.approx(within(1.5, after), abs=0.006)
    assert chance.passes < 0.6


def test_a_coupon_is_proposed_where_the_depth_of_the_folds_is_not_known() -> None:
    # two folds up, the outer panels on opposite cheeks: their distance shifts by both depths
    web = plate("web", [(-30, -30), (30, -30), (30, 30), (-30, 30)], holes=[hole("A", 0, 0, 40.0)], contact="none")
    folds, panels = [], [web]
    for side, x in (("left", -30.0), ("right", 30.0)):
        ends = [(x, -30), (x, 30)]
        deep = 60.0 if x > 0 else -60.0
        cheek = plate(side, [(0, -30), (deep, -30), (deep, 30), (0, 30)], holes=[hole(side, deep / 2, 0, 40.0)])
        fold = slit("web", side, ends, [(0, -30), (0, 30)], 90.0)
        fold = dataclasses.replace(fold, name=f"web-{side}")
        cheek = dataclasses.replace(hung(cheek, fold, web), face=f"car.{side}_cheek")
        folds.append(fold)
        panels.append(cheek)
    bracket = bracket_of(panels, folds)
    build = build_of(bracket)
    bare = build.model_copy(
        update={"sheet": {"plate": build.sheet["plate"].model_copy(update={"pivot_depth_mm": None})}}
    )
    chance = chance_of_fit(bare, measured_of(bracket), bracket, 20_000)
    # cheeks shift by depth each (1 mm a mm); gaps may open to 0.5 mm each and start at nothing: the room between the
    # cheeks may grow by 0 to 1 mm, for a sum of two depths of 0.15 t = 0.75 mm each
    spread = 0.75 * sqrt(2.0)
    expected = 0.5 * erf(1.0 / spread / sqrt(2.0))
    assert chance.passes == pytest.approx(expected, abs=4.0 * chance.standard_error + 3e-3)
    assert any("test coupon" in text for text in chance.remedies)
    known = chance_of_fit(build, measured_of(bracket), bracket, 20_000)
    assert not any("test coupon" in text for text in known.remedies)


def test_folds_that_set_themselves_are_proposed_where_the_fold_angle_spoils_it() -> None:
    bracket = angle_bracket()
    chance = chance_of_fit(build_of(bracket, fold_spread="3 deg"), measured_of(bracket), bracket, 4000)
    assert any("tack it there" in text and "100 %" in text for text in chance.remedies)


def test_a_lip_must_clear_its_edge_and_may_stand_off_as_far_as_it_likes() -> None:
    web = plate("web", [(-30, -30), (30, -30), (30, 30), (-30, 30)], holes=[hole("A", 0, 0)])
    fold = slit("web", "lip", [(30, -30), (30, 30)], [(0, -30), (0, 30)], 90.0)
    lip = hung(plate("lip", [(0, -30), (20, -30), (20, 30), (0, 30)]), fold, web)
    bracket = bracket_of([web, dataclasses.replace(lip, face="car.edge")], [fold])
    measured = measured_of(bracket)
    covariance = np.zeros_like(measured.covariance)
    at = measured.where["car.edge"].stop - 1
    covariance[at, at] = 1.0
    build = build_of(bracket, pull_up="0.02 mm")  # hardly a tilt
    chance = chance_of_fit(build, dataclasses.replace(measured, covariance=covariance), bracket, 20_000)
    # the bolt's clearance of 0.75 mm is all the part can give way by; an edge that lies back does no harm
    expected = 0.5 + 0.5 * erf(0.75 / sqrt(2.0))
    assert chance.passes == pytest.approx(expected, abs=4.0 * chance.standard_error + 2e-3)
    words = next(text for text in chance.remedies if "Stand panel lip off" in text)
    assert float(words.split("becomes ")[1].split(" %")[0]) / 100.0 == pytest.approx(
        0.5 + 0.5 * erf((0.75 + 1.5) / sqrt(2.0)), abs=0.012
    )
    (check,) = fit_checks(bracket, chance)
    assert "mostly from the readings of the car" in check.do


def test_same_seed_same_chance() -> None:
    bracket = flat_with(hole("A", -70, 0), hole("B", 70, 0))
    measured = measured_of(bracket, point_mm=1.0)
    one, two = (chance_of_fit(build_of(bracket), measured, bracket, 1000, seed=3) for _ in range(2))
    assert one == two
    assert one != chance_of_fit(build_of(bracket), measured, bracket, 1000, seed=4)


def test_what_is_not_located_is_named() -> None:
    bracket = flat_with(hole("A", -70, 0), hole("B", 70, 0))
    measured = measured_of(bracket)
    where = {name: at for name, at in measured.where.items() if name != "car.B"}
    with pytest.raises(ValueError, match=r"car\.B"):
        chance_of_fit(build_of(bracket), dataclasses.replace(measured, where=where), bracket)
    with pytest.raises(ValueError, match="no hole at a measured point"):
        chance_of_fit(build_of(bracket), measured, flat_with(hole("J", 0, 0, point="", use="join")))


def test_a_low_chance_fails_its_check_and_says_what_to_do() -> None:
    bracket = flat_with(hole("A", -70, 0), hole("B", 70, 0))
    chance = chance_of_fit(build_of(bracket), measured_of(bracket, point_mm=2.0), bracket, 2000)
    (check,) = fit_checks(bracket, chance)
    assert not check.ok
    assert "slot" in check.do
    assert "readings of the car" in check.do


def test_wilson_interval_against_a_printed_table() -> None:
    # R. G. Newcombe, Statistics in Medicine 17 (1998) 857, table I, score method without continuity correction
    # (figures from memory)
    assert wilson(81, 263) == pytest.approx((0.2553, 0.3662), abs=5e-5)
    assert wilson(15, 148) == pytest.approx((0.0624, 0.1605), abs=5e-5)


def random_play(rng: np.random.Generator, holes: int, panels: int, slots: int) -> Play:
    """Holes and face spots strewn in a box of 300 mm, panels at any angle."""
    rows = []
    for _ in range(holes):
        at, frame = rng.uniform(-150, 150, 3), np.linalg.qr(rng.normal(size=(3, 3)))[0]
        rows += [np.concatenate([way, np.cross(at, way) / 100.0]) for way in frame[:, :2].T]
    for _ in range(panels):
        at, frame = rng.uniform(-150, 150, 3), np.linalg.qr(rng.normal(size=(3, 3)))[0]
        for u, v in ((1, 1), (-1, 1), (-1, -1), (1, -1)):
            spot = at + 40.0 * u * frame[:, 0] + 15.0 * v * frame[:, 1]
            rows.append(np.concatenate([frame[:, 2], np.cross(spot, frame[:, 2]) / 100.0]))
    half = np.zeros(holes)
    half[:slots] = rng.uniform(1.0, 4.0, slots)
    return Play(np.array(rows), rng.uniform(0.4, 1.5, holes), half, np.repeat(rng.uniform(0.2, 0.6, panels), 4))


def worst_by_linear_programme(play: Play, misfit: np.ndarray, corners: int = 128) -> float:
    """Least worst violation over all placements, discs as polygons drawn round them: a lower bound within 0.03 %."""
    h, m = play.holes, play.rows.shape[1]
    limits, values = [], []
    for i in range(h):
        rows, off = play.rows[2 * i : 2 * i + 2], misfit[2 * i : 2 * i + 2]
        for angle in 2.0 * np.pi * np.arange(corners) / corners:
            way = np.array([np.cos(angle), np.sin(angle)])
            limits.append(np.append(way @ rows, -1.0))
            values.append(play.clear_mm[i] + play.half_slot_mm[i] * abs(way[0]) - way @ off)
    for row, off, half in zip(play.rows[2 * h :], misfit[2 * h :], play.half_gap_mm, strict=True):
        for sign in (1.0, -1.0):
            limits.append(np.append(sign * row, -1.0))
            values.append(half - sign * off)
    found = linprog(np.eye(m + 1)[m], np.array(limits), np.array(values), bounds=[(None, None)] * (m + 1))
    assert found.status == 0
    return float(found.fun)


@pytest.mark.parametrize(("holes", "panels", "slots"), [(2, 1, 0), (3, 2, 1), (5, 3, 0), (8, 4, 2), (6, 4, 6)])
def test_placement_is_decided_as_a_linear_programme_decides_it(holes: int, panels: int, slots: int) -> None:
    rng = np.random.default_rng(holes * 100 + slots)
    seen = set()
    for _ in range(12):
        play = random_play(rng, holes, panels, slots)
        misfit = rng.normal(size=(4, len(play.rows))) * rng.uniform(0.2, 1.2)
        verdict = placeable(play, misfit)
        for one, fits in zip(misfit, verdict.fits, strict=True):
            worst = worst_by_linear_programme(play, one)
            if abs(worst) > 1e-3:  # the polygons are off by less than this
                assert fits == (worst < 0.0)
                seen.add(bool(fits))
    assert seen == {True, False}


def test_a_push_that_proves_a_misfit_is_balanced_and_does_more_work_than_the_play_takes() -> None:
    rng = np.random.default_rng(5)
    play = random_play(rng, 6, 3, 2)
    misfit = rng.normal(size=(200, len(play.rows)))
    verdict = placeable(play, misfit)
    push = verdict.push[~verdict.fits]
    assert len(push) > 50
    assert np.max(np.abs(push @ play.rows)) < 1e-9 * np.max(np.abs(push)) * np.max(np.abs(play.rows)) * len(play.rows)
    pairs = push[:, :12].reshape(-1, 6, 2)
    most = np.linalg.norm(pairs, axis=2) @ play.clear_mm + np.abs(pairs[:, :, 0]) @ play.half_slot_mm
    most += np.abs(push[:, 12:]) @ play.half_gap_mm
    assert np.all(np.sum(push * misfit[~verdict.fits], axis=1) >= most * (1.0 - 1e-9))


def three_panels() -> Bracket:
    """Web, ear up 70 degrees off a skew line, foot down 50 degrees off the ear."""
    web = plate(
        "web", [(-80, -40), (40, -40), (60, 40), (-80, 40)], holes=[hole("A", -60, 0), hole("B", 0, 20)],
        pose=Pose(turn(np.array([0.3, -0.2, 0.5])), np.array([400.0, 300.0, 250.0])),
    )  # fmt: skip
    first = slit("web", "ear", [(40, -40), (60, 40)], [(0, 0), (0, np.hypot(20, 80))], 70.0)
    ear = hung(plate("ear", [(0, 0), (70, 0), (70, 82), (0, 82)], holes=[hole("C", 35, 40)]), first, web)
    ear = dataclasses.replace(ear, face="unit.pad")
    second = slit("ear", "foot", [(70, 0), (70, 82)], [(0, 0), (0, 82)], 50.0, up=False)
    foot = hung(plate("foot", [(0, 0), (60, 0), (60, 82), (0, 82)], holes=[hole("D", 30, 60)]), second, ear)
    foot = dataclasses.replace(foot, face="unit.side")
    return bracket_of([web, ear, foot], [first, second])


def made(bracket: Bracket, angle: dict[str, float], ends: dict[str, tuple[float, float]], depth: dict[str, float]):  # type: ignore[no-untyped-def]
    """The bracket refolded in full with its errors: angles (deg), line ends cut off toward b (mm), deeper pivots (mm).

    Panels of `three_panels` have their lines square or skew to the axes; b lies on the far side of each line.
    """
    panels = dict(bracket.panels)
    for fold in bracket.folds:
        nominal_a, nominal_b = np.array(fold.line_a_mm), np.array(fold.line_b_mm)
        way = (nominal_a[1] - nominal_a[0]) / np.linalg.norm(nominal_a[1] - nominal_a[0])
        out_a = np.array([way[1], -way[0]])  # web and ear lie to the left of their lines
        way_b = (nominal_b[1] - nominal_b[0]) / np.linalg.norm(nominal_b[1] - nominal_b[0])
        in_b = np.array([way_b[1], -way_b[0]])
        off = np.array(ends.get(fold.name, (0.0, 0.0)))[:, None]
        bent = dataclasses.replace(
            fold,
            line_a_mm=nominal_a + off * out_a,
            line_b_mm=nominal_b + off * in_b,
            angle_deg=fold.angle_deg + angle.get(fold.name, 0.0),
            pivot_depth_mm=fold.pivot_depth_mm + depth.get(fold.name, 0.0),
        )
        panels[fold.b] = hung(panels[fold.b], bent, panels[fold.a])
    return panels


@pytest.mark.parametrize("fold", ["web-ear", "ear-foot"])
@pytest.mark.parametrize("error", ["angle", "start", "end", "depth"])
def test_small_errors_move_holes_and_seats_as_the_refolded_bracket_does(fold: str, error: str) -> None:
    bracket = three_panels()
    small = 1e-4
    after = made(
        bracket,
        {fold: small} if error == "angle" else {},
        {fold: (small * (error == "start"), small * (error == "end"))},
        {fold: small} if error == "depth" else {},
    )
    measured = measured_of(bracket)
    build = build_of(bracket, cut_spread="1 mm", fold_spread="1 deg")
    misfit = misfit_of(build, measured, bracket)
    number = ["web-ear", "ear-foot"].index(fold)
    causes = {cause.name: cause.spread for cause in misfit.causes}
    if error == "angle":
        predicted = causes[f"the angle of fold {fold}"][:, 0]
    elif error == "depth":
        predicted = causes[f"the depth at which fold {fold} turns"][:, 0] / (0.04 * 5.0)
    else:
        predicted = causes["the cut"][:, 8 + 2 * number + (error == "end")]
    seen = []
    for one, panel_name, axes in zip(misfit.holes, misfit.hole_panels, misfit.axes, strict=True):
        local = np.append(one.centre_mm, 0.0)
        seen += list(
            axes @ (after[panel_name].pose.apply(local) - bracket.panels[panel_name].pose.apply(local)) / small
        )
    signs = 1.0 if float(np.dot(predicted[:8], seen)) >= 0.0 else -1.0
    assert signs * predicted[:8] == pytest.approx(seen, abs=2e-4)
    for row, name in enumerate(misfit.gap_panel):
        if row % 4:
            continue
        # the four spots of a seat bound its washer square; their mean is the hole's middle
        panel, moved = bracket.panels[name], after[name]
        spots = np.array([np.append(h.centre_mm, 0.0) for h in panel.holes])
        gaps = (moved.pose.apply(spots) - panel.pose.apply(spots)) @ panel.pose.rotation[:, 2] / small
        if len(spots) == 1:
            at = 8 + row
            assert signs * np.mean(predicted[at : at + 4]) == pytest.approx(gaps[0], abs=2e-4)


def test_nothing_fits_where_nothing_has_room_and_everything_where_nothing_is_off() -> None:
    bracket = flat_with(hole("A", -70, 0, 12.0), hole("B", 70, 0, 12.0))
    assert chance_of_fit(build_of(bracket), measured_of(bracket, point_mm=1.0), bracket, 300).passes == 0.0
    assert chance_of_fit(build_of(bracket), measured_of(bracket), bracket, 300).passes == 1.0


def _one_slit_fold(**shop: object) -> tuple[Bracket, object]:
    """Web and flange at right angles, two bolts each; nothing uncertain but the angle of the fold."""
    web = plate("web", [(0, 0), (100, 0), (100, 60), (0, 60)], holes=[hole("A", 25, 30), hole("B", 75, 30)])
    fold = slit("web", "flange", [(0, 0), (100, 0)], [(0, 0), (100, 0)], 90.0)
    flange = plate("flange", [(0, 0), (100, 0), (100, -80), (0, -80)], holes=[hole("C", 25, -60), hole("D", 75, -60)])
    placed = dataclasses.replace(hung(flange, fold, web), face="car.under")
    bracket = bracket_of([web, placed], [fold])
    return bracket, build_of(bracket, fold_spread="3 deg", **shop)


def test_a_bracket_welded_in_place_does_not_miss_for_its_fold_angle() -> None:
    bench, told = _one_slit_fold()
    # nothing else scatters, so folds that set themselves leave nothing that could miss
    assert chance_of_fit(told, measured_of(bench), bench, 4000).passes < 0.6
    placed, told = _one_slit_fold(weld="in place")
    assert chance_of_fit(told, measured_of(placed), placed, 4000).passes > 0.999


def test_welding_in_place_is_proposed_once_and_not_to_those_who_do_it() -> None:
    bench, told = _one_slit_fold()
    assert any('weld = "in place"' in words for words in chance_of_fit(told, measured_of(bench), bench, 4000).remedies)
    placed, told = _one_slit_fold(weld="in place")
    assert not any("in place" in w for w in chance_of_fit(told, measured_of(placed), placed, 4000).remedies)


def test_a_brake_bend_does_not_set_itself() -> None:
    bracket, told = _one_slit_fold(weld="in place")
    bent = dataclasses.replace(bracket, folds=tuple(dataclasses.replace(f, kind="brake") for f in bracket.folds))
    assert misfit_of(told, measured_of(bent), bent).play.rows.shape[1] == 6
    assert misfit_of(told, measured_of(bracket), bracket).play.rows.shape[1] == 7
