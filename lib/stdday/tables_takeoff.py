"""Tables of take-offs for reading: timing, headwind, cross-check, pilots, exponents, margins."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from stdday import extract, words
from stdday.display import NONE, number, scale_of
from stdday.layout import Table, records, without_empty
from stdday.margins import CAUTION, SAFETY_FACTOR
from stdday.metrics import METRICS
from stdday.results import Results

__all__ = [
    "cross_check",
    "cross_check_words",
    "exponents",
    "friction",
    "headwinds",
    "margin_words",
    "margins",
    "pilots",
    "timing",
]

_RATIOS = ("weight", "density", "engine speed", "power", "wind", "liftoff airspeed")


def _span(values: Iterable[float], decimals: int) -> str:
    known = sorted(float(value) for value in values if np.isfinite(value))
    if not known:
        return NONE
    low, high = number(known[0], decimals), number(known[-1], decimals)
    return low if low == high else f"{low} to {high}"


def timing(results: Results) -> Table:
    """How well brake release, lift-off and 50 ft are known, flight by flight.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table
        One sigma of each moment, and of how many take-offs the roll carries a curve.

    Examples
    --------
    >>> from tests.made_takeoffs import made_takeoffs
    >>> timing(made_takeoffs())[["Flight", "Lift-off [s]", "Acceleration curve"]].iloc[3:]
    Flight  Lift-off [s]  Acceleration curve
    F4              0.20              1 of 1
    F5              0.70              0 of 1
    F6              0.20              1 of 1
    """
    table, rows = results.table("takeoff_timing"), []
    for flight in dict.fromkeys(table["flight"]) if len(table) else ():
        own = table[table["flight"] == flight]
        rows.append({
            "Flight": str(flight),
            "Configuration": str(own["configuration"].iloc[0]),
            "Brake release [s]": _span(own["brake_release_sigma [s]"], 2),
            "Lift-off [s]": _span(own["liftoff_sigma [s]"], 2),
            "50 ft [s]": _span(own["height50_sigma [s]"], 2),
            "Samples of the roll": _span(own["roll_samples"], 0),
            "Acceleration curve": f"{int((own['acceleration'] == '').sum())} of {len(own)}",
        })  # fmt: skip
    return Table(rows, columns=None if rows else ["Flight", "Lift-off [s]"])


def headwinds(results: Results, each: bool = False) -> Table:
    """Where the headwind of the take-offs comes from, step by step.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    each : bool
        Whether take-off by take-off; else means of each flight.

    Returns
    -------
    Table
        Speeds, and after ± their one sigma.

    Examples
    --------
    >>> from tests.made_takeoffs import made_takeoffs
    >>> headwinds(made_takeoffs(), each=True).iloc[-1].to_list()[-5:]
    ['11.0 ± 1.0', '2.0 ± 2.5', '9.8 ± 0.9', '3.3', 'CAUTION: disagree']
    >>> headwinds(made_takeoffs()).iloc[-1].to_list()[:3]
    ['F6', '1', '+12.0']
    """
    table = results.table("takeoff_wind")
    if not len(table):
        return Table(columns=["Flight", "Take-offs", "Combined"])
    if each:
        rows = [{"Take-off": row["point"]} | _wind(row, results) for row in records(table)]
        return without_empty(Table(rows), ("Flag",))
    rows = []
    for flight, own in table.groupby("flight", sort=False):
        row = own.mean(numeric_only=True).to_dict() | {"flag": "".join(own["flag"])}
        rows.append({"Flight": str(flight), "Take-offs": str(len(own))} | _wind(row, results))
    return without_empty(Table(rows), ("Flag",))


def _wind(row: Mapping[Any, Any], results: Results) -> dict[str, str]:
    """Origin of one headwind, or of a flight's, in words."""
    scale = scale_of(results.meta, "kt")
    steps = {
        title: number(scale.change(float(row[f"{name} [kt]"])), scale.decimals, plus=True)
        for title, name in (("Air minus ground", "air_minus_ground"),
                            ("Static jump", "by_static_jump"), ("Delay", "by_delay"),
                            ("Gradient", "by_gradient"))
    }  # fmt: skip
    three = {
        title: f"{scale.text(float(row[f'{name} [kt]']))} ± "
        f"{number(scale.change(float(row[f'{name}_sigma [kt]'])), scale.decimals)}"
        if np.isfinite(row[f"{name} [kt]"])
        else NONE
        for title, name in (("From the air", "from_the_air"), ("Reported", "reported"),
                            ("Combined", "combined"))
    }  # fmt: skip
    return {f"{title} [{scale.unit}]": text for title, text in (steps | three).items()} | {
        "Apart [sigmas]": number(float(row["apart_sigmas"]), 1),
        "Flag": "CAUTION: disagree" if row["flag"] else "",
    }


