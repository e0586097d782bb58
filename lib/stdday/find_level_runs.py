"""Steady level runs: height, airspeed, power and heading all within their bands for a minute."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stdday.bands import BANDS, FOOT_M, KNOT_MS, Bands
from stdday.candidates import Candidate, knots, quality_word
from stdday.signals import Trace, runs, slope
from stdday.steady import Criterion, steady_windows, what_fails

__all__ = ["find_level_runs"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class _Level:
    """What the search looks at, on the grid."""

    trace: Trace
    bands: Bands
    airspeed: FloatArray
    criteria: tuple[Criterion, ...]
    liftoff_airspeed_ms: float
    duration_s: float

    def seconds(self, first: int, last: int) -> float:
        return (last - first) * self.trace.step_s

    def accept(self, first: int, last: int) -> bool:
        """Whether a window is long enough after settling, with its airspeed known."""
        needed = self.duration_s + self._settling(first)
        sampled = np.isfinite(self.airspeed[first:last]).mean() > 0.7
        return bool(sampled and self.seconds(first, last) >= needed)

    def _settling(self, first: int) -> float:
        return 0.0 if first == 0 else self.bands.level_settling_s


def find_level_runs(
    trace: Trace, bands: Bands = BANDS, liftoff_airspeed_ms: float = float("nan")
) -> list[Candidate]:
    """Find steady level runs, and say why others are none.

    Parameters
    ----------
    trace : Trace
        Recording; ``pressure_altitude`` and ``indicated_airspeed`` are needed.
    bands : Bands, optional
        Thresholds.
    liftoff_airspeed_ms : float, optional
        Lift-off airspeed [m/s]; runs below 1.2 times it are slow flight. NaN: not looked at.

    Returns
    -------
    list of Candidate
        In order of time; empty where a needed channel is missing.

    Examples
    --------
    >>> time = np.arange(0.0, 100.0)
    >>> steady = {"pressure_altitude": 900.0 + 0 * time, "indicated_airspeed": 50.0 + 0 * time}
    >>> [(one.start_s, one.used) for one in find_level_runs(Trace(time, steady))]
    [(0.0, True)]
    """
    if not (trace.has("pressure_altitude") and trace.has("indicated_airspeed")):
        return []
    airspeed = trace.smoothed("indicated_airspeed", bands.smooth_s)
    calm = _Level(
        trace,
        bands,
        airspeed,
        _criteria(trace, bands, airspeed, bands.level_airspeed_ms),
        liftoff_airspeed_ms,
        bands.level_duration_s,
    )
    gusty = replace(
        calm,
        criteria=_criteria(trace, bands, airspeed, bands.level_gusty_ms),
        duration_s=max(bands.level_gusty_s, bands.level_duration_s),
    )
    found: list[Candidate] = []
    for first, last in runs(_level(trace, bands)):
        if calm.seconds(int(first), int(last)) >= bands.level_noted_s:
            found += _in_stretch(calm, gusty, int(first), int(last))
    return found


def _level(trace: Trace, bands: Bands) -> BoolArray:
    """Neither climbing nor descending nor on the ground; short waves bridged."""
    rate = slope(trace.even("pressure_altitude"), bands.level_slope_s, trace.step_s)
    airspeed = trace.even("indicated_airspeed")
    flying = ~(airspeed < bands.static_airspeed_ms)
    level = np.asarray((np.abs(rate) < bands.level_slope_ms) & flying)
    for first, last in runs(~level):
        short = (last - first) * trace.step_s <= bands.level_wave_s
        if short and first > 0 and last < len(level) and flying[first:last].all():
            level[first:last] = True
    return level


def _criteria(
    trace: Trace, bands: Bands, airspeed: FloatArray, each_side_ms: float
) -> tuple[Criterion, ...]:
    criteria = [
        Criterion(
            "altitude not steady: {} ft between lowest and highest",
            trace.smoothed("pressure_altitude", 4.0),
            2 * bands.level_altitude_m,
            1 / FOOT_M,
        ),
        Criterion(
            "airspeed not steady: {} kt between lowest and highest",
            airspeed,
            2 * each_side_ms + bands.level_trend_ms,
            1 / KNOT_MS,
        ),
    ]
    for name in ("power", "engine_speed", "manifold_pressure"):
        if trace.has(name):
            values = trace.smoothed(name, bands.smooth_s)
            relative = np.log(np.where(values > 0, values, np.nan))
            words = f"{name.replace('_', ' ')} changed by {{}} %"
            criteria.append(Criterion(words, relative, 2 * bands.level_power, 100.0, relative=True))
    direction = next((name for name in ("heading", "track") if trace.has(name)), "")
    if direction:
        turned = trace.smoothed(direction, bands.smooth_s)
        words = f"turning: {direction} changed by {{}} deg"
        criteria.append(Criterion(words, turned, 2 * bands.level_heading_rad, 180 / np.pi))
    return tuple(criteria)


def _in_stretch(calm: _Level, gusty: _Level, first: int, last: int) -> list[Candidate]:
    """Level runs in one stretch that neither climbs nor descends.

    Steady ones first; what is left of the stretch may hold longer ones in gusty air.
    """
    windows = [(calm, *pair) for pair in steady_windows(calm.criteria, first, last, calm.accept)]
    edges = [first, *(edge for _, *pair in windows for edge in pair), last]
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        windows += [
            (gusty, *pair) for pair in steady_windows(gusty.criteria, begin, end, gusty.accept)
        ]
    if windows:
        return [_settled(*window) for window in sorted(windows, key=lambda window: window[1])]
    if calm.accept(first, last):
        reason = what_fails(calm.criteria, first, last, calm.accept)
    else:
        seconds, needed = calm.seconds(first, last), calm.bands.level_duration_s
        settling = calm.bands.level_settling_s if first else 0.0
        reason = f"level for {seconds:.0f} s; {needed:.0f} s needed"
        reason += f" and {settling:.0f} s to settle" if seconds >= needed else ""
    return [_candidate(calm, first, last, reason)]


def _settled(look: _Level, first: int, last: int) -> Candidate:
    """Drop the settling time, and as much more as the airspeed still runs to its new value."""
    step = look.trace.step_s
    start = first + int(look.bands.level_settling_s / step) * (first > 0)
    stop = last - int(look.bands.smooth_s / 2 / step) * (last < len(look.airspeed))
    needed = int(np.ceil(look.duration_s / step))
    stop = max(stop, start + needed)
    look_s, jump = int(30 / step), int(5 / step)
    while stop - start - jump >= needed:
        time = look.trace.grid_s
        rate = look.trace.line(
            "indicated_airspeed", float(time[start]), float(time[start + look_s])
        ).rate
        if not abs(rate) > look.bands.level_airspeed_rate_ms2:
            break
        start += jump
    return _candidate(look, start, min(stop, len(look.airspeed)), "")


def _candidate(look: _Level, first: int, last: int, reason: str) -> Candidate:
    trace, bands = look.trace, look.bands
    start, end = float(trace.grid_s[first]), float(trace.grid_s[last - 1])
    airspeed = trace.line("indicated_airspeed", start, end)
    altitude = trace.line("pressure_altitude", start, end)
    slow = bands.level_speed_ratio * look.liftoff_airspeed_ms
    if not reason and abs(altitude.rate) > bands.level_rate_ms:
        reason = f"not level: {altitude.rate / FOOT_M * 60:.0f} ft/min over the run"
    if not reason and abs(airspeed.rate) > bands.level_airspeed_rate_ms2:
        reason = f"airspeed not steady: {airspeed.rate * 60 / KNOT_MS:.1f} kt a minute"
    if not reason and airspeed.mean < slow:
        reason = (
            f"slow flight: {knots(airspeed.mean)} is below {bands.level_speed_ratio:g} times "
            f"the lift-off airspeed ({knots(slow)})"
        )
    marks = [
        (
            airspeed.scatter,
            bands.scatter_airspeed_ms,
            f"airspeed scatter {airspeed.scatter / KNOT_MS:.1f} kt",
        ),
        (
            altitude.scatter,
            bands.scatter_altitude_m,
            f"altitude scatter {altitude.scatter / FOOT_M:.0f} ft",
        ),
    ]
    if look.duration_s > bands.level_duration_s:
        marks.append((1.0, (0.0, 2.0), "airspeed swings as in gusty air"))
    if not any("turning" in one.words for one in look.criteria):
        marks.append((1.0, (0.0, 2.0), "no heading or track: a turn would not be seen"))
    return Candidate("level run", start, end, not reason, reason, quality_word(marks))
