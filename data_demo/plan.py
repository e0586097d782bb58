"""What a demo consists of: field, airplanes, pilots, flights as planned, and drawn errors."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from .air import FT_M, KT_MS, Weather
from .airframe import Configuration
from .flight import Runway


@dataclass(frozen=True)
class Site:
    """The invented field.

    Parameters
    ----------
    name : str
        Its name in the campaign.
    elevation_m, length_m, bearing_deg, slope : float
        Elevation [m], runway length [m], true bearing [deg] and slope of the first direction.
    runways : tuple of str
        Names of the two directions.
    zone_h : int
        Local time minus UTC [h].
    origin_deg : tuple of float
        A place in the open sea, since the field is invented.
    """

    name: str
    elevation_m: float
    length_m: float
    bearing_deg: float
    slope: float
    runways: tuple[str, str]
    zone_h: int
    origin_deg: tuple[float, float]

    def runway(self, name: str, slope: float) -> Runway:
        """Runway by its name, with the true slope in the first direction."""
        bearing = math.radians(self.bearing_deg)
        if name == self.runways[0]:
            return Runway(name, bearing, slope, 0.0, 0.0, self.elevation_m)
        east = self.length_m * math.sin(bearing)
        north = self.length_m * math.cos(bearing)
        top = self.elevation_m + slope * self.length_m
        return Runway(name, bearing + math.pi, -slope, east, north, top)

    def runway_into(self, wind_from_deg: float) -> str:
        """Runway into the wind."""
        into = math.cos(math.radians(wind_from_deg - self.bearing_deg)) >= 0.0
        return self.runways[0 if into else 1]


@dataclass(frozen=True)
class Habit:
    """Habits of a pilot.

    Parameters
    ----------
    liftoff_kt, scatter_kt : float
        Lift-off airspeed [kt] and its scatter [kt]; above that of the demo's reference airplane
        where airplanes differ.
    skill, climb_bias_kt : float
        Factor on errors, and how much faster than asked this pilot climbs [kt].
    approach_kt, brake_ms2 : float
        Faster than the airplane's approach airspeed [kt], and braking after landing [m/s^2].
    """

    liftoff_kt: float
    scatter_kt: float
    skill: float
    climb_bias_kt: float
    approach_kt: float = 0.0
    brake_ms2: float = 1.6


@dataclass(frozen=True)
class Plan:
    """One flight as planned.

    Parameters
    ----------
    number : int
        Number of the flight.
    configuration, block, date, start_utc_h : str, str, str, float
        Propeller, period, date and time of day of the recording's start.
    load_kg : float
        People and baggage [kg].
    fuel_l : float
        Fuel when the engine is started [L].
    qnh_hpa, temperature_c, dew_point_c : float
        Pressure at sea level, temperature and dew point at the field.
    lapse_k_km : float
        Fall of temperature with height [K/km].
    wind_from_deg, wind_kt, gust_kt, thermal_fpm : float
        Wind 10 m above the field, and standard deviations of gusts and thermals.
    pilot : str
        Pilot.
    powers : tuple of float
        Powers of the level runs, in flown order, as shares of the rated one.
    level_ft : float
        Height of the level runs [ft].
    heading_deg : float
        Heading of the first run.
    more_take_offs : int
        Take-offs after the first landing.
    sawtooth : int
        Climbs at the usual airspeed after the first.
    climbs_kt : tuple of float
        Airspeeds of further climbs [kt].
    patterns : tuple of (str, float)
        Patterns for the airspeed calibration: box, triangle or circle, and airspeed [kt]; 0 stands
        for full throttle.
    accelerations : int
        Level accelerations.
    """

    number: int
    configuration: str
    block: str
    date: str
    start_utc_h: float
    load_kg: float
    fuel_l: float
    qnh_hpa: float
    temperature_c: float
    dew_point_c: float
    lapse_k_km: float
    wind_from_deg: float
    wind_kt: float
    gust_kt: float
    thermal_fpm: float
    pilot: str
    powers: tuple[float, ...]
    level_ft: float
    heading_deg: float
    more_take_offs: int
    sawtooth: int = 0
    climbs_kt: tuple[float, ...] = ()
    patterns: tuple[tuple[str, float], ...] = ()
    accelerations: int = 0
    aborted: bool = False
    touch_and_go: bool = False
    long_roll_out: bool = False
    rich: float = 0.0
    recorder: str = "main"
    parts: int = 1
    dew_point_noted: bool = True
    note: str = ""
    prefix: str = "F"

    @property
    def name(self) -> str:
        """Name of the flight in the campaign."""
        return f"{self.prefix}{self.number:02d}"


@dataclass(frozen=True)
class BlockDraw:
    """What one period adds: rolling friction, power, drag, air motion, fuel."""

    rolling_add: float
    power: float
    parasite: float
    air_rise_ms: float
    fuel: float


@dataclass(frozen=True)
class Errors:
    """Errors drawn once for an installation, SI units unless the name says otherwise.

    `table_kt` is the error of an owner's table, where there is one.
    """

    temperature_k: float
    power: float
    power_by_configuration: dict[str, float]
    between_kt: tuple[float, float]
    slope: float
    delay_s: float
    altitude_m: float
    fuel_flow: float
    blocks: dict[str, BlockDraw]
    table_kt: tuple[float, float] | None = None


def draw_errors(
    seed: int,
    stream: int,
    sigma: Mapping[str, float],
    configurations: tuple[str, ...],
    blocks: tuple[str, ...],
) -> Errors:
    """Draw the errors of an installation; the order of the draws is part of a demo.

    The two numbers of an owner's table are drawn in any case.
    """
    normal = np.random.default_rng([seed, stream]).standard_normal

    def pair() -> tuple[float, float]:
        return 0.9 * float(normal()), 0.45 * float(normal())

    temperature = sigma["outside_air_temperature_bias"] * float(normal())
    power = sigma["power"] * float(normal())
    own = {name: sigma["power_between_configurations"] * float(normal()) for name in configurations}
    table, between = pair(), pair()
    table_sigma = sigma.get("airspeed_calibration_table")
    own_airspeed = sigma["airspeed_between_configurations"]
    return Errors(
        temperature_k=temperature,
        power=power,
        power_by_configuration=own,
        table_kt=None if table_sigma is None else (table_sigma * table[0], table_sigma * table[1]),
        between_kt=(own_airspeed * between[0], own_airspeed * between[1]),
        slope=sigma["runway_slope"] * float(normal()),
        delay_s=sigma["airspeed_delay"] * float(normal()),
        altitude_m=sigma["pressure_altitude"] * FT_M * float(normal()),
        fuel_flow=sigma["fuel_flow_scale"] * float(normal()),
        blocks={
            name: BlockDraw(
                rolling_add=0.0036 * float(normal()),
                power=0.005 * float(normal()),
                parasite=0.010 * float(normal()),
                air_rise_ms=11.0 * FT_M / 60.0 * float(normal()),
                fuel=0.01 * float(normal()),
            )
            for name in blocks
        },
    )


@dataclass(frozen=True)
class Aircraft:
    """An airplane in one configuration, and what its results are stated for.

    Parameters
    ----------
    config : Configuration
        Its physics.
    empty_kg : float
        Mass without load and fuel [kg].
    weight_kg, liftoff_kt, climb_kt : float
        Reference weight [kg], lift-off and climb airspeeds [kt, calibrated].
    usable_fuel_l : float
        For the endurance [L].
    differs : bool
        Whether the airspeed error has a part of this configuration's own.
    liftoff_add_kt : float
        Added to the pilots' lift-off airspeeds [kt].
    airplane, flaps, mixture : str
        Airplane in the campaign, and cells of the flight table.
    hours : float
        Engine hours before the first flight.
    """

    config: Configuration
    empty_kg: float
    weight_kg: float
    liftoff_kt: float
    climb_kt: float
    usable_fuel_l: float
    airplane: str
    flaps: str
    mixture: str
    hours: float
    differs: bool = False
    liftoff_add_kt: float = 0.0


@dataclass(frozen=True)
class Reference:
    """Conditions of the results.

    Parameters
    ----------
    climb_ft, cruise_ft : tuple of float, float
        Pressure altitudes [ft].
    powers : tuple of int
        Cruise powers [% of rated].
    grid_kt : tuple of float
        Indicated airspeeds of the true airspeed correction [kt].
    same_airframe : bool
        Whether the configurations share an airframe, so that efficiencies can be compared.
    """

    climb_ft: tuple[float, float]
    cruise_ft: float
    powers: tuple[int, ...]
    grid_kt: tuple[float, ...]
    same_airframe: bool


@dataclass(frozen=True)
class Demo:
    """A demo campaign: everything that is needed to make it.

    Parameters
    ----------
    name : str
        Folder.
    seed : int
        Seed, written down before the first run.
    site : Site
        Field.
    aircraft : mapping of str to Aircraft
        By configuration, the reference one first.
    pilots : mapping of str to Habit
        By name.
    plans : tuple of Plan
        Flights.
    sigma : mapping of str to float
        One-sigma errors, the same as declared in the campaign.
    errors : mapping of str to Errors
        Errors drawn, by configuration.
    reference : Reference
        What results are stated for.
    says_blocks : bool
        Whether the flight table names the periods.
    """

    name: str
    seed: int
    site: Site
    aircraft: Mapping[str, Aircraft]
    pilots: Mapping[str, Habit]
    plans: tuple[Plan, ...]
    sigma: Mapping[str, float]
    errors: Mapping[str, Errors]
    reference: Reference
    says_blocks: bool = False


def weather_of(plan: Plan) -> Weather:
    """Weather of a flight."""
    return Weather(
        qnh_pa=plan.qnh_hpa * 100.0,
        temperature_k=plan.temperature_c + 273.15,
        dew_point_k=plan.dew_point_c + 273.15,
        lapse_k_m=plan.lapse_k_km / 1000.0,
        dew_lapse_k_m=0.0035,
        wind_from_rad=math.radians(plan.wind_from_deg),
        wind_ms=plan.wind_kt * KT_MS,
        shear=0.16 if plan.thermal_fpm > 25.0 else 0.22,
        veer_rad_m=math.radians(0.02),
        gust_ms=plan.gust_kt * KT_MS,
        thermal_ms=plan.thermal_fpm * FT_M / 60.0,
    )
