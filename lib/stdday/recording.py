"""A flight's recording, from its files through a columns file to SI channels on a UTC time base.

The way of a row: `recording_bytes` unpacks and decodes the file, `recording_header` finds the
columns, `recording_rows` judges each line, `recording_file` reads the cells, `recording_stamps` and
`recording_time` make the time base, `recording_channels` makes the channels (`recording_part` does
all that for one file), and `recording_join` puts the files of one flight together.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from stdday.columns import ColumnsFile, load_columns
from stdday.errors import CampaignError, InputError, Problem
from stdday.recording_cache import CacheEntry, cache_key, code_fingerprint
from stdday.recording_channels import add_pressure_altitude
from stdday.recording_checks import FlightFacts, check_recording
from stdday.recording_join import join_parts
from stdday.recording_part import FlightSource, ReadFile, read_file
from stdday.recording_types import Finding, Recording, RowAccount
from stdday.tracks_kind import is_track

if TYPE_CHECKING:
    from stdday.campaign import Campaign, Flight

__all__ = ["Finding", "FlightSource", "Recording", "RowAccount", "file_prints", "flight_source",
           "flight_sources", "read_cached", "read_flight", "read_source", "recording_facts"]


def flight_source(
    flight: Flight, columns: ColumnsFile | Sequence[ColumnsFile | None] | None, campaign: Campaign
) -> FlightSource:
    """Gather what the recording of a flight depends on.

    Parameters
    ----------
    flight : Flight
        The flight.
    columns : ColumnsFile or None, or a sequence of them
        How its files are laid out: one for all, or one a file; None for tracks.
    campaign : Campaign
        The campaign of the flight.

    Returns
    -------
    FlightSource
        Ready to be read, here or in another process.

    Raises
    ------
    InputError
        There are neither one nor as many columns files as recordings.
    """
    each = ((columns,) * len(flight.logs) if columns is None or isinstance(columns, ColumnsFile)
            else tuple(columns))
    if len(each) != len(flight.logs):
        raise InputError(f"columns must be one, or one a recording; got {len(each)} for "
                         f"{len(flight.logs)} recordings of flight {flight.id}")
    airplane = campaign.airplanes[campaign.configurations[flight.configuration].airplane]
    field = campaign.airfields.get(flight.airfield) if flight.airfield else None
    return FlightSource(
        flight.id, tuple(zip(flight.log_names, flight.logs, strict=True)), each, flight.date,
        flight.altimeter_setting_pa, field.time_zone_offset_s if field else None,
        airplane.rated_power_w, airplane.fuel_density_kg_m3, flight.log_offsets_s,
        field.elevation_m if field else None)


def read_flight(
    flight: Flight, columns: ColumnsFile | Sequence[ColumnsFile | None] | None, campaign: Campaign
) -> Recording:
    """Read the recording of a flight, joining its files on time.

    Parameters
    ----------
    flight : Flight
        The flight.
    columns : ColumnsFile or None, or a sequence of them
        How its files are laid out: one for all, or one a file; None for tracks.
    campaign : Campaign
        The campaign of the flight.

    Returns
    -------
    Recording
        In SI on UTC, with every row accounted for.

    Raises
    ------
    CampaignError
        A file cannot be read or lacks a column that the columns file names.
    """
    return read_source(flight_source(flight, columns, campaign))


def read_source(source: FlightSource) -> Recording:
    r"""Read the recording of a flight.

    Parameters
    ----------
    source : FlightSource
        All that it depends on.

    Returns
    -------
    Recording
        In SI on UTC, with every row accounted for.

    Raises
    ------
    CampaignError
        A file cannot be read or lacks a column that the columns file names.

    Examples
    --------
    >>> import tempfile
    >>> from stdday.channels import CHANNELS
    >>> from stdday.columns import ChannelSource, TimeSource
    >>> airspeed = ChannelSource(CHANNELS["indicated_airspeed"], "Airspeed", "m/s")
    >>> columns = ColumnsFile("panel", "", ",", ".", (1,), None, None, None,
    ...                       TimeSource(("Time",), "ISO 8601"), ("",), (airspeed,))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = Path(folder, "one.csv")
    ...     _ = log.write_text("Time,Airspeed\n2024-05-01T10:00:00,25\n2024-05-01T10:00:01,26\n")
    ...     recording = read_source(FlightSource("F1", (("logs/one.csv", log),), (columns,)))
    >>> recording.channels["indicated_airspeed"], str(recording.rows)
    (array([25., 26.]), '2 rows = 2 used')
    """
    files = [read_file(name, path, columns, source)
             for (name, path), columns in zip(source.logs, source.columns, strict=True)]
    if not files:
        raise InputError(f"flight {source.flight} has no recording to read")
    findings = [finding for file in files for finding in file.findings]
    references = _references(files, findings)
    flight, left_out, joining = join_parts(
        [replace(file.part, offset_s=offset_s)
         for file, offset_s in zip(files, source.offsets_s or (None,) * len(files), strict=True)])
    findings += joining
    findings += add_pressure_altitude(flight.channels, source.altimeter_setting_pa)
    rows = [file.account(out.rows, out.why) for file, out in zip(files, left_out, strict=True)]
    total = rows[0]
    for account in rows[1:]:
        total = total.plus(account)
    facts = FlightFacts(source.field_elevation_m, source.altimeter_setting_pa,
                        source.rated_power_w, source.fuel_density_kg_m3)
    findings += check_recording(flight.time_s, flight.channels, references.get("track"),
                                references.get("heading"), facts)
    return Recording(source.flight, flight.time_s, flight.channels, references.get("track"),
                     references.get("heading"), total, tuple(findings),
                     tuple((file.part.file, file.sha256) for file in files),
                     max(file.columns.time.interval_sigma for file in files))


def flight_sources(campaign: Campaign) -> list[FlightSource]:
    """Gather what the recordings of all used flights depend on; each columns file is read once.

    Parameters
    ----------
    campaign : Campaign
        The campaign.

    Returns
    -------
    list of FlightSource
        In the order of the campaign; flights without a recording are not in it.

    Raises
    ------
    CampaignError
        Every problem of every columns file.
    """
    flights = [flight for flight in campaign.flights if flight.use and flight.logs]
    problems: list[Problem] = []
    known: dict[str, ColumnsFile] = {}
    for name in sorted({flight.columns for flight in flights if flight.columns}):
        try:
            known[name] = load_columns(campaign.folder / "columns" / f"{name}.toml")
        except CampaignError as error:
            problems += error.problems
    for flight in flights:
        if not flight.columns and not all(map(is_track, flight.logs)):
            problems.append(Problem("flights.csv", f"line {flight.row}, columns",
                                    "the columns file of the recording", "an empty cell",
                                    "write the name of the file in columns/, without its ending"))
    if problems:
        raise CampaignError(problems)
    return [flight_source(flight, known[flight.columns] if flight.columns else None, campaign)
            for flight in flights]


def file_prints(source: FlightSource) -> tuple[str, ...]:
    """Take the fingerprint of each file of a flight.

    Parameters
    ----------
    source : FlightSource
        The flight.

    Returns
    -------
    tuple of str
        SHA-256 of each; empty for a file that cannot be read, which no entry of the cache has, so
        that reading it will say what is wrong. Never raises.
    """
    prints = []
    for _, path in source.logs:
        try:
            with path.open("rb") as file:
                prints.append(hashlib.file_digest(file, "sha256").hexdigest())
        except OSError:
            prints.append("")
    return tuple(prints)


def recording_facts(source: FlightSource, prints: Sequence[str]) -> dict[str, str]:
    """Give all that a recording depends on as text: its files, their layout, the flight, the code.

    Parameters
    ----------
    source : FlightSource
        The flight.
    prints : sequence of str
        Fingerprint of each of its files.

    Returns
    -------
    dict of str to str
        Never raises.
    """
    return {**source.facts(), "content": repr(list(prints)), "code": code_fingerprint()}


def read_cached(source: FlightSource, folder: Path, prints: Sequence[str]) -> Recording:
    """Read the recording of a flight, out of the cache where it is there.

    Parameters
    ----------
    source : FlightSource
        All that it depends on.
    folder : Path
        The cache.
    prints : sequence of str
        Fingerprint of each of its files, as `file_prints` takes it.

    Returns
    -------
    Recording
        To the last bit the same, out of the cache or not.

    Raises
    ------
    CampaignError
        A file cannot be read or lacks a column that the columns file names.
    """
    known = CacheEntry(folder, cache_key(recording_facts(source, prints))).load()
    if known is not None:
        return known
    recording = read_source(source)
    read = [sha256 for _, sha256 in recording.sources]    # a file may have changed since
    CacheEntry(folder, cache_key(recording_facts(source, read))).save(recording)
    return recording


def _references(files: list[ReadFile], findings: list[Finding]) -> dict[str, str]:
    """North of each direction; a later file with another north gives that channel up."""
    references: dict[str, str] = {}
    for file in files:
        for source in file.columns.channels:
            name = source.channel.name
            if source.reference is None:
                continue
            if references.setdefault(name, source.reference) != source.reference:
                del file.part.channels[name]
                findings.append(Finding(
                    "caution", f"{file.part.file}: its {name} is {source.reference}, that of the "
                    f"flight's first file {references[name]}", "its own was left out"))
    return references
