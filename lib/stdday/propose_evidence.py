"""Readings weighed by other columns: what positions, climbs and winds say of units and names."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from stdday.propose_checks import (
    Evidence,
    airspeed_ratio,
    evidence,
    nearest_unit,
    rate_ratio,
    ratio_to,
)
from stdday.propose_options import Option
from stdday.propose_units import channel_scale, choices_for
from stdday.propose_words import tokens

__all__ = ["check_chosen", "weigh"]

FloatArray = NDArray[np.float64]

_ALTITUDES = ("gps_altitude", "indicated_altitude", "pressure_altitude")
_AIRSPEEDS = ("indicated_airspeed", "true_airspeed")
_SPEED_UNITS = ("kt", "km/h", "mph", "m/s")


def weigh(options: list[Option], time_s: FloatArray, clocked: bool) -> Evidence | None:
    """Weigh readings by positions and rates of climb; units that are shown wrong are taken out.

    Parameters
    ----------
    options : list of Option
        Every reading; changed in place.
    time_s : ndarray, shape (n,)
        Time of the samples from any zero [s].
    clocked : bool
        Whether that is a time and not the number of the row.

    Returns
    -------
    Evidence or None
        What positions and time say; None for a recording too short; never raises.

    Examples
    --------
    >>> from stdday.propose_options import options_of
    >>> from stdday.propose_types import Column
    >>> time = np.arange(900.0)
    >>> rate = 500.0 * np.sin(time / 90.0)
    >>> def column(place, name, values):
    ...     return Column(place, name, name, "", "", values.astype(str).astype(object), values)
    >>> both = [column(0, "VSI", rate), column(1, "GPS alt", 3000.0 + np.cumsum(rate) / 60.0)]
    >>> options = options_of(both)
    >>> _ = weigh(options, time, clocked=True)
    >>> [(one.base, one.unit, one.how) for one in options if one.how == "shown"]
    [('vertical_speed', 'ft/min', 'shown'), ('gps_altitude', 'ft', 'shown')]
    """
    latitude, longitude = _position(options)
    if latitude is None or longitude is None:
        seen = evidence(time_s)
    else:
        seen = evidence(time_s, latitude.column.values, longitude.column.values)
    if seen is None:
        return None
    if seen.speed_ms is not None and latitude is not None and longitude is not None:
        _weigh_position(seen, latitude, longitude)
        if clocked:
            _weigh_speeds(options, seen)
        _weigh_directions(options, seen)
    if clocked:
        _weigh_climbs(options, seen)
    return seen


def _best(options: Sequence[Option], base: str) -> Option | None:
    """Best reading as a channel."""
    return max((option for option in options if option.base == base),
               key=lambda option: option.total, default=None)


def _position(options: Sequence[Option]) -> tuple[Option | None, Option | None]:
    """Best columns of latitude and longitude; of unnamed ones, two beside each other."""
    latitude, longitude = _best(options, "latitude"), _best(options, "longitude")
    if latitude and longitude and min(latitude.word, longitude.word) > 0.0:
        return latitude, longitude
    fine = {base: {option.column.place: option for option in options
                   if option.base == base and _decimals(option) >= 4 and option.value > 0.0}
            for base in ("latitude", "longitude")}
    for place, option in fine["latitude"].items():
        if place + 1 in fine["longitude"]:
            return option, fine["longitude"][place + 1]
    return None, None


def _decimals(option: Option) -> int:
    """Decimals of the cells of a column."""
    cells = [str(cell) for cell in option.column.text[:200] if cell]
    return max((len(cell.replace(",", ".").rpartition(".")[2]) for cell in cells if
                "." in cell.replace(",", ".")), default=0)


def _weigh_position(seen: Evidence, latitude: Option, longitude: Option) -> None:
    """Believe positions that move as an airplane does."""
    speed = seen.speed_ms if seen.speed_ms is not None else np.empty(0)
    known = speed[np.isfinite(speed)]
    if known.size > 20 and 8.0 < float(np.percentile(known, 95)) < 140.0:
        for option in (latitude, longitude):
            option.extra += 2.0
            option.reasons.append("it moves as an airplane does")


def _weigh_speeds(options: list[Option], seen: Evidence) -> None:
    """Hold ground speeds to the speed between positions."""
    speed = seen.speed_ms
    assert speed is not None
    for option in [one for one in options if one.base == "ground_speed"]:
        found = ratio_to(seen.mean(option.inside), speed, 12.0)
        if found is None:
            continue
        ratio, likeness = found
        off = abs(np.log(ratio)) if ratio > 0.0 else 9.0
        if off < 0.05 and likeness > 0.97:
            option.extra += 2.5 if likeness > 0.99 else 1.5
            option.reasons.append("it is the speed between positions")
            option.how = "shown" if option.how in ("guess", "only") else option.how
        elif off > 0.12 or likeness < 0.9:
            percent = 100.0 * (ratio - 1.0)
            option.against.append(f"it is not the speed between positions ({percent:+.0f} % in "
                                  f"{option.unit})")
    _keep_shown(options, "ground_speed")
    _weigh_airspeeds(options, seen)


def _weigh_airspeeds(options: list[Option], seen: Evidence) -> None:
    """Of columns without words, an airspeed goes with the speed between positions but is not it."""
    assert seen.speed_ms is not None
    for option in [one for one in options if one.base in _AIRSPEEDS and one.word == 0.0]:
        found = ratio_to(seen.mean(option.inside), seen.speed_ms, 12.0)
        if found is not None and 0.7 < found[0] < 1.3 and found[1] > 0.8:
            option.extra += 1.5 - 0.3 * (option.base == "true_airspeed")
            option.reasons.append("it goes with the speed between positions")


def _keep_shown(options: list[Option], base: str) -> None:
    """Where the unit of a column is shown, take its other units out."""
    shown = {option.column.place for option in options
             if option.base == base and option.how == "shown"}
    options[:] = [option for option in options if option.base != base
                  or option.column.place not in shown or option.how == "shown"]


def _weigh_directions(options: list[Option], seen: Evidence) -> None:
    """Hold tracks and headings to the direction between positions."""
    course, speed = seen.course_deg, seen.speed_ms
    assert course is not None
    assert speed is not None
    half = seen.shift // 2
    for option in [one for one in options if one.base in ("track", "heading")]:
        own = np.degrees(option.inside)[half:half + course.size]
        apart = (own - course + 180.0) % 360.0 - 180.0
        apart = apart[np.isfinite(apart) & (speed > 12.0)]
        if apart.size < 30:
            continue
        middle = float(np.median(apart))
        spread = float(np.median(np.abs(apart - middle)))
        if spread < 12.0 and abs(middle) < 40.0:
            option.extra += 1.0 if spread < 3.0 or option.base == "heading" else 0.3
            option.reasons.append(f"it follows the direction between positions ({middle:+.1f} deg)")
            _doubt_direction(option, spread)
        else:
            option.against.append("it does not follow the direction between positions")


def _doubt_direction(option: Option, spread: float) -> None:
    """A track follows the positions closely; a heading does not where there is a wind."""
    if option.base == "heading" and spread < 1.5:
        option.against.append("it follows the positions so closely that it may be the track")
    elif option.base == "track" and spread > 2.5:
        option.against.append("it follows the positions so loosely that it may be the heading")


def _weigh_climbs(options: list[Option], seen: Evidence) -> None:
    """Hold altitudes and rates of climb to each other; together they show both units."""
    rates = [one for one in options if one.base == "vertical_speed"]
    altitudes = [one for one in options if one.base in _ALTITUDES]
    pairs: dict[tuple[int, int], tuple[float, float] | None] = {}
    for rate in rates:
        for altitude in altitudes:
            key = (altitude.column.place, rate.column.place)
            if key[0] == key[1]:
                continue
            if key not in pairs:
                pairs[key] = rate_ratio(seen, altitude.column.values, rate.column.values)
            _weigh_pair(altitude, rate, pairs[key])
    for base in (*_ALTITUDES, "vertical_speed"):
        _keep_shown(options, base)


def _weigh_pair(altitude: Option, rate: Option, found: tuple[float, float] | None) -> None:
    """Weigh an altitude and a rate of climb that may belong together."""
    if found is None or found[1] < 0.75:
        return
    one = channel_scale(altitude.channel, altitude.unit)
    two = channel_scale(rate.channel, rate.unit)
    off = 9.0 if one is None or two is None else abs(float(np.log(found[0] * one[0] / two[0])))
    if off < 0.12 and found[1] > 0.85:
        _agree(altitude, rate)
        _agree(rate, altitude)
    elif off > 0.35 and found[1] > 0.9 and rate.word >= 2.0 and altitude.word >= 1.0:
        for option in (altitude, rate):
            if option.how == "given":
                option.against.append("altitude and rate of climb do not agree in these units")


def _agree(option: Option, other: Option) -> None:
    """Note that an altitude and a rate of climb agree in these units."""
    if not any("rate of climb" in reason for reason in option.reasons):
        option.extra += 1.0
        option.reasons.append("altitude and rate of climb agree "
                              f"({other.column.words[:40] or 'unnamed'})")
    option.how = "shown" if option.how in ("guess", "only") else option.how


# ---------------------------------------------------------------- after columns are chosen


def check_chosen(
    chosen: dict[str, Option], options: Sequence[Option], seen: Evidence | None
) -> None:
    """Decide open units of chosen columns by each other, and say where they contradict.

    Parameters
    ----------
    chosen : dict of str to Option
        Reading by channel; a reading is replaced by one in another unit where that is shown.
    options : sequence of Option
        Every reading.
    seen : Evidence or None
        What positions and time say; never raises.

    Examples
    --------
    >>> check_chosen({}, [], None)
    """
    _check_altitudes(chosen, options)
    _check_airspeeds(chosen, options)
    _check_order(chosen)
    _check_settings(chosen)
    _check_barometric(chosen)
    _check_temperature(chosen, options)
    if seen is not None:
        _check_fuel(chosen, options, seen)


def _others(options: Sequence[Option], option: Option) -> dict[str, Option]:
    """The readings of the same column as the same channel, by unit."""
    return {one.unit: one for one in options
            if one.column is option.column and one.channel.name == option.channel.name}


def _settle(
    chosen: dict[str, Option], options: Sequence[Option], option: Option,
    factors: dict[str, float], why: str, solid: bool,
) -> None:
    """Choose an open unit by a ratio that must be 1; a given one is contradicted by it."""
    _respell(option, factors)
    if option.how in ("given", "open", "shown") and option.unit not in factors:
        return
    found = nearest_unit(factors)
    if found is None:
        return
    unit, clear = found
    name = option.channel.name
    if option.how in ("guess", "only"):
        reading = _others(options, option).get(unit)
        if reading is None:
            return
        chosen[name] = reading
        if clear and solid:
            reading.how = "shown"
            reading.reasons.append(f"{why} in {unit}")
    elif clear and solid and unit != option.unit and abs(np.log(factors[option.unit])) > 0.09:
        option.against.append(f"{why} in {unit}, not in {option.unit}")


def _respell(option: Option, factors: dict[str, float]) -> None:
    """The same unit in another spelling is the same unit."""
    own = channel_scale(option.channel, option.unit)
    for unit in list(factors):
        other = channel_scale(option.channel, unit)
        if own and other and abs(other[0] / own[0] - 1.0) < 1e-6 and unit != option.unit:
            factors[option.unit] = factors.pop(unit)


def _check_altitudes(chosen: dict[str, Option], options: Sequence[Option]) -> None:
    """Hold altitudes to each other: their changes are the same."""
    have = [chosen[name] for name in _ALTITUDES if name in chosen]
    sure = [option for option in have if option.how in ("given", "shown")]
    if not sure:
        return
    anchor = sure[0]
    for option in have:
        if option is anchor:
            continue
        both = np.isfinite(option.inside) & np.isfinite(anchor.inside)
        if both.sum() < 30 or float(np.std(anchor.inside[both])) < 15.0:
            continue
        factors = {}
        for unit in choices_for(option.channel):
            scale = channel_scale(option.channel, unit)
            values = option.column.values[both] * (scale[0] if scale else np.nan)
            factors[unit] = float(np.std(values) / np.std(anchor.inside[both]))
        _settle(chosen, options, option, factors, "it changes as the other altitude does", True)


def _density_ratio(chosen: dict[str, Option], size: int) -> FloatArray:
    """About the density over that at sea level, from any altitude there is [-]."""
    for name in ("pressure_altitude", "indicated_altitude", "gps_altitude"):
        if name in chosen and chosen[name].how in ("given", "shown"):
            altitude = np.where(np.isfinite(chosen[name].inside), chosen[name].inside, 500.0)
            return np.asarray(np.clip(1.0 - 2.2558e-5 * altitude, 0.5, 1.1) ** 4.2559)
    return np.full(size, 0.93)


def _check_airspeeds(chosen: dict[str, Option], options: Sequence[Option]) -> None:
    """Hold airspeeds to ground speed, with the wind solved for where directions allow."""
    speed = chosen.get("ground_speed")
    if speed is None or speed.against or speed.how not in ("given", "shown"):
        return
    course = next((chosen[name] for name in ("track", "heading") if name in chosen), None)
    track = None if course is None or course.against else course.inside
    for name in _AIRSPEEDS:
        option = chosen.get(name)
        if option is None:
            continue
        sigma = _density_ratio(chosen, option.inside.size)
        factors, solved = {}, False
        for unit in _SPEED_UNITS:
            scale = channel_scale(option.channel, unit)
            true = option.column.values * (scale[0] if scale else np.nan)
            true = true / np.sqrt(sigma) if name == "indicated_airspeed" else true
            found = airspeed_ratio(true, speed.inside, track)
            if found is not None:
                factors[unit], solved = found
        if factors and _clear(factors, option, solved):
            _settle(chosen, options, option, factors, "it agrees with ground speed", solved)


def _clear(factors: dict[str, float], option: Option, solved: bool) -> bool:
    """Whether a ratio to ground speed says anything; without directions only large faults show."""
    if solved or option.how in ("guess", "only"):
        return True
    if option.unit in factors and abs(np.log(factors[option.unit])) > 0.4:
        option.against.append(f"in {option.unit} it is {factors[option.unit]:.2f} of ground speed "
                              "the wrong way round" if factors[option.unit] < 0.0 else
                              f"ground speed is {factors[option.unit]:.2f} of it in {option.unit}")
    return False


def _check_order(chosen: dict[str, Option]) -> None:
    """True airspeed is above indicated airspeed at altitude."""
    one, two = chosen.get("indicated_airspeed"), chosen.get("true_airspeed")
    if one is None or two is None:
        return
    sigma = _density_ratio(chosen, one.inside.size)
    fast = np.isfinite(one.inside) & np.isfinite(two.inside) & (one.inside > 18.0)
    if fast.sum() < 30:
        return
    ratio = float(np.median(two.inside[fast] / one.inside[fast]))
    wanted = float(np.median(1.0 / np.sqrt(sigma[fast])))
    if abs(np.log(ratio / wanted)) > 0.08 or (ratio < 0.995 < 1.03 < wanted):
        for option in (one, two):
            option.against.append(f"true over indicated airspeed is {ratio:.2f}, about {wanted:.2f}"
                                  " is expected at that altitude")


def _check_settings(chosen: dict[str, Option]) -> None:
    """Pressure altitude differs from indicated altitude by what the setting says."""
    names = ("pressure_altitude", "indicated_altitude", "altimeter_setting")
    if not all(name in chosen for name in names):
        return
    pressure, indicated, setting = (chosen[name].inside for name in names)
    both = np.isfinite(pressure) & np.isfinite(indicated) & np.isfinite(setting)
    if both.sum() < 30:
        return
    wanted = float(np.median(44_330.8 * (1.0 - (setting[both] / 101_325.0) ** 0.190263)))
    found = float(np.median(pressure[both] - indicated[both]))
    if abs(found - wanted) > 25.0:
        for name in names[:2]:
            chosen[name].against.append(
                f"they differ by {found:.0f} m where the altimeter setting says {wanted:.0f} m")


def _check_barometric(chosen: dict[str, Option]) -> None:
    """Without a setting beside it, a barometric altitude may be of the standard setting."""
    option = chosen.get("indicated_altitude")
    if option is None or "altimeter_setting" in chosen:
        return
    words = tokens(option.column.words)[0]
    said = words & {"qnh", "indicated", "ind", "corrected", "angezeigte", "indiquee"}
    if not said:
        option.against.append("no altimeter setting stands beside it: it may be pressure altitude")


def _check_temperature(chosen: dict[str, Option], options: Sequence[Option]) -> None:
    """Air grows colder with altitude, by 3 to 10 K a kilometre."""
    option = chosen.get("outside_air_temperature")
    if option is None or option.how not in ("guess", "only"):
        return
    altitude = next((chosen[name] for name in _ALTITUDES
                     if name in chosen and chosen[name].how in ("given", "shown")), None)
    if altitude is None:
        return
    both = np.isfinite(option.column.values) & np.isfinite(altitude.inside)
    if both.sum() < 60 or float(np.std(altitude.inside[both])) < 150.0:
        return
    slope = 1000.0 * float(np.polyfit(altitude.inside[both], option.column.values[both], 1)[0])
    unit = "degC" if -8.8 < slope < -3.0 else "degF" if -18.0 < slope < -10.5 else ""
    reading = _others(options, option).get(unit)
    if reading is not None:
        chosen[option.channel.name] = reading
        reading.how = "only"
        reading.reasons.append(f"it falls by {-slope:.1f} a kilometre, as {unit} would")


def _check_fuel(chosen: dict[str, Option], options: Sequence[Option], seen: Evidence) -> None:
    """What flows is what the tank loses."""
    flow, tank = chosen.get("fuel_flow"), chosen.get("fuel_quantity")
    if flow is None or tank is None or tank.how not in ("given", "shown"):
        return
    time, left = seen.time_s, tank.inside
    use = np.isfinite(time) & np.isfinite(left) & np.isfinite(flow.column.values)
    if use.sum() < 100:
        return
    time, left, rate = time[use], left[use], flow.column.values[use]
    edge = max(use.sum() // 20, 5)
    lost = float(np.median(left[:edge]) - np.median(left[-edge:]))
    burned = float(np.abs(np.trapezoid(rate[edge // 2:-(edge // 2)],
                                       time[edge // 2:-(edge // 2)])))
    if burned <= 0.0 or lost < 0.002:
        return
    factors = {unit: burned * scale[0] / lost for unit in choices_for(flow.channel)
               if (scale := channel_scale(flow.channel, unit)) is not None}
    _settle(chosen, options, flow, factors, "it is what the tank loses", True)
