"""What a frame, a unit, a place and a way in are: frozen values that the rest of the room works on.

Root axes of the build (x forward, y left, z up), mm and degrees. The unit's own parts are in the unit's axes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from halfshaft.checks import Assumed, Check
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import MeshSolid

Array = NDArray[np.float64]
Role = Literal["member", "keep"]  # a member of the frame may be cut, what is kept may not
SideName = Literal["left", "right"]


@dataclass(frozen=True, eq=False)
class Section:
    """A thin-walled section in its own plane, mm: u across, v up, about the member's line."""

    shape: Literal["box", "channel", "tube", "flat"]
    width_mm: float  # along u; the diameter of a tube
    height_mm: float  # along v
    wall_mm: float
    opens: Literal["left", "right", "up", "down", ""] = ""  # of a channel


@dataclass(frozen=True, eq=False)
class Member:
    """A section run along a line of points (n, 3); `up` (3,) keeps its v axis as near upright as the line lets it."""

    name: str
    section: Section
    line_mm: Array
    up: Array
    solid: MeshSolid  # the metal, hollow where the section is
    hull: MeshSolid  # the outside, filled
    welds_mm: tuple[Array, ...] = ()  # lines (n, 3) that an opening keeps off


@dataclass(frozen=True, eq=False)
class Fixed:
    """One thing that stands still about the unit. Of a member `solid` is its metal."""

    name: str
    role: Role
    solid: MeshSolid
    clearance_mm: float
    hidden: bool = False
    swept: bool = False  # the room of something that moves with a wheel


@dataclass(frozen=True, eq=False)
class Piece:
    """A rigid part of the unit, in its axes. One that comes off can be put on once the rest is in place."""

    name: str
    solid: MeshSolid
    comes_off: bool = False
    sway_mm: float = 0.0  # how far it moves on its bushings


def middle_of(pieces: Iterable[Piece]) -> Array:
    """The middle (3,) of the box round a unit's pieces, in its axes: what all moves of it are told about."""
    bounds = [piece.solid.bounds_mm for piece in pieces if not piece.solid.empty]
    low, high = np.min([b[0] for b in bounds], axis=0), np.max([b[1] for b in bounds], axis=0)
    return np.asarray((low + high) / 2.0)


@dataclass(frozen=True, eq=False)
class OutputFlange:
    """Where a half-shaft's inner joint sits, in the unit's axes; `axis` (3,) points out of the unit."""

    side: SideName
    centre_mm: Array
    axis: Array


@dataclass(frozen=True, eq=False)
class MountHole:
    """A bolt hole of the unit, in its axes; `axis` (3,) points out of the metal it bolts to."""

    name: str
    centre_mm: Array
    axis: Array
    bolt: str = ""


@dataclass(frozen=True, eq=False)
class Unit:
    """What is placed, in the axes of its drawing, in which it stands square; `drawing` maps them to its body's own."""

    pieces: tuple[Piece, ...]
    outputs: tuple[OutputFlange, ...]
    mounts: tuple[MountHole, ...]
    drawing: Pose = field(default_factory=Pose.identity)


@dataclass(frozen=True, eq=False)
class Wheel:
    """Where the wheel's outer joint goes through the travel: `travel_mm` (n,) up, `centre_mm` (n, 3), `axis` (n, 3).

    `axis` points out of the car, along the hub. Sorted by travel, ride height at nought. Of a wheel on arms `arms` are
    rods of thickness `arm_mm` by the arm's name: their ends (n, k, 2, 3) at each height.
    """

    side: SideName
    travel_mm: Array
    centre_mm: Array
    axis: Array
    arms: Mapping[str, Array] = field(default_factory=dict)
    arm_mm: float = 0.0


@dataclass(frozen=True, eq=False)
class Joints:
    """What a half-shaft's joints take, and how long shafts come."""

    most_angle_deg: float  # at ride height, lasting
    most_angle_travel_deg: float  # anywhere in the travel
    stroke_mm: float  # of the plunging joint, end to end
    least_length_mm: float = 0.0
    most_length_mm: float = np.inf


@dataclass(frozen=True, eq=False)
class ShaftBody:
    """How thick a half-shaft is with its boots, and the room it asks; `past` names what moves with it or lets it by."""

    diameter_mm: float
    clearance_mm: float
    past: frozenset[str] = frozenset()
    clearance_assumed: bool = False


