"""``decisions.csv``: test points that a person overruled, with the reason."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from stdday.csv_tables import CsvRow, CsvTable, read_csv_table
from stdday.errors import CampaignError, Problem
from stdday.units import UnitError, parse_quantity, shown

__all__ = ["DECISIONS_FILE", "DECISION_COLUMNS", "Decision", "check_decisions", "read_decisions"]

#: Name of the file in a campaign's folder.
DECISIONS_FILE = "decisions.csv"

#: Columns of the file, with the dimension of those that hold quantities.
DECISION_COLUMNS: dict[str, str | None] = {
    "point": None,
    "flight": None,
    "kind": None,
    "start_utc": None,
    "end_utc": None,
    "use": None,
    "reason": None,
    "runway": None,
    "wind_from": "angle",
    "wind_speed": "speed",
    "flaps": None,
    "weight": "mass",
    "decided_at": None,
}

_RANGES = {
    "wind_from": ("0 deg", "360 deg"),
    "wind_speed": ("0 kt", "100 kt"),
    "weight": ("20 kg", "20000 kg"),
}
_USE = {"": None, "yes": True, "y": True, "no": False, "n": False}
_Report = Callable[[str, str, str, str], None]


@dataclass(frozen=True)
class Decision:
    """What a person decided about one test point; None and empty leave what was found.

    Parameters
    ----------
    point : str
        Id of the point that was decided about.
    flight, kind : str
        Flight and kind of the point.
    row : int
        Line in ``decisions.csv`` [1-based].
    start_s, end_s : float or None
        Start and end [s since 1970-01-01 UTC].
    use : bool or None
        Whether the point is used.
    reason : str
        Reason, in the person's words.
    runway, flaps : str or None
        What holds instead of what was found.
    wind_from_rad, wind_speed_ms, weight_kg : float or None
        True wind direction [rad], wind speed [m/s] and weight [kg] that hold instead.
    decided_at : str
        When it was decided, as written.
    """

    point: str
    flight: str
    kind: str
    row: int
    start_s: float | None = None
    end_s: float | None = None
    use: bool | None = None
    reason: str = ""
    runway: str | None = None
    wind_from_rad: float | None = None
    wind_speed_ms: float | None = None
    flaps: str | None = None
    weight_kg: float | None = None
    decided_at: str = ""


def read_decisions(folder: Path | str) -> tuple[Decision, ...]:
    """Read the decisions of a campaign.

    Parameters
    ----------
    folder : Path
        Folder of the campaign.

    Returns
    -------
    tuple of Decision
        In the order of the file; empty where there is no file.

    Raises
    ------
    CampaignError
        With everything wrong in the file.

    Examples
    --------
    >>> read_decisions("no such folder")
    ()
    """
    decisions, problems = _read(Path(folder))
    errors = [problem for problem in problems if problem.level == "error"]
    if errors:
        raise CampaignError(errors)
    return decisions


def check_decisions(folder: Path | str) -> list[Problem]:
    """Find everything wrong with the decisions of a campaign.

    Parameters
    ----------
    folder : Path
        Folder of the campaign.

    Returns
    -------
    list of Problem
        What is wrong; a campaign needs no decisions. Never raises for what is in the folder.

    Examples
    --------
    >>> check_decisions("no such folder")
    []
    """
    return _read(Path(folder))[1]


def _read(folder: Path) -> tuple[tuple[Decision, ...], list[Problem]]:
    path = folder / DECISIONS_FILE
    if not path.is_file():
        return (), []
    table, problems = read_csv_table(path, DECISIONS_FILE, DECISION_COLUMNS,
                                     ("point", "flight", "kind", "start_utc", "end_utc", "use",
                                      "reason"))
    if table is None:
        return (), problems
    decisions = []
    for row in table.rows:
        decision, found = _decision(table, row)
        decisions.append(decision)
        problems += found
    return tuple(decisions), problems


def _decision(table: CsvTable, row: CsvRow) -> tuple[Decision, list[Problem]]:
    """Read one row."""
    problems: list[Problem] = []

    def report(column: str, needed: str, found: str, mend: str) -> None:
        where = f"line {row.line}, {column}"
        problems.append(Problem(DECISIONS_FILE, where, needed, found, mend))

    for column in ("point", "flight", "kind"):
        if column not in row.cells:
            report(column, f"the {column} that was decided about", "an empty cell",
                   "copy it from results/points.csv")
    start, end = _time(row, "start_utc", report), _time(row, "end_utc", report)
    if start is not None and end is not None and end <= start:
        report("end_utc", "an end after the start", shown(row.cells["end_utc"]), "check both times")
    use = row.cells.get("use", "").casefold()
    if use not in _USE:
        report("use", "yes, no or nothing", shown(row.cells["use"]), "write yes or no")
    if _USE.get(use) is False and "reason" not in row.cells:
        report("reason", "the reason why the point is not used", "an empty cell",
               "write the reason; it stands in the report")
    cell = row.cells.get
    return Decision(
        point=cell("point", ""), flight=cell("flight", ""), kind=cell("kind", ""), row=row.line,
        start_s=start, end_s=end, use=_USE.get(use), reason=cell("reason", ""),
        runway=cell("runway"), wind_from_rad=_quantity(table, row, "wind_from", report),
        wind_speed_ms=_quantity(table, row, "wind_speed", report), flaps=cell("flaps"),
        weight_kg=_quantity(table, row, "weight", report),
        decided_at=cell("decided_at", "")), problems


def _time(row: CsvRow, column: str, report: _Report) -> float | None:
    """Read a time of day with its date, in UTC unless it says otherwise."""
    text = row.cells.get(column)
    if text is None:
        return None
    try:
        time = datetime.datetime.fromisoformat(text)
    except ValueError:
        time = None
    if time is None or len(text) < len("2025-06-14T09:31"):
        report(column, "a date and time in UTC", shown(text), "write it as 2025-06-14T09:31:20Z")
        return None
    return (time if time.tzinfo else time.replace(tzinfo=datetime.UTC)).timestamp()


def _quantity(table: CsvTable, row: CsvRow, column: str, report: _Report) -> float | None:
    """Read a quantity within its range."""
    dimension = str(DECISION_COLUMNS[column])
    try:
        value = table.quantity(row, column, dimension)
    except UnitError as error:
        report(column, error.needed, error.found, error.mend)
        return None
    low, high = _RANGES[column]
    least, most = parse_quantity(low, dimension), parse_quantity(high, dimension)
    if value is None or least - 1e-9 <= value <= most + 1e-9:
        return value
    report(column, f"a value of {low} to {high}", shown(row.cells[column]),
           "check the number and the unit in the header")
    return None
