"""A bracket's mesh in CalculiX (Debian calculix-ccx, C3D10): the same motion and stress from another program."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from halfshaft.mounts.bracket_mesh import bracket_mesh, usual
from halfshaft.mounts.elastic import Body, mises_mpa
from tests.mounts.brackets import EAR, WEB, angle
from tests.mounts.gusseted import gusseted
from tests.reference import calculix

pytestmark = pytest.mark.skipif(
    calculix.PROGRAM is None, reason="CalculiX is not here: apt-get install calculix-ccx brings it"
)


@pytest.mark.parametrize("throat_mm", [None, 4.0])
def test_a_bracket_moves_and_is_stressed_as_in_another_program(throat_mm: float | None, tmp_path: Path) -> None:
    mesh = bracket_mesh(angle(), throat_mm, usual(6.0), (*WEB, *EAR)).mesh
    body = Body(mesh, 210_000.0, 0.3, {}, {f"ring {name}": (True, True, True) for name in WEB})
    traction = np.broadcast_to([1.0, -0.4, 0.7], mesh.corners_mm.shape)
    load = body.traction([f"ring {name}" for name in EAR], traction)
    moved = body.moved_mm(body.solved(load[:, None])[:, 0])
    held = np.unique(
        np.concatenate([body.nodes_on(mesh.skin[mesh.groups[f"ring {name}"]]) for name in WEB])
    )  # fmt: skip
    other = calculix.solved(body, load, held, tmp_path)
    most = np.linalg.norm(other.moved_mm, axis=1).max()
    assert np.linalg.norm(moved - other.moved_mm, axis=1).max() < 0.005 * most
    mine, theirs = mises_mpa(body.stress_mpa(moved)), mises_mpa(other.stress_mpa)
    # everywhere, by the greatest stress; its own place and value too
    assert np.abs(mine - theirs).max() < 0.03 * theirs.max()
    assert mine.max() == pytest.approx(theirs.max(), rel=0.03)
    assert np.argmax(mine) == np.argmax(theirs)


def test_a_gusseted_bracket_moves_and_is_stressed_as_in_another_program(tmp_path: Path) -> None:
    mesh = bracket_mesh(gusseted(ends=True, edge="hollow"), 4.0, usual(6.0), (*WEB, *EAR)).mesh
    body = Body(mesh, 210_000.0, 0.3, {}, {f"ring {name}": (True, True, True) for name in WEB})
    load = body.traction([f"ring {name}" for name in EAR], np.broadcast_to([1.0, -0.4, 0.7], mesh.corners_mm.shape))
    moved = body.moved_mm(body.solved(load[:, None])[:, 0])
    held = np.unique(
        np.concatenate([body.nodes_on(mesh.skin[mesh.groups[f"ring {name}"]]) for name in WEB])
    )  # fmt: skip
    other = calculix.solved(body, load, held, tmp_path)
    most = np.linalg.norm(other.moved_mm, axis=1).max()
    assert np.linalg.norm(moved - other.moved_mm, axis=1).max() < 0.005 * most
    mine, theirs = mises_mpa(body.stress_mpa(moved)), mises_mpa(other.stress_mpa)
    assert np.abs(mine - theirs).max() < 0.03 * theirs.max()
