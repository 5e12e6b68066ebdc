"""A whole study as plain values, ready for JSON."""

from __future__ import annotations

from typing import Any

from halfshaft import (
    plain,
    plain_buy,
    plain_control,
    plain_mounts,
    plain_pack,
    plain_paths,
    plain_road,
    plain_sheets,
    plain_weights,
)
from halfshaft.study import Study


def files(study: Study) -> dict[str, Any]:
    """The files that were written for the shop."""
    written = study.files.files if study.files is not None else ()
    return {"files": [{"path": f.path, "kind": f.kind, "part": f.part, "bytes": f.bytes} for f in written]}


def everything(study: Study) -> dict[str, Any]:
    """All stations' results, judgements, files, and the seconds each step took."""
    return {
        "measured": plain.measured(study.measured),
        "measure_next": plain.next_readings(study.measure_next),
        "brackets": [plain.bracket(b) for b in study.brackets.values()],
        "mounts": plain_mounts.mounts(study.mounts) if study.mounts is not None else None,
        "weights": plain_weights.weights(study.weights) if study.weights is not None else None,
        "pack": plain_pack.pack(study.pack) if study.pack is not None else None,
        "road": plain_road.road(study.road) if study.road is not None else None,
        "sheets": plain_sheets.sheets(study.sheets) if study.sheets is not None else None,
        "paths": plain_paths.paths(study.paths) if study.paths is not None else None,
        "entry": plain.entry(study.entry) if study.entry is not None else None,
        "needs": plain_buy.needs(study.needs) if study.needs is not None else None,
        "controls": plain_control.controls(study.controls) if study.controls is not None else None,
        "as_built": plain_control.built(study.built) if study.built is not None else None,
        **plain.judged(study),
        **files(study),
        "seconds": study.seconds,
    }
