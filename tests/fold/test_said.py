"""Sentences of an inch build speak in inches, and what is to be written in the build stays as it stands."""

from __future__ import annotations

import re

import pytest

from halfshaft.build import Build
from halfshaft.fold.said import said
from halfshaft.fold.station import fold
from tests.fold.frames import bolts, build_of, measured_of


@pytest.mark.parametrize(
    ("metric", "inch"),
    [
        # 1 in = 25.4 mm exactly, international yard and pound agreement of 1959
        ("back by 33 mm upward", "back by 1 5/16 in upward"),
        ("runs -25.4 mm into it", "runs -1 in into it"),
        ("only 0.8 mm.", "only 0.031 in."),
        ("share 45.0 cm² of it", "share 7 in² of it"),
        ("in common 16.39 cm³", "in common 1 in³"),
        ('write standoff = "1.5 mm" and pull 3 mm', 'write standoff = "1.5 mm" and pull 0.118 in'),
        ("turn it 47.5° from M12 at x2 mm", "turn it 47.5° from M12 at x2 mm"),
    ],
)
def test_lengths_areas_and_volumes_turn_to_inches(metric: str, inch: str) -> None:
    assert said(metric, "inch") == inch
    assert said(metric, "metric") == metric


def test_no_sentence_of_an_inch_build_speaks_of_millimetres() -> None:
    points = {"car.A": (-60, -30, 0), "car.B": (-60, 30, 0), "car.C": (0, -30, 30), "car.D": (0, 30, 70)}
    faces = {"car.floor": ((0.0, 0.0, 0.0), (0.0, 0.0, 1.0)), "car.wall": ((0.0, 0.0, 0.0), (-1.0, 0.0, 0.0))}
    panels = {
        "foot": {"face": "car.floor", "holes": bolts("car.A", "car.B", boss="12 mm")},
        "back": {"face": "car.wall", "holes": bolts("car.C", "car.D")},
    }
    metric = build_of({"panel": panels, "folds": [{"between": ["foot", "back"]}]}, {"thickness": 4.0})
    inch = Build.model_validate(metric.model_dump() | {"build": {"name": "x", "units": "inch"}})
    told = {}
    for build in (metric, inch):
        bracket = fold(build, measured_of(points, faces), "piece")  # type: ignore[arg-type]
        words = [c.do for c in bracket.checks] + list(bracket.fit.remedies if bracket.fit else ())
        told[build.build.units] = " ".join(re.sub(r'"[^"]*"', "", w) for w in words)
    assert len(re.findall(r"\d mm", told["metric"])) >= 3
    assert not re.findall(r"\d mm", told["inch"])
    assert len(re.findall(r"\d in\b", told["inch"])) >= 3
