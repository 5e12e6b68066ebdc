"""The band of a range, and what it comes from."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import sobol_indices, truncnorm

from halfshaft.road.band import Spread, band, scale
from halfshaft.road.cycles import named
from halfshaft.road.inputs import assemble
from halfshaft.road.reach import reach
from tests.road.cars import whole_inputs

NEDC = named("nedc")
SPREADS = (
    Spread("mass", "mass", scale("mass_kg", 0.04)),
    Spread("drag", "drag", scale("drag", 0.10)),
    Spread("tyres", "tyres", scale("tyres", 0.15)),
    Spread("energy", "energy", scale("energy", 0.04)),
)


def test_shares_agree_with_the_sobol_indices_of_another_library() -> None:
    told = whole_inputs()
    found = band(told, NEDC, SPREADS, seed=1)

    def by_scipy(x: np.ndarray) -> np.ndarray:
        moved = told
        for spread, row in zip(SPREADS, x, strict=True):
            moved = spread.change(moved, row)
        car, day = assemble(moved)
        return reach(car, NEDC, day, points=1).range_m[None, :]

    indices = sobol_indices(func=by_scipy, n=256, dists=[truncnorm(-3, 3)] * 4, rng=np.random.default_rng(2))
    wanted = dict(zip((s.name for s in SPREADS), np.ravel(indices.first_order), strict=True))
    for share in found.shares:
        assert share.share == pytest.approx(wanted[share.name], abs=0.05)
    assert sum(s.share for s in found.shares) + found.rest == pytest.approx(1.0)


def test_one_straight_input_makes_the_band_of_its_own_spread() -> None:
    # range is in proportion to energy: 5 and 95 hundredths of a normal of 4 % lie 1.645 spreads out
    found = band(whole_inputs(), NEDC, SPREADS[3:], seed=3)
    assert found.low_m / found.middle_m == pytest.approx(1.0 - 1.645 * 0.04, abs=0.004)
    assert found.high_m / found.middle_m == pytest.approx(1.0 + 1.645 * 0.04, abs=0.004)
    assert found.shares[0].share == pytest.approx(1.0, abs=1e-6)
    assert found.shares[0].one_spread_m == pytest.approx(0.04 * found.middle_m, rel=0.01)


def test_the_same_seed_gives_the_same_band_and_no_spread_gives_none() -> None:
    told = whole_inputs()
    one, two = (band(told, NEDC, SPREADS, seed=7, samples=64) for _ in range(2))
    assert (one.low_m, one.high_m) == (two.low_m, two.high_m)
    bare = band(told, NEDC, (), seed=7)
    assert bare.low_m == bare.middle_m == bare.high_m


def test_spreads_of_one_name_are_told_as_one() -> None:
    both = (Spread("a", "a", scale("drag", 0.1)), Spread("a", "a", scale("tyres", 0.1)))
    found = band(whole_inputs(), NEDC, both, seed=1, samples=64)
    assert [s.name for s in found.shares] == ["a"]
    assert found.shares[0].share == pytest.approx(1.0, abs=0.02)
