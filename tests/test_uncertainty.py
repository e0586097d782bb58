"""Draws: the same for the same name, mirrored, and only of the kinds asked for."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from stdday.errors import InputError
from stdday.uncertainty import KINDS, SYSTEMATIC, Draws


def test_equal_keys_get_equal_draws_and_others_do_not() -> None:
    z = Draws(200, seed=3).normal("probe", "shared", ["one", "two", "one"])
    assert np.array_equal(z[:, 0], z[:, 2])
    assert abs(np.corrcoef(z[1:, 0], z[1:, 1])[0, 1]) < 0.25


def test_row_zero_is_nominal_and_the_mean_is_zero() -> None:
    z = Draws(1000, seed=5).normal("probe", "block", ["x"])
    assert z[0, 0] == 0
    assert z.mean() == pytest.approx(0, abs=1e-12)


def test_draws_are_standard_normal() -> None:
    z = Draws(20_000, seed=7).normal("probe", "parameter", ["x"])[1:10_001, 0]
    assert stats.kstest(z, "norm").pvalue > 0.001


def test_draws_do_not_depend_on_what_else_is_drawn() -> None:
    one = Draws(10, seed=1).normal("a", "shared", ["k"])
    draws = Draws(10, seed=1)
    draws.normal("b", "shared", ["k", "l"])
    assert np.array_equal(draws.normal("a", "shared", ["j", "k"])[:, 1:], one)


@pytest.mark.parametrize("kind", KINDS)
def test_only_the_kinds_asked_for_are_drawn(kind: str) -> None:
    z = Draws(10, seed=1).normal("a", kind, ["k"])
    assert np.any(z != 0) == (kind in SYSTEMATIC)
    assert np.any(Draws(10, seed=1).only({kind}).normal("a", kind, ["k"]) != 0)


def test_a_kind_that_is_not_known_is_refused() -> None:
    with pytest.raises(InputError, match="kind must be among"):
        Draws(2).normal("a", "weather", ["k"])
    with pytest.raises(InputError, match="kinds must be among"):
        Draws(2, kinds=frozenset({"weather"}))
    with pytest.raises(InputError, match="even"):
        Draws(3)
