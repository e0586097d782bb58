"""Climbs to the reference day: geometric, unaccelerated, still air, weight, power, altitude."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday import airspeed, atmosphere, climb
from stdday.ledger import Chain, Reduced, close, in_parts, joined, said
from stdday.state import State, make_state
from stdday.throttle import full_throttle_reference

if TYPE_CHECKING:
    from collections.abc import Sequence

    from stdday.campaign import Campaign
    from stdday.uncertainty import Draws

__all__ = [
    "OwnClimbs",
    "climbs_at_airspeed",
    "drag_parameters",
    "efficiency_growth",
    "reduce_climbs",
]

FloatArray = NDArray[np.float64]

#: Farthest that a climb may be from the common airspeed to be moved to it [m/s] (3 kt).
FARTHEST_MS = 3 * 1852 / 3600
#: One sigma of the assumed propulsive efficiency, shared and of each configuration [-].
EFFICIENCY_SIGMA, EFFICIENCY_OWN_SIGMA = 0.05, 0.03
#: Span efficiency factor and one sigma [-]. Common practice for a light low-wing airplane.
SPAN_EFFICIENCY, SPAN_EFFICIENCY_SIGMA = 0.75, 0.08
#: Exponent with which propulsive efficiency grows with airspeed in a climb, and one sigma [-].
#: Common practice: between the root of airspeed and hardly any growth.
GROWTH, GROWTH_SIGMA = 0.4, 0.2
#: One sigma of the rate of climb that an unmeasured wind gradient adds, as a share of it [-].
UNMEASURED_GRADIENT = 0.03

_FTM = "USNTPS-FTM-108 (1992), climb, from memory"


def drag_parameters(state: State, draws: Draws, phase: int) -> tuple[FloatArray, FloatArray]:
    """Assumed propulsive efficiency and span efficiency of the points, with draws.

    Parameters
    ----------
    state : State
        The points.
    draws : Draws
        Draws of the correction parameters.
    phase : int
        0 for climb, 1 for cruise.

    Returns
    -------
    efficiency : ndarray, shape (draws + 1, points)
        Propulsive efficiency [-].
    span_efficiency : ndarray, shape (draws + 1, 1)
        Span efficiency factor [-].
    """
    nominal = state.airplane(lambda a: a.assumed_efficiency[phase])
    efficiency = (
        nominal
        + EFFICIENCY_SIGMA * draws.normal(f"efficiency {phase}", "parameter", [""])
        + EFFICIENCY_OWN_SIGMA
        * draws.normal(
            f"efficiency {phase} of the configuration", "parameter", state.configurations
        )
    )
    span = SPAN_EFFICIENCY + SPAN_EFFICIENCY_SIGMA * draws.normal(
        "span efficiency", "parameter", [""]
    )
    return efficiency, span


def efficiency_growth(draws: Draws, configurations: Sequence[str]) -> FloatArray:
    """Exponent with which propulsive efficiency grows with airspeed in a climb.

    Parameters
    ----------
    draws : Draws
        Draws of the correction parameters.
    configurations : sequence of str
        Configuration of each point.

    Returns
    -------
    ndarray, shape (draws + 1, points)
        Exponent [-]; never raises.

    Examples
    --------
    >>> from stdday.uncertainty import Draws
    >>> efficiency_growth(Draws(0), ["A", "B"]).tolist()
    [[0.4, 0.4]]
    """
    growth: FloatArray = GROWTH + GROWTH_SIGMA * draws.normal(
        "efficiency in climb", "parameter", configurations
    )
    return growth


def reduce_climbs(
    campaign: Campaign,
    segments: pd.DataFrame,
    draws: Draws,
    slopes: dict[str, float],
    place: int,
) -> list[Reduced]:
    """Correct the climbs through one reference altitude.

    Parameters
    ----------
    campaign : Campaign
        Reference conditions, flights and declared uncertainties.
    segments : DataFrame
        Segments of used climbs through that altitude.
    draws : Draws
        Draws of the errors that scatter cannot show.
    slopes : dict
        From `stdday.throttle.propeller_slopes`.
    place : int
        Position of the altitude among the reference altitudes, from 0.

    Returns
    -------
    list of Reduced
        Rate of climb and climb gradient.

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.
    """
    parts = [_reduced(campaign, part, draws, slopes, place) for part in in_parts(segments)]
    return [joined(same) for same in zip(*parts, strict=True)]


def _reduced(
    campaign: Campaign,
    segments: pd.DataFrame,
    draws: Draws,
    slopes: dict[str, float],
    place: int,
) -> list[Reduced]:
    """Correct some climbs."""
    state = make_state(campaign, segments.reset_index(drop=True), draws)
    altitude = state.reference(lambda r: r.climb_pressure_altitudes_m[place])
    condition_id = f"climb_{place + 1}"
    wanted = np.broadcast_to(state.reference(lambda r: r.climb_airspeed_ms), state.true_ms.shape)
    chain, gradient, _ = _chain(state, draws, slopes, altitude, condition_id, wanted)
    reasons = _reasons(state)
    flights = list(state.frame["flight"])
    method = "check climbs, specific excess power corrected step by step"
    return [
        close(chain, flights, reasons, method, state.conditions()),
        close(gradient, flights, reasons, method),
    ]


def climbs_at_airspeed(
    campaign: Campaign,
    segments: pd.DataFrame,
    draws: Draws,
    slopes: dict[str, float],
    common: bool = False,
) -> OwnClimbs:
    """Correct climbs of any airspeed to the reference day, each at the airspeed it was flown at.

    Parameters
    ----------
    campaign, draws, slopes
        As in `reduce_climbs`.
    segments : DataFrame
        Segments of used climbs through any reference altitude.
    common : bool, optional
        Whether to move them to the common airspeed in place of that.

    Returns
    -------
    OwnClimbs

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.
    """
    state = make_state(campaign, segments.reset_index(drop=True), draws)
    names = state.frame["condition_id"]
    places = np.array([int(str(name).rpartition("_")[2]) - 1 for name in names])
    altitude = np.array(
        [
            campaign.reference_for(state.airplane_of(flight).id).climb_pressure_altitudes_m[place]
            for flight, place in zip(state.flights, places, strict=True)
        ]
    )
    wanted = state.reference(lambda r: r.climb_airspeed_ms)
    speed = np.broadcast_to(wanted, state.true_ms.shape) if common else state.calibrated_ms
    chain, _, power = _chain(state, draws, slopes, altitude, "climbs", speed)
    known = np.isfinite(chain.values[0])
    owners = [state.airplane_of(flight).id for flight in state.flights]
    scale = 1 + campaign.sigma("fuel_flow_scale") * draws.normal("fuel flow", "shared", owners)
    return OwnClimbs(
        tuple(state.frame["point"][known]),
        tuple(state.frame["flight"][known]),
        places[known],
        state.calibrated_ms[:, known],
        chain.values[:, known],
        (state.column("fuel_flow_m3s") * scale)[:, known],
        power[0, known],
    )


@dataclass(frozen=True)
class OwnClimbs:
    """Climbs on the reference day at their own airspeeds; arrays (draws + 1, climbs), SI.

    Parameters
    ----------
    points, flights : tuple of str
        Points and their flights.
    places : ndarray of int, shape (climbs,)
        Position of the reference altitude of each, from 0.
    calibrated_ms, rate_ms, fuel_m3s : ndarray
        Calibrated airspeed, geometric rate of climb at constant calibrated airspeed, and fuel flow.
    power_w : ndarray, shape (climbs,)
        Nominal full-throttle brake power of the reference day [W].
    """

    points: tuple[str, ...]
    flights: tuple[str, ...]
    places: NDArray[np.intp]
    calibrated_ms: FloatArray = field(repr=False)
    rate_ms: FloatArray = field(repr=False)
    fuel_m3s: FloatArray = field(repr=False)
    power_w: FloatArray = field(repr=False)


def _reasons(state: State) -> list[str]:
    reasons = []
    wanted = state.reference(lambda r: r.climb_airspeed_ms)
    for place, flown in enumerate(state.calibrated_ms[0]):
        away = (flown - wanted[place]) * 3600 / 1852
        reason = ""
        if abs(flown - wanted[place]) > FARTHEST_MS:
            reason = (
                f"flown {away:+.1f} kt from the common airspeed; within 3 kt needed"
            )
        elif not np.isfinite(state.weight_kg[0, place]):
            reason = "no take-off weight and no empty weight"
        elif not np.isfinite(state.temperature_k[0, place]):
            reason = "no temperature: neither recorded nor reported"
        reasons.append(reason)
    return reasons


def _excess_power(state: State, draws: Draws, chain: Chain) -> FloatArray:
    """First steps of the chain, to specific excess power as flown [m/s]."""
    rate = np.asarray(
        climb.tapeline_rate_ms(chain.values, state.temperature_k, state.pressure_altitude_m)
    )
    chain.step(
        "geometric rate",
        rate,
        f"T / T_standard, {_FTM}",
        [said("temperature", state.temperature_k, "temperature", "degC")],
    )
    slope = state.true_ms / np.asarray(state.calibrated_ms)
    growth = (
        state.column("indicated_airspeed_rate_ms2") * slope
        + _true_growth(state) * state.column("pressure_altitude_rate_ms")
    ) / state.clock
    energy = np.asarray(climb.energy_rate_ms(rate, state.true_ms, growth))
    chain.step(
        "airspeed change",
        energy,
        f"V dV/dt / g, {_FTM}",
        [said("true airspeed", state.true_ms, "speed", "kt")],
    )
    ground = state.column("ground_speed_rate_ms2") / state.clock
    measured = np.isfinite(ground[0])
    against = growth - np.where(measured, ground, growth)
    unknown = (~measured) * UNMEASURED_GRADIENT * draws.normal("wind gradient", "shared", [""])
    still = energy - np.asarray(climb.wind_gradient_rate_ms(state.true_ms, against))
    chain.step(
        "wind gradient",
        still * (1 + unknown),
        "V/g dW/dt, from true airspeed minus ground speed (AFTR 6273, from memory)",
        [
            said("headwind grows by", against * 60, "speed", "kt", 2),
            [
                "per minute" if known else "per minute: no ground speed, not corrected"
                for known in measured
            ],
        ],
    )
    return chain.values


def _true_growth(state: State) -> FloatArray:
    """Growth of true airspeed for each metre of pressure altitude at constant indicated [1/s]."""
    step = 50.0
    above, below = state.pressure_altitude_m + step, state.pressure_altitude_m - step
    warm = state.temperature_k
    cooler = atmosphere.LAPSE_K_M * step
    true_above = airspeed.true_airspeed_ms(
        state.calibrated_ms, atmosphere.standard_pressure_pa(above), warm + cooler
    )
    true_below = airspeed.true_airspeed_ms(
        state.calibrated_ms, atmosphere.standard_pressure_pa(below), warm - cooler
    )
    growth: FloatArray = (np.asarray(true_above) - np.asarray(true_below)) / (2 * step)
    return growth


def _chain(
    state: State,
    draws: Draws,
    slopes: dict[str, float],
    altitude_m: FloatArray,
    condition_id: str,
    common: FloatArray,
) -> tuple[Chain, Chain, FloatArray]:
    """Chains of rate of climb and climb gradient, and power [W], of the reference day.

    Both are at the calibrated airspeeds `common` [m/s].
    """
    points = list(state.frame["point"])
    chain = Chain(
        "climb_rate",
        condition_id,
        points,
        "rate of climb",
        "vertical_speed",
        "ft/min",
        state.column("pressure_altitude_rate_ms") / state.clock,
    )
    excess = _excess_power(state, draws, chain)
    gravity = atmosphere.GRAVITY_MS2
    weight = state.weight_kg * gravity
    wanted_weight = state.reference(lambda r: r.weight_kg) * gravity
    efficiency, span_efficiency = drag_parameters(state, draws, 0)
    temperature = np.asarray(atmosphere.standard_temperature_k(altitude_m)) + state.reference(
        lambda r: r.temperature_offset_k
    )
    pressure = np.asarray(atmosphere.standard_pressure_pa(altitude_m))
    reference_true = np.asarray(airspeed.true_airspeed_ms(common, pressure, temperature))
    throttle = full_throttle_reference(
        state,
        draws,
        slopes,
        state.true_ms,
        np.broadcast_to(reference_true, weight.shape),
        altitude_m,
        temperature,
        hold_speed=False,
        schedule_airspeed_ms=common[0],
    )
    span = state.airplane(lambda a: a.wing_span_m)
    density, true = state.density_kg_m3, state.true_ms
    drag = (efficiency * throttle.test_power_w - weight * excess) / true
    induced = np.asarray(climb.induced_drag_n(weight, density, true, span, span_efficiency))
    parasite = drag - induced
    heavier = induced * (wanted_weight / weight) ** 2
    chain.step(
        "weight",
        (excess * weight - (heavier - induced) * true) / wanted_weight,
        "inertia and induced drag at the same airspeed (AC 23-8C, from memory)",
        [
            said("flown", state.weight_kg, "mass", "kg", 0),
            said("reference", wanted_weight / gravity, "mass", "kg", 0),
        ],
    )
    at_common = np.asarray(
        airspeed.true_airspeed_ms(common, state.pressure_pa, state.temperature_k)
    )
    faster = at_common / true
    moved = parasite * faster**2 + heavier / faster**2
    grown = faster ** efficiency_growth(draws, state.configurations) - 1
    thrust = efficiency * throttle.test_power_w * grown
    chain.step(
        "common airspeed",
        chain.values - (moved * at_common - (parasite + heavier) * true - thrust) / wanted_weight,
        "parabolic drag with the assumed efficiency, which grows with airspeed to the 0.4 (common "
        "practice)",
        [
            said("flown", state.calibrated_ms, "speed", "kt"),
            said("common", common[0], "speed", "kt"),
        ],
    )
    gained = efficiency * (throttle.reference_power_w - throttle.test_power_w)
    chain.step(
        "full-throttle power of the reference day",
        chain.values + gained / wanted_weight,
        "efficiency x change of brake power / weight (CLB-PWR form, textbook); lapse after "
        "Gagg and Ferrar (1934), from memory",
        [
            said("flown", throttle.test_power_w, "power", "kW"),
            said("reference day", throttle.reference_power_w, "power", "kW"),
            said("engine speed", throttle.test_speed_rps, "angular_speed", "rpm", 0),
            said("reference day", throttle.reference_speed_rps, "angular_speed", "rpm", 0),
            list(throttle.notes),
        ],
    )
    chain.step(
        "reference altitude",
        chain.values - moved * (reference_true - at_common) / wanted_weight,
        "same drag at the same equivalent airspeed, other true airspeed",
        [
            said("flown", state.pressure_altitude_m, "length", "ft", 0),
            said("reference", altitude_m, "length", "ft", 0),
        ],
    )
    factor = np.asarray(climb.acceleration_factor(common, altitude_m, temperature))
    chain.step(
        "constant calibrated airspeed",
        chain.values / factor,
        f"1 + V/g dV/dh, {_FTM}",
        [["; ".join(lines) for lines in state.notes]],
    )
    gradient = Chain(
        "climb_gradient",
        condition_id,
        points,
        "rate of climb",
        "vertical_speed",
        "ft/min",
        chain.values,
    )
    along = np.sqrt(np.maximum(reference_true**2 - chain.values**2, 0))
    gradient.turn_into("climb gradient", "fraction", "%")
    gradient.values = chain.values / along
    return chain, gradient, throttle.reference_power_w
