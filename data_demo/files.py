"""Recorders: rows taken from the sensors, and the files they are written to."""

from __future__ import annotations

import datetime as dt
import gzip
import io
import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from .air import FT_M, KT_MS
from .flying import Flown
from .recorder import Array, Sensed, Table

EARTH_M = 6371000.0
INHG_PA = 3386.389
US_GALLON_M3 = 3.785411784e-3
MPH_MS = 0.44704


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
    origin = flown.demo.site.origin_deg
    out["latitude_deg"] = origin[0] + np.degrees(out["north_m"] / EARTH_M)
    shrink = math.cos(math.radians(origin[0]))
    out["longitude_deg"] = origin[1] + np.degrees(out["east_m"] / (EARTH_M * shrink))
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


#: The four-seat airplane's panel: no power, no manifold pressure.
TOURER_CELLS = (
    Cell("GPS lat", "deg", "latitude_deg", digits=6, gps=True),
    Cell("GPS lon", "deg", "longitude_deg", digits=6, gps=True),
    Cell("GPS height", "ft", "gps_height_m", 1.0 / FT_M, gps=True),
    Cell("Over ground", "mph", "ground_speed_ms", 1.0 / MPH_MS, digits=1, gps=True),
    Cell("Track", "deg", "track_deg", digits=1, gps=True),
    Cell("Airspeed", "mph", "airspeed_ms", 1.0 / MPH_MS, digits=1),
    Cell("Pressure height", "ft", "pressure_altitude_m", 1.0 / FT_M),
    Cell("Outside air", "degF", "temperature_k", 1.8, -459.67, digits=1),
    Cell("Tacho", "rpm", "engine_rps", 60.0, step=5.0),
    Cell("Fuel flow", "US gal/h", "fuel_flow_m3_s", 3600.0 / US_GALLON_M3, digits=2),
    Cell("Fuel", "US gal", "fuel_m3", 1.0 / US_GALLON_M3, digits=1),
    Cell("Pitch", "deg", "pitch_rad", 180.0 / math.pi, digits=1),
    Cell("Roll", "deg", "bank_rad", 180.0 / math.pi, digits=1),
)
#: The club's own logger in the two-seater.
LOGGER_CELLS = (
    Cell("lat", "deg", "latitude_deg", digits=6, gps=True),
    Cell("lon", "deg", "longitude_deg", digits=6, gps=True),
    Cell("height gnss", "m", "gps_height_m", digits=1, gps=True),
    Cell("speed gnss", "km/h", "ground_speed_ms", 3.6, digits=1, gps=True),
    Cell("course gnss", "deg", "track_deg", digits=1, gps=True),
    Cell("air speed", "km/h", "airspeed_ms", 3.6, digits=1),
    Cell("pressure height", "m", "pressure_altitude_m", digits=1),
    Cell("air temperature", "degC", "temperature_k", 1.0, -273.15, digits=1),
    Cell("engine", "rpm", "engine_rps", 60.0, step=10.0),
    Cell("manifold", "hPa", "manifold_pa", 0.01, digits=0),
    Cell("fuel flow", "L/h", "fuel_flow_m3_s", 3.6e6, digits=1),
    Cell("engine power", "kW", "power_w", 1.0e-3, digits=1),
    Cell("vertical load", "g", "load_g", digits=2),
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


Stamp = Callable[[Flown, float, float], list[str]]


def _utc_cells(flown: Flown, stamp: float, instant: float) -> list[str]:
    moment = start_of(flown) + dt.timedelta(seconds=stamp)
    return [f"{moment:%Y-%m-%d}", f"{moment:%H:%M:%S}"]


def _zone_cells(flown: Flown, stamp: float, instant: float) -> list[str]:
    zone = flown.demo.site.zone_h
    moment = start_of(flown) + dt.timedelta(hours=zone, seconds=stamp)
    return [f"{moment:%d.%m.%Y}", f"{moment:%H:%M:%S}", f"{zone:+03d}:00"]


def _local_clock(flown: Flown, stamp: float, instant: float) -> list[str]:
    moment = start_of(flown) + dt.timedelta(hours=flown.demo.site.zone_h, seconds=stamp)
    return [f"{moment:%H:%M:%S}"]


def _elapsed(flown: Flown, stamp: float, instant: float) -> list[str]:
    return [f"{instant:.1f}".replace(".", ",")]


@dataclass(frozen=True)
class Format:
    """How a recorder writes.

    Parameters
    ----------
    columns : str
        Columns file of the campaign.
    cells : tuple of Cell
        Columns after those of the time.
    stamp : function
        Texts of the time.
    time : tuple of str
        Names of the columns of the time.
    time_units : tuple of str
        Their units.
    before : tuple of str
        Lines before the header.
    units : str
        Where units stand: in a row of their own, or in the names.
    delimiter, decimal, end : str
        Separator, mark of decimals, end of a line.
    clock : str
        Main clock, or another one that goes slow.
    """

    columns: str
    cells: tuple[Cell, ...]
    stamp: Stamp
    time: tuple[str, ...]
    time_units: tuple[str, ...] = ()
    before: tuple[str, ...] = ()
    units: str = "row"
    delimiter: str = ","
    decimal: str = "."
    end: str = "\n"
    clock: str = "main"

    def head(self) -> list[str]:
        """Lines before the first row of data."""
        names = [cell.heading for cell in self.cells]
        units = [cell.unit for cell in self.cells]
        if self.units == "names":
            names = [f"{name} [{unit}]" for name, unit in zip(names, units, strict=True)]
        lines = [*self.before, self.delimiter.join([*self.time, *names])]
        if self.units == "row":
            lines.append(self.delimiter.join([*self.time_units, *units]))
        return lines


FORMATS = {
    "main": Format(
        "panel",
        MAIN_CELLS,
        _utc_cells,
        ("Date", "Clock"),
        ("", ""),
        before=("recording of an invented airplane; clock is UTC",),
    ),
    "second": Format(
        "second_recorder",
        SECOND_CELLS,
        _zone_cells,
        ("Tag", "Uhr", "Zone"),
        units="names",
        delimiter=";",
        decimal=",",
        end="\r\n",
        clock="second",
    ),
    "tourer": Format("four_seat_panel", TOURER_CELLS, _local_clock, ("Local",), ("h:min:s",)),
    "logger": Format(
        "club_logger",
        LOGGER_CELLS,
        _elapsed,
        ("time",),
        ("s",),
        delimiter=";",
        decimal=",",
        end="\r\n",
        clock="second",
    ),
}


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


def record(flown: Flown, sensed: Sensed) -> dict[str, str]:
    """Files of one flight: name and text."""
    plan, form = flown.plan, FORMATS[flown.plan.recorder]
    times, stamps, located = _sample_times(float(sensed.table["time_s"][-1]), form.clock, flown.rng)
    rows = _rows(flown, sensed, times)
    columns = [_texts(cell, rows, located, form.decimal) for cell in form.cells]
    lines = []
    for index, (stamp, instant) in enumerate(zip(stamps.tolist(), times.tolist(), strict=True)):
        cells = [column[index] for column in columns]
        lines.append(form.delimiter.join([*form.stamp(flown, stamp, instant), *cells]))
    name, head, end = plan.name.lower(), form.head(), form.end
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
