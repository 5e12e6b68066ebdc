"""Feeds of the cutting table against what is published of them."""

from __future__ import annotations

from itertools import pairwise

import pytest

from halfshaft.build.catalogue.cutter import cutting_row, cutting_rows, use_row


def water_jet_feed_mm_min(thickness_mm: float, machinability: float = 87.6, quality: float = 4.0) -> float:
    """J. Zeng, T. J. Kim, "Parameter prediction and cost analysis in abrasive waterjet cutting operations",
    7th American Water Jet Conference, 1993, pp. 175-189; constants, exponents, machinability from memory.

    u = (N P^1.594 d^1.374 M^0.343 / (163 q h D^0.618))^1.15, in inches, ksi, lb/min.
    """
    pressure, orifice, tube, abrasive = 55.0, 0.014, 0.042, 0.8
    above = machinability * pressure**1.594 * orifice**1.374 * abrasive**0.343
    return (above / (163.0 * quality * thickness_mm / 25.4 * tube**0.618)) ** 1.15 * 25.4


@pytest.mark.parametrize("thickness", [1.0, 3.0, 4.5, 6.0, 9.5, 12.0, 25.0])
def test_water_jet_feeds_are_those_of_the_formula_between_rows_too(thickness: float) -> None:
    assert cutting_row("waterjet", thickness).feed_mm_min == pytest.approx(water_jet_feed_mm_min(thickness), rel=0.02)


@pytest.mark.parametrize(("material", "number"), [("stainless 304", 81.9), ("aluminium 5052-H32", 213.0)])
def test_water_jet_feeds_of_other_metals_go_by_their_machinability(material: str, number: float) -> None:
    share = use_row("waterjet").share_of_feed(material)
    assert share == pytest.approx(water_jet_feed_mm_min(6.0, number) / water_jet_feed_mm_min(6.0), rel=0.15)


@pytest.mark.parametrize("process", ["plasma", "laser", "waterjet"])
def test_thicker_plate_is_cut_slower_and_pierced_longer(process: str) -> None:
    rows = cutting_rows(process)
    feeds = [cutting_row(process, t / 4.0).feed_mm_min for t in range(4, 121)]
    assert all(a > b for a, b in pairwise(feeds))
    assert [row.pierce_s for row in rows] == sorted(row.pierce_s for row in rows)
    assert all(row.pierce_height_mm >= row.cut_height_mm for row in rows)
