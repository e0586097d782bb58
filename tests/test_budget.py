"""The budget of an interval: known parts come back, and add up."""

from __future__ import annotations

import numpy as np
import pytest

from stdday import budget
from stdday.statistics import Estimate
from stdday.uncertainty import Draws


def made(count: int = 2000) -> tuple[Draws, np.ndarray]:
    """Draws of a result that rests on three errors, one of them through a curve."""
    draws = Draws(count, seed=11)
    probe = draws.normal("temperature probe", "shared", ["panel"])[1:, 0]
    power = draws.normal("power", "shared", ["one"])[1:, 0]
    own = draws.normal("power of the configuration", "configuration", ["A", "B"])[1:]
    return draws, 2 * probe - power + 0.5 * own[:, 1] + 0.0 * own[:, 0]


def test_each_error_gets_its_sensitivity() -> None:
    draws, deviations = made()
    found = budget.Lines(draws).sensitivity(deviations)
    assert found["temperature probe", "panel"] == pytest.approx(2.0)
    assert found["power", "one"] == pytest.approx(-1.0)
    assert found["power of the configuration", "A"] == pytest.approx(0.0, abs=1e-12)
    assert found["power of the configuration", "B"] == pytest.approx(0.5)


def test_shares_add_up_and_the_largest_is_first() -> None:
    draws, deviations = made()
    parts = budget.budget(
        Estimate(7.0, 1.5, 6.0, deviations), budget.Lines(draws).sensitivity(deviations)
    )
    assert sum(part.share for part in parts) == pytest.approx(1.0)
    assert [part.source for part in parts] == [
        "temperature probe", budget.SCATTER, "engine power", "engine power, own to a configuration",
    ]
    total = 2.0**2 + 1.5**2 + 1.0 + 0.5**2
    assert parts[0].share == pytest.approx(4.0 / total)
    assert all(part.mend for part in parts)


def test_what_is_common_cancels_in_a_difference() -> None:
    draws, deviations = made()
    lines = budget.Lines(draws)
    other = deviations + draws.normal("dew point not given", "block", ["2"])[1:, 0]
    lines = budget.Lines(draws)
    left = budget.difference(lines.sensitivity(other), lines.sensitivity(deviations))
    parts = budget.budget(Estimate(1.0, 0.0, np.inf, other - deviations), left)
    assert [part.source for part in parts] == ["humidity"]


def test_curvature_is_a_part_of_its_own() -> None:
    draws = Draws(2000, seed=3)
    z = draws.normal("power", "shared", ["one"])[1:, 0]
    bent = z + 2 * (z**2 - 1)
    parts = budget.budget(Estimate(0.0, 0.0, np.inf, bent), budget.Lines(draws).sensitivity(bent))
    assert parts[0].source == budget.CURVED
    assert parts[0].share == pytest.approx(8 / 9, abs=0.05)


def test_too_many_errors_for_the_draws_give_no_budget() -> None:
    draws = Draws(20, seed=3)
    z = draws.normal("power", "shared", [str(key) for key in range(9)])[1:, 0]
    assert budget.Lines(draws).sensitivity(z) == {}
    assert budget.budget(Estimate(0.0, 1.0, 5.0, z), {}) == []
