"""What a take-off was like: speeds, engine, static-pressure jump and air, from its recording."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stdday.bands import BANDS, FOOT_M, KNOT_MS, Bands
from stdday.candidates import Candidate, engine_share
from stdday.delays import AIRSPEED_S
from stdday.roll_fit import ROLL_COLUMNS, roll_columns
from stdday.signals import Line, Trace, fit_line, integrate
from stdday.takeoff_near import NEAR_COLUMNS, near_columns
from stdday.takeoff_times import even_slips

__all__ = ["TAKEOFF_COLUMNS", "field_temperature_k", "static_jump_m", "takeoff_state"]

FloatArray = NDArray[np.float64]

#: Columns that only take-offs have.
TAKEOFF_COLUMNS = (
    "brake_release_s",
    "brake_release_sigma_s",
    "first_motion_s",
    "liftoff_s",
    "liftoff_sigma_s",
    "height50_s",
    "height50_sigma_s",
    "height50_ground_speed_ms",
    "height50_indicated_airspeed_ms",
    "distance50_m",
    "gps_delay_s",
    "gps_delay_sigma_s",
    "airspeed_delay_s",
    "airspeed_delay_sigma_s",
    "ground_roll_m",
    "time_to_liftoff_s",
    "liftoff_ground_speed_ms",
    "liftoff_indicated_airspeed_ms",
    "liftoff_acceleration_ms2",
    "roll_engine_speed_rps",
    "roll_power_w",
    *NEAR_COLUMNS,
    "static_jump_m",
    "static_jump_sigma_m",
    "idle_engine_speed_rps",
    "static_engine_speed_rps",
    "track_rad",
    "climb_temperature_at_field_k",
    "field_pressure_altitude_m",
    *ROLL_COLUMNS,
)
#: Static altitude follows a change of pressure after about this time [s]. Typical of panels.
SETTLE_S = 1.0
#: Full power on the brakes for so long shows the jump at rest [s]; without, about this part of it
#: is gone or not there yet, as one sigma [-]. Judgement.
HELD_S, FADED = 2.0, 0.6
#: Heights over the field between which the temperature is carried down [m]: 300 to 1500 ft.
PROFILE_M = (300 * FOOT_M, 1500 * FOOT_M)
EARTH_RADIUS_M = 6_371_000.0


def takeoff_state(
    trace: Trace,
    candidate: Candidate,
    gear_ratio: float = float("nan"),
    track_is_true: bool = False,
    field_pressure_altitude_m: float = float("nan"),
    bands: Bands = BANDS,
) -> dict[str, float]:
    """Measure a take-off between the times found for it.

    Parameters
    ----------
    trace : Trace
        Recording.
    candidate : Candidate
        Take-off with its times.
    gear_ratio : float, optional
        Engine speed over propeller speed [-], for recordings with propeller speed alone.
    track_is_true : bool, optional
        Whether the recorded track counts from true north.
    field_pressure_altitude_m : float, optional
        Pressure altitude of the field from its elevation and the altimeter setting [m]; NaN takes
        the static altitude recorded at standstill.
    bands : Bands, optional
        Thresholds.

    Returns
    -------
    dict of str to float
        One entry for each of `TAKEOFF_COLUMNS`, SI; NaN where it cannot be known.
    """
    trace = trace.at_times(even_slips(trace.time_s))
    state = dict.fromkeys(TAKEOFF_COLUMNS, float("nan"))
    state.update({key: value for key, value in candidate.details.items() if key in state})
    release, liftoff = state["brake_release_s"], state["liftoff_s"]
    if not np.isfinite(release):
        return state
    # Satellite speeds and heights are read when they show what happened, which is later.
    late = float(np.nan_to_num(state["gps_delay_s"]))
    jump = static_jump(trace, release + late)
    state["static_jump_m"], state["static_jump_sigma_m"] = jump
    state.update(_engine_at_rest(trace, release, gear_ratio))
    field = field_pressure_altitude_m
    if not np.isfinite(field):
        field = _static_at_rest(trace, release)
    state["field_pressure_altitude_m"] = field
    if not np.isfinite(liftoff):
        return state
    state.update(_roll(trace, release + late, liftoff + late, gear_ratio))
    state.update(_at_50_ft(trace, state, late))
    airspeed_late = late + state["airspeed_delay_s"]
    airspeed_late = airspeed_late if np.isfinite(airspeed_late) else max(late, AIRSPEED_S[0])
    state["liftoff_indicated_airspeed_ms"] = _at(
        trace, "indicated_airspeed", liftoff + airspeed_late
    )
    state.update(near_columns(trace, liftoff + late, state["static_jump_m"]))
    state["track_rad"] = _track_rad(trace, release, liftoff, track_is_true)
    ground_m = _static_at_rest(trace, release)
    state["climb_temperature_at_field_k"] = field_temperature_k(trace, liftoff, ground_m)
    state.update(roll_columns(trace, release + late, liftoff + late))
    return state


def _at_50_ft(trace: Trace, state: dict[str, float], late_s: float) -> dict[str, float]:
    """Speeds at 50 ft and the distance to there, where GPS height times it."""
    passed = state["height50_s"]
    if not np.isfinite(passed):
        return {}
    return {
        "height50_ground_speed_ms": _at(trace, "ground_speed", passed + late_s),
        "height50_indicated_airspeed_ms": _at(trace, "indicated_airspeed", passed + late_s),
        "distance50_m": _distance_m(trace, state["brake_release_s"] + late_s, passed + late_s),
    }


def _distance_m(trace: Trace, release: float, end: float) -> float:
    """Distance over the ground from brake release, by the receiver's speed and in its time."""
    # At brake release the speed is zero by definition; samples before it are the receiver's noise.
    speed = np.where(trace.time_s <= release, np.nan, trace.raw("ground_speed"))
    known = np.isfinite(speed)
    time = np.concatenate(([release], trace.time_s[known]))
    return integrate(time, np.concatenate(([0.0], speed[known])), release, end)


