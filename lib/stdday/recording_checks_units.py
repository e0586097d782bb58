"""Checks of channels against each other: which unit cannot be right."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from stdday.atmosphere import standard_pressure_pa, standard_temperature_k
from stdday.recording_types import Finding, FloatArray
from stdday.recording_view import View, quantity

__all__ = ["UNIT_CHECKS", "check_airspeed", "check_altitude", "check_fuel", "check_manifold",
           "check_temperature", "check_true_airspeed", "check_vertical_speed", "speed_factor"]

#: What a speed is multiplied with when one unit is taken for another.
_SPEED_SLIPS = ((1.852, "km/h taken for kt"), (1.1508, "kt taken for mph"),
                (1.6093, "mph taken for km/h"), (1.9438, "m/s taken for kt"),
                (3.6, "m/s taken for km/h"), (2.2369, "m/s taken for mph"))
_LENGTH_SLIPS = ((3.2808, "ft and m exchanged"),)
_CLIMB_SLIPS = ((3.2808, "ft and m exchanged"), (196.85, "ft/min taken for m/s"),
                (60.0, "per minute taken for per second"), (1.9438, "kt and m/s exchanged"))
_FLOW_SLIPS = ((3.7854, "US gal and L exchanged"), (2.2046, "lb and kg exchanged"),
               (4.5461, "imperial gal and L exchanged"), (1.2009, "US and imperial gal exchanged"),
               (6.0, "lb and US gal exchanged"))
#: Airspeed and ground speed agree to this once the wind is known: calibration and scatter.
_SPEED_TOLERANCE = 0.08
#: Lapse of temperature with height that no air holds over a large climb [K/m].
_STEEPEST_LAPSE = -0.0103
#: Specific consumption of spark and diesel engines at power [kg/J]: 200 to 520 g/kWh.
_CONSUMPTION = (200.0 / 3.6e9, 520.0 / 3.6e9)
_FUEL_DENSITY = 720.0
_FEWEST = 20
#: Slope of altitude is taken over this time to either side [s], as it may come in steps of 100 ft.
_SLOPE_S = 8.0
#: Static and satellite altitude, scale and setting taken out, never part by so much [m]: -20 to
#: +41 m were met.
_PART_M = 75.0
#: Nor do they differ near the ground by more than this [m] and a share of height for the air's
#: temperature.
_OFF_M = 100.0


def _slip(ratio: float, slips: Sequence[tuple[float, str]], within: float) -> str:
    """Name the exchange of units that explains a ratio, upside down or not; empty for none."""
    if not ratio > 0.0:
        return ""
    near = min(slips, key=lambda slip: abs(abs(math.log(ratio)) - math.log(slip[0])))
    return near[1] if abs(abs(math.log(ratio)) - math.log(near[0])) < math.log1p(within) else ""


def _because(slip: str) -> str:
    """Say the exchange of units in a clause."""
    return f", as with {slip}" if slip else ""


# ---------------------------------------------------------------- speeds


def speed_factor(
    air_ms: FloatArray, ground_ms: FloatArray, track_rad: FloatArray
) -> tuple[float, float]:
    """Factor between airspeed and ground speed, with one wind for all of it.

    Parameters
    ----------
    air_ms, ground_ms : ndarray, shape (n,)
        True airspeed and ground speed [m/s].
    track_rad : ndarray, shape (n,)
        Track over the ground [rad].

    Returns
    -------
    tuple of float
        Factor (1 where both are right) and its standard uncertainty [-]; NaN where tracks do not
        spread enough to tell a factor from a wind. Never raises.

    Examples
    --------
    >>> track = np.linspace(0.0, 6.0, 100)
    >>> ground = 50.0 + 5.0 * np.cos(track)
    >>> factor, sigma = speed_factor(np.full(100, 92.6), ground, track)
    >>> round(factor, 2), sigma < 0.02
    (0.54, True)
    """
    east, north = ground_ms * np.sin(track_rad), ground_ms * np.cos(track_rad)
    if abs(np.exp(1j * track_rad).mean()) > 0.75:
        return math.nan, math.nan
    wind_east, wind_north = 0.0, 0.0
    factor = float(np.median(ground_ms) / np.median(air_ms))
    for _ in range(12):
        through_east, through_north = east - wind_east, north - wind_north
        size = np.maximum(np.hypot(through_east, through_north), 1e-3)
        miss = size - factor * air_ms
        slopes = np.stack([-through_east / size, -through_north / size, -air_ms], axis=1)
        weight = 1.0 / np.maximum(1.0, np.abs(miss) / (3.0 * np.median(np.abs(miss)) + 1e-9))
        change, *_ = np.linalg.lstsq(slopes * weight[:, None], -miss * weight, rcond=None)
        wind_east, wind_north = wind_east + change[0], wind_north + change[1]
        factor += change[2]
        if float(np.abs(change).max()) < 1e-4:
            break
    inverse = np.linalg.pinv(slopes.T @ slopes)
    # neighbouring samples share their error: one in thirty counts
    sigma = float(np.sqrt(inverse[2, 2] * np.mean(miss**2) * 30.0))
    return float(factor), sigma


def check_airspeed(view: View) -> list[Finding]:
    """Compare airspeed with ground speed, the wind taken out where tracks spread.

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
    >>> ground = np.full(200, 50.0)
    >>> view = View(np.arange(200.0), {"ground_speed": ground, "indicated_airspeed": ground * 1.85})
    >>> print(check_airspeed(view)[0].what)
    true airspeed from indicated_airspeed is 1.85 times ground_speed in flight, as with km/h taken \
