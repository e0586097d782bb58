"""Made flights with known truth, for tests of the search for test points.

The take-off is integrated with lift from angle of attack, thrust falling with airspeed, friction
and drag, so that lift-off is where lift first carries the weight. The rest is flown along a plan.
What sensors and recorder make of it is in `make_sensors`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from tests import make_sensors

FloatArray = NDArray[np.float64]

STEP_S = 0.05
GRAVITY = 9.80665
EPOCH_S = 1_750_000_000.0
COLUMNS = ("speed", "airspeed", "height", "engine", "heading", "pitch", "load", "wheels")
#: Habits of pilots at the rotation: speed at which it starts and attitude raised to first, over
#: those of a usual one.
HABITS = {"usual": (1.0, 1.0), "early": (0.72, 0.7), "late": (1.12, 1.0), "slow": (0.93, 1.0)}


@dataclass
class Truth:
    """What really happened; times in seconds since 1970."""

    takeoffs: list[dict[str, float]] = field(default_factory=list)
    rolling: list[dict[str, float]] = field(default_factory=list)
    aborted: list[float] = field(default_factory=list)
    touches: list[float] = field(default_factory=list)
    levels: list[tuple[float, float]] = field(default_factory=list)
    climbs: list[tuple[float, float]] = field(default_factory=list)
    #: Where level flight may be found, but need not be.
    also_level: list[tuple[float, float]] = field(default_factory=list)
    #: True delays [s] and the static jump in still air [m], of `make_sensors.Suite`.
    sensors: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Made:
    """One made flight."""

    time_s: FloatArray
    channels: dict[str, FloatArray]
    truth: Truth


@dataclass(frozen=True)
class Plan:
    """What happens in a flight, and what is recorded."""

    abort: bool = False
    rolling: bool = False
    soft: bool = False
    touch_and_go: bool = False
    stop_and_go: bool = False
    slow_flight: bool = False
    starts_airborne: bool = False
    ends_airborne: bool = False
    missing: tuple[str, ...] = ()
    holes: bool = True
    turbulence: float = 0.4  # standard deviation of gusts along the path [m/s]
    accelerations: bool = False  # slows down and speeds up in level flight
    two_power_ups: bool = False  # full power, back to idle, and again
    habit: str = "usual"
    starts_late: str = ""  # the recording begins at "standstill" or in the "roll"
    delays: bool = False  # sensors of every kind of delay, not only of small ones
    coarse: bool = False  # rounded to whole knots, metres and half degrees


#: Channels that a recording may lack, and how often [-].
OFTEN_MISSING = {"pitch": 0.25, "normal_acceleration": 0.25, "vertical_speed": 0.25, "power": 0.25,
                 "engine_speed": 0.25, "track": 0.25, "heading": 0.3, "roll": 0.4,
                 "gps_altitude": 0.06, "pressure_altitude": 0.06, "indicated_airspeed": 0.06}


def random_plan(rng: np.random.Generator) -> Plan:
    """Draw a plan with traps in it."""
    missing = tuple(name for name, share in OFTEN_MISSING.items() if rng.random() < share)
    starts = bool(rng.random() < 0.08)
    late = float(rng.random())
    return Plan(
        abort=bool(rng.random() < 0.3),
        rolling=bool(rng.random() < 0.15),
        soft=bool(rng.random() < 0.15),
        touch_and_go=bool(rng.random() < 0.3),
        stop_and_go=bool(rng.random() < 0.3),
        slow_flight=bool(rng.random() < 0.5),
        starts_airborne=starts,
        ends_airborne=bool(rng.random() < 0.15),
        missing=missing,
        turbulence=float(rng.uniform(0.1, 0.8)),
        accelerations=bool(rng.random() < 0.5),
        two_power_ups=bool(rng.random() < 0.2),
        habit=str(rng.choice(list(HABITS))),
        starts_late="standstill" if late < 0.06 else "roll" if late < 0.1 else "",
        delays=True,
        coarse=bool(rng.random() < 0.25),
    )


class Flown:
    """The airplane's motion, phase after phase, every 0.05 s."""

    def __init__(self, rng: np.random.Generator, turbulence: float) -> None:
        self.rng = rng
        self.parts: list[FloatArray] = []
        self.clock = 0.0
        self.truth = Truth()
        self.headwind = float(rng.uniform(-1.5, 7.0))
        self.turbulence = turbulence
        self.stall = float(rng.uniform(19.0, 25.0))
        self.climb_speed = 1.45 * self.stall
        self.slope = float(rng.normal(0.0, 0.006))
        self.runway_rad = float(rng.uniform(0, 2 * np.pi))
        self.last = np.array([0.0, 0.0, 0.0, 0.35, self.runway_rad, 0.0, 1.0, 1.0])

    def add(self, rows: FloatArray) -> None:
        self.parts.append(rows)
        self.clock += len(rows) * STEP_S
        self.last = rows[-1]

    def gusts(self, count: int) -> FloatArray:
        """Gusts along the path, correlated over about three seconds."""
        white = self.rng.normal(size=count)
        smooth = ndimage.gaussian_filter1d(white, 1.5 / STEP_S)
        spread = float(smooth.std()) or 1.0
        return smooth / spread * self.turbulence

    def fly(self, nodes: list[tuple[float, dict[str, float]]]) -> None:
        """Go through nodes (seconds from now, values by column), smoothed like an airplane."""
        end = nodes[-1][0]
        count = round(end / STEP_S)
        time = (np.arange(count) + 1) * STEP_S
        rows = np.empty((count, len(COLUMNS)))
        for place, name in enumerate(COLUMNS):
            times = [0.0] + [moment for moment, values in nodes if name in values]
            values = [self.last[place]] + [values[name] for _, values in nodes if name in values]
            rows[:, place] = np.interp(time, times, values)
            if name not in ("wheels",):
                edge = rows[0, place], rows[-1, place]
                rows[:, place] = ndimage.gaussian_filter1d(rows[:, place], 1.0 / STEP_S)
                blend = np.clip(np.minimum(time, end - time + STEP_S) / 3.0, 0, 1)
                straight = np.where(time < end / 2, edge[0], edge[1])
                rows[:, place] = blend * rows[:, place] + (1 - blend) * straight
        in_air = rows[:, 7] < 0.5
        gust = self.gusts(count)
        rows[:, 1] = rows[:, 0] + self.headwind + gust
        rows[:, 2] += np.where(in_air, self._waves(count), 0.0)
        self._attitude(rows, in_air)
        rows[:, 6] += np.where(in_air, 0.03, 0.02) * self.rng.normal(size=count)
        moving = (rows[:, 7] > 0.5) & (rows[:, 0] > 3)
        rows[moving, 6] += 0.05 * self.rng.normal(size=int(moving.sum()))
        self.add(rows)

    def _attitude(self, rows: FloatArray, in_air: NDArray[np.bool_]) -> None:
        """Load factor and pitch in the air, from the path flown, as the wing needs them."""
        rise = np.gradient(rows[:, 2], STEP_S) if len(rows) > 1 else np.zeros(len(rows))
        rise = ndimage.gaussian_filter1d(rise, 0.4 / STEP_S)
        turn = np.gradient(rows[:, 4], STEP_S) if len(rows) > 1 else np.zeros(len(rows))
        airspeed = np.maximum(rows[:, 0] + self.headwind, 10.0)
        lift = 1.0 + np.gradient(rise, STEP_S) / GRAVITY if len(rows) > 1 else np.ones(len(rows))
        lift = np.hypot(lift, airspeed * turn / GRAVITY)
        attack = lift * (self.stall / airspeed) ** 2 * np.radians(15.0) - np.radians(3.0)
        pitch = np.where(in_air, rise / airspeed + attack, rows[:, 5])
        rows[:, 5] = ndimage.gaussian_filter1d(pitch, 0.4 / STEP_S)
        rows[:, 6] = np.where(in_air, lift, 1.0)

    def _waves(self, count: int) -> FloatArray:
        """The pilot's own waves in height, a few feet, fading in and out."""
        time = np.arange(count) * STEP_S
        height = self.rng.uniform(0.3, 1.0) * (0.5 + self.turbulence)
        wave = height * np.sin(2 * np.pi * time / self.rng.uniform(25, 60))
        fade = np.clip(np.minimum(time, time[::-1]) / 8.0, 0, 1)
        return np.asarray(wave * fade)

    def stand(self, seconds: float, engine: float = 0.35) -> None:
        self.fly([(0.3, {"speed": 0.0}), (2.0, {"engine": engine}), (seconds, {"engine": engine})])
        self.parts[-1][:, 0] = np.where(self.parts[-1][:, 0] < 0.3, 0.0, self.parts[-1][:, 0])

    def takeoff(
        self, rolling: bool, soft: bool, abort: bool = False, habit: str = "usual"
    ) -> None:
        """Integrate a take-off (to 60 m), or one that is given up at two thirds of the speed."""
        roll = _Roll(self, rolling, soft, abort, habit)
        rows = roll.run()
        start = self.clock
        self.add(rows)
        if abort:
            self.truth.aborted.append(start)
            return
        entry = {name: start + value for name, value in roll.times.items()}
        entry["roll_m"], entry["distance50_m"] = roll.roll_m, roll.distance50_m
        entry["soft"] = float(soft)
        entry["headwind"] = self.headwind
        (self.truth.rolling if rolling else self.truth.takeoffs).append(entry)


