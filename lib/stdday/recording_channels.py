"""From the numbers of a recording to channels in SI, without what cannot be true.

A sample that is not believable becomes a missing value and is counted in a finding. Nothing is put
in its place.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from stdday.atmosphere import pressure_altitude_at_field_m
from stdday.channels import POSITION_CHANNELS, Channel
from stdday.columns import ChannelSource
from stdday.recording_file import BadCells
from stdday.recording_types import Finding, FloatArray

__all__ = ["acceleration_convention", "add_pressure_altitude", "believable", "drop_spikes",
           "drop_zero_positions", "missing_reference", "to_channel"]

#: Ground speed cannot change faster than this [m/s^2], and so much more between two samples [m/s].
MOST_ACCELERATION_MS2 = 20.0
STEP_ALLOWANCE_MS = 5.0
#: A run of ground speed that no airplane can have reached is dropped up to this length [s].
LONGEST_SPIKE_S = 20.0
_DROPOUT_S = 3.0

BoolArray = NDArray[np.bool_]


def to_channel(
    source: ChannelSource, values: FloatArray, scale: tuple[float, float], bad: BadCells | None,
    file: str,
) -> tuple[FloatArray, list[Finding]]:
    """Convert the numbers of a column and drop those out of bounds.

    Parameters
    ----------
    source : ChannelSource
        The channel and its column.
    values : ndarray, shape (n,)
        Numbers [unit of the file]; NaN where missing.
    scale : tuple of float
        Scale and offset to the unit inside.
    bad : BadCells or None
        Cells that hold no number.
    file : str
        Name of the recording.

    Returns
    -------
    tuple of (ndarray of shape (n,), list of Finding)
        Samples [unit of the channel] and what was found; never raises.

    Examples
    --------
    >>> from stdday.channels import CHANNELS
    >>> source = ChannelSource(CHANNELS["outside_air_temperature"], "OAT", "degC")
    >>> values = np.array([15.0, 900.0])
    >>> samples, findings = to_channel(source, values, (1.0, 273.15), None, "a.csv")
    >>> samples
    array([288.15,    nan])
    >>> print(findings[0])
    a.csv: 1 of 2 samples of outside_air_temperature are outside 200 to 340 K (900 in the file): \
those samples are missing
    """
    channel, findings = source.channel, []
    if bad is not None:
        shown = ", ".join(f"{text!r} in line {line}" for line, text in bad.examples)
        findings.append(Finding("caution", f"{file}: {bad.count} cells of {channel.name} hold no "
                                f"number ({shown})", "those samples are missing"))
    findings += _no_direction(source, values, file)
    with np.errstate(over="ignore"):  # what overflows is out of bounds
        samples = values * scale[0] + scale[1] + source.offset
    samples, wrong = believable(channel, samples)
    if wrong.any():
        extreme = values[wrong][np.argmax(np.abs(values[wrong]))]
        findings.append(Finding(
            "caution", f"{file}: {int(wrong.sum())} of {samples.size} samples of {channel.name} "
            f"are outside {channel.low:g} to {channel.high:g} {channel.unit} ({extreme:g} in the "
            "file)", "those samples are missing"))
    return samples, findings


def _no_direction(source: ChannelSource, values: FloatArray, file: str) -> list[Finding]:
    """Say where a direction is -1 again and again and never otherwise negative."""
    if not source.channel.reference or not values.size or np.fmin.reduce(values) != -1.0:
        return []
    count = int((values == -1.0).sum())
    if count < 3 or count != int((values < 0.0).sum()):
        return []
    name = source.channel.name
    return [Finding("caution", f"{file}: {name} is -1 in {count} rows and never otherwise below 0",
                    "it is read as 359 deg and may stand for 'no direction'; if so, write missing "
                    f"= [\"-1\"] of {name} in the columns file", "likely")]


def believable(channel: Channel, samples: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Drop the samples that the channel cannot have; bring directions to one circle.

    Parameters
    ----------
    channel : Channel
        The channel and its bounds.
    samples : ndarray, shape (n,)
        Samples [unit of the channel].

    Returns
    -------
    tuple of (ndarray, ndarray of bool), each of shape (n,)
        Samples, NaN where dropped or missing, and which were dropped; never raises.

    Examples
    --------
    >>> from stdday.channels import CHANNELS
    >>> believable(CHANNELS["track"], np.array([-1.5, 7.0]))
    (array([4.78318531,        nan]), array([False,  True]))
    """
    # half a unit in the last place of a conversion must not drop a sample on the bound
    slack = 1e-9 * max(abs(channel.low), abs(channel.high))
    wrong = (samples < channel.low - slack) | (samples > channel.high + slack)
    kept = np.where(wrong, np.nan, samples)
    if channel.reference:
        kept = np.mod(kept, channel.turn)
    return kept, wrong


