"""What [cutter] says that cannot go together. The table in, faults out."""

from __future__ import annotations

from halfshaft.build import catalogue
from halfshaft.build.cutter import CutterInput
from halfshaft.build.lines import Path as Keys
from halfshaft.build.problems import nearest, shown
from halfshaft.build.tables import Tables

_HERE: Keys = ("cutter",)


def cutter_rows(told: CutterInput, tables: Tables) -> None:
    """Add a fault to `tables` for each thing that no control could read, or that contradicts another."""
    code, here = told.code, (*_HERE, "code")
    words = {
        "torch_on": code.torch_on,
        "torch_off": code.torch_off,
        "marker_on": code.marker_on,
        "marker_off": code.marker_off,
    }
    pairs = [("torch_on", "torch_off")]
    if told.marker:
        pairs += [("marker_on", "marker_off"), ("torch_on", "marker_on"), ("torch_on", "marker_off")]
    for one, other in pairs:
        if words[one] == words[other]:
            found = f"{one} and {other} are both '{words[one]}'"
            tables.fault((*here, other), found, "Write what your control wants for each")
    for number, row in enumerate(told.setting):
        path: Keys = (*_HERE, "setting", number)
        names = list(catalogue.materials())
        if row.material is not None and row.material not in names:
            near = nearest(row.material, names)
            write = f"Write '{near[0]}'" if near else f"There are: {', '.join(names)}"
            tables.fault((*path, "material"), f"the material {shown(row.material)} is not known", write)
        high, low = row.pierce_height_mm, row.cut_height_mm
        if high is not None and low is not None and high < low:
            tables.fault(
                (*path, "pierce_height"), "the pierce is lower than the cut", "Write the larger height for the pierce"
            )
        for earlier in told.setting[:number]:
            if earlier.material == row.material and abs(earlier.thickness_mm - row.thickness_mm) < 0.01:
                tables.fault(path, f"a second row for {row.thickness_mm:g} mm", "Keep one of them")
