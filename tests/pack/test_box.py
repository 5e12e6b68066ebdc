"""Boxes of folded sheet: what they bear against series and least work, that they close on the modules, and are cut."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from halfshaft.build import Build, BuildProblems, load
from halfshaft.cut.dxf import dxf_text, read_figures
from halfshaft.cut.part import parts_of
from halfshaft.cut.station import box_files
from halfshaft.fold.lay import laid
from halfshaft.geometry import Pose
from halfshaft.mounts.bolts import bolt_of, shear_n
from halfshaft.pack.bay import Bay
from halfshaft.pack.block import turns_of
from halfshaft.pack.box import Box, box_of
from halfshaft.pack.box_strength import (
    foot_bending_n,
    most_pull_n,
    plate_collapse_mpa,
    plate_stress_mpa,
    strip_tension_n,
    wall_collapse_mpa,
)
from halfshaft.pack.layout import Placed
from halfshaft.pack.retention import retention
from tests.pack.test_layout import Array, block
from tests.pack.test_station import HEAD, PACK

SHEETS = """
[shop]
kerf = 1.5
[sheet.thin]
thickness = 1.5
[sheet.mid]
thickness = 2.5
[sheet.thick]
thickness = 5
"""
BOX = '\n[pack.box]\nsheet = ["thick", "thin", "mid"]\n'
MODULE = np.array([355.0, 152.0, 108.0])


def build_of(box: str = BOX) -> Build:
    with TemporaryDirectory() as name:
        (Path(name) / "build.toml").write_text(HEAD + SHEETS + PACK + box, encoding="utf-8")
        (Path(name) / "readings.csv").write_text("reading,points,value,with,spread,frame,note\n", encoding="utf-8")
        return load(Path(name))


def bay(turn_deg: float = 0.0, cables: str = "front") -> Bay:
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    pose = Pose(np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]), np.array([400.0, -200.0, 350.0]))
    return Bay("boot", pose, np.array([800.0, 360.0, 160.0]), 12.0, cables=cables)


def modules(place: Bay, mass_kg: float = 12.0) -> tuple[Placed, ...]:
    """Four modules, two by two, upright."""
    turn = next(t for t in turns_of(block(tuple(MODULE), up=("top",), room=0.0)) if t.along == "fore and aft")
    found = []
    for n in range(4):
        corner = np.array([12.0 + (n % 2) * 358.0, 14.0 + (n // 2) * 155.0, 12.0])
        middle = place.pose.apply(corner + MODULE / 2)
        found.append(Placed(0, n, place.name, corner, turn, middle, middle, middle, 0.0))
    return tuple(found)


@cache
def box(text: str = BOX, mass_kg: float = 64.0, turn_deg: float = 0.0, cables: str = "front") -> Box:
    build = build_of(text)
    assert build.pack is not None
    assert build.pack.box is not None
    place = bay(turn_deg, cables)
    return box_of(build, build.pack.box, place, modules(place), retention("boot", 4, mass_kg), 20.0)


def check(one: Box, title: str) -> tuple[float, float]:
    found = next(c for c in one.checks if title in c.title)
    assert found.found is not None
    assert found.limit is not None
    return found.found, found.limit


def test_a_plate_bends_as_navier_s_series_says() -> None:
    # Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, art. 30: w as a double sine series, Poisson 0.3
    for ratio in (1.0, 1.3, 2.0, 4.0):
        a, b, p, t = 100.0 * ratio, 100.0, 0.01, 2.0
        moment = 0.0
        for m in range(1, 120, 2):
            for n in range(1, 120, 2):
                k = (m / a) ** 2 + (n / b) ** 2
                w = 16 * p / (np.pi**6 * m * n * k * k)
                sign = np.sin(m * np.pi / 2) * np.sin(n * np.pi / 2)
                moment += w * sign * np.pi**2 * ((n / b) ** 2 + 0.3 * (m / a) ** 2)
        assert plate_stress_mpa(p, a, b, t) == pytest.approx(6 * moment / t**2, rel=0.012)


def test_a_plate_folds_at_the_least_pressure_of_all_its_yield_lines() -> None:
    # virtual work: end triangles of any depth x, m (4 a / b + 2 b / x) against p (b (a - 2 x) / 2 + 2 x b / 3)
    f, t = 275.0, 3.0
    m = f * t * t / 4
    for a, b in ((300.0, 300.0), (600.0, 310.0), (900.0, 150.0)):
        least = minimize_scalar(
            lambda x, a=a, b=b: m * (4 * a / b + 2 * b / x) / (b * (a - 2 * x) / 2 + 2 * x * b / 3),
            bounds=(b * 0.05, a / 2),
            method="bounded",
        )
        assert plate_collapse_mpa(f, a, b, t) == pytest.approx(least.fun, rel=1e-4)
    # a square folds at 24 m / a², a long strip at 8 m / b² (Johansen)
    assert plate_collapse_mpa(f, 200.0, 200.0, t) == pytest.approx(24 * m / 200**2)
    assert plate_collapse_mpa(f, 1e6, 200.0, t) == pytest.approx(8 * m / 200**2, rel=1e-3)
    assert wall_collapse_mpa(f, 200.0, t) == pytest.approx(2 * m / 200**2)


def test_strips_feet_and_bolt_rows_bear_by_hand() -> None:
    # 40 x 2 mm of S275 with a hole of 9: 40 x 2 x 275 = 22 kN; 0.9 x 31 x 2 x 430 / 1.25 = 19.2 kN
    assert strip_tension_n(40.0, 9.0, 2.0, 275.0, 430.0) == pytest.approx(19_195.2)
    assert strip_tension_n(40.0, 0.5, 2.0, 275.0, 430.0) == pytest.approx(22_000.0)
    assert foot_bending_n(60.0, 3.0, 20.0, 275.0) == pytest.approx(275 * 60 * 9 / 4 / 20)
    assert most_pull_n(1e6, [100.0, 200.0]) == pytest.approx(1e6 * 200 / (100**2 + 200**2))


def test_the_thinnest_sheet_that_holds_is_taken() -> None:
    one = box()
    assert (one.sheet, one.thickness_mm) == ("mid", 2.5)
    assert not one.refused
    bears, wants = check(one, "Sides front and rear")
    # by hand: 64 kg at 20 g over the end wall
    height, width = float(one.inner_mm[2]), float(one.inner_mm[1])
    assert wants == pytest.approx(1000 * 64 * 20 * 9.80665 / (width * height), rel=2e-3)
    assert bears >= wants
    thin = plate_collapse_mpa(275.0, width, height, 1.5)
    assert 1000 * thin < wants
    refused = box(BOX.replace('"thick", "thin", "mid"', '"thin"'))
    assert refused.refused
    assert next(c for c in refused.checks if not c.ok).do.startswith("Sheet 'thin' of 1.5 mm")


def test_a_box_closes_on_its_modules_and_stays_in_its_bay() -> None:
    place = bay()
    one = box()
    low = one.pose.inverse().apply(place.pose.apply(np.array([12.0, 14.0, 12.0])))
    high = one.pose.inverse().apply(place.pose.apply(np.array([12.0 + 713.0, 14.0 + 307.0, 120.0])))
    assert np.all(low >= np.array([3.0, 3.0, 3.0]) - 1e-9)
    assert np.all(high <= one.inner_mm - np.array([3.0, 3.0, 3.0]) + 1e-9)
    left, _ = check(one, "Room left between box and bay")
    # the end wall's outside: 2.5 of the tray, 0.5 of play and 1.5 of the lid beyond 3 mm of insulation
    assert left == pytest.approx(min(12 - 3 - 2.5 - 0.5 - 1.5, 12 - 3 - 2.5), abs=2.1)
    tray = one.pieces[0].bracket
    # the blank: bottom and both sides, and the pivot's 0.75 mm at each of two folds, on both their panels
    length, width, height = one.inner_mm
    spans = np.ptp(laid(tray.parts[0]).outline.points_mm, axis=0)
    assert sorted(spans) == pytest.approx(sorted([length + 2 * height + 3.0, width + 2 * height + 3.0]), abs=0.01)
    area = sum(panel.outline.polygon().area for panel in tray.panels.values())
    assert tray.mass_kg == pytest.approx(area * 2.5 * 7.85e-6, rel=0.02)


def test_bolts_go_through_lid_straps_and_tray_in_line() -> None:
    one = box(turn_deg=12.0, cables="top")
    back = one.pose.inverse()

    def spots(what: str) -> dict[str, Array]:
        bracket = next(piece.bracket for piece in one.pieces if piece.what == what)
        return {
            hole.name: back.apply(panel.pose.apply([*hole.centre_mm, 0.0]))
            for panel in bracket.panels.values()
            for hole in panel.holes
        }

    tray, lid, strap = spots("tray"), spots("lid"), spots("hold-down strap")
    bolts = [name for name in lid if "lid_" in name]
    assert len(bolts) >= 4
    for name in bolts:
        assert lid[name][[0, 2]] == pytest.approx(tray[name][[0, 2]], abs=1e-6)
    assert strap["left.left"][[0, 2]] == pytest.approx(tray["left.strap_left1"][[0, 2]], abs=1e-6)
    assert strap["right.right"][[0, 2]] == pytest.approx(tray["right.strap_right1"][[0, 2]], abs=1e-6)
    # no bolt of the lid under a strap's
    assert min(abs(tray[a][0] - tray[b][0]) for a in bolts for b in tray if "strap_left" in b) > 12.0


@pytest.mark.parametrize(("cables", "what", "turn"), [("front", "tray", 0.0), ("top", "lid", 12.0)])
def test_cables_leave_where_the_bay_says_and_water_runs_out(cables: str, what: str, turn: float) -> None:
    one = box(cables=cables, turn_deg=turn)
    bracket = next(piece.bracket for piece in one.pieces if piece.what == what)
    gland = next(hole for hole in bracket.panels[cables].holes if hole.name.endswith("gland"))
    assert (gland.diameter_mm, gland.use, gland.bolt) == (25.5, "open", "")
    drain = next(hole for hole in one.pieces[0].bracket.panels["bottom"].holes if hole.name.endswith("drain"))
    assert drain.diameter_mm == 9.0


def test_straps_and_feet_are_as_many_as_hold() -> None:
    one = box()
    strap = next(piece for piece in one.pieces if piece.what == "hold-down strap")
    assert strap.count == len(one.straps_mm) >= 2
    bears, pull = check(one, "Pull that a strap's bolt")
    assert pull == pytest.approx(64 * 8 * 9.80665 / (2 * strap.count))
    assert bears <= shear_n(bolt_of("M8", "8.8"))
    foot = next(piece for piece in one.pieces if piece.what == "foot")
    assert foot.count == 2 * len(one.feet_mm)
    assert check(one, "Use of a foot's bolt")[0] <= 1.0
    few = box(BOX + "feet = 4\n", mass_kg=300.0)
    assert few.refused


def test_boxes_are_among_what_is_cut_and_a_refused_one_is_not(tmp_path: Path) -> None:
    build, one = build_of(), box()
    parts = {part.name: part for part in parts_of(build, (), boxes=[one])}
    coupons = {part.name for part in parts.values() if part.station == "coupon"}
    assert len(coupons) == 2  # of the sheets that are slit and folded without a pivot of their own
    assert {part.station for name, part in parts.items() if name not in coupons} == {"box"}
    assert parts["box_boot_foot"].quantity == 2 * len(one.feet_mm)
    assert parts["box_boot"].key.thickness_mm == 2.5
    figures = read_figures(dxf_text(laid(one.pieces[0].bracket.parts[0]), 1.5))
    assert len(figures) > len(one.pieces[0].bracket.parts[0].bores)
    foot = next(piece for piece in one.pieces if piece.what == "foot")
    only = Box(**{f: getattr(one, f) for f in one.__dataclass_fields__} | {"pieces": (foot,)})
    written = {row.path for row in box_files(build, [only], tmp_path / "boxes").files}
    stem = "box_boot_foot/box_boot_foot"
    assert {
        f"{stem}.dxf",
        f"{stem}.svg",
        f"{stem}-paper.pdf",
        f"{stem}.step",
        "box_boot_foot/shop-sheet.pdf",
    } <= written
    refused = box(BOX.replace('"thick", "thin", "mid"', '"thin"'))
    assert {part.station for part in parts_of(build, (), boxes=[refused])} == {"coupon"}


def test_what_a_box_cannot_be_is_told(tmp_path: Path) -> None:
    with pytest.raises(BuildProblems) as refused:
        build_of(BOX.replace('"mid"', '"middle"') + 'foot_bolt = "M9"\nfeet = 5\ngrade = "8.9"\n')
    words = str(refused.value)
    for part in ("the sheet 'middle' is not known", "M9", "an even number", "8.9"):
        assert part in words
    with pytest.raises(ValueError, match="too low for a lid and straps"):
        box(BOX + "skirt = 150\n")
