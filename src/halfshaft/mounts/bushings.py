"""Rubber mounts: six stiffnesses with snubbers in; energy, force and stiffness at any travel out, many mounts at once.

Own axes of a mount: axial, first radial, second radial; three shifts in mm, three turns in degrees at the edge and in
radians within. A turn is the rotation vector of the unit, seen in the mount's own axes, which stay with the frame.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.build.catalogue import mount_load

Array = NDArray[np.float64]

AXES = ("axial", "first radial", "second radial", "turn axial", "turn first radial", "turn second radial")


@dataclass(frozen=True, slots=True)
class Axis:
    """Rubber along or about one own axis: N/mm and mm, or N mm/deg and deg.

    Linear with `stiffness`; beyond the free travel a snubber adds `snubber`, which comes in over `blend` (the
    catalogue's where it is not told). A long blend makes it harden slowly.
    `most_back` and `most_ahead` are where the travel runs out.
    `preload` (N or N mm) is the push on the unit at its drawn place, ahead along the axis.
    One that does not hold back (`holds_pull` False) pushes ahead only and lets go when the unit leaves it.
    """

    stiffness: float
    free_back: float = np.inf
    free_ahead: float = np.inf
    snubber: float = 0.0
    blend: float | None = None
    most_back: float = np.inf
    most_ahead: float = np.inf
    preload: float = 0.0
    holds_pull: bool = True


def alike(stiffness: float, free: float = np.inf, snubber: float = 0.0, most: float = np.inf) -> Axis:
    """An axis the same both ways."""
    return Axis(stiffness, free, free, snubber, None, most, most)


@dataclass(frozen=True, eq=False)
class Bushing:
    """One mount: its elastic centre (3,) at the drawn place and own axes as columns (3, 3), both in root axes.

    Of a pad the axial axis points from the frame into the unit; it is told when its rubber is in tension.
    """

    name: str
    centre_mm: Array
    own_axes: Array
    along: tuple[Axis, Axis, Axis]
    about: tuple[Axis, Axis, Axis] = field(default_factory=lambda: (Axis(0.0), Axis(0.0), Axis(0.0)))
    pad: bool = False
    loss_factor: float = field(default_factory=lambda: float(mount_load("bushing.loss_factor").value))

    @property
    def axes(self) -> tuple[Axis, ...]:
        return (*self.along, *self.about)


def own_axes(axial: ArrayLike, first_radial: ArrayLike | None = None) -> Array:
    """Own axes (3, 3) from the axial direction (3,) and what the first radial one lies nearest to.

    Without it the first radial axis is as upright as it can be, or points forward where the axial one is upright.
    Raises ValueError where a direction has no length or both are one.
    """
    ahead = np.asarray(axial, dtype=float)
    if ahead.shape != (3,) or not np.linalg.norm(ahead) > 0.0 or not np.all(np.isfinite(ahead)):
        raise ValueError(f"a mount's axis wants a direction of three numbers, found {ahead.tolist()}")
    ahead = ahead / np.linalg.norm(ahead)
    told = first_radial is not None
    near = np.asarray(first_radial if told else (0.0, 0.0, 1.0), dtype=float)
    side = near - ahead * float(near @ ahead)
    if not told and np.linalg.norm(side) < 0.1:
        side = np.array([1.0, 0.0, 0.0]) - ahead * ahead[0]
    if not np.linalg.norm(side) > 1e-6 * max(float(np.linalg.norm(near)), 1e-300):
        raise ValueError("a mount's radial axis lies along its axial one")
    side = side / np.linalg.norm(side)
    return np.column_stack([ahead, side, np.cross(ahead, side)])


def _ramp(beyond: Array, blend: Array) -> Array:
    """Nought, then a parabola over `blend`, then a straight line of slope one."""
    y = np.clip(beyond, 0.0, None)
    return np.where(y < blend, y * y / (2.0 * blend), y - blend / 2.0)


def _ramp_area(beyond: Array, blend: Array) -> Array:
    y = np.clip(beyond, 0.0, None)
    return np.where(y < blend, y**3 / (6.0 * blend), 0.5 * (y - blend / 2.0) ** 2 + blend**2 / 24.0)


def _ramp_slope(beyond: Array, blend: Array) -> Array:
    return np.clip(beyond / blend, 0.0, 1.0)


@dataclass(frozen=True, eq=False)
class Rubber:
    """Many mounts laid out as arrays: (m, 3) centres, (m, 3, 3) own axes, (m, 6) of each number, turns in radians."""

    names: tuple[str, ...]
    centre_mm: Array
    own: Array
    stiffness: Array
    free_back: Array
    free_ahead: Array
    snubber: Array
    blend: Array
    most_back: Array
    most_ahead: Array
    preload: Array
    holds_pull: NDArray[np.bool_]
    let_go: Array  # where an axis that only pushes lets go
    pad: NDArray[np.bool_]
    loss_factor: Array

    def energy(self, x: Array) -> Array:
        """Energy in N mm (m, 6) at travel (m, 6); nought at the drawn place."""
        held = 0.5 * self.stiffness * x * x - self.preload * x
        pushed = self.stiffness * (_ramp_area(self.let_go - x, self.blend) - _ramp_area(self.let_go, self.blend))
        return (
            np.where(self.holds_pull, held, pushed)
            + self.snubber * _ramp_area(x - self.free_ahead, self.blend)
            + self.snubber * _ramp_area(-self.free_back - x, self.blend)
        )

    def gradient(self, x: Array) -> Array:
        """Derivative of the energy (m, 6): what the unit puts on the mount, N or N mm."""
        return (
            np.where(
                self.holds_pull,
                self.stiffness * x - self.preload,
                -self.stiffness * _ramp(self.let_go - x, self.blend),
            )
            + self.snubber * _ramp(x - self.free_ahead, self.blend)
            - self.snubber * _ramp(-self.free_back - x, self.blend)
        )

    def tangent(self, x: Array) -> Array:
        """Stiffness at that travel (m, 6), N/mm or N mm/rad."""
        return (
            np.where(self.holds_pull, self.stiffness, self.stiffness * _ramp_slope(self.let_go - x, self.blend))
            + self.snubber * _ramp_slope(x - self.free_ahead, self.blend)
            + self.snubber * _ramp_slope(-self.free_back - x, self.blend)
        )

    def used(self, x: Array) -> Array:
        """Share of the travel used (m, 6), over 1 where it has run out; nought where no travel is told."""
        return np.where(x >= 0.0, x / self.most_ahead, -x / self.most_back)

    def on_snubber(self, x: Array) -> NDArray[np.bool_]:
        return (x > self.free_ahead) | (x < -self.free_back)


def _faults(mount: Bushing) -> list[str]:
    out: list[str] = []
    own = np.asarray(mount.own_axes, dtype=float)
    if np.asarray(mount.centre_mm).shape != (3,) or not np.all(np.isfinite(mount.centre_mm)):
        out.append(f"mount '{mount.name}': its centre wants three numbers")
    if own.shape != (3, 3) or not np.allclose(own.T @ own, np.eye(3), atol=1e-6) or np.linalg.det(own) < 0.0:
        out.append(f"mount '{mount.name}': its own axes are not square to each other, right-handed")
    if not mount.loss_factor >= 0.0:
        out.append(f"mount '{mount.name}': its loss factor is {mount.loss_factor:g}; it is nought or more")
    for name, axis in zip(AXES, mount.axes, strict=True):
        at = f"mount '{mount.name}', {name}"
        for what in ("stiffness", "snubber"):
            value = getattr(axis, what)
            if not (np.isfinite(value) and value >= 0.0):
                out.append(f"{at}: {what} is {value:g}; it is nought or more")
        for what in ("free_back", "free_ahead", "most_back", "most_ahead"):
            if not getattr(axis, what) >= 0.0:
                out.append(
                    f"{at}: {what} is {getattr(axis, what):g}; it is nought or more, both ways told without sign"
                )
        if axis.most_back <= 0.0 or axis.most_ahead <= 0.0:
            out.append(f"{at}: the travel runs out at nought; write how far it goes")
        if axis.blend is not None and not (np.isfinite(axis.blend) and axis.blend > 0.0):
            out.append(f"{at}: blend is {axis.blend:g}; it is over nought")
        if not np.isfinite(axis.preload):
            out.append(f"{at}: preload is {axis.preload:g}")
        if not axis.holds_pull and axis.preload < 0.0:
            out.append(f"{at}: preload pulls ({axis.preload:g}), but this mount only pushes")
        if not axis.holds_pull and axis.stiffness == 0.0 and axis.preload > 0.0:
            out.append(f"{at}: a preload without a stiffness never lets go; write both")
    if not any(axis.stiffness > 0.0 or axis.snubber > 0.0 for axis in mount.axes):
        out.append(f"mount '{mount.name}' has no stiffness at all: it holds nothing")
    return out


def laid_out(mounts: Sequence[Bushing]) -> Rubber:
    """Mounts as arrays.

    Raises ValueError, all faults at once by name, where there are no mounts or their numbers make no sense.
    """
    if not mounts:
        raise ValueError("the unit has no mounts: nothing holds it")
    faults = [fault for mount in mounts for fault in _faults(mount)]
    names = [mount.name for mount in mounts]
    faults += [f"two mounts are named '{name}'" for name in sorted({n for n in names if names.count(n) > 1})]
    if faults:
        raise ValueError("; ".join(faults))
    usual = [float(mount_load("bushing.blend_mm").value)] * 3 + [float(mount_load("bushing.blend_deg").value)] * 3

    def of(what: str) -> Array:
        return np.array([[getattr(axis, what) for axis in mount.axes] for mount in mounts], dtype=float)

    travel = np.array([1.0, 1.0, 1.0, np.pi / 180.0, np.pi / 180.0, np.pi / 180.0])
    blend = travel * np.array(
        [
            [u if axis.blend is None else axis.blend for axis, u in zip(mount.axes, usual, strict=True)]
            for mount in mounts
        ]
    )
    stiffness, preload = of("stiffness") / travel, of("preload")
    holds = np.array([[axis.holds_pull for axis in mount.axes] for mount in mounts])
    reach = np.divide(preload, stiffness, out=np.zeros_like(preload), where=stiffness > 0.0)
    return Rubber(
        tuple(names),
        np.array([mount.centre_mm for mount in mounts], dtype=float),
        np.array([mount.own_axes for mount in mounts], dtype=float),
        stiffness,
        of("free_back") * travel,
        of("free_ahead") * travel,
        of("snubber") / travel,
        blend,
        of("most_back") * travel,
        of("most_ahead") * travel,
        preload,
        holds,
        # the parabola's end is half a blend past where the straight line would let go
        np.where(reach >= blend / 2.0, reach + blend / 2.0, np.sqrt(2.0 * blend * np.clip(reach, 0.0, None))),
        np.array([mount.pad for mount in mounts]),
        np.array([mount.loss_factor for mount in mounts], dtype=float),
    )
