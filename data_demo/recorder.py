"""Sensors and recorders: what the panel of the demo airplane shows, and the files it writes."""

from __future__ import annotations

import datetime as dt
import gzip
import io
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from .air import (
    FT_M,
    KT_MS,
    calibrated_from_impact_ms,
    impact_pa,
    positive,
    pressure_altitude_m,
    standard_pressure_pa,
)
from .airframe import CONFIGURATIONS, FUEL_KG_M3
from .flight import STEP_S
from .scenario import ORIGIN_DEG, ZONE_H, Errors, Flown

Array = NDArray[np.float64]
Table = dict[str, Array]

EARTH_M = 6371000.0
INHG_PA = 3386.389
GPS_DELAY_S = 0.3
#: Static pressure lost at the port under full power at rest [Pa], by propeller.
POWER_SUCTION_PA = {"A": 8.0 * FT_M * 12.0, "B": 14.0 * FT_M * 12.0}
#: Thrust at which that suction was stated [N].
POWER_SUCTION_THRUST_N = {"A": 1570.0, "B": 1830.0}
SUCTION_KEPT = 0.15  # share that stays at high airspeed
SUCTION_SPEED_MS = 18.0  # airspeed where about half of it is gone
STATIC_SHARE = 0.5  # share of the airspeed's position error that comes from the static port


def position_error_kt(cas_kt: Array, configuration: str, errors: Errors) -> Array:
    """Calibrated minus indicated airspeed [kt], steady, without the effect of full power.

    Zero below 25 kt, where the airspeed does not respond anyway.
    """
    part = (np.maximum(cas_kt, 30.0) - 80.0) / 40.0
    error = 0.1 - 1.9 * part + 0.35 * part * part
    if configuration == "B":
        constant, tilt = errors.between_kt
        error = error + constant + tilt * part
    return error * np.clip((cas_kt - 25.0) / 15.0, 0.0, 1.0)


def calibration_table(errors: Errors) -> list[tuple[float, float]]:
    """The owner's table for configuration A: indicated and calibrated airspeed [kt].

    It is the truth plus the error of the owner's own measurement, rounded to 0.1 kt.
    """
    cas = np.linspace(30.0, 140.0, 2201)
    indicated = cas - position_error_kt(cas, "A", errors)
    rows = []
    for shown in range(40, 131, 10):
        true_value = float(np.interp(shown, indicated, cas))
        constant, tilt = errors.table_kt
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
    """Lag of the airspeed and delay of the GPS [s]; their difference is the drawn delay."""
    airspeed = GPS_DELAY_S + errors.delay_s
    gps = GPS_DELAY_S + max(0.4 - airspeed, 0.0)
    return max(airspeed, 0.4), gps


def suction_pa(thrust_n: Array, tas_ms: Array, configuration: str) -> Array:
    """Static pressure lost under power [Pa]; it fades with airspeed."""
    fade = SUCTION_KEPT + (1.0 - SUCTION_KEPT) / (1.0 + (tas_ms / SUCTION_SPEED_MS) ** 4)
    share = positive(thrust_n) / POWER_SUCTION_THRUST_N[configuration]
    return POWER_SUCTION_PA[configuration] * share * fade


@dataclass(frozen=True)
class Sensed:
    """Sensors' answers at every step of the simulation."""

    table: Table
    setting_pa: Array


def sense(flown: Flown, errors: Errors) -> Sensed:
    """Turn the truth of a flight into what the sensors say, before sampling."""
    truth = flown.sim.table()
    name = flown.plan.configuration
    rng = flown.rng
    cas_kt = truth["cas_ms"] / KT_MS
    indicated = np.maximum(cas_kt - position_error_kt(cas_kt, name, errors), 0.0) * KT_MS
    impact_true = impact_pa(truth["tas_ms"], truth["pressure_pa"], truth["temperature_k"])
    impact_shown = impact_pa(indicated, 101325.0, 288.15)
    suction = suction_pa(truth["thrust_n"], truth["tas_ms"], name)
    suction = suction * (1.0 + 0.08 * float(rng.standard_normal()))
    static = truth["pressure_pa"] - suction + STATIC_SHARE * (impact_true - impact_shown)
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
    out["power_w"] = _panel_power(out, name, errors)
    return Sensed(out, setting)


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
        return np.interp(time - delay, time, lagged(values, 0.15))

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