def drop_zero_positions(
    channels: dict[str, FloatArray], file: str
) -> list[Finding]:
    """Drop what the satellite receiver gives where its position is exactly 0, 0.

    Parameters
    ----------
    channels : dict of str to ndarray, each of shape (n,)
        Samples by channel; changed in place.
    file : str
        Name of the recording.

    Returns
    -------
    list of Finding
        What was dropped; never raises.

    Examples
    --------
    >>> channels = {"latitude": np.array([0.0, 50.0]), "longitude": np.array([0.0, 8.0]),
    ...             "ground_speed": np.array([18.0, 30.0])}
    >>> _ = drop_zero_positions(channels, "one.csv")
    >>> channels["ground_speed"]
    array([nan, 30.])
    """
    if "latitude" not in channels or "longitude" not in channels:
        return []
    zero = (channels["latitude"] == 0.0) & (channels["longitude"] == 0.0)
    if not zero.any():
        return []
    dropped = [name for name in POSITION_CHANNELS if name in channels]
    for name in dropped:
        channels[name] = np.where(zero, np.nan, channels[name])
    return [Finding("caution", f"{file}: the position is 0, 0 in {int(zero.sum())} rows",
                    f"{', '.join(dropped)} of those rows are missing")]


def drop_spikes(time_s: FloatArray, speed_ms: FloatArray) -> tuple[FloatArray, int]:
    """Drop runs of ground speed that no airplane can have reached or left.

    Ground speed is cut where it changes by more than 20 m/s^2 and 5 m/s, and where it was missing
    for over 3 s. A run of at most 20 s between such cuts is dropped where at least one of its cuts
    is a change too fast and its neighbour there is the longer run.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time [s], strictly increasing.
    speed_ms : ndarray, shape (n,)
        Ground speed [m/s]; NaN where missing.

    Returns
    -------
    tuple of (ndarray of shape (n,), int)
        Ground speed and the number of samples dropped; never raises.

    Examples
    --------
    >>> drop_spikes(np.arange(6.0), np.array([50.0, 50.0, 290.0, 51.0, 51.0, 51.0]))
    (array([50., 50., nan, 51., 51., 51.]), 1)
    """
    known = np.flatnonzero(np.isfinite(speed_ms))
    if known.size < 3:
        return speed_ms, 0
    steps = np.diff(time_s[known])
    jump = np.abs(np.diff(speed_ms[known])) > MOST_ACCELERATION_MS2 * steps + STEP_ALLOWANCE_MS
    if not jump.any():
        return speed_ms, 0
    usual = float(np.median(steps))
    cuts = np.flatnonzero(jump | (steps > max(_DROPOUT_S, 3.0 * usual)))
    bounds = list(itertools.pairwise([0, *(cuts + 1).tolist(), known.size]))
    kept, dropped = speed_ms.copy(), 0
    for index, (first, last) in enumerate(bounds):
        lasts = time_s[known[last - 1]] - time_s[known[first]]
        longer = [_length(bounds, index + side) > last - first
                  for side, cut in ((-1, first - 1), (1, last - 1))
                  if 0 <= cut < jump.size and jump[cut]]
        if lasts <= LONGEST_SPIKE_S and any(longer):
            kept[known[first:last]] = np.nan
            dropped += last - first
    return kept, dropped


def _length(bounds: list[tuple[int, int]], index: int) -> int:
    """Samples of a run."""
    return bounds[index][1] - bounds[index][0]


