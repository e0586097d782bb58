"""What a columns file says, once it has been read and checked."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass

from stdday.channels import Channel

__all__ = ["NUMBER_FORMATS", "ROW_INTERVAL", "ChannelSource", "ColumnsFile", "TimeSource",
           "has_date", "header_fingerprint", "parse_utc_offset"]

#: Time formats that are numbers, with the seconds of one unit.
NUMBER_FORMATS = {"elapsed seconds": 1.0, "epoch seconds": 1.0, "epoch milliseconds": 0.001}

#: Stands for a format where the recording has no time column and rows are counted instead.
ROW_INTERVAL = "row interval"

_OFFSET = re.compile(r"(?:UTC|GMT)?\s*([+-])?(\d{1,2})(?::(\d{2})|\.(\d{1,2})|(?<=\d{2})(\d{2}))?")
_FURTHEST_ZONE_S = 15 * 3600.0


@dataclass(frozen=True)
class ChannelSource:
    """Where one channel comes from.

    Parameters
    ----------
    channel : Channel
        The channel.
    column : str
        Header name in the recording, or ``#7`` for the seventh column.
    unit : str or None
        Unit of the cells; None where it stands in the recording's unit row.
    reference : {"true", "magnetic", None}
        North that a direction is counted from.
    offset : float
        Added after conversion [unit of the channel]: ``1 g`` where level flight reads 0.
    missing : tuple of str
        Marks that stand for a missing value in this column, besides those of the file.
    """

    channel: Channel
    column: str
    unit: str | None
    reference: str | None = None
    offset: float = 0.0
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class TimeSource:
    """How the time of a row is read.

    Parameters
    ----------
    columns : tuple of str
        Columns whose cells, joined by one blank, are the time; none where rows are counted.
    format : str
        A strptime format, ``ISO 8601``, one of `NUMBER_FORMATS`, or `ROW_INTERVAL`.
    utc_offset_column : str or None
        Column with the offset of local time from UTC.
    utc_offset_s : float or None
        Fixed offset of local time from UTC [s]; None where the airfield's zone holds.
    interval_s : float or None
        Time from one row to the next [s], where there is no time column.
    interval_sigma : float
        Its standard uncertainty, as a fraction of it [-]; 0 where there is a clock.

    Examples
    --------
    >>> TimeSource((), ROW_INTERVAL, interval_s=1.0, interval_sigma=0.03).clocked
    False
    """

    columns: tuple[str, ...]
    format: str
    utc_offset_column: str | None = None
    utc_offset_s: float | None = 0.0
    interval_s: float | None = None
    interval_sigma: float = 0.0

    @property
    def clocked(self) -> bool:
        """Whether the recording has a time column."""
        return self.interval_s is None

    @property
    def numeric(self) -> bool:
        """Whether the time is a number of seconds."""
        return self.format in NUMBER_FORMATS

    @property
    def dated(self) -> bool:
        """Whether the time has its date with it."""
        return self.format not in ("elapsed seconds", ROW_INTERVAL) and (
            self.numeric or self.format == "ISO 8601" or has_date(self.format))


@dataclass(frozen=True)
class ColumnsFile:
    """One kind of recording, as ``columns/NAME.toml`` describes it.

    Parameters
    ----------
    name : str
        NAME.
    sha256 : str
        Fingerprint of the columns file.
    delimiter, decimal : str
        Separator of cells and mark of decimals.
    header_rows : tuple of int
        Lines that hold the names, from 1; names in several lines are joined by a blank.
    unit_row : int or None
        Line that holds the units, from 1.
    comment : str or None
        Lines that begin so are no data; stripped from header lines.
    encoding : str or None
        Encoding of the text; None where it is found from the bytes.
    time : TimeSource
        How the time of a row is read.
    missing : tuple of str
        Marks that stand for a missing value; an empty cell always does.
    channels : tuple of ChannelSource
        The channels.
    confirmed : bool
        Whether a person has confirmed it; a proposal is not confirmed.
    header : str or None
        Fingerprint of the header that it was written for, as `header_fingerprint` gives it.
    """

    name: str
    sha256: str
    delimiter: str
    decimal: str
    header_rows: tuple[int, ...]
    unit_row: int | None
    comment: str | None
    encoding: str | None
    time: TimeSource
    missing: tuple[str, ...]
    channels: tuple[ChannelSource, ...]
    confirmed: bool = True
    header: str | None = None

    @property
    def header_depth(self) -> int:
        """Lines before the first row of data."""
        return max((*self.header_rows, self.unit_row or 0), default=0)


def header_fingerprint(names: Sequence[str], units: Sequence[str] = ()) -> str:
    """Fingerprint of a header: the names of the columns and their units, in order.

    Parameters
    ----------
    names, units : sequence of str
        As they stand in the recording, without blanks around them; units empty where there is no
        unit row.

    Returns
    -------
    str
        Sixteen hexadecimal digits; never raises.

    Examples
    --------
    >>> header_fingerprint(["Time", "Airspeed"]) == header_fingerprint(["Airspeed", "Time"])
    False
    """
    text = "\n".join("\t".join(row) for row in (names, units))
    return hashlib.sha256(text.encode(errors="replace")).hexdigest()[:16]


def parse_utc_offset(text: str) -> float | None:
    """Read the offset of a local time from UTC.

    Parameters
    ----------
    text : str
        Such as ``UTC+1``, ``-05:00``, ``+0530``, ``5.5`` or ``Z``.

    Returns
    -------
    float or None
        Local time minus UTC [s]; None where the text is no offset; never raises.

    Examples
    --------
    >>> parse_utc_offset("-05:00"), parse_utc_offset("UTC+1"), parse_utc_offset("UTC")
    (-18000.0, 3600.0, 0.0)
    >>> parse_utc_offset("summer") is None
    True
    """
    plain = text.strip().replace("\u2212", "-").upper()
    if plain in ("UTC", "GMT", "Z"):
        return 0.0
    found = _OFFSET.fullmatch(plain)
    if found is None or not plain.isascii():
        return None
    hours = float(found[2]) + float(f"0.{found[4] or 0}")
    minutes = float(found[3] or found[5] or 0)
    seconds = hours * 3600.0 + minutes * 60.0
    if minutes >= 60.0 or seconds > _FURTHEST_ZONE_S:
        return None
    return -seconds if found[1] == "-" else seconds


def has_date(form: str) -> bool:
    """Tell whether a strptime format holds the day.

    Parameters
    ----------
    form : str
        Format.

    Returns
    -------
    bool
        Never raises.

    Examples
    --------
    >>> has_date("%d.%m.%Y %H:%M"), has_date("%H:%M:%S")
    (True, False)
    """
    return re.search(r"%[djxcDFs]", form.replace("%%", "")) is not None
