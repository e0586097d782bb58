"""The table of metrics: the only names that questions, results and reports may use."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["METRICS", "Metric"]


@dataclass(frozen=True)
class Metric:
    """One result that the workbook can state.

    Parameters
    ----------
    name : str
        Name in the files of a campaign and its results.
    title : str
        Name as people read it.
    dimension : str
        Dimension, a word of `stdday.units`.
    unit : str
        Unit of the results files.
    decimals : int
        Decimals printed in that unit.
    definition : str
        What the number is, in one sentence.
    conditions : tuple of str
        Condition keys, in their fixed order.
    ratio : bool
        Whether a comparison is a ratio (estimate_a is 1).
    made : bool
        Whether this version makes it; the others are names kept for the format.
    """

    name: str
    title: str
    dimension: str
    unit: str
    decimals: int
    definition: str
    conditions: tuple[str, ...] = ()
    ratio: bool = False
    made: bool = False


_TAKEOFF = ("pressure_altitude", "temperature", "weight", "liftoff_airspeed")
_CLIMB = ("pressure_altitude", "temperature", "airspeed", "weight")
_BEST = ("pressure_altitude", "temperature", "weight")
_CRUISE = ("power", "pressure_altitude", "temperature", "weight")

_ROWS = (
    Metric(
        "takeoff_ground_roll",
        "Take-off ground roll",
        "length",
        "m",
        1,
        "Distance from brake release to lift-off at the common lift-off airspeed, no wind, at full "
        "throttle of the reference day.",
        _TAKEOFF,
        made=True,
    ),
    Metric(
        "takeoff_time_to_liftoff",
        "Time to lift-off",
        "time",
        "s",
        2,
        "Time from brake release to lift-off under the conditions of the ground roll.",
        _TAKEOFF,
        made=True,
    ),
    Metric(
        "takeoff_distance_50ft",
        "Take-off distance to 50 ft",
        "length",
        "m",
        0,
        "Distance from brake release to 50 ft above the runway: the ground roll of "
        "takeoff_ground_roll and the air phase, no wind, climb and acceleration shared as in the "
        "mean of the airplane's take-offs.",
        _TAKEOFF,
        made=True,
    ),
    Metric(
        "liftoff_airspeed",
        "Lift-off airspeed as flown",
        "speed",
        "kt",
        1,
        "Calibrated airspeed at lift-off as the pilots flew it; not corrected.",
        (),
        made=True,
    ),
    Metric(
        "static_engine_speed",
        "Static engine speed",
        "angular_speed",
        "rpm",
        0,
        "Engine speed at full throttle before the airplane rolls, as flown; not corrected.",
        (),
        made=True,
    ),
    Metric(
        "climb_rate",
        "Rate of climb",
        "vertical_speed",
        "ft/min",
        0,
        "Geometric rate of climb at constant calibrated airspeed, full throttle of the reference "
        "day, no wind gradient.",
        _CLIMB,
        made=True,
    ),
    Metric(
        "climb_gradient",
        "Climb gradient",
        "fraction",
        "%",
        2,
        "Height gained over distance flown through still air in the climb of climb_rate.",
        _CLIMB,
        made=True,
    ),
    Metric(
        "best_rate_airspeed",
        "Best-rate airspeed",
        "speed",
        "kt",
        1,
        "Calibrated airspeed of the greatest rate of climb.",
        _BEST,
        made=True,
    ),
    Metric(
        "best_angle_airspeed",
        "Best-angle airspeed",
        "speed",
        "kt",
        1,
        "Calibrated airspeed of the greatest climb angle.",
        _BEST,
        made=True,
    ),
    Metric(
        "service_ceiling",
        "Service ceiling",
        "length",
        "ft",
        0,
        "Pressure altitude where the rate of climb is 100 ft/min.",
        ("weight",),
        made=True,
    ),
    Metric(
        "time_to_climb",
        "Time to climb",
        "time",
        "s",
        0,
        "Time between two altitudes.",
        _CLIMB,
        made=True,
    ),
    Metric(
        "fuel_to_climb",
        "Fuel to climb",
        "volume",
        "L",
        2,
        "Fuel between two altitudes.",
        _CLIMB,
        made=True,
    ),
    Metric(
        "distance_to_climb",
        "Distance to climb",
        "length",
        "m",
        0,
        "Distance through still air between two altitudes.",
        _CLIMB,
        made=True,
    ),
    Metric(
        "cruise_true_airspeed",
        "Cruise true airspeed",
        "speed",
        "kt",
        1,
        "True airspeed in steady level flight at the stated brake power.",
        _CRUISE,
        made=True,
    ),
    Metric(
        "fuel_flow",
        "Fuel flow",
        "volume_flow",
        "L/h",
        2,
        "Fuel flow in steady level flight at the stated brake power.",
        _CRUISE,
        made=True,
    ),
    Metric(
        "specific_range",
        "Specific range",
        "specific_range",
        "nmi/L",
        2,
        "Distance through still air for each unit of fuel at the stated brake power.",
        _CRUISE,
        made=True,
    ),
    Metric("endurance", "Endurance", "time", "s", 0, "Time on the usable fuel.", _CRUISE),
    Metric(
        "best_range_airspeed",
        "Best-range airspeed",
        "speed",
        "kt",
        1,
        "Calibrated airspeed of the greatest specific range.",
        ("weight",),
        made=True,
    ),
    Metric(
        "installed_efficiency_ratio",
        "Installed efficiency ratio",
        "none",
        "-",
        3,
        "Installed propulsive efficiency over that of the reference configuration, at one true "
        "airspeed of level flight.",
        ("true_airspeed",),
        ratio=True,
        made=True,
    ),
    Metric(
        "zero_lift_drag_coefficient",
        "Zero-lift drag coefficient",
        "none",
        "-",
        4,
        "Drag coefficient without lift.",
        (),
    ),
    Metric("span_efficiency", "Span efficiency", "none", "-", 2, "Span efficiency factor.", ()),
    Metric(
        "stall_airspeed",
        "Stall airspeed",
        "speed",
        "kt",
        1,
        "Calibrated stall airspeed at an entry rate of 1 kt/s.",
        ("flaps", "power", "weight"),
    ),
    Metric(
        "maximum_lift_coefficient",
        "Maximum lift coefficient",
        "none",
        "-",
        2,
        "Lift coefficient at the stall.",
        ("flaps", "power"),
    ),
    Metric(
        "glide_ratio", "Best glide ratio", "none", "-", 1, "Distance over height lost.", ("weight",)
    ),
    Metric(
        "best_glide_airspeed",
        "Best-glide airspeed",
        "speed",
        "kt",
        1,
        "Calibrated airspeed of the best glide ratio.",
        ("weight",),
    ),
    Metric(
        "least_sink_airspeed",
        "Least-sink airspeed",
        "speed",
        "kt",
        1,
        "Calibrated airspeed of the least sink.",
        ("weight",),
    ),
    Metric(
        "landing_ground_roll",
        "Landing ground roll",
        "length",
        "m",
        0,
        "Distance from touchdown to a stop without wind, braked as the pilots braked, at the "
        "airspeeds they touched down at, which change with weight as in their own landings.",
        ("pressure_altitude", "temperature", "weight"),
        made=True,
    ),
    Metric(
        "landing_distance_50ft",
        "Landing distance from 50 ft",
        "length",
        "m",
        0,
        "Distance from 50 ft above the runway to a stop: the air phase as the pilots flew it and "
        "the ground roll of landing_ground_roll, no wind.",
        ("pressure_altitude", "temperature", "weight"),
        made=True,
    ),
)

#: Every metric by its name.
METRICS: dict[str, Metric] = {metric.name: metric for metric in _ROWS}
