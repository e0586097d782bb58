"""Values: from corrected points to one estimate for each metric, condition and configuration."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday.airplane_answers import Answer, level_answers
from stdday.budget import Lines, Sensitivity
from stdday.calibrate_fit import fit_calibrations
from stdday.climb_answers import climb_answers
from stdday.climb_model import fit_climbs
from stdday.conditions import condition_words
from stdday.errors import InputError, StddayError
from stdday.ledger import LEDGER_COLUMNS, LOST_DRAWS, Reduced, in_order, joined
from stdday.metrics import METRICS
from stdday.reduce_climb import reduce_climbs
from stdday.reduce_landing import landing_rows, reduce_landings
from stdday.reduce_level import LevelFit, cruise_at, reduce_levels
from stdday.reduce_takeoff import reduce_takeoffs
from stdday.state import power_words
from stdday.statistics import ClusterFit, Estimate, pooled_scatter
from stdday.throttle import propeller_slopes
from stdday.workers import Workers

if TYPE_CHECKING:
    from stdday.calibrate import Calibration
    from stdday.campaign import Campaign
    from stdday.uncertainty import Draws

__all__ = ["ASSUMED", "Analysis", "Outcome", "analyse", "from_answer"]

FloatArray = NDArray[np.float64]

#: `basis` of a value whose interval rests on the scatter between its flights.
SCATTER = "scatter between flights"
#: `basis` of a value from a single flight.
ASSUMED = "assumed day-to-day scatter"

#: Reason of a value without points; what is known of it is added.
NO_POINT = "no usable test point"

#: Reason of fuel flow at a power that was itself taken from fuel flow.
CIRCULAR = "brake power is taken from fuel flow, so that fuel flow at a power says nothing new"

_TAKEOFF_METRICS = (
    "takeoff_ground_roll",
    "takeoff_time_to_liftoff",
    "takeoff_distance_50ft",
    "liftoff_airspeed",
    "static_engine_speed",
)
_CLIMB_METRICS = ("climb_rate", "climb_gradient")
_LANDING_METRICS = ("landing_ground_roll", "landing_distance_50ft")
_CRUISE_METRICS = ("cruise_true_airspeed", "fuel_flow", "specific_range")


@dataclass(frozen=True)
class Outcome:
    """A metric of one configuration under one condition.

    Parameters
    ----------
    metric, condition_id, condition, configuration : str
        What it is.
    estimate : Estimate or None
        The number, SI; None where it was refused or is not reachable.
    parameter : ndarray, shape (draws,)
        Deviations under draws of the correction parameters alone, SI.
    flight_values : dict of str to float
        Value of each flight, SI, where flights have one of their own.
    points : tuple of str
        Points it rests on.
    flights : tuple of str
        Flights it rests on.
    basis, status, reason, method : str
        As in ``values.csv``.
    sensitivity : dict of (name, key) to float
        How far one sigma of each error moves it, SI; empty where not known.
    """

    metric: str
    condition_id: str
    condition: str
    configuration: str
    estimate: Estimate | None
    parameter: FloatArray = field(default_factory=lambda: np.empty(0), repr=False)
    flight_values: dict[str, float] = field(default_factory=dict, repr=False)
    points: tuple[str, ...] = ()
    flights: tuple[str, ...] = ()
    basis: str = ""
    status: str = "ok"
    reason: str = ""
    method: str = ""
    sensitivity: Sensitivity = field(default_factory=dict, repr=False)


@dataclass(frozen=True)
class Analysis:
    """Everything between the test points and the comparison.

    Parameters
    ----------
    reduced : tuple of Reduced
        Corrected points with their ledger, the draws of their sums let go.
    fits : dict of str to LevelFit
        Curve of power against airspeed of each configuration, its large `fit` let go.
    outcomes : tuple of Outcome
        Values.
    calibrations : dict of (installation, flaps) to Calibration
        Airspeed calibrations from flights, whether or not the campaign asks for them.
    loaded : tuple of Outcome
        Values at equal load; empty where no configuration has a mass of its own.
    kinds : dict of str to str
        Kind of each error that was drawn, by the name of its draw.
    """

    reduced: tuple[Reduced, ...]
    fits: dict[str, LevelFit]
    outcomes: tuple[Outcome, ...]
    calibrations: dict[tuple[str, str], Calibration] = field(default_factory=dict)
    loaded: tuple[Outcome, ...] = ()
    kinds: dict[str, str] = field(default_factory=dict)


def analyse(
    campaign: Campaign,
    segments: pd.DataFrame,
    draws: Draws,
    absent: Mapping[tuple[str, str], str] | None = None,
    workers: Workers | None = None,
) -> Analysis:
    """Correct all used points and state every metric of every configuration.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    segments : DataFrame
        Segments of the used points, with their kind.
    draws : Draws
        Draws of the errors that scatter cannot show.
    absent : mapping of (configuration, kind) to str, optional
        Why a configuration has no usable point of a kind, in words.
    workers : Workers, optional
        Processes that share the work, where they already run.

    Returns
    -------
    Analysis
    """
    campaign = replace(campaign, calibrations=fit_calibrations(campaign, segments))
    every = list(_parts(campaign, segments, draws))
    order = sorted(range(len(every)), key=lambda place: -len(every[place].rows))
    most_first = [every[place] for place in order]
    done = {
        order[place]: result for place, result in (workers or Workers()).each(_part, most_first)
    }
    found = [done[place] for place in range(len(every))]
    points = list(segments.loc[segments["kind"] == "level run", "point"])
    level = [part.condition_id == "cruise" for part in every]
    reduced = [item for one, is_level in zip(found, level, strict=True) if not is_level
               for item in one.reduced]
    levels = [one.reduced for one, is_level in zip(found, level, strict=True)
              if is_level and one.reduced]
    reduced += [in_order(joined(same), points) for same in zip(*levels, strict=True)]
    outcomes = [_told(outcome, absent or {}) for one in found for outcome in one.outcomes]
    fits = {name: fit for one in found for name, fit in one.fits.items()}
    loaded = [_told(outcome, absent or {}) for one in found for outcome in one.loaded]
    kinds = {name: kind for one in found for name, kind in one.kinds.items()}
    return Analysis(
        tuple(reduced), fits, tuple(outcomes), campaign.calibrations, tuple(loaded), kinds
    )


@dataclass(frozen=True)
class _Part:
    """Part of an analysis that stands by itself.

    That is all take-offs, all climbs through one altitude, or the level runs of one configuration.

    Parameters
    ----------
    campaign : Campaign
        The campaign; for level runs with their configuration alone.
    condition_id : str
        ``takeoff``, ``climb_1`` …, ``cruise`` or ``landing``.
    rows : DataFrame
        Segments under that condition.
    slopes : dict of str to float
        From `stdday.throttle.propeller_slopes`.
    draws : Draws
        Draws of the errors.
    """

    campaign: Campaign
    condition_id: str
    rows: pd.DataFrame
    slopes: dict[str, float]
    draws: Draws


def _parts(campaign: Campaign, segments: pd.DataFrame, draws: Draws) -> Iterator[_Part]:
    """Parts of an analysis, in the order of the results."""
    slopes = propeller_slopes(campaign, segments)
    rows = segments[segments["kind"] == "take-off"]
    yield _Part(campaign, "takeoff", rows, slopes, draws)
    for place in range(max(_climbs(campaign, name) for name in campaign.configurations)):
        condition_id = f"climb_{place + 1}"
        rows = segments[segments["condition_id"] == condition_id]
        yield _Part(campaign, condition_id, rows, slopes, draws)
    runs = segments[segments["kind"] == "level run"]
    flown = {flight.id: flight.configuration for flight in campaign.flights}
    configurations = runs["flight"].map(flown)
    for airplane in dict.fromkeys(one.airplane for one in campaign.configurations.values()):
        own = {n: one for n, one in campaign.configurations.items() if one.airplane == airplane}
        alone = replace(campaign, configurations=own)
        yield _Part(alone, "cruise", runs[configurations.isin(list(own))], slopes, draws)
    climbs = segments[segments["kind"] == "climb"]
    yield _Part(campaign, "climbs", climbs, slopes, draws)
    yield _Part(campaign, "landing", landing_rows(segments), slopes, draws)


def _part(part: _Part) -> Analysis:
    """Correct the points of one part and state its metrics, at equal load too where that differs.

    Its register of draws is its own, so that budgets do not depend on what other parts drew.
    """
    part = replace(part, draws=part.draws.only(part.draws.kinds))
    heavy = any(part.campaign.extra_mass_kg(name) for name in part.campaign.configurations)
    part_loaded = replace(part, campaign=replace(part.campaign, at_equal_load=True))
    if part.condition_id == "cruise":
        result, loaded = _cruise(part, part_loaded if heavy else None)
    else:
        result = _from_points(part)
        loaded = _from_points(part_loaded).outcomes if heavy and len(part.rows) else ()
    lines = Lines(part.draws)
    outcomes, loaded = (tuple(_traced(one, lines) for one in some)
                        for some in (result.outcomes, loaded))  # fmt: skip
    kinds = {name: kind for (name, _), kind in part.draws.asked.items()}
    return replace(result, outcomes=outcomes, loaded=loaded, kinds=kinds)


def _traced(outcome: Outcome, lines: Lines) -> Outcome:
    """Note how far each error moves a value."""
    if outcome.estimate is None:
        return outcome
    return replace(outcome, sensitivity=lines.sensitivity(outcome.estimate.deviations))


def _cruise(part: _Part, loaded: _Part | None) -> tuple[Analysis, tuple[Outcome, ...]]:
    """Level runs of an airplane, reduced once; at equal load its curves are read heavier."""
    reduced, fits = _levels(part, part.draws, {})
    _, again = _levels(part, part.draws.only({"parameter"}), fits)
    outcomes = _from_fits(part.campaign, fits, again, part.draws)
    more = _from_fits(loaded.campaign, fits, again, part.draws) if loaded and fits else []
    answers = level_answers(part.campaign, fits, again)
    outcomes += [from_answer(part.campaign, one, part.draws) for one in answers]
    curves = {name: replace(fit, fit=None) for name, fit in fits.items()}
    return Analysis(_nominal(reduced), curves, tuple(outcomes)), tuple(more)


def _from_points(part: _Part) -> Analysis:
    """Take-offs, climbs or landings at the reference weights of the part's campaign."""
    alone = part.draws.only({"parameter"})
    if part.condition_id == "climbs":
        answers = _climb_answers(part, alone)
        outcomes = [from_answer(part.campaign, one, part.draws) for one in answers]
        return Analysis((), {}, tuple(outcomes))
    full = _points(part, part.draws)
    parameter = {item.metric: item for item in _points(part, alone)}
    outcomes = [
        outcome
        for item in full
        for outcome in _from_flights(part.campaign, item, parameter[item.metric], part.draws)
    ]
    order = list(part.rows["point"])
    return Analysis(_nominal(in_order(item, order) for item in full), {}, tuple(outcomes))


