"""Retention in a crash against UN Regulation No. 100, mechanical shock; its figures from memory."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.checks import Origin
from halfshaft.mounts.crash import CLASSES, crash_cases

G = 9.80665  # m/s2, standard gravity (3rd CGPM, 1901)


# UN Regulation No. 100, series 02, mechanical shock, from memory: g along and across by vehicle class
@pytest.mark.parametrize(
    ("name", "along", "across"),
    [("M1", 20.0, 8.0), ("N1", 20.0, 8.0), ("M2", 10.0, 5.0), ("N2", 10.0, 5.0), ("M3", 6.6, 5.0), ("N3", 6.6, 5.0)],
)
def test_a_unit_is_thrown_along_and_across_by_the_class_of_the_vehicle(name: str, along: float, across: float) -> None:
    cases = {case.name: case for case in crash_cases(100.0, name)}
    weight = -100.0 * G
    np.testing.assert_allclose(cases["crash, thrown forward"].force_n, [100.0 * G * along, 0.0, weight])
    np.testing.assert_allclose(cases["crash, thrown rearward"].force_n, [-100.0 * G * along, 0.0, weight])
    np.testing.assert_allclose(cases["crash, thrown left"].force_n, [0.0, 100.0 * G * across, weight])
    np.testing.assert_allclose(cases["crash, thrown right"].force_n, [0.0, -100.0 * G * across, weight])
    assert all(case.kind == "crash" and case.source.origin is Origin.FROM_MEMORY for case in cases.values())


def test_a_class_that_there_is_not_is_refused_with_those_that_there_are() -> None:
    with pytest.raises(ValueError, match=", ".join(CLASSES)):
        crash_cases(100.0, "L7e")
