"""Draws a picture as SVG text, without a browser: for the report, for print and for mail.

It knows the parts that `stdday.picture` makes (lines, marks, error bars, shapes, labels, a legend,
several pairs of axes) and refuses others, so that nothing is left out in silence. The same picture
gives the same bytes on every machine.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import plotly.graph_objects as go

from stdday.errors import InputError
from stdday.picture import COLOURS, INK, SOFT

__all__ = ["svg"]

_NAMES = {value: name for name, value in COLOURS.items()}
_DASHES = {"solid": "", "dash": "7,4", "dot": "2,3", "dashdot": "7,3,2,3"}
_ANCHORS = {"left": "start", "center": "middle", "right": "end"}
_BREAK = re.compile(r"<br ?/?>")
#: Width of a letter over the size of the text, on the wide side [-].
_LETTER = 0.56


@dataclass(frozen=True)
class _Frame:
    """Where things are in a picture [px]."""

    layout: dict[str, Any]
    left: float
    top: float
    width: float
    height: float

    def axis(self, ref: str) -> dict[str, Any]:
        """Axis by its reference, such as ``x2``."""
        found: dict[str, Any] = self.layout[f"{ref[0]}axis{ref[1:]}"]
        return found

    def span(self, ref: str) -> tuple[float, float]:
        """Pixels at which an axis begins and ends."""
        low, high = self.axis(ref).get("domain", (0.0, 1.0))
        if ref[0] == "x":
            return self.left + low * self.width, self.left + high * self.width
        return self.top + (1 - low) * self.height, self.top + (1 - high) * self.height

    def place(self, value: float, ref: str, other: str) -> float:
        """Pixel of a value on an axis, on the part of one, or on the whole picture."""
        if ref == "paper":
            start, end = (self.left, self.left + self.width) if other == "x" else (
                self.top + self.height, self.top)  # fmt: skip
            return start + value * (end - start)
        if ref.endswith(" domain"):
            start, end = self.span(ref.removesuffix(" domain"))
            return start + value * (end - start)
        low, high = self.axis(ref)["range"]
        start, end = self.span(ref)
        return float(start + (value - low) / (high - low) * (end - start))


def _pixel(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _colour(value: str) -> str:
    name = _NAMES.get(value)
    return f"var(--{name},{value})" if name else value


def _style(**parts: str | float) -> str:
    return ";".join(
        f"{key.replace('_', '-')}:{value}" for key, value in parts.items() if value != ""
    )


def _stroke(line: dict[str, Any]) -> str:
    dash = line.get("dash", "solid")
    if dash not in _DASHES:
        raise InputError(f"line pattern must be one of {', '.join(_DASHES)}; got {dash!r}")
    return _style(
        fill="none", stroke=_colour(line.get("color", INK)), stroke_width=line.get("width", 2),
        stroke_dasharray=_DASHES[dash],
    )  # fmt: skip


def svg(
    figure: go.Figure | dict[str, Any], name: str, summary: str | None = None, *,
    themed: bool = False,
) -> str:
    """Draw a picture as SVG.

    Parameters
    ----------
    figure : plotly.graph_objects.Figure or dict
        A picture made by `stdday.plots`, or the parts of one.
    name : str
        Identifier within the page, for the title that screen readers read.
    summary : str, optional
        What it shows in words; the summary kept in the picture, unless given.
    themed : bool
        Whether colours are custom properties that the page sets (``--first``, ``--ink``), so that
        the picture follows a dark screen; else it stands by itself, in a file of its own too.

    Returns
    -------
    str
        An ``svg`` element.

    Raises
    ------
    InputError
        Where the picture holds a part that this drawing does not know.

    Examples
    --------
    >>> from stdday.picture import axis, figure
    >>> made = figure([], {"xaxis": axis("t [s]", (0, 1)), "yaxis": axis("", (0, 1))}, "Nothing.")
    >>> svg(made, "picture-1").startswith('<svg xmlns="http://www.w3.org/2000/svg"')
    True
    """
    content = figure if isinstance(figure, dict) else figure.to_plotly_json()
    layout, data = content["layout"], content["data"]
    margin, width, height = layout["margin"], layout["width"], layout["height"]
    frame = _Frame(layout, margin["l"], margin["t"], width - margin["l"] - margin["r"],
                   height - margin["t"] - margin["b"])  # fmt: skip
    words = summary if summary is not None else layout["meta"]["summary"]
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
        f'height="{height}" role="img" aria-labelledby="{html.escape(name)}" '
        f'font-family="{html.escape(layout["font"]["family"])}" font-size="12">',
        f'<title id="{html.escape(name)}">{html.escape(words)}</title>',
    ]
    shapes = layout.get("shapes", ())
    parts += [_shape(frame, shape) for shape in shapes if shape["layer"] == "below"]
    parts += _grid(frame)
    parts += [_shape(frame, shape) for shape in shapes if shape["layer"] == "between"]
    parts += _axes(frame)
    for series in data:
        parts += _series(frame, series)
    parts += [_label(frame, item) for item in layout.get("annotations", ())]
    if layout.get("showlegend"):
        parts += _legend(frame, [item for item in data if item.get("showlegend")])
    text = "\n".join([*parts, "</svg>"])
    return text if themed else _by_itself(text)


def _by_itself(text: str) -> str:
    """Styles as plain attributes and colours as they are, for viewers without style sheets."""
    fixed = re.sub(r"var\(--\w+,(#[0-9a-f]{6})\)", r"\1", text)
    return re.sub(r'style="([^"]*)"', _as_attributes, fixed)


def _as_attributes(found: re.Match[str]) -> str:
    parts = (part.partition(":") for part in found[1].split(";") if part)
    return " ".join(f'{key}="{value}"' for key, _, value in parts)


# ---- axes ----------------------------------------------------------------------------------------


def _refs(frame: _Frame) -> list[tuple[str, str]]:
    """Side and reference of every axis."""
    found = (re.fullmatch(r"([xy])axis(\d*)", key) for key in sorted(frame.layout))
    return [(match[1], match[1] + match[2]) for match in found if match]


def _crossing(frame: _Frame, side: str, ref: str) -> tuple[float, float]:
    """Pixels between which an axis' grid lines run; the axis stands at the first."""
    partner = frame.axis(ref).get("anchor", "free")
    if partner != "free":
        return frame.span(partner)
    if side == "x":
        return frame.top + frame.height, frame.top
    return frame.left, frame.left + frame.width


