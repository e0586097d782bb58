"""Propeller blades: the power that goes into the drag of their sections."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from stdday import _ranges
from stdday._arrays import FloatOrArray, as_result, checked

__all__ = ["BLADE_ACTIVITY", "SECTION_DRAG", "profile_power_w"]

#: Activity factor of one blade of a light airplane's propeller [-]. Common practice: 80 to 120.
BLADE_ACTIVITY = 100.0
#: Mean drag coefficient of its sections in cruise [-]. Common practice: 0.008 to 0.018.
SECTION_DRAG = 0.012
#: Root of the working blade as a share of the radius [-].
_ROOT = 0.15
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(6)


def profile_power_w(
    true_ms: ArrayLike,
    speed_rps: ArrayLike,
    density_kg_m3: ArrayLike,
    diameter_m: ArrayLike,
    blades: ArrayLike,
    activity_factor: ArrayLike = BLADE_ACTIVITY,
    section_drag: ArrayLike = SECTION_DRAG,
) -> FloatOrArray:
    """Power that the blades of a propeller lose to the drag of their sections.

    Drag times speed along the helix, ``B rho/2 c cd`` times the integral of W^3 dr with
    ``W^2 = V^2 + (2 pi n r)^2``, for a chord that is constant from 0.15 of the radius.

    Parameters
    ----------
    true_ms : array_like, any shape
        True airspeed V [m/s], 0 to 300.
    speed_rps : array_like, broadcasts
        Propeller speed n [rev/s], 0.1 to 200.
    density_kg_m3 : array_like, broadcasts
        Air density rho [kg/m^3], 0.2 to 1.6.
    diameter_m : array_like, broadcasts
        Propeller diameter [m], 0.1 to 20.
    blades : array_like, broadcasts
        Number of blades B [-], 1 to 12.
    activity_factor : array_like, broadcasts
        Activity factor of one blade [-], 20 to 300, which gives the chord c.
    section_drag : array_like, broadcasts
        Mean drag coefficient cd of the sections [-], 0 to 0.2.

    Returns
    -------
    float or ndarray
        Power [W]; in cruise near a twelfth of the shaft power.

    Raises
    ------
    InputError
        An argument is out of its range.

    Notes
    -----
    Blade element theory without induced speed, in every textbook of propellers. Typical sizes of
    chord and drag: common practice, no source.

    Examples
    --------
    >>> round(profile_power_w(53.0, 34.9, 1.087, 1.7, 3), -1)
    3670.0
    """
    number = checked("blades [-]", blades, 1.0, 12.0, "a number of blades")
    activity = checked("activity_factor [-]", activity_factor, 20.0, 300.0, "of one blade")
    drag = checked("section_drag [-]", section_drag, 0.0, 0.2, "a coefficient, near 0.012")
    true = _ranges.true_airspeed(true_ms)
    diameter = _ranges.diameter(diameter_m)
    tip = np.pi * _ranges.propeller_speed(speed_rps) * diameter
    cubed: FloatOrArray = 0.0
    for node, weight in zip(_NODES, _WEIGHTS, strict=True):
        station = _ROOT + (1.0 - _ROOT) * (node + 1.0) / 2.0
        cubed = cubed + weight / 2.0 * (true**2 + (tip * station) ** 2) ** 1.5
    chord = activity * 64.0 / (100_000.0 * (1.0 - _ROOT**4)) * diameter
    blade = (1.0 - _ROOT) * diameter / 2.0 * cubed
    return as_result(number * _ranges.air_density(density_kg_m3) / 2.0 * chord * drag * blade)
