"""A unit on a deck for tests: mounts at spots, each bolted to a plate of the frame; a build and its points out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from halfshaft.build.schema import Build
from halfshaft.geometry import Plane
from halfshaft.measure.model import FaceEstimate, GlobalTest, Measured, PointEstimate
from halfshaft.mounts.model import Mounts
from halfshaft.mounts.station import mounts_of

DECK_MM = 500.0
THREE = {"left": (300.0, 250.0), "right": (300.0, -250.0), "rear": (-300.0, 0.0)}
STIFF = {"stiffness": [20000, 20000, 20000]}
BOLTS = ((-40.0, -30.0), (40.0, -30.0), (40.0, 30.0), (-40.0, 30.0))
MOUNTS = {"motor_torque": 100, "ratio": 10, "mass": 100, "centre": [0, 0, DECK_MM], "inertia": [4, 4, 4]}


def stand(
    at: Mapping[str, tuple[float, float]] = THREE,
    rubber: Mapping[str, Any] = STIFF,
    joint: Mapping[str, Any] | None = None,
    bolts: Sequence[tuple[float, float]] = BOLTS,
    weld: Mapping[str, Any] | None = None,
    **mounts: Any,
) -> tuple[Build, Measured]:
    """Every mount stands at `at` (x, y) on the deck, its bolts about it; `joint` and `weld` as the builder writes."""
    spots = {
        f"car.{name}{i}": (x + dx, y + dy, DECK_MM) for name, (x, y) in at.items() for i, (dx, dy) in enumerate(bolts)
    }
    plate = {"bolt": "M12", "face": "car.deck", "thickness": 10, "wall": 10, "surface": "A", **(joint or {})}
    each = {
        name: {
            "at": [[x, y, DECK_MM]], "axis": "up", "rubber": "own",
            "joint": {"plate": {**plate, "bolts": [f"car.{name}{i}" for i in range(len(bolts))]}} if bolts else {},
            "weld": {} if weld is None else {"seam": weld},
        }
        for name, (x, y) in at.items()
    }  # fmt: skip
    told = {**MOUNTS, "rubber": {"own": dict(rubber)}, "mount": each, **mounts}
    points = {n.removeprefix("car."): {} for n in spots}
    values = {
        "build": {"name": "deck"},
        "body": {"car": {"root": True, "point": points, "face": {"deck": {"points": list(points), "looks": "up"}}}},
        "mounts": told,
    }
    build = Build.model_validate(values, context={"units": "metric"})
    return build, measured(spots)


def measured(spots: Mapping[str, tuple[float, float, float]]) -> Measured:
    """The spots known exactly, on one level face 'car.deck'."""
    points = {n: PointEstimate(n, "car", np.array(xyz), np.eye(3) * 1e-6) for n, xyz in spots.items()}
    face = FaceEstimate(
        "car.deck", "car", Plane(np.array([0.0, 0.0, 1.0]), DECK_MM), np.array([0.0, 0.0, DECK_MM]), np.eye(4) * 1e-9,
        tuple(spots),
    )  # fmt: skip
    empty = GlobalTest(0, 0.0, 0.0, 0.0, 1.0)
    return Measured(points, {"car.deck": face}, {}, np.zeros(0), np.zeros((0, 0)), {}, (), (), (), empty)


def worked(**more: Any) -> Mounts:
    build, known = stand(**more)
    return mounts_of(build, known, {}, Path())


def state(found: Mounts, case: str) -> Any:
    return next(one for one in found.states if one.name == case)
