"""Acceleration fitted to made rolls: noise, lost samples, delay, slow receivers, too little."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from stdday.roll_fit import ROLL_COLUMNS, roll_columns
from stdday.signals import Trace

TRUE = (2.4, -0.02, -0.0008)


def speeds(time):
    """Ground speed of the true roll at times from brake release [m/s]."""
    flight = solve_ivp(
        lambda _, v: TRUE[0] + v * (TRUE[1] + v * TRUE[2]), (0.0, 60.0), [0.0], rtol=1e-9,
        dense_output=True, atol=1e-9,
    )  # fmt: skip
    return np.where(time > 0, flight.sol(np.maximum(time, 0.0))[0], 0.0)


LIFTOFF_S = 14.0


def fit(rate, noise=0.06, delay=0.0, seed=1, lost=0.0, change=None):
    rng = np.random.default_rng(seed)
    time = np.arange(-5.0, 20.0, 1.0 / rate) + rng.uniform(0, 1.0 / rate)
    speed = speeds(time - delay) + noise * rng.standard_normal(len(time)) * (time > delay)
    speed[rng.random(len(time)) < lost] = np.nan
    if change is not None:
        speed = change(time, speed)
    return roll_columns(Trace(time, {"ground_speed": speed}), 0.0, LIFTOFF_S)


def distance(found, speed=26.0):
    """Distance to a ground speed by a fit [m]."""
    v = np.linspace(0.0, speed, 4001)
    a = found["roll_a0_ms2"] + v * (found["roll_a1_per_s"] + v * found["roll_a2_per_m"])
    return np.trapezoid(v / a, v)


KNOWN = distance(dict(zip(ROLL_COLUMNS, TRUE, strict=False)))


@pytest.mark.parametrize("rate", [1.0, 4.0, 10.0])
@pytest.mark.parametrize("delay", [0.0, 0.8])
def test_distance_by_the_fit_meets_the_truth(rate, delay):
    off = [distance(fit(rate, delay=delay, seed=seed)) / KNOWN - 1 for seed in range(30)]
    assert abs(np.mean(off)) < 0.01
    assert np.std(off) < {1.0: 0.02, 4.0: 0.012, 10.0: 0.01}[rate]


def test_covariance_tells_the_scatter():
    found = [fit(4.0, noise=0.1, seed=seed) for seed in range(80)]
    at = np.array([1.0, 20.0, 400.0])
    ends, sigmas = [], []
    for one in found:
        a, b, c = (one[f"roll_var_a{n}"] for n in range(3))
        d, e, f = (one[f"roll_cov_{n}"] for n in ("a0_a1", "a0_a2", "a1_a2"))
        sigmas.append(np.sqrt(at @ np.array([[a, d, e], [d, b, f], [e, f, c]]) @ at))
        ends.append(at @ [one["roll_a0_ms2"], one["roll_a1_per_s"], one["roll_a2_per_m"]])
    # The prior draws both together: the scatter may not be larger than said.
    assert 0.4 < np.std(ends) / np.median(sigmas) < 1.3
    assert found[0]["roll_scatter_ms"] == pytest.approx(0.1, rel=0.4)


def test_lost_samples_and_single_wrong_ones():
    def wrong(time, speed):
        speed[np.searchsorted(time, 6.0)] = 45.0
        return speed

    clean = distance(fit(4.0))
    assert distance(fit(4.0, lost=0.4)) == pytest.approx(clean, rel=0.03)
    assert distance(fit(4.0, change=wrong)) == pytest.approx(clean, rel=0.03)


def test_a_slow_receiver_in_a_fast_recording():
    def held(time, speed):
        return speed[np.searchsorted(time, np.floor(time), side="left").clip(0, len(time) - 1)]

    assert distance(fit(10.0, change=held)) == pytest.approx(KNOWN, rel=0.03)


@pytest.mark.parametrize(
    "change",
    [
        lambda time, speed: np.full_like(speed, np.nan),
        lambda time, speed: np.where((time > 3) & (time < 9), np.nan, speed),
        lambda time, speed: np.where(time < 10, np.nan, speed),
        lambda time, speed: np.where(speed > 1, 20.0, 0.0),
    ],
    ids=["nothing", "hole", "starts late", "stuck"],
)
def test_what_carries_no_fit_is_missing(change):
    found = fit(4.0, change=change)
    assert set(found) == set(ROLL_COLUMNS)
    assert np.isnan(list(found.values())).all()


def test_times_that_are_not_known():
    trace = Trace([0.0, 1.0], {"ground_speed": [0.0, 1.0]})
    for times in ((np.nan, 9.0), (3.0, np.nan), (9.0, 3.0)):
        assert np.isnan(list(roll_columns(trace, *times).values())).all()
