"""Equal load, pairs, ranking, and the tables behind the differences of an invented campaign."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stdday import budget, details, ranking
from stdday.campaign import load_campaign
from stdday.compare import EQUAL_LOAD, EQUAL_WEIGHT, compare, compare_pairs
from stdday.level_fit import LevelFit, cruise_at
from stdday.outcome import SCATTER, Outcome, analyse
from stdday.statistics import Estimate, pooled_scatter
from stdday.uncertainty import KINDS, SYSTEMATIC, Draws
from tests.benchmarks.campaigns import DEMO, World, make_flights, make_segments
from tests.make_campaign import CAMPAIGN, make_campaign


@pytest.fixture(scope="module")
def flown():
    """The invented campaign, generated at test-point level with its declared errors."""
    demo = load_campaign(DEMO)
    world = World(demo, 8, 1.0)
    world.campaign = make_flights(demo, world)
    return world.campaign, make_segments(world.campaign, world)


@pytest.fixture(scope="module")
def campaign(flown):
    return flown[0]


@pytest.fixture(scope="module")
def made(flown):
    campaign, segments = flown
    analysis = analyse(campaign, segments, Draws(400, seed=4))
    effects = details.compare_all(campaign, analysis)
    return analysis, effects, details.details(campaign, analysis, effects)


# ------------------------------------------------------------------ equal load


def test_reference_weight_at_equal_load_is_that_of_the_mass_fitted(campaign) -> None:
    loaded = replace(campaign, at_equal_load=True)
    assert campaign.reference_of("B").weight_kg == 600.0
    assert loaded.reference_of("A").weight_kg == 600.0
    assert loaded.reference_of("B").weight_kg == 605.0  # 14 kg in place of 9 kg
    assert campaign.extra_mass_kg("A") == 0.0


def test_another_airplane_has_no_extra_mass() -> None:
    club = load_campaign(DEMO.parent / "two_aircraft")
    assert club.extra_mass_kg("tourer") == 0.0
    assert details.load_costs(club) == []


def test_an_unknown_mass_is_a_cost_and_gives_no_row(tmp_path) -> None:
    text = CAMPAIGN.replace(', mass = "14 kg"', "")
    assert text != CAMPAIGN
    one = load_campaign(make_campaign(tmp_path / "campaign", campaign=text))
    assert one.extra_mass_kg("B") is None
    assert [cost.where for cost in details.load_costs(one)] == ["configuration.B.propeller.mass"]
    loaded = replace(one, at_equal_load=True)
    assert loaded.reference_of("B").weight_kg == one.reference_of("B").weight_kg
    rates = {"A": {"x": 5.0, "y": 5.2}, "B": {"p": 6.0, "q": 6.1}}
    assert compare(loaded, outcomes(rates), {}) == []


def test_more_weight_costs_induced_drag_alone() -> None:
    """P = A V^3 + B/V: at k times the weight B grows with k squared, at one power."""
    cubic, inverse, k = 0.5, 0.1, 1.2
    speeds = np.array([35.0, 40.0, 50.0, 60.0, 70.0])
    campaign = load_campaign(DEMO)
    airplane, reference = campaign.airplanes["one"], campaign.reference
    rated = airplane.rated_power_w
    fit = LevelFit(
        "A", rated, coefficients=np.array([[cubic, inverse, 0.0, 0.0, 0.0, 0.0]]),
        speed_ms=speeds[None], brake_power_w=np.linspace(0.4, 0.9, 5)[None] * rated,
        equivalent_ms=speeds, places=(0, 1, -1, -1, -1, -1),
    )  # fmt: skip
    found = [cruise_at(fit, airplane, reference, 0.65, heavier) for heavier in (1.0, k)]
    at = [float(one.values["cruise_true_airspeed"][0]) for one in found]
    sigma = 0.8881  # density ratio of 4,000 ft, standard atmosphere
    for speed, grown in zip(at, (1.0, k**2), strict=True):
        scaled = speed * np.sqrt(sigma) / 50.0  # the model's unit of airspeed is 50 m/s
        assert cubic * scaled**3 + grown * inverse / scaled == pytest.approx(
            0.65 * np.sqrt(sigma), rel=2e-4
        )


def test_rows_at_equal_load_stand_beside_those_at_equal_weight(campaign, made) -> None:
    _, effects, _ = made
    loaded, weighed = (
        {(one.b.metric, one.b.condition_id): one for one in effects if one.load_basis == basis}
        for basis in (EQUAL_LOAD, EQUAL_WEIGHT)
    )
    assert set(loaded) <= set(weighed)
    # Five kilograms of 600 kg cost the climb at least their share of weight times rate
    for place in ("climb_1", "climb_2"):
        one, other = loaded["climb_rate", place], weighed["climb_rate", place]
        lost = other.difference.value - one.difference.value
        rate = other.b.estimate.value
        assert lost == pytest.approx(rate * 5 / 600, rel=0.9)
        assert lost > rate * 5 / 605
        assert one.a.estimate.value == other.a.estimate.value
        assert "above the maximum of 600 kg" in one.reason
    # ... and lengthen the ground roll by more than twice that share of it, at one lift-off airspeed
    # by inertia alone once
    roll = loaded["takeoff_ground_roll", "takeoff"].b.estimate.value
    before = weighed["takeoff_ground_roll", "takeoff"].b.estimate.value
    assert 5 / 600 < roll / before - 1 < 3 * 5 / 600
    speed = [loaded["cruise_true_airspeed", "cruise_65"].b.estimate.value,
             weighed["cruise_true_airspeed", "cruise_65"].b.estimate.value]  # fmt: skip
    assert 0 < speed[1] - speed[0] < 0.3


def test_each_basis_of_load_is_a_family_of_its_own(made) -> None:
    _, effects, _ = made
    for basis in (EQUAL_WEIGHT, EQUAL_LOAD):
        own = [one for one in effects if one.load_basis == basis and one.primary
               and one.difference is not None]  # fmt: skip
        least = min(own, key=lambda one: one.difference.p_zero())
        assert least.p_adjusted == pytest.approx(min(1.0, len(own) * least.difference.p_zero()))


# ------------------------------------------------------------------ several configurations


def outcomes(groups):
    """Climb rates of configurations by flight, scatter pooled over all of them."""
    sd, dof = pooled_scatter([list(group.values()) for group in groups.values()])
    return [Outcome("climb_rate", "climb_1", "", name,
                    Estimate(float(np.mean(list(own.values()))), sd / np.sqrt(len(own)), dof,
                             np.zeros(2)), np.zeros(2), own, basis=SCATTER)
            for name, own in groups.items()]  # fmt: skip


@pytest.fixture
def three(tmp_path):
    text = CAMPAIGN + (
        '\n[configuration.C]\nairplane = "one"\nlabel = "third"\nchanged = ["propeller"]\n'
        'propeller = { blades = 2, diameter = "1.68 m", control = "fixed pitch", mass = "9 kg" }\n'
        '\n[configuration.D]\nairplane = "one"\nlabel = "fourth"\nchanged = ["propeller"]\n'
        'propeller = { blades = 2, diameter = "1.68 m", control = "fixed pitch", mass = "9 kg" }\n'
    )
    return load_campaign(make_campaign(tmp_path / "campaign", campaign=text))


def test_a_ranking_says_only_what_is_shown(three) -> None:
    near = {"A": {"1": 5.0, "2": 5.2}, "B": {"3": 5.1, "4": 5.3}, "C": {"5": 8.0, "6": 8.2},
            "D": {"7": 8.1, "8": 8.2}}  # fmt: skip
    values = outcomes(near)
    pairs = compare_pairs(three, values)
    assert [(one.a.configuration, one.b.configuration) for one in pairs] == [
        ("B", "C"), ("B", "D"), ("C", "D"),
    ]  # fmt: skip
    assert not any(one.primary for one in pairs)
    assert all("exploratory" in one.reason for one in pairs)
    words = ranking.supported([*compare(three, values, {}), *pairs])["climb_rate", "climb_1"]
    assert words == "A < C, A < D, B < C, B < D shown; A and B, C and D not told apart"


def test_pairs_are_held_against_their_number(three) -> None:
    rates = {"A": {"1": 5.0, "2": 6.0}, "B": {"3": 5.0, "4": 6.0}, "C": {"5": 6.0, "6": 7.2},
             "D": {"7": 8.0, "8": 9.0}}  # fmt: skip
    pairs = compare_pairs(three, outcomes(rates))
    p = sorted(one.difference.p_zero() for one in pairs)
    assert sorted(one.p_adjusted for one in pairs)[0] == pytest.approx(3 * p[0])


# ------------------------------------------------------------------ tables


def test_every_error_that_is_drawn_has_words_and_a_mend(campaign, made) -> None:
    analysis, _, _ = made
    assert len(analysis.kinds) > 40
    assert set(analysis.kinds.values()) <= SYSTEMATIC <= set(KINDS)
    assert [name for name in analysis.kinds if not budget.known(name)] == []


def test_a_budget_adds_up_to_the_interval(made) -> None:
    _, effects, tables = made
    shares = tables["budget"].groupby(["metric", "condition_id", "configuration", "load_basis"])
    assert (shares["share [%]"].sum() > 90).all()
    assert (shares["share [%]"].sum() < 100.5).all()
    one = next(one for one in effects if one.b.metric == "climb_rate")
    parts = budget.budget(one.difference, one.sensitivity)
    total = np.hypot(one.difference.standard_error, one.difference.shared_sigma())
    assert np.sqrt(sum(part.sigma**2 for part in parts)) == pytest.approx(total, rel=0.06)


def test_budgets_do_not_depend_on_what_else_drew_from_the_register(flown, made) -> None:
    analysis, _, _ = made
    used = Draws(400, seed=4)
    used.normal("something else", "shared", ["x", "y"])
    again = analyse(*flown, used)
    for one, other in zip(analysis.outcomes, again.outcomes, strict=True):
        assert one.sensitivity == other.sensitivity


def test_tables_hold_every_flight_and_are_plain(campaign, made) -> None:
    _, _, tables = made
    for name in ("budget", "both_ways", "leave_one_out", "flights_apart", "pilots", "explained",
                 "moves", "more_flights", "sense", "decisions"):  # fmt: skip
        assert len(tables[name]), name
    flights = {flight.id for flight in campaign.flights}
    assert set(tables["flights_apart"]["flight"]) <= flights
    assert set(tables["leave_one_out"]["without"]) <= flights
    assert "pairs" not in tables  # two configurations
    rolls = tables["explained"].set_index("metric").loc["takeoff_ground_roll"]
    assert rolls["raw_difference"] + rolls["corrections"] == pytest.approx(
        rolls["corrected_difference"], abs=0.03
    )