def cross_check(results: Results, each: bool = False) -> Table:
    """Ground roll by handbook exponents against that by the acceleration model.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    each : bool
        Whether take-off by take-off; else by configuration.

    Returns
    -------
    Table
        Differences are handbook over model.

    Examples
    --------
    >>> from tests.made_takeoffs import made_takeoffs
    >>> cross_check(made_takeoffs()).iloc[:, :4]
    Configuration  Compared  Mean difference [%]  From least to greatest [%]
    A                     3                 +3.0                 +1.0 to +6.0
    B                     2                 -0.5                  -1.0 to 0.0
    """
    table = results.table("takeoff_cross_check")
    if not len(table):
        return Table(columns=["Configuration", "Compared", "Mean difference [%]"])
    if each:
        return _check_by_point(results, table)
    rows = []
    for name, own in table.groupby("configuration", sort=False):
        off = own["difference [%]"].dropna()
        ends = [number(float(end), 1, plus=True) for end in (off.min(), off.max())]
        rows.append({
            "Configuration": str(name),
            "Compared": str(len(off)),
            "Mean difference [%]": number(float(off.mean()), 1, plus=True),
            "From least to greatest [%]": " to ".join(ends) if len(off) else NONE,
            "More than 5 % apart": str(int((own["flag"] == "disagree").sum())),
            "Without the model": str(len(own) - len(off)),
        })  # fmt: skip
    return Table(rows)


def _check_by_point(results: Results, table: pd.DataFrame) -> Table:
    scale = scale_of(results.meta, "m")
    rows = [
        {
            "Take-off": row["point"],
            "Configuration": row["configuration"],
            f"Model [{scale.unit}]": scale.text(float(row["by_model [m]"])),
            f"Handbook exponents [{scale.unit}]": scale.text(float(row["by_handbook [m]"])),
            "Difference [%]": number(float(row["difference [%]"]), 1, plus=True),
            "Flag": "CAUTION: more than 5 % apart" if row["flag"] else row["reason"],
        }
        for row in records(table)
    ]
    return without_empty(Table(rows), ("Flag",))


def cross_check_words(results: Results) -> str:
    """Say what the cross-check by handbook exponents shows.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_takeoffs import made_takeoffs
    >>> print(cross_check_words(made_takeoffs()))
    Handbook exponents and the acceleration model are within 5 % in 4 of 5 take-offs; the
    exponents give A +3.0 %, B -0.5 % on average. 1 take-off has no curve and rests on exponents
    alone.
    """
    table = results.table("takeoff_cross_check")
    if not len(table):
        return "No take-off was corrected both ways."
    off = table["difference [%]"]
    compared, agree = int(off.notna().sum()), int((off.notna() & (table["flag"] == "")).sum())
    parts = [f"No take-off carries a curve: {words.count(len(table), 'take-off')} by exponents."]
    if compared:
        means = off.groupby(table["configuration"], sort=False).mean().dropna()
        told = ", ".join(f"{name} {number(float(mean), 1, plus=True)} %"
                         for name, mean in means.items())  # fmt: skip
        parts = [
            "Handbook exponents and the acceleration model are within 5 % in "
            f"{agree} of {words.count(compared, 'take-off')}; the exponents give {told} on average."
        ]
        if compared < len(table):
            left = len(table) - compared
            verb = "has no curve and rests" if left == 1 else "have no curve and rest"
            parts.append(f"{words.count(left, 'take-off')} {verb} on exponents alone.")
    return " ".join(parts)


def pilots(results: Results) -> Table:
    """Lift-off airspeed by pilot and configuration; pilots by number.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table

    Examples
    --------
    >>> from tests.made_takeoffs import made_takeoffs
    >>> pilots(made_takeoffs())
    Pilot    Configuration  Take-offs  Mean [kt]  Scatter, one sigma [kt]
    pilot 1  A                      2       48.0                      1.0
    pilot 1  B                      3       49.0                      2.0
    pilot 2  A                      1       52.0                        –
    """
    scale = scale_of(results.meta, "kt")
    rows = [
        {
            "Pilot": row["pilot"],
            "Configuration": row["configuration"],
            "Take-offs": str(row["take_offs"]),
            f"Mean [{scale.unit}]": scale.text(float(row["mean [kt]"])),
            f"Scatter, one sigma [{scale.unit}]": number(
                scale.change(float(row["sd [kt]"])), scale.decimals
            ),
        }
        for row in records(results.table("liftoff_by_pilot"))
    ]
    return Table(rows, columns=None if rows else ["Pilot", "Configuration", "Take-offs"])


