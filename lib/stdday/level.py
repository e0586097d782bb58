"""Level flight: reduced power and speed, the power curve, its polar and characteristic speeds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from stdday import _ranges
from stdday._arrays import FloatArray, FloatOrArray, as_result, checked
from stdday.atmosphere import GRAVITY_MS2

__all__ = [
    "CharacteristicSpeeds",
    "airspeed_for_power_ms",
    "airspeed_index_ms",
    "characteristic_speeds",
    "drag_polar_from_power",
    "energy_power_w",
    "power_curve_from_polar",
    "power_exponent",
    "power_from_index_w",
    "power_index_w",
    "power_required_w",
    "true_airspeed_from_index_ms",
]


@dataclass(frozen=True)
class CharacteristicSpeeds:
    """Characteristic true airspeeds of a power curve.

    Parameters
    ----------
    minimum_drag_ms : float or ndarray
        Speed of least drag, of the best glide ratio [m/s].
    minimum_power_ms : float or ndarray
        Speed of least power [m/s], 0.7598 of that of least drag; it may lie below the stall.
    carson_ms : float or ndarray
        Speed of least drag over speed, Carson's [m/s], 1.3161 times that of least drag.

    Examples
    --------
    >>> characteristic_speeds(0.25, 4.0e5).minimum_drag_ms.__round__(2)
    35.57
    """

    minimum_drag_ms: FloatOrArray
    minimum_power_ms: FloatOrArray
    carson_ms: FloatOrArray


def power_index_w(
    power_w: ArrayLike,
    density_ratio: ArrayLike,
    weight_kg: ArrayLike,
    reference_weight_kg: ArrayLike,
) -> FloatOrArray:
    """Power at the reference weight and sea-level density, at one lift coefficient.

    ``P sqrt(sigma) (Ws/W)^1.5``; it belongs to the speed that `airspeed_index_ms` gives.

    Parameters
    ----------
    power_w : array_like, any shape
        Power P as flown [W], 0 to 5e6.
    density_ratio : array_like, broadcasts
        Air density over 1.225 kg/m^3, sigma [-], 0.15 to 1.4.
    weight_kg, reference_weight_kg : array_like, broadcast
        Weight W as flown and reference weight Ws [kg], 20 to 1e5.

    Returns
    -------
    float or ndarray
        Reduced power [W].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Kimberlin, Flight Testing of Fixed-Wing Aircraft (AIAA 2003), ch. 9; USAF AFTR 6273 (from
    memory). It takes one propulsive efficiency at both conditions.

    Examples
    --------
    >>> round(power_index_w(60e3, 0.86, 560.0, 600.0))
    61709
    """
    return as_result(
        _ranges.power(power_w) * _power_scale(density_ratio, weight_kg, reference_weight_kg)
    )


def power_from_index_w(
    index_w: ArrayLike,
    density_ratio: ArrayLike,
    weight_kg: ArrayLike,
    reference_weight_kg: ArrayLike,
) -> FloatOrArray:
    """Power at a weight and density from reduced power; undoes `power_index_w`.

    Parameters
    ----------
    index_w : array_like, any shape
        Reduced power [W], 0 to 5e6.
    density_ratio : array_like, broadcasts
        Air density over 1.225 kg/m^3 [-], 0.15 to 1.4.
    weight_kg, reference_weight_kg : array_like, broadcast
        Weight wanted, and reference weight of the reduced power [kg], 20 to 1e5.

    Returns
    -------
    float or ndarray
        Power [W].

    Raises
    ------
    InputError
        An argument is out of its range.

    Examples
    --------
    >>> round(power_from_index_w(61709.0, 0.86, 560.0, 600.0))
    60000
    """
    index = _ranges.power(index_w, "index_w")
    return as_result(index / _power_scale(density_ratio, weight_kg, reference_weight_kg))


def airspeed_index_ms(
    true_ms: ArrayLike,
    density_ratio: ArrayLike,
    weight_kg: ArrayLike,
    reference_weight_kg: ArrayLike,
) -> FloatOrArray:
    """Equivalent airspeed at the reference weight, at one lift coefficient.

    ``V sqrt(sigma) (Ws/W)^0.5``.

    Parameters
    ----------
    true_ms : array_like, any shape
        True airspeed V as flown [m/s], 0 to 300.
    density_ratio : array_like, broadcasts
        Air density over 1.225 kg/m^3, sigma [-], 0.15 to 1.4.
    weight_kg, reference_weight_kg : array_like, broadcast
        Weight W as flown and reference weight Ws [kg], 20 to 1e5.

    Returns
    -------
    float or ndarray
        Reduced airspeed [m/s].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    As `power_index_w`; the same reduction serves the climb, with `stdday.climb.climb_index_ms`.

    Examples
    --------
    >>> round(airspeed_index_ms(60.0, 0.86, 560.0, 600.0), 2)
    57.59
    """
    return as_result(
        _ranges.true_airspeed(true_ms)
        * _airspeed_scale(density_ratio, weight_kg, reference_weight_kg)
    )


def true_airspeed_from_index_ms(
    index_ms: ArrayLike,
    density_ratio: ArrayLike,
    weight_kg: ArrayLike,
    reference_weight_kg: ArrayLike,
) -> FloatOrArray:
    """True airspeed at a weight and density from reduced airspeed; undoes `airspeed_index_ms`.

    Parameters
    ----------
    index_ms : array_like, any shape
        Reduced airspeed [m/s], 0 to 300.
    density_ratio : array_like, broadcasts
        Air density over 1.225 kg/m^3 [-], 0.15 to 1.4.
    weight_kg, reference_weight_kg : array_like, broadcast
        Weight wanted, and reference weight of the reduced airspeed [kg], 20 to 1e5.

    Returns
    -------
    float or ndarray
        True airspeed [m/s].

    Raises
    ------
    InputError
        An argument is out of its range.

    Examples
    --------
    >>> round(true_airspeed_from_index_ms(57.595, 0.86, 560.0, 600.0), 2)
    60.0
    """
    index = checked("index_ms [m/s]", index_ms, 0.0, 300.0, "is it in km/h?")
    return as_result(index / _airspeed_scale(density_ratio, weight_kg, reference_weight_kg))


def power_required_w(true_ms: ArrayLike, cubic: ArrayLike, inverse: ArrayLike) -> FloatOrArray:
    """Power in steady level flight, ``A V^3 + B/V``.

    Parameters
    ----------
    true_ms : array_like, any shape
        True airspeed V [m/s], 1 to 300.
    cubic, inverse : array_like, broadcast
        Coefficients A [kg/m], 1e-4 to 100, and B [W m/s], 1 to 1e11, of ``P = A V^3 + B/V``.

    Returns
    -------
    float or ndarray
        Power [W]: brake power if the coefficients are of brake power, else thrust power.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Parabolic polar, in every textbook: J. D. Anderson, Introduction to Flight, ch. 6.

    Examples
    --------
    >>> round(power_required_w(50.0, 0.25, 4.0e5))
    39250
    """
    true = _ranges.moving_airspeed(true_ms)
    return as_result(_cubic(cubic) * true**3 + _inverse(inverse) / true)


def airspeed_for_power_ms(power_w: ArrayLike, cubic: ArrayLike, inverse: ArrayLike) -> FloatOrArray:
    """True airspeed of steady level flight at that power, on the fast side of the curve.

    Parameters
    ----------
    power_w : array_like, any shape
        Power [W], 0 to 5e6.
    cubic, inverse : array_like, broadcast
        Coefficients A [kg/m], 1e-4 to 100, and B [W m/s], 1 to 1e11, of ``P = A V^3 + B/V``.

    Returns
    -------
    float or ndarray
        True airspeed [m/s]; NaN where the power is below the least that level flight needs.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    With x the speed over that of least power and r the power over the least, the curve reads
    ``x^4 - 4 r x + 3 = 0``. Newton steps from the right side of the quartic's least value, where it
    is convex, converge for every r above 1.

    Examples
    --------
    >>> airspeed_for_power_ms([39250.0, 15000.0], 0.25, 4.0e5)
    array([50., nan])
    """
    slowest = np.asarray(characteristic_speeds(cubic, inverse).minimum_power_ms)
    least = 4.0 / 3.0 * np.asarray(inverse) / slowest
    ratio = _ranges.power(power_w) / least
    ratio = np.where(ratio >= 1.0, ratio, np.nan)
    near = 1.0 + np.sqrt(2.0 / 3.0 * (ratio - 1.0))
    x = np.minimum(near, np.cbrt(4.0 * ratio))
    for _ in range(30):
        gradient = 4.0 * (x**3 - ratio)
        value = x**4 - 4.0 * ratio * x + 3.0
        step = np.divide(value, gradient, out=np.zeros_like(x), where=~(gradient <= 0.0))
        x = x - step
        if np.fmax.reduce(np.abs(step), axis=None, initial=0.0) < 1e-13:
            break
    return as_result(x * slowest)


def power_exponent(true_ms: ArrayLike, cubic: ArrayLike, inverse: ArrayLike) -> FloatOrArray:
    """Local exponent of power with speed, d ln P/d ln V.

    It turns a small relative difference of speed into one of power: 1 at the speed of least drag,
    2 at Carson's, towards 3 at high speed.

    Parameters
    ----------
    true_ms : array_like, any shape
        True airspeed V [m/s], 1 to 300.
    cubic, inverse : array_like, broadcast
        Coefficients A [kg/m], 1e-4 to 100, and B [W m/s], 1 to 1e11, of ``P = A V^3 + B/V``.

    Returns
    -------
    float or ndarray
        Exponent [-].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    ``(3 A V^3 - B/V)/(A V^3 + B/V)``, from the parabolic polar.

    Examples
    --------
    >>> round(power_exponent(50.0, 0.25, 4.0e5), 3)
    2.185
    """
    true = _ranges.moving_airspeed(true_ms)
    parasite = _cubic(cubic) * true**3
    induced = _inverse(inverse) / true
    return as_result((3.0 * parasite - induced) / (parasite + induced))


def characteristic_speeds(cubic: ArrayLike, inverse: ArrayLike) -> CharacteristicSpeeds:
    """Speeds of least drag, least power and least drag over speed.

    Parameters
    ----------
    cubic, inverse : array_like, any shape
        Coefficients A [kg/m], 1e-4 to 100, and B [W m/s], 1 to 1e11, of ``P = A V^3 + B/V``.

    Returns
    -------
    CharacteristicSpeeds
        The three true airspeeds [m/s].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Least drag at ``(B/A)^(1/4)``, least power at ``3^(-1/4)`` and Carson's speed at ``3^(1/4)``
    times that: B. H. Carson, Fuel Efficiency of Small Aircraft, AIAA-80-1847 (1980), from memory.

    Examples
    --------
    >>> speeds = characteristic_speeds(0.25, 4.0e5)
    >>> round(speeds.minimum_power_ms, 2), round(speeds.carson_ms, 2)
    (27.02, 46.81)
    """
    least_drag = (_inverse(inverse) / _cubic(cubic)) ** 0.25
    return CharacteristicSpeeds(
        minimum_drag_ms=as_result(least_drag),
        minimum_power_ms=as_result(least_drag * 3.0**-0.25),
        carson_ms=as_result(least_drag * 3.0**0.25),
    )


def drag_polar_from_power(
    cubic: ArrayLike,
    inverse: ArrayLike,
    density_kg_m3: ArrayLike,
    wing_area_m2: ArrayLike,
    wing_span_m: ArrayLike,
    weight_n: ArrayLike,
    efficiency: ArrayLike,
) -> tuple[FloatOrArray, FloatOrArray]:
    """Zero-lift drag coefficient and span efficiency from a fitted power curve.

    Powered flight alone gives only CD0/efficiency and e*efficiency: with an assumed efficiency both
    results are effective values.

    Parameters
    ----------
    cubic, inverse : array_like, any shape
        Coefficients A [kg/m], 1e-4 to 100, and B [W m/s], 1 to 1e11, of ``P = A V^3 + B/V``.
    density_kg_m3 : array_like, broadcasts
        Air density rho of the curve [kg/m^3], 0.2 to 1.6.
    wing_area_m2, wing_span_m : array_like, broadcast
        Wing area S [m^2], 1 to 500, and span b [m], 1 to 100.
    weight_n : array_like, broadcasts
        Weight W of the curve [N], 200 to 1e6.
    efficiency : array_like, broadcasts
        Propulsive efficiency eta [-], 0.2 to 1; 1 for a curve of thrust power.

    Returns
    -------
    zero_lift_drag_coefficient : float or ndarray
        CD0 [-].
    span_efficiency : float or ndarray
        e [-].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    ``A = rho S CD0/(2 eta)`` and ``B = 2 W^2/(rho pi b^2 e eta)``: parabolic polar, in every
    textbook; undone by `power_curve_from_polar`.

    Examples
    --------
    >>> cd0, e = drag_polar_from_power(0.25, 3.5e5, 1.225, 11.0, 9.0, 5884.0, 0.8)
    >>> round(cd0, 4), round(e, 3)
    (0.0297, 0.793)
    """
    parasite, induced = _polar_scales(
        density_kg_m3, wing_area_m2, wing_span_m, weight_n, efficiency
    )
    return as_result(_cubic(cubic) / parasite), as_result(induced / _inverse(inverse))


def power_curve_from_polar(
    zero_lift_drag_coefficient: ArrayLike,
    span_efficiency: ArrayLike,
    density_kg_m3: ArrayLike,
    wing_area_m2: ArrayLike,
    wing_span_m: ArrayLike,
    weight_n: ArrayLike,
    efficiency: ArrayLike,
) -> tuple[FloatOrArray, FloatOrArray]:
    """Coefficients of the power curve from a parabolic polar; undoes `drag_polar_from_power`.

    Parameters
    ----------
    zero_lift_drag_coefficient : array_like, any shape
        CD0 [-], 0.001 to 0.5.
    span_efficiency : array_like, broadcasts
        e [-], 0.2 to 1.5.
    density_kg_m3 : array_like, broadcasts
        Air density rho [kg/m^3], 0.2 to 1.6.
    wing_area_m2, wing_span_m : array_like, broadcast
        Wing area S [m^2], 1 to 500, and span b [m], 1 to 100.
    weight_n : array_like, broadcasts
        Weight W [N], 200 to 1e6.
    efficiency : array_like, broadcasts
        Propulsive efficiency eta [-], 0.2 to 1; 1 gives thrust power.

    Returns
    -------
    cubic : float or ndarray
        Coefficient A of ``P = A V^3 + B/V`` [kg/m].
    inverse : float or ndarray
        Coefficient B [W m/s].

    Raises
    ------
    InputError
        An argument is out of its range.

    Examples
    --------
    >>> cubic, inverse = power_curve_from_polar(0.0297, 0.793, 1.225, 11.0, 9.0, 5884.0, 0.8)
    >>> round(cubic, 3), round(inverse / 1e5, 2)
    (0.25, 3.5)
    """
    hint = "a coefficient on wing area, near 0.03"
    cd0 = checked("zero_lift_drag_coefficient [-]", zero_lift_drag_coefficient, 1e-3, 0.5, hint)
    parasite, induced = _polar_scales(
        density_kg_m3, wing_area_m2, wing_span_m, weight_n, efficiency
    )
    e = _ranges.span_efficiency(span_efficiency)
    return as_result(cd0 * parasite), as_result(induced / e)


def energy_power_w(
    weight_n: ArrayLike, height_rate_ms: ArrayLike, true_ms: ArrayLike, true_rate_ms2: ArrayLike
) -> FloatOrArray:
    """Thrust power that goes into height and speed, ``W dh/dt + W (V/g) dV/dt``.

    To be taken out of a run that was not quite level and steady, over the propulsive efficiency
    where the power is brake power.

    Parameters
    ----------
    weight_n : array_like, any shape
        Weight W [N], 200 to 1e6.
    height_rate_ms : array_like, broadcasts
        Geometric rate of climb dh/dt [m/s], -100 to 100.
    true_ms : array_like, broadcasts
        True airspeed V [m/s], 0 to 300.
    true_rate_ms2 : array_like, broadcasts
        Rate of change of true airspeed dV/dt [m/s^2], -30 to 30.

    Returns
    -------
    float or ndarray
        Power [W].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Work and energy; in every textbook.

    Examples
    --------
    20 ft/min and 0.01 m/s^2 at 600 kg:

    >>> round(energy_power_w(5884.0, 0.1016, 55.0, 0.01))
    928
    """
    climbing = _ranges.height_rate(height_rate_ms)
    gaining = _ranges.true_airspeed(true_ms) * _ranges.acceleration(true_rate_ms2) / GRAVITY_MS2
    return as_result(_ranges.weight(weight_n) * (climbing + gaining))


def _cubic(values: ArrayLike) -> FloatArray:
    return checked("cubic [kg/m]", values, 1e-4, 100.0, "A of P = A V^3 + B/V, near 0.25")


def _inverse(values: ArrayLike) -> FloatArray:
    return checked("inverse [W m/s]", values, 1.0, 1e11, "B of P = A V^3 + B/V, near 4e5")


def _power_scale(
    density_ratio: ArrayLike, weight_kg: ArrayLike, reference_weight_kg: ArrayLike
) -> FloatArray:
    sigma = _ranges.density_ratio(density_ratio)
    return np.asarray(np.sqrt(sigma) * _weight_ratio(weight_kg, reference_weight_kg) ** 1.5)


def _airspeed_scale(
    density_ratio: ArrayLike, weight_kg: ArrayLike, reference_weight_kg: ArrayLike
) -> FloatArray:
    sigma = _ranges.density_ratio(density_ratio)
    return np.asarray(np.sqrt(sigma * _weight_ratio(weight_kg, reference_weight_kg)))


def _weight_ratio(weight_kg: ArrayLike, reference_weight_kg: ArrayLike) -> FloatArray:
    reference = _ranges.mass(reference_weight_kg, "reference_weight_kg")
    return np.asarray(reference / _ranges.mass(weight_kg))


def _polar_scales(
    density_kg_m3: ArrayLike,
    wing_area_m2: ArrayLike,
    wing_span_m: ArrayLike,
    weight_n: ArrayLike,
    efficiency: ArrayLike,
) -> tuple[FloatArray, FloatArray]:
    """Cubic coefficient for each unit of CD0, inverse coefficient times span efficiency."""
    density = _ranges.air_density(density_kg_m3)
    eta = _ranges.efficiency(efficiency)
    parasite = density * _ranges.wing_area(wing_area_m2) / (2.0 * eta)
    span = _ranges.wing_span(wing_span_m)
    induced = 2.0 * _ranges.weight(weight_n) ** 2 / (density * np.pi * span**2 * eta)
    return np.asarray(parasite), np.asarray(induced)
