"""Climbs of one configuration at any airspeed: rate against airspeed, and what follows from it.

Reduced rate ``RC sqrt(sigma) = K - a x^3 - b/x`` with x the equivalent airspeed: constant thrust
power less parabolic drag, with what thrust power grows with airspeed in a and b. K is each
reference altitude's own, a and b are common to all, but for how the growth of thrust power with
airspeed differs between altitudes: there is less of it in thin air, where the propeller also works
nearer to its best advance ratio. Without climbs at several airspeeds only the rate at the common
one is fitted.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday import airspeed, atmosphere
from stdday.draw_fit import DrawSums
from stdday.errors import InputError
from stdday.ledger import in_parts
from stdday.reduce_climb import FARTHEST_MS, OwnClimbs, climbs_at_airspeed, efficiency_growth
from stdday.statistics import ClusterFit, cluster_fit
from stdday.throttle import TORQUE_EXPONENT, governed_speed_rps
from stdday.uncertainty import Draws

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from stdday.campaign import Campaign, Reference

__all__ = ["ClimbFit", "day", "equivalent_ms", "fit_climbs", "why_no_curve"]

FloatArray = NDArray[np.float64]

#: Airspeed that scales the columns [m/s], and fuel flow [m^3/s].
SPEED_UNIT_MS, FUEL_UNIT_M3S = 35.0, 1e-5
#: Fall of the exponent of efficiency with the logarithm of advance ratio, and one sigma [-]:
#: efficiency bends over towards its best advance ratio. Common practice.
CONCAVE, CONCAVE_SIGMA = 0.8, 0.4
#: Corners of a schedule are rounded over this share of the common airspeed, each side [-] (3 kt):
#: an airspeed held as closely as that sees both sides of them.
ROUNDED = 0.05
#: A curve needs climbs at this many airspeeds [-], so far from each other [m/s] (2 kt), over so
#: wide a range [m/s] (10 kt).
LEAST_SPEEDS, APART_MS, WIDE_MS = 4, 2 * 1852 / 3600, 10 * 1852 / 3600


@dataclass(frozen=True)
class ClimbFit:
    """Rate of climb of one configuration on the reference day.

    Parameters
    ----------
    configuration : str
        Configuration.
    reference : Reference
        Reference conditions.
    altitudes_m : tuple of float
        Reference pressure altitudes that were climbed through [m].
    numbers : tuple of int
        Position of each among those of the reference, from 1.
    points, flights : tuple of str
        Climbs of the fit, and their flights.
    slowest_ms, fastest_ms : float
        Calibrated airspeeds between which they were flown [m/s].
    calibrated_ms, rate_ms : ndarray, shape (climbs,)
        Nominal airspeed and corrected rate of each climb [m/s].
    places : ndarray of int, shape (climbs,)
        Altitude of each among `altitudes_m`.
    coefficients : ndarray, shape (draws + 1, columns)
        Reduced rate of each altitude, cubic and inverse coefficient (curves only), fuel flow of
        each altitude (where recorded), scaled; last two the exponent of thrust power with airspeed
        and its fall with advance ratio, drawn.
    thrust_ms : ndarray, shape (altitudes,)
        Reduced thrust power over weight at the common airspeed [m/s].
    power_table : ndarray, shape (2, rows)
        Airspeed and full-throttle power, each over that at the common airspeed [-].
    curved : bool
        Whether there is a curve; else rates hold at the common airspeed alone.
    has_fuel : bool
        Whether fuel flow was fitted.
    fit : ClusterFit
        The fit.
    reason : str
        Why there is no curve; empty where there is one.
    """

    configuration: str
    reference: Reference
    altitudes_m: tuple[float, ...]
    numbers: tuple[int, ...]
    points: tuple[str, ...]
    flights: tuple[str, ...]
    slowest_ms: float
    fastest_ms: float
    calibrated_ms: FloatArray = field(repr=False)
    rate_ms: FloatArray = field(repr=False)
    places: NDArray[np.intp] = field(repr=False)
    coefficients: FloatArray = field(repr=False)
    thrust_ms: FloatArray = field(repr=False)
    power_table: FloatArray = field(repr=False)
    curved: bool
    has_fuel: bool
    fit: ClusterFit = field(repr=False)
    reason: str = ""

    def air(self, place: int) -> tuple[float, float, float]:
        """Pressure [Pa], temperature [K] and density ratio [-] of the day at one altitude."""
        return day(self.reference, self.altitudes_m[place])

    def rate(self, rows: FloatArray, calibrated_ms: FloatArray, place: int) -> FloatArray:
        """Rate of climb at one altitude and calibrated airspeeds.

        Parameters
        ----------
        rows : ndarray, shape (rows, columns)
            Coefficients.
        calibrated_ms : ndarray, shape (airspeeds,)
            Calibrated airspeed [m/s]; without a curve only the common one means anything.
        place : int
            Altitude among `altitudes_m`.

        Returns
        -------
        ndarray, shape (rows, airspeeds)
            Geometric rate of climb [m/s].
        """
        pressure, temperature, ratio = self.air(place)
        reduced = rows[:, [place]] + np.zeros_like(calibrated_ms)
        if self.curved:
            x = equivalent_ms(calibrated_ms, pressure, temperature) / SPEED_UNIT_MS
            first = len(self.altitudes_m)
            reduced = reduced - rows[:, [first]] * x**3 - rows[:, [first + 1]] / x
            given = (self.altitudes_m, self.thrust_ms, self.power_table)
            lift = _own_growth(self.reference, *given, place)
            reduced = reduced + lift(x, rows[:, [-2]], rows[:, [-1]])
        result: FloatArray = reduced / np.sqrt(ratio)
        return result

    def fuel_m3s(self, rows: FloatArray) -> FloatArray:
        """Fuel flow at each altitude [m^3/s], shape (rows, altitudes)."""
        return FUEL_UNIT_M3S * rows[:, -len(self.altitudes_m) - 2 : -2]

    def gradient(self, of: Callable[[FloatArray], FloatArray]) -> FloatArray:
        """Derivative of a number by the coefficients, as `stdday.level_fit.LevelFit.gradient`."""
        result = np.empty(self.coefficients.shape[1] - 2)
        for column in range(len(result)):
            step = 1e-4 * max(abs(float(self.coefficients[0, column])), 0.1)
            shifted = np.repeat(self.coefficients[:1], 2, axis=0)
            shifted[:, column] += np.array([step, -step])
            pair = of(shifted)
            result[column] = float(pair[0] - pair[1]) / (2 * step)
        return result


def day(reference: Reference, altitude_m: float) -> tuple[float, float, float]:
    """Air of the reference day at an altitude.

    Parameters
    ----------
    reference : Reference
        Reference conditions.
    altitude_m : float
        Pressure altitude [m].

    Returns
    -------
    tuple of float
        Pressure [Pa], temperature [K] and density ratio [-]; the air is dry.

    Raises
    ------
    InputError
        An altitude out of its range.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> [round(one, 3) for one in day(SimpleNamespace(temperature_offset_k=0.0), 1000.0)]
    [89874.563, 281.65, 0.907]
    """
    pressure = float(atmosphere.standard_pressure_pa(altitude_m))
    temperature = float(atmosphere.standard_temperature_k(altitude_m))
    temperature += reference.temperature_offset_k
    density = float(atmosphere.density_kg_m3(pressure, temperature))
    return pressure, temperature, density / atmosphere.SEA_LEVEL_DENSITY_KG_M3


def x_common(reference: Reference) -> float:
    """Common airspeed of climbs, scaled; there equivalent is taken as calibrated."""
    return reference.climb_airspeed_ms / SPEED_UNIT_MS


def _own_growth(
    reference: Reference,
    altitudes_m: tuple[float, ...],
    thrust_ms: FloatArray,
    power_table: FloatArray,
    place: int,
) -> Callable[[FloatArray, FloatArray, FloatArray], FloatArray]:
    """What thrust power at one altitude grows with airspeed beyond what a and b can hold [m/s].

    That is all that full-throttle power does with airspeed, and what efficiency does beyond the
    mean of all altitudes.
    """
    thin = np.array([-0.5 * np.log(day(reference, altitude)[2]) for altitude in altitudes_m])
    away = float(thin[place] - thin.mean())

    def lift(x: FloatArray, growth: FloatArray, concave: FloatArray) -> FloatArray:
        ratio = x / x_common(reference)
        power = np.interp(ratio, *power_table)
        own = thrust_ms[place] * (power * ratio ** (growth - concave * away) - 1)
        result: FloatArray = own - thrust_ms.mean() * (ratio**growth - 1)
        return result

    return lift


def equivalent_ms(
    calibrated_ms: FloatArray, pressure_pa: FloatArray | float, temperature_k: FloatArray | float
) -> FloatArray:
    """Equivalent from calibrated airspeed.

    Parameters
    ----------
    calibrated_ms : ndarray
        Calibrated airspeed [m/s].
    pressure_pa : float or ndarray
        Ambient pressure [Pa].
    temperature_k : float or ndarray
        Ambient temperature [K].

    Returns
    -------
    ndarray
        Equivalent airspeed [m/s].

    Raises
    ------
    InputError
        An argument out of its range.

    Examples
    --------
    >>> equivalent_ms(np.array([40.0, 60.0]), 80000.0, 275.0).round(2)
    array([39.98, 59.93])
    """
    true = np.asarray(airspeed.true_airspeed_ms(calibrated_ms, pressure_pa, temperature_k))
    density = np.asarray(atmosphere.density_kg_m3(pressure_pa, temperature_k))
    result: FloatArray = true * np.sqrt(density / atmosphere.SEA_LEVEL_DENSITY_KG_M3)
    return result


def fit_climbs(
    campaign: Campaign,
    segments: pd.DataFrame,
    draws: Draws,
    slopes: dict[str, float],
    known: dict[str, ClimbFit],
) -> tuple[dict[str, ClimbFit], dict[str, str]]:
    """Fit the climbs of each configuration.

    What a formula refuses is told as a reason; it never raises.

    Parameters
    ----------
    campaign : Campaign
        Reference conditions, flights and declared uncertainties.
    segments : DataFrame
        Segments of used climbs.
    draws : Draws
        Draws of the errors that scatter cannot show.
    slopes : dict of str to float
        From `stdday.throttle.propeller_slopes`.
    known : dict of str to ClimbFit
        Fits of the same climbs under other draws, whose nominal fit is the same.

    Returns
    -------
    fits : dict of str to ClimbFit
    reasons : dict of str to str
        Why a configuration has none.
    """
    fits, reasons = {}, {}
    flown = {flight.id: flight.configuration for flight in campaign.flights}
    configurations = segments["flight"].map(flown)
    for name in campaign.configurations:
        own = segments[configurations == name]
        try:
            if own.empty:
                raise InputError("no usable test point")
            fits[name] = _fit(campaign, own, draws, slopes, name, known.get(name))
        except InputError as error:
            reasons[name] = str(error)
    return fits, reasons


def _together(parts: list[OwnClimbs]) -> OwnClimbs:
    return OwnClimbs(
        tuple(point for part in parts for point in part.points),
        tuple(flight for part in parts for flight in part.flights),
        np.concatenate([part.places for part in parts]),
        np.concatenate([part.calibrated_ms for part in parts], axis=1),
        np.concatenate([part.rate_ms for part in parts], axis=1),
        np.concatenate([part.fuel_m3s for part in parts], axis=1),
        np.concatenate([part.power_w for part in parts]),
    )


def _only(climbs: OwnClimbs, kept: NDArray[np.bool_]) -> OwnClimbs:
    rows = np.flatnonzero(kept)
    return OwnClimbs(
        tuple(climbs.points[row] for row in rows),
        tuple(climbs.flights[row] for row in rows),
        climbs.places[rows],
        climbs.calibrated_ms[:, rows],
        climbs.rate_ms[:, rows],
        climbs.fuel_m3s[:, rows],
        climbs.power_w[rows],
    )


def why_no_curve(calibrated_ms: FloatArray) -> str:
    """Say what climbs lack to give rate against airspeed.

    Parameters
    ----------
    calibrated_ms : ndarray, shape (climbs,)
        Calibrated airspeeds [m/s], at least one.

    Returns
    -------
    str
        What to fly; empty where nothing lacks. Never raises.

    Examples
    --------
    >>> why_no_curve(np.array([28.0, 31.0, 34.0, 37.0]))
    ''
    >>> why_no_curve(np.array([31.0, 32.0]))[:27]
    'climbs at 60 to 62 kt only:'
    """
    ordered = np.sort(calibrated_ms)
    steps, last = 1, ordered[0]
    for speed in ordered[1:]:
        if speed - last >= APART_MS:
            steps, last = steps + 1, speed
    wide = ordered[-1] - ordered[0]
    if steps >= LEAST_SPEEDS and wide >= WIDE_MS:
        return ""
    low, high = ordered[[0, -1]] * 3600 / 1852
    return (
        f"climbs at {low:.0f} to {high:.0f} kt only: fly climbs at {LEAST_SPEEDS + 1} airspeeds at "
        "least, in steps of 5 kt, on both sides of the best one"
    )


def _fit(
    campaign: Campaign,
    segments: pd.DataFrame,
    draws: Draws,
    slopes: dict[str, float],
    name: str,
    known: ClimbFit | None,
) -> ClimbFit:
    """Fit one configuration."""
    reference = campaign.reference_of(name)
    parts, still = in_parts(segments), Draws(0, draws.seed)
    climbs = _together([climbs_at_airspeed(campaign, one, still, slopes) for one in parts])
    reason = why_no_curve(climbs.calibrated_ms[0])
    common = bool(reason)
    if common:
        near = np.abs(climbs.calibrated_ms[0] - reference.climb_airspeed_ms) <= FARTHEST_MS
        climbs = _together(
            [climbs_at_airspeed(campaign, one, still, slopes, common=True) for one in parts]
        )
        climbs = _only(climbs, near)
    if not climbs.points:
        raise InputError(f"no climb within 3 kt of the common airspeed; {reason}")
    numbers = np.unique(climbs.places)
    airplane = campaign.airplane_of(name)
    places = np.searchsorted(numbers, climbs.places)
    altitudes = tuple(reference.climb_pressure_altitudes_m[number] for number in numbers)
    growth = efficiency_growth(draws, [name])[:, 0]
    concave = CONCAVE + CONCAVE_SIGMA * draws.normal("efficiency bends", "parameter", [name])[:, 0]
    shape = _Shape(
        places,
        reference,
        altitudes,
        not reason,
        bool(np.isfinite(climbs.fuel_m3s[0]).all()),
        _thrust_ms(climbs, places, reference, altitudes, airplane.assumed_efficiency[0]),
        _power_table(campaign, name, climbs, places),
        np.column_stack([growth, concave]),
    )
    fit = known.fit if known else _nominal(climbs, shape)
    blocks = (climbs_at_airspeed(campaign, one, draws, slopes, common=common) for one in parts)
    return ClimbFit(
        name, reference, shape.altitudes_m, tuple(int(number) + 1 for number in numbers),
        climbs.points, climbs.flights,
        float(climbs.calibrated_ms[0].min()), float(climbs.calibrated_ms[0].max()),
        climbs.calibrated_ms[0].copy(), climbs.rate_ms[0].copy(), shape.places,
        np.column_stack([_solved(climbs, shape, fit, blocks), shape.growth]), shape.thrust_ms,
        shape.power_table, shape.curved, shape.fuel, fit, reason,
    )  # fmt: skip


@dataclass(frozen=True)
class _Shape:
    """What the columns of the fit are: as in `ClimbFit`."""

    places: NDArray[np.intp]
    reference: Reference
    altitudes_m: tuple[float, ...]
    curved: bool
    fuel: bool
    thrust_ms: FloatArray
    power_table: FloatArray
    growth: FloatArray


def _power_table(
    campaign: Campaign, name: str, climbs: OwnClimbs, places: NDArray[np.intp]
) -> FloatArray:
    """Full-throttle power over that at the common airspeed, against airspeed over the common one.

    By the governor's schedule; for a fixed pitch a power of airspeed, fitted to its own climbs.
    """
    configuration = campaign.configurations[name]
    ratio = np.linspace(0.5, 2.0, 301)
    if configuration.propeller.control == "constant speed":
        if not configuration.rpm_schedule:
            return np.stack([ratio, np.ones_like(ratio)])
        common = campaign.reference_for(configuration.airplane).climb_airspeed_ms
        held = np.mean(
            [governed_speed_rps(configuration.rpm_schedule, common * (ratio + off))
             for off in np.linspace(-ROUNDED, ROUNDED, 11)],
            axis=0,
        )  # fmt: skip
        there = governed_speed_rps(configuration.rpm_schedule, common)
        return np.stack([ratio, (held / there) ** TORQUE_EXPONENT])
    speed, power = np.log(climbs.calibrated_ms[0]), np.log(climbs.power_w)
    for place in np.unique(places):
        mine = places == place
        speed[mine] -= speed[mine].mean()
        power[mine] -= power[mine].mean()
    spread = float(speed @ speed)
    exponent = float(speed @ power) / spread if spread > 0 else 0.0
    return np.stack([ratio, ratio**exponent])


def _thrust_ms(
    climbs: OwnClimbs,
    places: NDArray[np.intp],
    reference: Reference,
    altitudes: tuple[float, ...],
    efficiency: float,
) -> FloatArray:
    """Reduced thrust power over weight at each altitude [m/s]."""
    weight = reference.weight_kg * atmosphere.GRAVITY_MS2
    power = [climbs.power_w[places == place].mean() for place in range(len(altitudes))]
    ratio = np.array([day(reference, altitude)[2] for altitude in altitudes])
    thrust: FloatArray = efficiency * np.array(power) / weight * np.sqrt(ratio)
    return thrust


def _nominal(climbs: OwnClimbs, shape: _Shape) -> ClusterFit:
    design, response = _rows(climbs, shape, shape.places)
    count = len(climbs.points)
    flights = list(climbs.flights) * (2 if shape.fuel else 1)
    strata = ["rate"] * count + ["fuel"] * (len(flights) - count)
    return cluster_fit(design[0], response[0], flights, strata)


def _passed(climbs: OwnClimbs) -> list[tuple[str, int]]:
    """What tells climbs apart: the point, and which altitude it passes."""
    return list(zip(climbs.points, climbs.places.tolist(), strict=True))


def _solved(
    climbs: OwnClimbs, shape: _Shape, fit: ClusterFit, blocks: Iterable[OwnClimbs]
) -> FloatArray:
    """Coefficients (draws + 1, columns); each block holds the draws of some flights' climbs."""
    numbers = {passed: number for number, passed in enumerate(_passed(climbs))}
    sums = DrawSums(fit.whitener, len(shape.growth), fit.design.shape[1])
    for block in blocks:
        own = _only(block, np.array([one in numbers for one in _passed(block)], dtype=bool))
        rows = [numbers[one] for one in _passed(own)]
        if rows:
            fuel = [len(numbers) + row for row in rows] if shape.fuel else []
            sums.add(rows + fuel, *_rows(own, shape, shape.places[rows]))
    return sums.solve()


