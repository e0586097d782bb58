"""Runway required against runway available, from a campaign's own take-offs. Not approved data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from stdday import atmosphere, engine, takeoff, units
from stdday.takeoff_handbook import EXPONENT_SIGMA
from stdday.throttle import TORQUE_EXPONENT

if TYPE_CHECKING:
    from stdday.campaign import Airplane, Campaign, Reference
    from stdday.ledger import Reduced
    from stdday.outcome import Outcome

__all__ = ["CAUTION", "PUBLIC_FACTORS", "SAFETY_FACTOR", "Margin", "MarginDay", "takeoff_margin"]

#: What is said beside every margin.
CAUTION = (
    "Not approved data: measured with this airplane by its pilots, without any credit for wind. "
    "The flight manual and the rules of the air count. Whether the runway is enough is for the "
    "pilot in command to decide."
)
_LEAFLET = "UK CAA Safety Sense Leaflet 7c (January 2013), factor table, from memory"
#: Public factors on the distance to 50 ft: factor, for this much more, and where it is from.
PUBLIC_FACTORS: dict[str, tuple[float, float, str]] = {
    "weight": (1.20, 0.10, f"{_LEAFLET}: 10 % of weight"),
    "altitude": (1.10, 304.8, f"{_LEAFLET}: 1000 ft of elevation"),
    "temperature": (1.10, 10.0, f"{_LEAFLET}: 10 degC, here against the standard temperature"),
    "slope": (1.10, 0.02, f"{_LEAFLET}: 2 % uphill"),
}
#: General safety factor of the same table [-].
SAFETY_FACTOR = 1.33
#: Ours and the public factor disagree where they are farther apart than this share [-]: public
#: sources themselves differ by about so much (1.20 to 1.28 for 10 % of weight).
DISAGREEMENT = 0.10
#: Beyond the flown weights by this share [-], and beyond the flown density altitudes by this much
#: [m], exponents are not good for anything: 10 % and 3000 ft. Common practice.
WEIGHT_REACH, ALTITUDE_REACH_M = 0.10, 914.4
#: Steepest runway that is answered for [-].
STEEPEST = 0.03


@dataclass(frozen=True)
class MarginDay:
    """A take-off that is asked about.

    Parameters
    ----------
    weight_kg : float
        Take-off weight [kg].
    pressure_altitude_m, temperature_k : float
        Pressure altitude of the field [m] and temperature [K].
    slope : float
        Slope of the runway in the direction of take-off, positive uphill [-].
    surface : str
        Surface, in the words of the campaign.
    available_m : float
        Length available [m].

    Examples
    --------
    >>> MarginDay(600.0, 300.0, 293.15, 0.0, "paved, dry", 600.0).available_m
    600.0
    """

    weight_kg: float
    pressure_altitude_m: float
    temperature_k: float
    slope: float
    surface: str
    available_m: float


@dataclass(frozen=True)
class Margin:
    """Runway required against runway available; distances [m], NaN where refused.

    Parameters
    ----------
    configuration, metric : str
        What it is for: the distance to 50 ft, or the ground roll where there is no more.
    required_m, low_m, high_m : float
        Distance required and its 95 % interval [m].
    available_m : float
        Length available [m].
    with_safety_factor_m : float
        Upper end of the interval times the public safety factor [m].
    factor, public_factor : float
        Required distance over that of the reference day, ours and the public one [-].
    steps : tuple of (str, float, float, str)
        Each change: name, our factor, public factor [-], and the standing of both.
    reason : str
        Why there is no number; empty where there is.
    words : tuple of str
        What to say beside it; the caution is always the last.

    Examples
    --------
    >>> Margin("A", "takeoff_ground_roll", 300.0, 280.0, 320.0, 600.0, 425.6, 1.2, 1.2).share
    0.5
    """

    configuration: str
    metric: str
    required_m: float
    low_m: float
    high_m: float
    available_m: float
    with_safety_factor_m: float
    factor: float
    public_factor: float
    steps: tuple[tuple[str, float, float, str], ...] = ()
    reason: str = ""
    words: tuple[str, ...] = (CAUTION,)

    @property
    def share(self) -> float:
        """Required over available length [-]."""
        return self.required_m / self.available_m


def takeoff_margin(
    campaign: Campaign,
    outcomes: Sequence[Outcome],
    reduced: Sequence[Reduced],
    configuration: str,
    day: MarginDay,
) -> Margin:
    """Runway that a configuration requires on a day, against what is available.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    outcomes : sequence of Outcome
        Its values.
    reduced : sequence of Reduced
        Its corrected points, for the conditions that were flown.
    configuration : str
        Configuration.
    day : MarginDay
        Weight, air, slope, surface and length available.

    Returns
    -------
    Margin
        Without a number, and with the reason, where the campaign's take-offs do not carry one.

    Notes
    -----
    From the corrected distance and its interval by handbook exponents of weight, density, engine
    speed and power (lift-off at one share over the stall), slope by energy; the exponents' own
    uncertainty widens the interval. No credit for a headwind; a tailwind is not answered for.
    """
    airplane = campaign.airplanes[campaign.configurations[configuration].airplane]
    reference = campaign.reference_for(airplane.id)
    found = {o.metric: o.estimate for o in outcomes
             if o.configuration == configuration and o.estimate is not None}  # fmt: skip
    metric = next((name for name in ("takeoff_distance_50ft", "takeoff_ground_roll")
                   if name in found), "")  # fmt: skip
    reason = _refusal(campaign, reference, reduced, configuration, day)
    if not metric or reason:
        nothing = float("nan")
        reason = "no corrected take-off of this configuration" if not metric else reason
        return Margin(configuration, metric or "takeoff_ground_roll", nothing, nothing, nothing,
                      day.available_m, nothing, nothing, nothing, reason=reason)  # fmt: skip
    estimate = found[metric]
    roll_m = found.get("takeoff_ground_roll", estimate).value
    control = campaign.configurations[configuration].propeller.control
    steps, sigma = _steps(airplane, reference, control, day, roll_m / estimate.value, roll_m)
    factor = float(np.prod([ours for _, ours, _, _ in steps]))
    public = float(np.prod([theirs for _, _, theirs, _ in steps]))
    value = estimate.value * factor
    low, high = (factor * end for end in estimate.interval())
    wider = 1.96 * sigma * value
    low, high = value - np.hypot(value - low, wider), value + np.hypot(high - value, wider)
    return Margin(configuration, metric, value, float(low), float(high), day.available_m,
                  float(high) * SAFETY_FACTOR, factor, public, tuple(steps), "",
                  _words(metric, float(high), factor, public, day))  # fmt: skip


def _refusal(
    campaign: Campaign,
    reference: Reference,
    reduced: Sequence[Reduced],
    configuration: str,
    day: MarginDay,
) -> str:
    """Why the campaign's take-offs do not carry a number for that day; empty where they do."""
    asked, own = ({part.strip().casefold() for part in text.split(",")}
                  for text in (day.surface, reference.runway_surface))  # fmt: skip
    if asked != own:
        return (
            f"surface {day.surface!r}: only {reference.runway_surface!r} was flown, and surfaces "
            "are never pooled; fly take-offs from it as a campaign of its own"
        )
    if abs(day.slope) > STEEPEST:
        return f"slope {100 * day.slope:+.1f} %: at most {100 * STEEPEST:.0f} % is answered for"
    by_id = {flight.id: flight.configuration for flight in campaign.flights}
    roll = next((item for item in reduced if item.metric == "takeoff_ground_roll"), None)
    mine = [by_id[name] == configuration for name in roll.flights] if roll else []
    if roll is None or not any(mine):
        return "no corrected take-off of this configuration"
    weights = roll.conditions["weight_kg"][mine]
    low, high = weights.min() * (1 - WEIGHT_REACH), weights.max() * (1 + WEIGHT_REACH)
    if not low <= day.weight_kg <= high:
        return (
            f"weight {day.weight_kg:.0f} kg: {weights.min():.0f} to {weights.max():.0f} kg were "
            f"flown, which carries {low:.0f} to {high:.0f} kg"
        )
    heights = roll.conditions["density_altitude_m"][mine]
    asked_m = float(atmosphere.density_altitude_m(_density(day)))
    if not heights.min() - ALTITUDE_REACH_M <= asked_m <= heights.max() + ALTITUDE_REACH_M:
        feet = [float(units.from_si(height, "ft", "length"))
                for height in (asked_m, heights.min(), heights.max())]  # fmt: skip
        return (
            f"density altitude {feet[0]:.0f} ft: {feet[1]:.0f} to {feet[2]:.0f} ft were flown, "
            "and exponents carry 3000 ft beyond"
        )
    return ""


