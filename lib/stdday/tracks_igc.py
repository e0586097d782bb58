"""IGC flight records: B, I and HFDTE records, by a small reader of our own.

No library for the format has a wheel, and what is needed of it is four records of fixed columns.
The format is that of the international gliding commission's technical specification for GNSS flight
recorders, appendix A (from memory where a record is concerned; the positions of every column are
checked against made files in the tests). Its security record is not verified.
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass, field

import numpy as np

from stdday.recording_types import Finding, FloatArray, refused
from stdday.tracks_kind import IGC, track_text
from stdday.tracks_types import CUT_OFF, DAMAGED, NOT_VALID, OTHER, Fixes

__all__ = ["read_igc"]

_FIX = re.compile(r"B([01]\d|2[0-3])([0-5]\d)([0-5]\d)"
                  r"(\d\d)([0-5]\d{4})([NS])(\d{3})([0-5]\d{4})([EW])([AV])"
                  r"(-\d{4}|\d{5})(-\d{4}|\d{5})", re.ASCII)
_DATE = re.compile(r"HFDTE(?:DATE)?:?\s*(\d\d)(\d\d)(\d\d)", re.ASCII)
_DATUM = re.compile(r"H[FOP]ALG(?:ALTGPS)?:?\s*(ELL|GEO|NIL|NKN)")
_EXTENSION = re.compile(r"(\d\d)(\d\d)([A-Z0-9]{3})", re.ASCII)
_LONGEST = 1_000
_KMH_MS = 1.0 / 3.6
_DAY_S = 86_400.0

#: Extensions that are read: more digits of position and time; ground speed, true track.
_WANTED = ("LAD", "LOD", "TDS", "GSP", "TRT")


@dataclass
class _Lines:
    """What has been read of the lines so far."""

    rows: list[tuple[float, ...]] = field(default_factory=list)
    days: list[datetime.date] = field(default_factory=list)
    places: dict[str, slice] = field(default_factory=dict)
    width: int = 0
    datum: str = ""
    not_valid: int = 0
    set_aside: dict[str, int] = field(default_factory=dict)

    def count(self, reason: str) -> None:
        self.set_aside[reason] = self.set_aside.get(reason, 0) + 1


def read_igc(data: bytes, name: str, date: datetime.date | None) -> Fixes:
    r"""Read the fixes of an IGC record.

    Pressure altitude is that of the standard atmosphere. A fix marked V has no valid position or
    satellite altitude; its pressure altitude is kept where the recorder has a pressure sensor.

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
        One row a line.

    Raises
    ------
    CampaignError
        It holds no fix, or no date and none is known.

    Examples
    --------
    >>> fixes = read_igc(b"AXXX001\nHFDTE010524\nB1000005030000N00815000EA0010000148\n", "a.igc",
    ...                  None)
    >>> fixes.utc_s, fixes.channels["latitude"], fixes.channels["pressure_altitude"]
    (array([1.7145576e+09]), array([50.5]), array([100.]))
    """
    text = track_text(data, name)
    lines = text.splitlines()
    read = _Lines()
    whole = text.endswith(("\n", "\r"))
    for place, line in enumerate(lines):
        _take(read, line, whole or place < len(lines) - 1)
    if not read.rows:
        raise refused(name, "", "fixes (B records)", "none that can be read",
                      "see that it is the whole file of the recorder")
    table = np.array(read.rows, dtype=np.float64)
    utc_s, dated = _stamps(table, read, date, name)
    channels, keep, findings = _channels(table, read, name)
    set_aside = dict(read.set_aside)
    if not keep.all():
        set_aside[NOT_VALID] = int((~keep).sum())
    kept = {key: values[keep] for key, values in channels.items()}
    return Fixes(name, IGC, utc_s[keep], kept, len(lines), set_aside, dated,
                 findings, _step_deg(read))


def _step_deg(read: _Lines) -> float:
    """Step of positions: thousandths of a minute, or finer with more digits [deg]."""
    more = min((place.stop - place.start if (place := read.places.get(code)) else 0)
               for code in ("LAD", "LOD"))
    return 10.0 ** (-3 - more) / 60.0


def _take(read: _Lines, line: str, whole: bool) -> None:
    """Read one line."""
    if line.startswith("B"):
        _take_fix(read, line, whole)
        return
    read.count(OTHER)
    if line.startswith("I"):
        _take_extensions(read, line[:_LONGEST])
    elif line.startswith("H"):
        datum = _DATUM.match(line)
        read.datum = datum[1] if datum else read.datum
        day = _DATE.match(line)
        moment = _day(day[1], day[2], day[3]) if day else None
        if moment is not None:
            read.days.append(moment)


def _take_fix(read: _Lines, line: str, whole: bool) -> None:
    """Read one fix, or count why it is none."""
    if not whole:
        read.count(CUT_OFF)
        return
    found = _FIX.match(line)
    if found is None or len(line.rstrip()) < read.width:
        read.count(DAMAGED)
        return
    more = {name: line[place] for name, place in read.places.items()}
    if any(text and not (text.isascii() and text.isdigit()) for text in more.values()):
        read.count(DAMAGED)
        return
    clock = 3600 * int(found[1]) + 60 * int(found[2]) + int(found[3])
    tenths = more.get("TDS", "")
    latitude = _degrees(found[4], found[5] + more.get("LAD", ""))
    longitude = _degrees(found[7], found[8] + more.get("LOD", ""))
    if latitude > 90.0 or longitude > 180.0:
        read.count(DAMAGED)
        return
    read.rows.append((
        clock + (int(tenths) / 10.0 ** len(tenths) if tenths else 0.0),
        -latitude if found[6] == "S" else latitude,
        -longitude if found[9] == "W" else longitude,
        float(found[11]), float(found[12]),
        _scaled(more.get("GSP", "")) * _KMH_MS, np.radians(_scaled(more.get("TRT", ""))),
        len(read.days) - 1.0, float(found[10] == "A")))


def _degrees(degrees: str, minutes: str) -> float:
    """Degrees from whole degrees and minutes whose first two digits are whole."""
    return int(degrees) + int(minutes) / 10.0 ** (len(minutes) - 2) / 60.0


def _scaled(text: str) -> float:
    """Number whose first three digits are whole; NaN where there is none."""
    return int(text) / 10.0 ** (len(text) - 3) if len(text) >= 3 else float("nan")


def _take_extensions(read: _Lines, line: str) -> None:
    """Read where the extensions of a fix stand: columns from 1, the last one included."""
    read.places, read.width = {}, 0
    for first, last, code in _EXTENSION.findall(line[3:]):
        start, stop = int(first) - 1, int(last)
        if not 35 <= start < stop:
            continue
        read.width = max(read.width, stop)
        if code in _WANTED:
            read.places[code] = slice(start, stop)


def _day(day: str, month: str, year: str) -> datetime.date | None:
    """Date of two-digit parts; None where there is no such day."""
    century = 1900 if int(year) >= 80 else 2000
    try:
        return datetime.date(century + int(year), int(month), int(day))
    except ValueError:
        return None


def _stamps(
    table: FloatArray, read: _Lines, date: datetime.date | None, name: str
) -> tuple[FloatArray, bool]:
    """Time of each fix since 1970 [s], by the last date record before it; over midnight too."""
    days = read.days or ([date] if date is not None else [])
    if not days:
        raise refused(name, "HFDTE", "the date of the flight, as the file has none", "none",
                      "write the date in flights.csv")
    midnight = [(day - datetime.date(1970, 1, 1)).days * _DAY_S for day in days]
    stamps, record, turned, before = [], 0, 0.0, -np.inf
    for clock, last in zip(table[:, 0].tolist(), table[:, 7].astype(int).tolist(), strict=True):
        if last > record:
            record, turned = last, 0.0
        stamp = midnight[record] + clock + turned
        if stamp < before - 0.5 * _DAY_S:
            turned += _DAY_S
            stamp += _DAY_S
        stamps.append(stamp)
        before = stamp
    return np.array(stamps), bool(read.days)


def _channels(
    table: FloatArray, read: _Lines, name: str
) -> tuple[dict[str, FloatArray], np.ndarray[tuple[int], np.dtype[np.bool_]], list[Finding]]:
    """Channels, the fixes that are kept, and what was found."""
    valid = table[:, 8] > 0.0
    findings = []
    pressure = table[:, 3]
    sensed = bool((pressure != 0.0).any())
    channels = {key: np.where(valid, table[:, column], np.nan) for key, column in (
        ("latitude", 1), ("longitude", 2), ("gps_altitude", 4), ("ground_speed", 5),
        ("track", 6))}
    if sensed:
        channels["pressure_altitude"] = pressure
        if not valid.all():
            findings.append(Finding("caution", f"{name}: {int((~valid).sum())} fixes are marked V, "
                                    "not valid", "their position, ground speed and satellite "
                                    "altitude are missing"))
    else:
        findings.append(Finding("note", f"{name}: pressure altitude is 0 throughout",
                                "the recorder has no pressure sensor: there is none"))
    if not (table[:, 4][valid] != 0.0).any():
        del channels["gps_altitude"]
    else:
        findings.append(_datum_finding(read.datum, name))
    return channels, valid | sensed, findings


def _datum_finding(datum: str, name: str) -> Finding:
    """Say what satellite altitude is counted from."""
    known = {"ELL": "above the ellipsoid", "GEO": "above mean sea level"}.get(datum)
    if known is None:
        return Finding("note", f"{name}: satellite altitude is above the ellipsoid or above mean "
                       "sea level; the file does not say which", "they differ by up to 100 m; only "
                       "differences of it are used")
    return Finding("note", f"{name}: satellite altitude is {known}")
