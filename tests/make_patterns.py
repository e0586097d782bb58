"""Made flights with airspeed-calibration patterns in wind, and what only looks like one.

An airplane that banks, turns, loses speed in turns and comes back, wanders a little as flown by
hand, in a wind with slow waves and gusts. The sensors lag, are noisy, are rounded and lose samples.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

STEP_S = 0.05
GRAVITY = 9.80665
EPOCH_S = 1_760_000_000.0
KT = 1852 / 3600
FT = 0.3048


@dataclass
class Pattern:
    """What was flown: shape, and for each leg or circle its steady bounds [s]."""

    shape: str
    legs: list[tuple[float, float]] = field(default_factory=list)

    def moved(self, by_s: float) -> Pattern:
        return Pattern(self.shape, [(first + by_s, last + by_s) for first, last in self.legs])


@dataclass(frozen=True)
class Made:
    """One made flight: the recording, patterns flown, decoys flown, and the truth behind it."""

    time_s: FloatArray
    channels: dict[str, FloatArray]
    patterns: list[Pattern]
    decoys: list[tuple[str, float, float]]
    steady: list[tuple[float, float]]
    fine_s: FloatArray
    east_ms: FloatArray
    north_ms: FloatArray
    airspeed_ms: FloatArray
    wind_ms: tuple[FloatArray, FloatArray]


class Pilot:
    """Flies commands; one row every 0.05 s of heading, true airspeed, height and power."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.rows: list[tuple[float, float, float, float]] = []
        self.heading = float(rng.uniform(0, 2 * np.pi))
        self.speed = float(rng.uniform(33, 55))
        self.height = float(rng.uniform(400, 1800))
        self.power = 0.6
        self.bank = 0.0
        self.run_in_s = float("inf")
        self.level_power = 0.6
        self.wander = np.radians(rng.uniform(0.3, 2.5))
        self.period = float(rng.uniform(12, 40))
        self.sloppy = float(rng.uniform(0.1, 1.3))  # airspeed held to about this [m/s]
        self.hold = float(rng.uniform(1, 7))  # height held to about this [m]
        self.patterns: list[Pattern] = []
        self.decoys: list[tuple[str, float, float]] = []
        self.steady: list[tuple[float, float]] = []

    @property
    def clock(self) -> float:
        return len(self.rows) * STEP_S

    def fly(
        self, seconds: float, speed: float, climb: float = 0.0, power: float = 0.6,
        quick: float = 8.0,
    ) -> tuple[float, float]:
        """Straight; speed approaches its target, heading and height wander as by hand."""
        start, heading, height = self.clock, self.heading, self.height
        count = round(seconds / STEP_S)
        phase = self.rng.uniform(0, 2 * np.pi, 3)
        for place in range(count):
            time = place * STEP_S
            fade = min(time / 4, 1.0)
            self.bank *= 1 - STEP_S / 0.6
            drift = self.wander * np.sin(2 * np.pi * time / self.period + phase[0])
            wave = self.sloppy * np.sin(2 * np.pi * time / (1.7 * self.period) + phase[1])
            self.speed += (speed + wave * fade - self.speed) * STEP_S / quick
            self.power += (power - self.power) * STEP_S / 2
            up = self.hold * fade * np.sin(2 * np.pi * time / (2.1 * self.period) + phase[2])
            self.heading = heading + fade * drift
            self.height = height + climb * time + up * min(1.0, (seconds - time) / 4)
            self._note()
        self.heading = heading
        return start, self.clock

    def turn(
        self, angle: float, bank: float = 0.35, speed: float | None = None, loss: float = 1.5,
        climb: float = 0.0, power: float = 0.6, unsteady: float = 0.0,
    ) -> tuple[float, float]:
        """Turn by an angle [rad, + right]; the airspeed sags by `loss` [m/s] on the way."""
        start, target = self.clock, self.heading + angle
        sign, wanted = np.sign(angle), self.speed if speed is None else speed
        height = self.height
        while (target - self.heading) * sign > 0.004:
            left = abs(target - self.heading)
            rate = GRAVITY * np.tan(max(abs(self.bank), 0.02)) / self.speed
            now = self.clock - start
            swing = 1 + unsteady * np.sin(2 * np.pi * now / 14)
            goal = sign * bank * swing if left > 0.55 * rate * 2 else sign * bank * left / rate
            self.bank += float(np.clip(goal - self.bank, -0.25 * STEP_S, 0.25 * STEP_S)) * 1.6
            if self.bank * sign < 0.02:
                self.bank = 0.02 * sign
            self.heading += GRAVITY * np.tan(self.bank) / self.speed * STEP_S
            self.speed += (wanted - loss - self.speed) * STEP_S / 8
            self.power += (power - self.power) * STEP_S / 2
            self.height = height + climb * now
            self._note()
        self.heading = target
        return start, self.clock

    def _note(self) -> None:
        self.rows.append((self.heading, self.speed, self.height, self.power))

    # ---- patterns --------------------------------------------------------------------------------

    def legs(self, shape: str, turns: list[float], speed: float, shortest: float = 38.0) -> None:
        """Legs with turns between them; a run-in on the heading of the first belongs to it."""
        found = Pattern(shape)
        for place in range(len(turns) + 1):
            start, end = self.fly(float(self.rng.uniform(shortest, shortest + 60)), speed,
                                  power=self.level_power + float(self.rng.uniform(-0.03, 0.03)))
            start = min(start, self.run_in_s) if place == 0 else start
            self.steady.append((start, end))
            found.legs.append((start, end))
            if place < len(turns):
                bank = float(self.rng.uniform(0.25, 0.6))
                self.turn(turns[place], bank, speed, float(self.rng.uniform(0, 3)),
                          power=self.level_power)
        self.patterns.append(found)
        self.run_in_s = float("inf")

    def arrive(self, speed: float) -> None:
        """Reach the height and speed of what comes next, on a new heading."""
        self.decoys.append(("transit", *self.fly(
            float(self.rng.uniform(25, 45)), speed + 7, float(self.rng.choice([-1, 1])) * 2.5,
            float(self.rng.choice([0.35, 0.95])))))
        self.turn(float(self.rng.uniform(-1.5, 1.5)), speed=speed)
        self.fly(25, speed, 1.8 * float(self.rng.choice([-1, 1])), 0.75)

    def box(self, speed: float) -> None:
        side = float(self.rng.choice([-1, 1]))
        count = int(self.rng.choice([3, 3, 3, 4]))
        self.legs("box", [side * (np.pi / 2 + self._off()) for _ in range(count)], speed)

    def triangle(self, speed: float) -> None:
        side = float(self.rng.choice([-1, 1]))
        self.legs("triangle", [side * (2 * np.pi / 3 + self._off()) for _ in range(2)], speed)

    def pair(self, speed: float) -> None:
        side = float(self.rng.choice([-1, 1]))
        self.legs("reciprocal pair", [side * (np.pi + self._off())], speed)

    def racetrack(self, speed: float) -> None:
        """A level hold flown steadily: as good as a pair, and not to be told from one."""
        self.legs("reciprocal pair", [np.pi, np.pi, np.pi], speed)

    def cloverleaf(self, speed: float) -> None:
        self.legs("box or triangle", [-1.5 * np.pi, -1.5 * np.pi], speed)

    def circle(self, speed: float) -> None:
        turned = float(self.rng.uniform(1.15, 2.2)) * 2 * np.pi
        self.fly(18, speed)
        bank = float(self.rng.uniform(0.2, 0.45))
        sign = float(self.rng.choice([-1, 1]))
        start, end = self.turn(sign * turned, bank, speed, 0.0)
        self.patterns.append(Pattern("circle", [(start, end)]))

    def _off(self) -> float:
        return float(np.radians(self.rng.normal(0, 4)))

    # ---- what is none ----------------------------------------------------------------------------

    def decoy(self, name: str) -> None:
        start = self.clock
        getattr(self, f"_{name}")()
        self.decoys.append((name, start, self.clock))

    def _circuit(self) -> None:
        for _ in range(int(self.rng.integers(1, 3))):
            self.fly(35, 33, 3.5, 1.0)
            self.turn(np.pi / 2, climb=2.5, power=1.0)
            self.fly(15, 34, 3.0, 1.0)
            self.turn(np.pi / 2, climb=1.0, power=0.8)
            self.fly(float(self.rng.uniform(40, 70)), 41, 0.0, 0.55)
            self.turn(np.pi / 2, climb=-2.0, power=0.3)
            self.fly(20, 34, -2.5, 0.3)
            self.turn(np.pi / 2, climb=-2.0, power=0.3)
            self.fly(35, 31, -2.5, 0.3)

    def _course_change(self) -> None:
        speed = float(self.rng.uniform(42, 55))
        self.fly(float(self.rng.uniform(150, 300)), speed)
        self.turn(float(self.rng.choice([-1, 1]) * self.rng.uniform(0.4, 1.7)), speed=speed)
        self.fly(float(self.rng.uniform(150, 300)), speed)

    def _cruise(self) -> None:
        self.fly(float(self.rng.uniform(200, 420)), float(self.rng.uniform(42, 55)))

    def _climbing_turn(self) -> None:
        self.turn(float(self.rng.choice([-1, 1]) * self.rng.uniform(5, 8)), speed=34,
                  climb=float(self.rng.uniform(2, 4)), power=1.0)

    def _spiral_down(self) -> None:
        self.turn(float(self.rng.choice([-1, 1]) * self.rng.uniform(5, 12)), speed=36,
                  climb=-3.0, power=0.2)

    def _stack(self) -> None:
        """A hold that goes down from leg to leg."""
        for _ in range(4):
            self.fly(float(self.rng.uniform(45, 70)), 40, -1.6, 0.4)
            self.turn(np.pi, climb=-1.6, power=0.4)

    def _hold(self) -> None:
        """A level hold in which the airspeed is not held."""
        for speed in (44.0, 38.0, 47.0, 40.0):
            self.fly(float(self.rng.uniform(45, 65)), speed)
            self.turn(np.pi, 0.3, speed)

    def _speeds(self) -> None:
        """Level at one power setting after another on different headings."""
        for speed, power in ((40.0, 0.5), (46.0, 0.65), (52.0, 0.8)):
            self.fly(float(self.rng.uniform(60, 90)), speed, 0.0, power)
            self.turn(float(self.rng.uniform(1.5, 2.5)), speed=speed, power=power)

    def _weaving(self) -> None:
        """S-turns."""
        for _ in range(6):
            self.turn(1.2)
            self.turn(-1.2)

    def _steep_turn(self) -> None:
        self.turn(float(self.rng.choice([-1, 1])) * 2.1 * np.pi, 0.9, self.speed, 2.0)

    def _loose_circle(self) -> None:
        """Round a thing on the ground, bank and height all over the place."""
        self.turn(2.5 * np.pi, 0.35, 40.0, 3.0, climb=0.0, unsteady=0.75)

    def _climb(self) -> None:
        self.fly(float(self.rng.uniform(80, 160)), 34, 3.5, 1.0)


