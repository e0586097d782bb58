"""Statistics against certified reference sets, published examples and general-purpose libraries."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.multitest import multipletests

from stdday.errors import InputError
from stdday.statistics import Estimate, cluster_fit, holm, pooled_scatter, welch_dof
from tests.published_values import items

PUBLISHED = {item["id"]: item for item in items("statistics")}


def _sample(count: int, mean: float, sd: float) -> np.ndarray:
    """Numbers with exactly this mean and standard deviation."""
    base = np.linspace(-1, 1, count)
    return mean + sd * (base - base.mean()) / base.std(ddof=1)


def test_pooled_scatter_gives_the_published_t_of_two_samples() -> None:
    item = PUBLISHED["STA-T-01"]  # NIST/SEMATECH e-Handbook, section 1.3.5.3
    given_, printed = item["inputs"], item["expected"]
    one = _sample(given_["n1"], given_["mean1"], given_["sd1"])
    two = _sample(given_["n2"], given_["mean2"], given_["sd2"])
    sd, dof = pooled_scatter([one, two])
    error = sd * np.sqrt(1 / len(one) + 1 / len(two))
    assert sd == pytest.approx(printed["pooled_sd"], abs=5e-5)
    assert dof == printed["dof"]
    assert (one.mean() - two.mean()) / error == pytest.approx(printed["t"], abs=5e-5)


@pytest.mark.parametrize("name", ["STA-T-02", "STA-T-03"])
def test_welch_dof_is_the_published_one(name: str) -> None:
    given_, printed = PUBLISHED[name]["inputs"], PUBLISHED[name]["expected"]
    if "n1" in given_:
        sizes = [given_["n1"], given_["n2"]]
        sds, means = [given_["sd1"], given_["sd2"]], [given_["mean1"], given_["mean2"]]
    else:
        samples = [np.array(given_["sample_old"]), np.array(given_["sample_new"])]
        sizes = [len(s) for s in samples]
        sds, means = [s.std(ddof=1) for s in samples], [s.mean() for s in samples]
    variances = [sd**2 / n for sd, n in zip(sds, sizes, strict=True)]
    assert (means[0] - means[1]) / np.sqrt(sum(variances)) == pytest.approx(printed["t"], abs=5e-5)
    assert welch_dof(variances, [n - 1 for n in sizes]) == pytest.approx(printed["dof"], abs=5e-4)


def test_welch_dof_is_that_of_the_end_gauge() -> None:
    item = PUBLISHED["STA-GUM-01"]  # JCGM 100:2008, H.1: printed 16, unrounded 16.66
    parts = item["expected"]["contributions_nm"]
    names = ("nu_lS", "nu_d", "nu_deltaalpha", "nu_deltatheta")
    dof = welch_dof([part**2 for part in parts], [item["inputs"][name] for name in names])
    assert int(dof) == item["expected"]["nu_eff"]
    assert stats.t.ppf(0.995, int(dof)) == pytest.approx(item["expected"]["k99"], abs=5e-3)


def test_ninety_per_cent_interval_is_that_of_the_equivalence_examples() -> None:
    item = PUBLISHED["STA-TOST-01"]  # Schuirmann (1987) method
    a, b = np.array(item["inputs"]["a"]), np.array(item["inputs"]["b"])
    variances = [a.var(ddof=1) / len(a), b.var(ddof=1) / len(b)]
    dof = welch_dof(variances, [len(a) - 1, len(b) - 1])
    known = Estimate(float(b.mean() - a.mean()), float(np.sqrt(sum(variances))), dof, np.zeros(1))
    assert known.interval(0.90) == pytest.approx(item["expected"]["ci90"], abs=1e-6)
    assert known.p_zero() == pytest.approx(item["expected"]["welch_t_p_two_sided"], rel=1e-6)


def test_paired_equivalence_example_of_the_sleep_data() -> None:
    item = PUBLISHED["TXB-STA-01"]  # R session on Student (1908)
    given_, printed = item["inputs"], item["expected"]
    pairs = np.array(given_["group1_extra_h"]) - np.array(given_["group2_extra_h"])
    error = float(pairs.std(ddof=1) / np.sqrt(len(pairs)))
    known = Estimate(float(pairs.mean()), error, len(pairs) - 1, np.zeros(1))
    low, high = known.interval(0.90)
    assert error == pytest.approx(printed["se_h"], abs=6e-8)
    assert known.p_zero() == pytest.approx(printed["p_nhst"], abs=6e-9)
    assert low == pytest.approx(printed["ci90_low_h"], abs=6e-7)
    assert high == pytest.approx(printed["ci90_high_h"], abs=6e-8)


def test_interval_of_the_inconclusive_example() -> None:
    item = PUBLISHED["TXB-STA-02"]  # printed session output, Welch
    given_ = item["inputs"]
    half = (given_["ci95_high"] - given_["ci95_low"]) / 2
    error = half / stats.t.ppf(0.975, given_["welch_df"])
    known = Estimate(given_["mean1"] - given_["mean2"], error, given_["welch_df"], np.zeros(1))
    low, high = known.interval(0.90)
    assert low == pytest.approx(item["expected"]["ci90_low"], abs=6e-4)
    assert high == pytest.approx(item["expected"]["ci90_high"], abs=6e-4)
    assert known.p_zero() == pytest.approx(item["expected"]["p_nhst"], abs=1e-4)


@pytest.mark.parametrize("name", ["STA-STRD-01", "STA-STRD-02", "STA-STRD-04"])
def test_fit_meets_certified_regression_sets(name: str) -> None:
    item = PUBLISHED[name]  # NIST Statistical Reference Datasets
    x, y = np.array(item["inputs"]["x"], float), np.array(item["inputs"]["y"], float)
    printed = item["expected"]
    design = np.column_stack([np.ones_like(x), x]) if "b0" in printed else x[:, None]
    each = [str(place) for place in range(len(x))]
    fit = cluster_fit(design, y, each, tuning=np.inf)
    wanted = [printed[key] for key in ("b0", "b1") if key in printed]
    assert fit.coefficients == pytest.approx(wanted, rel=1e-9)
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx(
        np.sqrt(np.diag(sm.OLS(y, design).fit(cov_type="HC2").cov_params())), rel=1e-6
    )


def test_clusters_of_equal_size_reduce_to_the_t_interval_of_their_means() -> None:
    rng = np.random.default_rng(4)
    means = rng.normal(10, 2, 5)
    y = np.concatenate([mean + rng.normal(0, 0.1, 4) for mean in means])
    names = np.repeat(list("abcde"), 4)
    fit = cluster_fit(np.ones((20, 1)), y, names, tuning=np.inf)
    variance, dof = fit.variance([1.0])
    flights = y.reshape(5, 4).mean(axis=1)
    assert fit.coefficients[0] == pytest.approx(flights.mean())
    assert np.sqrt(variance) == pytest.approx(flights.std(ddof=1) / np.sqrt(5))
    assert dof == pytest.approx(4.0)


def test_a_point_far_off_loses_weight_and_hardly_moves_the_fit() -> None:
    rng = np.random.default_rng(8)
    x = np.tile(np.linspace(1, 2, 6), 4)
    y = 3 * x + rng.normal(0, 0.01, 24)
    names = np.repeat(list("abcd"), 6)
    y[7] += 1.0
    robust = cluster_fit(x[:, None], y, names)
    plain = cluster_fit(x[:, None], y, names, tuning=np.inf)
    assert robust.weights[7] < 0.1
    assert abs(robust.coefficients[0] - 3) < 0.3 * abs(plain.coefficients[0] - 3)


@pytest.mark.parametrize(
    ("design", "response", "message"),
    [
        ([[1.0], [1.0]], [1.0], "one row a point"),
        ([[1.0], [np.nan], [2.0]], [1.0, 2.0, 3.0], "must be finite"),
        ([[1.0, 2.0]] * 4, [1.0, 2.0, 3.0, 4.0], "all alike"),
    ],
)
def test_fit_refuses_what_it_cannot_carry(
    design: list[list[float]], response: list[float], message: str
) -> None:
    with pytest.raises(InputError, match=message):
        cluster_fit(design, response, ["a"] * len(response))


def test_one_flight_has_no_scatter_between_flights() -> None:
    fit = cluster_fit(np.arange(1.0, 6)[:, None], np.arange(1.0, 6) + 0.1, ["a"] * 5)
    with pytest.raises(InputError, match="two flights"):
        fit.variance([1.0])


@given(st.floats(0.01, 10), st.integers(1, 30), st.floats(0.5, 0.99))
def test_interval_without_shared_errors_is_the_t_interval(
    error: float, dof: int, level: float
) -> None:
    known = Estimate(5.0, error, dof, np.zeros(3))
    assert known.interval(level) == pytest.approx(
        stats.t.interval(level, dof, 5.0, error), rel=1e-5, abs=1e-5 * error
    )


def test_interval_convolves_scatter_with_shared_errors() -> None:
    rng = np.random.default_rng(1)
    shared = rng.normal(0, 2.0, 4000)
    known = Estimate(0.0, 1.0, 5.0, shared)
    brute = stats.t.rvs(5, size=(200, 4000), random_state=2) + shared
    assert known.interval() == pytest.approx(np.quantile(brute, [0.025, 0.975]), abs=0.03)
    assert known.below(1.0) == pytest.approx(np.mean(brute < 1.0), abs=0.002)


def test_common_errors_cancel_in_a_difference() -> None:
    rng = np.random.default_rng(3)
    common = rng.normal(0, 5.0, 1000)
    a, b = Estimate(10.0, 0.1, 4, common), Estimate(12.0, 0.1, 4, common)
    low, high = b.minus(a, 0.2, 8).interval()
    assert high - low == pytest.approx(2 * 0.2 * stats.t.ppf(0.975, 8), rel=1e-6)


@pytest.mark.parametrize("count", [1, 2, 5, 12])
def test_holm_agrees_with_a_general_purpose_library(count: int) -> None:
    rng = np.random.default_rng(count)
    for power in (1, 3):
        p_values = rng.uniform(size=count) ** power
        assert holm(p_values) == pytest.approx(multipletests(p_values, method="holm")[1])


def test_holm_refuses_what_is_no_p_value() -> None:
    with pytest.raises(InputError, match="between 0 and 1"):
        holm([0.2, 1.2])
