"""A judgement as it stands: which way is good, what is met to the last digit, what a program is told."""

from __future__ import annotations

import json

import numpy as np
import pytest

from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.tables import amount


def check(found: float, limit: float, good: Good = Good.AT_LEAST) -> Check:
    return Check("fold", "hole A", "edge", Source(Origin.DERIVED), Severity.CAUTION, "Move it.", found, limit, "", good)


@pytest.mark.parametrize("good", [Good.AT_LEAST, Good.AT_MOST])
def test_a_limit_that_is_met_to_the_last_digit_holds(good: Good):
    worse = -1.0 if good is Good.AT_LEAST else 1.0
    assert check(5.0 * (1.0 + worse * 1e-15), 5.0, good).ok
    assert not check(5.0 * (1.0 + worse * 1e-6), 5.0, good).ok
    assert not check(worse * 1e-15, 0.0, good).ok  # about nothing at all there is no last digit


def test_numbers_of_an_array_are_told_to_a_program_too():
    assert json.loads(json.dumps(check(np.float64(3.0), np.float64(4.0)).ok)) is False


def test_what_rounding_leaves_of_nothing_is_told_as_nothing():
    assert amount(1.554e-15, "", "metric") == "0"
