"""Building blocks of the pictures: colours, marks, axes with round ticks, one figure out of parts.

A picture must be readable in grey print and by people who do not see all colours: a configuration
has a mark and a line pattern of its own beside its colour, and labels stand at the lines.
"""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import plotly.graph_objects as go

__all__ = ["COLOURS", "INK", "Look", "axis", "figure", "label", "look", "plain", "rounded", "ticks"]

#: Colours of the pictures by name. The configurations' differ in lightness too, so that grey print
#: keeps them apart.
COLOURS = {
    "first": "#17477e",
    "second": "#c8641b",
    "third": "#5d8a2a",
    "fourth": "#8d4a86",
    "ink": "#23282e",
    "soft": "#6a727b",
    "grid": "#dde1e5",
    "shade": "#eceff2",
    "band": "#e3e8d9",
    "paper": "#ffffff",
}
INK, SOFT, GRID = COLOURS["ink"], COLOURS["soft"], COLOURS["grid"]
WIDTH = 700
FONT = "Helvetica, Arial, sans-serif"

_MARKS = ("circle", "diamond", "square", "triangle-up")
_DASHES = ("solid", "dash", "dot", "dashdot")
_HUES = ("first", "second", "third", "fourth")


class Look:
    """Colour, mark and line pattern of a configuration.

    Parameters
    ----------
    place : int
        Its place among the configurations [-]; beyond the fourth, looks come again.

    Examples
    --------
    >>> Look(1).mark, Look(1).dash
    ('diamond', 'dash')
    """

    def __init__(self, place: int) -> None:
        self.colour = COLOURS[_HUES[place % len(_HUES)]]
        self.mark = _MARKS[place % len(_MARKS)]
        self.dash = _DASHES[place % len(_DASHES)]

    def filled(self, size: float = 8) -> dict[str, Any]:
        """Marker of this look, filled."""
        return {"symbol": self.mark, "size": size, "color": self.colour}

    def hollow(self, size: float = 8) -> dict[str, Any]:
        """Marker of this look, only its outline."""
        return {
            "symbol": f"{self.mark}-open", "size": size, "color": self.colour,
            "line": {"color": self.colour, "width": 1.5},
        }  # fmt: skip

    def line(self, width: float = 2) -> dict[str, Any]:
        """Line of this look."""
        return {"color": self.colour, "width": width, "dash": self.dash}


def look(names: Sequence[str], name: str) -> Look:
    """Look of a configuration among all of a campaign's.

    Parameters
    ----------
    names : sequence of str
        Configurations in order.
    name : str
        Which one.

    Returns
    -------
    Look

    Examples
    --------
    >>> look(["A", "B"], "B").mark
    'diamond'
    """
    return Look(list(names).index(name))


def plain(text: str) -> str:
    """Keep a text of a campaign from being read as mark-up by the drawing program.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str

    Examples
    --------
    >>> plain("<b> costs $5")
    '&lt;b&gt; costs &#36;5'
    """
    return html.escape(text, quote=False).replace("$", "&#36;")


def rounded(values: Iterable[float], decimals: int) -> list[float | None]:
    """Round numbers for a picture; None where there is none.

    Parameters
    ----------
    values : iterable of float
        Any numbers.
    decimals : int
        Decimals kept [-].

    Returns
    -------
    list of float or None

    Examples
    --------
    >>> rounded([1.26, float("nan")], 1)
    [1.3, None]
    """
    return [
        round(float(value), decimals) + 0.0 if value is not None and math.isfinite(value) else None
        for value in values
    ]


def ticks(low: float, high: float, most: int = 7) -> list[float]:
    """Round numbers from `low` to `high` that divide an axis.

    Parameters
    ----------
    low, high : float
        Ends of the axis, any unit.
    most : int
        At most so many ticks [-].

    Returns
    -------
    list of float

    Examples
    --------
    >>> ticks(0, 62)
    [0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0]
    """
    power = 10.0 ** math.floor(math.log10((high - low) / most))
    for step in (power, 2 * power, 5 * power, 10 * power, 20 * power):
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first < most:
            break
    return [round(place * step, 10) + 0.0 for place in range(first, last + 1)]


def reach(values: Iterable[float | None], share: float = 0.06) -> tuple[float, float]:
    """Ends of an axis that holds all values with some room."""
    known = np.array([v for v in values if v is not None and math.isfinite(v)], dtype=float)
    if not known.size:
        return 0.0, 1.0
    low, high = float(known.min()), float(known.max())
    room = share * (high - low) or max(abs(high) * share, 1.0)
    return low - room, high + room


