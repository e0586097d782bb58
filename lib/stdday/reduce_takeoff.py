"""Take-offs to the reference day: no wind, common lift-off airspeed, weight, air and power."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday import airspeed, units
from stdday.ledger import Chain, Reduced, close, in_parts, joined, said
from stdday.runways import slope_of, surface_differs
from stdday.state import State, make_state
from stdday.takeoff_air import distance_50ft, energy_to_50ft_m
from stdday.takeoff_handbook import by_exponents, own_exponents
from stdday.takeoff_roll import (
    Rolls,
    Wanted,
    by_model,
    liftoff_ground_ms,
    wanted_of,
)
from stdday.takeoff_wind import Headwind, delay_columns, headwind_of
from stdday.uncertainty import Draws

if TYPE_CHECKING:
    from stdday.campaign import Campaign

__all__ = ["CROSS_CHECK", "DISAGREEMENT", "as_flown", "liftoff_by_pilot", "prepared",
           "reduce_takeoffs"]  # fmt: skip

FloatArray = NDArray[np.float64]

#: Farthest that a lift-off may be from the common lift-off airspeed, as a share of it [-].
FARTHEST_LIFTOFF = 0.25
#: Last step of a ground roll: it changes nothing and says what handbook exponents give instead.
CROSS_CHECK = "cross-check by handbook exponents"
#: The two ways disagree where they are farther apart than this share [-]. Common practice: what a
#: handbook's exponents are good for.
DISAGREEMENT = 0.05


def reduce_takeoffs(
    campaign: Campaign, segments: pd.DataFrame, draws: Draws, slopes: dict[str, float]
) -> list[Reduced]:
    """Correct every take-off to the reference conditions of its airplane.

    Parameters
    ----------
    campaign : Campaign
        Reference conditions, flights and declared uncertainties.
    segments : DataFrame
        Segments of used take-offs.
    draws : Draws
        Draws of the errors that scatter cannot show.
    slopes : dict
        From `stdday.throttle.propeller_slopes`.

    Returns
    -------
    list of Reduced
        Ground roll, time to lift-off, distance to 50 ft, lift-off airspeed and static engine speed.

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.
    """
    if segments.empty:
        return []
    frame = prepared(campaign, segments)
    parts = [_reduced(campaign, part, draws, slopes) for part in in_parts(frame)]
    return [joined(same) for same in zip(*parts, strict=True)]


def prepared(campaign: Campaign, segments: pd.DataFrame) -> pd.DataFrame:
    """Take-offs with what the correction needs of all of them together.

    Parameters
    ----------
    campaign : Campaign
        Flights and declared uncertainties.
    segments : DataFrame
        Segments of used take-offs, at least one.

    Returns
    -------
    DataFrame
        For `stdday.state.make_state`, with delays, exponents and the common energy to 50 ft.

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.
    """
    frame = segments.assign(
        power_w=segments["roll_power_w"],
        engine_speed_rps=segments["roll_engine_speed_rps"],
        pressure_altitude_m=segments["field_pressure_altitude_m"],
        indicated_airspeed_ms=segments["liftoff_indicated_airspeed_ms"],
        kind="take-off",
        **own_exponents(campaign, segments),
        **delay_columns(campaign, segments),
    )
    return frame.assign(common50_energy_m=_common50(campaign, frame))


def as_flown(state: State, draws: Draws) -> tuple[Rolls, Headwind]:
    """Take-offs as flown, and where their headwind comes from.

    Parameters
    ----------
    state : State
        Take-offs, of `prepared`.
    draws : Draws
        Draws of the errors that scatter cannot show.

    Returns
    -------
    tuple of Rolls and Headwind

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.
    """
    wind = headwind_of(state, draws)
    true = liftoff_ground_ms(state) + wind.values_ms
    liftoff = np.asarray(
        airspeed.calibrated_airspeed_ms(true, state.pressure_pa, state.temperature_k)
    )
    return Rolls(state, wind.values_ms, true, liftoff, slope_of(state, draws)), wind


def _common50(campaign: Campaign, frame: pd.DataFrame) -> FloatArray:
    """Mean energy height from lift-off to 50 ft of each airplane, over its flights [m]."""
    frame = frame.reset_index(drop=True)
    state = make_state(campaign, frame, Draws(0))
    rolls, _ = as_flown(state, Draws(0))
    table = pd.DataFrame({
        "airplane": [state.airplane_of(flight).id for flight in state.flights],
        "flight": frame["flight"].astype(str),
        "value": energy_to_50ft_m(rolls),
    })  # fmt: skip
    flights = table.groupby(["airplane", "flight"])["value"].mean()
    means = flights.groupby("airplane").mean()
    return table["airplane"].map(means).to_numpy(dtype=float)


def _reduced(
    campaign: Campaign, frame: pd.DataFrame, draws: Draws, slopes: dict[str, float]
) -> list[Reduced]:
    """Correct some take-offs."""
    frame = frame.reset_index(drop=True)
    state = make_state(campaign, frame, draws)
    rolls, wind = as_flown(state, draws)
    wanted = wanted_of(state, draws, slopes, rolls.liftoff_true_ms)
    distance, time, unfit = _both(rolls, wanted, draws, wind)
    reasons = _reasons(state, wind.missing, rolls.liftoff_ms[0], wanted.common_ms)
    flights = list(frame["flight"])
    flown = {**state.conditions(), "headwind_ms": wind.values_ms[0]}
    method = "acceleration model in airspeed, step by step; handbook exponents beside it"
    if all(unfit):
        method = "handbook exponents, step by step"
    air, air_reasons = distance_50ft(rolls, wanted, draws, distance, reasons)
    return [
        _tidy(close(_with_wind(distance, wind), flights, reasons, method, flown)),
        _tidy(close(time, flights, reasons, method)),
        _tidy(close(air, flights, air_reasons, "ground roll plus air phase by energy")),
        _liftoff_airspeed(rolls, flights, reasons),
        _static_engine_speed(state, flights),
    ]


def _both(
    rolls: Rolls, wanted: Wanted, draws: Draws, wind: Headwind
) -> tuple[Chain, Chain, list[str]]:
    """Chains of ground roll and time, by the model where it answers, and why it does not."""
    model, time, unfit = by_model(rolls, wanted, draws, wind.words)
    handbook = by_exponents(rolls, wanted, draws, wind.words)
    by_shape = _time_by_exponents(rolls, wanted, handbook)
    distance = _chosen(model, handbook, unfit)
    distance.step(
        CROSS_CHECK,
        distance.values,
        "exponents of the campaign, else AFTR 6273 (1966), from memory; the value is left as it is",
        [_compared(model.values[0], handbook.values[0], unfit)],
    )
    return distance, _chosen(time, by_shape, unfit), unfit


def _chosen(first: Chain, second: Chain, unfit: Sequence[str]) -> Chain:
    """The first chain where it answers, else the second; both take the same steps."""
    use = np.array([not reason for reason in unfit])
    steps = [
        replace(
            mine,
            before=np.where(use, mine.before, other.before),
            after=np.where(use, mine.after, other.after),
            sources=[(mine if fits else other).sources[place] for place, fits in enumerate(use)],
            inputs=[(mine if fits else other).inputs[place] for place, fits in enumerate(use)],
        )
        for mine, other in zip(first.steps, second.steps, strict=True)
    ]
    return replace(first, values=np.where(use, first.values, second.values), steps=steps)


def _compared(model_m: FloatArray, handbook_m: FloatArray, unfit: Sequence[str]) -> list[str]:
    """Words for what the handbook's exponents give beside the model."""
    words = []
    for mine, other, reason in zip(model_m, handbook_m, unfit, strict=True):
        if reason:
            words.append(reason)
            continue
        off = other / mine - 1
        text = f"handbook exponents {other:.1f} m, {100 * off:+.1f} %"
        words.append(
            text + "; CAUTION: they disagree by more than 5 %" if abs(off) > DISAGREEMENT else text
        )
    return words


