"""Welds as lines: their ends, throats and a load at any point in; stress on each throat at each end out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

_NEAR = 1e-9


@dataclass(frozen=True, slots=True)
class WeldLine:
    """One straight run of weld, mm. `normal` is square to the plane of the throat and to the run.

    Without a normal the worst plane is taken: all that lies across the run counts as shear.
    """

    start_mm: tuple[float, float, float]
    end_mm: tuple[float, float, float]
    throat_mm: float
    normal: tuple[float, float, float] | None = None
    name: str = ""

    @property
    def length_mm(self) -> float:
        return math.dist(self.start_mm, self.end_mm)


@dataclass(frozen=True, eq=False, slots=True)
class GroupNumbers:
    """Section numbers of the throats as lines: mm2, mm, mm4. `inertia_mm4` (3, 3) about the centroid.

    Its diagonal holds, for a group in the x-y plane, Ix, Iy and J = Ix + Iy.
    """

    area_mm2: float
    centroid_mm: Array
    inertia_mm4: Array


@dataclass(frozen=True, slots=True)
class ThroatStress:
    """Stress on a throat, MPa: square to its plane, across the run in its plane, along the run."""

    line: int
    at: str  # 'start' or 'end'
    sigma_perp_mpa: float
    tau_perp_mpa: float
    tau_par_mpa: float

    @property
    def compared_mpa(self) -> float:
        """Stress to compare. Source: EN 1993-1-8:2005 (4.1), left side."""
        return math.sqrt(self.sigma_perp_mpa**2 + 3.0 * (self.tau_perp_mpa**2 + self.tau_par_mpa**2))

    @property
    def resultant_mpa(self) -> float:
        """Force on a unit of throat, whichever way. Source: EN 1993-1-8:2005 4.5.3.3."""
        return math.sqrt(self.sigma_perp_mpa**2 + self.tau_perp_mpa**2 + self.tau_par_mpa**2)


def fillet_normal(leg_one: ArrayLike, leg_two: ArrayLike) -> tuple[float, float, float]:
    """Normal of the throat of an equal-leg fillet, from the directions of both legs away from the root.

    Raises ValueError for legs that lie in one line.
    """
    one, two = (np.asarray(leg, dtype=float) for leg in (leg_one, leg_two))
    one, two = one / np.linalg.norm(one), two / np.linalg.norm(two)
    across = two - one
    if np.linalg.norm(np.cross(one, two)) < 1e-6:
        raise ValueError("the legs of a fillet lie in one line: there is no corner to fill")
    x, y, z = across / np.linalg.norm(across)
    return float(x), float(y), float(z)


def numbers_of(lines: Sequence[WeldLine]) -> GroupNumbers:
    """Area, centroid and inertia of the throats, each a line of its throat's width.

    Raises ValueError for no weld, a run without length, a throat not over zero, or a normal not square to its run.
    """
    starts, ends, throats = _ends(lines)
    lengths = np.linalg.norm(ends - starts, axis=1)
    areas = lengths * throats
    area = float(areas.sum())
    centroid: Array = areas @ (starts + ends) / 2.0 / area
    a, b = starts - centroid, ends - centroid
    # mean of r r^T along a straight run
    outer = sum(
        w * (2.0 * np.outer(p, p) + np.outer(p, q) + np.outer(q, p) + 2.0 * np.outer(q, q)) / 6.0
        for w, p, q in zip(areas, a, b, strict=True)
    )
    return GroupNumbers(area, centroid, np.trace(outer) * np.eye(3) - outer)


def throat_stresses(
    lines: Sequence[WeldLine], force_n: ArrayLike, moment_nmm: ArrayLike, point_mm: ArrayLike
) -> tuple[ThroatStress, ...]:
    """Stresses at both ends of each run, in order, from a force and moment on the group at a point.

    The joined part moves as a rigid body on welds that give alike every way; stress is linear along a run, so the
    compared stress is the most at an end. Raises ValueError as `numbers_of` does, and for a moment about a lone
    straight run, which a weld line cannot hold.
    Source: elastic vector method, as for bolt groups; EN 1993-1-8:2005 2.5 and 4.5.3 for the parts of stress.
    """
    force, moment, point = (np.asarray(v, dtype=float) for v in (force_n, moment_nmm, point_mm))
    if not all(v.shape == (3,) and np.isfinite(v).all() for v in (force, moment, point)):
        raise ValueError("force, moment and point are each three numbers")
    numbers = numbers_of(lines)
    about = moment + np.cross(point - numbers.centroid_mm, force)
    spin = _spin(numbers, about, lines)
    out = []
    for index, line in enumerate(lines):
        for at, place in (("start", line.start_mm), ("end", line.end_mm)):
            stress = force / numbers.area_mm2 + np.cross(spin, np.asarray(place) - numbers.centroid_mm)
            out.append(_on_throat(index, at, line, stress))
    return tuple(out)


def _ends(lines: Sequence[WeldLine]) -> tuple[Array, Array, Array]:
    if not lines:
        raise ValueError("no weld: name at least one run")
    for index, line in enumerate(lines):
        name = line.name or f"weld {index + 1}"
        if not line.length_mm > _NEAR or not math.isfinite(line.length_mm):
            raise ValueError(f"{name} has no length")
        if not (line.throat_mm > 0.0 and math.isfinite(line.throat_mm)):
            raise ValueError(f"{name} has a throat of {line.throat_mm:g} mm")
        if line.normal is not None:
            normal, run = np.asarray(line.normal), np.asarray(line.end_mm) - np.asarray(line.start_mm)
            size = float(np.linalg.norm(normal))
            if size < _NEAR or abs(float(normal @ run)) > 1e-6 * size * line.length_mm:
                raise ValueError(f"{name}: the normal of the throat is not square to the run")
    starts = np.array([line.start_mm for line in lines], dtype=float)
    ends = np.array([line.end_mm for line in lines], dtype=float)
    return starts, ends, np.array([line.throat_mm for line in lines], dtype=float)


def _spin(numbers: GroupNumbers, about: Array, lines: Sequence[WeldLine]) -> Array:
    values, axes = np.linalg.eigh(numbers.inertia_mm4)
    held = values > 1e-9 * max(float(values[-1]), _NEAR)
    parts = axes.T @ about
    reach = math.sqrt(float(values[-1]) / numbers.area_mm2)
    if np.abs(parts[~held]).sum() > 1e-6 * max(float(np.abs(about).sum()), reach * 1e-6):
        name = ", ".join(line.name for line in lines if line.name) or "the weld"
        raise ValueError(
            f"{name} lies in one straight line and cannot hold the {np.abs(parts[~held]).sum() / 1000.0:.1f} N m "
            "about it: weld the other side too, or turn a corner"
        )
    spin: Array = axes[:, held] @ (parts[held] / values[held])
    return spin


def _on_throat(index: int, at: str, line: WeldLine, stress: Array) -> ThroatStress:
    run = (np.asarray(line.end_mm) - np.asarray(line.start_mm)) / line.length_mm
    along = float(stress @ run)
    if line.normal is None:
        return ThroatStress(index, at, 0.0, float(np.linalg.norm(stress - along * run)), along)
    normal = np.asarray(line.normal) / np.linalg.norm(line.normal)
    return ThroatStress(index, at, float(stress @ normal), float(stress @ np.cross(normal, run)), along)
