"""Joint model of level power, blade drag and the engine's power away from the rating."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stdday import blade, engine, level, power_model
from stdday.atmosphere import standard_pressure_pa, standard_temperature_k
from stdday.errors import InputError
from stdday.power_chart import chart_power_w
from tests.performance_support import check_draws, steady

CHART = ((35.0, 6e4, 40e3), (35.0, 9e4, 70e3), (45.0, 6e4, 50e3), (45.0, 9e4, 90e3))


@steady
@given(
    st.floats(0.3, 0.9), st.floats(0.05, 0.25), st.floats(-0.1, 0.1), st.floats(-0.5, 0.5),
    st.floats(0.85, 1.4),
)  # fmt: skip
def test_speed_undoes_power_on_the_fast_side(cubic, inverse, shift, slope, speed):
    exponent = power_model.model_exponent(speed, cubic, inverse, slope)
    if exponent < 0.1:
        return
    power = power_model.model_power(speed, cubic, inverse, shift, slope, 0.05)
    found = power_model.model_speed(power, cubic, inverse, shift, slope, 0.05)
    assert found == pytest.approx(speed, rel=1e-9)


def test_slopes_and_exponent_are_derivatives():
    given_ = np.array([0.5, 0.15, 0.03, 0.2])
    base = power_model.model_power(1.1, *given_, 0.05)
    slopes = power_model.model_slopes(1.1, 0.5, 0.15, 0.05)
    for place in range(4):
        moved = given_.copy()
        moved[place] += 1e-6
        change = (power_model.model_power(1.1, *moved, 0.05) / base - 1) / 1e-6
        assert change == pytest.approx(slopes[place], rel=1e-4)
    faster = power_model.model_power(1.1 * 1.000001, *given_, 0.05)
    exponent = power_model.model_exponent(1.1, 0.5, 0.15, 0.2)
    assert (faster / base - 1) / 1e-6 == pytest.approx(exponent, rel=1e-4)


def test_without_a_ratio_it_is_the_parabolic_polar():
    assert power_model.model_power(1.2, 0.25, 0.4) == pytest.approx(
        level.power_required_w(1.2 * 10, 0.25, 0.4 * 1e4) / 1e3
    )


def test_below_the_least_power_there_is_no_speed():
    assert np.isnan(power_model.model_speed(0.05, 0.5, 0.15))
    assert np.isnan(power_model.model_speed(0.6, -0.5, 0.15))


def test_draws():
    check_draws(power_model.model_power, (1.1, 0.5, 0.15, 0.02, 0.2, 0.05))
    check_draws(power_model.model_speed, (0.8, 0.5, 0.15, 0.02, 0.2, 0.05))
    check_draws(blade.profile_power_w, (53.0, 34.9, 1.087, 1.7, 3.0))


def test_blade_drag_at_rest_is_that_of_the_textbook_rotor():
    # sigma cd/8 rho A Vtip^3 of the helicopter texts (from memory), here from 0.15 of the radius
    blades, disk, turns, density = 3.0, 1.7, 34.9, 1.087
    chord = blade.BLADE_ACTIVITY * 64 / 1e5 / (1 - 0.15**4) * disk
    tip = np.pi * turns * disk
    rotor = blades * chord / (np.pi * disk / 2) * blade.SECTION_DRAG / 8
    expected = rotor * density * np.pi * disk**2 / 4 * tip**3 * (1 - 0.15**4)
    found = blade.profile_power_w(0.0, turns, density, disk, blades)
    assert found == pytest.approx(expected, rel=1e-6)


def test_turbocharged_power_holds_to_the_critical_altitude_and_falls_without_a_step():
    altitude = np.array([0.0, 2000.0, 3999.9, 4000.1, 6000.0])
    air = standard_pressure_pa(altitude), standard_temperature_k(altitude), 0.0
    found = engine.induction_ratio(*air, "turbocharged", 4000.0)
    assert found[:3] == pytest.approx([1.0, 1.0, 1.0])
    assert found[3] == pytest.approx(1.0, abs=1e-4)
    assert found[4] < 0.85
    natural = engine.induction_ratio(*air, "naturally aspirated", None)
    assert natural == pytest.approx(engine.full_throttle_ratio(*air))


def test_an_unknown_induction_is_told():
    with pytest.raises(InputError, match="turbocharged"):
        engine.induction_ratio(101325.0, 288.15, 0.0, "steam", None)


def test_chart_is_exact_at_its_rows_and_refuses_outside():
    sea_level = (101325.0, 288.15)
    for speed, manifold, power in CHART:
        assert chart_power_w(CHART, speed, manifold, *sea_level) == pytest.approx(power)
    outside = chart_power_w(CHART, [34.9, 45.1, 40.0], [7e4, 7e4, 5.9e4], *sea_level)
    assert np.isnan(outside).all()


def test_chart_loses_power_with_temperature_and_humidity():
    # AC 23-8, appendix 1 (from memory): root of temperature; PWR-TEMP-01 has the same law
    warm = chart_power_w(CHART, 40.0, 7.5e4, 101325.0, 288.15 * 1.1025)
    assert warm == pytest.approx(62500 / 1.05)
    humid = chart_power_w(CHART, 40.0, 7.5e4, 101325.0, 288.15, 3000.0)
    assert humid == pytest.approx(62500 * (1 - 3000 / 101325))


def test_a_chart_of_one_engine_speed_is_refused():
    with pytest.raises(InputError, match="two engine speeds"):
        chart_power_w(CHART[:2], 35.0, 7e4, 101325.0, 288.15)
