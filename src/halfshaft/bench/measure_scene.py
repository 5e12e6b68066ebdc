"""The measured things in space: a study in; points, ellipsoids, faces and readings to turn about and tap on, out.

One unit of the view is 100 mm. The camera stays where it is when the build changes.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
from nicegui import ui
from nicegui.elements.scene import Object3D
from nicegui.events import SceneClickEventArguments
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.metal import Strokes
from halfshaft.bench.view import compass
from halfshaft.measure import FaceEstimate, Measured, PointEstimate
from halfshaft.measure.words import short_name
from halfshaft.study import Study

Array = NDArray[np.float64]

_MM = 0.01
_TAPES = ("tape", "caliper")
_FOV_DEG = 30.0
_ASPECT = 1.4  # of the view at its narrowest
_ROOM = 1.12
_SWELL = 12.0  # dots long that the largest ellipsoid is drawn at first
_LABEL = (
    "font: 600 14px sans-serif; padding: 2px 6px; border-radius: 3px; background: var(--sheet); color: var(--ink);"
    "border: 1px solid var(--line)"
)
# where each view looks from (forward, left, up) and what is up in it
_VIEWS: dict[str, tuple[tuple[float, float, float], tuple[float, float, float]]] = {
    "corner": ((0.75, 0.8, 0.6), (0.0, 0.0, 1.0)),
    "front": ((1.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
    "left": ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    "top": ((0.0, 0.0, 1.0), (1.0, 0.0, 0.0)),
}


class MeasureScene:
    """The view with its switches; `pick` is told the qualified name of what is tapped."""

    def __init__(self, desk: Desk, pick: Callable[[str], None]) -> None:
        self._desk = desk
        self._pick = pick
        self._factor = self._radius = 1.0
        self._shown: object = None
        self._body_off: set[str] = set()
        self._kind_off: set[str] = {"name"}
        self._things: list[tuple[str, str, Object3D]] = []  # body, kind of thing, object
        self._ellipsoids: list[tuple[Object3D, Array]] = []
        self._marked: Object3D | None = None
        self._chosen = ""
        with ui.element("div").classes("hs-scene-box"):
            self._scene = ui.scene(
                grid=False,
                camera=ui.scene.perspective_camera(fov=_FOV_DEG, near=0.05, far=2000),
                on_click=self._clicked,
                click_events=["click"],
                background_color=look.colours(bool(desk.dark))["ground"],
                fps=15,
            ).classes("hs-scene")
            look.calm(self._scene)
            self._scene.props["aria-label"] = "points and faces in space; the list of points says the same"
            with ui.element("div").classes("hs-scene-views"):
                for name in _VIEWS:
                    look.button(name, lambda name=name: self.view(name))
        with look.row():
            self._bodies = look.row()
            for kind, words in (("name", "names"), ("face", "faces"), ("reading", "readings")):
                ui.checkbox(
                    words,
                    value=kind not in self._kind_off,
                    on_change=lambda e, kind=kind: self._switch(self._kind_off, kind, e.value),
                )
            with ui.element("label").classes("hs-row hs-row-tight hs-factor"):
                self._words = ui.label()
                self._slider = ui.slider(
                    min=1, max=100, step=1, value=1.0, on_change=lambda e: self._grown(float(e.value))
                )
                self._slider.props('aria-label="size of the ellipsoids"').classes("hs-slider")
        self._grown(1.0)
        self.show()
        look.follow(desk, self.show)
        ui.timer(0.3, self._ground, once=True)

    # what is shown

    def show(self) -> None:
        """Draw again where what is measured has changed."""
        study = self._desk.study
        if study is None or study.measured is self._shown:
            return
        first = self._shown is None
        self._shown = study.measured
        self._draw(study, first)
        if first:
            self.view("corner", 0.0)

    def choose(self, name: str) -> None:
        """Mark a point or face."""
        self._chosen = name
        if self._marked is not None:
            self._marked.delete()
            self._marked = None
        study = self._desk.study
        if study is None:
            return
        spot = _spot(study.measured, name)
        if spot is None:
            return
        with self._scene:
            with self._scene.group() as mark:
                self._scene.sphere(2.2 * self._radius, 10, 6, wireframe=True).material(look.VERMILLION)
                label = self._scene.text(short_name(study.build, name), _LABEL)
                label.move(0.0, 0.0, 4.5 * self._radius)
            mark.move(*(_MM * spot))
            self._marked = mark

    def view(self, name: str, seconds: float = 0.4) -> None:
        """One of the four views, all that is measured in it."""
        study = self._desk.study
        spots = _MM * (_spots(study.measured) if study else np.zeros((1, 3)))
        way, up = (np.array(v) for v in _VIEWS[name])
        way = way / np.linalg.norm(way)
        right = np.cross(up, way) / np.linalg.norm(np.cross(up, way))
        axes = np.array([right, np.cross(way, right), way])
        seen = spots @ axes.T
        low, high = seen.min(axis=0), seen.max(axis=0)
        middle = (low + high) / 2.0
        wide, tall, deep = np.maximum((high - low) / 2.0, 0.5)
        away = _ROOM * max(tall, wide / _ASPECT) / np.tan(np.radians(_FOV_DEG / 2.0)) + deep
        ex, ey, ez = (axes.T @ (middle + np.array([0.0, 0.0, away]))).tolist()
        mx, my, mz = (axes.T @ middle).tolist()
        ux, uy, uz = up.tolist()
        self._scene.move_camera(ex, ey, ez, mx, my, mz, ux, uy, uz, duration=seconds)

    def _ground(self) -> None:
        """The ground colour of the page as it is: only the browser knows whether it is dark."""
        dark, light = look.colours(True), look.colours(False)
        ui.run_javascript(
            f"""(() => {{ const paint = () => {{ const s = getElement({self._scene.id});
            const dark = document.body.classList.contains('body--dark');
            s?.renderer?.setClearColor(dark ? '{dark["ground"]}' : '{light["ground"]}'); }};
            paint(); new MutationObserver(paint).observe(document.body, {{attributes: true}}); }})()"""
        )

    def _clicked(self, event: SceneClickEventArguments) -> None:
        named = [hit.object_name for hit in event.hits if hit.object_name]
        points = [name for name in named if name.startswith("point ")]
        chosen = (points or named or [""])[0].partition(" ")[2]
        if chosen:
            self._pick(chosen)

    def _grown(self, factor: float) -> None:
        self._factor = factor
        self._words.set_text(f"95 % ellipsoids x {factor:.0f}")
        for thing, half in self._ellipsoids:
            thing.scale(*_scaled(half, factor))

    def _switch(self, off: set[str], name: str, on: bool) -> None:
        (off.discard if on else off.add)(name)
        study = self._desk.study
        if name == "name" and on and study is not None and not any(kind == "name" for _, kind, _ in self._things):
            with look.one_message(self._scene), self._scene:
                self._name_points(study)
        for body, kind, thing in self._things:
            thing.visible(body not in self._body_off and kind not in self._kind_off)

    # drawing

    def _draw(self, study: Study, first: bool) -> None:
        measured, build = study.measured, study.build
        self._things, self._ellipsoids, self._marked = [], [], None
        spots = _spots(measured)
        self._radius = max(_MM * 0.0045 * float(np.linalg.norm(spots.max(axis=0) - spots.min(axis=0))), 0.03)
        bodies = list(build.body)
        colour = {name: look.BODIES[i % len(look.BODIES)] for i, name in enumerate(bodies)}
        self._name_bodies(bodies, colour)
        if first:
            largest = max((float(p.ellipsoid_mm[0][0]) for p in measured.points.values()), default=1.0)
            self._slider.set_value(float(np.clip(round(_SWELL * self._radius / (_MM * largest)), 1, 100)))
        with look.one_message(self._scene), self._scene:
            self._scene.clear()
            for point in measured.points.values():
                self._point(point, colour[point.body])
            for face in measured.faces.values():
                self._face(face, measured, colour[face.body])
            self._readings(study)
            compass(self._scene, _MM * spots.min(axis=0), _MM * spots.max(axis=0))
            for body, kind, thing in self._things:
                if body in self._body_off or kind in self._kind_off:
                    thing.visible(False)
            if "name" not in self._kind_off:
                self._name_points(study)
        if self._chosen:
            self.choose(self._chosen)
        self._clear_through()

    def _clear_through(self) -> None:
        """What is seen through must not hide what is behind it; things come to the view one by one."""
        ui.run_javascript(
            f"""[200, 800, 2500].forEach(wait => setTimeout(() => {{
            getElement({self._scene.id})?.scene?.traverse(thing => {{
            if (thing.material && thing.material.opacity < 0.95) thing.material.depthWrite = false; }}) }}, wait))"""
        )

    def _name_bodies(self, bodies: list[str], colour: dict[str, str]) -> None:
        self._bodies.clear()
        with self._bodies:
            for name in bodies:
                box = ui.checkbox(
                    name, value=name not in self._body_off,
                    on_change=lambda e, name=name: self._switch(self._body_off, name, e.value),
                )  # fmt: skip
                box.style(f"border-bottom: 4px solid {colour[name]}")

    def _point(self, point: PointEstimate, colour: str) -> None:
        scene, at = self._scene, _MM * point.xyz_mm
        ball = scene.sphere(self._radius, 12, 8).material(colour).move(*at).with_name(f"point {point.name}")
        finger = scene.sphere(2.5 * self._radius, 8, 6).material(colour, 0.0).move(*at)
        finger.with_name(f"point {point.name}")
        half, ways = point.ellipsoid_mm
        if np.linalg.det(ways) < 0.0:
            ways = ways * np.array([1.0, 1.0, -1.0])
        cloud = scene.sphere(1.0, 20, 12).material(colour, 0.35).move(*at).rotate_R(ways.tolist())
        cloud.scale(*_scaled(half, self._factor)).with_name(f"point {point.name}")
        self._ellipsoids.append((cloud, half))
        self._things += [(point.body, "point", thing) for thing in (ball, finger, cloud)]

    def _name_points(self, study: Study) -> None:
        """Names are drawn once somebody wants to see them."""
        over = np.array([0.0, 0.0, 2.4 * self._radius])
        for point in study.measured.points.values():
            name = short_name(study.build, point.name)
            text = self._scene.text(name, "font: 12px sans-serif; color: var(--ink); text-shadow: 0 0 3px var(--sheet)")
            text.move(*(_MM * point.xyz_mm + over))
            self._things.append((point.body, "name", text))
            if point.body in self._body_off:
                text.visible(False)

    def _face(self, face: FaceEstimate, measured: Measured, colour: str) -> None:
        corners = _outline(face, measured)
        if corners is None:
            return
        flat, axes = corners
        plate = self._scene.extrusion((_MM * flat).tolist(), 0.01).material(colour, 0.4, side="both")
        plate.rotate_R(axes.tolist()).move(*(_MM * face.middle_mm)).with_name(f"face {face.name}")
        self._things.append((face.body, "face", plate))

    def _readings(self, study: Study) -> None:
        """A faint line along each tape, all those of a body together; a thick one along each slip."""
        measured, build = study.measured, study.build
        suspects = {s.index for s in measured.suspects}
        tapes: dict[str, list[tuple[Array, Array]]] = {}
        for index, reading in enumerate(build.readings):
            slip = index in suspects
            if reading.kind not in _TAPES and not slip:
                continue
            spots = [s for s in (_spot(measured, name) for name in reading.names) if s is not None]
            if len(spots) != len(reading.names):
                continue
            body = reading.names[0].partition(".")[0]
            pairs = list(pairwise(spots))
            if not slip:
                tapes.setdefault(body, []).extend(pairs)
                continue
            for start, end in pairs or [(spots[0] - _along(reading.kind), spots[0] + _along(reading.kind))]:
                middle = (start + end) / 2.0
                tube = self._scene.quadratic_bezier_tube(
                    (_MM * start).tolist(), (_MM * middle).tolist(), (_MM * end).tolist(), 8, 0.7 * self._radius, 6
                ).material(look.VERMILLION)
                self._things.append((body, "reading", tube))
        faint = look.colours(bool(self._desk.dark))["faint"]
        for body, lines in tapes.items():
            self._things.append((body, "reading", Strokes(_MM * np.array(lines)).material(faint, 0.45)))


def _scaled(half: Array, factor: float) -> tuple[float, float, float]:
    a, b, c = np.maximum(_MM * factor * half, 1e-3)
    return float(a), float(b), float(c)


def _along(kind: str) -> Array:
    """Half of the stroke that marks a slip of one point: the way it was measured."""
    way = {"offset": (0.0, 1.0, 0.0), "station": (1.0, 0.0, 0.0)}.get(kind, (0.0, 0.0, 1.0))
    return 60.0 * np.array(way)


def _spot(measured: Measured, name: str) -> Array | None:
    if name in measured.points:
        return measured.points[name].xyz_mm
    return measured.faces[name].middle_mm if name in measured.faces else None


def _spots(measured: Measured) -> Array:
    found = [point.xyz_mm for point in measured.points.values()]
    return np.array(found) if found else np.array([[0.0, 0.0, 0.0], [1000.0, 1000.0, 1000.0]])


def _outline(face: FaceEstimate, measured: Measured) -> tuple[Array, Array] | None:
    """Corners (k, 2) in mm about the face's middle of the hull of its points, and axes (3, 3) in columns, out last."""
    normal = face.plane.normal
    spots = np.array([measured.points[n].xyz_mm for n in face.points if n in measured.points])
    if len(spots) < 3:
        return None
    first = np.cross(normal, [0.0, 0.0, 1.0] if abs(normal[2]) < 0.9 else [1.0, 0.0, 0.0])
    first /= np.linalg.norm(first)
    axes = np.column_stack([first, np.cross(normal, first), normal])
    flat = (spots - face.middle_mm) @ axes[:, :2]
    try:
        return flat[ConvexHull(flat).vertices], axes
    except QhullError:  # all in one line
        return None
