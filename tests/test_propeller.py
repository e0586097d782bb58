"""Propeller coefficients and bounds against published figures, root finding, and bad input."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from stdday import atmosphere, propeller
from stdday.errors import InputError
from tests.performance_support import (
    FT,
    HP,
    INCH,
    KT,
    LBF,
    MPH,
    SLUG_FT3,
    check_draws,
    compare,
    functions_of,
    published,
    steady,
)
from tests.published_values import identity

PUBLISHED = published("propeller")
AIR = 1.225


def temperature_of_sound_k(speed_ms):
    return speed_ms**2 / (atmosphere.HEAT_CAPACITY_RATIO * atmosphere.GAS_CONSTANT_J_KG_K)


def turning(inputs):
    return inputs["rho_slugft3"] * SLUG_FT3, inputs["rpm"] / 60.0, inputs["diameter_in"] * INCH


def coefficients(inputs):
    air = turning(inputs)
    power, true = inputs["power_hp"] * HP, inputs["tas_kt"] * inputs["kt_to_ftps"] * FT
    torque = power / (2.0 * np.pi * air[1])
    return {
        "J": propeller.advance_ratio(true, *air[1:]),
        "CP": propeller.power_coefficient(power, *air),
        "CT": propeller.thrust_coefficient(inputs["efficiency"] * power / true, *air),
        "CQ": propeller.torque_coefficient(torque, *air),
    }


def speed_power(inputs):
    density, speed, diameter = turning(inputs)
    power, true = inputs["power_hp"] * HP, inputs["tas_kt"] * KT
    direct = propeller.speed_power_coefficient(true, power, density, speed)
    advance = propeller.advance_ratio(true, speed, diameter)
    other = advance * propeller.power_coefficient(power, density, speed, diameter) ** -0.2
    assert other == pytest.approx(direct, rel=1e-14)
    return {"Cs": direct}


def tip(inputs):
    temperature = temperature_of_sound_k(inputs["speed_of_sound_ftps"] * FT)
    speed, diameter = inputs["rpm"] / 60.0, inputs["diameter_in"] * INCH
    return {
        "static_tip_mach": propeller.tip_mach(0.0, speed, diameter, temperature),
        "helical_tip_mach": propeller.tip_mach(inputs["tas_kt"] * KT, speed, diameter, temperature),
    }


def constant_chord(inputs):
    chord = [inputs["chord_over_diameter"]] * 2
    factors = [propeller.activity_factor([root, 1.0], chord) for root in inputs["root_x"]]
    return {"activity_factor": factors}


def static_bound(inputs):
    thrust = propeller.ideal_static_thrust_n(
        inputs["power_hp"] * HP, inputs["rho_slugft3"] * SLUG_FT3, inputs["diameter_in"] * INCH
    )
    return {"thrust_lbf": thrust / LBF}


def bound_in_flight(inputs):
    power, true = inputs["power_hp"] * HP, np.array(inputs["tas_kt"]) * KT
    bound = propeller.ideal_efficiency(
        true, power, inputs["rho_slugft3"] * SLUG_FT3, inputs["diameter_in"] * INCH
    )
    # The thrust is printed to three decimals, coarser than the tolerance beside it.
    return {"ideal_efficiency": bound, "thrust_lbf": np.round(bound * power / true / LBF, 3)}


def measured_efficiency(inputs):
    eta = propeller.propeller_efficiency(inputs["J"], inputs["CT"], inputs["CP"])
    peak = int(np.argmax(eta))
    return {"eta": eta, "peak_eta": eta[peak], "J_at_peak": inputs["J"][peak]}


def figure_of_merit(thrust_coefficient, power_coefficient):
    # By definition ideal over real power at that thrust, which is (thrust over ideal thrust)^1.5.
    speed, diameter = 50.0, 0.3
    power = power_coefficient * AIR * speed**3 * diameter**5
    thrust = thrust_coefficient * AIR * speed**2 * diameter**4
    return (thrust / propeller.ideal_static_thrust_n(power, AIR, diameter)) ** 1.5


def disk_through_flow(inputs):
    # Thrust and power from the printed momentum balance; the function must give back the rest.
    density, diameter = inputs["rho_slug_ft3"] * SLUG_FT3, inputs["diameter_ft"] * FT
    true, area = inputs["airspeed_mph"] * MPH, np.pi / 4.0 * diameter**2
    through = inputs["volume_flow_ft3_s"] * FT**3 / area
    power = density * through * area * 2.0 * (through - true) * through
    bound = propeller.ideal_efficiency(true, power, density, diameter)
    thrust = bound * power / true
    return {
        "thrust_lb": thrust / LBF,
        "ideal_efficiency_percent": 100.0 * bound,
        "pressure_jump_psf": thrust / area / (LBF / FT**2),
    }


def marine(inputs):
    # Water is no air: CT is the same for thrust and density divided by any one number.
    advance, true = inputs["advance_ratio_J"], inputs["speed_m_s"]
    thrust = inputs["thrust_power_MW"] * 1e6 / true * AIR / inputs["rho_kg_m3"]

    def excess(diameter):
        speed = true / (advance * diameter)
        assert propeller.advance_ratio(true, speed, diameter) == pytest.approx(advance)
        found = propeller.thrust_coefficient(thrust, AIR, speed, diameter)
        return found - inputs["thrust_coefficient_CT"]

    diameter = brentq(excess, 5.0, 20.0)
    return {"diameter_m": diameter, "rotation_rpm": 60.0 * true / (advance * diameter)}


def tip_in_statute_miles(inputs):
    temperature = (inputs["temperature_F"] + 459.67) / 1.8
    mach = propeller.tip_mach(
        0.0, inputs["rotation_rpm"] / 60.0, inputs["diameter_in"] * INCH, temperature
    )
    return {
        "tip_mach": mach,
        "tip_speed_mph": mach * atmosphere.speed_of_sound_ms(temperature) / MPH,
    }


def thrust_of_power(inputs):
    # At an efficiency of 1 the thrust is P/V, whatever the propeller: CT = CP/J.
    power, true = inputs["power_hp"] * inputs["hp_in_W"], inputs["tas_kt"] * inputs["kt_in_m_s"]
    air = (1.1, 42.0, 1.9)
    wanted = propeller.power_coefficient(power, *air) / propeller.advance_ratio(true, *air[1:])
    return {"thrust_N": wanted / propeller.thrust_coefficient(1.0, *air)}


CASES = {
    "PRP-01": coefficients,
    "PRP-02": speed_power,
    "PRP-03": tip,
    "PRP-04": constant_chord,
    "PRP-05": static_bound,
    "PRP-06": bound_in_flight,
    "PRP-UIUC-01": measured_efficiency,
    "PRP-UIUC-03": lambda inputs: {"figure_of_merit": figure_of_merit(inputs["CT"], inputs["CP"])},
    "TXB-PRP-01": marine,
    "TXB-PRP-02": disk_through_flow,
    "TXB-PRP-03": tip_in_statute_miles,
    "TXB-CLB-05": thrust_of_power,
}
STATIC_TABLE = "PRP-UIUC-02"


@pytest.mark.parametrize(
    "item", [item for item in PUBLISHED if item["id"] != STATIC_TABLE], ids=identity
)
def test_published_figures(item):
    compare(item, CASES[item["id"]](item["inputs"]))


def test_every_published_item_has_a_case():
    assert {*CASES, STATIC_TABLE} == {item["id"] for item in PUBLISHED}


def test_measured_static_thrust_stays_below_the_bound():
    # UIUC static run: coefficients as printed; the figure of merit is sqrt(2/pi) CT^1.5/CP.
    table = next(item for item in PUBLISHED if item["id"] == STATIC_TABLE)["expected"]
    thrust, power = np.array(table["CT"]), np.array(table["CP"])
    merit = figure_of_merit(thrust, power)
    np.testing.assert_allclose(merit, np.sqrt(2.0 / np.pi) * thrust**1.5 / power, rtol=1e-12)
    assert (merit < 1.0).all()


@steady
@given(
    true=st.floats(0.0, 150.0),
    power=st.floats(1e3, 1e6),
    density=st.floats(0.4, 1.4),
    diameter=st.floats(0.5, 3.0),
)
def test_bound_in_flight_against_root_finding(true, power, density, diameter):
    area = np.pi / 4.0 * diameter**2

    def excess(thrust):
        added = np.sqrt(true**2 / 4.0 + thrust / (2.0 * density * area))
        return thrust * (true / 2.0 + added) / power - 1.0

    static = propeller.ideal_static_thrust_n(power, density, diameter)
    thrust = brentq(excess, 0.0, 1.001 * static, xtol=1e-9)
    bound = propeller.ideal_efficiency(true, power, density, diameter)
    assert bound == pytest.approx(thrust * true / power, rel=1e-9, abs=1e-12)
    assert 0.0 <= bound < 1.0


def test_activity_factor_of_a_tapered_blade():
    station = np.array([0.2, 0.5, 0.75, 1.0])
    chord = np.array([0.06, 0.085, 0.07, 0.03])
    integral, _ = quad(lambda x: np.interp(x, station, chord) * x**3, 0.2, 1.0, points=[0.5, 0.75])
    blades = propeller.activity_factor(station, np.stack([chord, 2.0 * chord]))
    np.testing.assert_allclose(blades, 1e5 / 16.0 * integral * np.array([1.0, 2.0]), rtol=1e-10)


@steady
@given(
    true=st.floats(0.0, 120.0),
    density=st.floats(0.5, 1.4),
    diameter=st.floats(1.2, 2.2),
    intercept=st.floats(0.02, 0.15),
    slope=st.floats(-0.15, 0.1),
    power=st.floats(2e4, 3e5),
    rated=st.floats(30.0, 50.0),
    exponent=st.floats(-1.0, 1.9),
)
def test_fixed_pitch_speed_against_root_finding(
    true, density, diameter, intercept, slope, power, rated, exponent
):
    def excess(speed):
        coefficient = intercept + slope * true / (speed * diameter)
        absorbed = density * speed**3 * diameter**5 * coefficient
        return absorbed / (power * (speed / rated) ** exponent) - 1.0

    least = max(1e-3, -slope * true / (intercept * diameter))
    wanted = brentq(excess, least, 1e4, xtol=1e-10, rtol=1e-14)
    arguments = true, density, diameter, intercept, slope, power, rated, exponent
    found = propeller.fixed_pitch_speed_rps(*arguments)
    assert found == pytest.approx(wanted, rel=1e-9)
    assert excess(found) == pytest.approx(0.0, abs=1e-9)


def test_thinner_air_and_less_power_balance():
    # Torque and propeller both proportional to density: the speed stays (closed form, own).
    arguments = 1.9, 0.06, -0.02, 8e4, 42.0, 1.0
    low = propeller.fixed_pitch_speed_rps(30.0, 1.2, *arguments)
    scaled = (1.9, 0.06, -0.02, 0.8 * 8e4, 42.0, 1.0)
    assert propeller.fixed_pitch_speed_rps(30.0, 0.96, *scaled) == pytest.approx(low, rel=1e-12)


TYPICAL = {
    "advance_ratio": (50.0, 40.0, 1.8),
    "fixed_pitch_speed_rps": (40.0, 1.1, 1.7, 0.06, -0.02, 7.8e4, 41.0, 0.9),
    "ideal_efficiency": (50.0, 7.8e4, 1.1, 1.7),
    "ideal_static_thrust_n": (7.8e4, 1.1, 1.7),
    "power_coefficient": (7.8e4, 1.1, 40.0, 1.8),
    "propeller_efficiency": (0.6, 0.06, 0.05),
    "speed_power_coefficient": (50.0, 7.8e4, 1.1, 40.0),
    "thrust_coefficient": (1200.0, 1.1, 40.0, 1.8),
    "tip_mach": (50.0, 40.0, 1.8, 280.0),
    "torque_coefficient": (300.0, 1.1, 40.0, 1.8),
}


@pytest.mark.parametrize("name", sorted(set(functions_of(propeller)) - {"activity_factor"}))
def test_draws_and_missing_values(name):
    check_draws(getattr(propeller, name), TYPICAL[name])


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: propeller.advance_ratio(50.0, [40.0, 2400.0], 1.8),
         "speed_rps [rev/s] must be 0.1 to 200; got 2400 at index 1 "
         "(rev/s of a turning propeller: 2400 rev/min is 40)"),
        (lambda: propeller.advance_ratio(50.0, 40.0, 74.0),
         "diameter_m [m] must be 0.1 to 20; got 74 (is it in inches or millimetres?)"),
        (lambda: propeller.power_coefficient(-1.0, 1.2, 40.0, 1.8),
         "power_w [W] must be 0 to 5e+06; got -1 (power in W: 100 kW is 100000)"),
        (lambda: propeller.thrust_coefficient(1e7, 1.2, 40.0, 1.8),
         "thrust_n [N] must be -1e+06 to 1e+06; got 1e+07 (thrust in newtons)"),
        (lambda: propeller.ideal_efficiency(50.0, 0.0, 1.2, 1.8),
         "power_w [W] must be 1 to 5e+06; got 0 (power in W: 100 kW is 100000)"),
        (lambda: propeller.ideal_static_thrust_n(8e4, 0.00238, 1.8),
         "density_kg_m3 [kg/m^3] must be 0.2 to 1.6; got 0.00238 "
         "(the standard day at sea level has 1.225)"),
        (lambda: propeller.tip_mach(50.0, 40.0, 1.8, 15.0),
         "temperature_k [K] must be 200 to 340; got 15 (is it in degrees Celsius?)"),
        (lambda: propeller.activity_factor([0.15, 0.9], [0.07, 0.07]),
         "station [-] must be two or more increasing stations, the last 1; got [0.15, 0.9]"),
        (lambda: propeller.fixed_pitch_speed_rps(0, 1.2, 1.8, 0.0, -0.02, 8e4, 42.0, 1.0),
         "cp_intercept [-] must be 0.001 to 0.5; got 0 (CP at rest, near 0.05)"),
        (lambda: propeller.fixed_pitch_speed_rps(0, 1.2, 1.8, 0.05, -0.02, 8e4, 42.0, 2.0),
         "torque_exponent [-] must be -1 to 1.9; got 2 "
         "(power grows with the speed to this power; 1 is constant torque)"),
    ],
)  # fmt: skip
def test_bad_input_is_named(call, said):
    with pytest.raises(InputError) as error:
        call()
    assert str(error.value) == said
