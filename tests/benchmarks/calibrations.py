"""Generated calibrations at leg level: does the band cover the whole of the true curve?

Run: ``python tests/benchmarks/calibrations.py --campaigns 2000 --seed 1``.

The worlds are richer than the fit, and differ from one another: true curves of three families with
wiggles, wind that wanders along and drifts within patterns, gusts with heavy tails, GPS noise, a
probe and an altimeter that err, headings and airspeeds flown inexactly, one to six patterns.
"""

from __future__ import annotations

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "lib")]

from stdday.pattern_curve import curve_with  # noqa: E402
from stdday.pattern_fit import fit_patterns  # noqa: E402
from stdday.pattern_legs import LegArrays  # noqa: E402

KT, FT = 1852 / 3600, 0.3048
SIGMA_K, SIGMA_M = 1.0, 20 * FT


@dataclass(frozen=True)
class World:
    """Sizes of what a world does, in kt where not said; each campaign draws within them."""

    gust: tuple[float, float] = (0.3, 1.1)  # noise of a leg, between these
    tails: float = 0.10  # share of legs with four times the noise
    wiggle: tuple[float, float] = (0.0, 0.8)  # amplitude
    wander: float = 1.0  # of a wind component, one sigma in ten minutes, half of it a steady drift
    patterns: tuple[int, int] = (1, 6)
    speed_scatter: float = 2.0  # between legs of one pattern
    heading_scatter: float = 8.0  # deg
    wind: float = 25.0  # at most


WORLDS = {
    "mixed": World(),
    "calm air": World(gust=(0.15, 0.4), tails=0.0, wander=0.3, wiggle=(0.0, 0.4)),
    "rough air": World(gust=(0.8, 2.0), tails=0.05, wander=1.5),
    "heavy tails": World(tails=0.25),
    "wiggly curve": World(wiggle=(0.5, 1.5)),
    "drifting wind": World(wander=3.0),
    "few patterns": World(patterns=(1, 2)),
    "many patterns": World(patterns=(5, 8)),
    "sloppy flying": World(speed_scatter=4.0, heading_scatter=18.0),
    "clean boxes": World(gust=(0.3, 0.7), tails=0.0, patterns=(1, 1), wander=0.5),
}


def true_curve(random: np.random.Generator, world: World, low: float, high: float):
    """Correction [kt] as a function of indicated airspeed [kt]: three families and wiggles."""
    family = random.integers(3)
    wiggle, length = random.uniform(*world.wiggle), random.uniform(25, 70)
    phase, level, slope = random.uniform(0, 6.3), 2.5 * random.normal(), 0.015 * random.normal()
    bend = random.normal()
    places = np.linspace(low - 20, high + 20, 7)
    kinks = 0.5 * random.normal(size=7)

    def curve(v):
        x = (v - low) / (high - low)
        if family == 0:  # static error that follows the angle of attack
            shape = level + slope * v + 1.5 * bend * (low / v) ** 2
        elif family == 1:  # instrument with kinks
            shape = level + slope * v + np.interp(v, places, kinks)
        else:  # a smooth step, as where flow separates
            shape = level + slope * v + bend * np.tanh(4 * (x - 0.3))
        return shape + wiggle * np.sin(2 * np.pi * v / length + phase)

    return curve


def true_kt(calibrated, pressure_ratio, temperature):
    """True airspeed, by the generator's own formula."""
    impact = (1 + 0.2 * (calibrated / 661.4786) ** 2) ** 3.5 - 1
    mach = np.sqrt(5 * ((impact / pressure_ratio + 1) ** (2 / 7) - 1))
    return mach * 38.967854 * np.sqrt(temperature)


def pattern(random, kind):
    """Headings [deg], duration of a leg [s] and of a turn, angle turned in a leg [rad]."""
    start, turn = random.uniform(0, 360), random.choice([-1, 1])
    if kind == "circle":
        return start + turn * 45.0 * np.arange(8), 22.0, 0.0, np.pi / 4
    number = 4 if kind == "box" else 3
    return start + turn * 360.0 / number * np.arange(number), random.uniform(45, 90), 45.0, 0.0


