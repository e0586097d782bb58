"""From the time cells of a recording to one UTC stamp a row, as the recorder wrote it.

Stamps may repeat, go back or jump; `recording_time` makes a time base of them.
"""

from __future__ import annotations

import datetime
import itertools
import re
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday.columns import NUMBER_FORMATS, TimeSource, parse_utc_offset
from stdday.columns_types import has_date
from stdday.errors import CampaignError
from stdday.recording_file import ObjectArray
from stdday.recording_types import Finding, FloatArray, refused

__all__ = ["Stamps", "continuous_utc", "number_stamps", "row_stamps", "text_stamps"]

DAY_S = 86_400.0

#: Stamps outside these years are no dates of a flight: satellite time begins in 1980.
_FIRST_S = datetime.datetime(1980, 1, 7, tzinfo=datetime.UTC).timestamp()
_LAST_S = datetime.datetime(2100, 1, 1, tzinfo=datetime.UTC).timestamp()
_CLOCK_ZERO_S = datetime.datetime(1900, 1, 1, tzinfo=datetime.UTC).timestamp()
_ZONED = re.compile(r":\d\d(?:[.,]\d+)?\s*(?:Z|[+-]\d\d:?(?:\d\d)?)$")
#: Bounds within which a number of seconds is kept exact enough.
_MOST_ELAPSED_S = 400.0 * DAY_S


@dataclass(frozen=True, eq=False)
class Stamps:
    """Time of each row as the recorder wrote it.

    Parameters
    ----------
    utc_s : ndarray, shape (n,)
        Seconds since 1970-01-01 UTC [s]; NaN where the cell is blank or is no time.
    dated : bool
        Whether the date came with the time; else the day is the flight's, and midnight is open.
    findings : list of Finding
        What was found on the way.
    counted : bool
        Whether time counts from power-up: where it starts again, how long the recorder was off is
        not known.
    """

    utc_s: FloatArray
    dated: bool
    findings: list[Finding] = field(default_factory=list)
    counted: bool = False


def number_stamps(
    source: TimeSource, values: FloatArray, date: datetime.date | None, file: str
) -> Stamps:
    """Read stamps that are numbers: elapsed seconds from the flight's date on, or epoch time.

    Parameters
    ----------
    source : TimeSource
        How the time is written.
    values : ndarray, shape (n,)
        The numbers.
    date : datetime.date or None
        Date of the flight, needed for elapsed seconds.
    file : str
        Name of the recording.

    Returns
    -------
    Stamps
        The stamps.

    Raises
    ------
    CampaignError
        The date is needed and not known.

    Examples
    --------
    >>> source = TimeSource(("Seconds",), "elapsed seconds")
    >>> number_stamps(source, np.array([0.0, 1.5]), datetime.date(2024, 5, 1), "one.csv").utc_s
    array([1.7145216e+09, 1.7145216e+09])
    """
    seconds = values * NUMBER_FORMATS[source.format]
    if source.format != "elapsed seconds":
        return Stamps(_believable(seconds), dated=True)
    seconds = np.where(np.abs(seconds) <= _MOST_ELAPSED_S, seconds, np.nan)
    note = Finding("note", f"{file} has no clock: its time counts from 00:00 UTC of the flight's "
                   "date")
    return Stamps(seconds + _midnight_s(date, file), dated=True, findings=[note], counted=True)


def row_stamps(
    source: TimeSource, ticks: NDArray[np.int64], date: datetime.date | None, file: str
) -> Stamps:
    """Count rows where there is no time column, from the flight's date on.

    Parameters
    ----------
    source : TimeSource
        With the interval of the rows.
    ticks : ndarray of int, shape (n,)
        Rows of data before each row, those that cannot be used among them.
    date : datetime.date or None
        Date of the flight.
    file : str
        Name of the recording.

    Returns
    -------
    Stamps
        The stamps.

    Raises
    ------
    CampaignError
        The date is not known.

    Examples
    --------
    >>> from stdday.columns import ROW_INTERVAL
    >>> source = TimeSource((), ROW_INTERVAL, interval_s=0.5, interval_sigma=0.03)
    >>> stamps = row_stamps(source, np.array([0, 1, 4]), datetime.date(2024, 5, 1), "one.csv")
    >>> np.diff(stamps.utc_s)
    array([0.5, 1.5])
    """
    interval = source.interval_s or 0.0
    caution = Finding(
        "caution", f"{file} has no time column: its rows are taken as {interval:g} s apart, give "
        f"or take {100.0 * source.interval_sigma:.2g} %, from 00:00 UTC of the flight's date",
        f"every rate, time and distance carries those {100.0 * source.interval_sigma:.2g} %; "
        "missed rows cannot be seen; it cannot be joined with another recording by its clock")
    seconds = np.asarray(ticks * interval + _midnight_s(date, file), dtype=np.float64)
    return Stamps(seconds, dated=True, findings=[caution], counted=True)


