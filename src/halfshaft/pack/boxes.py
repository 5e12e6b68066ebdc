"""Boxes for every bay of the layout that is built. A build and its pack, laid out, in; boxes with their checks out."""

from __future__ import annotations

from dataclasses import dataclass

from halfshaft.build import Build
from halfshaft.build.left_out import left_out
from halfshaft.checks import Assumed, Check, Severity
from halfshaft.pack.box import Box, box_of
from halfshaft.pack.model import Pack
from halfshaft.pack.told import STATION
from halfshaft.pack.verdict import _DERIVED


@dataclass(frozen=True, eq=False, slots=True)
class Boxes:
    """The boxes of a pack, bay by bay."""

    boxes: tuple[Box, ...]
    checks: tuple[Check, ...]
    assumed: tuple[Assumed, ...]


def boxes_of(build: Build, pack: Pack) -> Boxes:
    """A box for each bay that holds modules; none where no layout was found. What cannot be drawn is told as a check.

    Raises ValueError where the build has no [pack.box].
    """
    told = build.pack.box if build.pack is not None else None
    if told is None:
        raise ValueError("the build has no [pack.box]")
    laid = pack.laid
    if laid is None or laid.chosen is None:
        return Boxes((), (), ())
    found: list[Box] = []
    checks: list[Check] = []
    share = pack.mass_kg / pack.modules_kg - 1.0
    bays = {bay.name: bay for bay in laid.bays}
    for hold, lump in zip(laid.chosen.retention, laid.lumps, strict=True):
        own = [one for one in laid.chosen.layout.modules if one.bay == hold.bay]
        try:
            found.append(box_of(build, told, bays[hold.bay], own, hold, share * lump.mass_kg))
        except ValueError as why:
            do = f"{str(why)[:1].upper()}{str(why)[1:]}."
            checks.append(
                Check(
                    STATION, f"box {hold.bay}", "Box cannot be drawn", _DERIVED, Severity.STOP, do, failed_outright=True
                )
            )
    checks += [check for box in found for check in box.checks]
    assumed = [*left_out(told, "pack.box"), *(one for box in found for one in box.assumed)]
    return Boxes(tuple(found), tuple(checks), tuple(dict.fromkeys(assumed)))


def boxes_left() -> Check:
    """Told where boxes are wanted and their modules were not laid out."""
    do = "Work them with 'halfshaft pack' or 'halfshaft sheets': it takes longer, so this run leaves them out."
    return Check(STATION, "boxes", "Boxes are not on the sheets", _DERIVED, Severity.NOTE, do, failed_outright=True)
