"""The moment of lift-off as single channels of a recording show it.

Each gives the mean and the width of the likelihood of a change at each possible time, with its
usual delay taken out and the doubt about that delay carried.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stdday.delays import ATTITUDE_S, STATIC_S, Delay
from stdday.signals import Trace

__all__ = [
    "ChannelTime",
    "from_ground_speed",
    "from_height",
    "from_normal_acceleration",
    "from_pitch",
    "from_static",
    "from_vertical_speed",
    "known_samples",
    "low_flight",
]

FloatArray = NDArray[np.float64]

#: Step of the times tried [s]; the answer is a mean over the likelihood, finer than this.
TRY_STEP_S = 0.1
#: Time over which the rate of climb builds up after lift-off, tried in turn [s]. Piloting practice.
BUILD_UP_S = (1.0, 2.0, 3.5, 6.0)
#: One sigma of a runway's slope [-]: free to fit, within what runways have.
RUNWAY_SLOPE = 0.01
#: Time of rotation, tried in turn [s], and the part of it done when the wheels leave. Practice.
ROTATION_S, ROTATION_PART = (1.0, 2.0, 3.0), 0.75
#: Delay of a vertical speed indicator [s]. Typical of panels (about 1 s).
VERTICAL_SPEED_DELAY_S = 1.0
#: The acceleration drops as the climb speed is reached, 1 to 5 s after lift-off. Piloting practice.
ACCELERATION_DELAY_S = 3.0
#: A flight level just above the runway: shortest time [s], least height [m], rise onto it [s], and
#: how much better it must explain the heights (chi-square of one more step; beyond chance).
LOW_FLIGHT_S, LOW_HEIGHT_M, LOW_RISE_S, LOW_GAIN = 3.0, 0.5, 2.0, 10.0
#: Time after lift-off in which the load goes up and down again, tried in turn [s]. Practice.
PULL_S = (2.0, 4.0, 7.0)
#: Least standard deviation of a time from each channel [s]: the form of the manoeuvre differs.
FLOOR_S = {
    "GPS height": 0.35,
    "normal acceleration": 0.4,
    "pitch": 1.0,
    "lift over weight": 0.0,
    "ground speed": 2.0,
    "vertical speed": 1.0,
    "static altitude": 1.5,
}


@dataclass(frozen=True)
class ChannelTime:
    """Time of lift-off as one channel shows it.

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


def known_samples(
    trace: Trace, name: str, start_s: float, end_s: float, least: int = 6
) -> tuple[FloatArray, FloatArray] | None:
    """Known samples of a channel between two times.

    Parameters
    ----------
    trace : Trace
        Recording.
    name : str
        Channel.
    start_s : float
        First time [s].
    end_s : float
        Last time [s].
    least : int
        Least number of known samples [-].

    Returns
    -------
    (ndarray, ndarray) or None
        Times [s] and values; None where there are too few.
    """
    part = trace.between(start_s, end_s)
    time, values = trace.time_s[part], trace.raw(name)[part]
    known = np.isfinite(values)
    if int(known.sum()) < least:
        return None
    return time[known], values[known]


def _likely(tried_s: FloatArray, squares: FloatArray, samples: int, span_s: float) -> ChannelTime:
    """Mean and width of the likelihood of a change, from the residual sums of squares.

    Neighbouring samples share their errors (receivers and panels filter), so that not more than two
    samples a second are counted as independent.
    """
    independent = max(min(float(samples), 2 * span_s), 5.0)
    least = float(squares.min())
    variance = max(least / (independent - 4 + 1e-9), 1e-12)
    weight = np.exp(-0.5 * (squares - least) * min(1.0, independent / samples) / variance)
    weight /= weight.sum()
    mean = float(weight @ tried_s)
    return ChannelTime("", mean, float(np.sqrt(weight @ (tried_s - mean) ** 2)))


def _named(found: ChannelTime, channel: str, late: Delay | None = None) -> ChannelTime:
    """Name a channel's time, take its delay out, and carry its floor and the delay's sigma."""
    late = late or Delay(*ATTITUDE_S)
    sigma = float(np.sqrt(found.sigma_s**2 + FLOOR_S[channel] ** 2 + late.sigma_s**2))
    return ChannelTime(channel, found.time_s - late.late_s, sigma)


