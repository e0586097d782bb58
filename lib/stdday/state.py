"""The state of each test point, with draws: weight, air, airspeeds and power."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import special

from stdday import airspeed, atmosphere, engine, power_chart
from stdday.calibrate import RECOVERY, calibrated_airspeed_ms, calibration_note
from stdday.uncertainty import Draws

if TYPE_CHECKING:
    from stdday.campaign import Airplane, Campaign, Configuration, Flight, Reference

__all__ = ["State", "air_of_legs", "make_state", "power_words"]

FloatArray = NDArray[np.float64]

#: Fuel burnt where a recording has no fuel flow: share of rated power [-] and specific
#: consumption [kg/J] (0.29 kg/kWh). Common practice for a light piston engine.
ASSUMED_POWER, ASSUMED_CONSUMPTION_KG_J = 0.6, 0.29 / 3.6e6
#: One sigma of brake power from fuel flow [-], by whether the mixture setting was written down, and
#: its part that is each configuration's own. Common practice.
FUEL_FLOW_POWER_SIGMA = {True: 0.05, False: 0.10}
FUEL_FLOW_POWER_OWN_SIGMA = 0.03
#: One sigma of brake power from a chart [-]: the installed engine is not that of the test stand.
#: Common practice.
CHART_POWER_SIGMA = 0.04
#: Dew point below the temperature at the field where none was reported [K]. Common practice.
ASSUMED_SPREAD_K = 8.0
#: One sigma of a temperature carried up from the field by the standard lapse [K].
LAPSE_SIGMA_K = 3.0
#: Weight of one occupant, for the least weight an airplane can have flown at [kg].
OCCUPANT_KG = 75.0


@dataclass(frozen=True)
class State:
    """State of the test points of one kind; arrays have shape (draws + 1, points), SI.

    Parameters
    ----------
    frame : DataFrame
        The segments it was made from, one row a point, in this order.
    campaign : Campaign
        The campaign.
    flights : tuple of Flight
        Flight of each point.
    weight_kg, pressure_altitude_m, pressure_pa, temperature_k, vapour_pa, density_kg_m3 : ndarray
        Weight and air.
    calibrated_ms, true_ms : ndarray
        Airspeeds.
    power_w : ndarray
        Brake power; NaN where the recording does not carry it.
    clock : ndarray
        True time over recorded time [-]: 1, with draws where rows have no clock and the interval
        between them is only stated. Rates are divided by it, times and distances multiplied.
    notes : tuple of tuple of str
        What was assumed for each point, in words.
    """

    frame: pd.DataFrame
    campaign: Campaign
    flights: tuple[Flight, ...]
    weight_kg: FloatArray
    pressure_altitude_m: FloatArray
    pressure_pa: FloatArray
    temperature_k: FloatArray
    vapour_pa: FloatArray
    density_kg_m3: FloatArray
    calibrated_ms: FloatArray
    true_ms: FloatArray
    power_w: FloatArray
    clock: FloatArray
    notes: tuple[tuple[str, ...], ...]

    def column(self, name: str) -> FloatArray:
        """Return a column of the segments as an array, shape (points,)."""
        return self.frame[name].to_numpy(dtype=float)

    def airplane(self, get: Callable[[Airplane], float | None]) -> FloatArray:
        """Return one number of each point's airplane, shape (points,); NaN where not given."""
        return np.array([_number(get(self.airplane_of(flight))) for flight in self.flights])

    def configuration(self, get: Callable[[Configuration], float | None]) -> FloatArray:
        """Return one number of each point's configuration, shape (points,)."""
        found = [self.campaign.configurations[flight.configuration] for flight in self.flights]
        return np.array([_number(get(configuration)) for configuration in found])

    def reference(self, get: Callable[[Reference], float | None]) -> FloatArray:
        """Return one number of each point's reference conditions, shape (points,)."""
        return np.array(
            [
                _number(get(self.campaign.reference_of(flight.configuration)))
                for flight in self.flights
            ]
        )

    def airplane_of(self, flight: Flight) -> Airplane:
        """Return the airplane of a flight."""
        return self.campaign.airplanes[self.campaign.configurations[flight.configuration].airplane]

    def conditions(self) -> dict[str, FloatArray]:
        """Nominal conditions of the points by name, each shape (points,), SI."""
        return {
            "weight_kg": self.weight_kg[0],
            "density_altitude_m": np.asarray(atmosphere.density_altitude_m(self.density_kg_m3[0])),
            "temperature_k": self.temperature_k[0],
            "vapour_pressure_pa": self.vapour_pa[0],
        }

    @property
    def configurations(self) -> list[str]:
        """Configuration of each point."""
        return [flight.configuration for flight in self.flights]