def _ticks(frame: _Frame, side: str, ref: str) -> list[tuple[float, str]]:
    """Pixel and text of the ticks that lie on an axis."""
    entry, (start, end) = frame.axis(ref), sorted(frame.span(ref))
    spots = [(frame.place(value, ref, side), text)
             for value, text in zip(entry["tickvals"], entry["ticktext"], strict=True)]  # fmt: skip
    return [(spot, text) for spot, text in spots if start - 0.5 <= spot <= end + 0.5]


def _grid(frame: _Frame) -> Iterator[str]:
    style = _style(stroke=_colour(COLOURS["grid"]), stroke_width=1)
    for side, ref in _refs(frame):
        if frame.axis(ref).get("showgrid"):
            ends = _crossing(frame, side, ref)
            yield from (_straight(side, spot, *ends, style) for spot, _ in _ticks(frame, side, ref))


def _axes(frame: _Frame) -> Iterator[str]:
    for side, ref in _refs(frame):
        yield from _axis(frame, side, ref)


def _axis(frame: _Frame, side: str, ref: str) -> Iterator[str]:
    entry, (start, end) = frame.axis(ref), frame.span(ref)
    foot = _crossing(frame, side, ref)[0]
    style = _style(stroke=_colour(SOFT), stroke_width=1)
    for spot, text in _ticks(frame, side, ref):
        if entry.get("ticks") == "outside":
            yield _straight(side, spot, foot, foot + (4 if side == "x" else -4), style)
        if text and side == "x":
            yield _text(spot, foot + 17, text, "middle")
        elif text:
            yield _lines(foot - 8, spot, text, "end", "middle")
    if entry.get("showline"):
        yield _straight("y" if side == "x" else "x", foot, start, end, style)
    title = entry["title"].get("text", "")
    if title and side == "x":
        yield _text((start + end) / 2, foot + 38, title, "middle")
    elif title:
        yield _text(15, (start + end) / 2, title, "middle", turned=True)


