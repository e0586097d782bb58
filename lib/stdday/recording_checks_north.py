"""Checks of position and direction: jumps, speed over the ground, and which north is meant."""

from __future__ import annotations

import datetime
import importlib
import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from stdday.recording_types import Finding, FloatArray
from stdday.recording_view import View, moment

__all__ = ["NORTH_CHECKS", "check_heading", "check_positions", "check_track", "magnetic_variation"]

IndexArray = NDArray[np.int64]

_EARTH_M = 6_371_000.0
#: Positions further apart than this allowance [m] and this speed [m/s] cannot be flown.
_JUMP_M, _JUMP_MS = 150.0, 200.0
#: Baseline of a course from positions [s].
_BASELINE_S = 6.0
#: Below this variation both norths are too close to be told apart [rad].
_LEAST_VARIATION = math.radians(3.0)
#: Variation is less than this where light airplanes fly [rad].
_MOST_VARIATION = math.radians(35.0)
_FEWEST = 30
#: First year of each edition of the world magnetic model; each holds for five years.
_EDITIONS = (2010, 2015, 2020, 2025)


@lru_cache(maxsize=64)
def magnetic_variation(
    latitude_deg: float, longitude_deg: float, altitude_m: float, year: float
) -> float | None:
    """Angle from true to magnetic north by the world magnetic model.

    Parameters
    ----------
    latitude_deg, longitude_deg : float
        Position [deg].
    altitude_m : float
        Height [m].
    year : float
        Date as a year and its fraction.

    Returns
    -------
    float or None
        Variation [rad], positive to the east; None outside the years of the model (2010 to 2029)
        or the bounds of position. Never raises.

    Examples
    --------
    >>> round(math.degrees(magnetic_variation(47.6205, -122.3493, 0.0, 2025.25)), 4)
    15.0656
    >>> magnetic_variation(50.0, 8.0, 0.0, 1999.0) is None
    True
    """
    edition = max((first for first in _EDITIONS if first <= year), default=None)
    if edition is None or year >= edition + 5.0 or abs(latitude_deg) > 89.0:
        return None
    model = importlib.import_module("pygeomag")
    name = "2015v2" if edition == 2015 else str(edition)
    field = model.GeoMag(coefficients_file=f"wmm/WMM_{name}.COF")
    found = field.calculate(glat=latitude_deg, glon=longitude_deg, alt=altitude_m / 1000.0,
                            time=year)
    return math.radians(float(found.d))


def _variation(view: View) -> float | None:
    """Variation at the middle of a flight [rad]; None where position or date is not known."""
    if not view.has("latitude", "longitude"):
        return None
    latitude = float(np.nanmedian(view.thin("latitude")))
    longitude = float(np.nanmedian(view.thin("longitude")))
    begun = datetime.datetime.fromtimestamp(float(view.time_s[0]), datetime.UTC)
    year = begun.year + (begun.timetuple().tm_yday - 1) / 365.25
    return magnetic_variation(round(latitude, 1), round(longitude, 1), 500.0, round(year, 1))


# ---------------------------------------------------------------- positions


def _moved(view: View, first: IndexArray, last: IndexArray) -> tuple[FloatArray, FloatArray]:
    """Way to the east and to the north between two rows each [m]."""
    latitude, longitude = view.channels["latitude"], view.channels["longitude"]
    north = np.radians(latitude[last] - latitude[first]) * _EARTH_M
    turn = np.mod(longitude[last] - longitude[first] + 180.0, 360.0) - 180.0
    return np.radians(turn) * np.cos(np.radians(latitude[first])) * _EARTH_M, north


def _legs(view: View) -> tuple[IndexArray, IndexArray, FloatArray]:
    """Rows at the beginning and end of short legs, and how long each lasts [s]."""
    rows = max(1, round(_BASELINE_S / view.interval_s))
    first = view.places[view.places + rows < view.time_s.size]
    lasts = view.time_s[first + rows] - view.time_s[first]
    good = (lasts > 0.5 * _BASELINE_S) & (lasts < 3.0 * _BASELINE_S)
    return first[good], first[good] + rows, lasts[good]


