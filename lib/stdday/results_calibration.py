"""Airspeed calibrations from flights as tables of the results, in pilots' units."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import special

from stdday import units
from stdday.calibrate import has_calibration

if TYPE_CHECKING:
    from stdday.calibrate import Calibration
    from stdday.campaign import Airplane, Campaign

__all__ = ["NO_CURVE", "TABLE", "calibration_meta", "calibration_tables"]

FloatArray = NDArray[np.float64]

#: How a calibration that was asked for and did not come about is told in the results.
NO_CURVE = "from flights, but no usable pattern yet"
#: How the owner's table is told in the results.
TABLE = "owner's table"
#: The curve is laid out this far beyond the legs [kt], so that its band is seen to grow.
_BEYOND_KT = 15
#: Steps of the table for the handbook [kt].
_STEP_KT = 5

#: Columns of SI to columns of the results: name, unit, dimension, decimals.
_LEGS = {
    "indicated_airspeed_ms": ("indicated_airspeed", "kt", "speed", 2),
    "ground_speed_ms": ("ground_speed", "kt", "speed", 2),
    "track_rad": ("track", "deg", "angle", 1),
    "heading_rad": ("heading", "deg", "angle", 1),
    "true_airspeed_ms": ("true_airspeed", "kt", "speed", 2),
    "correction_ms": ("correction", "kt", "speed", 2),
    "residual_ms": ("residual", "kt", "speed", 2),
    "left_out_ms": ("left_out", "kt", "speed", 2),
    "left_out_sigma_ms": ("left_out_sigma", "kt", "speed", 2),
}
_PATTERNS = {
    "airspeed_ms": ("indicated_airspeed", "kt", "speed", 2),
    "add_heading_rad": ("add_heading", "deg", "angle", 0),
    "wind_from_rad": ("wind_from", "deg", "angle", 1),
    "wind_speed_ms": ("wind_speed", "kt", "speed", 2),
    "wind_sigma_ms": ("wind_sigma", "kt", "speed", 2),
    "drift_ms": ("wind_drift", "kt", "speed", 2),
    "heading_offset_rad": ("heading_offset", "deg", "angle", 1),
    "heading_scatter_rad": ("heading_scatter", "deg", "angle", 1),
    "true_airspeed_ms": ("true_airspeed", "kt", "speed", 2),
    "mean_ground_speed_ms": ("mean_ground_speed", "kt", "speed", 2),
}


def calibration_tables(calibrations: Iterable[Calibration]) -> dict[str, pd.DataFrame]:
    """Lay out calibrations from flights as tables.

    Parameters
    ----------
    calibrations : iterable of Calibration
        From `stdday.calibrate_fit.fit_calibrations`.

    Returns
    -------
    dict of str to DataFrame
        ``calibration_legs``, ``calibration_patterns``, ``calibration_curve`` and
        ``calibration_effects``; those without a row are left out. Every row says installation,
        flaps and airplane.
    """
    makers = {
        "calibration_legs": _legs,
        "calibration_patterns": _patterns,
        "calibration_curve": _curve,
        "calibration_effects": _effects,
    }
    found: dict[str, list[pd.DataFrame]] = {}
    for one in calibrations:
        for name, make in makers.items():
            table = make(one)
            if len(table):
                table.insert(0, "installation", one.installation)
                table.insert(1, "flaps", one.flaps)
                table.insert(2, "airplane", one.airplane)
                found.setdefault(name, []).append(table)
    return {name: pd.concat(parts, ignore_index=True) for name, parts in found.items()}


def calibration_meta(
    campaign: Campaign, calibrations: Mapping[tuple[str, str], Calibration]
) -> dict[str, Any]:
    """Say how the airspeed of each airplane was calibrated, for `Results.meta`.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    calibrations : mapping of (installation, flaps) to Calibration
        From `stdday.calibrate_fit.fit_calibrations`.

    Returns
    -------
    dict
        ``calibration``: by airplane ``none``, ``from flights``, `NO_CURVE` or `TABLE`;
        ``calibration_words``: sentences of each calibration from flights.
    """
    return {
        "calibration": {
            name: _how(campaign, airplane, calibrations)
            for name, airplane in campaign.airplanes.items()
        },
        "calibration_words": [
            {"installation": one.installation, "flaps": one.flaps, "airplane": one.airplane,
             "used": one.used, "words": list(one.words)}
            for one in calibrations.values()
        ],
    }


def _how(
    campaign: Campaign, airplane: Airplane, calibrations: Mapping[tuple[str, str], Calibration]
) -> str:
    if not isinstance(airplane.airspeed_calibration, str):
        return TABLE
    if airplane.airspeed_calibration == "none":
        return "none"
    made = has_calibration(airplane, replace(campaign, calibrations=dict(calibrations)))
    return "from flights" if made else NO_CURVE


def _printed(table: pd.DataFrame, columns: Mapping[str, tuple[str, str, str, int]]) -> pd.DataFrame:
    """Columns of SI in pilots' units, rounded once, all others as they are."""
    done = {}
    for name in table:
        if str(name) not in columns:
            done[str(name)] = table[name].to_numpy()
            continue
        title, unit, dimension, decimals = columns[str(name)]
        values = units.from_si(table[name].to_numpy(dtype=float), unit, dimension)
        done[f"{title} [{unit}]"] = np.round(values, decimals) + 0.0
    return pd.DataFrame(done)


