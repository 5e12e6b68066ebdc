"""What a bracket may have besides panels, holes and folds: stiffeners, joined plates, drawn outlines, lips, its twin.

What the builder picked comes in; paths and values of build.toml go out, saved by the desk.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from typing import Any

from nicegui import ui

from halfshaft.bench import look
from halfshaft.bench.bracket_edit import Keys, fresh_name, names_of, save, short
from halfshaft.bench.bracket_fields import Form, Saver, build_now, choice
from halfshaft.bench.bracket_holes import draw_hole, hole_choices, usual_bolt
from halfshaft.bench.desk import Desk
from halfshaft.bench.typed import value_of
from halfshaft.build.catalogue import bolts
from halfshaft.build.schema import BracketInput, HoleInput, JoinInput, PanelInput, StiffenerInput
from halfshaft.build.units import MM_PER_INCH, format_angle, format_length, length_to_write
from halfshaft.build.value import UnitSystem
from halfshaft.study import Study

EDGES = {
    edge: f"{edge} edge" if edge == "longest" else f"edge toward {edge}"
    for edge in ("longest", "left", "right", "up", "down", "front", "rear")
}
TOWARD = {"away": "away from the body", "body": "toward the body"}
HELD = {"bolts": "bolts", "lip": "a lip that hooks on an edge"}
NO_TWIN = "one"


def extras_structure(told: BracketInput) -> Any:
    """What decides which of these fields there are."""
    joins = [(join.on, join.cover, tuple((b.at, b.shape == "slot") for b in join.bolts)) for join in told.join]
    gussets = [(wish.between, wish.ends) for wish in told.gusset]
    return (tuple(told.stiffener), joins, gussets, tuple(panel.lip for panel in told.panel.values()))


# values


def stiffener_values(name: str, told: BracketInput, on: str, height: str) -> dict[Keys, Any]:
    """One more stiffener along the longest free edge of a panel."""
    key = fresh_name("rib", [*told.panel, *told.stiffener])
    return {("bracket", name, "stiffener", key): {"on": on, "height": value_of(height)}}


def join_values(name: str, told: BracketInput, on: str, hole: dict[str, Any]) -> dict[Keys, Any]:
    """One more plate that is bolted on a panel and comes off, with its first bolt."""
    taken = [*told.panel, *told.stiffener, *(join.cover for join in told.join)]
    join = {"on": on, "cover": fresh_name("lid", taken), "bolts": [hole]}
    if told.join:
        return {("bracket", name, "join", len(told.join)): join}
    return {("bracket", name, "join"): [join]}


def without_join(name: str, told: BracketInput, number: int) -> dict[Keys, Any]:
    """A joined plate out, and the panel that told its plane where there is one."""
    cover = told.join[number].cover
    keys: Keys = ("bracket", name, "join")
    out: dict[Keys, Any] = {(*keys, number) if len(told.join) > 1 else keys: None}
    if cover in told.panel:
        out |= without_flat(name, told, "panel", cover)
    return out


def without_flat(name: str, told: BracketInput, kind: str, key: str) -> dict[Keys, Any]:
    """A panel or stiffener out, with what hangs on it; the last of a list first, so that the numbers before stay."""
    out: dict[Keys, Any] = {}
    hanging = [rib for rib, wish in told.stiffener.items() if wish.on == key] if kind == "panel" else []
    gone = {key, *hanging}
    out |= _without(("bracket", name, "folds"), [bool(gone & set(fold.between)) for fold in told.folds])
    out |= _without(("bracket", name, "join"), [key in (join.on, join.cover) for join in told.join])
    out |= _without(("bracket", name, "gusset"), [bool(gone & set(wish.between)) for wish in told.gusset])
    for rib in hanging:
        out["bracket", name, "stiffener", rib] = None
    out["bracket", name, kind, key] = None
    return out


def _without(at: Keys, gone: list[bool]) -> dict[Keys, Any]:
    """Rows of a list out; the whole list where none is left."""
    if gone and all(gone):
        return {at: None}
    return {(*at, number): None for number in reversed(range(len(gone))) if gone[number]}


def lip_values(at: Keys, wish: PanelInput, held: str) -> dict[Keys, Any]:
    """A panel as a lip, or bolted again: what only a lip has is taken away with it."""
    if held == "lip":
        return {(*at, "lip"): True}
    out: dict[Keys, Any] = {}
    if wish.given("lip"):
        out[(*at, "lip")] = None
    if wish.given("lip_depth_mm"):
        out[(*at, "lip_depth")] = None
    return out


def twin_values(name: str, told: BracketInput, which: str) -> dict[Keys, Any]:
    """The mirrored part for the other side, or not."""
    if which != NO_TWIN:
        return {("bracket", name, "twin"): True}
    return {("bracket", name, "twin"): None} if told.given("twin") else {}


def outline_of(text: str) -> list[Any] | None:
    """Corners as build.toml has them, from a line each: a point's name, or forward, left and up. None for no line."""
    corners: list[Any] = []
    for line in (line.strip() for line in text.splitlines()):
        if not line:
            continue
        parts = [value_of(part) for part in (line.split(";") if ";" in line else line.replace(",", " ").split())]
        numbers = all(isinstance(part, (int, float)) for part in parts)
        corners.append(parts if len(parts) == 3 and (numbers or ";" in line) else line)
    return corners or None


