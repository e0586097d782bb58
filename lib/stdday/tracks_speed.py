"""Ground speed and track from positions, no finer than the positions are.

The displacement between two fixes is measured on the ellipsoid (its radii of curvature at the mean
latitude: within a millionth of the geodesic over the few hundred metres in question). Speed is the
central difference over a stretch of time, never over a number of rows: the shortest one for which
the rounding of the positions makes less than 0.25 m/s, and at least one fix to each side. What
happens within that time is averaged, nothing is sharpened or filled in: beside a gap, and where the
receiver only repeated its last fix, there is no speed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stdday.recording_types import FloatArray

__all__ = ["Derived", "derive_speed", "displacements", "find_jumps", "position_step"]

#: Semi-major axis [m] and squared eccentricity of the ellipsoid of satellite positions (WGS 84).
_AXIS_M, _ECCENTRICITY2 = 6_378_137.0, 0.006_694_379_990_14
#: Error of a speed that rounding of positions may make [m/s]: half a knot.
MOST_ROUNDING_MS = 0.25
#: Longest half stretch taken for that [s], where fixes are closer than it.
MOST_HALF_S = 5.0
#: With fewer different figures the step in which they are given does not show in them.
FEW = 50
#: Slower than this [m/s] a direction is not believed.
LEAST_TRACK_MS = 2.0
#: Faster than this [m/s] between two fixes is a jump of the position; and a run of fixes between
#: two jumps is dropped up to this length [s].
JUMP_MS, JUMP_S = 200.0, 20.0
#: Faster than this [m/s] a position that stays the same was only repeated.
_MOVING_MS = 5.0

BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Derived:
    """Ground speed and track from positions.

    Parameters
    ----------
    ground_speed, track : ndarray, shape (n,)
        Ground speed [m/s] and true track [rad]; NaN where it cannot be told.
    window_s : float
        Usual stretch of time that a speed is the mean of [s]; NaN where there is none.
    step_m : float
        Step in which positions are given [m].
    sigma_ms : float
        Standard deviation of a speed from that rounding alone [m/s].
    repeated : int
        Fixes that only repeat the one before, in motion.
    """

    ground_speed: FloatArray
    track: FloatArray
    window_s: float
    step_m: float
    sigma_ms: float
    repeated: int


def displacements(latitude: FloatArray, longitude: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Measure the way north and east from each position to the next.

    Parameters
    ----------
    latitude, longitude : ndarray, shape (n,)
        Positions [deg].

    Returns
    -------
    tuple of two ndarray, each of shape (n - 1,)
        North and east [m]; never raises.

    Examples
    --------
    A degree of the meridian and of the parallel at 45 degrees are 111 132 m and 78 847 m (tables of
    the ellipsoid, from memory):

    >>> displacements(np.array([44.5, 45.5]), np.array([8.0, 8.0]))[0].round()
    array([111132.])
    >>> displacements(np.array([45.0, 45.0]), np.array([179.5, -179.5]))[1].round()
    array([78847.])
    """
    middle = np.radians((latitude[1:] + latitude[:-1]) / 2.0)
    bend = 1.0 - _ECCENTRICITY2 * np.sin(middle) ** 2
    meridian = _AXIS_M * (1.0 - _ECCENTRICITY2) / bend**1.5
    parallel = _AXIS_M / np.sqrt(bend) * np.cos(middle)
    turn = np.diff(longitude)
    turn = turn - 360.0 * np.round(turn / 360.0)
    return meridian * np.radians(np.diff(latitude)), parallel * np.radians(turn)


