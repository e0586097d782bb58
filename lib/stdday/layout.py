"""How a table of finished text is laid out: plain text for terminals, HTML for pages."""

from __future__ import annotations

import html
import re
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

__all__ = ["Table", "as_html", "as_text", "records", "without_empty"]

#: Characters to a line of a printed table.
WIDTH = 120
#: No column of text is made narrower than this by wrapping [characters].
NARROWEST = 14
#: A column of a page whose cells are no longer than this is not broken into lines [characters].
UNBROKEN = 34

# A cell that lines up on the right: a number, an interval, a count of two, or the dash for none.
_NUMERIC = re.compile(r"[+-]?\d[\d.]*(?: (?:to|and) [+-]?\d[\d.]*)?|–|")


class Table(pd.DataFrame):
    """A data frame of finished text that prints itself whole: no index, nothing cut off.

    A selection of its rows or columns prints the same way.

    Examples
    --------
    >>> Table({"What": ["Ground roll", "Climb"], "A": ["212", "–"]})
    What           A
    Ground roll  212
    Climb          –
    """

    @property
    def _constructor(self) -> type[Table]:
        return Table

    def __repr__(self) -> str:
        return as_text(self, WIDTH)

    def _repr_html_(self) -> str:
        return as_html(self)


def _numeric(cells: Sequence[str]) -> bool:
    return any(cells) and all(_NUMERIC.fullmatch(cell) for cell in cells)


def _columns(
    table: pd.DataFrame | Mapping[str, Sequence[str]]
) -> list[tuple[str, list[str], bool]]:
    """Header, cells and whether it lines up on the right, of each column."""
    found = []
    for place, name in enumerate(table.keys()):
        column = table.iloc[:, place] if isinstance(table, pd.DataFrame) else table[name]
        cells = [str(cell) for cell in column]
        found.append((str(name), cells, _numeric(cells)))
    return found


def as_text(table: pd.DataFrame, width: int = WIDTH) -> str:
    """Lay a table out as plain text.

    Parameters
    ----------
    table : DataFrame
        Cells of text.
    width : int
        Characters to a line [-], where wrapping of text columns can keep it.

    Returns
    -------
    str
        ``(none)`` under the header where the table has no rows.

    Examples
    --------
    >>> print(as_text(pd.DataFrame({"Why": ["a long reason to wrap", ""], "N": ["1", "20"]}), 20))
    Why                N
    a long reason to   1
    wrap
                      20
    """
    columns = _columns(table)
    if not len(table):
        return f"{'  '.join(name for name, _, _ in columns)}\n(none)".strip()
    widths = _fitted(columns, width)
    lines = [_line([name for name, _, _ in columns], columns, widths)]
    for place in range(len(table)):
        lines.append(_line([cells[place] for _, cells, _ in columns], columns, widths))
    return "\n".join(lines)


def _fitted(columns: list[tuple[str, list[str], bool]], width: int) -> list[int]:
    """Widths of the columns: natural, but text wraps where the line would be too long."""
    widths = [max(map(len, [name, *cells])) for name, cells, _ in columns]
    least = [
        max(len(name), *map(len, cells)) if numeric else max(NARROWEST, *map(len, name.split()))
        for name, cells, numeric in columns
    ]
    while sum(widths) + 2 * (len(widths) - 1) > width:
        spare = [have - need for have, need in zip(widths, least, strict=True)]
        widest = max(range(len(widths)), key=lambda i: (spare[i] > 0, widths[i]))
        if spare[widest] <= 0:
            break
        widths[widest] -= 1
    return widths


def _line(cells: list[str], columns: list[tuple[str, list[str], bool]], widths: list[int]) -> str:
    wrapped = [textwrap.wrap(cell, at) or [""] for cell, at in zip(cells, widths, strict=True)]
    lines = []
    for place in range(max(map(len, wrapped))):
        parts = []
        for (_, _, numeric), own, width in zip(columns, wrapped, widths, strict=True):
            part = own[place] if place < len(own) else ""
            parts.append(part.rjust(width) if numeric else part.ljust(width))
        lines.append("  ".join(parts).rstrip())
    return "\n".join(lines)


def as_html(
    table: pd.DataFrame | Mapping[str, Sequence[str]], caption: str = "", styled: bool = True
) -> str:
    """Lay a table out as HTML, every text escaped.

    Parameters
    ----------
    table : DataFrame or mapping of str to sequence of str
        Cells of text, by column.
    caption : str
        Caption; none where empty.
    styled : bool
        Whether cells carry their own style, as a notebook needs; else the classes ``r`` (numbers,
        on the right) and ``s`` (short text), for a page that has rules for them.

    Returns
    -------
    str

    Examples
    --------
    >>> print(as_html(pd.DataFrame({"A": ["<b>"]}), styled=False))
    <table>
    <thead><tr><th scope="col">A</th></tr></thead>
    <tbody>
    <tr><td class="s">&lt;b&gt;</td></tr>
    </tbody>
    </table>
    """
    columns = _columns(table)
    looks = [_look(cells, numeric, styled) for _, cells, numeric in columns]
    heads = "".join(
        f'<th scope="col"{_look(name.split(), numeric, styled, head=True)}>{_escaped(name)}</th>'
        for name, _, numeric in columns
    )
    rows = []
    for place in range(max((len(own) for _, own, _ in columns), default=0)):
        cells = "".join(
            f"<td{look}>{_escaped(own[place])}</td>"
            for (_, own, _), look in zip(columns, looks, strict=True)
        )
        rows.append(f"<tr>{cells}</tr>\n")
    if not rows:
        rows = [f'<tr><td colspan="{max(1, len(columns))}">none</td></tr>\n']
    title = f"<caption>{_escaped(caption)}</caption>\n" if caption else ""
    head, body = f"<thead><tr>{heads}</tr></thead>", f"<tbody>\n{''.join(rows)}</tbody>"
    return f"<table>\n{title}{head}\n{body}\n</table>"


def _escaped(text: str) -> str:
    """Escape text for HTML, and keep a notebook from reading dollar signs as a formula."""
    return html.escape(text).replace("$", "<span>$</span>")


def _look(cells: Sequence[str], numeric: bool, styled: bool, head: bool = False) -> str:
    """Attribute of a column's cells: numbers on the right; what is short is not broken."""
    short = not head and all(len(cell) <= UNBROKEN for cell in cells)
    if not styled:
        return ' class="r"' if numeric else ' class="s"' if short else ""
    side = "right" if numeric else "left"
    return f' style="text-align:{side}{";white-space:nowrap" if short else ""}"'


def records(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows of a table as dictionaries with text keys.

    Parameters
    ----------
    table : DataFrame
        Any table.

    Returns
    -------
    list of dict

    Examples
    --------
    >>> records(pd.DataFrame({"a": [1, 2]}))
    [{'a': 1}, {'a': 2}]
    """
    return [{str(key): value for key, value in row.items()} for row in table.to_dict("records")]


def without_empty(table: pd.DataFrame, columns: Sequence[str]) -> Table:
    """Leave out the named columns of a table of text where they hold nothing.

    Parameters
    ----------
    table : DataFrame
        Cells of text.
    columns : sequence of str
        Columns that may go.

    Returns
    -------
    Table

    Examples
    --------
    >>> without_empty(pd.DataFrame({"A": ["1"], "Note": [""]}), ["Note"])
    A
    1
    """
    empty = [name for name in columns if name in table and not table[name].astype(bool).any()]
    return Table(table.drop(columns=empty))
