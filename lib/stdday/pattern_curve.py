"""The curve of one configuration out of what all legs together say."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from stdday._arrays import FloatArray
from stdday.pattern_fit import PatternFit
from stdday.position_error import KNOTS_MS, AirspeedCurve

__all__ = ["curve_with"]


def curve_with(
    fit: PatternFit, extra: ArrayLike, probe_sigma_k: float, pressure_sigma_pa: float
) -> AirspeedCurve:
    """Curve with given values of what shifts it.

    Parameters
    ----------
    fit : PatternFit
        What all legs say.
    extra : array_like, shape (extras,)
        Value of each extra column [-], as in the legs.
    probe_sigma_k : float
        One sigma of the temperature probe [K].
    pressure_sigma_pa : float
        One sigma of the static pressure [Pa].

    Returns
    -------
    AirspeedCurve
        Curves of one fit have the same parts, in the same order: draws of them belong together.

    Raises
    ------
    InputError
        Where `extra` has not one value a column.

    Examples
    --------
    >>> from stdday.pattern_fit import fit_patterns
    >>> from stdday.pattern_legs import LegArrays
    >>> heading, one = np.radians([0.0, 90, 180, 270]), np.ones(4)
    >>> legs = LegArrays(
    ...     50 * one, 101325 * one, 288.15 * one, 51 * np.sin(heading) + 4, 51 * np.cos(heading),
    ...     np.nan * one, np.nan * one, np.zeros(4, dtype=int), 90.0 * np.arange(4),
    ...     0 * one, 0 * one, np.nan * one, np.empty((4, 0)), np.empty(0))
    >>> curve = curve_with(fit_patterns(legs), [], 1.0, 70.0)
    >>> curve.correction_ms(50.0)
    1.0
    """
    row = np.asarray(extra, dtype=float)
    knots = len(KNOTS_MS)

    def told(array: FloatArray) -> FloatArray:
        result: FloatArray = array[:knots] + row @ array[knots:]
        return result

    responses = (
        fit.probe_ms_k * probe_sigma_k,
        fit.pressure_ms_pa * pressure_sigma_pa,
        fit.recovery_ms / np.sqrt(12),  # one sigma of a recovery factor anywhere from 0 to 1
    )
    return AirspeedCurve(
        correction=told(fit.correction),
        root=told(fit.root),
        shared=np.stack([told(one) for one in responses], axis=1),
        dof=fit.dof,
        low_ms=fit.low_ms,
        high_ms=fit.high_ms,
    )
