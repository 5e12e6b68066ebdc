"""How the bench looks: colours, symbols, the frame round each page, and the few pieces that pages are made of.

There is no utility-class framework on the page: pieces are styled by the classes of look.css and by `.style`.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from importlib.resources import files
from typing import TYPE_CHECKING, Any, cast

from nicegui import ui

from halfshaft.bench.desk import Desk
from halfshaft.bench.region import Region, apart, put
from halfshaft.bench.telling import Mood, Topic, Word
from halfshaft.checks import Check

if TYPE_CHECKING:
    from halfshaft.bench.page import Page

# M. Okabe, K. Ito, Color Universal Design, 2002, rev. 2008: eight colours told apart by colour-blind eyes;
# values as in B. Wong, Points of view: Color blindness, Nature Methods 8 (2011) 441
BLACK, ORANGE, SKY, GREEN, YELLOW, BLUE, VERMILLION, PURPLE = (
    "#000000", "#e69f00", "#56b4e9", "#009e73", "#f0e442", "#0072b2", "#d55e00", "#cc79a7",
)  # fmt: skip
MOOD_FILL: dict[str, str] = {"bad": VERMILLION, "care": ORANGE, "note": SKY, "good": GREEN}
MOOD_WORD: dict[str, str] = {"bad": "stop", "care": "caution", "note": "note", "good": "good"}
# bodies in a 3D view, in the order to use them: seen on the light ground and on the dark one, told apart by all eyes
BODIES = ("#3a78d8", "#b27a00", "#1b994b", "#c050a0")
TOUCH_PX = 48  # least size of what a finger hits

# a shape for each mood, so that colour is never alone: bar, wedge, ring, tick
_SHAPE = {
    "bad": '<rect x="2" y="2" width="16" height="16" rx="2"/><path d="M6 10h8" stroke="#fff" stroke-width="3"/>',
    "care": '<path d="M10 2 L19 18 H1 Z"/><path d="M10 8v4M10 14.5v1" stroke="#000" stroke-width="2"/>',
    "note": '<circle cx="10" cy="10" r="8"/><path d="M10 9v6M10 5v1" stroke="#000" stroke-width="2"/>',
    "good": '<circle cx="10" cy="10" r="9"/><path d="M5.5 10.5l3 3 6-7" stroke="#fff" stroke-width="2.4" fill="none"/>',
}
# the same shapes, as a passing word wants them
_SIGN = {
    "bad": "M2 3 H22 V21 H2 Z M6 10.5 V13.5 H18 V10.5 Z",
    "care": "M12 2 L23 21 H1 Z M11 9 V15 H13 V9 Z M11 16.5 V18.5 H13 V16.5 Z",
    "note": "M12 2 A10 10 0 1 0 12.01 2 Z M11 11 V18 H13 V11 Z M11 6 V8.5 H13 V6 Z",
    "good": "M4 11 L10 17 L21 4 L23 6 L10 21 L2 13 Z",
}
UNDO = "M9 6 L4 11 L9 16 M4 11 H14 a5 5 0 0 1 0 10 H11"
REDO = "M15 6 L20 11 L15 16 M20 11 H10 a5 5 0 0 0 0 10 H13"
LAMP = "M12 3 a6 6 0 0 1 3.5 10.9 V17 H8.5 V13.9 A6 6 0 0 1 12 3 Z M9.5 20.5 H14.5"
FAVICON = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 24 24" fill="none" stroke="#0072b2" stroke-width="2.4">'
    '<path d="M2 12 H7 M17 12 H22 M7 8 V16 L12 12 Z M17 8 V16 L12 12 Z"/></svg>'
)
RULE = "M3 8 H21 V16 H3 Z M7 8 V12 M11 8 V11 M15 8 V12 M19 8 V11"


def mood_of(check: Check) -> Mood:
    """Mood of a check as it stands: passed is good, failed goes by its severity."""
    if check.ok:
        return "good"
    moods: dict[str, Mood] = {"stop": "bad", "caution": "care", "note": "note"}
    return moods[check.severity.value]


def colours(dark: bool) -> dict[str, str]:
    """Ground, ink and line colours for 3D views and charts, which do not read the style sheet."""
    if dark:
        return {"ground": "#142737", "ink": "#edf2f5", "faint": "#a3b5c2", "line": "#31495c", "mark": SKY}
    return {"ground": "#faf8f3", "ink": "#191e23", "faint": "#565e66", "line": "#bdb7a9", "mark": BLUE}


def symbol(path: str, size_px: int = 28) -> ui.html:
    """A line symbol from an SVG path on a 24 x 24 grid. `path` must be one of ours, never text from a file."""
    svg = f'<svg width="{size_px}" height="{size_px}" viewBox="0 0 24 24" aria-hidden="true"><path d="{path}"/></svg>'
    return ui.html(svg, sanitize=False).classes("hs-symbol")


def shape(mood: Mood, size_px: int = 20) -> str:
    """The shape of a mood as SVG text, for the templates of tables."""
    fill = MOOD_FILL[mood]
    return f'<svg width="{size_px}" height="{size_px}" viewBox="0 0 20 20" fill="{fill}">{_SHAPE[mood]}</svg>'


def mark(mood: Mood, words: str = "") -> ui.element:
    """A mood as shape, colour and word at once."""
    with ui.element("span").classes(f"hs-mark hs-{mood}") as made:
        fill = MOOD_FILL[mood]
        ui.html(f'<svg width="20" height="20" viewBox="0 0 20 20" fill="{fill}">{_SHAPE[mood]}</svg>', sanitize=False)
        ui.label(words or MOOD_WORD[mood])
    return made


def button(words: str, on_click: Callable[..., Any], kind: str = "", path: str = "", say: str = "") -> ui.button:
    """A large button. `kind`: '' ordinary, 'main' the one to press next, 'plain' without a border.

    `path` is a line symbol before the words; `say` names it for a screen reader where there are no words.
    """
    made = ui.button(on_click=on_click, color=None).props("unelevated no-caps").classes("hs-button")
    if kind:
        made.classes(f"hs-{kind}")
    if say:
        made.props["aria-label"] = say
        made.tooltip(say)
    with made, ui.element("span").classes("hs-row hs-row-tight"):
        if path:
            symbol(path, 24)
        if words:
            ui.label(words)
    return made


def press(button: ui.button, on: bool, says: str, classes: str = "hs-on") -> None:
    """Show a button of several as the one that holds; `says` is what tells a screen reader, as 'aria-pressed'."""
    put(button, says, "true" if on else "false")
    button.classes(add=classes if on else "", remove="" if on else classes)


def words_of(button: ui.button) -> ui.label:
    """The words on a button made by `button`, to be changed while it stays."""
    words = button.default_slot.children[0].default_slot.children[-1]
    assert isinstance(words, ui.label)
    return words


def panel(title: str = "", edge: Mood | None = None) -> ui.element:
    """A sheet on the bench to put things on, as a context."""
    made = ui.element("section").classes("hs-panel" + (f" hs-edge-{edge}" if edge else ""))
    if title:
        with made:
            heading(title)
    return made


def heading(words: str, level: int = 2) -> ui.label:
    """A title that a screen reader can go to."""
    return ui.label(words).classes("hs-title").props(f'role="heading" aria-level="{level}"')


def row() -> ui.element:
    return ui.element("div").classes("hs-row")


def column() -> ui.element:
    return ui.element("div").classes("hs-column")


def link(words: str, path: str) -> ui.link:
    """A way to another page, as large as a button. `path` is one of ours."""
    return ui.link(words, path).classes("hs-link")


def follow(desk: Desk, call: Callable[..., None], topic: Topic = "change") -> None:
    """Call `call` in this browser's page after each change of the desk, until the page or its box is gone."""
    client, box = ui.context.client, ui.context.slot.parent

    def inside(*told: object) -> None:
        if box.is_deleted:
            leave()
            return
        with client.content:
            call(*told)

    leave = desk.subscribe(inside, topic)
    client.on_delete(leave)


