"""Propeller: coefficients, momentum bounds, blade activity, and the speed of a fixed pitch."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from stdday import _ranges
from stdday._arrays import FloatArray, FloatOrArray, as_result, checked
from stdday.atmosphere import speed_of_sound_ms
from stdday.errors import InputError

__all__ = [
    "activity_factor",
    "advance_ratio",
    "fixed_pitch_speed_rps",
    "ideal_efficiency",
    "ideal_static_thrust_n",
    "power_coefficient",
    "propeller_efficiency",
    "speed_power_coefficient",
    "thrust_coefficient",
    "tip_mach",
    "torque_coefficient",
]


def advance_ratio(true_ms: ArrayLike, speed_rps: ArrayLike, diameter_m: ArrayLike) -> FloatOrArray:
    """Advance ratio J = V/(n D).

    Parameters
    ----------
    true_ms : array_like, any shape
        True airspeed V [m/s], 0 to 300.
    speed_rps : array_like, broadcasts
        Propeller speed n [rev/s], 0.1 to 200.
    diameter_m : array_like, broadcasts
        Propeller diameter D [m], 0.1 to 20.

    Returns
    -------
    float or ndarray
        Advance ratio [-].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Definition of NACA reports and of the UIUC propeller data.

    Examples
    --------
    >>> round(advance_ratio(56.6, 40.0, 1.88), 3)
    0.753
    """
    speed = _ranges.propeller_speed(speed_rps)
    return as_result(_ranges.true_airspeed(true_ms) / (speed * _ranges.diameter(diameter_m)))


def power_coefficient(
    power_w: ArrayLike, density_kg_m3: ArrayLike, speed_rps: ArrayLike, diameter_m: ArrayLike
) -> FloatOrArray:
    """Power coefficient CP = P/(rho n^3 D^5).

    Parameters
    ----------
    power_w : array_like, any shape
        Shaft power P [W], 0 to 5e6.
    density_kg_m3 : array_like, broadcasts
        Air density rho [kg/m^3], 0.2 to 1.6.
    speed_rps : array_like, broadcasts
        Propeller speed n [rev/s], 0.1 to 200.
    diameter_m : array_like, broadcasts
        Propeller diameter D [m], 0.1 to 20.

    Returns
    -------
    float or ndarray
        Power coefficient [-].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Definition of NACA reports and of the UIUC propeller data.

    Examples
    --------
    >>> round(power_coefficient(111855.0, 1.225, 40.0, 1.8796), 4)
    0.0608
    """
    flow = _dynamic_flow(density_kg_m3, speed_rps, diameter_m)
    speed, diameter = np.asarray(speed_rps), np.asarray(diameter_m)
    return as_result(_ranges.power(power_w) / (flow * speed * diameter))


def thrust_coefficient(
    thrust_n: ArrayLike, density_kg_m3: ArrayLike, speed_rps: ArrayLike, diameter_m: ArrayLike
) -> FloatOrArray:
    """Thrust coefficient CT = T/(rho n^2 D^4).

    Parameters
    ----------
    thrust_n : array_like, any shape
        Thrust T [N], -1e6 to 1e6; negative for drag of a windmilling propeller.
    density_kg_m3 : array_like, broadcasts
        Air density rho [kg/m^3], 0.2 to 1.6.
    speed_rps : array_like, broadcasts
        Propeller speed n [rev/s], 0.1 to 200.
    diameter_m : array_like, broadcasts
        Propeller diameter D [m], 0.1 to 20.

    Returns
    -------
    float or ndarray
        Thrust coefficient [-].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Definition of NACA reports and of the UIUC propeller data.

    Examples
    --------
    >>> round(thrust_coefficient(1581.0, 1.225, 40.0, 1.8796), 4)
    0.0646
    """
    thrust = checked("thrust_n [N]", thrust_n, -1e6, 1e6, "thrust in newtons")
    return as_result(thrust / _dynamic_flow(density_kg_m3, speed_rps, diameter_m))


def torque_coefficient(
    torque_nm: ArrayLike, density_kg_m3: ArrayLike, speed_rps: ArrayLike, diameter_m: ArrayLike
) -> FloatOrArray:
    """Torque coefficient CQ = Q/(rho n^2 D^5), which is CP/(2 pi).

    Parameters
    ----------
    torque_nm : array_like, any shape
        Shaft torque Q [N m], 0 to 1e6.
    density_kg_m3 : array_like, broadcasts
        Air density rho [kg/m^3], 0.2 to 1.6.
    speed_rps : array_like, broadcasts
        Propeller speed n [rev/s], 0.1 to 200.
    diameter_m : array_like, broadcasts
        Propeller diameter D [m], 0.1 to 20.

    Returns
    -------
    float or ndarray
        Torque coefficient [-].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Definition of NACA reports and of the UIUC propeller data.

    Examples
    --------
    >>> round(torque_coefficient(445.1, 1.225, 40.0, 1.8796), 5)
    0.00968
    """
    torque = checked("torque_nm [N m]", torque_nm, 0.0, 1e6, "torque in newton metres")
    flow = _dynamic_flow(density_kg_m3, speed_rps, diameter_m)
    return as_result(torque / (flow * np.asarray(diameter_m)))


def speed_power_coefficient(
    true_ms: ArrayLike, power_w: ArrayLike, density_kg_m3: ArrayLike, speed_rps: ArrayLike
) -> FloatOrArray:
    """Speed-power coefficient Cs = V (rho/(P n^2))^(1/5), which is J CP^(-1/5).

    Parameters
    ----------
    true_ms : array_like, any shape
        True airspeed V [m/s], 0 to 300.
    power_w : array_like, broadcasts
        Shaft power P [W], 1 to 5e6.
    density_kg_m3 : array_like, broadcasts
        Air density rho [kg/m^3], 0.2 to 1.6.
    speed_rps : array_like, broadcasts
        Propeller speed n [rev/s], 0.1 to 200.

    Returns
    -------
    float or ndarray
        Speed-power coefficient [-].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Definition of NACA report 640 (from memory).

    Examples
    --------
    >>> round(speed_power_coefficient(56.59, 111855.0, 1.225, 40.0), 3)
    1.318
    """
    density = _ranges.air_density(density_kg_m3)
    speed = _ranges.propeller_speed(speed_rps)
    power = _ranges.power(power_w, low=1.0)
    return as_result(_ranges.true_airspeed(true_ms) * (density / (power * speed**2)) ** 0.2)


def propeller_efficiency(
    advance_ratio: ArrayLike, thrust_coefficient: ArrayLike, power_coefficient: ArrayLike
) -> FloatOrArray:
    """Efficiency of the propeller, J CT/CP.

    Parameters
    ----------
    advance_ratio : array_like, any shape
        Advance ratio J [-], 0 to 5.
    thrust_coefficient : array_like, broadcasts
        Thrust coefficient CT [-], -1 to 1.
    power_coefficient : array_like, broadcasts
        Power coefficient CP [-], 1e-4 to 1.

    Returns
    -------
    float or ndarray
        Efficiency [-].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Definition of the UIUC propeller data.

    Examples
    --------
    >>> round(propeller_efficiency(0.611, 0.0576, 0.0487), 3)
    0.723
    """
    advance = checked("advance_ratio [-]", advance_ratio, 0.0, 5.0, "V/(n D) with n in rev/s")
    thrust = checked("thrust_coefficient [-]", thrust_coefficient, -1.0, 1.0)
    hint = "P/(rho n^3 D^5) with n in rev/s"
    return as_result(
        advance * thrust / checked("power_coefficient [-]", power_coefficient, 1e-4, 1.0, hint)
    )


def tip_mach(
    true_ms: ArrayLike, speed_rps: ArrayLike, diameter_m: ArrayLike, temperature_k: ArrayLike
) -> FloatOrArray:
    """Mach number of the blade tip on its helix; static at a true airspeed of zero.

    Parameters
    ----------
    true_ms : array_like, any shape
        True airspeed [m/s], 0 to 300.
    speed_rps : array_like, broadcasts
        Propeller speed [rev/s], 0.1 to 200.
    diameter_m : array_like, broadcasts
        Propeller diameter [m], 0.1 to 20.
    temperature_k : array_like, broadcasts
        Air temperature [K], within the range of `stdday.atmosphere`.

    Returns
    -------
    float or ndarray
        Tip Mach number [-].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Definition: sqrt(V^2 + (pi n D)^2) over the speed of sound. Efficiency begins to suffer near 0.8
    to 0.9 with thick sections (common practice, no source).

    Examples
    --------
    >>> round(tip_mach(0.0, 45.0, 1.93, 288.15), 3)
    0.802
    """
    turning = np.pi * _ranges.propeller_speed(speed_rps) * _ranges.diameter(diameter_m)
    tip = np.hypot(_ranges.true_airspeed(true_ms), turning)
    return as_result(tip / speed_of_sound_ms(temperature_k))


def ideal_static_thrust_n(
    power_w: ArrayLike, density_kg_m3: ArrayLike, diameter_m: ArrayLike
) -> FloatOrArray:
    """Greatest static thrust that momentum theory allows, (2 rho A P^2)^(1/3).

    Parameters
    ----------
    power_w : array_like, any shape
        Shaft power P [W], 0 to 5e6.
    density_kg_m3 : array_like, broadcasts
        Air density rho [kg/m^3], 0.2 to 1.6.
    diameter_m : array_like, broadcasts
        Propeller diameter [m], 0.1 to 20; A is the area of its disk.

    Returns
    -------
    float or ndarray
        Thrust [N]; real propellers reach about 65 to 80 % of it (common practice, no source).

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Actuator disk (Rankine and Froude), in every textbook.

    Examples
    --------
    >>> round(ideal_static_thrust_n(134226.0, 1.225, 1.93))
    5055
    """
    disk = _disk_area_m2(diameter_m)
    return as_result(
        np.cbrt(2.0 * _ranges.air_density(density_kg_m3) * disk * _ranges.power(power_w) ** 2)
    )


def ideal_efficiency(
    true_ms: ArrayLike, power_w: ArrayLike, density_kg_m3: ArrayLike, diameter_m: ArrayLike
) -> FloatOrArray:
    """Greatest efficiency in flight that momentum theory allows at that power and diameter.

    The thrust T solves ``T (V/2 + sqrt(V^2/4 + T/(2 rho A))) = P``; it is the efficiency times P/V.

    Parameters
    ----------
    true_ms : array_like, any shape
        True airspeed V [m/s], 0 to 300.
    power_w : array_like, broadcasts
        Shaft power P [W], 1 to 5e6.
    density_kg_m3 : array_like, broadcasts
        Air density rho [kg/m^3], 0.2 to 1.6.
    diameter_m : array_like, broadcasts
        Propeller diameter [m], 0.1 to 20; A is the area of its disk.

    Returns
    -------
    float or ndarray
        Efficiency [-], an upper bound: no real propeller exceeds it.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Actuator disk, in every textbook. In terms of the speed w through the disk the equation reads
    ``w^2 (w - V) = P/(2 rho A)`` and the efficiency is V/w.

    Examples
    --------
    >>> round(ideal_efficiency(41.16, 111855.0, 1.225, 1.8796), 3)
    0.853
    """
    true = _ranges.true_airspeed(true_ms)
    loading = _ranges.power(power_w, low=1.0) / (
        2.0 * _ranges.air_density(density_kg_m3) * _disk_area_m2(diameter_m)
    )
    scaled = true / np.cbrt(loading)
    added = np.ones_like(scaled)  # (w - V) over the cube root of the loading, from above
    for _ in range(12):  # the cubic is convex: 7 steps reach round-off from any speed
        through = scaled + added
        added = added - (through**2 * added - 1.0) / (through * (through + 2.0 * added))
    return as_result(scaled / (scaled + added))


def activity_factor(station: ArrayLike, chord_over_diameter: ArrayLike) -> FloatOrArray:
    """Activity factor of one blade, (100 000/16) times the integral of (c/D) x^3 dx.

    The chord is taken straight between stations and integrated exactly. Literature begins at a root
    of 0.15 or of 0.20 of the radius: the first station says which.

    Parameters
    ----------
    station : array_like, (n,)
        Stations x = r/R [-], increasing, 0 to 1; the last is the tip, 1.
    chord_over_diameter : array_like, (..., n)
        Blade chord over propeller diameter at the stations [-], 0 to 0.5.

    Returns
    -------
    float or ndarray, (...)
        Activity factor of one blade [-].

    Raises
    ------
    InputError
        An argument is out of its range, stations do not increase, or the last is not 1.

    Notes
    -----
    Definition from memory; the propeller's is the number of blades times that of one.

    Examples
    --------
    >>> round(activity_factor([0.15, 1.0], [0.075, 0.075]), 1)
    117.1
    """
    x = checked("station [-]", station, 0.0, 1.0, "stations as fractions of the radius")
    chord = checked("chord_over_diameter [-]", chord_over_diameter, 0.0, 0.5, "is it over radius?")
    if x.ndim != 1 or x.size < 2 or not np.all(np.diff(x) > 0.0) or x[-1] != 1.0:
        raise InputError(
            f"station [-] must be two or more increasing stations, the last 1; got {x.tolist()}"
        )
    slope = np.diff(chord) / np.diff(x)
    start = chord[..., :-1] - slope * x[:-1]
    parts = start * np.diff(x**4) / 4.0 + slope * np.diff(x**5) / 5.0
    return as_result(100_000.0 / 16.0 * np.sum(parts, axis=-1))


def fixed_pitch_speed_rps(
    true_ms: ArrayLike,
    density_kg_m3: ArrayLike,
    diameter_m: ArrayLike,
    cp_intercept: ArrayLike,
    cp_slope: ArrayLike,
    power_at_rated_w: ArrayLike,
    rated_rps: ArrayLike,
    torque_exponent: ArrayLike,
) -> FloatOrArray:
    """Speed at which a fixed pitch propeller absorbs what the engine gives.

    The speed n solves ``rho n^3 D^5 (c0 + c1 J) = P (n/n_rated)^m`` with J = V/(n D). For m below 2
    there is exactly one such speed.

    Parameters
    ----------
    true_ms : array_like, any shape
        True airspeed V [m/s], 0 to 300.
    density_kg_m3 : array_like, broadcasts
        Air density rho [kg/m^3], 0.2 to 1.6.
    diameter_m : array_like, broadcasts
        Propeller diameter D [m], 0.1 to 20.
    cp_intercept : array_like, broadcasts
        Power coefficient c0 at rest [-], 0.001 to 0.5.
    cp_slope : array_like, broadcasts
        Slope c1 of the power coefficient with the advance ratio [-], -0.5 to 0.5.
    power_at_rated_w : array_like, broadcasts
        Power P that the engine would give at its rated speed in this air [W], 100 to 5e6.
    rated_rps : array_like, broadcasts
        Propeller speed n_rated at rated engine speed [rev/s], 0.1 to 200.
    torque_exponent : array_like, broadcasts
        Exponent m of engine power with speed [-], -1 to 1.9; 1 is constant torque.

    Returns
    -------
    float or ndarray
        Propeller speed n [rev/s]; it may exceed the rated speed, which the engine must not.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Balance of torques with a straight-line power coefficient: own derivation, after the propeller
    polar of Lowry, Performance of Light Aircraft, AIAA 1999 (from memory). Solved by Newton
    steps in a logarithm, where the equation is convex and its slope bounded on both sides, so that
    they converge from anywhere.

    Examples
    --------
    At rest and then at 30 m/s:

    >>> fixed_pitch_speed_rps([0.0, 30.0], 1.225, 1.68, 0.07, -0.03, 78000.0, 41.1, 1.0).round(2)
    array([40.67, 44.67])
    """
    true = _ranges.true_airspeed(true_ms)
    density = _ranges.air_density(density_kg_m3)
    diameter = _ranges.diameter(diameter_m)
    intercept = checked("cp_intercept [-]", cp_intercept, 1e-3, 0.5, "CP at rest, near 0.05")
    slope = checked("cp_slope [-]", cp_slope, -0.5, 0.5, "dCP/dJ, near -0.02")
    power = _ranges.power(power_at_rated_w, "power_at_rated_w", low=100.0)
    rated = _ranges.propeller_speed(rated_rps, "rated_rps")
    hint = "power grows with the speed to this power; 1 is constant torque"
    exponent = checked("torque_exponent [-]", torque_exponent, -1.0, 1.9, hint)
    absorbed = density * rated**3 * diameter**5 * intercept / power
    offset = slope * true / (intercept * rated * diameter)
    return as_result(rated * _balance(absorbed, offset, 2.0 - exponent))


def _balance(absorbed: FloatArray, offset: FloatArray, exponent: FloatArray) -> FloatArray:
    """Solve ``absorbed * x^exponent * (x + offset) = 1`` for the x > 0 with x + offset > 0.

    With z the logarithm of the smaller of x and x + offset, the logarithm of the left side is
    ``log(absorbed) + fast z + slow log(exp(z) + abs(offset))``: convex and increasing.
    """
    gap = np.abs(offset)
    fast = np.where(offset < 0.0, 1.0, exponent)
    slow = np.where(offset < 0.0, exponent, 1.0)
    level = np.log(absorbed)
    z = -level / (fast + slow)
    for _ in range(50):
        smaller = np.exp(z)
        residual = level + fast * z + slow * np.log(smaller + gap)
        step = residual / (fast + slow * smaller / (smaller + gap))
        z = z - step
        if np.fmax.reduce(np.abs(step), axis=None, initial=0.0) < 1e-12:
            break
    return np.asarray(np.exp(z) + np.where(offset < 0.0, gap, 0.0))


def _dynamic_flow(
    density_kg_m3: ArrayLike, speed_rps: ArrayLike, diameter_m: ArrayLike
) -> FloatArray:
    """Density times n^2 D^4 [N]."""
    speed = _ranges.propeller_speed(speed_rps)
    diameter = _ranges.diameter(diameter_m)
    return np.asarray(_ranges.air_density(density_kg_m3) * speed**2 * diameter**4)


def _disk_area_m2(diameter_m: ArrayLike) -> FloatArray:
    return np.asarray(np.pi / 4.0 * _ranges.diameter(diameter_m) ** 2)
