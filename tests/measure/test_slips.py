"""Claims about causes of slips: what was done to a reading is known here, and must be found."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.build.schema import Build, PointHint
from halfshaft.measure.network import predict
from halfshaft.measure.slip_kinds import guesses, unit_written, written
from halfshaft.measure.slips import nearness, recognise, recognise_all
from tests.measure.shop import Shop, row_of, shop, without


def seen(one: Shop, kind: str, *names: str):
    row = row_of(one, kind, *names)
    return recognise(one.network, without(one, [row]), one.build, row)


# (kind, points, text written, what was meant to be read, kind told). True: L1 L3 752.8, L2 R5 1402.0, L1 R1 820.0 mm.
VALUES = [
    ("tape", ("L1", "L3"), "75.3", 753.0, "unit mistaken"),  # the centimetre scale
    ("tape", ("L1", "L3"), "29.65", 753.1, "unit mistaken"),  # the inch scale
    ("tape", ("L1", "L3"), "753 cm", 753.0, "unit mistaken"),
    ("tape", ("L1", "L3"), "735", 753.0, "digits turned round"),
    ("tape", ("L2", "R5"), "1420", 1402.0, "digits turned round"),
    ("tape", ("L2", "R5"), "4102", 1402.0, "digits turned round"),
    ("tape", ("L2", "R5"), "7402", 1402.0, "digit mistaken"),
    ("offset", ("R2",), "423 left", -423.0, "sign or side mistaken"),
    ("station", ("L2",), "420 front", -420.0, "sign or side mistaken"),
    ("angle", ("L2", "R2", "L5"), "126.8", 53.2, "other angle read"),
    ("slope", ("L1", "L2"), "76.7", 13.3, "other angle read"),
]


@pytest.mark.parametrize(("kind", "names", "text", "meant", "told"), VALUES)
def test_the_value_that_was_meant_is_proposed(kind, names, text, meant, told):
    found = seen(shop(changed={(kind, names): text}), kind, *names)
    assert found.kind == told
    assert found.proposal is not None
    assert found.proposal[0] == tuple(f"car.{n}" for n in names)
    assert found.proposal[1][0] == pytest.approx(meant, abs=0.35)
    assert found.words.endswith("would agree. Measure again")


def test_a_tape_read_a_whole_mark_off_is_proposed_without_the_mark():
    for steps in (100.0, 25.4, -25.4, 304.8, 1000.0):
        one = shop(changed={("tape", ("L2", "R5")): f"{1402.0 + steps:.1f}"})
        found = seen(one, "tape", "L2", "R5")
        assert found.proposal is not None
        assert found.proposal[1][0] == pytest.approx(1402.0, abs=0.1)


def test_inch_fractions_are_read_as_written():
    # L1 L3 is 752.8 mm = 29.64 in = 29 5/8 in
    one = shop(changed={("tape", ("L1", "L3")): "29 5/16"}, system="inch", noise=0.3)
    found = seen(one, "tape", "L1", "L3")
    assert found.kind == "fraction mistaken"
    assert found.proposal is not None
    assert found.proposal[1][0] == pytest.approx(29.625 * 25.4)
    # L1 L6 is 1930.1 mm = 76 in: 6 ft 4 in written as 6.4 ft, and as 64 in
    for text in ("6.4 ft", "64 in"):
        one = shop(changed={("tape", ("L1", "L6")): text}, system="inch")
        found = seen(one, "tape", "L1", "L6")
        assert found.kind == "feet and inches mistaken"
        assert found.proposal is not None
        assert found.proposal[1][0] == pytest.approx(76 * 25.4)


def test_a_rise_taken_the_other_way_is_told_with_the_points_turned():
    one = shop(changed={("rise", ("L1", "L3")): "-135"})
    found = seen(one, "rise", "L1", "L3")
    assert found.proposal == (("car.L3", "car.L1"), (-135.0,))


def test_a_wrong_point_is_named():
    one = shop()
    # what the tape from L2 to R6 shows, written for L2 to R5
    truth = predict(one.network, one.truth)[row_of(one, "tape", "L2", "R6")]
    one = shop(changed={("tape", ("L2", "R5")): f"{truth:.0f}"})
    found = seen(one, "tape", "L2", "R5")
    assert found.kind == "wrong point named"
    assert found.proposal == (("car.L2", "car.R6"), (round(truth),))
    assert "R6 taken for R5" in found.words


def test_two_points_taken_for_each_other_in_several_rows_are_told_together():
    one = shop()
    said = predict(one.network, one.truth)
    others = ["L1", "L6", "T1"]
    changed = {}
    for other in others:
        for a, b in (("R3", "R4"), ("R4", "R3")):
            true = said[
                next(i for i, r in enumerate(one.build.readings) if set(r.names) == {f"car.{other}", f"car.{a}"})
            ]
            names = (b, other) if ("tape", (b, other)) in _rows(one) else (other, b)
            changed["tape", names] = f"{true:.0f}"
    one = shop(changed=changed)
    rows = [row_of(one, kind, *names) for kind, names in changed]
    found = recognise_all(one.network, without(one, rows), one.build, rows)
    assert {f.kind for f in found.values()} == {"names swapped"}
    for row in rows:
        turned = {"car.R3": "car.R4", "car.R4": "car.R3"}
        wanted = tuple(turned.get(n, n) for n in one.build.readings[row].names)
        assert found[row].proposal == (wanted, one.build.readings[row].value)


def _rows(one: Shop) -> set[tuple[str, tuple[str, ...]]]:
    return {(r.kind, tuple(n.partition(".")[2] for n in r.names)) for r in one.build.readings}


def test_slips_without_a_cause_are_seldom_given_one():
    rng = np.random.default_rng(7)
    given = 0
    for _ in range(60):
        slip = float(rng.choice([-1.0, 1.0]) * rng.uniform(11.5, 23.0))
        one = shop(seed=int(rng.integers(1 << 30)), changed={("tape", ("L2", "R5")): f"{1402.0 + slip:.1f}"})
        given += seen(one, "tape", "L2", "R5").kind != "slip"
    assert given <= 9


def test_a_reading_that_was_not_left_out_is_refused():
    one = shop()
    with pytest.raises(ValueError, match="leave it out first"):
        recognise(one.network, without(one, [3]), one.build, 4)


def test_a_name_is_nearest_to_its_twin():
    build = Build.model_validate({"build": {"name": "t"}, "body": {"car": {"point": {"A": PointHint(twin="B")}}}})
    assert (
        nearness(build, "car.RL3", "car.RR3")
        > nearness(build, "car.RL3", "car.RL4")
        > nearness(build, "car.RL3", "car.X9")
    )
    assert (
        nearness(build, "car.A", "car.B") == nearness(build, "car.B", "car.A") == nearness(build, "car.RL3", "car.RR3")
    )


def test_the_text_of_a_reading_is_found_in_its_row():
    one = shop(changed={("tape", ("L1", "L3")): "2 ft 5 5/8 in", ("offset", ("R2",)): "423 right"})
    assert written(one.build.readings[row_of(one, "tape", "L1", "L3")], "metric") == "2 ft 5 5/8 in"
    assert written(one.build.readings[row_of(one, "offset", "R2")], "metric") == "423 right"
    bare = one.build.readings[row_of(one, "offset", "R2")].model_copy(update={"text": ""})
    assert written(bare, "metric") == "-423"
    assert [unit_written(t, "metric") for t in ("412", "41.2 cm", "14 3/16 in", '3"', "2 ft 3 in", "120 left")] == [
        "mm", "cm", "in", "in", "", "mm",
    ]  # fmt: skip


def test_no_guess_leaves_the_range_of_its_reading():
    one = shop(changed={("slope", ("L1", "L2")): "13.3", ("tape", ("L1", "L3")): "8"})
    for kind, names in (("slope", ("L1", "L2")), ("tape", ("L1", "L3")), ("angle", ("L2", "R2", "L5"))):
        reading = one.build.readings[row_of(one, kind, *names)]
        found = list(guesses(reading, "metric"))
        assert found
        for guess in found:
            assert guess.share > 0.0
            assert guess.value != reading.value
            assert -90.0 < guess.value[0] < 90.0 or kind != "slope"
            assert 0.0 < guess.value[0] < 180.0 or kind != "angle"
            assert guess.value[0] > 0.0 or kind != "tape"
