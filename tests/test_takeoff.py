"""Take-off corrections against published figures, mechanics, similarity, and bad input."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from stdday import climb, takeoff
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

PUBLISHED = published("takeoff")
FIXED = takeoff.EXPONENT_SETS["fixed pitch"]
GOVERNED = takeoff.EXPONENT_SETS["constant speed"]


def no_wind(inputs):
    roll = takeoff.no_wind_ground_roll_m(
        inputs["ground_roll_measured_ft"] * FT,
        inputs["headwind_kt"] * KT,
        inputs["liftoff_groundspeed_kt"] * KT,
    )
    return {"ground_roll_nowind_ft": roll / FT}


def wind_ratio(inputs):
    headwind, true = inputs["headwind_kt"], inputs["liftoff_tas_kt"]
    calm = takeoff.no_wind_ground_roll_m(300.0, headwind * KT, (true - headwind) * KT)
    return {"ratio_wind_over_nowind": 300.0 / calm}


def air_phase(inputs):
    distance = takeoff.no_wind_air_distance_m(
        inputs["air_distance_measured_ft"] * FT, inputs["headwind_kt"] * KT, inputs["air_time_s"]
    )
    return {"air_distance_nowind_ft": distance / FT}


def sloped(function, key, wanted):
    def case(inputs):
        arguments = inputs["slope_upward_fraction"], inputs["liftoff_tas_kt"] * KT
        return {wanted: function(inputs[key] * FT, *arguments) / FT}

    return case


def fixed_pitch(inputs):
    ratio = takeoff.ground_roll_ratio(
        inputs["weight_std_lb"] / inputs["weight_test_lb"],
        inputs["sigma_std"] / inputs["sigma_test"],
        inputs["rpm_ratio_std_over_test"],
        1.0,
        FIXED,
    )
    return {"ground_roll_std_ft": inputs["ground_roll_nowind_ft"] * ratio}


def with_weight(exponent):
    return dataclasses.replace(FIXED, weight=exponent)


def weight_sensitivity(inputs):
    ratio = inputs["weight_ratio"]
    return {
        f"factor_{str(exponent).replace('.', 'p')}": takeoff.ground_roll_ratio(
            ratio, 1.0, 1.0, 1.0, with_weight(exponent)
        )
        for exponent in (2.4, 2.0, 2.6)
    }


def density_sensitivity(inputs):
    sigma = inputs["sigma_1000ft_isa"]
    return {
        "factor_m2p4": takeoff.ground_roll_ratio(1.0, sigma, 1.0, 1.0, FIXED),
        "factor_m1p9": takeoff.ground_roll_ratio(1.0, sigma, 1.0, 1.0, GOVERNED),
    }


def similarity(inputs):
    scales = [inputs[f"{name}_scale"] for name in ("weight", "sigma", "rpm", "power_or_thrust")]
    ratios = [takeoff.ground_roll_ratio(*scales, FIXED), takeoff.ground_roll_ratio(*scales, JET)]
    ratios.append(takeoff.ground_roll_ratio(*scales, GOVERNED))
    return {"distance_ratio": ratios[int(np.argmax(np.abs(np.array(ratios) - 1.0)))]}


#: Jet set with test data for the engine, thrust in place of power (FTM-108, from memory): no set of
#: the library, but one that the formula must serve and that obeys similarity.
JET = takeoff.TakeoffExponents(2.3, -1.0, 0.0, -1.3, "FTM-108, from memory")


def jet(inputs):
    ratio = takeoff.ground_roll_ratio(
        inputs["weight_ratio_std_over_test"], inputs["sigma_ratio"], 1.0, inputs["thrust_ratio"],
        JET,
    )  # fmt: skip
    return {"ground_factor": ratio}


def liftoff(inputs):
    speed = takeoff.liftoff_airspeed_ms(
        inputs["mass_kg"] * inputs["g_m_s2"], inputs["rho_kg_m3"], inputs["wing_area_m2"],
        inputs["clmax"], inputs["liftoff_factor"],
    )  # fmt: skip
    return {"liftoff_speed_m_s": speed}


def average_force(inputs):
    area, span, density = inputs["wing_area_m2"], inputs["span_m"], inputs["rho_kg_m3"]
    speed = 0.7 * inputs["liftoff_speed_m_s"]
    phi = takeoff.ground_effect_factor(inputs["wing_height_m"], span)
    force = 0.5 * density * speed**2 * area
    lift = force * inputs["cl_ground"]
    e = area / (np.pi * span**2 * inputs["k_induced"])
    drag = force * inputs["cd0"] + phi * climb.induced_drag_n(lift, density, speed, span, e)
    run = takeoff.ground_run_average_force_m(
        inputs["liftoff_speed_m_s"], inputs["mass_kg"], inputs["thrust_total_N"], drag, lift,
        inputs["mu_rolling"],
    )  # fmt: skip
    return {
        "ground_effect_phi": phi,
        "lift_at_0p7vlo_N": lift,
        "drag_at_0p7vlo_N": drag,
        "ground_run_m": run,
    }


def constant_acceleration(inputs):
    arguments = inputs["acceleration_m_s2"], 0.0, inputs["liftoff_speed_km_h"] / 3.6
    return {
        "time_s": takeoff.ground_run_time_s(*arguments),
        "ground_run_m": takeoff.ground_run_quadratic_m(*arguments),
    }


CASES = {
    "TO-WIND-01": no_wind,
    "TO-WIND-02": wind_ratio,
    "TO-WIND-03": wind_ratio,
    "TO-AIR-01": air_phase,
    "TO-SLOPE-01": sloped(
        takeoff.level_runway_ground_roll_m, "ground_roll_ft", "ground_roll_level_ft"
    ),
    "TO-SLOPE-02": sloped(
        takeoff.sloped_runway_ground_roll_m, "ground_roll_level_ft", "ground_roll_upslope_ft"
    ),
    "TO-FP-01": fixed_pitch,
    "TO-SENS-01": weight_sensitivity,
    "TO-SENS-02": density_sensitivity,
    "PROP-SIM-01": similarity,
    "TO-JET-REF": jet,
    "TXB-TO-01": liftoff,
    "TXB-TO-02": average_force,
    "TXB-TO-03": constant_acceleration,
}


@pytest.mark.parametrize("item", PUBLISHED, ids=identity)
def test_published_figures(item):
    compare(item, CASES[item["id"]](item["inputs"]))


def test_every_published_item_has_a_case():
    assert set(CASES) == {item["id"] for item in PUBLISHED}


@steady
@given(scale=st.floats(0.5, 2.0), speed=st.floats(0.9, 1.1))
def test_similarity_of_the_exponent_sets(scale, speed):
    # Dimensional analysis: weight, density and power scaled together leave the distance unchanged.
    named = [takeoff.EXPONENT_SETS[name] for name in ("fixed pitch", "constant speed")]
    for chosen in [*named, *takeoff.AIR_EXPONENT_SETS.values()]:
        alone = takeoff.ground_roll_ratio(1.0, 1.0, speed, 1.0, chosen)
        scaled = takeoff.ground_roll_ratio(scale, scale, speed, scale, chosen)
        assert scaled == pytest.approx(alone, rel=1e-12)
    # The remembered set A does not: its exponents sum to +0.2, as its standing says.
    remembered = takeoff.EXPONENT_SETS["constant speed A"]
    off = takeoff.ground_roll_ratio(scale, scale, 1.0, scale, remembered)
    assert off == pytest.approx(scale**0.2, rel=1e-12)
    assert "+0.2" in remembered.standing


@steady
@given(headwind=st.floats(-4.0, 9.0), true=st.floats(20.0, 60.0))
def test_wind_forms_agree(headwind, true):
    # S (1 + Vw/Vg)^1.85 is S/(1 - Vw/V)^1.85 with the true airspeed V (identity, TO-WIND-02).
    calm = takeoff.no_wind_ground_roll_m(250.0, headwind, true - headwind)
    assert calm == pytest.approx(250.0 / (1.0 - headwind / true) ** 1.85, rel=1e-12)


@steady
@given(roll=st.floats(80.0, 600.0), slope=st.floats(-0.015, 0.015), true=st.floats(22.0, 60.0))
def test_slope_and_back(roll, slope, true):
    level = takeoff.level_runway_ground_roll_m(roll, slope, true)
    assert takeoff.sloped_runway_ground_roll_m(level, slope, true) == pytest.approx(roll, rel=1e-12)
    assert (level < roll) == (slope > 0.0) or abs(slope) < 1e-12


def test_slope_is_the_component_of_gravity():
    # Constant acceleration: V^2 = 2 a S, and a slope takes g sin(theta) from a.
    acceleration, speed, angle = 2.0, 28.0, np.arctan(0.02)
    level = speed**2 / (2.0 * acceleration)
    uphill = speed**2 / (2.0 * (acceleration - 9.80665 * np.sin(angle)))
    assert takeoff.sloped_runway_ground_roll_m(level, 0.02, speed) == pytest.approx(uphill)


@steady
@given(
    rest=st.floats(0.5, 5.0),
    share=st.floats(-2.0, 0.99).filter(lambda share: share == 0.0 or abs(share) > 1e-12),
    speed=st.floats(15.0, 60.0),
)
def test_ground_run_against_integration(rest, share, speed):
    decay = share * rest / speed**2
    distance, _ = quad(lambda v: v / (rest - decay * v**2), 0.0, speed, epsrel=1e-10)
    time, _ = quad(lambda v: 1.0 / (rest - decay * v**2), 0.0, speed, epsrel=1e-10)
    assert takeoff.ground_run_quadratic_m(rest, decay, speed) == pytest.approx(distance, rel=1e-8)
    assert takeoff.ground_run_time_s(rest, decay, speed) == pytest.approx(time, rel=1e-8)


def test_airspeed_that_is_never_reached_is_missing():
    # Terminal speed sqrt(a0/k) = 31.6 m/s.
    for function in (takeoff.ground_run_quadratic_m, takeoff.ground_run_time_s):
        result = function(2.0, 0.002, [31.0, 32.0])
        assert np.isfinite(result[0])
        assert np.isnan(result[1])
    assert np.isnan(takeoff.ground_run_average_force_m(28.0, 600.0, 500.0, 490.0, 0.0, 0.02))


TYPICAL = {
    "ground_effect_factor": (0.9, 9.0),
    "ground_roll_ratio": (1.05, 0.97, 1.01, 0.98, FIXED),
    "ground_run_average_force_m": (28.0, 600.0, 1600.0, 250.0, 2500.0, 0.03),
    "ground_run_quadratic_m": (2.2, 4e-4, 28.0),
    "ground_run_time_s": (2.2, 4e-4, 28.0),
    "level_runway_ground_roll_m": (250.0, 0.008, 28.0),
    "liftoff_airspeed_ms": (5884.0, 1.2, 11.0, 1.6, 1.2),
    "no_wind_air_distance_m": (200.0, 3.0, 7.0),
    "no_wind_ground_roll_m": (220.0, 3.0, 25.0, 1.85),
    "sloped_runway_ground_roll_m": (250.0, 0.008, 28.0),
}


@pytest.mark.parametrize(("name", "function"), functions_of(takeoff).items())
def test_draws_and_missing_values(name, function):
    check_draws(function, TYPICAL[name])


def test_exponents_may_be_drawn():
    drawn = dataclasses.replace(FIXED, weight=np.array([[2.3], [2.4], [2.5]]))
    ratio = takeoff.ground_roll_ratio([1.0, 1.1], 1.0, 1.0, 1.0, drawn)
    np.testing.assert_allclose(ratio, [[1.0, 1.1**2.3], [1.0, 1.1**2.4], [1.0, 1.1**2.5]])


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: takeoff.no_wind_ground_roll_m([250.0, 0.0], 3.0, 25.0),
         "ground_roll_m [m] must be 1 to 10000; got 0 at index 1 "
         "(a ground roll in metres is needed)"),
        (lambda: takeoff.no_wind_ground_roll_m(250.0, 30.0, 25.0),
         "headwind_ms [m/s] must be -15 to 20; got 30 "
         "(headwind in m/s, negative for a tailwind; is it in km/h?)"),
        (lambda: takeoff.no_wind_ground_roll_m(250.0, 10.0, 5.0),
         "headwind_ms over liftoff_ground_speed_ms [-] must be -0.5 to 1.5; got 2 "
         "(headwind over ground speed at lift-off; is the ground speed an airspeed?)"),
        (lambda: takeoff.level_runway_ground_roll_m(250.0, 2.0, 28.0),
         "slope [-] must be -0.1 to 0.1; got 2 (rise over length: 2 % is 0.02)"),
        (lambda: takeoff.level_runway_ground_roll_m(800.0, -0.03, 25.0),
         "work against the slope over energy at lift-off [-] must be -0.5 to 5; got -0.752812 "
         "(the slope would do nearly all, or more than, the work of the take-off)"),
        (lambda: takeoff.ground_roll_ratio(600.0, 1.0, 1.0, 1.0, FIXED),
         "weight_ratio [-] must be 0.5 to 2; got 600 (standard over test)"),
        (lambda: takeoff.ground_roll_ratio(1.0, 1.0, 1.0, 1.0, with_weight(24.0)),
         "weight exponent [-] must be -5 to 5; got 24"),
        (lambda: takeoff.ground_run_quadratic_m(0.2, 0.6, 28.0),
         "decay_per_m [1/m] must be -0.05 to 0.05; got 0.6 (near 0.0005)"),
        (lambda: takeoff.liftoff_airspeed_ms(5884.0, 1.2, 118.0, 16.0, 1.2),
         "maximum_lift_coefficient [-] must be 0.5 to 4; got 16 (near 1.5)"),
        (lambda: takeoff.ground_run_average_force_m(28.0, 5.0, 1.0, 1.0, 1.0, 0.02),
         "weight_kg [kg] must be 20 to 100000; got 5 (the airplane's weight as a mass in kg)"),
    ],
)  # fmt: skip
def test_bad_input_is_named(call, said):
    with pytest.raises(InputError) as error:
        call()
    assert str(error.value) == said
