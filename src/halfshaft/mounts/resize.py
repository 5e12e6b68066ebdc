"""The thinnest sheet that holds: how to make a bracket of a thickness and how to judge it in; trials and a word out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from halfshaft.build import Build
from halfshaft.checks import Check, Severity
from halfshaft.fold import Bracket, shaped
from halfshaft.measure.model import Measured
from halfshaft.mounts.bracket_checks import stock_thicknesses_mm
from halfshaft.mounts.bracket_stress import BracketStress
from halfshaft.mounts.verdict import CARE, practice, told

_SOURCE = practice("search by halves over stock thicknesses")


@dataclass(frozen=True, slots=True)
class Trial:
    """One thickness tried: use of the place that gives way first (1 at its limit), or why it cannot be made."""

    thickness_mm: float
    mass_kg: float
    use: float
    first: str
    holds: bool
    refused: str = ""


@dataclass(frozen=True, slots=True)
class Resized:
    """`least_mm` is the thinnest stock that holds, None where none does; trials thinnest first."""

    bracket: str
    as_drawn_mm: float
    least_mm: float | None
    trials: tuple[Trial, ...]
    words: str

    @property
    def check(self) -> Check:
        about = f"bracket {self.bracket}"
        if self.least_mm is not None:
            return told(about, "Thinnest sheet that holds", _SOURCE, f"{self.words} {CARE}", self.least_mm, "mm")
        return Check(
            "mounts", about, "No sheet in stock holds", _SOURCE, Severity.STOP, f"{self.words} {CARE}",
            failed_outright=True,
        )  # fmt: skip


def least_thickness(
    bracket: Bracket,
    remake: Callable[[float], Bracket],
    judge: Callable[[Bracket], BracketStress],
    thicknesses_mm: Sequence[float] | None = None,
) -> Resized:
    """Least mass on request: the thinnest of the stock thicknesses at which every place and weld holds.

    Halves its way through them; one in which the bracket cannot be made is passed over for the next thicker one.
    `remake` gives the bracket in another thickness, with holes and folds where they are; `judge` works its stress. A
    thicker sheet is taken to be the stronger. Raises ValueError for no thickness.
    """
    stock = sorted(set(stock_thicknesses_mm() if thicknesses_mm is None else thicknesses_mm))
    if not stock:
        raise ValueError(f"bracket {bracket.name}: name a thickness to try")
    trials: dict[float, Trial] = {}

    def trial(index: int) -> Trial:
        if stock[index] not in trials:
            trials[stock[index]] = _tried(stock[index], remake, judge)
        return trials[stock[index]]

    def made(index: int, end: int) -> int:
        """The first from there on that can be made, or the end."""
        while index < end and trial(index).refused:
            index += 1
        return index

    low, high = 0, len(stock)  # below `low` all is too weak or cannot be made; from `high` on nothing is left to ask
    while low < high:
        middle = (low + high) // 2
        tried_at = made(middle, high)
        if tried_at == high or trial(tried_at).holds:
            high = middle
        else:
            low = tried_at + 1
    least = min((t.thickness_mm for t in trials.values() if t.holds), default=None)
    tried = tuple(trials[t] for t in sorted(trials))
    return Resized(bracket.name, bracket.thickness_mm, least, tried, _words(bracket, least, tried))


def _tried(thickness_mm: float, remake: Callable[[float], Bracket], judge: Callable[[Bracket], BracketStress]) -> Trial:
    made = remake(thickness_mm)
    stops = [c for c in made.checks if not c.ok and c.severity is Severity.STOP]
    if stops or not made.panels:
        why = stops[0].do if stops else "it cannot be drawn"
        return Trial(thickness_mm, 0.0, float("inf"), "", False, why)
    try:
        result = judge(made)
    except ValueError as why:
        return Trial(thickness_mm, made.mass_kg, float("inf"), "", False, str(why))
    use = max(result.first.use, max((life.damage for life in result.lives), default=0.0) ** (1.0 / 3.0))
    return Trial(thickness_mm, made.mass_kg, use, result.first.place, result.holds)


def _words(bracket: Bracket, least: float | None, trials: Sequence[Trial]) -> str:
    drawn = f"{bracket.thickness_mm:.3g}"
    if least is None:
        made = [trial for trial in trials if not trial.refused]
        if not made:
            last = trials[-1]
            return f"At {last.thickness_mm:.3g} mm it cannot be made: {last.refused}"
        last = made[-1]
        gives = f"Even {last.thickness_mm:.3g} mm gives way, first at {last.first}"
        return f"{gives}: change the shape, or add a gusset there."
    if abs(least - bracket.thickness_mm) < 1e-6:
        return f"Thickness {drawn} mm as drawn is the thinnest that holds."
    return f"Thickness {least:.3g} instead of {drawn} mm holds."


def remade(build: Build, measured: Measured, name: str, thickness_mm: float) -> Bracket:
    """A bracket of the build drawn in another thickness of the same material.

    The pivot of a coupon belongs to the sheet it was folded from, so it is left out.
    Raises KeyError where the build has no such bracket.
    """
    sheet = build.sheet[build.bracket[name].sheet]
    other = sheet.model_copy(update={"thickness_mm": thickness_mm, "pivot_depth_mm": None})
    sheets = {**build.sheet, build.bracket[name].sheet: other}
    return shaped(build.model_copy(update={"sheet": sheets}), measured, name)
