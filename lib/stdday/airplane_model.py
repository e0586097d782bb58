"""One airplane from its level runs: a polar under all configurations, an efficiency for each.

Reduced power is fitted directly and robustly, with one random offset a flight and airspeed errors
in the weights. What may differ between configurations follows from `changed` in the campaign.
Whether a ratio of efficiencies is constant or smooth in airspeed is chosen by what predicts flights
that were left out, by a fixed rule. With airframe or engine changed too, or where curves of their
own predict clearly better, each configuration keeps its own curve.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from stdday import power_model
from stdday.draw_fit import DrawSums
from stdday.errors import InputError
from stdday.level_fit import FUEL_UNIT_M3S, SPEED_UNIT_MS, LevelFit
from stdday.statistics import ClusterFit, cluster_fit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from stdday.campaign import Campaign

__all__ = ["fit_airplane", "with_draws"]

FloatArray = NDArray[np.float64]

#: One sigma of airspeed [m/s] and power [-] of a single run, of which only the proportion counts
#: (0.5 kt, 1 %). Common practice for a hand-flown run.
RUN_AIRSPEED_MS, RUN_POWER = 0.5 * 1852 / 3600, 0.01
#: Curves of their own are taken in place of the joint model where they predict left-out flights
#: better by this share of the squared error, and by so much of power [-]: it is contradicted.
BETTER_OWN, BETTER_OWN_POWER = 0.25, 0.005
#: Flights of a configuration without which nothing is left out to choose by [-].
LEAST_FLIGHTS = 3
#: Kinds of model of a configuration.
REFERENCE, CONSTANT, SMOOTH, OWN = "reference", "constant", "smooth", "own"
_WORDS = {
    REFERENCE: "polar of the airplane with this configuration's efficiency in it",
    CONSTANT: "polar common with {0}, constant ratio of installed efficiencies",
    SMOOTH: "polar common with {0}, ratio of installed efficiencies smooth in airspeed",
    OWN: "curve of its own",
}


@dataclass(frozen=True)
class _Layout:
    """Which column of the joint fit is which coefficient of which configuration.

    Parameters
    ----------
    names : tuple of str
        Configurations.
    kinds : tuple of str
        Kind of model of each.
    places : tuple of tuple of int
        As `LevelFit.places`, one for each.
    middles : tuple of float
        As `LevelFit.middle`.
    """

    names: tuple[str, ...]
    kinds: tuple[str, ...]
    places: tuple[tuple[int, ...], ...]
    middles: tuple[float, ...]

    @property
    def columns(self) -> int:
        return 1 + max(max(places) for places in self.places)

    def own(self, solution: FloatArray, place: int) -> FloatArray:
        """Coefficients of one configuration, shape (rows, 6), from rows of solutions."""
        columns = self.places[place]
        padded = np.concatenate([solution, np.zeros((len(solution), 1))], axis=1)
        return padded[:, list(columns)]


def fit_airplane(campaign: Campaign, runs: Sequence[LevelFit]) -> list[LevelFit]:
    """Fit the nominal level runs of all configurations of one airplane together.

    Parameters
    ----------
    campaign : Campaign
        What differs between configurations, and which is the reference.
    runs : sequence of LevelFit
        Reduced runs of each configuration without their draws, still to be fitted.

    Returns
    -------
    list of LevelFit
        Fitted, or with the reason why not.
    """
    few = {
        one.configuration: f"{len(one.points)} level runs; 3 at different powers are needed"
        for one in runs
        if len(one.points) < 3
    }
    good = [one for one in runs if one.configuration not in few]
    done: dict[str, LevelFit] = {}
    if good:
        try:
            done = _fit(campaign, good)
        except InputError as error:
            done = _apart(campaign, good, error)
    return [
        done.get(one.configuration, replace(one, reason=few.get(one.configuration, "")))
        for one in runs
    ]


def with_draws(
    fits: Mapping[str, LevelFit],
    blocks: Callable[[Sequence[str]], Iterable[LevelFit]],
    draws: int,
) -> dict[str, LevelFit]:
    """Solve nominal fits of an airplane again for every draw.

    Parameters
    ----------
    fits : mapping of str to LevelFit
        Fits by configuration; those without a curve stay as they are.
    blocks : callable
        Gives the runs of some configurations with their draws: in each block whole flights of one
        configuration, few of them, so that not all are in memory. Asked for more than once.
    draws : int
        Draws [-].

    Returns
    -------
    dict of str to LevelFit
        The same with coefficients for every draw.
    """
    done = dict(fits)
    for fit in {id(one.fit): one.fit for one in fits.values()}.values():
        if fit is None:
            continue
        runs = [one for one in fits.values() if one.fit is fit]
        runs.sort(key=lambda one: one.kind != REFERENCE)  # as they were fitted
        layout = _Layout(
            tuple(one.configuration for one in runs),
            tuple(one.kind for one in runs),
            tuple(one.places for one in runs),
            tuple(one.middle for one in runs),
        )
        solutions = _solved(layout, runs, fit, blocks, draws)
        for place, one in enumerate(runs):
            done[one.configuration] = replace(one, coefficients=layout.own(solutions, place))
    return done


def _apart(
    campaign: Campaign, good: list[LevelFit], error: InputError
) -> dict[str, LevelFit]:
    """Fit each configuration alone, where all together do not carry a fit."""
    done: dict[str, LevelFit] = {}
    for one in good:
        try:
            if len(good) == 1:
                raise error
            done |= _fit(campaign, [one])
        except InputError as alone:
            reason = f"no curve through these runs: {alone}"
            done[one.configuration] = replace(one, reason=reason)
    return done


def _fit(campaign: Campaign, runs: list[LevelFit]) -> dict[str, LevelFit]:
    """Choose the model and fit it."""
    runs = _reference_first(campaign, runs)
    layout, fit, why = _chosen(campaign, runs)
    done = {}
    start = 0
    for place, one in enumerate(runs):
        kind = layout.kinds[place]
        done[one.configuration] = replace(
            one,
            coefficients=layout.own(fit.coefficients[None], place),
            places=layout.places[place],
            middle=layout.middles[place],
            fit=fit,
            weights=fit.weights[start : start + len(one.points)],
            kind=kind,
            model=_WORDS[kind].format(layout.names[0]) + (why if place else ""),
        )
        start += len(one.points)
    return done


def _reference_first(campaign: Campaign, runs: list[LevelFit]) -> list[LevelFit]:
    return sorted(runs, key=lambda one: one.configuration != campaign.compare_reference)


def _kinds(campaign: Campaign, runs: list[LevelFit]) -> list[tuple[str, ...]]:
    """Models that may be tried, the simplest first, one kind for each configuration."""
    shared = [
        bool(changed := campaign.configurations[one.configuration].changed)
        and not {"airframe", "engine"} & set(changed)
        for one in runs[1:]
    ]
    tried = [
        (REFERENCE, *(kind if joint else OWN for joint in shared))
        for kind in ((CONSTANT, SMOOTH, OWN) if any(shared) else (OWN,))
    ]
    return list(dict.fromkeys(tried))


def _layout(runs: list[LevelFit], kinds: tuple[str, ...]) -> _Layout:
    """Number the columns of the joint fit."""
    count, places = 2, []
    for one, kind in zip(runs, kinds, strict=True):
        own = [0, 1, -1, -1, -1, -1]
        wanted = {REFERENCE: (), CONSTANT: (2,), SMOOTH: (2, 3), OWN: (0, 1)}[kind]
        if np.isfinite(one.fuel_m3s[0]).sum() >= 3:
            wanted = (*wanted, 4, 5)
        for column in wanted:
            own[column] = count
            count += 1
        places.append(tuple(own))
    middles = tuple(float(np.mean(np.log(one.speed_ms[0] / SPEED_UNIT_MS))) for one in runs)
    return _Layout(tuple(one.configuration for one in runs), kinds, tuple(places), middles)


def _chosen(
    campaign: Campaign, runs: list[LevelFit]
) -> tuple[_Layout, ClusterFit, str]:
    """Fit the models that may be tried, and choose among them by flights left out."""
    tried = _kinds(campaign, runs)
    found = []
    for kinds in tried:
        try:
            found.append((kinds, *_nominal(runs, kinds)))
        except InputError:
            if kinds is tried[-1] and not found:
                raise
    if len(found) == 1:
        return found[0][1], found[0][2], ""
    if min(len(set(one.flights)) for one in runs) < LEAST_FLIGHTS:
        kinds, layout, fit, _ = found[0]
        return layout, fit, f"; under {LEAST_FLIGHTS} flights leave no choice by evidence"
    errors = [_left_out(fit, residual) for _, _, fit, residual in found]
    best = 0
    for place in range(1, len(found)):
        gained = errors[best] - errors[place]
        needed = max(BETTER_OWN * errors[best], BETTER_OWN_POWER**2)
        if gained > (needed if OWN in found[place][0][1:] else 0.0):
            best = place
    said = ", ".join(
        f"{100 * np.sqrt(error):.2f} % {_said(kinds)}"
        for (kinds, *_), error in zip(found, errors, strict=True)
    )
    return found[best][1], found[best][2], f"; flights left out are predicted within {said}"


def _said(kinds: tuple[str, ...]) -> str:
    words = {CONSTANT: "with a constant ratio", SMOOTH: "with a smooth one", OWN: "curve by curve"}
    return next(words[kind] for kind in (CONSTANT, SMOOTH, OWN) if kind in kinds)


def _nominal(
    runs: list[LevelFit], kinds: tuple[str, ...]
) -> tuple[_Layout, ClusterFit, FloatArray]:
    """Fit one model to the nominal runs by Gauss-Newton steps, each a robust fit."""
    layout = _layout(runs, kinds)
    solution = _start_values(layout, runs)
    flights, strata = _labels(layout, runs)
    for _ in range(25):
        design, response = _all_rows(layout, runs, solution)
        fit = cluster_fit(design[0], response[0], flights, strata)
        solution = solution + fit.coefficients
        if np.max(np.abs(fit.coefficients)) < 1e-9:
            break
    for place in range(len(runs)):
        own = layout.own(solution[None], place)[0]
        if own[0] <= 0 or own[1] <= 0:
            raise InputError("the fitted drag is not positive (fly a wider range of powers)")
    _, response = _all_rows(layout, runs, solution)
    residual = fit.whitener @ response[0]
    return layout, replace(fit, coefficients=solution), residual


def _start_values(layout: _Layout, runs: list[LevelFit]) -> FloatArray:
    """Coefficients to begin with: one curve through all runs, straight lines of fuel flow."""
    x = np.concatenate([one.speed_ms[0] for one in runs]) / SPEED_UNIT_MS
    power = np.concatenate([one.power_w[0] / one.rated_power_w for one in runs])
    polar = np.linalg.lstsq(np.stack([x**3, 1 / x], axis=-1), power, rcond=None)[0]
    if polar[1] <= 0:  # runs so alike that drag has no shape: begin from a usual one
        share = 0.15 * float(np.mean(power * x))
        polar = np.array([float(np.mean((power - share / x) / x**3)), share])
    solution = np.zeros(layout.columns)
    for one, places in zip(runs, layout.places, strict=True):
        solution[list(places[:2])] = polar
        if places[4] >= 0:
            brake, flow = _fuel(one)
            line = np.stack([np.ones_like(brake[0]), brake[0]], axis=-1)
            solution[list(places[4:])] = np.linalg.lstsq(line, flow[0], rcond=None)[0]
    return solution


def _fuel(one: LevelFit) -> tuple[FloatArray, FloatArray]:
    """Scaled brake power and fuel flow of the runs that carry one."""
    carried = np.isfinite(one.fuel_m3s[0])
    return (
        one.brake_power_w[:, carried] / one.rated_power_w,
        one.fuel_m3s[:, carried] / FUEL_UNIT_M3S,
    )


def _labels(layout: _Layout, runs: list[LevelFit]) -> tuple[list[str], list[str]]:
    """Flight and stratum of every row."""
    flights = [flight for one in runs for flight in one.flights]
    count = len(flights)
    for one, places in zip(runs, layout.places, strict=True):
        if places[4] >= 0:
            carried = np.isfinite(one.fuel_m3s[0])
            flights += [f for f, has in zip(one.flights, carried, strict=True) if has]
    return flights, ["speed"] * count + ["fuel"] * (len(flights) - count)


def _weights(layout: _Layout, runs: list[LevelFit], solution: FloatArray) -> list[FloatArray]:
    """Weight of each run of each configuration: less where the curve is steep.

    There an error of airspeed weighs more.
    """
    weights = []
    for place, one in enumerate(runs):
        a, b, _, slope, *_ = layout.own(solution[None], place)[0]
        speed = one.speed_ms[0]
        steep = np.asarray(power_model.model_exponent(speed / SPEED_UNIT_MS, a, b, slope))
        weights.append(1 / np.hypot(1.0, steep * RUN_AIRSPEED_MS / speed / RUN_POWER))
    return weights


def _all_rows(
    layout: _Layout, runs: list[LevelFit], solution: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Rows of all nominal runs around one solution: those of power, then those of fuel flow."""
    weights = _weights(layout, runs, solution)
    powers, fuels = [], []
    for place, one in enumerate(runs):
        powers.append(_power_rows(layout, place, one, solution[None], weights[place]))
        if layout.places[place][4] >= 0:
            fuels.append(_fuel_rows(layout, place, one, solution[None]))
    return _joined(powers + fuels)


