"""What may be wrong with a recording, in words: what it spoils, and how sure it is.

Nothing is repaired here: a sample stays as it was recorded, and a person decides.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from stdday.recording_checks_air import AIR_CHECKS
from stdday.recording_checks_lags import check_lags
from stdday.recording_checks_north import NORTH_CHECKS
from stdday.recording_checks_rows import (
    check_dead_probes,
    check_frozen,
    check_marks,
    check_rest,
    check_spikes,
)
from stdday.recording_checks_units import UNIT_CHECKS
from stdday.recording_types import Finding, FloatArray
from stdday.recording_view import FEWEST, FlightFacts, View

__all__ = ["CHECKS", "FlightFacts", "check_recording"]

#: Every check, in the order in which findings are told.
CHECKS: tuple[Callable[[View], list[Finding]], ...] = (
    check_frozen, check_spikes, check_marks, check_dead_probes, check_rest, *UNIT_CHECKS,
    *AIR_CHECKS, *NORTH_CHECKS, check_lags)


def check_recording(
    time_s: FloatArray,
    channels: Mapping[str, FloatArray],
    track_reference: str | None = None,
    heading_reference: str | None = None,
    facts: FlightFacts | None = None,
) -> list[Finding]:
    """Look for what may be wrong with a recording.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Time [s], strictly increasing.
    channels : mapping of str to ndarray, each of shape (n,)
        Samples by channel, in the units of `stdday.channels`; NaN where missing.
    track_reference, heading_reference : {"true", "magnetic", None}
        North that the directions are said to be counted from.
    facts : FlightFacts, optional
        What else is known of the flight.

    Returns
    -------
    list of Finding
        In words; empty for a recording of fewer than 30 rows. Never raises.

    Examples
    --------
    >>> speed = np.full(200, 50.0)
    >>> found = check_recording(np.arange(200.0), {"ground_speed": speed + np.arange(200) % 2,
    ...                                            "indicated_airspeed": speed * 1.85})
    >>> [item.sure for item in found]
    ['likely', 'likely']
    """
    if time_s.size < FEWEST:
        return []
    view = View(time_s, channels, track_reference, heading_reference, facts or FlightFacts())
    with np.errstate(all="ignore"):
        return [finding for check in CHECKS for finding in check(view)]
