"""How many flights: what a number of flights and points can show, and the cheapest plan that does.

The same procedure that judges a difference is asked beforehand: unweighted means of flight means,
their scatter pooled over both configurations, convolved with the errors that flights share.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize, special

from stdday.errors import InputError

__all__ = [
    "FlightCost",
    "Plan",
    "Scatter",
    "cheapest_plan",
    "fewest",
    "flight_order",
    "flights_needed",
    "observed_scatter",
    "power_of",
    "power_to_exclude",
    "smallest_difference",
]

FloatArray = NDArray[np.float64]
#: Power of a plan [-].
PowerOf = Callable[["Plan"], float]

#: Significance of a claim, and the power that a plan is asked for [-].
SIGNIFICANCE, POWER = 0.05, 0.8
#: Steps over which the scatter that will be observed is averaged [-].
STEPS = 200
#: Most flights with each configuration that are looked at [-].
MOST_FLIGHTS = 60
#: Standard error below which the shared errors alone make an interval, as a share of them [-]: less
#: than the step between their nodes cannot be told, and hardly moves a half-width.
LEAST_ERROR = 0.03
#: Steps of Newton's rule for a half-width [-]: it settles in five or six.
NEWTON = 8
#: Standard normal deviations that stand for the errors which flights share, and their weights [-].
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(256)
_NODES = 6 * _NODES
_WEIGHTS = _WEIGHTS * np.exp(-(_NODES**2) / 2)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True)
class Scatter:
    """How a result scatters, one sigma each, in the unit of the result.

    Parameters
    ----------
    flight : float
        Between flights: weight, air and pilot of the day.
    point : float
        Between points of one flight.
    block : float
        Between periods with one installation.
    shared : float
        Of the difference, from errors that all flights of a configuration share.
    """

    flight: float
    point: float = 0.0
    block: float = 0.0
    shared: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what is no size."""
        for name in ("flight", "point", "block", "shared"):
            size = getattr(self, name)
            if not (np.isfinite(size) and size >= 0):
                raise InputError(f"{name} [unit of the result] must be 0 or more; got {size}")
        if self.flight == 0 and self.point == 0:
            raise InputError("flight and point must not both be 0: then one flight would do")


@dataclass(frozen=True)
class Plan:
    """Flights with the reference configuration and with the other one.

    Parameters
    ----------
    flights : tuple of int
        Flights with each of the two [-], at least 2.
    points : int
        Points in each flight [-].
    blocks : tuple of int
        Periods with each of the two [-]: (1, 1) is one change-over, (2, 1) goes back once.
    """

    flights: tuple[int, int]
    points: int = 1
    blocks: tuple[int, int] = (1, 1)

    def __post_init__(self) -> None:
        """Refuse what cannot be flown or judged."""
        if min(self.flights) < 2:
            raise InputError(
                f"flights [-] must be at least 2 with each configuration; got {self.flights} "
                "(the scatter between flights is what a claim rests on)"
            )
        if self.points < 1:
            raise InputError(f"points [-] must be at least 1; got {self.points}")
        fits = all(1 <= b <= f for b, f in zip(self.blocks, self.flights, strict=True))
        if not fits:
            raise InputError(
                f"blocks [-] must be 1 to the number of flights {self.flights}; got {self.blocks}"
            )


@dataclass(frozen=True)
class FlightCost:
    """Hours that a plan takes.

    Parameters
    ----------
    flight_h : float
        Hours of a flight without its points: start, climb, return [h].
    point_h : float
        Hours of one point [h].
    change_h : float
        Hours that one change-over of the configuration counts for [h].
    most_points : int
        Points that fit in one flight [-].
    """

    flight_h: float = 0.6
    point_h: float = 0.1
    change_h: float = 0.0
    most_points: int = 8

    def hours(self, plan: Plan) -> float:
        """Return the hours of a plan [h].

        Examples
        --------
        >>> FlightCost(0.5, 0.1).hours(Plan((3, 3), 2))
        4.2
        """
        flown = sum(plan.flights) * (self.flight_h + self.point_h * plan.points)
        return round(flown + self.change_h * (sum(plan.blocks) - 1), 9)


