"""What a builder can write of the printer that templates come from: a roll, and what a check length measured."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pydantic import Field

from halfshaft.build.units import MM_PER_INCH, format_length
from halfshaft.build.value import Length, Value

if TYPE_CHECKING:
    from halfshaft.build.tables import Tables
    from halfshaft.build.value import UnitSystem

MOST_OFF = 0.05  # no printer errs by more: a wrong length was read


def check_length_mm(units: UnitSystem) -> float:
    """The length that stands on every page of a template both ways."""
    return 100.0 if units == "metric" else 4.0 * MM_PER_INCH


class PaperCheckInput(Value):
    """Check lengths as measured on a print: along the sheet's short side or across the roll, and along the other."""

    across_mm: Length | None = Field(None, alias="across", gt=0)  # right when not given
    along_mm: Length | None = Field(None, alias="along", gt=0)
    length_mm: Length | None = Field(None, alias="length", gt=0)  # that was measured; 100 mm, or 4 in in an inch build

    def length(self, units: UnitSystem) -> float:
        """What both should measure, mm."""
        return check_length_mm(units) if self.length_mm is None else self.length_mm

    def scale(self, units: UnitSystem) -> tuple[float, float]:
        """Measured over nominal, across and along."""
        nominal = self.length(units)
        across, along = (nominal if found is None else found for found in (self.across_mm, self.along_mm))
        return across / nominal, along / nominal


def paper_faults(told: PaperCheckInput | None, units: UnitSystem, tables: Tables) -> None:
    """Add a fault for a measured length that no printer makes of the check length."""
    if told is None:
        return
    nominal = told.length(units)
    for key, found in (("across", told.across_mm), ("along", told.along_mm)):
        if found is not None and abs(found / nominal - 1.0) > MOST_OFF:
            wanted = format_length(nominal, units)
            write = (
                f"Measure the check length of {wanted} again, on a print made without a correction; for another one, "
                "write length too"
            )
            words = f"{format_length(found, units)} where {wanted} should be: a printer errs by less than 5 %"
            tables.fault(("shop", "paper_check", key), words, write)
