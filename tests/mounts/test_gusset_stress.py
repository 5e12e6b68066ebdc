"""Gussets in the stress of a bracket: statics of what is cut free, beam theory, hand formulas of fillet welds."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from halfshaft.fold.welded import welded_solid
from halfshaft.geometry.solids import volume_mm3
from halfshaft.mounts.bracket_mesh import bracket_mesh, usual
from halfshaft.mounts.bracket_stress import Duty, bracket_stress
from halfshaft.mounts.duty import CASES
from halfshaft.mounts.elastic import Body
from halfshaft.mounts.gusset_force import Fillets, fillet_stresses, fillets_of, foot_forces
from halfshaft.mounts.gusset_mesh import Foot
from halfshaft.mounts.seam_force import throat_of
from halfshaft.mounts.tet_mesh import volumes
from tests.fold.builders import hole, hung, plate, slit
from tests.fold.test_fit import bracket_of
from tests.mounts.brackets import EAR, WEB, angle, loaded
from tests.mounts.gusseted import gusseted, welded_in

STEEL = "mild steel S275"


@pytest.mark.parametrize("fold_deg", [60.0, 90.0, 120.0])
@pytest.mark.parametrize("finer", [False, True])
def test_the_mesh_is_whole_and_holds_as_much_as_the_solid(fold_deg: float, finer: bool) -> None:
    bracket = gusseted(fold_deg=fold_deg, ends=True)
    mesh = bracket_mesh(bracket, None, usual(6.0, finer), (*WEB, *EAR))
    assert mesh.mesh.volume_mm3 == pytest.approx(volume_mm3(welded_solid(bracket)), rel=2e-3)
    assert volumes(mesh.mesh.corners_mm, mesh.mesh.tets).min() > 0.0
    edges = np.sort(np.vstack([mesh.mesh.skin[:, pair] for pair in ([0, 1], [1, 2], [2, 0])]), axis=1)
    _, shared = np.unique(edges, axis=0, return_counts=True)
    assert np.all(shared == 2)  # a closed skin: plate and panels share every triangle where they touch
    assert len(mesh.feet) == 4


def test_fold_weld_and_fillets_together_carry_what_hangs_on_the_ear() -> None:
    bracket = gusseted(ends=True)
    mesh = bracket_mesh(bracket, None, usual(6.0), (*WEB, *EAR))
    body = Body(mesh.mesh, 210_000.0, 0.3, {}, {f"ring {name}": (True, True, True) for name in WEB})
    rings = [f"ring {name}" for name in EAR]
    way = np.array([1.0, -0.4, 0.7])
    load = body.traction(rings, np.broadcast_to(way, mesh.mesh.corners_mm.shape))
    moved = body.moved_mm(body.solved(load[:, None])[:, 0])
    whole = way * sum(float(body.areas(ring).sum()) for ring in rings)
    throat = throat_of(mesh, body, mesh.seams[0])
    # the web's own pull at the seam, less the plates' at their feet on the web: all that holds the ear
    seam = body.inner_force_n(moved, throat.pulled)[throat.nodes].sum(axis=0)
    feet = [fillets_of(mesh, body, foot) for foot in mesh.feet]
    on = {
        name: np.sum([foot_forces(body, f, moved)[0].sum(axis=0) for f in feet if f.foot.panel == name], axis=0)
        for name in ("ear", "web")
    }
    # a plate hangs on its two feet alone
    assert on["ear"] == pytest.approx(-on["web"], abs=1e-6 * np.linalg.norm(whole))
    size = float(np.linalg.norm(whole))
    assert seam - on["web"] == pytest.approx(whole, abs=1e-6 * size)


def test_a_long_plate_bends_with_its_panel_as_one_beam() -> None:
    # ear 40 x 6, 260 long, a plate 6 thick under it that falls from the corner to its tip 160 out; Navier: M y / I
    half, t = 20.0, 6.0
    holes = [hole("web.1", -20.0, 0.0), hole("web.2", -75.0, 0.0)]
    web = plate("web", [(-100, -half), (30, -half), (30, half), (-100, half)], t, holes=holes)
    ear = plate(
        "ear", [(0, -half), (260, -half), (260, half), (0, half)], t, holes=[hole("ear.1", 235.0, 0.0)], contact="none"
    )
    fold = slit("web", "ear", [(30, -half), (30, half)], [(0, -half), (0, half)], 90.0, thickness=t)
    bare = bracket_of([web, hung(ear, fold, web)], [fold])
    bracket = welded_in(bare, {"between": ["web", "ear"], "reach": [28, 160], "nip": 8})
    mesh = bracket_mesh(bracket, None, usual(t, finer=True), ("web.1", "web.2", "ear.1"))
    body = Body(mesh.mesh, 210_000.0, 0.3, {}, {f"ring {n}": (True, True, True) for n in ("web.1", "web.2")})
    panel = bracket.panels["ear"]
    normal = panel.pose.rotation[:, 2]
    load = body.traction(["ring ear.1"], np.broadcast_to(normal, mesh.mesh.corners_mm.shape))
    force = float(body.areas("ring ear.1").sum())
    stress = body.stress_mpa(body.moved_mm(body.solved(load[:, None])[:, 0]))
    flat = panel.pose.inverse().apply(body.nodes_mm)
    along = panel.pose.rotation[:, 0]
    figure = bracket.panels["gusset1"].outline.polygon(0.01)
    gusset = bracket.gussets[0]
    outer = 0.0 if gusset.side_b == "upper" else t
    start = float(panel.pose.inverse().apply(bracket.panels["gusset1"].pose.shift_mm)[0])
    for x in (70.0, 100.0, 125.0):
        # depth of the plate there, from its drawing; the second panel lies along y of a square corner
        cut = figure.intersection(shapely.LineString([(-1.0, x - start), (200.0, x - start)])).length
        areas, middles = np.array([40.0 * t, t * cut]), np.array([t / 2.0, t + cut / 2.0])
        centre = float(areas @ middles / areas.sum())
        inertia = (40.0 * t**3 + t * cut**3) / 12.0 + float(areas @ (middles - centre) ** 2)
        by_hand = force * (235.0 - x) * centre / inertia
        near = (np.abs(flat[:, 0] - x) < 6.0) & (np.abs(flat[:, 2] - outer) < 1e-6) & (np.abs(flat[:, 1]) < 14.0)
        found = np.array([float(along @ _tensor(s) @ along) for s in stress[near]])
        place = flat[near][:, 0]
        line = np.polynomial.polynomial.polyfit(place - x, found, 1)
        assert abs(line[0]) == pytest.approx(by_hand, rel=0.06)


def _tensor(s: np.ndarray) -> np.ndarray:
    xx, yy, zz, xy, xz, yz = s
    return np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]])


def stub(force: np.ndarray, couple: float = 0.0) -> tuple[object, Fillets]:
    """A foot 60 mm long on a plate 6 mm thick with legs of 5 mm, loaded evenly by a force and a couple about it."""
    runs = np.linspace(0.0, 60.0, 7)
    lengths = np.array([5.0, *[10.0] * 5, 5.0])
    into, square, across = np.eye(3)[0], np.eye(3)[2], np.eye(3)[1]
    corners = np.arange(14).reshape(7, 2)
    foot = Foot("gusset1", "ear", runs, corners, into, square, across, -1, 6.0, 5.0)
    sides = np.array([-3.0, 3.0])
    nodes = np.array([[x, y, 0.0] for x in runs for y in sides])
    part = np.repeat(lengths / 60.0, 2)[:, None] / 2.0
    pulls = part * force + np.tile([[0, 0, -couple / 6.0], [0, 0, couple / 6.0]], (7, 1)) * 2.0 * part
    shares = np.repeat(np.eye(7), 2, axis=0)
    middles = np.column_stack([runs, np.zeros(7), np.zeros(7)])
    fillets = Fillets(foot, 5.0 / np.sqrt(2.0), middles, lengths, np.arange(14), shares, np.arange(1))
    return SimpleNamespace(nodes_mm=nodes, inner_force_n=lambda moved, which: pulls), fillets


def test_fillets_bear_as_by_hand() -> None:
    # double fillet of throat a and length l; EN 1993-1-8:2005 4.5.3.2 and its usual worked forms:
    # pull F square to the panel: both stresses F / (2 sqrt2 a l); pull along: F / (2 a l)
    a, long = 5.0 / np.sqrt(2.0), 60.0
    body, fillets = stub(np.array([0.0, 0.0, 12_000.0]))
    want = 12_000.0 / (2.0 * np.sqrt(2.0) * a * long)
    assert fillet_stresses(body, fillets, np.zeros((14, 3))) == pytest.approx(
        np.broadcast_to([want, want, 0.0], (2, 7, 3))
    )
    body, fillets = stub(np.array([9_000.0, 0.0, 0.0]))
    assert fillet_stresses(body, fillets, np.zeros((14, 3)))[..., 2] == pytest.approx(
        np.full((2, 7), 9_000.0 / (2.0 * a * long))
    )
    # across: one throat is pressed as the other is pulled, both sheared alike
    body, fillets = stub(np.array([0.0, 6_000.0, 0.0]))
    found = fillet_stresses(body, fillets, np.zeros((14, 3)))
    want = 6_000.0 / (2.0 * np.sqrt(2.0) * a * long)
    assert found[0, :, 0] == pytest.approx(-found[1, :, 0])
    assert np.abs(found[..., :2]) == pytest.approx(np.full((2, 7, 2), want))
    # a couple M about the foot: M / (t + leg / 2) on each fillet, the middles of the throats 8.5 mm apart
    body, fillets = stub(np.zeros(3), couple=30_000.0)
    found = fillet_stresses(body, fillets, np.zeros((14, 3)))
    want = 30_000.0 / 8.5 / (np.sqrt(2.0) * a * long)
    assert np.abs(found[..., 0]) == pytest.approx(np.full((2, 7), want))
    assert found[0, :, 0] == pytest.approx(-found[1, :, 0])
    assert found[1, 0, 0] > 0.0  # the side that the couple lifts off is pulled


def test_gussets_take_load_off_the_seam_and_are_judged_themselves() -> None:
    bare, stiff = angle(), gusseted(ends=True)
    push = [20_000.0, 0.0, 0.0]
    units = {name: loaded(stiff, name, [3_000.0, 0.0, 0.0]) for name in CASES}
    one = bracket_stress(bare, WEB, [loaded(bare, "pull", push)], material=STEEL, compare=False, fields=False)
    two = bracket_stress(
        stiff, WEB, [loaded(stiff, "pull", push)], material=STEEL, compare=False, fields=False,
        duty=Duty(units, 200_000.0),
    )  # fmt: skip
    seam = [next(p.use for p in r.cases[0].places if p.place == "weld web-ear") for r in (one, two)]
    assert seam[1] < 0.4 * seam[0]
    assert two.cases[0].loaded_moved_mm < 0.3 * one.cases[0].loaded_moved_mm
    named = {place.place for place in two.cases[0].places}
    for plate_name in ("gusset1", "gusset2"):
        assert {
            f"panel {plate_name}", f"fillet {plate_name} on ear", f"fillet {plate_name} on web",
            f"{plate_name}, tip of its foot on web",
        } <= named  # fmt: skip
    lives = {(life.fold, life.where): life.detail for life in two.lives}
    assert lives["gusset1", "tip of its foot on web"] == "hot spot, fillet loaded"
    assert lives["gusset2", "fillets on ear"] == "fillet, root"
    told = [check for check in two.checks if "gusset1" in check.about]
    assert any("EN 1993-1-8" in str(check.source) for check in told)
    assert not any("fold gusset" in check.about for check in two.checks)
