"""Sentences in the builder's units: told in mm inside the stations, turned to inches at the door of an inch build."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from halfshaft.build.units import MM_PER_INCH, format_length
from halfshaft.checks import Check
from halfshaft.fold.model import FitChance

# what stands in quotes is to be written in the build as it stands there, where every unit reads
_SIZE = re.compile(r'"[^"]*"|(?<![\w.])(-?\d+(?:\.\d+)?) (mm³|mm²|mm|cm³|cm²)(?!\w)')
_TO_INCH = {"mm²": MM_PER_INCH**-2, "mm³": MM_PER_INCH**-3, "cm²": 100.0 / MM_PER_INCH**2, "cm³": 1e3 / MM_PER_INCH**3}


def said(sentence: str, units: str) -> str:
    """The sentence with each length, area and volume in the build's `units` ('metric' or 'inch'), names untouched."""
    if units == "metric":
        return sentence

    def turned(found: re.Match[str]) -> str:
        if found[1] is None:
            return found[0]
        value, unit = float(found[1]), found[2]
        if unit == "mm":
            return format_length(value, units)
        return f"{value * _TO_INCH[unit]:.2g} in{unit[-1]}"

    return _SIZE.sub(turned, sentence)


def said_checks(checks: Iterable[Check], units: str) -> tuple[Check, ...]:
    """The same judgements with what to do in the build's units; numbers apart from sentences stay in their unit."""
    return tuple(check if units == "metric" else replace(check, do=said(check.do, units)) for check in checks)


def said_chance(chance: FitChance, units: str) -> FitChance:
    """The same chance with its remedies in the build's units; what they write in the build stays as it is."""
    if units == "metric":
        return chance
    changes = tuple(replace(one, words=said(one.words, units)) for one in chance.changes)
    return replace(chance, remedies=tuple(said(r, units) for r in chance.remedies), changes=changes)
