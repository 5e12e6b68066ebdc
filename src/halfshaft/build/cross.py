"""What one part of a build says of another. A build of good form in, every name with its body and the faults out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from pathlib import Path, PurePosixPath
from typing import Any

from halfshaft.build import catalogue
from halfshaft.build.cross_book import buy_rows
from halfshaft.build.cross_choose import choose_names
from halfshaft.build.cross_cutter import cutter_rows
from halfshaft.build.cross_fitup import fitup_names
from halfshaft.build.cross_mounts import mounts_names
from halfshaft.build.cross_pack import pack_names
from halfshaft.build.cross_road import car_names, road_names
from halfshaft.build.cross_sheets import sheet_rows
from halfshaft.build.cross_weights import weights_names
from halfshaft.build.form import plain_values
from halfshaft.build.lines import Path as Keys
from halfshaft.build.paper import paper_faults
from halfshaft.build.problems import nearest, shown
from halfshaft.build.readings import Known, known_names
from halfshaft.build.schema import Build
from halfshaft.build.tables import Tables

NAME = re.compile(r"\w[\w-]{0,39}")
_SIGNS = "Write letters, digits, _ and -, no more than 40"
MESHES = (".stl", ".step", ".stp")
LARGEST_MESH_BYTES = 200_000_000


def known_of(tables: Tables) -> Known:
    """Points and faces of each body as written, the root body first; also of a build that has faults."""
    bodies = {name: body for name, body in _table(tables.values, "body").items() if isinstance(body, dict)}
    order = sorted(bodies, key=lambda name: (bodies[name].get("root") is not True, name != "car"))
    return known_names({name: (_table(bodies[name], "point"), _table(bodies[name], "face")) for name in order})


def _table(values: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    inner = values.get(key)
    return inner if isinstance(inner, dict) else {}


def crossed(build: Build, tables: Tables, folder: Path) -> Build:
    """The build with every point and face name qualified; as it came in where `tables` has faults, old or new."""
    _names(build, tables)
    known = known_of(tables)
    _bodies(build, tables, known)
    for name, sheet in build.sheet.items():
        _listed(tables, ("sheet", name, "material"), "material", sheet.material, catalogue.materials())
    values = plain_values(build.model_dump(by_alias=True, exclude_unset=True))
    resolve = _Resolver(known, tables)
    for name in build.bracket:
        _bracket(build, name, tables, values["bracket"][name], resolve)
    for name in build.obstacle:
        _obstacle(build, name, tables, values["obstacle"][name], resolve, folder)
    for name, opening in values.get("opening", {}).items():
        path: Keys = ("opening", name)
        opening["face"] = resolve.face(opening["face"], (*path, "face"))
        opening["hole"] = resolve.point(opening["hole"], (*path, "hole"))
        opening["edge"] = resolve.points(opening["edge"], (*path, "edge"))
        if len(set(opening["edge"])) < 2:
            tables.fault((*path, "edge"), "the edge names one point twice", "Write two points along the edge")
        opening["centre"] = resolve.spot(opening["centre"], (*path, "centre"))
    _placed(build, tables)
    if build.fitup is not None:
        fitup_names(build.fitup, build, tables, values["fitup"], resolve, _mesh, folder)
    if build.mounts is not None:
        written = _table(tables.values, "bracket")
        mounts_names(build.mounts, build, tables, values["mounts"], resolve, written)
    if build.weights is not None:
        weights_names(build.weights, build, tables, values["weights"], resolve)
    if build.pack is not None:
        pack_names(build.pack, build, tables, values["pack"], resolve)
    if build.car is not None:
        car_names(build.car, tables, folder, packed="pack" in tables.values, weighed="weights" in tables.values)
    if build.road is not None:
        road_names(build.road, tables, folder)
        if "car" not in tables.values:
            tables.fault(("road",), "[road] without [car]", "Write [car] with mass, tyre, motor, gear and pack")
    if build.choose is not None:
        choose_names(build.choose, build, tables, folder)
    buy_rows(build, tables)
    cutter_rows(build.cutter, tables)
    paper_faults(build.shop.paper_check, build.build.units, tables)
    sheet_rows(build, tables, folder)
    if tables.problems:
        return build
    return Build.model_validate(values, context={"units": "metric"})


class _Resolver:
    """Names to names with their body; a name that is not known becomes a fault and stays as it is."""

    def __init__(self, known: Known, tables: Tables) -> None:
        self.known = known
        self.tables = tables

    def point(self, name: Any, path: Keys, faces: bool = False) -> Any:
        try:
            return self.known.find(str(name), faces=faces)
        except ValueError as error:
            found, cut, write = str(error).partition(": ")
            self.tables.fault(path, found, (write[:1].upper() + write[1:]) if cut else "")
            return name

    def face(self, name: Any, path: Keys) -> Any:
        return self.point(name, path, faces=True)

    def points(self, names: Iterable[Any], path: Keys) -> list[Any]:
        return [self.point(name, (*path, number)) for number, name in enumerate(names)]

    def spot(self, value: Any, path: Keys) -> Any:
        return self.point(value, path) if isinstance(value, str) else value


def _names(build: Build, tables: Tables) -> None:
    groups: list[tuple[Keys, Mapping[str, Any]]] = [
        (("body",), build.body), (("sheet",), build.sheet), (("bracket",), build.bracket),
        (("obstacle",), build.obstacle), (("opening",), build.opening),
    ]  # fmt: skip
    if build.fitup is not None:
        groups += [(("fitup", "member"), build.fitup.member), (("fitup", "piece"), build.fitup.piece)]
        groups += [(("fitup", "trial"), build.fitup.trial), (("fitup", "window"), build.fitup.window)]
    if build.mounts is not None:
        groups += [(("mounts", "mount"), build.mounts.mount), (("mounts", "rubber"), build.mounts.rubber)]
        for name, mount in build.mounts.mount.items():
            path: Keys = ("mounts", "mount", name)
            groups += [((*path, "joint"), mount.joint), ((*path, "weld"), mount.weld)]
    if build.weights is not None:
        told = build.weights
        groups += [(("weights", "out"), told.out), (("weights", "in"), told.into), (("weights", "load"), told.load)]
        groups += [(("weights", "place"), told.place)]
    groups += [(("buy",), build.buy), (("stock",), build.stock), (("offcut",), build.offcut)]
    if build.pack is not None:
        groups += [(("pack", "bay"), build.pack.bay), (("pack", "keep_out"), build.pack.keep_out)]
    if build.road is not None:
        road = build.road
        groups += [(("road", "route"), road.route), (("road", "socket"), road.socket)]
        groups += [(("road", "station"), road.station)]
    for name, body in build.body.items():
        groups += [(("body", name, "point"), body.point), (("body", name, "face"), body.face)]
    for name, bracket in build.bracket.items():
        groups += [(("bracket", name, "panel"), bracket.panel), (("bracket", name, "stiffener"), bracket.stiffener)]
    for path, group in groups:
        for name in group:
            if not NAME.fullmatch(name):
                tables.fault((*path, name), f"the name {shown(name)} has other signs than a name may have", _SIGNS)
    by_file: dict[str, tuple[Keys, str]] = {}
    windows = build.fitup.window if build.fitup is not None else {}
    for kind, files in (("bracket", build.bracket), ("opening", build.opening), ("fitup.window", windows)):
        for name in files:
            path = (*kind.split("."), name)
            earlier = by_file.setdefault(name.casefold(), (path, name))
            if earlier[0] != path:
                other = ".".join(str(step) for step in earlier[0][:-1])
                found = f"the name '{name}' would give the same files as the {other} '{earlier[1]}'"
                tables.fault(path, found, "Give one of them another name")


def _listed(tables: Tables, path: Keys, what: str, name: str, known: Iterable[str]) -> None:
    names = list(known)
    if name not in names:
        near = nearest(name, names) if what != "bolt" else []  # M5 is no slip of the pen for M10
        write = f"Write '{near[0]}'" if near else f"There are: {', '.join(names)}"
        tables.fault(path, f"the {what} {shown(name)} is not known", write)


def _bodies(build: Build, tables: Tables, known: Known) -> None:
    if not _table(tables.values, "body") and not _table(tables.values, "car"):
        tables.fault(("body",), "no body is told", "Write [body.car.point] and the points you measured under it")
    roots = [name for name, body in build.body.items() if body.root]
    if len(roots) > 1:
        tables.fault(("body", roots[1], "root"), f"{' and '.join(roots)} both say root = true", "Keep one root body")
    for name, body in build.body.items():
        path: Keys = ("body", name)
        own = known.points[name]
        for face, told in body.face.items():
            if face in body.point:
                tables.fault((*path, "face", face), f"'{face}' names both a point and a face", "Give one another name")
            for number, point in enumerate(told.points):
                _own(tables, (*path, "face", face, "points", number), point, name, own)
            if len(set(told.points)) < len(told.points):
                tables.fault((*path, "face", face, "points"), "a point stands twice", "Write each point once")
        for point, hint in body.point.items():
            if hint.twin is not None:
                _own(tables, (*path, "point", point, "twin"), hint.twin, name, own)
                if hint.twin == point:
                    tables.fault(
                        (*path, "point", point, "twin"), f"'{point}' is told as its own twin", "Name the other"
                    )
        if not isinstance(body.datum, str):
            three = (body.datum.origin, body.datum.along, body.datum.level)
            for key, point in zip(("origin", "along", "level"), three, strict=True):
                _own(tables, (*path, "datum", key), point, name, own)
            if len(set(three)) < 3:
                tables.fault((*path, "datum"), "the datum names one point twice", "Name three points, not in one line")


def _placed(build: Build, tables: Tables) -> None:
    for name, body in build.body.items():
        path: Keys = ("body", name, "placed")
        if body.placed == "fitup" and name == build.root:
            tables.fault(path, f"'{name}' is the root body: all else is placed in it", "Take this line away")
        elif body.placed == "fitup" and (build.fitup is None or build.fitup.unit != name):
            write = f'Write [fitup] with unit = "{name}", or placed = "readings"'
            tables.fault(path, f"'{name}' is no body that [fitup] places", write)


def _own(tables: Tables, path: Keys, point: str, body: str, points: Iterable[str]) -> None:
    """A name that must be a point of this very body, told without the body."""
    known = list(points)
    if point in known:
        return
    near = nearest(point.rpartition(".")[2], known, limit=3)
    write = f"Write {' or '.join(near)}, or add it" if near else "Add it"
    tables.fault(path, f"{shown(point)} is not a point of the body '{body}'", f"{write} under [body.{body}.point]")


def _bracket(build: Build, name: str, tables: Tables, values: dict[str, Any], resolve: _Resolver) -> None:
    bracket = build.bracket[name]
    path: Keys = ("bracket", name)
    _listed(tables, (*path, "sheet"), "sheet", bracket.sheet, _table(tables.values, "sheet"))
    if not bracket.panel:
        tables.fault((*path, "panel"), f"the bracket '{name}' has no panel", f"Write [bracket.{name}.panel.web]")
    joined = {join.cover for join in bracket.join}
    for key, panel in bracket.panel.items():
        here: Keys = (*path, "panel", key)
        own = values["panel"][key]
        _panel_plane(tables, here, key, panel, own, resolve, cover=key in joined)
        own["holes"] = [
            _hole(tables, (*here, "holes", number), hole, resolve) for number, hole in enumerate(own.get("holes", []))
        ]
        spots = [hole["at"] for hole in own["holes"]]
        for number, at in enumerate(spots):
            if at in spots[:number]:
                tables.fault((*here, "holes", number), f"a second hole at '{at}' in one panel", "Keep one")
        if "outline" in own:
            own["outline"] = [resolve.spot(at, (*here, "outline", n)) for n, at in enumerate(own["outline"])]
            if 0 < len(own["outline"]) < 3:
                found = f"an outline of {len(own['outline'])} corner(s)"
                tables.fault((*here, "outline"), found, "Write three corners or more, or leave it away")
    flats = set(bracket.panel) | set(bracket.stiffener)
    for key, stiffener in bracket.stiffener.items():
        here = (*path, "stiffener", key)
        if key in bracket.panel:
            tables.fault(here, f"'{key}' names both a panel and a stiffener", "Give one another name")
        _listed(tables, (*here, "on"), "panel", stiffener.on, bracket.panel)
    _gussets(build, name, tables)
    covers = set()
    before = len(tables.problems)
    for number, join in enumerate(bracket.join):
        here = (*path, "join", number)
        _listed(tables, here, "panel", join.on, bracket.panel)
        if not NAME.fullmatch(join.cover):
            tables.fault(here, f"the name {shown(join.cover)} has other signs than a name may have", _SIGNS)
        if join.on == join.cover:
            tables.fault(here, f"'{join.on}' is joined to itself", "Name two panels")
        if not join.bolts:
            tables.fault(here, "a join without bolts", 'Write bolts = [{ at = "RL3", bolt = "M8" }]')
        covers.add(join.cover)
        own = values["join"][number]
        own["bolts"] = [_hole(tables, (*here, "bolts", n), hole, resolve) for n, hole in enumerate(own["bolts"])]
    _chain(build, name, tables, values, resolve, flats, covers, broken=len(tables.problems) > before)


def _gussets(build: Build, name: str, tables: Tables) -> None:
    bracket = build.bracket[name]
    flats = dict.fromkeys([*bracket.panel, *bracket.stiffener])
    joined = {join.cover for join in bracket.join}
    for number, wish in enumerate(bracket.gusset):
        here: Keys = ("bracket", name, "gusset", number)
        for place, flat in enumerate(wish.between):
            _listed(tables, (*here, "between", place), "panel", flat, [*flats, *sorted(joined - set(flats))])
        if wish.between[0] == wish.between[1]:
            tables.fault((*here, "between"), f"a gusset between '{wish.between[0]}' and itself", "Name two panels")
        if wish.sheet is not None:
            _listed(tables, (*here, "sheet"), "sheet", wish.sheet, _table(tables.values, "sheet"))
            own, other = build.sheet.get(bracket.sheet), build.sheet.get(wish.sheet)
            if own is not None and other is not None and own.material != other.material:
                found = f"the sheet '{wish.sheet}' is {other.material}, the bracket {own.material}"
                tables.fault((*here, "sheet"), found, "Take a sheet of the same material: strength is worked with one")
        if wish.ends and wish.given("at"):
            tables.fault((*here, "at"), "a gusset at both ends and at one place", "Keep ends = true or at")
        if wish.distance_mm is not None and wish.at == "middle" and not wish.ends:
            found = "a distance from no end"
            tables.fault((*here, "distance"), found, 'Write at = "front" for the end it is told from, or ends = true')
        for key in bracket.gusset_names[number]:
            if key in flats or key in joined:
                tables.fault(here, f"'{key}' names a panel and this gusset", f"Give the panel '{key}' another name")


def _panel_plane(
    tables: Tables, here: Keys, key: str, panel: Any, own: dict[str, Any], resolve: _Resolver, cover: bool
) -> None:
    if panel.face is not None:
        own["face"] = resolve.face(panel.face, (*here, "face"))
        if panel.through:
            tables.fault((*here, "through"), f"the panel '{key}' has a face and points", "Keep face or through")
    if panel.through:
        own["through"] = resolve.points(panel.through, (*here, "through"))
    if panel.square_to is not None:
        own["square_to"] = resolve.face(panel.square_to, (*here, "square_to"))
    if panel.face is not None or (panel.lip and not panel.through):
        if panel.face is None:
            tables.fault(here, f"the lip '{key}' has no face", 'Write face = "left_web", or through = three points')
        return
    if not panel.through and cover:
        return  # a cover without a plane of its own lies flat on its panel
    if not panel.through:
        tables.fault(here, f"the panel '{key}' has no face", 'Write face = "left_web", or through = ["A", "B", "C"]')
        return
    if len(set(panel.through)) != len(panel.through):
        tables.fault((*here, "through"), "a point stands twice", "Write different points")
    wanted = 2 if panel.square_to is not None else 3
    if len(panel.through) != wanted:
        found = f"through {len(panel.through)} point(s)"
        tables.fault((*here, "through"), found, "Write three points, or two and square_to = a face")
    if panel.looks is None:
        tables.fault(here, f"the panel '{key}' does not say where its metal lies", 'Write looks = "left" for example')


def _hole(tables: Tables, path: Keys, hole: dict[str, Any], resolve: _Resolver) -> dict[str, Any]:
    try:
        catalogue.bolt(hole["bolt"])
    except KeyError:
        _listed(tables, (*path, "bolt"), "bolt", hole["bolt"], catalogue.bolts())
    return hole | {"at": resolve.point(hole["at"], (*path, "at"))}


def _chain(
    build: Build,
    name: str,
    tables: Tables,
    values: dict[str, Any],
    resolve: _Resolver,
    flats: set[str],
    covers: set[str],
    broken: bool,
) -> None:
    """Folds must join all panels into one tree; covers are parts of their own."""
    bracket = build.bracket[name]
    path: Keys = ("bracket", name)
    group = {flat: flat for flat in bracket.panel}

    def top(flat: str) -> str:
        while group[flat] != flat:
            flat = group[flat]
        return flat

    before = len(tables.problems)
    for number, fold in enumerate(bracket.folds):
        here: Keys = (*path, "folds", number)
        own = values["folds"][number]
        for key in ("start", "end"):
            if own.get(key) is not None:
                own[key] = resolve.spot(own[key], (*here, key))
        a, b = fold.between
        for flat in (a, b):
            _listed(tables, (*here, "between"), "panel", flat, flats)
        if a == b:
            tables.fault(here, f"a fold between '{a}' and itself", "Name two panels")
        elif a in group and b in group:
            if top(a) == top(b):
                tables.fault(here, f"the fold {a}-{b} closes a ring", "Take one fold away: panels must open flat")
            else:
                group[top(b)] = top(a)
    if broken or len(tables.problems) > before:
        return  # what is joined to what is not known yet
    first = next((flat for flat in bracket.panel if flat not in covers), None)
    for flat in bracket.panel:
        if first is not None and flat not in covers and top(flat) != top(first):
            write = f'Write in folds: {{ between = ["{first}", "{flat}"] }}, or join it as a cover'
            tables.fault((*path, "panel", flat), f"no fold joins the panel '{flat}' to '{first}'", write)


def _obstacle(
    build: Build, name: str, tables: Tables, values: dict[str, Any], resolve: _Resolver, folder: Path
) -> None:
    obstacle = build.obstacle[name]
    path: Keys = ("obstacle", name)
    told = [key for key, value in (("box", obstacle.box), ("panel", obstacle.panel), ("mesh", obstacle.mesh)) if value]
    if len(told) != 1:
        found = f"the obstacle '{name}' has {' and '.join(told) or 'no shape'}"
        tables.fault(path, found, "Write one of box, panel or mesh")
    if obstacle.box is not None and any(a == b for a, b in zip(*obstacle.box, strict=True)):
        tables.fault((*path, "box"), "the box has no height, width or length", "Write two opposite corners")
    if obstacle.panel:
        values["panel"] = resolve.points(obstacle.panel, (*path, "panel"))
        if len(set(obstacle.panel)) < 3:
            tables.fault((*path, "panel"), f"a panel of {len(set(obstacle.panel))} point(s)", "Write three or more")
    if obstacle.on:
        values["on"] = resolve.points(obstacle.on, (*path, "on"))
    if bool(obstacle.on) != (obstacle.at is not None) or (obstacle.on and len(set(obstacle.on)) != 3):
        tables.fault(
            path, "a mesh is placed by three spots and three points", "Write at = three spots, on = three points"
        )
    if told == ["mesh"] and obstacle.mesh is not None:
        _mesh(tables, (*path, "mesh"), obstacle.mesh, folder)


def _mesh(tables: Tables, path: Keys, mesh: str, folder: Path) -> None:
    way = PurePosixPath(mesh.replace("\\", "/"))
    if way.is_absolute() or ".." in way.parts or re.match(r"[A-Za-z]:", mesh) or "\x00" in mesh or len(mesh) > 200:
        tables.fault(path, f"the mesh {shown(mesh)} lies outside the build folder", "Put the file beside build.toml")
        return
    if way.suffix.lower() not in MESHES:
        tables.fault(path, f"the mesh {shown(mesh)} is none of {', '.join(MESHES)}", "Save it as STL or STEP")
        return
    try:
        there = (folder / way).is_file()
        size = (folder / way).stat().st_size if there else 0
    except OSError:
        there, size = False, 0
    if not there:
        tables.fault(path, f"there is no file {shown(mesh)} in the build folder", "Put the file beside build.toml")
    elif size > LARGEST_MESH_BYTES:
        tables.fault(path, f"the mesh {shown(mesh)} is larger than 200 MB", "Save it coarser")
