"""Generated take-offs with known truth: standard ground roll, 50 ft distance and headwind.

Run: ``python tests/benchmarks/takeoffs.py --airplanes 40``.

Each airplane is drawn anew: weight, power, propeller by coefficients of its own, engine, friction,
drag in ground effect. Its take-offs are integrated in time with gusts and a wind gradient, lift-off
where the pilot takes it (3 kt, one sigma), in all weathers and weights; sensors lag, are rounded
and noisy, static pressure jumps with power. Times of brake release and lift-off are given to the
reducer with errors as large as finding them may leave. Nothing of the reducer's model is used here.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.interpolate import PchipInterpolator

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "lib")]

from stdday.campaign import Campaign, Flight, load_campaign  # noqa: E402
from stdday.candidates import Candidate  # noqa: E402
from stdday.ledger import Reduced  # noqa: E402
from stdday.reduce_takeoff import reduce_takeoffs  # noqa: E402
from stdday.roll_fit import ROLL_COLUMNS, roll_columns  # noqa: E402
from stdday.signals import Trace  # noqa: E402
from stdday.takeoff_state import takeoff_state  # noqa: E402
from stdday.uncertainty import Draws  # noqa: E402

DEMO = ROOT / "data_demo" / "propeller_change"
KT, FT, GRAVITY = 1852 / 3600, 0.3048, 9.80665
RUNWAY = np.deg2rad(82.0)
STEP_S = 0.02
REST_S = 25.0  # idle and run-up before brake release
#: One sigma of lift-off and brake release as found [s], by sampling rate [Hz].
TIMING_S = {1.0: 0.35, 4.0: 0.2, 10.0: 0.2}
HEADWIND_GOAL_KT = {1.0: 1.0, 4.0: 0.7, 10.0: 0.7}


@dataclass(frozen=True)
class Airplane:
    """One invented airplane; SI."""

    weight: float
    area: float
    span: float
    rated_w: float
    rated_rps: float
    diameter: float
    governed: bool
    thrust_static: float
    thrust_fall: float
    power_static: float
    power_fall: float
    friction: float
    parasite: float
    lift: float
    liftoff: float
    jump_pa: float
    jump_fade: float

    def turns_power(
        self, true: np.ndarray | float, density: float, lapse: float
    ) -> tuple[float, float]:
        """Propeller speed [1/s] and brake power [W] at full throttle."""
        if self.governed:
            return self.rated_rps, self.rated_w * lapse
        turns = self.rated_rps
        for _ in range(12):  # torque of the engine against the propeller's
            made = self.rated_w * lapse * (turns / self.rated_rps) ** 0.85
            ratio = true / (turns * self.diameter)
            taken = density * turns**3 * self.diameter**5 * self.power_coefficient(ratio)
            turns *= (made / taken) ** 0.45
        return turns, self.rated_w * lapse * (turns / self.rated_rps) ** 0.85

    def power_coefficient(self, ratio: float) -> float:
        """Power coefficient of the fixed pitch."""
        return self.power_static * (1 - self.power_fall * ratio**2)

    def thrust(self, true: float, density: float, lapse: float) -> tuple[float, float, float]:
        """Thrust [N], propeller speed [1/s] and power [W] at full throttle."""
        turns, power = self.turns_power(true, density, lapse)
        if self.governed:
            # figure of merit that grows with speed, on the ideal propeller
            disk = np.pi / 4 * self.diameter**2
            good = (0.66 + 0.14 * np.tanh(true / 25.0)) * power
            through = np.roots([1.0, -true, 0.0, -good / (2 * density * disk)])
            speed = float(through[np.argmax(through.real)].real)
            return good / speed, turns, power
        ratio = true / (turns * self.diameter)
        coefficient = self.thrust_static * (1 - self.thrust_fall * ratio - 0.35 * ratio**2)
        return density * turns**2 * self.diameter**4 * coefficient, turns, power

    def drag_lift(self, true: float, density: float, pitch: float, height: float) -> tuple:
        """Drag and lift [N] with the nose up by a share `pitch` of lift-off's lift."""
        pressure = 0.5 * density * true**2
        lift = self.lift + pitch
        near = (16 * (height + 0.9) / self.span) ** 2
        induced = lift**2 / (np.pi * self.span**2 / self.area * 0.78) * near / (1 + near)
        return pressure * self.area * (self.parasite + induced), pressure * self.area * lift


