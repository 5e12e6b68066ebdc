"""A window that a placed unit asks for, cut as a template: it lands where the window is, on both sides."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Polygon

from halfshaft.build.schema import Build
from halfshaft.checks import Severity
from halfshaft.cut.opening import Anchor, window_template
from halfshaft.fitup.member import member_of
from halfshaft.fitup.model import Piece, Section
from halfshaft.fitup.window import Window, windows
from halfshaft.geometry import Plane, Pose
from halfshaft.geometry.mesh import box
from halfshaft.geometry.pose import turn
from halfshaft.measure.model import FaceEstimate, GlobalTest, Measured, PointEstimate
from tests.cut.brackets import build

RAIL = member_of("rail_left", Section("box", 60.0, 140.0, 3.0), [[-600, 400, 300], [600, 400, 300]], [0, 0, 1])
PLACE = Pose(turn([0.1, 0.2, 0.05]), np.array([30.0, 400.0, 300.0]))
ANCHOR = Anchor("car.web", "car.H", 11.0, ("car.E1", "car.E2"), twin=True)
SPOTS = {"car.H": (-160.0, 430.0, 330.0), "car.E1": (-300.0, 430.0, 230.0), "car.E2": (300.0, 430.0, 230.0)}


def shop() -> Build:
    return build()


def measured(lean_deg: float = 0.0, spots: dict[str, tuple[float, float, float]] = SPOTS) -> Measured:
    points, where = {}, {}
    vector: list[float] = []
    for name, xyz in spots.items():
        points[name] = PointEstimate(name, "car", np.array(xyz), 0.09 * np.eye(3))
        where[name] = slice(len(vector), len(vector) + 3)
        vector += list(xyz)
    normal = turn([np.radians(lean_deg), 0.0, 0.0]) @ np.array([0.0, 1.0, 0.0])
    plane = Plane(normal, float(normal @ np.array(SPOTS["car.E1"])))
    where["car.web"] = slice(len(vector), len(vector) + 4)
    vector += [*normal, plane.distance_mm]
    covariance = np.diag([0.09] * (len(vector) - 4) + [1e-12] * 3 + [0.01])
    face = FaceEstimate("car.web", "car", plane, np.array(SPOTS["car.E1"]), np.zeros((4, 4)), ())
    return Measured(
        points, {"car.web": face}, {}, np.array(vector), covariance, where, (), (), (), GlobalTest(0, 0, 0, 0, 1)
    )


@pytest.fixture(scope="module")
def window() -> Window:
    made = windows(RAIL, [Piece("ear", box([-40, -90, -15], [40, 90, 15]))], [PLACE], 8.0, 1.5)
    return next(w for w in made if w.wall.name == "left")


def in_space(points: np.ndarray) -> np.ndarray:
    """From the template back to the car by hand: zero under the hole on the edge, the left side seen from outside.

    There the front lies to the left, so along the edge to the right is rearward.
    """
    return np.array([[-160.0 - x, 430.0, 230.0 + y] for x, y in points])


def test_the_template_held_to_hole_and_edge_cuts_the_window_where_it_is(window: Window) -> None:
    part = window_template(shop(), measured(), "ear_window", window, ANCHOR).parts[0]
    (opening,) = part.openings
    cut = Polygon(in_space(opening.flattened_mm())[:, [0, 2]])
    flat = window.contour.flattened_mm()
    asked = Polygon(window.wall.pose.apply(np.column_stack([flat, np.zeros(len(flat))]))[:, [0, 2]])
    assert cut.symmetric_difference(asked).area < 1e-6 * asked.area
    assert opening.area_mm2 == pytest.approx(window.contour.area_mm2)
    assert part.outline.polygon().contains(opening.polygon())
    assert part.bores[0].centre_mm == pytest.approx([0.0, 100.0])


def test_the_twin_is_its_mirror_image(window: Window) -> None:
    part, twin = window_template(shop(), measured(), "ear_window", window, ANCHOR).parts
    ours = Polygon(part.openings[0].flattened_mm() * [-1.0, 1.0])
    assert ours.symmetric_difference(twin.openings[0].polygon()).area < 1e-3
    assert twin.mirrored


def test_its_notes_tell_every_line_and_arc(window: Window) -> None:
    made = window_template(shop(), measured(), "ear_window", window, ANCHOR)
    assert made.notes[-1].count("arc of radius") == np.count_nonzero(window.contour.bulge)
    assert "arc of radius 8" in made.notes[-1]


@pytest.mark.parametrize(
    ("lean", "spots", "title"),
    [
        (8.0, SPOTS, "Measured face against the wall"),
        (0.0, {k: v for k, v in SPOTS.items() if k != "car.H"}, "Anchor is not located"),
        (0.0, {**SPOTS, "car.H": (30.0, 430.0, 300.0)}, "Anchoring hole lies in the opening"),
        (0.0, {**SPOTS, "car.E2": (-300.0, 430.0, 230.5)}, "Edge gives no direction"),
    ],
)
def test_anchors_that_do_not_serve_are_refused(
    window: Window, lean: float, spots: dict[str, tuple[float, float, float]], title: str
) -> None:
    made = window_template(shop(), measured(lean, spots), "ear_window", window, ANCHOR)
    assert made.parts == ()
    stop = next(c for c in made.checks if not c.ok)
    assert stop.severity is Severity.STOP
    assert stop.title.startswith(title)
