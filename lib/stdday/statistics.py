"""Intervals, tests and fits whose unit of repetition is the flight.

One rule makes every interval of the workbook: what repeated flights show (a Student t with the
standard error of the flight means) is convolved with what they cannot show (draws of the errors
that all flights share).  `Estimate` is that pair, and everything printed is read from it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize, sparse, special

from stdday.errors import InputError

__all__ = ["ClusterFit", "Estimate", "cluster_fit", "holm", "pooled_scatter", "welch_dof"]

FloatArray = NDArray[np.float64]


#: A quantile is found within this share of the standard error [-]; where that is as wide as the
#: draws scatter, in so many steps at most [-] from the quantile of so few of them [-].
_CLOSE, _STEPS, _FEW = 1e-7, 8, 50


@dataclass(frozen=True)
class Estimate:
    """What is known of one number: a value, its flight-to-flight error, and its shared errors.

    Parameters
    ----------
    value : float
        The estimate, in the unit of the metric.
    standard_error : float
        Standard error that the scatter between flights gives, same unit; 0 where there is none.
    dof : float
        Degrees of freedom of `standard_error` [-]; infinite for an assumed scatter.
    deviations : ndarray, shape (draws,)
        Deviations from `value` under draws of the errors that scatter cannot show, same unit.

    Examples
    --------
    >>> known = Estimate(10.0, 1.0, 4.0, np.zeros(2))
    >>> [round(edge, 3) for edge in known.interval(0.95)]
    [7.224, 12.776]
    """

    value: float
    standard_error: float
    dof: float
    deviations: FloatArray = field(repr=False)
    _quantiles: dict[float, float] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def below(self, edge: float) -> float:
        """Probability that the number is below `edge` (same unit as the value) [-]."""
        offsets = edge - self.value - self.deviations
        if self.standard_error <= 0:
            return float(np.mean(offsets > 0))
        scaled = offsets / self.standard_error
        cdf = special.ndtr(scaled) if np.isinf(self.dof) else special.stdtr(self.dof, scaled)
        return float(np.mean(cdf))

    def quantile(self, probability: float) -> float:
        """Value that the number is below with the given probability (0 to 1, open)."""
        if probability not in self._quantiles:
            self._quantiles[probability] = self._quantile(probability)
        return self._quantiles[probability]

    def _quantile(self, probability: float) -> float:
        if self.standard_error <= 0:
            return float(self.value + np.quantile(self.deviations, probability))
        smooth = self.standard_error > 0.5 * np.std(self.deviations)
        if not smooth or len(self.deviations) < 10 * _FEW:
            return self._searched(probability)
        every = len(self.deviations) // _FEW
        few = replace(self, deviations=np.sort(self.deviations)[every // 2 :: every])
        edge, near = few._searched(probability), 0.05 * self.standard_error
        slope = (few.below(edge + near) - few.below(edge - near)) / (2 * near)    # above zero
        for _ in range(_STEPS):
            move = (self.below(edge) - probability) / slope
            edge -= move
            if abs(move) < _CLOSE * self.standard_error:
                return edge
        return self._searched(probability)

    def _searched(self, probability: float) -> float:
        """Search between edges that surely lie on both sides."""
        low, high = np.min(self.deviations), np.max(self.deviations)
        tail = min(probability, 1 - probability)
        edge = special.ndtri(tail) if np.isinf(self.dof) else special.stdtrit(self.dof, tail)
        reach = abs(float(edge)) * self.standard_error * 1.01
        return float(
            optimize.brentq(
                lambda place: self.below(place) - probability,
                self.value + low - reach,
                self.value + high + reach,
                xtol=_CLOSE * self.standard_error,
            )
        )

    def interval(self, level: float = 0.95) -> tuple[float, float]:
        """Two-sided interval at `level` (0 to 1), equal tails, in the unit of the value."""
        if not 0 < level < 1:
            raise InputError(
                f"level [-] must be between 0 and 1; got {level} (write 0.95 for 95 %)"
            )
        tail = (1 - level) / 2
        return self.quantile(tail), self.quantile(1 - tail)

    def p_zero(self) -> float:
        """Two-sided p value of the hypothesis that the number is zero [-]."""
        below = self.below(0.0)
        return min(1.0, 2 * min(below, 1 - below))

    def shared_sigma(self) -> float:
        """Return the root mean square of the deviations, in the unit of the value."""
        return float(np.sqrt(np.mean(self.deviations**2)))

    def minus(self, other: Estimate, standard_error: float, dof: float) -> Estimate:
        """Difference of two numbers whose shared errors are paired draw by draw.

        Parameters
        ----------
        other : Estimate
            The number taken away, with as many deviations.
        standard_error : float
            Standard error of the difference from flight scatter, same unit.
        dof : float
            Its degrees of freedom [-].
        """
        return Estimate(
            self.value - other.value, standard_error, dof, self.deviations - other.deviations
        )


def pooled_scatter(groups: Sequence[ArrayLike]) -> tuple[float, float]:
    """Standard deviation between flights, pooled over the configurations of one airplane.

    Parameters
    ----------
    groups : sequence of array_like, each shape (flights,)
        Flight means of each configuration, any one unit.

    Returns
    -------
    sd : float
        Pooled standard deviation, same unit; NaN where no group has two flights.
    dof : float
        Degrees of freedom [-].

    Raises
    ------
    InputError
        Where a group holds a missing value.

    Notes
    -----
    NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.5.3.

    Examples
    --------
    >>> sd, dof = pooled_scatter([[1.0, 3.0], [2.0, 4.0, 6.0]])
    >>> round(sd, 4), dof
    (1.8257, 3.0)
    """
    total, dof = 0.0, 0
    for place, group in enumerate(groups):
        values = np.asarray(group, dtype=float)
        if not np.all(np.isfinite(values)):
            raise InputError(
                f"groups must hold finite flight means; got a missing one in group {place} "
                "(leave flights without a value out)"
            )
        if values.size > 1:
            total += float(np.sum((values - values.mean()) ** 2))
            dof += values.size - 1
    return (float(np.sqrt(total / dof)) if dof else float("nan")), float(dof)


def welch_dof(variances: Sequence[float], dofs: Sequence[float]) -> float:
    """Welch-Satterthwaite degrees of freedom of a sum of independent variances.

    Parameters
    ----------
    variances : sequence of float
        Variance that each part adds to the result, any one unit squared.
    dofs : sequence of float
        Degrees of freedom of each [-]; infinite is allowed.

    Returns
    -------
    float
        Effective degrees of freedom [-]; infinite where nothing is estimated.

    Raises
    ------
    InputError
        Where a degree of freedom is not positive.

    Notes
    -----
    JCGM 100:2008, equation G.2b.

    Examples
    --------
    >>> welch_dof([1.0, 1.0], [4.0, 4.0])
    8.0
    """
    if any(not dof > 0 for dof in dofs):
        raise InputError(f"dofs [-] must be positive; got {list(dofs)} (two flights give one)")
    total = float(sum(variances))
    spread = sum(v**2 / dof for v, dof in zip(variances, dofs, strict=True))
    return total**2 / spread if spread > 0 else float("inf")


def holm(p_values: ArrayLike) -> FloatArray:
    """Adjust p values for their number by Holm's step-down rule.

    Parameters
    ----------
    p_values : array_like, shape (claims,)
        Two-sided p values [-], 0 to 1.

    Returns
    -------
    ndarray, shape (claims,)
        Adjusted p values [-], in the order given.

    Raises
    ------
    InputError
        Where a p value is outside 0 to 1.

    Notes
    -----
    S. Holm, Scandinavian Journal of Statistics 6 (1979) 65.

    Examples
    --------
    >>> holm([0.01, 0.04, 0.03]).tolist()
    [0.03, 0.06, 0.06]
    """
    p = np.asarray(p_values, dtype=float)
    if p.size and not (np.all(p >= 0) and np.all(p <= 1)):
        raise InputError(f"p_values [-] must be between 0 and 1; got {p.tolist()}")
    order = np.argsort(p, kind="stable")
    stepped = np.maximum.accumulate(p[order] * np.arange(p.size, 0, -1))
    adjusted = np.empty_like(p)
    adjusted[order] = np.minimum(stepped, 1.0)
    return adjusted


@dataclass(frozen=True)
class ClusterFit:
    """A weighted linear fit whose points come in flights.

    Parameters
    ----------
    coefficients : ndarray, shape (columns,)
        Fitted coefficients, in the units of the design.
    covariance : ndarray, shape (columns, columns)
        Cluster-robust (CR2) covariance.
    whitener : sparse array, shape (rows, rows)
        Matrix that was applied to the design and the response (robust weights and flight offsets),
        nothing outside of each flight's block.
    design : ndarray, shape (rows, columns)
        Whitened design.
    clusters : ndarray, shape (rows,)
        Flight of each row.
    weights : ndarray, shape (rows,)
        Robust weights [-], 1 where a point agrees with the fit.
    """

    coefficients: FloatArray
    covariance: FloatArray
    whitener: sparse.csr_array = field(repr=False)
    design: FloatArray = field(repr=False)
    clusters: NDArray[np.str_] = field(repr=False)
    weights: FloatArray = field(repr=False)

    @property
    def whitening(self) -> FloatArray:
        """`whitener` as a full array; it grows with the square of the rows."""
        full: FloatArray = self.whitener.toarray()
        return full

    def variance(self, gradient: ArrayLike) -> tuple[float, float]:
        """Variance of a linear combination of the coefficients, and its degrees of freedom.

        Parameters
        ----------
        gradient : array_like, shape (columns,)
            Weight of each coefficient.

        Returns
        -------
        variance : float
            CR2 variance, unit of the combination squared.
        dof : float
            Satterthwaite degrees of freedom [-] under independent rows.

        Raises
        ------
        InputError
            Where there is only one flight, which has no scatter between flights.

        Notes
        -----
        R. M. Bell and D. F. McCaffrey, Survey Methodology 28 (2002) 169.
        """
        if len(self._adjusted) < 2:
            raise InputError("clusters must name two flights at least; got one")
        g = np.asarray(gradient, dtype=float)
        own = np.array([adjusted @ g for adjusted, _, _ in self._adjusted])
        common = np.array([bread @ g for _, bread, _ in self._adjusted])
        crossed = own @ common.T
        gram = common @ (self.design.T @ self.design) @ common.T - crossed - crossed.T
        gram += np.diag([g @ square @ g for _, _, square in self._adjusted])
        dof = float(np.trace(gram) ** 2 / np.sum(gram**2))
        return float(g @ self.covariance @ g), dof

    @cached_property
    def _adjusted(self) -> list[tuple[FloatArray, FloatArray, FloatArray]]:
        """What CR2 makes of the residuals of each flight, for any gradient.

        With X the design, x the rows of a flight, B = (X'X)^-1 and R the inverse root of the
        flight's block of I - X B X', its column is u - X B x'u, where u = R x B is zero outside of
        the flight. Kept are x'u, B x'u and u'u, which are as small as the coefficients are few.
        """
        bread = np.linalg.inv(self.design.T @ self.design)
        found = []
        for name in np.unique(self.clusters):
            x = self.design[self.clusters == name]
            own = _inverse_root(np.eye(len(x)) - x @ bread @ x.T) @ x @ bread
            found.append((x.T @ own, bread @ x.T @ own, own.T @ own))
        return found


def _inverse_root(matrix: FloatArray) -> FloatArray:
    """Symmetric inverse square root of a positive semi-definite matrix (pseudo-inverse)."""
    values, vectors = np.linalg.eigh(matrix)
    safe = np.where(values > 1e-9, values, np.inf)
    result: FloatArray = (vectors / np.sqrt(safe)) @ vectors.T
    return result


def cluster_fit(
    design: ArrayLike,
    response: ArrayLike,
    clusters: Sequence[str],
    strata: Sequence[str] | None = None,
    tuning: float = 2.0,
) -> ClusterFit:
    """Fit a line of any number of columns to points that come in flights, robustly.

    One random offset a flight (and stratum) is estimated, points far from the fit get less weight
    (Huber), and the covariance is the cluster-robust CR2.  The response should be scaled so that
    its point noise is about the same everywhere.

    Parameters
    ----------
    design : array_like, shape (rows, columns)
        Design matrix; its unit times that of a coefficient is the unit of the response.
    response : array_like, shape (rows,)
        Measured response.
    clusters : sequence of str, length rows
        Flight of each row.
    strata : sequence of str, length rows, optional
        Equation of each row, where several responses are fitted together; each has its own
        scatter.  One stratum where not given.
    tuning : float
        Residual, in standard deviations [-], beyond which a point loses weight.

    Returns
    -------
    ClusterFit

    Raises
    ------
    InputError
        With fewer rows than columns plus one, missing values, or a design that does not span.

    Notes
    -----
    Huber weights: P. J. Huber, Annals of Mathematical Statistics 35 (1964) 73.  CR2: Bell and
    McCaffrey (2002).  One random offset a flight: one-way error components by moments.

    Examples
    --------
    >>> fit = cluster_fit([[1, 0], [1, 1], [1, 2], [1, 3]], [1, 3, 5, 7.1], ["a", "a", "b", "b"])
    >>> fit.coefficients.round(1).tolist()
    [1.0, 2.0]
    """
    x, y = np.asarray(design, dtype=float), np.asarray(response, dtype=float)
    names = np.asarray(clusters, dtype=str)
    layers = np.asarray(strata if strata is not None else [""] * len(y), dtype=str)
    _check_fit(x, y)
    groups = _groups(names, layers)
    weights = np.ones(len(y))
    whitening = sparse.eye_array(len(y), format="csr")
    coefficients = np.linalg.lstsq(x, y, rcond=None)[0]
    for _ in range(20):
        residual = y - x @ coefficients
        point, offset = _components(residual, groups)
        flight_part = _flight_part(residual, groups, point, offset)
        scaled = np.abs(residual - flight_part) / point
        weights = np.minimum(1.0, tuning / np.maximum(scaled, 1e-9))
        whitening = _whitening(weights, groups, point, offset)
        updated = np.linalg.lstsq(whitening @ x, whitening @ y, rcond=None)[0]
        change = np.max(np.abs(updated - coefficients) / (np.abs(updated) + 1e-300))
        coefficients = updated
        if change < 1e-10:
            break
    whitened = whitening @ x
    return ClusterFit(
        coefficients,
        _cr2(whitened, whitening @ y - whitened @ coefficients, names),
        whitening,
        whitened,
        names,
        weights,
    )


def _check_fit(x: FloatArray, y: FloatArray) -> None:
    if x.ndim != 2 or len(x) != len(y) or len(y) <= x.shape[1]:
        raise InputError(
            f"design must have one row a point and more points than columns; got shape {x.shape} "
            f"for {y.size} points (fly more points)"
        )
    if not (np.all(np.isfinite(x)) and np.all(np.isfinite(y))):
        raise InputError("design and response must be finite; leave points without a value out")
    scaled = x / np.linalg.norm(x, axis=0)
    if np.linalg.matrix_rank(scaled, tol=1e-8) < x.shape[1]:
        raise InputError(
            "design must span its columns; the points are all alike (fly other speeds or powers)"
        )


def _groups(names: NDArray[np.str_], layers: NDArray[np.str_]) -> list[list[NDArray[np.intp]]]:
    """Rows of each flight, stratum by stratum."""
    found = []
    for layer in np.unique(layers):
        rows = np.flatnonzero(layers == layer)
        order = rows[np.argsort(names[rows], kind="stable")]
        found.append(np.split(order, np.flatnonzero(names[order][1:] != names[order][:-1]) + 1))
    return found


def _median(values: FloatArray) -> float:
    """Median of a few finite values; `numpy.median` takes longer to begin than to find it."""
    ordered, half = np.sort(values), len(values) // 2
    return float(ordered[half] if len(values) % 2 else (ordered[half - 1] + ordered[half]) / 2)


def _components(
    residual: FloatArray, groups: list[list[NDArray[np.intp]]]
) -> tuple[FloatArray, FloatArray]:
    """Standard deviation of points and of flight offsets, row by row, by robust moments."""
    point, offset = np.empty(len(residual)), np.empty(len(residual))
    for layer in groups:
        sizes = [len(rows) for rows in layer]
        between = [_median(residual[rows]) for rows in layer]
        middles = zip(layer, between, strict=True)
        spread = np.concatenate([residual[rows] - middle for rows, middle in middles])
        inside = np.sort(np.concatenate(layer))
        free = max(1, len(spread) - len(sizes))
        total = float(np.sqrt(np.mean(residual[inside] ** 2)))
        scale = 1.4826 * float(np.median(np.abs(spread))) * np.sqrt(len(spread) / free)
        scale = max(scale, 0.1 * total, 1e-12)
        typical = len(sizes) / sum(1 / size for size in sizes)
        extra = float(np.mean(np.square(between))) - scale**2 / typical
        point[inside], offset[inside] = scale, np.sqrt(max(extra, 0.0))
    return point, offset


def _flight_part(
    residual: FloatArray,
    groups: list[list[NDArray[np.intp]]],
    point: FloatArray,
    offset: FloatArray,
) -> FloatArray:
    """Best prediction of each flight's offset, row by row (median shrunk to zero)."""
    part = np.zeros(len(residual))
    for rows in (rows for layer in groups for rows in layer):
        strength = offset[rows[0]] ** 2
        shrink = strength / (strength + point[rows[0]] ** 2 / len(rows))
        part[rows] = shrink * _median(residual[rows])
    return part


def _whitening(
    weights: FloatArray,
    groups: list[list[NDArray[np.intp]]],
    point: FloatArray,
    offset: FloatArray,
) -> sparse.csr_array:
    """Inverse Cholesky factor of the working covariance, block by block."""
    flights = [rows for layer in groups for rows in layer]
    values, places = [], []
    for size in sorted({len(rows) for rows in flights}):  # blocks of one size at once
        rows = np.array([own for own in flights if len(own) == size])
        diagonal = (point[rows] ** 2 / weights[rows])[:, :, None] * np.eye(size)
        blocks = diagonal + offset[rows[:, :1, None]] ** 2
        values.append(np.linalg.inv(np.linalg.cholesky(blocks)).ravel())
        places.append(np.stack([np.repeat(rows, size, axis=1).ravel(),
                                np.tile(rows, size).ravel()]))
    shape = (len(weights), len(weights))
    return sparse.csr_array((np.concatenate(values), np.concatenate(places, axis=1)), shape)


def _cr2(design: FloatArray, residual: FloatArray, names: NDArray[np.str_]) -> FloatArray:
    bread = np.linalg.inv(design.T @ design)
    middle = np.zeros_like(bread)
    for name in np.unique(names):
        rows = names == name
        hat = design[rows] @ bread @ design[rows].T
        score = design[rows].T @ _inverse_root(np.eye(rows.sum()) - hat) @ residual[rows]
        middle += np.outer(score, score)
    result: FloatArray = bread @ middle @ bread
    return result
