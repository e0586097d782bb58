"""Checks of static pressure, altimeter setting and temperature on the ground and at take-off."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from stdday.atmosphere import pressure_altitude_at_field_m
from stdday.recording_types import Finding, FloatArray
from stdday.recording_view import View, moment, quantity

__all__ = ["AIR_CHECKS", "check_altimeter", "check_heat_soak", "check_setting_moves",
           "check_static_jump", "check_turned_on_ground"]

#: An altimeter within 75 ft of the field's elevation is fit for flight (common practice).
_ALTIMETER_M = 23.0
#: Satellite altitude alone is no better than this [m]: -64 to +136 ft were met in flight.
_SATELLITE_M = 45.0
#: Recorded setting against that of flights.csv [Pa].
_SETTING_PA = 150.0
#: A move of altitude on the ground within so many seconds [m, s] ...
_TURN_M, _TURN_S = 7.5, 6.0
#: ... while satellite altitude moves by less than this share of it.
_TURN_SHARE = 0.5
#: Power is applied when the engine passes this share of its usual top.
_POWERED = 0.75
#: Smallest jump of static altitude at power-up that is told [m].
_JUMP_M = 1.0
#: Temperature on the ground above that of the air climbed through [K].
_SOAKED_K = 1.5
_LAPSE_K_M = 0.0065
_FEWEST = 5

IndexArray = NDArray[np.int64]


def _coarse(view: View) -> IndexArray:
    """Rows about half a second apart or more."""
    step = max(1, round(0.5 / view.interval_s))
    return np.arange(0, view.time_s.size, step, dtype=np.int64)


def _first_ground(view: View) -> IndexArray:
    """Thinned places on the ground before the first flight."""
    flying = np.flatnonzero(view.flying)
    before = view.on_ground.copy()
    if flying.size:
        before[flying[0]:] = False
    return np.flatnonzero(before)


# ---------------------------------------------------------------- altimeter


def check_altimeter(view: View) -> list[Finding]:
    """Compare altitude on the ground with the field's elevation or satellite altitude.

    Parameters
    ----------
    view : View
        The recording.

    Returns
    -------
    list of Finding
        Never raises.

    Examples
    --------
    >>> from stdday.recording_view import FlightFacts
    >>> speed = np.concatenate([np.zeros(60), np.full(60, 40.0)])
    >>> channels = {"ground_speed": speed, "indicated_altitude": 39.0 + 5.0 * speed}
    >>> view = View(np.arange(120.0), channels, facts=FlightFacts(field_elevation_m=100.0))
    >>> print(check_altimeter(view)[0].what)
    indicated_altitude reads 128 ft on the ground before take-off, 200 ft below the field's \
elevation
    """
    ground = _first_ground(view)
    if ground.size < _FEWEST:
        return _setting_against_flight(view)
    name = "indicated_altitude" if view.has("indicated_altitude") else "pressure_altitude"
    known = _known_height(view, name, ground)
    shown = view.thin(name)[ground]
    findings = _setting_against_flight(view)
    if known is None or not np.isfinite(shown).any():
        return findings
    height, words, allowed = known
    reads = float(np.nanmedian(shown))
    off = reads - height
    if abs(off) > allowed:
        side = "above" if off > 0.0 else "below"
        findings.append(Finding(
            "caution", f"{name} reads {quantity('length', reads)} on the ground before take-off, "
            f"{quantity('length', abs(off))} {side} {words}",
            "the altimeter setting, the elevation or the airfield is wrong; pressure altitude is "
            "off by as much (30 ft a hectopascal)",
            "likely" if allowed == _ALTIMETER_M else "possible"))
    return findings


def _known_height(
    view: View, name: str, ground: IndexArray
) -> tuple[float, str, float] | None:
    """Height that an altitude should show on the ground, what it is, and how well known [m]."""
    elevation, setting = view.facts.field_elevation_m, view.facts.altimeter_setting_pa
    if elevation is not None and name == "indicated_altitude":
        return elevation, "the field's elevation", _ALTIMETER_M
    if name == "pressure_altitude" and setting is None:
        return None
    if elevation is not None and setting is not None and 86_000.0 < setting < 110_000.0:
        return (float(pressure_altitude_at_field_m(elevation, setting)),
                "what the field's elevation and altimeter setting give", _ALTIMETER_M)
    satellite = view.thin("gps_altitude")[ground]
    if name == "indicated_altitude" and int(np.isfinite(satellite).sum()) >= _FEWEST:
        return float(np.nanmedian(satellite)), "gps_altitude", _SATELLITE_M
    return None


def _setting_against_flight(view: View) -> list[Finding]:
    """Compare the recorded setting with that of flights.csv."""
    given = view.facts.altimeter_setting_pa
    if given is None or not view.has("altimeter_setting"):
        return []
    recorded = float(np.nanmedian(view.thin("altimeter_setting")))
    if abs(recorded - given) <= _SETTING_PA:
        return []
    return [Finding("caution", f"the recorded altimeter setting is mostly "
                    f"{quantity('pressure', recorded)}, that of flights.csv "
                    f"{quantity('pressure', given)}",
                    "the recorded one was used for pressure altitude; if it is wrong, that is off "
                    f"by {quantity('length', 8.3 * abs(recorded - given) / 100.0)}", "likely")]


def check_turned_on_ground(view: View) -> list[Finding]:
    """Find moves of altitude on the ground that satellite altitude does not make.

    Parameters
    ----------
    view : View
        The recording.

    Returns
    -------
    list of Finding
        Never raises.

    Examples
    --------
    >>> altitude = np.where(np.arange(200) < 50, 39.0, 100.0)
    >>> view = View(np.arange(200.0), {"ground_speed": np.full(200, 1.0),
    ...                                "indicated_altitude": altitude})
    >>> print(check_turned_on_ground(view)[0].what)
    indicated_altitude moves by up to 200 ft on the ground 1 times, first at 00:00:50 UTC, as \
