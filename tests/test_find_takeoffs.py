"""Take-offs in made flights with known truth, and everything that only looks like one."""

from __future__ import annotations

import dataclasses
from functools import cache

import numpy as np
import pytest

from stdday.bands import Bands
from stdday.find_liftoff import ChannelTime, find_liftoff, join_times, nose_up_s
from stdday.find_takeoffs import brake_release_s, find_takeoffs
from stdday.signals import Trace
from tests.make_flights import Plan, make_flight
from tests.point_scores import LIFTOFF_MS, score_flights

RATES_HZ = (1.0, 4.0, 10.0)
FLIGHTS = 40
ALL_BUT = ("pitch", "normal_acceleration", "vertical_speed", "power", "track", "heading",
           "manifold_pressure", "fuel_flow", "outside_air_temperature", "engine_speed",
           "indicated_airspeed", "pressure_altitude")  # fmt: skip


@cache
def scored(rate_hz):
    return score_flights(range(1000, 1000 + FLIGHTS), rate_hz)


def errors(rate_hz, start):
    score = scored(rate_hz)
    found = [value for name, values in score.errors.items() if name.startswith(start)
             for value in values]  # fmt: skip
    return np.array(found)


def takeoffs(made, **kept):
    return find_takeoffs(Trace(made.time_s, made.channels), liftoff_airspeed_ms=LIFTOFF_MS, **kept)


def used(made):
    return [one for one in takeoffs(made) if one.used]


def hand_made(time, speed, height, **others):
    channels = {"ground_speed": speed, "gps_altitude": height, **others}
    return Trace(time, channels)


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_standing_takeoffs_are_found_and_nothing_else(rate_hz):
    score = scored(rate_hz)
    assert score.right["take-off"] >= FLIGHTS
    assert score.precision("take-off") >= 0.99, score.wrong
    assert score.recall("take-off") >= 0.99, score.missed
    assert score.recall("rolling start named") >= 0.99, score.missed


# Measured over 200 other flights with tests/benchmarks/find_points.py; GPS delays of up to 0.4 s,
# which nothing in a recording reveals, are a part of each error.
@pytest.mark.parametrize(("rate_hz", "spread"), [(1.0, 0.9), (4.0, 0.75), (10.0, 0.75)])
def test_time_of_liftoff(rate_hz, spread):
    error = errors(rate_hz, "lift-off, with")
    assert abs(error.mean()) < 0.3
    assert np.percentile(np.abs(error), 90) < spread


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_time_of_brake_release(rate_hz):
    error = errors(rate_hz, "brake release")
    assert -0.1 < error.mean() < 0.5
    assert np.percentile(np.abs(error), 95) < 1.0


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_time_of_50_ft(rate_hz):
    error = errors(rate_hz, "50 ft")
    assert abs(error.mean()) < 0.35
    assert np.percentile(np.abs(error), 90) < 0.8


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_time_to_liftoff(rate_hz):
    error = errors(rate_hz, "time to lift-off")
    assert abs(error.mean()) < 0.4
    assert np.percentile(np.abs(error), 90) < 1.2


def test_brake_release_between_samples():
    time = np.arange(0.0, 30.0)
    for release in (10.1, 10.4, 10.9):
        speed = np.clip(2.0 * (time - release), 0.0, None)
        found = brake_release_s(Trace(time, {"ground_speed": speed}), 10.0, 18.0)
        assert found == pytest.approx(release, abs=0.2)


def test_receiver_that_shows_nothing_slow_does_not_shift_brake_release():
    time = np.arange(0.0, 30.0, 0.25)
    speed = np.clip(2.0 * (time - 10.0), 0.0, None)
    speed[speed < 1.0] = 0.0
    found = brake_release_s(Trace(time, {"ground_speed": speed}), 10.0, 18.0)
    assert found == pytest.approx(10.0, abs=0.3)


def test_aborted_takeoff_is_named_and_not_used():
    for seed in range(5):
        made = make_flight(seed, 4.0, Plan(abort=True))
        found = takeoffs(made)
        named = [one for one in found if "aborted" in one.reason]
        assert [one.used for one in named] in ([False], [])  # given up below 19 kt is no row
        assert len([one for one in found if one.used]) == 1
        assert all(
            abs(one.start_s - made.truth.aborted[0]) < 15 and "kt" in one.reason for one in named
        )


def test_runup_is_named_and_not_used():
    made = make_flight(3, 1.0, Plan())
    named = [one for one in takeoffs(made) if "run-up" in one.reason]
    assert len(named) == 1
    assert not named[0].used


def test_touch_and_go_is_named_and_not_used():
    for seed in range(4):
        made = make_flight(seed, 4.0, Plan(touch_and_go=True))
        found = takeoffs(made)
        moving = [one for one in found if one.reason.startswith("moving start")]
        assert len([one for one in found if one.used]) == 1
        assert len(moving) == 1
        assert moving[0].start_s == pytest.approx(made.truth.touches[0], abs=12)


