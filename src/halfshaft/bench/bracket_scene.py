"""The 3D view of one bracket: faces, points, what is in the way, and its metal from flat to folded."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from nicegui import ui
from nicegui.elements.scene.scene_object3d import Object3D
from numpy.typing import NDArray

from halfshaft.bench import look
from halfshaft.bench.metal import Metal
from halfshaft.bench.view import LABEL, METAL, METAL_EDGE, NAME, STONE, view
from halfshaft.fold.model import Bracket
from halfshaft.fold.scenery import face_surface, hits, obstacle_surface
from halfshaft.fold.way import Way, way_of
from halfshaft.measure.obstacles import Obstacle, obstacles_of
from halfshaft.study import Study

Array = NDArray[np.float64]
Picked = Callable[[str, str], None]

_DOT_MM, _TOUCH_MM = 3.5, 14.0  # a point as drawn, and as a finger hits it
_FINGER = _TOUCH_MM * np.vstack([np.eye(3), -np.eye(3)])  # an eight-sided ball
_FINGER_FACES = np.array([[0, 1, 2], [1, 3, 2], [3, 4, 2], [4, 0, 2], [1, 0, 5], [3, 1, 5], [4, 3, 5], [0, 4, 5]])
_POINT_LABEL = NAME + "opacity: .92; translate: 0 -16px;"
_HIT_LABEL = LABEL + f"background: {look.VERMILLION}; color: #000; translate: 0 -44px;"
_HIDDEN_LABEL = LABEL + f"background: {look.YELLOW}; color: #000; translate: 0 34px;"


class BracketScene:
    """`picked` is told what was tapped: 'face', 'point', 'panel' or 'obstacle', and its name."""

    def __init__(self, picked: Picked) -> None:
        self._picked = picked
        self._way: Way | None = None
        self._drawn: tuple[Any, Any] | None = None
        self._obstacles: Sequence[Obstacle] = ()
        self._metal: list[Object3D] = []  # of the bracket, and what it hits
        self._pieces: dict[str, Metal] = {}
        self._folded_only: list[Object3D] = []
        self._patches: dict[str, tuple[Metal, str]] = {}
        self._dots: dict[str, tuple[Object3D, Object3D]] = {}
        self._share = 1.0
        self._scene = view("3D view; everything in it is in the lists too", 5, 30000, self._tapped)

    def show(self, study: Study, folder: Path, bracket: Bracket | None) -> None:
        """Draw what has changed since the last time; `light` says afterwards what is strong."""
        around = (study.measured, study.build.obstacle)
        shape = bracket and (bracket.panels, bracket.parts, bracket.folds)
        if (around, shape) == self._drawn:
            return
        with look.one_message(self._scene), self._scene:
            if self._drawn is None or around != self._drawn[0]:
                self._scene.clear()
                self._metal = []
                self._obstacles, _ = obstacles_of(study.build, study.measured, folder)
                self._faces(study)
                self._points(study)
                self._obstacle_bodies()
            self._draw_metal(bracket)
        self._drawn = (around, shape)
        self.fold_to(self._share)

    def _draw_metal(self, bracket: Bracket | None) -> None:
        for thing in self._metal:
            thing.delete()
        self._pieces, self._folded_only, self._way = {}, [], None
        if bracket is not None and bracket.panels:
            self._hits(bracket)
        if bracket is not None and bracket.parts:
            self._way = way_of(bracket)
            for piece in self._way.pieces:
                metal = Metal(piece.vertices_mm, piece.triangles, METAL_EDGE)
                self._pieces[piece.name] = metal.material(METAL).with_name(f"panel:{piece.panel}")
        self._metal = [*self._folded_only, *self._pieces.values()]

    def light(self, at: str, faces: Sequence[str], points: Sequence[str]) -> None:
        """What is picked, `at` as 'face:car.web', in its own colour; `faces` strong; `points` named."""
        with look.one_message(self._scene):
            self._light(at, faces, points)

    def _light(self, at: str, faces: Sequence[str], points: Sequence[str]) -> None:
        for name, (patch, colour) in self._patches.items():
            here = at == f"face:{name}"
            patch.material(look.ORANGE if here else colour, 0.4 if here or name in faces else 0.14, "both")
        for name, (dot, label) in self._dots.items():
            here = at == f"point:{name}"
            dot.material(look.ORANGE if here else look.BODIES[0]).scale(1.8 if here or name in points else 1.0)
            label.visible(here or name in points)
        for piece in self._pieces.values():
            piece.material(look.ORANGE if at == piece.name else METAL)

    def fold_to(self, share: float) -> None:
        """Turn every fold by this share of its angle: one message moves all the pieces."""
        self._share = share
        if self._way is None:
            return
        calls: list[list[object]] = []
        for name, pose in self._way.poses(share).items():
            piece = self._pieces[name]
            piece.x, piece.y, piece.z = (float(v) for v in pose.shift_mm)
            piece.R = [[float(v) for v in row] for row in pose.rotation]
            calls += [["move", piece.id, piece.x, piece.y, piece.z], ["rotate", piece.id, piece.R]]
        self._scene.run_method("run_methods", calls)
        for thing in self._folded_only:
            thing.visible(share >= 0.999)

    def _faces(self, study: Study) -> None:
        self._patches = {}
        for name, face in study.measured.faces.items():
            if face.tied:
                surface = face_surface(study.measured, face)
                colour = look.GREEN if face.body == study.build.root else look.PURPLE
                patch = Metal(surface.vertices_mm, surface.triangles, colour, 60.0)
                self._patches[name] = (patch.with_name(f"face:{name}"), colour)

    def _points(self, study: Study) -> None:
        self._dots = {}
        for name, point in study.measured.points.items():
            if not point.tied:
                continue
            x, y, z = (float(v) for v in point.xyz_mm)
            dot = ui.scene.sphere(_DOT_MM, 12, 8).move(x, y, z).with_name(f"point:{name}")
            # a finger is wider than a point
            Metal(_FINGER, _FINGER_FACES).material(look.BLUE, 0.0).move(x, y, z).with_name(f"point:{name}")
            self._dots[name] = (dot, ui.scene.text(name.split(".", 1)[-1], _POINT_LABEL).move(x, y, z).visible(False))

    def _obstacle_bodies(self) -> None:
        for obstacle in self._obstacles:
            surface = obstacle_surface(obstacle)
            body = Metal(surface.vertices_mm, surface.triangles, look.BLACK if obstacle.hidden else STONE)
            body.material(look.YELLOW if obstacle.hidden else STONE, 0.45 if obstacle.hidden else 0.8)
            body.with_name(f"obstacle:{obstacle.name}")
            if obstacle.hidden:
                x, y, z = (float(v) for v in surface.vertices_mm.mean(axis=0))
                ui.scene.text(f"{obstacle.name} (hidden)", _HIDDEN_LABEL).move(x, y, z)

    def _hits(self, bracket: Bracket) -> None:
        for hit in hits(bracket, self._obstacles):
            red = Metal(hit.surface.vertices_mm, hit.surface.triangles, look.BLACK, over=True)
            red.material(look.VERMILLION, 1.0, "both")
            x, y, z = (float(v) for v in hit.middle_mm)
            sign = ui.scene.text(f"✖ {hit.panel} hits {hit.obstacle}", _HIT_LABEL).move(x, y, z)
            self._folded_only += [red, sign]

    def aim(self, study: Study, bracket: Bracket | None, faces: Sequence[str], points: Sequence[str]) -> None:
        """Look at what is chosen, from the side its faces look to."""
        measured = study.measured
        spots = [measured.points[name].xyz_mm for name in points if name in measured.points]
        if bracket is not None:
            for panel in bracket.panels.values():
                corners = panel.outline.points_mm
                spots += list(panel.pose.apply(np.column_stack([corners, np.zeros(len(corners))])))
        known = [measured.faces[name] for name in faces if name in measured.faces]
        if not spots:
            among = known or [face for face in measured.faces.values() if face.tied]
            spots = [measured.points[p].xyz_mm for face in among for p in face.points if p in measured.points]
        if not spots:
            spots = [point.xyz_mm for point in measured.points.values() if point.tied]
        if not spots:
            return
        cloud = np.array(spots)
        middle = (cloud.min(axis=0) + cloud.max(axis=0)) / 2.0
        size = max(float(np.linalg.norm(cloud.max(axis=0) - cloud.min(axis=0))), 120.0)
        way = np.array([0.35, 0.25, 0.25]) + sum((face.plane.normal for face in known), np.zeros(3))
        eye = middle + way / np.linalg.norm(way) * size * 1.3
        x, y, z, to_x, to_y, to_z = (float(v) for v in (*eye, *middle))
        self._scene.move_camera(x, y, z, to_x, to_y, to_z, duration=0.0)

    def _tapped(self, event: object) -> None:
        """A point is preferred to the face it lies on; metal hides what is behind it."""
        found: list[tuple[str, str]] = []
        for hit in event.hits:  # type: ignore[attr-defined]
            kind, _, name = (hit.object_name or "").partition(":")
            if not name:
                continue
            if kind == "point":
                self._picked(kind, name)
                return
            found.append((kind, name))
            if kind == "panel":
                break
        if found:
            self._picked(*found[0])