def position_step(degrees: FloatArray) -> float:
    """Find the step in which positions are given: decimals of degrees, or of minutes.

    Parameters
    ----------
    degrees : ndarray, shape (n,)
        Latitudes or longitudes [deg]; NaN where missing.

    Returns
    -------
    float
        Largest step that all are a multiple of [deg]; 0 where none of those looked at is.

    Examples
    --------
    >>> position_step(np.array([50.123456, 50.2, 8.000001]))
    1e-06
    >>> round(60.0 * position_step(np.array([50.0, 8.0]) + np.array([12.345, 7.001]) / 60.0), 9)
    0.001
    """
    known = degrees[np.isfinite(degrees)][:5000]
    steps = sorted([10.0**-places for places in range(1, 9)]
                   + [10.0**-places / 60.0 for places in range(7)], reverse=True)
    for step in steps:
        multiple = known / step
        if (np.abs(multiple - np.round(multiple)) <= 1e-3 + 1e-14 * np.abs(multiple)).all():
            return step
    return 0.0


def derive_speed(
    time_s: FloatArray, latitude: FloatArray, longitude: FloatArray,
    step_deg: float = float("nan"),
) -> Derived:
    """Derive ground speed and track from positions.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time [s], strictly increasing.
    latitude, longitude : ndarray, shape (n,)
        Positions [deg]; NaN where missing.
    step_deg : float, optional
        Step in which the format gives positions [deg]; used where too few of them show it.

    Returns
    -------
    Derived
        With the stretch of time that was needed, and what rounding leaves; never raises.

    Examples
    --------
    A second of latitude north each second at 45 degrees, where it is 30.87 m (from memory):

    >>> time = np.arange(10.0)
    >>> made = derive_speed(time, 45.0 + time / 3600.0, np.full(10, 8.0))
    >>> float(made.ground_speed[4].round(2)), float(made.track[4]), made.window_s
    (30.87, 0.0, 2.0)
    """
    nothing = np.full(time_s.shape, np.nan)
    known = np.flatnonzero(np.isfinite(latitude) & np.isfinite(longitude))
    step_m = _step_m(latitude[known], longitude[known], step_deg)
    fresh = known[_fresh(time_s[known], latitude[known], longitude[known], step_m)]
    repeated = int(known.size - fresh.size)
    if fresh.size < 3:
        return Derived(nothing, nothing.copy(), float("nan"), step_m, float("nan"), repeated)
    time = time_s[fresh]
    north, east = (np.concatenate(([0.0], np.cumsum(way)))
                   for way in displacements(latitude[fresh], longitude[fresh]))
    sigma_m = step_m / np.sqrt(12.0)
    half_s = min(sigma_m * np.sqrt(2.0) / (2.0 * MOST_ROUNDING_MS), MOST_HALF_S)
    before, after = _neighbours(time, half_s)
    took = time[after] - time[before]
    close = (took > 0.0) & (took <= 2.0 * half_s + 4.0 * float(np.median(np.diff(time))))
    if not close.any():
        return Derived(nothing, nothing.copy(), float("nan"), step_m, float("nan"), repeated)
    window_s = float(np.median(took[close]))
    sigma_ms = sigma_m * float(np.sqrt(2.0)) / window_s
    rate_north, rate_east = (_central(time, way, before, after) for way in (north, east))
    speed, track = nothing, nothing.copy()
    speed[fresh[close]] = np.hypot(rate_north, rate_east)[close]
    sure = close & (np.hypot(rate_north, rate_east) >= max(LEAST_TRACK_MS, 6.0 * sigma_ms))
    track[fresh[sure]] = np.mod(np.arctan2(rate_east, rate_north), 2.0 * np.pi)[sure]
    return Derived(speed, track, window_s, step_m, sigma_ms, repeated)


def _step_m(latitude: FloatArray, longitude: FloatArray, step_deg: float) -> float:
    """Step in which positions are given, of the finer and in the longer of both directions [m]."""
    if not latitude.size:
        return float("nan")
    few = max(np.unique(latitude).size, np.unique(longitude).size) < FEW
    step = (step_deg if few and np.isfinite(step_deg)
            else min(position_step(latitude), position_step(longitude)))
    middle = np.full(2, float(np.median(latitude)))
    north, _ = displacements(middle + np.array([0.0, step]), np.zeros(2))
    _, east = displacements(middle, np.array([0.0, step]))
    return float(max(abs(north[0]), abs(east[0])))


