"""The whole job, its files and its judgements."""

from __future__ import annotations

from typing import Any

from rich.console import Console
from rich.text import Text

from halfshaft import plain, plain_pack, tables
from halfshaft.commands.common import BuildDir, Json, print_checks, print_table, say, worked
from halfshaft.study import Study


def run(folder: BuildDir, as_json: Json = False) -> None:
    """Work everything, into DIR/out."""
    study = worked(folder, "cut", as_json)
    units = study.build.build.units

    def show(out: Console) -> None:
        print_table(out, tables.suspects_table(study.measured), only=(0, 1, 2, 4))
        print_table(out, tables.unlocated_table(study.measured))
        print_table(out, tables.brackets_table(study.brackets.values(), units))
        failed = [c for c in study.checks if not c.ok]
        print_checks(out, failed, units, "To settle, worst first")
        assert study.files is not None
        print_table(out, tables.files_table(study.files))
        worked = sum(study.seconds.values())
        out.print(Text(f"{len(study.files.files)} files in {study.files.folder}, worked in {worked:.1f} s"))
        for words in tables.CAUTIONS:
            out.print(Text(words, style="yellow"))
        out.print(Text(f"To see it and work on it in the browser: halfshaft open {folder}", style="bold"))

    say(as_json, lambda: _everything(study), show)


def cut(folder: BuildDir, as_json: Json = False) -> None:
    """Cut files, paper templates and shop sheets, into DIR/out."""
    study = worked(folder, "cut", as_json)
    assert study.files is not None
    files = study.files

    def show(out: Console) -> None:
        print_table(out, tables.files_table(files))
        for words in tables.CAUTIONS:
            out.print(Text(words, style="yellow"))

    say(as_json, lambda: _files(study), show)


def checks(folder: BuildDir, as_json: Json = False) -> None:
    """Every judgement with its source, worst first, and everything assumed."""
    study = worked(folder, "fold", as_json)
    units = study.build.build.units

    def show(out: Console) -> None:
        print_checks(out, study.checks, units, "Checks, worst first")
        print_table(out, tables.assumed_table(study.assumed))

    say(as_json, lambda: _judged(study), show)


def _judged(study: Study) -> dict[str, Any]:
    return {"checks": [plain.check(c) for c in study.checks], "assumed": [plain.assumed(a) for a in study.assumed]}


def _files(study: Study) -> dict[str, Any]:
    assert study.files is not None
    return {"files": [{"path": f.path, "kind": f.kind, "part": f.part, "bytes": f.bytes} for f in study.files.files]}


def _everything(study: Study) -> dict[str, Any]:
    return {
        "measured": plain.measured(study.measured),
        "measure_next": plain.next_readings(study.measure_next),
        "brackets": [plain.bracket(b) for b in study.brackets.values()],
        "mounts": plain.mounts(study.mounts) if study.mounts is not None else None,
        "weights": plain.weights(study.weights) if study.weights is not None else None,
        "pack": plain_pack.pack(study.pack) if study.pack is not None else None,
        "road": plain.road(study.road) if study.road is not None else None,
        **_judged(study),
        **_files(study),
        "seconds": study.seconds,
    }