def engine_line(trace: Trace, start_s: float, end_s: float, gear_ratio: float) -> Line:
    """Fit engine speed in time [rev/s], from propeller speed and gear ratio where need be."""
    if trace.has("engine_speed"):
        return trace.line("engine_speed", start_s, end_s)
    line = trace.line("propeller_speed", start_s, end_s)
    return Line(
        line.mean * gear_ratio, line.rate * gear_ratio, line.scatter * gear_ratio, line.count
    )


def _roll(trace: Trace, release: float, liftoff: float, gear_ratio: float) -> dict[str, float]:
    half = (release + liftoff) / 2
    return {
        "ground_roll_m": _distance_m(trace, release, liftoff),
        "time_to_liftoff_s": liftoff - release,
        "liftoff_ground_speed_ms": _at(trace, "ground_speed", liftoff),
        "liftoff_acceleration_ms2": _last_rate(trace, release, liftoff),
        "roll_engine_speed_rps": engine_line(trace, half, liftoff, gear_ratio).mean,
        "roll_power_w": trace.mean("power", half, liftoff),
    }


def _at(trace: Trace, name: str, time_s: float) -> float:
    """Value at a time from a line through the nearest seconds."""
    for width in (1.5, 3.0, 6.0):
        part = trace.between(time_s - width, time_s + width)
        line = fit_line(trace.time_s[part] - time_s, trace.raw(name)[part])
        if line.count >= 3:
            known = np.isfinite(trace.raw(name)[part])
            middle = float((trace.time_s[part][known] - time_s).mean())
            return line.mean - line.rate * middle
    return float("nan")


def _last_rate(trace: Trace, release: float, liftoff: float) -> float:
    """Acceleration over the ground in the last three seconds of the roll, or what has samples."""
    for seconds in (3.0, 5.0, 8.0):
        line = trace.line("ground_speed", max(release, liftoff - seconds), liftoff)
        if line.count >= 3:
            return line.rate
    return float("nan")


