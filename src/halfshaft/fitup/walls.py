"""The walls of a member that an opening can be cut in: a member in; flats with their axes, thickness and edges out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from halfshaft.fitup.member import runs_of
from halfshaft.fitup.model import Member, Section
from halfshaft.fitup.sections import WallName
from halfshaft.geometry import Pose

Array = NDArray[np.float64]

_STRAIGHT_DEG = 2.0  # runs that bend less than this against each other are one wall
_SIDES: tuple[WallName, ...] = ("left", "right", "up", "down")
_EDGES = {"left": ("upper edge", "lower edge"), "right": ("upper edge", "lower edge")}
_OTHER_EDGES = ("left edge", "right edge")


@dataclass(frozen=True, eq=False)
class Wall:
    """One flat of one straight run: `pose` has z out of the metal, z = 0 its outside, y across, x along the member.

    `outline` is the flat in x, y; the metal lies in z from -thickness to 0. Of a tube the wall is the
    quarter that looks this way, seen square. `edges` names what bounds it: each a sense of x or y and the limit there.
    """

    member: str
    name: WallName
    pose: Pose
    thickness_mm: float
    outline: Polygon
    edges: tuple[tuple[str, int, float, float], ...]  # name, coordinate, sign, limit
    begins_mm: float  # station of x = 0
    sense: float  # of the station along x

    @property
    def called(self) -> str:
        words = {"up": "upper", "down": "lower"}
        return f"{words.get(self.name, self.name)} wall of {self.member}"

    def along_mm(self, x_mm: float) -> float:
        """Station along the member of a spot of the wall."""
        return self.begins_mm + self.sense * x_mm


def walls_of(member: Member) -> tuple[Wall, ...]:
    """All walls of a member, run by run; a channel has none on its open side, a flat only its one broad side."""
    section, out = member.section, []
    runs = runs_of(member)
    begins = np.concatenate([[0.0], np.cumsum([run for _, run in runs])])
    sides = [name for name in _SIDES if not (section.shape == "channel" and name == section.opens)]
    if section.shape == "flat":
        sides = ["up" if section.width_mm >= section.height_mm else "left"]
    tall = section.width_mm if section.shape == "tube" else section.height_mm
    for first, last in _straights(runs):
        pose, _ = runs[first]
        length = float(begins[last + 1] - begins[first])
        u, v, _ = pose.rotation.T
        for name in sides:
            outward, across = {"left": (u, v), "right": (-u, v), "up": (v, u), "down": (-v, u)}[name]
            away = (section.width_mm if name in ("left", "right") else tall) / 2.0
            half = (tall if name in ("left", "right") else section.width_mm) / 2.0
            along = np.cross(across, outward)
            sense = float(np.sign(along @ pose.rotation[:, 2]))
            thickness = section.wall_mm
            if section.shape == "flat":
                thickness = min(section.width_mm, section.height_mm)
            elif section.shape == "tube":
                thickness, half = _quarter(section)
            low, high = sorted((0.0, sense * length))
            names = _EDGES.get(name, _OTHER_EDGES)
            edges = (
                (names[0], 1, 1.0, half), (names[1], 1, -1.0, half),
                ("first end" if first == 0 else "joint before it", 0, -sense, 0.0),
                ("last end" if last == len(runs) - 1 else "joint after it", 0, sense, length),
            )  # fmt: skip
            out.append(
                Wall(
                    member.name, name, Pose(np.column_stack([along, across, outward]), pose.shift_mm + away * outward),
                    thickness, shapely.box(low, -half, high, half), edges, float(begins[first]), sense,
                )
            )  # fmt: skip
    return tuple(out)


def _quarter(section: Section) -> tuple[float, float]:
    """Depth that holds all metal of the quarter of a tube that looks one way, and its half width."""
    outer, inner = section.width_mm / 2.0, section.width_mm / 2.0 - section.wall_mm
    half = outer * float(np.sqrt(0.5))
    left = inner**2 - half**2
    return (outer - float(np.sqrt(left)) if left > 0.0 else outer), half


def _straights(runs: tuple[tuple[Pose, float], ...]) -> list[tuple[int, int]]:
    """First and last run of each stretch that is straight for a template."""
    out, first = [], 0
    most = np.cos(np.radians(_STRAIGHT_DEG))
    for at in range(1, len(runs) + 1):
        if at == len(runs) or float(runs[at][0].rotation[:, 2] @ runs[first][0].rotation[:, 2]) < most:
            out.append((first, at - 1))
            first = at
    return out
