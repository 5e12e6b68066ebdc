"""A recorded way: its length and heights, and the drive over it."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.road.route import Route, drive, headwind_m_s, read_gpx, route_of


def straight(length_m: float = 5000.0, rise_m: float = 0.0) -> Route:
    """A way due north from 45 degrees."""
    # WGS 84: a degree of latitude at 45 degrees is 111 131.7 m long (NIMA TR8350.2)
    lat = 45.0 + np.linspace(-0.5, 0.5, 51) * length_m / 111_131.7
    return route_of("north", lat, np.full(51, 7.0), np.linspace(100.0, 100.0 + rise_m, 51))


def test_a_degree_of_latitude_and_of_longitude_have_the_length_of_the_ellipsoid() -> None:
    # WGS 84 (NIMA TR8350.2): at 45 degrees 111 131.7 m of latitude and 78 846.8 m of longitude a degree
    north = route_of("n", np.linspace(44.5, 45.5, 101), np.full(101, 7.0), np.zeros(101))
    east = route_of("e", np.full(101, 45.0), np.linspace(7.0, 8.0, 101), np.zeros(101))
    assert north.length_m == pytest.approx(111_131.7, rel=1e-5)
    assert east.length_m == pytest.approx(78_846.8, rel=1e-5)


def test_a_way_over_the_date_line_is_short() -> None:
    way = route_of("w", np.zeros(2), np.array([179.99, -179.99]), np.zeros(2))
    assert way.length_m == pytest.approx(2226.4, rel=1e-3)


def test_heading_tells_wind_against_and_wind_behind() -> None:
    way = straight()
    assert way.heading_deg == pytest.approx(0.0, abs=1e-6)
    assert headwind_m_s(way.heading_deg, 5.0, 0.0) == pytest.approx(5.0)
    assert headwind_m_s(way.heading_deg, 5.0, 180.0) == pytest.approx(-5.0)
    assert headwind_m_s(way.heading_deg, 5.0, 90.0) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("stops", [0.0, 0.4, 3.0])
def test_a_drive_covers_the_way_and_its_height(stops: float) -> None:
    way = straight(rise_m=200.0)
    trace = drive(way, 20.0, stops_per_km=stops)
    assert trace.distance_m == pytest.approx(way.length_m, rel=1e-3)
    steps = np.diff(trace.time_s) * 0.5 * (trace.speed_m_s[1:] + trace.speed_m_s[:-1])
    assert np.sum(steps * trace.grade) == pytest.approx(200.0, rel=0.03)
    assert trace.speed_m_s[0] == trace.speed_m_s[-1] == 0.0
    assert trace.speed_m_s.max() <= 20.0 + 1e-9
    halts = np.count_nonzero((trace.speed_m_s[1:-1] == 0.0) & (trace.speed_m_s[:-2] > 0.0))
    assert halts == round(stops * way.length_m / 1000.0)


def test_back_again_the_wind_and_the_slope_turn_round() -> None:
    way = straight(rise_m=100.0)
    trace = drive(way, 20.0, wind_m_s=4.0, wind_from_deg=0.0, there_and_back=True)
    half = len(trace.grade) // 2
    assert trace.distance_m == pytest.approx(2.0 * way.length_m, rel=1e-3)
    assert trace.headwind_m_s[half // 2] == pytest.approx(4.0)
    assert trace.headwind_m_s[-half // 2] == pytest.approx(-4.0)
    assert trace.grade[half // 2] == pytest.approx(-trace.grade[-half // 2], abs=1e-6)


def test_heights_that_shake_do_not_make_hills() -> None:
    rng = np.random.default_rng(4)
    lat = 45.0 + np.linspace(0.0, 0.05, 500)
    way = route_of("flat", lat, np.full(500, 7.0), 300.0 + rng.normal(0.0, 1.0, 500))
    assert np.abs(way.grade).max() < 0.03


GPX = """<?xml version="1.0"?><gpx xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
<trkpt lat="46.0" lon="7.0"><ele>400</ele></trkpt><trkpt lat="46.01" lon="7.0"><ele>420</ele></trkpt>
<trkpt lat="46.02" lon="7.0"/></trkseg></trk></gpx>"""


def test_a_gpx_file_is_read_with_a_height_missing() -> None:
    way = read_gpx(GPX, "way")
    assert way.has_heights
    assert way.length_m == pytest.approx(2222.9, rel=1e-3)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not whole XML"),
        ("<gpx><trk>", "not whole XML"),
        ("<kml/>", "no GPX"),
        ("<gpx/>", "0 point"),
        (GPX.replace('lat="46.0"', 'lat="x"'), "point 1 has no numbers"),
        (GPX.replace('lat="46.0"', 'lat="99"'), "point 1 lies at 99"),
        (GPX.replace("46.01", "46.0").replace("46.02", "46.0"), "all points of the way lie in one place"),
        ("<!DOCTYPE gpx [<!ENTITY a 'b'>]><gpx/>", "declares entities"),
    ],
)
def test_what_is_no_way_is_told(text: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        read_gpx(text, "way")
