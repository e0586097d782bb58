"""The columns file: which column of a recording is which quantity, in which unit.

One file a kind of recording, ``columns/NAME.toml``, written by a person. Everything wrong with it
is told at once. Nothing is guessed here: a columns file may be proposed elsewhere, but a recording
is only read through one that exists.
"""

from __future__ import annotations

import codecs
import datetime
import difflib
import hashlib
import re
import tomllib
from collections.abc import Iterable
from pathlib import Path

from stdday.channels import CHANNELS, Channel, find_channel, near_channels, unit_dimension
from stdday.columns_types import (
    NUMBER_FORMATS,
    ROW_INTERVAL,
    ChannelSource,
    ColumnsFile,
    TimeSource,
    has_date,
    header_fingerprint,
    parse_utc_offset,
)
from stdday.errors import CampaignError, InputError, Problem
from stdday.toml_lines import KeyPath, key_lines, line_for, path_text
from stdday.units import UnitError, parse_quantity, shown

__all__ = ["NUMBER_FORMATS", "ROW_INTERVAL", "ChannelSource", "ColumnsFile", "TimeSource",
           "header_fingerprint", "load_columns", "parse_utc_offset"]

_KEYS = ("delimiter", "decimal", "header_rows", "unit_row", "comment", "encoding", "time",
         "missing", "channels", "confirmed", "header")
_TIME_KEYS = ("columns", "format", "utc_offset", "utc_offset_column", "interval", "interval_sigma")
_INTERVAL = 'time = { interval = "1 s", interval_sigma = "3 %" }'
_SHORTEST_S, _LONGEST_S, _MOST_SIGMA = 1e-3, 600.0, 0.5
_FINGERPRINT = re.compile("[0-9a-f]{16}")
_CHANNEL_KEYS = ("column", "unit", "reference", "offset", "missing")
_DELIMITERS = (",", ";", "\t", "|")
_LAST_HEADER_ROW = 1000


def load_columns(path: Path) -> ColumnsFile:
    """Read a columns file.

    Parameters
    ----------
    path : Path
        ``columns/NAME.toml`` in the campaign folder.

    Returns
    -------
    ColumnsFile
        Every entry checked.

    Raises
    ------
    CampaignError
        With every problem of the file: file, line and key, needed, found, how to mend it.

    Examples
    --------
    >>> import tempfile
    >>> text = '''
    ... delimiter = ","
    ... header_rows = [1]
    ... time = { columns = ["Date", "Time"], format = "%Y-%m-%d %H:%M:%S", utc_offset = "UTC" }
    ... [channels]
    ... indicated_airspeed = { column = "Airspeed", unit = "kt" }
    ... '''
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder, "panel.toml")
    ...     _ = path.write_text(text)
    ...     columns = load_columns(path)
    >>> columns.name, columns.time.columns, columns.channels[0].unit
    ('panel', ('Date', 'Time'), 'kt')
    """
    file = f"columns/{path.name}"
    try:
        raw = path.read_bytes()
        text = raw.decode("utf-8-sig")
        tree = tomllib.loads(text)
    except FileNotFoundError:
        raise _alone(file, "this file", "nothing", "write it, or mend `columns` in flights.csv") \
            from None
    except OSError as error:
        raise _alone(file, "a file that can be read", str(error.strerror), "see its permissions") \
            from None
    except (ValueError, RecursionError) as error:
        raise _alone(file, "TOML in UTF-8", _first_line(error), "mend the line named") from None
    reader = _Reader(file, key_lines(text, tree))
    columns = _columns_file(reader, path.stem, hashlib.sha256(raw).hexdigest(), tree)
    if reader.problems or columns is None:
        raise CampaignError(reader.problems)
    return columns


