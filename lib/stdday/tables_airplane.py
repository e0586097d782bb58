"""Tables of the airplane model, in display units: propeller, performance, agreement, gradients."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from stdday import extract, tables, words
from stdday.display import NONE, condition_words, number, scale_of
from stdday.layout import Table, records, without_empty
from stdday.results import Results

__all__ = [
    "accelerations",
    "agreement",
    "agreement_words",
    "gradients",
    "not_compared",
    "performance",
    "performance_rows",
    "propeller",
    "reciprocals",
    "stated",
]


def stated(results: Results, *metrics: str) -> Table:
    """Values of some metrics with their intervals; none where the results hold no such metric.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    *metrics : str
        Metric names.

    Returns
    -------
    Table

    Examples
    --------
    >>> from tests.made_results import made
    >>> stated(made(), "best_rate_airspeed")
    What  Value  95 % interval
    (none)
    """
    own = results.values[results.values["metric"].isin(metrics)]
    if not len(own):
        return Table(columns=["What", "Value", "95 % interval"])
    one = metrics[0] if len(metrics) == 1 else None
    return without_empty(tables.values(replace(results, values=own), one), ("Unit",))


def gradients(results: Results) -> Table:
    """Climb gradients in per cent and as angles, with their intervals.

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
    >>> gradients(made()).iloc[0].to_list()
    ['at 1000 ft', 'A', '11.9', '11.2 to 12.6', '6.8', '6.4 to 7.2']
    """
    rows = []
    own = results.values[results.values["metric"] == "climb_gradient"]
    for row in records(own):
        ends = [float(row[key]) for key in ("estimate", "low", "high")]
        angles = [math.degrees(math.atan(value / 100)) for value in ends]
        told = condition_words(results.meta, str(row["condition_id"]), str(row["condition"]))
        rows.append({
            "Condition": told,
            "Configuration": str(row["configuration"]),
            "Gradient [%]": number(ends[0], 1),
            "95 % interval [%]": _span(ends[1:], 1),
            "Angle [deg]": number(angles[0], 1),
            "95 % interval [deg]": _span(angles[1:], 1),
            "Why not": "" if row["status"] == "ok" else f"{row['status']}: {row['reason']}",
        })  # fmt: skip
    if not rows:
        return Table(columns=["Condition", "Gradient [%]", "Angle [deg]"])
    return without_empty(Table(rows), ("Why not",))


def _span(ends: list[float], decimals: int) -> str:
    low, high = (number(end, decimals) for end in ends)
    return NONE if low == NONE else f"{low} to {high}"


def propeller(results: Results) -> Table:
    """Propeller of each configuration along the airspeeds of level flight.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table
        Greatest efficiency that momentum theory allows, advance ratio, power coefficient, helical
        tip Mach number and share of blade drag.

    Examples
    --------
    >>> from tests.made_results import made
    >>> propeller(made())
    Configuration  True airspeed
    (none)
    """
    speed, power = scale_of(results.meta, "kt"), scale_of(results.meta, "kW")
    turns, rows = scale_of(results.meta, "rpm"), []
    for row in records(results.table("propeller")):
        rows.append({
            "Configuration": str(row["configuration"]),
            f"True airspeed [{speed.unit}]": speed.text(float(row["true_airspeed [kt]"]), 0),
            f"Power [{power.unit}]": power.text(float(row["power [kW]"])),
            f"Engine [{turns.unit}]": turns.text(float(row["engine_speed [rpm]"])),
            "Advance ratio": _maybe(row, "advance_ratio [-]", 2),
            "Power coefficient": _maybe(row, "power_coefficient [-]", 3),
            "Tip Mach": _maybe(row, "tip_mach [-]", 2),
            "Blade drag [% of power]": _maybe(row, "blade_drag [% of power]", 1),
            "Momentum theory allows": _maybe(row, "ideal_efficiency [-]", 2),
        })  # fmt: skip
    return Table(rows) if rows else Table(columns=["Configuration", "True airspeed"])


def _maybe(row: Mapping[str, Any], key: str, decimals: int) -> str:
    return number(float(row.get(key, math.nan)), decimals)


def performance(results: Results, altitude_ft: int | None = None) -> Table:
    """Level flight at the reference weight, at round powers and pressure altitudes.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    altitude_ft : int, optional
        One pressure altitude of the table [ft]; all of them, unless given.

    Returns
    -------
    Table
        Only what was flown and the throttle gives.

    Examples
    --------
    >>> from tests.made_results import made
    >>> performance(made())
    Configuration  Power [% of rated]
    (none)
    """
    table = results.table("performance")
    if altitude_ft is not None and len(table):
        table = table[table["pressure_altitude [ft]"] == altitude_ft]
    return performance_rows(results, records(table))


def performance_rows(results: Results, found: list[dict[str, Any]]) -> Table:
    """Lay out rows of level performance.

    Parameters
    ----------
    results : Results
        Results of a campaign, for the display units.
    found : list of dict
        Rows of `stdday.airplane_tables.performance_table`.

    Returns
    -------
    Table

    Examples
    --------
    >>> from tests.made_results import made
    >>> performance_rows(made(), [{"power [% of rated]": 65.0, "true_airspeed [kt]": 103.54}])
    Power [% of rated]  True airspeed [kt]
                    65               103.5
    """
    speed, flow = scale_of(results.meta, "kt"), scale_of(results.meta, "L/h")
    reach, height = scale_of(results.meta, "nmi/L"), scale_of(results.meta, "ft")
    columns = (
        ("pressure_altitude [ft]", f"Altitude [{height.unit}]", height),
        ("true_airspeed [kt]", f"True airspeed [{speed.unit}]", speed),
        ("fuel_flow [L/h]", f"Fuel flow [{flow.unit}]", flow),
        ("specific_range [nmi/L]", f"Specific range [{reach.unit}]", reach),
    )
    rows = []
    for row in found:
        cells = {"Configuration": str(row.get("configuration", ""))}
        cells["Power [% of rated]"] = number(float(row["power [% of rated]"]), 0)
        cells |= {title: scale.text(float(row.get(key, math.nan))) for key, title, scale in columns}
        rows.append(cells | {"Why not": str(row.get("reason", ""))})
    if not rows:
        return Table(columns=["Configuration", "Power [% of rated]"])
    blank = [name for name in rows[0] if all(row[name] in ("", NONE) for row in rows)]
    return Table([{name: row[name] for name in row if name not in blank} for row in rows])


def agreement(results: Results) -> Table:
    """Each kind of test beside the model that all tests share.

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
    >>> agreement(made())
    Test  Configuration  Off by
    (none)
    """
    rows = []
    for row in records(results.table("test_agreement")):
        decimals = 0 if row["unit"] == "ft/min" else 1
        error = float(row["error"])
        off = number(float(row["residual"]), decimals, plus=True)
        known = f" ± {number(error, decimals)}" if math.isfinite(error) else ""
        rows.append({
            "Test": str(row["test"]).capitalize(),
            "Configuration": str(row["configuration"]),
            "Flights": str(row["flights"]),
            "Off by (± 1 sigma)": f"{off}{known} {row['unit']}",
            "Contradicts": "yes" if row["contradicts"] else "no",
        })  # fmt: skip
    return Table(rows) if rows else Table(columns=["Test", "Configuration", "Off by"])


def agreement_words(results: Results, *tests: str) -> list[tuple[str, str]]:
    """Say of each kind of test whether it contradicts the others; those that do come first.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    *tests : str
        Kinds of test, such as ``climbs``; all of them, unless given.

    Returns
    -------
    list of (str, str)
        Verdict and sentence.

    Examples
    --------
    >>> from tests.made_results import made
    >>> agreement_words(made())
    []
    """
    found = [row for row in records(results.table("test_agreement"))
             if not tests or row["test"] in tests]  # fmt: skip
    return [
        ("Contradicts" if row["contradicts"] else "No contradiction",
         words.capital(f"{row['test']}, {row['configuration']}: {row['words']}."))
        for row in sorted(found, key=lambda row: not row["contradicts"])
    ]  # fmt: skip


def reciprocals(results: Results) -> Table:
    """Climbs of one flight at one airspeed on opposite tracks, and how far they lie apart.

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
    >>> reciprocals(made())
    Climb  On the opposite track  Apart
    (none)
    """
    rate, rows = scale_of(results.meta, "ft/min"), []
    for row in records(results.table("reciprocals")):
        apart, blind = (number(rate.change(float(row[key])), rate.decimals, plus=True)
                        for key in ("difference [ft/min]", "difference, uncorrected [ft/min]"))
        rows.append({
            "Climb": str(row["first"]),
            "On the opposite track": str(row["second"]),
            f"Apart [{rate.unit}]": apart,
            f"Without the wind step [{rate.unit}]": blind,
        })  # fmt: skip
    return Table(rows) if rows else Table(columns=["Climb", "On the opposite track", "Apart"])


def accelerations(results: Results, compared: bool = False) -> Table:
    """Windows of level accelerations as rates of climb, beside what the climbs say there.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    compared : bool
        Whether only windows with a climb beside them are listed, where there are any.

    Returns
    -------
    Table
        Why a window has nothing beside it is told by `not_compared`.

    Examples
    --------
    >>> from tests.made_results import made
    >>> accelerations(made())
    Flight  Airspeed  Excess power as climb
    (none)
    """
    speed, rate = scale_of(results.meta, "kt"), scale_of(results.meta, "ft/min")
    table, rows = results.table("accelerations"), []
    beside = table["difference [ft/min]"].notna() if len(table) else table
    for row in records(table[beside] if compared and len(table) and beside.any() else table):
        low, high = (rate.text(float(row[f"{end} [ft/min]"])) for end in ("low", "high"))
        apart = rate.change(float(row["difference [ft/min]"]))
        rows.append({
            "Flight": str(row["flight"]),
            "Configuration": _flown_with(results, row),
            f"Airspeed [{speed.unit}]": speed.text(float(row["calibrated_airspeed [kt]"])),
            f"Excess power as climb [{rate.unit}]": rate.text(float(row["rate [ft/min]"])),
            f"Shared errors, 95 % [{rate.unit}]": NONE if low == NONE else f"{low} to {high}",
            f"Climbs say [{rate.unit}]": rate.text(float(row["climb_rate [ft/min]"])),
            f"Beside them [{rate.unit}]": number(apart, rate.decimals, plus=True),
        })  # fmt: skip
    return Table(rows) if rows else Table(columns=["Flight", "Airspeed", "Excess power as climb"])


def _flown_with(results: Results, row: Mapping[str, Any]) -> str:
    return extract.points_of(results).get(str(row["point"]), ("", NONE, ""))[1]


def not_compared(results: Results) -> Table:
    """Why windows of level accelerations have no climb beside them, counted.

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
    >>> not_compared(made())
    Configuration  Windows  Why no climb stands beside them
    (none)
    """
    counts: dict[tuple[str, str], int] = {}
    for row in records(results.table("accelerations")):
        if row["reason"]:
            key = (_flown_with(results, row), str(row["reason"]))
            counts[key] = counts.get(key, 0) + 1
    return Table([(name, str(size), why) for (name, why), size in counts.items()],
                 columns=["Configuration", "Windows", "Why no climb stands beside them"])
