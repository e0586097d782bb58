"""Tables of the test points for reading: counted, flight by flight, reasons, what has no value."""

from __future__ import annotations

import re
from collections.abc import Iterable

from stdday import extract, tables, words
from stdday.display import NONE, metric_words, with_label
from stdday.layout import Table, records
from stdday.results import Results

__all__ = ["decision_rows", "flown", "points_found", "reasons", "without_value"]


def points_found(results: Results) -> Table:
    """Count test points by kind and configuration: found, used, left out.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table

    Examples
    --------
    >>> from tests.made_results import made
    >>> points_found(made()).iloc[1].to_list()
    ['Take-off', 'B (three-blade)', '4', '3', '1']
    """
    rows = []
    for kind in _kinds(results):
        for name in extract.configurations(results):
            own = results.points
            own = own[(own["kind"] == kind) & (own["configuration"] == name)] if len(own) else own
            used = int(own["used"].astype(bool).sum()) if len(own) else 0
            rows.append((words.capital(kind), with_label(results.meta, name), str(len(own)),
                         str(used), str(len(own) - used)))  # fmt: skip
    return Table(rows, columns=["Kind", "Configuration", "Found", "Used", "Left out"])


def _kinds(results: Results) -> list[str]:
    """Kinds that every campaign is asked about, and the others that were found."""
    found = set(results.points["kind"]) if len(results.points) else set()
    return [kind for place, kind in enumerate(extract.LETTERS) if place < 3 or kind in found]


def flown(results: Results, kind: str) -> Table:
    """What was flown in the used points of a kind, flight by flight.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    kind : str
        One of `stdday.extract.LETTERS`.

    Returns
    -------
    Table
        Least and greatest of each mean over a point.

    Examples
    --------
    >>> from tests.made_results import made
    >>> flown(made(), "level run")["Power [kW]"].to_list()[:2]
    ['69.2', '68.2']
    """
    table = tables.points(results, kind)
    known = extract.points_of(results)
    own = table[table["Used"] == "yes"] if len(table) else table
    rows: dict[str, dict[str, str]] = {}
    for flight in dict.fromkeys(known[point][0] for point in own.get("Point", ())):
        mine = own[[known[point][0] == flight for point in own["Point"]]]
        rows[flight] = {"Flight": flight, "Configuration": mine["Configuration"].iloc[0],
                        "Points": str(len(mine))}  # fmt: skip
        rows[flight] |= {name: _span(mine[name]) for name in map(str, mine) if name.endswith("]")}
    return Table(rows.values()) if rows else Table(columns=["Flight", "Configuration", "Points"])


def _span(cells: Iterable[str]) -> str:
    numbers = sorted((cell for cell in cells if cell != NONE), key=float)
    if not numbers:
        return NONE
    return numbers[0] if numbers[0] == numbers[-1] else f"{numbers[0]} to {numbers[-1]}"


def reasons(results: Results, kind: str | None = None) -> Table:
    """Reasons why points were left out, counted by configuration, with one point as an example.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    kind : str, optional
        One of `stdday.extract.LETTERS`; all kinds, unless given.

    Returns
    -------
    Table
        Numbers within a reason stand as dots, so that like reasons count together.

    Examples
    --------
    >>> from tests.made_results import made
    >>> reasons(made())
    Left out for              Reason          A  B  For example
    everything                touch-and-go    –  1  F4-take-off-085000
    Rate of climb at 4000 ft  flown at … kt   1  –  F2-climb-080800
    """
    known, names = extract.points_of(results), extract.configurations(results)
    counts: dict[tuple[str, str], list[str]] = {}
    for row in records(tables.left_out(results)):
        if kind is not None and known.get(row["Point"], ("", "", ""))[2] != kind:
            continue
        first = re.split(r"[:;,(]", row["Reason"])[0].strip()
        key = (row["For"], re.sub(r"[-+]?\d[\d.]*", "…", first))
        counts.setdefault(key, []).append(row["Point"])
    rows = []
    for key, points in counts.items():
        flown_with = [known.get(point, ("", "", ""))[1] for point in points]
        numbers = [flown_with.count(name) for name in names]
        rows.append((*key, *(str(number or NONE) for number in numbers), points[0]))
    return Table(rows, columns=["Left out for", "Reason", *names, "For example"])


def decision_rows(results: Results, flight: str) -> str:
    """Rows for ``decisions.csv``, one a point of a flight, to copy and fill in.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    flight : str
        Flight id.

    Returns
    -------
    str
        Header and rows; what to decide and the reason are left to the person.

    Examples
    --------
    >>> from tests.made_results import made
    >>> print(decision_rows(made(), "F4").splitlines()[1])
    F4-take-off-080400,F4,take-off,2026-05-04T08:04:00Z,2026-05-04T08:04:40Z,,
    """
    told = ("point", "flight", "kind", "start_utc", "end_utc")
    own = [row for row in records(results.points) if row["flight"] == flight]
    lines = [",".join([*(str(row[key]) for key in told), "", ""]) for row in own]
    return "\n".join([",".join([*told, "use", "reason"]), *lines])


def without_value(results: Results) -> Table:
    """Metrics that have no value for a configuration, and why.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table

    Examples
    --------
    >>> from tests.made_results import made
    >>> without_value(made())["Configuration"].to_list()
    ['B', 'B']
    """
    rows = []
    for row in records(results.values[results.values["status"] != "ok"]):
        told = (str(row[key]) for key in ("metric", "condition_id", "condition"))
        rows.append((metric_words(results.meta, *told), str(row["configuration"]),
                     str(row["status"]), str(row["reason"])))  # fmt: skip
    return Table(rows, columns=["What", "Configuration", "Status", "Reason"])
