"""Ground roll from forces in airspeed: effective thrust out of a measured roll, and another day.

The acceleration over the ground of one roll is known as a function of ground speed. With assumed
rolling friction, drag and lift on the wheels it gives the thrust that must have been there; that
thrust, scaled to other air and power, is integrated to the distance and time of another roll. What
was assumed enters twice with opposite sign, so that most of it cancels.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from stdday import _ranges
from stdday._arrays import FloatArray, FloatOrArray, as_result, checked
from stdday.atmosphere import GRAVITY_MS2

__all__ = [
    "FRICTION",
    "Friction",
    "RollCurve",
    "RollDay",
    "RollForces",
    "RollResult",
    "ThrustChange",
    "effective_thrust_n",
    "friction_on",
    "ground_roll",
    "scaled_thrust_n",
    "wanted_thrust_n",
]

#: Gauss-Legendre nodes: distance and time of a roll to 1e-6 while half of the acceleration is left.
NODES, WEIGHTS = np.polynomial.legendre.leggauss(12)


@dataclass(frozen=True)
class Friction:
    """Rolling friction of a surface.

    Parameters
    ----------
    coefficient, sigma : float
        Coefficient of rolling friction and its one sigma [-].
    standing : str
        Where it comes from and how far to trust it.

    Examples
    --------
    >>> Friction(0.03, 0.01, "owner's measurement").coefficient
    0.03
    """

    coefficient: float
    sigma: float
    standing: str


_TEXTBOOK = "textbooks of airplane performance, from memory"
#: Rolling friction by a word of the surface; the greatest of the words that a surface has counts.
FRICTION: dict[str, Friction] = {
    "paved": Friction(0.03, 0.01, f"{_TEXTBOOK}: 0.02 to 0.05 on hard ground"),
    "asphalt": Friction(0.03, 0.01, f"{_TEXTBOOK}: 0.02 to 0.05 on hard ground"),
    "concrete": Friction(0.03, 0.01, f"{_TEXTBOOK}: 0.02 to 0.05 on hard ground"),
    "gravel": Friction(0.05, 0.02, f"{_TEXTBOOK}: 0.04 on firm dirt, gravel more"),
    "grass": Friction(0.06, 0.02, f"{_TEXTBOOK}: 0.05 short grass to 0.10 long grass"),
    "long": Friction(0.10, 0.03, f"{_TEXTBOOK}: 0.10 long grass"),
    "snow": Friction(0.08, 0.04, "common practice, wide"),
    "soft": Friction(0.15, 0.06, f"{_TEXTBOOK}: 0.1 to 0.3 on soft ground"),
}
_UNKNOWN = Friction(0.05, 0.03, "surface not among the known words: hard ground to long grass")


def friction_on(surface: str) -> Friction:
    """Rolling friction of a surface described in words.

    Parameters
    ----------
    surface : str
        Words with commas or blanks between them, such as ``grass, long``.

    Returns
    -------
    Friction
        The greatest of `FRICTION` whose word is there; a wide one where none is. Never raises.

    Examples
    --------
    >>> friction_on("paved, dry").coefficient, friction_on("grass, long").coefficient
    (0.03, 0.1)
    """
    words = surface.casefold().replace(",", " ").split()
    known = [FRICTION[word] for word in words if word in FRICTION]
    return max(known, key=lambda one: one.coefficient) if known else _UNKNOWN


@dataclass(frozen=True)
class RollCurve:
    """Acceleration over the ground of a roll, ``a0 + a1 v + a2 v^2`` in ground speed v.

    Parameters
    ----------
    a0_ms2, a1_per_s, a2_per_m : float or ndarray
        Coefficients [m/s^2], [1/s] and [1/m].

    Examples
    --------
    >>> float(RollCurve(2.4, -0.01, -0.0005).at(20.0))
    2.0
    """

    a0_ms2: FloatOrArray
    a1_per_s: FloatOrArray
    a2_per_m: FloatOrArray

    def at(self, ground_speed_ms: ArrayLike) -> FloatArray:
        """Acceleration over the ground at a ground speed [m/s^2]."""
        speed = np.asarray(ground_speed_ms, dtype=float)
        return np.asarray(self.a0_ms2 + speed * (self.a1_per_s + speed * self.a2_per_m))


@dataclass(frozen=True)
class RollDay:
    """Conditions of a ground roll.

    Parameters
    ----------
    weight_kg : float or ndarray
        Weight as a mass [kg], 20 to 1e5.
    density_kg_m3 : float or ndarray
        Air density [kg/m^3], 0.2 to 1.6.
    slope : float or ndarray
        Rise over length of the runway [-], -0.1 to 0.1, positive uphill.
    headwind_ms : float or ndarray
        Headwind [m/s], -15 to 20.
    liftoff_true_ms : float or ndarray
        True airspeed at lift-off [m/s], 5 to 150.

    Examples
    --------
    >>> RollDay(600.0, 1.225, 0.0, 0.0, 25.0).liftoff_true_ms
    25.0
    """

    weight_kg: FloatOrArray
    density_kg_m3: FloatOrArray
    slope: FloatOrArray
    headwind_ms: FloatOrArray
    liftoff_true_ms: FloatOrArray

    def __post_init__(self) -> None:
        """Check the ranges once, not at every node."""
        _ranges.mass(self.weight_kg)
        _ranges.air_density(self.density_kg_m3)
        checked("slope [-]", self.slope, -0.1, 0.1, "rise over length: 2 % is 0.02")
        checked("headwind_ms [m/s]", self.headwind_ms, -15.0, 20.0, "is it in km/h?")
        checked("liftoff_true_ms [m/s]", self.liftoff_true_ms, 5.0, 150.0, "is it in km/h?")


@dataclass(frozen=True)
class RollForces:
    """What resists on the wheels, assumed the same on both days.

    Parameters
    ----------
    rolling_friction : float or ndarray
        Coefficient of rolling friction [-], -0.1 to 0.5 (draws of a small one may pass zero).
    drag_area_m2, lift_area_m2 : float or ndarray
        Drag and lift over dynamic pressure with the wheels on the ground [m^2].

    Examples
    --------
    >>> RollForces(0.03, 0.5, 4.0).rolling_friction
    0.03
    """

    rolling_friction: FloatOrArray
    drag_area_m2: FloatOrArray
    lift_area_m2: FloatOrArray

    def __post_init__(self) -> None:
        """Check the ranges once, not at every node."""
        checked("rolling_friction [-]", self.rolling_friction, -0.1, 0.5, "0.03 on hard ground")
        checked("drag_area_m2 [m^2]", self.drag_area_m2, -50.0, 500.0, "near 0.05 of wing area")
        checked("lift_area_m2 [m^2]", self.lift_area_m2, -500.0, 1500.0, "near 0.4 of wing area")

    def resistance_n(self, day: RollDay, true_ms: FloatArray) -> FloatArray:
        """Drag, friction and weight along the slope at an airspeed [N]."""
        pressure = 0.5 * day.density_kg_m3 * true_ms**2
        weight = np.asarray(day.weight_kg) * GRAVITY_MS2
        sine = np.asarray(day.slope) / np.sqrt(1.0 + np.asarray(day.slope) ** 2)
        wheels = weight - pressure * self.lift_area_m2
        return np.asarray(
            pressure * self.drag_area_m2 + self.rolling_friction * wheels + weight * sine
        )


@dataclass(frozen=True)
class ThrustChange:
    """How the propeller's thrust on the wanted day differs from the flown one.

    Parameters
    ----------
    diameter_m : float or ndarray
        Propeller diameter [m].
    power_ratio : float or ndarray
        Brake power, wanted over flown [-], 0.3 to 3.
    speed_ratio : float or ndarray
        Engine speed, wanted over flown [-], 0.7 to 1.5.
    by_speed : bool or ndarray
        True for a fixed pitch of known engine speed: ``T = rho n^2 D^4 CT(J)`` at one advance
        ratio; False for a governor: momentum theory at the ratio of powers.
    law : float or ndarray
        Exponent on the ratio of thrusts that these laws give [-], 1 trusts them.

    Examples
    --------
    >>> ThrustChange(1.7).power_ratio
    1.0
    """

    diameter_m: FloatOrArray
    power_ratio: FloatOrArray = 1.0
    speed_ratio: FloatOrArray = 1.0
    by_speed: bool | np.ndarray[tuple[int, ...], np.dtype[np.bool_]] = False
    law: FloatOrArray = 1.0

    def __post_init__(self) -> None:
        """Check the ranges once, not at every node."""
        _ranges.diameter(self.diameter_m)
        checked("power_ratio [-]", self.power_ratio, 0.3, 3.0, "wanted over flown")
        checked("speed_ratio [-]", self.speed_ratio, 0.7, 1.5, "wanted over flown")


@dataclass(frozen=True)
class RollResult:
    """A ground roll.

    Parameters
    ----------
    distance_m, time_s : float or ndarray
        Distance over the ground [m] and time [s] from rest to lift-off; NaN where the airplane
        never gets there.

    Examples
    --------
    >>> RollResult(200.0, 15.0).time_s
    15.0
    """

    distance_m: FloatOrArray
    time_s: FloatOrArray


def scaled_thrust_n(
    thrust_n: ArrayLike,
    true_ms: ArrayLike,
    density_kg_m3: ArrayLike,
    wanted_density_kg_m3: ArrayLike,
    power_ratio: ArrayLike,
    diameter_m: ArrayLike,
) -> FloatOrArray:
    """Thrust at the same airspeed in other air and at other power, by momentum theory.

    Parameters
    ----------
    thrust_n : array_like, any shape
        Thrust T [N]; NaN comes out where it is not positive.
    true_ms : array_like, broadcasts
        True airspeed V [m/s], -20 to 300; a tailwind blows from behind at rest.
    density_kg_m3, wanted_density_kg_m3 : array_like, broadcast
        Air density as flown and as wanted [kg/m^3], 0.2 to 1.6.
    power_ratio : array_like, broadcasts
        Brake power, wanted over flown [-], 0.3 to 3.
    diameter_m : array_like, broadcasts
        Propeller diameter [m], 0.1 to 20.

    Returns
    -------
    float or ndarray
        Thrust [N]: goes with ``P^(2/3) rho^(1/3)`` at rest and nearly with P at high speed.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Actuator disk, in every textbook: ``T = 2 rho A w (w - V)`` with w the speed through the disk,
    and ideal power ``T w``. The share of brake power that reaches the air is taken as unchanged.

    Examples
    --------
    At rest and at 30 m/s, with a tenth more power:

    >>> scaled_thrust_n(1800.0, [0.0, 30.0], 1.2, 1.2, 1.1, 1.7).round(1)
    array([1918.1, 1950.7])
    """
    true = checked("true_ms [m/s]", true_ms, -20.0, 300.0, "is it in km/h?")
    density = _ranges.air_density(density_kg_m3)
    wanted = _ranges.air_density(wanted_density_kg_m3)
    ratio = checked("power_ratio [-]", power_ratio, 0.3, 3.0, "wanted over flown")
    disk = np.pi / 4.0 * _ranges.diameter(diameter_m) ** 2
    thrust = np.asarray(thrust_n, dtype=float)
    thrust = np.where(thrust > 0.0, thrust, np.nan)
    through = true / 2.0 + np.sqrt(true**2 / 4.0 + thrust / (2.0 * density * disk))
    power = thrust * through * ratio
    loading = power / (2.0 * wanted * disk)
    speed = through * np.cbrt(ratio * density / wanted)
    for _ in range(5):  # w^2 (w - V) = P/(2 rho A), from beside the answer
        speed = speed - (speed**2 * (speed - true) - loading) / (speed * (3.0 * speed - 2.0 * true))
    return as_result(power / speed)


def effective_thrust_n(
    true_ms: ArrayLike, curve: RollCurve, flown: RollDay, forces: RollForces
) -> FloatOrArray:
    """Thrust that a measured roll must have had, at assumed resistance.

    Parameters
    ----------
    true_ms : array_like, any shape
        True airspeed V [m/s].
    curve : RollCurve
        Measured acceleration over the ground.
    flown : RollDay
        Conditions of the measured roll.
    forces : RollForces
        Assumed resistance.

    Returns
    -------
    float or ndarray
        ``m a + D + mu (W - L) + W sin(slope)`` [N].

    Raises
    ------
    InputError
        An airspeed is out of its range.

    Notes
    -----
    Newton's second law along the runway; ground speed is airspeed less headwind.

    Examples
    --------
    >>> day, forces = RollDay(600.0, 1.2, 0.0, 2.0, 26.0), RollForces(0.03, 0.5, 4.0)
    >>> round(effective_thrust_n(2.0, RollCurve(2.5, 0.0, -0.001), day, forces))
    1677
    """
    true = checked("true_ms [m/s]", true_ms, -20.0, 300.0, "is it in km/h?")
    pulled = np.asarray(flown.weight_kg) * curve.at(true - np.asarray(flown.headwind_ms))
    return as_result(pulled + forces.resistance_n(flown, true))


def ground_roll(
    curve: RollCurve,
    flown: RollDay,
    wanted: RollDay,
    forces: RollForces,
    change: ThrustChange,
) -> RollResult:
    """Integrate a roll under other conditions from the acceleration of a measured one.

    Parameters
    ----------
    curve : RollCurve
        Measured acceleration over the ground.
    flown, wanted : RollDay
        Conditions of the measured roll, and of the one asked for.
    forces : RollForces
        Assumed resistance, the same for both.
    change : ThrustChange
        Power, engine speed and propeller.

    Returns
    -------
    RollResult
        Distance and time; under the flown conditions those of the measured acceleration itself.

    Raises
    ------
    InputError
        An airspeed is out of its range.

    Notes
    -----
    ``S = integral of (V - Vw) dV/a`` from brake release to lift-off, `NODES` fixed
    Gauss-Legendre nodes. Own derivation from the forces of every textbook.

    Examples
    --------
    Constant acceleration of 2 m/s^2 to 28 m/s, nothing changed:

    >>> day = RollDay(600.0, 1.225, 0.0, 0.0, 28.0)
    >>> same = RollCurve(2.0, 0.0, 0.0), day, day, RollForces(0.03, 0.5, 4.0), ThrustChange(1.7)
    >>> roll = ground_roll(*same)
    >>> round(roll.distance_m, 6), round(roll.time_s, 6)
    (196.0, 14.0)
    """
    wind = np.asarray(wanted.headwind_ms)
    half = (np.asarray(wanted.liftoff_true_ms) - wind) / 2.0
    distance, time = np.zeros_like(half), np.zeros_like(half)
    for node, weight in zip(NODES, WEIGHTS, strict=True):
        ground = half * (1.0 + node)
        thrust = wanted_thrust_n(ground + wind, curve, flown, wanted, forces, change)
        force = np.asarray(thrust) - forces.resistance_n(wanted, ground + wind)
        share = weight * half * wanted.weight_kg / np.where(force > 0.0, force, np.nan)
        distance, time = distance + share * ground, time + share
    return RollResult(as_result(distance), as_result(time))


def wanted_thrust_n(
    true_ms: ArrayLike,
    curve: RollCurve,
    flown: RollDay,
    wanted: RollDay,
    forces: RollForces,
    change: ThrustChange,
) -> FloatOrArray:
    """Thrust under other conditions, from the acceleration of a measured roll.

    Parameters
    ----------
    true_ms : array_like, any shape
        True airspeed V [m/s], -20 to 300.
    curve, flown, wanted, forces, change
        As for `ground_roll`.

    Returns
    -------
    float or ndarray
        Thrust [N].

    Raises
    ------
    InputError
        The airspeed is out of its range.

    Notes
    -----
    `effective_thrust_n`, times the ratio of thrusts that `ThrustChange` says.

    Examples
    --------
    >>> day, forces = RollDay(600.0, 1.2, 0.0, 2.0, 26.0), RollForces(0.03, 0.5, 4.0)
    >>> curve, change = RollCurve(2.5, 0.0, -0.001), ThrustChange(1.7, power_ratio=1.1)
    >>> round(wanted_thrust_n(2.0, curve, day, day, forces, change))
    1790
    """
    true = np.asarray(true_ms, dtype=float)
    by_speed = np.asarray(change.by_speed)
    same_advance = np.where(by_speed, true / change.speed_ratio, true)
    had = np.asarray(effective_thrust_n(same_advance, curve, flown, forces))
    density = np.asarray(wanted.density_kg_m3) / flown.density_kg_m3
    if np.all(density == 1.0) and np.all(change.power_ratio == 1.0) and not by_speed.any():
        return as_result(had)
    similar = density * np.asarray(change.speed_ratio) ** 2
    disk = scaled_thrust_n(
        had,
        same_advance,
        flown.density_kg_m3,
        wanted.density_kg_m3,
        change.power_ratio,
        change.diameter_m,
    )
    ratio = np.where(by_speed, similar, np.asarray(disk) / had)
    return as_result(had * ratio**change.law)
