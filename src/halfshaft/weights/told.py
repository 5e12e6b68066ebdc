"""From the builder's words to stance, weighings, ledger and brakes, and what was assumed for what they leave out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.constants import g as gravity_m_s2

from halfshaft.build import Build
from halfshaft.build.catalogue import default
from halfshaft.build.cross_weights import wheelbase_of
from halfshaft.build.weights import BrakesInput, ItemInput, WeighingInput, WeightsInput
from halfshaft.checks import Assumed, Origin, Source
from halfshaft.measure.model import Measured
from halfshaft.weights.brakes import Split
from halfshaft.weights.model import Line
from halfshaft.weights.moments import Stance, item
from halfshaft.weights.scales import Height, Tilt, Weighing
from halfshaft.weights.springs import front_roll_share, wheel_rate_n_mm

Array = NDArray[np.float64]
_TABLES = Source(Origin.DERIVED, "told in [mounts] or [car]")


def stance_of(told: WeightsInput, build: Build, assumed: list[Assumed]) -> Stance:
    """Raises ValueError where nobody says the wheelbase."""
    base = wheelbase_of(told, build)
    if base is None:
        raise ValueError("[weights] does not say the wheelbase")
    if told.wheelbase_mm is None:
        assumed.append(Assumed("weights.wheelbase", f"{base:.0f} mm", _TABLES))
    rear = told.track_rear_mm
    if rear is None:
        rear = told.track_front_mm
        assumed.append(Assumed("weights.track_rear", f"{rear:.0f} mm", Source(Origin.DERIVED, "as the front track")))
    return Stance(base, told.track_front_mm, rear, told.rear_axle_mm, told.ground_mm)


def front_roll_of(told: WeightsInput, stance: Stance, assumed: list[Assumed]) -> float:
    """Share of a lean that the front axle takes: as told, by the springs, or the usual one."""
    if told.front_roll is not None:
        return told.front_roll
    front, rear = told.spring.get("front"), told.spring.get("rear")
    if front is not None and rear is not None:
        share = front_roll_share(
            float(wheel_rate_n_mm(front.rate_n_mm, front.ratio)), float(wheel_rate_n_mm(rear.rate_n_mm, rear.ratio)),
            stance.track_front_mm, stance.track_rear_mm,
        )  # fmt: skip
        source = Source(Origin.DERIVED, "springs at the wheels and tracks, without anti-roll bars; docs/weights.md")
        assumed.append(Assumed("weights.front_roll", f"{share:.2f}", source))
        return share
    row = default("weights.front_roll")
    assumed.append(Assumed("weights.front_roll", f"{row.value:g}", row.source))
    return float(row.value)


def radii_of(told: WeightsInput, build: Build, assumed: list[Assumed]) -> tuple[float, float]:
    """Loaded wheel radii, front and rear: as told here, in [mounts] or [car], or the usual one."""
    front = told.wheel_radius_mm
    if front is None:
        row = default("weights.wheel_radius")
        front, source = float(row.value), row.source
        if build.mounts is not None and build.mounts.wheel_radius_mm is not None:
            front, source = build.mounts.wheel_radius_mm, _TABLES
        elif build.car is not None and build.car.wheel_radius_mm is not None:
            front, source = build.car.wheel_radius_mm, _TABLES
        assumed.append(Assumed("weights.wheel_radius", f"{front:.0f} mm", source))
    return front, told.wheel_radius_rear_mm if told.wheel_radius_rear_mm is not None else front


def weighing_of(
    told: WeighingInput, where: str, radii: tuple[float, float], radius_spread_mm: float, assumed: list[Assumed]
) -> Weighing:
    """Readings with their spreads; without a tilt or a height told it has none."""
    height: Tilt | Height | None = None
    if told.tilt is not None:
        one = told.tilt
        # both wheels of the axle stand on scales: two readings' spread
        spread = one.spread_kg if one.spread_kg is not None else told.spread_kg * np.sqrt(2.0)
        height = Tilt(
            one.lifted, one.lift_mm, one.other_axle_kg, one.lift_spread_mm, float(spread), *radii, radius_spread_mm
        )
    elif told.cog_height_mm is not None:
        height = Height(told.cog_height_mm, told.cog_height_spread_mm)
    if told.corners_kg is not None:
        return Weighing(told.corners_kg, told.spread_kg, height)
    front, rear = told.axles_kg or (0.0, 0.0)
    row = default("weights.side_spread")
    assumed.append(Assumed(f"weights.{where}.corners", f"{row.value:g} mm off the middle", row.source))
    halves = (0.5 * front, 0.5 * front, 0.5 * rear, 0.5 * rear)
    # an axle's one reading is shared by its two corners
    return Weighing(halves, told.spread_kg / float(np.sqrt(2.0)), height, float(row.value))


def usual_height(where: str, assumed: list[Assumed]) -> Height:
    row, spread = default("weights.cog_height"), default("weights.cog_height_spread")
    assumed.append(Assumed(f"weights.{where}.cog_height", f"{row.value:g} mm ± {spread.value:g}", row.source))
    return Height(float(row.value), float(spread.value))


def ledger_of(
    told: WeightsInput, measured: Measured, front_roll: float, assumed: list[Assumed]
) -> tuple[tuple[Line, ...], list[tuple[str, str]]]:
    """Rows of the ledger, and those that cannot be placed: the row's name and why."""
    share = default("weights.mass_spread")
    lines, lost, guessed, placed = [], [], 0, 0
    for table, name, one in told.items:
        try:
            at, place = place_of(one, told, measured)
        except ValueError as why:
            lost.append((f"weights.{table}.{name}", str(why)))
            continue
        spread = one.mass_spread_kg
        if spread is None:
            spread, guessed = float(share.value) * one.mass_kg, guessed + 1
        placed += not one.given("place_spread_mm")
        moments = item(one.mass_kg, at, spread, place + one.place_spread_mm**2 * np.eye(3), front_roll)
        lines.append(Line(table, name, one.mass_kg, spread, at, one.place or "", one.sprung, one.what, moments))
    if guessed:
        assumed.append(Assumed("weights: mass_spread", f"{share.value:.0%} of each of {guessed} masses", share.source))
    if placed:
        row = default("weights.place_spread")
        assumed.append(Assumed("weights: place_spread", f"{row.value:g} mm for {placed} things", row.source))
    return tuple(lines), lost


