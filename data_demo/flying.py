"""One flight from a parked airplane to a parked airplane, as its plan says."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from .air import FT_M, KT_MS, Column
from .airframe import FUEL_KG_M3
from .flight import Simulator, Variation
from .patterns import fly_pattern, level_acceleration
from .pilot import Pilot
from .plan import Demo, Plan, weather_of

#: Height of the patterns [ft]: below most level runs, above the bumps.
PATTERN_FT = 3200.0
ACCELERATION_FT = 4000.0
#: Airspeed from which level accelerations start [kt].
SLOW_KT = 60.0


@dataclass
class Flown:
    """One simulated flight with what was drawn for it."""

    demo: Demo
    plan: Plan
    sim: Simulator
    weight_error_kg: float
    reported_wind: tuple[float, float]  # from [deg], speed [kt]
    rng: np.random.Generator
    truth: dict[str, float] = field(default_factory=dict)


def fly(demo: Demo, plan: Plan) -> Flown:
    """Simulate one flight."""
    normal = np.random.default_rng([demo.seed, plan.number, 1]).standard_normal
    aircraft, errors = demo.aircraft[plan.configuration], demo.errors[plan.configuration]
    block = errors.blocks[plan.block]
    variation = Variation(
        parasite_factor=1.0 + block.parasite + 0.006 * float(normal()),
        power_factor=1.0 + block.power + 0.003 * float(normal()),
        rolling_add=block.rolling_add + 0.002 * float(normal()),
        rich=plan.rich + block.fuel + 0.008 * float(normal()),
        air_rise_ms=block.air_rise_ms + 15.0 * FT_M / 60.0 * float(normal()),
    )
    weight_error = demo.sigma["weight"] * float(normal())
    site = demo.site
    sim = Simulator(
        aircraft.config,
        Column(weather_of(plan), site.elevation_m),
        site.runway(site.runway_into(plan.wind_from_deg), site.slope + errors.slope),
        variation,
        aircraft.empty_kg + plan.load_kg,
        plan.fuel_l / 1000.0 * FUEL_KG_M3,
        np.random.default_rng([demo.seed, plan.number, 2]),
    )
    off = 0.8 * demo.sigma["reported_wind"]
    reported = _reported_wind(plan, off * float(normal()), off * float(normal()))
    habit = demo.pilots[plan.pilot]
    pilot = Pilot(
        sim,
        habit.skill,
        habit.climb_bias_kt * KT_MS + 0.4 * KT_MS * float(normal()),
        approach_add_ms=habit.approach_kt * KT_MS,
        brake_ms2=habit.brake_ms2,
    )

    def liftoff() -> float:
        usual = habit.liftoff_kt + aircraft.liftoff_add_kt
        return (usual + habit.scatter_kt * float(normal())) * KT_MS

    _script(demo, plan, pilot, liftoff)
    return Flown(
        demo,
        plan,
        sim,
        weight_error,
        reported,
        np.random.default_rng([demo.seed, plan.number, 3]),
        {"air_rise_ms": variation.air_rise_ms, "rich": variation.rich},
    )


def _reported_wind(plan: Plan, east_kt: float, north_kt: float) -> tuple[float, float]:
    """Wind as the tower tells it: off by some knots, in tens of degrees and whole knots."""
    angle = math.radians(plan.wind_from_deg)
    east = plan.wind_kt * math.sin(angle) + east_kt
    north = plan.wind_kt * math.cos(angle) + north_kt
    direction = round(math.degrees(math.atan2(east, north)) / 10.0) * 10 % 360
    return float(direction or 360), float(round(math.hypot(east, north)))


def _script(demo: Demo, plan: Plan, pilot: Pilot, liftoff: Callable[[], float]) -> None:
    """The whole flight, from a parked airplane to a parked airplane."""
    sim = pilot.sim
    runway, ground = sim.runway, sim.runway.start_height_m
    pilot.wait(50.0)
    pilot.taxi_to(*runway.place(-25.0, 45.0))
    pilot.turn_on_ground(runway.heading_rad + 0.6)
    pilot.run_up()
    pilot.line_up(20.0)
    if plan.aborted:
        pilot.take_off(60.0 * KT_MS, abort_at_ms=26.0 * KT_MS)
        along, _ = runway.along(sim.east_m, sim.north_m)
        pilot.taxi_to(*runway.place(along + 15.0, 30.0), speed_ms=4.0)
        pilot.taxi_to(*runway.place(-10.0, 40.0))
        pilot.line_up(20.0)
    pilot.take_off(liftoff())
    _upper_work(plan, pilot)
    speeds = sim.config.speeds
    pilot.fly_to(-8500.0, 0.0, ground + 300.0, speeds.transit * KT_MS, 900.0)
    pilot.fly_to(-4300.0, 0.0, ground + 300.0, speeds.base * KT_MS)
    pilot.approach()
    for turn in range(plan.more_take_offs):
        pilot.full_stop()
        pilot.line_up(20.0)
        pilot.take_off(liftoff())
        pilot.climb_to(demo.site.elevation_m + 1650.0 * FT_M, runway.heading_rad)
        pilot.circuit()
        if plan.touch_and_go and turn == 0:
            pilot.touch_and_go(liftoff())
            pilot.climb_to(ground + 300.0, runway.heading_rad)
            pilot.circuit()
    pilot.full_stop(long_roll_out=plan.long_roll_out)
    pilot.taxi_to(*runway.place(-40.0, 120.0))
    pilot.wait(25.0)


def _upper_work(plan: Plan, pilot: Pilot) -> None:
    """Climb, sawtooths and level runs, then what was added for calibration and curves."""
    sim = pilot.sim
    heading = math.radians(plan.heading_deg)
    pilot.climb_to(4800.0 * FT_M, heading if plan.number % 2 else sim.runway.heading_rad)
    for _ in range(plan.sawtooth):
        pilot.descend_to(3250.0 * FT_M, heading + math.pi, 4.5)
        pilot.climb_to(4750.0 * FT_M, heading + math.pi)
    for index, speed in enumerate(plan.climbs_kt):
        there = heading + math.pi * (index % 2)
        pilot.descend_to(3350.0 * FT_M, there, 5.0)
        pilot.climb_to(4650.0 * FT_M, there, speed * KT_MS)
    height = plan.level_ft * FT_M
    pilot.descend_to(height + 20.0, heading, 2.5, 0.7)
    seconds = (118.0, 104.0, 132.0, 96.0, 124.0, 110.0)
    for index, power in enumerate(plan.powers):
        heading = _next_heading(sim, heading, index)
        pilot.turn_to(heading, height)
        pilot.level_run(power, heading, height, seconds[(index + plan.number) % 6])
    _accelerations(plan, pilot)
    _patterns(plan, pilot)


def _accelerations(plan: Plan, pilot: Pilot) -> None:
    heading = _homeward(pilot.sim)
    for index in range(plan.accelerations):
        there = heading + math.pi * (index % 2)
        level_acceleration(pilot, SLOW_KT * KT_MS, ACCELERATION_FT * FT_M, there)


def _patterns(plan: Plan, pilot: Pilot) -> None:
    if not plan.patterns:
        return
    height = PATTERN_FT * FT_M
    pilot.descend_to(height + 15.0, _homeward(pilot.sim), 2.5, 0.6)
    for kind, speed in plan.patterns:
        fly_pattern(pilot, kind, speed * KT_MS, height, _homeward(pilot.sim))


def _homeward(sim: Simulator) -> float:
    """Heading to the field."""
    return math.atan2(-sim.east_m, -sim.north_m)


def _next_heading(sim: Simulator, heading: float, index: int) -> float:
    """Heading of the next run: a quarter or half turn on, towards the field when far away."""
    if index == 0:
        return heading
    turns = (0.5 * math.pi, -0.5 * math.pi, math.pi)
    home = (-3000.0, -2000.0)

    def end(turn: float) -> float:
        east = sim.east_m + 9000.0 * math.sin(heading + turn)
        north = sim.north_m + 9000.0 * math.cos(heading + turn)
        return math.hypot(east - home[0], north - home[1])

    return heading + min(turns, key=end)
