"""Steady straight legs: track, airspeed and altitude held, trimmed after each turn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stdday.bands import BANDS, FOOT_M, KNOT_MS, Bands
from stdday.candidates import ENGINE_CHANNELS, engine_share
from stdday.ground_velocity import ground_velocity, has_ground_velocity, mean_direction_rad
from stdday.signals import Trace, on_even_grid, runs, slope, smooth, unwrap
from stdday.steady import Criterion, steady_windows, what_fails

__all__ = ["Leg", "Motion", "cropped", "find_legs", "motion_of"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


#: Slower over the ground than this [m/s] a track says nothing: slow flight into a strong wind.
_LEAST_GROUND_MS = 5.0


@dataclass(frozen=True)
class Leg:
    """A straight stretch of flight.

    Parameters
    ----------
    start_s, end_s : float
        Bounds after trimming, UTC since 1970 [s].
    held : bool
        Whether track, airspeed and altitude were held for long enough.
    reason : str
        Why not; empty where they were.
    east_ms, north_ms : float
        Mean velocity over the ground [m/s]; NaN where not recorded.
    heading_rad : float
        Mean recorded heading [rad]; NaN where not recorded.
    airspeed_ms, altitude_m, power : float
        Mean indicated airspeed [m/s], altitude [m] and power (or manifold pressure, or engine
        speed) as a share of the flight's highest [-]; NaN where not recorded.
    cruise : bool
        Whether it is part of a longer straight and level flight at one airspeed.
    """

    start_s: float
    end_s: float
    held: bool
    reason: str
    east_ms: float
    north_ms: float
    heading_rad: float
    airspeed_ms: float
    altitude_m: float
    power: float
    cruise: bool = False

    @property
    def duration_s(self) -> float:
        """Time from start to end [s]."""
        return self.end_s - self.start_s


@dataclass(frozen=True)
class Motion:
    """What the search looks at, on the grid.

    Parameters
    ----------
    trace : Trace
        Recording.
    bands : Bands
        Thresholds.
    east_ms, north_ms : ndarray, shape (n,)
        Velocity over the ground [m/s]; NaN where not known.
    direction_rad : ndarray, shape (n,)
        Smoothed track, or heading where there is none, continuous across north [rad].
    turn_rad_s : ndarray, shape (n,)
        Rate of turn of it [rad/s].
    flying : ndarray of bool, shape (n,)
        Faster than anything on the ground.
    altitude : str
        Channel of the altitude; empty where there is none.
    """

    trace: Trace
    bands: Bands
    east_ms: FloatArray
    north_ms: FloatArray
    direction_rad: FloatArray
    turn_rad_s: FloatArray
    flying: BoolArray
    altitude: str


def motion_of(trace: Trace, bands: Bands = BANDS) -> Motion | None:
    """Gather what the search for legs and circles looks at.

    Parameters
    ----------
    trace : Trace
        Recording.
    bands : Bands, optional
        Thresholds.

    Returns
    -------
    Motion or None
        None with neither track, nor positions, nor heading; never raises.

    Examples
    --------
    >>> motion_of(Trace([0.0, 1.0], {"indicated_airspeed": [40.0, 40.0]})) is None
    True
    """
    moving = has_ground_velocity(trace)
    if not moving and not trace.has("heading"):
        return None
    east, north = (
        on_even_grid(trace.time_s, values, trace.grid_s, trace.gap_s)
        for values in ground_velocity(trace)[:2]
    )
    if moving:
        parts = [smooth(values, bands.leg_smooth_s, trace.step_s) for values in (east, north)]
        slow = ~(np.hypot(*parts) >= _LEAST_GROUND_MS)
        direction = unwrap(np.where(slow, np.nan, np.arctan2(*parts)))
    else:
        direction = trace.smoothed("heading", bands.leg_smooth_s)
    speed = (
        trace.even("indicated_airspeed")
        if trace.has("indicated_airspeed")
        else np.hypot(east, north)
    )
    return Motion(
        trace,
        bands,
        east,
        north,
        direction,
        slope(direction, bands.leg_turn_s, trace.step_s),
        np.asarray(~(speed < bands.static_airspeed_ms)),
        next((one for one in ("pressure_altitude", "gps_altitude") if trace.has(one)), ""),
    )


def find_legs(motion: Motion) -> list[Leg]:
    """Find steady straight legs, and straight pieces that are none.

    Parameters
    ----------
    motion : Motion
        What the recording tells.

    Returns
    -------
    list of Leg
        In order of time; climbs and descents are left out.

    Examples
    --------
    A minute east, a quick turn, a minute south:

    >>> time = np.arange(0.0, 130.0)
    >>> track = np.interp(time, [60.0, 70.0], [np.pi / 2, np.pi])
    >>> same = np.full(130, 40.0)
    >>> trace = Trace(time, {"ground_speed": same, "track": track, "indicated_airspeed": same})
    >>> [leg.held for leg in find_legs(motion_of(trace))]
    [True, True]
    """
    bands, step = motion.bands, motion.trace.step_s
    criteria = _criteria(motion)
    found: list[Leg] = []
    for first, last in runs(_straight(motion)):
        if (last - first) * step >= bands.leg_noted_s:
            found += _in_stretch(motion, criteria, int(first), int(last))
    return found


def cropped(motion: Motion, leg: Leg, seconds: float, last: bool) -> Leg:
    """Give the first or last part of a leg.

    Parameters
    ----------
    motion : Motion
        What the recording tells.
    leg : Leg
        Leg that was held.
    seconds : float
        Length of the part [s].
    last : bool
        Whether the last part is wanted.

    Returns
    -------
    Leg
        The whole leg where it is no longer than that; never raises.

    Examples
    --------
    >>> same = np.full(300, 40.0)
    >>> motion = motion_of(Trace(np.arange(300.0), {"ground_speed": same, "track": 0 * same}))
    >>> cropped(motion, find_legs(motion)[0], 60.0, last=False).duration_s
    60.0
    """
    if leg.duration_s <= seconds:
        return leg
    start = leg.end_s - seconds if last else leg.start_s
    first, end = motion.trace.index(start), motion.trace.index(start + seconds) + 1
    return replace(_leg(motion, first, end, ""), cruise=leg.cruise)


def _straight(motion: Motion) -> BoolArray:
    """Flying and not turning; blips shorter than a turn bridged."""
    turning = ~(np.abs(motion.turn_rad_s) <= motion.bands.leg_turn_rad_s)
    for first, last in runs(turning):
        known = np.isfinite(motion.turn_rad_s[first:last]).all()
        if known and (last - first) * motion.trace.step_s <= 2.0:
            turning[first:last] = False
    return np.asarray(~turning & motion.flying)


def _criteria(motion: Motion) -> tuple[Criterion, ...]:
    trace, bands = motion.trace, motion.bands
    criteria = [
        Criterion(
            "track not steady: {} deg between the ends",
            motion.direction_rad,
            2 * bands.leg_track_rad,
            180 / np.pi,
        )
    ]
    if trace.has("indicated_airspeed"):
        criteria.append(
            Criterion(
                "airspeed not held: {} kt between lowest and highest",
                trace.smoothed("indicated_airspeed", bands.smooth_s),
                2 * bands.leg_airspeed_ms,
                1 / KNOT_MS,
            )
        )
    if motion.altitude:
        criteria.append(
            Criterion(
                "altitude not held: {} ft between lowest and highest",
                trace.smoothed(motion.altitude, 4.0),
                2 * bands.level_altitude_m,
                1 / FOOT_M,
            )
        )
    return tuple(criteria)


def _in_stretch(
    motion: Motion, criteria: Sequence[Criterion], first: int, last: int
) -> list[Leg]:
    """Legs in one straight stretch; where there is none, why."""
    step, bands = motion.trace.step_s, motion.bands
    airspeed = motion.trace.even("indicated_airspeed")
    unknown = not motion.trace.has("indicated_airspeed")

    def accept(begin: int, end: int) -> bool:
        known = unknown or np.isfinite(airspeed[begin:end]).mean() > 0.7
        return bool(known and (end - begin) * step >= bands.leg_duration_s)

    windows = steady_windows(criteria, first, last, accept)
    legs = [_trimmed(motion, begin, end) for begin, end in windows]
    if not legs:
        seconds = (last - first) * step
        reason = f"straight for only {seconds:.0f} s"
        if accept(first, last):
            reason = what_fails(criteria, first, last, accept)
        legs = [_leg(motion, first, last, reason)]
        rate = _climb_ms(motion, legs[0])
        return [] if abs(rate) > bands.level_slope_ms else legs
    legs = [
        leg
        for leg in legs
        if leg.duration_s >= bands.leg_noted_s
        and not abs(_climb_ms(motion, leg)) > bands.level_slope_ms
    ]
    return [replace(leg, cruise=_is_cruise(leg, legs, bands)) for leg in legs]


def _is_cruise(leg: Leg, legs: Sequence[Leg], bands: Bands) -> bool:
    """Whether it and what goes on straight, at its airspeed, are longer than a pattern's leg."""
    first = last = legs.index(leg)

    def goes_on(one: Leg, other: Leg) -> bool:
        near = other.start_s - one.end_s <= bands.level_wave_s
        return near and not abs(one.airspeed_ms - other.airspeed_ms) > bands.pattern_airspeed_ms

    while first > 0 and goes_on(legs[first - 1], legs[first]):
        first -= 1
    while last + 1 < len(legs) and goes_on(legs[last], legs[last + 1]):
        last += 1
    return legs[last].end_s - legs[first].start_s > bands.leg_longest_s


