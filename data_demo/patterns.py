"""What pilots fly for calibration and for the airplane's curves: boxes, circles, accelerations."""

from __future__ import annotations

import math

import numpy as np

from .air import KT_MS
from .flight import CHANNELS, STEP_S, Simulator
from .pilot import IDLE, Pilot, wrap

#: Heading from one leg to the next [deg] and number of legs.
LEGS = {"box": (90.0, 4), "triangle": (120.0, 3)}
#: One-sigma imprecision of a leg's heading [deg].
HEADING_DEG = 3.0
CIRCLE_BANK_DEG = 13.0
#: How readily an error of airspeed is taken out [1/s], and the throttle moved for it [s/m]: while
#: reaching the airspeed, and in a pattern, where the throttle is all but left alone.
REACHING, LEFT_ALONE = (0.06, 0.06), (0.04, 0.025)
#: Slower than that, flight is not stable in airspeed and the throttle is never left alone.
SLOW_MS = 65.0 * KT_MS


def _throttle(pilot: Pilot, throttle: float, cas_ms: float, haste: tuple[float, float]) -> float:
    """Throttle moved on by one step, towards the acceleration that takes the error out."""
    sim = pilot.sim
    if cas_ms < SLOW_MS:
        haste = REACHING
    wanted = haste[0] * (cas_ms + pilot.speed_error.move(sim) - sim.seen_cas_ms)
    gained = (sim.cas_ms - sim.seen_cas_ms) / 0.8  # what is seen follows within 0.8 s
    asked = throttle + haste[1] * (wanted - gained) * STEP_S
    return min(max(asked, IDLE), 0.95)


def _hold_step(
    pilot: Pilot,
    cas_ms: float,
    height_m: float,
    bank_rad: float,
    throttle: float,
    haste: tuple[float, float] = LEFT_ALONE,
) -> float:
    """One step at constant height and airspeed (0: full throttle); returns the throttle."""
    throttle = _throttle(pilot, throttle, cas_ms, haste) if cas_ms else 1.0
    pilot.sim.step(throttle, gamma_rad=pilot.gamma_for_height(height_m), bank_rad=bank_rad)
    return throttle


def _hold(
    pilot: Pilot,
    seconds: float,
    heading: float,
    height_m: float,
    cas_ms: float,
    haste: tuple[float, float] = LEFT_ALONE,
) -> None:
    """Hold heading, height and airspeed for some time."""
    sim, throttle = pilot.sim, pilot.sim.throttle
    until = sim.time_s + seconds
    while sim.time_s < until:
        bank = pilot.bank_for(heading, 15.0)
        throttle = _hold_step(pilot, cas_ms, height_m, bank, throttle, haste)


def _turn(pilot: Pilot, heading: float, height_m: float, cas_ms: float) -> None:
    """Turn to a heading at constant height and airspeed."""
    sim, throttle = pilot.sim, pilot.sim.throttle
    while abs(wrap(heading - sim.heading_rad)) > math.radians(2.0):
        bank = pilot.bank_for(heading)
        throttle = _hold_step(pilot, cas_ms, height_m, bank, throttle)


def _settle(pilot: Pilot, heading: float, height_m: float, cas_ms: float) -> None:
    """Reach the airspeed and let it settle, at least a minute and at most three."""
    sim = pilot.sim
    for count in range(12):
        before, lever = sim.seen_cas_ms, sim.throttle
        _hold(pilot, 15.0, heading, height_m, cas_ms, REACHING)
        wanted = cas_ms or before + 0.2 * KT_MS
        steady = abs(sim.seen_cas_ms - before) < 0.5 and abs(sim.throttle - lever) < 0.02
        if count > 2 and steady and abs(sim.seen_cas_ms - wanted) < 1.0 * KT_MS:
            break


def means(sim: Simulator, first: int) -> dict[str, float]:
    """Mean airspeeds and wind of the steps since one of them."""
    rows = np.array(sim.rows[first:])

    def mean(name: str) -> float:
        return float(rows[:, CHANNELS.index(name)].mean())

    return {
        "cas_kt": mean("cas_ms") / KT_MS,
        "tas_ms": mean("tas_ms"),
        "height_m": mean("height_m"),
        "wind_east_ms": mean("wind_east_ms"),
        "wind_north_ms": mean("wind_north_ms"),
    }


def fly_pattern(
    pilot: Pilot, kind: str, cas_ms: float, height_m: float, heading_rad: float
) -> None:
    """Fly a box, a triangle or a circle at constant airspeed (0: full throttle)."""
    sim = pilot.sim
    _turn(pilot, heading_rad, height_m, cas_ms)
    _settle(pilot, heading_rad, height_m, cas_ms)
    first, start = len(sim.rows), sim.time_s
    if kind == "circle":
        _circle(pilot, cas_ms, height_m)
        legs: list[dict[str, object]] = []
    else:
        legs = _legs(pilot, kind, cas_ms, height_m, heading_rad)
    sim.note(
        "pattern",
        pattern=kind,
        asked_cas_kt=cas_ms / KT_MS if cas_ms else "full throttle",
        start_s=start,
        end_s=sim.time_s,
        legs=legs,
        **means(sim, first),
    )


def _legs(
    pilot: Pilot, kind: str, cas_ms: float, height_m: float, heading_rad: float
) -> list[dict[str, object]]:
    sim = pilot.sim
    step, count = LEGS[kind]
    legs: list[dict[str, object]] = []
    for index in range(count):
        off = HEADING_DEG * sim.normal()
        heading = heading_rad + math.radians(index * step + off)
        _turn(pilot, heading, height_m, cas_ms)
        _hold(pilot, 12.0, heading, height_m, cas_ms)
        first, start = len(sim.rows), sim.time_s
        _hold(pilot, 66.0 + 10.0 * abs(sim.normal()), heading, height_m, cas_ms)
        degrees = math.degrees(heading) % 360.0
        leg: dict[str, object] = {"heading_deg": degrees, "start_s": start, "end_s": sim.time_s}
        legs.append({**leg, **means(sim, first)})
    return legs


def _circle(pilot: Pilot, cas_ms: float, height_m: float) -> None:
    """A little more than a full circle to the right at constant bank."""
    sim, throttle = pilot.sim, pilot.sim.throttle
    bank, begun = math.radians(CIRCLE_BANK_DEG), sim.heading_rad
    while sim.heading_rad < begun + 2.1 * math.pi:
        lean = bank + pilot.bank_error.move(sim)
        throttle = _hold_step(pilot, cas_ms, height_m, lean, throttle)


def level_acceleration(pilot: Pilot, slow_ms: float, height_m: float, heading_rad: float) -> None:
    """From slow flight at full throttle to the greatest level speed, at constant height."""
    sim = pilot.sim
    _turn(pilot, heading_rad, height_m, slow_ms)
    _settle(pilot, heading_rad, height_m, slow_ms)
    sim.note("acceleration starts", cas_ms=sim.cas_ms)
    begun = sim.time_s
    while sim.time_s < begun + 240.0:
        before = sim.rows[-1][5]
        _hold(pilot, 15.0, heading_rad, height_m, 0.0)
        late = np.mean([row[5] for row in sim.rows[-int(5.0 / STEP_S) :]])
        if sim.time_s > begun + 60.0 and late - before < 0.15 * KT_MS:
            break
    sim.note("acceleration ends", cas_ms=sim.cas_ms)
