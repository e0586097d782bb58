"""The moment of touchdown, from every channel that responds to it.

Each channel gives a time of its own with a standard deviation: the mean and width of the likelihood
of a change at each possible time. They are joined by their variances; one that disagrees is left
out, and the quality of the landing says so. A soft touchdown after a long flare shows in no height
to better than about a second; roughness of the runway and the nose coming down tell more.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stdday.signals import Trace

__all__ = ["Touch", "Touchdown", "find_touchdown", "join_touches"]

FloatArray = NDArray[np.float64]

#: Step of the times tried [s]; the answer is a mean over the likelihood, finer than this.
TRY_STEP_S = 0.1
#: Time from rounding out to touchdown, tried in turn [s]: a short flare or a long float; sink at
#: touchdown and its one sigma [m/s]. Piloting practice.
FLARE_S, SINK_MS, SINK_SIGMA_MS = (1.5, 3.0, 5.0, 8.0, 12.0), 0.5, 0.3
#: One sigma of a runway's slope [-]: free to fit, within what runways have.
RUNWAY_SLOPE = 0.01
#: Time in which the nose comes down, tried in turn [s], and how long after touchdown it starts to.
NOSE_DOWN_S, NOSE_STAYS_S = (0.8, 1.6, 3.0), 0.6
#: Flares tried before the brakes come on [-], the least change of deceleration that they make, and
#: the least deceleration from then on [m/s^2]: more than a flare or rolling gives.
FLARES_TRIED, LEAST_BRAKING_MS2, BRAKED_MS2 = 12, 0.4, 1.0
#: Brakes come on 0 to 4 s after touchdown. Piloting practice.
BRAKES_AFTER_S = 1.8
#: Delay of static altitude and of a vertical speed indicator [s]. Typical of panels (about 1 s).
STATIC_DELAY_S, VERTICAL_SPEED_DELAY_S = 1.0, 1.0
#: The last half metre of a float does not show in the height of a receiver: so much later [s].
HOLD_OFF_S = 1.0
#: Least standard deviation of a time from each channel [s]: the form of the manoeuvre differs.
FLOOR_S = {
    "GPS height": 1.5,
    "normal acceleration": 0.35,
    "pitch": 1.0,
    "ground speed": 1.6,
    "vertical speed": 1.6,
    "static altitude": 1.8,
}
#: Gain of a change in roughness that is beyond chance [-] (about 1 %), as for lift-off.
ROUGHNESS_GAIN = 12.0


@dataclass(frozen=True)
class Touch:
    """Time of touchdown as one channel shows it.

    Parameters
    ----------
    channel : str
        Channel, in words.
    time_s, sigma_s : float
        Time and its standard deviation [s].
    """

    channel: str
    time_s: float
    sigma_s: float


@dataclass(frozen=True)
class Touchdown:
    """Time of touchdown.

    Parameters
    ----------
    time_s, sigma_s : float
        Time and its standard deviation [s]; NaN where no channel shows it.
    brakes_s, brakes_sigma_s : float
        Start of braking and its standard deviation [s]; NaN where the deceleration shows none.
    used, left_out : tuple of Touch
        Channels that agree, and those that do not.
    """

    time_s: float
    sigma_s: float
    brakes_s: float
    brakes_sigma_s: float
    used: tuple[Touch, ...]
    left_out: tuple[Touch, ...]


def find_touchdown(trace: Trace, low_s: float, slow_s: float, height: str) -> Touchdown:
    """Find touchdown between a height that is surely flight and a speed that is surely a taxi.

    Parameters
    ----------
    trace : Trace
        Recording.
    low_s : float
        Last time surely in the air, some 10 m above the runway [s].
    slow_s : float
        Time at which the airplane has slowed down to a taxi [s].
    height : str
        Channel that `low_s` was read from: ``gps_altitude`` or ``pressure_altitude``; empty where
        neither was recorded.

    Returns
    -------
    Touchdown
        All NaN where no channel shows it.

    Examples
    --------
    A descent at 1.5 m/s that ends on the runway, and brakes at 2 m/s^2 one second later:

    >>> time = np.arange(0.0, 30.0, 0.25)
    >>> channels = {"gps_altitude": np.clip(1.5 * (12.0 - time), 0.0, None),
    ...             "ground_speed": 26.0 - 2.0 * np.clip(time - 13.0, 0.0, None)}
    >>> found = find_touchdown(Trace(time, channels), 5.0, 24.0, "gps_altitude")
    >>> abs(found.time_s - 12.0) < 1.0, abs(found.brakes_s - 13.0) < 0.3
    (True, True)
    """
    brakes = _brakes(trace, low_s, slow_s)
    last = slow_s if brakes is None else min(brakes.time_s + 2.0, slow_s)
    times = [
        _from_height(trace, low_s, last, "gps_altitude") if height == "gps_altitude" else None,
        _from_roughness(trace, low_s, last, slow_s),
        _from_pitch(trace, low_s, last),
        _from_brakes(brakes),
    ]
    if height != "gps_altitude":
        times.append(_from_vertical_speed(trace, low_s, last))
        times.append(_from_height(trace, low_s, last, height) if height else None)
    found = join_touches([one for one in times if one is not None])
    if brakes is None:
        return found
    return replace(found, brakes_s=brakes.time_s, brakes_sigma_s=brakes.sigma_s)


def join_touches(times: list[Touch]) -> Touchdown:
    """Join the times of several channels by their variances, leaving out what disagrees.

    The channel farthest from the mean of the others is left out while it is more than three
    standard deviations away; of two that disagree both are kept, with half of their distance as
    the standard deviation.

    Parameters
    ----------
    times : list of Touch
        Times; may be empty.

    Returns
    -------
    Touchdown
        Without a start of braking; never raises.

    Examples
    --------
    >>> join_touches([Touch("pitch", 20.0, 1.0), Touch("GPS height", 21.0, 1.0)]).time_s
    20.5
    """
    kept = list(times)
    left_out: list[Touch] = []
    while len(kept) > 1:
        apart = [_apart(one, [other for other in kept if other is not one]) for one in kept]
        place = int(np.argmax(apart))
        if apart[place] <= 3.0:
            break
        if len(kept) == 2:
            middle, _ = _mean(kept)
            half = abs(kept[0].time_s - kept[1].time_s) / 2
            return Touchdown(middle, half, np.nan, np.nan, tuple(kept), tuple(left_out))
        left_out.append(kept.pop(place))
    middle, sigma = _mean(kept) if kept else (np.nan, np.nan)
    return Touchdown(middle, sigma, np.nan, np.nan, tuple(kept), tuple(left_out))


def _apart(one: Touch, others: list[Touch]) -> float:
    """Distance of a time from the mean of others, in standard deviations."""
    middle, sigma = _mean(others)
    return float(abs(one.time_s - middle) / np.hypot(one.sigma_s, sigma))


def _mean(times: list[Touch]) -> tuple[float, float]:
    """Mean weighted by variances, and its standard deviation."""
    weights = np.array([one.sigma_s**-2 for one in times])
    first = times[0].time_s
    apart = np.array([one.time_s - first for one in times])
    return first + float(apart @ weights / weights.sum()), float(weights.sum() ** -0.5)


def _samples(
    trace: Trace, name: str, start_s: float, end_s: float, least: int
) -> tuple[FloatArray, FloatArray] | None:
    """Known samples of a channel between two times, or nothing where there are too few."""
    part = trace.between(start_s, end_s)
    time, values = trace.time_s[part], trace.raw(name)[part]
    known = np.isfinite(values)
    return (time[known], values[known]) if int(known.sum()) >= least else None


def _tried(start_s: float, end_s: float) -> FloatArray:
    return np.arange(start_s, end_s, TRY_STEP_S)


def _fits(basis: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Least squares of a stack of models (m, n, k): sums of squares (m,), coefficients (m, k)."""
    normal = np.einsum("mnk,mnl->mkl", basis, basis) + 1e-9 * np.eye(basis.shape[2])
    moment = np.einsum("mnk,n->mk", basis, values)
    solved = np.linalg.solve(normal, moment[..., None])[..., 0]
    left = values - np.einsum("mnk,mk->mn", basis, solved)
    return np.einsum("mn,mn->m", left, left), solved