def _time_by_exponents(rolls: Rolls, wanted: Wanted, handbook: Chain) -> Chain:
    """Time to lift-off by the shape of the measured roll: the handbook has no exponents of time."""
    state = rolls.state
    chain = rolls.chain("takeoff_time_to_liftoff", "time to lift-off", "time", "s",
                        "time_to_liftoff_s")  # fmt: skip
    measured = rolls.chain("takeoff_ground_roll", "ground roll", "length", "m", "ground_roll_m")
    shape = chain.values * liftoff_ground_ms(state) / measured.values
    final = shape * handbook.values / wanted.true_ms
    for number, step in enumerate(handbook.steps):
        last = number == len(handbook.steps) - 1
        chain.step(
            step.name,
            final if last else chain.values,
            "shape x corrected ground roll / lift-off true airspeed, all at the last step",
            [said("corrected ground roll", handbook.values, "length", "m")] if last else [],
        )
    return chain


def _with_wind(distance: Chain, wind: Headwind) -> Chain:
    """Put the ledger of the headwind before that of the ground roll."""
    return replace(distance, steps=[*wind.chain.steps, *distance.steps])


def _tidy(reduced: Reduced) -> Reduced:
    """Leave out ledger rows without a number, such as an airspeed that nobody calibrated."""
    rows = reduced.ledger
    return replace(reduced, ledger=rows[rows["change"].notna()].reset_index(drop=True))


