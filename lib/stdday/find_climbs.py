"""Climbs at constant indicated airspeed and full throttle, with the wings level."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stdday.bands import BANDS, KNOT_MS, Bands
from stdday.candidates import Candidate, feet, full_throttle, quality_word, throttle_ratio
from stdday.signals import Trace, runs, slope
from stdday.steady import Criterion, steady_windows, what_fails

__all__ = ["climb_windows", "find_climbs"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class _Climb:
    """What the search looks at, on the grid."""

    trace: Trace
    bands: Bands
    altitude: FloatArray
    airspeed: FloatArray
    criteria: tuple[Criterion, ...]

    def accept(self, first: int, last: int) -> bool:
        """Whether a window is long or high enough, with its airspeed known."""
        seconds = (last - first) * self.trace.step_s
        if seconds < self.bands.climb_least_s:
            return False
        known = self.altitude[first:last][np.isfinite(self.altitude[first:last])]
        gain = float(known[-1] - known[0]) if len(known) else 0.0
        sampled = np.isfinite(self.airspeed[first:last]).mean() > 0.7
        long = seconds >= self.bands.climb_duration_s or gain >= self.bands.climb_gain_m
        return bool(sampled and long)


def find_climbs(
    trace: Trace,
    bands: Bands = BANDS,
    reference_altitudes_m: Sequence[float] = (),
    naturally_aspirated: bool = True,
) -> list[Candidate]:
    """Find sustained climbs, and say why others are none.

    Parameters
    ----------
    trace : Trace
        Recording; ``pressure_altitude`` and ``indicated_airspeed`` are needed.
    bands : Bands, optional
        Thresholds.
    reference_altitudes_m : sequence of float, optional
        Pressure altitudes that results are wanted for [m]. A climb that passes none of them is not
        used; with none given, all are.
    naturally_aspirated : bool, optional
        Whether full-throttle power falls with altitude.

    Returns
    -------
    list of Candidate
        In order of time; empty where a needed channel is missing.

    Examples
    --------
    Two minutes level, three minutes up at 4 m/s and 35 m/s indicated:

    >>> time = np.arange(0.0, 300.0)
    >>> altitude = np.clip(4.0 * (time - 120.0), 0.0, None)
    >>> airspeed = np.full(300, 35.0)
    >>> trace = Trace(time, {"pressure_altitude": altitude, "indicated_airspeed": airspeed})
    >>> [(one.kind, one.used) for one in find_climbs(trace)]
    [('climb', True)]
    """
    if not (trace.has("pressure_altitude") and trace.has("indicated_airspeed")):
        return []
    climbing = _climbing(trace, bands)
    ratio, engine = throttle_ratio(trace, naturally_aspirated)
    highest, least = full_throttle(ratio, engine, climbing, bands)
    look = _look(trace, bands)
    found: list[Candidate] = []
    full, share = ~(ratio < least), ratio / highest
    for stretch in runs(climbing):
        first, last = _settled(trace, bands, int(stretch[0]), int(stretch[1]))
        if look.accept(first, last):
            found += _in_stretch(look, first, last, full, engine, share)
    return [_at_references(trace, one, reference_altitudes_m, bands) for one in found]


def _climbing(trace: Trace, bands: Bands) -> BoolArray:
    rate = slope(trace.even("pressure_altitude"), bands.climb_slope_s, trace.step_s)
    flying = trace.even("indicated_airspeed") > bands.static_airspeed_ms
    unknown = ~np.isfinite(trace.even("indicated_airspeed"))
    return np.asarray((rate > bands.climb_rate_ms) & (flying | unknown))


def _settled(trace: Trace, bands: Bands, first: int, last: int) -> tuple[int, int]:
    """Drop the ends at which the climb is not yet, or no longer, there."""
    rate = slope(trace.even("pressure_altitude")[first:last], bands.climb_edge_s, trace.step_s)
    if not np.isfinite(rate).any():
        return first, first
    there = np.flatnonzero(rate >= bands.climb_settled * np.nanmedian(rate))
    if not len(there):
        return first, first
    return first + int(there[0]), first + int(there[-1]) + 1


def _look(trace: Trace, bands: Bands) -> _Climb:
    airspeed = trace.smoothed("indicated_airspeed", bands.smooth_s)
    criteria = [
        Criterion(
            "airspeed not constant: {} kt between lowest and highest",
            airspeed,
            2 * bands.climb_airspeed_ms,
            1 / KNOT_MS,
        )
    ]
    direction = next((name for name in ("heading", "track") if trace.has(name)), "")
    if direction:
        turned = trace.smoothed(direction, bands.smooth_s)
        words = f"turning: {direction} changed by {{}} deg"
        criteria.append(Criterion(words, turned, 2 * bands.climb_heading_rad, 180 / np.pi))
    altitude = trace.smoothed("pressure_altitude", 4.0)
    return _Climb(trace, bands, altitude, airspeed, tuple(criteria))


def _in_stretch(
    look: _Climb, first: int, last: int, full: BoolArray, engine: str, share: FloatArray
) -> list[Candidate]:
    """Climbs in one stretch that goes up all the time."""
    found, why = [], []
    for begin, end in runs(full[first:last]) + first:
        windows = steady_windows(look.criteria, int(begin), int(end), look.accept)
        trimmed = [_without_transient(look, start, stop) for start, stop in windows]
        found += [pair for pair in trimmed if look.accept(*pair)]
        if not windows and look.accept(int(begin), int(end)):
            why.append(what_fails(look.criteria, int(begin), int(end), look.accept))
    if found:
        return [_candidate(look, start, stop, "") for start, stop in found]
    if not why and not full[first:last].all():
        lowest = np.nanmedian(share[first:last][~full[first:last]])
        words = engine.replace("_", " ")
        why.append(f"not full throttle: {words} {100 * lowest:.0f} % of the highest in climbs")
    return [_candidate(look, first, last, "; ".join(why) or "airspeed not constant at the start")]


def _without_transient(look: _Climb, start: int, stop: int) -> tuple[int, int]:
    """Drop what is over half of the band from the median at either end."""
    part = look.airspeed[start:stop]
    near = np.abs(part - np.nanmedian(part)) <= look.bands.climb_airspeed_ms / 2
    inside = np.flatnonzero(near)
    if not len(inside):
        return start, start
    return start + int(inside[0]), start + int(inside[-1]) + 1


def _candidate(look: _Climb, first: int, last: int, reason: str) -> Candidate:
    time = look.trace.grid_s
    start, end = float(time[first]), float(time[last - 1])
    airspeed = look.trace.line("indicated_airspeed", start, end)
    marks = [
        (
            airspeed.scatter,
            look.bands.scatter_airspeed_ms,
            f"airspeed scatter {airspeed.scatter / KNOT_MS:.1f} kt",
        )
    ]
    if len(look.criteria) == 1:
        marks.append((1.0, (0.0, 2.0), "no heading or track: a turn would not be seen"))
    return Candidate("climb", start, end, not reason, reason, quality_word(marks))


def _at_references(
    trace: Trace, candidate: Candidate, altitudes_m: Sequence[float], bands: Bands
) -> Candidate:
    if not candidate.used or not len(altitudes_m):
        return candidate
    if climb_windows(trace, candidate.start_s, candidate.end_s, altitudes_m, bands):
        return candidate
    wanted = ", ".join(feet(one) for one in altitudes_m)
    reason = (
        f"passes no reference altitude ({wanted}): {feet(bands.climb_window_least_m)} of climb "
        f"within {feet(bands.climb_window_m)} of one needed"
    )
    return Candidate(
        "climb", candidate.start_s, candidate.end_s, False, reason, candidate.quality
    )


def climb_windows(
    trace: Trace,
    start_s: float,
    end_s: float,
    altitudes_m: Sequence[float],
    bands: Bands = BANDS,
) -> list[tuple[int, float, float]]:
    """Cut a climb at the reference altitudes that it passes.

    Parameters
    ----------
    trace : Trace
        Recording with ``pressure_altitude``.
    start_s, end_s : float
        Bounds of the climb [s].
    altitudes_m : sequence of float
        Reference pressure altitudes [m].
    bands : Bands, optional
        Thresholds.

    Returns
    -------
    list of (int, float, float)
        Position of the reference altitude (from 1), and the bounds [s] of the part of the climb
        around it; only those with enough height and time in them.

    Examples
    --------
    >>> time = np.arange(0.0, 200.0)
    >>> trace = Trace(time, {"pressure_altitude": 4.0 * time})
    >>> climb_windows(trace, 0.0, 199.0, [300.0, 1200.0])
    [(1, 37.5, 112.5)]
    """
    first, last = trace.index(start_s), trace.index(end_s) + 1
    altitude = trace.smoothed("pressure_altitude", 4.0)[first:last]
    time = trace.grid_s[first:last]
    found = []
    for position, wanted in enumerate(altitudes_m, start=1):
        inside = np.flatnonzero(np.abs(altitude - wanted) <= bands.climb_window_m)
        if not len(inside):
            continue
        part = slice(int(inside[0]), int(inside[-1]) + 1)
        seconds = float(time[part][-1] - time[part][0])
        gain = float(np.nanmax(altitude[part]) - np.nanmin(altitude[part]))
        if gain >= bands.climb_window_least_m and seconds >= bands.climb_window_least_s:
            begin = max(float(time[part][0]), start_s)
            found.append((position, begin, min(float(time[part][-1]), end_s)))
    return found
