"""Stiffening lips: where they stand, by plain trigonometry of the fold."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from halfshaft.build.schema import Sheet, Shop, StiffenerInput
from halfshaft.fold.relief import relieve
from halfshaft.fold.slab import figure, flat_move
from halfshaft.fold.stiffen import add_stiffeners, rounded_strip
from halfshaft.geometry import Pose
from halfshaft.geometry.pose import turn
from tests.fold.builders import hung, meeting_volume_mm3, plate, slit

SHEET = Sheet(thickness="5 mm", brake_radius="6 mm", k_factor=0.4)
SHOP = Shop(kerf="2 mm")
BASE = plate("base", [(0, 0), (120, 0), (120, 60), (0, 60)])


def wished(kind: str = "slit", **values: object) -> SimpleNamespace:
    wish = StiffenerInput.model_validate({"on": "base", "height": "20 mm"} | values)
    return SimpleNamespace(fold=kind, stiffener={"rib": wish}, panel={}, join=())


@pytest.mark.parametrize("kind", ["slit", "brake"])
@pytest.mark.parametrize(("edge", "out"), [("front", (1, 0)), ("rear", (-1, 0)), ("left", (0, 1)), ("right", (0, -1))])
def test_the_lip_stands_up_on_the_edge_named(kind: str, edge: str, out: tuple[int, int]) -> None:
    panels, folds = add_stiffeners({"base": BASE}, (), wished(kind, edge=edge), SHEET, SHOP)
    (fold,) = folds
    lip = panels["rib"]
    assert fold.up
    assert lip.pose.rotation @ [0, 1, 0] == pytest.approx([0, 0, 1], abs=1e-12)  # 90°: straight up, away from the face
    # The outer side of the lip looks out of the panel; its upper side, the inside of the fold, looks back over it.
    assert lip.pose.rotation @ [0, 0, 1] == pytest.approx([-out[0], -out[1], 0], abs=1e-12)
    rotation, shift = flat_move(fold, figure(BASE))
    middle = rotation @ [fold.length_mm / 2, 10.0] + shift
    gone = 10.0 + fold.allowance_mm
    assert (middle - [60, 30]) @ out == pytest.approx((60 if out[0] else 30) + gone)
    assert meeting_volume_mm3(panels, folds) == {}


def test_toward_the_body_folds_the_other_way() -> None:
    panels, (fold,) = add_stiffeners({"base": BASE}, (), wished(toward="body"), SHEET, SHOP)
    assert not fold.up
    assert panels["rib"].pose.rotation @ [0, 1, 0] == pytest.approx([0, 0, -1], abs=1e-12)


def test_the_longest_free_edge_is_taken_and_an_edge_with_a_fold_is_not_free() -> None:
    flange = plate("flange", [(0, 0), (120, 0), (120, 40), (0, 40)])
    folds = [slit("base", "flange", [(120, 60), (0, 60)], [(120, 0), (0, 0)], 90.0)]
    panels, made = add_stiffeners({"base": BASE, "flange": hung(flange, folds[0], BASE)}, folds, wished(), SHEET, SHOP)
    assert sorted(map(tuple, made[-1].line_a_mm)) == [(0, 0), (120, 0)]
    assert panels["rib"].contact == "none"


def test_the_free_corners_are_round() -> None:
    strip = rounded_strip(100.0, 20.0, 10.0)
    # a strip less two corners of (1 - π/4) r²
    assert strip.area_mm2 == pytest.approx(2000 - 2 * (1 - np.pi / 4) * 100)


def test_a_lip_shorter_than_the_edge_is_relieved_where_the_edge_goes_on() -> None:
    tall = plate("base", [(0, 0), (120, 0), (140, 30), (120, 60), (0, 60)])
    panels, folds = add_stiffeners({"base": tall}, (), wished(edge="right"), SHEET, SHOP)
    out, _ = relieve(panels, folds)
    assert figure(out["base"]).area < figure(tall).area  # the edge goes on past the lip's end at a blunt corner


def test_edges_that_are_not_there_are_named_all_at_once() -> None:
    standing = plate("base", [(0, 0), (120, 0), (120, 60), (0, 60)], pose=Pose(turn([0, np.pi / 2, 0]), np.zeros(3)))
    bracket = wished(edge="front")
    bracket.stiffener["second"] = StiffenerInput.model_validate({"on": "nothing", "height": "20 mm"})
    with pytest.raises(ValueError, match=r"rib.*front.*second.*nothing"):
        add_stiffeners({"base": standing}, (), bracket, SHEET, SHOP)
