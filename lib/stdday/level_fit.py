"""A configuration's fitted curve of level power against airspeed, and what is read from it."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from stdday import atmosphere, engine, power_model

if TYPE_CHECKING:
    from collections.abc import Callable

    from stdday.campaign import Airplane, Reference
    from stdday.statistics import ClusterFit

__all__ = ["Cruise", "LevelFit", "cruise_at", "curve_power_w", "curve_speed_ms", "ratio_at"]

FloatArray = NDArray[np.float64]

#: A reference power, and the equivalent airspeed it gives, may lie this far outside of what was
#: flown [-].
RANGE_MARGIN = 0.03
#: Airspeed [m/s] and fuel flow [m^3/s] that scale the columns of the fit.
SPEED_UNIT_MS, FUEL_UNIT_M3S = 50.0, 1e-5
#: Columns of `LevelFit.coefficients`.
CUBIC, INVERSE, SHIFT, SLOPE, FUEL_START, FUEL_GROWTH = range(6)


@dataclass(frozen=True)
class LevelFit:
    """Level speed, power and fuel of one configuration.

    Parameters
    ----------
    configuration : str
        Configuration.
    rated_power_w : float
        Rated power, unit of the fit's powers [W].
    points, flights : tuple of str
        Points of the fit, and their flights.
    speed_ms, power_w : ndarray, shape (1, points); in a block with draws, shape (draws + 1, points)
        True airspeed and brake power reduced to reference weight and sea-level density.
    brake_power_w, fuel_m3s : ndarray, shape (1, points); in a block, shape (draws + 1, points)
        Brake power and fuel flow as flown (scale errors in the draws).
    equivalent_ms : ndarray, shape (points,)
        Equivalent airspeed as flown [m/s].
    turns_rps : ndarray, shape (points,)
        Engine speed, reduced as airspeed is [rev/s]; NaN where not recorded.
    coefficients : ndarray, shape (draws + 1, 6)
        Cubic and inverse coefficient of the polar, shift and slope of the logarithm of installed
        efficiency, intercept and slope of fuel flow; scaled.
    places : tuple of int
        Column of each in the joint fit; -1 where it is fixed at zero.
    middle : float
        Logarithm of scaled airspeed at which the ratio of efficiencies is its shift [-].
    fit : ClusterFit or None
        The joint fit of the airplane.
    weights : ndarray, shape (points,)
        Robust weight of each point in the power curve [-].
    kind : str
        Kind of model: ``reference``, ``constant``, ``smooth`` or ``own``.
    model : str
        What is common with the other configurations and why, in words.
    reason : str
        Why there is no curve; empty where there is one.
    """

    configuration: str
    rated_power_w: float
    points: tuple[str, ...] = ()
    flights: tuple[str, ...] = ()
    speed_ms: FloatArray = field(default_factory=lambda: np.empty((1, 0)), repr=False)
    power_w: FloatArray = field(default_factory=lambda: np.empty((1, 0)), repr=False)
    brake_power_w: FloatArray = field(default_factory=lambda: np.empty((1, 0)), repr=False)
    fuel_m3s: FloatArray = field(default_factory=lambda: np.empty((1, 0)), repr=False)
    equivalent_ms: FloatArray = field(default_factory=lambda: np.empty(0), repr=False)
    turns_rps: FloatArray = field(default_factory=lambda: np.empty(0), repr=False)
    coefficients: FloatArray = field(default_factory=lambda: np.empty((1, 0)), repr=False)
    places: tuple[int, ...] = ()
    middle: float = 0.0
    fit: ClusterFit | None = field(default=None, repr=False)
    weights: FloatArray = field(default_factory=lambda: np.empty(0), repr=False)
    kind: str = ""
    model: str = ""
    reason: str = ""

    @property
    def has_fuel(self) -> bool:
        """Whether fuel flow was fitted too."""
        return bool(self.places) and self.places[FUEL_START] >= 0

    @property
    def has_ratio(self) -> bool:
        """Whether it has an efficiency of its own over a polar common with others."""
        return bool(self.places) and self.places[SHIFT] >= 0

    def gradient(self, of: Callable[[FloatArray], FloatArray]) -> FloatArray:
        """Derivative of a number by the coefficients of the joint fit, at the nominal fit.

        Parameters
        ----------
        of : callable
            Takes coefficients, shape (rows, 6), and gives the number, shape (rows,).

        Returns
        -------
        ndarray, shape (columns of the joint fit,)
        """
        size = len(self.fit.coefficients) if self.fit else max(self.places) + 1
        result = np.zeros(size)
        for column, place in enumerate(self.places):
            if place < 0:
                continue
            step = 1e-5 * max(abs(float(self.coefficients[0, column])), 0.1)
            shifted = np.repeat(self.coefficients[:1], 2, axis=0)
            shifted[:, column] += np.array([step, -step])
            pair = of(shifted)
            result[place] += float(pair[0] - pair[1]) / (2 * step)
        return result


@dataclass(frozen=True)
class Cruise:
    """Level flight at one reference power; arrays have shape (draws + 1,).

    Parameters
    ----------
    values : dict of str to ndarray
        True airspeed [m/s], fuel flow [m^3/s] and specific range [m/m^3] by metric name.
    gradients : dict of str to ndarray
        Derivative of each by the coefficients of the joint fit, at the nominal fit.
    status, reason : str
        ``ok`` or ``not reachable``, and why.
    """

    values: dict[str, FloatArray]
    gradients: dict[str, FloatArray]
    status: str = "ok"
    reason: str = ""


def cruise_at(
    found: LevelFit,
    airplane: Airplane,
    reference: Reference,
    fraction: float,
    heavier: float = 1.0,
) -> Cruise:
    """Level flight of a configuration at a share of rated power, on the reference day.

    Parameters
    ----------
    found : LevelFit
        The configuration's curve.
    airplane : Airplane
        Its airplane.
    reference : Reference
        Reference conditions.
    fraction : float
        Share of rated power [-].
    heavier : float, optional
        Weight over the reference weight that the curve was reduced to [-]: drag due to lift grows
        with its square, at one efficiency.

    Returns
    -------
    Cruise
        ``not reachable`` where the power is outside of what the throttle gives or was flown.
    """
    altitude = reference.cruise_pressure_altitude_m
    temperature = float(atmosphere.standard_temperature_k(altitude)) + (
        reference.temperature_offset_k
    )
    pressure = atmosphere.standard_pressure_pa(altitude)
    ratio = float(atmosphere.density_kg_m3(pressure, temperature)) / (
        atmosphere.SEA_LEVEL_DENSITY_KG_M3
    )
    values = _at(found.coefficients, found, fraction, ratio, heavier)
    most = float(
        engine.induction_ratio(
            pressure, temperature, 0.0, airplane.induction, airplane.critical_altitude_m
        )
    )
    reason = _not_reachable(found, fraction, most, float(values["cruise_true_airspeed"][0]), ratio)
    if reason:
        return Cruise({}, {}, "not reachable", reason)

    def one(rows: FloatArray, name: str) -> FloatArray:
        return _at(rows, found, fraction, ratio, heavier)[name]

    gradients = {name: found.gradient(partial(one, name=name)) for name in values}
    return Cruise(values, gradients)


def _not_reachable(
    found: LevelFit, fraction: float, most: float, true_ms: float, ratio: float
) -> str:
    """Why a share of rated power cannot be answered for; empty where it can."""
    flown = found.brake_power_w[0] / found.rated_power_w
    low, high = flown.min(), flown.max()
    slow, fast = found.equivalent_ms.min(), found.equivalent_ms.max()
    equivalent = true_ms * np.sqrt(ratio)
    if fraction > most:
        return f"full throttle gives {100 * most:.0f} % of rated power at that altitude"
    if not low * (1 - RANGE_MARGIN) <= fraction <= high * (1 + RANGE_MARGIN):
        return f"flown from {100 * low:.0f} to {100 * high:.0f} % of rated power"
    if not slow * (1 - RANGE_MARGIN) <= equivalent <= fast * (1 + RANGE_MARGIN):
        ends = [value * 3600 / 1852 for value in (equivalent, slow, fast)]
        return (
            f"at the reference weight it lies at {ends[0]:.0f} kt equivalent airspeed; flown from "
            f"{ends[1]:.0f} to {ends[2]:.0f} kt"
        )
    return ""


def _at(
    coefficients: FloatArray, found: LevelFit, fraction: float, ratio: float, heavier: float
) -> dict[str, FloatArray]:
    """Metrics at one share of rated power, one value for each row of coefficients."""
    cubic, inverse, shift, slope = coefficients[:, : SLOPE + 1].T
    power = fraction * np.sqrt(ratio)
    scaled = np.asarray(
        power_model.model_speed(power, cubic, inverse * heavier**2, shift, slope, found.middle)
    )
    true = SPEED_UNIT_MS * scaled / np.sqrt(ratio)
    values = {"cruise_true_airspeed": true}
    if found.has_fuel:
        flow = FUEL_UNIT_M3S * (
            coefficients[:, FUEL_START] + coefficients[:, FUEL_GROWTH] * fraction
        )
        values["fuel_flow"] = flow
        values["specific_range"] = true / flow
    return values


def ratio_at(
    found: LevelFit, speed_ms: float, coefficients: FloatArray | None = None
) -> FloatArray:
    """Installed efficiency over that of the reference configuration at a reduced airspeed.

    Parameters
    ----------
    found : LevelFit
        The configuration's curve.
    speed_ms : float
        Reduced airspeed [m/s].
    coefficients : ndarray, shape (rows, 6), optional
        In place of the fit's own.

    Returns
    -------
    ndarray, shape (rows,)
        Ratio [-]; 1 for the reference configuration.

    Examples
    --------
    >>> fit = LevelFit("B", 78e3, coefficients=np.array([[0.5, 0.1, 0.02, 0.2, 0.0, 0.0]]))
    >>> ratio_at(fit, 50.0).round(4).tolist()
    [1.0202]
    """
    rows = found.coefficients if coefficients is None else coefficients
    result: FloatArray = np.asarray(
        power_model.efficiency_ratio(
            speed_ms / SPEED_UNIT_MS, rows[:, SHIFT], rows[:, SLOPE], found.middle
        )
    )
    return result


def curve_power_w(found: LevelFit, speed_ms: FloatArray) -> FloatArray:
    """Fitted power at reduced airspeeds.

    Parameters
    ----------
    found : LevelFit
        A configuration's fit.
    speed_ms : ndarray, any shape
        Reduced airspeed [m/s].

    Returns
    -------
    ndarray
        Reduced power [W].

    Examples
    --------
    >>> fit = LevelFit("B", 78e3, coefficients=np.array([[0.5, 0.1, 0.02, 0.2, 0.0, 0.0]]))
    >>> curve_power_w(fit, np.array([50.0])).round().tolist()
    [45873.0]
    """
    cubic, inverse, shift, slope = found.coefficients[0, : SLOPE + 1]
    scaled = speed_ms / SPEED_UNIT_MS
    shape = power_model.model_power(scaled, cubic, inverse, shift, slope, found.middle)
    result: FloatArray = found.rated_power_w * np.asarray(shape)
    return result


def curve_speed_ms(found: LevelFit, power_w: float) -> float:
    """Reduced airspeed at a reduced power, on the fast side; undoes `curve_power_w`.

    Parameters
    ----------
    found : LevelFit
        A configuration's fit.
    power_w : float
        Reduced power [W].

    Returns
    -------
    float
        Reduced airspeed [m/s]; NaN below the least power.

    Examples
    --------
    >>> fit = LevelFit("B", 78e3, coefficients=np.array([[0.5, 0.1, 0.02, 0.2, 0.0, 0.0]]))
    >>> round(curve_speed_ms(fit, 45873.0), 2)
    50.0
    """
    cubic, inverse, shift, slope = found.coefficients[0, : SLOPE + 1]
    power = power_w / found.rated_power_w
    scaled = power_model.model_speed(power, cubic, inverse, shift, slope, found.middle)
    return SPEED_UNIT_MS * float(scaled)
