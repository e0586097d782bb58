"""Pictures of take-offs: acceleration along one roll, and where each headwind comes from."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from stdday import words
from stdday.display import Scale, number, scale_of
from stdday.picture import (
    COLOURS,
    INK,
    SOFT,
    axis,
    empty,
    figure,
    label,
    plain,
    reach,
    rounded,
    rule,
    series,
)
from stdday.results import Results

__all__ = ["acceleration", "headwinds"]

_FLOWN, _WANTED = "as_flown [m/s^2]", "reference_day [m/s^2]"


def acceleration(results: Results, point: str) -> go.Figure:
    """Acceleration of one take-off against airspeed, as measured and on the reference day.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    point : str
        Point id of a take-off.

    Returns
    -------
    plotly.graph_objects.Figure
        Only words where the roll carries no curve.

    Examples
    --------
    >>> from tests.made_takeoffs import made_takeoffs
    >>> print(acceleration(made_takeoffs(), "F1-take-off-080400").layout.meta["summary"])
    Acceleration of F1-take-off-080400 along the runway: as measured from 2.35 m/s^2 at 5.0 kt true
    airspeed to 1.92 m/s^2 at lift-off at 48.0 kt; on the reference day from 2.15 to 1.72 m/s^2.
    """
    table = results.table("takeoff_acceleration")
    own = table[table["point"] == point] if len(table) else table
    if not len(own):
        return empty(f"No acceleration curve from this roll: {point or 'no take-off'}.")
    scale = scale_of(results.meta, "kt")
    speed = [scale.value(value) for value in own["true_airspeed [kt]"]]
    x = rounded(speed, scale.decimals + 1)
    looks = (
        (_FLOWN, "as measured, in the conditions flown", {"color": INK, "dash": "solid"}),
        (_WANTED, "the same thrust law on the reference day",
         {"color": COLOURS["second"], "dash": "dash"}),
    )  # fmt: skip
    data = [series(x, rounded(own[column], 3), name=name, line=line | {"width": 2})
            for column, name, line in looks]  # fmt: skip
    values = [*own[_FLOWN], *own[_WANTED]]
    low, high = reach(values, 0.15)
    axes = {
        "xaxis": axis(f"True airspeed [{scale.unit}]", (0.0, 1.08 * max(speed)), anchor="y"),
        "yaxis": axis("Acceleration [m/s^2]", (low, high), anchor="x"),
    }
    marks = [rule((speed[-1], speed[-1], low, high), ("x", "y"), SOFT, "dot")]
    texts = [label(speed[-1], low, "lift-off as flown", anchor=("right", "bottom"), colour=SOFT)
             | {"xshift": -4, "yshift": 2}]  # fmt: skip
    return figure(data, axes, _told(point, own, speed, scale), height=340,
                  shapes=marks, labels=texts)  # fmt: skip


def _told(point: str, own: pd.DataFrame, speed: list[float], scale: Scale) -> str:
    flown, wanted = (own[column].dropna() for column in (_FLOWN, _WANTED))
    ends = [number(float(part.iloc[at]), 2) for part in (flown, wanted) for at in (0, -1)]
    first, last = (number(value, scale.decimals) for value in (speed[0], speed[-1]))
    return (
        f"Acceleration of {point} along the runway: as measured from {ends[0]} m/s^2 at {first} "
        f"{scale.unit} true airspeed to {ends[1]} m/s^2 at lift-off at {last} {scale.unit}; on the "
        f"reference day from {ends[2]} to {ends[3]} m/s^2."
    )


def headwinds(results: Results) -> go.Figure:
    """Headwind of every take-off: from the air, as reported, and combined.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    plotly.graph_objects.Figure
        Bars are one sigma of the combined headwind.

    Examples
    --------
    >>> from tests.made_takeoffs import made_takeoffs
    >>> print(headwinds(made_takeoffs()).layout.meta["summary"])
    Headwind of 6 take-offs: combined 2.0 to 9.8 kt, one sigma 0.9 kt. From the air in 5 of them,
    reported in 6. In 1 the two are more than 3 sigmas apart.
    """
    table = results.table("takeoff_wind")
    if not len(table):
        return empty("No take-off to tell the headwind of.")
    scale = scale_of(results.meta, "kt")
    places, flights = _places(table)
    shown = {name: rounded([scale.value(v) for v in table[f"{name} [kt]"]], 2)
             for name in ("from_the_air", "reported", "combined")}  # fmt: skip
    bars = rounded([scale.change(v) for v in table["combined_sigma [kt]"]], 2)
    data = [
        series([x for place in places for x in (place - 0.4, place + 0.4, None)],
               [y for value in shown["reported"] for y in (value, value, None)],
               name="reported, at wing height",
               line={"color": COLOURS["second"], "width": 3, "dash": "solid"}),
        series(places, shown["from_the_air"], name="from the air",
               marker={"symbol": "circle-open", "size": 9, "color": COLOURS["first"],
                       "line": {"color": COLOURS["first"], "width": 1.5}}),
        series(places, shown["combined"], name="combined, one sigma",
               marker={"symbol": "square", "size": 5, "color": INK},
               texts=[plain(str(point)) for point in table["point"]], error_y=(bars, bars)),
    ]  # fmt: skip
    ends = (min(places) - 0.8, max(places) + 0.8)
    values = [value for each in shown.values() for value in each]
    axes = {
        "xaxis": axis("Take-offs, by flight", ends, anchor="y", marks=flights, grid=False),
        "yaxis": axis(f"Headwind [{scale.unit}]", reach([*values, 0.0], 0.1), anchor="x"),
    }
    zero = rule((*ends, 0.0, 0.0), ("x", "y"), SOFT)
    return figure(data, axes, _winds_told(table, scale), height=330, shapes=[zero])


def _places(table: pd.DataFrame) -> tuple[list[float], dict[float, str]]:
    """Place of each take-off, a gap between flights, and the flights' names under them."""
    places: list[float] = []
    spots: dict[str, list[float]] = {}
    for flight in table["flight"]:
        after = places[-1] + (1.0 if str(flight) in spots else 1.8) if places else 0.0
        places.append(round(after, 1))
        spots.setdefault(str(flight), []).append(places[-1])
    return places, {sum(own) / len(own): plain(name) for name, own in spots.items()}


def _winds_told(table: pd.DataFrame, scale: Scale) -> str:
    known = table[table["combined [kt]"].notna()]
    apart = int((table["flag"] != "").sum())
    if not len(known):
        return f"Headwind of {words.count(len(table), 'take-off')}: not known of any."
    spans = [
        f"{low}" if low == high else f"{low} to {high}"
        for low, high in (
            tuple(scale.text(float(end)) for end in (known[name].min(), known[name].max()))
            for name in ("combined [kt]", "combined_sigma [kt]")
        )
    ]
    told = [
        f"Headwind of {words.count(len(table), 'take-off')}: combined {spans[0]} {scale.unit}, one "
        f"sigma {spans[1]} {scale.unit}.",
        f"From the air in {int(table['from_the_air [kt]'].notna().sum())} of them, reported in "
        f"{int(table['reported [kt]'].notna().sum())}.",
        f"In {apart or 'none'} the two are more than 3 sigmas apart.",
    ]
    return " ".join(told)
