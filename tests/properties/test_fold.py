"""What holds for any bracket: flat panels keep their lengths, and refolded they are the panels and the solid."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from halfshaft.fold.model import Bracket, FlatPart, Fold
from halfshaft.fold.pivot import pivot_depth_mm
from halfshaft.fold.slab import figure, trimmed
from halfshaft.fold.solid import bracket_solid, volume_mm3
from halfshaft.fold.station import shaped
from halfshaft.geometry import solids
from halfshaft.geometry.arcs import contours_of
from tests.fold.frames import bolts, build_of, measured_of

Array = NDArray[np.float64]

slow = settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)


@st.composite
def brackets(draw: st.DrawFn) -> Bracket:
    """Chains and stars of two to four panels at any compound angle, slit and brake, up and down, in any place.

    The first panel lies near x-y; each other one hangs on a side of the first, or on the last, turned by some angle and
    skewed in its plane, with two bolts of its own.
    """
    number = st.floats(-1.0, 1.0)
    place = Rotation.from_rotvec(3.0 * np.array([draw(number), draw(number), draw(number)]))
    shift = 500.0 * np.array([draw(number), draw(number), draw(number)])
    thickness = draw(st.sampled_from([3.0, 4.0, 6.0]))
    points, faces, panels, folds = {}, {}, {}, []

    def add(name: str, turn: Rotation, origin: Array, centres: list[Array]) -> None:
        faces[f"car.{name}"] = (place.apply(origin) + shift, place.apply(turn.apply([0.0, 0.0, 1.0])))
        for count, centre in enumerate(centres):
            points[f"car.{name}{count}"] = place.apply(origin + turn.apply([*centre, 0.0])) + shift
        panels[name] = {
            "face": f"car.{name}",
            "side": "outside",
            "holes": bolts(*(f"car.{name}{count}" for count in range(len(centres)))),
        }

    add("base", Rotation.identity(), np.zeros(3), [np.array([-40.0, -25.0]), np.array([40.0, 25.0])])
    count = draw(st.integers(1, 3))
    angles = st.floats(20.0, 120.0)
    for at in range(count):
        bend = np.radians(draw(angles)) * draw(st.sampled_from([1.0, -1.0]))
        skew, lean = np.radians(12.0) * draw(number), np.radians(15.0) * draw(number)
        side = Rotation.from_euler("z", at * np.pi / 2.0 + skew)
        # out along x of `side`, then turned about its y: the plane of the next panel
        reach = 95.0 if at % 2 == 0 else 80.0
        turn = side * Rotation.from_euler("y", -bend) * Rotation.from_euler("x", lean)
        origin = side.apply([reach, 0.0, 0.0])
        name = f"ear{at}"
        add(name, turn, origin, [np.array([45.0, -18.0]), np.array([45.0, 18.0])])
        folds.append({"between": ["base", name], "kind": draw(st.sampled_from(["slit", "brake"]))})
    build = build_of({"panel": panels, "folds": folds}, {"thickness": thickness, "brake_radius": 1.2 * thickness})
    return shaped(build, measured_of(points, faces), "piece")


def drawn(bracket: Bracket) -> bool:
    """Refused brackets have no flat; they are told why, which other tests ask about."""
    return len(bracket.parts) == 1


def flat3(part: FlatPart, panel: str, spots: Array) -> Array:
    rotation, shift = part.placed[panel]
    return np.column_stack([spots[:, :2] @ rotation.T + shift, spots[:, 2]])


def far_side(bracket: Bracket, fold: Fold) -> set[str]:
    """Panels that move when the part's first panel stays."""
    reached, before = {fold.b}, set()
    while reached != before:
        before = set(reached)
        for other in bracket.folds:
            if other is not fold and reached & {other.a, other.b}:
                reached |= {other.a, other.b}
    return reached


