"""Acceleration of a ground roll as a smooth function of ground speed, from its recording."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from stdday.signals import Trace

__all__ = ["ROLL_COLUMNS", "roll_columns"]

FloatArray = NDArray[np.float64]

#: Columns of the fit: coefficients of ``a = a0 + a1 v + a2 v^2``, their covariance, scatter of the
#: ground speed around the fit, samples used, least and greatest ground speed among them, and ground
#: speed at lift-off by the samples of the roll alone, which no climb bends.
ROLL_COLUMNS = (
    "roll_a0_ms2",
    "roll_a1_per_s",
    "roll_a2_per_m",
    "roll_var_a0",
    "roll_var_a1",
    "roll_var_a2",
    "roll_cov_a0_a1",
    "roll_cov_a0_a2",
    "roll_cov_a1_a2",
    "roll_scatter_ms",
    "roll_samples",
    "roll_slowest_ms",
    "roll_fastest_ms",
    "roll_liftoff_ms",
)

#: Samples before this time after brake release are left out [s]: power still comes up, and some
#: receivers hold their speed at zero.
SETTLE_S = 1.0
#: Fewest samples for a fit [-].
LEAST_SAMPLES = 6
#: Least share of the lift-off ground speed that the samples must span [-].
LEAST_SPAN = 0.5
#: Longest hole in the samples, as a share of the roll's time [-].
LONGEST_HOLE = 0.3
#: Noise of a receiver's ground speed that a fit of few samples may not go below [m/s].
LEAST_NOISE_MS = 0.05
#: What is known of the shape of any propeller airplane's roll before it is measured, mean and one
#: sigma: fall of acceleration with speed [1/s], and its bend [1/m]. Wide; common practice.
PRIOR_A1, PRIOR_A1_SIGMA = -0.03, 0.04
PRIOR_A2, PRIOR_A2_SIGMA = 0.0, 0.001
#: Residuals beyond this many scatters lose weight [-] (Huber).
FAR = 2.0


def roll_columns(trace: Trace, release_s: float, liftoff_s: float) -> dict[str, float]:
    """Fit the acceleration over the ground of one take-off roll.

    Parameters
    ----------
    trace : Trace
        Recording with ``ground_speed``.
    release_s, liftoff_s : float
        Brake release and lift-off [s].

    Returns
    -------
    dict of str to float
        One entry for each of `ROLL_COLUMNS`, SI; NaN where the samples do not carry a fit.

    Notes
    -----
    Integrating ``dv/dt = a0 + a1 v + a2 v^2`` once gives ``v = c + a0 t + a1 s + a2 q`` with s the
    distance and q the integral of v^2: linear in what is sought, and without a derivative of noise.
    The constant c takes up a delay of the receiver, which leaves acceleration against speed as it
    is. Repeated values of a slower receiver are left out; single wrong samples lose their weight.
    """
    nothing = dict.fromkeys(ROLL_COLUMNS, float("nan"))
    if not (np.isfinite(release_s) and np.isfinite(liftoff_s)) or liftoff_s <= release_s:
        return nothing
    time, speed = _samples(trace, release_s, liftoff_s)
    if not _carries(time, speed, release_s, liftoff_s):
        return nothing
    solution, covariance, scatter, last = _fit(time - time[0], speed)
    rate = float(solution[1] + last * (solution[2] + last * solution[3]))
    return dict(
        zip(
            ROLL_COLUMNS,
            [
                *solution[1:],
                *np.diag(covariance)[1:],
                covariance[1, 2],
                covariance[1, 3],
                covariance[2, 3],
                scatter,
                float(len(time)),
                float(speed.min()),
                float(speed.max()),
                last + rate * (liftoff_s - float(time[-1])),
            ],
            strict=True,
        )
    )


def _samples(trace: Trace, release_s: float, liftoff_s: float) -> tuple[FloatArray, FloatArray]:
    """Times and ground speeds of the roll, each new value once."""
    part = trace.between(release_s + SETTLE_S, liftoff_s)
    time, speed = trace.time_s[part], trace.raw("ground_speed")[part]
    known = np.isfinite(speed) & (speed > 0)
    time, speed = time[known], speed[known]
    new = np.concatenate(([True], (np.diff(speed) != 0) & (np.diff(time) > 0)))[: len(time)]
    return time[new], speed[new]


def _carries(time: FloatArray, speed: FloatArray, release_s: float, liftoff_s: float) -> bool:
    """Whether the samples are enough, span the roll and leave no long hole in it."""
    if len(time) < LEAST_SAMPLES:
        return False
    edges = np.concatenate(([release_s + SETTLE_S], time, [liftoff_s]))
    hole = float(np.diff(edges).max())
    return bool(
        np.ptp(speed) >= LEAST_SPAN * speed.max()
        and hole <= LONGEST_HOLE * (liftoff_s - release_s)
    )


def _fit(time: FloatArray, speed: FloatArray) -> tuple[FloatArray, FloatArray, float, float]:
    """Coefficients c, a0, a1, a2, covariance, scatter of speed, fitted speed at the last sample."""
    step = np.diff(time)
    distance = np.concatenate(([0.0], np.cumsum(step * (speed[1:] + speed[:-1]) / 2)))
    squares = (speed[1:] ** 2 + speed[1:] * speed[:-1] + speed[:-1] ** 2) / 3
    bend = np.concatenate(([0.0], np.cumsum(step * squares)))
    # Unknowns in units of the roll itself, so that the normal matrix can be inverted.
    size = np.array([1.0, time[-1], time[-1] * speed.max(), time[-1] * speed.max() ** 2])
    design = np.column_stack([np.ones_like(time), time, distance, bend]) / size
    prior = np.diag([0.0, 0.0, (size[2] * PRIOR_A1_SIGMA) ** -2, (size[3] * PRIOR_A2_SIGMA) ** -2])
    pull = prior @ (size * np.array([0.0, 0.0, PRIOR_A1, PRIOR_A2]))
    weight, noise = np.ones_like(time), 0.2
    for _ in range(8):
        normal = (design.T * weight) @ design / noise**2 + prior
        covariance = np.linalg.inv(normal)
        solution = covariance @ (design.T @ (weight * speed) / noise**2 + pull)
        residual = speed - design @ solution
        # Lost freedom is at most that of the four coefficients.
        spread = 1.483 * float(np.median(np.abs(residual)))
        noise = max(spread * np.sqrt(len(time) / (len(time) - 4)), LEAST_NOISE_MS)
        weight = np.minimum(1.0, FAR * noise / np.maximum(np.abs(residual), 1e-12))
    last = float(design[-1] @ solution)
    return solution / size, covariance / np.outer(size, size), float(noise), last
