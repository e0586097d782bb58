"""Lift over weight in a take-off roll, from pitch and airspeed: the wheels leave when it is one.

In steady flight lift is the weight, so that a recording tells by itself what angle of attack each
airspeed needs: pitch less the angle of climb falls with one over the square of the airspeed. With
flaps set for take-off the line moves sideways, and the first climb tells by how much. On the wheels
the angle of climb is nothing, and lift over weight follows from pitch and airspeed alone, whatever
the pilot's habit: an early nose or a late one, a crisp rotation or none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stdday.delays import AIRSPEED_S, ATTITUDE_S, DEAD_MS, Delays
from stdday.signals import Trace, fit_line, slope, smooth

__all__ = ["Wing", "carried_s", "fit_wing"]

FloatArray = NDArray[np.float64]

#: Steady flight: rate of airspeed [m/s2], change of the rate of climb [m/s2], turn [rad/s].
STEADY_MS2, STEADY_CLIMB_MS2, STEADY_TURN_RADS = 0.4, 0.4, 0.02
#: Smoothing of what is steady [s].
STEADY_S = 5.0
#: Least spread of 1/V^2, 90th over 10th percentile [-], for a slope: 45 to 60 kt is 1.8.
LEAST_SPREAD = 1.35
#: First climb, after the airplane is surely up [s]: flaps as for take-off, usually.
FIRST_CLIMB_S = (2.0, 40.0)
#: Least and greatest believable angle of attack over V^2 weight, at 25 m/s [rad]. Judgement.
BELIEVED_RAD = (0.05, 0.6)
#: One sigma of lift over weight at lift-off [-]: ground effect, flaps, thrust. Judgement: 7 %. The
#: slower than in the climb, the more power sucks at the static ports and raises the airspeed: so
#: much more for each part of the climb airspeed below the usual one of lift-off.
LIFT_SIGMA, SLOW_SIGMA, USUAL_PART, UNKNOWN_PART = 0.07, 0.6, 0.75, 0.15
#: Least rise of lift over weight with time that is believed [1/s]: airspeed alone gives twice it.
LEAST_RISE_PER_S = 0.06
#: What no lift tells [s], one sigma: damper travel, filters.
FLOOR_S = 0.15


@dataclass(frozen=True)
class Wing:
    """Angle of attack that flight needs: pitch less climb = need / V^2 - zero, in pitch terms.

    Parameters
    ----------
    need_rad_m2s2 : float
        Slope [rad m2/s2].
    zero_rad : float
        Pitch below which the wing lifts nothing, with the sign turned [rad].
    airspeed_late_s : float
        How late the indicated airspeed is [s].
    climb_ms : float
        Indicated airspeed of the first climb [m/s]; NaN where it is not steady.
    """

    need_rad_m2s2: float
    zero_rad: float
    airspeed_late_s: float
    climb_ms: float

    def lift(self, pitch_rad: FloatArray, airspeed_ms: FloatArray) -> FloatArray:
        """Lift over weight at an angle of climb of nothing [-].

        Parameters
        ----------
        pitch_rad, airspeed_ms : ndarray
            Pitch [rad] and indicated airspeed [m/s].

        Returns
        -------
        ndarray
            Lift over weight [-]; never raises.

        Examples
        --------
        >>> Wing(100.0, 0.05, 0.5, 33.0).lift(np.array([0.11]), np.array([25.0])).round(6).tolist()
        [1.0]
        """
        return np.asarray(airspeed_ms**2 * (pitch_rad + self.zero_rad) / self.need_rad_m2s2)


def fit_wing(trace: Trace, delays: Delays, clear_s: float) -> Wing | None:
    """Fit the angle of attack that flight needs, with the flaps of the climb after a take-off.

    Parameters
    ----------
    trace : Trace
        Recording.
    delays : Delays
        How late its sensors are.
    clear_s : float
        Time at which the airplane is surely up [s].

    Returns
    -------
    Wing or None
        None without pitch, airspeed and a height, or where the flight does not spread far enough
        in airspeed. Never raises.
    """
    height = "gps_altitude" if trace.has("gps_altitude") else "pressure_altitude"
    if not all(trace.has(name) for name in ("pitch", "indicated_airspeed", height)):
        return None
    late = airspeed_late_s(delays)
    receiver = delays.receiver.late_s if height == "gps_altitude" else 0.8
    airspeed = _early(trace, "indicated_airspeed", late)
    pitch = _early(trace, "pitch", ATTITUDE_S[0])
    climb = slope(_early(trace, height, receiver), STEADY_S, trace.step_s)
    with np.errstate(invalid="ignore", divide="ignore"):
        attack = smooth(pitch, STEADY_S, trace.step_s) - climb / airspeed
        over = smooth(airspeed, STEADY_S, trace.step_s) ** -2.0
    steady = _steady(trace, airspeed, climb) & np.isfinite(attack) & np.isfinite(over)
    if steady.sum() < 60 / trace.step_s:
        return None
    low, high = np.percentile(over[steady], [10, 90])
    if high < LEAST_SPREAD * low:
        return None
    need, zero = _line(over[steady], attack[steady])
    grid = trace.grid_s
    first = steady & (grid > clear_s + FIRST_CLIMB_S[0]) & (grid < clear_s + FIRST_CLIMB_S[1])
    climbs = float("nan")
    if first.sum() > 5 / trace.step_s:
        climbs = float(np.median(airspeed[first]))
        zero = float(np.median(need * over[first] - attack[first]))
    believed = BELIEVED_RAD[0] < need / 25.0**2 < BELIEVED_RAD[1]
    return Wing(need, zero, late, climbs) if believed else None


def airspeed_late_s(delays: Delays) -> float:
    """How late the indicated airspeed is [s]: as measured against the receiver, or as usual."""
    if not np.isfinite(delays.airspeed.late_s):
        return AIRSPEED_S[0]
    measured = delays.airspeed.late_s + delays.receiver.late_s
    sigma = np.hypot(delays.airspeed.sigma_s, delays.receiver.sigma_s)
    weight = AIRSPEED_S[1] ** 2 / (AIRSPEED_S[1] ** 2 + sigma**2)
    return float(AIRSPEED_S[0] + weight * (measured - AIRSPEED_S[0]))


def _early(trace: Trace, name: str, late_s: float) -> FloatArray:
    """A channel on the grid, moved to when it happened."""
    grid = trace.grid_s
    return np.interp(grid + late_s, grid, trace.even(name), right=np.nan)


def _steady(trace: Trace, airspeed: FloatArray, climb: FloatArray) -> NDArray[np.bool_]:
    step = trace.step_s
    calm = np.abs(slope(airspeed, STEADY_S, step)) < STEADY_MS2
    calm &= np.abs(slope(climb, STEADY_S, step)) < STEADY_CLIMB_MS2
    calm &= (airspeed > 1.2 * DEAD_MS) & ~(trace.even("ground_speed") < 0.3 * airspeed)
    for name in ("heading", "track"):
        if trace.has(name):
            turn = np.abs(slope(trace.even(name), STEADY_S, step))
            calm &= ~(turn > STEADY_TURN_RADS)
    if trace.has("roll"):
        calm &= ~(np.abs(trace.smoothed("roll", STEADY_S)) > np.radians(6.0))
    return np.asarray(calm, dtype=bool)


def _line(over: FloatArray, attack: FloatArray) -> tuple[float, float]:
    """Slope and (negative) intercept, far samples weighted down."""
    weight = np.ones(len(over))
    need = zero = 0.0
    for _ in range(8):
        mean_x = float(weight @ over / weight.sum())
        mean_y = float(weight @ attack / weight.sum())
        spread = float(weight @ (over - mean_x) ** 2)
        need = float(weight @ ((over - mean_x) * (attack - mean_y))) / max(spread, 1e-30)
        zero = need * mean_x - mean_y
        left = attack - need * over + zero
        scale = 1.48 * float(np.median(np.abs(left))) + 1e-6
        weight = 1.0 / (1.0 + (left / (2 * scale)) ** 2)
    return need, zero


def carried_s(
    trace: Trace, wing: Wing, roll_s: float, clear_s: float
) -> tuple[float, float] | None:
    """Time at which lift first carries the weight, and its sigma.

    Parameters
    ----------
    trace : Trace
        Recording with pitch and indicated airspeed.
    wing : Wing
        Of `fit_wing`.
    roll_s, clear_s : float
        Start of the roll, and a time at which the airplane is surely up [s].

    Returns
    -------
    (float, float) or None
        Time and one sigma [s]; None where lift does not pass the weight between the two.
    """
    part = trace.between(roll_s, clear_s + 1.0)
    time, pitch = trace.time_s[part], trace.raw("pitch")[part]
    known = np.isfinite(pitch)
    if known.sum() < 6:
        return None
    time, pitch = time[known] - ATTITUDE_S[0], pitch[known]
    speed = trace.smoothed("indicated_airspeed", 2.0)
    airspeed = np.interp(time + wing.airspeed_late_s, trace.grid_s, speed)
    lift = wing.lift(pitch, airspeed)
    interval = max(float(np.median(np.diff(time))), 1e-3)
    half = int(0.25 / interval)  # an odd number of samples, or the mean would come late
    lift = np.convolve(np.pad(lift, half, mode="edge"), np.ones(2 * half + 1), "valid")
    lift /= 2 * half + 1
    place = _first_above(time, lift)
    if place is None:
        return None
    share = (1.0 - lift[place - 1]) / (lift[place] - lift[place - 1])
    at = float(time[place - 1] + share * (time[place] - time[place - 1]))
    near = np.abs(time - at) < max(0.8, 1.6 * interval)
    rate = fit_line(time[near], lift[near]).rate
    if interval > 0.5:  # few samples: the step across it tells how fast lift rose there
        step = (lift[place] - lift[place - 1]) / (time[place] - time[place - 1])
        rate = float(np.fmax(rate, step))
    rise = rate if rate > LEAST_RISE_PER_S else LEAST_RISE_PER_S
    of_climb = float(np.interp(at, time, airspeed)) / wing.climb_ms
    slow = max(USUAL_PART - of_climb, 0.0) if np.isfinite(of_climb) else UNKNOWN_PART
    doubt = LIFT_SIGMA + SLOW_SIGMA * slow
    return at, float(np.sqrt((doubt / rise) ** 2 + FLOOR_S**2 + (interval / 5) ** 2))


def _first_above(time: FloatArray, lift: FloatArray) -> int | None:
    """First sample at which lift reaches the weight and does not fall back after it."""
    for place in np.flatnonzero((lift[1:] >= 1.0) & (lift[:-1] < 1.0)) + 1:
        after = (time >= time[place]) & (time < time[place] + 2.5)
        if lift[after].mean() > 0.97:
            return int(place)
    return None


