"""Take-offs to the reference day: no wind, common lift-off airspeed, weight, air and power."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday import airspeed, atmosphere, takeoff, units, wind
from stdday.calibrate import calibrated_airspeed_ms, calibration_sigma_ms, has_calibration
from stdday.ledger import Chain, Reduced, close, in_parts, joined, said
from stdday.state import State, make_state
from stdday.throttle import full_throttle_reference

if TYPE_CHECKING:
    from stdday.campaign import Campaign, Flight, Runway
    from stdday.uncertainty import Draws

__all__ = ["reduce_takeoffs"]

FloatArray = NDArray[np.float64]

#: Ground roll grows with this power of lift-off airspeed [-], and one sigma, where the rolls do not
#: tell: 2 at constant acceleration, more as thrust falls with airspeed. Common practice.
LIFTOFF_EXPONENT, LIFTOFF_EXPONENT_SIGMA = 2.3, 0.3
#: The same one sigma where V^2 / (S a) of the configuration's own rolls tells the exponent [-].
MEASURED_EXPONENT_SIGMA = 0.1
#: Farthest that a lift-off may be from the common lift-off airspeed, as a share of it [-].
FARTHEST_LIFTOFF = 0.25
#: One sigma of each handbook exponent [-]. Common practice.
EXPONENT_SIGMA = {"wind": 0.1, "weight": 0.2, "density": 0.2, "engine_speed": 0.4, "power": 0.15}
#: Wind at wing height over the reported wind at 10 m [-], and one sigma (one-seventh power law).
WIND_AT_WING, WIND_AT_WING_SIGMA = 0.85, 0.1
#: Part of the static-pressure jump at power-up that is left in the airspeed at lift-off [-], and
#: one sigma. In recordings it is anything from all of it to none; so half, and wide.
JUMP_LEFT, JUMP_SIGMA = 0.5, 0.35
#: Part of the lift-off airspeed at which the propeller works on average over the roll [-].
MEAN_SPEED = 0.75

_WIND_SOURCE = "no-wind form (1 + Vw/Vg)^1.85, AFTR 6273 (1966), from memory"


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
        Ground roll, time to lift-off, lift-off airspeed and static engine speed.

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.
    """
    if segments.empty:
        return []
    frame = segments.assign(
        power_w=segments["roll_power_w"],
        engine_speed_rps=segments["roll_engine_speed_rps"],
        pressure_altitude_m=segments["field_pressure_altitude_m"],
        indicated_airspeed_ms=segments["liftoff_indicated_airspeed_ms"],
        kind="take-off",
        **_own_exponents(campaign, segments),
    )
    parts = [_reduced(campaign, part, draws, slopes) for part in in_parts(frame)]
    return [joined(same) for same in zip(*parts, strict=True)]


def _reduced(
    campaign: Campaign, frame: pd.DataFrame, draws: Draws, slopes: dict[str, float]
) -> list[Reduced]:
    """Correct some take-offs."""
    frame = frame.reset_index(drop=True)
    state = make_state(campaign, frame, draws)
    headwind, words, unknown_wind = _headwind(state, draws)
    ground = state.column("liftoff_ground_speed_ms")
    liftoff_true = ground + headwind
    liftoff = np.asarray(
        airspeed.calibrated_airspeed_ms(liftoff_true, state.pressure_pa, state.temperature_k)
    )
    roll, reasons = _ground_roll(
        state, draws, slopes, headwind, words, liftoff_true, liftoff, unknown_wind
    )
    flights = list(frame["flight"])
    flown = {**state.conditions(), "headwind_ms": headwind[0]}
    return [
        close(roll, flights, reasons, "handbook exponents, step by step", flown),
        close(
            _time(state, roll, ground),
            flights,
            reasons,
            "measured time scaled with the corrected ground roll",
        ),
        close(
            Chain(
                "liftoff_airspeed",
                "takeoff",
                list(frame["point"]),
                "lift-off airspeed",
                "speed",
                "kt",
                liftoff,
            ),
            flights,
            reasons,
            "ground speed at lift-off plus headwind",
        ),
        _static_engine_speed(state, flights),
    ]


