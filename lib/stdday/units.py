"""Units as pilots write them, turned into SI by the dimension that is needed.

A unit is read only after the dimension is known, so that ``F`` is a temperature, ``nm`` a nautical
mile and ``mb`` a pressure. The conversion factors are computed by pint, in exact fractions, from
the definitions that NIST SP 811 gives; pint is imported at the first conversion only.
"""

from __future__ import annotations

import difflib
import math
import re
import unicodedata
from fractions import Fraction
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from stdday.errors import InputError
from stdday.unit_names import (
    BY_MASS,
    PINT_SI,
    SI_UNITS,
    pint_name,
    spelling_key,
    unit_hint,
    unit_rows,
)

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

__all__ = [
    "DIMENSIONS",
    "SI_UNITS",
    "UnitError",
    "dimension_words",
    "factor_to_si",
    "from_si",
    "known_units",
    "parse_number",
    "parse_quantity",
    "shown",
    "to_si",
]

#: Every dimension that a quantity can have.
DIMENSIONS: tuple[str, ...] = tuple(SI_UNITS)

_WORDS = {
    "none": "a plain number",
    "fraction": "a share",
    "temperature_difference": "a difference of temperature",
    "angular_speed": "an engine or propeller speed",
    "volume_flow": "a flow",
    "specific_consumption": "a specific fuel consumption",
    "area": "an area",
    "angle": "an angle",
    "acceleration": "an acceleration",
}

_NUMBER = re.compile(r"(?P<number>[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:e[+-]?\d+(?![a-z]))?)(?P<unit>.*)",
                     re.IGNORECASE)
_DECIMAL_COMMA = re.compile(r"(?P<head>[+-]?\d+),(?P<tail>\d+)(?P<unit>(?![\d.,]).*)")
_GROUPED = re.compile(r"(?P<digits>[+-]?\d{1,3}(?P<mark>[,.' _])\d{3}(?:(?P=mark)\d{3})*"
                      r"(?:[.,]\d+)?)(?P<unit>(?![\d.,]).*)")


class UnitError(InputError):
    """A quantity that cannot be read, with what was needed and how to mend it kept apart.

    Parameters
    ----------
    needed, found, mend : str
        What was needed, what was found, how to mend it.

    Examples
    --------
    >>> try:
    ...     parse_quantity("5 gal", "volume")
    ... except UnitError as error:
    ...     print(error.mend)
    write 'US gal' (3.785 L) or 'imp gal' (4.546 L)
    """

    def __init__(self, needed: str, found: str, mend: str) -> None:
        self.needed, self.found, self.mend = needed, found, mend
        super().__init__(f"needed {needed}; found {found}. Mend: {mend}.")

    def __reduce__(self) -> tuple[type[UnitError], tuple[str, str, str]]:
        """Pickle by the three parts, so that the error passes between processes."""
        return type(self), (self.needed, self.found, self.mend)


def shown(value: object, longest: int = 60) -> str:
    """Quote something found in a file, shortened, for a message.

    Parameters
    ----------
    value : object
        What was found.
    longest : int
        Longest text quoted [characters].

    Returns
    -------
    str
        The quoted text on one line.

    Examples
    --------
    >>> shown("heavy")
    "'heavy'"
    >>> shown("x" * 100, longest=5)
    "'xxxxx…'"
    """
    if isinstance(value, str):
        return repr(value if len(value) <= longest else value[:longest] + "…")
    if isinstance(value, int) and value.bit_length() > 1000:
        return f"a number of {value.bit_length()} bits"
    text = repr(value)
    return text if len(text) <= longest else text[:longest] + "…"


def dimension_words(dimension: str) -> str:
    """Name a dimension in words, with its article.

    Parameters
    ----------
    dimension : str
        One of `DIMENSIONS`.

    Returns
    -------
    str
        Such as ``a vertical speed``.

    Raises
    ------
    InputError
        If the dimension is none of `DIMENSIONS`.

    Examples
    --------
    >>> dimension_words("vertical_speed"), dimension_words("area")
    ('a vertical speed', 'an area')
    """
    _check_dimension(dimension)
    return _WORDS.get(dimension, f"a {dimension.replace('_', ' ')}")


