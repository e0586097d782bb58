"""What the checks of a recording look at: thinned samples, flight and ground told apart.

Statistics need no more than a few thousand samples, so they are taken from evenly spread ones; what
may last one row is looked for in all rows. Nothing here changes a sample.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from stdday.channels import CHANNELS, find_channel
from stdday.recording_types import FloatArray
from stdday.units import from_si

__all__ = ["FEWEST", "THIN_SAMPLES", "BoolArray", "FlightFacts", "View", "moment", "quantity"]

BoolArray = NDArray[np.bool_]

#: Samples that statistics are taken from.
THIN_SAMPLES = 2500
#: A channel with fewer known samples is not judged.
FEWEST = 30
#: On the ground below this ground speed [m/s].
GROUND_MS = 5.0

_SHOWN = {"speed": ("kt", 0), "vertical_speed": ("ft/min", 0), "length": ("ft", 0),
          "temperature": ("degC", 1), "pressure": ("hPa", 1), "angular_speed": ("rpm", 0),
          "volume_flow": ("L/h", 1), "volume": ("L", 1), "power": ("kW", 1), "angle": ("deg", 0)}


def quantity(dimension: str, value: float) -> str:
    """Write a value in the unit that pilots use.

    Parameters
    ----------
    dimension : str
        Dimension, a word of `stdday.units`.
    value : float
        Value [SI].

    Returns
    -------
    str
        Number and unit; never raises.

    Examples
    --------
    >>> quantity("length", 30.48), quantity("temperature", 227.15), quantity("acceleration", 9.0)
    ('100 ft', '-46.0 degC', '9')
    """
    if dimension not in _SHOWN:
        return f"{value:g}"
    unit, decimals = _SHOWN[dimension]
    return f"{float(from_si(value, unit, dimension)):.{decimals}f} {unit}"


def moment(time_s: float) -> str:
    """Write a moment as a clock in UTC.

    Parameters
    ----------
    time_s : float
        Seconds since 1970-01-01 UTC [s].

    Returns
    -------
    str
        Hours, minutes and seconds; never raises.

    Examples
    --------
    >>> moment(36_000.0)
    '10:00:00 UTC'
    """
    return f"{np.datetime_as_string(np.datetime64(int(time_s), 's'))[11:]} UTC"


@dataclass(frozen=True)
class FlightFacts:
    """What is known of a flight besides its recording.

    Parameters
    ----------
    field_elevation_m : float or None
        Elevation of the airfield it began at [m].
    altimeter_setting_pa : float or None
        The flight's altimeter setting [Pa].
    rated_power_w : float or None
        Rated power of the airplane [W].
    fuel_density_kg_m3 : float or None
        Density of its fuel [kg/m^3].
    """

    field_elevation_m: float | None = None
    altimeter_setting_pa: float | None = None
    rated_power_w: float | None = None
    fuel_density_kg_m3: float | None = None


@dataclass(frozen=True, eq=False)
class View:
    """A recording as its checks see it.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time [s], strictly increasing.
    channels : mapping of str to ndarray, each of shape (n,)
        Samples by channel, in the units of `stdday.channels`.
    track_reference, heading_reference : {"true", "magnetic", None}
        North that the directions are said to be counted from.
    facts : FlightFacts
        What else is known.

    Examples
    --------
    >>> speed = np.concatenate([np.zeros(50), np.full(50, 40.0)])
    >>> view = View(np.arange(100.0), {"ground_speed": speed})
    >>> int(view.flying.sum()), int(view.on_ground.sum())
    (50, 50)
    """

    time_s: FloatArray
    channels: Mapping[str, FloatArray]
    track_reference: str | None = None
    heading_reference: str | None = None
    facts: FlightFacts = FlightFacts()

    @cached_property
    def places(self) -> NDArray[np.int64]:
        """Places of the evenly spread samples."""
        step = max(1, -(-self.time_s.size // THIN_SAMPLES))
        return np.arange(0, self.time_s.size, step, dtype=np.int64)

    @cached_property
    def interval_s(self) -> float:
        """Usual time between two rows [s]."""
        return float(np.median(np.diff(self.time_s[:20_000]))) if self.time_s.size > 1 else 1.0

    @cached_property
    def _thin(self) -> dict[str, FloatArray]:
        """Thinned samples of every channel."""
        return {name: samples[self.places] for name, samples in self.channels.items()}

    @cached_property
    def _judged(self) -> set[str]:
        """Channels with enough known samples."""
        return {name for name, samples in self._thin.items()
                if int(np.isfinite(samples).sum()) >= FEWEST}

    def has(self, *names: str) -> bool:
        """Whether all channels are there with enough known samples to be judged."""
        return self._judged.issuperset(names)

    def thin(self, name: str) -> FloatArray:
        """Evenly spread samples of a channel; NaN where it is not there."""
        return self._thin.get(name, np.full(self.places.shape, np.nan))

    @cached_property
    def thin_time_s(self) -> FloatArray:
        """Times of the evenly spread samples [s]."""
        return self.time_s[self.places]

    @cached_property
    def speed_name(self) -> str | None:
        """Channel that best tells flight from ground."""
        for name in ("ground_speed", "indicated_airspeed", "true_airspeed"):
            if self.has(name):
                return name
        return None

    @cached_property
    def flying(self) -> BoolArray:
        """Evenly spread samples that are in flight: faster than half of the usual top speed."""
        if self.speed_name is None:
            return np.zeros(self.places.shape, dtype=bool)
        speed = self.thin(self.speed_name)
        top = float(np.nanquantile(speed, 0.95))
        return np.asarray(speed > max(0.55 * top, 12.0))

    @cached_property
    def on_ground(self) -> BoolArray:
        """Evenly spread samples that are surely on the ground: hardly moving over it or the air."""
        if not self.has("ground_speed"):
            return np.zeros(self.places.shape, dtype=bool)
        slow = self.thin("ground_speed") < GROUND_MS
        air = self.thin("indicated_airspeed")
        return np.asarray(slow & ~(air > 4.0 * GROUND_MS))

    @cached_property
    def altitude_name(self) -> str | None:
        """Channel of the static pressure: pressure altitude, else indicated altitude."""
        for name in ("pressure_altitude", "indicated_altitude"):
            if self.has(name):
                return name
        return None

    def shown(self, name: str, value: float) -> str:
        """Write a value of a channel in the unit that pilots use."""
        channel = CHANNELS.get(name) or find_channel(name)
        return quantity(channel.dimension if channel else "none", value)