class _Roll:
    """The take-off itself."""

    def __init__(
        self, flown: Flown, rolling: bool, soft: bool, abort: bool, habit: str
    ) -> None:
        rng = flown.rng
        self.flown, self.rolling, self.soft, self.abort = flown, rolling, soft, abort
        self.thrust = float(rng.uniform(2.2, 3.4))  # static acceleration [m/s2]
        self.no_thrust = float(rng.uniform(70.0, 95.0))  # airspeed of no thrust [m/s]
        self.friction = float(rng.uniform(0.02, 0.05))
        self.drag = float(rng.uniform(3.5e-4, 6e-4))  # of V^2 [1/m]
        when, self.first_part = HABITS[habit]
        self.rotate = flown.stall * float(rng.uniform(1.0, 1.15)) * when
        self.pitch_rate = np.radians(float(rng.uniform(2.5, 5.0)) * (0.4 if habit == "slow" else 1))
        self.lift_pitch = np.radians(float(rng.uniform(7.0, 10.0)))
        self.spool = float(rng.uniform(0.5, 3.0))
        self.static = bool(rng.random() < 0.5)  # power up against the brakes
        self.times: dict[str, float] = {}
        self.roll_m = self.path_m = self.distance50_m = 0.0

    def run(self) -> FloatArray:
        count = round(120 / STEP_S)
        self.gust = self.flown.gusts(count)
        self.rough = self.flown.rng.normal(size=count)
        self.hold = 0.0 if self.rolling else (6.0 if self.static else 0.5)
        self.speed, self.engine = float(self.flown.last[0]), float(self.flown.last[3])
        self.height0 = self.height = float(self.flown.last[2])
        self.climb, self.pitch, self.way = 0.0, float(np.radians(0.5)), 0.0
        self.on_ground, self.given_up = True, False
        rows = np.empty((count, len(COLUMNS)))
        for place in range(count):
            rows[place] = self._step(place)
            if (self.given_up and self.speed < 3.0) or self.height - self._field() > 60.0:
                break
        return rows[: place + 1]

    def _step(self, place: int) -> tuple[float, ...]:
        now = place * STEP_S
        target = 0.3 if self.given_up else 1.0
        self.engine += float(np.clip(target - self.engine, -1, 1)) * STEP_S / self.spool * 1.5
        airspeed = max(self.speed + self.flown.headwind + self.gust[place], 0.0)
        height = self.height - self.height0
        self.pitch = self._pitch(self.pitch, airspeed, height, self.climb, self.on_ground)
        path = 0.0 if self.on_ground else self.climb / max(airspeed, 5.0)
        angle = self.pitch - path + np.radians(3.0)
        lift = (airspeed / self.flown.stall) ** 2 * angle / np.radians(15.0)
        if now >= self.hold:
            self._accelerate(now, airspeed, lift, path)
        flies = lift >= 1.0 and airspeed > 0.8 * self.flown.stall and not self.given_up
        if self.on_ground and flies:
            self.on_ground = False
            self.climb = self.flown.slope * self.speed
            self.times["liftoff"] = now
            self.roll_m = self.way
        self._move(lift)
        self.path_m += self.speed * STEP_S if "release" in self.times else 0.0
        rough = self.rough[place]
        load = 1.0 + 0.08 * rough * min(self.speed / 15, 1.0) if self.on_ground else lift
        if "liftoff" in self.times and self.height - self._field() >= 15.24:
            self.times.setdefault("up15", now)
            self.distance50_m = self.distance50_m or self.path_m
        self.given_up = self.given_up or (self.abort and airspeed > 0.7 * self.flown.stall)
        heading, load = self.flown.runway_rad, load + 0.02 * rough
        return (self.speed, airspeed, self.height, self.engine, heading, self.pitch, load,
                float(self.on_ground))

    def _accelerate(self, now: float, airspeed: float, lift: float, path: float) -> None:
        push = self.thrust * self.engine**2 * (1 - airspeed / self.no_thrust)
        induced = 0.8 * (lift * (25 / max(airspeed, 10)) ** 2) ** 2
        drag = self.drag * airspeed**2 * (1 + induced)
        weight = max(1 - lift, 0.0) if self.on_ground else 0.0
        friction = 0.35 if self.given_up else self.friction
        uphill = self.flown.slope if self.on_ground else path
        slow = GRAVITY * (friction * weight + uphill)
        self.speed = max(self.speed + (push - drag - slow) * STEP_S, 0.0)
        if self.speed > 0.05:
            self.times.setdefault("release", now)

    def _move(self, lift: float) -> None:
        if self.on_ground:
            self.way += self.speed * STEP_S if "release" in self.times else 0.0
            self.height += self.flown.slope * self.speed * STEP_S
        else:
            self.climb += GRAVITY * (lift - 1) * STEP_S
            self.height += self.climb * STEP_S

    def _field(self) -> float:
        """Height of the runway where the wheels left it."""
        return self.height0 + self.flown.slope * self.roll_m

    def _pitch(
        self, pitch: float, airspeed: float, height: float, climb: float, on_ground: bool
    ) -> float:
        trim = (self.flown.stall / max(airspeed, 10.0)) ** 2 * np.radians(15.0) - np.radians(3.0)
        if on_ground:
            start = 0.5 * self.flown.stall if self.soft else self.rotate
            target = self.lift_pitch + np.radians(3.0 if self.soft else 0.0)
            if airspeed < start:
                target = np.radians(0.5)
            elif airspeed < 1.05 * self.flown.stall:
                target *= self.first_part
            elif airspeed > 1.25 * self.flown.stall:
                target += np.radians(2.0)
        elif self.soft and airspeed < 0.95 * self.flown.climb_speed and height < 6.0:
            wanted = 0.4 * (1.2 + self.flown.slope * self.roll_m - height)
            target = trim + wanted / max(airspeed, 10.0) * 1.5
        else:
            ahead = (airspeed - self.flown.climb_speed) * 0.012
            target = trim + np.clip(0.09 + ahead, 0.02, 0.14)
        most = self.pitch_rate * STEP_S
        return float(pitch + np.clip(target - pitch, -most, most))


