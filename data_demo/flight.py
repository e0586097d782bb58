"""Simulator of one flight: a point mass with engine, governor, wind, gusts and a runway."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .air import GRAVITY_MS2, Column, calibrated_ms, density_kg_m3, smooth_step
from .airframe import FUEL_KG_M3, Configuration
from .engine_propeller import schedule_rps

STEP_S = 0.2
GUST_TIME_S = 7.0
THERMAL_TIME_S = 30.0

#: What is kept of every step; SI units, angles in radians.
CHANNELS = (
    "time_s",
    "east_m",
    "north_m",
    "height_m",
    "tas_ms",
    "cas_ms",
    "ground_speed_ms",
    "track_rad",
    "heading_rad",
    "pitch_rad",
    "bank_rad",
    "load_g",
    "climb_ms",
    "pressure_pa",
    "temperature_k",
    "vapour_pa",
    "engine_rps",
    "manifold_pa",
    "power_w",
    "thrust_n",
    "fuel_kg_s",
    "fuel_kg",
    "airborne",
    "wind_east_ms",
    "wind_north_ms",
)


@dataclass(frozen=True)
class Runway:
    """Runway in use.

    Parameters
    ----------
    name : str
        Its name.
    heading_rad : float
        True bearing [rad].
    slope : float
        True slope in that direction [-].
    start_east_m, start_north_m, start_height_m : float
        Place of its beginning.
    """

    name: str
    heading_rad: float
    slope: float
    start_east_m: float
    start_north_m: float
    start_height_m: float

    def along(self, east_m: float, north_m: float) -> tuple[float, float]:
        """Distance along the runway and to the right of it [m]."""
        east, north = east_m - self.start_east_m, north_m - self.start_north_m
        sine, cosine = math.sin(self.heading_rad), math.cos(self.heading_rad)
        return east * sine + north * cosine, east * cosine - north * sine

    def place(self, along_m: float, right_m: float) -> tuple[float, float]:
        """East and north [m] of a place given along and to the right of the runway."""
        sine, cosine = math.sin(self.heading_rad), math.cos(self.heading_rad)
        return (
            self.start_east_m + along_m * sine + right_m * cosine,
            self.start_north_m + along_m * cosine - right_m * sine,
        )

    def ground_m(self, east_m: float, north_m: float) -> float:
        """Height of the ground [m]: the runway's slope within its length, level beyond."""
        along, _ = self.along(east_m, north_m)
        return self.start_height_m + self.slope * min(max(along, 0.0), 900.0)


@dataclass(frozen=True)
class Variation:
    """How this flight differs from the airplane on paper.

    Parameters
    ----------
    parasite_factor, power_factor : float
        Factors on parasite drag and engine power.
    rolling_add : float
        Added to rolling friction.
    rich : float
        Extra fuel, as a fraction.
    air_rise_ms : float
        Mean vertical motion of the air aloft [m/s].
    """

    parasite_factor: float = 1.0
    power_factor: float = 1.0
    rolling_add: float = 0.0
    rich: float = 0.0
    air_rise_ms: float = 0.0