def _reasons(
    state: State, unknown_wind: list[str], liftoff_ms: FloatArray, common_ms: FloatArray
) -> list[str]:
    """Reason of each take-off that carries no number; empty for a good one."""
    reasons = []
    for place, flight in enumerate(state.flights):
        away = liftoff_ms[place] / common_ms[place] - 1
        checks = (
            (True, unknown_wind[place]),
            (True, surface_differs(state, flight)),
            (not np.isfinite(state.weight_kg[0, place]), "no take-off weight and no empty weight"),
            (
                not np.isfinite(state.temperature_k[0, place]),
                "no temperature: neither reported nor carried down from a climb",
            ),
            (
                abs(away) > FARTHEST_LIFTOFF,
                f"lift-off at {units.from_si(liftoff_ms, 'kt', 'speed')[place]:.0f} kt is "
                f"{100 * away:+.0f} % from the common lift-off airspeed; 25 % at most",
            ),
        )
        reasons.append(next((reason for wrong, reason in checks if wrong and reason), ""))
    return reasons


def _liftoff_airspeed(rolls: Rolls, flights: list[str], reasons: list[str]) -> Reduced:
    points = list(rolls.state.frame["point"])
    chain = Chain("liftoff_airspeed", "takeoff", points, "lift-off airspeed", "speed", "kt",
                  rolls.liftoff_ms)  # fmt: skip
    return close(chain, flights, reasons, "ground speed at lift-off plus headwind")


def _static_engine_speed(state: State, flights: list[str]) -> Reduced:
    speed = state.column("static_engine_speed_rps")
    chain = Chain(
        "static_engine_speed",
        "takeoff",
        list(state.frame["point"]),
        "static engine speed",
        "angular_speed",
        "rpm",
        np.broadcast_to(speed, state.power_w.shape),
    )
    reasons = ["" if np.isfinite(value) else "no engine speed before the roll" for value in speed]
    return close(chain, flights, reasons, "engine speed before the roll")


def liftoff_by_pilot(campaign: Campaign, reduced: Sequence[Reduced]) -> pd.DataFrame:
    """Lift-off airspeed of each pilot, and how far it scatters.

    Parameters
    ----------
    campaign : Campaign
        Flights and their pilots.
    reduced : sequence of Reduced
        Corrected points; those of ``liftoff_airspeed`` are used.

    Returns
    -------
    DataFrame
        One row a pilot and configuration: ``pilot``, ``configuration``, ``take_offs``, ``mean_ms``
        and ``sd_ms`` (NaN for one take-off), calibrated airspeeds [m/s]; empty without take-offs.
    """
    flights = {flight.id: flight for flight in campaign.flights}
    rows = [
        (flights[name].pilot or "", flights[name].configuration, float(value))
        for item in reduced
        if item.metric == "liftoff_airspeed"
        for name, value in zip(item.flights, item.values[0], strict=True)
    ]
    table = pd.DataFrame(rows, columns=["pilot", "configuration", "value"])
    grouped = table.groupby(["pilot", "configuration"], sort=True)["value"]
    return grouped.agg(take_offs="size", mean_ms="mean", sd_ms="std").reset_index()
