"""Checks of each channel by itself: frozen, spikes, marks for 'no value', disconnected probes."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stdday.channels import CHANNELS
from stdday.recording_types import Finding, FloatArray
from stdday.recording_view import View, moment

__all__ = ["check_dead_probes", "check_frozen", "check_marks", "check_rest", "check_spikes",
           "spike_rows"]

#: Channels that never stand still in flight, with the time [s] over which they would be frozen.
#: Identical values over 2 to 10 rows were met in every recording and are normal.
_LIVELY = {"latitude": 30.0, "longitude": 30.0, "gps_altitude": 120.0, "ground_speed": 60.0,
           "track": 120.0, "heading": 120.0, "indicated_airspeed": 60.0, "true_airspeed": 60.0,
           "pressure_altitude": 240.0, "indicated_altitude": 240.0, "vertical_speed": 300.0,
           "engine_speed": 240.0, "propeller_speed": 240.0, "manifold_pressure": 300.0,
           "fuel_flow": 300.0, "pitch": 120.0, "roll": 120.0, "normal_acceleration": 120.0}
#: Channels that may stand still in cruise: judged only against a change of altitude [m].
_SLOW_S, _SLOW_ALTITUDE_M = 600.0, 150.0
#: A run is odd only when it is so much longer than the usual long run of that channel.
_HABIT = 6.0

#: One row and back: no instrument of a light airplane does this [unit of the channel].
_SPIKE = {"indicated_airspeed": 15.0, "true_airspeed": 15.0, "ground_speed": 15.0,
          "pressure_altitude": 45.0, "indicated_altitude": 45.0, "gps_altitude": 60.0,
          "outside_air_temperature": 4.0, "engine_speed": 20.0, "propeller_speed": 15.0,
          "manifold_pressure": 30_000.0, "pitch": 0.6, "latitude": 0.02, "longitude": 0.03,
          "altimeter_setting": 300.0, "fuel_flow": 4.0e-6, "power": 20_000.0}
_SPIKE_ROWS = 3
_SPIKE_LONGEST_S = 8.0
_MORE_THAN_NOISE = 10.0

#: Highest believable median of engine temperatures [K]: 1000 degC of exhaust gas, 320 degC of a
#: cylinder head, 180 degC of oil, 150 degC of coolant (common practice).
_HOTTEST = (("exhaust", 1275.0), ("turbine", 1275.0), ("cylinder", 595.0), ("oil", 455.0),
            ("coolant", 425.0), ("water", 425.0))
_NUMBERED = re.compile(r"(.+?)_([0-9]{1,2})")
_REST = ("ground_speed", "indicated_airspeed", "true_airspeed", "engine_speed", "propeller_speed",
         "fuel_flow", "power", "vertical_speed", "fuel_quantity", "normal_acceleration")

IndexArray = NDArray[np.int64]


@dataclass(frozen=True)
class _Run:
    """A stretch of rows in which a channel has one and the same value."""

    first: int
    last: int
    lasts_s: float


def check_frozen(view: View) -> list[Finding]:
    """Find channels that stand still for long while the airplane moves.

    Parameters
    ----------
    view : View
        The recording.

    Returns
    -------
    list of Finding
        One a channel, its longest run; never raises.

    Examples
    --------
    >>> time_s = np.arange(600.0)
    >>> speed = 40.0 + np.sin(time_s)
    >>> stuck = np.where(time_s > 400.0, 38.5, speed + 0.5)
    >>> view = View(time_s, {"ground_speed": speed, "indicated_airspeed": stuck})
    >>> print(check_frozen(view)[0].what)
    indicated_airspeed stands at 75 kt for 198 s from 00:06:41 UTC
    """
    findings = []
    for name in view.channels:
        least = _LIVELY.get(name, _SLOW_S if "temperature" in name else None)
        run = None if least is None or not view.has(name) else _longest_run(view, name, least)
        if run is None or not _moves(view, name, run):
            continue
        value = float(view.channels[name][run.first])
        findings.append(Finding(
            "caution", f"{name} stands at {view.shown(name, value)} for {run.lasts_s:.0f} s from "
            f"{moment(view.time_s[run.first])}", "a test point in that time has a wrong "
            f"{name.replace('_', ' ')}; see whether the sensor was blocked or disconnected",
            "likely" if run.lasts_s > 2.0 * (least or 0.0) else "possible"))
    return findings


def _longest_run(view: View, name: str, least_s: float) -> _Run | None:
    """Longest run of one value; None where it is not odd for that channel."""
    samples, time_s = view.channels[name], view.time_s
    changes = np.flatnonzero(samples[1:] != samples[:-1])  # a missing value changes too
    firsts = np.concatenate(([0], changes + 1))
    lasts = np.concatenate((changes, [samples.size - 1]))
    lengths = time_s[lasts] - time_s[firsts]
    if name in _REST:
        lengths = np.where(np.abs(samples[firsts]) < 1e-9, 0.0, lengths)
    longest = int(np.argmax(lengths))
    run = _Run(int(firsts[longest]), int(lasts[longest]), float(lengths[longest]))
    if run.lasts_s < least_s or run.last - run.first < 20 or not np.isfinite(samples[run.first]):
        return None
    others = np.delete(lengths, longest)
    usual = float(np.quantile(others, 0.99)) if others.size else 0.0
    return run if run.lasts_s > _HABIT * usual else None


def _moves(view: View, name: str, run: _Run) -> bool:
    """Whether the airplane surely moved during a run, as other channels show."""
    rows = slice(run.first, run.last + 1, max(1, (run.last - run.first) // 2000))
    if name not in _LIVELY:
        altitude = next((view.channels[other][rows] for other in
                         ("pressure_altitude", "indicated_altitude", "gps_altitude")
                         if other in view.channels and other != name), np.empty(0))
        known = altitude[np.isfinite(altitude)]
        return known.size > 10 and float(np.ptp(known)) > _SLOW_ALTITUDE_M
    moving = 0
    for other in ("ground_speed", "indicated_airspeed", "pressure_altitude", "gps_altitude",
                  "latitude", "engine_speed", "heading", "track", "true_airspeed"):
        if other == name or other not in view.channels:
            continue
        known = view.channels[other][rows]
        known = known[np.isfinite(known)]
        if other in ("ground_speed", "indicated_airspeed") and known.size and (
                float(np.median(known)) < 12.0):
            return False
        moving += int(known.size > 10 and float((np.diff(known) != 0.0).mean()) > 0.2)
    return moving >= 1


# ---------------------------------------------------------------- spikes


def spike_rows(time_s: FloatArray, samples: FloatArray, least: float) -> IndexArray:
    """Find samples that leave their neighbours for at most three rows and come back.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time [s].
    samples : ndarray, shape (n,)
        Samples, any unit; NaN where missing.
    least : float
        Smallest step that counts [unit of the samples].

    Returns
    -------
    ndarray of int
        First row of each; never raises.

    Examples
    --------
    >>> spike_rows(np.arange(6.0), np.array([50.0, 50.0, 99.0, 51.0, 51.0, 51.0]), 15.0)
    array([2])
    """
    steps = samples[1:] - samples[:-1]
    with np.errstate(invalid="ignore"):
        big = np.flatnonzero(np.abs(steps) > least)
    if big.size < 2:
        return np.empty(0, dtype=np.int64)
    noise = float(np.nanmedian(np.abs(steps[:: max(1, steps.size // 4000)])))
    big = big[np.abs(steps[big]) > _MORE_THAN_NOISE * noise]
    there, back = big[:-1], big[1:]
    returns = ((back - there <= _SPIKE_ROWS)
               & (time_s[back + 1] - time_s[there] <= _SPIKE_LONGEST_S)
               & (np.abs(steps[there] + steps[back]) < 0.5 * np.abs(steps[there])))
    # where spikes follow each other, each return is the next departure: every second one counts
    pairs = np.flatnonzero(returns)
    begins = np.flatnonzero(np.diff(pairs, prepend=-2) > 1)
    within = np.arange(pairs.size) - np.repeat(begins, np.diff(np.append(begins, pairs.size)))
    return np.asarray(there[pairs[within % 2 == 0]] + 1, dtype=np.int64)


def check_spikes(view: View) -> list[Finding]:
    """Find samples that leave their neighbours and come back at once.

    Parameters
    ----------
    view : View
        The recording.

    Returns
    -------
    list of Finding
        One a channel; the samples stay as they are. Never raises.

    Examples
    --------
    >>> altitude = np.full(60, 300.0)
    >>> altitude[20] = 930.0
    >>> view = View(np.arange(60.0), {"indicated_altitude": altitude})
    >>> print(check_spikes(view)[0].what)
    indicated_altitude leaves its neighbours 1 times for at most 3 rows, first at 00:00:20 UTC \
