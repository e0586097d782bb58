"""Steady windows: the longest stretches in which several signals keep within their bands."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stdday.signals import steady_reach

__all__ = ["Criterion", "steady_windows", "what_fails"]

FloatArray = NDArray[np.float64]
Accept = Callable[[int, int], bool]


@dataclass(frozen=True)
class Criterion:
    """One signal and the band it must keep.

    Parameters
    ----------
    words : str
        What is wrong where it does not, such as ``turning: heading changed by {} deg``; the braces
        take the spread found.
    values : ndarray, shape (n,)
        Signal on the grid; NaN where unknown (passed over).
    spread : float
        Largest maximum minus minimum allowed, in the unit of the signal.
    factor : float, optional
        From the unit of the signal to the one in `words`.
    relative : bool, optional
        Whether the signal is a logarithm, told as a change in per cent.
    """

    words: str
    values: FloatArray
    spread: float
    factor: float = 1.0
    relative: bool = False

    def told(self, first: int, last: int) -> str:
        """Say how far the signal spread between two indices of the grid."""
        part = self.values[first:last]
        part = part[np.isfinite(part)]
        spread = float(np.ptp(part)) if len(part) else float("nan")
        if self.relative:
            spread = 1 - float(np.exp(-spread))
        return self.words.format(f"{spread * self.factor:.0f}")


def steady_windows(
    criteria: Sequence[Criterion], first: int, last: int, accept: Accept
) -> list[tuple[int, int]]:
    """Find the longest windows that do not overlap and are accepted.

    Parameters
    ----------
    criteria : sequence of Criterion
        At least one.
    first, last : int
        Stretch of the grid to search: first index and one past the last.
    accept : callable
        Takes a window's first index and one past its last; says whether it is long enough.

    Returns
    -------
    list of (int, int)
        Windows in order of time.

    Examples
    --------
    >>> signal = np.array([0.0, 0.1, 0.0, 5.0, 9.0, 9.1, 9.0, 9.1])
    >>> steady_windows([Criterion("", signal, 0.5)], 0, 8, lambda a, b: b - a >= 3)
    [(0, 3), (4, 8)]
    """
    return _windows([_reach(one, first, last) for one in criteria], first, last, accept)


def _reach(criterion: Criterion, first: int, last: int) -> NDArray[np.intp]:
    """One past the last index up to which a criterion holds, from each index of a stretch on."""
    return first + steady_reach(criterion.values[first:last], criterion.spread)


def _windows(
    reaches: Sequence[NDArray[np.intp]], first: int, last: int, accept: Accept
) -> list[tuple[int, int]]:
    """Longest windows first; then what is left on both sides of each."""
    whole = np.min(reaches, axis=0)
    found, waiting = [], [(first, last)]
    while waiting:
        begin, end = waiting.pop()
        if end - begin < 2 or not accept(begin, end):
            continue
        reach = np.minimum(whole[begin - first : end - first], end)
        place = int(np.argmax(reach - np.arange(begin, end)))
        start, stop = begin + place, int(reach[place])
        if accept(start, stop):
            found.append((start, stop))
            waiting += [(begin, start), (stop, end)]
    return sorted(found)


def what_fails(criteria: Sequence[Criterion], first: int, last: int, accept: Accept) -> str:
    """Say which criterion keeps a stretch from holding a steady window.

    The one without which there would be a window; else all that fail alone.

    Parameters
    ----------
    criteria, first, last, accept
        As for `steady_windows`.

    Returns
    -------
    str
        Reasons joined by semicolons; empty where nothing fails.

    Examples
    --------
    >>> turning = Criterion("turning: {} deg", np.array([0.0, 30.0, 60.0, 90.0]), 5.0)
    >>> level = Criterion("{} ft", np.zeros(4), 5.0)
    >>> what_fails([turning, level], 0, 4, lambda a, b: b - a >= 3)
    'turning: 90 deg'
    """
    reaches = [_reach(one, first, last) for one in criteria]
    if _windows(reaches, first, last, accept):
        return ""
    if len(criteria) > 1:
        for place, left_out in enumerate(criteria):
            if _windows(reaches[:place] + reaches[place + 1 :], first, last, accept):
                return left_out.told(first, last)
    alone = [
        one
        for one, reach in zip(criteria, reaches, strict=True)
        if not _windows([reach], first, last, accept)
    ]
    return "; ".join(one.told(first, last) for one in alone or criteria)