def _fresh(
    time_s: FloatArray, latitude: FloatArray, longitude: FloatArray, step_m: float
) -> BoolArray:
    """Which fixes are no repetition of the one before, made while the airplane moved on."""
    fresh = np.ones(time_s.shape, dtype=bool)
    if time_s.size < 3:
        return fresh
    fresh[1:] = (np.diff(latitude) != 0.0) | (np.diff(longitude) != 0.0)
    places = np.flatnonzero(fresh)
    if places.size < 2:
        return np.ones(time_s.shape, dtype=bool)
    way = np.hypot(*displacements(latitude[places], longitude[places]))
    took = np.diff(time_s[places])
    moving = (way > _MOVING_MS * took) & (way > 3.0 * step_m)
    stood = ~moving[np.clip(np.searchsorted(places, np.arange(time_s.size), "right") - 1, 0,
                            moving.size - 1)]
    # behind the last fix that is another one: at rest, unless it was in motion a moment before
    stood[places[-1]:] = bool(stood[places[-1]] or time_s[-1] - time_s[places[-1]] > 2.0 * took[-1])
    return fresh | stood


def _neighbours(time_s: FloatArray, half_s: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Nearest fix at least half a stretch before, and after; itself where there is none."""
    place = np.arange(time_s.size, dtype=np.int64)
    slack = 1e-6 + 0.05 * half_s
    before = np.searchsorted(time_s, time_s - half_s + slack, "right").astype(np.int64) - 1
    after = np.searchsorted(time_s, time_s + half_s - slack, "left").astype(np.int64)
    before = np.minimum(before, place - 1)
    after = np.maximum(after, place + 1)
    missing = (before < 0) | (after >= time_s.size)
    return np.where(missing, place, before), np.where(missing, place, after)


def _central(
    time_s: FloatArray, way: FloatArray, before: NDArray[np.int64], after: NDArray[np.int64]
) -> FloatArray:
    """Central difference for uneven times: the slope at the fix of a parabola through the three."""
    left, right = time_s - time_s[before], time_s[after] - time_s
    with np.errstate(invalid="ignore", divide="ignore"):
        rate = ((left / right * (way[after] - way) + right / left * (way - way[before]))
                / (left + right))
    return np.asarray(rate)


def find_jumps(
    time_s: FloatArray, latitude: FloatArray, longitude: FloatArray
) -> BoolArray:
    """Find fixes that the airplane cannot have flown to: short runs between two jumps.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time [s], strictly increasing.
    latitude, longitude : ndarray, shape (n,)
        Positions [deg]; NaN where missing.

    Returns
    -------
    ndarray of bool, shape (n,)
        Which to drop; never raises.

    Examples
    --------
    >>> find_jumps(np.arange(5.0), np.array([50.0, 50.0, 51.0, 50.0, 50.0]), np.full(5, 8.0))
    array([False, False,  True, False, False])
    """
    drop = np.zeros(time_s.shape, dtype=bool)
    known = np.flatnonzero(np.isfinite(latitude) & np.isfinite(longitude))
    if known.size < 3:
        return drop
    way = np.hypot(*displacements(latitude[known], longitude[known]))
    cuts = np.flatnonzero(way > JUMP_MS * np.diff(time_s[known])) + 1
    edges = [0, *cuts.tolist(), int(known.size)]
    sizes = np.diff(edges)
    for run in range(len(edges) - 1 if len(edges) > 2 else 0):
        first, last = known[edges[run]], known[edges[run + 1] - 1]
        beside = max(sizes[run - 1] if run else 0, sizes[run + 1] if run + 2 < len(edges) else 0)
        if time_s[last] - time_s[first] <= JUMP_S and beside > sizes[run]:
            drop[known[edges[run]:edges[run + 1]]] = True
    return drop
