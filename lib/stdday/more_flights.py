"""How many more flights would resolve a difference that is not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from stdday import how_many
from stdday.compare import EQUAL_WEIGHT, Effect
from stdday.errors import InputError
from stdday.how_many import Plan, Scatter

if TYPE_CHECKING:
    from stdday.campaign import Campaign
    from stdday.ledger import Reduced

__all__ = ["More", "more_flights"]

#: Words where no number of flights is told.
CONFOUNDED = (
    "more flights of the same kind do not resolve it: it is confounded; fly both configurations "
    "under similar conditions"
)
NOT_NAMED = "no difference that would matter is named: write it under [matters]"


@dataclass(frozen=True)
class More:
    """What it would take to resolve a difference.

    Parameters
    ----------
    effect : Effect
        The difference.
    scatter : Scatter
        How it scattered, SI.
    scatter_from : str
        What that was read from, in words.
    wanted : float or None
        Difference to be shown or excluded: what matters, SI; None where nothing was named.
    smallest : float
        Smallest true difference that the flights flown could show with 80 % power, SI.
    to_show, to_exclude : int or None
        Flights more with each configuration that show it, and that exclude it where there is none,
        with 80 % power each; None where 60 with each do not.
    cheapest : Plan or None
        Cheapest new plan that shows it; None where none does.
    words : str
        The same in words, without numbers that carry a unit.
    """

    effect: Effect
    scatter: Scatter
    scatter_from: str
    wanted: float | None
    smallest: float
    to_show: int | None
    to_exclude: int | None
    cheapest: Plan | None
    words: str


def more_flights(
    campaign: Campaign, effects: Sequence[Effect], reduced: Sequence[Reduced]
) -> list[More]:
    """Say for every difference that is not resolved how many more flights would resolve it.

    Parameters
    ----------
    campaign : Campaign
        Flights, periods and what matters.
    effects : sequence of Effect
        All differences.
    reduced : sequence of Reduced
        Corrected points.

    Returns
    -------
    list of More
        Only for differences at equal weight that have a value from two flights or more with each
        configuration and rest on scatter. Flights found by `stdday.how_many`, which asks the same
        procedure that judges.
    """
    points = {(one.metric, one.condition_id): one for one in reduced if len(one.points)}
    claims = sum(one.primary and one.difference is not None
                 and one.load_basis == EQUAL_WEIGHT for one in effects)  # fmt: skip
    found = []
    for effect in effects:
        if effect.verdict != "not resolved" or effect.load_basis != EQUAL_WEIGHT:
            continue
        known = effect.difference
        flights = min(len(effect.a.flights), len(effect.b.flights))
        if known is None or flights < 2 or np.isinf(known.dof):
            continue
        item = points.get((effect.b.metric, effect.b.condition_id))
        try:
            scatter, said = _scatter(campaign, effect, item)
        except InputError:
            continue
        found.append(_more(campaign, effect, scatter, said, claims if effect.primary else 1))
    return found


def _scatter(campaign: Campaign, effect: Effect, item: Reduced | None) -> tuple[Scatter, str]:
    """Scatter behind a difference, and what it was read from."""
    known = effect.difference
    assert known is not None
    block = np.sqrt(sum(size**2 for (name, _), size in effect.sensitivity.items()
                        if name == f"block {effect.b.metric}"))  # fmt: skip
    shared = np.sqrt(max(known.shared_sigma() ** 2 - block**2, 0.0))
    blocks = _blocks(campaign, effect)
    block /= np.sqrt(sum(1 / count for count in blocks))
    sizes = [len(one.flights) for one in (effect.a, effect.b)]
    if item is None or not effect.a.flight_values:
        flight = known.standard_error / np.sqrt(sum(1 / size for size in sizes))
        return (Scatter(float(flight), 0.0, float(block), float(shared)),
                "standard error of the fitted curves")  # fmt: skip
    flown = {flight.id: flight.configuration for flight in campaign.flights}
    names = (effect.a.configuration, effect.b.configuration)
    keep = [place for place, flight in enumerate(item.flights) if flown[flight] in names]
    own = [item.flights[place] for place in keep]
    seen = how_many.observed_scatter(item.values[0, keep], own, [flown[one] for one in own])
    return (Scatter(seen.flight, seen.point, float(block), float(shared)),
            "corrected points of these flights")  # fmt: skip


def _blocks(campaign: Campaign, effect: Effect) -> tuple[int, int]:
    """Periods with each of the two configurations."""
    by_id = {flight.id: flight.block for flight in campaign.flights}
    a, b = (len({by_id[one] for one in known.flights}) for known in (effect.a, effect.b))
    return a, b


def _more(
    campaign: Campaign, effect: Effect, scatter: Scatter, said: str, claims: int
) -> More:
    known = effect.difference
    assert known is not None
    sizes = (len(effect.a.flights), len(effect.b.flights))
    each = (len(effect.a.points) + len(effect.b.points)) / sum(sizes)
    points, blocks = max(1, round(each)), _blocks(campaign, effect)
    plan = Plan(sizes, points, blocks)
    wanted = effect.matters
    smallest = how_many.smallest_difference(scatter, plan, claims=claims)
    confounded = effect.reason.startswith("confounded")
    if wanted is None or confounded:
        words = CONFOUNDED if confounded else NOT_NAMED
        return More(effect, scatter, said, wanted, smallest, None, None, None, words)
    show = _added(plan, lambda one: float(how_many.power_of(wanted, scatter, one, claims)))
    exclude = _added(plan, lambda one: how_many.power_to_exclude(wanted, scatter, one))
    cheapest = how_many.cheapest_plan(wanted, scatter, claims=claims)
    return More(effect, scatter, said, wanted, smallest, show, exclude, cheapest,
                _words(show, exclude, cheapest))  # fmt: skip


def _added(plan: Plan, power: how_many.PowerOf) -> int | None:
    """Fewest flights more with each that reach 80 % power."""

    def enough(more: int) -> bool:
        flights = (plan.flights[0] + more, plan.flights[1] + more)
        return power(Plan(flights, plan.points, plan.blocks)) >= how_many.POWER

    return how_many.fewest(enough, 0, how_many.MOST_FLIGHTS)


def _words(
    show: int | None, exclude: int | None, cheapest: Plan | None
) -> str:
    """What it would take, in words."""
    parts = [_said(show, "to show a difference that matters"),
             _said(exclude, "to exclude one where there is none")]  # fmt: skip
    if cheapest and sum(cheapest.blocks) > 2 and show is None:
        parts.append("changing back and forth between configurations would do it")
    return "; ".join(parts)


def _said(more: int | None, purpose: str) -> str:
    if more is None:
        return (
            f"{how_many.MOST_FLIGHTS} more flights with each are not enough {purpose}: what they "
            "share is too uncertain, so mend the largest line of the budget"
        )
    if more == 0:
        return f"as many flights as were flown suffice four times in five {purpose}"
    return f"{more} more {'flight' if more == 1 else 'flights'} with each {purpose}"
