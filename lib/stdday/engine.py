"""Engine power: full throttle of a naturally aspirated engine, and power from fuel flow."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from stdday._arrays import FloatOrArray, as_result, checked
from stdday.atmosphere import (
    SEA_LEVEL_PRESSURE_PA,
    SEA_LEVEL_TEMPERATURE_K,
    checked_temperature,
    pressure_altitude_m,
    standard_pressure_pa,
    standard_temperature_k,
)
from stdday.errors import InputError

__all__ = ["full_throttle_ratio", "induction_ratio", "power_from_fuel_flow_w"]

# Friction and pumping share of Gagg and Ferrar (1934): power is s - (1 - s)/7.55.
_GAGG_FERRAR_DIVISOR = 7.55


def full_throttle_ratio(
    pressure_pa: ArrayLike, temperature_k: ArrayLike, vapour_pressure_pa: ArrayLike = 0.0
) -> FloatOrArray:
    """Full-throttle power at one engine speed over that on the dry standard day at sea level.

    For a naturally aspirated engine, without ram: ``(s - (1 - s)/7.55) * sqrt(Ts/T) * (p - e)/p``
    with s the density ratio and Ts the temperature of the standard day at the pressure altitude.

    Parameters
    ----------
    pressure_pa : array_like, any shape
        Ambient pressure p [Pa], 30 000 to 110 000.
    temperature_k : array_like, broadcasts
        Ambient (or, better, intake) temperature T [K], within the range of `stdday.atmosphere`.
    vapour_pressure_pa : array_like, broadcasts
        Partial pressure e of water vapour [Pa], 0 to 12 000; 0 is the dry air of the definition.

    Returns
    -------
    float or ndarray
        Power ratio [-].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Lapse with density: Gagg and Ferrar, SAE Transactions 1934; textbooks print it in this form or
    as 1.132 s - 0.132, which differs by less than 3e-4 in the valid range (from memory).
    Temperature at one manifold pressure and engine speed: AC 23-8, appendix 1 (from memory).
    Humidity: power follows the pressure of the dry air; SAE J1349 keeps friction apart, which makes
    its loss with humidity 1.18 times this one (from memory).

    Examples
    --------
    At 5000 ft of pressure altitude, 20 K warmer than the standard day:

    >>> round(full_throttle_ratio(84307.0, 298.24), 4)
    0.8146
    """
    hint = "pressure in Pa: 1013.25 hPa is 101325"
    pressure = checked("pressure_pa [Pa]", pressure_pa, 3e4, 1.1e5, hint)
    temperature = checked_temperature(temperature_k)
    vapour = checked("vapour_pressure_pa [Pa]", vapour_pressure_pa, 0.0, 1.2e4, "is it in Pa?")
    standard = np.asarray(standard_temperature_k(pressure_altitude_m(pressure)))
    ratio = pressure / SEA_LEVEL_PRESSURE_PA * SEA_LEVEL_TEMPERATURE_K / standard
    lapse = ratio - (1.0 - ratio) / _GAGG_FERRAR_DIVISOR
    warmth = np.sqrt(standard / temperature)
    return as_result(lapse * warmth * (pressure - vapour) / pressure)


def induction_ratio(
    pressure_pa: ArrayLike,
    temperature_k: ArrayLike,
    vapour_pressure_pa: ArrayLike,
    induction: str,
    critical_altitude_m: float | None,
) -> FloatOrArray:
    """Full-throttle power over the rated one, for a naturally aspirated or turbocharged engine.

    A turbocharger holds the manifold pressure up to the critical altitude: power on the standard
    day is the rated one, and on others follows the root of the temperature and the dry share of the
    air; above, it falls as it would without a turbocharger, from what it was there.

    Parameters
    ----------
    pressure_pa, vapour_pressure_pa : array_like, broadcast
        Ambient pressure [Pa], 30 000 to 110 000, and that of water vapour [Pa], 0 to 12 000.
    temperature_k : array_like, broadcasts
        Ambient temperature [K], within the range of `stdday.atmosphere`.
    induction : str
        ``naturally aspirated`` or ``turbocharged``.
    critical_altitude_m : float or None
        Pressure altitude up to which the turbocharger holds the pressure [m], 0 to 9000; None
        where it is not known, and no fall with altitude is taken.

    Returns
    -------
    float or ndarray
        Power ratio [-].

    Raises
    ------
    InputError
        An argument is out of its range, or the induction is another word.

    Notes
    -----
    As `full_throttle_ratio`; charge temperature behind the compressor is taken to follow that of
    the air (common practice).

    Examples
    --------
    Standard day at 10 000 ft, below and above the critical altitude:

    >>> round(induction_ratio(69682.0, 268.34, 0.0, "turbocharged", 4000.0), 3)
    1.0
    >>> round(induction_ratio(69682.0, 268.34, 0.0, "turbocharged", 2000.0), 3)
    0.882
    """
    natural = np.asarray(full_throttle_ratio(pressure_pa, temperature_k, vapour_pressure_pa))
    if induction == "naturally aspirated":
        return as_result(natural)
    if induction != "turbocharged":
        raise InputError(
            f"induction must be naturally aspirated or turbocharged; got {induction!r}"
        )
    pressure = np.asarray(pressure_pa, dtype=float)
    dry = (pressure - np.asarray(vapour_pressure_pa)) / pressure
    standard = np.asarray(standard_temperature_k(pressure_altitude_m(pressure)))
    held = np.sqrt(standard / np.asarray(temperature_k)) * dry
    if critical_altitude_m is None:
        return as_result(held)
    hint = "is it in feet?"
    critical = checked("critical_altitude_m [m]", critical_altitude_m, 0.0, 9000.0, hint)
    there = standard_pressure_pa(critical)
    top = 1.0 / np.asarray(full_throttle_ratio(there, standard_temperature_k(critical)))
    return as_result(np.where(pressure >= there, held, natural * top))


def power_from_fuel_flow_w(
    fuel_flow_m3s: ArrayLike, fuel_density_kg_m3: ArrayLike, specific_consumption_kg_j: ArrayLike
) -> FloatOrArray:
    """Brake power from fuel flow at a known specific consumption.

    Parameters
    ----------
    fuel_flow_m3s : array_like, any shape
        Fuel flow [m^3/s], 0 to 1e-3 (3600 L/h).
    fuel_density_kg_m3 : array_like, broadcasts
        Density of the fuel [kg/m^3], 600 to 900.
    specific_consumption_kg_j : array_like, broadcasts
        Fuel mass for each joule of brake work [kg/J], 3e-8 to 3e-7.

    Returns
    -------
    float or ndarray
        Brake power [W].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Arithmetic; valid only at the mixture for which the specific consumption holds. Common practice
    has 0.40 to 0.45 lb/(hp h) lean and 0.45 to 0.55 rich (no source).

    Examples
    --------
    20 L/h of 0.72 kg/L at 285 g/kWh:

    >>> round(power_from_fuel_flow_w(20e-3 / 3600, 720.0, 0.285 / 3.6e6))
    50526
    """
    hint = "m^3/s: 20 L/h is 5.6e-6"
    flow = checked("fuel_flow_m3s [m^3/s]", fuel_flow_m3s, 0.0, 1e-3, hint)
    hint = "kg/m^3: 0.72 kg/L is 720"
    density = checked("fuel_density_kg_m3 [kg/m^3]", fuel_density_kg_m3, 600.0, 900.0, hint)
    hint = "kg/J: 0.45 lb/(hp h) is 7.6e-8"
    consumption = checked(
        "specific_consumption_kg_j [kg/J]", specific_consumption_kg_j, 3e-8, 3e-7, hint
    )
    return as_result(flow * density / consumption)
