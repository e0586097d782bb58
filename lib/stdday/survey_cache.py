"""Surveys of flights kept in the campaign's ``.cache`` folder, beside the recordings.

An entry is a line with the fingerprint of the rest, and the rest as JSON: numbers come back to the
last bit. Its name is the fingerprint of all that the survey depends on. An entry that is damaged is
passed over and written anew.
"""

from __future__ import annotations

import hashlib
import json
import sys
from collections.abc import Sequence
from dataclasses import astuple, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from stdday.points import Points
from stdday.recording_cache import DAMAGE, write_whole
from stdday.recording_types import Finding, RowAccount
from stdday.survey import Survey

if TYPE_CHECKING:
    from stdday.decisions import Decision

__all__ = ["SurveyEntry"]


@dataclass(frozen=True)
class SurveyEntry:
    """Place of one survey in the cache.

    Parameters
    ----------
    folder : Path
        The cache.
    key : str
        As `stdday.recording_cache.cache_key` gives it.

    Examples
    --------
    >>> SurveyEntry(Path("no such folder"), "00").load(()) is None
    True
    """

    folder: Path
    key: str

    @property
    def path(self) -> Path:
        """File of the entry."""
        return self.folder / f"survey-{self.key[:40]}.json"

    def load(self, decisions: Sequence[Decision]) -> Survey | None:
        """Read the entry.

        Parameters
        ----------
        decisions : sequence of Decision
            Decisions about the flight: those that the survey was made with, at whatever line of
            their file they now are.

        Returns
        -------
        Survey or None
            None where there is none, or it is damaged; never raises.
        """
        try:
            print_, _, body = self.path.read_bytes().partition(b"\n")
            if hashlib.sha256(body).hexdigest().encode() != print_:
                return None
            content = json.loads(body)
            return _survey(content, decisions) if content["key"] == self.key else None
        except DAMAGE:
            return None

    def save(self, survey: Survey, decisions: Sequence[Decision]) -> None:
        """Write the entry beside its place and put it there whole.

        Parameters
        ----------
        survey : Survey
            What to keep.
        decisions : sequence of Decision
            Decisions that it was made with; never raises.
        """
        content = {"key": self.key} | _content(survey, decisions)
        body = json.dumps(content, separators=(",", ":")).encode()
        print_ = hashlib.sha256(body).hexdigest().encode()
        write_whole(self.path, lambda file: file.write(print_ + b"\n" + body))


def _content(survey: Survey, decisions: Sequence[Decision]) -> dict[str, object]:
    """Everything of a survey as plain values; decisions by their place."""
    places = {id(decision): place for place, decision in enumerate(decisions)}
    found = survey.points
    return {
        "flight": survey.flight,
        "table": _columns(found.table),
        "segments": _columns(found.segments),
        "orphans": [places[id(decision)] for decision in found.orphans],
        "decided": {point: places[id(decision)] for point, decision in found.decided.items()},
        "trace_time_s": survey.trace_time_s.tolist(),
        "trace": {name: samples.tolist() for name, samples in survey.trace.items()},
        "channels": list(survey.channels),
        "rows": [survey.rows.in_file, survey.rows.used, dict(survey.rows.set_aside)],
        "findings": [astuple(item) for item in survey.findings],
        "sources": [list(pair) for pair in survey.sources],
    }


def _columns(frame: pd.DataFrame) -> list[list[object]]:
    """Name, type and values of each column."""
    return [[str(name), str(frame[name].dtype), frame[name].tolist()] for name in frame.columns]


def _frame(columns: list[list[Any]]) -> pd.DataFrame:
    """Make a frame from its columns, in the types they had; like texts are one object."""
    return pd.DataFrame({name: pd.array([*map(sys.intern, values)], dtype="str") if kind == "str"
                         else np.array(values, dtype=kind) for name, kind, values in columns})


def _survey(content: dict[str, Any], decisions: Sequence[Decision]) -> Survey:
    """Make a survey from an entry; what does not fit together raises."""
    found = Points(
        _frame(content["table"]), _frame(content["segments"]),
        tuple(decisions[place] for place in content["orphans"]),
        {point: decisions[place] for point, place in content["decided"].items()})
    in_file, used, set_aside = content["rows"]
    return Survey(
        content["flight"], found, np.array(content["trace_time_s"], dtype=float),
        {name: np.array(samples, dtype=float) for name, samples in content["trace"].items()},
        tuple(content["channels"]), RowAccount(in_file, used, set_aside),
        tuple(Finding(*item) for item in content["findings"]),
        tuple((name, sha256) for name, sha256 in content["sources"]))
