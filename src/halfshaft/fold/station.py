"""The fold station: a build and what was measured in, one bracket worked out with all its checks out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.catalogue import default
from halfshaft.build.catalogue import material as material_row
from halfshaft.build.schema import BracketInput, Build, Sheet
from halfshaft.checks import Assumed, Check, Origin, Severity, Source
from halfshaft.fold.bridges import bridge_checks, with_bridges
from halfshaft.fold.draft import Turning, draft
from halfshaft.fold.fit import chance_of_fit, fit_assumed, fit_checks
from halfshaft.fold.flat import flat_part
from halfshaft.fold.gusset import add_gussets
from halfshaft.fold.interfere import faces_of, interference
from halfshaft.fold.join import cover_names, join_covers
from halfshaft.fold.lines import Meet, meet_of, sheet_sides
from halfshaft.fold.lip import lip_checks
from halfshaft.fold.marks import marks_and_checks
from halfshaft.fold.model import Bracket, FlatPart, Fold, Gusset, Hole, Panel
from halfshaft.fold.order import fold_order
from halfshaft.fold.panels import Slab, slab_of
from halfshaft.fold.refuse import angle_checks, flat_checks, hole_checks, refused, seat_checks, too_large
from halfshaft.fold.relief import relieve, shortened
from halfshaft.fold.said import said, said_chance, said_checks
from halfshaft.fold.slab import parts_of
from halfshaft.fold.solid import mass_kg
from halfshaft.fold.stiffen import add_stiffeners
from halfshaft.fold.twin import mirrored
from halfshaft.measure.model import Measured
from halfshaft.measure.obstacles import obstacles_of
from halfshaft.progress import Progress, silent

Array = NDArray[np.float64]


def fold(
    build: Build, measured: Measured, name: str, folder: Path | None = None, progress: Progress | None = None
) -> Bracket:
    """The bracket `name` of the build on its measured faces.

    `folder` is where mesh files of obstacles lie. A bracket that cannot be drawn comes back without parts and with STOP
    checks that say why. Raises KeyError where the build has no such bracket.
    """
    tell = progress or silent
    return judged(build, measured, shaped(build, measured, name, tell), folder, tell)


def judged(
    build: Build, measured: Measured, shape: Bracket, folder: Path | None = None, progress: Progress | None = None
) -> Bracket:
    """The bracket that `shaped` gave, with what is in its way and its chance of fit; `folder` as for `fold`."""
    tell, name = progress or silent, shape.name
    if not shape.parts:
        return in_units(build, shape)
    checks = list(shape.checks)

    tell(0.6, "what is in the way")
    checks += _in_the_way(build, measured, shape, folder)

    tell(0.75, "chance of fit")
    fit = None
    try:
        fit = chance_of_fit(build, measured, shape)
        checks += fit_checks(shape, fit)
    except ValueError as why:
        checks.append(refused(name, "chance of fit", "The chance of fit cannot be told", str(why)))
    tell(1.0, "done")
    assumed = (*shape.assumed, *fit_assumed(build, shape))
    return in_units(build, replace(shape, fit=fit, checks=tuple(checks), assumed=tuple(dict.fromkeys(assumed))))


def in_units(build: Build, bracket: Bracket) -> Bracket:
    """The bracket with every sentence in the build's units; its numbers stay in mm."""
    units = build.build.units
    return replace(
        bracket,
        fit=said_chance(bracket.fit, units) if bracket.fit else None,
        checks=said_checks(bracket.checks, units),
        assumed=tuple(dict.fromkeys(replace(one, value=said(one.value, units)) for one in bracket.assumed)),
    )


