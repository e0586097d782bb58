"""How an unknown recording is laid out: text, delimiter, decimal mark, header, units.

Rows of data are told from rows of header by what most lines look like, not by any known format.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stdday.propose_types import Column, Layout
from stdday.propose_units import header_unit, is_unit, split_unit
from stdday.propose_words import word_scores
from stdday.recording_bytes import even_line_ends, to_utf8, unpack
from stdday.recording_file import numbers_from_text
from stdday.recording_header import MOST_COLUMNS
from stdday.recording_rows import LONGEST_LINE
from stdday.recording_types import refused

__all__ = ["MOST_ROWS", "Sheet", "read_sheet"]

#: Most rows that a proposal looks at, spread evenly over the recording.
MOST_ROWS = 12_000
#: The header ends within so many lines.
DEEPEST = 40

_NUMBER = re.compile(r"[+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?")
_TIME = re.compile(
    r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}(?:[T ]\d{1,2}:\d\d.*)?"
    r"|\d{1,2}:\d\d(?::\d\d.*)?(?: ?[APap][Mm])?"
    r"|[+-]\d\d:\d\d|\d{1,2}[-. ][A-Za-z]{3}[-. ]\d{2,4}(?: .*)?")
_MISSING = re.compile(r"(?i)-{1,5}|\*+|n/?a|nan|null|none|nil|\?+|x+|inf|#n/a|#nv|\.{2,3}|missing"
                      r"|--\.-+")


@dataclass(frozen=True, eq=False)
class Sheet:
    """A recording as a proposal sees it.

    Parameters
    ----------
    layout : Layout
        How it is laid out.
    columns : tuple of Column
        Its columns, with a sample of their cells.
    rows : int
        Rows in the file.
    stride : int
        Rows from one sampled row to the next.
    missing : tuple of str
        Marks that stand for a missing value.
    """

    layout: Layout
    columns: tuple[Column, ...]
    rows: int
    stride: int
    missing: tuple[str, ...]


def read_sheet(raw: bytes, name: str) -> Sheet:
    r"""Find out how a recording is laid out, and sample its cells.

    Parameters
    ----------
    raw : bytes
        Content of the file, packed or not.
    name : str
        Its name in messages.

    Returns
    -------
    Sheet
        Layout, columns and samples.

    Raises
    ------
    CampaignError
        It is empty, binary, or no table can be seen in it.

    Examples
    --------
    >>> sheet = read_sheet(b"# recorder: one\nt;speed [kt]\n1;2,5\n2;3,5\n3;4,0\n", "one.csv")
    >>> sheet.layout.delimiter, sheet.layout.decimal, sheet.layout.header_rows
    (';', ',', (2,))
    >>> sheet.columns[1].unit, sheet.columns[1].known
    ('kt', array([2.5, 3.5]))
    """
    data, notes = to_utf8(unpack(raw, name), None, DEEPEST, name)
    text = even_line_ends(data)
    _check_text(text, name)
    lines = text.split(b"\n")
    if lines and not lines[-1].strip():
        lines.pop()
    head = [_decoded(line) for line in lines[:DEEPEST + 10]]
    sample = _middle(lines)
    delimiter, decimal = _delimiter(sample, name)
    table = [_cells(line, delimiter) for line in sample]
    width = _usual([len(row) for row in table])
    kinds = _kinds([row for row in table if len(row) == width], width)
    depth = _depth([_cells(line, delimiter) for line in head], kinds, width, name)
    if max((len(line) for line in lines[:depth]), default=0) > LONGEST_LINE:
        raise refused(name, f"lines 1 to {depth}", f"header lines of at most {LONGEST_LINE} bytes",
                      "a longer one", "see that it is the right file")
    encoding = "latin-1" if notes else None
    header = _Header(head[:depth], delimiter, width)
    layout = header.layout(decimal, encoding)
    rows, stride = _sampled(lines[depth:], delimiter, width)
    columns, missing = _columns(header, rows, width, decimal)
    return Sheet(layout, columns, len(lines) - depth, stride, missing)


def _check_text(text: bytes, name: str) -> None:
    """Refuse what is empty or no text."""
    if not text.strip():
        raise refused(name, "", "a recording", "an empty file", "copy it again from the recorder")
    head = text[:65536]
    if b"\0" in head or sum(byte < 9 for byte in head) > len(head) // 10:
        raise refused(name, "", "text in columns", "a binary file",
                      "export it as CSV with the recorder's own program")


def _decoded(line: bytes) -> str:
    """Text of a line, shortened where it is absurd."""
    return line[:LONGEST_LINE].decode("utf-8", errors="replace")


def _middle(lines: Sequence[bytes]) -> list[str]:
    """Up to 300 lines that are surely data: from a third of the file on, no comments."""
    first = min(len(lines) // 3, max(len(lines) - 300, 0)) if len(lines) > 30 else len(lines) // 2
    chosen = [_decoded(line[:100_000]) for line in lines[first:first + 300]]
    plain = [line for line in chosen if line.strip() and not line.lstrip().startswith(("#", "//"))]
    return plain or chosen


def _cells(line: str, delimiter: str) -> list[str]:
    """Cells of a line, stripped."""
    try:
        cells = next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:
        cells = line.split(delimiter)
    return [cell.strip() for cell in cells[:MOST_COLUMNS]]


def _usual(counts: Sequence[int]) -> int:
    """Most frequent count."""
    return Counter(counts).most_common(1)[0][0] if counts else 0


def _delimiter(sample: Sequence[str], name: str) -> tuple[str, str]:
    """Choose delimiter and decimal mark: where most cells of even rows are numbers or times."""
    best: tuple[float, str, str] = (0.0, "", "")
    for delimiter in (",", ";", "\t", "|"):
        rows = [_cells(line, delimiter) for line in sample]
        width = _usual([len(row) for row in rows])
        even = [row for row in rows if len(row) == width]
        if width < 2:
            continue
        cells = [cell for row in even for cell in row if cell]
        for decimal in (".",) if delimiter == "," else (".", ","):
            good = sum(_is_value(cell, decimal) for cell in cells) / max(len(cells), 1)
            score = good * len(even) / len(rows) + 0.02 * min(width, 12)
            if good > 0.3 and score > best[0] + 1e-9:
                best = (score, delimiter, decimal)
    if not best[1]:
        raise refused(name, "", "rows of cells with , ; | or a tab between them",
                      f"lines such as {sample[0][:60]!r}" if sample else "nothing",
                      "export it as CSV; other separators, blanks for one, are not read")
    return best[1], best[2]


def _is_value(cell: str, decimal: str) -> bool:
    """Whether a cell is a number with that decimal mark, or a time."""
    other = "," if decimal == "." else "."
    if _NUMBER.fullmatch(cell):
        return other not in cell
    return _TIME.fullmatch(cell) is not None


def _kind(cell: str) -> str:
    """Kind of a cell: blank, number, time or text."""
    if not cell or _MISSING.fullmatch(cell):
        return ""
    if _NUMBER.fullmatch(cell):
        return "n"
    return "t" if _TIME.fullmatch(cell) else "x"


def _kinds(rows: Sequence[Sequence[str]], width: int) -> list[str]:
    """Usual kind of each column; blank where it is always empty."""
    found = []
    for place in range(width):
        counts = Counter(kind for row in rows if (kind := _kind(row[place])))
        found.append(counts.most_common(1)[0][0] if counts else "")
    return found


def _depth(head: Sequence[Sequence[str]], kinds: Sequence[str], width: int, name: str) -> int:
    """Lines before the first row of data: the first that looks like most rows, and so do others."""
    fits = [_fits(row, kinds, width) for row in head]
    for place, fit in enumerate(fits[:DEEPEST + 1]):
        after = fits[place:place + 6]
        if fit and sum(after) >= 0.5 * len(after):
            return place
    raise refused(name, "", f"rows of data within the first {DEEPEST} lines", "none that look like "
                  "the rows further down", "cut what stands above the names, or export it as CSV")


def _fits(row: Sequence[str], kinds: Sequence[str], width: int) -> bool:
    """Whether a line looks like a row of data."""
    if abs(len(row) - width) > 1 or (row and row[0].startswith("#")):
        return False
    pairs = [(_kind(cell), kind) for cell, kind in zip(row, kinds, strict=False)
             if kind in ("n", "t")]
    seen = [(own, usual) for own, usual in pairs if own]
    return bool(seen) and sum(own in "nt" for own, _ in seen) >= 0.8 * len(seen)


# ---------------------------------------------------------------- header


class _Header:
    """The lines above the data: which are names, units, metadata."""

    def __init__(self, lines: Sequence[str], delimiter: str, width: int) -> None:
        self.lines, self.delimiter, self.width = lines, delimiter, width
        self.rows = [_cells(_unprefixed(line), delimiter) for line in lines]
        self.unit_place = self._units()
        self.name_places = self._names()

    def _wide(self, place: int, share: float) -> bool:
        """Whether a line has about as many cells as the rows, with enough of them filled."""
        row = self.rows[place]
        filled = sum(bool(cell) for cell in row)
        return len(row) >= 0.6 * self.width and filled >= max(2, share * self.width)

    def _units(self) -> int | None:
        """Find the line of units: most of its filled cells are units."""
        best, most = None, 0.5
        for place, row in enumerate(self.rows):
            filled = [cell for cell in row if cell and cell != "-"]
            if not self._wide(place, 0.2) or not filled:
                continue
            share = sum(is_unit(cell) for cell in filled) / len(filled)
            as_names = sum(_named(cell) for cell in filled) / len(filled)
            if share > max(most, as_names):
                best, most = place, share
        return best

    def _names(self) -> list[int]:
        """Find the lines of names, the best first."""
        scored = []
        for place, row in enumerate(self.rows):
            if place == self.unit_place or not self._wide(place, 0.4):
                continue
            filled = [cell for cell in row if cell]
            texts = [cell for cell in filled if _kind(cell) == "x"]
            metadata = sum(bool(re.search(r"=|:\s", cell)) for cell in filled) / len(filled)
            if len(texts) < 0.6 * len(filled) or metadata > 0.5:
                continue
            known = sum(_named(cell) for cell in filled) / len(filled)
            scored.append((known + 0.3 * len(set(filled)) / self.width, -place, place))
        return [place for _, _, place in sorted(scored, reverse=True)]

    def layout(self, decimal: str, encoding: str | None) -> Layout:
        """Describe it as a columns file does; its last line is always one of those named."""
        depth = len(self.lines)
        unit_row = None if self.unit_place is None else self.unit_place + 1
        rows = {place + 1 for place in self.name_places[:1]}
        if depth and max([*rows, unit_row or 0]) < depth:
            rows.add(depth)
        marked = [line.lstrip().startswith("#") for line in self.lines]
        comment = "#" if any(marked) else None
        return Layout(self.delimiter, decimal, tuple(sorted(rows)), unit_row, depth, comment,
                      encoding, self._facts())

    def _facts(self) -> tuple[tuple[str, str], ...]:
        """Keys and values in the lines that are neither names nor units."""
        used = {self.unit_place, *self.name_places}
        found: list[tuple[str, str]] = []
        for place, row in enumerate(self.rows):
            if place in used:
                continue
            text = _unprefixed(self.lines[place]).strip(self.delimiter + " ")
            for cell in row if sum("=" in cell for cell in row) > 1 else [text]:
                key, mark, value = _split_fact(cell, self.delimiter)
                if mark and key and value:
                    found.append((key[:60], value[:200]))
        return tuple(found[:100])

    def column(self, place: int) -> tuple[str, str, str, str]:
        """Name, words, unit and where the unit stood, of one column."""
        cells = [self.rows[line][place] if place < len(self.rows[line]) else ""
                 for line in self.name_places[:3]]
        name = cells[0] if cells else ""
        unit, where = "", ""
        words: list[str] = []
        for cell in cells:
            said, own, stood = split_unit(" ".join(cell.split()))
            if stood == "suffix" and not word_scores(said) and word_scores(cell):
                said = cell        # the last word belongs to the name: normal g
            words.append(said)
            if own and (not unit or stood == "bracket" != where):
                unit, where = own, stood
        if self.unit_place is not None:
            row = self.rows[self.unit_place]
            cell = row[place].strip("()[]{} ") if place < len(row) else ""
            if cell and cell not in ("-", "#"):
                unit, where = cell, "row"
        return name, " ".join(dict.fromkeys(filter(None, words))), unit, where


def _unprefixed(line: str) -> str:
    """Line without the mark of a comment."""
    return re.sub(r"^\s*(?:#+|//|%)\s?", "", line)


def _split_fact(cell: str, delimiter: str) -> tuple[str, str, str]:
    """Split ``key: value``, ``key=value`` or ``key,value``."""
    for mark in ("=", ": ", ":", delimiter):
        if mark in cell:
            key, _, value = cell.partition(mark)
            return key.strip(" \"'"), mark, value.strip(" \"'" + delimiter)
    return cell, "", ""


def _named(cell: str) -> bool:
    """Whether a cell reads like the name of a quantity or of a time."""
    said, unit, _ = split_unit(cell)
    if max(word_scores(said).values(), default=0.0) >= 2.0 and (unit or header_unit(cell) is None):
        return True
    return re.search(r"(?i)date|time|utc|zeit|uhr|datum|heure|tag\b|jour", cell) is not None and \
        not re.fullmatch(r"(?i)date|time|utc", cell) and header_unit(cell) is None


# ---------------------------------------------------------------- cells


def _sampled(lines: Sequence[bytes], delimiter: str, width: int) -> tuple[list[list[str]], int]:
    """Cells of rows spread evenly over the file, without those that are not whole."""
    stride = max(1, -(-len(lines) // MOST_ROWS))
    # the last line may be cut in the middle of a cell
    chosen = [_decoded(line) for line in lines[:max(len(lines) - 1, 1):stride]
              if len(line) <= LONGEST_LINE]
    rows = [_cells(line, delimiter) for line in chosen if not line.startswith("#")]
    return [row for row in rows if len(row) == width], stride


def _columns(
    header: _Header, rows: Sequence[Sequence[str]], width: int, decimal: str
) -> tuple[tuple[Column, ...], tuple[str, ...]]:
    """Columns with their cells, and the marks that stand for a missing value."""
    made, marks = [], Counter[str]()
    for place in range(width):
        text = np.array([row[place] for row in rows], dtype=object)
        values, wrong = numbers_from_text(text, decimal)
        if np.isfinite(values).sum() >= 0.02 * max(len(rows), 1) or not (text != "").any():
            marks.update(str(cell) for cell in set(text[wrong]) if _MISSING.fullmatch(str(cell)))
        name, words, unit, where = header.column(place)
        made.append(Column(place, name, words, unit, where, text, values))
    return tuple(made), ("", *sorted(marks))
