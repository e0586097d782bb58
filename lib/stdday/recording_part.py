"""One file of a flight: from its bytes to channels in SI on its own time base."""

from __future__ import annotations

import datetime
import hashlib
import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from stdday.channels import unit_dimension, unit_scale
from stdday.columns import ChannelSource, ColumnsFile, header_fingerprint
from stdday.errors import CampaignError, Problem
from stdday.recording_bytes import load_bytes, unpack
from stdday.recording_channels import (
    acceleration_convention,
    drop_spikes,
    drop_zero_positions,
    missing_reference,
    to_channel,
)
from stdday.recording_file import Table, read_table
from stdday.recording_header import Header, read_header
from stdday.recording_join import ADDS_NOTHING, Part
from stdday.recording_stamps import Stamps, number_stamps, row_stamps, text_stamps
from stdday.recording_time import TimeBase, make_time_base
from stdday.recording_types import Finding, FloatArray, RowAccount, refused
from stdday.tracks import Track, read_track
from stdday.tracks_kind import track_kind
from stdday.units import UnitError, shown

__all__ = ["FlightSource", "ReadFile", "read_file"]

#: A file of more bytes is hashed beside its reading.
_LARGE = 8_000_000


@dataclass(frozen=True)
class FlightSource:
    """All that the recording of a flight depends on.

    Parameters
    ----------
    flight : str
        Id of the flight.
    logs : tuple of (str, Path)
        Name and place of each file.
    columns : tuple of (ColumnsFile or None)
        How each file is laid out, one a file; a track (GPX, IGC, NMEA 0183) needs none.
    date : datetime.date or None
        Date of the flight: UTC where the recording is, else the airfield's.
    altimeter_setting_pa : float or None
        The flight's altimeter setting [Pa].
    zone_offset_s : float or None
        Local time of the airfield minus UTC [s].
    rated_power_w : float or None
        Rated power of the airplane [W].
    fuel_density_kg_m3 : float or None
        Density of its fuel [kg/m^3].
    offsets_s : tuple of (float or None)
        What flights.csv says is to be added to the times of each file [s]; empty where nothing.
    field_elevation_m : float or None
        Elevation of the airfield it began at [m].
    """

    flight: str
    logs: tuple[tuple[str, Path], ...]
    columns: tuple[ColumnsFile | None, ...]
    date: datetime.date | None = None
    altimeter_setting_pa: float | None = None
    zone_offset_s: float | None = None
    rated_power_w: float | None = None
    fuel_density_kg_m3: float | None = None
    offsets_s: tuple[float | None, ...] = ()
    field_elevation_m: float | None = None

    def facts(self) -> dict[str, str]:
        """Everything but the content of the files, as text, for the key of the cache."""
        return {
            "flight": self.flight,
            "logs": repr([name for name, _ in self.logs]),
            "columns": repr([columns and columns.sha256 for columns in self.columns]),
            "columns_names": repr([columns and columns.name for columns in self.columns]),
            "date": str(self.date),
            "altimeter_setting_pa": repr(self.altimeter_setting_pa),
            "zone_offset_s": repr(self.zone_offset_s),
            "rated_power_w": repr(self.rated_power_w),
            "fuel_density_kg_m3": repr(self.fuel_density_kg_m3),
            "offsets_s": repr(self.offsets_s),
            "field_elevation_m": repr(self.field_elevation_m),
        }


@dataclass(frozen=True, eq=False)
class ReadFile:
    """One file of a flight, read.

    Parameters
    ----------
    part : Part
        Its samples on its time base.
    columns : ColumnsFile
        How it is laid out.
    sha256 : str
        Fingerprint of the file.
    in_file : int
        Rows in the file.
    set_aside : dict of str to int
        Rows left out, by reason.
    findings : list of Finding
        What was found on the way.
    used : int
        Rows on the time base.
    """

    part: Part
    columns: ColumnsFile
    sha256: str
    in_file: int
    set_aside: dict[str, int]
    findings: list[Finding]
    used: int

    def account(self, unused: int, why: str = ADDS_NOTHING) -> RowAccount:
        """Account for its rows, once it is known how many add nothing to the flight.

        Parameters
        ----------
        unused : int
            Rows that add nothing.
        why : str
            Why they add nothing.

        Returns
        -------
        RowAccount
            Every row of the file; never raises.
        """
        set_aside = dict(self.set_aside)
        if unused:
            set_aside[why] = unused
        return RowAccount(self.in_file, self.used - unused, set_aside)


@dataclass(frozen=True)
class _Places:
    """Where the columns that are needed stand in a file."""

    time: tuple[int, ...]
    offset: int | None
    channels: tuple[tuple[ChannelSource, int], ...]


