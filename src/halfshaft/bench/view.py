"""The box of a 3D view: a scene on the page's own ground, drawn only when something in it has changed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from nicegui import ui
from numpy.typing import NDArray

from halfshaft.bench import look

Array = NDArray[np.float64]

FOV_DEG = 38.0
METAL, METAL_EDGE, STONE = "#9db4c4", "#24323d", "#8d7f68"
GREY = "#888888"  # lines that are seen on either ground
LABEL = "font: 600 13px Roboto, sans-serif; padding: 1px 5px; border-radius: 3px; white-space: nowrap; "
NAME = LABEL + "background: var(--sheet); color: var(--ink); border: 1px solid var(--line); "


# the ground is the page's own; a drag turns the view, and the click that ends it picks nothing
_READY = """
const box = getElement(%d), el = box.$el;
box.renderer.setClearAlpha(0);
if (!el.dataset.calm) {
  el.dataset.calm = "1";
  let at = [0, 0];
  el.addEventListener("pointerdown", e => { at = [e.clientX, e.clientY]; }, true);
  el.addEventListener("click", e => {
    if (Math.hypot(e.clientX - at[0], e.clientY - at[1]) > 8) e.stopImmediatePropagation();
  }, true);
}
"""


def view(words: str, near: float, far: float, tapped: Callable[[Any], None] | None = None) -> ui.scene:
    """`words` for who cannot see it; `near` and `far` in the scene's unit; `tapped` is told what was hit."""
    camera = ui.scene.perspective_camera(fov=FOV_DEG, near=near, far=far)
    with ui.element("div").classes("hs-scene-frame").props('role="img"') as box:
        box.props["aria-label"] = words
        made = ui.scene(
            width=400, height=400, grid=False, camera=camera, fps=20, background_color="#808080",
            on_click=tapped, click_events=["click"] if tapped else [],
        ).classes("hs-canvas")  # fmt: skip
    look.calm(made)
    made.on("init", lambda: ui.run_javascript(_READY % made.id))
    return made


def drawn_in(scene: ui.scene) -> None:
    """A view that could not be seen until there was something in it takes its size anew."""
    scene.client.run_javascript(f"setTimeout(() => getElement({scene.id})?.resize(), 50)")


def compass(scene: ui.scene, low: Array, high: Array, share: float = 0.12) -> None:
    """Which way is forward, left and up, at the lowest corner (3,) of a box whose diagonal it is a share of."""
    length = share * float(np.linalg.norm(high - low))
    with scene:
        for way, name in zip(np.eye(3), ("forward", "left", "up"), strict=True):
            end = [float(v) for v in low + length * way]
            ui.scene.line([float(v) for v in low], end).material(GREY)
            ui.scene.text(name, "font: 12px Roboto, sans-serif; color: var(--faint)").move(*end)
