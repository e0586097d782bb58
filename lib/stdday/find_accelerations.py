"""Level accelerations at full throttle: one run gives excess power over a range of airspeeds."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from stdday.bands import BANDS, FOOT_M, Bands
from stdday.candidates import Candidate, full_throttle, knots, quality_word, throttle_ratio
from stdday.signals import Trace, runs, slope

__all__ = ["acceleration_windows", "find_accelerations"]

FloatArray = NDArray[np.float64]


def find_accelerations(
    trace: Trace,
    bands: Bands = BANDS,
    naturally_aspirated: bool = True,
    liftoff_airspeed_ms: float = float("nan"),
) -> list[Candidate]:
    """Find level accelerations, and note level decelerations.

    Parameters
    ----------
    trace : Trace
        Recording; ``pressure_altitude`` and ``indicated_airspeed`` are needed.
    bands : Bands, optional
        Thresholds.
    naturally_aspirated : bool, optional
        Whether full-throttle power falls with altitude.
    liftoff_airspeed_ms : float, optional
        Lift-off airspeed [m/s]; what is slower than 1.2 times it is not looked at, which keeps
        rolls on the ground out. NaN: all above a standstill.

    Returns
    -------
    list of Candidate
        In order of time; large decelerations and what was not at full throttle are not used, with
        the reason. Empty where a needed channel is missing.

    Examples
    --------
    Half a minute of 35 m/s, then 0.5 m/s^2 up to 55 m/s:

    >>> time = np.arange(0.0, 120.0)
    >>> airspeed = np.clip(35.0 + 0.5 * (time - 30.0), 35.0, 55.0)
    >>> trace = Trace(time, {"pressure_altitude": 900.0 + 0 * time, "indicated_airspeed": airspeed})
    >>> [(one.start_s > 25, one.end_s < 75, one.used) for one in find_accelerations(trace)]
    [(True, True, True)]
    """
    if not (trace.has("pressure_altitude") and trace.has("indicated_airspeed")):
        return []
    airspeed = trace.smoothed("indicated_airspeed", bands.accel_smooth_s)
    growth = slope(trace.even("indicated_airspeed"), bands.accel_slope_s, trace.step_s)
    climb = slope(trace.even("pressure_altitude"), bands.accel_slope_s, trace.step_s)
    slowest = bands.level_speed_ratio * liftoff_airspeed_ms
    slowest = slowest if np.isfinite(slowest) else bands.static_airspeed_ms
    level = (np.abs(climb) < bands.accel_level_ms) & (airspeed > slowest)
    climbing = (climb > bands.climb_rate_ms) & (airspeed > bands.static_airspeed_ms)
    ratio, engine = throttle_ratio(trace, naturally_aspirated)
    least = full_throttle(ratio, engine, climbing, bands)[1]
    found = []
    for sign in (1.0, -1.0):
        for first, last in runs(level & (sign * growth > bands.accel_rate_ms2)):
            part = slice(int(first), int(last))
            gained = float(np.ptp(airspeed[part]))
            if gained < (bands.accel_gain_ms if sign > 0 else bands.accel_noted_ms):
                continue
            open_ = _open(part, ratio, least) if sign > 0 else part
            full = float(np.ptp(airspeed[open_])) if open_.stop - open_.start > 1 else 0.0
            if full < bands.accel_gain_ms:
                found.append(_candidate(trace, part, "not full throttle", gained))
            else:
                found.append(_candidate(trace, open_, _reason(trace, open_, bands, sign), full))
    return sorted(found, key=lambda one: one.start_s)


def _open(part: slice, ratio: FloatArray, least: float) -> slice:
    """Return the longest piece at full throttle: it opens for some seconds at the start."""
    pieces = runs(~(ratio[part] < least))
    if not len(pieces):
        return slice(part.start, part.start)
    first, last = max(pieces, key=lambda piece: int(piece[1] - piece[0]))
    return slice(part.start + int(first), part.start + int(last))


def _reason(trace: Trace, part: slice, bands: Bands, sign: float) -> str:
    """Why a stretch is no acceleration in level flight; empty where it is one."""
    airspeed = trace.smoothed("indicated_airspeed", bands.accel_smooth_s)[part]
    if sign < 0:
        return f"deceleration from {knots(airspeed.max())} to {knots(airspeed.min())}: noted only"
    band = float(np.ptp(trace.smoothed("pressure_altitude", 4.0)[part]))
    if band > 2 * bands.accel_altitude_m:
        return f"altitude not steady: {band / FOOT_M:.0f} ft between lowest and highest"
    direction = next((name for name in ("heading", "track") if trace.has(name)), "")
    if direction:
        turned = float(np.ptp(trace.smoothed(direction, bands.smooth_s)[part]))
        if turned > 2 * bands.climb_heading_rad:
            return f"turning: {direction} changed by {np.degrees(turned):.0f} deg"
    return ""


def _candidate(trace: Trace, part: slice, reason: str, gained: float) -> Candidate:
    start, end = float(trace.grid_s[part.start]), float(trace.grid_s[part.stop - 1])
    scatter = trace.line("pressure_altitude", start, end).scatter
    marks = [(scatter, BANDS.scatter_altitude_m, f"altitude scatter {scatter / FOOT_M:.0f} ft")]
    quality = quality_word(marks)
    details = {"gained_ms": gained}
    return Candidate("acceleration", start, end, not reason, reason, quality, details)


def acceleration_windows(
    trace: Trace, start_s: float, end_s: float, bands: Bands = BANDS
) -> list[tuple[str, float, float]]:
    """Cut an acceleration into windows of airspeed.

    Parameters
    ----------
    trace : Trace
        Recording with ``indicated_airspeed``.
    start_s, end_s : float
        Bounds of the acceleration [s].
    bands : Bands, optional
        Thresholds.

    Returns
    -------
    list of (str, float, float)
        Name, and bounds [s] of each window; the last one takes in what is left.

    Examples
    --------
    >>> time = np.arange(0.0, 60.0)
    >>> trace = Trace(time, {"indicated_airspeed": 35.0 + 0.4 * time})
    >>> len(acceleration_windows(trace, 5.0, 55.0))
    7
    """
    first, last = trace.index(start_s), trace.index(end_s) + 1
    airspeed = trace.smoothed("indicated_airspeed", bands.accel_smooth_s)[first:last]
    time, edges = trace.grid_s[first:last], [0]
    for place in range(1, len(time)):
        wide = airspeed[place] - airspeed[edges[-1]] >= bands.accel_window_ms
        if wide and time[place] - time[edges[-1]] >= bands.accel_window_s:
            edges.append(place)
    if len(edges) > 1:
        edges[-1] = len(time) - 1
    return [
        (f"acceleration_{number}", float(time[begin]), float(time[end]))
        for number, (begin, end) in enumerate(itertools.pairwise(edges), start=1)
    ]
