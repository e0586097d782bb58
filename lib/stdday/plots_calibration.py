"""Pictures of airspeed calibrations from flights: the curve, and how one pattern gives it."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from stdday import extract
from stdday.display import Scale, number, scale_of, with_label
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
from stdday.tables_calibration import curves_of

__all__ = ["curve", "curve_summary", "pattern", "pattern_summary"]

_KEYS = ["installation", "flaps", "configuration"]


def curve_summary(results: Results) -> str:
    """Summary of the picture of the airspeed correction.

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
    >>> curve_summary(made())
    'Airspeed correction: no curve from flights.'
    """
    scale, parts = scale_of(results.meta, "kt"), []
    for key in curves_of(results):
        own = _rows(results, "calibration_curve", key)
        flown = own[own["flown"].astype(bool)]
        ends = (flown.iloc[0], flown.iloc[-1])
        told = " and ".join(
            f"{number(scale.change(float(row['correction [kt]'])), 1, plus=True)} ± "
            f"{number(scale.change(float(row['band [kt]'])), 1)} {scale.unit} at "
            f"{scale.text(float(row['indicated_airspeed [kt]']), 0)} {scale.unit}"
            for row in ends
        )
        parts.append(f"{_named(results, key)} {told}")
    if not parts:
        return "Airspeed correction: no curve from flights."
    return (f"Airspeed correction, calibrated minus indicated: {'; '.join(parts)}. Thin lines hold "
            "the whole flown part of the curve with 95 %; shaded: not flown.")  # fmt: skip


def _named(results: Results, key: tuple[str, str, str]) -> str:
    installation, flaps, configuration = key
    keys = curves_of(results)
    name = configuration
    if len({one[0] for one in keys}) > 1:
        name += f", {installation}"
    return f"{name}, flaps {flaps}" if flaps else name


def _rows(results: Results, table: str, key: tuple[str, str, str]) -> pd.DataFrame:
    found = results.table(table)
    return found[(found[_KEYS] == list(key)).all(axis=1)] if len(found) else found


def curve(results: Results) -> go.Figure:
    """Airspeed correction against indicated airspeed, a panel for each curve.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    plotly.graph_objects.Figure
        With the band, each leg's own correction, and the airspeeds beyond the legs shaded.

    Examples
    --------
    >>> from tests.made_results import made
    >>> curve(made()).layout.meta["summary"]
    'Airspeed correction: no curve from flights.'
    """
    summary, keys = curve_summary(results), curves_of(results)
    if not keys:
        return empty(summary)
    scale = scale_of(results.meta, "kt")
    every = results.table("calibration_curve")
    ends_x = reach([scale.value(float(v)) for v in every["indicated_airspeed [kt]"]], 0.0)
    flown = every[every["flown"].astype(bool)]
    ends_y = reach([
        scale.change(float(v))
        for v in (*(flown["correction [kt]"] - 1.6 * flown["band [kt]"]),
                  *(flown["correction [kt]"] + 1.6 * flown["band [kt]"]),
                  *_leg_corrections(results))
    ])  # fmt: skip
    data, labels, shapes, axes = [], [], [], {}
    size = 1 / len(keys)
    for place, key in enumerate(keys):
        name = "" if place == 0 else str(place + 1)
        refs = (f"x{name}", f"y{name}")
        last = place == len(keys) - 1
        domain = (1 - (place + 1) * size + (0.0 if last else 0.1), 1 - place * size)
        axes[f"xaxis{name}"] = axis(
            f"Indicated airspeed [{scale.unit}]" if last else "", ends_x, anchor=refs[1])
        axes[f"yaxis{name}"] = axis(f"Correction [{scale.unit}]", ends_y, anchor=refs[0],
                                    domain=domain, most=6)  # fmt: skip
        own = _rows(results, "calibration_curve", key)
        shapes += _not_flown(own, scale, (ends_x, ends_y), refs)
        shapes.append(rule((*ends_x, 0.0, 0.0), refs, INK))
        data += _curve_marks(results, key, scale, refs, ends_y, place == 0)
        labels.append(label(ends_x[1], ends_y[1],
                            f"<b>{plain(_panel_title(results, key))}</b>", at=refs,
                            anchor=("right", "top")) | {"yshift": -3, "xshift": -6})  # fmt: skip
    return figure(data, axes, summary, height=90 + 220 * len(keys), margin=(64, 20, 38, 52),
                  labels=labels, shapes=shapes)  # fmt: skip


def _panel_title(results: Results, key: tuple[str, str, str]) -> str:
    labelled = with_label(results.meta, key[2])
    return labelled if not key[1] else f"{labelled}, flaps {key[1]}"


def _leg_corrections(results: Results) -> list[float]:
    table = results.table("calibration_legs")
    return [float(v) for v in table.loc[table["used"].astype(bool), "correction [kt]"]]


def _not_flown(
    own: pd.DataFrame, scale: Scale, ends: tuple[tuple[float, float], tuple[float, float]],
    refs: tuple[str, str],
) -> list[dict[str, object]]:
    """Shade the airspeeds beyond the legs."""
    (left, right), (low, high) = ends
    flown = own.loc[own["flown"].astype(bool), "indicated_airspeed [kt]"].astype(float)
    first, last = scale.value(float(flown.min())), scale.value(float(flown.max()))
    return [box((left, first, low, high), refs, COLOURS["shade"]),
            box((last, right, low, high), refs, COLOURS["shade"])]  # fmt: skip


def _curve_marks(
    results: Results, key: tuple[str, str, str], scale: Scale, refs: tuple[str, str],
    ends_y: tuple[float, float], first: bool,
) -> list[dict[str, object]]:
    """Curve, band and legs of one panel; lines are cut at its edges."""
    own, style = _rows(results, "calibration_curve", key), look(
        extract.configurations(results), key[2])
    speed = rounded((scale.value(float(v)) for v in own["indicated_airspeed [kt]"]), 2)
    middle, wide = own["correction [kt]"].astype(float), own["band [kt]"].astype(float)
    data = []
    for values, width, name in (
        (middle, 2.0, "curve"), (middle - wide, 1.0, "its 95 % band"), (middle + wide, 1.0, ""),
    ):  # fmt: skip
        shown = [scale.change(float(v)) for v in values]
        kept = [v if ends_y[0] <= v <= ends_y[1] else None for v in shown]
        line = {"color": style.colour, "width": width, "dash": "solid" if width > 1 else "dash"}
        data.append(series(speed, rounded((math.nan if v is None else v for v in kept), 3),
                           line=line, axes=refs, name=name if first else ""))  # fmt: skip
    legs = _rows(results, "calibration_legs", key)
    legs = legs[legs["used"].astype(bool)] if len(legs) else legs
    x = rounded((scale.value(float(v)) for v in legs["indicated_airspeed [kt]"]), 2)
    y = rounded((scale.change(float(v)) for v in legs["correction [kt]"]), 3)
    texts = [plain(f"{row.point}, {str(row.leg).replace('_', ' ')}") for row in legs.itertuples()]
    data.append(series(x, y, marker=style.hollow(6), axes=refs, texts=texts,
                       name="each leg's own" if first else ""))  # fmt: skip
    return data


# ---- one pattern ---------------------------------------------------------------------------------


def pattern_summary(results: Results, point: str) -> str:
    """Summary of the picture of one pattern's ground velocities.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    point : str
        Point id.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_results import made
    >>> pattern_summary(made(), "")
    'No calibration pattern with a wind of its own.'
    """
    row = _pattern_row(results, point)
    if row is None:
        return "No calibration pattern with a wind of its own."
    scale = scale_of(results.meta, "kt")
    legs = int(str(row["legs"]))
    return (
        f"{point}: the tips of {legs} ground velocities lie on a circle around the wind, "
        f"{scale.text(float(row['wind_speed [kt]']))} {scale.unit} from "
        f"{round(float(row['wind_from [deg]'])) % 360:03d}°; its radius is the true airspeed, "
        f"{scale.text(float(row['true_airspeed [kt]']))} {scale.unit}. The mean ground speed is "
        f"{scale.text(float(row['mean_ground_speed [kt]']))} {scale.unit}."
    )


def _pattern_row(results: Results, point: str) -> pd.Series | None:
    table = results.table("calibration_patterns")
    if not len(table):
        return None
    own = table[(table["point"] == point) & table["wind_speed [kt]"].notna()]
    return own.iloc[0] if len(own) else None


def pattern(results: Results, point: str) -> go.Figure:
    """Ground velocities of one pattern, and the circle on which their tips lie.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    point : str
        Point id.

    Returns
    -------
    plotly.graph_objects.Figure
        North up, both axes to one scale.

    Examples
    --------
    >>> from tests.made_results import made
    >>> pattern(made(), "").layout.meta["summary"]
    'No calibration pattern with a wind of its own.'
    """
    summary, row = pattern_summary(results, point), _pattern_row(results, point)
    if row is None:
        return empty(summary)
    scale = scale_of(results.meta, "kt")
    towards = math.radians(float(row["wind_from [deg]"]) + 180)
    wind = scale.change(float(row["wind_speed [kt]"]))
    radius = scale.change(float(row["true_airspeed [kt]"]))
    centre = (wind * math.sin(towards), wind * math.cos(towards))
    table = results.table("calibration_legs")
    legs = table[(table["point"] == point) & table["used"].astype(bool)]
    speed = [scale.change(float(v)) for v in legs["ground_speed [kt]"]]
    track = np.radians(legs["track [deg]"].astype(float))
    east, north = speed * np.sin(track), speed * np.cos(track)
    turn = np.linspace(0, 2 * np.pi, 73)
    round_x, round_y = centre[0] + radius * np.cos(turn), centre[1] + radius * np.sin(turn)
    reached = 1.12 * max(np.abs([*round_x, *round_y, *east, *north]))
    style = look(extract.configurations(results), str(row["configuration"]))
    data = [
        series(rounded(round_x, 2), rounded(round_y, 2), name="circle: true airspeed",
               line={"color": style.colour, "width": 2, "dash": "solid"}),
        *(series([0.0, round(x, 2)], [0.0, round(y, 2)], name="ground velocities" * (place == 0),
                 line={"color": SOFT, "width": 1.5, "dash": "solid"})
          for place, (x, y) in enumerate(zip(east, north, strict=True))),
        series([0.0, round(centre[0], 2)], [0.0, round(centre[1], 2)], name="wind",
               line={"color": INK, "width": 4, "dash": "solid"}),
        series(rounded(east, 2), rounded(north, 2), marker=style.filled(8)),
    ]  # fmt: skip
    labels = [
        label(float(x), float(y), str(leg).removeprefix("leg_"), anchor=("center", "middle"))
        | {"xshift": round(14 * (x - centre[0]) / radius),
           "yshift": round(14 * (y - centre[1]) / radius)}
        for x, y, leg in zip(east, north, legs["leg"], strict=True)
    ]
    # 700 px wide and as high inside the axes as wide: the circle stays round
    wide = reached * (700 - 64 - 20) / (520 - 38 - 52)
    axes = {
        "xaxis": axis(f"Velocity to the east [{scale.unit}]", (-wide, wide), anchor="y"),
        "yaxis": axis(f"Velocity to the north [{scale.unit}]", (-reached, reached), anchor="x"),
    }
    return figure(data, axes, summary, height=520, margin=(64, 20, 38, 52), labels=labels)
