"""One command from raw files to results: survey every flight, correct, compare, write."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from stdday import store, units
from stdday.archive import much_to_read, survey_all
from stdday.balance import balance_table
from stdday.campaign import Campaign, Flight, fingerprint_question, load_campaign
from stdday.campaign_defaults import UNCERTAINTY_DEFAULTS, UncertaintyDefault
from stdday.card_points import with_cards
from stdday.columns import load_columns
from stdday.decisions import read_decisions
from stdday.details import compare_all, details, load_costs
from stdday.errors import CampaignError, Problem, StddayError
from stdday.outcome import Analysis, analyse
from stdday.points import Points
from stdday.recording_twice import recorded_twice
from stdday.report import begin_drawing, report_pieces
from stdday.results import Results, make_results
from stdday.results_airplane import airplane_meta, airplane_tables
from stdday.results_calibration import calibration_meta, calibration_tables
from stdday.survey import Survey, points_apart
from stdday.takeoff_tables import takeoff_tables
from stdday.uncertainty import Draws
from stdday.workers import Workers

__all__ = ["make", "run"]

#: Columns that carry a person's decision about a point, and where the decision holds it.
DECISION_FIELDS = {
    "decided_runway": "runway",
    "decided_wind_from_rad": "wind_from_rad",
    "decided_wind_speed_ms": "wind_speed_ms",
    "decided_weight_kg": "weight_kg",
}

Progress = Callable[[str, int, int], None]

#: What other processes do of a run.
MODULES = ("stdday.archive", "stdday.outcome", "stdday.report")

#: Draws and seed of every run: fixed, so that the same inputs give the same bytes.
DRAWS, SEED = 2000, 20261125


def _silent(stage: str, done: int, total: int) -> None:
    del stage, done, total


def run(
    folder: Path | str,
    out: Path | str | None = None,
    jobs: int = 1,
    progress: Progress | None = None,
) -> Results:
    """Make a campaign's results from its raw files and put them in place.

    Where whole results stand there that rest on the same inputs, code and packages, they would
    come out the same to the last byte, and are kept.

    Parameters
    ----------
    folder : Path or str
        Campaign folder.
    out : Path or str, optional
        Results folder, where not ``results`` in the campaign.
    jobs : int
        Processes at most that read recordings and find test points [-].
    progress : callable, optional
        Told stage, parts done and parts in all.

    Returns
    -------
    Results
        As read back from disk.

    Raises
    ------
    StddayError
        Where the campaign has errors, a recording cannot be read, or results cannot be written.
    """
    folder, target = Path(folder), Path(out) if out is not None else None
    tell = progress or _silent
    with Workers(jobs, MODULES) as workers:
        if much_to_read(folder):
            workers.prepare()
        campaign = load_campaign(folder)
        made = store.provenance(folder)
        asked, recordings = fingerprint_question(campaign), _recordings(made)
        made["first_result"] = store.since_first_result(folder, asked, recordings)
        if store.up_to_date(folder, target, made):
            tell("nothing changed, results kept", 1, 1)
        else:
            save = partial(store.save_results, folder, out=target, made=made)
            _make_and_save(campaign, workers, tell, save, made["first_result"])
    try:
        store.add_history(folder, asked, recordings)
    except StddayError as error:  # results are written; only the diary of runs is not
        print(error, file=sys.stderr)
    return store.load_results(folder, target)


def _recordings(made: Mapping[str, Any]) -> dict[str, str]:
    """Fingerprint of each recording."""
    return {name: value for name, value in made["inputs"].items() if name.startswith("logs/")}


def make(campaign: Campaign, jobs: int = 1, progress: Progress | None = None) -> Results:
    """Make a campaign's results without writing anything but the cache of parsed recordings.

    Parameters
    ----------
    campaign : Campaign
        A campaign without errors.
    jobs : int
        Processes at most that read recordings and find test points [-].
    progress : callable, optional
        Told stage, parts done and parts in all.

    Returns
    -------
    Results
    """
    with Workers(jobs, MODULES) as workers:
        return _make(campaign, workers, progress or _silent)


def _make_and_save(
    campaign: Campaign,
    workers: Workers,
    tell: Progress,
    save: Callable[..., Path],
    first: Mapping[str, Any],
) -> None:
    """Make results and write them; nothing of them stays in memory."""
    results = _make(campaign, workers, tell)
    results.meta["changed_after_first_result"] = dict(first)
    tell("write results", 0, 1)
    save(results, partial(report_pieces, drawings=begin_drawing(results, workers)))
    tell("write results", 1, 1)


def _make(campaign: Campaign, workers: Workers, tell: Progress) -> Results:
    surveys = survey_all(
        campaign,
        read_decisions(campaign.folder),
        workers,
        lambda done, total: tell("read recordings and find test points", done, total),
    )
    refuse_twice(campaign, surveys)
    found, surveys = points_apart(surveys)
    found = with_cards(campaign, found, read_decisions(campaign.folder))
    tell("correct and compare", 0, 2)
    segments = used_segments(found)
    absent = why_no_points(campaign, surveys, found)
    analysis = analyse(campaign, segments, Draws(DRAWS, SEED), absent, workers)
    tell("correct and compare", 1, 2)
    results = _lay_out(campaign, surveys, found, analysis)
    tell("correct and compare", 2, 2)
    return results


def refuse_twice(campaign: Campaign, surveys: Mapping[str, Survey]) -> None:
    """Refuse one flight of an airplane that stands in two rows, so that it counts once.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    surveys : mapping of str to Survey
        What was found in the recording of each flight.

    Raises
    ------
    CampaignError
        With every pair of flights of one airplane whose recordings run at the same time. Those
        without a clock are left out: they begin at midnight for want of a better moment.
    """
    spans, airplanes = {}, {}
    for flight in campaign.flights:
        survey = surveys.get(flight.id)
        if survey is None or not len(survey.trace_time_s) or not _has_clock(campaign, flight):
            continue
        spans[flight.id] = (float(survey.trace_time_s[0]), float(survey.trace_time_s[-1]))
        airplanes[flight.id] = campaign.airplane_of(flight.configuration).id
    problems = recorded_twice(spans, airplanes)
    if problems:
        raise CampaignError(problems)


def _has_clock(campaign: Campaign, flight: Flight) -> bool:
    """Whether a flight's recording tells the time of day; a track always does."""
    if not flight.columns:
        return True
    source = load_columns(campaign.folder / "columns" / f"{flight.columns}.toml").time
    return source.clocked and source.format != "elapsed seconds"


