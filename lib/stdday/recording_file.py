"""From the text of a recording to a table of the columns that are needed, every row accounted for.

The cells of most recordings go through pandas' C reader; where quotes make the cells of a line
something else than what stands between two delimiters, they are read line by line.
"""

from __future__ import annotations

import csv
import io
import re
import warnings
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday.columns import ColumnsFile
from stdday.errors import CampaignError, Problem
from stdday.recording_header import Header
from stdday.recording_rows import (
    BLANK,
    CHUNK,
    COMMENT,
    CUT,
    LONG,
    REASONS,
    SHORT,
    IndexArray,
    Rows,
    split_rows,
    trailing_blanks,
    usual_width,
)
from stdday.recording_types import Finding, FloatArray, refused

__all__ = ["BadCells", "Table", "numbers_from_text", "read_table"]

_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")

ObjectArray = NDArray[np.object_]


@dataclass(frozen=True)
class BadCells:
    """Cells of a numeric column that hold no number.

    Parameters
    ----------
    count : int
        How many.
    examples : tuple of (int, str)
        Line [1-based] and text of the first few.
    """

    count: int
    examples: tuple[tuple[int, str], ...]


@dataclass(frozen=True, eq=False)
class Table:
    """The columns that are needed, for the rows that can be trusted.

    Parameters
    ----------
    file : str
        Name of the recording.
    lines : ndarray of int, shape (n,)
        Line of each row [1-based].
    text : mapping of int to ndarray of object, shape (n,)
        Cells of the columns read as text, by position; None where blank.
    numbers : mapping of int to ndarray, shape (n,)
        Cells of the columns read as numbers [unit of the file]; NaN where missing.
    bad : mapping of int to BadCells
        Cells of those columns that hold no number.
    in_file : int
        Rows in the file.
    set_aside : dict of str to int
        Rows left out, by reason.
    findings : list of Finding
        What was found on the way.
    ticks : ndarray of int, shape (n,)
        Rows of data before each row, those set aside among them, blank and comment lines not.
    """

    file: str
    lines: IndexArray
    text: Mapping[int, ObjectArray]
    numbers: Mapping[int, FloatArray]
    bad: Mapping[int, BadCells]
    in_file: int
    set_aside: dict[str, int]
    findings: list[Finding] = field(default_factory=list)
    ticks: IndexArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))


def read_table(
    header: Header,
    body: bytes,
    columns: ColumnsFile,
    text: Iterable[int],
    numbers: Mapping[int, tuple[str, ...]],
) -> Table:
    r"""Read the columns that are needed.

    Parameters
    ----------
    header : Header
        Header of the recording.
    body : bytes
        The text, as `read_header` gives it.
    columns : ColumnsFile
        How they are laid out.
    text : iterable of int
        Positions of columns to read as text.
    numbers : mapping of int to tuple of str
        Positions of columns to read as numbers, each with marks of its own for a missing value.

    Returns
    -------
    Table
        With every row accounted for.

    Raises
    ------
    CampaignError
        No row can be used, or a column that is needed lies beyond the cells of the rows.

    Examples
    --------
    >>> from stdday.columns import ColumnsFile, TimeSource
    >>> from stdday.recording_header import read_header
    >>> columns = ColumnsFile("n", "", ";", ",", (1,), None, None, None, TimeSource(("t",), "%H"),
    ...                       ("---",), ())
    >>> header, body, _ = read_header(b"t;a\n10;1,5\n11;---\n12\n13;2", columns, "one.csv")
    >>> table = read_table(header, body, columns, [0], {1: ()})
    >>> list(table.text[0]), table.numbers[1], table.in_file
    (['10', '11'], array([1.5, nan]), 4)
    >>> table.set_aside
    {'last line without a line end': 1, 'fewer cells than the other rows': 1}
    """
    rows = split_rows(body, columns, header.data_at)
    width = usual_width(rows, len(header.names))
    _mark_widths(rows, width, columns.delimiter)
    text, needed = tuple(text), sorted({*text, *numbers})
    _check_usable(header, rows, width, needed)
    good = np.flatnonzero(rows.reason == 0)
    cells = _cells(rows, good, columns, width, needed, set(text))
    lines = good + header.depth + 1
    texts = {place: _blank_to_none(cells[place]) for place in text}
    read = {place: _numbers(cells[place], columns, marks, lines)
            for place, marks in numbers.items()}
    findings = [*_width_findings(header, width, rows), *_row_findings(header, rows)]
    timed = (rows.reason != BLANK) & (rows.reason != COMMENT)
    return Table(header.file, lines, texts, {place: item[0] for place, item in read.items()},
                 {place: item[1] for place, item in read.items() if item[1].count},
                 rows.starts.size, rows.set_aside(), findings, (np.cumsum(timed) - 1)[good])


def _mark_widths(rows: Rows, width: int, delimiter: str) -> None:
    """Set aside rows with fewer or more cells than the others.

    A row that lacks only cells that are empty in all others lacks nothing, but for the last line of
    a file, which may have been cut.
    """
    short = rows.cells < width
    if short.any():
        lenient = short & (rows.cells >= width - trailing_blanks(rows, width, delimiter))
        lenient[-1] = False
        rows.mark(short & ~lenient, SHORT)
    rows.mark(rows.cells > width, LONG)


