"""One computed sentence for each picture: what a reader who cannot see it must know.

Each function has the name of the function of `stdday.plots` whose picture it describes.
"""

from __future__ import annotations

import pandas as pd

from stdday import extract
from stdday.display import Scale, metric_scale, metric_words, number, scale_of
from stdday.metrics import METRICS
from stdday.results import Results
from stdday.words import NO_DIFFERENCE, NOT_RESOLVED, SHOWN, answers, capital, count

__all__ = [
    "balance",
    "climbs",
    "cruise",
    "differences",
    "flight_trace",
    "flight_values",
    "fuel_curve",
    "landings",
    "ledger_steps",
    "level_curve",
    "takeoffs",
]


def _range(values: pd.Series, scale: Scale) -> str:
    low, high = scale.text(float(values.min())), scale.text(float(values.max()))
    return f"{low} {scale.unit}" if low == high else f"{low} to {high} {scale.unit}"


def flight_trace(results: Results, flight: str) -> str:
    """Summary of the picture of a flight.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    flight : str
        Flight id.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_results import made
    >>> print(flight_trace(made(), "F4"))
    Flight F4 (configuration B): 59 minutes recorded, pressure altitude up to 3500 ft, indicated
    airspeed up to 95 kt. 5 test points found, 4 used: 1 take-off, 1 climb, 2 level runs. Not used:
    T2 (touch-and-go).
    """
    history, found = extract.trace(results, flight), extract.spans(results, flight)
    flights = results.flights.set_index("flight")["configuration"]
    altitude, speed = scale_of(results.meta, "ft"), scale_of(results.meta, "kt")
    parts = [
        f"Flight {flight} (configuration {flights.get(flight, 'unknown')}): "
        f"{history['minutes'].max():.0f} minutes recorded"
    ]
    for column, words, scale in (
        ("pressure_altitude", "pressure altitude", altitude),
        ("indicated_airspeed", "indicated airspeed", speed),
    ):
        if history[column].notna().any():
            top = number(float(history[column].max()), 0)
            parts.append(f"{words} up to {top} {scale.unit}")
    by_hand = int(found["start"].isna().sum())
    if by_hand:
        parts.append(f"{count(by_hand, 'point')} written on cards, without times")
    used = found[found["used"]]
    kinds = [count(len(own), str(kind)) for kind, own in used.groupby("kind", sort=False)]
    sentence = ", ".join(parts) + (
        f". {count(len(found), 'test point')} found, {len(used)} used"
        + (f": {', '.join(kinds)}." if kinds else ".")
    )
    left = [f"{row.label} ({row.reason})" for row in found[~found["used"]].itertuples()]
    return f"{sentence} Not used: {', '.join(left)}." if left else sentence


def _as_flown_and_corrected(results: Results, metric: str, condition_id: str, title: str) -> str:
    ends = extract.chain_ends(results, metric, condition_id)
    if not len(ends):
        return f"{title}: no corrected point."
    scale = metric_scale(results.meta, metric)
    parts = []
    for name in extract.configurations(results):
        own = ends[ends["configuration"] == name]
        if len(own):
            flown, corrected = (number(float(own[key].mean()), scale.decimals)
                                for key in ("as_flown", "corrected"))  # fmt: skip
            parts.append(f"{name} {flown} as flown, {corrected} corrected")
    moved = ends["corrected"] - ends["as_flown"]
    return (
        f"{title}, mean over points [{scale.unit}]: {'; '.join(parts)}. Corrections from "
        f"{number(float(moved.min()), scale.decimals, plus=True)} to "
        f"{number(float(moved.max()), scale.decimals, plus=True)} {scale.unit} a point."
    )


def takeoffs(results: Results) -> str:
    """Summary of the picture of the take-offs.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_results import made
    >>> print(takeoffs(made()))
    Take-off ground roll, mean over points [m]: A 206 as flown, 216 corrected; B 195 as flown, 202
    corrected. Corrections from +6 to +12 m a point.
    """
    return _as_flown_and_corrected(
        results, "takeoff_ground_roll", "takeoff", METRICS["takeoff_ground_roll"].title
    )


def landings(results: Results, metric: str = "landing_ground_roll") -> str:
    """Summary of a picture of the landings.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    metric : str, optional
        ``landing_ground_roll``, unless ``landing_distance_50ft`` is asked for.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_landings import made_landings
    >>> print(landings(made_landings()))
    Landing ground roll, mean over points [m]: A 156 as flown, 180 corrected; B 165 as flown, 195
    corrected. Corrections from +22 to +32 m a point. As these pilots touched down and braked.
    """
    told = _as_flown_and_corrected(results, metric, "landing", METRICS[metric].title)
    own = results.where("corrections", metric=metric)
    return f"{told} As these pilots touched down and braked." if len(own) else told


