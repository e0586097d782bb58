"""What a notebook needs beside tables and pictures: its results, its test card, words to read.

Importing this module in a notebook also has errors of the workbook shown as their message, which
says how to mend them, without a page of program text.
"""

from __future__ import annotations

import html
import os
import sys
import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import plotly.graph_objects as go

from stdday import extract, plots, store, tables, words
from stdday.cards import card, reference_day
from stdday.display import metric_words
from stdday.errors import StddayError
from stdday.layout import Table, records
from stdday.metrics import METRICS
from stdday.picture import empty
from stdday.pipeline import run
from stdday.results import Results
from stdday.tables_points import decision_rows, flown, points_found, reasons, without_value

__all__ = [
    "Passage",
    "about",
    "calibrations",
    "campaign_folder",
    "card",
    "decision_rows",
    "flight_to_look_at",
    "flown",
    "in_words",
    "leading_metric",
    "next_flights",
    "one_point",
    "one_point_steps",
    "open_results",
    "points_found",
    "reasons",
    "reference_day",
    "sample_point",
    "without_value",
]

#: Campaign of the notebooks that stand in ``workbook/`` itself: the invented example.
DEMO = Path(__file__).resolve().parents[2] / "data_demo" / "propeller_change"
#: Set by the launcher where a person is at the keyboard.
OPENED = "STDDAY_OPENED"
#: Characters to a line of printed sentences.
WIDTH = 100


# ---- the campaign and its results ----------------------------------------------------------------


def campaign_folder(start: Path | None = None) -> Path:
    """Find the campaign that a notebook belongs to.

    Parameters
    ----------
    start : Path, optional
        Folder to start from; the working folder where not given.

    Returns
    -------
    Path
        The nearest folder at or above it with a ``campaign.toml``, else the invented example.

    Raises
    ------
    StddayError
        Where neither is there.
    """
    here = (start or Path.cwd()).resolve()
    for folder in (here, *here.parents):
        if (folder / "campaign.toml").is_file():
            return folder
    if (DEMO / "campaign.toml").is_file():
        return DEMO
    raise StddayError(
        "campaign.toml: not found at or above this folder. Mend: open the notebooks with "
        "python3 workbook FOLDER, which puts a copy into the campaign."
    )


def open_results(folder: Path | str | None = None) -> Results:
    """Results of a campaign, made first where an input has changed.

    Parameters
    ----------
    folder : Path or str, optional
        Campaign folder; the one the notebook stands in where not given.

    Returns
    -------
    Results

    Raises
    ------
    StddayError
        Where the campaign has errors.
    """
    found = Path(folder) if folder is not None else campaign_folder()
    if store.up_to_date(found):
        return store.load_results(found)
    if os.environ.get(OPENED) == "1":    # never in stored notebooks, whose outputs stay the same
        print("An input has changed: results are made anew, which may take a minute.", flush=True)
    return run(found)


def _show_errors_plainly() -> None:
    """Have a notebook show the message of a workbook error alone."""
    program = sys.modules.get("IPython")
    shell = program.get_ipython() if program is not None else None
    if shell is not None:
        shell.set_custom_exc((StddayError,), _plain_error)


def _plain_error(shell: Any, kind: type, error: Exception, *_: object, **__: object) -> None:
    lines = [part for line in str(error).splitlines() for part in textwrap.wrap(line, WIDTH)]
    shell._showtraceback(kind, error, ["This cannot go on:", *lines])


# ---- sentences on a page -------------------------------------------------------------------------


class Passage:
    """Sentences made from results, laid out as a page shows them.

    Parameters
    ----------
    parts : iterable of (str, str)
        Heading, which may be empty, and text of each paragraph.

    Examples
    --------
    >>> Passage([("Shown", "Take-off ground roll: 21 m shorter with B than with A.")])
    Shown. Take-off ground roll: 21 m shorter with B than with A.
    """

    def __init__(self, parts: Iterable[tuple[str, str]]) -> None:
        self.parts = tuple(parts)

    def __repr__(self) -> str:
        whole = (f"{head}. {text}" if head else text for head, text in self.parts)
        return "\n\n".join(textwrap.fill(text, WIDTH) for text in whole)

    def _repr_html_(self) -> str:
        lines = []
        for head, text in self.parts:
            strong = f"<strong>{_escaped(head)}.</strong> " if head else ""
            lines.append(f"<p>{strong}{_escaped(text)}</p>")
        return "\n".join(lines)


def _escaped(text: str) -> str:
    """Text for a page: no mark-up, and no formula between two dollar signs."""
    return html.escape(text).replace("$", "<span>$</span>")


