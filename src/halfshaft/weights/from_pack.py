"""The pack's modules as rows of the ledger, where the builder leaves them to its layout. [weights] and a Pack in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from halfshaft.build import Build
from halfshaft.build.catalogue import default
from halfshaft.build.cross_weights import counts_pack
from halfshaft.build.weights import ItemInput, PlaceInput, WeightsInput
from halfshaft.checks import Assumed, Check, Good, Origin, Severity, Source, worst_first
from halfshaft.measure.model import Measured
from halfshaft.pack.mass import PackWeight
from halfshaft.weights.model import Weights
from halfshaft.weights.station import weights_of
from halfshaft.weights.verdict import OWN, STATION, refused
from halfshaft.weights.words import split_words

Array = NDArray[np.float64]

FROM = "from the pack's layout"
MOST_MOVABLE = 24  # modules that moves are sought for: more are one row a bay
_LAYOUT = Source(Origin.DERIVED, "modules of the pack where its layout puts them; docs/pack.md")


def with_pack(told: WeightsInput, pack: PackWeight | None, assumed: list[Assumed]) -> WeightsInput:
    """[weights] with a row for each module, and one a bay for its box and cables, where the layout puts them.

    Modules may be moved to bays with room left, so that moves are proposed for them as for things told by hand.
    Raises ValueError, in words, where no layout was found.
    """
    if pack is None:
        raise ValueError("no layout of the pack was found to weigh: see the checks of the pack")
    rows: dict[str, ItemInput] = {}
    if len(pack.modules) <= MOST_MOVABLE:
        open_to = [bay for bay in pack.bays if bay.room > 0]
        for one in pack.modules:
            others = tuple(_place(bay.name) for bay in open_to if bay.name != one.bay)
            rows[f"module {one.name}"] = _row(pack.each_kg, one.centre_mm, others, one.bay)
    else:
        for lump in pack.lumps:
            rows[f"modules in {lump.name}"] = _row(lump.mass_kg, lump.centre_mm, (), lump.name)
    if pack.box_share > 0.0:
        spread = default("weights.box_spread")
        for lump in pack.lumps:
            mass = pack.box_share * lump.mass_kg
            row = _row(mass, lump.centre_mm, (), lump.name)
            rows[f"box and cables, {lump.name}"] = row.model_copy(update={"mass_spread_kg": float(spread.value) * mass})
        assumed.append(Assumed("weights: mass_spread of boxes and cables", f"{float(spread.value):.0%}", spread.source))
    places = {
        _place(bay.name): PlaceInput(at=tuple(bay.middle_mm.tolist()), holds=bay.room, what=FROM) for bay in pack.bays
    }
    words = f"{len(pack.modules)} modules of {pack.each_kg:.1f} kg, layout {pack.number}"
    assumed.append(Assumed("weights.in, the pack", words, _LAYOUT))
    return told.model_copy(update={"into": {**told.into, **rows}, "place": {**told.place, **places}})


def _place(bay: str) -> str:
    return f"bay {bay}"


def _row(mass_kg: float, at_mm: Array, places: tuple[str, ...], bay: str) -> ItemInput:
    told = {"mass": mass_kg, "at": tuple(at_mm.tolist()), "places": places, "what": f"{FROM}, {bay}"}
    return ItemInput.model_validate(told)


def with_modules(build: Build, pack: PackWeight | None) -> tuple[Build, tuple[Assumed, ...], tuple[Check, ...]]:
    """The build as the ledger sees it: with rows for the pack where it is to be counted from its layout.

    A pack without a layout is left out of the sums, and told as a check that stops.
    """
    told = build.weights
    if told is None or not counts_pack(told, build):
        return build, (), ()
    assumed: list[Assumed] = []
    try:
        return build.model_copy(update={"weights": with_pack(told, pack, assumed)}), tuple(assumed), ()
    except ValueError as why:
        return build, (), (refused("the pack", "It is left out of the sums", str(why)),)


def weights_with_pack(
    build: Build, measured: Measured, pack: PackWeight | None, layouts: tuple[PackWeight, ...] = ()
) -> Weights:
    """All that [weights] tells, the pack's modules from its layout where the ledger leaves them to it.

    `layouts` are all there are: how each would part the weight is told as a check.
    """
    own, listed, more = with_modules(build, pack)
    found = weights_of(own, measured)
    if pack is not None and len(layouts) > 1 and found.empty is not None:
        more = (*more, _compared(build, measured, pack.number, layouts))
    if not listed and not more:
        return found
    checks = tuple(worst_first([*found.checks, *more]))
    return replace(found, checks=checks, assumed=tuple(dict.fromkeys([*found.assumed, *listed])))


def _compared(build: Build, measured: Measured, built: int, layouts: tuple[PackWeight, ...]) -> Check:
    """How each layout of the pack would part the weight of the empty car."""
    shares = {}
    for one in layouts:
        own, _, _ = with_modules(build, one)
        empty = weights_of(own, measured, suggest=False).empty
        if empty is not None:
            shares[one.number] = empty.front_share
    told = ", ".join(f"layout {number} {split_words(share)}" for number, share in shares.items())
    do = f"Front over rear by layout of the pack: {told}. Write layout in [pack] for another."
    title = "Share of the weight in front by layouts"
    return Check(STATION, f"layout {built}", title, OWN, Severity.NOTE, do, 100.0 * shares[built], None, "%", Good.TOLD)
