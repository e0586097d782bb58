"""Tables of the validation notebook: published figures beside the library's, section by section."""

from __future__ import annotations

import html
from collections.abc import Iterable, Mapping, Sequence
from functools import cache

import numpy as np

from stdday import legs, validation_air, validation_flight, validation_power, validation_statistics
from stdday.layout import Table, as_html
from stdday.notebook import Passage
from stdday.validation_items import KT, Case, Figure, Item, figures, published

__all__ = [
    "Comparison",
    "Printed",
    "averaging",
    "compared",
    "counts",
    "differing",
    "not_redone",
    "printed_table",
    "sources",
    "standings",
    "why",
]

#: Examples of each section.
SECTIONS: dict[str, dict[str, Case]] = {
    "atmosphere": validation_air.ATMOSPHERE,
    "airspeed": validation_air.AIRSPEED,
    "airspeed from GPS": validation_air.GPS,
    "position error": validation_air.POSITION,
    "take-off": validation_flight.TAKEOFF,
    "climb": validation_flight.CLIMB,
    "level flight": validation_power.LEVEL,
    "range": validation_power.RANGE,
    "propeller": validation_power.PROPELLER,
    "landing": validation_flight.LANDING,
    "statistics": validation_statistics.STATISTICS,
}
_WHY = {
    one: sentence
    for module in (validation_air, validation_flight, validation_power, validation_statistics)
    for ids, sentence in module.WHY.items()
    for one in ids.split(" ")
}
#: Examples that no function of the library is for, and why.
NOT_REDONE = {
    "PRP-UIUC-02": "measured coefficients alone, nothing to compute from them",
    "TXB-PRP-01": "a ship's propeller in water; the definitions are checked by the others",
    "TXB-CLB-05": "power over speed; no function of the library",
    "TXB-CLB-06": "one angle less another; no function of the library",
    "TXB-CLB-07": "height from a percentage; no function of the library",
}
#: What each standing means.
_STANDINGS = {
    "printed figure": "a printed figure, seen in a copy of the page or in a text that quotes it",
    "in a companion": "printed by the companion text of a book, not read on the book's page",
    "read from a graph": "read by the source from a plotted curve",
    "from memory": "a source that is known, of which the page was not seen for this work",
    "formula only": "a published formula; the number was computed for the check, by other means",
}
#: Endings of published names, and the unit they mean; longer endings first.
_UNITS = {
    "_slug_ft3": "slug/ft³", "_slugft3": "slug/ft³", "_kg_m3": "kg/m³", "_ft_s2": "ft/s²",
    "_ftps2": "ft/s²", "_m_s2": "m/s²", "_ft2": "ft²", "_m2": "m²", "_ftlb_s": "ft lbf/s",
    "_ft3_s": "ft³/s", "_lb_ft2": "lb/ft²", "_ft_s": "ft/s", "_ftps": "ft/s", "_fps": "ft/s",
    "_m_min": "m/min", "_m_s": "m/s", "_km_h": "km/h", "_mph": "mph", "_kt": "kt", "_fpm": "ft/min",
    "_ft": "ft", "_hp": "hp", "_lbf": "lbf", "_lb": "lb", "_psf": "lbf/ft²", "_Pa": "Pa",
    "_hPa": "hPa", "_inHg": "inHg", "_deg": "deg", "_in": "in", "_K": "K", "_C": "°C", "_F": "°F",
    "_R": "°R", "_kg": "kg", "_N": "N", "_min": "min", "_mm": "mm", "_nm": "nm", "_m": "m",
    "_s": "s", "_h": "h", "_percent": "%", "_lb/gal": "lb/gal",
    "_gal/h": "gal/h", "_lb/h": "lb/h", "_rpm": "rpm", "_MW": "MW", "_kN": "kN",
}  # fmt: skip
#: Names that the endings would tell wrongly.
_NAMES = {
    "D_carson_over_D_min": "D carson over D min", "sfc_lb_per_hp_h": "sfc [lb/hp/h]",
    "wing_loading_lb_ft2": "wing loading [lb/ft²]", "hp_in_W": "1 hp in [W]",
    "kt_in_m_s": "1 kt in [m/s]", "kt_to_ftps": "1 kt in [ft/s]", "tas_to_ftps": "1 kt in [ft/s]",
    "range_nm": "range [NM]", "constant_nm": "constant [NM]", "nm_per_gal": "NM/gal",
    "intercept_hp_kt": "intercept [hp kt]", "slope_hp_per_kt3": "slope [hp/kt³]",
    "constant_ft_per_kt": "constant [ft/kt]", "dH_dV_ft_per_kt": "dH/dV [ft/kt]",
    "dHp_dt_fpm": "dH/dt of pressure altitude [ft/min]", "n_per_group": "n in each group",
    "temperature_more_k": "temperature more [K]", "roc_std_fpm_from_800": "rate from 800 [ft/min]",
    "speed_0p7vtd_fps": "speed at 0.7 of touchdown [ft/s]", "R_J_kgK": "R [J/kg/K]",
    "dTAS_dh_kt_per_1000ft": "dTAS/dh [kt/1000 ft]", "dV_dt_kt_per_s": "dV/dt [kt/s]",
    "headwind_increase_kt_per_1000ft": "headwind increase [kt/1000 ft]",
}  # fmt: skip
_HEADS = "Figure", "Published", "Ours", "Difference", "Agrees"
_RANK = {"yes": 0, "in tolerance": 1, "no": 2}