class _Reader:
    """Read checked entries of a TOML tree, gathering every problem on the way."""

    def __init__(self, file: str, lines: dict[KeyPath, int]) -> None:
        self.file = file
        self.lines = lines
        self.problems: list[Problem] = []

    def wrong(self, path: KeyPath, needed: str, found: str, mend: str) -> None:
        """Note a problem with its line and key."""
        line = line_for(self.lines, path)
        where = ", ".join(part for part in (f"line {line}" if line else "", path_text(path))
                          if part)
        self.problems.append(Problem(self.file, where, needed, found, mend))

    def unknown(self, tree: dict[str, object], known: Iterable[str], path: KeyPath) -> None:
        """Note keys that nobody reads."""
        known = tuple(known)
        for key in tree:
            if key not in known:
                near = difflib.get_close_matches(key[:80], known, n=1)
                mend = f"write {near[0]}" if near else f"use one of {', '.join(known)}"
                self.wrong((*path, key), "a known key", shown(key), mend)

    def text(self, tree: dict[str, object], key: str, path: KeyPath, mend: str,
             *, required: bool = False) -> str | None:
        """Read a text that is not empty."""
        value = tree.get(key)
        if isinstance(value, str) and value:
            return value
        if value is not None or required:
            found = "nothing" if value is None else shown(value)
            self.wrong((*path, key), "a text in quotes", found, mend)
        return None

    def choice(self, tree: dict[str, object], key: str, path: KeyPath, allowed: tuple[str, ...],
               default: str | None) -> str | None:
        """Read one of a few texts."""
        value = tree.get(key, default)
        if isinstance(value, str) and value in allowed:
            return value
        listed = " or ".join(f'"{word}"' for word in allowed).replace("\t", "\\t")
        if value is not None or default is None:
            found = "nothing" if value is None else shown(value)
            self.wrong((*path, key), f"one of {listed}", found, f"write {listed}")
        return None

    def texts(self, tree: dict[str, object], key: str, path: KeyPath, mend: str) -> tuple[str, ...]:
        """Read a list of texts; an absent one is empty."""
        value = tree.get(key, [])
        if isinstance(value, list) and all(isinstance(item, str) for item in value):
            return tuple(value)
        self.wrong((*path, key), "a list of texts in quotes", shown(value), mend)
        return ()


def _columns_file(
    reader: _Reader, name: str, sha256: str, tree: dict[str, object]
) -> ColumnsFile | None:
    """Read every entry; None where something needed is missing (told in the problems)."""
    reader.unknown(tree, _KEYS, ())
    delimiter = reader.choice(tree, "delimiter", (), _DELIMITERS, None)
    decimal = reader.choice(tree, "decimal", (), (".", ","), ".")
    if delimiter == decimal == ",":
        reader.wrong(("decimal",), "a decimal mark that is not the delimiter", "',' for both",
                     'write delimiter = ";" or decimal = "."')
    header_rows = _header_rows(reader, tree)
    unit_row = _unit_row(reader, tree, header_rows)
    time = _time(reader, tree)
    channels = _channels(reader, tree, unit_row)
    comment = reader.text(tree, "comment", (), 'write comment = "#"')
    missing = reader.texts(tree, "missing", (), 'write missing = ["", "---"]')
    encoding = _encoding(reader, tree)
    confirmed = _confirmed(reader, tree)
    header = _fingerprint(reader, tree)
    if delimiter is None or decimal is None or time is None:
        return None
    return ColumnsFile(name, sha256, delimiter, decimal, header_rows, unit_row, comment, encoding,
                       time, missing, channels, confirmed, header)


def _confirmed(reader: _Reader, tree: dict[str, object]) -> bool:
    """Read whether a person has confirmed the file; a file that does not say is a person's own."""
    value = tree.get("confirmed", True)
    if isinstance(value, bool):
        return value
    reader.wrong(("confirmed",), "true or false", shown(value), "write confirmed = true once you "
                 "have looked at every channel")
    return False


def _fingerprint(reader: _Reader, tree: dict[str, object]) -> str | None:
    """Read the fingerprint of the header that the file was written for."""
    value = tree.get("header")
    if value is None or (isinstance(value, str) and _FINGERPRINT.fullmatch(value)):
        return value
    reader.wrong(("header",), "sixteen hexadecimal digits in quotes", shown(value),
                 "leave it out; a finding gives the right one")
    return None


def _header_rows(reader: _Reader, tree: dict[str, object]) -> tuple[int, ...]:
    """Read the lines that hold the names."""
    mend = "write header_rows = [1], or [] for a recording without names"
    value = tree.get("header_rows")
    if not isinstance(value, list) or not all(_is_row(item) for item in value):
        found = "nothing" if value is None else shown(value)
        reader.wrong(("header_rows",), "a list of line numbers from 1", found, mend)
        return ()
    if value != sorted(set(value)):
        reader.wrong(("header_rows",), "line numbers in order, each once", shown(value), mend)
    return tuple(value)


def _unit_row(reader: _Reader, tree: dict[str, object], header_rows: tuple[int, ...]) -> int | None:
    """Read the line that holds the units."""
    value = tree.get("unit_row")
    if value is None:
        return None
    if isinstance(value, int) and _is_row(value) and value not in header_rows:
        return value
    reader.wrong(("unit_row",), "one line number from 1 that is no header row", shown(value),
                 "write the line that holds the units, or leave unit_row out")
    return None


def _is_row(value: object) -> bool:
    """Whether a value can be the number of a header line."""
    return (isinstance(value, int) and not isinstance(value, bool)
            and 1 <= value <= _LAST_HEADER_ROW)


