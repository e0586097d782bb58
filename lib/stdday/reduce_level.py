"""Level runs to reduced power and airspeed, and to one model for each airplane.

Points are reduced to reference weight and sea-level density; `stdday.airplane_model` fits them.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday import airspeed, atmosphere, blade, climb, level
from stdday.airplane_model import fit_airplane, with_draws
from stdday.ledger import Chain, Reduced, close, in_order, in_parts, joined, said
from stdday.level_fit import Cruise, LevelFit, cruise_at, curve_power_w
from stdday.reduce_climb import drag_parameters
from stdday.state import State, make_state
from stdday.throttle import governed_speed_rps

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from stdday.campaign import Campaign
    from stdday.uncertainty import Draws

__all__ = ["Cruise", "LevelFit", "cruise_at", "curve_power_w", "reduce_levels"]

FloatArray = NDArray[np.float64]

#: Largest energy step, as a share of brake power [-]; beyond it a run was not level and steady.
LARGEST_ENERGY_STEP = 0.05
#: One sigma of fuel flow that a straight line against power leaves, as a share of it [-]: mixture
#: gets richer near full throttle, at another power on another day. Common practice.
FUEL_SHAPE_SIGMA = 0.015
#: One sigma of the change of propulsive efficiency on the way to the reference day, as a share of
#: the change of power (weight, density) that the reduction makes [-]: tip Mach number and cooling
#: drag do not scale with it. Common practice.
EFFICIENCY_CHANGE_SIGMA = 0.03
#: One sigma of the power that blades lose to the drag of their sections, as a share of it [-].
PROFILE_SIGMA = 0.5


def reduce_levels(
    campaign: Campaign,
    segments: pd.DataFrame,
    draws: Draws,
    known: Mapping[str, LevelFit] | None = None,
) -> tuple[list[Reduced], dict[str, LevelFit]]:
    """Reduce level runs and fit power against airspeed, airplane by airplane.

    Parameters
    ----------
    campaign : Campaign
        Reference conditions, flights and declared uncertainties.
    segments : DataFrame
        Segments of used level runs.
    draws : Draws
        Draws of the errors that scatter cannot show.
    known : mapping of str to LevelFit, optional
        Curves of the same runs under other draws: their nominal fits are solved again for these
        draws, and no run is reported again.

    Returns
    -------
    reduced : list of Reduced
        Reduced power and airspeed of every run, with the ledger and the runs set aside; none
        where fits are known.
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
    fits: dict[str, LevelFit] = {}
    for airplane in dict.fromkeys(one.airplane for one in campaign.configurations.values()):
        own = {
            name: in_parts(segments[configurations == name])
            for name, one in campaign.configurations.items()
            if one.airplane == airplane
        }
        nominal = {name: known[name] for name in own if name in known} if known else {}
        if not known:
            runs = []
            for name in own:
                found = [_reduced(campaign, part, draws, name) for part in own[name]]
                parts += [reduced for reduced, _ in found]
                runs += _together([one for _, some in found for one in some])
            nominal = {fit.configuration: fit for fit in fit_airplane(campaign, runs)}
        fits |= with_draws(nominal, partial(_blocks, campaign, own, nominal, draws), draws.count)
    order = list(segments["point"])
    return [in_order(joined(same), order) for same in zip(*parts, strict=True)], fits