def climbs(results: Results) -> str:
    """Summary of the picture of the climbs.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    str
        One sentence for each reference altitude.

    Examples
    --------
    >>> from tests.made_results import made
    >>> print(climbs(made())[:93])
    Rate of climb at 1000 ft, mean over points [ft/min]: A 740 as flown, 763 corrected; B 820 as
    """
    found = [
        _as_flown_and_corrected(
            results, "climb_rate", name, metric_words(results.meta, "climb_rate", name, condition)
        )
        for name, condition in extract.conditions_of(results, "climb_rate")
        if name.startswith("climb_")  # rates at a best airspeed come from a curve, not from points
    ]
    return " ".join(found) or "Rate of climb: no climb."


def ledger_steps(results: Results, point: str, metric: str, condition_id: str | None = None) -> str:
    """Summary of the picture of one point's corrections.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    point, metric : str
        Which point and metric.
    condition_id : str, optional
        Which condition; the first that the point has, unless given.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_results import made
    >>> print(ledger_steps(made(), "F1-take-off-080400", "takeoff_ground_roll"))
    F1-take-off-080400: ground roll 203 m before the first step, 214 m after the last (4 steps; the
    largest is no wind, +23 m).
    """
    steps = extract.chain(results, point, metric, condition_id)
    parts = []
    for unit, own in steps.groupby("unit", sort=False):
        decimals = int(own["decimals"].iloc[0])
        rows = own.sort_values("change", key=abs, ascending=False, kind="stable")
        first, last, largest = own.iloc[0], own.iloc[-1], rows.iloc[0]
        parts.append(
            f"{first['quantity']} {number(float(first['before']), decimals)} {unit} before the "
            f"first step, {number(float(last['after']), decimals)} {unit} after the last "
            f"({count(len(own), 'step')}; the largest is {largest['step']}, "
            f"{number(float(largest['change']), decimals, plus=True)} {unit})"
        )
    return f"{point}: {'; '.join(parts)}."


def level_curve(results: Results) -> str:
    """Summary of the picture of power against airspeed.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_results import made
    >>> print(level_curve(made()))
    Level runs: A 9 from 88.0 to 108.0 kt reduced airspeed; B 9 from 91.0 to 111.0 kt reduced
    airspeed. Fitted curves: A, B. 1 of 18 runs lies far from its curve and counts less
    than half in the fit.
    """
    runs = results.curve_points
    if not len(runs):
        return "Level runs: none."
    scale = scale_of(results.meta, "kt")
    parts = []
    for name in extract.configurations(results):
        own = runs.loc[runs["configuration"] == name, "reduced_airspeed [kt]"]
        if len(own):
            low, high = scale.text(float(own.min())), scale.text(float(own.max()))
            parts.append(f"{name} {len(own)} from {low} to {high} {scale.unit} reduced airspeed")
    fitted = list(dict.fromkeys(results.curves["configuration"])) if len(results.curves) else []
    sentence = f"Level runs: {'; '.join(parts)}. Fitted curves: {', '.join(fitted) or 'none'}."
    light = int((runs["weight_in_fit"] < 0.5).sum())
    if not light:
        return sentence
    far = (
        "lies far from its curve and counts" if light == 1 else "lie far from their curve and count"
    )
    return f"{sentence} {light} of {len(runs)} runs {far} less than half in the fit."


def fuel_curve(results: Results) -> str:
    """Summary of the picture of fuel flow against power.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_results import made
    >>> print(fuel_curve(made())[:73])
    Fuel flow in level runs: A 12.0 to 17.6 L/h at 34.3 to 50.2 kW; B 13.0 to
    """
    runs = results.curve_points
    runs = runs[runs["fuel_flow [L/h]"].notna()] if len(runs) else runs
    if not len(runs):
        return "Fuel flow in level runs: none recorded."
    flow, power = scale_of(results.meta, "L/h"), scale_of(results.meta, "kW")
    parts = []
    for name in extract.configurations(results):
        own = runs[runs["configuration"] == name]
        if len(own):
            parts.append(
                f"{name} {_range(own['fuel_flow [L/h]'], flow)} at "
                f"{_range(own['brake_power [kW]'], power)}"
            )
    return f"Fuel flow in level runs: {'; '.join(parts)}."


