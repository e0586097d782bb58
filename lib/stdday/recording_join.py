"""Several recordings of one flight made one: a recorder restarted, or a track beside it.

The first recording named in flights.csv is the one that counts. Another one adds rows where the
first has none, and fills channels that the first lacks, between two of its samples that are not
further apart than one and a half of its usual intervals. So a flight that two recorders wrote
counts once.

Where two recorders ran side by side, or one is a track and the other is not, their clocks are
compared (`recording_offset`). An offset is applied only when it is sure, and said in any case; a
recording of another flight is left out. What a person wrote in flights.csv comes first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stdday.channels import find_channel
from stdday.recording_offset import (
    AGREE_S,
    QUANTITIES,
    ClockOffset,
    Series,
    clock_offset,
)
from stdday.recording_types import Finding, FloatArray

__all__ = ["ADDS_NOTHING", "ANOTHER_FLIGHT", "MOST_INTERVALS", "LeftOut", "Part", "join_parts"]

#: Why rows of a file are not in the flight.
ADDS_NOTHING = "already recorded in the flight's first file"
ANOTHER_FLIGHT = "recording of another flight"

#: Longest step that is bridged, in usual intervals.
MOST_INTERVALS = 1.5
#: Least time that two recorders must have run side by side to say that they recorded different
#: flights [s].
_SURELY_BESIDE_S = 600.0
#: Two recorders whose speeds have another ratio than this about 1 do not agree on the unit.
_RATIO = 0.05

BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Part:
    """One file of a flight on its time base.

    Parameters
    ----------
    file : str
        Name of the file.
    time_s : ndarray, shape (n,)
        Seconds since 1970-01-01 UTC [s], strictly increasing.
    channels : dict of str to ndarray, each of shape (n,)
        Samples by channel, in the units of `stdday.channels`.
    interval_s : float
        Usual time between two rows [s]; NaN for a single row.
    track : bool
        Whether it is a track (GPX, IGC, NMEA 0183).
    window_s : float
        Stretch of time that its ground speed is the mean of [s].
    offset_s : float or None
        What a person said is to be added to its times [s]; None where nothing was said.
    """

    file: str
    time_s: FloatArray
    channels: dict[str, FloatArray]
    interval_s: float
    track: bool = False
    window_s: float = 0.0
    offset_s: float | None = None


@dataclass(frozen=True)
class LeftOut:
    """Rows of a file that are not in the flight.

    Parameters
    ----------
    rows : int
        How many.
    why : str
        Why.
    """

    rows: int
    why: str = ADDS_NOTHING


def join_parts(parts: list[Part]) -> tuple[Part, list[LeftOut], list[Finding]]:
    """Join the files of a flight on time.

    Parameters
    ----------
    parts : list of Part
        In the order of flights.csv; at least one.

    Returns
    -------
    tuple of (Part, list of LeftOut, list of Finding)
        The flight, the rows of each file that are not in it, and what was done; never raises.

    Examples
    --------
    >>> first = Part("a.csv", np.array([0.0, 1.0]), {"pitch": np.array([0.1, 0.2])}, 1.0)
    >>> second = Part("b.csv", np.array([0.5, 1.5, 2.5]), {"roll": np.array([0.0, 0.2, 0.3])}, 1.0)
    >>> flight, left_out, _ = join_parts([first, second])
    >>> flight.time_s, flight.channels["roll"], [out.rows for out in left_out]
    (array([0. , 1. , 2.5]), array([nan, 0.1, 0.3]), [0, 0])
    """
    findings: list[Finding] = []
    joined, left_out = _moved(parts[0], parts[0].offset_s or 0.0), [LeftOut(0)]
    if parts[0].offset_s:
        findings.append(_as_written(parts[0]))
    for other in parts[1:]:
        moved, said = _on_one_clock(joined, other)
        findings += said
        if moved is None:
            left_out.append(LeftOut(int(other.time_s.size), ANOTHER_FLIGHT))
            continue
        joined, unused, filled = _joined(joined, moved)
        left_out.append(LeftOut(unused))
        findings.append(_finding(parts[0], other, unused, filled, bool(said)))
    if all(part.track for part in parts):
        findings.append(_only_track(parts[0].file, joined.channels))
    return joined, left_out, findings


# ---------------------------------------------------------------- one clock


def _moved(part: Part, offset_s: float) -> Part:
    """Shift a recording in time."""
    return part if offset_s == 0.0 else replace(part, time_s=part.time_s + offset_s)


def _as_written(part: Part) -> Finding:
    """Say that a person's offset was used."""
    return Finding("note", f"{part.file}: {part.offset_s:+g} s were added to its times, as "
                   "flights.csv says")


