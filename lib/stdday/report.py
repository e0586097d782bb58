"""The report: one self-contained page, answer first, that opens and prints without a network.

Pictures are drawn into the page as SVG, so that it holds no script, takes the colours of the
reader's screen, and prints sharp on any paper. The same results give the same bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

import jinja2
import pandas as pd
import plotly.graph_objects as go
from markupsafe import Markup

from stdday import (
    captions,
    extract,
    plots,
    plots_airplane,
    plots_calibration,
    plots_flights,
    tables,
    tables_airplane,
    tables_calibration,
    tables_corrections,
    tables_takeoff,
    words,
)
from stdday.display import condition_words
from stdday.layout import Table, as_html
from stdday.metrics import METRICS
from stdday.picture import COLOURS
from stdday.picture_svg import svg
from stdday.results import Results
from stdday.results_calibration import NO_CURVE
from stdday.workers import Workers

__all__ = ["begin_drawing", "report_html", "report_pieces"]

#: Pictures of some flights each, still without numbers, by their place.
Drawings = Iterator[tuple[int, list[dict[str, Any]]]]

#: Flights whose pictures are drawn in one task [-].
FLIGHTS_AT_ONCE = 25
#: Stands for the name of a picture's title until it has a number.
_UNNUMBERED = "figure-unnumbered-title"

_LOOKS = {words.SHOWN: "shown", words.NO_DIFFERENCE: "none"}
_CONTENTS = (
    ("answer", "Answer"),
    ("pictures", "Pictures"),
    ("values", "Values"),
    ("airspeed", "Airspeed calibration"),
    ("balance", "Conditions flown"),
    ("corrections", "Corrections"),
    ("left-out", "What was left out, and why"),
    ("uncertainties", "Uncertainties"),
    ("flights", "Flights"),
    ("cautions", "Cautions"),
    ("fingerprints", "Fingerprints"),
)
_READING = (
    (
        "95 % interval",
        "The range that holds the true value in about 95 of 100 such campaigns, if the "
        "uncertainties listed below are right.",
    ),
    (
        words.SHOWN,
        "The flights show a difference: its interval leaves zero out, also with all the questions "
        "asked beforehand counted together. Whether it is as large as what matters is said beside "
        "it.",
    ),
    (
        words.NO_DIFFERENCE,
        "The flights show that any difference is smaller than the one named as mattering. That is "
        "evidence of its own, not the lack of a result. It goes by the 90 % interval.",
    ),
    (
        words.NOT_RESOLVED,
        "Neither can be said. The reason stands beside it; more flights, or flights in like "
        "conditions, may tell.",
    ),
    (
        "Two intervals that overlap",
        "may still belong to a difference that is shown. Part of each interval comes from errors "
        "that both configurations share, such as the same instruments; that part cancels in the "
        "difference. Read the interval of the difference.",
    ),
    (
        "Equal weight",
        "Differences are given at the same weight: what the change does. The mass that the change "
        "itself adds or saves is not counted in.",
    ),
)
_READING_ALONE = (
    _READING[0],
    (
        "One configuration",
        "There is nothing to compare with, so this report states values and claims no difference.",
    ),
)
_CAUTIONS = (
    "These are results of a private test, not approved data. The approved handbook, local rules "
    "and licensed people decide what may be flown and how.",
    "Whether a change may be flown at all is decided before the first flight, by those whose "
    "approval it needs. This report is no such approval.",
    "Numbers hold for the reference conditions named and for the airplane, pilots, surface and "
    "technique flown. On another day, at another weight or on grass they are other numbers. Add "
    "the margins that your rules and your judgement ask for.",
    "The ground roll ends at lift-off, and the distance to 50 ft over an obstacle of that height. "
    "Neither is the runway length needed: they are averages of rehearsed take-offs, without wind "
    "and without any allowance.",
    "Landing distances are as these pilots touched down and braked, on average: neither a shortest "
    "landing nor a runway length needed.",
    "An interval holds the errors that were thought of. A wrong weight, a wrong column or a fault "
    "common to all flights can lie outside of it.",
)


@lru_cache(maxsize=1)
def _template() -> jinja2.Template:
    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).parent),
        undefined=jinja2.StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    return environment.get_template("report.html")


def report_html(results: Results) -> str:
    """Make the report.

    Parameters
    ----------
    results : Results
        As for `report_pieces`.

    Returns
    -------
    str
        A whole HTML page that needs no other file.

    Examples
    --------
    >>> from tests.made_results import made
    >>> page = report_html(made())
    >>> page.splitlines()[0], "http://www.w3.org/2000/svg" in page, "<script" in page
    ('<!doctype html>', True, False)
    """
    return "".join(report_pieces(results))


def report_pieces(results: Results, drawings: Drawings | None = None) -> Iterator[str]:
    """Make the report piece by piece, so that the tables and pictures of one flight are in memory.

    Parameters
    ----------
    results : Results
        Results of a campaign; ``meta["invented"]`` adds the banner of an invented example, and
        ``meta["provenance"]`` gives the fingerprints.
    drawings : iterator, optional
        Pictures of its flights, where `begin_drawing` has begun them.

    Yields
    ------
    str
        One HTML page, from its beginning to its end.

    Examples
    --------
    >>> from tests.made_results import made
    >>> "".join(report_pieces(made())) == report_html(made())
    True
    """
    numbering = _Numbering()
    found = words.answers(results)
    differ = len(results.effects) > 0
    hints = [answer for answer in found if differ and not answer.primary]
    context: dict[str, Any] = {
        "title": results.meta["title"],
        "question": results.meta["question"],
        "invented": bool(results.meta.get("invented", False)),
        "changed": results.meta.get("changed_after_first_result", {}).get("words", ""),
        "flown": f"{words.configuration_line(results)}{_dates(results)}.",
        "contents": _CONTENTS,
        "colours": COLOURS,
        "asked": _answers(answer for answer in found if answer.primary or not differ),
        "exploratory": _answers(
            answer for answer in hints if answer.verdict != words.NOT_RESOLVED
        ),
        "unresolved": [a.title for a in hints if a.verdict == words.NOT_RESOLVED],
        "answer_table": _html(tables.answer(results)),
        "reading": _READING if differ else _READING_ALONE,
        "pictures": _pictures(results, numbering),
        "conditions": words.with_conditions(results).splitlines(),
        "values_table": _html(tables.values(results)),
        "configurations_table": _html(tables.configurations(results)),
        "effects_table": _html(tables.effects(results)) if differ else "",
        "margins_table": _takeoff(results, "takeoff_margins", tables_takeoff.margins),
        "margins_words": tables_takeoff.margin_words(results),
        "cross_check_table": _takeoff(results, "takeoff_cross_check", tables_takeoff.cross_check),
        "cross_check_words": tables_takeoff.cross_check_words(results),
        "airspeed": _airspeed(results, numbering),
        "agreement": tables_airplane.agreement_words(results),
        "balances": _balances(results),
        "corrections": _corrections(results, numbering),
        "left_out_table": _html(tables.left_out(results)),
        "costs_table": _html(tables.costs(results)),
        "uncertainties_table": _html(tables.uncertainties(results)),
        "flights_table": _html(_without_people(tables.flights(results))),
        "rows_table": _html(tables.rows_accounted(results)),
        "legend": extract.LEGEND,
        "flight_pictures": _flight_pictures(results, numbering, drawings),
        "cautions": [*_CAUTIONS, *_calibration(results)],
        "fingerprints_table": _html(tables.fingerprints(results)),
        "versions": _versions(results),
    }
    return _template().generate(context)


def _html(table: pd.DataFrame, caption: str = "") -> Markup:
    return Markup(as_html(table, caption, styled=False))


def _takeoff(results: Results, name: str, make: Callable[[Results], Table]) -> Markup:
    """Table of take-offs; nothing where the campaign gives none."""
    return _html(make(results)) if len(results.table(name)) else Markup("")


class _Numbering:
    """Numbers the figures in the order in which they are drawn."""

    def __init__(self) -> None:
        self.last = 0

    def drawing(self, title: str, figure: go.Figure) -> dict[str, Any]:
        """One figure with its number, drawn for the page."""
        return self.number(_drawing(title, figure))

    def number(self, drawing: dict[str, Any]) -> dict[str, Any]:
        """Give a drawing the next number."""
        self.last += 1
        name = f"figure-{self.last}"
        # once where the title is named and once where it is: both before any text of a flight
        drawn = Markup(drawing["svg"].replace(_UNNUMBERED, f"{name}-title", 2))
        return drawing | {"id": name, "number": self.last, "svg": drawn}


def _drawing(title: str, figure: go.Figure | dict[str, Any]) -> dict[str, Any]:
    """One figure, drawn for the page, still without number."""
    return {
        "title": title,
        "summary": figure["layout"]["meta"]["summary"],
        "svg": svg(figure, _UNNUMBERED, themed=True),
    }


def _answers(found: Iterable[words.Answer]) -> list[dict[str, str]]:
    return [
        {
            "verdict": words.capital(answer.verdict) if answer.verdict != "ok" else "Value",
            "look": _LOOKS.get(answer.verdict, "open"),
            "sentence": answer.sentence,
        }
        for answer in found
    ]


def _dates(results: Results) -> str:
    dates = sorted(date for date in results.flights["date"] if date)
    return f"; flown from {dates[0]} to {dates[-1]}" if dates else ""


def _pictures(results: Results, numbering: _Numbering) -> Iterator[dict[str, Any]]:
    made = set(results.values["metric"]) if len(results.values) else set()
    wanted = (
        (len(results.effects) > 0, "Differences", plots.differences),
        ("takeoff_ground_roll" in made, "Take-offs", plots.takeoffs),
        (len(results.where("corrections", metric="landing_ground_roll")) > 0, "Landings",
         plots.landings),
        ("climb_rate" in made, "Climbs", plots.climbs),
        (len(results.table("climb_curve")) > 0, "Rate of climb against airspeed",
         plots_airplane.climb_curve),
        (len(results.curve_points) > 0, "Level flight", plots.level_curve),
        (len(results.curve_points) > 0, "Fuel flow", plots.fuel_curve),
        ("cruise_true_airspeed" in made, "Cruise", plots.cruise),
        (len(results.table("efficiency_ratio")) > 0, "Ratio of installed efficiencies",
         plots_airplane.efficiency_ratio),
    )
    return (numbering.drawing(title, draw(results)) for there, title, draw in wanted if there)


def _airspeed(results: Results, numbering: _Numbering) -> Iterator[dict[str, Any]]:
    """The one part on the airspeed calibration, numbered when its turn comes."""
    there = len(tables_calibration.curves_of(results)) > 0
    refused = tables_calibration.refused(results)
    yield {
        "how": tables_calibration.how_calibrated(results),
        "words": [str(text) for one in results.meta.get("calibration_words", ())
                  for text in one["words"]],
        "drawing": numbering.drawing("Airspeed correction", plots_calibration.curve(results))
        if there else None,
        "table": _html(tables_calibration.handbook(results)) if there else "",
        "patterns": _html(tables_calibration.patterns(results)) if there else "",
        "refused": _html(refused) if len(refused) else "",
    }  # fmt: skip


def _balances(results: Results) -> list[dict[str, Any]]:
    """Conditions of each family of metrics, said once where metrics rest on the same points."""
    found: list[dict[str, Any]] = []
    seen: set[str] = set()
    for metric in dict.fromkeys(results.balance["metric"]) if len(results.balance) else ():
        table = tables.balance(results, metric)
        text = table.to_csv()
        if text in seen or metric not in METRICS:
            continue
        seen.add(text)
        found.append(
            {
                "title": METRICS[metric].title,
                "summary": captions.balance(results, metric),
                "table": _html(table),
            }
        )
    return found


# ---- corrections ---------------------------------------------------------------------------------


def _corrections(results: Results, numbering: _Numbering) -> Iterator[dict[str, Any]]:
    for metric in dict.fromkeys(results.corrections["metric"]):
        own = results.where("corrections", metric=metric)
        first = str(own["point"].iloc[0])
        title = "Level runs" if metric == "cruise_true_airspeed" else METRICS[metric].title
        several = len(set(own["step"])) > 1
        example = plots.ledger_steps(results, first, metric) if several else None
        yield {
            "title": title,
            "table": _html(tables.ledger_mean(results, metric)),
            "drawing": numbering.drawing(f"Steps of one point, {first}", example)
            if example is not None
            else None,
            "flights": _by_flight(results, metric, own),
            "sources": _html(_sources(own)),
        }


def _by_flight(results: Results, metric: str, own: pd.DataFrame) -> Iterator[dict[str, Any]]:
    known = extract.points_of(results)
    by_flight: dict[str, list[int]] = {}
    for place, point in enumerate(own["point"]):
        if point in known:
            by_flight.setdefault(known[point][0], []).append(place)
    conditions = dict(extract.conditions_of(results, metric))
    several = len(set(own["condition_id"])) > 1
    for flight, places in by_flight.items():
        parts = []
        chains = tables_corrections.ledgers(results, own.iloc[places])
        for (point, condition_id), columns in chains.items():
            condition = conditions.get(condition_id, "")
            told = condition_words(results.meta, condition_id, condition)
            name = f"{point}, {told}" if several and told else point
            rows = {column: cells for column, cells in columns.items() if column != "Source"}
            parts.append(as_html(rows, name, styled=False))
        count = words.count(len({point for point, _ in chains}), "point")
        yield {"name": flight, "count": count, "table": Markup("\n".join(parts))}


def _sources(own: pd.DataFrame) -> Table:
    pairs = dict.fromkeys(zip(own["step"], own["source"], strict=True))
    return Table([{"Step": step, "Source": source} for step, source in pairs])


# ---- flights, cautions, versions -----------------------------------------------------------------


def _without_people(table: pd.DataFrame) -> pd.DataFrame:
    """Leave pilots out: a report is handed on, and names are theirs."""
    return table.drop(columns=[name for name in ("Pilot",) if name in table])


def begin_drawing(results: Results, workers: Workers) -> Drawings:
    """Have the pictures of all flights drawn in other processes, some of them a task.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    workers : Workers
        Processes; where none run, nothing is done until the report is made.

    Returns
    -------
    iterator
        For `report_html` of the same results.
    """
    known = list(dict.fromkeys(results.traces["flight"])) if len(results.traces) else []
    starts = range(0, len(known), FLIGHTS_AT_ONCE)
    some = (known[start : start + FLIGHTS_AT_ONCE] for start in starts)
    return workers.each(_drawn, ((_only(results, flights), flights) for flights in some))


def _flight_pictures(
    results: Results, numbering: _Numbering, drawings: Drawings | None
) -> Iterator[dict[str, Any]]:
    """Number the pictures of all flights, now that those before them are."""
    waiting: dict[int, list[dict[str, Any]]] = {}
    following = 0
    for place, drawn in begin_drawing(results, Workers()) if drawings is None else drawings:
        waiting[place] = drawn
        while following in waiting:
            yield from map(numbering.number, waiting.pop(following))
            following += 1


def _only(results: Results, flights: list[str]) -> Results:
    """What the pictures of some flights need of the results."""
    nothing = {name: pd.DataFrame() for name in Results.core_names()}
    own = {
        name: table[table["flight"].isin(flights)]
        for name, table in (("traces", results.traces), ("points", results.points))
        if len(table)
    }
    frames: dict[str, Any] = nothing | own | {"flights": results.flights}
    return Results(meta=results.meta, **frames)


def _drawn(task: tuple[Results, list[str]]) -> list[dict[str, Any]]:
    """Pictures of some flights, still without number."""
    results, flights = task
    return [_drawing(name, plots_flights.flight_parts(results, name)) for name in flights]


def _calibration(results: Results) -> list[str]:
    lines = []
    for airplane, kind in results.meta.get("calibration", {}).items():
        if kind in ("none", NO_CURVE):
            lines.append(
                f"The airspeed of airplane {airplane} was not calibrated; what that costs is in "
                "the intervals."
            )
    return lines


def _versions(results: Results) -> list[str]:
    made = results.meta.get("provenance", {})
    if not made:
        return ["No fingerprints were given to this report."]
    packages = ", ".join(f"{name} {value}" for name, value in made.get("packages", {}).items())
    lines = [
        f"Standard Day {made.get('version', 'unknown')}",
        f"Code SHA-256 {made.get('code', 'unknown')}",
        f"Python {made.get('python', 'unknown')}; {packages}",
        f"Draws {results.meta['draws']}, seed {results.meta['seed']}",
    ]
    if made.get("lock"):
        lines.append(f"requirements.lock SHA-256 {made['lock']}")
    return lines
