"""Charts as markup: round ticks, names apart from each other, text that stays text; the file of choices read."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from halfshaft.bench.chart import Axis, Chart, Dots, Line, Spot, reach_to, round_step, svg
from halfshaft.bench.choices_view import FILE, read_variants, values_of
from halfshaft.build.schema import Build

OPTION = {"set": {"car.tyre": "x"}, "mass": "-6 kg"}
X = np.array([0.0, 1.0, 2.0])


@pytest.mark.parametrize(("rough", "step"), [(43, 50), (0.19, 0.2), (1, 1), (2.1, 5), (700, 1000)])
def test_steps_are_one_two_or_five_times_a_power_of_ten(rough: float, step: float) -> None:
    assert round_step(rough) == pytest.approx(step)
    assert reach_to([rough]) >= rough


def test_a_chart_is_sound_markup_with_its_lines_where_their_values_are() -> None:
    lines = (Line("<script>", X, X * 10.0, (X * 9.0, X * 11.0)), Line("b", X, X * 10.1))
    spots = (Spot("one", 1.0, 10.0), Spot("other", 1.02, 10.2))
    drawn = svg(Chart("told", Axis("x", 0.0, 2.0), Axis("y", 0.0, 25.0), lines, spots, dots=(Dots(X, X),)))
    root = ElementTree.fromstring(drawn)
    assert root.attrib["aria-label"] == "told"
    assert "<script>" not in drawn
    names = {
        one.text: (float(one.attrib["x"]), float(one.attrib["y"])) for one in root.iter("text") if "x" in one.attrib
    }
    assert abs(names["<script>"][1] - names["b"][1]) >= 16.0  # a line of text apart
    assert abs(names["one"][1] - names["other"][1]) >= 14.0
    ticks = [one.text for one in root.iter("text") if one.attrib["class"].startswith("hc-tick hc-end")]
    assert ticks == ["0", "5", "10", "15", "20", "25"]
    way = next(p.attrib["d"] for p in root.iter("path") if p.attrib["class"] == "hc-line hc-0")
    spots_px = np.array(re.findall(r"([\d.]+) ([\d.]+)", way), dtype=float)
    assert np.ptp(np.diff(spots_px, axis=0), axis=0) == pytest.approx([0.0, 0.0], abs=0.2)  # straight stays straight
    band = next(p.attrib["d"] for p in root.iter("path") if p.attrib["class"] == "hc-band hc-0")
    assert len(re.findall(r"[\d.]+ [\d.]+", band)) == 6


def test_a_file_of_variants_is_read_and_a_spoiled_one_is_none(tmp_path: Path) -> None:
    file = tmp_path / FILE
    assert read_variants(tmp_path) is None
    file.parent.mkdir(parents=True)
    head = (
        'variant,gear,"range, km","empty, kg",s,top,cost,min,cost ±,unbeaten,stands out as,cannot be built,not sure\n'
    )
    rows = "1,7.5,180,1600,13,155,1,50,4,yes,cheapest,,\n2,8,,1600,13,155,2,,4,,,,\n3,9,1,1,1,1,1,1,4,,,no room,\n"
    file.write_text(head + rows, encoding="utf-8")
    found = read_variants(tmp_path)
    assert found is not None
    assert (found.parts, found.refused, found.kept.tolist()) == (("gear",), 1, [True, False])
    assert found.words == (("7.5",), ("8",))
    assert found.numbers[0].tolist() == [180, 1600, 13, 155, 1, 50]
    assert np.isnan(found.numbers[1, [0, 5]]).all()
    told = {"part": {"gear": {"key": "car.gear.ratio", "values": [7.5, 8]}, "tyre": {"option": {"a": OPTION}}}}
    build = Build.model_validate({"build": {"name": "b"}, "choose": told})
    assert values_of(build, {"gear": "7.5", "tyre": "a"}) == ({"car.gear.ratio": 7.5, "car.tyre": "x"}, "tyre -6 kg")
    with pytest.raises(ValueError, match="no longer"):
        values_of(build, {"gear": "9"})
    file.write_text("variant,gear\nnonsense", encoding="utf-8")
    assert read_variants(tmp_path) is None