def draw_airplane(rng: np.random.Generator) -> Airplane:
    """One airplane; all but the sizes by chance."""
    weight = rng.uniform(560, 1150)
    loading, power_loading = rng.uniform(52, 80), rng.uniform(6.5, 9.0)
    rated_w = weight / power_loading * 1000.0
    governed = bool(rng.random() < 0.5)
    diameter = 1.68 * (rated_w / 78e3) ** 0.25
    rated_rps = 230.0 / (np.pi * diameter) * rng.uniform(0.95, 1.05)
    power = rated_w / (1.225 * (0.92 * rated_rps) ** 3 * diameter**5) * 0.92**0.85
    disk = np.pi / 4 * diameter**2
    still = rng.uniform(0.62, 0.76) * (2 * 1.225 * disk * (0.92 * rated_w) ** 2) ** (1 / 3)
    area = weight / loading
    return Airplane(
        weight, area, float(np.sqrt(area * rng.uniform(6.5, 9.0))), rated_w, rated_rps, diameter,
        governed, still / (1.225 * (0.92 * rated_rps) ** 2 * diameter**4), rng.uniform(0.45, 0.70),
        power, rng.uniform(0.05, 0.35), abs(rng.normal(0.03, 0.008)), rng.uniform(0.040, 0.065),
        rng.uniform(0.25, 0.55), float(np.sqrt(2 * 9.80665 * loading / 1.225 / 1.35)),
        rng.uniform(0.0, 75.0), rng.uniform(0.2, 0.9),
    )  # fmt: skip


@dataclass(frozen=True)
class Day:
    """Conditions of one take-off; SI."""

    pressure: float
    temperature: float
    weight: float
    headwind: float
    slope: float
    liftoff_calibrated: float
    climb_calibrated: float
    gusts: float
    shear: float = 1 / 7

    @property
    def density(self) -> float:
        """Density of dry air [kg/m^3]."""
        return self.pressure / (287.053 * self.temperature)

    @property
    def lapse(self) -> float:
        """Full-throttle power over that of the standard day at sea level."""
        ratio = self.pressure / 101325 * (288.15 / self.temperature) ** 0.55
        return ratio - 0.11 * (1 - ratio)

    def true(self, calibrated: float) -> float:
        """True airspeed, incompressible."""
        return calibrated * np.sqrt(1.225 / self.density)


