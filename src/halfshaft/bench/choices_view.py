"""The trade that `halfshaft choose` has worked: its file of variants in, aims against each other and a table out."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from nicegui import ui
from numpy.typing import NDArray

from halfshaft.bench import chart, look
from halfshaft.bench.desk import Desk
from halfshaft.bench.plain_table import draw_table
from halfshaft.build import Build, BuildProblems, save_values
from halfshaft.build.choices import choices_of
from halfshaft.build.choose import AIMS
from halfshaft.tables import Table

FILE = Path("out") / "choose" / "variants.csv"
_SPREAD, _KEPT, _STANDS, _REFUSED = "cost ±", "unbeaten", "stands out as", "cannot be built"
_MOST_DOTS, _MOST_ROWS = 1500, 60
_LARGEST_BYTES = 20_000_000


@dataclass(frozen=True, eq=False)
class Variants:
    """Rows that can be built: words by part (n, p), numbers by aim (n, a) with NaN where never, the unbeaten (n,)."""

    parts: tuple[str, ...]
    aims: tuple[str, ...]
    words: tuple[tuple[str, ...], ...]
    numbers: NDArray[np.float64]
    kept: NDArray[np.bool_]
    stands: tuple[str, ...]
    refused: int


def stamp(folder: Path) -> tuple[int, int] | None:
    """When the file was written and how large it is; None where there is none."""
    try:
        told = (folder / FILE).stat()
    except OSError:
        return None
    return told.st_mtime_ns, told.st_size


def read_variants(folder: Path) -> Variants | None:
    """The file's rows; None where there is none, or it is not as the station writes it."""
    told = stamp(folder)
    if told is None or told[1] > _LARGEST_BYTES:
        return None
    try:
        with (folder / FILE).open(encoding="utf-8", newline="") as file:
            head, *rows = list(csv.reader(file))
        end = head.index(_SPREAD)
        begin = end - len(AIMS)
        built = [row for row in rows if not row[head.index(_REFUSED)]]
        numbers = [[float(cell) if cell else np.nan for cell in row[begin:end]] for row in built]
        kept = np.array([bool(row[head.index(_KEPT)]) for row in built])
        words = tuple(tuple(row[1:begin]) for row in built)
        stands = tuple(row[head.index(_STANDS)] for row in built)
    except (OSError, ValueError, IndexError, UnicodeDecodeError, csv.Error):
        return None
    if begin < 1 or not built:
        return None
    aims = tuple(head[begin:end])
    return Variants(tuple(head[1:begin]), aims, words, np.array(numbers), kept, stands, len(rows) - len(built))


class ChoicesView:
    """`show` looks whether the file is another; two drop-downs say which aims are drawn."""

    def __init__(self, box: ui.element, desk: Desk) -> None:
        self._box, self._desk, self._folder = box, desk, desk.folder
        self._seen: Any = ()
        self._found: Variants | None = None
        self._axes = [0, 0]
        self._drawn: ui.element | None = None

    def show(self) -> None:
        now = stamp(self._folder)
        if now == self._seen:
            return
        self._seen, self._found = now, read_variants(self._folder)
        self._box.clear()
        with self._box, look.panel("Choices"):
            if self._found is None:
                ui.label(
                    "Several packs, ratios, tyres or motors to choose from? Write [choose] in build.toml and run "
                    "'halfshaft choose': what each would do stands here."
                ).classes("hs-faint hs-text")
            else:
                self._begin(self._found)

    def _begin(self, found: Variants) -> None:
        varied = [n for n in range(len(found.aims)) if np.ptp(_finite(found.numbers[:, n])) > 0.0]
        cost = next((n for n in varied if found.aims[n].startswith("cost")), varied[-1] if varied else 0)
        self._axes = [cost, next((n for n in varied if n != cost), 0)]
        refused = f", {found.refused} more cannot be built" if found.refused else ""
        ui.label(f"{len(found.words)} variants{refused}; {int(found.kept.sum())} that no other beats in all.").classes(
            "hs-text"
        )
        options = dict(enumerate(found.aims))
        with ui.element("div").classes("hs-fields"):
            for place, words in enumerate(("along", "up")):
                ui.select(
                    options, value=self._axes[place], label=words, on_change=lambda e, p=place: self._take(p, e.value)
                ).props("outlined")
        self._drawn = look.column()
        self._draw()
        with ui.element("div").classes("hr-first"):
            for number, stands in enumerate(found.stands):
                if stands:
                    self._card(found, number)

    def _card(self, found: Variants, number: int) -> None:
        """A variant that stands out, and the way to take it."""
        chosen = dict(zip(found.parts, found.words[number], strict=True))
        with ui.element("div").classes("hr-fact hs-column"):
            ui.label(found.stands[number]).classes("hs-title")
            for part, option in chosen.items():
                ui.label(f"{part}: {option}").classes("hs-small hs-text")
            for aim, value in zip(found.aims, found.numbers[number], strict=True):
                ui.label(f"{aim}: {_number(value)}").classes("hs-small hs-num")
            look.button("Take this one", lambda: self._take_it(found.stands[number], chosen))

    def _take_it(self, stands: str, chosen: Mapping[str, str]) -> None:
        """Its keys are written into build.toml, as one step that can be undone."""
        try:
            values, adds = values_of(self._desk.build_now(), chosen)
        except (BuildProblems, ValueError) as why:
            self._desk.say(f"{why}: work the choices again", "care")
            return
        if self._desk.change(f"choice '{stands}'", lambda folder: save_values(folder, values)) and adds:
            self._desk.say(f"Put into the ledger what it adds to the car: {adds}", "note")

    def _take(self, place: int, aim: Any) -> None:
        self._axes[place] = int(aim)
        self._draw()

    def _draw(self) -> None:
        found, box = self._found, self._drawn
        if found is None or box is None:
            return
        box.clear()
        with box:
            drawn = _chart(found, *self._axes)
            if drawn is not None:
                chart.draw(drawn).style("max-width: 860px")
            ui.label("Large: no other variant beats it in every aim that counts. Small: some other does.").classes(
                "hs-faint hs-small hs-text"
            )
            draw_table(_table(found, self._axes[0]))


