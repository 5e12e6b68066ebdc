"""Fit-up: a build and its measured points in; places for the unit, and windows and the way in for the first, out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from halfshaft.build import Build
from halfshaft.build.catalogue import default
from halfshaft.build.fitup import FitupInput, PlaceInput
from halfshaft.build.value import UnitSystem
from halfshaft.checks import Assumed, Check, Origin, Severity, Source
from halfshaft.fitup.carried import carried
from halfshaft.fitup.halfshaft import JointLimits, joint_limits, shaft_checks
from halfshaft.fitup.lowered import Lowered, lowered
from halfshaft.fitup.model import Fixed, Placed, Placing, Scene, WayIn, middle_of
from halfshaft.fitup.place import placed_at, search
from halfshaft.fitup.scene import scene_of
from halfshaft.fitup.shaft_room import shaft_room_checks
from halfshaft.fitup.taken import taken_pose, trial_pose
from halfshaft.fitup.way_in import way_in
from halfshaft.fitup.window import Window, cutter_of, windows
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import union, without
from halfshaft.measure.model import Measured
from halfshaft.progress import Progress, silent, within

BEGUN = "where the search began"
_DERIVED = Source(Origin.DERIVED, "docs/placing.md")


@dataclass(frozen=True, eq=False)
class FitUp:
    """What the station worked out; `scene` is None where [fitup] is not written or cannot be made.

    `hand` is the place the search began at, as the builder put it, `placing.tried` those of [fitup.trial]. `chosen` is
    the place that [fitup.place] takes, else the first of the short list whose windows can be cut: of it are windows and
    way in.
    """

    scene: Scene | None
    placing: Placing
    hand: Placed | None
    chosen: Placed | None
    windows: tuple[Window, ...]
    way: WayIn | None
    checks: tuple[Check, ...]
    assumed: tuple[Assumed, ...]
    taken: bool = False


def fit_up(build: Build, measured: Measured, folder: Path, progress: Progress = silent) -> FitUp:
    """Where the unit can sit, what must be cut for it, and the way in. Long work: `progress` may stop it."""
    scene, checks, assumed = scene_of(build, measured, folder)
    if scene is None:
        return FitUp(None, Placing(()), None, None, (), None, checks, assumed)
    told = build.fitup
    assert told is not None  # a scene was made of it
    joints = joints_of(scene)
    seed = build.build.seed
    placing = search(scene, joints, seed, within(progress, 0.0, 0.6, "places"))
    tried = tuple(placed_at(scene, trial_pose(scene, wish), joints, name) for name, wish in told.trial.items())
    placing = replace(placing, tried=tried)
    hand = placed_at(scene, scene.bounds.begin, joints, BEGUN)
    taken = None if told.place is None else placed_at(scene, taken_pose(scene, told.place), joints, "taken")
    progress(0.6, "windows")
    chosen, cut = (taken, windows_of(build, scene, taken)) if taken else _first(build, scene, placing.places)
    checks = (*checks, *placing.checks, *_place_checks(taken))
    if chosen is None:
        return FitUp(scene, placing, hand, None, (), None, checks, assumed)
    way = way_in(opened(scene, cut), chosen.pose, seed, within(progress, 0.65, 1.0, "way in"), units=build.build.units)
    found = (
        *checks,
        *shaft_checks(chosen.shafts, scene.joints, assumed),
        *shaft_room_checks(scene, chosen),
        *(check for window in cut for check in window.checks),
        *way.checks,
    )
    return FitUp(scene, placing, hand, chosen, cut, way, found, assumed, taken is not None)


def _first(build: Build, scene: Scene, places: Sequence[Placed]) -> tuple[Placed | None, tuple[Window, ...]]:
    """The first place none of whose windows is refused, else the first of all, and its windows."""
    tried: list[tuple[Placed, tuple[Window, ...]]] = []
    for place in places:
        tried.append((place, windows_of(build, scene, place)))
        checks = (check for window in tried[-1][1] for check in window.checks)
        if all(check.ok or check.severity is not Severity.STOP for check in checks):
            return tried[-1]
    return tried[0] if tried else (None, ())


def on_lift(placed: FitUp, units: UnitSystem = "metric") -> tuple[Lowered, ...]:
    """The steps of the way in as the car is let down over the unit; empty where there is no way."""
    if placed.scene is None or placed.way is None:
        return ()
    return lowered(placed.way, middle_of(placed.scene.unit.pieces), units)


def set_place(
    build: Build, measured: Measured, folder: Path, progress: Progress = silent
) -> tuple[Measured, tuple[Check, ...]]:
    """The measurements with the unit at the place that is taken, or the first that is found where none is told.

    As they came in, with the checks of what is missing, where the unit cannot be set to a place.
    """
    told = build.fitup
    scene, checks, _ = scene_of(build, measured, folder)
    if told is None or scene is None:
        return measured, checks
    if told.place is not None:
        pose, wish = taken_pose(scene, told.place), told.place
        checks = (*checks, *_place_checks(placed_at(scene, pose, joints_of(scene), "taken")))
    else:
        placing = search(scene, joints_of(scene), build.build.seed, progress)
        first, _ = _first(build, scene, placing.places)
        if first is None:
            return measured, (*checks, *placing.checks)
        pose, wish = first.pose, PlaceInput()
    own = pose.after(scene.unit.drawing.inverse())
    try:
        return carried(measured, told.unit, own, wish.spread_mm, wish.turn_spread_deg), checks
    except ValueError as why:
        return measured, (*checks, _cannot_set(told.unit, str(why)))


def _cannot_set(unit: str, why: str) -> Check:
    return Check(
        "fitup", f"unit {unit}", "Cannot be set to its place", _DERIVED, Severity.STOP, f"{why}.", failed_outright=True
    )


def setting_assumed(told: FitupInput) -> tuple[Assumed, ...]:
    """How true the unit is set, where the build does not say."""
    place = told.place or PlaceInput()
    rows = (("spread_mm", "spread", "fitup.setting"), ("turn_spread_deg", "turn_spread", "fitup.setting_turn"))
    found = [(key, default(row)) for field, key, row in rows if not place.given(field)]
    return tuple(Assumed(f"fitup.place.{key}", f"{row.value:g} {row.unit}", row.source) for key, row in found)


def joints_of(scene: Scene) -> JointLimits | None:
    """The half-shafts made ready, where wheels and outputs are told."""
    return joint_limits(scene.unit, scene.wheels, scene.joints) if scene.wheels and scene.unit.outputs else None


def _place_checks(taken: Placed | None) -> tuple[Check, ...]:
    if taken is None or taken.fits:
        return ()
    return (
        Check(
            "fitup", "the place taken", "Unit does not fit at the place taken", _DERIVED, Severity.STOP,
            f"{taken.limits[0][:1].upper()}{taken.limits[0][1:]}: take another of the places found, or move it.",
            failed_outright=True,
        ),
    )  # fmt: skip


def windows_of(build: Build, scene: Scene, place: Placed) -> tuple[Window, ...]:
    """The openings that a place wants in the members it cuts."""
    return windows_at(build, scene, place.pose, [cut.member for cut in place.cuts])


def windows_at(build: Build, scene: Scene, pose: Pose, members: Sequence[str]) -> tuple[Window, ...]:
    """The openings that the unit at `pose` wants in members that it cuts."""
    clearance = {fixed.name: fixed.clearance_mm for fixed in scene.fixed}
    return tuple(
        window
        for name in members
        for window in windows(
            scene.members[name],
            scene.unit.pieces,
            [pose],
            clearance[name],
            build.shop.kerf_mm,
            welds_mm=scene.members[name].welds_mm,
        )
    )


def opened(scene: Scene, cut: tuple[Window, ...]) -> Scene:
    """The scene with the windows cut: what the unit has to pass on its way in."""
    fixed: list[Fixed] = []
    for one in scene.fixed:
        own = [cutter_of(window.contour, window.wall) for window in cut if window.member == one.name]
        fixed.append(replace(one, solid=without(one.solid, union(own))) if own else one)
    return replace(scene, fixed=tuple(fixed))