def read_file(
    name: str, path: Path, columns: ColumnsFile | None, source: FlightSource
) -> ReadFile:
    """Read one file of a flight.

    Parameters
    ----------
    name : str
        Its name in messages.
    path : Path
        Where it is.
    columns : ColumnsFile or None
        How it is laid out; a track needs none.
    source : FlightSource
        The flight.

    Returns
    -------
    ReadFile
        Its samples in SI, rows accounted for, findings.

    Raises
    ------
    CampaignError
        It cannot be read, or lacks a column that the columns file names.
    """
    raw = load_bytes(path, name)
    if len(raw) < _LARGE:
        return _read_bytes(raw, hashlib.sha256(raw).hexdigest, name, columns, source)
    with ThreadPoolExecutor(1) as beside:    # hashing leaves the interpreter free
        return _read_bytes(raw, beside.submit(_sha256, raw).result, name, columns, source)


def _sha256(raw: bytes) -> str:
    """Fingerprint of a file."""
    return hashlib.sha256(raw).hexdigest()


def _read_bytes(
    raw: bytes, sha256: Callable[[], str], name: str, columns: ColumnsFile | None,
    source: FlightSource,
) -> ReadFile:
    """Read one file of a flight from its bytes; its fingerprint is asked for at the end."""
    data = unpack(raw, name)
    kind = track_kind(data)
    if kind:
        return _track_file(read_track(data, kind, name, source.date), sha256(), source)
    if columns is None:
        raise refused(name, "", "a columns file, as it is no track (GPX, IGC, NMEA 0183)", "none",
                      "write the name of the columns file in flights.csv")
    header, body, findings = read_header(data, columns, name)
    places = _find_columns(header, columns)
    scales, unit_findings = _scales(header, columns, places, source)
    text = [] if columns.time.numeric else list(places.time)
    if places.offset is not None:
        text.append(places.offset)
    numbers = _numeric_columns(columns, places)
    table = read_table(header, body, columns, text, numbers)
    base = make_time_base(_stamps(table, columns, places, source), name)
    findings += [*_header_finding(header, columns), *unit_findings, *table.findings,
                 *base.findings]
    findings += _date_finding(base, source, columns, name)
    channels = _make_channels(table, base, places, scales, findings)
    part = Part(name, base.time_s, channels, base.interval_s)
    return ReadFile(part, columns, sha256(), table.in_file,
                 {**table.set_aside, **base.set_aside}, findings, base.time_s.size)


def _track_file(track: Track, sha256: str, source: FlightSource) -> ReadFile:
    """Make a file of a flight from a track."""
    part = Part(track.file, track.base.time_s, track.channels, track.base.interval_s, track=True,
                window_s=track.window_s)
    findings = track.findings + _date_finding(track.base, source, track.columns, track.file)
    return ReadFile(part, track.columns, sha256, track.in_file,
                    track.set_aside, findings, track.base.time_s.size)


def _find_columns(header: Header, columns: ColumnsFile) -> _Places:
    """Find every column that is named; all that are not there are told at once."""
    time = [header.find(name, "time") for name in columns.time.columns]
    offset = (None if columns.time.utc_offset_column is None
              else header.find(columns.time.utc_offset_column, "time"))
    found = [(source, header.find(source.column, source.channel.name))
             for source in columns.channels]
    places = [*time, offset, *(place for _, place in found)]
    problems = [place for place in places if isinstance(place, Problem)]
    if problems:
        raise CampaignError(problems)
    return _Places(tuple(place for place in time if isinstance(place, int)),
                   offset if isinstance(offset, int) else None,
                   tuple((source, place) for source, place in found if isinstance(place, int)))


def _header_finding(header: Header, columns: ColumnsFile) -> list[Finding]:
    """Say where the header is not the one that the columns file was written for."""
    found = header_fingerprint(header.names, header.units)
    if columns.header is None or columns.header == found:
        return []
    return [Finding("caution", f"{header.file}: its header is not the one that "
                    f"columns/{columns.name}.toml was written for",
                    "a column of the same name may hold something else; look at the names, then "
                    f'write header = "{found}"')]


def _numeric_columns(columns: ColumnsFile, places: _Places) -> dict[int, tuple[str, ...]]:
    """Columns to read as numbers, with their own marks for a missing value."""
    marks: dict[int, tuple[str, ...]] = {}
    if columns.time.numeric:
        marks[places.time[0]] = ()
    for source, place in places.channels:
        marks[place] = (*marks.get(place, ()), *source.missing)
    return marks