@cache
def _redone(section: str) -> tuple[tuple[Item, tuple[Figure, ...]], ...]:
    """Every example of a section with its figures."""
    return tuple(
        (published()[name], tuple(figures(published()[name], case)))
        for name, case in SECTIONS[section].items()
    )


def _chosen(section: str, begins: Sequence[str]) -> list[tuple[Item, tuple[Figure, ...]]]:
    return [
        (item, found) for item, found in _redone(section)
        if not begins or item.id.startswith(tuple(begins))
    ]  # fmt: skip


def _plain(name: str) -> str:
    """Name of a figure or input with its unit in brackets."""
    if name in _NAMES:
        return _NAMES[name]
    words = name.replace("_per_", "/").replace("_over_", " over ")
    head, _, number = words.partition(" ") if words[-1].isdigit() else (words, "", "")
    for ending, unit in _UNITS.items():
        if head.endswith(ending):
            head = f"{head.removesuffix(ending).replace('_', ' ')} [{unit}]"
            break
    return " ".join(filter(None, (head.replace("_", " "), number)))


def _given(item: Item) -> str:
    """Inputs in words; long lists by their length."""
    parts = []
    for name, value in item.inputs.items():
        if isinstance(value, list):
            few = len(value) <= 5
            value = ", ".join(map(str, value)) if few else f"{len(value)} values"
        parts.append(f"{_plain(name)} {value}")
    return "; ".join(parts)


def _worst(found: Iterable[Figure]) -> str:
    return max((figure.agrees for figure in found), key=_RANK.__getitem__)


class Printed(Table):
    """A table of numbers, whose page needs no style of its own: the notebook stays small.

    Examples
    --------
    >>> "style" in Printed({"A": ["1"]})._repr_html_()
    False
    """

    def _repr_html_(self) -> str:
        return as_html(self, styled=False)


class Comparison:
    """Examples one under another: what is given, where it is from, then figure by figure.

    Parameters
    ----------
    redone : sequence of (Item, tuple of Figure)
        Examples with their figures.

    Examples
    --------
    >>> compared("range", "PWR-SR")
    PWR-SR-01  NM/gal  15.294118  15.2941176  -3.5e-07  yes
    """

    def __init__(self, redone: Sequence[tuple[Item, tuple[Figure, ...]]]) -> None:
        first = {item.source: item.id for item, _ in reversed(redone)}
        self.heads = [
            (f"{item.id}: {item.quantity}", _about(item, first[item.source])) for item, _ in redone
        ]
        self.rows = [
            [(_plain(figure.name), *figure.shown, figure.agrees) for figure in found]
            for _, found in redone
        ]

    def __repr__(self) -> str:
        """Figures alone, which the comparison of notebooks holds; the page tells the rest."""
        whole = [
            (head.partition(":")[0], *row)
            for head, rows in zip([head for head, _ in self.heads], self.rows, strict=True)
            for row in rows
        ]
        widths = [max(map(len, column)) for column in zip(*whole, strict=True)]
        return "\n".join("  ".join(map(str.ljust, row, widths)).rstrip() for row in whole)

    def _repr_html_(self) -> str:
        """Table without the end tags that HTML lets one leave out: the notebook stays small."""
        lines = ["<table><tr>", *(f"<th>{name}" for name in _HEADS)]
        for (head, about), rows in zip(self.heads, self.rows, strict=True):
            lines.append(
                '<tr><td style="text-align:left" colspan=5>'
                f"<b>{html.escape(head)}</b><br>{html.escape(about)}"
            )
            for row in rows:
                lines += ["<tr>", *(f"<td>{html.escape(cell)}" for cell in row)]
        return "".join([*lines, "</table>"])