def _panel_power(out: Table, configuration: str, errors: Errors) -> Array:
    """Power that the panel computes from engine speed, manifold pressure, height and probe.

    The chart knows nothing of humidity, mixture or wear, and has a scale error.
    """
    engine = CONFIGURATIONS[configuration].engine
    pressure = standard_pressure_pa(out["pressure_altitude_m"])
    ratio = out["engine_rps"] / engine.rated_rps
    full = pressure * (1.0 - engine.intake_loss * ratio * ratio)
    made = engine.state(
        out["engine_rps"], out["manifold_pa"] / full, pressure, out["temperature_k"], 0.0
    )
    scale = (1.0 + errors.power) * (1.0 + errors.power_by_configuration[configuration])
    return np.maximum(lagged(made.power_w, 1.0), 0.0) * scale


# ---- sampling and writing -----------------------------------------------------------------


def _sample_times(
    end_s: float, clock: str, rng: np.random.Generator
) -> tuple[Array, NDArray[np.int64], NDArray[np.bool_]]:
    """Instants of the rows [s], their stamps in whole seconds, and which rows have a position.

    Rows are taken once a second; the stamp is the clock's second, so that a slow clock gives
    skipped seconds and jitter gives repeats. Some rows are lost altogether.
    """
    interval = 1.0 if clock == "main" else 1.004
    count = int((end_s - 2.0) / interval)
    phase = 0.5 + 0.47 * np.sin(np.arange(count) / 700.0 + 6.0 * rng.random())
    if clock != "main":
        phase = np.full(count, 0.3)
    times = 1.0 + np.arange(count) * interval + phase + 0.025 * rng.standard_normal(count)
    keep = np.ones(count, bool)
    keep[rng.choice(np.arange(60, count - 60), size=9, replace=False)] = False
    located = np.ones(count, bool)
    located[: int(14 + 8 * rng.random())] = False
    for _ in range(3):
        first = int(rng.integers(300, count - 300))
        located[first : first + int(rng.integers(2, 7))] = False
    times, located = times[keep], located[keep]
    return times, np.floor(times).astype(np.int64), located


def _rows(flown: Flown, sensed: Sensed, times: Array) -> Table:
    """Sensor values at the instants of the rows, with noise."""
    rng = flown.rng
    base = sensed.table["time_s"]
    out = {name: np.interp(times, base, values) for name, values in sensed.table.items()}
    picked = np.clip(np.searchsorted(base, times), 0, len(base) - 1)
    out["setting_pa"] = sensed.setting_pa[picked]
    size = len(times)
    noise = {
        "airspeed_ms": 0.25 * KT_MS,
        "baro_altitude_m": 1.2 * FT_M,
        "pressure_altitude_m": 1.2 * FT_M,
        "temperature_k": 0.05,
        "engine_rps": 5.0 / 60.0,
        "manifold_pa": 130.0,
        "fuel_flow_m3_s": 0.12 / 3.6e6,
        "fuel_m3": 0.15e-3,
        "power_w": 250.0,
        "pitch_rad": 0.004,
        "bank_rad": 0.006,
        "load_g": 0.015,
        "vertical_ms": 12.0 * FT_M / 60.0,
        "speed_east_ms": 0.05,
        "speed_north_ms": 0.05,
        "gps_height_m": 0.35,
        "east_m": 0.4,
        "north_m": 0.4,
    }
    for name, sigma in noise.items():
        extra = sigma * rng.standard_normal(size)
        if name == "airspeed_ms":
            extra = np.where(out[name] > 9.0, extra, 0.0)
        out[name] = out[name] + extra
    out["airspeed_ms"] = np.where(out["airspeed_ms"] < 20.0 * KT_MS, 0.0, out["airspeed_ms"])
    out["ground_speed_ms"] = np.hypot(out["speed_east_ms"], out["speed_north_ms"])
    track = np.degrees(np.arctan2(out["speed_east_ms"], out["speed_north_ms"])) % 360.0
    out["track_deg"] = np.where(out["ground_speed_ms"] < 1.0, np.nan, track)
    out["latitude_deg"] = ORIGIN_DEG[0] + np.degrees(out["north_m"] / EARTH_M)
    shrink = math.cos(math.radians(ORIGIN_DEG[0]))
    out["longitude_deg"] = ORIGIN_DEG[1] + np.degrees(out["east_m"] / (EARTH_M * shrink))
    return out


