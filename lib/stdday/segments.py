"""State means of test points: one row for each point and condition, SI."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stdday.bands import BANDS, Bands
from stdday.candidates import Candidate
from stdday.find_accelerations import acceleration_windows
from stdday.find_climbs import climb_windows
from stdday.landing_state import LANDING_COLUMNS, landing_state
from stdday.leg_state import LEG_COLUMNS, leg_bounds, leg_state
from stdday.signals import Trace, integrate
from stdday.takeoff_state import TAKEOFF_COLUMNS, engine_line, takeoff_state

__all__ = ["SEGMENT_COLUMNS", "SegmentInputs", "segments_of"]

#: Means of channels: column, channel.
_MEANS = {
    "indicated_airspeed_ms": "indicated_airspeed",
    "pressure_altitude_m": "pressure_altitude",
    "outside_air_temperature_k": "outside_air_temperature",
    "power_w": "power",
    "fuel_flow_m3s": "fuel_flow",
    "ground_speed_ms": "ground_speed",
    "manifold_pressure_pa": "manifold_pressure",
}
#: Least-squares slopes over the segment: column, channel.
_RATES = {
    "pressure_altitude_rate_ms": "pressure_altitude",
    "indicated_airspeed_rate_ms2": "indicated_airspeed",
    "ground_speed_rate_ms2": "ground_speed",
    "gps_height_rate_ms": "gps_altitude",
}
#: Scatter around that slope: column, channel.
_SCATTERS = {
    "indicated_airspeed_sd_ms": "indicated_airspeed",
    "pressure_altitude_sd_m": "pressure_altitude",
    "power_sd_w": "power",
}

#: Columns of the segments, in order.
SEGMENT_COLUMNS = (
    "point",
    "condition_id",
    "flight",
    "configuration",
    "block",
    "kind",
    "start_s",
    "end_s",
    "duration_s",
    "elapsed_since_first_takeoff_s",
    "fuel_used_m3",
    "interval_sigma",
    *_MEANS,
    "engine_speed_rps",
    *_RATES,
    "heading_change_rad",
    *_SCATTERS,
    "engine_speed_sd_rps",
    "samples",
    *LEG_COLUMNS,
    *TAKEOFF_COLUMNS,
    *(column for column in LANDING_COLUMNS if column not in TAKEOFF_COLUMNS),
)


@dataclass(frozen=True)
class SegmentInputs:
    """What the state means need besides the recording.

    Parameters
    ----------
    first_release_s : float
        First brake release of the flight [s]; fuel and time count from there.
    reference_altitudes_m : sequence of float
        Reference pressure altitudes of climbs [m].
    gear_ratio : float
        Engine speed over propeller speed [-].
    track_is_true : bool
        Whether the recorded track counts from true north.
    field_pressure_altitude_m : float
        Pressure altitude of the field [m]; NaN where not known from its elevation and setting.
    """

    first_release_s: float
    reference_altitudes_m: Sequence[float] = ()
    gear_ratio: float = float("nan")
    track_is_true: bool = False
    field_pressure_altitude_m: float = float("nan")


def segments_of(
    trace: Trace,
    candidate: Candidate,
    labels: Mapping[str, str],
    inputs: SegmentInputs,
    bands: Bands = BANDS,
) -> list[dict[str, float | str]]:
    """Make the rows of one test point.

    Parameters
    ----------
    trace : Trace
        Recording.
    candidate : Candidate
        Test point.
    labels : mapping of str to str
        ``point``, ``flight``, ``configuration`` and ``block``.
    inputs : SegmentInputs
        What else is needed.
    bands : Bands, optional
        Thresholds.

    Returns
    -------
    list of dict
        A take-off, a landing or a level run has one row; a climb one for each reference altitude
        it passes; an airspeed calibration one for each leg.
    """
    if candidate.kind == "climb":
        altitudes = inputs.reference_altitudes_m
        parts = [
            (f"climb_{position}", start, end)
            for position, start, end in climb_windows(
                trace, candidate.start_s, candidate.end_s, altitudes, bands
            )
        ]
    elif candidate.kind == "airspeed calibration":
        parts = leg_bounds(candidate)
    elif candidate.kind == "acceleration":
        parts = acceleration_windows(trace, candidate.start_s, candidate.end_s, bands)
    else:
        name = {"take-off": "takeoff", "landing": "landing"}.get(candidate.kind, "")
        parts = [(name, *_bounds(candidate))]
    rows = []
    for condition, start, end in parts:
        row: dict[str, float | str] = {**labels, "condition_id": condition, "kind": candidate.kind}
        row.update(_state(trace, start, end, inputs))
        if candidate.kind == "airspeed calibration":
            row.update(leg_state(trace, start, end, candidate.pattern, inputs.track_is_true))
        if candidate.kind == "landing":
            row.update(
                landing_state(
                    trace, candidate, inputs.track_is_true, inputs.field_pressure_altitude_m
                )
            )
        if candidate.kind == "take-off":
            row.update(
                takeoff_state(
                    trace,
                    candidate,
                    inputs.gear_ratio,
                    inputs.track_is_true,
                    inputs.field_pressure_altitude_m,
                    bands,
                )
            )
        rows.append(row)
    return rows


def _bounds(candidate: Candidate) -> tuple[float, float]:
    """Bounds of the means: of a take-off its roll, if lift-off is known."""
    liftoff = candidate.details.get("liftoff_s", float("nan"))
    return candidate.start_s, liftoff if np.isfinite(liftoff) else candidate.end_s


def _state(trace: Trace, start: float, end: float, inputs: SegmentInputs) -> dict[str, float]:
    names = {*_MEANS.values(), *_RATES.values(), *_SCATTERS.values()}
    lines = {name: trace.line(name, start, end) for name in sorted(names)}
    engine = engine_line(trace, start, end, inputs.gear_ratio)
    part = trace.between(start, end)
    middle = (start + end) / 2
    state = {
        "start_s": start,
        "end_s": end,
        "duration_s": end - start,
        "elapsed_since_first_takeoff_s": middle - inputs.first_release_s,
        "fuel_used_m3": _fuel_used_m3(trace, inputs.first_release_s, middle),
        "track_rad": trace.mean("track", start, end) % (2 * np.pi),
        "engine_speed_rps": engine.mean,
        "engine_speed_sd_rps": engine.scatter,
        "heading_change_rad": _turned_rad(trace, start, end),
        "samples": float(part.stop - part.start),
    }
    state.update({column: lines[name].mean for column, name in _MEANS.items()})
    state.update({column: lines[name].rate for column, name in _RATES.items()})
    state.update({column: lines[name].scatter for column, name in _SCATTERS.items()})
    return state


def _fuel_used_m3(trace: Trace, start: float, end: float) -> float:
    """Fuel used from one time to another; NaN without a fuel flow over most of that time."""
    if end <= start:
        return 0.0 if trace.has("fuel_flow") else float("nan")
    part = trace.between(start, end)
    flow = trace.raw("fuel_flow")
    if not len(flow[part]) or np.isfinite(flow[part]).mean() < 0.8:
        return float("nan")
    return integrate(trace.time_s, flow, max(start, trace.time_s[0]), min(end, trace.time_s[-1]))


def _turned_rad(trace: Trace, start: float, end: float) -> float:
    """Change of heading, or of track, over the segment by its slope."""
    name = "heading" if trace.has("heading") else "track"
    return trace.line(name, start, end).rate * (end - start)
