"""A bench on a free port over a copy of a build, and a real browser to look at it."""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import socket
import time
from collections.abc import Callable, Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from halfshaft.bench.workroom import Workroom
from halfshaft.build import new_build
from tests.bench.ready import Stable

CHROMIUM = "/usr/bin/chromium"
# 3D views are drawn by the processor, so that they draw on a machine without a graphics card; the rest of the page is
# put together without that detour
FLAGS = [
    "--no-sandbox",
    "--use-gl=angle",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-gpu-compositing",
    "--renderer-process-limit=1",  # one after the other: none is kept ready beside it
    "--disable-site-isolation-trials",
]
WAIT_MS = 60_000  # a busy machine; nothing here is a measure of speed
WORK_MS = 300_000
Told = TypeVar("Told")
expect.set_options(timeout=WAIT_MS)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A test with a real browser gets a second go, which the summary names: two programs meet here on a busy machine.

    What fails twice fails. Whoever sees a second go in the summary looks for the race behind it.
    """
    for item in items:
        if Path(__file__).parent in item.path.parents and "page" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.flaky(reruns=1))


@dataclass
class Bench:
    """A served bench: its build folder, its address, its process."""

    folder: Path
    address: str
    process: int

    @property
    def port(self) -> int:
        return int(self.address.rstrip("/").rsplit(":", 1)[1])

    def kill(self) -> None:
        """The hard way, as a power cut would."""
        with contextlib.suppress(ProcessLookupError):
            os.kill(self.process, signal.SIGKILL)
        wait_until(lambda: not self.runs, 10)

    @property
    def runs(self) -> bool:
        try:
            os.kill(self.process, 0)
        except ProcessLookupError:
            return False
        return True


def end(bench: Bench) -> None:
    """The ordinary way, and the hard one where that is not heard."""
    with contextlib.suppress(ProcessLookupError):
        os.kill(bench.process, signal.SIGTERM)
    with contextlib.suppress(AssertionError):
        wait_until(lambda: not bench.runs, 5)
    bench.kill()


@pytest.fixture(scope="session")
def stable() -> Iterator[Stable]:
    made = Stable()
    yield made
    made.close()


@pytest.fixture(scope="session")
def usual_port() -> int:
    """One port for bench after bench: the browser knows its scripts again and need not load them anew."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        return int(free.getsockname()[1])


@pytest.fixture
def open_bench(stable: Stable, usual_port: int) -> Iterator[Callable[..., Bench]]:
    """Serve any folder; every bench is ended with the test. `remembered`: see ready.py."""
    opened: list[Bench] = []

    def start(folder: Path, remembered: bool = True) -> Bench:
        port = 0 if any(bench.runs for bench in opened) else usual_port
        opened.append(Bench(folder, *stable.serve(folder, port, remembered)))
        return opened[-1]

    yield start
    for bench in opened:
        end(bench)


@pytest.fixture
def demo_folder(tmp_path: Path) -> Path:
    """A copy of the demonstration build."""
    folder = tmp_path / "demo"
    new_build(folder, demo=True)
    return folder


@pytest.fixture
def small_folder(tmp_path: Path) -> Path:
    """A copy of the starter build: one small bracket, worked in a moment."""
    folder = tmp_path / "small"
    new_build(folder)
    return folder


@pytest.fixture
def demo_bench(demo_folder: Path, open_bench: Callable[..., Bench]) -> Bench:
    return open_bench(demo_folder)


@pytest.fixture
def small_bench(small_folder: Path, open_bench: Callable[..., Bench]) -> Bench:
    return open_bench(small_folder)


@pytest.fixture
def empty_bench(tmp_path: Path, open_bench: Callable[..., Bench]) -> Bench:
    """A bench on a folder that is not there yet."""
    return open_bench(tmp_path / "new build")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's chromium. Its absence is a failure, for these tests are the only ones that see the pages."""
    if not Path(CHROMIUM).exists():
        pytest.fail(f"{CHROMIUM} is missing: install it with 'apt-get install chromium'", pytrace=False)
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def window(browser: Browser) -> Iterator[BrowserContext]:
    """One window of laptop size for page after page, so that scripts are read and compiled once."""
    opened = browser.new_context(viewport={"width": 1280, "height": 800}, accept_downloads=True)
    opened.set_default_timeout(WAIT_MS)
    yield opened
    opened.close()


