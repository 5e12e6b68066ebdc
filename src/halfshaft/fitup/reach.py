"""A way among obstacles: two trees of poses in, grown towards each other; where they meet, or what was hit, out.

Source of the two trees: Kuffner and LaValle, RRT-Connect, ICRA (2000), p. 995. Of the bridge test for narrow passages:
Hsu, Jiang, Reif and Sun, ICRA (2003), p. 4420.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from halfshaft.fitup.collide import Around, advance
from halfshaft.fitup.moves import Leg, apart, leg
from halfshaft.geometry import Pose
from halfshaft.geometry.pose import turn

Array = NDArray[np.float64]

NO_TURN = 3
LEVER = 0.5  # of the radius: what a radian weighs against a mm
_STEP = 0.4  # of the radius: how far a tree grows at once
_SLIDES = 4
_PUSH = 0.1  # of a step: how far off a contact a pose is moved
_LEAST_GAIN = 0.03  # of a step: less is not worth a branch
_MOST_LINKS = 40
_KEPT_HITS = 400


@dataclass(eq=False)
class Tree:
    """Poses that are reached from the roots by straight moves; `parents` -1 at a root."""

    poses: list[Pose] = field(default_factory=list)
    parents: list[int] = field(default_factory=list)
    _middles: Array = field(default_factory=lambda: np.empty((64, 3)))
    _rotations: Array = field(default_factory=lambda: np.empty((64, 3, 3)))

    def add(self, pose: Pose, parent: int = -1) -> int:
        number = len(self.poses)
        if number == len(self._middles):
            self._middles = np.concatenate([self._middles, np.empty_like(self._middles)])
            self._rotations = np.concatenate([self._rotations, np.empty_like(self._rotations)])
        self._middles[number], self._rotations[number] = pose.shift_mm, pose.rotation
        self.poses.append(pose)
        self.parents.append(parent)
        return number

    def apart(self, pose: Pose, lever_mm: float) -> Array:
        """Distances of all poses from one."""
        n = len(self.poses)
        return apart(self._middles[:n], self._rotations[:n], pose, lever_mm)

    def back(self, number: int) -> list[int]:
        """Numbers from one pose back to its root."""
        out = [number]
        while self.parents[out[-1]] >= 0:
            out.append(self.parents[out[-1]])
        return out

    def spread(self, most: int, lever_mm: float) -> list[int]:
        """Numbers of poses far from one another, the first root first."""
        away = self.apart(self.poses[0], lever_mm)
        out = [0]
        while len(out) < min(most, len(self.poses)):
            number = int(np.argmax(away))
            if away[number] <= 1e-6:
                break
            out.append(number)
            away = np.minimum(away, self.apart(self.poses[number], lever_mm))
        return out


@dataclass(frozen=True, eq=False)
class Region:
    """Where poses are drawn: mostly between home and outside, turned mostly a little against home."""

    home: Pose
    outside: Pose
    low_mm: Array
    high_mm: Array
    reach_mm: float

    def draw(self, rng: np.random.Generator, axis: int | None = None) -> Pose:
        """A pose; where an axis (0, 1, 2) is named, turned against home about that axis alone, for 3 not at all."""
        kind = rng.random()
        if kind < 0.35:
            share = rng.random()
            middle = (1.0 - share) * self.home.shift_mm + share * self.outside.shift_mm
            middle = middle + rng.normal(0.0, 0.3 * self.reach_mm, 3)
        elif kind < 0.65:
            middle = self.home.shift_mm + rng.normal(0.0, 0.5 * self.reach_mm, 3)
        else:
            middle = rng.uniform(self.low_mm, self.high_mm)
        most = np.pi if rng.random() < 0.5 else np.radians(50.0)
        about = rng.normal(size=3)
        if axis is not None or rng.random() < 0.6:
            about = np.eye(3)[rng.integers(3) if axis in (None, NO_TURN) else axis]
        angle = most * rng.uniform(-1.0, 1.0)
        if rng.random() < 0.5:
            angle = np.radians(45.0) * rng.integers(-3, 5)
        if axis == NO_TURN:
            return Pose(self.home.rotation, middle)
        return Pose(turn(angle * about / np.linalg.norm(about)) @ self.home.rotation, middle)


@dataclass(frozen=True, eq=False)
class Meeting:
    """Where a search ended well: number in the home tree and in the outer tree, -1 where home came out by itself."""

    home: int
    outer: int
    rounds: int


@dataclass(eq=False)
class Growth:
    """What a tree needs to grow in: obstacles, the room asked for, and the poses where it was stopped.

    Where `axis` (0, 1, 2) is named, bodies shift freely but turn about that root axis alone; for 3 not at all.
    """

    about: Around
    room_mm: float
    axis: int | None = None
    hits: list[Pose] = field(default_factory=list)

    @property
    def lever_mm(self) -> float:
        return LEVER * self.about.radius_mm

    @property
    def step_mm(self) -> float:
        return _STEP * self.about.radius_mm

    @property
    def turns(self) -> Array:
        """One for each root axis (3,) that may be turned about, nought for the others."""
        return np.ones(3) if self.axis is None else np.eye(4, 3)[self.axis]

    def _length(self, move: Leg) -> float:
        turned = self.lever_mm * float(np.linalg.norm(move.turn_rad))
        return float(np.hypot(np.linalg.norm(move.shift_mm), turned))

    def grow(self, tree: Tree, start: int, target: Pose) -> tuple[int, bool]:
        """One step from a pose of the tree towards another: the last number added, or `start`; whether it got there.

        Where it is stopped, the rest of the step slides along what stopped it: the part that goes into the contact is
        taken off it; first it moves a little out of the contact.
        """
        at, left = start, self.step_mm
        against = np.zeros(6)
        for slide in range(_SLIDES):
            pose = tree.poses[at]
            whole = leg(pose, target)
            length = self._length(whole)
            if length < 1e-9:
                return at, True
            move = whole.part(0.0, min(left / length, 1.0))
            if slide:
                way = np.concatenate([move.shift_mm, move.turn_rad * self.lever_mm])
                way = way - min(float(way @ against), 0.0) * against
                move = Leg(pose, way[:3], way[3:] / self.lever_mm)
            share = advance(move, self.about, self.room_mm)
            gained = share * self._length(move)
            if gained > _LEAST_GAIN * self.step_mm or (not slide and share >= 1.0):
                at = tree.add(move.at(share), at)
                left -= gained
            elif slide:
                break
            if share >= 1.0:
                return at, not slide and length <= self.step_mm
            if len(self.hits) < _KEPT_HITS:
                self.hits.append(move.at(share))
            if left <= _LEAST_GAIN * self.step_mm:
                break
            against = self._steepest(tree.poses[at])
            at = self._pushed(tree, at, against)
        return at, False

    def _pushed(self, tree: Tree, at: int, way: Array) -> int:
        """A pose a little off what is nearest, out of the contact, as far as that makes more clear."""
        pose = tree.poses[at]
        push = way * _PUSH * self.step_mm
        move = Leg(pose, push[:3], push[3:] / self.lever_mm)
        share = advance(move, self.about, self.room_mm)
        if share > 0.2 and self.about.clear_mm(move.at(share)) > self.about.clear_mm(pose):
            return tree.add(move.at(share), at)
        return at

    def _steepest(self, pose: Pose) -> Array:
        """Direction (6,) of shift and weighed turn in which the clearance grows fastest."""
        gap = self.about.gap(pose)
        away = gap.spot_mm - gap.other_spot_mm
        length = float(np.linalg.norm(away))
        if length < 1e-9:
            return np.zeros(6)
        away = away / length
        lever = self.turns * np.cross(gap.spot_mm - pose.shift_mm, away) / self.lever_mm
        way = np.concatenate([away, lever])
        return np.asarray(way / np.linalg.norm(way))

    def link(self, tree: Tree, target: Pose) -> tuple[int, bool]:
        """Grows the tree towards a pose for as long as it comes nearer: the last number, and whether it got there."""
        at = int(np.argmin(tree.apart(target, self.lever_mm)))
        for _ in range(_MOST_LINKS):
            before = self._length(leg(tree.poses[at], target))
            last, there = self.grow(tree, at, target)
            if there:
                return last, True
            if last == at or self._length(leg(tree.poses[last], target)) > before - 0.1 * self.step_mm:
                return last, False
            at = last
        return at, False

    def across(self, growing: Tree, other: Tree, rng: np.random.Generator) -> Pose:
        """A pose about one of the other tree's, of a few drawn the nearest to the growing tree."""
        drawn = rng.integers(0, len(other.poses), 6)
        near = [float(growing.apart(other.poses[n], self.lever_mm).min()) for n in drawn]
        pose = other.poses[drawn[int(np.argmin(near))]]
        turned = turn(self.turns * rng.normal(0.0, 0.15, 3)) @ pose.rotation
        return Pose(turned, pose.shift_mm + rng.normal(0.0, 0.1 * self.about.radius_mm, 3))

    def bridge(self, region: Region, rng: np.random.Generator) -> Pose:
        """A free pose between two that are not, if a few draws give one; else any pose."""
        for _ in range(3):
            one = region.draw(rng, self.axis)
            if self.about.clear_mm(one) >= self.room_mm:
                continue
            turned = turn(self.turns * rng.normal(0.0, 0.5, 3)) @ one.rotation
            other = Pose(turned, one.shift_mm + rng.normal(0.0, 0.3 * self.about.radius_mm, 3))
            if self.about.clear_mm(other) >= self.room_mm:
                continue
            middle = leg(one, other).at(0.5)
            if self.about.clear_mm(middle) >= self.room_mm:
                return middle
        return region.draw(rng, self.axis)


