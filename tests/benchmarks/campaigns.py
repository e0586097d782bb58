"""Generated campaigns at test-point level: does the interval cover the truth it cannot see?

Run: ``python tests/benchmarks/campaigns.py --campaigns 200``.

Each campaign draws its errors from the sizes that the demo campaign declares, flies both propellers
through different weather with the demo's airplane (which is richer than the reducer: its engine,
propellers, drag and take-off roll follow other laws), and is reduced and compared by the workbook
from test points on.  A second run without any error or noise tells how much of the error is the
reducer's own: model mismatch.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "lib")]

from data_demo import air  # noqa: E402
from data_demo import airplane as truth  # noqa: E402
from stdday.balance import flown_apart  # noqa: E402
from stdday.campaign import Campaign, Flight, load_campaign  # noqa: E402
from stdday.compare import compare  # noqa: E402
from stdday.outcome import analyse  # noqa: E402
from stdday.roll_fit import roll_columns  # noqa: E402
from stdday.signals import Trace  # noqa: E402
from stdday.uncertainty import Draws  # noqa: E402

DEMO = ROOT / "data_demo" / "propeller_change"
KT, FT = 1852 / 3600, 0.3048
#: Indicated and calibrated airspeed [kt], as an owner's table: no legs are flown at this level.
OWNERS_TABLE_KT = ((40.0, 42.3), (60.0, 61.2), (80.0, 80.3), (100.0, 99.5), (130.0, 128.6))
RUNWAY = np.deg2rad(82.0)


class World:
    """Errors of one campaign; `size` 0 switches every error and all noise off."""

    def __init__(self, campaign: Campaign, seed: int, size: float) -> None:
        self.random = np.random.default_rng(seed)
        self.size = size
        self.campaign = campaign
        draw = lambda: size * float(self.random.standard_normal())  # noqa: E731
        sigma = campaign.sigma
        self.probe_k = sigma("outside_air_temperature_bias") * draw()
        self.power = sigma("power") * draw()
        self.power_own = {c: sigma("power_between_configurations") * draw() for c in "AB"}
        self.slow, self.fast = (sigma("airspeed_calibration_table") * draw() for _ in range(2))
        self.own = {c: sigma("airspeed_between_configurations") * draw() for c in "AB"}
        self.delay_s = sigma("airspeed_delay") * draw()
        self.altitude_m = sigma("pressure_altitude") * draw()
        self.fuel = sigma("fuel_flow_scale") * draw()
        self.slope = sigma("runway_slope") * draw()
        self.jump_left = {c: 0.5 + 0.5 * size * float(self.random.uniform(-1, 1)) for c in "AB"}
        blocks = sorted({flight.block for flight in campaign.flights})
        self.roll = {b: 0.02 * draw() for b in blocks}
        self.rise = {b: 15 * FT / 60 * draw() for b in blocks}
        self.drag = {b: 0.010 * draw() for b in blocks}
        self.burn = {b: 0.01 * draw() for b in blocks}

    def noise(self, sigma: float) -> float:
        """One draw of noise."""
        return self.size * sigma * float(self.random.standard_normal())

    def uniform(self, low: float, high: float) -> float:
        """One draw of a condition, the same whether errors are on or off."""
        return float(self.random.uniform(low, high))


def make_flights(campaign: Campaign, world: World) -> Campaign:
    """Give every flight of the demo new weather and weight."""
    flights = []
    for flight in campaign.flights:
        temperature = world.uniform(277, 299)
        flights.append(
            replace(
                flight,
                use=True,
                takeoff_weight_kg=world.uniform(515, 595),
                reported_temperature_k=temperature,
                reported_dew_point_k=temperature - world.uniform(3, 12),
                altimeter_setting_pa=world.uniform(100300, 102400),
                reported_wind_from_rad=RUNWAY + world.uniform(-0.9, 0.9),
                reported_wind_speed_ms=world.uniform(0, 11) * KT,
                runway="08",
            )
        )
    table = tuple((shown * KT, true * KT) for shown, true in OWNERS_TABLE_KT)
    airplane = replace(
        campaign.airplanes["one"], airspeed_calibration=table, temperature_recovery_factor=0.0
    )
    return replace(campaign, flights=tuple(flights), airplanes={"one": airplane})


class Flown:
    """One flight's air and instruments, and the test points it gives."""

    def __init__(self, world: World, flight: Flight) -> None:
        self.world, self.flight = world, flight
        self.config = truth.CONFIGURATIONS[flight.configuration]
        campaign = world.campaign
        self.field_m = float(
            air.pressure_altitude_m(
                flight.altimeter_setting_pa
                * (1 - 2.25577e-5 * campaign.airfields[flight.airfield].elevation_m) ** 5.25588
            )
        )
        self.warm = flight.reported_temperature_k - air.standard_temperature_k(self.field_m)
        self.vapour = air.vapour_pressure_pa(flight.reported_dew_point_k)
        self.weight = flight.takeoff_weight_kg + world.noise(campaign.sigma("weight"))
        self.rise = world.noise(15 * FT / 60) + world.rise[flight.block]
        self.rough = world.noise(0.025) + world.roll[flight.block]
        self.shear = world.uniform(0.0, 0.006)
        self.pilot_kt = world.uniform(-2.5, 3.0)
        table = np.array(sorted(campaign.airplanes["one"].airspeed_calibration))
        self.table = table

    def atmosphere(self, altitude_m: float) -> tuple[float, float, float]:
        """Pressure [Pa], temperature [K] and vapour pressure [Pa] at a pressure altitude."""
        pressure = float(air.standard_pressure_pa(altitude_m))
        temperature = float(air.standard_temperature_k(altitude_m)) + self.warm
        return pressure, temperature, self.vapour * pressure / 101325

    def indicated(self, calibrated: float) -> float:
        """What the airspeed indicator shows."""
        angle = np.interp(calibrated, [20, 65], [0, np.pi / 2])
        error = self.world.slow * np.cos(angle) + self.world.fast * np.sin(angle)
        shown = calibrated - error - self.world.own[self.flight.configuration]
        return float(np.interp(shown, self.table[:, 1], self.table[:, 0]))

    def row(self, kind: str, condition: str, altitude: float, point: int) -> dict[str, object]:
        """Columns that all segments share."""
        return {
            "point": f"{self.flight.id}-{kind}-{point:06d}",
            "condition_id": condition,
            "flight": self.flight.id,
            "configuration": self.flight.configuration,
            "kind": kind,
            "pressure_altitude_m": altitude + self.world.altitude_m,
            "fuel_used_m3": 0.0,
            "elapsed_since_first_takeoff_s": 0.0,
        }

    def power(self, value: float) -> float:
        """Power as the panel shows it."""
        scale = 1 + self.world.power + self.world.power_own[self.flight.configuration]
        return value / scale * (1 + self.world.noise(0.006))

    def takeoff(self, point: int) -> dict[str, object]:
        """One standing take-off."""
        world, flight = self.world, self.flight
        pressure, temperature, vapour = self.atmosphere(self.field_m)
        temperature += world.noise(0.5)
        liftoff = (49.5 + self.pilot_kt + world.noise(1.2)) * KT
        reported = flight.reported_wind_speed_ms * np.cos(flight.reported_wind_from_rad - RUNWAY)
        headwind = 0.85 * (reported + world.noise(world.campaign.sigma("reported_wind") * 0.7))
        slope = 0.003 + world.slope
        run = truth.ground_run(
            self.config, liftoff, pressure, temperature, vapour, self.weight, headwind, slope
        )
        true = float(run.liftoff_tas_ms)
        _, power, speed, _, _ = truth.full_throttle(
            self.config, 0.75 * true, pressure, temperature, vapour
        )
        scale = 1 + self.rough + world.noise(0.02)
        near = 0.9
        jump = {"A": 4.0, "B": 6.0}[flight.configuration]
        shown_height = jump * world.jump_left[flight.configuration]
        delayed = float(air.calibrated_ms(true - near * world.delay_s, pressure, temperature))
        shown = np.sqrt(delayed**2 + 2 * 9.80665 * shown_height)  # rho g h over rho V^2 / 2
        ground = true - headwind
        return self.row("take-off", "takeoff", self.field_m, point) | {
            "field_pressure_altitude_m": self.field_m,
            "ground_roll_m": float(run.distance_m) * scale,
            "time_to_liftoff_s": float(run.time_s) * scale,
            "liftoff_ground_speed_ms": ground,
            "liftoff_acceleration_ms2": true**2
            / (2.08 * float(run.distance_m))
            * (ground / true) ** 0.15
            * (1 + world.noise(0.06)),
            "liftoff_indicated_airspeed_ms": self.indicated(shown),
            "near_indicated_airspeed_ms": self.indicated(shown) + world.noise(0.6 * KT),
            "near_ground_speed_ms": ground,
            "near_acceleration_ms2": near,
            "static_jump_m": jump + world.noise(1.5),
            "roll_engine_speed_rps": float(speed) * (1 + world.noise(0.002)),
            "roll_power_w": self.power(float(power)),
            "static_engine_speed_rps": float(run.static_speed_rps),
            "track_rad": RUNWAY,
            "climb_temperature_at_field_k": temperature + world.probe_k,
        } | self.rolled((pressure, temperature, vapour), true, headwind, slope, scale)

    def rolled(
        self,
        air_: tuple[float, float, float],
        liftoff_true: float,
        headwind: float,
        slope: float,
        scale: float,
    ) -> dict[str, float]:
        """Ground speed of the roll as a 4 Hz receiver shows it, and the columns fitted to it."""
        ground = np.linspace(0.0, liftoff_true - headwind, 121)
        density = air.density_kg_m3(*air_)
        thrust, power, *_ = truth.full_throttle(self.config, np.abs(ground + headwind), *air_)
        frame, force = self.config.airframe, self.weight * 9.80665
        resistance = frame.roll_resistance_n(
            density, ground + headwind, liftoff_true, force, thrust, power, frame.rolling
        )
        acceleration = ((thrust - resistance) / self.weight - 9.80665 * slope) / scale
        slowness = 1 / acceleration
        steps = np.diff(ground) * (slowness[1:] + slowness[:-1]) / 2
        passed = np.concatenate(([0.0], np.cumsum(steps)))
        time = np.arange(0.0, passed[-1], 0.25)
        speed = np.interp(time, passed, ground)
        noise = self.world.size * 0.06 * self.world.random.standard_normal(len(time))
        return roll_columns(Trace(time, {"ground_speed": speed + noise}), 0.0, float(passed[-1]))

    def climb(self, condition: str, altitude: float, point: int) -> dict[str, object]:
        """One climb through a reference altitude."""
        world = self.world
        altitude = altitude + world.uniform(-40, 40)
        pressure, temperature, vapour = self.atmosphere(altitude)
        calibrated = (62 + world.uniform(-1.5, 1.5)) * KT
        state = truth.climb_state(
            self.config, calibrated, pressure, temperature, vapour, self.weight,
            parasite_factor=1 + world.drag[self.flight.block],
        )  # fmt: skip
        true = float(state.tas_ms)
        growth = true * 4.6e-5
        still = float(state.rate_ms)
        inertia = 1 + true / 9.80665 * growth
        rate = still * inertia / (inertia - true / 9.80665 * self.shear)
        rate += self.rise + world.noise(12 * FT / 60)
        standard = float(air.standard_temperature_k(altitude))
        gust = world.noise(0.002)
        return self.row("climb", condition, altitude, point) | {
            "indicated_airspeed_ms": self.indicated(calibrated),
            "outside_air_temperature_k": temperature - world.probe_k,
            "power_w": self.power(float(state.power_w)),
            "engine_speed_rps": float(state.speed_rps) * (1 + world.noise(0.002)),
            "pressure_altitude_rate_ms": rate * standard / temperature,
            "indicated_airspeed_rate_ms2": 0.0,
            "ground_speed_rate_ms2": (growth - self.shear) * rate + gust,
            "ground_speed_ms": true,
        }

    def level(self, share: float, point: int) -> dict[str, object]:
        """One level run at about a share of rated power."""
        world = self.world
        altitude = 1220 + world.uniform(-200, 200)
        pressure, temperature, vapour = self.atmosphere(altitude)
        drag = 1 + world.drag[self.flight.block]
        true = float(
            truth.airspeed_for_power(
                self.config, share * 78e3, pressure, temperature, vapour, self.weight,
                parasite_factor=drag,
            )
        )  # fmt: skip
        sink = (self.rise + world.noise(8 * FT / 60)) * self.weight * 9.80665 / true
        state = truth.level_state(
            self.config, true, pressure, temperature, vapour, self.weight, excess_n=-sink,
            parasite_factor=drag,
        )  # fmt: skip
        calibrated = float(air.calibrated_ms(true, pressure, temperature))
        burn = (1 + world.burn[self.flight.block]) / (1 + world.fuel)
        return self.row("level run", "", altitude, point) | {
            "indicated_airspeed_ms": self.indicated(calibrated) + world.noise(0.4 * KT),
            "outside_air_temperature_k": temperature - world.probe_k,
            "power_w": self.power(float(state.power_w)),
            "engine_speed_rps": float(state.speed_rps),
            "fuel_flow_m3s": float(state.fuel_m3_s) * burn * (1 + world.noise(0.008)),
            "pressure_altitude_rate_ms": world.noise(0.03),
            "indicated_airspeed_rate_ms2": 0.0,
            "ground_speed_rate_ms2": 0.0,
            "ground_speed_ms": true,
        }


