"""What each bracket bears of its mount's loads: the joined result and the brackets in; stresses and checks joined, out.

Finite elements: the longest work of the station.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from halfshaft.build import Build
from halfshaft.build.catalogue import mounts as rows
from halfshaft.build.mounts import MountInput
from halfshaft.checks import Assumed, Check, worst_first
from halfshaft.fold.model import Bracket
from halfshaft.measure.model import Measured
from halfshaft.mounts.bracket_checks import stock_thicknesses_mm
from halfshaft.mounts.bracket_stress import BracketStress, Duty, bracket_stress, is_welded
from halfshaft.mounts.duty import CASES
from halfshaft.mounts.held_part import Case as Pushed
from halfshaft.mounts.held_part import Push
from halfshaft.mounts.model import Mount, Mounts
from halfshaft.mounts.resize import Resized, least_thickness, remade
from halfshaft.mounts.station import STRESS, cannot, distance_of, in_short, words_of
from halfshaft.mounts.verdict import practice
from halfshaft.mounts.weld_size import partial_throat_mm
from halfshaft.progress import Progress, silent, within

Array = NDArray[np.float64]

_MOST_CASES = 8  # worked of each bracket: those that load it most
_LEAST_THROAT_MM = 0.5
_LEAST_SHEET_MM = 2.0  # thinner is not welded to a frame (common practice)


def stressed(
    found: Mounts, build: Build, brackets: Mapping[str, Bracket], progress: Progress = silent, compare: bool = True
) -> Mounts:
    """The result with the stress of each mount's bracket, its checks among the mount's own.

    Loads are what the unit puts on the mount, on the holes of the bracket's joints into the unit; it is held at those
    into the frame. Of the table the everyday and hard cases are taken that load it most; a crash may bend it. `compare`
    works the worst case again on a finer mesh.
    Raises Stopped from `progress`.
    """
    if not found.held or build.mounts is None:
        return found
    mounts: list[Mount] = []
    assumed = list(found.assumed)
    for at, mount in enumerate(found.mounts):
        tell = within(progress, at / len(found.mounts), (at + 1) / len(found.mounts))
        bracket = brackets.get(mount.bracket)
        if bracket is None:
            mounts.append(mount)
            continue
        try:
            stress = _stress(found, mount, bracket, build, tell, compare, assumed)
        except (ValueError, KeyError) as why:
            problem = cannot(f"mount {mount.name}, bracket {bracket.name}", words_of(why))
            mounts.append(replace(mount, checks=tuple(worst_first([*mount.checks, problem]))))
            continue
        own = [_of_mount(check, mount, bracket) for check in stress.checks]
        mounts.append(replace(mount, stress=stress, checks=tuple(worst_first([*mount.checks, *own]))))
    kept = [check for check in found.checks if not check.about.startswith("mount ") and check.about != STRESS]
    checks = worst_first([*kept, *(check for mount in mounts for check in in_short(mount))])
    return replace(found, mounts=tuple(mounts), checks=tuple(checks), assumed=tuple(dict.fromkeys(assumed)))


def thinnest(
    found: Mounts, build: Build, measured: Measured, brackets: Mapping[str, Bracket], progress: Progress = silent
) -> Mounts:
    """The result with the thinnest stock sheet in which each mount's bracket still holds, and a check that tells it.

    A bracket that several mounts share takes the thickest of theirs. Its gussets stay as they are. Raises Stopped from
    `progress`.
    """
    mounts = [m for m in found.mounts if found.held and m.bracket in brackets]
    tried: dict[str, Resized] = {}
    problems: list[Check] = []
    for at, mount in enumerate(mounts):
        bracket = brackets[mount.bracket]
        tell = within(progress, at / len(mounts), (at + 1) / len(mounts))

        def judge(made: Bracket, mount: Mount = mount, tell: Progress = tell) -> BracketStress:
            tell(0.0, f"{made.name} in {made.thickness_mm:.3g} mm")
            return _stress(found, mount, made, build, silent, False, [])

        own = {sheet.thickness_mm for sheet in build.sheet.values()} | {bracket.thickness_mm}
        stock = [t for t in {*own, *stock_thicknesses_mm(build.build.units)} if t >= _LEAST_SHEET_MM]
        try:
            one = least_thickness(bracket, partial(remade, build, measured, bracket.name), judge, stock)
        except (ValueError, KeyError) as why:
            problems.append(cannot(f"mount {mount.name}, bracket {bracket.name}", words_of(why)))
            continue
        other = tried.get(bracket.name)
        if other is None or (one.least_mm or np.inf) > (other.least_mm or np.inf):
            tried[bracket.name] = one
    resized = tuple(tried.values())
    checks = worst_first([*found.checks, *(one.check for one in resized), *problems])
    return replace(found, thinnest=resized, checks=tuple(checks))


def _throat_mm(told: MountInput, name: str, bracket: Bracket, assumed: list[Assumed]) -> float | None:
    """Depth that the slits are welded; None where they are filled."""
    if told.fold_weld is None:
        source = practice("what a slit fold gets where nothing else is said")
        assumed.append(Assumed(f"mounts.mount.{name}.fold_weld", "outside", source))
    if told.fold_throat_mm is not None or told.fold_weld == "both sides":
        return told.fold_throat_mm
    throat = max(partial_throat_mm(bracket.thickness_mm), _LEAST_THROAT_MM)
    source = rows.weld_rule("partial_penetration", "loss_mm").source
    assumed.append(Assumed(f"mounts.mount.{name}.fold_throat", f"{throat:.1f} mm", source))
    return throat


def _of_mount(check: Check, mount: Mount, bracket: Bracket) -> Check:
    return replace(check, about=f"mount {mount.name}, {check.about.replace(f'bracket {bracket.name}', 'bracket')}")


def _stress(
    found: Mounts,
    mount: Mount,
    bracket: Bracket,
    build: Build,
    tell: Progress,
    compare: bool,
    assumed: list[Assumed],
) -> BracketStress:
    assert build.mounts is not None
    told = build.mounts.mount[mount.name]
    throat, duty = None, None
    if any(fold.kind == "slit" for fold in bracket.folds):
        throat = _throat_mm(told, mount.name, bracket, assumed)
    if is_welded(bracket):
        duty = _duty(mount, distance_of(build.mounts, assumed), told.fold_weld == "both sides")
    holes = _holes(mount)
    lacks = [side for side, names in holes.items() if not names]
    if lacks:
        raise ValueError(f"none of its own bolts goes into the {' or the '.join(lacks)}: its stress cannot be worked")
    cases = found.cases.cases if found.cases is not None else ()
    chosen = hardest(mount, [i for i, case in enumerate(cases) if case.kind != "crash"])
    pushes = [_push(mount, cases[i].name, mount.force_n[i], mount.moment_nmm[i]) for i in chosen]
    sheet = build.sheet[bracket.sheet]
    return bracket_stress(
        bracket, holes["frame"], pushes, material=sheet.material, throat_mm=throat, yield_mpa=sheet.yield_mpa,
        duty=duty, compare=compare, progress=tell,
    )  # fmt: skip


def _holes(mount: Mount) -> dict[str, list[str]]:
    """Names of the bracket's holes into frame and unit."""
    out: dict[str, list[str]] = {"frame": [], "unit": []}
    for joint in mount.joints:
        if joint.seat.outline is not None:
            out[joint.seat.side] += [f"{joint.seat.name}.{bolt}" for bolt in joint.seat.bolts]
    return out


