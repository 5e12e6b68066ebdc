"""How far a ± reaches: it holds 95 of 100 cases everywhere in the house. A spread or a covariance in, a reach out.

Factors are roots of the 95 % points of chi-square with one, two and three degrees of freedom: NIST/SEMATECH e-Handbook
of Statistical Methods, 1.3.6.7.4; the first is also the factor k of JCGM 100:2008 (GUM), table G.1.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtri

SHARE = 0.95  # of cases that a ± holds
TAILS = (0.05, 0.95)  # hundredths between which a told range of outcomes lies
# chdtri asks for the upper tail
ONE_WAY, TWO_WAYS, THREE_WAYS = (float(np.sqrt(chdtri(ways, 1.0 - SHARE))) for ways in (1, 2, 3))


def worst_spread(covariance: ArrayLike) -> NDArray[np.float64]:
    """One standard deviation along the least known way of each covariance (..., n, n): an array (...)."""
    return np.asarray(np.sqrt(np.maximum(np.linalg.eigvalsh(np.asarray(covariance))[..., -1], 0.0)))
