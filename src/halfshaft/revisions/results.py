"""What moved between two revisions' results: points, bodies, folds, the numbers asked for first, checks. Words out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from halfshaft.build.units import format_length
from halfshaft.build.value import UnitSystem
from halfshaft.geometry import Pose
from halfshaft.revisions.model import Moved
from halfshaft.sure import ONE_WAY, worst_spread

Array = NDArray[np.float64]

TOLD_MM = 0.05  # a point that moved less is no news
_MOST_POINTS = 12  # that are told one by one


def _points(record: Mapping[str, Any]) -> dict[str, tuple[Array, Array]]:
    return {
        one["name"]: (np.array(one["xyz_mm"], dtype=float), np.array(one["covariance_mm2"], dtype=float))
        for one in record["measured"]["points"]
    }


def shifts_mm(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, float]:
    """How far each point that both have moved, mm."""
    one, other = _points(before), _points(after)
    return {name: float(np.linalg.norm(one[name][0] - other[name][0])) for name in one if name in other}


def results(
    before: Mapping[str, Any], after: Mapping[str, Any], shifts: Mapping[str, float], units: UnitSystem
) -> list[Moved]:
    out = []
    one, other = _points(before), _points(after)
    far_ones = sorted(((n, far) for n, far in shifts.items() if far >= TOLD_MM), key=lambda row: -row[1])
    for name, far in far_ones[:_MOST_POINTS]:
        step = other[name][0] - one[name][0]
        spread = ONE_WAY * float(worst_spread(other[name][1]))
        told = "more than its ±" if far > spread else "within its ±"
        ways = ", ".join(f"{v + 0.0:+.1f}" for v in step)
        out.append(Moved(f"point {name}", _spot(one[name][0]), _spot(other[name][0]), f"{far:.2f} mm ({ways}), {told}"))
    if len(far_ones) > _MOST_POINTS:
        most = far_ones[_MOST_POINTS][1]
        out.append(Moved(f"{len(far_ones) - _MOST_POINTS} further points", "", "", f"each by {most:.2f} mm or less"))
    for name in sorted(one.keys() ^ other.keys()):
        out.append(Moved(f"point {name}", "located" if name in one else "", "located" if name in other else "", ""))
    out += _poses(before, after)
    out += _built(before, after)
    out += _brackets(before, after, units)
    out += _numbers(before, after)
    return out


def _spot(xyz: Array) -> str:
    return ", ".join(f"{v + 0.0:.1f}" for v in xyz)


def _poses(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[Moved]:
    """Bodies that sit elsewhere, with how far they turned."""
    out = []
    for name, told in after.get("poses", {}).items():
        was = before.get("poses", {}).get(name)
        if was is None:
            continue
        pose, old = (Pose(np.array(one["turn"]), np.array(one["at_mm"])) for one in (told, was))
        shift, angle = pose.shift_mm - old.shift_mm, pose.after(old.inverse()).turned_deg
        if np.linalg.norm(shift) >= TOLD_MM or angle >= 0.01:
            words = f"moved {', '.join(f'{v + 0.0:+.1f}' for v in shift)} mm, turned {angle:.2f}°"
            out.append(Moved(f"place of {name}", _spot(np.array(was["at_mm"])), _spot(np.array(told["at_mm"])), words))
    return out


def _built(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[Moved]:
    """Where bodies sit as built, against where the same revision drew them."""
    out = []
    had = before.get("as_built") or {}
    for name, told in (after.get("as_built") or {}).items():
        if had.get(name) == told:
            continue
        ways = ", ".join(f"{v + 0.0:+.1f}" for v in told["moved_mm"])
        worst = max(told["points"], key=lambda p: np.linalg.norm(told["points"][p]), default="")
        far = f"; {worst} most, by {np.linalg.norm(told['points'][worst]):.2f} mm" if worst else ""
        was = had.get(name)
        old = ", ".join(f"{v + 0.0:+.1f}" for v in was["moved_mm"]) if was else "not read"
        words = f"turned {told['turned_deg']:.2f}° from where it was drawn{far}"
        out.append(Moved(f"{name} as built, from its drawn place", old, ways, words))
    return out


def _brackets(before: Mapping[str, Any], after: Mapping[str, Any], units: UnitSystem) -> list[Moved]:
    out = []
    one = {row["name"]: row for row in before["brackets"]}
    for row in after["brackets"]:
        was = one.get(row["name"])
        if was is None:
            continue
        folds = {fold["name"]: fold for fold in was["folds"]}
        for fold in row["folds"]:
            had = folds.get(fold["name"])
            if had is not None and abs(had["angle_deg"] - fold["angle_deg"]) >= 0.05:
                out.append(
                    Moved(
                        f"{row['name']}, fold {fold['name']}", f"{had['angle_deg']:.1f}°", f"{fold['angle_deg']:.1f}°",
                        f"{fold['angle_deg'] - had['angle_deg']:+.1f}°",
                    )
                )  # fmt: skip
        if abs(was["thickness_mm"] - row["thickness_mm"]) > 1e-6:
            told = [format_length(r["thickness_mm"], units) for r in (was, row)]
            out.append(Moved(f"{row['name']}, thickness", told[0], told[1], ""))
        chance = [float(r["fit"]["passes"]) for r in (was, row) if r.get("fit")]
        if len(chance) == 2 and abs(chance[0] - chance[1]) >= 0.005:
            out.append(
                Moved(
                    f"{row['name']}, chance of fit", f"{100 * chance[0]:.1f} %", f"{100 * chance[1]:.1f} %",
                    f"{100 * (chance[1] - chance[0]):+.1f} %",
                )
            )  # fmt: skip
    return out


_NUMBERS = (
    ("range of {name}", ("road", "drives"), "range_m", 0.001, "km", 1.0),
    ("mass of the car, {name}", ("weights", "states"), "mass_kg", 1.0, "kg", 1.0),
)


def _numbers(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[Moved]:
    """The few numbers of the whole car that a builder asks for first."""
    out = []
    for title, path, key, factor, unit, least in _NUMBERS:
        one, other = (
            {row["name"]: row[key] for row in _at(record, path) or [] if isinstance(row.get(key), float | int)}
            for record in (before, after)
        )
        for name, value in other.items():
            if name in one and abs(one[name] - value) * factor >= least:
                a, b = one[name] * factor, value * factor
                out.append(Moved(title.format(name=name), f"{a:.0f} {unit}", f"{b:.0f} {unit}", f"{b - a:+.0f} {unit}"))
    return out


def _at(record: Any, path: tuple[str, ...]) -> Any:
    for step in path:
        record = record.get(step) if isinstance(record, dict) else None
    return record


def checks(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    def failed(record: Mapping[str, Any]) -> dict[str, str]:
        return {
            f"{c['about']}: {c['title']}": f"{c['severity'].upper()}: {c['about']}: {c['title']}"
            for c in record["checks"]
            if not c["ok"] and c["severity"] != "note"
        }

    one, other = failed(before), failed(after)
    return tuple(other[k] for k in other if k not in one), tuple(one[k] for k in one if k not in other)
