"""One flight after the other: read, searched for test points, thinned; the recording is let go.

What is left of a flight is a `Survey`, a few kilobytes whatever the length of the recording, so
that memory holds one recording at a time however many flights a campaign has.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from stdday.errors import CampaignError, Problem, StddayError
from stdday.points import Points, find_points, join_points
from stdday.recording import file_prints, flight_sources, read_cached, recording_facts
from stdday.recording_cache import cache_key
from stdday.recording_types import Finding, FloatArray, Recording, RowAccount

if TYPE_CHECKING:
    from stdday.campaign_types import Campaign
    from stdday.decisions import Decision
    from stdday.flight_rows import Flight
    from stdday.recording_part import FlightSource

__all__ = ["TRACE_CHANNELS", "TRACE_SAMPLES", "Survey", "SurveyTask", "lean_survey",
           "points_apart", "survey_recording", "survey_tasks"]

#: Samples kept of each flight for its picture, and of which channels.
TRACE_SAMPLES = 300
TRACE_CHANNELS = ("pressure_altitude", "indicated_airspeed", "ground_speed", "engine_speed")


@dataclass(frozen=True, eq=False)
class Survey:
    """What is kept of a flight once its recording has been let go.

    Parameters
    ----------
    flight : str
        Id of the flight.
    points : Points
        Test points found in it, with their state means and what was decided about them.
    trace_time_s : ndarray, shape (samples,)
        Times of the thinned recording [s since 1970-01-01 UTC], at most `TRACE_SAMPLES`.
    trace : dict of str to ndarray, each of shape (samples,)
        `TRACE_CHANNELS` at these times, SI; NaN where not recorded.
    channels : tuple of str
        Channels with at least one known sample.
    rows : RowAccount
        Every row of its files, used or set aside.
    findings : tuple of Finding
        What a person should know about the recording.
    sources : tuple of (str, str)
        Name and SHA-256 of each file.
    """

    flight: str
    points: Points
    trace_time_s: FloatArray
    trace: dict[str, FloatArray]
    channels: tuple[str, ...]
    rows: RowAccount
    findings: tuple[Finding, ...]
    sources: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class SurveyTask:
    """All that the survey of one flight depends on; small, so that it passes between processes.

    Parameters
    ----------
    source : FlightSource
        Its recordings.
    flight : Flight
        The flight.
    campaign : Campaign
        The campaign with this flight alone, and the airplane and airfield it names.
    decisions : tuple of Decision
        What a person decided about its points.
    prints : tuple of str
        Fingerprint of each of its files.
    """

    source: FlightSource
    flight: Flight
    campaign: Campaign
    decisions: tuple[Decision, ...]
    prints: tuple[str, ...]

    @property
    def folder(self) -> Path:
        """Cache of the campaign."""
        return self.campaign.folder / ".cache"

    @property
    def recording_key(self) -> str:
        """Key of the recording in the cache."""
        return cache_key(recording_facts(self.source, self.prints))

    @property
    def key(self) -> str:
        """Key of the survey in the cache.

        Lines of files are left out: a flight does not change when a row is added above its own.
        """
        one = self.campaign
        return cache_key({
            "recording": self.recording_key,
            "decisions": repr([replace(decision, row=0) for decision in self.decisions]),
            "entry": repr(replace(self.flight, row=0, logs=())),
            "reference": repr(one.reference),
            "named": repr([one.airplanes, one.configurations, one.airfields]),
        })

    def survey(self) -> Survey:
        """Read the flight, find its test points and let the recording go.

        Returns
        -------
        Survey

        Raises
        ------
        CampaignError
            A file cannot be read or searched.
        """
        recording = read_cached(self.source, self.folder, self.prints)
        try:
            found = find_points(recording, self.flight, self.campaign, self.decisions)
        except CampaignError:
            raise
        except StddayError as error:
            names = " and ".join(name for name, _ in self.source.logs)
            raise CampaignError([Problem(
                names, f"flight {self.flight.id}",
                "a recording that can be searched for test points", str(error),
                "mend the recording, or write no under use in flights.csv")]) from error
        return survey_recording(recording, found)


def survey_tasks(campaign: Campaign, decisions: Sequence[Decision] = ()) -> list[SurveyTask]:
    """Gather what the survey of each flight depends on.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    decisions : sequence of Decision, optional
        What a person decided.

    Returns
    -------
    list of SurveyTask
        In the order of the campaign; flights not used or without a recording are not in it.

    Raises
    ------
    CampaignError
        Every problem of every columns file.
    """
    flights = {flight.id: flight for flight in campaign.flights}
    mine: dict[str, list[Decision]] = {}
    for decision in decisions:
        mine.setdefault(decision.flight, []).append(decision)
    return [
        SurveyTask(source, flights[source.flight], _alone(campaign, flights[source.flight]),
                   tuple(mine.get(source.flight, ())), file_prints(source))
        for source in flight_sources(campaign)
    ]


def _alone(campaign: Campaign, flight: Flight) -> Campaign:
    """Give the campaign with one flight and what it names."""
    configuration = campaign.configurations[flight.configuration]
    named = configuration.airplane
    fields = {name: field for name, field in campaign.airfields.items() if name == flight.airfield}
    return replace(
        campaign, flights=(flight,), costs=(), airfields=fields,
        configurations={flight.configuration: configuration},
        airplanes={named: campaign.airplanes[named]})


def survey_recording(recording: Recording, found: Points) -> Survey:
    """Keep of a recording what tables and pictures need.

    Parameters
    ----------
    recording : Recording
        The recording.
    found : Points
        Test points in it.

    Returns
    -------
    Survey
        Holds no array of the recording, only samples taken out of it; never raises.

    Examples
    --------
    >>> from stdday.points import join_points
    >>> long = Recording("F1", np.arange(7200.0), {"ground_speed": np.zeros(7200)}, None, None,
    ...                  RowAccount(7200, 7200, {}), ())
    >>> kept = survey_recording(long, join_points([]))
    >>> kept.trace["ground_speed"].size, float(kept.trace_time_s[-1]), kept.channels
    (300, 7199.0, ('ground_speed',))
    """
    count = len(recording.time_s)
    places = np.unique(np.linspace(0, count - 1, min(count, TRACE_SAMPLES)).astype(int))
    unknown = np.full(len(places), np.nan)
    return Survey(
        recording.flight, found, recording.time_s[places],
        {name: recording.channels[name][places] if name in recording.channels else unknown
         for name in TRACE_CHANNELS},
        tuple(name for name, samples in recording.channels.items() if np.isfinite(samples).any()),
        recording.rows, recording.findings, recording.sources)


def points_apart(surveys: Mapping[str, Survey]) -> tuple[Points, dict[str, Survey]]:
    """Put the test points of all flights together, which take less memory so than each apart.

    Parameters
    ----------
    surveys : mapping of str to Survey
        By flight.

    Returns
    -------
    points : Points
        Test points of all flights, in this order; like texts are kept once.
    rest : dict of str to Survey
        The surveys without their points.
    """
    found = join_points(survey.points for survey in surveys.values())
    none = join_points([])
    return _lean(found), {name: replace(one, points=none) for name, one in surveys.items()}


def lean_survey(survey: Survey) -> Survey:
    """Keep like texts of a survey's points once, however it came to this process.

    Parameters
    ----------
    survey : Survey
        A survey.

    Returns
    -------
    Survey
        The same, smaller in memory; never raises.
    """
    return replace(survey, points=_lean(survey.points))


def _lean(found: Points) -> Points:
    return replace(found, table=_texts_once(found.table), segments=_texts_once(found.segments))


def _texts_once(table: pd.DataFrame) -> pd.DataFrame:
    """The same table, of which like texts are one object."""
    texts = [name for name in table.columns if pd.api.types.is_string_dtype(table[name])]
    return table.assign(**{name: table[name].map(sys.intern) for name in texts})
