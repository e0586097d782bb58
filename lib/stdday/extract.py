"""Pieces of the results that tables, sentences and pictures share, in display units."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from stdday.display import metric_scale, scale_of
from stdday.errors import InputError
from stdday.results import Results

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "LEGEND",
    "LETTERS",
    "chain",
    "chain_ends",
    "conditions_of",
    "configurations",
    "points_of",
    "spans",
    "trace",
    "value_of",
]

#: Letter of each kind of test point in pictures: neither twice, nor those of configurations (A, B).
LETTERS = {"take-off": "T", "climb": "C", "level run": "L", "landing": "D",
           "airspeed calibration": "P", "acceleration": "V"}  # fmt: skip
#: What the letters stand for, in words.
LEGEND = (
    "T take-off, C climb, L level run, D landing (touchdown), P airspeed pattern, V level "
    "acceleration"
)


def configurations(results: Results) -> list[str]:
    """Configurations in the order of the campaign, the reference configuration first.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    list of str

    Examples
    --------
    >>> from tests.made_results import made
    >>> configurations(made())
    ['A', 'B']
    """
    names = list(results.meta["configurations"])
    reference = results.meta["reference_configuration"]
    return sorted(names, key=lambda name: name != reference)


def conditions_of(results: Results, metric: str) -> list[tuple[str, str]]:
    """Conditions for which a metric has values, in their order.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    metric : str
        Metric name.

    Returns
    -------
    list of (condition_id, condition)

    Examples
    --------
    >>> from tests.made_results import made
    >>> [name for name, _ in conditions_of(made(), "climb_rate")]
    ['climb_1', 'climb_2']
    """
    own = results.values[results.values["metric"] == metric]
    found: dict[str, str] = {}
    for condition_id, condition in zip(own["condition_id"], own["condition"], strict=True):
        if not found.get(condition_id):
            found[condition_id] = condition
    return list(found.items())


def value_of(
    results: Results, metric: str, condition_id: str, configuration: str
) -> Mapping[str, object] | None:
    """Row of ``values.csv`` for a metric, condition and configuration.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    metric, condition_id, configuration : str
        Which row.

    Returns
    -------
    mapping or None
        None where there is no such row.

    Examples
    --------
    >>> from tests.made_results import made
    >>> value_of(made(), "climb_rate", "climb_1", "A")["estimate"]
    760.0
    """
    table = results.values
    own = table[
        (table["metric"] == metric)
        & (table["condition_id"] == condition_id)
        & (table["configuration"] == configuration)
    ]
    rows = own.to_dict("records")
    return {str(key): item for key, item in rows[0].items()} if rows else None


def points_of(results: Results) -> dict[str, tuple[str, str, str]]:
    """Flight, configuration and kind of each test point.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    dict of str to (flight, configuration, kind)

    Examples
    --------
    >>> from tests.made_results import made
    >>> points_of(made())["F4-climb-080800"]
    ('F4', 'B', 'climb')
    """
    if not len(results.points):
        return {}
    columns = (results.points[name] for name in ("point", "flight", "configuration", "kind"))
    return {point: (flight, name, kind) for point, flight, name, kind in zip(*columns, strict=True)}


def chain_ends(results: Results, metric: str, condition_id: str) -> pd.DataFrame:
    """Value as flown and corrected value of each point of a metric, in display units.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    metric, condition_id : str
        Which chain of corrections.

    Returns
    -------
    DataFrame
        ``point, flight, configuration, as_flown, corrected``, one row a point, in the order of the
        configurations and then of the points.

    Examples
    --------
    >>> from tests.made_results import made
    >>> chain_ends(made(), "takeoff_ground_roll", "takeoff")["corrected"].to_list()[:2]
    [214.5, 216.5]
    """
    table, known = results.corrections, points_of(results)
    own = table[(table["metric"] == metric) & (table["condition_id"] == condition_id)]
    # A chain may begin with the steps of another quantity, such as a headwind.
    last = own.groupby("point")["quantity"].transform("last")
    own = own[own["quantity"] == last] if len(own) else own
    scale = metric_scale(results.meta, metric)
    rows = [
        {
            "point": point,
            "flight": known[point][0],
            "configuration": known[point][1],
            "as_flown": scale.value(float(steps["before"].iloc[0])),
            "corrected": scale.value(float(steps["after"].iloc[-1])),
        }
        for point, steps in ((str(name), rows) for name, rows in own.groupby("point", sort=False))
        if point in known
    ]
    order = {name: place for place, name in enumerate(configurations(results))}
    rows.sort(key=lambda row: order.get(str(row["configuration"]), len(order)))
    return pd.DataFrame(rows, columns=["point", "flight", "configuration", "as_flown", "corrected"])


def chain(
    results: Results, point: str, metric: str, condition_id: str | None = None
) -> pd.DataFrame:
    """Ledger rows of a point, in display units.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    point, metric : str
        Which chain of corrections.
    condition_id : str, optional
        Which condition; the first that the point has, unless given.

    Returns
    -------
    DataFrame
        Rows of ``corrections.csv`` with ``before``, ``change``, ``after`` and ``unit`` as
        displayed, and the ``decimals`` to print.

    Raises
    ------
    InputError
        Where the ledger holds no such chain.

    Examples
    --------
    >>> from tests.made_results import made
    >>> chain(made(), "F1-take-off-080400", "takeoff_ground_roll")["step"].to_list()
    ['no wind', 'runway slope', 'weight', 'air density']
    """
    table = results.corrections
    own = results.where("corrections", point=point, metric=metric)
    if condition_id is None and len(own):
        condition_id = str(own["condition_id"].iloc[0])
    own = own[own["condition_id"] == condition_id].reset_index(drop=True)
    if not len(own):
        points = sorted(set(table.loc[table["metric"] == metric, "point"]))
        raise InputError(
            f"point and metric must be in the ledger; got {point!r}, {metric!r}. "
            f"Points with this metric: {', '.join(points[:6]) or 'none'}"
            f"{' …' if len(points) > 6 else ''}"
        )
    scales = [scale_of(results.meta, unit) for unit in own["unit"]]
    for column in ("before", "after"):
        own[column] = [s.value(v) for s, v in zip(scales, own[column], strict=True)]
    own["change"] = [s.change(v) for s, v in zip(scales, own["change"], strict=True)]
    own["unit"] = [scale.unit for scale in scales]
    own["decimals"] = [scale.decimals for scale in scales]
    return own


def trace(results: Results, flight: str) -> pd.DataFrame:
    """Thinned-out time history of a flight, in display units.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    flight : str
        Flight id.

    Returns
    -------
    DataFrame
        ``minutes``, ``pressure_altitude``, ``indicated_airspeed``, ``ground_speed``,
        ``start_utc``.

    Raises
    ------
    InputError
        Where the results hold no such flight.

    Examples
    --------
    >>> from tests.made_results import made
    >>> float(trace(made(), "F1")["pressure_altitude"].max())
    3500.0
    """
    own = _trace_rows(results, flight).reset_index(drop=True)
    frame = own[["minutes", "start_utc"]].copy()
    for name, unit in (("pressure_altitude", "ft"), ("indicated_airspeed", "kt"),
                       ("ground_speed", "kt")):  # fmt: skip
        scale = scale_of(results.meta, unit)
        frame[name] = scale.value(1.0) * own[f"{name} [{unit}]"].astype(float)
    return frame


def _trace_rows(results: Results, flight: str) -> pd.DataFrame:
    """Rows of a flight's trace; a flight that was not read is refused."""
    own = results.where("traces", flight=flight)
    if not len(own):
        known = list(dict.fromkeys(results.traces["flight"])) if len(results.traces) else []
        raise InputError(
            f"flight must be one that was read; got {flight!r} "
            f"(known: {', '.join(known) or 'none'})"
        )
    return own


