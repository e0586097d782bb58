"""How late the sensors of a recording are: airspeed, satellite receiver and static altitude.

Two signals that follow the same motion are laid over each other, corner by corner, with the shift
free: stretches in which the one changes how fast it changes, such as the beginning and the end of
a deceleration, of a turn or of a climb. Each corner gives a shift with its own uncertainty; their
scatter decides how well all of them know it. Take-off rolls are left out, since they are what the
delays are wanted for. Nothing in a recording tells how late the fastest sensor is: attitude is
taken as prompt, and what pitot and static lines do is a range from practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stdday.signals import Trace, runs, slope, smooth

__all__ = ["Delay", "Delays", "estimate_delays", "join_delays", "shift_between"]

FloatArray = NDArray[np.float64]

GRAVITY_MS2 = 9.80665
#: Longest shift looked for, and step of the shifts tried [s].
MOST_S, TRY_S = 3.0, 0.1
#: Time on either side of a corner [s]: longer than any delay, shorter than a change of wind.
SIDE_S = 9.0
#: Least change of the rate at a corner, and the smoothing that shows it: airspeed [m/s2 over s],
#: direction [rad/s], height [m/s]. Engineering judgement: a few times what bumps do.
CORNER_SPEED_MS2, CORNER_TURN_RADS, CORNER_CLIMB_MS = 0.35, 0.035, 1.2
RATE_S = 5.0
#: Slower airspeeds are not believed [m/s]: many indicators are dead below some 25 kt.
DEAD_MS = 13.0
#: A corner that leaves its shift less certain than this [s] tells nothing.
WORST_S = 0.8
#: Time over which what is left over is one and the same, so that it tells but once [s]: gusts in
#: the airspeed, a receiver's wander in height and track.
GUST_S, WANDER_S = 5.0, 1.5
#: A delay known no better than this [s] is not told: many recordings of it would tell no more than
#: practice does.
TELLING_S = 1.0
#: How much a factor between the two signals may differ from the one expected [-], one sigma.
FACTOR_SIGMA = 0.08
#: Prior knowledge, mean and one sigma [s]. Receivers: 0.1 to 1.5 s; airspeed and static lines with
#: their filters: 0.2 to 1.2 s; attitude in a panel: 0 to 0.2 s. Common practice.
RECEIVER_S, AIRSPEED_S, STATIC_S, ATTITUDE_S = (0.6, 0.5), (0.6, 0.3), (0.8, 0.35), (0.1, 0.1)
#: Least part of what the late signal does that the early one explains [-]: else the wind changed.
EXPLAINED = 0.7
#: A corner in speed must bend by this much for each m/s of gusts [1/s]: a pilot who flies by the
#: airspeed answers each gust, so that ground speed follows it, and small bends show that instead.
BEND_PER_GUST = 2.0
#: Wind's profile: exponent [-] over a height [m], the time over which a wind is one and the same
#: [s], and one sigma of the exponent as a part of it [-]. Common practice.
PROFILE_EXPONENT, WHEEL_M, PROFILE_S, PROFILE_DOUBT = 1 / 7, 1.5, 15.0, 0.5
#: What no scatter shows [s], one sigma: filters differ in form from a pure delay. Judgement.
FORM_S = 0.12


@dataclass(frozen=True)
class Delay:
    """How late a signal is.

    Parameters
    ----------
    late_s, sigma_s : float
        Delay and its standard uncertainty [s]; NaN where the recording does not tell.
    corners : int
        Corners it was estimated from.
    """

    late_s: float
    sigma_s: float
    corners: int = 0


UNKNOWN = Delay(float("nan"), float("nan"))


@dataclass(frozen=True)
class Delays:
    """Delays of one recording.

    Parameters
    ----------
    airspeed : Delay
        Indicated airspeed behind GPS ground speed; negative where the receiver is later.
    static : Delay
        Static altitude behind GPS altitude.
    turning : Delay
        GPS track behind heading, or behind the turn that the angle of bank makes.
    receiver : Delay
        GPS behind what really happens: from all of these and what is known of such sensors.
    """

    airspeed: Delay
    static: Delay
    turning: Delay
    receiver: Delay


def estimate_delays(trace: Trace, rolls: Sequence[tuple[float, float]] = ()) -> Delays:
    """Estimate the delays of a recording.

    Parameters
    ----------
    trace : Trace
        Recording.
    rolls : sequence of (float, float), optional
        Starts and ends of take-off rolls [s]; nothing is taken from them.

    Returns
    -------
    Delays
        NaN where the recording lacks the channels, or the changes, that would tell; the receiver's
        is then known as well as receivers are in general. Never raises.

    Examples
    --------
    A deceleration on a straight way; airspeed comes 0.8 s after ground speed:

    >>> time = np.arange(0.0, 300.0, 0.5)
    >>> speed = lambda t: np.interp(t, [50, 80, 130, 160, 220, 250], [50, 35, 35, 50, 50, 35])
    >>> found = estimate_delays(
    ...     Trace(time, {"ground_speed": speed(time), "indicated_airspeed": speed(time - 0.8)})
    ... )
    >>> round(found.airspeed.late_s, 1), found.airspeed.sigma_s < 0.2
    (0.8, True)
    >>> bool(np.isnan(found.static.late_s))
    True
    """
    airspeed = _airspeed(trace, rolls)
    static = _static(trace, rolls)
    turning = _turning(trace, rolls)
    known = [Delay(*RECEIVER_S)]
    if np.isfinite(airspeed.late_s):
        known.append(Delay(AIRSPEED_S[0] - airspeed.late_s, _both(AIRSPEED_S[1], airspeed)))
    if np.isfinite(static.late_s):
        known.append(Delay(STATIC_S[0] - static.late_s, _both(STATIC_S[1], static)))
    if np.isfinite(turning.late_s):
        known.append(Delay(turning.late_s + ATTITUDE_S[0], _both(ATTITUDE_S[1], turning)))
    weights = np.array([one.sigma_s**-2 for one in known])
    late = float(weights @ [one.late_s for one in known] / weights.sum())
    receiver = Delay(late, float(weights.sum() ** -0.5), turning.corners)
    return Delays(airspeed, static, turning, receiver)


def _both(sigma_s: float, delay: Delay) -> float:
    return float(np.hypot(sigma_s, delay.sigma_s))


def join_delays(corners: Sequence[Delay]) -> Delay:
    """Join the delays of single corners: weighted, outliers weighted down, scatter believed.

    Parameters
    ----------
    corners : sequence of Delay
        Delays of corners.

    Returns
    -------
    Delay
        NaN without corners; never raises.

    Examples
    --------
    >>> join_delays([Delay(0.5, 0.1), Delay(0.7, 0.1), Delay(0.6, 0.1), Delay(4.0, 0.1)]).corners
    4
    >>> round(join_delays([Delay(0.5, 0.1), Delay(0.7, 0.1), Delay(0.6, 0.1)]).late_s, 2)
    0.6
    """
    if not corners:
        return UNKNOWN
    late = np.array([one.late_s for one in corners])
    sigma = np.hypot([one.sigma_s for one in corners], FORM_S)
    middle = float(_weighted_median(late, sigma**-2))
    weight = sigma**-2
    for _ in range(20):
        apart = (late - middle) / sigma
        weight = sigma**-2 / (1.0 + apart**2 / 4.0)  # Student's t with 4 degrees of freedom
        middle = float(weight @ late / weight.sum())
    apart = (late - middle) / sigma
    # Scatter beyond the corners' own sigmas counts; less than that does not make it better.
    excess = float((weight * sigma**2 * apart**2).sum() / max(len(late) - 1, 1))
    few = 1.0 + 1.0 / len(late)  # scatter of few is itself little known
    spread = float(weight.sum() ** -0.5) * np.sqrt(max(excess, 1.0) * few)
    return Delay(middle, float(np.hypot(spread, FORM_S)), len(late))


def _weighted_median(values: FloatArray, weights: FloatArray) -> float:
    order = np.argsort(values)
    share = np.cumsum(weights[order]) / weights.sum()
    return float(values[order][int(np.searchsorted(share, 0.5))])


def shift_between(
    time_s: FloatArray,
    late: FloatArray,
    early_time_s: FloatArray,
    early: FloatArray,
    factor: float,
    range_s: tuple[float, float] = (-MOST_S, MOST_S),
    same_s: float = WANDER_S,
    least_noise: float = 0.0,
) -> Delay | None:
    """Shift of one signal behind another over one stretch.

    Least squares of late = a + b t + k early(t - shift), with k near `factor`; the shift is the
    mean over the likelihood, its sigma the width, with samples not more often than gusts change.

    Parameters
    ----------
    time_s, late : ndarray, shape (n,)
        Times [s] and samples [any unit] of the signal that comes later, all known.
    early_time_s, early : ndarray, shape (m,)
        Times [s] and samples [any unit] of the other, known over the stretch and `range_s` around
        it.
    factor : float
        Expected factor between them [-].
    range_s : (float, float), optional
        Shifts looked for [s].
    same_s : float, optional
        Time over which what the fit leaves over is one and the same [s].
    least_noise : float, optional
        Least root mean square of what is left over, unit of the late signal.

    Returns
    -------
    Delay or None
        None where the stretch does not tell.

    Examples
    --------
    >>> time = np.arange(0.0, 20.0)
    >>> bend = lambda t: np.clip(t - 10.0, 0.0, None)
    >>> round(shift_between(time, bend(time - 0.7), time, bend(time), 1.0).late_s, 1)
    0.7
    """
    tried = np.arange(range_s[0], range_s[1] + TRY_S / 2, TRY_S)
    moved = np.interp((time_s[None, :] - tried[:, None]).ravel(), early_time_s, early)
    moved = moved.reshape(len(tried), -1) - float(np.mean(early))
    reach = float(np.ptp(moved))
    if len(time_s) < 6 or reach <= 0:
        return None
    line = np.stack([np.ones(len(time_s)), time_s - time_s.mean()], axis=1)
    left, left_late = _without(line, moved.T).T, _without(line, late[:, None])[:, 0]
    # The factor is free within its prior, an observation more: weighted like the noise left over.
    power = np.einsum("mn,mn->m", left, left)
    along = left @ left_late
    free = np.divide(along, power, out=np.zeros_like(along), where=power > 0)
    squares = float(left_late @ left_late) - free * along
    count = max(len(time_s) - 4, 1)
    noise = max(float(squares.min()) / count, least_noise**2, (1e-3 * reach) ** 2)
    prior = (FACTOR_SIGMA * abs(factor)) ** 2
    scale = (along / noise + factor / prior) / (power / noise + 1 / prior)
    rest = np.sum((left_late[None, :] - scale[:, None] * left) ** 2, axis=1)
    share = min(1.0, (time_s[-1] - time_s[0]) / same_s / len(time_s))
    cost = rest / noise * share + (scale - factor) ** 2 / prior
    weight = np.exp(-0.5 * (cost - cost.min()))
    weight /= weight.sum()
    mean = float(weight @ tried)
    sigma = float(np.sqrt(weight @ (tried - mean) ** 2))
    near_edge = mean - range_s[0] < 0.3 or range_s[1] - mean < 0.3
    best = int(np.argmin(cost))
    explained = 1.0 - float(rest[best]) / max(float(left_late @ left_late), 1e-300)
    alike = abs(free[best] / factor - 1.0) < 3.5 * FACTOR_SIGMA
    known = not near_edge and sigma < WORST_S and explained > EXPLAINED and alike
    return Delay(mean, float(np.hypot(sigma, TRY_S / 4))) if known else None


def _without(basis: FloatArray, values: FloatArray) -> FloatArray:
    """What a least-squares fit of a basis leaves of columns of values."""
    across, _ = np.linalg.qr(basis)
    return np.asarray(values - across @ (across.T @ values), dtype=float)


@dataclass(frozen=True)
class _Pair:
    """Two signals to be laid over each other."""

    late: str
    factor: float
    range_s: tuple[float, float]
    early_time_s: FloatArray
    early: FloatArray
    same_s: float = WANDER_S
    bend_per_noise: float = 0.0


def _corner_shift(
    trace: Trace, pair: _Pair, at_s: float, keep: FloatArray, noise: float
) -> Delay | None:
    """Shift at one corner; `keep` tells on the grid what may be used around it."""
    part = trace.between(at_s - SIDE_S, at_s + SIDE_S)
    time, late = trace.time_s[part], trace.raw(pair.late)[part]
    inside = np.isfinite(late) & (np.interp(time, trace.grid_s, keep) > 0.99)
    low, high = at_s - SIDE_S - MOST_S, at_s + SIDE_S + MOST_S
    first, last = np.searchsorted(pair.early_time_s, [low, high])
    early_time, early = pair.early_time_s[first:last], pair.early[first:last]
    if inside.sum() < 10 or len(early_time) < 10 or np.max(np.diff(early_time)) > 3.0:
        return None
    time, late = time[inside], late[inside]
    if time[-1] - time[0] < SIDE_S:
        return None
    reach = (time - pair.range_s[1] >= early_time[0]) & (time - pair.range_s[0] <= early_time[-1])
    if reach.sum() < 8:
        return None
    return shift_between(
        time[reach], late[reach], early_time, early, pair.factor, pair.range_s, pair.same_s, noise
    )


def _corners(trace: Trace, values: FloatArray, least: float) -> FloatArray:
    """Times at which the rate of a signal on the grid changes by more than `least`."""
    rate = slope(values, RATE_S, trace.step_s)
    half = max(round(RATE_S / trace.step_s), 1)
    bend = np.zeros(len(rate))
    bend[half:-half] = np.nan_to_num(np.abs(rate[2 * half :] - rate[: -2 * half]))
    peaks = [int(first) + int(np.argmax(bend[first:last])) for first, last in runs(bend > least)]
    taken: list[int] = []
    for peak in sorted(peaks, key=lambda place: -bend[place]):
        # two corners must not share their samples, or their errors would pass for one another's
        if all(abs(peak - other) * trace.step_s > 1.5 * SIDE_S for other in taken):
            taken.append(peak)
    return np.asarray(trace.grid_s[sorted(taken)], dtype=float)


def _allowed(trace: Trace, rolls: Sequence[tuple[float, float]]) -> FloatArray:
    """One on the grid, zero in take-off rolls."""
    keep = np.ones(len(trace.grid_s))
    for start, end in rolls:
        keep[(trace.grid_s >= start) & (trace.grid_s <= end)] = 0.0
    return keep


def _known(trace: Trace, name: str) -> tuple[FloatArray, FloatArray]:
    values = trace.raw(name)
    known = np.isfinite(values)
    time = trace.time_s[known]
    once = np.concatenate(([True], np.diff(time) > 0)) if len(time) else known[:0]
    return time[once], values[known][once]


def _airspeed(trace: Trace, rolls: Sequence[tuple[float, float]]) -> Delay:
    """Indicated airspeed behind ground speed, on straight ways."""
    if not (trace.has("indicated_airspeed") and trace.has("ground_speed")):
        return UNKNOWN
    keep = _allowed(trace, rolls)
    airspeed = trace.even("indicated_airspeed")
    keep = np.where(airspeed > DEAD_MS, keep, 0.0)
    keep = np.where(_straight(trace), keep, 0.0)
    height = trace.even("pressure_altitude" if trace.has("pressure_altitude") else "gps_altitude")
    factor = 1.0 - 4.8e-5 * float(np.nanmedian(height)) if np.isfinite(height).any() else 0.97
    pair = _Pair("indicated_airspeed", factor, (-2.5, 2.5), *_known(trace, "ground_speed"), GUST_S,
                 BEND_PER_GUST)  # fmt: skip
    bends = smooth(trace.even("ground_speed"), 2.0, trace.step_s)
    found = _joined(trace, pair, bends, CORNER_SPEED_MS2, keep)
    low = _at_one_height(trace, factor, keep)
    if low is None:
        return found
    # The wind falls off towards the runway just where brakes begin: half of that is in doubt.
    moved = _joined(low, pair, bends, CORNER_SPEED_MS2, keep)
    doubt = PROFILE_DOUBT * (moved.late_s - found.late_s)
    if not np.isfinite(doubt):
        return UNKNOWN
    return Delay(moved.late_s, _both(float(doubt), moved), moved.corners)


def _at_one_height(trace: Trace, factor: float, keep: FloatArray) -> Trace | None:
    """Airspeed as the wind at the wheels would make it; None without a height or a standstill."""
    height = trace.even("gps_altitude" if trace.has("gps_altitude") else "pressure_altitude")
    speed = trace.even("ground_speed")
    still = height[(speed < 2.0) & np.isfinite(height)]
    if not len(still):
        return None
    above = np.clip(smooth(height, 3.0, trace.step_s) - np.median(still), 0.0, None)
    apart = np.where(keep > 0.99, trace.even("indicated_airspeed") - factor * speed, np.nan)
    headwind = smooth(apart, PROFILE_S, trace.step_s)
    more = headwind * (1.0 - (1.0 + above / WHEEL_M) ** -PROFILE_EXPONENT)
    known = np.isfinite(more)
    if not known.any():
        return None
    more = np.interp(trace.time_s, trace.grid_s[known], more[known])
    raw = trace.raw("indicated_airspeed") - more
    return Trace(trace.time_s, {"indicated_airspeed": raw}, trace.step_s, trace.gap_s)


def _straight(trace: Trace) -> NDArray[np.bool_]:
    """Where on the grid the airplane does not turn, or nothing tells that it does."""
    for name in ("heading", "track"):
        if trace.has(name):
            rate = np.abs(slope(trace.even(name), 4.0, trace.step_s))
            turns = rate > np.radians(1.2)
            slow = trace.even("ground_speed") < 10.0
            return np.asarray(~turns | slow, dtype=bool)
    if trace.has("roll"):
        return np.asarray(~(np.abs(trace.smoothed("roll", 4.0)) > np.radians(6.0)), dtype=bool)
    return np.ones(len(trace.grid_s), dtype=bool)


def _joined(
    trace: Trace, pair: _Pair, values: FloatArray, least: float, keep: FloatArray
) -> Delay:
    noise = _usual_noise(trace, pair, keep)
    least = max(least, pair.bend_per_noise * noise)
    corners = _corners(trace, np.where(keep > 0.99, values, np.nan), least)
    found = [_corner_shift(trace, pair, float(at), keep, noise) for at in corners]
    joined = join_delays([one for one in found if one is not None])
    return joined if joined.sigma_s < TELLING_S else UNKNOWN


def _usual_noise(trace: Trace, pair: _Pair, keep: FloatArray) -> float:
    """Root mean square of what two signals differ by, less a line, over stretches of usual length.

    One corner is too short to tell its own noise; most of a flight has none.
    """
    early = np.interp(trace.grid_s, pair.early_time_s, pair.early)
    apart = np.where(keep > 0.99, trace.even(pair.late) - pair.factor * early, np.nan)
    count = round(2 * SIDE_S / trace.step_s)
    pieces = apart[: len(apart) // count * count].reshape(-1, count)
    pieces = pieces[np.isfinite(pieces).all(axis=1)]
    if not len(pieces):
        return 0.0
    line = np.stack([np.ones(count), np.arange(count) - (count - 1) / 2], axis=1)
    left = _without(line, pieces.T)
    return float(np.median(np.sqrt((left**2).sum(axis=0) / (count - 4))))


def _static(trace: Trace, rolls: Sequence[tuple[float, float]]) -> Delay:
    """Static altitude behind GPS altitude, in flight."""
    if not (trace.has("pressure_altitude") and trace.has("gps_altitude")):
        return UNKNOWN
    keep = _allowed(trace, rolls)
    if trace.has("ground_speed"):
        keep = np.where(trace.even("ground_speed") > 15.0, keep, 0.0)
    pair = _Pair("pressure_altitude", 1.0, (-2.5, 2.5), *_known(trace, "gps_altitude"))
    height = smooth(trace.even("gps_altitude"), 3.0, trace.step_s)
    return _joined(trace, pair, height, CORNER_CLIMB_MS, keep)


def _turning(trace: Trace, rolls: Sequence[tuple[float, float]]) -> Delay:
    """GPS track behind heading, or behind what bank makes of it."""
    if not (trace.has("track") and trace.has("ground_speed")):
        return UNKNOWN
    keep = np.where(trace.even("ground_speed") > 15.0, _allowed(trace, rolls), 0.0)
    found = []
    if trace.has("heading"):
        pair = _Pair("track", 1.0, (-2.0, 3.0), *_known(trace, "heading"))
        found.append(_joined(trace, pair, trace.even("heading"), CORNER_TURN_RADS, keep))
    if trace.has("roll"):
        time, bank = _known(trace, "roll")
        speed = np.interp(time, trace.grid_s, np.nan_to_num(trace.smoothed("ground_speed", 10.0)))
        rate = GRAVITY_MS2 * np.tan(np.clip(bank, -1.2, 1.2)) / np.maximum(speed, 15.0)
        steps = np.diff(time) * (rate[1:] + rate[:-1]) / 2
        turned = np.concatenate(([0.0], np.cumsum(steps)))
        pair = _Pair("track", 1.0, (-2.0, 3.0), time, turned)
        even = np.interp(trace.grid_s, time, turned)
        found.append(_joined(trace, pair, even, CORNER_TURN_RADS, keep))
    return join_delays([one for one in found if np.isfinite(one.late_s)])