PATTERNS = ("box", "triangle", "pair", "cloverleaf", "circle", "racetrack", "box")
DECOYS = ("circuit", "course_change", "cruise", "climbing_turn", "spiral_down", "stack", "hold",
          "speeds", "weaving", "steep_turn", "loose_circle", "climb")


def fly(rng: np.random.Generator) -> Pilot:
    """Fly patterns and decoys in random order; a speed series follows without a pause."""
    pilot = Pilot(rng)
    plan = [str(one) for one in rng.choice(PATTERNS, int(rng.integers(1, 4)))]
    plan += [str(one) for one in rng.choice(DECOYS, int(rng.integers(2, 5)), replace=False)]
    rng.shuffle(plan)
    for name in plan:
        speed = float(rng.uniform(33, 55))
        if name in DECOYS:
            pilot.arrive(speed)
            pilot.decoy(name)
            continue
        pilot.arrive(speed)
        getattr(pilot, name)(speed)
        if name in ("box", "triangle", "pair") and rng.random() < 0.4:
            # The same at another speed, directly afterwards.
            change = float(rng.choice([-1, 1]) * rng.uniform(3.5, 6))
            pilot.level_power = 0.6 + 0.03 * change
            pilot.turn(np.pi / 2, speed=speed + change, power=pilot.level_power)
            start, _ = pilot.fly(15, speed + change, 0.0, pilot.level_power, quick=3.0)
            pilot.run_in_s = start + 7.0    # at the new speed to a tenth of the change
            getattr(pilot, name)(speed + change)
            pilot.level_power = 0.6
    pilot.arrive(40.0)
    return pilot


