"""Engine power against published lapse and fuel figures, themselves, and bad input."""

from __future__ import annotations

import numpy as np
import pytest

from stdday import atmosphere, engine
from stdday.errors import InputError
from tests.performance_support import (
    FT,
    HP,
    LB,
    check_draws,
    compare,
    functions_of,
    published,
)
from tests.published_values import identity

PUBLISHED = published("engine")
GALLON = 231.0 * (FT / 12.0) ** 3  # exact, US gallon
POUND_HP_HOUR = LB / (HP * 3600.0)


def standard_ratio(altitude_ft, warmer_k=0.0):
    altitude = np.asarray(altitude_ft) * FT
    return engine.full_throttle_ratio(
        atmosphere.standard_pressure_pa(altitude),
        atmosphere.standard_temperature_k(altitude) + warmer_k,
    )


def fuel_flow(inputs):
    density = inputs["fuel_lb_per_gal"] * LB / GALLON
    consumption = inputs["sfc_lb_per_hp_h"] * POUND_HP_HOUR
    gallon_an_hour = engine.power_from_fuel_flow_w(GALLON / 3600.0, density, consumption)
    gallons = inputs["fraction"] * inputs["rated_hp"] * HP / gallon_an_hour
    return {"fuel_gal_per_h": gallons, "fuel_lb_per_h": gallons * inputs["fuel_lb_per_gal"]}


def warm_power(inputs):
    altitude, warmer = inputs["pressure_altitude_ft"], inputs["oat_minus_isa_K"]
    factor = standard_ratio(altitude, warmer) / standard_ratio(altitude)
    return {"actual_power_hp": inputs["chart_power_hp"] * factor}


CASES = {
    "PWR-SFC-01": fuel_flow,
    "PWR-GAGG-01": lambda inputs: {"power_ratio": standard_ratio(inputs["altitude_ft"])},
    "PWR-TEMP-01": warm_power,
}


@pytest.mark.parametrize("item", PUBLISHED, ids=identity)
def test_published_figures(item):
    compare(item, CASES[item["id"]](item["inputs"]))


def test_every_published_item_has_a_case():
    assert set(CASES) == {item["id"] for item in PUBLISHED}


def test_standard_day_at_sea_level_is_one():
    # Definition of the ratio.
    assert engine.full_throttle_ratio(101325.0, 288.15) == pytest.approx(1.0, abs=1e-12)


def test_lapse_agrees_with_its_other_printed_form():
    # Gagg and Ferrar as 1.132 s - 0.132 (from memory): two printed roundings of one law.
    altitude = np.linspace(-500.0, 9000.0, 50)
    sigma = atmosphere.standard_density_kg_m3(altitude) / atmosphere.SEA_LEVEL_DENSITY_KG_M3
    ratio = standard_ratio(altitude / FT)
    np.testing.assert_allclose(ratio, 1.132 * sigma - 0.132, atol=3e-4)


def test_humidity_against_the_engine_test_code():
    # SAE J1349 (from memory): brake power is to be multiplied by 1.18 (pd0/pd) - 0.18 for dry air
    # pressure pd. It keeps friction apart, so its loss is 1.18 times that of all power.
    vapour = np.array([500.0, 1500.0, 3400.0])
    loss = 1.0 - engine.full_throttle_ratio(101325.0, 288.15, vapour)
    code = 1.0 - 1.0 / (1.18 * 101325.0 / (101325.0 - vapour) - 0.18)
    np.testing.assert_allclose(1.18 * loss, code, rtol=0.01)


TYPICAL = {
    "full_throttle_ratio": (9.0e4, 290.0, 900.0),
    "power_from_fuel_flow_w": (5.5e-6, 720.0, 7.9e-8),
    "induction_ratio": (9.0e4, 290.0, 900.0, "turbocharged", 3000.0),
}


@pytest.mark.parametrize(("name", "function"), functions_of(engine).items())
def test_draws_and_missing_values(name, function):
    check_draws(function, TYPICAL[name])


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: engine.full_throttle_ratio([101325.0, 1013.25], 288.15),
         "pressure_pa [Pa] must be 30000 to 110000; got 1013.25 at index 1 "
         "(pressure in Pa: 1013.25 hPa is 101325)"),
        (lambda: engine.full_throttle_ratio(101325.0, 15.0),
         "temperature_k [K] must be 200 to 340; got 15 (is it in degrees Celsius?)"),
        (lambda: engine.full_throttle_ratio(101325.0, 288.15, -1.0),
         "vapour_pressure_pa [Pa] must be 0 to 12000; got -1 (is it in Pa?)"),
        (lambda: engine.power_from_fuel_flow_w(20.0, 720.0, 7.6e-8),
         "fuel_flow_m3s [m^3/s] must be 0 to 0.001; got 20 (m^3/s: 20 L/h is 5.6e-6)"),
        (lambda: engine.power_from_fuel_flow_w(5.6e-6, 0.72, 7.6e-8),
         "fuel_density_kg_m3 [kg/m^3] must be 600 to 900; got 0.72 (kg/m^3: 0.72 kg/L is 720)"),
        (lambda: engine.power_from_fuel_flow_w(5.6e-6, 720.0, 0.45),
         "specific_consumption_kg_j [kg/J] must be 3e-08 to 3e-07; got 0.45 "
         "(kg/J: 0.45 lb/(hp h) is 7.6e-8)"),
    ],
)  # fmt: skip
def test_bad_input_is_named(call, said):
    with pytest.raises(InputError) as error:
        call()
    assert str(error.value) == said
