"""What corrections do to a difference, what moves it, and where they reach beyond the flown."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from stdday import moves
from stdday.campaign import load_campaign
from stdday.compare import Effect
from stdday.ledger import LEDGER_COLUMNS, Reduced
from stdday.outcome import Outcome
from stdday.statistics import Estimate
from tests.benchmarks.campaigns import DEMO

FLIGHTS = ("F01", "F02", "F05", "F06")


@pytest.fixture(scope="module")
def campaign():
    return load_campaign(DEMO)


def ledger(raw, weight, wind) -> pd.DataFrame:
    """Two steps of ground rolls [m], after a step of another quantity."""
    rows = []
    for flight, before, first, second in zip(FLIGHTS, raw, weight, wind, strict=True):
        point = f"{flight}-take-off"
        rows.append((point, "delay", "headwind", 3.0, 2.0, "kt"))
        rows.append((point, "weight", "ground roll", before, before + first, "m"))
        after = before + first
        rows.append((point, "no wind", "ground roll", after, after + second, "m"))
        rows.append((point, "cross-check by x", "ground roll", after + second, 0.0, "m"))
    columns = ["point", "step", "quantity", "before", "after", "unit"]
    table = pd.DataFrame(rows, columns=columns).assign(
        metric="takeoff_ground_roll", source="", condition_id="takeoff", inputs=""
    )
    return table.assign(change=table["after"] - table["before"])[list(LEDGER_COLUMNS)]


def effect(value: float, half: float, sensitivity=None) -> Effect:
    value_of = Estimate(200.0, 1.0, np.inf, np.zeros(2))
    sides = [Outcome("takeoff_ground_roll", "takeoff", "", name, value_of,
                     flight_values=dict.fromkeys(own, 1.0))
             for name, own in (("A", FLIGHTS[:2]), ("B", FLIGHTS[2:]))]  # fmt: skip
    known = Estimate(value, half / 1.959964, np.inf, np.zeros(2))
    return Effect(sides[0], sides[1], known, 25.0, True, sensitivity=sensitivity or {})


def reduced(table, conditions=None) -> Reduced:
    points = tuple(f"{flight}-take-off" for flight in FLIGHTS)
    return Reduced("takeoff_ground_roll", "takeoff", points, FLIGHTS, np.zeros((1, 4)), {}, table,
                   "", conditions or {})  # fmt: skip


def test_raw_and_corrected_differences_by_hand(campaign) -> None:
    table = ledger([200, 210, 170, 180], [2, 4, 9, 11], [10, 10, 20, 20])
    one = moves.explained(campaign, [effect(-13.0, 5.0)], [reduced(table)])[0]
    assert one.raw == pytest.approx(-30.0)  # 175 less 205
    assert one.steps == pytest.approx({"weight": 7.0, "no wind": 10.0})
    assert one.corrected == pytest.approx(-13.0)
    assert one.share == pytest.approx(17 / 30)
    assert one.words == "corrections explain 57 % of the recorded difference"


def test_no_share_of_a_difference_that_the_interval_does_not_carry(campaign) -> None:
    table = ledger([200, 200, 201, 201], [0, 0, -10, -10], [0, 0, -3, -3])
    one = moves.explained(campaign, [effect(-12.0, 5.0)], [reduced(table)])[0]
    assert one.raw == pytest.approx(1.0)
    assert np.isnan(one.share)
    assert one.words.endswith("no share of it is told; corrections are larger than it")


def test_a_parameter_that_turns_the_answer_is_told() -> None:
    known = {("rolling friction", ""): 4.0, ("torque", ""): -0.05, ("power", "one"): 9.0}
    kinds = {"rolling friction": "parameter", "torque": "parameter", "power": "shared"}
    found = moves.moved([effect(-13.0, 10.0, known)], kinds)
    assert [one.source for one in found] == ["rolling friction"]
    assert found[0].ends == (-17.0, -9.0)
    assert found[0].turns  # -23 to -3 moved by 4 holds zero
    assert not moves.moved([effect(-15.0, 10.0, known)], kinds)[0].turns


@pytest.mark.parametrize(("most", "beyond"), [(579.0, 21.0), (581.0, None)])
def test_a_reference_far_outside_of_what_was_flown_is_told(campaign, most, beyond) -> None:
    weights = np.array([550.0, most, 560.0, 605.0])  # the reference is 600 kg, the band 20 kg
    found = moves.extrapolated(campaign, [reduced(ledger([1] * 4, [0] * 4, [0] * 4),
                                                  {"weight_kg": weights})])  # fmt: skip
    told = {one.configuration: one.beyond for one in found}
    assert told == ({} if beyond is None else {"A": pytest.approx(beyond)})
