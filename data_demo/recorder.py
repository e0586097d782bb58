"""Sensors: what the instruments of the demo airplanes show."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .air import (
    KT_MS,
    calibrated_from_impact_ms,
    impact_pa,
    positive,
    pressure_altitude_m,
    standard_pressure_pa,
)
from .airframe import FUEL_KG_M3, Configuration
from .flight import STEP_S
from .flying import Flown
from .plan import Aircraft, Errors

Array = NDArray[np.float64]
Table = dict[str, Array]

GPS_DELAY_S = 0.3
GPS_SMOOTHING_S = 0.15  # part of the delay
SUCTION_KEPT = 0.15  # share that stays at high airspeed
SUCTION_SPEED_MS = 18.0  # airspeed where about half of it is gone


def static_error_kt(cas_kt: Array, aircraft: Aircraft, errors: Errors) -> Array:
    """Part of the position error that the static port makes [kt], steady, without power."""
    sizes = aircraft.config.airspeed
    place = (cas_kt - sizes.static_middle_kt) / sizes.static_width_kt
    error = -sizes.static_kt * np.tanh(place)
    if aircraft.differs:
        constant, tilt = errors.between_kt
        error = error + constant + tilt * (np.maximum(cas_kt, 30.0) - 80.0) / 40.0
    return error * _awake(cas_kt)


def position_error_kt(cas_kt: Array, aircraft: Aircraft, errors: Errors) -> Array:
    """Calibrated minus indicated airspeed [kt], steady, without the effect of power.

    Zero below 25 kt, where the airspeed does not respond anyway.
    """
    sizes = aircraft.config.airspeed
    place = (cas_kt - sizes.pitot_middle_kt) / sizes.pitot_width_kt
    pitot = sizes.pitot_kt / (1.0 + np.exp(np.clip(place, -30.0, 30.0)))
    return static_error_kt(cas_kt, aircraft, errors) + pitot * _awake(cas_kt)


def _awake(cas_kt: Array) -> Array:
    return np.clip((cas_kt - 25.0) / 15.0, 0.0, 1.0)


def shown_kt(
    cas_kt: Array, thrust_n: Array, tas_ms: Array, aircraft: Aircraft, errors: Errors
) -> Array:
    """Indicated airspeed [kt] in steady flight, the suction under power included."""
    indicated = (cas_kt - position_error_kt(cas_kt, aircraft, errors)) * KT_MS
    impact = impact_pa(indicated, 101325.0, 288.15)
    suction = suction_pa(thrust_n, tas_ms, aircraft.config)
    return calibrated_from_impact_ms(impact + suction) / KT_MS


def calibration_table(aircraft: Aircraft, errors: Errors) -> list[tuple[float, float]]:
    """The owner's table: indicated and calibrated airspeed [kt].

    It is the truth without power plus the error of the owner's own measurement, rounded to 0.1 kt.
    """
    if errors.table_kt is None:
        raise ValueError("this demo has no owner's table")
    cas = np.linspace(30.0, 150.0, 2401)
    indicated = cas - position_error_kt(cas, aircraft, errors)
    constant, tilt = errors.table_kt
    rows = []
    for shown in range(40, 131, 10):
        true_value = float(np.interp(shown, indicated, cas))
        value = true_value + constant + tilt * (shown - 75.0) / 30.0
        rows.append((float(shown), round(value, 1)))
    return rows


def lagged(values: Array, time_s: float) -> Array:
    """First-order lag of values kept every step."""
    share = 1.0 - math.exp(-STEP_S / time_s)
    out = np.empty_like(values)
    state = float(values[0])
    for index, value in enumerate(values.tolist()):
        state += share * (value - state)
        out[index] = state
    return out


def lags_s(errors: Errors) -> tuple[float, float]:
    """Lag of the airspeed and delay of the GPS [s], its smoothing included.

    Their difference is the drawn delay.
    """
    airspeed = GPS_DELAY_S + errors.delay_s
    gps = GPS_DELAY_S + max(0.4 - airspeed, 0.0)
    return max(airspeed, 0.4), gps


def suction_pa(thrust_n: Array, tas_ms: Array, config: Configuration) -> Array:
    """Static pressure lost under power [Pa]; it fades with airspeed."""
    sizes = config.airspeed
    fade = SUCTION_KEPT + (1.0 - SUCTION_KEPT) / (1.0 + (tas_ms / SUCTION_SPEED_MS) ** 4)
    return sizes.suction_pa * positive(thrust_n) / sizes.suction_thrust_n * fade


@dataclass(frozen=True)
class Sensed:
    """Sensors' answers at every step of the simulation.

    Parameters
    ----------
    table : dict
        Values by name.
    setting_pa : array
        Altimeter setting [Pa].
    suction_pa : array
        Static pressure lost under power [Pa].
    """

    table: Table
    setting_pa: Array
    suction_pa: Array


def sense(flown: Flown) -> Sensed:
    """Turn the truth of a flight into what the sensors say, before sampling."""
    truth = flown.sim.table()
    name = flown.plan.configuration
    aircraft, errors = flown.demo.aircraft[name], flown.demo.errors[name]
    rng = flown.rng
    cas_kt = truth["cas_ms"] / KT_MS
    indicated = np.maximum(cas_kt - position_error_kt(cas_kt, aircraft, errors), 0.0) * KT_MS
    by_port = np.maximum(cas_kt - static_error_kt(cas_kt, aircraft, errors), 0.0) * KT_MS
    impact_true = impact_pa(truth["tas_ms"], truth["pressure_pa"], truth["temperature_k"])
    impact_shown = impact_pa(indicated, 101325.0, 288.15)
    suction = suction_pa(truth["thrust_n"], truth["tas_ms"], aircraft.config)
    suction = suction * (1.0 + 0.08 * float(rng.standard_normal()))
    static_error = impact_pa(by_port, 101325.0, 288.15) - impact_true
    static = truth["pressure_pa"] - suction - static_error
    airspeed_lag, gps_delay = lags_s(errors)
    impact = np.maximum(lagged(impact_shown + suction, airspeed_lag), 0.0)
    airspeed = calibrated_from_impact_ms(impact)
    airspeed = np.where(airspeed < 20.0 * KT_MS, 0.0, airspeed)
    static = lagged(static, 0.6)
    setting = _settings(flown, truth["time_s"], rng)
    altitude = pressure_altitude_m(static) + errors.altitude_m
    out: Table = {
        "time_s": truth["time_s"],
        "airspeed_ms": airspeed,
        "pressure_altitude_m": altitude,
        "baro_altitude_m": altitude - pressure_altitude_m(setting),
        "temperature_k": _probe(truth, errors),
        "pitch_rad": truth["pitch_rad"],
        "bank_rad": truth["bank_rad"],
        "load_g": lagged(truth["load_g"], 0.3),
        "heading_rad": np.unwrap(truth["heading_rad"]),
        "engine_rps": lagged(truth["engine_rps"], 0.3),
        "manifold_pa": lagged(truth["manifold_pa"], 0.3),
    }
    out["vertical_ms"] = lagged(np.gradient(lagged(altitude, 0.8), STEP_S), 0.4)
    flow = truth["fuel_kg_s"] / FUEL_KG_M3 * (1.0 + errors.fuel_flow)
    out["fuel_flow_m3_s"] = lagged(flow, 0.9)
    out["fuel_m3"] = truth["fuel_kg"] / FUEL_KG_M3
    _gps(out, truth, gps_delay, rng)
    out["power_w"] = _panel_power(out, aircraft.config, errors)
    return Sensed(out, setting, suction)


def _settings(flown: Flown, time: Array, rng: np.random.Generator) -> Array:
    """Altimeter setting: last time's at first, turned to the day's while taxiing."""
    day = round(flown.plan.qnh_hpa)
    last = day + int(rng.choice([-6, -4, -3, 3, 5]))
    turned = 62.0 + 20.0 * float(rng.random())
    done = np.floor(np.maximum(time - turned, 0.0) / 0.8)
    return 100.0 * (last + np.sign(day - last) * np.minimum(done, abs(day - last)))


def _probe(truth: Table, errors: Errors) -> Array:
    """Temperature probe: ram rise, bias, lag, and heat soak on the ground."""
    tas = truth["tas_ms"]
    target = truth["temperature_k"] + 0.8 * tas * tas / (2.0 * 1004.7) + errors.temperature_k
    target = target + 4.5 * np.exp(-tas / 9.0)
    out = np.empty_like(target)
    state = float(truth["temperature_k"][0]) + 2.0
    for index, (value, speed) in enumerate(zip(target.tolist(), tas.tolist(), strict=True)):
        state += (value - state) * STEP_S / (18.0 + 60.0 * math.exp(-speed / 12.0))
        out[index] = state
    return out


def _gps(out: Table, truth: Table, delay: float, rng: np.random.Generator) -> None:
    """Position, height, ground speed and track, delayed and smoothed."""
    time = truth["time_s"]

    def late(values: Array) -> Array:
        return np.interp(time - delay + GPS_SMOOTHING_S, time, lagged(values, GPS_SMOOTHING_S))

    steps = len(time)
    drift = np.cumsum(rng.standard_normal((3, steps)), axis=1) * math.sqrt(STEP_S)
    slow = np.exp(-STEP_S / 150.0)
    wander = np.empty((3, steps))
    state = np.zeros(3)
    for index in range(steps):
        push = drift[:, index] - (drift[:, index - 1] if index else 0.0)
        state = state * slow + push * math.sqrt(2.0 / 150.0)
        wander[:, index] = state
    east = truth["ground_speed_ms"] * np.sin(truth["track_rad"])
    north = truth["ground_speed_ms"] * np.cos(truth["track_rad"])
    out["east_m"] = late(truth["east_m"]) + 0.8 * wander[0]
    out["north_m"] = late(truth["north_m"]) + 0.8 * wander[1]
    out["gps_height_m"] = late(truth["height_m"]) + 1.6 * wander[2]
    out["speed_east_ms"] = late(east)
    out["speed_north_ms"] = late(north)


def _panel_power(out: Table, config: Configuration, errors: Errors) -> Array:
    """Power that the panel computes from engine speed, manifold pressure, height and probe.

    The chart knows nothing of humidity, mixture or wear, and has a scale error.
    """
    engine = config.engine
    pressure = standard_pressure_pa(out["pressure_altitude_m"])
    ratio = out["engine_rps"] / engine.rated_rps
    full = pressure * (1.0 - engine.intake_loss * ratio * ratio)
    made = engine.state(
        out["engine_rps"], out["manifold_pa"] / full, pressure, out["temperature_k"], 0.0
    )
    scale = (1.0 + errors.power) * (1.0 + errors.power_by_configuration[config.name])
    return np.maximum(lagged(made.power_w, 1.0), 0.0) * scale