class Simulator:
    """State of the airplane, moved on by `step`; every step is kept.

    Parameters
    ----------
    config : Configuration
        Propeller on the airplane.
    column : Column
        Air of the day.
    runway : Runway
        Runway in use.
    variation : Variation
        Differences from the airplane on paper.
    dry_kg, fuel_kg : float
        Mass without fuel, and fuel [kg].
    rng : numpy generator
        Source of gusts and of the pilot's small errors.
    """

    def __init__(
        self,
        config: Configuration,
        column: Column,
        runway: Runway,
        variation: Variation,
        dry_kg: float,
        fuel_kg: float,
        rng: np.random.Generator,
    ) -> None:
        self.config = config
        self.column = column
        self.runway = runway
        self.variation = variation
        self.dry_kg = dry_kg
        self.fuel_kg = fuel_kg
        self.time_s = 0.0
        self.east_m, self.north_m = runway.place(-40.0, 120.0)
        self.height_m = runway.ground_m(self.east_m, self.north_m)
        self.heading_rad = runway.heading_rad
        self.tas_ms = 0.5
        self.cas_ms = 0.0
        self.ground_speed_ms = 0.0
        self.gamma_rad = 0.0
        self.bank_rad = 0.0
        self.climb_ms = 0.0
        self.nose_rad = 0.03
        self.airborne = False
        self.flaps = 0.0
        self.throttle = 0.34
        self.propeller_rps = 15.0
        self.setting = config.propeller.setting
        self.power_w = 5.0e3
        self.seen_cas_ms = 0.0
        self.gust = [0.0, 0.0, 0.0]
        self.hunting_rps = 0.0
        self.wind_before: tuple[float, float] | None = None
        self.rows: list[tuple[float, ...]] = []
        self.events: list[dict[str, object]] = []
        self._rng = rng
        self._normal: NDArray[np.float64] = np.empty((0, 4))
        self._used = 0

    @property
    def mass_kg(self) -> float:
        """Mass now [kg]."""
        return self.dry_kg + self.fuel_kg

    @property
    def above_ground_m(self) -> float:
        """Height above the ground below [m]."""
        return self.height_m - self.runway.ground_m(self.east_m, self.north_m)

    def step(
        self,
        throttle: float,
        *,
        gamma_rad: float = 0.0,
        bank_rad: float = 0.0,
        brake_ms2: float = 0.0,
        turn_rad_s: float = 0.0,
        hold: bool = False,
        liftoff_ms: float = 99.0,
    ) -> None:
        """Move on by one step.

        Parameters
        ----------
        throttle : float
            Throttle asked [-].
        gamma_rad, bank_rad : float
            Flight-path angle and bank asked in flight [rad].
        brake_ms2, turn_rad_s : float
            Braking [m/s^2] and turn rate [rad/s] on the ground.
        hold : bool
            Brakes hold the airplane at rest.
        liftoff_ms : float
            True airspeed at which the nose is up, in a take-off roll [m/s].
        """
        draw = self._draw()
        self.throttle += max(min(throttle - self.throttle, 0.07), -0.07)
        pressure, temperature, vapour = self.column.state(self.height_m)
        density = density_kg_m3(pressure, temperature, vapour)
        self._gusts(draw)
        thrust, manifold, fuel = self._turn_engine(
            density, pressure, temperature, vapour, float(draw[3])
        )
        wind = self._wind()
        if self.airborne:
            load = self._fly(density, thrust, gamma_rad, bank_rad, wind)
        else:
            load = 1.0
            self._roll(density, thrust, brake_ms2, turn_rad_s, hold, liftoff_ms, wind)
        self.fuel_kg -= fuel * STEP_S
        self.cas_ms = calibrated_ms(self.tas_ms, pressure, temperature)
        self.seen_cas_ms += (self.cas_ms - self.seen_cas_ms) * STEP_S / 0.8
        self.time_s = round(self.time_s + STEP_S, 3)
        self._keep(wind, load, pressure, temperature, vapour, manifold, thrust, fuel)

    def note(self, kind: str, **details: object) -> None:
        """Keep an event with its time."""
        self.events.append({"kind": kind, "time_s": self.time_s, **details})

    def normal(self) -> float:
        """One standard normal number for the pilot's small errors."""
        return float(self._draw()[0])

    def _draw(self) -> NDArray[np.float64]:
        if self._used >= len(self._normal):
            self._normal = self._rng.standard_normal((4096, 4))
            self._used = 0
        self._used += 1
        return self._normal[self._used - 1]

    def _gusts(self, draw: NDArray[np.float64]) -> None:
        weather = self.column.weather
        for index, (size, time) in enumerate(
            (
                (weather.gust_ms, GUST_TIME_S),
                (weather.gust_ms, GUST_TIME_S),
                (weather.thermal_ms, THERMAL_TIME_S),
            )
        ):
            push = size * math.sqrt(2.0 * STEP_S / time) * float(draw[index])
            self.gust[index] += -self.gust[index] * STEP_S / time + push

    def _wind(self) -> tuple[float, float]:
        east, north = self.column.wind(self.height_m)
        above = max(self.above_ground_m, 0.0)
        low = min(1.0, 0.5 + above / 200.0)  # near the ground gusts are held back
        low *= 1.0 - 0.55 * smooth_step((above - 150.0) / 600.0)  # and aloft they fade
        return east + low * self.gust[0], north + low * self.gust[1]

    def _turn_engine(
        self, density: float, pressure: float, temperature: float, vapour: float, draw: float
    ) -> tuple[float, float, float]:
        """Engine and propeller speed by a linearly implicit step; thrust, manifold, fuel flow."""
        engine, propeller = self.config.engine, self.config.propeller
        speed = self.propeller_rps
        made = engine.state(
            speed * engine.gear,
            self.throttle,
            pressure,
            temperature,
            vapour,
            self.tas_ms,
            self.variation.rich,
        )
        self.power_w = made.power_w * self.variation.power_factor
        tas = max(self.tas_ms, 0.1)
        thrust, taken = propeller.thrust_power(tas, speed, self.setting, density, temperature)
        unbalance = (self.power_w - taken) / (2.0 * math.pi * speed)
        stiffness = 2.6 * abs(taken) / (2.0 * math.pi * speed * speed)
        share = STEP_S / (2.0 * math.pi * self.config.inertia_kg_m2)
        self.propeller_rps = max(speed + share * unbalance / (1.0 + share * stiffness), 8.0)
        if propeller.governed:
            self.hunting_rps += -self.hunting_rps * STEP_S / 2.0 + 0.05 * draw
            wanted = schedule_rps(self.seen_cas_ms, self.config.schedule) / engine.gear
            error = self.propeller_rps - wanted - self.hunting_rps
            move = max(min(0.018 * error, 0.06), -0.06) * STEP_S
            self.setting = min(max(self.setting + move, propeller.setting), 0.90)
        return thrust, made.manifold_pa, made.fuel_kg_s

    def _roll(
        self,
        density: float,
        thrust: float,
        brake: float,
        turn: float,
        hold: bool,
        liftoff: float,
        wind: tuple[float, float],
    ) -> None:
        sine, cosine = math.sin(self.heading_rad), math.cos(self.heading_rad)
        headwind = -(wind[0] * sine + wind[1] * cosine)
        weight = self.mass_kg * GRAVITY_MS2
        frame = self.config.airframe
        resistance = frame.roll_resistance_n(
            density,
            abs(self.tas_ms),
            liftoff,
            weight,
            thrust,
            self.power_w,
            frame.rolling + self.variation.rolling_add,
        )
        along = math.cos(self.heading_rad - self.runway.heading_rad)
        rise = self.runway.slope * along
        change = (thrust - resistance) / self.mass_kg - GRAVITY_MS2 * rise - brake
        before = self.ground_speed_ms
        after = 0.0 if hold else max(before + change * STEP_S, 0.0)
        mean = 0.5 * (before + after)
        self.heading_rad += turn * STEP_S
        self.east_m += mean * sine * STEP_S
        self.north_m += mean * cosine * STEP_S
        self.height_m = self.runway.ground_m(self.east_m, self.north_m)
        self.ground_speed_ms = after
        self.tas_ms = abs(after + headwind) + 0.05
        self.nose_rad = 0.03 + 0.09 * smooth_step((self.tas_ms - liftoff + 1.5) / 1.5)
        self.gamma_rad = 0.0
        self.bank_rad = 0.0
        self.climb_ms = 0.0
        self.wind_before = wind

    def _fly(
        self,
        density: float,
        thrust: float,
        gamma_asked: float,
        bank_asked: float,
        wind: tuple[float, float],
    ) -> float:
        frame = self.config.airframe
        gamma_rate = max(min((gamma_asked - self.gamma_rad) / 1.0, 0.12), -0.12)
        gamma_rate = gamma_rate if self.tas_ms > 20.0 else -0.05
        self.bank_rad += max(min(bank_asked - self.bank_rad, 0.05), -0.05)
        load = math.cos(self.gamma_rad) + self.tas_ms * gamma_rate / GRAVITY_MS2
        load /= math.cos(self.bank_rad)
        above = max(self.above_ground_m, 0.0)
        drag = frame.drag_n(
            density,
            self.tas_ms,
            load * self.mass_kg * GRAVITY_MS2,
            thrust,
            self.power_w,
            ground=frame.ground_factor(above + frame.wing_height_m),
            flaps=self.flaps,
            parasite_factor=self.variation.parasite_factor,
        )
        sine, cosine = math.sin(self.heading_rad), math.cos(self.heading_rad)
        before = self.wind_before or wind
        gained = (wind[0] - before[0]) * sine + (wind[1] - before[1]) * cosine
        change = (thrust - drag) / self.mass_kg - GRAVITY_MS2 * math.sin(self.gamma_rad)
        was = self.tas_ms
        self.tas_ms += change * STEP_S - gained * math.cos(self.gamma_rad)
        self.gamma_rad += gamma_rate * STEP_S
        mean = 0.5 * (was + self.tas_ms)
        aloft = above / (above + 100.0)
        self.climb_ms = mean * math.sin(self.gamma_rad)
        self.climb_ms += aloft * (self.variation.air_rise_ms + self.gust[2])
        level = mean * math.cos(self.gamma_rad)
        east, north = level * sine + wind[0], level * cosine + wind[1]
        self.heading_rad += GRAVITY_MS2 * math.tan(self.bank_rad) / mean * STEP_S
        self.east_m += east * STEP_S
        self.north_m += north * STEP_S
        self.height_m += self.climb_ms * STEP_S
        self.ground_speed_ms = math.hypot(east, north)
        self.wind_before = wind
        return load

    def _keep(
        self,
        wind: tuple[float, float],
        load: float,
        pressure: float,
        temperature: float,
        vapour: float,
        manifold: float,
        thrust: float,
        fuel: float,
    ) -> None:
        track = self.heading_rad
        if self.airborne:
            level = self.tas_ms * math.cos(self.gamma_rad)
            track = math.atan2(
                level * math.sin(self.heading_rad) + wind[0],
                level * math.cos(self.heading_rad) + wind[1],
            )
        force = 0.5 * density_kg_m3(pressure, temperature, vapour) * self.tas_ms**2
        lift = load * self.mass_kg * GRAVITY_MS2 / (force * self.config.airframe.wing_area_m2 + 1.0)
        attack = math.radians(9.0) * lift - math.radians(4.0) if self.airborne else self.nose_rad
        self.rows.append(
            (
                self.time_s,
                self.east_m,
                self.north_m,
                self.height_m,
                self.tas_ms,
                self.cas_ms,
                self.ground_speed_ms,
                track,
                self.heading_rad,
                self.gamma_rad + attack,
                self.bank_rad,
                load,
                self.climb_ms,
                pressure,
                temperature,
                vapour,
                self.propeller_rps * self.config.engine.gear,
                manifold,
                self.power_w,
                thrust,
                fuel,
                self.fuel_kg,
                float(self.airborne),
                wind[0],
                wind[1],
            )
        )

    def table(self) -> dict[str, NDArray[np.float64]]:
        """Every kept step, one array a channel."""
        array = np.array(self.rows)
        return {name: array[:, index] for index, name in enumerate(CHANNELS)}

    def fuel_litres(self) -> float:
        """Fuel on board [L]."""
        return self.fuel_kg / FUEL_KG_M3 * 1000.0
