"""What is bought and in which order it is made: counts by hand, lengths by hand."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from halfshaft.book.order import order_of_work
from halfshaft.build.book import BuyInput
from halfshaft.build.units import format_torque
from halfshaft.buy import Needs, needs_of
from halfshaft.fold.inspect import hole_pairs
from halfshaft.mounts.bolt_length import bolt_length_mm
from halfshaft.mounts.bolts import bolt_of
from halfshaft.study import Study
from halfshaft.tables_buy import buy_table, total_words
from tests.cut.brackets import bracket
from tests.fold.builders import hole


def wanted(study: Study) -> Needs:
    return needs_of(study.build, study.brackets.values(), study.mounts, study.pack, study.sheets)


def seat(bolt: str, grade: str, plate: float, wall: float, into: str, **told: float | None) -> SimpleNamespace:
    return SimpleNamespace(
        bolt=bolt_of(bolt, grade), part=SimpleNamespace(thickness_mm=plate), other=SimpleNamespace(thickness_mm=wall),
        into=into, tube_mm=told.get("tube"), told=SimpleNamespace(engaged_mm=told.get("engaged")),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("bolt", "grade", "plate", "wall", "into", "told", "length"),
    [
        # 10 + 3 + two washers of 2.5 + nut 10.8 + two threads of 1.75 = 32.3: the next sold is 35
        ("M12", "8.8", 10.0, 3.0, "plate", {}, 35.0),
        # 8 + washer 2.5 + 30 in the thread = 40.5: no longer than 40, or it strikes the ground of the hole
        ("M12", "8.8", 8.0, 30.0, "tapped", {"engaged": 30.0}, 40.0),
        # 8 + tube 60 + two washers + nut + threads = 87.3
        ("M12", "8.8", 8.0, 3.0, "crush tube", {"tube": (140.0, 60.0)}, 90.0),
        # 1/2 in: 8 + 3 + two washers of 2.4 or so + 11.43 + 3.9 = about 31.2 mm: 1 1/4 in is 31.75
        ("1/2 in", "grade 5", 8.0, 3.0, "plate", {}, 31.75),
        # 12 + tube 250 + two washers, nut, threads = about 280 mm: beyond ten inches by halves, 11 1/2 in is 292.1
        ("1/2 in", "grade 5", 12.0, 3.0, "crush tube", {"tube": (60.0, 254.0)}, 292.1),
    ],
)
def test_a_bolt_is_as_long_as_what_it_grips_wants(
    bolt: str, grade: str, plate: float, wall: float, into: str, told: dict[str, float], length: float
) -> None:
    assert bolt_length_mm(seat(bolt, grade, plate, wall, into, **told)) == pytest.approx(length)  # type: ignore[arg-type]


def test_bolts_washers_and_nuts_are_counted_from_the_holes(corner: Study) -> None:
    rows = {need.name: need for need in wanted(corner).rows}
    # four holes of M10 in the starter's bracket, and nobody tells what they are bolted into
    assert rows["bolt M10"].count == 4
    assert rows["nut M10"].count == 4
    assert sum(need.count for name, need in rows.items() if name.startswith("washer M10")) == 8


def test_prices_reach_the_rows_they_cover_and_what_covers_nothing_is_told(corner: Study) -> None:
    told = {
        "bolts": BuyInput(covers="BOLT M10", price=0.5, have=1, seller="counter"),
        "paint": BuyInput(what="primer", count=2, unit="litre", price=19.0),
        "lost": BuyInput(covers="bolt M99", price=1.0),
    }
    found = wanted(replace(corner, build=corner.build.model_copy(update={"buy": told})))
    by_name = {need.name: need for need in found.rows}
    assert by_name["bolt M10"].short == 3
    assert by_name["bolt M10"].cost == pytest.approx(1.5)
    assert by_name["primer"].cost == pytest.approx(38.0)
    assert [check.about for check in found.checks] == ["buy.lost"]
    assert "39.50 EUR" in total_words(found, "EUR")
    table = buy_table(found, "EUR")
    assert any("counter" in row for row in table.rows)


def test_room_of_a_bolt_is_what_both_holes_leave_it() -> None:
    # M10 in a hole of 12 onto a hole of 11: a millimetre and a half in all
    one = replace(hole("A", 0, 0, 12.0, bolt="M10"), bolt_mm=10.0, frame_hole_mm=11.0)
    assert one.room_mm == pytest.approx(1.5)


def test_pairs_of_holes_are_those_between_panels_first() -> None:
    pairs = hole_pairs(bracket())
    assert len(pairs) == 6
    spots = {}
    one = bracket()
    for panel in one.panels.values():
        for own in panel.holes:
            spots[own.point.rpartition(".")[2] or own.name] = panel.name
    kinds = [spots[a] == spots[b] for a, b in ((pair.one, pair.other) for pair in pairs)]
    assert kinds == sorted(kinds)


def test_a_torque_is_told_on_the_scale_that_the_shop_reads() -> None:
    # 1 lbf ft is 1.3558 Nm (NIST SP 811, appendix B)
    assert format_torque(95.0, "metric") == "95 Nm"
    assert format_torque(95.0, "inch") == "70 lbf ft (95 Nm)"


def test_nothing_is_folded_before_it_is_cut_and_every_stage_ends_in_a_hold(corner: Study) -> None:
    lists = order_of_work(corner)
    titles = [one.title for one in lists]
    assert titles.index("Cut") < titles.index("Fold and offer up") < titles.index("First drive")
    for one in lists:
        assert any(tick.sign and tick.text.startswith("HOLD") for tick in one.rows)
