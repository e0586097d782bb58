"""``cards/*.csv``: test points written down by hand, read with everything that is wrong at once."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from stdday.csv_tables import CsvRow, CsvTable, read_csv_table
from stdday.errors import Problem
from stdday.names import id_fault, nearest
from stdday.units import UnitError, factor_to_si, parse_number, parse_quantity, shown

__all__ = [
    "CARDS_FOLDER",
    "CARD_COLUMNS",
    "CARD_KIND",
    "CardRow",
    "flights_on_cards",
    "parse_duration",
    "read_cards",
]

#: Folder in a campaign, and the kind of card that is read.
CARDS_FOLDER = "cards"
CARD_KIND = "airspeed calibration"
#: Patterns flown on legs, and those that compare with something else.
LEG_PATTERNS = ("box", "triangle", "reciprocal pair", "circle", "legs")
PATTERNS = (*LEG_PATTERNS, "speed course", "pacing")

#: Columns of the card, with the dimension of those that hold quantities.
CARD_COLUMNS: dict[str, str | None] = {
    "flight": None,
    "point": None,
    "kind": None,
    "pattern": None,
    "indicated_airspeed": "speed",
    "ground_speed": "speed",
    "track": "angle",
    "track_reference": None,
    "heading": "angle",
    "pressure_altitude": "length",
    "outside_air_temperature": "temperature",
    "flaps": None,
    "power": "fraction",
    "course_length": "length",
    "time_out": "time?",
    "time_back": "time?",
    "other_calibrated_airspeed": "speed",
    "note": None,
}
_RANGES = {
    "indicated_airspeed": ("10 kt", "400 kt"),
    "ground_speed": ("1 kt", "500 kt"),
    "track": ("0 deg", "360 deg"),
    "heading": ("0 deg", "360 deg"),
    "pressure_altitude": ("-2000 ft", "45000 ft"),
    "outside_air_temperature": ("-70 degC", "60 degC"),
    "power": ("0 %", "110 %"),
    "course_length": ("300 m", "100 km"),
    "time_out": ("5 s", "3600 s"),
    "time_back": ("5 s", "3600 s"),
    "other_calibrated_airspeed": ("10 kt", "400 kt"),
}
#: What a pattern cannot do without. The temperature may be that reported for the flight.
_NEEDED = {
    "speed course": ("course_length", "time_out", "time_back", "pressure_altitude"),
    "pacing": ("other_calibrated_airspeed",),
}
_LEG_NEEDED = ("ground_speed", "pressure_altitude")
_NORTH = {"": None, "true": True, "magnetic": False}
_DURATION = re.compile(r"(?:(\d+):)?(\d{1,3}):(\d{1,2}(?:[.,]\d+)?)")


@dataclass(frozen=True)
class CardRow:
    """One row of a card, SI; None where nothing is written.

    Parameters
    ----------
    file : str
        Name of the file relative to the campaign's folder.
    line : int
        Line of the file [1-based].
    flight, point, pattern : str
        As written; rows with the same flight and point are legs of one pattern.
    track_is_true : bool or None
        Whether tracks count from true north.
    flaps : str
        As written.
    values : dict of str to float
        The quantities of the row that are filled in, by column [m/s, rad, m, K, -, s].
    """

    file: str
    line: int
    flight: str
    point: str
    pattern: str
    track_is_true: bool | None
    flaps: str
    values: dict[str, float]


def parse_duration(text: str, unit: str) -> float:
    """Read a time taken, as minutes and seconds or as a number.

    Parameters
    ----------
    text : str
        ``2:31``, ``2:31,4``, ``1:02:31``, or a number in the unit.
    unit : str
        Unit of a plain number.

    Returns
    -------
    float
        Time [s].

    Raises
    ------
    UnitError
        If it is neither.

    Examples
    --------
    >>> parse_duration("2:31,4", "s"), parse_duration("2.5", "min"), parse_duration("151", "s")
    (151.4, 150.0, 151.0)
    """
    found = _DURATION.fullmatch(text.strip())
    if found is None:
        if ":" in text:
            raise UnitError("a time as mm:ss", shown(text), "write it as 2:31 or in seconds")
        return parse_number(text) * factor_to_si(unit, "time")[0]
    hours, minutes, seconds = found[1] or "0", found[2], found[3].replace(",", ".")
    if float(seconds) >= 60.0 or (found[1] and int(minutes) >= 60):
        raise UnitError("seconds and minutes below 60", shown(text), "write it as 2:31")
    return 3600.0 * int(hours) + 60.0 * int(minutes) + float(seconds)


def flights_on_cards(folder: Path) -> frozenset[str]:
    """Name the flights of which there is a card that is read.

    Parameters
    ----------
    folder : Path
        Folder of the campaign.

    Returns
    -------
    frozenset of str
        Flights as written, on rows with faults too; never raises for what is in the folder.

    Examples
    --------
    >>> flights_on_cards(Path("no such folder"))
    frozenset()
    """
    named = set()
    for path in sorted((folder / CARDS_FOLDER).glob("*.csv")):
        table, _ = read_csv_table(path, path.name, CARD_COLUMNS, ())
        for row in table.rows if table else ():
            if _kind(row) == CARD_KIND:
                named.add(row.cells.get("flight", ""))
    return frozenset(named - {""})


def read_cards(
    folder: Path, flights: Sequence[str] | None = None
) -> tuple[tuple[CardRow, ...], list[Problem]]:
    """Read the cards of a campaign and find everything wrong with them.

    Parameters
    ----------
    folder : Path
        Folder of the campaign.
    flights : sequence of str, optional
        Flights that there are; with none given, their names are not checked.

    Returns
    -------
    tuple of CardRow
        Rows that could be read, by file and line.
    list of Problem
        Errors, and what absent entries cost. Never raises for what is in the folder.

    Examples
    --------
    >>> read_cards(Path("no such folder"))
    ((), [])
    """
    rows: list[CardRow] = []
    problems: list[Problem] = []
    for path in sorted((folder / CARDS_FOLDER).glob("*.csv")):
        file = f"{CARDS_FOLDER}/{path.name}"
        table, found = read_csv_table(path, file, CARD_COLUMNS, ("flight", "point", "kind"))
        if table is None:
            problems += found
            continue
        mine = [row for row in table.rows if _kind(row) == CARD_KIND]
        kinds = sorted({_kind(row) for row in table.rows} - {CARD_KIND})
        if kinds:
            problems.append(_not_read(file, kinds))
            found = [one for one in found if mine and one.needed != "a known column"]
        problems += found
        for row in mine:
            reader = _Reader(table, row, flights)
            card = reader.card()
            problems += reader.problems
            if card is not None:
                rows.append(card)
        problems += _north_cost(file, [row for row in rows if row.file == file])
    return tuple(rows), problems + _mixed(rows)


def _kind(row: CsvRow) -> str:
    return row.cells.get("kind", "").strip().casefold()


def _not_read(file: str, kinds: Sequence[str]) -> Problem:
    names = ", ".join(shown(kind) if kind else "an empty kind" for kind in kinds)
    near = nearest(kinds[0], [CARD_KIND]) if len(kinds) == 1 and kinds[0] else None
    mend = f"write {near}, if that is meant" if near else (
        "nothing is lost: keep the card, its rows are left out until they can be read")
    return Problem(file, "kind", f"cards of a kind that is read ({CARD_KIND})",
                   f"{names}: not read yet", mend, "cost")


def _north_cost(file: str, rows: Sequence[CardRow]) -> list[Problem]:
    if not any("track" in row.values and row.track_is_true is None for row in rows):
        return []
    return [Problem(file, "track_reference", "true or magnetic for each track", "nothing: taken as "
                    "magnetic, so that the wind's direction is that of a compass",
                    "write true or magnetic", "cost")]


def _mixed(rows: Sequence[CardRow]) -> list[Problem]:
    """Rows of one point must be of one pattern."""
    first: dict[tuple[str, str], CardRow] = {}
    problems = []
    for row in rows:
        before = first.setdefault((row.flight, row.point), row)
        if before.pattern != row.pattern:
            problems.append(Problem(
                row.file, f"line {row.line}, pattern", "one pattern for all rows of a point",
                f"{shown(row.pattern)}, but {shown(before.pattern)} in line {before.line} of "
                f"{before.file}", "give the other pattern another point"))
    return problems


class _Reader:
    """Read one row, gathering what is wrong with it in `problems`."""

    def __init__(self, table: CsvTable, row: CsvRow, flights: Sequence[str] | None) -> None:
        self.table, self.row, self.flights = table, row, flights
        self.problems: list[Problem] = []

    def report(self, column: str, needed: str, found: str, mend: str) -> None:
        where = f"line {self.row.line}, {column}"
        self.problems.append(Problem(self.table.file, where, needed, found, mend))

    def card(self) -> CardRow | None:
        """Read the row; None where something in it is wrong."""
        flight, point, pattern = self.flight(), self.point(), self.pattern()
        north = self.north()
        values = {}
        for column in _RANGES:
            value = self.quantity(column)
            if value is not None:
                values[column] = value
        self.lacking(pattern, values)
        if self.problems:
            return None
        return CardRow(self.table.file, self.row.line, flight, point, pattern, north,
                       self.row.cells.get("flaps", ""), values)

    def flight(self) -> str:
        """Name of the flight, which must be one of flights.csv."""
        name = self.row.cells.get("flight", "")
        if not name:
            self.report("flight", "the flight", "an empty cell", "write its name in flights.csv")
        elif self.flights is not None and name not in self.flights:
            near = nearest(name, self.flights)
            self.report("flight", "a flight of flights.csv", shown(name),
                        f"write {near}, if that is meant" if near else "add a row for it there")
        return name

    def point(self) -> str:
        """Name of the point."""
        name = self.row.cells.get("point", "")
        fault = id_fault(name) if name else None
        if not name or fault:
            self.report("point", "a name or number of the point, the same for all its legs",
                        f"{shown(name)}: {fault}" if name else "an empty cell", "write 1, 2, …")
        return name

    def pattern(self) -> str:
        """One of the patterns."""
        text = self.row.cells.get("pattern", "").casefold()
        if text not in PATTERNS:
            near = nearest(text, PATTERNS) if text else None
            self.report("pattern", f"one of {', '.join(PATTERNS)}",
                        shown(text) if text else "an empty cell",
                        f"write {near}, if that is meant" if near else "write one of them")
        return text

    def north(self) -> bool | None:
        """Whether tracks count from true north."""
        text = self.row.cells.get("track_reference", "").casefold()
        if text not in _NORTH:
            self.report("track_reference", "true, magnetic or nothing", shown(text),
                        "write true or magnetic")
        return _NORTH.get(text)

    def quantity(self, column: str) -> float | None:
        """Read a quantity within its range."""
        dimension = str(CARD_COLUMNS[column])
        cell = self.row.cells.get(column)
        if cell is None:
            return None
        try:
            if dimension == "time?":
                dimension = "time"
                value: float | None = parse_duration(cell, self.table.units.get(column, "s"))
            else:
                value = self.table.quantity(self.row, column, dimension)
        except UnitError as error:
            self.report(column, error.needed, error.found, error.mend)
            return None
        low, high = _RANGES[column]
        least, most = parse_quantity(low, dimension), parse_quantity(high, dimension)
        if value is None or least - 1e-9 <= value <= most + 1e-9:
            return value
        self.report(column, f"a value of {low} to {high}", shown(cell),
                    "check the number and the unit in the header")
        return None

    def lacking(self, pattern: str, values: dict[str, float]) -> None:
        """Report what the pattern cannot do without."""
        if pattern not in PATTERNS:
            return
        needed = ("indicated_airspeed", *_NEEDED.get(pattern, _LEG_NEEDED))
        for column in needed:
            if column not in values and column not in self.row.cells:
                self.report(column, f"the {column.replace('_', ' ')} of a {pattern}",
                            "an empty cell" if column in self.table.columns else "no such column",
                            f"fill in {column}; without it the leg carries no calibration")
        if pattern in LEG_PATTERNS and not {"track", "heading"} & set(self.row.cells):
            self.report("track", "the track or the heading of the leg", "an empty cell",
                        "fill in track or heading")
