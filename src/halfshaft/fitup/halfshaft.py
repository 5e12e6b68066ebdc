"""Half-shafts at a place of the unit: unit, wheels and a pose in; joint angles, lengths and plunge out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfshaft.build.catalogue import default
from halfshaft.checks import Assumed, Check, Good, Origin, Severity, Source
from halfshaft.fitup.model import Joints, OutputFlange, Shaft, Unit, Wheel
from halfshaft.geometry import Pose

Array = NDArray[np.float64]

_SAFE = "With the car on stands and the wheels free, turn the shafts by hand through the whole travel before driving."
_ROWS = {
    "most_angle_deg": "fitup.joint_angle_ride",
    "most_angle_travel_deg": "fitup.joint_angle_travel",
    "stroke_mm": "fitup.joint_stroke",
}


@dataclass(frozen=True, eq=False, slots=True)
class JointNumbers:
    """Worst over both shafts at each of k poses: arrays (k,)."""

    worst_deg: Array  # at ride height
    worst_travel_deg: Array  # anywhere in the travel, ride height too
    plunge_mm: Array
    ok: NDArray[np.bool_]


@dataclass(frozen=True, eq=False, slots=True)
class JointLimits:
    """The half-shafts of one unit and car, asked at many poses. Built by `joint_limits`."""

    limits: Joints
    flange_mm: Array  # (s, 3) in the unit
    flange_axis: Array  # (s, 3)
    joint_mm: tuple[Array, ...]  # each (n, 3) in the car
    joint_axis: tuple[Array, ...]
    ride: tuple[int, ...]

    def __call__(self, rotations: ArrayLike, shifts_mm: ArrayLike) -> JointNumbers:
        """Numbers at poses told as rotations (k, 3, 3) and shifts (k, 3), unit to root."""
        turns = np.asarray(rotations, dtype=float).reshape(-1, 3, 3)
        shifts = np.asarray(shifts_mm, dtype=float).reshape(-1, 3)
        count = len(turns)
        at_ride, anywhere, plunge = np.zeros(count), np.zeros(count), np.zeros(count)
        fits = np.ones(count, dtype=bool)
        for place, axis, joint, hub, ride in zip(
            self.flange_mm, self.flange_axis, self.joint_mm, self.joint_axis, self.ride, strict=True
        ):
            inner, outer, length = _numbers(turns @ place + shifts, turns @ axis, joint, hub)
            worst = np.maximum(inner, outer)
            at_ride = np.maximum(at_ride, worst[:, ride])
            anywhere = np.maximum(anywhere, worst.max(axis=1))
            plunge = np.maximum(plunge, np.ptp(length, axis=1))
            fits &= (length[:, ride] >= self.limits.least_length_mm) & (length[:, ride] <= self.limits.most_length_mm)
        ok = (
            fits
            & (at_ride <= self.limits.most_angle_deg)
            & (anywhere <= self.limits.most_angle_travel_deg)
            & (plunge <= self.limits.stroke_mm)
        )
        return JointNumbers(at_ride, anywhere, plunge, ok)

    def at(self, pose: Pose) -> JointNumbers:
        """The same at one pose: arrays (1,)."""
        return self(pose.rotation[None], pose.shift_mm[None])


def joint_limits(unit: Unit, wheels: Sequence[Wheel], joints: Joints) -> JointLimits:
    """The half-shafts made ready for many poses.

    Raises ValueError as `shafts` does.
    """
    pairs = pairs_of(unit, wheels)
    return JointLimits(
        joints,
        np.array([flange.centre_mm for flange, _ in pairs], dtype=float).reshape(-1, 3),
        np.array([_unit(flange.axis) for flange, _ in pairs], dtype=float).reshape(-1, 3),
        tuple(np.asarray(wheel.centre_mm, dtype=float) for _, wheel in pairs),
        tuple(_unit(wheel.axis) for _, wheel in pairs),
        tuple(_ride(wheel) for _, wheel in pairs),
    )


def shafts(unit: Unit, wheels: Sequence[Wheel], joints: Joints, pose: Pose) -> tuple[Shaft, ...]:
    """Each half-shaft at one place of the unit, through its wheel's travel.

    A joint's angle is that between the line through both joints' middles, outward, and the axis of the flange or hub.
    Raises ValueError with the side where an output has no wheel, a side has two, or a travel lacks ride height.
    Source: elementary geometry, docs/fitup.md, half-shafts.
    """
    out = []
    for flange, wheel in pairs_of(unit, wheels):
        inner, outer, length = _numbers(
            pose.apply(flange.centre_mm)[None],
            (pose.rotation @ _unit(flange.axis))[None],
            np.asarray(wheel.centre_mm, dtype=float),
            _unit(wheel.axis),
        )
        travel = np.asarray(wheel.travel_mm, dtype=float)
        out.append(
            Shaft(
                flange.side, travel, inner[0], outer[0], length[0], float(np.ptp(length[0])), _ride(wheel),
                joints.stroke_mm,
            )
        )  # fmt: skip
    return tuple(out)


def joints_from(
    most_angle_deg: float | None = None,
    most_angle_travel_deg: float | None = None,
    stroke_mm: float | None = None,
    least_length_mm: float = 0.0,
    most_length_mm: float = np.inf,
) -> tuple[Joints, tuple[Assumed, ...]]:
    """What the joints take: the builder's numbers, the catalogue's where there is none, and which were assumed."""
    given = {
        "most_angle_deg": most_angle_deg, "most_angle_travel_deg": most_angle_travel_deg, "stroke_mm": stroke_mm,
    }  # fmt: skip
    rows = {name: default(_ROWS[name]) for name, value in given.items() if value is None}
    values = {name: float(rows[name].value) if name in rows else float(value or 0.0) for name, value in given.items()}
    assumed = tuple(Assumed(row.key, f"{row.value:g} {row.unit}", row.source) for row in rows.values())
    return Joints(**values, least_length_mm=least_length_mm, most_length_mm=most_length_mm), assumed


def shaft_checks(made: Sequence[Shaft], joints: Joints, assumed: Sequence[Assumed] = ()) -> tuple[Check, ...]:
    """Judges each half-shaft's angles, plunge and length. `assumed` tells which limits are the catalogue's."""
    by_key = {one.where: one.source for one in assumed}

    def source(name: str) -> Source:
        return by_key.get(_ROWS[name], Source(Origin.BUILDER, "half-shaft joints"))

    out: list[Check] = []
    for shaft in made:
        about, ride = f"{shaft.side} half-shaft", shaft.ride_index
        worst = np.maximum(shaft.inner_deg, shaft.outer_deg)
        at = int(np.argmax(worst))
        bent = "inner" if shaft.inner_deg[ride] >= shaft.outer_deg[ride] else "outer"
        bent_at = "inner" if shaft.inner_deg[at] >= shaft.outer_deg[at] else "outer"
        kept = default("fitup.plunge_kept")
        out += [
            Check(
                "fitup", about, f"Angle of the {bent} joint at ride height", source("most_angle_deg"), Severity.CAUTION,
                "Bring the output flange nearer to the height and station of the wheel's middle, or tilt the unit.",
                float(worst[ride]), joints.most_angle_deg, "deg", Good.AT_MOST,
            ),
            Check(
                "fitup", about, f"Angle of the {bent_at} joint at {_height(shaft.travel_mm[at])}",
                source("most_angle_travel_deg"), Severity.STOP,
                f"Move the unit, limit the wheel's travel, or take joints that bend further. {_SAFE}",
                float(worst[at]), joints.most_angle_travel_deg, "deg", Good.AT_MOST,
            ),
            Check(
                "fitup", about, "Plunge through the travel", source("stroke_mm"), Severity.STOP,
                f"Take a joint of longer stroke, or bring the inner joint nearer to the arms' axis. {_SAFE}",
                shaft.plunge_mm, joints.stroke_mm, "mm", Good.AT_MOST,
            ),
            Check(
                "fitup", about, "Stroke left at each end, the shaft cut to the middle of its plunge", kept.source,
                Severity.CAUTION,
                f"Cut the shaft so that the joint sits mid-stroke at {_middle(shaft):.0f} mm between joint middles; "
                "measure again with the unit hung in place before it is cut.",
                (joints.stroke_mm - shaft.plunge_mm) / 2.0, float(kept.value), "mm", Good.AT_LEAST,
            ),
        ]  # fmt: skip
        length, given = float(shaft.length_mm[ride]), Source(Origin.BUILDER, "half-shaft joints")
        if joints.least_length_mm > 0.0:
            out.append(
                Check(
                    "fitup", about, "Length between joints at ride height", given, Severity.STOP,
                    "Move the unit to the other side, or find a shaft that comes shorter.",
                    length, joints.least_length_mm, "mm", Good.AT_LEAST,
                )
            )  # fmt: skip
        if np.isfinite(joints.most_length_mm):
            out.append(
                Check(
                    "fitup", about, "Length between joints at ride height", given, Severity.STOP,
                    "Move the unit toward this side, or find a shaft that comes longer.",
                    length, joints.most_length_mm, "mm", Good.AT_MOST,
                )
            )  # fmt: skip
    return tuple(out)


def _middle(shaft: Shaft) -> float:
    return float(shaft.length_mm.max() + shaft.length_mm.min()) / 2.0


def _height(travel_mm: float) -> str:
    if abs(travel_mm) < 0.5:
        return "ride height"
    return f"{abs(travel_mm):.0f} mm {'bump' if travel_mm > 0.0 else 'droop'}"


def _numbers(flange: Array, axis: Array, joint: Array, hub: Array) -> tuple[Array, Array, Array]:
    """Inner angle, outer angle (degrees) and length, each (k, n), of k flange places and n wheel places."""
    run = joint[None] - flange[:, None]
    length = np.linalg.norm(run, axis=2)
    if np.any(length < 1e-9):
        raise ValueError("a half-shaft has no length: its flange lies on the wheel's joint")
    return _between(run, axis[:, None]), _between(run, hub[None]), length


def _between(run: Array, axis: Array) -> Array:
    # the arc of a cosine alone loses half its digits near nought
    across = np.linalg.norm(np.cross(run, axis), axis=2)
    return np.asarray(np.degrees(np.arctan2(across, np.sum(run * axis, axis=2))))


def pairs_of(unit: Unit, wheels: Sequence[Wheel]) -> list[tuple[OutputFlange, Wheel]]:
    """Each output with the wheel of its side. Raises ValueError as `shafts` does."""
    out = []
    for flange in unit.outputs:
        same = [wheel for wheel in wheels if wheel.side == flange.side]
        if len(same) != 1:
            have = "no wheel" if not same else f"{len(same)} wheels"
            raise ValueError(f"the {flange.side} output has {have}: give one wheel for each output")
        if not same[0].travel_mm.size or np.abs(same[0].travel_mm).min() > 1e-6:
            raise ValueError(f"the {flange.side} wheel's travel holds no ride height: give its place at travel 0")
        out.append((flange, same[0]))
    return out


def _ride(wheel: Wheel) -> int:
    return int(np.argmin(np.abs(wheel.travel_mm)))


def _unit(axis: ArrayLike) -> Array:
    way = np.asarray(axis, dtype=float)
    return np.asarray(way / np.linalg.norm(way, axis=-1, keepdims=True))