def _about(item: Item, first: str) -> str:
    """What is given, and the source, told once in a table."""
    given = f"Given {_given(item)}. " if item.inputs else ""
    source = item.source if item.id == first else f"as {first}"
    return f"{given}Source: {source} ({item.standing})."


def compared(section: str, *begins: str) -> Comparison:
    """Figure by figure, published and ours.

    Parameters
    ----------
    section : str
        One of `SECTIONS`.
    *begins : str
        Beginnings of the ids to show; all unless given.

    Returns
    -------
    Comparison
        Each figure with ``yes`` to the printed digits; ``in tolerance``, where only what the tests
        allow for the source's own roundings and readings covers it; or ``no``.

    Examples
    --------
    >>> compared("range", "PWR-SR").rows
    [[('NM/gal', '15.294118', '15.2941176', '-3.5e-07', 'yes')]]
    """
    return Comparison(_chosen(section, begins))


def printed_table(section: str, *begins: str) -> Table:
    """Set a printed table beside the computed one, an example a row.

    Parameters
    ----------
    section : str
        One of `SECTIONS`.
    *begins : str
        Beginnings of the ids to show, which have the same inputs and figures.

    Returns
    -------
    Table
        Each figure as printed, then ours with one digit more.

    Examples
    --------
    >>> printed_table("atmosphere", "isa_inhg_1")
    Item            pressure altitude [ft]  pressure [inHg]  pressure [inHg], ours  Agrees
    isa_inhg_1000                     1000           28.856                28.8557  yes
    isa_inhg_10000                   10000           20.577                20.5770  yes
    isa_inhg_12000                   12000           19.029                19.0294  yes
    """
    rows = []
    for item, found in _chosen(section, begins):
        row = {"Item": item.id, **{_plain(name): str(one) for name, one in item.inputs.items()}}
        for figure in found:
            told, ours, _ = figure.shown
            row |= {_plain(figure.name): told, f"{_plain(figure.name)}, ours": ours}
        rows.append({**row, "Agrees": _worst(found)})
    return Printed(rows)


def why(section: str) -> Passage:
    """Say of each example that does not agree to the printed digits why not.

    Parameters
    ----------
    section : str
        One of `SECTIONS`.

    Returns
    -------
    Passage

    Examples
    --------
    >>> why("range")
    TXB-PWR-09. Read in the book from plotted curves; ours is the closed form.
    """
    told: dict[str, list[str]] = {}
    for item, found in _redone(section):
        if _worst(found) != "yes":
            told.setdefault(_WHY[item.id], []).append(item.id)
    parts = [(", ".join(ids), sentence) for sentence, ids in told.items()]
    return Passage(parts or [("", "Every figure agrees to the printed digits.")])


def sources(section: str, *begins: str) -> Passage:
    """Where the examples of a printed table are from, and their standing.

    Parameters
    ----------
    section : str
        One of `SECTIONS`.
    *begins : str
        Beginnings of the ids.

    Returns
    -------
    Passage

    Examples
    --------
    >>> sources("atmosphere", "isa_inhg")
    Source. Standard-atmosphere altimeter table, inHg per 1000 ft (14 CFR 43 App. E Table IV / US
    Std Atm 1976) (from memory).
    """
    told = {f"{item.source} ({item.standing})." for item, _ in _chosen(section, begins)}
    return Passage(("Source", one) for one in sorted(told))


