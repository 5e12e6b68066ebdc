"""An adjustment told in root axes: state and covariance in, points, faces and poses with their uncertainty out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, lil_matrix

from halfshaft.geometry import Plane, Pose
from halfshaft.geometry.pose import skew
from halfshaft.measure.adjust import Adjustment
from halfshaft.measure.datum import reach_of
from halfshaft.measure.model import FaceEstimate, PointEstimate
from halfshaft.measure.system import root_points_mm, tangents

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Told:
    """Points (3 each) and faces (4 each: normal, distance) stacked in `vector`, with `covariance` and `where`."""

    points: dict[str, PointEstimate]
    faces: dict[str, FaceEstimate]
    poses: dict[str, Pose]
    vector: Array
    covariance: Array
    where: dict[str, slice]
    through: csr_matrix  # (size of vector, n): how it moves with the unknowns


def tied_bodies(adjustment: Adjustment, located: Bools) -> Bools:
    """Bodies (B,) whose pose in root axes is known: the root, and those whose pose took part."""
    network = adjustment.network
    out = np.zeros(len(network.body_names), dtype=bool)
    out[network.root] = True
    leader = reach_of(network, adjustment.use).leader
    for body, at in enumerate(network.pose_at):
        if at >= 0:
            out[body] = located[body] and adjustment.active[at] and leader[body] == network.root
    return out


def tell(adjustment: Adjustment, bodies_located: Bools) -> Told:
    """Everything that took part, in root axes; in its own body's axes where that body is not tied to the root.

    A point is R p + t, so its step is R dp - [R p] w + dt; a face has the normal R n and the distance d + (R n) . t.
    """
    network, state = adjustment.network, adjustment.state
    tied = tied_bodies(adjustment, bodies_located)
    points = [i for i, at in enumerate(network.point_at) if adjustment.active[at]]
    faces = [i for i, at in enumerate(network.face_at) if adjustment.active[at]]
    size = 3 * len(points) + 4 * len(faces)
    chain = lil_matrix((size, network.size))
    vector = np.zeros(size)
    where: dict[str, slice] = {}
    in_root = root_points_mm(network, state)
    at = 0
    for point in points:
        body = int(network.point_body[point])
        own, rotation = state.points_mm[point], state.rotations[body]
        column = int(network.point_at[point])
        vector[at : at + 3] = in_root[point] if tied[body] else own
        chain[at : at + 3, column : column + 3] = rotation if tied[body] else np.eye(3)
        pose = int(network.pose_at[body])
        if tied[body] and pose >= 0:
            chain[at : at + 3, pose : pose + 3] = -skew(rotation @ own)
            chain[at : at + 3, pose + 3 : pose + 6] = np.eye(3)
        where[network.point_names[point]] = slice(at, at + 3)
        at += 3
    basis = tangents(state.normals)
    for face in faces:
        body = int(network.face_body[face])
        rotation = state.rotations[body] if tied[body] else np.eye(3)
        shift = state.shifts_mm[body] if tied[body] else np.zeros(3)
        normal = rotation @ state.normals[face]
        column = int(network.face_at[face])
        vector[at : at + 3] = normal
        vector[at + 3] = state.distances_mm[face] + normal @ shift
        tilt = rotation @ basis[face]
        chain[at : at + 3, column : column + 2] = tilt
        chain[at + 3, column : column + 2] = shift @ tilt
        chain[at + 3, column + 2] = 1.0
        pose = int(network.pose_at[body])
        if tied[body] and pose >= 0:
            turned = -skew(normal)
            chain[at : at + 3, pose : pose + 3] = turned
            chain[at + 3, pose : pose + 3] = shift @ turned
            chain[at + 3, pose + 3 : pose + 6] = normal
        where[network.face_names[face]] = slice(at, at + 4)
        at += 4
    through = csr_matrix(chain)
    half = np.asarray(through @ adjustment.covariance)
    covariance = np.asarray(through @ half.T)
    covariance = (covariance + covariance.T) / 2.0
    return Told(
        dict(_points(adjustment, points, tied, vector, covariance, where)),
        dict(_faces(adjustment, faces, tied, vector, covariance, where)),
        {
            network.body_names[b]: Pose(state.rotations[b].copy(), state.shifts_mm[b].copy())
            for b in np.flatnonzero(tied)
        },
        vector,
        covariance,
        where,
        through,
    )


def point_steps(adjustment: Adjustment, bodies_located: Bools) -> tuple[list[int], csr_matrix]:
    """Points that took part, and how each moves (3k, n) with the unknowns, in the axes `tell` gives it in."""
    network, state = adjustment.network, adjustment.state
    tied = tied_bodies(adjustment, bodies_located)
    points = np.flatnonzero(adjustment.active[network.point_at])
    body = network.point_body[points]
    rotations = np.where(tied[body][:, None, None], state.rotations[body], np.eye(3))
    pose = np.where(tied[body], network.pose_at[body], -1)
    own = network.point_at[points][:, None] + np.arange(3)
    blocks, columns, rows = [rotations], [own], [np.arange(len(points))]
    moved = np.flatnonzero(pose >= 0)
    if len(moved):
        arms = np.einsum("kij,kj->ki", state.rotations[body[moved]], state.points_mm[points[moved]])
        blocks += [np.array([-skew(arm) for arm in arms]), np.broadcast_to(np.eye(3), (len(moved), 3, 3))]
        columns += [pose[moved][:, None] + np.arange(3), pose[moved][:, None] + np.arange(3, 6)]
        rows += [moved, moved]
    data = np.concatenate([block.reshape(-1) for block in blocks])
    column = np.concatenate([np.repeat(c[:, None, :], 3, axis=1).reshape(-1) for c in columns])
    row = np.concatenate([np.repeat(3 * r[:, None] + np.arange(3), 3, axis=1).reshape(-1) for r in rows])
    return points.tolist(), csr_matrix((data, (row, column)), shape=(3 * len(points), network.size))


def _points(
    adjustment: Adjustment, points: list[int], tied: Bools, vector: Array, covariance: Array, where: dict[str, slice]
) -> list[tuple[str, PointEstimate]]:
    network = adjustment.network
    out = []
    for point in points:
        name, body = network.point_names[point], int(network.point_body[point])
        at = where[name]
        estimate = PointEstimate(
            name, network.body_names[body], vector[at].copy(), covariance[at, at].copy(), bool(tied[body])
        )
        out.append((name, estimate))
    return out


def _faces(
    adjustment: Adjustment, faces: list[int], tied: Bools, vector: Array, covariance: Array, where: dict[str, slice]
) -> list[tuple[str, FaceEstimate]]:
    network = adjustment.network
    read_on: dict[int, list[str]] = {face: [] for face in faces}
    for i in np.flatnonzero(adjustment.use):
        eq = network.equations[i]
        if eq.kind == "onface" and network.point_names[eq.points[0]] in where:
            name = network.point_names[eq.points[0]]
            if name not in read_on[eq.faces[0]]:
                read_on[eq.faces[0]].append(name)
    out = []
    for face in faces:
        name, body = network.face_names[face], int(network.face_body[face])
        at = where[name]
        plane = Plane(vector[at][:3].copy(), float(vector[at][3]))
        spots = [vector[where[p]] for p in read_on[face]]
        middle = plane.foot_mm(np.mean(spots, axis=0)) if spots else plane.normal * plane.distance_mm
        out.append(
            (
                name,
                FaceEstimate(
                    name,
                    network.body_names[body],
                    plane,
                    middle,
                    covariance[at, at].copy(),
                    tuple(read_on[face]),
                    bool(tied[body]),
                ),
            )
        )
    return out
