"""Brake power from an engine's chart of engine speed and manifold pressure."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import ArrayLike

from stdday._arrays import FloatArray, FloatOrArray, as_result, checked
from stdday.atmosphere import checked_temperature, pressure_altitude_m, standard_temperature_k
from stdday.errors import InputError

__all__ = ["PowerRows", "chart_power_w"]

#: Rows of a chart: engine speed [rev/s], manifold pressure [Pa], brake power [W].
PowerRows = tuple[tuple[float, float, float], ...]


def chart_power_w(
    rows: PowerRows,
    engine_speed_rps: ArrayLike,
    manifold_pressure_pa: ArrayLike,
    pressure_pa: ArrayLike,
    temperature_k: ArrayLike,
    vapour_pressure_pa: ArrayLike = 0.0,
) -> FloatOrArray:
    """Brake power at an engine speed and manifold pressure, in the air of the day.

    Straight lines in manifold pressure along each engine speed of the chart, and between the two
    engine speeds beside the one asked for; then ``sqrt(Ts/T)`` and the dry share of the charge.

    Parameters
    ----------
    rows : tuple of (float, float, float)
        Chart: engine speed [rev/s], manifold pressure [Pa] and power at standard temperature [W];
        two engine speeds at least, each with two manifold pressures.
    engine_speed_rps : array_like, any shape
        Engine speed [rev/s].
    manifold_pressure_pa : array_like, broadcasts
        Manifold pressure [Pa].
    pressure_pa : array_like, broadcasts
        Ambient pressure, which gives the standard temperature Ts [Pa], 30 000 to 110 000.
    temperature_k : array_like, broadcasts
        Ambient temperature T [K], within the range of `stdday.atmosphere`.
    vapour_pressure_pa : array_like, broadcasts
        Partial pressure of water vapour [Pa], 0 to 12 000.

    Returns
    -------
    float or ndarray
        Brake power [W]; NaN outside of the chart, which is not continued.

    Raises
    ------
    InputError
        A chart of fewer rows, or air out of its range.

    Notes
    -----
    Temperature at one manifold pressure and engine speed: AC 23-8, appendix 1 (from memory). The
    chart is of an engine on a test stand: the installed one differs, which its sigma stands for.

    Examples
    --------
    >>> rows = ((35.0, 6e4, 40e3), (35.0, 9e4, 70e3), (45.0, 6e4, 50e3), (45.0, 9e4, 90e3))
    >>> chart_power_w(rows, [40.0, 40.0], [7.5e4, 9.5e4], 101325.0, 288.15)
    array([62500.,    nan])
    """
    columns = _columns(rows)
    hint = "pressure in Pa: 1013.25 hPa is 101325"
    pressure = checked("pressure_pa [Pa]", pressure_pa, 3e4, 1.1e5, hint)
    vapour = checked("vapour_pressure_pa [Pa]", vapour_pressure_pa, 0.0, 1.2e4, "is it in Pa?")
    standard = np.asarray(standard_temperature_k(pressure_altitude_m(pressure)))
    warmth = np.sqrt(standard / checked_temperature(temperature_k))
    speed, manifold = np.broadcast_arrays(
        np.asarray(engine_speed_rps, dtype=float), np.asarray(manifold_pressure_pa, dtype=float)
    )
    power = np.full(speed.shape, np.nan)
    for (low, below), (high, above) in itertools.pairwise(columns):
        inside = (speed >= low) & (speed <= high)
        share = (speed - low) / (high - low)
        between = (1 - share) * _along(below, manifold) + share * _along(above, manifold)
        power = np.where(inside & np.isfinite(between), between, power)
    return as_result(power * warmth * (pressure - vapour) / pressure)


def _columns(rows: PowerRows) -> list[tuple[float, FloatArray]]:
    """Engine speeds in rising order, each with its manifold pressures and powers."""
    speeds = sorted({row[0] for row in rows})
    columns = [
        (speed, np.array(sorted((mp, power) for one, mp, power in rows if one == speed)).T)
        for speed in speeds
    ]
    if len(columns) < 2 or any(column.shape[1] < 2 for _, column in columns):
        raise InputError(
            "rows must hold two engine speeds at least, each with two manifold pressures; got "
            f"{len(columns)} engine speed(s) in {len(rows)} row(s)"
        )
    return columns


def _along(column: FloatArray, manifold: FloatArray) -> FloatArray:
    """Power along one engine speed; NaN beyond its ends."""
    along: FloatArray = np.interp(manifold, column[0], column[1], left=np.nan, right=np.nan)
    return along