def _climb_answers(part: _Part, alone: Draws) -> list[Answer]:
    """Numbers that follow from all climbs of a configuration together."""
    given = (part.campaign, part.rows)
    fits, reasons = fit_climbs(*given, part.draws, part.slopes, {})
    again, _ = fit_climbs(*given, alone, part.slopes, fits)
    return climb_answers(part.campaign, fits, again, reasons, part.draws)


def from_answer(campaign: Campaign, found: Answer, draws: Draws) -> Outcome:
    """Give a number of a fit its interval.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    found : Answer
        A number under all draws, or why there is none.
    draws : Draws
        The draws it was made under.

    Returns
    -------
    Outcome
    """
    name, condition_id = found.configuration, found.condition_id
    words = condition_words(campaign, name, found.metric, condition_id)
    method = f"{found.method}; {power_words(campaign, name)}"
    blank = Outcome(found.metric, condition_id, words, name, None, points=found.points,
                    flights=found.flights, status=found.status, reason=found.reason,
                    method=method)  # fmt: skip
    if found.status != "ok":
        return blank
    if found.exact:
        still = np.zeros(len(found.values) - 1)
        return replace(blank, estimate=Estimate(float(found.values[0]), 0.0, np.inf, still),
                       parameter=still, basis="by definition")  # fmt: skip
    stated = _from_fit(
        campaign, blank, found.fit, found.values, found.gradient, found.parameter, draws
    )
    why = found.leaves(stated.estimate.interval()) if stated.estimate else ""
    return replace(blank, status="refused", reason=why) if why else stated


