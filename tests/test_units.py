"""Units: every spelling, the factors against published values, and what is refused."""

from __future__ import annotations

import math
import pickle
from fractions import Fraction

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stdday.errors import InputError
from stdday.unit_names import PINT_SI, pint_name, spelling_key, unit_rows
from stdday.units import (
    DIMENSIONS,
    UnitError,
    dimension_words,
    factor_to_si,
    from_si,
    known_units,
    parse_number,
    parse_quantity,
    shown,
    to_si,
)

REGISTRY = pint.UnitRegistry()
EVERY_UNIT = [(unit, dimension) for dimension in DIMENSIONS for unit in known_units(dimension)]
EVERY_SPELLING = [(word, dimension, name) for dimension in DIMENSIONS
                  for name, words in unit_rows(dimension) for word in words]


# Source: NIST Special Publication 811 (2008), appendix B.8, "Factors for units listed
# alphabetically", from memory; seven printed digits, or exact by definition (1e-15).
@pytest.mark.parametrize(("unit", "dimension", "published", "relative"), [
    ("ft", "length", 3.048e-1, 1e-15),
    ("nmi", "length", 1.852e3, 1e-15),
    ("mi", "length", 1.609344e3, 1e-15),
    ("kt", "speed", 5.144444e-1, 1e-6),
    ("mph", "speed", 4.4704e-1, 1e-15),
    ("km/h", "speed", 2.777778e-1, 1e-6),
    ("fpm", "vertical_speed", 5.08e-3, 1e-15),
    ("lb", "mass", 4.5359237e-1, 1e-15),
    ("oz", "mass", 2.834952e-2, 1e-6),
    ("slug", "mass", 1.459390e1, 1e-6),
    ("lbf", "force", 4.448222, 1e-6),
    ("kgf", "force", 9.80665, 1e-15),
    ("inHg", "pressure", 3.386389e3, 1e-6),
    ("mmHg", "pressure", 1.333224e2, 1e-6),
    ("psi", "pressure", 6.894757e3, 1e-6),
    ("mb", "pressure", 1.0e2, 1e-15),
    ("hp", "power", 7.456999e2, 1e-6),
    ("PS", "power", 7.354988e2, 1e-6),
    ("US gal", "volume", 3.785412e-3, 1e-6),
    ("imp gal", "volume", 4.54609e-3, 1e-15),
    ("US gal/h", "volume_flow", 3.785412e-3 / 3600.0, 1e-6),
    ("ft^2", "area", 9.290304e-2, 1e-15),
    ("deg", "angle", 1.745329e-2, 1e-6),
    ("slug/ft^3", "density", 5.153788e2, 1e-6),
    ("lb/US gal", "density", 1.198264e2, 1e-6),
    ("lb/imp gal", "density", 9.977637e1, 1e-6),
    ("lb/hp/h", "specific_consumption", 1.689659e-7, 1e-6),
    ("g", "acceleration", 9.80665, 1e-15),
])
def test_factors_are_the_published_ones(unit, dimension, published, relative):
    scale, offset = factor_to_si(unit, dimension)
    assert scale == pytest.approx(published, rel=relative)
    assert offset == 0.0


# Source: the definitions t/degC = T/K - 273.15 and t/degF = 1.8 t/degC + 32.
@pytest.mark.parametrize(("text", "kelvin"), [
    ("15 degC", 288.15), ("59 F", 288.15), ("-40 C", 233.15), ("-40 °F", 233.15),
    ("288.15 K", 288.15), ("0 °C", 273.15), ("518.67 degR", 288.15),
])
def test_temperatures(text, kelvin):
    assert parse_quantity(text, "temperature") == pytest.approx(kelvin, abs=1e-10)


@pytest.mark.parametrize(("text", "kelvin"), [("1 K", 1.0), ("1 C", 1.0), ("9 F", 5.0)])
def test_a_difference_of_temperature_has_no_offset(text, kelvin):
    assert parse_quantity(text, "temperature_difference") == pytest.approx(kelvin, abs=1e-12)