def acceleration_convention(channels: Mapping[str, FloatArray], file: str) -> list[Finding]:
    """Say where normal acceleration reads 0 in level flight instead of 1.

    Parameters
    ----------
    channels : mapping of str to ndarray, each of shape (n,)
        Samples by channel.
    file : str
        Name of the recording.

    Returns
    -------
    list of Finding
        Empty where the median is near 1 or the channel is not there; never raises.

    Examples
    --------
    >>> print(acceleration_convention({"normal_acceleration": np.array([0.0, 0.02])}, "one.csv")[0])
    one.csv: normal_acceleration is 0.01 g at most times, where level flight is 1 g: give its \
offset, such as offset = "1 g", in the columns file
    """
    samples = channels.get("normal_acceleration", np.empty(0))
    samples = samples[np.isfinite(samples)]
    if not samples.size or 0.5 <= float(np.median(samples)) <= 1.5:
        return []
    return [Finding("caution", f"{file}: normal_acceleration is {np.median(samples):.2f} g at most "
                    "times, where level flight is 1 g",
                    'give its offset, such as offset = "1 g", in the columns file')]


def add_pressure_altitude(
    channels: dict[str, FloatArray], altimeter_setting_pa: float | None
) -> list[Finding]:
    """Add pressure altitude from indicated altitude and the altimeter setting.

    An altimeter set to a pressure shows pressure altitude less the pressure altitude of that
    setting. The setting is the recorded one and, where that is missing, the flight's.

    Parameters
    ----------
    channels : dict of str to ndarray, each of shape (n,)
        Samples by channel; changed in place.
    altimeter_setting_pa : float or None
        The flight's altimeter setting [Pa].

    Returns
    -------
    list of Finding
        What was used, or why there is no pressure altitude; never raises.

    Examples
    --------
    >>> channels = {"indicated_altitude": np.array([500.0])}
    >>> _ = add_pressure_altitude(channels, 101325.0)
    >>> channels["pressure_altitude"]
    array([500.])
    """
    if "pressure_altitude" in channels or "indicated_altitude" not in channels:
        return []
    indicated = channels["indicated_altitude"]
    recorded = channels.get("altimeter_setting", np.full(indicated.shape, np.nan))
    given = np.nan if altimeter_setting_pa is None else altimeter_setting_pa
    missing = ~np.isfinite(recorded)
    setting = np.where(missing, given, recorded)
    known = np.isfinite(indicated) & np.isfinite(setting)
    if not known.any():
        return [Finding("caution", "indicated altitude without an altimeter setting",
                        "there is no pressure altitude; give altimeter_setting in flights.csv")]
    altitude = np.full(indicated.shape, np.nan)
    altitude[known] = pressure_altitude_at_field_m(indicated[known], setting[known])
    channels["pressure_altitude"] = altitude
    return _setting_findings(recorded[np.isfinite(indicated)], given)


def _setting_findings(recorded: FloatArray, given: float) -> list[Finding]:
    """Say which altimeter setting was used, and whether it was turned."""
    known = recorded[np.isfinite(recorded)]
    missing = recorded.size - known.size
    findings = []
    if missing and np.isfinite(given):
        share = "all" if not known.size else str(missing)
        findings.append(Finding("note", f"pressure altitude of {share} rows uses the flight's "
                                f"altimeter setting, {given / 100.0:.1f} hPa"))
    elif missing:
        findings.append(Finding("caution", f"{missing} rows have no altimeter setting",
                                "their pressure altitude is missing"))
    turned = int((np.diff(known) != 0.0).sum())
    if turned:
        findings.append(Finding("note", f"the altimeter setting was turned {turned} times, between "
                                f"{known.min() / 100.0:.1f} and {known.max() / 100.0:.1f} hPa"))
    return findings


def missing_reference(source: ChannelSource, file: str) -> list[Finding]:
    """Say where a direction is used without knowing its north.

    Parameters
    ----------
    source : ChannelSource
        The channel and its column.
    file : str
        Name of the recording.

    Returns
    -------
    list of Finding
        Empty where the north is known or does not matter; never raises.

    Examples
    --------
    >>> from stdday.channels import CHANNELS
    >>> print(missing_reference(ChannelSource(CHANNELS["track"], "Trk", "deg"), "one.csv")[0])
    one.csv: whether track is true or magnetic is not said: it cannot be compared with a runway \
or a wind; write reference = "true" or "magnetic" in the columns file
    """
    name = source.channel.name
    if not source.channel.reference or source.reference is not None:
        return []
    return [Finding("caution", f"{file}: whether {name} is true or magnetic is not said",
                    "it cannot be compared with a runway or a wind; write reference = \"true\" or "
                    "\"magnetic\" in the columns file")]
