"""Tables that argue against a result: what its interval is made of, and what would turn it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

import pandas as pd

from stdday.display import metric_scale, metric_words, number, scale_of
from stdday.layout import Table, records
from stdday.results import Results

__all__ = [
    "agreement",
    "both_loads",
    "budget",
    "carried_far",
    "decisions",
    "explained",
    "flights_that_turn_it",
    "more_flights",
    "other_rule",
    "outlying",
    "sense",
    "what_turns_it",
]

_Row = Mapping[str, Any]
_Cell = Callable[[Results, _Row], str]

#: Parts of a budget that are listed [-].
LARGEST = 6


def _table(results: Results, rows: pd.DataFrame, cells: Mapping[str, _Cell]) -> Table:
    """One row of texts for each row of a table; heads alone where there is none."""
    made = [{head: cell(results, row) for head, cell in cells.items()} for row in records(rows)]
    return Table(made, columns=list(cells))


def _what(results: Results, row: _Row) -> str:
    metric, condition_id = str(row["metric"]), str(row["condition_id"])
    found = results.values[
        (results.values["metric"] == metric) & (results.values["condition_id"] == condition_id)
    ]
    condition = str(found["condition"].iloc[0]) if len(found) else ""
    return metric_words(results.meta, metric, condition_id, condition)


def _text(column: str) -> _Cell:
    return lambda _, row: str(row[column]) if not pd.isna(row[column]) else ""


def _value(*columns: str) -> _Cell:
    """Values of a metric in its printed unit, as a range where there are two."""

    def cell(results: Results, row: _Row) -> str:
        scale = metric_scale(results.meta, str(row["metric"]))
        texts = [scale.text(float(row[column])) for column in columns]
        return f"{' to '.join(texts)} {scale.unit}".strip()

    return cell


def _sigma(results: Results, row: _Row) -> str:
    """One sigma of a metric to two digits: it says where an error comes from, and is no result."""
    scale = metric_scale(results.meta, str(row["metric"]))
    return f"{scale.change(float(row['one_sigma'])):.2g} {scale.unit}".strip()


def _plain(column: str, decimals: int) -> _Cell:
    return lambda _, row: number(float(row[column]), decimals)


def _percent(column: str) -> _Cell:
    return lambda _, row: f"{float(row[column]):.0f} %"


def _of_primary(results: Results, name: str) -> pd.DataFrame:
    """Rows of a further table that belong to the questions asked beforehand."""
    table = results.table(name)
    if not len(table):
        return table
    return table[table["metric"].isin(results.meta["primary"])]


def _only(table: pd.DataFrame, **equal: object) -> pd.DataFrame:
    for column, value in equal.items():
        if len(table):
            table = table[table[column] == value]
    return table


def budget(results: Results, metric: str, condition_id: str) -> Table:
    """What the interval of a difference is made of, the largest parts first.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    metric, condition_id : str
        The result; of one configuration its value stands in for the difference.

    Returns
    -------
    Table

    Examples
    --------
    >>> from tests.made_results import made
    >>> budget(made(), "climb_rate", "climb_1").columns.to_list()
    ['Of', 'Source', 'One sigma', 'Share', 'What would make it smaller']
    """
    own = _only(results.table("budget"), metric=metric, condition_id=condition_id,
                load_basis="equal weight")  # fmt: skip
    if len(own):
        apart = own["configuration"].str.contains(" - ", regex=False)
        own = own[apart] if apart.any() else own
        own = own.groupby("configuration", sort=False).head(LARGEST)
    return _table(results, own, {
        "Of": _text("configuration"), "Source": _text("source"), "One sigma": _sigma,
        "Share": _percent("share [%]"), "What would make it smaller": _text("mend"),
    })  # fmt: skip


def both_loads(results: Results) -> Table:
    """Differences at equal weight, and with the mass of the change itself counted in.

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
    >>> both_loads(made()).columns.to_list()
    ['What', 'Configuration', 'Load', 'Difference', '95 % interval', 'Verdict']
    """
    own = results.effects[results.effects["metric"].isin(results.meta["primary"])]
    if "equal load" not in set(own["load_basis"]):
        own = own.iloc[:0]
    return _table(results, own.sort_values("condition_id", kind="stable"), {
        "What": _what, "Configuration": _text("configuration_b"), "Load": _text("load_basis"),
        "Difference": _value("difference"),
        "95 % interval": _value("difference_low", "difference_high"), "Verdict": _text("verdict"),
    })  # fmt: skip


def other_rule(results: Results) -> Table:
    """Each question under the rule for scatter that was not chosen beforehand.

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
    >>> len(other_rule(made()))
    0
    """
    own = _only(_of_primary(results, "both_ways"), load_basis="equal weight")
    own = own[own["other_verdict"] != ""] if len(own) else own  # a fitted curve has one rule
    return _table(results, own, {
        "What": _what, "Rule": _text("rule"), "95 % interval": _value("low", "high"),
        "Verdict": _text("verdict"), "Other rule": _text("other_rule"),
        "Its interval": _value("other_low", "other_high"), "Its verdict": _text("other_verdict"),
    })  # fmt: skip


def flights_that_turn_it(results: Results) -> Table:
    """Single flights without which a verdict would be another one.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table
        Empty where no single flight decides.

    Examples
    --------
    >>> from tests.made_results import made
    >>> flights_that_turn_it(made()).columns.to_list()
    ['What', 'Without flight', 'Difference', '95 % interval', 'Verdict then']
    """
    own = _only(_of_primary(results, "leave_one_out"), turns=True)
    return _table(results, own, {
        "What": _what, "Without flight": _text("without"), "Difference": _value("difference"),
        "95 % interval": _value("low", "high"), "Verdict then": _text("verdict"),
    })  # fmt: skip


def explained(results: Results) -> Table:
    """How much of each difference the recordings show, and how much the corrections add.

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
    >>> explained(made()).columns.to_list()
    ['What', 'As recorded', 'By corrections', 'Corrected', 'What it means']
    """
    own = _only(_of_primary(results, "explained"), load_basis="equal weight")
    return _table(results, own, {
        "What": _what, "As recorded": _value("raw_difference"),
        "By corrections": _value("corrections"), "Corrected": _value("corrected_difference"),
        "What it means": _text("words"),
    })  # fmt: skip


def what_turns_it(results: Results) -> Table:
    """Corrections of which one sigma would give a question another verdict.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table
        Empty where no correction decides by itself.

    Examples
    --------
    >>> from tests.made_results import made
    >>> what_turns_it(made()).columns.to_list()
    ['What', 'Load', 'Correction', 'Difference by one sigma of it', 'What would help']
    """
    own = _only(_of_primary(results, "moves"), turns=True)
    return _table(results, own, {
        "What": _what, "Load": _text("load_basis"), "Correction": _text("source"),
        "Difference by one sigma of it": _value("difference_less", "difference_more"),
        "What would help": _text("mend"),
    })  # fmt: skip


def outlying(results: Results) -> Table:
    """Flights that stand apart from the others of their configuration; shown, not dropped.

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
    >>> outlying(made()).columns.to_list()
    ['What', 'Configuration', 'Flight', 'Value', 'Residual', 'Limit']
    """
    own = _only(results.table("flights_apart"), outlying=True)
    return _table(results, own, {
        "What": _what, "Configuration": _text("configuration"), "Flight": _text("flight"),
        "Value": _value("value"), "Residual": _plain("studentised_residual", 1),
        "Limit": _plain("limit", 1),
    })  # fmt: skip


def carried_far(results: Results) -> Table:
    """Corrections that carry results outside of what was flown.

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
    >>> carried_far(made()).columns.to_list()
    ['What', 'Configuration', 'Quantity', 'What it means']
    """
    return _table(results, _of_primary(results, "extrapolated"), {
        "What": _what, "Configuration": _text("configuration"), "Quantity": _text("quantity"),
        "What it means": _text("words"),
    })  # fmt: skip


def sense(results: Results) -> Table:
    """What each difference alone would need of the propeller, and what momentum theory allows.

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
    >>> sense(made()).columns.to_list()[:3]
    ['What', 'Configuration', 'Ratio of efficiency']
    """

    def ratio(_: Results, row: _Row) -> str:
        ends = [f"{float(row[name]):.2f}" for name in ("efficiency_ratio", "low", "high")]
        return f"{ends[0]} ({ends[1]} to {ends[2]})"

    return _table(results, results.table("sense"), {
        "What": _what, "Configuration": _text("configuration"), "Ratio of efficiency": ratio,
        "or power [kW]": _plain("power [kW]", 1), "or thrust [N]": _plain("thrust [N]", 0),
        "or drag area [m²]": _plain("drag_area [m^2]", 3), "Plausible": _text("words"),
    })  # fmt: skip


def agreement(results: Results) -> Table:
    """Whether the tests contradict each other, by the efficiency ratio that each would need.

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
    >>> agreement(made()).columns.to_list()
    ['Do the tests agree?']
    """
    return _table(results, results.table("agreement"), {"Do the tests agree?": _text("words")})


def more_flights(results: Results) -> Table:
    """How many more flights would settle what is not resolved.

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
    >>> more_flights(made()).columns.to_list()
    ['What', 'Matters', 'Could have been shown', 'What it takes']
    """
    own = _only(_of_primary(results, "more_flights"), load_basis="equal weight")
    return _table(results, own, {
        "What": _what, "Matters": _value("matters"),
        "Could have been shown": _value("smallest_that_could_be_shown"),
        "What it takes": _text("words"),
    })  # fmt: skip


def decisions(results: Results) -> Table:
    """Price, mass and fuel of each change, for a new build and for a retrofit.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table
        Nothing in it weighs safety.

    Examples
    --------
    >>> from tests.made_results import made
    >>> decisions(made()).columns.to_list()
    ['Configuration', 'Case', 'Costs more', 'Weighs more', 'Fuel saved', 'Hours to break even']
    """

    def fuel(results: Results, row: _Row) -> str:
        scale = scale_of(results.meta, "L/h")
        texts = [scale.text(float(row[name])) for name in ("fuel_saved [L/h]", "low", "high")]
        return f"{texts[0]} ({texts[1]} to {texts[2]}) {scale.unit}"

    def hours(_: Results, row: _Row) -> str:
        missing = str(row["missing"])
        return f"{row['words']}; {missing}" if missing else str(row["words"])

    def price(_: Results, row: _Row) -> str:
        amount = float(row["price"])
        return "not known" if math.isnan(amount) else f"{amount:.0f} {row['currency']}"

    def mass(_: Results, row: _Row) -> str:
        kilograms = float(row["mass [kg]"])
        return "not known" if math.isnan(kilograms) else f"{kilograms:.1f} kg"

    return _table(results, results.table("decisions"), {
        "Configuration": _text("configuration"), "Case": _text("case"), "Costs more": price,
        "Weighs more": mass, "Fuel saved": fuel, "Hours to break even": hours,
    })  # fmt: skip

