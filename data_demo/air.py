"""Air of the demo: standard atmosphere, moist air, airspeed relations and the weather of one day.

Formulas use only arithmetic operators, so that floats and numpy arrays both pass through.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

GRAVITY_MS2 = 9.80665
GAS_CONSTANT_J_KG_K = 287.05287
LAPSE_K_M = 0.0065
SEA_LEVEL_PRESSURE_PA = 101325.0
SEA_LEVEL_TEMPERATURE_K = 288.15
EXPONENT = GRAVITY_MS2 / (GAS_CONSTANT_J_KG_K * LAPSE_K_M)

FT_M = 0.3048
KT_MS = 1852.0 / 3600.0

Number = Any  # a float or a numpy array of floats


def clip01(value: Number) -> Number:
    """Limit a value to 0..1 with arithmetic only."""
    return 0.5 * (abs(value) - abs(value - 1.0) + 1.0)


def positive(value: Number) -> Number:
    """Return the value where positive, else 0."""
    return 0.5 * (value + abs(value))


def smooth_step(value: Number) -> Number:
    """Rise from 0 to 1 with flat ends while the value goes from 0 to 1."""
    part = clip01(value)
    return part * part * (3.0 - 2.0 * part)


def standard_temperature_k(pressure_altitude_m: Number) -> Number:
    """Temperature of the standard atmosphere [K] at a pressure altitude [m], troposphere."""
    return SEA_LEVEL_TEMPERATURE_K - LAPSE_K_M * pressure_altitude_m


def standard_pressure_pa(pressure_altitude_m: Number) -> Number:
    """Pressure of the standard atmosphere [Pa] at a pressure altitude [m], troposphere."""
    ratio = 1.0 - LAPSE_K_M / SEA_LEVEL_TEMPERATURE_K * pressure_altitude_m
    return SEA_LEVEL_PRESSURE_PA * ratio**EXPONENT


def pressure_altitude_m(pressure_pa: Number) -> Number:
    """Pressure altitude [m] of a pressure [Pa], troposphere."""
    ratio = (pressure_pa / SEA_LEVEL_PRESSURE_PA) ** (1.0 / EXPONENT)
    return SEA_LEVEL_TEMPERATURE_K / LAPSE_K_M * (1.0 - ratio)


def density_kg_m3(pressure_pa: Number, temperature_k: Number, vapour_pa: Number) -> Number:
    """Density of moist air [kg/m^3]."""
    return (pressure_pa - 0.378 * vapour_pa) / (GAS_CONSTANT_J_KG_K * temperature_k)


def vapour_pressure_pa(dew_point_k: float) -> float:
    """Vapour pressure [Pa] at a dew point [K]; Magnus form, Alduchov and Eskridge 1996."""
    celsius = dew_point_k - 273.15
    return 610.94 * math.exp(17.625 * celsius / (celsius + 243.04))


def sound_ms(temperature_k: Number) -> Number:
    """Speed of sound [m/s]."""
    return (1.4 * GAS_CONSTANT_J_KG_K * temperature_k) ** 0.5


def impact_pa(tas_ms: Number, pressure_pa: Number, temperature_k: Number) -> Number:
    """Impact pressure [Pa] of compressible flow."""
    mach2 = tas_ms * tas_ms / (1.4 * GAS_CONSTANT_J_KG_K * temperature_k)
    return pressure_pa * ((1.0 + 0.2 * mach2) ** 3.5 - 1.0)


def calibrated_from_impact_ms(impact: Number) -> Number:
    """Calibrated airspeed [m/s] of an impact pressure [Pa], not negative."""
    grown = (positive(impact) / SEA_LEVEL_PRESSURE_PA + 1.0) ** (1.0 / 3.5)
    return sound_ms(SEA_LEVEL_TEMPERATURE_K) * (5.0 * (grown - 1.0)) ** 0.5


def calibrated_ms(tas_ms: Number, pressure_pa: Number, temperature_k: Number) -> Number:
    """Calibrated airspeed [m/s] of a true airspeed [m/s]."""
    return calibrated_from_impact_ms(impact_pa(tas_ms, pressure_pa, temperature_k))


def true_ms(cas_ms: Number, pressure_pa: Number, temperature_k: Number) -> Number:
    """True airspeed [m/s] of a calibrated airspeed [m/s]."""
    impact = impact_pa(cas_ms, SEA_LEVEL_PRESSURE_PA, SEA_LEVEL_TEMPERATURE_K)
    grown = (impact / pressure_pa + 1.0) ** (1.0 / 3.5)
    return sound_ms(temperature_k) * (5.0 * (grown - 1.0)) ** 0.5


@dataclass(frozen=True)
class Weather:
    """Weather of one flight.

    Parameters
    ----------
    qnh_pa : float
        Altimeter setting of the field [Pa].
    temperature_k, dew_point_k : float
        Air temperature and dew point at the field [K].
    lapse_k_m : float
        Fall of temperature with height [K/m]; differs from the standard one.
    dew_lapse_k_m : float
        Fall of the dew point with height [K/m].
    wind_from_rad, wind_ms : float
        Direction the wind blows from [rad, true] and its speed 10 m above the field [m/s].
    shear : float
        Exponent of the wind's growth with height up to 300 m [-].
    veer_rad_m : float
        Turn of the wind with height [rad/m], clockwise.
    gust_ms : float
        Standard deviation of the horizontal gusts [m/s].
    thermal_ms : float
        Standard deviation of the slow up and down draughts aloft [m/s].
    """

    qnh_pa: float
    temperature_k: float
    dew_point_k: float
    lapse_k_m: float
    dew_lapse_k_m: float
    wind_from_rad: float
    wind_ms: float
    shear: float
    veer_rad_m: float
    gust_ms: float
    thermal_ms: float


class Column:
    """Air over the field on one day, as tables against height.

    Parameters
    ----------
    weather : Weather
        Weather of the day.
    elevation_m : float
        Height of the field [m].
    """

    STEP_M = 5.0
    TOP_M = 2500.0

    def __init__(self, weather: Weather, elevation_m: float) -> None:
        self.weather = weather
        self.elevation_m = elevation_m
        setting_height = pressure_altitude_m(weather.qnh_pa)
        pressure = standard_pressure_pa(elevation_m + setting_height)
        self._pressure: list[float] = []
        self._temperature: list[float] = []
        self._vapour: list[float] = []
        height = 0.0
        while height <= self.TOP_M:
            temperature = weather.temperature_k - weather.lapse_k_m * height
            dew_point = min(weather.dew_point_k - weather.dew_lapse_k_m * height, temperature)
            vapour = vapour_pressure_pa(dew_point)
            self._pressure.append(pressure)
            self._temperature.append(temperature)
            self._vapour.append(vapour)
            # half-step temperature, so that the pressure is second-order right
            middle = temperature - 0.5 * weather.lapse_k_m * self.STEP_M
            density = density_kg_m3(pressure, middle, vapour)
            pressure -= density * GRAVITY_MS2 * self.STEP_M * (1.0 - 3.0e-4)
            height += self.STEP_M

    def state(self, height_m: float) -> tuple[float, float, float]:
        """Pressure [Pa], temperature [K] and vapour pressure [Pa] at a height above sea level [m].

        The table runs from the field upward.
        """
        place = max(height_m - self.elevation_m, 0.0) / self.STEP_M
        index = min(int(place), len(self._pressure) - 2)
        part = place - index
        rest = 1.0 - part
        return (
            rest * self._pressure[index] + part * self._pressure[index + 1],
            rest * self._temperature[index] + part * self._temperature[index + 1],
            rest * self._vapour[index] + part * self._vapour[index + 1],
        )

    def wind(self, height_m: float) -> tuple[float, float]:
        """Mean wind at a height above sea level [m] as velocity to the east and north [m/s]."""
        weather = self.weather
        above = max(height_m - self.elevation_m, 1.5)
        low = min(above, 300.0)
        speed = weather.wind_ms * (low / 10.0) ** weather.shear
        speed += 0.0008 * (above - low) * (0.5 + 0.1 * weather.wind_ms)
        towards = weather.wind_from_rad + weather.veer_rad_m * min(above, 800.0) + math.pi
        return speed * math.sin(towards), speed * math.cos(towards)
