"""What the numbers of a column say: whether they can be a channel in a unit, and how well."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stdday.channels import Channel
from stdday.propose_types import Column

__all__ = ["Spread", "sentinels_of", "spread_of", "value_score"]

FloatArray = NDArray[np.float64]

#: Numbers that recorders write where nothing was measured.
_SENTINELS = (-9999.0, -999.0, -99.0, -99.9, -999.9, 999.0, 999.9, 9999.0, 99999.0, -99999.0,
              -32768.0, 32767.0, 65535.0, -9999.9, 9999.9, -1777.0, 359940.0, 2147483647.0)
_C0, _KT, _FT, _RPM, _LPH = 273.15, 1852.0 / 3600.0, 0.3048, 1.0 / 60.0, 1.0 / 3.6e6


@dataclass(frozen=True)
class Spread:
    """How the numbers of a column are spread [unit of the file].

    Parameters
    ----------
    low, middle, high : float
        2nd, 50th and 98th percentile.
    least, most : float
        0.5th and 99.5th percentile.
    steps : int
        Different numbers, counted up to 50.
    """

    low: float
    middle: float
    high: float
    least: float
    most: float
    steps: int

    def scaled(self, scale: tuple[float, float]) -> Spread:
        """The same in another unit."""
        factor, offset = scale
        five = sorted(value * factor + offset
                      for value in (self.least, self.low, self.middle, self.high, self.most))
        return Spread(five[1], five[2], five[3], five[0], five[4], self.steps)


# channel: bounds of the 2nd and 98th percentile, and where the 98th percentile of a flight lies
_TYPICAL: dict[str, tuple[float, float, float, float]] = {
    "ground_speed": (-1.0, 150.0, 12.0, 125.0),
    "indicated_airspeed": (-6.0, 140.0, 12.0, 115.0),
    "true_airspeed": (-6.0, 150.0, 12.0, 125.0),
    "gps_altitude": (-450.0, 9000.0, 60.0, 6000.0),
    "pressure_altitude": (-700.0, 9000.0, 60.0, 6000.0),
    "indicated_altitude": (-600.0, 9000.0, 60.0, 6000.0),
    "altimeter_setting": (93_000.0, 106_500.0, 95_000.0, 105_500.0),
    "vertical_speed": (-40.0, 40.0, 0.6, 15.0),
    "outside_air_temperature": (_C0 - 50.0, _C0 + 55.0, _C0 - 20.0, _C0 + 42.0),
    "engine_speed": (-0.5, 8000.0 * _RPM, 1700.0 * _RPM, 6500.0 * _RPM),
    "propeller_speed": (-0.5, 3500.0 * _RPM, 1200.0 * _RPM, 3000.0 * _RPM),
    "manifold_pressure": (10_000.0, 200_000.0, 55_000.0, 150_000.0),
    "fuel_flow": (-0.5 * _LPH, 250.0 * _LPH, 6.0 * _LPH, 120.0 * _LPH),
    "fuel_quantity": (0.0, 1.0, 0.012, 0.5),
    "power": (-2_000.0, 500_000.0, 25_000.0, 300_000.0),
    "pitch": (-0.9, 0.9, 0.03, 0.6),
    "roll": (-1.6, 1.6, 0.08, 1.4),
    "oil_temperature": (220.0, 430.0, 300.0, 400.0),
    "oil_pressure": (-5_000.0, 1.2e6, 1e5, 9e5),
    "fuel_pressure": (-10_000.0, 5.0e5, 5e3, 4e5),
    "coolant_temperature": (220.0, 420.0, 300.0, 400.0),
    "carburettor_temperature": (220.0, 360.0, 250.0, 340.0),
    "intake_temperature": (220.0, 400.0, 250.0, 360.0),
    "cylinder_head_temperature": (220.0, 560.0, 320.0, 530.0),
    "exhaust_gas_temperature": (220.0, 1300.0, 500.0, 1250.0),
}


def spread_of(values: FloatArray) -> Spread | None:
    """Describe how numbers are spread.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Numbers [any unit]; NaN where missing.

    Returns
    -------
    Spread or None
        None for fewer than three numbers; never raises.

    Examples
    --------
    >>> spread_of(np.arange(101.0)).middle
    50.0
    """
    known = values[np.isfinite(values)]
    if known.size < 3:
        return None
    least, low, middle, high, most = np.percentile(known, [0.5, 2, 50, 98, 99.5]).tolist()
    return Spread(low, middle, high, least, most, min(int(np.unique(known[:4000]).size), 50))


def sentinels_of(column: Column) -> tuple[float, ...]:
    """Find numbers that stand for a missing value: known marks, far from all other numbers.

    Parameters
    ----------
    column : Column
        The column.

    Returns
    -------
    tuple of float
        The marks [unit of the file]; never raises.

    Examples
    --------
    >>> cells = np.array(["1", "2", "-9999", "3"], dtype=object)
    >>> sentinels_of(Column(0, "a", "a", "", "", cells, np.array([1.0, 2.0, -9999.0, 3.0])))
    (-9999.0,)
    """
    known = column.known
    found = []
    for mark in _SENTINELS:
        hits = known == mark
        if not hits.any():
            continue
        rest = known[~np.isin(known, _SENTINELS)]
        if not rest.size:
            if mark < 0.0 or mark > 9000.0:      # 999 hPa all through is a setting
                found.append(mark)
            continue
        apart = float(np.abs(rest - mark).min())
        if apart > max(float(np.ptp(rest)), 0.2 * abs(mark), 1.0):
            found.append(mark)
    return tuple(found)


def value_score(channel: Channel, base: str, spread: Spread) -> tuple[float, str] | None:
    """Tell how well numbers fit a channel.

    Parameters
    ----------
    channel : Channel
        The channel.
    base : str
        Its name without the number of a cylinder.
    spread : Spread
        Numbers [unit of the channel]; power in per cent as of a hundred kilowatts.

    Returns
    -------
    tuple of (float, str) or None
        From -2 (odd) to 3 (typical of it alone), and why; None where it cannot be that channel;
        never raises.

    Examples
    --------
    >>> from stdday.channels import CHANNELS
    >>> still = Spread(101325.0, 101325.0, 101325.0, 101325.0, 101325.0, 1)
    >>> value_score(CHANNELS["altimeter_setting"], "altimeter_setting", still)
    (3.0, 'nearly steady at 1013.2 hPa')
    >>> value_score(CHANNELS["ground_speed"], "ground_speed", still) is None
    True
    """
    special = {
        "latitude": _position, "longitude": _position, "track": _direction, "heading": _direction,
        "altimeter_setting": _setting, "normal_acceleration": _load,
    }.get(base)
    if special is not None:
        return special(channel, spread)
    if base not in _TYPICAL:
        return (0.0, "") if channel.low <= spread.low <= spread.high <= channel.high else None
    low, high, peak_low, peak_high = _TYPICAL[base]
    if spread.low < low or spread.high > high:
        return None
    steady = spread.high - spread.low < 1e-9 * max(abs(spread.high), 1.0)
    if steady:
        return -2.0, "it never changes"
    if not peak_low <= spread.high <= peak_high:
        return -1.0, "its range is unusual for a flight"
    return _shape(base, spread)


def _shape(base: str, spread: Spread) -> tuple[float, str]:
    """Fine points of numbers that lie in the usual range."""
    if base in ("vertical_speed", "roll", "pitch") and spread.low > 0.0:
        return -1.5, "it is never below zero"
    if base in ("pitch", "roll", "vertical_speed") and \
            abs(spread.middle) > 0.5 * (spread.high - spread.low):
        return -1.0, "it does not lie around zero"
    if base == "outside_air_temperature" and spread.high - spread.low > 45.0:
        return -1.5, "it changes by more than 45 K"
    return 1.0, "its range is that of a flight"


def _position(channel: Channel, spread: Spread) -> tuple[float, str] | None:
    """Positions hardly change, and have many decimals."""
    if spread.low < channel.low or spread.high > channel.high:
        return None
    if spread.high - spread.low > 12.0:
        return -2.0, "it changes by more than 12 degrees"
    if spread.steps < 10 or spread.high == spread.low:
        return -1.0, "it hardly changes"
    return (1.0, "it changes by little, as a position does") if spread.high - spread.low < 5.0 \
        else (0.0, "")


def _direction(channel: Channel, spread: Spread) -> tuple[float, str] | None:
    """Directions go round the circle."""
    turn = channel.turn
    if spread.low < -0.55 * turn or spread.high > 1.002 * turn:
        return None
    if spread.high > 1.0 and (spread.high - spread.low) > 0.6 * turn:
        return 1.0, "it goes round the circle"
    return (0.0, "") if spread.high > 0.09 * turn else (-2.0, "it is no circle")


def _setting(channel: Channel, spread: Spread) -> tuple[float, str] | None:
    """A setting stays, near the pressure at sea level."""
    low, high, _, _ = _TYPICAL["altimeter_setting"]
    if spread.low < low or spread.high > high:
        return None
    if spread.steps <= 12 and spread.high - spread.low < 3_500.0:
        return 3.0, f"nearly steady at {spread.middle / 100.0:.1f} hPa"
    return (0.0, "") if spread.high - spread.low < 2_000.0 else None


def _load(channel: Channel, spread: Spread) -> tuple[float, str] | None:
    """A load is about 1 in level flight; some recorders write 0 for that."""
    if spread.low < -6.0 or spread.high > 9.0 or spread.steps < 4:
        return None
    for level in (1.0, 0.0):
        if abs(spread.middle - level) < 0.12 and spread.most - spread.least < 8.0:
            return 1.5, f"it is {level:g} g at most times"
    return -2.0, "its middle is neither 1 g nor 0 g"
