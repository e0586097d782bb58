"""What a leg of an airspeed calibration carries beyond the usual means of a test point."""

from __future__ import annotations

import numpy as np

from stdday.candidates import Candidate
from stdday.ground_velocity import ground_velocity, mean_direction_rad, velocity_at_middle
from stdday.signals import Trace

__all__ = ["LEG_COLUMNS", "LEG_TEXT", "leg_bounds", "leg_state"]

#: Text columns of a leg.
LEG_TEXT = ("pattern", "flaps")
#: All of them, in order.
LEG_COLUMNS = (
    *LEG_TEXT,
    "ground_east_ms",
    "ground_north_ms",
    "track_is_true",
    "heading_rad",
    "reference_calibrated_ms",
    "reference_true_ms",
)
#: A leg cut shorter than this by bounds that a person drew is left out [s].
_LEAST_S = 5.0


def leg_bounds(candidate: Candidate) -> list[tuple[str, float, float]]:
    """Give the legs of a pattern within its bounds, which a person may have drawn closer.

    Parameters
    ----------
    candidate : Candidate
        Pattern.

    Returns
    -------
    list of (str, float, float)
        Name, start and end [s] of each; legs of which less than 5 s is left are not in it.

    Examples
    --------
    >>> leg_bounds(Candidate("airspeed calibration", 50.0, 200.0, True,
    ...                      legs=((0.0, 40.0), (80.0, 120.0))))
    [('leg_1', 80.0, 120.0)]
    """
    inside = [
        (max(start, candidate.start_s), min(end, candidate.end_s)) for start, end in candidate.legs
    ]
    kept = [(start, end) for start, end in inside if end - start >= _LEAST_S]
    return [(f"leg_{place}", *bounds) for place, bounds in enumerate(kept, start=1)]


def leg_state(
    trace: Trace, start_s: float, end_s: float, pattern: str, track_is_true: bool
) -> dict[str, float | str]:
    """Make the columns `LEG_COLUMNS` of one leg.

    Parameters
    ----------
    trace : Trace
        Recording.
    start_s, end_s : float
        Bounds of the leg [s].
    pattern : str
        Shape that it belongs to.
    track_is_true : bool
        Whether the recorded track counts from true north.

    Returns
    -------
    dict
        The velocity over the ground is the mean vector, of an arc of a circle the vector at its
        middle; NaN where it was not recorded. Where it was made from positions, the mean ground
        speed is added, and north is true.

    Examples
    --------
    >>> trace = Trace([0.0, 1.0, 2.0], {"ground_speed": [30.0] * 3, "track": [0.1, 0.0, -0.1]})
    >>> state = leg_state(trace, 0.0, 2.0, "box", True)
    >>> round(state["ground_north_ms"], 2), state["track_is_true"], state["heading_rad"]
    (29.9, 1.0, nan)
    """
    part = trace.between(start_s, end_s)
    east, north, positions = ground_velocity(trace, part)
    of_arc = pattern == "circle"
    state: dict[str, float | str] = {
        "pattern": pattern,
        "flaps": "",
        "track_is_true": float(track_is_true or positions),
        "heading_rad": mean_direction_rad(trace.raw("heading")[part]),
        "reference_calibrated_ms": float("nan"),
        "reference_true_ms": float("nan"),
    }
    for name, values in (("ground_east_ms", east), ("ground_north_ms", north)):
        state[name] = (
            velocity_at_middle(trace.time_s[part], values) if of_arc else _known_mean(values)
        )
    if positions:
        state["ground_speed_ms"] = _known_mean(np.hypot(east, north))
    return state


def _known_mean(values: np.ndarray) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else float("nan")
