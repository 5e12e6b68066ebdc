"""What builders write for lengths, angles and forces, against the definitions of the units."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfshaft.build import catalogue, units

# Factors as printed in NIST Special Publication 811 (2008), appendix B.8; bold ones there are exact.
PRINTED = [
    (units.read_length_mm, "1 in", 25.4, 0.0),  # 2.54 E-02 m, exact
    (units.read_length_mm, "1 ft", 304.8, 0.0),  # 3.048 E-01 m, exact
    (units.read_length_mm, "1 cm", 10.0, 0.0),
    (units.read_length_mm, "1 m", 1000.0, 0.0),
    (units.read_force_n, "1 lbf", 4.448222, 5e-7),
    (units.read_force_n, "1 kgf", 9.80665, 0.0),
    (units.read_force_n, "1 kN", 1000.0, 0.0),
    (units.read_stress_mpa, "1 psi", 6.894757e-3, 5e-10),
    (units.read_stress_mpa, "1 ksi", 6.894757, 5e-7),
    (units.read_stress_mpa, "1 N/mm2", 1.0, 0.0),
    (units.read_torque_nm, "1 lbf ft", 1.355818, 5e-7),
    (units.read_torque_nm, "1 lbf in", 0.1129848, 5e-8),
    (units.read_torque_nm, "1 kgf m", 9.80665, 0.0),
    (units.read_mass_kg, "1 lb", 0.4535924, 5e-8),
    (units.read_mass_kg, "1 oz", 0.02834952, 5e-9),
    (units.read_density_kg_m3, "1 lb/in3", 27679.90, 5e-3),
    (units.read_density_kg_m3, "1 lb/ft3", 16.01846, 5e-6),
    (units.read_density_kg_m3, "1 g/cm3", 1000.0, 0.0),
]


@pytest.mark.parametrize(("read", "text", "printed", "last_digit"), PRINTED)
@pytest.mark.parametrize("system", ["metric", "inch"])
def test_factors_agree_with_the_printed_table(read, text, printed, last_digit, system):
    assert read(text, system) == pytest.approx(printed, abs=last_digit + 1e-12 * printed, rel=0)


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("14 3/16 in", 14 + 3 / 16), ("2-1/2 in", 2.5), ("3/16 in", 3 / 16), ('14½"', 14.5), ("½ in", 0.5),
        ("14 ³⁄₁₆ in", 14 + 3 / 16), ("5' 3 1/2\"", 63.5), ("5'-3 1/2\"", 63.5), ("5′ 3 1/2″", 63.5),
        ("5' 3 1/2", 63.5),
        ("5 ft 3 in", 63),
        ("-3 1/2 in", -3.5), (".5in", 0.5), ("0,5 in", 0.5), ("1 ft", 12), ("12 inches", 12),
    ],
)  # fmt: skip
def test_inches_are_read_as_the_shop_writes_them(text, inches):
    # 1 in = 25.4 mm exactly: NIST SP 811, appendix B.6
    assert units.read_length_mm(text) == pytest.approx(inches * 25.4, rel=1e-12)


def test_a_bare_number_is_in_the_units_of_the_build():
    assert units.read_length_mm(10) == 10.0
    assert units.read_length_mm("10", "inch") == pytest.approx(254.0)
    assert units.read_length_mm("10 mm", "inch") == 10.0


def test_a_decimal_comma_is_read_and_an_ambiguous_one_is_refused():
    assert units.read_length_mm("12,5 mm") == 12.5
    with pytest.raises(ValueError, match=r"two ways: write 1234 or 1\.234"):
        units.read_length_mm("1,234")


# US standard gauge, 15 U.S.C. 206 (act of 3 March 1893): pounds a square foot of sheet steel by gauge number.
# The manufacturers' standard gauge divides by 41.82 lb a square foot and inch, printed to four places.
POUNDS_A_SQUARE_FOOT = {7: 7.5, 8: 6.875, 10: 5.625, 11: 5.0, 12: 4.375, 14: 3.125, 16: 2.5, 18: 2.0, 20: 1.5, 22: 1.25}


@pytest.mark.parametrize(("number", "pounds"), POUNDS_A_SQUARE_FOOT.items())
def test_gauge_steel_is_as_thick_as_its_weight_says(number, pounds):
    assert units.read_length_mm(f"{number} ga") / 25.4 == pytest.approx(pounds / 41.82, abs=0.5001e-4)


def test_a_gauge_that_is_not_made_is_refused():
    with pytest.raises(ValueError, match="gauge 99"):
        units.read_length_mm("99 ga")


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("31.5", 31.5), ("31 deg 30 min", 31.5), ("31°30'", 31.5), ("31° 30' 36\"", 31.51), ("1/2 deg", 0.5),
        ("45 deg", 45.0), ("100 %", 45.0), ("1:1", 45.0), ("-1:1", -45.0), ("12 in 12", 45.0),
        ("500 mm / 500 mm", 45.0), ("1 ft in 12 in", 45.0), ("0 %", 0.0),
    ],
)  # fmt: skip
def test_angles_and_slopes_are_read(text, degrees):
    assert units.read_angle_deg(text) == pytest.approx(degrees, abs=1e-12)


@given(rise=st.floats(0.01, 50), run=st.floats(0.01, 50))
def test_a_slope_is_the_arc_tangent_of_rise_to_run(rise, run):
    text = f"{rise:.6f}:{run:.6f}"
    assert math.tan(math.radians(units.read_angle_deg(text))) == pytest.approx(
        float(f"{rise:.6f}") / float(f"{run:.6f}"), rel=1e-9
    )


def test_a_bare_fraction_is_no_angle_because_it_could_be_a_slope():
    with pytest.raises(ValueError, match="two ways"):
        units.read_angle_deg("3/12")


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize(
    "value",
    ["", "  ", "abc", "5 furlong", "1/0 in", "nan", "inf", "--3", "3 in 2 in", "5 mm 3 in", "3 ft 14 in", "1e999",
     "9" * 400, "1/" + "9" * 50, True, None, float("nan"), float("inf"), 10**400, [1], {}, "1 2 3 in", "mm", '"',
     "12 in in"],
)  # fmt: skip
def test_what_is_no_length_is_refused_with_what_to_write(value, system):
    with pytest.raises(ValueError, match=r"write|not|zero|long|large") as error:
        units.read_length_mm(value, system)
    assert "\n" not in str(error.value)
    assert len(str(error.value)) < 400


@given(st.text(max_size=30))
def test_no_text_brings_a_reader_down(text):
    readers = (
        units.read_length_mm, units.read_angle_deg, units.read_force_n, units.read_stress_mpa, units.read_mass_kg,
        units.read_density_kg_m3, units.read_torque_nm, units.read_spot_mm,
    )  # fmt: skip
    for read in readers:
        for system in ("metric", "inch"):
            try:
                value = read(text, system)
            except ValueError:
                continue
            assert all(math.isfinite(number) for number in (value if isinstance(value, tuple) else (value,)))


@given(st.floats(-5000, 5000))
def test_lengths_shown_in_inches_are_within_a_sixty_fourth(length_mm):
    shown = units.format_length(length_mm, "inch")
    assert units.read_length_mm(shown) == pytest.approx(length_mm, abs=25.4 / 64 + 1e-9)


@given(st.floats(-5000, 5000))
def test_lengths_shown_in_millimetres_are_within_a_twentieth(length_mm):
    assert units.read_length_mm(units.format_length(length_mm)) == pytest.approx(length_mm, abs=0.0501)


def test_a_force_without_unit_is_refused_in_an_inch_build():
    assert units.read_force_n(250) == 250.0
    with pytest.raises(ValueError, match="without a unit"):
        units.read_force_n(250, "inch")


@pytest.mark.parametrize(
    ("value", "spot"),
    [
        ("1 2 3", (1, 2, 3)), ("1, 2, 3", (1, 2, 3)), ("1,2,3", (1, 2, 3)), ("1 2 3 cm", (10, 20, 30)),
        ([1, "2 cm", 3.5], (1, 20, 3.5)), ("1 ft; -2 1/2 in; 30 mm", (304.8, -63.5, 30)),
    ],
)  # fmt: skip
def test_spots_are_three_lengths(value, spot):
    assert units.read_spot_mm(value) == pytest.approx(spot)


@pytest.mark.parametrize("value", ["0; 250; -80 mm", "0 250 -80 mm", "0; 250 mm; -80 mm", "0; 25 cm; -8 cm"])
def test_a_unit_that_stands_behind_the_last_of_three_lengths_is_that_of_all_three(value):
    # in an inch build, where a bare number would be inches: 250 in is 6350 mm
    assert units.read_spot_mm(value, "inch") == pytest.approx((0.0, 250.0, -80.0))


@pytest.mark.parametrize("told", ["11 ga", "16 ga", "3/16 in", "0.118 in"])
def test_a_sheet_is_told_in_an_inch_build_as_it_is_sold(told):
    # gauge where it is one, else a 64th, else thousandths: 3 mm is 0.118 in and no gauge
    assert units.format_sheet(units.read_length_mm(told), "inch") == told


def test_where_a_hole_lies_is_told_finer_than_a_tape_reads():
    # 94.376 mm / 25.4 = 3.71559
    assert units.format_ordinate(94.376, "inch") == "3.716 in"


# ISO 273:1979, table 1 (fine, medium, coarse)
ISO_273 = {
    "M6": (6.4, 6.6, 7),
    "M8": (8.4, 9, 10),
    "M10": (10.5, 11, 12),
    "M12": (13, 13.5, 14.5),
    "M16": (17, 17.5, 18.5),
}


@pytest.mark.parametrize(("name", "holes"), ISO_273.items())
def test_clearance_holes_are_those_of_the_standard(name, holes):
    row = catalogue.bolt(name)
    assert (row.close_mm, row.clearance_mm, row.oversize_mm) == holes


def test_every_row_of_the_catalogue_has_words_on_its_source():
    rows = [catalogue.default(key) for key in catalogue.default_keys()]
    rows += [catalogue.bolt(name) for name in catalogue.bolts()]
    rows += [catalogue.material(name) for name in catalogue.materials()]
    rows += list(catalogue.instruments().values())
    for row in rows:
        assert len(row.source.text) > 10, row


def test_bolts_are_orderly():
    for name in catalogue.bolts():
        row = catalogue.bolt(name)
        assert row.shank_mm < row.close_mm < row.clearance_mm < row.oversize_mm < row.washer_mm, name
        assert row.head_across_flats_mm * 2 / math.sqrt(3) < row.socket_mm, name


def test_a_wrong_name_is_told_with_the_nearest():
    with pytest.raises(KeyError, match=r"mild steel S275"):
        catalogue.material("mild stel S275")
    with pytest.raises(KeyError, match=r"shop\.kerf"):
        catalogue.default("shop.kurf")


@pytest.mark.parametrize(
    ("thickness_mm", "shown"),
    # 1 in = 25.4 mm exactly; 0.1196 in is 11 gauge sheet steel, which is no 64th
    [(4.7625, "3/16 in"), (6.35, "1/4 in"), (25.4 * 7 / 64, "7/64 in"), (0.1196 * 25.4, "0.120 in"), (25.4, "1 in")],
)
def test_a_thickness_is_shown_as_the_fraction_it_is_sold_by(thickness_mm: float, shown: str):
    assert units.format_thickness(thickness_mm, "inch") == shown


def test_a_metric_thickness_is_shown_as_any_length():
    assert units.format_thickness(4.7625) == "4.76 mm"


@given(st.floats(-5000.0, 5000.0), st.sampled_from(["metric", "inch"]))
def test_a_length_to_type_over_is_saved_again_unchanged(length_mm: float, system: str):
    assert units.read_length_mm(units.length_to_write(length_mm, system)) == pytest.approx(
        length_mm, rel=1e-5, abs=1e-9
    )


def test_a_length_to_type_over_is_no_longer_than_it_must_be():
    assert units.length_to_write(412.3) == "412.3 mm"
    assert units.length_to_write(1.001) == "1.001 mm"
    assert units.length_to_write(4.7625, "inch") == "3/16 in"
    assert units.length_to_write(1.0, "inch") == "0.03937008 in"