def _headwind(state: State, draws: Draws) -> tuple[FloatArray, list[str], list[str]]:
    """Headwind at lift-off from airspeed minus ground speed, joined with the reported wind."""
    campaign = state.campaign
    near = state.column("near_indicated_airspeed_ms")
    calibrated = calibrated_airspeed_ms(campaign, state.flights, near, draws)
    jump = np.nan_to_num(state.column("static_jump_m"))
    left = JUMP_LEFT + JUMP_SIGMA * draws.normal(
        "static-pressure jump at lift-off", "configuration", state.configurations
    )
    freed = np.asarray(
        airspeed.calibrated_from_static_error_ms(calibrated, jump * left, state.pressure_altitude_m)
    )
    error = calibrated - freed
    true = np.asarray(airspeed.true_airspeed_ms(freed, state.pressure_pa, state.temperature_k))
    acceleration = state.column("near_acceleration_ms2")  # its clock error is far below the delay's
    delay = campaign.sigma("airspeed_delay")
    installations = [flight.installation for flight in state.flights]
    late = acceleration * delay * draws.normal("airspeed delay", "shared", installations)
    from_air = true - state.column("near_ground_speed_ms") + late
    airplanes = [state.airplane_of(flight) for flight in state.flights]
    sigma = np.array(
        [
            float(calibration_sigma_ms(campaign, airplane, near[place]))
            if has_calibration(airplane)
            else np.inf
            for place, airplane in enumerate(airplanes)
        ]
    )
    own = campaign.sigma("airspeed_between_configurations")
    jump_sigma = JUMP_SIGMA / JUMP_LEFT * error[0]
    variance = sigma**2 + own**2 + (acceleration * delay) ** 2 + jump_sigma**2
    weight_air = np.where(np.isfinite(from_air[0]) & np.isfinite(variance), 1 / variance, 0.0)
    reported = np.array([_reported(campaign, flight) for flight in state.flights])
    reported = np.where(np.isfinite(reported), reported, _along_track(state))
    at_wing = WIND_AT_WING + WIND_AT_WING_SIGMA * draws.normal("wind at wing", "parameter", [""])
    weight_reported = np.where(np.isfinite(reported), campaign.sigma("reported_wind") ** -2.0, 0.0)
    total = weight_air + weight_reported
    share = np.divide(weight_air, total, out=np.zeros_like(total), where=total > 0)
    headwind = share * np.nan_to_num(from_air) + (1 - share) * np.nan_to_num(reported) * at_wing
    words = [
        f"{100 * part:.0f} % from true airspeed minus ground speed, rest as reported"
        for part in share
    ]
    missing = [
        "" if amount > 0 else "no wind known: neither reported nor from a calibrated airspeed"
        for amount in total
    ]
    return np.where(total > 0, headwind, np.nan), words, missing


def _reported(campaign: Campaign, flight: Flight) -> float:
    """Reported headwind along the runway [m/s]; NaN where wind or runway are not known."""
    if flight.reported_wind_speed_ms is None or flight.airfield is None:
        return float("nan")
    if flight.reported_wind_speed_ms == 0:
        return 0.0
    runways = {runway.name: runway for runway in campaign.airfields[flight.airfield].runways}
    if flight.runway not in runways or flight.reported_wind_from_rad is None:
        return float("nan")
    return float(
        wind.headwind_ms(
            flight.reported_wind_from_rad,
            flight.reported_wind_speed_ms,
            runways[flight.runway].true_bearing_rad,
        )
    )


def _along_track(state: State) -> FloatArray:
    """Reported headwind along the recorded track of the roll [m/s], where no runway is named."""
    direction = np.array([_nan(flight.reported_wind_from_rad) for flight in state.flights])
    speed = np.array([_nan(flight.reported_wind_speed_ms) for flight in state.flights])
    return np.asarray(wind.headwind_ms(direction, speed, state.column("track_rad")))


def _nan(value: float | None) -> float:
    return float("nan") if value is None else value


def _runway(state: State, flight: Flight) -> Runway | None:
    """Runway that a flight names, where its airfield has it."""
    runways = state.campaign.airfields[flight.airfield].runways if flight.airfield else ()
    return next((runway for runway in runways if runway.name == flight.runway), None)


def _slope(state: State, draws: Draws) -> FloatArray:
    """Runway slope in the direction of each roll; the two ends of a runway err oppositely."""
    nominal, sign, keys = np.zeros(len(state.flights)), np.ones(len(state.flights)), []
    for place, flight in enumerate(state.flights):
        runway = _runway(state, flight)
        keys.append(f"{flight.airfield}")
        if runway is not None:
            nominal[place] = runway.slope
            sign[place] = 1.0 if runway.true_bearing_rad % (2 * np.pi) < np.pi else -1.0
            keys[-1] += f" {np.rad2deg(runway.true_bearing_rad) % 180:.0f}"
    sigma = state.campaign.sigma("runway_slope")
    slope: FloatArray = nominal + sigma * sign * draws.normal("runway slope", "shared", keys)
    return slope