@dataclass(frozen=True, eq=False)
class Bounds:
    """How far a place may lie from where the search begins: shift (3,) each way in mm, turns (3,) each way in degrees.

    Turns are rotation vectors about the root axes through the unit's middle at the begin pose.
    """

    begin: Pose
    shift_mm: Array
    turn_deg: Array


@dataclass(frozen=True, eq=False)
class Scene:
    """All that placing looks at."""

    fixed: tuple[Fixed, ...]
    members: Mapping[str, Member]
    unit: Unit
    wheels: tuple[Wheel, ...]
    joints: Joints
    bounds: Bounds
    ground_clearance_mm: float  # least height of the unit over z = 0
    service_mm: float = 0.0  # room asked for round pieces that come off
    shaft_body: ShaftBody | None = None  # None where no room is asked for them
    mocked_up: Pose | None = None  # where readings tie the unit, None where they do not


@dataclass(frozen=True, eq=False)
class Cut:
    """What one member loses to a place: metal, and the share of its section at the worst station along it.

    `edge_mm` is the least metal that stays between what goes and an edge, end or joint of its wall, `edge` which one;
    nought where the cut runs over it. `weld_mm` is that to the nearest weld.
    """

    member: str
    removed_mm3: float
    section_lost: float
    edge_mm: float = np.inf
    edge: str = ""
    weld_mm: float = np.inf


@dataclass(frozen=True, eq=False)
class Shaft:
    """One half-shaft at one place of the unit: arrays over the wheel's travel."""

    side: SideName
    travel_mm: Array
    inner_deg: Array
    outer_deg: Array
    length_mm: Array
    plunge_mm: float  # longest less shortest
    ride_index: int
    stroke_mm: float = np.inf  # what the plunging joint has for it

    @property
    def stroke_used(self) -> float:
        """Share of the stroke that the travel takes, over 1 where it is too short."""
        return self.plunge_mm / self.stroke_mm


@dataclass(frozen=True, eq=False)
class Placed:
    """One place the unit can sit at, with what it costs and what limits it."""

    pose: Pose  # unit to root
    cuts: tuple[Cut, ...]
    clearance_mm: float  # least to anything kept, sway counted; negative where it is hit
    nearest: str  # name of what is nearest
    shafts: tuple[Shaft, ...]
    ground_mm: float
    off_centre_mm: float
    service_mm: float
    limits: tuple[str, ...]  # what stands against going further, in words, the first the tightest
    label: str = ""
    shaft_gap_mm: float = np.inf  # least from a half-shaft to what stands still, through the travel
    shaft_nearest: str = ""
    arm_gap_mm: float = np.inf  # least from a half-shaft to an arm of its own wheel, both where they are at each height
    arm_nearest: str = ""
    fits: bool = True  # rooms, ground clearance and joints all kept

    @property
    def removed_mm3(self) -> float:
        return sum(cut.removed_mm3 for cut in self.cuts)

    @property
    def edge_mm(self) -> float:
        """Least metal left between a cut and an edge of its wall, endless where nothing is cut."""
        return min((cut.edge_mm for cut in self.cuts), default=np.inf)

    @property
    def over_edge(self) -> bool:
        """Whether a cut runs over an edge of its wall, so that no window can be cut for it."""
        return self.edge_mm <= 0.0

    @property
    def worst_angle_deg(self) -> float:
        angles = [float(np.max(np.maximum(s.inner_deg, s.outer_deg))) for s in self.shafts]
        return max(angles, default=0.0)


@dataclass(frozen=True, eq=False)
class Placing:
    """The short list: truly different places none of which is beaten in everything, and places tried by hand."""

    places: tuple[Placed, ...]
    tried: tuple[Placed, ...] = ()
    blocked_by: tuple[str, ...] = ()  # where there is no place: what stands in the way, the worst first
    checks: tuple[Check, ...] = ()
    assumed: tuple[Assumed, ...] = field(default=())


@dataclass(frozen=True, eq=False)
class Step:
    """One stretch of the way in: poses (k,) from where the last ended, which pieces are on, and the words for it."""

    poses: tuple[Pose, ...]
    pieces_on: tuple[str, ...]
    words: str


@dataclass(frozen=True, eq=False)
class WayIn:
    """The way from outside to the place, or what blocks it within the search."""

    steps: tuple[Step, ...]
    least_clearance_mm: float
    blocked_by: tuple[str, ...] = ()
    checks: tuple[Check, ...] = ()

    @property
    def found(self) -> bool:
        return bool(self.steps)
