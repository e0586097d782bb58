"""Tables that let a sceptic look behind each difference, in pilots' units, rounded once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from stdday import balance, budget, decide, influence, more_flights, moves, ranking, sense, units
from stdday.compare import EQUAL_WEIGHT, Effect, compare, compare_pairs
from stdday.errors import Problem
from stdday.metrics import METRICS
from stdday.results import difference_in_unit, effect_row, in_unit

if TYPE_CHECKING:
    from stdday.campaign import Campaign
    from stdday.outcome import Analysis
    from stdday.statistics import Estimate

__all__ = ["compare_all", "details", "load_costs"]

NAN = float("nan")
Row = dict[str, Any]


def compare_all(campaign: Campaign, analysis: Analysis) -> list[Effect]:
    """Compare at equal weight, then at equal load where a configuration has extra mass.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    analysis : Analysis
        Values on both bases.

    Returns
    -------
    list of Effect
        Rows of ``effects.csv``; each basis is a family of claims of its own.
    """
    apart = balance.flown_apart(campaign, analysis.reduced)
    loaded = replace(campaign, at_equal_load=True)
    return [
        *compare(campaign, analysis.outcomes, apart),
        *compare(loaded, analysis.loaded, apart),
    ]


def load_costs(campaign: Campaign) -> list[Problem]:
    """Say where an unknown mass costs the comparison at equal load.

    Parameters
    ----------
    campaign : Campaign
        The campaign.

    Returns
    -------
    list of Problem
        One for each configuration whose extra mass is not known.
    """
    return [
        Problem(
            "campaign.toml",
            f"configuration.{name}.propeller.mass",
            "mass of this propeller and of the reference one",
            "no mass of both: no comparison at equal load, which is what an owner gets",
            'write mass = "14 kg" for both propellers',
            "cost",
        )
        for name in campaign.configurations
        if campaign.extra_mass_kg(name) is None
    ]


def details(
    campaign: Campaign, analysis: Analysis, effects: Sequence[Effect]
) -> dict[str, pd.DataFrame]:
    """Lay out everything beside the differences as tables.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    analysis : Analysis
        Corrected points and values.
    effects : sequence of Effect
        Differences on both bases of load.

    Returns
    -------
    dict of str to DataFrame
        By name: ``budget``, ``pairs``, ``ranking``, ``both_ways``, ``leave_one_out``,
        ``flights_apart``, ``pilots``, ``pilot_check``, ``explained``, ``explained_steps``,
        ``moves``, ``extrapolated``, ``more_flights``, ``sense``, ``agreement``, ``decisions``;
        those without a row are left out.
    """
    given = _Given(campaign, analysis, effects)
    makers: dict[str, Callable[[_Given], Iterable[Row]]] = {
        "budget": _budget,
        "pairs": _pairs,
        "ranking": _ranking,
        "both_ways": _both_ways,
        "leave_one_out": _leave_one_out,
        "flights_apart": _flights_apart,
        "pilots": _pilots,
        "pilot_check": _pilot_check,
        "explained": _explained,
        "explained_steps": _explained_steps,
        "moves": _moves,
        "extrapolated": _extrapolated,
        "more_flights": _more_flights,
        "sense": _sense,
        "agreement": _agreement,
        "decisions": _decisions,
    }
    made = {name: pd.DataFrame(list(maker(given))) for name, maker in makers.items()}
    return {name: table for name, table in made.items() if len(table)}


@dataclass(frozen=True)
class _Given:
    """What all tables are made of."""

    campaign: Campaign
    analysis: Analysis
    effects: Sequence[Effect]

    @property
    def weighed(self) -> list[Effect]:
        """Differences at equal weight."""
        return [one for one in self.effects if one.load_basis == EQUAL_WEIGHT]

    @property
    def apart(self) -> dict[tuple[str, str], str]:
        """Conditions that do not overlap."""
        return balance.flown_apart(self.campaign, self.analysis.reduced)

    def bases(self) -> Iterable[tuple[Campaign, list[Effect], Sequence[Any]]]:
        """Campaign, differences and values of each basis of load."""
        loaded = [one for one in self.effects if one.load_basis != EQUAL_WEIGHT]
        yield self.campaign, self.weighed, self.analysis.outcomes
        if loaded:
            yield replace(self.campaign, at_equal_load=True), loaded, self.analysis.loaded


def _key(effect: Effect) -> Row:
    """Columns that say which difference a row is about."""
    return {
        "metric": effect.b.metric,
        "condition_id": effect.b.condition_id,
        "configuration_a": effect.a.configuration,
        "configuration_b": effect.b.configuration,
        "load_basis": effect.load_basis,
        "unit": METRICS[effect.b.metric].unit,
    }


def _size(metric: str, value: float) -> float:
    """A size in the unit of a metric, to three figures."""
    entry = METRICS[metric]
    pair = units.from_si(np.array([value, 0.0]), entry.unit, entry.dimension)
    return _figures(float(pair[0] - pair[1]))


def _figures(value: float) -> float:
    return float(f"{value:.3g}") if np.isfinite(value) else value


def _ends(metric: str, known: Estimate | None, prefix: str = "") -> Row:
    """A difference with its 95 % interval."""
    names = (f"{prefix}difference", f"{prefix}low", f"{prefix}high")
    values = (NAN,) * 3 if known is None else (known.value, *known.interval())
    return {name: difference_in_unit(metric, value)
            for name, value in zip(names, values, strict=True)}  # fmt: skip


def _budget(given: _Given) -> Iterable[Row]:
    for one in given.analysis.outcomes:
        if one.estimate is not None:
            key = {"metric": one.metric, "condition_id": one.condition_id,
                   "configuration": one.configuration, "load_basis": EQUAL_WEIGHT}  # fmt: skip
            yield from _shares(key, one.metric, budget.budget(one.estimate, one.sensitivity))
    for effect in given.effects:
        if effect.difference is not None:
            key = {"metric": effect.b.metric, "condition_id": effect.b.condition_id,
                   "configuration": f"{effect.b.configuration} - {effect.a.configuration}",
                   "load_basis": effect.load_basis}  # fmt: skip
            parts = budget.budget(effect.difference, effect.sensitivity)
            yield from _shares(key, effect.b.metric, parts)


def _shares(key: Row, metric: str, parts: list[budget.Share]) -> Iterable[Row]:
    for part in parts:
        yield key | {
            "source": part.source,
            "unit": METRICS[metric].unit,
            "one_sigma": _size(metric, part.sigma),
            "share [%]": round(100 * part.share, 1),
            "mend": part.mend,
        }


def _pairs(given: _Given) -> Iterable[Row]:
    return (effect_row(one) for one in compare_pairs(given.campaign, given.analysis.outcomes))


def _ranking(given: _Given) -> Iterable[Row]:
    pairs = compare_pairs(given.campaign, given.analysis.outcomes)
    if not pairs:
        return
    for (metric, condition_id), words in ranking.supported([*given.weighed, *pairs]).items():
        yield {"metric": metric, "condition_id": condition_id, "words": words}


def _both_ways(given: _Given) -> Iterable[Row]:
    for campaign, effects, _ in given.bases():
        others = influence.other_rule(campaign, effects, given.apart)
        for effect, (other, why) in zip(effects, others, strict=True):
            if effect.difference is None:
                continue
            metric, rule = effect.b.metric, influence.rule_of(effect)
            yield {
                **_key(effect), "rule": rule, **_ends(metric, effect.difference),
                "p": _figures(effect.difference.p_zero()), "verdict": effect.verdict,
                "other_rule": "" if why else influence.rule_of(other),
                **_ends(metric, None if why else other.difference, "other_"),
                "other_p": NAN if why or other.difference is None
                else _figures(other.difference.p_zero()),
                "other_verdict": "" if why else other.verdict, "reason": why,
            }  # fmt: skip


def _leave_one_out(given: _Given) -> Iterable[Row]:
    for campaign, effects, outcomes in list(given.bases())[:1]:
        as_is = {_name(one): one.verdict for one in effects}
        for left in influence.without_each_flight(campaign, effects, outcomes, given.apart):
            effect = left.effect
            known = effect.difference
            inner = (NAN, NAN) if known is None else known.interval(0.90)
            yield {
                **_key(effect), "without": left.flight, **_ends(effect.b.metric, known),
                "low_90": difference_in_unit(effect.b.metric, inner[0]),
                "high_90": difference_in_unit(effect.b.metric, inner[1]),
                "verdict": effect.verdict, "turns": effect.verdict != as_is[_name(effect)],
            }  # fmt: skip


def _name(effect: Effect) -> tuple[str, str, str]:
    return effect.b.metric, effect.b.condition_id, effect.b.configuration


def _flights_apart(given: _Given) -> Iterable[Row]:
    for one in influence.outlying_flights(given.campaign, given.analysis.outcomes):
        yield {
            "metric": one.metric, "condition_id": one.condition_id,
            "configuration": one.configuration, "flight": one.flight,
            "unit": METRICS[one.metric].unit, "value": in_unit(one.metric, one.value),
            "studentised_residual": round(one.residual, 2), "limit": round(one.limit, 2),
            "outlying": one.outlying,
        }  # fmt: skip


def _pilots(given: _Given) -> Iterable[Row]:
    pilots = {flight.id: flight.pilot or "" for flight in given.campaign.flights}
    if not any(pilots.values()):
        return
    for one in given.analysis.outcomes:
        for pilot in dict.fromkeys(pilots[flight] for flight in one.flight_values):
            own = [value for flight, value in one.flight_values.items() if pilots[flight] == pilot]
            yield {
                "metric": one.metric, "condition_id": one.condition_id,
                "configuration": one.configuration, "pilot": pilot or "not named",
                "flights": len(own), "mean": in_unit(one.metric, float(np.mean(own))),
                "unit": METRICS[one.metric].unit,
            }  # fmt: skip


def _pilot_check(given: _Given) -> Iterable[Row]:
    for one in influence.pilot_check(given.campaign, given.weighed):
        metric = one.effect.b.metric
        yield {
            **_key(one.effect), **_ends(metric, one.effect.difference),
            **_ends(metric, one.difference, "with_pilots_"), "reason": one.reason,
        }  # fmt: skip


def _explained(given: _Given) -> Iterable[Row]:
    for one in moves.explained(given.campaign, given.weighed, given.analysis.reduced):
        metric = one.effect.b.metric
        yield {
            **_key(one.effect), "raw_difference": difference_in_unit(metric, one.raw),
            "corrections": difference_in_unit(metric, one.corrected - one.raw),
            "corrected_difference": difference_in_unit(metric, one.corrected),
            "explained [%]": round(100 * one.share, 0), "words": one.words,
        }  # fmt: skip


def _explained_steps(given: _Given) -> Iterable[Row]:
    for one in moves.explained(given.campaign, given.weighed, given.analysis.reduced):
        for step, change in one.steps.items():
            adds = difference_in_unit(one.effect.b.metric, change)
            yield {**_key(one.effect), "step": step, "adds_to_difference": adds}


def _moves(given: _Given) -> Iterable[Row]:
    for one in moves.moved(given.effects, given.analysis.kinds):
        metric = one.effect.b.metric
        less, more = (difference_in_unit(metric, end) for end in one.ends)
        yield {
            **_key(one.effect), "source": one.source, "one_sigma": _size(metric, one.size),
            "difference_less": less, "difference_more": more, "turns": one.turns,
            "mend": one.mend,
        }  # fmt: skip


def _extrapolated(given: _Given) -> Iterable[Row]:
    for one in moves.extrapolated(given.campaign, given.analysis.reduced):
        title, dimension, unit, decimals, _ = balance.CONDITIONS[one.condition]
        ends = np.array([one.least, one.greatest, one.reference])
        least, most, at = np.round(units.from_si(ends, unit, dimension), decimals) + 0.0
        yield {
            "metric": one.metric, "condition_id": one.condition_id,
            "configuration": one.configuration, "quantity": title, "unit": unit,
            "least": float(least), "greatest": float(most), "reference": float(at),
            "words": f"{title} was {least:.{decimals}f} to {most:.{decimals}f} {unit}, the "
            f"reference is {_reference_words(one.condition, f'{at:.{decimals}f} {unit}')}: results "
            "are carried beyond what was flown",
        }  # fmt: skip


def _reference_words(condition: str, value: str) -> str:
    return "dry air" if condition == "vapour_pressure_pa" else value


def _more_flights(given: _Given) -> Iterable[Row]:
    for one in more_flights.more_flights(given.campaign, given.effects, given.analysis.reduced):
        metric, plan = one.effect.b.metric, one.cheapest
        shared = float(np.hypot(one.scatter.shared, one.scatter.block))
        yield {
            **_key(one.effect), "scatter_between_flights": _size(metric, one.scatter.flight),
            "scatter_between_points": _size(metric, one.scatter.point),
            "shared_by_flights": _size(metric, shared), "scatter_from": one.scatter_from,
            "matters": NAN if one.wanted is None else _size(metric, one.wanted),
            "smallest_that_could_be_shown": _size(metric, one.smallest),
            "more_with_each_to_show": _number(one.to_show),
            "more_with_each_to_exclude": _number(one.to_exclude),
            "cheapest_flights": NAN if plan is None else float(plan.flights[0]),
            "cheapest_points": NAN if plan is None else float(plan.points),
            "cheapest_periods": "" if plan is None else "-".join(map(str, plan.blocks)),
            "words": one.words,
        }  # fmt: skip


def _number(count: int | None) -> float:
    return NAN if count is None else float(count)


def _sense(given: _Given) -> Iterable[Row]:
    for one in sense.make_sense(given.campaign, given.weighed):
        value, low, high = one.efficiency_ratio
        yield {
            "metric": one.metric, "condition_id": one.condition_id,
            "configuration": one.configuration, "efficiency_ratio": round(value, 3),
            "low": round(low, 3), "high": round(high, 3),
            "power [kW]": round(one.power_w / 1000, 2), "thrust [N]": _figures(one.thrust_n),
            "drag_area [m^2]": round(one.drag_area_m2, 3),
            "needed_efficiency [%]": round(100 * one.needed_efficiency, 0),
            "bound [%]": round(100 * one.bound, 0), "words": one.words,
        }  # fmt: skip


def _agreement(given: _Given) -> Iterable[Row]:
    found = sense.make_sense(given.campaign, given.weighed)
    return ({"words": words} for words in sense.agreement(found))


def _decisions(given: _Given) -> Iterable[Row]:
    loaded = {_name(one): one for one in given.effects}  # equal load, where there is such a row
    for one in decide.decisions(given.campaign, list(loaded.values())):
        saved = [NAN] * 3 if one.fuel_m3s is None else [value * 3.6e6 for value in one.fuel_m3s]
        hours = (one.break_even.hours, one.break_even.low, one.break_even.high)
        yield {
            "configuration": one.configuration, "case": one.case,
            "price": NAN if one.price is None else one.price.amount,
            "currency": "" if one.price is None else one.price.currency,
            "mass [kg]": NAN if one.mass_kg is None else round(one.mass_kg, 1),
            "condition_id": one.condition_id,
            **{name: round(value, 2) for name, value in
               zip(("fuel_saved [L/h]", "low", "high"), saved, strict=True)},
            **{name: NAN if value is None else _figures(value) for name, value in
               zip(("hours_to_break_even", "hours_low", "hours_high"), hours, strict=True)},
            "words": one.break_even.words, "missing": "; ".join(one.notes),
        }  # fmt: skip
