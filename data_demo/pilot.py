"""What the pilots do: take-offs, climbs, level runs, descents, landings and taxiing."""

from __future__ import annotations

import math
from dataclasses import dataclass

from .air import FT_M, KT_MS, density_kg_m3
from .flight import STEP_S, Simulator

IDLE = 0.33
SCREEN_M = 50.0 * FT_M


@dataclass
class Wander:
    """Slow random error of a pilot: first-order, with standard deviation and time constant [s]."""

    size: float
    time_s: float
    value: float = 0.0

    def move(self, sim: Simulator) -> float:
        """Next value."""
        push = self.size * math.sqrt(2.0 * STEP_S / self.time_s) * sim.normal()
        self.value += -self.value * STEP_S / self.time_s + push
        return self.value


def wrap(angle_rad: float) -> float:
    """Angle within half a turn [rad]."""
    return (angle_rad + math.pi) % (2.0 * math.pi) - math.pi


class Pilot:
    """A pilot at the controls.

    Parameters
    ----------
    sim : Simulator
        The airplane.
    skill : float
        Factor on the pilot's errors.
    climb_bias_ms : float
        How much faster than asked this pilot climbs [m/s].
    approach_add_ms : float
        Faster than the airplane's approach airspeed [m/s].
    brake_ms2 : float
        Braking after landing [m/s^2].
    """

    def __init__(
        self,
        sim: Simulator,
        skill: float,
        climb_bias_ms: float,
        *,
        approach_add_ms: float = 0.0,
        brake_ms2: float = 1.6,
    ) -> None:
        self.sim = sim
        self.skill = skill
        self.approach_ms = sim.config.speeds.approach * KT_MS + approach_add_ms
        self.brake_ms2 = brake_ms2
        self.touched = (0.0, 0.0)
        self.screen: tuple[float, float] | None = None
        self.climb_bias_ms = climb_bias_ms
        self.speed_error = Wander(0.5 * KT_MS * skill, 25.0)
        self.height_error = Wander(9.0 * FT_M * skill, 30.0)
        self.bank_error = Wander(math.radians(0.8) * skill, 4.0)
        self.gamma_trim = 0.0
        self.rise_trim = 0.0

    # ---- holding things -------------------------------------------------------------------

    def bank_for(self, heading_rad: float, limit_deg: float = 25.0) -> float:
        """Bank that turns to a heading and holds it [rad]."""
        limit = math.radians(limit_deg)
        asked = 1.2 * wrap(heading_rad - self.sim.heading_rad)
        return max(min(asked, limit), -limit) + self.bank_error.move(self.sim)

    def gamma_for_speed(self, cas_ms: float) -> float:
        """Flight-path angle that holds an airspeed [rad]."""
        error = self.sim.seen_cas_ms - cas_ms - self.speed_error.move(self.sim)
        self.gamma_trim += 0.0016 * error * STEP_S
        self.gamma_trim = max(min(self.gamma_trim, 0.25), -0.2)
        return max(min(self.gamma_trim + 0.018 * error, 0.28), -0.25)

    def gamma_for_height(self, height_m: float, limit_ms: float = 5.0) -> float:
        """Flight-path angle that holds a height [rad]."""
        error = height_m + self.height_error.move(self.sim) - self.sim.height_m
        if abs(error) < 30.0:
            self.rise_trim += 0.006 * error * STEP_S
            self.rise_trim = max(min(self.rise_trim, 1.5), -1.5)
        rate = max(min(0.13 * error, limit_ms), -limit_ms) + self.rise_trim
        return rate / self.sim.tas_ms

    # ---- on the ground --------------------------------------------------------------------

    def wait(self, seconds: float, throttle: float = IDLE) -> None:
        """Stand with the brakes on."""
        until = self.sim.time_s + seconds
        while self.sim.time_s < until:
            self.sim.step(throttle, hold=True)

    def taxi_to(self, east_m: float, north_m: float, speed_ms: float = 7.0) -> None:
        """Taxi in a straight line to a place."""
        sim = self.sim
        limit = sim.time_s + 400.0
        while sim.time_s < limit:
            east, north = east_m - sim.east_m, north_m - sim.north_m
            left = math.hypot(east, north)
            if left < 4.0:
                break
            turn = wrap(math.atan2(east, north) - sim.heading_rad)
            wanted = speed_ms if abs(turn) < 0.5 else 3.0
            wanted = min(wanted, 1.5 + left / 6.0)
            slow = wanted - sim.ground_speed_ms
            rate = max(min(0.9 * turn, 0.35), -0.35) if sim.ground_speed_ms > 0.5 else 0.0
            sim.step(
                IDLE + max(min(0.10 * slow, 0.22), 0.0),
                brake_ms2=max(-0.8 * slow, 0.0),
                turn_rad_s=rate,
            )
        self.stop()

    def stop(self, brake_ms2: float = 2.0) -> None:
        """Brake to rest."""
        while self.sim.ground_speed_ms > 0.05:
            self.sim.step(IDLE, brake_ms2=brake_ms2)

    def turn_on_ground(self, heading_rad: float) -> None:
        """Turn slowly to a heading."""
        limit = self.sim.time_s + 60.0
        while abs(wrap(heading_rad - self.sim.heading_rad)) > 0.01 and self.sim.time_s < limit:
            turn = wrap(heading_rad - self.sim.heading_rad)
            slow = 2.0 - self.sim.ground_speed_ms
            self.sim.step(
                IDLE + max(min(0.10 * slow, 0.2), 0.0),
                brake_ms2=max(-0.8 * slow, 0.0),
                turn_rad_s=max(min(0.8 * turn, 0.4), -0.4),
            )
        self.stop()

    def line_up(self, along_m: float) -> None:
        """Taxi to the beginning of the runway, turn into its direction and stop."""
        runway = self.sim.runway
        self.taxi_to(*runway.place(along_m - 12.0, 0.0))
        self.turn_on_ground(runway.heading_rad)
        self.taxi_to(*runway.place(along_m + 8.0, 0.0), speed_ms=2.5)
        self.turn_on_ground(runway.heading_rad)
        self.sim.heading_rad = runway.heading_rad

    def run_up(self) -> None:
        """Check the engine at part throttle."""
        self.sim.note("run-up")
        self.wait(35.0, 0.72)
        self.wait(12.0, IDLE)

    # ---- take-off ---------------------------------------------------------------------------

    def take_off(self, liftoff_cas_ms: float, *, abort_at_ms: float | None = None) -> bool:
        """Standing take-off; returns whether the airplane flies."""
        sim = self.sim
        sim.flaps = 1.0
        self.wait(14.0)
        self.wait(6.5 + 1.5 * abs(sim.normal()), 1.0)
        sim.note(
            "brake release",
            mass_kg=sim.mass_kg,
            fuel_litres=sim.fuel_litres(),
            engine_rps=sim.rows[-1][16],
        )
        start = (sim.east_m, sim.north_m)
        while sim.cas_ms < liftoff_cas_ms:
            if abort_at_ms is not None and sim.cas_ms > abort_at_ms:
                sim.note("aborted")
                self.wait_rolling(1.0)
                self.stop(2.5)
                return False
            tas = liftoff_cas_ms * sim.tas_ms / max(sim.cas_ms, 1.0)
            self._steer_runway(1.0, tas)
        self._leave(start, "lift-off")
        return True

    def wait_rolling(self, seconds: float) -> None:
        """Roll on with the throttle closed."""
        until = self.sim.time_s + seconds
        while self.sim.time_s < until:
            self.sim.step(IDLE)

    def _steer_runway(self, throttle: float, liftoff_tas_ms: float) -> None:
        sim = self.sim
        turn = 0.5 * wrap(sim.runway.heading_rad - sim.heading_rad)
        sim.step(throttle, turn_rad_s=turn, liftoff_ms=liftoff_tas_ms)

    def _leave(self, start: tuple[float, float], kind: str) -> None:
        """Become airborne and climb away to 300 ft, flaps in."""
        sim = self.sim
        roll = math.hypot(sim.east_m - start[0], sim.north_m - start[1])
        sim.note(
            kind,
            ground_roll_m=roll,
            cas_ms=sim.cas_ms,
            ground_speed_ms=sim.ground_speed_ms,
            headwind_ms=sim.tas_ms - sim.ground_speed_ms,
            density_kg_m3=_density(sim),
        )
        sim.airborne = True
        climb = sim.config.speeds.climb * KT_MS + self.climb_bias_ms
        first = min(max(sim.config.speeds.screen * KT_MS, sim.cas_ms + 2.0 * KT_MS), climb)
        heading = sim.runway.heading_rad
        begun = sim.time_s
        told = False
        while sim.above_ground_m < 95.0:
            ramp = min((sim.time_s - begun) / 5.0, 1.0)
            self.gamma_trim = max(self.gamma_trim, 0.10 * ramp) if ramp < 1.0 else self.gamma_trim
            asked = self.gamma_for_speed(climb if told else first)
            fast = max(sim.seen_cas_ms - first, 0.0)
            asked = asked if ramp >= 1.0 else 0.02 + 0.08 * ramp + 0.018 * fast
            was = sim.above_ground_m
            sim.step(1.0, gamma_rad=asked, bank_rad=self.bank_for(heading, 8.0))
            if not told and sim.above_ground_m > SCREEN_M:
                place, moment = self._at_screen(was)
                sim.note(
                    "50 ft",
                    time_s=moment,
                    distance_m=math.dist(place, start),
                    cas_ms=sim.cas_ms,
                    ground_speed_ms=sim.ground_speed_ms,
                )
                told = True
        while sim.flaps > 0.0:
            sim.flaps = max(sim.flaps - STEP_S / 5.0, 0.0)
            asked = self.gamma_for_speed(climb)
            sim.step(1.0, gamma_rad=asked, bank_rad=self.bank_for(heading, 8.0))

    def _at_screen(self, was_m: float) -> tuple[tuple[float, float], float]:
        """Place and time at which the last step went through 50 ft, from a height before."""
        sim = self.sim
        left = (sim.above_ground_m - SCREEN_M) / (sim.above_ground_m - was_m)
        east, north = sim.rows[-2][1], sim.rows[-2][2]
        place = (
            sim.east_m - left * (sim.east_m - east),
            sim.north_m - left * (sim.north_m - north),
        )
        return place, sim.time_s - left * STEP_S

    # ---- in the air -------------------------------------------------------------------------

    def climb_to(self, height_m: float, heading_rad: float, cas_ms: float = 0.0) -> None:
        """Climb at full throttle and constant airspeed (0: the airplane's usual one)."""
        sim = self.sim
        cas_ms = cas_ms or sim.config.speeds.climb * KT_MS
        sim.note("climb starts", asked_cas_kt=cas_ms / KT_MS)
        limit = sim.time_s + 900.0
        while sim.height_m < height_m and sim.time_s < limit:
            asked = self.gamma_for_speed(cas_ms + self.climb_bias_ms)
            sim.step(1.0, gamma_rad=asked, bank_rad=self.bank_for(heading_rad))
        sim.note("climb ends")

    def descend_to(
        self,
        height_m: float,
        heading_rad: float,
        rate_ms: float = 4.0,
        throttle: float = 0.60,
    ) -> None:
        """Descend on a heading."""
        sim = self.sim
        limit = sim.time_s + 600.0
        while sim.height_m > height_m and sim.time_s < limit:
            sim.step(throttle, gamma_rad=-rate_ms / sim.tas_ms, bank_rad=self.bank_for(heading_rad))
        self.gamma_trim = 0.0

    def turn_to(self, heading_rad: float, height_m: float) -> None:
        """Turn at constant height to a heading."""
        sim = self.sim
        while abs(wrap(heading_rad - sim.heading_rad)) > math.radians(2.0):
            asked = self.gamma_for_height(height_m)
            sim.step(sim.throttle, gamma_rad=asked, bank_rad=self.bank_for(heading_rad))

    def hold_level(
        self, seconds: float, heading_rad: float, height_m: float, throttle: float
    ) -> None:
        """Fly level with the throttle where it is."""
        until = self.sim.time_s + seconds
        while self.sim.time_s < until:
            self.sim.step(
                throttle,
                gamma_rad=self.gamma_for_height(height_m),
                bank_rad=self.bank_for(heading_rad, 15.0),
            )

    def level_run(
        self, power_share: float, heading_rad: float, height_m: float, seconds: float
    ) -> None:
        """Set power (share of the rated one), let the airspeed settle, and fly level."""
        sim = self.sim
        at_rest, growth = sim.config.speeds.level
        expected = (at_rest + growth * power_share) * KT_MS
        limit = sim.time_s + 90.0
        quick = 1.0 if sim.tas_ms < expected else 0.50
        while (sim.tas_ms - expected) * (1.0 if quick < 0.9 else -1.0) > 0.3:
            sim.step(
                quick,
                gamma_rad=self.gamma_for_height(height_m),
                bank_rad=self.bank_for(heading_rad),
            )
            if sim.time_s > limit:
                break
        wanted = power_share * sim.config.engine.rated_w
        throttle = min(max(0.35 + 0.75 * power_share, 0.4), 1.0)
        until = sim.time_s + 30.0
        while sim.time_s < until:
            throttle += 0.02 * (wanted - sim.power_w) / 1.0e4
            throttle = min(max(throttle, 0.4), 1.0)
            sim.step(
                throttle,
                gamma_rad=self.gamma_for_height(height_m),
                bank_rad=self.bank_for(heading_rad),
            )
        self.hold_level(40.0, heading_rad, height_m, throttle)
        self._settle(heading_rad, height_m, throttle)
        sim.note("level run starts", asked_power=power_share)
        self.hold_level(seconds, heading_rad, height_m, throttle)
        sim.note("level run ends")

    def _settle(self, heading_rad: float, height_m: float, throttle: float) -> None:
        """Wait until the airspeed no longer creeps, at most a minute and a half."""
        rows = self.sim.rows
        for _ in range(6):
            self.hold_level(15.0, heading_rad, height_m, throttle)
            late = sum(row[4] for row in rows[-75:]) / 75.0
            early = sum(row[4] for row in rows[-150:-75]) / 75.0
            if abs(late - early) < 0.20 * KT_MS:
                break

    # ---- back to the field --------------------------------------------------------------------

    def fly_to(
        self, along_m: float, right_m: float, height_m: float, cas_ms: float, near_m: float = 500.0
    ) -> None:
        """Fly to a place given along and to the right of the runway, descending or level."""
        sim = self.sim
        east_m, north_m = sim.runway.place(along_m, right_m)
        limit = sim.time_s + 1200.0
        throttle = sim.throttle
        while sim.time_s < limit:
            east, north = east_m - sim.east_m, north_m - sim.north_m
            if math.hypot(east, north) < near_m:
                break
            throttle = self.throttle_for(throttle, cas_ms)
            sim.step(
                throttle,
                gamma_rad=self.gamma_for_height(height_m, 4.2),
                bank_rad=self.bank_for(self._heading_for_track(math.atan2(east, north))),
            )

    def throttle_for(self, throttle: float, cas_ms: float, haste: float = 1.0) -> float:
        """Throttle that holds an airspeed, moved on by one step."""
        asked = throttle + 0.010 * haste * (cas_ms - self.sim.seen_cas_ms) * STEP_S
        asked -= 0.05 * haste * (self.sim.cas_ms - self.sim.seen_cas_ms) * STEP_S
        return min(max(asked, IDLE), 0.95)

    def _heading_for_track(self, track_rad: float) -> float:
        sim = self.sim
        wind = sim.column.wind(sim.height_m)
        across = wind[0] * math.cos(track_rad) - wind[1] * math.sin(track_rad)
        return track_rad - math.asin(max(min(across / sim.tas_ms, 0.5), -0.5))

    def approach(self) -> None:
        """Fly the final approach to a touchdown."""
        sim, runway = self.sim, self.sim.runway
        throttle = 0.5
        ground = runway.start_height_m
        cas_ms = self.approach_ms + self.skill * 0.8 * KT_MS * sim.normal()
        self.screen = None
        was = sim.above_ground_m
        while True:
            along, right = runway.along(sim.east_m, sim.north_m)
            above = sim.above_ground_m
            if above < 0.15:
                break
            if above < SCREEN_M and self.screen is None:
                self.screen, moment = self._at_screen(was)
                sim.note("50 ft before landing", time_s=moment, cas_ms=sim.cas_ms)
            was = above
            if above < 5.0:
                throttle = IDLE
                asked = -max(0.18 * above, 0.30) / sim.tas_ms
            else:
                path = min(ground + 300.0, ground + 0.060 * max(50.0 - along, 0.0))
                asked = self.gamma_for_height(path, 5.0)
                throttle = self.throttle_for(throttle, cas_ms, 2.5)
            sim.flaps = 1.0 if along > -3500.0 else sim.flaps
            inward = runway.heading_rad - math.atan(max(min(right / 350.0, 1.2), -1.2))
            heading = self._heading_for_track(inward) if above > 2.0 else runway.heading_rad
            sim.step(throttle, gamma_rad=asked, bank_rad=self.bank_for(heading))
        sim.airborne = False
        sim.heading_rad = runway.heading_rad
        self.touched = (sim.east_m, sim.north_m)
        sim.note(
            "touchdown",
            cas_ms=sim.cas_ms,
            ground_speed_ms=sim.ground_speed_ms,
            headwind_ms=sim.tas_ms - sim.ground_speed_ms,
            mass_kg=sim.mass_kg,
            density_kg_m3=_density(sim),
            runway=runway.name,
        )

    def circuit(self) -> None:
        """From a climb straight ahead, back to the final approach."""
        ground = self.sim.runway.start_height_m
        speeds = self.sim.config.speeds
        self.fly_to(2500.0, -1700.0, ground + 300.0, speeds.circuit * KT_MS)
        self.fly_to(-2500.0, -1700.0, ground + 300.0, speeds.circuit * KT_MS)
        self.fly_to(-4200.0, -300.0, ground + 300.0, speeds.base * KT_MS)
        self.approach()

    def full_stop(self, *, long_roll_out: bool = False) -> None:
        """Brake after landing, leave the runway and taxi back to its beginning."""
        sim, runway = self.sim, self.sim.runway
        self.wait_rolling(2.0)
        if long_roll_out:
            self._roll_out()
        else:
            self.stop(self.brake_ms2 * (1.0 + 0.06 * self.skill * sim.normal()))
            sim.note("stop", **self._landed())
        sim.flaps = 0.0
        along, _ = runway.along(sim.east_m, sim.north_m)
        self.taxi_to(*runway.place(along + 20.0, 30.0), speed_ms=4.0)
        self.taxi_to(*runway.place(20.0, 40.0), speed_ms=9.0)

    def _landed(self) -> dict[str, float]:
        """Distances since touchdown and since 50 ft."""
        place = (self.sim.east_m, self.sim.north_m)
        out = {"ground_roll_m": math.dist(place, self.touched)}
        if self.screen is not None:
            out["distance_50ft_m"] = math.dist(place, self.screen)
        return out

    def _roll_out(self) -> None:
        """Let the airplane roll towards the far exit, hardly braking."""
        sim = self.sim
        while sim.ground_speed_ms > 6.0:
            sim.step(IDLE, brake_ms2=0.25)
        sim.note("roll-out without braking", **self._landed())

    def touch_and_go(self, liftoff_cas_ms: float) -> None:
        """Full throttle again after touching down."""
        sim = self.sim
        self.wait_rolling(3.0)
        sim.note("touch-and-go")
        start = (sim.east_m, sim.north_m)
        sim.flaps = 1.0
        while sim.cas_ms < liftoff_cas_ms:
            tas = liftoff_cas_ms * sim.tas_ms / max(sim.cas_ms, 1.0)
            self._steer_runway(1.0, tas)
        self._leave(start, "lift-off after touch-and-go")


def _density(sim: Simulator) -> float:
    return float(density_kg_m3(*sim.column.state(sim.height_m)))
