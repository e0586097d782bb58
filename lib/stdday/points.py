"""Test points of a flight: found, overruled by a person where wanted, and their state means."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from stdday.atmosphere import pressure_altitude_at_field_m
from stdday.bands import BANDS, Bands
from stdday.candidates import Candidate
from stdday.find_accelerations import find_accelerations
from stdday.find_climbs import find_climbs
from stdday.find_landings import find_landings
from stdday.find_level_runs import find_level_runs
from stdday.find_patterns import find_patterns
from stdday.find_takeoffs import find_takeoffs
from stdday.leg_state import LEG_TEXT
from stdday.segments import SEGMENT_COLUMNS, SegmentInputs, segments_of
from stdday.signals import Trace

if TYPE_CHECKING:
    from stdday.campaign_types import Campaign, Reference
    from stdday.decisions import Decision
    from stdday.flight_rows import Flight
    from stdday.recording_types import Recording

__all__ = [
    "BANDS",
    "POINT_COLUMNS",
    "Bands",
    "Points",
    "find_points",
    "join_points",
    "make_points",
    "overruled",
    "point_id",
]

#: Columns of the table of points, in order.
POINT_COLUMNS = (
    "point",
    "flight",
    "configuration",
    "block",
    "kind",
    "start_s",
    "end_s",
    "used",
    "reason",
    "quality",
)
#: Text columns of both tables; all others but ``used`` are numbers.
_TEXT = ("point", "condition_id", "flight", "configuration", "block", "kind", "reason", "quality",
         *LEG_TEXT)


@dataclass(frozen=True, eq=False)
class Points:
    """Test points of one flight or of many.

    Parameters
    ----------
    table : DataFrame
        One row a point, in order of time, columns `POINT_COLUMNS`; those not used have a reason.
    segments : DataFrame
        State means of the used points, columns `SEGMENT_COLUMNS`, SI.
    orphans : tuple of Decision
        Decisions that belong to no point.
    decided : dict of str to Decision
        Decision that was applied, by point.
    """

    table: pd.DataFrame
    segments: pd.DataFrame
    orphans: tuple[Decision, ...]
    decided: dict[str, Decision]


def point_id(flight: str, kind: str, start_s: float) -> str:
    """Name a point after its flight, kind and start.

    Parameters
    ----------
    flight, kind : str
        Flight and kind.
    start_s : float
        Start, UTC since 1970 [s].

    Returns
    -------
    str
        The start is given as hours, minutes and seconds, rounded to 10 s.

    Examples
    --------
    >>> point_id("F03", "climb", 1_750_000_000.0)
    'F03-climb-150640'
    """
    moment = datetime.fromtimestamp(round(start_s / 10) * 10, tz=UTC)
    return f"{flight}-{kind}-{moment:%H%M%S}"


def find_points(
    recording: Recording,
    flight: Flight,
    campaign: Campaign,
    decisions: Sequence[Decision] = (),
    bands: Bands = BANDS,
) -> Points:
    """Find the test points of a flight in its recording.

    Parameters
    ----------
    recording : Recording
        What was recorded.
    flight : Flight
        The flight.
    campaign : Campaign
        Airplanes, references and airfields.
    decisions : sequence of Decision, optional
        What a person decided; those of other flights are passed over.
    bands : Bands, optional
        Thresholds.

    Returns
    -------
    Points

    Raises
    ------
    InputError
        Where the time of the recording runs backwards.
    """
    configuration = campaign.configurations[flight.configuration]
    airplane = campaign.airplanes[configuration.airplane]
    reference = campaign.reference_for(airplane.id)
    mine = [one for one in decisions if one.flight == flight.id]
    if len(recording.time_s) < 2:
        return make_points([], [], tuple(mine), {})
    trace = Trace(recording.time_s, recording.channels, bands.step_s, bands.gap_s)
    aspirated = airplane.induction != "turbocharged"
    found = _search(trace, reference, aspirated, bands)
    first, note = _first_release_s(trace, found)
    named = _named(flight.id, found)
    named, decided, orphans = _decide(named, mine)
    named = [(name, _flight_used(flight, one)) for name, one in named]
    inputs = SegmentInputs(
        first,
        reference.climb_pressure_altitudes_m,
        airplane.gear_ratio,
        recording.track_reference == "true",
        _field_altitude_m(flight, campaign),
    )
    labels = {
        "flight": flight.id,
        "configuration": flight.configuration,
        "block": flight.block or "",
    }
    rows: list[dict[str, object]] = []
    segments: list[dict[str, float | str]] = []
    for name, one in named:
        own = {"point": name, **labels}
        rows.append({**own, **_row(one, note)})
        if one.used:
            said = decided[name].flaps if name in decided else None
            for row in segments_of(trace, one, own, inputs, bands):
                segments.append({**row, "interval_sigma": recording.interval_sigma,
                                 "flaps": said or ""})
    return make_points(rows, segments, tuple(orphans), decided)


def join_points(points: Iterable[Points]) -> Points:
    """Put the points of several flights together.

    Parameters
    ----------
    points : iterable of Points
        Points of each flight, in the order wanted.

    Returns
    -------
    Points

    Examples
    --------
    >>> join_points([]).table.columns.tolist()[:3]
    ['point', 'flight', 'configuration']
    """
    every = list(points)
    tables = [one.table for one in every if len(one.table)]
    segments = [one.segments for one in every if len(one.segments)]
    empty = make_points([], [], (), {})
    return Points(
        pd.concat(tables, ignore_index=True) if tables else empty.table,
        pd.concat(segments, ignore_index=True) if segments else empty.segments,
        tuple(orphan for one in every for orphan in one.orphans),
        {name: decision for one in every for name, decision in one.decided.items()},
    )


def make_points(
    rows: list[dict[str, object]],
    segments: list[dict[str, float | str]],
    orphans: tuple[Decision, ...],
    decided: dict[str, Decision],
) -> Points:
    """Make the tables of points from their rows.

    Parameters
    ----------
    rows : list of dict
        One a point, keys of `POINT_COLUMNS`.
    segments : list of dict
        One a segment, keys of `SEGMENT_COLUMNS`; what a row has not is NaN or empty.
    orphans : tuple of Decision
        Decisions that belong to no point.
    decided : dict of str to Decision
        Decision that was applied, by point.

    Returns
    -------
    Points
        Never raises for rows with other keys: those are left out.

    Examples
    --------
    >>> made = make_points([{"point": "F1-climb-100000", "used": True}], [], (), {})
    >>> made.table["point"].tolist(), made.table["start_s"].isna().tolist()
    (['F1-climb-100000'], [True])
    """
    return Points(
        _frame(rows, POINT_COLUMNS), _frame(segments, SEGMENT_COLUMNS), orphans, decided
    )


def _frame(rows: Sequence[dict[str, object]] | Sequence[dict[str, float | str]],
           columns: tuple[str, ...]) -> pd.DataFrame:
    """Make a frame with these columns and their types, whatever the rows hold."""
    made: dict[str, pd.Series] = {}
    for column in columns:
        if column in _TEXT:
            made[column] = pd.Series([str(row.get(column, "")) for row in rows], dtype="str")
        elif column in ("used", "samples"):
            kind = "bool" if column == "used" else "int64"
            made[column] = pd.Series([row.get(column, 0) for row in rows], dtype=kind)
        else:
            made[column] = pd.Series([row.get(column, np.nan) for row in rows], dtype="float64")
    return pd.DataFrame(made)


def _row(candidate: Candidate, note: str) -> dict[str, object]:
    quality = candidate.quality
    if note and candidate.used:
        quality = f"fair: {note}" if quality == "good" else f"{quality}; {note}"
    return {
        "kind": candidate.kind,
        "start_s": candidate.start_s,
        "end_s": candidate.end_s,
        "used": candidate.used,
        "reason": candidate.reason,
        "quality": quality,
    }


def _search(trace: Trace, reference: Reference, aspirated: bool, bands: Bands) -> list[Candidate]:
    liftoff = reference.liftoff_airspeed_ms
    found = find_takeoffs(trace, bands, liftoff)
    found += find_climbs(trace, bands, reference.climb_pressure_altitudes_m, aspirated)
    found += find_level_runs(trace, bands, liftoff)
    found += find_accelerations(trace, bands, aspirated, liftoff)
    found += find_landings(trace, bands)
    found += find_patterns(trace, bands)
    return sorted(found, key=lambda one: (one.start_s, one.kind))


def _first_release_s(trace: Trace, found: Sequence[Candidate]) -> tuple[float, str]:
    """First brake release (or start of a moving take-off) from which fuel and time count."""
    up = [one.start_s for one in found if one.kind == "take-off" and one.details]
    if up:
        return min(up), ""
    return float(trace.time_s[0]), (
        "no take-off in the recording: fuel and time count from its start"
    )


def _field_altitude_m(flight: Flight, campaign: Campaign) -> float:
    if not flight.airfield or flight.altimeter_setting_pa is None:
        return float("nan")
    elevation = campaign.airfields[flight.airfield].elevation_m
    return float(pressure_altitude_at_field_m(elevation, flight.altimeter_setting_pa))


def _flight_used(flight: Flight, candidate: Candidate) -> Candidate:
    if flight.use:
        return candidate
    why = flight.why_not or "no reason given in flights.csv"
    return replace(candidate, used=False, reason=f"flight not used: {why}")


def _named(flight: str, found: Sequence[Candidate]) -> list[tuple[str, Candidate]]:
    """Give each candidate its id; of two with the same, the used one has it plain."""
    names: dict[int, str] = {}
    taken: dict[str, int] = {}
    for place in sorted(range(len(found)), key=lambda one: (not found[one].used, one)):
        name = point_id(flight, found[place].kind, found[place].start_s)
        taken[name] = taken.get(name, 0) + 1
        names[place] = name if taken[name] == 1 else f"{name}-{taken[name]}"
    return [(names[place], one) for place, one in enumerate(found)]


def _decide(
    named: list[tuple[str, Candidate]], decisions: Sequence[Decision]
) -> tuple[list[tuple[str, Candidate]], dict[str, Decision], list[Decision]]:
    """Apply decisions to the points they belong to; the last one on a point holds."""
    by_name = dict(named)
    decided: dict[str, Decision] = {}
    orphans: list[Decision] = []
    for decision in decisions:
        name = _belongs_to(decision, named)
        if name is None:
            orphans.append(decision)
            continue
        decided[name] = decision
        by_name[name] = overruled(by_name[name], decision)
    return [(name, by_name[name]) for name, _ in named], decided, orphans


def _belongs_to(decision: Decision, named: Sequence[tuple[str, Candidate]]) -> str | None:
    """Return the point of the decision's kind that it overlaps most, by half or more.

    A decision without times belongs to the point of its id.
    """
    best, most = None, 0.0
    for name, one in named:
        if one.kind != decision.kind and name != decision.point:
            continue
        if decision.start_s is None or decision.end_s is None:
            if name == decision.point:
                return name
            continue
        shared = min(one.end_s, decision.end_s) - max(one.start_s, decision.start_s)
        # Half of either: bounds that a person drew in still belong to the point they lie in.
        part = shared / max(min(one.end_s - one.start_s, decision.end_s - decision.start_s), 1e-9)
        if part >= 0.5 and shared > most:
            best, most = name, shared
    return best


def overruled(candidate: Candidate, decision: Decision) -> Candidate:
    """Apply one decision: whether it is used, its bounds (where over 1 s apart), its reason.

    Parameters
    ----------
    candidate : Candidate
        What was found.
    decision : Decision
        What a person decided about it.

    Returns
    -------
    Candidate
        What holds; never raises.

    Examples
    --------
    >>> from stdday.decisions import Decision
    >>> found = Candidate("climb", 0.0, 60.0, True)
    >>> overruled(found, Decision("p", "F1", "climb", 2, use=False, reason="rain")).reason
    'decided: rain'
    """
    start, end = candidate.start_s, candidate.end_s
    details = dict(candidate.details)
    if decision.start_s is not None and abs(decision.start_s - start) > 1.0:
        start = decision.start_s
        if "brake_release_s" in details:
            details["brake_release_s"] = start
    if decision.end_s is not None and abs(decision.end_s - end) > 1.0:
        end = decision.end_s
    used, reason = candidate.used, candidate.reason
    if decision.use is True:
        used, reason = True, ""
    elif decision.use is False:
        used, reason = False, f"decided: {decision.reason or 'not used'}"
    return replace(
        candidate, start_s=start, end_s=end, used=used, reason=reason, details=details
    )