def fly(rng: np.random.Generator, plan: Plan) -> tuple[Flown, FloatArray]:
    """Fly a plan; rows every 0.05 s."""
    flown = Flown(rng, plan.turbulence)
    if plan.starts_airborne:
        flown.last = np.array(
            [45 - flown.headwind, 45.0, 600.0, 0.75, 1.0, 0.05, 1.0, 0.0]
        )
    else:
        _depart(flown, plan)
    _upper_air(flown, plan)
    if not plan.ends_airborne:
        _arrive(flown, plan)
    return flown, np.concatenate(flown.parts)


def _depart(flown: Flown, plan: Plan) -> None:
    rng = flown.rng
    flown.stand(20)
    flown.fly([(8, {"speed": 7.0, "engine": 0.45}), (50, {"speed": 6.0}), (58, {"speed": 0.0})])
    flown.stand(30, 0.72)  # run-up
    flown.stand(8, 0.35)
    flown.fly([(5, {"speed": 4.0, "engine": 0.45}), (20, {"speed": 3.0}), (26, {"speed": 0.0})])
    flown.stand(float(rng.uniform(6, 15)))
    if plan.abort:
        flown.takeoff(False, False, abort=True)
        flown.fly([(10, {"speed": 4.0, "engine": 0.4}), (60, {"speed": 4.0}), (66, {"speed": 0.0})])
        flown.stand(8)
    if plan.two_power_ups:
        flown.fly([(3, {"engine": 1.0, "speed": 0.0}), (9, {"engine": 1.0}), (11, {"engine": 0.35}),
                   (18, {"engine": 0.35})])
    if plan.rolling:
        flown.fly([(5, {"speed": 4.0, "engine": 0.45}), (12, {"speed": 4.5})])
    flown.takeoff(plan.rolling, plan.soft, habit=plan.habit)
    _climb(flown, float(rng.uniform(650, 900)))


