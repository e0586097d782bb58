"""Made tracks of made flights: positions on the ellipsoid, written as GPX, IGC and NMEA 0183.

The place is in the open sea. The way is integrated along speed and heading of `make_flights`, every
0.05 s, with the series of the meridian's and the parallel's degree, not with the formulas of the
library.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.make_flights import COLUMNS, EPOCH_S, STEP_S, Plan, Truth, fly, random_plan

FloatArray = NDArray[np.float64]

START = (44.0, -30.0)
KNOT = 1852.0 / 3600.0
CALM = Plan(holes=False)


@dataclass(frozen=True)
class Way:
    """Where an airplane was, every 0.05 s."""

    time_s: FloatArray
    latitude: FloatArray
    longitude: FloatArray
    altitude: FloatArray
    speed: FloatArray
    heading: FloatArray
    truth: Truth

    def at(self, time_s: FloatArray) -> dict[str, FloatArray]:
        """Sample it."""
        found = {name: np.interp(time_s, self.time_s, getattr(self, name))
                 for name in ("latitude", "longitude", "altitude", "speed")}
        found["heading"] = np.interp(time_s, self.time_s, np.unwrap(self.heading)) % (2 * np.pi)
        return found


def make_way(seed: int, plan: Plan | None = None) -> Way:
    """Fly a made flight and integrate its way."""
    rng = np.random.default_rng(seed)
    flown, rows = fly(rng, random_plan(rng) if plan is None else plan)
    column = dict(zip(COLUMNS, rows.T, strict=True))
    north, east = (np.concatenate(([0.0], np.cumsum((rate[1:] + rate[:-1]) / 2.0) * STEP_S))
                   for rate in (column["speed"] * np.cos(column["heading"]),
                                column["speed"] * np.sin(column["heading"])))
    latitude = START[0] + north / meridian_degree_m(START[0])
    longitude = START[1] + east / parallel_degree_m(latitude)
    return Way(EPOCH_S + np.arange(len(rows)) * STEP_S, latitude, longitude,
               column["height"] + 12.0, column["speed"], column["heading"], flown.truth)


def meridian_degree_m(latitude: float | FloatArray) -> float | FloatArray:
    """Length of a degree of latitude; series of the tables of the ellipsoid, from memory."""
    angle = np.radians(latitude)
    return 111_132.954 - 559.822 * np.cos(2 * angle) + 1.175 * np.cos(4 * angle)


def parallel_degree_m(latitude: float | FloatArray) -> float | FloatArray:
    """Length of a degree of longitude; series of the tables of the ellipsoid, from memory."""
    angle = np.radians(latitude)
    return 111_412.84 * np.cos(angle) - 93.5 * np.cos(3 * angle) + 0.118 * np.cos(5 * angle)


def clock(seconds: float, form: str, decimals: int = 0) -> str:
    """Write a moment; a form with S takes decimals of it."""
    whole = round(seconds, decimals)
    moment = datetime.datetime.fromtimestamp(int(whole // 1), datetime.UTC)
    rest = f"{whole % 1:.{decimals}f}"[1:] if decimals else ""
    return moment.strftime(form).replace("~", rest)


def gpx(way: Way, time_s: FloatArray, stamp_s: FloatArray, digits: int = 6,
        speeds: bool = False) -> bytes:
    """Write a GPX document; `stamp_s` is what its clock says at `time_s`."""
    here = way.at(time_s)
    lines = ['<?xml version="1.0" encoding="UTF-8"?>',
             '<gpx version="1.1" creator="made" xmlns="http://www.topografix.com/GPX/1/1">',
             "<trk><trkseg>"]
    for place, stamp in enumerate(stamp_s):
        speed = f"<speed>{here['speed'][place]:.2f}</speed>" if speeds else ""
        lines.append(
            f'<trkpt lat="{here["latitude"][place]:.{digits}f}" '
            f'lon="{here["longitude"][place]:.{digits}f}"><ele>{here["altitude"][place]:.1f}</ele>'
            f"<time>{clock(stamp, '%Y-%m-%dT%H:%M:%S~Z', 2)}</time>{speed}</trkpt>")
    return "\n".join([*lines, "</trkseg></trk></gpx>", ""]).encode()


def degrees_minutes(value: float, width: int, decimals: int) -> str:
    """Write degrees and decimal minutes as one number, without the point."""
    total = round(abs(value) * 60 * 10**decimals)
    degrees, minutes = divmod(total, 60 * 10**decimals)
    return f"{degrees:0{width}d}{minutes:0{decimals + 2}d}"


def igc(way: Way, time_s: FloatArray, stamp_s: FloatArray) -> bytes:
    """Write an IGC record with pressure altitude 40 m below satellite altitude."""
    here = way.at(time_s)
    lines = ["AXXX001 made", clock(float(stamp_s[0]), "HFDTE%d%m%y")]
    for place, stamp in enumerate(stamp_s):
        latitude, longitude = here["latitude"][place], here["longitude"][place]
        altitude = round(here["altitude"][place])
        lines.append(f"B{clock(stamp, '%H%M%S')}{degrees_minutes(latitude, 2, 3)}"
                     f"{'N' if latitude >= 0 else 'S'}{degrees_minutes(longitude, 3, 3)}"
                     f"{'E' if longitude >= 0 else 'W'}A{altitude - 40:05d}{altitude:05d}")
    return "\r\n".join([*lines, "G0123456789ABCDEF", ""]).encode()


def sentence(body: str) -> str:
    """Add the checksum to a sentence: all characters between $ and * exclusive-ored."""
    total = 0
    for character in body:
        total ^= ord(character)
    return f"${body}*{total:02X}"


def nmea(way: Way, time_s: FloatArray, stamp_s: FloatArray, decimals: int = 1) -> bytes:
    """Write an NMEA 0183 log of RMC and GGA."""
    here = way.at(time_s)
    lines = []
    for place, stamp in enumerate(stamp_s):
        position = []
        for value, width, signs in ((here["latitude"][place], 2, "NS"),
                                    (here["longitude"][place], 3, "EW")):
            text = degrees_minutes(value, width, 4)
            position += [f"{text[:-4]}.{text[-4:]}", signs[int(value < 0)]]
        now = clock(stamp, "%H%M%S~", decimals)
        course = np.degrees(here["heading"][place])
        lines.append(sentence(
            f"GPRMC,{now},A,{','.join(position)},{here['speed'][place] / KNOT:.1f},{course:.1f},"
            f"{clock(stamp, '%d%m%y')},,,A"))
        lines.append(sentence(f"GPGGA,{now},{','.join(position)},1,08,1.0,"
                              f"{here['altitude'][place]:.1f},M,47.0,M,,"))
    return "\r\n".join([*lines, ""]).encode()


def panel(way: Way, time_s: FloatArray, stamp_s: FloatArray, seed: int = 0) -> bytes:
    """Write a panel recording (CSV): ground speed and airspeed in knots."""
    rng = np.random.default_rng([seed, 7])
    here = way.at(time_s)
    speed = np.clip(here["speed"] + rng.normal(scale=0.1, size=time_s.size), 0, None) / KNOT
    airspeed = np.clip(here["speed"] / KNOT + 6.0, 0, None)
    rows = [f"{stamp:.2f},{one:.1f},{two:.1f}"
            for stamp, one, two in zip(stamp_s, speed, airspeed, strict=True)]
    return "\n".join(["t,GS,IAS", *rows, ""]).encode()


PANEL = """\
delimiter = ","
header_rows = [1]
time = { columns = ["t"], format = "epoch seconds" }
[channels]
ground_speed = { column = "GS", unit = "kt" }
indicated_airspeed = { column = "IAS", unit = "kt" }
"""
