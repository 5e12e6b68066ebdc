"""Members of the frame: a section and a line of points in; metal, filled outside and places along it out."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
import shapely.affinity
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import Polygon

from halfshaft.fitup.model import Member, Section
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import swept

Array = NDArray[np.float64]

_TUBE_SIDES = 96
_LEAST_RUN_MM = 1.0
_OPENS = {"left": (1.0, 0.0), "right": (-1.0, 0.0), "up": (0.0, 1.0), "down": (0.0, -1.0)}


@dataclass(frozen=True, eq=False, slots=True)
class Station:
    """A spot told along its member: how far from the line's first point, and u, v off the line."""

    along_mm: float
    u_mm: float
    v_mm: float


def member_of(name: str, section: Section, line_mm: ArrayLike, up: ArrayLike) -> Member:
    """A section swept along a line of points (n, 3) with mitred joints.

    Seen along the line, u points to the left hand and v up: a channel that opens 'left' opens to that hand. One roll
    for the whole line keeps v as near `up` (3,) as a line bent in two planes lets it, so that mitres always close.
    Raises ValueError with the member's name where the line is too short, bends too sharply for the section, or runs
    along `up`, and where the section is no section.
    """
    line, upright = np.asarray(line_mm, dtype=float), np.asarray(up, dtype=float)
    if line.ndim != 2 or line.shape[0] < 2 or line.shape[1] != 3 or not np.all(np.isfinite(line)):
        raise ValueError(f"member {name}: its line wants two points or more")
    metal, outside = metal_of(section, name), outside_of(section, name)
    frames = _frames(name, line, upright)
    spans = _mitres(name, line, frames, max(section.width_mm, section.height_mm) / 2.0)
    return Member(name, section, line, upright, swept(metal, spans, line), swept(outside, spans, line))


def metal_of(section: Section, name: str = "") -> Polygon:
    """The section's metal in u, v about the member's line; a flat is solid, width by height.

    Raises ValueError where the wall does not go into the section.
    """
    outer = outside_of(section, name)
    w, h, t = section.width_mm, section.height_mm, section.wall_mm
    if section.shape == "flat":
        return outer
    most = min(w, h) / 2.0 if section.shape != "tube" else w / 2.0
    if not 0.0 < t < most:
        raise ValueError(f"member {name}: a wall of {t:g} mm does not go into a {section.shape} of {w:g} by {h:g} mm")
    if section.shape == "tube":
        return outer.difference(_round(w / 2.0 - t))
    bore = shapely.box(-w / 2.0 + t, -h / 2.0 + t, w / 2.0 - t, h / 2.0 - t)
    if section.shape == "channel":
        if section.opens not in _OPENS:
            raise ValueError(f"member {name}: write to which side its channel opens: left, right, up or down")
        way = np.array(_OPENS[section.opens])
        bore = bore.union(shapely.affinity.translate(bore, *(way * 2.0 * t)))
    return outer.difference(bore)


def outside_of(section: Section, name: str = "") -> Polygon:
    """The section's outside, filled: of a channel the rectangle about it.

    Raises ValueError where a size is not above nought.
    """
    w, h = section.width_mm, section.height_mm
    if not (w > 0.0 and (h > 0.0 or section.shape == "tube")):
        raise ValueError(f"member {name}: its section is {w:g} by {h:g} mm, write sizes above 0")
    return _round(w / 2.0) if section.shape == "tube" else shapely.box(-w / 2.0, -h / 2.0, w / 2.0, h / 2.0)


def length_mm(member: Member) -> float:
    return float(np.sum(np.linalg.norm(np.diff(member.line_mm, axis=0), axis=1)))


def frame_at(member: Member, along_mm: float) -> Pose:
    """Local axes at a station: x is u, y is v, z runs along the line; beyond an end the end run goes on."""
    runs = np.linalg.norm(np.diff(member.line_mm, axis=0), axis=1)
    begins = np.concatenate([[0.0], np.cumsum(runs)])
    at = int(np.clip(np.searchsorted(begins, along_mm, side="right") - 1, 0, len(runs) - 1))
    frame = _frames(member.name, member.line_mm, member.up)[at]
    return Pose(frame, member.line_mm[at] + (along_mm - begins[at]) * frame[:, 2])