def axis(
    title: str,
    ends: tuple[float, float],
    *,
    domain: tuple[float, float] = (0.0, 1.0),
    anchor: str = "free",
    marks: Mapping[float, str] | None = None,
    most: int = 7,
    grid: bool = True,
) -> dict[str, Any]:
    """One axis with round ticks.

    Parameters
    ----------
    title : str
        Title with the unit; none where empty.
    ends : (float, float)
        Ends of the axis.
    domain : (float, float)
        Part of the picture that it spans [0 to 1].
    anchor : str
        Axis that it stands at.
    marks : mapping of float to str, optional
        Ticks with texts of their own, in place of round numbers.
    most : int
        At most so many ticks [-].
    grid : bool
        Whether lines run through the picture at the ticks.

    Returns
    -------
    dict
        Part of a plotly layout.

    Examples
    --------
    >>> axis("Time [min]", (0, 60))["ticktext"]
    ['0', '10', '20', '30', '40', '50', '60']
    """
    if marks is None:
        places = ticks(*ends, most=most)
        step = abs(places[1] - places[0]) if len(places) > 1 else 1.0
        decimals = max(0, -math.floor(math.log10(step) + 1e-9))
        marks = {place: f"{place:.{decimals}f}" for place in places}
    return {
        "title": {"text": title, "standoff": 8, "font": {"size": 12}},
        "range": [round(end, 6) for end in ends],
        "domain": [round(end, 4) for end in domain],
        "anchor": anchor,
        "tickmode": "array",
        "tickvals": list(marks),
        "ticktext": list(marks.values()),
        "showgrid": grid,
        "gridcolor": GRID,
        "zeroline": False,
        "showline": True,
        "linecolor": SOFT,
        "ticks": "outside" if grid else "",
        "tickcolor": SOFT,
        "ticklen": 4,
        "fixedrange": False,
    }


def label(
    x: float,
    y: float,
    text: str,
    *,
    at: tuple[str, str] = ("x", "y"),
    anchor: tuple[str, str] = ("left", "middle"),
    colour: str = INK,
    size: int = 12,
) -> dict[str, Any]:
    """Label without an arrow.

    Parameters
    ----------
    x, y : float
        Place, in the units of `at`.
    text : str
        Text, already made `plain`.
    at : (str, str)
        Axes that the place is measured on, or ``paper``.
    anchor : (str, str)
        Side of the text that stands at the place.
    colour : str
        Colour of the text.
    size : int
        Size of the text [px].

    Returns
    -------
    dict
        Part of a plotly layout.

    Examples
    --------
    >>> label(1, 2, "A")["showarrow"]
    False
    """
    return {
        "x": round(x, 4), "y": round(y, 4), "xref": at[0], "yref": at[1], "text": text,
        "xanchor": anchor[0], "yanchor": anchor[1], "showarrow": False,
        "font": {"size": size, "color": colour}, "align": anchor[0],
    }  # fmt: skip


def box(
    ends: tuple[float, float, float, float],
    at: tuple[str, str],
    colour: str,
    opacity: float = 1.0,
    outline: str = "",
    over_grid: bool = False,
) -> dict[str, Any]:
    """Shaded rectangle (x0, x1, y0, y1) behind the data, under the grid unless said."""
    x0, x1, y0, y1 = (round(end, 4) for end in ends)
    return {
        "type": "rect", "x0": x0, "x1": x1, "y0": y0, "y1": y1, "xref": at[0], "yref": at[1],
        "fillcolor": colour, "opacity": opacity, "layer": "between" if over_grid else "below",
        "line": {"color": outline or colour, "width": 1 if outline else 0, "dash": "dot"},
    }  # fmt: skip


def rule(
    ends: tuple[float, float, float, float],
    at: tuple[str, str],
    colour: str = SOFT,
    dash: str = "solid",
    width: float = 1,
) -> dict[str, Any]:
    """Straight line (x0, x1, y0, y1) behind the data, over the grid."""
    x0, x1, y0, y1 = (round(end, 4) for end in ends)
    return {
        "type": "line", "x0": x0, "x1": x1, "y0": y0, "y1": y1, "xref": at[0], "yref": at[1],
        "layer": "between", "line": {"color": colour, "width": width, "dash": dash},
    }  # fmt: skip


