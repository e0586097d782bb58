"""Test points of a run as a table: what was found, used or left out, and what it was like."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from stdday import units

if TYPE_CHECKING:
    from stdday.outcome import Analysis
    from stdday.points import Points

__all__ = ["POINT_STATES", "points_table", "utc"]

#: State means of ``points.csv``: column of the segments, dimension, unit, decimals.
POINT_STATES = (
    ("indicated_airspeed_ms", "indicated_airspeed", "speed", "kt", 1),
    ("ground_speed_ms", "ground_speed", "speed", "kt", 1),
    ("pressure_altitude_m", "pressure_altitude", "length", "ft", 0),
    ("outside_air_temperature_k", "outside_air_temperature", "temperature", "degC", 1),
    ("power_w", "power", "power", "kW", 2),
    ("engine_speed_rps", "engine_speed", "angular_speed", "rpm", 0),
    ("fuel_flow_m3s", "fuel_flow", "volume_flow", "L/h", 2),
    ("pressure_altitude_rate_ms", "rate_of_pressure_altitude", "vertical_speed", "ft/min", 0),
    ("ground_roll_m", "ground_roll", "length", "m", 1),
    ("time_to_liftoff_s", "time_to_liftoff", "time", "s", 2),
    ("liftoff_ground_speed_ms", "liftoff_ground_speed", "speed", "kt", 1),
    ("landing_roll_m", "landing_roll", "length", "m", 1),
    ("touchdown_ground_speed_ms", "touchdown_ground_speed", "speed", "kt", 1),
    ("touchdown_indicated_airspeed_ms", "touchdown_indicated_airspeed", "speed", "kt", 1),
    ("landing_mean_deceleration_ms2", "deceleration", "acceleration", "m/s^2", 2),
    ("touchdown_sigma_s", "touchdown_sigma", "time", "s", 2),
)



def utc(seconds: float) -> str:
    """Write a UTC time as ISO text, to the second.

    Parameters
    ----------
    seconds : float
        Seconds since 1970 [s]; NaN where a card tells none.

    Returns
    -------
    str
        Empty for NaN; never raises.

    Examples
    --------
    >>> utc(0.4), utc(float("nan"))
    ('1970-01-01T00:00:00Z', '')
    """
    if not np.isfinite(seconds):
        return ""
    return datetime.fromtimestamp(round(seconds), UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def points_table(found: Points, refusals: pd.DataFrame, analysis: Analysis) -> pd.DataFrame:
    """Every test point with its state means, whether it was used, and why not.

    Parameters
    ----------
    found : Points
        Test points of all flights.
    refusals : DataFrame
        Points that a metric refused, with the reason.
    analysis : Analysis
        Corrected points and airspeed calibrations.

    Returns
    -------
    DataFrame
        One row a point, as in ``points.csv``.
    """
    carried = {point for item in analysis.reduced for point in item.points}
    serving, idle = _serving(found, analysis)
    carried |= serving
    told = pd.concat([refusals[["point", "reason"]], idle])
    why: dict[str, dict[str, None]] = {}
    for point, reason in zip(told["point"], told["reason"], strict=True):
        why.setdefault(point, {})[reason] = None
    states = _states(found)
    rows = []
    for place, point in enumerate(found.table.to_dict("records")):
        used, reason = bool(point["used"]), str(point["reason"])
        if used and point["point"] not in carried:
            used = False
            reason = "; ".join(why.get(point["point"], ())) or "carries no metric"
        row = {
            "point": point["point"],
            "flight": point["flight"],
            "configuration": point["configuration"],
            "block": point["block"],
            "kind": point["kind"],
            "start_utc": utc(point["start_s"]),
            "end_utc": utc(point["end_s"]),
            "used": used,
            "reason": reason,
            "quality": point["quality"],
        }
        rows.append(row | {title: values[place] for title, values in states.items()})
    return pd.DataFrame(rows)


#: Reason of a pattern that made a curve which the campaign does not ask for.
SHOWN_ONLY = "fitted and shown only: the campaign does not ask for a calibration from flights"


def _serving(found: Points, analysis: Analysis) -> tuple[set[str], pd.DataFrame]:
    """Points that carry no metric and yet serve others, and why the rest of them does not.

    A pattern serves the airspeed calibration, an acceleration is set beside the climbs.
    """
    table = found.table
    serving = set(table.loc[table["kind"] == "acceleration", "point"])
    idle = []
    for one in analysis.calibrations.values():
        for row in one.patterns.to_dict("records"):
            if row["used"] and one.used:
                serving.add(row["point"])
            else:
                reason = row["reason"] or SHOWN_ONLY
                idle.append({"point": row["point"], "reason": reason})
    return serving, pd.DataFrame(idle, columns=["point", "reason"])


def _states(found: Points) -> dict[str, list[float]]:
    """State means of each point, in its order, rounded; NaN where a point has none."""
    means = found.segments.groupby("point").mean(numeric_only=True)
    states = {}
    for column, title, dimension, unit, decimals in POINT_STATES:
        values = means[column].reindex(found.table["point"]).to_numpy()
        printed = units.from_si(values, unit, dimension)
        states[f"{title} [{unit}]"] = [round(float(value), decimals + 1) for value in printed]
    return states