def station_of(member: Member, spot_mm: ArrayLike) -> Station:
    """Where along its member a spot (3,) lies: the nearest foot on the line, the end runs going on past the ends."""
    spot, line = np.asarray(spot_mm, dtype=float), member.line_mm
    frames = _frames(member.name, line, member.up)
    runs = np.linalg.norm(np.diff(line, axis=0), axis=1)
    begins = np.concatenate([[0.0], np.cumsum(runs)])
    best, least = Station(0.0, 0.0, 0.0), np.inf
    for at, frame in enumerate(frames):
        along = float((spot - line[at]) @ frame[:, 2])
        low = -np.inf if at == 0 else 0.0
        high = np.inf if at == len(runs) - 1 else runs[at]
        along = float(np.clip(along, low, high))
        off = spot - line[at] - along * frame[:, 2]
        away = float(np.linalg.norm(off))
        if away < least - 1e-9:
            least, best = away, Station(begins[at] + along, float(off @ frame[:, 0]), float(off @ frame[:, 1]))
    return best


def runs_of(member: Member) -> tuple[tuple[Pose, float], ...]:
    """Each straight run of the line: its axes at its beginning as `frame_at` gives them, and its length."""
    frames = _frames(member.name, member.line_mm, member.up)
    runs = np.linalg.norm(np.diff(member.line_mm, axis=0), axis=1)
    return tuple(
        (Pose(frame, start), float(run)) for frame, start, run in zip(frames, member.line_mm, runs, strict=False)
    )


def _round(radius_mm: float) -> Polygon:
    """A circle by tangents, never too small."""
    angle = np.arange(_TUBE_SIDES) * 2.0 * np.pi / _TUBE_SIDES
    return Polygon(radius_mm / np.cos(np.pi / _TUBE_SIDES) * np.column_stack([np.cos(angle), np.sin(angle)]))


def _frames(name: str, line: Array, up: Array) -> Array:
    """Axes (n - 1, 3, 3) of the runs, columns u, v and along.

    Each joint's mitre plane mirrors one run's section into the next one's; one roll common to all is left to choose.
    """
    steps = np.diff(line, axis=0)
    runs = np.linalg.norm(steps, axis=1)
    if np.any(runs < _LEAST_RUN_MM):
        at = int(np.argmin(runs))
        raise ValueError(f"member {name}: points {at + 1} and {at + 2} of its line lie less than 1 mm apart")
    ways = steps / runs[:, None]
    first = np.cross(up, ways[0])
    if np.linalg.norm(first) < 1e-6 * max(float(np.linalg.norm(up)), 1e-12):
        raise ValueError(f"member {name}: it runs along its 'up': give another direction square to the line")
    u = first / np.linalg.norm(first)
    across = [u]
    for before, after in pairwise(ways):
        normal = before + after
        size = float(np.linalg.norm(normal))
        if size < 1e-3:
            raise ValueError(f"member {name}: its line turns straight back on itself")
        # the turn about the joint's own axis that takes one run's direction to the next
        half = normal / size
        mirrored = u - 2.0 * (u @ before) * before
        u = mirrored - 2.0 * (mirrored @ half) * half
        across.append(u / np.linalg.norm(u))
    us = np.array(across)
    vs = np.cross(ways, us)
    roll = np.arctan2(-np.sum(runs * (us @ up)), np.sum(runs * (vs @ up)))
    turned = np.cos(roll) * us + np.sin(roll) * vs
    return np.stack([turned, np.cross(ways, turned), ways], axis=2)


def _mitres(name: str, line: Array, frames: Array, reach_mm: float) -> Array:
    """Spans (n, 3, 2) that put the section into the end and mitre planes of the line's points."""
    ways = frames[:, :, 2]
    spans = [frames[0][:, :2]]
    back = np.zeros(len(line))
    for at in range(1, len(line) - 1):
        normal = ways[at - 1] + ways[at]
        before = frames[at - 1]
        lean = (normal @ before[:, :2]) / float(normal @ before[:, 2])
        spans.append(before[:, :2] - np.outer(before[:, 2], lean))
        back[at] = reach_mm * float(np.abs(lean).sum())
    spans.append(frames[-1][:, :2])
    runs = np.linalg.norm(np.diff(line, axis=0), axis=1)
    short = back[:-1] + back[1:] - runs
    if np.any(short >= 0.0):
        at = int(np.argmax(short))
        raise ValueError(
            f"member {name}: the run from point {at + 1} to {at + 2} of its line is {runs[at]:.0f} mm, too short for "
            f"its bends: write fewer points there, or a straighter line"
        )
    return np.array(spans)
