"""Random frames with a drive unit between the rails: a seed in, true places and honest readings of them out.

Everything is invented: two rails with inner webs and lower flanges, tapering, kicked up and out of true; a few points
on the cross members; a drive unit with an ear on each side and a foot at the rear, measured on the bench and in place.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.schema import Build, Reading
from halfshaft.geometry.pose import turn
from halfshaft.measure.network import Network, State, network_of, predict

Array = NDArray[np.float64]
Row = tuple[str, tuple[str, ...], str]  # kind, qualified names, frame

FLATNESS_MM = 0.3
# The shop's way: a coupon folded, M10 through 12 mm holes in frame and unit, oversize holes with plate washers in the
# bracket, bolts of a 5 mm plate that close 1.5 mm.
FRAME_HOLE, HOLE_SHAPE, PULL_UP_MM, FOLD_SPREAD_DEG = "12 mm", "oversize", 1.5, 0.5
SHOP_WORDS = f"M10 in {FRAME_HOLE} holes, {HOLE_SHAPE} holes in it, bolts close {PULL_UP_MM:g} mm, coupon folded"


@dataclass(frozen=True, eq=False)
class Truth:
    """Places as they are: points (3,) and faces (normal, distance) in their own body's axes; the unit's pose."""

    spots: Mapping[str, Array]
    faces: Mapping[str, tuple[Array, float]]
    on_face: Mapping[str, tuple[str, ...]]
    rotation: Array
    shift_mm: Array
    brackets: Mapping[str, Mapping[str, object]]

    def state(self, network: Network) -> State:
        normals = [self.faces[n][0] for n in network.face_names]
        return State(
            np.array([self.spots[n] for n in network.point_names]),
            np.array(normals).reshape(-1, 3),
            np.array([self.faces[n][1] for n in network.face_names]),
            np.array([np.eye(3) if b == "car" else self.rotation for b in network.body_names]),
            np.array([np.zeros(3) if b == "car" else self.shift_mm for b in network.body_names]),
        )

    def in_car_mm(self, name: str) -> Array:
        spot = self.spots[name]
        return spot if name.startswith("car.") else self.rotation @ spot + self.shift_mm

    def face_in_car(self, name: str) -> tuple[Array, float]:
        normal, distance = self.faces[name]
        if name.startswith("car."):
            return normal, distance
        turned = self.rotation @ normal
        return turned, distance + float(turned @ self.shift_mm)


def _unit(vector: Sequence[float]) -> Array:
    v = np.asarray(vector, dtype=float)
    return v / np.linalg.norm(v)


def _tilted(rng: np.random.Generator, normal: Sequence[float], most_deg: float) -> Array:
    return np.asarray(turn(np.radians(rng.uniform(-most_deg, most_deg, 3))) @ _unit(normal))


def _meet(planes: Sequence[tuple[Array, float]]) -> Array:
    return np.linalg.solve(np.array([n for n, _ in planes]), np.array([d for _, d in planes]))


def _drop(spot: Array, plane: tuple[Array, float], rng: np.random.Generator) -> Array:
    """The spot on the plane, off it by what rolled steel is."""
    normal, distance = plane
    return spot - (float(normal @ spot) - distance + rng.normal() * FLATNESS_MM) * normal


def random_truth(rng: np.random.Generator) -> Truth:
    """A frame of 24 to 34 points, a unit of 12, three brackets' worth of holes."""
    spots: dict[str, Array] = {}
    faces: dict[str, tuple[Array, float]] = {}
    on_face: dict[str, tuple[str, ...]] = {}
    half, height = rng.uniform(330.0, 460.0), rng.uniform(430.0, 600.0)
    taper, kick = rng.uniform(-5.0, 5.0), rng.uniform(-6.0, 6.0)
    front = rng.uniform(150.0, 450.0)
    lean = np.radians(taper)
    ears: dict[str, tuple[Array, float]] = {}
    corners: dict[str, Array] = {}
    for side, s in (("L", 1.0), ("R", -1.0)):
        web_normal = turn(np.array([0.0, 0.0, s * lean])) @ _tilted(rng, [0.0, -s, 0.0], 2.0)
        web = (web_normal, float(web_normal @ [0.0, s * half + rng.normal() * 2.0, height]))
        flange_normal = turn(np.array([0.0, np.radians(kick), 0.0])) @ _tilted(rng, [0.0, 0.0, -1.0], 2.0)
        flange = (flange_normal, float(flange_normal @ [front, s * half, height - 55.0]))
        ear_normal = _tilted(rng, [1.0, 0.0, 0.0], 12.0)
        ear = (ear_normal, float(ear_normal @ [front, s * half, height]))
        faces[f"car.web{side}"], faces[f"car.flange{side}"] = web, flange
        ears[side] = ear
        corner = _meet([web, flange, ear])
        corners[side] = corner
        names = []
        # the bracket's own holes, ahead of the corner, then further ones along the rail
        wanted = [(55.0, 28.0), (135.0, 30.0)] + [
            (float(x) - corner[0], float(rng.uniform(15.0, 95.0)))
            for x in rng.uniform(-650.0, 900.0, int(rng.integers(3, 6)))
        ]
        for number, (along, up) in enumerate(wanted, 1):
            name = f"car.{side}W{number}"
            x = corner[0] + along
            low = (flange[1] - flange_normal[0] * x - flange_normal[1] * s * half) / flange_normal[2]
            spots[name] = _drop(np.array([x, s * half, low + up]), web, rng)
            names.append(name)
        on_face[f"car.web{side}"] = tuple(names)
        names = []
        for number in range(1, int(rng.integers(4, 6))):
            along = (70.0, 120.0)[number - 1] if number <= 2 else float(rng.uniform(-400.0, 600.0))
            name = f"car.{side}F{number}"
            inward = 35.0 + (rng.uniform(0.0, 25.0) if number > 2 else 0.0)
            x, z = corner[0] + along, height - 55.0
            at_web = (web[1] - web_normal[0] * x - web_normal[2] * z) / web_normal[1]
            spots[name] = _drop(np.array([x, at_web + s * inward, z]), flange, rng)
            names.append(name)
        on_face[f"car.flange{side}"] = tuple(names)
    for number in range(1, int(rng.integers(4, 8))):
        spots[f"car.T{number}"] = np.array(
            [rng.uniform(-700, 900), rng.uniform(-200, 200), height + rng.uniform(-60, 60)]
        )
    rotation = np.asarray(turn(np.radians(rng.uniform(-6.0, 6.0, 3))))
    shift = np.array([front - 200.0, rng.uniform(-25, 25), height - 40.0])

    def to_unit(spot: Array) -> Array:
        return rotation.T @ (spot - shift)

    def unit_plane(plane: tuple[Array, float]) -> tuple[Array, float]:
        return rotation.T @ plane[0], plane[1] - float(plane[0] @ shift)

    for side, s in (("L", 1.0), ("R", -1.0)):
        faces[f"unit.ear{side}"] = unit_plane(ears[side])
        names = []
        for number, (inward, up) in enumerate([(60.0, 30.0), (105.0, 85.0), (115.0, 25.0), (75.0, 95.0)], 1):
            name = f"unit.{side}E{number}"
            place = corners[side] + np.array([0.0, -s * inward, up])
            spots[name] = to_unit(_drop(place, ears[side], rng))
            names.append(name)
        on_face[f"unit.ear{side}"] = tuple(names)
    foot_normal = _tilted(rng, [0.0, 0.0, -1.0], 6.0)
    foot = (foot_normal, float(foot_normal @ [front - 380.0, 0.0, height - 120.0]))
    faces["unit.foot"] = unit_plane(foot)
    names = []
    for number, (x, y) in enumerate([(-350.0, 60.0), (-420.0, 55.0), (-345.0, -62.0), (-425.0, -58.0)], 1):
        name = f"unit.B{number}"
        spots[name] = to_unit(_drop(np.array([front + x, y, height - 120.0]), foot, rng))
        names.append(name)
    on_face["unit.foot"] = tuple(names)
    brackets = {f"front_{side}": _bracket(side) for side in "LR"}
    return Truth(spots, faces, on_face, rotation, shift, brackets)


