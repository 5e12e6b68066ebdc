"""Two revisions side by side: what was said otherwise, what moved for it, what must be cut again.

What must be cut again is told by the shape of the metal, not by bytes of files: a part that lies turned on its sheet,
or whose file holds other marks, is the same part. Docs: docs/book.md.
"""

from __future__ import annotations

from halfshaft.build.value import UnitSystem
from halfshaft.revisions.because import because
from halfshaft.revisions.freeze import Revision, results_of
from halfshaft.revisions.model import Comparison
from halfshaft.revisions.parts import parts
from halfshaft.revisions.results import checks, results, shifts_mm
from halfshaft.revisions.told_inputs import changes


def compare(old: Revision, new: Revision) -> Comparison:
    """Raises ValueError, in words, where one of the two is damaged in what is compared."""
    before, after = results_of(old), results_of(new)
    said = changes(old.folder / "inputs", new.folder / "inputs")
    units: UnitSystem = "inch" if after.get("units") == "inch" else "metric"
    shifts = shifts_mm(before, after)
    why = because(old.folder / "inputs", new.folder / "inputs", said, after)
    worse, better = checks(before, after)
    return Comparison(
        old, new, units, said, why, tuple(results(before, after, shifts, units)),
        tuple(parts(before, after, said, shifts, units)), worse, better,
    )  # fmt: skip