for kt
    """
    if not view.has("indicated_airspeed", "ground_speed"):
        return []
    air, ground = _true_airspeed(view), view.thin("ground_speed")
    use = view.flying & np.isfinite(air) & np.isfinite(ground) & (ground > 5.0) & (air > 0.0)
    if int(use.sum()) < _FEWEST:
        return []
    ratio, sigma = float(np.median(air[use]) / np.median(ground[use])), math.nan
    track = view.thin("track")
    known = np.flatnonzero(use & np.isfinite(track))
    known = known[:: 1 + known.size // 800]
    if known.size >= 3 * _FEWEST:
        factor, sigma = speed_factor(air[known], ground[known], track[known])
        ratio = 1.0 / factor if sigma < 0.05 and factor > 0.0 else ratio
    balanced = sigma < 0.05
    tolerance = _SPEED_TOLERANCE + 2.0 * sigma if balanced else 0.35
    if abs(math.log(ratio)) < math.log1p(tolerance):
        return []
    slip = _slip(ratio, _SPEED_SLIPS, 0.06 if balanced else 0.25)
    wind = " with the wind taken out" if balanced else ""
    return [Finding("caution", f"true airspeed from indicated_airspeed is {ratio:.2f} times "
                    f"ground_speed in flight{wind}{_because(slip)}",
                    "one of the two has a wrong unit or column; every airspeed, distance and "
                    "gradient is wrong by that", "likely" if slip or balanced else "possible")]


def _true_airspeed(view: View) -> FloatArray:
    """True airspeed of the thinned samples [m/s], to about a per cent."""
    altitude = _altitude(view)
    air = view.thin("outside_air_temperature")
    standard = np.asarray(standard_temperature_k(altitude))
    temperature = np.where(np.abs(air - standard) < 40.0, air, standard)
    density = np.asarray(standard_pressure_pa(altitude)) / (287.05287 * temperature)
    return np.asarray(view.thin("indicated_airspeed") * np.sqrt(1.225 / density))


def _altitude(view: View) -> FloatArray:
    """Altitude of the thinned samples [m]; 0 where it is not known."""
    for name in (view.altitude_name, "gps_altitude"):
        if name is not None and view.has(name):
            altitude = view.thin(name)
            return np.where(np.isfinite(altitude), np.clip(altitude, -1500.0, 15_000.0), 0.0)
    return np.zeros(view.places.shape)


def check_true_airspeed(view: View) -> list[Finding]:
    """Compare the true airspeed that the panel computed with the one from indicated airspeed.

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
    >>> speed = np.full(200, 50.0)
    >>> view = View(np.arange(200.0), {"indicated_airspeed": speed, "true_airspeed": speed * 1.15})
    >>> check_true_airspeed(view)[0].sure
    'likely'
    """
    if not view.has("indicated_airspeed", "true_airspeed"):
        return []
    air, panel = _true_airspeed(view), view.thin("true_airspeed")
    use = view.flying & (air > 10.0) & (panel > 0.0)
    if int(use.sum()) < _FEWEST:
        return []
    ratio = float(np.median(panel[use] / air[use]))
    if abs(math.log(ratio)) < math.log1p(_SPEED_TOLERANCE):
        return []
    return [Finding("caution", f"true_airspeed is {ratio:.2f} times what indicated_airspeed gives"
                    f"{_because(_slip(ratio, _SPEED_SLIPS, 0.05))}",
                    "one of the two has a wrong unit or column", "likely")]


# ---------------------------------------------------------------- heights


def check_altitude(view: View) -> list[Finding]:
    """Compare static altitude with satellite altitude: unit, and rows where they part.

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
    >>> height = np.linspace(100.0, 900.0, 200)
    >>> view = View(np.arange(200.0), {"gps_altitude": height, "indicated_altitude": height / 3.28})
    >>> print(check_altitude(view)[0].what)
    indicated_altitude changes 0.30 times as much as gps_altitude, as with ft and m exchanged
    """
    name = "indicated_altitude" if view.has("indicated_altitude") else "pressure_altitude"
    if not view.has(name, "gps_altitude"):
        return []
    # the warmest and coldest air stretches an altimeter by 12 %
    for least_m, beyond in ((60.0, 1.6), (300.0, 1.14)):
        ratio = _range_ratio(view, name, "gps_altitude", least_m)
        findings = _ratio_finding(ratio, name, "gps_altitude", _LENGTH_SLIPS,
                                  "every height and climb is wrong by that", beyond=beyond)
        if findings:
            return findings
    satellite = view.thin("gps_altitude")
    low = satellite <= np.nanquantile(satellite, 0.1)
    off = float(np.nanmedian(np.where(low, view.thin(name) - satellite, np.nan)))
    height = float(np.nanmin(np.abs(view.thin(name))))
    if abs(off) > _OFF_M + 0.12 * min(height, 5_000.0):
        return [Finding("caution", f"{name} is {quantity('length', abs(off))} "
                        f"{'above' if off > 0.0 else 'below'} gps_altitude where it is lowest",
                        "the altimeter setting, a unit or a column is wrong", "likely")]
    apart = np.abs(view.channels[name] - _as_static(view, name))
    rows = int((apart > _PART_M).sum())
    if rows:
        worst = int(np.nanargmax(apart))
        findings = [Finding(
            "caution", f"{name} and gps_altitude part by more than usual in {rows} rows, by "
            f"{quantity('length', float(apart[worst]))} at the worst (row {worst + 1} in use)",
            "one of the two is wrong there: a lost position fix, a turned altimeter or exchanged "
            "columns", "likely")]
    return findings


def _as_static(view: View, name: str) -> FloatArray:
    """Satellite altitude as the altimeter should show it, in every row [m].

    Warm or cold air stretches the scale of an altimeter by up to a tenth, and its setting moves it.
    """
    satellite = view.channels["gps_altitude"]
    height, shown = view.thin("gps_altitude"), view.thin(name)
    use = np.isfinite(height) & np.isfinite(shown)
    offset, stretch = float(np.median((shown - height)[use])), 1.0
    use &= np.abs(shown - height - offset) < 3.0 * _PART_M
    if int(use.sum()) >= _FEWEST and float(np.ptp(height[use])) > 300.0:
        stretch, offset = np.polyfit(height[use], shown[use], 1)
        stretch = min(max(float(stretch), 0.88), 1.12)
        offset = float(np.median(shown[use] - stretch * height[use]))
    return np.asarray(offset + stretch * satellite)


def check_vertical_speed(view: View) -> list[Finding]:
    """Compare vertical speed with the slope of altitude.

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
    >>> height = 500.0 + 200.0 * np.sin(time_s / 40.0)
    >>> view = View(time_s, {"pressure_altitude": height, "vertical_speed": np.cos(time_s / 40.0)})
    >>> print(check_vertical_speed(view)[0].what)
    vertical_speed is 0.20 times the slope of pressure_altitude
    """
    name = view.altitude_name
    if name is None or not view.has("vertical_speed"):
        return []
    width = max(2, round(_SLOPE_S / view.interval_s))
    places = view.places[(view.places >= width) & (view.places < view.time_s.size - width)]
    lasts = view.time_s[places + width] - view.time_s[places - width]
    altitude = view.channels[name]
    slope = (altitude[places + width] - altitude[places - width]) / lasts
    vertical = view.channels["vertical_speed"]
    shown = np.mean([vertical[places + part] for part in
                     (-width, -width // 2, 0, width // 2, width)], axis=0)
    use = np.isfinite(slope) & np.isfinite(shown) & (np.abs(slope) < 30.0) & (lasts < 4.0 * width
                                                                             * view.interval_s)
    if int(use.sum()) < 3 * _FEWEST or float(np.std(slope[use])) < 0.5:
        return []
    spread = float(np.sqrt(np.mean(shown[use] ** 2)))
    ratio = spread / float(np.sqrt(np.mean(slope[use] ** 2)))
    together = float(np.mean(slope[use] * shown[use])) / (float(np.sqrt(np.mean(
        slope[use] ** 2))) * spread + 1e-12)
    findings = _ratio_finding(
        ratio if abs(math.log(max(ratio, 1e-6))) > math.log(1.6) else math.nan, "vertical_speed",
        f"the slope of {name}", _CLIMB_SLIPS, "vertical speed cannot be used as it is", "is")
    if not findings and together < 0.3:
        return [Finding("caution", f"vertical_speed does not follow the slope of {name}",
                        "one of the two is another quantity or wrong", "likely")]
    return findings


def _range_ratio(view: View, one: str, other: str, least: float) -> float:
    """How much one channel changes for a change of another; NaN where that changes too little."""
    first, second = view.thin(one), view.thin(other)
    known = np.isfinite(first) & np.isfinite(second)
    if int(known.sum()) < _FEWEST:
        return math.nan
    low, high = np.quantile(second[known], (0.05, 0.95))
    if high - low < least:
        return math.nan
    below, above = known & (second <= low + 0.2 * (high - low)), known & (
        second >= high - 0.2 * (high - low))
    return float((np.median(first[above]) - np.median(first[below]))
                 / (np.median(second[above]) - np.median(second[below])))


def _ratio_finding(
    ratio: float, one: str, other: str, slips: Sequence[tuple[float, str]], spoils: str,
    verb: str = "changes", beyond: float = 1.6,
) -> list[Finding]:
    """Say that one quantity is a multiple of another that it should equal."""
    if not math.isfinite(ratio) or 1.0 / beyond < ratio < beyond:
        return []
    slip = _slip(ratio, slips, 0.25)
    as_much = "times as much as" if verb == "changes" else "times"
    return [Finding("caution", f"{one} {verb} {ratio:.2f} {as_much} {other}{_because(slip)}",
                    spoils, "likely")]


# ---------------------------------------------------------------- temperature


def check_temperature(view: View) -> list[Finding]:
    """Compare outside air temperature with the standard and its change with height.

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
    >>> height = np.linspace(0.0, 1500.0, 200)
    >>> fahrenheit_as_celsius = 273.15 + 59.0 - 0.0117 * height
    >>> view = View(np.arange(200.0), {"pressure_altitude": height,
    ...                                "outside_air_temperature": fahrenheit_as_celsius})
    >>> check_temperature(view)[0].spoils
    'it fits degF taken for degC; density, true airspeed and power are wrong'
    """
    name = view.altitude_name or ("gps_altitude" if view.has("gps_altitude") else None)
    if name is None or not view.has("outside_air_temperature"):
        return []
    height, air = _altitude(view), view.thin("outside_air_temperature")
    use = np.isfinite(air) & np.isfinite(view.thin(name))
    use = use & view.flying if int((use & view.flying).sum()) >= _FEWEST else use
    if int(use.sum()) < _FEWEST:
        return []
    height, air = height[use], air[use]
    standard = np.asarray(standard_temperature_k(height))
    off = float(np.median(air - standard))
    lapse = float(np.polyfit(height, air, 1)[0]) if float(np.ptp(height)) > 500.0 else math.nan
    as_f = float(np.median((air - 273.15 - 32.0) / 1.8 + 273.15 - standard))
    as_c = float(np.median((air - 273.15) * 1.8 + 32.0 + 273.15 - standard))
    if abs(off) < 28.0 and not lapse < _STEEPEST_LAPSE and not (off < -18.0 and abs(as_c) < 12.0):
        return []
    sure = "likely" if abs(off) >= 28.0 or lapse < _STEEPEST_LAPSE else "possible"
    reason = "its unit is wrong or the probe disconnected"
    if (off > 0.0 and abs(as_f) < 25.0) or lapse < _STEEPEST_LAPSE:
        reason = "it fits degF taken for degC"
    elif off < 0.0 and abs(as_c) < 25.0:
        reason = "it fits degC taken for degF"
    return [Finding("caution", f"outside_air_temperature is {off:+.0f} K from the standard "
                    f"atmosphere{_lapse_words(lapse)}",
                    f"{reason}; density, true airspeed and power are wrong",
                    "likely" if sure == "likely" else "possible")]


def _lapse_words(lapse: float) -> str:
    """Say how temperature changes with height, where that is known."""
    return f" and changes by {1000.0 * lapse:.1f} K in 1000 m" if math.isfinite(lapse) else ""


# ---------------------------------------------------------------- engine


def check_fuel(view: View) -> list[Finding]:
    """Compare fuel flow with power, with the rated power, and with the quantity that goes down.

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
    >>> power, litres_as_gallons = np.full(200, 50e3), np.full(200, 20.0 * 3.7854 / 3.6e6)
    >>> view = View(np.arange(200.0), {"power": power, "fuel_flow": litres_as_gallons})
    >>> print(check_fuel(view)[0].what)
    fuel_flow makes a specific consumption of 1090 g/kWh by power, as with US gal and L exchanged
    """
    if not view.has("fuel_flow"):
        return []
    density = view.facts.fuel_density_kg_m3 or _FUEL_DENSITY
    flow = view.thin("fuel_flow") * density
    findings = _by_power(view, flow)
    return findings or _by_quantity(view)


def _by_power(view: View, flow_kg_s: FloatArray) -> list[Finding]:
    """Specific consumption by recorded power, else by the rated power at the highest flow."""
    rated = view.facts.rated_power_w
    if view.has("power"):
        power = view.thin("power")
        top = float(np.nanquantile(power, 0.95))
        use = (power > 0.5 * top) & (power > 5_000.0) & (flow_kg_s > 0.0)
        if int(use.sum()) < _FEWEST:
            return []
        found, words, low = float(np.median(flow_kg_s[use] / power[use])), "by power", 1.0
    elif rated is not None:
        top = float(np.nanquantile(flow_kg_s, 0.98))
        # the highest flow is anything from an economical cruise to full throttle with rich mixture
        found, words, low = top / rated, "at rated power", 0.45
    else:
        return []
    if not found or _CONSUMPTION[0] * low <= found <= _CONSUMPTION[1]:
        return []
    ratio = found / 7.9e-8  # 285 g/kWh
    return [Finding("caution", f"fuel_flow makes a specific consumption of {found * 3.6e9:.0f} "
                    f"g/kWh {words}{_because(_slip(ratio, _FLOW_SLIPS, 0.35))}",
                    "fuel flow (or power) has a wrong unit: fuel used, range and power from fuel "
                    "flow are wrong by that", "likely")]


def _by_quantity(view: View) -> list[Finding]:
    """Fuel burnt by fuel flow against the quantity that goes down."""
    if not view.has("fuel_quantity"):
        return []
    quantity_m3, flow = view.thin("fuel_quantity"), view.thin("fuel_flow")
    known = np.isfinite(quantity_m3) & np.isfinite(flow)
    size = max(5, int(known.sum()) // 10)
    if int(known.sum()) < 5 * _FEWEST:
        return []
    time_s, level, flow = view.thin_time_s[known], quantity_m3[known], flow[known]
    first, last = slice(0, size), slice(-size, None)
    drop = float(np.median(level[first]) - np.median(level[last]))
    start, end = float(np.median(time_s[first])), float(np.median(time_s[last]))
    burnt = float(np.trapezoid(flow, time_s)) * (end - start) / float(time_s[-1] - time_s[0])
    ratio = burnt / drop if drop > 0.004 else math.nan
    if not math.isfinite(ratio) or 0.55 < ratio < 1.8:
        return []
    slip = _slip(ratio, _FLOW_SLIPS, 0.35)
    return [Finding("caution", f"fuel_flow adds up to {quantity('volume', burnt)}, fuel_quantity "
                    f"goes down by {quantity('volume', drop)}{_because(slip)}",
                    "one of the two has a wrong unit, or the tank was changed", "possible")]


def check_manifold(view: View) -> list[Finding]:
    """Compare the highest manifold pressure with that of the air outside.

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
    >>> inches_as_kilopascal = np.full(200, 29_000.0)
    >>> print(check_manifold(View(np.arange(200.0), {"manifold_pressure": inches_as_kilopascal,
    ...                                              "pressure_altitude": np.zeros(200)}))[0].what)
    manifold_pressure reaches 0.29 times the pressure of the air outside, 290.0 hPa
    """
    if not view.has("manifold_pressure"):
        return []
    outside = np.asarray(standard_pressure_pa(_altitude(view)))
    share = view.thin("manifold_pressure") / outside
    top = float(np.nanquantile(share, 0.98))
    if 0.5 <= top <= 1.9:
        return []
    reached = float(np.nanquantile(view.thin("manifold_pressure"), 0.98))
    return [Finding("caution", f"manifold_pressure reaches {top:.2f} times the pressure of the air "
                    f"outside, {quantity('pressure', reached)}",
                    "its unit is probably wrong (inHg, hPa and kPa exchanged); power from it is "
                    "wrong", "likely")]


#: All checks of units.
UNIT_CHECKS: tuple[Callable[[View], list[Finding]], ...] = (
    check_airspeed, check_true_airspeed, check_altitude, check_vertical_speed, check_temperature,
    check_fuel, check_manifold)
