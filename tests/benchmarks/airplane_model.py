"""Generated campaigns for the airplane model: coverage, bias and width against an oracle's.

Run: ``python tests/benchmarks/airplane_model.py --campaigns 1000``.

Flights with level runs, check climbs and sawtooth climbs of the demo's airplane, which is richer
than the reducer: its engine, propellers and drag follow other laws. Errors are drawn from the
declared sizes. The oracle knows the form of the model, the noise within flights and the sizes of
the shared errors; it estimates the scatter between flights from the same flights. Bias is the mean
error of all campaigns; mismatch the error of campaigns without any noise.
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
from stdday import power_model  # noqa: E402
from stdday.campaign import Campaign, load_campaign  # noqa: E402
from stdday.climb_model import SPEED_UNIT_MS as CLIMB_UNIT_MS  # noqa: E402
from stdday.climb_model import day, equivalent_ms, fit_climbs  # noqa: E402
from stdday.compare import compare  # noqa: E402
from stdday.level_fit import SPEED_UNIT_MS, LevelFit  # noqa: E402
from stdday.outcome import analyse  # noqa: E402
from stdday.reduce_level import reduce_levels  # noqa: E402
from stdday.statistics import Estimate  # noqa: E402
from stdday.throttle import propeller_slopes  # noqa: E402
from stdday.uncertainty import Draws  # noqa: E402
from tests.benchmarks.campaigns import DEMO, World, make_flights  # noqa: E402

KT, FT, GRAVITY = 1852 / 3600, 0.3048, 9.80665
SHARES = (0.50, 0.58, 0.66, 0.72, 0.78)
#: Calibrated airspeeds of sawtooth climbs [kt].
TEETH = (54, 60, 66, 72, 78)
#: Noise of single points: airspeed held [m/s], power [-], rate of level runs and climbs [m/s].
AIRSPEED, POWER, LEVEL_RATE, CLIMB_RATE = 0.4 * KT, 0.006, 8 * FT / 60, 12 * FT / 60
#: Indicated and calibrated airspeed of the owner's table [kt].
TABLE = ((40, 42.3), (60, 61.2), (80, 80.3), (100, 99.5), (130, 128.6))
#: Errors that the oracle cannot avoid either.
KNOWN = {"shared", "configuration", "block"}


def load() -> Campaign:
    """Demo campaign with a table of calibrated airspeeds in place of its calibration flights."""
    campaign = load_campaign(DEMO)
    table = tuple((shown * KT, true * KT) for shown, true in TABLE)
    airplanes = {
        name: replace(one, airspeed_calibration=table, temperature_recovery_factor=0.0)
        for name, one in campaign.airplanes.items()
    }
    return replace(campaign, airplanes=airplanes)


class Flown:
    """One flight's air and instruments, and the test points it gives."""

    def __init__(self, world: World, flight, number: int) -> None:
        self.world, self.flight, self.number = world, flight, number
        self.config = truth.CONFIGURATIONS[flight.configuration]
        elevation = world.campaign.airfields[flight.airfield].elevation_m
        at_field = flight.altimeter_setting_pa * (1 - 2.25577e-5 * elevation) ** 5.25588
        field = float(air.pressure_altitude_m(at_field))
        self.warm = flight.reported_temperature_k - float(air.standard_temperature_k(field))
        self.vapour = float(air.vapour_pressure_pa(flight.reported_dew_point_k))
        self.weight = flight.takeoff_weight_kg + world.noise(world.campaign.sigma("weight"))
        self.rise = world.noise(15 * FT / 60) + world.rise[flight.block]
        self.shear = world.uniform(0.0, 0.006)

    def air(self, altitude: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Pressure [Pa], temperature [K] and vapour pressure [Pa] at pressure altitudes."""
        pressure = np.asarray(air.standard_pressure_pa(altitude))
        warm = np.asarray(air.standard_temperature_k(altitude)) + self.warm
        return pressure, warm, self.vapour * pressure / 101325

    def noises(self, sigma: float, count: int) -> np.ndarray:
        """Independent noise of points."""
        return np.array([self.world.noise(sigma) for _ in range(count)])

    def indicated(self, calibrated: np.ndarray) -> np.ndarray:
        """What the airspeed indicator shows."""
        world, table = self.world, np.array(TABLE) * KT
        angle = np.interp(calibrated, [20, 65], [0, np.pi / 2])
        error = world.slow * np.cos(angle) + world.fast * np.sin(angle)
        shown = calibrated - error - world.own[self.flight.configuration]
        return np.interp(shown, table[:, 1], table[:, 0])

    def power(self, value: np.ndarray) -> np.ndarray:
        """Power as the panel shows it."""
        scale = 1 + self.world.power + self.world.power_own[self.flight.configuration]
        return value / scale * (1 + self.noises(POWER, len(value)))

    def frame(self, kind: str, conditions: list[str], columns: dict) -> pd.DataFrame:
        """Rows of segments."""
        count = len(conditions)
        names = [f"{self.flight.id}-{kind}-{self.number:02d}{n:04d}" for n in range(count)]
        return pd.DataFrame(
            {
                "point": names, "condition_id": conditions, "flight": self.flight.id,
                "configuration": self.flight.configuration, "kind": kind, "fuel_used_m3": 0.0,
                "elapsed_since_first_takeoff_s": 0.0, "indicated_airspeed_rate_ms2": 0.0,
            }
            | columns
        )  # fmt: skip

    def climbs(self) -> pd.DataFrame:
        """Check climbs through both altitudes and sawtooth climbs through one of them."""
        world = self.world
        wanted = world.campaign.reference.climb_pressure_altitudes_m
        tooth = self.number % len(wanted)
        speeds = np.array([62.0] * len(wanted) + list(TEETH))
        places = np.array([*range(len(wanted)), *[tooth] * len(TEETH)])
        count = len(speeds)
        altitude = np.array(wanted)[places] + [world.uniform(-40, 40) for _ in range(count)]
        calibrated = (speeds + [world.uniform(-1.5, 1.5) for _ in range(count)]) * KT
        pressure, temperature, vapour = self.air(altitude)
        state = truth.climb_state(
            self.config, calibrated, pressure, temperature, vapour, self.weight,
            parasite_factor=1 + world.drag[self.flight.block],
        )  # fmt: skip
        growth = state.tas_ms * 4.6e-5
        inertia = 1 + state.tas_ms / GRAVITY * growth
        rate = state.rate_ms * inertia / (inertia - state.tas_ms / GRAVITY * self.shear)
        rate = rate + self.rise + self.noises(CLIMB_RATE, count)
        standard = np.asarray(air.standard_temperature_k(altitude))
        return self.frame(
            "climb",
            [f"climb_{place + 1}" for place in places],
            {
                "pressure_altitude_m": altitude + world.altitude_m,
                "indicated_airspeed_ms": self.indicated(calibrated) + self.noises(0.2 * KT, count),
                "outside_air_temperature_k": temperature - world.probe_k,
                "power_w": self.power(state.power_w),
                "engine_speed_rps": state.speed_rps * (1 + self.noises(0.002, count)),
                "fuel_flow_m3s": state.fuel_m3_s / (1 + world.fuel),
                "pressure_altitude_rate_ms": rate * standard / temperature,
                "ground_speed_rate_ms2": (growth - self.shear) * rate + self.noises(0.002, count),
                "ground_speed_ms": state.tas_ms,
            },
        )

    def levels(self) -> pd.DataFrame:
        """Level runs at shares of rated power."""
        world, count = self.world, len(SHARES)
        shares = np.array(SHARES) + [world.uniform(-0.02, 0.02) for _ in SHARES]
        altitude = 1220 + np.array([world.uniform(-200, 200) for _ in SHARES])
        pressure, temperature, vapour = self.air(altitude)
        dirty = 1 + world.drag[self.flight.block]
        true = truth.airspeed_for_power(
            self.config, shares * 78e3, pressure, temperature, vapour, self.weight,
            parasite_factor=dirty,
        )  # fmt: skip
        rise = self.rise + self.noises(LEVEL_RATE, count)
        state = truth.level_state(
            self.config, true, pressure, temperature, vapour, self.weight,
            excess_n=-rise * self.weight * GRAVITY / true, parasite_factor=dirty,
        )  # fmt: skip
        calibrated = np.asarray(air.calibrated_ms(true, pressure, temperature))
        burn = (1 + world.burn[self.flight.block]) / (1 + world.fuel)
        return self.frame(
            "level run",
            [""] * count,
            {
                "pressure_altitude_m": altitude + world.altitude_m,
                "indicated_airspeed_ms": self.indicated(calibrated) + self.noises(AIRSPEED, count),
                "outside_air_temperature_k": temperature - world.probe_k,
                "power_w": self.power(state.power_w),
                "engine_speed_rps": state.speed_rps,
                "fuel_flow_m3s": state.fuel_m3_s * burn * (1 + self.noises(0.008, count)),
                "pressure_altitude_rate_ms": self.noises(0.03, count),
                "ground_speed_rate_ms2": 0.0,
                "ground_speed_ms": true,
            },
        )


def make_segments(campaign: Campaign, world: World) -> pd.DataFrame:
    """All test points of a campaign."""
    flown = [Flown(world, flight, number) for number, flight in enumerate(campaign.flights)]
    rows = [one.climbs() for one in flown] + [one.levels() for one in flown]
    return pd.concat(rows, ignore_index=True)


def made(campaign: Campaign, seed: int, size: float) -> tuple[Campaign, pd.DataFrame]:
    """One campaign and its segments."""
    world = World(campaign, seed, size)
    flown = make_flights(campaign, world)
    world.campaign = flown
    return flown, make_segments(flown, world)


def reference_truth(campaign: Campaign) -> dict[tuple[str, str, str], float]:
    """True metrics on the reference day, SI."""
    found: dict[tuple[str, str, str], float] = {}
    reference, powers = campaign.reference, {}
    air_ = truth.standard_air(reference.cruise_pressure_altitude_m)
    for name, config in truth.CONFIGURATIONS.items():
        for place, altitude in enumerate(reference.climb_pressure_altitudes_m, start=1):
            grid = np.linspace(50, 85, 701) * KT
            there = truth.standard_air(np.full_like(grid, altitude))
            state = truth.climb_state(config, grid, *there, reference.weight_kg)
            best = int(np.argmax(state.rate_ms))
            found["best_rate_airspeed", f"bestrate_{place}", name] = float(grid[best])
            found["climb_rate", f"bestrate_{place}", name] = float(state.rate_ms[best])
            common = np.interp(reference.climb_airspeed_ms, grid, state.rate_ms)
            found["climb_rate", f"climb_{place}", name] = float(common)
        for share in reference.cruise_power_fraction:
            true = truth.airspeed_for_power(config, share * 78e3, *air_, reference.weight_kg)
            found["cruise_true_airspeed", f"cruise_{100 * share:g}", name] = float(true)
        speeds = np.array([100, 110]) * KT
        state = truth.level_state(config, speeds, *air_, reference.weight_kg)
        powers[name] = state.power_w
    for place, speed in enumerate((100, 110)):
        ratio = float(powers["A"][place] / powers["B"][place])
        found["installed_efficiency_ratio", f"efficiency_{speed}", "A"] = 1.0
        found["installed_efficiency_ratio", f"efficiency_{speed}", "B"] = ratio
    for metric, condition, name in list(found):
        if name == "B":
            one, other = (found[metric, condition, which] for which in "BA")
            found[metric, condition, "B-A"] = one - other
    return found


def _scatter(residual: np.ndarray, design: np.ndarray, flights: np.ndarray, noise: np.ndarray):
    """Variance between flights, estimated with the noise within them known, and its freedom."""
    names = np.unique(flights)
    weights = 1 / noise**2
    root = np.sqrt(weights)[:, None]
    fitted = design @ np.linalg.lstsq(design * root, residual * root[:, 0], rcond=None)[0]
    left = residual - fitted
    means = [np.average(left[flights == n], weights=weights[flights == n]) for n in names]
    within = np.mean([1 / weights[flights == n].sum() for n in names])
    freedom = len(names) - 2
    return max(float(np.sum(np.square(means))) / freedom - within, 0.0), freedom


def _gls(design: np.ndarray, flights: np.ndarray, noise: np.ndarray, between: float) -> np.ndarray:
    """Covariance of generalised least squares."""
    same = flights[:, None] == flights[None, :]
    inverse = np.linalg.inv(np.diag(noise**2) + between * same)
    return np.linalg.inv(design.T @ inverse @ design)


class Oracle:
    """Widths of an analyst who knows the model and all sizes but the scatter between flights."""

    def __init__(self, noisy, clean) -> None:
        self.level = self._levels(noisy, clean)
        self.climb = self._climbs(noisy, clean)

    def _levels(self, noisy, clean):
        fits, still = (reduce_levels(c, _kind(s, "level run"), Draws(0))[1] for c, s in
                       (noisy, clean))  # fmt: skip
        if any(fit.reason for fit in (*fits.values(), *still.values())):
            return None
        designs, left, flights, noise = [], [], [], []
        for place, (name, fit) in enumerate(still.items()):
            x = fit.speed_ms[0] / SPEED_UNIT_MS
            a, b, shift, slope = fit.coefficients[0, :4]
            part = power_model.model_slopes(x, a, b, fit.middle)
            own = np.zeros((len(x), 4))
            own[:, 0:2] = part[:, :2]
            own[:, 2:4] = part[:, 2:] if place else 0.0
            steep = power_model.model_exponent(x, a, b, slope)
            now = fits[name]
            expected = power_model.model_power(
                now.speed_ms[0] / SPEED_UNIT_MS, a, b, shift, slope, fit.middle
            )
            there = power_model.model_power(x, a, b, shift, slope, fit.middle)
            rated = fit.rated_power_w
            left.append((now.power_w[0] / expected - fit.power_w[0] / there) / rated)
            rate = LEVEL_RATE * 570 * GRAVITY / 0.78 / fit.power_w[0]
            noise.append(np.sqrt(POWER**2 + (steep * AIRSPEED / fit.speed_ms[0]) ** 2 + rate**2))
            designs.append(own)
            flights += fit.flights
        design, residual = np.concatenate(designs), np.concatenate(left)
        names, sigma = np.array(flights), np.concatenate(noise)
        between, freedom = _scatter(residual, design, names, sigma)
        return still, _gls(design, names, sigma, between), freedom

    def _climbs(self, noisy, clean):
        fits, still = (
            fit_climbs(c, _kind(s, "climb"), Draws(0), propeller_slopes(c, s), {})[0]
            for c, s in (noisy, clean)
        )
        designs, left, flights = [], [], []
        columns = 4
        for place, (name, fit) in enumerate(still.items()):
            x = np.array(
                [equivalent_ms(v, *day(fit.reference, fit.altitudes_m[p])[:2])
                 for v, p in zip(fit.calibrated_ms, fit.places, strict=True)]
            ) / CLIMB_UNIT_MS  # fmt: skip
            ratio = np.array([day(fit.reference, fit.altitudes_m[p])[2] for p in fit.places])
            own = np.zeros((len(x), 2 * columns))
            base = columns * place
            own[np.arange(len(x)), base + fit.places] = 1.0
            own[:, base + 2], own[:, base + 3] = -(x**3), -1 / x
            designs.append(own)
            now = fits[name]
            curve = np.array([now.rate_ms[i] - fit.rate(fit.coefficients[:1],
                              now.calibrated_ms[[i]], p)[0, 0] for i, p in enumerate(fit.places)])
            zero = np.array([fit.rate_ms[i] - fit.rate(fit.coefficients[:1],
                             fit.calibrated_ms[[i]], p)[0, 0] for i, p in enumerate(fit.places)])
            left.append((curve - zero) * np.sqrt(ratio))
            flights += fit.flights
        design, residual, names = np.concatenate(designs), np.concatenate(left), np.array(flights)
        sigma = np.full(len(residual), np.hypot(CLIMB_RATE, 0.002 * 33 / GRAVITY * 4))
        between, freedom = _scatter(residual, design, names, sigma)
        return still, _gls(design, names, sigma, between), freedom

    def half(self, key: tuple[str, str, str], outcomes: dict, known: dict) -> float:
        """Half-width of the oracle's 95 % interval; NaN where it has none."""
        metric, condition, which = key
        sides = [(1.0, "B"), (-1.0, "A")] if which == "B-A" else [(1.0, which)]
        level = metric in ("cruise_true_airspeed", "installed_efficiency_ratio")
        source = self.level if level else self.climb
        if source is None:
            return float("nan")
        still, covariance, freedom = source
        total = np.zeros(len(covariance))
        deviations: np.ndarray | float = 0.0
        for sign, name in sides:
            own = outcomes.get((metric, condition, name))
            if own is None or name not in still:
                return float("nan")
            total += sign * self._gradient(metric, condition, name, still)
            deviations = deviations + sign * known[metric, condition, name]
        error = float(np.sqrt(total @ covariance @ total))
        low, high = Estimate(0.0, error, freedom, np.asarray(deviations)).interval()
        return (high - low) / 2

    def _gradient(self, metric: str, condition: str, name: str, still) -> np.ndarray:
        fit = still[name]
        if isinstance(fit, LevelFit):
            return self._level_gradient(metric, condition, name, fit)
        place = int(condition.rpartition("_")[2]) - 1
        result = np.zeros(8)

        def value(rows: np.ndarray) -> np.ndarray:
            if condition.startswith("climb"):
                return fit.rate(rows, np.array([fit.reference.climb_airspeed_ms]), place)[:, 0]
            grid = np.linspace(fit.slowest_ms, fit.fastest_ms, 2001)
            rate = fit.rate(rows, grid, place)
            best = np.argmax(rate, axis=1)
            if metric == "climb_rate":
                return rate[np.arange(len(rows)), best]
            return grid[best]

        for column in range(4):
            size = 0.02 * abs(fit.coefficients[0, column])
            rows = np.repeat(fit.coefficients[:1], 2, axis=0)
            rows[:, column] += [size, -size]
            pair = value(rows)
            result[4 * (name == "B") + column] = (pair[0] - pair[1]) / (2 * size)
        return result

    def _level_gradient(
        self, metric: str, condition: str, name: str, fit: LevelFit
    ) -> np.ndarray:
        reference = self.level_reference
        ratio = day(reference, reference.cruise_pressure_altitude_m)[2]
        number = float(condition.rpartition("_")[2])
        result = np.zeros(4)
        base = fit.coefficients[0, :4]

        def value(own: np.ndarray) -> float:
            if metric == "installed_efficiency_ratio":
                x = number * KT * np.sqrt(ratio) / SPEED_UNIT_MS
                return float(power_model.efficiency_ratio(x, own[2], own[3], fit.middle))
            power = number / 100 * np.sqrt(ratio)
            x = power_model.model_speed(power, *own, fit.middle)
            return float(x) * SPEED_UNIT_MS / np.sqrt(ratio)

        for column in range(4 if name == "B" else 2):
            size = 1e-4 * max(abs(base[column]), 0.1)
            up, down = base.copy(), base.copy()
            up[column] += size
            down[column] -= size
            result[column] = (value(up) - value(down)) / (2 * size)
        return result

    level_reference = None


def _kind(segments: pd.DataFrame, kind: str) -> pd.DataFrame:
    return segments[segments["kind"] == kind]


def one(campaign: Campaign, seed: int, draws: int, wanted: dict) -> dict[tuple, tuple]:
    """Value, low, high and the oracle's half-width of every metric of one campaign."""
    noisy, clean = made(campaign, seed, 1.0), made(campaign, seed, 0.0)
    analysis = analyse(*noisy, Draws(draws, seed=seed))
    outcomes = {(o.metric, o.condition_id, o.configuration): o for o in analysis.outcomes}
    only = Draws(draws, seed=seed).only(KNOWN)
    known = {
        (o.metric, o.condition_id, o.configuration): o.estimate.deviations
        for o in analyse(*noisy, only).outcomes if o.estimate is not None
    }  # fmt: skip
    effects = {
        (e.b.metric, e.b.condition_id, "B-A"): e.difference
        for e in compare(noisy[0], analysis.outcomes, {})
    }
    oracle, found = Oracle(noisy, clean), {}
    oracle.level_reference = campaign.reference
    for key in wanted:
        estimate = effects.get(key) if key[2] == "B-A" else getattr(outcomes.get(key), "estimate",
                                                                    None)  # fmt: skip
        if estimate is not None:
            half = oracle.half(key, {k: o for k, o in outcomes.items() if o.estimate}, known)
            found[key] = (estimate.value, *estimate.interval(), half)
    return found


def values_only(campaign: Campaign, seed: int, size: float) -> dict[tuple, float]:
    """Values of one campaign without intervals; of size 0 without errors and noise."""
    flown, segments = made(campaign, seed, size)
    analysis = analyse(flown, segments, Draws(2, seed=seed))
    found = {(o.metric, o.condition_id, o.configuration): o.estimate.value
             for o in analysis.outcomes if o.estimate is not None}  # fmt: skip
    for metric, condition, name in list(found):
        if name == "B" and (metric, condition, "A") in found:
            both = found[metric, condition, "B"] - found[metric, condition, "A"]
            found[metric, condition, "B-A"] = both
    return found


class Tally:
    """What the generated campaigns gave, metric by metric."""

    def __init__(self, known: dict[tuple, float]) -> None:
        self.known = known
        self.rows: dict = defaultdict(list)
        self.errors: dict = defaultdict(list)
        self.mismatch: dict = defaultdict(list)

    def add(self, campaign: Campaign, seed: int, options: argparse.Namespace) -> None:
        """One campaign in full, and more of them for their values alone."""
        for key, row in one(campaign, seed, options.draws, self.known).items():
            self.rows[key].append(row)
        for more in range(1, options.bias + 1):
            self._note(self.errors, values_only(campaign, seed + more, 1.0))
        if len(self.mismatch) == 0 or len(next(iter(self.mismatch.values()))) < 20:
            self._note(self.mismatch, values_only(campaign, seed, 0.0))

    def _note(self, where: dict, values: dict[tuple, float]) -> None:
        for key in self.known.keys() & values.keys():
            where[key].append(values[key] - self.known[key])

    def line(self, key: tuple[str, str, str]) -> str:
        """Coverage, bias and mismatch over the half-width, and width over the oracle's."""
        if not self.rows[key]:
            return f"{key[0]:<28}{key[1]:<14}{key[2]:<4} refused in every campaign"
        value, low, high, half = np.array(self.rows[key]).T
        own, true = np.median((high - low) / 2), self.known[key]
        error = np.array([*(value - true), *self.errors[key]])
        covered = 100 * np.mean((low <= true) & (true <= high))
        spread = np.std(error) / np.sqrt(len(error)) / own
        clean = np.mean(self.mismatch[key]) if self.mismatch[key] else np.nan
        return (
            f"{key[0]:<28}{key[1]:<14}{key[2]:<4}{len(value):>5}{covered:>8.1f}"
            f"{len(error):>6}{np.mean(error) / own:>8.3f}{spread:>7.3f}{clean / own:>8.3f}"
            f"{np.nanmedian((high - low) / 2 / half):>7.2f}{own:>10.4g}"
        )


def main() -> None:
    """Print coverage, bias, mismatch and width of every metric."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--campaigns", type=int, default=200)
    parser.add_argument("--bias", type=int, default=4, help="further campaigns each, values only")
    parser.add_argument("--minutes", type=float, default=1e9, help="begin none after so long")
    parser.add_argument("--draws", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    campaign = load()
    known = {k: v for k, v in reference_truth(campaign).items()
             if not (k[0] == "installed_efficiency_ratio" and k[2] != "B-A")}  # fmt: skip
    tally, started, done = Tally(known), time.perf_counter(), 0
    while done < options.campaigns and time.perf_counter() - started < 60 * options.minutes:
        tally.add(campaign, options.seed * 1_000_000 + done * (options.bias + 1), options)
        done += 1
    spent = time.perf_counter() - started
    print(f"{done} campaigns, {options.draws} draws, seed {options.seed}, {spent:.0f} s; bias "
          f"from {options.bias} times as many more; half-width in SI")  # fmt: skip
    print(f"{'metric':<28}{'condition':<14}{'of':<4}{'n':>5}{'cover':>8}{'n':>6}{'bias':>8}"
          f"{'+-':>7}{'mism':>8}{'width':>7}{'half':>10}")  # fmt: skip
    print("\n".join(tally.line(key) for key in known))


if __name__ == "__main__":
    main()
