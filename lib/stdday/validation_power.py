"""Published examples of level flight, engine power, range and propeller."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from scipy import optimize

from stdday import atmosphere, engine, level, propeller, range_fuel, takeoff
from stdday.units import to_si
from stdday.validation_items import (
    FT,
    GALLON,
    HP,
    INCH,
    KT,
    LB,
    LB_HP_H,
    LBF,
    MPH,
    NMI,
    SLUG_FT3,
    Case,
)

__all__ = ["LEVEL", "PROPELLER", "RANGE", "WHY"]

Inputs = Mapping[str, Any]
Made = dict[str, Any]
#: Any curve will do for ratios of one parabolic polar: cubic and inverse coefficient.
_ANY = 0.25, 4e5


# ---- level flight and engine ---------------------------------------------------------------------


def _reduced(given: Inputs) -> Made:
    day = given["sigma"], given["weight_test_lb"] * LB, given["weight_std_lb"] * LB
    return {
        "PIW_hp": level.power_index_w(given["brake_power_hp"] * HP, *day) / HP,
        "VIW_kt": level.airspeed_index_ms(given["tas_kt"] * KT, *day) / KT,
    }


def _airframe(given: Inputs) -> tuple[float, float, float, float, float]:
    return (given["rho0_slugft3"] * SLUG_FT3, given["wing_area_ft2"] * FT**2, given["span_ft"] * FT,
            given["weight_lb"] * LBF, 1.0)  # fmt: skip


def _fitted(given: Inputs) -> Made:
    speed, power = (np.array(given[key]) for key in ("eas_kt", "thrust_power_required_hp"))
    slope, intercept = np.polyfit(speed**4, power * speed, 1)
    knot = given["kt_to_ftps"] * FT
    cubic, inverse = slope * HP / knot**3, intercept * HP * knot
    cd0, e = level.drag_polar_from_power(cubic, inverse, *_airframe(given))
    return {"slope_hp_per_kt3": slope, "intercept_hp_kt": intercept, "CD0": cd0,
            "oswald_e": e}  # fmt: skip


def _named_speeds(given: Inputs) -> Made:
    curve = level.power_curve_from_polar(given["CD0"], given["oswald_e"], *_airframe(given))
    speeds = level.characteristic_speeds(*curve)
    named = {"min_drag": speeds.minimum_drag_ms, "min_power": speeds.minimum_power_ms,
             "carson": speeds.carson_ms}  # fmt: skip
    powers = {name: level.power_required_w(speed, *curve) for name, speed in named.items()}
    glide = given["weight_lb"] * LBF * named["min_drag"] / powers["min_drag"]
    return {
        **{f"V_{name}_kt": speed / KT for name, speed in named.items()},
        **{f"thp_{name}": power / HP for name, power in powers.items()},
        "max_L_over_D": glide,
    }


def _exponent(ratio: Any) -> Any:
    least = level.characteristic_speeds(*_ANY).minimum_drag_ms
    return level.power_exponent(np.array(ratio) * least, *_ANY)


def _cube(given: Inputs) -> Made:
    slow, fast = (level.airspeed_for_power_ms(1e6 * more, 1.0, 1.0)
                  for more in (1.0, given["power_ratio"]))  # fmt: skip
    return {"speed_ratio": fast / slow}


def _polar(given: Inputs, density: str = "rho_slug_ft3", efficiency: float = 1.0) -> Any:
    area = given["wing_area_ft2"] * FT**2
    span = np.sqrt(given["aspect_ratio"] * area)
    return level.power_curve_from_polar(
        given["cd0"], given["oswald_e"], given[density] * SLUG_FT3, area, span,
        given["weight_lb"] * LBF, efficiency,
    )  # fmt: skip


def _power_at(given: Inputs) -> Made:
    return {"power_required_hp": level.power_required_w(given["tas_fps"] * FT, *_polar(given)) / HP}


def _fastest(given: Inputs) -> Made:
    thinner = given["rho_slug_ft3"] / given.get("rho0_slug_ft3", given["rho_slug_ft3"])
    power = given.get("engine_power_hp", given.get("engine_power_sl_hp")) * HP * thinner
    curve = _polar(given, efficiency=given["prop_efficiency"])
    return {"vmax_mph": level.airspeed_for_power_ms(power, *curve) / MPH}


def _power_high(given: Inputs) -> Made:
    thinner = given["rho_slug_ft3"] / given["rho0_slug_ft3"]
    true = given["sea_level_tas_fps"] * FT / np.sqrt(thinner)
    return {"power_required_hp": level.power_required_w(true, *_polar(given)) / HP}


def _best_ratios(curve: Any, density: float, area: float, weight: float) -> tuple[Any, Any]:
    """Greatest CL/CD and CL^1.5/CD, from least drag and least power."""
    speeds = level.characteristic_speeds(*curve)
    drag = level.power_required_w(speeds.minimum_drag_ms, *curve) / speeds.minimum_drag_ms
    power = level.power_required_w(speeds.minimum_power_ms, *curve)
    return weight / drag, weight * np.sqrt(2.0 * weight / (density * area)) / power


def _best_of_polar(given: Inputs) -> Made:
    density, area, span, weight = 1.2, 12.0, 10.0, 6000.0    # they drop out
    e = area / (np.pi * span**2 * given["k_induced"])
    curve = level.power_curve_from_polar(given["cd0"], e, density, area, span, weight, 1.0)
    glide, sink = _best_ratios(curve, density, area, weight)
    return {"l_over_d_max": glide, "cl3_over_cd2_max": sink**2}


def _least_power(given: Inputs) -> Made:
    span = given["span_ft"] * FT
    e = 1.0 / (np.pi * given["aspect_ratio"] * given["k_induced"])
    curve = level.power_curve_from_polar(
        given["cd0"], e, given["rho_slug_ft3"] * SLUG_FT3, span**2 / given["aspect_ratio"], span,
        given["weight_lb"] * LBF, 1.0,
    )  # fmt: skip
    slowest = level.characteristic_speeds(*curve).minimum_power_ms
    power = level.power_required_w(slowest, *curve)
    return {"speed_min_power_fps": slowest / FT, "power_required_min_hp": power / HP,
            "power_required_min_ftlb_s": power / (FT * LBF)}  # fmt: skip


def _light_single(given: Inputs) -> Made:
    density, area, weight = 1.225, given["wing_area_m2"], 13000.0    # density, weight drop out
    polar = given["cd0"], given["oswald_e"], density, area, given["span_m"], weight, 1.0
    glide, sink = _best_ratios(level.power_curve_from_polar(*polar), density, area, weight)
    return {"cl_over_cd_max": glide, "cl15_over_cd_max": sink}


def _quartic(given: Inputs) -> Made:
    names = "cd0", "oswald_e", "rho_kg_m3", "wing_area_m2", "span_m", "weight_N", "prop_efficiency"
    curve = level.power_curve_from_polar(*(given[name] for name in names))
    power = given["engine_power_hp"] * given["hp_in_W"]
    return {"vmax_m_s": level.airspeed_for_power_ms(power, *curve)}


def _thrust_limited(given: Inputs) -> Made:
    density, area, weight = given["rho_kg_m3"], given["wing_area_m2"], given["weight_N"]
    span = np.sqrt(given["aspect_ratio"] * area)
    curve = level.power_curve_from_polar(
        given["cd0"], given["oswald_e"], density, area, span, weight, 1.0
    )
    fastest = optimize.brentq(
        lambda v: float(level.power_required_w(v, *curve)) / v - given["thrust_N"], 150.0, 299.0
    )
    stall = takeoff.liftoff_airspeed_ms(weight, density, area, given["clmax"], 1.0)
    return {"vmax_km_h": 3.6 * fastest, "vmin_km_h": 3.6 * stall}


def _lapse(altitude_ft: Any, warmer_k: float = 0.0) -> Any:
    altitude = np.asarray(altitude_ft) * FT
    warm = atmosphere.standard_temperature_k(altitude) + warmer_k
    return engine.full_throttle_ratio(atmosphere.standard_pressure_pa(altitude), warm)


def _warm_engine(given: Inputs) -> Made:
    altitude = given["pressure_altitude_ft"]
    factor = _lapse(altitude, given["oat_minus_isa_K"]) / _lapse(altitude)
    return {"actual_power_hp": given["chart_power_hp"] * factor}


def _burnt(given: Inputs) -> Made:
    density = given["fuel_lb_per_gal"] * LB / GALLON
    of_one = engine.power_from_fuel_flow_w(
        GALLON / 3600.0, density, given["sfc_lb_per_hp_h"] * LB_HP_H
    )
    gallons = given["fraction"] * given["rated_hp"] * HP / of_one
    return {"fuel_gal_per_h": gallons, "fuel_lb_per_h": gallons * given["fuel_lb_per_gal"]}


#: Examples of level flight and of engine power, by id.
LEVEL: dict[str, Case] = {
    "PWR-PIW-01": _reduced,
    "PWR-FIT-01": _fitted,
    "PWR-SPD-01": _named_speeds,
    "PWR-CUBE-01": _cube,
    "PWR-EXP-01": lambda given: {"exponent": _exponent(given["V_over_V_md"])},
    "PRP-SPD-01": lambda given: {
        "speed_ratio": given["eta_ratio"] ** (1.0 / _exponent(given["V_over_V_md"]))
    },
    "TXB-PWR-01": _power_at,
    "TXB-PWR-02": _fastest,
    "TXB-PWR-03": _power_high,
    "TXB-PWR-04": _fastest,
    "TXB-PWR-05": _best_of_polar,
    "TXB-PWR-06": _least_power,
    "TXB-PWR-07": _light_single,
    "TXB-PWR-08": _quartic,
    "TXB-PWR-10": _thrust_limited,
    "PWR-GAGG-01": lambda given: {"power_ratio": _lapse(given["altitude_ft"])},
    "PWR-TEMP-01": _warm_engine,
    "PWR-SFC-01": _burnt,
}


# ---- range ---------------------------------------------------------------------------------------


def _carson(_: Inputs) -> Made:
    speeds = level.characteristic_speeds(*_ANY)
    least, fast, slow = speeds.minimum_drag_ms, speeds.carson_ms, speeds.minimum_power_ms
    at_least, at_fast, at_slow = (level.power_required_w(v, *_ANY) for v in (least, fast, slow))
    return {
        "V_carson_over_V_md": fast / least,
        "D_carson_over_D_min": (at_fast / fast) / (at_least / least),
        "V_mp_over_V_md": slow / least,
        "P_mp_over_P_md": at_slow / at_least,
    }


def _breguet(given: Inputs) -> Made:
    weights = given["weight_start_lb"] * LB, given["weight_end_lb"] * LB
    metres = range_fuel.breguet_range_m(
        given["eta"], given["sfc_lb_per_hp_h"] * LB_HP_H, given["L_over_D"], *weights
    )
    share = given["eta"] / given["sfc_lb_per_hp_h"] * given["L_over_D"]
    constant = metres / NMI / (share * np.log(weights[0] / weights[1]))
    return {"range_nm": metres / NMI, "constant_nm": constant}


def _specific(given: Inputs) -> Made:
    flow = given["fuel_gal_per_h"] * GALLON / 3600.0
    found = range_fuel.specific_range_m_m3(given["tas_kt"] * KT, flow)
    return {"nm_per_gal": found * GALLON / NMI}


def _transport(given: Inputs) -> Made:
    return {"speed_min_d_over_v_mph": level.characteristic_speeds(*_polar(given)).carson_ms / MPH}


#: Examples of range and of the best speeds for it, by id.
RANGE: dict[str, Case] = {
    "PWR-RANGE-01": _breguet,
    "PWR-SR-01": _specific,
    "PWR-CARSON-01": _carson,
    "TXB-PWR-09": _transport,
}


# ---- propeller -----------------------------------------------------------------------------------


def _turning(given: Inputs) -> tuple[float, float, float]:
    return given["rho_slugft3"] * SLUG_FT3, given["rpm"] / 60.0, given["diameter_in"] * INCH


def _coefficients(given: Inputs) -> Made:
    air = _turning(given)
    power, true = given["power_hp"] * HP, given["tas_kt"] * given["kt_to_ftps"] * FT
    return {
        "J": propeller.advance_ratio(true, *air[1:]),
        "CP": propeller.power_coefficient(power, *air),
        "CT": propeller.thrust_coefficient(given["efficiency"] * power / true, *air),
        "CQ": propeller.torque_coefficient(power / (2.0 * np.pi * air[1]), *air),
    }


def _speed_power(given: Inputs) -> Made:
    density, speed, _ = _turning(given)
    power, true = given["power_hp"] * HP, given["tas_kt"] * KT
    return {"Cs": propeller.speed_power_coefficient(true, power, density, speed)}


def _tips(given: Inputs) -> Made:
    sound = given["speed_of_sound_ftps"] * FT
    warm = sound**2 / (atmosphere.HEAT_CAPACITY_RATIO * atmosphere.GAS_CONSTANT_J_KG_K)
    speed, diameter = given["rpm"] / 60.0, given["diameter_in"] * INCH
    return {
        "static_tip_mach": propeller.tip_mach(0.0, speed, diameter, warm),
        "helical_tip_mach": propeller.tip_mach(given["tas_kt"] * KT, speed, diameter, warm),
    }


def _tips_mph(given: Inputs) -> Made:
    warm = float(to_si(given["temperature_F"], "degF", "temperature"))
    speed, diameter = given["rotation_rpm"] / 60.0, given["diameter_in"] * INCH
    mach = propeller.tip_mach(0.0, speed, diameter, warm)
    return {"tip_mach": mach, "tip_speed_mph": mach * atmosphere.speed_of_sound_ms(warm) / MPH}


def _activity(given: Inputs) -> Made:
    chord = [given["chord_over_diameter"]] * 2
    factors = [propeller.activity_factor([root, 1.0], chord) for root in given["root_x"]]
    return {"activity_factor": factors}


def _static(given: Inputs) -> Made:
    thrust = propeller.ideal_static_thrust_n(
        given["power_hp"] * HP, given["rho_slugft3"] * SLUG_FT3, given["diameter_in"] * INCH
    )
    return {"thrust_lbf": thrust / LBF}


def _in_flight(given: Inputs) -> Made:
    power, true = given["power_hp"] * HP, np.array(given["tas_kt"]) * KT
    air = given["rho_slugft3"] * SLUG_FT3, given["diameter_in"] * INCH
    bound = propeller.ideal_efficiency(true, power, *air)
    return {"ideal_efficiency": bound, "thrust_lbf": bound * power / true / LBF}


def _disk(given: Inputs) -> Made:
    density, diameter = given["rho_slug_ft3"] * SLUG_FT3, given["diameter_ft"] * FT
    true, area = given["airspeed_mph"] * MPH, np.pi / 4.0 * diameter**2
    through = given["volume_flow_ft3_s"] * FT**3 / area
    power = density * through * area * 2.0 * (through - true) * through
    bound = propeller.ideal_efficiency(true, power, density, diameter)
    thrust = bound * power / true
    return {"thrust_lb": thrust / LBF, "ideal_efficiency_percent": 100.0 * bound,
            "pressure_jump_psf": thrust / area / (LBF / FT**2)}  # fmt: skip


def _measured(given: Inputs) -> Made:
    eta = np.asarray(propeller.propeller_efficiency(given["J"], given["CT"], given["CP"]))
    peak = int(np.argmax(eta))
    return {"eta": eta, "peak_eta": eta[peak], "J_at_peak": given["J"][peak]}


def _merit(given: Inputs) -> Made:
    air, speed, diameter = 1.225, 50.0, 0.3    # they drop out
    power = given["CP"] * air * speed**3 * diameter**5
    thrust = given["CT"] * air * speed**2 * diameter**4
    ideal = propeller.ideal_static_thrust_n(power, air, diameter)
    return {"figure_of_merit": (thrust / ideal) ** 1.5}


#: Examples of propeller coefficients, momentum bounds and measured tables, by id.
PROPELLER: dict[str, Case] = {
    "PRP-01": _coefficients,
    "PRP-02": _speed_power,
    "PRP-03": _tips,
    "TXB-PRP-03": _tips_mph,
    "PRP-04": _activity,
    "PRP-05": _static,
    "PRP-06": _in_flight,
    "TXB-PRP-02": _disk,
    "PRP-UIUC-01": _measured,
    "PRP-UIUC-03": _merit,
}

#: Why ours is another figure, by id; for several examples at once, ids parted by spaces.
WHY: dict[str, str] = {
    "PWR-FIT-01": (
        "A fit to fourth powers of the speed, from power values printed to ten figures: the "
        "last digits hang on the rounded constants that made the example."
    ),
    "TXB-PWR-01": (
        "0.14 % above the print. The book's working was not seen; a thrust rounded to a whole "
        "pound explains it, but that is a guess."
    ),
    "TXB-PWR-04 TXB-PWR-07 TXB-PWR-09": (
        "Read in the book from plotted curves; ours is the closed form."
    ),
    "TXB-PWR-06": "The source multiplies a rounded 242.95.",
    "PRP-UIUC-01": (
        "Efficiency is remade from coefficients and advance ratios that are printed rounded, "
        "most of all the advance ratio; the printed one came from unrounded measurements."
    ),
}
