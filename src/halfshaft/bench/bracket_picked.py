"""What can be tapped on the brackets page, and what is said of it: a study and a bracket in, words out."""

from __future__ import annotations

import re

from halfshaft.bench.bracket_words import fold_words, hole_words
from halfshaft.build.units import format_length
from halfshaft.build.value import UnitSystem
from halfshaft.fold.model import Bracket
from halfshaft.study import Study


def pickable(study: Study | None, bracket: Bracket | None) -> dict[str, str]:
    """All that can be tapped, in the 3D view and on the flat pattern."""
    if study is None:
        return {}
    options = {f"face:{n}": f"face {n}" for n, f in study.measured.faces.items() if f.tied}
    if bracket is not None:
        options |= {f"panel:{n}": f"panel {n}" for n in bracket.panels}
        options |= {f"fold:{f.name}": f"fold {f.name}" for f in bracket.folds}
        options |= {f"hole:{h.name}": f"hole {h.name}" for p in bracket.parts for h in p.bores}
    options |= {f"obstacle:{n}": f"in the way: {n}" for n in study.build.obstacle}
    return options | {f"point:{n}": f"point {n}" for n, p in study.measured.points.items() if p.tied}


def picked_lines(study: Study, bracket: Bracket | None, kind: str, name: str, units: UnitSystem) -> list[str]:
    """What is known of a thing that was tapped, a line each."""
    if kind == "point" and name in study.measured.points:
        point = study.measured.points[name]
        x, y, z = (format_length(float(v), units) for v in point.xyz_mm)
        half, _ = point.ellipsoid_mm
        body, _, bare = name.partition(".")
        hint = study.build.body[body].point.get(bare) if body in study.build.body else None
        words = [f"{x} forward, {y} left, {z} up", f"± {format_length(float(half[0]), units)} the worst way (95 %)"]
        return [hint.what, *words] if hint and hint.what else words
    if kind == "face" and name in study.measured.faces:
        body, _, bare = name.partition(".")
        told = study.build.body[body].face.get(bare) if body in study.build.body else None
        points = " ".join(p.split(".", 1)[-1] for p in study.measured.faces[name].points)
        return [*([told.what] if told and told.what else []), f"points on it: {points or 'none'}"]
    if kind == "obstacle" and name in study.build.obstacle:
        wish = study.build.obstacle[name]
        hidden = ["hidden: nobody sees it when drilling"] if wish.hidden else []
        return [
            *([wish.what] if wish.what else []),
            *hidden,
            f"clearance {format_length(wish.clearance_mm, units)}",
        ]
    if bracket is None:
        return []
    if kind == "panel" and name in bracket.panels:
        panel = bracket.panels[name]
        return [f"on face {panel.face}" if panel.face else "on a plane of its own", f"{len(panel.holes)} holes"]
    if kind == "fold":
        return next((fold_words(bracket, f, units) for f in bracket.folds if f.name == name), [])
    holes = [h for part in bracket.parts for h in part.bores if h.name == name]
    return hole_words(bracket, holes[0], units) if holes else []


def asked_for(study: Study, bracket: str, about: str) -> tuple[str, str]:
    """The bracket, and the thing in it as 'fold:web-ear', that the address names: by itself or as a check is about it.

    Both are empty where the build has none such.
    """
    said = [name for name in study.build.bracket if re.search(rf"(?<![\w-]){re.escape(name)}(?![\w-])", about)]
    name = bracket if bracket in study.build.bracket else max(said, key=len, default="")
    known = pickable(study, study.brackets.get(name))
    for kind, thing in re.findall(r"\b(hole|fold|panel|cover|obstacle) ([^\s,]+)", about):
        at = f"{'panel' if kind == 'cover' else kind}:{thing}"
        if at in known:
            return name, at
    return name, next((at for part in about.split(", ") if (at := f"obstacle:{part}") in known), "")