def _surface_differs(state: State, flight: Flight) -> str:
    """Words where a roll was on another surface than the reference's; surfaces are not pooled."""
    wanted = state.campaign.reference_for(state.airplane_of(flight).id).runway_surface
    runway = _runway(state, flight)
    parts = [runway.surface] if runway is not None and runway.surface else []
    parts += [flight.runway_condition] if flight.runway_condition else []
    flown = {part.strip().casefold() for text in parts for part in text.split(",")}
    if flown <= {part.strip().casefold() for part in wanted.split(",")}:
        return ""
    return f"surface {', '.join(parts)!r}, reference {wanted!r}: surfaces are never pooled"


def _exponents(state: State, draws: Draws) -> dict[str, FloatArray]:
    """Exponent of each ratio, point by point, with draws."""
    sets = [
        takeoff.EXPONENT_SETS[state.campaign.configurations[name].propeller.control]
        for name in state.configurations
    ]
    given = [state.airplane_of(flight).takeoff_exponents or {} for flight in state.flights]
    result = {}
    for name in ("weight", "density", "engine_speed", "power"):
        nominal = np.array(
            [own.get(name, getattr(table, name)) for own, table in zip(given, sets, strict=True)]
        )
        spread = draws.normal(f"take-off exponent of {name}", "parameter", [""])
        result[name] = nominal + EXPONENT_SIGMA[name] * spread * (nominal != 0)
    result["liftoff"] = _liftoff_exponent(state, draws)
    result["wind"] = 1.85 + EXPONENT_SIGMA["wind"] * draws.normal(
        "take-off exponent of wind", "parameter", [""]
    )
    return result


