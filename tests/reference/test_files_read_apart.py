"""Cut files read by readers that share nothing with what wrote them: areas of a DXF, the volume of a STEP solid.

Sources: DXF reference, LWPOLYLINE (group codes 10, 20, 42) and CIRCLE (40); ISO 10303-21 for the text of a STEP file,
ISO 10303-42 for its shapes. Volume of a solid of planar faces by the divergence theorem.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import pytest

from halfshaft.cut.dxf import dxf_text
from halfshaft.cut.station import step_bytes
from halfshaft.fold.flat import flat_part
from halfshaft.fold.model import Bracket
from halfshaft.geometry import Pose
from halfshaft.geometry.pose import turn
from tests.cut.parts import plate
from tests.fold.builders import plate as panel


def shapes_of(text: str) -> Iterator[tuple[str, str, list[tuple[int, str]]]]:
    """Kind, layer and group codes of each entity."""
    lines = [line.strip() for line in text.splitlines()]
    pairs = [(int(lines[i]), lines[i + 1]) for i in range(0, len(lines) - 1, 2)]
    at = pairs.index((2, "ENTITIES"))
    entity: list[tuple[int, str]] = []
    for code, value in pairs[at + 1 :]:
        if code == 0:
            if entity:
                yield entity[0][1], next(v for c, v in entity if c == 8), entity[1:]
            if value == "ENDSEC":
                return
            entity = [(code, value)]
        elif entity:
            entity.append((code, value))


def area(codes: list[tuple[int, str]]) -> float:
    """Of a closed polyline whose bulge is the tangent of a quarter of the arc's turn: trapezoids and segments."""
    x, y, bulge = [], [], []
    for code, value in codes:
        if code == 10:
            x.append(float(value))
            bulge.append(0.0)
        elif code == 20:
            y.append(float(value))
        elif code == 42:
            bulge[-1] = float(value)
    out = 0.0
    for i, b in enumerate(bulge):
        j = (i + 1) % len(x)
        out += (x[i] * y[j] - x[j] * y[i]) / 2.0
        if b:
            sweep = 4.0 * np.arctan(b)
            radius = np.hypot(x[j] - x[i], y[j] - y[i]) / (2.0 * np.sin(abs(sweep) / 2.0))
            out += np.sign(b) * radius**2 * (abs(sweep) - np.sin(abs(sweep))) / 2.0
    return abs(out)


@pytest.mark.parametrize(("units", "per_mm2"), [("mm", 1.0), ("inch", 25.4**2)])
def test_a_drawing_holds_the_areas_that_were_drawn(units: str, per_mm2: float) -> None:
    # 300 x 180 with corners of radius 12; a round window of radius 10; two holes of 13.5; a slot 20 between ends
    found: dict[tuple[str, str], list[float]] = {}
    for kind, layer, codes in shapes_of(dxf_text(plate(), 1.5, units=units)):  # type: ignore[arg-type]
        if kind == "LWPOLYLINE" and any(code == 70 and int(value) & 1 for code, value in codes):
            found.setdefault((kind, layer), []).append(area(codes) * per_mm2)
        elif kind == "CIRCLE":
            radius = float(next(value for code, value in codes if code == 40))
            found.setdefault((kind, layer), []).append(np.pi * radius**2 * per_mm2)
    outline = 300.0 * 180.0 - (4.0 - np.pi) * 12.0**2
    assert sorted(found["LWPOLYLINE", "cut"]) == pytest.approx([np.pi * 100.0, outline], rel=1e-6)
    assert found["CIRCLE", "bore"] == pytest.approx([np.pi * 6.75**2] * 2, rel=1e-6)
    assert found["LWPOLYLINE", "bore"] == pytest.approx([np.pi * 6.75**2 + 20.0 * 13.5], rel=1e-6)


class Step:
    """A file of ISO 10303-21 as entities by number: name and arguments."""

    def __init__(self, text: str) -> None:
        data = re.sub(r"\s+", " ", text[text.index("DATA;") :])
        self.rows = {
            int(n): (name, args) for n, name, args in re.findall(r"#(\d+) ?= ?([A-Z0-9_]+) ?\((.*?)\) ?;", data)
        }

    def refs(self, number: int) -> list[int]:
        return [int(n) for n in re.findall(r"#(\d+)", self.rows[number][1])]

    def numbers(self, number: int) -> np.ndarray:
        inside = re.findall(r"\(([^()]*)\)", self.rows[number][1])[-1]
        return np.array([float(v) for v in inside.split(",")])

    def vertex(self, number: int) -> np.ndarray:
        return self.numbers(self.refs(number)[0])

    def loop(self, number: int) -> np.ndarray:
        """Corners (n, 3) of an edge loop, in its sense."""
        out = []
        for oriented in self.refs(number):
            edge = self.refs(oriented)[-1]
            start, end, curve = self.refs(edge)[:3]
            if self.rows[curve][0] == "SURFACE_CURVE":
                curve = self.refs(curve)[0]
            assert self.rows[curve][0] == "LINE"  # the reader knows straight edges alone
            along = self.rows[oriented][1].rstrip().endswith(".T.")
            out.append(self.vertex(start if along else end))
        return np.array(out)

    def volume_mm3(self) -> float:
        """Of a shell of planar faces without openings: a third of each face's area times its plane's distance."""
        total = 0.0
        for number, (name, args) in self.rows.items():
            if name != "ADVANCED_FACE":
                continue
            bound, plane = self.refs(number)
            assert self.rows[plane][0] == "PLANE"
            # ISO 10303-42: the face looks as its surface does where same_sense is true
            way = self.numbers(self.refs(self.refs(plane)[0])[1]) * (1.0 if args.rstrip().endswith(".T.") else -1.0)
            corners = self.loop(self.refs(bound)[0])
            fan = [np.cross(b - corners[0], c - corners[0]) for b, c in pairwise(corners[1:])]
            total += float(corners[0] @ way) * float(np.linalg.norm(np.sum(fan, axis=0))) / 2.0 / 3.0
        return total


def test_a_solid_holds_the_volume_that_was_drawn() -> None:
    # an L of 120 x 80 less 70 x 50, 6 mm thick, stood askew in the car: 6 (9600 - 3500)
    askew = Pose(turn([0.3, -0.5, 0.9]), np.array([900.0, 350.0, 420.0]))
    corners = [(0, 0), (120, 0), (120, 30), (50, 30), (50, 80), (0, 80)]
    one = panel("web", corners, 6.0, askew)
    part = flat_part("piece", "plate", ["web"], {"web": one}, ())
    bracket = Bracket("piece", "plate", 6.0, {"web": one}, (), (part,), 0.3)
    step = Step(step_bytes(bracket, part).decode())
    assert sum(name == "ADVANCED_FACE" for name, _ in step.rows.values()) == 8
    assert step.volume_mm3() == pytest.approx(6.0 * (120 * 80 - 70 * 50), rel=1e-9)
