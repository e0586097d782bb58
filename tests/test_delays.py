"""How late sensors are: made signals with known shifts, and made flights with known delays."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from stdday.delays import (
    AIRSPEED_S,
    RECEIVER_S,
    Delay,
    estimate_delays,
    join_delays,
    shift_between,
)
from stdday.find_lift import Wing, airspeed_late_s, carried_s, fit_wing
from stdday.signals import Trace
from tests.make_flights import Plan, make_flight

TIME = np.arange(0.0, 700.0, 0.5)


def speeds(time):
    """Level flight, slower, faster, and slower again."""
    return np.interp(time, [60, 75, 160, 175, 300, 315, 420, 435], [50, 34, 34, 52, 52, 36, 36, 50])


def trace(late_s, noise=0.05, wind=0.0, **more):
    rng = np.random.default_rng(4)
    drift = wind * np.clip((TIME - 200.0) / 60.0, 0, 1)
    ground = speeds(TIME) - drift + rng.normal(0, noise, len(TIME))
    air = speeds(TIME - late_s) + 4.0 + rng.normal(0, noise, len(TIME))
    return Trace(TIME, {"ground_speed": ground, "indicated_airspeed": air, **more})


@pytest.mark.parametrize("late_s", [-1.2, -0.3, 0.0, 0.7, 1.4])
def test_airspeed_behind_ground_speed_has_the_sign_of_the_contract(late_s):
    found = estimate_delays(trace(late_s)).airspeed
    assert found.late_s == pytest.approx(late_s, abs=0.2)
    assert abs(found.late_s - late_s) < 2.5 * found.sigma_s < 1.0


def test_a_change_of_wind_does_not_pass_for_a_delay():
    found = estimate_delays(trace(0.6, wind=8.0)).airspeed
    assert found.late_s == pytest.approx(0.6, abs=0.3)


def test_nothing_is_taken_from_rolls():
    """All accelerations inside of what is left out: nothing left that tells."""
    found = estimate_delays(trace(0.6), [(20.0, 500.0)])
    assert np.isnan(found.airspeed.late_s)
    assert np.isnan(found.airspeed.sigma_s)


def test_without_accelerations_the_delay_is_refused():
    rng = np.random.default_rng(1)
    steady = {name: 50.0 + rng.normal(0, 0.3, len(TIME))
              for name in ("ground_speed", "indicated_airspeed")}  # fmt: skip
    found = estimate_delays(Trace(TIME, steady))
    assert np.isnan(found.airspeed.late_s)
    assert (found.receiver.late_s, found.receiver.sigma_s) == pytest.approx(RECEIVER_S)


def test_without_channels_only_practice_is_left():
    found = estimate_delays(Trace(TIME, {"fuel_flow": TIME}))
    assert np.isnan(found.static.late_s)
    assert np.isnan(found.turning.late_s)
    assert found.receiver.sigma_s == RECEIVER_S[1]


@pytest.mark.parametrize("name", ["heading", "roll"])
def test_turns_tell_how_late_the_receiver_is(name):
    rate = np.where((TIME > 200) & (TIME < 240) | (TIME > 400) & (TIME < 450), 0.05, 0.0)
    turned = np.cumsum(rate) * 0.5
    late = np.interp(TIME - 0.9, TIME, turned)
    channels = {"ground_speed": np.full(len(TIME), 50.0), "track": late % (2 * np.pi)}
    channels[name] = turned if name == "heading" else np.arctan(50.0 * rate / 9.80665)
    found = estimate_delays(Trace(TIME, channels))
    assert found.turning.late_s == pytest.approx(0.9, abs=0.3)
    assert found.receiver.late_s == pytest.approx(1.0, abs=0.3)
    assert found.receiver.sigma_s < 0.3


def test_static_altitude_behind_gps_altitude():
    height = np.interp(TIME, [100, 300, 400, 500], [100, 700, 700, 400])
    late = np.interp(TIME - 0.8, TIME, height)
    found = estimate_delays(Trace(TIME, {"gps_altitude": height, "pressure_altitude": late}))
    assert found.static.late_s == pytest.approx(0.8, abs=0.15)


def test_one_corner_far_off_does_not_move_the_others():
    corners = [Delay(0.5, 0.1), Delay(0.6, 0.1), Delay(0.55, 0.1), Delay(0.5, 0.1)]
    joined = join_delays([*corners, Delay(2.5, 0.1)])
    assert joined.late_s == pytest.approx(0.55, abs=0.1)
    assert joined.sigma_s > join_delays(corners).sigma_s


def test_a_straight_line_tells_no_shift():
    time = np.arange(0.0, 20.0)
    assert shift_between(time, 2.0 * time, time, 2.0 * time - 1.0, 1.0) is None


def test_airspeed_is_as_late_as_measured_or_as_usual():
    nothing = estimate_delays(Trace(TIME, {"fuel_flow": TIME}))
    assert airspeed_late_s(nothing) == AIRSPEED_S[0]
    assert airspeed_late_s(estimate_delays(trace(1.4))) > AIRSPEED_S[0]


@cache
def errors(rate_hz):
    """Errors and sigmas of the delays of 30 flights, by name."""
    found = {"airspeed": [], "receiver": []}
    for seed in range(3000, 3030):
        made = make_flight(seed, rate_hz)
        truth = made.truth.sensors
        rolls = [(one["release"] - 15, one["up15"] + 15)
                 for one in made.truth.takeoffs + made.truth.rolling]  # fmt: skip
        delays = estimate_delays(Trace(made.time_s, made.channels), rolls)
        for name, true in (("airspeed", "airspeed_delay_s"), ("receiver", "gps_delay_s")):
            one = getattr(delays, name)
            found[name].append((one.late_s - truth[true], one.sigma_s))
    return {name: np.array(values) for name, values in found.items()}


@pytest.mark.parametrize("rate_hz", [1.0, 4.0])
@pytest.mark.parametrize(("name", "spread"), [("airspeed", 0.4), ("receiver", 0.3)])
def test_delays_of_made_flights_are_within_their_sigmas(rate_hz, name, spread):
    error, sigma = errors(rate_hz)[name].T
    known = np.isfinite(error)
    assert known.sum() >= 5
    assert np.sqrt(np.mean(error[known] ** 2)) < spread
    assert (np.abs(error[known]) < 2.5 * sigma[known]).mean() >= 0.9


def test_wing_is_told_from_flight_and_carries_at_liftoff():
    made = make_flight(12, 4.0, Plan(accelerations=True))
    truth = made.truth.takeoffs[0]
    recording = Trace(made.time_s, made.channels)
    delays = estimate_delays(recording, [(truth["release"] - 10, truth["up15"] + 15)])
    wing = fit_wing(recording, delays, truth["up15"])
    assert wing is not None
    found = carried_s(recording, wing, truth["release"], truth["up15"])
    assert found is not None
    assert found[0] == pytest.approx(truth["liftoff"], abs=0.5)
    assert found[1] < 1.0


def test_wing_needs_pitch_airspeed_and_height():
    made = make_flight(12, 1.0, Plan(missing=("pitch",)))
    recording = Trace(made.time_s, made.channels)
    assert fit_wing(recording, estimate_delays(recording), made.time_s[200]) is None


def test_lift_that_never_carries_gives_no_time():
    time = np.arange(0.0, 30.0, 0.5)
    channels = {"pitch": 0.01 + 0.0 * time, "indicated_airspeed": time}
    assert carried_s(Trace(time, channels), Wing(165.0, 0.05, 0.5, 33.0), 2.0, 28.0) is None
