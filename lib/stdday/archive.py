"""All flights of a campaign surveyed, by one process or several, through the cache.

However many there are, each process holds one recording at a time and what goes between processes
is small. The surveys are the same for any number of processes, out of the cache or not.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from stdday.errors import CampaignError, Problem
from stdday.recording_cache import CacheEntry, prune_cache
from stdday.survey import Survey, SurveyTask, lean_survey, survey_tasks
from stdday.survey_cache import SurveyEntry
from stdday.workers import Workers

if TYPE_CHECKING:
    from stdday.campaign_types import Campaign
    from stdday.decisions import Decision

__all__ = ["much_to_read", "survey_all"]

#: Below this [bytes of recordings still to read] processes take longer to start than they save: one
#: flight of 1 h at 1 Hz is 0.4 MB and takes 0.1 s, two processes start in 0.8 s.
POOL_BYTES = 8_000_000
#: A packed recording holds about so many times its size [-].
_PACKING = 8

#: A survey, or the problems for which there is none.
_Done = Survey | tuple[Problem, ...]


def survey_all(
    campaign: Campaign,
    decisions: Sequence[Decision] = (),
    workers: Workers | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> dict[str, Survey]:
    """Read and search the recordings of all flights that are used, through the cache.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    decisions : sequence of Decision, optional
        What a person decided about test points.
    workers : Workers, optional
        Processes; they are started where there is enough to read to be worth it.
    progress : callable, optional
        Told after each flight how many are done, of how many.

    Returns
    -------
    dict of str to Survey
        By flight, in the order of the campaign; flights without a recording are not in it.

    Raises
    ------
    CampaignError
        Every problem of every flight.
    StddayError
        A process was ended from outside.
    """
    tasks = survey_tasks(campaign, decisions)
    tell = progress if progress is not None else _silent
    tell(0, len(tasks))
    done: dict[str, _Done] = {}
    for task in tasks:
        known = SurveyEntry(task.folder, task.key).load(task.decisions)
        if known is not None:
            done[task.flight.id] = known
            tell(len(done), len(tasks))
    waiting = [task for task in tasks if task.flight.id not in done]
    pays = _work_bytes(waiting) >= POOL_BYTES
    for place, result in (workers or Workers()).each(_survey, waiting, pays):
        done[waiting[place].flight.id] = (
            lean_survey(result) if isinstance(result, Survey) else result
        )
        tell(len(done), len(tasks))
    found = {task.flight.id: done[task.flight.id] for task in tasks}
    problems = [problem for result in found.values() for problem in _problems(result)]
    if problems:
        raise CampaignError(problems)
    _prune(campaign, tasks)
    return {flight: result for flight, result in found.items() if isinstance(result, Survey)}


def _problems(result: _Done) -> tuple[Problem, ...]:
    """Problems of a flight that could not be surveyed."""
    return () if isinstance(result, Survey) else result


def much_to_read(folder: Path) -> bool:
    """Whether a campaign surely holds more unread recordings than one process should read alone.

    Looks at sizes alone, before anything is read, so that processes start while it is.

    Parameters
    ----------
    folder : Path
        Folder of the campaign.

    Returns
    -------
    bool
        False where it cannot be told; never raises.

    Examples
    --------
    >>> much_to_read(Path("no such folder"))
    False
    """
    logs = [path for path in folder.glob("logs/*") if path.is_file()]
    known = sum(1 for _ in folder.glob(".cache/survey-*"))
    return known < len(logs) / 2 and sum(map(_text_bytes, logs)) / 2 >= POOL_BYTES


def _silent(done: int, total: int) -> None:
    """Tell nobody."""


def _work_bytes(tasks: Sequence[SurveyTask]) -> int:
    """About how much is to be read [bytes of text]."""
    return sum(_text_bytes(path) for task in tasks for _, path in task.source.logs)


def _text_bytes(path: Path) -> int:
    """About how much text a recording holds [bytes]; none where it is not there."""
    packed = path.suffix.lower() in (".gz", ".zip")
    return path.stat().st_size * (_PACKING if packed else 1) if path.is_file() else 0


def _prune(campaign: Campaign, tasks: Sequence[SurveyTask]) -> None:
    """Delete what no flight of the campaign has any more from the cache."""
    folder = campaign.folder / ".cache"
    stay = {SurveyEntry(folder, task.key).path.name for task in tasks}
    prune_cache(folder, stay | {CacheEntry(folder, task.recording_key).path.name for task in tasks})


# ---- one flight ----------------------------------------------------------------------------------


def _survey(task: SurveyTask) -> _Done:
    """Survey a flight and keep it in the cache; problems come back as values."""
    try:
        survey = task.survey()
    except CampaignError as error:
        return error.problems
    if tuple(sha256 for _, sha256 in survey.sources) == task.prints:    # not changed meanwhile
        SurveyEntry(task.folder, task.key).save(survey, task.decisions)
    return survey