def fly(airplane: Airplane, day: Day, rng: np.random.Generator) -> pd.DataFrame:
    """One take-off from brake release to 400 ft, every `STEP_S`."""
    speed, place, height, path, pitch, gust, time = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    off, rows = False, []
    target, ready = day.true(day.climb_calibrated), day.true(day.liftoff_calibrated)
    while height < 120.0 and time < 120.0:
        gust += -gust * STEP_S / 3.0 + day.gusts * np.sqrt(2 * STEP_S / 3.0) * rng.normal()
        wind = day.headwind * ((1.0 + height) / 1.0) ** day.shear + gust
        true = speed + wind  # speed is inertial: a gust changes airspeed, not ground speed
        thrust, turns, power = airplane.thrust(max(true, 0.0), day.density, day.lapse)
        thrust *= 1 - 0.25 * np.exp(-time / 0.7)  # the last of the throttle
        pitch = 0.55 * float(np.clip((true - ready + 2.0) / 2.0, 0, 1))
        if off:
            pressure = 0.5 * day.density * true**2 * airplane.area
            pitch = day.weight * GRAVITY * np.cos(path) / pressure - airplane.lift
        drag, lift = airplane.drag_lift(true, day.density, pitch, height)
        force = thrust - drag
        if not off:
            force -= airplane.friction * max(day.weight * GRAVITY - lift, 0.0)
            force -= day.weight * GRAVITY * day.slope
            speed += force / day.weight * STEP_S
            place += speed * STEP_S
            off = true >= ready
            if off:
                liftoff = (time, place)
        else:
            excess = force / (day.weight * GRAVITY)
            wanted = np.clip(excess - 0.05 * (target - true), 0.1 * excess, 1.1 * excess)
            path += (wanted - path) * STEP_S / 1.2
            speed += (excess - np.sin(path)) * GRAVITY * STEP_S
            height += true * np.sin(path) * STEP_S
            place += (true * np.cos(path) - wind) * STEP_S
        rows.append((time, speed, true, height, place, thrust, turns, power, wind - gust, gust))
        time += STEP_S
    table = pd.DataFrame(
        rows,
        columns=["time", "ground", "true", "height", "place", "thrust", "turns", "power", "wind",
                 "gust"],
    )
    table.attrs.update(liftoff_s=liftoff[0], roll_m=liftoff[1])
    reached = int(np.argmax(table["height"].to_numpy() >= 50 * FT))
    table.attrs.update(height50_s=table["time"][reached], distance50_m=table["place"][reached])
    return table


def _energy50(flown: pd.DataFrame) -> float:
    """Energy height from lift-off to 50 ft [m], without the gusts and the gradient of the wind."""
    times = [flown.attrs["liftoff_s"], flown.attrs["height50_s"]]
    ground = np.interp(times, flown["time"], flown["ground"])
    true = ground + np.interp(times, flown["time"], flown["wind"])
    return 50 * FT + float(true.mean() * (ground[1] - ground[0])) / 9.80665


@dataclass(frozen=True)
class Sensors:
    """Errors of one installation; SI."""

    delay: float
    calibration: float
    tilt: float
    power: float
    probe: float


def record(
    airplane: Airplane, day: Day, flown: pd.DataFrame, sensors: Sensors, rate: float,
    rng: np.random.Generator,
) -> Trace:  # fmt: skip
    """What the recorder keeps: the roll with idle and power-up before it."""
    before = np.arange(-REST_S, 0.0, STEP_S)
    time = np.concatenate([before, flown["time"]])
    share = np.clip((before + 6.0) / 2.0, 0.0, 1.0) ** 2  # power comes up 6 s before release

    def held(name: str, rest: float) -> np.ndarray:
        first = rest if rest >= 0 else float(flown[name].iloc[0])
        return np.concatenate([np.full(len(before), first), flown[name]])

    turns = held("turns", -1.0)
    turns[: len(before)] *= 0.38 + 0.62 * share
    power = held("power", -1.0)
    power[: len(before)] *= 0.1 + 0.9 * share
    thrust = held("thrust", -1.0)
    thrust[: len(before)] *= share
    true, height = held("true", max(day.headwind, 0.0)), held("height", 0.0)
    fade = airplane.jump_fade + (1 - airplane.jump_fade) / (1 + (true / 18.0) ** 2)
    suction = airplane.jump_pa * thrust / thrust.max() * fade
    impact = 0.5 * day.density * true**2
    lag = 1 - np.exp(-STEP_S / max(sensors.delay, 0.05))
    shown = np.empty_like(impact)
    state = impact[0] + suction[0]
    for place, value in enumerate(impact + suction):
        state += lag * (value - state)
        shown[place] = state
    calibrated = np.sqrt(2 * np.maximum(shown, 0.0) / 1.225)
    indicated = calibrated - sensors.calibration - sensors.tilt * (calibrated - 30.0)
    indicated = np.where(calibrated < 12.0, 0.0, indicated)
    pressure = day.pressure - day.density * GRAVITY * height - suction
    altitude = 44330.77 * (1 - (pressure / 101325) ** 0.190263)
    gps_late = 0.25
    ground = np.interp(time - gps_late, time, held("ground", 0.0))
    wanted = np.arange(-REST_S + rng.uniform(0, 1 / rate), time[-1], 1 / rate)
    picked = np.searchsorted(time, wanted)
    count = len(picked)
    channels = {
        "ground_speed": ground[picked] + 0.06 * rng.normal(size=count) * (ground[picked] > 0),
        "indicated_airspeed": np.round(
            (indicated[picked] + 0.25 * rng.normal(size=count)) / KT, 1) * KT,
        "engine_speed": 2.15 * turns[picked] * (1 + 0.002 * rng.normal(size=count)),
        "power": power[picked] / (1 + sensors.power) * (1 + 0.005 * rng.normal(size=count)),
        "pressure_altitude": np.round(
            (altitude[picked] + 0.5 * rng.normal(size=count)) / FT) * FT,
        "gps_altitude": height[picked] + 1.0 * rng.normal(size=count),
        "track": np.where(ground[picked] > 2.0, RUNWAY + 0.01 * rng.normal(size=count), np.nan),
    }  # fmt: skip
    return Trace(time[picked], channels, 0.5, 5.0)


