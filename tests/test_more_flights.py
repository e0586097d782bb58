"""How many more flights: against the power of another library, and in words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from statsmodels.stats.power import TTestIndPower

from stdday.campaign import load_campaign
from stdday.compare import Effect
from stdday.ledger import Reduced
from stdday.more_flights import CONFOUNDED, NOT_NAMED, more_flights
from stdday.outcome import Outcome
from stdday.statistics import Estimate
from tests.benchmarks.campaigns import DEMO

A, B = ("F01", "F02", "F03"), ("F05", "F06", "F07")
#: Standard deviation 1 in each group.
VALUES = (4.0, 5.0, 6.0, 4.5, 5.5, 6.5)


@pytest.fixture(scope="module")
def campaign():
    return load_campaign(DEMO)


def effect(matters, deviations=None, reason="scatter: the interval holds zero", sensitivity=None):
    still = np.zeros(2) if deviations is None else deviations
    sides = [Outcome("climb_rate", "climb_1", "", name, Estimate(5.0, 1 / np.sqrt(3), 4.0, still),
                     flight_values=dict.fromkeys(own, 5.0), flights=own, points=own)
             for name, own in (("A", A), ("B", B))]  # fmt: skip
    known = Estimate(0.5, np.sqrt(2 / 3), 4.0, still)
    return Effect(sides[0], sides[1], known, matters, False, verdict="not resolved", reason=reason,
                  sensitivity=sensitivity or {})  # fmt: skip


def points() -> Reduced:
    names = (*A, *B)
    return Reduced("climb_rate", "climb_1", tuple(f"{one}-climb" for one in names), names,
                   np.array([VALUES]), {}, None)  # fmt: skip


def test_flights_are_those_of_another_library(campaign) -> None:
    one = more_flights(campaign, [effect(2.0)], [points()])[0]
    assert (one.scatter.flight, one.scatter.point) == pytest.approx((1.0, 0.0))
    power = TTestIndPower()
    needed = next(n for n in range(3, 60) if power.power(2.0, n, 0.05) >= 0.8)
    assert one.to_show == needed - 3
    assert power.power(one.smallest, 3, 0.05) == pytest.approx(0.8, abs=2e-3)
    assert one.words.startswith(f"{needed - 3} more flights with each to show a difference")


def test_shared_errors_that_flights_do_not_remove_are_said(campaign) -> None:
    z = np.random.default_rng(1).standard_normal(2000)
    one = more_flights(campaign, [effect(2.0, 2.0 * z / z.std())], [points()])[0]
    assert one.scatter.shared == pytest.approx(2.0, rel=0.01)
    assert one.to_show is None
    assert "60 more flights with each are not enough to show" in one.words


def test_a_change_between_periods_is_told_from_other_shared_errors(campaign) -> None:
    z = np.random.default_rng(1).standard_normal((2, 2000))
    deviations = 0.3 * (z[0] - z[1]) / (z[0] - z[1]).std() * np.sqrt(2)
    known = {("block climb_rate", "1"): -0.3, ("block climb_rate", "2"): 0.3}
    one = more_flights(campaign, [effect(2.0, deviations, sensitivity=known)], [points()])[0]
    assert one.scatter.block == pytest.approx(0.3)
    assert one.scatter.shared == pytest.approx(0.0, abs=0.05)


def test_no_number_is_told_where_none_would_help(campaign) -> None:
    away = effect(2.0, reason="confounded: conditions do not overlap")
    assert more_flights(campaign, [away], [points()])[0].words == CONFOUNDED
    unnamed = more_flights(campaign, [effect(None)], [points()])[0]
    assert (unnamed.words, unnamed.to_show) == (NOT_NAMED, None)
    shown = replace(effect(2.0), verdict="shown")
    once = replace(effect(2.0), b=replace(effect(2.0).b, flights=("F05",)))
    assert more_flights(campaign, [shown, once], [points()]) == []
