"""Moments of a take-off by the satellite receiver: first motion, brake release, height passed.

All in the receiver's own time, which is late: `stdday.delays` tells by how much.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stdday.signals import Trace, fit_line

__all__ = ["brake_release", "even_slips", "first_motion_s", "height_passed"]

FloatArray = NDArray[np.float64]

#: Growth of ground speed with time since release, tried in turn: brakes let go at full power; power
#: coming up after it. And how far samples lie from such a simple law [m/s].
RELEASE_POWERS = (1.0, 1.4, 2.0)
RELEASE_SIGMA_MS = 0.25
#: One sigma that the simple laws leave [s]: spool-up, rolling off the brakes. Judgement.
RELEASE_FLOOR_S = 0.15
#: Ground speed that is motion for sure [m/s]: above the noise of a receiver at rest.
MOTION_MS = 0.7
#: Wander of GPS height over a roll [m], one sigma. Seen in recordings: -2 to +6 ft on the runway.
GPS_HEIGHT_M = 0.8

#: Rows rarer than this [s] show a slip of the stamps; a pair of them lies within so many rows.
SLIP_LEAST_S, SLIP_ROWS = 0.5, 8
#: Steps of a repeated and of a skipped stamp, over the usual one [-], and how exactly they must
#: make up for each other [-].
SHORT_STEP, LONG_STEP, SLIP_EXACT = 0.7, (1.5, 2.5), 0.2


def even_slips(time_s: FloatArray) -> FloatArray:
    """Times of rows, even where a repeated stamp and a skipped one make up for each other.

    A recorder that writes once a second and cuts its stamps to whole seconds writes one second
    twice and leaves out another. The rows between the two came as evenly as all others.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Times [s], not decreasing, repeated stamps already spread.

    Returns
    -------
    ndarray, shape (n,)
        Times [s]; those of other rows as they were. Never raises.

    Examples
    --------
    >>> even_slips(np.array([0.0, 1.0, 2.0, 2.5, 3.0, 4.0, 6.0, 7.0, 8.0])).tolist()
    [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0]
    """
    steps = np.diff(time_s)
    usual = float(np.median(steps)) if len(steps) else 0.0
    if usual < SLIP_LEAST_S:
        return time_s
    even = time_s.copy()
    short = steps < SHORT_STEP * usual
    skipped = (steps > LONG_STEP[0] * usual) & (steps < LONG_STEP[1] * usual)
    for place in np.flatnonzero(skipped).tolist():
        nearby = np.flatnonzero(short[max(place - SLIP_ROWS, 0) : place + SLIP_ROWS + 1])
        nearby = nearby + max(place - SLIP_ROWS, 0)
        for group in (nearby[nearby < place], nearby[nearby > place]):
            if not len(group):
                continue
            first, last = min(int(group[0]), place), max(int(group[-1]), place) + 1
            count = last - first
            if abs(float(time_s[last] - time_s[first]) - count * usual) < SLIP_EXACT * usual:
                even[first : last + 1] = np.linspace(time_s[first], time_s[last], count + 1)
    return even


def brake_release(trace: Trace, standing_s: float, fast_s: float) -> tuple[float, float]:
    """Time at which the sustained acceleration starts, finer than the samples.

    Rest, then ground speed growing with the time since release, in proportion or (where power comes
    up after the brakes are let go) with a higher power of it, is fitted up to 8 m/s. The answer is
    the mean over the likelihood of the release, between the last sample at rest and the first one
    moving.

    Parameters
    ----------
    trace : Trace
        Recording with ``ground_speed``.
    standing_s : float
        Last time surely slower than a walk [s].
    fast_s : float
        A time during the roll faster than a taxi [s].

    Returns
    -------
    (float, float)
        Brake release and one sigma [s].

    Examples
    --------
    >>> time = np.arange(0.0, 20.0)
    >>> trace = Trace(time, {"ground_speed": np.clip(2.0 * (time - 10.3), 0.0, None)})
    >>> round(brake_release(trace, 10.0, 17.0)[0], 1)
    10.3
    """
    part = trace.between(standing_s - 15, fast_s)
    time, speed = trace.time_s[part], trace.raw("ground_speed")[part]
    known = np.isfinite(speed)
    time, speed = time[known], speed[known]
    still = np.flatnonzero((speed < 1.0) & (time <= standing_s + 10))
    if not len(still) or still[-1] + 1 >= len(time):
        return standing_s, 2.0
    first = int(still[-1]) + 1
    rolling = np.flatnonzero(speed[first:] > 8.0)
    stop = min(first + max(int(rolling[0]) if len(rolling) else len(speed), 3), len(speed))
    latest = float(time[first])
    # A sample that seems at rest may be a moment after release: 0.3 m/s take a fifth of a second.
    earliest = float(max(time[_last_at_rest(speed, first)] - 0.2, latest - 6.0))
    begin = int(np.searchsorted(time, earliest - 4.0))
    return _release_fit(time[begin:stop], speed[begin:stop], earliest, latest)


def _release_fit(
    time: FloatArray, speed: FloatArray, earliest: float, latest: float
) -> tuple[float, float]:
    """Mean and width of the likelihood of the release between two times."""
    tried = np.linspace(earliest, latest, max(int((latest - earliest) / 0.05), 2))
    after = np.clip(time[None, :] - tried[:, None], 0, None)
    weight, moment, second = 0.0, 0.0, 0.0
    for power in RELEASE_POWERS:
        grown = after**power
        scale = (grown @ speed) / np.maximum((grown * grown).sum(axis=1), 1e-9)
        left = speed - scale[:, None] * grown
        likely = np.exp(-0.5 * (left * left).sum(axis=1) / RELEASE_SIGMA_MS**2)
        weight += float(likely.sum())
        moment += float(likely @ (tried - earliest))
        second += float(likely @ (tried - earliest) ** 2)
    if weight <= 0:
        return (earliest + latest) / 2, (latest - earliest) / 2 + RELEASE_FLOOR_S
    mean = moment / weight
    return earliest + mean, float(np.sqrt(max(second / weight - mean**2, 0) + RELEASE_FLOOR_S**2))


def _last_at_rest(speed: FloatArray, first: int) -> int:
    rest = np.flatnonzero(speed[:first] < 0.3)
    return int(rest[-1]) if len(rest) else first - 1


def first_motion_s(trace: Trace, release_s: float) -> float:
    """Time at which the airplane first moved, where it crept before brake release.

    Parameters
    ----------
    trace : Trace
        Recording with ``ground_speed``.
    release_s : float
        Brake release [s], in the receiver's time.

    Returns
    -------
    float
        Time [s]; brake release itself where nothing moved before it.

    Examples
    --------
    >>> time = np.arange(0.0, 20.0, 0.5)
    >>> speed = np.interp(time, [0, 5, 6, 10, 18], [0, 0, 1.2, 1.2, 18])
    >>> round(first_motion_s(Trace(time, {"ground_speed": speed}), 10.0), 2)
    5.75
    """
    part = trace.between(release_s - 60, release_s)
    time, speed = trace.time_s[part], trace.raw("ground_speed")[part]
    known = np.isfinite(speed)
    still = np.flatnonzero(speed[known] < MOTION_MS)
    if not len(still) or still[-1] + 1 >= known.sum():
        return release_s
    return float(min((time[known][still[-1]] + time[known][still[-1] + 1]) / 2, release_s))


def height_passed(
    trace: Trace, start_s: float, liftoff_s: float, height_m: float
) -> tuple[float, float]:
    """Time at which a height above the place of lift-off is passed, by GPS altitude.

    Static altitude is never taken for it: it lags, and jumps with power by as much as is sought.

    Parameters
    ----------
    trace : Trace
        Recording.
    start_s, liftoff_s : float
        Brake release and lift-off [s], in the receiver's time.
    height_m : float
        Height [m].

    Returns
    -------
    (float, float)
        Time and one sigma [s]; NaN without GPS altitude, or where the height is never passed.
    """
    nothing = float("nan"), float("nan")
    runway = _runway_m(trace, max(start_s, liftoff_s - 6), liftoff_s)
    after = trace.between(liftoff_s, liftoff_s + 90)
    time, altitude = trace.time_s[after], trace.raw("gps_altitude")[after]
    known = np.isfinite(altitude)
    if not np.isfinite(runway) or known.sum() < 3:
        return nothing
    time, above = time[known], altitude[known] - runway
    over = np.flatnonzero(above >= height_m)
    if not len(over):
        return nothing
    rough = float(time[over[0]])
    interval = float(np.median(np.diff(time)))
    near = np.abs(time - rough) <= max(1.5, 1.5 * interval)
    line = fit_line(time[near], above[near])
    if not (np.isfinite(line.rate) and line.rate > 0.3):
        return rough, float(np.hypot(interval, 1.0))
    passed = float(time[near].mean() + (height_m - line.mean) / line.rate)
    return passed, float(np.hypot(GPS_HEIGHT_M / line.rate, 0.2 * interval))


def _runway_m(trace: Trace, start_s: float, liftoff_s: float) -> float:
    """GPS altitude of the runway at lift-off: a line over the last seconds on the wheels."""
    part = trace.between(start_s, liftoff_s)
    time, altitude = trace.time_s[part], trace.raw("gps_altitude")[part]
    known = np.isfinite(altitude)
    if not known.any():
        return float("nan")
    line = fit_line(time[known], altitude[known])
    if line.count < 5 or abs(line.rate) > 1.0:  # steeper than any runway
        return float(np.median(altitude[known]))
    return line.mean + line.rate * (liftoff_s - float(time[known].mean()))
