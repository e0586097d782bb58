"""Pictures of flights and of the points in them: time histories, corrections, flight means."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd
import plotly.graph_objects as go

from stdday import captions, extract
from stdday.display import (
    condition_words,
    metric_scale,
    metric_words,
    number,
    scale_of,
    with_label,
)
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
    parts,
    plain,
    reach,
    rounded,
    rule,
    series,
)
from stdday.results import Results

__all__ = ["climbs", "flight_parts", "flight_trace", "flight_values", "landings",
           "ledger_steps", "takeoffs"]  # fmt: skip

_KIND_ROWS = {"take-off": 0, "landing": 0, "climb": 1, "airspeed calibration": 1,
              "acceleration": 1, "level run": 2}  # fmt: skip
_NONE: list[float | None] = [None]


# ---- one flight ----------------------------------------------------------------------------------


def flight_trace(results: Results, flight: str) -> go.Figure:
    """Altitude and airspeed of a flight on one time axis, with the test points found in it.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    flight : str
        Flight id.

    Returns
    -------
    plotly.graph_objects.Figure
        Used points are shaded; points not used have a dotted outline and a label in brackets.

    Raises
    ------
    InputError
        Where the results hold no such flight.

    Examples
    --------
    >>> from tests.made_results import made
    >>> [item["name"] for item in flight_trace(made(), "F1").data if item["name"]]
    ['indicated airspeed', 'ground speed']
    """
    return go.Figure(flight_parts(results, flight))


def flight_parts(results: Results, flight: str) -> dict[str, Any]:
    """Parts of the picture `flight_trace`, for a page that draws many.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    flight : str
        Flight id.

    Returns
    -------
    dict
        ``data`` and ``layout``, as plotly takes them.

    Raises
    ------
    InputError
        Where the results hold no such flight.

    Examples
    --------
    >>> from tests.made_results import made
    >>> sorted(flight_parts(made(), "F1"))
    ['data', 'layout']
    """
    history, found = extract.trace(results, flight), extract.spans(results, flight)
    minutes = rounded(history["minutes"], 2)
    altitude, speed = scale_of(results.meta, "ft"), scale_of(results.meta, "kt")
    height = rounded(history["pressure_altitude"], 0)
    indicated = rounded(history["indicated_airspeed"], 0)
    ground = rounded(history["ground_speed"], 0)
    end = max(1.0, float(history["minutes"].max()))
    shapes, labels = _point_marks(found, 616 / end)
    return parts(
        [
            series(minutes, height, line={"color": INK, "width": 1.5, "dash": "solid"},
                   axes=("x", "y")),
            series(minutes, indicated, name="indicated airspeed", axes=("x2", "y2"),
                   line={"color": COLOURS["first"], "width": 1.5, "dash": "solid"}),
            series(minutes, ground, name="ground speed", axes=("x2", "y2"),
                   line={"color": COLOURS["second"], "width": 1.2, "dash": "dot"}),
        ],
        {
            "xaxis": axis("", (0, end), anchor="y", marks={}),
            "yaxis": axis(f"Pressure altitude [{altitude.unit}]", reach(height),
                          domain=(0.5, 1.0), anchor="x", most=6),
            "xaxis2": axis("Time since the recording began [min]", (0, end), anchor="y2", most=9),
            "yaxis2": axis(f"Speed [{speed.unit}]", reach([*indicated, *ground]),
                           domain=(0.0, 0.44), anchor="x2", most=6),
        },
        captions.flight_trace(results, flight),
        height=470, margin=(64, 20, 76, 52), shapes=shapes, labels=labels, legend_up=44,
    )  # fmt: skip


def _point_marks(
    found: pd.DataFrame, pixels: float
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Shading of the points of a flight, and their labels in rows by kind above.

    `pixels` is the length of a minute; labels that would touch are moved to the right.
    """
    shapes, labels = [], []
    free: dict[int, float] = {}
    for row in found[found["start"].notna()].itertuples():    # a card tells no times
        ends = (float(str(row.start)), float(str(row.end)))
        used = bool(row.used)
        shapes.append(
            box((*ends, 0.0, 1.0), ("x2", "paper"), COLOURS["shade" if used else "paper"],
                outline=SOFT)
        )  # fmt: skip
        text = str(row.label) if used else f"({row.label})"
        place = _KIND_ROWS.get(str(row.kind), 2)
        half = 3.4 * len(text)
        spot = max(sum(ends) / 2 * pixels, free.get(place, 0.0) + half)
        free[place] = spot + half + 3
        labels.append(
            label(spot / pixels, 1.0, plain(text), at=("x2", "paper"), anchor=("center", "bottom"),
                  size=10, colour=INK if used else SOFT)
            | {"yshift": 2 + 13 * place}
        )  # fmt: skip
    return shapes, labels


