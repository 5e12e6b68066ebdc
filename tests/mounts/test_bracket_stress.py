"""Brackets under load against statics by hand and plate theory (M / W, W = L t^2 / 6; Roark, from memory)."""

from __future__ import annotations

import dataclasses
from functools import cache

import numpy as np
import pytest

from halfshaft.checks import Severity
from halfshaft.fold.model import Bracket
from halfshaft.mounts.bracket_mesh import BracketMesh, bracket_mesh, usual
from halfshaft.mounts.bracket_stress import BracketStress, Duty, bracket_stress
from halfshaft.mounts.elastic import along_mpa
from halfshaft.mounts.held_part import HeldPart
from halfshaft.mounts.hot_spot import toes_of
from halfshaft.mounts.resize import least_thickness
from halfshaft.mounts.seam_force import throat_of, throat_stresses
from tests.mounts.brackets import EAR, WEB, angle, loaded

STEEL = "mild steel S275"
ACROSS = (0.0, 40_000.0, 0.0)  # bends the ear about the fold, N mm


@cache
def solved(throat_mm: float | None = None, finer: bool = False) -> tuple[Bracket, BracketMesh, HeldPart]:
    bracket = angle()
    mesh = bracket_mesh(bracket, throat_mm, usual(6.0, finer), (*WEB, *EAR))
    return bracket, mesh, HeldPart(mesh.mesh, WEB, {}, 210_000.0 / 6.0)


@cache
def result(
    force_n: float = 400.0, thickness: float = 6.0, throat: float | None = None, compare: bool = False
) -> BracketStress:
    bracket = angle(thickness)
    cases = [loaded(bracket, "fore", (force_n, 0.0, 0.0)), loaded(bracket, "side", (0.0, force_n, 0.0))]
    return bracket_stress(bracket, WEB, cases, material=STEEL, throat_mm=throat, compare=compare)


@pytest.mark.parametrize(("finer", "within"), [(False, 0.1), (True, 0.05)])
def test_hot_spot_at_a_seam_that_is_bent_evenly_is_the_plate_s(finer: bool, within: float) -> None:
    bracket, mesh, part = solved(finer=finer)
    answer = part.answer(loaded(bracket, "bent", (0.0, 0.0, 0.0), ACROSS))
    toes = toes_of(mesh, part.body)
    stress = toes.stress_mpa(part.body.stress_mpa(answer.moved_mm))
    plain = 6.0 * ACROSS[1] / (100.0 * 6.0**2)
    sides = []
    for side in ("outside", "inside"):
        rows = [i for i, t in enumerate(toes.toes) if t.panel == "ear" and t.side == side]
        sides.append(np.mean([float(along_mpa(stress[i], toes.toes[i].across)) for i in rows]))
        # stress flows round the inside of the corner: more there, less outside
        assert abs(sides[-1]) == pytest.approx(plain, rel=0.2)
    assert abs(sides[0] - sides[1]) / 2.0 == pytest.approx(plain, rel=within)


@pytest.mark.parametrize("throat_mm", [None, 4.0])
def test_the_throat_carries_the_whole_load(throat_mm: float | None) -> None:
    bracket, mesh, part = solved(throat_mm)
    force = np.array([120.0, -310.0, 250.0])
    case = loaded(bracket, "all ways", force, (5_000.0, 20_000.0, -8_000.0))
    answer = part.answer(case)
    (seam,) = mesh.seams
    throat = throat_of(mesh, part.body, seam)
    pull = part.body.inner_force_n(answer.moved_mm, throat.pulled)[throat.nodes]
    # the web is pulled by its weld as the ear is by the load
    np.testing.assert_allclose(pull.sum(axis=0), force, atol=1e-6 * np.linalg.norm(force))
    push = case.pushes[0]
    moment = np.cross(part.body.nodes_mm[throat.nodes] - push.about_mm, pull).sum(axis=0)
    np.testing.assert_allclose(moment, push.moment_nmm, atol=1e-4 * np.linalg.norm(push.moment_nmm))


def test_throat_stress_of_even_bending_is_that_of_its_section() -> None:
    bracket, mesh, part = solved(4.0)
    answer = part.answer(loaded(bracket, "bent", (0.0, 0.0, 0.0), ACROSS))
    throat = throat_of(mesh, part.body, mesh.seams[0])
    # two faces 4 mm deep turned 90 degrees to each other: the bisector is 4 cos 45 deep
    assert throat.depth_mm == pytest.approx(4.0 * np.cos(np.pi / 4.0), rel=0.02)
    root, face = throat_stresses(part.body, throat, answer.moved_mm, 6.0)
    plain = 6.0 * ACROSS[1] / (100.0 * throat.depth_mm**2)
    weight = throat.lengths_mm / throat.lengths_mm.sum()
    bending = (face[:, 0] - root[:, 0]) / 2.0
    assert abs(float(weight @ bending)) == pytest.approx(plain, rel=0.05)
    # a moment that folds the ear further over opens the face of the weld and shuts its root, or the other way round
    assert np.sign(weight @ face[:, 0]) == -np.sign(weight @ root[:, 0])


