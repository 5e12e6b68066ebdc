"""Readings that could be taken: a network and its adjustment in, candidates with slopes, spreads and times out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from halfshaft.build import catalogue
from halfshaft.build.schema import Build, Reading
from halfshaft.measure.adjust import Adjustment
from halfshaft.measure.datum import reach_of
from halfshaft.measure.network import (
    DEGREES,
    FRAMED,
    KIND_OF,
    Equation,
    Network,
    State,
    instrument_of,
    predict_and_jacobian,
    root_points_mm,
    spread_of,
    with_equations,
)

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

_NEIGHBOURS = 8  # points about a vertex between which angles are proposed
_FLAT_DEG = 10.0  # nearer to straight or folded back than this an angle says little of its ends
_LEAST_BEVEL_DEG = 5.0  # flatter than this the two faces are one to a bevel gauge


@dataclass(frozen=True, eq=False)
class Candidates:
    """k readings that could be taken, one equation each. `sigmas` and `expected` in mm or degrees."""

    kinds: tuple[str, ...]  # as in readings.csv
    instruments: tuple[str, ...]
    equations: tuple[Equation, ...]
    repeats: Bools  # (k,) already taken once
    sigmas: Array  # (k,)
    minutes: Array  # (k,)
    expected: Array  # (k,)
    slopes: csr_matrix  # (k, n)

    def only(self, keep: Bools) -> Candidates:
        at = np.flatnonzero(keep)
        return Candidates(
            tuple(self.kinds[i] for i in at),
            tuple(self.instruments[i] for i in at),
            tuple(self.equations[i] for i in at),
            self.repeats[at],
            self.sigmas[at],
            self.minutes[at],
            self.expected[at],
            self.slopes[at],
        )


def face_middles_mm(network: Network, state: State) -> Array:
    """Middle (F, 3) of the points read on each face, dropped on it, in root axes."""
    spots = root_points_mm(network, state)
    body = network.face_body
    normals = np.einsum("fij,fj->fi", state.rotations[body], state.normals)
    distances = state.distances_mm + np.einsum("fi,fi->f", normals, state.shifts_mm[body])
    total, number = np.zeros((len(body), 3)), np.zeros(len(body))
    for eq in network.equations:
        if eq.kind == "onface":
            total[eq.faces[0]] += spots[eq.points[0]]
            number[eq.faces[0]] += 1
    middle = np.where(number[:, None] > 0, total / np.maximum(number, 1.0)[:, None], normals * distances[:, None])
    return np.asarray(middle - (np.einsum("fi,fi->f", normals, middle) - distances)[:, None] * normals)


def candidates_of(build: Build, network: Network, adjustment: Adjustment, holes: Sequence[str]) -> Candidates:
    """Every tape and caliper pair in reach, heights, offsets, stations, rises, slopes, angles, stand-offs and bevels
    between located things of bodies that hang together with the holes, and every reading taken, once more."""
    reach = reach_of(network, adjustment.use)
    bodies = {n.partition(".")[0] for n in holes}
    home = {int(reach.leader[network.body_names.index(b)]) for b in bodies}
    together = np.isin(reach.leader, list(home))
    points = np.flatnonzero(adjustment.active[network.point_at] & together[network.point_body])
    faces = np.flatnonzero(adjustment.active[network.face_at] & together[network.face_body])
    index = {n: i for i, n in enumerate(network.point_names)}
    wanted = np.isin(points, [index[n] for n in holes if n in index])
    found: dict[tuple[str, tuple[int, ...], tuple[int, ...], int], tuple[str, bool]] = {}
    for eq in network.equations:
        if eq.row >= 0 and eq.kind not in ("given", "mirror") and _inside(eq, points, faces):
            kind = build.readings[eq.row].kind
            found.setdefault((kind, *_key(eq)), (instrument_of(build.readings[eq.row]), True))
    usual = {kind: instrument_of(Reading(kind=kind, names=())) for kind in KIND_OF}
    for kind, eq_points, eq_faces, frame in _fresh(network, adjustment, points, faces, wanted):
        bare = (kind, *_ordered(KIND_OF[kind], eq_points, eq_faces), frame)
        if bare not in found:
            found[bare] = (usual[kind], False)
    kinds = tuple(key[0] for key in found)
    instruments = tuple(instrument for instrument, _ in found.values())
    equations = tuple(
        Equation(0, 0, KIND_OF[k], p, f, frame, 0.0, 1.0, "deg" if KIND_OF[k] in DEGREES else "mm")
        for k, p, f, frame in found
    )
    trial = with_equations(network, equations)
    expected, slopes = predict_and_jacobian(trial, adjustment.state)
    spread = {pair: _spread_line(build, *pair) for pair in set(zip(kinds, instruments, strict=True))}
    base, rate = np.array([spread[p] for p in zip(kinds, instruments, strict=True)]).reshape(-1, 2).T
    minutes = np.array([_minutes(name) for name in instruments])
    repeats = np.array([taken for _, taken in found.values()], dtype=bool)
    out = Candidates(
        kinds, instruments, equations, repeats, base + rate * np.abs(expected) / 1000.0, minutes, expected, slopes
    )
    return out.only(_readable(out))


def _minutes(instrument: str) -> float:
    """Time for a reading; an instrument of the builder's own takes as long as a tape."""
    key = f"measure.minutes.{instrument}"
    return float(catalogue.default(key if key in catalogue.default_keys() else "measure.minutes.tape").value)


