"""Least squares over a network: readings and starting values in, the best state with its covariance and tests out.

Damped Gauss-Newton on weighted residuals; normal equations scaled to a unit diagonal, the datum held as datum.py says.
Sources, from memory: E. M. Mikhail and F. Ackermann, Observations and Least Squares, 1976 (adjustment, redundancy);
W. Baarda, A Testing Procedure for Use in Geodetic Networks, Netherlands Geodetic Commission, 1968 (w, least slip seen).
Formulas: docs/measure.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve, eigh, lapack
from scipy.sparse import csr_matrix, diags
from scipy.special import chdtri, ndtri

from halfshaft.measure.datum import Datum, datum_of, reach_of, set_on_axes
from halfshaft.measure.system import Network, State, jacobian, predict, predict_and_jacobian, stepped
from halfshaft.sure import SHARE

if TYPE_CHECKING:
    from halfshaft.build.schema import Axes, Build

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

# Baarda 1968: one true reading in a thousand called a slip, and a slip of the least size seen in four of five.
ALPHA = 0.001
POWER = 0.80
CRITICAL_W = float(ndtri(1.0 - ALPHA / 2.0))
NONCENTRALITY = CRITICAL_W + float(ndtri(POWER))

_LEAST_PIVOT = 1e-10  # of the normal matrix at unit diagonal: below it an unknown hangs in the air
_LEAST_REDUNDANCY = 1e-7


class NotHeld(ValueError):
    """The readings leave unknowns open beside the datum.

    `points`, `faces`, `bodies` are indices of what can still move; `ways` (n, k) the moves that no reading notices.
    """

    def __init__(self, network: Network, points: list[int], faces: list[int], bodies: list[int], ways: Array) -> None:
        self.points, self.faces, self.bodies, self.ways = points, faces, bodies, ways
        names = [network.point_names[i] for i in points] + [network.face_names[i] for i in faces]
        names += [f"the place of {network.body_names[i]}" for i in bodies]
        super().__init__(f"the readings do not hold {', '.join(names)}")


@dataclass(frozen=True, eq=False)
class Adjustment:
    """A network after least squares. Arrays of length m belong to the equations, of length n to the unknowns.

    `covariance` is a priori, in the datum, zero for unknowns that took no part or are fixed by it. `residuals` are
    value less prediction, in each equation's unit, zero where `known` is False: an equation not used whose unknowns did
    not take part. `spread_of_prediction` belongs to the predicted reading. `redundancy`, `w`, `least_seen` are of used
    equations; `least_seen` is infinite where nothing checks the reading.
    """

    network: Network
    state: State
    use: Bools
    known: Bools
    active: Bools  # (n,) unknowns that took part
    datum: Datum
    covariance: Array
    residuals: Array
    spread_of_prediction: Array
    redundancy: Array
    w: Array
    least_seen: Array
    chi2: float
    degrees_of_freedom: int
    iterations: int
    jacobian: csr_matrix

    @property
    def sigma0(self) -> float:
        """A posteriori spread of unit weight; 1 where nothing is left over to tell."""
        return float(np.sqrt(self.chi2 / self.degrees_of_freedom)) if self.degrees_of_freedom else 1.0

    def limits(self, confidence: float = SHARE) -> tuple[float, float]:
        """Two-sided limits of chi2 for the global test; nought and nought where nothing is left over."""
        if self.degrees_of_freedom == 0:
            return 0.0, 0.0
        tail = (1.0 - confidence) / 2.0
        # chdtri asks for the upper tail
        low, high = chdtri(self.degrees_of_freedom, [1.0 - tail, tail])
        return float(low), float(high)

    def likeness(self, equation: int) -> Array:
        """Correlation (m,) of the w of used equations with that of one of them: near 1 they cannot be told apart."""
        sigma = self.network.sigmas
        row = self.jacobian[equation]
        shared = np.asarray(self.jacobian @ (self.covariance @ row.toarray().ravel())) / (sigma * sigma[equation])
        cofactor = -shared
        cofactor[equation] += 1.0
        scale = np.sqrt(self.redundancy * self.redundancy[equation])
        ok = self.use & (scale > _LEAST_REDUNDANCY)
        out = np.zeros(len(sigma))
        out[ok] = np.clip(cofactor[ok] / scale[ok], -1.0, 1.0)
        return out


@dataclass(frozen=True, eq=False)
class _Normal:
    """Scaled normal equations of the columns that may move."""

    columns: NDArray[np.intp]
    scale: Array  # (k,) of each column
    matrix: Array  # (k, k), unit diagonal
    hold: Array  # (k, d) inner constraints, scaled


def _normal(weighted: csr_matrix, datum: Datum, active: Bools) -> _Normal:
    moving = active.copy()
    moving[datum.fixed] = False
    columns = np.flatnonzero(moving)
    part = weighted[:, columns]
    matrix = (part.T @ part).toarray()
    scale = np.sqrt(np.maximum(np.diag(matrix), 1e-30))
    matrix /= scale[:, None]
    matrix /= scale[None, :]
    hold = datum.hold[columns] / scale[:, None]
    if hold.shape[1]:
        hold = np.linalg.qr(hold)[0]
    return _Normal(columns, scale, matrix, hold)


def settle(
    network: Network,
    state: State,
    use: Bools,
    wanted: Mapping[int, Axes | None] | None = None,
    factors: Array | None = None,
    most: int = 60,
    tolerance_mm: float = 1e-7,
) -> tuple[State, int]:
    """The state of least weighted squares and the number of steps taken.

    `wanted` by body: the builder's axes or None for a free datum. `factors` (m,) scale the weights 1 / sigma^2 for
    robust use. What the readings leave open beside the datum moves as little as it can.
    """
    wanted = wanted or {}
    reach = reach_of(network, use)
    active = reach.columns(network)
    root_weight = 1.0 / network.sigmas
    if factors is not None:
        root_weight = root_weight * np.sqrt(np.maximum(factors, 0.0))
    root_weight = root_weight[use]
    chooser = diags(root_weight)
    values = network.values[use]

    def weigh(at: State) -> csr_matrix:
        return csr_matrix(chooser @ jacobian(network, at)[use])

    if any(axes is not None for axes in wanted.values()):
        state = set_on_axes(network, state, weigh, reach, wanted)
    read, slopes = predict_and_jacobian(network, state)
    weighted = csr_matrix(chooser @ slopes[use])
    datum = datum_of(network, state, weighted, reach, wanted)
    off = root_weight * (values - read[use])
    cost = float(off @ off)
    damping = 0.0
    for step_number in range(1, most + 1):
        normal = _normal(weighted, datum, active)
        gradient = np.asarray(weighted[:, normal.columns].T @ off) / normal.scale
        for _ in range(30):
            matrix = normal.matrix + normal.hold @ normal.hold.T
            matrix[np.diag_indices_from(matrix)] += damping
            try:
                short = cho_solve(cho_factor(matrix, lower=True, check_finite=False), gradient, check_finite=False)
            except np.linalg.LinAlgError:
                damping = max(10.0 * damping, 1e-6)
                continue
            delta = np.zeros(network.size)
            delta[normal.columns] = short / normal.scale
            trial = stepped(network, state, delta)
            trial_off = root_weight * (values - predict(network, trial)[use])
            trial_cost = float(trial_off @ trial_off)
            if trial_cost <= cost * (1.0 + 1e-12) + 1e-18:
                break
            damping = max(10.0 * damping, 1e-4)
        else:
            return state, step_number
        moved = _largest_move_mm(network, delta)
        gained = cost - trial_cost
        state, cost = trial, trial_cost
        damping = damping / 10.0 if damping > 1e-8 else 0.0
        if moved < tolerance_mm or (damping == 0.0 and gained <= 1e-14 * cost and moved < 1e-4):
            return state, step_number
        read, slopes = predict_and_jacobian(network, state)
        weighted = csr_matrix(chooser @ slopes[use])
        off = root_weight * (values - read[use])
        if datum.moves.shape[1]:
            datum = datum_of(network, state, weighted, reach, wanted)
    return state, most


def _largest_move_mm(network: Network, delta: Array) -> float:
    """Largest part of a step, turns counted at an arm of a metre."""
    return float(np.max(np.abs(delta * _arms(network)), initial=0.0))


def _arms(network: Network) -> Array:
    """What brings each unknown (n,) to mm: one for lengths, a metre for turns."""
    arm = np.ones(network.size)
    for at in network.face_at:
        arm[at : at + 2] = 1000.0
    for at in network.pose_at:
        if at >= 0:
            arm[at : at + 3] = 1000.0
    return arm


def wanted_of(network: Network, build: Build | None) -> dict[int, Axes | None]:
    """The datum each body asks for, by body index."""
    if build is None:
        return {}
    out: dict[int, Axes | None] = {}
    for index, name in enumerate(network.body_names):
        told = build.body.get(name)
        out[index] = None if told is None or isinstance(told.datum, str) else told.datum
    return out


def adjust(network: Network, state: State, build: Build | None, use: Bools) -> Adjustment:
    """Least squares of the equations marked in `use` (m,), from `state`; without a build every datum is free.

    Raises NotHeld, naming what can still move, where the readings leave more open than the datum.
    """
    wanted = wanted_of(network, build)
    use = np.asarray(use, dtype=bool)
    state, iterations = settle(network, state, use, wanted)
    return examine(network, state, use, wanted, iterations)


def examine(
    network: Network, state: State, use: Bools, wanted: Mapping[int, Axes | None], iterations: int = 0
) -> Adjustment:
    """Covariance, redundancy and tests at a settled state. Raises NotHeld like `adjust`."""
    reach = reach_of(network, use)
    active = reach.columns(network)
    read, slopes = predict_and_jacobian(network, state)
    sigma = network.sigmas
    weighted = csr_matrix(diags(1.0 / sigma[use]) @ slopes[use])
    datum = datum_of(network, state, weighted, reach, wanted)
    normal = _normal(weighted, datum, active)
    inverse = _inverse(network, normal, datum)
    covariance = np.zeros((network.size, network.size))
    covariance[np.ix_(normal.columns, normal.columns)] = inverse / np.outer(normal.scale, normal.scale)

    touched = slopes.copy()
    touched.data = np.ones_like(touched.data)
    outside = np.asarray(touched @ (~active).astype(float)).ravel()
    known = use | (outside == 0.0)
    variance = row_variances(slopes, covariance)
    residuals = np.where(known, network.values - read, 0.0)
    redundancy = np.where(use, np.clip(1.0 - variance / sigma**2, 0.0, 1.0), 0.0)
    checked = use & (redundancy > _LEAST_REDUNDANCY)
    root = np.sqrt(np.where(checked, redundancy, 1.0))
    chi2 = float(np.sum((residuals[use] / sigma[use]) ** 2))
    freedom = int(use.sum()) - (len(normal.columns) - normal.hold.shape[1])
    return Adjustment(
        network,
        state,
        use,
        known,
        active,
        datum,
        covariance,
        residuals,
        np.sqrt(np.maximum(variance, 0.0)),
        redundancy,
        np.where(checked, residuals / (sigma * root), 0.0),
        np.where(checked, NONCENTRALITY * sigma / root, np.inf),
        chi2,
        freedom,
        iterations,
        slopes,
    )


def row_variances(slopes: csr_matrix, covariance: Array) -> Array:
    """Diagonal (m,) of J Q J', by the few entries of each row."""
    out = np.zeros(slopes.shape[0])
    counts = np.diff(slopes.indptr)
    for width in np.unique(counts):
        if width == 0:
            continue
        rows = np.flatnonzero(counts == width)
        at = slopes.indptr[rows][:, None] + np.arange(width)
        columns, values = slopes.indices[at], slopes.data[at]
        block = covariance[columns[:, :, None], columns[:, None, :]]
        out[rows] = np.einsum("ki,kij,kj->k", values, block, values)
    return out