def outline_text(corners: Iterable[str | tuple[float, float, float]], units: UnitSystem, points: list[str]) -> str:
    """Corners a line each, as `outline_of` reads them: numbers in the units of the build."""
    per_mm = 1.0 / MM_PER_INCH if units == "inch" else 1.0
    lines = []
    for corner in corners:
        if isinstance(corner, str):
            lines.append(short(corner, points))
        else:
            lines.append(" ".join(f"{round(v * per_mm, 4):.12g}" for v in corner))
    return "\n".join(lines)


# fields


def draw_shape(
    desk: Desk, form: Form, study: Study, at: Keys, key: str, panel: PanelInput, own: Callable[[], PanelInput]
) -> None:
    """How a panel holds, and its outline where it is drawn by hand."""
    points = names_of(study.build, "point")

    def held(value: str) -> None:
        save(desk, f"how {key} holds", lip_values(at, own(), value))

    def outline() -> str:
        return outline_text(own().outline, build_now(desk).build.units, points)

    def draw(text: str) -> bool:
        return save(desk, f"outline of {key}", {(*at, "outline"): outline_of(text)})

    def corner(point: str) -> None:
        more = [*(outline_of(outline()) or []), short(point, points)]
        if len(more) < 3:
            waiting.append(more[-1])
            more = [*(outline_of(outline()) or []), *waiting]
        if len(more) >= 3:
            waiting.clear()
            save(desk, f"outline of {key}", {(*at, "outline"): more})
        else:
            desk.say(f"{len(more)} of three corners: {', '.join(map(str, more))}", "note")

    def length(read: Callable[[], float | None]) -> Callable[[], str]:
        return lambda: length_to_write(value, desk.units) if (value := read()) is not None else ""

    waiting: list[Any] = []
    with look.row().classes("hb-fields"):
        form.choice("held by", HELD, lambda: "lip" if own().lip else "bolts", held)
        if panel.lip:
            depth = length(lambda: own().lip_depth_mm)
            form.cell("depth of the lip", depth, Saver(desk, f"lip of {key}", (*at, "lip_depth")), "how far it reaches")
        rounded = length(lambda: own().round_mm)
        form.cell("corners rounded by", rounded, Saver(desk, f"corners of {key}", (*at, "round")), "radius")
    with ui.expansion(f"Outline of {key}: " + ("drawn by you" if panel.outline else "left to the bench")).classes(
        "hs-fold-out"
    ):
        ui.label(
            "Three corners or more, in turn round the panel, a line each: a point's name, or how far forward, left "
            "and up, such as 262 378 632 or 10 in; 15 in; 25 in. Empty: the bench draws it."
        ).classes("hs-faint hs-text")
        form.cell(f"corners of {key}", outline, draw, lines=True)
        choice(f"add a corner of {key} at", {p: p for p in study.measured.points}, lambda: None, corner)


def draw_stiffeners(desk: Desk, form: Form, name: str, told: BracketInput) -> None:
    """Lips folded up along a free edge, so that a panel does not bend."""
    picked = {"on": next(iter(told.panel), ""), "height": "20 mm"}

    def add() -> None:
        now = build_now(desk).bracket[name]
        save(desk, f"stiffener on {picked['on']}", stiffener_values(name, now, picked["on"], picked["height"]))

    with look.panel("Stiffeners"):
        if not told.stiffener:
            ui.label("None: no free edge is folded up.").classes("hs-faint")
        for key in told.stiffener:
            _stiffener(desk, form, name, told, key)
        with look.row():
            choice(
                "new stiffener on",
                {panel: panel for panel in told.panel},
                lambda: picked["on"],
                lambda value: picked.update(on=value),
            )
            ui.input(
                "its height", value=picked["height"], on_change=lambda e: picked.update(height=str(e.value or ""))
            ).props("outlined").classes("hb-field")
            look.button("Add the stiffener", add)


