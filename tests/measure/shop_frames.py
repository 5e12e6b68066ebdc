"""Random ladder frames with a unit in them, measured as a shop would: a seed in, a build with slips and the truth out.

Sizes, counts and spreads are common practice, no source. Nothing here is worked out by the package under test but the
spreads of the catalogue's instruments; true readings are plain geometry.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.build import catalogue
from halfshaft.build.schema import Build, Reading

Array = NDArray[np.float64]

INSTRUMENT = {"tape": "tape", "caliper": "caliper", "height": "level", "rise": "level", "offset": "plumb",
              "station": "plumb", "angle": "angle_finder", "slope": "angle_finder", "mirror": "symmetry",
              "onface": "straightedge"}  # fmt: skip
DEGREES = {"angle", "slope"}


@dataclass(frozen=True, eq=False)
class Frame:
    """`spots` in each body's own axes by qualified name; `unit` is the pose (3, 3), (3,) of the unit in the car."""

    build: Build
    spots: dict[str, Array]
    turn: Array
    shift: Array
    slips: frozenset[int]  # rows of the readings

    def in_car(self, name: str) -> Array:
        at = self.spots[name]
        return self.turn @ at + self.shift if name.startswith("unit.") else at


def _rotation(rng: np.random.Generator, most_deg: float) -> Array:
    axis = rng.normal(size=3)
    axis /= np.linalg.norm(axis)
    angle = np.radians(rng.uniform(0.0, most_deg))
    k = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    return np.asarray(np.eye(3) + np.sin(angle) * k + (1 - np.cos(angle)) * k @ k)


def _frame_spots(rng: np.random.Generator, count: int) -> dict[str, Array]:
    length, half = rng.uniform(2000.0, 4000.0), rng.uniform(300.0, 600.0)
    low, high = 300.0, 700.0
    pairs = int(count * 0.4)
    spots: dict[str, Array] = {}
    lift = rng.uniform(low + 60.0, high - 60.0)
    for i, x in enumerate(np.sort(rng.uniform(-0.3 * length, 0.7 * length, pairs))):
        y = half * rng.uniform(0.75, 1.0)
        z = np.clip(lift + 120.0 * np.sin(x / 700.0) + rng.normal(0, 50.0), low, high)
        spots[f"car.L{i}"] = np.array([x, y, z]) + rng.normal(0.0, 3.0, 3)
        spots[f"car.R{i}"] = np.array([x, -y, z]) + rng.normal(0.0, 3.0, 3)
    for i in range(count - 2 * pairs):
        spots[f"car.M{i}"] = np.array(
            [rng.uniform(-0.3 * length, 0.7 * length), rng.uniform(-0.8, 0.8) * half, rng.uniform(low, high)]
        )
    return spots


def _true(kind: str, at: list[Array]) -> float:
    if kind in ("tape", "caliper"):
        return float(np.linalg.norm(at[0] - at[1]))
    if kind == "angle":
        a, c = at[0] - at[1], at[2] - at[1]
        return float(np.degrees(np.arccos(a @ c / np.linalg.norm(a) / np.linalg.norm(c))))
    if kind == "slope":
        up = at[1] - at[0]
        return float(np.degrees(np.arcsin(up[2] / np.linalg.norm(up))))
    if kind == "rise":
        return float(at[1][2] - at[0][2])
    return float(at[0][{"height": 2, "offset": 1, "station": 0}[kind]])


def _slipped(rng: np.random.Generator, kind: str, value: float) -> float:
    """Inches written as centimetres, digits turned round, a wrong hole, the wrong side, the hook of the tape."""
    if kind in DEGREES:
        return value + float(rng.choice([-10.0, 10.0]))
    which = rng.integers(5)
    if which == 0:
        return value / 2.54
    if which == 1:
        digits = list(f"{abs(round(value)):d}")
        if len(digits) >= 2:
            k = int(rng.integers(len(digits) - 1))
            digits[k], digits[k + 1] = digits[k + 1], digits[k]
            turned = float("".join(digits)) * (1.0 if value >= 0 else -1.0)
            if abs(turned - value) > 15.0:
                return turned
    if which == 2 and kind in ("offset", "station"):
        return -value
    if which == 3:
        return value + float(rng.choice([-1.0, 1.0])) * float(rng.uniform(60.0, 300.0))
    return value + float(rng.choice([-25.0, 25.0]))


