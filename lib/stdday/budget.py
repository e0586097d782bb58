"""The budget of an interval: which error makes how much of it, and what would shrink it most.

Every draw of a result came from known standard normal draws. A straight line through them by
least squares therefore gives, without computing the result anew, how far one sigma of each error
moves it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from stdday.statistics import Estimate
    from stdday.uncertainty import Draws

__all__ = [
    "CURVED", "SCATTER", "Lines", "Sensitivity", "Share", "budget", "by_source", "difference",
    "known",
]  # fmt: skip

FloatArray = NDArray[np.float64]

#: How far one sigma of each error, by name and key, moves a result (SI).
Sensitivity = dict[tuple[str, str], float]

#: Name of the part that the scatter between flights makes.
SCATTER = "scatter between flights"
#: Name of the part that straight lines through the draws leave.
CURVED = "curvature and combinations of errors"
#: Most errors, as a share of the independent draws, that a line is laid through [-].
MOST_ERRORS = 0.5
#: Parts smaller than this share of the variance are not listed [-].
LEAST_SHARE = 0.005
#: Smaller shares of the shared variance are not told from the draws' own error [-].
LEAST_CURVED = 0.1

#: What each error is, by the beginning of the name of its draw, and what would make it smaller.
_ABOUT: tuple[tuple[str, str, str], ...] = (
    ("airspeed calibration of the configuration", "airspeed calibration, own to a configuration",
     "fly calibration patterns with both configurations"),
    ("airspeed calibration", "airspeed calibration", "fly calibration patterns at more airspeeds"),
    ("airspeed delay", "delay between airspeed and ground speed",
     "record at 4 Hz or more, with level accelerations in the flight"),
    ("static-pressure jump", "static pressure under power on the ground",
     "calibrate the airspeed with power on and off; write down the reported wind"),
    ("static share", "share of the airspeed error that is static",
     "have the static system checked, and declare its share"),
    ("temperature probe recovery", "temperature rise that the probe takes up",
     "write temperature_recovery_factor of the probe in campaign.toml"),
    ("temperature probe", "temperature probe", "check the probe against a known thermometer"),
    ("lapse law", "engine power with altitude", "fly close to the reference altitude"),
    ("lapse", "temperature carried up from the field", "record the outside air temperature"),
    ("dew point", "humidity", "write down the reported dew point"),
    ("pressure altitude", "pressure altitude", "have the altimeter checked"),
    ("power of the configuration", "engine power, own to a configuration",
     "check rpm and manifold pressure instruments with both configurations"),
    ("power", "engine power", "calibrate what brake power is read from"),
    ("weight not given", "take-off weight", "weigh the loaded airplane"),
    ("weight", "take-off weight", "weigh the loaded airplane"),
    ("wind at wing", "wind at wing height", "calibrate the airspeed, or fly on calmer days"),
    ("runway slope", "runway slope", "survey the runway, or use both directions"),
    ("interval between rows", "time between rows", "use a recording with a clock"),
    ("block", "change from one period to the next",
     "change back and forth between configurations (A-B-A)"),
    ("take-off exponent", "take-off correction exponents",
     "fly both configurations at similar weights and density altitudes"),
    ("rolling friction", "rolling friction", "use the same runway on dry days"),
    ("thrust", "how thrust changes with the day",
     "fly both configurations at similar density altitudes"),
    ("efficiency", "propulsive efficiency",
     "fly both configurations at similar weights and density altitudes"),
    ("rating", "engine power at full throttle, where none is recorded", "record engine power"),
    ("torque", "engine torque with engine speed",
     "fly both configurations at similar density altitudes"),
    ("propeller slope", "engine speed of a fixed pitch with airspeed",
     "fly climbs and take-offs close to the common airspeed"),
    ("blade drag", "blade drag at another engine speed",
     "fly at weights and altitudes close to the reference"),
    ("bend of rate with altitude", "bend of the rate of climb with altitude",
     "fly climbs through a third altitude"),
    ("induced drag", "induced drag in the air phase", "fly close to the reference weight"),
    ("drag on the ground", "drag on the ground", "fly close to the reference conditions"),
    ("lift on the ground", "lift on the ground", "fly close to the reference conditions"),
    ("wind gradient at lift-off", "wind gradient at lift-off", "fly on calmer days"),
    ("wind gradient", "wind gradient in climbs",
     "record ground speed and track, or climb on opposite headings"),
    ("energy to 50 ft", "share of climb and acceleration on the way to 50 ft",
     "fly close to the reference weight"),
    ("wind in the air phase", "wind in the air phase", "fly on calmer days"),
    ("landing exponent of wind", "landing correction for wind", "land on calmer days"),
    ("landing", "landing correction for weight", "land close to the reference weight"),
    ("delay of the ground speed", "delay of the ground speed", "record at 4 Hz or more"),
    ("fuel flow against power", "shape of fuel flow against power",
     "fly level runs at the reference powers themselves"),
    ("fuel flow", "fuel flow", "calibrate the fuel flow with refills"),
    ("span efficiency", "span efficiency", "fly close to the reference weight"),
)
_MORE_FLIGHTS = "fly more flights, on more days"
_SIMILAR = "fly both configurations under similar conditions"


@dataclass(frozen=True)
class Share:
    """One part of an interval.

    Parameters
    ----------
    source : str
        What it comes from, in words.
    sigma : float
        One sigma of the result from it alone, SI.
    share : float
        Share of the variance [-].
    mend : str
        What would make it smaller; empty where nothing in a pilot's hands does.
    """

    source: str
    sigma: float
    share: float
    mend: str = ""


@dataclass(frozen=True)
class Lines:
    """Least squares through the draws of one analysis, made once for all of its results.

    Parameters
    ----------
    draws : Draws
        The draws, after the results were computed from them.

    Examples
    --------
    >>> from stdday.uncertainty import Draws
    >>> draws = Draws(200, seed=1)
    >>> z = draws.normal("probe", "shared", ["one", "two"])
    >>> found = Lines(draws).sensitivity((3 * z[:, 0] - 4 * z[:, 1])[1:])
    >>> {key: round(size, 6) for (_, key), size in found.items()}
    {'one': 3.0, 'two': -4.0}
    """

    draws: Draws
    _labels: tuple[tuple[str, str], ...] = field(init=False, default=())

    def __post_init__(self) -> None:
        """Note the errors that were drawn."""
        object.__setattr__(self, "_labels", tuple(self.draws.asked))

    @cached_property
    def _inverse(self) -> FloatArray:
        """Least squares of half of the draws, shape (errors, draws / 2); the rest mirrors it."""
        half = self.draws.count // 2
        columns = [self.draws.column(name, key)[:half] for name, key in self._labels]
        drawn = np.array(columns)
        # Independent draws are far from alike: the normal equations are safe, and quick.
        return np.asarray(np.linalg.solve(drawn @ drawn.T, drawn), dtype=float)

    def sensitivity(self, deviations: FloatArray) -> Sensitivity:
        """How far one sigma of each error moves a result.

        Parameters
        ----------
        deviations : ndarray, shape (draws,)
            Deviations of the result under all draws, SI.

        Returns
        -------
        dict of (name, key) to float
            SI; empty where there are too many errors for the draws to tell them apart.
        """
        half = self.draws.count // 2
        if not self._labels or len(self._labels) > MOST_ERRORS * half:
            return {}
        odd = (deviations[:half] - deviations[half:]) / 2
        sizes = self._inverse @ odd
        return {label: float(size) for label, size in zip(self._labels, sizes, strict=True)}


def difference(one: Sensitivity, other: Sensitivity) -> Sensitivity:
    """Sensitivity of a result minus another one.

    Parameters
    ----------
    one, other : dict of (name, key) to float
        Sensitivities of the two, SI.

    Returns
    -------
    dict of (name, key) to float

    Examples
    --------
    >>> difference({("a", "x"): 3.0, ("b", ""): 1.0}, {("a", "x"): 3.0})
    {('a', 'x'): 0.0, ('b', ''): 1.0}
    """
    labels = dict.fromkeys([*one, *other])
    return {label: one.get(label, 0.0) - other.get(label, 0.0) for label in labels}


def budget(estimate: Estimate, sensitivity: Sensitivity) -> list[Share]:
    """Divide the interval of a result among its errors.

    Parameters
    ----------
    estimate : Estimate
        The result, or a difference of two.
    sensitivity : dict of (name, key) to float
        From `Lines.sensitivity`, SI.

    Returns
    -------
    list of Share
        Largest first; shares of the variance add up to 1 but for parts below half a per cent.

    Notes
    -----
    JCGM 100:2008, section 5.1.2: the variances of independent inputs add, each with the square of
    its sensitivity. What straight lines leave is a part of its own.

    Examples
    --------
    >>> from stdday.statistics import Estimate
    >>> from stdday.uncertainty import Draws
    >>> draws = Draws(200, seed=1)
    >>> shift = 3 * draws.normal("power", "shared", ["one"])[1:, 0]
    >>> result = Estimate(10.0, 4.0, 8.0, shift)
    >>> parts = budget(result, Lines(draws).sensitivity(shift))
    >>> [(part.source, round(part.sigma, 1)) for part in parts]
    [('scatter between flights', 4.0), ('engine power', 3.0)]
    """
    if not sensitivity:
        return []
    sums: dict[tuple[str, str], float] = {(SCATTER, _MORE_FLIGHTS): estimate.standard_error**2}
    shared = estimate.shared_sigma() ** 2
    linear = sum(size**2 for size in sensitivity.values())
    # The variance of a thousand draws is known to 5 %: less than that is no curvature.
    curved = shared - linear if shared - linear > LEAST_CURVED * shared else 0.0
    for (name, _), size in sensitivity.items():
        about = _about(name)
        sums[about] = sums.get(about, 0.0) + size**2
    sums[CURVED, ""] = curved
    total = sum(sums.values())
    parts = [
        Share(source, float(np.sqrt(part)), part / total, mend)
        for (source, mend), part in sums.items()
        if total > 0 and part / total >= LEAST_SHARE
    ]
    return sorted(parts, key=lambda part: -part.share)


def by_source(sensitivity: Sensitivity, names: frozenset[str]) -> list[tuple[str, float, str]]:
    """Movement of a result by one sigma of each source, largest first.

    Parameters
    ----------
    sensitivity : dict of (name, key) to float
        From `Lines.sensitivity`, SI.
    names : frozenset of str
        Names of the draws that are asked about.

    Returns
    -------
    list of (str, float, str)
        Source in words, root sum of squares of its movements (SI), and what would make it smaller.

    Examples
    --------
    >>> by_source({("torque", ""): -3.0, ("power", "one"): 4.0}, frozenset({"torque"}))[0][:2]
    ('engine torque with engine speed', 3.0)
    """
    sums: dict[tuple[str, str], float] = {}
    for (name, _), size in sensitivity.items():
        if name in names:
            about = _about(name)
            sums[about] = sums.get(about, 0.0) + size**2
    found = [(source, float(np.sqrt(part)), mend) for (source, mend), part in sums.items()]
    return sorted(found, key=lambda one: -one[1])


def known(name: str) -> bool:
    """Whether an error has words and a mend of its own; for tests.

    Parameters
    ----------
    name : str
        Name of a draw.

    Returns
    -------
    bool

    Examples
    --------
    >>> known("rolling friction"), known("moonlight")
    (True, False)
    """
    return _about(name) != (name, _SIMILAR)


def _about(name: str) -> tuple[str, str]:
    """Words for an error, and what would make it smaller."""
    for begin, words, mend in _ABOUT:
        if name.startswith(begin):
            return words, mend
    return name, _SIMILAR
