"""Choices and what comes of them, as frozen values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.choices import Part
from halfshaft.build.choose import Aim, ChooseInput
from halfshaft.build.pack import BatteryInput
from halfshaft.build.road import CarInput, RoadInput
from halfshaft.checks import Assumed, Check

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Sweep:
    """Everything that any variant hangs on: it goes whole to whoever drives some of them.

    `car` is complete, its mass from the weights where it was left to them. Variants are numbered by their options, the
    last part's turning fastest.
    """

    told: ChooseInput
    car: CarInput
    road: RoadInput
    pack: BatteryInput | None
    parts: tuple[Part, ...]
    texts: Mapping[str, str]
    cycle: str
    station: str | None
    gross_kg: float | None
    assumed: tuple[Assumed, ...] = ()

    @property
    def count(self) -> int:
        return int(np.prod([len(part.options) for part in self.parts], dtype=np.int64))

    def options(self, variant: int) -> tuple[int, ...]:
        """Which option of each part a variant takes."""
        sizes = tuple(len(part.options) for part in self.parts)
        return tuple(int(n) for n in np.unravel_index(variant, sizes)) if sizes else ()


class Driven(NamedTuple):
    """What one variant does; infinite where it never gets there. `why` is empty, or says why it cannot be built so."""

    range_m: float
    wall_wh_m: float
    weight_kg: float  # of the empty car
    hundred_s: float
    top_m_s: float
    charge_s: float  # 10 to 80 %
    cost: float
    cost_spread: float
    why: str


@dataclass(frozen=True, slots=True)
class Pick:
    """A variant worth a look, and what for."""

    words: str
    variant: int


@dataclass(frozen=True, eq=False)
class Choice:
    """All variants driven. `rows` (n,) by variant; `kept` (n,) marks those that no other beats in the aims."""

    sweep: Sweep
    rows: tuple[Driven, ...]
    aims: tuple[Aim, ...]  # those that count: where variants differ
    kept: NDArray[np.bool_]
    picks: tuple[Pick, ...]
    checks: tuple[Check, ...]

    @property
    def assumed(self) -> tuple[Assumed, ...]:
        return self.sweep.assumed

    def named(self, variant: int) -> dict[str, str]:
        """The name of the option of each part."""
        chosen = zip(self.sweep.parts, self.sweep.options(variant), strict=True)
        return {part.name: part.options[at].name for part, at in chosen}

    def unsure(self, variant: int) -> tuple[str, ...]:
        """What is not sure of a variant, part by part."""
        chosen = zip(self.sweep.parts, self.sweep.options(variant), strict=True)
        return tuple(f"{part.name}: {part.options[at].uncertain}" for part, at in chosen if part.options[at].uncertain)
