"""How right columns proposals are on invented recordings in many shapes.

Run ``python tests/benchmarks/propose_columns.py [dev|held|all]`` from the root of the project. A
channel is right when its column, its unit and, where proposed, its north are; asking is right too,
and counted. `Sure` and wrong must never happen.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2] / "lib"), str(Path(__file__).parents[2])]

from tests.recordings.scored import score  # noqa: E402
from tests.recordings.shapes import HELD_OUT, SHAPES, Shape, make  # noqa: E402


def table(title: str, shapes: tuple[Shape, ...]) -> None:
    """Print one line a shape and the sum."""
    print(f"\n{title}\n{'shape':66} channels right asked sure-wrong likely-wrong  s")
    total = [0, 0, 0, 0, 0]
    failures: list[str] = []
    for shape in shapes:
        made = make(shape)
        start = time.perf_counter()
        try:
            result = score(made)
        except Exception as error:
            print(f"{shape.key[:66]:66} FAILED {type(error).__name__}: {error}")
            total[0] += len(made.truth)
            continue
        took = time.perf_counter() - start
        row = [result.channels, result.right, result.asked, len(result.sure_wrong),
               len(result.likely_wrong)]
        print(f"{shape.key[:66]:66} {row[0]:8} {row[1]:5} {row[2]:5} {row[3]:10} {row[4]:12} "
              f"{took:4.1f}")
        total = [one + two for one, two in zip(total, row, strict=True)]
        failures += [f"  {shape.key}: {text}" for text in (*result.failures, *(
            f"SURE AND WRONG {item}" for item in result.sure_wrong), *(
            f"not in the file: {item}" for item in result.invented))]
    share = 100.0 * total[1] / max(total[0], 1)
    print(f"{'all':66} {total[0]:8} {total[1]:5} {total[2]:5} {total[3]:10} {total[4]:12}")
    print(f"right: {share:.1f} % of the channels that matter\n" + "\n".join(failures))


if __name__ == "__main__":
    chosen = sys.argv[1] if len(sys.argv) > 1 else "all"
    if chosen in ("dev", "all"):
        table("Developed with", SHAPES)
    if chosen in ("held", "all"):
        table("Held out", HELD_OUT)