def make_segments(campaign: Campaign, world: World) -> pd.DataFrame:
    """All test points of a campaign."""
    rows: list[dict[str, object]] = []
    altitudes = campaign.reference.climb_pressure_altitudes_m
    for flight in campaign.flights:
        flown = Flown(world, flight)
        rows += [flown.takeoff(n) for n in range(2)]
        for place, altitude in enumerate(altitudes):
            rows += [flown.climb(f"climb_{place + 1}", altitude, 10 * n + place) for n in range(2)]
        shares = world.random.permutation([0.53, 0.62, 0.70, 0.78])
        rows += [flown.level(float(share), n) for n, share in enumerate(shares)]
    return pd.DataFrame(rows)


def reference_truth(campaign: Campaign) -> dict[tuple[str, str, str], float]:
    """True metrics on the reference day, SI, from the demo's airplane."""
    found = {}
    reference = campaign.reference
    weight = reference.weight_kg
    for name, config in truth.CONFIGURATIONS.items():
        run = truth.ground_run(
            config, reference.liftoff_airspeed_ms,
            *truth.standard_air(reference.takeoff_pressure_altitude_m), weight,
        )  # fmt: skip
        found["takeoff_ground_roll", "takeoff", name] = float(run.distance_m)
        found["takeoff_time_to_liftoff", "takeoff", name] = float(run.time_s)
        for place, altitude in enumerate(reference.climb_pressure_altitudes_m):
            state = truth.climb_state(
                config, reference.climb_airspeed_ms, *truth.standard_air(altitude), weight
            )
            found["climb_rate", f"climb_{place + 1}", name] = float(state.rate_ms)
            found["climb_gradient", f"climb_{place + 1}", name] = float(state.gradient)
        air_ = truth.standard_air(reference.cruise_pressure_altitude_m)
        for share in reference.cruise_power_fraction:
            true = truth.airspeed_for_power(config, share * 78e3, *air_, weight)
            flow = float(truth.level_state(config, true, *air_, weight).fuel_m3_s)
            key = f"cruise_{100 * share:g}"
            found["cruise_true_airspeed", key, name] = float(true)
            found["fuel_flow", key, name] = flow
            found["specific_range", key, name] = float(true) / flow
    return found