def _in_air(one: Calibration) -> pd.DataFrame:
    """Legs with the true airspeed that the fitted wind leaves, and their own correction."""
    wind = one.patterns.set_index("point")
    known = one.legs["point"].map(wind["wind_speed_ms"]).to_numpy(dtype=float)
    towards = one.legs["point"].map(wind["wind_from_rad"]).to_numpy(dtype=float) + np.pi
    ground = one.legs["ground_speed_ms"].to_numpy(dtype=float)
    track = one.legs["track_rad"].to_numpy(dtype=float)
    square = ground**2 + known**2 - 2 * ground * known * np.cos(track - towards)
    of_curve = np.array([
        float(one.curves[name].correction_ms(speed)) if name in one.curves else np.nan
        for name, speed in zip(one.legs["configuration"], one.legs["indicated_airspeed_ms"],
                               strict=True)
    ])
    used = one.legs["used"].to_numpy(dtype=bool)
    return one.legs.assign(
        true_airspeed_ms=np.where(used, np.sqrt(square), np.nan),
        correction_ms=np.where(used, of_curve + one.legs["residual_ms"], np.nan),
    )


def _legs(one: Calibration) -> pd.DataFrame:
    if not len(one.legs):
        return pd.DataFrame()
    table = _printed(_in_air(one), _LEGS)
    return table.assign(weight=table["weight"].round(2))


def _patterns(one: Calibration) -> pd.DataFrame:
    if not len(one.patterns):
        return pd.DataFrame()
    legs = _in_air(one)
    means = legs[legs["used"]].groupby("point")[["true_airspeed_ms", "ground_speed_ms"]].mean()
    point = one.patterns["point"]
    table = one.patterns.assign(
        true_airspeed_ms=point.map(means["true_airspeed_ms"]),
        mean_ground_speed_ms=point.map(means["ground_speed_ms"]),
        # infinite where no wind can be told: a table of the results holds no infinity
        condition=one.patterns["condition"].replace(np.inf, np.nan).round(2),
    )
    return _printed(table, _PATTERNS)


def _curve(one: Calibration) -> pd.DataFrame:
    """Correction every knot, with the rows that a handbook prints marked."""
    rows = []
    for name, curve in one.curves.items():
        low, high = (float(units.from_si(np.array([end]), "kt", "speed")[0])
                     for end in (curve.low_ms, curve.high_ms))
        first, last = _STEP_KT * np.floor(low / _STEP_KT), _STEP_KT * np.ceil(high / _STEP_KT)
        grid = np.arange(max(first - _BEYOND_KT, 20), last + _BEYOND_KT + 1)
        speed = units.to_si(grid, "kt", "speed")
        correction, sigma, band = (
            units.from_si(np.asarray(of(speed)), "kt", "speed")
            for of in (curve.correction_ms, curve.sigma_ms, curve.band_ms)
        )
        rows.append(pd.DataFrame({
            "configuration": name,
            "indicated_airspeed [kt]": grid,
            "calibrated_airspeed [kt]": np.round(grid + correction, 2),
            "correction [kt]": np.round(correction, 2) + 0.0,
            "sigma [kt]": np.round(sigma, 2),
            "band [kt]": np.round(band, 2),
            "flown": (grid >= low) & (grid <= high),
            "handbook": (grid % _STEP_KT == 0) & (grid >= first) & (grid <= last),
        }))
    return pd.concat(rows, ignore_index=True) if rows else pd.DataFrame()


def _effects(one: Calibration) -> pd.DataFrame:
    if not len(one.effects):
        return pd.DataFrame()
    shift, sigma = (
        units.from_si(one.effects[name].to_numpy(dtype=float), "kt", "speed")
        for name in ("shift_ms", "sigma_ms")
    )
    wide = special.stdtrit(one.effects["dof"].to_numpy(dtype=float), 0.975) * sigma
    table = one.effects[["effect", "of", "against"]].reset_index(drop=True)
    sizes: dict[str, FloatArray] = {"shift": shift, "shift_low": shift - wide,
                                    "shift_high": shift + wide, "sigma": sigma}
    return table.assign(**{f"{name} [kt]": np.round(size, 2) + 0.0 for name, size in sizes.items()})