def frame(desk: Desk, page: Page, pages: tuple[Page, ...]) -> None:
    """The whole page: name, what is busy and tools on top, the pages to go to, and in the middle `page.draw`."""
    dark = ui.dark_mode(desk.dark)
    ui.colors(primary=BLUE, secondary=SKY, accent=ORANGE, positive=GREEN, negative=VERMILLION, warning=ORANGE, info=SKY)
    with ui.element("div").classes("hs-bench"):
        with ui.element("header").classes("hs-top"):
            name = apart("hs-name")
            with apart("hs-busy") as busy:
                _busy(desk, busy)
            with apart("hs-tools"):
                _top(desk, name, dark)
        with apart("hs-rail", "nav").props('aria-label="pages"'):
            _rail(desk, page, pages)
        with ui.element("main").classes("hs-work"):
            _faults(desk)
            page.draw(desk)
    _keys(desk)
    follow(desk, _toast, "word")


def add_sheet(*names: str) -> None:
    """Style sheets of a page, by their names without the ending."""
    for name in names:
        ui.add_css(files("halfshaft.bench").joinpath(f"{name}.css").read_text(encoding="utf-8"))


def style() -> None:
    """Put the style sheet and our own few scripts on every page."""
    ui.add_css(files("halfshaft.bench").joinpath("look.css").read_text(encoding="utf-8"), shared=True)
    calm_script = files("halfshaft.bench").joinpath("calm.js").read_text(encoding="utf-8")
    ui.add_head_html(f"<script>{calm_script}</script>", shared=True)
    ui.add_head_html(_KEYS, shared=True)


def calm(scene: ui.scene) -> None:
    """Let a 3D view be drawn only when something in it has changed."""
    scene.on("init", js_handler=f"() => hsCalm({scene.id})")