def _density(day: MarginDay) -> float:
    pressure = atmosphere.standard_pressure_pa(day.pressure_altitude_m)
    return float(atmosphere.density_kg_m3(pressure, day.temperature_k))


def _steps(
    airplane: Airplane,
    reference: Reference,
    control: str,
    day: MarginDay,
    ground_share: float,
    roll_m: float,
) -> tuple[list[tuple[str, float, float, str]], float]:
    """Each change with our factor and the public one, and one sigma of the product [-]."""
    table = takeoff.EXPONENT_SETS[control]
    altitude = reference.takeoff_pressure_altitude_m
    standard = float(atmosphere.standard_temperature_k(altitude)) + reference.temperature_offset_k
    there = MarginDay(0.0, altitude, standard, 0.0, "", 0.0)
    density = _density(day) / _density(there)
    power = _lapse(airplane, day) / _lapse(airplane, there)
    turns = 1.0
    if control == "fixed pitch":  # torque of the engine against the propeller's
        turns = (power / density) ** (1.0 / (3.0 - TORQUE_EXPONENT))
        power *= turns**TORQUE_EXPONENT
    given = airplane.takeoff_exponents or {}
    ratios = {"weight": day.weight_kg / reference.weight_kg, "density": density,
              "engine_speed": turns, "power": power}  # fmt: skip
    exponent = {name: float(given.get(name, getattr(table, name))) for name in ratios}
    factors = {name: ratio ** exponent[name] for name, ratio in ratios.items()}
    sigma = np.sqrt(
        sum((EXPONENT_SIGMA[name] * np.log(ratio)) ** 2 for name, ratio in ratios.items()
            if exponent[name])
    )  # fmt: skip
    air = factors["density"] * factors["engine_speed"] * factors["power"]
    warmer = day.temperature_k - float(atmosphere.standard_temperature_k(day.pressure_altitude_m))
    steps = [
        ("weight", factors["weight"], _public("weight", ratios["weight"] - 1), table.standing),
        ("air and power", air, _public("altitude", day.pressure_altitude_m - altitude)
         * _public("temperature", warmer - reference.temperature_offset_k), table.standing),
        _slope(reference, day, ground_share, roll_m * factors["weight"] * air),
    ]  # fmt: skip
    return steps, float(sigma)


