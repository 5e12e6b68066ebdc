"""Moves that are proposed: cards that stay while what they propose is worked anew, so that no tap is lost."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from nicegui import ui

from halfshaft.bench import look
from halfshaft.build.value import UnitSystem
from halfshaft.weights.words import length_words

if TYPE_CHECKING:
    from halfshaft.bench.weights_edit import Thing
    from halfshaft.weights.moves import Move

Act = Callable[["Move"], None]


@dataclass
class _Card:
    move: Move
    box: ui.element
    share: ui.label
    words: ui.label
    apply: ui.button


class Moves:
    """One card a move, drawn where this is made."""

    def __init__(self, show: Act, apply: Act) -> None:
        self._show, self._apply = show, apply
        self._cards: list[_Card] = []
        self._panel = look.panel("Moves that would bring the split nearer")

    def show(self, moves: Sequence[Move], own: Collection[Thing], units: UnitSystem) -> None:
        """These moves, those of things that are all the builder's `own` with a button that applies them."""
        self._panel.set_visibility(bool(moves))
        while len(self._cards) < len(moves):
            self._add(moves[len(self._cards)])
        for number, card in enumerate(self._cards):
            card.box.set_visibility(number < len(moves))
            if number >= len(moves):
                continue
            card.move = move = moves[number]
            card.share.set_text(f"{100.0 * move.front_share:.1f}/{100.0 - 100.0 * move.front_share:.1f}")
            card.words.set_text(f"{move.words}; centre {length_words(move.side_mm, units)} to the left")
            card.apply.set_visibility(all(("in", name) in own for name in move.to))

    def _add(self, move: Move) -> None:
        with self._panel, ui.element("div").classes("hw-move") as box:
            share = ui.label().classes("hs-title hs-num")
            words = ui.label().classes("hs-text")
            look.button("Show it", lambda: self._show(card.move))
            apply = look.button("Apply it", lambda: self._apply(card.move), "main")
        card = _Card(move, box, share, words, apply)
        self._cards.append(card)
