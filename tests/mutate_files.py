"""Spoil a recording in one of many ways, read it, and judge what became of it.

What a mutation breaks is told from the spoilt file and from the samples that were used, by rules of
its own that are looser than the reader's checks: time order, row width, the header's fingerprint,
and the relations between channels that are named in `RELATIONS`. A *wrong success* is a recording
that was read, in which a used sample has changed and one of these is broken, and of which nothing
is said.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from stdday.columns import load_columns
from stdday.errors import StddayError
from stdday.recording import FlightSource, Recording, read_source
from tests.make_recording import ELEVATION_M, WRITTEN, flight_file

Rng = np.random.Generator
Lines = list[bytes]

PIECES = [b"", b"-", b"---", b"nan", b"inf", b"1e400", b"0x1F", b"118.5 RX", b"0", b"-1", b"-9999",
          b"=1+1", b"<b>", b'"', b" ", b"99:99", b"\xc3\xa9", b"\xff"]
SLIPS = (1.852, 1 / 1.852, 1.1508, 3.2808, 1 / 3.2808, 3.7854, 0.5, 10.0, 1.8, -1.0)


# ---------------------------------------------------------------- mutations


def lines_of(data: bytes) -> Lines:
    return data.split(b"\n")


def block(rng: Rng, lines: Lines) -> tuple[int, int]:
    """First and one past the last line of a block of data."""
    size = int(rng.integers(1, max(2, len(lines) // 4)))
    first = int(rng.integers(1, max(2, len(lines) - size - 1)))
    return first, min(first + size, len(lines) - 1)


def column(rng: Rng, least: int = 0) -> int:
    return int(rng.integers(least, len(WRITTEN) + 1))


def in_cells(lines: Lines, rows: range, change: Callable[[list[bytes]], list[bytes]]) -> bytes:
    """Change the cells of some rows."""
    changed = list(lines)
    for row in rows:
        changed[row] = b",".join(change(lines[row].split(b",")))
    return b"\n".join(changed)


def cut_end(rng: Rng, data: bytes) -> bytes:
    return data[: int(rng.integers(0, len(data)))]


def cut_bytes(rng: Rng, data: bytes) -> bytes:
    first = int(rng.integers(0, len(data)))
    return data[:first] + data[first + int(rng.integers(1, 300)):]


def insert_bytes(rng: Rng, data: bytes) -> bytes:
    place = int(rng.integers(0, len(data)))
    piece = PIECES[rng.integers(len(PIECES))]
    piece = piece if rng.random() < 0.5 else rng.bytes(int(rng.integers(1, 9)))
    return data[:place] + piece + data[place:]


def flip_bytes(rng: Rng, data: bytes) -> bytes:
    spoilt = bytearray(data)
    for place in rng.integers(0, len(data), int(rng.integers(1, 6))):
        spoilt[place] ^= 1 << int(rng.integers(8))
    return bytes(spoilt)


def repeat_lines(rng: Rng, data: bytes) -> bytes:
    lines = lines_of(data)
    first, last = block(rng, lines)
    return b"\n".join(lines[:last] + lines[first:last] + lines[last:])


def drop_lines(rng: Rng, data: bytes) -> bytes:
    lines = lines_of(data)
    first, last = block(rng, lines)
    return b"\n".join(lines[:first] + lines[last:])


def swap_lines(rng: Rng, data: bytes) -> bytes:
    lines = lines_of(data)
    one, other = (int(place) for place in rng.integers(0, len(lines) - 1, 2))
    lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


def move_block(rng: Rng, data: bytes) -> bytes:
    lines = lines_of(data)
    first, last = block(rng, lines)
    taken, rest = lines[first:last], lines[:first] + lines[last:]
    place = int(rng.integers(1, len(rest)))
    return b"\n".join(rest[:place] + taken + rest[place:])


def shuffle_block(rng: Rng, data: bytes) -> bytes:
    lines = lines_of(data)
    first, last = block(rng, lines)
    order = rng.permutation(np.arange(first, last)) if rng.random() < 0.5 else range(
        last - 1, first - 1, -1)
    return b"\n".join(lines[:first] + [lines[row] for row in order] + lines[last:])


def swap_columns(rng: Rng, data: bytes) -> bytes:
    """Exchange the data of two columns; the header stays."""
    lines, one, other = lines_of(data), column(rng), column(rng)

    def swapped(cells: list[bytes]) -> list[bytes]:
        cells[one], cells[other] = cells[other], cells[one]
        return cells

    first = 1 if rng.random() < 0.7 else int(rng.integers(1, len(lines) - 2))
    return in_cells(lines, range(first, len(lines) - 1), swapped)


def swap_names(rng: Rng, data: bytes) -> bytes:
    """Exchange two names in the header, or lose or misspell one."""
    lines, one, other = lines_of(data), column(rng), column(rng)

    def swapped(cells: list[bytes]) -> list[bytes]:
        if rng.random() < 0.6:
            cells[one], cells[other] = cells[other], cells[one]
        else:
            cells[one] = (b"", cells[other], cells[one][:-1], cells[one].upper())[rng.integers(4)]
        return cells

    return in_cells(lines, range(1), swapped)


def shift_cells(rng: Rng, data: bytes) -> bytes:
    """Lose or add a delimiter in some rows, so that cells stand one column off."""
    lines = lines_of(data)
    first, last = block(rng, lines)
    place, adds = column(rng), bool(rng.random() < 0.5)

    def shifted(cells: list[bytes]) -> list[bytes]:
        return [*cells[:place], *([b"", cells[place]] if adds else []), *cells[place + 1:]]

    return in_cells(lines, range(first, last), shifted)


def replace_cells(rng: Rng, data: bytes) -> bytes:
    """Other text in cells of one column."""
    lines, place = lines_of(data), column(rng)
    first, last = block(rng, lines)
    piece = PIECES[rng.integers(len(PIECES))]

    def replaced(cells: list[bytes]) -> list[bytes]:
        cells[place] = piece
        return cells

    return in_cells(lines, range(first, last if rng.random() < 0.5 else first + 1), replaced)


def change_digit(rng: Rng, data: bytes) -> bytes:
    """One digit of one cell."""
    places = np.flatnonzero(np.isin(np.frombuffer(data, dtype=np.uint8), np.arange(48, 58)))
    spoilt = bytearray(data)
    for place in rng.choice(places, int(rng.integers(1, 4))):
        spoilt[place] = 48 + int(rng.integers(10))
    return bytes(spoilt)


def numbers(rng: Rng, data: bytes, change: Callable[[float], float], whole: bool) -> bytes:
    """Change the numbers of a column, in all rows or in a block."""
    lines, place = lines_of(data), column(rng, 1)
    first, last = (1, len(lines) - 1) if whole else block(rng, lines)

    def changed(cells: list[bytes]) -> list[bytes]:
        cells[place] = f"{change(float(cells[place])):.11g}".encode()
        return cells

    return in_cells(lines, range(first, last), changed)


def other_unit(rng: Rng, data: bytes) -> bytes:
    factor = float(rng.choice(SLIPS))
    return numbers(rng, data, lambda value: value * factor, bool(rng.random() < 0.7))


def add_offset(rng: Rng, data: bytes) -> bytes:
    share = float(rng.choice([-2.0, -0.5, -0.1, 0.1, 0.5, 2.0, 10.0]))
    lines = lines_of(data)
    size = abs(float(lines[len(lines) // 2].split(b",")[column(rng, 1)])) + 1.0
    return numbers(rng, data, lambda value: value + share * size, bool(rng.random() < 0.4))


def freeze(rng: Rng, data: bytes) -> bytes:
    kept: list[float] = []

    def same(value: float) -> float:
        kept.append(value)
        return kept[0]

    return numbers(rng, data, same, bool(rng.random() < 0.4))


def shift_clock(rng: Rng, data: bytes) -> bytes:
    lines = lines_of(data)
    first, last = block(rng, lines)
    by = float(rng.choice([-1e6, -3600.0, -60.0, -5.0, -1.0, 1.0, 5.0, 60.0, 3600.0, 1e6, 1e9]))

    def moved(cells: list[bytes]) -> list[bytes]:
        cells[0] = f"{float(cells[0]) + by:.0f}".encode()
        return cells

    return in_cells(lines, range(first, last if rng.random() < 0.6 else len(lines) - 1), moved)


MUTATIONS = (cut_end, cut_bytes, insert_bytes, flip_bytes, repeat_lines, drop_lines, swap_lines,
             move_block, shuffle_block, swap_columns, swap_names, shift_cells, replace_cells,
             change_digit, other_unit, add_offset, freeze, shift_clock)


def mutate(rng: Rng, data: bytes) -> tuple[str, bytes]:
    """One mutation, or two, by chance."""
    first = MUTATIONS[rng.integers(len(MUTATIONS))]
    spoilt, name = first(rng, data), first.__name__
    if rng.random() < 0.15:
        second = MUTATIONS[rng.integers(4)]     # of bytes: those need no whole rows
        spoilt, name = second(rng, spoilt) if spoilt else spoilt, "two of them"
    return name, spoilt


# ---------------------------------------------------------------- what a mutation breaks


def in_flight(recording: Recording) -> np.ndarray:
    speed = recording.channels.get("ground_speed", np.zeros(recording.time_s.size))
    return np.asarray(speed > 25.0)


def altitudes_part(recording: Recording) -> bool:
    both = [recording.channels.get(name) for name in ("indicated_altitude", "gps_altitude")]
    if both[0] is None or both[1] is None:
        return False
    return bool((np.abs(both[0] - both[1]) > 150.0).any())


def position_jumps(recording: Recording) -> bool:
    way = 0.0
    for name, metres in (("latitude", 111_200.0), ("longitude", 87_600.0)):
        if name not in recording.channels:
            return False
        way = way + np.abs(np.diff(recording.channels[name])) * metres
    return bool((way > 400.0 * np.diff(recording.time_s) + 500.0).any())


def speeds_differ(recording: Recording) -> bool:
    air, ground = (recording.channels.get(name, np.full(recording.time_s.size, np.nan))
                   for name in ("indicated_airspeed", "ground_speed"))
    use = in_flight(recording) & np.isfinite(air)
    if int(use.sum()) < 100:
        return False
    ratio = float(np.median(air[use]) / np.median(ground[use]))
    return not 0.6 < ratio < 1.67


def speed_is_not_of_the_positions(recording: Recording) -> bool:
    if not {"latitude", "longitude", "ground_speed"} <= set(recording.channels):
        return False
    north = np.diff(recording.channels["latitude"]) * 111_200.0
    east = np.diff(recording.channels["longitude"]) * 87_600.0
    speed = recording.channels["ground_speed"][1:]
    over = np.hypot(north, east) / np.diff(recording.time_s)
    use = (speed > 25.0) & np.isfinite(over)
    if int(use.sum()) < 100:
        return False
    return not 0.8 < float(np.median(over[use] / speed[use])) < 1.25


def temperature_is_of_no_air(recording: Recording) -> bool:
    air = recording.channels.get("outside_air_temperature", np.empty(0))
    height = recording.channels.get("gps_altitude", np.empty(0))
    known = np.isfinite(air) & np.isfinite(height) if air.size == height.size else np.empty(0, bool)
    if int(known.sum()) < 100 or int(in_flight(recording).sum()) < 100:
        return False
    off = np.median((air - (288.15 - 0.0065 * height))[known & in_flight(recording)])
    return bool(abs(off) > 45.0)


def track_is_of_another_course(recording: Recording) -> bool:
    if not {"latitude", "longitude", "track"} <= set(recording.channels):
        return False
    north = np.diff(recording.channels["latitude"]) * 111_200.0
    east = np.diff(recording.channels["longitude"]) * 87_600.0
    use = in_flight(recording)[1:] & (np.hypot(north, east) > 20.0)
    off = np.angle(np.exp(1j * (recording.channels["track"][1:] - np.arctan2(east, north))))[use]
    off = off[np.isfinite(off)]
    return off.size >= 100 and bool(abs(np.median(off)) > np.radians(20.0))


def engine_burns_too_much_or_too_little(recording: Recording) -> bool:
    flow, power = (recording.channels.get(name, np.empty(0)) for name in ("fuel_flow", "power"))
    use = power > 30_000.0
    if flow.size != power.size or int((use & np.isfinite(flow)).sum()) < 100:
        return False
    grams = float(np.nanmedian(flow[use] / power[use])) * 720.0 * 3.6e9
    return not 130.0 < grams < 900.0


RELATIONS = {
    "track within 20 deg of the course of the positions": track_is_of_another_course,
    "130 to 900 g/kWh at power": engine_burns_too_much_or_too_little,
    "indicated altitude within 150 m of GPS altitude, every row": altitudes_part,
    "positions no further apart than 400 m a second": position_jumps,
    "airspeed 0.6 to 1.67 times ground speed in flight": speeds_differ,
    "ground speed 0.8 to 1.25 times that of the positions": speed_is_not_of_the_positions,
    "temperature within 45 K of the standard in flight": temperature_is_of_no_air,
}


def broken(data: bytes, base: bytes, recording: Recording) -> set[str]:
    """Names of the stated invariants that a spoilt file breaks."""
    lines = data.split(b"\n")
    head, body = lines[0], [line for line in lines[1:] if line.strip()]
    found = {name for name, breaks in RELATIONS.items() if breaks(recording)}
    if head != base.split(b"\n", 1)[0]:
        found.add("header fingerprint")
    if any(line.count(b",") != len(WRITTEN) for line in body):
        found.add("row width")
    stamps = []
    for line in body:
        try:
            stamps.append(float(line.split(b",")[0]))
        except ValueError:
            continue
    if (np.diff(np.array(stamps)) <= 0.0).any():
        found.add("time order")
    return found


# ---------------------------------------------------------------- judgement


@dataclass
class Count:
    """What became of the files of one kind of mutation."""

    files: int = 0
    refused: int = 0
    unchanged: int = 0
    breaking: int = 0
    breaking_told: int = 0
    other: int = 0
    other_told: int = 0


@dataclass
class Score:
    """What became of all of them."""

    counts: dict[str, Count] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)
    slowest_s: float = 0.0


class Judge:
    """Reads spoilt files beside the sound one."""

    def __init__(self, folder: Path) -> None:
        self.data, columns = flight_file()
        self.path = folder / "one.csv"
        (folder / "panel.toml").write_text(columns)
        self.columns = load_columns(folder / "panel.toml")
        self.sound = self.read(self.data)
        self.said = self.words(self.sound)

    def read(self, data: bytes) -> Recording:
        self.path.write_bytes(data)
        source = FlightSource("F1", (("logs/one.csv", self.path),), (self.columns,),
                              altimeter_setting_pa=101_325.0, rated_power_w=78_000.0,
                              fuel_density_kg_m3=720.0, field_elevation_m=ELEVATION_M)
        return read_source(source)

    def try_to_read(self, data: bytes) -> tuple[Recording | None, str]:
        """Read, or say why it is refused; any other error goes on."""
        try:
            return self.read(data), ""
        except StddayError as error:
            return None, str(error)

    def words(self, recording: Recording) -> set[str]:
        """What is said; an estimated lag changes with every sample and says nothing of a fault."""
        return {str(item) for item in recording.findings if "(sigma " not in item.what}

    def changed(self, recording: Recording) -> bool:
        """Whether a used sample is not what it was."""
        place = np.searchsorted(self.sound.time_s, recording.time_s)
        place = np.minimum(place, self.sound.time_s.size - 1)
        if not np.array_equal(self.sound.time_s[place], recording.time_s):
            return True
        for name, samples in recording.channels.items():
            was = self.sound.channels[name][place]
            if (np.isfinite(samples) & (samples != was)).any():
                return True
        return False

    def judge(self, rng: Rng, score: Score) -> None:
        """Spoil the file once and count what became of it."""
        name, data = mutate(rng, self.data)
        count = score.counts.setdefault(name, Count())
        count.files += 1
        start = time.perf_counter()
        recording, refusal = self.try_to_read(data)
        score.slowest_s = max(score.slowest_s, time.perf_counter() - start)
        if recording is None:
            count.refused += 1
            assert refusal.startswith("logs/one.csv"), refusal
            return
        rows = recording.rows
        assert rows.in_file == rows.used + sum(rows.set_aside.values()) == data_lines(data)
        assert rows.used == recording.time_s.size
        assert (np.diff(recording.time_s) > 0.0).all()
        if not self.changed(recording):
            count.unchanged += 1
            return
        told = bool(self.words(recording) - self.said)
        breaks = broken(data, self.data, recording)
        if breaks:
            count.breaking += 1
            count.breaking_told += told
            if not told:
                score.wrong.append(f"{name}: {', '.join(sorted(breaks))}")
        else:
            count.other += 1
            count.other_told += told


def data_lines(data: bytes) -> int:
    """Count the lines after the first, by another way than the reader's."""
    text = data.decode("latin-1")
    if "\n" not in text:
        text = text.replace("\r", "\n")
    lines = text.split("\n")[1:]
    return len(lines) - (not lines or not lines[-1])