def known_units(dimension: str) -> tuple[str, ...]:
    """Units that are read for a dimension, in their usual spelling, for messages and choices.

    Other spellings (``knots``, ``FPM``, ``in. Hg``) and quotients (``ft/s``, ``kg/L``) of known
    units are read too.

    Parameters
    ----------
    dimension : str
        One of `DIMENSIONS`.

    Returns
    -------
    tuple of str
        The usual ones first.

    Raises
    ------
    InputError
        If the dimension is none of `DIMENSIONS`.

    Examples
    --------
    >>> known_units("speed")
    ('kt', 'km/h', 'mph', 'm/s', 'ft/s')
    """
    _check_dimension(dimension)
    usual: dict[str, str] = {}
    for name, spellings in unit_rows(dimension):
        usual.setdefault(name, spellings[0])
    return tuple(usual.values())


def factor_to_si(
    unit: str, dimension: str, *, fuel_density_kg_m3: float | None = None
) -> tuple[float, float]:
    """Scale and offset that turn a value in a unit into SI: ``si = value * scale + offset``.

    Parameters
    ----------
    unit : str
        Unit as pilots write it; case, spaces and points do not matter.
    dimension : str
        One of `DIMENSIONS`; decides what an ambiguous spelling means.
    fuel_density_kg_m3 : float, optional
        Density of the fuel [kg/m^3]; needed only to read a volume of fuel, a fuel flow or a
        specific range that is given by mass (``kg``, ``lb/h``, ``nmi/lb``).

    Returns
    -------
    tuple of float
        Scale and offset; the offset is 0 for all but temperatures.

    Raises
    ------
    UnitError
        If the unit is not known for that dimension, is ambiguous, or needs the fuel density.
    InputError
        If the dimension is none of `DIMENSIONS`.

    Notes
    -----
    Factors: pint's definitions, which follow NIST Special Publication 811, appendix B. A knot is
    1852 m/h, an inch of mercury the conventional one, a horsepower 550 ft lbf/s, a PS 75 kgf m/s.

    Examples
    --------
    >>> factor_to_si("kts", "speed")
    (0.514444, 0.0)
    >>> factor_to_si("F", "temperature")
    (0.555556, 255.372222)
    """
    _check_dimension(dimension)
    return _factor(unit, dimension, fuel_density_kg_m3)


def parse_quantity(
    text: object, dimension: str, *, fuel_density_kg_m3: float | None = None
) -> float:
    """Read a quantity with its unit, such as ``"1320 lb"``, into SI.

    A decimal comma is read where it can mean nothing else (``"585,5 kg"``); separators of
    thousands, numbers without a unit and numbers that are not finite are refused.

    Parameters
    ----------
    text : str
        Number and unit. Anything but a string is refused with the mend.
    dimension : str
        One of `DIMENSIONS`; for ``none`` a number without unit is right.
    fuel_density_kg_m3 : float, optional
        Density of the fuel [kg/m^3], as in `factor_to_si`.

    Returns
    -------
    float
        Value in the SI unit of the dimension (`SI_UNITS`).

    Raises
    ------
    UnitError
        If there is no such quantity in the text; says what was needed and how to mend it.
    InputError
        If the dimension is none of `DIMENSIONS`.

    Examples
    --------
    >>> parse_quantity("1320 lb", "mass")
    598.741929
    >>> parse_quantity("65 %", "fraction")
    0.65
    >>> parse_quantity("48", "speed")
    Traceback (most recent call last):
    stdday.units.UnitError: needed a speed with its unit (kt, km/h, mph, m/s, ft/s); found '48'. \
Mend: write the unit too, such as "48 kt".
    """
    needed = _needed(dimension)
    if not isinstance(text, str):
        raise _not_text(text, dimension, needed)
    number, unit = _split(text, needed)
    if not unit and dimension != "none":
        raise UnitError(needed, shown(text), _no_unit_mend(number, dimension))
    try:
        scale, offset = factor_to_si(unit, dimension, fuel_density_kg_m3=fuel_density_kg_m3)
    except UnitError as error:
        raise UnitError(error.needed, shown(text), error.mend) from None
    value = float(number) * scale + offset
    if not math.isfinite(value):
        raise UnitError(needed, shown(text), "write a finite number")
    return value


def parse_number(text: str) -> float:
    """Read a number that stands without unit, as in a cell whose header has the unit.

    A decimal comma is read where it can mean nothing else; separators of thousands are refused.

    Parameters
    ----------
    text : str
        The number.

    Returns
    -------
    float
        The number [-], finite.

    Raises
    ------
    UnitError
        If the text is anything but one finite number.

    Examples
    --------
    >>> parse_number("585,5"), parse_number("-3.0")
    (585.5, -3.0)
    """
    needed = "a number"
    number, unit = _split(text, f"{needed} without unit")
    if unit or not math.isfinite(float(number)):
        alone = f'write "{number}": the unit stands in the header'
        mend = alone if unit else "write a finite number"
        raise UnitError(needed, shown(text), mend)
    return float(number)