def _bracket(side: str) -> dict[str, object]:
    """Flange, web and ear in a chain, two bolts on each."""

    def hole(at: str, **more: object) -> dict[str, object]:
        return {"at": at, "bolt": "M10", "boss": "22 mm", "shape": HOLE_SHAPE, "frame_hole": FRAME_HOLE, **more}

    return {
        "sheet": "plate",
        "panel": {
            "flange": {"face": f"car.flange{side}", "holes": [hole(f"car.{side}F1"), hole(f"car.{side}F2")]},
            "web": {"face": f"car.web{side}", "holes": [hole(f"car.{side}W1"), hole(f"car.{side}W2")]},
            "ear": {"face": f"unit.ear{side}", "holes": [hole(f"unit.{side}E1"), hole(f"unit.{side}E2")]},
        },
        "folds": [{"between": ["web", "flange"]}, {"between": ["web", "ear"]}],
    }


def build_of(truth: Truth, readings: Iterable[Reading] = (), **shop: object) -> Build:
    """The build folder's content: names, hints as a builder gives them, and the readings."""
    bodies: dict[str, dict[str, object]] = {
        "car": {"root": True, "point": {}, "face": {}},
        "unit": {"point": {}, "face": {}},
    }
    for name, spot in truth.spots.items():
        body, _, short = name.partition(".")
        side = "left" if spot[1] > 40.0 else "right" if spot[1] < -40.0 else "any"
        bodies[body]["point"][short] = {"side": side}
    for name, (normal, _) in truth.faces.items():
        body, _, short = name.partition(".")
        axis = int(np.argmax(np.abs(normal)))
        looks = (("rear", "front"), ("right", "left"), ("down", "up"))[axis][int(normal[axis] > 0.0)]
        points = [n.partition(".")[2] for n in truth.on_face[name]]
        bodies[body]["face"][short] = {"points": points, "looks": looks, "spread": FLATNESS_MM}
    told = {
        "build": {"name": "simulated"},
        "shop": {"fold_spread": FOLD_SPREAD_DEG, "pull_up": PULL_UP_MM, **shop},
        "sheet": {"plate": {"thickness": "5 mm", "pivot_depth": "1 mm"}},
        "body": bodies,
        "bracket": truth.brackets,
    }
    return Build.model_validate(told).model_copy(update={"readings": tuple(readings)})


