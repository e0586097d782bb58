"""Made landings with known truth: flare, float, touchdown and braking integrated every 0.05 s.

The sink dies away in the flare, the airplane floats until it is slow, bounces or not, rolls with
friction and drag, and is braked after a while. Sensors lag, are noisy and rounded, lose samples.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
STEP_S, GRAVITY, EPOCH_S = 0.05, 9.80665, 1_750_000_000.0
SCREEN_M = 15.24
#: Endings of an approach, and whether they carry a ground roll.
ENDINGS = {"stop": True, "taxi": True, "bounce": True, "float": True, "roll-out": False,
           "fast exit": False, "touch-and-go": False, "go-around": False}
COLUMNS = ("speed", "airspeed", "height", "engine", "heading", "pitch", "load")


@dataclass
class Landing:
    """What really happened; times in seconds since 1970."""

    ending: str
    touchdown_s: float = np.nan
    height50_s: float = np.nan  # 50 ft over the place of touchdown
    touchdown_ms: float = np.nan
    roll_m: float = np.nan  # to a stop, had the braking gone on
    air_m: float = np.nan


@dataclass(frozen=True)
class Made:
    """One made flight."""

    time_s: FloatArray
    channels: dict[str, FloatArray]
    landings: list[Landing]
    headwind_ms: float


@dataclass
class _Flown:
    rng: np.random.Generator
    rows: list[tuple[float, ...]] = field(default_factory=list)
    landings: list[Landing] = field(default_factory=list)

    def __post_init__(self) -> None:
        rng = self.rng
        self.headwind = float(rng.uniform(-1.5, 6.0))
        self.stall = float(rng.uniform(19.0, 25.0))
        self.slope = float(rng.normal(0.0, 0.006))
        self.gusts = float(rng.uniform(0.1, 0.7))
        self.runway = float(rng.uniform(0, 2 * np.pi))
        self.gust = 0.0
        self.speed = self.height = self.heading = 0.0

    @property
    def clock(self) -> float:
        return len(self.rows) * STEP_S

    def put(self, engine: float, pitch: float, load: float, *, rough: float = 0.02) -> None:
        """Keep one step."""
        self.gust += -self.gust * STEP_S / 3 + self.gusts * np.sqrt(2 * STEP_S / 3) * float(
            self.rng.standard_normal())
        noise = rough * float(self.rng.standard_normal())
        self.rows.append((self.speed, max(self.speed + self.headwind + self.gust, 0.0), self.height,
                          engine, self.runway + self.heading, pitch, load + noise))

    def hold(self, seconds: float, speed: float, climb: float = 0.0, engine: float = 0.6,
             turn: float = 0.0, change: float = 1.5, rough: float = 0.02) -> None:
        """Go on at a ground speed, climb and turn."""
        for _ in range(round(seconds / STEP_S)):
            self.speed += float(np.clip(speed - self.speed, -change * STEP_S, change * STEP_S))
            self.height += climb * STEP_S
            self.heading += turn * STEP_S
            self.put(engine, 0.03 + climb / 60, 1.0, rough=rough)

    def depart(self) -> None:
        """Take off and fly a circuit to the beginning of an approach 120 m over the runway."""
        base = self.height
        self.heading = 0.0
        self.hold(18, 1.35 * self.stall - self.headwind, engine=1.0, change=2.0, rough=0.06)
        self.hold(45, 1.45 * self.stall - self.headwind, climb=4.0, engine=1.0)
        self.hold(60, 1.9 * self.stall, turn=np.pi / 60)
        self.hold(60, 1.5 * self.stall, turn=np.pi / 60)
        self.heading = 0.0
        self.hold(25, 1.3 * self.stall - self.headwind, climb=(base + 120 - self.height) / 25,
                  engine=0.4)

    def approach(self, ending: str) -> None:
        """Come down and end in one of the ways of `ENDINGS`."""
        rng = self.rng
        landing = Landing(ending)
        self.landings.append(landing)
        runway = self.height - 120.0  # height of the runway under the airplane
        path = float(rng.uniform(0.045, 0.08))
        flare_s, sink = float(rng.uniform(1.5, 3.5)), float(rng.uniform(0.15, 0.8))
        slowest = self.stall * float(rng.uniform(1.02, 1.15))
        again = float(rng.uniform(6.0, 20.0)) if ending == "go-around" else 0.0
        approach, slows = 1.3 * self.stall, 0.9
        if ending == "float":
            slowest, slows = self.stall * 1.03, 0.55
        last_air, begun = approach, len(self.rows)
        while True:
            above = self.height - runway
            flares = above < 1.6 * flare_s * path * approach
            airspeed = self.speed + self.headwind
            rate = path * airspeed
            if flares:
                self.speed -= slows * STEP_S
                rate = min(rate, max((above - 0.4) / flare_s, 0.0) + 0.03)
                rate = max(rate, sink) if airspeed < slowest else rate
            else:
                self.speed += float(np.clip(approach - airspeed, -0.5, 0.5)) * STEP_S
            runway += self.slope * self.speed * STEP_S if above < 1.0 else 0.0
            self.height -= rate * STEP_S
            above = self.height - runway
            if again and above < again:
                self._climb_away()
                return
            pitch = 0.02 + 0.1 * min(1.0, max(0.0, (approach - airspeed) / (0.25 * approach)))
            bend = 0.1 if flares else 0.0
            self.put(0.4 - 0.2 * flares, pitch, 1.0 + bend, rough=0.03)
            last_air = self.speed
            if above <= 0.0:
                break
        landing.touchdown_s, landing.touchdown_ms = EPOCH_S + self.clock, last_air
        past = np.array([(row[0], row[2]) for row in self.rows[begun:]])
        high = int(np.flatnonzero(past[:, 1] > self.height + SCREEN_M)[-1]) + 1
        landing.height50_s = EPOCH_S + (begun + high) * STEP_S
        landing.air_m = float(past[high:, 0].sum() * STEP_S)
        self._roll(landing, sink, pitch)

    def _climb_away(self) -> None:
        self.hold(25, 1.4 * self.stall - self.headwind, climb=3.5, engine=1.0)
        self.hold(5, 1.4 * self.stall - self.headwind, engine=0.6)
        self.hold(60, 1.7 * self.stall, turn=np.pi / 60)
        self.hold(60, 1.5 * self.stall, turn=np.pi / 60)
        self.heading = 0.0
        self.hold(20, 1.3 * self.stall - self.headwind, climb=(30.0) / 20, engine=0.6)

    def _roll(self, landing: Landing, sink: float, pitch: float) -> None:
        rng, ending = self.rng, landing.ending
        wheels, drag = float(rng.uniform(0.02, 0.05)), float(rng.uniform(4e-4, 8e-4))
        wait, brakes = float(rng.uniform(0.5, 3.5)), float(rng.uniform(1.3, 3.2))
        if ending in ("roll-out", "fast exit"):
            brakes = float(rng.uniform(0.0, 0.3))
        nose_s, rough = float(rng.uniform(0.2, 1.2)), float(rng.uniform(0.05, 0.12))
        hops = float(rng.uniform(0.8, 1.6)) if ending == "bounce" else 0.0
        end = {"taxi": 5.0, "roll-out": 7.5, "fast exit": 13.0}.get(ending, 0.0)
        after, way, measured, base = 0.0, 0.0, 0.0, self.height
        lowest = 0.8 * self.speed if ending == "touch-and-go" else end
        speed = self.speed
        while speed > 0.02:
            flies = hops > 0 and after < hops
            airspeed = speed + self.headwind
            rate = drag * airspeed**2 + (0.0 if flies else GRAVITY * (wheels + self.slope))
            rate += brakes * min(max((after - wait - hops) / 0.7, 0.0), 1.0)
            speed = max(speed - max(rate, 0.25) * STEP_S, 0.0)
            way += speed * STEP_S
            after += STEP_S
            if speed >= lowest:
                self.speed, measured = speed, way
                hop = 0.5 * GRAVITY * 0.25 * after * (hops - after) if flies else 0.0
                self.height = base + self.slope * way + hop
                down = min(max((after - nose_s) / 1.2, 0.0), 1.0)
                spike = (0.3 + sink) if after < 0.16 or 0 < after - hops < 0.16 else 0.0
                self.put(0.25, pitch + (0.01 - pitch) * down, 1.0 + spike,
                         rough=0.03 if flies else 0.02 + rough * min(speed / 15, 1.0))
        landing.roll_m = way
        self._after(ending, measured)

    def _after(self, ending: str, way: float) -> None:
        if ending == "touch-and-go":
            self.hold(6, 1.25 * self.stall - self.headwind, engine=1.0, change=2.0, rough=0.08)
            self._climb_away()
            return
        if ending == "roll-out":
            self.hold(12, 7.0, engine=0.3, rough=0.04)
        elif ending == "taxi":
            self.hold(float(self.rng.uniform(6, 20)), 5.0, engine=0.35, rough=0.04)
        if ending in ("taxi", "roll-out", "fast exit"):
            self.hold(4, 4.0, turn=np.pi / 8, engine=0.3, rough=0.04, change=3.0)
        else:
            self.hold(float(self.rng.uniform(4, 12)), 0.0, engine=0.3)
        self.hold(30, 5.0, turn=0.03, engine=0.4, rough=0.03)
        self.hold(15, 0.0, engine=0.3)


def make_landings(
    seed: int, rate_hz: float, endings: tuple[str, ...] = (), missing: tuple[str, ...] | None = None
) -> Made:
    """Make one flight with two approaches, or the ones given, as recorded."""
    rng = np.random.default_rng([7, seed])
    flown = _Flown(rng)
    flown.hold(25, 0.0, engine=0.3)
    if not endings:
        first = str(rng.choice(list(ENDINGS)))
        endings = (first, str(rng.choice([one for one in ENDINGS if ENDINGS[one]])))
    flown.depart()
    for place, ending in enumerate(endings):
        flown.approach(ending)
        if place + 1 < len(endings) and ending not in ("touch-and-go", "go-around"):
            flown.depart()
        elif place + 1 < len(endings):
            low = flown.height - _runway(flown)
            flown.hold(20, 1.3 * flown.stall - flown.headwind, climb=(120 - low) / 20)
    optional = ("pitch", "normal_acceleration", "vertical_speed", "track", "engine_speed")
    drawn = tuple(name for name in optional if rng.random() < 0.25)
    return _recorded(flown, seed, rate_hz, drawn if missing is None else missing)


def _runway(flown: _Flown) -> float:
    """Height of the runway at the last approach that did not stop."""
    heights = np.array([row[2] for row in flown.rows[-round(400 / STEP_S):]])
    return float(heights.min()) - (13.0 if flown.landings[-1].ending == "go-around" else 0.0)


def _lagged(values: FloatArray, lag_s: float) -> FloatArray:
    if lag_s <= 0:
        return values
    share, kept = STEP_S / (lag_s + STEP_S), values.copy()
    for place in range(1, len(kept)):
        kept[place] = kept[place - 1] + share * (values[place] - kept[place - 1])
    return kept


#: Standard deviation of the noise and rounding of each channel, SI.
NOISE = {
    "ground_speed": (0.1, 0.05), "gps_altitude": (0.2, 0.1), "pressure_altitude": (0.3, 0.3),
    "indicated_airspeed": (0.25, 0.26), "vertical_speed": (0.15, 0.05), "pitch": (0.004, 0.0017),
    "normal_acceleration": (0.01, 0.01), "track": (0.012, 0.017), "engine_speed": (0.05, 0.17),
}  # fmt: skip


def _recorded(flown: _Flown, seed: int, rate_hz: float, missing: tuple[str, ...]) -> Made:
    rng = np.random.default_rng([8, seed, round(10 * rate_hz)])
    column = dict(zip(COLUMNS, np.array(flown.rows).T, strict=True))
    lag = float(rng.uniform(0.0, 0.4))
    static = _lagged(column["height"] + 130.0, float(rng.uniform(0.4, 1.0)))
    signals = {
        "ground_speed": _lagged(column["speed"], lag),
        "gps_altitude": _lagged(column["height"] + 160.0, lag),
        "pressure_altitude": static,
        "indicated_airspeed": _lagged(column["airspeed"], float(rng.uniform(0.2, 0.7))),
        "vertical_speed": _lagged(np.gradient(static, STEP_S), 0.8),
        "pitch": column["pitch"],
        "normal_acceleration": column["load"],
        "track": column["heading"],
        "engine_speed": 45.0 * column["engine"],
    }
    fine = np.arange(len(flown.rows)) * STEP_S
    time = np.arange(0, fine[-1], 1 / rate_hz) + rng.uniform(0, 0.5 / rate_hz)
    time = time[(time < fine[-1]) & (rng.random(len(time)) > 0.01)]
    channels = {}
    for name, values in signals.items():
        if name in missing:
            continue
        spread, unit = NOISE[name]
        noisy = np.interp(time, fine, values) + rng.normal(scale=spread, size=len(time))
        if name == "gps_altitude":
            steps = np.sqrt(np.gradient(time)) * rng.normal(scale=0.08, size=len(time))
            noisy += np.cumsum(steps)
        noisy = np.clip(noisy, 0, None) if "speed" in name and name[0] != "v" else noisy
        channels[name] = np.round(noisy / unit) * unit
    if "track" in channels:
        channels["track"] %= 2 * np.pi
        channels["track"][channels["ground_speed"] < 1.5] = np.nan
    return Made(EPOCH_S + time, channels, flown.landings, flown.headwind)
