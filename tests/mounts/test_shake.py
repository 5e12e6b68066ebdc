"""Modes near what shakes them: distances by hand, amplification at and far from resonance by the textbook."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.checks import Origin, Source
from halfshaft.mounts.bulk import body
from halfshaft.mounts.bushings import Axis, Bushing, laid_out
from halfshaft.mounts.modes import Modes, modes
from halfshaft.mounts.shake import Band, amplification, apart_percent, mode_checks, shaft_band, wheel_hop
from halfshaft.mounts.statics import settle

SOURCE = Source(Origin.BUILDER, "own band")


def unit_of(kz: float, height: float = 0.0) -> Modes:
    unit = body(80.0, (0.0, 0.0, 0.0), (1.2e6, 2.1e6, 2.6e6))
    mounts = [
        Bushing(f"m{x}{y}", np.array([x, y, height]), np.eye(3), (Axis(600.0), Axis(700.0), Axis(kz)))
        for x in (-250.0, 250.0)
        for y in (-200.0, 200.0)
    ]
    rubber = laid_out(mounts)
    return modes(rubber, unit, settle(rubber, unit.centre_mm, np.zeros(3), np.zeros(3)))


def test_distance_is_told_in_percent_of_the_band_s_near_edge() -> None:
    band = Band("hop", 10.0, 15.0, SOURCE)
    assert apart_percent(8.0, band) == pytest.approx(20.0)
    assert apart_percent(18.0, band) == pytest.approx(20.0)
    assert apart_percent(11.0, band) == pytest.approx(-10.0)
    assert apart_percent(14.7, band) == pytest.approx(-2.0)


def test_a_shaft_s_orders_are_turns_a_second() -> None:
    band = shaft_band("first order at crawl", 600.0, 1200.0)
    assert (band.low_hz, band.high_hz) == (10.0, 20.0)
    teeth = shaft_band("gear mesh", 600.0, 1200.0, 21.0)
    assert (teeth.low_hz, teeth.high_hz) == (210.0, 420.0)
    with pytest.raises(ValueError, match="order"):
        shaft_band("none", 600.0, 1200.0, 0.0)
    with pytest.raises(ValueError, match="low, then high"):
        shaft_band("turned about", 1200.0, 600.0)


def test_a_mode_at_resonance_swings_by_one_over_its_loss_and_far_below_not_at_all() -> None:
    # any handbook of vibration, from memory: 1 / loss at resonance; a stiff mount follows the push one to one
    assert amplification(12.0, Band("hop", 10.0, 15.0, SOURCE), 0.1) == pytest.approx(10.0)
    assert amplification(1000.0, Band("hop", 10.0, 15.0, SOURCE), 0.1) == pytest.approx(1.0, abs=0.01)
    # r = 2: 1 / |1 - 4| without loss
    assert amplification(5.0, Band("hop", 10.0, 15.0, SOURCE), 0.0) == pytest.approx(1.0 / 3.0)


def test_a_bounce_in_the_band_of_wheel_hop_is_warned_of_and_a_stiff_one_is_not() -> None:
    # by hand: 4 k = m (2 pi 12.5)^2 puts the bounce in the middle of the band
    in_band = unit_of(80.0 * (2.0 * np.pi * 12.5) ** 2 / 4000.0)
    hop = mode_checks(in_band, [wheel_hop()])[0]
    assert not hop.ok
    assert hop.about == "mode bounce"
    assert "12.5 Hz" in hop.title
    assert mode_checks(unit_of(2500.0), [wheel_hop()])[0].ok


def test_mounts_below_the_centre_mix_modes_of_like_frequency_and_soft_ones_wallow() -> None:
    checks = {check.title: check for check in mode_checks(unit_of(600.0), [])}
    assert all(check.ok for check in checks.values())
    # by hand: kz = kx I / (m a2) brings pitch to the frequency of fore-aft, where a little height mixes them by halves
    mixed = mode_checks(unit_of(252.0, -40.0), [])
    assert any("main motion" in check.title and not check.ok for check in mixed)
    soft = mode_checks(unit_of(5.0), [])
    assert any(check.title == "Slowest mode" and not check.ok for check in soft)