def _number(value: float | None) -> float:
    return float("nan") if value is None else float(value)


def make_state(campaign: Campaign, frame: pd.DataFrame, draws: Draws) -> State:
    """Put together the state of test points from their segments.

    Parameters
    ----------
    campaign : Campaign
        Flights, airplanes and declared uncertainties.
    frame : DataFrame
        Segments of test points of one kind, one row each.
    draws : Draws
        Draws of the errors that flights share.

    Returns
    -------
    State

    Raises
    ------
    InputError
        Where an altitude, temperature or airspeed is outside of what the formulas answer for.
    """
    flights = _flights(campaign, frame)
    installations = [flight.installation for flight in flights]
    shape = (draws.count + 1, len(flights))
    clock = _clock(frame, flights, draws)
    altitude = frame["pressure_altitude_m"].to_numpy(dtype=float) + campaign.sigma(
        "pressure_altitude"
    ) * draws.normal("pressure altitude", "shared", installations)
    notes = [[note] if (note := calibration_note(campaign, one)) else [] for one in flights]
    calibrated = calibrated_airspeed_ms(
        campaign, flights, frame["indicated_airspeed_ms"].to_numpy(dtype=float), draws
    )
    altitude = altitude - _static_error_m(campaign, frame, flights, altitude, calibrated, draws)
    pressure = np.asarray(atmosphere.standard_pressure_pa(altitude))
    shown, of_probe = _temperature(campaign, frame, flights, altitude, draws, notes)
    factor = _recovery_factor(campaign, flights, of_probe, draws, notes)
    temperature = _static_temperature(shown, of_probe, calibrated, pressure, factor)
    vapour = _vapour(campaign, flights, altitude, pressure, temperature, draws, notes)
    return State(
        frame=frame,
        campaign=campaign,
        flights=flights,
        weight_kg=np.broadcast_to(_weight(campaign, frame, flights, clock, draws, notes), shape),
        pressure_altitude_m=altitude,
        pressure_pa=pressure,
        temperature_k=temperature,
        vapour_pa=vapour,
        density_kg_m3=np.asarray(atmosphere.density_kg_m3(pressure, temperature, vapour)),
        calibrated_ms=calibrated,
        true_ms=np.asarray(airspeed.true_airspeed_ms(calibrated, pressure, temperature)),
        power_w=_power(campaign, frame, flights, draws, (pressure, temperature, vapour)),
        clock=clock,
        notes=tuple(tuple(lines) for lines in notes),
    )


def air_of_legs(
    campaign: Campaign, frame: pd.DataFrame
) -> tuple[FloatArray, FloatArray, FloatArray, list[list[str]]]:
    """Pressure altitude and temperature of the air, or standing in for what was not recorded.

    Parameters
    ----------
    campaign : Campaign
        Flights and airfields.
    frame : DataFrame
        Legs of airspeed calibrations, one row each.

    Returns
    -------
    pressure_altitude_m, temperature_k : ndarray, shape (legs,)
        Pressure altitude [m] and static temperature [K], the probe's less its ram rise; NaN where
        there is neither a recorded nor a reported one.
    recovery_k : ndarray, shape (legs,)
        Change of the temperature from a recovery factor of 0 to 1 [K]; 0 where it is known, or
        where no probe was read.
    notes : list of list of str
        What was assumed for each leg, in words.
    """
    flights = _flights(campaign, frame)
    notes: list[list[str]] = [[] for _ in flights]
    altitude = frame["pressure_altitude_m"].to_numpy(dtype=float)
    none = Draws(0)
    shown, of_probe = _temperature(campaign, frame, flights, altitude[None, :], none, notes)
    factor = _recovery_factor(campaign, flights, of_probe, none, notes)
    pressure = np.asarray(atmosphere.standard_pressure_pa(altitude))
    indicated = frame["indicated_airspeed_ms"].to_numpy(dtype=float)  # near enough to calibrated
    temperature, least, most = (
        _static_temperature(shown[0], of_probe, indicated, pressure, one)
        for one in (factor[0], np.zeros(len(frame)), np.ones(len(frame)))
    )
    given = [_airplane(campaign, one).temperature_recovery_factor is not None for one in flights]
    return altitude, temperature, np.where(given, 0.0, most - least), notes


#: Kinds of points whose pressure altitude was read on the ground, without airspeed.
_ON_WHEELS = ("take-off", "landing")


