"""Time and memory of an archive of flights: `python tests/benchmarks/archive.py [FLIGHTS]`.

Makes a campaign of many flights of 1 h at 1 Hz (200 unless told) out of the recordings of the
invented example, each moved to a day of its own and with noise of its own, so that no two files
hold the same bytes. Then runs it, each time in a fresh process, in turn: with one process and an
empty cache; the same again, nothing changed; into another place, so that all is made anew but what
the cache holds; with two processes and an empty cache. Last it sets the peaks of memory of the
largest process beside those of a tenth of the flights. Other work on the machine spoils the times:
the share of the processor that each run had is printed with it.
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import datetime
import filecmp
import gzip
import io
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data_demo" / "propeller_change"
LIBRARY = ROOT / "lib"
FIRST_DAY = datetime.date(2024, 1, 1)
#: Column with noise and its size, by columns file; a decimal of the column, so that it shows.
NOISE = {
    "panel": {"Airspeed ind": 0.3, "Height baro": 2.0, "Fuel rate": 0.1},
    "second_recorder": {"Staudruck-Tempo [km/h]": 0.5, "Durchfluss [L/h]": 0.1},
}
#: Lines above the names, separator, decimal sign, date column and its format, by columns file.
SHAPES = {
    "panel": (1, ",", ".", "Date", "%Y-%m-%d"),
    "second_recorder": (0, ";", ",", "Tag", "%d.%m.%Y"),
}


def make_archive(folder: Path, flights: int) -> Path:
    """Write a campaign of so many flights and return its folder."""
    (folder / "logs").mkdir(parents=True)
    shutil.copytree(DEMO / "columns", folder / "columns")
    shutil.copy(DEMO / "campaign.toml", folder)
    with (DEMO / "flights.csv").open(encoding="utf-8", newline="") as stream:
        own = [row for row in csv.DictReader(stream) if "|" not in row["log"]]
    rows = []
    for number in range(flights):
        source = own[number % len(own)]
        day = FIRST_DAY + datetime.timedelta(days=number)
        name = f"logs/f{number:04d}.csv"
        log = (DEMO / source["log"]).with_suffix("").with_suffix(".csv.gz")
        text = gzip.decompress(log.read_bytes()).decode("utf-8")
        (folder / name).write_text(moved(text, source["columns"], day, number), encoding="utf-8")
        rows.append(source | {"flight": f"F{number:04d}", "log": name, "date": day.isoformat()})
    with (folder / "flights.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)
    return folder


def moved(text: str, kind: str, day: datetime.date, seed: int) -> str:
    """Give a recording the date and noise of another flight."""
    above, separator, decimal, date, shape = SHAPES[kind]
    lines = text.splitlines(keepends=True)
    table = pd.read_csv(io.StringIO("".join(lines[above:])), sep=separator, dtype=str,
                        keep_default_na=False)
    table.loc[table[date] != "", date] = day.strftime(shape)
    random = np.random.default_rng(seed)
    for column, size in NOISE[kind].items():
        cells = table[column].str.replace(decimal, ".")
        values = pd.to_numeric(cells, errors="coerce").to_numpy()
        decimals = 0 if column == "Height baro" else 1
        noisy = np.round(values + size * random.standard_normal(len(values)), decimals)
        printed = [f"{value:.{decimals}f}".replace(".", decimal) for value in noisy]
        table[column] = np.where(np.isfinite(values), printed, table[column])
    return "".join(lines[:above]) + table.to_csv(sep=separator, index=False)


def once(folder: Path, out: Path, jobs: int) -> None:
    """Run in this process."""
    from stdday import pipeline  # noqa: PLC0415

    pipeline.run(folder, out=out, jobs=jobs)


def fresh(folder: Path, out: Path, jobs: int, keep_cache: bool) -> dict[str, float]:
    """Run in a fresh process, timed from its start to its end, and watch its processes."""
    if not keep_cache:
        shutil.rmtree(folder / ".cache", ignore_errors=True)
        shutil.rmtree(out, ignore_errors=True)
    begun = time.perf_counter()
    running = subprocess.Popen(
        [sys.executable, __file__, "--once", str(folder), str(out), str(jobs)],
        start_new_session=True, env=os.environ | {"PYTHONPATH": str(LIBRARY)})
    seen: dict[int, tuple[float, float]] = {}
    while running.returncode is None:
        seen |= watched(running.pid)
        with contextlib.suppress(subprocess.TimeoutExpired):
            running.wait(timeout=0.5)    # seldom: looking takes time from the run
    seconds = time.perf_counter() - begun
    if running.returncode:
        raise SystemExit(running.returncode)
    others = [peak for pid, (peak, _) in seen.items() if pid != running.pid]
    return {"seconds": seconds, "processor": sum(used for _, used in seen.values()),
            "own": seen[running.pid][0], "others": max(others, default=0.0)}


def watched(session: int) -> dict[int, tuple[float, float]]:
    """Peak of memory [MB] and seconds of processor of each process of a session, by id (Linux)."""
    found = {}
    for place in Path("/proc").glob("[0-9]*"):
        try:
            fields = (place / "stat").read_text().rpartition(")")[2].split()
            if int(fields[3]) == session:
                peak = (place / "status").read_text().partition("VmHWM:")[2].split()[0]
                used = (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
                found[int(place.name)] = (int(peak) / 1024, used)
        except (OSError, IndexError):    # it ended meanwhile
            continue
    return found


def same(one: Path, two: Path) -> bool:
    """Whether two folders hold the same files with the same bytes."""
    names = [sorted(path.relative_to(folder) for path in folder.rglob("*") if path.is_file())
             for folder in (one, two)]
    return names[0] == names[1] and not filecmp.cmpfiles(one, two, names[0], shallow=False)[1]


#: Ways to run: processes, whether the cache is kept, and the name of the results folder.
WAYS = {
    "one process": (1, False, "one"),
    "nothing changed": (1, True, "one"),
    "another place": (1, True, "place"),
    "two processes": (2, False, "two"),
}


def compare(flights: int, repeats: int) -> None:
    """Time all ways to run an archive, in turn, and print the medians."""
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        folder = make_archive(place / "archive", flights)
        size = sum(path.stat().st_size for path in (folder / "logs").iterdir()) / 1e6
        print(f"{flights} flights, {size:.0f} MB of recordings; median (least to most) of "
              f"{repeats}", flush=True)
        found: dict[str, list[dict[str, float]]] = {way: [] for way in WAYS}
        for _ in range(repeats):
            shutil.rmtree(place / "place", ignore_errors=True)
            for way, (jobs, keep, out) in WAYS.items():
                found[way].append(fresh(folder, place / out, jobs, keep))
        told(found)
        cache = [path.stat().st_size for path in (folder / ".cache").iterdir()]
        print(f"  cache            {sum(cache) / 1e6:8.1f} MB in {len(cache)} files")
        alike = all(same(place / "one", place / other) for other in ("place", "two"))
        print(f"  the same bytes each way: {'yes' if alike else 'NO'}")
        few = make_archive(place / "few", max(flights // 10, 2))
        for jobs in (1, 2):
            for archive, count in ((few, max(flights // 10, 2)), (folder, flights)):
                peak = fresh(archive, place / "peak", jobs, False)
                print(f"  peak, --jobs {jobs}, {count:4d} flights: {peak['own']:.0f} MB"
                      + (f"; of the largest other process {peak['others']:.0f} MB"
                         if jobs > 1 else ""), flush=True)


def told(found: dict[str, list[dict[str, float]]]) -> None:
    """Print times and ratios."""
    medians = {}
    for way, runs in found.items():
        times = [run["seconds"] for run in runs]
        share = statistics.median(run["processor"] / run["seconds"] for run in runs)
        medians[way] = statistics.median(times)
        print(f"  {way:16s}{medians[way]:8.2f} s   ({min(times):.2f} to {max(times):.2f}; "
              f"{share:.2f} processors)")
    first = medians["one process"]
    print(f"  two processes    {first / medians['two processes']:8.2f} times as fast as one")
    print(f"  a second run     {medians['nothing changed'] / first:8.3f} of the first")
    print(f"  another place    {medians['another place'] / first:8.3f} of the first")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--once"]:
        once(Path(sys.argv[2]), Path(sys.argv[3]), int(sys.argv[4]))
    else:
        parser = argparse.ArgumentParser(description=__doc__)
        parser.add_argument("flights", nargs="?", type=int, default=200)
        parser.add_argument("--repeats", type=int, default=3)
        options = parser.parse_args()
        compare(options.flights, options.repeats)
