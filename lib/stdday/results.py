"""Results as plain tables, in pilots' units, rounded once, the same on screen and on disk."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday import units
from stdday.ledger import LEDGER_COLUMNS
from stdday.metrics import METRICS
from stdday.points import Points
from stdday.reduce_level import curve_power_w
from stdday.results_points import points_table, utc

if TYPE_CHECKING:
    from stdday.campaign import Campaign
    from stdday.compare import Effect
    from stdday.outcome import Analysis, Outcome
    from stdday.survey import Survey

__all__ = ["EFFECT_COLUMNS", "VALUE_COLUMNS", "Results", "make_results"]

#: Columns of ``values.csv``.
VALUE_COLUMNS = (
    "metric",
    "condition_id",
    "condition",
    "unit",
    "configuration",
    "estimate",
    "low",
    "high",
    "flights",
    "points",
    "basis",
    "status",
    "reason",
    "method",
)
#: Columns of ``effects.csv``.
EFFECT_COLUMNS = (
    "metric",
    "condition_id",
    "condition",
    "unit",
    "configuration_a",
    "configuration_b",
    "estimate_a",
    "estimate_a_low",
    "estimate_a_high",
    "estimate_b",
    "estimate_b_low",
    "estimate_b_high",
    "difference",
    "difference_low",
    "difference_high",
    "low_90",
    "high_90",
    "p",
    "p_adjusted",
    "primary",
    "flights_a",
    "flights_b",
    "points_a",
    "points_b",
    "matters",
    "load_basis",
    "verdict",
    "reason",
    "method",
)

#: Channels of ``traces.csv``: channel, dimension, unit.
TRACES = (
    ("pressure_altitude", "length", "ft"),
    ("indicated_airspeed", "speed", "kt"),
    ("ground_speed", "speed", "kt"),
    ("engine_speed", "angular_speed", "rpm"),
)


@dataclass(frozen=True)
class Results:
    """Everything a run makes; tables are data frames in pilots' units.

    Parameters
    ----------
    meta : dict
        Title, question, reference conditions, configurations, what matters, seed and draws.
    values, effects, points, corrections : DataFrame
        The four tables of the campaign format.
    flights : DataFrame
        One row a flight: rows in file, used and set aside, points found and used, findings.
    left_out : DataFrame
        Points that carry no number, by metric, with the reason.
    flight_values : DataFrame
        Value of each flight behind a mean.
    curve_points, curves : DataFrame
        Reduced level runs, and the fitted curve of each configuration.
    balance : DataFrame
        Conditions flown, configuration by configuration.
    traces : DataFrame
        A thinned-out time history of each flight.
    costs : DataFrame
        What absent entries of the campaign cost.
    uncertainties : DataFrame
        Declared and default uncertainties.
    tables : dict of str to DataFrame
        Further tables by name, such as ``budget`` and ``calibration_legs``; those that a campaign
        gives nothing for are absent.
    """

    meta: dict[str, Any]
    values: pd.DataFrame
    effects: pd.DataFrame
    points: pd.DataFrame
    corrections: pd.DataFrame
    flights: pd.DataFrame
    left_out: pd.DataFrame
    flight_values: pd.DataFrame
    curve_points: pd.DataFrame
    curves: pd.DataFrame
    balance: pd.DataFrame
    traces: pd.DataFrame
    costs: pd.DataFrame
    uncertainties: pd.DataFrame
    tables: dict[str, pd.DataFrame] = field(default_factory=dict)

    @property
    def weighed(self) -> pd.DataFrame:
        """Differences at equal weight: what the change does."""
        return self.where("effects", load_basis="equal weight")

    @property
    def loaded(self) -> pd.DataFrame:
        """Differences at equal load: what an owner gets, the change's own mass included."""
        return self.where("effects", load_basis="equal load")

    @cached_property
    def _places(self) -> dict[tuple[str, ...], dict[Any, Any]]:
        """Places of rows by table and columns, as `where` has looked them up."""
        return {}

    def where(self, table: str, **equal: str) -> pd.DataFrame:
        """Rows of a table that hold these texts; quick however often it is asked.

        Parameters
        ----------
        table : str
            Name of the table.
        **equal : str
            Text by column.

        Returns
        -------
        DataFrame
            In the order of the table; empty where there are none.
        """
        frame = self.table(table)
        if not len(frame):
            return frame
        places = self._places.get((table, *equal))
        if places is None:
            places = frame.groupby(list(equal), sort=False).indices
            self._places[table, *equal] = places
        wanted = tuple(equal.values())
        return frame.iloc[places.get(wanted if len(wanted) > 1 else wanted[0], [])]

    def table(self, name: str) -> pd.DataFrame:
        """One table by its name; empty, without columns, where the campaign gives nothing for it.

        Parameters
        ----------
        name : str
            Name of a table, of either sort.

        Returns
        -------
        DataFrame
        """
        if name in self.core_names():
            frame: pd.DataFrame = getattr(self, name)
            return frame
        return self.tables.get(name, pd.DataFrame())

    def all_tables(self) -> dict[str, pd.DataFrame]:
        """Every table by its name, in a fixed order."""
        core = {name: self.table(name) for name in self.core_names()}
        return core | {name: self.tables[name] for name in sorted(self.tables)}

    @classmethod
    def core_names(cls) -> tuple[str, ...]:
        """Names of the tables that every campaign has."""
        return tuple(item.name for item in fields(cls) if item.name not in ("meta", "tables"))


