"""A folded bracket: its panels in space, its folds, the flat parts they are cut as, and the chance that it fits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from halfshaft.checks import Assumed, Check
from halfshaft.geometry import Contour, Pose

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Hole:
    """Round when `slot_mm` is zero; else a slot with that distance between its end centres, along `slot_way` (2,)."""

    name: str  # 'rail.RL3'
    point: str  # the measured point, qualified; empty for holes that only join two plates
    centre_mm: Array  # (2,) in panel axes
    diameter_mm: float
    bolt: str
    bolt_mm: float  # shank diameter
    frame_hole_mm: float  # hole in the thing it bolts to (shank when tapped or a stud)
    slot_mm: float = 0.0
    slot_way: Array = field(default_factory=lambda: np.array([1.0, 0.0]))
    use: str = "bolt"  # 'bolt', 'locate', 'join', 'open'
    boss_mm: float = 0.0
    washer_mm: float = 0.0
    socket_mm: float = 0.0

    @property
    def room_mm(self) -> float:
        """How far the bolt may stand off the middle of this hole and of the one it goes into; of a slot across it."""
        return max(self.diameter_mm - self.bolt_mm, 0.0) / 2.0 + max(self.frame_hole_mm - self.bolt_mm, 0.0) / 2.0


@dataclass(frozen=True, eq=False)
class Panel:
    """One flat. `pose` maps panel axes to root axes: z = 0 is the sheet's underside, z = thickness its upper side.

    All panels of one part have the same side of the sheet up. `contact` says which side lies on the face.
    """

    name: str
    pose: Pose
    thickness_mm: float
    outline: Contour
    openings: tuple[Contour, ...]  # reliefs and windows, without bolt holes
    holes: tuple[Hole, ...]
    contact: str  # 'under', 'upper', 'none'
    face: str  # measured face, qualified; empty when none


@dataclass(frozen=True, eq=False)
class Bridge:
    """Metal left across a slit fold, from `start_mm` to `end_mm` along the fold line."""

    start_mm: float
    end_mm: float


@dataclass(frozen=True, eq=False)
class Fold:
    """`a` is nearer the part's first panel. Lines are in each panel's axes, (2, 2): from start to end, same sense.

    Slit: the line is the middle of the slits. Brake: the line where the bend begins; `allowance_mm` lies between.
    """

    name: str
    a: str
    b: str
    kind: str  # 'slit' or 'brake'
    angle_deg: float  # turned from flat
    up: bool  # True: folds toward the upper side, the inside of the fold is the upper side
    line_a_mm: Array
    line_b_mm: Array
    allowance_mm: float  # flat distance between the two lines, 0 for a slit fold
    setback_mm: float  # from the inside apex to the line, along the panel; negative when beyond the apex
    pivot_depth_mm: float  # slit fold: from the inside face; brake: K t
    radius_mm: float  # brake: inside radius; 0 for a slit fold
    slit_width_mm: float = 0.0
    bridges: tuple[Bridge, ...] = ()
    hand_force_n: float = 0.0
    weld_length_mm: float = 0.0

    @property
    def length_mm(self) -> float:
        return float(np.linalg.norm(self.line_a_mm[1] - self.line_a_mm[0]))


@dataclass(frozen=True, eq=False)
class Gusset:
    """A plate welded between two panels, square to both; `panel` is its own among the bracket's panels.

    `foot_a_mm`, `foot_b_mm` (2, 2) are its edges on the two, in its own axes, from the nip to the tip; `side_a`,
    `side_b` the side of each panel that it stands on, 'upper' or 'under'. A fillet of `leg_mm` runs along both sides.
    """

    panel: str
    a: str
    b: str
    foot_a_mm: Array
    foot_b_mm: Array
    side_a: str
    side_b: str
    leg_mm: float
    end: str = ""  # the nearer end of the panels' corner: 'left', 'up' ...
    from_end_mm: float = 0.0  # from there to the middle of the plate

    @property
    def throat_mm(self) -> float:
        return self.leg_mm / float(np.sqrt(2.0))

    def foot_length_mm(self, panel: str) -> float:
        """Length of its foot on one of the two panels."""
        foot = self.foot_a_mm if panel == self.a else self.foot_b_mm
        return float(np.linalg.norm(foot[1] - foot[0]))


@dataclass(frozen=True, eq=False)
class Mark:
    """Etched strokes, each (n, 2) in mm; `text` says what they read."""

    strokes_mm: tuple[Array, ...]
    text: str = ""


@dataclass(frozen=True, eq=False)
class FlatPart:
    """What is cut: one sheet part, upper side up."""

    name: str  # 'front_left', 'front_left.cover', 'front_left.twin'
    sheet: str
    thickness_mm: float
    outline: Contour
    openings: tuple[Contour, ...]
    bores: tuple[Hole, ...]  # in flat axes
    slits_mm: tuple[Array, ...]  # centre lines (2, 2)
    slit_width_mm: float
    fold_lines_mm: Mapping[str, Array]  # fold name -> (2, 2), or (4, 2) for a brake's two lines
    marks: tuple[Mark, ...]
    placed: Mapping[str, tuple[Array, Array]]  # panel -> rotation (2, 2), shift (2,): panel axes to flat axes
    mirrored: bool = False

    @property
    def edge_mm(self) -> float:
        """Length of the cut round the part and its openings, bolt holes and slits aside."""
        return self.outline.length_mm + sum(opening.length_mm for opening in self.openings)


@dataclass(frozen=True)
class HoleChance:
    hole: str  # or the panel, in `FitChance.panels`
    passes: float  # probability that it passes once all the others do
    spoils: float  # share of the misses in which this one is the worst


@dataclass(frozen=True)
class Change:
    """What a remedy writes in the build: keys and values of one hole, or of its panel where `hole` is empty."""

    words: str
    panel: str
    hole: str
    writes: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class FitChance:
    """Probability that every bolt passes and every panel pulls up, with the simulation's own standard error."""

    passes: float
    standard_error: float
    samples: int
    holes: tuple[HoleChance, ...]  # worst first
    mostly_from: str  # 'tape readings of the unit', 'fold spread of fold web-ear', ...
    remedies: tuple[str, ...]  # sentences: the slot or reading that brings 95 %
    low: float = 0.0  # 95 % interval of the simulation, Wilson's
    high: float = 1.0
    panels: tuple[HoleChance, ...] = ()  # panels that do not pull up, worst first
    shares: tuple[tuple[str, float], ...] = ()  # causes and their part, the largest first; sum 1
    changes: tuple[Change, ...] = ()  # those remedies that are a change of a hole or a panel, each by itself


@dataclass(frozen=True, eq=False)
class Bracket:
    """One bracket worked out. A refused bracket has no parts and a STOP check that says why."""

    name: str
    sheet: str
    thickness_mm: float
    panels: Mapping[str, Panel]
    folds: tuple[Fold, ...]
    parts: tuple[FlatPart, ...]
    mass_kg: float
    fold_order: tuple[str, ...] = ()
    fit: FitChance | None = None
    checks: tuple[Check, ...] = ()
    assumed: tuple[Assumed, ...] = ()
    gussets: tuple[Gusset, ...] = ()
