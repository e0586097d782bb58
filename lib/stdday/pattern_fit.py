"""One airspeed curve and one wind a pattern from all calibration legs together.

Unknown are the correction curve, a wind for each pattern that may wander in time, and whatever
shifts the curve (a configuration, power).  The size of the noise of a leg, of the curve's departure
from a straight line, its length and the wander of the wind are not assumed: all pairs of values of
a grid are tried, and their answers weighted by how well they foresee the legs.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from stdday._arrays import FloatArray
from stdday.pattern_legs import IntArray, LegArrays, LinearLegs, check_legs, linear_legs
from stdday.position_error import KNOTS_MS, departure_correlation, prior_covariance

__all__ = ["PatternFit", "fit_patterns"]

_KT = 1852 / 3600
#: Grid of what is not known beforehand: noise of a leg's airspeed [m/s] (gusts, reading, GPS),
#: departure of the curve from offset and scale [m/s] and its length in ln V [-], wander of the
#: wind [m/s per root of ten minutes].
_NOISES = _KT * 0.2 * 1.5 ** np.arange(8)
_DEPARTURES = _KT * np.array([0.3, 0.6, 1.2, 2.0])
_LENGTHS = (0.12, 0.25, 0.6)
_WANDERS = _KT * np.array([0.2, 0.7, 2.0])
_WANDER_TIME_S = 600.0
#: Belief in the noise of a leg before flying: about this [m/s], within this factor (ln) [-]. Common
#: practice for hand-flown legs in smooth to lightly turbulent air.
_NOISE_MS, _NOISE_FACTOR = 0.8 * _KT, 0.8
#: One sigma of a wind component before flying [m/s]: nothing known.
_WIND_MS = 20.0
#: Degrees of freedom of the noise of a leg [-]: now and then one is far off. Common practice.
_TAILS_DOF = 4.0
#: Legs from which on outlying ones can be told [-].
_LEAST_FOR_OUTLYING = 6
_ITERATIONS = 5
_ROUNDS = 5
_MOST_DOF = 200.0
#: Grid points of less weight than this share of the best are left out [-].
_NEGLIGIBLE = 1e-3
#: Covariances of so many cells are in memory at once [-].
_CELLS_AT_ONCE = 200_000
#: Parts of the covariance smaller than this share of the largest are left out [-].
_NEGLIGIBLE_PART = 1e-6


@dataclass(frozen=True)
class PatternFit:
    """What all legs together say.

    Parameters
    ----------
    correction : ndarray, shape (knots + extras,)
        Correction at the knots, then the shift of each extra column [m/s].
    covariance : ndarray, shape (knots + extras, knots + extras)
        Its covariance [m^2/s^2].
    probe_ms_k, pressure_ms_pa, recovery_ms : ndarray, shape (knots + extras,)
        Change of it with the temperature of all legs [m/s/K], with their pressure [m/s/Pa], and
        with the recovery factor of the probe [m/s].
    dof : float
        Degrees of freedom of the covariance [-].
    low_ms, high_ms : float
        Least and greatest indicated airspeed of the legs [m/s].
    noise_ms : float
        Noise of a leg [m/s].
    wind_ms : ndarray, shape (patterns, 2)
        Velocity of the air, east and north, at the mean time of each pattern [m/s].
    wind_covariance : ndarray, shape (patterns, 2, 2)
        Its covariance [m^2/s^2].
    drift_ms : ndarray, shape (patterns, 2)
        Change of it from the first leg to the last [m/s].
    heading_rad : ndarray, shape (legs,)
        Heading of each leg [rad]; NaN for a direct one.
    residual_ms, left_out_ms, left_out_sigma_ms : ndarray, shape (legs,)
        Calibrated airspeed of the leg less that of the fit [m/s]; less that of the fit without the
        leg, and one sigma of that.
    weight : ndarray, shape (legs,)
        Weight of each leg [-], far less than 1 where it lies far from what the others say.
    """

    correction: FloatArray
    covariance: FloatArray = field(repr=False)
    probe_ms_k: FloatArray = field(repr=False)
    pressure_ms_pa: FloatArray = field(repr=False)
    recovery_ms: FloatArray = field(repr=False)
    dof: float
    low_ms: float
    high_ms: float
    noise_ms: float
    wind_ms: FloatArray
    wind_covariance: FloatArray
    drift_ms: FloatArray
    heading_rad: FloatArray
    residual_ms: FloatArray
    left_out_ms: FloatArray
    left_out_sigma_ms: FloatArray
    weight: FloatArray

    @cached_property
    def root(self) -> FloatArray:
        """Root of the covariance, (knots + extras, parts) [m/s], negligible parts left out."""
        values, vectors = np.linalg.eigh(self.covariance)
        kept = values > _NEGLIGIBLE_PART * values[-1]
        root: FloatArray = vectors[:, kept] * np.sqrt(values[kept])
        return root


def fit_patterns(legs: LegArrays) -> PatternFit:
    """Fit one curve and one wind a pattern to all legs.

    Parameters
    ----------
    legs : LegArrays
        The legs; patterns whose headings do not carry a wind left out.

    Returns
    -------
    PatternFit

    Raises
    ------
    InputError
        Without legs, or with a leg that lacks what it needs.

    Notes
    -----
    |ground velocity - wind| = true airspeed(indicated + correction, pressure, temperature), with
    compressibility, linearised anew until it stands still (Gauss-Newton).  Linear Gaussian model
    under each point of the grid, marginal likelihood as its weight: Rasmussen and Williams (2006),
    eq. 2.30.  The average of the answers is told by its mean and covariance; degrees of freedom
    are those of the t distribution whose fourth moment it has.

    Examples
    --------
    >>> heading, one = np.radians([0.0, 90, 180, 270]), np.ones(4)
    >>> legs = LegArrays(
    ...     50 * one, 101325 * one, 288.15 * one, 51 * np.sin(heading) + 4, 51 * np.cos(heading),
    ...     np.nan * one, np.nan * one, np.zeros(4, dtype=int), 90.0 * np.arange(4),
    ...     0 * one, 0 * one, np.nan * one, np.empty((4, 0)), np.empty(0))
    >>> fit = fit_patterns(legs)
    >>> float(np.interp(50.0, KNOTS_MS, fit.correction).round(1)), fit.wind_ms.round(1).tolist()
    (1.0, [[4.0, 0.0]])
    """
    check_legs(legs)
    weight = np.ones(len(legs.indicated_ms))
    line = _settled(legs)
    answer = _answers(line, _terms(legs, line, weight), _GRID, _BELIEF)
    for _ in range(_ROUNDS):
        if len(weight) >= _LEAST_FOR_OUTLYING:
            weight = _weights(answer, weight)
        line = linear_legs(legs, *_at_legs(legs, line, answer))
        answer = _answers(line, _terms(legs, line, weight), _GRID, _BELIEF)
    return _result(legs, line, answer, weight)


@dataclass(frozen=True)
class _Terms:
    """Parts of the covariance of the rows, each (rows, rows), for unit size of the unknowns."""

    known: FloatArray
    departures: FloatArray  # (lengths, rows, rows)
    wander: FloatArray
    noise: FloatArray  # (rows,)


def _terms(legs: LegArrays, line: LinearLegs, weight: FloatArray) -> _Terms:
    speed, leg = legs.indicated_ms[line.leg], line.leg
    curve = np.outer(line.curve, line.curve)
    same = (legs.pattern[leg][:, None] == legs.pattern[leg][None, :]).astype(float)
    winds = same * (line.wind @ line.wind.T)
    extra = legs.extra[leg] * legs.extra_sigma_ms
    common = legs.pattern_sigma_ms[leg]
    own = np.where(line.curve > 0, legs.known_sigma_ms[leg], legs.across_sigma_ms[leg])
    known = (
        curve * (prior_covariance(speed, speed) + extra @ extra.T
                 + same * np.outer(common, common))
        + _WIND_MS**2 * winds
        + np.diag(own**2)
    )
    time = legs.time_s[leg] / _WANDER_TIME_S
    return _Terms(
        known=known,
        departures=np.array([curve * departure_correlation(speed, speed, one)
                             for one in _LENGTHS]),
        wander=winds * np.minimum(time[:, None], time[None, :]),
        noise=line.curve / weight[leg],
    )


@dataclass(frozen=True)
class _Answer:
    """Points of the grid that count, with their share and what each makes of the rows."""

    share: FloatArray  # (kept,)
    grid: FloatArray  # (kept, 4): noise, departure, place of length, wander
    inverse: FloatArray  # (kept, rows, rows): inverse covariance
    solved: FloatArray  # (kept, rows): that times y


def _grid() -> tuple[FloatArray, FloatArray]:
    """Points of the grid, and the belief in each before flying (logarithm)."""
    places = np.arange(len(_LENGTHS), dtype=float)
    mesh = np.meshgrid(_NOISES, _DEPARTURES, places, _WANDERS, indexing="ij")
    grid = np.stack([one.ravel() for one in mesh], axis=1)
    return grid, -0.5 * (np.log(grid[:, 0] / _NOISE_MS) / _NOISE_FACTOR) ** 2


_GRID, _BELIEF = _grid()
#: Point of the grid that the first linearisations take.
_MIDDLE = np.array([[_NOISE_MS, _DEPARTURES[1], 1.0, _WANDERS[1]]])


def _answers(line: LinearLegs, terms: _Terms, grid: FloatArray, belief: FloatArray) -> _Answer:
    step = max(1, _CELLS_AT_ONCE // len(line.y) ** 2)
    parts = [grid[start : start + step] for start in range(0, len(grid), step)]
    logarithm = belief + np.concatenate([_likelihood(line, terms, part) for part in parts])
    share = np.exp(logarithm - logarithm.max())
    kept = share > _NEGLIGIBLE
    inverse = np.asarray(np.linalg.inv(_covariances(terms, grid[kept])), dtype=float)
    return _Answer(share[kept] / share[kept].sum(), grid[kept], inverse, inverse @ line.y)


def _covariances(terms: _Terms, grid: FloatArray) -> FloatArray:
    """Covariance of the rows under points of the grid, (points, rows, rows)."""
    noise, departure, length, wander = (column[:, None, None] for column in grid.T)
    covariances: FloatArray = (
        terms.known
        + departure**2 * terms.departures[length[:, 0, 0].astype(int)]
        + wander**2 * terms.wander
        + noise**2 * np.diag(terms.noise)
    )
    return covariances


def _likelihood(line: LinearLegs, terms: _Terms, grid: FloatArray) -> FloatArray:
    """Logarithm of the marginal likelihood of points of the grid, but for a constant."""
    lower = np.linalg.cholesky(_covariances(terms, grid))
    half = np.linalg.solve(lower, np.broadcast_to(line.y[:, None], (len(grid), len(line.y), 1)))
    size = np.sum(np.log(np.diagonal(lower, axis1=1, axis2=2)), axis=1)
    found: FloatArray = -0.5 * np.sum(half[..., 0] ** 2, axis=1) - size
    return found


def _curve_rows(
    legs: LegArrays, line: LinearLegs, grid: FloatArray, at_ms: FloatArray
) -> FloatArray:
    """Covariance of the curve at airspeeds with the rows, (kept, airspeeds, rows)."""
    speed = legs.indicated_ms[line.leg]
    straight = prior_covariance(at_ms, speed)
    bent = np.array([departure_correlation(at_ms, speed, one) for one in _LENGTHS])
    rows: FloatArray = line.curve * (
        straight + grid[:, 1, None, None] ** 2 * bent[grid[:, 2].astype(int)]
    )
    return rows


def _extra_rows(legs: LegArrays, line: LinearLegs) -> FloatArray:
    """Covariance of the shifts with the rows, (extras, rows)."""
    rows: FloatArray = line.curve * (legs.extra[line.leg] * legs.extra_sigma_ms**2).T
    return rows


def _wind_rows(legs: LegArrays, line: LinearLegs, grid: FloatArray, pattern: IntArray,
               time_s: FloatArray) -> FloatArray:
    """Covariance of winds of patterns at times with the rows, (kept, winds, 2, rows)."""
    same = pattern[:, None] == legs.pattern[line.leg][None, :]
    shared = np.minimum(time_s[:, None], legs.time_s[line.leg][None, :]) / _WANDER_TIME_S
    size = same * (_WIND_MS**2 + grid[:, 3, None, None] ** 2 * shared)
    rows: FloatArray = size[:, :, None, :] * line.wind.T
    return rows


def _at_legs(legs: LegArrays, line: LinearLegs, answer: _Answer) -> tuple[FloatArray, FloatArray]:
    """Correction and wind at each leg, to linearise about."""
    curve = _curve_rows(legs, line, answer.grid, legs.indicated_ms)
    curve = curve + legs.extra @ _extra_rows(legs, line)
    wind = _wind_rows(legs, line, answer.grid, legs.pattern, legs.time_s)
    weighted = answer.share[:, None] * answer.solved
    return (
        np.einsum("hgr,hr->g", curve, weighted),
        np.einsum("hpcr,hr->pc", wind, weighted),
    )


def _settled(legs: LegArrays) -> LinearLegs:
    """Linearise until it stands still, from the mean ground velocity of each pattern on."""
    wind = np.zeros((len(legs.pattern), 2))
    for pattern in np.unique(legs.pattern):
        own = legs.pattern == pattern
        middle = legs.ground_east_ms[own].mean(), legs.ground_north_ms[own].mean()
        wind[own] = np.nan_to_num(middle)
    line = linear_legs(legs, np.zeros(len(wind)), wind)
    everything = np.ones(len(wind))
    for _ in range(_ITERATIONS):
        answer = _answers(line, _terms(legs, line, everything), _MIDDLE, np.zeros(1))
        line = linear_legs(legs, *_at_legs(legs, line, answer))
    return line


def _left_out(answer: _Answer, legs: int) -> tuple[FloatArray, FloatArray]:
    """Each leg less what all others say, and its sigma."""
    diagonal = np.diagonal(answer.inverse, axis1=1, axis2=2)[:, :legs]
    off = answer.share @ (answer.solved[:, :legs] / diagonal)
    return off, np.sqrt(answer.share @ (1 / diagonal))


def _weights(answer: _Answer, weight: FloatArray) -> FloatArray:
    """Weight of each leg under noise with a t distribution: far from the others, little."""
    legs = len(weight)
    noise = answer.grid[:, :1] ** 2
    mean = noise / weight * answer.solved[:, :legs]
    inverse = np.diagonal(answer.inverse, axis1=1, axis2=2)[:, :legs]
    square = mean**2 + noise / weight * (1 - noise / weight * inverse)
    return (_TAILS_DOF + 1) / (_TAILS_DOF + answer.share @ (square / noise))


def _result(legs: LegArrays, line: LinearLegs, answer: _Answer, weight: FloatArray) -> PatternFit:
    count = len(legs.indicated_ms)
    correction, covariance, dof, responses = _curve_answer(legs, line, answer)
    off, sigma = _left_out(answer, count)
    size = answer.grid[:, :1] ** 2 / weight + legs.known_sigma_ms**2
    winds, wind_covariance, drift = _wind_answer(legs, line, answer)
    return PatternFit(
        correction=correction,
        covariance=covariance,
        probe_ms_k=responses[0],
        pressure_ms_pa=responses[1],
        recovery_ms=responses[2],
        dof=dof,
        low_ms=float(legs.indicated_ms.min()),
        high_ms=float(legs.indicated_ms.max()),
        noise_ms=float(np.sqrt(answer.share @ answer.grid[:, 0] ** 2)),
        wind_ms=winds,
        wind_covariance=wind_covariance,
        drift_ms=drift,
        heading_rad=line.heading_rad,
        residual_ms=answer.share @ (size * answer.solved[:, :count]),
        left_out_ms=off,
        left_out_sigma_ms=sigma,
        weight=weight,
    )


def _curve_answer(
    legs: LegArrays, line: LinearLegs, answer: _Answer
) -> tuple[FloatArray, FloatArray, float, list[FloatArray]]:
    knots, extras = len(KNOTS_MS), len(legs.extra_sigma_ms)
    rows = np.concatenate(
        [
            _curve_rows(legs, line, answer.grid, KNOTS_MS),
            np.broadcast_to(_extra_rows(legs, line), (len(answer.grid), extras, len(line.y))),
        ],
        axis=1,
    )
    prior = np.zeros((len(answer.grid), knots + extras, knots + extras))
    bent = np.array([departure_correlation(KNOTS_MS, KNOTS_MS, one) for one in _LENGTHS])
    prior[:, :knots, :knots] = (
        prior_covariance(KNOTS_MS, KNOTS_MS)
        + answer.grid[:, 1, None, None] ** 2 * bent[answer.grid[:, 2].astype(int)]
    )
    prior[:, knots:, knots:] = np.diag(legs.extra_sigma_ms**2)
    gain = rows @ answer.inverse
    means = np.einsum("hgr,r->hg", gain, line.y)
    each = prior - gain @ np.swapaxes(rows, 1, 2)
    mean = answer.share @ means
    apart = means - mean
    covariance = np.einsum("h,hij->ij", answer.share, each) + np.einsum(
        "h,hi,hj->ij", answer.share, apart, apart
    )
    warmer = np.broadcast_to(legs.recovery_k, legs.indicated_ms.shape)[line.leg]
    responses = [np.einsum("h,hgr,r->g", answer.share, gain, one)
                 for one in (line.probe, line.pressure, line.probe * warmer)]
    return mean, covariance, _dof(legs, answer.share, each), responses


def _dof(legs: LegArrays, share: FloatArray, each: FloatArray) -> float:
    """Degrees of freedom whose fourth moment the average of normal distributions has."""
    speeds = legs.indicated_ms
    knots = KNOTS_MS
    flown = (knots > 0.95 * speeds.min()) & (knots < 1.05 * speeds.max())
    sizes = np.diagonal(each, axis1=1, axis2=2)[:, : len(KNOTS_MS)][:, flown].mean(axis=1)
    mean = share @ sizes
    spread = share @ (sizes - mean) ** 2
    return float(min(4 + 2 * mean**2 / max(spread, 1e-12 * mean**2), _MOST_DOF))


def _wind_answer(
    legs: LegArrays, line: LinearLegs, answer: _Answer
) -> tuple[FloatArray, FloatArray, FloatArray]:
    patterns = np.unique(legs.pattern)
    last = np.array([legs.time_s[legs.pattern == one].max() for one in patterns])
    middle = np.array([legs.time_s[legs.pattern == one].mean() for one in patterns])
    weighted = answer.share[:, None] * answer.solved
    rows = {
        name: _wind_rows(legs, line, answer.grid, patterns, time)
        for name, time in (("first", 0 * last), ("middle", middle), ("last", last))
    }
    means = {name: np.einsum("hpcr,hr->pc", one, weighted) for name, one in rows.items()}
    prior = _WIND_MS**2 + answer.grid[:, 3:] ** 2 * middle / _WANDER_TIME_S
    gain = np.einsum("hpcr,hrs->hpcs", rows["middle"], answer.inverse)
    taken = np.einsum("hpcs,hpds->hpcd", gain, rows["middle"])
    each = prior[:, :, None, None] * np.eye(2) - taken
    return (
        means["middle"],
        np.einsum("h,hpcd->pcd", answer.share, each),
        means["last"] - means["first"],
    )
