"""What control readings and readings as built come to: frozen values. mm, degrees for a bevel; root axes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from halfshaft.checks import Assumed, Check
from halfshaft.sure import ONE_WAY

Array = NDArray[np.float64]
State = Literal["fits", "off", "not read"]


@dataclass(frozen=True, slots=True)
class Control:
    """One control reading. `most` is how far another car may read from `nominal`; mm, degrees for a bevel."""

    number: int
    kind: str
    names: tuple[str, ...]
    nominal: float
    most: float
    spread: float
    instrument: str
    unit: str
    brackets: tuple[str, ...]

    @property
    def points(self) -> str:
        return " ".join(name.rpartition(".")[2] for name in self.names)


@dataclass(frozen=True, eq=False)
class Controls:
    """The readings, how much of the spread they foresee, and what is needed to judge them.

    Without rows where too few holes of brackets are located on the car, which a check then says.
    """

    rows: tuple[Control, ...]
    foreseen: float
    points: tuple[str, ...]  # the brackets' holes in the car, in the order of `xyz_mm`
    xyz_mm: Array  # (n, 3)
    covariance: Array  # (3n, 3n) of another car's points about the first one's
    room_mm: Array  # (n,) what the bolt may stand out of the middle
    brackets: tuple[str, ...]  # (n,) which bracket each belongs to
    checks: tuple[Check, ...] = ()
    assumed: tuple[Assumed, ...] = ()


@dataclass(frozen=True, slots=True)
class Judgement:
    """One filled row."""

    control: Control
    read: float | None
    off: float | None
    state: State


@dataclass(frozen=True, slots=True)
class HoleElsewhere:
    """Where a hole of the other car seems to lie from where the first one's does, the whole car laid on best."""

    point: str
    bracket: str
    by_mm: float
    spread_mm: float
    room_mm: float

    @property
    def give_or_take_mm(self) -> float:
        """± of how far it lies along the least known way, for 95 in 100."""
        return ONE_WAY * self.spread_mm

    @property
    def out(self) -> bool:
        return self.by_mm > self.room_mm


@dataclass(frozen=True)
class Verdict:
    rows: tuple[Judgement, ...]
    holes: tuple[HoleElsewhere, ...]  # farthest beyond its room first
    words: tuple[str, ...]

    @property
    def alike(self) -> bool:
        """Every reading is there and within its tolerance."""
        return all(row.state == "fits" for row in self.rows)


@dataclass(frozen=True, eq=False)
class PointBuilt:
    """One point of a body that was bolted up: how far from its drawn place, (3,) mm, with the spread of its place."""

    name: str
    moved_mm: Array
    spread_mm: float
    room_mm: float | None  # of the bolt that goes there
    bracket: str

    @property
    def far_mm(self) -> float:
        return float(np.linalg.norm(self.moved_mm))

    @property
    def give_or_take_mm(self) -> float:
        """± of its place along the least known way, for 95 in 100."""
        return ONE_WAY * self.spread_mm

    @property
    def out(self) -> bool:
        """Beyond what its bolt has room for, for sure."""
        return self.room_mm is not None and self.far_mm > self.room_mm + self.give_or_take_mm


@dataclass(frozen=True, eq=False)
class BodyBuilt:
    """A body as it sits now: shift of its points' middle (3,) mm and turn in degrees, from where it was drawn."""

    name: str
    moved_mm: Array
    turned_deg: float
    points: tuple[PointBuilt, ...]


@dataclass(frozen=True, eq=False)
class Built:
    """What the car became; `readings` is how many told it."""

    readings: int
    bodies: tuple[BodyBuilt, ...]
    checks: tuple[Check, ...]
    assumed: tuple[Assumed, ...] = ()
