"""The standard atmosphere, pressure and density altitude, and moist air.

Closed form of the ICAO standard atmosphere in its published constants (ICAO Doc 7488/3, 1993; ISO
2533; in this range the same as the U.S. Standard Atmosphere 1976), from -2 to 20 km. Altitudes are
geopotential, as an altimeter shows them; `geopotential_m` and `geometric_m` convert. The height of
a satellite receiver is geometric, and above an ellipsoid or a geoid besides. Equation numbers are
those of the U.S. Standard Atmosphere 1976 (NOAA-S/T 76-1562), quoted from memory.

NaN passes through every function; a value out of range is refused, never moved to the limit.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from stdday._arrays import FloatArray, FloatOrArray, as_result, checked

__all__ = [
    "EARTH_RADIUS_M",
    "GAS_CONSTANT_J_KG_K",
    "GRAVITY_MS2",
    "HEAT_CAPACITY_RATIO",
    "LAPSE_K_M",
    "SEA_LEVEL_DENSITY_KG_M3",
    "SEA_LEVEL_PRESSURE_PA",
    "SEA_LEVEL_SPEED_OF_SOUND_MS",
    "SEA_LEVEL_TEMPERATURE_K",
    "TROPOPAUSE_M",
    "TROPOPAUSE_PRESSURE_PA",
    "TROPOPAUSE_TEMPERATURE_K",
    "WATER_TO_DRY_AIR",
    "density_altitude_m",
    "density_kg_m3",
    "geometric_m",
    "geopotential_m",
    "pressure_altitude_at_field_m",
    "pressure_altitude_m",
    "speed_of_sound_ms",
    "standard_density_kg_m3",
    "standard_pressure_pa",
    "standard_temperature_k",
    "vapour_pressure_pa",
]

#: Temperature of the standard atmosphere at sea level [K] (ICAO Doc 7488/3, table A).
SEA_LEVEL_TEMPERATURE_K = 288.15
#: Pressure of the standard atmosphere at sea level [Pa] (ICAO Doc 7488/3, table A).
SEA_LEVEL_PRESSURE_PA = 101325.0
#: Density of the standard atmosphere at sea level [kg/m^3] (ICAO Doc 7488/3, table A, as printed).
SEA_LEVEL_DENSITY_KG_M3 = 1.225
#: Specific gas constant of dry air [J/(kg K)] (ICAO Doc 7488/3, table A).
GAS_CONSTANT_J_KG_K = 287.05287
#: Standard acceleration of free fall [m/s^2] (ICAO Doc 7488/3, table A).
GRAVITY_MS2 = 9.80665
#: Change of temperature with geopotential altitude below the tropopause [K/m].
LAPSE_K_M = -0.0065
#: Ratio of specific heats of air [-].
HEAT_CAPACITY_RATIO = 1.4
#: Nominal earth radius for geopotential altitude [m] (U.S. Standard Atmosphere 1976, eq. 18).
EARTH_RADIUS_M = 6_356_766.0
#: Ratio of the molar masses of water and dry air [-]: 18.01528 over 28.96442.
WATER_TO_DRY_AIR = 18.01528 / 28.96442
#: Geopotential altitude of the tropopause [m].
TROPOPAUSE_M = 11_000.0

_EXPONENT = -GRAVITY_MS2 / (GAS_CONSTANT_J_KG_K * LAPSE_K_M)
_SEA_LEVEL_GAS_DENSITY = SEA_LEVEL_PRESSURE_PA / (GAS_CONSTANT_J_KG_K * SEA_LEVEL_TEMPERATURE_K)

#: Temperature of the standard atmosphere from the tropopause to 20 km [K].
TROPOPAUSE_TEMPERATURE_K = SEA_LEVEL_TEMPERATURE_K + LAPSE_K_M * TROPOPAUSE_M
#: Pressure of the standard atmosphere at the tropopause [Pa].
TROPOPAUSE_PRESSURE_PA = (
    SEA_LEVEL_PRESSURE_PA * (TROPOPAUSE_TEMPERATURE_K / SEA_LEVEL_TEMPERATURE_K) ** _EXPONENT
)
#: Speed of sound of the standard atmosphere at sea level [m/s].
SEA_LEVEL_SPEED_OF_SOUND_MS = math.sqrt(
    HEAT_CAPACITY_RATIO * GAS_CONSTANT_J_KG_K * SEA_LEVEL_TEMPERATURE_K
)

_TROPOPAUSE_GAS_DENSITY = TROPOPAUSE_PRESSURE_PA / (GAS_CONSTANT_J_KG_K * TROPOPAUSE_TEMPERATURE_K)
_SCALE_HEIGHT_M = GAS_CONSTANT_J_KG_K * TROPOPAUSE_TEMPERATURE_K / GRAVITY_MS2


def _temperature(altitude_m: FloatArray) -> FloatArray:
    # Above the tropopause the temperature stays; one expression serves both sides of the seam.
    return SEA_LEVEL_TEMPERATURE_K + LAPSE_K_M * np.minimum(altitude_m, TROPOPAUSE_M)


def _ratio_at(altitude_m: FloatArray, exponent: float) -> FloatArray:
    # (T/T0)^exponent below the tropopause, falling on with the scale height above it: the pressure
    # ratio for the exponent n, the density ratio for n - 1.
    below = (_temperature(altitude_m) / SEA_LEVEL_TEMPERATURE_K) ** exponent
    above: FloatArray = np.exp(-np.maximum(altitude_m - TROPOPAUSE_M, 0.0) / _SCALE_HEIGHT_M)
    return below * above


def _altitude_of(ratio: FloatArray, exponent: float, seam: float) -> FloatArray:
    # Inverse of `_ratio_at`; `seam` is its value at the tropopause.
    below = np.maximum(ratio, seam) ** (1.0 / exponent) - 1.0
    above: FloatArray = np.log(seam / np.minimum(ratio, seam))
    return below * SEA_LEVEL_TEMPERATURE_K / LAPSE_K_M + above * _SCALE_HEIGHT_M


# Limits, a little outside of the round figures, and those of the inverse functions half as much, so
# that a round trip at a limit is not refused for its last bit.
_SLACK_M = 1e-6
_ALTITUDES_M = (-2000.0 - _SLACK_M, 20_000.0 + _SLACK_M)
_PRESSURES_PA = tuple(
    SEA_LEVEL_PRESSURE_PA * float(_ratio_at(np.asarray(end), _EXPONENT))
    for end in (20_000.0 + _SLACK_M / 2, -2000.0 - _SLACK_M / 2)
)
_DENSITIES_KG_M3 = tuple(
    _SEA_LEVEL_GAS_DENSITY * float(_ratio_at(np.asarray(end), _EXPONENT - 1.0))
    for end in (20_000.0 + _SLACK_M / 2, -5000.0 - _SLACK_M / 2)
)


def checked_altitude(values: ArrayLike, name: str = "pressure_altitude_m [m]") -> FloatArray:
    """Return altitudes as an array; refuse any outside of -2000 to 20000 m."""
    return checked(name, values, *_ALTITUDES_M, hint_above="is it in feet?")


def checked_pressure(values: ArrayLike, name: str = "pressure_pa [Pa]") -> FloatArray:
    """Return static pressures as an array; refuse any outside of 5474.9 to 127774 Pa."""
    low, high = _PRESSURES_PA
    return checked(name, values, low, high, "is it in hPa or inHg?", "")


def checked_temperature(values: ArrayLike, name: str = "temperature_k [K]") -> FloatArray:
    """Return air temperatures as an array; refuse any outside of 200 to 340 K."""
    return checked(
        name, values, 200.0, 340.0, "is it in degrees Celsius?", "is it in degrees Rankine?"
    )


def standard_temperature_k(pressure_altitude_m: ArrayLike) -> FloatOrArray:
    """Temperature of the standard atmosphere.

    Parameters
    ----------
    pressure_altitude_m : array_like, any shape
        Pressure altitude, geopotential [m], -2000 to 20000.

    Returns
    -------
    float or ndarray
        Temperature [K], in the shape of the argument.

    Raises
    ------
    InputError
        An altitude is out of range.

    Notes
    -----
    U.S. Standard Atmosphere 1976, eq. 23: T = 288.15 - 0.0065 H to 11000 m, then
    216.65 K to 20000 m.

    Examples
    --------
    >>> standard_temperature_k([0.0, 2000.0, 15000.0])
    array([288.15, 275.15, 216.65])
    """
    return as_result(_temperature(checked_altitude(pressure_altitude_m)))


def standard_pressure_pa(pressure_altitude_m: ArrayLike) -> FloatOrArray:
    """Pressure of the standard atmosphere.

    Parameters
    ----------
    pressure_altitude_m : array_like, any shape
        Pressure altitude, geopotential [m], -2000 to 20000.

    Returns
    -------
    float or ndarray
        Pressure [Pa], in the shape of the argument.

    Raises
    ------
    InputError
        An altitude is out of range.

    Notes
    -----
    U.S. Standard Atmosphere 1976, eq. 33a: p = 101325 (T/288.15)^5.25588 to 11000 m,
    then eq. 33b: p = 22632.04 exp(-(H - 11000)/6341.62).

    Examples
    --------
    >>> standard_pressure_pa(11_000.0)
    22632.04
    """
    altitude_m = checked_altitude(pressure_altitude_m)
    return as_result(SEA_LEVEL_PRESSURE_PA * _ratio_at(altitude_m, _EXPONENT))


def standard_density_kg_m3(pressure_altitude_m: ArrayLike) -> FloatOrArray:
    """Density of the standard atmosphere.

    Parameters
    ----------
    pressure_altitude_m : array_like, any shape
        Pressure altitude, geopotential [m], -2000 to 20000.

    Returns
    -------
    float or ndarray
        Density of dry air [kg/m^3], in the shape of the argument.

    Raises
    ------
    InputError
        An altitude is out of range.

    Notes
    -----
    U.S. Standard Atmosphere 1976, eq. 42: rho = p/(R T), of the standard pressure and temperature.

    Examples
    --------
    >>> standard_density_kg_m3(11_000.0)
    0.363918
    """
    altitude_m = checked_altitude(pressure_altitude_m)
    return as_result(_SEA_LEVEL_GAS_DENSITY * _ratio_at(altitude_m, _EXPONENT - 1.0))


def pressure_altitude_m(pressure_pa: ArrayLike) -> FloatOrArray:
    """Altitude at which the standard atmosphere has a given pressure.

    Parameters
    ----------
    pressure_pa : array_like, any shape
        Static pressure [Pa], 5474.9 to 127774.

    Returns
    -------
    float or ndarray
        Pressure altitude, geopotential [m], in the shape of the argument.

    Raises
    ------
    InputError
        A pressure is out of range.

    Notes
    -----
    Inverse of `standard_pressure_pa`: U.S. Standard Atmosphere 1976, eq. 33a and 33b, solved for H.

    Examples
    --------
    >>> pressure_altitude_m(90_000.0)
    988.50
    """
    ratio = checked_pressure(pressure_pa) / SEA_LEVEL_PRESSURE_PA
    seam = TROPOPAUSE_PRESSURE_PA / SEA_LEVEL_PRESSURE_PA
    return as_result(_altitude_of(ratio, _EXPONENT, seam))


def density_altitude_m(density_kg_m3: ArrayLike) -> FloatOrArray:
    """Altitude at which the standard atmosphere has a given density.

    Parameters
    ----------
    density_kg_m3 : array_like, any shape
        Density of the air, its humidity included [kg/m^3], 0.08803 to 1.93047.

    Returns
    -------
    float or ndarray
        Density altitude, geopotential [m], in the shape of the argument. Very cold days reach
        below -2000 m, so it is given down to -5000 m, where the published tables begin.

    Raises
    ------
    InputError
        A density is out of range.

    Notes
    -----
    Inverse of `standard_density_kg_m3`: H = 44330.8 [1 - (rho/1.225)^0.234969] m below 11000 m.

    Examples
    --------
    >>> density_altitude_m(1.0)
    2064.30
    """
    low, high = _DENSITIES_KG_M3
    hint = "is it in slug/ft^3?"
    density = checked("density_kg_m3 [kg/m^3]", density_kg_m3, low, high, hint, "")
    seam = _TROPOPAUSE_GAS_DENSITY / _SEA_LEVEL_GAS_DENSITY
    return as_result(_altitude_of(density / _SEA_LEVEL_GAS_DENSITY, _EXPONENT - 1.0, seam))


def density_kg_m3(
    pressure_pa: ArrayLike, temperature_k: ArrayLike, vapour_pressure_pa: ArrayLike = 0.0
) -> FloatOrArray:
    """Density of dry or moist air.

    Parameters
    ----------
    pressure_pa : array_like, any shape
        Static pressure at the place itself [Pa], 5474.9 to 127774: never an altimeter setting.
    temperature_k : array_like, broadcasts
        Air temperature [K], 200 to 340.
    vapour_pressure_pa : array_like, broadcasts, default 0 (dry air)
        Partial pressure of water vapour [Pa], 0 to 20000 and at most a fifth of the pressure.

    Returns
    -------
    float or ndarray
        Density [kg/m^3], in the broadcast shape.

    Raises
    ------
    InputError
        A value is out of range.

    Notes
    -----
    Ideal gases side by side: rho = [p - (1 - 0.62198) e]/(R T), the virtual temperature of the
    Smithsonian Meteorological Tables written out. The departure of air from an ideal gas, 0.04 % at
    sea level, is left out, as in the standard atmosphere.

    Examples
    --------
    Humidity at 30 degC and a dew point of 26.2 degC costs 1.3 % of density:

    >>> density_kg_m3(101_325.0, 303.15)
    1.1644
    >>> density_kg_m3(101_325.0, 303.15, vapour_pressure_pa(299.35))
    1.1497
    """
    pressure = checked_pressure(pressure_pa)
    temperature = checked_temperature(temperature_k)
    vapour = checked("vapour_pressure_pa [Pa]", vapour_pressure_pa, 0.0, 20_000.0)
    checked("vapour_pressure_pa / pressure_pa [-]", vapour / pressure, 0.0, 0.2)
    dry_pressure = pressure - (1.0 - WATER_TO_DRY_AIR) * vapour
    return as_result(dry_pressure / (GAS_CONSTANT_J_KG_K * temperature))


def vapour_pressure_pa(dew_point_k: ArrayLike) -> FloatOrArray:
    """Partial pressure of water vapour from the dew point.

    At the air's own temperature it is the saturation pressure, to which relative humidity refers.

    Parameters
    ----------
    dew_point_k : array_like, any shape
        Dew point over water [K], 200 to 330.

    Returns
    -------
    float or ndarray
        Vapour pressure [Pa], in the shape of the argument.

    Raises
    ------
    InputError
        A dew point is out of range.

    Notes
    -----
    WMO-No. 8, annex 4.B: e = 6.112 exp[17.62 t/(243.12 + t)] hPa, t in degC, published for -45 to
    60 degC and within 0.3 % of the Smithsonian tables from 0 to 30 degC. Below -45 degC the whole
    vapour pressure is under 12 Pa, too little to matter to a density. The enhancement of moist air
    over pure vapour (0.4 %) is left out.

    Examples
    --------
    >>> vapour_pressure_pa(293.15)
    2332.6
    """
    hint = "is it in degrees Celsius?"
    dew_point = checked("dew_point_k [K]", dew_point_k, 200.0, 330.0, hint, "")
    celsius = dew_point - 273.15
    return as_result(611.2 * np.exp(17.62 * celsius / (243.12 + celsius)))


def speed_of_sound_ms(temperature_k: ArrayLike) -> FloatOrArray:
    """Speed of sound in dry air.

    Parameters
    ----------
    temperature_k : array_like, any shape
        Air temperature [K], 200 to 340.

    Returns
    -------
    float or ndarray
        Speed of sound [m/s], in the shape of the argument.

    Raises
    ------
    InputError
        A temperature is out of range.

    Notes
    -----
    U.S. Standard Atmosphere 1976, eq. 50: a = sqrt(1.4 R T). Humidity, left out, adds
    about 0.4 % in saturated air at 20 degC.

    Examples
    --------
    >>> speed_of_sound_ms(288.15)
    340.294
    """
    temperature = checked_temperature(temperature_k)
    return as_result(np.sqrt(HEAT_CAPACITY_RATIO * GAS_CONSTANT_J_KG_K * temperature))


def pressure_altitude_at_field_m(
    elevation_m: ArrayLike, altimeter_setting_pa: ArrayLike
) -> FloatOrArray:
    """Pressure altitude from a field's elevation, or an altimeter's reading, and its setting.

    Parameters
    ----------
    elevation_m : array_like, any shape
        Elevation, or altitude indicated with that setting [m], -2000 to 20000.
    altimeter_setting_pa : array_like, broadcasts
        Altimeter setting (QNH) [Pa], 85000 to 110000; not the pressure measured at the field.

    Returns
    -------
    float or ndarray
        Pressure altitude [m], in the broadcast shape.

    Raises
    ------
    InputError
        A value is out of range.

    Notes
    -----
    An altimeter adds altitudes of the standard atmosphere, so the step from setting to standard
    does not depend on elevation: H = elevation + 145442 [1 - (setting/29.92126)^0.190263] ft
    (altimeter construction after ICAO Doc 7488/3; figures in FAA-CT-8080-2, figure 8). The
    meteorological reduction of station pressure differs from it by 7 to 9 ft.

    Examples
    --------
    >>> pressure_altitude_at_field_m(1086.0, 101_456.0)
    1075.1
    """
    elevation = checked_altitude(elevation_m, "elevation_m [m]")
    setting = checked(
        "altimeter_setting_pa [Pa]",
        altimeter_setting_pa,
        85_000.0,
        110_000.0,
        "is it in hPa or inHg?",
        "",
    )
    return as_result(elevation + np.asarray(pressure_altitude_m(setting)))


def geopotential_m(geometric_m: ArrayLike) -> FloatOrArray:
    """Geopotential altitude from geometric altitude.

    Parameters
    ----------
    geometric_m : array_like, any shape
        Geometric altitude above mean sea level [m], -1999.4 to 20063.1.

    Returns
    -------
    float or ndarray
        Geopotential altitude [m], in the shape of the argument.

    Raises
    ------
    InputError
        An altitude is out of range.

    Notes
    -----
    U.S. Standard Atmosphere 1976, eq. 18: H = r z/(r + z), r = 6356766 m.

    Examples
    --------
    >>> geopotential_m(4000.0)
    3997.48
    """
    low, high = (EARTH_RADIUS_M * end / (EARTH_RADIUS_M - end) for end in _ALTITUDES_M)
    geometric = checked("geometric_m [m]", geometric_m, low, high, hint_above="is it in feet?")
    return as_result(EARTH_RADIUS_M * geometric / (EARTH_RADIUS_M + geometric))


def geometric_m(geopotential_m: ArrayLike) -> FloatOrArray:
    """Geometric altitude from geopotential altitude.

    Parameters
    ----------
    geopotential_m : array_like, any shape
        Geopotential altitude [m], -2000 to 20000.

    Returns
    -------
    float or ndarray
        Geometric altitude above mean sea level [m], in the shape of the argument.

    Raises
    ------
    InputError
        An altitude is out of range.

    Notes
    -----
    Inverse of `geopotential_m`: z = r H/(r - H), r = 6356766 m.

    Examples
    --------
    >>> geometric_m(11_000.0)
    11019.07
    """
    geopotential = checked_altitude(geopotential_m, "geopotential_m [m]")
    return as_result(EARTH_RADIUS_M * geopotential / (EARTH_RADIUS_M - geopotential))
