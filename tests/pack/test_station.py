"""[pack] from build.toml to a Pack: what is judged, what is laid out, what the road takes from it, what is refused."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from halfshaft.build import BuildProblems, load
from halfshaft.build.catalogue.pack import cell, cells, module, modules
from halfshaft.checks import Good
from halfshaft.cli import app
from halfshaft.pack.cables import runs_mm
from halfshaft.pack.chemistry import chemistry_of, plateau_v, resistance_times
from halfshaft.pack.current import charge_limit_w, current_a, discharge_limit_w
from halfshaft.pack.model import Pack
from halfshaft.pack.retention import retention
from halfshaft.pack.station import as_built, electric
from halfshaft.pack.strings import charge_w, discharge_w, energy_wh, loaded_v, open_v, resistance_ohm
from halfshaft.road.charge import charge_by_current
from halfshaft.road.from_pack import supply_of_pack
from halfshaft.study import work

HEAD = """
[build]
name = "a pack alone"

[body.car.point.A]
"""
PACK = """
[pack]
series = 4
inverter_volts = [120, 220]
charger_volts = [100, 220]
power = "30 kW"
station = 700
front_end = 3000
rear_end = -700
class = "M1"

[pack.module]
like = "355 mm, 12 in series"

[pack.bay.boot]
box = [[500, -200, 400], [1300, 200, 520]]
cables = "front"
wall_room = 5