def _row_findings(header: Header, rows: Rows) -> list[Finding]:
    """Say which lines were set aside as damaged, and where the first of each kind stand."""
    findings = []
    for code, count in enumerate(np.bincount(rows.reason, minlength=len(REASONS)).tolist()):
        if not count or code in (0, BLANK, COMMENT):
            continue
        places = np.flatnonzero(rows.reason == code)[:3] + header.depth + 1
        shown = ", ".join(map(str, places.tolist())) + (" …" if count > places.size else "")
        level: Literal["note", "caution"] = "note" if code == CUT else "caution"
        findings.append(Finding(level, f"{header.file}: {count} rows set aside: {REASONS[code]} "
                                f"(line {shown})", "their samples are missing"))
    return findings


def _check_usable(header: Header, rows: Rows, width: int, needed: Sequence[int]) -> None:
    """Refuse a recording without rows, or whose rows do not reach a column that is needed."""
    if not (rows.reason == 0).any():
        reasons = ", ".join(f"{count} {reason}" for reason, count in rows.set_aside().items())
        raise refused(header.file, "", "at least one whole row of data", reasons or "no rows",
                      "see that it is the right file, and delimiter and header_rows in the columns "
                      "file")
    beyond = [place for place in needed if place >= width]
    if beyond:
        raise CampaignError([Problem(
            header.file, f"line {header.depth + 1} and on", f"column #{place + 1}",
            f"rows of {width} cells", "see delimiter and header_rows in the columns file")
            for place in beyond])


def _width_findings(header: Header, width: int, rows: Rows) -> list[Finding]:
    """Say where the header and the rows do not have the same number of cells."""
    names = list(header.names)
    while names and not names[-1] and len(names) > width:
        names.pop()
    if not names or len(names) == width or (len(names) == width - 1 and _all_blank_end(rows)):
        return []
    return [Finding("caution", f"{header.file}: the header has {len(names)} names and the rows "
                    f"have {width} cells", "columns may be shifted against their names")]


def _all_blank_end(rows: Rows) -> bool:
    """Whether every row that is used ends with an empty cell (a delimiter too many)."""
    whole = np.frombuffer(rows.body, dtype=np.uint8)
    good = rows.reason == 0
    last = whole[rows.ends[good] - 1]
    return bool(last.size) and not rows.quoted and bool((last == last[0]).all()) \
        and chr(int(last[0])) in ",;\t|"


# ---------------------------------------------------------------- cells


def _cells(
    rows: Rows, good: IndexArray, columns: ColumnsFile, width: int,
    needed: Sequence[int], text: set[int],
) -> dict[int, ObjectArray | FloatArray]:
    """Cells of the columns that are needed: numbers where all are numbers, else text."""
    if not rows.quoted:
        table = _by_pandas(rows, good, columns, width, needed, text)
        if table is not None:
            return table
    split = partial(_split_line, rows, columns.delimiter)
    chosen = [[cells[place] if place < len(cells) else "" for place in needed]
              for cells in map(split, good.tolist())]
    return {place: np.array([cells[index] for cells in chosen], dtype=object)
            for index, place in enumerate(needed)}


def _split_line(rows: Rows, delimiter: str, row: int) -> list[str]:
    """Cells of one line."""
    return rows.quoted.get(row) or rows.line(row).split(delimiter)


def _by_pandas(
    rows: Rows, good: IndexArray, columns: ColumnsFile, width: int,
    needed: Sequence[int], text: set[int],
) -> dict[int, ObjectArray | FloatArray] | None:
    """Cells through pandas' C reader; None where it does not see the same rows."""
    marks = [mark for mark in columns.missing if not _NUMBER.fullmatch(mark.strip())]
    data, start = _good_bytes(rows, good)
    # looking for blanks to skip doubles the time of a file that has none
    padded = _padded(data, start, columns.delimiter)

    def read(*, by_pieces: bool) -> pd.DataFrame:
        return pd.read_csv(
            _stream(data, start), sep=columns.delimiter, decimal=columns.decimal, header=None,
            names=list(range(width)), usecols=list(needed), index_col=False,
            dtype=dict.fromkeys(text, "str"), keep_default_na=False, na_values=["", *marks],
            quoting=csv.QUOTE_NONE, skip_blank_lines=False, skipinitialspace=padded,
            encoding="utf-8", encoding_errors="replace", engine="c", low_memory=by_pieces)

    try:
        frame = _whole_or_by_pieces(read)
    except (pd.errors.ParserError, ValueError, OverflowError):
        return None
    if len(frame) != good.size:
        return None
    return {place: _plain_column(frame[place]) for place in needed}


