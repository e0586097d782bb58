"""Airframe of the demo airplane and its two configurations.

Formulas use only arithmetic operators, so that floats and numpy arrays both pass through.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from .air import KT_MS, Number, positive, smooth_step
from .engine_propeller import THREE_BLADE, TWO_BLADE, Engine, Propeller

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
class Configuration:
    """One propeller on the airplane.

    Parameters
    ----------
    name : str
        Name in the campaign.
    propeller : Propeller
        The propeller.
    schedule : tuple of (float, float)
        Airspeed [m/s], crank speed [1/s] of the governor; empty for a fixed pitch.
    """

    name: str
    propeller: Propeller
    schedule: tuple[tuple[float, float], ...] = ()
    airframe: Airframe = field(default_factory=Airframe)
    engine: Engine = field(default_factory=Engine)


#: Rpm schedule of configuration B: calibrated airspeed [m/s], crank speed [1/s].
SCHEDULE = (
    (48.0 * KT_MS, 5300.0 / 60.0),
    (62.0 * KT_MS, 4950.0 / 60.0),
    (90.0 * KT_MS, 4500.0 / 60.0),
)
CONFIGURATIONS = {
    "A": Configuration("A", TWO_BLADE),
    "B": Configuration("B", THREE_BLADE, SCHEDULE),
}
