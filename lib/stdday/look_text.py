"""What a look at a recording says on a terminal."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from stdday.candidates import Candidate
from stdday.channels import find_channel
from stdday.layout import Table, as_text
from stdday.look import STAND_IN_POWER_W, Looked, unit_of
from stdday.propose_toml import harmless
from stdday.propose_types import ChannelProposal, Proposal
from stdday.propose_units import HeaderUnit, channel_scale, header_unit
from stdday.recording_types import Recording

__all__ = ["look_lines", "shown_unit", "shown_values", "spelled"]

FloatArray = NDArray[np.float64]

_ROWS, _SHOWN = 5, 7
_FIRST = ("indicated_airspeed", "ground_speed", "pressure_altitude", "indicated_altitude",
          "gps_altitude", "engine_speed", "outside_air_temperature", "vertical_speed",
          "manifold_pressure", "fuel_flow", "power", "track", "heading", "latitude", "longitude")
_MEANS = {
    "take-off": ("ground_speed", "indicated_airspeed", "engine_speed"),
    "climb": ("indicated_airspeed", "engine_speed", "outside_air_temperature"),
    "level run": ("pressure_altitude", "indicated_airspeed", "ground_speed", "engine_speed",
                  "fuel_flow", "power"),
    "airspeed calibration": ("indicated_airspeed", "pressure_altitude"),
    "acceleration": ("pressure_altitude", "engine_speed"),
}


def look_lines(looked: Looked) -> list[str]:
    r"""Say what a look at a recording found.

    Parameters
    ----------
    looked : Looked
        What was found.

    Returns
    -------
    list of str
        Lines for a terminal, all of them harmless; never raises.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> from stdday.look import look_at
    >>> rows = "".join(f"10:00:{n:02d},{60 + n % 40}\n" for n in range(60))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = Path(folder, "one.csv").write_text("UTC,IAS (kt)\n" + rows)
    ...     looked = look_at(Path(folder, "one.csv"))
    >>> look_lines(looked)[0]
    'Recording: one.csv'
    """
    lines = [f"Recording: {looked.name}"]
    if looked.kind:
        lines.append(f"A {looked.kind} track: its columns are fixed, and nothing is proposed.")
    if looked.proposal is not None:
        lines += _layout_lines(looked.proposal)
        lines += _channel_lines(looked.proposal)
    if looked.recording is None:
        return [*lines, "", f"It cannot be read this way: {looked.why_not}"]
    lines += _row_lines(looked, looked.recording)
    lines += _found_lines(looked, looked.recording)
    lines += _finding_lines(looked, looked.recording)
    return [*lines, *_question_lines(looked)]


def _layout_lines(proposal: Proposal) -> list[str]:
    """How the file is laid out, and its time."""
    layout = proposal.layout
    mark = {"\t": "a tab"}.get(layout.delimiter, layout.delimiter)
    rows = " and ".join(str(row) for row in layout.header_rows) or "none"
    units = f", units in line {layout.unit_row}" if layout.unit_row is not None else ""
    time = proposal.time
    where = " and ".join(harmless(name, 40) for name in time.columns) or "no column"
    return [f"{proposal.rows} rows after {layout.depth} header lines; cells between {mark} ; "
            f"decimal mark {layout.decimal} ; names in line {rows}{units}",
            f"Time ({time.confidence}): {where}: {harmless(time.reason)}"]


def _channel_lines(proposal: Proposal) -> list[str]:
    """Proposal channel by channel."""
    if not proposal.channels:
        return []
    table = Table({
        "Channel": [spelled(item.channel) for item in proposal.channels],
        "Column": [harmless(_named(item), 34) for item in proposal.channels],
        "Unit": [harmless(_unit_words(item), 14) for item in proposal.channels],
        "How sure": [item.confidence for item in proposal.channels],
        "Because": [harmless(item.reason, 300) for item in proposal.channels],
        "Else": [_runner_words(item) for item in proposal.channels],
    })
    lines = ["", "Proposed columns, none of them confirmed:", as_text(table)]
    if proposal.unused:
        lines += ["", "Columns of numbers proposed for nothing: "
                  + harmless(", ".join(proposal.unused), 400)]
    return [*lines, *(f"Note: {harmless(note)}" for note in proposal.notes)]


def _named(item: ChannelProposal) -> str:
    """Column with what the header says, where its name is only a number."""
    return f"{item.column} {item.header}".strip() if item.column.startswith("#") else item.column


def _unit_words(item: ChannelProposal) -> str:
    """Unit with the north or offset."""
    return " ".join(filter(None, (item.unit, item.reference, item.offset and f"+ {item.offset}")))


def _runner_words(item: ChannelProposal) -> str:
    """Runners-up in short."""
    return "; ".join(harmless(f"{one.column} [{one.unit}]", 40) for one in item.runners_up[:2])


def spelled(channel: str) -> str:
    """Name of a channel in words.

    Parameters
    ----------
    channel : str
        Name.

    Returns
    -------
    str
        Never raises.

    Examples
    --------
    >>> spelled("ground_speed")
    'ground speed'
    """
    return channel.replace("_", " ")


# ---------------------------------------------------------------- rows


def shown_unit(looked: Looked, channel: str) -> str:
    r"""Unit in which a channel of a recording is shown.

    Parameters
    ----------
    looked : Looked
        The recording.
    channel : str
        Name of the channel.

    Returns
    -------
    str
        Per cent for power only where it is recorded so; never raises.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> from stdday.look import look_at
    >>> rows = "".join(f"10:00:{n:02d},{60 + n % 40}\n" for n in range(60))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = Path(folder, "one.csv").write_text("UTC,IAS (kt)\n" + rows)
    ...     looked = look_at(Path(folder, "one.csv"))
    >>> shown_unit(looked, "indicated_airspeed")
    'kt'
    """
    if channel != "power" or looked.proposal is None:
        return unit_of(channel)
    return next(("%" if header_unit(item.unit) == HeaderUnit("%") else "kW"
                 for item in looked.proposal.channels if item.channel == "power"), "kW")


def shown_values(looked: Looked, channel: str, values: FloatArray) -> FloatArray:
    r"""Values of a channel in the unit in which it is shown.

    Parameters
    ----------
    looked : Looked
        The recording.
    channel : str
        Name of the channel.
    values : ndarray, shape (n,)
        Values in the unit of the channel.

    Returns
    -------
    ndarray, shape (n,)
        Values in `shown_unit`; never raises.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> from stdday.look import look_at
    >>> rows = "".join(f"10:00:{n:02d},{60 + n % 40}\n" for n in range(60))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = Path(folder, "one.csv").write_text("UTC,IAS (kt)\n" + rows)
    ...     looked = look_at(Path(folder, "one.csv"))
    >>> round(float(shown_values(looked, "indicated_airspeed", np.array([30.0]))[0]), 1)
    58.3
    """
    unit, known = shown_unit(looked, channel), find_channel(channel)
    if unit == "%":
        return np.asarray(values / STAND_IN_POWER_W * 100.0)
    scale = channel_scale(known, unit) if known is not None else None
    if scale is None:
        return np.asarray(values)
    return np.asarray((values - scale[1]) / scale[0])


def _decimals(channel: str) -> int:
    """Decimals with which a channel is shown."""
    return 5 if channel in ("latitude", "longitude") else 2 if channel == "normal_acceleration" \
        else 0 if channel.endswith(("altitude", "engine_speed", "propeller_speed")) else 1


def _row_lines(looked: Looked, recording: Recording) -> list[str]:
    """First rows as they would be read."""
    names = [name for name in _FIRST if name in recording.channels][:_SHOWN]
    table = {"UTC": [_clock(moment, looked.dated) for moment in recording.time_s[:_ROWS]]}
    for name in names:
        values = shown_values(looked, name, recording.channels[name][:_ROWS])
        table[f"{spelled(name)} [{shown_unit(looked, name)}]"] = [
            _number(value, _decimals(name)) for value in values.tolist()]
    return ["", "First rows as they would be read:", as_text(Table(table)),
            f"Rows: {harmless(str(recording.rows), 400)}",
            f"Time between rows: {recording.interval_s:.3g} s (middle); recorded for "
            f"{(recording.time_s[-1] - recording.time_s[0]) / 60.0:.1f} min"]


def _number(value: float, decimals: int) -> str:
    """A number, or a stroke where it is missing."""
    return f"{value + 0.0:.{decimals}f}" if np.isfinite(value) else "–"


def _clock(moment: float, dated: bool) -> str:
    """Moment as text; without its date where the recording has none."""
    stamp = datetime.datetime.fromtimestamp(float(moment), datetime.UTC)
    return f"{stamp:%Y-%m-%d %H:%M:%S}" if dated else f"{stamp:%H:%M:%S}"


# ---------------------------------------------------------------- what was found


def _found_lines(looked: Looked, recording: Recording) -> list[str]:
    """What was found, raw."""
    used = [one for one in looked.found if one.used]
    lines = ["", "Found in it (raw numbers, uncorrected; nothing here is a test point yet):"]
    if looked.stand_in:
        lines.append(f"  pressure altitude is not known; {spelled(looked.stand_in)} stood in")
    lines += [f"  {_point_words(looked, recording, one)}" for one in used]
    if not used:
        lines.append("  no take-off, climb, level run, acceleration, pattern or landing")
    why: dict[str, int] = {}
    for one in looked.found:
        if not one.used:
            key = f"{one.kind}: {one.reason}"
            why[key] = why.get(key, 0) + 1
    listed = [f"{count} x {harmless(reason, 120)}" for reason, count in list(why.items())[:8]]
    return [*lines, *([f"  looked at and not counted: {'; '.join(listed)}"] if listed else [])]


def _point_words(looked: Looked, recording: Recording, one: Candidate) -> str:
    """One point in words."""
    start = _clock(one.start_s, dated=False)
    parts = [f"{one.kind} at {start} UTC, {one.end_s - one.start_s:.0f} s"]
    inside = (recording.time_s >= one.start_s) & (recording.time_s <= one.end_s)
    release, lift = one.details.get("brake_release_s"), one.details.get("liftoff_s")
    if release is not None and lift is not None and np.isfinite(lift - release):
        parts.append(f"{lift - release:.0f} s from brake release to lift-off")
    if one.kind == "airspeed calibration":
        parts.append(f"{one.pattern} of {len(one.legs)} legs")
    if one.kind == "acceleration":
        parts += _ends(looked, recording, inside)
    if one.kind == "climb":
        parts += _gain(looked, recording, inside)
    for name in _MEANS.get(one.kind, ()):
        values = recording.channels.get(name, np.empty(0))
        values = values[inside] if values.size else values
        if np.isfinite(values).any():
            shown = shown_values(looked, name, values[np.isfinite(values)])
            word = "up to" if one.kind == "take-off" else "mean"
            value = float(shown.max() if one.kind == "take-off" else shown.mean())
            parts.append(f"{spelled(name)} {word} {value:.0f} {shown_unit(looked, name)}")
    return ", ".join(parts) + " (uncorrected)"


def _ends(looked: Looked, recording: Recording, inside: NDArray[np.bool_]) -> list[str]:
    """Airspeed at either end of an acceleration."""
    values = recording.channels.get("indicated_airspeed", np.full(inside.size, np.nan))[inside]
    known = values[np.isfinite(values)]
    if not known.size:
        return []
    ends = shown_values(looked, "indicated_airspeed", known[[0, -1]])
    return [f"airspeed {ends[0]:.0f} to {ends[1]:.0f} {shown_unit(looked, 'indicated_airspeed')}"]


def _gain(looked: Looked, recording: Recording, inside: NDArray[np.bool_]) -> list[str]:
    """Height gained in a climb, and its rate."""
    name = next((one for one in ("pressure_altitude", "indicated_altitude", "gps_altitude")
                 if one in recording.channels), None)
    if name is None:
        return []
    known = inside & np.isfinite(recording.channels[name])
    if known.sum() < 2:
        return []
    values = shown_values(looked, name, recording.channels[name][known])
    time = recording.time_s[known]
    rate = 60.0 * (values[-1] - values[0]) / (time[-1] - time[0])
    return [f"{values[0]:.0f} to {values[-1]:.0f} ft by {spelled(name)}", f"{rate:.0f} ft/min"]


def _finding_lines(looked: Looked, recording: Recording) -> list[str]:
    """Findings in words."""
    found = [finding for finding in recording.findings]
    lines = ["", "Findings:"]
    lines += [f"  {'!' if one.level == 'caution' else '-'} {harmless(str(one), 500)}"
              for one in found]
    return lines if found else [*lines, "  none"]


def _question_lines(looked: Looked) -> list[str]:
    """What only a person can answer."""
    if looked.proposal is None or not looked.proposal.questions:
        return []
    questions: Sequence[str] = looked.proposal.questions
    return ["", "Only you know:", *(f"  ? {harmless(one, 300)}" for one in questions)]
