"""Ways to misread a value: a reading as written in, values it may have been meant to be out."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from halfshaft.build import catalogue, units
from halfshaft.build.schema import Reading
from halfshaft.measure.network import DEGREES, KIND_OF

_SIDE = re.compile(r"\s*\b(left|right|l|r|front|forward|ahead|rear|back|behind)\.?\s*$", re.IGNORECASE)
_UNIT_MM = {"mm": 1.0, "cm": 10.0, "in": 25.4, "m": 1000.0, "ft": 304.8}
_UNIT_NAME = {"inch": "in", "inches": "in", '"': "in", "foot": "ft", "feet": "ft", "'": "ft"}
_UNIT_TOLD = {"mm": "millimetres", "cm": "centimetres", "in": "inches", "m": "metres", "ft": "feet"}
_SIGNED = frozenset({"rise", "offset", "station", "slope", "onface", "given"})
_FRACTION = re.compile(r"(\d+)\s*/\s*(\d+)")
_FEET_INCHES = re.compile(r"(\d+)\s*(?:ft|foot|feet|')\.?[\s,-]*(\d+)(?:\s*(?:in|inch|inches|\"))?\.?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Guess:
    """What a reading may have been meant to be.

    `kind` is a row of catalogue/slips.toml; `share` is its part of that row's weight, not yet scaled to one in total;
    `value` in mm or degrees; `asks` is the cause as a question.
    """

    kind: str
    share: float
    value: tuple[float, ...]
    asks: str


def written(reading: Reading, system: str) -> str:
    """The value as the builder wrote it ('14 3/16 in', '412 left'); made up from the number where no text is kept."""
    try:
        cells = [c.strip() for c in next(csv.reader([reading.text.replace(";", ",")], skipinitialspace=True))]
    except (csv.Error, StopIteration):
        cells = []
    for cell in [*cells[2:], *cells[:2], reading.text.strip()]:
        if any(ch.isdigit() for ch in cell) and _same(_read(cell, reading, system), reading.value):
            return cell
    if reading.kind in DEGREES:
        return f"{reading.value[0]:g}"
    per = 1.0 if system == "metric" else units.MM_PER_INCH
    return "; ".join(f"{v / per:.10g}" for v in reading.value)


def _same(a: tuple[float, ...] | None, b: tuple[float, ...]) -> bool:
    return a is not None and len(a) == len(b) and all(abs(p - q) < 1e-6 for p, q in zip(a, b, strict=True))


def _read(cell: str, reading: Reading, system: str) -> tuple[float, ...] | None:
    """The value (1,) or (3,) of a text for this kind of reading; None where it is no such value."""
    try:
        if reading.kind == "given":
            return units.read_spot_mm(cell, system)
        if KIND_OF[reading.kind] in DEGREES:
            return (units.read_angle_deg(cell, system),)
        bare = _SIDE.sub("", cell)
        length = units.read_length_mm(bare, system)
        if bare != cell and reading.value and reading.value[0] < 0.0:
            length = -length
        return (length,)
    except ValueError:
        return None


def unit_written(cell: str, system: str) -> str:
    """'mm', 'cm', 'in', 'm' or 'ft' of a length as written; the build's own where none is; '' for feet and inches."""
    found = re.findall(r"[a-zA-Z]+|[\"']", _SIDE.sub("", cell))
    names = {_UNIT_NAME.get(word.lower(), word.lower()) for word in found} & set(_UNIT_MM)
    if len(names) > 1:
        return ""
    return names.pop() if names else ("mm" if system == "metric" else "in")


def guesses(reading: Reading, system: str) -> Iterator[Guess]:
    """Every value that a known way to misread would turn into the one written."""
    if not reading.value:
        return
    kind = KIND_OF[reading.kind]
    cell = written(reading, system)

    def fits(value: tuple[float, ...] | None) -> bool:
        if value is None or len(value) != len(reading.value) or _same(value, reading.value):
            return False
        if kind == "slope":
            return abs(value[0]) < 90.0
        if kind in DEGREES:
            return 0.0 < value[0] < 180.0
        return kind != "distance" or value[0] > 0.0

    ways: list[Iterator[Guess]] = [
        _text_ways(cell, lambda text: _read(text, reading, system)),
        _signs(reading, kind),
    ]
    if kind in DEGREES:
        ways.append(_angles(reading, kind))
    else:
        ways.extend([_unit_ways(reading, cell, system), _counts(reading, kind, cell, system)])
        ways.append(_fraction_ways(cell, lambda text: _read(text, reading, system)))
        ways.append(_feet_ways(reading, cell))
        if kind == "offset":
            v = reading.value[0]
            ways.append(iter([Guess("half", 1.0, (v / 2.0,), "the whole width written for the half?")]))
    for way in ways:
        for guess in way:
            if fits(guess.value):
                yield guess


