"""What follows from a curve of rate of climb: gradient, best airspeeds, ceilings, time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from stdday import _ranges
from stdday._arrays import FloatOrArray, as_result, checked

__all__ = [
    "ClimbSpeeds",
    "altitude_of_rate_m",
    "climb_gradient",
    "climb_speeds_of_parabola",
    "time_to_climb_s",
]


@dataclass(frozen=True)
class ClimbSpeeds:
    """Best-rate and best-angle airspeeds of a fitted curve.

    Parameters
    ----------
    best_rate_ms, best_angle_ms : float or ndarray
        Airspeeds [m/s], of the kind that was fitted; NaN where the curve has none.

    Examples
    --------
    >>> climb_speeds_of_parabola(-7.0, 0.53, -0.0064)
    ClimbSpeeds(best_rate_ms=41.4, best_angle_ms=33.1)
    """

    best_rate_ms: FloatOrArray
    best_angle_ms: FloatOrArray


def climb_gradient(rate_ms: ArrayLike, true_ms: ArrayLike) -> FloatOrArray:
    """Height gained over distance flown through still air, ``RC/sqrt(V^2 - RC^2)``.

    Parameters
    ----------
    rate_ms : array_like, any shape
        Geometric rate of climb RC [m/s], at most 0.9 of the true airspeed.
    true_ms : array_like, broadcasts
        True airspeed V along the path [m/s], 1 to 300.

    Returns
    -------
    float or ndarray
        Gradient [-], the tangent of the climb angle.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Geometry of a steady climb.

    Examples
    --------
    >>> round(climb_gradient(4.0, 32.0), 4)
    0.126
    """
    rate = _ranges.height_rate(rate_ms, "rate_ms")
    hint = "is one of them in another unit?"
    sine = checked("rate_ms over true_ms [-]", rate / _ranges.moving_airspeed(true_ms),
                   -0.9, 0.9, hint)  # fmt: skip
    return as_result(sine / np.sqrt(1.0 - sine**2))


def climb_speeds_of_parabola(
    constant: ArrayLike, linear: ArrayLike, quadratic: ArrayLike
) -> ClimbSpeeds:
    """Best-rate and best-angle airspeeds of ``RC = a0 + a1 V + a2 V^2``.

    Parameters
    ----------
    constant : array_like, any shape
        a0 [m/s], -1000 to 1000.
    linear : array_like, broadcasts
        a1 [-], -100 to 100.
    quadratic : array_like, broadcasts
        a2 [s/m], -10 to 10.

    Returns
    -------
    ClimbSpeeds
        The vertex ``-a1/(2 a2)`` and the tangent from the origin ``sqrt(a0/a2)`` [m/s]: NaN where
        the curve does not open downwards, and where no tangent touches it.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Definition of the two airspeeds, for small climb angles, with one kind of airspeed on both axes.

    Examples
    --------
    >>> climb_speeds_of_parabola(-7.0, 0.53, -0.0064).best_rate_ms.__round__(1)
    41.4
    """
    a0 = checked("constant [m/s]", constant, -1e3, 1e3, "is the rate in ft/min?")
    a1 = checked("linear [-]", linear, -100.0, 100.0, "is the rate in ft/min?")
    a2 = checked("quadratic [s/m]", quadratic, -10.0, 10.0, "is the rate in ft/min?")
    downward = np.where(a2 < 0.0, a2, np.nan)
    square = a0 / downward
    return ClimbSpeeds(
        best_rate_ms=as_result(-a1 / (2.0 * downward)),
        best_angle_ms=as_result(np.sqrt(np.where(square > 0.0, square, np.nan))),
    )


def altitude_of_rate_m(
    sea_level_rate_ms: ArrayLike, rate_slope_per_s: ArrayLike, rate_ms: ArrayLike
) -> FloatOrArray:
    """Altitude at which a rate of climb that falls in a straight line reaches a value.

    Parameters
    ----------
    sea_level_rate_ms : array_like, any shape
        Rate of climb at zero altitude [m/s], -100 to 100.
    rate_slope_per_s : array_like, broadcasts
        Change of rate of climb for each metre of altitude [1/s], -0.1 to -1e-6.
    rate_ms : array_like, broadcasts
        Rate of climb looked for [m/s]: 0 for the absolute ceiling, 0.508 (100 ft/min) for the
        service ceiling.

    Returns
    -------
    float or ndarray
        Altitude of the kind that was fitted [m]; beyond the flown altitudes an extrapolation.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Definitions of the ceilings: FAA-H-8083-25 (from memory).

    Examples
    --------
    >>> round(altitude_of_rate_m(4.76, -9.8e-4, 0.508))
    4339
    """
    start = _ranges.height_rate(sea_level_rate_ms, "sea_level_rate_ms")
    hint = "the rate must fall with altitude: change in m/s for each metre"
    slope = checked("rate_slope_per_s [1/s]", rate_slope_per_s, -0.1, -1e-6, hint)
    return as_result((_ranges.height_rate(rate_ms, "rate_ms") - start) / slope)


def time_to_climb_s(
    sea_level_rate_ms: ArrayLike, rate_slope_per_s: ArrayLike, from_m: ArrayLike, to_m: ArrayLike
) -> FloatOrArray:
    """Time between two altitudes with a rate of climb that changes in a straight line.

    Parameters
    ----------
    sea_level_rate_ms : array_like, any shape
        Rate of climb at zero altitude [m/s], -100 to 100.
    rate_slope_per_s : array_like, broadcasts
        Change of rate of climb for each metre of altitude [1/s], -0.1 to 0.1; usually negative.
    from_m, to_m : array_like, broadcast
        Altitudes [m], -2000 to 20000, `to_m` not below `from_m`.

    Returns
    -------
    float or ndarray
        Time [s]; NaN where the climb stops at or before the upper altitude.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    ``t = (1/b) ln((a + b h2)/(a + b h1))``: J. D. Anderson, Aircraft Performance and Design, ch. 5;
    Perkins and Hage (from memory).

    Examples
    --------
    >>> round(time_to_climb_s(4.5, -9e-4, 0.0, 2000.0))
    568
    """
    hint = "change of rate in m/s for each metre"
    slope = checked("rate_slope_per_s [1/s]", rate_slope_per_s, -0.1, 0.1, hint)
    low = checked("from_m [m]", from_m, -2000.0, 20000.0, "is it in feet?")
    high = checked("to_m [m]", to_m, -2000.0, 20000.0, "is it in feet?")
    climbed = checked("to_m - from_m [m]", high - low, 0.0, 22000.0, "a climb goes up")
    rate = _ranges.height_rate(sea_level_rate_ms, "sea_level_rate_ms") + slope * low
    rate = np.where((rate > 0.0) & (rate + slope * climbed > 0.0), rate, np.nan)
    change = slope * climbed / rate
    grown = np.divide(np.log1p(change), change, out=np.ones_like(change), where=change != 0.0)
    return as_result(climbed / rate * grown)
