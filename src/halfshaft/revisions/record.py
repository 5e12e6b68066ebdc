"""A worked build as it is kept: plain values that are equal where the build is equal. A study in, a mapping out."""

from __future__ import annotations

import json
import math
from typing import Any

from halfshaft import plain_study
from halfshaft.cut.station import is_refused
from halfshaft.fold.lay import laid
from halfshaft.revisions.shapes import plain_part
from halfshaft.study import Study

_DIGITS = 9  # of every number: far beyond the shop, short of what the order of a sum changes


def record_of(study: Study) -> dict[str, Any]:
    """All results with the shapes of what is cut; without times, which differ from run to run."""
    out = plain_study.everything(study)
    out.pop("seconds")
    out["parts"] = {
        part.name: plain_part(laid(part))
        for bracket in study.brackets.values()
        if not is_refused(bracket)
        for part in bracket.parts
    }
    out["needs"] = {name: list(told.needs) for name, told in study.build.bracket.items()}
    out["units"] = study.build.build.units
    out["cut_spread_mm"] = study.build.shop.cut_spread_mm
    out["fold_spread_deg"] = study.build.shop.fold_spread_deg
    out["poses"] = {
        name: {"turn": pose.rotation.tolist(), "at_mm": pose.shift_mm.tolist()}
        for name, pose in study.measured.poses.items()
    }
    return dict(_rounded(out))


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _rounded(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_rounded(item) for item in value]
    if isinstance(value, float):
        return float(f"{value:.{_DIGITS}g}") + 0.0 if math.isfinite(value) else None
    return value


def text_of(record: dict[str, Any]) -> bytes:
    """The record as it is written, and as its fingerprint is taken."""
    return json.dumps(record, indent=1, sort_keys=True, ensure_ascii=False, allow_nan=False).encode("utf-8") + b"\n"