def _climb(flown: Flown, top: float) -> None:
    """Climb at constant airspeed to a height; the first 20 s are not part of the truth."""
    rate = float(flown.rng.uniform(2.5, 5.5))
    seconds = max((top - flown.last[2]) / rate, 30.0)
    speed = flown.climb_speed - flown.headwind
    start = flown.clock
    flown.fly(
        [
            (6, {"speed": speed}),
            (
                seconds,
                {
                    "speed": speed,
                    "height": top,
                    "engine": 0.97,
                    "heading": flown.runway_rad,
                    "pitch": 0.12,
                    "wheels": 0.0,
                },
            ),
        ]
    )
    flown.truth.climbs.append((start + 20, start + seconds - 5))


def _upper_air(flown: Flown, plan: Plan) -> None:
    rng = flown.rng
    height = float(flown.last[2])
    for _ in range(int(rng.integers(1, 4))):
        speed = float(rng.uniform(1.7, 2.3)) * flown.stall - flown.headwind
        heading = float(flown.last[4] + rng.uniform(-1.5, 1.5))
        engine = float(rng.uniform(0.75, 0.95))
        flown.fly(
            [(30, {"speed": speed, "engine": engine, "heading": heading, "height": height,
                   "pitch": 0.03, "wheels": 0.0})]
        )
        start = flown.clock
        seconds = float(rng.uniform(95, 170))
        flown.fly([(seconds, {"speed": speed, "engine": engine, "heading": heading,
                              "height": height, "wheels": 0.0})])
        flown.truth.levels.append((start, start + seconds))
    # A level run that is too short, a turn, and slow flight over the ground.
    flown.fly([(15, {"engine": 0.7, "speed": flown.last[0] - 6}), (45, {"engine": 0.7})])
    flown.fly([(90, {"heading": flown.last[4] + 4.0, "height": height})])
    if plan.accelerations:
        slow, fast = (factor * flown.stall - flown.headwind for factor in (1.35, 2.1))
        seconds, begun = float(rng.uniform(14, 24)), flown.clock
        for speed in (fast, slow, fast):
            flown.fly([(seconds, {"speed": speed, "engine": 0.4 if speed == slow else 0.95}),
                       (seconds + 8, {"engine": 0.6})])
        flown.truth.also_level.append((begun - 90.0, flown.clock + 60.0))
    if plan.slow_flight:
        _slow_flight(flown, height)