def _joined(rows: list[tuple[FloatArray, FloatArray]]) -> tuple[FloatArray, FloatArray]:
    return (
        np.concatenate([design for design, _ in rows], axis=1),
        np.concatenate([response for _, response in rows], axis=1),
    )


def _power_rows(
    layout: _Layout, place: int, one: LevelFit, solution: FloatArray, weights: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Design (draws, runs, columns) and response (draws, runs), relative to the solution's power.

    `solution` has a row for each draw.
    """
    own = layout.own(solution, place)[:, :, None]
    x = one.speed_ms / SPEED_UNIT_MS
    a, b, shift, slope = (own[:, column] for column in range(4))
    middle = layout.middles[place]
    expected = np.asarray(power_model.model_power(x, a, b, shift, slope, middle))
    relative = one.power_w / one.rated_power_w / expected - 1
    slopes = power_model.model_slopes(x, a, b, middle) * weights[:, None]
    return _spread(slopes, layout, place, range(4)), relative * weights


def _fuel_rows(
    layout: _Layout, place: int, one: LevelFit, solution: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Design and response of the fuel flow that was recorded, relative to the solution's."""
    own = layout.own(solution, place)[:, :, None]
    brake, flow = _fuel(one)
    line = own[:, 4] + own[:, 5] * brake
    columns = np.stack([np.ones_like(brake), brake], axis=-1) / line[..., None]
    return _spread(columns, layout, place, range(4, 6)), flow / line - 1


def _spread(columns: FloatArray, layout: _Layout, place: int, wanted: range) -> FloatArray:
    """Put a configuration's own columns where they belong in the joint fit."""
    result = np.zeros((*columns.shape[:2], layout.columns))
    for source, column in enumerate(wanted):
        if layout.places[place][column] >= 0:
            result[..., layout.places[place][column]] = columns[..., source]
    return result


def _left_out(fit: ClusterFit, residual: FloatArray) -> float:
    """Mean squared error of power with which each flight is predicted from all others [-].

    Exact for the linear fit: residuals over one minus their leverage, flight by flight.
    """
    power = np.any(fit.design[:, :2] != 0, axis=1)
    design, own, clusters = fit.design[power], residual[power], fit.clusters[power]
    inverse = np.linalg.pinv(design.T @ design)
    scale = np.median(np.abs(fit.whitener.diagonal()[power]))
    total = 0.0
    for name in np.unique(clusters):
        rows = clusters == name
        leverage = design[rows] @ inverse @ design[rows].T
        missed = np.linalg.pinv(np.eye(rows.sum()) - leverage) @ own[rows]
        total += float(np.sum(missed**2))
    return total / len(own) / float(scale) ** 2


def _solved(
    layout: _Layout,
    runs: list[LevelFit],
    fit: ClusterFit,
    blocks: Callable[[Sequence[str]], Iterable[LevelFit]],
    draws: int,
) -> FloatArray:
    """Coefficients (draws + 1, columns) by two Gauss-Newton steps from the nominal fit."""
    solutions = np.repeat(fit.coefficients[None], draws + 1, axis=0)
    weights = _weights(layout, runs, fit.coefficients)
    weight = [
        dict(zip(one.points, own, strict=True)) for one, own in zip(runs, weights, strict=True)
    ]
    numbers = _numbers(layout, runs)
    for _ in range(2 if draws else 0):
        sums = DrawSums(fit.whitener, *solutions.shape)
        for one in blocks(layout.names):
            place = layout.names.index(one.configuration)
            own = np.array([weight[place][point] for point in one.points])
            found = [_power_rows(layout, place, one, solutions, own)]
            if layout.places[place][4] >= 0:
                found.append(_fuel_rows(layout, place, one, solutions))
            rows = [
                stratum[point] for stratum in numbers for point in one.points if point in stratum
            ]
            sums.add(rows, *_joined(found))
        solutions[1:] += sums.solve()[1:]
    return solutions


def _numbers(layout: _Layout, runs: list[LevelFit]) -> tuple[dict[str, int], dict[str, int]]:
    """Number of the power row of each point in the joint fit, and of its fuel row."""
    power = [point for one in runs for point in one.points]
    fuel = [
        point
        for one, places in zip(runs, layout.places, strict=True)
        for point, flow in zip(one.points, one.fuel_m3s[0], strict=True)
        if places[4] >= 0 and np.isfinite(flow)
    ]
    return (
        {point: row for row, point in enumerate(power)},
        {point: row for row, point in enumerate(fuel, len(power))},
    )
