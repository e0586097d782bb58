"""Take-offs: from brake release to 50 ft, and what looks like one and is not."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from stdday.bands import BANDS, Bands
from stdday.candidates import Candidate, engine_share, knots, quality_word
from stdday.delays import Delays, estimate_delays
from stdday.find_liftoff import LOW_FLIGHT, Liftoff, find_liftoff, nose_up_s
from stdday.signals import Trace, fit_line, runs, smooth
from stdday.takeoff_times import brake_release, even_slips, first_motion_s, height_passed

__all__ = ["find_takeoffs"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

ROLLING = "rolling start: no standing brake release"
#: The nose comes up 1 to 3 s before the wheels leave, unless for a soft field. Piloting practice.
NOSE_UP_S = 4.0
MOVING = "moving start: touch-and-go or low pass"


@dataclass(frozen=True)
class _Ground:
    """What the search looks at, on the grid."""

    trace: Trace
    bands: Bands
    speed: FloatArray
    airspeed: FloatArray
    height: FloatArray
    height_name: str
    run_ms: float
    gain_m: float
    delays: Delays | None = None
    slips_s: FloatArray = field(default_factory=lambda: np.empty(0))

    def seconds(self, cells: int) -> float:
        return cells * self.trace.step_s


@dataclass(frozen=True)
class _Run:
    """One stretch faster than a taxi: first cell, one past the last, first cell of flying speed."""

    first: int
    last: int
    fast: int


def find_takeoffs(
    trace: Trace, bands: Bands = BANDS, liftoff_airspeed_ms: float = float("nan")
) -> list[Candidate]:
    """Find take-offs, and rolling starts, aborted take-offs, touch-and-goes and run-ups.

    A take-off accelerates from standstill to flying speed and then stays up and fast. All else that
    begins like one is returned with ``used`` false and its reason.

    Parameters
    ----------
    trace : Trace
        Recording; at least ``ground_speed`` is needed.
    bands : Bands, optional
        Thresholds.
    liftoff_airspeed_ms : float, optional
        Lift-off airspeed of the airplane [m/s], for the order of flying speed; NaN if not known.

    Returns
    -------
    list of Candidate
        In order of time; empty without a ground speed.

    Examples
    --------
    An airplane that stands, accelerates at 2 m/s^2 to 32 m/s, and climbs at 3 m/s from 25 m/s on;
    nothing tells how late the receiver is, so that it is taken to be as late as usual:

    >>> time = np.arange(0.0, 120.0)
    >>> roll = np.clip(2.0 * (time - 20.0), 0.0, 32.0)
    >>> height = np.clip(3.0 * (time - 33.0), 0.0, None)
    >>> found = find_takeoffs(Trace(time, {"ground_speed": roll, "gps_altitude": height}))
    >>> [(one.kind, one.used, round(one.details["brake_release_s"], 1)) for one in found]
    [('take-off', True, 19.4)]
    """
    if not trace.has("ground_speed"):
        return []
    as_written, trace = trace.time_s, trace.at_times(even_slips(trace.time_s))
    ground = _look(trace, bands, liftoff_airspeed_ms)
    ground = replace(ground, slips_s=trace.time_s[trace.time_s != as_written])
    found: list[Candidate] = []
    fast = _fast_runs(ground)
    if fast:
        ground = replace(ground, delays=estimate_delays(trace, _rolls(ground, fast)))
    for run in fast:
        found += _judge(ground, run)
    found += _run_ups(ground, found)
    return sorted(found, key=lambda one: one.start_s)


def _look(trace: Trace, bands: Bands, liftoff_airspeed_ms: float) -> _Ground:
    speed = smooth(_without_spikes(trace.even("ground_speed")), 1.5, trace.step_s)
    by_gps = trace.has("gps_altitude") and _covers(trace, "gps_altitude")
    name = "gps_altitude" if by_gps else "pressure_altitude"
    if not trace.has(name):
        name = ""
    airspeed = "indicated_airspeed" if trace.has("indicated_airspeed") else "true_airspeed"
    run_ms = bands.run_least_ms
    if np.isfinite(liftoff_airspeed_ms):
        run_ms = max(run_ms, bands.run_fraction * liftoff_airspeed_ms)
    return _Ground(
        trace,
        bands,
        speed,
        trace.even(airspeed),
        smooth(_without_spikes(trace.even(name)), 2.0, trace.step_s) if name else trace.even(""),
        name,
        run_ms,
        bands.gain_m if name == "gps_altitude" else bands.gain_static_m,
    )


def _covers(trace: Trace, name: str) -> bool:
    """Whether a channel is known over most of the time that ground speed is."""
    speed = np.isfinite(trace.even("ground_speed"))
    return bool((np.isfinite(trace.even(name)) & speed).sum() > 0.7 * speed.sum())


def _without_spikes(values: FloatArray) -> FloatArray:
    """Median over five cells, unknown cells bridged for it and then unknown again."""
    known = np.isfinite(values)
    if known.sum() < 5:
        return values
    cells = np.arange(len(values))
    bridged = np.interp(cells, cells[known], values[known])
    steady = np.asarray(ndimage.median_filter(bridged, size=5, mode="nearest"), dtype=float)
    return np.where(known, steady, np.nan)


def _fast_runs(ground: _Ground) -> list[_Run]:
    """Stretches without a taxi in them that reach flying speed and begin in the recording."""
    found = []
    for first, last in runs(~(ground.speed < ground.bands.taxi_ms)):
        fast = np.flatnonzero(ground.speed[first:last] > ground.run_ms)
        if first > 0 and len(fast):
            found.append(_Run(int(first), int(last), int(first + fast[0])))
    return found


def _rolls(ground: _Ground, fast: list[_Run]) -> list[tuple[float, float]]:
    """Stretches of the take-offs, generously, from which no delay may be estimated."""
    time = ground.trace.grid_s
    return [(float(time[run.first]) - 15, float(time[run.fast]) + 30) for run in fast]


def _standing(ground: _Ground, run: _Run) -> tuple[int, str]:
    """Last cell at standstill before the run, and why it is not a standing start (or nothing)."""
    bands = ground.bands
    still = ground.speed < bands.standing_ms
    before = np.flatnonzero(still[: run.first])
    if not len(before) or ground.seconds(run.first - int(before[-1])) > bands.quick_start_s:
        return run.first, ROLLING
    last = int(before[-1])
    first, _ = next(pair for pair in runs(still) if pair[0] <= last < pair[1])
    if ground.seconds(last - int(first) + 1) < bands.standing_s:
        at_start = "; the recording starts here" if first == 0 else ""
        return run.first, ROLLING + at_start
    return last, ""


def _in_flight(ground: _Ground, cell: int) -> bool:
    """Whether the airplane flies, although slow over the ground."""
    # Full power at standstill sucks at static ports: 14 m of altitude are 33 kt of airspeed.
    # But not for all of the time before.
    airspeed = _known(ground.airspeed[max(cell - int(40 / ground.trace.step_s), 0) : cell + 1])
    if np.isfinite(airspeed).any():
        return bool(np.percentile(airspeed, 10) > ground.bands.static_airspeed_ms)
    before = slice(max(cell - 12, 0), cell + 1)
    rate = fit_line(ground.trace.grid_s[before], ground.height[before]).rate
    return bool(abs(rate) > 0.75) or _slowed_down_level(ground, cell)


def _slowed_down_level(ground: _Ground, cell: int) -> bool:
    """Whether the minute before it got slow was flown fast and no higher: no approach led here."""
    fast = np.flatnonzero(ground.speed[:cell] > ground.run_ms)
    if not len(fast):
        return False
    minute = slice(int(fast[-1]) + 1 - int(60 / ground.trace.step_s), int(fast[-1]) + 1)
    if minute.start < 0 or not (ground.speed[minute] > ground.run_ms).all():
        return False
    return bool(np.max(_known(ground.height[minute])) < ground.height[cell] + ground.gain_m)


def _judge(ground: _Ground, run: _Run) -> list[Candidate]:
    last, why_not = _standing(ground, run)
    if _in_flight(ground, last):
        return []
    up, why_not_up = _airborne(ground, run)
    if up < 0:
        return _aborted(ground, run, last, why_not_up)
    start = _start(ground, run, last, why_not)
    slow_run = ground.seconds(run.fast - run.first) > ground.bands.run_s
    candidate = _takeoff(ground, run, start, up, why_not or (ROLLING if slow_run else ""))
    if candidate.used and why_not_up:
        candidate = replace(candidate, used=False, reason=why_not_up)
    return [candidate, *_touches(ground, run, up)]


def _airborne(ground: _Ground, run: _Run) -> tuple[int, str]:
    """First cell surely up, or -1; and why the take-off is not complete (or nothing)."""
    bands = ground.bands
    if not ground.height_name:
        minute = int(60 / ground.trace.step_s)
        fast = ground.speed[run.fast : run.fast + minute] > ground.run_ms
        up = run.fast + int(20 / ground.trace.step_s)
        flies = fast.mean() > 0.9 and len(fast) == minute
        return (up, "") if flies else (-1, "no height recorded")
    base = float(np.median(_known(ground.height[run.first : run.fast + 1])))
    within = min(run.last, run.fast + int(bands.gain_within_s / ground.trace.step_s))
    gained = np.flatnonzero(ground.height[run.fast : within] > base + ground.gain_m)
    if not len(gained):
        return -1, ""
    up = run.fast + int(gained[0])
    low = np.flatnonzero(ground.height[up : run.last] < base + ground.gain_m / 3)
    down = up + int(low[0]) if len(low) else run.last
    stay = ground.seconds(down - up)
    if stay >= bands.stay_s:
        return up, ""
    if down >= len(ground.speed):
        return up, f"the recording ends {stay:.0f} s after 50 ft; {bands.stay_s:.0f} s needed"
    return -1, f"a hop: down again {stay:.0f} s after {ground.gain_m:.0f} m"


def _known(values: FloatArray) -> FloatArray:
    known = values[np.isfinite(values)]
    return known if len(known) else np.array([np.nan])


def _aborted(ground: _Ground, run: _Run, last: int, why: str) -> list[Candidate]:
    """Return an aborted take-off, if the engine pushed as hard as for one."""
    top = run.first + int(np.nanargmax(ground.speed[run.first : run.last]))
    seconds = ground.seconds(top - run.first)
    if not _pushed(ground, run.first, top + 1) or seconds > ground.bands.run_s:
        return []
    if run.last >= len(ground.speed):
        why = why or "the recording ends before the airplane is up"
    reason = why or f"aborted: reached {knots(ground.speed[top])} and slowed down again"
    time = ground.trace.grid_s
    end = float(time[min(run.last, len(time) - 1)])
    return [Candidate("take-off", float(time[last]), end, False, reason, "poor: not complete")]


def _pushed(ground: _Ground, first: int, last: int) -> bool:
    """Whether the engine worked hard in a stretch; by acceleration where nothing tells."""
    for name, least in (
        ("engine_speed", ground.bands.engine_high),
        ("propeller_speed", ground.bands.engine_high),
        ("power", ground.bands.power_high),
        ("manifold_pressure", ground.bands.power_high),
    ):
        if ground.trace.has(name):
            share = _known(engine_share(ground.trace, name)[first:last])
            return bool(np.max(share) >= least)
    seconds = max(ground.seconds(last - first), ground.trace.step_s)
    return bool((ground.speed[last - 1] - ground.speed[first]) / seconds > 0.8)


def _start(ground: _Ground, run: _Run, last: int, why_not: str) -> tuple[float, float]:
    """Brake release by the receiver, or the start of a rolling take-off, and its sigma [s]."""
    if why_not:
        return float(ground.trace.grid_s[run.first]), float("nan")
    time = ground.trace.grid_s
    return brake_release(ground.trace, float(time[last]), float(time[run.fast]))


def _takeoff(
    ground: _Ground, run: _Run, start: tuple[float, float], up: int, why_not: str
) -> Candidate:
    """Time the take-off and put its details together."""
    trace, bands = ground.trace, ground.bands
    delays = ground.delays or estimate_delays(trace)
    clear = _clear_s(ground, run, up)
    liftoff = find_liftoff(trace, start[0], clear, ground.height_name, delays)
    receiver = delays.receiver
    release = start[0] - receiver.late_s
    details = {
        "brake_release_s": release,
        "brake_release_sigma_s": float(np.hypot(start[1], receiver.sigma_s)),
        "first_motion_s": first_motion_s(trace, start[0]) - receiver.late_s,
        "liftoff_s": liftoff.time_s,
        "liftoff_sigma_s": liftoff.sigma_s,
        "height50_s": float("nan"),
        "height50_sigma_s": float("nan"),
        "clear_s": clear,
        "gps_delay_s": receiver.late_s,
        "gps_delay_sigma_s": receiver.sigma_s,
        "airspeed_delay_s": delays.airspeed.late_s,
        "airspeed_delay_sigma_s": delays.airspeed.sigma_s,
    }
    if np.isfinite(liftoff.time_s):
        seen_s = liftoff.time_s + receiver.late_s
        passed, sigma = height_passed(trace, start[0], seen_s, bands.obstacle_m)
        details["height50_s"] = passed - receiver.late_s
        details["height50_sigma_s"] = float(np.hypot(sigma, receiver.sigma_s))
    end = details["height50_s"]
    end = end if np.isfinite(end) else clear
    reason = why_not or _why_not(ground, release, liftoff)
    quality = _quality(ground, details, liftoff)
    return Candidate("take-off", release, end, not reason, reason, quality, details)


def _clear_s(ground: _Ground, run: _Run, up: int) -> float:
    """Last time before `up` at which the airplane was not yet up for sure."""
    if not ground.height_name:
        return float(ground.trace.grid_s[up])
    base = float(np.median(_known(ground.height[run.first : run.fast + 1])))
    clear = ground.bands.clear_m
    if ground.height_name != "gps_altitude":
        clear = ground.bands.gain_static_m
    below = np.flatnonzero(ground.height[run.first : up + 1] < base + clear)
    place = run.first + (int(below[-1]) if len(below) else 0)
    return float(ground.trace.grid_s[min(place + 1, len(ground.trace.grid_s) - 1)])


def _why_not(ground: _Ground, start_s: float, liftoff: Liftoff) -> str:
    if not np.isfinite(liftoff.time_s):
        return "no channel shows the lift-off"
    trace = ground.trace
    middle = (start_s + liftoff.time_s) / 2
    for name, least in (
        ("power", ground.bands.power_high),
        ("engine_speed", ground.bands.engine_high),
    ):
        share = engine_share(trace, name)[trace.index(middle) : trace.index(liftoff.time_s) + 1]
        mean = float(np.mean(_known(share)))
        if mean < least:
            what = name.replace("_", " ")
            return f"not full throttle: {what} {100 * mean:.0f} % of the flight's highest"
    if liftoff.sigma_s > ground.bands.liftoff_worst_s:
        return f"lift-off known to {liftoff.sigma_s:.1f} s only: {liftoff.doubt or 'too rough'}"
    return ""


def _quality(ground: _Ground, details: dict[str, float], liftoff: Liftoff) -> str:
    trace, start_s = ground.trace, details["brake_release_s"]
    part = trace.between(start_s - 2, liftoff.time_s + 2)
    known = trace.time_s[part][np.isfinite(trace.raw("ground_speed")[part])]
    hole = float(np.max(np.diff(known))) if len(known) > 1 else np.inf
    marks = [
        (
            liftoff.sigma_s,
            ground.bands.liftoff_sigma_s,
            f"lift-off known to {liftoff.sigma_s:.1f} s",
        ),
        (hole, (2.5, 5.0), f"ground speed missing for {hole:.0f} s"),
    ]
    if not np.isfinite(details["height50_s"]):
        marks.append((1.0, (0.0, 2.0), _no_height(ground)))
    if ((ground.slips_s > start_s) & (ground.slips_s < liftoff.time_s + 2)).any():
        told = "a stamp repeated and another skipped: rows between them taken as even"
        marks.append((1.0, (0.0, 2.0), told))
    if liftoff.doubt:
        marks.append((1.0, (0.0, 0.0), liftoff.doubt))
    return quality_word([*marks, *_told_by_others(trace, start_s, liftoff)])


def _no_height(ground: _Ground) -> str:
    if ground.height_name == "pressure_altitude":
        return "50 ft not timed: static altitude alone jumps with power and lags"
    return "50 ft not timed: no height recorded that shows it"


def _told_by_others(
    trace: Trace, start_s: float, liftoff: Liftoff
) -> list[tuple[float, tuple[float, float], str]]:
    """What channels that were not followed have to say."""
    marks = []
    nose = nose_up_s(trace, start_s, liftoff.time_s)
    if nose > NOSE_UP_S and not liftoff.carried:
        told = f"nose raised {nose:.0f} s before the climb: lift-off may be earlier"
        marks.append((1.0, (0.0, 0.0), told))
    others = [one.channel for one in liftoff.left_out if one.channel != LOW_FLIGHT]
    if len(others) < len(liftoff.left_out):
        marks.append((1.0, (0.0, 2.0), "level flight low over the runway before the climb"))
    if others:
        marks.append((1.0, (0.0, 2.0), f"lift-off not as {' and '.join(others)} would have it"))
    return marks


def _touches(ground: _Ground, run: _Run, up: int) -> list[Candidate]:
    """Touch-and-goes (or low passes with a dip in speed) in a stretch that never taxies."""
    bands = ground.bands
    first = up + int(bands.stay_s / ground.trace.step_s)
    if not ground.height_name or first >= run.last:
        return []
    slow = ground.speed < bands.standing_ms
    levels = [float(np.median(_known(ground.height[a:b]))) for a, b in runs(slow)]
    height = ground.height[first : run.last]
    near = bands.contact_m if ground.height_name == "gps_altitude" else 2 * bands.contact_m
    above = np.min([np.abs(height - level) for level in levels], axis=0) if levels else height * 0
    found = []
    for start, stop in runs(above < near) + first if levels else []:
        candidate = _touch(ground, run, int(start), int(stop))
        if candidate is not None:
            found.append(candidate)
    return found


def _touch(ground: _Ground, run: _Run, start: int, stop: int) -> Candidate | None:
    step = ground.trace.step_s
    base = float(np.median(_known(ground.height[start:stop])))
    later = ground.height[stop : min(run.last, stop + int(ground.bands.gain_within_s / step))]
    before = ground.speed[max(start - int(10 / step), 0) : start + 1]
    gained = np.flatnonzero(later > base + ground.gain_m)
    slowest = float(np.min(_known(ground.speed[start:stop])))
    dip = slowest < 0.92 * float(np.median(_known(before)))
    if not len(gained) or not dip or (stop - start) * step < ground.bands.contact_s:
        return None
    time = ground.trace.grid_s
    return Candidate(
        "take-off",
        float(time[start]),
        float(time[stop + gained[0]]),
        False,
        MOVING,
        "poor: not a standing start",
    )


def _run_ups(ground: _Ground, found: list[Candidate]) -> list[Candidate]:
    """Engine run-ups: the engine works hard and the airplane stands."""
    bands, trace = ground.bands, ground.trace
    name = next((one for one in ("engine_speed", "propeller_speed") if trace.has(one)), "")
    if not name:
        return []
    hard = engine_share(trace, name) > bands.runup_engine
    still = (ground.speed < bands.standing_ms) & ~(ground.airspeed > bands.static_airspeed_ms)
    result = []
    for first, last in runs(hard & still):
        start, end = float(trace.grid_s[first]), float(trace.grid_s[last - 1])
        rolls = any(one.start_s - 20 < end and start < one.end_s for one in found)
        if end - start < bands.runup_s or rolls:
            continue
        reason = f"engine run-up: {end - start:.0f} s at standstill, no take-off followed"
        result.append(Candidate("take-off", start, end, False, reason, "poor: not a take-off"))
    return result
