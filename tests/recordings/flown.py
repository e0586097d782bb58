"""Invented flights whose channels agree with each other: wind, air, engine and instruments.

Made for recordings in many layouts; imports nothing of the library. Everything is in SI, but
directions and positions are in degrees and loads in g.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

G = 9.80665
EARTH_M = 6_371_000.0


@dataclass(frozen=True)
class Flight:
    """One invented flight."""

    start: datetime.datetime
    channels: dict[str, np.ndarray]
    rated_w: float


def _legs(rng: np.random.Generator, cruise_ms: float) -> list[tuple[float, float, float, float]]:
    """Duration [s], climb rate [m/s], airspeed [m/s], turn rate [deg/s]."""
    climb = float(rng.uniform(2.5, 5.0))
    legs = [(200.0, climb, 34.0, 0.0), (60.0, climb, 34.0, 1.5), (180.0, climb, 34.0, 0.0)]
    for _ in range(4):
        legs += [(150.0, 0.0, cruise_ms, 0.0), (float(rng.uniform(28, 40)), 0.0, cruise_ms, 3.0)]
    legs += [(120.0, climb, 36.0, -1.0), (200.0, 0.0, cruise_ms * 0.93, 0.0),
             (90.0, -2.5, cruise_ms, 2.0), (150.0, -3.0, cruise_ms * 0.9, 0.0)]
    return legs


def make_flight(seed: int, minutes_on_ground: float = 3.0) -> Flight:
    """Fly: stand, taxi, take off, climb, a box of level legs, climb, descend, land, taxi."""
    rng = np.random.default_rng(seed)
    cruise = float(rng.uniform(46.0, 66.0))
    stand = round(60.0 * minutes_on_ground)
    legs = _legs(rng, cruise)
    up = sum(d * c for d, c, _, _ in legs if c > 0)
    down = sum(-d * c for d, c, _, _ in legs if c < 0)
    last = max((up - down) / 3.5, 60.0)
    legs.append((last, -(up - down) / last, 38.0, 0.4))
    roll, landing = 18, 22
    time_air = [np.repeat(np.array([[c, v, t]]), round(d), axis=0) for d, c, v, t in legs]
    air = np.vstack(time_air)
    count = stand + roll + len(air) + landing + 120
    climb, speed, turn = (np.zeros(count) for _ in range(3))
    first, last = stand + roll, stand + roll + len(air)
    climb[first:last], speed[first:last], turn[first:last] = air.T
    speed[stand:first] = np.linspace(0.0, 28.0, roll)
    speed[last:last + landing] = np.linspace(30.0, 5.0, landing)
    speed[last + landing:] = np.where(np.arange(120) < 90, 6.0, 0.0)
    taxi = slice(60, stand - 40)
    speed[taxi] = 5.0
    turn[taxi] = np.where(np.arange(stand - 100) % 60 < 15, 5.0, 0.0)
    climb = ndimage.gaussian_filter1d(climb, 4.0)
    speed = ndimage.gaussian_filter1d(speed, 3.0)
    turn = ndimage.gaussian_filter1d(turn, 2.0)
    in_air = np.zeros(count, dtype=bool)
    in_air[first:last] = True
    climb[~in_air] = 0.0
    return Flight(_start(rng), _channels(rng, climb, speed, turn, in_air, cruise), 85_000.0)


def _start(rng: np.random.Generator) -> datetime.datetime:
    day = datetime.date(2024, 1, 1) + datetime.timedelta(days=int(rng.integers(0, 700)))
    return datetime.datetime(day.year, day.month, day.day, int(rng.integers(6, 17)),
                             int(rng.integers(0, 60)), int(rng.integers(0, 60)),
                             tzinfo=datetime.UTC)


def _channels(rng, climb, speed, turn, in_air, cruise):
    count = climb.size
    noise = lambda size: size * rng.normal(size=count)  # noqa: E731
    field = float(rng.uniform(20.0, 500.0))
    height = field + np.cumsum(climb) + np.where(in_air, ndimage.gaussian_filter1d(
        rng.normal(size=count), 15) * 12.0, 0.0)
    qnh = float(rng.uniform(99_300.0, 103_200.0))
    pressure_altitude = height + 44_330.8 * (1.0 - (qnh / 101_325.0) ** 0.190263)
    sigma_p = (1.0 - 2.25577e-5 * pressure_altitude) ** 5.25588
    ground_t = float(rng.uniform(2.0, 28.0))
    oat = 273.15 + ground_t - float(rng.uniform(5.0, 7.5)) * (height - field) / 1000.0
    oat += np.where(in_air, 0.0, 2.0) + noise(0.15)
    density = sigma_p * 288.15 / oat
    gust = ndimage.gaussian_filter1d(rng.normal(size=count), 3.0) * 1.6 * in_air
    ias = np.maximum(speed + gust, 0.0)
    tas = ias / np.sqrt(density)
    heading_true = (float(rng.uniform(0, 360)) + np.cumsum(turn)) % 360.0
    wind_ms, wind_from = float(rng.uniform(2.0, 9.0)), float(rng.uniform(0, 360))
    wind = np.where(in_air, wind_ms, 0.0)
    east = tas * np.sin(np.radians(heading_true)) - wind * np.sin(np.radians(wind_from))
    north = tas * np.cos(np.radians(heading_true)) - wind * np.cos(np.radians(wind_from))
    gs = np.hypot(east, north)
    track = np.where(gs > 0.5, np.degrees(np.arctan2(east, north)) % 360.0, heading_true)
    latitude = float(rng.uniform(35, 60)) + np.degrees(np.cumsum(north) / EARTH_M)
    longitude = float(rng.choice([-1, 1]) * rng.uniform(2, 100))
    longitude = longitude + np.degrees(np.cumsum(east) / EARTH_M / np.cos(np.radians(latitude)))
    variation = float(rng.choice([-1, 1]) * rng.uniform(2.0, 14.0))
    share = np.where(in_air, np.where(climb > 1.0, 1.0, np.where(climb < -1.0, 0.35, 0.66)), 0.12)
    share = np.where(~in_air & (np.abs(np.gradient(speed)) > 0.8) & (np.gradient(speed) > 0), 1.0,
                     share)
    share = ndimage.gaussian_filter1d(share, 2.0)
    power = 85_000.0 * share * (1.0 - 0.00009 * (pressure_altitude - field))
    rpm = (1000.0 + 1650.0 * share ** 0.6 + noise(8.0)) / 60.0
    flow = (3.0 + 27.0 * power / 85_000.0 + noise(0.3)) / 3.6e6
    bank = np.degrees(np.arctan(np.radians(turn) * tas / G)) + noise(0.8)
    oil = 330.0 + 30.0 * (1 - np.exp(-np.arange(count) / 500.0)) + noise(0.3)
    fuel = 0.095 - np.cumsum(flow) + 0.0
    temps = {f"cht{n}": 400.0 + 50.0 * ndimage.gaussian_filter1d(share, 60) + 3 * n + noise(0.5)
             for n in range(1, 5)}
    temps |= {f"egt{n}": 850.0 + 180.0 * ndimage.gaussian_filter1d(share, 8) + 9 * n + noise(2.0)
              for n in range(1, 5)}
    return {
        "latitude": latitude, "longitude": longitude,
        "gps_altitude": height + float(rng.normal(0, 8)) + ndimage.gaussian_filter1d(
            noise(1.0), 20) * 10.0,
        "ground_speed": np.maximum(gs + noise(0.15), 0.0), "track": track,
        "heading": (heading_true - variation) % 360.0, "heading_true": heading_true,
        "track_magnetic": (track - variation) % 360.0,
        "indicated_airspeed": np.where(ias < 10.0, 0.0, ias + noise(0.25)),
        "true_airspeed": np.where(ias < 10.0, 0.0, tas + noise(0.25)),
        "pressure_altitude": pressure_altitude + noise(0.8),
        "indicated_altitude": height + noise(0.8),
        "altimeter_setting": np.full(count, round(qnh / 100.0) * 100.0),
        "vertical_speed": ndimage.shift(ndimage.gaussian_filter1d(climb, 1.0), 1.0, mode="nearest")
        + noise(0.1),
        "outside_air_temperature": oat, "engine_speed": rpm, "propeller_speed": rpm / 2.0,
        "manifold_pressure": 101_325.0 * sigma_p * (0.35 + 0.62 * share) + noise(100.0),
        "fuel_flow": np.maximum(flow, 0.0), "fuel_quantity": fuel, "power": power,
        "pitch": 1.5 + 57.3 * np.where(in_air, climb / np.maximum(tas, 10.0), 0.0) + noise(0.4),
        "roll": bank, "normal_acceleration": 1.0 / np.cos(np.radians(bank)) + noise(0.03),
        "oil_temperature": oil, "oil_pressure": 3.5e5 + 5e4 * share + noise(2e3),
        "fuel_pressure": 2.4e5 + noise(2e3), "wind_speed": wind + noise(0.3),
        "wind_from": (wind_from + noise(6.0)) % 360.0, "volts": 13.8 + noise(0.05),
        "amps": 7.0 + noise(0.8), "elapsed": np.arange(count, dtype=float),
        "satellites": np.round(11 + noise(1.0)), "agl": np.maximum(height - field, 0.0),
        "left_fuel": fuel * 0.52, "right_fuel": fuel * 0.48, "cruise": np.full(count, cruise),
        "hdop": 0.9 + np.abs(noise(0.1)), "density_altitude": 1.2 * pressure_altitude + 90.0,
        "lateral_acceleration": noise(0.02), "course_selected": np.full(count, 90.0),
        "altitude_selected": np.full(count, 914.4), **temps,
    }
