"""Tables of what the results rest on: conditions flown, absent entries, uncertainties, files."""

from __future__ import annotations

import pandas as pd

from stdday import extract
from stdday.display import NONE, condition_words, scale_of, with_label
from stdday.layout import Table, records
from stdday.results import Results

__all__ = ["balance", "configurations", "costs", "fingerprints", "uncertainties"]


def balance(results: Results, metric: str) -> Table:
    """Conditions flown behind a metric, configuration by configuration.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    metric : str
        Metric whose points are meant.

    Returns
    -------
    Table
        Mean of the flight means, and their range, by configuration.

    Examples
    --------
    >>> from tests.made_results import made
    >>> balance(made(), "takeoff_ground_roll")
    Condition    Unit  A mean        A range  B mean        B range  Ranges overlap
    weight       kg       548     500 to 590     554     506 to 596             yes
    temperature  degC    12.5    9.0 to 15.0    24.5   21.0 to 27.0              no
    headwind     kt       4.5     1.0 to 9.0     5.0     1.5 to 9.5             yes
    """
    table = results.balance
    table = table[table["metric"] == metric] if len(table) else table
    names = [name for name in extract.configurations(results)
             if len(table) and name in set(table["configuration"])]  # fmt: skip
    conditions = dict(extract.conditions_of(results, metric))
    several = len(table) > 0 and len(set(table["condition_id"])) > 1
    rows = []
    for (condition_id, quantity, unit), own in (
        table.groupby(["condition_id", "quantity", "unit"], sort=False) if len(table) else ()
    ):
        scale = scale_of(results.meta, str(unit))
        told = condition_words(
            results.meta, str(condition_id), conditions.get(str(condition_id), "")
        )
        cells = {"At": told.removeprefix("at ")} if several else {}
        cells |= {"Condition": str(quantity), "Unit": scale.unit}
        by_name = own.set_index("configuration")
        for name in names:
            known = name in by_name.index
            low, mean, high = (
                scale.text(float(str(by_name.loc[name, key]))) if known else NONE
                for key in ("least", "mean", "greatest")
            )
            cells |= {f"{name} mean": mean, f"{name} range": f"{low} to {high}" if known else NONE}
        if len(names) > 1:
            overlap = own["least"].max() <= own["greatest"].min()
            cells["Ranges overlap"] = "yes" if overlap else "no"
        rows.append(cells)
    return Table(rows)


def costs(results: Results) -> Table:
    """What absent entries of the campaign cost, and how to mend them.

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
    >>> costs(made())["File"].to_list()
    ['flights.csv']
    """
    return _renamed(
        results.costs, {"file": "File", "where": "Where", "absent": "Found", "mend": "Mend"}
    )


def uncertainties(results: Results) -> Table:
    """Uncertainties that the intervals rest on: size, where it comes from, what it is.

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
    >>> uncertainties(made())["From"].to_list()
    ['default', 'campaign']
    """
    rows = []
    for row in records(results.uncertainties):
        own, default = str(row["given"]) != "default", str(row["default"])
        rows.append(
            {
                "Uncertainty": row["key"],
                "One sigma": row.get("size", f"own; default {default}" if own else default),
                "From": row["given"],
                "Common to": row["kind"],
                "Meaning": row["meaning"],
            }
        )
    return Table(rows)


def fingerprints(results: Results) -> Table:
    """SHA-256 fingerprints of every input file.

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
    >>> fingerprints(made())["File"].to_list()
    ['campaign.toml', 'logs/f1.csv']
    """
    inputs = results.meta.get("provenance", {}).get("inputs", {})
    rows = [{"File": name, "SHA-256": value} for name, value in inputs.items()]
    return Table(rows) if rows else Table(columns=["File", "SHA-256"])


def _renamed(table: pd.DataFrame, names: dict[str, str]) -> Table:
    if not len(table):
        return Table(columns=list(names.values()))
    return Table(table[list(names)].rename(columns=names).astype(str).reset_index(drop=True))


def configurations(results: Results) -> Table:
    """Configurations with label, airplane, blocks and number of flights.

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
    >>> configurations(made())["Blocks"].to_list()
    ['A1', 'B1']
    """
    rows = []
    for name in extract.configurations(results):
        facts = results.meta["configurations"][name]
        own = results.flights[results.flights["configuration"] == name]
        rows.append(
            {
                "Configuration": with_label(results.meta, name),
                "Airplane": facts["airplane"],
                "Flights": str(len(own)),
                "Blocks": ", ".join(facts["blocks"]),
            }
        )
    return Table(rows)
