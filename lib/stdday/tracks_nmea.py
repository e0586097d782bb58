"""NMEA 0183 tracks: RMC, GGA and VTG sentences, read by pynmea2, put together by moment."""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass, field

import numpy as np
import pynmea2

from stdday.recording_types import Finding, FloatArray, refused
from stdday.tracks_kind import NMEA, track_text
from stdday.tracks_types import (
    CUT_OFF,
    DAMAGED,
    NO_CHECKSUM,
    NOT_VALID,
    OTHER,
    WRONG_CHECKSUM,
    Fixes,
)

__all__ = ["read_nmea"]

_SENTENCE = re.compile(r"\$[A-Z]{2}(RMC|GGA|VTG),[ -~]{0,200}\Z", re.ASCII)
_ANY = re.compile(r"[$!][A-Z]{1,2}[A-Z0-9]{2,}[,*]", re.ASCII)
_CHECKSUM = re.compile(r"\*[0-9A-Fa-f]{2}\Z")
_COORDINATE = re.compile(r"\d{3,5}\.\d{1,12}\Z", re.ASCII)
_CLOCK = re.compile(r"\d{6}(\.\d{1,9})?\Z", re.ASCII)
_SAME_MOMENT = "part of the fix in another line"
_DAY_S = 86_400.0
_KNOT_MS = 1852.0 / 3600.0
#: Modes of a fix that a satellite receiver measured; not estimated, by hand, simulated or none.
_MEASURED = ("", "A", "D", "F", "P", "R")


@dataclass
class _Moment:
    """What the sentences of one moment say."""

    clock_s: float
    lines: int = 0
    valid: bool = True
    day_s: float = float("nan")
    values: dict[str, float] = field(default_factory=dict)

    def say(self, name: str, value: float | None) -> None:
        if value is not None:
            self.values.setdefault(name, value)


class _Damaged(ValueError):
    """A field that cannot be read."""


def read_nmea(data: bytes, name: str, date: datetime.date | None) -> Fixes:
    r"""Read the fixes of an NMEA 0183 log.

    Position, ground speed, true track and date come from RMC, altitude above mean sea level from
    GGA, and ground speed and track from VTG (which has no time and belongs to the sentence before
    it) where RMC gives none.

    Parameters
    ----------
    data : bytes
        Content of the file, unpacked.
    name : str
        Its name in messages.
    date : datetime.date or None
        Date of the flight, where the file has none.

    Returns
    -------
    Fixes
        One row a line; lines of the same moment make one fix, and the others of them are counted as
        parts of it.

    Raises
    ------
    CampaignError
        It holds no fix, or no date and none is known.

    Examples
    --------
    >>> fixes = read_nmea(b"$GPRMC,100000,A,5030.000,N,00815.000,E,10.0,82.0,010524,,,A*72\n",
    ...                   "a.nmea", None)
    >>> fixes.utc_s, fixes.channels["latitude"], fixes.channels["ground_speed"]
    (array([1.7145576e+09]), array([50.5]), array([5.14444444]))
    """
    text = track_text(data, name)
    lines = text.splitlines()
    reader = _Reader(_has_checksums(lines))
    whole = text.endswith(("\n", "\r"))
    for place, line in enumerate(lines):
        if whole or place < len(lines) - 1 or _CHECKSUM.search(line):
            reader.take(line.strip())
        else:
            reader.count(CUT_OFF)
    moments = [moment for moment in reader.moments if moment.valid and moment.values]
    reader.count(NOT_VALID, sum(one.lines for one in reader.moments if not one.valid))
    reader.count(DAMAGED, sum(one.lines for one in reader.moments
                              if one.valid and not one.values))
    reader.count(_SAME_MOMENT, sum(one.lines - 1 for one in moments))
    if not moments:
        raise refused(name, "", "valid RMC or GGA sentences", reader.told() or "none",
                      "see that it is the whole log, recorded with a view of the sky")
    utc_s, dated = _utc(moments, date, name)
    names = list(dict.fromkeys(key for moment in moments for key in moment.values))
    channels = {key: np.array([moment.values.get(key, np.nan) for moment in moments])
                for key in names}
    return Fixes(name, NMEA, utc_s, channels, len(lines), reader.set_aside, dated,
                 reader.findings(name), 10.0**-reader.decimals / 60.0)


def _has_checksums(lines: list[str]) -> bool:
    """Whether most sentences carry a checksum, so that one without it is damaged."""
    sentences = [line.strip() for line in lines if line.startswith("$")]
    return 2 * sum(bool(_CHECKSUM.search(line)) for line in sentences) > len(sentences)


