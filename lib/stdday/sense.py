"""Does it make sense: what a difference would need of the propeller, the engine or the airframe.

Each difference is turned into the ratio of propulsive efficiency, the brake power, the thrust or
the drag area that would make it alone. Momentum theory bounds what a propeller can do, and the
tests are held against each other. These are checks of plausibility, not results.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from stdday import airspeed, atmosphere, engine, propeller

if TYPE_CHECKING:
    from stdday.campaign import Airplane, Campaign
    from stdday.compare import Effect

__all__ = ["Sense", "agreement", "make_sense"]

#: Power grows with this power of airspeed in cruise where two reference powers do not tell [-]: 2
#: at Carson's speed, 3 where drag is all parasite. Textbook.
CRUISE_EXPONENT = 2.5
#: Rolling friction of a paved runway [-]. Common practice.
ROLLING_FRICTION = 0.03
#: Part of the lift-off airspeed at which the propeller works on average over the roll [-].
MEAN_SPEED = 0.7
#: Best efficiency of real propellers over what momentum theory allows [-]. Common practice.
REAL_PROPELLERS = 0.95


@dataclass(frozen=True)
class Sense:
    """What one difference would need.

    Parameters
    ----------
    metric, condition_id, configuration : str
        The difference: of this configuration against the reference configuration.
    efficiency_ratio : tuple of float
        Ratio of installed propulsive efficiency that would make it alone: value and the ends of
        the 95 % interval of the difference [-].
    power_w : float
        Brake power that would make it alone [W].
    thrust_n : float
        Thrust that would make it alone [N].
    drag_area_m2 : float
        Drag area, less where positive thrust is needed, that would make it alone [m^2]; NaN for
        take-offs.
    needed_efficiency : float
        Efficiency needed with this configuration, at the least assumed for the reference [-].
    bound : float
        Greatest efficiency that momentum theory allows for its disk [-].
    words : str
        What that says.
    """

    metric: str
    condition_id: str
    configuration: str
    efficiency_ratio: tuple[float, float, float]
    power_w: float
    thrust_n: float
    drag_area_m2: float
    needed_efficiency: float
    bound: float
    words: str


@dataclass(frozen=True)
class _Flight:
    """State at which a difference is judged."""

    true_ms: float
    density_kg_m3: float
    power_w: float
    efficiency: float  # assumed for the reference configuration


def make_sense(campaign: Campaign, effects: Sequence[Effect]) -> list[Sense]:
    """Say for each difference of a take-off, climb or cruise what it would need.

    Parameters
    ----------
    campaign : Campaign
        Airplanes, propellers and reference conditions.
    effects : sequence of Effect
        All differences.

    Returns
    -------
    list of Sense
        Only for two configurations of one airplane; empty where nothing can be said.
    """
    makers: dict[str, Callable[[Campaign, Effect, Sequence[Effect]], Sense | None]] = {
        "takeoff_ground_roll": _of_takeoff,
        "climb_rate": _of_climb,
        "cruise_true_airspeed": _of_cruise,
    }
    found = []
    for effect in effects:
        one = campaign.airplane_of(effect.a.configuration)
        same = one.id == campaign.airplane_of(effect.b.configuration).id
        maker = makers.get(effect.b.metric)
        if maker is None or effect.difference is None or not same:
            continue
        sense = maker(campaign, effect, effects)
        if sense is not None:
            found.append(sense)
    return found


def _air(campaign: Campaign, airplane: Airplane, altitude_m: float) -> tuple[float, float, float]:
    """Pressure, temperature and density of the reference day at an altitude."""
    offset = campaign.reference_for(airplane.id).temperature_offset_k
    temperature = float(atmosphere.standard_temperature_k(altitude_m)) + offset
    pressure = float(atmosphere.standard_pressure_pa(altitude_m))
    return pressure, temperature, float(atmosphere.density_kg_m3(pressure, temperature))


def _full_power_w(airplane: Airplane, pressure_pa: float, temperature_k: float) -> float:
    """Full-throttle power at rated engine speed."""
    if airplane.induction == "turbocharged":
        return float(airplane.rated_power_w)
    ratio = float(engine.full_throttle_ratio(pressure_pa, temperature_k))
    return float(airplane.rated_power_w) * min(ratio, 1.0)


def _ends(effect: Effect) -> tuple[float, float, float]:
    """Difference and the ends of its interval, SI."""
    assert effect.difference is not None
    low, high = effect.difference.interval()
    return effect.difference.value, low, high


def _of_climb(campaign: Campaign, effect: Effect, effects: Sequence[Effect]) -> Sense:
    del effects
    airplane = campaign.airplane_of(effect.a.configuration)
    reference = campaign.reference_for(airplane.id)
    place = int(effect.b.condition_id.rpartition("_")[2]) - 1
    pressure, temperature, density = _air(
        campaign, airplane, reference.climb_pressure_altitudes_m[place]
    )
    true = float(airspeed.true_airspeed_ms(reference.climb_airspeed_ms, pressure, temperature))
    flight = _Flight(
        true, density, _full_power_w(airplane, pressure, temperature),
        airplane.assumed_efficiency[0],
    )
    weight = reference.weight_kg * atmosphere.GRAVITY_MS2
    return _sense(campaign, effect, flight, [weight * rate for rate in _ends(effect)])


def _of_cruise(campaign: Campaign, effect: Effect, effects: Sequence[Effect]) -> Sense:
    airplane = campaign.airplane_of(effect.a.configuration)
    reference = campaign.reference_for(airplane.id)
    _, _, density = _air(campaign, airplane, reference.cruise_pressure_altitude_m)
    power = _fraction(effect) * float(airplane.rated_power_w)
    assert effect.a.estimate is not None
    true = effect.a.estimate.value
    flight = _Flight(true, density, power, airplane.assumed_efficiency[1])
    exponent = _exponent(effect, effects)
    gains = [
        flight.efficiency * power * ((1 + step / true) ** exponent - 1) for step in _ends(effect)
    ]
    return _sense(campaign, effect, flight, gains)


def _fraction(effect: Effect) -> float:
    return float(effect.a.condition_id.rpartition("_")[2]) / 100


def _exponent(effect: Effect, effects: Sequence[Effect]) -> float:
    """Local exponent of power with airspeed, from the neighbouring reference power."""
    known = {
        _fraction(other): other.a.estimate.value
        for other in effects
        if other.b.metric == effect.b.metric
        and other.b.configuration == effect.b.configuration
        and other.a.estimate is not None
    }
    here = _fraction(effect)
    others = sorted((one for one in known if one != here), key=lambda one: abs(one - here))
    if not others:
        return CRUISE_EXPONENT
    return float(np.log(others[0] / here) / np.log(known[others[0]] / known[here]))


def _of_takeoff(campaign: Campaign, effect: Effect, effects: Sequence[Effect]) -> Sense | None:
    del effects
    airplane = campaign.airplane_of(effect.a.configuration)
    reference = campaign.reference_for(airplane.id)
    pressure, temperature, density = _air(
        campaign, airplane, reference.takeoff_pressure_altitude_m
    )
    liftoff = float(airspeed.true_airspeed_ms(reference.liftoff_airspeed_ms, pressure, temperature))
    power = _full_power_w(airplane, pressure, temperature)
    true = MEAN_SPEED * liftoff
    assert effect.a.estimate is not None
    roll = effect.a.estimate.value
    energy = reference.weight_kg * liftoff**2 / 2
    friction = ROLLING_FRICTION * reference.weight_kg * atmosphere.GRAVITY_MS2
    thrust = energy / roll + friction
    flight = _Flight(true, density, power, thrust * true / power)
    steps = _ends(effect)
    if min(roll + step for step in steps) <= 0:
        return None
    # A longer roll is the lower end of thrust.
    value, low, high = (energy / (roll + step) - energy / roll for step in steps)
    return _sense(campaign, effect, flight, [true * one for one in (value, high, low)])


def _sense(
    campaign: Campaign, effect: Effect, flight: _Flight, gains_w: Sequence[float]
) -> Sense:
    """Put together what a gain of thrust power (value and ends of its interval) would need."""
    ratios = [1 + gain / (flight.efficiency * flight.power_w) for gain in gains_w]
    thrust = gains_w[0] / flight.true_ms
    pressure = flight.density_kg_m3 * flight.true_ms**2 / 2
    takeoff = effect.b.metric == "takeoff_ground_roll"
    needed = flight.efficiency * ratios[0]
    diameter = campaign.configurations[effect.b.configuration].propeller.diameter_m
    bound = (
        float(propeller.ideal_efficiency(
            flight.true_ms, flight.power_w, flight.density_kg_m3, diameter
        ))
        if diameter
        else float("nan")
    )
    return Sense(
        effect.b.metric,
        effect.b.condition_id,
        effect.b.configuration,
        (ratios[0], ratios[1], ratios[2]),
        (ratios[0] - 1) * flight.power_w,
        thrust,
        float("nan") if takeoff else -thrust / pressure,
        needed,
        bound,
        _words(needed, bound),
    )


def _words(needed: float, bound: float) -> str:
    """What the efficiency needed says beside its bound."""
    if not np.isfinite(bound):
        return "no propeller diameter given, so nothing bounds it"
    percent = f"{100 * needed:.0f} % needed, {100 * bound:.0f} % allowed by momentum theory"
    if needed > bound:
        return (
            f"not possible by the propeller alone: {percent}; look for an error of airspeed, power "
            "or weight, or for another change"
        )
    if needed > REAL_PROPELLERS * bound:
        return f"more than real propellers reach: {percent}; look for a further cause"
    return f"possible: {percent}"


def agreement(found: Sequence[Sense]) -> list[str]:
    """Hold the tests against each other, by the efficiency ratio that each would need.

    Parameters
    ----------
    found : sequence of Sense
        From `make_sense`.

    Returns
    -------
    list of str
        A sentence for each configuration: which tests agree, or which contradict each other.

    Examples
    --------
    >>> rest = (1e3, 50.0, 0.0, 0.7, 0.8, "possible")
    >>> climb = Sense("climb_rate", "climb_1", "B", (1.05, 1.01, 1.09), *rest)
    >>> cruise = Sense("cruise_true_airspeed", "cruise_65", "B", (1.02, 0.98, 1.06), *rest)
    >>> print(agreement([climb, cruise])[0].split(". ")[-1])
    The tests do not contradict each other.
    """
    lines = []
    for name in dict.fromkeys(one.configuration for one in found):
        own = [one for one in found if one.configuration == name]
        kinds = {"takeoff_ground_roll": "take-off", "climb_rate": "climb"}
        tests: dict[str, list[Sense]] = {}
        for one in own:
            tests.setdefault(kinds.get(one.metric, "cruise"), []).append(one)
        if len(tests) < 2:
            continue
        spans = {
            test: (
                min(one.efficiency_ratio[1] for one in some),
                max(one.efficiency_ratio[2] for one in some),
            )
            for test, some in tests.items()
        }
        lines.append(_compared(name, spans))
    return lines


def _compared(name: str, spans: dict[str, tuple[float, float]]) -> str:
    """Words for the spans of efficiency ratio of one configuration's tests."""
    ranges = "; ".join(
        f"{test} {low:.2f} to {high:.2f}" for test, (low, high) in spans.items()
    )
    apart = [
        f"{one} and {other}"
        for place, (one, (low, high)) in enumerate(spans.items())
        for other, (least, most) in list(spans.items())[place + 1 :]
        if high < least or most < low
    ]
    begin = f"{name}: ratio of propulsive efficiency that each test alone would need: {ranges}."
    if not apart:
        return f"{begin} The tests do not contradict each other."
    return (
        f"{begin} One ratio does not explain {' nor '.join(apart)}. A propeller may well be better "
        "at one airspeed than at another; where that is not expected, look at airspeed, power and "
        "weight of the test that stands apart."
    )
