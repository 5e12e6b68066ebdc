"""What differs between two revisions of a build, as frozen values in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from halfshaft.build.value import UnitSystem
from halfshaft.revisions.freeze import Revision
from halfshaft.revisions.shapes import Differs
from halfshaft.revisions.told_inputs import Said

Verdict = Literal["same", "keep", "rework", "cut again", "new", "gone"]


@dataclass(frozen=True, eq=False)
class PartMoved:
    """One part of the two revisions; `differs` where both have it."""

    name: str
    verdict: Verdict
    words: str
    why: tuple[str, ...]
    differs: Differs | None = None


@dataclass(frozen=True, slots=True)
class Moved:
    """A result that is not what it was, in words."""

    what: str
    old: str
    new: str
    change: str


@dataclass(frozen=True, eq=False)
class Comparison:
    """Everything that differs between two revisions."""

    old: Revision
    new: Revision
    units: UnitSystem
    said: tuple[Said, ...]
    because: tuple[str, ...]  # what single readings did to the brackets' holes
    moved: tuple[Moved, ...]
    parts: tuple[PartMoved, ...]
    worse: tuple[str, ...]  # checks that hold no more
    better: tuple[str, ...]

    @property
    def nothing(self) -> bool:
        return self.old.fingerprint == self.new.fingerprint
