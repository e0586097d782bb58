"""Calibration legs as arrays, and what one linearisation of them says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stdday._arrays import FloatArray
from stdday.airspeed import true_airspeed_ms
from stdday.errors import InputError

__all__ = ["IntArray", "LegArrays", "LinearLegs", "check_legs", "linear_legs"]


#: An array of int.
IntArray = NDArray[np.int_]


@dataclass(frozen=True)
class LegArrays:
    """Calibration legs as arrays of shape (legs,), SI.

    Parameters
    ----------
    indicated_ms : ndarray
        Indicated airspeed [m/s].
    pressure_pa, temperature_k : ndarray
        Air flown through [Pa], [K].
    ground_east_ms, ground_north_ms : ndarray
        Ground velocity, of an arc of a circle at its middle [m/s]; NaN for a leg that gives
        airspeed directly.
    direct_ms : ndarray
        Calibrated airspeed by pacing [m/s]; NaN for all other legs.
    course_ms : ndarray
        True airspeed by a speed course [m/s]; NaN for all other legs.
    pattern : ndarray of int
        Pattern of each leg, 0, 1 … [-].
    time_s : ndarray
        Time of each leg within its pattern [s], from 0.
    known_sigma_ms : ndarray
        Noise of the leg known beforehand, which is added to the estimated one [m/s].
    pattern_sigma_ms : ndarray
        Error common to the direct legs of one pattern, one sigma [m/s].
    across_sigma_ms : ndarray
        For legs of a reciprocal pair: one sigma of the wind across it, about half the sum of its
        ground velocities [m/s]; NaN for all other legs.
    extra : ndarray, shape (legs, extras)
        What may shift the curve, one column each [-].
    extra_sigma_ms : ndarray, shape (extras,)
        Belief in the size of each shift before flying, one sigma [m/s].
    recovery_k : ndarray or float
        Change of the temperature from a recovery factor of the probe of 0 to one of 1 [K].
    """

    indicated_ms: FloatArray
    pressure_pa: FloatArray
    temperature_k: FloatArray
    ground_east_ms: FloatArray
    ground_north_ms: FloatArray
    direct_ms: FloatArray
    course_ms: FloatArray
    pattern: IntArray
    time_s: FloatArray
    known_sigma_ms: FloatArray
    pattern_sigma_ms: FloatArray
    across_sigma_ms: FloatArray
    extra: FloatArray
    extra_sigma_ms: FloatArray
    recovery_k: FloatArray | float = 0.0


def check_legs(legs: LegArrays) -> None:
    """Refuse legs that lack what they need.

    Parameters
    ----------
    legs : LegArrays
        The legs.

    Raises
    ------
    InputError
        Without legs, or where one has no airspeeds, air or time [SI].

    Examples
    --------
    >>> nothing = np.empty(0)
    >>> check_legs(LegArrays(*[nothing] * 12, np.empty((0, 0)), nothing))
    Traceback (most recent call last):
    ...
    stdday.errors.InputError: legs must hold a leg, each with airspeeds, air and time; got none
    """
    measured = np.isfinite(legs.course_ms) | np.isfinite(legs.ground_east_ms + legs.ground_north_ms)
    air = np.isfinite(legs.pressure_pa + legs.temperature_k + legs.time_s)
    needed = np.isfinite(legs.indicated_ms) & (np.isfinite(legs.direct_ms) | measured & air)
    if not len(needed) or not needed.all():
        without = f"{int(np.sum(~needed))} of {len(needed)} without" if len(needed) else "none"
        raise InputError(
            f"legs must hold a leg, each with airspeeds, air and time; got {without}"
        )


@dataclass(frozen=True)
class LinearLegs:
    """The legs linearised: ``y = curve * correction + shifts + wind . velocity of air + noise``.

    Parameters
    ----------
    y : ndarray, shape (rows,)
        One row a leg, then one for the wind across each reciprocal pair [m/s].
    curve : ndarray, shape (rows,)
        1 where the curve enters, else 0 [-].
    wind : ndarray, shape (rows, 2)
        Change of y with the velocity of the air, east and north [-].
    leg : ndarray of int, shape (rows,)
        Leg of each row.
    heading_rad : ndarray, shape (legs,)
        Heading [rad], 0 to 2 pi; NaN for a direct leg.
    probe, pressure : ndarray, shape (rows,)
        Change of y for 1 K [m/s/K] and for 1 Pa [m/s/Pa].
    """

    y: FloatArray
    curve: FloatArray
    wind: FloatArray
    leg: IntArray
    heading_rad: FloatArray
    probe: FloatArray
    pressure: FloatArray


def linear_legs(legs: LegArrays, correction_ms: FloatArray, wind_ms: FloatArray) -> LinearLegs:
    """Linearise the legs about a correction and a wind.

    Parameters
    ----------
    legs : LegArrays
        The legs.
    correction_ms : ndarray, shape (legs,)
        Calibrated minus indicated airspeed at each leg [m/s].
    wind_ms : ndarray, shape (legs, 2)
        Velocity of the air at each leg, east and north [m/s].

    Returns
    -------
    LinearLegs

    Raises
    ------
    InputError
        Where a pressure or temperature is out of range.

    Notes
    -----
    Along the heading, ground speed is true airspeed plus wind: exact where the heading is right,
    and an error of it counts by its square alone.

    Examples
    --------
    >>> one = np.ones(1)
    >>> legs = LegArrays(
    ...     50 * one, 101325 * one, 288.15 * one, 0 * one, 55 * one, np.nan * one, np.nan * one,
    ...     np.zeros(1, dtype=int), 0 * one, 0 * one, 0 * one, np.nan * one,
    ...     np.empty((1, 0)), np.empty(0))
    >>> linear_legs(legs, 0 * one, np.zeros((1, 2))).y
    array([5.])
    """
    direct = np.isfinite(legs.direct_ms)
    course = np.isfinite(legs.course_ms)
    calibrated = np.maximum(legs.indicated_ms + correction_ms, 1.0)
    true, slope, probe, pressure = _true(legs, calibrated)
    air_east, air_north = legs.ground_east_ms - wind_ms[:, 0], legs.ground_north_ms - wind_ms[:, 1]
    heading = np.arctan2(air_east, air_north)
    unit = np.stack([np.sin(heading), np.cos(heading)], axis=1)
    along = np.sum(unit * np.stack([legs.ground_east_ms, legs.ground_north_ms], axis=1), axis=1)
    along = np.where(course, legs.course_ms, along)
    y = np.where(
        direct, legs.direct_ms - legs.indicated_ms,
        (along - true) / slope + calibrated - legs.indicated_ms,
    )
    gradient = np.where((direct | course)[:, None], 0.0, unit / slope[:, None])
    extra_y, extra_wind, extra_leg = _across(legs, unit)
    rows = len(extra_y)
    return LinearLegs(
        y=np.concatenate([y, extra_y]),
        curve=np.concatenate([np.ones(len(y)), np.zeros(rows)]),
        wind=np.concatenate([gradient, extra_wind]),
        leg=np.concatenate([np.arange(len(y)), extra_leg]),
        heading_rad=np.where(direct | course, np.nan, np.mod(heading, 2 * np.pi)),
        probe=np.concatenate([np.where(direct, 0.0, probe), np.zeros(rows)]),
        pressure=np.concatenate([np.where(direct, 0.0, pressure), np.zeros(rows)]),
    )


def _true(
    legs: LegArrays, calibrated: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """True airspeed, its slope, and the change of y with temperature and pressure."""
    def at(speed: FloatArray, pressure: FloatArray, temperature: FloatArray) -> FloatArray:
        return np.asarray(true_airspeed_ms(speed, pressure, temperature))

    true = at(calibrated, legs.pressure_pa, legs.temperature_k)
    slope = (at(calibrated + 0.1, legs.pressure_pa, legs.temperature_k) - true) / 0.1
    probe = -(at(calibrated, legs.pressure_pa, legs.temperature_k + 1.0) - true) / slope
    pressure = -(at(calibrated, legs.pressure_pa + 10.0, legs.temperature_k) - true) / slope / 10.0
    return true, slope, probe, pressure


def _across(legs: LegArrays, unit: FloatArray) -> tuple[FloatArray, FloatArray, IntArray]:
    """One row a reciprocal pair: the wind across it is half the sum of its ground velocities."""
    values, gradients, places = [], [], []
    for pattern in np.unique(legs.pattern[np.isfinite(legs.across_sigma_ms)]):
        own = np.flatnonzero(legs.pattern == pattern)
        difference = unit[own[0]] - unit[own[-1]]
        across = np.array([difference[1], -difference[0]]) / np.hypot(*difference)
        middle = [legs.ground_east_ms[own].mean(), legs.ground_north_ms[own].mean()]
        values.append(float(across @ middle))
        gradients.append(across)
        places.append(int(own[0]))
    return (
        np.array(values, dtype=float),
        np.array(gradients, dtype=float).reshape(-1, 2),
        np.array(places, dtype=int),
    )


