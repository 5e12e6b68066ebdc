"""Orders of folds: cases whose answer plain geometry gives."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from halfshaft.fold.model import FlatPart
from halfshaft.fold.order import fold_order
from halfshaft.geometry import Contour
from tests.fold.builders import brake, hung, meeting_volume_mm3, plate, slit

NO_TURN = (np.eye(2), np.zeros(2))


def part_of(*names: str) -> FlatPart:
    empty = Contour.of_points(np.zeros((0, 2)))
    return FlatPart("part", "s", 5.0, empty, (), (), (), 2.0, {}, (), dict.fromkeys(names, NO_TURN))


def channel(left: float, right: float, width: float, angles=(90.0, 90.0), kind=slit):
    """A web with a flange folded up at each side, the flanges `left` and `right` high."""
    web = plate("web", [(0, 0), (width, 0), (width, 50), (0, 50)])
    one = plate("one", [(0, 0), (50, 0), (50, left), (0, left)])
    two = plate("two", [(0, 0), (50, 0), (50, right), (0, right)])
    folds = (
        kind("web", "one", [(0, 50), (0, 0)], [(50, 0), (0, 0)], angles[0]),
        kind("web", "two", [(width, 0), (width, 50)], [(50, 0), (0, 0)], angles[1]),
    )
    return {"web": web, "one": hung(one, folds[0], web), "two": hung(two, folds[1], web)}, folds


@pytest.mark.parametrize("kind", [slit, brake])
def test_a_plain_channel_folds_in_any_order(kind) -> None:
    panels, folds = channel(40.0, 40.0, 120.0, kind=kind)
    order, checks = fold_order(part_of(*panels), panels, folds)
    assert sorted(order) == sorted(f.name for f in folds)
    assert all(check.ok for check in checks)


def test_the_flange_that_tucks_under_is_folded_first() -> None:
    # Flange two, 130 long at 150° from the right edge of a web 100 wide, lies over flange one. Its plane is
    # 100 sin 30° = 50 from flange one's fold, so flange one, 55 long, swings round only before it. Flange two is the
    # smaller, which would else go first.
    web = plate("web", [(0, 0), (100, 0), (100, 50), (0, 50)])
    one = plate("one", [(0, 0), (50, 0), (50, 55), (0, 55)])
    two = plate("two", [(0, 0), (20, 0), (20, 130), (0, 130)])
    folds = (
        slit("web", "one", [(0, 50), (0, 0)], [(50, 0), (0, 0)], 160.0),
        slit("web", "two", [(100, 15), (100, 35)], [(20, 0), (0, 0)], 150.0),
    )
    panels = {"web": web, "one": hung(one, folds[0], web), "two": hung(two, folds[1], web)}
    assert meeting_volume_mm3(panels, folds) == {}
    order, checks = fold_order(part_of(*panels), panels, folds)
    assert order == ("web-one", "web-two")
    assert all(check.ok for check in checks)

    # With room under its plane (45 < 50) and still the larger, flange one may come second.
    panels["one"] = hung(plate("one", [(-10, 0), (50, 0), (50, 45), (-10, 45)]), folds[0], web)
    assert fold_order(part_of(*panels), panels, folds)[0] == ("web-two", "web-one")


def test_flanges_that_fill_the_same_space_are_refused_with_their_names() -> None:
    # Two flanges as long as the web is wide, both turned to 135°, cross over its middle.
    panels, folds = channel(100.0, 100.0, 100.0, angles=(135.0, 135.0))
    assert set(meeting_volume_mm3(panels, folds)) == {("one", "two")}
    order, checks = fold_order(part_of(*panels), panels, folds)
    assert order == ()
    assert checks
    assert all("one" in check.do and "two" in check.do and not check.ok for check in checks)


def test_a_box_with_a_lid_closes_only_with_the_walls_before_the_lid() -> None:
    # A lid on the end of one wall must come after the other walls: its rim drops inside them.
    web = plate("web", [(0, 0), (100, 0), (100, 100), (0, 100)])
    back = plate("back", [(0, 0), (96, 0), (96, 50), (0, 50)])
    lid = plate("lid", [(0, 0), (96, 0), (96, 70), (0, 70)])
    front = plate("front", [(0, 0), (96, 0), (96, 90), (0, 90)])
    folds = (
        slit("web", "back", [(2, 0), (98, 0)], [(96, 0), (0, 0)], 90.0),
        slit("back", "lid", [(96, 50), (0, 50)], [(96, 0), (0, 0)], 90.0),
        slit("web", "front", [(98, 100), (2, 100)], [(96, 0), (0, 0)], 90.0),
    )
    back = hung(back, folds[0], web)
    panels = {"web": web, "back": back, "lid": hung(lid, folds[1], back), "front": hung(front, folds[2], web)}
    assert meeting_volume_mm3(panels, folds) == {}
    order, _ = fold_order(part_of(*panels), panels, folds)
    assert len(order) == 3


def test_the_lever_is_given_room_where_an_order_has_it() -> None:
    class Tools:
        lever_mm = 300.0

    panels, folds = channel(40.0, 40.0, 120.0)
    order, checks = fold_order(part_of(*panels), panels, folds, Tools())  # type: ignore[arg-type]
    assert len(order) == 2
    assert [c.title for c in checks] == ["Folds go round in this order"]


def test_orders_and_names_do_not_depend_on_how_the_folds_are_listed() -> None:
    panels, folds = channel(40.0, 70.0, 120.0)
    orders = {fold_order(part_of(*panels), panels, listed)[0] for listed in itertools.permutations(folds)}
    assert orders == {("web-one", "web-two")}


def test_a_fold_that_the_last_flange_covers_is_told_to_be_welded_before() -> None:
    # Flange one turns up off the web's left edge; a long flange hangs from its top back down outside it, so the outside
    # of the fold web-one lies behind it.
    web = plate("web", [(0, 0), (100, 0), (100, 50), (0, 50)])
    one = plate("one", [(0, 0), (50, 0), (50, 40), (0, 40)])
    cap = plate("cap", [(0, 0), (50, 0), (50, 30), (0, 30)])
    skirt = plate("skirt", [(0, 0), (50, 0), (50, 70), (0, 70)])
    folds = (
        slit("web", "one", [(0, 50), (0, 0)], [(50, 0), (0, 0)], 90.0),
        slit("one", "cap", [(50, 40), (0, 40)], [(50, 0), (0, 0)], 90.0, up=False),
        slit("cap", "skirt", [(50, 30), (0, 30)], [(50, 0), (0, 0)], 90.0, up=False),
    )
    panels = {"web": web, "one": hung(one, folds[0], web)}
    panels["cap"] = hung(cap, folds[1], panels["one"])
    panels["skirt"] = hung(skirt, folds[2], panels["cap"])
    order, checks = fold_order(part_of(*panels), panels, folds)
    (told,) = [check for check in checks if check.title == "Torch does not reach the weld" and "web-one" in check.about]
    assert len(order) == 3
    assert told.found == pytest.approx(100.0)
    open_channel, two = channel(40.0, 40.0, 120.0)
    assert all(check.ok for check in fold_order(part_of(*open_channel), open_channel, two)[1])
