"""How one entry of ``campaign.toml`` is read; what is wrong is said with how to mend it."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from typing import Any

from pydantic import BeforeValidator, Field
from pydantic_core import PydanticCustomError

from stdday.errors import InputError
from stdday.money import Money, parse_money, parse_money_per_volume
from stdday.names import nearest, to_fill_in
from stdday.units import UnitError, dimension_words, known_units, parse_quantity, shown

__all__ = [
    "calibration",
    "choice",
    "count",
    "entry",
    "exponents",
    "isa_offset",
    "limits",
    "money",
    "number",
    "pair",
    "pairs",
    "power_chart",
    "quantity",
    "refusal",
    "text",
    "time_zone",
]

_ISA = re.compile(r"ISA\s*(?:(?P<sign>[+-])\s*(?P<size>\d+(?:\.\d+)?)\s*(?:K|°?C)?)?",
                  re.IGNORECASE)
_ZONE = re.compile(r"(?:UTC|GMT|Z)\s*"
                   r"(?:(?P<sign>[+-])\s*(?P<hours>\d{1,2})(?::?(?P<minutes>\d{2}))?)?",
                   re.IGNORECASE)


def refusal(needed: str, found: str, mend: str) -> PydanticCustomError:
    """Make the error that a check raises, its three parts kept apart.

    Parameters
    ----------
    needed, found, mend : str
        As in `stdday.errors.Problem`.

    Returns
    -------
    PydanticCustomError
        To be raised inside a check; never raises itself.

    Examples
    --------
    >>> refusal("a mass", "'heavy'", "write 585 kg").context["mend"]
    'write 585 kg'
    """
    parts = {"needed": needed, "found": found, "mend": mend}
    return PydanticCustomError("campaign", "needed {needed}; found {found}. Mend: {mend}", parts)


def entry(words: str, example: str, *, required: bool = True, alias: str | None = None) -> Any:
    """Declare one key of a table.

    Parameters
    ----------
    words : str
        What the key holds, for messages.
    example : str
        How it is written, as in the file.
    required : bool
        Whether a campaign without it cannot be used.
    alias : str, optional
        Key in the file where it differs from the attribute.

    Returns
    -------
    Any
        The declaration for pydantic. The default is always None: a required key that is absent is
        reported apart, so that one fault does not hide others. Never raises.

    Examples
    --------
    >>> entry("the wing area", '"10.5 m^2"').examples
    ['"10.5 m^2"']
    """
    return Field(default=None, description=words, examples=[example], alias=alias,
                 json_schema_extra={"required": required})


def quantity(dimension: str, low: str | None = None, high: str | None = None) -> BeforeValidator:
    """Check for a quantity with its unit; gives SI.

    Parameters
    ----------
    dimension : str
        A word of `stdday.units`.
    low, high : str, optional
        Least and greatest value that is possible, with unit. They catch slips, such as a wing
        area in the wrong unit, and are wider than any light airplane.

    Returns
    -------
    BeforeValidator
        The check; it refuses what it cannot read. Making it never raises.

    Examples
    --------
    >>> quantity("mass", "20 kg", "20000 kg").func("1320 lb")
    598.741929
    """
    return BeforeValidator(lambda value: _quantity(value, dimension, low, high))


def _quantity(value: object, dimension: str, low: str | None, high: str | None) -> float:
    """Read one quantity within its bounds."""
    bounds = f" of {low} to {high}" if low and high else ""
    words = f"{dimension_words(dimension)}{bounds}"
    if to_fill_in(value):
        raise refusal(words, _nothing_yet(value), "fill it in")
    try:
        si = parse_quantity(value, dimension)
    except UnitError as error:
        raise refusal(error.needed, error.found, error.mend) from None
    if low and high and not parse_quantity(low, dimension) <= si <= parse_quantity(high, dimension):
        raise refusal(words, shown(value), "check the number and its unit")
    return si


def _nothing_yet(value: object) -> str:
    return f"{shown(value)}, still to fill in"


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise refusal("a text in quotes", shown(value), "write it in quotes")
    if to_fill_in(value):
        raise refusal("a text", _nothing_yet(value), "fill it in")
    return value


#: Check for a text that is not a mere place to fill in.
text = BeforeValidator(_text)


def choice(*options: str) -> BeforeValidator:
    """Check for one of a few words.

    Parameters
    ----------
    *options : str
        The words.

    Returns
    -------
    BeforeValidator
        The check. Making it never raises.

    Examples
    --------
    >>> choice("fixed pitch", "constant speed").func("fixed pitch")
    'fixed pitch'
    """
    return BeforeValidator(lambda value: _choice(value, options))


def _choice(value: object, options: Sequence[str]) -> str:
    words = "one of " + ", ".join(f'"{option}"' for option in options)
    if to_fill_in(value):
        raise refusal(words, _nothing_yet(value), "fill it in")
    if isinstance(value, str) and value in options:
        return value
    near = nearest(value, options) if isinstance(value, str) else None
    mend = f'write "{near}", if that is meant' if near else f"write {words}"
    raise refusal(words, shown(value), mend)


def number(low: float, high: float) -> BeforeValidator:
    """Check for a plain number without unit.

    Parameters
    ----------
    low, high : float
        Least and greatest value [-].

    Returns
    -------
    BeforeValidator
        The check. Making it never raises.

    Examples
    --------
    >>> number(1.0, 5.0).func(2.15)
    2.15
    """
    return BeforeValidator(lambda value: _number(value, low, high))


def _number(value: object, low: float, high: float) -> float:
    words = f"a plain number of {low:g} to {high:g}"
    if to_fill_in(value):
        raise refusal(words, _nothing_yet(value), "fill it in, without quotes")
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise refusal(words, shown(value), "write a number, without quotes or unit")
    if not low <= value <= high:
        raise refusal(words, shown(value), "check the number")
    return float(value)


def count(low: int, high: int) -> BeforeValidator:
    """Check for a whole number.

    Parameters
    ----------
    low, high : int
        Least and greatest value [-].

    Returns
    -------
    BeforeValidator
        The check. Making it never raises.

    Examples
    --------
    >>> count(2, 8).func(3)
    3
    """
    return BeforeValidator(lambda value: _count(value, low, high))


def _count(value: object, low: int, high: int) -> int:
    words = f"a whole number of {low} to {high}"
    if to_fill_in(value):
        raise refusal(words, _nothing_yet(value), "fill it in, without quotes")
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise refusal(words, shown(value), "write a whole number, without quotes")
    return value


def _isa_offset(value: object) -> float:
    words = 'a temperature in the trade\'s notation, "ISA" plus or minus kelvin'
    if to_fill_in(value):
        raise refusal(words, _nothing_yet(value), 'fill it in, such as "ISA+0"')
    plain = value.replace("\u2212", "-").strip() if isinstance(value, str) else ""
    found = _ISA.fullmatch(plain)
    if found is None:
        raise refusal(words, shown(value), 'write it such as "ISA+0" or "ISA-5"')
    size = float(found["size"] or 0.0)
    if size > 60.0:
        raise refusal(f"{words}, within 60", shown(value), "check the number")
    return -size if found["sign"] == "-" else size


#: Check for ``ISA+0``; gives the difference from the standard temperature [K].
isa_offset = BeforeValidator(_isa_offset)


def _time_zone(value: object) -> float:
    words = "a time zone as its difference from UTC"
    mend = 'write it such as "UTC", "UTC+1" or "UTC-3:30"'
    plain = value.replace("\u2212", "-").strip() if isinstance(value, str) else ""
    found = _ZONE.fullmatch(plain)
    if found is None:
        raise refusal(words, _nothing_yet(value) if to_fill_in(value) else shown(value), mend)
    seconds = 3600.0 * int(found["hours"] or 0) + 60.0 * int(found["minutes"] or 0)
    if seconds > 14 * 3600.0 or int(found["minutes"] or 0) > 59:
        raise refusal(f"{words}, within 14 hours", shown(value), mend)
    return -seconds if found["sign"] == "-" else seconds


#: Check for ``UTC+1``; gives local time minus UTC [s].
time_zone = BeforeValidator(_time_zone)


def pair(dimension: str, low: str, high: str, words: str) -> BeforeValidator:
    """Check for two quantities of one dimension.

    Parameters
    ----------
    dimension, low, high : str
        As in `quantity`.
    words : str
        What the two are, for messages.

    Returns
    -------
    BeforeValidator
        The check; gives a tuple of two. Making it never raises.

    Examples
    --------
    >>> pair("fraction", "20 %", "100 %", "climb and cruise").func(["70 %", "82 %"])
    (0.7, 0.82)
    """
    def check(value: object) -> tuple[float, ...]:
        if not isinstance(value, list) or len(value) != 2:
            raise refusal(f"two quantities in brackets: {words}", shown(value),
                          f'write it such as ["{low}", "{high}"]')
        return tuple(_quantity(one, dimension, low, high) for one in value)

    return BeforeValidator(check)


def pairs(
    first: tuple[str, str, str], second: tuple[str, str, str], words: str
) -> BeforeValidator:
    """Check for a table of pairs whose first column rises.

    Parameters
    ----------
    first, second : tuple of str
        Dimension, least and greatest value of the two columns.
    words : str
        What a pair is, for messages.

    Returns
    -------
    BeforeValidator
        The check; gives a tuple of pairs in SI. Making it never raises.

    Examples
    --------
    >>> column = ("speed", "0 kt", "400 kt")
    >>> pairs(column, column, "indicated, calibrated").func([["0 kt", "0 kt"], ["50 kt", "51 kt"]])
    ((0.0, 0.0), (25.7222, 26.2367))
    """
    return BeforeValidator(lambda value: _pairs(value, first, second, words))


def _pairs(
    value: object, first: tuple[str, str, str], second: tuple[str, str, str], words: str
) -> tuple[tuple[float, float], ...]:
    needed = f"a table of pairs: {words}"
    example = (f'write it such as [["50 {known_units(first[0])[0]}", '
               f'"50 {known_units(second[0])[0]}"], …]')
    if not isinstance(value, list) or not value:
        raise refusal(needed, _nothing_yet(value) if to_fill_in(value) else shown(value), example)
    rows = []
    for place, row in enumerate(value, start=1):
        if not isinstance(row, list) or len(row) != 2:
            raise refusal(needed, f"{shown(row)} as pair {place}", example)
        rows.append((_quantity(row[0], *first), _quantity(row[1], *second)))
    steps = [after[0] - before[0] for before, after in itertools.pairwise(rows)]
    if any(step <= 0.0 for step in steps):
        raise refusal(f"{needed}, the first rising from pair to pair",
                      f"pair {1 + next(i for i, step in enumerate(steps, 1) if step <= 0.0)} "
                      "not above the one before", "put the pairs in rising order, each once")
    return tuple(rows)


_AIRSPEED = ("speed", "5 kt", "400 kt")


def _calibration(value: object) -> str | tuple[tuple[float, float], ...]:
    words = '"none", "from flights", or a table of pairs: indicated airspeed, calibrated airspeed'
    if isinstance(value, str) and not to_fill_in(value):
        if value in ("none", "from flights"):
            return value
        raise refusal(words, shown(value), 'write "none" where there is no table')
    rows = _pairs(value, _AIRSPEED, _AIRSPEED, "indicated airspeed, calibrated airspeed")
    falls = any(after[1] <= before[1] for before, after in itertools.pairwise(rows))
    if len(rows) < 2 or falls:
        raise refusal("at least two pairs, calibrated airspeed rising with indicated",
                      f"{len(rows)} pair(s)", "check the table")
    worst = max(abs(indicated - calibrated) for indicated, calibrated in rows)
    if worst > parse_quantity("25 kt", "speed"):
        raise refusal("indicated and calibrated airspeeds within 25 kt of each other",
                      f"{worst * 3600 / 1852:.0f} kt between them", "check the table and its units")
    return rows


#: Check for the airspeed calibration: a word or the owner's table.
calibration = BeforeValidator(_calibration)


def _power_chart(value: object) -> tuple[tuple[float, float, float], ...]:
    needed = "a table of engine speed, manifold pressure and power at standard temperature"
    example = 'write it such as [["2100 rpm", "20 inHg", "60 kW"], …], from the engine\'s manual'
    if not isinstance(value, list) or not value:
        raise refusal(needed, _nothing_yet(value) if to_fill_in(value) else shown(value), example)
    rows = []
    for place, row in enumerate(value, start=1):
        if not isinstance(row, list) or len(row) != 3:
            raise refusal(needed, f"{shown(row)} as row {place}", example)
        rows.append((_quantity(row[0], "angular_speed", "300 rpm", "10000 rpm"),
                     _quantity(row[1], "pressure", "100 hPa", "3000 hPa"),
                     _quantity(row[2], "power", "1 kW", "2000 kW")))
    speeds = {row[0] for row in rows}
    if len(speeds) < 2 or any(sum(one[0] == speed for one in rows) < 2 for speed in speeds):
        raise refusal(f"{needed}: two engine speeds at least, each with two manifold pressures",
                      f"{len(speeds)} engine speed(s) in {len(rows)} row(s)",
                      "type in more rows of the chart")
    if len({row[:2] for row in rows}) < len(rows):
        raise refusal(f"{needed}, each pair once", "a pair given twice", "take one of the two out")
    return tuple(rows)


#: Check for the owner's power chart.
power_chart = BeforeValidator(_power_chart)


def limits(dimensions: dict[str, str]) -> BeforeValidator:
    """Check for a table of limits, each with its dimension.

    Parameters
    ----------
    dimensions : dict of str to str
        Dimension of each limit that is known.

    Returns
    -------
    BeforeValidator
        The check; gives SI values by name. Making it never raises.

    Examples
    --------
    >>> limits({"flap": "speed"}).func({"flap": "70 kt"})
    {'flap': 36.0111}
    """
    def check(value: object) -> dict[str, float]:
        if not isinstance(value, dict):
            raise refusal("a table of limits", shown(value), 'write it such as { flap = "70 kt" }')
        return {name: _quantity(one, _dimension(name), None, None) for name, one in value.items()}

    def _dimension(name: str) -> str:
        if name not in dimensions:
            near = nearest(name, dimensions)
            raise refusal(f"one of the limits {', '.join(dimensions)}", shown(name),
                          f"write {near}, if that is meant" if near else "leave it out")
        return dimensions[name]

    return BeforeValidator(check)


def money(*, per_volume: bool = False) -> BeforeValidator:
    """Check for a price with its currency.

    Parameters
    ----------
    per_volume : bool
        Whether it is the price of a volume of fuel; gives that of one cubic metre.

    Returns
    -------
    BeforeValidator
        The check; gives `stdday.money.Money`. Making it never raises.

    Examples
    --------
    >>> money().func("300 euros")
    Money(amount=300.0, currency='euros')
    """
    read = parse_money_per_volume if per_volume else parse_money
    example = "2.40 euros per L" if per_volume else "1200 euros"

    def check(value: object) -> Money:
        try:
            return read(_text(value))
        except InputError:
            needed = "a price per volume" if per_volume else "a price with its currency"
            raise refusal(needed, shown(value), f'write it such as "{example}"') from None

    return BeforeValidator(check)


_EXPONENTS = ("weight", "density", "engine_speed", "power")


def _exponents(value: object) -> dict[str, float | str]:
    words = f"a table of the exponents {', '.join(_EXPONENTS)} and the source as standing"
    mend = ('write it such as { weight = 2.4, density = -2.4, engine_speed = 0.5, power = -1.0, '
            'standing = "our handbook, page 12" }')
    if not isinstance(value, dict) or set(value) - {"standing"} != set(_EXPONENTS):
        raise refusal(words, shown(value), mend)
    result: dict[str, float | str] = {}
    for name in _EXPONENTS:
        result[name] = _number(value[name], -10.0, 10.0)
    result["standing"] = _text(value.get("standing", "given in the campaign"))
    return result


#: Check for the owner's exponents of the ground roll.
exponents = BeforeValidator(_exponents)