def in_unit(metric: str, value: float) -> float:
    """Turn an SI value of a metric into its results unit, rounded one decimal beyond print.

    Parameters
    ----------
    metric : str
        Metric name.
    value : float
        Value [SI].

    Returns
    -------
    float
        Value in the unit of the metric.

    Examples
    --------
    >>> in_unit("climb_rate", 5.08)
    1000.0
    """
    entry = METRICS[metric]
    converted = float(units.from_si(np.array([value]), entry.unit, entry.dimension)[0])
    return round(converted, entry.decimals + 1) + 0.0


def difference_in_unit(metric: str, value: float) -> float:
    """Turn a difference of a metric into its results unit (offsets of scales drop out)."""
    entry = METRICS[metric]
    pair = units.from_si(np.array([value, 0.0]), entry.unit, entry.dimension)
    return round(float(pair[0] - pair[1]), entry.decimals + 1) + 0.0


def _edges(outcome: Outcome) -> tuple[float, float, float]:
    if outcome.estimate is None:
        return (float("nan"),) * 3
    low, high = outcome.estimate.interval()
    return (
        in_unit(outcome.metric, outcome.estimate.value),
        in_unit(outcome.metric, low),
        in_unit(outcome.metric, high),
    )


def _value_row(outcome: Outcome) -> dict[str, Any]:
    estimate, low, high = _edges(outcome)
    return {
        "metric": outcome.metric,
        "condition_id": outcome.condition_id,
        "condition": outcome.condition,
        "unit": METRICS[outcome.metric].unit,
        "configuration": outcome.configuration,
        "estimate": estimate,
        "low": low,
        "high": high,
        "flights": len(outcome.flights),
        "points": len(outcome.points),
        "basis": outcome.basis,
        "status": outcome.status,
        "reason": outcome.reason,
        "method": outcome.method,
    }


def _significant(value: float) -> float:
    return float(f"{value:.3g}") if np.isfinite(value) else value


def effect_row(effect: Effect) -> dict[str, Any]:
    """Row of ``effects.csv`` for one difference."""
    a, b, metric = _edges(effect.a), _edges(effect.b), effect.b.metric
    row: dict[str, Any] = {
        "metric": metric,
        "condition_id": effect.b.condition_id,
        "condition": effect.b.condition,
        "unit": METRICS[metric].unit,
        "configuration_a": effect.a.configuration,
        "configuration_b": effect.b.configuration,
    }
    for letter, edges in (("a", a), ("b", b)):
        row |= {
            f"estimate_{letter}": edges[0],
            f"estimate_{letter}_low": edges[1],
            f"estimate_{letter}_high": edges[2],
        }
    numbers = [float("nan")] * 5
    p_value = float("nan")
    if effect.difference is not None:
        known = effect.difference
        ends = (known.value, *known.interval(), *known.interval(0.90))
        numbers = [difference_in_unit(metric, end) for end in ends]
        p_value = _significant(known.p_zero())
    row |= dict(
        zip(
            ("difference", "difference_low", "difference_high", "low_90", "high_90"),
            numbers,
            strict=True,
        )
    )
    matters = effect.matters
    return row | {
        "p": p_value,
        "p_adjusted": _significant(effect.p_adjusted),
        "primary": effect.primary,
        "flights_a": len(effect.a.flights),
        "flights_b": len(effect.b.flights),
        "points_a": len(effect.a.points),
        "points_b": len(effect.b.points),
        "matters": float("nan") if matters is None else difference_in_unit(metric, matters),
        "load_basis": effect.load_basis,
        "verdict": effect.verdict,
        "reason": effect.reason,
        "method": effect.b.method or effect.a.method,
    }