where the altimeter is turned
    """
    name = view.altitude_name
    if name is None or not view.has("ground_speed"):
        return []
    rows = _coarse(view)
    time_s, altitude = view.time_s[rows], view.channels[name][rows]
    slow = view.channels["ground_speed"][rows] < 8.0
    width = max(1, round(_TURN_S / max(float(np.median(np.diff(time_s[:2000]))), 1e-3)))
    if rows.size <= 2 * width:
        return []
    moves = altitude[width:] - altitude[:-width]
    with np.errstate(invalid="ignore"):
        odd = ((np.abs(moves) > _TURN_M) & slow[width:] & slow[:-width]
               & (time_s[width:] - time_s[:-width] < 3.0 * _TURN_S))
    if "gps_altitude" in view.channels:
        satellite = view.channels["gps_altitude"][rows]
        also = np.abs(satellite[width:] - satellite[:-width])
        odd &= ~(also > _TURN_SHARE * np.abs(moves))
    odd &= ~_power_changes(view, rows, width)
    places = np.flatnonzero(odd)
    if not places.size:
        return []
    events = places[np.concatenate(([True], np.diff(places) > 2 * width))]
    first = events[0]
    step = first + 1 + int(np.nanargmax(np.abs(np.diff(altitude[first:first + width + 1]))))
    return [Finding(
        "caution", f"{name} moves by up to {quantity('length', float(np.abs(moves[odd]).max()))} "
        f"on the ground {events.size} times, first at {moment(time_s[step])}, as where the "
        "altimeter is turned", "pressure altitude before and after do not belong to one setting, "
        "unless the setting was recorded with it", "likely")]


def _power_changes(view: View, rows: IndexArray, width: int) -> NDArray[np.bool_]:
    """Where the engine changes much within a window: the static pressure moves with it."""
    name = _engine_channel(view)
    if name is None:
        return np.zeros(rows.size - width, dtype=bool)
    engine = view.channels[name][rows]
    top = float(np.nanquantile(view.thin(name), 0.95))
    return np.asarray(np.abs(engine[width:] - engine[:-width]) > 0.2 * top)


def _engine_channel(view: View) -> str | None:
    """Channel that tells how hard the engine works."""
    return next((name for name in ("power", "engine_speed", "propeller_speed", "manifold_pressure")
                 if view.has(name)), None)


# ---------------------------------------------------------------- take-off


def check_static_jump(view: View) -> list[Finding]:
    """Find how far static altitude moves when power is applied with the wheels on the ground.

    Parameters
    ----------
    view : View
        The recording.

    Returns
    -------
    list of Finding
        Never raises.

    Examples
    --------
    >>> time_s = np.arange(120.0)
    >>> power = np.where(time_s < 60.0, 10e3, 70e3)
    >>> speed = np.clip(2.0 * (time_s - 60.0), 0.0, 40.0)
    >>> altitude = 100.0 + np.where(time_s >= 61.0, 9.0, 0.0)
    >>> view = View(time_s, {"power": power, "ground_speed": speed, "pressure_altitude": altitude})
    >>> print(check_static_jump(view)[0].what)
    pressure_altitude moves by +30 ft when power is applied with the wheels on the ground (1 \
take-offs)
    """
    name, engine = view.altitude_name, _engine_channel(view)
    if name is None or engine is None or not view.has("ground_speed"):
        return []
    rows = _coarse(view)
    work = view.channels[engine][rows]
    level = _POWERED * float(np.nanquantile(view.thin(engine), 0.95))
    starts = np.flatnonzero((work[1:] >= level) & (work[:-1] < level)) + 1
    speed = view.channels["ground_speed"][rows]
    starts = starts[speed[starts] < 8.0][:200]
    found = [_jump_at(view, name, rows, int(start)) for start in starts]
    jumps = [jump for jump in found if jump is not None and abs(jump) >= _JUMP_M]
    if not jumps:
        return []
    low, high = (f"{extreme / 0.3048:+.0f}" for extreme in (min(jumps), max(jumps)))
    span = f"{low} ft" if low == high else f"{low} to {high} ft"
    return [Finding(
        "note" if max(map(abs, jumps)) < 3.0 else "caution",
        f"{name} moves by {span} when power is applied with the wheels on the ground "
        f"({len(jumps)} take-offs)", "static pressure and vertical speed cannot tell lift-off, and "
        "airspeed on the roll is off; ground speed and satellite altitude are better", "likely")]


def _jump_at(view: View, name: str, rows: IndexArray, start: int) -> float | None:
    """Move of static altitude at one application of power [m]; None where no take-off follows."""
    time_s = view.time_s[rows] - view.time_s[rows[start]]
    speed = view.channels["ground_speed"][rows]
    first, last = np.searchsorted(time_s, (-8.0, 60.0))
    window = slice(first, last)
    time_s, speed = time_s[window], speed[window]
    fast = np.flatnonzero((time_s > 0.0) & (speed > 12.0))
    if not fast.size:
        return None
    before = time_s < -1.0
    rolling = (time_s > 0.0) & (np.arange(time_s.size) <= fast[0])
    moves = []
    for channel in (name, "gps_altitude"):
        samples = view.channels.get(channel, np.zeros(view.time_s.size))[rows[window]]
        if not np.isfinite(samples[before]).any() or not np.isfinite(samples[rolling]).any():
            return None
        change = samples[rolling] - np.nanmedian(samples[before])
        if channel == name and change.size >= 3:    # of noise the largest is always something
            change = np.convolve(change, np.full(3, 1.0 / 3.0), "valid")
        if not np.isfinite(change).any():
            return None
        moves.append(change[np.nanargmax(np.abs(change))] if channel == name
                     else np.nanmedian(change))
    return float(moves[0] - moves[1])


def check_heat_soak(view: View) -> list[Finding]:
    """Compare temperature on the ground with that of the air climbed through after take-off.

    Parameters
    ----------
    view : View
        The recording.

    Returns
    -------
    list of Finding
        Never raises.

    Examples
    --------
    >>> time_s = np.arange(400.0)
    >>> speed = np.where(time_s < 100.0, 0.0, 40.0)
    >>> altitude = 100.0 + np.clip(time_s - 110.0, 0.0, 250.0)
    >>> air = 300.0 - 0.0065 * (altitude - 100.0) + 2.6 * (time_s < 120.0)
    >>> view = View(time_s, {"ground_speed": speed, "pressure_altitude": altitude,
    ...                      "outside_air_temperature": air})
    >>> print(check_heat_soak(view)[0].what)
    outside_air_temperature reads 29.5 degC on the ground before take-off, 2.6 K above what the \