def used_segments(found: Points) -> pd.DataFrame:
    """Segments of the used points of all flights, with what a person decided about each.

    Parameters
    ----------
    found : Points
        Test points of all flights.

    Returns
    -------
    DataFrame
        One row a segment.
    """
    used = found.table.loc[found.table["used"].astype(bool), "point"]
    segments = found.segments[found.segments["point"].isin(used)].reset_index(drop=True)
    for column, name in DECISION_FIELDS.items():
        segments[column] = [
            getattr(found.decided.get(point), name, None) for point in segments["point"]
        ]
    return segments


#: Channels without which a kind of point cannot be found, in words.
NEEDED_CHANNELS = {
    "take-off": {"ground_speed": "ground speed"},
    "climb": {"pressure_altitude": "pressure altitude", "indicated_airspeed": "airspeed"},
    "level run": {"pressure_altitude": "pressure altitude", "indicated_airspeed": "airspeed"},
    "landing": {"ground_speed": "ground speed"},
    "airspeed calibration": {"ground_speed": "ground speed", "indicated_airspeed": "airspeed"},
    "acceleration": {"pressure_altitude": "pressure altitude", "indicated_airspeed": "airspeed"},
}


def why_no_points(
    campaign: Campaign, surveys: Mapping[str, Survey], found: Points
) -> dict[tuple[str, str], str]:
    """Say for each configuration and kind of point why there may be no usable one.

    Parameters
    ----------
    campaign : Campaign
        The campaign.
    surveys : mapping of str to Survey
        What was found in the recording of each flight.
    found : Points
        Test points of all flights.

    Returns
    -------
    dict of (configuration, kind) to str
        What the recordings lack, or why those that were found were not used.
    """
    table = found.table
    words = {}
    for name in campaign.configurations:
        flights = [flight.id for flight in campaign.flights if flight.configuration == name]
        own = [surveys[flight] for flight in flights if flight in surveys]
        for kind, channels in NEEDED_CHANNELS.items():
            lacking = [
                said
                for channel, said in channels.items()
                if not any(channel in one.channels for one in own)
            ]
            rows = table[(table["configuration"] == name) & (table["kind"] == kind)]
            reasons = [str(text) for text in dict.fromkeys(rows["reason"]) if text]
            if not own:
                words[name, kind] = "no flight with a recording"
            elif lacking:
                words[name, kind] = f"the recordings carry no {' and no '.join(lacking)}"
            elif reasons:
                more = f"; and {len(reasons) - 3} other reasons" if len(reasons) > 3 else ""
                words[name, kind] = f"{len(rows)} found, none used: {'; '.join(reasons[:3])}{more}"
            else:
                words[name, kind] = "none found in the recordings"
    return words


