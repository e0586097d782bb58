"""Engines and propellers of the demo airplanes, richer than what the workbook assumes.

Formulas use only arithmetic operators, so that floats and numpy arrays both pass through.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from .air import (
    GAS_CONSTANT_J_KG_K,
    SEA_LEVEL_PRESSURE_PA,
    SEA_LEVEL_TEMPERATURE_K,
    Number,
    clip01,
    density_kg_m3,
    positive,
    smooth_step,
    sound_ms,
)


@dataclass(frozen=True)
class EngineState:
    """What the engine does.

    Parameters
    ----------
    power_w : float or array
        Power at the propeller flange [W].
    manifold_pa : float or array
        Manifold pressure [Pa].
    fuel_kg_s : float or array
        Fuel flow [kg/s].
    """

    power_w: Number
    manifold_pa: Number
    fuel_kg_s: Number


@dataclass(frozen=True)
class Engine:
    """Four-stroke engine: trapped dry air, residual gas, charge heating, friction and pumping.

    Parameters
    ----------
    rated_w, rated_rps : float
        Brake power on the dry standard day at sea level, full throttle, and its crank speed.
    displacement_m3 : float
        Swept volume [m^3].
    friction : tuple of float
        Friction torque over rated torque: constant part and part with speed ratio squared.
    breathing_peak, breathing_fall : float
        Speed ratio of best filling and loss with the squared distance from it.
    intake_loss, exhaust_rise : float
        Pressure loss of the intake and rise in the exhaust at rated speed, as fractions.
    ram : float
        Part of the dynamic pressure recovered in the intake [-].
    compression : float
        Compression ratio [-].
    gear : float
        Crank speed over propeller speed [-].
    cowl_heat_k, wall_k, wall_share : float
        Warming before the intake [K]; wall temperature [K] and its share of the charge's.
    """

    rated_w: float = 78.0e3
    rated_rps: float = 5300.0 / 60.0
    displacement_m3: float = 1.90e-3
    friction: tuple[float, float] = (0.08, 0.08)
    breathing_peak: float = 0.80
    breathing_fall: float = 1.0
    intake_loss: float = 0.035
    exhaust_rise: float = 0.06
    ram: float = 0.35
    compression: float = 10.0
    gear: float = 2.15
    cowl_heat_k: float = 6.0
    wall_k: float = 355.0
    wall_share: float = 0.35

    def state(
        self,
        speed_rps: Number,
        throttle: Number,
        pressure_pa: Number,
        temperature_k: Number,
        vapour_pa: Number,
        tas_ms: Number = 0.0,
        rich: Number = 0.0,
    ) -> EngineState:
        """Power, manifold pressure and fuel flow.

        Parameters
        ----------
        speed_rps : float or array
            Crank speed [1/s].
        throttle : float or array
            Manifold pressure over that at full throttle [-], about 0.25 to 1.
        pressure_pa, temperature_k, vapour_pa : float or array
            Ambient air.
        tas_ms : float or array
            True airspeed [m/s], for the ram effect.
        rich : float or array
            Fuel added to what the carburettor meters by itself, as a fraction.
        """
        ratio = speed_rps / self.rated_rps
        density = density_kg_m3(pressure_pa, temperature_k, vapour_pa)
        full = pressure_pa * (1.0 - self.intake_loss * ratio * ratio)
        full = full + self.ram * 0.5 * density * tas_ms * tas_ms
        manifold = throttle * full
        exhaust = pressure_pa * (1.0 + self.exhaust_rise * ratio * ratio)
        residual = (self.compression - (exhaust / manifold) ** (1.0 / 1.3)) / (
            self.compression - 1.0
        )
        away = ratio - self.breathing_peak
        filling = residual * (1.0 - self.breathing_fall * away * away)
        charge_k = (1.0 - self.wall_share) * (temperature_k + self.cowl_heat_k)
        charge_k = charge_k + self.wall_share * self.wall_k
        dry = (pressure_pa - vapour_pa) / pressure_pa
        trapped = filling * manifold * dry / (GAS_CONSTANT_J_KG_K * charge_k)  # kg per swept m^3
        mixture = self._mixture(throttle, density) * (1.0 + rich)
        off_best = mixture - 1.10
        torque = self._work() * trapped * (1.0 - 0.9 * off_best * off_best)
        torque = torque - self._friction(ratio)
        torque = torque - (exhaust - manifold) * self.displacement_m3 / (4.0 * math.pi)
        air_kg_s = trapped * self.displacement_m3 * 0.5 * speed_rps
        return EngineState(
            2.0 * math.pi * speed_rps * torque, manifold, air_kg_s * 0.0667 * mixture
        )

    def _mixture(self, throttle: Number, density: Number) -> Number:
        """Fuel over the chemically right amount: richer at full throttle, a little aloft."""
        thin = (1.225 / density) ** 0.15
        return (1.0 + 0.08 * smooth_step((throttle - 0.96) / 0.04)) * thin

    def _rated_torque(self) -> float:
        return self.rated_w / (2.0 * math.pi * self.rated_rps)

    def _friction(self, ratio: Number) -> Number:
        constant, growing = self.friction
        return self._rated_torque() * (constant + growing * ratio * ratio)

    def _work(self) -> float:
        """Torque for each kilogram trapped in a cubic metre, such that the rating is met."""
        manifold = SEA_LEVEL_PRESSURE_PA * (1.0 - self.intake_loss)
        exhaust = SEA_LEVEL_PRESSURE_PA * (1.0 + self.exhaust_rise)
        residual = (self.compression - (exhaust / manifold) ** (1.0 / 1.3)) / (
            self.compression - 1.0
        )
        away = 1.0 - self.breathing_peak
        charge_k = (1.0 - self.wall_share) * (SEA_LEVEL_TEMPERATURE_K + self.cowl_heat_k)
        charge_k += self.wall_share * self.wall_k
        trapped = residual * (1.0 - self.breathing_fall * away * away) * manifold
        trapped /= GAS_CONSTANT_J_KG_K * charge_k
        pumping = (exhaust - manifold) * self.displacement_m3 / (4.0 * math.pi)
        wanted = self._rated_torque() + self._friction(1.0) + pumping
        return wanted / (trapped * (1.0 - 0.9 * (1.08 - 1.10) ** 2))


@dataclass(frozen=True)
class Propeller:
    """Propeller by thrust and power coefficients of advance ratio and blade setting.

    The blade setting is the tangent of the blade angle at three quarters of the radius. Thrust
    grows with the distance of the advance ratio from that of no thrust, and saturates; power is
    that of momentum theory with a loss that grows with loading, plus blade drag, plus stalling.

    Parameters
    ----------
    diameter_m : float
        Diameter [m].
    blades : int
        Number of blades.
    slope : float
        Fall of the thrust coefficient with advance ratio near no thrust.
    bend, sharpness : float
        Distance in advance ratio where thrust saturates, and how sharply.
    camber : float
        Advance ratio of no thrust beyond the geometric pitch.
    losses : tuple of float
        Factor on ideal power: constant part and part with the thrust coefficient.
    blade_drag, stall_drag, stall_start : float
        Power coefficient of blade drag; growth of it beyond a distance in advance ratio.
    setting : float
        Blade setting of a fixed pitch, or the low pitch stop.
    governed : bool
        Whether a governor moves the blades.
    """

    diameter_m: float
    blades: int
    slope: float
    bend: float
    sharpness: float
    camber: float
    losses: tuple[float, float]
    blade_drag: float
    stall_drag: float
    stall_start: float
    setting: float
    governed: bool

    def no_thrust_advance(self, setting: Number) -> Number:
        """Advance ratio of no thrust for a blade setting."""
        return 0.75 * math.pi * setting + self.camber

    def coefficients(
        self, advance: Number, setting: Number, tip_mach: Number
    ) -> tuple[Number, Number]:
        """Thrust and power coefficients at an advance ratio, blade setting and tip Mach number."""
        distance = self.no_thrust_advance(setting) - advance
        bent = (abs(distance) / self.bend) ** self.sharpness
        thrust = self.slope * distance / (1.0 + bent) ** (1.0 / self.sharpness)
        fast = positive(tip_mach - 0.62)
        thrust = thrust * (1.0 - 1.5 * fast * fast)
        return thrust, self._power(thrust, distance, advance, tip_mach)

    def distance_for_thrust(self, thrust: Number) -> Number:
        """Distance in advance ratio from no thrust for a thrust coefficient (no tip loss)."""
        part = thrust / (self.slope * self.bend)
        return self.bend * part / (1.0 - abs(part) ** self.sharpness) ** (1.0 / self.sharpness)

    def _power(self, thrust: Number, distance: Number, advance: Number, tip_mach: Number) -> Number:
        swirl = (advance * advance + 8.0 / math.pi * positive(thrust)) ** 0.5
        ideal = 0.5 * thrust * (advance + swirl)
        stalled = positive(distance - self.stall_start)
        fast = positive(tip_mach - 0.60)
        drag = self.blade_drag * (1.0 + 60.0 * fast * fast) * (1.0 + 0.25 * advance * advance)
        factor = self.losses[0] + self.losses[1] * abs(thrust)
        return factor * ideal + drag + self.stall_drag * stalled * stalled

    def tip_mach(self, tas_ms: Number, speed_rps: Number, temperature_k: Number) -> Number:
        """Helical tip Mach number."""
        around = math.pi * self.diameter_m * speed_rps
        return (around * around + tas_ms * tas_ms) ** 0.5 / sound_ms(temperature_k)

    def thrust_power(
        self,
        tas_ms: Number,
        speed_rps: Number,
        setting: Number,
        density: Number,
        temperature_k: Number,
    ) -> tuple[Number, Number]:
        """Thrust [N] and power [W] at propeller speed [1/s], blade setting and air."""
        advance = tas_ms / (speed_rps * self.diameter_m)
        mach = self.tip_mach(tas_ms, speed_rps, temperature_k)
        thrust, power = self.coefficients(advance, setting, mach)
        pressure = density * speed_rps * speed_rps * self.diameter_m**4
        return thrust * pressure, power * pressure * speed_rps * self.diameter_m


#: Two-blade fixed pitch, wood.
TWO_BLADE = Propeller(
    diameter_m=1.68,
    blades=2,
    slope=0.17,
    bend=0.77,
    sharpness=3.5,
    camber=0.12,
    losses=(1.05, 1.1),
    blade_drag=0.0058,
    stall_drag=0.105,
    stall_start=0.60,
    setting=0.495,
    governed=False,
)

#: Three-blade constant speed, composite.
THREE_BLADE = Propeller(
    diameter_m=1.70,
    blades=3,
    slope=0.23,
    bend=0.505,
    sharpness=3.5,
    camber=0.10,
    losses=(1.02, 0.7),
    blade_drag=0.0078,
    stall_drag=0.14,
    stall_start=0.52,
    setting=0.372,
    governed=True,
)

#: The four-seat airplane's engine: large, slow, direct drive.
TOURER_ENGINE = Engine(
    rated_w=120.0e3,
    rated_rps=2700.0 / 60.0,
    displacement_m3=5.90e-3,
    friction=(0.07, 0.07),
    breathing_peak=0.85,
    intake_loss=0.04,
    ram=0.25,
    compression=8.6,
    gear=1.0,
)
#: Its propeller: two blades of metal, fixed pitch.
TOURER_PROPELLER = Propeller(
    diameter_m=1.88,
    blades=2,
    slope=0.17,
    bend=0.70,
    sharpness=3.5,
    camber=0.11,
    losses=(1.04, 1.1),
    blade_drag=0.0034,
    stall_drag=0.09,
    stall_start=0.60,
    setting=0.435,
    governed=False,
)


def schedule_rps(cas_ms: Number, rows: tuple[tuple[float, float], ...]) -> Number:
    """Crank speed [1/s] that the schedule asks at a calibrated airspeed [m/s].

    Straight lines between the rows (airspeed [m/s], speed [1/s]), constant outside of them.
    """
    speed = rows[0][1]
    for (low, first), (high, second) in itertools.pairwise(rows):
        speed = speed + (second - first) * clip01((cas_ms - low) / (high - low))
    return speed
