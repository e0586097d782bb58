"""A flight in which nothing is wrong, as samples and as a file, for what is to be spoilt in it."""

from __future__ import annotations

import math

import numpy as np

from stdday.columns import header_fingerprint
from stdday.recording_types import FloatArray
from tests.read_invented import TEN

N = 2400
ELEVATION_M = 120.0
VARIATION_DEG = 13.0

Channels = dict[str, FloatArray]


def flight(seed: int = 1, rows: int = N) -> tuple[FloatArray, Channels]:
    """A flight of 40 minutes in which nothing is wrong: roll, climb, boxes, descent, landing.

    Sea-level pressure and temperature are standard, the wind blows 5 m/s from the west.
    """
    rng = np.random.default_rng(seed)
    time = np.arange(float(rows))
    speed = np.interp(time, [0, 200, 225, 2100, 2200, 2260, 2400], [0, 0, 30, 50, 35, 0, 0])
    speed += np.where((time > 300) & (time < 2000), 3.0 * np.sin(time / 37.0), 0.0)
    over = np.interp(time, [0, 222, 700, 1600, 2200, 2400], [0, 0, 900, 900, 0, 0])
    over += np.where((time > 700) & (time < 1600), 40.0 * np.sin(time / 60.0)
                     * np.sin(math.pi * (time - 700) / 900) ** 2, 0.0)
    height = ELEVATION_M + over
    heading = np.radians(np.interp(time, [0, 400, 1900, 2400], [80, 80, 1520, 1520]))
    air = 288.15 - 0.0065 * height
    true = speed
    ratio = (1.0 - 0.0065 * height / 288.15) ** 4.2559
    wind = np.where(over > 5.0, 5.0, 0.0)
    east, north = true * np.sin(heading) + wind, true * np.cos(heading)
    moving = np.hypot(east, north) > 0.5
    latitude = 38.0 + np.cumsum(north) / 6_371_000.0 * 180.0 / math.pi
    shrink = math.cos(math.radians(38.0))
    longitude = -122.0 + np.cumsum(east) / 6_371_000.0 / shrink * 180.0 / math.pi
    work = np.interp(time, [0, 199, 202, 700, 705, 1600, 1605, 2200, 2205, 2400],
                     [.2, .2, 1., .95, .7, .7, .4, .4, .2, .2])
    work = work * (1.0 + 0.02 * np.sin(time / 23.0))
    power = 78_000.0 * work
    flow = power * 285.0 / 3.6e9 / 720.0    # 285 g/kWh, petrol

    def noisy(values: FloatArray, sigma: float) -> FloatArray:
        return np.asarray(values + sigma * rng.standard_normal(values.shape))

    track = np.where(moving, np.arctan2(east, north), heading)
    return TEN + time, {
        "latitude": latitude, "longitude": longitude,
        "ground_speed": np.abs(noisy(np.hypot(east, north), 0.15)),
        "track": np.mod(noisy(track, 0.01), 2 * math.pi),
        "heading": np.mod(noisy(heading, 0.01) - math.radians(VARIATION_DEG), 2 * math.pi),
        "gps_altitude": noisy(height, 1.5),
        "indicated_altitude": noisy(height, 0.5), "pressure_altitude": noisy(height, 0.5),
        "altimeter_setting": np.full(rows, 101_325.0),
        "vertical_speed": noisy(np.gradient(height), 0.2),
        "indicated_airspeed": noisy(true * np.sqrt(ratio), 0.3),
        "true_airspeed": noisy(true, 0.3),
        "outside_air_temperature": np.round(noisy(air, 0.05), 1),
        "engine_speed": noisy(20.0 + 60.0 * work, 0.1),
        "manifold_pressure": noisy(101_325.0 * ratio**1.235 * (0.3 + 0.68 * work), 100.0),
        "fuel_flow": noisy(flow, 1e-8), "power": noisy(power, 50.0),
        "fuel_quantity": noisy(0.08 - np.cumsum(flow), 1e-4),
        "exhaust_gas_temperature_1": noisy(700.0 + 300.0 * work, 2.0),
        "exhaust_gas_temperature_2": noisy(710.0 + 300.0 * work, 2.0),
        "exhaust_gas_temperature_3": noisy(705.0 + 300.0 * work, 2.0),
        "cylinder_head_temperature": noisy(380.0 + 60.0 * work, 0.5),
    }


FILE_COLUMNS = """\
delimiter = ","
header_rows = [1]
header = "{header}"
time = {{ columns = ["time"], format = "epoch seconds" }}
[channels]
"""

#: Columns of the file: unit, decimals, and what stands behind the channel.
WRITTEN = {
    "latitude": ("deg", 6, ""), "longitude": ("deg", 6, ""), "gps_altitude": ("m", 1, ""),
    "ground_speed": ("m/s", 2, ""), "track": ("rad", 4, ', reference = "true"'),
    "heading": ("rad", 4, ', reference = "magnetic"'), "indicated_airspeed": ("m/s", 2, ""),
    "indicated_altitude": ("m", 1, ""), "altimeter_setting": ("Pa", 0, ""),
    "vertical_speed": ("m/s", 2, ""), "outside_air_temperature": ("K", 2, ""),
    "engine_speed": ("rev/s", 3, ""), "manifold_pressure": ("Pa", 0, ""),
    "fuel_flow": ("m^3/s", 11, ""), "power": ("W", 0, ""),
}


def flight_file(seed: int = 1, rows: slice = slice(100, 1000)) -> tuple[bytes, str]:
    """The flight as CSV, a second a row, and its columns file."""
    time_s, channels = flight(seed)
    lines = [",".join(["time", *WRITTEN])]
    samples = {name: channels[name][rows] for name in WRITTEN}
    for row, moment in enumerate(time_s[rows]):
        cells = [f"{samples[name][row]:.{decimals}f}"
                 for name, (_, decimals, _) in WRITTEN.items()]
        lines.append(",".join([f"{moment:.0f}", *cells]))
    columns = FILE_COLUMNS.format(header=header_fingerprint(["time", *WRITTEN]))
    for name, (unit, _, more) in WRITTEN.items():
        columns += f'{name} = {{ column = "{name}", unit = "{unit}"{more} }}\n'
    return ("\n".join(lines) + "\n").encode(), columns