def series(
    x: Sequence[float | None],
    y: Sequence[float | None],
    *,
    name: str = "",
    line: dict[str, Any] | None = None,
    marker: dict[str, Any] | None = None,
    axes: tuple[str, str] = ("x", "y"),
    texts: Sequence[str] | None = None,
    error_x: tuple[Sequence[float | None], Sequence[float | None]] | None = None,
    error_y: tuple[Sequence[float | None], Sequence[float | None]] | None = None,
) -> dict[str, Any]:
    """Points, a line, or both; named ones stand in the legend.

    `error_x` and `error_y` are lengths of bars below and above the points.
    """
    mode = "+".join(word for word, there in (("lines", line), ("markers", marker)) if there)
    found: dict[str, Any] = {
        "type": "scatter", "x": list(x), "y": list(y), "mode": mode or "lines", "name": name,
        "showlegend": bool(name), "xaxis": axes[0], "yaxis": axes[1], "cliponaxis": False,
    }  # fmt: skip
    if line:
        found["line"] = line
    if marker:
        found["marker"] = marker
    if texts is not None:
        found |= {"text": list(texts), "hoverinfo": "text"}
    for key, bars in (("error_x", error_x), ("error_y", error_y)):
        if bars is not None:
            colour = (marker or line or {}).get("color", INK)
            found[key] = {
                "type": "data", "symmetric": False, "arrayminus": list(bars[0]),
                "array": list(bars[1]), "color": colour, "thickness": 1.5, "width": 5,
            }  # fmt: skip
    return found


def figure(
    data: Sequence[dict[str, Any]],
    axes: Mapping[str, dict[str, Any]],
    summary: str,
    *,
    height: int = 380,
    margin: tuple[int, int, int, int] = (64, 20, 34, 52),
    labels: Sequence[dict[str, Any]] = (),
    shapes: Sequence[dict[str, Any]] = (),
    legend_up: int = 4,
) -> go.Figure:
    """Put a picture together.

    Parameters
    ----------
    data, axes, summary
        As for `parts`.
    height, margin, labels, shapes, legend_up
        As for `parts`.

    Returns
    -------
    plotly.graph_objects.Figure

    Examples
    --------
    >>> from stdday.picture import axis, figure
    >>> made = figure([], {"xaxis": axis("x [-]", (0, 1))}, "Nothing.")
    >>> made.layout.meta["summary"]
    'Nothing.'
    """
    return go.Figure(
        parts(data, axes, summary, height=height, margin=margin, labels=labels, shapes=shapes,
              legend_up=legend_up)
    )  # fmt: skip


def parts(
    data: Sequence[dict[str, Any]],
    axes: Mapping[str, dict[str, Any]],
    summary: str,
    *,
    height: int = 380,
    margin: tuple[int, int, int, int] = (64, 20, 34, 52),
    labels: Sequence[dict[str, Any]] = (),
    shapes: Sequence[dict[str, Any]] = (),
    legend_up: int = 4,
) -> dict[str, Any]:
    """Put the parts of a picture together: enough to draw it, without the time a figure takes.

    Parameters
    ----------
    data : sequence of dict
        Series.
    axes : mapping of str to dict
        Axes by their plotly names (``xaxis``, ``yaxis2``).
    summary : str
        The sentence that says what it shows; kept in the picture.
    height : int
        Height [px]; the width is 700 px.
    margin : (int, int, int, int)
        Left, right, top and bottom margins [px].
    labels, shapes : sequence of dict
        Labels, and shapes behind the data.
    legend_up : int
        Room between the panels and the legend above them [px].

    Returns
    -------
    dict
        ``data`` and ``layout``, as plotly takes them.

    Examples
    --------
    >>> parts([], {"xaxis": axis("x [-]", (0, 1))}, "Nothing.")["layout"]["meta"]["summary"]
    'Nothing.'
    """
    left, right, top, bottom = margin
    layout: dict[str, Any] = {
        "template": "none",
        "width": WIDTH,
        "height": height,
        "margin": {"l": left, "r": right, "t": top, "b": bottom},
        "font": {"family": FONT, "size": 12, "color": INK},
        "paper_bgcolor": COLOURS["paper"],
        "plot_bgcolor": COLOURS["paper"],
        "showlegend": any(item.get("showlegend") for item in data),
        "legend": {
            "orientation": "h", "xanchor": "left", "yanchor": "bottom", "font": {"size": 12},
            "x": round((8 - left) / (WIDTH - left - right), 4) if left > 100 else 0,
            "y": round(1 + legend_up / (height - top - bottom), 4), "bgcolor": "rgba(0,0,0,0)",
        },
        "hovermode": "closest",
        "meta": {"summary": summary},
        "annotations": list(labels),
        "shapes": list(shapes),
        **axes,
    }  # fmt: skip
    return {"data": list(data), "layout": layout}


def empty(summary: str) -> go.Figure:
    """Picture that only says why there is none."""
    hidden = axis("", (0, 1), marks={}, grid=False) | {"showline": False}
    text = label(0.5, 0.5, plain(summary), at=("paper", "paper"), anchor=("center", "middle"))
    axes = {"xaxis": hidden, "yaxis": dict(hidden)}
    return figure([], axes, summary, height=90, margin=(20, 20, 10, 10), labels=[text])
