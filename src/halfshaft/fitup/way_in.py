"""The way in: a scene and the unit's place in; moves from outside to it, in words and poses, or what blocks them, out.

The search goes backward: from the place, pieces that come off may be taken off where they can be, until the unit is
outside. It stops after a stated number of rounds: what is not found then may still exist, and is told so.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.units import MM_PER_INCH
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.fitup.collide import MUCH_WORK, Around, Clearance, around, goes, least_along
from halfshaft.fitup.comes_off import Retreat, comes_off, free_ways
from halfshaft.fitup.field import Field
from halfshaft.fitup.model import Fixed, Scene, Step, WayIn, middle_of
from halfshaft.fitup.moves import Leg, leg, rotation_vector
from halfshaft.fitup.reach import NO_TURN, Growth, Region, Tree, search
from halfshaft.fitup.roughly import field_about, roughly
from halfshaft.fitup.smooth import Rounding, rounded, smooth
from halfshaft.fitup.way_words import bolt_on_words, move_words, side_of, thing
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import MeshSolid, moved, overlap, union
from halfshaft.progress import Progress, silent, within

Array = NDArray[np.float64]
Dress = tuple[str, ...]  # pieces taken off, sorted

ROOM_MM = 2.0  # asked for on the way; less where the place itself has less
ROUNDS = 800
_TOUCH_MM = 0.02
_NONE = 1e-7
_ON_TRIES = 14  # poses of a tree where taking a piece off is tried
_MOST_DRESSES = 8
_MOST_BLOCKERS = 12
_PLAY_MM = 12.0  # no spot moves farther between two poses that are played
_MOST_PLAYED = 60
_SPARE_MM = 10.0  # outside is so far under the lowest thing, at least
_PRACTICE = Source(Origin.COMMON_PRACTICE, "no source")
_ROUNDINGS = {"metric": Rounding(1.0, 1.0), "inch": Rounding(MM_PER_INCH / 16.0, 1.0)}


@dataclass(frozen=True, eq=False)
class _Root:
    """How a tree's root hangs on the tree of a unit with one piece more on."""

    dress: Dress
    number: int
    piece: str
    retreat: Retreat


@dataclass(frozen=True, eq=False)
class _Stretch:
    """A part of the way with the same pieces on, and the pieces bolted on at its end, each with its way off."""

    off: Dress
    poses: tuple[Pose, ...]
    then_on: tuple[tuple[str, Retreat], ...]