(3051 ft)
    """
    findings = []
    for name, least in _SPIKE.items():
        if name not in view.channels or view.time_s.size < 10:
            continue
        samples = view.channels[name]
        rows = spike_rows(view.time_s, samples, least)
        if rows.size:
            findings.append(Finding(
                "caution", f"{name} leaves its neighbours {rows.size} times for at most "
                f"{_SPIKE_ROWS} rows, first at {moment(view.time_s[rows[0]])} "
                f"({view.shown(name, float(samples[rows[0]]))})",
                "those samples are used as they are; a mean over a test point with one of them is "
                "off", "likely"))
    return findings


# ---------------------------------------------------------------- marks and probes


def check_marks(view: View) -> list[Finding]:
    """Find a value that stands apart from all others and comes again and again.

    Parameters
    ----------
    view : View
        The recording.

    Returns
    -------
    list of Finding
        One a channel; never raises.

    Examples
    --------
    >>> oat = 288.0 + np.sin(np.arange(300.0))
    >>> oat[100:120] = 227.15
    >>> print(check_marks(View(np.arange(300.0), {"outside_air_temperature": oat}))[0].what)
    outside_air_temperature is exactly -46.0 degC in 20 rows, far from all its other values
    """
    findings = []
    for name in view.channels:
        if not view.has(name):
            continue
        value = _mark(view, name)
        if value is None:
            continue
        count = int((view.channels[name] == value).sum())
        findings.append(Finding(
            "caution", f"{name} is exactly {view.shown(name, value)} in {count} rows, far from all "
            "its other values", "it may stand for 'no value' (a disconnected probe); if so, write "
            f"it as missing = [\"…\"] of {name} in the columns file", "likely"))
    return findings


def _mark(view: View, name: str) -> float | None:
    """Lowest or highest value of a channel, if it is a mark and no measurement."""
    known = np.sort(view.thin(name))    # missing values come last
    known = known[:np.searchsorted(known, np.inf)]
    whole = view.channels[name]
    for value in (float(np.fmin.reduce(whole)), float(np.fmax.reduce(whole))):
        first, last = np.searchsorted(known, value), np.searchsorted(known, value, side="right")
        rest = known[last:] if first == 0 else known[:first]
        if rest.size < 20 or (value == 0.0 and name in _REST):
            continue
        low, high = rest[rest.size // 20], rest[-1 - rest.size // 20]
        apart = max(low - value, value - high)
        if high <= low or apart <= 3.0 * (high - low) + 1e-6 * max(abs(value), abs(high)):
            continue
        rows = np.flatnonzero(whole == value)
        if rows.size >= 5 and _abrupt(whole, rows, apart):
            return value
    return None


def _abrupt(samples: FloatArray, rows: IndexArray, apart: float) -> bool:
    """Whether a value is always reached and left in one step."""
    edge = np.flatnonzero(np.diff(rows, prepend=-2) > 1)
    before = rows[edge] - 1
    before = before[before >= 0]
    if not before.size:
        return False
    steps = np.abs(samples[before + 1] - samples[before])
    return not bool((steps < 0.5 * apart).any())


def check_dead_probes(view: View) -> list[Finding]:
    """Find engine probes that do not follow the engine or read what no engine has.

    Parameters
    ----------
    view : View
        The recording.

    Returns
    -------
    list of Finding
        One a probe; never raises.

    Examples
    --------
    >>> time_s = np.arange(300.0)
    >>> hot = 900.0 + 100.0 * np.sin(time_s / 50.0)
    >>> view = View(time_s, {"exhaust_gas_temperature_1": hot, "exhaust_gas_temperature_2": hot + 9,
    ...                      "exhaust_gas_temperature_3": np.full(300, 1385.4)})
    >>> print(check_dead_probes(view)[0].what)
    exhaust_gas_temperature_3 reads about 1112.2 degC: hotter than an engine can be
    """
    findings, families = [], defaultdict(list)
    for name in view.channels:
        if "temperature" not in name or name in CHANNELS or not view.has(name):
            continue
        median = float(np.nanmedian(view.thin(name)))
        hottest = next((limit for word, limit in _HOTTEST if word in name), np.inf)
        if median > hottest:
            findings.append(Finding(
                "caution", f"{name} reads about {view.shown(name, median)}: hotter than an engine "
                "can be", "its unit is wrong (degF for degC?), or the probe is disconnected",
                "likely"))
        elif found := _NUMBERED.fullmatch(name):
            families[found[1]].append(name)
    for names in families.values():
        findings += _dead_of(view, names)
    return findings


def _dead_of(view: View, names: list[str]) -> list[Finding]:
    """Find the probes of one kind that stand still while the others move."""
    if len(names) < 3:
        return []
    spans = {name: float(np.subtract(*np.nanquantile(view.thin(name), (0.9, 0.1))))
             for name in names}
    usual = float(np.median(list(spans.values())))
    return [Finding("caution", f"{name} hardly moves (by {span:.1f} K, the others of its kind by "
                    f"{usual:.0f} K)", "the probe is probably disconnected", "likely")
            for name, span in spans.items() if usual > 20.0 and span < 0.05 * usual]


def check_rest(view: View) -> list[Finding]:
    """Find an engine that stands and yet burns fuel.

    Parameters
    ----------
    view : View
        The recording.

    Returns
    -------
    list of Finding
        Never raises.

    Examples
    --------
    >>> rpm, flow = np.full(60, 40.0), np.full(60, 5e-6)
    >>> rpm[:3], flow[:3] = 0.0, 1e-5
    >>> print(check_rest(View(np.arange(60.0), {"engine_speed": rpm, "fuel_flow": flow}))[0].what)
    fuel_flow is above 0 in 3 rows with engine_speed 0
    """
    findings = []
    if view.has("engine_speed", "fuel_flow"):
        flow = view.channels["fuel_flow"]
        least = 0.2 * float(np.nanquantile(view.thin("fuel_flow"), 0.95))
        rows = int(((view.channels["engine_speed"] == 0.0) & (flow > least)).sum())
        if rows and least > 0.0:
            findings.append(Finding(
                "caution", f"fuel_flow is above 0 in {rows} rows with engine_speed 0",
                "one of the two is wrong there; fuel used is too much", "likely"))
    return findings
