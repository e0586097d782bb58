"""Published examples of the atmosphere, airspeed, its static error, and true airspeed from GPS."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from stdday import airspeed, atmosphere, legs, wind
from stdday.units import to_si
from stdday.validation_items import FT, INHG, KT, LBF, MPH, SLUG_FT3, Case

__all__ = ["AIRSPEED", "ATMOSPHERE", "GPS", "POSITION", "WHY", "flown_over_ground"]

Inputs = Mapping[str, Any]
Made = dict[str, Any]


# ---- atmosphere ----------------------------------------------------------------------------------


def _state(altitude_m: float) -> Made:
    temperature = atmosphere.standard_temperature_k(altitude_m)
    return {
        "temperature_K": temperature,
        "pressure_Pa": atmosphere.standard_pressure_pa(altitude_m),
        "density_kg_m3": atmosphere.standard_density_kg_m3(altitude_m),
        "speed_of_sound_m_s": atmosphere.speed_of_sound_ms(temperature),
    }


def _geometric(given: Inputs) -> Made:
    return _state(float(atmosphere.geopotential_m(given["geometric_altitude_m"])))


def _ratios(given: Inputs) -> Made:
    state = _state(given["pressure_altitude_ft"] * FT)
    sigma = state["density_kg_m3"] / atmosphere.SEA_LEVEL_DENSITY_KG_M3
    celsius = state["temperature_K"] - to_si(0.0, "degC", "temperature")
    return {
        "sigma": sigma,
        "sqrt_sigma": sigma**0.5,
        "delta": state["pressure_Pa"] / atmosphere.SEA_LEVEL_PRESSURE_PA,
        "temperature_F": celsius * 1.8 + 32.0,
        "temperature_C": celsius,
    }


def _pressure(*names: str) -> Case:
    scales = {"pressure_Pa": 1.0, "pressure_hPa": 100.0, "pressure_inHg": INHG}

    def case(given: Inputs) -> Made:
        pressure = atmosphere.standard_pressure_pa(given["pressure_altitude_ft"] * FT)
        return {name: pressure / scales[name] for name in names}

    return case


def _english(given: Inputs) -> Made:
    state = _state(given["pressure_altitude_ft"] * FT)
    return {
        "pressure_psf": state["pressure_Pa"] / (LBF / FT**2),
        "density_slug_ft3": state["density_kg_m3"] / SLUG_FT3,
        "speed_of_sound_ft_s": state["speed_of_sound_m_s"] / FT,
    }


def _constants(_: Inputs) -> Made:
    low, high = _state(0.0), _state(5000.0)
    warmth, pressure = (high[key] / low[key] for key in ("temperature_K", "pressure_Pa"))
    sound = low["speed_of_sound_m_s"] / KT
    return {
        "lapse_over_T0_per_ft": (1.0 - warmth) / (5000.0 / FT),
        "exponent": np.log(pressure) / np.log(warmth),
        "a0_kt": sound,
        "a_kt_coefficient_sqrtK": sound / low["temperature_K"] ** 0.5,
        "P0_inHg": low["pressure_Pa"] / INHG,
        "delta_tropopause": _state(11_000.0)["pressure_Pa"] / low["pressure_Pa"],
        "tropopause_ft": atmosphere.TROPOPAUSE_M / FT,
    }


def _at_field(elevation_ft: float, setting_pa: float) -> float:
    return float(atmosphere.pressure_altitude_at_field_m(elevation_ft * FT, setting_pa)) / FT


def _setting(given: Inputs) -> Made:
    return {"add_to_elevation_ft": _at_field(0.0, given["altimeter_setting_inHg"] * INHG)}


def _field(given: Inputs) -> Made:
    setting = given["altimeter_setting_inHg"] * INHG
    return {"pressure_altitude_ft": _at_field(given["elevation_ft"], setting)}


def _field_hpa(given: Inputs) -> Made:
    field = _at_field(given["elevation_ft"], given["qnh_hPa"] * 100.0)
    return {"pressure_altitude_ft": field}


def _density_altitude(altitude_ft: float, temperature_k: float) -> float:
    density = atmosphere.density_kg_m3(
        atmosphere.standard_pressure_pa(altitude_ft * FT), temperature_k
    )
    return float(atmosphere.density_altitude_m(density)) / FT


def _kelvin(value: float, unit: str) -> float:
    return float(to_si(value, unit, "temperature"))


def _field_density(given: Inputs) -> Made:
    altitude = _at_field(given["elevation_ft"], given["altimeter_setting_inHg"] * INHG)
    warm = _kelvin(given["temperature_F"], "degF")
    return {"density_altitude_ft": _density_altitude(altitude, warm)}


def _density_of_air(given: Inputs) -> Made:
    warm = _kelvin(given["oat_C"], "degC")
    return {"density_altitude_ft": _density_altitude(given["pressure_altitude_ft"], warm)}


def _density_rule(given: Inputs) -> Made:
    altitude = given["pressure_altitude_ft"]
    warm = float(atmosphere.standard_temperature_k(altitude * FT)) + given["oat_minus_isa_C"]
    return {"density_altitude_rule_ft": _density_altitude(altitude, warm)}


def _change(given: Inputs) -> Made:
    first, second = (
        _density_altitude(
            given[f"pressure_altitude_{n}_ft"], _kelvin(given[f"temperature_{n}_F"], "degF")
        )
        for n in (1, 2)
    )
    return {"delta_density_altitude_ft": second - first}


def _reset(given: Inputs) -> Made:
    first, second = (_at_field(0.0, given[key] * INHG) for key in ("from_inHg", "to_inHg"))
    return {"delta_indicated_ft": first - second}


def _vapour(given: Inputs) -> Made:
    dew = _kelvin(given["temperature_C"], "degC")
    return {"e_s_hPa": atmosphere.vapour_pressure_pa(dew) / 100.0}


def _moist(given: Inputs) -> Made:
    density = atmosphere.density_kg_m3(
        given["station_pressure_hPa"] * 100.0,
        _kelvin(given["temperature_C"], "degC"),
        atmosphere.vapour_pressure_pa(_kelvin(given["dew_point_C"], "degC")),
    )
    return {"nws_density_altitude_ft": atmosphere.density_altitude_m(density) / FT}


def _moist_density(given: Inputs) -> Made:
    warm = _kelvin(given["temperature_C"], "degC")
    vapour = given["relative_humidity_percent"] / 100.0 * atmosphere.vapour_pressure_pa(warm)
    pressure = given["pressure_hPa"] * 100.0
    return {"density_kg_m3": atmosphere.density_kg_m3(pressure, warm, vapour)}


def _density(given: Inputs) -> Made:
    return {"rho_kg_m3": atmosphere.density_kg_m3(given["pressure_Pa"], given["oat_K"])}


def _many(case: Case, *ids: str) -> dict[str, Case]:
    return dict.fromkeys(ids, case)


_METRES = [f"isa_m_geom_{height}" for height in (0, 1000, 2000, 11000)]
_METRES += [f"us76_2km_geom_{height}" for height in range(2000, 12001, 2000)]
_FEET = [f"isa_ft_{feet}" for feet in (0, 1000, 2000, 5000, 8000, 10000, 12000)]

#: Examples of the standard atmosphere, by id.
ATMOSPHERE: dict[str, Case] = {
    "isa_constants_ft": _constants,
    **_many(_geometric, *_METRES),
    "isa_m_pot_11000": lambda given: _state(given["geopotential_altitude_m"]),
    **_many(_ratios, *_FEET),
    **_many(_pressure("pressure_inHg"), *(f"isa_inhg_{n}" for n in (1000, 5000, 10000, 12000))),
    **_many(_pressure("pressure_hPa", "pressure_inHg"), "isa_neg_1000", "isa_neg_500"),
    "isa_sl_english": _english,
    "TXB-AIR-01": _pressure("pressure_Pa"),
    "TXB-AIR-02": _density,
    **_many(_setting, *(f"fig8_{n}" for n in ("28.0", "29.0", "29.5", "30.0", "30.5", "31.0"))),
    **_many(_field, "faa_pa_3563_2996", "faa_pa_1386_2997", "faa_pa_1380_2822"),
    **_many(_field_hpa, "TXB-PA-01", "TXB-PA-02"),
    "faa_rule_2915_2985": _reset,
    **_many(_field_density, "faa_da_5250", "faa_da_3894", "phak_da_5883"),
    **_many(_change, "faa_dda_25_50", "faa_dda_30_50", "faa_dda_90_55"),
    "rule120_6000": _density_rule,
    **_many(_density_of_air, "TXB-DA-01", "TXB-DA-02"),
    **_many(_vapour, "es_0", "es_15", "es_25", "es_30"),
    **_many(_moist, "nws_da_30_20_1013", "nws_da_35_24_940", "nws_da_15_dry_1013"),
    "oiml_rho_20_50": _moist_density,
}


# ---- airspeed ------------------------------------------------------------------------------------


def _isentropic(given: Inputs) -> Made:
    sound = atmosphere.SEA_LEVEL_SPEED_OF_SOUND_MS
    impact = float(airspeed.impact_pressure_pa(given["mach"] * sound))
    ratio = impact / atmosphere.SEA_LEVEL_PRESSURE_PA
    static = atmosphere.SEA_LEVEL_TEMPERATURE_K
    rise = 300.0 - float(airspeed.static_temperature_k(300.0, given["mach"] * sound, 1.0))
    return {"p_over_pt": 1.0 / (1.0 + ratio), "T_over_Tt": static / (static + rise)}


def _from_pressures(static_pa: float, pitot_pa: float, temperature_k: float) -> tuple[Any, ...]:
    mach = airspeed.mach_from_impact(pitot_pa - static_pa, static_pa)
    true = mach * atmosphere.speed_of_sound_ms(temperature_k)
    calibrated = airspeed.calibrated_airspeed_ms(true, static_pa, temperature_k)
    return mach, true, calibrated


def _low_speed(given: Inputs) -> Made:
    static, pitot = (given[f"{name}_pressure_psf"] * LBF / FT**2 for name in ("static", "pitot"))
    _, true, calibrated = _from_pressures(static, pitot, _kelvin(given["temperature_R"], "degR"))
    equivalent = airspeed.equivalent_airspeed_ms(calibrated, static)
    return {
        "tas_ft_s": true / FT, "eas_ft_s": equivalent / FT,
        "tas_mph": true / MPH, "eas_mph": equivalent / MPH,
    }  # fmt: skip


def _high_speed(given: Inputs) -> Made:
    names = "static_pressure_Pa", "pitot_pressure_Pa", "temperature_K"
    mach, true, calibrated = _from_pressures(*(given[name] for name in names))
    return {"mach": mach, "tas_m_s": true, "cas_m_s": calibrated}


def _from_calibrated(*names: str) -> Case:
    def case(given: Inputs) -> Made:
        calibrated = given["cas_kt"] * KT
        pressure = atmosphere.standard_pressure_pa(given["pressure_altitude_ft"] * FT)
        warm = _kelvin(given["oat_C"], "degC")
        made = {
            "tas_kt": airspeed.true_airspeed_ms(calibrated, pressure, warm) / KT,
            "eas_kt": airspeed.equivalent_airspeed_ms(calibrated, pressure) / KT,
        }
        return {name: made[name] for name in names}

    return case


def _at_delta(given: Inputs) -> Made:
    pressure = given["delta"] * atmosphere.SEA_LEVEL_PRESSURE_PA
    return {"eas_kt": airspeed.equivalent_airspeed_ms(given["cas_kt"] * KT, pressure) / KT}


def _ram(given: Inputs) -> Made:
    static = airspeed.static_temperature_k(300.0, given["tas_kt"] * KT, given["recovery_factor"])
    return {"ram_rise_C": 300.0 - static}


def _ram_constant(_: Inputs) -> Made:
    rise = 300.0 - airspeed.static_temperature_k(300.0, 100.0 * KT, 1.0)
    return {"kt2_per_C": 100.0**2 / rise}


#: Examples of airspeed conversion and of the warming of the probe, by id.
AIRSPEED: dict[str, Case] = {
    **_many(_isentropic, *(f"naca1135_M{mach}" for mach in ("0.1", "0.2", "0.3", "0.5", "0.8", 1))),
    "anderson_4_lowspeed": _low_speed,
    "anderson_4_highspeed": _high_speed,
    **_many(_from_calibrated("tas_kt", "eas_kt"), "casgrid_90_2000_20", "casgrid_120_5000_0",
            "casgrid_140_8000_10", "casgrid_170_10000_-5"),
    "TXB-AIR-03": _at_delta,
    "TXB-AIR-04": _from_calibrated("tas_kt"),
    "ram_rise_7592": _ram_constant,
    **_many(_ram, "ram_rise_K_120", "ram_rise_K_180"),
}  # fmt: skip


# ---- static error --------------------------------------------------------------------------------


def _height_per_knot(given: Inputs) -> Made:
    altitude = given["pressure_altitude_ft"] * FT
    height = airspeed.static_error_in_height_m(KT, given["vi_kt"] * KT, altitude)
    return {"dH_dV_ft_per_kt": height / FT}


def _constant(_: Inputs) -> Made:
    ratio = 0.2
    speed = ratio * atmosphere.SEA_LEVEL_SPEED_OF_SOUND_MS
    height = airspeed.static_error_in_height_m(KT, speed, 0.0) / FT
    return {"constant_ft_per_kt": height / ratio / (1.0 + 0.2 * ratio**2) ** 2.5}


def _permitted(given: Inputs) -> Made:
    error = airspeed.static_error_in_airspeed_ms(
        given["altitude_error_ft"] * FT, given["ias_kt"] * KT, 0.0
    )
    return {"airspeed_error_kt": error / KT}


#: Examples of the static relation, by id.
POSITION: dict[str, Case] = {
    "const_58566": _constant,
    **_many(_height_per_knot, "dHdV_60_0", "dHdV_100_0", "dHdV_100_5000", "dHdV_150_8000"),
    "far_30ft_100kt": _permitted,
}


# ---- true airspeed from GPS ----------------------------------------------------------------------


def _vectors(speed: Any, direction_deg: Any) -> tuple[Any, Any]:
    angle = np.radians(direction_deg)
    return np.asarray(speed) * np.sin(angle), np.asarray(speed) * np.cos(angle)


def _three_tracks(*wanted: str) -> Case:
    def case(given: Inputs) -> Made:
        east, north = _vectors(np.array(given["ground_speed_kt"]) * KT, given["track_deg"])
        true, wind_east, wind_north = legs.solve_legs(east, north)
        from_rad, speed = wind.wind_from(wind_east, wind_north)
        heading = np.degrees(np.arctan2(east - wind_east, north - wind_north)) % 360.0
        made = {
            "true_kt": true / KT, "wind_kt": speed / KT, "wind_from_deg": np.degrees(from_rad),
            **{f"heading{place}_deg": one for place, one in enumerate(heading, start=1)},
        }  # fmt: skip
        return {name: made[name] for name in wanted}

    return case


def flown_over_ground(given: Inputs, headings: int) -> tuple[Any, Any]:
    """Ground velocities on headings spread evenly from north.

    Parameters
    ----------
    given : dict
        Inputs ``true_kt`` and ``wind_kt`` [kt], ``wind_from_deg`` [deg].
    headings : int
        How many [-].

    Returns
    -------
    east, north : ndarray, shape (headings,)
        Ground velocity [kt]; never raises.

    Examples
    --------
    >>> calm = {"true_kt": 100.0, "wind_kt": 0.0, "wind_from_deg": 0.0}
    >>> flown_over_ground(calm, 4)[1].round(1).tolist()
    [100.0, 0.0, -100.0, -0.0]
    """
    east, north = _vectors(given["true_kt"], 360.0 / headings * np.arange(headings))
    out_east, out_north = _vectors(given["wind_kt"], given["wind_from_deg"])
    return east - out_east, north - out_north


def _four(given: Inputs) -> Made:
    speeds = np.hypot(*flown_over_ground(given, 4))
    names = [f"ground_{heading:03d}" for heading in (0, 90, 180, 270)]
    return {**dict(zip(names, speeds, strict=True)), "mean": speeds.mean()}


def _three_headings(function: Callable[..., tuple[Any, Any]], together: bool) -> Case:
    def case(given: Inputs) -> Made:
        speeds = np.array(given["ground_speed_kt"]) * KT
        true, blows = function(speeds) if together else function(*speeds)
        return {"true_kt": true / KT, "wind_kt": blows / KT}

    return case


def _course(given: Inputs) -> Made:
    speed = legs.speed_course_ms(given["length_ft"] * FT, given["out_s"], given["back_s"])
    return {"true_kt": speed / KT}


_TOLD = "true_kt", "wind_kt", "wind_from_deg"

#: Examples of true airspeed from ground speeds, by id.
GPS: dict[str, Case] = {
    "gray1998": _three_tracks(*_TOLD, "heading1_deg", "heading2_deg", "heading3_deg"),
    "circle_of_rounded_legs": _three_tracks(*_TOLD),
    "horton_four_headings": _four,
    "formulary_three_headings": _three_headings(legs.three_headings_apart, together=True),
    "horseshoe": _three_headings(legs.three_headings_square, together=False),
    **_many(_course, "speed_course_factor", "speed_course_means"),
}

#: Why ours is another figure, by id; for several examples at once, ids parted by spaces.
WHY: dict[str, str] = {
    "isa_constants_ft": (
        "Printed from constants that were rounded otherwise: a unit or two of the eighth figure, "
        "nothing that an instrument could show."
    ),
    "fig8_28.0": (
        "Printed in whole feet; ours is nearly one foot more. How the table was made was not seen."
    ),
    "TXB-PA-01 TXB-PA-02": (
        "27 ft for 1 hPa is a rule of thumb. Near sea level on the standard day it is 27.3 ft "
        "and grows with height, and the rule takes 1013 hPa for 1013.25 hPa."
    ),
    "faa_rule_2915_2985": "1000 ft for 1 inHg is a rule of thumb; the law gives about 935 ft.",
    "faa_da_5250 faa_da_3894 phak_da_5883 faa_dda_25_50 faa_dda_30_50 faa_dda_90_55": (
        "Read from a printed chart, to the nearest 50 or 100 ft."
    ),
    "rule120_6000": "120 ft for each degree is a rule of thumb; the law is not a straight line.",
    "TXB-DA-01": (
        "The source rounds both temperatures to a tenth of a kelvin before it divides them."
    ),
    "TXB-DA-02": (
        "118.6 ft for each degree is the slope on the standard day. Nineteen degrees away "
        "from it the law has bent by some 90 ft."
    ),
    "es_0 es_15 es_25 es_30": (
        "Printed from the Goff-Gratch formula; the library uses the Magnus form of the "
        "meteorological organisation. They are up to 0.22 % apart, which is less than 0.01 % "
        "of the density of air."
    ),
    "oiml_rho_20_50": (
        "The metrologists' simplified formula against an ideal mixture of dry air and vapour: "
        "0.04 % apart, since real air is slightly denser than an ideal gas."
    ),
    "anderson_4_lowspeed": (
        "The textbook uses the incompressible formula for this airplane, and ours keeps "
        "compressibility at all speeds: at Mach 0.2 that takes off 0.6 %."
    ),
    "TXB-AIR-04": "The source divides by the root of a density ratio rounded to 0.5294.",
    "const_58566": "Printed from rounded constants: 1 part in 37 000.",
}
