"""What stands on the bench: each study that comes in, with what it has not worked kept as it was before."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from halfshaft.build import Build
from halfshaft.study import Study, Until

if TYPE_CHECKING:
    from halfshaft.pack.model import Pack


class Standing:
    """`study` is what is shown; None until something is worked."""

    def __init__(self) -> None:
        self.study: Study | None = None
        self._held: Build | None = None  # the build that the mounts in `study` are of
        self._sheeted: Build | None = None  # the build that the sheets in `study` are of
        self._laid: object = None  # what the layouts in `study` hang on

    @property
    def sheets_behind(self) -> bool:
        """Whether the sheets that stand are of a build before the last change."""
        return self.study is not None and self.study.sheets is not None and self._sheeted != self.study.build

    @property
    def layouts_behind(self) -> bool:
        """Whether the layouts that stand are of a build before a change of what they hang on."""
        study = self.study
        laid = study is not None and study.pack is not None and study.pack.laid is not None
        return laid and study is not None and self._laid != _around_pack(study.build)

    @property
    def mounts_behind(self) -> bool:
        """Whether the mounts that stand are of a build before the last change."""
        return self.study is not None and self.study.mounts is not None and self._held != self.study.build

    def take(self, study: Study) -> None:
        """A study that was worked as far as the bench goes by itself."""
        self.study = self._with_before(study)

    def take_so_far(self, study: Study) -> frozenset[str]:
        """One that has only begun; names of the brackets that are shown as they were, until they are worked again."""
        before = self.study.brackets if self.study else {}
        waiting = frozenset(name for name in study.build.bracket if name in before and name not in study.brackets)
        kept = {name: before[name] for name in waiting}
        self.study = self._with_before(replace(study, brackets={**kept, **study.brackets}))
        return waiting

    def take_asked(self, study: Study, until: Until) -> None:
        """One that was worked up to a station because somebody asked for it."""
        before = self.study
        if before is not None and not study.brackets:  # it was not asked to go so far
            study = replace(study, brackets=before.brackets, files=before.files)
        if until in ("mounts", "thinnest"):
            self._held = study.build
        elif before is not None and before.mounts is not None and study.mounts is not None:
            study = replace(study, mounts=before.mounts)  # with the stress, which others do not work
        self.study = self._with_before(study)

    def _with_before(self, study: Study) -> Study:
        """What is worked only when asked for, or not yet again, stays to be seen as it was before."""
        before, build = self.study, study.build
        if before is None:
            return study
        if study.weights is None and build.weights is not None:
            study = replace(study, weights=before.weights)
        if study.road is None and build.car is not None:
            study = replace(study, road=before.road)
        if build.pack is not None:
            study = replace(study, pack=self._with_layouts(study.pack, before.pack, build))
            if study.boxes is None and before.boxes is not None and _one_layout(study.pack, before.pack):
                study = replace(study, boxes=before.boxes, box_files=before.box_files)
        if study.fit_up is None and build.fitup is not None:
            study = replace(study, fit_up=before.fit_up, fit_up_files=before.fit_up_files)
        if study.mounts is None and build.mounts is not None:
            study = replace(study, mounts=before.mounts)
        if study.sheets is None:
            study = replace(study, sheets=before.sheets, paths=before.paths, sheet_files=before.sheet_files)
        else:
            self._sheeted = build
        return study

    def _with_layouts(self, pack: Pack | None, before: Pack | None, build: Build) -> Pack | None:
        """Layouts of before with the numbers of now, and with their checks where they still hold."""
        if pack is None:
            return before
        around = _around_pack(build)
        if pack.laid is not None:
            self._laid = around
        if pack.laid is not None or before is None or before.laid is None or build.pack is None:
            return pack
        from halfshaft.pack.station import as_built  # loads half a second of libraries

        if self._laid != around:
            return replace(pack, laid=before.laid)
        return before if before.laid.number == build.pack.layout else as_built(before, build.pack)


def _around_pack(build: Build) -> object:
    """What a build says that the pack's places hang on."""
    pack = build.pack and build.pack.model_copy(update={"layout": 1})
    return pack, build.body, build.obstacle, build.readings, build.car and build.car.motor


def _one_layout(one: Pack | None, other: Pack | None) -> bool:
    """Whether both build the same layout, whose boxes are then the same too."""
    mine, theirs = (pack.laid.number if pack is not None and pack.laid is not None else 0 for pack in (one, other))
    return mine == theirs