def _power_up_s(trace: Trace, release: float) -> tuple[float, float, str]:
    """Time at which power came up, the time at which it was full, and the channel that shows it."""
    name = next(
        (one for one in ("engine_speed", "propeller_speed", "power") if trace.has(one)), ""
    )
    if not name:
        return float("nan"), float("nan"), ""
    share = engine_share(trace, name)
    first, last = trace.index(release - 90), trace.index(release + 8)
    roll = share[trace.index(release + 3) : trace.index(release + 10) + 1]
    roll = roll[np.isfinite(roll)]
    if not len(roll):
        return float("nan"), float("nan"), name
    full = float(np.median(roll))
    part = share[first : last + 1]
    low = np.flatnonzero(part < 0.7 * full)
    if not len(low):
        return float("nan"), float("nan"), name
    high = np.flatnonzero(part[low[-1] :] > 0.95 * full)
    rises = float(trace.grid_s[first + low[-1]])
    reached = float(trace.grid_s[first + low[-1] + high[0]]) if len(high) else float("nan")
    return rises, reached, name


def _engine_at_rest(trace: Trace, release: float, gear_ratio: float) -> dict[str, float]:
    """Engine speed at idle before power-up, and at full power before the airplane rolls fast."""
    rises, reached, name = _power_up_s(trace, release)
    nothing = {"idle_engine_speed_rps": np.nan, "static_engine_speed_rps": np.nan}
    if name not in ("engine_speed", "propeller_speed"):
        return nothing
    idle = engine_line(trace, rises - 10, rises - 1, gear_ratio).mean
    if not np.isfinite(reached):
        return {**nothing, "idle_engine_speed_rps": idle}
    slow_until = _slow_until_s(trace, max(release, reached), 10 * KNOT_MS)
    end = min(reached + 5, slow_until)
    full = engine_line(trace, reached, end, gear_ratio) if end > reached else None
    static = full.mean if full is not None and full.count >= 2 else np.nan
    return {"idle_engine_speed_rps": idle, "static_engine_speed_rps": static}


def _slow_until_s(trace: Trace, from_s: float, speed_ms: float) -> float:
    """Last time before a ground speed is passed."""
    first = trace.index(from_s)
    fast = np.flatnonzero(trace.even("ground_speed")[first:] >= speed_ms)
    return float(trace.grid_s[first + int(fast[0])]) - trace.step_s if len(fast) else from_s


def static_jump_m(trace: Trace, release_s: float) -> float:
    """Jump of static altitude when power is applied with the wheels on the ground.

    Parameters
    ----------
    trace : Trace
        Recording.
    release_s : float
        Brake release [s].

    Returns
    -------
    float
        The first value of `static_jump` [m].
    """
    return static_jump(trace, release_s)[0]


def static_jump(trace: Trace, release_s: float) -> tuple[float, float]:
    """Jump of static altitude when power is applied with the wheels on the ground, and its sigma.

    Static altitude under power, slower than 15 kt, minus static altitude at idle just before power
    came up; less the same difference by GPS altitude, where recorded.

    Parameters
    ----------
    trace : Trace
        Recording.
    release_s : float
        Brake release [s].

    Returns
    -------
    (float, float)
        Jump, positive where the altimeter rises, and one sigma [m]; NaN without an engine channel
        or with too few samples on either side.
    """
    rises, reached, _ = _power_up_s(trace, release_s)
    if not np.isfinite(reached):
        return float("nan"), float("nan")
    settled = reached + SETTLE_S
    held = release_s - settled
    # With the brakes held the jump is read at rest; else on the move, where it fades already.
    slow = _slow_until_s(trace, max(release_s, reached), 15 * KNOT_MS)
    end = release_s if held >= HELD_S else slow
    # Power may have been up for long before brake release; the last ten seconds are enough.
    power = (max(min(settled, max(slow - 1.0, reached)), end - 10), end)
    idle = (rises - 10, rises - 0.5)
    jump, sigma = _difference(trace, "pressure_altitude", power, idle)
    by_gps, wander = _difference(trace, "gps_altitude", power, idle)
    faded = FADED if held < HELD_S else float(np.exp(-held / SETTLE_S))
    sigma = float(np.hypot(sigma, faded * abs(jump)))
    return (jump - by_gps, float(np.hypot(sigma, wander))) if np.isfinite(by_gps) else (jump, sigma)


