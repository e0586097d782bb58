"""``flights.csv``: one row a flight, and what its empty cells cost."""

from __future__ import annotations

import datetime
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from stdday.card_files import flights_on_cards
from stdday.csv_tables import CsvTable, read_csv_table
from stdday.errors import Problem
from stdday.flight_rows import (
    FLIGHT_COLUMNS,
    FLIGHTS_FILE,
    AirplaneFacts,
    Flight,
    RowReader,
    Surroundings,
)
from stdday.units import shown

__all__ = [
    "FLIGHTS_FILE",
    "FLIGHT_COLUMNS",
    "AirplaneFacts",
    "Flight",
    "Surroundings",
    "read_flights",
]

# What an empty cell costs, for flights that are used.
_COSTS = {
    "date": ("the date", "these flights keep their place in the file, and a recording without "
             "dates of its own cannot be placed in time"),
    "takeoff_weight": ("the take-off weight", "the weight is taken as anything between empty with "
                       "one person and the maximum, which widens every interval"),
    "airfield": ("the airfield", "the field's elevation, the slope and the reported wind cannot "
                 "be used for take-offs"),
    "runway": ("the runway", "the slope cannot be corrected, and the reported wind cannot be "
               "resolved along the roll"),
    "altimeter_setting": ("the altimeter setting", "the pressure at the field comes from the "
                          "recorded altitude alone"),
    "reported_temperature": ("the reported temperature", "the temperature of take-offs comes "
                             "from the climb's, extrapolated down"),
    "reported_dew_point": ("the reported dew point", "the humidity is drawn from a range, common "
                           "to a block, which widens take-off and climb"),
    "reported_wind_from": ("the reported wind direction", "the reported wind cannot be used, and "
                           "the headwind comes from the recording alone"),
    "reported_wind_speed": ("the reported wind", "the headwind comes from the recording alone"),
}

def read_flights(
    folder: Path, surroundings: Surroundings | None
) -> tuple[tuple[Flight, ...], list[Problem]]:
    """Read ``flights.csv`` and find everything wrong with it.

    Parameters
    ----------
    folder : Path
        Folder of the campaign.
    surroundings : Surroundings or None
        What the flights may name; None (``campaign.toml`` cannot be read) leaves those checks out.

    Returns
    -------
    tuple of Flight
        Flights that could be read, in the order of their dates, then of the file. A flight
        without date follows the one before it in the file. Where `columns` is empty and the
        campaign has one columns file, that one is taken.
    list of Problem
        Errors by row, then what empty cells cost. Never raises for what is in the folder.

    Examples
    --------
    >>> read_flights(Path("no such folder"), None)[1][0].needed
    'the file flights.csv'
    """
    path = folder / FLIGHTS_FILE
    if not path.is_file():
        return (), [Problem(FLIGHTS_FILE, "", f"the file {FLIGHTS_FILE}", "no such file",
                            "write one row a flight, columns "
                            f"{', '.join(FLIGHT_COLUMNS)}")]
    table, problems = read_csv_table(path, FLIGHTS_FILE, FLIGHT_COLUMNS,
                                     ("flight", "configuration", "log"))
    if table is None:
        return (), problems
    if not table.rows and not problems:
        problems.append(Problem(FLIGHTS_FILE, "", "a row for each flight", "only the header, still "
                                "to fill in", "write one row a flight below it"))
    carded = flights_on_cards(folder)
    readers = [RowReader(folder, table, row, surroundings, carded) for row in table.rows]
    flights = [reader.flight() for reader in readers]
    problems += [problem for reader in readers for problem in reader.problems]
    problems += _repeated(flights)
    found = _in_order([flight for flight in flights if flight is not None])
    found = _with_blocks(found, surroundings)
    problems += _mixed_blocks(found) + _costs(table, found)
    return tuple(found), problems


# ---------------------------------------------------------------- all rows


