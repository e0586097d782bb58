"""The lines of a recording: how many cells each has, and why a line is set aside.

A row is a line after the header. It is set aside, with its reason, where its cells cannot be
trusted: the last line without a line end, a line with control characters, one with fewer or more
cells than the others. A half-written last cell can look like a valid number, so the last line is
believed only when its end was written.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stdday.columns import ColumnsFile

__all__ = ["BLANK", "CHUNK", "COMMENT", "CUT", "LONG", "LONGEST_LINE", "REASONS", "SHORT",
           "IndexArray", "Rows", "split_rows", "trailing_blanks", "usual_width"]

#: Longest line that is read [bytes].
LONGEST_LINE = 1_000_000

#: Why a row is set aside, by the code in `Rows.reason`; 0 is a row that is used.
REASONS = (
    "",
    "last line without a line end",
    "blank line",
    "comment line",
    "control characters",
    "longer than 1 MB",
    "quotes not closed",
    "fewer cells than the other rows",
    "more cells than the other rows",
)
CUT, BLANK, COMMENT, _CONTROL, _LONG_LINE, _QUOTES, SHORT, LONG = range(1, 9)

#: A piece that fits the processor's cache: three times as fast as one of 16 MB [bytes].
CHUNK = 1 << 18

IndexArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Rows:
    """Lines of data, in the order of the file.

    Parameters
    ----------
    body : bytes
        The text they stand in.
    starts, ends : ndarray of int, shape (n,)
        Where each line begins, and where its line feed stands [bytes].
    cells : ndarray of int, shape (n,)
        Cells of each line.
    reason : ndarray of int8, shape (n,)
        Why it is set aside, a place in `REASONS`; 0 where it is used.
    quoted : dict of int to list of str
        Cells of the lines that hold quotes.
    """

    body: bytes
    starts: IndexArray
    ends: IndexArray
    cells: IndexArray
    reason: NDArray[np.int8]
    quoted: dict[int, list[str]]

    def line(self, row: int) -> str:
        """Text of a row."""
        return self.body[self.starts[row]:self.ends[row]].decode("utf-8", errors="replace")

    def mark(self, rows: IndexArray | NDArray[np.bool_] | list[int], reason: int) -> None:
        """Set rows aside that have no reason yet."""
        chosen = np.zeros(self.reason.size, dtype=bool)
        chosen[rows] = True
        self.reason[chosen & (self.reason == 0)] = reason

    def set_aside(self) -> dict[str, int]:
        """Count the rows set aside by reason."""
        counts = np.bincount(self.reason, minlength=len(REASONS)).tolist()
        return {REASONS[code]: counts[code] for code in range(1, len(REASONS)) if counts[code]}


def split_rows(body: bytes, columns: ColumnsFile, start: int = 0) -> Rows:
    r"""Find the lines, count their cells and set aside those that cannot be read.

    Parameters
    ----------
    body : bytes
        Text in UTF-8 with line feeds.
    columns : ColumnsFile
        How it is laid out.
    start : int
        Where the lines after the header begin [bytes].

    Returns
    -------
    Rows
        Every line; those with fewer or more cells than the others are still in; never raises.

    Examples
    --------
    >>> from stdday.columns import ColumnsFile, TimeSource
    >>> columns = ColumnsFile("n", "", ";", ",", (1,), None, "#", None, TimeSource(("t",), "%H"),
    ...                       (), ())
    >>> split_rows(b"1;2\n\n# by hand\n3;4", columns).set_aside()
    {'last line without a line end': 1, 'blank line': 1, 'comment line': 1}
    """
    ends = _places(body, b"\n", start)
    cut = len(body) > start and not body.endswith(b"\n")
    if cut:
        ends = np.append(ends, len(body))
    starts = np.concatenate(([start], ends[:-1] + 1)).astype(np.int64)[: ends.size]
    cells = _count_cells(body, starts, ends, columns.delimiter.encode())
    rows = Rows(body, starts, ends, cells, np.zeros(ends.size, dtype=np.int8), {})
    rows.mark(_blank_rows(rows), BLANK)
    if cut:
        rows.mark([ends.size - 1], CUT)
    if columns.comment is not None:
        rows.mark(_comment_rows(rows, columns.comment.encode()), COMMENT)
    for control in (b"\0", b"\r"):
        if body.find(control, start) >= 0:
            rows.mark(np.searchsorted(ends, _places(body, control, start)), _CONTROL)
    rows.mark(ends - starts > LONGEST_LINE, _LONG_LINE)
    if body.find(b'"', start) >= 0:
        _read_quoted(rows, columns.delimiter, start)
    return rows


def _places(body: bytes, mark: bytes, start: int) -> IndexArray:
    """Find every place of one byte from a place on, piece by piece."""
    whole = np.frombuffer(body, dtype=np.uint8)
    found = [np.flatnonzero(whole[first:first + CHUNK] == mark[0]) + first
             for first in range(start, len(body), CHUNK)]
    return np.concatenate([np.empty(0, dtype=np.int64), *found]).astype(np.int64, copy=False)


def _count_cells(
    body: bytes, starts: IndexArray, ends: IndexArray, delimiter: bytes
) -> IndexArray:
    """Count the cells of each line: its delimiters and one."""
    cells = np.ones(starts.size, dtype=np.int64)
    whole = np.frombuffer(body, dtype=np.uint8)
    row = 0
    while row < starts.size:
        last = max(int(np.searchsorted(ends, starts[row] + CHUNK)), row + 1)
        found = np.flatnonzero(whole[starts[row]:ends[last - 1]] == delimiter[0])
        before = np.searchsorted(found, ends[row:last] - starts[row])
        cells[row:last] += np.diff(before, prepend=0)
        row = last
    return cells


def _blank_rows(rows: Rows) -> IndexArray:
    """Find the lines of nothing but blanks."""
    candidates = np.flatnonzero((rows.cells == 1) & (rows.ends - rows.starts <= LONGEST_LINE))
    blank = [row for row in candidates if not rows.body[rows.starts[row]:rows.ends[row]].strip()]
    return np.asarray(blank, dtype=np.int64)


def _comment_rows(rows: Rows, prefix: bytes) -> IndexArray:
    """Find the lines that begin with the comment mark."""
    whole = np.frombuffer(rows.body, dtype=np.uint8)
    filled = np.flatnonzero(rows.ends > rows.starts)
    candidates = filled[whole[rows.starts[filled]] == prefix[0]]
    found = [row for row in candidates if rows.body.startswith(prefix, int(rows.starts[row]))]
    return np.asarray(found, dtype=np.int64)


def _read_quoted(rows: Rows, delimiter: str, start: int) -> None:
    """Read the cells of the lines with quotes, and count them anew."""
    for row in np.unique(np.searchsorted(rows.ends, _places(rows.body, b'"', start))).tolist():
        if rows.reason[row]:
            continue
        try:
            cells = next(csv.reader([rows.line(row)], delimiter=delimiter, strict=True))
        except csv.Error:
            rows.mark([row], _QUOTES)
            continue
        rows.quoted[row] = cells
        rows.cells[row] = len(cells)


def trailing_blanks(rows: Rows, width: int, delimiter: str) -> int:
    r"""Count the cells at the end of a row that are empty in every whole row.

    Parameters
    ----------
    rows : Rows
        Every line.
    width : int
        Cells of a whole row.
    delimiter : str
        Mark between cells.

    Returns
    -------
    int
        Cells that a row may lack without lacking anything; never raises.

    Examples
    --------
    >>> from stdday.columns import ColumnsFile, TimeSource
    >>> columns = ColumnsFile("n", "", ",", ".", (1,), None, None, None, TimeSource(("t",), "%H"),
    ...                       (), ())
    >>> trailing_blanks(split_rows(b"1,2,,\n3,4,,\n5,6\n", columns), 4, ",")
    2
    """
    whole = np.frombuffer(rows.body, dtype=np.uint8)
    ends = rows.ends[(rows.reason == 0) & (rows.cells == width)]
    if not ends.size or rows.quoted:
        return 0
    blanks = 0
    while blanks < width - 1 and bool((whole[ends - 1 - blanks] == ord(delimiter)).all()):
        blanks += 1
    return blanks


def usual_width(rows: Rows, named: int) -> int:
    """Tell how many cells a row has: as most rows; the header's count decides a tie.

    Parameters
    ----------
    rows : Rows
        Every line.
    named : int
        Names in the header.

    Returns
    -------
    int
        Cells of a whole row; never raises.
    """
    widths, counts = np.unique(rows.cells[rows.reason == 0], return_counts=True)
    if not widths.size:
        return named
    most = widths[counts == counts.max()]
    return named if named in most else int(most[-1])
