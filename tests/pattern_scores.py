"""Counts of right and wrong patterns and legs, and errors of their velocities."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from stdday.candidates import Candidate
from stdday.find_patterns import find_patterns
from stdday.leg_state import leg_bounds, leg_state
from stdday.signals import Trace
from tests import make_patterns

#: A leg flown for less than this [s] may be found or not: 20 s after trimming are needed.
SURE_S = 36.0


@dataclass
class Score:
    """Counts by kind, and errors of mean velocities [m/s]."""

    right: dict[str, int] = field(default_factory=dict)
    wrong: dict[str, list[str]] = field(default_factory=dict)
    missed: dict[str, list[str]] = field(default_factory=dict)
    named: list[str] = field(default_factory=list)
    misnamed: list[str] = field(default_factory=list)
    errors: dict[str, list[float]] = field(default_factory=dict)

    def hit(self, kind: str) -> None:
        self.right[kind] = self.right.get(kind, 0) + 1

    def precision(self, kind: str) -> float:
        right = self.right.get(kind, 0)
        return right / max(right + len(self.wrong.get(kind, [])), 1)

    def recall(self, kind: str) -> float:
        right = self.right.get(kind, 0)
        return right / max(right + len(self.missed.get(kind, [])), 1)

    def text(self) -> str:
        lines = [
            f"{kind:<18} right {self.right.get(kind, 0):4d}  precision {self.precision(kind):.3f}  "
            f"recall {self.recall(kind):.3f}"
            for kind in sorted({*self.right, *self.missed, *self.wrong})
        ]
        lines.append(f"shape named right: {len(self.named)} of "
                     f"{len(self.named) + len(self.misnamed)}")
        for name, values in sorted(self.errors.items()):
            array = np.array(values)
            array = array[np.isfinite(array)]    # an arc in a hole of the recording has none
            rms = np.sqrt((array**2).mean())
            lines.append(f"{name:<34} n {len(array):5d} of {len(values):5d}  rms {rms:.3f}  "
                         f"mean {array.mean():+.3f}  95 % within "
                         f"{np.percentile(abs(array), 95):.3f} m/s")
        return "\n".join(lines)


def _overlap(first: tuple[float, float], second: tuple[float, float]) -> float:
    return max(0.0, min(first[1], second[1]) - max(first[0], second[0]))


def score_flights(seeds: Iterable[int], rate_hz: float) -> Score:
    """Score the search over random made flights."""
    score = Score()
    for seed in seeds:
        made = make_patterns.make_flight(seed, rate_hz)
        trace = Trace(made.time_s, made.channels)
        used = [one for one in find_patterns(trace) if one.used]
        _patterns(score, seed, made, used)
        for one in used:
            _legs(score, seed, made, trace, one)
        _missed_legs(score, seed, made, used)
    return score


def _bounds(pattern: make_patterns.Pattern) -> tuple[float, float]:
    return pattern.legs[0][0], pattern.legs[-1][1]


def _patterns(
    score: Score, seed: int, made: make_patterns.Made, used: list[Candidate]
) -> None:
    taken: set[int] = set()
    for truth in made.patterns:
        bounds = _bounds(truth)
        # One found pattern for each flown one: two run together leave one of them missed.
        near = [place for place, one in enumerate(used) if place not in taken
                and _overlap(bounds, (one.start_s, one.end_s)) > 0.6 * (bounds[1] - bounds[0])]
        if not near:
            score.missed.setdefault("pattern", []).append(f"{seed}: {truth}")
            continue
        score.hit("pattern")
        taken.add(near[0])
        right = used[near[0]].pattern in truth.shape or truth.shape == "box or triangle"
        (score.named if right else score.misnamed).append(f"{seed}: {truth} {used[near[0]]}")
    for place, one in enumerate(used):
        if place not in taken:
            score.wrong.setdefault("pattern", []).append(f"{seed}: {one}")


def _legs(
    score: Score, seed: int, made: make_patterns.Made, trace: Trace, one: Candidate
) -> None:
    kind = "arc" if one.pattern == "circle" else "leg"
    flown = [leg for truth in made.patterns for leg in truth.legs
             if (truth.shape == "circle") == (kind == "arc")]
    for _, start, end in leg_bounds(one):
        if max((_overlap((start, end), leg) for leg in flown), default=0.0) < 0.9 * (end - start):
            score.wrong.setdefault(kind, []).append(f"{seed}: {start} {end} {one}")
            continue
        score.hit(kind)
        _velocity(score, made, trace, one.pattern, start, end)


def _velocity(
    score: Score, made: make_patterns.Made, trace: Trace, pattern: str, start: float, end: float
) -> None:
    """Along and across the true velocity: the mean of a leg, of an arc its length at the middle."""
    state = leg_state(trace, start, end, pattern, True)
    found = np.array([state["ground_east_ms"], state["ground_north_ms"]], dtype=float)
    inside = (made.fine_s >= start) & (made.fine_s <= end)
    if pattern == "circle":
        # A lag turns the vector and leaves its length through the air.
        wind = np.array([part[inside].mean() for part in made.wind_ms])
        length = float(np.hypot(*(found - wind)))
        score.errors.setdefault("arc velocity through the air [m/s]", []).append(
            length - float(made.airspeed_ms[inside].mean()))
        return
    true = np.array([made.east_ms[inside].mean(), made.north_ms[inside].mean()])
    along = true / np.hypot(*true)
    error = found - true
    score.errors.setdefault("leg velocity, along [m/s]", []).append(float(error @ along))
    across = float(error[0] * along[1] - error[1] * along[0])
    score.errors.setdefault("leg velocity, across [m/s]", []).append(across)


def _missed_legs(
    score: Score, seed: int, made: make_patterns.Made, used: list[Candidate]
) -> None:
    found = [leg for one in used for leg in one.legs]
    for truth in made.patterns:
        if truth.shape == "circle":
            continue
        for leg in truth.legs:
            length = leg[1] - leg[0]
            if length < SURE_S:
                continue
            # Of the settled part at least half must have been found.
            if sum(_overlap(leg, one) for one in found) < 0.5 * (length - 12.0):
                score.missed.setdefault("leg", []).append(f"{seed}: {leg} of {truth}")
