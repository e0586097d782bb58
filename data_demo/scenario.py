"""The invented campaign: field, flights, pilots, and the errors drawn once from a written seed."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from .air import FT_M, KT_MS, Column, Weather
from .airframe import CONFIGURATIONS, FUEL_KG_M3
from .flight import Runway, Simulator, Variation
from .pilot import Pilot

#: Written down before the workbook was first run on these recordings, and never changed since.
SEED = 604311

ELEVATION_M = 30.0 * FT_M
RUNWAY_LENGTH_M = 820.0
RUNWAY_BEARING_DEG = 82.0
DECLARED_SLOPE = 0.003
ZONE_H = -1
#: A place in the open sea, since the field is invented.
ORIGIN_DEG = (46.5, -16.0)
EMPTY_KG = {"A": 336.0, "B": 341.0}

#: One-sigma errors, the same as declared in the campaign's table of uncertainty.
SIGMA = {
    "outside_air_temperature_bias": 1.0,  # K
    "weight": 4.0,  # kg
    "power": 0.02,
    "power_between_configurations": 0.01,
    "airspeed_calibration_table": 1.0,  # kt
    "airspeed_between_configurations": 0.7,  # kt
    "runway_slope": 0.001,
    "reported_wind": 3.0,  # kt
    "airspeed_delay": 0.5,  # s
    "pressure_altitude": 20.0,  # ft
    "fuel_flow_scale": 0.02,
}


@dataclass(frozen=True)
class BlockDraw:
    """What one period with one propeller adds: rolling friction, power, drag, air motion, fuel."""

    rolling_add: float
    power: float
    parasite: float
    air_rise_ms: float
    fuel: float


@dataclass(frozen=True)
class Errors:
    """Errors drawn once for the campaign, SI units unless the name says otherwise."""

    temperature_k: float
    power: float
    power_by_configuration: dict[str, float]
    table_kt: tuple[float, float]
    between_kt: tuple[float, float]
    slope: float
    delay_s: float
    altitude_m: float
    fuel_flow: float
    blocks: dict[str, BlockDraw]


def draw_errors() -> Errors:
    """Draw the campaign's errors; the order of the draws is part of the demo."""
    normal = np.random.default_rng([SEED, 0]).standard_normal
    return Errors(
        temperature_k=SIGMA["outside_air_temperature_bias"] * float(normal()),
        power=SIGMA["power"] * float(normal()),
        power_by_configuration={
            name: SIGMA["power_between_configurations"] * float(normal()) for name in "AB"
        },
        table_kt=(
            0.9 * SIGMA["airspeed_calibration_table"] * float(normal()),
            0.45 * SIGMA["airspeed_calibration_table"] * float(normal()),
        ),
        between_kt=(
            0.9 * SIGMA["airspeed_between_configurations"] * float(normal()),
            0.45 * SIGMA["airspeed_between_configurations"] * float(normal()),
        ),
        slope=SIGMA["runway_slope"] * float(normal()),
        delay_s=SIGMA["airspeed_delay"] * float(normal()),
        altitude_m=SIGMA["pressure_altitude"] * FT_M * float(normal()),
        fuel_flow=SIGMA["fuel_flow_scale"] * float(normal()),
        blocks={
            name: BlockDraw(
                rolling_add=0.0036 * float(normal()),
                power=0.005 * float(normal()),
                parasite=0.010 * float(normal()),
                air_rise_ms=11.0 * FT_M / 60.0 * float(normal()),
                fuel=0.01 * float(normal()),
            )
            for name in ("A1", "B1", "A2")
        },
    )


