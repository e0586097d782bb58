"""Units as recorders write them in a header, brought to the spellings that the workbook reads."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

from stdday.channels import Channel
from stdday.unit_names import SI_UNITS, spelling_key
from stdday.units import UnitError, factor_to_si

__all__ = ["HeaderUnit", "channel_scale", "choices_for", "header_unit", "is_unit", "split_unit"]


@dataclass(frozen=True)
class HeaderUnit:
    """A unit out of a header.

    Parameters
    ----------
    unit : str
        Spelling that the workbook reads.
    words : str
        What it also says of the quantity, such as ``ias`` for ``KIAS``.
    open : bool
        Whether it can mean two things: a bare gallon.
    """

    unit: str
    words: str = ""
    open: bool = False


# their spelling (as `spelling_key` gives it) -> ours, and what it also says
_HINTED = {
    "kias": ("kt", "ias"), "ktias": ("kt", "ias"), "kcas": ("kt", "cas"), "ktas": ("kt", "tas"),
    "kttas": ("kt", "tas"), "kgs": ("kt", ""), "ktgs": ("kt", "groundspeed"),
    "ftmsl": ("ft", "msl"), "mmsl": ("m", "msl"), "ftamsl": ("ft", "msl"), "mamsl": ("m", "msl"),
    "ftbaro": ("ft", "baro"), "ftgps": ("ft", "gps"), "ftwgs": ("ft", "ellipsoid gps"),
    "ftwgs84": ("ft", "ellipsoid gps"), "ftagl": ("ft", "agl"), "magl": ("m", "agl"),
    "degmag": ("deg", "magnetic"), "degm": ("deg", "magnetic"), "°m": ("deg", "magnetic"),
    "°mag": ("deg", "magnetic"), "degt": ("deg", "true"), "degtrue": ("deg", "true"),
    "°t": ("deg", "true"), "°true": ("deg", "true"), "dega": ("deg", ""), "decdeg": ("deg", ""),
    "deg+": ("deg", ""), "degdecimal": ("deg", ""), "°n": ("deg", ""), "°e": ("deg", ""),
}
_OURS = {
    "u/min": "rpm", "umin": "rpm", "upm": "rpm", "min^-1": "rpm", "tr/min": "rpm", "t/min": "rpm",
    "tours/min": "rpm", "tr/mn": "rpm", "umdr/min": "rpm", "revs": "rpm", "rpms": "rpm",
    "l/std": "L/h", "ltr/h": "L/h", "l/hr": "L/h", "litres/h": "L/h", "ltrs/h": "L/h",
    "liter": "L", "ltrs": "L", "lt": "L", "fuß": "ft", "fuss": "ft", "pieds": "ft", "pi": "ft",
    "pied/min": "ft/min", "pieds/min": "ft/min", "ft/m": "ft/min", "ft/mn": "ft/min",
    "feet/min": "ft/min", "noeuds": "kt", "nœuds": "kt", "nd": "kt", "nds": "kt", "knoten": "kt",
    "kmph": "km/h", "km/std": "km/h", "gradc": "degC", "deg-c": "degC", "℃": "degC", "℉": "degF",
    "gradf": "degF", "degc": "degC", "grad": "deg", "degres": "deg", "degrés": "deg", "dg": "deg",
    "g's": "g", "gs": "g", "gee": "g", "inmerc": "inHg", "hg": "inHg", "mmhg": "mmHg",
    "in": "inHg", "inch": "inHg",
    "prozent": "%", "%pwr": "%", "%power": "%", "percentpower": "%", "cv": "CV", "ch": "CV",
    "gph": "US gal/h", "galus/h": "US gal/h", "usg/h": "US gal/h", "usgph": "US gal/h",
    "lbs/h": "lb/h", "lbs/hr": "lb/h", "lb/hr": "lb/h", "kg/std": "kg/h", "kg/hr": "kg/h",
    "usgals": "US gal", "gallonsus": "US gal",
}
_BARE_GALLON = {"gal": "US gal", "gals": "US gal", "gallon": "US gal", "gallons": "US gal",
                "gal/h": "US gal/h", "gal/hr": "US gal/h", "gals/h": "US gal/h",
                "gals/hr": "US gal/h", "gallons/h": "US gal/h", "gallons/hr": "US gal/h",
                "gallons/hour": "US gal/h", "gal/hour": "US gal/h"}
# what stands in a row of units and is none that we know
_OTHER_UNITS = re.compile(
    r"(?i)[#\-]|bool|enum|text|string|str|int|float|hex|discrete|none|n/?a|volts?|v|amps?|a|mhz|khz"
    r"|hz|utc|z|ddmm.*|[ymdhs]{1,4}(?:[-/:. ][ymdhs]{1,4}){1,2}(?:[.,]s+)?|(?:yyyy|hh|mm|ss|dd)+"
    r"|lcl|local|deg/s|°/s|fsd|s|ms|sec|count|counts|raw|nm|m|crc|date|time|iso ?8601|epoch.*"
    r"|unix|g|dbm|db|ratio|1|0/1|on/off|hh?:?mm?|±?hh:mm")

#: Units that a quantity may have where none is said, the usual first.
_CHOICES = {
    "speed": ("kt", "km/h", "mph", "m/s"),
    "length": ("ft", "m"),
    "vertical_speed": ("ft/min", "m/s", "kt"),
    "pressure": ("inHg", "hPa", "kPa", "psi", "bar", "mmHg"),
    "temperature": ("degC", "degF", "K"),
    "angular_speed": ("rpm", "rev/s"),
    "volume_flow": ("L/h", "US gal/h", "imp gal/h", "lb/h", "kg/h"),
    "volume": ("L", "US gal", "imp gal", "lb", "kg"),
    "power": ("%", "kW", "hp"),
    "angle": ("deg", "rad"),
    "acceleration": ("g", "m/s^2"),
}


def header_unit(text: str) -> HeaderUnit | None:
    """Read a unit as it stands in a header.

    Parameters
    ----------
    text : str
        Such as ``KIAS``, ``°C`` or ``U/min``.

    Returns
    -------
    HeaderUnit or None
        None where it is no unit that a channel can have; never raises.

    Examples
    --------
    >>> header_unit("KIAS")
    HeaderUnit(unit='kt', words='ias', open=False)
    >>> header_unit("gal/hr").open, header_unit("Flight") is None
    (True, True)
    """
    plain = unicodedata.normalize("NFKC", " ".join(text.split())).strip("()[]{}<> ,;:")
    if not plain or len(plain) > 24:
        return None
    key = spelling_key(plain)
    if key in _HINTED:
        unit, words = _HINTED[key]
        return HeaderUnit(unit, words)
    if key in _BARE_GALLON:
        return HeaderUnit(_BARE_GALLON[key], open=True)
    if key in _OURS:
        return HeaderUnit(_OURS[key])
    return HeaderUnit(plain) if _known(plain) else None


@lru_cache(maxsize=4096)
def _known(unit: str) -> bool:
    """Whether any dimension has this unit."""
    return any(_scale(unit, dimension) is not None
               for dimension in SI_UNITS if dimension not in ("none", "mass", "area"))


@lru_cache(maxsize=8192)
def _scale(unit: str, dimension: str) -> tuple[float, float] | None:
    """Scale and offset to SI; None where the unit has another dimension."""
    try:
        return factor_to_si(unit, dimension, fuel_density_kg_m3=720.0)
    except UnitError:
        return None


def channel_scale(channel: Channel, unit: str) -> tuple[float, float] | None:
    """Scale and offset from a unit to the channel's; fuel by mass through a usual density.

    Parameters
    ----------
    channel : Channel
        The channel.
    unit : str
        Unit.

    Returns
    -------
    tuple of float or None
        For power in per cent, of a hundred kilowatts; None where the unit does not fit; never
        raises.

    Examples
    --------
    >>> from stdday.channels import CHANNELS
    >>> channel_scale(CHANNELS["ground_speed"], "km/h"), channel_scale(CHANNELS["track"], "kt")
    ((0.277778, 0.0), None)
    """
    if channel.name == "power" and spelling_key(unit) in ("%", "percent", "pct"):
        return 1000.0, 0.0
    found = _scale(unit, channel.dimension)
    inside = _scale(channel.unit, channel.dimension)
    if found is None or inside is None:
        return None
    return found[0] / inside[0], found[1] / inside[0]


def choices_for(channel: Channel) -> tuple[str, ...]:
    """Units that a channel may have where the recording does not say.

    Parameters
    ----------
    channel : Channel
        The channel.

    Returns
    -------
    tuple of str
        The usual first; never raises.

    Examples
    --------
    >>> from stdday.channels import CHANNELS
    >>> choices_for(CHANNELS["gps_altitude"]), choices_for(CHANNELS["latitude"])
    (('ft', 'm'), ('deg',))
    """
    if channel.name in ("latitude", "longitude"):
        return ("deg",)
    return _CHOICES.get(channel.dimension, (channel.unit,))


def is_unit(text: str) -> bool:
    """Tell whether a cell could stand in a row of units.

    Parameters
    ----------
    text : str
        The cell.

    Returns
    -------
    bool
        Never raises.

    Examples
    --------
    >>> is_unit("deg C"), is_unit("yyy-mm-dd"), is_unit("Airspeed")
    (True, True, False)
    """
    plain = text.strip("()[]{} \t#")
    if not plain or len(plain) > 24:
        return False
    return header_unit(plain) is not None or _OTHER_UNITS.fullmatch(plain) is not None


# units of what is no channel: with one of these in brackets a column cannot be one
_STRANGE = re.compile(r"(?i)volts?|v|amps?|a|[mk]?hz|deg/s|°/s|dbm?|hh?:mm(?::ss)?|s|ms|sec")
_BRACKETS = re.compile(r"[\[({<]([^\])}>]{1,24})[\])}>]")
_AFTER = re.compile(r"(.*?)(?:\s*[;|,:/=]\s*|\s+-\s+|\s+in\s+)([^;|,:=]{1,24})")
_TAIL = re.compile(r"(.*[^\s_.\-])[\s_.\-]+([^\s_]{1,12}(?:[\s]\S{1,6})?)")


def split_unit(name: str) -> tuple[str, str, str]:
    """Split a name into words and unit.

    Parameters
    ----------
    name : str
        Name of a column.

    Returns
    -------
    tuple of (str, str, str)
        Words, unit as written (empty where there is none) and where it stood: ``bracket``,
        ``suffix`` or empty; never raises.

    Examples
    --------
    >>> split_unit("Airspeed (kt)"), split_unit("OAT;°C"), split_unit("alt_ft")
    (('Airspeed', 'kt', 'bracket'), ('OAT', '°C', 'bracket'), ('alt', 'ft', 'suffix'))
    >>> split_unit("Height (sat)")
    ('Height (sat)', '', '')
    """
    name = name[:300]
    for found in reversed(list(_BRACKETS.finditer(name))):
        if header_unit(found[1]) is not None or _STRANGE.fullmatch(found[1].strip()):
            words = (name[:found.start()] + " " + name[found.end():]).strip()
            return " ".join(words.split()), found[1].strip(), "bracket"
    after = _AFTER.fullmatch(name)
    if after and after[1].strip() and header_unit(after[2]) is not None:
        return after[1].strip(), after[2].strip(), "bracket"
    return _by_suffix(name)


def _by_suffix(name: str) -> tuple[str, str, str]:
    """Split off a unit that stands last, after a blank, a point, a dash or an underline."""
    parts = re.split(r"([\s_.\-]+)", name)
    for count in (2, 1):
        if len(parts) < 2 * count + 1:
            continue
        tail = "".join(parts[-(2 * count - 1):]).strip()
        tail = re.sub(r"_", "/", tail) if count == 2 and "_" in parts[-2] else tail
        head = "".join(parts[: -2 * count]).strip(" _.-")
        if head and header_unit(tail) is not None and _plausible_tail(tail):
            return head, tail, "suffix"
    camel = re.fullmatch(r"(.*[a-z])(Kts?|Kmh|Mph|Ft|Fpm|Rpm|Deg|Hpa|InHg|Lph|Gph|C|F|Kt)", name)
    if camel and header_unit(camel[2]) is not None:
        return camel[1], camel[2], "suffix"
    return name, "", ""


def _plausible_tail(tail: str) -> bool:
    """Whether the last word of a name may be its unit and not the quantity itself."""
    return tail.casefold() not in {"min", "sat", "st", "day", "d", "in", "1", "-", "t", "n", "s",
                                   "foot", "hour", "h", "second", "minute", "rpm", "hg"}
