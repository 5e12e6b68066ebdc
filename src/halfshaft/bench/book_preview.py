"""A page of the book to be shown inside a page of the bench: its text in, what may be shown and its jump list out.

The file lies in the build folder, where anybody may have put another: only what the book itself is made of is let
through, and a page that holds anything else is not shown.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from html.parser import HTMLParser

PREFIX = "book-"
_TAGS = {
    *("h1", "h2", "h3", "p", "nav", "ul", "ol", "li", "a", "section", "div", "span", "strong", "figure", "figcaption"),
    *("table", "thead", "tbody", "tr", "th", "td", "svg", "path", "text"),
}
_ATTRIBUTES = {
    *("class", "href", "aria-label", "role", "colspan", "xmlns", "viewbox", "width", "height", "d", "x", "y"),
    *("fill", "fill-rule", "stroke", "stroke-width", "stroke-linecap", "stroke-linejoin", "stroke-dasharray"),
    *("text-anchor", "dominant-baseline", "font-size", "font-weight", "font-style", "paint-order", "transform"),
}
_MAIN = re.compile(r"<main>(.*)</main>", re.DOTALL)
_NAV = re.compile(r"<nav .*?</nav>", re.DOTALL)
_SECTION = re.compile(r'<section id="([^"]*)"><h2>(.*?)</h2>')


@dataclass(frozen=True, slots=True)
class Preview:
    """`body` is markup; `jumps` are an id and a title, as markup, for each section."""

    body: str
    jumps: tuple[tuple[str, str], ...]


class _Checked(HTMLParser):
    """What of a page is not made as the book is made."""

    def __init__(self) -> None:
        super().__init__()
        self.strange = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in _TAGS:
            self.strange = self.strange or f"<{tag}>"
        for name, value in attrs:
            known = name in _ATTRIBUTES or (name, tag) == ("id", "section")
            if not known or (name == "href" and not (value or "").startswith("#")):
                self.strange = self.strange or f"{name} of <{tag}>"

    def handle_decl(self, decl: str) -> None:
        self.strange = self.strange or "a declaration"

    def handle_comment(self, data: str) -> None:
        self.strange = self.strange or "a comment"

    def handle_pi(self, data: str) -> None:
        self.strange = self.strange or "an instruction"

    def unknown_decl(self, data: str) -> None:
        self.strange = self.strange or "a declaration"


def preview(text: str) -> Preview:
    """Raises ValueError, in words, for a page that the book did not make."""
    checked, found = _Checked(), _MAIN.search(text)
    if found is not None:
        checked.feed(found.group(1))
        checked.close()
    if checked.strange or found is None:
        what = checked.strange or "no page"
        raise ValueError(f"the file holds {what}, which no book has; make the book anew")
    body = _NAV.sub("", found.group(1))
    body = body.replace('<section id="', f'<section id="{PREFIX}')
    jumps = tuple((PREFIX + key, title) for key, title in _SECTION.findall(found.group(1)))
    return Preview(body, jumps)
