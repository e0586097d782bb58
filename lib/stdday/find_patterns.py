"""Airspeed-calibration patterns: boxes, triangles, reciprocal pairs and circles."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from stdday.bands import BANDS, KNOT_MS, Bands
from stdday.candidates import Candidate, feet, quality_word
from stdday.find_circles import find_circles
from stdday.find_legs import Leg, Motion, cropped, find_legs, motion_of
from stdday.ground_velocity import has_ground_velocity
from stdday.pattern_shape import Shape, shape_of
from stdday.signals import Trace, smooth

__all__ = ["find_patterns"]

_Fits = Callable[[Sequence[Leg], Leg], bool]

#: Limits of good and fair: difference of airspeed between legs [m/s], and legs that had to be left
#: out.
_BETWEEN_MS = (2.0 * KNOT_MS, 4.0 * KNOT_MS)


def find_patterns(trace: Trace, bands: Bands = BANDS) -> list[Candidate]:
    """Find patterns flown to calibrate the airspeed, and say why others are none.

    A pattern is a sequence of steady straight legs at one airspeed, altitude and power with nothing
    but turns between them, in at least three directions that span, or in two opposite ones; or a
    steady circle. One leg may be the end or beginning of a cruise. A racetrack flown that steadily
    is two opposite directions like any other.

    Parameters
    ----------
    trace : Trace
        Recording; ground speed and track or heading (or positions), airspeed and pressure altitude
        are needed.
    bands : Bands, optional
        Thresholds.

    Returns
    -------
    list of Candidate
        In order of time, with their shape and the bounds of their legs.

    Examples
    --------
    Four minutes around a box in a wind from the west of 5 m/s:

    >>> time = np.arange(0.0, 240.0)
    >>> heading = np.interp(time % 60, [52.0, 60.0], [0.0, np.pi / 2]) + time // 60 * np.pi / 2
    >>> east, north = 40.0 * np.sin(heading) + 5.0, 40.0 * np.cos(heading)
    >>> trace = Trace(time, {
    ...     "ground_speed": np.hypot(east, north), "track": np.arctan2(east, north),
    ...     "indicated_airspeed": np.full(240, 38.0), "pressure_altitude": np.full(240, 900.0)})
    >>> [(one.pattern, one.used, len(one.legs)) for one in find_patterns(trace)]
    [('box', True, 4)]
    """
    motion = motion_of(trace, bands)
    if motion is None:
        return []
    legs = find_legs(motion)
    found: list[Candidate] = []
    taken: set[float] = set()
    for chain in _chains([leg for leg in legs if leg.held], lambda a, b: _fits(motion, a, b)):
        near = [
            cropped(motion, leg, bands.leg_kept_s, last=not place) if leg.cruise else leg
            for place, leg in enumerate(chain)
        ]
        shape = shape_of(near, bands)
        if shape.usable:
            found.append(_pattern(motion, near, shape, legs))
            taken |= {leg.start_s for leg in chain}
    found += [one for one in find_circles(motion) if not _covered(one, found)]
    left = [leg for leg in legs if leg.start_s not in taken and not leg.cruise]
    for chain in _chains(left, lambda a, b: _was_tried(motion, a, b)):
        found += [one for one in _rejected(motion, chain) if not _covered(one, found)]
    lacking = _lacking(trace)
    if lacking:
        found = [_without(one, lacking) for one in found]
    return sorted(found, key=lambda one: one.start_s)


def _lacking(trace: Trace) -> str:
    """What was not recorded without which no pattern can be used."""
    lacks = []
    if not (trace.has("ground_speed") or has_ground_velocity(trace)):
        lacks.append("no ground speed recorded: read it on each leg and fill in a card")
    if not trace.has("indicated_airspeed"):
        lacks.append("no airspeed recorded")
    if not trace.has("pressure_altitude"):
        lacks.append("no pressure altitude recorded")
    return "; ".join(lacks)


def _without(one: Candidate, lacking: str) -> Candidate:
    reason = "; ".join(filter(None, (lacking, one.reason)))
    return Candidate(one.kind, one.start_s, one.end_s, False, reason, one.quality,
                     pattern=one.pattern, legs=one.legs)


def _covered(candidate: Candidate, found: Sequence[Candidate]) -> bool:
    """Whether it overlaps a pattern that is used: a turn between its legs, straight bits around."""
    return any(one.used and one.start_s < candidate.end_s and candidate.start_s < one.end_s
               for one in found)


# ---- which legs belong together ------------------------------------------------------------------


def _chains(legs: Sequence[Leg], fits: _Fits) -> list[list[Leg]]:
    """Cut a sequence of legs wherever one does not fit to those before it."""
    chains: list[list[Leg]] = []
    for leg in legs:
        if chains and fits(chains[-1], leg):
            chains[-1].append(leg)
        else:
            chains.append([leg])
    return chains


def _apart(chain: Sequence[Leg], leg: Leg, name: str) -> float:
    """How far a leg is from the mean of those before it; 0 where that is not known."""
    mean = float(np.mean([getattr(one, name) for one in chain]))
    apart = abs(float(getattr(leg, name)) - mean)
    return apart if np.isfinite(apart) else 0.0


def _excursion(motion: Motion, name: str, before: Leg, after: Leg, value: float) -> float:
    """How far a channel goes from a value between two legs; 0 where that is not known."""
    if not name or not motion.trace.has(name):
        return 0.0
    first, last = motion.trace.index(before.end_s), motion.trace.index(after.start_s) + 1
    values = motion.trace.even(name)[first:last]
    if len(values) > 2:
        values = smooth(values, 4.0, motion.trace.step_s)
    apart = np.abs(values - value)
    known = apart[np.isfinite(apart)]
    return float(known.max()) if len(known) else 0.0


def _fits(motion: Motion, chain: Sequence[Leg], leg: Leg) -> bool:
    """Whether a leg continues a pattern."""
    bands = motion.bands
    last = chain[-1]
    away = _excursion(motion, motion.altitude, last, leg, last.altitude_m)
    sag = _excursion(motion, "indicated_airspeed", last, leg, last.airspeed_ms)
    return bool(
        leg.start_s - last.end_s <= bands.pattern_gap_s
        and sum(one.cruise for one in (*chain, leg)) <= 1
        and _apart(chain, leg, "airspeed_ms") <= bands.pattern_airspeed_ms
        and _apart(chain, leg, "altitude_m") <= bands.pattern_altitude_m
        and _apart(chain, leg, "power") <= bands.pattern_power
        and away <= bands.pattern_excursion_m
        and sag <= bands.pattern_sag_ms
    )


def _was_tried(motion: Motion, chain: Sequence[Leg], leg: Leg) -> bool:
    """Whether a leg may have been meant to continue a pattern."""
    bands = motion.bands
    return bool(
        leg.start_s - chain[-1].end_s <= bands.pattern_gap_s
        and max(leg.duration_s, chain[-1].duration_s) <= bands.pattern_attempt_s
        and _apart(chain, leg, "airspeed_ms") <= bands.pattern_attempt_ms
        and _apart(chain, leg, "altitude_m") <= bands.pattern_excursion_m
    )


# ---- candidates ----------------------------------------------------------------------------------


def _pattern(
    motion: Motion, chain: Sequence[Leg], shape: Shape, legs: Sequence[Leg]
) -> Candidate:
    trace, bands = motion.trace, motion.bands
    start, end = chain[0].start_s, chain[-1].end_s
    air = [trace.line("indicated_airspeed", leg.start_s, leg.end_s) for leg in chain]
    height = [trace.line("pressure_altitude", leg.start_s, leg.end_s) for leg in chain]
    gusts = max(line.scatter for line in air)
    waves = max(line.scatter for line in height)
    between = float(np.ptp([leg.airspeed_ms for leg in chain]))
    marks = [
        (gusts, bands.scatter_airspeed_ms, f"airspeed scatter {gusts / KNOT_MS:.1f} kt"),
        (waves, bands.scatter_altitude_m, f"altitude scatter {feet(waves)}"),
        (between, _BETWEEN_MS, f"legs {between / KNOT_MS:.1f} kt apart"),
    ]
    if shape.name == "reciprocal pair" and not trace.has("heading"):
        marks.append((1.0, (0.0, 2.0), "two directions and no heading: the wind across is open"))
    for leg in legs:
        if not leg.held and start < leg.start_s < end:
            marks.append((1.0, (0.0, 2.0), f"one more leg left out ({leg.reason})"))
    return _candidate(chain, shape, "", quality_word(marks))


def _candidate(chain: Sequence[Leg], shape: Shape, reason: str, quality: str) -> Candidate:
    return Candidate(
        "airspeed calibration",
        chain[0].start_s,
        chain[-1].end_s,
        not reason,
        reason,
        quality,
        pattern=shape.name,
        legs=tuple((leg.start_s, leg.end_s) for leg in chain),
    )


def _rejected(motion: Motion, chain: Sequence[Leg]) -> list[Candidate]:
    """What looks like an attempt at a pattern, with the reason why it is none."""
    shape = shape_of(chain, motion.bands)
    if shape.usable:
        reason = _not_held(motion, chain)
        return [_candidate(chain, shape, reason, "poor: not steady")]
    held = [leg for leg in chain if leg.held]
    if len(held) < 2:
        return []
    shape = shape_of(held, motion.bands)
    if shape.usable or shape.span_rad < motion.bands.pattern_apart_rad:
        return []
    reason = (
        f"headings span only {np.degrees(shape.span_rad):.0f} deg: fly one more leg near "
        f"{np.degrees(shape.add_rad) % 360:03.0f} deg"
    )
    return [_candidate(held, shape, reason, "poor: headings do not span")]


def _not_held(motion: Motion, chain: Sequence[Leg]) -> str:
    """Why legs that span are no pattern."""
    reasons = [
        f"leg {place}: {leg.reason}" for place, leg in enumerate(chain, start=1) if leg.reason
    ]
    speeds = np.array([leg.airspeed_ms for leg in chain]) / KNOT_MS
    heights = np.array([leg.altitude_m for leg in chain])
    powers = np.array([leg.power for leg in chain])
    if np.ptp(speeds) > motion.bands.pattern_airspeed_ms / KNOT_MS:
        reasons.append(f"airspeed not held: {speeds.min():.0f} to {speeds.max():.0f} kt over the "
                       "legs")
    if np.ptp(heights) > motion.bands.pattern_altitude_m:
        reasons.append(f"altitude not held: {feet(float(np.ptp(heights)))} between the legs")
    if np.ptp(powers) > motion.bands.pattern_power:
        reasons.append(f"power not held: {100 * powers.min():.0f} to {100 * powers.max():.0f} % of "
                       "the highest")
    return "; ".join(reasons) or "more than turns between the legs"
