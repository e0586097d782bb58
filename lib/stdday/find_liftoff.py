"""The moment of lift-off, from every channel that responds to it.

Each channel gives a time of its own with a standard deviation: the mean and width of the likelihood
of a change at each possible time. The times are joined by their variances; one that disagrees is
left out, and the quality of the point says so. What comes late is moved by its delay, and carries
the doubt about it. Where pitch and airspeed tell when lift carries the weight, they are followed;
without them a lift-off from a soft field cannot be told from the climb that follows it seconds
later, and where it may have been one the answer is as wide as that. Static altitude rises when
power is applied with the wheels on the ground, so that it is used only where nothing better was
recorded.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stdday.delays import Delays, estimate_delays
from stdday.find_lift import carried_s, fit_wing
from stdday.liftoff_channels import (
    ChannelTime,
    from_ground_speed,
    from_height,
    from_normal_acceleration,
    from_pitch,
    from_static,
    from_vertical_speed,
    known_samples,
    low_flight,
)
from stdday.signals import Trace, fit_line

__all__ = ["LOW_FLIGHT", "ChannelTime", "Liftoff", "find_liftoff", "join_times", "nose_up_s"]

FloatArray = NDArray[np.float64]

#: Normal acceleration is looked at so long before the climb shows, and after [s].
LOAD_WINDOW_S = (12.0, 1.5)
#: A change of the load farther than this from the climb [s] is not taken for lift-off by itself.
LOAD_NEAR_S = 2.5
#: Airspeed where the climb begins, over that of the climb [-]: a usual lift-off is at 0.75 to 0.85
#: of it (1.1 to 1.2 over 1.3 to 1.45 stall speeds), a climb after low flight begins near it.
FAST_AT_CLIMB = 0.85
#: How much earlier than such a climb the wheels may have left, as one sigma [s]. Seen: 8 to 10 s.
SOFT_SIGMA_S = 4.0
#: What is left in doubt where lift over weight is not followed [s], one sigma: how long a climb
#: builds up, how far the nose is up when the wheels leave. Two simulations differ by 0.8 s.
NOT_CARRIED_SIGMA_S = 0.5
#: With pitch, but without airspeed: a nose up for longer than this [s] may have lifted the wheels.
NOSE_UP_S = 4.0
#: What a lift-off without GPS height is known to at best [s], one sigma: nothing bears it out.
STATIC_SIGMA_S = 1.5
#: What to say where it does not look like that, and may still be so.
UNSEEN = "pitch not recorded: low flight before the climb would not show"
#: A climb that comes so long after lift carries the weight was flown low before [s].
LOW_AFTER_S = 2.0
#: Least airspeed of low flight, of the airspeed at the start of the climb: stall over climb speed.
LOW_AIRSPEED = 0.65
#: Name of a climb that came after level flight low over the runway, among the times left out.
LOW_FLIGHT = "climb after low level flight"
#: Channels that respond to lift-off itself, not to the climb that may follow later.
EARLY = ("normal acceleration", "pitch")
LIFT = "lift over weight"


@dataclass(frozen=True)
class Liftoff:
    """Time of lift-off.

    Parameters
    ----------
    time_s, sigma_s : float
        Time and its standard deviation [s]; NaN where no channel shows it.
    used, left_out : tuple of ChannelTime
        Channels that agree, and those that do not.
    doubt : str
        What makes the time less certain than its channels say; empty where nothing does.
    """

    time_s: float
    sigma_s: float
    used: tuple[ChannelTime, ...]
    left_out: tuple[ChannelTime, ...]
    doubt: str = ""

    @property
    def carried(self) -> bool:
        """Whether lift over weight, from pitch and airspeed, was followed."""
        return any(one.channel == LIFT for one in self.used)


def find_liftoff(
    trace: Trace, roll_s: float, clear_s: float, height: str, delays: Delays | None = None
) -> Liftoff:
    """Find lift-off between the start of the roll and a height that ends doubt.

    Parameters
    ----------
    trace : Trace
        Recording.
    roll_s : float
        Start of the roll [s], as the receiver shows it.
    clear_s : float
        Time at which the airplane is surely up [s], some 10 m above the runway.
    height : str
        Channel that `clear_s` was read from: ``gps_altitude`` or ``pressure_altitude``; empty
        where neither was recorded.
    delays : Delays, optional
        How late the sensors are; estimated from the recording where not given.

    Returns
    -------
    Liftoff
        When it happened, delays taken out; all NaN where no channel shows it.
    """
    if delays is None:
        delays = estimate_delays(trace, [(roll_s - 15, clear_s + 15)])
    by_gps = height == "gps_altitude"
    climb = from_height(trace, roll_s, clear_s, delays.receiver) if by_gps else None
    times = _other_times(trace, roll_s, clear_s, height, delays, climb)
    lift = _from_lift(trace, roll_s, clear_s, delays)
    if lift is not None:
        return _with_lift(lift, climb, times)
    low = low_flight(trace, roll_s, climb, delays.receiver) if climb is not None else None
    if low is not None and climb is not None and _bears_out(trace, roll_s, low, climb):
        near = [one for one in times if one.channel in EARLY and abs(one.time_s - low.time_s) < 2.5]
        late = ChannelTime(LOW_FLIGHT, climb.time_s, climb.sigma_s)
        found = _wider(join_times([low, *near]), NOT_CARRIED_SIGMA_S)
        return replace(found, left_out=(*found.left_out, late))
    found = join_times(times) if climb is None else _with_climb(climb, times)
    # Without a height that static pressure does not disturb, nothing bears the others out.
    found = found if by_gps else _wider(found, STATIC_SIGMA_S)
    return _doubted(trace, roll_s, _wider(found, NOT_CARRIED_SIGMA_S), clear_s)


def _wider(found: Liftoff, sigma_s: float) -> Liftoff:
    """The same with one more standard deviation."""
    return replace(found, sigma_s=float(np.hypot(found.sigma_s, sigma_s)))


def _other_times(
    trace: Trace, roll_s: float, clear_s: float, height: str, delays: Delays,
    climb: ChannelTime | None,
) -> list[ChannelTime]:
    """Times from all channels but lift over weight and GPS height."""
    until = clear_s if climb is None else min(clear_s, climb.time_s + LOAD_WINDOW_S[1])
    since = roll_s if climb is None else max(roll_s, climb.time_s - LOAD_WINDOW_S[0])
    times = [
        from_normal_acceleration(trace, roll_s, since, until),
        from_pitch(trace, roll_s, clear_s),
    ]
    if climb is None:  # what shows the climb, and later than GPS height does
        times += [
            from_ground_speed(trace, roll_s, clear_s, delays.receiver),
            from_vertical_speed(trace, roll_s, clear_s),
            from_static(trace, roll_s, clear_s) if height == "pressure_altitude" else None,
        ]
    return [one for one in times if one is not None]


def _from_lift(
    trace: Trace, roll_s: float, clear_s: float, delays: Delays
) -> ChannelTime | None:
    """Lift carries the weight, by pitch and airspeed."""
    wing = fit_wing(trace, delays, clear_s)
    found = carried_s(trace, wing, roll_s, clear_s) if wing is not None else None
    return None if found is None else ChannelTime(LIFT, *found)


def _with_lift(
    lift: ChannelTime, climb: ChannelTime | None, times: list[ChannelTime]
) -> Liftoff:
    """Join lift over weight with what agrees; a climb long after it came after low flight."""
    loads = [one for one in times if one.channel == "normal acceleration"]
    near = [one for one in loads if abs(one.time_s - lift.time_s) < 2.0]
    if climb is None:
        return join_times([lift, *near])
    if climb.time_s - lift.time_s > max(LOW_AFTER_S, 3.0 * _apart(climb, lift)):
        found = join_times([lift, *near])
        late = ChannelTime(LOW_FLIGHT, climb.time_s, climb.sigma_s)
        return replace(found, left_out=(*found.left_out, late))
    return join_times([lift, climb, *near])


def _with_climb(climb: ChannelTime, times: list[ChannelTime]) -> Liftoff:
    """Join GPS height with what agrees; one change of the load alone far from it is another one."""
    far = [
        one
        for one in times
        if one.channel == "normal acceleration" and abs(one.time_s - climb.time_s) > LOAD_NEAR_S
    ]
    if len(times) > 1 and far:  # pitch may bear it out
        return join_times([*times, climb])
    found = join_times([*(one for one in times if one not in far), climb])
    return replace(found, left_out=(*found.left_out, *far))


def _apart(first: ChannelTime, second: ChannelTime) -> float:
    return float(np.hypot(first.sigma_s, second.sigma_s))


def _doubted(trace: Trace, roll_s: float, found: Liftoff, clear_s: float) -> Liftoff:
    """Widen a time that may be that of a climb after low flight over the runway.

    Without pitch nothing else tells: but a climb that begins near its own airspeed was flown up to.
    Pitch without airspeed tells at least for how long the nose was up.
    """
    if not np.isfinite(found.time_s) or {"pitch", "indicated_airspeed"} <= _recorded(trace):
        return found
    if trace.has("pitch"):
        nose = nose_up_s(trace, roll_s, found.time_s)
        if not nose > NOSE_UP_S:
            return found
        doubt = f"nose raised {nose:.0f} s before the climb, and airspeed is not recorded"
        return replace(_wider(found, nose / 2), doubt=doubt)
    name = "indicated_airspeed" if trace.has("indicated_airspeed") else "ground_speed"
    then = _value_at(trace, name, found.time_s)
    later = trace.mean(name, clear_s + 5, clear_s + 25)
    if not then > FAST_AT_CLIMB * later:
        return replace(found, doubt=UNSEEN)
    doubt = (
        f"the climb began at {100 * then / later:.0f} % of its airspeed: "
        "the wheels may have left seconds before, and pitch is not recorded"
    )
    return replace(_wider(found, SOFT_SIGMA_S), doubt=doubt)


def _recorded(trace: Trace) -> set[str]:
    return {name for name in ("pitch", "indicated_airspeed") if trace.has(name)}


def _value_at(trace: Trace, name: str, time_s: float) -> float:
    """Value of a channel at a time, from a line through four seconds; NaN without samples."""
    found = known_samples(trace, name, time_s - 2, time_s + 2, least=3)
    if found is None:
        return float("nan")
    line = fit_line(*found)
    return line.mean + line.rate * (time_s - float(found[0].mean()))


def nose_up_s(trace: Trace, roll_s: float, liftoff_s: float) -> float:
    """Time before lift-off since when the nose has been up, 3 deg over its lowest in the roll.

    Parameters
    ----------
    trace : Trace
        Recording.
    roll_s, liftoff_s : float
        Start of the roll and lift-off [s].

    Returns
    -------
    float
        Time [s]; NaN where pitch is not recorded.
    """
    found = known_samples(trace, "pitch", roll_s, liftoff_s)
    if found is None:
        return float("nan")
    time, pitch = found
    down = np.flatnonzero(pitch < np.percentile(pitch, 10) + np.radians(3.0))
    return float(liftoff_s - time[down[-1]])


def _bears_out(trace: Trace, roll_s: float, low: ChannelTime, climb: ChannelTime) -> bool:
    """Whether the other channels allow that the airplane flew low before it climbed.

    GPS height alone wanders by as much as a low flight is high: the nose must be up by then, and
    the airspeed not far from that of the climb.
    """
    nose = nose_up_s(trace, roll_s, climb.time_s)
    up = climb.time_s - nose
    if not up <= low.time_s + 1.0:
        return False
    name = "indicated_airspeed" if trace.has("indicated_airspeed") else "ground_speed"
    then = trace.mean(name, low.time_s - 1, low.time_s + 1)
    later = trace.mean(name, climb.time_s - 1, climb.time_s + 1)
    return bool(then > LOW_AIRSPEED * later)


def join_times(times: list[ChannelTime]) -> Liftoff:
    """Join the times of several channels by their variances, leaving out what disagrees.

    Where normal acceleration or pitch show a lift-off well before height and speed show a climb,
    the airplane flew level just above the runway, as after a soft-field lift-off: the early
    channels are followed. Otherwise the channel farthest from the mean, in its own standard
    deviations, is left out until all lie within three; of two that disagree both are kept, with
    half of their distance as the standard deviation.

    Parameters
    ----------
    times : list of ChannelTime
        Times; may be empty.

    Returns
    -------
    Liftoff

    Examples
    --------
    >>> join_times([ChannelTime("pitch", 20.0, 0.6), ChannelTime("GPS height", 21.0, 0.6)]).time_s
    20.5
    """
    early = [one for one in times if one.channel in EARLY]
    late = [one for one in times if one.channel not in EARLY]
    left_out: list[ChannelTime] = []
    if len(early) == len(EARLY) and late and _mean(late)[0] - _mean(early)[0] > 3.0:
        apart = abs(early[0].time_s - early[1].time_s)
        if apart < 2.0:
            times, left_out = early, late
    times = list(times)
    while len(times) > 1:
        middle, _ = _mean(times)
        worst = max(times, key=lambda one: abs(one.time_s - middle) / one.sigma_s)
        rest = [one for one in times if one is not worst]
        others, sigma = _mean(rest)
        if abs(worst.time_s - others) <= 3 * np.hypot(worst.sigma_s, sigma):
            break
        if len(rest) == 1:  # neither is outvoted: between them, known no better than that
            middle, apart = _mean(times)[0], abs(times[0].time_s - times[1].time_s)
            return Liftoff(middle, apart / 2, tuple(times), tuple(left_out))
        times = rest
        left_out.append(worst)
    if not times:
        return Liftoff(np.nan, np.nan, (), tuple(left_out))
    middle, sigma = _mean(times)
    return Liftoff(middle, sigma, tuple(times), tuple(left_out))


def _mean(times: list[ChannelTime]) -> tuple[float, float]:
    """Mean weighted by variances, and its standard deviation."""
    weights = np.array([one.sigma_s**-2 for one in times])
    values = np.array([one.time_s for one in times])
    reference = values[0]
    mean = reference + (values - reference) @ weights / weights.sum()
    return float(mean), float(weights.sum() ** -0.5)
