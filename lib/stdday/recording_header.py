"""The header of a recording: which column stands where."""

from __future__ import annotations

import csv
import difflib
import re
from dataclasses import dataclass

from stdday.columns import ColumnsFile
from stdday.errors import Problem
from stdday.recording_bytes import even_line_ends, to_utf8
from stdday.recording_rows import LONGEST_LINE
from stdday.recording_types import Finding, refused
from stdday.units import shown

__all__ = ["MOST_COLUMNS", "Header", "read_header"]

#: Most columns that are read.
MOST_COLUMNS = 10_000

_POSITION = re.compile(r"#([1-9][0-9]{0,5})")


@dataclass(frozen=True)
class Header:
    """The header of a recording.

    Parameters
    ----------
    file : str
        Name of the recording.
    depth : int
        Lines before the first row of data.
    names : tuple of str
        Name of each column; blank names and names that occur twice stand as they are.
    units : tuple of str
        Unit of each column, where there is a unit row.
    data_at : int
        Where the first row of data begins [bytes].
    """

    file: str
    depth: int
    names: tuple[str, ...]
    units: tuple[str, ...] = ()
    data_at: int = 0

    def find(self, wanted: str, key: str) -> int | Problem:
        """Find a column by its name, or by ``#7`` for the seventh.

        Parameters
        ----------
        wanted : str
            What the columns file says.
        key : str
            The entry of the columns file, for the message.

        Returns
        -------
        int or Problem
            Position from 0, or what is wrong; never raises.

        Examples
        --------
        >>> header = Header("one.csv", 1, ("Time", "type", "type", "Airspeed"))
        >>> header.find("Airspeed", "indicated_airspeed"), header.find("#4", "indicated_airspeed")
        (3, 3)
        >>> print(header.find("type", "pitch").found)
        that name 2 times, in columns 2, 3
        """
        place = _POSITION.fullmatch(wanted)
        if place is not None:
            position = int(place[1]) - 1
            if position < len(self.names) or not self.names:
                return position
            return self._problem(f"column {wanted} for {key}", f"{len(self.names)} columns",
                                 "name a column that is there")
        tidy = " ".join(wanted.split())
        hits = [index for index, name in enumerate(self.names) if name == tidy]
        if len(hits) == 1:
            return hits[0]
        needed = f"the column {shown(wanted)} for {key}"
        if hits:
            listed = ", ".join(str(hit + 1) for hit in hits[:10])
            return self._problem(needed, f"that name {len(hits)} times, in columns {listed}",
                                 f'choose one by its position, such as "#{hits[0] + 1}"')
        return self._problem(needed, self._nearest(tidy),
                             "write the name as it stands there, or its position")

    def _nearest(self, wanted: str) -> str:
        """Name the columns that come nearest to a name that is not there."""
        named = [name for name in dict.fromkeys(self.names[:2000]) if 0 < len(name) <= 200]
        if not named:
            return "no names"
        lower = {name.lower(): name for name in named}
        near = difflib.get_close_matches(wanted[:80].lower(), lower, n=3, cutoff=0.5)
        if near:
            return "as nearest " + ", ".join(shown(lower[name]) for name in near)
        if len(self.names) == 1:
            return f"one cell only, {shown(named[0])} (is the delimiter right?)"
        return "no name near it in " + ", ".join(shown(name) for name in named[:8])

    def _problem(self, needed: str, found: str, mend: str) -> Problem:
        """Make the problem of a column."""
        where = f"line {self.depth}, header" if self.names else "no header"
        return Problem(self.file, where, needed, found, mend)


def read_header(data: bytes, columns: ColumnsFile, file: str
                ) -> tuple[Header, bytes, list[Finding]]:
    """Read the header of a recording.

    Parameters
    ----------
    data : bytes
        Content of the recording, unpacked.
    columns : ColumnsFile
        How it is laid out.
    file : str
        Its name in messages.

    Returns
    -------
    tuple of (Header, bytes, list of Finding)
        The header, the whole text in UTF-8 with line feeds, and what was found.

    Raises
    ------
    CampaignError
        The file is empty, is no text, ends before the header does, or its header is absurd.
    """
    text, findings = to_utf8(data, columns.encoding, columns.header_depth, file)
    text = even_line_ends(text)
    lines: list[bytes] = []
    start = 0
    for number in range(1, columns.header_depth + 1):
        end = text.find(b"\n", start)
        if end < 0:
            raise refused(file, "", f"rows of data after line {columns.header_depth}",
                          f"{number - 1 + bool(text[start:])} lines",
                          "see that it is the right file, and header_rows in the columns file")
        _check_header_line(text[start:end], number, file)
        lines.append(text[start:end])
        start = end + 1
    rows = [_header_cells(lines[row - 1], columns, row, file) for row in columns.header_rows]
    units = () if columns.unit_row is None else tuple(
        _header_cells(lines[columns.unit_row - 1], columns, columns.unit_row, file))
    width = max((len(row) for row in rows), default=0)
    names = tuple(" ".join(row[place] for row in rows if place < len(row) and row[place])
                  for place in range(width))
    return Header(file, columns.header_depth, names, units, start), text, findings


def _check_header_line(line: bytes, number: int, file: str) -> None:
    """Refuse a header line that is no text or absurdly long."""
    if b"\0" in line:
        raise refused(file, f"line {number}", "text", "zero bytes, as in a binary file",
                      "export the recording as CSV")
    if len(line) > LONGEST_LINE:
        raise refused(file, f"line {number}", f"a header line of at most {LONGEST_LINE} bytes",
                      f"{len(line)}", "see that it is the right file")


def _header_cells(line: bytes, columns: ColumnsFile, number: int, file: str) -> list[str]:
    """Split a header line into names without blanks around them."""
    text = line.decode("utf-8", errors="replace")
    if columns.comment is not None and text.startswith(columns.comment):
        text = text.removeprefix(columns.comment)
    try:
        cells = next(csv.reader([text], delimiter=columns.delimiter), [])
    except csv.Error:
        cells = text.split(columns.delimiter)
    if len(cells) > MOST_COLUMNS:
        raise refused(file, f"line {number}", f"at most {MOST_COLUMNS} columns", f"{len(cells)}",
                      "see that it is the right file and delimiter")
    return [" ".join(cell.split()) for cell in cells]
