"""Best airspeeds, ceiling, and time, fuel and distance to climb of each configuration."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from stdday import airspeed, atmosphere
from stdday.airplane_answers import Answer, side_by_side
from stdday.climb_model import ClimbFit

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from stdday.campaign import Campaign
    from stdday.uncertainty import Draws

__all__ = ["climb_answers"]

FloatArray = NDArray[np.float64]

#: Airspeeds of the search for the best one, and altitudes of integrals [-].
GRID, LAYERS = 161, 41
#: Share of draws that may have their best airspeed at an end of what was flown [-].
AT_THE_END = 0.10
#: Rate of climb at the service ceiling [m/s] (100 ft/min), a definition.
CEILING_RATE_MS = 100 * 0.3048 / 60
#: A ceiling may lie above the highest climb by so many times the height between climbs [-].
FARTHEST_CEILING = 2.0
#: One sigma of what a straight line misses half a span beyond the climbs, as a share of the change
#: of rate over the span [-]; it grows with the square of the distance. Common practice.
BEND_SIGMA = 0.05

_METRICS = ("time_to_climb", "fuel_to_climb", "distance_to_climb")


def climb_answers(
    campaign: Campaign,
    fits: Mapping[str, ClimbFit],
    alone: Mapping[str, ClimbFit],
    reasons: Mapping[str, str],
    draws: Draws,
) -> list[Answer]:
    """State what follows from the climbs of every configuration.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    fits, alone : mapping of str to ClimbFit
        Fits under all draws, and under those of correction parameters alone.
    reasons : mapping of str to str
        Why a configuration has no fit.
    draws : Draws
        Draws of the errors.

    Returns
    -------
    list of Answer
    """
    answers: list[Answer] = []
    for name, configuration in campaign.configurations.items():
        if not campaign.reference_for(configuration.airplane).climb_pressure_altitudes_m:
            continue  # its airplane has no reference altitude of climbs
        if name not in fits:
            answers += [
                Answer(metric, condition, name, status="refused", reason=reasons[name])
                for metric, condition in _CONDITIONS
            ]
            continue
        bend = draws.normal("bend of rate with altitude", "parameter", [name])[:, 0]
        whole = _Whole(fits[name], alone[name], bend)
        answers += [*_best(whole), _ceiling(whole), *_to_climb(whole)]
    return side_by_side(answers)


_CONDITIONS = (
    ("best_rate_airspeed", "bestrate_1"),
    ("best_angle_airspeed", "bestangle_1"),
    ("service_ceiling", "ceiling"),
    *((metric, "toclimb") for metric in _METRICS),
)


class _Whole:
    """A fit with its draws, from which numbers are made.

    Parameters
    ----------
    fit, alone : ClimbFit
        As in `climb_answers`.
    bend : ndarray, shape (draws + 1,)
        Draws of the bend of rate with altitude [-].
    """

    def __init__(self, fit: ClimbFit, alone: ClimbFit, bend: FloatArray) -> None:
        self.fit, self.alone, self.bend = fit, alone, bend

    def refused(self, metric: str, condition: str, reason: str) -> Answer:
        return Answer(metric, condition, self.fit.configuration, status="refused", reason=reason)

    def answer(
        self,
        metric: str,
        condition: str,
        of: Callable[[ClimbFit, FloatArray, FloatArray], FloatArray],
        method: str,
    ) -> Answer:
        fit, none = self.fit, np.zeros(2)
        return Answer(
            metric,
            condition,
            fit.configuration,
            of(fit, fit.coefficients, self.bend),
            of(self.alone, self.alone.coefficients, self.bend),
            fit.gradient(lambda rows: of(fit, rows, none)),
            fit.fit,
            fit.points,
            tuple(dict.fromkeys(fit.flights)),
            method=method,
        )


def _best(whole: _Whole) -> list[Answer]:
    """Best-rate and best-angle airspeeds at every reference altitude, with what they give."""
    fit = whole.fit
    if not fit.curved:
        return [whole.refused(metric, condition, fit.reason)
                for metric, condition in _CONDITIONS[:2]]  # fmt: skip
    method = f"K - a V^3 - b/V through {len(fit.points)} climbs, robust, one offset a flight, CR2"
    answers = []
    for place, number in enumerate(fit.numbers):
        for kind, metrics in (
            ("bestrate", ("best_rate_airspeed", "climb_rate")),
            ("bestangle", ("best_angle_airspeed", "climb_gradient")),
        ):
            condition = f"{kind}_{number}"
            reason = _at_an_end(fit, place, kind)
            if reason:
                answers.append(whole.refused(metrics[0], condition, reason))
                continue
            for column, metric in enumerate(metrics):
                def of(
                    one: ClimbFit, rows: FloatArray, _: FloatArray,
                    place: int = place, kind: str = kind, column: int = column,
                ) -> FloatArray:
                    return _top(one, rows, place, kind)[column]

                answer = whole.answer(metric, condition, of, method)
                flown = (fit.slowest_ms, fit.fastest_ms)
                answers.append(replace(answer, within=flown) if column == 0 else answer)
    return answers


def _merit(fit: ClimbFit, rows: FloatArray, place: int, kind: str) -> tuple[FloatArray, FloatArray]:
    """Airspeeds of the search, and rate or gradient at them."""
    grid = np.linspace(fit.slowest_ms, fit.fastest_ms, GRID)
    rate = fit.rate(rows, grid, place)
    if kind == "bestrate":
        return grid, rate
    pressure, temperature, _ = fit.air(place)
    true = np.asarray(airspeed.true_airspeed_ms(grid, pressure, temperature))
    return grid, rate / np.sqrt(true**2 - rate**2)


def _top(fit: ClimbFit, rows: FloatArray, place: int, kind: str) -> tuple[FloatArray, FloatArray]:
    """Best airspeed, and rate or gradient there, by a parabola through the grid's best."""
    grid, merit = _merit(fit, rows, place, kind)
    best = np.clip(np.argmax(merit, axis=1), 1, GRID - 2)
    near = np.arange(len(rows))
    before, at, after = (merit[near, best + shift] for shift in (-1, 0, 1))
    bend = before - 2 * at + after
    shift = 0.5 * (before - after) / np.where(bend < 0, bend, -np.inf)
    shift = np.clip(shift, -1.0, 1.0)
    top = at + 0.5 * shift * (after - before) + 0.5 * shift**2 * bend
    return grid[best] + shift * (grid[1] - grid[0]), top


