"""Sheet that is bought: parts on their stock sheets, or the parts alone, in; rows out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import TYPE_CHECKING

from halfshaft.build.catalogue import material
from halfshaft.build.schema import Build
from halfshaft.build.units import format_mass, format_sheet
from halfshaft.buy.model import Need
from halfshaft.fold.model import Bracket

if TYPE_CHECKING:
    from halfshaft.cut.nest import Sheets


def stock(found: Sheets) -> list[Need]:
    """Stock sheets that parts are laid on; the shop's own offcuts are at hand."""
    rows: dict[str, Need] = {}
    for sheet in found.sheets:
        blank = sheet.blank
        had = rows.get(blank.table)
        count = 1.0 if had is None else had.count + 1.0
        have = 1.0 if blank.is_offcut else 0.0
        rows[blank.table] = Need(blank.table, count, "sheet", str(blank.key), blank.cost, "", have)
    return list(rows.values())


def sheet_area(build: Build, brackets: Sequence[Bracket]) -> list[Need]:
    """Area of the parts that each sheet gives, with what they weigh."""
    units = build.build.units
    area: dict[str, float] = defaultdict(float)
    mass: dict[str, float] = defaultdict(float)
    users: dict[str, list[str]] = defaultdict(list)
    for bracket in brackets:
        for part in bracket.parts:
            sheet = build.sheet[part.sheet]
            name = f"sheet {part.sheet}, {format_sheet(part.thickness_mm, units)}"
            here = part.outline.polygon(0.5).area * 1e-6
            area[name] += here
            mass[name] += here * part.thickness_mm * 1e-3 * material(sheet.material).density_kg_m3
            if bracket.name not in users[name]:
                users[name].append(bracket.name)
    return [
        Need(name, round(area[name], 3), "m2", f"{', '.join(users[name])}: {format_mass(mass[name], units)} of parts")
        for name in area
    ]
