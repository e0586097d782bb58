"""From the stamps of a recording to a strictly increasing time base.

In this order, and each told in a finding: rows without a time are set aside; so are rows before
the clock was set at power-up and rows of another time altogether; a recording that runs backwards
is turned; midnight is passed where stamps have no date; sessions are laid out one after the other;
where time still goes back, the fewest rows that overlap are set aside; rows that share one stamp
are spread between their neighbours; gaps stay gaps.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stdday.recording_sessions import far_from_most, lay_out_sessions
from stdday.recording_stamps import DAY_S, Stamps
from stdday.recording_types import Finding, FloatArray, refused

__all__ = ["TimeBase", "make_time_base", "spread_repeats"]

#: Clock jump at power-up: a step longer than this [s] ...
POWER_UP_JUMP_S = 120.0
#: ... and than this many usual steps, after at most so much of the recording [s, share of rows].
POWER_UP_STEPS = 20.0
POWER_UP_SPAN_S = 120.0
POWER_UP_SHARE = 0.1

#: A step is a gap when it is longer than so many usual intervals.
GAP_INTERVALS = 2.5

_NO_TIME = "time missing or unreadable"
_POWER_UP = "clock not yet set at power-up"
_FAR = "time many days from that of most rows"
_BACKWARDS = "time goes back"

IndexArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class TimeBase:
    """Strictly increasing time of the rows that are used.

    Parameters
    ----------
    time_s : ndarray, shape (m,)
        Seconds since 1970-01-01 UTC [s].
    keep : ndarray of int, shape (m,)
        Place of each among the rows given.
    interval_s : float
        Usual time between two rows [s]; NaN for a single row.
    set_aside : dict of str to int
        Rows left out, by reason.
    findings : list of Finding
        What was found on the way.
    """

    time_s: FloatArray
    keep: IndexArray
    interval_s: float
    set_aside: dict[str, int]
    findings: list[Finding]


def make_time_base(stamps: Stamps, file: str) -> TimeBase:
    """Make a strictly increasing time base of the stamps of a recording.

    Parameters
    ----------
    stamps : Stamps
        Stamps as the recorder wrote them.
    file : str
        Name of the recording.

    Returns
    -------
    TimeBase
        Time of the rows that are used, and what was done.

    Raises
    ------
    CampaignError
        No row has a time, or all have the same.

    Examples
    --------
    >>> stamps = Stamps(np.array([10.0, 11.0, 11.0, 13.0, 12.0, np.nan, 14.0]), dated=True)
    >>> base = make_time_base(stamps, "one.csv")
    >>> base.time_s, base.keep
    (array([10., 11., 12., 13., 14.]), array([0, 1, 2, 3, 6]))
    >>> base.set_aside
    {'time missing or unreadable': 1, 'time goes back': 1}
    """
    keep = np.flatnonzero(np.isfinite(stamps.utc_s)).astype(np.int64)
    if not keep.size:
        raise refused(file, "time", "a row with a time", "none", "see `time` in the columns file")
    findings = list(stamps.findings)
    set_aside: dict[str, int] = {}
    _count(set_aside, _NO_TIME, stamps.utc_s.size - keep.size)
    if keep.size < stamps.utc_s.size:
        findings.append(Finding("note", f"{file}: {stamps.utc_s.size - keep.size} rows have no "
                                "time that can be read", "they were set aside"))
    early = _rows_before_clock(stamps.utc_s[keep])
    if early:
        jump = stamps.utc_s[keep[early]] - stamps.utc_s[keep[early - 1]]
        findings.append(Finding("note", f"{file}: the clock jumps by {jump:+.0f} s after {early} "
                                "rows; the rows before were set aside"))
    _count(set_aside, _POWER_UP, early)
    keep = _near(keep[early:], stamps, file, set_aside, findings)
    keep = _turned(keep, stamps, file, findings)
    time_s = stamps.utc_s[keep] if stamps.dated else _past_midnight(stamps.utc_s[keep])
    order, time_s = lay_out_sessions(time_s, stamps, file, findings)
    keep = keep[order]
    ordered = _in_order(time_s)
    _tell_backwards(time_s.size, ordered, file, findings)
    _count(set_aside, _BACKWARDS, time_s.size - ordered.size)
    keep, time_s = keep[ordered], time_s[ordered]
    time_s, interval_s, repeats = spread_repeats(time_s, file)
    _tell_steps(time_s, interval_s, repeats, file, findings)
    return TimeBase(time_s, keep, interval_s, set_aside, findings)


def _count(set_aside: dict[str, int], reason: str, count: int) -> None:
    """Note rows set aside, if there are any."""
    if count:
        set_aside[reason] = int(count)


def _near(
    keep: IndexArray, stamps: Stamps, file: str, set_aside: dict[str, int],
    findings: list[Finding],
) -> IndexArray:
    """Leave out rows whose clock is many days from that of most."""
    far = far_from_most(stamps.utc_s[keep])
    if not far.any():
        return keep
    count = int(far.sum())
    _count(set_aside, _FAR, count)
    findings.append(Finding("caution", f"{file}: the clock of {count} rows is over 15 days from "
                            "that of most rows", "they were set aside"))
    return keep[~far]


def _rows_before_clock(stamps_s: FloatArray) -> int:
    """Count the rows at the beginning that were written before the clock was set."""
    most = int(stamps_s.size * POWER_UP_SHARE)
    if most < 1:
        return 0
    steps = np.diff(stamps_s[: most + 1])
    usual = float(np.median(np.abs(np.diff(stamps_s))))
    jumps = np.flatnonzero(np.abs(steps) > max(POWER_UP_JUMP_S, POWER_UP_STEPS * usual))
    early = 0
    for jump in jumps.tolist():
        if abs(stamps_s[jump] - stamps_s[early]) <= POWER_UP_SPAN_S:
            early = jump + 1
    return early


def _turned(
    keep: IndexArray, stamps: Stamps, file: str, findings: list[Finding]
) -> IndexArray:
    """Turn a recording that runs backwards from end to end."""
    steps = np.diff(stamps.utc_s[keep])
    back = int((steps < 0.0).sum())
    if keep.size < 10 or back < 0.9 * int((steps != 0.0).sum()) or not back:
        return keep
    findings.append(Finding("note", f"{file} runs backwards in time; its rows were turned"))
    return keep[::-1]


def _past_midnight(stamps_s: FloatArray) -> FloatArray:
    """Add the days that a clock without a date leaves out: a step of over 12 hours is midnight."""
    days = -np.round(np.diff(stamps_s, prepend=stamps_s[:1]) / DAY_S)
    return np.asarray(stamps_s + np.cumsum(days) * DAY_S)


def _in_order(time_s: FloatArray) -> IndexArray:
    """Find the rows to keep so that time never goes back.

    Each time it goes back, either the rows after or the rows before overlap; the fewer are left
    out.
    """
    breaks = np.flatnonzero(np.diff(time_s) < 0.0) + 1
    if not breaks.size:
        return np.arange(time_s.size, dtype=np.int64)
    edges = [0, *breaks.tolist(), int(time_s.size)]
    kept: list[tuple[int, int]] = []
    for first, last in itertools.pairwise(edges):
        start = _settle(time_s, kept, first, last)
        if start < last:
            kept.append((start, last))
    return np.concatenate([np.arange(first, last, dtype=np.int64) for first, last in kept])


def _settle(time_s: FloatArray, kept: list[tuple[int, int]], first: int, last: int) -> int:
    """Leave out what overlaps: of the run (its new start is given), or of the runs kept so far."""
    if not kept or time_s[kept[-1][1] - 1] < time_s[first]:
        return first
    latest = time_s[kept[-1][1] - 1]
    new = int(np.searchsorted(time_s[first:last], latest, side="right"))
    old = 0
    for start, end in reversed(kept):
        overlap = (end - start) - int(np.searchsorted(time_s[start:end], time_s[first]))
        old += overlap
        if overlap < end - start or old >= new:
            break
    if new <= old:
        return first + new
    while kept and time_s[kept[-1][1] - 1] >= time_s[first]:
        start, end = kept.pop()
        end = start + int(np.searchsorted(time_s[start:end], time_s[first]))
        if end > start:
            kept.append((start, end))
    return first


def spread_repeats(time_s: FloatArray, file: str) -> tuple[FloatArray, float, int]:
    """Spread rows that share one stamp between their neighbours.

    The rows of a stamp go forward in equal steps up to the next stamp. Where that leaves less than
    three quarters of the usual interval a row and the gap before is the wider one, they go back
    into it instead (a second was missed and the next one written twice). No step is longer than
    the usual interval, so that rows before a gap are not drawn into it.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Stamps that never go back [s].
    file : str
        Name of the recording.

    Returns
    -------
    tuple of (ndarray of shape (n,), float, int)
        Strictly increasing time [s], usual interval [s] (NaN for a single row), and how many rows
        repeat the stamp before them.

    Raises
    ------
    CampaignError
        All rows have the same stamp, or so many that the clock cannot tell them apart.

    Examples
    --------
    >>> spread_repeats(np.array([0.0, 1.0, 2.0, 2.0, 4.0, 5.0, 7.0, 7.0, 8.0]), "one.csv")
    (array([0., 1., 2., 3., 4., 5., 6., 7., 8.]), 1.0, 2)
    >>> spread_repeats(np.array([0.0, 0.0, 1.0, 1.0, 2.0, 2.0]), "one.csv")
    (array([0. , 0.5, 1. , 1.5, 2. , 2.5]), 0.5, 3)
    """
    starts = np.flatnonzero(np.concatenate(([True], np.diff(time_s) > 0.0)))
    counts = np.diff(np.concatenate((starts, [time_s.size])))
    if time_s.size == 1:
        return time_s, float("nan"), 0
    if starts.size == 1:
        raise refused(file, "time", "time that goes on",
                      f"one and the same time in all {time_s.size} rows",
                      "see `time` in the columns file")
    if starts.size == time_s.size:
        return time_s, float(np.median(np.diff(time_s))), 0
    stamp = time_s[starts]
    room = np.diff(stamp)
    usual = float(np.median(room / counts[:-1]))
    after = np.concatenate((room, [usual * counts[-1]]))
    before = np.concatenate(([0.0], room))
    backward = (counts > 1) & (after / counts < 0.75 * usual) & (before > after)
    step = np.minimum(after / counts, usual)
    taken = np.where(backward, 0.0, step * (counts - 1))
    left = before - np.concatenate(([0.0], taken[:-1]))
    step = np.where(backward, np.minimum(left / counts, usual), step)
    first = np.where(backward, stamp - step * (counts - 1), stamp)
    within = np.arange(time_s.size) - np.repeat(starts, counts)
    spread = np.repeat(first, counts) + within * np.repeat(step, counts)
    if not (np.diff(spread) > 0.0).all():
        raise refused(file, "time", "times that tell rows apart",
                      f"up to {int(counts.max())} rows with one time",
                      "see `time` in the columns file")
    return spread, usual, int(time_s.size - starts.size)


def _tell_backwards(
    rows: int, ordered: IndexArray, file: str, findings: list[Finding]
) -> None:
    """Say how many rows overlap in time; many mean several sessions or a wrong format."""
    out = rows - ordered.size
    if not out:
        return
    what = f"{file}: time goes back; {out} rows that overlap others were set aside"
    if out > 0.1 * rows:
        findings.append(Finding("caution", what, "so many may be several power-ups in one file, "
                                "or a wrong time format", "possible"))
    else:
        findings.append(Finding("note", what))


def _tell_steps(
    time_s: FloatArray, interval_s: float, repeats: int, file: str, findings: list[Finding]
) -> None:
    """Say how many stamps repeat and where samples are missing."""
    if repeats:
        mean = (time_s[-1] - time_s[0]) / (time_s.size - 1)
        findings.append(Finding("note", f"{file}: {repeats} rows repeat the time of the row before "
                                f"and were spread between their neighbours (mean interval "
                                f"{mean:.3f} s)"))
    steps = np.diff(time_s)
    gaps = np.flatnonzero(steps > GAP_INTERVALS * interval_s)
    if not gaps.size:
        return
    longest = int(gaps[np.argmax(steps[gaps])])
    moment = np.datetime_as_string(np.datetime64(int(time_s[longest]), "s"))
    findings.append(Finding("note", f"{file}: {gaps.size} gaps between samples, the longest "
                            f"{steps[longest]:.1f} s from {moment} UTC",
                            "nothing is filled in; what happened there is not known"))
