"""The 3D view of fitting up: the frame, what is kept, the unit that can be dragged, windows, half-shafts."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any, cast

import numpy as np
from nicegui import events, ui
from nicegui.elements.scene.scene_object3d import Object3D
from numpy.typing import NDArray

from halfshaft.bench import look
from halfshaft.bench.metal import Metal
from halfshaft.bench.view import LABEL, METAL, METAL_EDGE, NAME, STONE, compass, drawn_in, view
from halfshaft.geometry import Pose
from halfshaft.geometry.mesh import MeshSolid, cylinder

if TYPE_CHECKING:
    from halfshaft.fitup.model import Scene
    from halfshaft.fitup.window import Window

Array = NDArray[np.float64]

FRAME, KEPT, DARK = METAL, STONE, METAL_EDGE
_SHAFT_MM = 14.0
_NEAR_MM = 150.0  # what a wheel sweeps is drawn where it comes so near the unit
_NAME = NAME + "opacity: .9;"
_HIDDEN = LABEL + f"background: {look.YELLOW}; color: #000;"
_EVERY_SECONDS = 0.05  # a drag tells no more often where it is


class PlaceScene:
    """`dragged` is told the unit's shift (3,) in mm while it is dragged, and whether that was the end of it."""

    def __init__(self, dragged: Callable[[Array, bool], None]) -> None:
        self._dragged = dragged
        self._unit: Object3D | None = None
        self._pieces: dict[str, Metal] = {}
        self._openings: list[Metal] = []
        self._shafts: list[tuple[Metal, Array, Array]] = []  # a rod of unit length, inner joint in unit axes, outer
        self._pose = Pose.identity()
        self._scene = view("3D view of the frame and the unit; the buttons beside it move the unit too", 5, 30000)
        self._scene.on("drag", self._on_drag, args=["x", "y", "z"], throttle=_EVERY_SECONDS)
        self._scene.on_drag_end(self._on_drop)

    def show(self, stage: Scene, aim: bool) -> None:
        """Draw everything anew, the unit where it was last moved to."""
        with look.one_message(self._scene), self._scene:
            self._scene.clear()
            self._openings = []
            unit_low, unit_high = _unit_box(stage)
            for one in stage.fixed:
                low, high = one.solid.bounds_mm
                if one.swept and (np.any(low > unit_high + _NEAR_MM) or np.any(high < unit_low - _NEAR_MM)):
                    continue  # a tyre well clear would only stand before the unit
                colour = FRAME if one.role == "member" else look.YELLOW if one.hidden else KEPT
                body = _metal(one.solid).material(colour, 0.45 if one.hidden else 0.2 if one.swept else 1.0)
                body.with_name(f"fixed:{one.name}")
                if one.swept:
                    continue
                x, y, z = _top(one.solid)
                words = f"{one.name} (hidden)" if one.hidden else one.name
                ui.scene.text(words, _HIDDEN if one.hidden else _NAME).move(x, y, z)
            with ui.scene.group().with_name("unit") as unit:
                self._pieces = {
                    piece.name: _metal(piece.solid)
                    .material(look.ORANGE if piece.comes_off else look.SKY, 0.92)
                    .with_name(f"piece:{piece.name}")
                    for piece in stage.unit.pieces
                }
            self._unit = unit.draggable()
            self._shafts = []
            for flange in stage.unit.outputs:
                for wheel in stage.wheels:
                    if wheel.side == flange.side:
                        ride = wheel.centre_mm[int(np.argmin(np.abs(wheel.travel_mm)))]
                        rod = _metal(cylinder([0.0, 0.0, 0.0], [0.0, 0.0, 1.0], _SHAFT_MM, 1.0, 16)).material("#555555")
                        self._shafts.append((rod, flange.centre_mm, ride))
            compass(self._scene, *_corners(stage))
        self.move(self._pose)
        # it was not to be seen until there was something in it
        drawn_in(self._scene)
        if aim:
            self._aim(_corners(stage))

    def move(self, pose: Pose, drag: bool = False) -> None:
        """Put the unit at a pose and its half-shafts with it; while it is dragged the browser moves it itself."""
        self._pose = pose
        calls: list[list[object]] = []
        if self._unit is not None and not drag:
            calls += _moved(self._unit, pose.shift_mm, pose.rotation)
        for rod, inner, outer in self._shafts:
            foot = pose.apply(inner)
            way = outer - foot
            length = max(float(np.linalg.norm(way)), 1.0)
            rod.sx, rod.sy, rod.sz = 1.0, 1.0, length
            calls += [*_moved(rod, foot, _along(way / length)), ["scale", rod.id, 1.0, 1.0, length]]
        if calls:
            self._scene.run_method("run_methods", calls)

    def open(self, windows: Sequence[Window]) -> None:
        """Show the openings that are to be cut, through the metal they are cut from."""
        with look.one_message(self._scene), self._scene:
            for old in self._openings:
                old.delete()
            self._openings = [_metal(one.cutter, look.BLACK).material(look.VERMILLION, 0.75) for one in windows]

    def wear(self, on: Iterable[str] | None) -> None:
        """Show the pieces that are on, all of them when None."""
        wanted = set(self._pieces if on is None else on)
        with look.one_message(self._scene):
            for name, piece in self._pieces.items():
                piece.visible(name in wanted)

    def _on_drag(self, event: events.GenericEventArguments) -> None:
        told = event.args
        spot = np.array([told["x"], told["y"], told["z"]], dtype=float)
        if np.isfinite(spot).all():
            self._dragged(spot, False)

    def _on_drop(self, event: events.SceneDragEventArguments) -> None:
        self._dragged(np.array([event.x, event.y, event.z], dtype=float), True)

    def _aim(self, corners: Array) -> None:
        low, high = corners
        middle, size = (low + high) / 2.0, float(np.linalg.norm(high - low))
        x, y, z = (float(v) for v in middle + np.array([-0.75, 0.5, 0.55]) * size * 1.15)
        to_x, to_y, to_z = (float(v) for v in middle)
        self._scene.move_camera(x, y, z, to_x, to_y, to_z, duration=0.0)


