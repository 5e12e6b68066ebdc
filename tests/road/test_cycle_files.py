"""Cycles from a table, and what is said of a table that is none."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.road.cycles import Cycle, at_each_second, kinematics, named, read_cycle, steady


@pytest.mark.parametrize(
    ("text", "most"),
    [
        ("time s,speed km/h\n0,0\n10,36\n", 10.0),
        ("Time (s);Speed (mph)\n0;0\n10;22,3694\n", 10.0),
        ("# a logger's\nt\tv m/s\n100\t0\n110\t10\n", 10.0),
    ],
)
def test_a_table_is_read_in_the_units_it_names(text: str, most: float) -> None:
    cycle = read_cycle(text, "x")
    assert cycle.speed_m_s.max() == pytest.approx(most, rel=1e-5)
    assert cycle.time_s[0] == 0.0
    assert cycle.distance_m == pytest.approx(50.0, rel=1e-5)


def test_grade_comes_along() -> None:
    cycle = read_cycle("time s,speed km/h,grade %\n0,10,0\n5,10,4\n10,10,4\n", "x")
    assert cycle.grade == pytest.approx([0.02, 0.04])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "there is no row"),
        ("0,0\n1,2\n", "no column 'time and speed'"),
        ("time s,speed\n0,0\n", "unit is ''"),
        ("time s,speed km/h\n0,0\n", "fewer than two moments"),
        ("time s,speed km/h\n0,0\n0,5\n", "line 3: the time 0 does not come after 0"),
        ("time s,speed km/h\n0,0\n1,\n", "line 3: speed is ''"),
        ("time s,speed km/h\n0,0\n1,9000\n", "line 3: a speed of '9000'"),
        ("time s,speed km/h\n0,0\n1,nan\n", "line 3: speed is 'nan'"),
        ("time s,speed km/h\n0,0\n1,0\n", "never moves"),
    ],
)
def test_what_is_no_cycle_is_told_with_its_line(text: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        read_cycle(text, "x")


def test_all_faults_of_a_table_are_told_at_once() -> None:
    with pytest.raises(ValueError, match=r"(?s)line 3.*line 4.*line 5"):
        read_cycle("time s,speed km/h\n0,0\na,1\n2,b\n1,3\n", "x")


def test_a_name_that_is_none_is_told_with_those_there_are() -> None:
    with pytest.raises(KeyError, match="wltc"):
        named("ring road")


def test_finer_steps_change_neither_way_nor_kinematics() -> None:
    coarse = Cycle(
        "x", np.array([0.0, 7.5, 20.0, 33.0]), np.array([0.0, 20.0, 20.0, 0.0]), np.array([0.01, 0.0, -0.02])
    )
    fine = at_each_second(coarse)
    assert len(fine.time_s) > len(coarse.time_s)
    one, two = kinematics(coarse), kinematics(fine)
    assert two.distance_m == pytest.approx(one.distance_m)
    assert two.v3_m3_s2 == pytest.approx(one.v3_m3_s2)
    rise = [
        float(np.sum(c.grade * np.diff(c.time_s) * 0.5 * (c.speed_m_s[1:] + c.speed_m_s[:-1]))) for c in (coarse, fine)
    ]
    assert rise[1] == pytest.approx(rise[0])
    assert at_each_second(steady(20.0)).time_s.size == 2
