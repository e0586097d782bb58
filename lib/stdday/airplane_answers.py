"""What the joint level model of an airplane answers beyond cruise at reference powers."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from stdday import airspeed, atmosphere, power_model
from stdday.level_fit import (
    FUEL_GROWTH,
    FUEL_START,
    FUEL_UNIT_M3S,
    SLOPE,
    SPEED_UNIT_MS,
    LevelFit,
    ratio_at,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from stdday.campaign import Campaign, Reference
    from stdday.statistics import ClusterFit

__all__ = ["Answer", "level_answers", "side_by_side"]

FloatArray = NDArray[np.float64]

#: Airspeeds at which ratios of efficiency are stated are multiples of this [m/s] (10 kt).
RATIO_STEP_MS = 10 * 1852 / 3600
#: Airspeeds of the search for the greatest specific range [-].
GRID = 161

BOOKED = (
    "cooling drag, or a mass that was not declared, that changed with the propeller is booked to "
    "its efficiency"
)
EFFECTIVE = (
    "shaft power tells only CD0 over efficiency and e times efficiency; a glide would tell them "
    "apart"
)


@dataclass(frozen=True)
class Answer:
    """A number of one configuration that comes from a fit, or why there is none.

    Parameters
    ----------
    metric, condition_id, configuration : str
        What it is.
    values, parameter : ndarray, shape (draws + 1,)
        Value under all draws and under those of correction parameters alone, SI; empty if refused.
    gradient : ndarray, shape (columns,)
        Derivative by the coefficients of the fit.
    fit : ClusterFit or None
        Fit whose scatter makes the standard error; None with `exact`.
    points, flights : tuple of str
        What it rests on.
    exact : bool
        Whether it is so by definition.
    status, reason, method : str
        As in ``values.csv``.
    within : tuple of float
        Ends of what was flown, SI: an interval that leaves them is refused.
    """

    metric: str
    condition_id: str
    configuration: str
    values: FloatArray = field(default_factory=lambda: np.empty(0), repr=False)
    parameter: FloatArray = field(default_factory=lambda: np.empty(0), repr=False)
    gradient: FloatArray = field(default_factory=lambda: np.empty(0), repr=False)
    fit: ClusterFit | None = field(default=None, repr=False)
    points: tuple[str, ...] = ()
    flights: tuple[str, ...] = ()
    exact: bool = False
    status: str = "ok"
    reason: str = ""
    method: str = ""
    within: tuple[float, float] = (-np.inf, np.inf)

    def leaves(self, interval: tuple[float, float]) -> str:
        """Why an airspeed with this interval [m/s] is no number; empty where it stays within."""
        if self.within[0] <= interval[0] and interval[1] <= self.within[1]:
            return ""
        low, high, slow, fast = (end * 3600 / 1852 for end in (*interval, *self.within))
        return (
            f"its interval, {low:.0f} to {high:.0f} kt, leaves the airspeeds flown, {slow:.0f} to "
            f"{fast:.0f} kt: fly more on both sides of it"
        )


def level_answers(
    campaign: Campaign, fits: Mapping[str, LevelFit], alone: Mapping[str, LevelFit]
) -> list[Answer]:
    """Ratios of installed efficiency, best-range airspeed, and what shaft power does not tell.

    Parameters
    ----------
    campaign : Campaign
        Configurations of one airplane, and reference conditions.
    fits, alone : mapping of str to LevelFit
        Curves under all draws, and under those of correction parameters alone.

    Returns
    -------
    list of Answer
    """
    answers: list[Answer] = []
    for name, found in fits.items():
        if found.reason:
            continue
        reference = campaign.reference_for(campaign.configurations[name].airplane)
        answers += _ratios(campaign, name, fits, alone, reference)
        answers.append(_best_range(campaign, found, alone[name], reference))
    return side_by_side(answers)


def side_by_side(answers: list[Answer]) -> list[Answer]:
    """Put the configurations of one metric and condition next to each other.

    Parameters
    ----------
    answers : list of Answer
        In any order.

    Returns
    -------
    list of Answer
        Metrics and conditions in the order in which they first appear; never raises.

    Examples
    --------
    >>> mixed = [Answer("a", "", "1"), Answer("b", "", "1"), Answer("a", "", "2")]
    >>> [one.metric + one.configuration for one in side_by_side(mixed)]
    ['a1', 'a2', 'b1']
    """
    order = {key: place for place, key in reversed(
        list(enumerate((one.metric, one.condition_id) for one in answers)))}  # fmt: skip
    return sorted(answers, key=lambda one: order[one.metric, one.condition_id])


def _ratios(
    campaign: Campaign,
    name: str,
    fits: Mapping[str, LevelFit],
    alone: Mapping[str, LevelFit],
    reference: Reference,
) -> list[Answer]:
    """Ratio of installed efficiencies at round true airspeeds that both configurations flew."""
    metric, base = "installed_efficiency_ratio", fits.get(campaign.compare_reference)
    if len(fits) < 2 or base is None:
        return []
    found = fits[name]
    if found is not base and not found.has_ratio:
        why = (
            "airframe or engine changed too, or the campaign does not say what changed"
            if not _held(campaign, name)
            else "the curves contradict one common airframe" + found.model.partition(";")[1]
            + found.model.partition(";")[2]
        )
        return [Answer(metric, "efficiency", name, status="refused", reason=why)]
    density = _density_ratio(reference)
    others = [fit for fit in fits.values() if fit is not base and fit.has_ratio]
    pair = [found] if found is not base else others
    lows = [max(fit.speed_ms[0].min(), base.speed_ms[0].min()) for fit in pair]
    highs = [min(fit.speed_ms[0].max(), base.speed_ms[0].max()) for fit in pair]
    root = np.sqrt(density)
    low, high = min(lows, default=1.0) / root, max(highs, default=0.0) / root
    steps = range(int(np.ceil(low / RATIO_STEP_MS)), int(np.floor(high / RATIO_STEP_MS)) + 1)
    if not steps and found is not base:
        reason = "no round airspeed that both configurations flew"
        return [Answer(metric, "efficiency", name, status="refused", reason=reason)]
    return [_ratio(found, alone[name], step, root, found is base) for step in steps]


def _held(campaign: Campaign, name: str) -> bool:
    changed = campaign.configurations[name].changed
    return bool(changed) and not {"airframe", "engine"} & set(changed)


def _ratio(found: LevelFit, alone: LevelFit, step: int, root: float, exact: bool) -> Answer:
    speed = float(step * RATIO_STEP_MS * root)
    return Answer(
        "installed_efficiency_ratio",
        f"efficiency_{10 * step}",
        found.configuration,
        ratio_at(found, speed),
        ratio_at(alone, speed),
        found.gradient(lambda rows: ratio_at(found, speed, rows)),
        found.fit,
        found.points,
        tuple(dict.fromkeys(found.flights)),
        exact,
        method=f"{found.model}; {BOOKED}",
    )


def _density_ratio(reference: Reference) -> float:
    altitude = reference.cruise_pressure_altitude_m
    warm = float(atmosphere.standard_temperature_k(altitude)) + reference.temperature_offset_k
    pressure = atmosphere.standard_pressure_pa(altitude)
    density = float(atmosphere.density_kg_m3(pressure, warm))
    return density / atmosphere.SEA_LEVEL_DENSITY_KG_M3


def _best_range(
    campaign: Campaign, found: LevelFit, alone: LevelFit, reference: Reference
) -> Answer:
    """Airspeed of the greatest specific range, within what was flown."""
    blank = Answer(
        "best_range_airspeed",
        "range",
        found.configuration,
        fit=found.fit,
        points=found.points,
        flights=tuple(dict.fromkeys(found.flights)),
        method=found.model,
        status="refused",
    )
    airplane = campaign.airplane_of(found.configuration)
    if not found.has_fuel:
        return _with(blank, reason="no fuel flow recorded")
    if airplane.power_from == "fuel flow":
        return _with(blank, reason="brake power is taken from fuel flow")
    density = _density_ratio(reference)

    def speed(rows: FloatArray, curve: LevelFit = found) -> FloatArray:
        return _calibrated(_most_range(rows, curve, np.sqrt(density)), reference)

    values = speed(found.coefficients)
    edges = _calibrated(np.array([found.speed_ms[0].min(), found.speed_ms[0].max()])
                        / np.sqrt(density), reference)  # fmt: skip
    if not edges[0] < values[0] < edges[1] or np.mean(values <= edges[0] * 1.0001) > 0.025:
        ends = edges * 3600 / 1852
        return _with(blank, reason=f"it lies at or beyond the airspeeds flown ({ends[0]:.0f} to "
                     f"{ends[1]:.0f} kt): fly slower level runs")  # fmt: skip
    return _with(
        blank,
        status="ok",
        values=values,
        parameter=speed(alone.coefficients, alone),
        gradient=found.gradient(speed),
    )


def _with(answer: Answer, **changes: Any) -> Answer:
    return replace(answer, **changes)


def _calibrated(true_ms: FloatArray, reference: Reference) -> FloatArray:
    altitude = reference.cruise_pressure_altitude_m
    warm = float(atmosphere.standard_temperature_k(altitude)) + reference.temperature_offset_k
    pressure = atmosphere.standard_pressure_pa(altitude)
    return np.asarray(airspeed.calibrated_airspeed_ms(true_ms, pressure, warm))


def _most_range(rows: FloatArray, found: LevelFit, root: float) -> FloatArray:
    """True airspeed of the greatest distance for each unit of fuel, on a grid with a parabola."""
    ends = found.speed_ms[0].min(), found.speed_ms[0].max()
    grid = np.linspace(*ends, GRID) / SPEED_UNIT_MS
    cubic, inverse, shift, slope = rows[:, : SLOPE + 1].T[..., None]
    shape = power_model.model_power(grid, cubic, inverse, shift, slope, found.middle)
    power = np.asarray(shape) / root
    flow = rows[:, [FUEL_START]] + rows[:, [FUEL_GROWTH]] * power
    reach = grid / (FUEL_UNIT_M3S * flow)
    best = np.clip(np.argmax(reach, axis=1), 1, GRID - 2)
    near = np.arange(len(rows))
    before, at, after = (reach[near, best + shift] for shift in (-1, 0, 1))
    bend = before - 2 * at + after
    shift = np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, -1.0), 0.0)
    found_at = grid[best] + np.clip(shift, -1, 1) * (grid[1] - grid[0])
    true: FloatArray = found_at * SPEED_UNIT_MS / root
    return true