def test_stop_and_go_is_a_standing_start():
    for seed in range(4):
        made = make_flight(seed, 4.0, Plan(stop_and_go=True))
        starts = [one.details["brake_release_s"] for one in used(made)]
        truth = [one["release"] for one in made.truth.takeoffs]
        assert len(truth) == 2
        assert starts == pytest.approx(truth, abs=1.2)


def test_rolling_start_is_named():
    for seed in range(4):
        made = make_flight(seed, 4.0, Plan(rolling=True))
        reasons = [one.reason for one in takeoffs(made) if not one.used]
        assert any(reason.startswith("rolling start") for reason in reasons)
        assert used(made) == []


@pytest.mark.parametrize("missing", [(), ("indicated_airspeed",)])
def test_slow_flight_at_altitude_is_not_a_takeoff(missing):
    """Into a wind aloft as fast as the airplane: ground speed through nothing, then full power."""
    for seed in range(6):
        made = make_flight(seed, 1.0, Plan(slow_flight=True, missing=missing))
        assert np.nanmin(made.channels["ground_speed"][len(made.time_s) // 3 : -300]) < 2
        truth = made.truth.takeoffs
        assert len(used(made)) == len(truth) == 1


def test_recording_that_starts_in_flight():
    made = make_flight(1, 1.0, Plan(starts_airborne=True))
    assert used(made) == []


def test_recording_that_ends_soon_after_liftoff_says_so():
    made = make_flight(2, 4.0, Plan())
    cut = made.time_s < made.truth.takeoffs[0]["up15"] + 8
    trace = Trace(made.time_s[cut], {name: one[cut] for name, one in made.channels.items()})
    found = [one for one in find_takeoffs(trace, liftoff_airspeed_ms=25.0) if one.details]
    assert [one.used for one in found] == [False]
    assert "the recording ends" in found[0].reason


def test_static_altitude_alone_is_not_led_by_its_jump_under_power():
    """Static altitude rises 47 ft at power-up, wheels on the ground (seen in recordings)."""
    time = np.arange(0.0, 180.0)
    engine = np.where((time > 20) & (time < 50), 45.0, 15.0)
    static = 100.0 + np.where(engine > 40, 14.3, 0.0)
    speed = np.where((time > 50) & (time < 100), 6.0, 0.0)
    channels = {"ground_speed": speed, "engine_speed": engine, "pressure_altitude": static}
    found = find_takeoffs(Trace(time, channels))
    assert [one.used for one in found] == [False]
    assert "run-up" in found[0].reason


def test_without_gps_altitude_the_50_ft_time_is_refused():
    made = make_flight(4, 4.0, Plan(missing=("gps_altitude",)))
    found = used(made)
    assert len(found) == 1
    assert np.isnan(found[0].details["height50_s"])
    error = found[0].details["liftoff_s"] - made.truth.takeoffs[0]["liftoff"]
    assert abs(error) < 3 * found[0].details["liftoff_sigma_s"]
    assert found[0].quality.startswith("poor")


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_ground_speed_and_gps_altitude_are_enough(rate_hz):
    for seed in range(3):
        made = make_flight(seed, rate_hz, Plan(missing=ALL_BUT))
        assert set(made.channels) == {"ground_speed", "gps_altitude"}
        found = used(made)
        assert len(found) == 1
        truth = made.truth.takeoffs[0]
        assert found[0].details["liftoff_s"] == pytest.approx(truth["liftoff"], abs=1.5)


def test_without_any_height_the_quality_does_not_say_good():
    missing = (*ALL_BUT, "gps_altitude")
    made = make_flight(5, 4.0, Plan(missing=missing))
    for one in takeoffs(made):
        assert one.quality != "good"


def test_without_ground_speed_there_are_none():
    made = make_flight(5, 1.0, Plan(missing=("ground_speed", "track")))
    assert takeoffs(made) == []


def test_sparse_recording_is_found_with_its_quality():
    """One sample each 5 s: found, but nobody may call it good."""
    for seed in range(4):
        made = make_flight(seed, 0.2, Plan(holes=False))
        found = used(made)
        assert len(found) == 1
        assert found[0].quality != "good"
        truth = made.truth.takeoffs[0]
        assert found[0].start_s == pytest.approx(truth["release"], abs=4.0)
        assert found[0].details["liftoff_s"] == pytest.approx(truth["liftoff"], abs=4.0)


def test_repeated_stamps():
    """Stamps in whole seconds, two or three rows with the same one."""
    made = make_flight(6, 3.0, Plan())
    trace = Trace(np.floor(made.time_s), made.channels)
    found = [one for one in find_takeoffs(trace, liftoff_airspeed_ms=25.0) if one.used]
    assert len(found) == 1
    truth = made.truth.takeoffs[0]
    assert found[0].details["liftoff_s"] == pytest.approx(truth["liftoff"], abs=1.5)


def test_bursts_of_unknown_samples():
    made = make_flight(7, 4.0, Plan())
    rng = np.random.default_rng(1)
    for name, values in made.channels.items():
        for start in rng.uniform(made.time_s[0], made.time_s[-1], 25):
            length = 2.0 if name == "ground_speed" else 6.0
            values[(made.time_s > start) & (made.time_s < start + length)] = np.nan
    assert len(used(made)) == 1


def test_spikes_in_ground_speed():
    """563 kt in single rows after a drop-out, in recordings of a 150 kt airplane."""
    made = make_flight(8, 1.0, Plan())
    speed = made.channels["ground_speed"]
    rng = np.random.default_rng(2)
    speed[rng.integers(20, 130, 4)] = 290.0
    speed[rng.integers(500, len(speed) - 50, 4)] = 290.0
    assert len(used(made)) == 1


def test_fast_taxi_and_landing_are_not_takeoffs():
    time = np.arange(0.0, 300.0, 0.5)
    speed = np.interp(time, [0, 20, 60, 90, 120, 300], [0, 0, 11.5, 11.5, 0, 0])
    engine = np.where(speed > 0, 22.0, 15.0)
    engine[:5] = 45.0  # the flight's highest
    trace = hand_made(time, speed, 0 * time, engine_speed=engine)
    assert [one for one in find_takeoffs(trace) if one.used] == []


def test_low_passes_and_go_arounds_are_not_takeoffs():
    time = np.arange(0.0, 400.0)
    speed = np.interp(time, [0, 20, 34, 400], [0, 0, 30, 30])
    height = np.interp(time, [0, 32, 100, 200, 215, 300, 400], [0, 0, 200, 6, 6, 150, 150])
    found = find_takeoffs(hand_made(time, speed, height))
    assert [one.used for one in found] == [True]


def test_a_hop_is_not_a_takeoff():
    time = np.arange(0.0, 200.0, 0.5)
    speed = np.interp(time, [0, 20, 34, 50, 70, 200], [0, 0, 30, 30, 0, 0])
    height = np.interp(time, [0, 32, 40, 50, 60, 200], [0, 0, 25, 3, 0, 0])
    found = find_takeoffs(hand_made(time, speed, height))
    assert [one.used for one in found] == [False]
    assert "hop" in found[0].reason


def test_takeoff_with_little_power_is_not_full_throttle():
    time = np.arange(0.0, 200.0, 0.5)
    speed = np.clip(1.5 * (time - 20), 0, 30)
    height = np.clip(2.0 * (time - 42), 0, None)
    power = np.where(time < 120, 40e3, 75e3)
    found = find_takeoffs(hand_made(time, speed, height, power=power))
    assert [one.used for one in found] == [False]
    assert "not full throttle: power 53 %" in found[0].reason


def test_soft_field_is_told_or_flagged():
    """Lifts off, stays a metre up for seconds: the early time, or a word of warning."""
    told = 0
    for seed in range(8):
        made = make_flight(seed, 4.0, Plan(soft=True))
        one = used(made)[0]
        error = one.details["liftoff_s"] - made.truth.takeoffs[0]["liftoff"]
        assert error > -3.0
        assert abs(error) < 2.0 or "nose raised" in one.quality or "low over" in one.quality
        told += "low over" in one.quality
    assert told >= 3


def test_nose_up_time_needs_pitch():
    time = np.arange(0.0, 20.0, 0.5)
    pitch = np.where(time > 12, 0.12, 0.01)
    trace = Trace(time, {"pitch": pitch})
    assert nose_up_s(trace, 0.0, 18.0) == pytest.approx(6.0, abs=0.5)
    assert np.isnan(nose_up_s(Trace(time, {"ground_speed": time}), 0.0, 18.0))


def test_channels_that_disagree_are_left_out():
    joined = join_times(
        [
            ChannelTime("GPS height", 20.0, 0.5),
            ChannelTime("pitch", 20.4, 0.6),
            ChannelTime("vertical speed", 30.0, 1.0),
        ]
    )
    assert joined.time_s == pytest.approx(20.16, abs=0.02)
    assert [one.channel for one in joined.left_out] == ["vertical speed"]


def test_of_two_channels_that_disagree_neither_is_believed():
    joined = join_times([ChannelTime("GPS height", 20.0, 0.5), ChannelTime("pitch", 26.0, 0.5)])
    assert joined.time_s == pytest.approx(23.0)
    assert joined.sigma_s == pytest.approx(3.0)


def test_early_channels_are_followed_where_the_climb_comes_later():
    joined = join_times(
        [
            ChannelTime("normal acceleration", 20.0, 0.4),
            ChannelTime("pitch", 20.5, 0.6),
            ChannelTime("GPS height", 28.0, 0.5),
        ]
    )
    assert 20.0 < joined.time_s < 20.5


def test_no_channel_gives_no_liftoff():
    time = np.arange(0.0, 60.0)
    found = find_liftoff(Trace(time, {"ground_speed": 0 * time}), 10.0, 40.0, "")
    assert np.isnan(found.time_s)
    assert join_times([]).used == ()


def test_bands_are_one_record_that_a_person_can_change():
    made = make_flight(9, 1.0, Plan())
    never = dataclasses.replace(Bands(), standing_s=1e6)
    found = takeoffs(made, bands=never)
    assert not any(one.used for one in found)
    with pytest.raises(dataclasses.FrozenInstanceError):
        never.standing_s = 1.0
