"""Helpers on signals in time: uneven samples, holes, angles, steady windows."""

from __future__ import annotations

import numpy as np
import pytest

from stdday.errors import InputError
from stdday.signals import (
    Trace,
    fit_line,
    integrate,
    on_even_grid,
    runs,
    slope,
    smooth,
    steady_reach,
    unwrap,
)
from stdday.steady import Criterion, steady_windows, what_fails

EPOCH_S = 1_750_000_000.0
NAN = float("nan")


def test_runs_at_the_ends_and_none():
    assert runs([True, True, False, True]).tolist() == [[0, 2], [3, 4]]
    assert runs([False, False]).shape == (0, 2)
    assert runs([]).shape == (0, 2)


def test_long_holes_stay_unknown_and_short_ones_are_bridged():
    grid = np.arange(0.0, 40.0)
    time = np.array([0.0, 1.0, 2.0, 8.0, 9.0, 30.0, 31.0])
    even = on_even_grid(time, 2.0 * time, grid, 12.0)
    assert even[5] == pytest.approx(10.0)
    assert np.isnan(even[10:30]).all()
    assert np.isnan(even[32:]).all()


def test_unknown_samples_open_holes_too():
    time = np.arange(0.0, 60.0)
    values = np.where((time > 10) & (time < 40), NAN, 1.0)
    assert np.isnan(on_even_grid(time, values, time, 12.0)[11:40]).all()


def test_no_known_sample():
    assert np.isnan(on_even_grid([0.0, 1.0], [NAN, NAN], [0.0, 1.0], 5.0)).all()


@pytest.mark.parametrize("interval", [0.1, 0.73, 1.0, 4.9])
def test_slope_is_that_of_the_line_at_any_rate(interval):
    time = EPOCH_S + np.arange(0.0, 300.0, interval)
    trace = Trace(time, {"pressure_altitude": 3.0 * (time - EPOCH_S)}, 0.5, 12.0)
    rate = slope(trace.even("pressure_altitude"), 20.0, 0.5)
    np.testing.assert_allclose(rate[45:-45], 3.0, atol=0.01)


def test_smoothing_keeps_a_line_and_what_is_unknown():
    values = np.arange(50.0)
    values[20:25] = NAN
    result = smooth(values, 8.0, 1.0)
    known = np.isfinite(values)
    np.testing.assert_allclose(result[known], values[known], atol=1e-9)
    assert np.isnan(result[20:25]).all()


def test_smoothing_averages_noise():
    noise = np.random.default_rng(1).normal(size=4000)
    assert smooth(noise, 20.0, 1.0).std() == pytest.approx(21**-0.5, rel=0.15)


def test_angles_across_north():
    turned = np.degrees(unwrap(np.radians([358.0, 359.0, 1.0, NAN, 3.0])))
    np.testing.assert_allclose(turned, [358.0, 359.0, 361.0, NAN, 363.0])


def test_line_in_epoch_seconds_loses_nothing():
    time = EPOCH_S + np.arange(0.0, 10.0, 0.1)
    line = fit_line(time, 5.0 + 0.25 * (time - EPOCH_S))
    assert line.rate == pytest.approx(0.25, rel=1e-9)
    assert line.scatter == pytest.approx(0.0, abs=1e-6)


def test_line_of_little():
    assert fit_line([0.0, 1.0], [1.0, 2.0]).mean == 1.5
    assert np.isnan(fit_line([0.0, 1.0], [1.0, 2.0]).rate)
    assert fit_line([0.0, 1.0], [NAN, NAN]).count == 0
    assert np.isnan(fit_line([1.0, 1.0, 1.0], [1.0, 2.0, 3.0]).rate)


def test_integral_needs_known_ends():
    time = np.arange(0.0, 10.0)
    assert integrate(time, 2.0 * time, 1.5, 4.5) == pytest.approx(4.5**2 - 1.5**2)
    assert np.isnan(integrate(time, 2.0 * time, -1.0, 4.0))


def longest(*series: tuple[np.ndarray, float]) -> tuple[int, int]:
    """The longest steady window, where nothing else asks anything of it."""
    criteria = [Criterion("", values, spread) for values, spread in series]
    windows = steady_windows(criteria, 0, len(series[0][0]), lambda first, last: last > first)
    return max(windows, key=lambda window: window[1] - window[0])


def test_longest_steady_window_of_several_signals():
    first = np.array([0.0, 0.0, 0.0, 0.0, 9.0, 0.0, 0.0])
    second = np.array([0.0, 0.0, 5.0, 5.0, 5.0, NAN, 5.0])
    assert longest((first, 1.0)) == (0, 4)
    assert longest((first, 1.0), (second, 1.0)) == (0, 2)
    assert longest((second, 1.0)) == (2, 7)


def test_steady_reach_against_trying_all():
    rng = np.random.default_rng(3)
    for count in (0, 1, 2, *rng.integers(3, 40, size=30)):
        values = np.cumsum(rng.normal(size=count))
        values[rng.random(count) < 0.1] = NAN
        expected = [
            max(
                last
                for last in range(first + 1, count + 1)
                if not np.isfinite(values[first:last]).any()
                or np.nanmax(values[first:last]) - np.nanmin(values[first:last]) <= 2.0
            )
            for first in range(count)
        ]
        assert steady_reach(values, 2.0).tolist() == expected


def test_all_that_fails_alone_is_told():
    ramp = np.linspace(0.0, 100.0, 50)
    criteria = [Criterion("altitude {} ft", ramp, 5.0), Criterion("speed {} kt", 2 * ramp, 5.0)]
    told = what_fails(criteria, 0, 50, lambda first, last: last - first > 20)
    assert told == "altitude 100 ft; speed 200 kt"
    assert steady_windows(criteria, 0, 50, lambda first, last: last - first > 20) == []


def test_relative_change_is_told_in_per_cent():
    power = np.log(np.where(np.arange(10) < 5, 100.0, 80.0))
    criterion = Criterion("power changed by {} %", power, 0.04, 100.0, relative=True)
    assert criterion.told(0, 10) == "power changed by 20 %"


def test_trace_refuses_time_that_runs_backwards():
    with pytest.raises(InputError, match="must not run backwards"):
        Trace([0.0, 2.0, 1.0], {})
    with pytest.raises(InputError, match="must not run backwards"):
        Trace([0.0, NAN, 1.0], {})
    with pytest.raises(InputError, match="at least 2 samples; got 1"):
        Trace([0.0], {})


def test_trace_without_a_channel():
    trace = Trace([0.0, 1.0, 2.0], {"heading": [NAN, NAN, NAN]})
    assert not trace.has("heading")
    assert np.isnan(trace.even("ground_speed")).all()
    assert np.isnan(trace.mean("ground_speed", 0.0, 2.0))
    assert trace.index(-5.0) == 0
    assert trace.index(99.0) == len(trace.grid_s) - 1
