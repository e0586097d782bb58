"""What the trade's spellings of units mean, by the dimension that is needed.

The table behind `stdday.units`: to read one more spelling, add it here.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache

__all__ = ["BY_MASS", "PINT_SI", "SI_UNITS", "pint_name", "spelling_key", "unit_hint", "unit_rows"]

#: Unit in which each dimension is kept inside the library.
SI_UNITS: dict[str, str] = {
    "length": "m",
    "speed": "m/s",
    "vertical_speed": "m/s",
    "mass": "kg",
    "force": "N",
    "pressure": "Pa",
    "temperature": "K",
    "temperature_difference": "K",
    "angle": "rad",
    "angular_speed": "rev/s",
    "power": "W",
    "volume": "m^3",
    "volume_flow": "m^3/s",
    "area": "m^2",
    "time": "s",
    "density": "kg/m^3",
    "fraction": "fraction",
    "acceleration": "m/s^2",
    "specific_consumption": "kg/J",
    "specific_range": "m/m^3",
    "none": "",
}

PINT_SI = {
    "length": "meter",
    "speed": "meter/second",
    "vertical_speed": "meter/second",
    "mass": "kilogram",
    "force": "newton",
    "pressure": "pascal",
    "temperature": "kelvin",
    "temperature_difference": "kelvin",
    "angle": "radian",
    "angular_speed": "revolution/second",
    "power": "watt",
    "volume": "meter**3",
    "volume_flow": "meter**3/second",
    "area": "meter**2",
    "time": "second",
    "density": "kilogram/meter**3",
    "fraction": "dimensionless",
    "acceleration": "meter/second**2",
    "specific_consumption": "kilogram/joule",
    "specific_range": "meter/meter**3",
    "none": "dimensionless",
}

# One line a unit: the name pint knows it by, then the trade's spellings, the usual one first.
# A spelling is compared without spaces, points, brackets and capitals (see spelling_key).
_SPELLINGS = {
    "length": """
        foot = ft | feet | foot
        meter = m | metre | metres | meter | meters
        nautical_mile = NM | nmi | nautical mile | nautical miles
        kilometer = km | kilometre | kilometres | kilometer | kilometers
        mile = mi | statute mile | statute miles | sm | mile | miles
        inch = in | inch | inches
        centimeter = cm | centimetre | centimeter
        millimeter = mm | millimetre | millimeter
        yard = yd | yard | yards
    """,
    "speed": """
        knot = kt | kts | knot | knots | kn
        kilometer/hour = km/h | kmh | kph | kmph
        mile/hour = mph
        meter/second = m/s | mps | ms-1
        foot/second = ft/s | fps
    """,
    "vertical_speed": """
        foot/minute = ft/min | fpm
        meter/second = m/s | mps | ms-1
        knot = kt | kts | knot | knots | kn
        foot/second = ft/s | fps
    """,
    "mass": """
        kilogram = kg | kgs | kilogram | kilograms | kilogramme | kilogrammes
        pound = lb | lbs | pound | pounds | lbm
        gram = g | gram | grams
        ounce = oz | ounce | ounces
        metric_ton = t | tonne | tonnes
        stone = st | stone
        slug = slug | slugs
    """,
    "force": """
        newton = N | newton | newtons
        pound_force = lbf | lb | lbs
        kilonewton = kN
        decanewton = daN
        kilogram_force = kgf | kp
    """,
    "pressure": """
        hectopascal = hPa | mb | mbar | millibar | millibars
        inch_Hg = inHg | inch Hg | inches Hg | inch of mercury | inches of mercury | in-Hg | "Hg
        kilopascal = kPa
        pascal = Pa | pascal
        psi = psi | psia | lb/in2 | lbf/in2
        bar = bar
        mmHg = mmHg | torr
        atmosphere = atm
    """,
    "temperature": """
        degC = degC | C | °C | celsius | degrees C | degrees celsius
        degF = degF | F | °F | fahrenheit | degrees F | degrees fahrenheit
        kelvin = K | kelvin | degK | °K
        degR = degR | °R | rankine
    """,
    "temperature_difference": """
        kelvin = K | kelvin
        delta_degC = degC | C | °C | celsius | degrees C | deltadegC
        delta_degF = degF | F | °F | fahrenheit | degrees F | deltadegF
    """,
    "angle": """
        degree = deg | ° | degree | degrees
        radian = rad | radian | radians
    """,
    "angular_speed": """
        revolution/minute = rpm | rev/min | revs/min | r/min | 1/min | min-1
        revolution/second = rev/s | rps
        radian/second = rad/s
        degree/second = deg/s
    """,
    "power": """
        horsepower = hp | bhp | shp | horsepower
        kilowatt = kW | kilowatt | kilowatts
        metric_horsepower = PS | CV | metric hp | metric horsepower
        watt = W | watt | watts
    """,
    "volume": """
        liter = L | litre | litres | liter | liters | ltr
        US_liquid_gallon = US gal | US gallon | US gallons | USG | gal US | gal (US) | gallons (US)
        imperial_gallon = imp gal | imp gallon | imp gallons | imperial gal | imperial gallon
        imperial_gallon = imperial gallons | UK gal | UK gallon | UK gallons | gal (imp)
        US_liquid_quart = US qt | US quart | US quarts
        milliliter = mL | millilitre | cc | cm3
        meter**3 = m^3 | cubic metre | cubic meter | cubic metres
        decimeter**3 = dm^3
        foot**3 = ft^3 | cu ft | cubic feet
    """,
    "volume_flow": """
        liter/hour = L/h | lph
        US_liquid_gallon/hour = US gal/h | gph | US gph
        imperial_gallon/hour = imp gal/h | imp gph
    """,
    "area": """
        meter**2 = m^2 | sq m | square metre | square metres | square meter | sqm | qm
        foot**2 = ft^2 | sq ft | square feet | square foot | sq-ft
        inch**2 = in^2 | sq in
        centimeter**2 = cm^2
    """,
    "time": """
        second = s | sec | secs | second | seconds
        minute = min | mins | minute | minutes
        hour = h | hr | hrs | hour | hours
        millisecond = ms | msec
        day = d | day | days
    """,
    "density": """
        kilogram/liter = kg/L
        pound/US_liquid_gallon = lb/US gal
        kilogram/meter**3 = kg/m^3
        gram/centimeter**3 = g/cm^3
    """,
    "fraction": """
        percent = % | percent | per cent | pct
        dimensionless = fraction
    """,
    "acceleration": """
        meter/second**2 = m/s^2 | ms-2
        standard_gravity = g
        foot/second**2 = ft/s^2
        knot/second = kt/s
    """,
    "specific_consumption": """
        gram/kilowatt/hour = g/kWh
        pound/horsepower/hour = lb/hp/h
        kilogram/kilowatt/hour = kg/kWh
    """,
    "specific_range": """
        nautical_mile/liter = nmi/L
        nautical_mile/US_liquid_gallon = nmi/US gal
        kilometer/liter = km/L
    """,
    "none": """
        dimensionless = - | 1
    """,
    "_energy": """
        kilowatt*hour = kWh
        horsepower*hour = hph | hp-h | bhph | hphr | hp-hr
        metric_horsepower*hour = PSh | PS-h
        joule = J
        megajoule = MJ
    """,
    "_mass_flow": """
        pound/hour = pph
    """,
}

# How a unit of one dimension is written as a quotient of units of others.
_QUOTIENTS: dict[str, tuple[tuple[str, ...], ...]] = {
    "speed": (("length", "time"),),
    "vertical_speed": (("length", "time"),),
    "volume_flow": (("volume", "time"),),
    "density": (("mass", "volume"),),
    "acceleration": (("speed", "time"), ("length", "time", "time")),
    "specific_consumption": (("mass", "_energy"), ("mass", "power", "time")),
    "specific_range": (("length", "volume"),),
    "_mass_flow": (("mass", "time"),),
    "_range_by_mass": (("length", "mass"),),
}

# Fuel is weighed as often as it is measured by volume: the same by mass, through its density.
BY_MASS = {
    "volume": ("mass", "kilogram"),
    "volume_flow": ("_mass_flow", "kilogram/second"),
    "specific_range": ("_range_by_mass", "meter/kilogram"),
}

_AIRSPEED_WORD = "write kt; the name of the entry already says which airspeed it is"
_HINTS = {
    "kias": _AIRSPEED_WORD,
    "kcas": _AIRSPEED_WORD,
    "keas": _AIRSPEED_WORD,
    "ktas": _AIRSPEED_WORD,
    "mpg": "write 'nmi/US gal' or 'nmi/imp gal' (or mi, km)",
    "qt": "write 'US qt' or a number of litres",
    "quart": "write 'US qt' or a number of litres",
}
_BARE_GALLON = re.compile(r"(^|/)gal(lons?|s)?(/|$)")
_GALLON_MEND = "write 'US gal' (3.785 L) or 'imp gal' (4.546 L)"


def spelling_key(unit: str) -> str:
    """Reduce a spelling to what is compared: no spaces, points, brackets, powers or capitals.

    Parameters
    ----------
    unit : str
        Unit as it was written.

    Returns
    -------
    str
        What is compared; never raises.

    Examples
    --------
    >>> spelling_key("In. Hg"), spelling_key("m²"), spelling_key("US gal per hour")
    ('inhg', 'm2', 'usgal/hour')
    """
    plain = unicodedata.normalize("NFKC", unit.replace("º", "°")).replace("\u2212", "-")
    plain = re.sub(r"\bper\b(?!\s*cent)", "/", plain.casefold())
    return re.sub(r"[\s.·⋅*^()\[\]]", "", plain)


@cache
def unit_rows(dimension: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """List the units of a dimension: pint's name and the trade's spellings, the usual one first.

    Parameters
    ----------
    dimension : str
        One of `SI_UNITS`; another gives no rows.

    Returns
    -------
    tuple of (str, tuple of str)
        One pair a line of the table; never raises.

    Examples
    --------
    >>> unit_rows("angle")
    (('degree', ('deg', '°', 'degree', 'degrees')), ('radian', ('rad', 'radian', 'radians')))
    """
    lines = (line.strip() for line in _SPELLINGS.get(dimension, "").splitlines())
    pairs = (line.split(" = ", 1) for line in lines if line)
    return tuple((name, tuple(part.strip() for part in rest.split("|"))) for name, rest in pairs)


@cache
def _table(dimension: str) -> dict[str, str]:
    """Pint's name for each spelling of a dimension."""
    return {spelling_key(word): name for name, words in unit_rows(dimension) for word in words}