@dataclass(eq=False)
class _Task:
    """The unit about its middle, dressed in all ways, and all that stands still."""

    solids: dict[str, MeshSolid]
    removable: tuple[str, ...]
    fixed: tuple[Fixed, ...]
    screen: Clearance | None
    home: Pose

    def __post_init__(self) -> None:
        self._dressed: dict[tuple[Dress, str], Around] = {}
        boxes = [thing.solid.bounds_mm for thing in self.fixed]
        self._field: Field | None = None
        self.low = np.min([box[0] for box in boxes], axis=0) if boxes else self.home.shift_mm
        self.high = np.max([box[1] for box in boxes], axis=0) if boxes else self.home.shift_mm
        # on a lift the tyres hang lower than the car: those to the unit's sides need not be cleared from below
        reach, spot = self._reach(), self.home.shift_mm[:2]
        near = [np.all(low[:2] < spot + reach) and np.all(high[:2] > spot - reach) for low, high in boxes]
        over = [low[2] for thing, (low, _), by in zip(self.fixed, boxes, near, strict=True) if by or not thing.swept]
        if over:
            self.low = np.append(self.low[:2], min(over))

    def dressed(self, off: Dress, left_out: tuple[str, ...] = ()) -> Around:
        """The unit with pieces off, against all that stands still but what is left out."""
        key = (off, "|".join(left_out))
        if key not in self._dressed:
            on = [solid for name, solid in self.solids.items() if name not in off]
            still = [thing.solid for thing in self.fixed if thing.name not in left_out]
            found = around(on, still, self.screen)
            if self.screen is None and found.fixed is not None:
                work = len(found.body.triangles) * len(found.fixed.triangles)
                # what is left out is more room: the whole scene's word is still no more than is clear
                own = self._dressed[off, ""].screen if left_out and (off, "") in self._dressed else None
                if own is None and work > MUCH_WORK and len(on) > 1:
                    own = roughly(found.body.solid, self._grid())
                found = replace(found, screen=own)
            self._dressed[key] = found
        return self._dressed[key]

    def _grid(self) -> Field:
        if self._field is None:
            reach = self._reach()
            low, high = self.home.shift_mm - 1.5 * reach, self.home.shift_mm + 1.5 * reach
            low[2] = max(low[2] - reach, float(self.low[2]) - 2.0 * reach)
            self._field = field_about([thing.solid for thing in self.fixed], low, high)
        return self._field

    def _reach(self) -> float:
        """The farthest of all spots of the unit from its middle."""
        return max(float(np.linalg.norm(s.triangles[0], axis=1).max()) for s in self.solids.values())

    def alone(self, name: str) -> Around:
        return self.dressed(tuple(sorted(other for other in self.solids if other != name)))

    @property
    def radius_mm(self) -> float:
        return self.dressed(()).radius_mm

    @property
    def depth_mm(self) -> float:
        """Height of the middle at which the unit is under everything however it is turned."""
        return float(self.low[2]) - self.radius_mm - 2.0 * _SPARE_MM

    def outside(self, pose: Pose, off: Dress) -> bool:
        """Under the lowest thing, or beside or over the box of all things by the unit's own size."""
        corners = pose.apply(self.dressed(off).body.corners_mm)
        low, high = corners.min(axis=0), corners.max(axis=0)
        if high[2] < self.low[2] - _SPARE_MM:
            return True
        size = high - low
        return bool(np.any(low > self.high + size) or np.any(high < self.low - size))

    def below(self) -> Tree:
        """Poses outside to begin from: straight under the place, and a little off to each side."""
        tree = Tree()
        x, y, _ = self.home.shift_mm
        for dx, dy in ((0, 0), (1, 0), (-1, 0), (0, 1), (0, -1)):
            spot = np.array([x + dx * self.radius_mm, y + dy * self.radius_mm, self.depth_mm])
            tree.add(Pose(self.home.rotation, spot))
        return tree

    def beside(self) -> Tree:
        """Poses outside over, before, behind and beside everything."""
        tree = Tree()
        for axis, side in ((2, 1), (1, 1), (1, -1), (0, 1), (0, -1)):
            spot = np.array(self.home.shift_mm)
            far = 3.1 * self.radius_mm
            spot[axis] = self.high[axis] + far if side > 0 else self.low[axis] - far
            tree.add(Pose(self.home.rotation, spot))
        return tree

    def region(self) -> Region:
        r, at = self.radius_mm, self.home.shift_mm
        low = np.maximum(np.minimum(self.low, at), at - 4.0 * r)
        high = np.minimum(np.maximum(self.high, at), at + 4.0 * r)
        low[2] = min(self.depth_mm, at[2])
        under = Pose(self.home.rotation, np.array([at[0], at[1], self.depth_mm]))
        return Region(self.home, under, low, high, r)


