"""Published examples of take-off, climb and landing."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from stdday import atmosphere, climb, climb_curve, engine, landing, level, margins, takeoff, wind
from stdday.validation_items import FPM, FT, HP, KT, LB, LBF, SLUG_FT3, Case

__all__ = ["CLIMB", "LANDING", "TAKEOFF", "WHY"]

Inputs = Mapping[str, Any]
Made = dict[str, Any]

_FIXED = takeoff.EXPONENT_SETS["fixed pitch"]
_GOVERNED = takeoff.EXPONENT_SETS["constant speed"]
#: Jet set, thrust in place of power, for the example that checks the formula itself.
_JET = takeoff.TakeoffExponents(2.3, -1.0, 0.0, -1.3, "FTM-108 (1992), from memory")


# ---- take-off ------------------------------------------------------------------------------------


def _across(given: Inputs) -> Made:
    across = wind.crosswind_ms(
        np.radians(given["wind_dir_deg"]), given["wind_speed_kt"] * KT,
        np.radians(given["runway_dir_deg"]),
    )  # fmt: skip
    return {"crosswind_kt": abs(float(across)) / KT}


def _no_wind(module: Any, ground_speed: str) -> Case:
    def case(given: Inputs) -> Made:
        roll = module.no_wind_ground_roll_m(
            given["ground_roll_measured_ft"] * FT, given["headwind_kt"] * KT,
            given[ground_speed] * KT,
        )  # fmt: skip
        return {"ground_roll_nowind_ft": roll / FT}

    return case


def _wind_ratio(given: Inputs) -> Made:
    headwind, true = given["headwind_kt"] * KT, given["liftoff_tas_kt"] * KT
    calm = takeoff.no_wind_ground_roll_m(300.0, headwind, true - headwind)
    return {"ratio_wind_over_nowind": 300.0 / calm}


def _air(given: Inputs) -> Made:
    distance = takeoff.no_wind_air_distance_m(
        given["air_distance_measured_ft"] * FT, given["headwind_kt"] * KT, given["air_time_s"]
    )
    return {"air_distance_nowind_ft": distance / FT}


def _sloped(function: Callable[..., Any], roll: str, made: str) -> Case:
    def case(given: Inputs) -> Made:
        slope, true = given["slope_upward_fraction"], given["liftoff_tas_kt"] * KT
        return {made: function(given[roll] * FT, slope, true) / FT}

    return case


def _fixed_pitch(given: Inputs) -> Made:
    ratio = takeoff.ground_roll_ratio(
        given["weight_std_lb"] / given["weight_test_lb"], given["sigma_std"] / given["sigma_test"],
        given["rpm_ratio_std_over_test"], 1.0, _FIXED,
    )  # fmt: skip
    return {"ground_roll_std_ft": given["ground_roll_nowind_ft"] * ratio}


def _weight(given: Inputs) -> Made:
    ratio, made = given["weight_ratio"], {}
    for name, exponent in (("2p4", 2.4), ("2p0", 2.0), ("2p6", 2.6)):
        own = dataclasses.replace(_FIXED, weight=exponent)
        made[f"factor_{name}"] = takeoff.ground_roll_ratio(ratio, 1.0, 1.0, 1.0, own)
    return made


def _thinner(given: Inputs) -> Made:
    sigma = given["sigma_1000ft_isa"]
    return {
        "factor_m2p4": takeoff.ground_roll_ratio(1.0, sigma, 1.0, 1.0, _FIXED),
        "factor_m1p9": takeoff.ground_roll_ratio(1.0, sigma, 1.0, 1.0, _GOVERNED),
    }


def _similar(given: Inputs) -> Made:
    names = "weight_scale", "sigma_scale", "rpm_scale", "power_or_thrust_scale"
    weight, density, speed, power = (given[name] for name in names)
    ratio = takeoff.ground_roll_ratio(weight, density, speed, power, _FIXED)
    return {"distance_ratio": ratio}


def _jet(given: Inputs) -> Made:
    ratio = takeoff.ground_roll_ratio(
        given["weight_ratio_std_over_test"], given["sigma_ratio"], 1.0, given["thrust_ratio"], _JET
    )
    return {"ground_factor": ratio}


def _public(_: Inputs) -> Made:
    """Our exponents and laws for the factors of thumb, from the standard day at sea level."""
    ours = _by_exponents(0.10, 1000.0, 10.0)
    level_m, true = 1000.0 * FT, 55.0 * KT
    steeper = takeoff.sloped_runway_ground_roll_m(level_m, 0.02, true) / level_m
    return {
        "weight_plus_10pct": ours[0], "elevation_plus_1000ft": ours[1],
        "ambient_temp_plus_10C": ours[2], "uphill_slope_2pct": steeper,
    }  # fmt: skip


def _public_total(given: Inputs) -> Made:
    names = "weight_more", "elevation_more_ft", "temperature_more_k"
    factors = _by_exponents(*(given[name] for name in names))
    return {"total_factor": margins.SAFETY_FACTOR * float(np.prod(factors))}


def _by_exponents(weight: float, higher_ft: float, warmer_k: float) -> tuple[float, float, float]:
    """Ground-roll factors of a constant-speed propeller, each change by itself."""
    heavier = takeoff.ground_roll_ratio(1.0 + weight, 1.0, 1.0, 1.0, _GOVERNED)
    return float(heavier), _air_and_power(higher_ft, 0.0), _air_and_power(0.0, warmer_k)


def _air_and_power(higher_ft: float, warmer_k: float) -> float:
    pressure = atmosphere.standard_pressure_pa(higher_ft * FT)
    warm = float(atmosphere.standard_temperature_k(higher_ft * FT)) + warmer_k
    thinner = float(atmosphere.density_kg_m3(pressure, warm)) / atmosphere.SEA_LEVEL_DENSITY_KG_M3
    power = engine.full_throttle_ratio(pressure, warm)
    return float(takeoff.ground_roll_ratio(1.0, thinner, 1.0, power, _GOVERNED))


def _liftoff(given: Inputs) -> Made:
    speed = takeoff.liftoff_airspeed_ms(
        given["mass_kg"] * given["g_m_s2"], given["rho_kg_m3"], given["wing_area_m2"],
        given["clmax"], given["liftoff_factor"],
    )  # fmt: skip
    return {"liftoff_speed_m_s": speed}


def _average_force(given: Inputs) -> Made:
    area, span, density = given["wing_area_m2"], given["span_m"], given["rho_kg_m3"]
    speed = 0.7 * given["liftoff_speed_m_s"]
    phi = takeoff.ground_effect_factor(given["wing_height_m"], span)
    force = 0.5 * density * speed**2 * area
    lift = force * given["cl_ground"]
    e = area / (np.pi * span**2 * given["k_induced"])
    drag = force * given["cd0"] + phi * climb.induced_drag_n(lift, density, speed, span, e)
    run = takeoff.ground_run_average_force_m(
        given["liftoff_speed_m_s"], given["mass_kg"], given["thrust_total_N"], drag, lift,
        given["mu_rolling"],
    )  # fmt: skip
    return {"ground_effect_phi": phi, "lift_at_0p7vlo_N": lift, "drag_at_0p7vlo_N": drag,
            "ground_run_m": run}  # fmt: skip


def _steady_push(given: Inputs) -> Made:
    run = given["acceleration_m_s2"], 0.0, given["liftoff_speed_km_h"] / 3.6
    return {
        "time_s": takeoff.ground_run_time_s(*run),
        "ground_run_m": takeoff.ground_run_quadratic_m(*run),
    }


#: Examples of take-off corrections, by id.
TAKEOFF: dict[str, Case] = {
    "TXB-WND-02": _across,
    "TO-WIND-01": _no_wind(takeoff, "liftoff_groundspeed_kt"),
    "TO-WIND-02": _wind_ratio,
    "TO-WIND-03": _wind_ratio,
    "TO-AIR-01": _air,
    "TO-SLOPE-01": _sloped(
        takeoff.level_runway_ground_roll_m, "ground_roll_ft", "ground_roll_level_ft"
    ),
    "TO-SLOPE-02": _sloped(
        takeoff.sloped_runway_ground_roll_m, "ground_roll_level_ft", "ground_roll_upslope_ft"
    ),
    "TO-FP-01": _fixed_pitch,
    "TO-SENS-01": _weight,
    "TO-SENS-02": _thinner,
    "PROP-SIM-01": _similar,
    "TO-JET-REF": _jet,
    "TO-UK-01": _public,
    "TO-UK-02": _public_total,
    "TXB-TO-01": _liftoff,
    "TXB-TO-02": _average_force,
    "TXB-TO-03": _steady_push,
}


# ---- climb ---------------------------------------------------------------------------------------


def _tapeline(given: Inputs) -> Made:
    altitude = given["pressure_altitude_ft"] * FT
    warm = float(atmosphere.standard_temperature_k(altitude)) + given["oat_minus_isa_K"]
    rate = climb.tapeline_rate_ms(given["dHp_dt_fpm"] * FPM, warm, altitude)
    return {"tapeline_rate_fpm": rate / FPM}


def _accelerating(given: Inputs) -> Made:
    altitude = given["pressure_altitude_ft"] * FT
    thinner = atmosphere.standard_density_kg_m3(altitude) / atmosphere.SEA_LEVEL_DENSITY_KG_M3
    factor = climb.equivalent_acceleration_factor(given["eas_kt"] * KT, altitude)
    return {"acceleration_factor": factor, "tas_kt": given["eas_kt"] / np.sqrt(thinner)}


def _faster_with_height(given: Inputs) -> Made:
    rate = 4.0
    growth = given["dTAS_dh_kt_per_1000ft"] * KT / (1000.0 * FT) * rate
    energy = climb.energy_rate_ms(rate, given["tas_kt"] * KT, growth)
    return {"V_over_g_dVdh": energy / rate - 1.0}


def _gradient_of_wind(given: Inputs) -> Made:
    rate = 4.0
    growth = given["headwind_increase_kt_per_1000ft"] * KT / (1000.0 * FT) * rate
    return {"fraction_of_roc": climb.wind_gradient_rate_ms(given["tas_kt"] * KT, growth) / rate}


def _excess(given: Inputs) -> Made:
    rate = climb.energy_rate_ms(
        given["dh_dt_fpm"] * FPM, given["tas_kt"] * KT, given["dV_dt_kt_per_s"] * KT
    )
    return {"Ps_fpm": rate / FPM}


def _inertia(rate_fpm: float, given: Inputs) -> float:
    weights = given["weight_test_lb"] * LBF, given["weight_std_lb"] * LBF
    return float(climb.weight_inertia_change_ms(rate_fpm * FPM, *weights)) / FPM


def _induced(given: Inputs) -> Made:
    change = climb.induced_drag_change_ms(
        given["weight_test_lb"] * LBF, given["weight_std_lb"] * LBF,
        given["sigma"] * given["rho0_slugft3"] * SLUG_FT3,
        given["tas_kt"] * given["tas_to_ftps"] * FT, given["span_ft"] * FT, given["oswald_e"],
    ) / FPM  # fmt: skip
    rate = 800.0 + _inertia(800.0, given) + change
    return {"delta_induced_fpm": change, "roc_std_fpm_from_800": rate}


def _more_power(given: Inputs) -> Made:
    change = climb.power_change_ms(given["delta_thrust_hp"] * HP, given["weight_lb"] * LBF)
    return {"delta_roc_fpm": change / FPM}


def _index(given: Inputs) -> Made:
    day = given["sigma"], given["weight_test_lb"] * LB, given["weight_std_lb"] * LB
    rate = climb.climb_index_ms(given["roc_tapeline_fpm"] * FPM, *day)
    return {"CIW_fpm": rate / FPM,
            "VIW_kt": level.airspeed_index_ms(given["tas_kt"] * KT, *day) / KT}  # fmt: skip


def _hot_day(given: Inputs) -> Made:
    altitude = given["pressure_altitude_ft"] * FT
    warm = float(atmosphere.standard_temperature_k(altitude)) + given["oat_minus_isa_K"]
    density = atmosphere.density_kg_m3(atmosphere.standard_pressure_pa(altitude), warm)
    return {
        "sigma": density / atmosphere.SEA_LEVEL_DENSITY_KG_M3,
        "density_altitude_ft": atmosphere.density_altitude_m(density) / FT,
    }


def _more_thrust(given: Inputs) -> Made:
    excess = given["added_thrust_N"] * given["tas_m_s"]
    change = climb.power_change_ms(excess, given["weight_N"])
    return {"roc_after_m_min": given["roc_before_m_min"] + 60.0 * change}


def _sawtooth(given: Inputs) -> Made:
    a2, a1, a0 = np.polyfit(given["eas_kt"], given["roc_fpm"], 2)
    speeds = climb_curve.climb_speeds_of_parabola(a0 * FPM, a1 * FPM / KT, a2 * FPM / KT**2)
    best, steepest = speeds.best_rate_ms / KT, speeds.best_angle_ms / KT
    return {
        "a2": a2, "a1": a1, "a0": a0, "Vy_kt": best, "Vx_kt": steepest,
        "roc_at_Vy_fpm": np.polyval([a2, a1, a0], best),
        "roc_at_Vx_fpm": np.polyval([a2, a1, a0], steepest),
    }  # fmt: skip


def _ceilings(given: Inputs) -> Made:
    slope, intercept = np.polyfit(given["density_altitude_ft"], given["roc_fpm"], 1)
    law = intercept * FPM, slope * FPM / FT
    return {
        "slope_fpm_per_ft": slope,
        "intercept_fpm": intercept,
        "absolute_ceiling_ft": climb_curve.altitude_of_rate_m(*law, 0.0) / FT,
        "service_ceiling_100fpm_ft": climb_curve.altitude_of_rate_m(*law, 100.0 * FPM) / FT,
    }


def _time(rate_ms: float, ceiling_m: float, altitude_m: float) -> Made:
    time = climb_curve.time_to_climb_s(rate_ms, -rate_ms / ceiling_m, 0.0, altitude_m)
    return {"time_min": time / 60.0}


def _time_feet(given: Inputs) -> Made:
    rate = given["roc_sea_level_fpm"] * FPM
    return _time(rate, given["absolute_ceiling_ft"] * FT, given["altitude_ft"] * FT)


def _time_metres(given: Inputs) -> Made:
    rate = given["roc_sl_m_min"] / 60.0
    return _time(rate, given["absolute_ceiling_m"], given["target_altitude_m"])


def _time_of_fit(given: Inputs) -> Made:
    time = climb_curve.time_to_climb_s(
        given["roc_intercept_ft_s"] * FT, given["roc_slope_per_s"], 0.0,
        given["target_altitude_ft"] * FT,
    )  # fmt: skip
    return {"time_s": time, "time_min": time / 60.0}


def _rate_and_angle(given: Inputs) -> Made:
    rate = climb.power_change_ms(
        given["excess_power_hp"] * given["hp_in_W"], given["weight_lb"] * LBF
    )
    gradient = climb_curve.climb_gradient(rate, given["tas_kt"] * given["kt_in_m_s"])
    return {"roc_m_s": rate, "climb_angle_deg": np.degrees(np.arctan(gradient))}


#: Examples of climb corrections, best speeds, ceilings and times, by id.
CLIMB: dict[str, Case] = {
    "CLB-TAPE-01": _tapeline,
    "CLB-KE-80-5000": _accelerating,
    "CLB-KE-120-10000": _accelerating,
    "CLB-KE-160-8000": _accelerating,
    "CLB-ACC-01": _faster_with_height,
    "CLB-WIND-01": _gradient_of_wind,
    "CLB-PS-01": _excess,
    "CLB-WT-01": lambda given: {"delta_inertia_fpm": _inertia(given["roc_test_fpm"], given)},
    "CLB-WT-02": _induced,
    "CLB-PWR-01": _more_power,
    "CLB-CIW-01": _index,
    "CLB-DA-01": _hot_day,
    "TXB-CLB-03": _more_thrust,
    "CLB-SAW-01": _sawtooth,
    "CLB-CEIL-01": _ceilings,
    "CLB-TIME-01": _time_feet,
    "TXB-CLB-01": _time_metres,
    "TXB-CLB-02": _time_of_fit,
    "TXB-CLB-04": _rate_and_angle,
}


# ---- landing -------------------------------------------------------------------------------------


def _braked(given: Inputs) -> Made:
    pressure = 0.5 * given["rho_slug_ft3"] * given["speed_0p7vtd_fps"] ** 2
    share = given["cl_roll"] * pressure / given["wing_loading_lb_ft2"]
    slowing = landing.braked_deceleration_ms2(given["brake_mu"], given["cd_over_cl"], share)
    return {"dynamic_pressure_psf": pressure, "deceleration_ft_s2": -slowing / FT}


def _stopped(given: Inputs) -> Made:
    before = given["mean_speed_50ft_to_brake_fps"] * given["time_to_brake_s"]
    stop = landing.stopping_distance_m(
        given["touchdown_speed_fps"] * FT, given["deceleration_ft_s2"] * FT
    ) / FT  # fmt: skip
    return {"distance_before_brakes_ft": before, "braking_distance_ft": stop,
            "landing_distance_ft": before + stop}  # fmt: skip


def _handbook(given: Inputs) -> float:
    step = given["reduction_per_4kt"], 4.0 * KT
    return float(landing.handbook_headwind_factor(given["headwind_kt"] * KT, *step))


def _noted(given: Inputs) -> Made:
    return {"landing_distance_ft": _handbook(given) * given["table_distance_ft"]}


def _between(given: Inputs) -> Made:
    rolls = given["ground_roll_sl_ft"], given["ground_roll_2500ft_ft"]
    middle = float(np.interp(given["pressure_altitude_ft"], [0.0, 2500.0], rolls))
    return {"ground_roll_interpolated_ft": middle, "ground_roll_ft": _handbook(given) * middle}


#: Examples of landing corrections, by id.
LANDING: dict[str, Case] = {
    "LDG-01": lambda given: {"ground_roll_factor": landing.ground_roll_ratio(
        given["weight_ratio"], given["sigma_ratio"], 2.0)},
    "LDG-02": lambda given: {"ground_roll_factor": landing.ground_roll_ratio(
        1.0, given["sigma_1000ft_isa"] / given["sigma_std"], 1.0)},
    "LDG-03": _no_wind(landing, "touchdown_groundspeed_kt"),
    "TXB-LDG-01": _braked,
    "TXB-LDG-02": _stopped,
    "TXB-LDG-03": _noted,
    "TXB-LDG-04": _noted,
    "TXB-LDG-05": _between,
}  # fmt: skip

#: Why ours is another figure, by id; for several examples at once, ids parted by spaces.
WHY: dict[str, str] = {
    "TO-AIR-01 TO-SLOPE-01 CLB-KE-160-8000 TO-SENS-02": (
        "Made with constants rounded to six figures (feet per second in a knot, acceleration "
        "of free fall, density ratio); the difference is theirs."
    ),
    "TO-UK-01 TO-UK-02": (
        "Factors of thumb for the distance to 50 ft are round numbers that must suit all "
        "airplanes; ours are for the ground roll of a constant-speed propeller at full "
        "throttle (for the slope: 1000 ft of roll, lift-off at 55 kt). Weight and slope count "
        "more by the law, thin air and heat less; that the product lies so near is chance. No "
        "exact law can equal round factors, so they are shown beside the library's and never "
        "used."
    ),
    "TXB-TO-02": "The source carries rounded figures from line to line.",
    "TXB-CLB-03": (
        "The source lets lift be the weight times the cosine of the climb angle. The library "
        "takes lift as weight, which is 2 m/min of 500 even for this jet, and nothing for a "
        "light airplane."
    ),
    "TXB-LDG-01": "The source rounds the bracket to four figures before it multiplies.",
}
