"""Range checks: what passes, what is refused, and the words of the refusal."""

from __future__ import annotations

import timeit

import numpy as np
import pytest

from stdday._arrays import as_result, checked
from stdday.errors import InputError, StddayError

CELSIUS = "is it in degrees Celsius?"


def message(values, low=200.0, high=340.0, hint=CELSIUS, hint_above=None) -> str:
    with pytest.raises(InputError) as caught:
        checked("temperature_k [K]", values, low, high, hint, hint_above)
    return str(caught.value)


@pytest.mark.parametrize(
    ("values", "text"),
    [
        (15.2, f"temperature_k [K] must be 200 to 340; got 15.2 ({CELSIUS})"),
        ([290.0, 15.2], f"temperature_k [K] must be 200 to 340; got 15.2 at index 1 ({CELSIUS})"),
        (
            [[290.0, 291.0], [np.nan, 15.2], [14.9, 14.8]],
            "temperature_k [K] must be 200 to 340; got 15.2 at index (1, 1) and at 2 more"
            f" ({CELSIUS})",
        ),
        ([np.inf], "temperature_k [K] must be 200 to 340; got inf at index 0"),
        (-np.inf, "temperature_k [K] must be 200 to 340; got -inf"),
        (
            "15.2",
            "temperature_k [K] must be numbers, with NaN where one is missing; got '15.2'",
        ),
        (
            [290.0, None],
            "temperature_k [K] must be numbers, with NaN where one is missing; got [290.0, None]",
        ),
        (
            290 + 1j,
            "temperature_k [K] must be numbers, with NaN where one is missing; got (290+1j)",
        ),
        (
            True,
            "temperature_k [K] must be numbers, with NaN where one is missing; got True",
        ),
    ],
)
def test_refusal_says_argument_unit_range_value_place_and_mend(values, text):
    assert message(values) == text


def test_ragged_rows_are_refused_in_words():
    assert message([[1.0, 2.0], [3.0]]).startswith(
        "temperature_k [K] must be numbers in one regular shape; got "
    )


def test_long_refused_values_are_cut():
    assert message(["300 K"] * 50).endswith("...")


@pytest.mark.parametrize(
    ("low", "high", "value", "allowed"),
    [
        (0.0, np.inf, -0.5, "finite and at least 0"),
        (-np.inf, 1.0, 1.5, "finite and at most 1"),
        (0.0, np.inf, np.inf, "finite and at least 0"),
        (-np.inf, np.inf, -np.inf, "finite"),
    ],
)
def test_open_sides(low, high, value, allowed):
    assert message(value, low, high, "") == f"temperature_k [K] must be {allowed}; got {value:g}"


def test_hint_above_stands_only_above():
    assert message(519.0, hint_above="is it in degrees Rankine?").endswith(
        "got 519 (is it in degrees Rankine?)"
    )
    assert message(519.0, hint_above="").endswith("got 519")
    assert message(15.0, hint_above="is it in degrees Rankine?").endswith(f"got 15 ({CELSIUS})")


def test_an_input_error_is_caught_as_value_error_and_as_the_workbooks_own():
    assert issubclass(InputError, ValueError)
    assert issubclass(InputError, StddayError)


@pytest.mark.parametrize("edge", [200.0, 340.0])
def test_limits_are_included(edge):
    assert checked("temperature_k [K]", edge, 200.0, 340.0) == edge
    with pytest.raises(InputError):
        checked("temperature_k [K]", np.nextafter(edge, 2 * edge - 270.0), 200.0, 340.0)


def test_nan_and_masked_elements_pass_as_missing():
    assert np.isnan(checked("x", np.nan, 0.0, 1.0))
    assert np.isnan(checked("x", np.full((3, 2), np.nan), 0.0, 1.0)).all()
    masked = np.ma.array([0.5, 99.0], mask=[False, True])
    np.testing.assert_array_equal(checked("x", masked, 0.0, 1.0), [0.5, np.nan])
    masked_integers = np.ma.array([1, 99], mask=[False, True])
    np.testing.assert_array_equal(checked("x", masked_integers, 0.0, 1.0), [1.0, np.nan])


def test_shapes_and_types_become_float64():
    for values in (1, [1, 0], np.ones((2, 3), dtype=np.float32), (), np.ones((0, 4))):
        got = checked("x", values, 0.0, 1.0)
        assert got.dtype == np.float64
        assert got.shape == np.shape(values)


def test_as_result_gives_plain_float_only_for_single_numbers():
    assert type(as_result(np.float64(2.0))) is float
    assert type(as_result(np.asarray(2.0))) is float
    assert as_result(np.asarray([2.0])).shape == (1,)
    assert as_result(np.ones((0, 3))).shape == (0, 3)


def test_a_draws_axis_costs_well_under_a_millisecond():
    draws = np.random.default_rng(1).uniform(210.0, 330.0, (2000, 40))
    draws[5, 5] = np.nan
    once = timeit.repeat(lambda: checked("x", draws, 200.0, 340.0), number=1, repeat=50)
    assert min(once) < 0.5e-3