def text_stamps(
    source: TimeSource,
    cells: list[ObjectArray],
    offsets: ObjectArray | None,
    date: datetime.date | None,
    zone_offset_s: float | None,
    file: str,
) -> Stamps:
    """Read stamps that are text, in UTC or in local time with its offset.

    Parameters
    ----------
    source : TimeSource
        How the time is written.
    cells : list of ndarray of object, each of shape (n,)
        Cells of each time column; None where blank.
    offsets : ndarray of object, shape (n,), or None
        Cells of the offset column.
    date : datetime.date or None
        Date of the flight, needed where the recording has none.
    zone_offset_s : float or None
        Offset of the airfield's zone from UTC [s], needed where the columns file says `airfield`.
    file : str
        Name of the recording.

    Returns
    -------
    Stamps
        The stamps.

    Raises
    ------
    CampaignError
        No cell is a time in that format, or the date or the zone is needed and not known.

    Examples
    --------
    >>> source = TimeSource(("Date", "Time"), "%d.%m.%Y %I:%M:%S %p", utc_offset_s=3600.0)
    >>> day, clock = np.array([["01.05.2024"], ["02:00:00 PM"]], dtype=object)
    >>> stamps = text_stamps(source, [day, clock], None, None, None, "one.csv")
    >>> print(stamps.utc_s.astype("datetime64[s]")[0])
    2024-05-01T13:00:00
    """
    joined = None
    local = _parsed_apart(cells, source.format)
    if local is None:
        joined = _joined(cells)
        local = _parsed(joined, source.format)
    if np.isnan(local).all():
        raise _no_times(_joined(cells), source, file)
    if not source.dated:
        local = local - _CLOCK_ZERO_S + _midnight_s(date, file)
    if joined is not None and source.format == "ISO 8601" and _zoned(joined):
        return Stamps(_believable(local), dated=True)
    if offsets is not None:
        utc, findings = continuous_utc(local, _offset_seconds(offsets), file)
        return Stamps(_believable(utc), source.dated, findings)
    fixed = zone_offset_s if source.utc_offset_s is None else source.utc_offset_s
    if fixed is None:
        raise refused(file, "time", "the airfield's time_zone, in which its time is", "none",
                      "write the flight's airfield in flights.csv and its time_zone in "
                      "campaign.toml")
    return Stamps(_believable(local - fixed), source.dated)


def _parsed_apart(cells: list[ObjectArray], form: str) -> FloatArray | None:
    """Read date and clock by themselves, each different text once; None where they are not apart.

    A day has fewer clocks, and a file far fewer dates, than rows of a long recording.
    """
    parts = form.split()
    if len(parts) != len(cells) or sorted(map(_part_kind, parts)) != ["clock", "date"]:
        return None
    total = np.full(cells[0].shape, -_CLOCK_ZERO_S)
    for column, part in zip(cells, parts, strict=True):
        codes, known = pd.factorize(column)
        if len(known) > 0.5 * codes.size + 1000:
            return None
        read = _parsed(pd.Series(known, dtype=object), part)
        total += np.append(read, np.nan)[codes]
    return total


def _part_kind(part: str) -> str:
    """Whether a part of a format is a date, a clock, or something else."""
    date, clock = has_date(part), re.search(r"%[HIMSfpXTR]", part.replace("%%", "")) is not None
    if date == clock or re.search(r"%[zZcs]", part):
        return "other"
    return "date" if date else "clock"


def _joined(cells: list[ObjectArray]) -> pd.Series:
    """Join the cells of a row by one blank; missing where any is blank."""
    blank = np.zeros(cells[0].shape, dtype=bool)
    for column in cells:
        blank |= column == None  # noqa: E711
    joined = np.where(blank, "", cells[0])
    for column in cells[1:]:
        joined = joined + " " + np.where(blank, "", column)
    joined[blank] = None
    return pd.Series(joined, dtype=object)


def _parsed(joined: pd.Series, form: str) -> FloatArray:
    """Seconds since 1970 of each text, whatever its zone; NaN where it is no time.

    A second try reads a fraction of a second that the format does not name and blanks too many.
    """
    pandas_form = "ISO8601" if form == "ISO 8601" else form
    seconds = _to_seconds(joined, pandas_form)
    unread = np.flatnonzero(np.isnan(seconds) & joined.notna().to_numpy())
    if unread.size:
        tidy = joined.iloc[unread].str.split().str.join(" ")
        seconds[unread] = _to_seconds(tidy, pandas_form)
    unread = unread[np.isnan(seconds[unread])]
    if unread.size and "%S" in form and "%f" not in form:
        tidy = tidy[tidy.index.isin(unread)].str.replace(",", ".", regex=False)
        seconds[unread] = _to_seconds(tidy, form.replace("%S", "%S.%f"))
    return seconds


def _to_seconds(text: pd.Series, form: str) -> FloatArray:
    """Seconds since 1970 of text in a format; NaN where it does not fit."""
    moments = pd.to_datetime(text, format=form, errors="coerce", utc=True)
    stamps = moments.to_numpy(dtype="datetime64[us]")
    seconds = stamps.astype(np.int64).astype(np.float64) / 1e6
    return np.where(np.isnat(stamps), np.nan, seconds)


