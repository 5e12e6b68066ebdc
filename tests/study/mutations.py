"""Ways to make a build folder mean something hard. Folder and dice in; its files changed, the names of the ways out.

Unlike bytes turned over, these stay legal to read, mostly: the stations behind the reading get to see them.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

import tomlkit

Table = dict[str, Any]
Rows = list[list[str]]
Way = Callable[[Table, Rows, Path, Random], None]

LENGTHS = [1e-6, 0.1, 1.0, 3.0, 7.5, 12.0, 25.0, 40.0, 100.0, 500.0, 1e4, 1e6, "11 ga", "3/16 in", "4 ft"]
SIGNED = [*(-v for v in LENGTHS if isinstance(v, float)), 0.0, *LENGTHS]
ANGLES = [-720.0, -90.0, -1e-6, 0.0, 1e-6, 1.0, 45.0, 89.999, 90.0, 149.9, 180.0, 360.0, 1e9]
BOLTS = ["M6", "M8", "M12", "M16", "M20", "M24", "1/4 in", "3/4 in"]
NAMES = [
    "Längsträger", "桁", "con", "NUL", "a" * 40, "-", "_", "x-", "0", "__class__", "part", "Ⅷ", "ǆ", "ﬁ", "car",
    "a b", "[bold]", "#panic()", "$x$", "*x*", "<b>", "%s", "{0}", "../x", "", ".", "a.b", "a,b", "\u202e", "x\ny",
]  # fmt: skip
WORDS = [
    "[/red] [bold]", "#panic(1) $x^2 *_ ` \\", "<script>&amp;", "%s {0} {", "\u202e\u0007\x1b[31m", "桁" * 300,
    "a\nb\tc", "", " ", '"""', "'''", "\U0001f527", "//", "/* ", "]]>",
]  # fmt: skip


def change(folder: Path, dice: Random) -> tuple[str, ...]:
    """Change what the folder's files say in one to three ways."""
    build = tomllib.loads((folder / "build.toml").read_text(encoding="utf-8"))
    head, *lines = (folder / "readings.csv").read_text(encoding="utf-8").splitlines()
    rows = [[cell.strip() for cell in line.split(",")] for line in lines]
    done = []
    for _ in range(dice.choice([1, 1, 2, 2, 3])):
        way = dice.choice(WAYS)
        try:
            way(build, rows, folder, dice)
        except (KeyError, IndexError, TypeError):
            continue  # an earlier way took away what this one would change
        done.append(way.__name__.strip("_"))
    (folder / "build.toml").write_text(tomlkit.dumps(build), encoding="utf-8")
    text = "\n".join([head, *(", ".join(row) for row in rows)]) + "\n"
    (folder / "readings.csv").write_text(text, encoding="utf-8")
    return tuple(done)


def _points(build: Table) -> list[str]:
    return [f"{body}.{point}" for body, told in build["body"].items() for point in told.get("point", {})]


def _bracket(build: Table, dice: Random) -> Table:
    return build["bracket"][dice.choice(sorted(build["bracket"]))]


def _panel(build: Table, dice: Random) -> Table:
    panels = _bracket(build, dice)["panel"]
    return panels[dice.choice(sorted(panels))]


def _spot(build: Table, dice: Random) -> Any:
    if dice.random() < 0.4:
        return dice.choice(_points(build))
    if dice.random() < 0.3:
        return [dice.choice(SIGNED) for _ in range(3)]
    return [dice.uniform(0, 300), dice.uniform(250, 450), dice.uniform(380, 520)]


