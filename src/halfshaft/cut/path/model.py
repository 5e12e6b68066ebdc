"""What a sheet's tool path is made of, as frozen values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from shapely.geometry import Polygon

from halfshaft.checks import Check, Severity, Source
from halfshaft.cut.layers import Figure
from halfshaft.cut.path.curve import Curve

CutKind = Literal["mark", "spot", "slit", "bore", "opening", "outline"]
MoveKind = Literal["travel", "down", "wait", "sink", "lead", "cut", "mark", "up"]


@dataclass(frozen=True, eq=False)
class OnSheet:
    """A part where it lies on its sheet: its shapes by layer, in the sheet's axes."""

    name: str
    figures: tuple[Figure, ...]


@dataclass(frozen=True, eq=False)
class Stock:
    """The sheet that is cut. `no_go` is where a clamp or a slat's end is."""

    name: str
    outline: Polygon
    thickness_mm: float
    material: str
    no_go: tuple[Polygon, ...] = ()


@dataclass(frozen=True, slots=True)
class Setup:
    """How the table runs on one thickness of one material: every number that the path depends on."""

    process: str
    kerf_mm: float
    thickness_mm: float
    feed_mm_min: float
    pierce_s: float
    pierce_height_mm: float
    cut_height_mm: float
    travel_height_mm: float
    rapid_mm_min: float
    lead: Literal["arc", "line"]
    lead_in_mm: float
    lead_out_mm: float
    overrun_mm: float
    pierce_width_mm: float
    corner_clear_mm: float
    edge_clear_mm: float
    least_hole_mm: float
    slow_under_mm: float  # holes less across are cut slower
    slow_share: float
    good_side: Literal["left", "right"]
    heat_gap_mm: float
    tabs: int
    tab_width_mm: float
    marker: bool
    mark_feed_mm_min: float
    mark_height_mm: float
    mark_lift_mm: float
    heights: bool  # the code moves the torch up and down
    feed_source: Source


@dataclass(frozen=True, eq=False)
class Cut:
    """One run of the torch, or of the marker for a 'mark' and a 'spot'.

    `path` lies half a kerf beside the drawn edge. A closed one begins where `lead_in` ends.
    """

    kind: CutKind
    part: str
    path: Curve
    feed_mm_min: float
    lead_in: Curve | None = None
    lead_out: Curve | None = None
    slow: bool = False

    @property
    def marks(self) -> bool:
        return self.kind in ("mark", "spot")

    @cached_property
    def whole(self) -> Curve:
        return Curve.joined(piece for piece in (self.lead_in, self.path, self.lead_out) if piece is not None)


@dataclass(frozen=True, eq=False)
class Move:
    """One step of the machine: a run of the torch over the plate, or a move up or down, or a wait."""

    kind: MoveKind
    seconds: float
    curve: Curve | None = None
    cut: int = -1  # index among the sheet's cuts; -1 for the way home


@dataclass(frozen=True, slots=True)
class Estimate:
    """Times in s, lengths in mm. Feeds are taken as reached at once: a real table is slower on short runs."""

    cut_s: float
    mark_s: float
    travel_s: float
    wait_s: float
    height_s: float
    cut_mm: float
    mark_mm: float
    travel_mm: float
    pierces: int
    power_kwh: float
    gas_l: float
    abrasive_kg: float
    wear_sets: float
    cost: Mapping[str, float] = field(default_factory=dict)  # item -> money, of what the shop gave a price for

    @property
    def seconds(self) -> float:
        return self.cut_s + self.mark_s + self.travel_s + self.wait_s + self.height_s

    @property
    def torch_s(self) -> float:
        """Time with the torch alight."""
        return self.cut_s + self.wait_s


@dataclass(frozen=True, eq=False)
class SheetPath:
    """The tool path of one sheet; `close_pierces` were made next to the one before, as nothing else was left."""

    stock: Stock
    setup: Setup
    cuts: tuple[Cut, ...]
    moves: tuple[Move, ...]
    estimate: Estimate
    close_pierces: int = 0
    drill: tuple[tuple[str, tuple[float, float], float], ...] = ()  # part, where, how wide: too small to cut
    checks: tuple[Check, ...] = ()

    @property
    def stopped(self) -> bool:
        """Whether the sheet must not be cut by this path."""
        return any(not check.ok and check.severity is Severity.STOP for check in self.checks)
