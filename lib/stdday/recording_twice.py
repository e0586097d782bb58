"""The same flight in two rows of flights.csv: its test points would count twice."""

from __future__ import annotations

import datetime
import itertools
from collections.abc import Mapping

from stdday.errors import Problem
from stdday.units import shown

__all__ = ["recorded_twice"]

#: Two recordings of one airplane may overlap by this [s]: clocks and the ends of files.
MOST_OVERLAP_S = 60.0


def recorded_twice(
    spans: Mapping[str, tuple[float, float]], airplanes: Mapping[str, str]
) -> list[Problem]:
    """Find flights of one airplane whose recordings run at the same time.

    One airplane is on one flight at a time: two recordings of it that run side by side are one
    flight from two recorders, one file under two names, or a wrong date.

    Parameters
    ----------
    spans : mapping of str to (float, float)
        First and last moment of the recording of each flight, UTC since 1970 [s].
    airplanes : mapping of str to str
        Airplane of each flight.

    Returns
    -------
    list of Problem
        One a pair; never raises.

    Examples
    --------
    >>> spans = {"F1": (0.0, 3600.0), "F2": (1.0, 3601.0), "F3": (4000.0, 7000.0)}
    >>> print(recorded_twice(spans, dict.fromkeys(spans, "one"))[0])
    flights.csv: flight 'F2': needed a recording of its own for each flight; found one of the same \
airplane at the same time as that of 'F1', from 1970-01-01 00:00 UTC for 60 min. Mend: name both \
recordings in one row, separated by |, if they are of one flight, else see their dates and clocks.
    """
    problems = []
    order = sorted(spans, key=lambda flight: spans[flight])
    for airplane in dict.fromkeys(airplanes[flight] for flight in order):
        own = [flight for flight in order if airplanes[flight] == airplane]
        for first, second in itertools.combinations(own, 2):
            start_s = spans[second][0]
            overlap_s = min(spans[first][1], spans[second][1]) - start_s
            if overlap_s > MOST_OVERLAP_S:
                problems.append(_problem(first, second, start_s, overlap_s))
    return problems


def _problem(first: str, second: str, start_s: float, overlap_s: float) -> Problem:
    """Say which two flights, when and for how long."""
    moment = datetime.datetime.fromtimestamp(start_s, datetime.UTC)
    return Problem("flights.csv", f"flight {shown(second)}", "a recording of its own for each "
                   "flight", f"one of the same airplane at the same time as that of {shown(first)},"
                   f" from {moment:%Y-%m-%d %H:%M} UTC for {overlap_s / 60.0:.0f} min",
                   "name both recordings in one row, separated by |, if they are of one flight, "
                   "else see their dates and clocks")
