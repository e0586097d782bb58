"""Level runs to one curve of power against airspeed for each configuration.

Points are reduced to reference weight and sea-level density; power = A V^3 + B / V is fitted to
power itself, robustly, with one random offset a flight; speed and fuel at the reference powers are
read from it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from stdday import atmosphere, climb, engine, level
from stdday.errors import InputError
from stdday.ledger import Chain, Reduced, close, in_order, in_parts, joined, said
from stdday.reduce_climb import drag_parameters
from stdday.state import State, make_state
from stdday.statistics import ClusterFit, cluster_fit

if TYPE_CHECKING:
    from collections.abc import Mapping

    from stdday.campaign import Airplane, Campaign, Reference
    from stdday.uncertainty import Draws

__all__ = ["Cruise", "LevelFit", "cruise_at", "reduce_levels"]

FloatArray = NDArray[np.float64]

#: Largest energy step, as a share of brake power [-]; beyond it a run was not level and steady.
LARGEST_ENERGY_STEP = 0.05
#: A reference power, and the equivalent airspeed it gives, may lie this far outside of what was
#: flown [-].
RANGE_MARGIN = 0.03
#: One sigma of fuel flow that a straight line against power leaves, as a share of it [-]: mixture
#: gets richer near full throttle, at another power on another day. Common practice.
FUEL_SHAPE_SIGMA = 0.015
#: One sigma of the change of propulsive efficiency on the way to the reference day, as a share of
#: the change of power (weight, density) that the reduction makes [-]: the reduction takes it as
#: the same at both, which no propeller keeps. Common practice.
EFFICIENCY_CHANGE_SIGMA = 0.05
#: Airspeed [m/s] and fuel flow [m^3/s] that scale the columns of the fit.
SPEED_UNIT_MS, FUEL_UNIT_M3S = 50.0, 1e-5


#: Runs times draws that are fitted at once [-]: so much of the design is in memory.
CELLS_AT_ONCE = 100_000


@dataclass(frozen=True)
class LevelFit:
    """Level speed, power and fuel of one configuration.

    Parameters
    ----------
    configuration : str
        Configuration.
    rated_power_w : float
        Rated power, unit of the fit's powers [W].
    points, flights : tuple of str
        Points of the fit, and their flights.
    speed_ms, power_w : ndarray, shape (draws + 1, points); once fitted, shape (1, points)
        True airspeed and brake power reduced to reference weight and sea-level density.
    brake_power_w, fuel_m3s : ndarray, shape (draws + 1, points); once fitted, shape (1, points)
        Brake power and fuel flow as flown (scale errors in the draws).
    equivalent_ms : ndarray, shape (points,)
        Equivalent airspeed as flown [m/s].
    coefficients : ndarray, shape (draws + 1, 4 or 2)
        Cubic and inverse coefficient of power, intercept and slope of fuel flow, all scaled.
    fit : ClusterFit or None
        The fit; None from a single flight.
    weights : ndarray, shape (points,)
        Robust weight of each point in the power curve [-].
    reason : str
        Why there is no curve; empty where there is one.
    """

    configuration: str
    rated_power_w: float
    points: tuple[str, ...] = ()
    flights: tuple[str, ...] = ()
    speed_ms: FloatArray = field(default_factory=lambda: np.empty((1, 0)), repr=False)
    power_w: FloatArray = field(default_factory=lambda: np.empty((1, 0)), repr=False)
    brake_power_w: FloatArray = field(default_factory=lambda: np.empty((1, 0)), repr=False)
    fuel_m3s: FloatArray = field(default_factory=lambda: np.empty((1, 0)), repr=False)
    equivalent_ms: FloatArray = field(default_factory=lambda: np.empty(0), repr=False)
    coefficients: FloatArray = field(default_factory=lambda: np.empty((1, 0)), repr=False)
    fit: ClusterFit | None = field(default=None, repr=False)
    weights: FloatArray = field(default_factory=lambda: np.empty(0), repr=False)
    reason: str = ""

    @property
    def has_fuel(self) -> bool:
        """Whether fuel flow was fitted too."""
        return bool(self.coefficients.shape[1] == 4)


@dataclass(frozen=True)
class Cruise:
    """Level flight at one reference power; arrays have shape (draws + 1,).

    Parameters
    ----------
    values : dict of str to ndarray
        True airspeed [m/s], fuel flow [m^3/s] and specific range [m/m^3] by metric name.
    gradients : dict of str to ndarray
        Derivative of each by the coefficients of the fit, at the nominal fit.
    status, reason : str
        ``ok`` or ``not reachable``, and why.
    """

    values: dict[str, FloatArray]
    gradients: dict[str, FloatArray]
    status: str = "ok"
    reason: str = ""


def reduce_levels(
    campaign: Campaign,
    segments: pd.DataFrame,
    draws: Draws,
    known: Mapping[str, LevelFit] | None = None,
) -> tuple[list[Reduced], dict[str, LevelFit]]:
    """Reduce level runs and fit each configuration's curve of power against airspeed.

    Parameters
    ----------
    campaign : Campaign
        Reference conditions, flights and declared uncertainties.
    segments : DataFrame
        Segments of used level runs.
    draws : Draws
        Draws of the errors that scatter cannot show.
    known : mapping of str to LevelFit, optional
        Curves of the same runs under other draws, whose nominal fit need not be found again.

    Returns
    -------
    reduced : list of Reduced
        Reduced power and airspeed of every run, with the ledger and the runs set aside.
    fits : dict of str to LevelFit
        Curve of each configuration.

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.
    """
    if segments.empty:
        return [], {}
    flown = {flight.id: flight.configuration for flight in campaign.flights}
    configurations = segments["flight"].map(flown)
    parts: list[list[Reduced]] = []
    fits = {}
    for name in campaign.configurations:  # one after the other, so that memory holds one
        runs: list[LevelFit] = []
        for part in in_parts(segments[configurations == name]):
            found, own = _reduced(campaign, part, draws, name)
            parts.append(found)
            runs += own
        if runs:
            fits[name] = _fit(_together(runs), (known or {}).get(name))
    order = list(segments["point"])
    return [in_order(joined(same), order) for same in zip(*parts, strict=True)], fits


def _reduced(
    campaign: Campaign, segments: pd.DataFrame, draws: Draws, configuration: str
) -> tuple[list[Reduced], list[LevelFit]]:
    """Reduce some level runs of a configuration; those that carry a value, still to be fitted.

    Of the reduced runs only the nominal values are kept: the draws are in what is to be fitted.
    """
    state = make_state(campaign, segments.reset_index(drop=True), draws)
    power, speed, reasons = _indices(state, draws)
    flights = list(state.frame["flight"])
    method = "P sqrt(sigma) (Ws/Wt)^1.5 against V sqrt(sigma) (Ws/Wt)^0.5"
    reduced = [
        close(power, flights, reasons, method, state.conditions()),
        close(speed, flights, reasons, method),
    ]
    rows = [
        place
        for place, point in enumerate(power.points)
        if point not in reduced[0].refused and point not in reduced[1].refused
    ]
    runs = [_runs(state, configuration, rows, power.values, speed.values, draws)] if rows else []
    return [replace(one, values=one.values[:1].copy()) for one in reduced], runs


def _indices(state: State, draws: Draws) -> tuple[Chain, Chain, list[str]]:
    """Chains of reduced power and reduced airspeed, and the reason of each refused run."""
    points = list(state.frame["point"])
    weight, wanted = state.weight_kg, state.reference(lambda r: r.weight_kg)
    ratio = state.density_kg_m3 / atmosphere.SEA_LEVEL_DENSITY_KG_M3
    power = Chain(
        "cruise_true_airspeed", "cruise", points, "brake power", "power", "kW", state.power_w
    )
    rate = np.asarray(
        climb.tapeline_rate_ms(
            state.column("pressure_altitude_rate_ms") / state.clock,
            state.temperature_k,
            state.pressure_altitude_m,
        )
    )
    efficiency, _ = drag_parameters(state, draws, 1)
    stored = level.energy_power_w(
        weight * atmosphere.GRAVITY_MS2,
        rate,
        state.true_ms,
        state.column("indicated_airspeed_rate_ms2")
        / state.clock
        * state.true_ms
        / state.calibrated_ms,
    )
    energy = np.asarray(stored) / efficiency
    power.step(
        "energy",
        power.values - energy,
        "W (dh/dt + V/g dV/dt) over the assumed efficiency, textbook",
        [said("efficiency", efficiency, "fraction", "%", 0)],
    )
    power.turn_into("reduced power", "power", "kW")
    power.step(
        "reference weight, sea-level density",
        np.asarray(level.power_index_w(power.values, ratio, weight, wanted))
        * _efficiency_change(state, draws),
        "P sqrt(sigma) (Ws/Wt)^1.5, AFTR 6273 (1966), from memory",
        [
            said("density ratio", ratio, "none", "-", 4),
            said("flown", weight, "mass", "kg", 0),
            ["; ".join(lines) for lines in state.notes],
        ],
    )
    indicated = np.broadcast_to(state.column("indicated_airspeed_ms"), weight.shape)
    speed = Chain("cruise_true_airspeed", "cruise", points, "airspeed", "speed", "kt", indicated)
    speed.step("calibrated", state.calibrated_ms, "owner's table, or none")
    speed.step(
        "true",
        state.true_ms,
        "pitot equation with recorded temperature (NACA 1135)",
        [
            said("pressure altitude", state.pressure_altitude_m, "length", "ft", 0),
            said("temperature", state.temperature_k, "temperature", "degC"),
        ],
    )
    speed.turn_into("reduced airspeed", "speed", "kt")
    speed.step(
        "reference weight, sea-level density",
        np.asarray(level.airspeed_index_ms(state.true_ms, ratio, weight, wanted)),
        "V sqrt(sigma) (Ws/Wt)^0.5, AFTR 6273 (1966)",
        [],
    )
    return power, speed, _reasons(state, energy)


def _efficiency_change(state: State, draws: Draws) -> FloatArray:
    """Draws of what propulsive efficiency changes between the flown and the reference state [-]."""
    altitude = state.reference(lambda r: r.cruise_pressure_altitude_m)
    density = np.asarray(atmosphere.standard_density_kg_m3(altitude))
    moved = 1.5 * np.log(
        state.reference(lambda r: r.weight_kg) / state.weight_kg[0]
    ) + 0.5 * np.log(state.density_kg_m3[0] / density)
    spread = draws.normal("efficiency change", "parameter", state.configurations)
    change: FloatArray = 1 + EFFICIENCY_CHANGE_SIGMA * moved * spread
    return change


def _reasons(state: State, energy_w: FloatArray) -> list[str]:
    reasons = []
    for place in range(len(state.flights)):
        share = abs(energy_w[0, place]) / state.power_w[0, place]
        reason = ""
        if not np.isfinite(state.power_w[0, place]):
            reason = "no brake power: neither logged nor from fuel flow"
        elif not np.isfinite(state.weight_kg[0, place]):
            reason = "no take-off weight and no empty weight"
        elif not np.isfinite(state.temperature_k[0, place]):
            reason = "no temperature: neither recorded nor reported"
        elif share > LARGEST_ENERGY_STEP:
            reason = f"energy step is {100 * share:.0f} % of power; at most 5 % allowed"
        reasons.append(reason)
    return reasons


def _runs(
    state: State,
    configuration: str,
    rows: list[int],
    power_w: FloatArray,
    speed_ms: FloatArray,
    draws: Draws,
) -> LevelFit:
    """Level runs of one configuration, out of all of a state, still to be fitted."""
    flights = tuple(state.flights[place].id for place in rows)
    rated = float(state.airplane(lambda a: a.rated_power_w)[rows[0]])
    names = [state.airplane_of(state.flights[place]).id for place in rows]
    scale = (
        1
        + state.campaign.sigma("fuel_flow_scale") * draws.normal("fuel flow", "shared", names)
        + FUEL_SHAPE_SIGMA
        * draws.normal("fuel flow against power", "configuration", [configuration] * len(rows))
    )
    return LevelFit(
        configuration,
        rated,
        tuple(state.frame["point"].iloc[place] for place in rows),
        flights,
        speed_ms[:, rows],
        power_w[:, rows],
        state.power_w[:, rows],
        state.column("fuel_flow_m3s")[rows] * scale,
        (state.true_ms * np.sqrt(state.density_kg_m3 / atmosphere.SEA_LEVEL_DENSITY_KG_M3))[
            0, rows
        ],
    )


def _together(runs: list[LevelFit]) -> LevelFit:
    """Put runs of one configuration together that were reduced in parts; `runs` is emptied."""
    if len(runs) == 1:
        return runs.pop()
    names = ("speed_ms", "power_w", "brake_power_w", "fuel_m3s")
    parts = {name: [getattr(one, name) for one in runs] for name in names}
    whole = replace(
        _some(runs[0], []),
        points=tuple(point for one in runs for point in one.points),
        flights=tuple(flight for one in runs for flight in one.flights),
        equivalent_ms=np.concatenate([one.equivalent_ms for one in runs]),
    )
    runs.clear()  # and the parts of each array are let go as soon as it is whole
    speed, power, brake, fuel = (np.concatenate(parts.pop(name), axis=1) for name in names)
    return replace(whole, speed_ms=speed, power_w=power, brake_power_w=brake, fuel_m3s=fuel)


def _fit(runs: LevelFit, known: LevelFit | None) -> LevelFit:
    """Fit power and fuel flow to runs, with a reason in place of a curve where they carry none.

    `known` is a curve of the same runs under other draws, whose nominal fit is the same. Of the
    runs only the nominal values are kept: their draws are in the coefficients.
    """
    nominal = _some(runs, [0])
    if len(runs.points) < 3:
        count = len(runs.points)
        return replace(nominal, reason=f"{count} level runs; 3 at different powers are needed")
    try:
        fit, coefficients = _fitted(runs, known if known and known.points == runs.points else None)
    except InputError as error:
        return replace(nominal, reason=f"no curve through these runs: {error}")
    weights = fit.weights[: len(runs.points)]
    return replace(nominal, coefficients=coefficients, fit=fit, weights=weights)


def _design(found: LevelFit) -> tuple[FloatArray, FloatArray, list[str], list[str]]:
    """Scaled design (draws + 1, rows, columns), response (draws + 1, rows), flights and strata."""
    ratio = found.speed_ms / SPEED_UNIT_MS
    power = found.power_w / found.rated_power_w
    curve = np.stack([ratio**3, 1 / ratio], axis=-1)
    guess = np.linalg.lstsq(curve[0], power[0], rcond=None)[0]
    expected = curve[0] @ guess
    curve, power = curve / expected[:, None], power / expected
    fuel = np.isfinite(found.fuel_m3s[0])
    if fuel.sum() < 3:
        return curve, power, list(found.flights), ["speed"] * len(found.flights)
    brake = found.brake_power_w[:, fuel] / found.rated_power_w
    flow = found.fuel_m3s[:, fuel] / FUEL_UNIT_M3S
    line = np.stack([np.ones_like(brake), brake], axis=-1)
    guess = np.linalg.lstsq(line[0], flow[0], rcond=None)[0]
    expected = line[0] @ guess
    line, flow = line / expected[:, None], flow / expected
    count, more = curve.shape[1], line.shape[1]
    design = np.zeros((len(curve), count + more, 4))
    design[:, :count, :2], design[:, count:, 2:] = curve, line
    flights = list(found.flights) + [
        flight for flight, known in zip(found.flights, fuel, strict=True) if known
    ]
    return (
        design,
        np.concatenate([power, flow], axis=1),
        flights,
        ["speed"] * count + ["fuel"] * more,
    )


def _fitted(runs: LevelFit, known: LevelFit | None) -> tuple[ClusterFit, FloatArray]:
    """Nominal fit, and coefficients (draws + 1, columns) with its weights."""
    design, response, flights, strata = _design(_some(runs, [0]))
    fit = (known.fit if known else None) or cluster_fit(design[0], response[0], flights, strata)
    whitening = sparse.csr_array(fit.whitening)  # nothing outside of each flight's block
    count, rows = len(runs.speed_ms), len(response[0])
    parts = np.array_split(np.arange(count), -(-count * rows // CELLS_AT_ONCE))
    coefficients = np.concatenate(
        [_solved(whitening, *_design(_some(runs, [0, *part]))[:2])[1:] for part in parts]
    )
    if coefficients[0, 0] <= 0 or coefficients[0, 1] <= 0:
        raise InputError("the fitted drag is not positive (fly a wider range of powers)")
    return fit, coefficients


def _some(found: LevelFit, draws: list[int]) -> LevelFit:
    """Keep some of the draws."""
    return replace(
        found,
        speed_ms=found.speed_ms[draws],
        power_w=found.power_w[draws],
        brake_power_w=found.brake_power_w[draws],
        fuel_m3s=found.fuel_m3s[draws],
    )


def _solved(
    whitening: sparse.csr_array, design: FloatArray, response: FloatArray
) -> FloatArray:
    """Coefficients (draws, columns) of weighted least squares, draw by draw."""
    draws, rows, columns = design.shape
    flat = whitening @ design.transpose(1, 0, 2).reshape(rows, draws * columns)
    x = np.ascontiguousarray(flat.reshape(rows, draws, columns).transpose(1, 2, 0))
    y = np.ascontiguousarray((whitening @ response.T).T)[..., None]
    solved: FloatArray = np.linalg.solve(x @ x.transpose(0, 2, 1), x @ y)[..., 0]
    return solved


def cruise_at(found: LevelFit, airplane: Airplane, reference: Reference, fraction: float) -> Cruise:
    """Level flight of a configuration at a share of rated power, on the reference day.

    Parameters
    ----------
    found : LevelFit
        The configuration's curve.
    airplane : Airplane
        Its airplane.
    reference : Reference
        Reference conditions.
    fraction : float
        Share of rated power [-].

    Returns
    -------
    Cruise
        ``not reachable`` where the power is outside of what the throttle gives or was flown.
    """
    altitude = reference.cruise_pressure_altitude_m
    temperature = float(atmosphere.standard_temperature_k(altitude)) + (
        reference.temperature_offset_k
    )
    pressure = atmosphere.standard_pressure_pa(altitude)
    ratio = float(atmosphere.density_kg_m3(pressure, temperature)) / (
        atmosphere.SEA_LEVEL_DENSITY_KG_M3
    )
    index = fraction * found.rated_power_w * np.sqrt(ratio)
    values = _at(found.coefficients, found, index, fraction, ratio)
    most = float(engine.full_throttle_ratio(pressure, temperature))
    if airplane.induction == "turbocharged":
        most = 1.0
    reason = _not_reachable(found, fraction, most, float(values["cruise_true_airspeed"][0]), ratio)
    if reason:
        return Cruise({}, {}, "not reachable", reason)
    step = 1e-5 * np.abs(found.coefficients[0])
    gradients: dict[str, list[float]] = {name: [] for name in values}
    for column, size in enumerate(step):
        shifted = np.repeat(found.coefficients[:1], 2, axis=0)
        shifted[:, column] += np.array([size, -size])
        for name, pair in _at(shifted, found, index, fraction, ratio).items():
            gradients[name].append(float(pair[0] - pair[1]) / (2 * size))
    return Cruise(values, {name: np.array(slopes) for name, slopes in gradients.items()})


def _not_reachable(
    found: LevelFit, fraction: float, most: float, true_ms: float, ratio: float
) -> str:
    """Why a share of rated power cannot be answered for; empty where it can."""
    flown = found.brake_power_w[0] / found.rated_power_w
    low, high = flown.min(), flown.max()
    slow, fast = found.equivalent_ms.min(), found.equivalent_ms.max()
    equivalent = true_ms * np.sqrt(ratio)
    if fraction > most:
        return f"full throttle gives {100 * most:.0f} % of rated power at that altitude"
    if not low * (1 - RANGE_MARGIN) <= fraction <= high * (1 + RANGE_MARGIN):
        return f"flown from {100 * low:.0f} to {100 * high:.0f} % of rated power"
    if not slow * (1 - RANGE_MARGIN) <= equivalent <= fast * (1 + RANGE_MARGIN):
        ends = [value * 3600 / 1852 for value in (equivalent, slow, fast)]
        return (
            f"at the reference weight it lies at {ends[0]:.0f} kt equivalent airspeed; flown from "
            f"{ends[1]:.0f} to {ends[2]:.0f} kt"
        )
    return ""


def _at(
    coefficients: FloatArray, found: LevelFit, index_w: float, fraction: float, ratio: float
) -> dict[str, FloatArray]:
    """Metrics at one reduced power, one value for each row of coefficients."""
    cubic = coefficients[:, 0] * found.rated_power_w / SPEED_UNIT_MS**3
    inverse = coefficients[:, 1] * found.rated_power_w * SPEED_UNIT_MS
    physical = (cubic > 0) & (inverse > 1)
    true = np.asarray(
        level.airspeed_for_power_ms(
            index_w, np.where(physical, cubic, np.nan), np.where(physical, inverse, np.nan)
        )
    ) / np.sqrt(ratio)
    values = {"cruise_true_airspeed": true}
    if found.has_fuel:
        flow = FUEL_UNIT_M3S * (coefficients[:, 2] + coefficients[:, 3] * fraction)
        values["fuel_flow"] = flow
        values["specific_range"] = true / flow
    return values


def curve_power_w(found: LevelFit, speed_ms: FloatArray) -> FloatArray:
    """Fitted power at reduced airspeeds.

    Parameters
    ----------
    found : LevelFit
        A configuration's fit.
    speed_ms : ndarray, any shape
        Reduced airspeed [m/s].

    Returns
    -------
    ndarray
        Reduced power [W].
    """
    ratio = speed_ms / SPEED_UNIT_MS
    cubic, inverse = found.coefficients[0, :2]
    result: FloatArray = found.rated_power_w * (cubic * ratio**3 + inverse / ratio)
    return result