def usual_rows(truth: Truth, rng: np.random.Generator) -> list[Row]:
    """What a builder reads who takes each point a few times: about 300 readings."""
    rows: list[Row] = []
    car = [n for n in truth.spots if n.startswith("car.")]
    unit = [n for n in truth.spots if n.startswith("unit.")]
    for name in car:
        kinds = [k for k, p in (("height", 0.85), ("offset", 0.75), ("station", 0.75)) if rng.random() < p]
        rows += [(kind, (name,), "") for kind in (kinds or ["height", "offset"])]
    rows += [("height", (name,), "") for name in unit if rng.random() < 0.85]
    for names, near, far in ((car, 4, 2), (unit, 5, 2)):
        taken: set[frozenset[str]] = set()
        for name in names:
            others = sorted((n for n in names if n != name), key=lambda n, a=name: _apart(truth, a, n))
            picked = others[:near] + list(rng.choice(others[near:], far, replace=False))
            for other in picked:
                pair = frozenset((name, str(other)))
                if pair in taken:
                    continue
                taken.add(pair)
                length = _apart(truth, name, str(other))
                kind = "caliper" if length < 150.0 and rng.random() < 0.5 else "tape"
                rows.append((kind, (name, str(other)), ""))
    ears = [n for n in unit if ".LE" in n or ".RE" in n]
    for name in ears:
        rows += [("tape", (name, str(other)), "") for other in rng.choice(car, 3, replace=False)]
    rows += [("height", (str(n),), "car") for n in rng.choice(unit, 5, replace=False)]
    rows += [("bevel", (f"car.web{s}", f"car.flange{s}"), "") for s in "LR"]
    rows += [("bevel", (f"car.web{s}", f"unit.ear{s}"), "") for s in "LR"]
    for _ in range(4):
        a, b = (str(n) for n in rng.choice(car, 2, replace=False))
        if 300.0 < _apart(truth, a, b) < 1500.0:
            rows.append(("slope", (a, b), ""))
    return rows


