"""Landing corrections against published figures, mechanics, and bad input."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stdday import landing
from stdday.errors import InputError
from tests.performance_support import (
    FT,
    KT,
    check_draws,
    compare,
    functions_of,
    published,
    steady,
)
from tests.published_values import identity

PUBLISHED = published("landing")
GRAVITY = 9.80665


def scaled(inputs):
    ratio = landing.ground_roll_ratio(inputs["weight_ratio"], inputs["sigma_ratio"], 2.0)
    return {"ground_roll_factor": ratio}


def higher(inputs):
    test_over_reference = inputs["sigma_1000ft_isa"] / inputs["sigma_std"]
    return {"ground_roll_factor": landing.ground_roll_ratio(1.0, test_over_reference, 1.0)}


def no_wind(inputs):
    roll = landing.no_wind_ground_roll_m(
        inputs["ground_roll_measured_ft"] * FT,
        inputs["headwind_kt"] * KT,
        inputs["touchdown_groundspeed_kt"] * KT,
    )
    return {"ground_roll_nowind_ft": roll / FT}


def braked(inputs):
    pressure = 0.5 * inputs["rho_slug_ft3"] * inputs["speed_0p7vtd_fps"] ** 2
    share = inputs["cl_roll"] * pressure / inputs["wing_loading_lb_ft2"]
    rate = landing.braked_deceleration_ms2(inputs["brake_mu"], inputs["cd_over_cl"], share)
    return {"dynamic_pressure_psf": pressure, "deceleration_ft_s2": -rate / FT}


def stopped(inputs):
    before = inputs["mean_speed_50ft_to_brake_fps"] * inputs["time_to_brake_s"]
    stop = landing.stopping_distance_m(
        inputs["touchdown_speed_fps"] * FT, inputs["deceleration_ft_s2"] * FT
    )
    return {
        "distance_before_brakes_ft": before,
        "braking_distance_ft": stop / FT,
        "landing_distance_ft": before + stop / FT,
    }


def noted(inputs):
    factor = landing.handbook_headwind_factor(
        inputs["headwind_kt"] * KT, inputs["reduction_per_4kt"], 4 * KT
    )
    return {"landing_distance_ft": factor * inputs["table_distance_ft"]}


def interpolated(inputs):
    heights = [0.0, 2500.0]
    rolls = [inputs["ground_roll_sl_ft"], inputs["ground_roll_2500ft_ft"]]
    middle = float(np.interp(inputs["pressure_altitude_ft"], heights, rolls))
    factor = landing.handbook_headwind_factor(
        inputs["headwind_kt"] * KT, inputs["reduction_per_4kt"], 4 * KT
    )
    return {"ground_roll_interpolated_ft": middle, "ground_roll_ft": factor * middle}


CASES = {
    "LDG-01": scaled,
    "LDG-02": higher,
    "LDG-03": no_wind,
    "TXB-LDG-01": braked,
    "TXB-LDG-02": stopped,
    "TXB-LDG-03": noted,
    "TXB-LDG-04": noted,
    "TXB-LDG-05": interpolated,
}


@pytest.mark.parametrize("item", PUBLISHED, ids=identity)
def test_published_figures(item):
    compare(item, CASES[item["id"]](item["inputs"]))


def test_every_published_item_has_a_case():
    assert set(CASES) == {item["id"] for item in PUBLISHED}


@steady
@given(
    speed=st.floats(18.0, 35.0), rate=st.floats(1.2, 4.0), headwind=st.floats(-3.0, 8.0),
    slope=st.floats(-0.02, 0.02),
)  # fmt: skip
def test_constant_deceleration_is_taken_back_exactly(speed, rate, headwind, slope):
    # V^2 = 2 (a + g sin theta) S: with the exponent of constant deceleration, 2, wind and slope
    # taken out leave the level roll in still air at the same airspeed.
    sine = slope / np.hypot(1.0, slope)
    flown = (speed - headwind) ** 2 / (2 * (rate + GRAVITY * sine))
    still = landing.no_wind_ground_roll_m(flown, headwind, speed - headwind, 2.0)
    level = landing.level_runway_ground_roll_m(still, slope, speed)
    assert level == pytest.approx(landing.stopping_distance_m(speed, rate), rel=1e-9)
    assert landing.sloped_runway_ground_roll_m(level, slope, speed) == pytest.approx(still)


def test_exponents_of_weight_from_the_forces():
    # Touchdown airspeed with the square root of weight. Grip: force with weight, n = 1. A fixed
    # force of the brakes: n = 2.
    for weight in (0.8, 1.2):
        speed = 25.0 * np.sqrt(weight)
        grip = landing.stopping_distance_m(speed, 3.0) / landing.stopping_distance_m(25.0, 3.0)
        assert landing.ground_roll_ratio(weight, 1.0, 1.0) == pytest.approx(grip)
        fixed = landing.stopping_distance_m(speed, 3.0 / weight)
        both = fixed / landing.stopping_distance_m(25.0, 3.0)
        assert landing.ground_roll_ratio(weight, 1.0, 2.0) == pytest.approx(both)


def test_air_phase_without_speed_lost_is_weight_squared():
    assert landing.energy_height_m(27.0, 27.0) == 0.0
    assert landing.air_distance_ratio(1.1, 0.9, 0.0) == pytest.approx(1.21)


def test_directions():
    assert landing.no_wind_ground_roll_m(200.0, 3.0, 22.0) > 200.0
    assert landing.no_wind_air_distance_m(300.0, -2.0, 10.0) == pytest.approx(280.0)
    # Uphill shortens a landing roll: taken out, it grows.
    assert landing.level_runway_ground_roll_m(200.0, 0.01, 25.0) > 200.0


TYPICAL = {
    "no_wind_ground_roll_m": (200.0, 3.0, 22.0, 1.85),
    "no_wind_air_distance_m": (300.0, 3.0, 10.0),
    "level_runway_ground_roll_m": (200.0, 0.01, 25.0),
    "sloped_runway_ground_roll_m": (200.0, 0.01, 25.0),
    "ground_roll_ratio": (1.05, 0.97, 1.5),
    "energy_height_m": (31.0, 26.0),
    "air_distance_ratio": (1.05, 0.97, 12.0),
    "stopping_distance_m": (25.0, 2.0),
    "braked_deceleration_ms2": (0.3, 0.1, 0.3),
    "handbook_headwind_factor": (4.0, 0.1, 4.5),
}


@pytest.mark.parametrize("name", functions_of(landing))
def test_draws_and_missing_values(name):
    check_draws(functions_of(landing)[name], TYPICAL[name])


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: landing.no_wind_ground_roll_m(200.0, 30.0, 25.0), "headwind_ms"),
        (lambda: landing.no_wind_ground_roll_m(200.0, 3.0, 1.0), "touchdown_ground_speed_ms"),
        (lambda: landing.no_wind_ground_roll_m(200.0, 9.0, 4.0), "airspeed"),
        (lambda: landing.level_runway_ground_roll_m(2000.0, 0.1, 30.0), "work of the slope"),
        (lambda: landing.ground_roll_ratio(3.0, 1.0, 1.0), "weight_ratio"),
        (lambda: landing.air_distance_ratio(1.0, 1.0, -10.0), "energy_height"),
        (lambda: landing.stopping_distance_m(25.0, -2.0), "deceleration_ms2"),
        (lambda: landing.handbook_headwind_factor(-3.0, 0.1, 4.0), "headwind_ms"),
        (lambda: landing.handbook_headwind_factor(20.0, 0.5, 4.0), "factor"),
    ],
)
def test_out_of_range_is_refused_by_name(call, words):
    with pytest.raises(InputError, match=words):
        call()
