"""A unit's points at a place it is set to: measurements, a pose and how true it is set in, the same there out.

The unit's own shape keeps the uncertainty of its own readings, that of where it was mocked up falls away, and that of
setting it comes on. So a bracket is drawn from where the unit will sit, not from where it was read.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from halfshaft.geometry import Plane, Pose
from halfshaft.geometry.pose import skew
from halfshaft.measure.model import FaceEstimate, Hidden, Measured, PointEstimate

Array = NDArray[np.float64]

_LEAST_POINTS = 3


def carried(
    measured: Measured, unit: str, place: Pose, spread_mm: float = 0.0, turn_spread_deg: float = 0.0
) -> Measured:
    """The measurements with the points and faces of body `unit` at `place`, its own axes to the root's.

    Points x and faces (n, d) of the unit become R x + t and (R n, d + R n . t). Their spread is that of the shape
    alone: what moves all of them as one rigid thing, told by its points, is taken out of the covariance, and a shift
    of `spread_mm` each way and a turn of `turn_spread_deg` about each axis through the points' middle, one standard
    deviation each, is put in. Bonds to the frame's points that are left stay. What readings hide is carried alike.
    Raises ValueError where fewer than three points of the unit are located, or all lie on one line.
    Source: propagation of variances through straight lines; the rigid part as inner constraints of a free network,
    docs/placing.md, the unit set to a place.
    """
    points = [n for n, p in measured.points.items() if p.body == unit]
    faces = [n for n, f in measured.faces.items() if f.body == unit]
    if len(points) < _LEAST_POINTS:
        raise ValueError(f"{unit} has {len(points)} located point(s): three are wanted to set it to a place")
    was = measured.poses.get(unit, Pose.identity())
    back = was.inverse()
    spots = np.array([measured.vector[measured.where[n]] for n in points])
    if np.linalg.svd(spots - spots.mean(axis=0), compute_uv=False)[1] < 1.0:
        raise ValueError(f"the points of {unit} lie on one line: its place says nothing of its turn about it")
    through = _through(measured, points, faces, spots, back, place)
    size = len(measured.vector)
    vector = measured.vector.copy()
    step = place.after(back)
    for name in points:
        vector[measured.where[name]] = step.apply(measured.vector[measured.where[name]])
    for name in faces:
        normal, distance = measured.vector[measured.where[name]][:3], measured.vector[measured.where[name]][3]
        turned = step.rotation @ normal
        vector[measured.where[name]] = [*turned, distance + turned @ step.shift_mm]
    rigid = _rigid(measured, points, faces, vector, size)
    setting = np.array([np.radians(turn_spread_deg)] * 3 + [spread_mm] * 3)
    covariance = through @ measured.covariance @ through.T + (rigid * setting**2) @ rigid.T
    covariance = (covariance + covariance.T) / 2.0
    return replace(
        measured,
        points=measured.points | {n: _point(measured, n, vector, covariance) for n in points},
        faces=measured.faces | {n: _face(measured, n, vector, covariance, step) for n in faces},
        poses=measured.poses | {unit: place},
        vector=vector,
        covariance=covariance,
        hidden=_hidden(measured.hidden, through),
    )


def _through(measured: Measured, points: list[str], faces: list[str], spots: Array, back: Pose, place: Pose) -> Array:
    """How the whole vector moves with what was measured (n, n): the unit's shape turned, its rigid part taken out."""
    size = len(measured.vector)
    own = np.concatenate([np.arange(measured.where[n].start, measured.where[n].stop) for n in (*points, *faces)])
    among = np.zeros((3 * len(points), size))
    for row, name in enumerate(points):
        among[3 * row : 3 * row + 3, measured.where[name]] = np.eye(3)
    rigid = _rigid(measured, points, faces, measured.vector, size)
    # the rigid move that fits the points' errors best is what is taken out of all
    fitted = np.linalg.lstsq(among @ rigid, among, rcond=None)[0]
    shape = np.eye(size)
    shape[own] -= (rigid @ fitted)[own]
    out = np.eye(size)
    step = place.after(back)
    for name in points:
        out[measured.where[name], measured.where[name]] = step.rotation
    for name in faces:
        at = measured.where[name]
        block = np.zeros((4, 4))
        block[:3, :3] = step.rotation
        block[3, :3] = step.shift_mm @ step.rotation
        block[3, 3] = 1.0
        out[at, at] = block
    return np.asarray(out @ shape)


def _rigid(measured: Measured, points: list[str], faces: list[str], vector: Array, size: int) -> Array:
    """How the vector moves (n, 6) when the unit turns about its points' middle, radians, and shifts, mm."""
    middle = np.mean([vector[measured.where[n]] for n in points], axis=0)
    out = np.zeros((size, 6))
    for name in points:
        at = measured.where[name]
        out[at, :3] = -skew(vector[at] - middle)
        out[at, 3:] = np.eye(3)
    for name in faces:
        at = measured.where[name]
        normal = vector[at][:3]
        turned = -skew(normal)
        out[at.start : at.start + 3, :3] = turned
        out[at.start + 3, :3] = np.cross(normal, middle)
        out[at.start + 3, 3:] = normal
    return out


def _point(measured: Measured, name: str, vector: Array, covariance: Array) -> PointEstimate:
    at = measured.where[name]
    return replace(measured.points[name], xyz_mm=vector[at].copy(), covariance_mm2=covariance[at, at].copy(), tied=True)


def _face(measured: Measured, name: str, vector: Array, covariance: Array, step: Pose) -> FaceEstimate:
    at, face = measured.where[name], measured.faces[name]
    return replace(
        face,
        plane=Plane(vector[at][:3].copy(), float(vector[at][3])),
        middle_mm=step.apply(face.middle_mm),
        covariance=covariance[at, at].copy(),
        tied=True,
    )


def _hidden(hidden: Hidden | None, through: Array) -> Hidden | None:
    if hidden is None:
        return None
    return replace(hidden, mean=hidden.mean @ through.T, way=hidden.way @ through.T)