def way_in(
    scene: Scene,
    place: Pose,
    seed: int = 0,
    progress: Progress = silent,
    *,
    room_mm: float = ROOM_MM,
    rounds: int = ROUNDS,
    units: str = "metric",
    screen: Clearance | None = None,
) -> WayIn:
    """Moves that bring the unit from outside to `place` (unit to root), pieces that come off bolted on inside.

    What stands still is the scene's `fixed` as it will be, windows cut. `room_mm` is asked for on the way, four fifths
    of the clearance at the place where that is less. `rounds` bounds the search for each set of pieces taken off. A
    `screen`, given, is asked first and trusted where it says that much is clear; it speaks of the unit about its middle
    with every piece on. The same seed gives the same way. Steps tell shift and turn of the unit's middle
    (`model.middle_of`) in root axes.

    Raises ValueError where the unit has no metal, and what `progress` raises to stop.
    """
    middle = middle_of(scene.unit.pieces)
    apart = Pose(np.eye(3), -middle)
    solids = {piece.name: moved(piece.solid, apart) for piece in scene.unit.pieces if not piece.solid.empty}
    removable = tuple(sorted(piece.name for piece in scene.unit.pieces if piece.comes_off and piece.name in solids))
    if len(removable) == len(solids):
        removable = removable[1:]  # something must be left to bolt them to
    fixed = tuple(thing for thing in scene.fixed if not thing.solid.empty)
    home = Pose(place.rotation, place.apply(middle))
    task = _Task(solids, removable, fixed, screen, home)

    whole = task.dressed(())
    clear = float(whole.least_mm([home])[0])
    if clear < _TOUCH_MM or whole.overlap_mm3(home) > 0.0:
        hit = _hit_at_home(task)
        return WayIn((), 0.0, hit, (_no_way(hit, "the place itself is not clear", 0),))
    room = min(room_mm, 0.8 * clear)

    rng = np.random.default_rng(seed)
    found, trees, roots, hits, spent = _search(task, room, rounds, rng, within(progress, 0.0, 0.6))
    if found is None:
        blocked = _blockers(task, trees, hits, room, rounds, rng, within(progress, 0.6, 1.0))
        return WayIn((), 0.0, blocked, (_no_way(blocked, "no way found", spent),))
    off, number, outer_poses = found
    stretches = _stretches(off, number, outer_poses, trees, roots)
    smoothed, least = _smoothed(task, stretches, room, rng, units, within(progress, 0.6, 1.0))
    steps = _steps(smoothed, tuple(solids), whole.radius_mm, apart, units)
    return WayIn(steps, least, (), _cautions(task, smoothed, least))


_Found = tuple[Dress, int, tuple[Pose, ...]]


def _search(
    task: _Task, room: float, rounds: int, rng: np.random.Generator, progress: Progress
) -> tuple[_Found | None, dict[Dress, Tree], dict[Dress, dict[int, _Root]], list[Pose], int]:
    """Trees for ever more pieces off, each to get out from below first, then to any side."""
    dresses = [d for n in range(len(task.removable) + 1) for d in combinations(task.removable, n)][:_MOST_DRESSES]
    trees: dict[Dress, Tree] = {}
    roots: dict[Dress, dict[int, _Root]] = {}
    hits: list[Pose] = []
    region = task.region()
    ways: dict[tuple[Dress, str], list[Retreat]] = {}
    spent = 0
    # what is looked for shortly with every set of pieces comes before long looks with few of them off
    passes = _efforts(task, len(dresses))
    every = [(off, number, effort) for efforts in passes for off in dresses for number, effort in enumerate(efforts)]
    for count, (off, effort_number, (outer_of, axis, share)) in enumerate(every):
        if effort_number == 0:
            trees.setdefault(off, Tree())
            _root(task, off, trees, roots.setdefault(off, {}), ways, room)
        words = "way in" if not off else f"way in, without {', '.join(thing(name) for name in off)}"
        tell = within(progress, count / len(every), (count + 1) / len(every), words)

        def outside(pose: Pose, off: Dress = off) -> bool:
            return task.outside(pose, off)

        def share_done(part: float, tell: Progress = tell) -> None:
            tell(part, "searching")

        home, numbers = _family(trees[off], task.home, axis)
        if not home.poses:
            continue
        growth = Growth(task.dressed(off), room, axis)
        outer, most = outer_of(), max(int(rounds * share), 1)
        met = search(growth, home, outer, region, outside, rng, most, share_done)
        hits += growth.hits
        for at in range(len(numbers), len(home.poses)):
            numbers.append(trees[off].add(home.poses[at], numbers[home.parents[at]]))
        if met is not None:
            poses = tuple(outer.poses[n] for n in reversed(outer.back(met.outer))) if met.outer >= 0 else ()
            return (off, numbers[met.home], poses), trees, roots, hits, spent + met.rounds
        spent += most
    return None, trees, roots, hits, spent


_Effort = tuple[Callable[[], Tree], int | None, float]


def _efforts(task: _Task, dresses: int) -> list[list[_Effort]]:
    """Searches in the order they are tried, a list a pass: where from, about which axis, what share of the rounds.

    No turns, then turns about one axis, come first: far fewer poses, and moves that a person can do; begun anew now and
    then, since a tree that went wrong early seldom mends.
    """
    below, side = task.below, task.beside
    short: list[_Effort] = [(below, NO_TURN, 0.1), (below, 0, 0.15), (below, 1, 0.15)]
    long: list[_Effort] = [(below, NO_TURN, 0.2)]
    long += [(below, axis, 0.35) for axis in (0, 1, 0, 1)] + [(below, 2, 0.2), (below, None, 0.6)]
    long += [(below, 0, 0.5), (below, 1, 0.5), (side, None, 0.3)]
    return [short, long] if dresses > 1 else [long]


