"""Changing a bracket: its sheet, panels, holes and folds as large fields, each saved as soon as it is set."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.bracket_edit import FOLDS, SIDES, Keys, fresh_name, names_of, save, short
from halfshaft.bench.bracket_extras import (
    NO_TWIN,
    draw_joins,
    draw_shape,
    draw_stiffeners,
    extras_structure,
    twin_values,
    without_flat,
)
from halfshaft.bench.bracket_fields import Form, Saver, build_now, choice
from halfshaft.bench.bracket_gussets import draw_gussets
from halfshaft.bench.bracket_holes import draw_hole, draw_new_hole, usual_bolt
from halfshaft.bench.desk import Desk
from halfshaft.build import Build
from halfshaft.build.schema import BracketInput, HoleInput, PanelInput
from halfshaft.build.units import format_length, format_sheet
from halfshaft.study import Study


def structure(study: Study, name: str) -> Any:
    """What decides which fields there are; their values are not part of it."""
    told = study.build.bracket.get(name)
    if told is None:
        return None
    panels = [
        (key, panel.face, tuple((hole.at, hole.shape == "slot") for hole in panel.holes))
        for key, panel in told.panel.items()
    ]
    faces = [name for name, face in study.measured.faces.items() if face.tied]
    folds = [fold.between for fold in told.folds]
    extras = extras_structure(told)
    return (told.sheet, panels, folds, extras, tuple(study.build.sheet), tuple(faces), tuple(study.measured.points))


def draw_change(desk: Desk, study: Study, name: str) -> Form:
    """All fields of one bracket; call `refresh` of the form after every change of the desk."""
    told, form = study.build.bracket[name], Form()
    with look.panel(f"Change {name}"), look.row().classes("hb-fields"):
        _sheet(desk, form, study.build, name)
    for panel in told.panel:
        _panel(desk, form, study, name, panel)
    _new_panel(desk, study, name, told)
    _folds(desk, form, name, told)
    draw_stiffeners(desk, form, name, told)
    draw_gussets(desk, form, name, told)
    draw_joins(desk, form, study, name, told)
    with look.panel():
        look.button(f"Delete {name}", lambda: save(desk, f"delete bracket {name}", {("bracket", name): None}))
        ui.label("Undo brings it back.").classes("hs-faint hs-small")
    return form


def add_panel(desk: Desk, name: str, face: str) -> bool:
    """One more panel on a face, folded from the first one."""
    build = build_now(desk)
    told = build.bracket[name]
    panel = fresh_name(face, list(told.panel))
    values: dict[Keys, Any] = {
        ("bracket", name, "panel", panel): {"face": short(face, names_of(build, "face")), "holes": []}
    }
    if told.panel:
        values |= _fold_values(name, told, next(iter(told.panel)), panel)
    return save(desk, f"panel {panel} in {name}", values)


def _fold_values(name: str, told: BracketInput, a: str, b: str) -> dict[Keys, Any]:
    fold = {"between": [a, b]}
    if told.given("folds"):
        return {("bracket", name, "folds", len(told.folds)): fold}
    return {("bracket", name, "folds"): [fold]}


def _sheet(desk: Desk, form: Form, build: Build, name: str) -> None:
    def own() -> BracketInput:
        return build_now(desk).bracket[name]

    def put(key: str, title: str) -> Callable[[str], bool]:
        return lambda value: save(desk, f"{title} of {name}", {("bracket", name, key): value})

    key = build.bracket[name].sheet
    form.choice("sheet", {sheet: sheet for sheet in build.sheet}, lambda: own().sheet, put("sheet", "sheet"))
    if key in build.sheet:
        also = [other for other, row in build.bracket.items() if row.sheet == key and other != name]
        form.cell(
            f"thickness of sheet {key}",
            lambda: format_sheet(build_now(desk).sheet[key].thickness_mm, desk.units),
            Saver(desk, f"thickness of {key}", ("sheet", key, "thickness")),
            f"also of {', '.join(also)}" if also else "3/16 in, 4 mm, 8 ga",
        )
    form.choice("folds are", FOLDS, lambda: own().fold, put("fold", "fold kind"))
    sides = {NO_TWIN: "this side only", "twin": "both sides: a mirrored one too"}
    form.choice(
        "cut for",
        sides,
        lambda: "twin" if own().twin else NO_TWIN,
        lambda value: save(desk, f"twin of {name}", twin_values(name, own(), value)),
    )
    form.cell("what it is", lambda: own().what, put("what", "words"))


def _panel(desk: Desk, form: Form, study: Study, name: str, key: str) -> None:
    panel = study.build.bracket[name].panel[key]
    at: Keys = ("bracket", name, "panel", key)

    def own() -> PanelInput:
        return build_now(desk).bracket[name].panel[key]

    def face(value: str) -> None:
        save(desk, f"face of panel {key}", {(*at, "face"): short(value, names_of(build_now(desk), "face"))})

    def side(value: str) -> None:
        save(desk, f"side of panel {key}", {(*at, "side"): value})

    with look.panel(f"Panel {key}"):
        with look.row().classes("hb-fields"):
            if panel.face:
                form.choice("face", {f: f for f in study.measured.faces}, lambda: own().face or "", face)
                form.choice("lies", SIDES, lambda: own().side, side)
            off = Saver(desk, f"stand-off of panel {key}", (*at, "standoff"))
            form.cell("stand-off", lambda: format_length(own().standoff_mm, desk.units), off, "gap to the face")
            look.button(
                "Take it out",
                lambda: save(
                    desk, f"take panel {key} out", without_flat(name, build_now(desk).bracket[name], "panel", key)
                ),
                say=f"take panel {key} out",
            )
        draw_shape(desk, form, study, at, key, panel, own)
        for number, hole in enumerate(panel.holes):
            draw_hole(desk, form, (*at, "holes", number), key, hole, partial(_numbered, own, number))
        draw_new_hole(desk, study, name, key, panel, usual_bolt(study.build.bracket[name]))


def _numbered(own: Callable[[], PanelInput], number: int) -> HoleInput:
    return own().holes[number]


def _kind_of(desk: Desk, name: str, number: int) -> str:
    return build_now(desk).bracket[name].folds[number].kind or ""


def _new_panel(desk: Desk, study: Study, name: str, told: BracketInput) -> None:
    used = {panel.face for panel in told.panel.values()}
    free = [f for f, face in study.measured.faces.items() if face.tied and f not in used]
    if not free:
        return
    with look.panel("Another panel"):
        ui.label("Tap a face in the 3D view, or take one here. It folds from the first panel.").classes("hs-faint")
        with ui.element("div").classes("hb-pick"):
            for face in free:
                look.button(face, lambda f=face: add_panel(desk, name, f))


def _folds(desk: Desk, form: Form, name: str, told: BracketInput) -> None:
    panels = {flat: flat for flat in (*told.panel, *told.stiffener)}
    kinds = {"": "as the bracket", **FOLDS}
    with look.panel("Folds"):
        for number, fold in enumerate(told.folds):
            at: Keys = ("bracket", name, "folds", number)
            words = f"{fold.between[0]} to {fold.between[1]}"

            def kind(value: str, at: Keys = at, words: str = words) -> None:
                save(desk, f"fold {words}", {(*at, "kind"): value or None})

            with ui.element("div").classes("hb-hole"):
                ui.label(words).classes("hb-point")
                form.choice("kind", kinds, partial(_kind_of, desk, name, number), kind)
                gone: dict[Keys, Any] = {at: None}
                look.button("Leave out", lambda v=gone, w=words: save(desk, f"fold {w} out", v), say=f"no fold {words}")
        if len(panels) < 2:
            return
        first, second = list(panels)[:2]
        pair = {"a": first, "b": second}
        with look.row():
            choice("new fold from", panels, lambda: pair["a"], lambda value: pair.update(a=value))
            choice("to", panels, lambda: pair["b"], lambda value: pair.update(b=value))
            look.button(
                "Add the fold",
                lambda: save(
                    desk,
                    f"fold {pair['a']} to {pair['b']}",
                    _fold_values(name, build_now(desk).bracket[name], pair["a"], pair["b"]),
                ),
            )