def _rows(
    climbs: OwnClimbs, shape: _Shape, places: NDArray[np.intp]
) -> tuple[FloatArray, FloatArray]:
    """Design (draws, rows, columns) and response (draws, rows) of climbs through `places`."""
    count, levels = len(climbs.points), len(shape.altitudes_m)
    air = np.array([day(shape.reference, shape.altitudes_m[place]) for place in places])
    which = np.zeros((count, levels))
    which[np.arange(count), places] = 1.0
    rate = climbs.rate_ms
    blocks = [np.broadcast_to(which, (len(rate), count, levels))]
    if shape.curved:
        x = equivalent_ms(climbs.calibrated_ms, air[:, 0], air[:, 1]) / SPEED_UNIT_MS
        blocks += [-(x**3)[..., None], -(1 / x)[..., None]]
    design = np.concatenate(blocks, axis=2)
    response = rate * np.sqrt(air[:, 2])
    if shape.curved:
        growth = shape.growth[: len(rate)].T[..., None]  # the nominal row alone, or all draws
        for place in range(levels):
            mine = places == place
            given = (shape.altitudes_m, shape.thrust_ms, shape.power_table)
            lift = _own_growth(shape.reference, *given, place)
            response[:, mine] -= lift(x[:, mine], *growth)
    if not shape.fuel:
        return design, response
    whole = np.zeros((len(design), 2 * count, design.shape[2] + levels))
    whole[:, :count, : design.shape[2]] = design
    whole[:, count:, design.shape[2] :] = which
    return whole, np.concatenate([response, climbs.fuel_m3s / FUEL_UNIT_M3S], axis=1)
