"""The 3D view of the pack in the car: frame, wheels and points, bays and keep-outs, modules, terminals, cables."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from nicegui import ui
from nicegui.elements.scene.scene_object3d import Object3D
from numpy.typing import ArrayLike, NDArray

from halfshaft.bench import look
from halfshaft.bench.metal import Metal, Strokes
from halfshaft.bench.view import GREY, LABEL, NAME, compass, drawn_in, view
from halfshaft.fold.way import way_of
from halfshaft.pack.cables import runs_mm

if TYPE_CHECKING:
    from halfshaft.fitup.model import Member
    from halfshaft.pack.bay import Bay
    from halfshaft.pack.box import Box
    from halfshaft.pack.model import Answer, Laid
    from halfshaft.weights.moments import Stance

Array = NDArray[np.float64]

FRAME, KEPT, DARK, CABLE = "#9db4c4", "#8d7f68", "#24323d", "#444b52"
_NAME = NAME + "opacity: .9;"
_KEEP = "font: 500 12px Roboto, sans-serif; color: var(--faint); white-space: nowrap;"
_NUMBER = "font: 700 12px Roboto, sans-serif; color: #000; background: rgba(255,255,255,.75); padding: 0 3px;"
_CENTRE = LABEL + f"background: {look.YELLOW}; color: #000; translate: 0 -24px;"
_MOST_NUMBERS = 48  # more are told in the table only
_CABLE_MM, _END_MM, _CENTRE_MM, _CROSS_MM = 8.0, 13.0, 32.0, 12.0
_FAR_MM = 20_000.0  # what reaches past this is a zone, drawn as its nearer face
_TYRE_MM = 215.0
_SIDES = 8

# faces of a box by its corners, numbered by x, y, z in binary
_FACES = np.array(
    [[0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1], [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4],
     [1, 5, 7], [1, 7, 3]]
)  # fmt: skip
_EDGES = [(a, a | bit) for a in range(8) for bit in (1, 2, 4) if not a & bit]


class PackScene:
    """Draws what it is told; nothing in it is asked back."""

    def __init__(self) -> None:
        self._held: list[Object3D] = []  # of the layout shown
        self._frame: list[Object3D] = []
        self._boxes: list[Object3D] = []
        self._aimed = False  # then it is looked at from where the builder turned it to
        words = "3D view of the pack in the car; the tables beside it say the same in numbers"
        self._scene = view(words, near=10, far=60000)

    def show(
        self, laid: Laid, stance: Stance | None, points_mm: Array, radii_mm: tuple[float, float] = (330.0, 330.0)
    ) -> None:
        """Everything anew but the frame: bays, keep-outs, wheels and points (n, 3); no layout yet."""
        with look.one_message(self._scene), self._scene:
            self._scene.clear()
            self._held, self._frame, self._boxes = [], [], []
            spots = [_corners(np.zeros(3), bay.size_mm, bay) for bay in laid.bays]
            for bay, corners in zip(laid.bays, spots, strict=True):
                Strokes(_edges(corners)).material(look.BODIES[0])
                ui.scene.text(f"bay {bay.name}", _NAME).move(*_over(corners, 140.0))
            for keep in laid.keeps:
                vertices, triangles = keep.solid.triangles
                if float(np.abs(vertices).max()) > _FAR_MM:
                    continue
                Metal(vertices, triangles, DARK).material(look.VERMILLION, 0.3)
                ui.scene.text(keep.name, _KEEP).move(*_over(vertices))
            if len(points_mm):
                Strokes(_crosses(points_mm)).material(GREY)
            if stance is not None:
                wheels = _wheels(stance, radii_mm)
                Strokes(wheels).material(GREY)
                spots.append(wheels.reshape(-1, 3))
            _compass(self._scene, np.vstack(spots) if spots else np.zeros((1, 3)))
        drawn_in(self._scene)
        if not self._aimed and spots:
            self._aim(np.vstack(spots), 1.5 if stance is None else 1.0)
            self._aimed = True

    def frame(self, members: Iterable[Member]) -> None:
        """The members of the frame, which take longer to be made."""
        with look.one_message(self._scene), self._scene:
            for old in self._frame:
                old.delete()
            self._frame = [Metal(*one.solid.triangles, DARK).material(FRAME, 0.55) for one in members]

    def enclose(self, boxes: Iterable[Box], lids: bool) -> None:
        """Boxes about the modules, as folded, to be seen through; `lids` with what lies over them."""
        with look.one_message(self._scene), self._scene:
            for old in self._boxes:
                old.delete()
            self._boxes = []
            for box in boxes:
                for number, piece in enumerate(box.pieces):
                    if number and not lids:
                        continue
                    way = way_of(piece.bracket)
                    poses = way.poses(1.0)
                    for part in way.pieces:
                        vertices = poses[part.name].apply(part.vertices_mm)
                        body = Metal(vertices, part.triangles, DARK).material(FRAME, 0.25 if number == 0 else 0.45)
                        self._boxes.append(body)

    def hold(self, laid: Laid, answer: Answer | None) -> None:
        """One layout: its modules, their terminals, its cables and where its mass lies."""
        with look.one_message(self._scene), self._scene:
            for old in self._held:
                old.delete()
            self._held = []
            if answer is None:
                return
            by_name = {bay.name: bay for bay in laid.bays}
            modules = answer.layout.modules
            colours = (look.SKY, look.GREEN, look.PURPLE, look.YELLOW, look.BLUE)
            for one in modules:
                corners = _corners(one.corner_mm, one.corner_mm + one.turn.size_mm, by_name[one.bay])
                name = f"{one.string + 1}.{one.place + 1}"
                colour = colours[one.string % len(colours)]
                body = Metal(corners, _FACES, DARK).material(colour, 0.8).with_name(f"module:{name}")
                self._held.append(body)
                if len(modules) <= _MOST_NUMBERS:
                    self._held.append(ui.scene.text(name, _NUMBER).move(*_over(corners, 4.0)))
            plus, minus = (np.array([getattr(one, end) for one in modules]) for end in ("plus_mm", "minus_mm"))
            self._held.append(Metal(*_cubes(plus, _END_MM)).material(look.VERMILLION))
            self._held.append(Metal(*_cubes(minus, _END_MM)).material(look.BLACK))
            runs = runs_mm(modules, laid.bays, laid.junction_mm)
            self._held.append(Metal(*_tubes(runs, _CABLE_MM)).material(look.ORANGE))
            x, y, z = (float(v) for v in answer.layout.centre_mm)
            ball = ui.scene.sphere(_CENTRE_MM, 20, 14).material(look.YELLOW).move(x, y, z).with_name("centre")
            self._held += [ball, ui.scene.text("centre of gravity", _CENTRE).move(x, y, z)]

    def _aim(self, spots: Array, times: float) -> None:
        """The middle of all, from so many times their size."""
        middle = (spots.min(axis=0) + spots.max(axis=0)) / 2.0
        size = max(float(np.linalg.norm(np.ptp(spots, axis=0))), 500.0)
        x, y, z = (float(v) for v in middle + np.array([0.2, -0.75, 0.6]) * size * times)
        to_x, to_y, to_z = (float(v) for v in middle)
        self._scene.move_camera(x, y, z, to_x, to_y, to_z, duration=0.0)


def _corners(low_mm: ArrayLike, high_mm: ArrayLike, bay: Bay) -> Array:
    """Corners (8, 3) of a box in a bay's axes, in the root's."""
    ends = np.array([low_mm, high_mm], dtype=float)
    bits = np.array([[n >> 2 & 1, n >> 1 & 1, n & 1] for n in range(8)])
    return np.asarray(bay.pose.apply(ends[bits, [0, 1, 2]]))


def _edges(corners: Array) -> Array:
    return np.array([[corners[a], corners[b]] for a, b in _EDGES])


def _over(spots: Array, by_mm: float = 25.0) -> tuple[float, float, float]:
    low, high = spots.min(axis=0), spots.max(axis=0)
    return float((low[0] + high[0]) / 2.0), float((low[1] + high[1]) / 2.0), float(high[2] + by_mm)


def _crosses(points_mm: Array) -> Array:
    arms = np.stack([-_CROSS_MM * np.eye(3), _CROSS_MM * np.eye(3)], axis=1)  # (3, 2, 3)
    return np.asarray((points_mm[:, None, None] + arms[None]).reshape(-1, 2, 3))


def _wheels(stance: Stance, radii_mm: tuple[float, float]) -> Array:
    """Rims of the four wheels as strokes (n, 2, 3)."""
    turns = np.linspace(0.0, 2.0 * np.pi, 41)
    found = []
    for end, track in enumerate((stance.track_front_mm, stance.track_rear_mm)):
        x = stance.rear_axle_mm + (stance.wheelbase_mm if end == 0 else 0.0)
        for side in (0.5, -0.5):
            for edge in (-0.5, 0.5):
                radius = radii_mm[end]
                y = side * track + edge * _TYRE_MM
                ring = np.column_stack(
                    [x + radius * np.cos(turns), np.full(41, y), stance.ground_mm + radius * (1.0 + np.sin(turns))]
                )
                found.append(np.stack([ring[:-1], ring[1:]], axis=1))
    return np.concatenate(found)


def _cubes(spots_mm: Array, half_mm: float) -> tuple[Array, NDArray[Any]]:
    bits = np.array([[n >> 2 & 1, n >> 1 & 1, n & 1] for n in range(8)]) * 2.0 - 1.0
    vertices = (spots_mm[:, None] + half_mm * bits[None]).reshape(-1, 3)
    return vertices, np.concatenate([_FACES + 8 * n for n in range(len(spots_mm))])


def _tubes(runs: Sequence[Array], radius_mm: float) -> tuple[Array, NDArray[Any]]:
    """Every leg of every run as an open tube; vertices (v, 3) and triangles (t, 3)."""
    turns = np.linspace(0.0, 2.0 * np.pi, _SIDES, endpoint=False)
    here = np.arange(_SIDES)
    ahead = np.roll(here, -1)
    skin = np.concatenate(
        [np.column_stack([here, ahead, here + _SIDES]), np.column_stack([ahead, ahead + _SIDES, here + _SIDES])]
    )
    vertices, triangles = [np.zeros((0, 3))], [np.zeros((0, 3), dtype=int)]
    count = 0
    for run in runs:
        for one, other in pairwise(run):
            way = other - one
            length = float(np.linalg.norm(way))
            if length < 0.1:
                continue
            way = way / length
            across = np.cross(way, [1.0, 0.0, 0.0] if abs(way[0]) < 0.9 else [0.0, 1.0, 0.0])
            across /= np.linalg.norm(across)
            ring = radius_mm * (np.outer(np.cos(turns), across) + np.outer(np.sin(turns), np.cross(way, across)))
            vertices.append(np.vstack([ring + one, ring + other]))
            triangles.append(skin + count)
            count += 2 * _SIDES
    return np.concatenate(vertices), np.concatenate(triangles)


def _compass(scene: ui.scene, spots: Array) -> None:
    low, high = spots.min(axis=0), spots.max(axis=0)
    least = 500.0 / max(float(np.linalg.norm(high - low)), 1e-6)
    compass(scene, low, high, 0.1 * max(least, 1.0))
