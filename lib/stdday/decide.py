"""What a buyer gets for the money: price, mass, fuel, time and runway, with honest intervals.

For a new build the two parts compete at their prices; for a retrofit the new one is bought and the
old one sold. Nothing here weighs safety, and nothing is recommended.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from stdday.errors import InputError
from stdday.money import Money, parse_money

if TYPE_CHECKING:
    from stdday.campaign import Campaign
    from stdday.compare import Effect

__all__ = ["BreakEven", "Decision", "decisions", "hours_to_break_even"]

#: What is bought, by the case.
NEW_BUILD, RETROFIT = "new build", "retrofit"


@dataclass(frozen=True)
class BreakEven:
    """Hours after which a saving has paid for a price.

    Parameters
    ----------
    hours : float or None
        At the estimated saving [h]; None where that is no saving.
    low, high : float or None
        Ends of its 95 % interval [h]; `high` is None where it may never pay.
    words : str
        The same in words.
    """

    hours: float | None
    low: float | None
    high: float | None
    words: str


@dataclass(frozen=True)
class Decision:
    """One configuration against the reference configuration, for one case.

    Parameters
    ----------
    configuration, case : str
        Configuration, and ``new build`` or ``retrofit``.
    price : Money or None
        What it costs more [currency]; negative where less; None where prices do not tell.
    mass_kg : float or None
        What it weighs more [kg].
    condition_id : str
        Reference power at which fuel is compared.
    fuel_m3s : tuple of float or None
        Fuel flow saved at equal power, value and 95 % interval [m^3/s].
    break_even : BreakEven
        Hours to break even on fuel.
    notes : tuple of str
        What is missing.
    """

    configuration: str
    case: str
    price: Money | None
    mass_kg: float | None
    condition_id: str
    fuel_m3s: tuple[float, float, float] | None
    break_even: BreakEven
    notes: tuple[str, ...] = ()


def hours_to_break_even(price: float, saving_per_h: tuple[float, float, float]) -> BreakEven:
    """Hours after which a saving has paid for a price.

    Parameters
    ----------
    price : float
        What is to be paid more, in a currency.
    saving_per_h : tuple of float
        Saving in an hour: value, low and high end of its 95 % interval, same currency.

    Returns
    -------
    BreakEven
        The interval of a quotient of a known price by a saving is the quotient of its ends, as
        long as the saving is surely positive.

    Examples
    --------
    >>> hours_to_break_even(1000.0, (2.0, 1.0, 4.0)).words
    '500 h, 95 % interval 250 to 1000 h'
    >>> hours_to_break_even(1000.0, (0.5, -1.0, 2.0)).words
    'at least 500 h; it may never pay, as the flights do not show a saving'
    >>> hours_to_break_even(1000.0, (-2.0, -3.0, -1.0)).words
    'never: it costs more to run'
    >>> hours_to_break_even(-50.0, (2.0, 1.0, 3.0)).words
    'at once: it costs no more'
    """
    value, low, high = saving_per_h
    if price <= 0 and low >= 0:
        return BreakEven(0.0, 0.0, 0.0, "at once: it costs no more")
    if price <= 0:
        return BreakEven(
            None, None, None,
            "it costs no more, but the flights do not show that it saves fuel",
        )
    if high <= 0:
        return BreakEven(None, None, None, "never: it costs more to run")
    hours = price / value if value > 0 else None
    if low <= 0:
        words = (
            f"at least {_rounded(price / high)} h; it may never pay, as the flights do not show "
            "a saving"
        )
        return BreakEven(hours, price / high, None, words)
    words = (
        f"{_rounded(price / value)} h, 95 % interval {_rounded(price / high)} to "
        f"{_rounded(price / low)} h"
    )
    return BreakEven(hours, price / high, price / low, words)


def _rounded(hours: float) -> str:
    """Hours as nobody would print them finer: two digits."""
    return f"{float(f'{hours:.2g}'):.0f}"


def decisions(campaign: Campaign, effects: Sequence[Effect]) -> list[Decision]:
    """Set price, mass and fuel of every configuration beside the reference configuration.

    Parameters
    ----------
    campaign : Campaign
        Prices, masses and ``[decide]``.
    effects : sequence of Effect
        All differences at equal load.

    Returns
    -------
    list of Decision
        Two cases for each configuration of the reference's airplane; empty where there is none.
    """
    found = []
    airplane = campaign.configurations[campaign.compare_reference].airplane
    for name, configuration in campaign.configurations.items():
        if name == campaign.compare_reference or configuration.airplane != airplane:
            continue
        fuel = [
            effect
            for effect in effects
            if effect.b.metric == "fuel_flow"
            and effect.b.configuration == name
            and effect.difference is not None
        ]
        middle = fuel[len(fuel) // 2] if fuel else None
        found += [_decision(campaign, name, case, middle) for case in (NEW_BUILD, RETROFIT)]
    return found


def _decision(campaign: Campaign, name: str, case: str, fuel: Effect | None) -> Decision:
    notes: list[str] = []
    price = _price(campaign, name, case, notes)
    reference = campaign.configurations[campaign.compare_reference].propeller.mass_kg
    own = campaign.configurations[name].propeller.mass_kg
    mass = None if own is None or reference is None else own - reference
    if mass is None:
        notes.append("mass of both propellers: write it in campaign.toml")
    saved = None
    if fuel is None or fuel.difference is None:
        notes.append("fuel flow with both configurations: record it in level runs")
    else:
        low, high = fuel.difference.interval()
        saved = (-fuel.difference.value, -high, -low)
    return Decision(
        name, case, price, mass, fuel.b.condition_id if fuel else "", saved,
        _break_even(campaign, price, saved, notes), tuple(notes),
    )


def _break_even(
    campaign: Campaign,
    price: Money | None,
    saved: tuple[float, float, float] | None,
    notes: list[str],
) -> BreakEven:
    """Hours to break even, or why they are not known."""
    fuel_price = campaign.decide.fuel_price
    if fuel_price is None:
        notes.append("price of fuel: write fuel_price under [decide]")
    if price is None or saved is None or fuel_price is None:
        return BreakEven(None, None, None, "not known: something is missing")
    if fuel_price.currency != price.currency:
        notes.append(
            f"one currency: the part is in {price.currency}, fuel in {fuel_price.currency}"
        )
        return BreakEven(None, None, None, "not known: prices are in two currencies")
    each = [one * 3600 * fuel_price.amount for one in saved]
    return hours_to_break_even(price.amount, (each[0], each[1], each[2]))


def _price(campaign: Campaign, name: str, case: str, notes: list[str]) -> Money | None:
    """What a configuration costs more than the reference, by the case."""
    own = _written(campaign, name, notes)
    if case == NEW_BUILD:
        other = _written(campaign, campaign.compare_reference, notes)
    else:
        other = campaign.decide.resale
        if other is None and own is not None:
            other = Money(0.0, own.currency)
            notes.append("what the present part would sell for: taken as nothing")
    if own is None or other is None:
        return None
    if own.currency != other.currency:
        notes.append(f"one currency: {own.currency} and {other.currency} are not added")
        return None
    return Money(own.amount - other.amount, own.currency)


def _written(campaign: Campaign, name: str, notes: list[str]) -> Money | None:
    """Price of a configuration's propeller, where it can be read."""
    text = campaign.configurations[name].propeller.price
    if text is None:
        notes.append(f"price of configuration {name}: write it in campaign.toml")
        return None
    try:
        return parse_money(text)
    except InputError:
        notes.append(f'price of configuration {name}: {text!r} is none; write "1200 euros"')
        return None
