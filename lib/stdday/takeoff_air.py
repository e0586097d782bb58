"""Take-off distance to 50 ft: corrected ground roll plus the air phase, corrected by energy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from stdday import takeoff
from stdday.atmosphere import GRAVITY_MS2
from stdday.bands import FOOT_M
from stdday.ledger import Chain, said
from stdday.takeoff_handbook import exponents
from stdday.takeoff_roll import liftoff_ground_ms, liftoff_thrusts

if TYPE_CHECKING:
    from stdday.state import State
    from stdday.takeoff_roll import Rolls, Wanted
    from stdday.uncertainty import Draws

__all__ = ["distance_50ft", "energy_to_50ft_m"]

FloatArray = NDArray[np.float64]

#: Height of the obstacle [m].
HEIGHT_M = 50 * FOOT_M
#: Least share of the height that the energy from lift-off to 50 ft may come to [-]: a pilot who
#: loses more airspeed than that flies a zoom, not a climb.
LEAST_ENERGY = 0.3
#: Wind over that at wing height, mean of the air phase and at 50 ft [-]: one-seventh power law from
#: a wing between 1 and 3 m; and one sigma, as a share of the headwind.
WIND_IN_AIR, WIND_AT_50, WIND_SIGMA = 1.22, 1.32, 0.10
#: Part of the drag in the air phase that is induced, and one sigma [-]. Common practice: about half
#: near the airspeed of least drag, less in ground effect.
INDUCED_SHARE, INDUCED_SIGMA = 0.4, 0.2
#: One sigma of the energy won on the way to 50 ft at the reference weight, as a share of its mean
#: over the flights: a light airplane gains more airspeed on the way. Engineering judgement.
HABIT_SIGMA = 0.08

_MISSING = "no distance to 50 ft: only a slow static altitude, or none, or the recording ends"
_ZOOM = "airspeed lost between lift-off and 50 ft: a zoom, not a climb"


@dataclass(frozen=True)
class _Air:
    """Air phase as flown; arrays (draws + 1, points), SI."""

    still_m: FloatArray
    wind_ms: FloatArray
    time_s: FloatArray
    energy_m: FloatArray


def distance_50ft(
    rolls: Rolls, wanted: Wanted, draws: Draws, roll: Chain, reasons: Sequence[str]
) -> tuple[Chain, list[str]]:
    """Chain of the distance from brake release to 50 ft.

    Parameters
    ----------
    rolls : Rolls
        Take-offs as flown.
    wanted : Wanted
        Reference conditions.
    draws : Draws
        Draws of the correction parameters.
    roll : Chain
        Corrected ground roll.
    reasons : sequence of str
        Why a take-off carries no number; empty for a good one.

    Returns
    -------
    tuple of Chain and list of str
        The chain, and the reason of each refused take-off.

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.

    Notes
    -----
    Air phase without wind: ``S + Vw t``. The excess thrust did the work ``h + V (Vg50 - Vg)/g`` for
    each unit of weight along it: in ground speeds, since airspeed won from the wind's gradient
    costs no work. It is scaled to the reference day through thrust and drag, and does the work
    that the airplane's pilots let it do on the way to 50 ft (``common50_energy_m``): heavier or
    lifted off later, an airplane passes 50 ft at another airspeed, while pilots divide excess
    thrust between climbing and accelerating by habit.
    Where the roll carries no acceleration curve, handbook exponents of the air phase take the
    place of that scaling.
    """
    state = rolls.state
    measured = _column(rolls.state, "distance50_m") * state.clock
    on_ground = rolls.chain("", "", "length", "m", "ground_roll_m").values
    chain = Chain("takeoff_distance_50ft", "takeoff", list(state.frame["point"]),
                  "distance to 50 ft", "length", "m",
                  np.broadcast_to(measured, on_ground.shape))  # fmt: skip
    air = _flown(rolls, draws, chain.values - on_ground)
    corrected = roll.values
    chain.step("ground roll", corrected + chain.values - on_ground,
               "corrected ground roll in place of the measured one",
               [said("ground roll", corrected, "length", "m")])  # fmt: skip
    chain.step("no wind in the air phase", corrected + air.still_m,
               "S + Vw t, AFTR 6273 (1966), from memory; wind aloft by a 1/7 power law",
               [said("headwind", air.wind_ms, "speed", "kt"),
                said("time", air.time_s, "time", "s")])  # fmt: skip
    wanted_m = _column(state, "common50_energy_m")
    habit = 1 + HABIT_SIGMA * draws.normal(
        "energy to 50 ft", "parameter", [state.airplane_of(flight).id for flight in state.flights]
    )
    common = _ratio(wanted_m * habit, air.energy_m)
    chain.step("common share of climb and acceleration", corrected + air.still_m * common,
               "energy from lift-off to 50 ft; the mean of the airplane's take-offs",
               [said("energy height flown", air.energy_m, "length", "m"),
                said("mean", wanted_m, "length", "m")])  # fmt: skip
    factor, words = _scaled(rolls, wanted, draws, air)
    chain.step("weight, air and power in the air phase",
               corrected + air.still_m * common * factor,
               "excess thrust of this take-off, thrust scaled as in the roll, drag with weight",
               [said("air phase", air.still_m * common * factor, "length", "m"),
                words])  # fmt: skip
    return chain, _refusals(measured, common, reasons)


def _refusals(measured: FloatArray, common: FloatArray, reasons: Sequence[str]) -> list[str]:
    """Reason of each take-off without a distance to 50 ft; empty for a good one."""
    known = np.isfinite(measured[0] if measured.ndim > 1 else measured)
    zoom = ~np.isfinite(common[0])
    return [
        reason or ("" if there else _MISSING) or (_ZOOM if lost else "")
        for reason, there, lost in zip(reasons, known, zoom, strict=True)
    ]


def _column(state: State, name: str) -> FloatArray:
    frame = state.frame
    return frame[name].to_numpy(dtype=float) if name in frame else np.full(len(frame), np.nan)


def _flown(rolls: Rolls, draws: Draws, distance_m: FloatArray) -> _Air:
    """Air phase as flown."""
    state = rolls.state
    time = (_column(state, "height50_s") - _column(state, "liftoff_s")) * state.clock
    spread = WIND_SIGMA * draws.normal("wind in the air phase", "parameter", [""])
    wind = rolls.headwind_ms * (WIND_IN_AIR + spread)
    return _Air(distance_m + wind * time, wind, np.broadcast_to(time, wind.shape),
                _energy(rolls, spread))  # fmt: skip


def _energy(rolls: Rolls, spread: FloatArray | float) -> FloatArray:
    """Energy height from lift-off to 50 ft [m], in ground speeds."""
    ground = _column(rolls.state, "height50_ground_speed_ms")
    true50 = ground + rolls.headwind_ms * (WIND_AT_50 + spread)
    won = ground - liftoff_ground_ms(rolls.state)
    return np.asarray(HEIGHT_M + (true50 + rolls.liftoff_true_ms) / 2 * won / GRAVITY_MS2)


def energy_to_50ft_m(rolls: Rolls) -> FloatArray:
    """Energy height that a take-off won from lift-off to 50 ft: height and airspeed together.

    Parameters
    ----------
    rolls : Rolls
        Take-offs as flown.

    Returns
    -------
    ndarray, shape (points,)
        Nominal energy height [m]; NaN where the recording does not tell, or where airspeed was lost
        as in a zoom. Never raises.
    """
    energy = _energy(rolls, 0.0)[0]
    return np.where(energy > LEAST_ENERGY * HEIGHT_M, energy, np.nan)


def _ratio(moved_m: FloatArray, flown_m: FloatArray) -> FloatArray:
    """Ratio of energy heights; NaN where one is too small to be that of a climb."""
    least = LEAST_ENERGY * HEIGHT_M
    good = (flown_m > least) & (moved_m > least)
    return np.where(good, moved_m / np.where(good, flown_m, 1.0), np.nan)


def _scaled(
    rolls: Rolls, wanted: Wanted, draws: Draws, air: _Air
) -> tuple[FloatArray, list[str]]:
    """Air phase on the reference day over that flown [-], and where exponents had to do."""
    state = rolls.state
    had, gives, unfit = liftoff_thrusts(rolls, wanted, draws)
    weight = state.weight_kg * GRAVITY_MS2
    excess = air.energy_m / air.still_m
    heavier = wanted.weight_kg / state.weight_kg
    share = INDUCED_SHARE + INDUCED_SIGMA * draws.normal("induced drag", "parameter", [""])
    drag = (had - weight * excess) * (1 + share * (heavier**2 - 1))
    there = (gives - drag) / (weight * heavier)
    thinner = state.density_kg_m3 / wanted.density_kg_m3  # true airspeed squared at one calibrated
    common = _column(state, "common50_energy_m")
    energy = (HEIGHT_M + (common - HEIGHT_M) * thinner) / common
    model = energy * excess / np.where(there > 0, there, np.nan)
    known = np.array([not reason for reason in unfit])
    return np.where(known, model, _by_exponents(rolls, wanted, draws)), [
        "" if fits else "handbook exponents of the air phase, from memory, low confidence"
        for fits in known
    ]


def _by_exponents(rolls: Rolls, wanted: Wanted, draws: Draws) -> FloatArray:
    """Air phase on the reference day over that flown, by the handbook's exponents [-]."""
    state = rolls.state
    power = exponents(state, draws, takeoff.AIR_EXPONENT_SETS, own=False)
    return np.asarray(
        (wanted.weight_kg / state.weight_kg) ** power["weight"]
        * (wanted.density_kg_m3 / state.density_kg_m3) ** power["density"]
        * wanted.speed_ratio ** power["engine_speed"]
        * wanted.power_ratio ** power["power"]
    )
