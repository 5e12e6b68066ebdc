"""Parts laid on sheets: all of a build, by material and thickness, on offcuts and whole sheets."""

from halfshaft.cut.nest.model import Blank, CutSheet, Leftover, Sheets, Wish
from halfshaft.cut.nest.station import nest

__all__ = ["Blank", "CutSheet", "Leftover", "Sheets", "Wish", "nest"]
