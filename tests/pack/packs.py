"""Small packs that tests share."""

from __future__ import annotations

import numpy as np

from halfshaft.pack.chemistry import Chemistry


def flat(volts: float) -> Chemistry:
    """A cell of one voltage at any charge and one resistance at any temperature."""
    one = np.array([0.0, 1.0])
    return Chemistry("flat", one, np.full(2, volts), 0.0, 2.0 * volts, one, np.array([-40.0, 60.0]), np.ones((2, 2)))