def _sheet(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    key = dice.choice(["thickness", "thickness", "thickness", "yield", "ultimate", "pivot_depth", "brake_radius",
                       "k_factor", "material"])  # fmt: skip
    values: dict[str, list[Any]] = {
        "yield": ["1 MPa", "1e6 MPa", 0.001, "40 ksi"], "ultimate": ["1 MPa", "1e6 MPa", 1e-6],
        "k_factor": [1e-9, 0.001, 0.5, 0.999999], "pivot_depth": [0, *LENGTHS],
        "material": ["mild steel S275", "stainless 304", "aluminium 5052-H32"],
    }  # fmt: skip
    build["sheet"]["plate"][key] = dice.choice(values.get(key, LENGTHS))


def _no_pivot(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    build["sheet"]["plate"].pop("pivot_depth")


def _shop(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    key = dice.choice(["kerf", "kerf", "slit_width", "least_hole", "cut_spread", "fold_spread", "hand_force", "lever",
                       "pull_up", "paper", "cutter"])  # fmt: skip
    values: dict[str, list[Any]] = {
        "fold_spread": [0, 1e-9, 1, 30, 180, 1e6], "hand_force": ["0.001 N", "1 N", "1e9 N"], "paper": ["A4", "Letter"],
        "cutter": ["plasma", "laser", "hand"], "cut_spread": [0, *LENGTHS],
    }  # fmt: skip
    build["shop"][key] = dice.choice(values.get(key, LENGTHS))


def _about(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    key = dice.choice(["units", "seed", "name", "note"])
    values: dict[str, list[Any]] = {"units": ["inch"], "seed": [0, 2**63 - 1, 2**32], "name": WORDS, "note": WORDS}
    build["build"][key] = dice.choice(values[key])


def _renamed(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    """One name changed wherever it stands as a word of its own."""
    old = dice.choice(["corner", "web", "flange", "end", "W1", "E1", "F2", "plate", "line", "way", "car"])
    new = dice.choice(NAMES)

    def over(value: Any) -> Any:
        if isinstance(value, dict):
            return {(new if k == old else k): over(v) for k, v in value.items()}
        if isinstance(value, list):
            return [over(v) for v in value]
        return new if value == old else value

    changed = over(build)
    build.clear()
    build.update(changed)
    for row in rows:
        row[1] = " ".join(new if name == old else name for name in row[1].split())


def _said(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    holder = dice.choice([build["body"]["car"], build["body"]["car"]["point"]["W1"], build["obstacle"]["line"],
                          build["bracket"]["corner"], build["body"]["car"]["face"]["web"]])  # fmt: skip
    holder["what"] = dice.choice(WORDS)
    dice.choice(rows)[3:] = ["", "", "", dice.choice(WORDS).replace("\n", " ").replace(",", " ").replace('"', "")]


def _coincident(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    """A point read where another lies, exactly or nearly."""
    a, b = dice.sample(sorted({row[1] for row in rows if " " not in row[1]}), 2)
    near = dice.choice([0.0, 0.0, 1e-9, 1e-3, 0.5])
    told = {row[0]: row[2] for row in rows if row[1] == a}
    for row in rows:
        if row[1] == b:
            number, _, side = told[row[0]].partition(" ")
            row[2] = f"{float(number) + near:.12g} {side}".strip()


def _flattened(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    """Every point gets one same reading: all faces in one plane, or all points on a line."""
    for kind in dice.sample(["station", "offset", "height"], dice.choice([1, 2, 3])):
        value = next(row[2] for row in rows if row[0] == kind)
        for row in rows:
            if row[0] == kind:
                row[2] = value


def _parallel(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    """One face's points read as another's, moved: two parallel faces, or one face twice."""
    a, b = dice.sample("WFE", 2)
    by = dice.choice([0.0, 1e-6, 5.0, 100.0])
    told = {(row[0], row[1]): row[2] for row in rows}
    for row in rows:
        if row[1][0] == b and " " not in row[1]:
            number, _, side = told[row[0], a + row[1][1:]].partition(" ")
            row[2] = f"{float(number) + by:g} {side}".strip()


def _few(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    keep = dice.choice([0, 1, 2, 3, 5, 9, 15, 25, 35])
    rows[:] = dice.sample(rows, min(keep, len(rows)))


def _one_kind_gone(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    kind = dice.choice(["station", "offset", "height", "tape"])
    rows[:] = [row for row in rows if row[0] != kind]


def _scaled(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    by = dice.choice([1e-9, 0.1, 2.54, 10.0, 25.4, 1000.0, 1e9])
    some = rows if dice.random() < 0.4 else dice.sample(rows, min(len(rows), dice.choice([1, 1, 3, 8])))
    for row in some:
        number, _, side = row[2].partition(" ")
        row[2] = f"{float(number) * by:.12g} {side}".strip()


def _contrary(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    for row in dice.sample(rows, min(len(rows), dice.choice([1, 4, 20]))):
        number, _, side = row[2].partition(" ")
        rows.append([row[0], row[1], f"{float(number) + dice.choice([0.0, 3.0, 40.0, 1e5]):.12g} {side}".strip()])


def _swapped(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    a, b = dice.sample(list(build["body"]["car"]["point"]), 2)
    some = dice.sample(rows, len(rows) // dice.choice([1, 2, 8]))
    for row in some:
        row[1] = " ".join({a: b, b: a}.get(name, name) for name in row[1].split())


def _spreads(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    value = dice.choice(["0", "1e-12", "1e-6", "0.01", "100", "1e6", "1e12"])
    some = rows if dice.random() < 0.5 else dice.sample(rows, min(len(rows), 4))
    for row in some:
        row[3:] = ["", value]


def _instruments(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    name = dice.choice(["tape", "level", "plumb", "straightedge"])
    value = dice.choice([0, 1e-9, "0.01 mm", "1 m", 1e9])
    build.setdefault("instrument", {})[name] = {dice.choice(["spread", "per_metre"]): value}
    if dice.random() < 0.5:
        face = build["body"]["car"]["face"]["web"]
        face["spread"] = dice.choice([1e-9, 1e-3, 50.0, 1e6])


def _more_readings(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    a, b, c = dice.sample(list(build["body"]["car"]["point"]), 3)
    f, g = dice.sample(list(build["body"]["car"]["face"]), 2)
    angle = dice.choice(["0", "1e-9", "90", "179.999", "180"])
    length = dice.choice(["0", "0.001", "12.5", "1e6", "14 3/16 in"])
    rows += dice.sample(
        [["angle", f"{a} {b} {c}", angle], ["slope", f"{a} {b}", dice.choice(["90", "-90", "0", "1:0.001", "5 %"])],
         ["bevel", f"{f} {g}", angle], ["onface", f"{a} {f}", length], ["mirror", f"{a} {b}"],
         ["tape", f"{a} {b}", length], ["caliper", f"{a} {c}", length], ["given", a, "0 0 0"],
         ["given", b, "1e9 -1e9 0"], ["rise", f"{a} {b}", length], ["tape", f"{a} {a}", "0"]],
        dice.choice([1, 2, 4]),
    )  # fmt: skip


def _hints(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    car = build["body"]["car"]
    for name in dice.sample(list(car["point"]), 4):
        car["point"][name] = {"side": dice.choice(["left", "right", "middle"]), "height": dice.choice(["up", "down"]),
                              "end": dice.choice(["front", "rear"])}  # fmt: skip
    for face in dice.sample(list(car["face"]), dice.choice([0, 1, 2])):
        car["face"][face]["looks"] = dice.choice(["left", "right", "up", "down", "front", "rear"])


def _datum(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    a, b, c = dice.sample(list(build["body"]["car"]["point"]), 3)
    build["body"]["car"]["datum"] = {"origin": a, "along": b, "level": c}
    if dice.random() < 0.5:
        rows[:] = [row for row in rows if row[0] not in ("station", "offset")]


def _face_points(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    faces = build["body"]["car"]["face"]
    face = faces[dice.choice(sorted(faces))]
    face["points"] = dice.sample(list(build["body"]["car"]["point"]), dice.choice([0, 1, 2, 3, 8, 12]))


def _other_body(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    """A drive unit beside the car, tied to it by few readings or none; the bracket reaches for it."""
    build["body"]["unit"] = {"point": {"U1": {}, "U2": {}, "U3": {}, "U4": {}}}
    for pair, length in (("U1 U2", 100), ("U2 U3", 80), ("U1 U3", 120), ("U1 U4", 60), ("U2 U4", 90), ("U3 U4", 75)):
        rows.append(["tape", pair, str(length)])
    ties = [f"{p} unit.{u}" for p in ("E1", "E2", "F2", "W2") for u in ("U1", "U2", "U3")]
    for pair in dice.sample(ties, dice.choice([0, 1, 3, 6, 9, 12])):
        rows.append(["tape", pair, str(dice.choice([150, 200, 300]))])
    _panel(build, dice).setdefault("holes", []).append({"at": "unit.U1", "bolt": "M10"})
    if dice.random() < 0.3:
        panel = _panel(build, dice)
        panel.pop("face", None)
        panel.update(through=["unit.U1", "unit.U2", "unit.U3"], looks="up")


def _holes(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    panel = _panel(build, dice)
    way = dice.randrange(5)
    if way == 0:
        panel["holes"] = []
    elif way == 1:
        panel["holes"] = [{"at": p, "bolt": dice.choice(BOLTS)} for p in dice.sample(_points(build), 6)]
    else:
        for hole in panel["holes"]:
            hole["bolt"] = dice.choice(BOLTS)
            hole["shape"] = dice.choice(["round", "slot", "oversize", "snug"])
            key = dice.choice(["slot_length", "slot_angle", "boss", "washer", "socket", "frame_hole"])
            hole[key] = dice.choice(ANGLES if key == "slot_angle" else LENGTHS)


def _panels(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    panel = _panel(build, dice)
    key = dice.choice(["standoff", "standoff", "side", "round", "lip", "through", "square", "face", "outline"])
    if key == "standoff":
        panel[key] = dice.choice([-500.0, 500.0, *SIGNED])
    elif key == "side":
        panel[key] = "inside"
    elif key == "round":
        panel[key] = dice.choice([0, *LENGTHS])
    elif key == "lip":
        panel.update(lip=True, lip_depth=dice.choice(LENGTHS))
        if dice.random() < 0.7:
            panel["holes"] = []
    elif key in ("through", "square"):
        panel.pop("face", None)
        panel["looks"] = dice.choice(["left", "right", "up", "down", "front", "rear"])
        panel["through"] = dice.sample(_points(build), 3 if key == "through" else 2)
        if key == "square":
            panel["square_to"] = dice.choice(sorted(build["body"]["car"]["face"]))
    elif key == "face":
        panel["face"] = dice.choice(sorted(build["body"]["car"]["face"]))
    else:
        panel["outline"] = [_spot(build, dice) for _ in range(dice.choice([3, 4, 5, 8]))]


def _outlines(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    """Outlines by points of the panel's own face, in any order: crossing, going back, far too small or large."""
    for key, letter in (("web", "W"), ("flange", "F"), ("end", "E")):
        if dice.random() < 0.5:
            corners: list[Any] = [f"{letter}{n}" for n in dice.sample("1234", dice.choice([3, 4]))]
            if dice.random() < 0.4:
                corners *= 2
            if dice.random() < 0.4:
                corners.insert(1, [dice.choice(SIGNED) for _ in range(3)])
            build["bracket"]["corner"]["panel"][key]["outline"] = corners


def _folds(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    bracket = _bracket(build, dice)
    names = sorted(bracket["panel"])
    way = dice.randrange(6)
    if way == 0:
        bracket["folds"].append({"between": dice.sample(names, 2)})
    elif way == 1:
        bracket["folds"] = []
    elif way == 2:
        bracket["fold"] = "brake"
        build["sheet"]["plate"]["brake_radius"] = dice.choice([0.01, 0.1, 4.0, 500.0, 1e6])
    elif way == 3:
        dice.choice(bracket["folds"])["kind"] = "brake"
    elif way == 4:
        fold = dice.choice(bracket["folds"])
        fold[dice.choice(["start", "end"])] = _spot(build, dice)
    else:
        dice.choice(bracket["folds"]).update(start=_spot(build, dice), end=_spot(build, dice))


def _stiffeners(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    bracket = _bracket(build, dice)
    for number in range(dice.choice([1, 1, 2, 4])):
        bracket.setdefault("stiffener", {})[f"rib{number}"] = {
            "on": dice.choice(sorted(bracket["panel"])), "height": dice.choice(LENGTHS),
            "edge": dice.choice(["longest", "left", "right", "up", "down", "front", "rear"]),
            "angle": dice.choice([1e-6, 1, 45, 90, 149.9]), "toward": dice.choice(["away", "body"]),
        }  # fmt: skip


def _joins(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    bracket = _bracket(build, dice)
    on = dice.choice(sorted(bracket["panel"]))
    cover = dice.choice(["lid", *bracket["panel"]])
    if cover == "lid" and dice.random() < 0.6:
        bracket["panel"]["lid"] = {"holes": [{"at": dice.choice(_points(build)), "bolt": "M8"}]}
    bolts = [{"at": p, "bolt": dice.choice(BOLTS)} for p in dice.sample(_points(build), dice.choice([1, 2, 3]))]
    bracket.setdefault("join", []).append({"on": on, "cover": cover, "bolts": bolts})


def _twins(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    _bracket(build, dice)["twin"] = True
    build["opening"]["way"]["twin"] = True
    points = build["body"]["car"]["point"]
    a, b = dice.sample(sorted(points), 2)
    points[a]["twin"] = b


def _copied(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    name = dice.choice(["Corner", "corner2", "corner-", "openings", "coupons", "way", "written", "written-json"])
    build["bracket"][name] = tomllib.loads(tomlkit.dumps(build["bracket"]["corner"]))


def _obstacles(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    line = build["obstacle"]["line"]
    way = dice.randrange(6)
    if way == 0:
        line["box"] = [[100, 395, 420], [150, 405, 470]]
    elif way == 1:
        line["box"] = [[-1e6, -1e6, -1e6], [1e6, 1e6, 1e6]]
    elif way == 2:
        line["box"] = [_spot(build, dice), _spot(build, dice)]
    elif way == 3:
        line.pop("box")
        line["panel"] = dice.sample(_points(build), dice.choice([3, 4, 6]))
        line["thickness"] = dice.choice(LENGTHS)
    elif way == 4:
        line["clearance"] = dice.choice([0, *LENGTHS])
        line["hidden"] = True
    else:
        line["box"] = [[0, 0, 0], [dice.choice(SIGNED), dice.choice(SIGNED), dice.choice(SIGNED)]]


def _meshes(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    kind = dice.choice(sorted(MESHES))
    ending = dice.choice([".stl", ".stl", ".STL", ".step"])
    build["obstacle"]["part"] = {"mesh": f"part{ending}"}
    path = folder / f"part{ending}"
    if kind == "folder":
        path.mkdir()
    elif kind != "missing":
        path.write_bytes(MESHES[kind])
    if dice.random() < 0.4:
        build["obstacle"]["part"]["at"] = [[dice.choice(SIGNED) for _ in range(3)] for _ in range(3)]
        build["obstacle"]["part"]["on"] = dice.sample(_points(build), 3)


def _stl(corners: list[tuple[float, float, float]]) -> bytes:
    facets = []
    for number in range(0, len(corners) - 2, 3):
        three = "\n".join("vertex " + " ".join(f"{v:g}" for v in c) for c in corners[number : number + 3])
        facets.append(f"facet normal 0 0 0\nouter loop\n{three}\nendloop\nendfacet")
    return ("solid x\n" + "\n".join(facets) + "\nendsolid x\n").encode()


MESHES = {
    "missing": b"", "folder": b"", "empty": b"", "garbage": bytes(range(256)) * 20, "words": b"not a mesh",
    "step": b"ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n#1=;\nENDSEC;\nEND-ISO-10303-21;\n", "head": b"\x00" * 84,
    "many": b"\x00" * 80 + b"\xff\xff\xff\xff", "line": _stl([(0, 0, 0), (1, 0, 0), (2, 0, 0)]),
    "one": _stl([(100, 380, 400), (160, 420, 500), (120, 400, 520)]), "spot": _stl([(1, 1, 1)] * 6),
    "huge": _stl([(1e30, 0, 0), (0, 1e30, 0), (0, 0, 1e30)]), "endless": _stl([(math.inf, 0, 0), (1, 0, 0), (0, 1, 0)]),
    "no number": _stl([(math.nan, 0, 0), (1, 0, 0), (0, 1, 0)]), "no facet": b"solid x\nendsolid x\n",
}  # fmt: skip


def _openings(build: Table, rows: Rows, folder: Path, dice: Random) -> None:
    way = build["opening"]["way"]
    key = dice.choice(["face", "hole", "hole_diameter", "edge", "centre", "width", "height", "round"])
    values: dict[str, list[Any]] = {
        "face": sorted(build["body"]["car"]["face"]), "hole": _points(build), "centre": [_spot(build, dice)],
        "edge": [dice.sample(_points(build), 2)], "round": [0, *LENGTHS],
    }  # fmt: skip
    way[key] = dice.choice(values.get(key, LENGTHS))


WAYS: list[Way] = [
    _sheet, _sheet, _no_pivot, _shop, _shop, _about, _renamed, _said, _coincident, _flattened, _parallel, _few,
    _one_kind_gone, _scaled, _contrary, _swapped, _spreads, _instruments, _more_readings, _hints, _datum, _face_points,
    _other_body, _holes, _holes, _panels, _panels, _panels, _outlines, _folds, _folds, _stiffeners, _joins, _twins,
    _copied, _obstacles, _obstacles, _meshes, _openings,
]  # fmt: skip
