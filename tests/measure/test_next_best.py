"""Claims about the next best reading on frames where the answer can be seen."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.build.schema import Build, Reading
from halfshaft.measure.adjust import adjust
from halfshaft.measure.candidates import candidates_of
from halfshaft.measure.hidden import hidden_slips
from halfshaft.measure.network import State, network_of, predict
from halfshaft.measure.next_best import (
    _among,
    _slip_gain,
    _weighed,
    checking_readings,
    next_readings,
    relative_spread_mm,
)
from halfshaft.measure.snoop import Snooped
from tests.measure.shop import shop, without

HOLES = ["car.L2", "car.L3", "car.L4", "car.R3"]


def _plain(spots: dict[str, tuple[float, float, float]], rows: list[tuple[str, tuple[str, ...]]]):
    made = [Reading(kind=k, names=tuple(f"car.{n}" for n in names), value=(1.0,), spread=1.0) for k, names in rows]
    build = Build.model_validate({"build": {"name": "t"}, "body": {"car": {}}, "readings": made})
    network = network_of(build)
    state = State(
        np.array([spots[n.partition(".")[2]] for n in network.point_names]), np.zeros((0, 3)), np.zeros(0),
        np.eye(3)[None], np.zeros((1, 3)),
    )  # fmt: skip
    said = predict(network, state)
    readings = tuple(r.model_copy(update={"value": (float(v),)}) for r, v in zip(made, said, strict=True))
    build = build.model_copy(update={"readings": readings})
    network = network_of(build)
    return build, network, adjust(network, state, build, np.ones(len(network.equations), dtype=bool))


def test_a_hole_whose_height_is_weak_wants_a_height():
    # Stations and offsets of all are read; the height of E is seen by one long tape at a slope of 0.2 only.
    spots = {"A": (0.0, 0.0, 500.0), "B": (500.0, 0.0, 520.0), "C": (0.0, 300.0, 480.0), "D": (480.0, 310.0, 700.0),
             "E": (900.0, 150.0, 610.0)}  # fmt: skip
    rows = [(k, (n,)) for n in spots for k in ("station", "offset")]
    rows += [("height", (n,)) for n in "ABCD"] + [("tape", ("A", "E"))]
    build, network, adjustment = _plain(spots, rows)
    best = next_readings(build, network, adjustment, [f"car.{n}" for n in "ABCE"], count=1)[0]
    assert best.kind in ("height", "rise")
    assert "car.E" in best.names
    assert best.instrument == "level"
    assert best.after_mm < 0.6 * best.before_mm


def test_the_spread_of_two_holes_is_that_of_their_distance():
    # One tape of 1 mm between two points: along it each has 0.5 mm from their middle, so the mean variance is 0.25.
    spots = {"A": (0.0, 0.0, 0.0), "B": (500.0, 0.0, 0.0), "C": (0.0, 400.0, 0.0), "D": (0.0, 0.0, 300.0)}
    rows = [("tape", (a, b)) for a, b in ("AB", "AC", "BC", "AD", "BD", "CD")]
    build, network, adjustment = _plain(spots, rows)
    assert relative_spread_mm(network, adjustment, ["car.A", "car.B"]) == pytest.approx(0.5)
    again = next_readings(build, network, adjustment, ["car.A", "car.B"], count=1)[0]
    # A second tape at its own spread of 0.8 + 0.12 x 0.5 = 0.86 mm: variance 1 / (1 + 1 / 0.86^2), halved root.
    assert again.names == ("car.A", "car.B")
    assert again.after_mm == pytest.approx(0.5 / np.sqrt(1.0 + 1.0 / 0.86**2))


def test_picks_fall_off_and_each_starts_where_the_last_ended():
    one = shop()
    found = next_readings(one.build, one.network, without(one, []), HOLES, count=8)
    assert len(found) == 8
    gains = [f.before_mm**2 - f.after_mm**2 for f in found]
    assert gains == sorted(gains, reverse=True)
    assert [f.before_mm for f in found[1:]] == pytest.approx([f.after_mm for f in found[:-1]])
    assert len({(f.kind, f.names, f.instrument) for f in found}) == 8


def test_words_say_what_to_take_and_what_to_expect():
    one = shop()
    found = next_readings(one.build, one.network, without(one, []), HOLES, count=3, by="effort")
    for f in found:
        names = " ".join(n.removeprefix("car.") for n in f.names)
        assert f.words.startswith(f"{f.kind} {names} ")
        assert "->" in f.words
        assert f.gain_mm_per_minute == pytest.approx((f.before_mm - f.after_mm) / f.minutes)


def test_calipers_and_tapes_stay_in_reach():
    one = shop()
    found = next_readings(one.build, one.network, without(one, []), ["car.L1", "car.L6"], count=30)
    for f in found:
        assert f.kind != "caliper" or f.expected <= 200.0
        assert f.kind != "tape" or f.expected <= 10_000.0


def test_heights_are_not_proposed_where_nothing_tells_level():
    spots = {"A": (0.0, 0.0, 0.0), "B": (500.0, 0.0, 0.0), "C": (0.0, 400.0, 0.0), "D": (0.0, 0.0, 300.0)}
    rows = [("tape", (a, b)) for a, b in ("AB", "AC", "BC", "AD", "BD", "CD")]
    build, network, adjustment = _plain(spots, rows)
    found = next_readings(build, network, adjustment, ["car.A", "car.B", "car.D"], count=40)
    assert {f.kind for f in found} <= {"tape", "angle"}


def test_a_spur_is_checked_first():
    # E hangs on three tapes alone: nothing checks them.
    spots = {"A": (0.0, 0.0, 0.0), "B": (500.0, 0.0, 0.0), "C": (0.0, 400.0, 0.0), "D": (0.0, 0.0, 300.0),
             "F": (400.0, 400.0, 200.0), "E": (-300.0, 100.0, 250.0)}  # fmt: skip
    rows = [("tape", (a, b)) for i, a in enumerate("ABCDF") for b in "ABCDF"[i + 1 :]]
    rows += [("tape", (a, b)) for a, b in (("A", "B"), ("C", "D"), ("A", "F"), ("B", "D"))]
    rows += [("tape", (a, "E")) for a in "ACD"]
    build, network, adjustment = _plain(spots, rows)
    found = checking_readings(build, network, adjustment, count=3)
    assert found
    assert "car.E" in found[0].names
    assert any("E" in label for label in found[0].checks)
    assert "checks" in found[0].words


def test_what_is_not_there_is_named():
    one = shop()
    adjustment = without(one, [])
    with pytest.raises(ValueError, match=r"not located: car\.X9"):
        next_readings(one.build, one.network, adjustment, ["car.L2", "car.X9"])
    with pytest.raises(ValueError, match="two or more"):
        next_readings(one.build, one.network, adjustment, ["car.L2"])


def test_progress_can_stop_the_work():
    class Enough(Exception):
        pass

    def stop(share: float, words: str) -> None:
        if share > 0.4:
            raise Enough

    one = shop()
    with pytest.raises(Enough):
        next_readings(one.build, one.network, without(one, []), HOLES, count=5, progress=stop)


def test_a_reading_that_checks_a_likely_slip_comes_before_one_that_sharpens_more():
    # E hangs on its own height alone, which reads like the others; with a slip feared there a second look goes first.
    spots = {"A": (0.0, 0.0, 500.0), "B": (500.0, 0.0, 520.0), "C": (0.0, 300.0, 480.0), "E": (900.0, 150.0, 610.0)}
    rows = [(k, (n,)) for n in spots for k in ("station", "offset") for _ in range(3)]
    rows += [("height", (n,)) for n in "ABC" for _ in range(3)] + [("height", ("E",))]
    build, network, adjustment = _plain(spots, rows)
    holes = [f"car.{n}" for n in "ABCE"]
    feared = hidden_slips(Snooped(adjustment, ()))
    at = next(
        i
        for i, eq in enumerate(network.equations)
        if eq.kind == "height" and eq.points[0] == network.point_names.index("car.E")
    )
    best = int(np.argmax(feared.chance * np.linalg.norm(feared.way, axis=1)))
    assert feared.equations[best] == at
    first = next_readings(build, network, adjustment, holes, count=1, hidden=feared)[0]
    assert "car.E" in first.names


@pytest.mark.parametrize("seed", range(4))
def test_what_a_reading_takes_off_hidden_slips_is_what_hearing_it_takes_off(seed):
    # brute force: the estimate with the reading in it, its gain by its spread, applied to each slip's move
    one = shop(seed + 1)
    adjustment = without(one, [])
    hidden = hidden_slips(Snooped(adjustment, ()))
    among = _among(one.network, adjustment, HOLES)
    tried = candidates_of(one.build, one.network, adjustment, HOLES)
    slopes = tried.slopes[:40]
    covariance = adjustment.covariance
    slips = _weighed(hidden, among)
    shared = np.asarray(slopes @ (covariance @ among.T)).T
    variance = tried.sigmas[:40] ** 2 + np.einsum("ki,ij,kj->k", slopes.toarray(), covariance, slopes.toarray())
    told = _slip_gain(shared, variance, among @ slips, np.asarray(slopes @ slips))
    for k in range(40):
        row = slopes[k].toarray().ravel()
        gain = covariance @ row / variance[k]
        left = among @ (slips - np.outer(gain, row @ slips))
        assert told[k] == pytest.approx(np.sum((among @ slips) ** 2) - np.sum(left**2), rel=1e-6, abs=1e-9)
