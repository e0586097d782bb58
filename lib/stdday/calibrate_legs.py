"""Legs of airspeed calibrations: from rows of segments to the arrays that the fit takes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday.atmosphere import standard_pressure_pa
from stdday.calibrate import flap_setting
from stdday.legs import CONDITION_LIMIT, condition_of_headings, heading_to_add_rad
from stdday.pattern_legs import LegArrays
from stdday.state import air_of_legs

if TYPE_CHECKING:
    from stdday.campaign import Campaign

__all__ = ["KIND", "headings_carry", "leg_arrays", "leg_table"]

FloatArray = NDArray[np.float64]

#: Kind of the points that hold calibration legs.
KIND = "airspeed calibration"
#: Patterns that give an airspeed without ground velocities.
DIRECT = ("pacing", "speed course")
#: Time from one leg to the next where a card does not say [s]. Engineering judgement.
ASSUMED_LEG_S = 120.0
_KT = 1852 / 3600
#: One sigma of the wind across a reciprocal pair about half the sum of its ground velocities [m/s]:
#: with opposite headings recorded, and without, when the pilot may have held the track instead.
HELD_SIGMA_MS, TRACK_SIGMA_MS = 1.0 * _KT, 10.0 * _KT
#: Headings of a pair are opposite within this [rad] (20 deg).
OPPOSITE_RAD = np.radians(20.0)
#: One sigma of pacing: the other airplane's calibration, common to a pattern, and keeping station;
#: of a speed course: the wind changing between the runs, and the stopwatch [m/s]. Common practice.
PACING_MS, STATION_MS = 1.5 * _KT, 0.5 * _KT
COURSE_MS, STOPWATCH_MS = 0.5 * _KT, 0.3 * _KT


def leg_table(campaign: Campaign, segments: pd.DataFrame) -> pd.DataFrame:
    """Make a table of all legs, with what is wrong with each.

    Parameters
    ----------
    campaign : Campaign
        Flights and airfields, its calibrations not needed.
    segments : DataFrame
        Segments of the used points; rows of other kinds are passed over.

    Returns
    -------
    DataFrame
        The rows of kind `KIND`, with ``installation``, ``flaps``, ``pressure_pa``,
        ``temperature_k``, ``recovery_k`` (its change with the probe's recovery factor),
        ``lapsed`` (temperature not recorded), ``time_s`` within the pattern, and
        ``reason``, empty for a usable leg.
    """
    rows = segments[segments["kind"] == KIND].reset_index(drop=True)
    if not len(rows):
        return rows.assign(installation="", reason="")
    installation = {flight.id: flight.installation for flight in campaign.flights}
    configuration = {flight.id: flight.configuration for flight in campaign.flights}
    altitude, temperature, recovery, notes = air_of_legs(campaign, rows)
    table = rows.assign(
        installation=rows["flight"].map(installation),
        configuration=rows["flight"].map(configuration),
        flaps=rows["flaps"].fillna("").astype(str).map(flap_setting),
        pressure_pa=standard_pressure_pa(altitude),
        temperature_k=temperature,
        recovery_k=recovery,
        lapsed=["no temperature recorded" in " ".join(one) for one in notes],
        time_s=_times(rows),
    )
    return table.assign(reason=_reasons(table))


def _times(rows: pd.DataFrame) -> FloatArray:
    """Middle of each leg after that of the first of its pattern [s]."""
    middle = ((rows["start_s"] + rows["end_s"]) / 2).astype(float)
    by_clock = middle - middle.groupby(rows["point"]).transform("min")
    by_order = rows.groupby("point").cumcount() * ASSUMED_LEG_S
    known = middle.notna().groupby(rows["point"]).transform("all")
    return by_clock.where(known, by_order).to_numpy(dtype=float)


def _reasons(table: pd.DataFrame) -> list[str]:
    """What each leg lacks; empty where nothing."""
    pacing = table["pattern"].eq("pacing")
    course = table["pattern"].eq("speed course")
    velocity = (table["ground_east_ms"] + table["ground_north_ms"]).notna()
    lacks = {
        "no indicated airspeed": table["indicated_airspeed_ms"].isna(),
        "no airspeed of the other airplane": pacing & table["reference_calibrated_ms"].isna(),
        "no times over the course": course & table["reference_true_ms"].isna(),
        "no ground velocity: record or write down ground speed and track": ~pacing & ~course
        & ~velocity,
        "no pressure altitude": ~pacing & table["pressure_pa"].isna(),
        "no temperature: record it, or write down the reported one": ~pacing
        & table["temperature_k"].isna(),
    }
    reasons = [""] * len(table)
    for words, missing in lacks.items():
        for place in np.flatnonzero(missing.to_numpy()):
            reasons[place] = reasons[place] or words
    norths = table.groupby("point")["track_is_true"].transform("nunique")
    for place in np.flatnonzero(norths.to_numpy() > 1):
        reasons[place] = reasons[place] or "legs of one pattern on two norths, true and magnetic"
    return reasons


def leg_arrays(
    campaign: Campaign, legs: pd.DataFrame, extra: FloatArray, extra_sigma_ms: FloatArray
) -> LegArrays:
    """Make the arrays of usable legs of one installation.

    Parameters
    ----------
    campaign : Campaign
        Declared uncertainties.
    legs : DataFrame
        Rows of `leg_table` without a reason.
    extra : ndarray, shape (legs, extras)
        What may shift the curve [-].
    extra_sigma_ms : ndarray, shape (extras,)
        Belief in the size of each shift [m/s].

    Returns
    -------
    LegArrays
    """
    kind = legs["pattern"].to_numpy()
    pacing, course = kind == "pacing", kind == "speed course"
    direct = pacing | course
    rate = legs["indicated_airspeed_rate_ms2"].fillna(0.0).abs().to_numpy(dtype=float)
    late = campaign.sigma("airspeed_delay") * rate
    across = _across_sigma(legs)
    indicated = legs["indicated_airspeed_ms"].to_numpy(dtype=float)
    # Where the track was held in a crosswind, a pair comes out low by W^2/(2 V).
    unseen = np.where(np.isfinite(across), np.sqrt(0.75) * across**2 / indicated, 0.0)
    return LegArrays(
        indicated_ms=indicated,
        pressure_pa=np.where(pacing, np.nan, legs["pressure_pa"]),
        temperature_k=np.where(pacing, np.nan, legs["temperature_k"]),
        ground_east_ms=np.where(direct, np.nan, legs["ground_east_ms"]),
        ground_north_ms=np.where(direct, np.nan, legs["ground_north_ms"]),
        direct_ms=np.where(pacing, legs["reference_calibrated_ms"], np.nan),
        course_ms=np.where(course, legs["reference_true_ms"], np.nan),
        pattern=np.asarray(pd.factorize(legs["point"])[0], dtype=int),
        time_s=legs["time_s"].to_numpy(dtype=float),
        known_sigma_ms=np.select([pacing, course], [STATION_MS, STOPWATCH_MS], late),
        pattern_sigma_ms=np.select([pacing, course], [PACING_MS, COURSE_MS], unseen),
        across_sigma_ms=across,
        extra=extra,
        extra_sigma_ms=extra_sigma_ms,
        recovery_k=legs["recovery_k"].fillna(0.0).to_numpy(dtype=float),
    )


def _across_sigma(legs: pd.DataFrame) -> FloatArray:
    """One sigma of the wind across a pair; NaN for all other patterns."""
    sigma = np.full(len(legs), np.nan)
    for place in legs.groupby("point", sort=False).indices.values():
        own = legs.iloc[place]
        if own["pattern"].iloc[0] != "reciprocal pair" and len(own) != 2:
            continue
        if own["pattern"].iloc[0] in DIRECT or len(own) < 2:
            continue
        heading = own["heading_rad"].to_numpy(dtype=float)
        off = np.abs(np.angle(-np.exp(1j * (heading - heading[0]))))[1::2]
        held = len(off) > 0 and bool(np.all(off < OPPOSITE_RAD))
        sigma[place] = HELD_SIGMA_MS if held else TRACK_SIGMA_MS
    return sigma


def headings_carry(kind: str, heading_rad: FloatArray) -> tuple[float, str, float]:
    """Tell whether the headings of a pattern carry an airspeed.

    Parameters
    ----------
    kind : str
        Pattern as found or written.
    heading_rad : ndarray, shape (legs,)
        Heading of each leg as solved [rad].

    Returns
    -------
    condition : float
        One sigma of the airspeed for one of a leg [-]; NaN for pacing and speed courses.
    reason : str
        Why the pattern is refused, and what to fly; empty where it is not.
    add_rad : float
        Heading of one more leg that would help most [rad]; NaN for pacing and speed courses.

    Examples
    --------
    >>> headings_carry("box", np.radians([0.0, 20.0, 30.0]))[1]
    'the headings do not tell airspeed from wind: fly one leg near 190'
    """
    if kind in DIRECT:
        return float("nan"), "", float("nan")
    if not len(heading_rad):
        return float("inf"), "no usable leg", float("nan")
    add = heading_to_add_rad(heading_rad)
    if kind == "reciprocal pair" or len(heading_rad) == 2:
        apart = np.abs(np.angle(np.exp(1j * (heading_rad - heading_rad[0])))).max()
        condition = float(1 / np.sqrt(len(heading_rad))) if apart > np.radians(135) else np.inf
    else:
        condition = condition_of_headings(heading_rad)
    if condition <= CONDITION_LIMIT:
        return condition, "", add
    told = f"{round(np.degrees(add)) % 360:03d}"
    return condition, f"the headings do not tell airspeed from wind: fly one leg near {told}", add