def refolded(bracket: Bracket, part: FlatPart, spots: dict[str, Array]) -> dict[str, Array]:
    """Flat spots folded up one fold after the other about lines in space, by other code than the station's.

    Folds nearest the leaves go first, so that each line still lies flat. A slit turns about its line at the pivot's
    depth. A brake bend first takes up its allowance, then turns about the middle of its radius.
    """
    out = {name: flat3(part, name, xyz) for name, xyz in spots.items()}
    t = bracket.thickness_mm
    for fold in sorted(bracket.folds, key=lambda f: len(far_side(bracket, f))):
        line = part.fold_lines_mm[fold.name]
        way = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
        out_of_a = np.array([way[1], -way[0]])
        middle = flat3(
            part, fold.b, np.column_stack([bracket.panels[fold.b].outline.points_mm.mean(axis=0)[None], [[0]]])
        )
        if (middle[0, :2] - line[0]) @ out_of_a < 0.0:
            out_of_a = -out_of_a
        if fold.kind == "slit":
            height = t - fold.pivot_depth_mm if fold.up else fold.pivot_depth_mm
            slide = np.zeros(3)
        else:
            height = t + fold.radius_mm if fold.up else -fold.radius_mm
            slide = np.append(-out_of_a * fold.allowance_mm, 0.0)
        centre = np.append(line[0], height)
        # turning about out x up moves what lies outward down, so the axis is up x out to fold up
        axis = np.cross(np.append(out_of_a, 0.0), [0.0, 0.0, 1.0])
        sense = 1.0 if fold.up else -1.0
        turn = Rotation.from_rotvec(sense * np.radians(fold.angle_deg) * axis)
        for name in far_side(bracket, fold):
            out[name] = turn.apply(out[name] + slide - centre) + centre
    return out


def corners(bracket: Bracket) -> dict[str, Array]:
    """Corners (n, 3) of every panel's metal on both sides of the sheet, cut back at its slits, in panel axes."""
    out = {}
    for name, panel in bracket.panels.items():
        slit = [f for f in bracket.folds if f.kind == "slit"]
        metal = trimmed(panel, slit) if any(name in (f.a, f.b) for f in slit) else figure(panel)
        flat = np.vstack([outline.points_mm for outline, _ in contours_of(metal)])
        out[name] = np.vstack([np.column_stack([flat, np.full(len(flat), z)]) for z in (0.0, panel.thickness_mm)])
    return out


@slow
@given(brackets().filter(drawn))
def test_unfolding_keeps_every_distance_on_a_panel(bracket: Bracket) -> None:
    for part in bracket.parts:
        for name in part.placed:
            spots = corners(bracket)[name]
            flat, folded = flat3(part, name, spots), bracket.panels[name].pose.apply(spots)
            apart = [np.linalg.norm(x[:, None] - x[None], axis=2) for x in (flat, folded)]
            assert np.abs(apart[0] - apart[1]).max() < 1e-9


@slow
@given(brackets().filter(drawn))
def test_the_line_of_a_slit_fold_is_one_line_folded_and_flat(bracket: Bracket) -> None:
    for part in bracket.parts:
        for fold in (f for f in bracket.folds if f.kind == "slit"):
            t = bracket.thickness_mm
            height = t - fold.pivot_depth_mm if fold.up else fold.pivot_depth_mm
            a, b = (np.column_stack([line, [height] * 2]) for line in (fold.line_a_mm, fold.line_b_mm))
            folded = bracket.panels[fold.a].pose.apply(a) - bracket.panels[fold.b].pose.apply(b)
            flat = flat3(part, fold.a, a) - flat3(part, fold.b, b)
            assert np.abs(folded).max() < 1e-9
            assert np.abs(flat).max() < 1e-9


