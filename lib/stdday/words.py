"""Sentences computed from results: one for each difference and each value.

A sentence about a difference is built from its verdict and is never stronger than it: only what is
``shown`` gets a direction of its own, and what is not resolved gets the reason instead.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from stdday import extract
from stdday.display import (
    Scale,
    direction,
    full_condition,
    metric_scale,
    metric_words,
    number,
    printed,
    with_label,
)
from stdday.errors import InputError
from stdday.metrics import METRICS
from stdday.results import Results

__all__ = [
    "NOT_RESOLVED",
    "NO_DIFFERENCE",
    "SHOWN",
    "Answer",
    "answers",
    "configuration_line",
    "count",
    "effect_sentence",
    "value_sentence",
    "with_conditions",
]

SHOWN, NO_DIFFERENCE, NOT_RESOLVED = (
    "shown",
    "no difference larger than what matters",
    "not resolved",
)
_EXPLORATORY = " Exploratory: not one of the questions asked beforehand."


@dataclass(frozen=True)
class Answer:
    """One difference or value in words.

    Parameters
    ----------
    title : str
        Metric and condition.
    verdict : str
        Verdict of the difference; for a value its status.
    sentence : str
        What may be said.
    primary : bool
        Whether it is one of the questions asked beforehand.

    Examples
    --------
    >>> Answer("Fuel flow", "not resolved", "Fuel flow: not resolved.", False).primary
    False
    """

    title: str
    verdict: str
    sentence: str
    primary: bool


# ---- differences ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Difference:
    """An effect row on its way into words."""

    row: Mapping[str, Any]
    what: str
    scale: Scale
    a: str
    b: str

    def number(self, key: str) -> float:
        """Difference, interval edge or what matters, in the displayed unit."""
        return self.scale.change(float(self.row[key]))

    def edges(self) -> tuple[float, ...]:
        """Numbers that a verdict compares with."""
        matters = self.number("matters")
        return (0.0, matters, -matters) if math.isfinite(matters) else (0.0,)

    def texts(self, *keys: str, plus: bool = False) -> list[str]:
        """Numbers that belong together, printed."""
        values = [self.number(key) for key in keys]
        if not plus:
            edges = {abs(edge) for edge in self.edges()}
            return printed([abs(value) for value in values], self.scale.decimals, edges)
        return printed(values, self.scale.decimals, self.edges(), plus=True)

    def matters(self) -> str:
        """What matters, with its unit; empty where nothing was named."""
        value = self.number("matters")
        if not math.isfinite(value):
            return ""
        return f"{number(value, self.scale.decimals)} {self.scale.unit}".strip()

    def excludes_zero(self) -> bool:
        """Whether the 95 % interval leaves zero out."""
        return self.number("difference_low") > 0 or self.number("difference_high") < 0

    def from_to(self, low: str, high: str) -> str:
        """Interval in words, whichever signs it has."""
        metric, unit = str(self.row["metric"]), self.scale.unit
        start, end = self.number(low), self.number(high)
        texts = self.texts(low, high)
        if start * end > 0:
            near, far = texts if start > 0 else texts[::-1]
            return f"{near} to {far} {unit} {direction(metric, start)}"
        less, more = direction(metric, -1.0), direction(metric, 1.0)
        return f"{texts[0]} {unit} {less} to {texts[1]} {unit} {more}"


def effect_sentence(meta: Mapping[str, Any], row: Mapping[str, Any]) -> str:
    """Say what a difference shows, and no more.

    Parameters
    ----------
    meta : mapping
        ``Results.meta``.
    row : mapping
        A row of ``effects.csv``.

    Returns
    -------
    str
        One to three sentences.

    Raises
    ------
    InputError
        Where the verdict is none of the campaign format.

    Examples
    --------
    >>> from tests.made_results import effect
    >>> print(effect_sentence({}, effect()))
    Take-off ground roll: 21 m shorter with B than with A (95 % interval 14 to 28 m shorter). It is
    not sure that this is as much as what matters (25 m).
    """
    metric = str(row["metric"])
    found = _Difference(
        row,
        metric_words(meta, metric, str(row["condition_id"]), str(row["condition"])),
        metric_scale(meta, metric),
        str(row["configuration_a"]),
        str(row["configuration_b"]),
    )
    builders = {SHOWN: _shown, NO_DIFFERENCE: _no_difference, NOT_RESOLVED: _not_resolved}
    verdict = str(row["verdict"])
    if verdict not in builders:
        raise InputError(f"verdict must be one of {', '.join(builders)}; got {verdict!r}")
    sentence = _spaced(builders[verdict](found))
    return sentence if bool(row["primary"]) or verdict == NOT_RESOLVED else sentence + _EXPLORATORY


def _shown(found: _Difference) -> str:
    size, low, high = found.texts("difference", "difference_low", "difference_high")
    near, far = (low, high) if found.number("difference_low") > 0 else (high, low)
    word, unit = direction(str(found.row["metric"]), found.number("difference")), found.scale.unit
    unit = "percentage points" if unit == "%" else unit
    sentence = (
        f"{found.what}: {size} {unit} {word} with {found.b} than with {found.a} "
        f"(95 % interval {near} to {far} {unit} {word})."
    )
    matters = found.number("matters")
    if not math.isfinite(matters):
        return sentence
    low_end, high_end = found.number("difference_low"), found.number("difference_high")
    if (low_end >= matters or high_end <= -matters) and "not surely" not in str(
        found.row["reason"]
    ):
        return f"{sentence} That is surely at least what matters ({found.matters()})."
    return f"{sentence} It is not sure that this is as much as what matters ({found.matters()})."


def _no_difference(found: _Difference) -> str:
    sentence = (
        f"{found.what}: no difference larger than what matters ({found.matters()}). With {found.b} "
        f"it is {found.from_to('low_90', 'high_90')} (90 % interval, by which this is judged)."
    )
    if not found.excludes_zero():
        return sentence
    return (
        f"{sentence} A small difference is there: the 95 % interval, "
        f"{found.from_to('difference_low', 'difference_high')}, excludes zero."
    )


def _not_resolved(found: _Difference) -> str:
    reason = _without_exploratory(str(found.row["reason"])) or "no reason given"
    if not math.isfinite(found.number("difference")):
        return f"{found.what}: not compared. {capital(reason)}."
    low, high = found.texts("difference_low", "difference_high", plus=True)
    return (
        f"{found.what}: not resolved, so neither a difference nor its absence is claimed. "
        f"{capital(reason)}. The 95 % interval of {found.b} minus {found.a} is {low} to {high} "
        f"{found.scale.unit}."
    )


def _without_exploratory(reason: str) -> str:
    return "; ".join(
        part for part in reason.split("; ") if not part.startswith("exploratory")
    ).rstrip(".")


def _spaced(text: str) -> str:
    """Take out the space that a number without unit leaves behind."""
    return re.sub(r" (?=[ ),.])", "", text)


def capital(text: str) -> str:
    """Begin a text with a capital letter."""
    return text[:1].upper() + text[1:]


# ---- values --------------------------------------------------------------------------------------


def value_sentence(meta: Mapping[str, Any], row: Mapping[str, Any]) -> str:
    """Say a value with its interval and what it rests on.

    Parameters
    ----------
    meta : mapping
        ``Results.meta``.
    row : mapping
        A row of ``values.csv``.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_results import made
    >>> print(value_sentence({}, made().values.iloc[0]))
    Take-off ground roll with A: 212 m (95 % interval 203 to 221 m), from 3 flights and 6 points.
    """
    metric = str(row["metric"])
    what = metric_words(meta, metric, str(row["condition_id"]), str(row["condition"]))
    if len(meta.get("configurations", {"": {}, " ": {}})) > 1:
        what = f"{what} with {row['configuration']}"
    if row["status"] != "ok":
        word = "not reachable" if row["status"] == "not reachable" else "no value"
        return f"{what}: {word}. {capital(str(row['reason'])).rstrip('.')}."
    scale = metric_scale(meta, metric)
    value, low, high = (scale.text(float(row[key])) for key in ("estimate", "low", "high"))
    if str(row["basis"]) == "by definition":
        return _spaced(f"{what}: {value} {scale.unit}, by definition.")
    sentence = _spaced(
        f"{what}: {value} {scale.unit} (95 % interval {low} to {high} {scale.unit}), from "
        f"{count(int(row['flights']), 'flight')} and {count(int(row['points']), 'point')}."
    )
    if str(row["basis"]).startswith("assumed"):
        return f"{sentence} The interval rests on an {row['basis']}."
    return sentence


def count(size: int, word: str) -> str:
    """Count things, in words.

    Parameters
    ----------
    size : int
        How many [-].
    word : str
        One of them.

    Returns
    -------
    str

    Examples
    --------
    >>> count(1, "flight"), count(3, "flight")
    ('1 flight', '3 flights')
    """
    return f"{size} {word}" if size == 1 else f"{size} {word}s"


def answers(results: Results) -> list[Answer]:
    """Answer the campaign's question: primary metrics first, then the exploratory ones.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    list of Answer
        Differences where there are two configurations or more, else values.

    Examples
    --------
    >>> from tests.made_results import made, made_single
    >>> answers(made())[0].verdict
    'shown'
    >>> print(answers(made_single())[0].sentence)
    Take-off ground roll: 212 m (95 % interval 203 to 221 m), from 3 flights and 6 points.
    """
    differ = len(results.weighed) > 0
    table, say = (results.weighed, effect_sentence) if differ else (results.values, value_sentence)
    found = []
    for row in table.to_dict("records"):
        metric = str(row["metric"])
        found.append(
            Answer(
                metric_words(results.meta, metric, str(row["condition_id"]), str(row["condition"])),
                str(row["verdict"] if differ else row["status"]),
                say(results.meta, {str(key): value for key, value in row.items()}),
                bool(row["primary"]) if differ else metric in results.meta["primary"],
            )
        )
    return sorted(found, key=lambda answer: not answer.primary)


def with_conditions(results: Results) -> str:
    """Reference conditions in words, one line for all metrics that share them.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_results import made
    >>> print(with_conditions(made()).splitlines()[1])
    Rate of climb, Climb gradient: pressure altitude 1000 ft, airspeed 62 kt, weight 600 kg.
    """
    titles: dict[str, list[str]] = {}
    for metric in dict.fromkeys(results.values["metric"]):
        for _, condition in extract.conditions_of(results, metric):
            if "=" in condition:
                told = full_condition(results.meta, condition)
                titles.setdefault(told, []).append(METRICS[metric].title)
    return "\n".join(f"{', '.join(names)}: {told}." for told, names in titles.items())


def configuration_line(results: Results) -> str:
    """Which configurations there are, with their label and number of flights.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_results import made
    >>> configuration_line(made())
    'A (two-blade): 3 flights; B (three-blade): 3 flights'
    """
    flown = list(results.flights["configuration"])
    return "; ".join(
        f"{with_label(results.meta, name)}: {count(flown.count(name), 'flight')}"
        for name in extract.configurations(results)
    )