def _text_ways(cell: str, read: Callable[[str], tuple[float, ...] | None]) -> Iterator[Guess]:
    """Digits turned round, mistaken, left out or doubled, in the text itself."""
    at = [i for i, ch in enumerate(cell) if ch.isdigit()]
    likely = {frozenset(pair) for pair in catalogue.slips()["digit"].more["pairs"]}

    def put(kind: str, share: float, text: str, asks: str) -> Iterator[Guess]:
        value = read(text)
        if value is not None:
            yield Guess(kind, share, value, asks)

    for a, i in enumerate(at):
        for b, j in enumerate(at[a + 1 :], a + 1):
            if cell[i] != cell[j]:
                text = cell[:i] + cell[j] + cell[i + 1 : j] + cell[i] + cell[j + 1 :]
                yield from put("turned", 1.0 if b == a + 1 else 0.2, text, "digits turned round?")
        for digit in "0123456789":
            if digit != cell[i]:
                share = 1.0 if frozenset((digit, cell[i])) in likely else 0.2
                text = cell[:i] + digit + cell[i + 1 :]
                yield from put("digit", share, text, f"a {digit} taken for a {cell[i]}?")
        for digit in "0123456789":
            doubled = digit == cell[i]
            text = cell[:i] + digit + cell[i:]
            yield from put("length", 1.0 if doubled else 0.1, text, f"a {digit} left out?")
        twice = a > 0 and at[a - 1] == i - 1 and cell[i - 1] == cell[i]
        yield from put("length", 1.0 if twice else 0.1, cell[:i] + cell[i + 1 :], f"a {cell[i]} too many?")
    if len(at) == 3 and cell[at[0]] != cell[at[2]]:
        # 412 heard as 124 or 241: all three moved on by one
        for order in ((1, 2, 0), (2, 0, 1)):
            letters = list(cell)
            for to, source in zip(at, order, strict=True):
                letters[to] = cell[at[source]]
            yield from put("turned", 0.2, "".join(letters), "digits turned round?")


def _signs(reading: Reading, kind: str) -> Iterator[Guess]:
    if kind not in _SIGNED:
        return
    asks = {
        "offset": "left and right mistaken?",
        "station": "front and rear mistaken?",
        "onface": "inside and outside of the face mistaken?",
        "slope": "up and down mistaken?",
        "rise": "up and down mistaken?",
    }.get(kind, "sign mistaken?")
    if kind in ("rise", "slope"):
        return  # told as points in the wrong order
    for i, v in enumerate(reading.value):
        turned = list(reading.value)
        turned[i] = -v
        yield Guess("sign", 1.0, tuple(turned), asks)


def _angles(reading: Reading, kind: str) -> Iterator[Guess]:
    v = reading.value[0]
    side = 1.0 if v >= 0.0 else -1.0
    if kind == "slope":
        yield Guess("complement", 1.0, (side * (90.0 - abs(v)),), "read against the upright?")
        yield Guess("complement", 0.5, (-side * (90.0 - abs(v)),), "read against the upright, the other way?")
        return
    yield Guess("complement", 1.0, (180.0 - v,), "the rest to 180 degrees read?")
    yield Guess("complement", 0.7, (90.0 - v,), "the rest to 90 degrees read?")
    yield Guess("complement", 0.5, (90.0 + v,), "90 degrees not added?")
    yield Guess("complement", 0.5, (v - 90.0,), "90 degrees not taken off?")


def _unit_ways(reading: Reading, cell: str, system: str) -> Iterator[Guess]:
    unit = unit_written(cell, system)
    if not unit:
        return
    for other, size in _UNIT_MM.items():
        if other == unit:
            continue
        share = 1.0 if {unit, other} <= {"mm", "cm", "in"} else 0.3
        factor = size / _UNIT_MM[unit]
        asks = f"{_UNIT_TOLD[other]} written as {_UNIT_TOLD[unit]}?"
        yield Guess("unit", share, tuple(v * factor for v in reading.value), asks)
    if unit == "in":
        yield Guess("unit", 0.1, tuple(v / 10.0 for v in reading.value), "point in the wrong place?")


