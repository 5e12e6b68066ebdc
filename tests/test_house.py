"""The house as DEVELOPERS.md draws it: imports run one way, and each library has one door."""

import ast
from functools import cache
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[1] / "src" / "halfshaft"
# lower floors first; a file may import its own floor and those below it
FLOORS = (
    ("checks", "progress", "sums", "sure", "nondominated"),
    ("geometry",),
    ("build",),
    ("measure",),
    ("fitup",),
    ("fold",),
    ("mounts",),
    ("pack",),
    ("weights",),
    ("road",),
    ("cut",),
    ("control", "buy"),
    ("digest", "memory", "crew"),
    ("choose",),
    ("stages",),
    ("study",),
    ("tables", "plain"),  # and tables_x, plain_x
    ("revisions",),
    ("book",),
    ("bench",),
    ("commands",),
    ("cli",),
)
DOORS = {
    "fcl": {"geometry/nearest.py"},
    "cytriangle": {"geometry/triangles.py"},
    "numba": {"fitup/loops.py"},
    "netgen": {"geometry/solids.py"},
    "ngsolve": {"mounts/elastic.py"},
    "trimesh": {"geometry/mesh.py"},
    "manifold3d": {"geometry/mesh.py"},
    "sectionproperties": {"fitup/sections.py"},
    "ortools": {"pack/solver.py"},
    "spyrrow": {"cut/nest/strip.py"},
    "ezdxf": {"cut/dxf.py"},
    "typst": {"cut/typeset.py"},
    "HersheyFonts": {"fold/strokes.py"},
    "threadpoolctl": {"sums.py"},
}


def files() -> list[Path]:
    return sorted(SOURCE.rglob("*.py"))


@cache
def imports(path: Path) -> set[str]:
    """Modules imported anywhere in a file, except for type checking only."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    typing_only = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test)
        for inner in ast.walk(node)
    }
    out: set[str] = set()
    for node in ast.walk(tree):
        if id(node) in typing_only:
            continue
        if isinstance(node, ast.Import):
            out |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            out |= {node.module} if node.module != "halfshaft" else {f"halfshaft.{a.name}" for a in node.names}
    return out


def floor(module: str) -> int:
    room = module.split(".")[1]
    names = {room, room.partition("_")[0]} if room.startswith(("tables_", "plain_")) else {room}
    return next(number for number, rooms in enumerate(FLOORS) if names & set(rooms))


@pytest.mark.parametrize("path", files(), ids=lambda p: str(p.relative_to(SOURCE)))
def test_a_file_imports_only_from_its_own_floor_and_below(path: Path) -> None:
    parts = path.relative_to(SOURCE).with_suffix("").parts
    if parts[0] in ("__init__", "demo"):
        return
    own = floor(".".join(("halfshaft", *parts)))
    wrong = {m for m in imports(path) if m.startswith("halfshaft.") and m != "halfshaft.__version__" and floor(m) > own}
    assert not wrong


@pytest.mark.parametrize("library", DOORS)
def test_a_library_is_imported_through_one_door(library: str) -> None:
    used = {str(p.relative_to(SOURCE)) for p in files() if any(m.split(".")[0] == library for m in imports(p))}
    assert used == DOORS[library]


@pytest.mark.parametrize(("library", "rooms"), [("nicegui", {"bench"}), ("typer", {"commands", "cli.py"})])
def test_a_library_of_the_edges_stays_there(library: str, rooms: set[str]) -> None:
    used = {p.relative_to(SOURCE).parts[0] for p in files() if any(m.split(".")[0] == library for m in imports(p))}
    assert used == rooms
