"""A flight's recording, from its files through a columns file to SI channels on a UTC time base.

The way of a row: `recording_bytes` unpacks and decodes the file, `recording_header` finds the
columns, `recording_rows` judges each line, `recording_file` reads the cells, `recording_stamps` and
`recording_time` make the time base, `recording_channels` makes the channels (`recording_part` does
all that for one file), and `recording_join` puts the files of one flight together.
"""

from __future__ import annotations

import hashlib
import multiprocessing
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import TYPE_CHECKING

from stdday.columns import ColumnsFile, load_columns
from stdday.errors import CampaignError, InputError, Problem, StddayError
from stdday.recording_cache import CacheEntry, cache_key, code_fingerprint, prune_cache
from stdday.recording_channels import add_pressure_altitude
from stdday.recording_join import join_parts
from stdday.recording_part import FlightSource, ReadFile, read_file
from stdday.recording_types import Finding, Recording, RowAccount

if TYPE_CHECKING:
    from stdday.campaign import Campaign, Flight

__all__ = ["Finding", "FlightSource", "Recording", "RowAccount", "flight_source", "read_all",
           "read_flight", "read_source"]

#: Below this [bytes of text] starting processes takes longer than reading (11 flights of 1 h are
#: 10 MB and take 0.15 s; two processes start in 0.7 s).
POOL_BYTES = 60_000_000

#: A recording, or the problems for which there is none.
_Result = Recording | tuple[Problem, ...]


def flight_source(
    flight: Flight, columns: ColumnsFile | Sequence[ColumnsFile], campaign: Campaign
) -> FlightSource:
    """Gather what the recording of a flight depends on.

    Parameters
    ----------
    flight : Flight
        The flight.
    columns : ColumnsFile or sequence of ColumnsFile
        How its files are laid out: one for all, or one a file.
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
    each = (columns,) * len(flight.logs) if isinstance(columns, ColumnsFile) else tuple(columns)
    if len(each) != len(flight.logs):
        raise InputError(f"columns must be one, or one a recording; got {len(each)} for "
                         f"{len(flight.logs)} recordings of flight {flight.id}")
    airplane = campaign.airplanes[campaign.configurations[flight.configuration].airplane]
    field = campaign.airfields.get(flight.airfield) if flight.airfield else None
    return FlightSource(
        flight.id, tuple(zip(flight.log_names, flight.logs, strict=True)), each, flight.date,
        flight.altimeter_setting_pa, field.time_zone_offset_s if field else None,
        airplane.rated_power_w, airplane.fuel_density_kg_m3)


def read_flight(
    flight: Flight, columns: ColumnsFile | Sequence[ColumnsFile], campaign: Campaign
) -> Recording:
    """Read the recording of a flight, joining its files on time.

    Parameters
    ----------
    flight : Flight
        The flight.
    columns : ColumnsFile or sequence of ColumnsFile
        How its files are laid out: one for all, or one a file.
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
    flight, left_out, joining = join_parts([file.part for file in files])
    findings += joining
    findings += add_pressure_altitude(flight.channels, source.altimeter_setting_pa)
    rows = [file.account(unused) for file, unused in zip(files, left_out, strict=True)]
    total = rows[0]
    for account in rows[1:]:
        total = total.plus(account)
    return Recording(source.flight, flight.time_s, flight.channels, references.get("track"),
                     references.get("heading"), total, tuple(findings),
                     tuple((file.part.file, file.sha256) for file in files))


