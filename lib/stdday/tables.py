"""Tables of results for notebooks, the terminal and the report, in the campaign's display units.

Every function takes results and gives a `Table`: a data frame of finished text, which prints
without an index, with numbers aligned, nothing cut off and no number without its meaning.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pandas as pd

from stdday import extract, words
from stdday.display import (
    NONE,
    Scale,
    condition_words,
    metric_scale,
    metric_words,
    number,
    printed,
    scale_of,
)
from stdday.errors import InputError
from stdday.layout import Table, as_text, records, without_empty
from stdday.metrics import METRICS
from stdday.results import Results
from stdday.tables_corrections import ledger, ledger_mean, left_out
from stdday.tables_inputs import balance, configurations, costs, fingerprints, uncertainties

__all__ = [
    "answer",
    "balance",
    "configurations",
    "costs",
    "effects",
    "fingerprints",
    "flights",
    "headline",
    "ledger",
    "ledger_mean",
    "left_out",
    "points",
    "rows_accounted",
    "uncertainties",
    "values",
]

# Columns of the points table, for each kind of point.
_STATES: dict[str, tuple[str, ...]] = {
    "take-off": ("ground_roll [m]", "time_to_liftoff [s]", "liftoff_ground_speed [kt]",
                 "outside_air_temperature [degC]", "power [kW]", "engine_speed [rpm]"),
    "climb": ("indicated_airspeed [kt]", "pressure_altitude [ft]",
              "rate_of_pressure_altitude [ft/min]", "outside_air_temperature [degC]",
              "power [kW]", "engine_speed [rpm]"),
    "level run": ("indicated_airspeed [kt]", "ground_speed [kt]", "pressure_altitude [ft]",
                  "outside_air_temperature [degC]", "power [kW]", "engine_speed [rpm]",
                  "fuel_flow [L/h]"),
    "landing": ("landing_roll [m]", "touchdown_ground_speed [kt]",
                "touchdown_indicated_airspeed [kt]", "deceleration [m/s^2]",
                "touchdown_sigma [s]"),
    "airspeed calibration": ("indicated_airspeed [kt]", "ground_speed [kt]",
                             "pressure_altitude [ft]", "outside_air_temperature [degC]",
                             "power [kW]"),
    "acceleration": ("indicated_airspeed [kt]", "pressure_altitude [ft]",
                     "outside_air_temperature [degC]", "power [kW]", "engine_speed [rpm]"),
}  # fmt: skip
_SHORT = {
    "indicated_airspeed": "airspeed",
    "outside_air_temperature": "temperature",
    "rate_of_pressure_altitude": "climb",
    "liftoff_ground_speed": "ground speed at lift-off",
    "time_to_liftoff": "time to lift-off",
    "landing_roll": "landing roll",
    "touchdown_ground_speed": "ground speed at touchdown",
    "touchdown_indicated_airspeed": "airspeed at touchdown",
    "deceleration": "mean deceleration",
    "touchdown_sigma": "touchdown known to",
}


def _interval(row: Mapping[str, Any], scale: Scale, keys: tuple[str, str]) -> str:
    low, high = (float(row[key]) for key in keys)
    if not math.isfinite(low):
        return NONE
    return f"{scale.text(low)} to {scale.text(high)}"


# ---- answer and differences ----------------------------------------------------------------------


def headline(results: Results) -> str:
    """Answer in plain text for the terminal: what differs, by how much, interval and verdict.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    str
        Values instead, where the campaign has one configuration.

    Examples
    --------
    >>> from tests.made_results import made
    >>> print(headline(made()).splitlines()[0])
    Two propellers, made up for tests
    """
    meta = results.meta
    lines = [meta["title"], meta["question"], ""]
    lines += [words.configuration_line(results), ""]
    if not len(results.weighed):
        return "\n".join([*lines, as_text(values(results), 100)])
    several = len(set(results.weighed["primary"])) > 1
    for primary in (True, False):
        own = results.weighed[results.weighed["primary"] == primary]
        if not len(own):
            continue
        if several:
            lines.append("Asked beforehand:" if primary else "\nExploratory:")
        lines.append(as_text(_effect_table(results, own, short=True), 100))
    lines += ["", "Intervals are 95 %. The report says what each verdict means and why."]
    return "\n".join(lines)


def answer(results: Results) -> Table:
    """Answer to the campaign's question: the primary metrics, else the values.

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
    >>> answer(made()).iloc[0].to_list()
    ['Take-off ground roll', 'm', '212', '191', '-21', '-28 to -14', '25', 'shown']
    """
    if not len(results.weighed):
        return values(results)
    primary = results.weighed[results.weighed["primary"].astype(bool)]
    return _effect_table(results, primary if len(primary) else results.weighed, short=False)


def effects(results: Results) -> Table:
    """All differences, primary ones first, with what each rests on and its reason.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table
        Empty where the campaign has one configuration.

    Examples
    --------
    >>> from tests.made_results import made
    >>> effects(made())["Verdict"].to_list()[:2]
    ['shown', 'shown']
    """
    ordered = results.weighed.sort_values("primary", ascending=False, kind="stable")
    table = _effect_table(results, ordered, short=False)
    table["Flights (points)"] = [
        f"{row['flights_a']} ({row['points_a']}) and {row['flights_b']} ({row['points_b']})"
        for row in records(ordered)
    ]
    table["Asked"] = ["yes" if row["primary"] else "no" for row in records(ordered)]
    table["Reason"] = [
        "; ".join(part for part in row["reason"].split("; ") if not part.startswith("exploratory"))
        for row in records(ordered)
    ]
    return table


def _effect_table(results: Results, table: pd.DataFrame, short: bool) -> Table:
    others = [name for name in extract.configurations(results)
              if name in set(results.weighed["configuration_b"])]  # fmt: skip
    one = len(others) == 1
    reference = str(results.meta["reference_configuration"])
    a, b = (reference, others[0]) if one else (f"{reference} (reference)", "other")
    rows = []
    for row in records(table):
        scale = metric_scale(results.meta, str(row["metric"]))
        matters = scale.change(float(row["matters"]))
        edges = (0.0, matters, -matters) if math.isfinite(matters) else (0.0,)
        ends = [scale.change(float(row[key]))
                for key in ("difference", "difference_low", "difference_high")]  # fmt: skip
        size, low, high = printed(ends, scale.decimals, edges, plus=True)
        cells = {
            "What": metric_words(results.meta, str(row["metric"]), str(row["condition_id"]),
                                 str(row["condition"])),
            "Unit": scale.unit,
            **({} if one else {"Compared": f"{row['configuration_b']} minus {reference}"}),
            a: scale.text(float(row["estimate_a"])),
            b: scale.text(float(row["estimate_b"])),
            f"{b} minus {a}" if one else "Difference": size,
            "95 % interval": NONE if size == NONE else f"{low} to {high}",
            "What matters": number(matters, scale.decimals),
            "Verdict": str(row["verdict"]),
        }  # fmt: skip
        if short:
            cells.pop("What matters")
        rows.append(cells)
    return Table(rows) if rows else Table(columns=["What", "Unit", "95 % interval", "Verdict"])


# ---- values --------------------------------------------------------------------------------------


def values(results: Results, metric: str | None = None) -> Table:
    """Values with their intervals and what they rest on.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    metric : str, optional
        One metric, its unit in the header; all of them, unless given.

    Returns
    -------
    Table

    Raises
    ------
    InputError
        Where there is no such metric.

    Examples
    --------
    >>> from tests.made_results import made
    >>> values(made(), "static_engine_speed")["Why not"].to_list()
    ['', 'refused: no engine speed before the roll']
    """
    table = results.values
    if metric is not None:
        table = table[table["metric"] == metric]
        if metric not in METRICS:
            known = ", ".join(dict.fromkeys(results.values["metric"])) or "none"
            raise InputError(f"metric must be one of these results ({known}); got {metric!r}")
        if not len(table):    # made by an older run, or of a kind of test that nobody asked for
            return Table(columns=["Configuration", "Value", "95 % interval"])
    several = len(extract.configurations(results)) > 1
    rows = []
    for row in records(table):
        name, scale = str(row["metric"]), metric_scale(results.meta, str(row["metric"]))
        told = condition_words(results.meta, str(row["condition_id"]), str(row["condition"]))
        head = {"What": f"{METRICS[name].title} {told}".strip(), "Unit": scale.unit}
        unit = f" [{scale.unit}]" if metric is not None and scale.unit else ""
        if metric is not None:
            head = {"Condition": told} if told else {}
        status = str(row["status"])
        rows.append(
            head
            | ({"Configuration": str(row["configuration"])} if several else {})
            | {
                f"Value{unit}": scale.text(float(row["estimate"])),
                f"95 % interval{unit}": _interval(row, scale, ("low", "high")),
                "Flights": str(row["flights"]),
                "Points": str(row["points"]),
                "Basis": str(row["basis"]),
                "Why not": "" if status == "ok" else f"{status}: {row['reason']}",
            }
        )
    return without_empty(Table(rows), ("Why not", "Basis"))


# ---- flights, rows, points -----------------------------------------------------------------------


def flights(results: Results) -> Table:
    """Flights with what was found in them.

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
    >>> flights(made())["Points used"].to_list()
    ['4', '4', '4', '4', '4', '4']
    """
    rows = [
        {
            "Flight": row["flight"],
            "Configuration": row["configuration"],
            "Block": row["block"],
            "Date": row["date"] or NONE,
            "Pilot": row["pilot"],
            "Points found": str(row["points_found"]),
            "Points used": str(row["points_used"]),
            "Crew's note": row["note"],
        }
        for row in records(results.flights)
    ]
    return without_empty(Table(rows), ("Pilot", "Crew's note"))


def rows_accounted(results: Results) -> Table:
    """Rows of every recording: in the file, used, and set aside by reason.

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
    >>> rows_accounted(made()).columns.to_list()
    ['Flight', 'Rows in file', 'Used', 'Set aside', 'Found in the recording']
    """
    rows = [
        {
            "Flight": row["flight"],
            "Rows in file": str(row["rows_in_file"]),
            "Used": str(row["rows_used"]),
            "Set aside": row["rows_set_aside"] or "none",
            "Found in the recording": str(row["findings"]).replace(" | ", "; "),
        }
        for row in records(results.flights)
    ]
    return without_empty(Table(rows), ("Found in the recording",))


def points(results: Results, kind: str | None = None) -> Table:
    """Test points of one kind with the means flown, or all points without them.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    kind : str, optional
        One of `stdday.extract.LETTERS`; all kinds, unless given.

    Returns
    -------
    Table

    Raises
    ------
    InputError
        Where the kind is none of these.

    Examples
    --------
    >>> from tests.made_results import made
    >>> points(made(), "take-off")["Ground roll [m]"].to_list()[:3]
    ['203', '206', '209']
    """
    if kind is not None and kind not in _STATES:
        raise InputError(f"kind must be one of {', '.join(_STATES)}; got {kind!r}")
    table = results.points
    if kind is not None and len(table):
        table = table[table["kind"] == kind]
    states = [name for name in _STATES.get(kind or "", ())
              if name in table and table[name].notna().any()]  # fmt: skip
    rows = []
    for row in records(table):
        cells = {"Point": row["point"], "Configuration": row["configuration"]}
        cells |= dict(_state(results, row, name) for name in states)
        cells |= {
            "Used": "yes" if row["used"] else "no",
            "Quality": row["quality"],
            "Why not": "" if row["used"] else row["reason"],
        }
        rows.append(cells)
    return without_empty(Table(rows), ("Quality", "Why not"))


def _state(results: Results, row: Mapping[str, Any], column: str) -> tuple[str, str]:
    name, _, unit = column.removesuffix("]").partition(" [")
    scale = scale_of(results.meta, unit)
    title = _SHORT.get(name, name.replace("_", " "))
    return f"{words.capital(title)} [{scale.unit}]", scale.text(float(row[column]))
