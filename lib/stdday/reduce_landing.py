"""Landings to the reference day: no wind, reference slope, weight and air, braked as flown."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday import atmosphere, landing
from stdday.landing_habits import habit_columns
from stdday.ledger import Chain, Reduced, close, in_parts, joined, said
from stdday.runways import landed_on, slope_of, surface_differs
from stdday.state import State, make_state
from stdday.takeoff_air import WIND_IN_AIR
from stdday.takeoff_near import PROFILE_EXPONENT, WING_HEIGHT_M
from stdday.takeoff_wind import Headwind, delay_columns, headwind_of

if TYPE_CHECKING:
    from stdday.campaign import Campaign
    from stdday.uncertainty import Draws

__all__ = ["landing_rows", "reduce_landings"]

FloatArray = NDArray[np.float64]

#: Exponent of wind in the ground roll [-], and one sigma: 1.85 by the book, 2 where the
#: deceleration is the same at all speeds.
WIND_EXPONENT, WIND_EXPONENT_SIGMA = 1.85, 0.15
#: Mean deceleration from which on the grip of the tyres is taken to have limited it [m/s^2]: 0.3 g.
GRIP_MS2 = 2.94
#: Exponent of weight in what the deceleration loses with weight, and one sigma [-]: 0 where grip
#: limits it, which grows with weight, 1 where the brakes' torque does; else something between.
GRIP, GRIP_SIGMA = 0.0, 0.25
BETWEEN, BETWEEN_SIGMA = 0.5, 0.3
#: Exponent of weight in the air phase, and one sigma [-]: 0 where pilots keep the path, 1 where
#: the drag is the same at any weight, 2 by the book, with low to moderate confidence.
AIR_EXPONENT, AIR_EXPONENT_SIGMA = 1.0, 0.6
#: Delay of the recorded ground speed, and one sigma [s]: receivers are late, never early.
DELAY_S, DELAY_SIGMA_S = 0.3, 0.3
#: One sigma of what all touchdowns of an installation are found too early or late [s]: the nose,
#: the height and the brakes are taken to behave alike in all landings, and pilots differ.
TOUCHDOWN_SIGMA_S = 0.5
#: Both together [s].
LATE_SIGMA_S = float(np.hypot(DELAY_SIGMA_S, TOUCHDOWN_SIGMA_S))
#: A roll known to less than this share of itself is not stated [-].
WORST_SIGMA = 0.25
#: Farthest from where the recording begins that a landing is on the flight's airfield [m].
FARTHEST_M = 3000.0
#: Weight corrected by more than this share is flagged [-]: what the exponents are good for.
#: Common practice.
FAR_WEIGHT = 0.10
#: Height of the wing over the seconds of the flare in which airspeed and ground speed are compared
#: [m], wind there over that on the ground, and what gusts leave of their mean, one sigma [m/s].
FLARE_HEIGHT_M = 3.0
FLARE_RATIO = float((FLARE_HEIGHT_M / WING_HEIGHT_M) ** PROFILE_EXPONENT)
FLARE_GUST_MS = 0.3
#: Step of a headwind that landings do not need.
NO_JUMP = "static-pressure jump"
#: Step of a headwind whose source landings have of their own.
GRADIENT = "wind gradient"
#: Speed gained from 50 ft to touchdown that the form of the air phase still answers for [m].
LEAST_ENERGY_M = -5.0

_METHOD = "as braked, at the pilots' touchdown airspeeds, step by step"
_FLARE = "wind of the flare brought to the wing on the ground (1/7 power law)"
_NO_SCREEN = "no passing of 50 ft: GPS altitude is missing or too slow"


def landing_rows(segments: pd.DataFrame) -> pd.DataFrame:
    """Landings among segments, with the delay of the airspeed of their flights.

    Parameters
    ----------
    segments : DataFrame
        Segments of all kinds.

    Returns
    -------
    DataFrame
        Rows of landings; ``airspeed_delay_s`` and its sigma are those of the flight's take-offs,
        where these have them.
    """
    rows = segments[segments["kind"] == "landing"]
    names = [f"airspeed_delay{ending}" for ending in ("_s", "_sigma_s")]
    if not set(names) <= set(segments.columns):
        return rows
    known = segments.dropna(subset=names).drop_duplicates("flight").set_index("flight")
    return rows.assign(**{name: rows["flight"].map(known[name]) for name in names})


def reduce_landings(campaign: Campaign, segments: pd.DataFrame, draws: Draws) -> list[Reduced]:
    """Correct every landing to the reference conditions of its airplane.

    Touchdown airspeed and braking are the pilots': nothing makes it a landing of greatest effort.
    How the airspeed changes with weight comes from the landings themselves (`landing_habits`).

    Parameters
    ----------
    campaign : Campaign
        Reference conditions, flights and declared uncertainties.
    segments : DataFrame
        Segments of used landings, from `landing_rows`.
    draws : Draws
        Draws of the errors that scatter cannot show.

    Returns
    -------
    list of Reduced
        Ground roll, and distance from 50 ft; empty without landings.

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.
    """
    if segments.empty:
        return []
    frame = segments.assign(
        pressure_altitude_m=segments["field_pressure_altitude_m"],
        indicated_airspeed_ms=segments["touchdown_indicated_airspeed_ms"],
        static_jump_m=0.0,  # the engine idles
        near_wind_ratio=FLARE_RATIO,
        near_wind_ratio_slope=FLARE_RATIO * np.log(FLARE_HEIGHT_M / WING_HEIGHT_M),
        near_gust_sigma_ms=FLARE_GUST_MS,
        decided_runway=landed_on(campaign, segments),
        **delay_columns(campaign, segments),
    )
    frame = frame.assign(**habit_columns(campaign, frame))
    parts = [_reduced(campaign, part, draws) for part in in_parts(frame)]
    return [joined(same) for same in zip(*parts, strict=True)]


def _reduced(campaign: Campaign, frame: pd.DataFrame, draws: Draws) -> list[Reduced]:
    """Correct some landings."""
    frame = frame.reset_index(drop=True)
    state = make_state(campaign, frame, draws)
    wind = headwind_of(state, draws)
    reasons = _reasons(state, wind.missing)
    roll = _ground_roll(state, draws, wind)
    distance = _distance(state, draws, wind, roll)
    flights = list(frame["flight"])
    flown = {**state.conditions(), "headwind_ms": wind.values_ms[0]}
    # the engine idles: no static-pressure jump to take out
    of_wind = [
        replace(step, sources=[_FLARE] * len(frame)) if step.name == GRADIENT else step
        for step in wind.chain.steps if step.name != NO_JUMP
    ]  # fmt: skip
    steps = [*of_wind, *roll.steps]
    air_reasons = [
        reason or _no_air(state, wind, place) for place, reason in enumerate(reasons)
    ]
    return [
        _tidy(close(replace(roll, steps=steps), flights, reasons, _METHOD, flown)),
        _tidy(close(distance, flights, air_reasons, f"{_METHOD}, plus the air phase", flown)),
    ]


def _tidy(reduced: Reduced) -> Reduced:
    """Leave out ledger rows without a number, such as an airspeed that nobody calibrated."""
    rows = reduced.ledger
    return replace(reduced, ledger=rows[rows["change"].notna()].reset_index(drop=True))


def _chain(state: State, metric: str, quantity: str, values: FloatArray) -> Chain:
    points = list(state.frame["point"])
    return Chain(metric, "landing", points, quantity, "length", "m", values)


def _touchdown_true_ms(state: State, wind: Headwind) -> FloatArray:
    return state.column("touchdown_ground_speed_ms") + wind.values_ms


def _ground_roll(state: State, draws: Draws, wind: Headwind) -> Chain:
    """Chain of the ground roll."""
    ground = state.column("touchdown_ground_speed_ms")
    measured = state.column("landing_roll_m") * state.clock
    chain = _chain(state, "landing_ground_roll", "landing ground roll", measured)
    late = _late_s(state, draws)
    chain.step(
        "delay of the ground speed",
        measured - late * ground,
        "receivers are late by 0.3 +- 0.3 s: common practice; sigma with that of all touchdowns",
        [said("delay", late, "time", "s", 1),
         said("sigma", np.full(len(ground), LATE_SIGMA_S), "time", "s", 1)],
    )  # fmt: skip
    spread = draws.normal("landing exponent of wind", "parameter", [""])
    exponent = WIND_EXPONENT + WIND_EXPONENT_SIGMA * spread
    still = np.asarray(
        landing.no_wind_ground_roll_m(
            chain.values, wind.values_ms, np.broadcast_to(ground, late.shape), exponent
        )
    )
    chain.step(
        "no wind",
        still,
        "no-wind form (1 + Vw/Vg)^1.85, USNTPS-FTM-108 (1992), from memory",
        [said("headwind", wind.values_ms, "speed", "kt"), wind.words, _reckoned(state)],
    )
    _slope_step(state, draws, wind, chain)
    _air_and_weight_steps(state, draws, chain)
    return chain


def _late_s(state: State, draws: Draws) -> FloatArray:
    """Delay of the recorded speed behind the touch of the wheels, as found [s]."""
    names = [flight.installation for flight in state.flights]
    return DELAY_S + LATE_SIGMA_S * draws.normal("delay of the ground speed", "shared", names)


def _reckoned(state: State) -> list[str]:
    """Words for the part of a roll that was not measured."""
    share = state.column("landing_roll_reckoned_m") / state.column("landing_roll_m")
    return [
        f"last {100 * part:.0f} % reckoned from taxi speed on" if part > 0.005 else ""
        for part in share
    ]


def _slope_step(state: State, draws: Draws, wind: Headwind, chain: Chain) -> None:
    true, slope = _touchdown_true_ms(state, wind), slope_of(state, draws)
    level = np.asarray(landing.level_runway_ground_roll_m(chain.values, slope, true))
    wanted = state.reference(lambda r: r.runway_slope)
    chain.step(
        "runway slope",
        np.asarray(landing.sloped_runway_ground_roll_m(level, wanted, true)),
        "energy of the climb along the runway",
        [said("slope", slope, "fraction", "%", 2)],
    )


def _airspeed_exponent(state: State, draws: Draws) -> FloatArray:
    """Exponent of touchdown airspeed against weight, with its draws [-]."""
    airplanes = [state.airplane_of(flight).id for flight in state.flights]
    spread = draws.normal("landing airspeed with weight", "parameter", airplanes)
    return state.column("airspeed_exponent") + state.column("airspeed_exponent_sigma") * spread


def _air_and_weight_steps(state: State, draws: Draws, chain: Chain) -> None:
    rate = state.column("landing_mean_deceleration_ms2")
    grip = rate >= GRIP_MS2
    spread = draws.normal("landing exponent of weight", "parameter", [""])
    lost = np.where(grip, GRIP + GRIP_SIGMA * spread, BETWEEN + BETWEEN_SIGMA * spread)
    exponent = 2.0 * _airspeed_exponent(state, draws) + lost
    limits = ["grip of the tyres" if one else "between grip (0) and brake torque (1)"
              for one in grip]  # fmt: skip
    braked = [f"braking {share:.1f}: {limit}, mean deceleration {value:.1f} m/s^2"
              for share, limit, value in zip(lost[0], limits, rate, strict=True)]  # fmt: skip
    weight, density = _reference_weight(state), _reference_density(state)
    far = np.abs(weight / state.weight_kg[0] - 1) > FAR_WEIGHT
    caution = ["CAUTION: more than 10 % of weight" if one else "" for one in far]
    chain.step(
        "weight",
        chain.values
        * np.asarray(landing.ground_roll_ratio(weight / state.weight_kg, 1.0, exponent)),
        "W^(2 k + n): touchdown airspeed goes with W^k, deceleration with W^-n; with k = 0.5 the "
        "exponent is 2 as in USNTPS-FTM-108 (1992), from memory, or 1 by a constant braking "
        "coefficient",
        [
            said("flown", state.weight_kg, "mass", "kg", 0),
            said("reference", weight, "mass", "kg", 0),
            _habit(state),
            braked,
            caution,
        ],
    )
    chain.step(
        "air density",
        chain.values
        * np.asarray(landing.ground_roll_ratio(1.0, density / state.density_kg_m3, 1.0)),
        "same calibrated touchdown airspeed; USNTPS-FTM-108 (1992), from memory",
        [
            said("flown", state.density_kg_m3, "density", "kg/m^3", 4),
            said("reference", density, "density", "kg/m^3", 4),
            ["; ".join(lines) for lines in state.notes],
        ],
    )


def _habit(state: State) -> list[str]:
    """Words for the exponent of touchdown airspeed against weight."""
    columns = ("airspeed_exponent", "airspeed_exponent_sigma", "airspeed_exponent_words")
    rows = zip(*(state.frame[name] for name in columns), strict=True)
    return [f"touchdown airspeed as weight^{value:.2f}, sigma {sigma:.2f} ({words})"
            for value, sigma, words in rows]  # fmt: skip


def _reference_weight(state: State) -> FloatArray:
    return state.reference(lambda r: r.weight_kg)


def _reference_density(state: State) -> FloatArray:
    """Air density on the reference day [kg/m^3]."""
    altitude = state.reference(lambda r: r.takeoff_pressure_altitude_m)
    standard = np.asarray(atmosphere.standard_temperature_k(altitude))
    temperature = standard + state.reference(lambda r: r.temperature_offset_k)
    pressure = atmosphere.standard_pressure_pa(altitude)
    return np.asarray(atmosphere.density_kg_m3(pressure, temperature))


def _energy_m(state: State, wind: Headwind) -> FloatArray:
    """Energy height of the speed lost between 50 ft and touchdown [m], nominal; NaN if unknown."""
    screen = state.column("height50_ground_speed_ms") + WIND_IN_AIR * wind.values_ms[0]
    return np.asarray(landing.energy_height_m(screen, _touchdown_true_ms(state, wind)[0]))


def _distance(state: State, draws: Draws, wind: Headwind, roll: Chain) -> Chain:
    """Chain of the distance from 50 ft to the stop."""
    metric = "landing_distance_50ft"
    start = state.column("air_distance_m") + state.column("landing_roll_m")
    chain = _chain(state, metric, "landing distance from 50 ft",
                   np.broadcast_to(start * state.clock, roll.values.shape))  # fmt: skip
    # A late ground speed moves touchdown along the way: what the roll loses, the air phase gains.
    air = (state.column("air_distance_m") * state.clock
           + _late_s(state, draws) * state.column("touchdown_ground_speed_ms"))  # fmt: skip
    chain.step("ground roll", air + roll.values,
               "corrected ground roll in place of the measured one",
               [said("ground roll", roll.values, "length", "m", 0)])  # fmt: skip
    time = (state.column("touchdown_s") - state.column("height50_s")) * state.clock
    aloft = WIND_IN_AIR * wind.values_ms
    still = air + aloft * time
    chain.step("no wind in the air phase", still + roll.values,
               "S + Vw t, USNTPS-FTM-108 (1992), from memory; wind aloft 1.2 of that at the wing",
               [said("headwind", aloft, "speed", "kt"),
                said("time", time, "time", "s")])  # fmt: skip
    energy = _energy_m(state, wind)
    energy = np.where(energy >= LEAST_ENERGY_M, energy, np.nan)
    weight = _reference_weight(state) / state.weight_kg
    spread = draws.normal("landing exponent of weight in the air", "parameter", [""])
    ratio = np.asarray(
        landing.air_distance_ratio(
            weight,
            _reference_density(state) / state.density_kg_m3,
            energy,
            AIR_EXPONENT + AIR_EXPONENT_SIGMA * spread,
            _airspeed_exponent(state, draws),
        )
    )
    chain.step("weight and density in the air phase", still * ratio + roll.values,
               "W^(m + 2 k e) rho^e, e = E/(E + 50 ft); m 0 where pilots keep the path, 2 in "
               "USNTPS-FTM-108 (1992), from memory; taken as 1 +- 0.6",
               [said("energy height E", energy, "length", "ft", 0), _habit(state)])  # fmt: skip
    return chain


def _no_air(state: State, wind: Headwind, place: int) -> str:
    """Why a landing carries no distance from 50 ft; empty where it does."""
    if not np.isfinite(state.column("air_distance_m")[place]):
        return _NO_SCREEN
    if not _energy_m(state, wind)[place] >= LEAST_ENERGY_M:
        return "airspeed grew from 50 ft to touchdown: the form of the air phase is not for that"
    return ""


def _reasons(state: State, unknown_wind: list[str]) -> list[str]:
    """Reason of each landing that carries no number; empty for a good one."""
    away, roll = state.column("away_m"), state.column("landing_roll_m")
    sigma = state.column("landing_roll_sigma_m")
    reasons = []
    for place, flight in enumerate(state.flights):
        checks = (
            (away[place] > FARTHEST_M,
             f"landed {away[place] / 1000:.0f} km from where the recording begins: wind, surface "
             "and slope of that field are not in the campaign"),
            (flight.runway == "", "no runway of the airfield lies along the roll"),
            (True, unknown_wind[place]),
            (True, surface_differs(state, flight)),
            (not np.isfinite(state.weight_kg[0, place]), "no take-off weight and no empty weight"),
            (not np.isfinite(state.temperature_k[0, place]),
             "no temperature: neither reported nor carried down from the descent"),
            (sigma[place] > WORST_SIGMA * roll[place],
             f"roll of {roll[place]:.0f} m known to {sigma[place]:.0f} m only"),
        )  # fmt: skip
        reasons.append(next((reason for wrong, reason in checks if wrong and reason), ""))
    return reasons