def about(results: Results) -> Passage:
    """Campaign of these results: title, question, configurations.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Passage
        First of all that the campaign is invented, where it is.

    Examples
    --------
    >>> from tests.made_results import made
    >>> about(made())
    Campaign. Two propellers, made up for tests
    <BLANKLINE>
    Question. Does B shorten the take-off?
    <BLANKLINE>
    Flown. A (two-blade): 3 flights; B (three-blade): 3 flights. Differences are the other minus A.
    """
    meta, names = results.meta, extract.configurations(results)
    parts = [("Invented example", "The airplane, the field and every flight are made up.")]
    parts = parts if meta.get("invented") else []
    parts += [("Campaign", str(meta["title"])), ("Question", str(meta["question"]))]
    told = words.configuration_line(results)
    more = (
        f"Differences are the other minus {meta['reference_configuration']}."
        if len(names) > 1
        else "One configuration: values with their intervals, and no differences."
    )
    return Passage([*parts, ("Flown", f"{told}. {more}")])


def calibrations(results: Results) -> Passage:
    """Say which airspeed calibration each airplane has.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Passage

    Examples
    --------
    >>> from tests.made_results import made
    >>> calibrations(made())
    Airplane one. No airspeed calibration: indicated airspeed is taken as it is, and the interval is
    wider for it.
    """
    none = (
        "No airspeed calibration: indicated airspeed is taken as it is, and the interval is wider "
        "for it."
    )
    known = results.meta["calibration"]
    return Passage(
        (f"Airplane {name}", none if how == "none" else f"Airspeed calibration: {how}.")
        for name, how in known.items()
    )


def in_words(results: Results, *metrics: str) -> Passage:
    """Say what is known of some metrics: a sentence a difference, or a value where there is none.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    *metrics : str
        Metric names; the questions asked beforehand, unless given.

    Returns
    -------
    Passage
        Each sentence under its verdict.

    Examples
    --------
    >>> from tests.made_results import made
    >>> in_words(made(), "takeoff_time_to_liftoff").parts[0][0]
    'Shown'
    """
    rows, differ = _rows(results, metrics)
    say = words.effect_sentence if differ else words.value_sentence
    heads = {"ok": "Value", "refused": "Refused"}
    parts = []
    for row in rows:
        found = str(row["verdict" if differ else "status"])
        parts.append((words.capital(heads.get(found, found)), say(results.meta, row)))
    return Passage(parts or [("", "Nothing to say: these results hold no such metric.")])


def _rows(results: Results, metrics: Sequence[str]) -> tuple[list[dict[str, Any]], bool]:
    """Rows of the named metrics, primary ones unless named; whether they are differences."""
    differ = len(results.weighed) > 0
    table = results.weighed if differ else results.values
    wanted = metrics or tuple(results.meta["primary"])
    own = table[table["metric"].isin(wanted)]
    return records(own if len(own) or metrics else table), differ


def next_flights(results: Results, *metrics: str) -> Passage:
    """Say what to fly next, from the reasons of what is not resolved.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    *metrics : str
        Metric names; the questions asked beforehand, unless given.

    Returns
    -------
    Passage

    Examples
    --------
    >>> from tests.made_results import made
    >>> next_flights(made(), "climb_gradient")
    More days. Further flights of each configuration, on other days, narrow what scatter leaves
    open: Climb gradient at 1000 ft.
    """
    rows, differ = _rows(results, metrics)
    advice = _advice(str(results.meta["reference_configuration"]), differ)
    parts = []
    for head, text, applies in advice:
        titles = [_title(results, row) for row in rows if applies(row)]
        if titles:
            parts.append((head, f"{text}: {'; '.join(dict.fromkeys(titles))}."))
    done = "Nothing is needed for these questions: each has its answer."
    return Passage(parts or [("", done if rows else "There is nothing to go on from.")])


def _title(results: Results, row: Mapping[str, Any]) -> str:
    told = (str(row[key]) for key in ("metric", "condition_id", "condition"))
    title = metric_words(results.meta, *told)
    other = row.get("configuration_b") or row.get("configuration")
    title = f"{title}, {other}" if len(extract.configurations(results)) > 2 else title
    missing = str(row["reason"]).startswith("confounded") or not np.isfinite(
        float(row.get("difference", row.get("estimate")))
    )
    return f"{title} ({str(row['reason']).rstrip('.')})" if missing else title


_Advice = tuple[str, str, Callable[[Mapping[str, Any]], bool]]


