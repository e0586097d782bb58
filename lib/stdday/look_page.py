"""One picture of a recording on a common time axis, in a page that stands by itself."""

from __future__ import annotations

import html
import os
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

from stdday.errors import StddayError
from stdday.look import Looked
from stdday.look_text import look_lines, shown_unit, shown_values, spelled
from stdday.picture import (
    COLOURS,
    INK,
    SOFT,
    axis,
    box,
    empty,
    figure,
    label,
    plain,
    reach,
    rounded,
    series,
)
from stdday.picture_svg import svg
from stdday.propose_toml import columns_toml
from stdday.recording_types import FloatArray, Recording

__all__ = ["look_page", "look_picture", "save_look", "write_whole"]

_POINTS = 1_500
_PANELS = (
    ("Altitude", ("pressure_altitude", "indicated_altitude", "gps_altitude")),
    ("Speed", ("indicated_airspeed", "true_airspeed", "ground_speed")),
    ("Engine", ("engine_speed", "propeller_speed")),
    ("Power", ("power",)),
    ("Manifold", ("manifold_pressure",)),
    ("Fuel flow", ("fuel_flow",)),
    ("Air", ("outside_air_temperature",)),
)
#: Titles of panels with one line only.
_SHORT = {"pressure_altitude": "Press. alt.", "indicated_altitude": "Ind. alt.",
          "gps_altitude": "GPS alt.", "indicated_airspeed": "Ind. airspeed",
          "true_airspeed": "True airspeed", "ground_speed": "Ground speed",
          "propeller_speed": "Propeller"}
_LINES = (("first", "solid"), ("second", "dash"), ("third", "dot"))
_HEIGHT = 130
_STYLE = ("body{font:15px/1.45 Helvetica,Arial,sans-serif;max-width:60em;margin:2em auto;"
          "padding:0 1em;color:#23282e}pre{overflow:auto;font-size:12px}svg{max-width:100%;"
          "height:auto}")


def look_picture(looked: Looked) -> go.Figure:
    r"""Draw a recording: one panel a kind of channel, all on one time axis.

    Parameters
    ----------
    looked : Looked
        The recording.

    Returns
    -------
    plotly.graph_objects.Figure
        What was found is shaded; never raises.

    Examples
    --------
    >>> from stdday.look import look_at
    >>> rows = "".join(f"10:00:{n:02d},{60 + n % 40}\n" for n in range(60))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = Path(folder, "one.csv").write_text("UTC,IAS (kt)\n" + rows)
    ...     looked = look_at(Path(folder, "one.csv"))
    >>> len(look_picture(looked).data)
    1
    """
    recording = looked.recording
    panels = [] if recording is None else [
        (title, [name for name in names if name in recording.channels
                 and np.isfinite(recording.channels[name]).any()]) for title, names in _PANELS]
    panels = [(title, names) for title, names in panels if names]
    if recording is None or not panels or recording.time_s.size < 2:
        return empty("There is nothing to draw.")
    minutes, chosen = _thinned(recording)
    end = max(float(minutes[-1]), 0.1)
    data, axes = [], {}
    for place, (title, names) in enumerate(panels):
        mark = "" if place == 0 else str(place + 1)
        low = 1.0 - (place + 1) / len(panels) + 0.02
        drawn = []
        for (colour, dash), name in zip(_LINES, names, strict=False):
            values = shown_values(looked, name, recording.channels[name][chosen])
            drawn.append(rounded(values, 2))
            data.append(series(rounded(minutes, 3), drawn[-1],
                               name=spelled(name) if len(names) > 1 else "",
                               axes=(f"x{mark}", f"y{mark}"),
                               line={"color": COLOURS[colour], "width": 1.3, "dash": dash}))
        last = place == len(panels) - 1
        axes[f"xaxis{mark}"] = axis("Time since the recording began [min]" if last else "",
                                    (0.0, end), anchor=f"y{mark}", marks=None if last else {})
        axes[f"yaxis{mark}"] = axis(
            f"{title if len(names) > 1 else _SHORT.get(names[0], title)} "
            f"[{shown_unit(looked, names[0])}]",
            reach([value for line in drawn for value in line]),
            domain=(max(low, 0.0), 1.0 - place / len(panels)), anchor=f"x{mark}", most=4)
    shapes, labels = _marks(looked, recording, end)
    return figure(data, axes, _summary(looked, recording), height=110 + _HEIGHT * len(panels),
                  margin=(64, 20, 90, 52), shapes=shapes, labels=labels, legend_up=34)


