"""The mesh of a bracket against its exact solid (a modeller that knows nothing of it), and what it must always be."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.fold.solid import bracket_solid
from halfshaft.fold.welded import welded_solid
from halfshaft.geometry import solids
from halfshaft.mounts.bracket_mesh import bracket_mesh, usual
from halfshaft.mounts.tet_mesh import prisms_to_tets, skin_of, volumes
from tests.fold.builders import brake, hole, plate, slit
from tests.fold.test_fit import bracket_of, hung
from tests.mounts.brackets import EAR, WEB, angle


@pytest.mark.parametrize("fold_deg", [40.0, 90.0])
@pytest.mark.parametrize("finer", [False, True])
def test_a_filled_bracket_has_the_volume_of_its_solid(fold_deg: float, finer: bool) -> None:
    bracket = angle(fold_deg=fold_deg)
    mesh = bracket_mesh(bracket, None, usual(6.0, finer), (*WEB, *EAR)).mesh
    assert mesh.volume_mm3 == pytest.approx(solids.volume_mm3(welded_solid(bracket)), rel=2e-3)
    assert volumes(mesh.corners_mm, mesh.tets).min() > 0.0


def test_a_weld_less_deep_joins_less_metal() -> None:
    bracket = angle()
    (seam,) = bracket_mesh(bracket, 3.0, usual(6.0)).seams
    (full,) = bracket_mesh(bracket, None, usual(6.0)).seams
    whole = bracket_mesh(bracket, 3.0, usual(6.0)).mesh
    filled = bracket_mesh(bracket, None, usual(6.0)).mesh
    part = volumes(whole.corners_mm, whole.tets[seam.welded]).sum()
    assert seam.throat_mm == 3.0
    # of the triangle that fills the fold, what is deeper than half the sheet is a similar triangle of half the size
    assert part == pytest.approx(0.75 * volumes(filled.corners_mm, filled.tets[full.welded]).sum(), rel=0.02)


def test_the_skin_is_closed() -> None:
    mesh = bracket_mesh(angle(), 4.0, usual(6.0), (*WEB, *EAR)).mesh
    a, b, c = (mesh.corners_mm[mesh.skin[:, i]] for i in range(3))
    out = np.cross(b - a, c - a) / 2.0
    np.testing.assert_allclose(out.sum(axis=0), 0.0, atol=1e-6)
    # the divergence theorem: the skin, outward, holds what the tetrahedra fill
    assert float(np.einsum("ij,ij->", (a + b + c) / 3.0, out)) / 3.0 == pytest.approx(mesh.volume_mm3, rel=1e-9)
    everywhere = np.sort(np.concatenate(list(mesh.groups.values())))
    np.testing.assert_array_equal(everywhere, np.arange(len(mesh.skin)))


@given(st.permutations(range(6)))
def test_prisms_part_alike_however_they_are_numbered(order: list[int]) -> None:
    """Two prisms side by side share a face; however corners are numbered, that face is inside."""
    corners = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1], [1, 0, 1], [0, 1, 1], [1, 1, 0], [1, 1, 1.0]])
    number = np.array([*order, 6, 7])
    prisms = np.array([[0, 1, 2, 3, 4, 5], [1, 6, 2, 4, 7, 5]])
    placed = np.empty_like(corners)
    placed[number] = corners
    tets = prisms_to_tets(number[prisms])
    assert np.abs(volumes(placed, tets)).sum() == pytest.approx(1.0)
    # a cube has six faces of two triangles
    assert len(skin_of(tets)) == 12


def test_rings_lie_under_the_washers() -> None:
    mesh = bracket_mesh(angle(), None, usual(6.0), (*WEB, *EAR)).mesh
    rows = mesh.groups["ring web.1"]
    a, b, c = (mesh.corners_mm[mesh.skin[rows][:, i]] for i in range(3))
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()
    assert area == pytest.approx(2.0 * np.pi / 4.0 * (24.0**2 - 13.5**2), rel=0.01)


def test_a_hole_that_is_not_there_and_a_throat_of_nothing_are_refused() -> None:
    with pytest.raises(ValueError, match=r"has no hole web\.9; there are: ear\.1, ear\.2, web\.1, web\.2"):
        bracket_mesh(angle(), None, usual(6.0), ("web.9",))
    with pytest.raises(ValueError, match="write a throat above 0"):
        bracket_mesh(angle(), 0.0, usual(6.0))


@pytest.mark.parametrize("up", [True, False])
def test_a_bent_bracket_has_the_volume_of_its_solid(up: bool) -> None:
    web = plate("web", [(-30, -30), (30, -30), (30, 30), (-30, 30)], holes=[hole("web.1", 0.0, 0.0)])
    ear = plate("ear", [(0, -30), (60, -30), (60, 30), (0, 30)], holes=[hole("ear.1", 30.0, 0.0)])
    fold = brake("web", "ear", [(30, -30), (30, 30)], [(0, -30), (0, 30)], 70.0, up)
    bracket = bracket_of([web, hung(ear, fold, web)], [fold])
    found = bracket_mesh(bracket, None, usual(5.0, finer=True), ("web.1", "ear.1"))
    assert found.mesh.volume_mm3 == pytest.approx(solids.volume_mm3(bracket_solid(bracket)), rel=4e-3)
    assert volumes(found.mesh.corners_mm, found.mesh.tets).min() > 0.0
    assert found.seams[0].kind == "brake"


def test_a_bracket_folded_down_is_welded_from_above() -> None:
    web = plate("web", [(-30, -30), (30, -30), (30, 30), (-30, 30)], holes=[hole("web.1", 0.0, 0.0)])
    ear = plate("ear", [(0, -30), (60, -30), (60, 30), (0, 30)], holes=[hole("ear.1", 30.0, 0.0)])
    fold = slit("web", "ear", [(30, -30), (30, 30)], [(0, -30), (0, 30)], 80.0, False)
    bracket = bracket_of([web, hung(ear, fold, web)], [fold])
    for throat in (None, 3.0):
        found = bracket_mesh(bracket, throat, usual(5.0), ("web.1", "ear.1"))
        assert found.seams[0].outside == "upper"
        solid = solids.volume_mm3(welded_solid(bracket, throat))
        # the corner behind a part weld slopes away: half of 0.2 t by what is not welded each side, more at the ends
        assert found.mesh.volume_mm3 == pytest.approx(solid, rel=2e-3 if throat is None else 8e-3)
