"""Several power-ups in one file: where a clock starts again, and which day that is.

A clock without a date that is set back for a whole stretch of rows is taken to be that of the next
day; a count of seconds that starts again follows the stretch before it at a distance of its own. A
clock with its date is believed: stretches that stand in another order in the file are put in the
order of their time, as long as none of them overlap.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stdday.recording_stamps import DAY_S, Stamps
from stdday.recording_types import Finding, FloatArray

__all__ = ["far_from_most", "lay_out_sessions"]

#: A step of the clock that may begin another session: longer than this [s] ...
RESTART_S = 60.0
#: ... and than this many usual steps.
RESTART_STEPS = 20.0
#: A count of seconds is never set, so a shorter step back is a restart too.
COUNT_RESTART_S, COUNT_RESTART_STEPS = 3.0, 5.0
#: A stretch of fewer rows is no session: it is left to what keeps time in order.
SESSION_ROWS = 10
#: Between sessions of a recorder that counts from power-up [s]: the time it was off is not known,
#: and nothing may be joined across it.
UNKNOWN_BREAK_S = 3600.0
#: No recording of a flight holds rows further apart than this from most of its rows [s].
FURTHEST_S = 15.0 * DAY_S

IndexArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class _Runs:
    """Stretches of stamps between steps of the clock, the short ones too."""

    bounds: list[tuple[int, int]]
    long: list[int]
    first: FloatArray
    latest: FloatArray


def far_from_most(time_s: FloatArray) -> NDArray[np.bool_]:
    """Find the rows whose stamp lies many days away from those of most rows.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Stamps [s].

    Returns
    -------
    ndarray of bool, shape (n,)
        True where it lies over 15 days from the median; never raises.

    Examples
    --------
    >>> far_from_most(np.array([0.0, 1.0, 2.0, 3e9]))
    array([False, False, False,  True])
    """
    return np.asarray(np.abs(time_s - np.median(time_s)) > FURTHEST_S)


def lay_out_sessions(
    time_s: FloatArray, stamps: Stamps, file: str, findings: list[Finding]
) -> tuple[IndexArray, FloatArray]:
    """Put the sessions of a file one after the other.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Stamps in the order of the file, midnight passed [s].
    stamps : Stamps
        What kind of clock it is.
    file : str
        Name of the recording.
    findings : list of Finding
        Where to tell what was done.

    Returns
    -------
    tuple of (ndarray of int, ndarray), each of shape (n,)
        Order in which the rows are to be taken, and the time of each in that order [s]; single
        rows may still go back. Never raises.

    Examples
    --------
    >>> clock = np.concatenate([36_000.0 + np.arange(20.0), 21_938.0 + np.arange(20.0)])
    >>> _, time_s = lay_out_sessions(clock, Stamps(clock, dated=False), "one.csv", [])
    >>> float(time_s[20] - clock[20])
    86400.0
    """
    runs = _runs(time_s, stamps.counted)
    if not _goes_back(runs):
        return np.arange(time_s.size, dtype=np.int64), time_s
    if stamps.dated and not stamps.counted:
        return _in_order_of_time(time_s, runs, file, findings)
    moved, restarts = _moved(runs, stamps.counted)
    if restarts:
        findings.append(_restart_finding(restarts, stamps.counted, file))
    lengths = [last - first for first, last in runs.bounds]
    return np.arange(time_s.size, dtype=np.int64), time_s + np.repeat(moved, lengths)


def _runs(time_s: FloatArray, counted: bool) -> _Runs:
    """Cut the stamps where the clock makes a long step."""
    steps = np.abs(np.diff(time_s))
    usual = float(np.median(steps)) if steps.size else 0.0
    least, most = (COUNT_RESTART_S, COUNT_RESTART_STEPS) if counted else (RESTART_S, RESTART_STEPS)
    cuts = np.flatnonzero(steps > max(least, most * usual)) + 1
    edges = np.concatenate(([0], cuts, [time_s.size])).astype(np.int64)
    long = np.flatnonzero(np.diff(edges) >= SESSION_ROWS).tolist()
    return _Runs(list(itertools.pairwise(edges.tolist())), long, time_s[edges[:-1]],
                 np.maximum.reduceat(time_s, edges[:-1]))


def _goes_back(runs: _Runs) -> bool:
    """Whether a session begins before the end of one that stands before it."""
    return any(runs.first[later] < runs.latest[before]
               for before, later in itertools.pairwise(runs.long))


def _moved(runs: _Runs, counted: bool) -> tuple[FloatArray, int]:
    """How far the stamps of each run are moved [s], and how often the clock starts again."""
    moved = np.zeros(len(runs.bounds))
    shift, latest, restarts = 0.0, -np.inf, 0
    for run in runs.long:
        late = latest - (runs.first[run] + shift)
        if late > 0.0:
            shift += late + UNKNOWN_BREAK_S if counted else float(np.ceil(late / DAY_S)) * DAY_S
            restarts += 1
        latest = max(latest, runs.latest[run] + shift)
        moved[run:] = shift
    return moved, restarts


def _restart_finding(restarts: int, counted: bool, file: str) -> Finding:
    """Say what was made of a clock that starts again."""
    if counted:
        return Finding(
            "caution", f"{file}: its count of seconds starts again {restarts} times, as at a "
            f"power-up; each of the {restarts + 1} sessions was put "
            f"{UNKNOWN_BREAK_S / 3600.0:g} h after the one before",
            "the times of day are not known, nor how long it was off", "likely")
    return Finding(
        "caution", f"{file}: its clock has no date and is set back {restarts} times, as at a "
        f"power-up on a later day; each of the {restarts + 1} sessions was put on the next day "
        "that fits", "the dates of the later sessions are not known", "likely")


def _in_order_of_time(
    time_s: FloatArray, runs: _Runs, file: str, findings: list[Finding]
) -> tuple[IndexArray, FloatArray]:
    """Put sessions that have their date in order, where none of them overlap."""
    as_it_is = np.arange(time_s.size, dtype=np.int64)
    order = sorted(runs.long, key=lambda run: float(runs.first[run]))
    if any(runs.first[later] <= runs.latest[before] for before, later in itertools.pairwise(order)):
        return as_it_is, time_s
    ends = [runs.bounds[run][0] for run in runs.long[1:]] + [int(time_s.size)]
    starts = [0, *ends[:-1]]
    pieces = {run: as_it_is[start:end]
              for run, start, end in zip(runs.long, starts, ends, strict=True)}
    findings.append(Finding(
        "caution", f"{file}: {len(order)} stretches of rows do not stand in order of time; they "
        "were put in order by their stamps", "if a clock was wrong, so is that order", "likely"))
    taken = np.concatenate([pieces[run] for run in order])
    return taken, time_s[taken]
