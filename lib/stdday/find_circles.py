"""Circles for airspeed calibration: turns of 270 deg or more at steady bank, cut into arcs."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from stdday.atmosphere import GRAVITY_MS2
from stdday.bands import FOOT_M, KNOT_MS
from stdday.candidates import Candidate, quality_word
from stdday.find_legs import Motion
from stdday.signals import runs, slope
from stdday.steady import Criterion, steady_windows, what_fails

__all__ = ["find_circles"]

FloatArray = NDArray[np.float64]

#: Samples that an arc needs for its velocity.
_LEAST_SAMPLES = 5


def find_circles(motion: Motion) -> list[Candidate]:
    """Find steady circles, and say why other full turns are none.

    The bank is read from the acceleration over the ground, which a steady wind leaves as it is.

    Parameters
    ----------
    motion : Motion
        What the recording tells.

    Returns
    -------
    list of Candidate
        In order of time, with the bounds of their arcs; climbing and descending turns are left
        out. Empty without ground velocity.

    Examples
    --------
    >>> from stdday.find_legs import motion_of
    >>> from stdday.signals import Trace
    >>> time = np.arange(0.0, 100.0)
    >>> speed = np.full(100, 40.0)
    >>> trace = Trace(time, {"ground_speed": speed, "track": 0.08 * time % (2 * np.pi),
    ...                      "indicated_airspeed": speed, "pressure_altitude": 20 * speed})
    >>> [(one.pattern, len(one.legs)) for one in find_circles(motion_of(trace))]
    [('circle', 10)]
    """
    if not np.isfinite(motion.east_ms).any():
        return []
    pull = _pull_ms2(motion)
    criteria = _criteria(motion, pull)
    found: list[Candidate] = []
    for sign in (1.0, -1.0):
        turning = sign * motion.turn_rad_s > motion.bands.leg_turn_rad_s
        for first, last in runs(turning & motion.flying):
            if _turned_rad(motion, int(first), int(last)) >= motion.bands.circle_turn_rad:
                found += _in_turn(motion, criteria, pull, int(first), int(last))
    return sorted(found, key=lambda one: one.start_s)


def _pull_ms2(motion: Motion) -> FloatArray:
    """Acceleration over the ground on the grid [m/s2]."""
    parts = [slope(one, 5.0, motion.trace.step_s) for one in (motion.east_ms, motion.north_ms)]
    return np.asarray(np.hypot(*parts))


def _criteria(motion: Motion, pull: FloatArray) -> tuple[Criterion, ...]:
    trace, bands = motion.trace, motion.bands
    bank = np.log(np.where(pull > 0, pull, np.nan))
    criteria = [
        Criterion("bank not steady: turn slackened by {} %", bank, 2 * bands.circle_bank, 100.0,
                  relative=True)
    ]
    if trace.has("indicated_airspeed"):
        criteria.append(
            Criterion(
                "airspeed not held: {} kt between lowest and highest",
                trace.smoothed("indicated_airspeed", bands.smooth_s),
                2 * bands.circle_airspeed_ms,
                1 / KNOT_MS,
            )
        )
    if motion.altitude:
        criteria.append(
            Criterion(
                "altitude not held: {} ft between lowest and highest",
                trace.smoothed(motion.altitude, 4.0),
                2 * bands.circle_altitude_m,
                1 / FOOT_M,
            )
        )
    return tuple(criteria)


def _turned_rad(motion: Motion, first: int, last: int) -> float:
    """Angle turned between two indices of the grid, the ends trimmed."""
    trim = int(motion.bands.circle_edge_s / motion.trace.step_s)
    if last - first <= 2 * trim + 1:
        return 0.0
    direction = motion.direction_rad
    return abs(float(direction[last - 1 - trim] - direction[first + trim]))


def _in_turn(
    motion: Motion, criteria: tuple[Criterion, ...], pull: FloatArray, first: int, last: int
) -> list[Candidate]:
    def accept(begin: int, end: int) -> bool:
        return _turned_rad(motion, begin, end) >= motion.bands.circle_turn_rad

    windows = steady_windows(criteria, first, last, accept)
    if windows:
        made = [_candidate(motion, pull, begin, end) for begin, end in windows]
        return [one for one in made if one is not None]
    start, end = float(motion.trace.grid_s[first]), float(motion.trace.grid_s[last - 1])
    if abs(_rate_ms(motion, start, end)) > motion.bands.level_slope_ms:
        return []
    reason = what_fails(criteria, first, last, accept)
    return [Candidate("airspeed calibration", start, end, False, reason, "poor: not steady",
                      pattern="circle")]


def _rate_ms(motion: Motion, start: float, end: float) -> float:
    if not motion.altitude:
        return 0.0
    return motion.trace.line(motion.altitude, start, end).rate


def _candidate(motion: Motion, pull: FloatArray, begin: int, end: int) -> Candidate | None:
    trace, bands = motion.trace, motion.bands
    trim = int(bands.circle_edge_s / trace.step_s)
    first, last = begin + trim, end - trim
    start, stop = float(trace.grid_s[first]), float(trace.grid_s[last - 1])
    rate = _rate_ms(motion, start, stop)
    if abs(rate) > bands.level_slope_ms:
        return None
    arcs = max(round(_turned_rad(motion, begin, end) / bands.circle_arc_rad), 1)
    edges = [float(edge) for edge in np.linspace(start, stop, arcs + 1)]
    bank = float(np.arctan(np.nanmedian(pull[first:last]) / GRAVITY_MS2))
    reason = ""
    part = trace.between(start, stop)
    samples = (part.stop - part.start) / arcs
    if abs(rate) > bands.leg_rate_ms:
        reason = f"altitude not held: {rate / FOOT_M * 60:.0f} ft/min over the circle"
    elif bank > bands.circle_steepest_rad:
        reason = (
            f"bank of {np.degrees(bank):.0f} deg: at most "
            f"{np.degrees(bands.circle_steepest_rad):.0f} deg, since the airspeed error changes "
            "with the load"
        )
    elif samples < _LEAST_SAMPLES:
        reason = (
            f"recorded too seldom: {samples:.0f} samples in 45 deg of turn, {_LEAST_SAMPLES} "
            "needed; bank less"
        )
    airspeed = trace.line("indicated_airspeed", start, stop).scatter
    marks = [(airspeed, bands.scatter_airspeed_ms, f"airspeed scatter {airspeed / KNOT_MS:.1f} kt")]
    return Candidate("airspeed calibration", start, stop, not reason, reason, quality_word(marks),
                     pattern="circle", legs=tuple(pairwise(edges)))
