"""A track (GPX, IGC, NMEA 0183) as a recording: channels in SI on a UTC time base.

A track needs no columns file: its format says what each figure is, and `stdday.tracks_kind` tells
the format from the content. Ground speed and track are those of the file where it has them and they
agree with its positions; else they are derived from the positions, and a finding says so.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np

from stdday.channels import CHANNELS
from stdday.columns_types import ChannelSource, ColumnsFile, TimeSource
from stdday.recording_channels import drop_spikes, drop_zero_positions, to_channel
from stdday.recording_stamps import Stamps
from stdday.recording_time import TimeBase, make_time_base
from stdday.recording_types import Finding, FloatArray, refused
from stdday.tracks_gpx import read_gpx
from stdday.tracks_igc import read_igc
from stdday.tracks_kind import GPX, IGC
from stdday.tracks_nmea import read_nmea
from stdday.tracks_speed import Derived, derive_speed, find_jumps
from stdday.tracks_types import Fixes

__all__ = ["Track", "read_track"]

#: Ground speed of the file is believed where it is within this share of that from positions,
UNIT_SHARE = 0.1
#: which is looked at above this speed [m/s].
_FAST_MS = 10.0
#: Track of the file is believed where it is within this of that from positions [deg].
MOST_OFF_DEG = 15.0
#: A stamp that repeats is another fix of that second only where fixes are this close [s]; with
#: longer intervals there is no telling when within them it was.
_SPREAD_S = 2.0
_REPEATS = "same time as the fix before"
_FACTORS = ((3.6, "km/h"), (3600.0 / 1852.0, "kt"), (3600.0 / 1609.344, "mph"),
            (1852.0 / 3600.0, "kt taken for m/s"))


@dataclass(frozen=True, eq=False)
class Track:
    """A track on its time base.

    Parameters
    ----------
    file, kind : str
        Name of the file and kind of track.
    base : TimeBase
        Time of the fixes that are used.
    channels : dict of str to ndarray, each of shape (n,)
        Samples by channel [units of `stdday.channels`].
    columns : ColumnsFile
        What a columns file would say of it: dated or not, and track from true north.
    in_file : int
        Rows of the file.
    set_aside : dict of str to int
        Rows left out, by reason.
    findings : list of Finding
        What was found on the way.
    window_s : float
        Stretch of time that ground speed is the mean of [s]; 0 where the receiver measured it.
    """

    file: str
    kind: str
    base: TimeBase
    channels: dict[str, FloatArray]
    columns: ColumnsFile
    in_file: int
    set_aside: dict[str, int]
    findings: list[Finding]
    window_s: float


def read_track(data: bytes, kind: str, name: str, date: datetime.date | None) -> Track:
    r"""Read a track.

    Parameters
    ----------
    data : bytes
        Content of the file, unpacked.
    kind : str
        Kind of track, as `stdday.tracks_kind.track_kind` tells it.
    name : str
        Its name in messages.
    date : datetime.date or None
        Date of the flight, where the file has none.

    Returns
    -------
    Track
        With every row accounted for.

    Raises
    ------
    CampaignError
        It holds no fix, no time, or no date and none is known; or it is not safe to read.

    Examples
    --------
    >>> lines = ["AXXX001", "HFDTE010524"]
    >>> lines += [f"B1000{second:02d}5000{second * 18:03d}N00800000EA0010000148"
    ...           for second in range(10)]
    >>> track = read_track("\n".join([*lines, ""]).encode(), IGC, "a.igc", None)
    >>> float(track.channels["ground_speed"][5].round(1)), sorted(track.channels)
    (33.4, ['gps_altitude', 'ground_speed', 'latitude', 'longitude', 'pressure_altitude', 'track'])
    """
    fixes = _read(data, kind, name, date)
    _check_times(fixes)
    keep = _told_apart(fixes)
    base = make_time_base(Stamps(fixes.utc_s[keep], dated=True), name)
    findings = [Finding("note", f"{name} is a track ({kind}); it needs no columns file"),
                *fixes.findings, *base.findings]
    channels = _bounded(fixes, keep[base.keep], findings)
    findings += _drop_bad_positions(base.time_s, channels, name)
    window_s = _add_speed(base.time_s, channels, fixes, findings)
    set_aside = {**fixes.set_aside, **base.set_aside}
    if keep.size < fixes.utc_s.size:
        set_aside[_REPEATS] = int(fixes.utc_s.size - keep.size)
    return Track(name, kind, base, channels, _columns(fixes, channels), fixes.in_file, set_aside,
                 findings, window_s)


def _read(data: bytes, kind: str, name: str, date: datetime.date | None) -> Fixes:
    if kind == GPX:
        return read_gpx(data, name)
    return (read_igc if kind == IGC else read_nmea)(data, name, date)


def _check_times(fixes: Fixes) -> None:
    """Refuse a track that has no times, or only one."""
    known = fixes.utc_s[np.isfinite(fixes.utc_s)]
    if np.unique(known).size < 2:
        found = "none" if not known.size else f"one and the same in {known.size} fixes"
        raise refused(fixes.file, "time", "a track with a time at each fix, of at least two times",
                      found, "export the track as it was recorded, with its times (a planned route "
                      "has none)")


def _told_apart(fixes: Fixes) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Fixes without those that repeat the time of the one before and cannot be given another."""
    stamps = fixes.utc_s
    steps = np.diff(stamps)
    again = np.concatenate(([False], steps == 0.0))
    usual_s = float(np.median(np.abs(steps[steps != 0.0]))) if (steps != 0.0).any() else np.inf
    if usual_s <= _SPREAD_S:
        latitude, longitude = fixes.channels.get("latitude"), fixes.channels.get("longitude")
        if latitude is None or longitude is None:
            return np.arange(stamps.size, dtype=np.int64)
        same = (np.diff(latitude) == 0.0) & (np.diff(longitude) == 0.0)
        again &= np.concatenate(([False], same))
    return np.flatnonzero(~again).astype(np.int64)