def _climb_ms(motion: Motion, leg: Leg) -> float:
    if not motion.altitude:
        return 0.0
    return motion.trace.line(motion.altitude, leg.start_s, leg.end_s).rate


def _trimmed(motion: Motion, first: int, last: int) -> Leg:
    """Drop the lags after the turn, and as much more as track and airspeed are not there yet."""
    step, bands = motion.trace.step_s, motion.bands
    begin = first + int(np.ceil(bands.leg_settling_s / step)) * (first > 0)
    end = last - int(np.ceil(bands.leg_leaving_s / step)) * (last < len(motion.direction_rad))
    inside = np.flatnonzero(_settled(motion, slice(begin, end)))
    if len(inside):
        begin, end = begin + int(inside[0]), begin + int(inside[-1]) + 1
    leg = _leg(motion, begin, max(end, begin + 1), "")
    if leg.duration_s < bands.leg_duration_s - step:
        reason = f"steady for only {leg.duration_s:.0f} s"
        return replace(leg, held=False, reason=reason)
    climb = _climb_ms(motion, leg)
    if abs(climb) > bands.leg_rate_ms:
        reason = f"altitude not held: {climb / FOOT_M * 60:.0f} ft/min over the leg"
        return replace(leg, held=False, reason=reason)
    return leg


