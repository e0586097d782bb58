"""Several recordings of one flight made one: a recorder restarted, or a track beside it.

The first recording named in flights.csv is the one that counts. Another one adds rows where the
first has none, and fills channels that the first lacks, between two of its samples that are not
further apart than one and a half of its usual intervals. So a flight that two recorders wrote
counts once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stdday.channels import find_channel
from stdday.recording_types import Finding, FloatArray

__all__ = ["MOST_INTERVALS", "Part", "join_parts"]

#: Longest step that is bridged, in usual intervals.
MOST_INTERVALS = 1.5

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
    """

    file: str
    time_s: FloatArray
    channels: dict[str, FloatArray]
    interval_s: float


def join_parts(parts: list[Part]) -> tuple[Part, list[int], list[Finding]]:
    """Join the files of a flight on time.

    Parameters
    ----------
    parts : list of Part
        In the order of flights.csv; at least one.

    Returns
    -------
    tuple of (Part, list of int, list of Finding)
        The flight, the rows of each file that are not in it, and what was done; never raises.

    Examples
    --------
    >>> first = Part("a.csv", np.array([0.0, 1.0]), {"pitch": np.array([0.1, 0.2])}, 1.0)
    >>> second = Part("b.csv", np.array([0.5, 1.5, 2.5]), {"roll": np.array([0.0, 0.2, 0.3])}, 1.0)
    >>> flight, left_out, _ = join_parts([first, second])
    >>> flight.time_s, flight.channels["roll"], left_out
    (array([0. , 1. , 2.5]), array([nan, 0.1, 0.3]), [0, 0])
    """
    joined, left_out, findings = parts[0], [0], []
    for other in parts[1:]:
        joined, unused, filled = _joined(joined, other)
        left_out.append(unused)
        findings.append(_finding(parts[0], other, unused, filled))
    return joined, left_out, findings


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


def _finding(base: Part, other: Part, unused: int, filled: list[str]) -> Finding:
    """Say what a second file gave."""
    joined = f"{other.file} was joined to {base.file} on time, each by its own clock"
    if not filled and not unused:
        return Finding("note", f"{joined}; they do not overlap")
    new = ", ".join(filled) if filled else "no channel"
    return Finding("note", f"{joined}; where both were running it fills {new}, and {unused} of its "
                   "rows add nothing")