class Club:
    """One airplane with its campaign, flights and take-offs."""

    def __init__(self, base: Campaign, seed: int, rate: float, takeoffs: int) -> None:
        self.rng, self.rate = np.random.default_rng(seed), rate
        self.airplane = draw_airplane(self.rng)
        self.sensors = self._sensors(base)
        self.slope_error = self.rng.normal(0, base.sigma("runway_slope"))
        self.campaign = self._campaign(base, takeoffs)
        self.rows: list[dict[str, object]] = []
        self.truth: list[dict[str, float]] = []
        for flight in self.campaign.flights:
            self._take_off(flight)
        # pilots' true errors are known to nobody; the delay is known as well as flights tell it
        self.segments = pd.DataFrame(self.rows)

    def _sensors(self, base: Campaign) -> Sensors:
        draw = self.rng.normal
        return Sensors(
            0.25 + abs(draw(0.5, 0.3)),
            draw(0, base.sigma("airspeed_calibration_table")),
            0.01 * draw(0, base.sigma("airspeed_calibration_table")) / KT,
            draw(0, base.sigma("power")),
            0.0,
        )

    def _campaign(self, base: Campaign, takeoffs: int) -> Campaign:
        made, known = self.airplane, base.airplanes["one"]
        control = "constant speed" if made.governed else "fixed pitch"
        airplane = replace(
            known, maximum_weight_kg=made.weight, empty_weight_kg=0.6 * made.weight,
            wing_area_m2=made.area, wing_span_m=made.span, rated_power_w=made.rated_w,
            rated_engine_speed_rps=2.15 * made.rated_rps, gear_ratio=2.15,
            airspeed_calibration=((10.0, 10.0), (70.0, 70.0)),
        )  # fmt: skip
        configuration = base.configurations["A"]
        configuration = replace(
            configuration, propeller=replace(configuration.propeller, control=control,
                                             diameter_m=made.diameter)
        )  # fmt: skip
        reference = replace(
            base.reference, weight_kg=made.weight, liftoff_airspeed_ms=made.liftoff,
            takeoff_pressure_altitude_m=0.0, temperature_offset_k=0.0,
        )  # fmt: skip
        flights = tuple(self._flight(base.flights[0], number) for number in range(takeoffs))
        return replace(base, airplanes={"one": airplane}, configurations={"A": configuration},
                       reference=reference, flights=flights)  # fmt: skip

    def _flight(self, one: Flight, number: int) -> Flight:
        rng = self.rng
        temperature = rng.uniform(274, 303)
        return replace(
            one, id=f"F{number:02d}", configuration="A", runway="08", use=True,
            takeoff_weight_kg=self.airplane.weight * rng.uniform(0.82, 1.0),
            reported_temperature_k=temperature, reported_dew_point_k=250.0,
            altimeter_setting_pa=rng.uniform(99500, 102800),
            reported_wind_from_rad=RUNWAY, reported_wind_speed_ms=rng.uniform(0, 6),
            pilot=("first", "second", "third")[number % 3],
        )  # fmt: skip

    def _take_off(self, flight: Flight) -> None:
        rng, airplane = self.rng, self.airplane
        reported = float(flight.reported_wind_speed_ms)
        headwind = 0.85 * reported + rng.normal(0, self.campaign.sigma("reported_wind"))
        day = Day(
            flight.altimeter_setting_pa,
            flight.reported_temperature_k + rng.normal(0, 0.5),
            flight.takeoff_weight_kg + rng.normal(0, self.campaign.sigma("weight")),
            float(np.clip(headwind, -3.0, 8.0)),
            0.003 + self.slope_error,
            airplane.liftoff * 1.03 + rng.normal(0, 3 * KT),
            airplane.liftoff * 1.25 + rng.normal(0, 1.5 * KT),
            rng.uniform(0.1, 0.8),
            float(np.clip(rng.normal(0.15, 0.05), 0.05, 0.3)),
        )
        flown = fly(airplane, day, rng)
        trace = record(airplane, day, flown, self.sensors, self.rate, rng)
        timing = TIMING_S[self.rate]
        release = rng.normal(0, timing)
        liftoff = flown.attrs["liftoff_s"] + rng.normal(0, timing)
        late = rng.normal(0, timing)
        times = {"brake_release_s": release, "liftoff_s": liftoff}
        candidate = Candidate("take-off", release, flown["time"].iloc[-1], True, details=times)
        row = takeoff_state(trace, candidate, 2.15, True, 44330.77 * (
            1 - (day.pressure / 101325) ** 0.190263))  # fmt: skip
        at50 = flown.attrs["height50_s"] + late
        row |= {
            "height50_s": at50,
            "height50_ground_speed_ms": float(np.interp(at50, flown["time"], flown["ground"])),
            "distance50_m": float(np.interp(at50, flown["time"], flown["place"]))
            + rng.normal(0, 3),
            "airspeed_delay_s": self.sensors.delay - 0.25 + rng.normal(0, 0.15),
            "airspeed_delay_sigma_s": 0.15,
            "track_rad": RUNWAY,
            **roll_columns(trace, release, liftoff),
        }
        self.rows.append(row | {
            "point": f"{flight.id}-take-off-1", "condition_id": "takeoff", "flight": flight.id,
            "configuration": "A", "kind": "take-off", "fuel_used_m3": 0.0,
            "elapsed_since_first_takeoff_s": 0.0, "outside_air_temperature_k": np.nan,
        })  # fmt: skip
        after = flown["time"] - flown.attrs["liftoff_s"]
        blown = flown["gust"][(after > -2.0) & (after < 6.0)].mean()
        self.truth.append({
            "headwind": day.headwind, "blown": day.headwind + float(blown),
            "roll": flown.attrs["roll_m"],
            "energy50": _energy50(flown),
        })  # fmt: skip

    def standard(self) -> tuple[float, float]:
        """True ground roll on the reference day, and distance to 50 ft as these pilots fly it.

        The pilot's aim is varied until the standard take-off wins the mean energy on the way.
        """
        reference = self.campaign.reference
        day = Day(101325.0, 288.15, reference.weight_kg, 0.0, 0.0, reference.liftoff_airspeed_ms,
                  0.0, 0.0)  # fmt: skip
        found = []
        for factor in (0.95, 1.05, 1.15, 1.25, 1.35, 1.5, 1.7):
            aim = replace(day, climb_calibrated=factor * self.airplane.liftoff)
            flown = fly(self.airplane, aim, np.random.default_rng(0))
            found.append((_energy50(flown), flown.attrs["distance50_m"]))
        energies, distances = np.array(sorted(found)).T
        wanted = np.mean([row["energy50"] for row in self.truth])
        return flown.attrs["roll_m"], float(PchipInterpolator(energies, distances)(wanted))

    def slopes(self) -> dict[str, float]:
        """Slope of the power coefficient as its climbs and level runs tell it."""
        if self.airplane.governed:
            return {}
        ratio = np.array([0.45, 0.55, 0.65, 0.75])
        told = self.airplane.power_coefficient(ratio) * (1 + self.rng.normal(0, 0.01, 4))
        return {"A": float(np.polyfit(ratio, told, 1)[0])}


