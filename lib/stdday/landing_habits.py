"""How pilots change their touchdown airspeed with weight: from the landings themselves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import stats

from stdday.state import make_state
from stdday.uncertainty import Draws

if TYPE_CHECKING:
    from stdday.campaign import Campaign

__all__ = ["AirspeedHabit", "airspeed_habit", "habit_columns"]

FloatArray = NDArray[np.float64]

#: Exponent of touchdown airspeed against weight before any landing was seen, and one sigma [-]:
#: 0 where pilots fly one airspeed whatever the weight, 0.5 where they keep a fixed margin over the
#: stall, and either is common practice.
PRIOR, PRIOR_SIGMA = 0.25, 0.25
#: Least scatter of a flight's touchdown airspeed that is believed [-]: the airspeed at that moment
#: is not known better.
LEAST_SCATTER = 0.01
#: Least sum of squares of the logarithms of weight [-]: two flights 1.5 % apart.
LEAST_SPREAD = 1e-4


@dataclass(frozen=True)
class AirspeedHabit:
    """Exponent of touchdown airspeed against weight.

    Parameters
    ----------
    exponent, sigma : float
        The exponent and its one sigma [-], the prior joined in.
    words : str
        Where it comes from.
    """

    exponent: float
    sigma: float
    words: str


def airspeed_habit(
    weight_kg: FloatArray, airspeed_ms: FloatArray, groups: NDArray[np.str_]
) -> AirspeedHabit:
    """Exponent of touchdown airspeed against weight, from flight means and the prior.

    Parameters
    ----------
    weight_kg, airspeed_ms : ndarray, shape (flights,)
        Geometric means over the landings of each flight [kg, m/s].
    groups : ndarray of str, shape (flights,)
        Configuration of each flight: each has a level of its own.

    Returns
    -------
    AirspeedHabit
        The prior alone where flights or weights are too few or too much alike; never raises.

    Notes
    -----
    Least squares of ln V on ln W; the flight is the unit of repetition, and the standard error of
    few flights is widened by Student's t. Joined with the prior by variances.

    Examples
    --------
    Pilots who keep their margin over the stall:

    >>> weight = np.array([480.0, 500.0, 520.0, 560.0, 580.0, 600.0])
    >>> scatter = 1 + 0.01 * np.array([1, -1, 0, 0, -1, 1])
    >>> found = airspeed_habit(weight, weight**0.5 * scatter, np.array(["A"] * 6))
    >>> round(found.exponent, 2), round(found.sigma, 2)
    (0.48, 0.07)
    """
    prior = f"{PRIOR:g} +- {PRIOR_SIGMA:g}"
    weight, speed = (_without_means(np.log(one), groups) for one in (weight_kg, airspeed_ms))
    dof = len(weight) - len(set(groups)) - 1
    spread = float(weight @ weight)
    if dof < 1 or spread < LEAST_SPREAD:
        words = f"assumed {prior}: too few flights at different weights"
        return AirspeedHabit(PRIOR, PRIOR_SIGMA, words)
    slope = float(weight @ speed) / spread
    left = speed - slope * weight
    wide = float(stats.t.ppf(0.975, dof) / stats.norm.ppf(0.975))
    scatter = max(float(np.sqrt(left @ left / dof)), LEAST_SCATTER)
    error = wide * scatter / float(np.sqrt(spread))
    precision = error**-2 + PRIOR_SIGMA**-2
    joined = (slope * error**-2 + PRIOR * PRIOR_SIGMA**-2) / precision
    words = f"{slope:.2f} +- {error:.2f} by {len(weight)} flights, joined with {prior}"
    return AirspeedHabit(joined, precision**-0.5, words)


def _without_means(values: FloatArray, groups: NDArray[np.str_]) -> FloatArray:
    """Values less the mean of their group."""
    left = values.astype(float).copy()
    for name in set(groups):
        left[groups == name] -= left[groups == name].mean()
    return left


def habit_columns(campaign: Campaign, frame: pd.DataFrame) -> dict[str, list[float] | list[str]]:
    """Exponent of touchdown airspeed against weight for each landing, by its airplane.

    Parameters
    ----------
    campaign : Campaign
        Flights and airplanes.
    frame : DataFrame
        Segments of landings, as `stdday.state.make_state` takes them.

    Returns
    -------
    dict of str to list, length landings
        ``airspeed_exponent``, ``airspeed_exponent_sigma`` and ``airspeed_exponent_words``.

    Raises
    ------
    InputError
        Where a recorded state is outside of what the formulas answer for.
    """
    state = make_state(campaign, frame.reset_index(drop=True), Draws(0))
    table = pd.DataFrame({
        "flight": [flight.id for flight in state.flights],
        "configuration": state.configurations,
        "airplane": [state.airplane_of(flight).id for flight in state.flights],
        "weight": np.log(state.weight_kg[0]),
        "airspeed": np.log(np.where(state.calibrated_ms[0] > 0, state.calibrated_ms[0], np.nan)),
    })
    known = table.dropna().groupby(["airplane", "configuration", "flight"], sort=False)
    flights = known[["weight", "airspeed"]].mean().reset_index()
    habits = {
        airplane: airspeed_habit(
            np.exp(own["weight"].to_numpy()),
            np.exp(own["airspeed"].to_numpy()),
            own["configuration"].to_numpy(dtype=str),
        )
        for airplane in dict.fromkeys(table["airplane"])
        for own in [flights[flights["airplane"] == airplane]]
    }
    each = [habits[airplane] for airplane in table["airplane"]]
    return {
        "airspeed_exponent": [one.exponent for one in each],
        "airspeed_exponent_sigma": [one.sigma for one in each],
        "airspeed_exponent_words": [one.words for one in each],
    }