def _slow_flight(flown: Flown, height: float) -> None:
    """Into a strong wind aloft: the ground speed falls to nothing, then high power again."""
    calm = flown.headwind
    aloft = 1.15 * flown.stall
    flown.fly([(60, {"speed": flown.last[0], "heading": flown.runway_rad})])
    _wind(flown, aloft - calm, 30)
    flown.fly([(20, {"speed": 0.3, "engine": 0.6, "height": height, "pitch": 0.15})])
    flown.fly([(15, {"speed": 0.3, "engine": 0.9})])
    flown.fly([(14, {"speed": 25.0, "engine": 1.0, "height": height + 5}),
               (60, {"speed": 22.0, "height": height + 120, "engine": 1.0})])
    _wind(flown, calm - aloft, 30)


def _wind(flown: Flown, change: float, seconds: float) -> None:
    """Let the headwind change slowly, the airspeed staying as it is."""
    count = round(seconds / STEP_S)
    rows = np.repeat(flown.last[None, :], count, axis=0)
    part = (np.arange(count) + 1) / count
    rows[:, 0] = np.clip(flown.last[0] - change * part, 0.3, None)
    rows[:, 1] = flown.last[1]
    flown.headwind += change
    flown.add(rows)


def _arrive(flown: Flown, plan: Plan) -> None:
    approach = 1.35 * flown.stall - flown.headwind
    high = float(flown.last[2])
    flown.fly([(high / 4, {"speed": approach, "height": 60.0, "engine": 0.5, "pitch": 0.0,
                           "heading": flown.runway_rad, "wheels": 0.0})])
    if plan.touch_and_go:
        flown.truth.touches.append(flown.clock + 22)
        _touch(flown, approach)
    _land(flown, approach)
    if plan.stop_and_go:
        flown.stand(float(flown.rng.uniform(9, 20)))
        flown.takeoff(False, False, habit=plan.habit)
        _climb(flown, 250.0)
        _land(flown, approach)
    flown.fly([(5, {"speed": 5.0}), (40, {"speed": 5.0, "engine": 0.4}), (50, {"speed": 0.0})])
    flown.stand(15)