def _lay_out(
    campaign: Campaign, surveys: Mapping[str, Survey], found: Points, analysis: Analysis
) -> Results:
    effects = compare_all(campaign, analysis)
    results = make_results(
        campaign,
        _meta(campaign)
        | calibration_meta(campaign, analysis.calibrations)
        | airplane_meta(campaign, analysis),
        surveys,
        found,
        analysis,
        effects,
        balance_table(campaign, analysis.reduced),
        _costs([*campaign.costs, *load_costs(campaign)]),
        _uncertainties(campaign),
    )
    more = calibration_tables(analysis.calibrations.values())
    more |= takeoff_tables(campaign, used_segments(found), analysis)
    more |= airplane_tables(campaign, used_segments(found), analysis, results.values)
    more |= details(campaign, analysis, effects)
    return replace(results, tables=results.tables | more)


def _costs(problems: Sequence[Problem]) -> pd.DataFrame:
    rows = [{"file": p.file, "where": p.where, "absent": p.found, "mend": p.mend} for p in problems]
    return pd.DataFrame(rows, columns=["file", "where", "absent", "mend"])


def _uncertainties(campaign: Campaign) -> pd.DataFrame:
    rows = [
        {
            "key": key,
            "size": _size(campaign, key, entry),
            "default": entry.default,
            "given": "default" if key in campaign.defaults_used else "campaign",
            "kind": entry.kind,
            "meaning": entry.meaning,
        }
        for key, entry in UNCERTAINTY_DEFAULTS.items()
    ]
    return pd.DataFrame(rows)


def _size(campaign: Campaign, key: str, entry: UncertaintyDefault) -> str:
    """Size of an uncertainty as used, in the unit of its default."""
    table, _, metric = key.partition(".")
    kind, value = (
        campaign.uncertainty[table][metric] if metric else ("", campaign.sigma(key))
    )
    unit = "%" if kind == "relative" else entry.default.partition(" ")[2] or "-"
    dimension = "fraction" if unit == "%" else entry.dimension
    printed = float(units.from_si(np.array([value]), unit, dimension)[0])
    return f"{printed:.4g} {unit}"


def _meta(campaign: Campaign) -> dict[str, Any]:
    """Plain facts about the campaign that tables and the report repeat."""
    reference = campaign.reference
    return {
        "title": campaign.title,
        "invented": (campaign.folder / "truth.json").is_file(),
        "question": campaign.question,
        "reference_configuration": campaign.compare_reference,
        "primary": list(campaign.primary),
        "configurations": {
            name: {
                "label": configuration.label,
                "airplane": configuration.airplane,
                "blocks": sorted({f.block for f in campaign.flights if f.configuration == name}),
            }
            for name, configuration in campaign.configurations.items()
        },
        "reference": {
            "weight_kg": reference.weight_kg,
            "temperature_offset_k": reference.temperature_offset_k,
            "takeoff_pressure_altitude_m": reference.takeoff_pressure_altitude_m,
            "liftoff_airspeed_ms": reference.liftoff_airspeed_ms,
            "climb_airspeed_ms": reference.climb_airspeed_ms,
            "climb_pressure_altitudes_m": list(reference.climb_pressure_altitudes_m),
            "cruise_pressure_altitude_m": reference.cruise_pressure_altitude_m,
            "cruise_power_fraction": list(reference.cruise_power_fraction),
            "runway_slope": reference.runway_slope,
            "runway_surface": reference.runway_surface,
        },
        "display": dict(campaign.display),
        "draws": DRAWS,
        "seed": SEED,
    }
