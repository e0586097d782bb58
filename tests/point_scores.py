"""Counts of right and wrong test points, and errors of their times, over made flights."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from stdday.candidates import Candidate
from stdday.find_climbs import find_climbs
from stdday.find_level_runs import find_level_runs
from stdday.find_takeoffs import find_takeoffs
from stdday.signals import Trace
from stdday.takeoff_state import takeoff_state
from tests import make_flights
from tests.make_sensors import jump_left

LIFTOFF_MS = 25.0
#: Why a take-off is set aside for the doubt about its lift-off: told apart from one not found.
DOUBT = "lift-off known to"


@dataclass
class Score:
    """Counts by kind; errors of times and other figures, each with its sigma where it has one."""

    right: dict[str, int] = field(default_factory=dict)
    wrong: dict[str, list[str]] = field(default_factory=dict)
    missed: dict[str, list[str]] = field(default_factory=dict)
    doubted: dict[str, list[str]] = field(default_factory=dict)
    errors: dict[str, list[float]] = field(default_factory=dict)
    sigmas: dict[str, list[float]] = field(default_factory=dict)

    def hit(self, kind: str) -> None:
        self.right[kind] = self.right.get(kind, 0) + 1

    def error(self, name: str, value: float, sigma: float = np.nan) -> None:
        self.errors.setdefault(name, []).append(float(value))
        self.sigmas.setdefault(name, []).append(float(sigma))

    def precision(self, kind: str) -> float:
        right = self.right.get(kind, 0)
        return right / max(right + len(self.wrong.get(kind, [])), 1)

    def recall(self, kind: str) -> float:
        right = self.right.get(kind, 0)
        return right / max(right + len(self.missed.get(kind, [])), 1)

    def within_sigma(self, name: str, sigmas: float) -> float:
        """Share of errors within so many of their own sigmas; NaN where none has one."""
        error, sigma = np.array(self.errors[name]), np.array(self.sigmas[name])
        known = np.isfinite(error) & np.isfinite(sigma)
        if not known.any():
            return float("nan")
        return float((np.abs(error[known]) <= sigmas * sigma[known]).mean())

    def text(self) -> str:
        lines = []
        for kind in sorted({*self.right, *self.missed, *self.wrong}):
            aside = len(self.doubted.get(kind, []))
            lines.append(
                f"{kind:<22} right {self.right.get(kind, 0):4d}  "
                f"precision {self.precision(kind):.3f}  recall {self.recall(kind):.3f}"
                + (f"  set aside for doubt {aside}" if aside else "")
            )
        lines += [self._line(name) for name in sorted(self.errors)]
        return "\n".join(line for line in lines if line)

    def _line(self, name: str) -> str:
        every = np.array(self.errors[name])
        array = every[np.isfinite(every)]
        if not len(array):
            return ""
        return (
            f"{name:<38} n {len(array):4d} of {len(every):4d}  mean {array.mean():+.2f}  "
            f"sd {array.std():.2f}  95 % within {np.percentile(abs(array), 95):.2f}  "
            f"1, 2 sigma cover {self.within_sigma(name, 1):.2f}, {self.within_sigma(name, 2):.2f}"
        )


def _overlap(first: tuple[float, float], second: tuple[float, float]) -> float:
    return max(0.0, min(first[1], second[1]) - max(first[0], second[0]))


def score_flights(seeds: Iterable[int], rate_hz: float) -> Score:
    """Score the search over random made flights."""
    score = Score()
    for seed in seeds:
        made = make_flights.make_flight(seed, rate_hz)
        trace = Trace(made.time_s, made.channels)
        takeoffs = find_takeoffs(trace, liftoff_airspeed_ms=LIFTOFF_MS)
        score_takeoffs(score, str(seed), trace, made.truth, takeoffs)
        if not {"pressure_altitude", "indicated_airspeed"} <= set(made.channels):
            continue  # no climb and no level run without both
        _steady(score, seed, "climb", made.truth.climbs, find_climbs(trace), 0.5)
        levels = find_level_runs(trace, liftoff_airspeed_ms=LIFTOFF_MS)
        _steady(score, seed, "level run", made.truth.levels, levels, 0.4, made.truth.also_level)
    return score


def score_takeoffs(
    score: Score, name: str, trace: Trace, truth: make_flights.Truth, found: list[Candidate]
) -> None:
    """Score the take-offs of one recording, and the delays that were found for it."""
    taken = set()
    for one in truth.takeoffs:
        near = [
            place
            for place, candidate in enumerate(found)
            if abs(candidate.start_s - one["release"]) < 8
            and (candidate.used or candidate.reason.startswith(DOUBT))
            and place not in taken
        ]
        if not near:
            score.missed.setdefault("take-off", []).append(f"{name}: {one}")
            continue
        taken.add(near[0])
        score.hit("take-off")
        candidate = found[near[0]]
        if candidate.used:
            _times(score, one, candidate, trace)
        else:
            score.doubted.setdefault("take-off", []).append(f"{name}: {candidate.reason}")
        _figures(score, {**truth.sensors, **one}, candidate, trace)
    for place, candidate in enumerate(found):
        if candidate.used and place not in taken:
            score.wrong.setdefault("take-off", []).append(f"{name}: {candidate}")
    for rolling in truth.rolling:
        seen = [one for one in found if one.start_s < rolling["liftoff"] < one.end_s + 5]
        if any(not one.used and "rolling" in one.reason for one in seen):
            score.hit("rolling start named")
        else:
            score.missed.setdefault("rolling start named", []).append(name)


def _group(truth: dict[str, float], trace: Trace) -> str:
    """Which goal a lift-off falls under: technique, and the channels that respond to it."""
    quick = [name for name in ("pitch", "normal_acceleration") if trace.has(name)]
    told = "with pitch" if "pitch" in quick else "with load alone" if quick else "with neither"
    if "pitch" in quick and not trace.has("indicated_airspeed"):
        told = "with pitch, no airspeed"
    if not trace.has("gps_altitude"):
        told += ", no GPS height"
    return f"{'soft field, ' if truth['soft'] else ''}{told}"


def _times(score: Score, truth: dict[str, float], one: Candidate, trace: Trace) -> None:
    found = one.details
    score.error(
        f"lift-off, {_group(truth, trace)} [s]",
        found["liftoff_s"] - truth["liftoff"],
        found["liftoff_sigma_s"],
    )
    score.error(
        "brake release [s]",
        found["brake_release_s"] - truth["release"],
        found["brake_release_sigma_s"],
    )
    score.error("50 ft [s]", found["height50_s"] - truth["up15"], found["height50_sigma_s"])
    if not truth["soft"]:
        taken = found["liftoff_s"] - found["brake_release_s"]
        score.error("time to lift-off [s]", taken - (truth["liftoff"] - truth["release"]))
        state = takeoff_state(trace, one)
        for name, key in (("ground_roll_m", "roll_m"), ("distance50_m", "distance50_m")):
            if key in truth:
                score.error(f"{name} [%]", 100 * (state[name] / truth[key] - 1))


def _figures(score: Score, truth: dict[str, float], one: Candidate, trace: Trace) -> None:
    """Delays and static jump."""
    for name in ("airspeed_delay", "gps_delay"):
        score.error(
            f"{name.replace('_', ' ')} [s]",
            one.details[f"{name}_s"] - truth[f"{name}_s"],
            one.details[f"{name}_sigma_s"],
        )
    if trace.has("pressure_altitude") and "jump_m" in truth:
        state = takeoff_state(trace, one)
        score.error(
            "static jump [m]",
            state["static_jump_m"] - truth["jump_m"] * jump_left(truth["headwind"]),
            state["static_jump_sigma_m"],
        )


def _steady(
    score: Score,
    seed: int,
    kind: str,
    truths: list[tuple[float, float]],
    found: list[Candidate],
    share: float,
    allowed: Sequence[tuple[float, float]] = (),
) -> None:
    used = [(one.start_s, one.end_s) for one in found if one.used]
    for truth in truths:
        if truth[1] - truth[0] < 65:
            continue
        covered = sum(_overlap(truth, one) for one in used)
        if covered >= share * (truth[1] - truth[0]):
            score.hit(kind)
        else:
            score.missed.setdefault(kind, []).append(f"{seed}: {truth}")
    for one in used:
        inside = sum(_overlap(one, (first - 32, last + 8)) for first, last in [*truths, *allowed])
        if inside < 0.8 * (one[1] - one[0]):
            score.wrong.setdefault(kind, []).append(f"{seed}: {one}")
