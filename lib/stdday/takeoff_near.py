"""Airspeed and ground speed around lift-off, weighted for what the difference says of the wind.

The seconds of the roll have the wind that is sought, but accelerate, so that a late airspeed passes
for wind; those of the climb do not, but lie higher in the wind. Each second is given the weight of
generalised least squares for the wind at wing height: gusts are correlated in time, the doubt about
delay, profile and static pressure is common to all of them, and each takes its own shape.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stdday.atmosphere import GRAVITY_MS2
from stdday.signals import Trace, fit_line

__all__ = ["NEAR_COLUMNS", "PROFILE_SIGMA", "near_columns"]

FloatArray = NDArray[np.float64]

#: Weighted means over the seconds around lift-off: both speeds (of the airspeed the horizontal
#: part, as shown at the field), acceleration over the ground, wind over that at wing height on the
#: ground [-] and its derivative by the profile's exponent, one sigma of what gusts leave [m/s], and
#: time from the first to the last second [s].
NEAR_COLUMNS = (
    "near_indicated_airspeed_ms",
    "near_ground_speed_ms",
    "near_acceleration_ms2",
    "near_wind_ratio",
    "near_wind_ratio_slope",
    "near_gust_sigma_ms",
    "near_span_s",
)
#: Seconds looked at: from so long before to so long after lift-off [s].
FROM_S, TO_S = -3.0, 40.0
#: Without a direction, or a height, the climb may turn, or be anywhere, after this [s].
SHORT_S, NO_HEIGHT_S = 12.0, 4.0
#: Farther than this from the direction of the roll the airplane turns [rad], 8 deg.
TURN_RAD = 0.14
#: Samples are joined over this [s]: finer than gusts.
JOIN_S = 1.0
#: Time over which acceleration and height are smoothed, to either side [s].
SIDE_S = 2.0
#: Height of the wing on the ground [m]; exponent of the wind's profile, and one sigma of what it is
#: on a day [-]: 0.07 over a lake in the afternoon, 0.25 and more in the evening. Common practice.
WING_HEIGHT_M = 1.5
PROFILE_EXPONENT, PROFILE_SIGMA = 1 / 7, 0.05
#: Delay that the weights reckon with, one sigma [s].
DELAY_SIGMA_S = 0.2
#: Gusts along the path: time of correlation [s], least size [m/s]; and how the wind farther along
#: the way differs from that on the runway, by the square root of time [m/s per sqrt s]. Judgement.
GUST_S, LEAST_GUST_MS, WANDER_MS = 3.0, 0.25, 0.08
#: Noise of one joined sample [m/s].
NOISE_MS = 0.15
#: Part of the static-pressure jump that the airspeed may still have [-], one sigma.
JUMP_SIGMA = 0.25
#: Growth of true over calibrated airspeed with height [1/m]: half of the fall of density.
THINNER_PER_M = 4.8e-5
#: Fewest joined samples.
LEAST_COUNT = 4
#: Least wind that the doubt about the profile is reckoned with [m/s].
LEAST_WIND_MS = 1.0


@dataclass(frozen=True)
class _Seconds:
    """Joined samples around lift-off."""

    after_s: FloatArray
    airspeed: FloatArray
    ground: FloatArray
    acceleration: FloatArray
    height_m: FloatArray


def near_columns(trace: Trace, liftoff_s: float, jump_m: float = 0.0) -> dict[str, float]:
    """Weighted means of airspeed and ground speed around lift-off.

    Parameters
    ----------
    trace : Trace
        Recording with ``ground_speed`` and ``indicated_airspeed``.
    liftoff_s : float
        Lift-off, in the time of the receiver [s].
    jump_m : float, optional
        Jump of static altitude under power on the ground [m]; NaN or 0 where not known.

    Returns
    -------
    dict of str to float
        One entry for each of `NEAR_COLUMNS`, SI; NaN with too few samples of both speeds.

    Examples
    --------
    No wind, an airspeed half a second late, an acceleration that ends 6 s after lift-off at 20 s:

    >>> time = np.arange(0.0, 60.0)
    >>> speed = lambda t: 1.5 * np.clip(t, 0.0, 26.0)
    >>> height = np.clip(3.0 * (time - 21.0), 0.0, None)
    >>> found = near_columns(Trace(time, {
    ...     "ground_speed": speed(time), "indicated_airspeed": speed(time - 0.5),
    ...     "gps_altitude": height, "track": 0.0 * time}), 20.0)
    >>> found["near_acceleration_ms2"] < 0.6, found["near_span_s"] > 30.0
    (True, True)
    >>> apart = found["near_indicated_airspeed_ms"] - found["near_ground_speed_ms"]
    >>> abs(apart + 0.5 * found["near_acceleration_ms2"]) < 0.1
    True
    """
    nothing = dict.fromkeys(NEAR_COLUMNS, float("nan"))
    found = _seconds(trace, liftoff_s)
    if found is None:
        return nothing
    lift = np.log1p(found.height_m / WING_HEIGHT_M)
    ratio = np.exp(PROFILE_EXPONENT * lift)
    weight, gusts = _weights(found, ratio, lift, float(np.nan_to_num(jump_m)))
    weight = weight / weight.sum()
    return dict(
        zip(
            NEAR_COLUMNS,
            [
                float(weight @ found.airspeed),
                float(weight @ found.ground),
                float(weight @ found.acceleration),
                float(weight @ ratio),
                float(weight @ (ratio * lift)),
                float(np.sqrt(weight @ gusts @ weight)),
                float(np.ptp(found.after_s)),
            ],
            strict=True,
        )
    )


def _weights(
    found: _Seconds, ratio: FloatArray, lift: FloatArray, jump_m: float
) -> tuple[FloatArray, FloatArray]:
    """Weights for the wind at wing height, and the covariance of the gusts among the seconds."""
    time, apart = found.after_s, found.airspeed - found.ground
    form = np.exp(-np.abs(time[:, None] - time[None, :]) / GUST_S)
    same = np.sign(time)[:, None] == np.sign(time)[None, :]
    away = np.where(same, np.minimum(np.abs(time)[:, None], np.abs(time)[None, :]), 0.0)
    static = JUMP_SIGMA * GRAVITY_MS2 * jump_m / found.airspeed
    gust, wind = 2 * LEAST_GUST_MS, LEAST_WIND_MS
    for _ in range(3):
        gusts = gust**2 * form + WANDER_MS**2 * away + NOISE_MS**2 * np.eye(len(time))
        shapes = np.stack([
            DELAY_SIGMA_S * found.acceleration, PROFILE_SIGMA * wind * ratio * lift, static
        ])  # fmt: skip
        solved = np.linalg.solve(gusts + shapes.T @ shapes, ratio)
        wind = float(solved @ apart) / float(solved @ ratio)
        left = apart - wind * ratio
        left = left - shapes.T @ np.linalg.lstsq(shapes.T, left, rcond=None)[0]
        gust = max(float(np.std(left)), LEAST_GUST_MS)
        wind = max(abs(wind), LEAST_WIND_MS)
    return np.asarray(solved), np.asarray(gusts)


def _seconds(trace: Trace, liftoff_s: float) -> _Seconds | None:
    """Joined samples of the straight seconds around lift-off; None where there are too few."""
    height = _height(trace, liftoff_s)
    end = liftoff_s + _straight_s(trace, liftoff_s)
    end = end if height is not None else min(end, liftoff_s + NO_HEIGHT_S)
    part = trace.between(liftoff_s + FROM_S, end)
    ground, airspeed = trace.raw("ground_speed")[part], trace.raw("indicated_airspeed")[part]
    # The same samples for both, or their difference would hold a piece of the acceleration.
    both = np.isfinite(ground) & np.isfinite(airspeed) & (airspeed > 0)
    time, ground, airspeed = trace.time_s[part][both], ground[both], airspeed[both]
    if not len(time):
        return None
    _, owner = np.unique(np.floor((time - liftoff_s) / JOIN_S), return_inverse=True)
    count = np.bincount(owner)
    if len(count) < LEAST_COUNT:
        return None
    middle = np.bincount(owner, time) / count
    rate = np.array([_rate(time, ground, one) for one in middle])
    above = np.zeros(len(middle)) if height is None else np.interp(middle, *height)
    above = np.where(middle > liftoff_s, np.maximum(above, 0.0), 0.0)
    along = _level(middle, np.bincount(owner, airspeed) / count, above)
    return _Seconds(middle - liftoff_s, along, np.bincount(owner, ground) / count, rate, above)


def _level(time: FloatArray, airspeed: FloatArray, height_m: FloatArray) -> FloatArray:
    """Horizontal part of an airspeed in the climb, as it would be shown at the field [m/s].

    The same true airspeed is shown as less where the air is thinner.
    """
    climb = np.gradient(height_m, time) / airspeed
    return np.asarray(airspeed * (1 - climb**2 / 2) * (1 + THINNER_PER_M * height_m))


def _rate(time: FloatArray, values: FloatArray, at_s: float) -> float:
    """Slope of a line through the samples near a time; of the nearest four where they are rare."""
    near = np.abs(time - at_s) <= SIDE_S
    if near.sum() < LEAST_COUNT:
        near = np.isin(np.arange(len(time)), np.argsort(np.abs(time - at_s))[:LEAST_COUNT])
    return fit_line(time[near], values[near]).rate


def _height(trace: Trace, liftoff_s: float) -> tuple[FloatArray, FloatArray] | None:
    """Times and heights over the runway at lift-off [m], smoothed; None where not recorded."""
    name = "gps_altitude" if trace.has("gps_altitude") else "pressure_altitude"
    if not trace.has(name):
        return None
    runway = trace.line(name, liftoff_s - 5.0, liftoff_s)
    # The power is up since long before: what static pressure jumped by is in both.
    above = trace.smoothed(name, 2 * SIDE_S) - runway.mean
    known = np.isfinite(above)
    if not np.isfinite(runway.mean) or not known.any():
        return None
    return trace.grid_s[known], above[known]


def _straight_s(trace: Trace, liftoff_s: float) -> float:
    """Time after lift-off for which the airplane keeps the direction of the roll [s]."""
    name = next((one for one in ("track", "heading") if trace.has(one)), "")
    if not name:
        return SHORT_S
    first, last = trace.index(liftoff_s), trace.index(liftoff_s + TO_S)
    way = trace.smoothed(name, SIDE_S)
    roll = way[trace.index(liftoff_s - 4.0) : trace.index(liftoff_s + 4.0) + 1]
    roll = roll[np.isfinite(roll)]
    if not len(roll):
        return SHORT_S
    turned = np.flatnonzero(np.abs(way[first : last + 1] - np.median(roll)) > TURN_RAD)
    if not len(turned):
        return TO_S
    return max(float(turned[0]) * trace.step_s - SIDE_S, 0.0)
