"""The SVG read by other eyes: its XML, its arcs flattened by an independent walk, its size."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon

from halfshaft.cut.svg import contour_data, svg_text
from halfshaft.geometry import Contour
from tests.cut.parts import plate

SVG = "{http://www.w3.org/2000/svg}"


def walk(data: str) -> np.ndarray:
    """Points along path data, arcs by SVG 2, appendix B.2.4: end points to centre."""
    out: list[complex] = []
    for kind, body in re.findall(r"([MLAZ])([^MLAZ]*)", data):
        numbers = [float(v) for v in re.findall(r"-?[\d.]+", body)]
        if kind in "ML":
            out.append(complex(*numbers))
        elif kind == "A":
            radius, large, sweep = numbers[0], numbers[3], numbers[4]
            start, end = out[-1], complex(*numbers[5:])
            half = (start - end) / 2.0
            radius = max(radius, abs(half))
            sign = 1.0 if large != sweep else -1.0
            root = sign * np.sqrt(max(0.0, radius**2 - abs(half) ** 2)) / max(abs(half), 1e-12)
            centre = root * complex(half.imag, -half.real) + (start + end) / 2.0
            a, b = np.angle(start - centre), np.angle(end - centre)
            turn = b - a
            if sweep and turn < 0:
                turn += 2 * np.pi
            if not sweep and turn > 0:
                turn -= 2 * np.pi
            out += [centre + radius * np.exp(1j * (a + turn * t)) for t in np.linspace(0, 1, 181)[1:]]
    return np.array([[p.real, p.imag] for p in out])


@given(st.lists(st.floats(-2.5, 2.5), min_size=4, max_size=4))
def test_arcs_keep_their_side_and_their_size_whatever_their_bulge(bulges: list[float]) -> None:
    contour = Contour(np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 80.0], [0.0, 80.0]]), np.array(bulges))
    points = walk(contour_data(contour)) * [1.0, -1.0]
    x, y = points[:, 0], points[:, 1]
    area = 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    assert area == pytest.approx(contour.area_mm2, rel=2e-3, abs=5.0)


def test_the_picture_opens_at_its_true_size() -> None:
    root = ElementTree.fromstring(svg_text(plate(), 1.5))
    box = [float(v) for v in root.attrib["viewBox"].split()]
    assert root.attrib["width"] == f"{box[2]:g}mm"
    assert root.attrib["height"] == f"{box[3]:g}mm"
    assert box[2:] == pytest.approx([310.0, 190.0])


def test_the_outline_has_the_area_of_a_rounded_rectangle() -> None:
    root = ElementTree.fromstring(svg_text(plate(), 1.5))
    cuts = root.findall(f"{SVG}g[@id='cut']/{SVG}path")
    areas = [Polygon(walk(path.attrib["d"])).area for path in cuts]
    # rectangle less the corners, and a disc
    assert max(areas) == pytest.approx(300 * 180 - (4 - np.pi) * 12**2, rel=1e-4)
    assert min(areas) == pytest.approx(np.pi * 10**2, rel=1e-3)


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", "a & \"b\" 'c'", "Ø 10 ½ \u202e"])
def test_a_name_stays_a_name(name: str) -> None:
    root = ElementTree.fromstring(svg_text(plate(name=name), 1.5))
    assert root.findtext(f"{SVG}title") == name
    assert not list(root.iter(f"{SVG}script"))
