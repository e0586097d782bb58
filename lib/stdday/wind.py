"""Components of a wind along and across a course."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from stdday._arrays import FloatArray, FloatOrArray, as_result, checked

__all__ = ["crosswind_ms", "headwind_ms", "wind_from"]

# One and a half turns either way: room for directions on both sides of north and for their draws.
_TURNS_RAD = 3.0 * math.pi


def _checked(
    wind_from_rad: ArrayLike, wind_speed_ms: ArrayLike, course_rad: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    hint = "is it in degrees?"
    wind_from = checked("wind_from_rad [rad]", wind_from_rad, -_TURNS_RAD, _TURNS_RAD, hint)
    course = checked("course_rad [rad]", course_rad, -_TURNS_RAD, _TURNS_RAD, hint)
    speed = checked("wind_speed_ms [m/s]", wind_speed_ms, 0.0, 60.0, "", "is it in km/h or kt?")
    return np.asarray(wind_from - course), speed


def headwind_ms(
    wind_from_rad: ArrayLike, wind_speed_ms: ArrayLike, course_rad: ArrayLike
) -> FloatOrArray:
    """Headwind component of a wind.

    Parameters
    ----------
    wind_from_rad : array_like, any shape
        Direction that the wind comes from [rad], clockwise from north, -9.42 to 9.42.
    wind_speed_ms : array_like, broadcasts
        Wind speed [m/s], 0 to 60.
    course_rad : array_like, broadcasts
        Course or runway direction [rad], clockwise from the same north (both true, or both
        magnetic), -9.42 to 9.42.

    Returns
    -------
    float or ndarray
        Headwind [m/s], in the broadcast shape; negative is a tailwind.

    Raises
    ------
    InputError
        A value is out of range.

    Notes
    -----
    W cos(wind from - course): wind triangle, common practice.

    Examples
    --------
    >>> headwind_ms(math.radians(50.0), 10.0, math.radians(80.0))
    8.66
    """
    angle, speed = _checked(wind_from_rad, wind_speed_ms, course_rad)
    return as_result(speed * np.cos(angle))


def crosswind_ms(
    wind_from_rad: ArrayLike, wind_speed_ms: ArrayLike, course_rad: ArrayLike
) -> FloatOrArray:
    """Crosswind component of a wind.

    Parameters
    ----------
    wind_from_rad : array_like, any shape
        Direction that the wind comes from [rad], clockwise from north, -9.42 to 9.42.
    wind_speed_ms : array_like, broadcasts
        Wind speed [m/s], 0 to 60.
    course_rad : array_like, broadcasts
        Course or runway direction [rad], clockwise from the same north (both true, or both
        magnetic), -9.42 to 9.42.

    Returns
    -------
    float or ndarray
        Crosswind [m/s], in the broadcast shape; positive from the right, negative from the left.

    Raises
    ------
    InputError
        A value is out of range.

    Notes
    -----
    W sin(wind from - course): wind triangle, common practice.

    Examples
    --------
    >>> crosswind_ms(math.radians(50.0), 10.0, math.radians(80.0))
    -5.00
    """
    angle, speed = _checked(wind_from_rad, wind_speed_ms, course_rad)
    return as_result(speed * np.sin(angle))


def wind_from(east_ms: ArrayLike, north_ms: ArrayLike) -> tuple[FloatOrArray, FloatOrArray]:
    """Direction that a wind comes from, and its speed, from the velocity of the air.

    Parameters
    ----------
    east_ms, north_ms : array_like, broadcast
        Velocity that the air moves with [m/s], -100 to 100.

    Returns
    -------
    from_rad : float or ndarray
        Direction that it comes *from* [rad], 0 to 2 pi, on the north of the velocity.
    speed_ms : float or ndarray
        Wind speed [m/s].

    Raises
    ------
    InputError
        A value is out of range.

    Notes
    -----
    The direction of the velocity plus half a turn.

    Examples
    --------
    Air that moves to the south-east comes from 315 degrees:

    >>> from_rad, speed_ms = wind_from(3.0, -3.0)
    >>> math.degrees(from_rad)
    315.0
    """
    east = checked("east_ms [m/s]", east_ms, -100.0, 100.0, "is it in km/h or kt?")
    north = checked("north_ms [m/s]", north_ms, -100.0, 100.0, "is it in km/h or kt?")
    from_rad = np.mod(np.arctan2(-east, -north), 2 * math.pi)
    return as_result(from_rad), as_result(np.hypot(east, north))