def _encoding(reader: _Reader, tree: dict[str, object]) -> str | None:
    """Read the encoding, which must be one that Python knows for text."""
    name = reader.text(tree, "encoding", (), 'write encoding = "latin-1", or leave it out')
    if name is None:
        return None
    try:
        info = codecs.lookup(name)
        "x".encode(name)
    except (LookupError, ValueError):
        reader.wrong(("encoding",), "a known text encoding", shown(name),
                     'write "utf-8", "utf-16", "latin-1" or "cp1252", or leave it out')
        return None
    return info.name


def _time(reader: _Reader, tree: dict[str, object]) -> TimeSource | None:
    """Read how the time of a row is made."""
    value = tree.get("time")
    example = 'time = { columns = ["Date", "Time"], format = "%Y-%m-%d %H:%M:%S" }'
    if not isinstance(value, dict):
        found = "nothing" if value is None else shown(value)
        reader.wrong(("time",), "a table", found, f"write {example}")
        return None
    reader.unknown(value, _TIME_KEYS, ("time",))
    if not value.keys().isdisjoint(("interval", "interval_sigma")):
        return _interval(reader, value)
    columns = reader.texts(value, "columns", ("time",), f"write {example}")
    if not columns and isinstance(value.get("columns", []), list):
        reader.wrong(("time", "columns"), "at least one column, or the interval of the rows where "
                     "there is none", "none", f"write {example} or, for rows a second apart "
                     f"without a time column, {_INTERVAL}")
    form = _time_format(reader, value, len(columns))
    if form and "%z" in form and not value.keys().isdisjoint(("utc_offset", "utc_offset_column")):
        reader.wrong(("time", "format"), "one offset from UTC", "%z and another offset",
                     "leave utc_offset and utc_offset_column out")
    offset_column = reader.text(value, "utc_offset_column", ("time",), "write the column's name")
    offset = _utc_offset(reader, value)
    if form is None:
        return None
    return TimeSource(columns, form, offset_column, offset)


def _interval(reader: _Reader, value: dict[str, object]) -> TimeSource | None:
    """Read the interval of rows that have no time, and how well it is known."""
    both = [key for key in ("columns", "format", "utc_offset", "utc_offset_column") if key in value]
    if both:
        reader.wrong(("time", "interval"), "either a time column or an interval",
                     f"{both[0]} and an interval", "leave one out; a time column is better")
    interval = _quantity(reader, value, "interval", "time", f"write {_INTERVAL}")
    sigma = _quantity(
        reader, value, "interval_sigma", "fraction", 'write interval_sigma = "3 %": recorders '
        "said to write once a second were found to write every 1.02 to 1.05 s, or the value of "
        "your own count against a watch")
    bounds = (("interval", interval, _SHORTEST_S, _LONGEST_S, "0.001 to 600 s"),
              ("interval_sigma", sigma, 0.0, _MOST_SIGMA, "0 to 50 %"))
    for key, found, low, high, words in bounds:
        if found is not None and not low <= found <= high:
            reader.wrong(("time", key), words, shown(value[key]), f"write {_INTERVAL}")
    if interval is None or sigma is None:
        return None
    return TimeSource((), ROW_INTERVAL, interval_s=interval, interval_sigma=sigma)


def _quantity(
    reader: _Reader, value: dict[str, object], key: str, dimension: str, mend: str
) -> float | None:
    """Read a quantity with its unit."""
    text = value.get(key)
    try:
        if isinstance(text, str):
            return parse_quantity(text, dimension)
    except InputError:
        pass
    needed = 'a time with its unit, such as "1 s"' if dimension == "time" else (
        'a share with its unit, such as "3 %"')
    reader.wrong(("time", key), needed, "nothing" if text is None else shown(text), mend)
    return None


def _time_format(reader: _Reader, value: dict[str, object], columns: int) -> str | None:
    """Read the format of the time and try it on a moment."""
    words = ", ".join(f'"{word}"' for word in ("ISO 8601", *NUMBER_FORMATS))
    mend = f'write a format such as "%Y-%m-%d %H:%M:%S" (%I with %p for 12 hours), or {words}'
    form = reader.text(value, "format", ("time",), mend, required=True)
    if form is None or form == "ISO 8601":
        return form
    if form in NUMBER_FORMATS:
        if columns > 1:
            reader.wrong(("time", "columns"), f"one column for {form}", f"{columns} columns",
                         "name the column of seconds only")
        return form
    if _loses_time(form):
        reader.wrong(("time", "format"), "a format that gives hours and minutes", shown(form), mend)
        return None
    return " ".join(form.split())


def _loses_time(form: str) -> bool:
    """Whether a moment that is written in a format is not the same when it is read back."""
    moment = datetime.datetime(2001, 7, 24, 17, 46, tzinfo=datetime.UTC)
    try:
        back = datetime.datetime.strptime(moment.strftime(form), form)
    except (ValueError, re.error):
        return True
    wrong_date = has_date(form) and back.date() != moment.date()
    return wrong_date or (back.hour, back.minute) != (moment.hour, moment.minute)


