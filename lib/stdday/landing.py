"""Landing: wind, slope, weight and density of the ground roll and the air phase, and braking."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from stdday._arrays import FloatArray, FloatOrArray, as_result, checked
from stdday.atmosphere import GRAVITY_MS2

__all__ = [
    "SCREEN_HEIGHT_M",
    "air_distance_ratio",
    "braked_deceleration_ms2",
    "energy_height_m",
    "ground_roll_ratio",
    "handbook_headwind_factor",
    "level_runway_ground_roll_m",
    "no_wind_air_distance_m",
    "no_wind_ground_roll_m",
    "sloped_runway_ground_roll_m",
    "stopping_distance_m",
]

#: Height from which landing distances count [m]: 50 ft, by definition.
SCREEN_HEIGHT_M = 15.24


def _roll(values: ArrayLike, name: str = "ground_roll_m") -> FloatArray:
    return checked(f"{name} [m]", values, 1.0, 1e4, "is it in feet?")


def _headwind(values: ArrayLike) -> FloatArray:
    return checked("headwind_ms [m/s]", values, -15.0, 20.0, "is it in knots or km/h?")


def _ratio(name: str, values: ArrayLike) -> FloatArray:
    return checked(f"{name} [-]", values, 0.5, 2.0, "reference over test")


def _true(values: ArrayLike, name: str = "touchdown_true_ms") -> FloatArray:
    return checked(f"{name} [m/s]", values, 5.0, 150.0, "is it in km/h?")


def no_wind_ground_roll_m(
    ground_roll_m: ArrayLike,
    headwind_ms: ArrayLike,
    touchdown_ground_speed_ms: ArrayLike,
    exponent: ArrayLike = 1.85,
) -> FloatOrArray:
    """Ground roll of a landing without wind, ``S (1 + Vw/Vg)^1.85``.

    Parameters
    ----------
    ground_roll_m : array_like, any shape
        Distance from touchdown to a stop as flown S [m], 1 to 10000.
    headwind_ms : array_like, broadcasts
        Headwind Vw [m/s], -15 to 20, negative for a tailwind.
    touchdown_ground_speed_ms : array_like, broadcasts
        Ground speed at touchdown Vg [m/s], 3 to 150, never the airspeed.
    exponent : array_like, broadcasts, optional
        Exponent [-], 1 to 2.5; 2 where the deceleration is the same at all speeds.

    Returns
    -------
    float or ndarray
        Ground roll without wind [m].

    Raises
    ------
    InputError
        An argument is out of its range, or the headwind is not -0.5 to 1.5 of the ground speed.

    Notes
    -----
    USNTPS-FTM-108 (1992), landing, from memory: the exponent of take-offs.

    Examples
    --------
    600 ft with 8 kt of headwind at 50 kt over the ground:

    >>> round(no_wind_ground_roll_m(182.88, 4.1156, 25.722) / 0.3048)
    790
    """
    roll = _roll(ground_roll_m)
    name = "touchdown_ground_speed_ms [m/s]"
    speed = checked(name, touchdown_ground_speed_ms, 3.0, 150.0, "is it in km/h?")
    hint = "headwind over ground speed at touchdown; is the ground speed an airspeed?"
    ratio = checked("headwind_ms over touchdown_ground_speed_ms [-]",
                    _headwind(headwind_ms) / speed, -0.5, 1.5, hint)  # fmt: skip
    return as_result(roll * (1.0 + ratio) ** checked("exponent [-]", exponent, 1.0, 2.5))


def no_wind_air_distance_m(
    air_distance_m: ArrayLike, headwind_ms: ArrayLike, air_time_s: ArrayLike
) -> FloatOrArray:
    """Distance from 50 ft to touchdown without wind, ``S + Vw t``.

    Parameters
    ----------
    air_distance_m : array_like, any shape
        Distance over the ground as flown S [m], 0 to 10000.
    headwind_ms : array_like, broadcasts
        Headwind Vw [m/s], -15 to 20, negative for a tailwind.
    air_time_s : array_like, broadcasts
        Time from 50 ft to touchdown t [s], 0 to 300.

    Returns
    -------
    float or ndarray
        Distance through still air [m].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    USNTPS-FTM-108 (1992), landing, from memory.

    Examples
    --------
    >>> round(no_wind_air_distance_m(250.0, 4.0, 9.0), 1)
    286.0
    """
    distance = checked("air_distance_m [m]", air_distance_m, 0.0, 1e4, "is it in feet?")
    time = checked("air_time_s [s]", air_time_s, 0.0, 300.0, "seconds from 50 ft to touchdown")
    return as_result(distance + _headwind(headwind_ms) * time)


def level_runway_ground_roll_m(
    ground_roll_m: ArrayLike, slope: ArrayLike, touchdown_true_ms: ArrayLike
) -> FloatOrArray:
    """Ground roll on a level runway from one on a slope, ``S/(1 - 2 g S sin(theta)/V^2)``.

    Parameters
    ----------
    ground_roll_m : array_like, any shape
        Ground roll on the slope, corrected for wind, S [m], 1 to 10000.
    slope : array_like, broadcasts
        Rise over length of the runway [-], -0.1 to 0.1, positive uphill.
    touchdown_true_ms : array_like, broadcasts
        True airspeed at touchdown V [m/s], 5 to 150.

    Returns
    -------
    float or ndarray
        Ground roll on the level [m]; longer than an uphill one.

    Raises
    ------
    InputError
        An argument is out of its range, or the slope takes over 0.85 of the energy.

    Notes
    -----
    Follows from the energy at touchdown, at the same braking.

    Examples
    --------
    >>> round(level_runway_ground_roll_m(200.0, 0.01, 25.0), 1)
    213.4
    """
    roll = _roll(ground_roll_m)
    share = _slope_share(roll, slope, touchdown_true_ms, -5.0, 0.85)
    return as_result(roll / (1.0 - share))


def sloped_runway_ground_roll_m(
    level_ground_roll_m: ArrayLike, slope: ArrayLike, touchdown_true_ms: ArrayLike
) -> FloatOrArray:
    """Ground roll on a slope from one on the level; undoes `level_runway_ground_roll_m`.

    Parameters
    ----------
    level_ground_roll_m : array_like, any shape
        Ground roll on the level without wind [m], 1 to 10000.
    slope : array_like, broadcasts
        Rise over length of the runway [-], -0.1 to 0.1, positive uphill.
    touchdown_true_ms : array_like, broadcasts
        True airspeed at touchdown [m/s], 5 to 150.

    Returns
    -------
    float or ndarray
        Ground roll on the slope [m].

    Raises
    ------
    InputError
        An argument is out of its range, or the slope downhill undoes over half of the braking.

    Notes
    -----
    As `level_runway_ground_roll_m`, solved for the roll on the slope.

    Examples
    --------
    >>> round(sloped_runway_ground_roll_m(213.4, 0.01, 25.0), 1)
    200.0
    """
    roll = _roll(level_ground_roll_m, "level_ground_roll_m")
    share = _slope_share(roll, slope, touchdown_true_ms, -0.5, 5.0)
    return as_result(roll / (1.0 + share))


def _slope_share(
    roll_m: FloatArray, slope: ArrayLike, true_ms: ArrayLike, low: float, high: float
) -> FloatArray:
    """Work of the slope over the energy at touchdown [-]."""
    incline = checked("slope [-]", slope, -0.1, 0.1, "rise over length: 1 % is 0.01")
    sine = incline / np.sqrt(1.0 + incline * incline)
    share = 2.0 * GRAVITY_MS2 * roll_m * sine / _true(true_ms) ** 2
    return checked("work of the slope over energy at touchdown [-]", share, low, high,
                   "check slope and speed")  # fmt: skip


def ground_roll_ratio(
    weight_ratio: ArrayLike, density_ratio: ArrayLike, weight_exponent: ArrayLike
) -> FloatOrArray:
    """Ground roll under reference over test conditions, ``(Ws/Wt)^n (rhos/rhot)^-1``.

    Where touchdown airspeed goes with weight to the power of k, n is 2 k where the grip of the
    tyres limits the braking, which grows with weight, and 2 k + 1 where the brakes' torque does,
    which does not. k is 0.5 at a fixed margin over the stall and 0 at one airspeed.

    Parameters
    ----------
    weight_ratio : array_like, any shape
        Weight, reference over test [-], 0.5 to 2.
    density_ratio : array_like, broadcasts
        Air density, reference over test [-], 0.5 to 2.
    weight_exponent : array_like, broadcasts
        n [-], -4 to 6: draws of it may lie far from 0 to 2.

    Returns
    -------
    float or ndarray
        Ratio of ground rolls [-].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    USNTPS-FTM-108 (1992), landing, has n = 2, from memory; n = 1 follows from a constant braking
    coefficient and agrees with the +10 % of distance for +10 % of weight of public guidance.

    Examples
    --------
    >>> round(ground_roll_ratio(1.1, 1.0, 2.0), 2), round(ground_roll_ratio(1.1, 1.0, 1.0), 2)
    (1.21, 1.1)
    """
    exponent = checked("weight_exponent [-]", weight_exponent, -4.0, 6.0, "between 0 and 2")
    weight, density = _ratio("weight_ratio", weight_ratio), _ratio("density_ratio", density_ratio)
    return as_result(weight**exponent / density)


def energy_height_m(screen_true_ms: ArrayLike, touchdown_true_ms: ArrayLike) -> FloatOrArray:
    """Height worth the speed lost between 50 ft and touchdown, ``(V50^2 - Vtd^2)/(2 g)``.

    Parameters
    ----------
    screen_true_ms, touchdown_true_ms : array_like, broadcast
        True airspeed at 50 ft and at touchdown [m/s], 5 to 150.

    Returns
    -------
    float or ndarray
        Energy height [m]; negative where speed was gained.

    Raises
    ------
    InputError
        A speed is out of its range.

    Notes
    -----
    Definition.

    Examples
    --------
    >>> round(energy_height_m(33.0, 27.0), 2)
    18.35
    """
    screen, touchdown = _true(screen_true_ms, "screen_true_ms"), _true(touchdown_true_ms)
    return as_result((screen**2 - touchdown**2) / (2.0 * GRAVITY_MS2))


def air_distance_ratio(
    weight_ratio: ArrayLike,
    density_ratio: ArrayLike,
    energy_height: ArrayLike,
    weight_exponent: ArrayLike = 2.0,
    airspeed_exponent: ArrayLike = 0.5,
) -> FloatOrArray:
    """Air distance under reference over test conditions.

    ``(Ws/Wt)^(m + 2 k E/(E + 50 ft)) (rhos/rhot)^(E/(E + 50 ft))``, with the energy height E of the
    speed lost.

    Parameters
    ----------
    weight_ratio : array_like, any shape
        Weight, reference over test [-], 0.5 to 2.
    density_ratio : array_like, broadcasts
        Air density, reference over test [-], 0.5 to 2.
    energy_height : array_like, broadcasts
        E [m], -7 to 500, from `energy_height_m`.
    weight_exponent : array_like, broadcasts, optional
        m [-], -4 to 6; 2 by the book, 1 where the drag is the same at any weight, 0 where pilots
        keep the path.
    airspeed_exponent : array_like, broadcasts, optional
        k of airspeed against weight [-], -2 to 3; 0.5 at a fixed margin over the stall.

    Returns
    -------
    float or ndarray
        Ratio of air distances [-].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    USNTPS-FTM-108 (1992), landing, from memory, low to moderate confidence: m = 2 and k = 0.5.

    Examples
    --------
    >>> round(air_distance_ratio(1.1, 1.0, 15.24), 3)
    1.269
    >>> round(air_distance_ratio(1.1, 1.0, 15.24, 0.0, 0.0), 3)
    1.0
    """
    height = checked("energy_height [m]", energy_height, -7.0, 500.0,
                     "speed gained between 50 ft and touchdown?")  # fmt: skip
    share = height / (height + SCREEN_HEIGHT_M)
    path = checked("weight_exponent [-]", weight_exponent, -4.0, 6.0, "between 0 and 2")
    speed = checked("airspeed_exponent [-]", airspeed_exponent, -2.0, 3.0, "between 0 and 0.5")
    weight, density = _ratio("weight_ratio", weight_ratio), _ratio("density_ratio", density_ratio)
    return as_result(weight ** (path + 2.0 * speed * share) * density**share)


def stopping_distance_m(speed_ms: ArrayLike, deceleration_ms2: ArrayLike) -> FloatOrArray:
    """Distance to a stop at a constant deceleration, ``V^2/(2 a)``.

    Parameters
    ----------
    speed_ms : array_like, any shape
        Speed at its start V [m/s], 0 to 150.
    deceleration_ms2 : array_like, broadcasts
        Deceleration a [m/s^2], 0.05 to 15, positive.

    Returns
    -------
    float or ndarray
        Distance [m].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Kinematics.

    Examples
    --------
    >>> stopping_distance_m(20.0, 2.0)
    100.0
    """
    speed = checked("speed_ms [m/s]", speed_ms, 0.0, 150.0, "is it in km/h?")
    rate = checked("deceleration_ms2 [m/s^2]", deceleration_ms2, 0.05, 15.0, "positive")
    return as_result(speed**2 / (2.0 * rate))


def braked_deceleration_ms2(
    braking_coefficient: ArrayLike,
    drag_over_lift: ArrayLike,
    lift_over_weight: ArrayLike,
) -> FloatOrArray:
    """Deceleration on wheels that are braked, ``g (mu + (L/W)(D/L - mu))``.

    Parameters
    ----------
    braking_coefficient : array_like, any shape
        Braking force over load on the wheels mu [-], 0 to 1.2.
    drag_over_lift : array_like, broadcasts
        D/L in the attitude of the roll [-], 0 to 2.
    lift_over_weight : array_like, broadcasts
        L/W at the speed looked at [-], 0 to 1.

    Returns
    -------
    float or ndarray
        Deceleration [m/s^2], positive.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Forces along a level runway without thrust; textbook.

    Examples
    --------
    >>> round(braked_deceleration_ms2(0.4, 0.1, 0.1486), 2)
    3.49
    """
    friction = checked("braking_coefficient [-]", braking_coefficient, 0.0, 1.2, "a fraction")
    drag = checked("drag_over_lift [-]", drag_over_lift, 0.0, 2.0, "a fraction")
    lift = checked("lift_over_weight [-]", lift_over_weight, 0.0, 1.0, "a fraction")
    return as_result(GRAVITY_MS2 * (friction + lift * (drag - friction)))


def handbook_headwind_factor(
    headwind_ms: ArrayLike, share: ArrayLike, for_each_ms: ArrayLike
) -> FloatOrArray:
    """Factor of a note such as "10 % less for each 4 kt of headwind": added up, not compounded.

    Parameters
    ----------
    headwind_ms : array_like, any shape
        Headwind [m/s], 0 to 20.
    share : array_like, broadcasts
        Part of the distance taken off [-], 0 to 0.5,
    for_each_ms : array_like, broadcasts
        for each so much headwind [m/s], 0.5 to 20.

    Returns
    -------
    float or ndarray
        Factor on the distance [-]: a band to compare with, never a correction of data.

    Raises
    ------
    InputError
        An argument is out of its range, or nothing would be left of the distance.

    Notes
    -----
    Notes of handbook tables; about half of what the wind really does, on purpose.

    Examples
    --------
    >>> round(handbook_headwind_factor(4.1156, 0.10, 2.0578), 2)
    0.8
    """
    wind = checked("headwind_ms [m/s]", headwind_ms, 0.0, 20.0, "a tailwind has a note of its own")
    part = checked("share [-]", share, 0.0, 0.5, "10 % is 0.1")
    each = checked("for_each_ms [m/s]", for_each_ms, 0.5, 20.0, "is it in knots?")
    left = checked("factor [-]", 1.0 - part * wind / each, 0.05, 1.0, "beyond the handbook's note")
    return as_result(left)
