"""The curve of an airspeed system: its band, what it says beyond the legs, and its draws."""

from __future__ import annotations

import numpy as np
import pytest

from stdday.errors import InputError
from stdday.pattern_curve import curve_with
from stdday.pattern_fit import fit_patterns
from stdday.position_error import KNOTS_MS, AirspeedCurve, departure_correlation, prior_covariance
from tests.benchmarks.calibrations import WORLDS, made, one

KT = 1852 / 3600


@pytest.fixture(scope="module")
def curve() -> AirspeedCurve:
    legs, _, _ = made(np.random.default_rng(8), WORLDS["many patterns"])
    return curve_with(fit_patterns(legs), [], 1.0, 70.0)


def test_the_correlation_of_the_departure_is_one_at_home_and_falls() -> None:
    found = departure_correlation(KNOTS_MS, KNOTS_MS, 0.3)
    assert np.diag(found) == pytest.approx(1.0)
    assert np.all(np.linalg.eigvalsh(found) > -1e-9)
    assert np.all(np.diff(found[0]) < 0)


def test_before_flying_the_airspeed_is_known_to_3_kt_and_2_per_cent() -> None:
    speeds = np.array([50.0, 100.0]) * KT
    sigma = np.sqrt(np.diag(prior_covariance(speeds, speeds)))
    assert sigma == pytest.approx(np.hypot(3 * KT, 0.02 * speeds))


def test_the_band_is_wider_than_two_sigmas_and_the_sigma_grows_outside(curve) -> None:
    flown = np.linspace(curve.low_ms, curve.high_ms, 30)
    assert 2.0 < curve.band_factor < 5.0
    assert np.asarray(curve.band_ms(flown)) == pytest.approx(
        curve.band_factor * np.asarray(curve.sigma_ms(flown)))
    inside = np.max(curve.sigma_ms(flown))
    slow = np.asarray(curve.sigma_ms(curve.low_ms * np.array([0.9, 0.7, 0.5])))
    fast = np.asarray(curve.sigma_ms(curve.high_ms * np.array([1.1, 1.4, 1.8])))
    assert slow[0] > curve.sigma_ms(curve.low_ms)
    assert fast[0] > curve.sigma_ms(curve.high_ms)
    assert np.all(np.diff(slow) > 0)
    assert np.all(np.diff(fast) > 0)
    assert fast[-1] > inside


def test_draws_have_the_sigma_that_is_told(curve) -> None:
    random = np.random.default_rng(4)
    speeds = np.array([0.8, 1.0, 1.2]) * np.sqrt(curve.low_ms * curve.high_ms)
    normals = random.standard_normal((40_000, curve.root.shape[1]))
    shared = random.standard_normal((40_000, 3))
    found = curve.deviations_ms(speeds, normals, shared).std(axis=0)
    assert found == pytest.approx(np.asarray(curve.sigma_ms(speeds)), rel=0.03)


def test_the_band_factor_holds_the_whole_curve_in_95_per_cent_of_draws(curve) -> None:
    random = np.random.default_rng(5)
    flown = np.linspace(curve.low_ms, curve.high_ms, 40)
    scale = np.sqrt((curve.dof - 2) / random.chisquare(curve.dof, (20_000, 1)))
    found = curve.deviations_ms(flown, random.standard_normal((20_000, curve.root.shape[1])),
                                random.standard_normal((20_000, 3))) * scale
    inside = np.all(np.abs(found) <= np.asarray(curve.band_ms(flown)), axis=1)
    assert inside.mean() == pytest.approx(0.95, abs=0.01)


def test_nan_passes_and_a_wrong_shape_is_refused(curve) -> None:
    assert np.isnan(curve.correction_ms(np.nan))
    with pytest.raises(InputError, match="knots"):
        AirspeedCurve(np.ones(3), curve.root, curve.shared, 8.0, 30.0, 60.0)
    with pytest.raises(InputError, match="kt"):
        curve.correction_ms(600.0)


def test_the_temperature_probe_moves_the_whole_curve(curve) -> None:
    """1 K too warm makes 0.17 % too much true airspeed, which the correction takes away."""
    middle = float(np.sqrt(curve.low_ms * curve.high_ms))
    moved = np.interp(middle, KNOTS_MS, curve.shared[:, 0])
    assert moved == pytest.approx(-middle / (2 * 285), rel=0.15)


def test_bands_hold_the_true_curve_of_worlds_that_the_fit_does_not_know() -> None:
    """A small check of the benchmark's figure: 60 campaigns of three worlds, at least 51 hold."""
    held = [one((name, 77_000 + place))[0]
            for name in ("mixed", "heavy tails", "few patterns") for place in range(20)]
    assert sum(held) >= 51