def exponents(results: Results) -> Table:
    """Sets of exponents, one a row, with their standing and what they are used for.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table

    Examples
    --------
    >>> from tests.made_takeoffs import made_takeoffs
    >>> exponents(made_takeoffs())
    Of           Set          Weight  Engine speed  Used for  Standing
    ground roll  fixed pitch    2.40         -2.40  A         made up
    """
    sets: dict[tuple[str, str], dict[str, Any]] = {}
    for row in records(results.table("takeoff_exponents")):
        name = str(row["ratio"]).replace("_", " ")
        own = sets.setdefault((row["part"], row["set"]), {"row": row})
        own[name] = number(float(row["exponent"]), 2)
    shown = [name for name in _RATIOS if any(name in own for own in sets.values())]
    rows = [
        {"Of": part, "Set": name}
        | {words.capital(ratio).replace("Lift", "Lift-").replace("--", "-"): own.get(ratio, NONE)
           for ratio in shown}
        | {"Used for": own["row"]["used_for"] or NONE, "Standing": own["row"]["standing"]}
        for (part, name), own in sets.items()
    ]  # fmt: skip
    return Table(rows, columns=None if rows else ["Of", "Set", "Standing"])


def friction(results: Results, every: bool = False) -> Table:
    """Rolling friction of the surfaces flown.

    Parameters
    ----------
    results : Results
        Results of a campaign.
    every : bool
        Whether the surfaces that the library knows follow.

    Returns
    -------
    Table

    Examples
    --------
    >>> from tests.made_takeoffs import made_takeoffs
    >>> friction(made_takeoffs())
    Surface            Rolling friction  One sigma  Standing
    flown: paved, dry              0.03       0.01  made up
    """
    rows = [
        (row["surface"], number(row["coefficient"], 2), number(row["sigma"], 2), row["standing"])
        for row in records(results.table("takeoff_friction"))
        if every or str(row["surface"]).startswith("flown")
    ]
    return Table(rows, columns=["Surface", "Rolling friction", "One sigma", "Standing"])


# ---- margins -------------------------------------------------------------------------------------


def margins(results: Results) -> Table:
    """Runway required against runway available. Never show it without `margin_words`.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    Table
        Where refused, the reason stands beside it.

    Examples
    --------
    >>> from tests.made_takeoffs import made_takeoffs
    >>> margins(made_takeoffs()).iloc[0].to_list()[3:]
    ['Take-off distance to 50 ft', '400', '380 to 420', '559', '405', '600', '180', '']
    """
    table, scale = results.table("takeoff_margins"), scale_of(results.meta, "m")
    rows = [_margin(row, results, scale.text, f" [{scale.unit}]") for row in records(table)]
    kinds = dict.fromkeys(row["For"] for row in rows)
    if not rows:
        return Table(columns=["Day", "Required", "Available"])
    found = without_empty(Table(rows), ("Beside it",))
    if len(kinds) > 1:
        return found
    required = f"Required [{scale.unit}]"
    return Table(found.drop(columns="For").rename(
        columns={required: f"{next(iter(kinds))}, required [{scale.unit}]"}
    ))  # fmt: skip


def _margin(
    row: Mapping[str, Any], results: Results, text: Any, unit: str
) -> dict[str, str]:
    several = len(extract.configurations(results)) > 1
    ends = f"{text(float(row['low [m]']))} to {text(float(row['high [m]']))}"
    return {
        **({"Configuration": row["configuration"]} if several else {}),
        "Day": row["day"],
        "Runway": row["runway"],
        "For": METRICS[row["metric"]].title,
        f"Required{unit}": text(float(row["required [m]"])),
        f"95 % interval{unit}": ends if np.isfinite(row["low [m]"]) else NONE,
        f"Upper end x {SAFETY_FACTOR}{unit}": text(float(row["high_with_safety_factor [m]"])),
        f"By public factors{unit}": text(float(row["by_public_factors [m]"])),
        f"Available{unit}": text(float(row["available [m]"])),
        f"Left over upper end{unit}": text(float(row["left_over_high [m]"])),
        "Beside it": row["reason"] or row["words"],
    }


def margin_words(results: Results) -> str:
    """Caution and conditions of the margins, or why there are none.

    Parameters
    ----------
    results : Results
        Results of a campaign.

    Returns
    -------
    str

    Examples
    --------
    >>> from tests.made_takeoffs import made_takeoffs
    >>> margin_words(made_takeoffs())[:48]
    'Not approved data: measured with this airplane b'
    >>> from tests.made_results import made
    >>> margin_words(made())[:49]
    'No margin is stated: it needs a corrected take-of'
    """
    table = results.table("takeoff_margins")
    if not len(table):
        return (
            "No margin is stated: it needs a corrected take-off, and a runway with its length in "
            "campaign.toml (length of a runway, or runway under [decide])."
        )
    scale = scale_of(results.meta, "kg")
    weights = dict.fromkeys(scale.text(float(value)) for value in table["weight [kg]"])
    surfaces = " / ".join(dict.fromkeys(table["surface"]))
    return f"{CAUTION} All at {' or '.join(weights)} {scale.unit}, no wind, surface {surfaces}."