def _bounded(
    fixes: Fixes, keep: np.ndarray[tuple[int], np.dtype[np.int64]], findings: list[Finding]
) -> dict[str, FloatArray]:
    """Channels on the time base, without what cannot be; those of which nothing is left are not."""
    channels = {}
    for name, values in fixes.channels.items():
        source = ChannelSource(CHANNELS[name], name, CHANNELS[name].unit)
        samples, found = to_channel(source, values[keep], (1.0, 0.0), None, fixes.file)
        findings += found
        if np.isfinite(samples).any():
            channels[name] = samples
    return channels


def _drop_bad_positions(
    time_s: FloatArray, channels: dict[str, FloatArray], name: str
) -> list[Finding]:
    """Drop positions that are 0, 0 or cannot have been flown to, with all that came with them."""
    findings = drop_zero_positions(channels, name)
    if "latitude" not in channels or "longitude" not in channels:
        return [*findings, Finding("caution", f"{name}: it gives no positions",
                                   "ground speed and track are those of the file, or missing")]
    drop = find_jumps(time_s, channels["latitude"], channels["longitude"])
    if drop.any():
        dropped = [key for key in ("latitude", "longitude", "gps_altitude", "ground_speed", "track")
                   if key in channels]
        for key in dropped:
            channels[key] = np.where(drop, np.nan, channels[key])
        findings.append(Finding("caution", f"{name}: {int(drop.sum())} fixes are where no airplane "
                                "can have flown to", f"{', '.join(dropped)} of them are missing"))
    return findings


def _add_speed(
    time_s: FloatArray, channels: dict[str, FloatArray], fixes: Fixes, findings: list[Finding]
) -> float:
    """Add ground speed and track where the file has none that can be believed; give the stretch."""
    if "latitude" not in channels or "longitude" not in channels:
        return 0.0
    name = fixes.file
    derived = derive_speed(time_s, channels["latitude"], channels["longitude"], fixes.step_deg)
    missing = [key for key in ("ground_speed", "track")
               if not _believed(key, channels, derived, name, findings)]
    if not np.isfinite(derived.ground_speed).any():
        missing = []
    for key in missing:
        channels[key] = derived.ground_speed if key == "ground_speed" else derived.track
    if missing:
        findings.append(_derived_finding(missing, derived, name))
    if "ground_speed" in channels:
        channels["ground_speed"], dropped = drop_spikes(time_s, channels["ground_speed"])
        if dropped:
            findings.append(Finding("caution", f"{name}: {dropped} samples of ground_speed cannot "
                                    "be flown", "those samples are missing"))
    return derived.window_s if "ground_speed" in missing else 0.0


def _believed(
    key: str, channels: dict[str, FloatArray], derived: Derived, name: str,
    findings: list[Finding],
) -> bool:
    """Whether a channel of the file is there and goes with the positions."""
    own = channels.get(key)
    if own is None:
        return False
    fast = derived.ground_speed > _FAST_MS
    if not fast.any():
        return True
    both = fast & np.isfinite(own)
    if 2 * both.sum() < fast.sum():
        findings.append(Finding("caution", f"{name}: its {key} is missing in most fixes in motion",
                                "it was not used"))
        return False
    if key == "track":
        off = np.abs(np.angle(np.exp(1j * (own - derived.track)[both])))
        usual = float(np.degrees(np.nanmedian(off)))
        if usual >= MOST_OFF_DEG:
            findings.append(Finding("caution", f"{name}: its track is {usual:.0f} deg off the way "
                                    "from position to position", "it was not used"))
        return usual < MOST_OFF_DEG
    ratio = float(np.median(own[both] / derived.ground_speed[both]))
    if abs(ratio - 1.0) <= UNIT_SHARE:
        return True
    near = [unit for factor, unit in _FACTORS if abs(ratio / factor - 1.0) < 0.05]
    findings.append(Finding("caution", f"{name}: its ground_speed is {ratio:.2f} times that from "
                            f"its positions{' (' + near[0] + '?)' if near else ''}",
                            "it was not used"))
    return False


def _derived_finding(missing: list[str], derived: Derived, name: str) -> Finding:
    """Say what was derived from positions, and how well it can be known."""
    rounding = (f"positions in steps of {derived.step_m:.2g} m leave {derived.sigma_ms:.2g} m/s "
                "of one sigma" if derived.step_m > 0.0 else "positions show no rounding")
    repeated = (f"; {derived.repeated} fixes only repeat a position and have none"
                if derived.repeated else "")
    return Finding("note", f"{name}: {' and '.join(missing)} derived from positions, as the mean "
                   f"over {derived.window_s:.3g} s; {rounding}{repeated}",
                   "what is shorter than that is smoothed: a brake release reads up to "
                   f"{derived.window_s / 2.0:.3g} s early, and lift-off is less sure")


def _columns(fixes: Fixes, channels: dict[str, FloatArray]) -> ColumnsFile:
    """Say what a columns file would."""
    time = TimeSource(("time",), "ISO 8601" if fixes.dated else "%H:%M:%S")
    sources = tuple(ChannelSource(CHANNELS[name], name, CHANNELS[name].unit,
                                  "true" if name == "track" else None) for name in channels)
    return ColumnsFile(fixes.kind, "", ",", ".", (), None, None, None, time, ("",), sources)