def _refusals(analysis: Analysis) -> pd.DataFrame:
    rows = [
        {"point": point, "metric": item.metric, "condition_id": item.condition_id, "reason": reason}
        for item in analysis.reduced
        for point, reason in item.refused.items()
    ]
    table = pd.DataFrame(rows, columns=["point", "metric", "condition_id", "reason"])
    return table.drop_duplicates().reset_index(drop=True)


def _corrections(analysis: Analysis) -> pd.DataFrame:
    parts = [item.ledger for item in analysis.reduced if len(item.ledger)]
    table = pd.concat([pd.DataFrame(columns=list(LEDGER_COLUMNS)), *parts], ignore_index=True)
    for column in ("before", "after", "change"):
        table[column] = table[column].astype(float).round(4) + 0.0
    return table


def _flights(
    campaign: Campaign, surveys: Mapping[str, Survey], found: Points, points: pd.DataFrame
) -> pd.DataFrame:
    counts = points.groupby("flight")["used"].agg(["size", "sum"]) if len(points) else None
    known = counts.to_dict("index") if counts is not None else {}
    rows = []
    for flight in campaign.flights:
        survey = surveys.get(flight.id)
        own = known.get(flight.id, {"size": 0, "sum": 0})
        rows.append(
            {
                "flight": flight.id,
                "configuration": flight.configuration,
                "block": flight.block,
                "date": flight.date.isoformat() if flight.date else "",
                "pilot": flight.pilot or "",
                **_rows(survey),
                "points_found": int(own["size"]),
                "points_used": int(own["sum"]),
                "findings": " | ".join(_findings(survey, flight.id, found)),
                "note": flight.crew_note or "",
            }
        )
    return pd.DataFrame(rows)


def _rows(survey: Survey | None) -> dict[str, Any]:
    """Rows of the files of a flight, in file, used and set aside."""
    if survey is None:
        return {"rows_in_file": 0, "rows_used": 0, "rows_set_aside": ""}
    aside = (f"{count} {reason}" for reason, count in survey.rows.set_aside.items())
    return {
        "rows_in_file": survey.rows.in_file,
        "rows_used": survey.rows.used,
        "rows_set_aside": "; ".join(aside),
    }


def _findings(survey: Survey | None, flight: str, found: Points) -> list[str]:
    """What a person should know of a flight: its findings, and decisions without a point."""
    if survey is None:
        return []
    orphans = (
        f"decisions.csv line {decision.row}: belongs to no test point, kept without effect"
        for decision in found.orphans
        if decision.flight == flight
    )
    return [*map(str, survey.findings), *orphans]


def _traces(surveys: Mapping[str, Survey]) -> pd.DataFrame:
    """Thinned time histories of all flights, one below the other."""
    if not surveys:
        return pd.DataFrame()
    every = list(surveys.values())
    times = [survey.trace_time_s for survey in every]
    counts = [len(time_s) for time_s in times]
    minutes = [np.round((time_s - time_s[:1]) / 60, 2) for time_s in times]
    table: dict[str, Any] = {
        "flight": _repeated([survey.flight for survey in every], counts),
        "minutes": np.concatenate(minutes),
    }
    for channel, dimension, unit in TRACES:
        values = np.concatenate([survey.trace[channel] for survey in every])
        table[f"{channel} [{unit}]"] = np.round(units.from_si(values, unit, dimension), 0)
    starts = [utc(time_s[0]) if len(time_s) else "" for time_s in times]
    table["start_utc"] = _repeated(starts, counts)
    return pd.DataFrame(table)


