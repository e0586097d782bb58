"""Indicated to calibrated airspeed: the owner's table, or none and what that costs.

A calibration from recorded flights is a later capability; until it is there, a campaign that asks
for it is treated as uncalibrated, and the results say so.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

if TYPE_CHECKING:
    from stdday.campaign import Airplane, Campaign, Flight
    from stdday.uncertainty import Draws

__all__ = ["calibrated_airspeed_ms", "calibration_sigma_ms", "has_calibration"]

FloatArray = NDArray[np.float64]

#: One sigma of an airspeed system that nobody has calibrated: an offset [m/s] and a scale [-].
UNCALIBRATED_OFFSET_MS, UNCALIBRATED_SCALE = 3 * 1852 / 3600, 0.02
#: Airspeed error grows by this much for each m/s outside of the owner's table [-].
GROWTH_OUTSIDE = 0.1
#: Airspeeds [m/s] over which a calibration error turns from one independent value to another.
SLOW_MS, FAST_MS = 20.0, 65.0


def has_calibration(airplane: Airplane) -> bool:
    """Whether the campaign gives a table of indicated and calibrated airspeeds for the airplane.

    Parameters
    ----------
    airplane : Airplane
        Airplane of the campaign.

    Returns
    -------
    bool
        False for ``none``, and for ``from flights`` as long as that is not made.
    """
    return not isinstance(airplane.airspeed_calibration, str)


def _table(airplane: Airplane) -> FloatArray:
    return np.array(sorted(airplane.airspeed_calibration), dtype=float)


def calibration_sigma_ms(
    campaign: Campaign, airplane: Airplane, indicated_ms: ArrayLike
) -> FloatArray:
    """One sigma of the calibrated airspeed that all flights of an installation share [m/s].

    Parameters
    ----------
    campaign : Campaign
        Source of the declared uncertainties.
    airplane : Airplane
        Airplane whose calibration is asked for.
    indicated_ms : array_like, any shape
        Indicated airspeed [m/s].

    Returns
    -------
    ndarray
        Standard deviation [m/s], of the shape given.
    """
    indicated = np.asarray(indicated_ms, dtype=float)
    if not has_calibration(airplane):
        wide: FloatArray = np.hypot(UNCALIBRATED_OFFSET_MS, UNCALIBRATED_SCALE * indicated)
        return wide
    table = _table(airplane)
    outside = np.maximum(table[0, 0] - indicated, 0) + np.maximum(indicated - table[-1, 0], 0)
    grown: FloatArray = np.hypot(
        campaign.sigma("airspeed_calibration_table"), GROWTH_OUTSIDE * outside
    )
    return grown


def calibrated_airspeed_ms(
    campaign: Campaign, flights: Sequence[Flight], indicated_ms: ArrayLike, draws: Draws
) -> FloatArray:
    """Calibrated airspeed of test points, with draws of the errors that flights share.

    Parameters
    ----------
    campaign : Campaign
        Source of tables and declared uncertainties.
    flights : sequence of Flight, length points
        Flight of each point.
    indicated_ms : array_like, shape (points,)
        Indicated airspeed [m/s].
    draws : Draws
        Draws; the part common to an installation and the part of each configuration are drawn
        apart, since only the first cancels in a difference.

    Returns
    -------
    ndarray, shape (draws + 1, points)
        Calibrated airspeed [m/s].

    Notes
    -----
    The shared error is one value at low and another, independent one at high airspeed, blended so
    that its size is the declared one everywhere: neighbouring airspeeds err together.
    """
    indicated = np.asarray(indicated_ms, dtype=float)
    nominal, sigma = indicated.copy(), np.zeros_like(indicated)
    for place, flight in enumerate(flights):
        airplane = campaign.airplanes[campaign.configurations[flight.configuration].airplane]
        if has_calibration(airplane):
            table = _table(airplane)
            nominal[place] += np.interp(indicated[place], table[:, 0], table[:, 1] - table[:, 0])
        sigma[place] = calibration_sigma_ms(campaign, airplane, indicated[place])
    installations = [flight.installation for flight in flights]
    configurations = [flight.configuration for flight in flights]
    angle = np.interp(indicated, [SLOW_MS, FAST_MS], [0.0, np.pi / 2])
    shared = sigma * (
        np.cos(angle) * draws.normal("airspeed calibration, slow", "shared", installations)
        + np.sin(angle) * draws.normal("airspeed calibration, fast", "shared", installations)
    )
    own = campaign.sigma("airspeed_between_configurations") * draws.normal(
        "airspeed calibration of the configuration", "configuration", configurations
    )
    result: FloatArray = nominal + shared + own
    return result
