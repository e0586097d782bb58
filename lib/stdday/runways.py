"""The runway of each take-off or landing: slope with its draws, surface, and which one it was."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday.takeoff_roll import runway_of

if TYPE_CHECKING:
    from stdday.campaign import Campaign, Flight
    from stdday.state import State
    from stdday.uncertainty import Draws

__all__ = ["landed_on", "slope_of", "surface_differs"]

FloatArray = NDArray[np.float64]

#: A roll belongs to a runway whose bearing is no farther away than this [rad]: 30 deg.
ALONG_RAD = np.pi / 6


def slope_of(state: State, draws: Draws) -> FloatArray:
    """Slope of the runway in the direction of each roll; its two ends err oppositely.

    Parameters
    ----------
    state : State
        Take-offs or landings.
    draws : Draws
        Draws of the errors that flights share.

    Returns
    -------
    ndarray, shape (draws + 1, points)
        Slope [-], positive uphill; nominally zero where no runway is known.
    """
    nominal, sign, keys = np.zeros(len(state.flights)), np.ones(len(state.flights)), []
    for place, flight in enumerate(state.flights):
        runway = runway_of(state, flight)
        keys.append(f"{flight.airfield}")
        if runway is not None:
            nominal[place] = runway.slope
            sign[place] = 1.0 if runway.true_bearing_rad % (2 * np.pi) < np.pi else -1.0
            keys[-1] += f" {np.rad2deg(runway.true_bearing_rad) % 180:.0f}"
    sigma = state.campaign.sigma("runway_slope")
    slope: FloatArray = nominal + sigma * sign * draws.normal("runway slope", "shared", keys)
    return slope


def surface_differs(state: State, flight: Flight) -> str:
    """Words where a roll was on another surface than the reference's: surfaces are never pooled.

    Parameters
    ----------
    state : State
        Take-offs or landings.
    flight : Flight
        Flight of one of them.

    Returns
    -------
    str
        Empty where surface and condition are those of the reference, or not known.
    """
    wanted = state.campaign.reference_for(state.airplane_of(flight).id).runway_surface
    runway = runway_of(state, flight)
    parts = [runway.surface] if runway is not None and runway.surface else []
    parts += [flight.runway_condition] if flight.runway_condition else []
    flown = {part.strip().casefold() for text in parts for part in text.split(",")}
    if flown <= {part.strip().casefold() for part in wanted.split(",")}:
        return ""
    return f"surface {', '.join(parts)!r}, reference {wanted!r}: surfaces are never pooled"


def landed_on(campaign: Campaign, segments: pd.DataFrame) -> pd.Series:
    """Name of the runway of each landing, by its track.

    A flight names the runway of its take-off; it may land the other way.

    Parameters
    ----------
    campaign : Campaign
        Flights and airfields.
    segments : DataFrame
        Landings, with ``track_rad``, and ``decided_runway`` where a person decided.

    Returns
    -------
    Series of str or None
        What was decided; else the runway of the flight's airfield within 30 deg of the track,
        empty where none lies that way; None where the track is not known.
    """
    flights = {flight.id: flight for flight in campaign.flights}
    decided = segments.get("decided_runway")
    names: list[str | None] = []
    for place, (name, track) in enumerate(
        zip(segments["flight"], segments["track_rad"], strict=True)
    ):
        if decided is not None and not pd.isna(decided.iloc[place]):
            names.append(str(decided.iloc[place]))
            continue
        airfield = flights[str(name)].airfield
        runways = campaign.airfields[airfield].runways if airfield else ()
        apart = {
            runway.name: abs((runway.true_bearing_rad - track + np.pi) % (2 * np.pi) - np.pi)
            for runway in runways
        }
        near = min(apart, key=lambda one: apart[one], default="") if np.isfinite(track) else None
        names.append(near if not near or apart[near] <= ALONG_RAD else "")
    return pd.Series(names, index=segments.index, dtype=object)
