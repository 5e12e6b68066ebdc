"""A small frame with a bench unit for tests: true places in, a build with honest readings of them out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfshaft.build import units
from halfshaft.build.schema import Build, Reading
from halfshaft.measure.adjust import Adjustment, adjust
from halfshaft.measure.network import Network, State, network_of, predict

Array = NDArray[np.float64]

LEFT = {
    "L1": (-800.0, 410.0, 520.0), "L2": (-420.0, 425.0, 610.0), "L3": (-60.0, 440.0, 655.0),
    "L4": (310.0, 430.0, 560.0), "L5": (700.0, 415.0, 505.0), "L6": (1130.0, 402.0, 498.0),
}  # fmt: skip
MIDDLE = {"T1": (-455.0, 30.0, 615.0), "T2": (455.0, -25.0, 545.0)}


@dataclass(frozen=True, eq=False)
class Shop:
    build: Build
    network: Network
    truth: State


def places() -> dict[str, tuple[float, float, float]]:
    out = dict(LEFT)
    for i, (name, (x, y, z)) in enumerate(LEFT.items()):
        out["R" + name[1:]] = (x + 3.0 * (-1) ** i, -y + 2.0 * i, z - 1.5 * i)
    return out | MIDDLE


def rows_of(names: list[str]) -> list[tuple[str, tuple[str, ...]]]:
    """Tape between every pair, height, offset and station of every point, some rises, slopes and angles."""
    rows: list[tuple[str, tuple[str, ...]]] = []
    for i, a in enumerate(names):
        rows += [("tape", (a, b)) for b in names[i + 1 :]]
    rows += [(kind, (a,)) for kind in ("height", "offset", "station") for a in names]
    rows += [("rise", (a, b)) for a, b in zip(names, names[2:], strict=False)]
    rows += [
        ("slope", ("L1", "L2")),
        ("slope", ("R3", "R5")),
        ("angle", ("L1", "L3", "R4")),
        ("angle", ("L2", "R2", "L5")),
    ]
    return rows


def shop(
    seed: int = 1,
    changed: dict[tuple[str, tuple[str, ...]], str] | None = None,
    system: str = "metric",
    noise: float = 1.0,
) -> Shop:
    """`changed` gives the text written for some readings in place of the true one."""
    rng = np.random.default_rng(seed)
    spots = places()
    rows = rows_of(list(spots))
    made = [Reading(kind=k, names=tuple(f"car.{n}" for n in names), value=(1.0,)) for k, names in rows]
    build = Build.model_validate({"build": {"name": "t", "units": system}, "body": {"car": {}}, "readings": made})
    network = network_of(build)
    truth = State(
        np.array([spots[n.partition(".")[2]] for n in network.point_names]),
        np.zeros((0, 3)), np.zeros(0), np.eye(3)[None], np.zeros((1, 3)),
    )  # fmt: skip
    said = predict(network, truth) + noise * rng.normal(size=len(made)) * network.sigmas
    readings = []
    for i, (kind, names) in enumerate(rows):
        value = float(said[i])
        if kind in ("slope", "angle"):
            text = f"{value:.1f}"
            read = float(text)
        else:
            side = "" if kind not in ("offset", "station") else " left" if value >= 0 else " right"
            if kind == "station":
                side = side.replace("left", "front").replace("right", "rear")
            text = f"{abs(value) if side else value:.0f}{side}"
            read = float(f"{value:.0f}")
        if changed and (kind, names) in changed:
            text = changed[kind, names]
            bare = text.split(" left")[0].split(" right")[0].split(" front")[0].split(" rear")[0]
            read = float(bare) if kind in ("slope", "angle") else units.read_length_mm(bare, system)
            read = -read if text.endswith((" right", " rear")) else read
        readings.append(
            Reading(kind=kind, names=tuple(f"car.{n}" for n in names), value=(read,), line=i + 2,
                    text=f"{kind}, {' '.join(names)}, {text}")
        )  # fmt: skip
    build = build.model_copy(update={"readings": tuple(readings)})
    return Shop(build, network_of(build), truth)


def without(one: Shop, rows: list[int]) -> Adjustment:
    """Adjustment of everything but the rows given, from the truth."""
    use = np.array([eq.row not in rows for eq in one.network.equations])
    return adjust(one.network, one.truth, one.build, use)


def row_of(one: Shop, kind: str, *names: str) -> int:
    wanted = (kind, tuple(f"car.{n}" for n in names))
    return next(i for i, r in enumerate(one.build.readings) if (r.kind, r.names) == wanted)
