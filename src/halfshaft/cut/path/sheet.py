"""One sheet, wholly: its cuts, moves, estimate and checks. Stock, parts and the shop in, the sheet's path out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from halfshaft.build.catalogue.cutter import use_row
from halfshaft.build.cutter import CutterInput
from halfshaft.build.schema import Shop
from halfshaft.cut.path.judge import checks_of
from halfshaft.cut.path.model import OnSheet, SheetPath, Stock
from halfshaft.cut.path.plan import planned
from halfshaft.cut.path.program import estimate_of, moves_of
from halfshaft.cut.path.setup import in_table, setup_of


def sheet_path(stock: Stock, parts: Sequence[OnSheet], shop: Shop, cutter: CutterInput) -> SheetPath:
    """Raises ValueError where a part has no outline."""
    setup = setup_of(shop, cutter, stock.thickness_mm, stock.material)
    found = planned(stock, parts, setup)
    home = np.array(stock.outline.bounds[:2])
    moves = moves_of(found.cuts, setup, home)
    estimate = estimate_of(moves, use_row(setup.process), cutter.price)
    known = in_table(shop, cutter, stock.thickness_mm, stock.material)
    checks = checks_of(stock, parts, setup, found, known)
    return SheetPath(stock, setup, found.cuts, moves, estimate, found.close_pierces, found.drill, checks)
