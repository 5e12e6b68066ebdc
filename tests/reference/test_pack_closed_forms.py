"""Cells and strings against closed forms worked apart from the code, a stored run of a general-purpose battery solver,
and mean volts of published open-circuit curves.
"""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.build.catalogue.pack import cell
from halfshaft.pack.chemistry import cell_open_v, chemistry_of, mean_open_v
from halfshaft.pack.current import current_a, discharge_limit_w, most_w
from halfshaft.pack.strings import Cells, Strings, energy_wh, module_heat_w, open_v, warms_k_min
from halfshaft.pack.thevenin import Branch, Warmth, discharge
from tests.pack.packs import flat

# PyPI package pybamm 26.10.1.1, equivalent_circuit.Thevenin(): 50 Ah, 50 A from 90 %, R0 1.0 mohm, R1 0.8 mohm,
# C1 37 500 F, no entropic heat, cell 1000 J/K, jig 500 J/K, 2 W/K between them and 2 W/K to air of 25 C;
# columns t, charge, open volts, terminal volts, cell C, jig C
RUN = np.array(
    [
        (0, 0.90000, 4.04568, 3.99568, 25.0000, 25.0000),
        (10, 0.89722, 4.04252, 3.98118, 25.0277, 25.0005),
        (30, 0.89167, 4.03621, 3.96093, 25.0945, 25.0050),
        (60, 0.88333, 4.02672, 3.94213, 25.2072, 25.0202),
        (300, 0.81667, 3.95364, 3.86364, 26.0465, 25.3316),
        (600, 0.73333, 3.88038, 3.79038, 26.8489, 25.7628),
        (1200, 0.56667, 3.73957, 3.64957, 27.9331, 26.3703),
        (2400, 0.23333, 3.59680, 3.50680, 28.9530, 26.9428),
    ]
)
BRANCH = Branch(50.0, 1.0e-3, 0.8e-3, 37_500.0)
WARMTH = Warmth(1000.0, 500.0, 2.0, 2.0)


def test_a_discharge_as_a_battery_solver_gives_it() -> None:
    time_s, charge, volts, terminal, cell_c, jig_c = RUN.T
    # the solver's own curve is finer than its tenths: its volts at the very charges are taken
    done = discharge(BRANCH, lambda z: np.interp(z, charge[::-1], volts[::-1]), 50.0, time_s, charge=0.9, warmth=WARMTH)
    assert np.abs(done.charge - charge).max() < 1e-5
    assert np.abs(done.terminal_v - terminal).max() < 1e-3
    assert np.abs(done.terminal_v / terminal - 1.0).max() < 1e-3
    assert np.abs(done.cell_c - cell_c).max() < 0.02
    assert np.abs(done.jig_c - jig_c).max() < 0.02


def test_a_discharge_settles_at_the_heat_over_both_ways_out() -> None:
    # 50² x 1.8 mohm = 4.5 W through 2 W/K twice: 29.5 C
    done = discharge(BRANCH, np.ones_like, 50.0, [0.0, 20_000.0], warmth=WARMTH, charge=300.0)
    assert done.cell_c[-1] == pytest.approx(29.5, abs=1e-3)


def test_a_branch_alone_follows_its_exponential() -> None:
    at = np.array([0.0, 5.0, 17.0, 60.0, 200.0])
    done = discharge(BRANCH, lambda z: 3.7 + 0.0 * z, 50.0, at)
    assert done.terminal_v == pytest.approx(3.7 - 0.05 - 0.04 * (1.0 - np.exp(-at / 30.0)), abs=1e-7)


def test_a_pack_of_96_cells_of_120_ah() -> None:
    # 96 x 3.7 = 355.2 V; x 120 Ah = 42.6 kWh
    strings = Strings(Cells(flat(3.7), 12, 120.0, 0.1 / 8, 400.0, 200.0, 120.0, 1e4), 8, 1, (0.0, 1.0))
    assert float(open_v(strings, 0.5)) == pytest.approx(355.2)
    assert energy_wh(strings) == pytest.approx(42_624.0)
    # I = (U - sqrt(U² - 4 R P)) / 2R at 0.1 ohm and 60 kW: 177.821 A, 337.418 V, 3162.0 W of loss; U²/4R = 315.4 kW
    amps = float(current_a(355.2, 0.1, 60_000.0))
    assert amps == pytest.approx(177.821, abs=5e-4)
    assert 355.2 - 0.1 * amps == pytest.approx(337.418, abs=5e-4)
    assert 0.1 * amps**2 == pytest.approx(3162.0, abs=0.5)
    assert float(most_w(355.2, 0.1)) == pytest.approx(315_418.0, abs=1.0)
    assert float(discharge_limit_w(355.2, 0.1, np.inf, 0.0)) == pytest.approx(315_418.0, abs=1.0)


def test_heat_of_a_module() -> None:
    # 12 cells of 1.2 mohm: 144 W at 100 A, 576 W at 200 A; 24 kg of 1000 J/kg K warm by 1.44 K a minute at 200 A
    strings = Strings(Cells(flat(3.7), 12, 60.0, 12 * 1.2e-3, 400.0, 200.0, 60.0, 24.0 * 1000.0), 8, 1, (0.0, 1.0))
    assert module_heat_w(strings, [100.0, 200.0]) == pytest.approx([144.0, 576.0])
    assert float(warms_k_min(strings, 200.0)) == pytest.approx(1.44)


@pytest.mark.parametrize(
    ("name", "whole", "middle"),
    [("nmc811", 3.7175, 3.7545), ("nmc532", 3.7488, 3.7553), ("nca", 3.6655, 3.6792), ("lfp", 3.1936, 3.2390)],
)
def test_mean_volts_of_published_curves(name: str, whole: float, middle: float) -> None:
    # means over 0 to 100 % and 10 to 90 % of Chen2020, Mohtat2020, NCA_Kim2011 and Prada2013 as pybamm 26.10.1.1 gives
    # them from many more points than the table's 21: 10 mV
    one = chemistry_of(cell(name))
    assert mean_open_v(one, 0.0, 1.0) == pytest.approx(whole, abs=0.010)
    assert mean_open_v(one, 0.1, 0.9) == pytest.approx(middle, abs=0.003)


def test_volts_at_the_ends_are_those_of_each_published_set() -> None:
    # limits of Chen2020 2.5 to 4.2 V and Prada2013 2.0 to 3.6 V
    assert cell_open_v(chemistry_of(cell("nmc811")), [0.0, 1.0]) == pytest.approx([2.5, 4.2])
    assert cell_open_v(chemistry_of(cell("lfp")), [0.0, 1.0]) == pytest.approx([2.0, 3.6])
