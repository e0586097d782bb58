"""The ground roll on the reference day by the handbooks' exponents: cross-check and stand-in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday import takeoff
from stdday.ledger import Chain, said
from stdday.takeoff_roll import Rolls, Wanted, liftoff_ground_ms

if TYPE_CHECKING:
    from stdday.campaign import Campaign
    from stdday.state import State
    from stdday.uncertainty import Draws

__all__ = ["EXPONENT_SIGMA", "by_exponents", "exponents", "own_exponents"]

FloatArray = NDArray[np.float64]

#: Ground roll grows with this power of lift-off airspeed [-], and one sigma, where the rolls do not
#: tell: 2 at constant acceleration, more as thrust falls with airspeed. Common practice.
LIFTOFF_EXPONENT, LIFTOFF_EXPONENT_SIGMA = 2.3, 0.3
#: The same one sigma where V^2 / (S a) of the configuration's own rolls tells the exponent [-].
MEASURED_EXPONENT_SIGMA = 0.1
#: One sigma of each handbook exponent [-]. Common practice.
EXPONENT_SIGMA = {"wind": 0.1, "weight": 0.2, "density": 0.2, "engine_speed": 0.4, "power": 0.15}


def exponents(
    state: State, draws: Draws, sets: dict[str, takeoff.TakeoffExponents], own: bool
) -> dict[str, FloatArray]:
    """Exponent of each ratio, point by point, with draws.

    Parameters
    ----------
    state : State
        Take-offs.
    draws : Draws
        Draws of the correction parameters.
    sets : dict
        Set of exponents for each control of the propeller.
    own : bool
        Whether the owner's exponents of the airplane go before the sets.

    Returns
    -------
    dict of str to ndarray
        ``weight``, ``density``, ``engine_speed`` and ``power`` [-].
    """
    tables = [
        sets[state.campaign.configurations[name].propeller.control]
        for name in state.configurations
    ]
    given = [(own and state.airplane_of(flight).takeoff_exponents) or {}
             for flight in state.flights]  # fmt: skip
    result = {}
    for name in ("weight", "density", "engine_speed", "power"):
        nominal = np.array(
            [float(one.get(name, getattr(table, name)))
             for one, table in zip(given, tables, strict=True)]
        )  # fmt: skip
        spread = draws.normal(f"take-off exponent of {name}", "parameter", [""])
        result[name] = nominal + EXPONENT_SIGMA[name] * spread * (nominal != 0)
    return result


def own_exponents(campaign: Campaign, segments: pd.DataFrame) -> dict[str, FloatArray]:
    """Exponent of ground roll against lift-off airspeed, from each configuration's own rolls.

    Parameters
    ----------
    campaign : Campaign
        Flights and their configurations.
    segments : DataFrame
        Take-offs.

    Returns
    -------
    dict of str to ndarray, shape (points,)
        ``liftoff_exponent`` and ``liftoff_exponent_sigma`` [-].

    Notes
    -----
    Since dS = V dV / a, the exponent at lift-off is V^2 / (S a).
    """
    speed, distance, acceleration = (
        segments[name].to_numpy(dtype=float)
        for name in ("liftoff_ground_speed_ms", "ground_roll_m", "liftoff_acceleration_ms2")
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        own = speed**2 / (distance * acceleration)
    configuration = {flight.id: flight.configuration for flight in campaign.flights}
    names = np.array([configuration[str(flight)] for flight in segments["flight"]])
    nominal = np.full(len(names), LIFTOFF_EXPONENT)
    sigma = np.full(len(names), LIFTOFF_EXPONENT_SIGMA)
    for name in np.unique(names):
        known = own[(names == name) & np.isfinite(own)]
        if known.size >= 3 and 1.8 < np.median(known) < 3.5:
            nominal[names == name] = np.median(known)
            sigma[names == name] = MEASURED_EXPONENT_SIGMA
    return {"liftoff_exponent": nominal, "liftoff_exponent_sigma": sigma}


def _liftoff_exponent(state: State, draws: Draws) -> FloatArray:
    """Exponent of ground roll against lift-off airspeed, with draws."""
    nominal, sigma = state.column("liftoff_exponent"), state.column("liftoff_exponent_sigma")
    both = draws.normal("take-off exponent of airspeed", "parameter", [""])
    each = draws.normal("take-off exponent of airspeed, own", "parameter", state.configurations)
    exponent: FloatArray = nominal + sigma * (both + each) / np.sqrt(2)
    return exponent


def by_exponents(rolls: Rolls, wanted: Wanted, draws: Draws, words: list[str]) -> Chain:
    """Chain of the ground roll by the handbook's exponents.

    Parameters
    ----------
    rolls, wanted, draws, words
        As for `by_model`.

    Returns
    -------
    Chain

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.
    """
    state = rolls.state
    power = exponents(state, draws, takeoff.EXPONENT_SETS, own=True)
    wind = 1.85 + EXPONENT_SIGMA["wind"] * draws.normal(
        "take-off exponent of wind", "parameter", [""]
    )
    at_liftoff = _liftoff_exponent(state, draws)
    chain = rolls.chain("takeoff_ground_roll", "ground roll", "length", "m", "ground_roll_m")
    ground = np.broadcast_to(liftoff_ground_ms(state), rolls.liftoff_ms.shape)
    still = np.asarray(
        takeoff.no_wind_ground_roll_m(chain.values, rolls.headwind_ms, ground, wind)
    )
    level = takeoff.level_runway_ground_roll_m(still, rolls.slope, rolls.liftoff_true_ms)
    tilted = np.asarray(
        takeoff.sloped_runway_ground_roll_m(level, wanted.slope, rolls.liftoff_true_ms)
    )
    speed = (wanted.common_ms / rolls.liftoff_ms) ** at_liftoff
    weight = (wanted.weight_kg / state.weight_kg) ** (power["weight"] - at_liftoff / 2)
    density = (wanted.density_kg_m3 / state.density_kg_m3) ** power["density"]
    turning = wanted.speed_ratio ** power["engine_speed"]
    pulling = wanted.power_ratio ** power["power"]
    handbook = "handbook exponent, AFTR 6273 (1966), from memory"
    inputs = rolls.inputs(wanted, words)
    inputs["common lift-off airspeed"].append(said("exponent", at_liftoff, "none", "-", 2))
    for name, values, source in (
        ("no wind", still, "no-wind form (1 + Vw/Vg)^1.85, AFTR 6273 (1966), from memory"),
        ("runway slope", tilted, "energy of the climb along the runway"),
        ("common lift-off airspeed", tilted * speed,
         "ground roll against airspeed; exponent V^2 / (S a) of the configuration's own rolls"),
        ("weight", tilted * speed * weight,
         "handbook exponent less the part that goes through lift-off airspeed"),
        ("air density", tilted * speed * weight * density, handbook),
        ("engine speed", tilted * speed * weight * density * turning, handbook),
        ("full-throttle power", tilted * speed * weight * density * turning * pulling,
         "handbook exponent; lapse after Gagg and Ferrar (1934), from memory"),
    ):  # fmt: skip
        chain.step(name, values, source, inputs[name])
    return chain