@pytest.fixture
def page(window: BrowserContext) -> Iterator[Page]:
    """A page that fails the test on a script error."""
    made = window.new_page()
    errors: list[str] = []
    made.on("pageerror", lambda error: errors.append(str(error)))
    yield made
    made.close()
    assert errors == []


def settled(page: Page) -> None:
    """Wait until the page is connected and nothing is being worked any more."""
    page.wait_for_function("() => window.socket && window.socket.connected && window.did_handshake")
    page.locator(".hs-busy").wait_for(state="hidden", timeout=WORK_MS)


# where a triangle of a thing in a 3D view is on the screen: its middles, the largest triangle's first
_MIDDLES = """([css, name]) => {
  const box = document.querySelector(css), view = getElement(Number(box.id.slice(1)));
  const frame = box.querySelector("canvas").getBoundingClientRect(), found = [];
  const thing = [...view.objects.values()].map(one => one.mesh).find(mesh => mesh && mesh.name === name);
  thing.updateWorldMatrix(true, true);
  thing.traverse(part => {
    if (!part.isMesh) return;
    const spots = part.geometry.attributes.position;
    for (let at = 0; at + 2 < spots.count; at += 3) {
      const ends = [0, 1, 2].map(k => thing.position.clone().fromBufferAttribute(spots, at + k));
      const area = ends[1].clone().sub(ends[0]).cross(ends[2].clone().sub(ends[0])).length();
      const middle = ends[0].clone().add(ends[1]).add(ends[2]).divideScalar(3);
      const seen = part.localToWorld(middle).project(view.camera);
      found.push([area, frame.x + (seen.x + 1) / 2 * frame.width, frame.y + (1 - seen.y) / 2 * frame.height]);
    }
  });
  return found.sort((a, b) => b[0] - a[0]).map(([area, x, y]) => [x, y]); }"""


def on_screen(page: Page, view: str, name: str) -> list[tuple[float, float]]:
    """Where to tap for a thing of the 3D view with this class: middles of its triangles, that of the largest first."""
    return [(x, y) for x, y in page.evaluate(_MIDDLES, [view, name])]


def at_rest(page: Page, view: str, quiet_ms: int = 600) -> str:
    """Wait until a 3D view has not been drawn for a while; how often it had been."""
    return str(page.evaluate(_REST, [view, quiet_ms]))


_REST = """([css, quiet]) => new Promise((done, failed) => {
  const began = performance.now(), drawn = () => document.querySelector(css)?.dataset.drawn || "";
  let last = drawn(), since = began;
  const look = () => {
    const now = performance.now();
    if (drawn() !== last) { last = drawn(); since = now; }
    if (last && now - since > quiet) done(last);
    else if (now - began > 60000) failed("the 3D view does not come to rest");
    else setTimeout(look, 50); };
  look(); })"""


def redrawn(page: Page, view: str, act: Callable[[], object]) -> None:
    """Do something that changes a 3D view, and wait until it has been drawn so and rests."""
    before = at_rest(page, view)
    act()
    page.wait_for_function("([css, was]) => document.querySelector(css).dataset.drawn !== was", arg=[view, before])
    at_rest(page, view)


def wait_until(true: Callable[[], object], seconds: float = 120.0) -> None:
    """Until it holds; an AssertionError when it never does."""
    deadline = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < deadline, "it never came about"
        time.sleep(0.05)


def run_alone(work: Coroutine[Any, Any, Told]) -> Told:
    """What the coroutine returns, run in a thread of its own: the browser keeps a loop running in this one."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, work).result()


@pytest.fixture(scope="session")
def room() -> Iterator[Workroom]:
    """One process in which the studies of all desks without a server are worked: it loads its libraries once."""
    made = Workroom()
    yield made
    made.close()
