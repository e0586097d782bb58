"""The state of each test point, with draws: weight, air, airspeeds and power."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday import airspeed, atmosphere, engine
from stdday.calibrate import calibrated_airspeed_ms

if TYPE_CHECKING:
    from stdday.campaign import Airplane, Campaign, Configuration, Flight, Reference
    from stdday.uncertainty import Draws

__all__ = ["State", "make_state"]

FloatArray = NDArray[np.float64]

#: Fuel burnt where a recording has no fuel flow: share of rated power [-] and specific
#: consumption [kg/J] (0.29 kg/kWh). Common practice for a light piston engine.
ASSUMED_POWER, ASSUMED_CONSUMPTION_KG_J = 0.6, 0.29 / 3.6e6
#: One sigma of brake power from fuel flow [-], by whether the mixture setting was written down, and
#: its part that is each configuration's own. Common practice.
FUEL_FLOW_POWER_SIGMA = {True: 0.05, False: 0.10}
FUEL_FLOW_POWER_OWN_SIGMA = 0.03
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
                _number(get(self.campaign.reference_for(self.airplane_of(flight).id)))
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
    notes: list[list[str]] = [[] for _ in flights]
    temperature = _temperature(campaign, frame, flights, altitude, draws, notes)
    pressure = np.asarray(atmosphere.standard_pressure_pa(altitude))
    vapour = _vapour(campaign, flights, altitude, pressure, temperature, draws, notes)
    calibrated = calibrated_airspeed_ms(
        campaign, flights, frame["indicated_airspeed_ms"].to_numpy(dtype=float), draws
    )
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
        power_w=_power(campaign, frame, flights, draws),
        clock=clock,
        notes=tuple(tuple(lines) for lines in notes),
    )


#: Columns in which a person's decision about one point overrules its flight's entry.
DECIDED = {
    "decided_runway": "runway",
    "decided_wind_from_rad": "reported_wind_from_rad",
    "decided_wind_speed_ms": "reported_wind_speed_ms",
    "decided_weight_kg": "takeoff_weight_kg",
}


def _flights(campaign: Campaign, frame: pd.DataFrame) -> tuple[Flight, ...]:
    """Flight of each point, with what a person decided about the point in place of its entry."""
    by_id = {flight.id: flight for flight in campaign.flights}
    given = [column for column in DECIDED if column in frame]
    flights = []
    for row in frame[["flight", *given]].to_dict("records"):
        changes = {DECIDED[column]: row[column] for column in given if not pd.isna(row[column])}
        flight = by_id[str(row["flight"])]
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
) -> FloatArray:
    """Outside air temperature: on the ground the reported one, in flight the probe's."""
    on_ground = "climb_temperature_at_field_k" in frame and frame["kind"].eq("take-off")
    probe = frame["outside_air_temperature_k"].to_numpy(dtype=float).copy()
    lapse_sigma = np.zeros(len(flights))
    bias = np.full(len(flights), campaign.sigma("outside_air_temperature_bias"))
    for place, flight in enumerate(flights):
        reported = _number(flight.reported_temperature_k)
        if on_ground is not False and bool(np.asarray(on_ground)[place]):
            carried = float(frame["climb_temperature_at_field_k"].iloc[place])
            if np.isfinite(reported):
                probe[place], bias[place] = reported, 0.0
            else:
                probe[place] = carried
                notes[place].append("no reported temperature: carried down from the climb")
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
    return temperature


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
    campaign: Campaign, frame: pd.DataFrame, flights: tuple[Flight, ...], draws: Draws
) -> FloatArray:
    """Brake power as the campaign says it is known, with the scale error that flights share."""
    nominal = np.empty(len(flights))
    for place, flight in enumerate(flights):
        airplane = _airplane(campaign, flight)
        if airplane.power_from == "fuel flow":
            flow = float(frame["fuel_flow_m3s"].iloc[place])
            nominal[place] = engine.power_from_fuel_flow_w(
                flow,
                _number(airplane.fuel_density_kg_m3),
                _number(airplane.specific_consumption_kg_j),
            )
        else:
            nominal[place] = float(frame["power_w"].iloc[place])
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
    if _airplane(campaign, flight).power_from == "fuel flow":
        if "power" in campaign.defaults_used:
            shared = FUEL_FLOW_POWER_SIGMA[bool(flight.mixture)]
        if "power_between_configurations" in campaign.defaults_used:
            own = FUEL_FLOW_POWER_OWN_SIGMA
    return shared, own