def _repeated(flights: Sequence[Flight | None]) -> list[Problem]:
    """Report names and recordings that two flights share."""
    problems: list[Problem] = []
    names: dict[str, Flight] = {}
    logs: dict[str, Flight] = {}
    for flight in flights:
        if flight is None:
            continue
        before = names.setdefault(unicodedata.normalize("NFC", flight.id).casefold(), flight)
        if before is not flight:
            problems.append(_shared(flight, before, "flight", "a name of its own for each flight",
                                    shown(flight.id), "give one of them another name (capitals "
                                    "alone do not tell them apart)"))
        for log in flight.log_names:
            before = logs.setdefault(log, flight)
            if before is not flight:
                problems.append(_shared(flight, before, "log", "a recording of its own for each "
                                        "flight", shown(log), "name each recording once, or its "
                                        "test points count twice"))
    return problems


def _shared(
    flight: Flight, before: Flight, column: str, needed: str, found: str, mend: str
) -> Problem:
    return Problem(FLIGHTS_FILE, f"line {flight.row}, {column}", needed,
                   f"{found}, which line {before.row} has too", mend)


def _in_order(flights: list[Flight]) -> list[Flight]:
    """Sort by date, then as in the file; an undated flight follows the one before it."""
    last = datetime.date.min
    keys: dict[int, datetime.date] = {}
    for flight in flights:
        last = flight.date or last
        keys[flight.row] = last
    return sorted(flights, key=lambda flight: (keys[flight.row], flight.row))


def _with_blocks(flights: list[Flight], surroundings: Surroundings | None) -> list[Flight]:
    """Fill in blocks and installations: a block is an unbroken run of one configuration."""
    configurations = surroundings.configurations if surroundings else {}
    given = {flight.block for flight in flights if flight.block}
    made: set[str] = set()
    counts: dict[str, int] = {}
    last: dict[str, Flight] = {}
    result: list[Flight] = []
    for flight in flights:
        airplane = configurations.get(flight.configuration) or flight.configuration
        before = last.get(airplane)
        block = flight.block
        if not block and before and before.configuration == flight.configuration:
            block = before.block if before.block in made else ""
        if not block:
            block = _next_block(flight.configuration, counts, given | made)
            made.add(block)
        filled = replace(flight, block=block, installation=flight.installation or airplane)
        last[airplane] = filled
        result.append(filled)
    return result


def _next_block(configuration: str, counts: dict[str, int], taken: set[str]) -> str:
    """Name the next block of a configuration: A1, A2, …, leaving out names that are given."""
    while True:
        counts[configuration] = counts.get(configuration, 0) + 1
        name = f"{configuration}{counts[configuration]}"
        if name not in taken:
            return name


def _mixed_blocks(flights: list[Flight]) -> list[Problem]:
    """Report a block that holds two configurations."""
    first: dict[str, Flight] = {}
    problems: list[Problem] = []
    for flight in flights:
        before = first.setdefault(flight.block, flight)
        if before.configuration != flight.configuration:
            problems.append(Problem(
                FLIGHTS_FILE, f"line {flight.row}, block", "a block of one configuration",
                f"{shown(flight.block)}, which line {before.row} has for configuration "
                f"{before.configuration}",
                "give the flight a block of its own, or leave the column empty"))
    return problems


def _costs(table: CsvTable, flights: list[Flight]) -> list[Problem]:
    """Say what empty cells of the flights that are used cost, one problem a column."""
    rows = {row.line: row for row in table.rows}
    used = [(flight, rows[flight.row].cells) for flight in flights if flight.use]
    problems: list[Problem] = []
    for column, (needed, cost) in _COSTS.items():
        lacking = [flight for flight, cells in used if column not in cells and
                   _costs_something(column, flight, cells)]
        if not lacking:
            continue
        names = ", ".join(flight.id for flight in lacking)
        which = "every flight" if len(lacking) == len(used) else f"flight {names}"
        place = column if column in table.columns else f"column {column}, absent"
        problems.append(Problem(FLIGHTS_FILE, place, needed, f"nothing for {which}: {cost}",
                                f"write {column} where it is known", "cost"))
    return problems


def _costs_something(column: str, flight: Flight, cells: Mapping[str, str]) -> bool:
    """Whether an empty cell costs anything that another empty cell has not cost already."""
    rules: dict[str, Callable[[], bool]] = {
        "runway": lambda: "airfield" in cells,
        "reported_wind_from": lambda: bool(flight.reported_wind_speed_ms),
    }
    return rules.get(column, lambda: True)()
