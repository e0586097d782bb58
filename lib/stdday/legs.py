"""True airspeed and wind from ground speeds flown on several headings.

Legs flown at one airspeed share one wind: the tips of their ground-velocity vectors lie on a
circle whose centre is the wind and whose radius is the true airspeed.  Averaging ground speeds
instead is wrong: 100 kt through 20 kt of wind gives 101 kt over four cardinal headings.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from stdday._arrays import FloatArray, FloatOrArray, as_result, checked
from stdday.errors import InputError

__all__ = [
    "CONDITION_LIMIT",
    "condition_of_headings",
    "heading_to_add_rad",
    "reciprocal_legs",
    "solve_legs",
    "speed_course_ms",
    "three_headings_apart",
    "three_headings_square",
    "track_held_ms",
]

#: Condition of headings [-] above which a pattern is refused: one knot of noise in each leg would
#: be more than two knots in the airspeed. Engineering judgement.
CONDITION_LIMIT = 2.0

_HINT = "is it in km/h or kt?"
_TURNS_RAD = 3.0 * math.pi


def _speed(name: str, values: ArrayLike, low: float = -400.0) -> FloatArray:
    return checked(f"{name} [m/s]", values, low, 400.0, "", _HINT)


def _headings(heading_rad: ArrayLike) -> FloatArray:
    hint = "is it in degrees?"
    return checked("heading_rad [rad]", heading_rad, -_TURNS_RAD, _TURNS_RAD, hint)


def solve_legs(
    ground_east_ms: ArrayLike, ground_north_ms: ArrayLike
) -> tuple[FloatOrArray, FloatOrArray, FloatOrArray]:
    """True airspeed and wind from the ground velocities of three or more legs.

    Parameters
    ----------
    ground_east_ms, ground_north_ms : array_like, shape (..., legs)
        Ground velocity of each leg [m/s], -400 to 400; all on one north, true or magnetic.

    Returns
    -------
    true_ms : float or ndarray, shape (...)
        True airspeed [m/s].
    wind_east_ms, wind_north_ms : float or ndarray, shape (...)
        Velocity that the air moves with [m/s], on the north of the legs; the wind blows *from*
        the opposite direction.

    Raises
    ------
    InputError
        With fewer than three legs, a speed out of range, or legs on one line.

    Notes
    -----
    D. Gray, Using GPS to accurately establish True Airspeed (1998), by linear least squares
    2 x a + 2 y b + c = x^2 + y^2, V = sqrt(c + a^2 + b^2).  Three legs always fit exactly; only a
    fourth leaves a residual.  All legs must be at one true airspeed.

    Examples
    --------
    Legs of 140, 112 and 120 kt on tracks 192, 283 and 020:

    >>> speed, track = np.array([140, 112, 120]), np.radians([192, 283, 20])
    >>> solve_legs(speed * np.sin(track), speed * np.cos(track))[0]
    130.0
    """
    east = _speed("ground_east_ms", ground_east_ms)
    north = _speed("ground_north_ms", ground_north_ms)
    east, north = np.broadcast_arrays(east, north)
    if east.ndim < 1 or east.shape[-1] < 3:
        raise InputError(
            f"ground_east_ms [m/s] must hold three legs at least; got shape {east.shape} "
            "(fly a third leg)"
        )
    design = np.stack([2 * east, 2 * north, np.ones_like(east)], axis=-1)
    whole = np.isfinite(design).all(axis=(-2, -1))
    if np.any(np.linalg.cond(design[whole]) > 1e9):
        raise InputError(
            "ground_east_ms [m/s] must not lie on one line with ground_north_ms "
            "(fly a leg on another heading)"
        )
    square = (east**2 + north**2)[..., None]
    transposed = np.swapaxes(design, -1, -2)
    found = np.linalg.solve(transposed @ design, transposed @ square)[..., 0]
    a, b, c = (np.asarray(found[..., place], dtype=np.float64) for place in range(3))
    return as_result(np.sqrt(c + a**2 + b**2)), as_result(a), as_result(b)


def three_headings_apart(ground_speed_ms: ArrayLike) -> tuple[FloatOrArray, FloatOrArray]:
    """True airspeed and wind speed from ground speeds on three *headings* 120 degrees apart.

    Parameters
    ----------
    ground_speed_ms : array_like, shape (..., 3)
        Ground speeds [m/s], 0 to 400.

    Returns
    -------
    true_ms, wind_ms : float or ndarray, shape (...)
        True airspeed and wind speed [m/s].

    Raises
    ------
    InputError
        Unless there are three ground speeds in range, which such headings can give.

    Notes
    -----
    E. Williams, Aviation Formulary: with m the mean square and a_i = G_i^2/m - 1,
    b = 1/2 +- sqrt(1/4 - sum(a_i^2)/6), V = sqrt(m b+), W = sqrt(m b-).  It needs headings, not
    tracks, exactly 120 degrees apart, and an airspeed above the wind.

    Examples
    --------
    >>> three_headings_apart([122.5765, 142.2011, 99.1405])
    (120.0, 25.0)
    """
    speeds = _speed("ground_speed_ms", ground_speed_ms, 0.0)
    if speeds.ndim < 1 or speeds.shape[-1] != 3:
        raise InputError(f"ground_speed_ms [m/s] must hold three legs; got shape {speeds.shape}")
    mean = np.mean(speeds**2, axis=-1)
    spread = np.sum((speeds**2 / mean[..., None] - 1) ** 2, axis=-1) / 6
    root = np.sqrt(checked("sum of squares of the legs [-]", 0.25 - spread, 0.0, 0.25,
                           "were the headings 120 degrees apart?"))
    return as_result(np.sqrt(mean * (0.5 + root))), as_result(np.sqrt(mean * (0.5 - root)))


def three_headings_square(
    first_ms: ArrayLike, across_ms: ArrayLike, back_ms: ArrayLike
) -> tuple[FloatOrArray, FloatOrArray]:
    """True airspeed and wind speed from ground speeds on *headings* such as north, east, south.

    Parameters
    ----------
    first_ms, across_ms, back_ms : array_like, broadcast
        Ground speeds [m/s], 0 to 400, on any heading, on it plus (or minus) 90 and plus 180
        degrees.

    Returns
    -------
    true_ms, wind_ms : float or ndarray
        True airspeed and wind speed [m/s].

    Raises
    ------
    InputError
        A speed is out of range, or no airspeed gives these ground speeds.

    Notes
    -----
    The horseshoe of three headings, published in several technical notes (common practice):
    s = (N^2 + S^2)/2, A = (S^2 - N^2)/4, B = (E^2 - s)/2, V^2 = [s + sqrt(s^2 - 4(A^2 + B^2))]/2.

    Examples
    --------
    >>> three_headings_square(127.0637, 117.3814, 93.2889)
    (110.0, 18.0)
    """
    first, across, back = (
        _speed(name, value, 0.0)
        for name, value in (
            ("first_ms", first_ms), ("across_ms", across_ms), ("back_ms", back_ms)
        )
    )
    total = (first**2 + back**2) / 2
    product = ((back**2 - first**2) / 4) ** 2 + ((across**2 - total) / 2) ** 2
    root = np.sqrt(checked("s^2 - 4(A^2 + B^2)", total**2 - 4 * product, 0.0, np.inf,
                           "were the headings 90 and 180 degrees apart?"))
    return as_result(np.sqrt((total + root) / 2)), as_result(np.sqrt((total - root) / 2))


def reciprocal_legs(
    ground_east_ms: ArrayLike, ground_north_ms: ArrayLike
) -> tuple[FloatOrArray, FloatOrArray, FloatOrArray]:
    """True airspeed and wind from two legs on opposite *headings*, drifting with the crosswind.

    Parameters
    ----------
    ground_east_ms, ground_north_ms : array_like, shape (..., 2)
        Ground velocity of each leg [m/s], -400 to 400.

    Returns
    -------
    true_ms, wind_east_ms, wind_north_ms : float or ndarray, shape (...)
        True airspeed and velocity of the air [m/s].

    Raises
    ------
    InputError
        Unless there are two legs in range.

    Notes
    -----
    V u + W and -V u + W: half the difference is the airspeed, half the sum the wind.  Where the
    *track* was held instead, the airspeed comes out low by W_cross^2/(2 V).

    Examples
    --------
    >>> reciprocal_legs([5.0, 5.0], [60.0, -40.0])
    (50.0, 5.0, 10.0)
    """
    east = _speed("ground_east_ms", ground_east_ms)
    north = _speed("ground_north_ms", ground_north_ms)
    if east.ndim < 1 or east.shape[-1] != 2 or east.shape != north.shape:
        raise InputError(f"ground_east_ms [m/s] must hold two legs; got shape {east.shape}")
    true = 0.5 * np.hypot(east[..., 0] - east[..., 1], north[..., 0] - north[..., 1])
    wind_east, wind_north = np.asarray(east.mean(axis=-1)), np.asarray(north.mean(axis=-1))
    return as_result(true), as_result(wind_east), as_result(wind_north)


def speed_course_ms(length_m: ArrayLike, time_out_s: ArrayLike, time_back_s: ArrayLike
                    ) -> FloatOrArray:
    """True airspeed from a measured course flown both ways by stopwatch, headings held.

    Parameters
    ----------
    length_m : array_like, any shape
        Length of the course [m], 100 to 100000.
    time_out_s, time_back_s : array_like, broadcast
        Times between the ends [s], 2 to 10000.

    Returns
    -------
    float or ndarray
        True airspeed [m/s].

    Raises
    ------
    InputError
        A value is out of range.

    Notes
    -----
    The two *speeds* are averaged, not the times: the mean time lets the headwind count longer.
    The heading is held and the airplane drifts, so that the ground covered along the course is
    not shortened by crabbing.  U.S. advisory circular 23-8, appendix 9.

    Examples
    --------
    Two statute miles, 51.284 s out and 63.843 s back, are 110.0 kt (the mean time says 108.7):

    >>> speed_course_ms(3218.69, 51.284, 63.843) * 3600 / 1852
    110.0
    """
    length = checked("length_m [m]", length_m, 100.0, 1e5, "is it in km or miles?")
    out = checked("time_out_s [s]", time_out_s, 2.0, 1e4, "is it in minutes?")
    back = checked("time_back_s [s]", time_back_s, 2.0, 1e4, "is it in minutes?")
    return as_result((length / out + length / back) / 2)


def track_held_ms(track_speed_ms: ArrayLike, crosswind_ms: ArrayLike) -> FloatOrArray:
    """Correct the mean speed of a course whose *track* was held, crabbing into a crosswind.

    Parameters
    ----------
    track_speed_ms : array_like, any shape
        Mean of the two speeds along the track [m/s], 1 to 400.
    crosswind_ms : array_like, broadcasts
        Wind across the course [m/s], -60 to 60.

    Returns
    -------
    float or ndarray
        True airspeed [m/s].

    Raises
    ------
    InputError
        A value is out of range.

    Notes
    -----
    V = sqrt(G^2 + W_cross^2): wind triangle.

    Examples
    --------
    >>> track_held_ms(50.0, 5.0)
    50.249
    """
    speed = _speed("track_speed_ms", track_speed_ms, 1.0)
    cross = checked("crosswind_ms [m/s]", crosswind_ms, -60.0, 60.0, _HINT)
    return as_result(np.hypot(speed, cross))


def condition_of_headings(heading_rad: ArrayLike) -> float:
    """How much of the noise of a leg comes through to the airspeed of its pattern.

    Parameters
    ----------
    heading_rad : array_like, shape (legs,)
        Heading of each leg [rad], -9.42 to 9.42.

    Returns
    -------
    float
        One sigma of the airspeed for one of a leg [-]: 0.5 for a box, 0.58 for a triangle; infinite
        where the headings cannot tell airspeed from wind.

    Raises
    ------
    InputError
        A heading is out of range.

    Notes
    -----
    Root of the first element of (X'X)^-1, rows of X being 1, sin and cos of the heading; or a
    quarter of the worst sigma of the wind, where that is more: a wind across the legs that is not
    known falsifies the airspeed by its square.

    Examples
    --------
    >>> condition_of_headings(np.radians([0, 90, 180, 270]))
    0.5
    """
    heading = _headings(heading_rad)
    variances = _variances(heading[np.isfinite(heading)])
    if variances is None:
        return math.inf
    worst_wind = np.linalg.eigvalsh(variances[1:, 1:])[-1]
    return float(np.sqrt(max(variances[0, 0], worst_wind / 16)))


def _variances(heading: FloatArray) -> FloatArray | None:
    """Covariance of airspeed and wind for unit noise; None where they cannot be told apart."""
    design = np.column_stack([np.ones_like(heading), np.sin(heading), np.cos(heading)])
    if len(heading) < 3 or np.linalg.matrix_rank(design, tol=1e-6) < 3:
        return None
    return np.asarray(np.linalg.inv(design.T @ design), dtype=np.float64)


def heading_to_add_rad(heading_rad: ArrayLike) -> float:
    """Heading of one more leg that helps a pattern most.

    Parameters
    ----------
    heading_rad : array_like, shape (legs,)
        Headings flown [rad], -9.42 to 9.42; one at least.

    Returns
    -------
    float
        Heading [rad], 0 to 2 pi, in steps of 10 degrees, that makes the sum of the variances of
        airspeed and wind least; where two legs are missing, a leg across those flown.

    Raises
    ------
    InputError
        A heading is out of range, or there is none.

    Examples
    --------
    >>> math.degrees(heading_to_add_rad(np.radians([0, 90, 180])))
    270.0
    """
    heading = _headings(heading_rad)
    heading = heading[np.isfinite(heading)]
    if not len(heading):
        raise InputError("heading_rad [rad] must hold a heading; got none")
    offered = np.radians(np.arange(0, 360, 10))
    variances = [_variances(np.append(heading, one)) for one in offered]
    found = [math.inf if one is None else float(np.trace(one)) for one in variances]
    if np.isfinite(found).any():
        return float(offered[int(np.argmin(np.round(found, 9)))])
    away = [float(np.max(np.cos(heading - one) ** 2)) for one in offered]
    return float(offered[int(np.argmin(away))])
