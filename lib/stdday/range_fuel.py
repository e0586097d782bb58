"""Range on a load of fuel, and distance for each unit of it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from stdday import _ranges
from stdday._arrays import FloatOrArray, as_result, checked
from stdday.atmosphere import GRAVITY_MS2

__all__ = ["breguet_range_m", "specific_range_m_m3"]


def breguet_range_m(
    efficiency: ArrayLike,
    specific_consumption_kg_j: ArrayLike,
    glide_ratio: ArrayLike,
    start_weight_kg: ArrayLike,
    end_weight_kg: ArrayLike,
) -> FloatOrArray:
    """Still-air range of a propeller airplane at one lift coefficient.

    ``R = eta/(c g) (L/D) ln(W0/W1)``.

    Parameters
    ----------
    efficiency : array_like, any shape
        Propulsive efficiency eta [-], 0.2 to 1.
    specific_consumption_kg_j : array_like, broadcasts
        Fuel mass for each joule of brake work c [kg/J], 3e-8 to 3e-7.
    glide_ratio : array_like, broadcasts
        Lift over drag [-], 1 to 70.
    start_weight_kg, end_weight_kg : array_like, broadcast
        Weights W0 and W1 [kg], 20 to 1e5, the second not above the first.

    Returns
    -------
    float or ndarray
        Range [m].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Breguet's equation, in every textbook; airspeed falls as the airplane gets lighter.

    Examples
    --------
    >>> round(breguet_range_m(0.8, 7.6e-8, 11.0, 1089.0, 980.0) / 1852)
    672
    """
    hint = "kg/J: 0.45 lb/(hp h) is 7.6e-8"
    consumption = checked(
        "specific_consumption_kg_j [kg/J]", specific_consumption_kg_j, 3e-8, 3e-7, hint
    )
    ratio = checked("glide_ratio [-]", glide_ratio, 1.0, 70.0, "lift over drag")
    start, end = _ranges.mass(start_weight_kg), _ranges.mass(end_weight_kg, "end_weight_kg")
    lighter = checked("start over end weight [-]", start / end, 1.0, 5.0, "fuel is burnt")
    share = _ranges.efficiency(efficiency) / (consumption * GRAVITY_MS2)
    return as_result(share * ratio * np.log(lighter))


def specific_range_m_m3(true_ms: ArrayLike, fuel_flow_m3s: ArrayLike) -> FloatOrArray:
    """Distance through still air for each unit of fuel.

    Parameters
    ----------
    true_ms : array_like, any shape
        True airspeed [m/s], 0 to 300.
    fuel_flow_m3s : array_like, broadcasts
        Fuel flow [m^3/s], 1e-9 to 1e-3.

    Returns
    -------
    float or ndarray
        Specific range [m/m^3].

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Definition.

    Examples
    --------
    53 m/s on 18 L/h:

    >>> round(specific_range_m_m3(53.0, 18e-3 / 3600) / 1852e3, 2)
    5.72
    """
    hint = "m^3/s: 20 L/h is 5.6e-6"
    flow = checked("fuel_flow_m3s [m^3/s]", fuel_flow_m3s, 1e-9, 1e-3, hint)
    return as_result(_ranges.true_airspeed(true_ms) / flow)