def _whole_or_by_pieces(read: Callable[..., pd.DataFrame]) -> pd.DataFrame:
    """Read by pieces, which is faster; where pieces of a column differ in type, read as a whole."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", pd.errors.DtypeWarning)
            return read(by_pieces=True)
    except pd.errors.DtypeWarning:
        return read(by_pieces=False)


def _padded(data: bytes, start: int, delimiter: str) -> bool:
    """Whether any cell begins with a blank, piece by piece."""
    if data.find(b" ", start) < 0:
        return False
    whole = np.frombuffer(data, dtype=np.uint8)
    for first in range(start, len(data), CHUNK):
        piece = whole[max(first - 1, 0):first + CHUNK]
        before = piece[np.flatnonzero(piece[1:] == ord(" "))]
        if ((before == ord(delimiter)) | (before == ord("\n"))).any():
            return True
    return data[start:start + 1] == b" "


def _stream(data: bytes, start: int) -> io.BytesIO:
    """Bytes from a place on, without a copy of them."""
    stream = io.BytesIO(data)
    stream.seek(start)
    return stream


def _good_bytes(rows: Rows, good: IndexArray) -> tuple[bytes, int]:
    """Bytes in which the lines that are used stand one after the other, from a place on."""
    if good.size == rows.starts.size:
        return rows.body, int(rows.starts[0])
    breaks = np.flatnonzero(np.diff(good) > 1)
    firsts = good[np.concatenate(([0], breaks + 1))]
    lasts = good[np.concatenate((breaks, [good.size - 1]))]
    return b"".join(rows.body[rows.starts[first]:rows.ends[last] + 1]
                    for first, last in zip(firsts.tolist(), lasts.tolist(), strict=True)), 0


def _plain_column(column: pd.Series) -> ObjectArray | FloatArray:
    """Numbers of a column that pandas read as numbers, else its text."""
    if column.dtype.kind in "iuf":
        return column.to_numpy(dtype=np.float64)
    return column.astype(object).to_numpy(dtype=object)


def _blank_to_none(cells: ObjectArray | FloatArray) -> ObjectArray:
    """Text of cells; None where there is none."""
    text = np.asarray(cells, dtype=object)
    blank = pd.isna(text) | np.equal(text, "")
    if blank.any():
        text = text.copy()
        text[blank] = None
    return text


def _numbers(
    cells: ObjectArray | FloatArray, columns: ColumnsFile, marks: tuple[str, ...],
    lines: IndexArray,
) -> tuple[FloatArray, BadCells]:
    """Numbers of a column; marks for a missing value become NaN."""
    marks = (*columns.missing, *marks)
    if cells.dtype == np.float64:
        values = np.asarray(cells, dtype=np.float64)
        endless = np.flatnonzero(np.isinf(values))
        bad = _bad_cells(endless, values, lines)
        if endless.size:
            values = values.copy()
            values[endless] = np.nan
    else:
        text = np.asarray(cells, dtype=object)
        values, wrong = numbers_from_text(text, columns.decimal, marks)
        bad = _bad_cells(np.flatnonzero(wrong), text, lines)
    sentinels = [float(mark.replace(columns.decimal, ".")) for mark in marks
                 if _NUMBER.fullmatch(mark.strip().replace(columns.decimal, "."))]
    if sentinels:
        values = np.where(np.isin(values, sentinels), np.nan, values)
    return values, bad


def _bad_cells(
    places: IndexArray, cells: ObjectArray | FloatArray, lines: IndexArray
) -> BadCells:
    """Count the cells that are no numbers and keep the first few."""
    first = places[:3].tolist()
    return BadCells(int(places.size),
                    tuple((int(lines[place]), str(cells[place])[:40]) for place in first))


def numbers_from_text(
    cells: ObjectArray, decimal: str = ".", marks: Sequence[str] = ()
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Read numbers from text, each different text once.

    Blanks around a number, a plus sign and an exponent are read; anything else (``inf``, ``0x1F``,
    ``1 013``, ``118.5 RX``) is no number.

    Parameters
    ----------
    cells : ndarray of object, shape (n,)
        Text; None or NaN where there is none.
    decimal : str
        Mark of decimals.
    marks : sequence of str
        Text that stands for a missing value.

    Returns
    -------
    tuple of (ndarray, ndarray of bool), each of shape (n,)
        Numbers, NaN where missing, and which cells hold neither a number nor a mark; never raises.

    Examples
    --------
    >>> numbers_from_text(np.array([" 1,50 ", "+2", "-0,0", "---", "12 RX"], dtype=object), ",",
    ...                   ["---"])
    (array([ 1.5,  2. , -0. ,  nan,  nan]), array([False, False, False, False,  True]))
    """
    codes, known = pd.factorize(cells)
    empty = {"", *(mark.strip() for mark in marks)}
    values = np.full(len(known) + 1, np.nan)
    wrong = np.zeros(len(known) + 1, dtype=bool)
    for index, cell in enumerate(known):
        plain = str(cell).strip()
        if plain in empty:
            continue
        value = _number(plain, decimal)
        wrong[index] = value is None
        values[index] = np.nan if value is None else value
    return values[codes], wrong[codes]


def _number(plain: str, decimal: str) -> float | None:
    """Read one number; None where it is none, or larger than a number can be."""
    if decimal != ".":
        if "." in plain:
            return None
        plain = plain.replace(decimal, ".")
    if not _NUMBER.fullmatch(plain):
        return None
    value = float(plain)
    return value if abs(value) < np.inf else None