def read_all(
    campaign: Campaign, jobs: int = 1, progress: Callable[[int, int], None] | None = None
) -> dict[str, Recording]:
    """Read the recordings of all flights that are used, through the cache.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    jobs : int
        Processes that read at once [-], where there is enough to read to be worth starting them;
        the recordings are the same for any number.
    progress : callable, optional
        Told after each flight how many are done, of how many.

    Returns
    -------
    dict of str to Recording
        By flight, in the order of the campaign; flights without a recording are not in it.

    Raises
    ------
    CampaignError
        Every problem of every recording.
    InputError
        `jobs` is below 1.
    StddayError
        A reading process was ended from outside.
    """
    if jobs < 1:
        raise InputError(f"jobs must be at least 1; got {jobs}")
    flights = [flight for flight in campaign.flights if flight.use and flight.logs]
    sources = _sources(flights, campaign)
    folder = campaign.folder / ".cache"
    tell = progress if progress is not None else _silent
    tell(0, len(sources))
    read: dict[str, _Result] = {}
    keys = {source.flight: _key(source) for source in sources}
    for source in sources:
        known = CacheEntry(folder, keys[source.flight]).load()
        if known is not None:
            read[source.flight] = known
            tell(len(read), len(sources))
    waiting = [source for source in sources if source.flight not in read]
    for name, result in _read_waiting(waiting, folder, jobs):
        read[name] = result
        tell(len(read), len(sources))
    problems = [problem for source in sources for problem in _problems(read[source.flight])]
    if problems:
        raise CampaignError(problems)
    prune_cache(folder, keys.values())
    return {source.flight: result for source in sources
            if isinstance(result := read[source.flight], Recording)}


def _silent(done: int, total: int) -> None:
    """Tell nobody."""


def _problems(result: _Result) -> tuple[Problem, ...]:
    """Problems of a flight that could not be read."""
    return () if isinstance(result, Recording) else result


def _sources(flights: Sequence[Flight], campaign: Campaign) -> list[FlightSource]:
    """Gather what each recording depends on; each columns file is read once."""
    problems: list[Problem] = []
    known: dict[str, ColumnsFile] = {}
    for name in sorted({flight.columns for flight in flights if flight.columns}):
        try:
            known[name] = load_columns(campaign.folder / "columns" / f"{name}.toml")
        except CampaignError as error:
            problems += error.problems
    for flight in flights:
        if not flight.columns:
            problems.append(Problem("flights.csv", f"line {flight.row}, columns",
                                    "the columns file of the recording", "an empty cell",
                                    "write the name of the file in columns/, without its ending"))
    if problems:
        raise CampaignError(problems)
    return [flight_source(flight, known[flight.columns], campaign)
            for flight in flights if flight.columns]


def _key(source: FlightSource) -> str:
    """Key of a recording in the cache, by the content of its files."""
    prints = []
    for _, path in source.logs:
        try:
            prints.append(hashlib.sha256(path.read_bytes()).hexdigest())
        except OSError:
            prints.append("")  # no entry has this; reading the file will say what is wrong
    return _key_of(source, prints)


def _key_of(source: FlightSource, prints: Iterable[str]) -> str:
    """Key of a recording in the cache."""
    return cache_key({**source.facts(), "content": repr(list(prints)), "code": code_fingerprint()})


def _read_one(source: FlightSource, folder: Path) -> _Result:
    """Read one flight and keep it in the cache; problems come back as values."""
    try:
        recording = read_source(source)
    except CampaignError as error:
        return error.problems
    CacheEntry(folder, _key_of(source, (sha256 for _, sha256 in recording.sources))).save(recording)
    return recording


def _work_bytes(sources: list[FlightSource]) -> int:
    """About how much text is to be read [bytes]; a packed file holds some eight times its size."""
    total = 0
    for path in (path for source in sources for _, path in source.logs):
        packed = path.suffix.lower() in (".gz", ".zip")
        total += path.stat().st_size * (8 if packed else 1) if path.is_file() else 0
    return total


def _read_waiting(
    sources: list[FlightSource], folder: Path, jobs: int
) -> Iterator[tuple[str, _Result]]:
    """Read flights that are not in the cache, each as soon as it is done."""
    workers = min(jobs, len(sources)) if _work_bytes(sources) >= POOL_BYTES else 1
    if workers <= 1:
        for source in sources:
            yield source.flight, _read_one(source, folder)
        return
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(workers, mp_context=context) as pool:
        futures = {pool.submit(_read_one, source, folder): source.flight for source in sources}
        try:
            for future in as_completed(futures):
                yield futures[future], future.result()
        except BrokenProcessPool:
            raise StddayError("A process that read recordings was ended from outside, perhaps for "
                              "want of memory. Run again with --jobs 1.") from None
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


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
