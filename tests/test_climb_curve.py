"""Gradient, best airspeeds, ceilings and time against published figures and bad input."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from stdday import climb, climb_curve
from stdday.errors import InputError
from tests.performance_support import (
    FPM,
    FT,
    KT,
    LBF,
    check_draws,
    compare,
    functions_of,
    published,
    steady,
)
from tests.published_values import identity

PUBLISHED = published("climb_curve")


def sawtooth(inputs):
    a2, a1, a0 = np.polyfit(inputs["eas_kt"], inputs["roc_fpm"], 2)
    speeds = climb_curve.climb_speeds_of_parabola(a0 * FPM, a1 * FPM / KT, a2 * FPM / KT**2)
    rate, angle = speeds.best_rate_ms / KT, speeds.best_angle_ms / KT
    return {
        "a2": a2, "a1": a1, "a0": a0, "Vy_kt": rate, "Vx_kt": angle,
        "roc_at_Vy_fpm": np.polyval([a2, a1, a0], rate),
        "roc_at_Vx_fpm": np.polyval([a2, a1, a0], angle),
    }  # fmt: skip


def ceilings(inputs):
    slope, intercept = np.polyfit(inputs["density_altitude_ft"], inputs["roc_fpm"], 1)
    law = intercept * FPM, slope * FPM / FT
    return {
        "slope_fpm_per_ft": slope,
        "intercept_fpm": intercept,
        "absolute_ceiling_ft": climb_curve.altitude_of_rate_m(*law, 0.0) / FT,
        "service_ceiling_100fpm_ft": climb_curve.altitude_of_rate_m(*law, 100.0 * FPM) / FT,
    }


def time_to_ceiling_law(rate, ceiling, altitude):
    return climb_curve.time_to_climb_s(rate, -rate / ceiling, 0.0, altitude) / 60.0


def time_imperial(inputs):
    minutes = time_to_ceiling_law(
        inputs["roc_sea_level_fpm"] * FPM,
        inputs["absolute_ceiling_ft"] * FT,
        inputs["altitude_ft"] * FT,
    )
    return {"time_min": minutes}


def time_metric(inputs):
    minutes = time_to_ceiling_law(
        inputs["roc_sl_m_min"] / 60.0, inputs["absolute_ceiling_m"], inputs["target_altitude_m"]
    )
    return {"time_min": minutes}


def time_of_fit(inputs):
    time = climb_curve.time_to_climb_s(
        inputs["roc_intercept_ft_s"] * FT, inputs["roc_slope_per_s"], 0.0,
        inputs["target_altitude_ft"] * FT,
    )  # fmt: skip
    return {"time_s": time, "time_min": time / 60.0}


def angle_deg(rate, true):
    return np.degrees(np.arctan(climb_curve.climb_gradient(rate, true)))


def rate_and_angle(inputs):
    excess = inputs["excess_power_hp"] * inputs["hp_in_W"]
    rate = climb.power_change_ms(excess, inputs["weight_lb"] * LBF)
    true = inputs["tas_kt"] * inputs["kt_in_m_s"]
    return {"roc_m_s": rate, "climb_angle_deg": angle_deg(rate, true)}


def jet_climb(inputs):
    weight, true = inputs["mass_kg"] * inputs["g_m_s2"], 120.0
    path = inputs["pitch_deg"] - inputs["angle_of_attack_deg"]
    rate = true * np.sin(np.radians(path))
    # The rate that a newton of excess thrust gives, so the thrust that this rate needs.
    excess = rate / climb.power_change_ms(true, weight)
    return {
        "flight_path_deg": angle_deg(rate, true),
        "thrust_kN": (inputs["drag_N"] + excess) / 1000.0,
    }


def height_gained(inputs):
    gradient = inputs["gradient_percent"] / 100.0
    rate = 30.0 * np.sin(np.arctan(gradient))
    height = climb_curve.climb_gradient(rate, 30.0) * inputs["horizontal_distance_ft"]
    return {"height_gain_ft": height}


CASES = {
    "CLB-SAW-01": sawtooth,
    "CLB-CEIL-01": ceilings,
    "CLB-TIME-01": time_imperial,
    "TXB-CLB-01": time_metric,
    "TXB-CLB-02": time_of_fit,
    "TXB-CLB-04": rate_and_angle,
    "TXB-CLB-06": jet_climb,
    "TXB-CLB-07": height_gained,
}


@pytest.mark.parametrize("item", PUBLISHED, ids=identity)
def test_published_figures(item):
    compare(item, CASES[item["id"]](item["inputs"]))


def test_every_published_item_has_a_case():
    assert set(CASES) == {item["id"] for item in PUBLISHED}


def test_best_speeds_against_a_search():
    a0, a1, a2 = -6.8, 0.53, -0.0064
    speeds = climb_curve.climb_speeds_of_parabola(a0, a1, a2)
    rate = minimize_scalar(lambda v: -(a0 + a1 * v + a2 * v * v), bounds=(20, 70), method="bounded")
    angle = minimize_scalar(lambda v: -(a0 / v + a1 + a2 * v), bounds=(20, 70), method="bounded")
    assert speeds.best_rate_ms == pytest.approx(rate.x, abs=1e-4)
    assert speeds.best_angle_ms == pytest.approx(angle.x, abs=1e-4)


def test_curves_without_a_best_speed_are_missing():
    speeds = climb_curve.climb_speeds_of_parabola([-7.0, -7.0, 7.0], 0.5, [0.0, 0.006, -0.006])
    np.testing.assert_array_equal(np.isnan(speeds.best_rate_ms), [True, True, False])
    np.testing.assert_array_equal(np.isnan(speeds.best_angle_ms), [True, True, True])


@steady
@given(
    rate=st.floats(1.0, 10.0), slope=st.floats(-8e-4, 2e-4), low=st.floats(0.0, 400.0),
    climbed=st.floats(0.0, 800.0),
)  # fmt: skip
def test_time_against_integration(rate, slope, low, climbed):
    high = low + climbed
    time, _ = quad(lambda h: 1.0 / (rate + slope * h), low, high, epsrel=1e-11)
    found = climb_curve.time_to_climb_s(rate, slope, low, high)
    assert found == pytest.approx(time, rel=1e-9, abs=1e-9)


def test_climb_that_stops_is_missing():
    # Absolute ceiling of 4 m/s - 0.001/s h: 4000 m.
    assert climb_curve.altitude_of_rate_m(4.0, -1e-3, 0.0) == pytest.approx(4000.0)
    times = climb_curve.time_to_climb_s(4.0, -1e-3, 0.0, [3999.0, 4000.0, 4001.0])
    np.testing.assert_array_equal(np.isnan(times), [False, True, True])


TYPICAL = {
    "altitude_of_rate_m": (4.8, -1e-3, 0.5),
    "climb_gradient": (4.0, 32.0),
    "climb_speeds_of_parabola": (-7.0, 0.53, -0.0064),
    "time_to_climb_s": (4.8, -1e-3, 300.0, 2500.0),
}


@pytest.mark.parametrize("name", sorted(set(functions_of(climb_curve))))
def test_draws_and_missing_values(name):
    if name != "climb_speeds_of_parabola":
        check_draws(getattr(climb_curve, name), TYPICAL[name])


def test_draws_of_the_parabola():
    # Each airspeed depends on two of the three coefficients and has their shape.
    constant = -7.0 * np.linspace(0.99, 1.01, 2000)[:, None]
    quadratic = -0.0064 * np.linspace(0.99, 1.01, 40)
    constant[7] = np.nan
    angle = climb_curve.climb_speeds_of_parabola(constant, 0.53, quadratic).best_angle_ms
    assert angle.shape == (2000, 40)
    assert np.isnan(angle[7]).all()
    alone = climb_curve.climb_speeds_of_parabola(constant[17, 0], 0.53, quadratic[5])
    assert angle[17, 5] == pytest.approx(alone.best_angle_ms, rel=1e-13)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: climb_curve.climb_gradient(600.0, 32.0),
         "rate_ms [m/s] must be -100 to 100; got 600 (is it in ft/min?)"),
        (lambda: climb_curve.climb_gradient([3.0, 40.0], 32.0),
         "rate_ms over true_ms [-] must be -0.9 to 0.9; got 1.25 at index 1 "
         "(is one of them in another unit?)"),
        (lambda: climb_curve.climb_speeds_of_parabola(-1343.0, 54.0, -0.3),
         "constant [m/s] must be -1000 to 1000; got -1343 (is the rate in ft/min?)"),
        (lambda: climb_curve.altitude_of_rate_m(4.8, 1e-3, 0.5),
         "rate_slope_per_s [1/s] must be -0.1 to -1e-06; got 0.001 "
         "(the rate must fall with altitude: change in m/s for each metre)"),
        (lambda: climb_curve.time_to_climb_s(4.8, -1e-3, 0.0, 30000.0),
         "to_m [m] must be -2000 to 20000; got 30000 (is it in feet?)"),
        (lambda: climb_curve.time_to_climb_s(4.8, -1e-3, 1000.0, 0.0),
         "to_m - from_m [m] must be 0 to 22000; got -1000 (a climb goes up)"),
    ],
)  # fmt: skip
def test_bad_input_is_named(call, said):
    with pytest.raises(InputError) as error:
        call()
    assert str(error.value) == said