def test_two_meshes_agree_and_say_so() -> None:
    found = result(compare=True)
    compared = found.compared
    assert compared is not None
    assert compared.unknowns[1] > 1.5 * compared.unknowns[0]
    assert abs(compared.stress_change) < 0.1
    assert abs(compared.moved_change) < 0.02
    assert any("two meshes" in check.title for check in found.checks)


def test_the_seam_gives_way_first_and_the_check_says_what_to_change() -> None:
    """The ear is bent about its fold: its moment is greatest there."""
    found = result()
    assert found.first.fold == "web-ear"
    first = found.checks[0]
    assert "web-ear" in first.about
    assert "Add a gusset at the seam web-ear" in first.do
    assert "licensed engineer" in first.do


def test_twice_the_load_is_twice_the_stress_where_nothing_touches() -> None:
    one, two = result(400.0), result(800.0)
    for a, b in zip(one.cases, two.cases, strict=True):
        worst = {p.place: p.stress_mpa for p in b.places}
        for place in a.places:
            # seats press in proportion too
            assert worst[place.place] == pytest.approx(2.0 * place.stress_mpa, rel=2e-2)


def test_a_bracket_made_too_thin_is_caught_and_named() -> None:
    held, thin = result(400.0, 6.0), result(1600.0, 3.0)
    assert held.holds
    assert not thin.holds
    failed = [c for c in thin.checks if not c.ok and c.severity is Severity.STOP]
    assert failed
    assert all("bracket" in c.about for c in failed)
    assert "instead of 3 mm" in failed[0].do


def test_a_weld_less_deep_bears_more() -> None:
    uses = [next(p.use for p in result(throat=t).cases[0].places if p.kind == "weld") for t in (None, 3.0)]
    assert uses == sorted(uses)
    assert uses[1] > 2.0 * uses[0]


def test_least_thickness_is_the_first_that_holds() -> None:
    def judged(made: Bracket) -> BracketStress:
        case = loaded(made, "fore", (1600.0, 0.0, 0.0))
        return bracket_stress(made, WEB, [case], material=STEEL, compare=False, fields=False)

    stock = (3.0, 4.0, 5.0, 8.0)
    found = least_thickness(angle(6.0), angle, judged, stock)
    assert found.least_mm is not None
    below = max(t for t in stock if t < found.least_mm)
    by = {trial.thickness_mm: trial for trial in found.trials}
    assert by[found.least_mm].holds
    assert not by[below].holds
    assert by[found.least_mm].first == "weld web-ear"
    assert found.words == f"Thickness {found.least_mm:.3g} instead of 6 mm holds."


def test_where_no_stock_holds_it_says_so() -> None:
    def judged(made: Bracket) -> BracketStress:
        case = loaded(made, "fore", (40_000.0, 0.0, 0.0))
        return bracket_stress(made, WEB, [case], material=STEEL, compare=False, fields=False)

    found = least_thickness(angle(), angle, judged, (6.0,))
    assert found.least_mm is None
    assert found.words.startswith("Even 6 mm gives way, first at")
    assert found.check.failed_outright


def test_repeated_loads_wear_out_a_weld() -> None:
    bracket = angle()
    case = loaded(bracket, "torque", (250.0, 0.0, 0.0))

    def worked(km: float, newtons: float) -> float:
        unit = dataclasses.replace(loaded(bracket, "torque", (newtons, 0.0, 0.0)))
        found = bracket_stress(
            bracket, WEB, [case], material=STEEL, duty=Duty({"torque": unit}, km), compare=False, fields=False
        )
        return max(life.damage for life in found.lives)

    one = worked(100_000.0, 250.0)
    assert worked(200_000.0, 250.0) == pytest.approx(2.0 * one, rel=1e-6)
    # slopes of 3 and 5: twice the stress costs 8 to 32 times the life, more where small swings begin to count
    assert worked(100_000.0, 500.0) > 7.9 * one


def test_the_field_to_draw_is_small_and_whole() -> None:
    found = result()
    assert len(found.skin.triangles) <= 20_000
    assert found.skin.triangles.max() == len(found.skin.vertices_mm) - 1
    assert [f.case for f in found.fields] == ["fore", "side"]
    for field in found.fields:
        assert field.mises_mpa.shape == (len(found.skin.vertices_mm),)
        assert field.moved_mm.shape == found.skin.vertices_mm.shape
        assert np.isfinite(field.mises_mpa).all()
    moved = [float(np.linalg.norm(f.moved_mm, axis=1).max()) for f in found.fields]
    # the worst case is told by the finer mesh too, the field by the usual one
    assert moved == pytest.approx([c.moved_mm for c in found.cases], rel=0.02)


def test_silly_input_is_refused_in_words() -> None:
    bracket = angle()
    case = loaded(bracket, "fore", (100.0, 0.0, 0.0))
    with pytest.raises(ValueError, match="nothing holds it"):
        bracket_stress(bracket, (), [case], material=STEEL)
    with pytest.raises(ValueError, match="no load case"):
        bracket_stress(bracket, WEB, [], material=STEEL)
    with pytest.raises(ValueError, match=r"loads ear\.1, ear\.2, which the frame holds"):
        bracket_stress(bracket, (*WEB, *EAR), [case], material=STEEL)
    with pytest.raises(ValueError, match="is no number"):
        bracket_stress(bracket, WEB, [loaded(bracket, "x", (np.nan, 0.0, 0.0))], material=STEEL)
