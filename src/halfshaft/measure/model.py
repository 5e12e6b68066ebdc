"""What the measurements are (in) and what they make known (out)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from halfshaft.checks import Assumed, Check
from halfshaft.geometry import Plane, Pose
from halfshaft.sure import ONE_WAY, THREE_WAYS

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class PointEstimate:
    """A point in the axes of the root body, or of its own body where `tied` is False."""

    name: str
    body: str
    xyz_mm: Array  # (3,)
    covariance_mm2: Array  # (3, 3)
    tied: bool = True

    @property
    def give_or_take_mm(self) -> Array:
        """± (3,) along each axis by itself, for 95 in 100."""
        return ONE_WAY * np.sqrt(np.diag(self.covariance_mm2))

    @property
    def ellipsoid_mm(self) -> tuple[Array, Array]:
        """Half-axes (3,), longest first, and unit directions (3, 3) in columns of the 95 % ellipsoid."""
        values, vectors = np.linalg.eigh(self.covariance_mm2)
        order = np.argsort(values)[::-1]
        return THREE_WAYS * np.sqrt(np.maximum(values[order], 0.0)), vectors[:, order]


@dataclass(frozen=True, eq=False)
class FaceEstimate:
    name: str
    body: str
    plane: Plane
    middle_mm: Array  # (3,) middle of the points on it
    covariance: Array  # (4, 4) of normal (3) and distance
    points: tuple[str, ...]  # names of points read on it
    tied: bool = True


@dataclass(frozen=True)
class ReadingResult:
    """One scalar reading after adjustment; a 'given' or 'mirror' row gives three."""

    index: int  # of the row in Build.readings
    line: int
    label: str  # 'tape RL3 RL7'
    unit: str  # 'mm' or 'deg'
    value: float
    adjusted: float
    residual: float  # value - adjusted
    spread: float
    redundancy: float  # 0 to 1
    w: float  # standardised residual, Baarda
    least_seen: float  # least slip found at 5 % / 80 % (minimal detectable bias)
    used: bool = True


@dataclass(frozen=True)
class Suspect:
    """A reading taken for a slip, left out of the adjustment, with its size and a proposal in words."""

    index: int
    line: int
    label: str
    slip: float  # value read minus what the others say
    slip_spread: float
    unit: str
    w: float
    words: str  # 'tape A-B reads 25 mm long: measure again'
    kind: str = "slip"  # 'slip', 'unit mistaken', 'digits turned round', 'names swapped', ...
    proposal: tuple[tuple[str, ...], tuple[float, ...]] | None = None  # names and value that would agree
    among: tuple[int, ...] = ()  # rows that the data cannot tell apart from this one


@dataclass(frozen=True)
class Unlocated:
    """A point, face or body that the readings do not hold, and the reading that would."""

    name: str
    why: str
    take: str  # 'tape, X RL3' and such, in words
    free_directions: int


@dataclass(frozen=True)
class GlobalTest:
    degrees_of_freedom: int
    chi2: float
    low: float
    high: float  # 95 % two-sided
    sigma0: float

    @property
    def ok(self) -> bool:
        return self.degrees_of_freedom == 0 or self.low <= self.chi2 <= self.high


@dataclass(frozen=True, eq=False)
class Hidden:
    """k slips that the readings may hide: what they are of, how likely, and what they move in `Measured.vector`.

    `mean` and `way` (k, n): truth less estimate when the slip is there, as expected, and one spread of it.
    """

    lines: tuple[int, ...]
    labels: tuple[str, ...]  # 'height RW4'
    chance: Array  # (k,)
    mean: Array
    way: Array

    @classmethod
    def none(cls, size: int) -> Hidden:
        return cls((), (), np.zeros(0), np.zeros((0, size)), np.zeros((0, size)))


@dataclass(frozen=True, eq=False)
class Measured:
    """Everything known after measure-up.

    `vector` (n,) and `covariance` (n, n) hold points (3 each) and faces (4 each: normal, distance) in root axes;
    `where` maps a qualified name to its slice. Covariances are a priori (spreads as stated), as Baarda tests want.
    """

    points: dict[str, PointEstimate]
    faces: dict[str, FaceEstimate]
    poses: dict[str, Pose]  # body -> pose in root axes
    vector: Array
    covariance: Array
    where: dict[str, slice]
    readings: tuple[ReadingResult, ...]
    suspects: tuple[Suspect, ...]
    unlocated: tuple[Unlocated, ...]
    global_test: GlobalTest
    checks: tuple[Check, ...] = ()
    assumed: tuple[Assumed, ...] = field(default=())
    hidden: Hidden | None = None  # None where nobody asked

    @classmethod
    def none(cls) -> Measured:
        """Nothing measured, for what asks for no point."""
        return cls({}, {}, {}, np.zeros(0), np.zeros((0, 0)), {}, (), (), (), GlobalTest(0, 0.0, 0.0, 0.0, 1.0))

    def joint(self, names: Sequence[str]) -> tuple[Array, Array]:
        """Mean (m,) and covariance (m, m) of the named points and faces, stacked in the order given.

        Raises KeyError naming what is not located.
        """
        for name in names:
            if name not in self.where:
                raise KeyError(f"'{name}' is not located")
        at = np.concatenate([np.arange(self.where[n].start, self.where[n].stop) for n in names])
        return self.vector[at], self.covariance[np.ix_(at, at)]
