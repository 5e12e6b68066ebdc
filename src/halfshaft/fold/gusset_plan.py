"""What a gusset is before it stands anywhere: two panels in, their corner; a wish in, sizes and outline, out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from halfshaft.build.catalogue import default
from halfshaft.fold.model import Fold, Panel
from halfshaft.fold.slab import figure, into_metal, line_of
from halfshaft.geometry import Contour, Plane

if TYPE_CHECKING:
    from halfshaft.build.schema import BracketInput, GussetInput, Sheet

Array = NDArray[np.float64]

_PARALLEL = 0.0175  # sine of a degree
_LEAST_FOOT_MM = 10.0
_LEAST_OPEN_DEG = 20.0


@dataclass(frozen=True, eq=False)
class Corner:
    """Where the inside faces of two panels meet, in root axes.

    `into_a`, `into_b` (3,) run from the line into each panel's metal, square to it; `upper_a`, `upper_b` say whether
    the inside is the panel's upper side; `start_mm`, `end_mm` are the stretch of the line, from `apex_mm` along `way`,
    that both panels have; `open_deg` is the angle between the inside faces.
    """

    a: Panel
    b: Panel
    apex_mm: Array
    way: Array
    into_a: Array
    into_b: Array
    upper_a: bool
    upper_b: bool
    start_mm: float
    end_mm: float
    open_deg: float


def corner_of(a: Panel, b: Panel, fold: Fold | None = None) -> Corner:
    """How two panels stand to each other; `fold` where they share one.

    Raises ValueError for panels that are parallel or share no stretch of the line in which they meet.
    """
    normal_a, normal_b = a.pose.rotation[:, 2], b.pose.rotation[:, 2]
    if float(np.linalg.norm(np.cross(normal_a, normal_b))) < _PARALLEL:
        raise ValueError(f"panels {a.name} and {b.name} are parallel: a gusset wants two that stand at an angle")
    foot, way = _face(a, 0.5).meet(_face(b, 0.5))
    into_a, into_b = _into(a, fold, foot, way), _into(b, fold, foot, way)
    upper_a, upper_b = float(normal_a @ into_b) > 0.0, float(normal_b @ into_a) > 0.0
    apex, way = _face(a, float(upper_a)).meet(_face(b, float(upper_b)))
    spans = []
    for panel in (a, b):
        flat = line_of(fold, panel.name) if fold is not None else shapely.get_coordinates(figure(panel))
        spots = panel.pose.apply(np.column_stack([flat, np.zeros(len(flat))]))
        along = (spots - apex) @ way
        spans.append((float(along.min()), float(along.max())))
    start, end = max(s[0] for s in spans), min(s[1] for s in spans)
    if end - start < 1.0:
        raise ValueError(f"panels {a.name} and {b.name} lie past each other: no stretch of their corner has both")
    opened = float(np.degrees(np.arccos(np.clip(into_a @ into_b, -1.0, 1.0))))
    return Corner(a, b, apex, way, into_a, into_b, upper_a, upper_b, start, end, opened)


def _face(panel: Panel, share: float) -> Plane:
    normal = panel.pose.rotation[:, 2]
    return Plane(normal, float(normal @ panel.pose.apply([0.0, 0.0, share * panel.thickness_mm])))


def _into(panel: Panel, fold: Fold | None, foot: Array, way: Array) -> Array:
    if fold is not None:
        return np.asarray(panel.pose.rotation @ np.append(into_metal(figure(panel), line_of(fold, panel.name)), 0.0))
    across = np.cross(panel.pose.rotation[:, 2], way)
    middle = figure(panel).centroid
    side = float((panel.pose.apply([middle.x, middle.y, panel.thickness_mm / 2.0]) - foot) @ across)
    return np.asarray(across if side > 0.0 else -across)


@dataclass(frozen=True, eq=False)
class Plan:
    """Sizes of one wish: reaches along both panels, thickness, nip, leg, blunt tip; the plate's outline."""

    reach_mm: tuple[float, float]
    thickness_mm: float
    nip_mm: float
    leg_mm: float
    tip_mm: float
    outline: Contour

    @property
    def half_mm(self) -> float:
        """Half of what the plate and its two fillets take of a panel."""
        return self.thickness_mm / 2.0 + self.leg_mm


def plan_of(
    corner: Corner, folds: Sequence[Fold], wish: GussetInput, bracket: BracketInput, sheets: Mapping[str, Sheet]
) -> Plan:
    thickness = sheets[wish.sheet or bracket.sheet].thickness_mm
    thinner = min(thickness, corner.a.thickness_mm)
    reach = wish.reach_mm if isinstance(wish.reach_mm, tuple) else (wish.reach_mm, wish.reach_mm)
    bend = next(
        (f.setback_mm for f in folds if {f.a, f.b} == set(wish.between) and f.kind == "brake"), 0.0
    )  # a bend's inside begins so far from the corner
    nip = wish.nip_mm
    if nip is None:
        share, least = default("gusset.nip").value, default("gusset.nip_least").value
        nip = max(float(share) * corner.a.thickness_mm, float(least), bend + corner.a.thickness_mm if bend else 0.0)
    elif nip < bend:
        raise ValueError(f"a nip of {nip:.1f} mm runs into the bend, which begins {bend:.1f} mm from the corner")
    leg = wish.leg_mm
    if leg is None:
        wanted = max(float(default("gusset.leg").value) * thinner, float(default("gusset.leg_least").value))
        leg = min(wanted, thinner)
    tip = float(default("gusset.tip").value) * thickness
    if min(reach) - nip < _LEAST_FOOT_MM:
        raise ValueError(
            f"a reach of {min(reach):.1f} mm less the nip of {nip:.1f} mm leaves no foot to weld: write a reach of "
            f"{nip + 30.0:.0f} mm or more"
        )
    outline = outline_of(reach, corner.open_deg, nip, tip, wish.edge == "hollow")
    whole = outline.polygon(0.01)
    if not whole.is_valid or outline.area_mm2 < 0.25 * np.pi * nip**2 or corner.open_deg < _LEAST_OPEN_DEG:
        raise ValueError(
            f"between faces that stand open by {corner.open_deg:.0f}° its reaches leave no plate: make them longer or "
            "its nip less"
        )
    return Plan((float(reach[0]), float(reach[1])), thickness, float(nip), float(leg), tip, outline)


def outline_of(reach_mm: tuple[float, float], open_deg: float, nip_mm: float, tip_mm: float, hollow: bool) -> Contour:
    """Outline in the plate's axes: corner at the origin, the first panel along x, the second turned by `open_deg`.

    The nip is a quarter hollow about the corner; a hollow outer edge stands in by `gusset.hollow` of its length.
    """
    turn = np.radians(open_deg)
    along_b, square_b = np.array([np.cos(turn), np.sin(turn)]), np.array([np.sin(turn), -np.cos(turn)])
    tip_a, tip_b = np.array([reach_mm[0], tip_mm]), reach_mm[1] * along_b + tip_mm * square_b
    points = np.array(
        [[nip_mm, 0.0], [reach_mm[0], 0.0], tip_a, tip_b, reach_mm[1] * along_b, nip_mm * along_b]
    )  # fmt: skip
    bulge = np.zeros(6)
    bulge[2] = -2.0 * float(default("gusset.hollow").value) if hollow else 0.0
    bulge[5] = -np.tan(turn / 4.0)
    return Contour(points, bulge)
