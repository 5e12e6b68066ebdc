"""Where mounts sit and how they give: the builder's words and measured points in; bushings in root axes out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.catalogue import mount_load
from halfshaft.build.catalogue import mounts as rows
from halfshaft.build.mounts import MountInput, MountsInput, RubberInput
from halfshaft.checks import Assumed, Check, Origin, Severity, Source
from halfshaft.measure.model import Measured
from halfshaft.mounts.bushings import Axis, Bushing, own_axes
from halfshaft.mounts.loads import Cases
from halfshaft.mounts.seat import Seat
from halfshaft.mounts.verdict import CARE

Array = NDArray[np.float64]

_NMM = 1000.0
_WAYS = {
    "forward": (1.0, 0.0, 0.0), "rearward": (-1.0, 0.0, 0.0), "left": (0.0, 1.0, 0.0), "right": (0.0, -1.0, 0.0),
    "up": (0.0, 0.0, 1.0), "down": (0.0, 0.0, -1.0),
}  # fmt: skip
_LINE = Source(Origin.DERIVED, "the rubber's own stiffness in turning about the line of the mounts")


def bushing_of(
    name: str, mount: MountInput, told: MountsInput, seats: Sequence[Seat], measured: Measured
) -> tuple[Bushing, tuple[Assumed, ...]]:
    """One mount's rubber at its place. Raises ValueError in words where a point is not located."""
    assumed: list[Assumed] = []
    of_unit = [seat for seat in seats if seat.side == "unit"]
    if mount.at:
        centre = np.mean([spot_of(at, measured) for at in mount.at], axis=0)
    elif of_unit:
        centre = np.mean(np.vstack([seat.places_mm for seat in of_unit]), axis=0)
        words = "the middle of the bracket's bolts into the unit"
        assumed.append(Assumed(f"mounts.mount.{name}.at", _three(centre), Source(Origin.DERIVED, words)))
    else:
        raise ValueError("no bolt of its bracket goes into the unit: write at = the points or the spot of its rubber")
    if mount.axis is not None:
        axial = _direction(mount.axis, measured)
    elif of_unit:
        axial = of_unit[0].pose.rotation[:, 2]
        words = "square to the unit's face that the bracket is bolted to"
        assumed.append(Assumed(f"mounts.mount.{name}.axis", _three(axial, 2), Source(Origin.DERIVED, words)))
    else:
        raise ValueError("which way its axial axis runs is not known: write axis = 'up' for example")
    radial = None if mount.radial is None else _direction(mount.radial, measured)
    rubber_name = mount.rubber
    if rubber_name is None:
        row = rows.rubber("solid")
        rubber_name = "solid"
        assumed.append(Assumed(f"mounts.mount.{name}.rubber", f"solid: {row.what}", row.source))
    rubber, usual = _rubber(rubber_name, told)
    assumed += usual
    return Bushing(name, centre, own_axes(axial, radial), *_axes(rubber), rubber.pad, _loss(rubber)), tuple(assumed)


def spot_of(at: str | tuple[float, float, float], measured: Measured) -> Array:
    """A point or a spot (3,) in root axes. Raises ValueError where the point is not located."""
    if not isinstance(at, str):
        return np.asarray(at, dtype=float)
    point = measured.points.get(at)
    if point is None or not point.tied:
        raise ValueError(f"{at} is not located in the axes of the frame: take more readings of it")
    return np.asarray(point.xyz_mm)


def _direction(told: str | tuple[float, float, float], measured: Measured) -> Array:
    if not isinstance(told, str):
        return np.asarray(told, dtype=float)
    if told in _WAYS:
        return np.array(_WAYS[told])
    face = measured.faces.get(told)
    if face is None or not face.tied:
        raise ValueError(f"the face {told} is not located in the axes of the frame: take more readings of it")
    return np.asarray(face.plane.normal)


def _three(values: Array, digits: int = 0) -> str:
    return ", ".join(f"{value + 0.0:.{digits}f}" for value in np.round(values, digits)) + (" mm" if digits == 0 else "")