def _at_an_end(fit: ClimbFit, place: int, kind: str) -> str:
    """Say which way to fly further where the best lies at an end of what was flown."""
    _, merit = _merit(fit, fit.coefficients, place, kind)
    best = np.argmax(merit, axis=1)
    slow, fast = best == 0, best == GRID - 1
    ends = fit.slowest_ms * 3600 / 1852, fit.fastest_ms * 3600 / 1852
    words = f"climbs were flown from {ends[0]:.0f} to {ends[1]:.0f} kt"
    if slow[0] or np.mean(slow) > AT_THE_END:
        return f"{words}; the best may lie slower: fly slower climbs, well above the stall"
    if fast[0] or np.mean(fast) > AT_THE_END:
        return f"{words}; the best may lie faster: fly faster climbs"
    return ""


def _common_rates(fit: ClimbFit, rows: FloatArray) -> FloatArray:
    """Rate at the common airspeed at each altitude, shape (rows, altitudes)."""
    common = np.array([fit.reference.climb_airspeed_ms])
    rates = [fit.rate(rows, common, place)[:, 0] for place in range(len(fit.altitudes_m))]
    return np.stack(rates, axis=1)


def _line(fit: ClimbFit, rows: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Rate at the lowest altitude, and its change for each metre, of a line through all."""
    rates = _common_rates(fit, rows)
    height = np.array(fit.altitudes_m) - fit.altitudes_m[0]
    design = np.stack([np.ones_like(height), height / height[-1]], axis=1)
    solved = rates @ np.linalg.pinv(design).T
    return solved[:, 0], solved[:, 1] / height[-1]


def _ceiling(whole: _Whole) -> Answer:
    """Pressure altitude of 100 ft/min, within reach of the climbs."""
    fit, metric = whole.fit, "service_ceiling"
    if len(fit.altitudes_m) < 2:
        return whole.refused(metric, "ceiling", _few(fit))
    span = fit.altitudes_m[-1] - fit.altitudes_m[0]
    start, slope = (float(one[0]) for one in _line(fit, fit.coefficients[:1]))
    if slope >= 0:
        return whole.refused(metric, "ceiling", "the rate of climb does not fall with altitude")
    ceiling = fit.altitudes_m[0] + (CEILING_RATE_MS - start) / slope
    beyond = (ceiling - fit.altitudes_m[-1]) / span
    if beyond > FARTHEST_CEILING:
        higher = fit.altitudes_m[-1] + (ceiling - fit.altitudes_m[-1]) / 2
        return whole.refused(
            metric,
            "ceiling",
            f"it lies {beyond:.1f} times as far above the highest climb as the climbs lie apart; "
            f"at most {FARTHEST_CEILING:.0f} times allowed: fly climbs through "
            f"{500 * np.ceil(higher / 0.3048 / 500):.0f} ft pressure altitude",
        )
    method = "line of rate of climb with pressure altitude; interval grows beyond the climbs"
    return whole.answer(metric, "ceiling", _ceiling_m, method)


def _ceiling_m(fit: ClimbFit, rows: FloatArray, bend: FloatArray) -> FloatArray:
    start, slope = _line(fit, rows)
    lowest, highest = fit.altitudes_m[0], fit.altitudes_m[-1]
    ceiling = lowest + (CEILING_RATE_MS - start) / np.where(slope < 0, slope, np.nan)
    # what the line misses: a parabola through both ends of the climbs
    away = (ceiling - lowest) * (ceiling - highest) / (highest - lowest) ** 2 / 0.75
    result: FloatArray = ceiling + BEND_SIGMA * bend * away * (highest - lowest)
    return result


def _few(fit: ClimbFit) -> str:
    height = fit.altitudes_m[0] / 0.3048
    return f"climbs through one reference altitude only ({height:.0f} ft): fly a second one"


def _to_climb(whole: _Whole) -> list[Answer]:
    """Time, fuel and distance between the lowest and highest reference altitude."""
    fit = whole.fit
    if len(fit.altitudes_m) < 2:
        return [whole.refused(metric, "toclimb", _few(fit)) for metric in _METRICS]
    method = "integral over a line of rate with altitude, at the common airspeed"
    answers = []
    for column, metric in enumerate(_METRICS):
        if metric == "fuel_to_climb" and not fit.has_fuel:
            answers.append(whole.refused(metric, "toclimb", "no fuel flow recorded"))
            continue

        def of(
            one: ClimbFit, rows: FloatArray, _: FloatArray, column: int = column
        ) -> FloatArray:
            return _integrals(one, rows)[column]

        answers.append(whole.answer(metric, "toclimb", of, method))
    return [_possible(one) for one in answers]


def _possible(answer: Answer) -> Answer:
    if len(answer.values) and not np.isfinite(answer.values[0]):
        return replace(answer, status="refused", reason="the rate of climb ends below the upper "
                       "altitude", values=np.empty(0))  # fmt: skip
    return answer


def _integrals(fit: ClimbFit, rows: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Time [s], fuel [m^3] and distance [m] by Simpson's rule over pressure altitude."""
    low, high = fit.altitudes_m[0], fit.altitudes_m[-1]
    height = np.linspace(low, high, LAYERS)
    start, slope = _line(fit, rows)
    rate = start[:, None] + slope[:, None] * (height - low)
    rate = np.where(rate > 0, rate, np.nan)
    standard = np.asarray(atmosphere.standard_temperature_k(height))
    warm = standard + fit.reference.temperature_offset_k
    pressure = np.asarray(atmosphere.standard_pressure_pa(height))
    common = fit.reference.climb_airspeed_ms
    true = np.asarray(airspeed.true_airspeed_ms(common, pressure, warm))
    weights = np.full(LAYERS, 2.0)
    weights[1::2] = 4.0
    weights[[0, -1]] = 1.0
    share = weights / 3 * (high - low) / (LAYERS - 1) * (warm / standard) / rate
    along = np.sqrt(true**2 - rate**2)
    flow = np.zeros_like(rate)
    if fit.has_fuel:
        flows = fit.fuel_m3s(rows)
        flow = np.stack([np.interp(height, fit.altitudes_m, own) for own in flows])
    return share.sum(axis=1), (share * flow).sum(axis=1), (share * along).sum(axis=1)
