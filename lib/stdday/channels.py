"""The channels a recording may have: what each is, its unit inside the library, what is believable.

The limits are generous on purpose: they are bounds of what a light propeller airplane and its
instruments can show at all, not of what is normal. A sample outside is a fault of the recording; it
becomes a missing value and is counted in a finding.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass

from stdday.errors import InputError
from stdday.units import UnitError, factor_to_si, shown

__all__ = ["CHANNELS", "POSITION_CHANNELS", "Channel", "find_channel", "near_channels",
           "unit_dimension", "unit_scale"]


@dataclass(frozen=True)
class Channel:
    """One quantity of a recording.

    Parameters
    ----------
    name : str
        Name in columns files and in `Recording.channels`.
    dimension : str
        Dimension, a word of `stdday.units`.
    unit : str
        Unit inside the library: SI, but degrees for positions and g for normal acceleration.
    low, high : float
        Least and greatest believable value [unit].
    turn : float
        Full circle [unit] of a direction; 0 for all others.
    reference : bool
        Whether the direction is counted from true or magnetic north, which must be said.
    """

    name: str
    dimension: str
    unit: str
    low: float
    high: float
    turn: float = 0.0
    reference: bool = False


_TURN = 2.0 * math.pi

_ROWS = (
    # degrees, not radians: positions are only ever compared, plotted and printed as degrees
    Channel("latitude", "angle", "deg", -90.0, 90.0),
    Channel("longitude", "angle", "deg", -180.0, 180.0, turn=360.0),
    # the lowest airfields lie near -380 m; a satellite altitude may be 100 m off
    Channel("gps_altitude", "length", "m", -600.0, 15_000.0),
    Channel("ground_speed", "speed", "m/s", 0.0, 300.0),
    # both conventions, 0 to 360 and -180 to 180 degrees; kept as 0 to 2 pi
    Channel("track", "angle", "rad", -math.pi, _TURN, turn=_TURN, reference=True),
    Channel("heading", "angle", "rad", -math.pi, _TURN, turn=_TURN, reference=True),
    # a pressure gauge may rest a little below zero
    Channel("indicated_airspeed", "speed", "m/s", -10.0, 250.0),
    Channel("true_airspeed", "speed", "m/s", -10.0, 300.0),
    Channel("pressure_altitude", "length", "m", -1_500.0, 15_000.0),
    Channel("indicated_altitude", "length", "m", -1_500.0, 15_000.0),
    # beyond the records of sea-level pressure (about 870 and 1085 hPa, common knowledge)
    Channel("altimeter_setting", "pressure", "Pa", 86_000.0, 110_000.0),
    # panels that saturate do so at 12 000 ft/min, 61 m/s
    Channel("vertical_speed", "vertical_speed", "m/s", -130.0, 130.0),
    Channel("outside_air_temperature", "temperature", "K", 200.0, 340.0),
    Channel("engine_speed", "angular_speed", "rev/s", 0.0, 250.0),
    Channel("propeller_speed", "angular_speed", "rev/s", 0.0, 120.0),
    Channel("manifold_pressure", "pressure", "Pa", 5_000.0, 400_000.0),
    # 720 L/h, 5000 L and 1.5 MW
    Channel("fuel_flow", "volume_flow", "m^3/s", 0.0, 2.0e-4),
    Channel("fuel_quantity", "volume", "m^3", 0.0, 5.0),
    Channel("power", "power", "W", 0.0, 1.5e6),
    Channel("pitch", "angle", "rad", -math.pi / 2.0, math.pi / 2.0),
    Channel("roll", "angle", "rad", -math.pi, math.pi, turn=_TURN),
    Channel("normal_acceleration", "acceleration", "g", -12.0, 15.0),
)

#: Every channel that has a name of its own.
CHANNELS: dict[str, Channel] = {row.name: row for row in _ROWS}

#: What a satellite receiver gives: not to be believed where its position is 0, 0.
POSITION_CHANNELS = ("latitude", "longitude", "gps_altitude", "ground_speed", "track")

# exhaust gas reaches about 1250 K; gauge pressures of oil and fuel may rest just below zero
_LIMIT_CHANNEL = re.compile(r"[a-z][a-z0-9_]*_(temperature|pressure)(_[0-9]{1,2})?")
_LIMIT_BOUNDS = {"temperature": ("K", 200.0, 1_500.0), "pressure": ("Pa", -20_000.0, 3.0e7)}


def find_channel(name: str) -> Channel | None:
    """Find a channel by its name.

    Any name that ends in ``_temperature`` or ``_pressure``, or in that and a number, is a channel
    too: temperatures and pressures that have limits.

    Parameters
    ----------
    name : str
        Name as it stands in a columns file.

    Returns
    -------
    Channel or None
        None where there is no such channel; never raises.

    Examples
    --------
    >>> find_channel("ground_speed").unit, find_channel("cylinder_head_temperature_2").unit
    ('m/s', 'K')
    >>> find_channel("groundspeed") is None
    True
    """
    known = CHANNELS.get(name)
    if known is not None:
        return known
    found = _LIMIT_CHANNEL.fullmatch(name)
    if found is None:
        return None
    unit, low, high = _LIMIT_BOUNDS[found[1]]
    return Channel(name, found[1], unit, low, high)


def near_channels(name: str) -> str:
    """Name the channels that a misspelt name may have meant.

    Parameters
    ----------
    name : str
        Name that is no channel.

    Returns
    -------
    str
        Advice for an error message; never raises.

    Examples
    --------
    >>> near_channels("groundspeed")
    'write ground_speed'
    """
    near = difflib.get_close_matches(name[:80].lower(), CHANNELS, n=3, cutoff=0.6)
    if near:
        return f"write {' or '.join(near)}"
    return ("write one of " + ", ".join(CHANNELS)
            + ", or a name that ends in _temperature or _pressure")


def unit_dimension(channel: Channel, unit: str) -> str:
    """Tell the dimension that a unit of a channel has: power may be a share of the rated power.

    Parameters
    ----------
    channel : Channel
        The channel.
    unit : str
        Unit as it was written.

    Returns
    -------
    str
        The channel's dimension, or ``fraction`` for a share of the rated power.

    Raises
    ------
    UnitError
        The unit fits neither.

    Examples
    --------
    >>> unit_dimension(CHANNELS["power"], "%"), unit_dimension(CHANNELS["power"], "hp")
    ('fraction', 'power')
    """
    try:
        # any density will do: only the spelling is looked at here
        factor_to_si(unit, channel.dimension, fuel_density_kg_m3=1.0)
    except UnitError as error:
        if channel.name != "power":
            raise
        try:
            factor_to_si(unit, "fraction")
        except UnitError:
            mend = error.mend + ", or write % for per cent of the rated power"
            raise UnitError(error.needed, error.found, mend) from None
        return "fraction"
    return channel.dimension


def unit_scale(
    channel: Channel,
    unit: str,
    *,
    rated_power_w: float | None = None,
    fuel_density_kg_m3: float | None = None,
) -> tuple[float, float]:
    """Scale and offset from a unit to the one inside: ``inside = value * scale + offset``.

    Parameters
    ----------
    channel : Channel
        The channel.
    unit : str
        Unit as it was written.
    rated_power_w : float, optional
        Rated power of the airplane [W], needed for power in per cent.
    fuel_density_kg_m3 : float, optional
        Density of the fuel [kg/m^3], needed for fuel by mass.

    Returns
    -------
    tuple of float
        Scale [unit inside per unit] and offset [unit inside].

    Raises
    ------
    UnitError
        The unit does not fit the channel or needs the fuel density.
    InputError
        Power is in per cent and the rated power is not known.

    Examples
    --------
    >>> unit_scale(CHANNELS["latitude"], "deg")
    (1.0, 0.0)
    >>> unit_scale(CHANNELS["power"], "%", rated_power_w=78_000.0)
    (780.0, 0.0)
    """
    dimension = unit_dimension(channel, unit)
    if dimension == "fraction":
        if rated_power_w is None:
            raise InputError(f"power in {shown(unit)} needs the airplane's rated_power; found "
                             "none. Mend: write rated_power of the airplane in campaign.toml.")
        return factor_to_si(unit, "fraction")[0] * rated_power_w, 0.0
    scale, offset = factor_to_si(unit, dimension, fuel_density_kg_m3=fuel_density_kg_m3)
    inside, _ = factor_to_si(channel.unit, dimension)
    return scale / inside, offset / inside