# ---- as flown and corrected, flight by flight ----------------------------------------------------


def takeoffs(results: Results) -> go.Figure:
    """Ground roll of every take-off as flown and corrected, by flight and configuration.

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
    >>> takeoffs(made()).layout.yaxis.title.text
    'Take-off ground roll [m]'
    """
    conditions = extract.conditions_of(results, "takeoff_ground_roll")
    summary = captions.takeoffs(results)
    return _corrected_points(results, "takeoff_ground_roll", conditions, summary)


def landings(results: Results, metric: str = "landing_ground_roll") -> go.Figure:
    """Every landing as flown and corrected, by flight and configuration.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    metric : str, optional
        ``landing_ground_roll``, unless ``landing_distance_50ft`` is asked for.

    Returns
    -------
    plotly.graph_objects.Figure

    Examples
    --------
    >>> from tests.made_landings import made_landings
    >>> landings(made_landings()).layout.yaxis.title.text
    'Landing ground roll [m]'
    """
    conditions = extract.conditions_of(results, metric)
    return _corrected_points(results, metric, conditions, captions.landings(results, metric))


def climbs(results: Results) -> go.Figure:
    """Rate of climb of every climb as flown and corrected, one panel a reference altitude.

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
    >>> climbs(made()).layout.yaxis2.title.text
    'Rate of climb at 4000 ft [ft/min]'
    """
    conditions = extract.conditions_of(results, "climb_rate")
    return _corrected_points(results, "climb_rate", conditions, captions.climbs(results))


def _corrected_points(
    results: Results, metric: str, conditions: Sequence[tuple[str, str]], summary: str
) -> go.Figure:
    panels = [(name, told, extract.chain_ends(results, metric, name)) for name, told in conditions]
    panels = [panel for panel in panels if len(panel[2])]
    if not panels:
        return empty(summary)
    places = _flight_places(results, pd.concat([ends for _, _, ends in panels]))
    frame = _Panels(results, metric, places, len(panels))
    data = [
        series(_NONE, _NONE, name="as flown",
               marker={"symbol": "circle-open", "size": 7, "color": SOFT,
                       "line": {"color": SOFT, "width": 1.5}}),
        series(_NONE, _NONE, name="corrected to the reference day",
               marker={"symbol": "circle", "size": 8, "color": SOFT}),
        series(_NONE, _NONE, name="mean, 95 % interval shaded",
               line={"color": SOFT, "width": 2, "dash": "solid"}),
    ]  # fmt: skip
    for place, (condition_id, condition, ends) in enumerate(panels):
        told = condition_words(results.meta, condition_id, condition)
        spread = frame.add(place, condition_id, told, [*ends["as_flown"], *ends["corrected"]])
        data += _moves(ends, places, spread, frame)
    return frame.figure(data, summary)


def _moves(
    ends: pd.DataFrame, places: Mapping[str, float], axes: tuple[str, str], frame: _Panels
) -> list[dict[str, Any]]:
    """Marks as flown and corrected of every point, joined by a thin line."""
    found = []
    for name, own in ends.groupby("configuration", sort=False):
        style = look(frame.names, str(name))
        x = _beside(own, places)
        flown = rounded(own["as_flown"], frame.decimals + 1)
        corrected = rounded(own["corrected"], frame.decimals + 1)
        joined_x = [value for one in x for value in (one, one, None)]
        joined_y = [v for pair in zip(flown, corrected, strict=True) for v in (*pair, None)]
        texts = [plain(str(point)) for point in own["point"]]
        thin = {"color": style.colour, "width": 1, "dash": "solid"}
        found += [
            series(joined_x, joined_y, line=thin, axes=axes),
            series(x, flown, marker=style.hollow(7), axes=axes, texts=texts),
            series(x, corrected, marker=style.filled(8), axes=axes, texts=texts),
        ]
    return found


def _beside(own: pd.DataFrame, places: Mapping[str, float]) -> list[float | None]:
    """Place of each point: its flight's, points of one flight side by side."""
    counts = own.groupby("flight").cumcount()
    sizes = own.groupby("flight")["point"].transform("size")
    return rounded(
        (
            places[flight] + 0.22 * (place - (size - 1) / 2)
            for flight, place, size in zip(own["flight"], counts, sizes, strict=True)
        ),
        3,
    )


def _flight_places(results: Results, table: pd.DataFrame) -> dict[str, float]:
    """Place of each flight on the axis: side by side, a gap between the configurations."""
    places: dict[str, float] = {}
    spot = 0.0
    order = list(results.flights["flight"])
    for name in extract.configurations(results):
        own = set(table.loc[table["configuration"] == name, "flight"])
        for flight in sorted(own, key=lambda item: order.index(item) if item in order else 0):
            places[flight] = spot
            spot += 1.0
        spot += 0.8 if own else 0.0
    return places


