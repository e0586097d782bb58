"""Pictures of results, and the one way in which a notebook shows them.

Every function takes results alone and gives a plotly figure that carries its own summary sentence
(`stdday.captions`); `show` puts both on the page.
"""

from __future__ import annotations

import zlib
from typing import Any

import plotly.graph_objects as go

from stdday.picture_svg import svg
from stdday.plots_flights import (
    climbs,
    flight_trace,
    flight_values,
    landings,
    ledger_steps,
    takeoffs,
)
from stdday.plots_results import balance, cruise, differences, fuel_curve, level_curve

__all__ = [
    "balance",
    "bundle",
    "climbs",
    "cruise",
    "differences",
    "flight_trace",
    "flight_values",
    "fuel_curve",
    "landings",
    "ledger_steps",
    "level_curve",
    "show",
    "takeoffs",
]

_MIME = "application/vnd.plotly.v1+json"


def show(figure: go.Figure, summary: str | None = None) -> None:
    """Show a picture in a notebook, with its summary for whoever cannot see it.

    Parameters
    ----------
    figure : plotly.graph_objects.Figure
        A picture of this module.
    summary : str, optional
        What it shows, computed from results; the summary that the picture carries, unless given.

    Examples
    --------
    >>> from tests.made_results import made
    >>> show(cruise(made()))  # doctest: +ELLIPSIS
    {...'Cruise true airspeed at 55 % power: A 98.2 kt, B 97.6 kt; at 65 % power: ...
    """
    from IPython.display import display  # noqa: PLC0415 - only a notebook has it

    display(bundle(figure, summary), raw=True)  # type: ignore[no-untyped-call]


def bundle(figure: go.Figure, summary: str | None = None) -> dict[str, Any]:
    """What a notebook stores of a picture: the live drawing, a still one, and the summary.

    JupyterLab shows the live drawing; a reader on a code host, and a page made from the notebook,
    get the still one, for which no browser is needed.

    Parameters
    ----------
    figure : plotly.graph_objects.Figure
        A picture of this module.
    summary : str, optional
        What it shows; the summary that the picture carries, unless given.

    Returns
    -------
    dict of str to object
        By MIME type.

    Examples
    --------
    >>> from tests.made_results import made
    >>> sorted(bundle(fuel_curve(made())))
    ['application/vnd.plotly.v1+json', 'image/svg+xml', 'text/plain']
    """
    content = figure.to_plotly_json()
    words = summary or content["layout"]["meta"]["summary"]
    layout = {key: value for key, value in content["layout"].items() if key != "meta"}
    return {
        _MIME: {
            "data": content["data"],
            "layout": layout,
            "config": {"displaylogo": False, "responsive": False},
        },
        "image/svg+xml": svg(figure, f"picture-{zlib.crc32(words.encode()):08x}", words),
        "text/plain": words,
    }