def check_positions(view: View) -> list[Finding]:
    """Find positions that jump, and a ground speed that is not that of the positions.

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
    >>> time_s = np.arange(300.0)
    >>> view = View(time_s, {"latitude": 50.0 + time_s * 4.5e-4, "longitude": np.full(300, 8.0),
    ...                      "ground_speed": np.full(300, 92.6)})
    >>> print(check_positions(view)[0].what)
    positions move 0.54 times as fast as ground_speed says
    """
    if not view.has("latitude", "longitude"):
        return []
    findings = _jumps(view)
    if not view.has("ground_speed"):
        return findings
    first, last, lasts = _legs(view)
    east, north = _moved(view, first, last)
    speed = view.channels["ground_speed"]
    said = 0.5 * (speed[first] + speed[last])
    over = np.hypot(east, north) / lasts
    use = (said > 12.0) & np.isfinite(over)
    if int(use.sum()) < _FEWEST:
        return findings
    ratio = float(np.median(over[use] / said[use]))
    if not 0.93 < ratio < 1.07:
        findings.append(Finding(
            "caution", f"positions move {ratio:.2f} times as fast as ground_speed says",
            "ground speed (or the position) has a wrong unit, format or column; distances and wind "
            "are wrong by that", "likely"))
    return findings


def _jumps(view: View) -> list[Finding]:
    """Find single steps that cannot be flown."""
    latitude, longitude = view.channels["latitude"], view.channels["longitude"]
    north = np.diff(latitude) * (math.pi / 180.0 * _EARTH_M)
    shrink = math.cos(math.radians(float(np.nanmedian(view.thin("latitude")))))
    turn = np.diff(longitude)
    turn = np.where(np.abs(turn) > 180.0, turn - np.copysign(360.0, turn), turn)
    way = np.abs(north) + np.abs(turn) * (math.pi / 180.0 * _EARTH_M * shrink)
    rows = np.flatnonzero(way > _JUMP_M + _JUMP_MS * np.diff(view.time_s))
    if not rows.size:
        return []
    return [Finding("caution", f"the position jumps {rows.size} times, by "
                    f"{float(way[rows].max()) / 1000.0:.1f} km at the most, first at "
                    f"{moment(view.time_s[rows[0]])}",
                    "distances, track and wind around it are wrong", "likely")]


# ---------------------------------------------------------------- which north


def _middle(angles_rad: FloatArray) -> tuple[float, float]:
    """Middle of angles and its standard uncertainty [rad], outliers left out."""
    middle = float(np.angle(np.exp(1j * angles_rad).mean()))
    apart = np.angle(np.exp(1j * (angles_rad - middle)))
    middle += float(np.median(apart))
    spread = 1.48 * float(np.median(np.abs(apart - np.median(apart))))
    return middle, spread / math.sqrt(max(1.0, angles_rad.size / 10.0))


def check_track(view: View) -> list[Finding]:
    """Compare track with the course from positions, which is true.

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
    >>> time_s = 1.714e9 + np.arange(300.0)
    >>> view = View(time_s, {"latitude": 38.0 + np.arange(300) * 4.5e-4,
    ...                      "longitude": np.full(300, -122.0),
    ...                      "track": np.full(300, math.radians(347.0))}, "true")
    >>> print(check_track(view)[0].what)
    track is said to be true, but it lies -13 deg from the course of the positions, where magnetic \
north lies 13 deg east
    """
    if not view.has("latitude", "longitude", "track"):
        return []
    first, last, lasts = _legs(view)
    east, north = _moved(view, first, last)
    track = view.channels["track"]
    turned = np.abs(np.angle(np.exp(1j * (track[last] - track[first]))))
    use = (np.hypot(east, north) / lasts > 12.0) & (turned < math.radians(10.0))
    if int(use.sum()) < _FEWEST:
        return []
    middle = track[first] + 0.5 * np.angle(np.exp(1j * (track[last] - track[first])))
    off, sigma = _middle(middle[use] - np.arctan2(east[use], north[use]))
    return _north_finding(view, "track", view.track_reference, off, sigma, "of the positions")


