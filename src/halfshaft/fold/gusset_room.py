"""Whether a gusset has metal under it and room about it: its plan, the corner and a place in; troubles out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from halfshaft.build.catalogue import default
from halfshaft.fold.gusset_plan import Corner, Plan
from halfshaft.fold.model import Hole, Panel
from halfshaft.fold.slab import figure, hole_figure

if TYPE_CHECKING:
    from halfshaft.build.schema import BracketInput

Array = NDArray[np.float64]

_TOUCH_MM2 = 0.05


@dataclass(frozen=True, slots=True)
class Trouble:
    title: str
    words: str
    amount_mm: float
    hard: bool = True


def troubles(plan: Plan, corner: Corner, at_mm: float, bracket: BracketInput) -> list[Trouble]:
    """What is wrong with a plate there, as far as its two panels and their bolts tell."""
    out: list[Trouble] = []
    sides = ((corner.a, corner.into_a, corner.upper_a, 0), (corner.b, corner.into_b, corner.upper_b, 1))
    for panel, into, upper, side in sides:
        strip = _strip(plan, corner, panel, into, side, at_mm)
        metal = figure(panel)
        off = strip.difference(metal)
        if off.area > _TOUCH_MM2:
            reach = _fitting(plan, corner, panel, into, side, at_mm)
            least = f"its reach along {panel.name} can be {reach:.0f} mm there" if reach else "move it along the fold"
            past = float(shapely.distance(shapely.points(shapely.get_coordinates(off)), metal).max())
            past = max(past, 2.0 * off.area / off.length)  # over a notch every corner lies on metal
            out.append(
                Trouble(
                    "Gusset off the panel",
                    f"Its foot and fillets want a strip of {2.0 * plan.half_mm:.1f} mm of panel {panel.name}, and run "
                    f"off its metal: {least}, move it with distance, or draw the panel wider.",
                    past,
                )
            )
        lies = panel.contact == ("upper" if upper else "under")
        if lies and len(panel.holes):
            rest = _lying(panel)
            if rest.intersection(strip).area > _TOUCH_MM2:
                out.append(
                    Trouble(
                        "Gusset where the panel lies on metal",
                        f"The inside of the corner is that side of panel {panel.name} that lies on {panel.face}, and "
                        "the plate would stand there: put the gusset at another fold, or farther along this one.",
                        float(np.sqrt(rest.intersection(strip).area)),
                    )
                )
        for hole in panel.holes:
            washer = hole_figure(hole, max(hole.washer_mm - hole.diameter_mm, 0.0) / 2.0)
            both = strip.intersection(washer)
            if both.area > _TOUCH_MM2:
                deep = _sunk(strip, hole, max(hole.washer_mm, hole.diameter_mm) / 2.0)
                out.append(
                    Trouble(
                        "Gusset runs into a washer",
                        f"Its foot with the fillets runs {deep:.1f} mm into the washer of hole {hole.name}: shorten "
                        f"its reach along {panel.name}, move it {deep:.1f} mm along the fold, or use a smaller washer.",
                        deep,
                    )
                )
            elif not lies:
                deep = _socket(plan, corner, panel, into, side, at_mm, hole)
                if deep > 0.0:
                    spared = _spared(bracket, hole)
                    out.append(
                        Trouble(
                            "Gusset in a socket's room",
                            f"The socket on hole {hole.name} wants {deep:.1f} mm of the plate's room: move it "
                            f"{deep:.1f} mm along the fold, shorten its reach, "
                            + ("or turn that bolt with a spanner, as relief = false says." if spared else
                               "or, where a spanner turns that bolt, write relief = false at the hole."),
                            deep, hard=not spared,
                        )
                    )  # fmt: skip
    return out


@lru_cache(maxsize=64)  # asked for at every step along a fold
def _lying(panel: Panel) -> Polygon:
    """What of a panel is pressed on what it lies on, in its axes."""
    rings = [hole_figure(h, max(h.washer_mm - h.diameter_mm, 0.0) / 2.0) for h in panel.holes]
    return shapely.union_all(rings).convex_hull


def _strip(
    plan: Plan, corner: Corner, panel: Panel, into: Array, side: int, at_mm: float, reach_mm: float | None = None
) -> Polygon:
    """What foot and fillets cover of a panel, in its axes."""
    back = panel.pose.inverse()
    tip = plan.reach_mm[side] if reach_mm is None else reach_mm
    ends = [corner.apex_mm + corner.way * at_mm + into * r for r in (plan.nip_mm, tip + plan.leg_mm)]
    across = corner.way * plan.half_mm
    spots = np.array([ends[0] - across, ends[1] - across, ends[1] + across, ends[0] + across])
    return Polygon(back.apply(spots)[:, :2])


def _fitting(plan: Plan, corner: Corner, panel: Panel, into: Array, side: int, at_mm: float) -> float:
    """The longest reach in whole mm at which the strip lies on the panel; 0 where none does."""
    metal = figure(panel)
    for reach in range(int(plan.reach_mm[side]), int(plan.nip_mm + 30.0), -1):
        if _strip(plan, corner, panel, into, side, at_mm, float(reach)).difference(metal).area <= _TOUCH_MM2:
            return float(reach)
    return 0.0


def _sunk(strip: Polygon, hole: Hole, radius_mm: float) -> float:
    away = float(strip.distance(hole_figure(hole).centroid))
    return max(radius_mm + hole.slot_mm / 2.0 - away, 0.0)


def _socket(
    plan: Plan, corner: Corner, panel: Panel, into: Array, side: int, at_mm: float, hole: Hole
) -> float:  # fmt: skip
    """How far the plate stands in the room of a hole's socket, along the fold; 0 where it does not.

    The socket stands square on the panel, in the plate's own plane: cut by that plane it is a strip.
    """
    if hole.use == "locate" or hole.socket_mm <= 0.0:
        return 0.0
    radius = hole.socket_mm / 2.0 + float(default("fold.socket_room").value) + hole.slot_mm / 2.0
    spot = panel.pose.apply([*hole.centre_mm, 0.0]) - corner.apex_mm
    aside = max(abs(float(spot @ corner.way) - at_mm) - plan.thickness_mm / 2.0, 0.0)
    if aside >= radius:
        return 0.0
    half, foot = float(np.sqrt(radius**2 - aside**2)), float(spot @ into)
    shape = plan.outline.polygon(0.05)
    if side:  # seen from the other panel: turned round the line that halves the corner
        turn = np.radians(corner.open_deg)
        matrix = np.array([[np.cos(turn), np.sin(turn)], [np.sin(turn), -np.cos(turn)]])
        shape = shapely.transform(shape, lambda xy: xy @ matrix.T)
    high = float(default("fold.socket_reach").value)
    room = shapely.box(foot - half, 0.0, foot + half, high)
    return radius - aside if shape.intersection(room).area > _TOUCH_MM2 else 0.0


def _spared(bracket: BracketInput, hole: Hole) -> bool:
    wishes = [h for p in bracket.panel.values() for h in p.holes] + [h for join in bracket.join for h in join.bolts]
    return any(not wish.relief and hole.point == wish.at for wish in wishes)