def _metal(solid: MeshSolid, edge: str = DARK) -> Metal:
    return Metal(*solid.triangles, edge)


def _moved(thing: Object3D, shift_mm: Array, rotation: Array) -> list[list[object]]:
    thing.x, thing.y, thing.z = (float(v) for v in shift_mm)
    thing.R = [[float(v) for v in row] for row in rotation]
    return [["move", thing.id, thing.x, thing.y, thing.z], ["rotate", thing.id, cast(Any, thing.R)]]


def _along(way: Array) -> Array:
    """A rotation (3, 3) that turns z to a unit vector."""
    other = np.array([1.0, 0.0, 0.0]) if abs(way[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    across = np.cross(other, way)
    across /= np.linalg.norm(across)
    return np.column_stack([np.cross(across, way), across, way])


def _unit_box(stage: Scene) -> tuple[Array, Array]:
    """Lowest and highest corner (3,) of the unit where the search begins."""
    spots = np.vstack([stage.bounds.begin.apply(piece.solid.triangles[0]) for piece in stage.unit.pieces])
    return spots.min(axis=0), spots.max(axis=0)


def _corners(stage: Scene) -> Array:
    """Lowest and highest corner (2, 3) of the frame, what stands still and the unit where the search begins."""
    boxes = [*(one.solid.bounds_mm for one in stage.fixed if not one.swept), _unit_box(stage)]
    return np.array([np.min([b[0] for b in boxes], axis=0), np.max([b[1] for b in boxes], axis=0)])


def _top(solid: MeshSolid) -> tuple[float, float, float]:
    low, high = solid.bounds_mm
    x, y, z = np.append(((low + high) / 2.0)[:2], high[2] + 12.0)
    return float(x), float(y), float(z)
