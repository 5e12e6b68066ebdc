"""Why there is no place: poses tried with one thing away at a time in, names of what stands in the way out."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from halfshaft.fitup.exact import least_apart_mm
from halfshaft.fitup.model import Array
from halfshaft.fitup.ready import JointsAt, Ready, joint_numbers
from halfshaft.fitup.slide import Weights, push_out, slide
from halfshaft.geometry import Pose
from halfshaft.geometry.nearest import gap, inside
from halfshaft.progress import Progress, silent

GROUND, JOINTS = "the ground", "half-shaft joints"
_MOST_ASKED = 6
_POSES = 12
_TOUCHING_MM = 0.05
_HOPELESS_STEPS = 3.0
_ROOM_ONLY = Weights(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


def against(made: Ready, move: Array, joints: JointsAt | None) -> frozenset[str]:
    """What one pose breaks: names of kept things nearer than they may be, the ground, the half-shaft joints."""
    pose, still = made.pose(move), Pose.identity()
    out = set()
    for thing in made.kept:
        for part in made.parts:
            asked = thing.clearance_mm + part.sway_mm
            if least_apart_mm(part.body, pose, thing.body) >= asked:
                continue
            hit = gap(part.body, pose, thing.body, still).distance_mm < asked - _TOUCHING_MM
            hit = hit or bool(inside(thing.body, pose.apply(part.body.seeds_mm)).any())
            hit = hit or bool(inside(part.body, pose.inverse().apply(thing.body.seeds_mm)).any())
            if hit:
                out.add(thing.name)
    turns, shifts = pose.rotation[None], pose.shift_mm[None]
    if made.ground_mm(turns, shifts)[0] < made.scene.ground_clearance_mm - _TOUCHING_MM:
        out.add(GROUND)
    if not joint_numbers(joints, turns, shifts)[1][0]:
        out.add(JOINTS)
    return frozenset(out)


def blockers(
    made: Ready,
    pushed: Array,
    tried: Array,
    joints: JointsAt | None = None,
    progress: Progress = silent,
) -> tuple[str, ...]:
    """Names of what stands in the way, by how many poses come clear when that one thing alone is taken away.

    `pushed` (n, 6) are moves pushed as clear as they go, `tried` (k, 6) moves from all over the bounds to begin from
    again. Where no one thing alone frees a pose: all that the pose breaks which breaks least.
    """
    broken = [against(made, move, joints) for move in pushed]
    seen = Counter(name for names in broken for name in sorted(names))
    freed: Counter[str] = Counter()
    for done, (name, _) in enumerate(seen.most_common(_MOST_ASKED)):
        progress(done / _MOST_ASKED, f"without {name}")
        if name == GROUND:
            other = Ready(replace(made.scene, ground_clearance_mm=-1e6))
            for known in ("parts", "probe", "members", "metal", "kept", "kept_field"):
                other.__dict__[known] = getattr(made, known)
        else:
            other = made if name == JOINTS else made.without(name)
        freed[name] = sum(_comes_clear(other, move, None if name == JOINTS else joints) for move in tried[:_POSES])
    alone = [name for name, count in freed.most_common() if count > 0]
    if alone:
        return tuple(alone)
    fewest = min(broken, key=lambda names: (len(names), sorted(names)), default=frozenset[str]())
    return tuple(sorted(fewest, key=lambda name: (-seen[name], name)))


def _comes_clear(made: Ready, move: Array, joints: JointsAt | None) -> bool:
    out = push_out(made, move)
    turns, shifts = made.poses(out[None])
    if made.kept and made.room_mm(turns, shifts)[0] < -_HOPELESS_STEPS * made.kept_field.step_mm:
        return False
    if against(made, out, joints):
        out = slide(made, out, _ROOM_ONLY, joints, reach_mm=3.0, least_mm=0.05, exact=True, spare_mm=0.01, rounds=15)
    return not against(made, out, joints)