def _likely(
    channel: str, tried_s: FloatArray, squares: FloatArray, samples: int, span_s: float
) -> Touch | None:
    """Mean and width of the likelihood over the times tried; squares of shape (forms, times).

    Neighbouring samples share their errors (receivers and panels filter), so that not more than
    one sample a second is counted as independent. Nothing where no form fits.
    """
    if not np.isfinite(squares).any():
        return None
    independent = max(min(float(samples), span_s), 5.0)
    least = float(squares.min())
    variance = max(least / (independent - 4 + 1e-9), 1e-12)
    share = min(1.0, independent / samples)
    weight = np.exp(-0.5 * (squares - least) * share / variance).sum(axis=0)
    weight = weight / weight.sum()
    mean = float(weight @ tried_s)
    spread = float(weight @ (tried_s - mean) ** 2)
    return Touch(channel, mean, float(np.sqrt(spread + FLOOR_S[channel] ** 2)))


def _distance(trace: Trace, time: FloatArray) -> FloatArray:
    """Distance run since the first of the times [m], for the slope of the runway."""
    speed = np.nan_to_num(np.interp(time, trace.grid_s, trace.even("ground_speed")))
    steps = np.diff(time) * (speed[1:] + speed[:-1]) / 2
    return np.concatenate(([0.0], np.cumsum(steps)))


