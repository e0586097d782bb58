"""Full throttle of the reference day: the power and engine speed each configuration reaches there.

A comparison at one common power would erase what a propeller change does.  So take-offs and climbs
are corrected to the power that the engine gives at full throttle on the reference day, at the speed
that a governor holds, or that a fixed pitch lets it reach there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday import airspeed, atmosphere, engine, propeller

if TYPE_CHECKING:
    from stdday.campaign import Campaign
    from stdday.state import State
    from stdday.uncertainty import Draws

__all__ = ["Throttle", "full_throttle_reference", "governed_speed_rps", "propeller_slopes"]

FloatArray = NDArray[np.float64]

#: Brake power grows with this power of engine speed near full throttle [-], and one sigma.
#: Common practice: torque falls a little towards rated speed.
TORQUE_EXPONENT, TORQUE_EXPONENT_SIGMA = 0.9, 0.2
#: One sigma of the correction that the lapse law makes, as a share of it [-].
LAPSE_LAW_SIGMA = 0.15
#: One sigma of the slope of power coefficient against advance ratio, as a share of it [-].
SLOPE_SIGMA = 0.2
#: One sigma of full-throttle power taken from the rating where no power is recorded [-].
RATING_SIGMA = 0.04
#: Spread of advance ratio needed to tell a slope [-].
LEAST_SPREAD = 0.08


@dataclass(frozen=True)
class Throttle:
    """Full throttle at the test point and on the reference day; arrays (draws + 1, points).

    Parameters
    ----------
    test_power_w, reference_power_w : ndarray
        Brake power [W].
    test_speed_rps, reference_speed_rps : ndarray
        Engine speed [rev/s]; NaN where not recorded.
    notes : tuple of str
        What was assumed for each point, in words; empty where nothing was.
    """

    test_power_w: FloatArray
    reference_power_w: FloatArray
    test_speed_rps: FloatArray
    reference_speed_rps: FloatArray
    notes: tuple[str, ...]


def propeller_slopes(campaign: Campaign, segments: pd.DataFrame) -> dict[str, float]:
    """Slope of power coefficient against advance ratio, from each configuration's own points.

    Parameters
    ----------
    campaign : Campaign
        Airplanes and propellers.
    segments : DataFrame
        Segments of all used points.

    Returns
    -------
    dict of str to float
        Slope [-] by fixed-pitch configuration; left out where its points cannot tell.
    """
    slopes = {}
    for name, configuration in campaign.configurations.items():
        rows = segments[segments["configuration"] == name]
        if configuration.propeller.control != "fixed pitch" or rows.empty:
            continue
        airplane = campaign.airplanes[configuration.airplane]
        diameter = configuration.propeller.diameter_m
        altitude = rows["pressure_altitude_m"].to_numpy(dtype=float)
        pressure = np.asarray(atmosphere.standard_pressure_pa(altitude))
        temperature = rows["outside_air_temperature_k"].to_numpy(dtype=float)
        speed = rows["engine_speed_rps"].to_numpy(dtype=float) / airplane.gear_ratio
        power = rows["power_w"].to_numpy(dtype=float)
        true = np.asarray(
            airspeed.true_airspeed_ms(rows["indicated_airspeed_ms"], pressure, temperature)
        )
        density = np.asarray(atmosphere.density_kg_m3(pressure, temperature))
        with np.errstate(invalid="ignore", divide="ignore"):
            ratio = true / (speed * diameter)
            coefficient = power / (density * speed**3 * diameter**5)
        good = np.isfinite(ratio) & np.isfinite(coefficient)
        if good.sum() >= 4 and np.std(ratio[good]) > LEAST_SPREAD:
            slopes[name] = float(np.polyfit(ratio[good], coefficient[good], 1)[0])
    return slopes


def _lapse(
    state: State, pressure_pa: FloatArray, temperature_k: FloatArray, vapour_pa: FloatArray | float
) -> FloatArray:
    """Full-throttle power over that of the standard day at sea level, by kind of induction [-]."""
    vapour = np.broadcast_to(vapour_pa, state.power_w.shape)
    pressure = np.broadcast_to(pressure_pa, state.power_w.shape)
    temperature = np.broadcast_to(temperature_k, state.power_w.shape)
    result = np.empty(state.power_w.shape)
    inductions = [
        (airplane.induction, airplane.critical_altitude_m)
        for airplane in map(state.airplane_of, state.flights)
    ]
    for induction, critical in dict.fromkeys(inductions):
        mine = np.array([one == (induction, critical) for one in inductions])
        air = (pressure[:, mine], temperature[:, mine], vapour[:, mine])
        result[:, mine] = engine.induction_ratio(*air, induction, critical)
    return result


def governed_speed_rps(
    schedule: tuple[tuple[float, float], ...], calibrated_ms: FloatArray | float
) -> FloatArray:
    """Engine speed that a governor holds at a calibrated airspeed.

    Parameters
    ----------
    schedule : tuple of (float, float)
        Calibrated airspeed [m/s] and engine speed [rev/s], in any order.
    calibrated_ms : float or ndarray
        Calibrated airspeed [m/s].

    Returns
    -------
    ndarray
        Engine speed [rev/s]: straight lines between the rows, constant outside of them.

    Examples
    --------
    >>> float(governed_speed_rps(((25.0, 88.0), (45.0, 76.0)), 35.0))
    82.0
    """
    table = np.array(sorted(schedule))
    return np.asarray(np.interp(calibrated_ms, table[:, 0], table[:, 1]))


def full_throttle_reference(
    state: State,
    draws: Draws,
    slopes: dict[str, float],
    true_ms: FloatArray,
    reference_true_ms: FloatArray,
    reference_altitude_m: FloatArray,
    reference_temperature_k: FloatArray,
    hold_speed: bool,
    schedule_airspeed_ms: FloatArray | None = None,
) -> Throttle:
    """Full-throttle power and engine speed at the points and on the reference day.

    Parameters
    ----------
    state : State
        Test points at full throttle.
    draws : Draws
        Draws of the correction parameters.
    slopes : dict
        From `propeller_slopes`.
    true_ms, reference_true_ms : ndarray, shape (draws + 1, points)
        True airspeed [m/s] at which the propeller works, as flown and on the reference day.
    reference_altitude_m, reference_temperature_k : ndarray, shape (points,)
        Pressure altitude [m] and temperature [K] of the reference day; its air is dry.
    hold_speed : bool
        Whether a governed engine keeps the speed it had (take-off); else its schedule is used.
    schedule_airspeed_ms : ndarray, shape (points,), optional
        Calibrated airspeed at which the schedule is read [m/s]; the common one of climbs if absent.

    Returns
    -------
    Throttle

    Notes
    -----
    Lapse: `stdday.engine.full_throttle_ratio`. A fixed pitch turns at the speed where the engine's
    torque meets the propeller's, whose power coefficient is the point's own, moved along the
    slope of the configuration's points.
    """
    reference_pressure = np.asarray(atmosphere.standard_pressure_pa(reference_altitude_m))
    law = 1 + LAPSE_LAW_SIGMA * draws.normal("lapse law", "parameter", [""])
    exponent = TORQUE_EXPONENT + TORQUE_EXPONENT_SIGMA * draws.normal("torque", "parameter", [""])
    lapse = _lapse(state, state.pressure_pa, state.temperature_k, state.vapour_pa)
    lapse_ratio = (_lapse(state, reference_pressure, reference_temperature_k, 0.0) / lapse) ** law
    rated_power = state.airplane(lambda a: a.rated_power_w)
    rated_speed = state.airplane(lambda a: a.rated_engine_speed_rps)
    speed = np.broadcast_to(state.column("engine_speed_rps"), state.power_w.shape)
    known_speed = np.isfinite(speed[0])
    relative = np.where(known_speed, speed / rated_speed, 1.0)
    rating = 1 + RATING_SIGMA * draws.normal("rating", "parameter", [""])
    known_power = np.isfinite(state.power_w[0])
    power = np.where(known_power, state.power_w, rated_power * lapse * relative**exponent * rating)
    reference_speed, notes = _reference_speed(
        state,
        draws,
        slopes,
        power * lapse_ratio * relative**-exponent,
        exponent,
        true_ms,
        reference_true_ms,
        power,
        reference_pressure,
        reference_temperature_k,
        hold_speed,
        schedule_airspeed_ms,
    )
    speed_factor = np.where(known_speed, reference_speed / speed, 1.0) ** exponent
    for place in np.flatnonzero(~known_power):
        notes[place].append("no power recorded: taken from the rating")
    return Throttle(
        power,
        power * lapse_ratio * speed_factor,
        speed,
        reference_speed,
        tuple("; ".join(lines) for lines in notes),
    )


def _reference_speed(
    state: State,
    draws: Draws,
    slopes: dict[str, float],
    power_at_rated_w: FloatArray,
    exponent: FloatArray,
    true_ms: FloatArray,
    reference_true_ms: FloatArray,
    power_w: FloatArray,
    reference_pressure_pa: FloatArray,
    reference_temperature_k: FloatArray,
    hold_speed: bool,
    schedule_airspeed_ms: FloatArray | None,
) -> tuple[FloatArray, list[list[str]]]:
    """Engine speed on the reference day, point by point, and what was assumed."""
    campaign, result = state.campaign, np.full(state.power_w.shape, np.nan)
    notes: list[list[str]] = [[] for _ in state.flights]
    density = np.asarray(atmosphere.density_kg_m3(reference_pressure_pa, reference_temperature_k))
    tilt = 1 + SLOPE_SIGMA * draws.normal("propeller slope", "parameter", [""])[:, 0]
    speeds = state.column("engine_speed_rps")
    common = state.reference(lambda r: r.climb_airspeed_ms)
    held_at = common if schedule_airspeed_ms is None else schedule_airspeed_ms
    for place, flight in enumerate(state.flights):
        configuration = campaign.configurations[flight.configuration]
        airplane = state.airplane_of(flight)
        flown = speeds[place]
        result[:, place] = flown
        if configuration.propeller.control == "constant speed":
            if not hold_speed and configuration.rpm_schedule:
                result[:, place] = governed_speed_rps(configuration.rpm_schedule, held_at[place])
        elif not np.isfinite(flown):
            notes[place].append("no engine speed recorded: taken as on the reference day")
        elif flight.configuration not in slopes:
            notes[place].append("points too alike to tell the propeller: engine speed kept")
        else:
            diameter = configuration.propeller.diameter_m
            turns = flown / airplane.gear_ratio
            slope = slopes[flight.configuration] * tilt
            coefficient = power_w[:, place] / (
                state.density_kg_m3[:, place] * turns**3 * diameter**5
            )
            intercept = coefficient - slope * true_ms[:, place] / (turns * diameter)
            result[:, place] = airplane.gear_ratio * np.asarray(
                propeller.fixed_pitch_speed_rps(
                    reference_true_ms[:, place],
                    density[place],
                    diameter,
                    intercept,
                    slope,
                    power_at_rated_w[:, place],
                    airplane.rated_engine_speed_rps / airplane.gear_ratio,
                    exponent[:, 0],
                )
            )
    return result, notes
