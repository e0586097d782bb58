"""Errors that say what was needed, what was found, and how to mend it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

__all__ = ["CampaignError", "InputError", "Problem", "StddayError"]


class StddayError(Exception):
    """Base of every error that the workbook raises on purpose.

    Its text is meant for the person at the keyboard: it is shown as it stands, without a traceback.
    """


class InputError(StddayError, ValueError):
    """A value handed to a function is outside of what the function can answer for.

    The message names the argument with its unit, what it must be, what was given and where, and
    how to mend it where that is known.
    """


@dataclass(frozen=True)
class Problem:
    """One thing wrong (or costly) in the files of a campaign.

    Parameters
    ----------
    file : str
        File name relative to the campaign folder, such as ``flights.csv``.
    where : str
        Key path, line, row or column, such as ``line 7, airplane.one.wing_area``; may be empty.
    needed : str
        What was needed there.
    found : str
        What was found instead.
    mend : str
        How to mend it.
    level : {"error", "cost"}
        ``error`` stops a run; ``cost`` says what an absent entry makes impossible or wider.

    Examples
    --------
    >>> print(Problem("flights.csv", "line 3, takeoff_weight", "a weight", "'heavy'", "write 585"))
    flights.csv: line 3, takeoff_weight: needed a weight; found 'heavy'. Mend: write 585.
    """

    file: str
    where: str
    needed: str
    found: str
    mend: str
    level: Literal["error", "cost"] = "error"

    def __str__(self) -> str:
        """One line: file, place, needed, found, mend."""
        place = f"{self.file}: {self.where}" if self.where else self.file
        mend = self.mend.rstrip(".")
        return f"{place}: needed {self.needed}; found {self.found}. Mend: {mend}."


class CampaignError(StddayError):
    """Everything wrong with a campaign, found in one pass.

    Parameters
    ----------
    problems : sequence of Problem
        At least one problem.

    Examples
    --------
    >>> error = CampaignError([Problem("campaign.toml", "", "the file", "nothing", "make one")])
    >>> str(error)
    'campaign.toml: needed the file; found nothing. Mend: make one.'
    """

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def __reduce__(self) -> tuple[type[CampaignError], tuple[tuple[Problem, ...]]]:
        """Keep the problems whole on the way from another process."""
        return CampaignError, (self.problems,)