def _own_rows(rng: np.random.Generator, spots: dict[str, Array], body: str) -> list[tuple[str, tuple[str, ...]]]:
    """Four to eight scalar readings a point, of mixed kinds."""
    names = [n for n in spots if n.startswith(body)]
    rows: list[tuple[str, tuple[str, ...]]] = []
    count = dict.fromkeys(names, 0)
    seen: set[frozenset[str]] = set()

    def add(kind: str, *points: str) -> None:
        if kind in ("tape", "caliper"):
            if frozenset(points) in seen:
                return
            seen.add(frozenset(points))
            gap = float(np.linalg.norm(spots[points[0]] - spots[points[1]]))
            kind = "caliper" if gap < 150.0 and rng.random() < 0.7 else "tape"
        rows.append((kind, points))
        for p in points:
            count[p] += 1

    sides = body == "car"
    for name in names:
        if rng.random() < 0.85:
            add("height", name)
        if sides and rng.random() < 0.55:
            add("offset", name)
        if sides and rng.random() < 0.4:
            add("station", name)
    for name in names:
        wanted = int(rng.integers(5, 9))
        gaps = {o: float(np.linalg.norm(spots[o] - spots[name])) for o in names if o != name}
        near = sorted(gaps, key=gaps.__getitem__)
        while count[name] < wanted and near:
            pool = near[: max(6, len(near) // 2)] if rng.random() < 0.7 else near
            other = str(rng.choice(pool))
            near.remove(other)
            kind = rng.random()
            if kind < 0.06:
                add("rise", name, other)
            elif kind < 0.12 and gaps[other] > 200.0:
                add("slope", name, other)
            elif kind < 0.18 and len(near) > 1 and gaps[other] > 150.0:
                third = str(rng.choice(near))
                if gaps[third] > 150.0:
                    add("angle", other, name, third)
            elif name.partition(".")[2][0] == "L" and kind < 0.22:
                add("mirror", name, "car.R" + name.partition(".")[2][1:])
            else:
                add("tape", name, other)
    return rows


def frame(seed: int, points: int | None = None, unit: bool = True, slips: float = 0.03) -> Frame:
    """One shop job. `slips` is the part of the readings that are gross."""
    rng = np.random.default_rng(seed)
    spots = _frame_spots(rng, points or int(rng.integers(20, 61)))
    turn, shift = _rotation(rng, 12.0), np.array([rng.uniform(0.0, 600.0), rng.normal(0.0, 40.0), 250.0])
    rows = [(k, p, "") for k, p in _own_rows(rng, spots, "car")]
    if unit:
        for i in range(int(rng.integers(8, 13))):
            spots[f"unit.U{i}"] = np.array([rng.uniform(-350, 350), rng.uniform(-300, 300), rng.uniform(0, 400)])
        rows += [(k, p, "") for k, p in _own_rows(rng, spots, "unit")]
        cars = sorted((n for n in spots if n.startswith("car")), key=lambda n: float(np.linalg.norm(spots[n] - shift)))[
            :10
        ]
        units = [n for n in spots if n.startswith("unit")]
        pairs = [(str(c), str(u)) for c in cars for u in units]
        for k in rng.permutation(len(pairs))[: int(rng.integers(9, 12))]:
            rows.append(("tape", pairs[k], ""))
        for u in rng.permutation(units)[: int(rng.integers(1, 4))]:
            rows.append((str(rng.choice(["height", "offset"])), (str(u),), "car"))
    readings, slipped = [], set()
    for i, (kind, names, named_frame) in enumerate(rows):
        across = bool(named_frame) or len({n.partition(".")[0] for n in names}) > 1
        at = [turn @ spots[n] + shift if across and n.startswith("unit") else spots[n] for n in names]
        if kind == "mirror":
            readings.append(Reading(kind=kind, names=names, line=i + 2, spread=4.0))
            continue
        value = _true(kind, at)
        tool = catalogue.instrument(INSTRUMENT[kind])
        spread = tool.spread + (0.0 if kind in DEGREES else tool.per_metre * abs(value) / 1000.0)
        value += float(rng.normal(0.0, spread))
        if rng.random() < slips:
            value = _slipped(rng, kind, value)
            slipped.add(i)
        readings.append(Reading(kind=kind, names=names, value=(value,), frame=named_frame, line=i + 2))
    middle_x = {b: float(np.median([p[0] for n, p in spots.items() if n.startswith(b)])) for b in ("car", "unit") if
                any(n.startswith(b) for n in spots)}  # fmt: skip
    body: dict[str, dict[str, object]] = {}
    for name, at in spots.items():
        owner, _, bare = name.partition(".")
        hint: dict[str, str] = {}
        if rng.random() < 0.9 and abs(at[1]) > 20.0:
            hint["side"] = "left" if at[1] > 0 else "right"
        start = 0.0 if owner == "car" else middle_x[owner]
        if rng.random() < 0.6 and abs(at[0] - start) > 40.0:
            hint["end"] = "front" if at[0] > start else "rear"
        heights = [p[2] for n, p in spots.items() if n.startswith(owner)]
        if rng.random() < 0.7 and abs(at[2] - np.median(heights)) > 30.0:
            hint["height"] = "up" if at[2] > np.median(heights) else "down"
        body.setdefault(owner, {"point": {}})["point"][bare] = hint  # type: ignore[index]
    build = Build.model_validate({"build": {"name": f"frame {seed}"}, "body": body})
    return Frame(build.model_copy(update={"readings": tuple(readings)}), spots, turn, shift, frozenset(slipped))