def search(
    growth: Growth,
    home: Tree,
    outer: Tree,
    region: Region,
    outside: Callable[[Pose], bool],
    rng: np.random.Generator,
    rounds: int,
    tell: Callable[[float], None],
) -> Meeting | None:
    """Grows both trees towards drawn poses and towards each other until they meet, home is outside or rounds end."""
    checked = 0

    def out(upto: int) -> int:
        nonlocal checked
        for number in range(checked, upto):
            checked = number + 1
            if outside(home.poses[number]):
                return number
        return -1

    for root in list(range(len(outer.poses)))[:6]:
        last, there = growth.link(home, outer.poses[root])
        if there:
            return Meeting(last, root, 0)
        if (number := out(len(home.poses))) >= 0:
            return Meeting(number, -1, 0)
    for number in range(rounds):
        tell(number / rounds)
        growing, other = (home, outer) if number % 2 else (outer, home)
        kind = rng.random()
        if kind < 0.15:
            target = growth.bridge(region, rng)
        elif kind < 0.3:
            target = growth.across(growing, other, rng)
        else:
            target = region.draw(rng, growth.axis)
        start = int(np.argmin(growing.apart(target, growth.lever_mm)))
        last, _ = growth.link(growing, target)
        if (free := out(len(home.poses))) >= 0:
            return Meeting(free, -1, number + 1)
        if last == start:
            continue
        met, there = growth.link(other, growing.poses[last])
        if there:
            return Meeting(last, met, number + 1) if growing is home else Meeting(met, last, number + 1)
    return None
