"""Trade arithmetic: the constants are exact, so the tolerances are those of floating point."""

import pytest

from cure_models.quantities import coverage, dry_from_wet, wet_from_dry
from cure_models.units import (
    MIL_UM,
    UNITS,
    WET_MILS_PER_GAL_PER_SQUARE,
    UnitError,
    from_si,
    parse_quantity,
    to_si,
)

FT2_PER_GAL_AT_ONE_MIL = 231 / 144 * 1000


def mils(um):
    return um / MIL_UM


def gal_per_square(litres_per_m2):
    return from_si(litres_per_m2, "gal/100ft2")


def test_gallon_per_square(outside):
    outside.agree(
        "wet mil of 1 gal/100 ft2", WET_MILS_PER_GAL_PER_SQUARE, 16.0417,
        within=5e-5, unit="mil", source="exact definitions", why="rounding",
    )  # fmt: skip
    outside.agree(
        "1 gal/100 ft2", to_si(1, "gal/100ft2"), 0.40746,
        within=5e-6, unit="L/m2", source="exact definitions", why="rounding",
    )  # fmt: skip
    wet_um = to_si(1, "gal/100ft2") * 1000
    assert wet_um == pytest.approx(407.46, abs=5e-3)
    assert mils(wet_um) == pytest.approx(WET_MILS_PER_GAL_PER_SQUARE, rel=1e-12)


def test_litre_per_square_metre(outside):
    assert mils(1000) == pytest.approx(39.370, abs=5e-4)
    assert gal_per_square(1) == pytest.approx(2.4542, abs=5e-5)
    outside.agree(
        "1.0 L/m2", gal_per_square(1), 2.5, within=0.05, unit="gal/100 ft2",
        source="ASTM D1227-95(2000), 4.3: 2-1/2", why="printed to the half",
    )  # fmt: skip


def test_mil_and_square():
    assert to_si(1, "mil") == 25.4
    assert 100 * to_si(1, "ft2") == pytest.approx(9.290304, rel=1e-12)


@pytest.mark.parametrize(("film_mil", "film_mm"), [(40, 1.0), (60, 1.5), (80, 2.0)])
def test_mils_in_round_millimetres(film_mil, film_mm):
    assert to_si(film_mil, "mil") / 1000 == pytest.approx(film_mm, rel=0.04)


@pytest.mark.parametrize(
    ("gal", "solids", "wet_mil", "dry_mil"),
    [(1.5, 0.55, 24.06, 13.2), (1.5, 0.92, 24.06, 22.1), (3.0, 0.50, 48.13, 24.1)],
)
def test_rate_to_film(gal, solids, wet_mil, dry_mil):
    wet_um = to_si(gal, "gal/100ft2") * 1000
    assert mils(wet_um) == pytest.approx(wet_mil, abs=0.006)
    assert mils(dry_from_wet(wet_um, solids)) == pytest.approx(dry_mil, abs=0.05)


def test_dry_film_of_an_acrylic_coat_in_micrometres():
    assert dry_from_wet(to_si(1.5, "gal/100ft2") * 1000, 0.55) == pytest.approx(336, abs=0.5)


@pytest.mark.parametrize(
    ("dry_mil", "solids", "loss", "gal"),
    [
        (20, 0.50, 0.0, 2.49),
        (24, 0.55, 0.10, 3.02),
        (30, 0.60, 0.10, 3.46),
        (60, 0.60, 0.05, 6.56),
        # Three coats of 1.5 gal/100 ft2 at 55 % leave 39.7 mil, so 40 mil takes a little more.
        (40, 0.55, 0.0, 4.53),
    ],
)
def test_film_to_rate(dry_mil, solids, loss, gal):
    taken = coverage(to_si(dry_mil, "mil"), solids, loss)
    assert gal_per_square(taken) == pytest.approx(gal, abs=0.006)


def test_wet_is_dry_over_solids():
    assert wet_from_dry(to_si(20, "mil"), 0.5) == pytest.approx(to_si(40, "mil"), rel=1e-12)


@pytest.mark.parametrize("solids", [0.35, 0.55, 1.0])
def test_wet_and_dry_are_inverse(solids):
    wet = wet_from_dry(508, solids)
    assert dry_from_wet(wet, solids) == pytest.approx(508, rel=1e-12)


