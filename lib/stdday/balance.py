"""Balance: under which conditions each configuration was flown, and whether they overlap."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from stdday import units
from stdday.ledger import Reduced
from stdday.metrics import METRICS

if TYPE_CHECKING:
    from stdday.campaign import Campaign

__all__ = ["CONDITIONS", "balance_table", "flown_apart"]

#: Conditions of the balance: title, dimension, unit, decimals, and the gap between the ranges of
#: flight means beyond which two configurations are called flown apart (SI). Common practice.
CONDITIONS: dict[str, tuple[str, str, str, int, float]] = {
    "weight_kg": ("weight", "mass", "kg", 0, 20.0),
    "density_altitude_m": ("density altitude", "length", "ft", 0, 300.0),
    "temperature_k": ("temperature", "temperature", "degC", 1, 8.0),
    "vapour_pressure_pa": ("vapour pressure", "pressure", "hPa", 1, 800.0),
    "headwind_ms": ("headwind", "speed", "kt", 1, 2.6),
}


def _flight_means(reduced: Reduced, condition: str) -> dict[str, float]:
    values = reduced.conditions[condition]
    names = np.array(reduced.flights)
    return {name: float(np.mean(values[names == name])) for name in dict.fromkeys(reduced.flights)}


def balance_table(campaign: Campaign, reduced: Sequence[Reduced]) -> pd.DataFrame:
    """Conditions of the flights behind each metric, configuration by configuration.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    reduced : sequence of Reduced
        Corrected points with the conditions they were flown in.

    Returns
    -------
    DataFrame
        One row a metric, condition id, condition and configuration: least, mean and greatest of
        the flight means, in the unit given.
    """
    configuration = {flight.id: flight.configuration for flight in campaign.flights}
    rows = []
    for item in reduced:
        for name in item.conditions:
            title, dimension, unit, decimals, _ = CONDITIONS[name]
            means = _flight_means(item, name)
            for wanted in campaign.configurations:
                own = [value for flight, value in means.items() if configuration[flight] == wanted]
                if not own:
                    continue
                values = np.round(units.from_si(np.array(own), unit, dimension), decimals + 1)
                rows.append(
                    {
                        "metric": item.metric,
                        "condition_id": item.condition_id,
                        "quantity": title,
                        "unit": unit,
                        "configuration": wanted,
                        "flights": len(own),
                        "least": float(values.min()),
                        "mean": float(np.round(values.mean(), decimals + 1)),
                        "greatest": float(values.max()),
                    }
                )
    return pd.DataFrame(
        rows,
        columns=[
            "metric",
            "condition_id",
            "quantity",
            "unit",
            "configuration",
            "flights",
            "least",
            "mean",
            "greatest",
        ],
    )


def flown_apart(campaign: Campaign, reduced: Sequence[Reduced]) -> dict[tuple[str, str], str]:
    """Find configurations whose flights do not overlap with the reference's in a condition.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    reduced : sequence of Reduced
        Corrected points with the conditions they were flown in.

    Returns
    -------
    dict of (metric, configuration) to str
        In words, where the ranges of flight means lie farther apart than `CONDITIONS` allows.

    Notes
    -----
    Density altitude and temperature say much the same of one flight; each has its own limit, since
    an engine feels temperature and humidity beyond density.
    """
    configuration = {flight.id: flight.configuration for flight in campaign.flights}
    found: dict[tuple[str, str], list[str]] = {}
    for item in reduced:
        for name, (title, dimension, unit, decimals, limit) in CONDITIONS.items():
            if name not in item.conditions:
                continue
            means = _flight_means(item, name)
            groups = {
                wanted: [v for flight, v in means.items() if configuration[flight] == wanted]
                for wanted in campaign.configurations
            }
            reference = groups[campaign.compare_reference]
            for wanted, own in groups.items():
                if not own or not reference or wanted == campaign.compare_reference:
                    continue
                shift = _own_reference(campaign, wanted) if name == "weight_kg" else 0.0
                if max(min(own) - max(reference) - shift,
                       min(reference) + shift - max(own)) <= limit:
                    continue
                ends = units.from_si(
                    np.array([min(reference), max(reference), min(own), max(own)]), unit, dimension
                )
                words = (
                    f"{title} {ends[0]:.{decimals}f} to {ends[1]:.{decimals}f} {unit} with "
                    f"{campaign.compare_reference}, {ends[2]:.{decimals}f} to "
                    f"{ends[3]:.{decimals}f} {unit} with {wanted}"
                )
                for metric in _metrics_of(item.metric):
                    found.setdefault((metric, wanted), []).append(words)
    return {
        key: "conditions do not overlap: " + "; ".join(dict.fromkeys(words))
        for key, words in found.items()
    }


def _own_reference(campaign: Campaign, configuration: str) -> float:
    """Reference weight of a configuration's airplane over that of the reference's [kg].

    Airplanes of a club are each corrected to a weight of their own, so each is as far from it.
    """
    own, reference = (
        campaign.reference_for(campaign.configurations[name].airplane).weight_kg
        for name in (configuration, campaign.compare_reference)
    )
    return own - reference


def _metrics_of(metric: str) -> tuple[str, ...]:
    """Metrics that rest on the same points."""
    families = (
        ("takeoff_ground_roll", "takeoff_time_to_liftoff", "takeoff_distance_50ft"),
        ("climb_rate", "climb_gradient"),
        ("cruise_true_airspeed", "fuel_flow", "specific_range"),
    )
    for family in families:
        if metric in family:
            return family
    return (metric,) if metric in METRICS else ()
