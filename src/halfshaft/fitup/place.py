"""Where the unit can sit: a scene in; a short list of places, one place by hand or made better nearby, out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import qmc

from halfshaft.build.catalogue import default, wishes
from halfshaft.checks import Check, Origin, Severity, Source
from halfshaft.fitup.blocked import blockers
from halfshaft.fitup.exact import clearances
from halfshaft.fitup.halfshaft import JointLimits, shafts
from halfshaft.fitup.metal import cut
from halfshaft.fitup.model import Array, Bounds, Cut, Placed, Placing, Scene, Shaft
from halfshaft.fitup.ready import JointsAt, Ready, joint_numbers, ready
from halfshaft.fitup.shaft_room import arm_gap, shaft_clearances
from halfshaft.fitup.slide import Weights, cost, push_out, slide
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import boxes_meet, moved
from halfshaft.nondominated import different, unbeaten
from halfshaft.progress import Progress, silent, within

# of places alike the first is kept, so what is dearest comes first in the table
_WISHES = {name: Weights(**row) for name, row in wishes().items()}
# mm3, share, mm, degrees, mm, mm, mm, mm: less of a difference is none
_WORTH = (2000.0, 0.02, 2.0, 0.25, 3.0, 4.0, 4.0, 2.0)
_ROOM_COUNTS_TO_MM, _GROUND_COUNTS_TO_MM, _SERVICE_COUNTS_TO_MM = 40.0, 150.0, 60.0
_DIFFERENT = (8.0, 8.0, 8.0, 1.5, 1.5, 1.5)  # mm and degrees by which places are called different
_SPARE_MM = 0.01
_TOUCHING_MM = 1e-4
_TIGHT_MM = 12.0
_PUSHED = 40
BETTERED = "better nearby: looked no farther than small steps from where it was put"


@dataclass(frozen=True, eq=False)
class Judged:
    """A place with the room left to what is kept past its clearance, and whether it breaks nothing."""

    placed: Placed
    room_mm: float
    angle_deg: float
    fits: bool
    all_but_shafts: bool  # only a half-shaft is in the way of what stands still


def placed_at(scene: Scene, pose: Pose, joints: JointsAt | None = None, label: str = "") -> Placed:
    """One pose with its exact numbers, whether or not it fits.

    Raises ValueError where the unit has no piece.
    """
    return judged(ready(scene), pose, joints, label).placed


def judged(made: Ready, pose: Pose, joints: JointsAt | None = None, label: str = "") -> Judged:
    """One pose with exact clearances, exact metal, and whether it breaks no hard limit."""
    scene = made.scene
    near = clearances(made.parts, pose, made.kept)
    least = min(near, key=lambda c: c.distance_mm, default=None)
    room = near[0].room_mm if near else np.inf
    cuts = _cuts(made, pose)
    turns, shifts_mm = pose.rotation[None], pose.shift_mm[None]
    ground = float(made.ground_mm(turns, shifts_mm)[0])
    angles, fine = joint_numbers(joints, turns, shifts_mm)
    turned: tuple[Shaft, ...] = ()
    if isinstance(joints, JointLimits):
        turned = shafts(scene.unit, scene.wheels, joints.limits, pose)
    by_shaft = shaft_clearances(scene, pose, (*made.kept, *made.members))
    arm_gap_mm, arm = arm_gap(scene, pose)
    service = _service(made, pose)
    words: list[tuple[float, str]] = []
    for one in (*near, *by_shaft):
        if one.distance_mm < 0.0:
            words.append((one.room_mm, f"{one.part} hits {one.thing} by {-one.distance_mm:.1f} mm"))
        elif one.room_mm < _TIGHT_MM:
            asked = one.distance_mm - one.room_mm
            words.append((one.room_mm, f"{one.part} {one.distance_mm:.1f} mm from {one.thing}, {asked:.1f} mm asked"))
    if arm and scene.shaft_body is not None and arm_gap_mm < scene.shaft_body.clearance_mm:
        words.append((max(arm_gap_mm, 0.0), f"half-shaft {arm_gap_mm:.1f} mm from the {arm} as both move"))
    height = ground - scene.ground_clearance_mm
    if height < _TIGHT_MM:
        words.append((height, f"{ground:.0f} mm off the ground, {scene.ground_clearance_mm:.0f} mm asked"))
    if not fine[0]:
        words.append((-np.inf, f"half-shaft joints out of their limits, {angles[0]:.1f} degrees"))
    if service < scene.service_mm:
        words.append(
            (
                _TIGHT_MM + service / scene.service_mm,
                f"{service:.0f} mm round what comes off, {scene.service_mm:.0f} mm asked",
            )
        )
    words.extend(
        (2.0 * _TIGHT_MM - one.section_lost, f"{one.member} loses {100.0 * one.section_lost:.0f} % of its section")
        for one in cuts
        if one.removed_mm3 > 0.0
    )
    words.extend(_edge_words(cuts))
    words.extend((_TIGHT_MM, f"the end of the search {way}") for way in _ends(made, pose))
    shaft_free = not by_shaft or by_shaft[0].room_mm >= -_TOUCHING_MM
    clear = bool(room >= -_TOUCHING_MM and height >= -_TOUCHING_MM and fine[0])
    fits = clear and shaft_free
    placed = Placed(
        pose,
        cuts,
        least.distance_mm if least else np.inf,
        least.thing if least else "",
        turned,
        ground,
        float(pose.apply(made.middle_mm)[1]),
        service,
        tuple(word for _, word in sorted(words, key=lambda pair: pair[0])),
        label,
        by_shaft[0].distance_mm if by_shaft else np.inf,
        by_shaft[0].thing if by_shaft else "",
        arm_gap_mm,
        arm,
        fits,
    )
    return Judged(placed, room, float(angles[0]), fits, clear and not shaft_free)


def _cuts(made: Ready, pose: Pose) -> tuple[Cut, ...]:
    at = {key: moved(solid, pose) for key, solid in made.grown_pieces.items()}
    out = []
    for fixed in made.member_fixed:
        about = [solid for (_, by), solid in at.items() if by == fixed.clearance_mm and boxes_meet(solid, fixed.solid)]
        if not about:
            continue
        member = made.scene.members.get(fixed.name)
        welds = member.welds_mm if member else ()
        found = cut(fixed.name, fixed.solid, made.lines[fixed.name], about, made.walls.get(fixed.name, ()), welds)
        if found.removed_mm3 > 0.0:
            out.append(found)
    return tuple(sorted(out, key=lambda c: -c.removed_mm3))


def _service(made: Ready, pose: Pose) -> float:
    """Least distance of the pieces that come off from all that stands still; a cut member is cut to its clearance."""
    loose = {p.name for p in made.scene.unit.pieces if p.comes_off}
    parts = [p for p in made.parts if p.name in loose]
    if not parts:
        return float("inf")
    out = min((c.distance_mm for c in clearances(parts, pose, made.kept)), default=np.inf)
    for one in clearances(parts, pose, made.members, every=False):
        out = min(out, max(one.distance_mm, one.distance_mm - one.room_mm))
    return float(out)


def _edge_words(cuts: Sequence[Cut]) -> list[tuple[float, str]]:
    """Cuts that leave too little metal to an edge or weld, after what is hit: the less is left the tighter."""
    to_edge, to_weld = (float(default(row).value) for row in ("fitup.window_edge", "fitup.window_weld"))
    out = []
    for one in cuts:
        if one.edge_mm <= 0.0:
            out.append((0.0, f"cut runs over the {one.edge}"))
        elif one.edge_mm < to_edge:
            words = f"cut leaves {one.edge_mm:.0f} mm to the {one.edge}, {to_edge:.0f} mm wanted"
            out.append((_TIGHT_MM * one.edge_mm / to_edge, words))
        if one.weld_mm < to_weld:
            words = f"cut {one.weld_mm:.0f} mm from a weld of {one.member}, {to_weld:.0f} mm wanted"
            out.append((_TIGHT_MM * one.weld_mm / to_weld, words))
    return out


_WAYS = (("forward", "rearward"), ("left", "right"), ("up", "down"))


def _ends(made: Ready, pose: Pose) -> list[str]:
    move, limits = made.move(pose), made.limits
    out = []
    for at in range(3):
        if limits[at] > 0.0 and abs(move[at]) > limits[at] - 0.05:
            out.append(_WAYS[at][0 if move[at] > 0.0 else 1])
    out.extend(
        f"in turn about {axis}"
        for axis, turn_deg, most in zip("xyz", move[3:], limits[3:], strict=True)
        if most > 0.0 and abs(turn_deg) > most - 0.01
    )
    return out


def search(
    scene: Scene,
    joints: JointsAt | None = None,
    seed: int = 0,
    progress: Progress = silent,
    samples: int = 32768,
    most: int = 6,
) -> Placing:
    """The short list of truly different places none of which is beaten in everything, each confirmed exactly.

    Poses are spread evenly over the bounds and screened; the best by each wish, and those that could be pushed clear,
    slide to where nothing near is better, at last by exact distances. The same seed gives the same list.
    Where there is no place `blocked_by` names what stands in the way. Raises ValueError where the unit has no piece.
    """
    made = ready(scene)
    progress(0.0, "what stands about the unit")
    _ = made.kept_field if made.kept else None
    moves, room = _spread(made, seed, samples, within(progress, 0.05, 0.3))
    starts = _starts(made, joints, moves, room, within(progress, 0.3, 0.5))
    found: list[tuple[Array, Judged]] = []
    wishes = _wishes(made, joints)
    tell = within(progress, 0.5, 0.95)
    for done, (name, weights) in enumerate(wishes.items()):
        tell(done / len(wishes), name)
        coarse = [
            slide(made, start, weights, joints, least_mm=1.0, rounds=25)
            for start in _best(made, starts, weights, joints, 3 if name in ("balanced", "least metal") else 1)
        ]
        for start in _best(made, np.array(coarse), weights, joints, 1):
            place = _exactly(made, start, weights, joints, name)
            found.append((made.move(place.placed.pose), place))
    tell(1.0, "places compared")
    fitting = [place for place in found if place[1].fits]
    # one whose windows run over an edge is shown only where there is no other
    whole = [place for place in fitting if not place[1].placed.over_edge]
    places = _short_list(whole or fitting, scene.ground_clearance_mm, most)
    if places:
        progress(1.0, "places compared")
        return Placing(places)
    by_shaft = _blocked_by_shafts([place for _, place in found])
    if by_shaft:
        return Placing((), blocked_by=by_shaft, checks=(_no_place(by_shaft),))
    order = np.argsort(-room, kind="stable")[:1000]
    tried = moves[order][different(list(moves[order]), 0.4 * np.maximum(made.limits, 1e-9), _PUSHED)]
    names = blockers(made, starts, tried, joints, within(progress, 0.95, 1.0))
    return Placing((), blocked_by=names, checks=(_no_place(names),))


def _blocked_by_shafts(found: Sequence[Judged]) -> tuple[str, ...]:
    """What the half-shafts run into at places where all else goes; empty where there is no such place."""
    others = [one.placed for one in found if one.all_but_shafts]
    return tuple(dict.fromkeys(f"{place.shaft_nearest}, for a half-shaft" for place in others))


def _no_place(names: Sequence[str]) -> Check:
    worst = names[0] if names else "the bounds of the search"
    return Check(
        "fitup",
        worst,
        "a place for the unit",
        Source(Origin.DERIVED, "docs/placing.md, what stands in the way"),
        Severity.STOP,
        f"Move or take away {worst}, ask less clearance of it, or widen the bounds of the search.",
        failed_outright=True,
    )


def _wishes(made: Ready, joints: JointsAt | None) -> dict[str, Weights]:
    out = dict(_WISHES)
    if not made.member_fixed:
        del out["least metal"], out["least share of a section"]
    if joints is None:
        del out["straightest half-shafts"]
    if not made.kept:
        del out["most room"]
    return out


def _spread(made: Ready, seed: int, samples: int, progress: Progress) -> tuple[Array, Array]:
    """Moves (n, 6) spread evenly over the bounds, the begin first, and the room (n,) each leaves, ground counted."""
    power = max(int(np.log2(max(samples, 64))), 6)
    unit_cube = qmc.Sobol(6, seed=seed).random_base2(power)
    moves = np.vstack([np.zeros((1, 6)), (2.0 * unit_cube - 1.0) * made.limits])
    room = np.empty(len(moves))
    size = 8192
    for at in range(0, len(moves), size):
        part = slice(at, at + size)
        turns, shifts_mm = made.poses(moves[part])
        height = made.ground_mm(turns, shifts_mm) - made.scene.ground_clearance_mm
        room[part] = np.minimum(made.room_mm(turns, shifts_mm, cap_mm=40.0), height)
        progress(min((at + size) / len(moves), 1.0), "poses screened")
    return moves, room


def _starts(made: Ready, joints: JointsAt | None, moves: Array, room: Array, progress: Progress) -> Array:
    """Moves to slide from: the best that are clear, and those least hit, pushed out as far as they go."""
    clear = np.flatnonzero(room >= 0.0)
    picked: list[Array] = []
    if len(clear):
        some = moves[clear[:: len(clear) // 4000 + 1]]
        for name, weights in _wishes(made, joints).items():
            progress(0.0, name)
            picked.extend(_best(made, some, weights, None if _slow(joints) else joints, 4))
    order = np.argsort(-room, kind="stable")
    hit = moves[order[room[order] < 0.0][:2000]]
    hit = np.vstack([moves[:1], hit])
    apart = different(list(hit), 0.15 * np.maximum(made.limits, 1e-9), _PUSHED if len(clear) < 50 else 8)
    for done, at in enumerate(apart):
        progress(done / len(apart), "poses pushed clear")
        picked.append(push_out(made, hit[at]))
    return np.array(picked)


def _slow(joints: JointsAt | None) -> bool:
    return joints is not None and not isinstance(joints, JointLimits)


def _best(made: Ready, moves: Array, weights: Weights, joints: JointsAt | None, count: int) -> list[Array]:
    value, room, wrong = cost(made, moves, weights, joints)
    value = value + 1e3 * (np.maximum(-room, 0.0) + wrong)
    value -= weights.room_per_mm * np.clip(room, 0.0, weights.room_cap_mm)
    ranked = moves[np.argsort(value, kind="stable")]
    near = np.maximum(0.1 * made.limits, 1e-6)
    return [ranked[at] for at in different(list(ranked[:400]), near, count)]


def _exactly(made: Ready, start: Array, weights: Weights, joints: JointsAt | None, label: str) -> Judged:
    """Slid on by exact distances, and judged; with more to spare where the judgement finds it short."""
    spare = _SPARE_MM
    move = start
    for _ in range(3):
        move = slide(made, move, weights, joints, reach_mm=3.0, least_mm=0.02, exact=True, spare_mm=spare, rounds=30)
        out = judged(made, made.pose(move), joints, label)
        if out.fits or out.room_mm < -5.0:
            break
        spare += max(-out.room_mm, 0.0) + _SPARE_MM
    return out


def _costs(place: Judged, ground_clearance_mm: float) -> list[float]:
    one = place.placed
    return [
        one.removed_mm3,
        max((c.section_lost for c in one.cuts), default=0.0),
        -min(place.room_mm, _ROOM_COUNTS_TO_MM),
        place.angle_deg,
        abs(one.off_centre_mm),
        -min(one.ground_mm - ground_clearance_mm, _GROUND_COUNTS_TO_MM),
        -min(one.service_mm, _SERVICE_COUNTS_TO_MM),
        -min(one.edge_mm, float(default("fitup.window_edge").value)),
    ]


def _short_list(found: Sequence[tuple[Array, Judged]], ground_clearance_mm: float, most: int) -> tuple[Placed, ...]:
    """Unbeaten places, those different from all before, as the wishes are listed."""
    if not found:
        return ()
    keep = unbeaten([_costs(place, ground_clearance_mm) for _, place in found], _WORTH)
    left = [one for one, stays in zip(found, keep, strict=True) if stays]
    at = different([move for move, _ in left], _DIFFERENT, most)
    return tuple(left[i][1].placed for i in at)


def refine(scene: Scene, pose: Pose, joints: JointsAt | None = None) -> Placed:
    """A pose put by hand, slid to where nothing near is better all in all, with its exact numbers.

    Only small steps are tried: a better place beyond a worse one is not seen, and the label says so.

    A pose outside the bounds is bettered within 40 mm and 5 degrees of where it was put. Never worse than the pose
    given; one that hits is first pushed clear. Raises ValueError where the unit has no piece.
    """
    made = ready(scene)
    if np.any(np.abs(made.move(pose)) > made.limits + 1e-6):
        near = Bounds(pose, np.full(3, 40.0), np.full(3, 5.0))
        made = ready(replace(scene, bounds=near))
    weights = _WISHES["balanced"]
    given = made.move(pose)
    before = judged(made, pose, joints, "by hand")
    start = given if before.fits else push_out(made, given)
    start = slide(made, start, weights, joints, reach_mm=8.0, least_mm=1.0, rounds=20)
    after = _exactly(made, start, weights, joints, BETTERED)
    if before.fits and (not after.fits or _worse(made, made.move(after.placed.pose), given, weights, joints)):
        return before.placed
    return after.placed


def _worse(made: Ready, one: Array, other: Array, weights: Weights, joints: JointsAt | None) -> bool:
    value, room, wrong = cost(made, np.vstack([one, other]), weights, joints)
    value = value + 1e3 * wrong - weights.room_per_mm * np.clip(room, 0.0, weights.room_cap_mm)
    return bool(value[0] > value[1])
