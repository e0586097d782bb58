"""How right a columns proposal is against the truth of an invented recording."""

from __future__ import annotations

from dataclasses import dataclass

from stdday.channels import CHANNELS, find_channel
from stdday.propose import header_of, propose_bytes
from stdday.propose_types import Proposal
from stdday.propose_units import channel_scale
from tests.recordings.shapes import Made


@dataclass(frozen=True)
class Score:
    """One recording's result."""

    shape: str
    channels: int                # channels with a name of their own that are in the file
    right: int
    asked: int                   # right ones among them that are asked about
    sure_wrong: tuple[str, ...]
    likely_wrong: tuple[str, ...]
    failures: tuple[str, ...]
    invented: tuple[str, ...]    # proposed, where the file has no such channel


def score(made: Made) -> Score:
    proposal = propose_bytes(made.content, "recording.csv")
    return scored(made, proposal)


def place_of(proposal: Proposal, made: Made, column: str) -> int:
    """Position of the column that a proposal names."""
    if column.startswith("#") and column[1:].isdigit():
        return int(column[1:]) - 1
    return header_of(proposal.layout, made.content, "recording.csv").names.index(column)


def scored(made: Made, proposal: Proposal) -> Score:
    found = {item.channel: item for item in proposal.channels}
    wanted = {name: truth for name, truth in made.truth.items() if name in CHANNELS}
    right, asked = 0, 0
    wrong: dict[str, list[str]] = {"sure": [], "likely": [], "ask": []}
    failures: list[str] = []
    for name, truth in made.truth.items():
        item = found.get(name)
        if item is None:
            if name in wanted:
                failures.append(f"{name}: not proposed")
            continue
        place = place_of(proposal, made, item.column)
        fault = _fault(name, item.unit, item.reference, place, truth)
        if not fault:
            right += name in wanted
            asked += name in wanted and item.confidence == "ask"
            continue
        wrong[item.confidence].append(f"{name}: {fault}")
        if name in wanted:
            failures.append(f"{name}: {fault} ({item.confidence})")
    extra = tuple(f"{name} ({item.confidence}): {item.column}" for name, item in found.items()
                  if name not in made.truth)
    wrong["sure"] += [text for text in extra if "(sure)" in text]
    return Score(made.shape.key, len(wanted), right, asked, tuple(wrong["sure"]),
                 tuple(wrong["likely"]), tuple(failures), extra)


def _fault(name: str, unit: str, reference: str | None, place: int,
           truth: list[tuple[int, str, str | None]]) -> str:
    channel = find_channel(name)
    assert channel is not None
    for wanted, its_unit, north in truth:
        if wanted != place:
            continue
        one, two = channel_scale(channel, unit), channel_scale(channel, its_unit)
        assert two is not None
        if one is None or abs(one[0] / two[0] - 1.0) > 1e-4 or abs(one[1] - two[1]) > 0.02:
            return f"unit {unit}, is {its_unit}"
        if reference is not None and reference != north:
            return f"reference {reference}, is {north}"
        return ""
    return f"column {place + 1}, is {', '.join(str(entry[0] + 1) for entry in truth)}"