def _straight(side: str, spot: float, start: float, end: float, style: str) -> str:
    """Line across (side x: upright at `spot`; side y: level at `spot`)."""
    x1, y1, x2, y2 = (spot, start, spot, end) if side == "x" else (start, spot, end, spot)
    return (
        f'<line x1="{_pixel(x1)}" y1="{_pixel(y1)}" x2="{_pixel(x2)}" y2="{_pixel(y2)}" '
        f'style="{style}"/>'
    )


# ---- text ----------------------------------------------------------------------------------------


def _unmarked(text: str) -> str:
    """Text of a label as XML: entities resolved, then escaped once."""
    return html.escape(html.unescape(text), quote=False)


def _text(
    x: float, y: float, text: str, anchor: str, colour: str = INK, size: float = 12,
    turned: bool = False,
) -> str:  # fmt: skip
    bold = text.startswith("<b>") and text.endswith("</b>")
    text = text.removeprefix("<b>").removesuffix("</b>") if bold else text
    spin = f' transform="rotate(-90 {_pixel(x)} {_pixel(y)})"' if turned else ""
    style = _style(fill=_colour(colour), font_size=f"{size:g}px" if size != 12 else "",
                   font_weight="bold" if bold else "")  # fmt: skip
    return (
        f'<text x="{_pixel(x)}" y="{_pixel(y)}" text-anchor="{anchor}" style="{style}"{spin}>'
        f"{_unmarked(text)}</text>"
    )


def _lines(
    x: float, y: float, text: str, anchor: str, stand: str, colour: str = INK, size: float = 12
) -> str:
    """Text of one or more lines, its top, middle or bottom at `y`."""
    lines = _BREAK.split(text)
    pitch = 1.25 * size
    first = {
        "top": y + 0.85 * size,
        "middle": y + 0.35 * size - pitch * (len(lines) - 1) / 2,
        "bottom": y - 0.25 * size - pitch * (len(lines) - 1),
    }[stand]
    return "\n".join(
        _text(x, first + place * pitch, line, anchor, colour, size)
        for place, line in enumerate(lines)
    )


def _label(frame: _Frame, item: dict[str, Any]) -> str:
    x = frame.place(item["x"], item["xref"], "x") + item.get("xshift", 0)
    y = frame.place(item["y"], item["yref"], "y") - item.get("yshift", 0)
    font = item.get("font", {})
    return _lines(x, y, item["text"], _ANCHORS[item["xanchor"]], item["yanchor"],
                  font.get("color", INK), font.get("size", 12))  # fmt: skip


# ---- shapes, lines, marks ------------------------------------------------------------------------


def _shape(frame: _Frame, item: dict[str, Any]) -> str:
    x0, x1 = (frame.place(item[key], item["xref"], "x") for key in ("x0", "x1"))
    y0, y1 = (frame.place(item[key], item["yref"], "y") for key in ("y0", "y1"))
    if item["type"] == "line":
        return (
            f'<line x1="{_pixel(x0)}" y1="{_pixel(y0)}" x2="{_pixel(x1)}" y2="{_pixel(y1)}" '
            f'style="{_stroke(item["line"])}"/>'
        )
    if item["type"] != "rect":
        raise InputError(f"shape must be a line or a rect; got {item['type']!r}")
    line = item["line"]
    edge = {"stroke": _colour(line["color"]), "stroke_width": line["width"],
            "stroke_dasharray": _DASHES[line["dash"]]} if line["width"] else {}  # fmt: skip
    style = _style(fill=_colour(item["fillcolor"]), opacity=item.get("opacity", 1), **edge)
    return (
        f'<rect x="{_pixel(min(x0, x1))}" y="{_pixel(min(y0, y1))}" '
        f'width="{_pixel(abs(x1 - x0))}" height="{_pixel(abs(y1 - y0))}" style="{style}"/>'
    )


def _series(frame: _Frame, item: dict[str, Any]) -> Iterator[str]:
    if item["type"] != "scatter":
        raise InputError(f"series must be of type scatter; got {item['type']!r}")
    ref_x, ref_y = item.get("xaxis", "x"), item.get("yaxis", "y")
    spots: list[tuple[float, float] | None] = [
        None if x is None or y is None
        else (frame.place(x, ref_x, "x"), frame.place(y, ref_y, "y"))
        for x, y in zip(item["x"], item["y"], strict=True)
    ]  # fmt: skip
    if "lines" in item["mode"]:
        yield from _polyline(spots, _stroke(item["line"]))
    for key, ref in (("error_x", ref_x), ("error_y", ref_y)):
        if key in item:
            yield from _bars(frame, spots, item, key, ref)
    if "markers" in item["mode"]:
        yield from (_mark(x, y, item["marker"]) for x, y in filter(None, spots))