def _nominal(reduced: Iterable[Reduced]) -> tuple[Reduced, ...]:
    """Let the draws go."""
    return tuple(replace(item, sums=()) for item in reduced)


def _told(outcome: Outcome, absent: Mapping[tuple[str, str], str]) -> Outcome:
    """Say why there was no usable point, where that is known."""
    kinds = {"takeoff": "take-off", "climb": "climb", "cruise": "level run",
             "landing": "landing"}
    kind = kinds.get(outcome.condition_id.split("_")[0], "climb")
    known = absent.get((outcome.configuration, kind))
    if outcome.reason != NO_POINT or known is None:
        return outcome
    return replace(outcome, reason=f"{NO_POINT}: {known}")


def _climbs(campaign: Campaign, configuration: str) -> int:
    """Reference altitudes of climbs that a configuration's airplane has [-]."""
    airplane = campaign.configurations[configuration].airplane
    return len(campaign.reference_for(airplane).climb_pressure_altitudes_m)


def _points(part: _Part, draws: Draws) -> list[Reduced]:
    """Correct take-offs, climbs or landings; what a formula refuses, all metrics are."""
    name = part.condition_id
    metrics = {"takeoff": _TAKEOFF_METRICS, "landing": _LANDING_METRICS}.get(name, _CLIMB_METRICS)
    refused = {}
    try:
        if name == "takeoff":
            found = reduce_takeoffs(part.campaign, part.rows, draws, part.slopes)
        elif name == "landing":
            found = reduce_landings(part.campaign, part.rows, draws)
        else:
            place = int(name.removeprefix("climb_")) - 1
            found = reduce_climbs(part.campaign, part.rows, draws, part.slopes, place)
        if found:
            return found
    except InputError as error:
        refused = dict.fromkeys(part.rows["point"], str(error))
    empty = pd.DataFrame(columns=list(LEDGER_COLUMNS))
    return [Reduced(metric, name, (), (), np.empty((1, 0)), refused, empty) for metric in metrics]


