"""Files of a choice: all variants as CSV, and the picture. A choice and a folder in; names of what was written out."""

from __future__ import annotations

import csv
import io
import math
from pathlib import Path

from halfshaft.build.choose import AIMS
from halfshaft.build.value import UnitSystem
from halfshaft.build.whole import write_whole
from halfshaft.choose.model import Choice
from halfshaft.choose.picture import scatter
from halfshaft.choose.said import number_of, title_of

VARIANTS, PICTURE = "variants.csv", "trade.svg"


def variants_csv(choice: Choice, units: UnitSystem) -> str:
    """Every variant a row (RFC 4180): options, numbers, whether none beats it, why it cannot be built."""
    money = choice.sweep.told.money
    picks = {pick.variant: pick.words for pick in choice.picks}
    out = io.StringIO()
    writer = csv.writer(out)
    parts = [part.name for part in choice.sweep.parts]
    titles = [title_of(aim, units, money) for aim in AIMS]
    writer.writerow(["variant", *parts, *titles, "cost ±", "unbeaten", "stands out as", "cannot be built", "not sure"])
    for n, row in enumerate(choice.rows):
        numbers = [number_of(row, aim, units) for aim in AIMS]
        writer.writerow(
            [
                n + 1, *choice.named(n).values(), *(f"{v:.6g}" if math.isfinite(v) else "" for v in numbers),
                f"{row.cost_spread:.6g}", "yes" if choice.kept[n] else "", picks.get(n, ""), row.why,
                "; ".join(choice.unsure(n)),
            ]
        )  # fmt: skip
    return out.getvalue()


def write_choice(choice: Choice, folder: Path, units: UnitSystem) -> tuple[str, ...]:
    """The files written into `folder`, whole or not at all. Raises OSError."""
    folder.mkdir(parents=True, exist_ok=True)
    write_whole(folder / VARIANTS, variants_csv(choice, units).encode("utf-8"))
    picture = scatter(choice, units)
    if not picture:
        (folder / PICTURE).unlink(missing_ok=True)
        return (VARIANTS,)
    write_whole(folder / PICTURE, picture.encode("utf-8"))
    return VARIANTS, PICTURE
