"""Test cards: what to fly for each kind of test point, within which bands, and when to stop."""

from __future__ import annotations

import re

import numpy as np

from stdday import units, words
from stdday.bands import BANDS
from stdday.display import NONE, full_condition, scale_of
from stdday.errors import InputError
from stdday.layout import Table
from stdday.metrics import METRICS
from stdday.reduce_climb import FARTHEST_MS
from stdday.reduce_takeoff import FARTHEST_LIFTOFF
from stdday.results import Results

__all__ = ["card", "reference_day"]


def reference_day(results: Results) -> Table:
    """Conditions that every result is corrected to, one row a metric.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table
        Without the metrics that are stated as flown.

    Examples
    --------
    >>> from tests.made_results import made
    >>> reference_day(made()).iloc[2].to_list()
    ['Rate of climb', '1000 ft, 4000 ft', '–', '600 kg', '–', '62 kt', '–']
    """
    corrected = [m for m in dict.fromkeys(results.values["metric"]) if METRICS[m].conditions]
    rows = [{"What": METRICS[metric].title} | _conditions(results, metric) for metric in corrected]
    table = Table(rows) if rows else Table(columns=["What"])
    return Table(table.fillna(NONE))


def _conditions(results: Results, metric: str) -> dict[str, str]:
    """Reference conditions of a metric: each with all that it is stated for."""
    told = results.values.loc[results.values["metric"] == metric, "condition"]
    found: dict[str, dict[str, None]] = {}
    for part in (part for text in told for part in full_condition(results.meta, text).split(", ")):
        title, value = _parted(part)
        found.setdefault(words.capital(title), {})[value] = None
    return {title: ", ".join(values) for title, values in found.items() if title}


def _parted(condition: str) -> tuple[str, str]:
    """Name and value of a condition in words: the value begins at the first figure or ISA."""
    place = re.search(r"[-+]?\d|ISA", condition)
    start = place.start() if place else len(condition)
    return condition[:start].strip(), condition[start:].strip()


def card(results: Results, kind: str) -> Table:
    """Test card of a kind of test point: purpose, target, data band, steps, cautions.

    Parameters
    ----------
    results : Results
        Results of a campaign, for its reference conditions and display units.
    kind : str
        ``take-off``, ``climb`` or ``level run``.

    Returns
    -------
    Table

    Raises
    ------
    InputError
        Where the kind is none of these.

    Examples
    --------
    >>> from tests.made_results import made
    >>> card(made(), "climb")["Climb"].iloc[3]
    '62 kt calibrated; full throttle; straight ahead'
    """
    known = {"take-off": _takeoff_card, "climb": _climb_card, "level run": _level_card}
    if kind not in known:
        raise InputError(f"kind must be one of {', '.join(known)}; got {kind!r}")
    metric = {"take-off": "takeoff_ground_roll", "climb": "climb_rate"}.get(
        kind, "cruise_true_airspeed"
    )
    day = [f"{key.lower()} {value}" for key, value in _conditions(results, metric).items()]
    purpose, *rows = known[kind](results)
    rows = [purpose, ("Reference day", "; ".join(day)), _BEFORE, *rows, _STOP]
    return Table(rows, columns=["Card", words.capital(kind)])


_Row = tuple[str, str]
_BEFORE: _Row = (
    "Before",
    "Weight and fuel, altimeter setting, temperature, dew point and wind written down; "
    "flaps, mixture and trim as the handbook says and the same each time",
)
_STOP: _Row = (
    "Stop when",
    "Weather, engine, traffic or runway leave the agreed limits, or anything is not as expected. "
    "Local rules, the approved handbook and licensed people decide what is flown",
)


def _size(results: Results, value: float, unit: str, decimals: int | None = None) -> str:
    """Print an SI size in the unit that the campaign displays."""
    dimension = {"kt": "speed", "ft": "length"}[unit]
    scale = scale_of(results.meta, unit)
    known = scale.change(float(units.from_si(np.array([value]), unit, dimension)[0]))
    return f"{known:.{scale.decimals if decimals is None else decimals}f} {scale.unit}"


def _degrees(angle_rad: float) -> str:
    return f"{np.rad2deg(angle_rad):.0f}°"


def _takeoff_card(results: Results) -> list[_Row]:
    target = _size(results, results.meta["reference"]["liftoff_airspeed_ms"], "kt", 0)
    return [
        ("Purpose", "Ground roll and time from brake release to lift-off"),
        ("Target", f"Lift-off at {target} calibrated; full throttle before the brakes go"),
        ("Data band", f"At rest for {BANDS.standing_s:.0f} s or more; lift-off within "
         f"{100 * FARTHEST_LIFTOFF:.0f} % of the target: the farther off, the larger the "
         "correction"),
        ("Steps", "1 Line up and stop, idle. 2 Full throttle against the brakes until engine speed "
         "stands. 3 Release. 4 Rotate as always, not early and not late. 5 Climb straight ahead "
         "at a steady airspeed: this also measures the air temperature"),
        ("Repeat", "Two or more a flight, in both directions where wind allows, on several days"),
    ]  # fmt: skip


def _climb_card(results: Results) -> list[_Row]:
    airspeed = _size(results, results.meta["reference"]["climb_airspeed_ms"], "kt", 0)
    window, gain = (_size(results, value, "ft") for value in
                    (BANDS.climb_window_m, BANDS.climb_window_least_m))  # fmt: skip
    return [
        ("Purpose", "Rate of climb and climb gradient at full throttle"),
        ("Target", f"{airspeed} calibrated; full throttle; straight ahead"),
        ("Data band", f"Airspeed within {_size(results, BANDS.climb_airspeed_ms, 'kt', 0)} of its "
         f"own middle and its mean within {_size(results, FARTHEST_MS, 'kt', 0)} of the target; "
         f"heading within {_degrees(BANDS.climb_heading_rad)}; {gain} and "
         f"{BANDS.climb_window_least_s:.0f} s inside {window} above and below each reference "
         "altitude"),
        ("Steps", "1 Trim below the band. 2 Full throttle, hold the airspeed, not the pitch. "
         "3 Through the band without a turn. 4 Again on the opposite heading, so that a wind that "
         "changes with height cancels"),
        ("Repeat", "Two or more a flight through each altitude, on several days"),
    ]  # fmt: skip


def _level_card(results: Results) -> list[_Row]:
    powers = [f"{100 * share:g} %" for share in results.meta["reference"]["cruise_power_fraction"]]
    return [
        ("Purpose", "True airspeed and fuel flow in steady level flight against power"),
        ("Target", f"Brake power from below the least to above the greatest of {', '.join(powers)} "
         "of rated power; smooth air"),
        ("Data band", f"Altitude within {_size(results, BANDS.level_altitude_m, 'ft')}, airspeed "
         f"within {_size(results, BANDS.level_airspeed_ms, 'kt')}, heading within "
         f"{_degrees(BANDS.level_heading_rad)}, power within {100 * BANDS.level_power:.0f} % for "
         f"{BANDS.level_duration_s:.0f} s, after {BANDS.level_settling_s:.0f} s to settle"),
        ("Steps", "1 Set power and mixture, wait until the airspeed stands. 2 Hold altitude with "
         "small pressures, touch nothing else. 3 Note anything that moved. 4 Next power, from high "
         "to low and back, so that fuel burnt does not look like power"),
        ("Repeat", "Four or more powers a flight, the highest and lowest again on other days"),
    ]  # fmt: skip
