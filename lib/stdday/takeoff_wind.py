"""Headwind at lift-off: true airspeed minus ground speed, joined with the reported wind."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday import airspeed, wind
from stdday.atmosphere import GRAVITY_MS2
from stdday.calibrate import calibrated_airspeed_ms, calibration_sigma_ms, has_calibration
from stdday.ledger import Chain, said
from stdday.takeoff_near import PROFILE_SIGMA

if TYPE_CHECKING:
    from stdday.campaign import Campaign, Flight
    from stdday.state import State
    from stdday.uncertainty import Draws

__all__ = ["Headwind", "delay_columns", "headwind_of"]

FloatArray = NDArray[np.float64]

#: Wind at wing height over the reported wind at 10 m [-], and one sigma (one-seventh power law).
WIND_AT_WING, WIND_AT_WING_SIGMA = 0.85, 0.1
#: Part of the static-pressure jump at power-up that is left in the airspeed around lift-off [-],
#: and one sigma. A slipstream's pressure goes with thrust, of which two thirds are left by then;
#: ports that the wind blows clear keep nothing. So the middle between the two, and wide.
JUMP_LEFT, JUMP_SIGMA = 0.33, 0.25
#: No delay is known better than this [s]: filters lag differently in different manoeuvres.
LEAST_DELAY_SIGMA_S = 0.1
#: The two winds disagree where they are farther apart than so many of their sigmas [-].
APART_SIGMAS = 3.0


@dataclass(frozen=True)
class Headwind:
    """Headwind of each take-off.

    Parameters
    ----------
    values_ms : ndarray, shape (draws + 1, points)
        Headwind along the runway at wing height [m/s]; NaN where nothing is known of it.
    words : list of str
        Where it comes from, and where its two sources disagree.
    missing : list of str
        Why it is not known; empty where it is.
    chain : Chain
        Its ledger: raw difference, static-pressure jump, delay, reported wind.
    sigma_ms : ndarray, shape (points,)
        One sigma of the joined headwind [m/s].
    from_air_ms, from_air_sigma_ms : ndarray, shape (points,)
        Headwind at wing height from true airspeed minus ground speed alone, and its sigma [m/s].
    reported_ms, reported_sigma_ms : ndarray, shape (points,)
        Reported headwind, brought to wing height, and its sigma [m/s].
    """

    values_ms: FloatArray
    words: list[str]
    missing: list[str]
    chain: Chain
    sigma_ms: FloatArray
    from_air_ms: FloatArray
    from_air_sigma_ms: FloatArray
    reported_ms: FloatArray
    reported_sigma_ms: FloatArray

    @property
    def apart(self) -> FloatArray:
        """How many of their sigmas the two winds are apart [-]; NaN where one is not known."""
        both = np.hypot(self.from_air_sigma_ms, self.reported_sigma_ms)
        with np.errstate(invalid="ignore"):
            return np.asarray(
                np.where(np.isfinite(both), (self.from_air_ms - self.reported_ms) / both, np.nan)
            )


def delay_columns(campaign: Campaign, segments: pd.DataFrame) -> dict[str, FloatArray]:
    """Delay of airspeed behind ground speed of each installation, from all of its recordings.

    Parameters
    ----------
    campaign : Campaign
        Flights, and the declared size of the delay.
    segments : DataFrame
        Take-offs, with ``airspeed_delay_s`` and ``airspeed_delay_sigma_s`` of their recordings.

    Returns
    -------
    dict of str to ndarray, shape (points,)
        ``installation_delay_s`` and ``installation_delay_sigma_s``: mean of the recordings by
        their weights, joined with the declared one (zero, with its sigma); where recordings differ
        by more than they say, the sigma grows with their chi-square.
    """
    declared = campaign.sigma("airspeed_delay")
    installation = {flight.id: flight.installation for flight in campaign.flights}
    names = segments["flight"].astype(str).map(installation).to_numpy()
    delay, sigma = np.zeros(len(segments)), np.full(len(segments), declared)
    if "airspeed_delay_s" in segments:
        each = segments.drop_duplicates("flight")
        owner = each["flight"].astype(str).map(installation).to_numpy()
        value = each["airspeed_delay_s"].to_numpy(dtype=float)
        error = each["airspeed_delay_sigma_s"].to_numpy(dtype=float)
        for name in dict.fromkeys(names):
            own = (owner == name) & np.isfinite(value) & np.isfinite(error) & (error > 0)
            if own.any():
                delay[names == name], sigma[names == name] = _joined_delay(
                    value[own], error[own], declared
                )
    return {"installation_delay_s": delay, "installation_delay_sigma_s": sigma}


def _joined_delay(value: FloatArray, error: FloatArray, declared: float) -> tuple[float, float]:
    """Weighted mean of delays joined with the declared one, and its sigma [s]."""
    weight = error**-2.0
    mean = float(np.sum(weight * value) / np.sum(weight))
    apart = float(np.sum(weight * (value - mean) ** 2)) / max(len(value) - 1, 1)
    sigma = max(np.sqrt(max(apart, 1.0) / np.sum(weight)), LEAST_DELAY_SIGMA_S)
    if declared == 0.0:
        return 0.0, 0.0
    precision = sigma**-2.0 + declared**-2.0
    return float(mean * sigma**-2.0 / precision), float(precision**-0.5)


def headwind_of(state: State, draws: Draws) -> Headwind:
    """Headwind at lift-off, from airspeed minus ground speed and from the reported wind.

    Parameters
    ----------
    state : State
        Take-offs, with the columns of `delay_columns`.
    draws : Draws
        Draws of the errors that scatter cannot show.

    Returns
    -------
    Headwind

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.

    Notes
    -----
    Both speeds lie along the runway: the crosswind part of true airspeed, ``w^2/(2 V)``, is below
    0.2 kt at 5 kt of crosswind and is left out.
    """
    chain, variance_air = _from_air(state, draws)
    from_air = chain.values
    reported = np.array([_reported(state.campaign, flight) for flight in state.flights])
    reported = np.where(np.isfinite(reported), reported, _along_track(state))
    spread = draws.normal("wind at wing", "parameter", [""])
    at_wing = reported * (WIND_AT_WING + WIND_AT_WING_SIGMA * spread)
    variance_reported = (
        state.campaign.sigma("reported_wind") ** 2 + (WIND_AT_WING_SIGMA * reported) ** 2
    )
    weights = np.array(
        [
            np.where(np.isfinite(value) & np.isfinite(variance), 1 / variance, 0.0)
            for value, variance in ((from_air[0], variance_air), (at_wing[0], variance_reported))
        ]
    )
    total = weights.sum(axis=0)
    share = np.divide(weights[0], total, out=np.zeros_like(total), where=total > 0)
    values = share * np.nan_to_num(from_air) + (1 - share) * np.nan_to_num(at_wing)
    values = np.where(total > 0, values, np.nan)
    apart = (from_air[0] - at_wing[0]) / np.sqrt(variance_air + variance_reported)
    words = [_said(part, gap) for part, gap in zip(share, apart, strict=True)]
    chain.step(
        "joined with the reported wind",
        values,
        "weights of inverse variance; wind at wing height 0.85 of that at 10 m (1/7 power law)",
        [said("reported, at wing height", at_wing, "speed", "kt"), words],
    )
    missing = [
        "" if amount > 0 else "no wind known: neither reported nor from a calibrated airspeed"
        for amount in total
    ]
    sigma = np.divide(1.0, total, out=np.full_like(total, np.inf), where=total > 0) ** 0.5
    return Headwind(
        values, words, missing, chain, sigma, from_air[0], np.sqrt(variance_air), at_wing[0],
        np.sqrt(variance_reported),
    )  # fmt: skip


def _said(share: float, apart: float) -> str:
    """Words for the origin of a headwind and for a disagreement of its sources."""
    words = f"{100 * share:.0f} % from true airspeed minus ground speed, rest as reported"
    if np.isfinite(apart) and abs(apart) > APART_SIGMAS:
        words += (
            f"; CAUTION: the two are {abs(apart):.1f} sigma apart: check runway, reported wind, "
            "airspeed calibration and delay"
        )
    return words


def _from_air(state: State, draws: Draws) -> tuple[Chain, FloatArray]:
    """Chain of true airspeed minus ground speed, and its variance; infinite where uncalibrated."""
    near = state.column("near_indicated_airspeed_ms")
    calibrated = calibrated_airspeed_ms(state.campaign, state.flights, near, draws)
    ground = state.column("near_ground_speed_ms")
    raw = _true(state, calibrated) - ground
    chain = Chain("takeoff_ground_roll", "takeoff", list(state.frame["point"]), "headwind",
                  "speed", "kt", raw)  # fmt: skip
    jump = np.nan_to_num(state.column("static_jump_m"))
    left = JUMP_LEFT + JUMP_SIGMA * draws.normal(
        "static-pressure jump at lift-off", "configuration", state.configurations
    )
    freed = np.asarray(
        airspeed.calibrated_from_static_error_ms(calibrated, jump * left, state.pressure_altitude_m)
    )
    chain.step(
        "static-pressure jump",
        _true(state, freed) - ground,
        "static error by the hydrostatic equation; part left at lift-off 0.33 +- 0.25, assumed",
        [said("jump on the ground", jump, "length", "ft", 0)],
    )
    acceleration = state.column("near_acceleration_ms2")  # its clock error is far below the delay's
    delay, sigma = (
        state.column(f"installation_delay{ending}") for ending in ("_s", "_sigma_s")
    )
    names = [flight.installation for flight in state.flights]
    late = delay + sigma * draws.normal("airspeed delay", "shared", names)
    chain.step(
        "delay of the airspeed",
        chain.values + acceleration * late,
        "acceleration times the delay behind ground speed, from the recordings or as declared",
        [said("delay", delay, "time", "s", 2), said("sigma", sigma, "time", "s", 2)],
    )
    ratio, slope, gusts = _profile(state)
    slope = PROFILE_SIGMA * slope
    spread = draws.normal("wind gradient at lift-off", "parameter", [""])
    chain.step(
        "wind gradient",
        chain.values / (ratio + slope * spread),
        "wind of the first seconds of the climb brought to the wing on the ground (1/7 power law)",
        [said("factor", 1 / ratio, "none", "-", 2)],
    )
    tabled = [not isinstance(state.airplane_of(flight).airspeed_calibration, str)
              for flight in state.flights]  # a curve from flights has it in its sigma
    own = np.where(tabled, state.campaign.sigma("airspeed_between_configurations"), 0.0)
    static = JUMP_SIGMA / JUMP_LEFT * (calibrated - freed)[0]
    unsure = GRAVITY_MS2 * JUMP_LEFT * _jump_sigma_m(state) / calibrated[0]
    variance = (
        _calibration_sigma(state, near) ** 2
        + own**2
        + (acceleration * sigma) ** 2
        + static**2
        + unsure**2
        + gusts**2
        + (slope * chain.values[0]) ** 2
    ) / ratio**2
    return chain, variance


def _profile(state: State) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Wind compared over that at the wing, its derivative by the exponent, and sigma of gusts."""
    names = ("near_wind_ratio", "near_wind_ratio_slope", "near_gust_sigma_ms")
    if not all(name in state.frame for name in names):  # speeds at lift-off itself
        nothing = np.zeros(len(state.frame))
        return nothing + 1.0, nothing, nothing
    ratio, slope, gusts = (state.column(name) for name in names)
    return ratio, slope, gusts


def _jump_sigma_m(state: State) -> FloatArray:
    """One sigma of the measured jump [m]; zero where none was measured or none is said."""
    if "static_jump_sigma_m" not in state.frame:
        return np.zeros(len(state.frame))
    known = np.isfinite(state.column("static_jump_m"))
    return np.where(known, np.nan_to_num(state.column("static_jump_sigma_m")), 0.0)


def _true(state: State, calibrated_ms: FloatArray) -> FloatArray:
    return np.asarray(
        airspeed.true_airspeed_ms(calibrated_ms, state.pressure_pa, state.temperature_k)
    )


def _calibration_sigma(state: State, indicated_ms: FloatArray) -> FloatArray:
    """One sigma of calibrated airspeed [m/s]; infinite without a calibration."""
    campaign = state.campaign
    airplanes = [state.airplane_of(flight) for flight in state.flights]
    return np.array(
        [
            float(calibration_sigma_ms(campaign, airplane, indicated_ms[place], flight))
            if has_calibration(airplane, campaign)
            else np.inf
            for place, (airplane, flight) in enumerate(zip(airplanes, state.flights, strict=True))
        ]
    )


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