def pint_name(key: str, dimension: str) -> str | None:
    """Find pint's name of a unit, straight or as a quotient of units of other dimensions.

    Parameters
    ----------
    key : str
        Spelling as `spelling_key` gives it.
    dimension : str
        Dimension that is needed; one of `SI_UNITS`, or a quantity of fuel by mass (`BY_MASS`).

    Returns
    -------
    str or None
        Expression that pint reads; None where the spelling is not known; never raises.

    Examples
    --------
    >>> pint_name("nm", "length"), pint_name("g/l", "density")
    ('nautical_mile', '(gram)/(liter)')
    """
    direct = _table(dimension).get(key)
    if direct is not None:
        return direct
    parts = key.split("/")
    for dimensions in _QUOTIENTS.get(dimension, ()):
        if len(dimensions) == len(parts):
            names = [_table(of).get(part) for part, of in zip(parts, dimensions, strict=True)]
            if all(names):
                return "/".join(f"({name})" for name in names)
    return None


def unit_hint(key: str) -> str:
    """Say how to mend a spelling that is refused on purpose.

    Parameters
    ----------
    key : str
        Spelling as `spelling_key` gives it.

    Returns
    -------
    str
        How to mend it; empty where nothing special is known; never raises.

    Examples
    --------
    >>> unit_hint("gal/h")
    "write 'US gal' (3.785 L) or 'imp gal' (4.546 L)"
    """
    if _BARE_GALLON.search(key):
        return _GALLON_MEND
    return _HINTS.get(key, "")
