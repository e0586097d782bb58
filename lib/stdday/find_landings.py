"""Landings: from 50 ft to a stop, and what looks like one and is not.

Lengths and positions of runways are not known to a campaign, so that no threshold is looked for:
distances count from 50 ft over the place of touchdown and from touchdown. A landing that was not
braked hard is found, and set aside: how far it rolled says where the exit was.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from stdday.bands import BANDS, Bands
from stdday.candidates import Candidate, knots, quality_word
from stdday.find_touchdown import Touchdown, find_touchdown
from stdday.signals import Trace, fit_line, runs, smooth

__all__ = ["find_landings"]

FloatArray = NDArray[np.float64]

#: Least mean deceleration between touchdown and the end of the roll that shows braking [m/s^2]:
#: without brakes, friction and drag give 0.6 to 1.0. Common practice.
BRAKED_MS2 = 1.2
#: A touchdown that is known no better than this [s] carries no ground roll: 50 m at 50 kt.
TOUCHDOWN_SIGMA_S = 2.0
#: Part of the energy at touchdown that may be left where the measured roll ends [-].
ENERGY_LEFT = 0.25
#: Turned off the runway [rad]: 20 deg. And time after touchdown before which nobody turns off [s].
EXIT_RAD, EXIT_AFTER_S = 0.35, 3.0
#: The airplane stands, for the end of a roll [m/s]; and from taxi speed to there, if braked [s].
STOPPED_MS, BRAKED_S = 1.0, 9.0
#: Longest time from the last moment surely in the air to braking that is looked at [s].
SEARCH_S = 45.0
#: Part of the usual airspeed in flight over which the airplane flies, however slow over the ground.
FLIES = 0.45
#: Error of GPS height relative to a few seconds earlier [m]. Typical of receivers.
GPS_WANDER_M = 0.5
#: Longest time between samples that still shows the passing of 50 ft [s].
HEIGHT_INTERVAL_S = 2.5
_MOVING = "no ground roll to a stop"


@dataclass(frozen=True)
class _Ground:
    """What the search looks at, on the grid."""

    trace: Trace
    bands: Bands
    speed: FloatArray
    airspeed: FloatArray
    height: FloatArray
    height_name: str
    gain_m: float
    levels: tuple[float, ...]

    def cells(self, seconds: float) -> int:
        return int(seconds / self.trace.step_s)

    def time_s(self, cell: int) -> float:
        return float(self.trace.grid_s[min(max(cell, 0), len(self.speed) - 1)])


def find_landings(trace: Trace, bands: Bands = BANDS) -> list[Candidate]:
    """Find landings to a stop, and touch-and-goes and roll-outs that carry no ground roll.

    A landing comes down from flight, touches the runway and slows down to a taxi there. Those that
    carry no ground roll are returned with ``used`` false and the reason; go-arounds, low passes and
    slow flight are not returned.

    Parameters
    ----------
    trace : Trace
        Recording; at least ``ground_speed`` is needed.
    bands : Bands, optional
        Thresholds.

    Returns
    -------
    list of Candidate
        In order of time; empty without a ground speed. Details: ``touchdown_s``, ``brakes_s``,
        ``roll_end_s``, ``height50_s`` with their ``_sigma_s``, and ``stop_s``, ``exit_s``; NaN
        where they do not exist.

    Examples
    --------
    An airplane that comes down at 1.5 m/s, touches down at 200 s and brakes at 2 m/s^2:

    >>> time = np.arange(0.0, 260.0, 0.25)
    >>> speed = np.clip(26.0 - 2.0 * np.clip(time - 201.0, 0.0, None), 0.0, None)
    >>> height = np.clip(1.5 * (200.0 - time), 0.0, None)
    >>> found = find_landings(Trace(time, {"ground_speed": speed, "gps_altitude": height}))
    >>> [(one.kind, one.used, round(one.details["stop_s"])) for one in found]
    [('landing', True, 214)]
    """
    if not trace.has("ground_speed"):
        return []
    ground = _look(trace, bands)
    found: list[Candidate] = []
    for first, last in runs(~(ground.speed < bands.taxi_ms)).tolist():
        if not (ground.speed[first:last] > bands.run_least_ms).any():
            continue
        found += _touch_and_goes(ground, first, last)
        up = _last_up(ground, first, last)
        if up >= 0:
            found.append(_landing(ground, up, last))
    return sorted(found, key=lambda one: one.start_s)


def _look(trace: Trace, bands: Bands) -> _Ground:
    step = trace.step_s
    speed = smooth(_without_spikes(trace.even("ground_speed")), 1.5, step)
    known = np.isfinite(speed)
    by_gps = np.isfinite(trace.even("gps_altitude"))[known].mean() > 0.7 if known.any() else False
    name = "gps_altitude" if by_gps else "pressure_altitude"
    name = name if trace.has(name) else ""
    height = smooth(_without_spikes(trace.even(name)), 2.0, step) if name else trace.even("")
    standing = runs(speed < bands.standing_ms)
    levels = [float(np.median(_known(height[first:last]))) for first, last in standing]
    return _Ground(
        trace, bands, speed,
        trace.even("indicated_airspeed" if trace.has("indicated_airspeed") else "true_airspeed"),
        height, name, bands.gain_m if by_gps else bands.gain_static_m,
        tuple(level for level in levels if np.isfinite(level)),
    )  # fmt: skip


def _without_spikes(values: FloatArray) -> FloatArray:
    """Median over five cells, unknown cells bridged for it and then unknown again."""
    known = np.isfinite(values)
    if known.sum() < 5:
        return values
    cells = np.arange(len(values))
    bridged = np.interp(cells, cells[known], values[known])
    steady = np.asarray(ndimage.median_filter(bridged, size=5, mode="nearest"), dtype=float)
    return np.where(known, steady, np.nan)


def _known(values: FloatArray) -> FloatArray:
    known = values[np.isfinite(values)]
    return known if len(known) else np.array([np.nan])


def _last_up(ground: _Ground, first: int, last: int) -> int:
    """Last cell surely in the air before the airplane slowed down on the ground; -1 if it did not.

    Without a height it is the last one at nearly the speed of the approach.
    """
    if last >= len(ground.speed) or not _on_ground(ground, first, last):
        return -1
    least = ground.cells(ground.bands.stay_s)
    if not ground.height_name:
        fast = np.flatnonzero(ground.speed[first:last] > ground.bands.run_least_ms)
        approach = float(np.median(_known(ground.speed[max(last - ground.cells(90), first):last])))
        before = np.flatnonzero(ground.speed[first:last] > 0.95 * approach)
        return int(first + before[-1]) if len(fast) >= 3 * least and len(before) else -1
    above = ground.height[first:last] - _base_m(ground, last)
    flown = np.flatnonzero(above > ground.gain_m)
    if len(flown) < least:
        return -1
    clear = np.flatnonzero(above[flown[-1]:] > ground.bands.clear_m)
    return int(first + flown[-1] + clear[-1])


def _base_m(ground: _Ground, last: int) -> float:
    """Height where the airplane has slowed down [m]."""
    return float(np.median(_known(ground.height[last:last + ground.cells(8.0)])))


def _on_ground(ground: _Ground, first: int, last: int) -> bool:
    """Whether the airplane is on the ground once slow, not flying slowly against a wind."""
    after = slice(last, last + ground.cells(8.0))
    airspeed = _known(ground.airspeed[after])
    if np.isfinite(airspeed[0]):
        usual = FLIES * float(np.median(_known(ground.airspeed[first:last])))
        return bool(np.min(airspeed) < max(ground.bands.static_airspeed_ms, usual))
    rate = fit_line(ground.trace.grid_s[after], ground.height[after]).rate
    fast = np.flatnonzero(ground.speed[last:] > ground.bands.taxi_ms)
    lasting = int(fast[0]) if len(fast) else len(ground.speed) - last + ground.cells(10.0)
    return not abs(rate) > 0.75 and lasting >= ground.cells(10.0)


def _landing(ground: _Ground, up: int, last: int) -> Candidate:
    """Time a landing and put its details together."""
    trace = ground.trace
    low, slow = ground.time_s(up), ground.time_s(last)
    touch = find_touchdown(trace, low, min(slow, low + SEARCH_S), ground.height_name)
    details = {
        "touchdown_s": touch.time_s, "touchdown_sigma_s": touch.sigma_s,
        "brakes_s": touch.brakes_s, "brakes_sigma_s": touch.brakes_sigma_s,
        **dict.fromkeys(("roll_end_s", "roll_end_sigma_s", "stop_s", "exit_s",
                         "height50_s", "height50_sigma_s"), float("nan")),
    }  # fmt: skip
    if np.isfinite(touch.time_s):
        details |= _roll_end(ground, touch.time_s, slow)
        if ground.height_name == "gps_altitude":
            details |= _screen(trace, touch.time_s, ground.bands.obstacle_m)
    start = details["height50_s"] if np.isfinite(details["height50_s"]) else low
    end = details["roll_end_s"] if np.isfinite(details["roll_end_s"]) else slow
    reason = _why_not(ground, details)
    quality = _quality(ground, touch, details)
    return Candidate("landing", start, end, not reason, reason, quality, details)


def _roll_end(ground: _Ground, touchdown: float, slow: float) -> dict[str, float]:
    """End of the roll that can be measured: a stop, the turn off the runway, or taxi speed."""
    trace = ground.trace
    exit_s = _exit_s(ground, touchdown)
    place = trace.index(slow)
    stopped = np.flatnonzero(ground.speed[place:place + ground.cells(BRAKED_S)] < STOPPED_MS)
    stop = ground.time_s(place + int(stopped[0])) if len(stopped) else float("nan")
    ends = [slow if np.isnan(stop) else stop]
    if np.isfinite(exit_s):
        ends.append(exit_s)
        stop = stop if stop <= exit_s else float("nan")
    part = trace.between(touchdown, max(ends))
    interval = np.diff(trace.time_s[part])
    sigma = float(np.median(interval)) / 2 if len(interval) else float("nan")
    return {"roll_end_s": min(ends), "roll_end_sigma_s": sigma, "stop_s": stop, "exit_s": exit_s}


def _exit_s(ground: _Ground, touchdown: float) -> float:
    """Time at which the airplane turns off the direction of the runway; NaN if it does not."""
    trace = ground.trace
    name = "track" if trace.has("track") else "heading"
    direction = smooth(_without_spikes(trace.even(name)), 1.5, trace.step_s)
    first = trace.index(touchdown)
    along = direction[max(first - ground.cells(2.0), 0):first + ground.cells(EXIT_AFTER_S) + 1]
    runway = float(np.median(_known(along)))
    start = first + ground.cells(EXIT_AFTER_S)
    moving = ground.speed[start:] > STOPPED_MS
    turned = moving & (np.abs(direction[start:] - runway) > EXIT_RAD)
    found = np.flatnonzero(turned)
    return ground.time_s(start + int(found[0])) if len(found) else float("nan")


def _screen(trace: Trace, touchdown: float, height_m: float) -> dict[str, float]:
    """Time at which 50 ft over the place of touchdown are passed; NaN where GPS cannot say."""
    nothing = {"height50_s": float("nan"), "height50_sigma_s": float("nan")}
    runway = trace.line("gps_altitude", touchdown, touchdown + 5.0)
    before = trace.between(touchdown - 90.0, touchdown)
    known = np.isfinite(trace.raw("gps_altitude")[before])
    time = trace.time_s[before][known]
    above = trace.raw("gps_altitude")[before][known] - runway.mean
    high = np.flatnonzero(above >= height_m)
    if runway.count < 2 or not len(high) or high[-1] + 1 >= len(time):
        return nothing
    rough = float(time[high[-1]])
    interval = float(np.median(np.diff(time)))
    near = np.abs(time - rough) <= max(2.0, 1.5 * interval)
    line = fit_line(time[near], above[near])
    if interval > HEIGHT_INTERVAL_S or not line.rate < -0.5:
        return nothing
    passed = float(time[near].mean() + (height_m - line.mean) / line.rate)
    spread = line.scatter if np.isfinite(line.scatter) else GPS_WANDER_M
    sigma = float(np.hypot(GPS_WANDER_M, spread / np.sqrt(line.count)) / -line.rate)
    return {"height50_s": passed, "height50_sigma_s": sigma}


def _why_not(ground: _Ground, details: dict[str, float]) -> str:
    """Why a landing carries no ground roll; empty where it does."""
    touchdown, end = details["touchdown_s"], details["roll_end_s"]
    if not np.isfinite(touchdown):
        return "no channel shows the touchdown"
    if details["touchdown_sigma_s"] > TOUCHDOWN_SIGMA_S:
        return f"touchdown known to {details['touchdown_sigma_s']:.1f} s only; 2 s at most"
    first, last = (_speed_at(ground, moment) for moment in (touchdown, end))
    rate = (first - last) / (end - touchdown) if end > touchdown else float("nan")
    hole = _hole_s(ground.trace, touchdown, end)
    left_fast = (last / first) ** 2 > ENERGY_LEFT
    if hole > 5.0:
        return f"ground speed missing for {hole:.0f} s of the roll"
    if left_fast and np.isfinite(details["exit_s"]):
        return f"left the runway at {knots(last)}: {_MOVING}"
    if not rate >= BRAKED_MS2 or left_fast:
        return (f"rolled out without hard braking: {rate:.1f} m/s^2 from touchdown to "
                f"{knots(last)}, {BRAKED_MS2:.1f} needed")  # fmt: skip
    return ""


def _speed_at(ground: _Ground, time_s: float) -> float:
    return float(ground.speed[ground.trace.index(time_s)])


def _hole_s(trace: Trace, start_s: float, end_s: float) -> float:
    """Longest time without a ground speed [s]."""
    part = trace.between(start_s - 2.0, end_s + 2.0)
    known = trace.time_s[part][np.isfinite(trace.raw("ground_speed")[part])]
    return float(np.max(np.diff(known))) if len(known) > 1 else float("inf")


def _quality(ground: _Ground, touch: Touchdown, details: dict[str, float]) -> str:
    hole = _hole_s(ground.trace, touch.time_s, details["roll_end_s"])
    marks = [
        (touch.sigma_s, (0.7, 1.4), f"touchdown known to {touch.sigma_s:.1f} s"),
        (hole, (1.5, 3.0), f"ground speed missing for {hole:.0f} s"),
    ]
    if np.isnan(details["stop_s"]):
        marks.append((1.0, (0.0, 2.0), "measured to taxi speed, the rest of the stop reckoned"))
    if np.isnan(details["height50_s"]):
        marks.append((1.0, (0.0, 2.0), "no height that shows 50 ft"))
    if not (ground.trace.has("track") or ground.trace.has("heading")):
        told = "no direction recorded: a turn off the runway would not be seen"
        marks.append((1.0, (0.0, 2.0), told))
    if touch.left_out:
        named = " and ".join(one.channel for one in touch.left_out)
        marks.append((1.0, (0.0, 2.0), f"touchdown not as {named} would have it"))
    return quality_word(marks)


def _touch_and_goes(ground: _Ground, first: int, last: int) -> list[Candidate]:
    """Touches of the runway in a stretch without a taxi, after which the airplane climbs again."""
    if not ground.height_name or not ground.levels:
        return []
    by_gps = ground.height_name == "gps_altitude"
    contact = ground.bands.contact_m * (1 if by_gps else 2)
    height = ground.height[first:last]
    above = np.min([np.abs(height - level) for level in ground.levels], axis=0)
    found = []
    for start, stop in (runs(above < contact) + first).tolist():
        touch = _touch_and_go(ground, (first, last), start, stop)
        if touch is not None:
            found.append(touch)
    return found


def _touch_and_go(
    ground: _Ground, run: tuple[int, int], start: int, stop: int
) -> Candidate | None:
    first, last = run
    base = float(np.median(_known(ground.height[start:stop])))
    earlier = ground.height[first:start] > base + ground.gain_m
    latest = min(last, stop + ground.cells(ground.bands.gain_within_s))
    later = ground.height[stop:latest]
    gained = np.flatnonzero(later > base + ground.gain_m)
    before = ground.speed[max(start - ground.cells(10.0), 0):start + 1]
    dip = float(np.min(_known(ground.speed[start:stop])))
    long_enough = stop - start >= ground.cells(ground.bands.contact_s)
    flown = earlier.sum() >= ground.cells(ground.bands.stay_s)
    slowed = dip < 0.92 * float(np.median(_known(before)))
    if not (len(gained) and flown and slowed and long_enough):
        return None
    start_s, end_s = ground.time_s(start), ground.time_s(stop)
    word = "touch-and-go" if _rough(ground.trace, start_s, end_s) else "touch-and-go or low pass"
    return Candidate("landing", start_s, end_s, False, f"{word}: {_MOVING}", "poor: not complete")


def _rough(trace: Trace, start_s: float, end_s: float) -> bool:
    """Whether normal acceleration shows wheels on a runway: rougher than the air before."""
    load = trace.raw("normal_acceleration")
    parts = [load[trace.between(*pair)] for pair in ((start_s, end_s), (start_s - 12, start_s - 2))]
    rough, air = (np.diff(part[np.isfinite(part)]) for part in parts)
    return bool(len(rough) > 8 and len(air) > 8 and rough.std() > 2.0 * air.std())
