"""Airspeed conversions, static-source error and outside air temperature.

Indicated airspeed, freed of instrument and position error, is calibrated airspeed; calibrated
airspeed and static pressure give the Mach number; with the temperature of the air itself, never the
standard one at that altitude, they give true airspeed. All formulas are for subsonic flow; the
equation numbers of NACA Report 1135 are quoted from memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from stdday._arrays import FloatArray, FloatOrArray, as_result, checked
from stdday.atmosphere import (
    GAS_CONSTANT_J_KG_K,
    GRAVITY_MS2,
    HEAT_CAPACITY_RATIO,
    SEA_LEVEL_DENSITY_KG_M3,
    SEA_LEVEL_PRESSURE_PA,
    SEA_LEVEL_SPEED_OF_SOUND_MS,
    checked_altitude,
    checked_pressure,
    checked_temperature,
    speed_of_sound_ms,
    standard_density_kg_m3,
    standard_pressure_pa,
)

__all__ = [
    "calibrated_airspeed_ms",
    "calibrated_from_static_error_ms",
    "equivalent_airspeed_ms",
    "impact_pressure_pa",
    "mach_from_impact",
    "static_error_in_airspeed_ms",
    "static_error_in_height_m",
    "static_temperature_at_k",
    "static_temperature_k",
    "true_airspeed_ms",
]

_SPEED_HINT = "is it in km/h or kt?"
_SLACK = 1.0 + 1e-12
_CALIBRATED_LIMIT_MS = SEA_LEVEL_SPEED_OF_SOUND_MS * _SLACK
_SPECIFIC_HEAT_J_KG_K = GAS_CONSTANT_J_KG_K * HEAT_CAPACITY_RATIO / (HEAT_CAPACITY_RATIO - 1.0)


def _impact_ratio(mach: FloatArray) -> FloatArray:
    # qc/p = (1 + 0.2 M^2)^3.5 - 1, written so that low speeds keep all their digits.
    ratio: FloatArray = np.expm1(3.5 * np.log1p(0.2 * mach**2))
    return ratio


def _mach(impact_ratio: FloatArray) -> FloatArray:
    # M^2 = 5 [(qc/p + 1)^(2/7) - 1]
    mach: FloatArray = np.sqrt(5.0 * np.expm1(np.log1p(impact_ratio) * (2.0 / 7.0)))
    return checked("Mach number [-]", mach, 0.0, _SLACK)


def _checked_calibrated(
    values: ArrayLike, low: float = 0.0, name: str = "calibrated_ms [m/s]"
) -> FloatArray:
    return checked(name, values, low, _CALIBRATED_LIMIT_MS, "", _SPEED_HINT)


def _calibrated_impact(calibrated_ms: FloatArray) -> FloatArray:
    return SEA_LEVEL_PRESSURE_PA * _impact_ratio(calibrated_ms / SEA_LEVEL_SPEED_OF_SOUND_MS)


def impact_pressure_pa(calibrated_ms: ArrayLike) -> FloatOrArray:
    """Impact pressure that an airspeed indicator is calibrated to.

    Parameters
    ----------
    calibrated_ms : array_like, any shape
        Calibrated airspeed [m/s], 0 to 340.294.

    Returns
    -------
    float or ndarray
        Impact pressure, total minus static [Pa], in the shape of the argument.

    Raises
    ------
    InputError
        An airspeed is out of range.

    Notes
    -----
    qc = p0 {[1 + 0.2 (Vc/a0)^2]^3.5 - 1}: isentropic flow, NACA Report 1135 (1953), eq. 44, at the
    standard sea-level pressure and speed of sound.

    Examples
    --------
    >>> impact_pressure_pa(50.0)
    1539.6
    """
    return as_result(_calibrated_impact(_checked_calibrated(calibrated_ms)))


def mach_from_impact(impact_pa: ArrayLike, pressure_pa: ArrayLike) -> FloatOrArray:
    """Mach number from impact pressure and static pressure.

    Parameters
    ----------
    impact_pa : array_like, any shape
        Impact pressure, total minus static [Pa], from 0.
    pressure_pa : array_like, broadcasts
        Static pressure [Pa], 5474.9 to 127774.

    Returns
    -------
    float or ndarray
        Mach number [-], in the broadcast shape.

    Raises
    ------
    InputError
        A value is out of range, or the Mach number is above 1.

    Notes
    -----
    M^2 = 5 [(qc/p + 1)^(2/7) - 1]: NACA Report 1135 (1953), eq. 44, solved for M.

    Examples
    --------
    >>> mach_from_impact(15_900.0, 26_500.0)
    0.848
    """
    impact = checked("impact_pa [Pa]", impact_pa, 0.0, np.inf)
    return as_result(_mach(impact / checked_pressure(pressure_pa)))


def true_airspeed_ms(
    calibrated_ms: ArrayLike, pressure_pa: ArrayLike, temperature_k: ArrayLike
) -> FloatOrArray:
    """Get true airspeed from calibrated airspeed.

    Parameters
    ----------
    calibrated_ms : array_like, any shape
        Calibrated airspeed [m/s], 0 to 340.294.
    pressure_pa : array_like, broadcasts
        Static pressure [Pa], 5474.9 to 127774.
    temperature_k : array_like, broadcasts
        Static temperature of the air flown through [K], 200 to 340.

    Returns
    -------
    float or ndarray
        True airspeed [m/s], in the broadcast shape.

    Raises
    ------
    InputError
        A value is out of range, or the Mach number is above 1.

    Notes
    -----
    V = M a, with M from `mach_from_impact` and a = sqrt(1.4 R T). The temperature enters through
    the speed of sound alone, the pressure through the Mach number alone.

    Examples
    --------
    60 m/s at a pressure altitude of 1219 m (4000 ft) on a standard day:

    >>> true_airspeed_ms(60.0, 87_510.0, 280.23)
    63.630
    """
    impact = _calibrated_impact(_checked_calibrated(calibrated_ms))
    mach = _mach(impact / checked_pressure(pressure_pa))
    return as_result(mach * speed_of_sound_ms(temperature_k))


def calibrated_airspeed_ms(
    true_ms: ArrayLike, pressure_pa: ArrayLike, temperature_k: ArrayLike
) -> FloatOrArray:
    """Calibrated airspeed from true airspeed.

    Parameters
    ----------
    true_ms : array_like, any shape
        True airspeed [m/s], from 0 to the speed of sound.
    pressure_pa : array_like, broadcasts
        Static pressure [Pa], 5474.9 to 127774.
    temperature_k : array_like, broadcasts
        Static temperature of the air flown through [K], 200 to 340.

    Returns
    -------
    float or ndarray
        Calibrated airspeed [m/s], in the broadcast shape.

    Raises
    ------
    InputError
        A value is out of range, or a Mach number (of the flight, or of the calibrated airspeed at
        sea level) is above 1.

    Notes
    -----
    Inverse of `true_airspeed_ms`: qc = p [(1 + 0.2 M^2)^3.5 - 1], then
    Vc = a0 {5 [(qc/p0 + 1)^(2/7) - 1]}^0.5.

    Examples
    --------
    >>> calibrated_airspeed_ms(63.630, 87_510.0, 280.23)
    60.00
    """
    true = checked("true_ms [m/s]", true_ms, 0.0, np.inf)
    sound = speed_of_sound_ms(temperature_k)
    mach = checked("Mach number [-]", true / sound, 0.0, _SLACK, "", _SPEED_HINT)
    impact = checked_pressure(pressure_pa) * _impact_ratio(mach)
    return as_result(SEA_LEVEL_SPEED_OF_SOUND_MS * _mach(impact / SEA_LEVEL_PRESSURE_PA))


def equivalent_airspeed_ms(calibrated_ms: ArrayLike, pressure_pa: ArrayLike) -> FloatOrArray:
    """Equivalent airspeed from calibrated airspeed.

    It has the same dynamic pressure at the standard sea-level density. It differs from calibrated
    airspeed by compressibility only: 0.1 kt at 120 kt and 5000 ft, 0.6 kt at 170 kt and 10000 ft.

    Parameters
    ----------
    calibrated_ms : array_like, any shape
        Calibrated airspeed [m/s], 0 to 340.294.
    pressure_pa : array_like, broadcasts
        Static pressure [Pa], 5474.9 to 127774.

    Returns
    -------
    float or ndarray
        Equivalent airspeed [m/s], in the broadcast shape.

    Raises
    ------
    InputError
        A value is out of range, or the Mach number is above 1.

    Notes
    -----
    Ve = M a0 sqrt(p/p0) = V sqrt(rho/rho0), from the definition of dynamic pressure.

    Examples
    --------
    >>> equivalent_airspeed_ms(60.0, 87_510.0)
    59.96
    """
    pressure = checked_pressure(pressure_pa)
    mach = _mach(_calibrated_impact(_checked_calibrated(calibrated_ms)) / pressure)
    root = np.sqrt(pressure / SEA_LEVEL_PRESSURE_PA)
    return as_result(SEA_LEVEL_SPEED_OF_SOUND_MS * mach * root)


def _height_per_airspeed(calibrated_ms: ArrayLike, pressure_altitude_m: ArrayLike) -> FloatArray:
    # dH/dVc [s]; below 10 m/s the linear relation would turn centimetres into knots.
    calibrated = _checked_calibrated(calibrated_ms, 10.0)
    density = np.asarray(standard_density_kg_m3(pressure_altitude_m))
    compressible = (1.0 + 0.2 * (calibrated / SEA_LEVEL_SPEED_OF_SOUND_MS) ** 2) ** 2.5
    slope: FloatArray = (
        calibrated / GRAVITY_MS2 * (SEA_LEVEL_DENSITY_KG_M3 / density) * compressible
    )
    return slope


def static_error_in_airspeed_ms(
    height_error_m: ArrayLike, calibrated_ms: ArrayLike, pressure_altitude_m: ArrayLike
) -> FloatOrArray:
    """Airspeed error that comes with a small altimeter error, both from the static source alone.

    Parameters
    ----------
    height_error_m : array_like, any shape
        Altimeter error, indicated minus true pressure altitude [m], -300 to 300.
    calibrated_ms : array_like, broadcasts
        Calibrated airspeed [m/s], 10 to 340.294.
    pressure_altitude_m : array_like, broadcasts
        Pressure altitude [m], -2000 to 20000.

    Returns
    -------
    float or ndarray
        Airspeed error, indicated minus calibrated [m/s], in the broadcast shape; it has the sign of
        the altimeter error: a static pressure sensed too low makes both read high.

    Raises
    ------
    InputError
        A value is out of range.

    Notes
    -----
    Linear in the error: dH/dV = (V/g)(1/sigma)[1 + 0.2 (V/a0)^2]^2.5, in ft and kt
    58.566 (V/a0)(1/sigma)[...]^2.5, the pitot-static theory of the test pilot schools (from
    memory). Sigma is that of the standard atmosphere, in which the altimeter is calibrated. What it
    leaves out is dV^2/(2 V) and more: 0.06 kt of 3.4 kt at 100 kt, but 1.7 kt of 13 kt at 48 kt;
    `calibrated_from_static_error_ms` is exact.

    Examples
    --------
    30 ft at 100 kt and sea level are 3.35 kt:

    >>> static_error_in_airspeed_ms(9.144, 51.444, 0.0) * 3600 / 1852
    3.35
    """
    error = checked("height_error_m [m]", height_error_m, -300.0, 300.0, "is it in feet?")
    return as_result(error / _height_per_airspeed(calibrated_ms, pressure_altitude_m))


def static_error_in_height_m(
    airspeed_error_ms: ArrayLike, calibrated_ms: ArrayLike, pressure_altitude_m: ArrayLike
) -> FloatOrArray:
    """Altimeter error that comes with a small airspeed error, both from the static source alone.

    Parameters
    ----------
    airspeed_error_ms : array_like, any shape
        Airspeed error, indicated minus calibrated [m/s], -50 to 50.
    calibrated_ms : array_like, broadcasts
        Calibrated airspeed [m/s], 10 to 340.294.
    pressure_altitude_m : array_like, broadcasts
        Pressure altitude [m], -2000 to 20000.

    Returns
    -------
    float or ndarray
        Altimeter error, indicated minus true pressure altitude [m], in the broadcast shape.

    Raises
    ------
    InputError
        A value is out of range.

    Notes
    -----
    Inverse of `static_error_in_airspeed_ms`, with its formula and limits. It assumes that the pitot
    pressure is right.

    Examples
    --------
    >>> static_error_in_height_m(1.0, 50.0, 1500.0)
    6.0
    """
    error = checked("airspeed_error_ms [m/s]", airspeed_error_ms, -50.0, 50.0, _SPEED_HINT)
    return as_result(error * _height_per_airspeed(calibrated_ms, pressure_altitude_m))


def calibrated_from_static_error_ms(
    indicated_ms: ArrayLike, height_error_m: ArrayLike, pressure_altitude_m: ArrayLike
) -> FloatOrArray:
    """Calibrated airspeed from an indicated one that a known static error has falsified.

    Parameters
    ----------
    indicated_ms : array_like, any shape
        Indicated airspeed, right but for the static pressure [m/s], 0 to 340.294.
    height_error_m : array_like, broadcasts
        Altimeter error, indicated minus true pressure altitude [m], -300 to 300.
    pressure_altitude_m : array_like, broadcasts
        True pressure altitude [m], -2000 to 20000.

    Returns
    -------
    float or ndarray
        Calibrated airspeed [m/s], in the broadcast shape.

    Raises
    ------
    InputError
        A value is out of range, or the airspeed is too low to come from that static error.

    Notes
    -----
    Exact: the static pressure sensed is the standard one at the indicated altitude, so the impact
    pressure sensed is too great by p(H) - p(H + error), which is taken from it.
    `static_error_in_airspeed_ms` is its slope.

    Examples
    --------
    47 ft of altimeter error under power at 25 m/s indicated:

    >>> calibrated_from_static_error_ms(25.0, 14.3, 0.0)
    18.58
    """
    indicated = _checked_calibrated(indicated_ms, name="indicated_ms [m/s]")
    error = checked("height_error_m [m]", height_error_m, -300.0, 300.0, "is it in feet?")
    true_altitude = checked_altitude(pressure_altitude_m)
    missing = np.asarray(standard_pressure_pa(true_altitude)) - np.asarray(
        standard_pressure_pa(true_altitude + error)
    )
    impact = checked(
        "impact pressure [Pa] left after the static error",
        _calibrated_impact(indicated) - missing,
        0.0,
        np.inf,
        "the airspeed is too low for so large a static error",
    )
    return as_result(SEA_LEVEL_SPEED_OF_SOUND_MS * _mach(impact / SEA_LEVEL_PRESSURE_PA))


def static_temperature_k(
    indicated_k: ArrayLike, true_ms: ArrayLike, recovery_factor: ArrayLike
) -> FloatOrArray:
    """Temperature of the air from what a probe in the airstream shows.

    Parameters
    ----------
    indicated_k : array_like, any shape
        Indicated outside air temperature, instrument error removed [K], 200 to 340.
    true_ms : array_like, broadcasts
        True airspeed [m/s], 0 to 340.294.
    recovery_factor : array_like, broadcasts
        Share of the temperature rise that the probe takes up [-], 0 to 1; it has to be measured,
        as the slope of indicated temperature against airspeed squared.

    Returns
    -------
    float or ndarray
        Static temperature [K], in the broadcast shape.

    Raises
    ------
    InputError
        A value is out of range.

    Notes
    -----
    T = T_ind - K V^2/(2 cp), cp = 3.5 R, the same as T_ind = T (1 + 0.2 K M^2): energy of adiabatic
    flow, NACA Report 1135 (1953), eq. 43 with a recovery factor. In kt and degC, K V^2/7592.

    Examples
    --------
    >>> static_temperature_k(290.0, 60.0, 0.75)
    288.66
    """
    indicated = checked_temperature(indicated_k, "indicated_k [K]")
    true = checked("true_ms [m/s]", true_ms, 0.0, _CALIBRATED_LIMIT_MS, "", _SPEED_HINT)
    recovery = checked("recovery_factor [-]", recovery_factor, 0.0, 1.0, "", "is it in percent?")
    return as_result(indicated - recovery * true**2 / (2.0 * _SPECIFIC_HEAT_J_KG_K))


def static_temperature_at_k(
    indicated_k: ArrayLike,
    calibrated_ms: ArrayLike,
    pressure_pa: ArrayLike,
    recovery_factor: ArrayLike,
) -> FloatOrArray:
    """Temperature of the air from what a probe shows, at a calibrated airspeed.

    Parameters
    ----------
    indicated_k : array_like, any shape
        Indicated outside air temperature, instrument error removed [K], 200 to 340.
    calibrated_ms : array_like, broadcasts
        Calibrated airspeed [m/s], 0 to 340.294.
    pressure_pa : array_like, broadcasts
        Static pressure [Pa], 2e4 to 1.2e5.
    recovery_factor : array_like, broadcasts
        Share of the temperature rise that the probe takes up [-], 0 to 1.

    Returns
    -------
    float or ndarray
        Static temperature [K], in the broadcast shape.

    Raises
    ------
    InputError
        A value is out of range, or the Mach number exceeds 1.

    Notes
    -----
    T = T_ind/(1 + 0.2 K M^2), as in `static_temperature_k`, with the Mach number from impact
    pressure and static pressure, which needs no temperature.

    Examples
    --------
    >>> static_temperature_at_k(290.0, 60.0, 90000.0, 0.75)
    288.487
    """
    indicated = checked_temperature(indicated_k, "indicated_k [K]")
    recovery = checked("recovery_factor [-]", recovery_factor, 0.0, 1.0, "", "is it in percent?")
    mach = np.asarray(mach_from_impact(impact_pressure_pa(calibrated_ms), pressure_pa))
    return as_result(indicated / (1.0 + 0.2 * recovery * mach**2))