def to_si(
    values: ArrayLike, unit: str, dimension: str, *, fuel_density_kg_m3: float | None = None
) -> NDArray[np.float64]:
    """Turn values in a unit into SI.

    Parameters
    ----------
    values : array_like, any shape
        Values in `unit`; NaN passes through.
    unit, dimension : str
        As in `factor_to_si`.
    fuel_density_kg_m3 : float, optional
        Density of the fuel [kg/m^3], as in `factor_to_si`.

    Returns
    -------
    ndarray, the same shape
        Values in the SI unit of the dimension.

    Raises
    ------
    UnitError
        As in `factor_to_si`.

    Examples
    --------
    >>> to_si([0.0, 100.0], "kt", "speed")
    array([ 0.        , 51.44444444])
    """
    scale, offset = factor_to_si(unit, dimension, fuel_density_kg_m3=fuel_density_kg_m3)
    return np.asarray(values, dtype=np.float64) * scale + offset


def from_si(
    values: ArrayLike, unit: str, dimension: str, *, fuel_density_kg_m3: float | None = None
) -> NDArray[np.float64]:
    """Turn SI values into a unit; the inverse of `to_si`.

    Parameters
    ----------
    values : array_like, any shape
        Values in the SI unit of the dimension; NaN passes through.
    unit, dimension : str
        As in `factor_to_si`.
    fuel_density_kg_m3 : float, optional
        Density of the fuel [kg/m^3], as in `factor_to_si`.

    Returns
    -------
    ndarray, the same shape
        Values in `unit`.

    Raises
    ------
    UnitError
        As in `factor_to_si`.

    Examples
    --------
    >>> from_si([288.15], "degC", "temperature")
    array([15.])
    """
    scale, offset = factor_to_si(unit, dimension, fuel_density_kg_m3=fuel_density_kg_m3)
    return np.asarray((np.asarray(values, dtype=np.float64) - offset) / scale)


# ---------------------------------------------------------------- reading the number


def _split(text: str, needed: str) -> tuple[str, str]:
    """Split a quantity into its number (as Python reads it) and its unit."""
    plain = unicodedata.normalize("NFKC", text.replace("º", "°")).replace("\u2212", "-")
    plain = plain.replace("\u2019", "'").strip()
    comma = _DECIMAL_COMMA.fullmatch(plain)
    if comma and _surely_decimal(comma["head"], comma["tail"]):
        return f"{comma['head']}.{comma['tail']}", comma["unit"].strip()
    grouped = _GROUPED.fullmatch(plain)
    if grouped and not (grouped["mark"] == "." and "," not in grouped["digits"]
                        and grouped["digits"].count(".") == 1):
        raise UnitError(needed, shown(text), _grouping_mend(grouped))
    found = _NUMBER.fullmatch(plain)
    if found is None or re.match(r"[\d.,/]", found["unit"].strip()):
        raise UnitError(needed, shown(text), _number_mend(needed))
    return found["number"], found["unit"].strip()


def _surely_decimal(head: str, tail: str) -> bool:
    """Whether a comma between these digits can only be a decimal comma."""
    digits = head.lstrip("+-")
    return len(tail) != 3 or len(digits) > 3 or digits.startswith("0")


def _grouping_mend(grouped: re.Match[str]) -> str:
    """Say how to write a number that has (or may have) separators of thousands."""
    digits, mark, unit = grouped["digits"], grouped["mark"], grouped["unit"].strip()
    plain = digits.replace(mark, "").replace(",", ".")
    whole = f"{plain} {unit}".strip()
    if mark == "," and digits.count(",") == 1 and "." not in digits:
        decimal = f"{digits.replace(',', '.')} {unit}".strip()
        return f'write "{whole}" or "{decimal}": the comma can be read both ways'
    return f'write "{whole}", without separators of thousands'


def _not_text(value: object, dimension: str, needed: str) -> UnitError:
    """Say what is wrong with a quantity that is no string."""
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number:
        return UnitError(needed, shown(value), "write one number and its unit in quotes")
    if dimension == "none":
        return UnitError(needed, shown(value), f'write "{value}" in quotes')
    return UnitError(needed, f"the bare number {value!r}",
                     f"{_no_unit_mend(str(value), dimension)}, in quotes")


