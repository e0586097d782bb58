"""Words for the reference condition of a result."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stdday.metrics import METRICS

if TYPE_CHECKING:
    from stdday.campaign import Campaign, Reference

__all__ = ["condition_words"]


def condition_words(campaign: Campaign, configuration: str, metric: str, condition_id: str) -> str:
    """Reference condition of a result, as ``key=value`` pairs in the order of the metric table.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    configuration : str
        Configuration; airplanes of a club may have reference conditions of their own.
    metric, condition_id : str
        The result.

    Returns
    -------
    str
        Empty for a metric stated as flown.
    """
    reference = campaign.reference_of(configuration)
    kind, _, which = condition_id.partition("_")
    common = f"{reference.climb_airspeed_ms * 3600 / 1852:.0f} kt"
    known = {
        "power": f"{which} %",
        "pressure_altitude": _altitude_words(reference, kind, which),
        "temperature": f"ISA{reference.temperature_offset_k:+.0f}",
        "weight": f"{reference.weight_kg:.0f} kg",
        "liftoff_airspeed": f"{reference.liftoff_airspeed_ms * 3600 / 1852:.0f} kt",
        "airspeed": {"bestrate": "best rate", "bestangle": "best angle"}.get(kind, common),
        "true_airspeed": f"{which} kt",
    }
    return "; ".join(f"{key}={known[key]}" for key in METRICS[metric].conditions)


def _altitude_words(reference: Reference, kind: str, which: str) -> str:
    """Pressure altitude of a kind of condition, in words."""
    climbs = reference.climb_pressure_altitudes_m
    if kind == "toclimb":
        return f"{min(climbs) / 0.3048:.0f} ft to {max(climbs) / 0.3048:.0f} ft"
    if kind in ("climb", "bestrate", "bestangle"):
        altitude = climbs[int(which) - 1]
    elif kind in ("takeoff", "landing"):
        altitude = reference.takeoff_pressure_altitude_m
    else:
        altitude = reference.cruise_pressure_altitude_m
    return f"{altitude / 0.3048:.0f} ft"