def _static_error_m(
    campaign: Campaign,
    frame: pd.DataFrame,
    flights: tuple[Flight, ...],
    altitude_m: FloatArray,
    calibrated_ms: FloatArray,
    draws: Draws,
) -> FloatArray:
    """Altimeter error that comes with the airspeed error, as far as that is static.

    The share is the owner's, or else drawn evenly from 0 to 1, one half without draws.
    """
    installations = [flight.installation for flight in flights]
    drawn = special.ndtr(
        draws.normal("static share of the airspeed error", "shared", installations)
    )
    given = np.array(
        [_number(_airplane(campaign, one).static_share_of_airspeed_error) for one in flights]
    )
    share = np.where(np.isfinite(given), given, drawn)
    flying = ~frame["kind"].isin(_ON_WHEELS).to_numpy()
    indicated = frame["indicated_airspeed_ms"].to_numpy(dtype=float)
    error = np.where(flying, indicated - calibrated_ms, 0.0) * share
    moving = np.where(flying, calibrated_ms, np.nan)
    height: FloatArray = np.asarray(
        airspeed.static_error_in_height_m(error, moving, altitude_m)
    )
    return np.where(flying, height, 0.0)


#: Columns in which a person's decision about one point overrules its flight's entry.
DECIDED = {
    "decided_runway": "runway",
    "decided_wind_from_rad": "reported_wind_from_rad",
    "decided_wind_speed_ms": "reported_wind_speed_ms",
    "decided_weight_kg": "takeoff_weight_kg",
}


def _flights(campaign: Campaign, frame: pd.DataFrame) -> tuple[Flight, ...]:
    """Flight of each point, with what holds for the point in place of its entry."""
    by_id = {flight.id: flight for flight in campaign.flights}
    given = [column for column in DECIDED if column in frame]
    flights = []
    for row in frame[["flight", "kind", *given]].to_dict("records"):
        changes: dict[str, Any] = {
            DECIDED[column]: row[column] for column in given if not pd.isna(row[column])
        }
        flight = by_id[str(row["flight"])]
        if row["kind"] not in _ON_WHEELS and flight.flaps:
            changes["flaps"] = None  # a flight's flaps are those of its take-offs and landings
        flights.append(replace(flight, **changes) if changes else flight)
    return tuple(flights)


def _airplane(campaign: Campaign, flight: Flight) -> Airplane:
    return campaign.airplanes[campaign.configurations[flight.configuration].airplane]


def _clock(frame: pd.DataFrame, flights: tuple[Flight, ...], draws: Draws) -> FloatArray:
    """True over recorded time: one draw for all recordings read through one columns file."""
    sigma = (
        frame["interval_sigma"].fillna(0.0).to_numpy(dtype=float)
        if "interval_sigma" in frame
        else np.zeros(len(flights))
    )
    names = [flight.columns or "" for flight in flights]
    clock: FloatArray = 1 + sigma * draws.normal("interval between rows", "shared", names)
    return clock


def _weight(
    campaign: Campaign,
    frame: pd.DataFrame,
    flights: tuple[Flight, ...],
    clock: FloatArray,
    draws: Draws,
    notes: list[list[str]],
) -> FloatArray:
    """Weight at the point: at first brake release, minus the fuel burnt since."""
    start, unknown, burnt = np.empty(len(flights)), np.zeros(len(flights)), np.empty(len(flights))
    decided = (
        frame["decided_weight_kg"].notna().to_numpy()
        if "decided_weight_kg" in frame
        else np.zeros(len(flights), dtype=bool)
    )
    for place, flight in enumerate(flights):
        airplane = _airplane(campaign, flight)
        start[place] = _number(flight.takeoff_weight_kg)
        if flight.takeoff_weight_kg is None and airplane.empty_weight_kg is not None:
            least = airplane.empty_weight_kg + OCCUPANT_KG
            start[place] = (least + airplane.maximum_weight_kg) / 2
            unknown[place] = (airplane.maximum_weight_kg - least) / np.sqrt(12)
            notes[place].append("take-off weight not given: half-way between lightest and heaviest")
        used = frame["fuel_used_m3"].iloc[place]
        if decided[place]:
            burnt[place] = 0.0
            notes[place].append("weight as decided")
        elif np.isfinite(used):
            burnt[place] = used * _number(airplane.fuel_density_kg_m3)
        else:
            elapsed = frame["elapsed_since_first_takeoff_s"].iloc[place]
            rate = ASSUMED_POWER * ASSUMED_CONSUMPTION_KG_J * _number(airplane.rated_power_w)
            burnt[place] = rate * elapsed
            notes[place].append("no fuel flow: fuel burnt taken as at 60 % power")
    names = [flight.id for flight in flights]
    weight: FloatArray = (
        start
        - burnt * clock
        + campaign.sigma("weight") * draws.normal("weight", "flight", names)
        + unknown
        * draws.normal(
            "weight not given", "configuration", [flight.configuration for flight in flights]
        )
    )
    return weight