def _no_unit_mend(number: str, dimension: str) -> str:
    """Say how to mend a number that lacks its unit."""
    if dimension == "fraction":
        share = float(number)
        percent = f"{100.0 * share:.6g} %" if abs(share) <= 1.0 else f"{share:.6g} %"
        return f'write it in per cent, such as "{percent}"'
    return f'write the unit too, such as "{number} {known_units(dimension)[0]}"'


def _number_mend(needed: str) -> str:
    """Say how to mend what has no readable number."""
    if "without unit" in needed:
        return 'write one finite number, such as "2.15"'
    usual = needed.rsplit("(", 1)[1].split(",", 1)[0].rstrip(")")
    return f'write one finite number and its unit, such as "12.5 {usual}"'


def _needed(dimension: str) -> str:
    """Say what a quantity of a dimension looks like."""
    words = dimension_words(dimension)
    if dimension == "none":
        return f"{words} without unit"
    return f"{words} with its unit ({', '.join(known_units(dimension))})"


# ---------------------------------------------------------------- finding the unit


def _check_dimension(dimension: str) -> None:
    if dimension not in SI_UNITS:
        raise InputError(f"dimension must be one of {', '.join(DIMENSIONS)}; got {dimension!r}")


@lru_cache(maxsize=4096)
def _factor(unit: str, dimension: str, fuel_density_kg_m3: float | None) -> tuple[float, float]:
    """Find scale and offset of a unit whose dimension is known to exist."""
    key = spelling_key(unit)
    if dimension == "none" and not key:
        return 1.0, 0.0
    name = pint_name(key, dimension)
    if name is not None:
        return _pint_factor(name, PINT_SI[dimension])
    by_mass, si = BY_MASS.get(dimension, ("", ""))
    name = pint_name(key, by_mass)
    if name is None:
        raise UnitError(_needed(dimension), f"unit {shown(unit)}", _unit_mend(key, dimension))
    scale, _ = _pint_factor(name, si)
    return _through_density(scale, unit, dimension, fuel_density_kg_m3), 0.0


def _through_density(
    scale: float, unit: str, dimension: str, fuel_density_kg_m3: float | None
) -> float:
    """Turn a factor by mass of fuel into one by volume."""
    if fuel_density_kg_m3 is None:
        raise UnitError(
            f"fuel by volume ({', '.join(known_units(dimension))}), or its density",
            f"unit {shown(unit)}",
            "give the airplane's fuel_density, or write it by volume, such as "
            f"{known_units(dimension)[0]}")
    if not 0.0 < fuel_density_kg_m3 < math.inf:
        raise InputError("fuel_density_kg_m3 [kg/m^3] must be above 0 and finite; "
                         f"got {fuel_density_kg_m3!r}")
    if dimension == "specific_range":
        return scale * fuel_density_kg_m3
    return scale / fuel_density_kg_m3


def _unit_mend(key: str, dimension: str) -> str:
    """Say how to mend a unit that is not known for a dimension."""
    usual = ", ".join(known_units(dimension))
    if not key:
        return f"write the unit ({usual})"
    if unit_hint(key):
        return unit_hint(key)
    others = [dimension_words(other) for other in DIMENSIONS
              if other != dimension and pint_name(key, other)]
    if others:
        return f"that is a unit of {others[0].split(' ', 1)[1]}: write one of {usual}"
    spellings = {spelling_key(word): word for _, words in unit_rows(dimension) for word in words}
    near = difflib.get_close_matches(key, spellings, n=1, cutoff=0.6)
    return f"write {spellings[near[0]]!r}, if that is meant" if near else f"write one of {usual}"


# ---------------------------------------------------------------- asking pint


@cache
def _registry() -> Any:
    """Make pint's registry, once and late: it takes a third of a second."""
    import pint  # noqa: PLC0415 - costs a third of a second, and most pages never need it

    return pint.UnitRegistry(non_int_type=Fraction)


@cache
def _pint_factor(name: str, si: str) -> tuple[float, float]:
    """Scale and offset of a unit by pint's name, computed exactly and rounded once."""
    registry = _registry()
    if name in ("degC", "degF", "degR"):
        scale = registry.Quantity(Fraction(1), f"delta_{name}" if name != "degR" else name)
        zero = registry.Quantity(Fraction(0), name).to(si).magnitude
        return float(scale.to(si).magnitude), float(zero)
    return float(registry.Quantity(Fraction(1), name).to(si).magnitude), 0.0
