"""The verdict, decided in its fixed order over every position of the interval, edges included."""

from __future__ import annotations

import numpy as np
import pytest

from stdday.compare import verdict
from stdday.statistics import Estimate

SMALL, SHOWN, OPEN = "no difference larger than what matters", "shown", "not resolved"

# low, high, low_90, high_90, matters, adjusted p, primary, verdict: the contract's order is
# 1. inside what matters (strictly), 2. zero excluded and the family's p holds, 3. not resolved
TABLE = [
    # well inside what matters, holding zero
    (-1.0, 1.0, -0.8, 0.8, 2.0, 0.9, True, SMALL),
    # inside, zero excluded: the first rule still comes first
    (0.2, 1.8, 0.4, 1.6, 2.0, 0.01, True, SMALL),
    (-1.8, -0.2, -1.6, -0.4, 2.0, 0.01, True, SMALL),
    # only the 90 % interval is inside: it decides
    (-0.5, 2.1, -0.3, 1.9, 2.0, 0.3, True, SMALL),
    # the 90 % interval just touches what matters: strictly inside is needed
    (-0.5, 2.1, -0.3, 2.0, 2.0, 0.3, True, OPEN),
    (-2.1, 0.5, -2.0, 0.3, 2.0, 0.3, True, OPEN),
    # touches, zero excluded
    (0.1, 2.2, 0.3, 2.0, 2.0, 0.03, True, SHOWN),
    # straddles what matters, zero excluded
    (0.5, 3.5, 0.8, 3.2, 2.0, 0.01, True, SHOWN),
    (-3.5, -0.5, -3.2, -0.8, 2.0, 0.01, True, SHOWN),
    # beyond what matters altogether
    (3.0, 5.0, 3.2, 4.8, 2.0, 0.001, True, SHOWN),
    (-5.0, -3.0, -4.8, -3.2, 2.0, 0.001, True, SHOWN),
    # an end of the interval exactly zero does not exclude zero
    (0.0, 4.0, 0.3, 3.7, 2.0, 0.05, True, OPEN),
    (-4.0, 0.0, -3.7, -0.3, 2.0, 0.05, True, OPEN),
    # zero excluded, but not once the other claims are counted
    (0.1, 4.0, 0.4, 3.7, 2.0, 0.051, True, OPEN),
    (0.1, 4.0, 0.4, 3.7, 2.0, 0.05, True, SHOWN),
    # a metric outside of the family needs no adjusted p
    (0.1, 4.0, 0.4, 3.7, 2.0, float("nan"), False, SHOWN),
    # a primary metric whose adjusted p is not known is not shown
    (0.1, 4.0, 0.4, 3.7, 2.0, float("nan"), True, OPEN),
    # wide: holds zero and both edges of what matters
    (-9.0, 9.0, -8.0, 8.0, 2.0, 1.0, True, OPEN),
    # nothing named that matters: only rules two and three
    (-0.1, 0.1, -0.05, 0.05, None, 0.9, True, OPEN),
    (0.1, 0.2, 0.11, 0.19, None, 0.001, True, SHOWN),
]


@pytest.mark.parametrize(
    ("low", "high", "low_90", "high_90", "matters", "p", "primary", "expected"), TABLE
)
def test_verdict(
    low: float,
    high: float,
    low_90: float,
    high_90: float,
    matters: float | None,
    p: float,
    primary: bool,
    expected: str,
) -> None:
    assert verdict(low, high, low_90, high_90, matters, p, primary) == expected


@pytest.mark.parametrize("shift", np.linspace(-6, 6, 49))
def test_a_verdict_never_depends_on_the_sign(shift: float) -> None:
    def of(value: float) -> str:
        known = Estimate(value, 0.8, 7.0, np.zeros(1))
        return verdict(*known.interval(), *known.interval(0.9), 2.0, known.p_zero(), True)

    assert of(shift) == of(-shift)
