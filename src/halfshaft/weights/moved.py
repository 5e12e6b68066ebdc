"""The car with things of the ledger moved, not saved: places in, the same results out, in some milliseconds."""

from __future__ import annotations

from collections.abc import Mapping

from halfshaft.build import Build
from halfshaft.measure.model import Measured
from halfshaft.pack.model import Pack
from halfshaft.weights.from_pack import with_modules
from halfshaft.weights.model import Weights
from halfshaft.weights.station import weights_of

Spot = tuple[float, float, float]
Thing = tuple[str, str]  # table of the ledger, 'in' or 'load', and name
_FIELD = {"in": "into", "load": "load"}


def own_things(build: Build) -> tuple[Thing, ...]:
    """What the builder wrote of what goes in or rides along, by table and name: its place can be saved."""
    told = build.weights
    return () if told is None else tuple((table, name) for table, name, _ in told.items if table in _FIELD)


def moved(build: Build, measured: Measured, to: Mapping[Thing, Spot | str], pack: Pack | None = None) -> Weights:
    """The weights with things at other spots (root axes, mm), or in other places of [weights.place] by name.

    `pack` is what the modules are taken from where the ledger leaves them to its layout. All of the station is worked
    but the suggestions of what to move, which ask for a search.
    Raises ValueError where the build has no [weights], KeyError for a thing that is in neither.
    """
    own, _, _ = with_modules(build, None if pack is None else pack.weight)
    told = own.weights
    if told is None:
        raise ValueError("the build has no [weights]")
    tables = {field: dict(getattr(told, field)) for field in _FIELD.values()}
    for (table, name), spot in to.items():
        rows = tables[_FIELD[table]]
        here = {"at": None, "place": spot} if isinstance(spot, str) else {"at": spot, "place": None}
        rows[name] = rows[name].model_copy(update=here)
    other = own.model_copy(update={"weights": told.model_copy(update=tables)})
    return weights_of(other, measured, suggest=False, weighed_as=told)
