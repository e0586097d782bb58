"""Landings in made flights with known truth, and everything that only looks like one."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from stdday.find_landings import find_landings
from stdday.find_touchdown import Touch, find_touchdown, join_touches
from stdday.landing_state import LANDING_COLUMNS, landing_state
from stdday.signals import Trace
from tests import make_flights
from tests.benchmarks.find_landings import Score
from tests.make_landings import make_landings

RATES_HZ = (1.0, 4.0, 10.0)
FLIGHTS = 16


@cache
def scored(rate_hz):
    score = Score()
    for seed in range(5000, 5000 + FLIGHTS):
        score.flight(seed, rate_hz)
    return score


def landings(made, *, details=True):
    found = find_landings(Trace(made.time_s, made.channels))
    return [one for one in found if one.details or not details]


def hand_made(time, speed, height, **others):
    return Trace(time, {"ground_speed": speed, "gps_altitude": height, **others})


# ---- made flights ---------------------------------------------------------------------------


# Measured over 100 other flights a rate with tests/benchmarks/find_landings.py.
@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_landings_that_carry_a_ground_roll_are_found_and_nothing_else(rate_hz):
    score = scored(rate_hz)
    assert score.right >= 20
    assert score.right / (score.right + len(score.wrong)) >= 0.95, score.wrong
    assert score.right / (score.right + len(score.missed)) >= 0.85, score.missed


@pytest.mark.parametrize(("rate_hz", "spread"), [(1.0, 1.3), (4.0, 1.1), (10.0, 0.9)])
def test_time_of_touchdown(rate_hz, spread):
    error = np.array(scored(rate_hz).errors["touchdown [s]"])
    assert abs(error.mean()) < 0.4
    assert np.percentile(np.abs(error), 90) < spread


@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize("name", ["touchdown error / sigma", "ground roll error / sigma"])
def test_stated_sigmas_hold(rate_hz, name):
    ratio = np.array(scored(rate_hz).errors[name])
    assert np.mean(np.abs(ratio) < 2.0) >= 0.9


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_time_of_50_ft(rate_hz):
    error = np.array(scored(rate_hz).errors["50 ft [s]"])
    error = error[np.isfinite(error)]
    assert abs(error.mean()) < 0.4
    assert np.percentile(np.abs(error), 90) < 1.0


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_go_arounds_are_not_landings(rate_hz):
    for seed in range(3):
        made = make_landings(seed, rate_hz, ("go-around", "stop"), missing=())
        found = landings(made, details=False)
        assert len(found) == 1
        truth = made.landings[1].touchdown_s
        assert found[0].details["touchdown_s"] == pytest.approx(truth, abs=4.0)


def test_touch_and_goes_are_set_aside_with_the_reason():
    for seed in range(4):
        made = make_landings(seed, 4.0, ("touch-and-go", "stop"), missing=())
        found = landings(made, details=False)
        touches = [one for one in found if not one.used]
        assert len(found) == 2
        assert [one.reason.endswith("no ground roll to a stop") for one in touches] == [True]
        assert "touch-and-go" in touches[0].reason
        assert touches[0].start_s - 5 < made.landings[0].touchdown_s < touches[0].end_s + 5


def test_a_touch_that_nothing_proves_is_called_touch_and_go_or_low_pass():
    missing = ("normal_acceleration",)
    made = make_landings(2, 4.0, ("touch-and-go", "stop"), missing=missing)
    touches = [one for one in landings(made, details=False) if not one.used]
    assert [one.reason.split(":")[0] for one in touches] == ["touch-and-go or low pass"]


def test_a_roll_out_to_the_far_exit_makes_no_braking_claim():
    for seed in range(4):
        (found,) = landings(make_landings(seed, 4.0, ("roll-out",), missing=()))
        assert not found.used
        assert found.reason.startswith(("rolled out without hard braking", "left the runway",
                                        "touchdown known to"))  # fmt: skip


def test_a_fast_exit_is_named():
    made = make_landings(3, 4.0, ("fast exit",), missing=())
    (found,) = landings(made)
    assert not found.used
    assert "left the runway at" in found.reason or "rolled out" in found.reason


def test_a_roll_to_taxi_speed_is_reckoned_to_the_stop():
    made = make_landings(4, 4.0, ("taxi",), missing=())
    (found,) = landings(made)
    state = landing_state(Trace(made.time_s, made.channels), found)
    assert found.used
    assert "the rest of the stop reckoned" in found.quality
    assert 2.0 < state["landing_roll_reckoned_m"] < 25.0
    assert state["landing_roll_m"] == pytest.approx(made.landings[0].roll_m, rel=0.2)


def test_the_other_made_flights_agree():
    # A second generator: no roughness step, other flare and braking. Its brakes are at 1.3 m/s^2.
    found, flights = 0, 12
    for seed in range(flights):
        made = make_flights.make_flight(seed, 4.0, make_flights.Plan(slow_flight=True))
        stops = landings(made)
        assert len(stops) <= 1, [one.details for one in stops]
        found += len(stops)
    assert found >= flights - 1


def test_flights_that_end_in_the_air_have_no_landing():
    made = make_flights.make_flight(5, 1.0, make_flights.Plan(ends_airborne=True))
    assert landings(made) == []


def test_slow_recordings_are_found_but_carry_no_roll():
    made = make_landings(6, 0.2, ("stop",), missing=("normal_acceleration", "pitch"))
    for one in landings(made):
        assert not one.used or one.details["touchdown_sigma_s"] <= 2.0


def test_without_any_height_it_is_still_a_landing():
    missing = ("gps_altitude", "pressure_altitude", "vertical_speed")
    made = make_landings(7, 4.0, ("stop",), missing=missing)
    (found,) = landings(made)
    assert np.isnan(found.details["height50_s"])
    assert found.details["touchdown_s"] == pytest.approx(made.landings[0].touchdown_s, abs=3.0)


def test_static_altitude_gives_no_50_ft():
    made = make_landings(8, 4.0, ("stop",), missing=("gps_altitude",))
    (found,) = landings(made)
    assert np.isnan(found.details["height50_s"])
    state = landing_state(Trace(made.time_s, made.channels), found)
    assert np.isnan(state["air_distance_m"])


def test_nothing_without_ground_speed():
    time = np.arange(100.0)
    assert find_landings(Trace(time, {"gps_altitude": np.linspace(100, 0, 100)})) == []


# ---- by hand --------------------------------------------------------------------------------


def braked(rate=2.0, step=0.25):
    """Touchdown at 200 s, brakes from 201 s on."""
    time = np.arange(0.0, 260.0, step)
    speed = np.clip(26.0 - rate * np.clip(time - 201.0, 0.0, None), 0.0, None)
    return time, speed, np.clip(1.5 * (200.0 - time), 0.0, None)


def test_a_landing_measured_by_hand():
    time, speed, height = braked()
    east = np.cumsum(speed) * 0.25
    trace = hand_made(
        time, speed, height, indicated_airspeed=speed + 3.0, latitude=np.zeros(len(time)),
        longitude=np.degrees(east / 6_371_000.0), pressure_altitude=height + 50.0,
        outside_air_temperature=288.0 - 0.0065 * height,
    )  # fmt: skip
    (found,) = find_landings(trace)
    state = landing_state(trace, found)
    assert set(state) == set(LANDING_COLUMNS)
    # One second at 26 m/s, then 26^2/(2*2); a second of touchdown is 26 m.
    late = found.details["touchdown_s"] - 200.0
    assert state["landing_roll_m"] == pytest.approx(26.0 + 169.0 - 26.0 * late, abs=3.0)
    assert state["touchdown_ground_speed_ms"] == pytest.approx(26.0, abs=0.6)
    assert state["height50_s"] == pytest.approx(200.0 - 15.24 / 1.5, abs=0.3)
    assert state["near_indicated_airspeed_ms"] - state["near_ground_speed_ms"] == (
        pytest.approx(3.0, abs=0.05)
    )
    assert state["track_rad"] == pytest.approx(np.pi / 2, abs=0.01)
    assert state["field_pressure_altitude_m"] == pytest.approx(50.0, abs=0.5)
    assert state["climb_temperature_at_field_k"] == pytest.approx(288.0, abs=0.1)
    assert landing_state(trace, found, field_pressure_altitude_m=80.0)[
        "field_pressure_altitude_m"] == 80.0  # fmt: skip


def test_slow_flight_against_a_wind_is_not_a_landing():
    time = np.arange(0.0, 400.0, 0.5)
    speed = np.interp(time, [0, 150, 200, 260, 300], [30, 30, 1, 1, 30])
    height = 900.0 + np.interp(time, [0, 150], [200, 0])
    airspeed = np.full(len(time), 26.0)
    assert find_landings(hand_made(time, speed, height, indicated_airspeed=airspeed)) == []


def test_a_hole_in_the_roll_is_named():
    time, speed, height = braked()
    speed[(time > 203.0) & (time < 210.5)] = np.nan
    (found,) = find_landings(hand_made(time, speed, height))
    assert not found.used
    assert found.reason.startswith(("ground speed missing for 8 s", "touchdown known"))


def test_fast_taxi_is_not_a_landing():
    time = np.arange(0.0, 300.0, 0.5)
    speed = np.interp(time, [0, 50, 80, 100, 150, 170], [0, 0, 15, 15, 0, 0])
    assert find_landings(hand_made(time, speed, np.full(len(time), 30.0))) == []


def test_brakes_are_not_the_flare():
    time = np.arange(0.0, 40.0, 0.25)
    speed = 30.0 - 0.8 * np.clip(time - 10, 0, None) - 1.6 * np.clip(time - 22, 0, None)
    height = 1.5 * np.clip(12.0 - time, 0.0, None)
    found = find_touchdown(hand_made(time, speed, height + 0.3 * np.clip(20 - time, 0, 8)),
                           4.0, 28.0, "gps_altitude")  # fmt: skip
    assert found.brakes_s == pytest.approx(22.0, abs=0.4)


# ---- joining ----------------------------------------------------------------------------------


def test_the_odd_one_out_is_left_out():
    found = join_touches([Touch("a", 20.0, 0.5), Touch("b", 20.4, 0.5), Touch("c", 30.0, 0.5)])
    assert found.time_s == pytest.approx(20.2)
    assert [one.channel for one in found.left_out] == ["c"]


def test_two_that_disagree_are_known_no_better_than_half_of_it():
    found = join_touches([Touch("a", 20.0, 0.5), Touch("b", 30.0, 0.5)])
    assert (found.time_s, found.sigma_s) == (25.0, 5.0)


def test_none_is_nothing():
    assert np.isnan(join_touches([]).time_s)
