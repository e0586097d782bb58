"""Numbers of flights: published sample sizes, another library, and the procedure itself."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.power import TTestIndPower

from stdday import how_many
from stdday.errors import InputError
from stdday.how_many import FlightCost, Plan, Scatter
from stdday.statistics import Estimate, pooled_scatter
from tests.published_values import items

COHEN = next(item for item in items("statistics") if item["id"] == "STA-N-02")
SIZES = list(zip(COHEN["inputs"]["effect_d"], COHEN["expected"]["n_per_group"], strict=True))


@pytest.mark.parametrize(("effect", "wanted"), SIZES)
def test_published_sample_sizes(effect: float, wanted: int) -> None:
    found = how_many.flights_needed(effect, Scatter(1.0))
    assert found == (wanted if wanted <= how_many.MOST_FLIGHTS else None)


@pytest.mark.parametrize("flights", [(2, 2), (3, 6), (12, 5)])
@pytest.mark.parametrize("effect", [0.7, 1.6, 4.0])
def test_power_is_that_of_another_library(flights: tuple[int, int], effect: float) -> None:
    ratio = flights[1] / flights[0]
    known = TTestIndPower().power(effect, flights[0], 0.025, ratio, alternative="larger")
    found = float(how_many.power_of(effect, Scatter(1.0), Plan(flights)))
    assert found == pytest.approx(known, abs=0.002)


def judged(
    difference: float, scatter: Scatter, plan: Plan, runs: int
) -> tuple[float, float]:
    """Share of simulated campaigns that show a difference, and that exclude one of 3."""
    random = np.random.default_rng(77)
    normal = random.standard_normal
    blocks = scatter.block * np.sqrt(sum(1 / count for count in plan.blocks))
    known = float(np.hypot(scatter.shared, blocks))
    half = normal(400)
    shared = known * np.concatenate([half, -half])
    shown = excluded = 0
    for _ in range(runs):
        point = scatter.point / np.sqrt(plan.points)
        a, b = (scatter.flight * normal(n) + point * normal(n) for n in plan.flights)
        sd, dof = pooled_scatter([a, b])
        error = sd * np.sqrt(sum(1 / n for n in plan.flights))
        value = difference + float(b.mean() - a.mean()) + known * float(normal())
        found = Estimate(value, error, dof, shared)
        shown += found.below(0.0) < 0.025
        excluded += found.below(-3.0) < 0.05 and found.below(3.0) > 0.95
    return shown / runs, excluded / runs


CASES = [
    (Scatter(1.0), Plan((3, 3))),
    (Scatter(0.6, 1.2), Plan((4, 6), 3)),
    (Scatter(1.0, shared=0.8), Plan((5, 5))),
    (Scatter(0.8, 0.5, block=0.5), Plan((4, 4), 2, (2, 1))),
]


@pytest.mark.parametrize(("scatter", "plan"), CASES)
def test_the_procedure_keeps_the_promise(scatter: Scatter, plan: Plan) -> None:
    """The promise is five points; 1,500 runs know a share of 80 % to one point (1 sigma)."""
    size = how_many.smallest_difference(scatter, plan)
    shown, _ = judged(size, scatter, plan, 1500)
    assert shown == pytest.approx(0.80, abs=0.05)
    _, excluded = judged(0.0, scatter, plan, 1500)
    assert excluded == pytest.approx(how_many.power_to_exclude(3.0, scatter, plan), abs=0.05)


def test_more_claims_need_more_flights() -> None:
    one, three = (how_many.flights_needed(1.5, Scatter(1.0), claims=n) for n in (1, 3))
    assert one is not None
    assert three is not None
    assert three > one


def test_what_periods_share_no_number_of_flights_removes() -> None:
    assert how_many.flights_needed(1.5, Scatter(0.5, block=0.6)) is None
    assert how_many.flights_needed(1.5, Scatter(0.5, block=0.6), blocks=(6, 6)) is not None


def test_the_cheapest_plan_is_cheaper_than_its_neighbours() -> None:
    scatter, cost = Scatter(0.5, 1.5), FlightCost(0.6, 0.1)
    best = how_many.cheapest_plan(2.0, scatter, cost)
    assert best is not None
    assert float(how_many.power_of(2.0, scatter, best)) >= 0.8
    for points in range(1, cost.most_points + 1):
        flights = how_many.flights_needed(2.0, scatter, points)
        assert flights is None or cost.hours(Plan((flights, flights), points)) >= cost.hours(best)


@pytest.mark.parametrize("blocks", [(2, 1), (2, 2), (3, 3)])
def test_an_order_favours_neither(blocks: tuple[int, int]) -> None:
    order = np.array(how_many.flight_order(Plan((6, 6), blocks=blocks)))
    assert sorted(order) == ["A"] * 6 + ["B"] * 6
    middle = [float(np.flatnonzero(order == name).mean()) for name in "AB"]
    assert middle[0] == pytest.approx(middle[1], abs=1.01)    # three pairs leave one flight
    runs = 1 + int(np.sum(order[1:] != order[:-1]))
    assert runs <= sum(blocks)


def test_scatter_comes_back_from_points() -> None:
    random = np.random.default_rng(5)
    flights = [f"F{place}" for place in range(400) for _ in range(4)]
    groups = ["A" if place < 200 else "B" for place in range(400) for _ in range(4)]
    values = (
        np.repeat(random.normal(0, 2.0, 400), 4) + random.normal(0, 1.0, 1600)
        + np.array([5.0 if group == "B" else 0.0 for group in groups])
    )
    found = how_many.observed_scatter(values, flights, groups)
    assert found.flight == pytest.approx(2.0, rel=0.08)
    assert found.point == pytest.approx(1.0, rel=0.05)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (lambda: Scatter(-1.0), "flight .* 0 or more"),
        (lambda: Scatter(0.0), "must not both be 0"),
        (lambda: Plan((1, 4)), "at least 2"),
        (lambda: Plan((3, 3), 0), "points"),
        (lambda: Plan((3, 3), 1, (4, 1)), "blocks"),
        (lambda: how_many.smallest_difference(Scatter(1.0), Plan((3, 3)), power=80), "0.05 to"),
        (lambda: how_many.observed_scatter([1.0], ["F1"], ["A"]), "two at least"),
        (lambda: how_many.power_of(1.0, Scatter(1.0), Plan((3, 3)), claims=0), "claims"),
    ],
)
def test_what_is_no_plan_is_refused(wrong, words: str) -> None:
    with pytest.raises(InputError, match=words):
        wrong()


@pytest.mark.parametrize(("shared", "dof"), [(0.2, 3.0), (1.0, 6.0), (5.0, 9.0), (0.02, 2.0)])
def test_half_widths_are_those_of_the_procedure_that_judges(shared: float, dof: float) -> None:
    z = stats.norm.ppf((np.arange(20_000) + 0.5) / 20_000)
    for level in (0.9, 0.95, 0.995):
        for error in (0.3, 1.0, 2.5):
            wanted = Estimate(0.0, error, dof, shared * z).quantile((1 + level) / 2)
            found = how_many._convolved(np.array([error]), dof, shared, level)[0]
            assert found == pytest.approx(wanted, rel=2e-3)
