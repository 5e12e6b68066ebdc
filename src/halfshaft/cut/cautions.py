"""Usual cautions that go out with every file and sheet. The kind of work in, sentences out."""

from __future__ import annotations

CUTTING = (
    "Cut edges are sharp and stay hot: gloves, and a deburred edge before anything is handled.",
    "Eye protection for cutting, grinding and drilling; shade and dry ground for plasma; a fire watch after hot work.",
    "Zinc, paint and oil smoke when they are cut or welded and the smoke harms: strip them first, move the air away.",
)
FOLDING = (
    "A fold under a lever can let go at once: clamp the blank, stand aside of the lever, keep fingers out of the fold.",
    "A slit fold carries nothing until it is welded along its whole length.",
)
FRAME = (
    "A vehicle's frame carries people: cutting or welding it is for a qualified welder and the maker's repair rules.",
    "Local code rules: have the change seen and passed by whoever registers or inspects vehicles where you are.",
    "Before any cut or weld: battery off, fuel and brake lines out of the way, nothing behind the face.",
)
LOADS = (
    "These sheets say what fits. They do not say what it carries: that is a separate check by a licensed engineer.",
)
PAPER = (
    "Print at 100 %, never 'fit to page'. Measure the two check lengths on every sheet before you cut anything.",
    "Paper stretches with damp: for holes that must meet, prick through, then measure hole to hole on the metal.",
)
PAPER_SHORT = "Wear eye protection and gloves; edges are sharp and hot."