def _advice(reference: str, differ: bool) -> tuple[_Advice, ...]:
    """What helps, and whether it applies to a row."""
    if not differ:
        return (
            ("A first value", "What the recordings did not carry",
             lambda row: row["status"] != "ok"),
            ("More days", "A second and a third flight on other days, so that scatter is measured "
             "and not assumed", lambda row: str(row["basis"]).startswith("assumed")),
        )  # fmt: skip
    return (
        ("A first comparison", "What the recordings did not carry",
         lambda row: not np.isfinite(row["difference"])),
        ("The same conditions", "Both configurations in like weather, at like weights",
         lambda row: "confounded" in row["reason"]),
        ("More days", "A second and a third flight on other days, so that scatter is measured and "
         "not assumed", lambda row: row["reason"].startswith("one flight")),
        ("More days", "Further flights of each configuration, on other days, narrow what scatter "
         "leaves open", lambda row: row["reason"].startswith(("scatter", "excludes zero alone"))),
        ("Back to the start", f"Flights with {reference} again, so that a change of season or "
         "engine is told from the change made",
         lambda row: "one change-over" in row["reason"]),
        ("For the size alone", "The difference is shown; further flights would say whether it is "
         "as large as what matters", lambda row: row["reason"].startswith("not surely")),
    )  # fmt: skip


# ---- which flight, metric and point to show ------------------------------------------------------


def flight_to_look_at(results: Results) -> str:
    """Flight with the most to explain: the one of which most points were left out.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    str
        The first of them; empty where no flight was read.

    Examples
    --------
    >>> from tests.made_results import made
    >>> flight_to_look_at(made())
    'F4'
    """
    read = results.traces["flight"] if len(results.traces) else ()
    left = {str(flight): 0 for flight in dict.fromkeys(read)}
    for row in records(results.points):
        if row["flight"] in left and not row["used"]:
            left[row["flight"]] += 1
    return max(left, key=lambda flight: left[flight], default="")


def leading_metric(results: Results) -> tuple[str, str]:
    """Metric and condition of the first question that has values flight by flight.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    metric, condition_id : str
        The first primary metric where no flight has a value of its own.

    Examples
    --------
    >>> from tests.made_results import made
    >>> leading_metric(made())
    ('takeoff_ground_roll', 'takeoff')
    """
    primary = [*results.meta["primary"], *METRICS]
    for metric in primary:
        own = results.flight_values[results.flight_values["metric"] == metric]
        if len(own):
            return metric, str(own["condition_id"].iloc[0])
    first = records(results.values)[:1]
    return (str(first[0]["metric"]), str(first[0]["condition_id"])) if first else (primary[0], "")


def sample_point(results: Results, metric: str) -> str:
    """Point to follow through the corrections: the middle one of its metric by its result.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    metric : str
        Metric name.

    Returns
    -------
    str
        Point id; empty where no point carries the metric.

    Examples
    --------
    >>> from tests.made_results import made
    >>> sample_point(made(), "takeoff_ground_roll")
    'F1-take-off-080400'
    """
    own = results.corrections[results.corrections["metric"] == metric]
    if not len(own):
        return ""
    ends = extract.chain_ends(results, metric, str(own["condition_id"].iloc[0]))
    ends = ends.sort_values(["corrected", "point"], kind="stable")
    return str(ends["point"].iloc[len(ends) // 2]) if len(ends) else ""


def one_point(results: Results, point: str, metric: str) -> Table:
    """Correction ledger of one point, from raw to final.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    point : str
        Point id; empty for none.
    metric : str
        Metric name.

    Returns
    -------
    Table
        Without rows where no point was named.

    Examples
    --------
    >>> from tests.made_results import made
    >>> one_point(made(), "", "climb_rate")
    Step  Before  Change  After
    (none)
    """
    if not point:
        return Table(columns=["Step", "Before", "Change", "After"])
    return tables.ledger(results, point, metric)


def one_point_steps(results: Results, point: str, metric: str) -> go.Figure:
    """Picture of the corrections of one point.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    point : str
        Point id; empty for none.
    metric : str
        Metric name.

    Returns
    -------
    plotly.graph_objects.Figure
        A picture that says so, where no point was named.

    Examples
    --------
    >>> from tests.made_results import made
    >>> one_point_steps(made(), "", "climb_rate").layout.meta["summary"]
    'Rate of climb: no corrected point.'
    """
    if not point:
        return empty(f"{METRICS[metric].title}: no corrected point.")
    return plots.ledger_steps(results, point, metric)


_show_errors_plainly()
