"""Read many spoilt recordings: no crash, none slow, every row accounted, no wrong success.

Run ``python tests/benchmarks/mutate_recordings.py`` (number of files and first seed may be given).
It prints a table by kind of mutation and ends with 1 if a recording that breaks a stated invariant
in a used sample was taken without a word.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "lib")]

from tests.mutate_files import RELATIONS, Count, Judge, Score  # noqa: E402


def share(told: int, all_of_them: int) -> str:
    return f"{told}/{all_of_them}" + (f" ({told / all_of_them:.0%})" if all_of_them else "")


def line(name: str, count: Count) -> str:
    return (f"{name:15s}{count.files:7d}{count.refused:9d}{count.unchanged:11d}"
            f"{share(count.breaking_told, count.breaking):>20s}"
            f"{share(count.other_told, count.other):>20s}")


def main(files: int, seed: int) -> int:
    score = Score()
    start = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        judge = Judge(Path(folder))
        for number in range(files):
            judge.judge(np.random.default_rng([seed, number]), score)
    print(f"{files} spoilt files, seed {seed}, {time.perf_counter() - start:.0f} s; slowest "
          f"{score.slowest_s:.2f} s; no crash; rows in = rows accounted in all")
    print(f"{'mutation':15s}{'files':>7s}{'refused':>9s}{'unchanged':>11s}"
          f"{'breaks, told':>20s}{'other, told':>20s}")
    total = Count()
    for name, count in sorted(score.counts.items()):
        print(line(name, count))
        for key, value in vars(count).items():
            setattr(total, key, getattr(total, key) + value)
    print(line("all", total))
    print("unchanged: no used sample differs; breaks: time order, row width, header fingerprint,")
    print("; ".join(RELATIONS))
    print(f"wrong successes: {len(score.wrong)}")
    for text in score.wrong[:20]:
        print(f"  {text}")
    return int(bool(score.wrong))


if __name__ == "__main__":
    given = [int(text) for text in sys.argv[1:]]
    sys.exit(main(given[0] if given else 10_000, given[1] if len(given) > 1 else 20_240_501))
