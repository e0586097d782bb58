"""Velocity over the ground as a vector, from ground speed and track or from positions."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stdday.signals import Trace
from stdday.tracks_speed import derive_speed

__all__ = ["ground_velocity", "has_ground_velocity", "mean_direction_rad", "velocity_at_middle"]

FloatArray = NDArray[np.float64]

#: Positions this far before and after a stretch help to make its ground speed [s].
_BESIDE_S = 30.0


def has_ground_velocity(trace: Trace) -> bool:
    """Whether a recording tells how fast and in which direction the airplane moved.

    Parameters
    ----------
    trace : Trace
        Recording.

    Returns
    -------
    bool
        True with ground speed and track, or with positions; never raises.

    Examples
    --------
    >>> has_ground_velocity(Trace([0.0, 1.0], {"ground_speed": [30.0, 30.0]}))
    False
    """
    return _tracked(trace) or (trace.has("latitude") and trace.has("longitude"))


def _tracked(trace: Trace) -> bool:
    return trace.has("ground_speed") and trace.has("track")


def ground_velocity(trace: Trace, part: slice | None = None) -> tuple[FloatArray, FloatArray, bool]:
    """Give the velocity over the ground at each sample, as recorded.

    Parameters
    ----------
    trace : Trace
        Recording.
    part : slice, optional
        Samples wanted; all, unless given.

    Returns
    -------
    east, north : ndarray, shape (samples,)
        Components [m/s], in the north that the track counts from; NaN where not known.
    positions : bool
        Whether they were made from positions, so that north is true north.

    Examples
    --------
    >>> east, north, _ = ground_velocity(
    ...     Trace([0.0, 1.0], {"ground_speed": [30.0, 30.0], "track": [0.0, np.pi / 2]}))
    >>> east.round(6).tolist(), north.round(6).tolist()
    ([0.0, 30.0], [30.0, 0.0])
    """
    wanted = slice(0, len(trace.time_s)) if part is None else part
    if _tracked(trace) or not has_ground_velocity(trace):
        speed, track = trace.raw("ground_speed")[wanted], trace.raw("track")[wanted]
        return speed * np.sin(track), speed * np.cos(track), False
    # With neighbours: a speed from positions needs fixes on either side.
    first, last = trace.time_s[wanted.start], trace.time_s[max(wanted.stop - 1, wanted.start)]
    wide = trace.between(first - _BESIDE_S, last + _BESIDE_S)
    positions = trace.raw("latitude")[wide], trace.raw("longitude")[wide]
    made = derive_speed(trace.time_s[wide], *positions)
    inner = slice(wanted.start - wide.start, wanted.stop - wide.start)
    speed, track = made.ground_speed[inner], made.track[inner]
    return speed * np.sin(track), speed * np.cos(track), True


def mean_direction_rad(angles_rad: FloatArray) -> float:
    """Mean of directions: the direction of their mean vector, never the mean of the angles.

    Parameters
    ----------
    angles_rad : ndarray, shape (n,)
        Directions [rad]; NaN where unknown.

    Returns
    -------
    float
        Direction [rad], 0 to 2 pi; NaN where none is known or they cancel.

    Examples
    --------
    >>> round(float(np.degrees(mean_direction_rad(np.radians([350.0, 20.0])))), 6)
    5.0
    """
    known = angles_rad[np.isfinite(angles_rad)]
    if not len(known):
        return float("nan")
    east, north = float(np.sin(known).mean()), float(np.cos(known).mean())
    if np.hypot(east, north) < 1e-9:
        return float("nan")
    return float(np.arctan2(east, north) % (2 * np.pi))


def velocity_at_middle(time_s: FloatArray, values_ms: FloatArray) -> float:
    """Give one component of a velocity that turns steadily, at the middle of its samples.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Times [s].
    values_ms : ndarray, shape (n,)
        Component [m/s]; NaN where unknown.

    Returns
    -------
    float
        Of a parabola through the samples at the middle of the time [m/s]; NaN with fewer than
        four.

    Notes
    -----
    The mean of a vector that turns by an angle a is shorter than it by sin(a/2)/(a/2), 2.6 % for
    45 deg: taken for the airspeed it would be 2 kt low. The parabola leaves 0.01 %.

    Examples
    --------
    >>> turned = np.linspace(-np.pi / 8, np.pi / 8, 12)
    >>> round(velocity_at_middle(turned, 40.0 * np.cos(turned)), 2)
    40.0
    """
    known = np.isfinite(values_ms)
    if known.sum() < 4:
        return float("nan")
    middle = (time_s[0] + time_s[-1]) / 2
    half = max(float(time_s[-1] - time_s[0]) / 2, 1e-9)
    apart = (time_s[known] - middle) / half
    return float(np.polynomial.polynomial.polyfit(apart, values_ms[known], 2)[0])
