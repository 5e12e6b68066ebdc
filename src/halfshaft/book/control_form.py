"""The form of control readings: what a builder fills in on another car, written and read back, line by line."""

from __future__ import annotations

import csv
import io

from halfshaft.build.units import read_angle_deg, read_length_mm
from halfshaft.control import Controls
from halfshaft.tables_control import told_of

COLUMNS = ("number", "reading", "points", "nominal", "give or take", "with", "read")


def form_csv(controls: Controls, units: str) -> str:
    """The form to fill in: a row a reading, the last column empty."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for one in controls.rows:
        writer.writerow([str(one.number), one.kind, one.points, *told_of(one, units), one.instrument, ""])
    return out.getvalue()


def read_form(text: str, controls: Controls, units: str) -> dict[int, float]:
    """What was filled in, by number; rows left empty are left out.

    Raises ValueError with every fault, a line each: 'line 4: ...'.
    """
    known = {one.number: one for one in controls.rows}
    out: dict[int, float] = {}
    faults: list[str] = []
    lines = text.splitlines()
    first = next((line for line in lines if line.strip()), "")
    comma = next((c for c in (";", "\t") if c in first and "," not in first), ",")
    header: list[str] | None = None
    for number, cells in enumerate(csv.reader(lines, delimiter=comma, skipinitialspace=True), 1):
        row = [cell.strip() for cell in cells]
        if not any(row):
            continue
        if header is None:
            header = [cell.lower() for cell in row]
            missing = [name for name in ("number", "read") if name not in header]
            if missing:
                raise ValueError(f"line {number}: no column '{missing[0]}'; the first row is: {', '.join(COLUMNS)}")
            continue
        told = dict(zip(header, row, strict=False))
        if not told.get("read"):
            continue
        try:
            which = int(told["number"])
            one = known[which]
        except (ValueError, KeyError):
            faults.append(
                f"line {number}: there is no control reading '{told.get('number', '')}'; there are 1 to {len(known)}"
            )
            continue
        if which in out:
            faults.append(f"line {number}: reading {which} stands twice; keep one")
            continue
        try:
            reader = read_angle_deg if one.unit == "deg" else read_length_mm
            out[which] = float(reader(told["read"], units))
        except ValueError as why:
            faults.append(f"line {number}: {why}")
    if header is None:
        faults.append("it is empty; 'halfshaft kit DIR' writes the form to fill in")
    if faults:
        raise ValueError("\n".join(faults))
    return out