def _touch(flown: Flown, approach: float) -> None:
    flown.fly([(18, {"speed": approach, "height": 3.0, "engine": 0.4, "wheels": 0.0}),
               (22, {"speed": approach - 3, "height": 0.2})])
    flown.fly([(5, {"speed": approach - 8, "height": 0.0, "wheels": 1.0, "engine": 0.5}),
               (9, {"speed": approach - 4, "height": 0.0, "engine": 1.0, "pitch": 0.1})])
    flown.fly([(30, {"speed": approach, "height": 80.0, "engine": 1.0, "wheels": 0.0})])
    flown.fly([(60, {"speed": approach + 5, "height": 200.0})])
    flown.fly([(60, {"speed": approach, "height": 60.0, "engine": 0.5, "pitch": 0.0})])


def _land(flown: Flown, approach: float) -> None:
    high = float(flown.last[2])
    down = max(high / 3.5, 12.0)
    flown.fly([(down, {"speed": approach, "height": 2.0, "engine": 0.4, "wheels": 0.0,
                       "heading": flown.runway_rad}),
               (down + 5, {"speed": approach - 4, "height": 0.0, "engine": 0.3, "pitch": 0.1})])
    braking = float(flown.rng.uniform(9, 20))
    flown.fly([(1, {"height": 0.0, "wheels": 1.0}), (braking, {"speed": 4.0, "pitch": 0.01}),
               (braking + 5, {"speed": 0.0})])


def make_flight(seed: int, rate_hz: float, plan: Plan | None = None) -> Made:
    """Make one flight as recorded."""
    rng = np.random.default_rng(seed)
    plan = random_plan(rng) if plan is None else plan
    flown, rows = fly(rng, plan)
    column = dict(zip(COLUMNS, rows.T, strict=True))
    suite = make_sensors.draw_suite(np.random.default_rng([seed, 5]), plan.delays)
    # The sampler has its own stream: the flight and its sensors are the same at every rate.
    sampler = np.random.default_rng([seed, round(rate_hz * 10)])
    begins = _begins_s(np.random.default_rng([seed, 6]), plan, flown.truth)
    time, channels = make_sensors.record(
        sampler, suite, column, flown.runway_rad, rate_hz, plan, begins
    )
    truth = _on_clock(flown.truth, begins)
    truth.sensors = suite.truth()
    return Made(EPOCH_S + time, channels, truth)


def _begins_s(rng: np.random.Generator, plan: Plan, truth: Truth) -> float:
    """When the recording begins: with the flight, or late."""
    first = [one["release"] for one in truth.takeoffs + truth.rolling]
    if not plan.starts_late or not first or plan.starts_airborne:
        return 0.0
    if plan.starts_late == "standstill":
        return first[0] - float(rng.uniform(8, 25))
    return first[0] + float(rng.uniform(3, 8))


def _on_clock(truth: Truth, begins_s: float) -> Truth:
    def moved(entry: dict[str, float]) -> dict[str, float]:
        return {
            name: value + (EPOCH_S if name in ("release", "liftoff", "up15") else 0.0)
            for name, value in entry.items()
        }

    return Truth(
        [moved(one) for one in truth.takeoffs if one["release"] > begins_s],
        [moved(one) for one in truth.rolling if one["release"] > begins_s],
        [EPOCH_S + one for one in truth.aborted if one > begins_s],
        [EPOCH_S + one for one in truth.touches],
        [(EPOCH_S + first, EPOCH_S + last) for first, last in truth.levels],
        [(EPOCH_S + first, EPOCH_S + last) for first, last in truth.climbs],
        [(EPOCH_S + first, EPOCH_S + last) for first, last in truth.also_level],
    )
