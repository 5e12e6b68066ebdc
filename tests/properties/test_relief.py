"""What must hold of any reliefs: holes keep their metal, panels stay whole, what still meets is told."""

from __future__ import annotations

from hypothesis import assume, given, settings
from shapely.geometry import Point

from halfshaft.checks import Severity
from halfshaft.fold.flat import flat_part
from halfshaft.fold.marks import marks_and_checks
from halfshaft.fold.order import fold_order
from halfshaft.fold.relief import keep_mm, relieve, shortened
from halfshaft.fold.slab import figure
from tests.fold.builders import meeting_volume_mm3
from tests.properties.trays import BOTH, part_of, trays


@settings(max_examples=15, deadline=None)
@given(trays(bored=True, kinds=BOTH))
def test_reliefs_keep_holes_and_panels_whole_and_tell_what_still_meets(made) -> None:
    panels, folds = made
    out, checks = relieve(panels, folds)
    for name, panel in out.items():
        shape = figure(panel)
        assert shape.geom_type == "Polygon"
        assert shape.area <= figure(panels[name]).area + 1e-6
        assert panel.outline.area_mm2 > 0.0
        for hole in panel.holes:
            whole = Point(hole.centre_mm).buffer(keep_mm(hole) - 0.05)
            assert shape.covers(whole) or not figure(panels[name]).covers(whole)
    told = {c.about for c in checks if c.severity is Severity.STOP and not c.ok}
    for one, other in (pair for pair, volume in meeting_volume_mm3(out, folds).items() if volume > 20.0):
        assert any(one in about and other in about for about in told)


@settings(max_examples=12, deadline=None)
@given(trays(least_mm=1.5, kinds=BOTH))
def test_slender_flanges_break_nothing(made) -> None:
    panels, folds = made
    out, _ = relieve(panels, folds)
    try:
        folds = shortened(out, folds)
        part = flat_part("part", "plate", list(out), out, folds)
    except ValueError:  # told in words by the station, see the fold tests
        assume(False)
    order, _ = fold_order(part, out, folds)
    marks, _ = marks_and_checks(part, out, folds, order)
    free = part.outline.polygon()
    assert all(free.covers(Point(spot)) for mark in marks for stroke in mark.strokes_mm for spot in stroke)
    assert fold_order(part_of(out), out, folds)[0] == order
