"""Tables of the mounts: what each carries, how the unit moves and shakes, what a cut frame keeps."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from halfshaft.build.units import (
    format_force,
    format_length,
    format_sheet,
)
from halfshaft.build.value import UnitSystem
from halfshaft.checks import Good

if TYPE_CHECKING:
    from halfshaft.mounts.model import Mount, Mounts
from halfshaft.tables import Array, Table, amount, mood_of


def mounts_table(found: Mounts, units: UnitSystem) -> Table:
    """Each mount with its largest force, what would give way first, and what to change."""
    from halfshaft.mounts.model import use_of

    rows, mood = [], []
    assert found.cases is not None
    names = [case.name for case in found.cases.cases]
    for mount in found.mounts:
        size = np.linalg.norm(mount.force_n, axis=1)
        at = int(np.argmax(size))
        worst = mount.weakest
        used = use_of(worst) if worst is not None else None
        failed = [c for c in mount.checks if not c.ok]
        stops = any(c.severity == "stop" for c in failed)
        rows.append(
            (
                mount.name,
                mount.bracket,
                f"{format_force(float(size[at]), units)}, {names[at]}",
                f"{worst.about.removeprefix(f'mount {mount.name}, ')}: {worst.title}" if worst is not None else "",
                f"{100.0 * used:.0f} %" if used is not None and np.isfinite(used) else "",
                (mount.change if stops else "") or ("holds; see its cautions" if failed else "holds"),
            )
        )
        mood.append("bad" if stops else "care" if failed else "good")
    columns = ("mount", "bracket", "largest force", "gives way first", "used", "what to change")
    return Table("Mounts", columns, tuple(rows), (4,), tuple(mood), "the unit is not held: see the checks")


def mount_checks_table(mount: Mount, units: UnitSystem, most: int | None = None) -> Table:
    """Every judgement of one mount, the worst first; `most` rows of it."""
    from halfshaft.mounts.seat_checks import badness

    ordered = sorted(
        mount.checks,
        key=lambda c: (c.ok, {"stop": 0, "caution": 1}.get(c.severity.value, 2) if not c.ok else 0, -badness(c)),
    )
    rows, mood = [], []
    for check in ordered[:most]:
        used = badness(check)
        limit = amount(check.limit, check.unit, units)
        sense = "" if check.good is Good.TOLD or not limit else f"{check.good.value} "
        rows.append(
            (
                "ok" if check.ok else check.severity.value,
                f"{100.0 * used:.0f} %" if 0.0 <= used < 1e4 else "",
                check.about.removeprefix(f"mount {mount.name}").removeprefix(", ") or "rubber",
                check.title,
                amount(check.found, check.unit, units),
                sense + limit,
            )
        )
        mood.append(mood_of(check))
    left = len(ordered) - len(rows)
    title = f"Mount {mount.name}, worst first" + (f" ({left} more)" if left > 0 else "")
    return Table(title, ("", "used", "of", "check", "found", "limit"), tuple(rows), (1, 4, 5), tuple(mood))


def load_cases_table(found: Mounts, units: UnitSystem) -> Table:
    """What pulls at the unit in each case, at its centre of mass, and where that comes from."""
    cases = found.cases.cases if found.cases is not None else ()
    rows = tuple(
        (case.name, case.kind, _vector(case.force_n, units), _turns(case.moment_nmm), case.words, str(case.source))
        for case in cases
    )
    columns = ("case", "kind", "force forward, left, up", "moment about them Nm", "", "source")
    return Table("Load cases", columns, rows, (2, 3))


def mount_forces_table(found: Mounts, units: UnitSystem) -> Table:
    """What the unit puts on each mount in each case: forward, left, up."""
    cases = found.cases.cases if found.cases is not None and found.held else ()
    rows = tuple(
        (case.name, *(_vector(mount.force_n[at], units) for mount in found.mounts)) for at, case in enumerate(cases)
    )
    columns = ("case", *(mount.name for mount in found.mounts))
    title = f"Forces on the mounts in {'N' if units == 'metric' else 'lbf'}: forward, left, up"
    return Table(title, columns, rows, tuple(range(1, len(columns))))


def modes_table(found: Mounts) -> Table:
    """The six ways the unit shakes on its rubber, and where the energy of each is."""
    from halfshaft.mounts.modes import MOTIONS

    shakes = found.modes
    rows = (
        tuple(
            (f"{shakes.frequency_hz[i]:.1f}", name, *(f"{round(100.0 * float(e))}" for e in shakes.energy[i]))
            for i, name in enumerate(shakes.names)
        )
        if shakes is not None
        else ()
    )
    columns = ("Hz", "moves in", *(f"{motion} %" for motion in MOTIONS))
    return Table("How the unit shakes: six modes, share of energy in each motion", columns, rows, (0, *range(2, 8)))


def motion_table(found: Mounts, units: UnitSystem) -> Table:
    """How far each piece moves, and the least room that leaves."""
    near = {one.piece: one for one in found.closest or ()}
    rows, mood = [], []
    for move in found.motion.pieces if found.motion is not None else ():
        one = near.get(move.piece)
        room = f"{format_length(one.distance_mm, units)} to {one.thing}, {one.case}" if one is not None else ""
        rows.append(
            (move.piece, format_length(move.moved_mm, units), move.case, format_length(move.sway_mm, units), room)
        )
        mood.append(
            "bad" if one is not None and one.distance_mm <= 0.0 else "care" if move.moved_mm > move.sway_mm else ""
        )
    columns = ("piece", "moves", "most under", "sway kept room for", "least room as it moves")
    return Table("How far the unit moves", columns, tuple(rows), (1, 3), tuple(mood))


def members_table(found: Mounts) -> Table:
    """What windows leave of each cut member at its worst station, as shares of the whole, and what brings it back."""
    rows = tuple(
        (
            one.member,
            *(f"{100.0 * share:.0f} %" for share in (one.kept.bending, one.kept.shear, one.kept.twist, one.bearing)),
            one.bracket or "none",
            one.plated.words if one.plated is not None else "",
        )
        for one in found.members or ()
    )
    columns = (
        "member",
        "bending left",
        "shear",
        "twist",
        "bearing over the window",
        "bracket on it",
        "to bring it back",
    )
    return Table("Cut members of the frame", columns, rows, (1, 2, 3, 4), (), "no member is cut")


def stiffness_table(found: Mounts) -> Table:
    """Frequencies with all mounts softer and stiffer by a factor, and the most travel used under full pull."""
    choice = found.choice
    if choice is None:
        return Table("All mounts softer or stiffer", ("stiffness",), (), (), (), "how it shakes could not be worked")
    rows = tuple(
        (
            f"{factor:.2f} x",
            *("" if np.isnan(hz) else f"{hz:.1f}" for hz in choice.frequency_hz[at]),
            "" if np.isnan(choice.sag_mm[at]) else f"{choice.sag_mm[at]:.1f} mm",
            "" if np.isnan(choice.most_used[at]).all() else f"{100.0 * np.nanmax(choice.most_used[at]):.0f} %",
        )
        for at, factor in enumerate(choice.factor)
    )
    names = next((names for factor, names in zip(choice.factor, choice.names, strict=True) if factor >= 0.999), ())
    columns = ("stiffness", *(f"{name}, Hz" for name in names), "sags", "travel used at full pull")
    bands = "; ".join(f"{band.name} {band.low_hz:.0f} to {band.high_hz:.0f} Hz" for band in found.bands)
    title = f"All mounts softer or stiffer (shaken by {bands})" if bands else "All mounts softer or stiffer"
    return Table(title, columns, rows, tuple(range(1, len(columns))), (), "")


def thinnest_table(found: Mounts, units: UnitSystem) -> Table:
    """The sheet that each bracket could be made of, and what was tried, with the mass and how much is used of each."""
    rows = tuple(
        (
            one.bracket,
            format_sheet(one.as_drawn_mm, units),
            format_sheet(one.least_mm, units) if one.least_mm is not None else "none",
            "; ".join(
                format_sheet(t.thickness_mm, units)
                + (" cannot be made" if t.refused else f" {100.0 * min(t.use, 9.99):.0f} %")
                for t in one.trials
            ),
            one.words,
        )
        for one in found.thinnest or ()
    )
    columns = ("bracket", "drawn in", "holds from", "tried, and used of what it may bear", "")
    return Table("Thinnest sheet that holds", columns, rows, (), (), "no mount has a bracket")


def _vector(values: Array, units: UnitSystem) -> str:
    part = 1.0 if units == "metric" else 4.4482216152605
    return " ".join(f"{value / part + 0.0:.0f}" for value in np.round(values))


def _turns(values: Array) -> str:
    return " ".join(f"{value + 0.0:.0f}" for value in np.round(values / 1000.0))