def _difference(
    trace: Trace, name: str, late: tuple[float, float], early: tuple[float, float]
) -> tuple[float, float]:
    """Difference of means over two stretches and its sigma, one sample a second independent."""
    after, before = trace.line(name, *late), trace.line(name, *early)
    if after.count < 2 or before.count < 2:
        return float("nan"), float("nan")
    seconds = late[1] - late[0], early[1] - early[0]
    squares = [
        _mean_square(line, span) for line, span in zip((after, before), seconds, strict=True)
    ]
    return after.mean - before.mean, float(np.sqrt(sum(squares)))


def _mean_square(line: Line, span_s: float) -> float:
    """Variance of a mean, of at least the noise that altitudes have [0.3 m]."""
    scatter = max(line.scatter, 0.3) if np.isfinite(line.scatter) else 1.0
    return scatter**2 / max(min(line.count, span_s), 1.0)


def _static_at_rest(trace: Trace, release: float) -> float:
    """Static altitude at standstill before power came up, or before brake release."""
    rises, _, _ = _power_up_s(trace, release)
    end = rises if np.isfinite(rises) and rises < release else release
    for seconds in (10.0, 30.0):
        line = trace.line("pressure_altitude", end - seconds, end - 0.5)
        if line.count >= 2:
            return line.mean
    return float("nan")


def _track_rad(trace: Trace, release: float, liftoff: float, track_is_true: bool) -> float:
    """True direction of the roll, from positions or else from the track."""
    part = trace.between(release, liftoff + 3)
    latitude, longitude = trace.raw("latitude")[part], trace.raw("longitude")[part]
    known = np.flatnonzero(np.isfinite(latitude) & np.isfinite(longitude))
    if len(known) > 1:
        first, last = known[0], known[-1]
        north = np.radians(latitude[last] - latitude[first])
        turn = (longitude[last] - longitude[first] + 180) % 360 - 180
        east = np.radians(turn) * np.cos(np.radians(latitude[first]))
        if np.hypot(north, east) * EARTH_RADIUS_M > 50:
            return float(np.arctan2(east, north) % (2 * np.pi))
    moving = trace.raw("ground_speed")[part] > 5
    track = trace.raw("track")[part][moving]
    track = track[np.isfinite(track)]
    if track_is_true and len(track):
        mean = np.arctan2(np.sin(track).mean(), np.cos(track).mean())
        return float(mean % (2 * np.pi))
    return float("nan")


def field_temperature_k(trace: Trace, liftoff_s: float, ground_m: float) -> float:
    """Outside air temperature at the field, carried down from the climb after take-off.

    A line of temperature against pressure altitude between 300 and 1500 ft over the field, followed
    down to it. A probe on the ground is soaked with the engine's heat and is never used.

    Parameters
    ----------
    trace : Trace
        Recording with ``outside_air_temperature`` and ``pressure_altitude``.
    liftoff_s : float
        Lift-off [s]; the climb is the ten minutes after it, up to the height wanted.
    ground_m : float
        Pressure altitude recorded on the ground [m].

    Returns
    -------
    float
        Temperature [K]; NaN where fewer than 8 samples or less than half of the heights are there.
    """
    part = trace.between(liftoff_s, liftoff_s + 600)
    above = trace.raw("pressure_altitude")[part] - ground_m
    temperature = trace.raw("outside_air_temperature")[part]
    over = np.flatnonzero(above > PROFILE_M[1])
    stop = int(over[0]) if len(over) else len(above)
    used = np.isfinite(above[:stop]) & np.isfinite(temperature[:stop])
    used &= above[:stop] >= PROFILE_M[0]
    heights, values = above[:stop][used], temperature[:stop][used]
    if len(heights) < 8 or np.ptp(heights) < (PROFILE_M[1] - PROFILE_M[0]) / 2:
        return float("nan")
    profile = fit_line(heights, values)
    return profile.mean - profile.rate * float(heights.mean())
