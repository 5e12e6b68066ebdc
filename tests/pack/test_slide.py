"""Modules slid to the wanted centre: never through each other, never worse, and as near as trying finds."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfshaft.geometry import Pose, mesh
from halfshaft.pack.bay import Bay, Keep
from halfshaft.pack.clear import clashes
from halfshaft.pack.layout import Rooms, layouts
from halfshaft.pack.slide import slid
from halfshaft.pack.spots import spots_of
from tests.pack.test_layout import PLACE, SHORT, Array, bay, block
from tests.pack.test_layout import rooms as on_spots


def sliding(bays: list[Bay], keeps: tuple[Keep, ...] = (), gap: float = 3.0) -> Rooms:
    found = on_spots(bays, block((300.0, 150.0, 100.0), up=("top",)), keeps, gap)
    return Rooms(found.bays, found.stances, found.spots, keeps, gap)


def ends(size: Array, at: Array, wanted: float, axis: int = 0) -> Array:
    place = Bay("bay", Pose(np.eye(3), np.zeros(3)), size, 5.0)
    room = np.tile([100.0, 80.0, 60.0], (len(at), 1))
    none = np.zeros(len(at), dtype=bool)
    return slid([place], (), 2.0, np.zeros(len(at), dtype=np.int64), at, room, none, room / 2, axis, wanted)


def test_one_module_slides_to_the_wanted_station_and_no_farther() -> None:
    at = np.array([[5.0, 5.0, 5.0]])
    size = np.array([600.0, 100.0, 100.0])
    assert ends(size, at, 300.0)[0, 0] == pytest.approx(250.0)
    assert ends(size, at, 900.0)[0, 0] == pytest.approx(495.0)  # the wall holds it
    assert ends(size, at, 55.0)[0, 0] == pytest.approx(5.0)


def test_a_row_is_as_near_as_trying_every_millimetre_finds() -> None:
    at = np.array([[5.0, 5.0, 5.0], [107.0, 5.0, 5.0], [5.0, 5.0, 80.0]])
    size = np.array([230.0, 100.0, 150.0])
    for wanted in (80.0, 110.0, 140.0, 200.0):
        found = ends(size, at, wanted)
        best = min(
            abs((a + b + c) / 3 + 50 - wanted)
            for a, b, c in product(range(5, 126), repeat=3)
            if a + 102 <= b and c <= 125
        )
        assert abs(found[:, 0].mean() + 50 - wanted) <= best + 0.34
        assert found[0, 0] + 102 <= found[1, 0] + 1e-6


@settings(max_examples=15, deadline=None)
@given(st.floats(-400, 1200), st.floats(-200, 200), st.floats(0, 30), st.booleans())
def test_layouts_that_slide_fit_and_are_never_farther_off(
    station: float, side: float, turn_deg: float, with_keep: bool
) -> None:
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    pose = Pose(np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]), np.array([100.0, -200.0, 300.0]))
    one = Bay("boot", pose, np.array([700.0, 400.0, 130.0]), 6.0)
    keep = Keep("pipe", mesh.moved(mesh.box([300.0, 0.0, 0.0], [330.0, 60.0, 130.0]), pose), 8.0)
    keeps = (keep,) if with_keep else ()
    sliding_rooms = sliding([one], keeps)
    told = {"station_mm": station, "side_mm": side, "others": 0, "work": 0.2}
    free = layouts(sliding_rooms, 2, 1, (PLACE,), **told)  # type: ignore[arg-type]
    held = layouts(Rooms(sliding_rooms.bays, sliding_rooms.stances, sliding_rooms.spots), 2, 1, (PLACE,), **told)  # type: ignore[arg-type]
    assert free
    assert clashes(free[0].modules, [one], keeps, 3.0) == ()

    def off(merits: tuple[float, ...]) -> float:
        return PLACE.station * merits[0] + PLACE.side * merits[1]

    assert off(free[0].merits) <= off(held[0].merits) + 0.1


def test_a_cooled_module_stays_on_its_plate_and_cables_first_stays_on_its_spots() -> None:
    one = bay((900.0, 300.0, 130.0), cooled="rear")
    made = block((300.0, 150.0, 100.0), up=("top",), cools="rear")
    from halfshaft.pack.block import stances_of

    stances = (stances_of(made, "rear"),)
    rooms = Rooms((one,), stances, (spots_of(one, stances[0], (), 3.0),), (), 3.0)
    found = layouts(rooms, 1, 1, (PLACE,), station_mm=700.0, others=0)
    assert found[0].modules[0].corner_mm[0] == pytest.approx(0.0)
    plain = sliding([bay((900.0, 300.0, 130.0))])
    short = layouts(plain, 1, 1, (SHORT,), station_mm=450.0, others=0)
    assert short[0].modules[0].corner_mm[0] in plain.spots[0].corner_mm[:, 0]