@dataclass(frozen=True)
class Cell:
    """One column of a file: heading, unit, key in the rows, scale, offset, format, GPS or not."""

    heading: str
    unit: str
    key: str
    scale: float = 1.0
    offset: float = 0.0
    digits: int = 0
    step: float = 0.0
    gps: bool = False


MAIN_CELLS = (
    Cell("Position N", "deg", "latitude_deg", digits=6, gps=True),
    Cell("Position E", "deg", "longitude_deg", digits=6, gps=True),
    Cell("Height sat", "ft", "gps_height_m", 1.0 / FT_M, gps=True),
    Cell("Speed sat", "kt", "ground_speed_ms", 1.0 / KT_MS, digits=1, gps=True),
    Cell("Course sat", "deg", "track_deg", digits=1, gps=True),
    Cell("Airspeed ind", "kt", "airspeed_ms", 1.0 / KT_MS, digits=1),
    Cell("Height baro", "ft", "baro_altitude_m", 1.0 / FT_M),
    Cell("Baro set", "hPa", "setting_pa", 0.01, digits=1),
    Cell("Climb", "ft/min", "vertical_ms", 60.0 / FT_M, step=10.0),
    Cell("Air temp", "degC", "temperature_k", 1.0, -273.15, digits=1, step=0.2),
    Cell("Crank speed", "rpm", "engine_rps", 60.0, step=10.0),
    Cell("Manifold", "inHg", "manifold_pa", 1.0 / INHG_PA, digits=1),
    Cell("Fuel rate", "L/h", "fuel_flow_m3_s", 3.6e6, digits=1),
    Cell("Fuel left", "L", "fuel_m3", 1.0e3, digits=1, step=0.5),
    Cell("Power", "%", "power_w", 100.0 / 78.0e3, digits=1),
    Cell("Nose", "deg", "pitch_rad", 180.0 / math.pi, digits=1),
    Cell("Bank", "deg", "bank_rad", 180.0 / math.pi, digits=1),
    Cell("Load", "g", "load_g", digits=2),
)
SECOND_CELLS = (
    Cell("Breite", "deg", "latitude_deg", digits=6, gps=True),
    Cell("Länge", "deg", "longitude_deg", digits=6, gps=True),
    Cell("Sat-Höhe", "m", "gps_height_m", digits=1, gps=True),
    Cell("Sat-Tempo", "km/h", "ground_speed_ms", 3.6, digits=1, gps=True),
    Cell("Sat-Kurs", "deg", "track_deg", digits=0, gps=True),
    Cell("Staudruck-Tempo", "km/h", "airspeed_ms", 3.6, digits=1),
    Cell("Druckhöhe", "ft", "pressure_altitude_m", 1.0 / FT_M),
    Cell("Luft", "degC", "temperature_k", 1.0, -273.15, digits=1),
    Cell("Drehzahl", "rpm", "engine_rps", 60.0, step=10.0),
    Cell("Ladedruck", "hPa", "manifold_pa", 0.01, digits=0),
    Cell("Durchfluss", "L/h", "fuel_flow_m3_s", 3.6e6, digits=1),
    Cell("Tank", "L", "fuel_m3", 1.0e3, digits=1, step=0.5),
    Cell("Leistung", "kW", "power_w", 1.0e-3, digits=1),
    Cell("Querlage", "deg", "bank_rad", 180.0 / math.pi, digits=0),
)


def _texts(cell: Cell, rows: Table, located: NDArray[np.bool_], decimal: str) -> list[str]:
    values = rows[cell.key] * cell.scale + cell.offset
    if cell.step:
        values = np.round(values / cell.step) * cell.step
    present = np.isfinite(values) & (located if cell.gps else True)
    texts = []
    for value, there in zip(values.tolist(), present.tolist(), strict=True):
        text = f"{value:.{cell.digits}f}" if there else ""
        if text.startswith("-") and not text.strip("-0."):
            text = text[1:]
        texts.append(text.replace(".", decimal))
    return texts


