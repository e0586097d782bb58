"""Climbs in made flights, and what keeps a climb from being one."""

from __future__ import annotations

import numpy as np
import pytest

from stdday.bands import KNOT_MS
from stdday.find_climbs import climb_windows, find_climbs
from stdday.signals import Trace
from tests.test_find_takeoffs import FLIGHTS, RATES_HZ, scored


def climb(seconds=200, rate=4.0, airspeed=33.0, interval=1.0, **others):
    """Level, up, level again; the climb is from 100 s on."""
    time = np.arange(0.0, 200.0 + seconds, interval)
    altitude = 200.0 + rate * np.clip(time - 100.0, 0.0, seconds)
    channels = {
        "pressure_altitude": altitude,
        "indicated_airspeed": np.broadcast_to(airspeed, time.shape).copy(),
        **{name: make(time) for name, make in others.items()},
    }
    return Trace(time, channels)


def only(found):
    assert len(found) == 1
    return found[0]


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_climbs_are_found_and_nothing_else(rate_hz):
    score = scored(rate_hz)
    assert score.right["climb"] > 0.8 * FLIGHTS
    assert score.precision("climb") >= 0.98, score.wrong
    assert score.recall("climb") >= 0.98, score.missed


@pytest.mark.parametrize("interval", [0.1, 1.0, 5.0])
def test_bounds_do_not_reach_into_level_flight(interval):
    one = only(find_climbs(climb(interval=interval)))
    assert one.used
    assert one.start_s == pytest.approx(100.0, abs=8.0)
    assert one.end_s == pytest.approx(300.0, abs=8.0)


def test_short_steep_climb_is_long_enough_by_height():
    assert only(find_climbs(climb(seconds=35, rate=6.0))).used
    assert find_climbs(climb(seconds=35, rate=3.0)) == []


def test_airspeed_that_wanders_is_told():
    time = np.arange(0.0, 400.0)
    airspeed = 33.0 + 6.0 * np.sin(2 * np.pi * time / 80.0)
    one = only(find_climbs(climb(airspeed=airspeed)))
    assert not one.used
    assert "airspeed not constant: 23 kt" in one.reason or "airspeed not constant" in one.reason


def test_two_airspeeds_are_two_climbs():
    time = np.arange(0.0, 400.0)
    airspeed = np.where(time < 200.0, 30.0, 38.0)
    found = find_climbs(climb(airspeed=airspeed))
    assert [one.used for one in found] == [True, True]
    assert found[0].end_s < found[1].start_s


def test_airspeed_settling_after_takeoff_is_dropped():
    time = np.arange(0.0, 400.0)
    airspeed = 33.0 - 8.0 * np.exp(-np.clip(time - 100.0, 0, None) / 12.0)
    one = only(find_climbs(climb(airspeed=airspeed)))
    assert one.used
    assert one.start_s > 110.0
    assert 33.0 - airspeed[int(one.start_s) - 100 + 100] < 4 * KNOT_MS


def test_turn_is_told_and_wandering_is_not_a_turn():
    turning = only(find_climbs(climb(heading=lambda time: np.radians(3.0 * time) % (2 * np.pi))))
    assert not turning.used
    assert "turning: heading changed by" in turning.reason
    across_north = climb(heading=lambda time: np.radians(8.0 * np.sin(time / 20)) % (2 * np.pi))
    assert only(find_climbs(across_north)).used


def test_turn_between_two_straight_parts_splits_the_climb():
    def heading(time):
        return np.radians(np.interp(time, [190, 210], [0, 180]))

    found = find_climbs(climb(heading=heading))
    assert [one.used for one in found] == [True, True]


def test_part_throttle_is_told():
    """Full throttle in a first climb, 25 % less power in a second."""
    time = np.arange(0.0, 700.0)
    altitude = np.interp(time, [0, 100, 250, 400, 550, 700], [200, 200, 800, 800, 1250, 1250])
    airspeed = np.full(700, 33.0)
    power = np.where(time < 300, 75e3, 52e3)
    channels = {"pressure_altitude": altitude, "indicated_airspeed": airspeed, "power": power}
    found = find_climbs(Trace(time, channels), naturally_aspirated=False)
    assert [one.used for one in found] == [True, False]
    assert "not full throttle: power" in found[1].reason


def test_manifold_pressure_falling_with_altitude_is_full_throttle():
    """Naturally aspirated: 1 inHg in 1000 ft is the air's, not the pilot's."""

    def manifold(time):
        altitude = 200.0 + 5.0 * np.clip(time - 100.0, 0.0, 500.0)
        return 0.95 * 101325.0 * (1 - 2.25577e-5 * altitude) ** 5.2559

    trace = climb(seconds=500, rate=5.0, manifold_pressure=manifold)
    one = only(find_climbs(trace))
    assert one.used
    assert one.end_s - one.start_s > 480.0


def test_reference_altitudes_decide_what_is_used():
    trace = climb()  # 200 to 1000 m
    assert only(find_climbs(trace, reference_altitudes_m=(600.0,))).used
    one = only(find_climbs(trace, reference_altitudes_m=(3000.0,)))
    assert not one.used
    assert "passes no reference altitude (9843 ft)" in one.reason


def test_windows_hold_enough_climb():
    trace = climb()
    windows = climb_windows(trace, 100.0, 300.0, [250.0, 600.0, 1095.0, 1500.0])
    assert [position for position, _, _ in windows] == [1, 2]
    _, start, end = windows[1]
    assert (end - start) * 4.0 == pytest.approx(300.0, abs=5.0)


def test_needed_channels():
    trace = climb()
    alone = Trace(trace.time_s, {"pressure_altitude": trace.raw("pressure_altitude")})
    assert find_climbs(alone) == []


def test_no_heading_is_said_in_the_quality():
    assert "no heading or track" in only(find_climbs(climb())).quality


def test_hole_in_airspeed_does_not_split():
    trace = climb()
    airspeed = trace.raw("indicated_airspeed").copy()
    airspeed[200:215] = np.nan
    altitude = trace.raw("pressure_altitude")
    channels = {"pressure_altitude": altitude, "indicated_airspeed": airspeed}
    assert only(find_climbs(Trace(trace.time_s, channels))).used