def _family(tree: Tree, home: Pose, axis: int | None) -> tuple[Tree, list[int]]:
    """A tree of those roots that stand turned against `home` about one axis alone, and their numbers; all for None."""
    out, numbers = Tree(), []
    for number, pose in enumerate(tree.poses):
        if axis is None:
            out.add(pose, tree.parents[number])
            numbers.append(number)
            continue
        turned = rotation_vector(pose.rotation @ home.rotation.T)
        across = turned if axis == NO_TURN else np.delete(turned, axis)
        if tree.parents[number] < 0 and float(np.abs(across).max()) < _NONE:
            out.add(pose)
            numbers.append(number)
    return out, numbers


def _root(
    task: _Task,
    off: Dress,
    trees: dict[Dress, Tree],
    roots: dict[int, _Root],
    ways: dict[tuple[Dress, str], list[Retreat]],
    room: float,
) -> None:
    """Adds to the tree of `off`, as roots, poses at which the last of its pieces can be taken off."""
    tree = trees[off]
    if not off:
        if not tree.poses:
            tree.add(task.home)
        return
    known = {(root.dress, root.number) for root in roots.values()}
    for name in off:
        before = tuple(other for other in off if other != name)
        parent = trees.get(before)
        if parent is None or not parent.poses:
            continue
        if (before, name) not in ways:
            rest = union([s for other, s in task.solids.items() if other != name and other not in before])
            ways[before, name] = free_ways(task.solids[name], rest)
        for number in parent.spread(_ON_TRIES, 0.5 * task.radius_mm):
            if (before, number) in known:
                continue
            retreat = comes_off(task.alone(name), parent.poses[number], ways[before, name], room)
            if retreat is not None:
                roots[tree.add(parent.poses[number])] = _Root(before, number, name, retreat)


def _stretches(
    off: Dress,
    number: int,
    outer: tuple[Pose, ...],
    trees: dict[Dress, Tree],
    roots: dict[Dress, dict[int, _Root]],
) -> list[_Stretch]:
    """From outside to the place, split where pieces are bolted on."""
    out: list[_Stretch] = []
    poses = list(outer)
    while True:
        tree = trees[off]
        back = tree.back(number)
        poses += [tree.poses[n] for n in back]
        root = roots[off].get(back[-1])
        if root is None:
            out.append(_Stretch(off, tuple(poses), ()))
            return out
        out.append(_Stretch(off, tuple(poses), ((root.piece, root.retreat),)))
        off, number, poses = root.dress, root.number, []


@dataclass(frozen=True, eq=False)
class _Moves:
    off: Dress
    start: Pose
    moves: tuple[Leg, ...]
    then_on: tuple[tuple[str, Retreat], ...]

    @property
    def end(self) -> Pose:
        return self.moves[-1].end if self.moves else self.start


def _smoothed(
    task: _Task,
    stretches: Sequence[_Stretch],
    room: float,
    rng: np.random.Generator,
    units: str,
    progress: Progress,
) -> tuple[list[_Moves], float]:
    """Simple moves in round numbers, worked back from the place, so that pieces are bolted on at round numbers too."""
    out: list[_Moves] = []
    least = np.inf
    to = _ROUNDINGS["metric" if units == "metric" else "inch"]
    moved_end: Pose | None = None
    for done, (count, stretch) in enumerate(reversed(list(enumerate(stretches)))):
        tell = within(progress, done / len(stretches), (done + 1) / len(stretches))
        about = task.dressed(stretch.off)
        poses = [*stretch.poses, moved_end] if moved_end is not None else list(stretch.poses)
        under = count == 0 and task.outside(poses[0], stretch.off) and _is_below(task, poses[0], about)
        if under:
            # begin as it will sit, so that the words alone lead from there to the place
            x, y, _ = poses[0].shift_mm
            deep = np.array([x, y, min(task.depth_mm, poses[0].shift_mm[2])])
            poses = [Pose(task.home.rotation, deep), Pose(poses[0].rotation, deep), *poses]
        moves = smooth(poses, about, room, rng, tell=lambda share, tell=tell: tell(0.8 * share, "made simple"))  # type: ignore[misc]
        tidy = rounded(moves, about, room, to, free_start=True)
        moved_end = None
        if count and tidy and tidy[0].start is not moves[0].start:
            moved_end = tidy[0].start if _bolts_on_at(task, stretches[count - 1], tidy[0].start, room) else None
        moves = tidy if not count or moved_end is not None else rounded(moves, about, room, to, free_start=False)
        if under and moves:
            moves = _lifted_first(moves, np.ceil(task.radius_mm / to.length_mm) * to.length_mm)
        for number, move in enumerate(moves):
            tell(0.8 + 0.2 * number / len(moves), "clearance along the way")
            least = min(least, least_along(move, about)[0])
        start = moves[0].start if moves else poses[-1]
        out.append(_Moves(stretch.off, start, tuple(moves), stretch.then_on))
    return out[::-1], float(least)