def _own_exponents(campaign: Campaign, segments: pd.DataFrame) -> dict[str, FloatArray]:
    """Exponent of ground roll against lift-off airspeed, from each configuration's own rolls.

    Since dS = V dV / a, the exponent at lift-off is V^2 / (S a).
    """
    speed, roll, acceleration = (
        segments[name].to_numpy(dtype=float)
        for name in ("liftoff_ground_speed_ms", "ground_roll_m", "liftoff_acceleration_ms2")
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        own = speed**2 / (roll * acceleration)
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


def _ground_roll(
    state: State,
    draws: Draws,
    slopes: dict[str, float],
    headwind: FloatArray,
    words: list[str],
    liftoff_true: FloatArray,
    liftoff: FloatArray,
    unknown_wind: list[str],
) -> tuple[Chain, list[str]]:
    """Chain of the ground roll, and the reason of each refused take-off."""
    power = _exponents(state, draws)
    measured = state.column("ground_roll_m") * state.clock
    ground = np.broadcast_to(state.column("liftoff_ground_speed_ms"), liftoff.shape)
    chain = Chain(
        "takeoff_ground_roll",
        "takeoff",
        list(state.frame["point"]),
        "ground roll",
        "length",
        "m",
        measured,
    )
    still = np.asarray(takeoff.no_wind_ground_roll_m(chain.values, headwind, ground, power["wind"]))
    chain.step("no wind", still, _WIND_SOURCE, [said("headwind", headwind, "speed", "kt"), words])
    slope = _slope(state, draws)
    level = np.asarray(takeoff.level_runway_ground_roll_m(still, slope, liftoff_true))
    wanted = state.reference(lambda r: r.runway_slope)
    tilted = np.asarray(takeoff.sloped_runway_ground_roll_m(level, wanted, liftoff_true))
    chain.step(
        "runway slope",
        tilted,
        "energy of the climb along the runway",
        [said("slope", slope, "fraction", "%", 2)],
    )
    common = state.reference(lambda r: r.liftoff_airspeed_ms)
    chain.step(
        "common lift-off airspeed",
        tilted * (common / liftoff) ** power["liftoff"],
        "ground roll against airspeed; exponent V^2 / (S a) of the configuration's own rolls",
        [
            said("flown", liftoff, "speed", "kt"),
            said("common", common, "speed", "kt"),
            said("exponent", power["liftoff"], "none", "-", 2),
        ],
    )
    _exponent_steps(state, draws, slopes, chain, power, liftoff_true, common)
    return chain, _reasons(state, unknown_wind, liftoff[0], common)


def _reasons(
    state: State, unknown_wind: list[str], liftoff_ms: FloatArray, common_ms: FloatArray
) -> list[str]:
    """Reason of each take-off that carries no number; empty for a good one."""
    reasons = []
    for place, flight in enumerate(state.flights):
        away = liftoff_ms[place] / common_ms[place] - 1
        checks = (
            (True, unknown_wind[place]),
            (True, _surface_differs(state, flight)),
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


def _exponent_steps(
    state: State,
    draws: Draws,
    slopes: dict[str, float],
    chain: Chain,
    power: dict[str, FloatArray],
    liftoff_true: FloatArray,
    common_ms: FloatArray,
) -> None:
    """Weight, density, engine speed and power, one step each."""
    altitude = state.reference(lambda r: r.takeoff_pressure_altitude_m)
    temperature = np.asarray(atmosphere.standard_temperature_k(altitude)) + state.reference(
        lambda r: r.temperature_offset_k
    )
    pressure = np.asarray(atmosphere.standard_pressure_pa(altitude))
    density = np.asarray(atmosphere.density_kg_m3(pressure, temperature))
    reference_true = np.asarray(airspeed.true_airspeed_ms(common_ms, pressure, temperature))
    throttle = full_throttle_reference(
        state,
        draws,
        slopes,
        MEAN_SPEED * liftoff_true,
        np.broadcast_to(MEAN_SPEED * reference_true, liftoff_true.shape),
        altitude,
        temperature,
        hold_speed=True,
    )
    weight = state.reference(lambda r: r.weight_kg)
    at_speed = power["weight"] - power["liftoff"] / 2
    chain.step(
        "weight",
        chain.values * (weight / state.weight_kg) ** at_speed,
        "handbook exponent less the part that goes through lift-off airspeed",
        [
            said("flown", state.weight_kg, "mass", "kg", 0),
            said("reference", weight, "mass", "kg", 0),
        ],
    )
    chain.step(
        "air density",
        chain.values * (density / state.density_kg_m3) ** power["density"],
        "handbook exponent, AFTR 6273 (1966), from memory",
        [
            said("flown", state.density_kg_m3, "density", "kg/m^3", 4),
            said("reference", density, "density", "kg/m^3", 4),
        ],
    )
    known = np.isfinite(throttle.test_speed_rps)
    speed_ratio = np.where(known, throttle.reference_speed_rps / throttle.test_speed_rps, 1.0)
    chain.step(
        "engine speed",
        chain.values * speed_ratio ** power["engine_speed"],
        "handbook exponent, AFTR 6273 (1966), from memory",
        [
            said("flown", throttle.test_speed_rps, "angular_speed", "rpm", 0),
            said("reference day", throttle.reference_speed_rps, "angular_speed", "rpm", 0),
            list(throttle.notes),
        ],
    )
    ratio = throttle.reference_power_w / throttle.test_power_w
    chain.step(
        "full-throttle power",
        chain.values * ratio ** power["power"],
        "handbook exponent; lapse after Gagg and Ferrar (1934), from memory",
        [
            said("flown", throttle.test_power_w, "power", "kW"),
            said("reference day", throttle.reference_power_w, "power", "kW"),
            [("; ".join(lines)) for lines in state.notes],
        ],
    )


def _time(state: State, roll: Chain, ground_ms: FloatArray) -> Chain:
    """Time to lift-off: measured, scaled by distance over speed."""
    measured = state.column("time_to_liftoff_s") * state.clock
    chain = Chain(
        "takeoff_time_to_liftoff",
        "takeoff",
        list(state.frame["point"]),
        "time to lift-off",
        "time",
        "s",
        np.broadcast_to(measured, roll.values.shape),
    )
    altitude = state.reference(lambda r: r.takeoff_pressure_altitude_m)
    temperature = np.asarray(atmosphere.standard_temperature_k(altitude)) + state.reference(
        lambda r: r.temperature_offset_k
    )
    reference_true = np.asarray(
        airspeed.true_airspeed_ms(
            state.reference(lambda r: r.liftoff_airspeed_ms),
            atmosphere.standard_pressure_pa(altitude),
            temperature,
        )
    )
    shape = state.column("time_to_liftoff_s") * ground_ms / state.column("ground_roll_m")
    chain.step(
        "scaled with the ground roll",
        shape * roll.values / reference_true,
        "time = shape x distance / lift-off true airspeed, shape as measured",
        [said("corrected ground roll", roll.values, "length", "m")],
    )
    return chain


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