def _inverse(network: Network, normal: _Normal, datum: Datum) -> Array:
    """Scaled covariance: the inverse with the datum held.

    With inner constraints B and open moves G: (N + B B')^-1 - G (B' G)^-1 (G' B)^-1 G'. Source: as datum.py.
    """
    size = len(normal.columns)
    if size == 0:
        return np.zeros((0, 0))
    matrix = normal.matrix + normal.hold @ normal.hold.T
    factor, info = lapack.dpotrf(matrix, lower=1)
    loose = info != 0
    if not loose:
        reciprocal, _ = lapack.dpocon(factor, float(np.max(np.sum(np.abs(matrix), axis=0))), uplo="L")
        loose = reciprocal < _LEAST_PIVOT / size
    if loose:
        _raise_if_loose(network, normal, datum, matrix)
    inverse, info = lapack.dpotri(factor, lower=1)
    if info != 0:
        inverse = np.linalg.inv(matrix)
    inverse = np.tril(inverse) + np.tril(inverse, -1).T
    if normal.hold.shape[1]:
        moves = datum.moves[normal.columns] * normal.scale[:, None]
        back = np.linalg.solve((normal.hold.T @ moves).T, moves.T).T
        inverse = inverse - back @ back.T
    return np.asarray(inverse)


def _raise_if_loose(network: Network, normal: _Normal, datum: Datum, matrix: Array) -> None:
    values, vectors = eigh(matrix, subset_by_index=[0, min(11, len(matrix) - 1)])
    loose = vectors[:, values < _LEAST_PIVOT]
    if loose.shape[1] == 0:
        return
    ways = np.zeros((network.size, loose.shape[1]))
    ways[normal.columns] = loose / normal.scale[:, None]
    ways = np.column_stack([_fewest(network, way, datum.moves) for way in ways.T])
    share = np.max(np.abs(ways * _arms(network)[:, None]), axis=1)
    limit = 1e-3 * float(np.max(share))
    points = [i for i, at in enumerate(network.point_at) if share[at : at + 3].max() > limit]
    faces = [i for i, at in enumerate(network.face_at) if share[at : at + 3].max() > limit]
    bodies = [i for i, at in enumerate(network.pose_at) if at >= 0 and share[at : at + 6].max() > limit]
    raise NotHeld(network, points, faces, bodies, ways)


def _fewest(network: Network, way: Array, moves: Array) -> Array:
    """The same way to move with the open moves of the datum added so that the fewest points take part.

    Least absolute sum by reweighting: a loose point is then told from the rest, which the datum let drift against it.
    """
    if moves.shape[1] == 0:
        return way
    spots = 3 * len(network.point_names)
    out = way
    for _ in range(40):
        size = np.linalg.norm(out[:spots].reshape(-1, 3), axis=1)
        weight = np.repeat(1.0 / np.maximum(size, 1e-9 * max(float(size.max(initial=0.0)), 1e-30)), 3) ** 0.5
        part = weight[:, None] * moves[:spots]
        out = way - moves @ np.linalg.lstsq(part, weight * way[:spots], rcond=None)[0]
    return np.asarray(out)
