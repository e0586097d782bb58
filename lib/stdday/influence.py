"""How much a difference rests on one rule, one flight or one pilot.

The rule of `stdday.compare` stays fixed; what is here is reported beside it and decides nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy import special

from stdday.compare import Effect, judged
from stdday.outcome import ASSUMED, Outcome
from stdday.statistics import Estimate, pooled_scatter, welch_dof

if TYPE_CHECKING:
    from stdday.campaign import Campaign

__all__ = [
    "Outlying", "PilotCheck", "Without", "other_rule", "outlying_flights", "pilot_check",
    "rule_of", "without_each_flight",
]  # fmt: skip

FloatArray = NDArray[np.float64]

#: Rules of the scatter, in words.
POOLED, WELCH = "pooled scatter", "Welch-Satterthwaite"
#: A flight is shown as outlying where chance alone gives one such flight so seldom [-].
SIGNIFICANCE = 0.05
#: More flights than this are not left out one by one: no single one then carries a result [-].
MOST_FLIGHTS = 40


def other_rule(
    campaign: Campaign, effects: Sequence[Effect], apart: dict[tuple[str, str], str]
) -> list[tuple[Effect, str]]:
    """Judge differences of flight means under the rule that was not chosen.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    effects : sequence of Effect
        Judged differences of one basis of load.
    apart : dict
        As for `stdday.compare.compare`.

    Returns
    -------
    list of (Effect, str)
        Each difference as the other rule has it, and why it has none, in words; the family of
        claims then holds those, and for the others the difference as it stands.
    """
    found = [_other(effect) for effect in effects]
    changed = [replace(effect, difference=other or effect.difference, pooled=not effect.pooled)
               for effect, (other, _) in zip(effects, found, strict=True)]  # fmt: skip
    again = judged(campaign, changed, apart)
    return [(one, why) for one, (_, why) in zip(again, found, strict=True)]


def rule_of(effect: Effect) -> str:
    """Name the rule that gave a difference its scatter.

    Parameters
    ----------
    effect : Effect
        The difference.

    Returns
    -------
    str

    Examples
    --------
    >>> curve = Outcome("fuel_flow", "cruise_65", "", "A", None)
    >>> rule_of(Effect(curve, curve, None, None, False))
    'fitted curves, CR2 and Welch-Satterthwaite'
    """
    if not (effect.a.flight_values and effect.b.flight_values):
        return "fitted curves, CR2 and Welch-Satterthwaite"
    return POOLED if effect.pooled else WELCH


def _other(effect: Effect) -> tuple[Estimate | None, str]:
    """Difference under the other rule, or why there is none."""
    a, b, known = effect.a, effect.b, effect.difference
    if known is None:
        return None, "no difference"
    groups = [list(one.flight_values.values()) for one in (a, b)]
    if not all(groups):
        return None, "from fitted curves, whose scatter is not pooled"
    if ASSUMED in (a.basis, b.basis) or min(map(len, groups)) < 2:
        return None, "a configuration flew once: only pooled scatter gives it one"
    sizes = [len(group) for group in groups]
    if effect.pooled:
        parts = [float(np.var(group, ddof=1)) / len(group) for group in groups]
        if not sum(parts) > 0:
            return None, "the flights do not scatter"
        dof = welch_dof(parts, [size - 1.0 for size in sizes])
        return replace_error(known, float(np.sqrt(sum(parts))), dof), ""
    sd, dof = pooled_scatter(groups)
    return replace_error(known, sd * np.sqrt(sum(1 / size for size in sizes)), dof), ""


def replace_error(
    known: Estimate, error: float, dof: float, value: float | None = None
) -> Estimate:
    """Give a number another error from scatter; its shared errors stay.

    Parameters
    ----------
    known : Estimate
        The number.
    error : float
        Standard error from scatter, in its unit.
    dof : float
        Degrees of freedom [-].
    value : float, optional
        Another value, in its unit.

    Returns
    -------
    Estimate

    Examples
    --------
    >>> replace_error(Estimate(3.0, 1.0, 4.0, np.zeros(2)), 2.0, 3.0).standard_error
    2.0
    """
    return Estimate(known.value if value is None else value, float(error), dof, known.deviations)


@dataclass(frozen=True)
class Without:
    """A difference without one flight.

    Parameters
    ----------
    flight : str
        Flight left out.
    effect : Effect
        The difference without it, judged anew.
    """

    flight: str
    effect: Effect


def without_each_flight(
    campaign: Campaign,
    effects: Sequence[Effect],
    outcomes: Sequence[Outcome],
    apart: dict[tuple[str, str], str],
) -> list[Without]:
    """Leave out one flight at a time.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    effects : sequence of Effect
        Judged differences of one basis of load.
    outcomes : sequence of Outcome
        Values of all configurations on that basis.
    apart : dict
        As for `stdday.compare.compare`.

    Returns
    -------
    list of Without
        For every flight, the differences of flight means that it has part in, of primary metrics
        and those for which is said what matters; empty with more than `MOST_FLIGHTS` flights.

    Notes
    -----
    Flight means are nominal and their scatter is found anew; shared errors stay as they are.
    Differences of fitted curves stay in the family of claims as they are.
    """
    names = list(dict.fromkeys(name for one in outcomes for name in one.flight_values))
    if len(names) > MOST_FLIGHTS:
        return []
    found = []
    for name in names:
        less = [_without(campaign, effect, outcomes, name) for effect in effects]
        again = judged(campaign, [one or effect for one, effect in zip(less, effects, strict=True)],
                       apart)  # fmt: skip
        found += [Without(name, effect) for one, effect in zip(less, again, strict=True) if one]
    return found


def _without(
    campaign: Campaign, effect: Effect, outcomes: Sequence[Outcome], flight: str
) -> Effect | None:
    """A difference without a flight; None where that has no part in it."""
    known = effect.difference
    if known is None or ASSUMED in (effect.a.basis, effect.b.basis):
        return None
    if not effect.primary and effect.matters is None:
        return None
    airplane = campaign.airplane_of(effect.b.configuration).id
    kin = [
        one
        for one in outcomes
        if (one.metric, one.condition_id) == (effect.b.metric, effect.b.condition_id)
        and (one.configuration in (effect.a.configuration, effect.b.configuration)
             or (effect.pooled and campaign.airplane_of(one.configuration).id == airplane))
    ]  # fmt: skip
    if not any(flight in one.flight_values for one in kin):
        return None
    left = {one.configuration: _left(one.flight_values, flight) for one in kin}
    a, b = (_fewer(one, left[one.configuration]) for one in (effect.a, effect.b))
    groups = [left[one.configuration] for one in (a, b)]
    if not all(groups):
        return replace(effect, a=a, b=b, difference=None)
    one, other = (list(group.values()) for group in groups)
    value = float(np.mean(other) - np.mean(one))
    scattered = [list(group.values()) for group in left.values()] if effect.pooled else [one, other]
    error, dof = _error(scattered, [len(one), len(other)], effect.pooled)
    if not (dof > 0 and error > 0):
        return replace(effect, a=replace(a, basis=ASSUMED), b=b)
    return replace(effect, a=a, b=b, difference=replace_error(known, error, dof, value))


def _left(values: Mapping[str, float], flight: str) -> dict[str, float]:
    return {name: value for name, value in values.items() if name != flight}


def _fewer(outcome: Outcome, left: dict[str, float]) -> Outcome:
    """A value without a flight, as far as a verdict reads it."""
    basis = outcome.basis if len(left) > 1 else ASSUMED
    estimate = outcome.estimate if left else None
    return replace(outcome, flight_values=left, flights=tuple(left), basis=basis,
                   estimate=estimate, reason="" if left else "no flight left")  # fmt: skip


def _error(groups: list[list[float]], sizes: list[int], pooled: bool) -> tuple[float, float]:
    """Standard error of a difference of means and its degrees of freedom."""
    if pooled:
        sd, dof = pooled_scatter(groups)
        return float(sd * np.sqrt(sum(1 / size for size in sizes))), dof
    if min(sizes) < 2:
        return float("nan"), 0.0
    parts = [float(np.var(group, ddof=1)) / len(group) for group in groups]
    return float(np.sqrt(sum(parts))), welch_dof(parts, [size - 1.0 for size in sizes])


@dataclass(frozen=True)
class Outlying:
    """How far a flight's mean lies from those of its configuration.

    Parameters
    ----------
    metric, condition_id, configuration, flight : str
        Which flight mean.
    value : float
        It, SI.
    residual : float
        Externally studentised residual [-].
    limit : float
        Size of it that chance alone exceeds once in twenty campaigns, among so many flights [-].
    """

    metric: str
    condition_id: str
    configuration: str
    flight: str
    value: float
    residual: float
    limit: float

    @property
    def outlying(self) -> bool:
        """Whether it is farther away than chance explains."""
        return bool(abs(self.residual) > self.limit)


def outlying_flights(campaign: Campaign, outcomes: Sequence[Outcome]) -> list[Outlying]:
    """Studentise the residuals of flight means, airplane by airplane; nothing is dropped.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    outcomes : sequence of Outcome
        Values of all configurations.

    Returns
    -------
    list of Outlying
        One for each flight mean whose configuration has two flights or more; empty for metrics with
        fewer than two degrees of freedom.

    Notes
    -----
    Each residual is held against the scatter of all other flights of the airplane: R. D. Cook and
    S. Weisberg, Residuals and Influence in Regression (1982), section 2.2.1, with Bonferroni's
    correction for the number of flights.
    """
    groups: dict[tuple[str, str, str], list[Outcome]] = {}
    for one in outcomes:
        if one.flight_values:
            airplane = campaign.airplane_of(one.configuration).id
            groups.setdefault((one.metric, one.condition_id, airplane), []).append(one)
    return [found for group in groups.values() for found in _studentised(group)]


def _studentised(group: Sequence[Outcome]) -> list[Outlying]:
    """Residuals of one metric of one airplane."""
    rows = [(one, flight, value, len(one.flight_values),
             value - float(np.mean(list(one.flight_values.values()))))
            for one in group for flight, value in one.flight_values.items()]  # fmt: skip
    total = sum(away**2 for *_, away in rows)
    dof = len(rows) - len(group)
    count = sum(size > 1 for *_, size, _ in rows)
    if dof < 2 or not total > 0:
        return []
    limit = float(special.stdtrit(dof - 1.0, 1 - SIGNIFICANCE / (2 * count)))
    found = []
    for one, flight, value, size, away in rows:
        if size < 2:
            continue
        free = 1 - 1 / size
        others = (total - away**2 / free) / (dof - 1)
        alone = others <= 1e-12 * total
        away_by = np.sign(away) * np.inf if alone else away / np.sqrt(others * free)
        found.append(Outlying(one.metric, one.condition_id, one.configuration, flight, value,
                              float(away_by), limit))  # fmt: skip
    return found


@dataclass(frozen=True)
class PilotCheck:
    """A difference with an offset for each pilot.

    Parameters
    ----------
    effect : Effect
        The difference as it stands.
    difference : Estimate or None
        With offsets of pilots, SI.
    reason : str
        Why there is none, in words.
    """

    effect: Effect
    difference: Estimate | None
    reason: str = ""


def pilot_check(campaign: Campaign, effects: Sequence[Effect]) -> list[PilotCheck]:
    """Fit an offset for each pilot beside the configurations, as a check of the main result.

    Parameters
    ----------
    campaign : Campaign
        Flights with their pilots.
    effects : sequence of Effect
        Differences.

    Returns
    -------
    list of PilotCheck
        One for each difference of flight means; empty where no flight names a pilot.

    Notes
    -----
    Least squares of the flight means of both configurations; the difference is told only where
    pilots flew both, so that it can be told apart from them.
    """
    pilots = {flight.id: flight.pilot or "" for flight in campaign.flights}
    if not any(pilots.values()):
        return []
    told = [one for one in effects if one.difference is not None]
    return [
        _piloted(one, pilots) for one in told if one.a.flight_values and one.b.flight_values
    ]


def _piloted(effect: Effect, pilots: Mapping[str, str]) -> PilotCheck:
    rows = [(value, float(place), pilots[flight])
            for place, one in enumerate((effect.a, effect.b))
            for flight, value in one.flight_values.items()]  # fmt: skip
    names = sorted({pilot for *_, pilot in rows})
    if "" in names:
        return PilotCheck(effect, None, "a flight names no pilot")
    if len(names) < 2:
        return PilotCheck(effect, None, "one pilot flew all flights")
    values = np.array([value for value, *_ in rows])
    offsets = np.array([[float(pilot == name) for name in names] for *_, pilot in rows])
    design = np.column_stack([[place for _, place, _ in rows], offsets])
    if np.linalg.matrix_rank(design) < design.shape[1]:
        return PilotCheck(effect, None, "no pilot flew both configurations")
    dof = len(values) - design.shape[1]
    if dof < 1:
        return PilotCheck(effect, None, "too few flights to tell pilots apart")
    solved = np.linalg.lstsq(design, values, rcond=None)[0]
    variance = float(np.sum((values - design @ solved) ** 2)) / dof
    error = float(np.sqrt(variance * np.linalg.inv(design.T @ design)[0, 0]))
    if not error > 0:
        return PilotCheck(effect, None, "the flights do not scatter")
    assert effect.difference is not None
    known = effect.difference
    return PilotCheck(effect, replace_error(known, error, float(dof), float(solved[0])))
