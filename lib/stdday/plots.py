"""Pictures of results, and the one way in which a notebook shows them.

Every function takes results alone and gives a plotly figure that carries its own summary sentence
(`stdday.captions`); `show` puts both on the page.
"""

from __future__ import annotations

import importlib.util
import os
from typing import Any

import plotly.graph_objects as go

from stdday.plots_flights import climbs, flight_trace, flight_values, ledger_steps, takeoffs
from stdday.plots_results import balance, cruise, differences, fuel_curve, level_curve

__all__ = [
    "STILLS",
    "balance",
    "bundle",
    "climbs",
    "cruise",
    "differences",
    "flight_trace",
    "flight_values",
    "fuel_curve",
    "ledger_steps",
    "level_curve",
    "show",
    "takeoffs",
]

#: Environment variable that, set to 1, adds a still picture where a browser can draw one.
STILLS = "STDDAY_STILLS"
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
    """What a notebook stores of a picture: drawing, summary, and a still where one can be made.

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
    ['application/vnd.plotly.v1+json', 'text/plain']
    """
    content = figure.to_plotly_json()
    found: dict[str, Any] = {
        _MIME: {
            "data": content["data"],
            "layout": content["layout"],
            "config": {"displaylogo": False, "responsive": False},
        },
        "text/plain": summary or content["layout"]["meta"]["summary"],
    }
    if os.environ.get(STILLS) == "1" and importlib.util.find_spec("kaleido") is not None:
        found |= _still(figure)
    return found


def _still(figure: go.Figure) -> dict[str, Any]:
    """Still picture, where a browser is found to draw it; nothing else, and that is said."""
    from base64 import b64encode  # noqa: PLC0415 - only where stills are asked for

    try:
        drawn = figure.to_image(format="png", scale=1)
    except (RuntimeError, ValueError):
        return {}
    return {"image/png": b64encode(drawn).decode()}
