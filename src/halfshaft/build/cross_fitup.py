"""What [fitup] says of points and files. The table and a resolver of names in, names with their body and faults out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, Protocol

from halfshaft.build.fitup import FitupInput, PieceInput, WheelInput, WindowInput
from halfshaft.build.lines import Path as Keys
from halfshaft.build.problems import nearest, shown
from halfshaft.build.schema import Build
from halfshaft.build.tables import Tables
from halfshaft.build.tyre import free_size_mm


class Resolver(Protocol):
    """Names to names with their body, told as faults where they are not known."""

    def point(self, name: Any, path: Keys) -> Any: ...

    def points(self, names: Iterable[Any], path: Keys) -> list[Any]: ...

    def face(self, name: Any, path: Keys) -> Any: ...

    def spot(self, value: Any, path: Keys) -> Any: ...


def fitup_names(
    fitup: FitupInput,
    build: Build,
    tables: Tables,
    values: dict[str, Any],
    resolve: Resolver,
    mesh: Callable[[Tables, Keys, str, Path], None],
    folder: Path,
) -> None:
    """Put whole names into `values`, the plain table of `fitup`; add a fault to `tables` for what cannot be."""
    here: Keys = ("fitup",)
    others = [name for name in build.body if name != build.root]
    if fitup.unit not in others:
        write = f'Write unit = "{others[0]}"' if others else "Write [body.unit.point] and its points first"
        tables.fault((*here, "unit") if fitup.given("unit") else here, f"'{fitup.unit}' is no body to be placed", write)
    if fitup.on:
        values["on"] = resolve.points(fitup.on, (*here, "on"))
    if bool(fitup.on) != (fitup.at is not None) or (fitup.on and len(set(fitup.on)) != 3):
        found = "a drawing is laid on the unit by three spots and three points"
        tables.fault((*here, "on") if fitup.on else here, found, "Write at = three spots, on = three points")
    for name, member in fitup.member.items():
        path: Keys = (*here, "member", name)
        values["member"][name]["along"] = [
            resolve.spot(at, (*path, "along", number)) for number, at in enumerate(member.along)
        ]
        if len(set(member.along)) < max(2, len(member.along)):
            tables.fault((*path, "along"), "a member runs along two points or more, each once", "Name them in order")
        if member.welds:
            values["member"][name]["welds"] = [
                [resolve.spot(at, (*path, "welds", number, place)) for place, at in enumerate(weld)]
                for number, weld in enumerate(member.welds)
            ]
        for number, weld in enumerate(member.welds):
            if len(set(weld)) < max(2, len(weld)):
                found = "a weld runs along two points or more, each once"
                tables.fault((*path, "welds", number), found, 'Write welds = [["W1", "W2"]]')
        if (member.section == "channel") != (member.opens is not None):
            found = (
                "a channel that does not say where it opens" if member.opens is None else f"a {member.section} opens"
            )
            tables.fault(path, found, 'Write opens = "right" for a channel, for nothing else')
        if member.section != "flat" and 2.0 * member.wall_mm >= min(
            member.width_mm, member.height_mm or member.width_mm
        ):
            tables.fault((*path, "wall"), "the walls fill the section", "Write the thickness of one wall")
    for name, piece in fitup.piece.items():
        _piece(tables, (*here, "piece", name), piece, values["piece"][name], resolve, mesh, folder)
    for side, output in fitup.output.items():
        path = (*here, "output", side)
        own = values["output"][side]
        own["at"], own["inward"] = (
            resolve.point(n, (*path, k)) for k, n in (("at", output.at), ("inward", output.inward))
        )
        if own["at"] == own["inward"]:
            tables.fault(path, "both points of the output are one", "Write a point further in on its axis as inward")
    for side, wheel in fitup.wheel.items():
        _wheel(tables, (*here, "wheel", side), wheel, values["wheel"][side], resolve)
    for name, window in fitup.window.items():
        _window(tables, (*here, "window", name), window, values["window"][name], fitup.member, resolve)
    stands = [*fitup.member, *build.obstacle]
    for number, name in enumerate(fitup.joint.past):
        if name not in stands:
            near = nearest(name, stands)
            write = f"Write '{near[0]}'" if near else f"There are: {', '.join(stands) or 'none'}"
            tables.fault((*here, "joint", "past", number), f"{shown(name)} is no member and no obstacle", write)
    most = fitup.joint.most_length_mm
    if most is not None and most < fitup.joint.least_length_mm:
        tables.fault((*here, "joint", "most_length"), "it is less than least_length", "Write the longer one here")


def _window(
    tables: Tables,
    path: Keys,
    window: WindowInput,
    values: dict[str, Any],
    members: Mapping[str, Any],
    resolve: Resolver,
) -> None:
    if window.member not in members:
        near = nearest(window.member, members)
        write = f"Write '{near[0]}'" if near else f"Write [fitup.member.{window.member}] first"
        tables.fault((*path, "member"), f"the member {shown(window.member)} is not told", write)
    values["face"] = resolve.face(window.face, (*path, "face"))
    values["hole"] = resolve.point(window.hole, (*path, "hole"))
    values["edge"] = [resolve.point(end, (*path, "edge", number)) for number, end in enumerate(window.edge)]
    if len(set(window.edge)) < 2:
        tables.fault((*path, "edge"), "the edge names one point twice", "Write two points along the edge")


def _piece(
    tables: Tables,
    path: Keys,
    piece: PieceInput,
    values: dict[str, Any],
    resolve: Resolver,
    mesh: Callable[[Tables, Keys, str, Path], None],
    folder: Path,
) -> None:
    told = [key for key, value in (("box", piece.box), ("tube", piece.tube), ("mesh", piece.mesh)) if value]
    if len(told) != 1:
        tables.fault(path, f"the piece has {' and '.join(told) or 'no shape'}", "Write one of box, tube or mesh")
    if piece.box is not None and any(a == b for a, b in zip(*piece.box, strict=True)):
        tables.fault((*path, "box"), "the box has no height, width or length", "Write two opposite corners")
    if (piece.tube is not None) != (piece.diameter_mm is not None):
        tables.fault(path, "a tube wants two spots and a diameter", "Write tube = [[0, 0, 0], [200, 0, 0]], diameter")
    if piece.tube is not None and piece.tube[0] == piece.tube[1]:
        tables.fault((*path, "tube"), "the tube has no length", "Write the middles of its two ends")
    if piece.on:
        values["on"] = resolve.points(piece.on, (*path, "on"))
    if bool(piece.on) != (piece.at is not None) or (piece.on and len(set(piece.on)) != 3):
        found = "a mesh is placed by three spots and three points"
        tables.fault(path, found, "Write at = three spots, on = three points")
    if told == ["mesh"] and piece.mesh is not None:
        mesh(tables, (*path, "mesh"), piece.mesh, folder)


_COUNTS = {"lower": 3, "upper": 3, "toe": 2, "pivot": 2}


def _wheel(tables: Tables, path: Keys, wheel: WheelInput, values: dict[str, Any], resolve: Resolver) -> None:
    for key, count in _COUNTS.items():
        names = getattr(wheel, key)
        if names:
            values[key] = resolve.points(names, (*path, key))
            if len(set(names)) != count or len(names) != count:
                what = "two points on its inner axis, then the ball joint" if count == 3 else "two different points"
                tables.fault((*path, key), f"{key} names {len(set(names))} point(s)", f"Write {what}")
    for key in ("joint", "hub"):
        if getattr(wheel, key) is not None:
            values[key] = resolve.point(getattr(wheel, key), (*path, key))
    if wheel.tyre is not None:
        try:
            free_size_mm(wheel.tyre)
        except ValueError:
            tables.fault((*path, "tyre"), f"{shown(wheel.tyre)} is no tyre's marking", "Write for example 165/80R15")
    arms = bool(wheel.lower and wheel.upper) or bool(wheel.pivot)
    if bool(wheel.table) == arms or (wheel.lower and wheel.pivot):
        tables.fault(path, "how the wheel moves is not told", "Write a table, or lower and upper, or pivot")
    elif arms and (wheel.joint is None or wheel.hub is None):
        tables.fault(path, "arms without joint and hub", "Write joint and hub: points at ride height")
    if bool(wheel.lower) != bool(wheel.upper):
        tables.fault(path, "one wishbone alone", "Write lower and upper, three points each")
