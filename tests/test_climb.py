"""Climb corrections against published figures, the atmosphere's own slope, and bad input."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from stdday import airspeed, atmosphere, climb, level
from stdday.errors import InputError
from tests.performance_support import (
    FPM,
    FT,
    HP,
    KT,
    LB,
    LBF,
    SLUG_FT3,
    check_draws,
    compare,
    functions_of,
    published,
    steady,
)
from tests.published_values import identity

PUBLISHED = published("climb")


def tapeline(inputs):
    altitude = inputs["pressure_altitude_ft"] * FT
    standard = atmosphere.standard_temperature_k(altitude)
    assert standard == pytest.approx(inputs["isa_temp_K"], abs=1e-4)
    rate = climb.tapeline_rate_ms(
        inputs["dHp_dt_fpm"] * FPM, standard + inputs["oat_minus_isa_K"], altitude
    )
    return {"tapeline_rate_fpm": rate / FPM}


def equivalent(inputs):
    altitude = inputs["pressure_altitude_ft"] * FT
    sigma = atmosphere.standard_density_kg_m3(altitude) / atmosphere.SEA_LEVEL_DENSITY_KG_M3
    factor = climb.equivalent_acceleration_factor(inputs["eas_kt"] * KT, altitude)
    return {"acceleration_factor": factor, "tas_kt": inputs["eas_kt"] / np.sqrt(sigma)}


def from_slope(inputs):
    rate = 4.0
    growth = inputs["dTAS_dh_kt_per_1000ft"] * KT / (1000.0 * FT) * rate
    energy = climb.energy_rate_ms(rate, inputs["tas_kt"] * KT, growth)
    return {"V_over_g_dVdh": energy / rate - 1.0}


def wind_gradient(inputs):
    rate = 4.0
    growth = inputs["headwind_increase_kt_per_1000ft"] * KT / (1000.0 * FT) * rate
    return {"fraction_of_roc": climb.wind_gradient_rate_ms(inputs["tas_kt"] * KT, growth) / rate}


def excess_power(inputs):
    rate = climb.energy_rate_ms(
        inputs["dh_dt_fpm"] * FPM, inputs["tas_kt"] * KT, inputs["dV_dt_kt_per_s"] * KT
    )
    return {"Ps_fpm": rate / FPM}


def inertia(rate_fpm, inputs):
    weights = inputs["weight_test_lb"] * LBF, inputs["weight_std_lb"] * LBF
    return climb.weight_inertia_change_ms(rate_fpm * FPM, *weights) / FPM


def induced(inputs):
    weights = inputs["weight_test_lb"] * LBF, inputs["weight_std_lb"] * LBF
    conditions = (
        inputs["sigma"] * inputs["rho0_slugft3"] * SLUG_FT3,
        inputs["tas_kt"] * inputs["tas_to_ftps"] * FT,
        inputs["span_ft"] * FT,
        inputs["oswald_e"],
    )
    change = climb.induced_drag_change_ms(*weights, *conditions) / FPM
    # The item's note: 74.59 lbf of induced drag at 2200 lb.
    assert climb.induced_drag_n(weights[0], *conditions) / LBF == pytest.approx(74.59, abs=0.005)
    return {
        "delta_induced_fpm": change,
        "roc_std_fpm_from_800": 800.0 + inertia(800.0, inputs) + change,
    }


def power(inputs):
    change = climb.power_change_ms(inputs["delta_thrust_hp"] * HP, inputs["weight_lb"] * LBF)
    return {"delta_roc_fpm": change / FPM}


def index(inputs):
    conditions = inputs["sigma"], inputs["weight_test_lb"] * LB, inputs["weight_std_lb"] * LB
    rate = climb.climb_index_ms(inputs["roc_tapeline_fpm"] * FPM, *conditions)
    speed = level.airspeed_index_ms(inputs["tas_kt"] * KT, *conditions)
    return {"CIW_fpm": rate / FPM, "VIW_kt": speed / KT}


def density_altitude(inputs):
    altitude = inputs["pressure_altitude_ft"] * FT
    temperature = atmosphere.standard_temperature_k(altitude) + inputs["oat_minus_isa_K"]
    density = atmosphere.density_kg_m3(atmosphere.standard_pressure_pa(altitude), temperature)
    return {
        "sigma": density / atmosphere.SEA_LEVEL_DENSITY_KG_M3,
        "density_altitude_ft": atmosphere.density_altitude_m(density) / FT,
    }


def added_thrust(inputs):
    # Lift is W cos(gamma) in the printed answer. Thrust of before balances drag and climb.
    weight, true, density = inputs["weight_N"], inputs["tas_m_s"], inputs["rho_kg_m3"]
    area, span = inputs["wing_area_m2"], 20.0
    e = area / (np.pi * span**2 * inputs["k_induced"])
    parasite = 0.5 * density * true**2 * area * inputs["cd0"]

    def thrust(rate):
        lift = weight * np.sqrt(1.0 - (rate / true) ** 2)
        drag = parasite + climb.induced_drag_n(lift, density, true, span, e)
        return drag + weight * rate / true

    before = inputs["roc_before_m_min"] / 60.0
    after = brentq(
        lambda rate: thrust(rate) - thrust(before) - inputs["added_thrust_N"], 0.0, 100.0
    )
    # The item's note: with lift taken as weight the answer is exactly 1700.
    simple = before + climb.power_change_ms(inputs["added_thrust_N"] * true, weight)
    assert 60.0 * simple == pytest.approx(1700.0)
    return {"roc_after_m_min": 60.0 * after}


CASES = {
    "CLB-TAPE-01": tapeline,
    "CLB-KE-80-5000": equivalent,
    "CLB-KE-120-10000": equivalent,
    "CLB-KE-160-8000": equivalent,
    "CLB-ACC-01": from_slope,
    "CLB-WIND-01": wind_gradient,
    "CLB-PS-01": excess_power,
    "CLB-WT-01": lambda inputs: {"delta_inertia_fpm": inertia(inputs["roc_test_fpm"], inputs)},
    "CLB-WT-02": induced,
    "CLB-PWR-01": power,
    "CLB-CIW-01": index,
    "CLB-DA-01": density_altitude,
    "TXB-CLB-03": added_thrust,
}


@pytest.mark.parametrize("item", PUBLISHED, ids=identity)
def test_published_figures(item):
    compare(item, CASES[item["id"]](item["inputs"]))


def test_every_published_item_has_a_case():
    assert set(CASES) == {item["id"] for item in PUBLISHED}


def slope_of_true_airspeed(true_at, altitude, warmer):
    """(V/g) dV/dh by a central difference over 2 m of pressure altitude."""
    temperature = atmosphere.standard_temperature_k(altitude) + warmer
    geometric = 2.0 * temperature / atmosphere.standard_temperature_k(altitude)
    growth = (true_at(altitude + 1.0) - true_at(altitude - 1.0)) / geometric
    return true_at(altitude) * growth / atmosphere.GRAVITY_MS2


@steady
@given(
    speed=st.floats(20.0, 110.0), altitude=st.floats(-500.0, 8000.0), warmer=st.floats(-20.0, 35.0)
)
def test_acceleration_factors_against_the_atmosphere(speed, altitude, warmer):
    def temperature_at(height):
        return atmosphere.standard_temperature_k(height) + warmer

    def at_constant_calibrated(height):
        pressure = atmosphere.standard_pressure_pa(height)
        return airspeed.true_airspeed_ms(speed, pressure, temperature_at(height))

    def at_constant_equivalent(height):
        pressure = atmosphere.standard_pressure_pa(height)
        density = atmosphere.density_kg_m3(pressure, temperature_at(height))
        return speed * np.sqrt(atmosphere.SEA_LEVEL_DENSITY_KG_M3 / density)

    for function, true_at in (
        (climb.acceleration_factor, at_constant_calibrated),
        (climb.equivalent_acceleration_factor, at_constant_equivalent),
    ):
        wanted = 1.0 + slope_of_true_airspeed(true_at, altitude, warmer)
        assert function(speed, altitude, temperature_at(altitude)) == pytest.approx(
            wanted, abs=2e-8
        )


def test_constant_calibrated_is_below_constant_equivalent():
    # Series of the subsonic formula (own): the difference is 0.175 M^4 at low Mach number.
    speed, altitude = 60.0, 2000.0
    pressure = atmosphere.standard_pressure_pa(altitude)
    mach = airspeed.mach_from_impact(airspeed.impact_pressure_pa(speed), pressure)
    gap = climb.equivalent_acceleration_factor(speed, altitude) - climb.acceleration_factor(
        speed, altitude
    )
    assert gap == pytest.approx(0.175 * mach**4, rel=0.3)


def test_standard_day_is_the_default_temperature():
    altitude = np.array([0.0, 2000.0, 4000.0])
    standard = atmosphere.standard_temperature_k(altitude)
    for function in (climb.acceleration_factor, climb.equivalent_acceleration_factor):
        np.testing.assert_allclose(
            function(50.0, altitude), function(50.0, altitude, standard), rtol=1e-15
        )


def test_climb_at_constant_true_airspeed_in_a_headwind_that_rises():
    # The shear term takes out what the airspeed gained over the ground does not pay for: airspeed
    # rising with the headwind alone, at constant ground speed, is no energy of the airplane's.
    rate, true, growth = 3.0, 46.0, 0.03
    energy = climb.energy_rate_ms(rate, true, growth)
    assert energy - climb.wind_gradient_rate_ms(true, growth) == pytest.approx(rate)


@steady
@given(
    test=st.floats(3e3, 2e4), change=st.floats(0.8, 1.25), rate=st.floats(0.0, 10.0),
    true=st.floats(20.0, 80.0),
)  # fmt: skip
def test_weight_steps_conserve_excess_power(test, change, rate, true):
    # Force balance at one true airspeed: RC W = (thrust - parasite) V - Di(W) V, with the bracket
    # held fixed.
    wanted, conditions = test * change, (1.1, true, 9.0, 0.8)
    fixed = rate * test + climb.induced_drag_n(test, *conditions) * true
    reference = (fixed - climb.induced_drag_n(wanted, *conditions) * true) / wanted
    stepped = (
        rate
        + climb.weight_inertia_change_ms(rate, test, wanted)
        + climb.induced_drag_change_ms(test, wanted, *conditions)
    )
    assert stepped == pytest.approx(reference, abs=1e-9)


TYPICAL = {
    "acceleration_factor": (32.0, 1200.0, 280.0),
    "climb_index_ms": (4.0, 0.9, 560.0, 600.0),
    "energy_rate_ms": (4.0, 35.0, 0.02),
    "equivalent_acceleration_factor": (32.0, 1200.0, 280.0),
    "induced_drag_change_ms": (5500.0, 6000.0, 1.1, 32.0, 9.0, 0.8),
    "induced_drag_n": (5500.0, 1.1, 32.0, 9.0, 0.8),
    "power_change_ms": (4000.0, 5500.0),
    "tapeline_rate_ms": (4.0, 290.0, 1200.0),
    "weight_inertia_change_ms": (4.0, 5500.0, 6000.0),
    "wind_gradient_rate_ms": (35.0, 0.02),
}


@pytest.mark.parametrize(("name", "function"), functions_of(climb).items())
def test_draws_and_missing_values(name, function):
    check_draws(function, TYPICAL[name])


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: climb.tapeline_rate_ms([3.0, 600.0], 288.15, 0.0),
         "pressure_altitude_rate_ms [m/s] must be -100 to 100; got 600 at index 1 "
         "(is it in ft/min?)"),
        (lambda: climb.tapeline_rate_ms(3.0, 15.0, 0.0),
         "temperature_k [K] must be 200 to 340; got 15 (is it in degrees Celsius?)"),
        (lambda: climb.acceleration_factor(32.0, 12000.0),
         "pressure_altitude_m [m] must be -2000 to 11000; got 12000 "
         "(is it in feet? the lapse holds below the tropopause)"),
        (lambda: climb.equivalent_acceleration_factor(0.0, 1000.0),
         "equivalent_ms [m/s] must be 1 to 300; got 0 (an airspeed in flight in m/s is needed)"),
        (lambda: climb.energy_rate_ms(3.0, -5.0, 0.0),
         "true_ms [m/s] must be 0 to 300; got -5 (is it in km/h, or against the flight?)"),
        (lambda: climb.wind_gradient_rate_ms(35.0, 50.0),
         "headwind_rate_ms2 [m/s^2] must be -30 to 30; got 50 (is it in knots per second?)"),
        (lambda: climb.power_change_ms(5000.0, 60.0),
         "weight_n [N] must be 200 to 1e+06; got 60 "
         "(the airplane's weight as a force in N: 9.80665 times the kilograms)"),
        (lambda: climb.induced_drag_n(5500.0, 1.1, 32.0, 0.9, 0.8),
         "wing_span_m [m] must be 1 to 100; got 0.9 (wing span in metres)"),
    ],
)  # fmt: skip
def test_bad_input_is_named(call, said):
    with pytest.raises(InputError) as error:
        call()
    assert str(error.value) == said
