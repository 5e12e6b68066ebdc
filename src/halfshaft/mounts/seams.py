"""Welds of a mount under its loads: seams and forces in; the throats, the worst of each judgement and the life out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.catalogue import material, mount_load
from halfshaft.build.catalogue import mounts as rows
from halfshaft.build.mounts import MountInput
from halfshaft.checks import Assumed, Check, Severity
from halfshaft.fold.model import Bracket
from halfshaft.measure.model import Measured
from halfshaft.mounts.duty import spectra
from halfshaft.mounts.fatigue import fatigue_checks
from halfshaft.mounts.loads import Case
from halfshaft.mounts.placed import spot_of
from halfshaft.mounts.seat_checks import worst_of
from halfshaft.mounts.verdict import practice, refused
from halfshaft.mounts.weld_group import ThroatStress, WeldLine, throat_stresses
from halfshaft.mounts.weld_size import counted_line, size_checks, throat_of_leg_mm
from halfshaft.mounts.welds import weld_checks

Array = NDArray[np.float64]


def seams_of(
    about: str, name: str, mount: MountInput, bracket: Bracket | None, steel: str, measured: Measured
) -> tuple[tuple[WeldLine, ...], tuple[str, ...], tuple[Check, ...], tuple[Assumed, ...]]:
    """The runs that count, the metals they join, what their sizes say, and what was assumed.

    Raises ValueError in words where a point is not located.
    """
    lines: list[WeldLine] = []
    checks: list[Check] = []
    assumed: list[Assumed] = []
    metals = {steel}
    for key, weld in mount.weld.items():
        where = f"mounts.mount.{name}.weld.{key}"
        ends = [spot_of(at, measured) for at in weld.along]
        throat = weld.throat_mm if weld.throat_mm is not None else throat_of_leg_mm(weld.leg_mm or 0.0)
        wall = _or_row(weld.wall_mm, f"{where}.wall", "frame.wall", assumed)
        metals.add(str(_or_row(weld.material, f"{where}.material", "frame.material", assumed)))
        thin = [float(str(wall)), *([bracket.thickness_mm] if bracket is not None else [])]
        for number, (start, end) in enumerate(pairwise(ends), 1):
            title = key if len(ends) == 2 else f"{key} {number}"
            line = WeldLine(_tuple(start), _tuple(end), throat, None, title)
            checks += size_checks(about, line, thin, full_ends=weld.full_ends)
            counts = counted_line(line, weld.full_ends)
            if counts is not None:
                lines.append(counts)
    return tuple(lines), tuple(sorted(metals)), tuple(checks), tuple(assumed)


def seams_under(
    about: str,
    lines: Sequence[WeldLine],
    metals: Sequence[str],
    centre_mm: Array,
    cases: Sequence[Case],
    force_n: Array,
    moment_nmm: Array,
) -> tuple[Check, ...]:
    """The seams in every case: they carry the whole load of the mount, as if its bolts into the frame were not there.

    Source: welds are so much stiffer than bolts that they do not share, EN 1993-1-8:2005 3.9.3 (1) apart; from memory.
    """
    unknown = [metal for metal in metals if metal not in _weldable()]
    if unknown:
        do = "Bolt it, or take a steel of the list: mild steel S235, S275, A36, structural steel S355."
        return (refused(about, f"welding {', '.join(unknown)}", practice("no rule for such a weld here"), do),)
    if not lines:
        do = "Weld longer: runs under 30 mm or six throats do not count."
        return (refused(about, "no weld is long enough to count", practice("docs/bolts_and_welds.md"), do),)
    found: list[tuple[str, Check]] = []
    for case, force, moment in zip(cases, force_n, moment_nmm, strict=True):
        try:
            stresses = throat_stresses(lines, force, moment, centre_mm)
        except ValueError as why:
            found.append(("", refused(about, "welds in one line", practice("docs/bolts_and_welds.md"), f"{why}.")))
            break
        checks = weld_checks(about, lines, metals, stresses)
        found += [(case.name, replace(c, title=c.title.replace("start", "end"))) for c in checks if _counts(c)]
    return worst_of(found)


def _counts(check: Check) -> bool:
    return check.severity is not Severity.NOTE


def life_of_seams(
    about: str, lines: Sequence[WeldLine], centre_mm: Array, unit_loads: Mapping[str, tuple[Array, Array]], km: float
) -> tuple[Check, ...]:
    """Fatigue of the worst run over a distance, its duty as the catalogue has it.

    `unit_loads` are force and moment (3,) at rest ('rest') and in each unit case.
    """
    if not lines:
        return ()
    try:
        states = {name: throat_stresses(lines, *load, centre_mm) for name, load in unit_loads.items()}
    except ValueError:
        return ()  # told where the seams' strength is
    direct, shear = rows.detail("fillet, root"), rows.detail("fillet, shear")
    out: list[tuple[str, Check]] = []
    for at, rest in enumerate(states["rest"]):
        unit = {name: _less(stress[at], rest) for name, stress in states.items() if name != "rest"}
        across, along = spectra(unit, km)
        name = f"{about}, {lines[rest.line].name}"
        whole = f"{km:,.0f} km"
        out += [("", c) for c in fatigue_checks(name, direct, across, shear=(shear, along), whole=whole)]
    worst = max(
        out, key=lambda pair: (pair[1].found or 0.0) / (pair[1].limit or 1.0) if "fatigue" in pair[1].title else -1
    )
    return (worst[1],)


def _less(one: ThroatStress, rest: ThroatStress) -> Array:
    return np.array(
        [
            one.sigma_perp_mpa - rest.sigma_perp_mpa,
            one.tau_perp_mpa - rest.tau_perp_mpa,
            one.tau_par_mpa - rest.tau_par_mpa,
        ]
    )


def _weldable() -> tuple[str, ...]:
    return tuple(rows.correlated())


def _or_row(told: object, where: str, row_name: str, assumed: list[Assumed]) -> object:
    if told is not None:
        return told
    row = mount_load(row_name)
    assumed.append(Assumed(where, f"{row.value} {row.unit}".strip(), row.source))
    return row.value


def _tuple(spot: Array) -> tuple[float, float, float]:
    return float(spot[0]), float(spot[1]), float(spot[2])


def sheet_of(bracket: Bracket | None, sheets: Mapping[str, object]) -> str:
    """The metal that a seam holds on: the bracket's sheet, or mild steel where there is none."""
    told = sheets.get(bracket.sheet) if bracket is not None else None
    name = getattr(told, "material", "mild steel S235")
    return str(material(name).name)
