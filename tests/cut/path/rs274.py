"""A control that reads RS-274 by itself, word by word, and says every move. It knows nothing of how the file was made.

After T. Kramer, F. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556, 2000: words (3.3.2),
comments (3.3.5), modal groups (3.4), arcs in centre format (3.5.3.2), dwell (3.5.4); an arc whose two radii differ by
more than 0.0002 in or 0.002 mm is an error there (3.5.3.2), and so is a feed move without a feed (3.5.2).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import atan2, cos, hypot, pi, sin, tau

WORD = re.compile(r"([A-Z])([+-]?(?:\d+\.?\d*|\.\d+))")
G_GROUPS = {
    **dict.fromkeys((0.0, 1.0, 2.0, 3.0), "motion"),
    4.0: "none",
    **dict.fromkeys((17.0, 18.0, 19.0), "plane"),
    **dict.fromkeys((20.0, 21.0), "units"),
    **dict.fromkeys((40.0, 41.0, 42.0), "compensation"),
    **dict.fromkeys((90.0, 91.0), "distance"),
    **dict.fromkeys((93.0, 94.0), "feed mode"),
}
LONGEST_LINE = 256  # 3.3


class Wrong(Exception):
    """The file breaks a rule of the language."""


@dataclass
class Step:
    """One thing the machine does: 'rapid', 'line', 'arc', 'wait'. Lengths in mm, seconds as programmed."""

    kind: str
    start: tuple[float, float, float]
    end: tuple[float, float, float]
    on: bool  # the torch
    marker: bool
    seconds: float
    length: float
    centre: tuple[float, float] = (0.0, 0.0)
    sweep: float = 0.0
    line: int = 0

    def points(self, deviation: float = 0.001) -> list[tuple[float, float]]:
        """Corners of straight runs along the step, first and last among them."""
        if self.kind != "arc":
            return [self.start[:2], self.end[:2]]
        radius = hypot(self.start[0] - self.centre[0], self.start[1] - self.centre[1])
        step = max((8.0 * deviation / max(radius, deviation)) ** 0.5, 1e-3)
        count = max(2, int(abs(self.sweep) / step) + 1)
        first = atan2(self.start[1] - self.centre[1], self.start[0] - self.centre[0])
        turned = [first + self.sweep * n / count for n in range(1, count)]
        between = [(self.centre[0] + radius * cos(a), self.centre[1] + radius * sin(a)) for a in turned]
        return [self.start[:2], *between, self.end[:2]]


def run(
    text: str,
    rapid_mm_min: float,
    torch: tuple[str, str] = ("M3", "M5"),
    marker: tuple[str, str] = ("M7", "M9"),
    dwell_s: float = 1.0,
) -> list[Step]:
    """Every step of the file. Raises Wrong with the line's number for what a control would refuse."""
    here = [0.0, 0.0, 0.0]
    unit, absolute, motion, feed = 0.0, None, None, None
    on = marks = ended = False
    steps: list[Step] = []
    for number, raw in enumerate(text.splitlines(), start=1):
        if len(raw) > LONGEST_LINE:
            raise Wrong(f"line {number} is too long")
        line = re.sub(r"\([^()]*\)", "", raw).split(";")[0].upper()
        bare = re.sub(r"\s", "", line)
        if not bare:
            continue
        if ended:
            raise Wrong(f"line {number}: after the end")
        words = WORD.findall(bare)
        if "".join(letter + value for letter, value in words) != bare:
            raise Wrong(f"line {number}: '{raw}' holds what is no word")
        if words[0][0] == "N":
            words = words[1:]
        switched = False
        plain = " ".join(letter + value for letter, value in words)
        for name, (start_words, stop_words) in (("torch", torch), ("marker", marker)):
            if plain in (start_words, stop_words):
                state = plain == start_words
                if name == "torch":
                    if state == on:
                        raise Wrong(f"line {number}: the torch is {'on' if on else 'off'} already")
                    on = state
                else:
                    if state == marks:
                        raise Wrong(f"line {number}: the marker is so already")
                    marks = state
                switched = True
        if switched:
            continue
        given: dict[str, float] = {}
        groups: set[str] = set()
        wait = False
        for letter, value in words:
            figure = float(value)
            if letter == "G":
                group = G_GROUPS.get(figure)
                if group is None:
                    raise Wrong(f"line {number}: G{value} is not known")
                if group in groups:
                    raise Wrong(f"line {number}: two words of the group '{group}'")
                groups.add(group)
                if group == "motion":
                    motion = int(figure)
                elif group == "units":
                    unit = 25.4 if figure == 20.0 else 1.0
                elif group == "distance":
                    absolute = figure == 90.0
                elif group == "none":
                    wait = True
                elif figure in (18.0, 19.0, 41.0, 42.0, 93.0):
                    raise Wrong(f"line {number}: G{value} has no place here")
            elif letter == "M":
                if figure not in (2.0, 30.0):
                    raise Wrong(f"line {number}: M{value} switches nothing that is told")
                if on or marks:
                    raise Wrong(f"line {number}: ends with the torch on")
                ended = True
            elif letter in given:
                raise Wrong(f"line {number}: {letter} stands twice")
            else:
                given[letter] = figure
        if unknown := set(given) - set("XYZIJFP"):
            raise Wrong(f"line {number}: {unknown} is not known")
        if "F" in given:
            feed = given.pop("F") * unit
        if wait:
            seconds = given.pop("P") * dwell_s
            steps.append(Step("wait", tuple(here), tuple(here), on, marks, seconds, 0.0, line=number))
        if not given:
            continue
        if motion is None or unit == 0.0 or absolute is None:
            raise Wrong(f"line {number}: moves before units, distance mode and a motion are told")
        target = list(here)
        for axis, letter in enumerate("XYZ"):
            if letter in given:
                target[axis] = given[letter] * unit + (0.0 if absolute else here[axis])
        if motion in (2, 3):
            steps.append(_arc(number, motion, tuple(here), tuple(target), given, unit, feed, on, marks))
        else:
            if "I" in given or "J" in given:
                raise Wrong(f"line {number}: I or J in a straight move")
            if motion == 1 and not feed:
                raise Wrong(f"line {number}: no feed")
            length = sum((b - a) ** 2 for a, b in zip(here, target, strict=True)) ** 0.5
            speed = rapid_mm_min if motion == 0 else feed
            kind = "rapid" if motion == 0 else "line"
            steps.append(Step(kind, tuple(here), tuple(target), on, marks, 60 * length / speed, length, line=number))
        here = target
    if not ended:
        raise Wrong("the file does not end")
    return steps