class _Reader:
    """Put sentences together by moment."""

    def __init__(self, checked: bool) -> None:
        self.checked = checked
        self.moments: list[_Moment] = []
        self.set_aside: dict[str, int] = {}
        self.decimals = 0    # of the minutes of positions

    def count(self, reason: str, lines: int = 1) -> None:
        if lines:
            self.set_aside[reason] = self.set_aside.get(reason, 0) + lines

    def told(self) -> str:
        """Why lines were set aside, in words."""
        return ", ".join(f"{count} {reason}" for reason, count in self.set_aside.items())

    def findings(self, name: str) -> list[Finding]:
        """What a person should know."""
        found = []
        if not self.checked:
            found.append(Finding("caution", f"{name}: its sentences have no checksums",
                                 "a damaged number in it cannot be told"))
        wrong = self.set_aside.get(WRONG_CHECKSUM, 0)
        if wrong:
            found.append(Finding("caution", f"{name}: {wrong} sentences have a wrong checksum",
                                 "they were damaged on the way and are not used"))
        return found

    def take(self, line: str) -> None:
        """Read one line."""
        known = _SENTENCE.match(line)
        if known is None:
            self.count(OTHER if _ANY.match(line) or not line else DAMAGED)
            return
        if self.checked and not _CHECKSUM.search(line):
            self.count(NO_CHECKSUM)
            return
        try:
            sentence = pynmea2.parse(line)
            {"RMC": self._rmc, "GGA": self._gga, "VTG": self._vtg}[known[1]](sentence)
        except pynmea2.ChecksumError:
            self.count(WRONG_CHECKSUM)
        except (pynmea2.ParseError, _Damaged):
            self.count(DAMAGED)

    def _position(self, sentence: pynmea2.RMC | pynmea2.GGA) -> tuple[float, float]:
        position = _position(sentence)
        self.decimals = max(self.decimals, len(str(sentence.lat).partition(".")[2]))
        return position

    def _moment(self, clock_s: float) -> _Moment:
        """Return the moment of a time of day: the last one, or a new one."""
        if not self.moments or self.moments[-1].clock_s != clock_s:
            self.moments.append(_Moment(clock_s))
        self.moments[-1].lines += 1
        return self.moments[-1]

    def _rmc(self, sentence: pynmea2.RMC) -> None:
        clock_s, day_s = _clock(sentence.data[0]), _day(sentence.datestamp)
        mode = sentence.data[11] if len(sentence.data) > 11 else ""
        valid = sentence.status == "A" and mode in _MEASURED
        position = self._position(sentence) if valid else None
        speed, course = _number(sentence.spd_over_grnd), _number(sentence.true_course)
        moment = self._moment(clock_s)
        moment.valid &= valid
        if np.isfinite(day_s):
            moment.day_s = day_s
        _say_position(moment, position)
        moment.say("ground_speed", None if speed is None else speed * _KNOT_MS)
        moment.say("track", None if course is None or course < 0.0 else np.radians(course))

    def _gga(self, sentence: pynmea2.GGA) -> None:
        clock_s = _clock(sentence.data[0])
        # 1 to 5: satellites; 0: none; 6 to 8: estimated, by hand, simulated
        valid = sentence.gps_qual in (1, 2, 3, 4, 5)
        position = self._position(sentence) if valid else None
        altitude = _number(sentence.altitude)
        if altitude is not None and sentence.altitude_units not in ("M", ""):
            raise _Damaged
        moment = self._moment(clock_s)
        moment.valid &= valid
        _say_position(moment, position)
        moment.say("gps_altitude", altitude)

    def _vtg(self, sentence: pynmea2.VTG) -> None:
        if not self.moments:
            self.count(OTHER)
            return
        speed, course = _number(sentence.data[4:5]), _number(sentence.true_track)
        moment = self.moments[-1]
        moment.lines += 1
        moment.say("ground_speed", None if speed is None else speed * _KNOT_MS)
        moment.say("track", None if course is None or course < 0.0 else np.radians(course))


def _number(value: object) -> float | None:
    """Return a number of a sentence; None where blank, an error where it is none."""
    if isinstance(value, list):
        value = value[0] if value else ""
    if value is None or value == "":
        return None
    try:
        number = float(str(value))
    except ValueError:
        raise _Damaged from None
    if not np.isfinite(number):
        raise _Damaged
    return number


def _clock(text: str) -> float:
    """Time of day [s]."""
    if not _CLOCK.match(text):
        raise _Damaged
    hours, minutes, seconds = int(text[:2]), int(text[2:4]), float(text[4:])
    if hours > 23 or minutes > 59 or seconds >= 61.0:
        raise _Damaged
    return 3600.0 * hours + 60.0 * minutes + seconds


def _day(value: object) -> float:
    """Seconds from 1970 to the midnight that begins a date; NaN where blank."""
    if isinstance(value, datetime.date):
        return (value - datetime.date(1970, 1, 1)).days * _DAY_S
    if value is None or value == "":
        return float("nan")
    raise _Damaged


def _position(sentence: pynmea2.RMC | pynmea2.GGA) -> tuple[float, float]:
    """Latitude and longitude [deg]."""
    if not (_COORDINATE.match(sentence.lat) and _COORDINATE.match(sentence.lon)
            and sentence.lat_dir in ("N", "S") and sentence.lon_dir in ("E", "W")):
        raise _Damaged
    latitude, longitude = float(sentence.latitude), float(sentence.longitude)
    if abs(latitude) > 90.0 or abs(longitude) > 180.0:
        raise _Damaged
    return latitude, longitude


def _say_position(moment: _Moment, position: tuple[float, float] | None) -> None:
    if position is not None:
        moment.say("latitude", position[0])
        moment.say("longitude", position[1])


def _utc(
    moments: list[_Moment], date: datetime.date | None, name: str
) -> tuple[FloatArray, bool]:
    """Time of each moment since 1970 [s]; one without a date is on the day of those beside it."""
    clock = np.array([moment.clock_s for moment in moments])
    day = np.array([moment.day_s for moment in moments])
    dated = bool(np.isfinite(day).any())
    if not dated:
        if date is None:
            raise refused(name, "RMC", "the date of the flight, as the file has none", "none",
                          "write the date in flights.csv")
        day[0] = (date - datetime.date(1970, 1, 1)).days * _DAY_S
    first = int(np.flatnonzero(np.isfinite(day))[0])
    order = [*range(first - 1, -1, -1), *range(first + 1, clock.size)]
    for place in order:
        if np.isfinite(day[place]):
            continue
        beside = place + 1 if place < first else place - 1
        # the nearest of the same time on three days: over midnight it is the next or the last one
        turn = np.round((clock[beside] - clock[place]) / _DAY_S)
        day[place] = day[beside] + turn * _DAY_S
    return day + clock, dated