def _from_height(trace: Trace, low_s: float, last_s: float, name: str) -> Touch | None:
    """Fit a descent, a flare that leaves part of the sink, and then a runway."""
    start, end = low_s - 1.0, last_s + 6.0
    found = _samples(trace, name, start, end, least=6)
    tried = _tried(low_s + 0.5, last_s)
    if found is None or len(tried) < 5:
        return None
    time, height = found
    noise = max(0.3, float(np.std(np.diff(height))) / 2)
    # The slope of the runway and the sink at touchdown are parameters with a prior: two more,
    # invented, observations. Without it a float would fit at any time.
    basis = np.zeros((len(tried), len(time) + 2, 4))
    basis[:, :-2, 0] = 1.0
    basis[:, :-2, 1] = _distance(trace, time) * RUNWAY_SLOPE
    basis[:, -2, 1] = noise
    before = np.clip(tried[:, None] - time[None, :], 0, None)
    basis[:, :-2, 2] = before
    basis[:, -1, 2] = noise / SINK_SIGMA_MS
    values = np.concatenate((height - height[-1], [0.0, noise * SINK_MS / SINK_SIGMA_MS]))
    squares = []
    for flare in FLARE_S:
        basis[:, :-2, 3] = np.clip(before - flare, 0, None)
        square, solved = _fits(basis, values)
        likely = (solved[:, 2] > 0.1) & (solved[:, 3] > 0.2)
        squares.append(np.where(likely, square, np.inf))
    channel = "GPS height" if name == "gps_altitude" else "static altitude"
    touch = _likely(channel, tried, np.array(squares), len(time), end - start)
    if touch is None:
        return None
    interval = float(np.median(np.diff(time)))
    late = 0.0 if name == "gps_altitude" else STATIC_DELAY_S
    moved = touch.time_s + HOLD_OFF_S - late
    return Touch(channel, moved, float(np.hypot(touch.sigma_s, interval / 4)))


def _from_roughness(trace: Trace, low_s: float, last_s: float, slow_s: float) -> Touch | None:
    """Normal acceleration from one sample to the next: quiet in the air, rough on the runway."""
    found = _samples(trace, "normal_acceleration", low_s - 4.0, min(last_s + 5.0, slow_s), least=14)
    if found is None:
        return None
    time, load = found
    middle, change = (time[1:] + time[:-1]) / 2, np.diff(load)
    tried = _tried(max(low_s, float(middle[4])), min(last_s + 1.0, float(middle[-5])))
    if len(tried) < 5:
        return None
    cut = np.searchsorted(middle, tried)
    power = np.concatenate(([0.0], np.cumsum(change**2)))
    before, after = power[cut] / cut, (power[-1] - power[cut]) / (len(change) - cut)
    resolution = 0.01**2  # of a logged load factor
    cost = cut * np.log(before + resolution) + (len(change) - cut) * np.log(after + resolution)
    none = len(change) * np.log(power[-1] / len(change) + resolution)
    # Fewer independent samples than samples: filters.
    share = min(1.0, 4 * (time[-1] - time[0]) / len(load))
    rougher = after > before
    if not rougher.any() or (none - cost[rougher].min()) * share < ROUGHNESS_GAIN:
        return None
    cost = np.where(rougher, cost, np.inf)
    weight = np.exp(-0.5 * (cost - cost.min()) * share)
    weight /= weight.sum()
    # The most likely time, not the mean: quiet samples cost less on the wrong side than rough ones.
    best = float(tried[int(np.argmin(cost))])
    spread = float(weight @ (tried - best) ** 2) + FLOOR_S["normal acceleration"] ** 2
    interval = float(np.median(np.diff(time)))
    spread += (interval / 4) ** 2
    return Touch("normal acceleration", best + interval / 2, float(np.sqrt(spread)))