def test_theoretical_coverage_of_a_gallon():
    # ft2/gal = 1604.17 x VS / dry mils.
    per_square = gal_per_square(coverage(to_si(24, "mil"), 0.55))
    assert 100 / per_square == pytest.approx(FT2_PER_GAL_AT_ONE_MIL * 0.55 / 24, rel=1e-9)
    assert pytest.approx(1604.17, abs=5e-3) == FT2_PER_GAL_AT_ONE_MIL


def test_loss_divides():
    assert coverage(500, 0.5, 0.2) / coverage(500, 0.5) == pytest.approx(1.25, rel=1e-12)


@pytest.mark.parametrize(
    ("function", "arguments"),
    [
        (wet_from_dry, (-1, 0.5)),
        (wet_from_dry, (500, 0)),
        (wet_from_dry, (500, 55)),
        (wet_from_dry, (float("nan"), 0.5)),
        (dry_from_wet, (500, float("nan"))),
        (coverage, (500, 0.5, 1.0)),
        (coverage, (500, 0.5, -0.1)),
        (coverage, (500, 0.5, float("nan"))),
    ],
)
def test_impossible_quantities_are_refused(function, arguments):
    with pytest.raises(ValueError, match="must"):
        function(*arguments)


@pytest.mark.parametrize(("delta_f", "kelvin"), [(3, 1.67), (5, 2.78), (10, 5.56)])
def test_spread_is_a_difference(delta_f, kelvin):
    assert to_si(delta_f, "delta_degF", "difference") == pytest.approx(kelvin, abs=0.005)


def test_spread_is_never_read_as_a_temperature():
    assert to_si(5, "degF") == pytest.approx(-15)
    with pytest.raises(UnitError, match=r"'degF' is a unit of temperature.*K, delta_degF"):
        to_si(5, "degF", "difference")
    with pytest.raises(UnitError, match="difference"):
        to_si(5, "delta_degF", "temperature")


def test_three_kelvin_is_more_than_five_fahrenheit():
    assert to_si(3, "K") - to_si(5, "delta_degF") == pytest.approx(0.22, abs=0.005)


@pytest.mark.parametrize(
    ("deg_f", "deg_c"),
    [
        (32, 0.0), (35, 1.7), (40, 4.4), (45, 7.2), (50, 10.0), (55, 12.8), (75, 23.9),
        (110, 43.3), (120, 48.9), (140, 60.0), (-40, -40.0),
    ],
)  # fmt: skip
def test_fahrenheit(deg_f, deg_c):
    assert to_si(deg_f, "degF") == pytest.approx(deg_c, abs=0.05)


@pytest.mark.parametrize(
    ("mph", "m_s", "km_h"),
    [(10, 4.47, 16.1), (15, 6.71, 24.1), (20, 8.94, 32.2), (30, 13.4, 48.3), (40, 17.9, 64.4)],
)
def test_wind(mph, m_s, km_h):
    assert to_si(mph, "mph") == pytest.approx(m_s, abs=0.02)
    assert from_si(to_si(mph, "mph"), "km/h") == pytest.approx(km_h, abs=0.05)


def test_measurable_rain():
    assert to_si(0.01, "in", "water") == pytest.approx(0.254, rel=1e-12)


@pytest.mark.parametrize("unit", UNITS)
def test_units_are_inverse(unit):
    assert from_si(to_si(12.5, unit), unit) == pytest.approx(12.5, rel=1e-12)
    assert to_si(1, unit, UNITS[unit].dimension) == to_si(1, unit)


def test_unknown_unit_names_the_known_ones():
    with pytest.raises(UnitError, match=r"unit 'F' is not known.*degF"):
        to_si(50, "F")


def test_quantity_in_words():
    assert parse_quantity("24,000 ft2", "area") == pytest.approx(2229.67, abs=0.01)
    assert parse_quantity(" 12 ft ", "height") == pytest.approx(3.6576)
    assert parse_quantity("-5 degC", "temperature") == -5


@pytest.mark.parametrize("text", ["12", "ft", "twelve ft", "nan ft", "12ft", ""])
def test_quantity_that_is_none(text):
    with pytest.raises(UnitError, match="write a number, a space and a unit"):
        parse_quantity(text, "height")


def test_quantity_of_the_wrong_dimension():
    with pytest.raises(UnitError, match="height takes m, ft"):
        parse_quantity("12 degF", "height")