def values_of(build: Build, chosen: Mapping[str, str]) -> tuple[dict[Any, Any], str]:
    """What the options chosen, by part, write into the build; and in words what they add to its weight.

    Raises ValueError, in words, where the build no longer has such a part or option.
    """
    parts = build.choose.part if build.choose is not None else {}
    values: dict[Any, Any] = {}
    adds = []
    for part, option in chosen.items():
        told = dict(choices_of(parts[part])) if part in parts else {}
        if option not in told:
            raise ValueError(f"{part} '{option}' is no longer among the choices")
        one = told[option]
        values |= {key: list(value) if isinstance(value, tuple) else value for key, value in one.set.items()}
        if one.mass_kg:
            adds.append(f"{part} {one.mass_kg:+.0f} kg")
    return values, ", ".join(adds)


def _finite(values: NDArray[np.float64]) -> NDArray[np.float64]:
    seen = values[np.isfinite(values)]
    return seen if len(seen) else np.zeros(1)


def _axis(words: str, values: NDArray[np.float64]) -> chart.Axis:
    low, high = float(values.min()), float(values.max())
    step = chart.round_step(max(high - low, 1e-3 * max(abs(high), 1.0)) / 5.0)
    low, high = step * np.floor(low / step - 0.2), step * np.ceil(high / step + 0.2)
    return chart.Axis(words, float(low), float(high), lambda value: f"{value:,.10g}")


def _chart(found: Variants, along: int, up: int) -> chart.Chart | None:
    """Beaten ones as small dots, no more than can be told apart; the unbeaten ones all."""
    both = found.numbers[:, [along, up]]
    seen = np.isfinite(both).all(axis=1)
    if not seen.any():
        return None
    beaten = np.flatnonzero(seen & ~found.kept)
    beaten = beaten[:: -(-len(beaten) // _MOST_DOTS) or 1]
    kept = np.flatnonzero(seen & found.kept)
    spots = tuple(
        chart.Spot(found.stands[n], float(both[n, 0]), float(both[n, 1])) for n in kept.tolist() if found.stands[n]
    )
    return chart.Chart(
        f"{found.aims[up]} against {found.aims[along]} of {int(seen.sum())} variants",
        _axis(found.aims[along], both[seen, 0]),
        _axis(found.aims[up], both[seen, 1]),
        spots=spots,
        high_px=380.0,
        names=False,
        dots=(
            chart.Dots(both[beaten, 0], both[beaten, 1]),
            chart.Dots(both[kept, 0], both[kept, 1], rings=True),
        ),
    )


def _table(found: Variants, by: int) -> Table:
    """The unbeaten ones, by the aim that is drawn along."""
    kept: Sequence[int] = sorted(np.flatnonzero(found.kept).tolist(), key=lambda n: _order(found.numbers[n, by]))
    rows = tuple((*found.words[n], *(_number(v) for v in found.numbers[n]), found.stands[n]) for n in kept[:_MOST_ROWS])
    more = f", the first {_MOST_ROWS}" if len(kept) > _MOST_ROWS else ""
    first = len(found.parts)
    columns = (*found.parts, *found.aims, "")
    return Table(f"Unbeaten{more}", columns, rows, tuple(range(first, first + len(found.aims))))


def _number(value: float) -> str:
    if not np.isfinite(value):
        return "never"
    return f"{value:,.0f}" if abs(value) >= 100.0 else f"{value:.1f}"


def _order(value: float) -> float:
    return float(value) if np.isfinite(value) else float("inf")
