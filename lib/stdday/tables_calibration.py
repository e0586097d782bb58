"""Tables of airspeed calibrations from flights, in display units."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from stdday.display import NONE, number, scale_of
from stdday.layout import Table, records, without_empty
from stdday.results import Results
from stdday.results_calibration import NO_CURVE, TABLE

__all__ = [
    "checks",
    "curves_of",
    "handbook",
    "how_calibrated",
    "legs",
    "patterns",
    "refused",
    "steps",
]


_AS_SHOWN = "airspeeds are taken as indicated, with wider intervals"
#: What the ways of calibrating are called.
_HOW = {
    "none": f"no calibration is used: {_AS_SHOWN}",
    "from flights": "the curve from flights is used in every test",
    TABLE: "the owner's table is used in every test",
    NO_CURVE: f"no usable pattern yet: {_AS_SHOWN}",
}


def _angle(value: float) -> str:
    """Direction in three figures, as it is flown."""
    return f"{round(value) % 360:03d}°" if math.isfinite(value) else NONE


def how_calibrated(results: Results) -> list[str]:
    """Say which calibration each airplane has, and what comes from flights beside it.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    list of str
        One text an airplane.

    Examples
    --------
    >>> from tests.made_results import made
    >>> how_calibrated(made())[0][:60]
    'Airplane one: no calibration is used: airspeeds are taken as'
    """
    flown = {row["airplane"] for row in records(results.table("calibration_patterns"))}
    lines = []
    for name, how in results.meta["calibration"].items():
        text = f"Airplane {name}: {_HOW.get(str(how), str(how))}."
        if how != "from flights":
            text += (
                " Patterns were flown; what they say is shown and not used."
                if name in flown else " No usable pattern was flown."
            )  # fmt: skip
        lines.append(text)
    return lines


def curves_of(results: Results) -> list[tuple[str, str, str]]:
    """Curves of the results, in their order.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    list of (installation, flaps, configuration)

    Examples
    --------
    >>> from tests.made_results import made
    >>> curves_of(made())
    []
    """
    table = results.table("calibration_curve")
    if not len(table):
        return []
    keys = table[["installation", "flaps", "configuration"]].drop_duplicates()
    return [(str(a), str(b), str(c)) for a, b, c in keys.itertuples(index=False)]


def patterns(results: Results) -> Table:
    """Calibration patterns as flown, with the true airspeed and wind found.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table
        Used patterns; those refused are in `refused`.

    Examples
    --------
    >>> from tests.made_results import made
    >>> patterns(made())
    Pattern  Configuration  Shape  Legs
    (none)
    """
    scale, rows = scale_of(results.meta, "kt"), []
    for row in records(results.table("calibration_patterns")):
        if not row["used"]:
            continue
        rows.append({
            "Pattern": row["point"], "Configuration": row["configuration"],
            "Flaps": row["flaps"], "Shape": row["pattern"], "Legs": str(row["legs"]),
            f"Indicated [{scale.unit}]": scale.text(float(row["indicated_airspeed [kt]"])),
            f"Mean ground speed [{scale.unit}]":
                scale.text(float(row["mean_ground_speed [kt]"])),
            f"True airspeed [{scale.unit}]": scale.text(float(row["true_airspeed [kt]"])),
            "Wind from": _angle(float(row["wind_from [deg]"])),
            f"Wind [{scale.unit}]": scale.text(float(row["wind_speed [kt]"])),
            f"± 1 sigma [{scale.unit}]": scale.text(float(row["wind_sigma [kt]"])),
        })  # fmt: skip
    if not rows:
        return Table(columns=["Pattern", "Configuration", "Shape", "Legs"])
    return without_empty(Table(rows), ("Flaps",))


def checks(results: Results) -> Table:
    """What speaks for and against each used pattern.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table
        Condition of the headings, residuals, the farthest leg when left out, and what recorded
        headings say.

    Examples
    --------
    >>> from tests.made_results import made
    >>> checks(made())
    Pattern  Condition  One more leg near
    (none)
    """
    scale, rows = scale_of(results.meta, "kt"), []
    every = results.table("calibration_legs")
    for row in records(results.table("calibration_patterns")):
        if not row["used"]:
            continue
        own = every[(every["point"] == row["point"]) & every["used"].astype(bool)]
        sigmas = (own["left_out [kt]"] / own["left_out_sigma [kt]"]).abs()
        rows.append({
            "Pattern": row["point"],
            "Condition": number(float(row["condition"]), 2),
            "One more leg near": _angle(float(row["add_heading [deg]"])),
            f"Largest residual [{scale.unit}]":
                scale.text(float(own["residual [kt]"].abs().max())),
            "Farthest leg when left out [sigmas]": number(float(sigmas.max()), 1),
            "Least weight of a leg": number(float(own["weight"].min()), 1),
            "Recorded headings": _headings(row),
            "North": str(row["north"]),
        })  # fmt: skip
    return Table(rows) if rows else Table(columns=["Pattern", "Condition", "One more leg near"])


def _headings(row: Mapping[str, Any]) -> str:
    offset, scatter = (float(row[f"heading_{name} [deg]"]) for name in ("offset", "scatter"))
    if not math.isfinite(offset):
        return "not recorded"
    return f"off by {offset:+.0f}°, scatter {scatter:.0f}°"


def legs(results: Results, point: str) -> Table:
    """Legs of one pattern: what was recorded, and how far each lies from the fit.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    point : str
        Point id; empty for none.

    Returns
    -------
    Table
        Without rows where there is no such pattern.

    Examples
    --------
    >>> from tests.made_results import made
    >>> legs(made(), "")
    Leg
    (none)
    """
    scale, table = scale_of(results.meta, "kt"), results.table("calibration_legs")
    own = table[table["point"] == point] if len(table) else table
    rows = []
    for row in records(own):
        rows.append({
            "Leg": str(row["leg"]).removeprefix("leg_"),
            f"Indicated [{scale.unit}]": scale.text(float(row["indicated_airspeed [kt]"])),
            f"Ground speed [{scale.unit}]": scale.text(float(row["ground_speed [kt]"])),
            "Track": _angle(float(row["track [deg]"])),
            "Heading found": _angle(float(row["heading [deg]"])),
            f"True airspeed [{scale.unit}]": scale.text(float(row["true_airspeed [kt]"])),
            f"Residual [{scale.unit}]":
                number(scale.change(float(row["residual [kt]"])), 2, plus=True),
            f"When left out [{scale.unit}]":
                number(scale.change(float(row["left_out [kt]"])), 2, plus=True),
            f"± 1 sigma [{scale.unit}]":
                number(scale.change(float(row["left_out_sigma [kt]"])), 2),
            "Why not": row["reason"],
        })  # fmt: skip
    return without_empty(Table(rows), ("Why not",)) if rows else Table(columns=["Leg"])


def refused(results: Results) -> Table:
    """Patterns and legs that carry no airspeed, why, and what to fly.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table

    Examples
    --------
    >>> from tests.made_results import made
    >>> refused(made())
    What  Why not
    (none)
    """
    found: dict[str, str] = {}
    for row in records(results.points):
        if row["kind"] == "airspeed calibration" and not row["used"]:
            found[str(row["point"])] = str(row["reason"])
    for row in records(results.table("calibration_patterns")):
        if not row["used"]:
            found[str(row["point"])] = str(row["reason"])
    for row in records(results.table("calibration_legs")):
        if not row["used"] and row["point"] not in found:
            found[f"{row['point']}, {str(row['leg']).replace('_', ' ')}"] = str(row["reason"])
    return Table(list(found.items()), columns=["What", "Why not"])


def steps(results: Results, point: str) -> Table:
    """One pattern from ground speeds to airspeed, beside what averaging ground speeds gives.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    point : str
        Point id; empty for none.

    Returns
    -------
    Table
        Without rows where there is no such pattern with a wind.

    Examples
    --------
    >>> from tests.made_results import made
    >>> steps(made(), "")
    Step  Value
    (none)
    """
    scale, table = scale_of(results.meta, "kt"), results.table("calibration_patterns")
    own = table[(table["point"] == point) & table["used"].astype(bool)] if len(table) else table
    rows: list[tuple[str, str]] = []
    for row in records(own):
        mean, true, wind = (float(row[f"{name} [kt]"])
                            for name in ("mean_ground_speed", "true_airspeed", "wind_speed"))
        if not math.isfinite(wind):
            continue
        rows = [
            ("Mean of the ground speeds, which is no airspeed", f"{scale.text(mean)} {scale.unit}"),
            ("Wind found", f"{scale.text(wind)} {scale.unit} from "
             f"{_angle(float(row['wind_from [deg]']))}"),
            ("True airspeed: mean distance of the tips from the wind's",
             f"{scale.text(true)} {scale.unit}"),
            ("Averaging ground speeds would be off by",
             f"{number(scale.change(mean - true), 1, plus=True)} {scale.unit}"),
            ("For evenly spread headings, wind squared over four times airspeed",
             f"{number(scale.change(wind**2 / (4 * true)), 1, plus=True)} {scale.unit}"),
        ]  # fmt: skip
    return Table(rows, columns=["Step", "Value"])


def handbook(results: Results) -> Table:
    """Indicated to calibrated airspeed, with the band that holds the whole curve with 95 %.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table
        A row every 5 kt; rows outside of the flown range are named as such.

    Examples
    --------
    >>> from tests.made_results import made
    >>> handbook(made())
    Indicated
    (none)
    """
    scale, table = scale_of(results.meta, "kt"), results.table("calibration_curve")
    keys = curves_of(results)
    rows: dict[float, dict[str, str]] = {}
    for key in keys:
        title = _curve_title(key, keys)
        own = table[(table[["installation", "flaps", "configuration"]] == list(key)).all(axis=1)]
        for row in records(own[own["handbook"].astype(bool)]):
            indicated = float(row["indicated_airspeed [kt]"])
            cells = rows.setdefault(indicated, {})
            outside = "" if row["flown"] else " (not flown)"
            text = scale.text(float(row["calibrated_airspeed [kt]"]))
            band = number(scale.change(float(row["band [kt]"])), 1)
            cells[f"Calibrated{title} [{scale.unit}]"] = f"{text} ± {band}{outside}"
    heads = list(dict.fromkeys(head for cells in rows.values() for head in cells))
    made = [
        {f"Indicated [{scale.unit}]": scale.text(indicated, 0)}
        | {head: cells.get(head, NONE) for head in heads}
        for indicated, cells in sorted(rows.items())
    ]
    return Table(made) if made else Table(columns=["Indicated"])


def _curve_title(key: tuple[str, str, str], keys: list[tuple[str, str, str]]) -> str:
    """Name of a curve, as far as it tells it from the others."""
    installation, flaps, configuration = key
    parts = []
    if len({one[0] for one in keys}) > 1:
        parts.append(f" {installation}")
    if len({one[2] for one in keys}) > 1:
        parts.append(f" {configuration}")
    if len({one[1] for one in keys}) > 1:
        parts.append(f" flaps {flaps or 'up'}")
    return ",".join(parts)