def _thinned(recording: Recording) -> tuple[FloatArray, NDArray[np.int64]]:
    """Minutes from the start and the samples drawn."""
    chosen = np.arange(0, recording.time_s.size, max(1, recording.time_s.size // _POINTS))
    return (recording.time_s[chosen] - recording.time_s[0]) / 60.0, chosen


def _marks(looked: Looked, recording: Recording, end: float
           ) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Shading and labels of what was found."""
    shapes, labels = [], []
    zero = float(recording.time_s[0])
    rows = {"take-off": 0, "climb": 1, "level run": 0, "landing": 1, "acceleration": 1,
            "airspeed calibration": 1}  # fmt: skip
    free = [-1.0, -1.0]
    for one in looked.found:
        if not one.used:
            continue
        ends = ((one.start_s - zero) / 60.0, (one.end_s - zero) / 60.0)
        shapes.append(box((*ends, 0.0, 1.0), ("x", "paper"), COLOURS["shade"], outline=SOFT))
        place, half = rows.get(one.kind, 0), 3.0 * len(one.kind) * end / 616.0
        spot = sum(ends) / 2.0
        if spot - half < free[place]:      # the shading shows it; labels that touch show nothing
            continue
        free[place] = spot + half
        labels.append(label(min(spot, end), 1.0, plain(one.kind), at=("x", "paper"),
                            anchor=("center", "bottom"), size=10, colour=INK)
                      | {"yshift": 2 + 13 * place})
    return shapes, labels


def _summary(looked: Looked, recording: Recording) -> str:
    """What the picture shows in words."""
    counts: dict[str, int] = {}
    for one in looked.found:
        if one.used:
            counts[one.kind] = counts.get(one.kind, 0) + 1
    said = ", ".join(f"{count} {kind}{'s' if count > 1 else ''}" for kind, count in counts.items())
    minutes = (recording.time_s[-1] - recording.time_s[0]) / 60.0
    return (f"{minutes:.0f} minutes of {len(recording.channels)} channels, raw and uncorrected; "
            f"found: {said or 'no take-off, climb, level run, acceleration, pattern or landing'}.")


def look_page(looked: Looked) -> str:
    r"""Put the picture and what was said into one page without scripts.

    Parameters
    ----------
    looked : Looked
        The recording.

    Returns
    -------
    str
        HTML; all text of the recording is escaped; never raises.

    Examples
    --------
    >>> from stdday.look import look_at
    >>> rows = "".join(f"10:00:{n:02d},{60 + n % 40}\n" for n in range(60))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = Path(folder, "one.csv").write_text("UTC,IAS (kt)\n" + rows)
    ...     looked = look_at(Path(folder, "one.csv"))
    >>> look_page(looked).startswith("<!DOCTYPE html>")
    True
    """
    made = look_picture(looked)
    words = html.escape("\n".join(look_lines(looked)))
    title = html.escape(looked.name)
    summary = html.escape(str(made.layout.meta["summary"]))
    return (f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
            "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
            "style-src 'unsafe-inline'\">"
            f"<title>{title}</title><style>{_STYLE}</style></head>\n<body>\n<h1>{title}</h1>\n"
            f"<p>{summary}</p>\n{svg(made, 'flight')}\n<pre>{words}</pre>\n</body></html>\n")


def write_whole(place: Path, text: str) -> None:
    """Write a file whole or not at all; one that is there is never replaced.

    Parameters
    ----------
    place : Path
        Where.
    text : str
        What.

    Raises
    ------
    StddayError
        Something is there already, or the disk refuses.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_whole(Path(folder, "one.txt"), "text")
    ...     Path(folder, "one.txt").read_text()
    'text'
    """
    try:
        handle, held = tempfile.mkstemp(prefix=".", suffix=".part", dir=place.parent)
    except OSError as error:
        raise _refused(place, error) from error
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n", errors="replace") as stream:
            stream.write(text)
        _put(Path(held), place)
    except FileExistsError:
        raise StddayError(f"{place}: needed a name that is free; found a file there, and it was "
                          "left as it is. Mend: give another name, or move it.") from None
    except OSError as error:
        raise _refused(place, error) from error
    finally:
        Path(held).unlink(missing_ok=True)


def _put(held: Path, place: Path) -> None:
    """Give a finished file its name, if that is free."""
    held.chmod(0o644)
    try:
        os.link(held, place)
    except FileExistsError:
        raise
    except OSError:      # a disk without links
        if place.exists() or place.is_symlink():
            raise FileExistsError from None
        held.replace(place)


def _refused(place: Path, error: OSError) -> StddayError:
    """Make the error for a file that cannot be written."""
    return StddayError(f"{place}: cannot be written ({error.strerror or 'a fault of the disk'}). "
                       "Mend: choose another place, or free it.")


def save_look(looked: Looked, place: Path | None) -> list[str]:
    r"""Write the page, and the proposed columns file where one was asked for.

    Parameters
    ----------
    looked : Looked
        The recording.
    place : Path or None
        The columns file; the page stands beside it. None for a page in a new folder for files that
        need not be kept.

    Returns
    -------
    list of str
        Where they are.

    Raises
    ------
    StddayError
        A file is there already (nothing is written then), there is nothing to save, or the disk
        refuses.

    Examples
    --------
    >>> from stdday.look import look_at
    >>> rows = "".join(f"10:00:{n:02d},{60 + n % 40}\n" for n in range(60))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = Path(folder, "one.csv").write_text("UTC,IAS (kt)\n" + rows)
    ...     looked = look_at(Path(folder, "one.csv"))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = save_look(looked, Path(folder, "panel.toml"))
    ...     sorted(path.name for path in Path(folder).iterdir())
    ['panel.toml', 'panel.toml.html']
    """
    page = look_page(looked)
    if place is None:
        shown = Path(tempfile.mkdtemp(prefix="look-"), "look.html")
        write_whole(shown, page)
        return [f"Picture: {shown}"]
    shown = place.with_name(place.name + ".html")
    if looked.proposal is None:
        raise StddayError(f"{looked.name}: a track needs no columns file, so there is nothing to "
                          "save. Mend: leave --save out.")
    text = columns_toml(looked.proposal, looked.name)
    for name in (place, shown):
        if name.exists() or name.is_symlink():
            raise StddayError(f"{name}: needed a name that is free; found a file there, and nothing"
                              " was written. Mend: give another name, or move it.")
    write_whole(shown, page)
    write_whole(place, text)
    return [f"Columns, to be confirmed: {place}", f"Picture: {shown}"]
