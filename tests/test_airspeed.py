"""Airspeed, static error and temperature against printed figures, themselves, and bad input."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from stdday import airspeed, atmosphere
from stdday.errors import InputError
from tests.published_values import differences, identity, items

FOOT = 0.3048  # exact, international foot
KNOT = 1852.0 / 3600.0  # exact, international knot
MPH = 0.44704  # exact, statute mile per hour
POUND_FOOT2 = 4.4482216152605 / FOOT**2  # exact

TOPICS = {"airspeed", "airspeed_conversion", "position_error", "oat_recovery"}
PUBLISHED = [item for item in items("atmosphere_airspeed") if item["topic"] in TOPICS]
A0 = atmosphere.SEA_LEVEL_SPEED_OF_SOUND_MS
P0 = atmosphere.SEA_LEVEL_PRESSURE_PA

steady = settings(derandomize=True, deadline=None)


def isentropic(inputs):
    ratio = airspeed.impact_pressure_pa(inputs["mach"] * A0) / P0
    static = atmosphere.SEA_LEVEL_TEMPERATURE_K
    rise = 300.0 - airspeed.static_temperature_k(300.0, inputs["mach"] * A0, 1.0)
    return {"p_over_pt": 1.0 / (1.0 + ratio), "T_over_Tt": static / (static + rise)}


def low_speed(inputs):
    # The printed figures are incompressible; the published series qc = 1/2 rho V^2 (1 + M^2/4 +
    # M^4/40) turns a compressible airspeed into the one that Bernoulli's equation gives.
    pressure = inputs["static_pressure_psf"] * POUND_FOOT2
    kelvin = inputs["temperature_R"] / 1.8
    impact = inputs["pitot_pressure_psf"] * POUND_FOOT2 - pressure
    mach = airspeed.mach_from_impact(impact, pressure)
    true = mach * atmosphere.speed_of_sound_ms(kelvin)
    calibrated = airspeed.calibrated_airspeed_ms(true, pressure, kelvin)
    equivalent = airspeed.equivalent_airspeed_ms(calibrated, pressure)
    series = (1.0 + mach**2 / 4.0 + mach**4 / 40.0) ** 0.5
    return {
        "tas_ft_s": true * series / FOOT,
        "eas_ft_s": equivalent * series / FOOT,
        "tas_mph": true * series / MPH,
        "eas_mph": equivalent * series / MPH,
    }


def high_speed(inputs):
    pressure = inputs["static_pressure_Pa"]
    mach = airspeed.mach_from_impact(inputs["pitot_pressure_Pa"] - pressure, pressure)
    true = mach * atmosphere.speed_of_sound_ms(inputs["temperature_K"])
    calibrated = airspeed.calibrated_airspeed_ms(true, pressure, inputs["temperature_K"])
    return {"mach": mach, "tas_m_s": true, "cas_m_s": calibrated}


def from_calibrated(inputs):
    calibrated = inputs["cas_kt"] * KNOT
    pressure = atmosphere.standard_pressure_pa(inputs["pressure_altitude_ft"] * FOOT)
    true = airspeed.true_airspeed_ms(calibrated, pressure, inputs["oat_C"] + 273.15)
    equivalent = airspeed.equivalent_airspeed_ms(calibrated, pressure)
    return {"tas_kt": true / KNOT, "eas_kt": equivalent / KNOT}


def equivalent_at_delta(inputs):
    pressure = inputs["delta"] * P0
    equivalent = airspeed.equivalent_airspeed_ms(inputs["cas_kt"] * KNOT, pressure)
    return {"eas_kt": equivalent / KNOT}


def height_per_knot(inputs):
    altitude = inputs["pressure_altitude_ft"] * FOOT
    height = airspeed.static_error_in_height_m(KNOT, inputs["vi_kt"] * KNOT, altitude)
    return {"dH_dV_ft_per_kt": height / FOOT}


def relation_constant(_inputs):
    ratio = 0.2
    height = airspeed.static_error_in_height_m(KNOT, ratio * A0, 0.0) / FOOT
    return {"constant_ft_per_kt": height / ratio / (1.0 + 0.2 * ratio**2) ** 2.5}


def permitted_static_error(inputs):
    error = airspeed.static_error_in_airspeed_ms(
        inputs["altitude_error_ft"] * FOOT, inputs["ias_kt"] * KNOT, 0.0
    )
    return {"airspeed_error_kt": error / KNOT}


def ram_rise(inputs):
    static = airspeed.static_temperature_k(
        300.0, inputs["tas_kt"] * KNOT, inputs["recovery_factor"]
    )
    return {"ram_rise_C": 300.0 - static}


def ram_constant(_inputs):
    rise = 300.0 - airspeed.static_temperature_k(300.0, 100.0 * KNOT, 1.0)
    return {"kt2_per_C": 100.0**2 / rise}


HANDLERS = {
    "isentropic p/pt and T/Tt": isentropic,
    "TAS and EAS, low speed": low_speed,
    "Mach, TAS, CAS from pitot and static pressure": high_speed,
    "CAS to EAS, TAS, Mach, impact pressure": from_calibrated,
    "TAS from CAS, pressure altitude and OAT": from_calibrated,
    "EAS from CAS with compressibility": equivalent_at_delta,
    "altimeter position correction per knot of airspeed position correction"
    " (static source only)": height_per_knot,
    "constant a0*1kt/g0 in ft per kt": relation_constant,
    "permitted static error 30 ft per 100 kt expressed as airspeed at sea level": (
        permitted_static_error
    ),
    "ram rise with partial recovery": ram_rise,
    "ram-rise constant, TAS in kt squared per degC": ram_constant,
}


@pytest.mark.parametrize("item", PUBLISHED, ids=identity)
def test_published(item):
    assert not differences(item, HANDLERS[item["quantity"]](item["inputs"]))


speeds = st.floats(0.0, 120.0)
heights = st.floats(-600.0, 6000.0)
temperatures = st.floats(230.0, 320.0)


@steady
@given(speeds, heights, temperatures)
def test_true_and_calibrated_invert_each_other(calibrated, altitude, temperature):
    pressure = atmosphere.standard_pressure_pa(altitude)
    true = airspeed.true_airspeed_ms(calibrated, pressure, temperature)
    back = airspeed.calibrated_airspeed_ms(true, pressure, temperature)
    assert back == pytest.approx(calibrated, rel=1e-12, abs=1e-12)


@steady
@given(speeds)
def test_mach_inverts_impact_pressure_at_sea_level(calibrated):
    mach = airspeed.mach_from_impact(airspeed.impact_pressure_pa(calibrated), P0)
    assert mach * A0 == pytest.approx(calibrated, rel=1e-12, abs=1e-12)


@steady
@given(speeds, heights, temperatures)
def test_equivalent_is_true_times_root_of_density_ratio(calibrated, altitude, temperature):
    pressure = atmosphere.standard_pressure_pa(altitude)
    true = airspeed.true_airspeed_ms(calibrated, pressure, temperature)
    density = atmosphere.density_kg_m3(pressure, temperature)
    sea_level = atmosphere.standard_density_kg_m3(0.0)
    equivalent = airspeed.equivalent_airspeed_ms(calibrated, pressure)
    assert equivalent == pytest.approx(true * (density / sea_level) ** 0.5, rel=1e-12, abs=1e-12)


@steady
@given(st.floats(0.0, 100.0), heights, temperatures)
def test_impact_pressure_follows_the_published_series(true, altitude, temperature):
    # qc = 1/2 rho V^2 (1 + M^2/4 + M^4/40 + M^6/1600...): the next term is below 1e-6 at M 0.33.
    pressure = atmosphere.standard_pressure_pa(altitude)
    mach = true / atmosphere.speed_of_sound_ms(temperature)
    dynamic = 0.5 * atmosphere.density_kg_m3(pressure, temperature) * true**2
    calibrated = airspeed.calibrated_airspeed_ms(true, pressure, temperature)
    series = dynamic * (1.0 + mach**2 / 4.0 + mach**4 / 40.0)
    assert airspeed.impact_pressure_pa(calibrated) == pytest.approx(series, rel=2e-6, abs=1e-9)


def test_all_airspeeds_agree_on_the_standard_day_at_sea_level():
    calibrated = np.array([20.0, 60.0, 150.0])
    true = airspeed.true_airspeed_ms(calibrated, P0, 288.15)
    np.testing.assert_allclose(true, calibrated, rtol=1e-12)
    np.testing.assert_allclose(airspeed.equivalent_airspeed_ms(calibrated, P0), true, rtol=1e-12)


@pytest.mark.parametrize(("knots", "feet", "apart"), [(170, 10_000, 0.6), (120, 5000, 0.1)])
def test_equivalent_is_not_calibrated(knots, feet, apart):
    # Differences given with the published method, to 0.1 kt.
    pressure = atmosphere.standard_pressure_pa(feet * FOOT)
    got = knots - airspeed.equivalent_airspeed_ms(knots * KNOT, pressure) / KNOT
    assert got == pytest.approx(apart, abs=0.05)


def test_temperature_enters_by_its_root_alone():
    # TAS = M a: 3 % in absolute temperature is 1.5 % in true airspeed (common practice).
    cold, hot = airspeed.true_airspeed_ms(60.0, 85_000.0, np.array([280.0, 288.4]))
    assert hot / cold == pytest.approx(1.03**0.5, rel=1e-12)


@steady
@given(st.floats(-100.0, 100.0), st.floats(20.0, 120.0), heights)
def test_static_error_in_height_and_airspeed_invert_each_other(error, calibrated, altitude):
    in_airspeed = airspeed.static_error_in_airspeed_ms(error, calibrated, altitude)
    assume(abs(in_airspeed) <= 50.0)
    back = airspeed.static_error_in_height_m(in_airspeed, calibrated, altitude)
    assert back == pytest.approx(error, rel=1e-12, abs=1e-12)
    assert np.sign(in_airspeed) == np.sign(error)


@steady
@given(st.floats(20.0, 120.0), heights)
def test_the_linear_relation_is_the_slope_of_the_exact_one(indicated, altitude):
    step = 0.01
    up, down = airspeed.calibrated_from_static_error_ms(indicated, [-step, step], altitude)
    slope = airspeed.static_error_in_airspeed_ms(1.0, indicated, altitude)
    assert (up - down) / (2.0 * step) == pytest.approx(slope, rel=1e-6)


@steady
@given(st.floats(25.0, 120.0), st.floats(-15.0, 15.0), heights)
def test_static_error_taken_out_exactly(calibrated, error, altitude):
    # Forward from pressures: the pitot pressure is right, the static pressure is that of H + error.
    true_pressure = atmosphere.standard_pressure_pa(altitude)
    sensed = atmosphere.standard_pressure_pa(altitude + error)
    impact = airspeed.impact_pressure_pa(calibrated) + true_pressure - sensed
    indicated = A0 * airspeed.mach_from_impact(impact, P0)
    got = airspeed.calibrated_from_static_error_ms(indicated, error, altitude)
    assert got == pytest.approx(calibrated, rel=1e-9)


@pytest.mark.parametrize(
    ("knots", "feet", "missing"), [(100.0, 30.0, 0.06), (48.0, 20.0, 0.24), (48.0, 47.0, 1.7)]
)
def test_what_the_linear_relation_leaves_out(knots, feet, missing):
    # Low-speed limit, V^2 law at sea level: (V - dV)^2 = V^2 - 2 g dH, worked out by hand.
    bernoulli = knots - (knots**2 - 2.0 * 9.80665 * feet * FOOT / KNOT**2) ** 0.5
    linear = airspeed.static_error_in_airspeed_ms(feet * FOOT, knots * KNOT, 0.0) / KNOT
    calibrated = airspeed.calibrated_from_static_error_ms(knots * KNOT, feet * FOOT, 0.0)
    exact = knots - calibrated / KNOT
    assert exact == pytest.approx(bernoulli, rel=0.015)
    assert exact - linear == pytest.approx(missing, rel=0.1)


@steady
@given(temperatures, st.floats(0.0, 150.0), st.floats(0.0, 1.0))
def test_static_temperature_is_the_mach_form(static, true, recovery):
    # T_ind = T_s (1 + 0.2 K M^2), the published form, put in and taken out again.
    mach = true / atmosphere.speed_of_sound_ms(static)
    indicated = static * (1.0 + 0.2 * recovery * mach**2)
    assert airspeed.static_temperature_k(indicated, true, recovery) == pytest.approx(
        static, rel=1e-12
    )


def test_rule_of_tas_over_100_squared_is_a_recovery_of_0_76():
    # Rule of thumb: ram rise (TAS/100 kt)^2 degC equals a recovery factor of 0.76 (two digits).
    rise = 300.0 - airspeed.static_temperature_k(300.0, 150.0 * KNOT, 0.76)
    assert rise == pytest.approx(1.5**2, rel=0.005)


CALLS = [
    (airspeed.impact_pressure_pa, (60.0,)),
    (airspeed.mach_from_impact, (2000.0, 90_000.0)),
    (airspeed.true_airspeed_ms, (60.0, 90_000.0, 280.0)),
    (airspeed.calibrated_airspeed_ms, (60.0, 90_000.0, 280.0)),
    (airspeed.equivalent_airspeed_ms, (60.0, 90_000.0)),
    (airspeed.static_error_in_airspeed_ms, (3.0, 60.0, 1000.0)),
    (airspeed.static_error_in_height_m, (1.0, 60.0, 1000.0)),
    (airspeed.calibrated_from_static_error_ms, (60.0, 3.0, 1000.0)),
    (airspeed.static_temperature_k, (285.0, 60.0, 0.7)),
]


@pytest.mark.parametrize(("function", "arguments"), CALLS)
def test_a_draws_axis_broadcasts_and_nan_passes(function, arguments):
    one = function(*arguments)
    assert type(one) is float
    spread = np.linspace(0.98, 1.02, 5)[:, np.newaxis] * np.array([1.0, 0.99, np.nan])
    draws = function(arguments[0] * spread, *arguments[1:])
    assert draws.shape == (5, 3)
    assert np.isnan(draws[:, 2]).all()
    assert draws[2, 0] == pytest.approx(one, rel=1e-14)
    each = function(arguments[0] * float(spread[4, 1]), *arguments[1:])
    assert draws[4, 1] == pytest.approx(each, rel=1e-14)
    for place in range(1, len(arguments)):
        held = list(arguments)
        held[place] = np.array([held[place], np.nan])
        np.testing.assert_allclose(function(*held), [one, np.nan], rtol=1e-14)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (
            lambda: airspeed.impact_pressure_pa([-0.5, 20.0]),
            "calibrated_ms [m/s] must be 0 to 340.294; got -0.5 at index 0",
        ),
        (
            lambda: airspeed.impact_pressure_pa(400.0),
            "calibrated_ms [m/s] must be 0 to 340.294; got 400 (is it in km/h or kt?)",
        ),
        (
            lambda: airspeed.true_airspeed_ms(60.0, 29.92, 288.15),
            "pressure_pa [Pa] must be 5474.88 to 127774; got 29.92 (is it in hPa or inHg?)",
        ),
        (
            lambda: airspeed.true_airspeed_ms([60.0, 60.0], 90_000.0, [288.0, 15.2]),
            "temperature_k [K] must be 200 to 340; got 15.2 at index 1 (is it in degrees Celsius?)",
        ),
        (
            lambda: airspeed.true_airspeed_ms(250.0, 20_000.0, 220.0),
            "Mach number [-] must be 0 to 1; got 1.40093",
        ),
        (
            lambda: airspeed.calibrated_airspeed_ms(400.0, 90_000.0, 288.15),
            "Mach number [-] must be 0 to 1; got 1.17545 (is it in km/h or kt?)",
        ),
        (
            lambda: airspeed.mach_from_impact(-1.0, 90_000.0),
            "impact_pa [Pa] must be finite and at least 0; got -1",
        ),
        (
            lambda: airspeed.static_error_in_airspeed_ms(3.0, 5.0, 0.0),
            "calibrated_ms [m/s] must be 10 to 340.294; got 5",
        ),
        (
            lambda: airspeed.static_error_in_airspeed_ms(1000.0, 50.0, 0.0),
            "height_error_m [m] must be -300 to 300; got 1000 (is it in feet?)",
        ),
        (
            lambda: airspeed.static_error_in_height_m(60.0, 50.0, 0.0),
            "airspeed_error_ms [m/s] must be -50 to 50; got 60 (is it in km/h or kt?)",
        ),
        (
            lambda: airspeed.calibrated_from_static_error_ms([30.0, 12.0], 14.0, 0.0),
            "impact pressure [Pa] left after the static error must be finite and at least 0;"
            " got -79.8436 at index 1 (the airspeed is too low for so large a static error)",
        ),
        (
            lambda: airspeed.static_temperature_k(15.0, 60.0, 0.7),
            "indicated_k [K] must be 200 to 340; got 15 (is it in degrees Celsius?)",
        ),
        (
            lambda: airspeed.static_temperature_k(288.0, 60.0, 70.0),
            "recovery_factor [-] must be 0 to 1; got 70 (is it in percent?)",
        ),
    ],
)
def test_out_of_range_is_refused_in_words(call, text):
    with pytest.raises(InputError) as caught:
        call()
    assert str(caught.value) == text


def test_temperature_at_a_calibrated_airspeed_agrees_with_that_at_a_true_one():
    """Two ways to the same: by Mach number, and by true airspeed in the air so found."""
    calibrated, pressure, shown = 90.0, 70000.0, 275.0
    static = airspeed.static_temperature_at_k(shown, calibrated, pressure, 0.8)
    true = airspeed.true_airspeed_ms(calibrated, pressure, static)
    assert static == pytest.approx(airspeed.static_temperature_k(shown, true, 0.8), abs=1e-3)
    assert shown - static > 3.0
    assert airspeed.static_temperature_at_k(shown, calibrated, pressure, 0.0) == shown
    with pytest.raises(InputError, match="percent"):
        airspeed.static_temperature_at_k(shown, calibrated, pressure, 75.0)
