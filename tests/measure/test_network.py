"""A build as equations: which points, frames, values and spreads come of which row."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.build import catalogue
from halfshaft.build.schema import Build
from halfshaft.measure.network import instrument_of, network_of, spread_of


def _build(rows: list[dict[str, object]], **more: object) -> Build:
    body = {"car": {"root": True}, "unit": {}}
    return Build.model_validate({"build": {"name": "b"}, "body": body, "readings": rows} | more)


def test_every_kind_of_row_becomes_its_equations() -> None:
    rows: list[dict[str, object]] = [
        {"kind": "tape", "names": ("car.A", "car.B"), "value": (412.0,)},
        {"kind": "caliper", "names": ("car.A", "unit.A"), "value": (80.0,)},
        {"kind": "rise", "names": ("car.A", "unit.A"), "value": (5.0,)},
        {"kind": "height", "names": ("unit.A",), "value": (300.0,)},
        {"kind": "height", "names": ("unit.A",), "value": (300.0,), "frame": "car"},
        {"kind": "given", "names": ("car.C",), "value": (1.0, 2.0, 3.0)},
        {"kind": "mirror", "names": ("car.A", "car.B")},
        {"kind": "angle", "names": ("car.A", "car.B", "car.C"), "value": (90.0,)},
        {"kind": "bevel", "names": ("car.top", "unit.side"), "value": (91.0,)},
        {"kind": "onface", "names": ("unit.A", "car.top"), "value": (4.0,)},
    ]
    network = network_of(_build(rows))
    said = [(e.row, e.part, e.kind, e.frame, e.value, e.unit) for e in network.equations]
    car, unit = network.body_names.index("car"), network.body_names.index("unit")
    assert said == [
        (0, 0, "distance", -1, 412.0, "mm"),
        (1, 0, "distance", -1, 80.0, "mm"),
        (2, 0, "rise", car, 5.0, "mm"),
        (3, 0, "height", unit, 300.0, "mm"),
        (4, 0, "height", car, 300.0, "mm"),
        (5, 0, "given", car, 1.0, "mm"),
        (5, 1, "given", car, 2.0, "mm"),
        (5, 2, "given", car, 3.0, "mm"),
        (6, 0, "mirror", car, 0.0, "mm"),
        (6, 1, "mirror", car, 0.0, "mm"),
        (6, 2, "mirror", car, 0.0, "mm"),
        (7, 0, "angle", -1, 90.0, "deg"),
        (8, 0, "bevel", -1, 91.0, "deg"),
        (9, 0, "onface", -1, 4.0, "mm"),
    ]
    assert network.point_names == ("car.A", "car.B", "unit.A", "car.C")
    assert network.face_names == ("car.top", "unit.side")
    assert network.size == 3 * 4 + 3 * 2 + 6


def test_listed_points_of_a_face_are_on_it_with_its_flatness() -> None:
    face = {"points": ["A", "B", "C"], "looks": "up", "spread": 0.7}
    network = network_of(_build([], body={"car": {"face": {"top": face}}}))
    assert [(e.row, e.kind, e.value, e.sigma) for e in network.equations] == [
        (-1, "onface", 0.0, 0.7),
        (-2, "onface", 0.0, 0.7),
        (-3, "onface", 0.0, 0.7),
    ]
    assert network.point_names == ("car.A", "car.B", "car.C")


def test_the_spread_of_a_tape_grows_with_its_length() -> None:
    rows: list[dict[str, object]] = [{"kind": "tape", "names": ("car.A", "car.B"), "value": (2000.0,)}]
    build = _build(rows)
    row = catalogue.instrument("tape")
    assert spread_of(build, build.readings[0], 2000.0).sigma == pytest.approx(row.spread + 2.0 * row.per_metre)
    assert not spread_of(build, build.readings[0], 2000.0).given


def test_the_builder_overrules_the_instrument_and_the_row_overrules_both() -> None:
    rows: list[dict[str, object]] = [
        {"kind": "tape", "names": ("car.A", "car.B"), "value": (1000.0,)},
        {"kind": "tape", "names": ("car.A", "car.B"), "value": (1000.0,), "spread": 4.0},
        {"kind": "tape", "names": ("car.A", "car.B"), "value": (1000.0,), "instrument": "caliper"},
    ]
    build = _build(rows, instrument={"tape": {"spread": "3 mm", "per_metre": "0 mm"}})
    sigmas = [e.sigma for e in network_of(build).equations]
    assert sigmas == [3.0, 4.0, catalogue.instrument("caliper").spread]


def test_a_spread_of_nought_stays_finite() -> None:
    rows: list[dict[str, object]] = [{"kind": "height", "names": ("car.A",), "value": (10.0,), "spread": 0.0}]
    assert np.isfinite(1.0 / network_of(_build(rows)).sigmas).all()


def test_each_kind_has_an_instrument_that_reads_it() -> None:
    kinds = [
        "tape",
        "caliper",
        "height",
        "rise",
        "offset",
        "station",
        "angle",
        "slope",
        "bevel",
        "onface",
        "mirror",
        "given",
    ]
    build = _build([{"kind": kind, "names": ("car.A", "car.B")} for kind in kinds])
    for reading in build.readings:
        assert reading.kind in catalogue.instrument(instrument_of(reading)).kinds
