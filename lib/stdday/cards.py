"""Test cards: what to fly for each kind of test point, within which bands, and when to stop."""

from __future__ import annotations

import re

import numpy as np

from stdday import units, words
from stdday.bands import BANDS
from stdday.display import NONE, full_condition, scale_of
from stdday.errors import InputError
from stdday.find_landings import BRAKED_MS2
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
    """Name and value of a condition in words: the value begins at the first figure, ISA or best."""
    place = re.search(r"[-+]?\d|ISA|best ", condition)
    start = place.start() if place else len(condition)
    return condition[:start].strip(), condition[start:].strip()


def card(results: Results, kind: str) -> Table:
    """Test card of a kind of test point: purpose, target, data band, steps, cautions.

    Parameters
    ----------
    results : Results
        Results of a campaign, for its reference conditions and display units.
    kind : str
        One of `stdday.extract.LETTERS`.

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
    known = {"take-off": _takeoff_card, "climb": _climb_card, "level run": _level_card,
             "airspeed calibration": _calibration_card, "landing": _landing_card,
             "acceleration": _acceleration_card}  # fmt: skip
    if kind not in known:
        raise InputError(f"kind must be one of {', '.join(known)}; got {kind!r}")
    metric = {"take-off": "takeoff_ground_roll", "climb": "climb_rate",
              "landing": "landing_ground_roll", "acceleration": "climb_rate"}.get(
        kind, "cruise_true_airspeed"
    )
    day = [f"{key.lower()} {value}" for key, value in _conditions(results, metric).items()]
    purpose, *rows = known[kind](results)
    if kind != "airspeed calibration":    # which holds on any day
        rows = [_BEFORE, *rows]
        rows.insert(0, ("Reference day", "; ".join(day)))
    rows = [purpose, *rows, _STOP]
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


def _landing_card(results: Results) -> list[_Row]:
    return [
        ("Purpose", "Distance from 50 ft and from touchdown to a stop, as these pilots land and "
         "brake: not a shortest landing"),
        ("Target", "The handbook's approach airspeed and landing flaps; idle from 50 ft; the same "
         "firm, even braking each time, well below what locks a wheel"),
        ("Data band", f"Mean deceleration of {BRAKED_MS2:.1f} m/s² or more from touchdown to taxi "
         "speed, straight along the runway: a roll-out to the far exit says where the exit was, "
         "and is set aside. Weight within 10 % of the reference, or the correction is flagged"),
        ("Steps", "1 Stabilised at 300 ft, or go around. 2 Idle at 50 ft; no dive for a spot. "
         "3 Nose down, flaps as the handbook says, then brake evenly. 4 To a stop, or a walking "
         "pace, before turning off. 5 Let the brakes cool before the next take-off"),
        ("Repeat", "Six or more, by each pilot, on several days and in both directions: the pilot "
         "moves this number more than the airplane does"),
        ("Caution", "Dry runway of twice the handbook's distance or more. Nobody looks for the "
         "limit of brakes or tyres; hot brakes fade and burn"),
    ]  # fmt: skip


def _acceleration_card(results: Results) -> list[_Row]:
    altitude, gain = (_size(results, value, unit, 0) for value, unit in
                      ((BANDS.accel_altitude_m, "ft"), (BANDS.accel_gain_ms, "kt")))  # fmt: skip
    return [
        ("Purpose", "Excess power at full throttle over a range of airspeeds in one run, set "
         "beside the climbs: they must agree"),
        ("Target", "From well above the stall to nearly the fastest level airspeed; full throttle; "
         "level, at an altitude of the climbs"),
        ("Data band", f"Altitude within {altitude}; {gain} gained or more; wings level; full "
         "throttle throughout"),
        ("Steps", "1 Slow flight, level and stabilised, mixture set. 2 Full throttle, smoothly. "
         "3 Hold altitude with the nose, no turn, until the airspeed hardly grows. 4 Again on the "
         "opposite heading, so that a wind that changes along the way cancels"),
        ("Repeat", "Two or more a flight, on flights that also climb"),
        ("Caution", "Engine, propeller and airspeed limits hold: reduce power before one is "
         "reached. Height enough to recover from a stall"),
    ]  # fmt: skip


def _calibration_card(results: Results) -> list[_Row]:
    slow, fast = (_size(results, results.meta["reference"][name], "kt", 0)
                  for name in ("liftoff_airspeed_ms", "climb_airspeed_ms"))  # fmt: skip
    return [
        ("Purpose", "Error of the airspeed indicator, pitot and static together, from ground "
         "speeds; the wind is found on the way"),
        ("Target", f"A box of four legs on headings 90° apart at each airspeed: near {fast}, one "
         f"fast, one as slow as is safe towards {slow}, and one between; smooth air, well above "
         "the ground"),
        ("Before", "Temperature and altimeter setting written down; flaps and power noted, the "
         "same for a whole box"),
        ("Data band", f"Each leg {BANDS.leg_duration_s:.0f} s or more after the turn; airspeed "
         f"within {_size(results, BANDS.leg_airspeed_ms, 'kt', 0)} of the leg's own middle, track "
         f"within {_degrees(BANDS.leg_track_rad)}; all legs of a box within "
         f"{_size(results, BANDS.pattern_airspeed_ms, 'kt')} and "
         f"{_size(results, BANDS.pattern_altitude_m, 'ft')} of each other; from leg to leg in "
         f"{BANDS.pattern_gap_s / 60:.1f} minutes"),
        ("Steps", "1 Trim at the airspeed. 2 Hold heading, airspeed and altitude, touch nothing "
         "else. 3 Turn by 90° the same way each time, without losing height. 4 Four legs: three "
         "always fit, only the fourth shows an error"),
        ("Instead", "Three legs 120° apart; a full circle at a steady bank; two legs on opposite "
         "headings, headings written down; a measured course by stopwatch"),
        ("Repeat", "Each airspeed on a second day; with the other configuration; one box each with "
         "high and with low power at the same airspeed"),
    ]  # fmt: skip