def _scales(
    header: Header, columns: ColumnsFile, places: _Places, source: FlightSource
) -> tuple[list[tuple[float, float]], list[Finding]]:
    """Conversion of each channel; what cannot be converted is told at once."""
    scales, findings, problems = [], [], []
    for channel, place in places.channels:
        written = header.units[place] if place < len(header.units) else ""
        unit = channel.unit or written
        result = _scale(channel, unit, source)
        if isinstance(result, Problem):
            file = f"columns/{columns.name}.toml" if channel.unit else header.file
            problems.append(Problem(result.file or file, result.where, result.needed,
                                    result.found, result.mend))
            continue
        scales.append(result)
        findings += _unit_finding(channel, result, written, source, header.file)
    if problems:
        raise CampaignError(problems)
    return scales, findings


def _scale(
    channel: ChannelSource, unit: str, source: FlightSource
) -> tuple[float, float] | Problem:
    """Conversion of one channel, or what is wrong; an empty file stands for the unit's own."""
    name = channel.channel.name
    where = f"channels.{name}"
    if not unit:
        return Problem("", where, f"the unit of {shown(channel.column)} in the unit row",
                       "an empty cell", f"write unit = … in channels.{name}")
    try:
        if unit_dimension(channel.channel, unit) == "fraction" and source.rated_power_w is None:
            return Problem("campaign.toml", "airplane.rated_power", "the rated power, as power is "
                           f"recorded in {unit}", "none", "write rated_power of the airplane")
        return unit_scale(channel.channel, unit, rated_power_w=source.rated_power_w,
                          fuel_density_kg_m3=source.fuel_density_kg_m3)
    except UnitError as error:
        return Problem("", f"{where}.unit", error.needed, error.found, error.mend)


def _unit_finding(
    channel: ChannelSource, scale: tuple[float, float], written: str, source: FlightSource,
    file: str,
) -> list[Finding]:
    """Say where the unit row of the file and the columns file do not agree."""
    if not written or channel.unit is None:
        return []
    other = _scale(channel, written, source)
    if isinstance(other, Problem) or all(
            math.isclose(one, two, rel_tol=1e-6) for one, two in zip(scale, other, strict=True)):
        return []
    return [Finding("caution", f"{file}: the unit row gives {shown(written)} for "
                    f"{channel.channel.name}, the columns file {shown(channel.unit)}",
                    "the columns file was used; if it is wrong, all of that channel is")]


def _stamps(
    table: Table, columns: ColumnsFile, places: _Places, source: FlightSource
) -> Stamps:
    """Time of each row as the recorder wrote it."""
    if not columns.time.clocked:
        return row_stamps(columns.time, table.ticks, source.date, table.file)
    if columns.time.numeric:
        return number_stamps(columns.time, table.numbers[places.time[0]], source.date, table.file)
    offsets = None if places.offset is None else table.text[places.offset]
    return text_stamps(columns.time, [table.text[place] for place in places.time], offsets,
                       source.date, source.zone_offset_s, table.file)


def _date_finding(
    base: TimeBase, source: FlightSource, columns: ColumnsFile, file: str
) -> list[Finding]:
    """Say where the recording is of another day than flights.csv says."""
    if source.date is None or not columns.time.dated:
        return []
    first, last = (datetime.datetime.fromtimestamp(float(moment), datetime.UTC).date()
                   for moment in (base.time_s[0], base.time_s[-1]))
    day = datetime.timedelta(days=1)
    if first - day <= source.date <= last + day:
        return []
    return [Finding("caution", f"{file}: the recording begins on {first} UTC, and flights.csv says "
                    f"{source.date}", "it may be the recording of another flight")]


def _make_channels(
    table: Table, base: TimeBase, places: _Places, scales: list[tuple[float, float]],
    findings: list[Finding],
) -> dict[str, FloatArray]:
    """Make the channels of a file on its time base, without what cannot be true."""
    channels: dict[str, FloatArray] = {}
    for (source, place), scale in zip(places.channels, scales, strict=True):
        values = table.numbers[place][base.keep]
        samples, found = to_channel(source, values, scale, table.bad.get(place), table.file)
        channels[source.channel.name] = samples
        findings += [*found, *missing_reference(source, table.file)]
    findings += drop_zero_positions(channels, table.file)
    if "ground_speed" in channels:
        speed, dropped = drop_spikes(base.time_s, channels["ground_speed"])
        channels["ground_speed"] = speed
        if dropped:
            findings.append(Finding("caution", f"{table.file}: {dropped} samples of ground_speed "
                                    "cannot be flown", "those samples are missing"))
    findings += acceleration_convention(channels, table.file)
    return channels
