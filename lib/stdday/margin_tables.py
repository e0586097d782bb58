"""Runway required against runway available on some days, as a table. Not approved data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from stdday import atmosphere, units
from stdday.bands import FOOT_M
from stdday.margins import CAUTION, Margin, MarginDay, takeoff_margin

if TYPE_CHECKING:
    from stdday.campaign import Campaign, Reference
    from stdday.ledger import Reduced
    from stdday.outcome import Outcome

__all__ = ["margins_table"]

#: Days beside the reference day: words, pressure altitude [m] and temperature over standard [K].
DAYS = (
    ("sea level, ISA", 0.0, 0.0),
    ("sea level, ISA+15", 0.0, 15.0),
    ("2000 ft, ISA", 2000 * FOOT_M, 0.0),
    ("2000 ft, ISA+15", 2000 * FOOT_M, 15.0),
)
#: A row that is cut out of the table still says this.
STANDING = "not approved data"
#: Name of the runway that ``[decide]`` asks about.
ASKED = "runway under [decide]"


def margins_table(
    campaign: Campaign, outcomes: Sequence[Outcome], reduced: Sequence[Reduced]
) -> pd.DataFrame:
    """Runway required on the reference day and a few others, against each length that is known.

    Parameters
    ----------
    campaign : Campaign
        Runways with a length, and ``[decide]``.
    outcomes : sequence of Outcome
        Values.
    reduced : sequence of Reduced
        Corrected points, for the conditions that were flown.

    Returns
    -------
    DataFrame
        One row a configuration, day and runway, at the reference weight [kg]; distances [m], NaN
        with a reason where refused. Empty where no length is known or no take-off was corrected.
    """
    rows = []
    for name in campaign.configurations:
        known = [o for o in outcomes if o.configuration == name and o.estimate is not None
                 and o.metric in ("takeoff_distance_50ft", "takeoff_ground_roll")]  # fmt: skip
        if not known:
            continue
        reference = campaign.reference_for(campaign.configurations[name].airplane)
        for runway, slope, surface, length_m in _runways(campaign, reference):
            for told, altitude_m, offset_k in _days(reference):
                standard = float(atmosphere.standard_temperature_k(altitude_m))
                day = MarginDay(reference.weight_kg, altitude_m, standard + offset_k, slope,
                                surface, length_m)  # fmt: skip
                margin = takeoff_margin(campaign, outcomes, reduced, name, day)
                rows.append(_row(margin, told, runway, day))
    return pd.DataFrame(rows)


def _runways(
    campaign: Campaign, reference: Reference
) -> Iterator[tuple[str, float, str, float]]:
    """Name, slope, surface and length of each runway with a length [m]."""
    for airfield, entry in campaign.airfields.items():
        for runway in entry.runways:
            if runway.length_m is not None:
                surface = runway.surface or reference.runway_surface
                yield f"{airfield} {runway.name}", runway.slope, surface, runway.length_m
    if campaign.decide.runway_m is not None:
        yield ASKED, reference.runway_slope, reference.runway_surface, campaign.decide.runway_m


def _days(reference: Reference) -> list[tuple[str, float, float]]:
    """The reference day first, then those of `DAYS` that are others."""
    own = reference.takeoff_pressure_altitude_m, reference.temperature_offset_k
    others = [day for day in DAYS if not np.allclose(day[1:], own, atol=0.5)]
    return [("reference day", *own), *others]


def _row(margin: Margin, told: str, runway: str, day: MarginDay) -> dict[str, Any]:
    """One row; distances rounded to a tenth."""
    reference_m = margin.required_m / margin.factor
    distances = {
        "required": margin.required_m,
        "low": margin.low_m,
        "high": margin.high_m,
        "high_with_safety_factor": margin.with_safety_factor_m,
        "by_public_factors": reference_m * margin.public_factor,
        "available": day.available_m,
        "left_over_high": day.available_m - margin.high_m,
    }
    said = [word for word in margin.words if word != CAUTION]
    celsius = float(units.from_si(np.array([day.temperature_k]), "degC", "temperature")[0])
    return {
        "configuration": margin.configuration,
        "metric": margin.metric,
        "day": told,
        "pressure_altitude [ft]": round(day.pressure_altitude_m / FOOT_M),
        "temperature [degC]": round(celsius, 1),
        "weight [kg]": round(day.weight_kg, 1),
        "runway": runway,
        "slope [%]": round(100 * day.slope, 2),
        "surface": day.surface,
        **{f"{name} [m]": round(value, 1) for name, value in distances.items()},
        "factor": round(margin.factor, 3),
        "public_factor": round(margin.public_factor, 3),
        "words": "; ".join(said),
        "reason": margin.reason,
        "caution": STANDING,
    }
