"""What a bracket's stresses mean: a result in; checks, worst first, with what to change, out."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from halfshaft.build.catalogue import gauges
from halfshaft.build.catalogue.mounts import detail
from halfshaft.build.units import MM_PER_INCH
from halfshaft.build.value import UnitSystem
from halfshaft.checks import Check, Origin, Severity, Source, worst_first
from halfshaft.mounts.hot_spot import RULE
from halfshaft.mounts.verdict import most, published, told

if TYPE_CHECKING:
    from halfshaft.fold.model import Bracket
    from halfshaft.mounts.bracket_stress import BracketStress, Duty, Stressed, WeldLife

_YIELD = "yield strength, von Mises, EN 1993-1-1:2005 6.2.1 (5) with gamma M0"
_THROAT = published(
    "EN 1993-1-8:2005 4.5.3.2, directional method, on the throat cut by the fold's bisector; bending of the throat in"
)
_FILLET = published("EN 1993-1-8:2005 4.5.3.2, directional method, on the throats of both fillets")
_MESH = Source(Origin.DERIVED, "docs/bracket_stress.md: two meshes compared")
_SETTLED_PERCENT = 10.0
_METRIC = (3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0)
_INCH = tuple(MM_PER_INCH * parts / 16.0 for parts in (3, 4, 5, 6, 8, 10, 12))
_NOT_IN = (
    "Not in it: buckling, plastic reserve, residual stress and heat of the welds, slip of the bolts, the give of the "
    "frame's own walls, unwelded slits that close and press."
)


def stock_thicknesses_mm(units: UnitSystem | None = None) -> tuple[float, ...]:
    """Plate and sheet to choose from, thinnest first: metric plate, or gauges of 1.5 mm and more with plate in eighths
    and sixteenths of an inch; both where no units are told.
    """
    inch = {*(t for t in gauges().values() if t >= 1.5), *_INCH}
    return tuple(sorted({"metric": {*_METRIC}, "inch": inch}.get(units or "", {*_METRIC, *inch})))


def bracket_checks(result: BracketStress, bracket: Bracket, duty: Duty | None) -> tuple[Check, ...]:
    """Each place's worst case against yield or weld strength, each weld's life, how far the meshes agree."""
    worst: dict[str, Stressed] = {}
    for case in result.cases:
        for place in case.places:
            if place.place not in worst or place.use > worst[place.place].use:
                worst[place.place] = place
    out = [_place_check(result, bracket, place) for place in worst.values()]
    out += [_life_check(result, bracket, life, duty) for life in result.lives if duty is not None]
    compared = result.compared
    about = f"bracket {result.bracket}"
    if compared is not None:
        out.append(
            most(
                about, f"stress on two meshes, {compared.unknowns[0]:,} and {compared.unknowns[1]:,} unknowns: "
                f"{compared.stress_mpa[0]:.0f} and {compared.stress_mpa[1]:.0f} MPa, moved "
                f"{compared.moved_mm[0]:.2f} and {compared.moved_mm[1]:.2f} mm; they differ by",
                100.0 * abs(compared.stress_change), _SETTLED_PERCENT, "%", _MESH,
                f"Take the greater as it is told here, and judge {compared.place} with care: its stress is steep.",
                Severity.CAUTION,
            )
        )  # fmt: skip
    out.append(told(about, "What the stress does not know", _MESH, _NOT_IN))
    return tuple(worst_first(out))


def change_for(result: BracketStress, bracket: Bracket, place: Stressed) -> str:
    """What to change where a place bears too much, in a sentence."""
    thicker = _thicker(result.thickness_mm, place.use)
    if any(g.panel == place.fold for g in bracket.gussets):
        if place.kind == "fillet":
            return (
                f"Make the reach of {place.fold} longer or the leg of its fillets greater, set a second gusset beside "
                f"it, or take a thicker sheet: {thicker}."
            )
        return f"Let {place.fold} reach farther, or over to a stiffer spot; or take a thicker sheet: {thicker}."
    if place.kind in ("toe", "weld"):
        fold = next((f for f in bracket.folds if f.name == place.fold), None)
        seam = f"the seam {place.fold}"
        ends = f", between panels {fold.a} and {fold.b}" if fold is not None else ""
        weld = ""
        if place.kind == "weld" and result.throat_mm < result.thickness_mm - 0.05:
            deeper = min(result.thickness_mm, result.throat_mm * math.sqrt(place.use))
            weld = f", weld it {deeper:.1f} mm deep"
        more = "another gusset" if fold and any({g.a, g.b} == {fold.a, fold.b} for g in bracket.gussets) else "a gusset"
        return (
            f"Add {more} at {seam}{ends}, or a lip that runs across it{weld}; or make the seam longer; or take a "
            f"thicker sheet: {thicker}."
        )
    if place.kind == "hole":
        return f"Spread the load there with a larger washer or a boss, or take a thicker sheet: {thicker}."
    if place.kind == "bend":
        return f"Add a gusset at the bend {place.fold}, or take a thicker sheet: {thicker}."
    return f"Fold a lip up along its free edge, widen it there, or take a thicker sheet: {thicker}."


def _thicker(thickness_mm: float, use: float) -> str:
    wanted = thickness_mm * math.sqrt(max(use, 1.0))
    best = next((t for t in stock_thicknesses_mm() if t >= wanted - 1e-9), None)
    if best is None or best > 3.0 * thickness_mm:
        return "no sheet alone is enough, the shape must change"
    return f"about {best:.3g} mm instead of {thickness_mm:.3g} mm, bending falling with its square"


def _place_check(result: BracketStress, bracket: Bracket, place: Stressed) -> Check:
    about = f"bracket {result.bracket}, {place.place}"
    do = change_for(result, bracket, place)
    if place.kind == "fillet":
        return most(about, f"fillets' throats, {place.case}", 100.0 * place.use, 100.0, "%", _FILLET, do)
    if place.kind == "weld":
        title = f"weld on its throat, {place.case}"
        return most(about, title, 100.0 * place.use, 100.0, "%", _THROAT, do)
    rule = f"{_YIELD}; {RULE}" if place.kind == "toe" else _YIELD
    title = f"{'hot-spot stress' if place.kind == 'toe' else 'stress'}, {place.case}"
    return most(about, title, place.stress_mpa, result.yield_mpa, "MPa", published(rule), do)


def _life_check(result: BracketStress, bracket: Bracket, life: WeldLife, duty: Duty | None) -> Check:
    assert duty is not None
    row = detail(life.detail)
    plate = any(g.panel == life.fold for g in bracket.gussets)
    about = f"bracket {result.bracket}, {life.fold if plate else f'fold {life.fold}'}"
    lasts = f"lasts {100.0 / life.damage:.0f} % of" if life.damage > 1e-6 else "is not harmed by"
    rule = RULE if life.where != "root" and not life.where.startswith("fillets") else "EN 1993-1-9:2005 clause 5 (6)"
    # by the flatter slope, on the safe side
    share = max(life.damage, 1.0) ** (-1.0 / 3.0)
    title = f"fatigue, {life.where} ({life.detail}): {lasts} {duty.distance_km:,.0f} km of the duty"
    return most(
        about, title, life.damage, 1.0, "",
        Source(row.source.origin, f"{row.source.text}; {rule}; duty: catalogue, common practice"),
        f"Bring its stress to {100.0 * share:.0f} %: "
        + (
            f"let {life.fold} reach farther, set a second one beside it, or "
            if plate
            else f"add a gusset at the seam {life.fold}, weld it from inside too, or "
        )
        + "take a thicker sheet; look for cracks at each service.",
    )  # fmt: skip
