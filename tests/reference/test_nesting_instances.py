"""Nesting against published instances: exact clearances, the library's own result, and a bottom-left baseline.

Instances and their sources: data/nesting/instances.toml. The long comparison is benchmarks/nesting.py.
"""

import tomllib
from pathlib import Path

import pytest
import shapely
from shapely.geometry import Polygon, box

from halfshaft.cut.nest.fill import Want, fill, placed
from halfshaft.cut.nest.strip import Piece, pack
from tests.cut.nest.bottom_left import bottom_left
from tests.cut.nest.cases import brute_gap

DATA = tomllib.loads((Path(__file__).parent / "data/nesting/instances.toml").read_text(encoding="utf-8"))
GAP = 1.0


def instance(name: str) -> tuple[list[Polygon], list[float], float]:
    row = DATA[name]
    shapes = [
        Polygon([(x * row["mm"], y * row["mm"]) for x, y in part["corners"]])
        for part in row["parts"]
        for _ in range(part["count"])
    ]
    return shapes, [float(t) for t in row["turns"]], row["strip"] * row["mm"]


@pytest.mark.parametrize(
    # number of parts and their area in squares of the unit, summed by hand from the corners
    ("name", "count", "strip"),
    [("albano", 24, 4900.0), ("fu", 12, 38.0038), ("shapes1", 43, 40.0)],
)
def test_the_instances_are_those_of_the_literature(name: str, count: int, strip: float) -> None:
    shapes, _, height = instance(name)
    assert len(shapes) == count
    assert height == pytest.approx(strip * DATA[name]["mm"])
    assert all(shape.is_valid for shape in shapes)


@pytest.mark.parametrize(("name", "seed"), [("albano", 1), ("fu", 2)])
def test_gaps_hold_and_the_strip_is_no_longer_than_library_and_baseline(name: str, seed: int) -> None:
    shapes, turns, height = instance(name)
    room = box(0.0, 0.0, 3.0 * height, height)
    wants = [Want(str(i), shape, tuple(turns)) for i, shape in enumerate(shapes)]
    there = [placed(shapes[int(put.name)], put) for put in fill(room, GAP, wants, seed)]
    assert len(there) == len(shapes)
    # no overlap, spacing held, nothing outside
    assert all(room.covers(shape) for shape in there)
    assert brute_gap(there) >= GAP
    area = sum(a.intersection(b).area for i, a in enumerate(there) for b in there[:i])
    assert area <= 1e-6
    own = max(shape.bounds[2] for shape in there)
    # the library by itself, the gap as half of it round each part, one run of the same effort
    rings = [shape.buffer(GAP / 2.0, join_style="mitre") for shape in shapes]
    alone = pack([Piece(str(i), ring, tuple(turns)) for i, ring in enumerate(rings)], height + GAP, seed).length_mm
    assert own <= alone - GAP
    if name == "fu":  # the baseline takes long on the larger one: benchmarks/nesting.py
        assert own <= bottom_left(rings, turns, height + GAP)[0] - GAP


def test_the_baseline_is_a_true_one() -> None:
    shapes, turns, height = instance("fu")
    length, there = bottom_left(shapes, turns, height)
    assert shapely.union_all(there).area == pytest.approx(sum(s.area for s in shapes), rel=1e-6)
    assert length * height < 1.6 * sum(s.area for s in shapes)