def _slope(
    reference: Reference, day: MarginDay, ground_share: float, roll_m: float
) -> tuple[str, float, float, str]:
    """Step of the slope: by energy, on the ground roll alone."""
    true = reference.liftoff_airspeed_ms * np.sqrt(
        day.weight_kg / reference.weight_kg * atmosphere.SEA_LEVEL_DENSITY_KG_M3 / _density(day)
    )
    level = takeoff.level_runway_ground_roll_m(roll_m, reference.runway_slope, true)
    ratio = float(takeoff.sloped_runway_ground_roll_m(level, day.slope, true)) / roll_m
    ours = 1 + ground_share * (ratio - 1)
    public = _public("slope", max(day.slope - reference.runway_slope, 0.0))
    return "slope", ours, public, "energy of the climb along the runway"


def _lapse(airplane: Airplane, day: MarginDay) -> float:
    """Full-throttle power over that of the standard day at sea level [-]."""
    if airplane.induction == "turbocharged":
        return 1.0
    pressure = atmosphere.standard_pressure_pa(day.pressure_altitude_m)
    return float(engine.full_throttle_ratio(pressure, day.temperature_k))


def _public(name: str, more: float) -> float:
    """Public factor for so much more, compounded [-]."""
    factor, for_each, _ = PUBLIC_FACTORS[name]
    return float(factor ** (more / for_each))


def _words(
    metric: str, high_m: float, factor: float, public: float, day: MarginDay
) -> tuple[str, ...]:
    """What to say beside a margin."""
    words = []
    if metric == "takeoff_ground_roll":
        words.append("ground roll alone: no distance to 50 ft was measured; obstacles not covered")
    if high_m > day.available_m:
        words.append("the upper end of the interval is longer than what is available")
    elif high_m * SAFETY_FACTOR > day.available_m:
        words.append(f"less than the public safety factor of {SAFETY_FACTOR} is left")
    if abs(factor / public - 1) > DISAGREEMENT:
        words.append(
            f"measured data corrected by x {factor:.2f} where public factors give x {public:.2f}: "
            "they disagree by more than 10 %; take the longer one"
        )
    return (*words, CAUTION)
