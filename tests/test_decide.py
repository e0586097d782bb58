"""Prices, and what a change pays back: sums by hand, and every way in which they cannot be made."""

from __future__ import annotations

import numpy as np
import pytest

from stdday import decide
from stdday.campaign import check_campaign, load_campaign
from stdday.compare import Effect
from stdday.errors import InputError
from stdday.money import Money, parse_money, parse_money_per_volume
from stdday.outcome import Outcome
from stdday.statistics import Estimate
from tests.make_campaign import CAMPAIGN, make_campaign

LITRE_AN_HOUR = 1e-3 / 3600
PRICED = CAMPAIGN.replace('mass = "9 kg"', 'mass = "9 kg", price = "900 euros"').replace(
    'mass = "14 kg"', 'mass = "14 kg", price = "2400 euros"'
)
DECIDE = '\n[decide]\nfuel_price = "2.50 euros per L"\nresale = "400 euros"\nrunway = "400 m"\n'


def campaign_of(folder, text: str):
    return load_campaign(make_campaign(folder / "campaign", campaign=text))


def fuel(change: float, sigma: float) -> Effect:
    """A difference of fuel flow [L/h], with its sigma."""
    known = Estimate(change * LITRE_AN_HOUR, sigma * LITRE_AN_HOUR, np.inf, np.zeros(2))
    sides = [Outcome("fuel_flow", "cruise_65", "", name, known) for name in "AB"]
    return Effect(sides[0], sides[1], known, None, False)


def test_a_saving_pays_back(tmp_path) -> None:
    campaign = campaign_of(tmp_path, PRICED + DECIDE)
    new, retrofit = decide.decisions(campaign, [fuel(-1.0, 0.2)])
    assert (new.case, new.price, new.mass_kg) == ("new build", Money(1500.0, "euros"), 5.0)
    assert retrofit.price == Money(2000.0, "euros")
    assert new.break_even.hours == pytest.approx(1500 / 2.5)
    edges = [1500 / (2.5 * (1 + side * 1.959964 * 0.2)) for side in (1, -1)]
    assert (new.break_even.low, new.break_even.high) == pytest.approx(edges, rel=1e-5)
    assert new.notes == ()


def test_an_unproven_saving_may_never_pay(tmp_path) -> None:
    campaign = campaign_of(tmp_path, PRICED + DECIDE)
    new, _ = decide.decisions(campaign, [fuel(-0.3, 0.4)])
    assert new.break_even.high is None
    assert "may never pay" in new.break_even.words


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (CAMPAIGN + DECIDE, "price of configuration A"),
        (PRICED, "price of fuel"),
        (PRICED.replace("900 euros", "900 francs") + DECIDE, "francs"),
        (PRICED.replace("2400 euros", "a lot") + DECIDE, "'a lot' is none"),
        (PRICED.replace('mass = "9 kg", ', "") + DECIDE, "mass of both"),
    ],
)
def test_what_is_missing_is_said(tmp_path, text: str, words: str) -> None:
    new = decide.decisions(campaign_of(tmp_path, text), [fuel(-1.0, 0.2)])[0]
    assert any(words in note for note in new.notes)


def test_without_fuel_flow_nothing_is_made_up(tmp_path) -> None:
    new = decide.decisions(campaign_of(tmp_path, PRICED + DECIDE), [])[0]
    assert new.fuel_m3s is None
    assert new.break_even.hours is None


def test_two_currencies_are_not_mixed(tmp_path) -> None:
    text = PRICED + DECIDE.replace("2.50 euros", "2.50 francs")
    new = decide.decisions(campaign_of(tmp_path, text), [fuel(-1.0, 0.2)])[0]
    assert "two currencies" in new.break_even.words


@pytest.mark.parametrize(
    ("text", "amount", "currency"),
    [("1200 euros", 1200.0, "euros"), ("€ 1,200", 1200.0, "€"), ("1 200.50 CHF", 1200.5, "CHF"),
     ("2,4 euros", 2.4, "euros"), ("$5", 5.0, "$")],
)
def test_prices_as_people_write_them(text: str, amount: float, currency: str) -> None:
    assert parse_money(text) == Money(amount, currency)


@pytest.mark.parametrize("text", ["1200", "euros", "12,34,5 euros", "", "1200 euros a year"])
def test_what_is_no_price_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="1200 euros"):
        parse_money(text)


def test_a_price_per_gallon_is_refused_without_which_gallon() -> None:
    with pytest.raises(InputError, match="per volume"):
        parse_money_per_volume("6.10 $/gal")
    us = parse_money_per_volume("6.10 $/US gal").amount
    assert us == pytest.approx(6.10 / 3.785411784e-3)


def test_faults_of_the_table_are_told_with_their_line(tmp_path) -> None:
    text = CAMPAIGN + '\n[decide]\nfuel_price = 2.5\nrunway = "400"\nfule = "x"\n'
    problems = check_campaign(make_campaign(tmp_path / "campaign", campaign=text))
    wheres = [one.where for one in problems if "decide" in one.where]
    assert len(wheres) == 3
    assert all(where.startswith("line ") for where in wheres)