def _settled(motion: Motion, part: slice) -> BoolArray:
    """Where direction, airspeed and power are those of most of the leg, and the climb is over."""
    trace, bands = motion.trace, motion.bands
    there = _near(motion.direction_rad[part], bands.leg_edge_rad)
    if trace.has("indicated_airspeed"):
        airspeed = trace.smoothed("indicated_airspeed", bands.leg_smooth_s)[part]
        there &= _near(airspeed, bands.leg_edge_airspeed_ms)
    engine = _engine(trace)
    if engine:
        work = smooth(engine_share(trace, engine)[part], bands.leg_smooth_s, trace.step_s)
        there &= _near(work, bands.pattern_power)
    if motion.altitude:
        rate = slope(trace.even(motion.altitude), bands.leg_edge_s, trace.step_s)[part]
        there &= ~(np.abs(rate) > bands.leg_edge_rate_ms)
    return there


def _engine(trace: Trace) -> str:
    return next((name for name in ENGINE_CHANNELS if trace.has(name)), "")


def _near(values: FloatArray, most: float) -> BoolArray:
    """Where values are within some distance of their median, or not known."""
    known = values[np.isfinite(values)]
    if not len(known):
        return np.ones(len(values), dtype=bool)
    return np.asarray(~(np.abs(values - np.median(known)) > most))


def _leg(motion: Motion, first: int, last: int, reason: str) -> Leg:
    trace = motion.trace
    start, end = float(trace.grid_s[first]), float(trace.grid_s[last - 1])
    part = trace.between(start, end)
    engine = _engine(trace)
    return Leg(
        start,
        end,
        not reason,
        reason,
        _known_mean(motion.east_ms[first:last]),
        _known_mean(motion.north_ms[first:last]),
        mean_direction_rad(trace.raw("heading")[part]),
        trace.mean("indicated_airspeed", start, end),
        trace.mean(motion.altitude, start, end) if motion.altitude else float("nan"),
        _known_mean(engine_share(trace, engine)[first:last]) if engine else float("nan"),
    )


def _known_mean(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else float("nan")
