"""One row of cells, as it is typed on the bench, reads as it would from readings.csv."""

from __future__ import annotations

import pytest

from halfshaft.build import Build, RowFaults, load, new_build, parse_row, rows_by_line
from halfshaft.build.readings import with_units

BUILD = Build.model_validate(
    {
        "build": {"name": "t"},
        "body": {
            "car": {"point": {"RL3": {}, "RL7": {}}, "face": {"left_web": {"looks": "left"}}},
            "unit": {"point": {"P1": {}}},
        },
    }
)


def _row(text: str, **more):
    return parse_row(dict(zip(("reading", "points", "value", "with"), text.split(","), strict=False)), BUILD, **more)


def test_an_inch_fraction_is_read_in_a_metric_build():
    # 14 3/16 in is 14.1875 x 25.4 mm; the inch is 25.4 mm by definition
    assert _row("tape, RL3 RL7, 14 3/16 in").value == pytest.approx((14.1875 * 25.4,))


def test_a_bare_number_is_read_in_the_units_on_show():
    assert _row("tape, RL3 RL7, 10").value == (10.0,)
    assert _row("tape, RL3 RL7, 10", system="inch").value == pytest.approx((254.0,))


def test_names_get_their_body():
    assert _row("tape, RL3 P1, 10").names == ("car.RL3", "unit.P1")
    assert _row("onface, RL3 left_web, 0").names == ("car.RL3", "car.left_web")


def test_faults_say_what_to_write_and_name_no_line():
    with pytest.raises(RowFaults) as caught:
        _row("tape, RL3, ")
    told = str(caught.value)
    assert "wants 2 points" in told
    assert "has no value" in told
    assert "line" not in told
    assert len(caught.value.faults) == 2


def test_a_strange_name_is_a_fault_unless_it_is_told_to_be_new():
    with pytest.raises(RowFaults, match="'RL9' is not a point of the build"):
        _row("tape, RL3 RL9, 400")
    assert _row("tape, RL3 RL9, 400", also=("car.RL9",)).names == ("car.RL3", "car.RL9")


def test_an_unknown_column_is_a_fault():
    with pytest.raises(RowFaults, match="column 'colour'"):
        parse_row({"reading": "tape", "colour": "red"}, BUILD)


@pytest.mark.parametrize(
    ("kind", "typed", "written"),
    [
        ("tape", "14 3/16", "14 3/16 in"),
        ("tape", "360 mm", "360 mm"),
        ("offset", "14 left", "14 in left"),
        ("offset", "5 in left", "5 in left"),
        ("station", "120 rear", "120 in rear"),
        ("given", "1 2 3", "1 2 3 in"),
        ("given", "1; 2 cm; 3", "1 in; 2 cm; 3 in"),
        ("angle", "31.5", "31.5"),
        ("tape", "nonsense", "nonsense"),
        ("mirror", "", ""),
    ],
)
def test_bare_lengths_get_the_unit_they_were_typed_in(kind, typed, written):
    assert with_units(kind, typed, "inch") == written
    if typed and written != typed:
        cells = {"reading": kind, "points": "RL3 RL7" if kind == "tape" else "RL3"}
        shown = parse_row(cells | {"value": typed}, BUILD, system="inch").value
        assert parse_row(cells | {"value": written}, BUILD).value == pytest.approx(shown)


def test_every_row_of_a_file_parses_alone_to_what_the_file_gives(tmp_path):
    new_build(tmp_path / "demo", demo=True)
    build = load(tmp_path / "demo")
    rows = rows_by_line(tmp_path / "demo")
    assert len(rows) == len(build.readings)
    for reading in build.readings:
        text, cells = rows[reading.line]
        assert text == reading.text
        alone = parse_row(cells, build)
        assert (alone.kind, alone.names, alone.value, alone.instrument, alone.spread, alone.frame) == (
            reading.kind, reading.names, reading.value, reading.instrument, reading.spread, reading.frame,
        )  # fmt: skip
