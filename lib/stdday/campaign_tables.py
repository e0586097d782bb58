"""The tables and keys that ``campaign.toml`` can hold, with the check of each value.

Every key is optional to pydantic; `entry` marks the required ones, which the reader reports apart.
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict

from stdday.campaign_defaults import LIMIT_DIMENSIONS
from stdday.campaign_fields import (
    calibration,
    choice,
    count,
    entry,
    exponents,
    isa_offset,
    limits,
    money,
    number,
    pair,
    pairs,
    power_chart,
    quantity,
    text,
    time_zone,
)

__all__ = [
    "SCHEMA",
    "AirfieldTable",
    "AirplaneTable",
    "CampaignTable",
    "CompareTable",
    "ConfigurationTable",
    "DecideTable",
    "PropellerTable",
    "ReferenceTable",
    "RunwayTable",
    "Table",
]

#: The version of the format that this library reads.
SCHEMA = 1

_AIRSPEED = quantity("speed", "10 kt", "400 kt")
_ALTITUDE = quantity("length", "-2000 ft", "40000 ft")
_MASS = quantity("mass", "20 kg", "20000 kg")
_SHARE = quantity("fraction", "20 %", "100 %")
_SLOPE = quantity("fraction", "-15 %", "15 %")
_ENGINE_SPEED = quantity("angular_speed", "100 rpm", "12000 rpm")

_Text = Annotated[str, text] | None
_Airspeed = Annotated[float, _AIRSPEED] | None
_Altitude = Annotated[float, _ALTITUDE] | None
_Mass = Annotated[float, _MASS] | None
_Slope = Annotated[float, _SLOPE] | None
_EngineSpeed = Annotated[float, _ENGINE_SPEED] | None
_Calibration = Annotated[Any, calibration]
_Efficiencies = Annotated[Any, pair("fraction", "20 %", "100 %", "climb and cruise")]
_Exponents = Annotated[Any, exponents]
_Limits = Annotated[Any, limits(LIMIT_DIMENSIONS)]
_TimeZone = Annotated[float, time_zone] | None


class Table(BaseModel):
    """A table of the file: keys that are not known are errors."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True)


class CompareTable(Table):
    """What is compared with what."""

    reference: _Text = entry("the configuration that the others are compared with", '"A"')
    primary: list[Annotated[str, text]] | None = entry(
        "the metrics that answer the question", '["takeoff_ground_roll", "climb_rate"]',
        required=False)


class ReferenceTable(Table):
    """What every result is corrected to; for one airplane, what differs from that."""

    weight: _Mass = entry("the reference weight", '"600 kg"')
    temperature: Annotated[float, isa_offset] | None = entry(
        "the reference temperature", '"ISA+0"')
    takeoff_pressure_altitude: _Altitude = entry("the pressure altitude of take-offs", '"0 ft"')
    climb_pressure_altitudes: list[Annotated[float, _ALTITUDE]] | None = entry(
        "the pressure altitudes of climbs", '["1000 ft", "4000 ft"]')
    cruise_pressure_altitude: _Altitude = entry("the pressure altitude of cruise", '"4000 ft"')
    cruise_power: list[Annotated[float, _SHARE]] | None = entry(
        "the cruise powers, of rated power", '["55 %", "65 %", "75 %"]')
    liftoff_airspeed: _Airspeed = entry("the common calibrated lift-off airspeed", '"48 kt"')
    climb_airspeed: _Airspeed = entry("the common calibrated climb airspeed", '"62 kt"')
    runway_slope: _Slope = entry("the reference runway slope", '"0 %"')
    runway_surface: _Text = entry("the reference runway surface", '"paved, dry"')


_PowerChart = Annotated[tuple[tuple[float, float, float], ...], power_chart] | None


class AirplaneTable(Table):
    """One airplane."""

    name: _Text = entry("the airplane's name", '"our two-seater"', required=False)
    maximum_weight: _Mass = entry("the maximum weight", '"600 kg"')
    empty_weight: _Mass = entry("the empty weight", '"350 kg"', required=False)
    wing_area: Annotated[float, quantity("area", "2 m^2", "200 m^2")] | None = entry(
        "the wing area", '"11.0 m^2"')
    wing_span: Annotated[float, quantity("length", "3 m", "60 m")] | None = entry(
        "the wing span", '"9.2 m"')
    induction: Annotated[str, choice("naturally aspirated", "turbocharged")] | None = entry(
        "how the engine breathes", '"naturally aspirated"')
    critical_altitude: _Altitude = entry("the critical altitude", '"15000 ft"', required=False)
    rated_power: Annotated[float, quantity("power", "1 kW", "2000 kW")] | None = entry(
        "the rated power", '"78 kW"')
    rated_engine_speed: _EngineSpeed = entry("the engine speed of rated power", '"5300 rpm"')
    continuous_engine_speed: _EngineSpeed = entry(
        "the greatest continuous engine speed", '"5000 rpm"', required=False)
    gear_ratio: Annotated[float, number(0.5, 10.0)] | None = entry(
        "the ratio of engine speed to propeller speed, 1.0 for direct drive", "2.15")
    fuel_density: Annotated[float, quantity("density", "0.6 kg/L", "0.95 kg/L")] | None = entry(
        "the density of the fuel", '"0.72 kg/L"')
    power_from: (
        Annotated[str, choice("logged power", "fuel flow", "power chart")] | None
    ) = entry("where brake power comes from", '"logged power"')
    specific_consumption: (
        Annotated[float, quantity("specific_consumption", "150 g/kWh", "700 g/kWh")] | None
    ) = entry("the specific fuel consumption", '"285 g/kWh"', required=False)
    power_chart: _PowerChart = entry("the power chart", "", required=False)
    airspeed_calibration: _Calibration = entry(
        "the airspeed calibration", '"none"')
    static_share_of_airspeed_error: (
        Annotated[float, quantity("fraction", "0 %", "100 %")] | None
    ) = entry("the share of the airspeed error that is static", '"100 %"', required=False)
    temperature_recovery_factor: (
        Annotated[float, quantity("fraction", "0 %", "100 %")] | None
    ) = entry("the recovery factor of the temperature probe", '"75 %"', required=False)
    assumed_efficiency: _Efficiencies = entry(
        "the propulsive efficiency in climb and cruise", '["70 %", "82 %"]', required=False)
    takeoff_exponents: _Exponents = entry(
        "the exponents of the ground roll", "", required=False)
    limits: _Limits = entry(
        "the operating limits", '{ flap = "70 kt" }', required=False)
    reference: ReferenceTable | None = entry(
        "reference conditions of this airplane", "", required=False)