def errors_of(club: Club, found: list[Reduced], exponent: list[Reduced]) -> pd.DataFrame:
    """Relative errors of every take-off of an airplane, and of its headwind [m/s]."""
    known = pd.DataFrame(club.truth, index=[str(row["point"]) for row in club.rows])
    roll_m, distance50_m = club.standard()
    table = pd.DataFrame(index=known.index)
    table["raw"] = known["roll"] / roll_m - 1
    named = {item.metric: item for item in found}
    for column, item, truth in (
        ("model", named["takeoff_ground_roll"], roll_m),
        ("exponents", {i.metric: i for i in exponent}["takeoff_ground_roll"], roll_m),
        ("50 ft", named["takeoff_distance_50ft"], distance50_m),
    ):
        own = pd.Series(item.values[0], index=list(item.points)).reindex(table.index)
        table[column] = own / truth - 1
    roll = named["takeoff_ground_roll"]
    wind = pd.Series(roll.conditions["headwind_ms"], index=list(roll.points)).reindex(table.index)
    table["headwind, steady"] = (wind - known["headwind"]) / KT
    table["headwind"] = (wind - known["blown"]) / KT
    return table


def one_rate(rate: float, options: argparse.Namespace, base: Campaign) -> pd.DataFrame:
    """Errors of all take-offs at a sampling rate."""
    tables = []
    for number in range(options.airplanes):
        club = Club(base, options.seed * 10_000 + number, rate, options.takeoffs)
        draws = Draws(0)
        found = reduce_takeoffs(club.campaign, club.segments, draws, club.slopes())
        bare = club.segments.assign(**dict.fromkeys(ROLL_COLUMNS, np.nan))
        handbook = reduce_takeoffs(club.campaign, bare, draws, club.slopes())
        tables.append(errors_of(club, found, handbook).assign(airplane=number))
    return pd.concat(tables)