def _bolts_on_at(task: _Task, before: _Stretch, pose: Pose, room: float) -> bool:
    """Whether the stretch before may end at another pose: it gets there, and its pieces still come to their place."""
    gets_there = goes(leg(before.poses[-1], pose), task.dressed(before.off), room)
    return gets_there and all(
        comes_off(task.alone(name), pose, [retreat], room) is not None for name, retreat in before.then_on
    )


def _lifted_first(moves: Sequence[Leg], by_mm: float) -> list[Leg]:
    """The same moves, begun straight up from so much lower: the car comes down on the unit before anything else."""
    first, rise = moves[0], by_mm
    top, rest = first.start, list(moves)
    if np.abs(first.turn_rad).max() < _NONE and np.abs(first.shift_mm[:2]).max() < _NONE and first.shift_mm[2] > 0.0:
        top, rest, rise = first.end, rest[1:], by_mm + float(first.shift_mm[2])
    up = np.array([0.0, 0.0, rise])
    return [Leg(Pose(top.rotation, top.shift_mm - up), up, np.zeros(3)), *rest]


def _is_below(task: _Task, pose: Pose, about: Around) -> bool:
    return bool(pose.apply(about.body.corners_mm)[:, 2].max() < task.low[2])


def _steps(
    parts: Sequence[_Moves], names: tuple[str, ...], radius_mm: float, apart: Pose, units: str
) -> tuple[Step, ...]:
    steps: list[Step] = []

    def on(off: Dress) -> tuple[str, ...]:
        return tuple(name for name in names if name not in off)

    first = parts[0]
    words = "ready outside, turned as it will sit"
    if first.off:
        words += ", " + " and ".join(f"the {thing(name)}" for name in first.off) + " off"
    steps.append(Step((first.start.after(apart),), on(first.off), words))
    for part in parts:
        for move in part.moves:
            count = int(np.clip(np.ceil(move.travel_mm(radius_mm) / _PLAY_MM), 1, _MOST_PLAYED))
            poses = tuple(move.at(share).after(apart) for share in np.linspace(0.0, 1.0, count + 1))
            steps.append(Step(poses, on(part.off), move_words(move.shift_mm, np.degrees(move.turn_rad), units)))
        if part.then_on:
            off = tuple(name for name in part.off if name not in {piece for piece, _ in part.then_on})
            ways = [-(part.end.rotation @ retreat.way) for _, retreat in part.then_on]
            told = bolt_on_words([piece for piece, _ in part.then_on], ways)
            steps.append(Step((part.end.after(apart),), on(off), told))
    return tuple(steps)


def _hit_at_home(task: _Task) -> tuple[str, ...]:
    """What the unit meets at its place, the most metal first, then what it only touches."""
    body = task.dressed(()).body.solid
    found = []
    for still in task.fixed:
        there = moved(body, task.home)
        shared = overlap(there, still.solid).volume_mm3
        about = around([body], [still.solid])
        if shared > 0.0 or about.gap(task.home).distance_mm < _TOUCH_MM:
            found.append((-shared, still.name))
    return tuple(name for _, name in sorted(found))


