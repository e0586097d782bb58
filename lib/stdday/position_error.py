"""Position error of an airspeed system: one smooth curve with a covariance, in arrays alone.

The curve is the correction (calibrated minus indicated airspeed) at knots spread evenly in the
logarithm of indicated airspeed, with straight lines between.  What is believed of it before any
flight (`prior_covariance`) is an offset and a scale error of the size of an uncalibrated system,
and a smooth departure from them of unknown size and length.  Far from the flown airspeeds the
curve therefore returns to "not known", never to an extrapolated line.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from stdday._arrays import FloatArray, FloatOrArray, as_result, checked
from stdday.errors import InputError

__all__ = [
    "KNOTS_MS",
    "UNCALIBRATED_OFFSET_MS",
    "UNCALIBRATED_SCALE",
    "AirspeedCurve",
    "departure_correlation",
    "prior_covariance",
]

#: One sigma of an airspeed system that nobody has calibrated: an offset [m/s] and a scale [-].
UNCALIBRATED_OFFSET_MS, UNCALIBRATED_SCALE = 3 * 1852 / 3600, 0.02
#: Indicated airspeeds [m/s] at which curves are held: 16 to 350 kt, 5 % apart.
KNOTS_MS: FloatArray = np.geomspace(8.0, 180.0, 64)
#: Draws behind the factor of a simultaneous band, and their seed [-].
_BAND_DRAWS, _BAND_SEED = 8000, 20261125


def _airspeed(values: ArrayLike) -> FloatArray:
    return checked("indicated_ms [m/s]", values, 0.0, 340.0, "", "is it in km/h or kt?")


def departure_correlation(first_ms: ArrayLike, second_ms: ArrayLike, length: float) -> FloatArray:
    """Correlation of the smooth departure from offset and scale at two indicated airspeeds.

    Parameters
    ----------
    first_ms, second_ms : array_like, shapes (m,) and (n,)
        Indicated airspeeds [m/s], above 0 to 340.
    length : float
        Change of the logarithm of airspeed [-] over which the departure forgets itself, 0.01 to 10.

    Returns
    -------
    ndarray, shape (m, n)
        Correlation [-].

    Raises
    ------
    InputError
        A value is out of range.

    Notes
    -----
    Matern correlation of order 5/2 (C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for
    Machine Learning, 2006, eq. 4.17) in ln V: static errors follow the angle of attack, which
    changes with the airspeed's ratio, not its difference.

    Examples
    --------
    >>> departure_correlation([50.0], [50.0, 60.0], 0.4)
    array([[1.  , 0.85]])
    """
    checked("length [-]", length, 0.01, 10.0)
    first, second = np.log(_airspeed(first_ms)), np.log(_airspeed(second_ms))
    scaled = np.sqrt(5.0) * np.abs(first[:, None] - second[None, :]) / length
    found: FloatArray = (1 + scaled + scaled**2 / 3) * np.exp(-scaled)
    return found


def prior_covariance(first_ms: ArrayLike, second_ms: ArrayLike) -> FloatArray:
    """Covariance of the offset and scale error of an uncalibrated airspeed system.

    Parameters
    ----------
    first_ms, second_ms : array_like, shapes (m,) and (n,)
        Indicated airspeeds [m/s], 0 to 340.

    Returns
    -------
    ndarray, shape (m, n)
        Covariance of the corrections [m^2/s^2].

    Raises
    ------
    InputError
        A value is out of range.

    Notes
    -----
    An offset of 3 kt and a scale of 2 %, one sigma (common practice for light airplanes).

    Examples
    --------
    >>> np.sqrt(prior_covariance([100 * 0.51444], [100 * 0.51444])) / 0.51444
    array([[3.6]])
    """
    first, second = _airspeed(first_ms), _airspeed(second_ms)
    scale = UNCALIBRATED_SCALE**2 * first[:, None] * second[None, :]
    covariance: FloatArray = UNCALIBRATED_OFFSET_MS**2 + scale
    return covariance


@dataclass(frozen=True)
class AirspeedCurve:
    """Correction of an airspeed system, calibrated minus indicated, with what is not known of it.

    Parameters
    ----------
    correction : ndarray, shape (knots,)
        Correction at `KNOTS_MS` [m/s].
    root : ndarray, shape (knots, parts)
        Root of the covariance of the correction [m/s]: ``root @ root.T``.
    shared : ndarray, shape (knots, 3)
        Change of the correction with one sigma of the temperature probe, of the recorded pressure
        altitude, and of the probe's recovery factor [m/s].
    dof : float
        Degrees of freedom of the noise that the covariance was made with [-].
    low_ms, high_ms : float
        Flown range of indicated airspeed [m/s].

    Examples
    --------
    >>> curve = AirspeedCurve(np.ones(64), np.full((64, 1), 0.3), np.zeros((64, 3)), 8.0, 30., 60.)
    >>> curve.correction_ms(50.0), curve.sigma_ms(50.0)
    (1.0, 0.3)
    """

    correction: FloatArray
    root: FloatArray = field(repr=False)
    shared: FloatArray = field(repr=False)
    dof: float
    low_ms: float
    high_ms: float

    def __post_init__(self) -> None:
        """Check that the arrays belong together."""
        knots = len(KNOTS_MS)
        if self.correction.shape != (knots,) or len(self.root) != knots or (
            self.shared.shape != (knots, 3)
        ):
            raise InputError(
                f"correction, root and shared must have a row for each of {knots} knots; got "
                f"{self.correction.shape}, {self.root.shape} and {self.shared.shape}"
            )

    def correction_ms(self, indicated_ms: ArrayLike) -> FloatOrArray:
        """Correction [m/s] at indicated airspeeds [m/s] (0 to 340, any shape)."""
        return as_result(self._between(_airspeed(indicated_ms), self.correction))

    def sigma_ms(self, indicated_ms: ArrayLike) -> FloatOrArray:
        """One sigma of the correction [m/s] at indicated airspeeds [m/s], all its parts."""
        indicated = _airspeed(indicated_ms)
        parts = [self._between(indicated, column) for column in self._all.T]
        return as_result(np.sqrt(np.sum(np.square(parts), axis=0)))

    def band_ms(self, indicated_ms: ArrayLike) -> FloatOrArray:
        """Half-width [m/s] of the band that holds the whole curve over the flown range with 95 %.

        Outside of the flown range it is as many sigmas wide, and no longer a promise.
        """
        return as_result(self.band_factor * np.asarray(self.sigma_ms(indicated_ms)))

    @cached_property
    def band_factor(self) -> float:
        """Sigmas [-] that hold all of the flown range at once with 95 %.

        The 95 % point of the largest standardised deviation over the flown range, of a
        multivariate t distribution with the covariance of the curve, by draws with a fixed seed.
        """
        flown = np.linspace(self.low_ms, self.high_ms, 24)
        parts = np.array([self._between(flown, column) for column in self._all.T])
        sigma = np.sqrt(np.sum(parts**2, axis=0))
        random = np.random.default_rng(_BAND_SEED)
        normals = random.standard_normal((_BAND_DRAWS, len(parts)))
        largest = np.max(np.abs(normals @ (parts / sigma)), axis=1)
        wide = np.sqrt((self.dof - 2) / random.chisquare(self.dof, _BAND_DRAWS))
        return float(np.quantile(largest * wide, 0.95))

    def deviations_ms(
        self, indicated_ms: ArrayLike, normals: ArrayLike, shared: ArrayLike
    ) -> FloatArray:
        """Deviations of the correction under draws.

        Parameters
        ----------
        indicated_ms : array_like, shape (points,)
            Indicated airspeed [m/s], 0 to 340.
        normals : array_like, shape (draws, parts)
            Standard normal draws [-], one column for each of `root`.
        shared : array_like, shape (draws, 3)
            The draws of temperature probe, pressure altitude and recovery factor [-], of unit
            variance, that all else uses, so that an error of the probe is not counted twice.

        Returns
        -------
        ndarray, shape (draws, points)
            Deviations [m/s].

        Raises
        ------
        InputError
            An airspeed is out of range.
        """
        indicated = _airspeed(indicated_ms)
        parts = np.array([self._between(indicated, column) for column in self._all.T])
        together = np.hstack([np.asarray(normals, dtype=float), np.asarray(shared, dtype=float)])
        deviations: FloatArray = together @ parts
        return deviations

    @cached_property
    def _all(self) -> FloatArray:
        return np.hstack([self.root, self.shared])

    def _between(self, indicated: FloatArray, at_knots: FloatArray) -> FloatArray:
        found = np.interp(indicated, KNOTS_MS, at_knots)
        result: FloatArray = np.where(np.isfinite(indicated), found, np.nan)
        return result
