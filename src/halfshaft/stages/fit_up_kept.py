"""What fit-up left in out/fitup, for runs that work none: windows and way in of the same build, or a word of it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from halfshaft.build import Build
from halfshaft.checks import Check, Origin, Severity, Source
from halfshaft.digest import digest
from halfshaft.measure import Measured
from halfshaft.stages.handed import Known

if TYPE_CHECKING:
    from halfshaft.fitup.entry import Entry
    from halfshaft.fitup.station import FitUp

Of = tuple[Build, Measured, tuple[tuple[str, str], ...]]  # what fit-up hangs on: build, points, prints of its meshes

WORKED = "worked.json"  # tells of what build the files beside it are
_FORM = 2  # of what stands in it
_OWN = Source(Origin.DERIVED, "docs/fitup.md")


def worked_text(placed: FitUp, of: Of) -> bytes:
    """What is written beside the files of a fit-up."""
    from halfshaft.fitup.entry import kept

    return json.dumps({"of": _print(of), **kept(placed)}).encode()


def known_entry(of: Of, folder: Path, known: Known) -> Entry | None:
    """Windows and way in of this very build where they were worked before: in this process, or kept in out/fitup."""
    wish, measured, _ = of
    if wish.fitup is None:
        return None
    from halfshaft.fitup.entry import entry_again, entry_of

    placed = known("fitup", of)
    if placed is not None:
        return entry_of(placed)
    told = _worked(folder / "out")
    if told.get("of") != _print(of):
        return None
    try:
        return entry_again(wish, measured, folder, told)
    except (KeyError, TypeError, ValueError, AttributeError):
        return None  # spoiled by a hand: to be worked again


def fit_up_files(out: Path, of: Of) -> tuple[Check, ...]:
    """Whether the windows and the way in that lie in out/fitup are of this very build: this run does not work them."""
    worked = _worked(out).get("of", "")
    if worked == _print(of):
        return ()
    title = "Windows and way in are of an earlier build" if worked else "Windows and way in have not been worked"
    severity = Severity.CAUTION if worked else Severity.NOTE
    do = "Work them with 'halfshaft fitup': it takes a minute, so 'run' leaves it to you."
    return (Check("fitup", "out/fitup", title, _OWN, severity, do, failed_outright=True),)


def _print(of: Of) -> str:
    return digest(_FORM, *of)


def _worked(out: Path) -> dict[str, Any]:
    """What the last fit-up wrote down; empty where there is none that can be read."""
    try:
        told = json.loads((out / "fitup" / WORKED).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return told if isinstance(told, dict) else {}
