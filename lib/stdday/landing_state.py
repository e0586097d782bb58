"""What a landing was like: speeds, braking, distances and air, from its recording."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stdday.bands import FOOT_M
from stdday.candidates import Candidate
from stdday.landing import stopping_distance_m
from stdday.signals import Trace, fit_line, integrate

__all__ = ["LANDING_COLUMNS", "landing_state"]

FloatArray = NDArray[np.float64]

#: Columns of landings; those with the names of columns of take-offs mean the same.
LANDING_COLUMNS = (
    "touchdown_s",
    "touchdown_sigma_s",
    "brakes_s",
    "stop_s",
    "exit_s",
    "touchdown_ground_speed_ms",
    "touchdown_indicated_airspeed_ms",
    "landing_roll_m",
    "landing_roll_sigma_m",
    "landing_roll_reckoned_m",
    "landing_mean_deceleration_ms2",
    "height50_s",
    "height50_sigma_s",
    "height50_ground_speed_ms",
    "height50_indicated_airspeed_ms",
    "air_distance_m",
    "air_distance_sigma_m",
    "near_indicated_airspeed_ms",
    "near_ground_speed_ms",
    "near_acceleration_ms2",
    "track_rad",
    "away_m",
    "climb_temperature_at_field_k",
    "field_pressure_altitude_m",
)
#: Time around touchdown over which airspeed and ground speed are compared [s]: engine at idle, so
#: that no static-pressure jump is in it, and most of it before the brakes are on.
NEAR_S = (-5.0, 1.0)
#: One sigma of the part of a roll that is reckoned from taxi speed on, as a share of it [-].
RECKONED_SIGMA = 0.25
#: Time in which the brakes come on [s].
BRAKES_UP_S = 0.7
#: Heights over the field between which the temperature is carried down [m]: 300 to 1500 ft.
PROFILE_M = (300 * FOOT_M, 1500 * FOOT_M)
EARTH_RADIUS_M = 6_371_000.0


def landing_state(
    trace: Trace,
    candidate: Candidate,
    track_is_true: bool = False,
    field_pressure_altitude_m: float = float("nan"),
) -> dict[str, float]:
    """Measure a landing between the times found for it.

    Parameters
    ----------
    trace : Trace
        Recording.
    candidate : Candidate
        Landing with its times, of `stdday.find_landings`.
    track_is_true : bool, optional
        Whether the recorded track counts from true north.
    field_pressure_altitude_m : float, optional
        Pressure altitude of the field from its elevation and the altimeter setting [m]; NaN takes
        the static altitude recorded after the landing.

    Returns
    -------
    dict of str to float
        One entry for each of `LANDING_COLUMNS`, SI; NaN where it cannot be known.
    """
    state = dict.fromkeys(LANDING_COLUMNS, float("nan"))
    state.update({key: value for key, value in candidate.details.items() if key in state})
    touchdown, end = state["touchdown_s"], candidate.details.get("roll_end_s", float("nan"))
    if not (np.isfinite(touchdown) and end > touchdown):
        return state
    state["touchdown_ground_speed_ms"] = _at(trace, "ground_speed", touchdown)
    state["touchdown_indicated_airspeed_ms"] = _at(trace, "indicated_airspeed", touchdown)
    state.update(_roll(trace, state, end))
    state.update(_air(trace, state))
    state.update(_near(trace, touchdown))
    state["track_rad"] = _track_rad(trace, touchdown, end, track_is_true)
    state["away_m"] = _away_m(trace, touchdown, end)
    ground_m = trace.mean("pressure_altitude", end - 2.0, end + 8.0)
    given = np.isfinite(field_pressure_altitude_m)
    state["field_pressure_altitude_m"] = field_pressure_altitude_m if given else ground_m
    state["climb_temperature_at_field_k"] = _temperature_k(trace, touchdown, ground_m)
    return state


def _at(trace: Trace, name: str, time_s: float) -> float:
    """Value at a time from a line through the seconds before it, when the wheels did not slow yet.

    For a touchdown the deceleration changes there; a line through both sides would read low.
    """
    for width in (3.0, 6.0):
        part = trace.between(time_s - width, time_s + 0.3)
        time, values = trace.time_s[part] - time_s, trace.raw(name)[part]
        line = fit_line(time, values)
        if line.count >= 3:
            return line.mean - line.rate * float(time[np.isfinite(values)].mean())
    return float("nan")


def _roll(trace: Trace, state: dict[str, float], end: float) -> dict[str, float]:
    """Distance from touchdown to a stop; from taxi speed on reckoned as braked before it."""
    touchdown, first = state["touchdown_s"], state["touchdown_ground_speed_ms"]
    measured = integrate(trace.time_s, trace.raw("ground_speed"), touchdown, end)
    last = max(_at(trace, "ground_speed", end), 0.0)
    rate = (first - last) / (end - touchdown)
    braking = max(state["brakes_s"] + BRAKES_UP_S, touchdown) if state["brakes_s"] < end else end
    braked = -trace.line("ground_speed", braking, end).rate
    braked = braked if braked > 0.5 * rate else rate
    rest = float(stopping_distance_m(last, braked)) if braked > 0.05 else float("nan")
    sigma = state["touchdown_sigma_s"] * first
    return {
        "landing_roll_m": measured + rest,
        "landing_roll_sigma_m": float(np.hypot(sigma, RECKONED_SIGMA * rest)),
        "landing_roll_reckoned_m": rest,
        "landing_mean_deceleration_ms2": rate,
    }


def _air(trace: Trace, state: dict[str, float]) -> dict[str, float]:
    """Speeds at 50 ft, and the distance from there to touchdown."""
    passed, touchdown = state["height50_s"], state["touchdown_s"]
    if not passed < touchdown:
        return {}
    speed = trace.raw("ground_speed")
    sigma = np.hypot(state["height50_sigma_s"], state["touchdown_sigma_s"])
    return {
        "height50_ground_speed_ms": trace.mean("ground_speed", passed - 1.5, passed + 1.5),
        "height50_indicated_airspeed_ms": trace.mean(
            "indicated_airspeed", passed - 1.5, passed + 1.5
        ),
        "air_distance_m": integrate(trace.time_s, speed, passed, touchdown),
        "air_distance_sigma_m": float(sigma * state["touchdown_ground_speed_ms"]),
    }


def _near(trace: Trace, touchdown: float) -> dict[str, float]:
    part = trace.between(touchdown + NEAR_S[0], touchdown + NEAR_S[1])
    time = trace.time_s[part]
    speed, airspeed = trace.raw("ground_speed")[part], trace.raw("indicated_airspeed")[part]
    # The same samples for both, or their difference would hold a piece of the deceleration.
    both = np.isfinite(speed) & np.isfinite(airspeed)
    line = fit_line(time, np.where(both, speed, np.nan))
    return {
        "near_indicated_airspeed_ms": fit_line(time, np.where(both, airspeed, np.nan)).mean,
        "near_ground_speed_ms": line.mean,
        "near_acceleration_ms2": line.rate,
    }


def _places(trace: Trace, start_s: float, end_s: float) -> tuple[FloatArray, FloatArray]:
    """Known latitudes and longitudes of a stretch [deg]."""
    part = trace.between(start_s, end_s)
    latitude, longitude = trace.raw("latitude")[part], trace.raw("longitude")[part]
    known = np.isfinite(latitude) & np.isfinite(longitude)
    return latitude[known], longitude[known]


def _apart_m(
    latitude: FloatArray, longitude: FloatArray, first: int, last: int
) -> tuple[float, float]:
    """Way north and east from one place to another [m]."""
    north = np.radians(latitude[last] - latitude[first])
    turn = (longitude[last] - longitude[first] + 180) % 360 - 180
    east = np.radians(turn) * np.cos(np.radians(latitude[first]))
    return float(north) * EARTH_RADIUS_M, float(east) * EARTH_RADIUS_M


def _track_rad(trace: Trace, touchdown: float, end: float, track_is_true: bool) -> float:
    """True direction of the roll, from positions or else from the track."""
    latitude, longitude = _places(trace, touchdown - 2.0, end)
    if len(latitude) > 1:
        north, east = _apart_m(latitude, longitude, 0, -1)
        if np.hypot(north, east) > 50:
            return float(np.arctan2(east, north) % (2 * np.pi))
    track = trace.raw("track")[trace.between(touchdown - 2.0, end - 2.0)]
    track = track[np.isfinite(track)]
    return float(np.median(track) % (2 * np.pi)) if track_is_true and len(track) else float("nan")


def _away_m(trace: Trace, touchdown: float, end: float) -> float:
    """Distance of the landing from where the recording first shows the airplane standing [m]."""
    slow = np.flatnonzero(trace.even("ground_speed")[:trace.index(touchdown)] < 1.0)
    if not len(slow):
        return float("nan")
    begun = float(trace.grid_s[slow[0]])
    start, here = _places(trace, begun - 5.0, begun + 5.0), _places(trace, touchdown, end)
    if not len(start[0]) or not len(here[0]):
        return float("nan")
    latitude, longitude = (np.append(one[:1], other[:1])
                           for one, other in zip(start, here, strict=True))  # fmt: skip
    return float(np.hypot(*_apart_m(latitude, longitude, 0, 1)))


def _temperature_k(trace: Trace, touchdown: float, ground_m: float) -> float:
    """Temperature at the field, carried down from the descent before the landing [K].

    As for take-offs from the climb: a line against pressure altitude between 300 and 1500 ft over
    the field; NaN where fewer than 8 samples or less than half of the heights are there.
    """
    part = trace.between(touchdown - 600.0, touchdown)
    above = trace.raw("pressure_altitude")[part] - ground_m
    temperature = trace.raw("outside_air_temperature")[part]
    over = np.flatnonzero(above > PROFILE_M[1])
    start = int(over[-1]) + 1 if len(over) else 0
    used = np.isfinite(above[start:]) & np.isfinite(temperature[start:])
    used &= above[start:] >= PROFILE_M[0]
    heights, values = above[start:][used], temperature[start:][used]
    if len(heights) < 8 or np.ptp(heights) < (PROFILE_M[1] - PROFILE_M[0]) / 2:
        return float("nan")
    profile = fit_line(heights, values)
    return profile.mean - profile.rate * float(heights.mean())