class _Panels:
    """Panels, one above the other, over one axis of flights."""

    def __init__(
        self, results: Results, metric: str, places: Mapping[str, float], count: int
    ) -> None:
        self.results, self.metric, self.count = results, metric, count
        self.names = extract.configurations(results)
        self.places = places
        self.scale = metric_scale(results.meta, metric)
        self.decimals = self.scale.decimals
        self.axes: dict[str, dict[str, Any]] = {}
        self.shapes: list[dict[str, Any]] = []
        self.labels: list[dict[str, Any]] = []
        self._configuration = dict(
            zip(results.flights["flight"], results.flights["configuration"], strict=True)
        )

    def _ends(self, name: str) -> tuple[float, float]:
        own = [p for flight, p in self.places.items() if self._configuration.get(flight) == name]
        return min(own) - 0.45, max(own) + 0.45

    def _present(self) -> list[str]:
        shown = {self._configuration.get(flight) for flight in self.places}
        return [name for name in self.names if name in shown]

    def add(
        self, place: int, condition_id: str, told: str, values: Sequence[float]
    ) -> tuple[str, str]:
        """Add a panel with the mean and interval of each configuration; give its axes."""
        suffix = "" if place == 0 else str(place + 1)
        refs = (f"x{suffix}", f"y{suffix}")
        known = []
        for name in self._present():
            row = extract.value_of(self.results, self.metric, condition_id, name)
            if row is None or row["status"] != "ok":
                continue
            value, low, high = (self.scale.value(float(str(row[key])))
                                for key in ("estimate", "low", "high"))  # fmt: skip
            known += [low, high]
            style, span = look(self.names, name), self._ends(name)
            self.shapes += [
                box((*span, low, high), refs, style.colour, opacity=0.14),
                rule((*span, value, value), refs, style.colour, style.dash, 2),
            ]
        self._axes(place, suffix, told, [*values, *known])
        return refs

    def _axes(self, place: int, suffix: str, told: str, values: Sequence[float]) -> None:
        size = 1 / self.count
        domain = (1 - (place + 1) * size + (0.04 if self.count > 1 else 0.0), 1 - place * size)
        last = place == self.count - 1
        ends = (min(self.places.values()) - 0.6, max(self.places.values()) + 0.6)
        flights = {spot: plain(flight) if last else "" for flight, spot in self.places.items()}
        title = f"{METRICS[self.metric].title} {told if self.count > 1 else ''}".strip()
        unit = f" [{self.scale.unit}]" if self.scale.unit else ""
        self.axes[f"xaxis{suffix}"] = axis("Flight" if last else "", ends, anchor=f"y{suffix}",
                                           marks=flights, grid=False)  # fmt: skip
        self.axes[f"yaxis{suffix}"] = axis(f"{title}{unit}", reach(values, 0.08), domain=domain,
                                           anchor=f"x{suffix}", most=7)  # fmt: skip

    def figure(self, data: Sequence[dict[str, Any]], summary: str) -> go.Figure:
        """Put the panels together, the configurations named above them."""
        for name in self._present():
            low, high = self._ends(name)
            text = textwrap.shorten(with_label(self.results.meta, name), 42, placeholder="…")
            self.labels.append(
                label((low + high) / 2, 1.0, f"<b>{plain(text)}</b>", at=("x", "paper"),
                      anchor=("center", "bottom"), colour=look(self.names, name).colour)
                | {"yshift": 3}
            )  # fmt: skip
        legend = any(item.get("showlegend") for item in data)
        return figure(
            data, self.axes, summary, height=130 + 230 * self.count,
            margin=(68, 20, 56 if legend else 30, 52), labels=self.labels, shapes=self.shapes,
            legend_up=26,
        )  # fmt: skip


def flight_values(results: Results, metric: str, condition_id: str) -> go.Figure:
    """One value a flight, with the mean of each configuration and its interval.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    metric, condition_id : str
        Which values.

    Returns
    -------
    plotly.graph_objects.Figure

    Examples
    --------
    >>> from tests.made_results import made
    >>> list(flight_values(made(), "climb_rate", "climb_1").data[0].y)
    [745.0, 760.0, 775.0]
    """
    table = results.flight_values
    own = table[(table["metric"] == metric) & (table["condition_id"] == condition_id)]
    summary = captions.flight_values(results, metric, condition_id)
    if not len(own):
        return empty(summary)
    scale, places = metric_scale(results.meta, metric), _flight_places(results, own)
    frame, data = _Panels(results, metric, places, 1), []
    values = [scale.value(float(value)) for value in own["value"]]
    told = dict(extract.conditions_of(results, metric)).get(condition_id, "")
    refs = frame.add(0, condition_id, told, values)
    frame.axes["yaxis"]["title"]["text"] = (
        f"{metric_words(results.meta, metric, condition_id, told)} [{scale.unit}]"
    )
    for name, rows in own.groupby("configuration", sort=False):
        data.append(
            series([places[flight] for flight in rows["flight"]],
                   rounded((scale.value(float(v)) for v in rows["value"]), scale.decimals + 1),
                   marker=look(frame.names, str(name)).filled(9), axes=refs)
        )  # fmt: skip
    return frame.figure(data, summary)