def _blockers(
    task: _Task,
    trees: dict[Dress, Tree],
    hits: Sequence[Pose],
    room: float,
    rounds: int,
    rng: np.random.Generator,
    progress: Progress,
) -> tuple[str, ...]:
    """What stands in the way: things that each, left out alone, let the search through, the easiest first.

    Where no single one does, those that do together, in the order in which they were hit most.
    """
    off = max((d for d, tree in trees.items() if tree.poses), key=len)
    tree = trees[off]
    counts = _hit_counts(task, off, hits)
    order = sorted(counts, key=lambda name: -counts[name])[:_MOST_BLOCKERS]
    region, most = task.region(), max(rounds // 6, 40)

    def through(left_out: tuple[str, ...]) -> int | None:
        growth = Growth(task.dressed(off, left_out), room)
        home = Tree()
        for number in tree.spread(60, growth.lever_mm):
            home.add(tree.poses[number])
        outer = task.below()
        met = search(growth, home, outer, region, lambda pose: task.outside(pose, off), rng, most, lambda share: None)
        return None if met is None else met.rounds

    single = []
    for number, name in enumerate(order):
        progress(number / (len(order) + 4), f"what if {thing(name)} were not there")
        needed = through((name,))
        if needed is not None:
            single.append((needed, number, name))
    if single:
        return tuple(name for _, _, name in sorted(single))
    for upto in range(2, min(len(order), 5) + 1):
        progress((len(order) + upto - 2) / (len(order) + 4), "what if several were not there")
        if through(tuple(order[:upto])) is not None:
            return tuple(order[:upto])
    return tuple(order[:3])


def _hit_counts(task: _Task, off: Dress, hits: Sequence[Pose]) -> dict[str, int]:
    """How often each thing was the nearest where the search was stopped."""
    counts = {still.name: 0 for still in task.fixed}
    each = [
        (still.name, task.dressed(off, tuple(o.name for o in task.fixed if o is not still))) for still in task.fixed
    ]
    for pose in hits[:: max(len(hits) // 60, 1)]:
        gaps = [(about.gap(pose).distance_mm, name) for name, about in each]
        if gaps:
            counts[min(gaps)[1]] += 1
    return counts


def _no_way(blocked: tuple[str, ...], what: str, rounds: int) -> Check:
    names = ", ".join(thing(name) for name in blocked) or "nothing by itself"
    effort = f" in {rounds} rounds of the search; one may still exist" if rounds else ""
    return Check(
        "fitup",
        "way in",
        f"{what}{effort}. In the way: {names}",
        Source(Origin.DERIVED, "search in six degrees of freedom, docs/fitup.md"),
        Severity.STOP,
        f"Move the place, cut {names}, or make a piece of the unit to come off.",
        failed_outright=True,
    )


def _cautions(task: _Task, parts: Sequence[_Moves], least_mm: float) -> tuple[Check, ...]:
    def told(title: str, do: str, severity: Severity = Severity.CAUTION, found: float | None = None) -> Check:
        unit = "mm" if found is not None else ""
        return Check("fitup", "way in", title, _PRACTICE, severity, do, found=found, unit=unit, good=Good.TOLD)

    out = [
        told(
            "A load on a jack or under a lifted car",
            "Hold the unit by a strap on its jack or table, the car on a rated lift with its locks in. Nobody under "
            "either while it moves. Follow the maker of the lift and local rules; where unsure leave it to the trade.",
        ),
        told(
            "Fingers between the unit and the car",
            "Move by lift and jack, hands outside the gap, one person giving the word; stop before anything touches.",
            found=least_mm,
        ),
    ]
    pieces = [piece for part in parts for piece, _ in part.then_on]
    if pieces:
        out.append(
            told(
                f"Held only in part until bolted on: {', '.join(thing(piece) for piece in pieces)}",
                "Keep the jack under the unit until every piece is bolted on and every mount holds. How the piece gets "
                "to its spot by hand is searched only for a straight stretch of its own size: try it first.",
            )
        )
    first = parts[0]
    if not _is_below(task, first.start, task.dressed(first.off)):
        side = side_of(first.start.shift_mm - task.home.shift_mm)
        out.append(
            told(
                f"The way does not come from below{' but from ' + side if side else ''}",
                "See that nothing which the scene leaves out is in the way there: bonnet, floor, body.",
            )
        )
    return tuple(out)
