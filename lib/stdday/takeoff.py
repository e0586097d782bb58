"""Take-off: wind, slope, the exponents of weight, air and power, and integrated ground runs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from stdday import _ranges
from stdday._arrays import FloatArray, FloatOrArray, as_result, checked
from stdday.atmosphere import GRAVITY_MS2

__all__ = [
    "AIR_EXPONENT_SETS",
    "EXPONENT_SETS",
    "TakeoffExponents",
    "ground_effect_factor",
    "ground_roll_ratio",
    "ground_run_average_force_m",
    "ground_run_quadratic_m",
    "ground_run_time_s",
    "level_runway_ground_roll_m",
    "liftoff_airspeed_ms",
    "no_wind_air_distance_m",
    "no_wind_ground_roll_m",
    "sloped_runway_ground_roll_m",
]


@dataclass(frozen=True)
class TakeoffExponents:
    """Exponents of the ratios standard over test in the ground roll of a take-off.

    Scaling weight, density and power together, at one diameter and engine speed, scales every force
    and the mass, and leaves the distance as it was: exponents of weight, density and power should
    sum to zero.

    Parameters
    ----------
    weight, density, engine_speed, power : float or ndarray
        Exponents [-], -5 to 5; arrays of draws broadcast.
    standing : str
        Where the set comes from and how far to trust it.

    Examples
    --------
    >>> TakeoffExponents(2.4, -2.4, -2.4, 0.0, "owner's table").weight
    2.4
    """

    weight: FloatOrArray
    density: FloatOrArray
    engine_speed: FloatOrArray
    power: FloatOrArray
    standing: str


#: Sets of exponents for the ground roll, by how the propeller is controlled.
EXPONENT_SETS: dict[str, TakeoffExponents] = {
    "fixed pitch": TakeoffExponents(
        weight=2.4,
        density=-2.4,
        engine_speed=-2.4,
        power=0.0,
        standing="USAF AFTR 6273 (1966) and FTM-108 (1992), from memory, moderate confidence",
    ),
    "constant speed": TakeoffExponents(
        weight=2.4,
        density=-1.9,
        engine_speed=-0.7,
        power=-0.5,
        standing="as 'constant speed A', with the exponent of weight that obeys similarity",
    ),
    "constant speed A": TakeoffExponents(
        weight=2.6,
        density=-1.9,
        engine_speed=-0.7,
        power=-0.5,
        standing="USAF AFTR 6273 (1966); from memory, low confidence: the sum is +0.2, not zero",
    ),
}

#: Sets of exponents for the air phase, from lift-off to 50 ft.
AIR_EXPONENT_SETS: dict[str, TakeoffExponents] = {
    "fixed pitch": TakeoffExponents(
        weight=2.2,
        density=-2.2,
        engine_speed=-2.2,
        power=0.0,
        standing="USAF AFTR 6273 (1966) and FTM-108 (1992), from memory, moderate confidence",
    ),
    "constant speed": TakeoffExponents(
        weight=2.5,
        density=-1.9,
        engine_speed=-0.8,
        power=-0.6,
        standing="USAF AFTR 6273 (1966), from memory, low confidence; 2.5 in place of 2.6 for "
        "weight, which obeys similarity",
    ),
}


def no_wind_ground_roll_m(
    ground_roll_m: ArrayLike,
    headwind_ms: ArrayLike,
    liftoff_ground_speed_ms: ArrayLike,
    exponent: ArrayLike = 1.85,
) -> FloatOrArray:
    """Ground roll without wind from one with a headwind, ``S (1 + Vw/Vg)^1.85``.

    Parameters
    ----------
    ground_roll_m : array_like, any shape
        Ground roll as flown S [m], 1 to 10000.
    headwind_ms : array_like, broadcasts
        Headwind at wing height Vw [m/s], -15 to 20, negative for a tailwind. Data are wanted with
        5 m/s or less; the exponent was found for modest headwinds.
    liftoff_ground_speed_ms : array_like, broadcasts
        Ground speed at lift-off Vg [m/s], 3 to 150: true airspeed less headwind, never the true
        airspeed itself, which gives too small a correction.
    exponent : array_like, broadcasts, optional
        Exponent [-], 1 to 2.5.

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
    USAF AFTR 6273 (1966); USNTPS-FTM-108 (1992), take-off (from memory). The same as
    ``S/(1 - Vw/V)^1.85`` with the true airspeed V.

    Examples
    --------
    900 ft with 8 kt of headwind at 55 kt over the ground is 1157 ft without:

    >>> round(no_wind_ground_roll_m(274.32, 4.1156, 28.294) / 0.3048)
    1157
    """
    roll = _ground_roll(ground_roll_m)
    speed = checked(
        "liftoff_ground_speed_ms [m/s]", liftoff_ground_speed_ms, 3.0, 150.0, "is it in km/h?"
    )
    hint = "headwind over ground speed at lift-off; is the ground speed an airspeed?"
    ratio = checked("headwind_ms over liftoff_ground_speed_ms [-]", _headwind(headwind_ms) / speed,
                    -0.5, 1.5, hint)  # fmt: skip
    return as_result(roll * (1.0 + ratio) ** checked("exponent [-]", exponent, 1.0, 2.5))


def no_wind_air_distance_m(
    air_distance_m: ArrayLike, headwind_ms: ArrayLike, air_time_s: ArrayLike
) -> FloatOrArray:
    """Distance from lift-off to the obstacle height without wind, ``S + Vw t``.

    Parameters
    ----------
    air_distance_m : array_like, any shape
        Distance over the ground as flown S [m], 0 to 10000.
    headwind_ms : array_like, broadcasts
        Headwind Vw [m/s], -15 to 20, negative for a tailwind.
    air_time_s : array_like, broadcasts
        Time from lift-off to the obstacle height t [s], 0 to 300.

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
    USAF AFTR 6273 (1966), take-off (from memory); the power law of the ground roll is not for it.

    Examples
    --------
    >>> round(no_wind_air_distance_m(189.0, 4.1, 7.2), 1)
    218.5
    """
    distance = checked("air_distance_m [m]", air_distance_m, 0.0, 1e4, "is it in feet?")
    time = checked("air_time_s [s]", air_time_s, 0.0, 300.0, "seconds from lift-off to 50 ft")
    return as_result(distance + _headwind(headwind_ms) * time)


def level_runway_ground_roll_m(
    ground_roll_m: ArrayLike, slope: ArrayLike, liftoff_true_ms: ArrayLike
) -> FloatOrArray:
    """Ground roll on a level runway from one on a slope, ``S/(1 + 2 g S sin(theta)/V^2)``.

    Parameters
    ----------
    ground_roll_m : array_like, any shape
        Ground roll on the slope, corrected for wind, S [m], 1 to 10000.
    slope : array_like, broadcasts
        Rise over length of the runway [-], -0.1 to 0.1, positive uphill.
    liftoff_true_ms : array_like, broadcasts
        True airspeed at lift-off V [m/s], 5 to 150.

    Returns
    -------
    float or ndarray
        Ground roll on the level [m]; shorter than an uphill one.

    Raises
    ------
    InputError
        An argument is out of its range, or the slope does over half of the work downhill.

    Notes
    -----
    USAF AFTR 6273 (1966), take-off (from memory); follows from the energy at lift-off.

    Examples
    --------
    >>> round(level_runway_ground_roll_m(300.0, 0.01, 28.3), 1)
    279.5
    """
    roll = _ground_roll(ground_roll_m)
    share = _slope_share(roll, slope, liftoff_true_ms, -0.5, 5.0)
    return as_result(roll / (1.0 + share))


def sloped_runway_ground_roll_m(
    level_ground_roll_m: ArrayLike, slope: ArrayLike, liftoff_true_ms: ArrayLike
) -> FloatOrArray:
    """Ground roll on a slope from one on the level; undoes `level_runway_ground_roll_m`.

    Parameters
    ----------
    level_ground_roll_m : array_like, any shape
        Ground roll on the level without wind [m], 1 to 10000.
    slope : array_like, broadcasts
        Rise over length of the runway [-], -0.1 to 0.1, positive uphill.
    liftoff_true_ms : array_like, broadcasts
        True airspeed at lift-off [m/s], 5 to 150.

    Returns
    -------
    float or ndarray
        Ground roll on the slope [m].

    Raises
    ------
    InputError
        An argument is out of its range, or the slope takes over 0.85 of the energy uphill.

    Notes
    -----
    As `level_runway_ground_roll_m`, solved for the roll on the slope.

    Examples
    --------
    >>> round(sloped_runway_ground_roll_m(279.5, 0.01, 28.3), 1)
    300.0
    """
    roll = _ground_roll(level_ground_roll_m, "level_ground_roll_m")
    share = _slope_share(roll, slope, liftoff_true_ms, -1.0, 0.85)
    return as_result(roll / (1.0 - share))


def ground_roll_ratio(
    weight_ratio: ArrayLike,
    density_ratio: ArrayLike,
    speed_ratio: ArrayLike,
    power_ratio: ArrayLike,
    exponents: TakeoffExponents,
) -> FloatOrArray:
    """Ground roll under standard conditions over that under test conditions.

    Meant for small corrections, about 10 % of weight and 3000 ft of density altitude (common
    practice), with the same flaps, technique and lift-off speed over stall speed.

    Parameters
    ----------
    weight_ratio : array_like, any shape
        Weight, standard over test [-], 0.5 to 2.
    density_ratio : array_like, broadcasts
        Air density, standard over test [-], 0.5 to 2.
    speed_ratio : array_like, broadcasts
        Engine speed, standard over test [-], 0.7 to 1.5; with a fixed pitch an outcome of density
        and power, with a governor usually 1.
    power_ratio : array_like, broadcasts
        Brake power, standard over test [-], 0.3 to 3.
    exponents : TakeoffExponents
        A set of `EXPONENT_SETS`, or the owner's.

    Returns
    -------
    float or ndarray
        Ratio of ground rolls, after wind and slope [-].

    Raises
    ------
    InputError
        A ratio or an exponent is out of its range.

    Notes
    -----
    The source of each set is its `standing`.

    Examples
    --------
    Ten per cent more weight:

    >>> round(ground_roll_ratio(1.1, 1.0, 1.0, 1.0, EXPONENT_SETS["fixed pitch"]), 3)
    1.257
    """
    hint = "standard over test"
    weight = checked("weight_ratio [-]", weight_ratio, 0.5, 2.0, hint)
    density = checked("density_ratio [-]", density_ratio, 0.5, 2.0, hint)
    speed = checked("speed_ratio [-]", speed_ratio, 0.7, 1.5, hint)
    power = checked("power_ratio [-]", power_ratio, 0.3, 3.0, hint)
    return as_result(
        weight ** _exponent("weight", exponents.weight)
        * density ** _exponent("density", exponents.density)
        * speed ** _exponent("engine speed", exponents.engine_speed)
        * power ** _exponent("power", exponents.power)
    )


def liftoff_airspeed_ms(
    weight_n: ArrayLike,
    density_kg_m3: ArrayLike,
    wing_area_m2: ArrayLike,
    maximum_lift_coefficient: ArrayLike,
    stall_multiple: ArrayLike,
) -> FloatOrArray:
    """True airspeed at lift-off as a multiple of the stall, ``k sqrt(2 W/(rho S CLmax))``.

    Parameters
    ----------
    weight_n : array_like, any shape
        Weight W [N], 200 to 1e6.
    density_kg_m3 : array_like, broadcasts
        Air density rho [kg/m^3], 0.2 to 1.6.
    wing_area_m2 : array_like, broadcasts
        Wing area S [m^2], 1 to 500.
    maximum_lift_coefficient : array_like, broadcasts
        CLmax [-], 0.5 to 4.
    stall_multiple : array_like, broadcasts
        Lift-off over stall airspeed k [-], 1 to 2; 1 gives the stall.

    Returns
    -------
    float or ndarray
        True airspeed [m/s].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Definition of the lift coefficient.

    Examples
    --------
    >>> round(liftoff_airspeed_ms(5884.0, 1.225, 11.0, 1.6, 1.2), 2)
    28.03
    """
    lift = checked("maximum_lift_coefficient [-]", maximum_lift_coefficient, 0.5, 4.0, "near 1.5")
    multiple = checked("stall_multiple [-]", stall_multiple, 1.0, 2.0, "lift-off over stall")
    loading = _ranges.weight(weight_n) / (
        0.5 * _ranges.air_density(density_kg_m3) * _ranges.wing_area(wing_area_m2) * lift
    )
    return as_result(multiple * np.sqrt(loading))


def ground_effect_factor(wing_height_m: ArrayLike, wing_span_m: ArrayLike) -> FloatOrArray:
    """Induced drag near the ground over that in free air, ``(16 h/b)^2/(1 + (16 h/b)^2)``.

    Parameters
    ----------
    wing_height_m : array_like, any shape
        Height of the wing above the ground h [m], 0.1 to 100.
    wing_span_m : array_like, broadcasts
        Wing span b [m], 1 to 100.

    Returns
    -------
    float or ndarray
        Factor on induced drag [-], below 1.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    J. D. Anderson, Introduction to Flight, ch. 6, take-off (from memory).

    Examples
    --------
    >>> round(ground_effect_factor(1.2, 15.8), 4)
    0.5962
    """
    height = checked("wing_height_m [m]", wing_height_m, 0.1, 100.0, "wing above the ground")
    square = (16.0 * height / _ranges.wing_span(wing_span_m)) ** 2
    return as_result(square / (1.0 + square))


def ground_run_average_force_m(
    liftoff_true_ms: ArrayLike,
    weight_kg: ArrayLike,
    thrust_n: ArrayLike,
    drag_n: ArrayLike,
    lift_n: ArrayLike,
    rolling_friction: ArrayLike,
) -> FloatOrArray:
    """Ground run without wind on the level, from the forces at 0.7 of the lift-off airspeed.

    Parameters
    ----------
    liftoff_true_ms : array_like, any shape
        True airspeed at lift-off V [m/s], 5 to 150.
    weight_kg : array_like, broadcasts
        Weight as a mass m [kg], 20 to 1e5.
    thrust_n, drag_n, lift_n : array_like, broadcast
        Thrust T, drag D and lift L at 0.7 V [N], 0 to 1e6.
    rolling_friction : array_like, broadcasts
        Coefficient of rolling friction mu [-], 0 to 0.5.

    Returns
    -------
    float or ndarray
        Ground run ``m V^2/(2 (T - D - mu (m g - L)))`` [m]; NaN where no force is
        left to accelerate.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    J. D. Anderson, Introduction to Flight, ch. 6, take-off (from memory).

    Examples
    --------
    >>> round(ground_run_average_force_m(64.16, 1e4, 3e4, 3349.4, 69220.0, 0.02))
    789
    """
    mass = _ranges.mass(weight_kg)
    thrust, drag, lift = (
        checked(name, values, 0.0, 1e6, "a force in newtons")
        for name, values in (("thrust_n [N]", thrust_n), ("drag_n [N]", drag_n),
                             ("lift_n [N]", lift_n))
    )  # fmt: skip
    friction = checked("rolling_friction [-]", rolling_friction, 0.0, 0.5, "0.02 on hard ground")
    force = thrust - drag - friction * (mass * GRAVITY_MS2 - lift)
    force = np.where(force > 0.0, force, np.nan)
    return as_result(mass * _liftoff_true(liftoff_true_ms) ** 2 / (2.0 * force))


def ground_run_quadratic_m(
    static_acceleration_ms2: ArrayLike, decay_per_m: ArrayLike, liftoff_true_ms: ArrayLike
) -> FloatOrArray:
    """Ground run without wind where the acceleration is ``a0 - k V^2``.

    Parameters
    ----------
    static_acceleration_ms2 : array_like, any shape
        Acceleration at rest a0 [m/s^2], 0.05 to 20.
    decay_per_m : array_like, broadcasts
        Loss with the square of airspeed k [1/m], -0.05 to 0.05; 0 is constant acceleration.
    liftoff_true_ms : array_like, broadcasts
        True airspeed at lift-off V [m/s], 5 to 150.

    Returns
    -------
    float or ndarray
        Ground run ``-ln(1 - k V^2/a0)/(2 k)`` [m]; NaN where that airspeed is never reached.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Integral of V dV/a, in every textbook of mechanics; `ground_run_time_s` gives the time.

    Examples
    --------
    >>> ground_run_quadratic_m(2.0, [0.0, 0.0004], 28.0).round(1)
    array([196. , 213.1])
    """
    rest, speed, share = _quadratic(static_acceleration_ms2, decay_per_m, liftoff_true_ms)
    grown = np.divide(-np.log1p(-share), share, out=np.ones_like(share), where=share != 0.0)
    return as_result(speed**2 / (2.0 * rest) * grown)


def ground_run_time_s(
    static_acceleration_ms2: ArrayLike, decay_per_m: ArrayLike, liftoff_true_ms: ArrayLike
) -> FloatOrArray:
    """Time of the ground run of `ground_run_quadratic_m`.

    Parameters
    ----------
    static_acceleration_ms2 : array_like, any shape
        Acceleration at rest a0 [m/s^2], 0.05 to 20.
    decay_per_m : array_like, broadcasts
        Loss with the square of airspeed k [1/m], -0.05 to 0.05; 0 is constant acceleration.
    liftoff_true_ms : array_like, broadcasts
        True airspeed at lift-off V [m/s], 5 to 150.

    Returns
    -------
    float or ndarray
        Time ``artanh(V sqrt(k/a0))/sqrt(a0 k)`` [s]; NaN where that airspeed is never reached.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Integral of dV/a; for a negative k the inverse tangent takes the place of artanh.

    Examples
    --------
    >>> ground_run_time_s(2.0, [0.0, 0.0004], 28.0).round(2)
    array([14.  , 14.81])
    """
    rest, speed, share = _quadratic(static_acceleration_ms2, decay_per_m, liftoff_true_ms)
    root = np.sqrt(np.abs(share))
    angle = np.where(share < 0.0, np.arctan(root), np.arctanh(np.where(share < 0.0, 0.0, root)))
    grown = np.divide(angle, root, out=np.ones_like(root), where=root != 0.0)
    return as_result(speed / rest * grown)


def _ground_roll(values: ArrayLike, name: str = "ground_roll_m") -> FloatArray:
    return checked(f"{name} [m]", values, 1.0, 1e4, "a ground roll in metres is needed")


def _headwind(values: ArrayLike) -> FloatArray:
    hint = "headwind in m/s, negative for a tailwind; is it in km/h?"
    return checked("headwind_ms [m/s]", values, -15.0, 20.0, hint)


def _liftoff_true(values: ArrayLike) -> FloatArray:
    return checked("liftoff_true_ms [m/s]", values, 5.0, 150.0, "is it in km/h?")


def _exponent(name: str, values: ArrayLike) -> FloatArray:
    return checked(f"{name} exponent [-]", values, -5.0, 5.0)


def _slope_share(
    roll: FloatArray, slope: ArrayLike, liftoff_true_ms: ArrayLike, low: float, high: float
) -> FloatArray:
    """Work against the slope over the energy at lift-off, 2 g S sin(theta)/V^2 [-]."""
    rise = checked("slope [-]", slope, -0.1, 0.1, "rise over length: 2 % is 0.02")
    sine = rise / np.sqrt(1.0 + rise**2)
    share = 2.0 * GRAVITY_MS2 * roll * sine / _liftoff_true(liftoff_true_ms) ** 2
    hint = "the slope would do nearly all, or more than, the work of the take-off"
    return checked("work against the slope over energy at lift-off [-]", share, low, high, hint)


def _quadratic(
    static_acceleration_ms2: ArrayLike, decay_per_m: ArrayLike, liftoff_true_ms: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Acceleration at rest, airspeed, and k V^2/a0, NaN where it reaches 1."""
    rest = checked("static_acceleration_ms2 [m/s^2]", static_acceleration_ms2, 0.05, 20.0,
                   "in m/s^2, not in g")  # fmt: skip
    decay = checked("decay_per_m [1/m]", decay_per_m, -0.05, 0.05, "near 0.0005")
    speed = _liftoff_true(liftoff_true_ms)
    share = np.asarray(decay * speed**2 / rest)
    return rest, speed, np.where(share < 1.0, share, np.nan)
