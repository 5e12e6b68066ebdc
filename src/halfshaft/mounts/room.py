"""Room left as the unit moves on its mounts: the scene, the settled states in; the least distances, and checks, out.

Exact distances of solids: longer work than the rest of the station.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from halfshaft.build import Build
from halfshaft.checks import Check, Good, Origin, Severity, Source, worst_first
from halfshaft.fitup.exact import Part, Thing, clearances
from halfshaft.fitup.model import Scene
from halfshaft.fitup.place import placed_at
from halfshaft.fitup.scene import scene_of
from halfshaft.fitup.station import opened, windows_of
from halfshaft.fitup.window import Window
from halfshaft.fold.model import Bracket
from halfshaft.geometry import Pose
from halfshaft.geometry.nearest import body
from halfshaft.measure.model import Measured
from halfshaft.mounts.frame_change import FrameChange, frame_change
from halfshaft.mounts.loads import Case
from halfshaft.mounts.model import Closest, Mounts
from halfshaft.mounts.statics import Settled
from halfshaft.progress import Progress, silent, within

_EXACT = Source(Origin.DERIVED, "distance of solids, the unit carried by its settled pose, windows cut")


def room_left(
    found: Mounts,
    build: Build,
    measured: Measured,
    folder: Path,
    progress: Progress = silent,
    brackets: Mapping[str, Bracket] | None = None,
) -> Mounts:
    """The result with the least room of each piece over all cases, crashes left out, and what is left of cut members.

    `brackets` are those that may stiffen a member. As it came where the unit is not held or has no drawn place. May
    be stopped by `progress`.
    """
    if not found.held or found.cases is None or found.motion is None:
        return found
    progress(0.0, "what stands about the unit")
    scene, _, _ = scene_of(build, measured, folder)
    if scene is None or scene.mocked_up is None:
        return found
    pose = scene.mocked_up
    cut = windows_of(build, scene, placed_at(scene, pose, None, "as drawn"))
    after = opened(scene, cut)
    members = members_of(scene, after, cut, [mount.bracket for mount in found.mounts], brackets or {})
    closest = closest_of(after, pose, found.cases.cases, found.states, within(progress, 0.2, 1.0))
    more = [*room_checks(closest), *(check for member in members for check in member.checks if not check.ok)]
    return replace(found, closest=closest, members=members, checks=tuple(worst_first([*found.checks, *more])))


def frame_plates(
    names: Sequence[str], build: Build, measured: Measured, folder: Path, brackets: Mapping[str, Bracket]
) -> tuple[Bracket, ...]:
    """Plates that give cut members of the frame their strength back, as flat brackets; `names` of brackets held.

    Empty where no unit is drawn in its place or no window weakens a member.
    """
    scene, _, _ = scene_of(build, measured, folder)
    if scene is None or scene.mocked_up is None:
        return ()
    cut = windows_of(build, scene, placed_at(scene, scene.mocked_up, None, "as drawn"))
    members = members_of(scene, opened(scene, cut), cut, names, brackets)
    return tuple(plate for member in members if member.plated is not None for plate in member.plated.brackets)


def members_of(
    scene: Scene, cut: Scene, windows: Sequence[Window], names: Sequence[str], brackets: Mapping[str, Bracket]
) -> tuple[FrameChange, ...]:
    """Each member with a window at its worst station, before and after, with the mounts' brackets on it.

    One that is cut right through is left to fit-up, which refuses it.
    """
    on = [brackets[name] for name in dict.fromkeys(names) if name in brackets]
    left = {fixed.name: fixed.solid for fixed in cut.fixed}
    out: list[FrameChange] = []
    for name, member in scene.members.items():
        own = [window for window in windows if window.member == name]
        if own:
            with suppress(ValueError):
                out.append(frame_change(member, left[name], own, on))
    return tuple(out)


def closest_of(
    scene: Scene, pose: Pose, cases: Sequence[Case], states: Sequence[Settled], progress: Progress = silent
) -> tuple[Closest, ...]:
    """For each piece its least distance to what stands still, the tightest first; `pose` is the drawn place."""
    things = [Thing(f.name, body(f.solid), f.clearance_mm) for f in scene.fixed if not f.solid.empty]
    served = [(case, state) for case, state in zip(cases, states, strict=True) if case.kind != "crash"]
    pieces = [piece for piece in scene.unit.pieces if not piece.solid.empty]
    if not things or not served:
        return ()
    out: list[Closest] = []
    for at, piece in enumerate(pieces):
        progress(at / len(pieces), f"room of {piece.name}")
        part = Part(piece.name, body(piece.solid))
        rest = {c.thing: c.distance_mm for c in clearances([part], pose, things)}
        best: Closest | None = None
        for case, state in served:
            near = min(clearances([part], state.pose.after(pose), things), key=lambda c: c.distance_mm)
            if best is None or near.distance_mm < best.distance_mm:
                asked = next(thing.clearance_mm for thing in things if thing.name == near.thing)
                still = rest.get(near.thing)
                if still is None:
                    one = [thing for thing in things if thing.name == near.thing]
                    still = clearances([part], pose, one)[0].distance_mm
                best = Closest(piece.name, near.thing, case.name, near.distance_mm, still, asked)
        if best is not None:
            out.append(best)
    return tuple(sorted(out, key=lambda c: c.distance_mm - c.asked_mm))


def room_checks(closest: Sequence[Closest]) -> tuple[Check, ...]:
    """Whether any piece touches as it moves (stop), and whether it keeps the clearance asked for (caution)."""
    out: list[Check] = []
    for at, one in enumerate(closest):
        hits = one.distance_mm <= 0.0
        if at and one.distance_mm >= one.asked_mm:
            continue
        out.append(
            Check(
                "mounts", f"piece {one.piece}", f"Least room to {one.thing} as it moves, under '{one.case}'", _EXACT,
                Severity.STOP if hits else Severity.CAUTION,
                f"It stands {one.at_rest_mm:.1f} mm off as drawn. Take stiffer mounts or earlier snubbers, move it "
                f"or cut {one.thing} back.",
                one.distance_mm, one.asked_mm, "mm", Good.AT_LEAST,
            )
        )  # fmt: skip
    return tuple(out)