def spans(results: Results, flight: str) -> pd.DataFrame:
    """Test points of a flight on the time axis of its trace.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    flight : str
        Flight id.

    Returns
    -------
    DataFrame
        ``label`` (a letter of `LETTERS` with a number), ``kind``, ``start``, ``end`` in minutes of
        the recording (NaN for points that were written on a card), ``used``, ``reason``, ``point``.

    Examples
    --------
    >>> from tests.made_results import made
    >>> spans(made(), "F4")["label"].to_list()
    ['T1', 'C1', 'L1', 'L2', 'T2']
    """
    begun = pd.Timestamp(_trace_rows(results, flight)["start_utc"].iloc[0])
    own = results.where("points", flight=flight)
    counts: dict[str, int] = {}
    rows = []
    for row in own.to_dict("records"):
        kind = str(row["kind"])
        counts[kind] = counts.get(kind, 0) + 1
        start, end = ((pd.Timestamp(row[key]) - begun).total_seconds() / 60
                      for key in ("start_utc", "end_utc"))  # fmt: skip
        rows.append(
            {
                "label": f"{LETTERS.get(kind, kind[:1].upper())}{counts[kind]}",
                "kind": kind,
                "start": float(np.round(start, 2)),
                "end": float(np.round(end, 2)),
                "used": bool(row["used"]),
                "reason": str(row["reason"]),
                "point": str(row["point"]),
            }
        )
    return pd.DataFrame(rows, columns=["label", "kind", "start", "end", "used", "reason", "point"])