def check_heading(view: View) -> list[Finding]:
    """Compare heading with track, drift taken out, where headings spread over the compass.

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
    >>> heading = np.linspace(0.0, 6.2, 300)
    >>> view = View(1.714e9 + np.arange(300.0), {"heading": heading,
    ...             "track": np.mod(heading + math.radians(13.0), 2 * math.pi),
    ...             "latitude": np.full(300, 38.0), "longitude": np.full(300, -122.0),
    ...             "ground_speed": np.full(300, 50.0)}, "true", "true")
    >>> check_heading(view)[0].sure
    'likely'
    """
    if not view.has("heading", "track", "ground_speed") or view.track_reference is None:
        return []
    heading, track = view.thin("heading"), view.thin("track")
    use = view.flying & np.isfinite(heading) & np.isfinite(track)
    if int(use.sum()) < _FEWEST:
        return []
    heading, drift = heading[use], np.angle(np.exp(1j * (heading[use] - track[use])))
    if abs(np.exp(1j * heading).mean()) > 0.8:
        return []
    known = np.abs(drift) < math.radians(60.0)
    model = np.stack([np.ones(heading.shape), np.sin(heading), np.cos(heading)], axis=1)[known]
    if model.shape[0] < _FEWEST:
        return [Finding("caution", "heading and track have nothing to do with each other",
                        "one of the two is another quantity or wrong", "likely")]
    found, *_ = np.linalg.lstsq(model, drift[known], rcond=None)
    miss = drift[known] - model @ found
    inverse = np.linalg.pinv(model.T @ model)
    sigma = math.sqrt(float(inverse[0, 0]) * float(np.var(miss)) * 30.0)
    variation = _variation(view)
    off = float(found[0])
    if view.track_reference == "magnetic":
        off -= variation or 0.0
    return _north_finding(view, "heading", view.heading_reference, off, sigma, "of track")


def _north_finding(
    view: View, name: str, said: str | None, off: float, sigma: float, whose: str
) -> list[Finding]:
    """Say where a direction does not lie where its north would put it.

    `off` is its angle from true [rad]: 0 for a true one, minus the variation for a magnetic one.
    """
    variation = _variation(view)
    allowed = max(math.radians(4.0), 3.0 * sigma)
    if sigma > math.radians(4.0):
        return []
    if variation is None:
        return _far_off(name, off, whose)
    expected = {"true": 0.0, "magnetic": -variation}
    fits = [north for north, angle in expected.items()
            if abs(math.remainder(off - angle, math.tau)) < allowed]
    if said in fits or (said is None and len(fits) != 1):
        return []
    east = f"{abs(math.degrees(variation)):.0f} deg {'east' if variation > 0.0 else 'west'}"
    degrees = round(math.degrees(math.remainder(off, math.tau)))
    lies = f"it lies {degrees:+d} deg from the course {whose}"
    if said is None:
        return [Finding("note", f"{name} fits {fits[0]} north: {lies}, where magnetic north lies "
                        f"{east}", f'if so, write reference = "{fits[0]}"', "possible")]
    apart = abs(variation) > _LEAST_VARIATION
    return [Finding("caution", f"{name} is said to be {said}, but {lies}, where magnetic north "
                    f"lies {east}", "crosswind, runway and wind are off by that angle",
                    "likely" if fits and apart else "possible")]


def _far_off(name: str, off: float, whose: str) -> list[Finding]:
    """Say where a direction is further off than magnetic north can be, which is not known here."""
    if abs(math.remainder(off, math.tau)) < _MOST_VARIATION:
        return []
    degrees = round(math.degrees(math.remainder(off, math.tau)))
    return [Finding("caution", f"{name} lies {degrees:+d} deg from the course {whose}",
                    "one of the two is another quantity or wrong", "likely")]


#: All checks of position and direction.
NORTH_CHECKS: tuple[Callable[[View], list[Finding]], ...] = (
    check_positions, check_track, check_heading)
