"""The correction ledger: one quantity of each point, corrected one visible step at a time."""

from __future__ import annotations

import sys
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
POINTS_AT_ONCE = 24


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


@dataclass(frozen=True)
class _Step:
    """A step of a chain; `before`, `after`, `sources` and `inputs` hold one entry a point."""

    name: str
    quantity: str
    before: FloatArray
    after: FloatArray
    unit: str
    sources: list[str]
    inputs: list[str]


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
    steps: list[_Step] = field(default_factory=list)

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
        # few texts are many points' own, and each is kept once
        words = [
            sys.intern("; ".join(column[place] for column in inputs if column[place]))
            for place in range(len(self.points))
        ]
        sources = [source] * len(self.points)
        self.steps.append(_Step(name, self.quantity, before, after, self.unit, sources, words))
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
    values : ndarray, shape (1, points)
        Their nominal values, SI.
    refused : dict
        Reason, in words, for each point that carries none.
    ledger : DataFrame
        Ledger rows of the points that carry a value, columns `LEDGER_COLUMNS`.
    method : str
        How it was made, in words.
    conditions : dict of str to ndarray, shape (points,)
        Conditions under which the kept points were flown, SI, by name.
    sums : tuple of (tuple of str, ndarray of shape (draws + 1,))
        Flights whose points were reduced together, and the sum of their flight means, SI; row 0
        nominal. Draws are kept in these sums alone, so that memory does not grow with the points.
    """

    metric: str
    condition_id: str
    points: tuple[str, ...]
    flights: tuple[str, ...]
    values: FloatArray = field(repr=False)
    refused: dict[str, str] = field(repr=False)
    ledger: pd.DataFrame = field(repr=False)
    method: str = ""
    conditions: dict[str, FloatArray] = field(default_factory=dict, repr=False)
    sums: tuple[tuple[tuple[str, ...], FloatArray], ...] = field(default=(), repr=False)


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
    kept = tuple(flights[place] for place in keep)
    return Reduced(
        chain.metric,
        chain.condition_id,
        tuple(chain.points[place] for place in keep),
        kept,
        values[:1].copy(),
        refused,
        _ledger(chain, keep),
        method or METRICS[chain.metric].definition,
        {name: row[keep] for name, row in (conditions or {}).items()},
        _sums(np.where(np.isfinite(values), values, values[:1]), kept),
    )


def _sums(
    values: FloatArray, flights: tuple[str, ...]
) -> tuple[tuple[tuple[str, ...], FloatArray], ...]:
    """Sum of flight means, draw by draw, with the flights; none without flights."""
    if not flights:
        return ()
    names = tuple(dict.fromkeys(flights))
    means = [values[:, [flight == name for flight in flights]].mean(axis=1) for name in names]
    return ((names, np.sum(means, axis=0)),)


def _ledger(chain: Chain, keep: Sequence[int]) -> pd.DataFrame:
    """Ledger rows of some points of a chain, the steps of each point one below the other."""
    rows = [(chain.points[place], step, place) for place in keep for step in chain.steps]
    table = pd.DataFrame(
        {
            "point": [point for point, _, _ in rows],
            "metric": chain.metric,
            "condition_id": chain.condition_id,
            "step": [step.name for _, step, _ in rows],
            "quantity": [step.quantity for _, step, _ in rows],
            "before": np.array([step.before[place] for _, step, place in rows], dtype=float),
            "after": np.array([step.after[place] for _, step, place in rows], dtype=float),
            "unit": [step.unit for _, step, _ in rows],
            "source": [step.sources[place] for _, step, place in rows],
            "inputs": [step.inputs[place] for _, step, place in rows],
        }
    )
    return table.assign(change=table["after"] - table["before"])[list(LEDGER_COLUMNS)]


def in_parts(segments: pd.DataFrame) -> list[pd.DataFrame]:
    """Divide segments, so that memory for their draws does not grow with the number of flights.

    Parameters
    ----------
    segments : DataFrame
        One row a point, with ``flight`` and ``configuration``.

    Returns
    -------
    list of DataFrame
        Whole flights of one configuration each, at most `POINTS_AT_ONCE` rows where a flight has
        not more itself; never raises.

    Examples
    --------
    >>> rows = pd.DataFrame({"flight": ["1", "2", "1", "3"], "configuration": ["A", "B", "A", "A"]})
    >>> [list(part["flight"]) for part in in_parts(rows)]
    [['1', '1', '3'], ['2']]
    """
    parts = []
    for _, own in segments.groupby("configuration", sort=False):
        counts = own["flight"].value_counts(sort=False)
        part_of, part, size = {}, 0, 0
        for flight, count in counts.items():
            if size and size + count > POINTS_AT_ONCE:
                part, size = part + 1, 0
            part_of[flight], size = part, size + count
        parts += [rows for _, rows in own.groupby(own["flight"].map(part_of))]
    return parts


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
        ledger=pd.concat([part.ledger for part in parts], ignore_index=True),
        conditions={
            name: np.concatenate([part.conditions[name] for part in parts])
            for name in parts[0].conditions
        },
        sums=tuple(pair for part in parts for pair in part.sums),
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
    rows = np.argsort(reduced.ledger["point"].map(places).to_numpy(), kind="stable")
    order = sorted(range(len(reduced.points)), key=lambda one: places[reduced.points[one]])
    return replace(
        reduced,
        points=tuple(reduced.points[one] for one in order),
        flights=tuple(reduced.flights[one] for one in order),
        values=reduced.values[:, order],
        refused={point: reduced.refused[point] for point in points if point in reduced.refused},
        ledger=reduced.ledger.iloc[rows].reset_index(drop=True),
        conditions={name: row[order] for name, row in reduced.conditions.items()},
    )
