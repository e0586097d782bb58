"""How far one sensor comes behind another, estimated with its uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from stdday.recording_types import Finding, FloatArray
from stdday.recording_view import View

__all__ = ["Lag", "check_lags", "estimate_lag"]

#: Pairs that should move together: what is late, against what.
PAIRS = (("indicated_airspeed", "ground_speed", "lift-off speed and rates of airspeed"),
         ("pressure_altitude", "gps_altitude", "heights at a moment, as at lift-off"),
         ("indicated_altitude", "gps_altitude", "heights at a moment, as at lift-off"),
         ("fuel_flow", "engine_speed", "fuel used in short stretches"))
#: Longest lag that is looked for [s].
MOST_LAG_S = 6.0
#: Changes are taken over this time [s], so that slow trends and noise count little.
_CHANGE_S = 3.0
#: Samples of a piece, and most pieces.
_PIECE, _PIECES = 600, 24
#: One sigma of what filters of receivers and a changing wind do to the match of every piece alike
#: [s]. Common practice.
_FILTERS_S = 0.3
#: A piece counts when both move together at least so well.
_LEAST_CORRELATION = 0.5


@dataclass(frozen=True)
class Lag:
    """How far one signal comes behind another.

    Parameters
    ----------
    late_s : float
        Delay [s]; negative where it comes before.
    sigma_s : float
        Standard uncertainty [s], from the scatter of pieces.
    pieces : int
        Pieces of the recording that it was estimated from.
    """

    late_s: float
    sigma_s: float
    pieces: int


def estimate_lag(
    time_s: FloatArray, late: FloatArray, early: FloatArray, interval_s: float
) -> Lag | None:
    """Estimate how far a signal comes behind another, piece by piece.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time [s], strictly increasing.
    late, early : ndarray, shape (n,)
        Signals, any units; NaN where missing.
    interval_s : float
        Usual time between rows [s].

    Returns
    -------
    Lag or None
        None where they do not move together well enough in two pieces; never raises.

    Examples
    --------
    >>> time_s = np.arange(3000.0)
    >>> wave = lambda t: np.sin(t / 7.0) + np.sin(t / 11.3)
    >>> lag = estimate_lag(time_s, wave(time_s - 1.4), wave(time_s), 1.0)
    >>> round(lag.late_s, 1), lag.sigma_s < 0.05, lag.pieces
    (1.4, True, 5)
    """
    step = max(interval_s, 0.2)
    most = max(2, math.ceil(MOST_LAG_S / step))
    reach = max(1, round(_CHANGE_S / step))
    found = []
    # the pieces that move most tell most; where there are many, every so manyth is looked at
    size = max(_PIECE, 4 * most) * max(1, round(step / interval_s))
    starts = np.arange(0, time_s.size - size + 1, size)
    for start in starts[:: max(1, -(-starts.size // _PIECES))]:
        rows = slice(int(start), int(start) + size)
        own = _piece_lag(time_s[rows], late[rows], early[rows], step, most, reach)
        if own is not None:
            found.append(own)
    if len(found) < 2:
        return None
    lags = np.array(found)
    middle = float(np.median(lags))
    spread = 1.48 * float(np.median(np.abs(lags - middle)))
    return Lag(middle, max(spread, 0.05 * step) / math.sqrt(lags.size), int(lags.size))


def _piece_lag(
    time_s: FloatArray, late: FloatArray, early: FloatArray, step: float, most: int, reach: int
) -> float | None:
    """Lag in one piece [s]; None where it has gaps or both do not move together."""
    known = np.isfinite(late) & np.isfinite(early)
    if known.mean() < 0.95 or time_s[-1] - time_s[0] > 1.5 * step * time_s.size:
        return None
    grid = np.arange(time_s[0], time_s[-1], step)
    first, second = (np.interp(grid, time_s[known], signal[known]) for signal in (late, early))
    changes = [signal[reach:] - signal[:-reach] for signal in (first, second)]
    if min(float(np.std(change)) for change in changes) < 1e-12:
        return None
    behind, ahead = ((change - change.mean()) / np.std(change) for change in changes)
    inside = slice(most, ahead.size - most)
    size = ahead.size - 2 * most
    if size < 4 * most:
        return None
    squares = np.concatenate(([0.0], np.cumsum(behind**2)))
    strength = (squares[size:] - squares[:-size]) * float(ahead[inside] @ ahead[inside])
    together = np.correlate(behind, ahead[inside], "valid") / np.sqrt(strength + 1e-12)
    peak = int(np.argmax(together))
    if together[peak] < _LEAST_CORRELATION or peak in (0, 2 * most):
        return None
    left, top, right = together[peak - 1:peak + 2]
    bend = left - 2.0 * top + right
    part = 0.5 * (left - right) / bend if bend < 0.0 else 0.0
    return float((peak - most + part) * step)


def check_lags(view: View) -> list[Finding]:
    """Tell which sensors come behind others, and by how much.

    Parameters
    ----------
    view : View
        The recording.

    Returns
    -------
    list of Finding
        Notes; nothing is shifted. Never raises.

    Examples
    --------
    >>> time_s = np.arange(3000.0)
    >>> height = lambda t: 500.0 + 50.0 * np.sin(t / 20.0) + 20.0 * np.sin(t / 9.0)
    >>> view = View(time_s, {"gps_altitude": height(time_s), "pressure_altitude": height(time_s-1)})
    >>> check_lags(view)[0].what.startswith("pressure_altitude comes 1.0 s (sigma 0.")
    True
    """
    findings = []
    told: set[str] = set()
    for late, early, spoils in PAIRS:
        if early in told or not view.has(late, early):
            continue
        lag = estimate_lag(view.time_s, view.channels[late], view.channels[early], view.interval_s)
        if lag is None:
            continue
        if early == "gps_altitude":
            told.add(early)
        sigma = math.hypot(lag.sigma_s, _FILTERS_S)
        if abs(lag.late_s) > 2.0 * sigma:
            side = "behind" if lag.late_s > 0.0 else "before"
            findings.append(Finding(
                "note", f"{late} comes {abs(lag.late_s):.1f} s (sigma {sigma:.1f} s) {side} "
                f"{early}, in {lag.pieces} pieces",
                f"what is read at one moment is off by that time: {spoils}",
                "likely" if lag.pieces >= 4 else "possible"))
    return findings
