"""A stretch of a recording that may be a test point, and how hard the engine worked in it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from stdday.atmosphere import standard_pressure_pa
from stdday.bands import FOOT_M, KNOT_MS, Bands
from stdday.signals import Trace

__all__ = [
    "Candidate",
    "engine_share",
    "feet",
    "full_throttle",
    "knots",
    "quality_word",
    "throttle_ratio",
]

FloatArray = NDArray[np.float64]

#: Channels that tell how hard the engine works, the best first.
ENGINE_CHANNELS = ("power", "manifold_pressure", "engine_speed", "propeller_speed")
#: Full-throttle power falls to nothing at this share of sea-level density (Gagg and Farrar, 1934).
POWER_LOSS = 0.132


@dataclass(frozen=True)
class Candidate:
    """A stretch of a recording that was looked at as a test point.

    Parameters
    ----------
    kind : {"take-off", "climb", "level run", "landing", "airspeed calibration"}
        Kind, or the closest to it.
    start_s, end_s : float
        Bounds, UTC since 1970 [s].
    used : bool
        Whether it is a test point.
    reason : str
        Why not; empty where it is.
    quality : str
        good, fair or poor, with figures where it is not good.
    details : dict of str to float
        Times of a take-off or landing; empty for other kinds.
    pattern : str
        Shape of an airspeed calibration, such as ``box``; empty for other kinds.
    legs : tuple of (float, float)
        Bounds of each of its legs or arcs, UTC since 1970 [s]; empty for other kinds.
    """

    kind: str
    start_s: float
    end_s: float
    used: bool
    reason: str = ""
    quality: str = ""
    details: dict[str, float] = field(default_factory=dict)
    pattern: str = ""
    legs: tuple[tuple[float, float], ...] = ()


def knots(speed_ms: float, decimals: int = 0) -> str:
    """Write a speed in knots.

    Parameters
    ----------
    speed_ms : float
        Speed [m/s].
    decimals : int, optional
        Decimals.

    Returns
    -------
    str
        Number and unit; never raises.

    Examples
    --------
    >>> knots(25.72)
    '50 kt'
    """
    return f"{speed_ms / KNOT_MS:.{decimals}f} kt"


def feet(height_m: float) -> str:
    """Write a height in feet.

    Parameters
    ----------
    height_m : float
        Height [m].

    Returns
    -------
    str
        Number and unit, whole feet; never raises.

    Examples
    --------
    >>> feet(30.48)
    '100 ft'
    """
    return f"{height_m / FOOT_M:.0f} ft"


def quality_word(marks: list[tuple[float, tuple[float, float], str]]) -> str:
    """Say how good a point is, with the figures that keep it from being good.

    Parameters
    ----------
    marks : list of (float, (float, float), str)
        Figure, its limits of good and of fair, and its text. A figure that is not known is fair.

    Returns
    -------
    str

    Examples
    --------
    >>> quality_word([(0.3, (0.4, 0.8), "lift-off +-0.3 s")])
    'good'
    >>> quality_word([(0.5, (0.4, 0.8), "lift-off +-0.5 s")])
    'fair: lift-off +-0.5 s'
    """
    grades = [
        2 if value > limits[1] else 1 if not value <= limits[0] else 0
        for value, limits, _ in marks
    ]
    worst = max(grades, default=0)
    if worst == 0:
        return "good"
    told = "; ".join(
        text for grade, (_, _, text) in zip(grades, marks, strict=True) if grade > 0
    )
    return f"{('good', 'fair', 'poor')[worst]}: {told}"


def engine_share(trace: Trace, name: str) -> FloatArray:
    """Return an engine channel as a share of the flight's highest, on the grid.

    The highest is the 99th percentile of the samples with the engine running, so that a spike does
    not set it.

    Parameters
    ----------
    trace : Trace
        Recording.
    name : str
        Channel.

    Returns
    -------
    ndarray
        Share [-]; all NaN where the channel is missing.
    """
    values = trace.even(name)
    known = values[np.isfinite(values) & (values > 0)]
    if not len(known):
        return np.full_like(values, np.nan)
    return np.asarray(values / np.percentile(known, 99), dtype=float)


def throttle_ratio(trace: Trace, naturally_aspirated: bool) -> tuple[FloatArray, str]:
    """Return how far open the throttle is, up to a factor, and the channel it was read from.

    Power over what full throttle gives at that altitude, or manifold pressure over the pressure of
    the air, or engine speed as it is. With a turbocharger, the channel as it is.

    Parameters
    ----------
    trace : Trace
        Recording.
    naturally_aspirated : bool
        Whether full-throttle power falls with altitude.

    Returns
    -------
    ndarray, str
        Ratio on the grid, and the channel's name; all NaN and empty without an engine channel.
    """
    name = next((channel for channel in ENGINE_CHANNELS if trace.has(channel)), "")
    if not name:
        return np.full(len(trace.grid_s), np.nan), ""
    values = trace.smoothed(name, 5.0)
    altitude = trace.even("pressure_altitude")
    if naturally_aspirated and name in ("power", "manifold_pressure"):
        known = np.isfinite(altitude) & (altitude > -1500) & (altitude < 15000)
        pressure = np.full_like(altitude, np.nan)
        pressure[known] = standard_pressure_pa(altitude[known])
        ratio = pressure / 101325.0
        if name == "power":
            density = ratio ** (1 - 0.190263)  # standard troposphere: T/T0 = (p/p0)^0.190263
            ratio = (1 + POWER_LOSS) * density - POWER_LOSS
        values = values / ratio
    return values, name


def full_throttle(
    ratio: FloatArray, engine: str, climbing: NDArray[np.bool_], bands: Bands
) -> tuple[float, float]:
    """Return the throttle ratio of full throttle in this flight, and the least that passes for it.

    Parameters
    ----------
    ratio : ndarray
        Throttle ratio on the grid, of `throttle_ratio`.
    engine : str
        Channel it was read from.
    climbing : ndarray of bool
        Where on the grid the airplane climbs: somewhere there the throttle is taken to be open.
    bands : Bands
        Thresholds.

    Returns
    -------
    float, float
        Both in the unit of the ratio; NaN where it is not known.
    """
    known = ratio[climbing & np.isfinite(ratio)]
    if not len(known):
        return np.nan, np.nan
    highest = float(np.percentile(known, 95))
    least = {"power": bands.climb_power, "manifold_pressure": bands.climb_manifold}
    return highest, least.get(engine, bands.climb_engine) * highest
