"""Prices as people write them: an amount and a currency, no exchange."""

from __future__ import annotations

import re
from dataclasses import dataclass

from stdday.errors import InputError
from stdday.units import UnitError, parse_quantity

__all__ = ["Money", "parse_money", "parse_money_per_volume"]

_NUMBER = r"(?P<amount>\d{1,3}(?:[ ,']\d{3})+(?:\.\d+)?|\d+(?:[.,]\d{1,2})?)"
_AFTER = re.compile(rf"{_NUMBER}\s*(?P<currency>[^\W\d_]+|[^\w\s.,'/-])")
_BEFORE = re.compile(rf"(?P<currency>[^\W\d_]+|[^\w\s.,'/-])\s*{_NUMBER}")
_EXAMPLE = 'write it such as "1200 euros"'


@dataclass(frozen=True)
class Money:
    """An amount of money.

    Parameters
    ----------
    amount : float
        In units of the currency.
    currency : str
        As written.
    """

    amount: float
    currency: str


def parse_money(text: str) -> Money:
    """Read a price.

    Parameters
    ----------
    text : str
        Number and currency, in either order; thousands may be set apart.

    Returns
    -------
    Money

    Raises
    ------
    InputError
        Where it is no price.

    Examples
    --------
    >>> parse_money("1 200 euros"), parse_money("$2,350.50")
    (Money(amount=1200.0, currency='euros'), Money(amount=2350.5, currency='$'))
    """
    found = _AFTER.fullmatch(text.strip()) or _BEFORE.fullmatch(text.strip())
    if found is None:
        raise InputError(f"needed a price with its currency; found {text!r}. Mend: {_EXAMPLE}")
    digits = found["amount"]
    if re.fullmatch(r"\d+,\d{1,2}", digits):
        digits = digits.replace(",", ".")
    return Money(float(re.sub(r"[ ,']", "", digits)), found["currency"])


def parse_money_per_volume(text: str) -> Money:
    """Read a price of fuel.

    Parameters
    ----------
    text : str
        A price, ``per`` or a stroke, and a unit of volume.

    Returns
    -------
    Money
        Price of one cubic metre.

    Raises
    ------
    InputError
        Where it is no price of a volume.

    Examples
    --------
    >>> parse_money_per_volume("2.40 euros per L")
    Money(amount=2400.0, currency='euros')
    >>> parse_money_per_volume("$6.10/US gal").currency
    '$'
    """
    price, _, unit = re.sub(r"\s+per\s+", "/", text.strip()).partition("/")
    needed = f"needed a price per volume; found {text!r}. Mend: write it such as "
    try:
        volume = parse_quantity(f"1 {unit}", "volume")
    except UnitError as error:
        raise InputError(f'{needed}"2.40 euros per L"') from error
    money = parse_money(price)
    return Money(money.amount / volume, money.currency)
