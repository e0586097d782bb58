"""The true performance of the demo airplane under any conditions.

`level_state`, `airspeed_for_power`, `climb_state` and `ground_run` take numpy arrays that broadcast
against each other; the simulator uses the same force functions with floats.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .air import (
    GRAVITY_MS2,
    LAPSE_K_M,
    calibrated_ms,
    density_kg_m3,
    positive,
    standard_pressure_pa,
    standard_temperature_k,
    true_ms,
)
from .airframe import CONFIGURATIONS, FUEL_KG_M3, Configuration
from .engine_propeller import Propeller, schedule_rps

Array = NDArray[np.float64]


class Level(NamedTuple):
    """Level flight; `throttle` is the share of full manifold pressure and may exceed 1.

    Power [W], crank speed [1/s], fuel flow [m^3/s], throttle [-], propeller thrust [N].
    """

    power_w: Array
    speed_rps: Array
    fuel_m3_s: Array
    throttle: Array
    thrust_n: Array


class Climb(NamedTuple):
    """Full-throttle climb.

    Geometric rate [m/s], true airspeed [m/s], height over distance through the air [-], power [W],
    crank speed [1/s], fuel flow [m^3/s] and manifold pressure [Pa].
    """

    rate_ms: Array
    tas_ms: Array
    gradient: Array
    power_w: Array
    speed_rps: Array
    fuel_m3_s: Array
    manifold_pa: Array


class GroundRun(NamedTuple):
    """Take-off roll.

    Distance [m], time [s], means over time of crank speed [1/s] and power [W], crank speed at
    rest [1/s], and true airspeed at lift-off [m/s].
    """

    distance_m: Array
    time_s: Array
    mean_speed_rps: Array
    mean_power_w: Array
    static_speed_rps: Array
    liftoff_tas_ms: Array


def _arrays(*values: ArrayLike) -> list[Array]:
    return [np.array(part) for part in np.broadcast_arrays(*[np.asarray(v, float) for v in values])]


def full_throttle(
    config: Configuration,
    tas_ms: ArrayLike,
    pressure_pa: ArrayLike,
    temperature_k: ArrayLike,
    vapour_pa: ArrayLike,
    *,
    throttle: ArrayLike = 1.0,
    power_factor: ArrayLike = 1.0,
    rich: ArrayLike = 0.0,
) -> tuple[Array, Array, Array, Array, Array]:
    """Thrust [N], power [W], crank speed [1/s], fuel flow [kg/s] and manifold pressure [Pa].

    A governed propeller holds its schedule where its low pitch stop allows.
    """
    tas, pressure, temperature, vapour, lever, factor, more = _arrays(
        tas_ms, pressure_pa, temperature_k, vapour_pa, throttle, power_factor, rich
    )
    density = density_kg_m3(pressure, temperature, vapour)
    engine, propeller = config.engine, config.propeller

    def ratio(speed: Array, setting: Array | float) -> Array:
        """Logarithm of engine power over what the propeller takes at a propeller speed [1/s]."""
        made = engine.state(speed * engine.gear, lever, pressure, temperature, vapour, tas, more)
        _, taken = propeller.thrust_power(tas, speed, setting, density, temperature)
        return np.log(np.maximum(made.power_w * factor, 1.0)) - np.log(np.maximum(taken, 1.0))

    speed = np.full(tas.shape, 36.0)
    for _ in range(40):
        step = ratio(speed, propeller.setting)
        speed = speed * np.exp(np.clip(step, -0.5, 0.5) / 2.6)
        if np.all(np.abs(step) < 1.0e-10):
            break
    setting = np.full(tas.shape, propeller.setting)
    if propeller.governed:
        wanted = schedule_rps(calibrated_ms(tas, pressure, temperature), config.schedule)
        wanted = wanted / engine.gear
        governed = speed > wanted
        low, high = np.full(tas.shape, propeller.setting), np.full(tas.shape, 0.90)
        for _ in range(48):
            middle = 0.5 * (low + high)
            light = ratio(wanted, middle) > 0.0
            low, high = np.where(light, middle, low), np.where(light, high, middle)
        setting = np.where(governed, 0.5 * (low + high), setting)
        speed = np.where(governed, wanted, speed)
    made = engine.state(speed * engine.gear, lever, pressure, temperature, vapour, tas, more)
    thrust, _ = propeller.thrust_power(tas, speed, setting, density, temperature)
    return thrust, made.power_w * factor, speed * engine.gear, made.fuel_kg_s, made.manifold_pa


def level_state(
    config: Configuration,
    tas_ms: ArrayLike,
    pressure_pa: ArrayLike,
    temperature_k: ArrayLike,
    vapour_pa: ArrayLike,
    weight_kg: ArrayLike,
    *,
    excess_n: ArrayLike = 0.0,
    parasite_factor: ArrayLike = 1.0,
    power_factor: ArrayLike = 1.0,
    rich: ArrayLike = 0.0,
) -> Level:
    """Steady flight at a true airspeed: the power that keeps it level.

    Parameters
    ----------
    tas_ms : array_like
        True airspeed [m/s].
    pressure_pa, temperature_k, vapour_pa : array_like
        Ambient pressure [Pa], temperature [K] and vapour pressure [Pa].
    weight_kg : array_like
        Mass [kg].
    excess_n : array_like
        Force beyond the drag [N]: weight times climb angle, plus mass times acceleration.
    parasite_factor, power_factor, rich : array_like
        Variation of parasite drag, of engine power at a given setting, and of the mixture.
    """
    tas, pressure, temperature, vapour, weight, excess, dirty, factor, more = _arrays(
        tas_ms,
        pressure_pa,
        temperature_k,
        vapour_pa,
        weight_kg,
        excess_n,
        parasite_factor,
        power_factor,
        rich,
    )
    density = density_kg_m3(pressure, temperature, vapour)
    engine, propeller = config.engine, config.propeller
    lift = weight * GRAVITY_MS2
    power = np.full(tas.shape, 50.0e3)
    thrust = np.full(tas.shape, 800.0)
    speed = np.full(tas.shape, 36.0)
    if propeller.governed:
        cas = calibrated_ms(tas, pressure, temperature)
        speed = schedule_rps(cas, config.schedule) / engine.gear
    for _ in range(60):
        bare = config.airframe.drag_n(density, tas, lift, 0.0, power, parasite_factor=dirty)
        thrust = (bare + excess) / (1.0 - config.airframe.slipstream)
        setting, speed = _setting_for_thrust(propeller, tas, speed, thrust, density, temperature)
        _, taken = propeller.thrust_power(tas, speed, setting, density, temperature)
        settled = np.all(np.abs(taken - power) < 1.0e-6 * power)
        power = taken
        if settled:
            break
    crank = speed * engine.gear
    throttle = np.full(tas.shape, 0.8)
    for _ in range(60):
        made = engine.state(crank, throttle, pressure, temperature, vapour, tas, more)
        step = (power - made.power_w * factor) / 95.0e3
        throttle = np.maximum(throttle + step, 0.2)
        if np.all(np.abs(step) < 1.0e-9):
            break
    fuel = engine.state(crank, throttle, pressure, temperature, vapour, tas, more).fuel_kg_s
    return Level(power, crank, fuel / FUEL_KG_M3, throttle, thrust)


def _setting_for_thrust(
    propeller: Propeller,
    tas: Array,
    speed: Array,
    thrust: Array,
    density: Array,
    temperature: Array,
) -> tuple[Array, Array]:
    """Blade setting at a governed speed, or speed [1/s] at the fixed setting, for a thrust."""
    for _ in range(1 if propeller.governed else 30):
        mach = propeller.tip_mach(tas, speed, temperature)
        fast = positive(mach - 0.62)
        wanted = thrust / (density * speed * speed * propeller.diameter_m**4)
        distance = propeller.distance_for_thrust(wanted / (1.0 - 1.5 * fast * fast))
        advance = tas / (speed * propeller.diameter_m)
        if propeller.governed:
            setting = (advance + distance - propeller.camber) / (0.75 * math.pi)
            return setting, speed
        error = propeller.no_thrust_advance(propeller.setting) - advance - distance
        # a faster turning propeller lowers both the advance ratio and the thrust coefficient
        slope = (advance + 2.0 * distance) / speed
        step = -error / slope
        speed = np.clip(speed + step, 0.8 * speed, 1.25 * speed)
        if np.all(np.abs(step) < 1.0e-10 * speed):
            break
    return np.full(tas.shape, propeller.setting), speed


def airspeed_for_power(
    config: Configuration,
    power_w: ArrayLike,
    pressure_pa: ArrayLike,
    temperature_k: ArrayLike,
    vapour_pa: ArrayLike,
    weight_kg: ArrayLike,
    **variation: ArrayLike,
) -> Array:
    """True airspeed [m/s] of level flight at a brake power [W], the fast one of the two.

    The bracket is 38 to 80 m/s; parameters as in `level_state`.
    """
    power, pressure, temperature, vapour, weight = _arrays(
        power_w, pressure_pa, temperature_k, vapour_pa, weight_kg
    )
    low, high = np.full(power.shape, 38.0), np.full(power.shape, 80.0)
    for _ in range(44):
        middle = 0.5 * (low + high)
        needs = level_state(
            config, middle, pressure, temperature, vapour, weight, **variation
        ).power_w
        low, high = np.where(needs < power, middle, low), np.where(needs < power, high, middle)
    return 0.5 * (low + high)


def climb_state(
    config: Configuration,
    cas_ms: ArrayLike,
    pressure_pa: ArrayLike,
    temperature_k: ArrayLike,
    vapour_pa: ArrayLike,
    weight_kg: ArrayLike,
    *,
    lapse_k_m: ArrayLike = LAPSE_K_M,
    parasite_factor: ArrayLike = 1.0,
    power_factor: ArrayLike = 1.0,
    rich: ArrayLike = 0.0,
) -> Climb:
    """Climb at constant calibrated airspeed and full throttle, flaps up, air at rest.

    Parameters
    ----------
    cas_ms : array_like
        Calibrated airspeed [m/s].
    pressure_pa, temperature_k, vapour_pa, weight_kg : array_like
        As in `level_state`.
    lapse_k_m : array_like
        Fall of temperature with height [K/m], for the acceleration at constant airspeed.
    """
    cas, pressure, temperature, vapour, weight, lapse, dirty, factor, more = _arrays(
        cas_ms,
        pressure_pa,
        temperature_k,
        vapour_pa,
        weight_kg,
        lapse_k_m,
        parasite_factor,
        power_factor,
        rich,
    )
    tas = true_ms(cas, pressure, temperature)
    density = density_kg_m3(pressure, temperature, vapour)
    thrust, power, speed, fuel, manifold = full_throttle(
        config, tas, pressure, temperature, vapour, power_factor=factor, rich=more
    )
    rise = 20.0
    above = true_ms(cas, pressure - density * GRAVITY_MS2 * rise, temperature - lapse * rise)
    inertia = 1.0 + tas / GRAVITY_MS2 * (above - tas) / rise
    force = weight * GRAVITY_MS2
    sine = np.zeros(tas.shape)
    for _ in range(12):
        lift = force * np.sqrt(1.0 - sine * sine)
        drag = config.airframe.drag_n(density, tas, lift, thrust, power, parasite_factor=dirty)
        sine = np.clip((thrust - drag) / force / inertia, -0.5, 0.5)
    gradient = sine / np.sqrt(1.0 - sine * sine)
    return Climb(tas * sine, tas, gradient, power, speed, fuel / FUEL_KG_M3, manifold)


def ground_run(
    config: Configuration,
    liftoff_cas_ms: ArrayLike,
    pressure_pa: ArrayLike,
    temperature_k: ArrayLike,
    vapour_pa: ArrayLike,
    weight_kg: ArrayLike,
    headwind_ms: ArrayLike = 0.0,
    slope: ArrayLike = 0.0,
    *,
    rolling_add: ArrayLike = 0.0,
    power_factor: ArrayLike = 1.0,
    nodes: int = 61,
) -> GroundRun:
    """Take-off roll from rest with full throttle set before the brakes are released.

    Parameters
    ----------
    liftoff_cas_ms : array_like
        Calibrated airspeed at lift-off [m/s].
    headwind_ms : array_like
        Steady headwind along the runway [m/s].
    slope : array_like
        Runway slope, positive uphill [-].
    rolling_add : array_like
        Added to the coefficient of rolling friction.
    nodes : int
        Odd number of airspeeds for Simpson's rule.
    """
    cas, pressure, temperature, vapour, weight, wind, rise, rough, factor = _arrays(
        liftoff_cas_ms,
        pressure_pa,
        temperature_k,
        vapour_pa,
        weight_kg,
        headwind_ms,
        slope,
        rolling_add,
        power_factor,
    )
    liftoff = true_ms(cas, pressure, temperature)
    part = np.linspace(0.0, 1.0, nodes)
    ground_speed = (liftoff - wind)[..., None] * part
    tas = np.abs(ground_speed + wind[..., None])
    columns = [value[..., None] for value in (pressure, temperature, vapour, factor)]
    thrust, power, speed, _, _ = full_throttle(
        config, tas, columns[0], columns[1], columns[2], power_factor=columns[3]
    )
    density = density_kg_m3(columns[0], columns[1], columns[2])
    force = weight[..., None] * GRAVITY_MS2
    rolling = config.airframe.rolling + rough[..., None]
    resistance = config.airframe.roll_resistance_n(
        density, tas, liftoff[..., None], force, thrust, power, rolling
    )
    acceleration = (thrust - resistance) / weight[..., None] - GRAVITY_MS2 * rise[..., None]
    width = (liftoff - wind) / (nodes - 1)
    simpson = np.full(nodes, 2.0)
    simpson[1::2] = 4.0
    simpson[0] = simpson[-1] = 1.0
    share = simpson / 3.0 / acceleration
    time = np.sum(share, axis=-1) * width
    distance = np.sum(share * ground_speed, axis=-1) * width
    mean_speed = np.sum(share * speed, axis=-1) * width / time
    mean_power = np.sum(share * power, axis=-1) * width / time
    return GroundRun(distance, time, mean_speed, mean_power, speed[..., 0], liftoff)


def standard_air(altitude_m: ArrayLike) -> tuple[Array, Array, Array]:
    """Pressure [Pa], temperature [K] and vapour pressure [Pa] of the dry standard day."""
    height = np.asarray(altitude_m, float)
    return standard_pressure_pa(height), standard_temperature_k(height), np.zeros(height.shape)


__all__ = [
    "CONFIGURATIONS",
    "FUEL_KG_M3",
    "Climb",
    "Configuration",
    "GroundRun",
    "Level",
    "airspeed_for_power",
    "climb_state",
    "full_throttle",
    "ground_run",
    "level_state",
    "standard_air",
]