def cruise(results: Results) -> str:
    """Summary of the picture of cruise at the reference powers.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_results import made
    >>> print(cruise(made()))
    Cruise true airspeed at 55 % power: A 98.2 kt, B 97.6 kt; at 65 % power: A 105.4 kt, B 102.1 kt;
    at 75 % power: A 111.0 kt, B not reachable.
    """
    metric = "cruise_true_airspeed"
    scale, parts = metric_scale(results.meta, metric), []
    for condition_id, condition in extract.conditions_of(results, metric):
        own = []
        for name in extract.configurations(results):
            row = extract.value_of(results, metric, condition_id, name)
            if row is not None:
                ok = row["status"] == "ok"
                value = f"{scale.text(float(str(row['estimate'])))} {scale.unit}"
                own.append(f"{name} {value if ok else row['status']}")
        words = metric_words(results.meta, metric, condition_id, condition)
        parts.append(f"{words.removeprefix(METRICS[metric].title).strip()}: {', '.join(own)}")
    return f"{METRICS[metric].title} {'; '.join(parts) or ': none'}."


def differences(results: Results) -> str:
    """Summary of the picture of all differences: how many of each verdict.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_results import made
    >>> print(differences(made()))
    9 differences. Shown: Take-off ground roll; Rate of climb at 1000 ft; Time to lift-off
    (exploratory). No difference larger than what matters: Rate of climb at 4000 ft; Cruise true
    airspeed at 55 % power. Not resolved: Cruise true airspeed at 65 % power; Cruise true airspeed
    at 75 % power; Climb gradient at 1000 ft (exploratory); Fuel flow at 65 % power (exploratory).
    Thin lines: 95 % intervals; thick: 90 %.
    """
    if not len(results.weighed):
        return "No differences: the campaign has one configuration."
    found = answers(results)
    parts = [count(len(found), "difference")]
    for verdict in (SHOWN, NO_DIFFERENCE, NOT_RESOLVED):
        titles = [
            f"{answer.title}{'' if answer.primary else ' (exploratory)'}"
            for answer in found
            if answer.verdict == verdict
        ]
        if titles:
            parts.append(f"{capital(verdict)}: {'; '.join(titles)}")
    return ". ".join(parts) + ". Thin lines: 95 % intervals; thick: 90 %."


def balance(results: Results, metric: str) -> str:
    """Summary of the picture of the conditions flown.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    metric : str
        Metric whose points are meant.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_results import made
    >>> print(balance(made(), "takeoff_ground_roll"))
    Conditions behind Take-off ground roll, from flight to flight: A and B overlap in weight,
    headwind; they do not overlap in temperature.
    """
    own = results.balance[results.balance["metric"] == metric] if len(results.balance) else (
        results.balance)  # fmt: skip
    title = METRICS[metric].title
    names = [name for name in extract.configurations(results)
             if len(own) and name in set(own["configuration"])]  # fmt: skip
    if len(names) < 2:
        flown = f"flown with {names[0]} only" if names else "not flown"
        return f"Conditions behind {title}: {flown}, so there is nothing to balance."
    together: list[str] = []
    apart: list[str] = []
    for quantity, rows in own.groupby("quantity", sort=False):
        ends = rows.groupby("configuration").agg({"least": "min", "greatest": "max"})
        overlap = float(ends["least"].max()) <= float(ends["greatest"].min())
        (together if overlap else apart).append(str(quantity))
    parts = [f"overlap in {', '.join(together)}"] if together else []
    if apart:
        parts.append(f"{'they ' if together else ''}do not overlap in {', '.join(apart)}")
    return (
        f"Conditions behind {title}, from flight to flight: {' and '.join(names)} "
        f"{'; '.join(parts)}."
    )


def flight_values(results: Results, metric: str, condition_id: str) -> str:
    """Summary of the picture of a metric flight by flight.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    metric, condition_id : str
        Which values.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_results import made
    >>> print(flight_values(made(), "climb_rate", "climb_1"))
    Rate of climb at 1000 ft by flight: A 745 to 775 ft/min in 3 flights; B 869 to 899 ft/min in 3
    flights. Lines: means; shaded: their 95 % intervals.
    """
    table = results.flight_values
    own = table[(table["metric"] == metric) & (table["condition_id"] == condition_id)]
    conditions = dict(extract.conditions_of(results, metric))
    title = metric_words(results.meta, metric, condition_id, conditions.get(condition_id, ""))
    if not len(own):
        return f"{title} by flight: no flight has a value of its own."
    scale, parts = metric_scale(results.meta, metric), []
    for name in extract.configurations(results):
        values = own.loc[own["configuration"] == name, "value"]
        if len(values):
            parts.append(f"{name} {_range(values, scale)} in {count(len(values), 'flight')}")
    return f"{title} by flight: {'; '.join(parts)}. Lines: means; shaded: their 95 % intervals."
