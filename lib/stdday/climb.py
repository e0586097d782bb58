"""Corrections of a climb: geometric rate, changing airspeed, wind gradient, weight and power."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from stdday import _ranges
from stdday._arrays import FloatArray, FloatOrArray, as_result, checked
from stdday.airspeed import impact_pressure_pa, mach_from_impact
from stdday.atmosphere import (
    GAS_CONSTANT_J_KG_K,
    GRAVITY_MS2,
    HEAT_CAPACITY_RATIO,
    LAPSE_K_M,
    SEA_LEVEL_SPEED_OF_SOUND_MS,
    checked_temperature,
    standard_pressure_pa,
    standard_temperature_k,
)

__all__ = [
    "acceleration_factor",
    "climb_index_ms",
    "energy_rate_ms",
    "equivalent_acceleration_factor",
    "induced_drag_change_ms",
    "induced_drag_n",
    "power_change_ms",
    "tapeline_rate_ms",
    "weight_inertia_change_ms",
    "wind_gradient_rate_ms",
]


def tapeline_rate_ms(
    pressure_altitude_rate_ms: ArrayLike, temperature_k: ArrayLike, pressure_altitude_m: ArrayLike
) -> FloatOrArray:
    """Geometric rate of climb from the rate of change of pressure altitude.

    Parameters
    ----------
    pressure_altitude_rate_ms : array_like, any shape
        Rate of change of pressure altitude [m/s], -100 to 100.
    temperature_k : array_like, broadcasts
        Ambient air temperature T [K], 200 to 340.
    pressure_altitude_m : array_like, broadcasts
        Pressure altitude [m], -2000 to 20000; it gives the standard temperature Ts.

    Returns
    -------
    float or ndarray
        Geometric rate of climb [m/s], greater than the indicated one on a warm day.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    ``dh/dt = (dHp/dt) T/Ts``: USNTPS-FTM-108, Fixed Wing Performance (1992), climb; AC 23-8C,
    appendix 2 (from memory).

    Examples
    --------
    600 ft/min at 4000 ft, 15 K warmer than the standard day, is 632 ft/min:

    >>> round(tapeline_rate_ms(3.048, 295.2252, 1219.2) / 0.00508, 1)
    632.1
    """
    rate = _ranges.height_rate(pressure_altitude_rate_ms, "pressure_altitude_rate_ms")
    standard = standard_temperature_k(pressure_altitude_m)
    return as_result(rate * checked_temperature(temperature_k) / standard)


def acceleration_factor(
    calibrated_ms: ArrayLike, pressure_altitude_m: ArrayLike, temperature_k: ArrayLike | None = None
) -> FloatOrArray:
    """Steady over observed rate of climb at constant calibrated airspeed, 1 + (V/g) dV/dh.

    Parameters
    ----------
    calibrated_ms : array_like, any shape
        Calibrated airspeed that is held [m/s], 1 to 300.
    pressure_altitude_m : array_like, broadcasts
        Pressure altitude [m], -2000 to 11000, below the tropopause.
    temperature_k : array_like, broadcasts, optional
        Ambient temperature [K], 200 to 340; left out, that of the standard day. The lapse is that
        of a day as much warmer than standard at every pressure altitude.

    Returns
    -------
    float or ndarray
        Factor [-]; multiply a geometric rate of climb by it.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    With M the Mach number and X the impact over the static pressure:
    ``1 + X (1 + 0.2 M^2)^-2.5 - 0.7 M^2 (R L/g) Ts/T``. Own derivation from the standard lapse
    L and the subsonic airspeed formula; form of USNTPS-FTM-108, climb (from memory).

    Examples
    --------
    80 kt at 5000 ft:

    >>> round(acceleration_factor(41.156, 1524.0), 5)
    1.0099
    """
    calibrated = _ranges.moving_airspeed(calibrated_ms, "calibrated_ms")
    altitude = _below_tropopause(pressure_altitude_m)
    pressure = standard_pressure_pa(altitude)
    impact = impact_pressure_pa(calibrated)
    mach_squared = np.square(mach_from_impact(impact, pressure))
    thinning = impact / pressure * (1.0 + 0.2 * mach_squared) ** -2.5
    cooling = 0.7 * mach_squared * _lapse_share(altitude, temperature_k)
    return as_result(1.0 + thinning - cooling)


def equivalent_acceleration_factor(
    equivalent_ms: ArrayLike,
    pressure_altitude_m: ArrayLike,
    temperature_k: ArrayLike | None = None,
) -> FloatOrArray:
    """Steady over observed rate of climb at constant equivalent airspeed, 1 + (V/g) dV/dh.

    The textbook form of `acceleration_factor`, which an airspeed indicator follows only at low Mach
    number: the two differ by 6e-5 at 80 kt and 5000 ft, by 1.3e-3 at 160 kt and 8000 ft.

    Parameters
    ----------
    equivalent_ms : array_like, any shape
        Equivalent airspeed that is held [m/s], 1 to 300.
    pressure_altitude_m : array_like, broadcasts
        Pressure altitude [m], -2000 to 11000, below the tropopause.
    temperature_k : array_like, broadcasts, optional
        As in `acceleration_factor` [K].

    Returns
    -------
    float or ndarray
        Factor [-]; multiply a geometric rate of climb by it.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    ``1 + 0.7 M^2 (1 - (R L/g) Ts/T)``: USNTPS-FTM-108, climb (from memory).

    Examples
    --------
    80 kt at 5000 ft:

    >>> round(equivalent_acceleration_factor(41.156, 1524.0), 5)
    1.00996
    """
    equivalent = _ranges.moving_airspeed(equivalent_ms, "equivalent_ms")
    altitude = _below_tropopause(pressure_altitude_m)
    # 0.7 M^2 is dynamic over static pressure: rho0 Ve^2 / (2 p).
    delta = np.asarray(standard_pressure_pa(altitude)) / np.asarray(standard_pressure_pa(0.0))
    ratio = HEAT_CAPACITY_RATIO / 2.0 * (equivalent / SEA_LEVEL_SPEED_OF_SOUND_MS) ** 2 / delta
    return as_result(1.0 + ratio * (1.0 - _lapse_share(altitude, temperature_k)))


def energy_rate_ms(
    height_rate_ms: ArrayLike, true_ms: ArrayLike, true_rate_ms2: ArrayLike
) -> FloatOrArray:
    """Specific excess power, ``dh/dt + (V/g) dV/dt``: the rate of climb at constant true airspeed.

    Parameters
    ----------
    height_rate_ms : array_like, any shape
        Geometric rate of climb dh/dt [m/s], -100 to 100.
    true_ms : array_like, broadcasts
        True airspeed V [m/s], 0 to 300.
    true_rate_ms2 : array_like, broadcasts
        Rate of change of true airspeed dV/dt [m/s^2], -30 to 30.

    Returns
    -------
    float or ndarray
        Specific excess power [m/s].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    USNTPS-FTM-108, excess power (from memory).

    Examples
    --------
    Level at 100 kt, gaining a knot each second, is 531 ft/min:

    >>> round(energy_rate_ms(0.0, 51.444, 0.51444) / 0.00508)
    531
    """
    gaining = _ranges.true_airspeed(true_ms) * _ranges.acceleration(true_rate_ms2) / GRAVITY_MS2
    return as_result(_ranges.height_rate(height_rate_ms) + gaining)


def wind_gradient_rate_ms(true_ms: ArrayLike, headwind_rate_ms2: ArrayLike) -> FloatOrArray:
    """Rate of climb gained from a changing headwind, ``(V/g) dW/dt``; to be subtracted.

    Parameters
    ----------
    true_ms : array_like, any shape
        True airspeed V [m/s], 0 to 300.
    headwind_rate_ms2 : array_like, broadcasts
        Rate of change of the headwind along the climb dW/dt [m/s^2], -30 to 30; positive where a
        climb goes into a rising headwind, which reads high.

    Returns
    -------
    float or ndarray
        Rate [m/s]; the climb in still air is the specific excess power less this.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    USAF AFTR 6273; USNTPS-FTM-108 (from memory), for small climb angles.

    Examples
    --------
    90 kt, 3 m/s of climb, headwind rising by 5 kt in 1000 ft:

    >>> round(wind_gradient_rate_ms(46.3, 3.0 * 2.572 / 304.8), 3)
    0.12
    """
    rate = _ranges.acceleration(headwind_rate_ms2, "headwind_rate_ms2")
    return as_result(_ranges.true_airspeed(true_ms) * rate / GRAVITY_MS2)


def weight_inertia_change_ms(
    rate_ms: ArrayLike, weight_n: ArrayLike, reference_weight_n: ArrayLike
) -> FloatOrArray:
    """Change of rate of climb with weight at constant excess power, ``RC (W/Ws - 1)``.

    Parameters
    ----------
    rate_ms : array_like, any shape
        Rate of climb RC as flown [m/s], -100 to 100.
    weight_n, reference_weight_n : array_like, broadcast
        Weight W as flown and reference weight Ws [N], 200 to 1e6.

    Returns
    -------
    float or ndarray
        Change to add [m/s].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    AC 23-8C, appendix 2, drag polar method (from memory).

    Examples
    --------
    >>> round(weight_inertia_change_ms(4.0, 5500.0, 6000.0), 3)
    -0.333
    """
    rate = _ranges.height_rate(rate_ms, "rate_ms")
    reference = _ranges.weight(reference_weight_n, "reference_weight_n")
    return as_result(rate * (_ranges.weight(weight_n) / reference - 1.0))


def induced_drag_n(
    weight_n: ArrayLike,
    density_kg_m3: ArrayLike,
    true_ms: ArrayLike,
    wing_span_m: ArrayLike,
    span_efficiency: ArrayLike,
) -> FloatOrArray:
    """Induced drag, ``2 W^2/(rho V^2 pi b^2 e)``.

    Parameters
    ----------
    weight_n : array_like, any shape
        Lift W, in level flight the weight [N], 200 to 1e6.
    density_kg_m3 : array_like, broadcasts
        Air density rho [kg/m^3], 0.2 to 1.6.
    true_ms : array_like, broadcasts
        True airspeed V [m/s], 1 to 300.
    wing_span_m : array_like, broadcasts
        Wing span b [m], 1 to 100.
    span_efficiency : array_like, broadcasts
        Span efficiency factor e [-], 0.2 to 1.5.

    Returns
    -------
    float or ndarray
        Drag [N].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Parabolic polar, in every textbook.

    Examples
    --------
    >>> round(induced_drag_n(5884.0, 1.1, 32.0, 9.0, 0.8), 1)
    302.0
    """
    pressure = 0.5 * _ranges.air_density(density_kg_m3) * _ranges.moving_airspeed(true_ms) ** 2
    span = _ranges.wing_span(wing_span_m)
    e = _ranges.span_efficiency(span_efficiency)
    return as_result(_ranges.weight(weight_n) ** 2 / (pressure * np.pi * span**2 * e))


def induced_drag_change_ms(
    weight_n: ArrayLike,
    reference_weight_n: ArrayLike,
    density_kg_m3: ArrayLike,
    true_ms: ArrayLike,
    wing_span_m: ArrayLike,
    span_efficiency: ArrayLike,
) -> FloatOrArray:
    """Change of rate of climb with weight through induced drag, at one true airspeed.

    Parameters
    ----------
    weight_n, reference_weight_n : array_like, any shape
        Weight W as flown and reference weight Ws [N], 200 to 1e6.
    density_kg_m3 : array_like, broadcasts
        Air density [kg/m^3], 0.2 to 1.6.
    true_ms : array_like, broadcasts
        True airspeed V [m/s], 1 to 300.
    wing_span_m : array_like, broadcasts
        Wing span [m], 1 to 100.
    span_efficiency : array_like, broadcasts
        Span efficiency factor [-], 0.2 to 1.5.

    Returns
    -------
    float or ndarray
        Change to add [m/s], ``-(Di(Ws) - Di(W)) V/Ws``, negative where the reference is heavier.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    AC 23-8C, appendix 2, drag polar method (from memory). At one lift coefficient instead, use
    `climb_index_ms` with `stdday.level.airspeed_index_ms`.

    Examples
    --------
    >>> round(induced_drag_change_ms(5500.0, 6000.0, 1.1, 32.0, 9.0, 0.8), 3)
    -0.267
    """
    reference = _ranges.weight(reference_weight_n, "reference_weight_n")
    conditions = (density_kg_m3, true_ms, wing_span_m, span_efficiency)
    change = induced_drag_n(reference, *conditions) - np.asarray(
        induced_drag_n(weight_n, *conditions)
    )
    return as_result(-change * np.asarray(true_ms) / reference)


def power_change_ms(delta_thrust_power_w: ArrayLike, weight_n: ArrayLike) -> FloatOrArray:
    """Change of rate of climb with thrust power, ``dP/W``.

    Parameters
    ----------
    delta_thrust_power_w : array_like, any shape
        Change of thrust power, efficiency times that of brake power [W], -5e6 to 5e6.
    weight_n : array_like, broadcasts
        Weight W [N], 200 to 1e6.

    Returns
    -------
    float or ndarray
        Change to add [m/s]; with all of the excess power, the rate of climb itself.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    In every textbook as 33 000 ft lbf/min times horsepower over weight; lift is taken as weight.

    Examples
    --------
    >>> round(power_change_ms(3728.5, 10675.7), 4)
    0.3493
    """
    power = _ranges.power(delta_thrust_power_w, "delta_thrust_power_w", low=-5e6)
    return as_result(power / _ranges.weight(weight_n))


def climb_index_ms(
    rate_ms: ArrayLike,
    density_ratio: ArrayLike,
    weight_kg: ArrayLike,
    reference_weight_kg: ArrayLike,
) -> FloatOrArray:
    """Rate of climb at the reference weight and sea-level density, at one lift coefficient.

    ``RC sqrt(sigma) (Ws/W)^0.5``; valid only together with the reduced power of
    `stdday.level.power_index_w`, at the airspeed of `stdday.level.airspeed_index_ms`.

    Parameters
    ----------
    rate_ms : array_like, any shape
        Geometric rate of climb RC [m/s], -100 to 100.
    density_ratio : array_like, broadcasts
        Air density over 1.225 kg/m^3, sigma [-], 0.15 to 1.4.
    weight_kg, reference_weight_kg : array_like, broadcast
        Weight W as flown and reference weight Ws [kg], 20 to 1e5.

    Returns
    -------
    float or ndarray
        Reduced rate of climb [m/s].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Kimberlin, Flight Testing of Fixed-Wing Aircraft (AIAA 2003); USAF AFTR 6273 (from memory).

    Examples
    --------
    >>> round(climb_index_ms(4.0, 0.86, 560.0, 600.0), 3)
    3.84
    """
    rate = _ranges.height_rate(rate_ms, "rate_ms")
    sigma = _ranges.density_ratio(density_ratio)
    reference = _ranges.mass(reference_weight_kg, "reference_weight_kg")
    return as_result(rate * np.sqrt(sigma * reference / _ranges.mass(weight_kg)))


def _below_tropopause(pressure_altitude_m: ArrayLike) -> FloatArray:
    hint = "is it in feet? the lapse holds below the tropopause"
    return checked("pressure_altitude_m [m]", pressure_altitude_m, -2000.0, 11000.0, hint)


def _lapse_share(altitude_m: FloatArray, temperature_k: ArrayLike | None) -> FloatArray:
    """Lapse rate of temperature with geometric height, R L/g times Ts/T [-]."""
    share = np.asarray(-GAS_CONSTANT_J_KG_K * LAPSE_K_M / GRAVITY_MS2)
    if temperature_k is None:
        return share
    standard = standard_temperature_k(altitude_m)
    return np.asarray(share * standard / checked_temperature(temperature_k))