def _push(mount: Mount, name: str, force: Array, moment: Array) -> Pushed:
    return Pushed(name, (Push(tuple(_holes(mount)["unit"]), force, moment, mount.bushing.centre_mm),))


def _duty(mount: Mount, km: float, both_sides: bool) -> Duty | None:
    """The duty of its welds: unit cases less rest. Welded from both sides there is no root that nobody sees."""
    if not mount.unit_loads or not _holes(mount)["unit"]:
        return None
    force, moment = mount.unit_loads["rest"]
    units = {n: _push(mount, n, mount.unit_loads[n][0] - force, mount.unit_loads[n][1] - moment) for n in CASES}
    return Duty(units, km, root_detail="butt weld, two sides") if both_sides else Duty(units, km)


def hardest(mount: Mount, among: Sequence[int], most: int = _MOST_CASES) -> list[int]:
    """Cases by number that load a bracket most: the first by size, and the extremes of each force and moment.

    A moment of 100 N mm weighs as much as a force of 1 N.
    """
    loads = np.hstack([mount.force_n, mount.moment_nmm / 100.0])[list(among)]
    order = np.argsort(-np.linalg.norm(loads, axis=1), kind="stable")
    first = [int(order[0])] if len(order) else []
    for column in np.argsort(-np.abs(loads).max(axis=0), kind="stable"):
        first += [int(np.argmax(loads[:, column])), int(np.argmin(loads[:, column]))]
    picked = list(dict.fromkeys([*first, *(int(i) for i in order)]))[:most]
    return sorted(among[i] for i in picked)