def _on_one_clock(base: Part, other: Part) -> tuple[Part | None, list[Finding]]:
    """Bring a second recording to the clock of the first; None where it is of another flight."""
    if other.offset_s is not None:
        return _moved(other, other.offset_s), [_as_written(other)]
    beside_s = _beside_s(base, other)
    if beside_s <= 0.0 and other.track == base.track:
        return other, []    # one recorder, restarted
    found, name = _compared(base, other)
    if found is None:
        return other, []
    if found.verdict == "same":
        return _same(base, other, found, name)
    if found.verdict == "other" and beside_s >= _SURELY_BESIDE_S:
        return None, [Finding(
            "caution", f"{other.file}: no offset of its clock makes its {name} go with that of "
            f"{base.file}: it is a recording of another flight, or damaged", "it was left out; if "
            f"it is the same flight, say so: write {_entry(other.file, 0.0)} in the cell log of "
            "flights.csv")]
    return other, [Finding(
        "caution", f"{other.file}: its clock could not be compared with that of {base.file} by "
        f"{name}: {found.why}", "each goes by its own clock; if you know the offset, write it, "
        f"such as {_entry(other.file, 3.2)}, in the cell log of flights.csv")]


def _beside_s(base: Part, other: Part) -> float:
    """Time during which both ran, by their own clocks [s]; negative where they lie apart."""
    return float(min(base.time_s[-1], other.time_s[-1]) - max(base.time_s[0], other.time_s[0]))


def _compared(base: Part, other: Part) -> tuple[ClockOffset | None, str]:
    """Compare two clocks by the first quantity that both recorded and that says something."""
    told: tuple[ClockOffset | None, str] = None, ""
    for name, scatter, residual in QUANTITIES:
        one, two = _series(base, name), _series(other, name)
        if one is None or two is None:
            continue
        found = clock_offset(one, two, scatter, residual)
        if found.verdict != "unsure":
            return found, name.replace("_", " ")
        if told[0] is None:
            told = found, name.replace("_", " ")
    return told


def _series(part: Part, name: str) -> Series | None:
    """Samples of a quantity; any altitude will do where there is not the one asked for."""
    names = [name]
    if name.endswith("altitude"):
        names += ["gps_altitude", "pressure_altitude", "indicated_altitude"]
    for one in names:
        samples = part.channels.get(one)
        if samples is not None and np.isfinite(samples).sum() >= 10:
            window_s = part.window_s if one == "ground_speed" else 0.0
            return Series(part.time_s, samples, window_s)
    return None


def _same(
    base: Part, other: Part, found: ClockOffset, name: str
) -> tuple[Part, list[Finding]]:
    """Shift a recording of the same flight, and say so."""
    by = f"(± {found.sigma_s:.1g} s, by {name})"
    findings = []
    if abs(found.offset_s) <= max(AGREE_S, 2.0 * found.sigma_s):
        findings.append(Finding("note", f"{other.file}: its clock agrees with that of {base.file} "
                                f"{by}"))
        other = _moved(other, 0.0)
    else:
        offset_s = round(found.offset_s, 2)
        way = "behind" if offset_s > 0.0 else "ahead of"
        findings.append(Finding(
            "caution", f"{other.file}: its clock is {abs(offset_s):.1f} s {by} {way} that of "
            f"{base.file}: shifted", f"to confirm it, write {_entry(other.file, offset_s)} in the "
            f"cell log of flights.csv; to leave its own clock, {_entry(other.file, 0.0)}"))
        other = _moved(other, offset_s)
    if found.drift:
        findings.append(Finding("caution", f"{other.file}: its clock and that of {base.file} run "
                                f"apart by {3600.0 * found.drift:+.1f} s an hour",
                                "one offset does not hold for all of the flight"))
    if name == "ground speed" and abs(found.ratio - 1.0) > _RATIO:
        findings.append(Finding("caution", f"{other.file}: ground speed of {base.file} is "
                                f"{found.ratio:.2f} times that of it", "one of the two may be in "
                                "another unit than was said"))
    return other, findings


def _entry(file: str, offset_s: float) -> str:
    """Write a recording with its offset, as the cell `log` takes it."""
    return f'"{file} @ {offset_s:+g} s"'