air climbed through gives
    """
    name = view.altitude_name
    if name is None or not view.has("outside_air_temperature", "ground_speed"):
        return []
    time_s, air = view.thin_time_s, view.thin("outside_air_temperature")
    height, flying = view.thin(name), view.flying
    if not flying.any():
        return []
    start = int(np.flatnonzero(flying)[0])
    after = time_s - time_s[start]
    ground = view.on_ground & (after < 0.0) & (after > -180.0) & np.isfinite(air)
    if int(ground.sum()) < _FEWEST:
        return []
    over = height - float(np.nanmedian(height[ground]))
    climb = flying & (after < 480.0) & (over > 90.0) & (over < 500.0) & np.isfinite(air)
    if int(climb.sum()) < _FEWEST:
        return []
    at_field = float(np.median(air[climb] + _LAPSE_K_M * over[climb]))
    reads = float(np.median(air[ground]))
    if reads - at_field <= _SOAKED_K:
        return []
    return [Finding(
        "caution", f"outside_air_temperature reads {quantity('temperature', reads)} on the ground "
        f"before take-off, {reads - at_field:.1f} K above what the air climbed through gives",
        "a probe warmed by sun or engine: density at take-off from it is too low, by 1 % in 3 K",
        "likely")]


def check_setting_moves(view: View) -> list[Finding]:
    """Find steps of static altitude in flight that do not come back.

    Parameters
    ----------
    view : View
        The recording.

    Returns
    -------
    list of Finding
        Never raises.

    Examples
    --------
    >>> altitude = np.where(np.arange(300) < 200, 900.0, 960.0)
    >>> view = View(np.arange(300.0), {"ground_speed": np.full(300, 50.0),
    ...                                "indicated_altitude": altitude})
    >>> print(check_setting_moves(view)[0].what)
    indicated_altitude steps by 197 ft in flight at 00:03:20 UTC and stays there (1 such steps)
    """
    name = view.altitude_name
    if name is None or view.time_s.size < 40:
        return []
    samples, time_s = view.channels[name], view.time_s
    steps, lasts = np.diff(samples), np.diff(time_s)
    with np.errstate(invalid="ignore"):
        rows = np.flatnonzero((np.abs(steps) > 12.0 + 40.0 * lasts) & (lasts < 5.0))
    rows = rows[[_stays(samples, int(row)) for row in rows[:1000]]] if rows.size else rows
    if not rows.size:
        return []
    step = float(abs(steps[rows[0]]))
    return [Finding("caution", f"{name} steps by {quantity('length', step)} in flight at "
                    f"{moment(time_s[rows[0] + 1])} and stays there ({rows.size} such steps)",
                    "the altimeter was turned or rows are missing; heights before and after do not "
                    "belong together", "possible")]


def _stays(samples: FloatArray, row: int) -> bool:
    """Whether a step lasts: the medians before and after differ by most of it."""
    before, after = samples[max(0, row - 9):row + 1], samples[row + 1:row + 11]
    if not np.isfinite(before).any() or not np.isfinite(after).any():
        return False
    step = samples[row + 1] - samples[row]
    return bool((np.nanmedian(after) - np.nanmedian(before)) / step > 0.7)


#: All checks of static pressure and temperature.
AIR_CHECKS: tuple[Callable[[View], list[Finding]], ...] = (
    check_altimeter, check_turned_on_ground, check_setting_moves, check_static_jump,
    check_heat_soak)