def _rubber(name: str, told: MountsInput) -> tuple[RubberInput, list[Assumed]]:
    if name in told.rubber:
        return told.rubber[name], []
    row = rows.rubber(name)
    three = {
        "stiffness_n_mm": row.stiffness_n_mm, "turn_stiffness_nm_deg": row.turn_stiffness_nm_deg,
        "free_mm": row.free_mm, "snubber_n_mm": row.snubber_n_mm, "travel_mm": row.travel_mm,
    }  # fmt: skip
    words = ", ".join(f"{value:g}" for value in row.stiffness_n_mm)
    return RubberInput.model_validate(three, context={"units": "metric"}), [
        Assumed(f"mounts.rubber.{name}.stiffness", f"{words} N/mm", row.source)
    ]


def _axes(rubber: RubberInput) -> tuple[tuple[Axis, Axis, Axis], tuple[Axis, Axis, Axis]]:
    free = rubber.free_mm or (np.inf, np.inf, np.inf)
    most = rubber.travel_mm or (np.inf, np.inf, np.inf)
    along = [
        Axis(
            stiff, way, way, snub if np.isfinite(way) else 0.0, None, far, far,
            rubber.preload_n if axis == 0 else 0.0, not (rubber.only_pushes and axis == 0),
        )
        for axis, (stiff, way, snub, far) in enumerate(
            zip(rubber.stiffness_n_mm, free, rubber.snubber_n_mm, most, strict=True)
        )
    ]  # fmt: skip
    about = [Axis(stiff * _NMM) for stiff in rubber.turn_stiffness_nm_deg]
    return (along[0], along[1], along[2]), (about[0], about[1], about[2])


def _loss(rubber: RubberInput) -> float:
    return float(mount_load("bushing.loss_factor").value) if rubber.loss_factor is None else rubber.loss_factor


def in_line(bushings: Sequence[Bushing], centre_mm: Array, cases: Cases) -> Check | None:
    """Refusal of mounts that lie in one line, or in one spot, where only their own turning holds the unit about it."""
    centres = np.array([bushing.centre_mm for bushing in bushings])
    off = centres - centres.mean(axis=0)
    _, _, ways = np.linalg.svd(off, full_matrices=True)
    row = mount_load("held.line")
    span = float(np.ptp(off @ ways[0])) if len(off) > 1 else 0.0
    width = float(np.ptp(off @ ways[1])) if len(off) > 1 else 0.0
    if width > float(row.value) * max(span, 1.0) and span > 1.0:
        return None
    stiff = np.zeros((3, 3))
    for bushing in bushings:
        own = bushing.own_axes
        stiff += own @ np.diag([axis.stiffness for axis in bushing.about]) @ own.T
    line = ways[0]
    about = max(
        float(abs(line @ (case.moment_nmm + np.cross(centre_mm - centres.mean(axis=0), case.force_n))))
        for case in cases.cases
        if case.kind != "crash"
    )
    # a balance point is never known so well that it lies on the line for sure
    weight = float(np.linalg.norm(cases.cases[0].force_n))
    about = max(about, weight * float(row.value) * max(span, 1.0))
    gives = float(line @ stiff @ line)
    turned = about / gives if gives > 0.0 else np.inf
    most = float(mount_load("held.turn").value)
    if turned <= most:
        return None
    where = "in one spot" if span <= 1.0 else "in one line"
    by = f"{turned:.0f} degrees" if turned < 360.0 else "without end"
    names = ", ".join(bushing.name for bushing in bushings)
    return Check(
        "mounts", f"mounts {names}", f"Mounts {where}: only their own rubber holds the unit about it",
        _LINE, Severity.STOP,
        f"Set one mount off that line by more than {float(row.value) * max(span, 1.0):.0f} mm: under the largest load "
        f"the unit would turn {by}. {CARE}",
        failed_outright=True,
    )  # fmt: skip
