"""Judgements and where they come from: found, limit, margin, source and what to do about it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol


class Origin(StrEnum):
    """Where a number or a rule comes from."""

    PUBLISHED = "published"
    COMMON_PRACTICE = "common practice"
    FROM_MEMORY = "from memory"
    DERIVED = "derived here"
    BUILDER = "given by the builder"
    INVENTED = "invented for the demo"


@dataclass(frozen=True, slots=True)
class Source:
    """One origin with its words: a standard with clause, a page of docs/, or the line of the build file."""

    origin: Origin
    text: str = ""

    def __str__(self) -> str:
        return f"{self.origin.value}: {self.text}" if self.text else self.origin.value


class Severity(StrEnum):
    """How bad it is when a check fails: stop work, take care, or only know."""

    STOP = "stop"
    CAUTION = "caution"
    NOTE = "note"


class Good(StrEnum):
    """Which way is good."""

    AT_LEAST = "at least"
    AT_MOST = "at most"
    TOLD = "told"  # a fact to know, neither pass nor fail


_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Check:
    """One judgement.

    `found` and `limit` are plain numbers in `unit` ('mm', 'deg', 'N', '%', ''); where a judgement has no number,
    both are None and `good` is TOLD or the text says it, with `failed_outright` set.
    `about` names the thing judged ('bracket front_left, hole RL3'); `do` is a sentence a builder can act on.
    """

    station: str
    about: str
    title: str
    source: Source
    severity: Severity
    do: str
    found: float | None = None
    limit: float | None = None
    unit: str = ""
    good: Good = Good.AT_LEAST
    failed_outright: bool = False

    @property
    def margin(self) -> float | None:
        """Room left in `unit`; negative when the check fails; None when there is no number."""
        if self.found is None or self.limit is None or self.good is Good.TOLD:
            return None
        return self.found - self.limit if self.good is Good.AT_LEAST else self.limit - self.found

    @property
    def ok(self) -> bool:
        if self.failed_outright:
            return False
        margin = self.margin
        # what was made to reach its limit reaches it, whatever the last digit of the sum says
        return margin is None or bool(margin >= -_ROUNDING * abs(self.limit or 0.0))


@dataclass(frozen=True, slots=True)
class Assumed:
    """A value the builder did not give. `where` is the name to write in the build file to give it."""

    where: str
    value: str
    source: Source


class Judged(Protocol):
    """What judges and assumes: the result of any station."""

    @property
    def checks(self) -> Sequence[Check]: ...

    @property
    def assumed(self) -> Sequence[Assumed]: ...


@dataclass(frozen=True, slots=True)
class Findings:
    """Judgements and assumed values of a step whose result is told elsewhere."""

    checks: tuple[Check, ...] = ()
    assumed: tuple[Assumed, ...] = ()


_ORDER = {Severity.STOP: 0, Severity.CAUTION: 1, Severity.NOTE: 2}


def worst_first(checks: Iterable[Check]) -> list[Check]:
    """Failed before passed, then by severity, then by the smallest margin relative to the limit."""

    def key(check: Check) -> tuple[bool, int, float]:
        margin = check.margin
        scale = abs(check.limit) if check.limit else 1.0
        return (check.ok, _ORDER[check.severity], 0.0 if margin is None else margin / scale)

    return sorted(checks, key=key)
