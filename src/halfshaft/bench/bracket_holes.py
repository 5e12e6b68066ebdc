"""Holes of a panel or of a joined plate: which points they may be put at, a row of fields each, one more."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.bracket_edit import SHAPES, Keys, names_of, save, shape_values, short
from halfshaft.bench.bracket_fields import Form, Saver, build_now, choice
from halfshaft.bench.desk import Desk
from halfshaft.build.catalogue import bolts
from halfshaft.build.schema import BracketInput, HoleInput, PanelInput
from halfshaft.build.units import format_length, length_to_write
from halfshaft.build.value import UnitSystem
from halfshaft.fold.scenery import near_face
from halfshaft.study import Study


def hole_choices(study: Study, units: UnitSystem, face: str | None, taken: list[str]) -> dict[str, str]:
    """Points that a hole may be put at: those on the face first, with how far they stand off it."""
    out: dict[str, str] = {}
    if face and face in study.measured.faces:
        for point, height in near_face(study.measured, face):
            away = (
                "on the face"
                if abs(height) < 1.0
                else f"{format_length(abs(height), units)} {'over' if height > 0 else 'under'} it"
            )
            out[point] = f"{point.split('.', 1)[-1]}, {away}"
    for point, known in study.measured.points.items():
        if known.tied and point not in out:
            out[point] = point
    return {point: words for point, words in out.items() if point not in taken}


def add_hole(desk: Desk, name: str, panel: str, point: str, bolt: str) -> bool:
    """One more hole in a panel, at a measured point."""
    build = build_now(desk)
    told = build.bracket[name].panel[panel]
    hole = {"at": short(point, names_of(build, "point")), "bolt": bolt}
    at: Keys = ("bracket", name, "panel", panel, "holes")
    values: dict[Keys, Any] = {(*at, len(told.holes)): hole} if told.given("holes") else {at: [hole]}
    return save(desk, f"hole at {point} in panel {panel}", values)


def usual_bolt(told: BracketInput) -> str:
    """The bolt that the bracket uses already, else a common one."""
    used = [hole.bolt for panel in told.panel.values() for hole in panel.holes]
    return max(used, key=used.count) if used else "M10"


def draw_hole(desk: Desk, form: Form, at: Keys, panel: str, hole: HoleInput, own: Callable[[], HoleInput]) -> None:
    point = hole.at.split(".", 1)[-1]

    def bolt(value: str) -> None:
        save(desk, f"bolt at {point}", {(*at, "bolt"): value})

    def shape(value: str) -> None:
        save(desk, f"shape of hole {point}", shape_values(at, own(), value))

    def length(read: Callable[[], float | None]) -> Callable[[], str]:
        return lambda: length_to_write(value, desk.units) if (value := read()) else ""

    def angle() -> str:
        turned = own().slot_angle_deg
        return f"{turned:g} deg" if turned is not None else ""

    with ui.element("div").classes("hb-hole"):
        ui.label(point).classes("hb-point")
        form.choice(f"bolt at {point}", {b: b for b in bolts()}, lambda: own().bolt, bolt)
        form.choice(f"hole at {point}", SHAPES, lambda: own().shape, shape)
        if hole.shape == "slot":
            far = length(lambda: own().slot_length_mm)
            form.cell("slot, centre to centre", far, Saver(desk, f"slot at {point}", (*at, "slot_length")), "6 mm")
            form.cell(
                "slot turned by", angle, Saver(desk, f"slot at {point}", (*at, "slot_angle")), "from the fold line"
            )
        frame = length(lambda: own().frame_hole_mm)
        form.cell(
            "hole in the frame", frame, Saver(desk, f"frame hole at {point}", (*at, "frame_hole")), "when it is larger"
        )
        look.button(
            "Leave out", lambda: save(desk, f"hole {point} out of {panel}", {at: None}), say=f"no hole at {point}"
        )


def draw_new_hole(desk: Desk, study: Study, name: str, key: str, panel: PanelInput, bolt: str) -> None:
    options = hole_choices(study, desk.units, panel.face, [hole.at for hole in panel.holes])
    if not options:
        return
    picked = {"point": next(iter(options)), "bolt": bolt}
    with look.row():
        choice(f"new hole in {key} at", options, lambda: picked["point"], lambda value: picked.update(point=value))
        choice(
            f"its bolt in {key}",
            {b: b for b in bolts()},
            lambda: picked["bolt"],
            lambda value: picked.update(bolt=value),
        )
        look.button(
            "Add the hole",
            lambda: add_hole(desk, name, key, picked["point"], picked["bolt"]),
            say=f"add the hole to {key}",
        )