def place_of(one: ItemInput, told: WeightsInput, measured: Measured) -> tuple[Array, Array]:
    """Where a thing is (3,) and the covariance (3, 3) of the point that it hangs on. Raises ValueError in words."""
    if one.place is not None:
        return spot_of(told.place[one.place].at, measured)
    if one.at is None:
        raise ValueError("where it is, is not told")
    return spot_of(one.at, measured)


def spot_of(at: str | tuple[float, float, float], measured: Measured) -> tuple[Array, Array]:
    """A point or a spot (3,) in root axes with its covariance. Raises ValueError where the point is not located."""
    if not isinstance(at, str):
        return np.asarray(at, dtype=float), np.zeros((3, 3))
    point = measured.points.get(at)
    if point is None or not point.tied:
        raise ValueError(f"{at} is not located in the axes of the car: take more readings of it")
    return np.asarray(point.xyz_mm, dtype=float), np.asarray(point.covariance_mm2, dtype=float)


def split_of(told: BrakesInput, mass_share: float) -> Split:
    """`mass_share`: mass of the laden car over that of the state: regeneration is told as the laden car feels it.

    Nought leaves regeneration out.
    """
    knee = np.inf if told.knee_m_s2 is None else told.knee_m_s2 / gravity_m_s2
    return Split(
        told.front_share,
        float(knee),
        1.0 if told.slope is None else told.slope,
        told.regeneration_m_s2 / gravity_m_s2 * mass_share,
        told.driven,
    )
