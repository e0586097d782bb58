"""How far apart the clocks of two recorders of one flight are, from what both recorded.

Ground speed (or altitude, where one has no ground speed) of both is brought to one even grid and
correlated at every offset up to two hours. The residual share u = 1 - r**2 of the best offset must
be small, and clear of that of every other offset: the flights that make one and the same ground
speed at one and the same time are the same flight. Around the best offset the sum of squares is
brought to its least, finer than the samples, and the scatter of that over pieces of the flight
gives its sigma.

References
----------
Masked normalised cross-correlation by Fourier transforms: D. Padfield, Masked object registration
in the Fourier domain, IEEE Transactions on Image Processing 21, 2012 (method; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage

from stdday.recording_types import FloatArray

__all__ = ["MOST_OFFSET_S", "ClockOffset", "Series", "clock_offset"]

#: Furthest offset that is looked for [s]: two hours, so that a clock in a zone beside is found.
MOST_OFFSET_S = 7200.0
#: Around the best of those it is looked for finely [s].
FINE_S = 60.0
#: Least time that both must have recorded [s], and least share of the shorter one.
LEAST_S, LEAST_SHARE = 180.0, 0.5
#: Residual share of the best offset: at most this for the same flight, over that for another.
#: Pairs of made flights leave 0.0002 at 1 Hz and 0.006 at 0.1 Hz; different ones at least 0.016.
SAME, OTHER = 0.01, 0.10
#: Every offset further than this from the best one [s] must leave so many times the residual: pairs
#: of made flights 8 times and more, different flights at most 3.8 times.
APART_S, CLEAR = 30.0, 5.0
#: An offset is not known where its sigma is over this [s]: of different flights it is 0.5 and more.
MOST_SIGMA_S = 0.4
#: With longer intervals than this [s] a bad agreement does not prove different flights: speeds are
#: means over two intervals.
LONG_S = 5.0
#: Clocks whose offset is below this [s], or twice its sigma, agree.
AGREE_S = 0.25
#: Least sigma [s]: receivers themselves are up to some hundredths of a second late.
LEAST_SIGMA_S = 0.02

#: Quantities looked at, in this order: name, least scatter there must be, most residual [SI].
QUANTITIES = (("ground_speed", 4.0, 2.0), ("gps_altitude", 30.0, 12.0),
              ("pressure_altitude", 30.0, 12.0), ("indicated_altitude", 30.0, 12.0))

_MOST_GRID = 400_000
_PIECES = 12

BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Series:
    """One quantity of one recording.

    Parameters
    ----------
    time_s, values : ndarray, shape (n,)
        Time [s], strictly increasing, and samples; NaN where missing.
    window_s : float
        Stretch of time that a sample is the mean of [s].
    """

    time_s: FloatArray
    values: FloatArray
    window_s: float = 0.0

    def known(self) -> Series:
        """Return the series without what is missing."""
        known = np.isfinite(self.values)
        return Series(self.time_s[known], self.values[known], self.window_s)

    @property
    def interval_s(self) -> float:
        """Usual time between two samples [s]."""
        return float(np.median(np.diff(self.time_s)))


@dataclass(frozen=True)
class ClockOffset:
    """What the comparison of two recorders says about their clocks.

    Parameters
    ----------
    verdict : {"same", "other", "unsure"}
        Whether both recorded the same flight at this offset, another one, or it cannot be told.
    offset_s : float
        To be added to the times of the other recorder [s]; best guess where not sure.
    sigma_s : float
        Its standard deviation [s]; NaN where not sure.
    ratio : float
        Values of the first over those of the other, scaled about their means.
    drift : float
        Change of the offset with time [s/s]; 0 where it is not clear of its scatter.
    why : str
        Why it cannot be told; empty where it can.
    """

    verdict: Literal["same", "other", "unsure"]
    offset_s: float
    sigma_s: float = float("nan")
    ratio: float = float("nan")
    drift: float = 0.0
    why: str = ""


def clock_offset(
    base: Series, other: Series, least_scatter: float, most_residual: float
) -> ClockOffset:
    """Compare the clocks of two recorders by one quantity that both recorded.

    Parameters
    ----------
    base, other : Series
        The quantity, by each recorder's own clock.
    least_scatter : float
        Least standard deviation that it must have where both are compared, in its unit.
    most_residual : float
        Most standard deviation of what is left between the two, in its unit.

    Returns
    -------
    ClockOffset
        Never raises.

    Examples
    --------
    >>> time = np.arange(1200.0)
    >>> speed = 30.0 + 15.0 * np.sin(time / 60.0) * np.sin(time / 37.0) + 5.0 * np.sin(time / 13.0)
    >>> found = clock_offset(Series(time, speed), Series(time - 3.25, speed), 4.0, 3.0)
    >>> found.verdict, round(found.offset_s, 2)
    ('same', 3.25)
    """
    base, other = base.known(), other.known()
    if min(base.time_s.size, other.time_s.size) < 10:
        return ClockOffset("unsure", 0.0, why="too few samples")
    origin_s = base.time_s[0]
    base = replace(base, time_s=base.time_s - origin_s)
    other = replace(other, time_s=other.time_s - origin_s)
    step_s = _step_s(base, other)
    lags, share, residual, scatter = _correlation(base, other, step_s)
    usable = scatter >= least_scatter
    if not usable.any():
        return ClockOffset("unsure", 0.0, why="too little in common that changes")
    share = np.where(usable, share, 1.0)
    best = int(np.argmin(share))
    offset_s = float(lags[best])
    if share[best] > OTHER and step_s <= LONG_S:
        return ClockOffset("other", offset_s, why="no offset makes them agree")
    apart = np.abs(lags - offset_s) > max(APART_S, 3.0 * step_s)
    rest = float(share[apart].min()) if apart.any() else 1.0
    if share[best] > SAME or residual[best] > most_residual:
        return ClockOffset("unsure", offset_s, why="no offset makes them agree well")
    if rest < CLEAR**2 * max(float(share[best]), 1e-6):
        return ClockOffset("unsure", offset_s, why="several offsets make them agree as well")
    return _fine(base, other, offset_s, step_s)


def _step_s(base: Series, other: Series) -> float:
    """Step of the common grid [s]: that of the coarser one, at least 1 s."""
    span = max(float(np.ptp(one.time_s)) for one in (base, other))
    return max(1.0, base.interval_s, other.interval_s, span / _MOST_GRID)


def _gridded(one: Series, start_s: float, step_s: float, width_s: float, count: int | None = None
             ) -> tuple[FloatArray, BoolArray]:
    """Even samples, smoothed over a width; and which of them stand beside samples."""
    if count is None:
        count = int((one.time_s[-1] - start_s) / step_s) + 2
    grid = start_s + step_s * np.arange(count)
    values = np.interp(grid, one.time_s, one.values)
    after = np.clip(np.searchsorted(one.time_s, grid), 1, one.time_s.size - 1)
    gap = one.time_s[after] - one.time_s[after - 1]
    known = ((grid >= one.time_s[0]) & (grid <= one.time_s[-1])
             & (gap <= max(5.0, 3.0 * one.interval_s)))
    if width_s > 0.0:
        values = ndimage.gaussian_filter1d(values, width_s / step_s, mode="nearest")
        known = ndimage.binary_erosion(known, iterations=max(1, round(2.0 * width_s / step_s)))
    return values, known


def _correlation(
    base: Series, other: Series, step_s: float
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Offset [s], share not explained, residual and scatter of the base, for every whole step."""
    one, in_one = _gridded(base, base.time_s[0], step_s, 0.0)
    two, in_two = _gridded(other, other.time_s[0], step_s, 0.0)
    # about their own means, so that the sums below keep their digits
    one = np.where(in_one, one - one[in_one].mean(), 0.0)
    two = np.where(in_two, two - two[in_two].mean(), 0.0)
    size = fft.next_fast_len(one.size + two.size, real=True)
    masks = fft.rfft(in_one.astype(float), size), fft.rfft(in_two.astype(float), size)
    plain = fft.rfft(one, size), fft.rfft(two, size)
    squares = fft.rfft(one * one, size), fft.rfft(two * two, size)

    def across(left: NDArray[np.complex128], right: NDArray[np.complex128]) -> FloatArray:
        return np.asarray(fft.irfft(left * np.conj(right), size))

    count = np.round(across(masks[0], masks[1]))
    with np.errstate(invalid="ignore", divide="ignore"):
        mean_one, mean_two = (across(plain[0], masks[1]) / count,
                              across(masks[0], plain[1]) / count)
        var_one = across(squares[0], masks[1]) / count - mean_one**2
        var_two = across(masks[0], squares[1]) / count - mean_two**2
        shared = across(plain[0], plain[1]) / count - mean_one * mean_two
        explained = np.where(shared > 0.0, shared**2 / (var_one * var_two), 0.0)
    place = np.arange(size)
    shift = np.where(place < one.size, place, place - size)
    lags = base.time_s[0] - other.time_s[0] + shift * step_s
    least = max(LEAST_S / step_s, LEAST_SHARE * min(in_one.sum(), in_two.sum()))
    good = (count >= least) & (np.abs(lags) <= MOST_OFFSET_S) & (var_one > 0.0) & (var_two > 0.0)
    share = np.clip(1.0 - explained[good], 0.0, 1.0)
    scatter = np.sqrt(np.minimum(var_one[good], var_two[good]))
    return lags[good], share, np.sqrt(var_one[good] * share), scatter


