"""Airspeed calibration from flights: one curve an installation and flap setting, from all patterns.

What GPS speeds give is the total error, pitot and static together.  Everything a person wants to
see of it is in the `Calibration`; how far the altimeter shares the error is said in `state`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday.atmosphere import GAS_CONSTANT_J_KG_K, GRAVITY_MS2
from stdday.calibrate import Calibration
from stdday.calibrate_legs import headings_carry, leg_arrays, leg_table
from stdday.calibrate_words import effect_words, shown_legs, shown_patterns, shown_table, told
from stdday.errors import InputError
from stdday.pattern_curve import curve_with
from stdday.pattern_fit import PatternFit, fit_patterns
from stdday.position_error import KNOTS_MS, AirspeedCurve
from stdday.state import LAPSE_SIGMA_K

if TYPE_CHECKING:
    from stdday.campaign import Campaign

__all__ = ["fit_calibrations"]

FloatArray = NDArray[np.float64]

_KT = 1852 / 3600
#: Belief in the shift of one configuration where several were calibrated, and of full rated power,
#: one sigma [m/s]: wide, so that the legs decide. Engineering judgement.
CONFIGURATION_MS, POWER_MS = 2.0 * _KT, 5.0 * _KT
#: Powers of the legs must scatter by this share of rated power for their effect to be tested [-].
POWER_SCATTER = 0.05
#: Legs of one installation that are fitted together at most [-]: time grows with the cube of their
#: number, and what 25 boxes leave open is common to all of them. Engineering judgement.
MOST_LEGS = 100
#: Name in the table of effects of the shift with power.
POWER = "full rated power"


def fit_calibrations(
    campaign: Campaign, segments: pd.DataFrame
) -> dict[tuple[str, str], Calibration]:
    """Fit every installation's airspeed curve to all of its usable patterns.

    Parameters
    ----------
    campaign : Campaign
        The campaign; its own `calibrations` are not looked at.
    segments : DataFrame
        Segments of the used points, of all kinds.

    Returns
    -------
    dict of (installation, flaps) to Calibration
        Also where no pattern is usable, or none was flown although the campaign asks for
        ``from flights``: then without curves, and with words on what to fly.

    Notes
    -----
    A curve of flights that the campaign does not ask for (``none``, or the owner's table) is made
    and shown, and not used.
    """
    table = leg_table(campaign, segments)
    found: dict[tuple[str, str], Calibration] = {}
    for (installation, flaps), own in _groups(table):
        found[installation, flaps] = _calibration(campaign, installation, flaps, own)
    for flight in campaign.flights:
        airplane = campaign.airplane_of(flight.configuration)
        key = (flight.installation, "")
        if airplane.airspeed_calibration == "from flights" and key not in found:
            found[key] = _calibration(campaign, flight.installation, "", table.iloc[:0])
    return found


def _groups(table: pd.DataFrame) -> Iterator[tuple[tuple[str, str], pd.DataFrame]]:
    if not len(table):
        return
    for key, own in table.groupby(["installation", "flaps"], sort=False):
        yield (str(key[0]), str(key[1])), own.reset_index(drop=True)


def _calibration(
    campaign: Campaign, installation: str, flaps: str, legs: pd.DataFrame
) -> Calibration:
    airplane = next(
        campaign.airplane_of(flight.configuration)
        for flight in campaign.flights
        if flight.installation == installation
    )
    legs, fit, carried = _fit(campaign, legs)
    reference = campaign.reference_for(airplane.id)
    usable = legs[legs["reason"] == ""].reset_index(drop=True) if len(legs) else legs
    curves: dict[str, AirspeedCurve] = {}
    effects = pd.DataFrame()
    if fit is not None:
        curves = _curves(campaign, usable, fit)
        effects = pd.DataFrame([*_between(usable, fit), *_power(campaign, usable, airplane.id)])
    return Calibration(
        installation=installation,
        flaps=flaps,
        airplane=airplane.id,
        curves=curves,
        temperature_from="lapse" if len(usable) and usable["lapsed"].mean() > 0.5
        else "temperature probe",
        used=airplane.airspeed_calibration == "from flights",
        legs=shown_legs(legs, usable, fit),
        patterns=shown_patterns(legs, usable, fit, carried),
        table=shown_table(curves),
        effects=effects,
        words=(*told(legs, fit, curves, reference), *(effect_words(effects) if curves else ())),
    )


def _fit(
    campaign: Campaign, legs: pd.DataFrame
) -> tuple[pd.DataFrame, PatternFit | None, dict[str, tuple[float, str, float]]]:
    """Fit, refuse the patterns whose headings do not carry an airspeed, and fit without them."""
    if not len(legs):
        return legs, None, {}
    legs = _not_too_many(legs)
    fit = _fitted(campaign, legs[legs["reason"] == ""])
    usable = legs[legs["reason"] == ""]
    carried = {}
    reasons = legs["reason"].copy()
    for point, own in legs.groupby("point", sort=False):
        places = np.flatnonzero((usable["point"] == point).to_numpy())
        heading = fit.heading_rad[places] if fit is not None else np.empty(0)
        condition, refused, added = headings_carry(str(own["pattern"].iloc[0]), heading)
        if not len(places) and (own["reason"] != "").all():
            refused = str(own["reason"].iloc[0])
        carried[str(point)] = condition, refused, added
        if refused:
            reasons[own.index] = reasons[own.index].where(reasons[own.index] != "", refused)
    lost = not reasons.equals(legs["reason"])
    legs = legs.assign(reason=reasons)
    return legs, _fitted(campaign, legs[reasons == ""]) if lost else fit, carried


def _not_too_many(legs: pd.DataFrame) -> pd.DataFrame:
    """Set patterns aside where there are more than a fit takes.

    Every configuration and the whole range of airspeeds keep their share.
    """
    usable = legs[legs["reason"] == ""]
    every = -(-len(usable) // MOST_LEGS)
    if every <= 1:
        return legs
    patterns = usable.groupby(["configuration", "point"])["indicated_airspeed_ms"].mean()
    ordered = patterns.reset_index().sort_values(
        ["configuration", "indicated_airspeed_ms", "point"]
    )
    enough = f"not needed: of {len(ordered)} patterns one in {every} is fitted"
    spare = legs["point"].isin(set(ordered["point"]) - set(ordered["point"].iloc[::every]))
    return legs.assign(reason=legs["reason"].mask(spare & (legs["reason"] == ""), enough))


def _fitted(
    campaign: Campaign, usable: pd.DataFrame, power: FloatArray | None = None
) -> PatternFit | None:
    """Joint fit of usable legs; None without any."""
    if not len(usable):
        return None
    names = list(dict.fromkeys(usable["configuration"]))
    extra = np.empty((len(usable), 0))
    sigma = np.empty(0)
    if len(names) > 1:
        extra = np.column_stack([usable["configuration"] == name for name in names]).astype(float)
        sigma = np.full(len(names), CONFIGURATION_MS)
    if power is not None:
        extra, sigma = np.column_stack([extra, power]), np.append(sigma, POWER_MS)
    return fit_patterns(leg_arrays(campaign, usable.reset_index(drop=True), extra, sigma))


def _curves(
    campaign: Campaign, usable: pd.DataFrame, fit: PatternFit
) -> dict[str, AirspeedCurve]:
    """Curve of each calibrated configuration, with the shared errors of its air."""
    names = list(dict.fromkeys(usable["configuration"]))
    mostly_lapsed = usable["lapsed"].mean() > 0.5
    probe = LAPSE_SIGMA_K if mostly_lapsed else campaign.sigma("outside_air_temperature_bias")
    density = (usable["pressure_pa"] / (GAS_CONSTANT_J_KG_K * usable["temperature_k"])).mean()
    pressure = -density * GRAVITY_MS2 * campaign.sigma("pressure_altitude")
    pressure = float(pressure) if np.isfinite(pressure) else 0.0
    rows = np.eye(len(names)) if len(names) > 1 else np.empty((1, 0))
    return {name: curve_with(fit, row, probe, pressure) for name, row in
            zip(names, rows, strict=True)}


def _between(usable: pd.DataFrame, fit: PatternFit) -> Iterator[dict[str, object]]:
    """Shift of the curve from the first configuration to each other."""
    names = list(dict.fromkeys(usable["configuration"]))
    first = len(KNOTS_MS)
    for place, name in enumerate(names[1:], start=1):
        gradient = np.zeros(len(fit.correction))
        gradient[first], gradient[first + place] = -1.0, 1.0
        sigma = float(np.sqrt(gradient @ fit.covariance @ gradient))
        yield {"effect": "configuration", "of": name, "against": names[0],
               "shift_ms": float(gradient @ fit.correction), "sigma_ms": sigma, "dof": fit.dof}


def _power(campaign: Campaign, usable: pd.DataFrame, airplane: str) -> Iterator[dict[str, object]]:
    """Shift of the curve with power, by a second fit."""
    rated = campaign.airplanes[airplane].rated_power_w
    share = usable["power_w"].to_numpy(dtype=float) / rated
    if not np.isfinite(share).all() or np.std(share) < POWER_SCATTER:
        return
    fit = _fitted(campaign, usable, share - share.mean())
    if fit is None:
        raise InputError("legs must hold a usable leg for the effect of power; got none")
    yield {"effect": "power", "of": POWER, "against": "no power",
           "shift_ms": float(fit.correction[-1]),
           "sigma_ms": float(np.sqrt(fit.covariance[-1, -1])), "dof": fit.dof}