def made(random: np.random.Generator, world: World):
    """One campaign: its legs, its true curve, and the true winds of its patterns."""
    low = random.uniform(45, 65)
    high = low * random.uniform(1.6, 2.4)
    curve = true_curve(random, world, low, high)
    gust = random.uniform(*world.gust)
    bias_k, bias_m = SIGMA_K * random.normal(), SIGMA_M * random.normal()
    rows, winds = [], []
    count = int(random.integers(world.patterns[0], world.patterns[1] + 1))
    for number in range(count):
        kind = "box" if world is WORLDS["clean boxes"] else random.choice(
            ["box", "box", "triangle", "circle"])
        headings, leg_s, turn_s, turned = pattern(random, kind)
        speed = random.uniform(low, high)
        from_rad, size = random.uniform(0, 6.3), random.uniform(0, world.wind)
        wind = size * np.array([np.sin(from_rad), np.cos(from_rad)])
        drift = 0.7 * world.wander * random.normal(size=2) / 600  # kt/s
        altitude, offset = random.uniform(2000, 8000) * FT, random.uniform(-10, 15)
        seen = []
        for place, heading in enumerate(headings):
            at = place * (leg_s + turn_s)
            air = wind + drift * at
            wind = wind + 0.7 * world.wander * random.normal(size=2) * np.sqrt(
                (leg_s + turn_s) / 600)
            still = random.normal() * world.heading_scatter * (turned == 0)
            theta = np.radians(heading + still)
            indicated = speed + (world.speed_scatter if turned == 0 else 0.7) * random.normal()
            height = altitude + 15 * random.normal()
            ratio = (1 - 2.25577e-5 * height) ** 5.25588
            temperature = 288.15 - 0.0065 * height + offset
            noise = gust * (4 if random.random() < world.tails else 1)
            true = true_kt(indicated + curve(indicated), ratio, temperature)
            unit = np.array([np.sin(theta), np.cos(theta)])
            ground = true * unit + air + noise * random.normal(size=2)
            ground = ground + 0.1 * random.normal(size=2)
            measured = (1 - 2.25577e-5 * (height + bias_m + 2 * random.normal())) ** 5.25588
            rows.append((indicated + 0.15 * random.normal(), 101325 * measured,
                         temperature + bias_k + 0.2 * random.normal(), *ground, number, at))
            seen.append(air)
        winds.append(np.mean(seen, axis=0))
    columns = np.array(rows).T
    nothing = np.full(len(rows), np.nan)
    legs = LegArrays(
        indicated_ms=columns[0] * KT, pressure_pa=columns[1], temperature_k=columns[2],
        ground_east_ms=columns[3] * KT, ground_north_ms=columns[4] * KT,
        direct_ms=nothing, course_ms=nothing, pattern=columns[5].astype(int), time_s=columns[6],
        known_sigma_ms=np.zeros(len(rows)), pattern_sigma_ms=np.zeros(len(rows)),
        across_sigma_ms=nothing, extra=np.empty((len(rows), 0)), extra_sigma_ms=np.empty(0),
    )
    return legs, curve, np.array(winds)


def one(task):
    """Figures of one campaign: band covers, share of points covered, errors, widths, wind."""
    name, seed = task
    random = np.random.default_rng([seed, sorted(WORLDS).index(name)])
    legs, curve, winds = made(random, WORLDS[name])
    fit = fit_patterns(legs)
    found = curve_with(fit, np.empty(0), SIGMA_K, 11.7 * SIGMA_M)
    flown = np.linspace(found.low_ms, found.high_ms, 33)
    off = (np.asarray(found.correction_ms(flown)) - curve(flown / KT) * KT) / KT
    sigma = np.asarray(found.sigma_ms(flown)) / KT
    beyond = np.array([0.85 * found.low_ms, 1.15 * found.high_ms])
    off_beyond = (np.asarray(found.correction_ms(beyond)) / KT - curve(beyond / KT)) / (
        np.asarray(found.sigma_ms(beyond)) / KT)
    drifted = (fit.wind_ms / KT - winds).ravel()
    wind_z = drifted / np.sqrt(
        np.diagonal(fit.wind_covariance, axis1=1, axis2=2)).ravel() * KT
    return (
        float(np.all(np.abs(off) <= found.band_factor * sigma)),
        float(np.mean(np.abs(off) <= 1.96 * sigma)),
        float(off.mean()), float(np.median(found.band_factor * sigma)),
        float(np.sqrt(np.mean(drifted**2))), float(np.mean(np.abs(wind_z) < 1.96)),
        float(np.mean(np.abs(off_beyond) < 1.96)), float(found.dof),
    )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--campaigns", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--worlds", nargs="*", default=["mixed"])
    given = parser.parse_args()
    names = list(WORLDS) if given.worlds == ["all"] else given.worlds
    print(f"{'world':14s} {'band':>7s} {'point':>7s} {'bias kt':>8s} {'half-w kt':>9s}"
          f" {'wind kt':>8s} {'wind95':>7s} {'beyond':>7s} {'dof':>6s} {'s':>5s}")
    with ProcessPoolExecutor(2) as pool:
        for name in names:
            begun = time.monotonic()
            tasks = [(name, given.seed * 1_000_000 + k) for k in range(given.campaigns)]
            table = np.array(list(pool.map(one, tasks, chunksize=25)))
            mean = table.mean(axis=0)
            print(f"{name:14s} {mean[0]:7.1%} {mean[1]:7.1%} {mean[2]:8.3f}"
                  f" {np.median(table[:, 3]):9.2f} {np.sqrt(np.mean(table[:, 4] ** 2)):8.2f}"
                  f" {mean[5]:7.1%} {mean[6]:7.1%} {np.median(table[:, 7]):6.1f}"
                  f" {time.monotonic() - begun:5.0f}", flush=True)


if __name__ == "__main__":
    main()
