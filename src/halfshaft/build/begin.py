"""A build of one's own, begun from answers. Answers and an empty folder in; build.toml and readings.csv out."""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path

from halfshaft.build.load import load
from halfshaft.build.new import emptied
from halfshaft.build.problems import BuildProblems, Problem
from halfshaft.build.value import UnitSystem
from halfshaft.build.whole import write_whole


@dataclass(frozen=True)
class Beginning:
    """What a build begins with. Values are as the builder writes them ('3/16 in'); an empty one is left unsaid."""

    name: str
    units: UnitSystem = "metric"
    shop: Mapping[str, str] = field(default_factory=dict)  # key of [shop] -> value
    tools: Mapping[str, str] = field(default_factory=dict)  # instrument -> spread
    sheets: Mapping[str, Mapping[str, str]] = field(default_factory=dict)  # name -> thickness, material
    bodies: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # name -> its points; the first is the car


def begin_build(folder: Path, told: Beginning) -> None:
    """Write the build into a folder that is empty or not there yet.

    Raises BuildProblems with every fault of the answers, or where the folder holds anything; nothing is written then.
    """
    folder = Path(folder)
    texts = {"readings.csv": _readings(), "build.toml": _build(told)}
    with tempfile.TemporaryDirectory(prefix="halfshaft-") as name:
        for file, text in texts.items():
            (Path(name) / file).write_text(text, encoding="utf-8")
        load(Path(name))
    emptied(folder)
    try:
        for file, text in texts.items():
            write_whole(folder / file, text.encode("utf-8"))
    except OSError as why:
        found = f"it cannot be written ({why.strerror or 'no reason given'})"
        raise BuildProblems([Problem(str(folder), 0, found, "Name another folder")]) from None


def _build(told: Beginning) -> str:
    lines = [
        "# Your build. Lines that start with # are notes: the bench leaves them alone, also when it saves.",
        f"# A number alone is in {'inches' if told.units == 'inch' else 'millimetres'}. In quotes any of these works:",
        '#     "412 mm"   "41.2 cm"   "14 3/16 in"   "2-1/2 in"   "11 ga" (sheet steel)   "1:12" or "5 %" (slopes)',
        "",
        "[build]",
        f"name = {_text(told.name)}",
        f"units = {_text(told.units)}",
        "",
        "[shop]",
        *_pairs(told.shop),
        "",
    ]
    for tool, spread in told.tools.items():
        if spread.strip():
            lines += [f"[instrument.{_key(tool)}]", f"spread = {_text(spread)}", ""]
    for sheet, values in told.sheets.items():
        lines += [f"[sheet.{_key(sheet)}]", *_pairs(values), ""]
    if told.bodies:
        lines.append("# What is measured: one body for each thing measured on its own; its points by your own names.")
    for number, (body, points) in enumerate(told.bodies.items()):
        lines += [f"[body.{_key(body)}]", *(["root = true"] if number == 0 else []), ""]
        lines += [f"[body.{_key(body)}.point]", *(f"{_key(point)} = {{}}" for point in dict.fromkeys(points)), ""]
    return "\n".join(lines)


def _readings() -> str:
    """The starter's table of kinds, and no reading."""
    text = files("halfshaft.build").joinpath("starter", "readings.csv").read_text(encoding="utf-8")
    kept = []
    for line in text.splitlines():
        kept.append(line)
        if line and not line.startswith("#"):
            break
    return "\n".join(kept) + "\n"


def _pairs(values: Mapping[str, str]) -> list[str]:
    return [f"{_key(key)} = {_value(value)}" for key, value in values.items() if value.strip()]


def _value(text: str) -> str:
    return text.strip() if re.fullmatch(r"\d{1,9}(\.\d+)?", text.strip()) and text.strip()[:1] != "0" else _text(text)


def _text(value: str) -> str:
    # a JSON string is a TOML basic string; signs beyond ASCII stay readable, and DEL is the one that TOML alone forbids
    return json.dumps(value.strip(), ensure_ascii=False).replace("\x7f", "\\u007f")


def _key(name: str) -> str:
    bare = name.strip()
    return bare if bare.isascii() and bare.replace("_", "a").replace("-", "a").isalnum() else _text(bare)
