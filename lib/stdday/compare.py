"""Differences between configurations, and what they do and do not show.

The flight is the unit of repetition.  The rule is fixed: scatter pooled over the configurations of
one airplane, Welch-Satterthwaite between airplanes and between fitted curves; shared errors paired
draw by draw, so that what is common cancels.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from stdday import budget
from stdday.budget import Sensitivity
from stdday.outcome import ASSUMED, Outcome
from stdday.statistics import Estimate, holm, welch_dof

if TYPE_CHECKING:
    from collections.abc import Sequence

    from stdday.campaign import Campaign

__all__ = [
    "EQUAL_LOAD", "EQUAL_WEIGHT", "Effect", "compare", "compare_pairs", "judged", "verdict",
]  # fmt: skip

#: `load_basis` of a difference: at one weight, and with a configuration's own mass on top of it.
EQUAL_WEIGHT, EQUAL_LOAD = "equal weight", "equal load"

#: Metrics stated as flown: a difference between pilots, not configurations.
AS_FLOWN = frozenset({"liftoff_airspeed", "static_engine_speed"})
#: Share of an interval's half-width from correction parameters, beyond which nothing is claimed.
CONFOUNDED_SHARE = 0.5
#: Significance of a claim [-].
SIGNIFICANCE = 0.05


@dataclass(frozen=True)
class Effect:
    """A difference of two configurations, b minus a, in the terms of ``effects.csv`` (SI).

    Parameters
    ----------
    a, b : Outcome
        Reference configuration and the other one.
    difference : Estimate or None
        Known difference; None where one of the two has no value.
    matters : float or None
        Difference that would matter, SI.
    primary : bool
        Whether it belongs to the family of claims.
    parameter_share : float
        Share of the half-width that correction parameters make [-].
    p_adjusted : float
        Holm-adjusted p value [-]; NaN for rows outside of the family.
    verdict, reason : str
        Verdict, and the reason in words.
    load_basis : str
        `EQUAL_WEIGHT` or `EQUAL_LOAD`.
    sensitivity : dict of (name, key) to float
        How far one sigma of each error moves the difference, SI.
    pooled : bool
        Whether its scatter is pooled over both configurations; else Welch-Satterthwaite.
    """

    a: Outcome
    b: Outcome
    difference: Estimate | None
    matters: float | None
    primary: bool
    parameter_share: float = 0.0
    p_adjusted: float = float("nan")
    verdict: str = ""
    reason: str = ""
    load_basis: str = EQUAL_WEIGHT
    sensitivity: Sensitivity = field(default_factory=dict, repr=False)
    pooled: bool = False


def verdict(
    low: float,
    high: float,
    low_90: float,
    high_90: float,
    matters: float | None,
    p_adjusted: float,
    primary: bool,
) -> str:
    """Decide what a difference shows, in the fixed order.

    Parameters
    ----------
    low, high : float
        95 % interval of the difference, any one unit.
    low_90, high_90 : float
        90 % interval, same unit.
    matters : float or None
        Difference that would matter, same unit; None where none was named.
    p_adjusted : float
        Holm-adjusted p value of a primary metric [-]; ignored for others.
    primary : bool
        Whether the row is of a primary metric.

    Returns
    -------
    str
        ``no difference larger than what matters``, ``shown`` or ``not resolved``.

    Examples
    --------
    >>> verdict(-1, 1, -0.8, 0.8, 2, 0.9, True)
    'no difference larger than what matters'
    >>> verdict(3, 9, 4, 8, 2, 0.01, True)
    'shown'
    >>> verdict(-1, 9, 1, 8, 2, 0.08, True)
    'not resolved'
    """
    if matters is not None and -matters < low_90 and high_90 < matters:
        return "no difference larger than what matters"
    if (low > 0 or high < 0) and (not primary or p_adjusted <= SIGNIFICANCE):
        return "shown"
    return "not resolved"


def compare(
    campaign: Campaign, outcomes: Sequence[Outcome], apart: dict[tuple[str, str], str]
) -> list[Effect]:
    """Compare every configuration with the reference configuration.

    Parameters
    ----------
    campaign : Campaign
        Question, reference configuration, what matters.
    outcomes : sequence of Outcome
        Values of all configurations.
    apart : dict
        By (metric, configuration): conditions, in words, in which the configuration was flown
        apart from the reference configuration; from `stdday.balance.apart`.

    Returns
    -------
    list of Effect
        One for each metric, condition and other configuration; empty with one configuration. At
        equal load only for those whose mass differs from the reference configuration's.

    Notes
    -----
    The family of claims is all rows of primary metrics of one basis of load: what the change does
    and what the owner gets are two questions, each with a family of its own.
    """
    found = {(o.metric, o.condition_id, o.configuration): o for o in outcomes}
    effects = []
    for (metric, condition_id, name), b in found.items():
        a = found.get((metric, condition_id, campaign.compare_reference))
        if name == campaign.compare_reference or metric in AS_FLOWN or a is None:
            continue
        if campaign.at_equal_load and not campaign.extra_mass_kg(name):
            continue
        effects.append(_difference(campaign, a, b))
    return judged(campaign, effects, apart)


def compare_pairs(campaign: Campaign, outcomes: Sequence[Outcome]) -> list[Effect]:
    """Compare every two configurations of which neither is the reference one; exploratory.

    Parameters
    ----------
    campaign : Campaign
        Question, reference configuration, what matters.
    outcomes : sequence of Outcome
        Values of all configurations at equal weight.

    Returns
    -------
    list of Effect
        The later configuration of the campaign minus the earlier one; empty with fewer than three.
        None is primary. `p_adjusted` is by Holm's rule over the pairs of each metric, since nobody
        asked for one of them beforehand, and ``shown`` needs it.
    """
    found = {(o.metric, o.condition_id, o.configuration): o for o in outcomes}
    names = [name for name in campaign.configurations if name != campaign.compare_reference]
    effects = []
    for (metric, condition_id, name), b in found.items():
        if name not in names or metric in AS_FLOWN:
            continue
        for other in names[: names.index(name)]:
            a = found.get((metric, condition_id, other))
            if a is not None:
                effects.append(_difference(campaign, a, b))
    told: list[Effect] = []
    for metric in dict.fromkeys(effect.b.metric for effect in effects):
        family = [replace(one, primary=True) for one in effects if one.b.metric == metric]
        told += [replace(one, primary=False, reason=_exploratory(one.reason))
                 for one in judged(campaign, family, {})]  # fmt: skip
    return told


def _exploratory(reason: str) -> str:
    return "; ".join(filter(None, [reason, "exploratory: no pair that the question names"]))


def judged(
    campaign: Campaign, effects: Sequence[Effect], apart: dict[tuple[str, str], str]
) -> list[Effect]:
    """Adjust the p values of a family of differences, and give each its verdict.

    Parameters
    ----------
    campaign : Campaign
        Flights and their periods.
    effects : sequence of Effect
        Differences of one basis of load.
    apart : dict
        As for `compare`.

    Returns
    -------
    list of Effect
        In the order given.
    """
    told = [_judge(campaign, effect, apart) for effect in _adjusted(list(effects))]
    return [
        replace(one, reason="; ".join(filter(None, [one.reason, _too_heavy(campaign, one)])))
        for one in told
    ]


def _difference(campaign: Campaign, a: Outcome, b: Outcome) -> Effect:
    matters, primary = campaign.matters.get(b.metric), b.metric in campaign.primary
    basis = EQUAL_LOAD if campaign.at_equal_load else EQUAL_WEIGHT
    if a.estimate is None or b.estimate is None:
        return Effect(a, b, None, matters, primary, load_basis=basis)
    error = float(np.hypot(a.estimate.standard_error, b.estimate.standard_error))
    one = (
        campaign.configurations[a.configuration].airplane
        == campaign.configurations[b.configuration].airplane
    )
    pooled = one and bool(a.flight_values) and ASSUMED not in (a.basis, b.basis)
    dof = (
        a.estimate.dof
        if pooled
        else welch_dof(
            [a.estimate.standard_error**2, b.estimate.standard_error**2],
            [a.estimate.dof, b.estimate.dof],
        )
    )
    difference = b.estimate.minus(a.estimate, error, dof)
    low, high = difference.interval()
    spread = float(np.std(b.parameter - a.parameter)) * 1.96
    half = (high - low) / 2
    return Effect(
        a, b, difference, matters, primary, spread / half if half > 0 else 0.0, load_basis=basis,
        sensitivity=budget.difference(b.sensitivity, a.sensitivity), pooled=pooled,
    )  # fmt: skip


def _adjusted(effects: list[Effect]) -> list[Effect]:
    """Adjust the p values of the family of primary metrics for their number."""
    places = [i for i, e in enumerate(effects) if e.primary and e.difference is not None]
    p_values = [effects[i].difference.p_zero() for i in places]  # type: ignore[union-attr]
    adjusted = dict(zip(places, holm(p_values), strict=True))
    return [
        replace(effect, p_adjusted=float(adjusted.get(i, np.nan)))
        for i, effect in enumerate(effects)
    ]


def _judge(campaign: Campaign, effect: Effect, apart: dict[tuple[str, str], str]) -> Effect:
    """Give the verdict and its reason."""
    a, b, difference = effect.a, effect.b, effect.difference
    if difference is None:
        lines = [
            f"{outcome.configuration}: {outcome.reason}"
            for outcome in (a, b)
            if outcome.estimate is None
        ]
        return replace(effect, verdict="not resolved", reason="; ".join(lines))
    single = [o.configuration for o in (a, b) if o.basis == ASSUMED]
    if single:
        return replace(
            effect,
            verdict="not resolved",
            reason=f"one flight: {' and '.join(single)} flew once; "
            "its scatter is assumed, so nothing is claimed",
        )
    away = apart.get((b.metric, b.configuration), "")
    if effect.parameter_share > CONFOUNDED_SHARE or away:
        why = away or (
            f"{100 * effect.parameter_share:.0f} % of the interval comes from correction parameters"
        )
        return replace(effect, verdict="not resolved", reason=f"confounded: {why}")
    low, high = difference.interval()
    low_90, high_90 = difference.interval(0.90)
    found = verdict(low, high, low_90, high_90, effect.matters, effect.p_adjusted, effect.primary)
    return replace(
        effect, verdict=found, reason=_reason(effect, found, low, high, _periods(campaign, effect))
    )


def _periods(campaign: Campaign, effect: Effect) -> str:
    """Words where each configuration was flown in one period only."""
    blocks = {flight.id: flight.block for flight in campaign.flights}
    each = [{blocks[flight] for flight in outcome.flights} for outcome in (effect.a, effect.b)]
    if all(len(found) == 1 for found in each):
        return (
            "one change-over: a change between the two periods is not told from the configuration"
        )
    return ""


def _too_heavy(campaign: Campaign, effect: Effect) -> str:
    """Words where equal load would mean more than the maximum weight."""
    if effect.load_basis != EQUAL_LOAD or effect.difference is None:
        return ""
    name = effect.b.configuration
    loaded = replace(campaign, at_equal_load=True).reference_of(name).weight_kg
    most = campaign.airplane_of(name).maximum_weight_kg
    if loaded <= most:
        return ""
    return (
        f"at equal load {name} weighs {loaded:.0f} kg, above the maximum of {most:.0f} kg: flown "
        "within it, the difference of mass comes off the load"
    )


def _reason(effect: Effect, found: str, low: float, high: float, periods: str) -> str:
    """Words beside the verdict."""
    parts = []
    matters = effect.matters
    excluded = low > 0 or high < 0
    if found == "shown" and matters is not None:
        surely = low >= matters or high <= -matters
        parts.append(
            "surely as large as what matters" if surely else "not surely as large as what matters"
        )
    if found.startswith("no difference") and excluded:
        parts.append("a small difference is there: zero is excluded")
    if found == "not resolved":
        if excluded:
            parts.append("excludes zero alone, but not with the other claims counted")
        else:
            parts.append("scatter: the interval holds zero")
    if periods:
        parts.append(periods)
    if not effect.primary:
        parts.append("exploratory: not one of the primary metrics")
    return "; ".join(parts)
