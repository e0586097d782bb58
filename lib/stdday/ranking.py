"""An order of several configurations, only as far as differences support it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from stdday.compare import Effect

__all__ = ["supported"]


def supported(effects: Sequence[Effect]) -> dict[tuple[str, str], str]:
    """Say which configurations are shown to have more than others, and which are not told apart.

    Parameters
    ----------
    effects : sequence of Effect
        Differences of every pair, judged.

    Returns
    -------
    dict of (metric, condition id) to str
        Such as ``A < B shown; A and C, B and C not told apart``; never an order of estimates.

    Examples
    --------
    >>> from stdday.compare import Effect
    >>> from stdday.outcome import Outcome
    >>> a, b = (Outcome("climb_rate", "climb_1", "", name, None) for name in "AB")
    >>> supported([Effect(a, b, None, None, False)])
    {('climb_rate', 'climb_1'): 'A and B not told apart'}
    """
    found: dict[tuple[str, str], tuple[list[str], list[str]]] = {}
    for effect in effects:
        shown, open_ = found.setdefault((effect.b.metric, effect.b.condition_id), ([], []))
        pair = (effect.a.configuration, effect.b.configuration)
        if effect.difference is not None and effect.verdict == "shown":
            less, more = pair if effect.difference.value > 0 else pair[::-1]
            shown.append(f"{less} < {more}")
        else:
            open_.append(" and ".join(pair))
    return {
        key: "; ".join(
            f"{', '.join(pairs)} {words}"
            for pairs, words in ((shown, "shown"), (open_, "not told apart"))
            if pairs
        )
        for key, (shown, open_) in found.items()
    }
