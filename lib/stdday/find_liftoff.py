"""The moment of lift-off, from every channel that responds to it.

Each channel gives a time of its own with a standard deviation: the mean and width of the likelihood
of a change at each possible time. The times are joined by their variances; one that disagrees is
left out, and the quality of the point says so. Static altitude rises when power is applied with the
wheels on the ground, so that it is used only where nothing better was recorded.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stdday.signals import Trace

__all__ = ["LOW_FLIGHT", "ChannelTime", "Liftoff", "find_liftoff", "join_times", "nose_up_s"]

FloatArray = NDArray[np.float64]

#: Step of the times tried [s]; the answer is a mean over the likelihood, finer than this.
TRY_STEP_S = 0.1
#: Time over which the rate of climb builds up after lift-off, tried in turn [s]. Piloting practice.
BUILD_UP_S = (1.0, 2.0, 3.5, 6.0)
#: One sigma of a runway's slope [-]: free to fit, within what runways have.
RUNWAY_SLOPE = 0.01
#: Time of rotation, tried in turn [s], and the part of it done when the wheels leave. Practice.
ROTATION_S, ROTATION_PART = (1.0, 2.0, 3.0), 0.75
#: Delay of static altitude and of a vertical speed indicator [s]. Typical of panels (about 1 s).
STATIC_DELAY_S, VERTICAL_SPEED_DELAY_S = 1.0, 1.0
#: The acceleration drops as the climb speed is reached, 1 to 5 s after lift-off. Piloting practice.
ACCELERATION_DELAY_S = 3.0
#: A flight level just above the runway: shortest time [s], least height [m], rise onto it [s], and
#: how much better it must explain the heights (chi-square of one more step; beyond chance).
LOW_FLIGHT_S, LOW_HEIGHT_M, LOW_RISE_S, LOW_GAIN = 3.0, 0.5, 2.0, 10.0
#: Least standard deviation of a time from each channel [s]: the form of the manoeuvre differs.
FLOOR_S = {
    "GPS height": 0.35,
    "normal acceleration": 0.4,
    "pitch": 0.6,
    "ground speed": 2.0,
    "vertical speed": 1.0,
    "static altitude": 1.5,
}
#: Least airspeed of low flight, of the airspeed at the start of the climb: stall over climb speed.
LOW_AIRSPEED = 0.65
#: Name of a climb that came after level flight low over the runway, among the times left out.
LOW_FLIGHT = "climb after low level flight"
#: Channels that respond to lift-off itself, not to the climb that may follow later.
EARLY = ("normal acceleration", "pitch")


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


@dataclass(frozen=True)
class Liftoff:
    """Time of lift-off.

    Parameters
    ----------
    time_s, sigma_s : float
        Time and its standard deviation [s]; NaN where no channel shows it.
    used, left_out : tuple of ChannelTime
        Channels that agree, and those that do not.
    """

    time_s: float
    sigma_s: float
    used: tuple[ChannelTime, ...]
    left_out: tuple[ChannelTime, ...]


def find_liftoff(trace: Trace, roll_s: float, clear_s: float, height: str) -> Liftoff:
    """Find lift-off between the start of the roll and a height that ends doubt.

    Parameters
    ----------
    trace : Trace
        Recording.
    roll_s : float
        Start of the roll [s].
    clear_s : float
        Time at which the airplane is surely up, some 10 m above the runway [s].
    height : str
        Channel that `clear_s` was read from: ``gps_altitude`` or ``pressure_altitude``; empty
        where neither was recorded.

    Returns
    -------
    Liftoff
        All NaN where no channel shows it.
    """
    by_gps = height == "gps_altitude"
    climb = _from_height(trace, roll_s, clear_s) if by_gps else None
    low = _low_flight(trace, roll_s, climb.time_s) if climb is not None else None
    if low is not None and climb is not None and not _bears_out(trace, roll_s, low, climb):
        low = None
    up_s = clear_s if low is None else low.time_s + 2
    times = [
        climb,
        _from_normal_acceleration(trace, roll_s, up_s),
        _from_pitch(trace, roll_s, up_s),
        _from_ground_speed(trace, roll_s, clear_s),
        _from_vertical_speed(trace, roll_s, clear_s),
        _from_static(trace, roll_s, clear_s) if height == "pressure_altitude" else None,
    ]
    known = [one for one in times if one is not None]
    if low is None or climb is None:
        found = join_times(known)
        # Without a height that static pressure does not disturb, nothing bears the others out.
        return found if by_gps else replace(found, sigma_s=float(np.hypot(found.sigma_s, 1.0)))
    near = [one for one in known if one.channel in EARLY and abs(one.time_s - low.time_s) < 2.5]
    late = ChannelTime(LOW_FLIGHT, climb.time_s, climb.sigma_s)
    found = join_times([low, *near])
    return replace(found, left_out=(*found.left_out, late))


def nose_up_s(trace: Trace, roll_s: float, liftoff_s: float) -> float:
    """Time before lift-off since when the nose has been up, 3 deg over its lowest in the roll.

    Parameters
    ----------
    trace : Trace
        Recording.
    roll_s, liftoff_s : float
        Start of the roll and lift-off [s].

    Returns
    -------
    float
        Time [s]; NaN where pitch is not recorded.
    """
    found = _samples(trace, "pitch", roll_s, liftoff_s)
    if found is None:
        return float("nan")
    time, pitch = found
    down = np.flatnonzero(pitch < np.percentile(pitch, 10) + np.radians(3.0))
    return float(liftoff_s - time[down[-1]])


def _bears_out(trace: Trace, roll_s: float, low: ChannelTime, climb: ChannelTime) -> bool:
    """Whether the other channels allow that the airplane flew low before it climbed.

    GPS height alone wanders by as much as a low flight is high: the nose must be up by then, and
    the airspeed not far from that of the climb.
    """
    nose = nose_up_s(trace, roll_s, climb.time_s)
    up = climb.time_s - nose
    if not up <= low.time_s + 1.0:
        return False
    name = "indicated_airspeed" if trace.has("indicated_airspeed") else "ground_speed"
    then = trace.mean(name, low.time_s - 1, low.time_s + 1)
    later = trace.mean(name, climb.time_s - 1, climb.time_s + 1)
    return bool(then > LOW_AIRSPEED * later)


def join_times(times: list[ChannelTime]) -> Liftoff:
    """Join the times of several channels by their variances, leaving out what disagrees.

    Where normal acceleration or pitch show a lift-off well before height and speed show a climb,
    the airplane flew level just above the runway, as after a soft-field lift-off: the early
    channels are followed. Otherwise the channel farthest from the mean, in its own standard
    deviations, is left out until all lie within three; of two that disagree both are kept, with
    half of their distance as the standard deviation.

    Parameters
    ----------
    times : list of ChannelTime
        Times; may be empty.

    Returns
    -------
    Liftoff

    Examples
    --------
    >>> join_times([ChannelTime("pitch", 20.0, 0.6), ChannelTime("GPS height", 21.0, 0.6)]).time_s
    20.5
    """
    early = [one for one in times if one.channel in EARLY]
    late = [one for one in times if one.channel not in EARLY]
    left_out: list[ChannelTime] = []
    if len(early) == len(EARLY) and late and _mean(late)[0] - _mean(early)[0] > 3.0:
        apart = abs(early[0].time_s - early[1].time_s)
        if apart < 2.0:
            times, left_out = early, late
    times = list(times)
    while len(times) > 1:
        middle, _ = _mean(times)
        worst = max(times, key=lambda one: abs(one.time_s - middle) / one.sigma_s)
        rest = [one for one in times if one is not worst]
        others, sigma = _mean(rest)
        if abs(worst.time_s - others) <= 3 * np.hypot(worst.sigma_s, sigma):
            break
        if len(rest) == 1:  # neither is outvoted: between them, known no better than that
            middle, apart = _mean(times)[0], abs(times[0].time_s - times[1].time_s)
            return Liftoff(middle, apart / 2, tuple(times), tuple(left_out))
        times = rest
        left_out.append(worst)
    if not times:
        return Liftoff(np.nan, np.nan, (), tuple(left_out))
    middle, sigma = _mean(times)
    return Liftoff(middle, sigma, tuple(times), tuple(left_out))


def _mean(times: list[ChannelTime]) -> tuple[float, float]:
    """Mean weighted by variances, and its standard deviation."""
    weights = np.array([one.sigma_s**-2 for one in times])
    values = np.array([one.time_s for one in times])
    reference = values[0]
    mean = reference + (values - reference) @ weights / weights.sum()
    return float(mean), float(weights.sum() ** -0.5)


def _samples(
    trace: Trace, name: str, start_s: float, end_s: float, least: int = 6
) -> tuple[FloatArray, FloatArray] | None:
    """Known samples of a channel between two times, or nothing where there are too few."""
    part = trace.between(start_s, end_s)
    time, values = trace.time_s[part], trace.raw(name)[part]
    known = np.isfinite(values)
    if int(known.sum()) < least:
        return None
    return time[known], values[known]


def _likely(tried_s: FloatArray, squares: FloatArray, samples: int, span_s: float) -> ChannelTime:
    """Mean and width of the likelihood of a change, from the residual sums of squares.

    Neighbouring samples share their errors (receivers and panels filter), so that not more than one
    sample a second is counted as independent.
    """
    independent = max(min(float(samples), span_s), 5.0)
    least = float(squares.min())
    variance = max(least / (independent - 4 + 1e-9), 1e-12)
    weight = np.exp(-0.5 * (squares - least) * min(1.0, independent / samples) / variance)
    weight /= weight.sum()
    mean = float(weight @ tried_s)
    return ChannelTime("", mean, float(np.sqrt(weight @ (tried_s - mean) ** 2)))


def _named(found: ChannelTime, channel: str, shift_s: float = 0.0) -> ChannelTime:
    floor = FLOOR_S[channel]
    return ChannelTime(channel, found.time_s + shift_s, float(np.hypot(found.sigma_s, floor)))


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


def _height_fit(
    trace: Trace, name: str, start_s: float, end_s: float, delay_s: float
) -> ChannelTime | None:
    """Fit runway, then a climb whose rate builds up; the change is when it starts."""
    found = _samples(trace, name, start_s, end_s, least=5)
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
    likely = _likely(tried, best, len(time), end_s - start_s)
    return ChannelTime(name, likely.time_s - delay_s, likely.sigma_s)


def _distance_along(trace: Trace, time: FloatArray) -> FloatArray:
    """Distance run since the first of the times [m], for the slope of the runway."""
    speed = np.nan_to_num(np.interp(time, trace.grid_s, trace.even("ground_speed")))
    steps = np.diff(time) * (speed[1:] + speed[:-1]) / 2
    return np.concatenate(([0.0], np.cumsum(steps)))


def _from_height(trace: Trace, roll_s: float, clear_s: float) -> ChannelTime | None:
    interval = _interval_s(trace, roll_s, clear_s)
    more = 2.5 * interval if interval > 1.5 else 0.5  # a few samples of the climb, if they are rare
    start = max(roll_s, clear_s - 25) - (more if interval > 1.5 else 0.0)
    found = _height_fit(trace, "gps_altitude", start, clear_s + more, 0.0)
    if found is None:
        return None
    named = _named(found, "GPS height")
    return replace(named, sigma_s=float(np.hypot(named.sigma_s, interval / 4)))


def _interval_s(trace: Trace, start_s: float, end_s: float) -> float:
    """Typical time between samples of a stretch [s]; all of it where there are not two."""
    times = trace.time_s[trace.between(start_s, end_s)]
    return float(np.median(np.diff(times))) if len(times) > 1 else end_s - start_s


def _low_flight(trace: Trace, roll_s: float, climb_s: float) -> ChannelTime | None:
    """Lift-off before a stretch level and low over the runway, as after a soft-field take-off.

    Nothing where heights before the climb are explained as well by the runway alone.
    """
    start = max(roll_s, climb_s - 20)
    found = _samples(trace, "gps_altitude", start, climb_s, least=8)
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
    return _named(likely, "GPS height")


def _from_static(trace: Trace, roll_s: float, clear_s: float) -> ChannelTime | None:
    start = max(roll_s + 3, clear_s - 15)
    found = _height_fit(trace, "pressure_altitude", start, clear_s + 0.5, STATIC_DELAY_S)
    return None if found is None else _named(found, "static altitude")


def _from_pitch(trace: Trace, roll_s: float, clear_s: float) -> ChannelTime | None:
    """Rotation: a ramp in pitch; the wheels leave when most of it is done."""
    start = roll_s + 0.3 * (clear_s - roll_s)
    found = _samples(trace, "pitch", start, clear_s)
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


def _from_normal_acceleration(trace: Trace, roll_s: float, clear_s: float) -> ChannelTime | None:
    """Roughness of the runway ends, and for a moment the wings carry more than the weight."""
    start = roll_s + 0.3 * (clear_s - roll_s)
    found = _samples(trace, "normal_acceleration", start, clear_s + 3, least=12)
    if found is None:
        return None
    time, load = found
    tried = _tried(start + 2, clear_s)
    cost = np.full(len(tried), np.inf)
    for place, moment in enumerate(tried):
        before, after = load[time < moment], load[time >= moment]
        if len(before) < 5 or len(after) < 5:
            continue
        pulled = (time[time >= moment] - moment) < 2.0
        bump = after - after.mean()
        if 1 < pulled.sum() < len(after) - 1:
            bump = np.where(
                pulled, after - after[pulled].mean(), after - after[~pulled].mean()
            )
        cost[place] = len(before) * _log_power(before - before.mean()) + len(after) * _log_power(
            bump
        )
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
    return None if sigma > 2 else _named(ChannelTime("", mean, sigma), "normal acceleration")


def _log_power(left: FloatArray) -> float:
    """Logarithm of the mean square, with the resolution of a logged load factor as a floor."""
    return float(np.log(np.mean(left * left) + 0.01**2))


def _from_ground_speed(trace: Trace, roll_s: float, clear_s: float) -> ChannelTime | None:
    """The acceleration drops as the climb takes its share of the power."""
    start = max(roll_s + 0.4 * (clear_s - roll_s), clear_s - 15)
    found = _samples(trace, "ground_speed", start, clear_s + 5)
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
    return _named(likely, "ground speed", -ACCELERATION_DELAY_S)


def _from_vertical_speed(trace: Trace, roll_s: float, clear_s: float) -> ChannelTime | None:
    """The indicated vertical speed builds up, late by its delay."""
    start = max(roll_s + 0.4 * (clear_s - roll_s), clear_s - 12)
    found = _samples(trace, "vertical_speed", start, clear_s + 2)
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
    return _named(likely, "vertical speed", -VERTICAL_SPEED_DELAY_S)
