"""Worked examples of the validation notebook, one library call a line."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from stdday import airspeed, atmosphere, climb, legs, level, takeoff, wind
from stdday.layout import Table
from stdday.validation_items import FPM, FT, HP, KT, LB, LBF, SLUG_FT3, published

__all__ = ["airspeed_steps", "climb_steps", "gps_steps", "level_steps", "takeoff_steps"]


def _row(step: str, call: str, ours: str, printed: object = "") -> dict[str, str]:
    return {"Step": step, "Library": call, "Ours": ours, "Published": str(printed)}


def _known(name: str) -> tuple[Mapping[str, Any], Mapping[str, Any]]:
    item = published()[name]
    return item.inputs, item.expected


def airspeed_steps() -> Table:
    """Work from two pressures to calibrated airspeed (anderson_4_highspeed).

    Returns
    -------
    Table

    Examples
    --------
    >>> airspeed_steps()["Ours"].iloc[1]
    'Mach 0.8477'
    """
    given, printed = _known("anderson_4_highspeed")
    static, warm = given["static_pressure_Pa"], given["temperature_K"]
    impact = given["pitot_pressure_Pa"] - static
    mach = airspeed.mach_from_impact(impact, static)
    sound = atmosphere.speed_of_sound_ms(warm)
    calibrated = airspeed.calibrated_airspeed_ms(mach * sound, static, warm)
    equivalent = airspeed.equivalent_airspeed_ms(calibrated, static)
    return Table([
        _row("Pitot less static pressure", "", f"{impact:.0f} Pa"),
        _row("Mach number", "airspeed.mach_from_impact", f"Mach {mach:.4f}", printed["mach"]),
        _row("Speed of sound", "atmosphere.speed_of_sound_ms", f"{sound:.2f} m/s"),
        _row("True airspeed", "Mach times speed of sound", f"{mach * sound:.2f} m/s",
             printed["tas_m_s"]),
        _row("Calibrated airspeed", "airspeed.calibrated_airspeed_ms", f"{calibrated:.2f} m/s",
             printed["cas_m_s"]),
        _row("Equivalent airspeed, which is not it", "airspeed.equivalent_airspeed_ms",
             f"{equivalent:.2f} m/s"),
    ])  # fmt: skip


def gps_steps() -> Table:
    """Work from three ground speeds and tracks to the true airspeed (gray1998).

    Returns
    -------
    Table

    Examples
    --------
    >>> gps_steps()["Ours"].iloc[0]
    '130.0 kt'
    """
    given, printed = _known("gray1998")
    speed, track = np.array(given["ground_speed_kt"]), np.radians(given["track_deg"])
    east, north = speed * KT * np.sin(track), speed * KT * np.cos(track)
    true, wind_east, wind_north = legs.solve_legs(east, north)
    blows, strength = wind.wind_from(wind_east, wind_north)
    own = np.degrees(np.arctan2(east - wind_east, north - wind_north)) % 360.0
    condition = legs.condition_of_headings(np.radians(own))
    return Table([
        _row("Radius of the circle through the arrows' tips: true airspeed", "legs.solve_legs",
             f"{true / KT:.1f} kt", printed["true_kt"]),
        _row("Its centre: the wind", "wind.wind_from",
             f"{strength / KT:.1f} kt from {np.degrees(blows):.1f}°",
             f"{printed['wind_kt']} from {printed['wind_from_deg']}"),
        _row("Headings, ground velocity less wind", "", ", ".join(f"{one:.1f}°" for one in own),
             ", ".join(str(printed[f"heading{leg}_deg"]) for leg in (1, 2, 3))),
        _row("Error of the airspeed for a knot of error in each leg", "legs.condition_of_headings",
             f"{condition:.2f}"),
        _row("Mean of the three ground speeds, which is not the airspeed", "",
             f"{speed.mean():.1f} kt"),
    ])  # fmt: skip


def takeoff_steps() -> Table:
    """Work from a measured roll to the standard day (TO-WIND-01, then TO-FP-01).

    Returns
    -------
    Table

    Examples
    --------
    >>> takeoff_steps()["Ours"].tolist()
    ['900.00 ft', '1157.05 ft', '1.2440', '0.7990', '1150.01 ft']
    """
    given, printed = _known("TO-WIND-01")
    then, final = _known("TO-FP-01")
    calm = takeoff.no_wind_ground_roll_m(
        given["ground_roll_measured_ft"] * FT, given["headwind_kt"] * KT,
        given["liftoff_groundspeed_kt"] * KT,
    )  # fmt: skip
    exponents = takeoff.EXPONENT_SETS["fixed pitch"]
    heavier = then["weight_std_lb"] / then["weight_test_lb"]
    denser = then["sigma_std"] / then["sigma_test"]
    weight = takeoff.ground_roll_ratio(heavier, 1.0, 1.0, 1.0, exponents)
    air = takeoff.ground_roll_ratio(1.0, denser, 1.0, 1.0, exponents)
    call = "takeoff.ground_roll_ratio"
    return Table([
        _row("Measured ground roll", "", f"{given['ground_roll_measured_ft']:.2f} ft"),
        _row("Headwind taken out", "takeoff.no_wind_ground_roll_m", f"{calm / FT:.2f} ft",
             printed["ground_roll_nowind_ft"]),
        _row("Weight", call,
             f"{weight:.4f}"),
        _row("Density", call, f"{air:.4f}"),
        _row("Ground roll on the standard day", "", f"{calm * weight * air / FT:.2f} ft",
             final["ground_roll_std_ft"]),
    ])  # fmt: skip


def climb_steps() -> Table:
    """Work from a rate of climb at the test weight to another weight (CLB-WT-01, CLB-WT-02).

    Returns
    -------
    Table

    Examples
    --------
    >>> climb_steps()["Ours"].tolist()
    ['800.00 ft/min', '-66.67 ft/min', '-50.85 ft/min', '682.48 ft/min']
    """
    _, first = _known("CLB-WT-01")
    given, printed = _known("CLB-WT-02")
    rate = 800.0 * FPM
    weights = given["weight_test_lb"] * LBF, given["weight_std_lb"] * LBF
    mass = climb.weight_inertia_change_ms(rate, *weights)
    drag = climb.induced_drag_change_ms(
        *weights, given["sigma"] * given["rho0_slugft3"] * SLUG_FT3, given["tas_kt"] * KT,
        given["span_ft"] * FT, given["oswald_e"],
    )  # fmt: skip
    return Table([
        _row("Rate of climb at the test weight", "", f"{rate / FPM:.2f} ft/min"),
        _row("More to lift", "climb.weight_inertia_change_ms", f"{mass / FPM:.2f} ft/min",
             first["delta_inertia_fpm"]),
        _row("More induced drag", "climb.induced_drag_change_ms", f"{drag / FPM:.2f} ft/min",
             printed["delta_induced_fpm"]),
        _row("Rate of climb at the other weight", "", f"{(rate + mass + drag) / FPM:.2f} ft/min",
             printed["roc_std_fpm_from_800"]),
    ])  # fmt: skip


def level_steps() -> Table:
    """Reduce a level run to standard weight and density, and back (PWR-PIW-01).

    Returns
    -------
    Table

    Examples
    --------
    >>> level_steps()["Ours"].tolist()
    ['128.24 hp', '119.67 kt', '120.00 hp']
    """
    given, printed = _known("PWR-PIW-01")
    day = given["sigma"], given["weight_test_lb"] * LB, given["weight_std_lb"] * LB
    power = level.power_index_w(given["brake_power_hp"] * HP, *day)
    speed = level.airspeed_index_ms(given["tas_kt"] * KT, *day)
    back = level.power_from_index_w(power, *day)
    return Table([
        _row("Power at the standard weight and density (PIW)", "level.power_index_w",
             f"{power / HP:.2f} hp", printed["PIW_hp"]),
        _row("Airspeed that goes with it (VIW)", "level.airspeed_index_ms", f"{speed / KT:.2f} kt",
             printed["VIW_kt"]),
        _row("And back to the flown power", "level.power_from_index_w", f"{back / HP:.2f} hp",
             given["brake_power_hp"]),
    ])  # fmt: skip