def _levels(
    part: _Part, draws: Draws, known: Mapping[str, LevelFit]
) -> tuple[list[Reduced], dict[str, LevelFit]]:
    """Reduce level runs; none where a formula refuses them."""
    try:
        return reduce_levels(part.campaign, part.rows, draws, known)
    except InputError:
        return [], {}


def _block_deviations(
    campaign: Campaign, metric: str, value: float, flights: Sequence[str], draws: Draws
) -> FloatArray:
    """Deviations of a mean over flights from the declared scatter between blocks, SI."""
    kind, size = campaign.uncertainty["between_blocks"].get(metric, ("absolute", 0.0))
    sigma = size * abs(value) if kind == "relative" else size
    by_id = {flight.id: flight.block for flight in campaign.flights}
    blocks = [by_id[name] for name in flights]
    deviations: FloatArray = sigma * draws.normal(f"block {metric}", "block", blocks).mean(axis=1)
    return deviations[1:]


def _from_flights(
    campaign: Campaign, full: Reduced, parameter: Reduced, draws: Draws
) -> list[Outcome]:
    """Unweighted means of flight means, scatter pooled over configurations of one airplane."""
    by_id = {flight.id: flight for flight in campaign.flights}
    means = {
        name: float(full.values[0, [flight == name for flight in full.flights]].mean())
        for name in dict.fromkeys(full.flights)
    }
    outcomes = []
    kind, _, which = full.condition_id.partition("_")
    for name, configuration in campaign.configurations.items():
        if kind == "climb" and int(which) > _climbs(campaign, name):
            continue  # its airplane has no such reference altitude
        flights = tuple(flight for flight in means if by_id[flight].configuration == name)
        points = tuple(
            point
            for point, flight in zip(full.points, full.flights, strict=True)
            if flight in flights
        )
        found = Outcome(
            full.metric,
            full.condition_id,
            condition_words(campaign, name, full.metric, full.condition_id),
            name,
            None,
            points=points,
            flights=flights,
            method=full.method,
        )
        if not flights:
            outcomes.append(_refused(campaign, found, full))
            continue
        siblings = [
            [means[flight] for flight in means if by_id[flight].configuration == other]
            for other, sibling in campaign.configurations.items()
            if sibling.airplane == configuration.airplane
        ]
        error, dof, basis = _scatter(
            campaign,
            full.metric,
            siblings,
            len(flights),
            float(np.mean([means[f] for f in flights])),
        )
        all_draws = _mean(full, flights)
        value = float(all_draws[0])
        deviations = all_draws[1:] - value
        deviations = deviations + _block_deviations(campaign, full.metric, value, flights, draws)
        only = _mean(parameter, flights)
        outcomes.append(
            replace(
                found,
                estimate=Estimate(value, error, dof, deviations),
                parameter=only[1:] - only[0],
                flight_values={flight: means[flight] for flight in flights},
                basis=basis,
            )
        )
    return outcomes


def _mean(item: Reduced, flights: Sequence[str]) -> FloatArray:
    """Mean over flights of one configuration, draw by draw."""
    own = set(flights)
    sums = [total for names, total in item.sums if own.intersection(names)]
    counted = [name for names, _ in item.sums for name in names if own.intersection(names)]
    if sorted(counted) != sorted(own):
        raise StddayError("flights of several configurations were reduced together")
    mean: FloatArray = np.sum(sums, axis=0) / len(own)
    return mean