def _utc_offset(reader: _Reader, value: dict[str, object]) -> float | None:
    """Read the fixed offset; 0 where there is none, None for the airfield's zone."""
    mend = 'write utc_offset = "UTC", "UTC+1", "-05:00" or "airfield"'
    text = reader.text(value, "utc_offset", ("time",), mend)
    if text is None:
        return 0.0
    if "utc_offset_column" in value:
        reader.wrong(("time", "utc_offset"), "either utc_offset or utc_offset_column", "both",
                     "leave one out")
    if text == "airfield":
        return None
    offset = parse_utc_offset(text)
    if offset is None:
        reader.wrong(("time", "utc_offset"), "an offset from UTC", shown(text), mend)
    return offset


def _channels(
    reader: _Reader, tree: dict[str, object], unit_row: int | None
) -> tuple[ChannelSource, ...]:
    """Read the channels."""
    value = tree.get("channels")
    if not isinstance(value, dict) or not value:
        found = "nothing" if value is None else shown(value)
        reader.wrong(("channels",), "a table with at least one channel", found,
                     'write [channels] and under it such as indicated_airspeed = '
                     '{ column = "Airspeed", unit = "kt" }')
        return ()
    found_channels = (_channel(reader, name, item, unit_row) for name, item in value.items())
    return tuple(source for source in found_channels if source is not None)


def _channel(
    reader: _Reader, name: str, value: object, unit_row: int | None
) -> ChannelSource | None:
    """Read one channel."""
    path: KeyPath = ("channels", name)
    channel = find_channel(name)
    if channel is None:
        mend = "write it as time = { … } above" if name == "time" else near_channels(name)
        reader.wrong(path, "the name of a channel", shown(name), mend)
        return None
    if not isinstance(value, dict):
        reader.wrong(path, "a column and its unit", shown(value),
                     'write { column = "their name", unit = "their unit" }')
        return None
    reader.unknown(value, _CHANNEL_KEYS, path)
    column = reader.text(value, "column", path, "write the name in the recording's header, or "
                         '"#7" for the seventh column', required=True)
    unit = _unit(reader, channel, value, unit_row)
    missing = reader.texts(value, "missing", path, 'write missing = ["-1"]')
    return ChannelSource(channel, column or "", unit, _reference(reader, channel, value),
                         _offset(reader, channel, value), missing)


def _unit(
    reader: _Reader, channel: Channel, value: dict[str, object], unit_row: int | None
) -> str | None:
    """Read the unit of a channel; it may be left out where the recording has a unit row."""
    path: KeyPath = ("channels", channel.name)
    unit = reader.text(value, "unit", path, "write the unit of the recording, such as "
                       f"{shown(channel.unit)}", required=unit_row is None)
    if unit is None:
        return None
    try:
        unit_dimension(channel, unit)
    except UnitError as error:
        reader.wrong((*path, "unit"), error.needed, error.found, error.mend)
    return unit


def _reference(reader: _Reader, channel: Channel, value: dict[str, object]) -> str | None:
    """Read the north that a direction is counted from."""
    if "reference" not in value:
        return None
    path: KeyPath = ("channels", channel.name)
    if channel.reference:
        return reader.choice(value, "reference", path, ("true", "magnetic"), None)
    names = " and ".join(name for name, known in CHANNELS.items() if known.reference)
    reader.wrong((*path, "reference"), f"no reference (only {names} have one)",
                 shown(value["reference"]), "leave it out")
    return None


def _offset(reader: _Reader, channel: Channel, value: dict[str, object]) -> float:
    """Read what is added to every sample: only normal acceleration has two conventions."""
    if "offset" not in value:
        return 0.0
    path: KeyPath = ("channels", channel.name, "offset")
    if channel.name != "normal_acceleration":
        reader.wrong(path, "no offset (only normal_acceleration has one)", shown(value["offset"]),
                     "leave it out")
        return 0.0
    try:
        return (parse_quantity(value["offset"], channel.dimension)
                / parse_quantity("1 g", channel.dimension))
    except InputError as error:
        needed, found = 'an acceleration such as "1 g"', shown(value["offset"])
        reader.wrong(path, needed, found, getattr(error, "mend", 'write offset = "1 g"'))
        return 0.0


def _alone(file: str, needed: str, found: str, mend: str) -> CampaignError:
    """Make the error for a file that cannot be read at all."""
    return CampaignError([Problem(file, "", needed, found, mend)])


def _first_line(error: Exception) -> str:
    """First line of a message."""
    return str(error).splitlines()[0][:200] if str(error) else type(error).__name__
