"""How soon the bench answers on the demonstration, each number beside what is asked of it.

- A page is ready when it is drawn, connected, and has its checks or tables in it: opened anew in headless chromium with
  an empty cache, while the build has been worked.
- An edit has shown its effect when the page says so: a row that is typed when it is told beside it whether it agrees; a
  thickness when the mass on the bracket's card is that of the other sheet, and when the flat pattern is. Until its
  chance of fit is known too, the page says that it is being worked. What is typed is worked ahead in a pause before
  Enter, so it is timed with one, and without.
- Before an edit the page has come to rest: its 3D views are drawn.
- While a study runs, the page's own heartbeat tells the longest time for which the bench did not answer.

Times are wall-clock and so of this machine under its load of the moment, which is printed too: the middle one of
several, and the best.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from playwright.sync_api import Browser, Page, sync_playwright

from halfshaft.bench.pages import PAGES
from halfshaft.build import new_build
from tests.bench.conftest import CHROMIUM, FLAGS, WORK_MS, Bench, end, settled
from tests.bench.ready import Stable

TIMES = 7
PAGE_SECONDS = 2.0
EDIT_SECONDS = 0.3
# what each page has in it once it is ready
READY = {
    "/": ".hs-check",
    "/measure": "tr.hs-m",
    "/place": ".hp-lines",
    "/brackets": ".hb-flat svg",
    "/mounts": ".hs-work .hs-panel .hs-main",
    "/pack": ".hs-work .hs-table",
    "/weights": ".hw-thing",
    "/road": ".hc-chart svg",
    "/sheets": ".hs-text",
    "/book": ".hs-text",
    "/revisions": ".hs-text",
    "/start": ".hs-fields input",
}
# asks for a small file again and again and keeps the longest wait
HEARTBEAT = """() => { window.longest = 0; window.beats = 0; const beat = async () => { const began = performance.now();
  await fetch("/favicon.ico", {cache: "no-store"}); window.beats += 1;
  window.longest = Math.max(window.longest, performance.now() - began); setTimeout(beat, 20); }; beat(); }"""


# when Enter was pressed, and when card, flat pattern and chance of fit were other ones
WATCH = r"""() => { window.watched = {};
  const card = () => document.querySelector(".hb-card.hs-here").textContent;
  const flat = () => [...document.querySelectorAll(".hb-parts .hs-faint")].map(told => told.textContent).join();
  const mass = words => (words.match(/[\d.]+ kg/) || [""])[0];
  document.addEventListener("keydown", event => {
    if (event.key === "Enter") window.watched = {key: performance.now(), mass: mass(card()), thick: flat()}; }, true);
  new MutationObserver(() => {
    const at = window.watched, now = performance.now(), words = card();
    if (at.key && !at.card && mass(words) !== at.mass) at.card = now;
    if (at.key && !at.flat && flat() !== at.thick) at.flat = now;
    if (at.card && at.flat && !at.chance && /fits/.test(words)) at.chance = now;
  }).observe(document.querySelector(".hs-work"), {subtree: true, childList: true, characterData: true}); }"""
# done once no turn of the page's own loop took long for most of a second
RESTED = """() => new Promise(done => { let last = performance.now(), calm = last; const turn = () => {
  const now = performance.now(); if (now - last > 60) calm = now; last = now;
  if (now - calm > 800) done(); else setTimeout(turn, 15); }; turn(); })"""


def main() -> None:
    print(f"load of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    print(f"{'what':44} {'middle':>7} {'best':>7} {'asked':>7}")
    stable = Stable()
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        folder = Path(name) / "demo"
        new_build(folder, demo=True)
        start = time.perf_counter()
        bench = Bench(folder, *stable.serve(folder, remembered=False))
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        page = _opened(browser)
        page.goto(bench.address)
        settled(page)
        page.locator(".hs-check").first.wait_for()
        _row("demo worked for the first time", [time.perf_counter() - start], None)
        page.context.close()
        for one in PAGES:
            _row(f"{one.title}: page ready", _ready(browser, bench, one.path), PAGE_SECONDS)
        _typed(browser, bench)
        _thickness(browser, bench)
        _stepped(browser, bench)
        browser.close()
        end(bench)
    stable.close()
    print(f"load of the machine {os.getloadavg()[0]:.1f} at the end")


def _row(what: str, seconds: list[float], asked: float | None) -> None:
    middle, best = statistics.median(seconds), min(seconds)
    told = ""
    if asked is not None:
        told = f"{asked:6.2f}s " + ("kept" if middle <= asked else "kept at best" if best <= asked else "missed")
    print(f"{what:44} {middle:6.2f}s {best:6.2f}s {told}")


def _opened(browser: Browser) -> Page:
    page = browser.new_context(viewport={"width": 1280, "height": 800}).new_page()
    page.set_default_timeout(WORK_MS)
    return page


def _ready(browser: Browser, bench: Bench, path: str) -> list[float]:
    took = []
    for _ in range(TIMES):
        page = _opened(browser)
        began = time.perf_counter()
        page.goto(bench.address + path.lstrip("/"))
        page.locator(READY[path]).first.wait_for()
        page.wait_for_function("() => window.socket && window.socket.connected")
        took.append(time.perf_counter() - began)
        page.context.close()
    return took


def _rested(page: Page) -> None:
    """Wait until the page has been free for most of a second: its 3D views are drawn."""
    page.evaluate(RESTED)


def _timed(page: Page, act: Callable[[], object], shown: str) -> float:
    """Seconds from an act to the moment at which `shown`, a condition in the browser, holds."""
    began = time.perf_counter()
    act()
    page.wait_for_function(shown, polling=20)
    return time.perf_counter() - began


def _typed(browser: Browser, bench: Bench) -> None:
    page = _opened(browser)
    page.goto(bench.address + "measure")
    page.locator("tr.hs-m").first.wait_for()
    settled(page)
    told = "() => document.querySelector('.hs-entry-told').innerText"
    page.locator(".hs-entry-points input").fill("WL1 WL2")
    took = []
    for number in range(TIMES):
        _rested(page)
        before = page.evaluate(told)
        value = f"{300 + number}"
        took.append(
            _timed(
                page,
                lambda value=value: page.locator(".hs-entry-value input").fill(value),
                f"() => ({told})() !== {before!r} && /agrees|slip|long|short/.test(({told})())",
            )
        )
    _row("Measure: effect of a row while it is typed", took, EDIT_SECONDS)
    page.evaluate(HEARTBEAT)
    began = time.perf_counter()
    page.locator(".hs-entry-value input").press("Enter")
    words = "document.querySelector('.hs-entry-told').innerText"
    page.wait_for_function(f"() => /being/.test({words})")
    page.wait_for_function(f"() => /worked|looks like a slip/.test({words}) && !/being worked/.test({words})")
    _row("Measure: saved row worked into all points", [time.perf_counter() - began], None)
    settled(page)
    _row("Measure: whole demo worked again", [time.perf_counter() - began], None)
    _row("    longest silence of the bench meanwhile", [page.evaluate("window.longest") / 1000], None)
    page.get_by_role("button", name="undo").click()
    settled(page)
    page.context.close()


def _stepped(browser: Browser, bench: Bench) -> None:
    page = _opened(browser)
    page.goto(bench.address + "weights")
    thing = page.locator("[data-thing='in:module_1']")
    thing.wait_for()
    settled(page)
    # drawn anew together: what it carries and what is said of the thing
    loads = "[...document.querySelectorAll('.hw-load, .hw-thing')].map(t => t.textContent + t.ariaLabel).join()"
    took = []
    for _ in range(TIMES):
        _rested(page)
        thing.focus()
        before = page.evaluate(loads)
        took.append(_timed(page, lambda: page.keyboard.press("ArrowRight"), f"() => {loads} !== {before!r}"))
    _row("Weights: loads of a thing that is moved", took, EDIT_SECONDS)
    page.context.close()


def _thickness(browser: Browser, bench: Bench) -> None:
    page = _opened(browser)
    page.goto(bench.address + "brackets?bracket=rear")
    page.locator(".hb-flat svg").first.wait_for()
    settled(page)
    page.get_by_role("tab", name="Change").click()
    field = page.get_by_label("thickness of sheet thin")
    field.wait_for()
    page.evaluate(WATCH)
    for how, rest in (("typed, then Enter", True), ("Enter with the last letter", False)):
        took: dict[str, list[float]] = {"card": [], "flat": [], "chance": []}
        for number in range(1, TIMES + 1):
            if not rest:
                _rested(page)
            page.evaluate("window.watched = {}")
            field.fill(f"{3 if rest else 4}.{number} mm")
            if rest:
                _rested(page)
            field.press("Enter")
            page.wait_for_function("() => window.watched.chance")
            shown = page.evaluate("window.watched")
            settled(page)
            for key, times in took.items():
                times.append((shown[key] - shown["key"]) / 1000)
        print(f"Brackets: another thickness, {how}")
        _row("    on its card", took["card"], EDIT_SECONDS)
        _row("    in its flat pattern", took["flat"], EDIT_SECONDS)
        _row("    its chance of fit", took["chance"], None)
    page.evaluate(HEARTBEAT)  # once more, for its own sake: the asking costs time too
    field.fill("5.1 mm")
    field.press("Enter")
    page.wait_for_function("() => window.watched.chance")
    settled(page)
    _row("    longest silence of the bench meanwhile", [page.evaluate("window.longest") / 1000], None)
    page.context.close()


if __name__ == "__main__":
    main()
