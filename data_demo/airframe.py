"""Airframes of the demo airplanes and their configurations.

Formulas use only arithmetic operators, so that floats and numpy arrays both pass through.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from .air import FT_M, KT_MS, Number, positive, smooth_step
from .engine_propeller import (
    THREE_BLADE,
    TOURER_ENGINE,
    TOURER_PROPELLER,
    TWO_BLADE,
    Engine,
    Propeller,
)

FUEL_KG_M3 = 720.0


@dataclass(frozen=True)
class Airframe:
    """Drag, lift and wheels.

    Parameters
    ----------
    wing_area_m2, span_m : float
        Wing area [m^2] and span [m].
    parasite : float
        Drag coefficient without lift, flaps up.
    flap_drag : float
        Drag coefficient added by take-off flap.
    span_efficiency : float
        Span efficiency of the parabolic part.
    high_lift_drag, high_lift_start : float
        Growth of drag above a lift coefficient (squared distance).
    slipstream : float
        Thrust lost to drag of what stands in the slipstream, as a fraction.
    cooling : float
        Cooling drag, share of engine power over airspeed (plus 15 m/s).
    rolling : float
        Rolling friction on dry pavement.
    roll_lift : float
        Lift coefficient while rolling.
    wing_height_m : float
        Height of the wing above the ground with the wheels on it [m].
    """

    wing_area_m2: float = 11.5
    span_m: float = 9.2
    parasite: float = 0.0335
    flap_drag: float = 0.014
    span_efficiency: float = 0.80
    high_lift_drag: float = 0.05
    high_lift_start: float = 0.80
    slipstream: float = 0.06
    cooling: float = 0.016
    rolling: float = 0.028
    roll_lift: float = 0.35
    wing_height_m: float = 0.85

    def ground_factor(self, wing_height_m: Number) -> Number:
        """Share of induced drag left at a height of the wing above ground [m]."""
        near = (16.0 * wing_height_m / self.span_m) ** 2
        return near / (1.0 + near)

    def drag_n(
        self,
        density: Number,
        tas_ms: Number,
        lift_n: Number,
        thrust_n: Number,
        power_w: Number,
        *,
        ground: Number = 1.0,
        flaps: Number = 0.0,
        parasite_factor: Number = 1.0,
    ) -> Number:
        """Drag [N] with lift [N], thrust [N] and engine power [W]."""
        force = 0.5 * density * tas_ms * tas_ms * self.wing_area_m2
        lift = lift_n / (force + 1.0e-6)
        aspect = self.span_m**2 / self.wing_area_m2
        beyond = positive(lift - self.high_lift_start)
        coefficient = parasite_factor * (self.parasite + self.flap_drag * flaps)
        coefficient = coefficient + self.high_lift_drag * beyond * beyond
        induced = lift * lift / (math.pi * aspect * self.span_efficiency)
        extra = self.slipstream * positive(thrust_n)
        extra = extra + self.cooling * power_w / (tas_ms + 15.0)
        return force * (coefficient + induced * ground) + extra

    def roll_lift_coefficient(self, tas_ms: Number, liftoff_ms: Number) -> Number:
        """Lift coefficient on the wheels: the nose comes up over the last 1.5 m/s."""
        return self.roll_lift + 0.5 * smooth_step((tas_ms - liftoff_ms + 1.5) / 1.5)

    def roll_resistance_n(
        self,
        density: Number,
        tas_ms: Number,
        liftoff_ms: Number,
        weight_n: Number,
        thrust_n: Number,
        power_w: Number,
        rolling: Number,
    ) -> Number:
        """Air drag and wheel friction [N] during a take-off roll with take-off flap."""
        force = 0.5 * density * tas_ms * tas_ms * self.wing_area_m2
        lift = force * self.roll_lift_coefficient(tas_ms, liftoff_ms)
        drag = self.drag_n(
            density,
            tas_ms,
            lift,
            thrust_n,
            power_w,
            ground=self.ground_factor(self.wing_height_m),
            flaps=1.0,
        )
        return drag + rolling * positive(weight_n - lift)


@dataclass(frozen=True)
class AirspeedError:
    """Position error of the static port and of the pitot head, and what power does to the port.

    All are calibrated minus indicated airspeed [kt] against calibrated airspeed [kt].

    Parameters
    ----------
    static_kt, static_middle_kt, static_width_kt : float
        Static port: reads slow below the middle and fast above it, levelling off at either end.
    pitot_kt, pitot_middle_kt, pitot_width_kt : float
        Pitot head: loses pressure at the large angles of slow flight.
    suction_pa, suction_thrust_n : float
        Static pressure lost at rest [Pa] at a thrust [N].
    """

    static_kt: float = 1.30
    static_middle_kt: float = 72.0
    static_width_kt: float = 38.0
    pitot_kt: float = 0.90
    pitot_middle_kt: float = 54.0
    pitot_width_kt: float = 7.0
    suction_pa: float = 8.0 * FT_M * 12.0
    suction_thrust_n: float = 1570.0


@dataclass(frozen=True)
class Speeds:
    """Calibrated airspeeds that pilots of an airplane use [kt], and about what level runs give.

    Parameters
    ----------
    climb, screen, approach, transit, circuit, base : float
        Climb, first climb up to 50 ft, final approach, way home, circuit, its last turn [kt].
    level : tuple of float
        True airspeed expected at no power and its growth to rated power [kt].
    """

    climb: float = 62.0
    screen: float = 53.0
    approach: float = 57.0
    transit: float = 98.0
    circuit: float = 80.0
    base: float = 68.0
    level: tuple[float, float] = (61.5, 62.0)


@dataclass(frozen=True)
class Configuration:
    """One propeller on one airplane.

    Parameters
    ----------
    name : str
        Name in the campaign.
    propeller : Propeller
        The propeller.
    schedule : tuple of (float, float)
        Airspeed [m/s], crank speed [1/s] of the governor; empty for a fixed pitch.
    airframe, engine, airspeed, speeds : Airframe, Engine, AirspeedError, Speeds
        The rest of the airplane.
    inertia_kg_m2 : float
        Propeller, gears and crank, seen at the propeller [kg m^2].
    """

    name: str
    propeller: Propeller
    schedule: tuple[tuple[float, float], ...] = ()
    airframe: Airframe = field(default_factory=Airframe)
    engine: Engine = field(default_factory=Engine)
    airspeed: AirspeedError = field(default_factory=AirspeedError)
    speeds: Speeds = field(default_factory=Speeds)
    inertia_kg_m2: float = 0.9


#: Rpm schedule of configuration B: calibrated airspeed [m/s], crank speed [1/s].
SCHEDULE = (
    (48.0 * KT_MS, 5300.0 / 60.0),
    (62.0 * KT_MS, 4950.0 / 60.0),
    (90.0 * KT_MS, 4500.0 / 60.0),
)
#: Three blades suck harder at the static port.
THREE_BLADE_SUCTION = AirspeedError(suction_pa=14.0 * FT_M * 12.0, suction_thrust_n=1830.0)
CONFIGURATIONS = {
    "A": Configuration("A", TWO_BLADE),
    "B": Configuration("B", THREE_BLADE, SCHEDULE, airspeed=THREE_BLADE_SUCTION),
}

#: The club's four-seat airplane: fixed gear, high wing, direct drive.
TOURER = Configuration(
    "tourer",
    TOURER_PROPELLER,
    airframe=Airframe(
        wing_area_m2=16.2,
        span_m=10.9,
        parasite=0.0275,
        flap_drag=0.016,
        span_efficiency=0.77,
        slipstream=0.05,
        cooling=0.012,
        rolling=0.027,
        wing_height_m=2.0,
    ),
    engine=TOURER_ENGINE,
    airspeed=AirspeedError(
        static_kt=2.1,
        static_middle_kt=84.0,
        static_width_kt=45.0,
        pitot_kt=1.5,
        pitot_middle_kt=60.0,
        pitot_width_kt=8.0,
        suction_pa=10.0 * FT_M * 12.0,
        suction_thrust_n=2600.0,
    ),
    speeds=Speeds(
        climb=76.0,
        screen=62.0,
        approach=65.0,
        transit=105.0,
        circuit=88.0,
        base=78.0,
        level=(66.0, 68.0),
    ),
    inertia_kg_m2=1.5,
)