def one(
    campaign: Campaign, seed: int, size: float, draws: int
) -> dict[tuple[str, str, str], tuple]:
    """Value, low, high (and verdict) of every metric of one campaign; 'B-A' for differences."""
    world = World(campaign, seed, size)
    flown = make_flights(campaign, world)
    world.campaign = flown
    analysis = analyse(flown, make_segments(flown, world), Draws(draws, seed=seed))
    found = {}
    for outcome in analysis.outcomes:
        if outcome.estimate is not None:
            key = (outcome.metric, outcome.condition_id, outcome.configuration)
            found[key] = (outcome.estimate.value, *outcome.estimate.interval(), "")
    for effect in compare(flown, analysis.outcomes, flown_apart(flown, analysis.reduced)):
        if effect.difference is not None:
            key = (effect.b.metric, effect.b.condition_id, "B-A")
            found[key] = (
                effect.difference.value, *effect.difference.interval(), effect.verdict,
            )  # fmt: skip
    return found


class Tally:
    """What the generated campaigns gave, metric by metric."""

    def __init__(self, known: dict[tuple[str, str, str], float]) -> None:
        self.known = known
        self.covered: dict = defaultdict(list)
        self.halves: dict = defaultdict(list)
        self.errors: dict = defaultdict(list)
        self.clean: dict = defaultdict(list)
        self.verdicts: dict = defaultdict(lambda: defaultdict(int))

    def add(self, found: dict[tuple[str, str, str], tuple]) -> None:
        """Count a campaign with errors and noise."""
        for key, (value, low, high, verdict) in found.items():
            if key in self.known:
                self.covered[key].append(low <= self.known[key] <= high)
                self.halves[key].append((high - low) / 2)
                self.errors[key].append(value - self.known[key])
                self.verdicts[key][verdict] += 1

    def add_clean(self, found: dict[tuple[str, str, str], tuple]) -> None:
        """Count a campaign without errors and noise: what is left is model mismatch."""
        for key, (value, *_) in found.items():
            if key in self.known:
                self.clean[key].append(value - self.known[key])

    def lines(self) -> list[str]:
        """One line a metric."""
        printed = [
            f"{'metric':<26}{'condition':<12}{'of':<5}{'n':>5}{'cover %':>9}{'half':>10}"
            f"{'mean err':>10}{'mismatch':>10}{'mism/half':>10}  verdicts"
        ]
        for key in sorted(self.covered):
            half = float(np.median(self.halves[key]))
            shift = float(np.mean(self.clean[key])) if self.clean[key] else float("nan")
            said = ", ".join(f"{v}: {n}" for v, n in self.verdicts[key].items() if v)
            printed.append(
                f"{key[0]:<26}{key[1]:<12}{key[2]:<5}{len(self.covered[key]):>5}"
                f"{100 * np.mean(self.covered[key]):>9.1f}{half:>10.4g}"
                f"{np.mean(self.errors[key]):>10.3g}{shift:>10.3g}{shift / half:>10.2f}  {said}"
            )
        return printed


def main() -> None:
    """Print coverage and model mismatch for every metric."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--campaigns", type=int, default=200)
    parser.add_argument("--draws", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    campaign = load_campaign(DEMO)
    known = reference_truth(campaign)
    for metric, condition, name in list(known):
        if name == "B":
            known[metric, condition, "B-A"] = (
                known[metric, condition, "B"] - known[metric, condition, "A"]
            )
    tally, started = Tally(known), time.perf_counter()
    for number in range(options.campaigns):
        seed = options.seed * 100_000 + number
        tally.add(one(campaign, seed, 1.0, options.draws))
        if number < 20:
            tally.add_clean(one(campaign, seed, 0.0, 2))
    spent = time.perf_counter() - started
    print(f"{options.campaigns} campaigns, {options.draws} draws, {spent:.0f} s")
    print("\n".join(tally.lines()))


if __name__ == "__main__":
    main()