def shaped(build: Build, measured: Measured, name: str, progress: Progress | None = None) -> Bracket:
    """The bracket's panels, folds and flat parts, before anything is asked of its surroundings or of chance.

    Raises KeyError where the build has no such bracket.
    """
    told, tell = build.bracket[name], progress or silent
    sheet = build.sheet[told.sheet]
    shell = Bracket(name, told.sheet, sheet.thickness_mm, {}, (), (), 0.0)
    tell(0.0, "planes and fold lines")
    slabs, meets, faults = _meets(told, name, measured, sheet)
    if faults:
        return replace(shell, checks=tuple(faults))
    try:
        upper = sheet_sides(tuple(slabs), meets)
    except ValueError as why:
        return replace(shell, checks=(refused(name, "", "Folds close a ring", str(why)),))
    turning = Turning.of(sheet, build.shop)
    drafted = draft(told, slabs, meets, upper, turning, measured)
    if drafted.faults:
        return replace(shell, checks=tuple(refused(name, a, "It cannot be drawn", w) for a, w in drafted.faults))

    tell(0.15, "reliefs, lips, covers")
    panels, folds = drafted.panels, drafted.folds
    checks: list[Check] = list(angle_checks(name, folds))
    large = too_large(name, panels)
    if large:
        return replace(shell, checks=(*checks, *large))
    try:
        panels, folds = add_stiffeners(panels, folds, told, sheet, build.shop, turning.radius_mm, turning.k_factor)
        panels, seats = join_covers(panels, told, _spots(told, measured), build.shop.pull_up_mm, name)
        panels, cuts = relieve(panels, folds, told, build.shop, name)
        folds = shortened(panels, folds)
    except ValueError as why:
        return replace(shell, checks=(*checks, refused(name, "", "It cannot be drawn", str(why))))
    large = too_large(name, panels)
    if large:
        return replace(shell, checks=(*checks, *large))
    checks += [*seats, *cuts, *seat_checks(name, panels, measured)]
    for key, panel in panels.items():
        if key in told.panel and told.panel[key].lip:
            own = next((f for f in folds if key in (f.a, f.b)), None)
            on = _points_on(measured, panel)
            checks += lip_checks(
                panel, own, on, told.panel[key].standoff_mm if told.panel[key].standoff_mm else None, name
            )

    tell(0.3, "bridges")
    material = material_row(sheet.material)
    folds = tuple(with_bridges(f, sheet, material, build.shop, panels, folds) for f in folds)
    checks += bridge_checks(name, folds, panels, sheet, material, build.shop)

    try:
        made = add_gussets(panels, folds, told, build.sheet, name)
    except ValueError as why:
        return replace(shell, checks=(*checks, refused(name, "", "It cannot be drawn", str(why))))
    panels = made.panels
    checks += made.checks
    large = too_large(name, {gusset.panel: panels[gusset.panel] for gusset in made.gussets})
    if large:
        return replace(shell, checks=(*checks, *large))

    tell(0.4, "flat pattern and order of folds")
    parts, order, more = _parts(build, name, panels, folds, made.gussets)
    checks += more
    return replace(
        shell,
        panels=panels,
        folds=folds,
        parts=parts,
        mass_kg=mass_kg(panels, folds, material.density_kg_m3),
        fold_order=order,
        checks=tuple(checks),
        assumed=(*_assumed(build, name, sheet, turning, folds), *made.assumed),
        gussets=made.gussets,
    )


def _meets(
    told: BracketInput, name: str, measured: Measured, sheet: Sheet
) -> tuple[dict[str, Slab], list[Meet], list[Check]]:
    slabs: dict[str, Slab] = {}
    meets: list[Meet] = []
    faults: list[Check] = []
    covers = set(cover_names(told))
    for key, panel in told.panel.items():
        if key in covers and not panel.face and not panel.through:
            continue  # the join lays it on its panel
        try:
            slabs[key] = slab_of(told, key, measured, sheet.thickness_mm)
        except ValueError as why:
            faults.append(refused(name, f"panel {key}", "Panel has no place", str(why)))
    for one in told.folds:
        missing = [p for p in one.between if p not in slabs]
        if missing:
            if any(p not in told.panel for p in missing):
                faults.append(
                    refused(name, f"fold {one.between[0]}-{one.between[1]}", "Fold without panel", "no such panel")
                )
            continue
        try:
            meets.append(meet_of(slabs[one.between[0]], slabs[one.between[1]]))
        except ValueError as why:
            faults.append(refused(name, f"fold {one.between[0]}-{one.between[1]}", "Panels do not meet", str(why)))
    return slabs, meets, faults


def _spots(told: BracketInput, measured: Measured) -> dict[str, Array]:
    """Spots of all bolts of joins, in root axes, by the name written."""
    names = [b.at for join in told.join for b in join.bolts]
    names += [h.at for p in told.panel.values() for h in p.holes]
    return {n: measured.points[n].xyz_mm for n in names if n in measured.points}


def _points_on(measured: Measured, panel: Panel) -> dict[str, Array]:
    face = measured.faces.get(panel.face)
    return {n: measured.points[n].xyz_mm for n in face.points if n in measured.points} if face else {}