@pytest.mark.parametrize(("word", "dimension", "name"), EVERY_SPELLING)
def test_each_spelling_is_what_pint_says(word, dimension, name):
    """Pint with plain floats, asked directly, gives the same factor."""
    expected = REGISTRY.Quantity(1.0, name).to(PINT_SI[dimension]).magnitude
    scale, offset = factor_to_si(word, dimension)
    assert scale + offset == pytest.approx(expected, rel=1e-13)


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_no_spelling_means_two_units(dimension):
    meanings: dict[str, set[str]] = {}
    for name, words in unit_rows(dimension):
        for word in words:
            meanings.setdefault(spelling_key(word), set()).add(name)
    assert {key: names for key, names in meanings.items() if len(names) > 1} == {}


@pytest.mark.parametrize(("unit", "dimension"), EVERY_UNIT)
def test_there_and_back(unit, dimension):
    values = np.array([[-3.5, 0.0], [1.0, math.nan]])
    back = from_si(to_si(values, unit, dimension), unit, dimension)
    np.testing.assert_allclose(back, values, rtol=1e-12, atol=1e-9)


@given(st.floats(-1e6, 1e6), st.sampled_from(EVERY_UNIT))
def test_there_and_back_for_any_value(value, unit_and_dimension):
    unit, dimension = unit_and_dimension
    back = from_si(to_si(value, unit, dimension), unit, dimension)
    assert float(back) == pytest.approx(value, rel=1e-9, abs=1e-6)


