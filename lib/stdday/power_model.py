"""One airframe under several propellers: level power as a polar over a ratio of efficiencies.

``P = (A x^3 + B/x) exp(-k - s z)`` with x the airspeed over a fixed one and ``z = ln x - z0``: the
polar is common to all configurations of an airplane, ``exp(k + s z)`` is a configuration's
installed propulsive efficiency over that of the reference configuration.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from stdday._arrays import FloatArray, FloatOrArray, as_result, checked

__all__ = ["efficiency_ratio", "model_exponent", "model_power", "model_slopes", "model_speed"]


def efficiency_ratio(
    speed_ratio: ArrayLike, shift: ArrayLike, slope: ArrayLike, middle: ArrayLike
) -> FloatOrArray:
    """Installed efficiency over that of the reference configuration at one airspeed.

    Parameters
    ----------
    speed_ratio : array_like, any shape
        Airspeed over the fixed one, x [-], 0.01 to 20.
    shift, slope : array_like, broadcast
        k and s, logarithm of the ratio in the middle and its growth with ln x [-].
    middle : array_like, broadcasts
        ln x of the middle, z0 [-].

    Returns
    -------
    float or ndarray
        Ratio [-].

    Raises
    ------
    InputError
        An argument is out of its range.

    Examples
    --------
    >>> round(efficiency_ratio(1.1, 0.02, 0.2, 0.0), 4)
    1.0398
    """
    away = np.log(_speed(speed_ratio)) - np.asarray(middle, dtype=float)
    return as_result(np.exp(np.asarray(shift) + np.asarray(slope) * away))


def model_power(
    speed_ratio: ArrayLike,
    cubic: ArrayLike,
    inverse: ArrayLike,
    shift: ArrayLike = 0.0,
    slope: ArrayLike = 0.0,
    middle: ArrayLike = 0.0,
) -> FloatOrArray:
    """Power of level flight, in the unit of the two coefficients of the polar.

    Parameters
    ----------
    speed_ratio : array_like, any shape
        Airspeed over the fixed one, x [-], 0.01 to 20.
    cubic, inverse : array_like, broadcast
        A and B of ``A x^3 + B/x``, any one unit.
    shift, slope, middle : array_like, broadcast
        As in `efficiency_ratio`.

    Returns
    -------
    float or ndarray
        Power, unit of the coefficients.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Parabolic polar, in every textbook; the ratio is a definition.

    Examples
    --------
    >>> round(model_power(1.1, 0.5, 0.15, 0.02), 4)
    0.786
    """
    x = _speed(speed_ratio)
    polar = np.asarray(cubic) * x**3 + np.asarray(inverse) / x
    return as_result(polar / np.asarray(efficiency_ratio(x, shift, slope, middle)))


def model_slopes(
    speed_ratio: ArrayLike, cubic: ArrayLike, inverse: ArrayLike, middle: ArrayLike = 0.0
) -> FloatArray:
    """Relative change of power for each unit of A, B, k and s.

    Parameters
    ----------
    speed_ratio : array_like, any shape
        Airspeed over the fixed one, x [-], 0.01 to 20.
    cubic, inverse, middle : array_like, broadcast
        As in `model_power`.

    Returns
    -------
    ndarray, shape (..., 4)
        d ln P by A, B, k and s.

    Raises
    ------
    InputError
        An argument is out of its range.

    Examples
    --------
    >>> model_slopes(1.0, 0.5, 0.5).round(3).tolist()
    [1.0, 1.0, -1.0, 0.0]
    """
    x = _speed(speed_ratio)
    polar = np.asarray(cubic) * x**3 + np.asarray(inverse) / x
    away = np.log(x) - np.asarray(middle, dtype=float)
    columns = (x**3 / polar, 1.0 / (x * polar), -np.ones_like(polar), -away + 0.0)
    return np.stack(np.broadcast_arrays(*columns), axis=-1)


def model_exponent(
    speed_ratio: ArrayLike, cubic: ArrayLike, inverse: ArrayLike, slope: ArrayLike = 0.0
) -> FloatOrArray:
    """Exponent of power with airspeed, d ln P/d ln x.

    Parameters
    ----------
    speed_ratio : array_like, any shape
        Airspeed over the fixed one, x [-], 0.01 to 20.
    cubic, inverse, slope : array_like, broadcast
        As in `model_power`.

    Returns
    -------
    float or ndarray
        Exponent [-]; near 2.2 in cruise.

    Raises
    ------
    InputError
        An argument is out of its range.

    Examples
    --------
    >>> round(model_exponent(1.0, 0.6, 0.2), 2)
    2.0
    """
    x = _speed(speed_ratio)
    parasite, induced = np.asarray(cubic) * x**3, np.asarray(inverse) / x
    return as_result((3.0 * parasite - induced) / (parasite + induced) - np.asarray(slope))


def model_speed(
    power: ArrayLike,
    cubic: ArrayLike,
    inverse: ArrayLike,
    shift: ArrayLike = 0.0,
    slope: ArrayLike = 0.0,
    middle: ArrayLike = 0.0,
) -> FloatOrArray:
    """Airspeed over the fixed one at a power, on the fast side; undoes `model_power`.

    Parameters
    ----------
    power : array_like, any shape
        Power, unit of the coefficients.
    cubic, inverse, shift, slope, middle : array_like, broadcast
        As in `model_power`.

    Returns
    -------
    float or ndarray
        x [-]; NaN where the power is below the least that level flight needs, or a coefficient of
        the polar is not positive.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Newton steps in ln x from above; the logarithm of power is convex there.

    Examples
    --------
    >>> round(model_speed(0.786, 0.5, 0.15, 0.02), 3)
    1.1
    """
    a, b, p = (np.asarray(one, dtype=float) for one in (cubic, inverse, power))
    sound = (a > 0) & (b > 0) & (p > 0)
    a, b, p = np.where(sound, a, np.nan), np.where(sound, b, np.nan), np.where(sound, p, np.nan)
    wanted = np.log(p)
    x = 1.3 * np.cbrt(p / a)
    for _ in range(60):
        exponent = np.asarray(model_exponent(x, a, b, slope))
        exponent = np.where(exponent > 0.02, exponent, np.nan)
        miss = np.log(np.asarray(model_power(x, a, b, shift, slope, middle))) - wanted
        step = np.clip(miss / exponent, -0.5, 0.5)
        x = x * np.exp(-step)
        if np.fmax.reduce(np.abs(step), axis=None, initial=0.0) < 1e-13:
            break
    return as_result(np.asarray(x))


def _speed(speed_ratio: ArrayLike) -> FloatArray:
    return checked("speed_ratio [-]", speed_ratio, 0.01, 20.0, "over the fixed airspeed")
