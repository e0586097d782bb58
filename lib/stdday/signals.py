"""Small helpers on signals in time: an even grid, smoothing, slopes, runs, steady windows.

Nothing here counts samples as if they were seconds: recordings are sampled at 0.2 to 50 Hz, repeat
stamps and have holes, so every width is a time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import ndimage

from stdday.errors import InputError

__all__ = [
    "Line",
    "Trace",
    "fit_line",
    "integrate",
    "on_even_grid",
    "runs",
    "slope",
    "smooth",
    "steady_reach",
    "unwrap",
]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: Channels that are angles: unwrapped before anything is averaged.
ANGLES = ("track", "heading")


def runs(mask: ArrayLike) -> NDArray[np.intp]:
    """Return the runs of true values.

    Parameters
    ----------
    mask : array_like of bool, shape (n,)
        Any mask.

    Returns
    -------
    ndarray of int, shape (runs, 2)
        First index and one past the last index of each run.

    Examples
    --------
    >>> runs([False, True, True, False, True]).tolist()
    [[1, 3], [4, 5]]
    """
    padded = np.concatenate(([False], np.asarray(mask, dtype=bool), [False]))
    edges = np.flatnonzero(padded[1:] != padded[:-1])
    return edges.reshape(-1, 2)


def unwrap(angles_rad: ArrayLike) -> FloatArray:
    """Make an angle continuous across north, passing over unknown values.

    Parameters
    ----------
    angles_rad : array_like, shape (n,)
        Angles [rad]; NaN where unknown.

    Returns
    -------
    ndarray, shape (n,)
        The same angles plus whole turns, without jumps; NaN where unknown.

    Examples
    --------
    >>> np.degrees(unwrap(np.radians([350.0, float("nan"), 5.0]))).tolist()
    [350.0, nan, 365.0]
    """
    angles = np.array(angles_rad, dtype=float)
    known = np.isfinite(angles)
    angles[known] = np.unwrap(angles[known])
    return angles


def on_even_grid(
    time_s: ArrayLike, values: ArrayLike, grid_s: ArrayLike, gap_s: float
) -> FloatArray:
    """Bring samples at uneven times to an even grid of time.

    Known samples are averaged within each cell and interpolated to its centre; holes longer than
    `gap_s` and what is beyond the first and last known sample stay unknown.

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Times of the samples [s], not decreasing.
    values : array_like, shape (n,)
        Samples, any unit; NaN where unknown.
    grid_s : array_like, shape (m,)
        Centres of the cells [s], evenly spaced.
    gap_s : float
        Longest hole that is bridged [s].

    Returns
    -------
    ndarray, shape (m,)
        Values on the grid, in the unit given.

    Examples
    --------
    >>> on_even_grid([0.0, 0.5, 3.0], [0.0, 1.0, 6.0], [0.0, 1.0, 2.0, 3.0], 5.0).tolist()
    [0.5, 2.0, 4.0, 6.0]
    """
    time, sample = np.asarray(time_s, dtype=float), np.asarray(values, dtype=float)
    grid = np.asarray(grid_s, dtype=float)
    known = np.isfinite(sample)
    result = np.full(len(grid), np.nan)
    if not known.any():
        return result
    time, sample = time[known], sample[known]
    step = grid[1] - grid[0] if len(grid) > 1 else 1.0
    cell = np.clip(np.rint((time - grid[0]) / step).astype(int), 0, len(grid) - 1)
    count = np.bincount(cell, minlength=len(grid))
    total = np.bincount(cell, weights=sample, minlength=len(grid))
    moments = np.bincount(cell, weights=time - grid[0], minlength=len(grid))
    filled = np.flatnonzero(count)
    # Each mean belongs to the mean time of its samples, not to the centre of the cell.
    means, centres = total[filled] / count[filled], moments[filled] / count[filled]
    inside = slice(filled[0], filled[-1] + 1)
    result[inside] = np.interp(grid[inside] - grid[0], centres, means)
    for place in np.flatnonzero(np.diff(filled) * step > gap_s):
        result[filled[place] + 1 : filled[place + 1]] = np.nan
    return result


def _window_sums(values: FloatArray, half: int) -> tuple[FloatArray, ...]:
    """Sums of 1, x, xx, y, xy over windows of 2 half + 1 cells, unknown cells left out."""
    known = np.isfinite(values)
    weight, data = known.astype(float), np.where(known, values, 0.0)
    place = np.arange(-half, half + 1, dtype=float)
    ones = np.ones_like(place)

    def across(array: FloatArray, kernel: FloatArray) -> FloatArray:
        return np.asarray(ndimage.correlate1d(array, kernel, mode="constant"), dtype=float)

    return (
        across(weight, ones),
        across(weight, place),
        across(weight, place * place),
        across(data, ones),
        across(data, place),
    )


def _half(width_s: float, step_s: float) -> int:
    return max(1, round(width_s / step_s / 2))


def smooth(values: ArrayLike, width_s: float, step_s: float) -> FloatArray:
    """Mean over a centred window of time, on an even grid; a straight line stays as it is.

    Parameters
    ----------
    values : array_like, shape (n,)
        Values on an even grid; NaN where unknown.
    width_s, step_s : float
        Width of the window and step of the grid [s].

    Returns
    -------
    ndarray, shape (n,)
        Value of the line fitted in the window at its centre; NaN where the value itself is.

    Examples
    --------
    >>> smooth([0.0, 1.0, 2.0, 3.0], 2.0, 1.0).round(6).tolist()
    [0.0, 1.0, 2.0, 3.0]
    """
    array = np.asarray(values, dtype=float)
    count, first, second, total, moment = _window_sums(array, _half(width_s, step_s))
    spread = count * second - first * first
    with np.errstate(invalid="ignore", divide="ignore"):
        line = (second * total - first * moment) / spread
        mean = total / count
    return np.where(np.isfinite(array), np.where(spread > 0, line, mean), np.nan)


def slope(values: ArrayLike, width_s: float, step_s: float) -> FloatArray:
    """Least-squares slope over a centred window of time, on an even grid.

    Parameters
    ----------
    values : array_like, shape (n,)
        Values on an even grid; NaN where unknown.
    width_s, step_s : float
        Width of the window and step of the grid [s].

    Returns
    -------
    ndarray, shape (n,)
        Change per second; NaN where fewer than half of the window is known.

    Examples
    --------
    >>> slope([0.0, 1.0, 2.0, 3.0], 2.0, 0.5).round(6).tolist()
    [2.0, 2.0, 2.0, 2.0]
    """
    array = np.asarray(values, dtype=float)
    half = _half(width_s, step_s)
    count, first, second, total, moment = _window_sums(array, half)
    spread = count * second - first * first
    with np.errstate(invalid="ignore", divide="ignore"):
        rate = (count * moment - first * total) / spread / step_s
    return np.where((count > half) & (spread > 0), rate, np.nan)


@dataclass(frozen=True)
class Line:
    """A least-squares line through samples.

    Parameters
    ----------
    mean : float
        Mean of the samples, in their unit.
    rate : float
        Change per second; NaN with fewer than three samples.
    scatter : float
        Standard deviation of the samples around the line; NaN with fewer than four.
    count : int
        Known samples.
    """

    mean: float
    rate: float
    scatter: float
    count: int


def fit_line(time_s: ArrayLike, values: ArrayLike) -> Line:
    """Fit a straight line in time through the known samples.

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Times [s].
    values : array_like, shape (n,)
        Samples; NaN where unknown.

    Returns
    -------
    Line
        All NaN and a count of zero where nothing is known.

    Examples
    --------
    >>> fit_line([0.0, 1.0, 2.0, 3.0], [1.0, 3.0, 5.0, 7.0])
    Line(mean=4.0, rate=2.0, scatter=0.0, count=4)
    """
    time, sample = np.asarray(time_s, dtype=float), np.asarray(values, dtype=float)
    known = np.isfinite(sample)
    count = int(known.sum())
    if count == 0:
        return Line(np.nan, np.nan, np.nan, 0)
    time, sample = time[known], sample[known]
    mean = float(sample.mean())
    apart, offset = time - time.mean(), sample - mean
    spread = float(apart @ apart)
    if count < 3 or spread <= 0:
        return Line(mean, np.nan, np.nan, count)
    rate = float(apart @ offset) / spread
    left = offset - rate * apart
    scatter = float(np.sqrt(left @ left / (count - 2))) if count > 3 else np.nan
    return Line(mean, rate, scatter, count)


def integrate(time_s: ArrayLike, values: ArrayLike, start_s: float, end_s: float) -> float:
    """Integrate samples over time by trapezoids, the ends interpolated.

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Times [s], not decreasing.
    values : array_like, shape (n,)
        Samples per second; NaN where unknown.
    start_s, end_s : float
        Bounds [s].

    Returns
    -------
    float
        The integral; NaN where the bounds lie outside of the known samples.

    Examples
    --------
    >>> integrate([0.0, 1.0, 2.0], [0.0, 2.0, 4.0], 0.5, 2.0)
    3.75
    """
    time, sample = np.asarray(time_s, dtype=float), np.asarray(values, dtype=float)
    known = np.isfinite(sample)
    time, sample = time[known], sample[known]
    if len(time) < 2 or not (time[0] <= start_s <= end_s <= time[-1]):
        return float("nan")
    inside = (time > start_s) & (time < end_s)
    ends = np.interp([start_s, end_s], time, sample)
    times = np.concatenate(([start_s], time[inside], [end_s]))
    levels = np.concatenate((ends[:1], sample[inside], ends[1:]))
    return float(np.trapezoid(levels, times))


def steady_reach(values: FloatArray, spread: float) -> NDArray[np.intp]:
    """For each sample, one past the last up to which a signal stays within its spread.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Signal; unknown samples are passed over.
    spread : float
        Largest maximum minus minimum allowed, in the unit of the signal.

    Returns
    -------
    ndarray of int, shape (n,)
        Within a part of the signal that ends earlier: the smaller of this and its end.

    Examples
    --------
    >>> steady_reach(np.array([0.0, 5.0, 5.1, np.nan, 5.2, 9.0]), 0.5).tolist()
    [1, 5, 5, 5, 5, 6]
    """
    known, count = np.isfinite(values), len(values)
    tops, bottoms = [np.where(known, values, -np.inf)], [np.where(known, values, np.inf)]
    while 2 ** len(tops) <= count:  # extremes over 1, 2, 4 ... samples from each on
        half = 2 ** (len(tops) - 1)
        tops.append(np.maximum(tops[-1][:-half], tops[-1][half:]))
        bottoms.append(np.minimum(bottoms[-1][:-half], bottoms[-1][half:]))
    reach = np.arange(count)
    top, bottom = np.full(count, -np.inf), np.full(count, np.inf)
    for level in range(len(tops) - 1, -1, -1):
        inside = np.flatnonzero(reach < len(tops[level]))
        higher = np.maximum(top[inside], tops[level][reach[inside]])
        lower = np.minimum(bottom[inside], bottoms[level][reach[inside]])
        steady = higher - lower <= spread
        grown = inside[steady]
        reach[grown] += 2**level
        top[grown], bottom[grown] = higher[steady], lower[steady]
    return reach


class Trace:
    """One recording made ready for the search: as recorded, and on an even grid of time.

    Parameters
    ----------
    time_s : array_like, shape (n,)
        Times of the samples [s], not decreasing.
    channels : mapping of str to array_like
        Channels, SI; NaN where unknown.
    step_s : float
        Step of the grid [s].
    gap_s : float
        Longest hole that the grid bridges [s].

    Raises
    ------
    InputError
        Where time runs backwards or is unknown, or there are fewer than two samples.

    Examples
    --------
    >>> trace = Trace([0.0, 1.0, 3.0], {"ground_speed": [0.0, 1.0, 3.0]}, 1.0, 5.0)
    >>> trace.even("ground_speed").tolist()
    [0.0, 1.0, 2.0, 3.0]
    >>> trace.has("heading")
    False
    """

    def __init__(
        self,
        time_s: ArrayLike,
        channels: Mapping[str, ArrayLike],
        step_s: float = 0.5,
        gap_s: float = 12.0,
    ) -> None:
        self.time_s = np.asarray(time_s, dtype=float)
        if len(self.time_s) < 2:
            raise InputError(f"time_s [s] must hold at least 2 samples; got {len(self.time_s)}")
        steps = np.diff(self.time_s)
        if not (steps >= 0).all():
            index = int(np.flatnonzero(~(steps >= 0))[0]) + 1
            raise InputError(
                f"time_s [s] must not run backwards; got {self.time_s[index]} at index {index} "
                f"after {self.time_s[index - 1]} (the recording's reader sets such rows aside)"
            )
        self._channels: dict[str, FloatArray] = {
            name: np.asarray(values, dtype=float) for name, values in channels.items()
        }
        self.step_s, self.gap_s = step_s, gap_s
        self._even: dict[str, FloatArray] = {}

    def at_times(self, time_s: FloatArray) -> Trace:
        """Return the same rows at other times, not decreasing [s]."""
        return Trace(time_s, self._channels, self.step_s, self.gap_s)

    @cached_property
    def grid_s(self) -> FloatArray:
        """Times of the grid [s]."""
        count = int(np.floor((self.time_s[-1] - self.time_s[0]) / self.step_s)) + 1
        return np.asarray(self.time_s[0] + self.step_s * np.arange(count), dtype=float)

    def has(self, name: str) -> bool:
        """Whether the recording carries a channel with at least one known sample."""
        return name in self._channels and bool(np.isfinite(self._channels[name]).any())

    def raw(self, name: str) -> FloatArray:
        """Return a channel as recorded, angles unwrapped; all NaN where it is missing."""
        if name not in self._channels:
            return np.full(len(self.time_s), np.nan)
        values: FloatArray = self._channels[name]
        return unwrap(values) if name in ANGLES else values

    def even(self, name: str) -> FloatArray:
        """Return a channel on the grid, angles unwrapped; all NaN where it is missing."""
        if name not in self._even:
            self._even[name] = on_even_grid(self.time_s, self.raw(name), self.grid_s, self.gap_s)
        return self._even[name]

    def smoothed(self, name: str, width_s: float) -> FloatArray:
        """Return a channel on the grid, smoothed over a time."""
        return smooth(self.even(name), width_s, self.step_s)

    def index(self, time_s: float) -> int:
        """Return the index of the grid nearest to a time."""
        place = round((time_s - self.grid_s[0]) / self.step_s)
        return int(min(max(place, 0), len(self.grid_s) - 1))

    def between(self, start_s: float, end_s: float) -> slice:
        """Return the samples as recorded from start to end, both included."""
        first = int(np.searchsorted(self.time_s, start_s, side="left"))
        return slice(first, int(np.searchsorted(self.time_s, end_s, side="right")))

    def line(self, name: str, start_s: float, end_s: float) -> Line:
        """Fit a line through the samples of a channel from start to end."""
        part = self.between(start_s, end_s)
        return fit_line(self.time_s[part], self.raw(name)[part])

    def mean(self, name: str, start_s: float, end_s: float) -> float:
        """Return the mean of a channel from start to end; NaN where nothing is known."""
        return self.line(name, start_s, end_s).mean