def _parts(
    build: Build, name: str, panels: Mapping[str, Panel], folds: Sequence[Fold], gussets: Sequence[Gusset]
) -> tuple[tuple[FlatPart, ...], tuple[str, ...], list[Check]]:
    """Flat parts with marks, their twins, and the order of folds."""
    parts: list[FlatPart] = []
    order: list[str] = []
    checks: list[Check] = []
    groups = parts_of(tuple(panels), folds)
    main = max(groups, key=len)
    twins = _twin_names(build)
    told = build.bracket[name]
    sheets = {
        key: wish.sheet or told.sheet for wish, keys in zip(told.gusset, told.gusset_names, strict=True) for key in keys
    }
    feet = {g.panel: {g.a: g.foot_a_mm, g.b: g.foot_b_mm} for g in gussets}
    for group in groups:
        title = name if group is main else f"{name}.{group[0]}"
        own = tuple(f for f in folds if f.a in group and f.b in group)
        try:
            part = flat_part(title, sheets.get(group[0], told.sheet), group, panels, own)
        except ValueError as why:
            checks.append(refused(name, f"part {title}", "It cannot be laid flat", str(why)))
            continue
        laid = list(flat_checks(name, part, group, panels, own, build.shop.kerf_mm))
        checks += laid
        checks += hole_checks(name, part, {g: panels[g] for g in group}, own, build.shop)
        sequence: tuple[str, ...] = ()
        if not any(check.severity is Severity.STOP for check in laid):  # what overlaps flat cannot be folded either
            sequence, trouble = fold_order(part, panels, own, build.shop)
            checks += trouble
        order += sequence
        marks, lost = marks_and_checks(part, panels, own, sequence, units=build.build.units, feet_mm=feet.get(group[0]))
        checks += lost
        part = replace(part, marks=marks)
        parts.append(part)
        if told.twin:
            parts.append(mirrored(part, twins))
    return tuple(parts), tuple(order), checks


def _twin_names(build: Build) -> dict[str, str]:
    """Names of like points on the two sides, short and with their body, both ways."""
    out = {}
    for body, told in build.body.items():
        for name, hint in told.point.items():
            if hint.twin:
                other = hint.twin.rsplit(".", 1)[-1]
                out.update(
                    {name: other, other: name, f"{body}.{name}": f"{body}.{other}", f"{body}.{other}": f"{body}.{name}"}
                )
    return out


def _in_the_way(build: Build, measured: Measured, bracket: Bracket, folder: Path | None) -> Iterable[Check]:
    obstacles, faults = obstacles_of(build, measured, folder or Path())
    row = default("fold.face_metal")
    faces = faces_of(measured, bracket.panels, float(row.value), row.source)
    reach = float(default("fold.socket_reach").value)

    def socket_reach(hole: Hole) -> float:
        return reach if hole.use != "locate" else 0.0

    found = interference(bracket.panels, bracket.folds, (*obstacles, *faces), bracket.name, socket_reach, measured)
    return (*faults, *found)


def _assumed(build: Build, name: str, sheet: Sheet, turning: Turning, folds: Sequence[Fold]) -> Iterable[Assumed]:
    where = build.bracket[name].sheet
    for field, key in (
        ("kerf_mm", "kerf"),
        ("least_hole_mm", "least_hole"),
        ("hand_force_n", "hand_force"),
        ("lever_mm", "lever"),
    ):
        if not build.shop.given(field):
            row = default(f"shop.{key}")
            yield Assumed(f"shop.{key}", f"{getattr(build.shop, field):g} {row.unit}", row.source)
    slit = [f for f in folds if f.kind == "slit"]
    if slit and build.shop.slit_width_mm is None:
        yield Assumed(
            "shop.slit_width", f"{turning.slit_width_mm:g} mm, the kerf", Source(Origin.DERIVED, "one cut wide")
        )
    if slit and sheet.pivot_depth_mm is None:
        depths = ", ".join(f"{f.name} {f.pivot_depth_mm:.2f} mm" for f in slit)
        yield Assumed(f"sheet.{where}.pivot_depth", depths, Source(Origin.DERIVED, "docs/folding.md"))
    if any(f.kind == "brake" for f in folds):
        if sheet.brake_radius_mm is None:
            yield Assumed(
                f"sheet.{where}.brake_radius", f"{turning.radius_mm:g} mm", default("fold.brake_radius").source
            )
        if sheet.k_factor is None:
            source = Source(Origin.FROM_MEMORY, "DIN 6935:2011-10")
            yield Assumed(f"sheet.{where}.k_factor", f"{turning.k_factor:.3f}", source)
    if not sheet.given("material"):
        yield Assumed(f"sheet.{where}.material", sheet.material, Source(Origin.COMMON_PRACTICE, "plate of general use"))
    for row, key in ((default("fold.boss"), "boss"),):
        if any(h.boss_mm is None for p in build.bracket[name].panel.values() for h in p.holes):
            yield Assumed(f"bracket.{name}.panel.*.holes.{key}", f"{row.value:g} {row.unit}", row.source)
