"""Pictures of the airplane model: ratio of efficiencies, climbs and accelerations by airspeed."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from typing import Any

import pandas as pd
import plotly.graph_objects as go

from stdday import extract
from stdday.display import number, scale_of, with_label
from stdday.picture import (
    INK,
    SOFT,
    axis,
    empty,
    figure,
    label,
    look,
    plain,
    reach,
    rounded,
    rule,
    series,
)
from stdday.results import Results

__all__ = [
    "accelerations",
    "accelerations_summary",
    "climb_curve",
    "climb_curve_summary",
    "efficiency_ratio",
    "efficiency_ratio_summary",
]

_SPEED, _RATE, _ALTITUDE = "calibrated_airspeed [kt]", "rate [ft/min]", "pressure_altitude [ft]"
#: Best airspeeds of the values, and how the trade writes them.
_BEST = (("best_rate_airspeed", "Vy"), ("best_angle_airspeed", "Vx"))
_Refs = tuple[str, str]


def _own(table: pd.DataFrame, name: str, altitude: float | None = None) -> pd.DataFrame:
    """Rows of a configuration, and of an altitude, of a table that may be empty."""
    if not len(table):
        return table
    own = table[table["configuration"] == name]
    return own if altitude is None else own[own[_ALTITUDE] == altitude]


def _band(
    own: pd.DataFrame, speed: list[float | None], keys: tuple[str, str],
    shown: Callable[[float], float], colour: str, refs: _Refs, name: str = "",
) -> list[dict[str, Any]]:
    """Two thin lines between which the curve lies with 95 % at each airspeed."""
    line = {"color": colour, "width": 1, "dash": "dot"}
    return [
        series(speed, rounded((shown(float(v)) for v in own[key]), 4), line=line, axes=refs,
               name=name if place == 0 else "")
        for place, key in enumerate(keys)
    ]  # fmt: skip


# ---- ratio of efficiencies -----------------------------------------------------------------------


def efficiency_ratio_summary(results: Results) -> str:
    """Summary of the picture of the ratio of installed efficiencies.

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
    >>> efficiency_ratio_summary(made())
    'Installed efficiency ratio: none stated.'
    """
    table, scale = results.table("efficiency_ratio"), scale_of(results.meta, "kt")
    reference, parts = str(results.meta["reference_configuration"]), []
    for name in extract.configurations(results):
        own = _own(table, name)
        if name == reference or not len(own):
            continue
        told = ", ".join(
            f"{number(row['ratio [-]'], 3)} ({number(row['low [-]'], 3)} to "
            f"{number(row['high [-]'], 3)}) at {scale.text(row['true_airspeed [kt]'], 0)} "
            f"{scale.unit}"
            for row in own.to_dict("records")
        )
        parts.append(f"{name} over {reference}: {told}")
    if not parts:
        return "Installed efficiency ratio: none stated."
    return (f"Installed efficiency ratio against true airspeed, with 95 % intervals. "
            f"{'; '.join(parts)}.")  # fmt: skip


def efficiency_ratio(results: Results) -> go.Figure:
    """Installed efficiency over that of the reference configuration, against true airspeed.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    plotly.graph_objects.Figure
        Above one: more thrust from the same shaft power.

    Examples
    --------
    >>> from tests.made_results import made
    >>> efficiency_ratio(made()).layout.meta["summary"]
    'Installed efficiency ratio: none stated.'
    """
    summary, table = efficiency_ratio_summary(results), results.table("efficiency_ratio")
    reference, names = str(results.meta["reference_configuration"]), extract.configurations(results)
    others = [name for name in names if name != reference and len(_own(table, name))]
    if not others:
        return empty(summary)
    scale, data = scale_of(results.meta, "kt"), []
    for name in others:
        own, style = _own(table, name), look(names, name)
        speed = rounded((scale.value(float(v)) for v in own["true_airspeed [kt]"]), 2)
        data += _band(own, speed, ("low [-]", "high [-]"), float, style.colour, ("x", "y"),
                      "95 % at each airspeed" if name == others[0] else "")  # fmt: skip
        data.append(
            series(speed, rounded(map(float, own["ratio [-]"]), 4), line=style.line(),
                   marker=style.filled(8), name=plain(with_label(results.meta, name)))
        )  # fmt: skip
    ends_x = reach([v for item in data for v in item["x"]], 0.12)
    ends_y = reach([1.0, *(v for item in data for v in item["y"])], 0.12)
    axes = {
        "xaxis": axis(f"True airspeed in level flight [{scale.unit}]", ends_x, anchor="y"),
        "yaxis": axis(f"Efficiency over that of {plain(reference)} [-]", ends_y, anchor="x"),
    }
    words = [label(ends_x[1], 1.0, f"as {plain(reference)} ", anchor=("right", "bottom"),
                   colour=SOFT)]  # fmt: skip
    shapes = [rule((*ends_x, 1.0, 1.0), ("x", "y"), INK)]
    return figure(data, axes, summary, height=360, margin=(64, 20, 38, 52), labels=words,
                  shapes=shapes)  # fmt: skip


# ---- climbs --------------------------------------------------------------------------------------


def _best(
    results: Results, altitude: float, name: str
) -> list[tuple[str, float, float, float]]:
    """Best airspeeds at one altitude: how written, airspeed and its interval [kt]."""
    values, found = results.values, []
    for metric, written in _BEST:
        own = values[(values["metric"] == metric) & (values["configuration"] == name)
                     & (values["status"] == "ok")]  # fmt: skip
        for row in own.to_dict("records"):
            if str(row["condition"]).startswith(f"pressure_altitude={altitude:.0f} ft;"):
                value, low, high = (float(row[key]) for key in ("estimate", "low", "high"))
                found.append((written, value, low, high))
    return found


def _altitudes(*tables: pd.DataFrame) -> list[float]:
    """Reference altitudes that tables hold, lowest first [ft]."""
    return sorted({float(value) for table in tables if len(table) for value in table[_ALTITUDE]})


def climb_curve_summary(results: Results) -> str:
    """Summary of the picture of rate of climb against airspeed.

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
    >>> climb_curve_summary(made())
    'Rate of climb against airspeed: no climbs at enough airspeeds for a curve.'
    """
    speed, height = scale_of(results.meta, "kt"), scale_of(results.meta, "ft")
    rate, parts = scale_of(results.meta, "ft/min"), []
    table = results.table("climb_curve")
    for altitude in _altitudes(table):
        for name in extract.configurations(results):
            own = _own(table, name, altitude)
            if not len(own):
                continue
            top = float(own[_RATE].max())
            best = "; ".join(
                f"{written} {speed.text(value)} ({speed.text(low)} to {speed.text(high)}) "
                f"{speed.unit}"
                for written, value, low, high in _best(results, altitude, name)
            ) or "no best airspeed stated"  # fmt: skip
            parts.append(
                f"{name} at {height.text(altitude)} {height.unit}: at most "
                f"{rate.text(top)} {rate.unit}, {best}"
            )
    if not parts:
        return "Rate of climb against airspeed: no climbs at enough airspeeds for a curve."
    return f"Rate of climb against calibrated airspeed on the reference day. {'. '.join(parts)}."


def climb_curve(results: Results) -> go.Figure:
    """Rate of climb against calibrated airspeed, a panel for each reference altitude.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    plotly.graph_objects.Figure
        Curves with their bands and every reduced climb; below them best-rate (Vy) and best-angle
        (Vx) airspeeds with their intervals, where they are stated.

    Examples
    --------
    >>> from tests.made_results import made
    >>> climb_curve(made()).layout.meta["summary"]
    'Rate of climb against airspeed: no climbs at enough airspeeds for a curve.'
    """
    summary, table = climb_curve_summary(results), results.table("climb_curve")
    if not len(table):
        return empty(summary)
    return _Panels(results, results.table("climb_points"), True).figure(summary)


class _Panels:
    """Rates against airspeed, one panel an altitude, from the lowest at the top.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    marks : DataFrame
        Single results: configuration, altitude, airspeed, rate and point.
    best : bool
        Whether best airspeeds are marked.
    """

    def __init__(self, results: Results, marks: pd.DataFrame, best: bool) -> None:
        self.results, self.marks, self.best = results, marks, best
        self.curves = results.table("climb_curve")
        self.names = extract.configurations(results)
        self.speed, self.rate = scale_of(results.meta, "kt"), scale_of(results.meta, "ft/min")
        self.altitudes = _altitudes(self.curves) if best else _altitudes(marks)
        self.labels: list[dict[str, Any]] = []
        self.step = 0.0

    def _numbers(self, own: pd.DataFrame) -> tuple[list[float | None], list[float | None]]:
        x = rounded((self.speed.value(float(v)) for v in own[_SPEED]), 2)
        return x, rounded((self.rate.value(float(v)) for v in own[_RATE]), 1)

    def _lines(self, altitude: float, refs: _Refs) -> list[dict[str, Any]]:
        """Curves of the climbs with their bands."""
        data, ends = [], []
        for name in self.names:
            own, style = _own(self.curves, name, altitude), look(self.names, name)
            if not len(own):
                continue
            x, y = self._numbers(own)
            if self.best:
                data += _band(own, x, ("low [ft/min]", "high [ft/min]"), self.rate.value,
                              style.colour, refs)  # fmt: skip
            data.append(series(x, y, line=style.line(), axes=refs))
            ends.append((name, x, y))
        left = _apart([y[0] for _, _, y in ends]) >= _apart([y[-1] for _, _, y in ends])
        for name, x, y in ends:
            place = 0 if left else -1
            self.labels.append(
                label(float(x[place] or 0), float(y[place] or 0), f"<b>{plain(name)}</b>", at=refs,
                      anchor=("right" if left else "left", "middle"),
                      colour=look(self.names, name).colour) | {"xshift": -6 if left else 6}
            )  # fmt: skip
        return data

    def _dots(self, altitude: float, refs: _Refs, first: bool) -> list[dict[str, Any]]:
        """Single results, hollow."""
        data = []
        for name in self.names:
            own = _own(self.marks, name, altitude)
            x, y = self._numbers(own) if len(own) else ([None], [None])
            there = len(_own(self.marks, name)) > 0
            data.append(
                series(x, y, marker=look(self.names, name).hollow(7), axes=refs,
                       texts=[plain(str(point)) for point in own["point"]] if len(own) else None,
                       name=plain(with_label(self.results.meta, name)) if first and there else "")
            )  # fmt: skip
        return data

    def _bests(self, altitude: float, refs: _Refs, foot: float) -> list[dict[str, Any]]:
        """Best airspeeds with their intervals, in rows below the curves that end at `foot`."""
        rows = [(name, *one) for name in self.names for one in _best(self.results, altitude, name)]
        data = []
        for place, (name, written, value, low, high) in enumerate(rows):
            x, y = self.speed.value(value), foot - (place + 1) * self.step
            style = look(self.names, name)
            bars = ([self.speed.change(value - low)], [self.speed.change(high - value)])
            data.append(series([round(x, 2)], [round(y, 1)], marker=style.filled(9), axes=refs,
                               error_x=bars))  # fmt: skip
            self.labels.append(
                label(self.speed.value(high), y, f"<b>{written} {plain(name)}</b>", at=refs,
                      colour=style.colour) | {"xshift": 6}
            )  # fmt: skip
        return data

    def _room(self, data: Sequence[dict[str, Any]]) -> float:
        """Foot of all curves and marks, with `step` set for the rows below it."""
        known = [w for item in data for w in item["y"] if w is not None]
        self.step = 0.09 * (max(known) - min(known))
        return float(min(known))

    def figure(self, summary: str) -> go.Figure:
        """All panels, on one scale of airspeed and one of rate."""
        refs = [(f"x{place}", f"y{place}") for place in ("", *range(2, len(self.altitudes) + 1))]
        data = []
        for place, altitude in enumerate(self.altitudes):
            data += self._lines(altitude, refs[place])
            data += self._dots(altitude, refs[place], place == 0)
        foot = self._room(data)
        if self.best:
            for place, altitude in enumerate(self.altitudes):
                data += self._bests(altitude, refs[place], foot)
        ends_x = reach((v for item in data for v in item["x"]), 0.06)
        ends_y = reach((w for item in data for w in item["y"]), 0.08)
        axes: dict[str, dict[str, Any]] = {}
        size = 1 / len(refs)
        for place, (x, y) in enumerate(refs):
            last = place == len(refs) - 1
            axes[f"xaxis{x[1:]}"] = axis(
                f"Calibrated airspeed [{self.speed.unit}]" if last else "", ends_x, anchor=y
            )
            axes[f"yaxis{y[1:]}"] = axis(
                f"Rate of climb [{self.rate.unit}]", ends_y, anchor=x, most=6,
                domain=(1 - (place + 1) * size + (0.0 if last else 0.09), 1 - place * size),
            )  # fmt: skip
            height = scale_of(self.results.meta, "ft")
            told = f"<b>{height.text(self.altitudes[place])} {height.unit}</b>"
            self.labels.append(
                label(ends_x[1], ends_y[1], told, at=(x, y), anchor=("right", "top"))
                | {"yshift": -3, "xshift": -6}
            )
        return figure(data, axes, summary, height=100 + 260 * len(refs),
                      margin=(64, 30, 38, 52), labels=self.labels)  # fmt: skip


def _apart(values: Sequence[float | None]) -> float:
    """Least distance of neighbours."""
    known = sorted(value for value in values if value is not None)
    return min((b - a for a, b in itertools.pairwise(known)), default=0.0)


# ---- accelerations -------------------------------------------------------------------------------


def _differences(own: pd.DataFrame) -> Sequence[float]:
    return [float(v) for v in own["difference [ft/min]"] if math.isfinite(float(v))]


def accelerations_summary(results: Results) -> str:
    """Summary of the picture of level accelerations.

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
    >>> accelerations_summary(made())
    'Level accelerations: none usable.'
    """
    table, parts = _known(results), []
    speed, rate = scale_of(results.meta, "kt"), scale_of(results.meta, "ft/min")
    for name in extract.configurations(results):
        own = _own(table, name)
        if not len(own):
            continue
        ordered = own.sort_values(_SPEED, kind="stable").to_dict("records")
        told = " to ".join(
            f"{rate.text(float(row[_RATE]))} {rate.unit} at {speed.text(float(row[_SPEED]), 0)} "
            f"{speed.unit}"
            for row in (ordered[0], ordered[-1])
        )
        apart = _differences(own)
        beside = (
            f"{number(rate.change(sum(apart) / len(apart)), 0, plus=True)} {rate.unit} beside the "
            f"climbs on average over {len(apart)} of {len(own)} windows"
            if apart else "no climbs at these airspeeds to compare with"
        )  # fmt: skip
        parts.append(f"{name} {told}, {beside}")
    if not parts:
        return "Level accelerations: none usable."
    return f"Excess power of level accelerations as rate of climb: {'; '.join(parts)}."


def _known(results: Results) -> pd.DataFrame:
    table = results.table("accelerations")
    return table[table[_RATE].notna()] if len(table) else table


def accelerations(results: Results) -> go.Figure:
    """Excess power of level accelerations as rate of climb, beside the curve of the climbs.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    plotly.graph_objects.Figure
        A panel for each reference altitude that accelerations were flown at.

    Examples
    --------
    >>> from tests.made_results import made
    >>> accelerations(made()).layout.meta["summary"]
    'Level accelerations: none usable.'
    """
    summary, table = accelerations_summary(results), _known(results)
    if not len(table):
        return empty(summary)
    return _Panels(results, table, False).figure(summary)