def _arc(number, motion, here, target, given, unit, feed, on, marks) -> Step:
    if not feed:
        raise Wrong(f"line {number}: no feed")
    if "I" not in given and "J" not in given:
        raise Wrong(f"line {number}: an arc without a centre")
    if target[2] != here[2]:
        raise Wrong(f"line {number}: a helix")
    centre = (here[0] + given.get("I", 0.0) * unit, here[1] + given.get("J", 0.0) * unit)
    first = hypot(here[0] - centre[0], here[1] - centre[1])
    last = hypot(target[0] - centre[0], target[1] - centre[1])
    if abs(first - last) > (0.0002 * 25.4 if unit == 25.4 else 0.002):
        raise Wrong(f"line {number}: the arc's radii {first:.5f} and {last:.5f} differ")
    a = atan2(here[1] - centre[1], here[0] - centre[0])
    b = atan2(target[1] - centre[1], target[0] - centre[0])
    sweep = (b - a) % tau
    if motion == 2:
        sweep -= tau
    if abs(sweep) < 1e-12 or (here[:2] == target[:2]):
        sweep = tau if motion == 3 else -tau
    assert abs(sweep) <= 2 * pi + 1e-9
    length = abs(sweep) * (first + last) / 2
    return Step("arc", here, target, on, marks, 60 * length / feed, length, centre, sweep, number)
