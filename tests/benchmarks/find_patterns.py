"""How well airspeed-calibration patterns are found in made flights.

    python tests/benchmarks/find_patterns.py [--flights N] [--seed S]

Prints, at 1, 4 and 10 samples a second over N flights (default 300) with decoys mixed in, the
precision and recall of patterns and legs, and the errors of the legs' mean ground velocities.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
for place in (ROOT / "lib", ROOT):
    sys.path.insert(0, str(place))

from tests.pattern_scores import score_flights  # noqa: E402

RATES_HZ = (1.0, 4.0, 10.0)


def main(flights: int, seed: int, show: bool) -> None:
    for rate in RATES_HZ:
        begun = time.perf_counter()
        score = score_flights(range(seed, seed + flights), rate)
        took = time.perf_counter() - begun
        print(f"\n{flights} flights from seed {seed} at {rate:g} Hz ({took:.1f} s with making "
              "them)")
        print(score.text())
        if show:
            for name, lists in (("wrong", score.wrong), ("missed", score.missed)):
                for kind, lines in lists.items():
                    for line in lines:
                        print(f"  {name} {kind}: {line}")
            for line in score.misnamed:
                print(f"  misnamed: {line}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--flights", type=int, default=300)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--show", action="store_true", help="print what was wrong or missed")
    given = parser.parse_args()
    main(given.flights, given.seed, given.show)
