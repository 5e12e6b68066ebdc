"""The plain car and what test reports print: SAE J1634 worked, label arithmetic of 40 CFR 600 and 10 CFR 474."""

from __future__ import annotations

import pytest

from halfshaft.road.cycles import named
from halfshaft.road.label import CITY, LABEL, gallons_alike, mixed_wh_m, multi_cycle, printed
from halfshaft.road.plain_car import PlainCar, use

BATTERY = [("udds", 118.37), ("hwfet", 135.11), ("us06", 192.92), ("wltc", 150.69), ("nedc", 129.63)]


# independent: pull / 0.85 - 0.6 x 0.85 x push + 300 W over the time, 1200 kg, rolling 0.013, CdA 0.75, factor 1.04
@pytest.mark.parametrize(("name", "wh_km"), BATTERY)
def test_battery_energy_of_a_chain_of_one_efficiency(name: str, wh_km: float) -> None:
    car = PlainCar(1200 * 9.80665 * 0.013, 0.0, 0.45, 1200.0, 0.85, 1.0, 300.0, 0.6, 0.04)
    assert use(car, named(name)).dc_wh_km == pytest.approx(wh_km, rel=3e-3)


def test_a_multi_cycle_test() -> None:
    # SAE J1634 (formula from memory): usable 40 kWh, first city drive 1.35 kWh
    found = multi_cycle((1350.0,), (0.1620, 0.1560, 0.1555, 0.1550), (0.1760, 0.1750), 40_000.0, 1.15)
    assert found.city_wh_m == pytest.approx(0.155719, abs=1e-6)
    assert found.highway_wh_m == pytest.approx(0.1755, abs=1e-9)
    assert found.city_range_m / 1000.0 == pytest.approx(256.87, abs=5e-3)
    assert found.highway_range_m / 1000.0 == pytest.approx(227.92, abs=5e-3)
    assert found.range_m / 1000.0 == pytest.approx(243.84, abs=5e-3)
    assert LABEL * found.range_m / 1000.0 == pytest.approx(170.69, abs=5e-3)
    assert found.city_wall_wh_m == pytest.approx(0.17908, abs=5e-6)
    assert found.highway_wall_wh_m == pytest.approx(0.20183, abs=6e-6)


def test_city_and_highway_mixed() -> None:
    # 10 CFR 474, appendix A: 265 and 220 Wh a mile, 55 to 45: 244.75
    assert CITY == 0.55
    assert mixed_wh_m(265.0, 220.0) == pytest.approx(244.75)


def test_miles_a_gallon_alike() -> None:
    # 40 CFR 600.002: 33.705 kWh a gallon
    assert gallons_alike(180.6 / 1609.344) == pytest.approx(33_705.0 / 180.6)


def test_a_label_from_a_city_and_a_highway_test() -> None:
    # a compact hatch of 2022 tested at 186.6 and 155.7 miles a gallon alike; its label prints 131 and 109, 0.7 of them,
    # which the five-cycle lines, 97.0 and 86.9, would not
    found = printed(33_705.0 / 186.6 / 1609.344, 33_705.0 / 155.7 / 1609.344)
    assert (found.city, found.highway) == pytest.approx((186.6, 155.7))
    assert (round(found.label_city), round(found.label_highway)) == (131, 109)
    assert found.derived_city == pytest.approx(97.0, abs=0.05)
    assert found.derived_highway == pytest.approx(86.9, abs=0.05)
    with pytest.raises(ValueError, match="over nought"):
        printed(0.0, 1.0)
