"""Arguments that several physics modules share: name, unit, valid range and hint in one place.

The ranges are wide enough for the published examples, from a model propeller to a transport, and
narrow enough to refuse a value in another unit where the unit makes a large difference.
"""

from __future__ import annotations

from numpy.typing import ArrayLike

from stdday._arrays import FloatArray, checked

__all__ = [
    "acceleration",
    "air_density",
    "density_ratio",
    "diameter",
    "efficiency",
    "height_rate",
    "mass",
    "moving_airspeed",
    "power",
    "propeller_speed",
    "span_efficiency",
    "true_airspeed",
    "weight",
    "wing_area",
    "wing_span",
]


def true_airspeed(values: ArrayLike) -> FloatArray:
    """True airspeed [m/s], standing still allowed."""
    return checked("true_ms [m/s]", values, 0.0, 300.0, "is it in km/h, or against the flight?")


def moving_airspeed(values: ArrayLike, name: str = "true_ms") -> FloatArray:
    """Airspeed [m/s] of a moving airplane, for formulas that divide by it."""
    return checked(f"{name} [m/s]", values, 1.0, 300.0, "an airspeed in flight in m/s is needed")


def air_density(values: ArrayLike) -> FloatArray:
    """Air density [kg/m^3]."""
    hint = "the standard day at sea level has 1.225"
    return checked("density_kg_m3 [kg/m^3]", values, 0.2, 1.6, hint)


def density_ratio(values: ArrayLike, name: str = "density_ratio") -> FloatArray:
    """Air density over that of the standard day at sea level [-]."""
    hint = "density over 1.225 kg/m^3 is needed"
    return checked(f"{name} [-]", values, 0.15, 1.4, hint)


def mass(values: ArrayLike, name: str = "weight_kg") -> FloatArray:
    """Weight of the airplane as a mass [kg]."""
    return checked(f"{name} [kg]", values, 20.0, 1e5, "the airplane's weight as a mass in kg")


def weight(values: ArrayLike, name: str = "weight_n") -> FloatArray:
    """Weight of the airplane as a force [N]."""
    hint = "the airplane's weight as a force in N: 9.80665 times the kilograms"
    return checked(f"{name} [N]", values, 200.0, 1e6, hint)


def power(values: ArrayLike, name: str = "power_w", low: float = 0.0) -> FloatArray:
    """Power [W]."""
    return checked(f"{name} [W]", values, low, 5e6, "power in W: 100 kW is 100000")


def diameter(values: ArrayLike) -> FloatArray:
    """Propeller diameter [m]."""
    return checked("diameter_m [m]", values, 0.1, 20.0, "is it in inches or millimetres?")


def propeller_speed(values: ArrayLike, name: str = "speed_rps") -> FloatArray:
    """Speed of rotation [rev/s]."""
    hint = "rev/s of a turning propeller: 2400 rev/min is 40"
    return checked(f"{name} [rev/s]", values, 0.1, 200.0, hint)


def efficiency(values: ArrayLike) -> FloatArray:
    """Propulsive efficiency [-]."""
    return checked("efficiency [-]", values, 0.2, 1.0, "a fraction: 80 % is 0.8")


def span_efficiency(values: ArrayLike) -> FloatArray:
    """Span efficiency factor [-]; effective values of published examples reach 1.3."""
    return checked("span_efficiency [-]", values, 0.2, 1.5, "a factor near 0.8")


def wing_area(values: ArrayLike) -> FloatArray:
    """Wing area [m^2]."""
    return checked("wing_area_m2 [m^2]", values, 1.0, 500.0, "wing area in square metres")


def wing_span(values: ArrayLike) -> FloatArray:
    """Wing span [m]."""
    return checked("wing_span_m [m]", values, 1.0, 100.0, "wing span in metres")


def height_rate(values: ArrayLike, name: str = "height_rate_ms") -> FloatArray:
    """Vertical speed [m/s]."""
    return checked(f"{name} [m/s]", values, -100.0, 100.0, "is it in ft/min?")


def acceleration(values: ArrayLike, name: str = "true_rate_ms2") -> FloatArray:
    """Rate of change of a speed [m/s^2]."""
    return checked(f"{name} [m/s^2]", values, -30.0, 30.0, "is it in knots per second?")
