"""What the tests of the performance modules share: units, published items, draws."""

from __future__ import annotations

import inspect

import numpy as np
import pytest
from hypothesis import settings

from tests.published_values import items

FT = 0.3048  # exact, international foot
INCH = FT / 12.0
KT = 1852.0 / 3600.0  # exact, international knot
MPH = 0.44704  # exact, statute mile per hour
LB = 0.45359237  # exact, avoirdupois pound
LBF = LB * 9.80665
SLUG_FT3 = LBF / FT**4  # exact, slug per cubic foot in kg/m^3
HP = 550.0 * FT * LBF  # exact, 550 ft lbf/s
FPM = FT / 60.0

#: Derandomised, and without a deadline on a shared machine.
steady = settings(derandomize=True, deadline=None, max_examples=200)


def published(topic):
    """Items of both files that concern one module."""
    return [
        item for file in ("performance", "textbooks") for item in items(file)
        if item["topic"] == topic
    ]  # fmt: skip


def compare(item, got):
    """Every expected figure within the tolerance that stands beside it."""
    assert set(got) == set(item["expected"]), item["id"]
    for key, expected in item["expected"].items():
        np.testing.assert_allclose(
            got[key], expected, rtol=0.0, atol=item["tolerance"][key],
            err_msg=f"{item['id']} {key}; {item['source']} ({item['origin']})",
        )  # fmt: skip


def functions_of(module):
    """Public functions of a module, by name."""
    return {
        name: getattr(module, name)
        for name in module.__all__
        if inspect.isfunction(getattr(module, name))
    }


def parts(result):
    """Arrays of a result, be it one number, a tuple, or a record."""
    if hasattr(result, "__dataclass_fields__"):
        return [getattr(result, name) for name in result.__dataclass_fields__]
    return list(result) if isinstance(result, tuple) else [result]


def check_draws(function, typical, *, draws=2000, points=40):
    """Draws (2000, 1) against points (40,) give (2000, 40), as one by one; NaN stays in its row."""
    random = np.random.default_rng(20)
    alone = parts(function(*typical))
    assert all(type(value) is float for value in alone)
    varied = []
    for place, value in enumerate(typical):
        if not isinstance(value, float):
            varied.append(value)
            continue
        shape = (draws, 1) if place % 2 == 0 else (points,)
        varied.append(value * (1.0 + 0.01 * random.uniform(-1.0, 1.0, shape)))
    if len([value for value in typical if isinstance(value, float)]) == 1:
        varied[0] = varied[0] * np.ones(points)
    varied[0][7] = np.nan
    results = parts(function(*varied))
    for place, result in enumerate(results):
        assert result.shape == (draws, points)
        assert np.isnan(result[7]).all()
        assert np.isfinite(np.delete(result, 7, axis=0)).all()
        for row, column in ((0, 0), (17, 5), (draws - 1, points - 1)):
            one = [
                float(np.broadcast_to(value, (draws, points))[row, column])
                if isinstance(value, np.ndarray)
                else value
                for value in varied
            ]
            assert result[row, column] == pytest.approx(parts(function(*one))[place], rel=1e-13)
