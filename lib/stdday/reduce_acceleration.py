"""Level accelerations to rate of climb over a range of airspeeds, beside that of the climbs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday import units
from stdday.errors import InputError
from stdday.ledger import in_parts
from stdday.reduce_climb import climbs_at_airspeed

if TYPE_CHECKING:
    from collections.abc import Mapping

    from stdday.campaign import Campaign
    from stdday.climb_model import ClimbFit
    from stdday.reduce_climb import OwnClimbs
    from stdday.uncertainty import Draws

__all__ = ["ACCELERATION_COLUMNS", "reduce_accelerations"]

FloatArray = NDArray[np.float64]

#: Columns of the table, airspeed [kt] and rates [ft/min].
ACCELERATION_COLUMNS = (
    "configuration",
    "flight",
    "point",
    "window",
    "airspeed",
    "reference_altitude",
    "rate",
    "rate_low",
    "rate_high",
    "climb_rate",
    "difference",
    "reason",
)


def reduce_accelerations(
    campaign: Campaign,
    segments: pd.DataFrame,
    draws: Draws,
    slopes: dict[str, float],
    fits: Mapping[str, ClimbFit],
) -> pd.DataFrame:
    """Turn every window of an acceleration into the rate of climb it stands for.

    Specific excess power ``dh/dt + V/g dV/dt``, less what a changing headwind gave, is corrected as
    a climb is: reference weight, full-throttle power of the reference day, and the reference
    altitude nearest to the one flown.

    Parameters
    ----------
    campaign : Campaign
        Reference conditions, flights and declared uncertainties.
    segments : DataFrame
        Segments of any kind; those of accelerations are taken.
    draws : Draws
        Draws of the errors that scatter cannot show.
    slopes : dict of str to float
        From `stdday.throttle.propeller_slopes`.
    fits : mapping of str to ClimbFit
        Climbs, from `stdday.climb_model.fit_climbs`.

    Returns
    -------
    DataFrame
        One row a window, columns `ACCELERATION_COLUMNS`. `rate_low` and `rate_high` hold 95 % of
        the shared errors alone. `climb_rate` is what the climbs say at that airspeed and altitude,
        empty where they were not flown there.
    """
    own = segments[segments["kind"] == "acceleration"].reset_index(drop=True)
    rows: list[dict[str, object]] = []
    for part in in_parts(own) if len(own) else []:
        rows += _part(campaign, part, draws, slopes, fits)
    return pd.DataFrame(rows, columns=list(ACCELERATION_COLUMNS))


def _part(
    campaign: Campaign,
    part: pd.DataFrame,
    draws: Draws,
    slopes: dict[str, float],
    fits: Mapping[str, ClimbFit],
) -> list[dict[str, object]]:
    part = part.reset_index(drop=True)
    nearest = [_nearest(campaign, str(row["flight"]), float(row["pressure_altitude_m"]))
               for row in part.to_dict("records")]  # fmt: skip
    windows = list(part["condition_id"])
    named = part.assign(
        condition_id=[f"climb_{place + 1}" for place in nearest],
        point=[f"{point} {window}" for point, window in zip(part["point"], windows, strict=True)],
    )
    names = dict(zip(named["point"], zip(part["point"], windows, strict=True), strict=True))
    blank: dict[str, object] = dict.fromkeys(ACCELERATION_COLUMNS, float("nan"))
    try:
        found = climbs_at_airspeed(campaign, named, draws, slopes)
    except InputError as error:
        return [blank | {"point": point, "flight": flight, "reason": str(error)}
                for point, flight in zip(part["point"], part["flight"], strict=True)]  # fmt: skip
    return [blank | _row(campaign, found, place, fits, *names[point])
            for place, point in enumerate(found.points)]  # fmt: skip


def _nearest(campaign: Campaign, flight: str, altitude_m: float) -> int:
    configuration = next(one.configuration for one in campaign.flights if one.id == flight)
    airplane = campaign.airplane_of(configuration).id
    altitudes = np.array(campaign.reference_for(airplane).climb_pressure_altitudes_m)
    return int(np.argmin(np.abs(altitudes - altitude_m)))


def _row(
    campaign: Campaign,
    found: OwnClimbs,
    place: int,
    fits: Mapping[str, ClimbFit],
    point: str,
    window: str,
) -> dict[str, object]:
    flight = found.flights[place]
    name = next(one.configuration for one in campaign.flights if one.id == flight)
    altitudes = campaign.reference_for(campaign.airplane_of(name).id).climb_pressure_altitudes_m
    speed, rate = float(found.calibrated_ms[0, place]), found.rate_ms[:, place]
    low, high = np.nanquantile(rate[1:], [0.025, 0.975]) if len(rate) > 1 else (np.nan, np.nan)
    climbed, reason = _climb_rate(fits.get(name), speed, int(found.places[place]) + 1)
    return {
        "configuration": name,
        "flight": flight,
        "point": point,
        "window": window,
        "airspeed": _unit(speed, "kt", "speed", 1),
        "reference_altitude": round(altitudes[found.places[place]] / 0.3048),
        "rate": _unit(float(rate[0]), "ft/min", "vertical_speed", 0),
        "rate_low": _unit(float(low), "ft/min", "vertical_speed", 0),
        "rate_high": _unit(float(high), "ft/min", "vertical_speed", 0),
        "climb_rate": _unit(climbed, "ft/min", "vertical_speed", 0),
        "difference": _unit(float(rate[0]) - climbed, "ft/min", "vertical_speed", 0),
        "reason": reason,
    }


def _climb_rate(fit: ClimbFit | None, speed_ms: float, number: int) -> tuple[float, str]:
    """What the climbs say at an airspeed and reference altitude, or why they say nothing."""
    if fit is None or number not in fit.numbers:
        return float("nan"), "no climbs through that reference altitude"
    if not fit.curved:
        return float("nan"), fit.reason
    if not fit.slowest_ms <= speed_ms <= fit.fastest_ms:
        ends = fit.slowest_ms * 3600 / 1852, fit.fastest_ms * 3600 / 1852
        return float("nan"), f"climbs were flown from {ends[0]:.0f} to {ends[1]:.0f} kt"
    place = fit.numbers.index(number)
    return float(fit.rate(fit.coefficients[:1], np.array([speed_ms]), place)[0, 0]), ""


def _unit(value: float, unit: str, dimension: str, decimals: int) -> float:
    return round(float(units.from_si(np.array([value]), unit, dimension)[0]), decimals) + 0.0
