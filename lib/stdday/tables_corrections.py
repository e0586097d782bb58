"""Tables of the corrections: one point's ledger, mean sizes of the steps, what was left out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pandas as pd

from stdday import extract
from stdday.display import Scale, condition_words, metric_words, number, scale_of
from stdday.layout import Table, records, without_empty
from stdday.metrics import METRICS
from stdday.reduce_takeoff import CROSS_CHECK
from stdday.results import Results

__all__ = ["ledger", "ledger_mean", "ledgers", "left_out"]


def ledger(results: Results, point: str, metric: str, condition_id: str | None = None) -> Table:
    """Correction ledger of one point: every step with its size, source and inputs.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    point, metric : str
        Which point and metric.
    condition_id : str, optional
        Which condition; the first that the point has, unless given.

    Returns
    -------
    Table

    Raises
    ------
    InputError
        Where the ledger holds no such point and metric.

    Examples
    --------
    >>> from tests.made_results import made
    >>> ledger(made(), "F1-take-off-080400", "takeoff_ground_roll")[["Step", "Change", "After"]]
    Step          Change  After
    no wind          +23    226
    runway slope      -2    224
    weight            +6    230
    air density      -16    214
    """
    steps = extract.chain(results, point, metric, condition_id)
    return without_empty(Table([_step(row) for row in records(steps)]), ("Inputs",))


def _step(row: Mapping[str, Any]) -> dict[str, str]:
    """One step in words, of a row in display units."""
    decimals = int(row["decimals"])
    return {
        "Step": row["step"],
        "Quantity": row["quantity"],
        "Unit": row["unit"],
        "Before": number(row["before"], decimals),
        "Change": number(row["change"], decimals, plus=True),
        "After": number(row["after"], decimals),
        "Inputs": str(row["inputs"]).strip("; "),
        "Source": row["source"],
    }


def ledgers(
    results: Results, own: pd.DataFrame
) -> dict[tuple[str, str], dict[str, list[str]]]:
    """Correction ledgers of many points of one metric, as columns of text.

    The same as `ledger` of each, made in one go: an archive holds thousands.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    own : DataFrame
        Rows of its ``corrections``.

    Returns
    -------
    dict of (point, condition_id) to dict of str to list of str

    Examples
    --------
    >>> from tests.made_results import made
    >>> rolls = made().where("corrections", metric="takeoff_ground_roll")
    >>> ledgers(made(), rolls)["F1-take-off-080400", "takeoff"]["Change"]
    ['+23', '-2', '+6', '-16']
    """
    scales = {unit: scale_of(results.meta, unit) for unit in dict.fromkeys(own["unit"])}
    steps: dict[tuple[str, str], list[dict[str, str]]] = {}
    for row in records(own):
        scale = scales[row["unit"]]
        shown = row | {
            "before": scale.value(row["before"]),
            "after": scale.value(row["after"]),
            "change": scale.change(row["change"]),
            "unit": scale.unit,
            "decimals": scale.decimals,
        }
        steps.setdefault((row["point"], row["condition_id"]), []).append(_step(shown))
    return {
        key: {
            name: [row[name] for row in rows]
            for name in rows[0]
            if name != "Inputs" or any(row["Inputs"] for row in rows)
        }
        for key, rows in steps.items()
    }


def ledger_mean(results: Results, metric: str) -> Table:
    """Mean size of each correction step by configuration, over the points of a metric.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    metric : str
        Metric name.

    Returns
    -------
    Table
        Its first row of each condition is the mean as flown, its last the mean corrected.

    Examples
    --------
    >>> from tests.made_results import made
    >>> ledger_mean(made(), "takeoff_ground_roll")[["Step", "A", "B"]].iloc[[0, 1, -1]]
    Step         A    B
    as flown   206  195
    no wind    +24  +27
    corrected  216  202
    """
    table, known = results.corrections, extract.points_of(results)
    table = table[(table["metric"] == metric) & table["point"].isin(list(known))]
    names = extract.configurations(results)
    rows: list[dict[str, str]] = []
    keys = ["condition_id", "quantity", "unit"]
    several = len(set(table["condition_id"])) > 1
    conditions = dict(extract.conditions_of(results, metric))
    for (condition_id, quantity, unit), own in table.groupby(keys, sort=False):
        scale = scale_of(results.meta, str(unit))
        own = own.assign(configuration=[known[str(point)][1] for point in own["point"]])
        told = condition_words(
            results.meta, str(condition_id), conditions.get(str(condition_id), "")
        )
        head = ({"Condition": told} if several else {})  # fmt: skip
        tail = {"Quantity": str(quantity), "Unit": scale.unit}
        for step, means in _step_means(own, names):
            text: Callable[[float], str] = (
                scale.text if step in {"as flown", "corrected"} else _signed(scale)
            )
            rows.append(head | {"Step": step} | tail
                        | {name: text(value) for name, value in means.items()})  # fmt: skip
    return Table(rows)


def _signed(scale: Scale) -> Callable[[float], str]:
    return lambda value: number(scale.change(value), scale.decimals, plus=True)


def _step_means(own: pd.DataFrame, names: list[str]) -> list[tuple[str, dict[str, float]]]:
    """Mean as flown, mean change of each step and mean corrected, by configuration."""
    by_point = own.groupby("point", sort=False)
    ends = by_point.agg(
        before=("before", "first"),
        after=("after", "last"),
        configuration=("configuration", "first"),
    )
    groups = ends.groupby("configuration")
    found = [("as flown", groups["before"].mean())]
    for step, rows in own.groupby("step", sort=False):
        if step == CROSS_CHECK:  # no step: it moves nothing
            continue
        found.append((str(step), rows.groupby("configuration")["change"].mean()))
    found.append(("corrected", groups["after"].mean()))
    return [
        (step, {name: float(means.get(name, float("nan"))) for name in names})
        for step, means in found
    ]


def left_out(results: Results) -> Table:
    """Points that carry no number, or not for every metric, with the reason.

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
    >>> left_out(made())["For"].to_list()
    ['everything', 'Rate of climb at 4000 ft']
    """
    rows = []
    for row in records(results.left_out):
        metric, wanted = str(row["metric"]), "everything"
        if metric in METRICS:
            conditions = dict(extract.conditions_of(results, metric))
            told = conditions.get(str(row["condition_id"]), "")
            wanted = metric_words(results.meta, metric, str(row["condition_id"]), told)
        rows.append({"Point": row["point"], "For": wanted, "Reason": row["reason"]})
    return Table(rows) if rows else Table(columns=["Point", "For", "Reason"])