def _believable(seconds: FloatArray) -> FloatArray:
    """Drop stamps that no flight can have."""
    return np.where((seconds >= _FIRST_S) & (seconds < _LAST_S), seconds, np.nan)


def _midnight_s(date: datetime.date | None, file: str) -> float:
    """Seconds from 1970 to the midnight that begins a date."""
    if date is None:
        raise refused(file, "time", "the date of the flight, as the recording has none", "none",
                      "write the date in flights.csv")
    return (date - datetime.date(1970, 1, 1)).days * DAY_S


def _no_times(joined: pd.Series, source: TimeSource, file: str) -> CampaignError:
    """Make the error for a recording in which no cell is a time."""
    filled = joined.dropna()
    found = repr(str(filled.iloc[0])[:60]) if len(filled) else "blank cells only"
    return refused(file, "time", f"times in the format {source.format!r}", found,
                   "see format and columns of `time` in the columns file")


def _zoned(joined: pd.Series) -> bool:
    """Whether the texts carry their own offset from UTC, as the first of them shows."""
    filled = joined.dropna()
    return bool(len(filled)) and _ZONED.search(str(filled.iloc[0]).strip()) is not None


def _offset_seconds(cells: ObjectArray) -> FloatArray:
    """Offset from UTC of each cell [s]; NaN where it is none."""
    codes, known = pd.factorize(cells)
    read = [parse_utc_offset(str(cell)) for cell in known]
    values = [np.nan if offset is None else offset for offset in read]
    return np.array([*values, np.nan])[codes]


def continuous_utc(
    local_s: FloatArray, offset_s: FloatArray, file: str
) -> tuple[FloatArray, list[Finding]]:
    """Take the offset from local time, by row, so that time stays continuous.

    Where the offset of some rows is not that of most rows, those rows are read with their own
    offset and with the usual one, and what keeps time continuous is used: a recorder may change
    its local time with its offset, or its offset alone. A blank offset is the usual one.

    Parameters
    ----------
    local_s : ndarray, shape (n,)
        Local time [s].
    offset_s : ndarray, shape (n,)
        Offset of local time from UTC [s]; NaN where there is none.
    file : str
        Name of the recording.

    Returns
    -------
    tuple of (ndarray of shape (n,), list of Finding)
        UTC [s] and what was found.

    Raises
    ------
    CampaignError
        No row has an offset.

    Examples
    --------
    >>> local = np.array([0.0, 1.0, 3602.0, 3.0])
    >>> continuous_utc(local, np.array([3600.0, 3600.0, 7200.0, 0.0]), "one.csv")[0]
    array([-3600., -3599., -3598., -3597.])
    """
    known = offset_s[np.isfinite(offset_s)]
    if not known.size:
        raise refused(file, "time", "offsets from UTC such as '-05:00' in the offset column",
                      "none", "see utc_offset_column in the columns file")
    values, counts = np.unique(known, return_counts=True)
    usual = float(values[np.argmax(counts)])
    blank = int(offset_s.size - known.size)
    own = local_s - np.where(np.isfinite(offset_s), offset_s, usual)
    utc, otherwise = own.copy(), local_s - usual
    timed = np.flatnonzero(np.isfinite(local_s))
    odd = np.isfinite(offset_s[timed]) & (offset_s[timed] != usual)
    replaced = 0
    for first, last in _runs(np.where(odd, offset_s[timed], usual), usual):
        rows = timed[first:last]
        if _jump(otherwise[rows], utc[timed], first) < _jump(own[rows], utc[timed], first):
            utc[rows] = otherwise[rows]
            replaced += last - first
    findings = []
    if odd.any():
        findings.append(_flip_finding(file, int(odd.sum()), replaced, usual))
    if blank:
        findings.append(Finding("note", f"{file}: {blank} rows have no offset from UTC; that of "
                                "most rows was used"))
    return utc, findings


def _runs(values: FloatArray, usual: float) -> list[tuple[int, int]]:
    """First and one past the last place of each unbroken run of one value that is not usual."""
    edges = np.flatnonzero(np.diff(values)) + 1
    bounds = [0, *edges.tolist(), values.size]
    return [(first, last) for first, last in itertools.pairwise(bounds)
            if first < last and values[first] != usual]


def _jump(run: FloatArray, utc: FloatArray, first: int) -> float:
    """How far a run lies from the row before it or, at the beginning, from the row after it."""
    if first > 0:
        return float(abs(run[0] - utc[first - 1]))
    last = first + run.size
    return float(abs(utc[last] - run[-1])) if last < utc.size else 0.0


def _flip_finding(file: str, odd: int, replaced: int, usual: float) -> Finding:
    """Say what was done with rows whose offset is not the usual one."""
    level: Literal["note", "caution"] = "caution" if replaced else "note"
    return Finding(level, f"{file}: the offset from UTC of {odd} rows is not the usual "
                   f"{usual / 3600.0:+g} h; time stays continuous with the usual offset in "
                   f"{replaced} of them and with their own in {odd - replaced}")
