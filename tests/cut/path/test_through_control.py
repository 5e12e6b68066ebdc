"""Files of parts that nobody drew, read by a control of its own and run over a sheet: nothing forbidden happens."""

from __future__ import annotations

import os
from functools import cache

import numpy as np
import pytest
import shapely

from halfshaft.build.cutter import CodeInput, CutterInput
from halfshaft.build.schema import Shop
from halfshaft.cut.path.gcode import code_text
from halfshaft.cut.path.model import OnSheet, SheetPath, Stock
from halfshaft.cut.path.sheet import sheet_path
from tests.cut.path import shop_floor
from tests.cut.path.random_parts import drawn, sheet
from tests.cut.path.rs274 import run

# seed, kind of cutter, kerf, thickness, parts
EVERY_DAY = [(11, "plasma", 1.5, 6.0, 9), (12, "laser", 0.2, 3.0, 8), (13, "waterjet", 1.0, 10.0, 8)]
MORE = [(100 + n, ("plasma", "laser", "waterjet")[n % 3], (1.5, 0.25, 1.0, 2.2)[n % 4], 4.0, 13) for n in range(14)]
SHEETS = EVERY_DAY + (MORE if os.environ.get("HALFSHAFT_LONG") else [])


@cache
def cut(case: tuple[int, str, float, float, int]) -> tuple[SheetPath, list, str]:
    seed, cutter, kerf, thick, count = case
    parts, whole = sheet(np.random.default_rng(seed), count, kerf, 9.0)
    shop = Shop(cutter=cutter, kerf=kerf)
    own = CutterInput(overrun="1 mm" if cutter == "laser" else "0 mm", lead="line" if cutter == "laser" else "arc")
    stock = Stock("S1", whole, thick, "mild steel S275")
    path = sheet_path(stock, [OnSheet(f"P{n}", figures) for n, figures in enumerate(parts)], shop, own)
    return path, parts, code_text(path.cuts, path.setup, own.code, "metric", np.zeros(2))


@pytest.mark.parametrize("case", SHEETS, ids=lambda case: f"{case[1]}-{case[0]}")
def test_every_file_stays_on_the_sheet_and_gives_the_parts_as_drawn(case) -> None:
    path, parts, text = cut(case)
    kerf, whole = path.setup.kerf_mm, path.stock.outline
    steps = run(text, path.setup.rapid_mm_min)
    assert shop_floor.faults(steps, whole, path.setup.edge_clear_mm + kerf / 2.0) == []
    burns = shop_floor.burns(steps)
    assert all(burn.waited >= path.setup.pierce_s for burn in burns)
    gone = shop_floor.swath(burns, kerf)
    craters = shapely.union_all([b.start.buffer(path.setup.pierce_width_mm / 2.0) for b in burns])
    for number, figures in enumerate(parts):
        part = drawn(figures, kerf, path.setup.least_hole_mm)
        assert part.buffer(-0.01).intersection(gone).area < 1e-6, f"part {number} is cut into"
        came = shop_floor.dropped(whole, gone, part)
        assert shop_floor.apart(came, shop_floor.reachable(figures, kerf, path.setup.least_hole_mm)) < 0.02, (
            f"part {number}"
        )
        told = {check.about for check in path.checks if "pierced spot" in check.title or "lead-in" in check.title}
        if not any(about.endswith(f"part P{number}") for about in told):
            slits = shapely.union_all([shapely.LineString(f.shape.points_mm) for f in figures if f.layer == "slit"])
            pierced = craters.difference(slits.buffer(path.setup.pierce_width_mm))
            assert part.buffer(-0.02).intersection(pierced).area < 1e-6, f"a pierce reaches part {number}"


@pytest.mark.parametrize("case", SHEETS, ids=lambda case: f"{case[1]}-{case[0]}")
def test_lengths_and_times_are_those_of_the_estimate(case) -> None:
    path, _, text = cut(case)
    steps, told = run(text, path.setup.rapid_mm_min), path.estimate
    assert sum(step.seconds for step in steps) == pytest.approx(told.seconds, rel=1e-3)
    assert sum(burn.line.length for burn in shop_floor.burns(steps)) == pytest.approx(told.cut_mm, rel=1e-3)
    assert shop_floor.rapid_way(steps) == pytest.approx(told.travel_mm, rel=1e-4)
    assert len(shop_floor.burns(steps)) == told.pierces
    assert sum(step.seconds for step in steps if step.kind == "wait") == pytest.approx(told.wait_s, abs=1e-6)


@pytest.mark.parametrize("case", SHEETS[:1], ids=lambda case: f"{case[1]}-{case[0]}")
def test_what_is_inside_a_part_is_cut_before_its_outline(case) -> None:
    path, parts, text = cut(case)
    burns = shop_floor.burns(run(text, path.setup.rapid_mm_min))
    for figures in parts:
        ring = shapely.Polygon(figures[-1].shape.flattened_mm(0.01))
        edge = ring.buffer(path.setup.kerf_mm / 2.0).exterior
        last = [n for n, b in enumerate(burns) if b.line.intersection(edge.buffer(0.05)).length > 0.9 * edge.length]
        inner = [n for n, b in enumerate(burns) if ring.contains(b.line)]
        assert len(last) == 1
        assert all(n < last[0] for n in inner)


@pytest.mark.parametrize("code", [
    CodeInput(units="inch"),
    CodeInput(dwell="ms", comments="semicolon", numbered=True, torch_on="M64 P1", torch_off="M65 P1", end="M2"),
    CodeInput(heights=False, comments="none", first=("G64",), last=("M9",)),
    CodeInput(arcs=False),
], ids=["inch", "ms", "no heights", "no arcs"])  # fmt: skip
def test_every_dialect_makes_the_same_parts(code: CodeInput) -> None:
    path, parts, _ = cut(EVERY_DAY[0])
    text = code_text(path.cuts, path.setup, code, "metric", np.zeros(2))
    text = "\n".join(line for line in text.splitlines() if line not in ("G64", "M9"))
    dwell = 1e-3 if code.dwell == "ms" else 1.0
    steps = run(text, path.setup.rapid_mm_min, (code.torch_on, code.torch_off), dwell_s=dwell)
    kerf, whole = path.setup.kerf_mm, path.stock.outline
    assert shop_floor.faults(steps, whole, path.setup.edge_clear_mm + kerf / 2.0) == []
    assert all((step.end[2] == 0.0) or code.heights for step in steps)
    assert [b.waited for b in shop_floor.burns(steps)] == pytest.approx([path.setup.pierce_s] * path.estimate.pierces)
    assert any(step.kind == "arc" for step in steps) == code.arcs
    gone = shop_floor.swath(shop_floor.burns(steps), kerf)
    part = drawn(parts[0], kerf, path.setup.least_hole_mm)
    made = shop_floor.dropped(whole, gone, part)
    assert shop_floor.apart(made, shop_floor.reachable(parts[0], kerf, path.setup.least_hole_mm)) < 0.02
