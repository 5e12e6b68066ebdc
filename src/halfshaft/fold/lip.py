"""Locating lips. The fold line, the edge or hole they sit on in; outline, width, hole and how they sit out."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import MultiPoint, Point

from halfshaft.build.catalogue import default
from halfshaft.checks import Check, Good, Origin, Severity, Source
from halfshaft.fold.model import Fold, Panel
from halfshaft.fold.slab import along, figure
from halfshaft.fold.stiffen import rounded_strip
from halfshaft.geometry import Contour

Array = NDArray[np.float64]


def lip_outline(
    line_mm: ArrayLike, toward: ArrayLike, depth_mm: float | None = None, round_mm: float | None = None
) -> Contour:
    """Outline of a lip in its panel's axes: a strip from its fold line (2, 2), `depth` deep on the side `toward` (2,).

    `toward` is any direction from the line into the lip, for example from the line to the measured spots of the edge.
    Depth when not given is the catalogue's. Free corners are rounded by `round`, at most by half the depth.
    Raises ValueError where the line has no length or `toward` runs along it.
    """
    line = np.asarray(line_mm, dtype=float)
    length = float(np.linalg.norm(line[1] - line[0]))
    if length < 1.0:
        raise ValueError("the fold line of the lip is under 1 mm long")
    way = along(line)
    left = np.array([-way[1], way[0]])
    side = float(np.asarray(toward, dtype=float) @ left)
    if abs(side) < 1e-9:
        raise ValueError("the lip runs along its own fold line")
    depth = float(default("fold.lip_depth").value) if depth_mm is None else depth_mm
    radius = min(depth / 2.0 if round_mm is None else round_mm, depth / 2.0, length / 2.0)
    strip = rounded_strip(length, depth, radius)
    x_way, start = (way, line[0]) if side > 0.0 else (-way, line[1])
    turn = np.column_stack([x_way, [-x_way[1], x_way[0]]])
    return strip.moved(turn, start)


def lip_checks(
    panel: Panel, fold: Fold | None, spots_mm: Mapping[str, Array], gap_mm: float | None = None, name: str = ""
) -> tuple[Check, ...]:
    """How a lip sits on measured spots (3,) of the edge or face it locates on, named, in root axes.

    The lip must come over the figure that the spots span; spots beside it, or far up the face, only help to span it.
    The gap to the lip's contact side, told at the spots under the lip and else at the nearest one, must be between
    zero and twice the gap wanted. A brake bend's inside radius must not ride on the edge in the corner: it stands
    R (1 / cos(theta / 2) - 1) out of the corner, elementary geometry.
    """
    wanted = float(default("fold.lip_gap").value) if gap_mm is None else gap_mm
    source = default("fold.lip_gap").source
    about = f"bracket {name}, lip {panel.name}" if name else f"lip {panel.name}"
    shape, checks = figure(panel), []
    local = {key: panel.pose.inverse().apply(spot) for key, spot in spots_mm.items()}
    past = {key: float(Point(at[:2]).distance(shape)) for key, at in local.items()}
    nearest = min(past, key=lambda key: past[key]) if past else ""
    if past:
        short = float(MultiPoint([at[:2] for at in local.values()]).convex_hull.distance(shape))
        if short > 1e-6:
            checks.append(
                Check(
                    "fold", f"{about}, {nearest}", "Lip misses its edge", source, Severity.CAUTION,
                    f"Lip {panel.name} ends {short:.1f} mm short of {nearest} and locates on nothing: make it deeper, "
                    "or let its fold end at that point.",
                    found=short, limit=0.0, unit="mm", good=Good.AT_MOST,
                )
            )  # fmt: skip
    for spot_name, (_, _, z) in local.items():
        if past[spot_name] > 1e-6 and spot_name != nearest:
            continue
        gap = float(z - panel.thickness_mm) if panel.contact == "upper" else float(-z)
        if gap < -0.05:
            checks.append(
                Check(
                    "fold", f"{about}, {spot_name}", "Lip runs into its edge", source, Severity.STOP,
                    f"{spot_name} stands {-gap:.1f} mm into lip {panel.name}: give the lip a stand-off of "
                    f"{wanted - gap:.1f} mm more.",
                    found=gap, limit=0.0, unit="mm",
                )
            )  # fmt: skip
        elif gap > 2.0 * wanted + 1e-9:
            checks.append(
                Check(
                    "fold", f"{about}, {spot_name}", "Lip sits loose", source, Severity.CAUTION,
                    f"Lip {panel.name} stands {gap:.1f} mm off {spot_name} and locates no better than that: take "
                    f"{gap - wanted:.1f} mm off its stand-off.",
                    found=gap, limit=2.0 * wanted, unit="mm", good=Good.AT_MOST,
                )
            )  # fmt: skip
    if fold is not None and fold.kind == "brake":
        rides = fold.radius_mm * (1.0 / float(np.cos(np.radians(fold.angle_deg) / 2.0)) - 1.0)
        room = wanted * float(np.sqrt(2.0))
        checks.append(
            Check(
                "fold", f"{about}, fold {fold.name}", "Bend rides on the edge",
                Source(Origin.DERIVED, "arc in a corner: R (1 / cos(theta / 2) - 1)"), Severity.CAUTION,
                f"The bend's inside radius of {fold.radius_mm:.1f} mm fills {rides:.1f} mm of the corner: grind the "
                "edge round by as much, or make this one a slit fold.",
                found=rides, limit=room, unit="mm", good=Good.AT_MOST,
            )
        )  # fmt: skip
    return tuple(checks)
