"""What one rule, one flight or one pilot does to a difference; expectations by other libraries."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from stdday import influence
from stdday.campaign import load_campaign
from stdday.compare import compare
from stdday.outcome import SCATTER, Outcome
from stdday.statistics import Estimate, pooled_scatter
from tests.benchmarks.campaigns import DEMO

A = {"F01": 5.0, "F02": 5.4, "F03": 5.1, "F04": 4.8}
B = {"F05": 6.0, "F06": 6.9, "F07": 6.2}


@pytest.fixture(scope="module")
def campaign():
    return load_campaign(DEMO)


def outcome(name, values, groups=(A, B), metric="climb_rate"):
    """Climb rates of flights, without shared errors, scatter pooled over the groups."""
    sd, dof = pooled_scatter([list(group.values()) for group in groups])
    mean = float(np.mean(list(values.values())))
    known = Estimate(mean, sd / np.sqrt(len(values)), dof, np.zeros(2))
    return Outcome(metric, "climb_1", "", name, known, np.zeros(2), dict(values),
                   flights=tuple(values), basis=SCATTER)  # fmt: skip


def compared(campaign, a=A, b=B):
    outcomes = [outcome("A", a, (a, b)), outcome("B", b, (a, b))]
    return outcomes, compare(campaign, outcomes, {})


def test_the_fixed_rule_is_students_t_and_the_other_is_welchs(campaign) -> None:
    _, effects = compared(campaign)
    other, why = influence.other_rule(campaign, effects, {})[0]
    groups = (list(B.values()), list(A.values()))
    assert why == ""
    assert effects[0].pooled
    for effect, equal in ((effects[0], True), (other, False)):
        wanted = stats.ttest_ind(*groups, equal_var=equal)
        assert effect.difference.p_zero() == pytest.approx(wanted.pvalue, rel=1e-6)
        ends = wanted.confidence_interval(0.95)
        assert effect.difference.interval() == pytest.approx((ends.low, ends.high), rel=1e-5)
    assert influence.rule_of(effects[0]) == influence.POOLED
    assert influence.rule_of(other) == influence.WELCH


def test_a_difference_of_curves_has_no_other_rule(campaign) -> None:
    outcomes, _ = compared(campaign)
    curves = [replace(one, flight_values={}) for one in outcomes]
    effects = compare(campaign, curves, {})
    other, why = influence.other_rule(campaign, effects, {})[0]
    assert "fitted curves" in why
    assert other.difference is effects[0].difference


@pytest.mark.parametrize("left", ["F02", "F06"])
def test_without_a_flight_it_is_the_t_test_of_the_others(campaign, left: str) -> None:
    outcomes, effects = compared(campaign)
    found = {one.flight: one.effect
             for one in influence.without_each_flight(campaign, effects, outcomes, {})}  # fmt: skip
    assert list(found) == [*A, *B]
    groups = [[value for name, value in group.items() if name != left] for group in (B, A)]
    wanted = stats.ttest_ind(*groups).confidence_interval(0.95)
    known = found[left].difference
    assert known.value == pytest.approx(np.mean(groups[0]) - np.mean(groups[1]))
    assert known.interval() == pytest.approx((wanted.low, wanted.high), rel=1e-5)


def test_a_verdict_that_one_flight_makes_is_seen_to_turn(campaign) -> None:
    b = {"F05": 6.0, "F06": 6.2}
    outcomes, effects = compared(campaign, A, b)
    assert effects[0].verdict == "shown"
    found = {one.flight: one.effect
             for one in influence.without_each_flight(campaign, effects, outcomes, {})}  # fmt: skip
    assert found["F06"].verdict == "not resolved"
    assert found["F06"].reason.startswith("one flight")
    assert found["F01"].verdict == "shown"


def test_residuals_are_those_of_another_library(campaign) -> None:
    outcomes, _ = compared(campaign)
    found = influence.outlying_flights(campaign, outcomes)
    place = np.array([0.0] * len(A) + [1.0] * len(B))
    fit = sm.OLS([*A.values(), *B.values()], sm.add_constant(place)).fit()
    wanted = fit.get_influence().resid_studentized_external
    assert [one.residual for one in found] == pytest.approx(wanted, rel=1e-9)
    assert not any(one.outlying for one in found)


def test_a_bad_flight_is_shown_and_false_alarms_are_as_rare_as_promised(campaign) -> None:
    bad = A | {"F03": 9.0}
    shown = [one.flight for one in influence.outlying_flights(campaign, compared(campaign, bad)[0])
             if one.outlying]  # fmt: skip
    assert shown == ["F03"]
    random = np.random.default_rng(7)
    alarms = 0
    for _ in range(400):
        values = random.normal(size=len(A) + len(B))
        a, b = dict(zip(A, values, strict=False)), dict(zip(B, values[len(A):], strict=True))
        found = influence.outlying_flights(campaign, compared(campaign, a, b)[0])
        alarms += any(one.outlying for one in found)
    assert 0.02 <= alarms / 400 <= 0.08


def with_pilots(campaign, pilots):
    flights = tuple(replace(one, pilot=pilots.get(one.id, "")) for one in campaign.flights)
    return replace(campaign, flights=flights)


def test_offsets_of_pilots_are_those_of_another_library(campaign) -> None:
    pilots = dict(zip([*A, *B], "xyxyxyy", strict=True))
    _, effects = compared(campaign)
    found = influence.pilot_check(with_pilots(campaign, pilots), effects)[0]
    design = np.column_stack([np.ones(7), [0] * 4 + [1] * 3, [one == "y" for one in "xyxyxyy"]])
    fit = sm.OLS([*A.values(), *B.values()], design.astype(float)).fit()
    assert found.difference.value == pytest.approx(fit.params[1])
    assert found.difference.interval() == pytest.approx(tuple(fit.conf_int()[1]), rel=1e-5)


@pytest.mark.parametrize(
    ("pilots", "words"),
    [("xxxxyyy", "no pilot flew both"), ("xxxxxxx", "one pilot"), ("xyxyxy ", "names no pilot")],
)
def test_pilots_that_cannot_be_told_apart_are_said(campaign, pilots, words) -> None:
    named = {name: one.strip() for name, one in zip([*A, *B], pilots, strict=True)}
    _, effects = compared(campaign)
    found = influence.pilot_check(with_pilots(campaign, named), effects)[0]
    assert found.difference is None
    assert words in found.reason
