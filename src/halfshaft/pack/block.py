"""A module as a thing to place: which faces may look up, where its terminals come to lie. A block in, its turns out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import permutations, product

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# faces of a module and sides of a bay, in the axes of each: forward, left, up
WAYS: Mapping[str, Array] = {
    "front": np.array([1.0, 0.0, 0.0]), "rear": np.array([-1.0, 0.0, 0.0]), "left": np.array([0.0, 1.0, 0.0]),
    "right": np.array([0.0, -1.0, 0.0]), "top": np.array([0.0, 0.0, 1.0]), "bottom": np.array([0.0, 0.0, -1.0]),
}  # fmt: skip


@dataclass(frozen=True, eq=False, slots=True)
class Block:
    """Length, width, height (3,); terminals (3,) from the rear right lower corner; faces as keys of WAYS."""

    size_mm: Array
    mass_kg: float
    minus_mm: Array
    plus_mm: Array
    terminal_face: str
    room_mm: float  # kept free before that face
    may_look_up: tuple[str, ...]
    cools: str = ""  # face that a cooling plate wants to touch


@dataclass(frozen=True, eq=False, slots=True)
class Turn:
    """A block turned: `room_mm` (3,) is its box with the terminals' room, `inner_mm` where the block begins in it.

    `rotation` takes the block's axes to the bay's; terminals are told from the corner of the room.
    """

    rotation: Array
    room_mm: Array
    inner_mm: Array
    size_mm: Array
    minus_mm: Array
    plus_mm: Array
    up: str  # face that looks up
    terminals: str  # side of the bay that the terminals look to

    @property
    def centre_mm(self) -> Array:
        """Middle of the block from the corner of its room."""
        return np.asarray(self.inner_mm + self.size_mm / 2.0)

    @property
    def along(self) -> str:
        """Which way the block's length lies."""
        axis = int(np.argmax(np.abs(self.rotation[:, 0])))
        return ("fore and aft", "across", "upright")[axis]


@dataclass(frozen=True, eq=False, slots=True)
class Stance:
    """Turns that take one room and have their middle in one place: alike but for their terminals."""

    room_mm: Array
    centre_mm: Array
    cooled: bool  # stands on the cooled side, and so must touch it
    turns: tuple[Turn, ...]


def rotations() -> tuple[Array, ...]:
    """The 24 ways to lay a box square in another."""
    found = []
    for order in permutations(range(3)):
        for signs in product((1.0, -1.0), repeat=3):
            matrix = np.zeros((3, 3))
            matrix[list(order), range(3)] = signs
            if np.linalg.det(matrix) > 0.0:
                found.append(matrix)
    return tuple(found)


def side_of(way: Array) -> str:
    """The name of a direction along one axis."""
    return next(name for name, unit in WAYS.items() if float(unit @ way) > 0.9)


def turns_of(block: Block, cooled: str = "") -> tuple[Turn, ...]:
    """How a block may lie in a bay whose side `cooled` has a cooling plate, '' where none: as its maker allows."""
    found = []
    for rotation in rotations():
        up = side_of(rotation.T @ WAYS["top"])
        if up not in block.may_look_up:
            continue
        if cooled and block.cools and side_of(rotation @ WAYS[block.cools]) != cooled:
            continue
        looks = rotation @ WAYS[block.terminal_face]
        size = np.abs(rotation) @ block.size_mm
        middle = block.size_mm / 2.0
        inner = np.where(looks < -0.5, block.room_mm, 0.0)
        spots = [rotation @ (spot - middle) + size / 2.0 + inner for spot in (block.minus_mm, block.plus_mm)]
        room = size + np.abs(looks) * block.room_mm
        found.append(Turn(rotation, room, inner, size, spots[0], spots[1], up, side_of(looks)))
    return tuple(found)


def stances_of(block: Block, cooled: str = "") -> tuple[Stance, ...]:
    """Turns gathered by what they take: the same room with the middle at the same place."""
    groups: dict[tuple[float, ...], list[Turn]] = {}
    for turn in turns_of(block, cooled):
        key = tuple(np.round(np.concatenate([turn.room_mm, turn.centre_mm]), 3))
        groups.setdefault(key, []).append(turn)
    touches = bool(cooled and block.cools)
    return tuple(Stance(turns[0].room_mm, turns[0].centre_mm, touches, tuple(turns)) for turns in groups.values())