def _lagged(values: FloatArray, lag_s: float) -> FloatArray:
    """First-order lag."""
    share = STEP_S / (lag_s + STEP_S)
    kernel = share * (1 - share) ** np.arange(int(8 * lag_s / STEP_S) + 2)
    return np.asarray(values[0] + np.convolve(values - values[0], kernel)[: len(values)])


def _waves(rng: np.random.Generator, time: FloatArray, size: float, period: float) -> FloatArray:
    return np.asarray(sum(
        size / 1.7 * np.sin(2 * np.pi * time / (period * factor) + rng.uniform(0, 2 * np.pi))
        for factor in (0.6, 1.0, 1.7)))


def make_flight(seed: int, rate_hz: float) -> Made:
    """Make one flight as recorded; the flight is the same at every rate."""
    rng = np.random.default_rng(seed)
    pilot = fly(rng)
    heading, speed, height, power = np.array(pilot.rows).T
    fine = np.arange(len(heading)) * STEP_S
    wind = float(rng.uniform(0, 13)), float(rng.uniform(0, 2 * np.pi))
    gusts = float(rng.uniform(0.05, 0.9))
    east_wind, north_wind = (
        wind[0] * turned(wind[1]) + _waves(rng, fine, 0.3, 300.0) + _waves(rng, fine, gusts, 7.0)
        for turned in (np.sin, np.cos))
    east, north = speed * np.sin(heading) + east_wind, speed * np.cos(heading) + north_wind
    sensors = np.random.default_rng([seed, round(rate_hz * 10)])
    channels = _channels(rng, fine, heading, speed, height, power, east, north)
    time = np.arange(2.0, fine[-1], 1 / rate_hz * float(rng.uniform(1.0, 1.05)))
    time = np.unique(time[sensors.random(len(time)) > 0.01])
    for start in sensors.uniform(0, fine[-1], 3):
        time = time[(time < start) | (time > start + sensors.uniform(1, 6))]
    recorded = {name: np.interp(time, fine, values) for name, values in channels.items()}
    _noise(sensors, rng, recorded)
    return Made(
        EPOCH_S + time, recorded, [one.moved(EPOCH_S) for one in pilot.patterns],
        [(name, EPOCH_S + first, EPOCH_S + last) for name, first, last in pilot.decoys],
        [(EPOCH_S + first, EPOCH_S + last) for first, last in pilot.steady],
        EPOCH_S + fine, east, north, speed, (east_wind, north_wind))