def _stiffener(desk: Desk, form: Form, name: str, told: BracketInput, key: str) -> None:
    at: Keys = ("bracket", name, "stiffener", key)

    def own() -> StiffenerInput:
        return build_now(desk).bracket[name].stiffener[key]

    def keep(field: str) -> Callable[[str], bool]:
        return Saver(desk, f"{field} of {key}", (*at, field))

    def leave_out() -> None:
        save(desk, f"stiffener {key} out", without_flat(name, build_now(desk).bracket[name], "stiffener", key))

    with ui.element("div").classes("hb-hole"):
        ui.label(key).classes("hb-point")
        form.choice(f"{key} on panel", {panel: panel for panel in told.panel}, lambda: own().on, keep("on"))
        form.choice(f"{key} along the", EDGES, lambda: own().edge, keep("edge"))
        form.cell(f"height of {key}", lambda: format_length(own().height_mm, desk.units), keep("height"))
        form.cell(f"{key} folded by", lambda: format_angle(own().angle_deg), keep("angle"), "90 deg when empty")
        form.choice(f"{key} turns", TOWARD, lambda: own().toward, keep("toward"))
        look.button("Leave out", leave_out, say=f"no stiffener {key}")


def draw_joins(desk: Desk, form: Form, study: Study, name: str, told: BracketInput) -> None:
    """Plates that are bolted on and come off."""

    def bolt_of(number: int, bolt: int) -> HoleInput:
        return build_now(desk).bracket[name].join[number].bolts[bolt]

    with look.panel("Joined plates"):
        if not told.join:
            ui.label("None: nothing comes off this bracket.").classes("hs-faint")
        for number, join in enumerate(told.join):
            at: Keys = ("bracket", name, "join", number)
            with look.row():
                ui.label(f"{join.cover}, bolted on {join.on}").classes("hs-title hs-grow")
                look.button(
                    "Take it off",
                    lambda n=number, c=join.cover: save(
                        desk, f"plate {c} off", without_join(name, build_now(desk).bracket[name], n)
                    ),
                    say=f"no plate {join.cover}",
                )
            for bolt, hole in enumerate(join.bolts):
                draw_hole(desk, form, (*at, "bolts", bolt), join.cover, hole, partial(bolt_of, number, bolt))
            _more_bolts(desk, study, (*at, "bolts"), join, told)
        _new_join(desk, study, name, told)


def _free(desk: Desk, study: Study, told: BracketInput, on: str, taken: Iterable[HoleInput]) -> dict[str, str]:
    """Points at which a joined plate may be bolted: not where the panel has a hole of its own."""
    panel = told.panel.get(on)
    used = [hole.at for hole in (panel.holes if panel else ())] + [hole.at for hole in taken]
    return hole_choices(study, desk.units, panel.face if panel else None, used)


def _hole_of(study: Study, point: str, bolt: str) -> dict[str, Any]:
    return {"at": short(point, names_of(study.build, "point")), "bolt": bolt}


def _more_bolts(desk: Desk, study: Study, at: Keys, join: JoinInput, told: BracketInput) -> None:
    options = _free(desk, study, told, join.on, join.bolts)
    bolt = join.bolts[-1].bolt if join.bolts else usual_bolt(told)

    def add(point: str) -> None:
        values: dict[Keys, Any] = {(*at, len(join.bolts)): _hole_of(study, point, bolt)}
        save(desk, f"bolt at {point} in {join.cover}", values)

    if options:
        choice(f"another bolt of {join.cover} at", options, lambda: None, add)


def _new_join(desk: Desk, study: Study, name: str, told: BracketInput) -> None:
    first = next(iter(told.panel), "")
    options = _free(desk, study, told, first, ())
    if not first or not options:
        return
    picked = {"on": first, "point": next(iter(options)), "bolt": usual_bolt(told)}

    def add() -> None:
        hole = _hole_of(study, picked["point"], picked["bolt"])
        values = join_values(name, build_now(desk).bracket[name], picked["on"], hole)
        save(desk, f"plate on {picked['on']}", values)

    with look.row():
        choice("new plate on", {p: p for p in told.panel}, lambda: picked["on"], lambda value: picked.update(on=value))
        choice("its first bolt at", options, lambda: picked["point"], lambda value: picked.update(point=value))
        choice("bolt", {b: b for b in bolts()}, lambda: picked["bolt"], lambda value: picked.update(bolt=value))
        look.button("Add the plate", add)
