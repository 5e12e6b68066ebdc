"""Another solver on the very same mesh: an input deck for CalculiX written, run, its answer read. For tests only."""

from __future__ import annotations

import shutil
import subprocess
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from halfshaft.mounts.elastic import Body

Array = NDArray[np.float64]

PROGRAM = shutil.which("ccx")
_EDGES = np.array([[0, 1], [1, 2], [2, 0], [0, 3], [1, 3], [2, 3]])
_EDGE_VALUE = -0.125


@dataclass(frozen=True)
class Answer:
    """Displacement (nodes, 3), stress (nodes, 6) as xx, yy, zz, xy, xz, yz, and wall seconds of the run."""

    moved_mm: Array
    stress_mpa: Array
    seconds: float


def nodal_load(body: Body, load: Array) -> Array:
    """The same load (nodes, 3) on Lagrange functions of second order."""
    parts = load.reshape(3, -1).T.copy()
    corners = len(body.mesh.corners_mm)
    middles = parts[corners:] / _EDGE_VALUE
    out = parts
    out[corners:] = middles
    for end in range(2):
        np.add.at(out, body.edges[:, end], -0.5 * middles)
    return out


def solved(body: Body, load: Array, held: Array, folder: Path, youngs_mpa: float = 210_000.0) -> Answer:
    """Static answer with the nodes `held` (k,) at rest. Raises RuntimeError where the program fails."""
    assert PROGRAM is not None
    mesh = body.mesh
    nodes = np.hstack([mesh.tets, body.middles(mesh.tets, _EDGES)])
    force = nodal_load(body, load)
    lines = ["*NODE, NSET=ALL"]
    lines += [f"{n},{x:.12g},{y:.12g},{z:.12g}" for n, (x, y, z) in enumerate(body.nodes_mm, 1)]
    lines += ["*ELEMENT, TYPE=C3D10, ELSET=BODY"]
    lines += [",".join(str(v) for v in (n, *row)) for n, row in enumerate((nodes + 1).tolist(), 1)]
    lines += ["*MATERIAL, NAME=STEEL", "*ELASTIC", f"{youngs_mpa},0.3", "*SOLID SECTION, ELSET=BODY, MATERIAL=STEEL"]
    lines += ["*BOUNDARY", *(f"{n + 1},1,3" for n in held), "*STEP", "*STATIC", "*CLOAD"]
    lines += [f"{n + 1},{a + 1},{force[n, a]:.12g}" for n, a in zip(*np.nonzero(force), strict=True)]
    lines += ["*NODE FILE", "U", "*EL FILE", "S", "*END STEP"]
    (folder / "part.inp").write_text("\n".join(lines) + "\n")
    start = time.perf_counter()
    run = subprocess.run(
        [PROGRAM, "part"], cwd=folder, capture_output=True, text=True, env={"OMP_NUM_THREADS": "1"}, check=False
    )
    seconds = time.perf_counter() - start
    if run.returncode or not (folder / "part.frd").exists():
        raise RuntimeError(run.stdout[-2000:])
    blocks = _read(folder / "part.frd", len(body.nodes_mm))
    stress = blocks["STRESS"][:, [0, 1, 2, 3, 5, 4]]
    return Answer(blocks["DISP"][:, :3], stress, seconds)


def _read(path: Path, count: int) -> dict[str, Array]:
    """Nodal results by name from a result file of fixed columns."""
    out: dict[str, Array] = {}
    name = ""
    with path.open() as lines:
        for line in lines:
            if line.startswith(" -4"):
                name = line.split()[1]
                out[name] = np.zeros((count, 6))
            elif line.startswith(" -1") and name:
                at = int(line[3:13]) - 1
                values = [float(line[i : i + 12]) for i in range(13, len(line.rstrip("\n")), 12)]
                out[name][at, : len(values)] = values
            elif line.startswith(" -3"):
                name = ""
    return out
