"""Edits of a bracket as values to save: what the builder picked in, paths and values of build.toml out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from halfshaft.bench.desk import Desk
from halfshaft.build import Build, save_values
from halfshaft.build.schema import BracketInput, HoleInput
from halfshaft.fold.model import Change

Keys = tuple[str | int, ...]

SHAPES = {"round": "round", "slot": "slot", "oversize": "oversize", "snug": "snug, locates"}
FOLDS = {"slit": "slit, by hand", "brake": "brake"}
SIDES = {"outside": "on the face", "inside": "behind the face"}


@dataclass
class DraftPanel:
    """One panel picked so far: its face, point -> bolt of its holes, and the panel that it folds from."""

    name: str
    face: str
    holes: dict[str, str] = field(default_factory=dict)
    folds_from: str = ""


@dataclass
class Draft:
    """A bracket being put together; nothing of it is saved yet."""

    name: str
    sheet: str
    fold: str = "slit"
    thickness: str = ""  # of a sheet that the build does not have yet
    what: str = ""
    panels: list[DraftPanel] = field(default_factory=list)

    def toggle_face(self, face: str) -> None:
        """Take a face in as a panel that folds from the first one, or leave it out again."""
        known = next((panel for panel in self.panels if panel.face == face), None)
        if known is not None:
            self.panels.remove(known)
            for panel in self.panels:
                if panel.folds_from == known.name:
                    panel.folds_from = ""
            for panel in self.panels[1:]:
                panel.folds_from = panel.folds_from or self.panels[0].name
            if self.panels:
                self.panels[0].folds_from = ""
            return
        first = self.panels[0].name if self.panels else ""
        self.panels.append(DraftPanel(fresh_name(face, [p.name for p in self.panels]), face, folds_from=first))

    def toggle_hole(self, panel: str, point: str, bolt: str) -> None:
        own = next(p for p in self.panels if p.name == panel)
        if point in own.holes:
            del own.holes[point]
        else:
            own.holes[point] = bolt

    def lacks(self, build: Build) -> list[str]:
        """What must still be picked, a sentence each."""
        out = []
        if not self.name.strip():
            out.append("Give it a name.")
        elif self.name.strip() in build.bracket:
            out.append(f"There is a bracket {self.name.strip()} already: give it another name.")
        if self.sheet not in build.sheet and not self.thickness.strip():
            out.append("Say how thick the new sheet is.")
        if not self.panels:
            out.append("Pick a face for its first panel.")
        out += [f"Pick a hole for panel {panel.name}." for panel in self.panels if not panel.holes]
        return out

    def values(self, build: Build) -> dict[Keys, Any]:
        """The whole bracket, and its sheet where that is new."""
        points, faces = names_of(build, "point"), names_of(build, "face")
        told: dict[str, Any] = {"sheet": self.sheet, "fold": self.fold}
        if self.what.strip():
            told["what"] = self.what.strip()
        pairs = [[p.folds_from, p.name] for p in self.panels if p.folds_from]
        if pairs:
            told["folds"] = [{"between": pair} for pair in pairs]
        told["panel"] = {
            panel.name: {
                "face": short(panel.face, faces),
                "holes": [{"at": short(at, points), "bolt": bolt} for at, bolt in panel.holes.items()],
            }
            for panel in self.panels
        }
        out: dict[Keys, Any] = {("bracket", self.name.strip()): told}
        if self.sheet not in build.sheet:
            out = {("sheet", self.sheet): {"thickness": self.thickness.strip()}, **out}
        return out


def names_of(build: Build, kind: str) -> list[str]:
    """Qualified names of every point or face of the build."""
    return [f"{body}.{name}" for body, told in build.body.items() for name in getattr(told, kind)]


def short(name: str, among: Iterable[str]) -> str:
    """The name without its body where that names one thing only."""
    bare = name.split(".", 1)[-1]
    return bare if sum(other.split(".", 1)[-1] == bare for other in among) <= 1 else name


def fresh_name(face: str, taken: Sequence[str]) -> str:
    """A panel's name from its face, like no other."""
    bare = face.split(".", 1)[-1].replace(".", "_") or "panel"
    name, number = bare, 1
    while name in taken:
        number += 1
        name = f"{bare}_{number}"
    return name


def hole_path(told: BracketInput, panel: str, hole: str) -> Keys | None:
    """Steps inside a bracket to the hole of a panel, or to the bolt of a join; None where it is not written there."""
    point = hole.rsplit(".", 1)[-1]
    if panel in told.panel:
        for number, wish in enumerate(told.panel[panel].holes):
            if wish.at.rsplit(".", 1)[-1] == point:
                return ("panel", panel, "holes", number)
    for place, join in enumerate(told.join):
        for number, wish in enumerate(join.bolts):
            if panel in (join.on, join.cover) and wish.at.rsplit(".", 1)[-1] == point:
                return ("join", place, "bolts", number)
    return None


def remedy_values(name: str, told: BracketInput, change: Change) -> dict[Keys, Any]:
    """What a remedy writes, by its whole path; empty where the build has no such hole or panel."""
    at: Keys | None = ("panel", change.panel) if not change.hole else hole_path(told, change.panel, change.hole)
    if at is None or (not change.hole and change.panel not in told.panel):
        return {}
    return {("bracket", name, *at, key): value for key, value in change.writes}


def shape_values(at: Keys, wish: HoleInput, shape: str) -> dict[Keys, Any]:
    """A hole's new shape; what only a slot has is taken away with it."""
    out: dict[Keys, Any] = {(*at, "shape"): shape}
    if shape != "slot":
        for key, field_name in (("slot_length", "slot_length_mm"), ("slot_angle", "slot_angle_deg")):
            if wish.given(field_name):
                out[(*at, key)] = None
    return out


@dataclass(frozen=True)
class Saving:
    """An edit that saves values by their paths; two of the same values are the same edit."""

    values: Mapping[str | Keys, Any]

    def __call__(self, folder: Path) -> None:
        save_values(folder, self.values)


def save(desk: Desk, title: str, values: Mapping[Keys, Any]) -> bool:
    """Save through the desk, so that it can be undone."""
    _look_at(desk, values)
    return desk.change(title, Saving(_by_path(values)))


def foresee(desk: Desk, values: Mapping[Keys, Any]) -> None:
    """What is being typed, worked before it is saved."""
    _look_at(desk, values)
    desk.foresee(Saving(_by_path(values)))


def _look_at(desk: Desk, values: Mapping[Keys, Any]) -> None:
    desk.first = next((str(path[1]) for path in values if len(path) > 1 and path[0] == "bracket"), desk.first)


def _by_path(values: Mapping[Keys, Any]) -> dict[str | Keys, Any]:
    return dict(values.items())
