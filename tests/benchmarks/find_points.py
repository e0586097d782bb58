"""How well test points are found in made flights: `python tests/benchmarks/find_points.py [N]`.

Prints, for 1, 4 and 10 samples a second over N flights (default 200) with all traps mixed in, the
precision and recall of each kind and the errors of the times of take-offs.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
for place in (ROOT / "lib", ROOT):
    sys.path.insert(0, str(place))

from tests.point_scores import score_flights  # noqa: E402

RATES_HZ = (1.0, 4.0, 10.0)


def main(flights: int) -> None:
    for rate in RATES_HZ:
        begun = time.perf_counter()
        score = score_flights(range(flights), rate)
        took = time.perf_counter() - begun
        print(f"\n{flights} flights at {rate:g} Hz ({took:.1f} s with making them)")
        print(score.text())


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