def told(rate: float, table: pd.DataFrame) -> list[str]:
    """Lines of the results of one sampling rate."""
    lines = []
    for column in ("raw", "exponents", "model", "50 ft"):
        values = 100 * table[column]
        within = values.groupby(table["airplane"]).std()
        lines.append(
            f"{rate:4.0f} Hz  {column:<10} n {values.count():5d}  mean {values.mean():+6.2f} %  "
            f"rms {np.sqrt((values**2).mean()):5.2f} %  between take-offs of one airplane "
            f"{np.sqrt((within**2).mean()):5.2f} %"
        )
    for column, words in (("headwind", "with the gusts of these seconds"),
                          ("headwind, steady", "without")):  # fmt: skip
        wind = table[column]
        lines.append(
            f"{rate:4.0f} Hz  headwind   n {wind.count():5d}  mean {wind.mean():+6.2f} kt  rms "
            f"{np.sqrt((wind**2).mean()):4.2f} kt  {words} (wanted {HEADWIND_GOAL_KT[rate]:.1f})"
        )
    return lines


def main() -> None:
    """Print scatter and errors at each sampling rate."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--airplanes", type=int, default=40)
    parser.add_argument("--takeoffs", type=int, default=12)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--calibration", type=float, default=0.5,
                        help="one sigma of the airspeed calibration [kt]")  # fmt: skip
    options = parser.parse_args()
    base = load_campaign(DEMO)
    sizes = {"airspeed_calibration_table": options.calibration * KT,
             "airspeed_between_configurations": 0.0}  # fmt: skip
    base = replace(base, uncertainty={**base.uncertainty, **sizes})
    for rate in (1.0, 4.0, 10.0):
        print("\n".join(told(rate, one_rate(rate, options, base))), flush=True)


if __name__ == "__main__":
    main()