def _temperature(
    campaign: Campaign,
    frame: pd.DataFrame,
    flights: tuple[Flight, ...],
    altitude_m: FloatArray,
    draws: Draws,
    notes: list[list[str]],
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Outside air temperature: on the ground the reported one, in flight the probe's.

    With it goes where it is what a probe shows in flight, with its ram rise.
    """
    on_ground = "climb_temperature_at_field_k" in frame and frame["kind"].isin(_ON_WHEELS)
    probe = frame["outside_air_temperature_k"].to_numpy(dtype=float).copy()
    lapse_sigma = np.zeros(len(flights))
    bias = np.full(len(flights), campaign.sigma("outside_air_temperature_bias"))
    of_probe = np.isfinite(probe) & ~frame["kind"].isin(_ON_WHEELS).to_numpy()
    for place, flight in enumerate(flights):
        reported = _number(flight.reported_temperature_k)
        if on_ground is not False and bool(np.asarray(on_ground)[place]):
            carried = float(frame["climb_temperature_at_field_k"].iloc[place])
            if np.isfinite(reported):
                probe[place], bias[place] = reported, 0.0
            else:
                probe[place] = carried
                flown = "descent" if frame["kind"].iloc[place] == "landing" else "climb"
                notes[place].append(f"no reported temperature: carried down from the {flown}")
        elif not np.isfinite(probe[place]) and np.isfinite(reported):
            field = _field_altitude_m(campaign, flight)
            probe[place] = reported + atmosphere.LAPSE_K_M * (altitude_m[0, place] - field)
            lapse_sigma[place], bias[place] = LAPSE_SIGMA_K, 0.0
            notes[place].append("no temperature recorded: carried up from the field")
    installations = [flight.installation for flight in flights]
    temperature: FloatArray = (
        probe
        + bias * draws.normal("temperature probe", "shared", installations)
        + lapse_sigma * draws.normal("lapse", "shared", installations)
    )
    return temperature, of_probe


def _recovery_factor(
    campaign: Campaign,
    flights: tuple[Flight, ...],
    of_probe: NDArray[np.bool_],
    draws: Draws,
    notes: list[list[str]],
) -> FloatArray:
    """Share of the ram rise that each point's probe takes up: the owner's, or else drawn evenly.

    From 0 to 1, one half without draws.
    """
    installations = [flight.installation for flight in flights]
    drawn = special.ndtr(draws.normal(RECOVERY, "shared", installations))
    given = np.array(
        [_number(_airplane(campaign, one).temperature_recovery_factor) for one in flights]
    )
    for place in np.flatnonzero(of_probe & np.isnan(given)):
        notes[place].append("recovery factor of the temperature probe not given: half of its ram "
                            "rise taken off")
    factor: FloatArray = np.where(np.isfinite(given), given, drawn)
    return factor


def _static_temperature(
    shown_k: FloatArray,
    of_probe: NDArray[np.bool_],
    calibrated_ms: FloatArray,
    pressure_pa: FloatArray,
    factor: FloatArray,
) -> FloatArray:
    """Temperature of the air: what a probe shows in flight, less its ram rise.

    Where airspeed or pressure are not known, the rise is not known either and stays in.
    """
    static = np.asarray(
        airspeed.static_temperature_at_k(
            shown_k, np.where(of_probe, calibrated_ms, np.nan), pressure_pa, factor
        )
    )
    return np.where(np.isfinite(static), static, shown_k)


def _field_altitude_m(campaign: Campaign, flight: Flight) -> float:
    if flight.airfield is None:
        return 0.0
    elevation = campaign.airfields[flight.airfield].elevation_m
    if flight.altimeter_setting_pa is None:
        return float(elevation)
    return float(atmosphere.pressure_altitude_at_field_m(elevation, flight.altimeter_setting_pa))


def _vapour(
    campaign: Campaign,
    flights: tuple[Flight, ...],
    altitude_m: FloatArray,
    pressure_pa: FloatArray,
    temperature_k: FloatArray,
    draws: Draws,
    notes: list[list[str]],
) -> FloatArray:
    """Vapour pressure: the field's, well mixed with height, never above saturation."""
    dew, missing = np.empty(len(flights)), np.zeros(len(flights))
    field = np.array([_field_altitude_m(campaign, flight) for flight in flights])
    warmer = -atmosphere.LAPSE_K_M * (altitude_m[0] - field)
    for place, flight in enumerate(flights):
        dew[place] = _number(flight.reported_dew_point_k)
        if flight.reported_dew_point_k is None:
            surface = _number(flight.reported_temperature_k)
            if not np.isfinite(surface):
                surface = temperature_k[0, place] + warmer[place]
            dew[place], missing[place] = surface - ASSUMED_SPREAD_K, campaign.sigma("dew_point")
            notes[place].append("no dew point: taken 8 K below the temperature at the field")
    blocks = [flight.block for flight in flights]
    dew_point = dew + missing * draws.normal("dew point not given", "block", blocks)
    at_field = np.asarray(atmosphere.vapour_pressure_pa(dew_point))
    mixed = at_field * pressure_pa / np.asarray(atmosphere.standard_pressure_pa(field))
    vapour: FloatArray = np.minimum(mixed, np.asarray(atmosphere.vapour_pressure_pa(temperature_k)))
    return vapour


def _power(
    campaign: Campaign,
    frame: pd.DataFrame,
    flights: tuple[Flight, ...],
    draws: Draws,
    air: tuple[FloatArray, FloatArray, FloatArray],
) -> FloatArray:
    """Brake power as the campaign says it is known, with the scale error that flights share.

    `air` is pressure, temperature and vapour pressure, for power charts.
    """
    nominal = np.empty((draws.count + 1, len(flights)))
    for place, flight in enumerate(flights):
        airplane = _airplane(campaign, flight)
        if airplane.power_from == "power chart":
            speed, manifold = frame[["engine_speed_rps", "manifold_pressure_pa"]].iloc[place]
            column = [np.broadcast_to(one, nominal.shape)[:, place] for one in air]
            nominal[:, place] = power_chart.chart_power_w(
                airplane.power_chart or (), float(speed), float(manifold), *column
            )
        elif airplane.power_from == "fuel flow":
            flow = float(frame["fuel_flow_m3s"].iloc[place])
            nominal[:, place] = engine.power_from_fuel_flow_w(
                flow,
                _number(airplane.fuel_density_kg_m3),
                _number(airplane.specific_consumption_kg_j),
            )
        else:
            nominal[:, place] = float(frame["power_w"].iloc[place])
    airplanes = [_airplane(campaign, flight).id for flight in flights]
    configurations = [flight.configuration for flight in flights]
    sigmas = np.array([_power_sigmas(campaign, flight) for flight in flights]).reshape(-1, 2)
    scale = sigmas[:, 0] * draws.normal("power", "shared", airplanes) + sigmas[:, 1] * draws.normal(
        "power of the configuration", "configuration", configurations
    )
    power: FloatArray = nominal * (1 + scale)
    return power


def _power_sigmas(campaign: Campaign, flight: Flight) -> tuple[float, float]:
    """One sigma of brake power [-], shared and each configuration's own, by where it comes from."""
    shared, own = campaign.sigma("power"), campaign.sigma("power_between_configurations")
    source = _airplane(campaign, flight).power_from
    if source == "power chart" and "power" in campaign.defaults_used:
        shared = CHART_POWER_SIGMA
    if source == "fuel flow":
        if "power" in campaign.defaults_used:
            shared = FUEL_FLOW_POWER_SIGMA[bool(flight.mixture)]
        if "power_between_configurations" in campaign.defaults_used:
            own = FUEL_FLOW_POWER_OWN_SIGMA
    return shared, own


def power_words(campaign: Campaign, configuration: str) -> str:
    """Say where brake power comes from and how well it is known.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    configuration : str
        Configuration.

    Returns
    -------
    str
        Source with its one sigma, over all of its flights the largest.
    """
    flights = [flight for flight in campaign.flights if flight.configuration == configuration]
    sigmas = np.array([_power_sigmas(campaign, flight) for flight in flights]).reshape(-1, 2)
    if not len(sigmas):
        return f"brake power from {campaign.airplane_of(configuration).power_from}"
    shared, own = 100 * sigmas.max(axis=0)
    source = campaign.airplane_of(configuration).power_from.replace("logged", "the logged")
    return (
        f"brake power from {source}, one sigma {shared:.2g} % shared and {own:.2g} % its own"
    ).replace("from power chart", "from the power chart").replace("from fuel", "from the fuel")