def _reduced(
    campaign: Campaign, segments: pd.DataFrame, draws: Draws, configuration: str
) -> tuple[list[Reduced], list[LevelFit]]:
    """Reduce some level runs of a configuration; those that carry a value, still to be fitted.

    Only nominal values are kept: all draws of all runs would fill the memory.
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
    return [replace(one, sums=()) for one in reduced], [_nominal(one) for one in runs]


def _blocks(
    campaign: Campaign,
    parts: Mapping[str, list[pd.DataFrame]],
    fits: Mapping[str, LevelFit],
    draws: Draws,
    names: Sequence[str],
) -> Iterator[LevelFit]:
    """Runs of some fits again, part by part, with their draws."""
    for name in names:
        fitted = set(fits[name].points)
        for part in parts[name]:
            state = make_state(campaign, part.reset_index(drop=True), draws)
            power, speed, _ = _indices(state, draws)
            rows = [place for place, point in enumerate(power.points) if point in fitted]
            if rows:
                yield _runs(state, name, rows, power.values, speed.values, draws)


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
    _profile_step(state, draws, power, wanted)
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


def _profile_step(state: State, draws: Draws, power: Chain, wanted_kg: FloatArray) -> None:
    """Keep what a governed propeller loses to blade drag apart from what scales with the airplane.

    At one lift coefficient a fixed pitch turns in proportion to airspeed, and all of its power
    scales. A governor keeps the engine speed, and with it the blades' own loss.
    """
    flown, reference, notes = _governed_speeds(state, wanted_kg)
    if not np.isfinite(flown).any():
        return
    gear = state.airplane(lambda a: a.gear_ratio)
    disk = (
        state.configuration(lambda c: c.propeller.diameter_m),
        state.configuration(lambda c: c.propeller.blades),
    )
    wanted = _reference_true_ms(state, wanted_kg)
    altitude = state.reference(lambda r: r.cruise_pressure_altitude_m)
    density = np.asarray(
        atmosphere.density_kg_m3(
            atmosphere.standard_pressure_pa(altitude), _reference_temperature_k(state)
        )
    )
    lost = np.asarray(
        blade.profile_power_w(state.true_ms, flown / gear, state.density_kg_m3, *disk)
    )
    kept = np.asarray(blade.profile_power_w(wanted, reference / gear, density, *disk))
    scaled = level.power_index_w(
        lost, state.density_kg_m3 / atmosphere.SEA_LEVEL_DENSITY_KG_M3, state.weight_kg, wanted_kg
    )
    sea_level = kept * np.sqrt(density / atmosphere.SEA_LEVEL_DENSITY_KG_M3)
    size = 1 + PROFILE_SIGMA * draws.normal("blade drag", "parameter", state.configurations)
    change = np.nan_to_num((sea_level - np.asarray(scaled)) * size)
    power.step(
        "blade drag at the governed speed",
        power.values + change,
        "blade element theory, activity factor 100 a blade, section drag 0.012: common practice",
        [
            said("engine speed flown", flown, "angular_speed", "rpm", 0),
            said("on the reference day", reference, "angular_speed", "rpm", 0),
            notes,
        ],
    )


def _governed_speeds(
    state: State, wanted_kg: FloatArray
) -> tuple[FloatArray, FloatArray, list[str]]:
    """Engine speed flown and on the reference day; NaN where no governor holds one."""
    flown = state.column("engine_speed_rps").copy()
    reference, notes = flown.copy(), []
    true = _reference_true_ms(state, wanted_kg)[0]
    altitude = state.reference(lambda r: r.cruise_pressure_altitude_m)
    calibrated = np.asarray(
        airspeed.calibrated_airspeed_ms(
            true, atmosphere.standard_pressure_pa(altitude), _reference_temperature_k(state)
        )
    )
    for place, name in enumerate(state.configurations):
        configuration = state.campaign.configurations[name]
        note = ""
        if configuration.propeller.control != "constant speed":
            flown[place] = reference[place] = np.nan
        elif configuration.rpm_schedule:
            held = governed_speed_rps(configuration.rpm_schedule, state.calibrated_ms[0, place])
            there = governed_speed_rps(configuration.rpm_schedule, calibrated[place])
            reference[place] *= float(there / held)
        else:
            note = "no schedule given: the engine speed flown is kept"
        notes.append(note)
    return flown, reference, notes


def _reference_temperature_k(state: State) -> FloatArray:
    altitude = state.reference(lambda r: r.cruise_pressure_altitude_m)
    offset = state.reference(lambda r: r.temperature_offset_k)
    warm: FloatArray = np.asarray(atmosphere.standard_temperature_k(altitude)) + offset
    return warm


def _reference_true_ms(state: State, wanted_kg: FloatArray) -> FloatArray:
    """True airspeed on the reference day at the lift coefficient of each run."""
    altitude = state.reference(lambda r: r.cruise_pressure_altitude_m)
    density = np.asarray(
        atmosphere.density_kg_m3(
            atmosphere.standard_pressure_pa(altitude), _reference_temperature_k(state)
        )
    )
    true: FloatArray = state.true_ms * np.sqrt(
        state.density_kg_m3 / density * wanted_kg / state.weight_kg
    )
    return true


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
        (state.column("engine_speed_rps") * speed_ms[0] / state.true_ms[0])[rows],
    )


def _nominal(runs: LevelFit) -> LevelFit:
    """Let the draws go."""
    return replace(
        runs,
        speed_ms=runs.speed_ms[:1].copy(),
        power_w=runs.power_w[:1].copy(),
        brake_power_w=runs.brake_power_w[:1].copy(),
        fuel_m3s=runs.fuel_m3s[:1].copy(),
    )


def _together(runs: list[LevelFit]) -> list[LevelFit]:
    """Put runs of one configuration together that were reduced in parts; none where none are."""
    if len(runs) < 2:
        return runs
    whole = replace(
        runs[0],
        points=tuple(point for one in runs for point in one.points),
        flights=tuple(flight for one in runs for flight in one.flights),
        speed_ms=np.concatenate([one.speed_ms for one in runs], axis=1),
        power_w=np.concatenate([one.power_w for one in runs], axis=1),
        brake_power_w=np.concatenate([one.brake_power_w for one in runs], axis=1),
        fuel_m3s=np.concatenate([one.fuel_m3s for one in runs], axis=1),
        equivalent_ms=np.concatenate([one.equivalent_ms for one in runs]),
        turns_rps=np.concatenate([one.turns_rps for one in runs]),
    )
    return [whole]
