"""The DXF against the DXF reference for R2010 (AC1024), and against the audit of the library that reads it."""

from __future__ import annotations

import io

import ezdxf
import numpy as np
import pytest

from halfshaft.cut.dxf import dxf_text, read_figures
from halfshaft.cut.layers import LAYERS, Disc, Path, figures_of
from halfshaft.geometry import Contour
from tests.cut.parts import plate


def pairs(text: str) -> list[tuple[str, str]]:
    """Group code and value of every pair of lines, read without any library."""
    lines = text.splitlines()
    return [(lines[i].strip(), lines[i + 1].strip()) for i in range(0, len(lines) - 1, 2)]


def header(text: str, name: str) -> str:
    found = pairs(text)
    at = found.index(("9", name))
    return found[at + 1][1]


def test_the_header_says_version_and_units_as_the_reference_numbers_them() -> None:
    # DXF reference, HEADER section: $ACADVER AC1024 = R2010; $INSUNITS 1 inches, 4 millimetres;
    # $MEASUREMENT 0 English, 1 metric
    metric, inch = dxf_text(plate(), 1.5), dxf_text(plate(), 1.5, units="inch")
    assert header(metric, "$ACADVER") == "AC1024"
    assert (header(metric, "$INSUNITS"), header(metric, "$MEASUREMENT")) == ("4", "1")
    assert (header(inch, "$INSUNITS"), header(inch, "$MEASUREMENT")) == ("1", "0")


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_the_audit_finds_nothing(units: str) -> None:
    document = ezdxf.read(io.StringIO(dxf_text(plate(), 1.5, units=units)))
    audit = document.audit()
    assert not audit.errors
    assert not audit.fixes
    assert {layer.dxf.name for layer in document.layers} >= set(LAYERS)


def test_nothing_is_drawn_but_arcs_and_lines_that_a_table_can_cut() -> None:
    kinds = {entity.dxftype() for entity in ezdxf.read(io.StringIO(dxf_text(plate(), 1.5))).modelspace()}
    assert kinds <= {"LWPOLYLINE", "CIRCLE", "LINE"}


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_what_is_read_back_is_what_was_drawn(units: str) -> None:
    drawn, back = figures_of(plate(), 1.5), read_figures(dxf_text(plate(), 1.5, units=units))
    assert [f.layer for f in back] == [f.layer for f in drawn]
    for a, b in zip(drawn, back, strict=True):
        if isinstance(a.shape, Contour):
            assert isinstance(b.shape, Contour)
            assert b.shape.area_mm2 == pytest.approx(a.shape.area_mm2, rel=1e-9)
            assert b.shape.length_mm == pytest.approx(a.shape.length_mm, rel=1e-9)
        elif isinstance(a.shape, Disc):
            assert isinstance(b.shape, Disc)
            assert b.shape.radius_mm == pytest.approx(a.shape.radius_mm)
            assert b.shape.centre_mm == pytest.approx(a.shape.centre_mm)
        else:
            assert isinstance(b.shape, Path)
            assert b.shape.points_mm == pytest.approx(a.shape.points_mm)


def test_the_outline_bulges_as_the_reference_defines_it() -> None:
    # DXF reference, LWPOLYLINE group 42: the bulge is the tangent of a quarter of the included angle of the arc
    outline = next(
        e
        for e in ezdxf.read(io.StringIO(dxf_text(plate(), 1.5))).modelspace().query("LWPOLYLINE[layer=='cut']")
        if len(e) == 8
    )
    assert sorted({round(b, 12) for *_, b in outline.get_points("xyb")}) == pytest.approx([0.0, np.tan(np.pi / 8)])
    # area of a rounded rectangle by its own formula
    x0, y0, x1, y1 = 0.0, 0.0, 300.0, 180.0
    rows = np.array(list(outline.get_points("xyb")))
    assert Contour(rows[:, :2], rows[:, 2]).area_mm2 == pytest.approx((x1 - x0) * (y1 - y0) - (4 - np.pi) * 12.0**2)


def test_equal_parts_give_equal_files() -> None:
    assert dxf_text(plate(), 1.5) == dxf_text(plate(), 1.5)


def test_names_with_odd_letters_do_not_spoil_the_file() -> None:
    part = plate(name='wheel "house" <Ø> \n10\n')
    assert read_figures(dxf_text(part, 1.5))
