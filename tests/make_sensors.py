"""What sensors and a recorder make of a made flight: delays, filters, noise, rounding, holes.

The true delays are kept, so that what is estimated from a recording can be held against them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

if TYPE_CHECKING:
    from tests.make_flights import Plan

FloatArray = NDArray[np.float64]

STEP_S = 0.05
GRAVITY = 9.80665
#: Airspeed at which nothing is left of the static jump [m/s].
JUMP_GONE_MS = 22.0
#: Pressure of a metre of air at sea level [Pa/m], and its density [kg/m^3].
PRESSURE_PA_M, DENSITY_KG_M3 = 12.01, 1.225


@dataclass(frozen=True)
class Suite:
    """Sensors of one airplane; delays [s]."""

    gps_pure_s: float
    gps_filter_s: float
    gps_window: bool
    gps_height_more_s: float
    airspeed_lag_s: float
    static_lag_s: float
    vertical_speed_lag_s: float
    attitude_delay_s: float
    load_filter_s: float
    jump_m: float
    dead_ms: float
    elevation_m: float
    cross_ms: float

    def truth(self) -> dict[str, float]:
        """True delays, each as a whole."""
        gps = self.gps_pure_s + self.gps_filter_s
        return {
            "gps_delay_s": gps,
            "airspeed_delay_s": self.airspeed_lag_s - gps,
            "static_delay_s": self.static_lag_s,
            "jump_m": self.jump_m,
        }


def draw_suite(rng: np.random.Generator, delays: bool) -> Suite:
    """Draw the sensors of a flight; without `delays`, good ones with small delays."""
    uniform = rng.uniform
    gps = float(uniform(0.0, 1.5 if delays else 0.4))
    share = float(uniform(0.0, 0.5 if delays else 1.0))
    return Suite(
        gps_pure_s=gps * (1 - share),
        gps_filter_s=gps * share,
        gps_window=bool(rng.random() < 0.5),
        gps_height_more_s=float(uniform(0.0, 0.1)),
        airspeed_lag_s=float(uniform(0.15, 1.2)) if delays else 0.4,
        static_lag_s=float(uniform(0.4, 1.2)),
        vertical_speed_lag_s=float(uniform(0.4, 1.2)) if delays else 0.7,
        attitude_delay_s=float(uniform(0.0, 0.2)) if delays else 0.1,
        load_filter_s=float(uniform(0.0, 0.3)) if delays else 0.0,
        jump_m=float(uniform(1.0, 14.0)),
        dead_ms=float(rng.choice([0.0, 5.0, 11.0])),
        elevation_m=float(uniform(0.0, 500.0)),
        cross_ms=float(uniform(-3.0, 3.0)),
    )


def _lagged(values: FloatArray, lag_s: float) -> FloatArray:
    """First-order lag."""
    share = STEP_S / (lag_s + STEP_S)
    padded = values - values[0]
    kernel = share * (1 - share) ** np.arange(int(8 * lag_s / STEP_S) + 2)
    return values[0] + np.convolve(padded, kernel)[: len(values)]


def _late(values: FloatArray, delay_s: float) -> FloatArray:
    """The same, later."""
    time = np.arange(len(values)) * STEP_S
    return np.interp(time - delay_s, time, values)


def _gps(values: FloatArray, suite: Suite, more_s: float = 0.0) -> FloatArray:
    """What a receiver gives: filtered (a lag, or a mean over a time), and late."""
    if suite.gps_window and suite.gps_filter_s > STEP_S:
        width = max(round(2 * suite.gps_filter_s / STEP_S), 1)
        filtered = ndimage.uniform_filter1d(values, width, mode="nearest")
        return _late(filtered, suite.gps_pure_s + more_s + width * STEP_S / 2)
    return _late(_lagged(values, suite.gps_filter_s), suite.gps_pure_s + more_s)


def jump_left(airspeed_ms: float | FloatArray) -> FloatArray:
    """Part of the static jump at an airspeed [-]; beyond where nothing is left it turns round."""
    return np.clip(1 - np.asarray(airspeed_ms) / JUMP_GONE_MS, -0.2, 1)


def _over_ground(
    column: dict[str, FloatArray], runway_rad: float, cross_ms: float
) -> tuple[FloatArray, FloatArray]:
    """Ground speed and track in the wind, which blows along the runway, and across it aloft."""
    wheels, heading = column["wheels"] > 0.5, column["heading"]
    headwind = ndimage.gaussian_filter1d(column["airspeed"] - column["speed"], 15 / STEP_S)
    through = column["speed"] + headwind
    aloft = ndimage.gaussian_filter1d(np.where(wheels, 0.0, 1.0), 8 / STEP_S)
    turned = heading - runway_rad
    along = through * np.cos(turned) - headwind
    across = through * np.sin(turned) + cross_ms * np.where(wheels, 0.0, aloft)
    still = wheels | (column["speed"] < 3.0)
    speed = np.where(still, column["speed"], np.hypot(along, across))
    drift = np.where(still, 0.0, np.arctan2(across, along) - turned)
    return speed, heading + (drift + np.pi) % (2 * np.pi) - np.pi


def _signals(
    suite: Suite, column: dict[str, FloatArray], runway_rad: float
) -> dict[str, FloatArray]:
    """Lagging sensors, without noise yet."""
    engine, airspeed = column["engine"], column["airspeed"]
    height = column["height"] + suite.elevation_m
    jump = suite.jump_m * np.clip((engine - 0.6) / 0.3, 0, 1)
    jump = jump * jump_left(airspeed)
    static = _lagged(height + jump, suite.static_lag_s)
    calibrated = airspeed * np.sqrt(1 - 2.2e-5 * height) ** 2.1
    impact = calibrated**2 + 2 * PRESSURE_PA_M * jump / DENSITY_KG_M3
    indicated = _lagged(np.sqrt(np.clip(impact, 0, None)), suite.airspeed_lag_s)
    indicated = np.where(indicated < suite.dead_ms, 0.0, indicated)
    speed, track = _over_ground(column, runway_rad, suite.cross_ms)
    turn = np.gradient(column["heading"], STEP_S)
    roll = np.where(column["wheels"] > 0.5, 0.0, np.arctan(airspeed * turn / GRAVITY))
    roll = ndimage.gaussian_filter1d(roll, 0.3 / STEP_S)
    return {
        "ground_speed": _gps(speed, suite),
        "gps_altitude": _gps(height + 12.0, suite, suite.gps_height_more_s),
        "pressure_altitude": static + 40.0,
        "indicated_airspeed": indicated,
        "vertical_speed": _lagged(np.gradient(static, STEP_S), suite.vertical_speed_lag_s),
        "engine_speed": _lagged(engine, 0.3) * 45.0,
        "power": _lagged(engine, 0.3) ** 3 * 75e3,
        "pitch": _late(column["pitch"], suite.attitude_delay_s),
        "roll": _late(roll, suite.attitude_delay_s),
        "normal_acceleration": _lagged(column["load"], suite.load_filter_s),
        "heading": _late(column["heading"], suite.attitude_delay_s),
        "track": _gps(track, suite) + 0.02,
        "outside_air_temperature": 288.0 - 0.0065 * column["height"],
        "fuel_flow": _lagged(engine, 0.5) ** 3 * 6.5e-6,
    }


def record(
    rng: np.random.Generator,
    suite: Suite,
    column: dict[str, FloatArray],
    runway_rad: float,
    rate_hz: float,
    plan: Plan,
    begins_s: float,
) -> tuple[FloatArray, dict[str, FloatArray]]:
    """Sample the sensors: times since the start of the flight, and channels."""
    fine = np.arange(len(column["speed"])) * STEP_S
    signals = _signals(suite, column, runway_rad)
    time = _stamps(rng, float(fine[-1]), rate_hz, plan.holes)
    time = time[time >= begins_s]
    channels = {
        name: np.interp(time, fine, values) if name not in ("track", "heading") else
        np.interp(time, fine, values) % (2 * np.pi)
        for name, values in signals.items() if name not in plan.missing
    }
    _noise(rng, channels, time, plan)
    return time, channels


def _stamps(
    rng: np.random.Generator, end_s: float, rate_hz: float, holes: bool
) -> FloatArray:
    """Sample times: not exactly even, repeats spread between neighbours, some lost."""
    interval = 1 / rate_hz * float(rng.uniform(1.0, 1.05))
    time = np.arange(0, end_s, interval)
    time += rng.uniform(-0.2, 0.2, size=len(time)) * interval
    time = np.sort(np.clip(time, 0, end_s))
    if holes:
        time = time[rng.random(len(time)) > 0.01]
    return np.unique(time)


#: Standard deviation of the noise, rounding and coarse rounding of each channel, SI.
NOISE = {
    "ground_speed": (0.08, 0.0514, 0.514),
    "gps_altitude": (0.15, 0.03048, 1.0),
    "pressure_altitude": (0.2, 0.3048, 3.048),
    "indicated_airspeed": (0.2, 0.0514, 0.514),
    "vertical_speed": (0.1, 0.0508, 0.254),
    "engine_speed": (0.02, 10 / 60, 50 / 60),
    "power": (300.0, 100.0, 750.0),
    "pitch": (0.003, 0.0017, 0.0087),
    "roll": (0.005, 0.0017, 0.0175),
    "normal_acceleration": (0.005, 0.01, 0.02),
    "heading": (0.004, 0.0017, 0.0175),
    "track": (0.01, 0.017, 0.0175),
    "outside_air_temperature": (0.05, 0.1, 1.0),
    "fuel_flow": (2e-8, 2e-8, 1e-7),
}


def _noise(
    rng: np.random.Generator, channels: dict[str, FloatArray], time: FloatArray, plan: Plan
) -> None:
    for name, values in channels.items():
        spread, fine, coarse = NOISE[name]
        unit = coarse if plan.coarse else fine
        values += rng.normal(scale=spread, size=len(values))
        if name == "gps_altitude":
            steps = rng.normal(scale=0.06, size=len(values)) * np.sqrt(
                np.gradient(time) if len(time) > 1 else 1.0
            )
            values += np.cumsum(steps) - np.cumsum(steps).mean()
        if name == "track" and "ground_speed" in channels:
            values[channels["ground_speed"] < 2] = np.nan
        if name == "ground_speed":
            np.clip(values, 0, None, out=values)
        values[:] = np.round(values / unit) * unit
        if plan.holes:
            for _ in range(2):
                start = rng.uniform(time[0], time[-1])
                values[(time > start) & (time < start + rng.uniform(0.5, 2.5))] = np.nan
