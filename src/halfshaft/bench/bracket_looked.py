"""What one browser looks at on the page Brackets, and by what each part of the page knows that it shows another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from halfshaft.bench.bracket_change import structure
from halfshaft.bench.bracket_edit import Draft
from halfshaft.bench.desk import Desk
from halfshaft.fold.model import Bracket
from halfshaft.study import Study


@dataclass
class Looked:
    """`at` is what is picked: 'face:car.web', 'point:car.A', 'panel:web', 'obstacle:line', 'hole:web.A', 'fold:a-b'."""

    desk: Desk
    name: str = ""
    section: str = "fit"
    at: str = ""
    part: int = 0
    draft: Draft | None = None

    @property
    def study(self) -> Study | None:
        return self.desk.study

    def bracket(self) -> Bracket | None:
        """The one looked at, as last worked."""
        if self.study is None or self.draft is not None:
            return None
        return self.study.brackets.get(self.name)

    def folds(self) -> bool:
        """Whether there is something to fold."""
        bracket = self.bracket()
        return bracket is not None and bool(bracket.parts)

    def working(self, name: str) -> bool:
        """Only the shape of this bracket is known by now, or nothing newer than the last change."""
        return self.study is not None and (name in self.study.shapes or name in self.desk.waiting)

    # what a part of the page hangs on

    def key(self) -> Any:
        study = self.study
        measured = study.measured if study else None
        told = study.build.bracket.get(self.name) if study else None
        return (self.name, self.bracket(), self.working(self.name), measured, told, self.desk.units)

    def flat_key(self) -> Any:
        draft, study = self.draft, self.study
        if draft is not None and study is not None:
            return (id(draft), study.measured, tuple(study.build.sheet.items()), self.desk.units)
        return (self._cut_key(), self.part)

    def _cut_key(self) -> Any:
        """What decides how the flat pattern looks: not the chance of fit, which comes later than the shape."""
        bracket, study = self.bracket(), self.study
        kerf = study.build.shop.kerf_mm if study else None
        shape = bracket and (
            bracket.parts,
            bracket.folds,
            bracket.fold_order,
            bracket.checks if not bracket.parts else (),
        )
        return (self.name, shape, kerf, self.desk.units, study is None)

    def draft_key(self) -> Any:
        draft = self.draft
        return draft and (draft.sheet, [(p.name, p.face, tuple(p.holes.items()), p.folds_from) for p in draft.panels])

    def list_key(self) -> Any:
        study = self.study
        return study and (tuple(study.build.bracket), self.draft is None)

    def body_key(self) -> Any:
        study, section = self.study, self.section
        if study is not None and section == "change" and self.draft is None:
            return (section, self.name, structure(study, self.name))
        at = self.at if section == "numbers" else ""
        return (self.key(), section, self.draft is None, study.files if study else None, at)