@dataclass(frozen=True)
class Plan:
    """One flight as planned.

    Parameters
    ----------
    number : int
        Number of the flight, 1 to 11.
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
    aborted: bool = False
    touch_and_go: bool = False
    rich: float = 0.0
    recorder: str = "main"
    parts: int = 1
    note: str = ""

    @property
    def name(self) -> str:
        """Name of the flight in the campaign."""
        return f"F{self.number:02d}"

    @property
    def runway(self) -> str:
        """Runway in use: into the wind."""
        into = math.cos(math.radians(self.wind_from_deg - RUNWAY_BEARING_DEG)) >= 0.0
        return "08" if into else "26"


@dataclass(frozen=True)
class Habit:
    """Habits of a pilot: lift-off airspeed [kt] and its scatter [kt], skill, climb bias [kt]."""

    liftoff_kt: float
    scatter_kt: float
    skill: float
    climb_bias_kt: float


PILOTS = {
    "first": Habit(47.0, 1.4, 0.9, 0.0),
    "second": Habit(49.5, 1.6, 1.1, 0.8),
    "third": Habit(51.5, 2.0, 1.3, -0.6),
}

PLANS = (
    Plan(1, "A", "A1", "2026-05-04", 8.20, 180, 88, 1021.4, 9.0, 3.0, 6.1, 70, 5, 1.2, 22,
         "first", (0.80, 0.55, 0.70, 0.62, 0.75), 4000, 40, 2, note="smooth, cool"),
    Plan(2, "A", "A1", "2026-05-07", 13.40, 92, 80, 1015.8, 12.0, 7.0, 7.0, 245, 9, 2.4, 40,
         "second", (0.56, 0.66, 0.76, 0.90, 0.70, 0.60), 3500, 150, 1, sawtooth=1,
         note="some bumps below the cloud base"),
    Plan(3, "A", "A1", "2026-05-12", 9.10, 184, 90, 1012.3, 15.0, 9.0, 6.4, 105, 6, 1.6, 30,
         "first", (0.85, 0.75, 0.65, 0.55, 0.70), 4000, 300, 2, parts=2,
         note="recorder restarted on the way back"),
    Plan(4, "A", "A1", "2026-05-16", 15.20, 104, 84, 1017.9, 14.0, 5.0, 7.4, 275, 11, 3.0, 45,
         "third", (0.60, 0.72, 0.82, 0.66, 0.54), 4500, 90, 1, aborted=True,
         note="first take-off aborted: airspeed slow to come alive"),
    Plan(5, "B", "B1", "2026-05-24", 9.50, 178, 86, 1015.2, 17.0, 11.0, 6.3, 250, 5, 1.5, 28,
         "second", (0.74, 0.55, 0.66, 0.60, 0.70), 4000, 200, 2),
    Plan(6, "B", "B1", "2026-05-29", 10.30, 94, 82, 1019.4, 20.0, 12.0, 6.8, 75, 8, 2.0, 35,
         "first", (0.52, 0.62, 0.72, 0.77, 0.66, 0.57), 4000, 10, 1, sawtooth=1,
         recorder="second", note="panel out for repair, second recorder used"),
    Plan(7, "B", "B1", "2026-06-02", 14.60, 182, 88, 1010.7, 26.0, 17.0, 8.9, 215, 10, 6.0, 190,
         "third", (0.70, 0.58, 0.76, 0.64, 0.52), 3500, 330, 1, rich=0.17,
         note="hot, very rough; choke found not fully home after landing"),
    Plan(8, "B", "B1", "2026-06-09", 7.80, 184, 90, 1022.1, 18.0, 10.0, 5.7, 95, 3, 0.9, 18,
         "first", (0.78, 0.70, 0.62, 0.54, 0.66, 0.74), 4000, 120, 2, note="very smooth"),
    Plan(9, "B", "B1", "2026-06-14", 9.00, 90, 78, 1016.6, 22.0, 15.0, 6.9, 262, 7, 2.2, 40,
         "second", (0.58, 0.68, 0.76, 0.63, 0.53), 3500, 240, 1, touch_and_go=True,
         note="a touch-and-go before the second full stop"),
    Plan(10, "A", "A2", "2026-06-23", 9.40, 178, 86, 1013.7, 19.0, 13.0, 6.5, 240, 6, 1.8, 32,
         "third", (0.78, 0.56, 0.68, 0.62, 0.73), 4000, 60, 2, recorder="second"),
    Plan(11, "A", "A2", "2026-07-01", 10.20, 96, 80, 1016.2, 24.0, 14.0, 7.3, 85, 12, 2.9, 45,
         "first", (0.55, 0.65, 0.75, 0.86, 0.70, 0.60), 4000, 180, 1, sawtooth=1),
)  # fmt: skip


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


def runway_of(name: str, slope: float) -> Runway:
    """Runway by its name, with the true slope in the direction of 08."""
    bearing = math.radians(RUNWAY_BEARING_DEG)
    if name == "08":
        return Runway(name, bearing, slope, 0.0, 0.0, ELEVATION_M)
    east = RUNWAY_LENGTH_M * math.sin(bearing)
    north = RUNWAY_LENGTH_M * math.cos(bearing)
    top = ELEVATION_M + slope * RUNWAY_LENGTH_M
    return Runway(name, bearing + math.pi, -slope, east, north, top)


@dataclass
class Flown:
    """One simulated flight with what was drawn for it."""

    plan: Plan
    sim: Simulator
    weight_error_kg: float
    reported_wind: tuple[float, float]  # from [deg], speed [kt]
    rng: np.random.Generator
    truth: dict[str, float] = field(default_factory=dict)


def fly(plan: Plan, errors: Errors) -> Flown:
    """Simulate one flight."""
    normal = np.random.default_rng([SEED, plan.number, 1]).standard_normal
    block = errors.blocks[plan.block]
    variation = Variation(
        parasite_factor=1.0 + block.parasite + 0.006 * float(normal()),
        power_factor=1.0 + block.power + 0.003 * float(normal()),
        rolling_add=block.rolling_add + 0.002 * float(normal()),
        rich=plan.rich + block.fuel + 0.008 * float(normal()),
        air_rise_ms=block.air_rise_ms + 15.0 * FT_M / 60.0 * float(normal()),
    )
    weight_error = SIGMA["weight"] * float(normal())
    sim = Simulator(
        CONFIGURATIONS[plan.configuration],
        Column(weather_of(plan), ELEVATION_M),
        runway_of(plan.runway, DECLARED_SLOPE + errors.slope),
        variation,
        EMPTY_KG[plan.configuration] + plan.load_kg,
        plan.fuel_l / 1000.0 * FUEL_KG_M3,
        np.random.default_rng([SEED, plan.number, 2]),
    )
    off = 0.8 * SIGMA["reported_wind"]
    reported = _reported_wind(plan, off * float(normal()), off * float(normal()))
    habit = PILOTS[plan.pilot]
    pilot = Pilot(sim, habit.skill, habit.climb_bias_kt * KT_MS + 0.4 * KT_MS * float(normal()))

    def liftoff() -> float:
        return (habit.liftoff_kt + habit.scatter_kt * float(normal())) * KT_MS

    _script(plan, sim, pilot, liftoff)
    return Flown(
        plan,
        sim,
        weight_error,
        reported,
        np.random.default_rng([SEED, plan.number, 3]),
        {"air_rise_ms": variation.air_rise_ms, "rich": variation.rich},
    )


def _reported_wind(plan: Plan, east_kt: float, north_kt: float) -> tuple[float, float]:
    """Wind as the tower tells it: off by some knots, in tens of degrees and whole knots."""
    angle = math.radians(plan.wind_from_deg)
    east = plan.wind_kt * math.sin(angle) + east_kt
    north = plan.wind_kt * math.cos(angle) + north_kt
    direction = round(math.degrees(math.atan2(east, north)) / 10.0) * 10 % 360
    return float(direction or 360), float(round(math.hypot(east, north)))


def _script(plan: Plan, sim: Simulator, pilot: Pilot, liftoff: Callable[[], float]) -> None:
    """The whole flight, from a parked airplane to a parked airplane."""
    runway = sim.runway
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
    _upper_work(plan, sim, pilot)
    ground = runway.start_height_m
    pilot.fly_to(-4800.0, 0.0, ground + 300.0, 98.0 * KT_MS, 900.0)
    pilot.approach()
    for turn in range(plan.more_take_offs):
        pilot.full_stop()
        pilot.line_up(20.0)
        pilot.take_off(liftoff())
        pilot.climb_to(1680.0 * FT_M, runway.heading_rad)
        pilot.circuit()
        if plan.touch_and_go and turn == 0:
            pilot.touch_and_go(liftoff())
            pilot.climb_to(ground + 300.0, runway.heading_rad)
            pilot.circuit()
    pilot.full_stop()
    pilot.taxi_to(*runway.place(-40.0, 120.0))
    pilot.wait(25.0)


def _upper_work(plan: Plan, sim: Simulator, pilot: Pilot) -> None:
    """Climb, sawtooths and level runs."""
    heading = math.radians(plan.heading_deg)
    pilot.climb_to(4800.0 * FT_M, heading if plan.number % 2 else sim.runway.heading_rad)
    for _ in range(plan.sawtooth):
        pilot.descend_to(3250.0 * FT_M, heading + math.pi, 4.5)
        pilot.climb_to(4750.0 * FT_M, heading + math.pi)
    height = plan.level_ft * FT_M
    pilot.descend_to(height + 20.0, heading, 2.5, 0.7)
    seconds = (118.0, 104.0, 132.0, 96.0, 124.0, 110.0)
    for index, power in enumerate(plan.powers):
        heading = _next_heading(sim, heading, index)
        pilot.turn_to(heading, height)
        pilot.level_run(power, heading, height, seconds[(index + plan.number) % 6])


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
