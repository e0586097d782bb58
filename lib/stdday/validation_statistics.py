"""Published examples of statistics: certified fits, intervals, equivalence, sample sizes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from scipy import special

from stdday.how_many import Scatter, flights_needed
from stdday.statistics import Estimate, cluster_fit, pooled_scatter, welch_dof
from stdday.uncertainty import Draws
from stdday.validation_items import Case

__all__ = ["STATISTICS", "WHY"]

Inputs = Mapping[str, Any]
Made = dict[str, Any]
#: Draws of the Monte Carlo examples [-].
_DRAWS = 1_000_000
_NONE = np.zeros(1)


def _sample(count: int, mean: float, sd: float) -> Any:
    """Numbers with exactly this mean and standard deviation."""
    base = np.linspace(-1.0, 1.0, count)
    return mean + sd * base / base.std(ddof=1)


def _pooled(given: Inputs) -> Made:
    one, two = (_sample(given[f"n{n}"], given[f"mean{n}"], given[f"sd{n}"]) for n in (1, 2))
    sd, dof = pooled_scatter([one, two])
    error = sd * np.sqrt(1 / len(one) + 1 / len(two))
    critical = Estimate(0.0, 1.0, dof, _NONE).quantile(0.975)
    return {"t": (one.mean() - two.mean()) / error, "pooled_sd": sd, "dof": dof,
            "critical_t_0975": critical}  # fmt: skip


def _welch(given: Inputs) -> Made:
    counts = [given["n1"], given["n2"]]
    variances = [given[f"sd{n}"] ** 2 / given[f"n{n}"] for n in (1, 2)]
    t = (given["mean1"] - given["mean2"]) / np.sqrt(sum(variances))
    return {"t": t, "dof": welch_dof(variances, [count - 1 for count in counts])}


def _difference(one: Any, two: Any) -> Estimate:
    """Mean of the second sample less that of the first, by Welch."""
    samples = [np.asarray(one, dtype=float), np.asarray(two, dtype=float)]
    variances = [float(s.var(ddof=1)) / len(s) for s in samples]
    dof = welch_dof(variances, [len(s) - 1 for s in samples])
    value = float(samples[1].mean() - samples[0].mean())
    return Estimate(value, float(np.sqrt(sum(variances))), dof, _NONE)


def _welch_samples(given: Inputs) -> Made:
    found = _difference(given["sample_new"], given["sample_old"])
    old, new = np.array(given["sample_old"]), np.array(given["sample_new"])
    return {
        "mean_old": old.mean(), "sd_old": old.std(ddof=1), "mean_new": new.mean(),
        "sd_new": new.std(ddof=1), "t": found.value / found.standard_error, "dof": found.dof,
        "one_sided_critical_095_dof15": Estimate(0.0, 1.0, 15.0, _NONE).quantile(0.95),
    }  # fmt: skip


def _equivalent(given: Inputs) -> Made:
    found = _difference(given["a"], given["b"])
    wide, narrow = given["margins_kt"]
    below, above = found.below(-wide), 1.0 - found.below(wide)
    closer = max(found.below(-narrow), 1.0 - found.below(narrow))
    return {
        "diff": found.value, "se": found.standard_error, "dof": found.dof,
        "p_lower_margin2": below, "p_upper_margin2": above, "p_tost_margin2": max(below, above),
        "p_tost_margin1": closer, "ci90": found.interval(0.90),
        "welch_t_p_two_sided": found.p_zero(),
    }  # fmt: skip


def _tested(found: Estimate, low: float, high: float) -> Made:
    """Make the figures of both one-sided tests and of the interval that goes with them."""
    error = found.standard_error
    edges = found.interval(0.90)
    return {
        "t_nhst": found.value / error, "p_nhst": found.p_zero(),
        "t_lower": (found.value - low) / error, "p_lower": found.below(low),
        "t_upper": (found.value - high) / error, "p_upper": 1.0 - found.below(high),
        "low": edges[0], "high": edges[1],
    }  # fmt: skip


def _paired(given: Inputs) -> Made:
    pairs = np.array(given["group1_extra_h"]) - np.array(given["group2_extra_h"])
    error = float(pairs.std(ddof=1) / np.sqrt(len(pairs)))
    found = Estimate(float(pairs.mean()), error, len(pairs) - 1.0, _NONE)
    made = _tested(found, given["bound_low_h"], given["bound_high_h"])
    return {"mean_difference_h": found.value, "se_h": error, "ci90_low_h": made.pop("low"),
            "ci90_high_h": made.pop("high"), **made}  # fmt: skip


def _inconclusive(given: Inputs) -> Made:
    half = (given["ci95_high"] - given["ci95_low"]) / 2.0
    error = half / Estimate(0.0, 1.0, given["welch_df"], _NONE).quantile(0.975)
    found = Estimate(given["mean1"] - given["mean2"], error, given["welch_df"], _NONE)
    made = _tested(found, given["bound_low"], given["bound_high"])
    return {"ci90_low": made.pop("low"), "ci90_high": made.pop("high"), **made}


def _inside(given: Inputs) -> Made:
    half = given["mean_difference"] - given["ci90_low"]
    error = half / Estimate(0.0, 1.0, given["df"], _NONE).quantile(0.95)
    found = Estimate(given["mean_difference"], error, given["df"], _NONE)
    made = _tested(found, -given["margin"], given["margin"])
    largest = max(made["p_lower"], made["p_upper"])
    return {"ci90_high": made["high"], "p_lower": made["p_lower"], "p_upper": made["p_upper"],
            "equivalent": float(largest < 0.05)}  # fmt: skip


def _end_gauge(given: Inputs) -> Made:
    span = given["lS_mm"] * 1e6    # a millimetre is 1e6 nm
    parts = [
        given["u_lS_nm"],
        given["u_d_nm"],
        span * abs(given["theta_K"]) * given["u_deltaalpha_perK"],
        span * given["alphaS_perK"] * given["u_deltatheta_K"],
    ]
    names = "nu_lS", "nu_d", "nu_deltaalpha", "nu_deltatheta"
    dof = welch_dof([part**2 for part in parts], [given[name] for name in names])
    uc = float(np.sqrt(sum(part**2 for part in parts)))
    k = Estimate(0.0, 1.0, float(int(dof)), _NONE).quantile(0.995)
    return {"contributions_nm": parts, "uc_nm": uc, "nu_eff": dof, "k99": k, "U99_nm": k * uc}


def _fit(given: Inputs) -> Made:
    return _line(given, [np.ones(len(given["x"])), np.array(given["x"], dtype=float)])


def _fit_through_origin(given: Inputs) -> Made:
    return _line(given, [np.array(given["x"], dtype=float)])


def _line(given: Inputs, columns: list[Any]) -> Made:
    each = [str(place) for place in range(len(given["x"]))]
    fit = cluster_fit(np.column_stack(columns), given["y"], each, tuning=np.inf)
    names = ["b0", "b1"][-len(columns):]
    return dict(zip(names, fit.coefficients, strict=True))


def _summed(given: Inputs) -> Made:
    """One input as scatter and the others as draws, or all as draws where none is normal."""
    count = given["inputs"]
    names = [f"input {place}" for place in range(count)]
    normal = Draws(_DRAWS).normal("example", "shared", names)[1:]
    sizes = np.full(count, given["standard_deviation"])
    sizes[-1] = given.get("largest", sizes[-1])
    if given["shape"] == "normal":
        found = Estimate(0.0, float(sizes[0]), np.inf, normal[:, 1:] @ sizes[1:])
    else:
        flat = np.sqrt(3.0) * (2.0 * special.ndtr(normal) - 1.0)
        found = Estimate(0.0, 0.0, np.inf, flat @ sizes)
    low, high = found.interval(0.95)
    u = np.hypot(found.standard_error, found.shared_sigma())
    return {"u": u, "low_95": low, "high_95": high}


def _sizes(given: Inputs) -> Made:
    return {"n_per_group": [flights_needed(effect, Scatter(1.0)) or np.nan
                            for effect in given["effect_d"]]}  # fmt: skip


#: Examples of statistics, by id.
STATISTICS: dict[str, Case] = {
    "STA-STRD-01": _fit,
    "STA-STRD-02": _fit_through_origin,
    "STA-STRD-04": _fit_through_origin,
    "STA-T-01": _pooled,
    "STA-T-02": _welch,
    "STA-T-03": _welch_samples,
    "STA-GUM-01": _end_gauge,
    "STA-MC-01": _summed,
    "STA-MC-02": _summed,
    "STA-MC-03": _summed,
    "STA-TOST-01": _equivalent,
    "TXB-STA-01": _paired,
    "TXB-STA-02": _inconclusive,
    "TXB-STA-03": _inside,
    "STA-N-02": _sizes,
}

#: Why ours is another figure, by id; for several examples at once, ids parted by spaces.
WHY: dict[str, str] = {
    "STA-GUM-01": (
        "The guide rounds each part before it goes on, and cuts degrees of freedom down to a "
        "whole number; the library keeps fractions."
    ),
    "STA-MC-03": (
        "The exact figure is the root of 103, 10.149, so that the printed 10.1 stands at the "
        "edge of its rounding; the noise of a million draws carries ours over it."
    ),
    "STA-N-02": "The library looks no further than 60 flights with each configuration.",
}
