"""Time reading a large recording against a bare ``pandas.read_csv`` of the same file.

Run ``python tests/benchmarks/read_recording.py`` (rows and repeats may be given). Each time is that
of a fresh process, the two taken in turn, from the call on (imports left out); the medians are
compared, and those of the processor's time beside them, which a busy machine disturbs less. Of the
forty columns two are the time and twelve are channels: the reader reads those, pandas all. The
reader also accounts for every row, makes the time base and runs every check of the recording.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

LIBRARY = Path(__file__).parents[2] / "lib"
CHANNELS = {
    "latitude": ("deg", 50.0, 0.01), "longitude": ("deg", 8.0, 0.01),
    "ground_speed": ("kt", 90.0, 0.5), "track": ("deg", 180.0, 20.0),
    "indicated_airspeed": ("kt", 90.0, 2.0), "indicated_altitude": ("ft", 3000.0, 20.0),
    "altimeter_setting": ("inHg", 29.92, 0.0), "vertical_speed": ("ft/min", 0.0, 100.0),
    "outside_air_temperature": ("degC", 12.0, 0.5), "engine_speed": ("rpm", 5000.0, 10.0),
    "fuel_flow": ("L/h", 20.0, 0.3), "power": ("%", 70.0, 1.0),
}


def write(folder: Path, rows: int) -> None:
    """Write a recording of 40 columns and its columns file."""
    generator = np.random.default_rng(1)
    clock = pd.date_range("2024-05-01 10:00:00", periods=rows, freq="s")
    columns = {"Date": clock.strftime("%Y-%m-%d"), "Time": clock.strftime("%H:%M:%S")}
    for name, (_, mean, spread) in CHANNELS.items():
        columns[name] = np.round(mean + spread * generator.standard_normal(rows), 4)
    for number in range(40 - len(columns)):
        columns[f"other {number}"] = np.round(100.0 + generator.standard_normal(rows), 2)
    pd.DataFrame(columns).to_csv(folder / "one.csv", index=False)
    lines = ['delimiter = ","', "header_rows = [1]",
             'time = { columns = ["Date", "Time"], format = "%Y-%m-%d %H:%M:%S" }', "[channels]"]
    for name, (unit, _, _) in CHANNELS.items():
        north = ', reference = "true"' if name == "track" else ""
        lines.append(f'{name} = {{ column = "{name}", unit = "{unit}"{north} }}')
    (folder / "panel.toml").write_text("\n".join(lines) + "\n")


def once(kind: str, folder: Path) -> tuple[float, float]:
    """Seconds of one reading in this process, by the wall clock and of the processor."""
    if kind == "pandas":
        start, worked = time.perf_counter(), time.process_time()
        pd.read_csv(folder / "one.csv")
        return time.perf_counter() - start, time.process_time() - worked
    from stdday.columns import load_columns  # noqa: PLC0415
    from stdday.recording import FlightSource, read_source  # noqa: PLC0415

    columns = load_columns(folder / "panel.toml")
    source = FlightSource("F1", (("one.csv", folder / "one.csv"),), (columns,),
                          rated_power_w=78_000.0)
    start, worked = time.perf_counter(), time.process_time()
    recording = read_source(source)
    seconds = time.perf_counter() - start, time.process_time() - worked
    assert recording.rows.used == recording.rows.in_file
    return seconds


def compare(rows: int, repeats: int) -> None:
    """Time both in turn and print the medians."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write(folder, rows)
        size = (folder / "one.csv").stat().st_size / 1e6
        times: dict[str, list[tuple[float, ...]]] = {"pandas": [], "stdday": []}
        for _ in range(repeats):
            for kind, found in times.items():
                done = subprocess.run([sys.executable, __file__, kind, name], check=True,
                                      capture_output=True, text=True,
                                      env={"PYTHONPATH": str(LIBRARY)})
                found.append(tuple(map(float, done.stdout.split())))
    print(f"{rows} rows x 40 columns, {size:.0f} MB, median of {repeats}:")
    for place, clock in enumerate(("wall clock", "processor")):
        medians = {}
        for kind, found in times.items():
            seconds = [one[place] for one in found]
            medians[kind] = statistics.median(seconds)
            print(f"  {clock:11s}{kind:8s}{medians[kind]:7.2f} s   ({min(seconds):.2f} to "
                  f"{max(seconds):.2f})")
        print(f"  {clock:11s}ratio   {medians['stdday'] / medians['pandas']:7.2f}")


if __name__ == "__main__":
    arguments = sys.argv[1:]
    if arguments and arguments[0] in ("pandas", "stdday"):
        print(*once(arguments[0], Path(arguments[1])))
    else:
        compare(int(arguments[0]) if arguments else 1_000_000,
                int(arguments[1]) if len(arguments) > 1 else 5)
