"""The correction ledger: one quantity of each point, corrected one visible step at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from stdday import units
from stdday.metrics import METRICS

__all__ = ["LEDGER_COLUMNS", "Chain", "Reduced", "said"]

FloatArray = NDArray[np.float64]

#: Columns of `corrections.csv`.
LEDGER_COLUMNS = (
    "point",
    "metric",
    "condition_id",
    "step",
    "quantity",
    "before",
    "after",
    "change",
    "unit",
    "source",
    "inputs",
)

#: Share of a point's draws that may fall outside of what the formulas answer for [-].
LOST_DRAWS = 0.01

#: Points that are corrected at once [-]: the draws of so many are in memory at every step.
POINTS_AT_ONCE = 100


def said(name: str, values: ArrayLike, dimension: str, unit: str, decimals: int = 1) -> list[str]:
    """Words for an input of a step, one a point: its nominal value in a pilot's unit.

    Parameters
    ----------
    name : str
        Name of the input.
    values : array_like, shape (points,) or (draws + 1, points)
        Values in SI.
    dimension, unit : str
        Dimension and unit to print in.
    decimals : int
        Decimals printed.

    Returns
    -------
    list of str, length points

    Examples
    --------
    >>> said("headwind", [5.144444], "speed", "kt")
    ['headwind 10.0 kt']
    """
    array = np.asarray(values, dtype=float)
    row = array[0] if array.ndim > 1 else array
    printed = np.round(units.from_si(row, unit, dimension), decimals) + 0.0
    return [f"{name} {value:.{decimals}f} {unit}".rstrip(" -") for value in printed]


@dataclass
class Chain:
    """A quantity on its way from the recording to the reference day.

    Parameters
    ----------
    metric : str
        Metric it ends in.
    condition_id : str
        Reference condition it ends at.
    points : sequence of str
        Points, in the order of the last axis of the values.
    quantity, dimension, unit : str
        What the numbers are, and the unit of the ledger.
    values : ndarray, shape (draws + 1, points)
        Present values, SI; row 0 nominal.
    """

    metric: str
    condition_id: str
    points: Sequence[str]
    quantity: str
    dimension: str
    unit: str
    values: FloatArray
    rows: list[list[dict[str, object]]] = field(default_factory=list)

    def step(
        self, name: str, values: ArrayLike, source: str, inputs: Sequence[Sequence[str]] = ()
    ) -> None:
        """Take one step: note before, after, size, source and inputs of every point.

        Parameters
        ----------
        name : str
            Name of the step.
        values : array_like, shape (draws + 1, points)
            Values after it, SI.
        source : str
            Published source or standing of the formula.
        inputs : sequence of sequences of str
            Each input in words, one a point.
        """
        after_all = np.broadcast_to(np.asarray(values, dtype=float), self.values.shape)
        before = units.from_si(self.values[0], self.unit, self.dimension)
        after = units.from_si(after_all[0], self.unit, self.dimension)
        self.rows.append(
            [
                {
                    "point": point,
                    "metric": self.metric,
                    "condition_id": self.condition_id,
                    "step": name,
                    "quantity": self.quantity,
                    "before": float(before[place]),
                    "after": float(after[place]),
                    "change": float(after[place] - before[place]),
                    "unit": self.unit,
                    "source": source,
                    "inputs": "; ".join(column[place] for column in inputs if column[place]),
                }
                for place, point in enumerate(self.points)
            ]
        )
        self.values = after_all

    def turn_into(self, quantity: str, dimension: str, unit: str) -> None:
        """Name the quantity anew, where a step turned it into another one."""
        self.quantity, self.dimension, self.unit = quantity, dimension, unit


@dataclass(frozen=True)
class Reduced:
    """A metric of each point under the reference conditions.

    Parameters
    ----------
    metric, condition_id : str
        What it is, and under which reference condition.
    points, flights : tuple of str
        Points that carry a value, and the flight of each.
    values : ndarray, shape (draws + 1, points)
        Their values, SI; row 0 nominal.
    refused : dict
        Reason, in words, for each point that carries none.
    ledger : tuple of dict
        Ledger rows of the points that carry a value.
    method : str
        How it was made, in words.
    conditions : dict of str to ndarray, shape (points,)
        Conditions under which the kept points were flown, SI, by name.
    """

    metric: str
    condition_id: str
    points: tuple[str, ...]
    flights: tuple[str, ...]
    values: FloatArray = field(repr=False)
    refused: dict[str, str] = field(repr=False)
    ledger: tuple[dict[str, object], ...] = field(repr=False)
    method: str = ""
    conditions: dict[str, FloatArray] = field(default_factory=dict, repr=False)


def close(
    chain: Chain,
    flights: Sequence[str],
    reasons: Sequence[str],
    method: str,
    conditions: dict[str, FloatArray] | None = None,
) -> Reduced:
    """End a chain: set aside points without a value, with the reason.

    Parameters
    ----------
    chain : Chain
        The chain at its last step.
    flights : sequence of str
        Flight of each point.
    reasons : sequence of str
        Reason a point is refused; empty for a good one.
    method : str
        How it was made.
    conditions : dict of str to ndarray, shape (points,), optional
        Conditions under which the points were flown, SI.

    Returns
    -------
    Reduced
    """
    refused, keep = {}, []
    for place, point in enumerate(chain.points):
        reason = reasons[place]
        column = chain.values[:, place]
        if not reason and not np.isfinite(column[0]):
            reason = "an input of the correction is missing"
        if not reason and np.mean(~np.isfinite(column)) > LOST_DRAWS:
            reason = "its uncertainty reaches outside of what the formulas answer for"
        if reason:
            refused[point] = reason
        else:
            keep.append(place)
    values = chain.values[:, keep]
    values = np.where(np.isfinite(values), values, values[:1]) if keep else values
    return Reduced(
        chain.metric,
        chain.condition_id,
        tuple(chain.points[place] for place in keep),
        tuple(flights[place] for place in keep),
        values,
        refused,
        tuple(step[place] for place in keep for step in chain.rows),
        method or METRICS[chain.metric].definition,
        {name: row[keep] for name, row in (conditions or {}).items()},
    )


def in_parts(segments: pd.DataFrame) -> list[pd.DataFrame]:
    """Divide segments, so that memory for their draws grows little with the number of flights.

    Parameters
    ----------
    segments : DataFrame
        One row a point.

    Returns
    -------
    list of DataFrame
        At most `POINTS_AT_ONCE` rows each, in order; never raises.
    """
    starts = range(0, len(segments), POINTS_AT_ONCE)
    return [segments.iloc[start : start + POINTS_AT_ONCE] for start in starts]


def joined(parts: Sequence[Reduced]) -> Reduced:
    """Put points of one metric and condition together that were reduced in parts.

    Parameters
    ----------
    parts : sequence of Reduced
        At least one.

    Returns
    -------
    Reduced
    """
    if len(parts) == 1:
        return parts[0]
    return replace(
        parts[0],
        points=tuple(point for part in parts for point in part.points),
        flights=tuple(flight for part in parts for flight in part.flights),
        values=np.concatenate([part.values for part in parts], axis=1),
        refused={point: reason for part in parts for point, reason in part.refused.items()},
        ledger=tuple(row for part in parts for row in part.ledger),
        conditions={
            name: np.concatenate([part.conditions[name] for part in parts])
            for name in parts[0].conditions
        },
    )


def in_order(reduced: Reduced, points: Sequence[str]) -> Reduced:
    """Put reduced points in an order.

    Parameters
    ----------
    reduced : Reduced
        In any order.
    points : sequence of str
        All of its points, in the order wanted.

    Returns
    -------
    Reduced
    """
    places = {point: place for place, point in enumerate(points)}
    order = sorted(range(len(reduced.points)), key=lambda one: places[reduced.points[one]])
    return replace(
        reduced,
        points=tuple(reduced.points[one] for one in order),
        flights=tuple(reduced.flights[one] for one in order),
        values=reduced.values[:, order],
        refused={point: reduced.refused[point] for point in points if point in reduced.refused},
        ledger=tuple(sorted(reduced.ledger, key=lambda row: places[str(row["point"])])),
        conditions={name: row[order] for name, row in reduced.conditions.items()},
    )