def _only_track(file: str, channels: Mapping[str, FloatArray]) -> Finding:
    """Say what a track without a panel recording cannot give."""
    has = [name.replace("_", " ") for name in ("ground_speed", "track", "gps_altitude",
                                               "pressure_altitude") if name in channels]
    pressure = "" if "pressure_altitude" in channels else "pressure altitude, "
    return Finding("note", f"{file}: a track alone gives {', '.join(has) or 'no speed'}: take-off "
                   "rolls and patterns over the ground",
                   f"it has no airspeed, {pressure}temperature, engine or fuel: level runs, power "
                   "and fuel cannot be had from it, nor climb rates at a known airspeed")


# ---------------------------------------------------------------- joining


def _joined(base: Part, other: Part) -> tuple[Part, int, list[str]]:
    """Join one more file; gives the rows of it that are not used, and the channels it filled."""
    new = ~_covered(base, other.time_s)
    time_s = np.concatenate((base.time_s, other.time_s[new]))
    order = np.argsort(time_s, kind="stable")
    used, filled = new.copy(), []
    channels = {}
    for name in dict.fromkeys((*base.channels, *other.channels)):
        own = base.channels.get(name, np.full(base.time_s.shape, np.nan))
        theirs = other.channels.get(name, np.full(other.time_s.shape, np.nan))
        own, took = _filled(name, base.time_s, own, other, theirs)
        if took.any():
            filled.append(name)
            used |= took
        channels[name] = np.concatenate((own, theirs[new]))[order]
    interval_s = base.interval_s if np.isfinite(base.interval_s) else other.interval_s
    return Part(base.file, time_s[order], channels, interval_s), int((~used).sum()), filled


def _covered(base: Part, time_s: FloatArray) -> BoolArray:
    """Which moments the samples of a recording cover: between two of them, or next to one."""
    interval = base.interval_s if np.isfinite(base.interval_s) else 0.0
    edges = np.concatenate(([-np.inf], base.time_s, [np.inf]))
    place = np.searchsorted(edges, time_s)
    before, after = edges[place - 1], edges[place]
    nearest = np.minimum(time_s - before, after - time_s)
    return (after - before <= MOST_INTERVALS * interval) | (nearest <= 0.5 * interval)


def _filled(
    name: str, time_s: FloatArray, own: FloatArray, other: Part, theirs: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """Fill missing samples from another file; gives also which of its samples were taken."""
    took = np.zeros(theirs.shape, dtype=bool)
    known = np.flatnonzero(np.isfinite(theirs))
    wanted = np.flatnonzero(~np.isfinite(own))
    if known.size < 2 or not wanted.size:
        return own, took
    their_time = other.time_s[known]
    after = np.clip(np.searchsorted(their_time, time_s[wanted]), 1, known.size - 1)
    start, end = their_time[after - 1], their_time[after]
    inside = ((time_s[wanted] >= start) & (time_s[wanted] <= end)
              & (end - start <= MOST_INTERVALS * other.interval_s))
    wanted, after, start, end = wanted[inside], after[inside], start[inside], end[inside]
    share = (time_s[wanted] - start) / (end - start)
    first, last = theirs[known[after - 1]], theirs[known[after]]
    filled = own.copy()
    filled[wanted] = _between(name, first, last, share)
    took[known[after - 1][share < 1.0]] = True
    took[known[after][share > 0.0]] = True
    return filled, took


def _between(
    name: str, first: FloatArray, last: FloatArray, share: FloatArray
) -> FloatArray:
    """Interpolate between two samples; a direction goes the short way round."""
    channel = find_channel(name)
    turn = channel.turn if channel is not None else 0.0
    change = last - first
    if not turn:
        return first + share * change
    change = change - turn * np.round(change / turn)
    value = first + share * change
    if channel is not None and channel.reference:
        return np.asarray(np.mod(value, turn))
    return np.asarray(value - turn * np.round(value / turn))


def _finding(
    base: Part, other: Part, unused: int, filled: list[str], compared: bool
) -> Finding:
    """Say what a second file gave."""
    joined = f"{other.file} was joined to {base.file} on time"
    joined += "" if compared else ", each by its own clock"
    if not filled and not unused:
        return Finding("note", f"{joined}; they do not overlap")
    new = ", ".join(filled) if filled else "no channel"
    return Finding("note", f"{joined}; where both were running it fills {new}, and {unused} of its "
                   "rows add nothing")
