"""Ground-roll model against closed forms, published runs, similarity, and bad input."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from stdday import propeller, roll, takeoff
from stdday.errors import InputError
from tests.performance_support import check_draws, published, steady

FORCES = roll.RollForces(0.03, 0.6, 4.0)
DAY = roll.RollDay(600.0, 1.225, 0.0, 0.0, 28.0)
STILL = roll.ThrustChange(1.7)
PUBLISHED = {item["id"]: item for item in published("takeoff")}


def run(curve, flown=DAY, wanted=None, change=STILL, forces=FORCES):
    found = roll.ground_roll(curve, flown, wanted or flown, forces, change)
    return found.distance_m, found.time_s


def test_constant_acceleration_as_published():
    item = PUBLISHED["TXB-TO-03"]
    speed = item["inputs"]["liftoff_speed_km_h"] / 3.6
    day = replace(DAY, liftoff_true_ms=speed)
    distance, time = run(roll.RollCurve(item["inputs"]["acceleration_m_s2"], 0.0, 0.0), day)
    expected, tolerance = item["expected"], item["tolerance"]
    assert distance == pytest.approx(expected["ground_run_m"], abs=tolerance["ground_run_m"])
    assert time == pytest.approx(expected["time_s"], abs=tolerance["time_s"])


def test_jet_of_the_textbook_from_its_forces():
    # Constant thrust, drag and friction of the textbook's jet: its run takes the forces at 0.7 of
    # the lift-off airspeed, the integral all of them; they differ by a few per cent.
    item = PUBLISHED["TXB-TO-02"]
    known, wanted = item["inputs"], item["expected"]
    speed, density = known["liftoff_speed_m_s"], known["rho_kg_m3"]
    at = 0.5 * density * (0.7 * speed) ** 2
    forces = roll.RollForces(
        known["mu_rolling"], wanted["drag_at_0p7vlo_N"] / at, wanted["lift_at_0p7vlo_N"] / at
    )
    day = roll.RollDay(known["mass_kg"], density, 0.0, 0.0, speed)
    rest = known["thrust_total_N"] / known["mass_kg"] - known["mu_rolling"] * 9.80665
    fall = forces.drag_area_m2 - known["mu_rolling"] * forces.lift_area_m2
    curve = roll.RollCurve(rest, 0.0, -0.5 * density * fall / known["mass_kg"])
    thrust = roll.effective_thrust_n([0.0, 30.0, 60.0], curve, day, forces)
    np.testing.assert_allclose(thrust, known["thrust_total_N"], rtol=1e-9)
    distance, _ = run(curve, day, forces=forces)
    assert distance == pytest.approx(wanted["ground_run_m"], rel=0.02)


@steady
@given(rest=st.floats(1.0, 4.0), share=st.floats(-0.5, 0.8), speed=st.floats(18.0, 45.0))
def test_against_the_closed_form(rest, share, speed):
    # a = a0 (1 - (V/Vmax)^2): logarithm and artanh
    decay = share * rest / speed**2
    distance, time = run(
        roll.RollCurve(rest, 0.0, -decay), replace(DAY, liftoff_true_ms=speed)
    )
    assert distance == pytest.approx(takeoff.ground_run_quadratic_m(rest, decay, speed), rel=1e-6)
    assert time == pytest.approx(takeoff.ground_run_time_s(rest, decay, speed), rel=1e-6)


def test_against_integration_in_time_with_everything_changed():
    curve = roll.RollCurve(2.5, -0.02, -0.0006)
    flown = roll.RollDay(560.0, 1.16, 0.004, 3.0, 27.0)
    wanted = roll.RollDay(600.0, 1.225, -0.005, -1.5, 26.5)
    change = roll.ThrustChange(1.7, 1.06)

    def rates(_, state):
        true = state[1] + wanted.headwind_ms
        thrust = roll.scaled_thrust_n(
            roll.effective_thrust_n(true, curve, flown, FORCES), true, 1.16, 1.225, 1.06, 1.7
        )
        force = thrust - FORCES.resistance_n(wanted, np.asarray(true))
        return [state[1], float(force) / wanted.weight_kg]

    def away(_, state):
        return state[1] + wanted.headwind_ms - wanted.liftoff_true_ms

    away.terminal = True
    flight = solve_ivp(rates, (0.0, 60.0), [0.0, 0.0], events=away, rtol=1e-9, atol=1e-9)
    distance, time = run(curve, flown, wanted, change)
    assert distance == pytest.approx(flight.y_events[0][0][0], rel=1e-6)
    assert time == pytest.approx(flight.t_events[0][0], rel=1e-6)


@steady
@given(
    wind=st.floats(-3.0, 6.0),
    friction=st.floats(0.0, 0.08),
    drag=st.floats(0.2, 1.2),
    lift=st.floats(0.0, 8.0),
)
def test_what_is_assumed_does_not_matter_where_nothing_changes(wind, friction, drag, lift):
    day = replace(DAY, headwind_ms=wind, slope=0.01)
    curve = roll.RollCurve(2.4, -0.02, -0.0007)
    found = run(curve, day, forces=roll.RollForces(friction, drag, lift))
    speed = 28.0 - wind
    time = np.linspace(0.0, speed, 20_001)
    slowness = 1.0 / curve.at(time)
    assert found[0] == pytest.approx(np.trapezoid(time * slowness, time), rel=1e-6)
    assert found[1] == pytest.approx(np.trapezoid(slowness, time), rel=1e-6)


@steady
@given(scale=st.floats(0.7, 1.4))
def test_similarity(scale):
    # Weight, density and power scaled together leave the roll as it was.
    curve = roll.RollCurve(2.4, -0.02, -0.0007)
    day = replace(DAY, density_kg_m3=1.0)
    wanted = replace(day, weight_kg=600.0 * scale, density_kg_m3=scale)
    found = run(curve, day, wanted, roll.ThrustChange(1.7, scale))
    np.testing.assert_allclose(found, run(curve, day), rtol=1e-9)


def test_momentum_theory_at_rest_and_at_speed():
    # At rest T goes with P^(2/3) rho^(1/3); fast, nearly with P; and the ideal propeller agrees.
    for power, density in ((1.2, 1.225), (0.8, 1.0)):
        still = roll.scaled_thrust_n(2000.0, 0.0, 1.225, density, power, 1.7)
        law = power ** (2 / 3) * (density / 1.225) ** (1 / 3)
        assert still == pytest.approx(2000.0 * law, rel=1e-9)
    fast = roll.scaled_thrust_n(300.0, 150.0, 1.225, 1.225, 1.2, 1.7)
    assert fast == pytest.approx(360.0, rel=0.01)
    thrust = [propeller.ideal_efficiency(30.0, power, density, 1.7) * power / 30.0
              for power, density in ((60e3, 1.2), (72e3, 1.05))]  # fmt: skip
    scaled = roll.scaled_thrust_n(thrust[0], 30.0, 1.2, 1.05, 1.2, 1.7)
    assert scaled == pytest.approx(thrust[1], rel=1e-6)


def test_fixed_pitch_keeps_its_thrust_coefficient():
    # T = rho n^2 D^4 (c0 - c1 J): the thrust at another engine speed and density is known exactly.
    def thrust(true, density, turns):
        return density * turns**2 * 1.7**4 * (0.11 - 0.09 * true / (turns * 1.7))

    true = np.linspace(0.0, 30.0, 7)
    forces = roll.RollForces(0.0, 0.0, 0.0)
    # Straight in airspeed, so that a straight curve carries it.
    slope = (thrust(10.0, 1.2, 40.0) - thrust(0.0, 1.2, 40.0)) / 10.0 / 600.0
    curve = roll.RollCurve(thrust(0.0, 1.2, 40.0) / 600.0, slope, 0.0)
    day = replace(DAY, density_kg_m3=1.2)
    wanted = replace(day, density_kg_m3=1.1)
    change = roll.ThrustChange(1.7, 1.0, 1.03, by_speed=True)
    distance, _ = run(curve, day, wanted, change, forces)
    speed = np.linspace(0.0, 28.0, 20_001)
    expected = np.trapezoid(speed * 600.0 / thrust(speed, 1.1, 41.2), speed)
    assert distance == pytest.approx(expected, rel=1e-6)
    assert (thrust(true, 1.1, 41.2) > 0).all()


def test_an_airspeed_that_is_never_reached_is_missing():
    distance, time = run(roll.RollCurve(2.0, 0.0, -0.003))
    assert np.isnan(distance)
    assert np.isnan(time)


def test_greatest_friction_of_the_words_counts():
    assert roll.friction_on("Grass, soft") == roll.FRICTION["soft"]
    assert roll.friction_on("tiles").sigma > 0.02
    assert all(one.standing for one in roll.FRICTION.values())


def test_draws_and_missing_values():
    def distance(a0, a1, weight, density, true, ratio):
        flown = roll.RollDay(weight, density, 0.002, 1.0, 27.0)
        wanted = roll.RollDay(600.0, 1.225, 0.0, 0.0, true)
        change = roll.ThrustChange(1.7, ratio)
        return roll.ground_roll(roll.RollCurve(a0, a1, 0.0), flown, wanted, FORCES, change)

    check_draws(distance, (2.4, -0.03, 560.0, 1.19, 28.0, 1.03), draws=200)
    check_draws(roll.scaled_thrust_n, (1800.0, 20.0, 1.2, 1.1, 1.05, 1.7), draws=200)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: replace(DAY, liftoff_true_ms=1.0), "liftoff_true_ms [m/s] must be 5 to 150"),
        (lambda: replace(DAY, slope=1.0), "slope [-] must be -0.1 to 0.1; got 1 (rise over"),
        (lambda: roll.RollForces(3.0, 0.5, 4.0), "rolling_friction [-] must be -0.1 to 0.5"),
        (lambda: roll.ThrustChange(1.7, 60e3), "power_ratio [-] must be 0.3 to 3; got 60000"),
        (lambda: roll.scaled_thrust_n(1e3, 400.0, 1.2, 1.2, 1.0, 1.7), "is it in km/h?"),
    ],
)
def test_bad_input_is_named(call, said):
    with pytest.raises(InputError) as error:
        call()
    assert said in str(error.value)