def start_of(flown: Flown) -> dt.datetime:
    """UTC of the first step of a flight."""
    day = dt.datetime.fromisoformat(flown.plan.date).replace(tzinfo=dt.UTC)
    return day + dt.timedelta(seconds=round(flown.plan.start_utc_h * 3600.0))


def _main_text(
    flown: Flown, rows: Table, stamps: NDArray[np.int64], located: NDArray[np.bool_]
) -> list[str]:
    start = start_of(flown)
    columns = [_texts(cell, rows, located, ".") for cell in MAIN_CELLS]
    lines = []
    for index, stamp in enumerate(stamps.tolist()):
        moment = start + dt.timedelta(seconds=stamp)
        cells = [column[index] for column in columns]
        lines.append(",".join([f"{moment:%Y-%m-%d}", f"{moment:%H:%M:%S}", *cells]))
    return lines


def _main_head() -> list[str]:
    return [
        "recording of an invented airplane; clock is UTC",
        ",".join(["Date", "Clock", *[cell.heading for cell in MAIN_CELLS]]),
        ",".join(["", "", *[cell.unit for cell in MAIN_CELLS]]),
    ]


def _second_text(
    flown: Flown, rows: Table, stamps: NDArray[np.int64], located: NDArray[np.bool_]
) -> list[str]:
    start = start_of(flown) + dt.timedelta(hours=ZONE_H)
    columns = [_texts(cell, rows, located, ",") for cell in SECOND_CELLS]
    offset = f"{ZONE_H:+03d}:00"
    lines = []
    for index, stamp in enumerate(stamps.tolist()):
        moment = start + dt.timedelta(seconds=stamp)
        cells = [column[index] for column in columns]
        lines.append(";".join([f"{moment:%d.%m.%Y}", f"{moment:%H:%M:%S}", offset, *cells]))
    return lines


def _second_head() -> list[str]:
    names = [f"{cell.heading} [{cell.unit}]" for cell in SECOND_CELLS]
    return [";".join(["Tag", "Uhr", "Zone", *names])]


def write_gzip(path: Path, text: str) -> bool:
    """Write a text as gzip of always the same bytes; a file that holds the text is left alone."""
    data = text.encode("utf-8")
    if path.exists() and gzip.decompress(path.read_bytes()) == data:
        return False
    path.write_bytes(compress(data))
    return True


def compress(data: bytes) -> bytes:
    """Gzip with no name, no time, level 9 and an unknown operating system (byte 9 is 255)."""
    buffer = io.BytesIO()
    with gzip.GzipFile(filename="", mode="wb", compresslevel=9, fileobj=buffer, mtime=0) as file:
        file.write(data)
    packed = bytearray(buffer.getvalue())
    packed[9] = 255
    return bytes(packed)


def record(flown: Flown, errors: Errors) -> dict[str, str]:
    """Files of one flight: name and text."""
    sensed = sense(flown, errors)
    plan = flown.plan
    times, stamps, located = _sample_times(
        float(sensed.table["time_s"][-1]), plan.recorder, flown.rng
    )
    rows = _rows(flown, sensed, times)
    if plan.recorder == "main":
        lines, head, end = _main_text(flown, rows, stamps, located), _main_head(), "\n"
    else:
        lines, head, end = _second_text(flown, rows, stamps, located), _second_head(), "\r\n"
    name = plan.name.lower()
    if plan.parts == 1:
        return {f"{name}.csv.gz": end.join([*head, *lines]) + end}
    back = next(
        event["time_s"] for event in reversed(flown.sim.events) if event["kind"] == "level run ends"
    )
    cut = int(np.searchsorted(times, float(str(back)) + 70.0))
    first, second = lines[:cut], lines[cut + 37 :]  # the recorder takes 37 s to come back
    return {
        f"{name}a.csv.gz": end.join([*head, *first]) + end,
        f"{name}b.csv.gz": end.join([*head, *second]) + end,
    }