def _ramp(
    trace: Trace, name: str, start_s: float, end_s: float, lasting_s: tuple[float, ...]
) -> tuple[FloatArray, FloatArray, FloatArray, int] | None:
    """Fit a trend, then a ramp to a level: times tried, squares and rises (forms, times)."""
    found = _samples(trace, name, start_s - 3.0, end_s + 4.0, least=8)
    tried = _tried(start_s, end_s)
    if found is None or len(tried) < 5:
        return None
    time, values = found
    squares, rises = [], []
    for lasting in lasting_s:
        basis = np.ones((len(tried), len(time), 3))
        basis[:, :, 1] = np.clip((time[None, :] - tried[:, None]) / lasting, 0, 1)
        basis[:, :, 2] = np.clip(time[None, :] - tried[:, None], None, 0)
        square, solved = _fits(basis, values)
        squares.append(square)
        rises.append(solved[:, 1])
    return tried, np.array(squares), np.array(rises), len(time)


def _from_pitch(trace: Trace, low_s: float, last_s: float) -> Touch | None:
    """The nose comes down, soon after the wheels are on the ground."""
    found = _ramp(trace, "pitch", low_s + 1.0, last_s + 2.0, NOSE_DOWN_S)
    if found is None:
        return None
    tried, squares, rises, samples = found
    squares = np.where(rises < -np.radians(2.5), squares, np.inf)
    touch = _likely("pitch", tried, squares, samples, last_s + 9.0 - low_s)
    return touch and replace(touch, time_s=touch.time_s - NOSE_STAYS_S)


def _from_vertical_speed(trace: Trace, low_s: float, last_s: float) -> Touch | None:
    """The indicated sink goes to nothing, late by its delay; the flare takes most of it out."""
    found = _ramp(trace, "vertical_speed", low_s, last_s + 1.0, FLARE_S)
    if found is None:
        return None
    tried, squares, rises, samples = found
    ends = tried[None, :] + np.array(FLARE_S)[:, None]
    squares = np.where((rises > 0.5) & (ends < last_s + 3.0), squares, np.inf)
    touch = _likely("vertical speed", tried, squares, samples, last_s + 8.0 - low_s)
    if touch is None:
        return None
    lasting = FLARE_S[int(np.argmin(squares.min(axis=1)))]
    return replace(touch, time_s=touch.time_s + lasting - VERTICAL_SPEED_DELAY_S)


def _brakes(trace: Trace, low_s: float, slow_s: float) -> Touch | None:
    """Start of braking: the ground speed falls faster from there on."""
    found = _samples(trace, "ground_speed", low_s - 2.0, slow_s, least=8)
    tried = _tried(low_s + 0.5, slow_s - 1.5)
    if found is None or len(tried) < 5:
        return None
    time, speed = found
    basis = np.ones((len(tried), len(time), 4))
    basis[:, :, 1] = time - time[0]
    basis[:, :, 3] = np.clip(time[None, :] - tried[:, None], 0, None)
    squares = []
    # Before it, from the flare on, the airplane slows down already: where, is tried in turn.
    for flare in np.linspace(low_s, slow_s, FLARES_TRIED, endpoint=False):
        basis[:, :, 2] = np.clip(time - flare, 0, None)
        square, solved = _fits(basis, speed)
        harder = (solved[:, 3] < -LEAST_BRAKING_MS2) & (solved[:, 2] < 0.3) & (tried > flare + 1.0)
        harder &= solved[:, 1:].sum(axis=1) < -BRAKED_MS2
        squares.append(np.where(harder, square, np.inf))
    touch = _likely("ground speed", tried, np.array(squares), len(time), float(time[-1] - time[0]))
    if touch is None:
        return None
    own = np.sqrt(max(touch.sigma_s**2 - FLOOR_S["ground speed"] ** 2, 0.2**2))
    return Touch("brakes", touch.time_s, float(own))


def _from_brakes(brakes: Touch | None) -> Touch | None:
    if brakes is None:
        return None
    sigma = float(np.hypot(brakes.sigma_s, FLOOR_S["ground speed"]))
    return Touch("ground speed", brakes.time_s - BRAKES_AFTER_S, sigma)
