"""What columns say about each other: positions against speeds, altitudes against rates of climb.

Positions and time stand in units that are known, so they decide the unit of a ground speed; a rate
of climb decides that of an altitude, and a ground speed that of an airspeed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Evidence", "airspeed_ratio", "evidence", "nearest_unit", "rate_ratio", "ratio_to"]

FloatArray = NDArray[np.float64]

_EARTH_M = 6_371_000.0
_WINDOW_S = 10.0
#: Two readings count as told apart when the better one is this near, and the other this far [-].
NEAR, FAR = 0.06, 0.11
_FAST_MS = 12.0


@dataclass(frozen=True, eq=False)
class Evidence:
    """Speed and direction from positions, and the time between samples.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time from any zero [s].
    shift : int
        Samples in about ten seconds.
    speed_ms : ndarray or None, shape (n - shift,)
        Speed between positions ten seconds apart [m/s].
    course_deg : ndarray or None, shape (n - shift,)
        True direction between them [deg].
    """

    time_s: FloatArray
    shift: int
    speed_ms: FloatArray | None = None
    course_deg: FloatArray | None = None

    @property
    def elapsed_s(self) -> FloatArray:
        """Time between samples ten seconds apart [s]; NaN where it does not grow evenly."""
        step = self.time_s[self.shift:] - self.time_s[:-self.shift]
        return np.where((np.abs(step) > 1.0) & (np.abs(step) < 6.0 * _WINDOW_S), step, np.nan)

    def mean(self, values: FloatArray) -> FloatArray:
        """Mean of a signal between samples ten seconds apart, in its unit."""
        filled = np.where(np.isfinite(values), values, 0.0)
        total = np.concatenate(([0.0], np.cumsum(filled)))
        count = np.concatenate(([0.0], np.cumsum(np.isfinite(values))))
        # the mean over both ends, each counted half
        span = slice(None, values.size - self.shift)
        sums = (total[self.shift:-1][span] - total[:-1][span]) + 0.5 * (
            filled[self.shift:] - filled[:-self.shift])
        share = count[self.shift:-1][span] - count[:-1][span]
        return np.where(share > 0.8 * self.shift, sums / np.maximum(share, 1.0), np.nan)


def evidence(
    time_s: FloatArray, latitude: FloatArray | None = None, longitude: FloatArray | None = None
) -> Evidence | None:
    """Gather what the time and the positions of a recording say.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time from any zero [s].
    latitude, longitude : ndarray or None, shape (n,)
        Position [deg].

    Returns
    -------
    Evidence or None
        None where the recording is too short; never raises.

    Examples
    --------
    >>> time = np.arange(100.0)
    >>> seen = evidence(time, 50.0 + time * 40.0 / 111195.0, np.full(100, 8.0))
    >>> round(float(np.median(seen.speed_ms)), 1), round(float(np.median(seen.course_deg)), 1)
    (40.0, 0.0)
    """
    steps = np.diff(time_s[np.isfinite(time_s)])
    steps = np.abs(steps[steps != 0])
    if steps.size < 20:
        return None
    usual = float(np.abs(time_s[np.isfinite(time_s)][-1] - time_s[np.isfinite(time_s)][0])
                  / max(np.isfinite(time_s).sum() - 1, 1))
    shift = int(np.clip(round(_WINDOW_S / max(usual, 1e-3)), 1, time_s.size // 4))
    plain = Evidence(time_s, shift)
    if latitude is None or longitude is None:
        return plain
    zero = (latitude == 0.0) & (longitude == 0.0)
    north = np.radians(np.where(zero, np.nan, latitude))
    east = np.radians(np.where(zero, np.nan, longitude))
    up = (north[shift:] - north[:-shift]) * _EARTH_M
    right = (east[shift:] - east[:-shift]) * _EARTH_M * np.cos(north[shift:])
    elapsed = plain.elapsed_s
    sign = np.sign(elapsed)
    speed = np.hypot(up, right) / np.abs(elapsed)
    return Evidence(time_s, shift, speed, np.degrees(np.arctan2(right * sign, up * sign)) % 360.0)


def ratio_to(values: FloatArray, anchor: FloatArray, least: float) -> tuple[float, float] | None:
    """Ratio of a signal to an anchor, and how well they go together.

    Parameters
    ----------
    values, anchor : ndarray, shape (n,)
        The signal [any unit] and the anchor [its unit].
    least : float
        Samples are compared where the anchor is above this [its unit].

    Returns
    -------
    tuple of float or None
        Median ratio and correlation over all samples [-]; None for too few; never raises.

    Examples
    --------
    >>> ratio_to(np.arange(100.0) * 2.0, np.arange(100.0), 10.0)
    (2.0, 1.0)
    """
    both = np.isfinite(values) & np.isfinite(anchor)
    fast = both & (anchor > least)
    if fast.sum() < 30 or np.ptp(values[both]) == 0.0 or np.ptp(anchor[both]) == 0.0:
        return None
    ratio = float(np.median(values[fast] / anchor[fast]))
    return ratio, float(np.corrcoef(values[both], anchor[both])[0, 1])


def rate_ratio(
    seen: Evidence, altitude: FloatArray, rate: FloatArray
) -> tuple[float, float] | None:
    """Change of an altitude for each unit of a rate of climb and second.

    Parameters
    ----------
    seen : Evidence
        Time of the samples.
    altitude, rate : ndarray, shape (n,)
        Altitude and rate of climb [unit of the file].

    Returns
    -------
    tuple of float or None
        Slope, such as 1/60 for feet and feet a minute, and correlation; None where the altitude
        hardly changes; never raises.

    Examples
    --------
    >>> time = np.arange(600.0)
    >>> rate = 500.0 * np.sin(time / 60.0)
    >>> seen = evidence(time)
    >>> slope, likeness = rate_ratio(seen, np.cumsum(rate) / 60.0, rate)
    >>> round(slope * 60.0, 1), round(likeness, 1)
    (1.0, 1.0)
    """
    change = (altitude[seen.shift:] - altitude[:-seen.shift]) / seen.elapsed_s
    mean = seen.mean(rate)
    both = np.isfinite(change) & np.isfinite(mean)
    if both.sum() < 30:
        return None
    keep = both & (np.abs(change) <= 8.0 * np.percentile(np.abs(change[both]), 90) + 1e-9)
    x, y = mean[keep], change[keep]
    if float(x.std()) == 0.0 or float(y.std()) == 0.0:
        return None
    likeness = float(np.corrcoef(x, y)[0, 1])
    # the geometric mean of both regressions: noise in either does not flatten it
    return float(np.sign(likeness) * y.std() / x.std()), likeness


def airspeed_ratio(
    airspeed_ms: FloatArray, speed_ms: FloatArray, track_rad: FloatArray | None
) -> tuple[float, bool] | None:
    """Ratio of ground speed in still air to an airspeed.

    With directions the wind is solved for: the square of ground speed is linear in the square of
    airspeed and in the components of ground speed. Without, the middle of the ratios is taken.

    Parameters
    ----------
    airspeed_ms, speed_ms : ndarray, shape (n,)
        True airspeed and ground speed [m/s].
    track_rad : ndarray or None, shape (n,)
        Direction over ground [rad].

    Returns
    -------
    tuple of (float, bool) or None
        Ratio, and whether the wind was solved for; None where nothing can be said; never raises.

    Examples
    --------
    >>> turn = np.linspace(0.0, 12.0, 500)
    >>> true = 50.0 + 10.0 * np.sin(turn * 3.0)
    >>> north, east = true * np.cos(turn) + 10.0, true * np.sin(turn)
    >>> found = airspeed_ratio(true, np.hypot(north, east), np.arctan2(east, north))
    >>> round(found[0], 3), found[1]
    (1.0, True)
    """
    use = np.isfinite(airspeed_ms) & np.isfinite(speed_ms) & (speed_ms > _FAST_MS) & (
        airspeed_ms > 0.25 * _FAST_MS)
    if use.sum() < 60:
        return None
    plain = float(np.median(speed_ms[use] / airspeed_ms[use]))
    if track_rad is None:
        return plain, False
    use = use & np.isfinite(track_rad)
    if use.sum() < 60:
        return plain, False
    x = np.column_stack([airspeed_ms[use] ** 2, speed_ms[use] * np.cos(track_rad[use]),
                         speed_ms[use] * np.sin(track_rad[use])])
    spread = np.hypot(np.cos(track_rad[use]).std(), np.sin(track_rad[use]).std())
    if spread < 0.7:
        return plain, False
    # without a constant: the square of the wind is small against that of the speed, and known then
    square = speed_ms[use] ** 2
    wind_squared = 0.0
    for _ in range(4):
        answer = np.linalg.lstsq(x, square + wind_squared, rcond=None)[0]
        wind_squared = float(answer[1] ** 2 + answer[2] ** 2) / 4.0
    if answer[0] <= 0.0 or wind_squared > 30.0 ** 2:
        return plain, False
    return float(np.sqrt(answer[0])), True


def nearest_unit(
    factors: dict[str, float], near: float = NEAR, far: float = FAR
) -> tuple[str, bool] | None:
    """Choose the unit with which a ratio comes nearest to 1.

    Parameters
    ----------
    factors : dict of str to float
        Ratio by unit [-].
    near, far : float
        How near the best must be, and how far the next, as logarithms [-].

    Returns
    -------
    tuple of (str, bool) or None
        Unit, and whether it is told apart from the others; None where there are none; never raises.

    Examples
    --------
    >>> nearest_unit({"kt": 1.02, "mph": 0.89}), nearest_unit({"kt": 1.07, "mph": 0.93})
    (('kt', True), ('kt', False))
    """
    scored = sorted((abs(np.log(ratio)), unit) for unit, ratio in factors.items() if ratio > 0.0)
    if not scored:
        return None
    next_best = scored[1][0] if len(scored) > 1 else 9.0
    return scored[0][1], bool(scored[0][0] < near and next_best > far)
