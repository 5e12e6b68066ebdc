"""A recorded way: a GPX file in, its length, heights and headings out, and a drive over it."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from halfshaft.road.cycles import Cycle

Array = NDArray[np.float64]

# WGS 84
_A_M, _E2 = 6_378_137.0, 6.694_379_990_14e-3
STEP_M = 20.0
SMOOTH_M = 60.0  # heights of hand-held receivers wander by metres over tens of metres
STEEPEST = 0.30
MOST_POINTS = 500_000


@dataclass(frozen=True, eq=False)
class Route:
    """A way at even steps: distance (k,), height (k,), and heading (k-1,) in degrees from north over east."""

    name: str
    distance_m: Array
    height_m: Array
    heading_deg: Array
    has_heights: bool

    @property
    def length_m(self) -> float:
        return float(self.distance_m[-1])

    @property
    def up_m(self) -> float:
        return float(np.sum(np.maximum(np.diff(self.height_m), 0.0)))

    @property
    def down_m(self) -> float:
        return float(np.sum(np.maximum(-np.diff(self.height_m), 0.0)))

    @property
    def grade(self) -> Array:
        return np.clip(np.diff(self.height_m) / np.diff(self.distance_m), -STEEPEST, STEEPEST)


def read_gpx(text: str, name: str) -> Route:
    """A GPX 1.0 or 1.1 file's track, or its route where it has none. Heights are smoothed over 60 m.

    Raises ValueError with what is wrong and what to write.
    """
    if "<!DOCTYPE" in text or "<!ENTITY" in text:
        raise ValueError("the file declares entities, which GPX does not: save it anew as plain GPX")
    try:
        root = ElementTree.fromstring(text.lstrip("\ufeff").encode("utf-8"))
    except ElementTree.ParseError as why:
        raise ValueError(f"the file is not whole XML ({why}): save it anew as GPX") from None
    if root.tag.rpartition("}")[2] != "gpx":
        raise ValueError("the file is no GPX: save the way as GPX")
    for kind in ("trkpt", "rtept"):
        points = [one for one in root.iter() if one.tag.rpartition("}")[2] == kind]
        if points:
            break
    if len(points) < 2:
        raise ValueError(f"the way has {len(points)} point(s): save a track or route with two or more")
    if len(points) > MOST_POINTS:
        raise ValueError(f"the way has {len(points)} points: save it with no more than {MOST_POINTS}")
    rows = []
    for number, point in enumerate(points, 1):
        try:
            lat, lon = float(point.get("lat", "")), float(point.get("lon", ""))
            told = next((e.text for e in point if e.tag.rpartition("}")[2] == "ele"), None)
            height = np.nan if told is None else float(told)
        except ValueError:
            raise ValueError(f"point {number} has no numbers for lat, lon and ele: save the way anew") from None
        if not (abs(lat) < 89.9 and abs(lon) <= 360.0):
            raise ValueError(f"point {number} lies at {lat:g}, {lon:g}: write degrees of latitude and longitude")
        rows.append((lat, lon, height))
    lat, lon, height = np.array(rows).T
    return route_of(name, lat, lon, height)


def route_of(name: str, lat_deg: Array, lon_deg: Array, height_m: Array) -> Route:
    """A way through points on the earth, each (n,); heights may be NaN where they are not known.

    Steps are told by the radii of curvature of the WGS 84 ellipsoid, good to 1e-5 for steps of some kilometres.
    """
    east, north = _steps(lat_deg, lon_deg)
    length = np.hypot(east, north)
    keep = np.concatenate([[True], length > 0.5])
    lat, lon, height = lat_deg[keep], lon_deg[keep], height_m[keep]
    if len(lat) < 2:
        raise ValueError("all points of the way lie in one place: save a way that leads somewhere")
    east, north = _steps(lat, lon)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(east, north))])
    known = np.isfinite(height)
    has_heights = bool(known.sum() >= 2)
    raw = np.interp(along, along[known], height[known]) if has_heights else np.zeros(len(along))
    steps = max(round(float(along[-1]) / STEP_M), 1)
    at = np.linspace(0.0, along[-1], steps + 1)
    heights = np.interp(at, along, raw)
    if has_heights and steps > 3:
        heights = gaussian_filter1d(heights, SMOOTH_M / (at[1] - at[0]), mode="nearest")
    piece = np.clip(np.searchsorted(along, 0.5 * (at[1:] + at[:-1])) - 1, 0, len(east) - 1)
    heading = np.degrees(np.arctan2(east, north))[piece] % 360.0
    return Route(name, at, heights, heading, has_heights)


def _steps(lat_deg: Array, lon_deg: Array) -> tuple[Array, Array]:
    """Metres east and north from each point to the next."""
    lat, lon = np.radians(lat_deg), np.radians(lon_deg)
    middle = 0.5 * (lat[1:] + lat[:-1])
    bend = 1.0 - _E2 * np.sin(middle) ** 2
    meridian, normal = _A_M * (1.0 - _E2) / bend**1.5, _A_M / np.sqrt(bend)
    turn = (np.diff(lon) + np.pi) % (2.0 * np.pi) - np.pi
    return normal * np.cos(middle) * turn, meridian * np.diff(lat)


def headwind_m_s(heading_deg: Array, wind_m_s: float, from_deg: float) -> Array:
    """Wind against the car on each step, m/s; `from_deg` is where it blows from, as weather reports tell it."""
    return wind_m_s * np.cos(np.radians(heading_deg - from_deg))


def drive(
    route: Route,
    speed_m_s: float,
    *,
    stops_per_km: float = 0.0,
    wait_s: float = 10.0,
    change_m_s2: float = 1.0,
    wind_m_s: float = 0.0,
    wind_from_deg: float = 0.0,
    there_and_back: bool = False,
) -> Cycle:
    """A way as a cycle: pulled up to a speed, held over hill and dale, stopped as often as told, at an even rate."""
    if not speed_m_s > 0.0:
        raise ValueError(f"a way driven at {speed_m_s * 3.6:g} km/h: write a speed over nought")
    distance, grade, heading = route.distance_m, route.grade, route.heading_deg
    if there_and_back:
        distance = np.concatenate([distance, distance[-1] + np.cumsum(np.diff(distance)[::-1])])
        grade = np.concatenate([grade, -grade[::-1]])
        heading = np.concatenate([heading, (heading[::-1] + 180.0) % 360.0])
    length = float(distance[-1])
    stops = round(stops_per_km * length / 1000.0)
    ends = np.linspace(0.0, length, stops + 2)
    times, speeds = [0.0], [0.0]
    leg = float(ends[1])
    top = min(speed_m_s, float(np.sqrt(change_m_s2 * leg)))
    rise = top / change_m_s2
    cruise = max((leg - top * rise) / top, 0.0)
    for number in range(stops + 1):
        for lasts, speed in ((rise, top), (cruise, top), (rise, 0.0), (wait_s if number < stops else 0.0, 0.0)):
            if lasts > 1e-9:
                times.append(times[-1] + lasts)
                speeds.append(speed)
    corner_t, corner_v = np.array(times), np.array(speeds)
    t = np.unique(np.concatenate([np.arange(0.0, corner_t[-1], 1.0), corner_t]))
    t = t[np.concatenate([[True], np.diff(t) > 1e-6])]
    v = np.interp(t, corner_t, corner_v)
    gone = np.concatenate([[0.0], np.cumsum(0.5 * (v[1:] + v[:-1]) * np.diff(t))])
    middle = 0.5 * (gone[1:] + gone[:-1]) * length / gone[-1]
    piece = np.clip(np.searchsorted(distance, middle) - 1, 0, len(grade) - 1)
    wind = headwind_m_s(heading, wind_m_s, wind_from_deg)[piece]
    return Cycle(route.name, t, np.maximum(v, 0.0), grade[piece], wind, "given by the builder")
