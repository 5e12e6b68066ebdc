"""Choices as plain values for JSON: numbers, text, lists and objects, with the units in the names."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from halfshaft.plain import judged, numbers

if TYPE_CHECKING:
    from halfshaft.choose.model import Choice


def choice(one: Choice) -> dict[str, Any]:
    """Every variant with its options, numbers and whether none beats it; picks, checks and what was assumed."""
    return {
        "cycle": one.sweep.cycle,
        "station": one.sweep.station,
        "aims": list(one.aims),
        "count": len(one.rows),
        "unbeaten": int(one.kept.sum()),
        "picks": [{"for": pick.words, "variant": pick.variant + 1} for pick in one.picks],
        "variants": [
            {
                "variant": n + 1,
                "options": one.named(n),
                **{key: numbers(value) for key, value in row._asdict().items() if key != "why"},
                "unbeaten": bool(one.kept[n]),
                "cannot": row.why,
                "not_sure": list(one.unsure(n)),
            }
            for n, row in enumerate(one.rows)
        ],
        **judged(one),
    }