def _polyline(spots: Sequence[tuple[float, float] | None], style: str) -> Iterator[str]:
    run: list[str] = []
    for spot in [*spots, None]:
        if spot is not None:
            run.append(f"{_pixel(spot[0])},{_pixel(spot[1])}")
        elif run:
            yield f'<polyline points="{" ".join(run)}" style="{style}"/>'
            run = []


def _bars(
    frame: _Frame, spots: Sequence[tuple[float, float] | None], item: dict[str, Any], key: str,
    ref: str,
) -> Iterator[str]:  # fmt: skip
    bars, side = item[key], key[-1]
    style = _style(stroke=_colour(bars["color"]), stroke_width=bars["thickness"])
    for spot, value, down, up in zip(spots, item[side], bars["arrayminus"], bars["array"],
                                     strict=True):  # fmt: skip
        if spot is None or down is None or up is None:
            continue
        low, high = (frame.place(end, ref, side) for end in (value - down, value + up))
        across = spot[0] if side == "y" else spot[1]
        along, cap = ("x", "y") if side == "y" else ("y", "x")
        yield _straight(along, across, low, high, style)
        for end in (low, high):
            half = bars["width"] / 2
            yield _straight(cap, end, across - half, across + half, style)


def _mark(x: float, y: float, marker: dict[str, Any]) -> str:
    symbol, radius = marker["symbol"], marker["size"] / 2
    colour = _colour(marker["color"])
    shape = symbol.removesuffix("-open")
    style = (
        _style(fill="none", stroke=colour, stroke_width=1.5) if symbol != shape
        else _style(fill=colour)
    )  # fmt: skip
    if shape == "circle":
        return f'<circle cx="{_pixel(x)}" cy="{_pixel(y)}" r="{_pixel(radius)}" style="{style}"/>'
    if shape == "x-thin":
        style = _style(fill="none", stroke=colour, stroke_width=1.5)
        path = f"M{_at(x - radius, y - radius)}L{_at(x + radius, y + radius)}" + (
            f"M{_at(x - radius, y + radius)}L{_at(x + radius, y - radius)}")  # fmt: skip
        return f'<path d="{path}" style="{style}"/>'
    corners = {
        "square": [(-0.89, -0.89), (0.89, -0.89), (0.89, 0.89), (-0.89, 0.89)],
        "diamond": [(0, -1.3), (1.3, 0), (0, 1.3), (-1.3, 0)],
        "triangle-up": [(0, -1.1), (1.1, 0.8), (-1.1, 0.8)],
    }
    if shape not in corners:
        raise InputError(
            f"mark must be circle, x-thin or one of {', '.join(corners)}; got {symbol!r}"
        )
    path = " ".join(f"{_at(x + dx * radius, y + dy * radius)}" for dx, dy in corners[shape])
    return f'<polygon points="{path}" style="{style}"/>'


def _at(x: float, y: float) -> str:
    return f"{_pixel(x)},{_pixel(y)}"


def _legend(frame: _Frame, items: Sequence[dict[str, Any]]) -> Iterator[str]:
    """Names of the series in lines above the picture."""
    place = frame.layout["legend"]
    left = frame.place(place["x"], "paper", "x")
    most = frame.layout["width"] - left - 8
    rows: list[list[tuple[float, dict[str, Any]]]] = [[]]
    used = 0.0
    for item in items:
        width = 33 + 12 * _LETTER * len(html.unescape(item["name"])) + 14
        if rows[-1] and used + width > most:
            rows.append([])
            used = 0.0
        rows[-1].append((left + used, item))
        used += width
    bottom = frame.place(place["y"], "paper", "y")
    for number, row in enumerate(reversed(rows)):
        y = bottom - 10 - 17 * number
        for x, item in row:
            if "lines" in item["mode"]:
                yield _straight("y", y, x, x + 26, _stroke(item["line"]))
            if "markers" in item["mode"]:
                yield _mark(x + 13, y, item["marker"])
            yield _text(x + 33, y + 4, item["name"], "start")
