"""How an answer moves: what corrections explain of it, and what it takes on trust."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from stdday import atmosphere, budget, units
from stdday.balance import CONDITIONS
from stdday.compare import EQUAL_WEIGHT, Effect
from stdday.metrics import METRICS

if TYPE_CHECKING:
    from stdday.campaign import Campaign, Reference
    from stdday.ledger import Reduced

__all__ = ["Explained", "Extrapolated", "Moved", "explained", "extrapolated", "moved"]

#: A movement smaller than this share of the half-width is not listed [-].
LEAST_MOVE = 0.02
#: Steps of the ledger that are a cross-check and change nothing.
_CHECK = "cross-check"


@dataclass(frozen=True)
class Explained:
    """A difference before and after corrections.

    Parameters
    ----------
    effect : Effect
        The difference.
    raw, corrected : float
        Difference of the flight means as recorded, and after all steps, SI.
    steps : dict of str to float
        What each step adds to the difference, SI.
    share : float
        Share of the raw difference that corrections explain [-]: 1 where they explain all of it,
        negative where they make it larger; NaN where the raw difference is smaller than half of
        the corrected interval, which such a share would not carry.
    """

    effect: Effect
    raw: float
    corrected: float
    steps: dict[str, float]
    share: float

    @property
    def words(self) -> str:
        """What corrections do to the difference, in words."""
        if not np.isfinite(self.share):
            larger = abs(self.corrected - self.raw) > abs(self.raw)
            return (
                "the recorded difference is smaller than half of the interval, so that no share of "
                "it is told" + ("; corrections are larger than it" if larger else "")
            )
        if self.share < 0:
            return "corrections make the recorded difference larger"
        if self.share <= 1:
            return f"corrections explain {100 * self.share:.0f} % of the recorded difference"
        return "corrections turn the recorded difference around"


def explained(
    campaign: Campaign, effects: Sequence[Effect], reduced: Sequence[Reduced]
) -> list[Explained]:
    """Set raw beside corrected differences of flight means.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    effects : sequence of Effect
        Differences at equal weight.
    reduced : sequence of Reduced
        Corrected points with their ledger.

    Returns
    -------
    list of Explained
        For metrics of flight means; curves have no raw difference. `raw` and `corrected` are NaN
        never: differences whose points carry no ledger are left out.
    """
    flown = {flight.id: flight.configuration for flight in campaign.flights}
    ledgers = {(one.metric, one.condition_id): one for one in reduced if len(one.ledger)}
    found = []
    for effect in effects:
        item = ledgers.get((effect.b.metric, effect.b.condition_id))
        if effect.difference is None or item is None or effect.load_basis != EQUAL_WEIGHT:
            continue
        if effect.a.flight_values and effect.b.flight_values:
            found.append(_explained(effect, item, flown))
    return found


def _explained(effect: Effect, item: Reduced, flown: Mapping[str, str]) -> Explained:
    metric = METRICS[item.metric]
    own = item.ledger[item.ledger["unit"] == metric.unit]
    own = own[~own["step"].str.startswith(_CHECK)]
    flight_of = dict(zip(item.points, item.flights, strict=True))
    rows = own.assign(flight=own["point"].map(flight_of))
    rows = rows[rows["quantity"] == rows["quantity"].iloc[-1]]
    names = (effect.a.configuration, effect.b.configuration)

    def between(values: pd.Series) -> float:
        means = values.groupby(rows.loc[values.index, "flight"]).mean()
        each = means.groupby(means.index.map(flown)).mean()
        size = units.from_si(np.array([1.0, 0.0]), metric.unit, metric.dimension)
        return float((each[names[1]] - each[names[0]]) / (size[0] - size[1]))

    raw = between(rows.groupby("point", sort=False)["before"].head(1))
    last = between(rows.groupby("point", sort=False)["after"].tail(1))
    steps = {str(step): between(some["change"]) for step, some in rows.groupby("step", sort=False)}
    assert effect.difference is not None
    low, high = effect.difference.interval()
    carried = abs(raw) > (high - low) / 2
    return Explained(effect, raw, last, steps, (raw - last) / raw if carried else float("nan"))


@dataclass(frozen=True)
class Moved:
    """A difference with one thing that a correction takes on trust moved by one sigma.

    Parameters
    ----------
    effect : Effect
        The difference.
    source : str
        What is moved, in words.
    size : float
        How far it moves the difference, SI, positive.
    ends : tuple of float
        The difference moved either way, SI.
    turns : bool
        Whether its 95 % interval, so moved, holds zero where it did not, or the reverse.
    mend : str
        What would make it matter less.
    """

    effect: Effect
    source: str
    size: float
    ends: tuple[float, float]
    turns: bool
    mend: str


def moved(effects: Sequence[Effect], kinds: Mapping[str, str]) -> list[Moved]:
    """Move each parameter of the corrections by one sigma.

    Parameters
    ----------
    effects : sequence of Effect
        Differences with their sensitivities.
    kinds : mapping of str to str
        Kind of each error by the name of its draw.

    Returns
    -------
    list of Moved
        Largest first for each difference; what moves it by less than a fiftieth of the half-width
        is left out. The interval is carried along unchanged.

    Examples
    --------
    >>> moved([], {"rolling friction": "parameter"})
    []
    """
    names = frozenset(name for name, kind in kinds.items() if kind == "parameter")
    found = []
    for effect in effects:
        known = effect.difference
        if known is None:
            continue
        low, high = known.interval()
        for source, size, mend in budget.by_source(effect.sensitivity, names):
            if size < LEAST_MOVE * (high - low) / 2:
                break
            excluded = low > 0 or high < 0
            turns = any((low + step > 0 or high + step < 0) != excluded for step in (-size, size))
            ends = (known.value - size, known.value + size)
            found.append(Moved(effect, source, size, ends, turns, mend))
    return found


@dataclass(frozen=True)
class Extrapolated:
    """A condition in which the reference lies outside of what was flown.

    Parameters
    ----------
    metric, condition_id, configuration, condition : str
        Which points, and the condition as in `stdday.balance.CONDITIONS`.
    least, greatest, reference : float
        Ends of the flight means, and the reference condition, SI.
    beyond : float
        How far the reference lies outside, SI.
    """

    metric: str
    condition_id: str
    configuration: str
    condition: str
    least: float
    greatest: float
    reference: float
    beyond: float


def extrapolated(campaign: Campaign, reduced: Sequence[Reduced]) -> list[Extrapolated]:
    """Find corrections that carry results farther than one band beyond what was flown.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    reduced : sequence of Reduced
        Corrected points with the conditions they were flown in.

    Returns
    -------
    list of Extrapolated
        Only where the reference condition lies outside of the range of flight means by more than
        the limit of that condition in `stdday.balance.CONDITIONS`.
    """
    flown = {flight.id: flight.configuration for flight in campaign.flights}
    found: dict[tuple[str, ...], Extrapolated] = {}
    for item in reduced:
        owners = np.array([flown[flight] for flight in item.flights])
        flights = np.array(item.flights)
        for name, values in item.conditions.items():
            for wanted in dict.fromkeys(owners):
                names = dict.fromkeys(flights[owners == wanted])
                means = [float(np.mean(values[flights == one])) for one in names]
                at = _reference(campaign.reference_of(wanted), item.condition_id, name)
                beyond = max(at - max(means), min(means) - at)
                if beyond > CONDITIONS[name][4]:
                    key = (item.metric, item.condition_id, str(wanted), name)
                    found[key] = Extrapolated(*key, min(means), max(means), at, beyond)
    return list(found.values())


def _reference(reference: Reference, condition_id: str, name: str) -> float:
    """Reference value of a condition: calm, dry air of the reference day."""
    kind, _, which = condition_id.partition("_")
    if kind == "climb":
        altitude = reference.climb_pressure_altitudes_m[int(which) - 1]
    elif kind == "cruise":
        altitude = reference.cruise_pressure_altitude_m
    else:
        altitude = reference.takeoff_pressure_altitude_m
    warm = float(atmosphere.standard_temperature_k(altitude)) + reference.temperature_offset_k
    density = atmosphere.density_kg_m3(atmosphere.standard_pressure_pa(altitude), warm)
    return {
        "weight_kg": reference.weight_kg,
        "density_altitude_m": float(atmosphere.density_altitude_m(density)),
        "temperature_k": warm,
        "vapour_pressure_pa": 0.0,
        "headwind_ms": 0.0,
    }[name]
