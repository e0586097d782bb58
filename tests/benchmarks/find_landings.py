"""How well landings are found: `python tests/benchmarks/find_landings.py --flights 200 --seed 0`.

Prints, for 1, 4 and 10 samples a second over made flights with all endings mixed in, precision and
recall of landings that carry a ground roll, what became of the others, and errors of touchdown,
50 ft and roll.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter, defaultdict
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "lib")]

from stdday.candidates import Candidate  # noqa: E402
from stdday.find_landings import find_landings  # noqa: E402
from stdday.landing_state import landing_state  # noqa: E402
from stdday.signals import Trace  # noqa: E402
from tests.make_landings import ENDINGS, Landing, make_landings  # noqa: E402


class Score:
    """Counts and errors."""

    def __init__(self) -> None:
        self.fate: dict[str, Counter[str]] = defaultdict(Counter)
        self.wrong: list[str] = []
        self.missed: list[str] = []
        self.right = 0
        self.errors: dict[str, list[float]] = defaultdict(list)

    def flight(self, seed: int, rate_hz: float) -> None:
        """Search one flight."""
        made = make_landings(seed, rate_hz)
        trace = Trace(made.time_s, made.channels)
        found = find_landings(trace)
        left = list(found)
        for truth in made.landings:
            near = [one for one in left if self._is(one, truth)]
            if near:
                left.remove(near[0])
            self._judge(seed, trace, truth, near[0] if near else None)
        for one in left:
            if one.used:
                self.wrong.append(f"{seed}: {one}")
            self.fate["(nothing)"][one.reason or "used"] += 1

    @staticmethod
    def _is(one: Candidate, truth: Landing) -> bool:
        moment = one.details.get("touchdown_s", (one.start_s + one.end_s) / 2)
        return bool(abs(moment - truth.touchdown_s) < 12)

    def _judge(self, seed: int, trace: Trace, truth: Landing, one: Candidate | None) -> None:
        fate = "not found" if one is None else one.reason.split(":")[0] or "used"
        self.fate[truth.ending][fate] += 1
        wanted = ENDINGS[truth.ending]
        if one is None or not one.used:
            self.missed += [f"{seed}: {truth.ending}, {fate}"] if wanted else []
            return
        if not wanted:
            self.wrong.append(f"{seed}: {truth.ending}")
            return
        self.right += 1
        touch = one.details["touchdown_s"] - truth.touchdown_s
        self.errors["touchdown [s]"].append(touch)
        self.errors["touchdown error / sigma"].append(touch / one.details["touchdown_sigma_s"])
        self.errors["50 ft [s]"].append(one.details["height50_s"] - truth.height50_s)
        state = landing_state(trace, one)
        self.errors["ground roll [%]"].append(100 * (state["landing_roll_m"] / truth.roll_m - 1))
        own = state["landing_roll_m"] - truth.roll_m
        self.errors["ground roll error / sigma"].append(own / state["landing_roll_sigma_m"])
        self.errors["air distance [%]"].append(100 * (state["air_distance_m"] / truth.air_m - 1))

    def text(self) -> str:
        """Everything in lines."""
        precision = self.right / max(self.right + len(self.wrong), 1)
        recall = self.right / max(self.right + len(self.missed), 1)
        lines = [f"ground rolls: right {self.right}, precision {precision:.3f}, "
                 f"recall {recall:.3f}"]
        for ending, fates in sorted(self.fate.items()):
            told = ", ".join(f"{count} {fate}" for fate, count in fates.most_common())
            lines.append(f"  {ending:<14} {told}")
        for name, values in self.errors.items():
            known = np.array(values)[np.isfinite(values)]
            lines.append(f"  {name:<26} n {len(known):4d}  mean {known.mean():+.2f}  "
                         f"sd {known.std():.2f}  95 % within "
                         f"{np.percentile(np.abs(known), 95):.2f}")
        return "\n".join(lines)


def main() -> None:
    """Score at three rates."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--flights", type=int, default=200)
    options.add_argument("--seed", type=int, default=0)
    options.add_argument("--rates", type=float, nargs="+", default=[1.0, 4.0, 10.0])
    asked = options.parse_args()
    for rate in asked.rates:
        begun, score = time.perf_counter(), Score()
        for seed in range(asked.seed, asked.seed + asked.flights):
            score.flight(seed, rate)
        print(f"\n{asked.flights} flights at {rate:g} Hz ({time.perf_counter() - begun:.0f} s "
              f"with making them)\n{score.text()}")


if __name__ == "__main__":
    main()
