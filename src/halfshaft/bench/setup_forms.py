"""Forms for what a build stands on: the shop, its sheets, the bodies with their points and faces."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import partial
from typing import Any

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.desk import Desk
from halfshaft.bench.meshes import draw_meshes
from halfshaft.bench.typed import names_of, value_of
from halfshaft.build import BuildProblems, save_values
from halfshaft.build.catalogue import instrument, materials
from halfshaft.build.paper import check_length_mm
from halfshaft.build.schema import Build, Cutter, FaceWay
from halfshaft.build.units import format_length, length_to_write

PAPER_CHECK = {"across": "short side, or across a roll", "along": "long side, or along a roll"}
SHOP = {
    "kerf": "width of the cut",
    "cut_spread": "a cut edge is true to ±",
    "fold_spread": "a fold is true to ±",
    "least_hole": "least hole that is cut, not drilled",
    "lever": "length of the folding bar",
    "hand_force": "pull of your hands on it",
}
TOOLS = {"tape": "tape", "angle_finder": "angle finder", "level": "level"}

Keys = tuple[str | int, ...]
Values = dict[str | Keys, Any]


def draw(desk: Desk) -> None:
    """Every form, filled with what the build says; each field is saved when it is left."""
    box = look.column()
    drawn: list[Any] = []

    def show() -> None:
        build = desk.build
        # values follow by themselves; only new sheets, points and faces make the forms anew, so that typing is not lost
        state = build and (set(build.sheet), {b: (set(told.point), set(told.face)) for b, told in build.body.items()})
        if drawn and drawn[0] == state:
            return
        drawn[:] = [state]
        box.clear()
        with box:
            if build is None:
                if not desk.problems:
                    ui.label("The folder is being read.").classes("hs-faint")
                return
            ui.label(str(desk.folder)).classes("hs-key hs-text")
            with ui.element("div").classes("hs-pair"):
                with look.column():
                    _about(desk, build)
                    _shop(desk, build)
                with look.column():
                    _sheets(desk, build)
                    for body in build.body:
                        _body(desk, build, body)
                    draw_meshes(desk)

    show()
    look.follow(desk, show)


def _about(desk: Desk, build: Build) -> None:
    with look.panel("The build"), ui.element("div").classes("hs-fields"):
        _field(desk, ("build", "name"), "name", lambda now: (now.build.name, ""))
        options = {"metric": "mm", "inch": "inches"}
        _choice(desk, ("build", "units"), "bare numbers are", options, lambda now: now.build.units)


def _shop(desk: Desk, build: Build) -> None:
    with look.panel("The shop"):
        ui.label("What is empty is assumed as shown.").classes("hs-faint")
        with ui.element("div").classes("hs-fields"):
            cutters = {c.value: c.value for c in Cutter}
            _choice(desk, ("shop", "cutter"), "what cuts the sheet", cutters, lambda now: now.shop.cutter.value)
            papers = {"A4": "A4", "Letter": "Letter"}
            _choice(desk, ("shop", "paper"), "paper for templates", papers, lambda now: now.shop.paper)
            for key, words in SHOP.items():
                _field(desk, ("shop", key), words, partial(_of_shop, desk, key))
            for tool, words in TOOLS.items():
                _field(desk, ("instrument", tool, "spread"), f"{words}: true to ±", partial(_of_tool, desk, tool))
        check = format_length(check_length_mm(desk.units), desk.units)
        ui.label(f"Paper templates: what a check length of {check} measures on your print.").classes("hs-faint")
        with ui.element("div").classes("hs-fields"):
            for key, words in PAPER_CHECK.items():
                _field(desk, ("shop", "paper_check", key), words, partial(_printed, desk, key))
            _field(desk, ("shop", "roll_width"), "width of a roll, if any", partial(_roll, desk))


def _of_shop(desk: Desk, key: str, build: Build) -> tuple[str, str]:
    name = next(n for n, f in type(build.shop).model_fields.items() if f.alias == key)
    value = getattr(build.shop, name)
    if build.shop.given(name):
        return (_written(value, name, desk), "")
    return ("", format_length(value, desk.units) if name.endswith("_mm") else _written(value, name, desk))


def _roll(desk: Desk, build: Build) -> tuple[str, str]:
    width = build.shop.roll_width_mm
    return ("" if width is None else length_to_write(width, desk.units), "")


def _printed(desk: Desk, key: str, build: Build) -> tuple[str, str]:
    told = build.shop.paper_check
    length = getattr(told, f"{key}_mm") if told is not None else None
    right = check_length_mm(desk.units) if told is None else told.length(desk.units)
    return ("" if length is None else length_to_write(length, desk.units), format_length(right, desk.units))


def _of_tool(desk: Desk, tool: str, build: Build) -> tuple[str, str]:
    row = instrument(tool)
    assumed = format_length(row.spread, desk.units) if row.unit == "mm" else f"{row.spread:g} deg"
    told = build.instrument[tool].spread if tool in build.instrument else None
    if isinstance(told, float):
        told = length_to_write(told, desk.units) if row.unit == "mm" else f"{told:g} deg"
    return ("" if told is None else told, assumed)


def _sheets(desk: Desk, build: Build) -> None:
    with look.panel("Sheets"):
        for name, sheet in build.sheet.items():
            ui.label(name).classes("hs-title hs-text")
            with ui.element("div").classes("hs-fields"):
                _field(desk, ("sheet", name, "thickness"), "thickness", partial(_thickness, desk, name))
                options = {m: m for m in dict.fromkeys((*materials(), sheet.material))}
                _choice(desk, ("sheet", name, "material"), "steel", options, partial(_material, name))
                _field(desk, ("sheet", name, "pivot_depth"), "pivot depth, from a coupon", partial(_pivot, desk, name))
        ui.label("Another sheet").classes("hs-title")
        with ui.element("div").classes("hs-fields"):
            new = _input("its name")
            thick = _input("its thickness, or gauge")

        def add() -> None:
            name, value = (new.value or "").strip(), value_of(thick.value or "")
            if not name or value is None:
                desk.say("A sheet wants a name and a thickness", "care")
                return
            values: Values = {("sheet", name): {"thickness": value}}
            desk.change(f"sheet {name} added", lambda folder: save_values(folder, values))

        look.button("Add the sheet", add)


def _thickness(desk: Desk, sheet: str, build: Build) -> tuple[str, str]:
    return (length_to_write(build.sheet[sheet].thickness_mm, desk.units), "")


def _material(sheet: str, build: Build) -> str:
    return build.sheet[sheet].material


def _pivot(desk: Desk, sheet: str, build: Build) -> tuple[str, str]:
    depth = build.sheet[sheet].pivot_depth_mm
    return ("" if depth is None else length_to_write(depth, desk.units), "worked out")


def _body(desk: Desk, build: Build, body: str) -> None:
    told = build.body[body]
    with look.panel(f"Measured on {body}"):
        names = ", ".join(told.point) or "no point yet"
        ui.label(f"{len(told.point)} points: {names}").classes("hs-text")
        with ui.element("div").classes("hs-fields"):
            typed = _input("more points, by name")
            side = _select("they lie", {"": "anywhere", "left": "left", "right": "right", "middle": "in the middle"})
            end = _select("at the", {"": "anywhere", "front": "front", "rear": "rear"})

        def add_points() -> None:
            hint = {key: field.value for key, field in (("side", side), ("end", end)) if field.value}
            points: Values = {
                ("body", body, "point", name): dict(hint)
                for name in names_of(typed.value or "")
                if name not in told.point
            }
            if not points:
                desk.say("Write the names of new points, such as RL1 RL2", "care")
                return
            desk.change(f"{len(points)} points of {body} added", lambda folder: save_values(folder, points))

        look.button("Add the points", add_points)
        for name, face in told.face.items():
            on = ", ".join(point.split(".")[-1] for point in face.points) or "no point yet"
            ui.label(f"face {name}, looks {face.looks.value}: {on}").classes("hs-text")
        with ui.element("div").classes("hs-fields"):
            face_name = _input("a flat face, by name")
            looks = _select("it looks, out of the metal", {way.value: way.value for way in FaceWay})
            points = _input("points that lie on it")

        def add_face() -> None:
            name, way = (face_name.value or "").strip(), looks.value
            if not name or not way:
                desk.say("A face wants a name and the way it looks", "care")
                return
            values: Values = {("body", body, "face", name): {"points": names_of(points.value or ""), "looks": way}}
            desk.change(f"face {name} of {body} added", lambda folder: save_values(folder, values))

        look.button("Add the face", add_face)


def _written(value: Any, name: str, desk: Desk) -> str:
    """As it may be saved again unchanged: a browser may send back what it was only shown."""
    if value is None:
        return ""
    if name.endswith("_mm"):
        return length_to_write(value, desk.units)
    return f"{value:g} {'deg' if name.endswith('_deg') else 'N'}"


def _input(words: str) -> ui.input:
    return ui.input(words).props("outlined")


def _select(words: str, options: Mapping[str, str]) -> ui.select:
    return ui.select(dict(options), label=words, value=next(iter(options))).props("outlined")


def _field(desk: Desk, keys: Keys, words: str, read: Callable[[Build], tuple[str, str]]) -> None:
    """One value of build.toml; saved on Enter or when the field is left, taken away when emptied.

    `read` gives what the build says and what is assumed where it says nothing.
    """
    made = ui.input(words).props("outlined")
    stands = shown = ""

    def show() -> None:
        nonlocal stands, shown
        if desk.build is None:
            return
        # as the files stand: the build that was worked last may be older than what was just saved from this field
        with suppress(KeyError, BuildProblems):
            said, assumed = read(desk.build_now())
            shown = said
            if (made.value or "") == stands:  # nothing typed that is not saved yet
                made.set_value(said)
            stands = said
            if assumed:
                made.props("stack-label").props["placeholder"] = assumed
                made.update()

    def keep() -> None:
        nonlocal stands
        text = (made.value or "").strip()
        # what is shown has fewer digits than what was typed: left as it is, it must not take the typed one's place
        if text in (stands, shown):
            return
        if desk.change(f"{words} changed", _saver(keys, value_of(text))):
            stands = text
        else:
            made.set_value(stands)

    made.on("blur", keep)
    made.on("keydown.enter", keep)
    show()
    look.follow(desk, show)


def _choice(desk: Desk, keys: Keys, words: str, options: Mapping[str, str], read: Callable[[Build], str]) -> None:
    made = ui.select(dict(options), label=words).props("outlined")
    stands: str | None = None

    def show() -> None:
        nonlocal stands
        if desk.build is None:
            return
        with suppress(KeyError):
            said = read(desk.build)
            if said != stands:
                stands = said
                made.set_value(said)

    def keep() -> None:
        if made.value != stands and not desk.change(f"{words} changed", _saver(keys, made.value)):
            made.set_value(stands)

    show()
    made.on_value_change(keep)
    look.follow(desk, show)


def _saver(keys: Keys, value: Any) -> Callable[..., object]:
    return lambda folder: save_values(folder, {keys: value})