@slow
@given(brackets().filter(drawn))
def test_refolding_the_flat_gives_the_panels_and_the_solid_back(bracket: Bracket) -> None:
    for part in bracket.parts:
        spots = {name: xyz for name, xyz in corners(bracket).items() if name in part.placed}
        up = refolded(bracket, part, spots)
        # laid on the first panel in space; every other panel must then come to lie on its face
        first = next(iter(part.placed))
        turn, _ = Rotation.align_vectors(
            bracket.panels[first].pose.apply(spots[first])
            - bracket.panels[first].pose.apply(spots[first]).mean(axis=0),
            up[first] - up[first].mean(axis=0),
        )
        middle = bracket.panels[first].pose.apply(spots[first]).mean(axis=0)
        solid = solids.vertices_mm(bracket_solid(bracket, part.name))
        for name, xyz in up.items():
            placed = turn.apply(xyz - up[first].mean(axis=0)) + middle
            assert np.abs(placed - bracket.panels[name].pose.apply(spots[name])).max() < 1e-6
            assert max(np.linalg.norm(solid - spot, axis=1).min() for spot in placed) < 1e-6


@slow
@given(brackets().filter(drawn))
def test_the_solid_holds_area_times_thickness(bracket: Bracket) -> None:
    for part in bracket.parts:
        t = bracket.thickness_mm
        solid = bracket_solid(bracket, part.name)
        assert solids.pieces(solid) == 1
        own = [f for f in bracket.folds if f.a in part.placed and f.b in part.placed]
        bores = sum(np.pi * hole.diameter_mm**2 / 4.0 for hole in part.bores)
        area = part.outline.area_mm2 - sum(abs(o.area_mm2) for o in part.openings) - bores
        # a brake bend's sector is theta (R + t / 2) long on the middle of the sheet; the flat gives it theta (R + K t)
        for fold in own:
            theta = np.radians(fold.angle_deg)
            if fold.kind == "brake":
                area += fold.length_mm * theta * (t / 2.0 - fold.pivot_depth_mm)
            else:
                # all of the strip of the slits goes, up to half a slit past its ends where the sides lean outward; the
                # bridges, hulls of two end faces, are bounded below and above
                area -= fold.length_mm * fold.slit_width_mm + fold.slit_width_mm**2
        whole = sum(
            sum(b.end_mm - b.start_mm for b in f.bridges)
            * (f.slit_width_mm + 2.0 * t * np.tan(np.radians(f.angle_deg) / 2))
            for f in own
            if f.kind == "slit"
        )
        volume = solids.volume_mm3(solid)
        spare = sum(f.slit_width_mm**2 for f in own if f.kind == "slit")
        assert area * t - 1e-4 * volume <= volume <= (area + spare + whole) * t + 1e-4 * volume
        assert volume == pytest.approx(volume_mm3(bracket.panels, own), rel=1e-9)


@given(st.floats(1.0, 12.0), st.floats(0.2, 4.0), st.floats(1.0, 170.0))
def test_the_pivot_is_where_two_plates_that_first_turn_at_mid_thickness_and_then_on_their_edges_end(
    thickness: float, slit: float, angle: float
) -> None:
    """The two stages acted out with plates: half the turn each way, contact on the plane between them."""
    half = np.radians(angle) / 2.0
    # corner of the right plate on the inside, told from the pivot at mid-thickness: half a slit out, half a sheet up
    out, up = slit / 2.0, thickness / 2.0
    closes = np.arctan2(out, up)  # half turn at which the corner has come onto the plane between the plates
    first = min(half, closes)
    turn = Rotation.from_euler("z", first).as_matrix()[:2, :2]
    corner, along = turn @ [out, up], turn @ [1.0, 0.0]
    if half > closes:
        along = Rotation.from_euler("z", half - closes).as_matrix()[:2, :2] @ along
    # where the plate's inside face meets the plane between the plates: the inside apex
    apex = corner - along * corner[0] / along[0]
    # setback: from the apex along the plate to the middle of its slit, which lies half a slit before the corner
    beyond = (apex - corner) @ along + slit / 2.0
    assert beyond == pytest.approx(pivot_depth_mm(thickness, slit, angle) * np.tan(half), abs=1e-9)
