"""What a campaign takes when its file does not say: one table, listed in every report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = [
    "DISPLAY_DEFAULTS",
    "DISPLAY_DIMENSIONS",
    "LIMIT_DIMENSIONS",
    "UNCERTAINTY_DEFAULTS",
    "Kind",
    "UncertaintyDefault",
]

#: What one draw of an uncertainty is common to.
Kind = Literal["shared", "configuration", "block", "flight", "point", "parameter"]


@dataclass(frozen=True)
class UncertaintyDefault:
    """One uncertainty that a campaign can state, with what is taken when it does not.

    Parameters
    ----------
    key : str
        Key under ``[uncertainty]``; a point leads into the tables ``between_blocks`` and
        ``between_flights``.
    default : str
        One sigma, with its unit.
    dimension : str
        Dimension, a word of `stdday.units`. In the two tables a per cent is relative, except for
        a metric that is itself a per cent.
    kind : str
        What one draw is common to: all flights of an installation or campaign (``shared``), a
        ``configuration``, a ``block``, a ``flight``.
    meaning : str
        What it is, in one sentence.
    """

    key: str
    default: str
    dimension: str
    kind: Kind
    meaning: str


_BLOCK = "Change of this result from one period with an installation to the next, for any reason."
_FLIGHT = "Day-to-day scatter taken for this result where only one flight has it."

_ROWS = (
    UncertaintyDefault("outside_air_temperature_bias", "1 K", "temperature_difference", "shared",
                       "Error of the temperature probe, the same in every flight."),
    UncertaintyDefault("weight", "4 kg", "mass", "flight",
                       "Error of the take-off weight, drawn anew for each flight."),
    UncertaintyDefault("power", "2 %", "fraction", "shared",
                       "Scale of the engine power, common to configurations that share the engine "
                       "and its instruments."),
    UncertaintyDefault("power_between_configurations", "1 %", "fraction", "configuration",
                       "Part of the power scale that is each configuration's own."),
    UncertaintyDefault("airspeed_calibration_table", "1 kt", "speed", "shared",
                       "Error of the owner's table of indicated and calibrated airspeeds."),
    UncertaintyDefault("airspeed_between_configurations", "0.7 kt", "speed", "configuration",
                       "Part of the position error that is each configuration's own."),
    UncertaintyDefault("airspeed_delay", "0.5 s", "time", "shared",
                       "Delay of the airspeed behind the ground speed in the recording."),
    UncertaintyDefault("pressure_altitude", "20 ft", "length", "shared",
                       "Error of the recorded pressure altitude."),
    UncertaintyDefault("fuel_flow_scale", "2 %", "fraction", "shared",
                       "Scale of the fuel-flow sensor."),
    UncertaintyDefault("runway_slope", "0.1 %", "fraction", "shared",
                       "Error of the slope given for a runway."),
    UncertaintyDefault("reported_wind", "3 kt", "speed", "flight",
                       "Difference between the reported wind and the wind along the roll."),
    UncertaintyDefault("dew_point", "6 K", "temperature_difference", "block",
                       "Spread of the dew point where none is reported, common to a block."),
    UncertaintyDefault("between_blocks.takeoff_ground_roll", "2 %", "length", "block", _BLOCK),
    UncertaintyDefault("between_blocks.takeoff_time_to_liftoff", "2 %", "time", "block", _BLOCK),
    UncertaintyDefault("between_blocks.takeoff_distance_50ft", "2 %", "length", "block", _BLOCK),
    UncertaintyDefault("between_blocks.climb_rate", "15 ft/min", "vertical_speed", "block", _BLOCK),
    UncertaintyDefault("between_blocks.climb_gradient", "0.2 %", "fraction", "block", _BLOCK),
    UncertaintyDefault("between_blocks.cruise_true_airspeed", "0.5 kt", "speed", "block", _BLOCK),
    UncertaintyDefault("between_blocks.fuel_flow", "1 %", "volume_flow", "block", _BLOCK),
    UncertaintyDefault("between_blocks.specific_range", "1 %", "specific_range", "block", _BLOCK),
    UncertaintyDefault("between_blocks.landing_ground_roll", "3 %", "length", "block", _BLOCK),
    UncertaintyDefault("between_blocks.landing_distance_50ft", "3 %", "length", "block", _BLOCK),
    UncertaintyDefault("between_blocks.best_rate_airspeed", "1 kt", "speed", "block", _BLOCK),
    UncertaintyDefault("between_blocks.best_angle_airspeed", "1 kt", "speed", "block", _BLOCK),
    UncertaintyDefault("between_blocks.service_ceiling", "200 ft", "length", "block", _BLOCK),
    UncertaintyDefault("between_blocks.time_to_climb", "3 %", "time", "block", _BLOCK),
    UncertaintyDefault("between_blocks.fuel_to_climb", "3 %", "volume", "block", _BLOCK),
    UncertaintyDefault("between_blocks.distance_to_climb", "3 %", "length", "block", _BLOCK),
    UncertaintyDefault("between_blocks.best_range_airspeed", "1 kt", "speed", "block", _BLOCK),
    UncertaintyDefault("between_blocks.installed_efficiency_ratio", "0.01", "none", "block",
                       _BLOCK),
    UncertaintyDefault("between_flights.takeoff_ground_roll", "5 %", "length", "flight", _FLIGHT),
    UncertaintyDefault("between_flights.takeoff_time_to_liftoff", "5 %", "time", "flight", _FLIGHT),
    UncertaintyDefault("between_flights.takeoff_distance_50ft", "6 %", "length", "flight", _FLIGHT),
    UncertaintyDefault("between_flights.liftoff_airspeed", "2 kt", "speed", "flight", _FLIGHT),
    UncertaintyDefault("between_flights.static_engine_speed", "30 rpm", "angular_speed", "flight",
                       _FLIGHT),
    UncertaintyDefault("between_flights.climb_rate", "40 ft/min", "vertical_speed", "flight",
                       _FLIGHT),
    UncertaintyDefault("between_flights.climb_gradient", "0.6 %", "fraction", "flight", _FLIGHT),
    UncertaintyDefault("between_flights.cruise_true_airspeed", "1.2 kt", "speed", "flight",
                       _FLIGHT),
    UncertaintyDefault("between_flights.fuel_flow", "3 %", "volume_flow", "flight", _FLIGHT),
    UncertaintyDefault("between_flights.specific_range", "3 %", "specific_range", "flight",
                       _FLIGHT),
    UncertaintyDefault("between_flights.landing_ground_roll", "15 %", "length", "flight", _FLIGHT),
    UncertaintyDefault("between_flights.landing_distance_50ft", "12 %", "length", "flight",
                       _FLIGHT),
    UncertaintyDefault("between_flights.best_rate_airspeed", "2 kt", "speed", "flight", _FLIGHT),
    UncertaintyDefault("between_flights.best_angle_airspeed", "2 kt", "speed", "flight", _FLIGHT),
    UncertaintyDefault("between_flights.service_ceiling", "600 ft", "length", "flight", _FLIGHT),
    UncertaintyDefault("between_flights.time_to_climb", "6 %", "time", "flight", _FLIGHT),
    UncertaintyDefault("between_flights.fuel_to_climb", "6 %", "volume", "flight", _FLIGHT),
    UncertaintyDefault("between_flights.distance_to_climb", "6 %", "length", "flight", _FLIGHT),
    UncertaintyDefault("between_flights.best_range_airspeed", "2 kt", "speed", "flight", _FLIGHT),
    UncertaintyDefault("between_flights.installed_efficiency_ratio", "0.02", "none", "flight",
                       _FLIGHT),
)

#: Every uncertainty by its key. The sizes are common practice for light airplanes with panel
#: recorders, not measurements of the airplane at hand: state your own where they are known.
UNCERTAINTY_DEFAULTS: dict[str, UncertaintyDefault] = {row.key: row for row in _ROWS}

#: Dimension of each key of ``[display]``; ``mass`` and ``weight`` mean the same.
DISPLAY_DIMENSIONS: dict[str, str] = {
    "speed": "speed",
    "altitude": "length",
    "vertical_speed": "vertical_speed",
    "weight": "mass",
    "mass": "mass",
    "volume": "volume",
    "pressure": "pressure",
    "temperature": "temperature",
    "distance": "length",
    "power": "power",
    "engine_speed": "angular_speed",
    "fuel_flow": "volume_flow",
}

#: Units of tables, cards and figures where ``[display]`` does not say.
DISPLAY_DEFAULTS: dict[str, str] = {
    "speed": "kt",
    "altitude": "ft",
    "vertical_speed": "ft/min",
    "weight": "kg",
    "mass": "kg",
    "volume": "L",
    "pressure": "hPa",
    "temperature": "degC",
    "distance": "m",
    "power": "kW",
    "engine_speed": "rpm",
    "fuel_flow": "L/h",
}

#: Limits that ``[airplane.ID.limits]`` can hold, with their dimension; airspeeds are calibrated.
LIMIT_DIMENSIONS: dict[str, str] = {
    "stall": "speed",
    "stall_landing": "speed",
    "flap": "speed",
    "manoeuvring": "speed",
    "cruise": "speed",
    "never_exceed": "speed",
    "crosswind": "speed",
    "tailwind": "speed",
    "engine_speed": "angular_speed",
    "oil_temperature": "temperature",
    "coolant_temperature": "temperature",
    "cylinder_head_temperature": "temperature",
    "exhaust_gas_temperature": "temperature",
    "oil_pressure_low": "pressure",
    "oil_pressure_high": "pressure",
}