def fewest_rows(truth: Truth) -> list[Row]:
    """Just enough and nothing twice: height, offset and station of every point, the unit's with it held in place."""
    return [(kind, (name,), "car") for name in truth.spots for kind in ("height", "offset", "station")]


def _apart(truth: Truth, a: str, b: str) -> float:
    return float(np.linalg.norm(truth.spots[a] - truth.spots[b]))


def read(truth: Truth, rows: Sequence[Row], rng: np.random.Generator, slips: float = 0.0) -> tuple[Reading, ...]:
    """The rows read once, each with noise of its own spread; a share of `slips` of them goes wrong."""
    blank = [Reading(kind=k, names=n, value=(1.0,), frame=f, line=i + 2) for i, (k, n, f) in enumerate(rows)]

    def said(readings: Sequence[Reading]) -> tuple[Array, Array]:
        network = network_of(build_of(truth, readings))
        keep = np.array([eq.row >= 0 for eq in network.equations])
        return predict(network, truth.state(network))[keep], network.sigmas[keep]

    true, _ = said(blank)
    exact = [r.model_copy(update={"value": (float(v),)}) for r, v in zip(blank, true, strict=True)]
    _, sigmas = said(exact)
    values = true + rng.normal(size=len(rows)) * sigmas
    out = [_written(r, float(v)) for r, v in zip(blank, values, strict=True)]
    wrong = np.flatnonzero(rng.random(len(rows)) < slips)
    for i in wrong:
        out[i] = _slipped(truth, out[i], float(sigmas[i]), rng)
    return tuple(out)


def _written(reading: Reading, value: float) -> Reading:
    """To a tenth of a millimetre (half for the tape) or degree, with the text of the row."""
    step = 0.5 if reading.kind == "tape" else 0.05 if reading.kind == "caliper" else 0.1
    value = round(round(value / step) * step, 6)
    if reading.kind in ("offset", "station"):
        ways = ("left", "right") if reading.kind == "offset" else ("front", "rear")
        told = f"{abs(value):g} {ways[0] if value >= 0.0 else ways[1]}"
    else:
        told = f"{value:g}"
    names = " ".join(n.removeprefix("car.") for n in reading.names)
    return reading.model_copy(update={"value": (value,), "text": f"{reading.kind}, {names}, {told}"})


def _slipped(truth: Truth, reading: Reading, sigma: float, rng: np.random.Generator) -> Reading:
    """One gross slip: a wrong mark, a unit, digits turned round, a side, another point, or any size."""
    value = reading.value[0]
    way = int(rng.integers(6))
    if way == 0 and reading.kind in ("tape", "height", "offset", "station"):
        return _written(reading, value + float(rng.choice([-100.0, -25.4, -10.0, 10.0, 25.4, 100.0])))
    if way == 1 and reading.kind in ("tape", "caliper"):
        return _written(reading, value / float(rng.choice([10.0, 25.4])))
    if way == 2 and reading.kind == "tape" and value > 100.0:
        whole = f"{int(value)}"
        for i in range(len(whole) - 1):
            if whole[i] != whole[i + 1] and whole[i + 1] != "0":
                turned = whole[:i] + whole[i + 1] + whole[i] + whole[i + 2 :]
                return _written(reading, float(turned))
    if way == 3 and reading.kind in ("offset", "station", "slope") and abs(value) > 10.0 * sigma:
        return _written(reading, -value)
    if way == 4 and reading.kind in ("tape", "height", "offset", "station"):
        body = reading.names[-1].partition(".")[0]
        others = [n for n in truth.spots if n.startswith(f"{body}.") and n not in reading.names]
        other = str(rng.choice(others))
        moved = _with_last(truth, reading, other)
        if abs(moved - value) > 5.0 * sigma:
            return _written(reading, moved)
    size = float(rng.choice([-1.0, 1.0]) * rng.uniform(10.0, 60.0)) * sigma
    if reading.kind in ("tape", "caliper", "angle", "bevel") and value + size <= 0.0:
        size = -size
    return _written(reading, value + size)


def _with_last(truth: Truth, reading: Reading, other: str) -> float:
    """What the reading shows with its last point another one."""
    trial = reading.model_copy(update={"names": (*reading.names[:-1], other)})
    network = network_of(build_of(truth, [trial]))
    return float(predict(network, truth.state(network))[0])