def later(draw: Callable[[], None], seconds: float = 0.0) -> ui.element:
    """A box that is filled once the page is there: what takes long to draw does not keep the rest from being used.

    `seconds` after that, where the browser itself has much to do with it.
    """
    box = ui.element("div")

    def fill() -> None:
        if not box.is_deleted:
            with box:
                draw()

    ui.timer(seconds, fill, once=True)
    return box


def one_message(scene: ui.scene) -> AbstractContextManager[object]:
    """What is drawn inside goes to the browser together, where the library can: hundreds of messages are slow."""
    together = getattr(scene, "_batch_calls", nullcontext)
    return cast(AbstractContextManager[object], together())


# outside a field the browser would undo the last typing and move into its field; there the key is the bench's own
_KEYS = """<script>document.addEventListener("keydown", (e) => {
  const at = document.activeElement ? document.activeElement.tagName : "";
  if ((e.ctrlKey || e.metaKey) && e.key.toLowerCase() === "z" && !["INPUT", "TEXTAREA", "SELECT"].includes(at))
    e.preventDefault();
});</script>"""


def _top(desk: Desk, name: ui.element, dark: ui.dark_mode) -> None:
    with name:
        title = ui.label().props('role="heading" aria-level="1"')
    undo = button("", desk.undo, "plain", UNDO, "undo")
    redo = button("", desk.redo, "plain", REDO, "redo")

    def other_units() -> None:
        desk.units = "inch" if desk.units == "metric" else "metric"

    units = button("mm", other_units, "plain", RULE)
    units.props["aria-label"] = "show metric or inch"
    words = words_of(units)

    def lamp() -> None:
        desk.dark = {None: True, True: False, False: None}[desk.dark]
        dark.set_value(desk.dark)
        _toast(Word({None: "as the machine", True: "dark", False: "light"}[desk.dark], "note"), 1200)

    button("", lamp, "plain", LAMP, "dark, light, or as the machine")

    def show() -> None:
        title.set_text(desk.build.build.name if desk.build else desk.folder.name)
        undo.set_enabled(bool(desk.can_undo))
        redo.set_enabled(bool(desk.can_redo))
        put(undo, "aria-label", f"undo {desk.can_undo}".strip())
        put(redo, "aria-label", f"redo {desk.can_redo}".strip())
        words.set_text("mm" if desk.units == "metric" else "inch")

    show()
    follow(desk, show)


def _busy(desk: Desk, box: ui.element) -> None:
    words = ui.label().classes("hs-words").props('role="status"')
    with ui.element("div").classes("hs-gauge"):
        bar = ui.element("div")
    stop = button("Stop", desk.stop)
    again = button("Work it again", desk.work)

    def show() -> None:
        box.set_visibility(desk.busy is not None or desk.stopped)
        share, told = desk.busy or (0.0, "stopped")
        words.set_text(told)
        bar.style(f"width: {100 * share:.0f}%")
        stop.set_visibility(desk.busy is not None)
        again.set_visibility(desk.busy is None)

    show()
    follow(desk, show, "progress")
    follow(desk, show)


def _rail(desk: Desk, here: Page, pages: tuple[Page, ...]) -> None:
    told: list[tuple[Page, ui.label]] = []
    for page in pages:
        with ui.link(target=page.path).classes("hs-tab" + (" hs-here" if page is here else "")) as tab:
            if page is here:
                tab.props('aria-current="page"')
            symbol(page.symbol, 32)
            ui.label(page.title)
            told.append((page, ui.label().classes("hs-told")))

    def show() -> None:
        for page, words in told:
            words.set_text(page.told(desk.study) if desk.study else "")

    show()
    follow(desk, show)


def _faults(desk: Desk) -> None:
    """Why the folder cannot be read now; what stands below is from before."""
    box = apart("hs-panel hs-edge-bad", "section")

    def draw() -> None:
        box.set_visibility(bool(desk.problems))
        mark("bad", "The build folder cannot be worked as it stands")
        for problem in desk.problems[:20]:
            where = f"{problem.file} line {problem.line}" if problem.line else problem.file
            ui.label(f"{where}: {problem.found}. {problem.write}").classes("hs-text")
        with row():
            link("Mend it in the text", "/start?write=here")
            if desk.study:
                ui.label("What is shown below is from before.").classes("hs-faint")

    region = Region(box, lambda: (desk.problems, desk.study is None), draw)
    region.show()
    follow(desk, region.show)


def _keys(desk: Desk) -> None:
    def pressed(event: Any) -> None:
        if event.action.keydown and (event.modifiers.ctrl or event.modifiers.meta) and event.key.name.lower() == "z":
            if event.modifiers.shift:
                desk.redo()
            else:
                desk.undo()

    ui.keyboard(pressed, ignore=["input", "select", "textarea"])


def _toast(word: Word, stay: int = 0) -> None:
    stay = stay or (9000 if word.mood == "bad" else 4000)
    ui.notify(
        word.words, position="top", timeout=stay, close_button="Close", classes=f"hs-toast hs-{word.mood}",
        icon=_SIGN[word.mood], color="toast", textColor="toast",  # look.css colours it: no class of the library shall
    )  # fmt: skip
