"""Level accelerations: found, cut into windows, and told apart from what is none."""

from __future__ import annotations

import numpy as np
import pytest

from stdday.find_accelerations import acceleration_windows, find_accelerations
from stdday.signals import Trace

KT = 1852 / 3600


def flight(*, power=75e3, opens_s=0.0, sink=0.0, turn=0.0, back=False, rate=0.4):
    """Level at 60 kt, a climb, then an acceleration to 105 kt and level there."""
    time = np.arange(0.0, 500.0)
    speed = np.full(len(time), 60 * KT)
    growing = np.clip(rate * (time - 300.0), 0.0, 45 * KT)
    speed = speed + (45 * KT - growing if back else growing)
    altitude = 500.0 + np.clip(4.0 * (time - 60.0), 0.0, 800.0)
    altitude = altitude - np.clip(sink * (time - 300.0), 0.0, None)
    full = np.where((time > 60) & (time < 260), 75e3, 40e3)
    opening = 40e3 + (power - 40e3) * np.clip((time - 295) / max(opens_s, 1e-9), 0.0, 1.0)
    full = np.where((time >= 295) & (time < 420), opening, full)
    heading = 1.0 + np.clip(turn * (time - 300.0), 0.0, 3.0)
    rng = np.random.default_rng(4)
    channels = {
        "pressure_altitude": altitude + rng.normal(0, 0.6, len(time)),
        "indicated_airspeed": speed + rng.normal(0, 0.2, len(time)),
        "power": full, "heading": heading,
    }  # fmt: skip
    return Trace(time, channels)


def only(trace):
    found = find_accelerations(trace)
    assert len(found) == 1
    return found[0]


def test_an_acceleration_is_found_where_it_is():
    one = only(flight())
    assert one.used
    assert one.start_s == pytest.approx(300, abs=6)
    assert one.end_s == pytest.approx(300 + 45 * KT / 0.4, abs=6)
    assert one.details["gained_ms"] == pytest.approx(45 * KT, rel=0.1)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"power": 60e3}, "not full throttle"),
        ({"sink": 1.6}, "altitude not steady"),
        ({"turn": 0.05}, "turning"),
        ({"back": True}, "deceleration from 1"),
    ],
)
def test_what_is_none_is_kept_with_its_reason(changes, words):
    one = only(flight(**changes))
    assert not one.used
    assert words in one.reason


def test_the_seconds_in_which_the_throttle_opens_are_left_out():
    slow, quick = only(flight(opens_s=15.0)), only(flight())
    assert slow.used
    assert quick.start_s + 4 < slow.start_s < 312
    assert slow.end_s == pytest.approx(quick.end_s, abs=2)


def test_a_roll_on_the_ground_is_not_looked_at():
    trace = flight(rate=0.8)
    found = find_accelerations(trace, liftoff_airspeed_ms=60 * KT)
    assert len(found) == 1
    start = trace.mean("indicated_airspeed", found[0].start_s, found[0].start_s + 2)
    assert start > 70 * KT


def test_a_slow_or_short_gain_of_airspeed_is_none():
    assert find_accelerations(flight(rate=0.05)) == []
    trace = flight()
    speed = np.minimum(trace.raw("indicated_airspeed"), 70 * KT)
    channels = {name: trace.raw(name) for name in ("pressure_altitude", "power", "heading")}
    assert find_accelerations(Trace(trace.time_s, channels | {"indicated_airspeed": speed})) == []


def test_without_the_channels_there_is_nothing():
    assert find_accelerations(Trace(np.arange(50.0), {"pressure_altitude": np.zeros(50)})) == []


def test_windows_follow_one_another_over_the_whole_run():
    trace = flight()
    one = only(trace)
    windows = acceleration_windows(trace, one.start_s, one.end_s)
    assert 6 <= len(windows) <= 9
    assert windows[0][1] == pytest.approx(one.start_s, abs=1.0)
    assert windows[-1][2] == pytest.approx(one.end_s, abs=1.0)
    assert [before[2] for before in windows[:-1]] == [after[1] for after in windows[1:]]