def _scatter(
    campaign: Campaign, metric: str, groups: Sequence[Sequence[float]], flights: int, value: float
) -> tuple[float, float, str]:
    """Standard error of a mean over flights, its degrees of freedom and its basis."""
    sd, dof = pooled_scatter(groups)
    if flights > 1 and dof > 0:
        return sd / np.sqrt(flights), dof, SCATTER
    kind, size = campaign.uncertainty["between_flights"][metric]
    assumed = size * abs(value) if kind == "relative" else size
    return assumed / np.sqrt(max(flights, 1)), float("inf"), ASSUMED


def _refused(campaign: Campaign, found: Outcome, full: Reduced) -> Outcome:
    """Say why a configuration has no value."""
    names = {
        flight.id for flight in campaign.flights if flight.configuration == found.configuration
    }
    reasons = dict.fromkeys(
        reason for point, reason in full.refused.items() if _flight_of(point, names)
    )
    reason = "; ".join(reasons) or NO_POINT
    return replace(found, status="refused", reason=reason)


def _flight_of(point: str, names: Iterable[str]) -> bool:
    return any(point.startswith(f"{name}-") for name in names)


def _from_fits(
    campaign: Campaign,
    fits: dict[str, LevelFit],
    parameter_fits: dict[str, LevelFit],
    draws: Draws,
) -> list[Outcome]:
    """Cruise metrics of every configuration at its reference powers."""
    outcomes = []
    for name, configuration in campaign.configurations.items():
        airplane = campaign.airplanes[configuration.airplane]
        reference = campaign.reference_for(airplane.id)
        for fraction in reference.cruise_power_fraction:
            condition_id = f"cruise_{100 * fraction:g}"
            condition = condition_words(campaign, name, "cruise_true_airspeed", condition_id)
            found = fits.get(name)
            if found is None or found.reason:
                reason = found.reason if found else NO_POINT
                outcomes += [
                    Outcome(
                        metric, condition_id, condition, name, None, status="refused", reason=reason
                    )
                    for metric in _CRUISE_METRICS
                ]
                continue
            heavier = campaign.reference_of(name).weight_kg / reference.weight_kg
            given = (airplane, reference, fraction, heavier)
            cruise, alone = cruise_at(found, *given), cruise_at(parameter_fits[name], *given)
            for metric in _CRUISE_METRICS:
                blank = Outcome(
                    metric,
                    condition_id,
                    condition,
                    name,
                    None,
                    points=found.points,
                    flights=tuple(dict.fromkeys(found.flights)),
                    method=f"P = A V^3 + B/V, robust, one offset a flight, CR2; {found.model}; "
                    f"{power_words(campaign, name)}",
                )
                if cruise.status != "ok":
                    outcomes.append(replace(blank, status=cruise.status, reason=cruise.reason))
                elif metric == "fuel_flow" and airplane.power_from == "fuel flow":
                    outcomes.append(replace(blank, status="refused", reason=CIRCULAR))
                elif metric not in cruise.values:
                    outcomes.append(
                        replace(blank, status="refused", reason="no fuel flow recorded")
                    )
                else:
                    outcomes.append(
                        _from_fit(
                            campaign,
                            blank,
                            found.fit,
                            cruise.values[metric],
                            cruise.gradients[metric],
                            alone.values[metric],
                            draws,
                        )
                    )
    return outcomes


def _from_fit(
    campaign: Campaign,
    blank: Outcome,
    fit: ClusterFit | None,
    values: FloatArray,
    gradient: FloatArray,
    parameter: FloatArray,
    draws: Draws,
) -> Outcome:
    """One cruise metric with its interval."""
    value = float(values[0])
    lost = ~np.isfinite(values)
    values, parameter = (
        np.where(lost, value, values),
        np.where(np.isfinite(parameter), parameter, parameter[0]),
    )
    if lost[0] or np.mean(lost) > LOST_DRAWS:
        return replace(
            blank,
            status="refused",
            reason="its uncertainty reaches powers or drags that level flight does not have",
        )
    try:
        if fit is None or len(set(blank.flights)) < 2:
            raise InputError("no scatter between flights")
        variance, dof = fit.variance(gradient)
        if not variance > 0:
            raise InputError("no scatter between flights")
        error, basis = float(np.sqrt(variance)), SCATTER
    except InputError:
        kind, size = campaign.uncertainty["between_flights"][blank.metric]
        error, dof = (size * abs(value) if kind == "relative" else size), float("inf")
        basis = ASSUMED
    deviations = values[1:] - value
    blocks = _block_deviations(campaign, blank.metric, value, blank.flights, draws)
    return replace(
        blank,
        estimate=Estimate(value, error, dof, deviations + blocks),
        parameter=parameter[1:] - parameter[0],
        basis=basis,
        method=f"{METRICS[blank.metric].definition} {blank.method}",
    )