# ---- one point -----------------------------------------------------------------------------------


def ledger_steps(
    results: Results, point: str, metric: str, condition_id: str | None = None
) -> go.Figure:
    """Corrections of one point, step by step, from the value as flown to the corrected one.

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
    plotly.graph_objects.Figure
        One panel for each unit of the chain.

    Raises
    ------
    InputError
        Where the ledger holds no such point and metric.

    Examples
    --------
    >>> from tests.made_results import made
    >>> picture = ledger_steps(made(), "F1-take-off-080400", "takeoff_ground_roll")
    >>> list(picture.layout.yaxis.ticktext)[-2:]
    ['no wind', 'as flown']
    """
    steps = extract.chain(results, point, metric, condition_id)
    groups = [own for _, own in steps.groupby("unit", sort=False)]
    rows = sum(len(own) + 2 for own in groups)
    data: list[dict[str, Any]] = []
    labels: list[dict[str, Any]] = []
    shapes: list[dict[str, Any]] = []
    axes: dict[str, dict[str, Any]] = {}
    top = 1.0
    for place, own in enumerate(groups):
        suffix = "" if place == 0 else str(place + 1)
        size = (len(own) + 2) / rows
        bottom = top - size
        gap = 0.34 if place < len(groups) - 1 else 0.0
        _steps_panel(own, suffix, (bottom + gap * size, top), data, labels, shapes, axes)
        top = bottom
    return figure(
        data, axes, captions.ledger_steps(results, point, metric, condition_id),
        height=90 + 30 * rows + 70 * (len(groups) - 1), margin=(230, 64, 14, 52), labels=labels,
        shapes=shapes,
    )  # fmt: skip


def _steps_panel(
    own: pd.DataFrame,
    suffix: str,
    domain: tuple[float, float],
    data: list[dict[str, Any]],
    labels: list[dict[str, Any]],
    shapes: list[dict[str, Any]],
    axes: dict[str, dict[str, Any]],
) -> None:
    """Add the steps of one unit: a bar from before to after each, its size beside it."""
    refs = (f"x{suffix}", f"y{suffix}")
    decimals = int(own["decimals"].iloc[0])
    before, after = rounded(own["before"], decimals + 1), rounded(own["after"], decimals + 1)
    last = len(own) + 1
    names = ["as flown" if not suffix else str(own["quantity"].iloc[0]), *own["step"], "corrected"]
    marks = {
        float(last - place): "<br>".join(plain(line) for line in textwrap.wrap(str(name), 34)[:2])
        for place, name in enumerate(names)
    }
    for place, row in enumerate(own.itertuples()):
        spot = float(last - 1 - place)
        start, end = float(before[place] or 0), float(after[place] or 0)
        colour = COLOURS["first"] if end >= start else COLOURS["second"]
        shapes += [
            box((min(start, end), max(start, end), spot - 0.27, spot + 0.27), refs, colour,
                over_grid=True),
            rule((start, start, spot + 0.27, spot + 1), refs, SOFT, "dot"),
        ]  # fmt: skip
        labels.append(
            label(
                max(start, end), spot, number(float(str(row.change)), decimals, plus=True), at=refs
            )
            | {"xshift": 6}
        )
    ends = [before[0], after[-1]]
    shapes.append(rule((float(ends[1] or 0), float(ends[1] or 0), 0, 1), refs, SOFT, "dot"))
    data.append(series(ends, [float(last), 0.0], axes=refs,
                       marker={"symbol": "circle", "size": 9, "color": INK}))  # fmt: skip
    exact = (float(own["before"].iloc[0]), float(own["after"].iloc[-1]))
    for value, spot in zip(exact, (last, 0), strict=True):
        labels.append(label(value, spot, number(value, decimals), at=refs) | {"xshift": 9})
    unit = f" [{own['unit'].iloc[0]}]" if own["unit"].iloc[0] else ""
    title = f"{str(own['quantity'].iloc[-1]).capitalize()}{unit}"
    axes[f"xaxis{suffix}"] = axis(title, reach([*before, *after], 0.1), anchor=refs[1])
    axes[f"yaxis{suffix}"] = axis("", (-0.6, last + 0.6), domain=domain, anchor=refs[0],
                                  marks=dict(sorted(marks.items())), grid=False)  # fmt: skip
