"""Airspeed and ground speed around lift-off: weights, profile, turns, slips of stamps."""

from __future__ import annotations

import numpy as np
import pytest

from stdday.signals import Trace
from stdday.takeoff_near import NEAR_COLUMNS, near_columns
from stdday.takeoff_times import even_slips

LIFTOFF_S = 25.0


def climb_out(wind=0.0, late_s=0.0, exponent=1 / 7, gusts=0.0, seed=1, turn_s=1e9, step_s=0.25):
    """A roll to 25 s, acceleration dying away within 8 s, a climb into a power-law wind."""
    time = np.arange(0.0, 75.0, step_s)
    rate = np.interp(time, [5, 5.1, 25, 33], [0, 1.4, 1.4, 0])
    ground = np.cumsum(rate) * step_s
    height = np.clip(3.0 * (time - 26.0), 0.0, None)
    rng = np.random.default_rng(seed)
    blown = np.convolve(rng.normal(size=len(time)), np.ones(13) / np.sqrt(13), "same") * gusts
    true = ground + wind * (1 + height / 1.5) ** exponent + blown
    air = np.interp(time - late_s, time, true)
    track = np.clip(0.05 * (time - turn_s), 0.0, 1.5)
    return Trace(time, {"ground_speed": ground, "indicated_airspeed": air, "gps_altitude": height,
                        "track": track})  # fmt: skip


def wind_of(near):
    apart = near["near_indicated_airspeed_ms"] - near["near_ground_speed_ms"]
    return apart / near["near_wind_ratio"]


@pytest.mark.parametrize("wind", [0.0, 4.0])
@pytest.mark.parametrize("late_s", [-0.5, 0.5])
def test_a_delay_counts_less_than_at_lift_off(wind, late_s):
    near = near_columns(climb_out(wind, late_s), LIFTOFF_S)
    # At lift-off itself half a second is 0.7 m/s; without wind there is no doubt about its profile.
    assert abs(wind_of(near) - wind) < (0.7 if wind else 0.35)
    known = wind_of(near) + near["near_acceleration_ms2"] * late_s / near["near_wind_ratio"]
    # left: the smoothing of acceleration; and airspeed grows by the wind gradient as well
    assert known == pytest.approx(wind, abs=0.07 + 0.04 * wind)


@pytest.mark.parametrize("exponent", [0.08, 0.22])
def test_another_profile_is_within_its_doubt(exponent):
    near = near_columns(climb_out(4.0, exponent=exponent), LIFTOFF_S)
    off = wind_of(near) - 4.0
    doubt = 4.0 * abs(exponent - 1 / 7) * near["near_wind_ratio_slope"] / near["near_wind_ratio"]
    assert abs(off) < 1.3 * doubt + 0.15


def test_gusts_are_told_as_large_as_they_are():
    found = [near_columns(climb_out(3.0, gusts=0.6, seed=seed), LIFTOFF_S) for seed in range(30)]
    error = np.array([wind_of(one) - 3.0 for one in found])
    sigma = np.array([one["near_gust_sigma_ms"] / one["near_wind_ratio"] for one in found])
    assert 0.6 < np.std(error) / np.mean(sigma) < 1.2


def test_a_turn_ends_the_window():
    assert near_columns(climb_out(), LIFTOFF_S)["near_span_s"] > 35
    assert near_columns(climb_out(turn_s=35.0), LIFTOFF_S)["near_span_s"] < 16


def test_without_airspeed_nothing_is_said():
    trace = Trace(np.arange(0.0, 60.0), {"ground_speed": np.arange(0.0, 60.0)})
    near = near_columns(trace, LIFTOFF_S)
    assert set(near) == set(NEAR_COLUMNS)
    assert np.isnan(list(near.values())).all()


def test_only_what_makes_up_for_each_other_is_evened():
    hole = np.array([0.0, 1.0, 2.0, 4.0, 5.0, 6.0])
    assert even_slips(hole).tolist() == hole.tolist()
    skipped_first = np.array([0.0, 1.0, 3.0, 4.0, 4.5, 5.0, 6.0])
    assert even_slips(skipped_first).tolist() == [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0]
    quick = np.arange(0.0, 3.0, 0.25)
    assert even_slips(quick).tolist() == quick.tolist()
