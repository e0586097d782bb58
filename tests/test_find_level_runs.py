"""Level runs in made flights, and what keeps a level piece from being one."""

from __future__ import annotations

import dataclasses
from itertools import pairwise

import numpy as np
import pytest

from stdday.bands import FOOT_M, KNOT_MS, Bands
from stdday.find_level_runs import find_level_runs
from stdday.signals import Trace
from tests.test_find_takeoffs import FLIGHTS, RATES_HZ, scored


def level(seconds=120.0, interval=1.0, airspeed=50.0, **others):
    """Climb, level from 100 s on for some time, descend."""
    time = np.arange(0.0, 200.0 + seconds, interval)
    altitude = np.interp(time, [0, 100, 100 + seconds, 200 + seconds], [500, 900, 900, 500])
    values = airspeed(time) if callable(airspeed) else np.full(time.shape, airspeed)
    channels = {"pressure_altitude": altitude, "indicated_airspeed": values}
    for name, make in others.items():
        channels[name] = make(time)
    return Trace(time, channels)


def only(found):
    assert len(found) == 1, found
    return found[0]


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_level_runs_are_found_and_nothing_else(rate_hz):
    score = scored(rate_hz)
    assert score.right["level run"] > 1.5 * FLIGHTS
    assert score.precision("level run") >= 0.98, score.wrong
    assert score.recall("level run") >= 0.97, score.missed


@pytest.mark.parametrize("interval", [0.1, 1.0, 5.0])
def test_bounds_and_settling(interval):
    one = only(find_level_runs(level(interval=interval)))
    assert one.used
    assert 105.0 <= one.start_s <= 118.0
    assert 208.0 <= one.end_s <= 222.0


def test_too_short_says_how_long():
    one = only(find_level_runs(level(seconds=50.0)))
    assert not one.used
    assert one.reason.startswith("level for 4")
    assert "60 s needed" in one.reason


def test_power_change_is_told():
    trace = level(power=lambda time: np.where(time < 160, 50e3, 53.5e3) + 0.0 * time)
    one = only(find_level_runs(trace))
    assert not one.used
    assert one.reason.startswith("power changed by 7 %")


def test_engine_speed_change_splits_a_long_run():
    trace = level(seconds=300.0, engine_speed=lambda time: np.where(time < 250, 40.0, 43.0))
    found = find_level_runs(trace)
    assert [one.used for one in found] == [True, True]
    assert found[0].end_s < 250 < found[1].start_s


def test_turn_is_told():
    trace = level(track=lambda time: np.radians(2.0 * time) % (2 * np.pi))
    one = only(find_level_runs(trace))
    assert not one.used
    assert one.reason.startswith("turning: track changed by")


def test_acceleration_after_levelling_off_is_dropped():
    def airspeed(time):
        return 52.0 - 15.0 * np.exp(-np.clip(time - 100.0, 0, None) / 25.0)

    one = only(find_level_runs(level(seconds=300.0, airspeed=airspeed)))
    assert one.used
    assert 52.0 - airspeed(np.array([one.start_s]))[0] < 1.5
    rate = np.gradient(airspeed(np.arange(one.start_s, one.start_s + 30)))
    assert abs(rate).mean() < 0.05


def test_steady_acceleration_is_not_steady():
    one = only(find_level_runs(level(airspeed=lambda time: 40.0 + 0.1 * time)))
    assert not one.used
    assert "airspeed not steady" in one.reason


def test_gusty_air_needs_a_longer_run():
    def swings(time):
        return 50.0 + 2.5 * KNOT_MS * np.sin(2 * np.pi * time / 35.0)

    assert not only(find_level_runs(level(seconds=85.0, airspeed=swings))).used
    one = only(find_level_runs(level(seconds=180.0, airspeed=swings)))
    assert one.used
    assert "gusty air" in one.quality


def test_slow_flight_is_not_cruise():
    one = only(find_level_runs(level(airspeed=27.0), liftoff_airspeed_ms=25.0))
    assert not one.used
    assert "slow flight: 52 kt is below 1.2 times the lift-off airspeed (58 kt)" in one.reason
    assert only(find_level_runs(level(airspeed=31.0), liftoff_airspeed_ms=25.0)).used


def test_standing_on_the_ground_is_no_level_run():
    time = np.arange(0.0, 300.0)
    channels = {"pressure_altitude": 0 * time, "indicated_airspeed": 0 * time}
    assert find_level_runs(Trace(time, channels)) == []


def test_wave_of_a_hand_flown_run_passes_and_is_graded():
    def make(time):
        return np.interp(time, [0, 100, 220, 320], [500, 900, 900, 500]) + np.where(
            (time > 100) & (time < 220), 40 * FOOT_M * np.sin(2 * np.pi * time / 50.0), 0.0
        )

    trace = level(pressure_altitude=make)
    one = only(find_level_runs(trace))
    assert one.used
    assert "altitude scatter" in one.quality


def test_slow_climb_is_not_level():
    """Within 100 ft of band in a minute, yet 150 ft/min."""
    time = np.arange(0.0, 200.0)
    altitude = 900.0 + 150 * FOOT_M / 60 * time
    channels = {"pressure_altitude": altitude, "indicated_airspeed": np.full(200, 50.0)}
    found = find_level_runs(Trace(time, channels))
    assert not any(one.used for one in found)


def test_windows_do_not_overlap():
    rng = np.random.default_rng(5)
    time = np.arange(0.0, 3000.0)
    steps = np.repeat(rng.uniform(45, 55, 20), 150)
    channels = {"pressure_altitude": np.full(3000, 900.0), "indicated_airspeed": steps}
    found = find_level_runs(Trace(time, channels))
    assert len([one for one in found if one.used]) >= 12
    assert all(first.end_s <= second.start_s for first, second in pairwise(found))


def test_bands_can_be_changed():
    longer = dataclasses.replace(Bands(), level_duration_s=110.0)
    assert not only(find_level_runs(level(), longer)).used