class PropellerTable(Table):
    """The propeller of a configuration."""

    blades: Annotated[int, count(1, 12)] | None = entry("the number of blades", "2")
    diameter: Annotated[float, quantity("length", "0.5 m", "5 m")] | None = entry(
        "the propeller diameter", '"1.68 m"')
    control: Annotated[str, choice("fixed pitch", "constant speed")] | None = entry(
        "how the propeller is controlled", '"fixed pitch"')
    mass: Annotated[float, quantity("mass", "0.5 kg", "300 kg")] | None = entry(
        "the propeller's mass", '"9 kg"', required=False)
    price: _Text = entry("the price, in words", '"1200 euros"', required=False)


_Schedule = Annotated[Any, pairs(
    ("speed", "0 kt", "400 kt"), ("angular_speed", "100 rpm", "12000 rpm"),
    "calibrated airspeed, engine speed")]
_CHANGES = ("propeller", "airframe", "engine", "mass")


class ConfigurationTable(Table):
    """One configuration: an airplane with what is fitted to it."""

    airplane: _Text = entry("the airplane it is a configuration of", '"one"')
    label: _Text = entry("what it is called", '"two-blade fixed pitch"', required=False)
    changed: list[Annotated[str, choice(*_CHANGES)]] | None = entry(
        "what may differ from the reference", '["propeller", "mass"]', required=False)
    propeller: PropellerTable | None = entry(
        "the propeller", '{ blades = 2, diameter = "1.68 m", control = "fixed pitch" }')
    rpm_schedule: _Schedule = entry(
        "the engine speed held at each airspeed", '[["48 kt", "5300 rpm"], ["90 kt", "4500 rpm"]]',
        required=False)


class RunwayTable(Table):
    """One direction of a runway."""

    name: _Text = entry("the runway's name", '"08"')
    true_bearing: Annotated[float, quantity("angle", "0 deg", "360 deg")] | None = entry(
        "the true bearing of take-off", '"82 deg"')
    slope: _Slope = entry("the slope, positive uphill in this direction", '"0.3 %"')
    surface: _Text = entry("the surface", '"paved, dry"')
    length: Annotated[float, quantity("length", "50 m", "6000 m")] | None = entry(
        "the length", '"800 m"', required=False)


class AirfieldTable(Table):
    """One airfield."""

    elevation: Annotated[float, quantity("length", "-1500 ft", "20000 ft")] | None = entry(
        "the elevation", '"120 ft"')
    time_zone: _TimeZone = entry("the time zone", '"UTC+1"')
    runways: list[RunwayTable] | None = entry(
        "the runways", '[{ name = "08", true_bearing = "82 deg", slope = "0 %", '
        'surface = "paved, dry" }]', required=False)


class DecideTable(Table):
    """What a decision about the change weighs besides performance."""

    fuel_price: Annotated[Any, money(per_volume=True)] = entry(
        "the price of fuel", '"2.40 euros per L"', required=False)
    hours_a_year: Annotated[float, quantity("time", "1 h", "3000 h")] | None = entry(
        "the hours flown in a year", '"100 h"', required=False)
    resale: Annotated[Any, money()] = entry(
        "what the present part would sell for", '"300 euros"', required=False)
    runway: Annotated[float, quantity("length", "50 m", "6000 m")] | None = entry(
        "the runway that must do", '"400 m"', required=False)


def _known_schema(value: object) -> object:
    if value != SCHEMA or isinstance(value, bool | float):
        raise ValueError
    return value


class CampaignTable(Table):
    """The whole file."""

    version: Annotated[Any, BeforeValidator(_known_schema)] = entry(
        "the version of the format", str(SCHEMA), alias="schema")
    title: _Text = entry("the title", '"Two propellers on one two-seater"')
    question: _Text = entry("the question", '"Does the new propeller shorten the take-off?"')
    display: dict[str, Any] | None = entry("units of tables and figures", "", required=False)
    compare: CompareTable | None = entry("what is compared", "", required=False)
    reference: ReferenceTable | None = entry("the reference conditions", "")
    matters: dict[str, Any] | None = entry("the differences that matter", "", required=False)
    airplane: dict[str, AirplaneTable] | None = entry("an airplane", "")
    configuration: dict[str, ConfigurationTable] | None = entry("a configuration", "")
    airfield: dict[str, AirfieldTable] | None = entry("an airfield", "", required=False)
    uncertainty: dict[str, Any] | None = entry("uncertainties", "", required=False)
    decide: DecideTable | None = entry("what a decision weighs", "", required=False)