def _repeated(texts: Sequence[str], counts: Sequence[int]) -> NDArray[np.object_]:
    """Each text so many times, all of them one object."""
    return np.repeat(np.array(texts, dtype=object), counts)


def _flight_values(analysis: Analysis) -> pd.DataFrame:
    rows = [
        {
            "metric": outcome.metric,
            "condition_id": outcome.condition_id,
            "configuration": outcome.configuration,
            "flight": flight,
            "value": in_unit(outcome.metric, value),
            "unit": METRICS[outcome.metric].unit,
        }
        for outcome in analysis.outcomes
        for flight, value in outcome.flight_values.items()
    ]
    return pd.DataFrame(
        rows, columns=["metric", "condition_id", "configuration", "flight", "value", "unit"]
    )


def _curves(analysis: Analysis) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Reduced level runs and fitted curves, reduced airspeed [kt] and power [kW]."""
    points, lines = [], []
    for name, found in analysis.fits.items():
        speed = units.from_si(found.speed_ms[0], "kt", "speed")
        power = found.power_w[0] / 1000
        for place, point in enumerate(found.points):
            points.append(
                {
                    "configuration": name,
                    "flight": found.flights[place],
                    "point": point,
                    "reduced_airspeed [kt]": round(float(speed[place]), 2),
                    "reduced_power [kW]": round(float(power[place]), 3),
                    "brake_power [kW]": round(float(found.brake_power_w[0, place]) / 1000, 3),
                    "fuel_flow [L/h]": round(float(found.fuel_m3s[0, place]) * 3.6e6, 2),
                    "weight_in_fit": round(float(found.weights[place]), 3)
                    if found.weights.size
                    else float("nan"),
                }
            )
        if found.reason:
            continue
        ends = found.speed_ms[0].min(), found.speed_ms[0].max()
        grid = np.linspace(*ends, 40)
        for airspeed, value in zip(grid, curve_power_w(found, grid), strict=True):
            lines.append(
                {
                    "configuration": name,
                    "reduced_airspeed [kt]": round(float(airspeed) * 3600 / 1852, 2),
                    "reduced_power [kW]": round(float(value) / 1000, 3),
                }
            )
    return pd.DataFrame(points), pd.DataFrame(lines)


def make_results(
    campaign: Campaign,
    meta: dict[str, Any],
    surveys: Mapping[str, Survey],
    found: Points,
    analysis: Analysis,
    effects: Sequence[Effect],
    balance: pd.DataFrame,
    costs: pd.DataFrame,
    uncertainties: pd.DataFrame,
) -> Results:
    """Lay out everything that a run found as tables.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    meta : dict
        Plain facts about the run that are no table.
    surveys : mapping of str to Survey
        What was found in the recording of each flight.
    found : Points
        Test points of all flights.
    analysis : Analysis
        Corrected points and values.
    effects : sequence of Effect
        Differences with their verdicts.
    balance, costs, uncertainties : DataFrame
        Tables made elsewhere, passed on.

    Returns
    -------
    Results
    """
    refusals = _refusals(analysis)
    points = points_table(found, refusals, analysis)
    dropped = points.loc[~points["used"], ["point", "reason"]] if len(points) else pd.DataFrame()
    kept_refusals = refusals[~refusals["point"].isin(dropped["point"])] if len(points) else refusals
    left_out = pd.concat(
        [dropped.assign(metric="all", condition_id=""), kept_refusals], ignore_index=True
    )
    curve_points, curves = _curves(analysis)
    return Results(
        meta=meta,
        values=pd.DataFrame(
            [_value_row(o) for o in analysis.outcomes], columns=list(VALUE_COLUMNS)
        ),
        effects=pd.DataFrame([effect_row(e) for e in effects], columns=list(EFFECT_COLUMNS)),
        points=points,
        corrections=_corrections(analysis),
        flights=_flights(campaign, surveys, found, points),
        left_out=left_out[["point", "metric", "condition_id", "reason"]],
        flight_values=_flight_values(analysis),
        curve_points=curve_points,
        curves=curves,
        balance=balance,
        traces=_traces(surveys),
        costs=costs,
        uncertainties=uncertainties,
    )