@given(st.decimals(-99999, 99999, places=3), st.sampled_from(EVERY_UNIT))
def test_text_and_array_agree(number, unit_and_dimension):
    unit, dimension = unit_and_dimension
    text = f"{number} {unit}" if dimension != "none" else str(number)
    assert parse_quantity(text, dimension) == pytest.approx(
        float(to_si(float(number), unit, dimension)), rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(("text", "dimension", "si"), [
    ("48kt", "speed", 48 * 1852 / 3600),
    ("48 KTS", "speed", 48 * 1852 / 3600),
    ("48 Knots", "speed", 48 * 1852 / 3600),
    ("150 FPM", "vertical_speed", 0.762),
    ("150 feet per minute", "vertical_speed", 0.762),
    ("10 nm", "length", 18520.0),
    ("10 NM", "length", 18520.0),
    ("2400 RPM", "angular_speed", 40.0),
    ("5 gph", "volume_flow", 5 * 3.785411784e-3 / 3600),
    ("5 U.S. gal./hr", "volume_flow", 5 * 3.785411784e-3 / 3600),
    ("18 l/h", "volume_flow", 0.005 / 1000),
    ("29.92 in. Hg", "pressure", 29.92 * 3386.388640341),
    ("29.92 in Hg", "pressure", 29.92 * 3386.388640341),
    ("1013 mb", "pressure", 101300.0),
    ("1013 mbar", "pressure", 101300.0),
    ("11 m²", "area", 11.0),
    ("120 sq ft", "area", 120 * 0.09290304),
    ("82°", "angle", math.radians(82)),
    ("82º", "angle", math.radians(82)),
    ("65%", "fraction", 0.65),
    ("0.65 fraction", "fraction", 0.65),
    ("585,5 kg", "mass", 585.5),
    ("0,720 kg/L", "density", 720.0),
    ("1013,250 hPa", "pressure", 101325.0),
    ("\u22125 °C", "temperature", 268.15),
    ("1.5e3 m", "length", 1500.0),
    (".5 h", "time", 1800.0),
    ("285 g/kWh", "specific_consumption", 285e-3 / 3.6e6),
    ("0.285 kg/(kW·h)", "specific_consumption", 285e-3 / 3.6e6),
    ("210 g/PSh", "specific_consumption", 0.210 / (735.49875 * 3600)),
    ("6 nmi/L", "specific_range", 6 * 1852e3),
    ("2.15", "none", 2.15),
    ("600\u00a0kg", "mass", 600.0),
])
def test_as_pilots_write_it(text, dimension, si):
    assert parse_quantity(text, dimension) == pytest.approx(si, rel=1e-12)


def test_the_dimension_decides_what_a_spelling_means():
    assert parse_quantity("10 nm", "length") == 18520.0          # nautical miles, not nanometres
    assert parse_quantity("1 lb", "force") == pytest.approx(4.4482216152605)
    assert parse_quantity("1 lb", "mass") == 0.45359237
    assert parse_quantity("1 g", "mass") == 0.001
    assert parse_quantity("1 g", "acceleration") == 9.80665


@pytest.mark.parametrize(("text", "dimension", "needed", "mend"), [
    ("5 gal", "volume", "a volume with its unit",
     "write 'US gal' (3.785 L) or 'imp gal' (4.546 L)"),
    ("5 gallons", "volume", "a volume", "write 'US gal'"),
    ("5 gal/h", "volume_flow", "a flow", "or 'imp gal'"),
    ("6 lb/gal", "density", "a density", "write 'US gal'"),
    ("9 nmi/gal", "specific_range", "a specific range", "write 'US gal'"),
    ("5 quart", "volume", "a volume", "write 'US qt'"),
    ("600", "mass", "a mass with its unit (kg, lb", 'write the unit too, such as "600 kg"'),
    ("0.65", "fraction", "a share", 'write it in per cent, such as "65 %"'),
    ("65", "fraction", "a share", 'such as "65 %"'),
    (600, "mass", "a mass", 'write the unit too, such as "600 kg", in quotes'),
    (0.65, "fraction", "a share", 'such as "65 %", in quotes'),
    (True, "mass", "a mass", "write one number and its unit in quotes"),
    (None, "mass", "a mass", "write one number and its unit in quotes"),
    (["600 kg"], "mass", "a mass", "write one number and its unit in quotes"),
    ("1,320 lb", "mass", "a mass",
     'write "1320 lb" or "1.320 lb": the comma can be read both ways'),
    ("1,320,000 lb", "mass", "a mass", 'write "1320000 lb", without separators of thousands'),
    ("1,320.5 lb", "mass", "a mass", 'write "1320.5 lb", without'),
    ("1.320,5 kg", "mass", "a mass", 'write "1320.5 kg", without'),
    ("1 320 lb", "mass", "a mass", 'write "1320 lb", without'),
    ("1'320 lb", "mass", "a mass", 'write "1320 lb", without'),
    ("nan kg", "mass", "a mass", "one finite number"),
    ("inf kg", "mass", "a mass", "one finite number"),
    ("1e400 kg", "mass", "a mass", "write a finite number"),
    ("kg", "mass", "a mass", "one finite number"),
    ("", "mass", "a mass", "one finite number"),
    ("1/2 kg", "mass", "a mass", "one finite number"),
    ("5..2 m", "length", "a length", "one finite number"),
    ("5 kg", "speed", "a speed", "that is a unit of mass: write one of kt"),
    ("48 KIAS", "speed", "a speed", "write kt; the name of the entry"),
    ("48 knotts", "speed", "a speed", "write 'knots', if that is meant"),
    ("48 xyzzy", "speed", "a speed", "write one of kt, km/h"),
    ("15 F", "pressure", "a pressure", "that is a unit of temperature"),
    ("2.15 kg", "none", "a plain number", "that is a unit of mass"),
    ("8 lb/h", "volume_flow", "fuel by volume", "give the airplane's fuel_density"),
    ("60 kg", "volume", "fuel by volume", "give the airplane's fuel_density"),
])
def test_refused_with_the_mend(text, dimension, needed, mend):
    with pytest.raises(UnitError) as caught:
        parse_quantity(text, dimension)
    error = caught.value
    assert error.needed.startswith(needed)
    assert mend in error.mend
    assert isinstance(error, InputError)
    assert str(error) == f"needed {error.needed}; found {error.found}. Mend: {error.mend}."


def test_fuel_by_mass_with_its_density():
    flow = parse_quantity("8 lb/h", "volume_flow", fuel_density_kg_m3=720.0)
    assert flow == pytest.approx(8 * 0.45359237 / 3600 / 720, rel=1e-12)
    assert parse_quantity("8 pph", "volume_flow", fuel_density_kg_m3=720.0) == pytest.approx(flow)
    volume = parse_quantity("72 kg", "volume", fuel_density_kg_m3=720.0)
    assert volume == pytest.approx(0.1, rel=1e-12)
    reach = parse_quantity("10 nmi/kg", "specific_range", fuel_density_kg_m3=720.0)
    assert reach == pytest.approx(10 * 1852 * 720, rel=1e-12)
    with pytest.raises(InputError, match="must be above 0 and finite; got 0"):
        factor_to_si("lb/h", "volume_flow", fuel_density_kg_m3=0.0)


def test_unknown_dimension():
    for ask in (lambda: factor_to_si("kt", "velocity"), lambda: known_units("velocity"),
                lambda: dimension_words("_energy")):
        with pytest.raises(InputError, match="dimension must be one of length, speed"):
            ask()


@given(st.text(max_size=30), st.sampled_from(DIMENSIONS))
def test_any_text_is_read_or_refused(text, dimension):
    """Nothing but a finite number or a UnitError comes out, whatever goes in."""
    try:
        value = parse_quantity(text, dimension)
    except UnitError:
        return
    assert math.isfinite(value)


@given(st.integers(0, 10**7), st.integers(0, 999))
def test_a_decimal_comma_is_never_taken_for_thousands(whole, tail):
    """Where a comma could be a separator of thousands it is refused; else it is a decimal point."""
    text = f"{whole},{tail:03d}"
    ambiguous = len(str(whole)) <= 3 and whole > 0
    if ambiguous:
        with pytest.raises(UnitError, match="both ways"):
            parse_number(text)
    else:
        assert parse_number(text) == float(f"{whole}.{tail:03d}")


@pytest.mark.parametrize(("text", "mend"), [
    ("585 kg", 'write "585": the unit stands in the header'), ("heavy", "one finite number"),
    ("1e999", "finite"),
])
def test_a_cell_holds_one_number(text, mend):
    with pytest.raises(UnitError) as caught:
        parse_number(text)
    assert mend in caught.value.mend


def test_factors_are_rounded_once():
    """Exact fractions underneath: a factor is the float nearest to its definition."""
    assert factor_to_si("kt", "speed")[0] == float(Fraction(1852, 3600))
    assert factor_to_si("ft/min", "vertical_speed")[0] == float(Fraction(3048, 600000))
    assert factor_to_si("gph", "volume_flow")[0] == float(Fraction("0.003785411784") / 3600)


def test_shown_is_short_and_on_one_line():
    assert shown("a\nb") == "'a\\nb'"
    assert len(shown("x" * 10_000)) < 70
    assert len(shown(list(range(10_000)))) < 70
    assert shown(int("f" * 6000, 16)) == "a number of 24000 bits"


def test_errors_pass_between_processes():
    error = UnitError("a mass", "'x'", "write it")
    again = pickle.loads(pickle.dumps(error))
    assert (again.needed, again.found, again.mend) == ("a mass", "'x'", "write it")


def test_names_of_quotients():
    assert pint_name("lb/usgal", "density") == "pound/US_liquid_gallon"
    assert pint_name("oz/usgal", "density") == "(ounce)/(US_liquid_gallon)"
    assert pint_name("ft/s/s", "acceleration") == "(foot)/(second)/(second)"
    assert pint_name("ft/s/s", "speed") is None
