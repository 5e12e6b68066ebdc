"""The 3D view of the mounts: brackets, the unit as spokes to them, forces as arrows, stress in colour, shakes."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, cast

import numpy as np
from nicegui import ui
from nicegui.elements.scene.scene_object3d import Object3D
from numpy.typing import NDArray

from halfshaft.bench import look
from halfshaft.bench.metal import Metal
from halfshaft.bench.view import LABEL, METAL, METAL_EDGE, NAME, drawn_in, view
from halfshaft.fold.way import way_of
from halfshaft.geometry.mesh import cylinder

if TYPE_CHECKING:
    from halfshaft.fold.model import Bracket
    from halfshaft.mounts.bracket_stress import BracketStress
    from halfshaft.mounts.model import Mounts
    from halfshaft.mounts.modes import Modes
    from halfshaft.mounts.surface_field import SurfaceField

Array = NDArray[np.float64]

# J. R. Nunez, C. R. Anderton, R. S. Renslow, Optimizing colormaps with consideration for color vision deficiency,
# PLoS ONE 13 (2018) e0199239: dark to light, told apart by colour-blind eyes and in grey. Values from memory.
SCALE = ("#00224e", "#123570", "#3b496c", "#575d6d", "#707173", "#8a8678", "#a59c74", "#c3b369", "#e1cc55", "#fee838")
PAST = look.VERMILLION
_NAME = NAME + "translate: 0 -22px;"
_HOT = LABEL + f"background: {look.ORANGE}; color: #000; translate: 0 -22px;"
_DOT_MM, _SPOKE_MM, _CENTRE_MM = 12.0, 7.0, 20.0
_ARROW_SHARE = 0.4  # of the view's size, of the largest force of the sweep
_SWING_SHARE = 0.06  # of the view's size, at full swing
_SWINGS = 0.7  # a second, whatever the frequency: eyes follow no more
_LEAST_N = 1.0


class Stressed(Object3D, component="stressed.js"):
    """A skin with its stress as a share of a limit (n,) and its moves (n, 3) in mm."""

    def __init__(
        self, vertices_mm: NDArray[Any], triangles: NDArray[Any], shares: NDArray[Any], moves_mm: NDArray[Any]
    ) -> None:
        super().__init__(
            [round(float(v), 2) for v in np.asarray(vertices_mm).ravel()],
            [int(t) for t in np.asarray(triangles).ravel()],
            [round(float(s), 3) for s in np.asarray(shares)],
            [round(float(v), 5) for v in np.asarray(moves_mm).ravel()],
            list(SCALE),
            PAST,
        )


class MountsScene:
    """Draws what it is told; nothing in it is asked back."""

    def __init__(self) -> None:
        self._pieces: list[Object3D] = []
        self._unit: Object3D | None = None
        self._names: list[Object3D] = []
        self._arrows: list[Metal] = []
        self._centres: Sequence[Array] = ()
        self._centre = np.zeros(3)
        self._size = 1.0
        self._per_newton = 0.0
        self._stressed: list[Object3D] = []
        self._scene = view("3D view of the mounts; the tables beside it say the same in numbers", near=5, far=30000)

    def show(self, found: Mounts, brackets: Mapping[str, Bracket]) -> None:
        """Everything anew, with no force on and nothing in its stress."""
        assert found.body is not None
        self._centres = [mount.bushing.centre_mm for mount in found.mounts]
        self._centre = np.asarray(found.body.centre_mm, dtype=float)
        with look.one_message(self._scene), self._scene:
            self._scene.clear()
            self._stressed, self._pieces, spots = [], [], [*self._centres, self._centre]
            for mount in found.mounts:
                bracket = brackets.get(mount.bracket)
                if bracket is None or not bracket.parts:
                    continue
                way = way_of(bracket)
                poses = way.poses(1.0)
                for piece in way.pieces:
                    vertices = poses[piece.name].apply(piece.vertices_mm)
                    self._pieces.append(Metal(vertices, piece.triangles, METAL_EDGE).material(METAL))
                    spots += [vertices.min(axis=0), vertices.max(axis=0)]
            with ui.scene.group().with_name("unit") as self._unit:
                for centre in self._centres:
                    to = centre - self._centre
                    spoke = cylinder(self._centre, to, _SPOKE_MM, float(np.linalg.norm(to)), 12)
                    Metal(*spoke.triangles).material(look.BODIES[0])
                ui.scene.sphere(_CENTRE_MM, 16, 10).material(look.BODIES[0]).move(*_floats(self._centre))
                for centre in self._centres:
                    ui.scene.sphere(_DOT_MM, 12, 8).material(look.SKY).move(*_floats(centre))
            self._names = [
                ui.scene.text(mount.name, _NAME).move(*_floats(mount.bushing.centre_mm)) for mount in found.mounts
            ]
            self._arrows = [_arrow().visible(False) for _ in found.mounts]
            self._low, self._high = np.min(spots, axis=0), np.max(spots, axis=0)
        # it was not to be seen until there was something in it
        drawn_in(self._scene)
        self._size = float(np.linalg.norm(self._high - self._low))
        largest = float(np.linalg.norm(found.sweep.force_n, axis=2).max()) if found.sweep is not None else 0.0
        self._per_newton = _ARROW_SHARE * self._size / largest if largest > _LEAST_N else 0.0
        self.aim()

    def aim(self, low: NDArray[Any] | None = None, high: NDArray[Any] | None = None) -> None:
        """Look at a box, at everything where none is told."""
        low, high = (self._low, self._high) if low is None or high is None else (low, high)
        middle, size = (low + high) / 2.0, max(float(np.linalg.norm(high - low)), 60.0)
        eye = middle + np.array([0.75, 0.75, 0.45]) * size * (1.05 if high is self._high else 1.35)
        x, y, z, to_x, to_y, to_z = (float(v) for v in (*eye, *middle))
        self._scene.move_camera(x, y, z, to_x, to_y, to_z, duration=0.0)

    def push(self, forces_n: Array | None) -> None:
        """Arrows (m, 3) from the mounts, as the unit pushes and pulls at the frame; none when None."""
        calls: list[list[object]] = []
        with look.one_message(self._scene):
            for at, arrow in enumerate(self._arrows):
                force = np.zeros(3) if forces_n is None else np.asarray(forces_n[at], dtype=float)
                size = float(np.linalg.norm(force))
                arrow.visible(size > _LEAST_N)
                if size <= _LEAST_N:
                    continue
                length = max(size * self._per_newton, 1.0)
                arrow.x, arrow.y, arrow.z = _floats(self._centres[at])
                arrow.R = _along(force / size).tolist()
                arrow.sx, arrow.sy, arrow.sz = length, length, length
                calls += [
                    ["move", arrow.id, arrow.x, arrow.y, arrow.z],
                    ["rotate", arrow.id, cast(Any, arrow.R)],
                    ["scale", arrow.id, length, length, length],
                ]
        if calls:
            self._scene.run_method("run_methods", calls)

    def stress(self, stress: BracketStress | None, field: SurfaceField | None, times: float) -> None:
        """One bracket in its stress as a share of its yield strength, the rest put away; everything back when None."""
        here = stress is not None and field is not None
        with look.one_message(self._scene), self._scene:
            for old in self._stressed:
                old.delete()
            self._stressed = []
            for thing in (*self._pieces, *self._names, *([self._unit] if self._unit else [])):
                thing.visible(not here)
            if stress is not None and field is not None:
                skin = stress.skin
                drawn = Stressed(skin.vertices_mm, skin.triangles, field.mises_mpa / stress.yield_mpa, field.moved_mm)
                worst = next((case.worst for case in stress.cases if case.case == field.case), None)
                self._stressed = [drawn]
                if worst is not None:
                    spot = ui.scene.sphere(3.0, 12, 8).material(look.ORANGE).move(*worst.spot_mm)
                    self._stressed += [spot, ui.scene.text(worst.place, _HOT).move(*worst.spot_mm)]
        if stress is not None and field is not None:
            self.bend(times)
            self.aim(stress.skin.vertices_mm.min(axis=0), stress.skin.vertices_mm.max(axis=0))
        else:
            self.aim()

    def bend(self, times: float) -> None:
        """The bracket in its stress, moving so many times as far as it does."""
        if self._stressed:
            self._scene.run_method("run_method_on_component", self._stressed[0].id, "bend", times)

    def shake(self, modes: Modes | None, number: int = 0) -> None:
        """The unit swung in one of its modes, far enough to be seen; still when None."""
        if self._unit is None:
            return
        told = [self._scene.id, self._unit.id, _floats(self._centre), None, None, _SWINGS]
        if modes is not None:
            shape = np.asarray(modes.shapes[:, number], dtype=float)
            ends = [shape[:3] + np.cross(shape[3:], centre - self._centre) for centre in self._centres]
            far = max(float(np.linalg.norm(end)) for end in (*ends, shape[:3]))
            swing = shape * (_SWING_SHARE * self._size / far) if far > 0.0 else shape
            told[3:5] = [_floats(swing[:3]), _floats(swing[3:])]
        # by the view's own page: the button that asked may have been drawn anew meanwhile
        self._scene.client.run_javascript(f"hsShake({', '.join(json.dumps(one) for one in told)})")


def _floats(spot: Array) -> list[float]:
    return [float(v) for v in spot]


def _arrow() -> Metal:
    """Of unit length along z, from its foot."""
    shaft = cylinder([0.0, 0.0, 0.0], [0.0, 0.0, 1.0], 0.05, 0.8, 16).triangles
    turns = np.linspace(0.0, 2.0 * np.pi, 17)[:-1]
    rim = np.column_stack([0.07 * np.cos(turns), 0.07 * np.sin(turns), np.full(16, 0.76)])
    tip = np.vstack([rim, [[0.0, 0.0, 1.0], [0.0, 0.0, 0.76]]])
    sides = [[at, (at + 1) % 16, 16] for at in range(16)] + [[(at + 1) % 16, at, 17] for at in range(16)]
    vertices = np.vstack([shaft[0], tip])
    triangles = np.vstack([shaft[1], np.array(sides) + len(shaft[0])])
    return Metal(vertices, triangles).material(look.VERMILLION)


def _along(way: Array) -> Array:
    """A rotation (3, 3) that turns z to a unit vector."""
    other = np.array([1.0, 0.0, 0.0]) if abs(way[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    across = np.cross(other, way)
    across /= np.linalg.norm(across)
    return np.column_stack([np.cross(across, way), across, way])
