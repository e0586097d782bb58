"""The airplane model as tables of the results: ratio, climb curve, propeller, performance, words.

Climbs and accelerations are fitted once more here, under few draws, because the analysis lets their
fits go; numbers that are stated stay those of ``values.csv``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from stdday import units
from stdday.airplane_answers import Answer
from stdday.airplane_tables import (
    agreement_table,
    effective_polar,
    performance_table,
    propeller_table,
    reciprocal_table,
)
from stdday.climb_model import ClimbFit, fit_climbs
from stdday.level_fit import LevelFit
from stdday.outcome import from_answer
from stdday.reduce_acceleration import reduce_accelerations
from stdday.throttle import propeller_slopes
from stdday.uncertainty import Draws

if TYPE_CHECKING:
    from stdday.campaign import Campaign
    from stdday.outcome import Analysis

__all__ = ["airplane_meta", "airplane_tables", "level_fits"]

#: Draws of the band of the climb curve and of accelerations, and airspeeds of the curve [-].
DRAWS, GRID = 200, 17
#: Powers [share of rated] and pressure altitudes [m] of the performance table.
POWERS = tuple(share / 100 for share in range(45, 101, 5))
ALTITUDES_M = tuple(1000 * 0.3048 * thousands for thousands in (0, 2, 4, 6, 8, 10))

#: Columns of `LevelFit.coefficients` in ``level_model``.
_COEFFICIENTS = ("cubic", "inverse", "shift", "slope", "fuel_start", "fuel_growth")
_ACCELERATIONS = {
    "airspeed": "calibrated_airspeed [kt]",
    "reference_altitude": "pressure_altitude [ft]",
    "rate": "rate [ft/min]",
    "rate_low": "low [ft/min]",
    "rate_high": "high [ft/min]",
    "climb_rate": "climb_rate [ft/min]",
    "difference": "difference [ft/min]",
}


@dataclass(frozen=True)
class _Climbed:
    """Climbs of all configurations, fitted under few draws."""

    draws: Draws
    slopes: dict[str, float]
    fits: dict[str, ClimbFit]


def airplane_tables(
    campaign: Campaign, segments: pd.DataFrame, analysis: Analysis, values: pd.DataFrame
) -> dict[str, pd.DataFrame]:
    """Further tables of the results that tell of the airplane under all of its tests.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    segments : DataFrame
        Segments of the used points of all kinds.
    analysis : Analysis
        Fitted curves of level flight, and airspeed calibrations.
    values : DataFrame
        ``values.csv``, of which ratios of installed efficiency are taken.

    Returns
    -------
    dict of str to DataFrame
        ``level_model``, ``efficiency_ratio``, ``climb_curve``, ``climb_points``,
        ``accelerations``, ``propeller``, ``performance``, ``test_agreement`` and
        ``reciprocals``, in pilots' units; those without a row are left out.
    """
    campaign = replace(campaign, calibrations=analysis.calibrations)
    draws = Draws(DRAWS)
    slopes = propeller_slopes(campaign, segments)
    climbs = segments[segments["kind"] == "climb"]
    fits, _ = fit_climbs(campaign, climbs, draws, slopes, {})
    climbed = _Climbed(draws, slopes, fits)
    good = {name: found for name, found in analysis.fits.items() if not found.reason}
    found = {
        "level_model": _level_model(good),
        "efficiency_ratio": _ratio(values),
        "climb_curve": _climb_curve(campaign, climbed),
        "climb_points": _climb_points(climbed),
        "accelerations": _accelerations(campaign, segments, climbed),
        "propeller": propeller_table(campaign, good, values),
        "performance": _performance(campaign, good),
        "test_agreement": agreement_table(campaign, segments, analysis.fits),
        "reciprocals": reciprocal_table(campaign, segments),
    }
    return {name: table for name, table in found.items() if len(table)}


def airplane_meta(campaign: Campaign, analysis: Analysis) -> dict[str, Any]:
    """Say what the level model of each configuration is, for `Results.meta`.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    analysis : Analysis
        Fitted curves of level flight.

    Returns
    -------
    dict
        ``airplane_model``: by configuration its `kind`, the model and how it was chosen (`choice`),
        the effective `polar` in words, and the `reason` where there is none.
    """
    return {
        "airplane_model": {
            name: {
                "kind": found.kind,
                "choice": found.model,
                "polar": "" if found.reason else effective_polar(campaign, found),
                "reason": found.reason,
            }
            for name, found in analysis.fits.items()
        }
    }


# ---- level flight --------------------------------------------------------------------------------


def _level_model(fits: dict[str, LevelFit]) -> pd.DataFrame:
    """Coefficients of the fitted curves, from which level flight on any day follows."""
    rows = [
        {
            "configuration": name,
            "kind": found.kind,
            "rated_power [kW]": found.rated_power_w / 1000,
            "middle": found.middle,
            "has_fuel": found.has_fuel,
            **dict(zip(_COEFFICIENTS, map(float, found.coefficients[0]), strict=True)),
        }
        for name, found in fits.items()
    ]
    return pd.DataFrame(rows)


def level_fits(model: pd.DataFrame, runs: pd.DataFrame) -> dict[str, LevelFit]:
    """Nominal curves of level flight, from results as they stand on disk.

    Parameters
    ----------
    model : DataFrame
        Table ``level_model`` of the results.
    runs : DataFrame
        Table ``curve_points`` of the results.

    Returns
    -------
    dict of str to LevelFit
        By configuration; for `stdday.airplane_tables.performance_table`.
    """
    fits = {}
    for row in model.to_dict("records"):
        own = runs[runs["configuration"] == row["configuration"]]
        speed = units.to_si(own["reduced_airspeed [kt]"].to_numpy(float), "kt", "speed")
        has_fuel = bool(row["has_fuel"])
        fits[str(row["configuration"])] = LevelFit(
            str(row["configuration"]),
            1000 * float(row["rated_power [kW]"]),
            tuple(own["point"]),
            tuple(own["flight"]),
            speed_ms=speed[None],
            brake_power_w=1000 * own["brake_power [kW]"].to_numpy(float)[None],
            coefficients=np.array([[float(row[name]) for name in _COEFFICIENTS]]),
            places=(0, 1, -1, -1, *((2, 3) if has_fuel else (-1, -1))),
            middle=float(row["middle"]),
            kind=str(row["kind"]),
        )
    return fits


def _ratio(values: pd.DataFrame) -> pd.DataFrame:
    """Ratio of installed efficiencies where it is stated, with its interval."""
    rows = [
        {
            "configuration": row["configuration"],
            "true_airspeed [kt]": float(str(row["condition_id"]).partition("_")[2]),
            "ratio [-]": row["estimate"],
            "low [-]": row["low"],
            "high [-]": row["high"],
            "basis": row["basis"],
        }
        for row in values.to_dict("records")
        if row["metric"] == "installed_efficiency_ratio" and row["status"] == "ok"
    ]
    return pd.DataFrame(rows)


def _performance(campaign: Campaign, fits: dict[str, LevelFit]) -> pd.DataFrame:
    """Level flight at the reference weight, at round powers and altitudes that can be answered."""
    parts = []
    for name, found in fits.items():
        weight = campaign.reference_for(campaign.configurations[name].airplane).weight_kg
        for altitude in ALTITUDES_M:
            table = performance_table(campaign, found, POWERS, weight, altitude)
            if (table["reason"] != "").all():
                continue
            table.insert(0, "configuration", name)
            table.insert(1, "pressure_altitude [ft]", round(altitude / 0.3048))
            table.insert(2, "weight [kg]", weight)
            parts.append(table[table["reason"] == ""].drop(columns="reason"))
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()


# ---- climbs and accelerations --------------------------------------------------------------------


def _climb_curve(campaign: Campaign, climbed: _Climbed) -> pd.DataFrame:
    """Rate of climb on the reference day against airspeed, with a band for each airspeed."""
    rows = []
    for name, fit in climbed.fits.items():
        if not fit.curved:
            continue
        grid = np.linspace(fit.slowest_ms, fit.fastest_ms, GRID)
        for place, altitude in enumerate(fit.altitudes_m):
            for speed in grid:
                value, low, high = _rate(campaign, climbed, name, place, float(speed))
                rows.append({
                    "configuration": name,
                    "pressure_altitude [ft]": round(altitude / 0.3048),
                    "calibrated_airspeed [kt]": _in(float(speed), "kt", "speed", 2),
                    "rate [ft/min]": value, "low [ft/min]": low, "high [ft/min]": high,
                })  # fmt: skip
    return pd.DataFrame(rows)


def _in(value: float, unit: str, dimension: str, decimals: int) -> float:
    return round(float(units.from_si(np.array([value]), unit, dimension)[0]), decimals) + 0.0


def _feet(rate_ms: float) -> float:
    return _in(rate_ms, "ft/min", "vertical_speed", 1)


def _rate(
    campaign: Campaign, climbed: _Climbed, name: str, place: int, speed_ms: float
) -> tuple[float, float, float]:
    """Rate of climb at one airspeed with its 95 % interval [ft/min]."""
    fit, at = climbed.fits[name], np.array([speed_ms])
    values = fit.rate(fit.coefficients, at, place)[:, 0]
    answer = Answer(
        "climb_rate", f"climb_{fit.numbers[place]}", name, values, np.zeros_like(values),
        fit.gradient(lambda rows: fit.rate(rows, at, place)[:, 0]), fit.fit, fit.points,
        tuple(dict.fromkeys(fit.flights)),
    )  # fmt: skip
    estimate = from_answer(campaign, answer, climbed.draws).estimate
    if estimate is None:
        return _feet(float(values[0])), float("nan"), float("nan")
    low, high = estimate.interval()
    return _feet(estimate.value), _feet(low), _feet(high)


def _climb_points(climbed: _Climbed) -> pd.DataFrame:
    """Every climb as reduced for the curve: airspeed and rate on the reference day."""
    return pd.DataFrame([
        {
            "configuration": name,
            "flight": fit.flights[number],
            "point": point,
            "pressure_altitude [ft]": round(fit.altitudes_m[fit.places[number]] / 0.3048),
            "calibrated_airspeed [kt]": _in(float(fit.calibrated_ms[number]), "kt", "speed", 2),
            "rate [ft/min]": _feet(float(fit.rate_ms[number])),
        }
        for name, fit in climbed.fits.items()
        for number, point in enumerate(fit.points)
    ])  # fmt: skip


def _accelerations(
    campaign: Campaign, segments: pd.DataFrame, climbed: _Climbed
) -> pd.DataFrame:
    """Every window of a level acceleration as the rate of climb it stands for."""
    table = reduce_accelerations(
        campaign, segments, climbed.draws, climbed.slopes, climbed.fits
    )
    return table.rename(columns=_ACCELERATIONS)