def _counts(reading: Reading, kind: str, cell: str, system: str) -> Iterator[Guess]:
    by_inch = unit_written(cell, system) not in ("mm", "cm", "m")
    rows = catalogue.slips()
    names = ["count"] if kind != "distance" or reading.kind != "tape" else ["count", "start"]
    for name in names:
        row = rows[name]
        for system_of_step, per in (("mm", 1.0), ("in", units.MM_PER_INCH)):
            # Most tapes carry both scales, so the other one is possible, but rarer.
            usual = 1.0 if (system_of_step == "in") == by_inch else 0.25
            steps, shares = row.more[f"steps_{system_of_step}"], row.more[f"shares_{system_of_step}"]
            for step, share in zip(steps, shares, strict=True):
                if name == "start":
                    told = f"tape held at the {step:g} {system_of_step} mark and that not taken off?"
                else:
                    told = f"read at the wrong {_mark(step, system_of_step)}?"
                for way in (-1.0,) if name == "start" else (-1.0, 1.0):
                    for i, v in enumerate(reading.value):
                        moved = list(reading.value)
                        moved[i] = v + way * step * per
                        yield Guess(name, usual * share, tuple(moved), told)


def _mark(step: float, unit: str) -> str:
    if unit == "in":
        return {1.0: "inch", 0.5: "half inch", 12.0: "foot"}.get(step, f"{step:g} inches")
    return {10.0: "centimetre", 100.0: "hundred", 1000.0: "metre"}.get(step, f"{step:g} mm mark")


def _fraction_ways(cell: str, read: Callable[[str], tuple[float, ...] | None]) -> Iterator[Guess]:
    found = _FRACTION.search(cell)
    if found:
        above, below = int(found.group(1)), int(found.group(2))
        texts = [(f"{above}/{d}", 1.0) for d in (2, 4, 8, 16, 32, 64) if d != below and above < d]
        texts += [(f"{a}/{below}", 0.6) for a in (above - 2, above - 1, above + 1, above + 2) if 0 < a < below]
        for fraction, share in texts:
            value = read(cell[: found.start()] + fraction + cell[found.end() :])
            if value is not None:
                yield Guess("fraction", share, value, f"{fraction} read as {above}/{below}?")
        return
    decimal = re.search(r"(\d+)\.(\d{1,2})\s*(?:in|inch|inches|\")", cell, re.IGNORECASE)
    if decimal:
        above = int(decimal.group(2))
        for below in (4, 8, 16, 32):
            if 0 < above < below:
                value = read(f"{decimal.group(1)} {above}/{below} in")
                if value is not None:
                    asks = f"{above}/{below} written as a decimal?"
                    yield Guess("fraction", 1.0, value, asks)


def _feet_ways(reading: Reading, cell: str) -> Iterator[Guess]:
    if len(reading.value) != 1:
        return
    side = -1.0 if reading.value[0] < 0.0 else 1.0
    bare = _SIDE.sub("", cell).strip().lstrip("+-").strip()

    def of(inches: float, asks: str, share: float = 1.0) -> Guess:
        return Guess("feet", share, (side * inches * units.MM_PER_INCH,), asks)

    both = _FEET_INCHES.fullmatch(bare)
    if both:
        feet, inches = int(both.group(1)), int(both.group(2))
        yield of((feet + inches / 10.0) * 12.0, f"{feet}.{inches} ft written as {feet} ft {inches} in?")
        yield of(float(f"{feet}{inches}"), f"{feet}{inches} in written as {feet} ft {inches} in?")
        yield of(float(f"{feet}.{inches}"), f"{feet}.{inches} in written as {feet} ft {inches} in?", 0.3)
        return
    decimal = re.fullmatch(r"(\d+)\.(\d{1,2})\s*(?:ft|foot|feet|')", bare, re.IGNORECASE)
    if decimal and int(decimal.group(2)) < 12:
        feet, inches = int(decimal.group(1)), int(decimal.group(2))
        yield of(feet * 12.0 + inches, f"{feet} ft {inches} in written as {decimal.group(0)}?")
        return
    whole = re.fullmatch(r"(\d)(\d{1,2})\s*(?:in|inch|inches|\")?", bare, re.IGNORECASE)
    if whole and re.search(r"[a-z\"]", bare, re.IGNORECASE) and int(whole.group(2)) < 12:
        feet, inches = int(whole.group(1)), int(whole.group(2))
        yield of(feet * 12.0 + inches, f"{feet} ft {inches} in written as {feet}{inches} in?")
