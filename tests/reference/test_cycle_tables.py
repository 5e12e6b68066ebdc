"""Cycles of the catalogue against what their regulations and independent integrations say.

UN GTR No. 15, annex 1 (WLTC: lengths, highest speeds, sums of speeds), UN Regulation No. 83, annex 4a (NEDC), 40 CFR
86, appendix I (UDDS, US06) and 40 CFR 600, appendix I (HWFET). The integrals were worked apart from the code, by
another script over the published 1 Hz traces.
"""

from __future__ import annotations

import pytest

from halfshaft.road.cycles import kinematics, named

MILE_M = 1609.344

# UN GTR No. 15, annex 1: name, seconds, metres, mean km/h, most km/h, sum of the 1 Hz speeds in km/h
WLTC = [
    ("wltc-3b", 1800, 23266.3, 46.53, 131.3, 83758.6),
    ("wltc-3a", 1800, 23193.6, 46.39, 131.3, 83496.9),
    ("wltc-2", 1800, 22649.1, 45.30, 123.1, 81536.9),
]
# independent trapezoid integrals: v² dt, v³ dt, rises of v²/2 a kg, rest, most and least acceleration
INTEGRALS = [
    ("wltc-3b", 481_677.6, 11_975_683.4, 3578.150, 226, 1.667, -1.500),
    ("udds", 163_936.3, 2_628_604.2, 2098.430, 241, 1.475, -1.475),
    ("hwfet", 371_727.9, 8_539_652.1, 1164.929, 4, 1.431, -1.475),
    ("us06", 348_729.0, 9_923_219.8, 2711.710, 39, 3.755, -3.085),
    ("nedc", 189_894.1, 3_989_637.4, 1226.698, 280, 1.042, -1.389),  # the trace told ends a second of rest earlier
]


@pytest.mark.parametrize(("name", "seconds", "metres", "mean", "most", "total"), WLTC)
def test_a_wltc_has_the_length_and_checksum_of_the_regulation(
    name: str, seconds: float, metres: float, mean: float, most: float, total: float
) -> None:
    cycle = named(name)
    found = kinematics(cycle)
    assert found.seconds == seconds
    assert found.distance_m == pytest.approx(metres, rel=5e-4)
    assert found.mean_m_s * 3.6 == pytest.approx(mean, rel=5e-4)
    assert found.most_m_s * 3.6 == pytest.approx(most, abs=1e-9)
    assert float(cycle.speed_m_s.sum()) * 3.6 == pytest.approx(total, abs=0.05)


# UN GTR No. 15, annex 1: parts end at 589, 1022, 1477 and 1800 s
@pytest.mark.parametrize(
    ("begin", "end", "metres", "most"),
    [(0, 589, 3094.5, 56.5), (589, 1022, 4755.9, 76.6), (1022, 1477, 7161.7, 97.4), (1477, 1800, 8254.1, 131.3)],
)
def test_the_parts_of_wltc_3b_have_their_own_lengths(begin: int, end: int, metres: float, most: float) -> None:
    speeds = named("wltc").speed_m_s[begin : end + 1]
    assert float((speeds[1:] + speeds[:-1]).sum() / 2.0) == pytest.approx(metres, rel=5e-4)
    assert speeds.max() * 3.6 == pytest.approx(most, abs=1e-9)


def test_nedc_has_the_time_and_speed_of_the_regulation_and_the_length_of_its_pieces() -> None:
    # UN Regulation No. 83, annex 4a: 1180 s, 120 km/h, 11.007 km as printed; its pieces add up to 11.0132 km
    found = kinematics(named("nedc"))
    assert found.seconds == 1180.0
    assert found.most_m_s * 3.6 == pytest.approx(120.0, abs=1e-9)
    assert found.mean_m_s * 3.6 == pytest.approx(33.6, rel=5e-4)
    assert found.distance_m == pytest.approx(11_013.2, rel=5e-4)
    assert found.distance_m == pytest.approx(11_007.0, rel=1e-3)


@pytest.mark.parametrize(("name", "v2", "v3", "gained", "rest", "most", "least"), INTEGRALS)
def test_integrals_of_a_cycle_agree_with_an_independent_integration(
    name: str, v2: float, v3: float, gained: float, rest: float, most: float, least: float
) -> None:
    found = kinematics(named(name))
    assert found.v2_m2_s == pytest.approx(v2, rel=1e-4)
    assert found.v3_m3_s2 == pytest.approx(v3, rel=1e-4)
    assert found.gained_j_kg == pytest.approx(gained, rel=1e-4)
    assert found.rest_s == rest
    assert found.most_m_s2 == pytest.approx(most, abs=5e-4)
    assert found.least_m_s2 == pytest.approx(least, abs=5e-4)


# 40 CFR 86, appendix I(a) and (g), 40 CFR 600, appendix I: seconds, miles, mean mph, most mph
@pytest.mark.parametrize(
    ("name", "seconds", "miles", "mean", "most", "stops"),
    [
        ("udds", 1369, 7.4504, 19.59, 56.7, 17),
        ("hwfet", 765, 10.2567, 48.27, 59.9, 1),
        ("us06", 600, 8.0080, 48.05, 80.3, 5),
    ],
)
def test_the_cycles_of_the_federal_code(
    name: str, seconds: float, miles: float, mean: float, most: float, stops: int
) -> None:
    found = kinematics(named(name))
    assert found.seconds == seconds
    assert found.distance_m / MILE_M == pytest.approx(miles, rel=5e-4)
    assert found.mean_m_s * 3600.0 / MILE_M == pytest.approx(mean, rel=5e-4)
    assert found.most_m_s * 3600.0 / MILE_M == pytest.approx(most, abs=1e-9)
    assert found.stops == stops


# EPA, drive_cycles.csv of its OMEGA model: UDDS bags of 505 and 864 s, US06 city (0-130, 494-600 s) and highway
@pytest.mark.parametrize(
    ("name", "pieces", "miles"),
    [
        ("udds", [(0, 505)], 3.591),
        ("udds", [(505, 1369)], 3.859),
        ("us06", [(0, 130), (494, 600)], 1.772),
        ("us06", [(130, 494)], 6.235),
    ],
)
def test_parts_of_the_federal_cycles(name: str, pieces: list[tuple[int, int]], miles: float) -> None:
    speeds = named(name).speed_m_s
    way = sum(float((speeds[a + 1 : b + 1] + speeds[a:b]).sum()) / 2.0 for a, b in pieces)
    assert way / MILE_M == pytest.approx(miles, rel=5e-4)