[pack.keep_out.hump]
box = [[480, -40, 380], [520, 40, 600]]
room = 10
"""


def written(folder: Path, text: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "build.toml").write_text(HEAD + text, encoding="utf-8")
    (folder / "readings.csv").write_text("reading,points,value,with,spread,frame,note\n", encoding="utf-8")
    return folder


def pack_of(folder: Path, text: str = PACK) -> Pack:
    told = load(written(folder, text)).pack
    assert told is not None
    return electric(told)


def faults(folder: Path, text: str) -> str:
    with pytest.raises(BuildProblems) as refused:
        load(written(folder, text))
    return "\n".join(str(problem) for problem in refused.value.problems)


def test_every_row_of_the_catalogue_makes_a_cell_and_a_module() -> None:
    for name in cells():
        one = chemistry_of(cell(name))
        assert np.all(np.diff(one.volts) > 0.0)
        assert one.least_v < one.volts[1]
        assert float(resistance_times(one, 0.5, 25.0)) == pytest.approx(1.0)
        cold = resistance_times(one, 0.5, np.array([-20.0, 0.0, 25.0, 40.0]))
        assert np.all(np.diff(cold) < 0.0)
    for name in modules():
        row = module(name)
        assert row.chemistry in cells()
        assert all(-1.0 <= spot <= size for spot, size in zip(row.minus_mm, row.size_mm, strict=True))
        # common practice, no source: 120 to 300 Wh a kilogram of module
        volts = chemistry_of(cell(row.chemistry)).volts[10] * row.series
        assert 100.0 < volts * row.charge_ah / row.mass_kg < 300.0


def test_iron_phosphate_is_told_to_be_flat_and_nickel_is_not(tmp_path: Path) -> None:
    assert plateau_v(chemistry_of(cell("lfp"))) < 0.2 < plateau_v(chemistry_of(cell("nmc811")))
    flat = pack_of(tmp_path, PACK.replace('like = "355 mm, 12 in series"', 'like = "iron phosphate cell, 100 Ah"'))
    assert [c.ok for c in flat.checks if c.title == "Volts tell the charge"] == [False]
    assert [c.ok for c in pack_of(tmp_path).checks if c.title == "Volts tell the charge"] == [True]


def test_series_and_parallel_are_what_they_say(tmp_path: Path) -> None:
    one = pack_of(tmp_path)
    two = pack_of(tmp_path, PACK.replace("series = 4", "series = 4\nparallel = 2"))
    assert one.strings.cells_in_series == two.strings.cells_in_series == 48
    assert one.strings.most_v == pytest.approx(48 * 4.2)
    assert two.gross_wh == pytest.approx(2 * one.gross_wh)
    assert two.resistance_ohm == pytest.approx(one.resistance_ohm / 2)
    assert one.resistance_ohm == pytest.approx(4 * 0.0144)
    assert one.mean_v == pytest.approx(one.usable_wh / (56.0 * 0.92))
    assert one.old_usable_wh == pytest.approx(0.8 * one.usable_wh)


def test_a_pack_too_high_for_the_inverter_stops(tmp_path: Path) -> None:
    high = pack_of(tmp_path, PACK.replace("[120, 220]", "[120, 200]"))
    assert [c.ok for c in high.checks if c.title == "Full pack at the inverter"] == [False]
    low = pack_of(tmp_path, PACK.replace("inverter_volts = [120, 220]", "inverter_volts = [170, 220]"))
    assert [c.ok for c in low.checks if c.title == "Empty pack at rest at the inverter"] == [False]
    short = pack_of(tmp_path, PACK.replace("charger_volts = [100, 220]", "charger_volts = [100, 190]"))
    assert [c.ok for c in short.checks if c.title == "Full volts within the charger's reach"] == [False]


@given(
    volts=st.floats(50, 900),
    ohm=st.floats(1e-4, 1),
    amps=st.floats(1, 1000),
    least=st.floats(0, 1),
    most=st.floats(1, 2),
)
@settings(max_examples=60, deadline=None)
def test_a_power_limit_keeps_current_and_volts(
    volts: float, ohm: float, amps: float, least: float, most: float
) -> None:
    out = float(discharge_limit_w(volts, ohm, amps, least * volts))
    i = float(current_a(volts, ohm, out))
    assert i <= amps * (1 + 1e-6)
    assert volts - ohm * i >= max(least * volts, volts / 2) * (1 - 1e-6)
    # a little more would break one of them
    more = float(current_a(volts, ohm, out * 1.01 + 1.0))
    at_peak = out >= 0.999 * volts**2 / (4 * ohm)
    assert at_peak or more > amps * (1 - 1e-9) or volts - ohm * more < least * volts * (1 + 1e-9)
    into = float(charge_limit_w(volts, ohm, amps, most * volts))
    i = -float(current_a(volts, ohm, -into))
    assert i <= amps * (1 + 1e-6)
    assert volts + ohm * i <= most * volts * (1 + 1e-6)


def test_cold_and_age_never_give_more(tmp_path: Path) -> None:
    pack = pack_of(tmp_path)
    strings = pack.strings
    limits = pack.limits
    assert np.all(np.diff(limits.out_w, axis=0) > 0.0)
    assert np.all(np.diff(limits.in_w, axis=0) >= 0.0)
    assert np.all(limits.lasting_w <= limits.out_w)
    assert np.all(limits.in_w[0] == 0.0)
    charge = np.linspace(0.05, 1.0, 11)
    assert np.all(discharge_w(pack.old, charge, 0.0) <= discharge_w(strings, charge, 0.0) + 1e-9)
    assert np.all(charge_w(pack.old, charge, 25.0) <= charge_w(strings, charge, 25.0) * 1.5)
    assert np.all(loaded_v(strings, 20e3, charge, 25.0) < open_v(strings, charge))
    assert energy_wh(strings, 0.05, 0.5) + energy_wh(strings, 0.5, 0.97) == pytest.approx(pack.usable_wh)


def test_the_road_takes_energy_volts_and_limits_from_the_pack(tmp_path: Path) -> None:
    pack = pack_of(tmp_path)
    supply = supply_of_pack(pack)
    low, high = pack.strings.window
    assert supply.energy_wh == pytest.approx(pack.usable_wh)
    assert float(supply.charge_ah) == pytest.approx(56.0 * (high - low), rel=2e-3)
    for share in (0.0, 0.5, 1.0):
        at = low + share * (high - low)
        assert float(supply.open_v(share)) == pytest.approx(float(open_v(pack.strings, at)), rel=1e-9)
    assert supply.resistance_ohm == pytest.approx(float(resistance_ohm(pack.strings)))
    assert supply.discharge_w == pytest.approx(float(discharge_w(pack.strings, 0.5, 25.0, 120.0)))
    done = charge_by_current(supply, 20.0, begin=0.1, least_a=1.0)
    assert done.charge[-1] > 0.95


def test_fixings_hold_what_the_regulation_wants() -> None:
    # 250 kg at 20 g: 49.03 kN, at 8 g: 19.61 kN; 10 g: 24.52 kN
    held = retention("bay", 4, 250.0, "M1")
    assert held.along_n == pytest.approx(49_033.0, abs=5.0)
    assert held.across_n == pytest.approx(19_613.0, abs=5.0)
    assert retention("bay", 4, 250.0, "N2").along_n == pytest.approx(24_517.0, abs=5.0)


def test_modules_are_laid_out_and_told(tmp_path: Path) -> None:
    folder = written(tmp_path, PACK)
    found = work(folder, until="pack").pack
    assert found is not None
    assert found.laid is not None
    assert found.laid.answers
    assert found.laid.most[0][0] >= 4
    for answer in found.laid.answers:
        assert answer.faults == ()
        assert answer.retention[0].mass_kg == pytest.approx(4 * 11.8 * 1.35)
        for one in answer.layout.modules:
            assert one.centre_mm[0] < 3000 - 420
    told = [c for c in found.checks if c.title == "Fixings hold this in a crash along the car"]
    assert told
    assert all(c.good is Good.TOLD for c in told)
    done = CliRunner().invoke(app, ["pack", str(folder), "--json"])
    assert done.exit_code == 0
    values = json.loads(done.output)
    assert len(values["places"]["layouts"][0]["modules"]) == 4
    assert {"string", "bay", "up", "centre_mm", "cable_mm"} <= set(values["places"]["layouts"][0]["modules"][0])


def test_cables_drawn_are_as_long_as_told_and_another_layout_is_built_without_a_search(tmp_path: Path) -> None:
    found = work(written(tmp_path, PACK), until="pack")
    assert found.pack is not None
    assert found.build.pack is not None
    laid = found.pack.laid
    assert laid is not None
    for answer in laid.answers:
        runs = runs_mm(answer.layout.modules, laid.bays, laid.junction_mm)
        drawn = sum(float(np.linalg.norm(np.diff(run, axis=0), axis=1).sum()) for run in runs)
        assert drawn == pytest.approx(answer.layout.cable_mm, abs=1.0)
    last = len(laid.answers)
    other = as_built(found.pack, found.build.pack.model_copy(update={"layout": last}))
    assert other.laid is not None
    assert other.laid.chosen is laid.answers[-1]
    assert sum(lump.modules for lump in other.laid.lumps) == 4
    past = as_built(found.pack, found.build.pack.model_copy(update={"layout": last + 1}))
    assert [c.ok for c in past.checks if c.about == "layout"] == [False]
    assert past.weight is not None
    assert past.weight.number == last


def test_too_many_modules_stop_with_how_many_go_in(tmp_path: Path) -> None:
    found = work(written(tmp_path, PACK.replace("series = 4", "series = 40")), until="pack").pack
    assert found is not None
    stop = next(c for c in found.checks if c.title == "Modules that the bays take")
    assert not stop.ok
    assert stop.limit == 40.0
    assert stop.found is not None
    assert stop.found < 40.0


def test_what_cannot_be_is_told_all_at_once(tmp_path: Path) -> None:
    words = faults(
        tmp_path,
        PACK.replace("355 mm, 12 in series", "355 mm, 12 in serie")
        .replace("[120, 220]", "[220, 120]")
        .replace("[[480, -40, 380], [520, 40, 600]]", "[[480, -40, 380]]")
        .replace('cables = "front"', 'cables = "front"\nfloor = "A A A"'),
    )
    assert "the module '355 mm, 12 in serie' is not known. Write '355 mm, 12 in series'" in words
    assert "Write the lower first, then the higher" in words
    assert "1 corner(s). Write two points" in words
    assert "the bay has a box and a floor" in words


def test_a_module_without_its_numbers_is_refused(tmp_path: Path) -> None:
    words = faults(tmp_path, PACK.replace('like = "355 mm, 12 in series"', 'chemistry = "nmc532"\nseries = 12'))
    assert "the module has no charge, size, mass, minus, plus, terminal_face" in words


def test_a_pack_told_twice_is_refused(tmp_path: Path) -> None:
    from tests.road.builds import CAR

    car = CAR[CAR.index("[car]") :].replace('map = "motor_map.csv"\n', "")
    words = faults(tmp_path, PACK + car)
    assert "of the pack told twice" in words


def test_a_bay_between_points_that_are_not_located_is_told(tmp_path: Path) -> None:
    text = PACK.replace("[[500, -200, 400], [1300, 200, 520]]", '["A", [1300, 200, 520]]')
    found = work(written(tmp_path, text), until="pack").pack
    assert found is not None
    assert any(c.title == "Cannot be placed" and "A not located" in c.do for c in found.checks)
