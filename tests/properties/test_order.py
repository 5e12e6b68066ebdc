"""What must hold of any part's folds: a found order goes round, a refused one does not."""

from __future__ import annotations

import itertools

from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon

from halfshaft.fold.order import fold_order
from halfshaft.fold.slab import figure, fold_pose
from halfshaft.geometry import Pose, mesh
from tests.fold.builders import meeting_volume_mm3, plate
from tests.properties.trays import part_of, trays


def poses(panels, folds, turned) -> dict[str, Pose]:
    out = {"base": Pose.identity()}
    for fold in folds:  # listed so that panel a comes before panel b
        out[fold.b] = out[fold.a].after(fold_pose(fold, 5.0, figure(panels[fold.a]), turned[fold.name]))
    return out


def shrunk(panel) -> mesh.MeshSolid:
    """The panel's core, two millimetres in from every edge and half a millimetre from its sides: no touch is a hit."""
    shape = figure(panel).buffer(-2.0)
    return mesh.prism(shape, 0.5, 4.5)


@settings(max_examples=25, deadline=None)
@given(trays(), st.data())
def test_an_order_that_is_given_goes_round_at_any_angle_on_the_way(made, data) -> None:
    panels, folds = made
    order, _ = fold_order(part_of(panels), panels, folds)
    if not order:
        return
    assert sorted(order) == sorted(fold.name for fold in folds)
    by_name = {fold.name: fold for fold in folds}
    place = data.draw(st.integers(0, len(order) - 1))
    turned = {
        name: by_name[name].angle_deg * (1.0 if at < place else data.draw(st.floats(0, 1)) if at == place else 0.0)
        for at, name in enumerate(order)
    }
    where = poses(panels, folds, turned)
    cores = {name: mesh.moved(shrunk(panel), where[name]) for name, panel in panels.items()}
    for one, other in itertools.combinations(cores, 2):
        assert mesh.overlap(cores[one], cores[other]).volume_mm3 < 1.0


@settings(max_examples=25, deadline=None)
@given(trays())
def test_panels_in_the_same_space_when_folded_are_never_given_an_order(made) -> None:
    panels, folds = made
    order, checks = fold_order(part_of(panels), panels, folds)
    cores = {name: mesh.moved(shrunk(panel), panel.pose) for name, panel in panels.items()}
    hits = [p for p in itertools.combinations(cores, 2) if mesh.overlap(cores[p[0]], cores[p[1]]).volume_mm3 > 10.0]
    if hits:
        assert order == ()
        assert any(not check.ok for check in checks)
        assert meeting_volume_mm3(panels, folds)
    if not order and folds:
        assert any(not check.ok and check.do for check in checks)


def test_a_tray_figure_is_what_is_drawn() -> None:
    shape = figure(plate("p", [(0, 0), (10, 0), (10, 5), (0, 5)]))
    assert shape.equals(affinity.translate(Polygon([(0, 0), (10, 0), (10, 5), (0, 5)])))
