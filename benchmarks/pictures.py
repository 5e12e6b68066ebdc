"""Pictures of the bench's pages on the demonstration, all or those named, and of a shop sheet, into docs/pictures."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import pypdfium2
from playwright.sync_api import Browser, sync_playwright

from halfshaft.bench.pages import PAGES
from halfshaft.build import new_build
from halfshaft.study import work
from tests.bench.conftest import CHROMIUM, FLAGS, WORK_MS, Bench, end, settled
from tests.bench.ready import Stable

HERE = Path(__file__).resolve().parent.parent / "docs" / "pictures"
SIZES = (("laptop", 1280, 800), ("tablet", 820, 1180))
DRAWN_MS = 3000  # for 3D views to have drawn their first frames
# what a page must be asked to work, and what it shows once that is done
TO_WORK = {
    "Work the mounts": ".hs-card",
    "Lay the modules out": ".hs-card",
    "Lay the parts on sheets": ".hn-whole svg",
    "Make the book": ".hk-paper",
}
# the folder that the picture was taken in is nobody's
_HOME = """home => { const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) walk.currentNode.data = walk.currentNode.data.replace(home, "/home/shop"); }"""


def main() -> None:
    HERE.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        folder = Path(name) / "demo"
        new_build(folder, demo=True)
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        stable = Stable()
        bench = Bench(folder, *stable.serve(folder))
        wanted = sys.argv[1:]
        for one in PAGES:
            if not wanted or one.title.lower() in wanted:
                _take(browser, bench, one.path, one.title.lower())
        if wanted:
            end(bench)
            stable.close()
            browser.close()
            return
        end(bench)
        empty = Bench(Path(name) / "new build", *stable.serve(Path(name) / "new build"))
        _take(browser, empty, "/start", "begin")
        end(empty)
        stable.close()
        browser.close()
        _sheet(folder)


def _sheet(folder: Path) -> None:
    """The first page of a shop sheet, for the README."""
    work(folder)
    page = pypdfium2.PdfDocument(folder / "out" / "front_left" / "shop-sheet.pdf")[0]
    page.render(scale=80 / 72).to_pil().save(HERE / "shop-sheet.png")
    print("docs/pictures/shop-sheet.png")


def _take(browser: Browser, bench: Bench, path: str, title: str) -> None:
    for kind, wide, high in SIZES:
        for scheme in ("light", "dark"):
            context = browser.new_context(viewport={"width": wide, "height": high}, color_scheme=scheme)
            page = context.new_page()
            page.set_default_timeout(WORK_MS)
            page.goto(bench.address + path.lstrip("/"))
            settled(page)
            for button, done in TO_WORK.items():  # once: what is worked stays
                if page.get_by_role("button", name=button, exact=True).count() and not page.locator(done).count():
                    page.get_by_role("button", name=button, exact=True).click()
                    page.locator(done).first.wait_for()
                    settled(page)
            page.wait_for_timeout(DRAWN_MS)
            page.evaluate(_HOME, str(bench.folder.parent))
            page.screenshot(path=HERE / f"{title}-{kind}-{scheme}.png")
            print(f"docs/pictures/{title}-{kind}-{scheme}.png")
            context.close()


if __name__ == "__main__":
    main()
