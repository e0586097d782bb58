"""What the notebook of the airspeed calibration says in words, whatever calibration there is."""

from __future__ import annotations

from stdday import extract
from stdday.display import metric_words
from stdday.layout import Table, records
from stdday.notebook import Passage
from stdday.results import Results
from stdday.tables_calibration import how_calibrated

__all__ = ["said", "sample_pattern", "share_of_intervals", "what_there_is"]


def sample_pattern(results: Results) -> str:
    """Pattern to follow from ground speeds to airspeed: that in the most wind for its speed.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    str
        Point id; empty where no pattern has a wind.

    Examples
    --------
    >>> from tests.made_results import made
    >>> sample_pattern(made())
    ''
    """
    table = results.table("calibration_patterns")
    if not len(table):
        return ""
    share = table["wind_speed [kt]"] / table["true_airspeed [kt]"]
    solved = share.notna() & table["used"].astype(bool) & (table["legs"] > 2)
    ordered = table.assign(share=share)[solved].sort_values("share", kind="stable")
    return str(ordered["point"].iloc[-1]) if len(ordered) else ""


def what_there_is(results: Results) -> Passage:
    """Say which calibration each airplane has, and what comes from flights beside it.

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
    >>> what_there_is(made())
    Airplane one: no calibration is used: airspeeds are taken as indicated, with wider intervals. No
    usable pattern was flown.
    """
    return Passage(("", text) for text in how_calibrated(results))


def said(results: Results) -> Passage:
    """What the fit says of each calibration, and what to fly.

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
    >>> said(made())
    No calibration pattern was flown.
    """
    parts = []
    for one in results.meta.get("calibration_words", ()):
        flaps = f", flaps {one['flaps']}" if one["flaps"] else ""
        head = f"Airspeed system {one['installation']}{flaps}"
        parts += [(head if place == 0 else "", str(text))
                  for place, text in enumerate(one["words"])]  # fmt: skip
    return Passage(parts or [("", "No calibration pattern was flown.")])


def share_of_intervals(results: Results) -> Table:
    """How much of the variance of each result comes from the airspeed calibration.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table
        Of the questions asked beforehand, at equal weight; the largest share first. Without rows
        where the calibration makes no part worth listing, or the results carry no budget.

    Examples
    --------
    >>> from tests.made_results import made
    >>> share_of_intervals(made())
    What  Of  Share of the variance [%]
    (none)
    """
    sums: dict[tuple[str, str], float] = {}
    for row in records(results.table("budget")):
        asked = row["metric"] in results.meta["primary"] and row["load_basis"] == "equal weight"
        if not asked or not str(row["source"]).startswith("airspeed calibration"):
            continue
        metric, condition_id = str(row["metric"]), str(row["condition_id"])
        condition = dict(extract.conditions_of(results, metric)).get(condition_id, "")
        key = metric_words(results.meta, metric, condition_id, condition), str(row["configuration"])
        sums[key] = sums.get(key, 0.0) + float(row["share [%]"])
    rows = sorted(sums.items(), key=lambda item: -item[1])
    return Table([(name, of, f"{share:.0f}") for (name, of), share in rows],
                 columns=["What", "Of", "Share of the variance [%]"])  # fmt: skip
