"""Tables that argue against a result: what they pick, and what absent ones give."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

from stdday import tables_sceptic as sceptic
from stdday.results import Results
from tests.made_results import made, made_single

SHARED = {"metric": "climb_rate", "condition_id": "climb_1", "load_basis": "equal weight",
          "unit": "ft/min"}  # fmt: skip


def with_table(name: str, *rows: dict[str, object]) -> Results:
    """Made results with one further table; each row is of the rate of climb unless it says."""
    return replace(made(), tables={name: pd.DataFrame([SHARED | row for row in rows])})


def test_the_budget_of_the_difference_goes_before_those_of_the_values() -> None:
    parts = [
        {"configuration": name, "source": source, "one_sigma": size, "share [%]": share,
         "mend": "fly more"}
        for name, source, size, share in (
            ("A", "engine power", 30.0, 90.0), ("B - A", "scatter between flights", 21.37, 80.2),
            ("B - A", "engine power", 5.0, 19.8),
        )
    ]  # fmt: skip
    table = sceptic.budget(with_table("budget", *parts), "climb_rate", "climb_1")
    assert table["Of"].to_list() == ["B - A", "B - A"]
    assert table["One sigma"].to_list() == ["21 ft/min", "5 ft/min"]
    assert table["Share"].to_list() == ["80 %", "20 %"]
    assert len(sceptic.budget(with_table("budget", *parts), "climb_rate", "climb_2")) == 0


def test_only_flights_that_turn_a_verdict_are_listed() -> None:
    rows = [
        {"without": flight, "difference": 88.0, "low": 20.0, "high": 150.0,
         "verdict": "shown", "turns": turns}
        for flight, turns in (("F01", False), ("F07", True))
    ]  # fmt: skip
    table = sceptic.flights_that_turn_it(with_table("leave_one_out", *rows))
    assert table["Without flight"].to_list() == ["F07"]
    assert table["95 % interval"].to_list() == ["20 to 150 ft/min"]


def test_only_corrections_that_turn_a_verdict_are_listed() -> None:
    rows = [
        {"source": source, "difference_less": 59.0, "difference_more": 71.0, "mend": "",
         "turns": yes}
        for source, yes in (("rolling friction", False), ("propulsive efficiency", True))
    ]  # fmt: skip
    table = sceptic.what_turns_it(with_table("moves", *rows))
    assert table["Correction"].to_list() == ["propulsive efficiency"]
    assert table["Difference by one sigma of it"].to_list() == ["59 to 71 ft/min"]


def test_a_metric_that_nobody_asked_for_is_left_out() -> None:
    row = {
        "metric": "static_engine_speed", "condition_id": "takeoff", "without": "F01",
        "difference": 1.0, "low": 0.0, "high": 2.0, "verdict": "shown", "turns": True,
    }  # fmt: skip
    assert len(sceptic.flights_that_turn_it(with_table("leave_one_out", row))) == 0


def test_prices_that_are_not_known_are_said() -> None:
    rows = [
        {"configuration": "B", "case": case, "price": price, "currency": "EUR", "mass [kg]": mass,
         "words": "500 h", "missing": "", "fuel_saved [L/h]": 0.2, "low": -1.0, "high": 1.4}
        for case, price, mass in (("new build", 1500.4, 5.0), ("retrofit", None, float("nan")))
    ]  # fmt: skip
    table = sceptic.decisions(with_table("decisions", *rows))
    assert table["Costs more"].to_list() == ["1500 EUR", "not known"]
    assert table["Weighs more"].to_list() == ["5.0 kg", "not known"]


@pytest.mark.parametrize("results", [made(), made_single()], ids=["two", "one"])
@pytest.mark.parametrize("name", [name for name in sceptic.__all__ if name != "budget"])
def test_results_without_these_tables_give_heads_alone(results: Results, name: str) -> None:
    table = getattr(sceptic, name)(results)
    assert len(table) == 0
    assert len(table.columns) >= 1
