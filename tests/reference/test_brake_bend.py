"""Brake bends against worked examples of the sheet-metal trade."""

from __future__ import annotations

import numpy as np
import pytest

from halfshaft.fold.pivot import bend_allowance_mm, brake_setback_mm, k_factor
from halfshaft.fold.station import shaped
from tests.fold.frames import build_of, measured_of

INCH = 25.4


# "90 Degree Bends", sheetmetalworkbook.com/90bends.htm (read there): 0.050 in thick, inside radius 0.032 in,
# bend allowance (0.0078 T + 0.01743 R) x 90 = 0.085, deduction 2 (T + R) - 0.085 = 0.079
# The formula is the usual empirical one of FAA-H-8083-31, chapter 4, 'Bend allowance' (from memory); its neutral layer
# lies 0.0078 / 0.01743 of the thickness under the inside face.
T, R, K = 0.050 * INCH, 0.032 * INCH, 0.0078 / 0.01743


def test_the_allowance_of_a_square_bend_is_that_of_the_workbook() -> None:
    assert bend_allowance_mm(R, K, T, 90.0) / INCH == pytest.approx(0.085, abs=0.0005)


def test_the_deduction_of_a_square_bend_is_that_of_the_workbook() -> None:
    outside = brake_setback_mm(R, 90.0) + T  # at 90 degrees the outside apex lies a thickness past the inside one
    assert (2.0 * outside - bend_allowance_mm(R, K, T, 90.0)) / INCH == pytest.approx(0.079, abs=0.0005)


def test_a_part_of_four_flanges_unfolds_to_the_stretch_out_of_the_workbook() -> None:
    # same source: outside to outside 0.740, 0.420, 1.050 and 1.000 with three square bends stretch out to 2.973
    one, two, three, four = (size * INCH for size in (0.740, 0.420, 1.050, 1.000))
    width = 2.0 * INCH
    # outer skin in the x-z plane: up the left side, along the top, down the right, then out to the right as a foot
    # whose underside is level with the end of the fall; each panel's low side is its skin
    corners = {
        "rise": [(0, -one), (0, 0)],
        "top": [(0, 0), (two, 0)],
        "fall": [(two, 0), (two, -three)],
        "foot": [(two - T, -three), (two - T + four, -three)],
    }
    skins = {  # a spot on the sheet's face, and the way the metal lies from it
        "rise": ((0.0, 0.0, 0.0), (1, 0, 0)),
        "top": ((0.0, 0.0, 0.0), (0, 0, -1)),
        "fall": ((two, 0.0, 0.0), (-1, 0, 0)),
        "foot": ((two, 0.0, -three), (0, 0, 1)),
    }
    panels = {
        name: {
            "face": f"car.{name}",
            "round": "0 mm",
            "outline": [
                [a[0], -width / 2, a[1]],
                [b[0], -width / 2, b[1]],
                [b[0], width / 2, b[1]],
                [a[0], width / 2, a[1]],
            ],
        }
        for name, (a, b) in corners.items()
    }
    folds = [{"between": pair} for pair in (("rise", "top"), ("top", "fall"), ("fall", "foot"))]
    build = build_of(
        {"fold": "brake", "panel": panels, "folds": folds},
        {"thickness": T, "brake_radius": R, "k_factor": K},
    )
    bracket = shaped(build, measured_of({}, {f"car.{n}": skin for n, skin in skins.items()}), "piece")
    assert len(bracket.parts) == 1, [check.do for check in bracket.checks if not check.ok]
    size = np.ptp(bracket.parts[0].outline.points_mm, axis=0)
    # three printed values of 0.079 are each rounded to half a thousandth
    assert size.max() / INCH == pytest.approx(2.973, abs=0.0016)
    assert size.min() == pytest.approx(width, abs=1e-6)


@pytest.mark.parametrize(
    ("ratio", "k"), [(0.65, 0.557), (1.0, 0.65), (2.0, 0.801), (2.4, 0.840), (5.0, 1.0), (10.0, 1.0)]
)
def test_the_correction_value_follows_din_6935(ratio: float, k: float) -> None:
    # DIN 6935: k = 0.65 + 0.5 lg(r / s) up to r / s = 5, then 1 (from memory); values by a table of logs
    assert 2.0 * k_factor(ratio * 4.0, 4.0) == pytest.approx(k, abs=0.001)