def averaging() -> Table:
    """What the mean of ground speeds gives on headings spread evenly, up to a whole circle.

    Returns
    -------
    Table
        For the airplane and wind of the published example of four headings.

    Examples
    --------
    >>> averaging()[["Headings", "Mean of ground speeds [kt]", "Solved [kt]"]][:2]
    Headings  Mean of ground speeds [kt]  Solved [kt]
           3                      101.00       100.00
           4                      100.99       100.00
    """
    given, rows = published()["horton_four_headings"].inputs, []
    for headings in (3, 4, 8, 36):
        east, north = validation_air.flown_over_ground(given, headings)
        true, _, _ = legs.solve_legs(east * KT, north * KT)
        speeds = np.hypot(east, north)
        rows.append({
            "Headings": str(headings) if headings < 36 else "36 (a circle)",
            "True airspeed [kt]": str(given["true_kt"]), "Wind [kt]": str(given["wind_kt"]),
            "Mean of ground speeds [kt]": f"{speeds.mean():.2f}",
            "Solved [kt]": f"{float(true) / KT:.2f}",
        })  # fmt: skip
    return Table(rows)


def standings() -> Table:
    """What the words for the standing of an example mean, and how many have each.

    Returns
    -------
    Table

    Examples
    --------
    >>> list(standings()["Standing"])[0]
    'printed figure'
    """
    have = [item.standing for section in SECTIONS for item, _ in _redone(section)]
    return Table([
        {"Standing": name, "Meaning": meaning, "Examples": str(have.count(name))}
        for name, meaning in _STANDINGS.items()
    ])  # fmt: skip


def counts() -> Table:
    """How many examples agree, section by section, and in all.

    Returns
    -------
    Table
        An example counts by its worst figure.

    Examples
    --------
    >>> counts()[["Section", "Examples"]][7:8]
    Section  Examples
    Range           4
    """
    rows = [_count(name, _redone(name)) for name in SECTIONS]
    every = [one for name in SECTIONS for one in _redone(name)]
    return Table([*rows, _count("all", every)])


def _count(name: str, redone: Iterable[tuple[Item, tuple[Figure, ...]]]) -> Mapping[str, str]:
    redone = list(redone)
    worst = [_worst(found) for _, found in redone]
    return {
        "Section": _capital(name),
        "Figures": str(sum(len(found) for _, found in redone)),
        "Examples": str(len(worst)), "To the printed digits": str(worst.count("yes")),
        "In tolerance": str(worst.count("in tolerance")), "Not": str(worst.count("no")),
    }  # fmt: skip


def differing() -> Passage:
    """Every example that does not agree to the printed digits, by its worst figure.

    Returns
    -------
    Passage
        Section by section, those beyond the tolerance first.

    Examples
    --------
    >>> differing().parts[7]
    ('Range', 'In tolerance: TXB-PWR-09, speed min d over v [mph] 322.6 for 320.')
    """
    return Passage((_capital(section), _told_apart(section)) for section in SECTIONS)


def _told_apart(section: str) -> str:
    """Sentences that name what differs in one section."""
    told: dict[str, list[str]] = {"no": [], "in tolerance": []}
    for item, found in _redone(section):
        figure = max(found, key=lambda one: (_RANK[one.agrees], _share(one)))
        printed, ours, _ = figure.shown
        if figure.agrees != "yes":
            told[figure.agrees].append(f"{item.id}, {_plain(figure.name)} {ours} for {printed}")
    heads = {"no": "Beyond it", "in tolerance": "In tolerance"}
    said = [f"{heads[name]}: {'; '.join(ones)}." for name, ones in told.items() if ones]
    return " ".join(said) or "All agree."


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


def _share(figure: Figure) -> float:
    """Difference as a share of the figure [-]; missing counts as the greatest."""
    share = abs(figure.ours - figure.published) / max(abs(figure.published), 1e-300)
    return share if np.isfinite(share) else float("inf")


def not_redone() -> Table:
    """Examples of the tests that have no place here.

    Returns
    -------
    Table

    Examples
    --------
    >>> len(not_redone())
    5
    """
    return Table([
        {"Item": name, "Quantity": published()[name].quantity, "Why not": reason}
        for name, reason in NOT_REDONE.items()
    ])  # fmt: skip