def _squares(basis: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Least squares for a stack of models: sums of squares (models,), coefficients (models, k)."""
    normal = np.einsum("mnk,mnl->mkl", basis, basis)
    normal += 1e-9 * np.eye(basis.shape[2])
    moment = np.einsum("mnk,n->mk", basis, values)
    solved = np.linalg.solve(normal, moment[..., None])[..., 0]
    left = values - np.einsum("mnk,mk->mn", basis, solved)
    return np.einsum("mn,mn->m", left, left), solved


def _tried(start_s: float, end_s: float) -> FloatArray:
    return np.arange(start_s, end_s, TRY_STEP_S)


def _height_fit(trace: Trace, name: str, start_s: float, end_s: float) -> ChannelTime | None:
    """Fit runway, then a climb whose rate builds up; the change is when it starts."""
    found = known_samples(trace, name, start_s, end_s, least=5)
    if found is None or end_s - start_s < 4:
        return None
    time, height = found
    tried = _tried(start_s + 2, end_s - 0.5)
    if len(tried) < 5:
        return None
    along = _distance_along(trace, time)
    # The slope of the runway is a parameter with a prior: one more, invented, observation.
    noise = max(0.3, float(np.std(np.diff(height))) / 2)
    values = np.append(height - height[0], 0.0)
    best = np.full(len(tried), np.inf)
    for build_up in BUILD_UP_S:
        after = np.clip(time[None, :] - tried[:, None], 0, None)
        risen = np.where(after < build_up, after**2 / (2 * build_up), after - build_up / 2)
        basis = np.zeros((len(tried), len(time) + 1, 3))
        basis[:, :-1, 0] = 1.0
        basis[:, :-1, 1] = along * RUNWAY_SLOPE
        basis[:, -1, 1] = noise
        basis[:, :-1, 2] = risen
        squares, solved = _squares(basis, values)
        best = np.minimum(best, np.where(solved[:, 2] > 0, squares, np.inf))
    if not np.isfinite(best).any():
        return None
    best = np.where(np.isfinite(best), best, np.nanmax(best[np.isfinite(best)]) * 10 + 1)
    return _likely(tried, best, len(time), end_s - start_s)


def _distance_along(trace: Trace, time: FloatArray) -> FloatArray:
    """Distance run since the first of the times [m], for the slope of the runway."""
    speed = np.nan_to_num(np.interp(time, trace.grid_s, trace.even("ground_speed")))
    steps = np.diff(time) * (speed[1:] + speed[:-1]) / 2
    return np.concatenate(([0.0], np.cumsum(steps)))


def from_height(
    trace: Trace, roll_s: float, clear_s: float, receiver: Delay
) -> ChannelTime | None:
    """GPS height: the runway, then a climb whose rate builds up.

    Parameters
    ----------
    trace : Trace
        Recording.
    roll_s : float
        Start of the roll [s].
    clear_s : float
        Time at which the airplane is surely up [s].
    receiver : Delay
        How late the satellite receiver is.

    Returns
    -------
    ChannelTime or None
        Lift-off with its sigma [s]; None where it does not show.
    """
    interval = _interval_s(trace, roll_s, clear_s)
    more = 2.5 * interval if interval > 1.5 else 0.5  # a few samples of the climb, if they are rare
    start = max(roll_s, clear_s - 25) - (more if interval > 1.5 else 0.0)
    found = _height_fit(trace, "gps_altitude", start, clear_s + more)
    if found is None:
        return None
    named = _named(found, "GPS height", receiver)
    return replace(named, sigma_s=float(np.hypot(named.sigma_s, interval / 4)))


def _interval_s(trace: Trace, start_s: float, end_s: float) -> float:
    """Typical time between samples of a stretch [s]; all of it where there are not two."""
    times = trace.time_s[trace.between(start_s, end_s)]
    return float(np.median(np.diff(times))) if len(times) > 1 else end_s - start_s


def low_flight(
    trace: Trace, roll_s: float, climb: ChannelTime, receiver: Delay
) -> ChannelTime | None:
    """GPS height before a stretch level and low over the runway, as after a soft field.

    Parameters
    ----------
    trace : Trace
        Recording.
    roll_s : float
        Start of the roll [s].
    climb : ChannelTime
        Start of the climb, as GPS height shows it.
    receiver : Delay
        How late the satellite receiver is.

    Returns
    -------
    ChannelTime or None
        Lift-off with its sigma [s]; None where it does not show.
    """
    climb_s = climb.time_s + receiver.late_s
    start = max(roll_s, climb_s - 20)
    found = known_samples(trace, "gps_altitude", start, climb_s, least=8)
    if found is None:
        return None
    time, height = found
    tried = _tried(start + 3, climb_s - LOW_FLIGHT_S)
    if len(tried) < 5:
        return None
    noise = max(0.3, float(np.std(np.diff(height))) / 2)
    values = np.append(height - height[0], 0.0)
    basis = np.zeros((len(tried), len(time) + 1, 3))
    basis[:, :-1, 0] = 1.0
    basis[:, :-1, 1] = _distance_along(trace, time) * RUNWAY_SLOPE
    basis[:, -1, 1] = noise
    basis[:, :-1, 2] = np.clip((time[None, :] - tried[:, None]) / LOW_RISE_S, 0, 1)
    squares, solved = _squares(basis, values)
    runway, _ = _squares(basis[:1, :, :2], values)
    rises = solved[:, 2] > LOW_HEIGHT_M
    if not rises.any():
        return None
    tried, squares = tried[rises], squares[rises]
    place = int(np.argmin(squares))
    # One independent sample a second, of at least the noise that receivers have.
    share = min(1.0, (time[-1] - time[0]) / len(time))
    variance = max(float(squares[place]) / len(time), 0.2**2)
    gain = float(runway[0] - squares[place]) * share / variance
    if gain < LOW_GAIN:
        return None
    likely = _likely(tried, squares, len(time), time[-1] - time[0])
    return _named(likely, "GPS height", receiver)


def from_static(trace: Trace, roll_s: float, clear_s: float) -> ChannelTime | None:
    """Static altitude: as GPS height, but later, and disturbed by power.

    Parameters
    ----------
    trace : Trace
        Recording.
    roll_s : float
        Start of the roll [s].
    clear_s : float
        Time at which the airplane is surely up [s].

    Returns
    -------
    ChannelTime or None
        Lift-off with its sigma [s]; None where it does not show.
    """
    start = max(roll_s + 3, clear_s - 15)
    found = _height_fit(trace, "pressure_altitude", start, clear_s + 0.5)
    return None if found is None else _named(found, "static altitude", Delay(*STATIC_S))


def from_pitch(trace: Trace, roll_s: float, clear_s: float) -> ChannelTime | None:
    """Rotation: a ramp in pitch; the wheels leave when most of it is done.

    Parameters
    ----------
    trace : Trace
        Recording.
    roll_s : float
        Start of the roll [s].
    clear_s : float
        Time at which the airplane is surely up [s].

    Returns
    -------
    ChannelTime or None
        Lift-off with its sigma [s]; None where it does not show.
    """
    start = roll_s + 0.3 * (clear_s - roll_s)
    found = known_samples(trace, "pitch", start, clear_s)
    if found is None:
        return None
    time, pitch = found
    tried = _tried(start + 1, clear_s - 1)
    if len(tried) < 5:
        return None
    best, rise, lasts = np.full(len(tried), np.inf), np.zeros(len(tried)), np.zeros(len(tried))
    for rotation in ROTATION_S:
        basis = np.ones((len(tried), len(time), 2))
        basis[:, :, 1] = np.clip((time[None, :] - tried[:, None]) / rotation, 0, 1)
        squares, solved = _squares(basis, pitch)
        better = squares < best
        best = np.where(better, squares, best)
        rise = np.where(better, solved[:, 1], rise)
        lasts = np.where(better, rotation, lasts)
    place = int(np.argmin(best))
    total = float(((pitch - pitch.mean()) ** 2).sum())
    if rise[place] < np.radians(2.5) or best[place] > 0.4 * total:
        return None
    likely = _likely(tried + ROTATION_PART * lasts, best, len(time), clear_s - start)
    return _named(likely, "pitch")


def from_normal_acceleration(
    trace: Trace, roll_s: float, since_s: float, until_s: float
) -> ChannelTime | None:
    """Roughness of the runway ends, and for a moment the wings carry more than the weight.

    Parameters
    ----------
    trace : Trace
        Recording.
    roll_s : float
        Start of the roll [s].
    since_s : float
        First time of lift-off that is tried [s].
    until_s : float
        Last time of lift-off that is tried [s].

    Returns
    -------
    ChannelTime or None
        Lift-off with its sigma [s]; None where it does not show.
    """
    start = roll_s + 0.2 * (until_s - roll_s)
    found = known_samples(trace, "normal_acceleration", start, until_s + 8, least=12)
    if found is None:
        return None
    time, load = found
    tried = _tried(max(start + 2, since_s), until_s)[::2]
    cost = np.full(len(tried), np.inf)
    for place, moment in enumerate(tried):
        cost[place] = min(_load_cost(time, load, moment, pull) for pull in PULL_S)
    if not np.isfinite(cost).any():
        return None
    none = len(load) * _log_power(load - load.mean())
    # Fewer independent samples than samples: filters. A gain of 12 is beyond chance (about 1 %).
    share = min(1.0, 4 * (time[-1] - time[0]) / len(load))
    if (none - cost.min()) * share < 12:
        return None
    weight = np.exp(-0.5 * (cost - cost.min()) * share)
    weight /= weight.sum()
    mean = float(weight @ tried)
    sigma = float(np.sqrt(weight @ (tried - mean) ** 2))
    # A pull lasts a second or two: a sample a second catches it, or roughness, by chance.
    sigma = float(np.hypot(sigma, np.median(np.diff(time))))
    return None if sigma > 2 else _named(ChannelTime("", mean, sigma), "normal acceleration")


def _load_cost(time: FloatArray, load: FloatArray, moment: float, pull_s: float) -> float:
    """Cost of lift-off at a moment: rough before it, a pull after it, steady flight then."""
    before, after = time < moment, time >= moment
    pulled = after & (time < moment + pull_s)
    steady = after & ~pulled
    if min(before.sum(), pulled.sum(), steady.sum()) < 4:
        return float("inf")
    left = np.concatenate(
        [_bent(time[pulled], load[pulled], 3), _bent(time[steady], load[steady], 0)]
    )
    rough = _bent(time[before], load[before], 0)
    return float(before.sum()) * _log_power(rough) + float(after.sum()) * _log_power(left)


def _bent(time: FloatArray, values: FloatArray, degree: int) -> FloatArray:
    """What a polynomial, of lower degree for few samples, leaves over."""
    powers = np.vander(time - time[0], min(degree, len(time) // 3) + 1)
    solved, *_ = np.linalg.lstsq(powers, values, rcond=None)
    return np.asarray(values - powers @ solved, dtype=float)


def _log_power(left: FloatArray) -> float:
    """Logarithm of the mean square, with the resolution of a logged load factor as a floor."""
    return float(np.log(np.mean(left * left) + 0.01**2))


def from_ground_speed(
    trace: Trace, roll_s: float, clear_s: float, receiver: Delay
) -> ChannelTime | None:
    """The acceleration drops as the climb takes its share of the power.

    Parameters
    ----------
    trace : Trace
        Recording.
    roll_s : float
        Start of the roll [s].
    clear_s : float
        Time at which the airplane is surely up [s].
    receiver : Delay
        How late the satellite receiver is.

    Returns
    -------
    ChannelTime or None
        Lift-off with its sigma [s]; None where it does not show.
    """
    start = max(roll_s + 0.4 * (clear_s - roll_s), clear_s - 15)
    found = known_samples(trace, "ground_speed", start, clear_s + 5)
    if found is None:
        return None
    time, speed = found
    tried = _tried(start + 2, clear_s)
    if len(tried) < 5:
        return None
    basis = np.ones((len(tried), len(time), 3))
    basis[:, :, 1] = time - time[0]
    basis[:, :, 2] = np.clip(time[None, :] - tried[:, None], 0, None)
    squares, solved = _squares(basis, speed)
    place = int(np.argmin(squares))
    if solved[place, 2] > -0.4 or place in (0, len(tried) - 1):
        return None
    likely = _likely(tried, squares, len(time), clear_s + 5 - start)
    late = Delay(receiver.late_s + ACCELERATION_DELAY_S, receiver.sigma_s)
    return _named(likely, "ground speed", late)


def from_vertical_speed(trace: Trace, roll_s: float, clear_s: float) -> ChannelTime | None:
    """The indicated vertical speed builds up, late by its delay.

    Parameters
    ----------
    trace : Trace
        Recording.
    roll_s : float
        Start of the roll [s].
    clear_s : float
        Time at which the airplane is surely up [s].

    Returns
    -------
    ChannelTime or None
        Lift-off with its sigma [s]; None where it does not show.
    """
    start = max(roll_s + 0.4 * (clear_s - roll_s), clear_s - 12)
    found = known_samples(trace, "vertical_speed", start, clear_s + 2)
    if found is None:
        return None
    time, rate = found
    tried = _tried(start + 2, clear_s + 1)
    if len(tried) < 5:
        return None
    best = np.full(len(tried), np.inf)
    for build_up in BUILD_UP_S:
        basis = np.ones((len(tried), len(time), 2))
        basis[:, :, 1] = np.clip((time[None, :] - tried[:, None]) / build_up, 0, 1)
        squares, solved = _squares(basis, rate)
        best = np.minimum(best, np.where(solved[:, 1] > 0.5, squares, np.inf))
    if not np.isfinite(best).any():
        return None
    best = np.where(np.isfinite(best), best, best[np.isfinite(best)].max() * 10 + 1)
    likely = _likely(tried, best, len(time), clear_s + 2 - start)
    return _named(likely, "vertical speed", Delay(VERTICAL_SPEED_DELAY_S, 0.5))