def _spread_line(build: Build, kind: str, instrument: str) -> tuple[float, float]:
    """Spread at nought and its growth a metre."""
    reading = Reading(kind=kind, names=(), instrument=instrument)
    at_nought = spread_of(build, reading, 0.0).sigma
    return at_nought, spread_of(build, reading, 1000.0).sigma - at_nought


def _readable(tried: Candidates) -> Bools:
    """Not straight or folded-back angles, nor upright slopes, where the slope of the reading is lost; repeats stay."""
    kinds = np.array(tried.kinds)
    flat = (kinds == "angle") & ((tried.expected < _FLAT_DEG) | (tried.expected > 180.0 - _FLAT_DEG))
    upright = (kinds == "slope") & (np.abs(tried.expected) > 90.0 - _FLAT_DEG)
    one = (kinds == "bevel") & ((tried.expected < _LEAST_BEVEL_DEG) | (tried.expected > 180.0 - _LEAST_BEVEL_DEG))
    far = (kinds == "onface") & (np.abs(tried.expected) > _reach("straightedge"))
    return np.asarray(tried.repeats | ~(flat | upright | one | far))


def _reach(name: str) -> float:
    return float(catalogue.default(f"measure.reach.{name}").value)


def _inside(eq: Equation, points: NDArray[np.intp], faces: NDArray[np.intp]) -> bool:
    return bool(np.isin(eq.points, points).all() and np.isin(eq.faces, faces).all())


def _ordered(kind: str, points: tuple[int, ...], faces: tuple[int, ...]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """One order for readings that say the same either way round."""
    if kind == "distance" or (kind == "angle" and points[0] > points[2]):
        points = tuple(sorted(points)) if kind == "distance" else points[::-1]
    return points, tuple(sorted(faces)) if kind == "bevel" else faces


def _key(eq: Equation) -> tuple[tuple[int, ...], tuple[int, ...], int]:
    return (*_ordered(eq.kind, eq.points, eq.faces), eq.frame)


_Fresh = tuple[str, tuple[int, ...], tuple[int, ...], int]


def _fresh(
    network: Network, adjustment: Adjustment, points: NDArray[np.intp], faces: NDArray[np.intp], wanted: Bools
) -> Iterable[_Fresh]:
    spots = root_points_mm(network, adjustment.state)[points]
    body = network.point_body[points]
    away = np.linalg.norm(spots[:, None, :] - spots[None, :, :], axis=2)
    upper = np.triu(np.ones_like(away, dtype=bool), 1) & (away >= _reach("least"))
    yield from _pairs("tape", points, upper & (away <= _reach("tape")))
    yield from _pairs("caliper", points, upper & (away <= _reach("caliper")))
    framed = {eq.frame for i, eq in enumerate(network.equations) if adjustment.use[i] and eq.kind in FRAMED}
    for kind in ("height", "offset", "station"):
        for frame in framed:
            for point in points[(body == frame) | (frame == network.root)]:
                yield kind, (int(point),), (), frame
    for frame in framed:
        near = (body[:, None] == frame) & (body[None, :] == frame) | (frame == network.root)
        yield from _pairs("slope", points, upper & near & (away <= _reach("angle_finder")), frame)
        yield from _pairs("rise", points, upper & near & (wanted[:, None] | wanted[None, :]), frame)
    yield from _angles(points, away)
    yield from _faces(network, adjustment, points, spots, faces)


def _pairs(kind: str, points: NDArray[np.intp], which: Bools, frame: int = -1) -> Iterable[_Fresh]:
    first, second = np.nonzero(which)
    for a, b in zip(points[first].tolist(), points[second].tolist(), strict=True):
        yield kind, (a, b), (), frame


def _angles(points: NDArray[np.intp], away: Array) -> Iterable[_Fresh]:
    least, most = _reach("least"), _reach("angle_finder")
    for middle in range(len(points)):
        order = np.argsort(away[middle])
        ends = [int(i) for i in order if least <= away[middle, i] <= most][:_NEIGHBOURS]
        for k, a in enumerate(ends):
            for b in ends[k + 1 :]:
                yield "angle", (int(points[a]), int(points[middle]), int(points[b])), (), -1


def _faces(
    network: Network, adjustment: Adjustment, points: NDArray[np.intp], spots: Array, faces: NDArray[np.intp]
) -> Iterable[_Fresh]:
    middles = face_middles_mm(network, adjustment.state)
    for k, face in enumerate(faces):
        near = np.linalg.norm(spots - middles[face], axis=1) <= _reach("straightedge_along")
        for point in points[near]:
            yield "onface", (int(point),), (int(face),), -1
        for other in faces[k + 1 :]:
            if np.linalg.norm(middles[face] - middles[other]) <= _reach("bevel_gauge"):
                yield "bevel", (), (int(face), int(other)), -1