def _channels(
    rng: np.random.Generator, fine: FloatArray, heading: FloatArray, speed: FloatArray,
    height: FloatArray, power: FloatArray, east: FloatArray, north: FloatArray,
) -> dict[str, FloatArray]:
    gps, air = float(rng.uniform(0.0, 1.8)), float(rng.uniform(0.2, 1.2))
    east, north = _lagged(east, gps), _lagged(north, gps)
    indicated = speed * np.sqrt((1 - 2.2558e-5 * height) ** 4.256)
    indicated = indicated + rng.uniform(-2, 2) + rng.uniform(-0.04, 0.04) * indicated
    made = {
        "ground_speed": np.hypot(east, north),
        "track": np.unwrap(np.arctan2(east, north)),
        "indicated_airspeed": _lagged(indicated, air),
        "pressure_altitude": _lagged(height, 0.8),
        "power": power * 75e3,
        "outside_air_temperature": 288.15 - 0.0065 * height,
    }
    if rng.random() < 0.5:
        made["heading"] = heading + float(rng.uniform(-0.2, 0.2))
    if rng.random() < 0.2:
        del made["track"]
        made["latitude"] = 45.0 + np.cumsum(north) * STEP_S / 111_132.0
        made["longitude"] = 8.0 + np.cumsum(east) * STEP_S / 78_847.0
    if rng.random() < 0.3:
        del made["power"]
    return made


#: Standard deviation of the noise and two roundings of each channel, SI (angles rad).
NOISE = {
    "ground_speed": (0.1, (0.0514, 0.514)),
    "track": (0.01, (0.00175, 0.01745)),
    "heading": (0.008, (0.00175, 0.01745)),
    "indicated_airspeed": (0.2, (0.0514, 0.514)),
    "pressure_altitude": (0.4, (0.3048, 0.3048)),
    "power": (400.0, (100.0, 750.0)),
    "outside_air_temperature": (0.1, (0.1, 1.0)),
    "latitude": (0.0, (1e-6, 1e-6)),
    "longitude": (0.0, (1e-6, 1e-6)),
}


def _noise(
    sensors: np.random.Generator, rng: np.random.Generator, channels: dict[str, FloatArray]
) -> None:
    coarse = int(rng.random() < 0.4)
    for name, values in channels.items():
        spread, units = NOISE[name]
        values += sensors.normal(scale=spread, size=len(values)) if spread else 0.0
        values[:] = np.round(values / units[coarse]) * units[coarse]
        if name in ("track", "heading"):
            values[:] = values % (2 * np.pi)
        if name not in ("latitude", "longitude"):
            values[sensors.random(len(values)) < 0.005] = np.nan