def _fine(base: Series, other: Series, offset_s: float, coarse_s: float) -> ClockOffset:
    """Bring the sum of squares to its least, finer than the samples."""
    interval_s = max(base.interval_s, other.interval_s)
    step_s = float(np.clip(0.5 * interval_s, 0.25, coarse_s))
    width_s = max(1.0, 0.75 * interval_s, 0.5 * base.window_s, 0.5 * other.window_s)
    moved = replace(other, time_s=other.time_s + offset_s)
    start = max(base.time_s[0], moved.time_s[0]) - FINE_S
    end = min(base.time_s[-1], moved.time_s[-1]) + FINE_S
    count = int((end - start) / step_s) + 1
    one, in_one = _gridded(_averaged(base, other.window_s), start, step_s, width_s, count)
    two, in_two = _gridded(_averaged(moved, base.window_s), start, step_s, width_s, count)
    reach = min(round(FINE_S / step_s), count // 2)
    shifts = np.arange(-reach, reach + 1)
    costs = [_cost(one, in_one, two, in_two, int(shift)) for shift in shifts.tolist()]
    shift_s = float(shifts[int(np.argmin(costs))]) * step_s
    place = np.arange(count, dtype=float)
    for _ in range(6):
        at = place - shift_s / step_s
        moved_two = ndimage.map_coordinates(two, [at], order=3, mode="nearest")
        inside = ndimage.map_coordinates(in_two.astype(float), [at], order=1, mode="constant")
        both = in_one & (inside > 0.999)
        if both.sum() < 20:
            return ClockOffset("unsure", offset_s, why="too little in common that changes")
        step, sigma_s, ratio, drift = _improve(one, moved_two, both, step_s)
        shift_s += step
        if abs(step) < 1e-4:
            break
    if sigma_s > MOST_SIGMA_S:
        return ClockOffset("unsure", offset_s, why="no offset makes them agree well")
    return ClockOffset("same", offset_s + shift_s, sigma_s, ratio, drift)


def _averaged(one: Series, window_s: float) -> Series:
    """Mean over a stretch of time, as the other recorder's samples are."""
    if window_s <= one.window_s or window_s <= one.interval_s:
        return one
    total = np.concatenate(([0.0], np.cumsum(np.diff(one.time_s)
                                             * (one.values[1:] + one.values[:-1]) / 2.0)))
    start = np.maximum(one.time_s - window_s / 2.0, one.time_s[0])
    end = np.minimum(one.time_s + window_s / 2.0, one.time_s[-1])
    mean = ((np.interp(end, one.time_s, total) - np.interp(start, one.time_s, total))
            / (end - start))
    return replace(one, values=mean)


def _cost(one: FloatArray, in_one: BoolArray, two: FloatArray, in_two: BoolArray, shift: int
          ) -> float:
    """Share not explained when the second is moved by whole steps; 1 where they do not meet."""
    left = slice(max(shift, 0), one.size + min(shift, 0))
    right = slice(max(-shift, 0), one.size + min(-shift, 0))
    both = in_one[left] & in_two[right]
    if both.sum() < 20:
        return 1.0
    first, second = one[left][both], two[right][both]
    first, second = first - first.mean(), second - second.mean()
    whole = float(first @ first) * float(second @ second)
    return 1.0 - max(float(first @ second), 0.0)**2 / whole if whole > 0.0 else 1.0


def _improve(
    one: FloatArray, two: FloatArray, both: BoolArray, step_s: float
) -> tuple[float, float, float, float]:
    """One step of least squares: change of the offset, its sigma, ratio, and drift.

    A later second series is the one before less its slope times the change. What is far off (a
    spike, a drop-out) is left out. Sigma comes from the scatter of the change over pieces of the
    flight, each with the weight of what changes in it, as residuals hang together in time.
    """
    slope = np.gradient(two, step_s)
    used = both
    for _ in range(2):
        basis = np.stack([np.ones(int(used.sum())), two[used], -slope[used]])
        solved = np.linalg.lstsq(basis.T, one[used], rcond=None)[0]
        left = one - solved[0] - solved[1] * two + solved[2] * slope
        spread = 1.4826 * float(np.median(np.abs(left[used])))
        used = both & (np.abs(left) <= max(5.0 * spread, 1e-9))
    ratio = float(solved[1])
    scale = ratio if ratio > 0.1 else 1.0
    pieces = np.array_split(np.flatnonzero(used), _PIECES)
    weight = np.array([float(slope[piece] @ slope[piece]) for piece in pieces])
    pull = np.array([-float(slope[piece] @ left[piece]) for piece in pieces]) / scale
    middle = np.array([float(piece.mean()) if piece.size else 0.0 for piece in pieces]) * step_s
    good = weight > 1e-3 * weight.max()
    weight, change, middle = weight[good], pull[good] / weight[good], middle[good]
    total = float(weight.sum())
    sigma_s = float(np.sqrt((weight**2 * change**2).sum())) / total
    sigma_s *= np.sqrt(weight.size / max(weight.size - 1.0, 1.0))
    return (float(solved[2]) / scale, float(np.hypot(sigma_s, LEAST_SIGMA_S)), ratio,
            _drift(weight, change, middle))


def _drift(weight: FloatArray, change: FloatArray, middle_s: FloatArray) -> float:
    """Change of the offset with time [s/s], where it is clear: over 1 s and five sigma."""
    if weight.size < 5:
        return 0.0
    total = float(weight.sum())
    about = middle_s - float(weight @ middle_s) / total
    spread = float(weight @ (about * about))
    if spread <= 0.0:
        return 0.0
    rate = float(weight @ (about * change)) / spread
    left = change - float(weight @ change) / total - rate * about
    sigma = float(np.sqrt((weight**2 * about**2 * left**2).sum())) / spread
    over = abs(rate) * float(np.ptp(middle_s))
    return rate if over > 1.0 and abs(rate) > 5.0 * sigma else 0.0
