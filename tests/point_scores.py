"""Counts of right and wrong test points, and errors of their times, over made flights."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from stdday.candidates import Candidate
from stdday.find_climbs import find_climbs
from stdday.find_level_runs import find_level_runs
from stdday.find_takeoffs import find_takeoffs
from stdday.signals import Trace
from tests import make_flights

LIFTOFF_MS = 25.0


@dataclass
class Score:
    """Counts by kind and errors of times [s]."""

    right: dict[str, int] = field(default_factory=dict)
    wrong: dict[str, list[str]] = field(default_factory=dict)
    missed: dict[str, list[str]] = field(default_factory=dict)
    errors: dict[str, list[float]] = field(default_factory=dict)

    def hit(self, kind: str) -> None:
        self.right[kind] = self.right.get(kind, 0) + 1

    def error(self, name: str, value: float) -> None:
        self.errors.setdefault(name, []).append(float(value))

    def precision(self, kind: str) -> float:
        right = self.right.get(kind, 0)
        return right / max(right + len(self.wrong.get(kind, [])), 1)

    def recall(self, kind: str) -> float:
        right = self.right.get(kind, 0)
        return right / max(right + len(self.missed.get(kind, [])), 1)

    def text(self) -> str:
        lines = []
        for kind in sorted({*self.right, *self.missed, *self.wrong}):
            lines.append(
                f"{kind:<22} right {self.right.get(kind, 0):4d}  "
                f"precision {self.precision(kind):.3f}  recall {self.recall(kind):.3f}"
            )
        for name, values in sorted(self.errors.items()):
            array = np.array(values)
            array = array[np.isfinite(array)]
            if not len(array):
                continue
            lines.append(
                f"{name:<30} n {len(array):4d}  mean {array.mean():+.2f}  sd {array.std():.2f}  "
                f"median {np.median(array):+.2f}  95 % within {np.percentile(abs(array), 95):.2f}"
            )
        return "\n".join(lines)


def _overlap(first: tuple[float, float], second: tuple[float, float]) -> float:
    return max(0.0, min(first[1], second[1]) - max(first[0], second[0]))


def score_flights(seeds: Iterable[int], rate_hz: float) -> Score:
    """Score the search over random made flights."""
    score = Score()
    for seed in seeds:
        made = make_flights.make_flight(seed, rate_hz)
        trace = Trace(made.time_s, made.channels)
        takeoffs = find_takeoffs(trace, liftoff_airspeed_ms=LIFTOFF_MS)
        _takeoffs(score, seed, made, takeoffs)
        _steady(score, seed, "climb", made.truth.climbs, find_climbs(trace), 0.5)
        levels = find_level_runs(trace, liftoff_airspeed_ms=LIFTOFF_MS)
        _steady(score, seed, "level run", made.truth.levels, levels, 0.4)
    return score


def _takeoffs(score: Score, seed: int, made: make_flights.Made, found: list[Candidate]) -> None:
    kind = "take-off"
    used = [one for one in found if one.used]
    taken = set()
    for truth in made.truth.takeoffs:
        near = [
            place
            for place, one in enumerate(used)
            if abs(one.start_s - truth["release"]) < 8 and place not in taken
        ]
        if not near:
            score.missed.setdefault(kind, []).append(f"{seed}: {truth}")
            continue
        score.hit(kind)
        taken.add(near[0])
        _times(score, truth, used[near[0]], "pitch" in made.channels)
    for place, one in enumerate(used):
        if place not in taken:
            score.wrong.setdefault(kind, []).append(f"{seed}: {one}")
    for rolling in made.truth.rolling:
        seen = [one for one in found if one.start_s < rolling["liftoff"] < one.end_s + 5]
        ok = any(not one.used and "rolling" in one.reason for one in seen)
        if ok:
            score.hit("rolling start named")
        else:
            score.missed.setdefault("rolling start named", []).append(f"{seed}")


def _times(score: Score, truth: dict[str, float], one: Candidate, pitch: bool) -> None:
    technique = "soft field" if truth["soft"] else "with pitch" if pitch else "without pitch"
    details = one.details
    score.error(f"lift-off, {technique} [s]", details["liftoff_s"] - truth["liftoff"])
    score.error("brake release [s]", details["brake_release_s"] - truth["release"])
    score.error("50 ft [s]", details["height50_s"] - truth["up15"])
    if not truth["soft"]:
        found = details["liftoff_s"] - details["brake_release_s"]
        score.error("time to lift-off [s]", found - (truth["liftoff"] - truth["release"]))


def _steady(
    score: Score,
    seed: int,
    kind: str,
    truths: list[tuple[float, float]],
    found: list[Candidate],
    share: float,
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
        inside = sum(_overlap(one, (first - 32, last + 8)) for first, last in truths)
        if inside < 0.8 * (one[1] - one[0]):
            score.wrong.setdefault(kind, []).append(f"{seed}: {one}")
