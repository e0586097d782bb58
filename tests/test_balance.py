"""Balance of conditions, and when two configurations count as flown apart."""

from __future__ import annotations

import numpy as np
import pytest

from stdday.balance import CONDITIONS, balance_table, flown_apart
from stdday.campaign import Campaign, load_campaign
from stdday.ledger import Reduced
from tests.benchmarks.campaigns import DEMO


@pytest.fixture(scope="module")
def campaign() -> Campaign:
    return load_campaign(DEMO)


def _reduced(campaign: Campaign, weights: dict[str, list[float]]) -> Reduced:
    """Climbs, one a flight, at these weights [kg] by configuration."""
    flights, values = [], []
    for name, own in weights.items():
        ids = [f.id for f in campaign.flights if f.configuration == name][: len(own)]
        flights += ids
        values += own
    return Reduced(
        "climb_rate", "climb_1", tuple(f"{f}-climb" for f in flights), tuple(flights),
        np.full((1, len(flights)), 5.0), {}, (), "", {"weight_kg": np.array(values)},
    )  # fmt: skip


@pytest.mark.parametrize(
    ("b", "apart"),
    [
        ([560.0, 580.0], False),  # overlap
        ([571.0, 590.0], False),  # apart by 1 kg: within what a correction carries
        ([590.0, 600.0], False),  # apart by exactly the limit of 20 kg
        ([590.5, 600.0], True),  # beyond it
        ([500.0, 519.0], True),  # beyond it on the light side
    ],
)
def test_ranges_that_lie_apart_by_more_than_the_limit_are_told(
    campaign: Campaign, b: list[float], apart: bool
) -> None:
    assert CONDITIONS["weight_kg"][4] == 20.0
    found = flown_apart(campaign, [_reduced(campaign, {"A": [540.0, 570.0], "B": b})])
    assert bool(found) == apart
    if apart:
        words = found["climb_rate", "B"]
        assert words.startswith("conditions do not overlap: weight 540 to 570 kg with A, ")
        assert found["climb_gradient", "B"] == words


def test_one_configuration_alone_is_apart_from_nothing(campaign: Campaign) -> None:
    assert flown_apart(campaign, [_reduced(campaign, {"B": [500.0, 590.0]})]) == {}


def test_the_table_gives_least_mean_and_greatest_of_flight_means(campaign: Campaign) -> None:
    table = balance_table(campaign, [_reduced(campaign, {"A": [540.0, 570.0, 561.0]})])
    assert table.to_dict("records") == [
        {
            "metric": "climb_rate", "condition_id": "climb_1", "quantity": "weight", "unit": "kg",
            "configuration": "A", "flights": 3, "least": 540.0, "mean": 557.0, "greatest": 570.0,
        }
    ]  # fmt: skip


@pytest.mark.parametrize(("four_seat", "apart"), [([930.0, 1010.0], False), ([1160.0], True)])
def test_airplanes_of_a_club_are_held_against_their_own_reference_weights(
    four_seat: list[float], apart: bool
) -> None:
    club = load_campaign(DEMO.parent / "two_aircraft")
    two_seat, other = club.configurations
    assert two_seat == club.compare_reference
    weights = [club.reference_for(club.configurations[name].airplane).weight_kg
               for name in (two_seat, other)]
    assert weights[1] - weights[0] > 300
    found = flown_apart(club, [_reduced(club, {two_seat: [520.0, 570.0], other: four_seat})])
    assert bool(found) == apart
