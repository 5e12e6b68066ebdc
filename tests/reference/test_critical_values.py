"""Factors of every ±. Source: NIST/SEMATECH e-Handbook of Statistical Methods, tables of 1.3.6.7.1 and 1.3.6.7.4."""

import numpy as np
import pytest

from halfshaft.sure import ONE_WAY, THREE_WAYS, TWO_WAYS, worst_spread


def test_a_spread_each_way_holds_95_in_100() -> None:
    # 1.3.6.7.1: the area from nought to 1.96 under the normal curve is 0.47500
    assert pytest.approx(1.96, abs=5e-3) == ONE_WAY


@pytest.mark.parametrize(("factor", "square"), [(ONE_WAY, 3.841), (TWO_WAYS, 5.991), (THREE_WAYS, 7.815)])
def test_an_ellipsoid_holds_95_in_100(factor: float, square: float) -> None:
    # 1.3.6.7.4: upper-tail critical values at 0.95 for one, two and three degrees of freedom
    assert factor**2 == pytest.approx(square, abs=5e-4)


def test_the_worst_way_is_no_axis() -> None:
    # two ways that stray together: variances 4 and 4 with 3 shared are 7 along the diagonal and 1 across it
    assert worst_spread([[4.0, 3.0], [3.0, 4.0]]) == pytest.approx(np.sqrt(7.0))
    assert worst_spread(np.array([np.eye(3), 9.0 * np.eye(3)])) == pytest.approx([1.0, 3.0])
