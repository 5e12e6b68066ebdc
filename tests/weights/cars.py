"""Invented cars for the weights station, written as a builder writes them. Changes in, a build and its points out."""

from __future__ import annotations

import copy
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

import tomlkit

from halfshaft.build import Build, load
from halfshaft.measure import measure
from halfshaft.measure.model import Measured
from halfshaft.weights.model import Weights
from halfshaft.weights.station import weights_of
from tests.study.small import BUILD, readings

MODULES = {f"module_{number}": {"mass": 55, "place": "rear", "places": "front"} for number in range(1, 7)}
PICKUP: dict[str, Any] = {
    "wheelbase": 2920, "track_front": 1510, "track_rear": 1530, "wheel_radius": 350, "gross_mass": 2270,
    "front_rating": 1150, "rear_rating": 1400, "tyre_front": 104, "tyre_rear": 104, "wanted_front": 0.47,
    "before": {"corners": [432, 418, 331, 339], "tilt": {"lifted": "rear", "lift": 600, "other_axle": 882}},
    "out": {
        "engine": {"mass": 265, "mass_spread": 3, "at": [2700, 0, 640]},
        "gearbox": {"mass": 62, "at": [1950, 0, 520]},
        "axle": {"mass": 95, "at": [0, 0, 350], "sprung": False},
        "tank": {"mass": 48, "at": [900, 400, 900]},
    },
    "in": {"unit": {"mass": 118, "at": [0, 0, 420]}, **MODULES},
    "place": {"front": {"at": [2450, 0, 560], "holds": 4}, "rear": {"at": [900, 0, 520], "holds": 6}},
    "load": {"driver": {"mass": 80, "at": [1500, 370, 850]}, "goods": {"mass": 300, "at": [150, 0, 950]}},
    "spring": {
        "front": {"rate": 70, "ratio": 0.6, "damper": 2800, "unsprung": 95},
        "rear": {"rate": 38, "unsprung": 175, "damper": 1700, "damper_ratio": 0.9},
    },
    "brakes": {"front_share": 0.58, "regeneration": 1.5},
}  # fmt: skip


def pickup(**changes: Any) -> dict[str, Any]:
    """[weights] of the invented pickup with whole tables of it replaced; None takes one away."""
    told = copy.deepcopy(PICKUP) | changes
    return {key: value for key, value in told.items() if value is not None}


def folder_of(told: dict[str, Any], folder: Path) -> Path:
    (folder / "build.toml").write_text(f"{BUILD}\n{tomlkit.dumps({'weights': told})}", encoding="utf-8")
    (folder / "readings.csv").write_text(readings(), encoding="utf-8")
    return folder


@cache
def points() -> Measured:
    """The small build's measured points, worked once."""
    with tempfile.TemporaryDirectory() as name:
        return measure(load(folder_of(pickup(), Path(name))))


def build_of(told: dict[str, Any]) -> Build:
    with tempfile.TemporaryDirectory() as name:
        return load(folder_of(told, Path(name)))


def weights(told: dict[str, Any]) -> Weights:
    return weights_of(build_of(told), points())
