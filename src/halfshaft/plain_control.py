"""Control readings and the car as built as plain values for JSON, with the units in the names."""

from __future__ import annotations

from typing import Any

from halfshaft.control.model import Built, Controls, Verdict


def controls(one: Controls) -> dict[str, Any]:
    """Each reading with what it may read, and the share of what cars of the kind differ by that they foresee."""
    return {
        "foreseen": one.foreseen,
        "rows": [
            {
                "number": row.number, "kind": row.kind, "names": list(row.names), "nominal": row.nominal,
                "most": row.most, "spread": row.spread, "unit": row.unit, "brackets": list(row.brackets),
            }
            for row in one.rows
        ],
    }  # fmt: skip


def verdict(one: Verdict) -> dict[str, Any]:
    """What the form filled in on another car says."""
    return {
        "alike": one.alike,
        "rows": [{"number": r.control.number, "read": r.read, "off": r.off, "state": r.state} for r in one.rows],
        "holes": [
            {"point": h.point, "bracket": h.bracket, "by_mm": h.by_mm, "room_mm": h.room_mm, "out": h.out}
            for h in one.holes
        ],
        "words": list(one.words),
    }


def built(one: Built) -> dict[str, Any]:
    """Where each body sits as built, from where it was drawn."""
    return {
        body.name: {
            "moved_mm": body.moved_mm.tolist(),
            "turned_deg": body.turned_deg,
            "points": {point.name: point.moved_mm.tolist() for point in body.points},
        }
        for body in one.bodies
    }
