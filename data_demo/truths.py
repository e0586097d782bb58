"""True results on the reference day, from the simulator's own physics, without errors or noise."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from .air import FT_M, KT_MS, Column, Weather, calibrated_ms, true_ms
from .airplane import (
    Array,
    airspeed_for_power,
    climb_state,
    full_throttle,
    ground_run,
    level_state,
    standard_air,
)
from .flight import Runway, Simulator, Variation
from .pilot import Pilot
from .plan import Aircraft, Demo, Errors
from .recorder import position_error_kt, shown_kt

CEILING_FPM = 100.0
CLIMB_TO_FT = 8000.0
FPM = FT_M / 60.0
#: True airspeeds of efficiency ratios [kt].
RATIO_KT = (80, 90, 100, 110)
#: Metric, condition, unit, digits, value.
Row = tuple[str, str, str, int, float]


def truth_rows(demo: Demo) -> list[dict[str, object]]:
    """True results of each configuration, and their difference from the reference one."""
    values = {name: list(_rows_of(demo, demo.aircraft[name])) for name in demo.aircraft}
    first, second = values
    rows = []
    for row, other in zip(values[first], values[second], strict=True):
        metric, condition, unit, digits, value = row
        rows.append(_entry(metric, condition, unit, digits, {first: value, second: other[4]}))
    if demo.reference.same_airframe:
        rows += _efficiency_ratios(demo)
    return rows


def _entry(
    metric: str, condition: str, unit: str, digits: int, values: dict[str, float]
) -> dict[str, object]:
    first, second = values.values()
    rounded = {name: round(value, digits) for name, value in values.items()}
    return {
        "metric": metric,
        "condition_id": condition,
        "unit": unit,
        **rounded,
        "difference": round(second - first, digits),
    }


def _rows_of(demo: Demo, aircraft: Aircraft) -> Iterator[Row]:
    yield from _takeoff(demo, aircraft)
    yield from _climb(demo, aircraft)
    yield from _cruise(demo, aircraft)
    yield from _landing(demo, aircraft)


# ---- take-off and landing -----------------------------------------------------------------


def calm_simulator(aircraft: Aircraft) -> Simulator:
    """The airplane at its reference weight on a level runway at sea level, calm standard air."""
    calm = Weather(101325.0, 288.15, 150.0, 0.0065, 0.0, 0.0, 0.0, 0.16, 0.0, 0.0, 0.0)
    return Simulator(
        aircraft.config,
        Column(calm, 0.0),
        Runway("36", 0.0, 0.0, 0.0, 0.0, 0.0),
        Variation(),
        aircraft.weight_kg - 40.0,
        40.0,
        np.random.default_rng(0),
    )


def mean_pilot(demo: Demo, sim: Simulator) -> Pilot:
    """A pilot of mean habits who makes no errors."""
    habits = list(demo.pilots.values())
    return Pilot(
        sim,
        0.0,
        0.0,
        approach_add_ms=KT_MS * float(np.mean([habit.approach_kt for habit in habits])),
        brake_ms2=float(np.mean([habit.brake_ms2 for habit in habits])),
    )


def _takeoff(demo: Demo, aircraft: Aircraft) -> Iterator[Row]:
    config, liftoff = aircraft.config, aircraft.liftoff_kt * KT_MS
    roll = ground_run(config, liftoff, *standard_air(0.0), aircraft.weight_kg)
    yield "takeoff_ground_roll", "takeoff", "m", 2, float(roll.distance_m)
    yield "takeoff_time_to_liftoff", "takeoff", "s", 3, float(roll.time_s)
    yield "static_engine_speed", "takeoff", "rpm", 1, float(roll.static_speed_rps) * 60.0
    sim = calm_simulator(aircraft)
    pilot = mean_pilot(demo, sim)
    pilot.line_up(20.0)
    pilot.take_off(liftoff)
    events = {str(event["kind"]): event for event in sim.events}
    flown = float(str(events["50 ft"]["distance_m"]))
    air = flown - float(str(events["lift-off"]["ground_roll_m"]))
    yield "takeoff_distance_50ft", "takeoff", "m", 1, float(roll.distance_m) + air


def _landing(demo: Demo, aircraft: Aircraft) -> Iterator[Row]:
    landed = calm_landing(demo, aircraft)
    yield "landing_ground_roll", "landing", "m", 1, landed["ground_roll_m"]
    yield "landing_distance_50ft", "landing", "m", 1, landed["distance_50ft_m"]


def calm_landing(demo: Demo, aircraft: Aircraft) -> dict[str, float]:
    """Landing of the mean pilot on the reference day: speed at touchdown and distances."""
    sim = calm_simulator(aircraft)
    pilot = mean_pilot(demo, sim)
    sim.east_m, sim.north_m = 0.0, -3200.0
    sim.height_m, sim.airborne = 180.0, True
    sim.tas_ms = sim.cas_ms = sim.seen_cas_ms = pilot.approach_ms
    pilot.approach()
    pilot.full_stop()
    events = {str(event["kind"]): event for event in sim.events}
    return {
        "touchdown_cas_kt": float(str(events["touchdown"]["cas_ms"])) / KT_MS,
        "ground_roll_m": float(str(events["stop"]["ground_roll_m"])),
        "distance_50ft_m": float(str(events["stop"]["distance_50ft_m"])),
        "braking_ms2": pilot.brake_ms2,
    }


# ---- climb ---------------------------------------------------------------------------------


def _climb(demo: Demo, aircraft: Aircraft) -> Iterator[Row]:
    config, weight = aircraft.config, aircraft.weight_kg
    speeds = np.arange(0.9 * aircraft.liftoff_kt, 2.2 * aircraft.liftoff_kt, 0.05)
    for index, height in enumerate(demo.reference.climb_ft, start=1):
        air = standard_air(height * FT_M)
        usual = climb_state(config, aircraft.climb_kt * KT_MS, *air, weight)
        yield "climb_rate", f"climb_{index}", "ft/min", 2, float(usual.rate_ms) / FPM
        yield "climb_gradient", f"climb_{index}", "%", 3, float(usual.gradient) * 100.0
        found = climb_state(config, speeds * KT_MS, *air, weight)
        best, steep = int(np.argmax(found.rate_ms)), int(np.argmax(found.gradient))
        yield "best_rate_airspeed", f"bestrate_{index}", "kt", 2, float(speeds[best])
        yield "climb_rate", f"bestrate_{index}", "ft/min", 2, float(found.rate_ms[best]) / FPM
        gradient = float(found.gradient[steep]) * 100.0
        yield "best_angle_airspeed", f"bestangle_{index}", "kt", 2, float(speeds[steep])
        yield "climb_gradient", f"bestangle_{index}", "%", 3, gradient
    yield "service_ceiling", "ceiling", "ft", 0, _ceiling_ft(aircraft)
    yield from _between("toclimb", aircraft, *demo.reference.climb_ft)
    yield from _between(f"to_{CLIMB_TO_FT:.0f}_ft", aircraft, 0.0, CLIMB_TO_FT)


def _ceiling_ft(aircraft: Aircraft) -> float:
    heights = np.arange(4000.0, 26000.0, 250.0)
    speeds = np.arange(aircraft.liftoff_kt, 1.7 * aircraft.liftoff_kt, 0.5)[:, None]
    air = standard_air(heights * FT_M)
    rates = climb_state(aircraft.config, speeds * KT_MS, *air, aircraft.weight_kg).rate_ms
    best = rates.max(axis=0) / FPM
    return float(np.interp(-CEILING_FPM, -best, heights))


def _between(label: str, aircraft: Aircraft, low_ft: float, high_ft: float) -> Iterator[Row]:
    """Time, fuel and distance between two altitudes at the usual climb airspeed."""
    heights = np.linspace(low_ft * FT_M, high_ft * FT_M, 161)
    speed = aircraft.climb_kt * KT_MS
    climb = climb_state(aircraft.config, speed, *standard_air(heights), aircraft.weight_kg)
    fuel_l = climb.fuel_m3_s * 1000.0
    level = climb.rate_ms / climb.gradient
    yield "time_to_climb", label, "s", 1, _integral(1.0 / climb.rate_ms, heights)
    yield "fuel_to_climb", label, "L", 3, _integral(fuel_l / climb.rate_ms, heights)
    yield "distance_to_climb", label, "m", 0, _integral(level / climb.rate_ms, heights)


def _integral(values: Array, places: Array) -> float:
    return float(np.sum(0.5 * (values[1:] + values[:-1]) * np.diff(places)))


# ---- cruise --------------------------------------------------------------------------------


def _cruise(demo: Demo, aircraft: Aircraft) -> Iterator[Row]:
    config, weight = aircraft.config, aircraft.weight_kg
    air = standard_air(demo.reference.cruise_ft * FT_M)
    for percent in demo.reference.powers:
        power = percent / 100.0 * config.engine.rated_w
        tas = airspeed_for_power(config, power, *air, weight)
        level = level_state(config, tas, *air, weight)
        if float(level.throttle) > 1.0:
            raise ValueError(f"{config.name}: {percent} % is beyond full throttle in cruise")
        fuel, label = float(level.fuel_m3_s) * 3.6e6, f"cruise_{percent}"
        yield "cruise_true_airspeed", label, "kt", 3, float(tas) / KT_MS
        yield "fuel_flow", label, "L/h", 3, fuel
        yield "specific_range", label, "nmi/L", 4, float(tas) / KT_MS / fuel
        yield "endurance", label, "s", 0, aircraft.usable_fuel_l / fuel * 3600.0
    speeds = np.arange(1.05 * aircraft.liftoff_kt, 2.0 * aircraft.liftoff_kt, 0.05) * KT_MS
    fuel_m3_s = level_state(config, speeds, *air, weight).fuel_m3_s
    best = speeds[int(np.argmax(speeds / fuel_m3_s))]
    yield "best_range_airspeed", "range", "kt", 2, float(calibrated_ms(best, *air[:2])) / KT_MS


def _efficiency_ratios(demo: Demo) -> list[dict[str, object]]:
    """Power of the reference configuration over that of the other, at equal airspeed and weight."""
    first, second = demo.aircraft.values()
    air = standard_air(demo.reference.cruise_ft * FT_M)
    cruise = {
        f"cruise_{percent}": float(
            airspeed_for_power(
                first.config, percent / 100.0 * first.config.engine.rated_w, *air, first.weight_kg
            )
        )
        for percent in demo.reference.powers
    }
    round_kt = {f"efficiency_{speed}": speed * KT_MS for speed in RATIO_KT}
    rows = []
    for label, tas in {**round_kt, **cruise}.items():
        powers = [
            float(level_state(one.config, tas, *air, first.weight_kg).power_w)
            for one in (first, second)
        ]
        values = {first.config.name: 1.0, second.config.name: powers[0] / powers[1]}
        rows.append(_entry("installed_efficiency_ratio", label, "-", 4, values))
    return rows


# ---- airspeed ------------------------------------------------------------------------------


def airspeed_correction(demo: Demo, aircraft: Aircraft, errors: Errors) -> dict[str, object]:
    """Calibrated minus indicated airspeed [kt] at indicated airspeeds, flaps up, by power."""
    grid = np.array(demo.reference.grid_kt)
    cas = np.arange(grid[0] - 4.0, grid[-1] + 6.0, 0.1)
    air = standard_air(3200.0 * FT_M)
    tas = true_ms(cas * KT_MS, *air[:2])
    config, weight = aircraft.config, aircraft.weight_kg
    level = level_state(config, tas, *air, weight).thrust_n
    full = full_throttle(config, tas, *air)[0]

    def correction(thrust: Array) -> list[float]:
        shown = shown_kt(cas, thrust, tas, aircraft, errors)
        if not np.all(np.isfinite(shown)):
            raise ValueError(f"{config.name}: no thrust at some airspeed")
        return [round(float(value), 3) for value in np.interp(grid, shown, cas) - grid]

    without = np.interp(grid, cas - position_error_kt(cas, aircraft, errors), cas) - grid
    return {
        "indicated_kt": list(demo.reference.grid_kt),
        "level_flight_kt": correction(level),
        "full_throttle_kt": correction(full),
        "no_power_kt": [round(float(value), 3) for value in without],
    }


__all__ = ["airspeed_correction", "calm_landing", "calm_simulator", "truth_rows"]