def _parts(scatter: Scatter, plan: Plan) -> tuple[float, float, float]:
    """Standard error from scatter, its degrees of freedom, and the shared sigma of a difference."""
    sd = np.hypot(scatter.flight, scatter.point / np.sqrt(plan.points))
    error = float(sd * np.sqrt(sum(1 / flights for flights in plan.flights)))
    blocks = scatter.block * np.sqrt(sum(1 / blocks for blocks in plan.blocks))
    return error, float(sum(plan.flights) - 2), float(np.hypot(scatter.shared, blocks))


def _half_widths(
    error: float, dof: float, shared: float, level: float
) -> FloatArray:
    """Half-widths of the interval that may come out, each as likely, shape (STEPS,)."""
    middle = (np.arange(STEPS) + 0.5) / STEPS
    observed = error * np.sqrt(special.chdtri(dof, 1 - middle) / dof)
    if shared == 0:
        return np.asarray(observed * special.stdtrit(dof, (1 + level) / 2), dtype=float)
    some = np.append(observed[:: STEPS // 20], observed[-1])
    return np.asarray(np.interp(observed, some, _convolved(some, dof, shared, level)), dtype=float)


def _convolved(errors: FloatArray, dof: float, shared: float, level: float) -> FloatArray:
    """Half-widths of a Student t of each standard error, convolved with a normal.

    Newton's rule from the wider of the two parts: beyond the middle the distribution is concave,
    so that no step goes too far.
    """
    wanted = (1 + level) / 2
    errors = np.maximum(errors, LEAST_ERROR * shared)
    widths = np.maximum(errors * special.stdtrit(dof, wanted), shared * special.ndtri(wanted))
    for _ in range(NEWTON):
        away = (widths[:, None] - shared * _NODES) / errors[:, None]
        below = special.stdtr(dof, away) @ _WEIGHTS
        density = _density(dof, away) @ _WEIGHTS / errors
        widths = widths + (wanted - below) / density
    return np.asarray(widths, dtype=float)


def _density(dof: float, place: FloatArray) -> FloatArray:
    """Density of Student's t."""
    scale = np.exp(special.gammaln((dof + 1) / 2) - special.gammaln(dof / 2)) / np.sqrt(dof * np.pi)
    return np.asarray(scale * (1 + place**2 / dof) ** (-(dof + 1) / 2))


def power_of(
    difference: ArrayLike, scatter: Scatter, plan: Plan, claims: int = 1
) -> FloatArray:
    """Probability that a plan shows a difference, with its sign.

    Parameters
    ----------
    difference : array_like, any shape
        True difference, in the unit of the result.
    scatter : Scatter
        How the result scatters.
    plan : Plan
        Flights and points.
    claims : int, optional
        Rows of primary metrics that are judged together [-]; the p value is taken times so many,
        the strictest step of Holm's rule.

    Returns
    -------
    ndarray
        Probability [-], of the shape given.

    Raises
    ------
    InputError
        Where `claims` is below 1.

    Notes
    -----
    Without shared errors this is the power of the two-sample t test, by the noncentral t.

    Examples
    --------
    >>> round(float(power_of(1.0, Scatter(1.0), Plan((17, 17)))), 2)
    0.81
    """
    if claims < 1:
        raise InputError(f"claims [-] must be 1 or more; got {claims}")
    error, dof, shared = _parts(scatter, plan)
    widths = _half_widths(error, dof, shared, 1 - SIGNIFICANCE / claims)
    size = np.abs(np.asarray(difference, dtype=float))
    return np.asarray(
        special.ndtr((size[..., None] - widths) / np.hypot(error, shared)).mean(axis=-1)
    )


def power_to_exclude(matters: float, scatter: Scatter, plan: Plan) -> float:
    """Probability that a plan rules out a difference that matters, where there is none.

    Parameters
    ----------
    matters : float
        Difference that would matter, in the unit of the result.
    scatter : Scatter
        How the result scatters.
    plan : Plan
        Flights and points.

    Returns
    -------
    float
        Probability of ``no difference larger than what matters`` at a true difference of 0 [-].

    Examples
    --------
    >>> round(power_to_exclude(1.0, Scatter(1.0), Plan((30, 30))), 2)
    0.97
    """
    error, dof, shared = _parts(scatter, plan)
    room = matters - _half_widths(error, dof, shared, 1 - 2 * SIGNIFICANCE)
    inside = 2 * special.ndtr(np.maximum(room, 0.0) / np.hypot(error, shared)) - 1
    return float(inside.mean())


def smallest_difference(
    scatter: Scatter, plan: Plan, power: float = POWER, claims: int = 1
) -> float:
    """Smallest true difference that a plan shows with a given power.

    Parameters
    ----------
    scatter : Scatter
        How the result scatters.
    plan : Plan
        Flights and points.
    power : float, optional
        Probability of showing it [-], 0.05 to 0.99.
    claims : int, optional
        Rows of primary metrics that are judged together [-].

    Returns
    -------
    float
        In the unit of the result.

    Raises
    ------
    InputError
        Where `power` is out of range.

    Examples
    --------
    >>> round(smallest_difference(Scatter(1.0), Plan((3, 3))), 2)
    3.07
    """
    if not 0.05 <= power <= 0.99:
        raise InputError(f"power [-] must be 0.05 to 0.99; got {power}")
    error, _, shared = _parts(scatter, plan)
    most = 200.0 * float(np.hypot(error, shared))
    return float(
        optimize.brentq(
            lambda size: float(power_of(size, scatter, plan, claims)) - power,
            0.0, most, xtol=1e-6 * most,
        )
    )


def flights_needed(
    difference: float, scatter: Scatter, points: int = 1, claims: int = 1,
    blocks: tuple[int, int] = (1, 1),
) -> int | None:
    """Fewest flights with each configuration that show a difference with 80 % power.

    Parameters
    ----------
    difference : float
        True difference, in the unit of the result; not 0.
    scatter : Scatter
        How the result scatters.
    points : int, optional
        Points in each flight [-].
    claims : int, optional
        Rows of primary metrics that are judged together [-].
    blocks : tuple of int, optional
        Periods with each configuration [-].

    Returns
    -------
    int or None
        None where 60 flights with each do not: what they share is then too large.

    Examples
    --------
    >>> flights_needed(2.0, Scatter(1.0)), flights_needed(1.0, Scatter(1.0, block=1.0))
    (6, None)
    """

    def enough(flights: int) -> bool:
        plan = Plan((flights, flights), points, blocks)
        return float(power_of(difference, scatter, plan, claims)) >= POWER

    return fewest(enough, max(2, *blocks), MOST_FLIGHTS)


def fewest(enough: Callable[[int], bool], least: int, most: int) -> int | None:
    """Smallest number that is enough, where more is never worse.

    Parameters
    ----------
    enough : callable
        Whether a number is enough.
    least, most : int
        Ends of the search [-], both included.

    Returns
    -------
    int or None
        None where `most` is not enough.

    Examples
    --------
    >>> fewest(lambda number: number**2 >= 30, 0, 60), fewest(lambda number: False, 0, 60)
    (6, None)
    """
    if not enough(most):
        return None
    low, high = least - 1, most  # `high` is enough, `low` is not
    while high - low > 1:
        middle = (low + high) // 2
        if enough(middle):
            high = middle
        else:
            low = middle
    return high


def cheapest_plan(
    difference: float, scatter: Scatter, cost: FlightCost | None = None, claims: int = 1
) -> Plan | None:
    """Plan with the fewest flight hours that shows a difference with 80 % power.

    Parameters
    ----------
    difference : float
        Difference that would matter, in the unit of the result.
    scatter : Scatter
        How the result scatters.
    cost : FlightCost, optional
        Hours of flights, points and change-overs.
    claims : int, optional
        Rows of primary metrics that are judged together [-].

    Returns
    -------
    Plan or None
        None where no plan of up to 60 flights with each configuration does.

    Examples
    --------
    >>> cheapest_plan(2.0, Scatter(0.5, 1.5), FlightCost(0.6, 0.1))
    Plan(flights=(4, 4), points=5, blocks=(1, 1))
    """
    cost = cost or FlightCost()
    found: list[Plan] = []

    def least_hours(plan: Plan) -> tuple[float, int]:
        return cost.hours(plan), sum(plan.blocks)

    def enough(plan: Plan) -> bool:
        return float(power_of(difference, scatter, plan, claims)) >= POWER

    for blocks in ((1, 1), (2, 1), (2, 2), (3, 3)):
        if not enough(Plan((MOST_FLIGHTS,) * 2, cost.most_points, blocks)):
            continue  # nor are fewer flights or points
        for points in range(1, cost.most_points + 1):
            plans = [Plan((n, n), points, blocks) for n in range(max(2, *blocks), MOST_FLIGHTS + 1)]
            best = min(map(least_hours, found), default=(np.inf, 0))
            plans = [plan for plan in plans if least_hours(plan) < best]
            found += _first(plans, enough)
    return min(found, key=least_hours, default=None)


def _first(plans: Sequence[Plan], enough: Callable[[Plan], bool]) -> list[Plan]:
    """First of some plans that is enough, each more than the one before; empty where none is."""
    if not plans:
        return []
    place = fewest(lambda one: enough(plans[one]), 0, len(plans) - 1)
    return [] if place is None else [plans[place]]


def observed_scatter(values: ArrayLike, flights: Sequence[str], groups: Sequence[str]) -> Scatter:
    """Scatter between flights and between points, from corrected points.

    Parameters
    ----------
    values : array_like, shape (points,)
        Corrected value of each point, any one unit.
    flights, groups : sequence of str, length points
        Flight and configuration of each point.

    Returns
    -------
    Scatter
        One sigma between flights (0 where points explain it all) and between points (0 where each
        flight has one).

    Raises
    ------
    InputError
        Where no configuration has two flights.

    Notes
    -----
    One-way analysis of variance, nested: NIST/SEMATECH e-Handbook, section 3.2.3.3.

    Examples
    --------
    >>> observed_scatter([1.0, 3.0, 5.0, 7.0], ["F1", "F1", "F2", "F2"], ["A"] * 4)
    Scatter(flight=2.6457513110645907, point=1.4142135623730951, block=0.0, shared=0.0)
    """
    numbers, names = np.asarray(values, dtype=float), np.array(flights)
    means, sizes, within, spare = {}, {}, 0.0, 0
    for name in dict.fromkeys(flights):
        own = numbers[names == name]
        means[name], sizes[name] = float(own.mean()), own.size
        within += float(np.sum((own - own.mean()) ** 2))
        spare += own.size - 1
    group_of = dict(zip(flights, groups, strict=True))
    between, free = 0.0, 0
    for group in dict.fromkeys(groups):
        mine = np.array([means[name] for name in means if group_of[name] == group])
        between += float(np.sum((mine - mine.mean()) ** 2))
        free += mine.size - 1
    if free < 1:
        raise InputError("flights must be two at least with one configuration; each has one")
    point = within / spare if spare else 0.0
    share = point * float(np.mean([1 / size for size in sizes.values()]))
    flight = max(between / free - share, 0.0)
    if flight == 0 and point == 0:
        raise InputError("values must scatter; all are the same (were they rounded?)")
    return Scatter(float(np.sqrt(flight)), float(np.sqrt(point)))


def flight_order(plan: Plan, names: tuple[str, str] = ("A", "B")) -> list[str]:
    """Order of flights in which neither configuration comes earlier on average.

    Parameters
    ----------
    plan : Plan
        Flights and periods.
    names : tuple of str, optional
        Reference configuration and the other one.

    Returns
    -------
    list of str
        Configuration of each flight in turn. With one change-over one always comes first; a plan
        with two periods of the reference goes around the other one.

    Examples
    --------
    >>> "".join(flight_order(Plan((4, 3), blocks=(2, 1))))
    'AABBBAA'
    >>> "".join(flight_order(Plan((4, 4), blocks=(2, 2))))
    'AABBBBAA'
    """
    reference, other = (_divided(n, b) for n, b in zip(plan.flights, plan.blocks, strict=True))
    if len(reference) == len(other) and len(other) > 1:
        # A B | B A | A B ...: the middle of each pair is the same for both.
        pairs = [(names, names[::-1])[place % 2] for place in range(len(other))]
        runs = {names[0]: iter(reference), names[1]: iter(other)}
        return [name for pair in pairs for name in pair for _ in range(next(runs[name]))]
    turns = [iter(reference), iter(other)]
    order: list[str] = []
    for place in range(sum(plan.blocks)):
        order += [names[place % 2]] * next(turns[place % 2], 0)
    return order


def _divided(flights: int, blocks: int) -> list[int]:
    """Flights of each period, as even as can be."""
    return [len(part) for part in np.array_split(np.arange(flights), blocks)]

