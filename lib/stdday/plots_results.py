"""Pictures of fitted curves, of cruise, of the differences and of the conditions flown."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd
import plotly.graph_objects as go

from stdday import captions, extract
from stdday.display import metric_scale, metric_words, printed, scale_of, with_label
from stdday.metrics import METRICS
from stdday.picture import (
    COLOURS,
    INK,
    SOFT,
    axis,
    box,
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
from stdday.words import NO_DIFFERENCE, NOT_RESOLVED, SHOWN

__all__ = ["balance", "cruise", "differences", "fuel_curve", "level_curve"]

_ENDS = ("difference", "difference_low", "difference_high")
_VERDICT_MARKS = {SHOWN: "circle", NO_DIFFERENCE: "square", NOT_RESOLVED: "circle-open"}


# ---- level flight --------------------------------------------------------------------------------


def level_curve(results: Results) -> go.Figure:
    """Reduced power against reduced airspeed of the level runs, with the fitted curves.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    plotly.graph_objects.Figure
        Runs that count less than half in the fit are hollow.

    Examples
    --------
    >>> from tests.made_results import made
    >>> level_curve(made()).layout.yaxis.title.text
    'Reduced power [kW]'
    """
    runs, summary = results.curve_points, captions.level_curve(results)
    if not len(runs):
        return empty(summary)
    speed, power = scale_of(results.meta, "kt"), scale_of(results.meta, "kW")
    columns = (("reduced_airspeed [kt]", speed), ("reduced_power [kW]", power))
    data = _run_marks(results, runs, columns)
    if (runs["weight_in_fit"] < 0.5).any():
        data.append(series([None], [None], name="hollow: counts less than half in the fit",
                           marker={"symbol": "circle-open", "size": 8, "color": SOFT,
                                   "line": {"color": SOFT, "width": 1.5}}))  # fmt: skip
    names, labels = extract.configurations(results), []
    for name in names:
        own = results.curves[results.curves["configuration"] == name] if len(results.curves) else (
            results.curves)  # fmt: skip
        if not len(own):
            continue
        x, y = (rounded((scale.value(float(v)) for v in own[key]), scale.decimals + 2)
                for key, scale in columns)  # fmt: skip
        data.append(series(x, y, line=look(names, name).line()))
        labels.append(label(float(x[-1] or 0), float(y[-1] or 0), f"<b>{plain(name)}</b>",
                            colour=look(names, name).colour) | {"xshift": 9})  # fmt: skip
    return _one_panel(data, ("Reduced airspeed", speed.unit), ("Reduced power", power.unit),
                      summary, labels)  # fmt: skip


def fuel_curve(results: Results) -> go.Figure:
    """Fuel flow against brake power of the level runs.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    plotly.graph_objects.Figure

    Examples
    --------
    >>> from tests.made_results import made
    >>> fuel_curve(made()).layout.xaxis.title.text
    'Brake power [kW]'
    """
    runs, summary = results.curve_points, captions.fuel_curve(results)
    runs = runs[runs["fuel_flow [L/h]"].notna()] if len(runs) else runs
    if not len(runs):
        return empty(summary)
    power, flow = scale_of(results.meta, "kW"), scale_of(results.meta, "L/h")
    data = _run_marks(results, runs, (("brake_power [kW]", power), ("fuel_flow [L/h]", flow)))
    return _one_panel(data, ("Brake power", power.unit), ("Fuel flow", flow.unit), summary)


def _run_marks(
    results: Results, runs: pd.DataFrame, columns: Sequence[tuple[str, Any]]
) -> list[dict[str, Any]]:
    """Marks of the level runs, one series a configuration and whether they count in the fit."""
    names, data = extract.configurations(results), []
    for name in names:
        style = look(names, name)
        own = runs[runs["configuration"] == name]
        light = own["weight_in_fit"] < 0.5
        for part, marker, shown in (
            (own[~light], style.filled(8), plain(with_label(results.meta, name))),
            (own[light], style.hollow(8), ""),
        ):
            if not len(part) and not shown:
                continue
            x, y = (rounded((scale.value(float(v)) for v in part[key]), scale.decimals + 1)
                    for key, scale in columns)  # fmt: skip
            data.append(series(x, y, name=shown if len(own) else "", marker=marker,
                               texts=[plain(str(point)) for point in part["point"]]))  # fmt: skip
    return data


def _one_panel(
    data: Sequence[dict[str, Any]],
    x: tuple[str, str],
    y: tuple[str, str],
    summary: str,
    labels: Sequence[dict[str, Any]] = (),
) -> go.Figure:
    ends_x = reach([value for item in data for value in item["x"]])
    ends_y = reach([value for item in data for value in item["y"]])
    return figure(
        data,
        {
            "xaxis": axis(f"{x[0]} [{x[1]}]", ends_x, anchor="y"),
            "yaxis": axis(f"{y[0]} [{y[1]}]", ends_y, anchor="x"),
        },
        summary, height=420, margin=(64, 40, 46, 52), labels=labels,
    )  # fmt: skip


# ---- cruise --------------------------------------------------------------------------------------


def cruise(results: Results) -> go.Figure:
    """True airspeed, fuel flow and specific range at the reference powers, with intervals.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    plotly.graph_objects.Figure
        A power that a configuration cannot reach, or has no value for, is named in words.

    Examples
    --------
    >>> from tests.made_results import made
    >>> cruise(made()).layout.yaxis.title.text
    'True airspeed [kt]'
    """
    summary = captions.cruise(results)
    metrics = [metric for metric in ("cruise_true_airspeed", "fuel_flow", "specific_range")
               if _cruise_rows(results, metric)]  # fmt: skip
    if not metrics:
        return empty(summary)
    names = extract.configurations(results)
    powers = sorted({power for metric in metrics for power, *_ in _cruise_rows(results, metric)})
    ends = (powers[0] - 5, powers[-1] + 5)
    data: list[dict[str, Any]] = []
    labels: list[dict[str, Any]] = []
    axes: dict[str, dict[str, Any]] = {}
    size = 1 / len(metrics)
    for place, metric in enumerate(metrics):
        number = "" if place == 0 else str(place + 1)
        rows, scale = _cruise_rows(results, metric), metric_scale(results.meta, metric)
        known = [v for row in rows for v in row[2:] if math.isfinite(v)]
        title = f"{METRICS[metric].title.removeprefix('Cruise ').capitalize()} [{scale.unit}]"
        last = place == len(metrics) - 1
        axes[f"xaxis{number}"] = axis(
            "Brake power [% of rated]" if last else "", ends, anchor=f"y{number}", grid=False,
            marks={power: f"{power:g}" if last else "" for power in powers},
        )  # fmt: skip
        axes[f"yaxis{number}"] = axis(
            title, reach(known, 0.12), anchor=f"x{number}", most=5,
            domain=(1 - (place + 1) * size + 0.04, 1 - place * size),
        )  # fmt: skip
        for name in names:
            own = [row for row in rows if row[1] == name]
            refs = (f"x{number}", f"y{number}")
            data.append(_cruise_series(results, own, name, refs, named=place == 0))
            labels += _cruise_absent(own, names, name, refs)
    return figure(data, axes, summary, height=110 + 150 * len(metrics), margin=(84, 20, 40, 52),
                  labels=labels)  # fmt: skip


_CruiseRow = tuple[float, str, float, float, float]


def _cruise_rows(results: Results, metric: str) -> list[_CruiseRow]:
    """Power [%], configuration, value and interval in display units; NaN where there is none."""
    scale, rows = metric_scale(results.meta, metric), []
    for condition_id, condition in extract.conditions_of(results, metric):
        parts = dict(part.split("=", 1) for part in condition.split("; ") if "=" in part)
        power = float(parts["power"].removesuffix(" %"))
        for name in extract.configurations(results):
            row = extract.value_of(results, metric, condition_id, name)
            if row is not None:
                value, low, high = (scale.value(float(str(row[key])))
                                    for key in ("estimate", "low", "high"))  # fmt: skip
                rows.append((power, name, value, low, high))
    return rows


def _shift(names: Sequence[str], name: str) -> float:
    return 0.7 * (names.index(name) - (len(names) - 1) / 2)


def _cruise_series(
    results: Results, own: Sequence[_CruiseRow], name: str, refs: tuple[str, str], named: bool
) -> dict[str, Any]:
    names = extract.configurations(results)
    style = look(names, name)
    known = [row for row in own if math.isfinite(row[2])]
    x = [row[0] + _shift(names, name) for row in known]
    bars = (
        rounded((row[2] - row[3] for row in known), 3),
        rounded((row[4] - row[2] for row in known), 3),
    )
    return series(
        rounded(x, 2), rounded((row[2] for row in known), 3), line=style.line(1.5),
        marker=style.filled(8), axes=refs, error_y=bars,
        name=plain(with_label(results.meta, name)) if named else "",
    )  # fmt: skip


def _cruise_absent(
    own: Sequence[_CruiseRow], names: Sequence[str], name: str, refs: tuple[str, str]
) -> list[dict[str, Any]]:
    return [
        label(row[0] + _shift(names, name), 0.04,
              plain(f"{name}: no value"), at=(refs[0], f"{refs[1]} domain"),
              anchor=("right" if _shift(names, name) < 0 else "left", "bottom"),
              colour=look(names, name).colour, size=11)
        for row in own
        if not math.isfinite(row[2])
    ]  # fmt: skip


# ---- differences ---------------------------------------------------------------------------------


def differences(results: Results) -> go.Figure:
    """Every difference with its interval against the band of what matters.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    plotly.graph_objects.Figure
        Rows with a named difference that matters are drawn in units of it, so that metres and
        knots can stand together; rows without one in per cent of the reference configuration.

    Examples
    --------
    >>> from tests.made_results import made
    >>> differences(made()).layout.xaxis.title.text
    'Difference, in units of what matters (band: smaller than that)'
    """
    summary = captions.differences(results)
    table = results.weighed.sort_values("primary", ascending=False, kind="stable")
    table = table[table["difference"].notna()] if len(table) else table
    if not len(table):
        return empty(summary)
    groups = [
        (own, named)
        for own, named in (
            (table[table["matters"] > 0], True),
            (table[~(table["matters"] > 0) & (table["estimate_a"] != 0)], False),
        )
        if len(own)
    ]  # fmt: skip
    data = [
        series([None], [None], name=verdict,
               marker={"symbol": mark, "size": 9, "color": INK,
                       "line": {"color": INK, "width": 1.5}})
        for verdict, mark in _VERDICT_MARKS.items()
    ]  # fmt: skip
    axes: dict[str, dict[str, Any]] = {}
    shapes: list[dict[str, Any]] = []
    labels: list[dict[str, Any]] = []
    rows = sum(len(own) + 1.5 for own, _ in groups)
    top = 1.0
    for place, (own, named) in enumerate(groups):
        number = "" if place == 0 else str(place + 1)
        size = (len(own) + 1.5) / rows
        domain = (top - size + 1.5 / rows, top)
        data += _forest(results, own, named, number, shapes, labels)
        ends = reach([value for item in data for value in _reached(item, f"x{number}")])
        ends = (min(ends[0], -1.3 if named else -1.0), max(ends[1], 1.3 if named else 1.0))
        titles = [_row_title(results, row) for row in own.to_dict("records")]
        axes[f"yaxis{number}"] = axis(
            "", (-0.6, len(own) - 0.4), domain=domain, anchor=f"x{number}", grid=False,
            marks={float(len(own) - 1 - i): title for i, title in enumerate(titles)},
        )  # fmt: skip
        reference = str(results.meta["reference_configuration"])
        axes[f"xaxis{number}"] = axis(
            "Difference, in units of what matters (band: smaller than that)" if named
            else f"Difference [% of {plain(reference)}]; no size that matters was named",
            ends, anchor=f"y{number}",
        )  # fmt: skip
        top -= size
    return figure(data, axes, summary, height=round(64 + 34 * rows), margin=(186, 194, 40, 20),
                  labels=labels, shapes=shapes)  # fmt: skip


def _reached(item: Mapping[str, Any], ref: str) -> list[float]:
    """Both ends of the bars of a series on an axis."""
    if item["xaxis"] != ref or "error_x" not in item:
        return []
    bars = item["error_x"]
    return [
        end
        for x, down, up in zip(item["x"], bars["arrayminus"], bars["array"], strict=True)
        for end in (x - down, x + up)
    ]


def _row_title(results: Results, row: Mapping[Any, Any]) -> str:
    words = metric_words(results.meta, str(row["metric"]), str(row["condition_id"]),
                         str(row["condition"]))  # fmt: skip
    if len(extract.configurations(results)) > 2:
        words = f"{words}, {row['configuration_b']}"
    return "<br>".join(plain(line) for line in textwrap.wrap(words, 28)[:2])


def _forest(
    results: Results,
    own: pd.DataFrame,
    named: bool,
    number: str,
    shapes: list[dict[str, Any]],
    labels: list[dict[str, Any]],
) -> list[dict[str, Any]]:
    """Rows of one panel; adds its band, its line of no difference and its printed intervals."""
    refs = (f"x{number}", f"y{number}")
    if named:
        shapes.append(box((-1, 1, -0.6, len(own) - 0.4), refs, COLOURS["band"]))
    shapes.append(rule((0, 0, -0.6, len(own) - 0.4), refs, INK))
    names, found = extract.configurations(results), []
    for place, row in enumerate(own.to_dict("records")):
        spot = float(len(own) - 1 - place)
        unit = float(row["matters"]) if named else abs(float(row["estimate_a"])) / 100
        value, low, high = (float(row[key]) / unit for key in _ENDS)
        inner = rounded((float(row[key]) / unit for key in ("low_90", "high_90")), 3)
        style = look(names, str(row["configuration_b"]))
        symbol = _VERDICT_MARKS[str(row["verdict"])]
        marker = {"symbol": symbol, "size": 9, "color": style.colour,
                  "line": {"color": style.colour, "width": 1.5}}  # fmt: skip
        thick = {"color": style.colour, "width": 4, "dash": "solid"}
        found.append(series(inner, [spot, spot], line=thick, axes=refs))
        found.append(
            series(rounded([value], 3), [spot], marker=marker, axes=refs,
                   error_x=(rounded([value - low], 3), rounded([high - value], 3)))
        )  # fmt: skip
        labels.append(
            label(1.0, spot, plain(_row_text(results, row)), at=("paper", refs[1]))
            | {"xshift": 8}
        )
    return found


def _row_text(results: Results, row: Mapping[Any, Any]) -> str:
    scale = metric_scale(results.meta, str(row["metric"]))
    matters = scale.change(float(row["matters"]))
    edges = (0.0, matters, -matters) if math.isfinite(matters) else (0.0,)
    ends = [scale.change(float(row[key])) for key in _ENDS]
    size, low, high = printed(ends, scale.decimals, edges, plus=True)
    return f"{size} {scale.unit} ({low} to {high})"


# ---- balance -------------------------------------------------------------------------------------


def balance(results: Results, metric: str, condition_id: str | None = None) -> go.Figure:
    """Range of each condition flown, configuration by configuration.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    metric : str
        Metric whose points are meant.
    condition_id : str, optional
        Which condition; the first, unless given.

    Returns
    -------
    plotly.graph_objects.Figure
        Lines from the least to the greatest flight mean, a mark at the mean; an axis a quantity.

    Examples
    --------
    >>> from tests.made_results import made
    >>> balance(made(), "takeoff_ground_roll").layout.xaxis.title.text
    'Weight [kg]'
    """
    summary = captions.balance(results, metric)
    table = results.balance
    table = table[table["metric"] == metric] if len(table) else table
    if not len(table):
        return empty(summary)
    wanted = condition_id or str(table["condition_id"].iloc[0])
    table = table[table["condition_id"] == wanted]
    groups = list(table.groupby(["quantity", "unit"], sort=False))
    names = [name for name in extract.configurations(results)
             if name in set(table["configuration"])]  # fmt: skip
    data: list[dict[str, Any]] = []
    axes: dict[str, dict[str, Any]] = {}
    size = 1 / len(groups)
    for place, ((quantity, unit), own) in enumerate(groups):
        number = "" if place == 0 else str(place + 1)
        scale = scale_of(results.meta, str(unit))
        rows = own.set_index("configuration")
        known: list[float] = []
        for name in names:
            if name not in rows.index:
                continue
            low, mean, high = (scale.value(float(str(rows.loc[name, key])))
                               for key in ("least", "mean", "greatest"))  # fmt: skip
            known += [low, high]
            spot = float(len(names) - 1 - names.index(name))
            style = look(extract.configurations(results), name)
            bars = (rounded([mean - low], 2), rounded([high - mean], 2))
            data.append(series(rounded([mean], 2), [spot], marker=style.filled(9),
                               axes=(f"x{number}", f"y{number}"), error_x=bars))  # fmt: skip
        domain = (1 - (place + 1) * size + 0.62 * size, 1 - place * size)
        axes[f"xaxis{number}"] = axis(f"{str(quantity).capitalize()} [{scale.unit}]",
                                      reach(known), anchor=f"y{number}")  # fmt: skip
        axes[f"yaxis{number}"] = axis(
            "", (-0.6, len(names) - 0.4), domain=domain, anchor=f"x{number}", grid=False,
            marks={float(len(names) - 1 - i): plain(n) for i, n in enumerate(names)},
        )  # fmt: skip
    height = round(20 + len(groups) * (62 + 24 * len(names)) / 1.0)
    return figure(data, axes, summary, height=height, margin=(64, 20, 14, 6))
