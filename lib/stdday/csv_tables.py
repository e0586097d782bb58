"""Tables that a person keeps in a spreadsheet: one row a flight, a decision or a test point.

Comma, semicolon or tab, with or without byte-order mark, as spreadsheets write them; header cells
may carry a unit in square brackets. Every row is read or reported, never skipped.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from stdday.errors import Problem
from stdday.names import nearest
from stdday.unit_names import SI_UNITS
from stdday.units import UnitError, dimension_words, factor_to_si, known_units, parse_number, shown

__all__ = ["CsvRow", "CsvTable", "read_csv_table"]

_SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}
_HEADER_CELL = re.compile(r"(?P<name>[^\[\]]*?)\s*(?:\[(?P<unit>[^\[\]]*)\])?")
_LARGEST_FILE = 20_000_000


@dataclass(frozen=True)
class CsvRow:
    """One row of a table.

    Parameters
    ----------
    line : int
        Line of the file on which it begins [1-based].
    cells : dict of str to str
        Text of each cell that is not empty, by column.
    """

    line: int
    cells: dict[str, str]


@dataclass(frozen=True)
class CsvTable:
    """A table as read, its header checked.

    Parameters
    ----------
    file : str
        Name of the file, for messages.
    units : dict of str to str
        Unit of each column that has one.
    columns : tuple of str
        Columns that are present.
    rows : tuple of CsvRow
        The rows that fit the header.
    """

    file: str
    units: dict[str, str]
    columns: tuple[str, ...]
    rows: tuple[CsvRow, ...]

    def quantity(
        self, row: CsvRow, column: str, dimension: str, *, fuel_density_kg_m3: float | None = None
    ) -> float | None:
        """Read a cell as a quantity.

        Parameters
        ----------
        row : CsvRow
            The row.
        column : str
            The column.
        dimension : str
            Dimension, a word of `stdday.units`.
        fuel_density_kg_m3 : float, optional
            Density of the fuel [kg/m^3], for fuel given by mass.

        Returns
        -------
        float or None
            The value in SI; None for an empty cell, or where the header has no good unit (which
            is reported with the header).

        Raises
        ------
        UnitError
            If the cell is no number.

        Examples
        --------
        >>> table = CsvTable("flights.csv", {"weight": "lb"}, ("weight",), ())
        >>> table.quantity(CsvRow(2, {"weight": "1320"}), "weight", "mass")
        598.741929
        """
        cell, unit = row.cells.get(column), self.units.get(column)
        if cell is None or unit is None:
            return None
        scale, offset = factor_to_si(unit, dimension, fuel_density_kg_m3=fuel_density_kg_m3)
        return parse_number(cell) * scale + offset


def read_csv_table(
    path: Path, file: str, columns: Mapping[str, str | None], required: tuple[str, ...]
) -> tuple[CsvTable | None, list[Problem]]:
    r"""Read a table and find everything wrong with its header and the shape of its rows.

    Parameters
    ----------
    path : Path
        The file; it must exist.
    file : str
        Its name in messages.
    columns : mapping of str to str or None
        Columns that are known, with the dimension of those that hold quantities; one that ends in
        a question mark may stand without unit.
    required : tuple of str
        Columns that must be present.

    Returns
    -------
    CsvTable or None
        The table; None where there is no header to go by.
    list of Problem
        What is wrong. Never raises for what is in the file.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder, "t.csv")
    ...     _ = path.write_text("flight; weight [kg]\nA1; 585,5\n")
    ...     table, problems = read_csv_table(path, "t.csv", {"flight": None, "weight": "mass"}, ())
    >>> table.rows[0].cells, table.units, problems
    ({'flight': 'A1', 'weight': '585,5'}, {'weight': 'kg'}, [])
    """
    text, problems = _text(path, file)
    if text is None:
        return None, problems
    records, fault = _records(text, columns)
    if fault:
        problems.append(Problem(file, f"line {fault[0]}", "cells between separators", fault[1],
                                "check the quotation marks from there on"))
    if not records:
        return None, [*problems, Problem(file, "", "a header line", "an empty file",
                                         f"write the columns {', '.join(columns)}")]
    header_line, header = records[0]
    names, units, header_problems = _header(file, header_line, header, columns)
    body = [record for record in records[1:] if any(record[1])]
    problems += header_problems + list(_required(file, header_line, names, required))
    problems += list(_nameless(file, header, body))
    rows, row_problems = _rows(file, names, body)
    present = tuple(name for name in names if name)
    return CsvTable(file, units, present, tuple(rows)), problems + row_problems


# ---------------------------------------------------------------- the text


def _text(path: Path, file: str) -> tuple[str | None, list[Problem]]:
    """Decode the file, with a finding where it is no UTF-8."""
    try:
        size = path.stat().st_size
        data = path.read_bytes() if size <= _LARGEST_FILE else b""
    except OSError as error:
        return None, [Problem(file, "", "a file that can be read",
                              error.strerror or "a fault of the disk", "check its permissions")]
    if size > _LARGEST_FILE:
        return None, [Problem(file, "", "a small table", f"{size} bytes", "check the file")]
    text, encoding = _decoded(data)
    if text is None or "\0" in text:
        return None, [Problem(file, "", "a table as text", "bytes that are no text",
                              "save it from the spreadsheet as CSV, encoding UTF-8")]
    if encoding == "UTF-8":
        return text, []
    return text, [Problem(file, "", "text in UTF-8", f"what was read as {encoding}",
                          "look whether names with accents came out right, or save it as UTF-8",
                          "cost")]


def _decoded(data: bytes) -> tuple[str | None, str]:
    """Decode by mark, as UTF-8, or as the western encodings of old spreadsheets."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        tries = [("utf-16", "UTF-16")]
    else:
        tries = [("utf-8-sig", "UTF-8"), ("cp1252", "Windows-1252"), ("latin-1", "Latin-1")]
    for codec, name in tries:
        try:
            return data.decode(codec), name
        except UnicodeDecodeError:
            continue
    return None, ""


def _records(
    text: str, columns: Mapping[str, str | None]
) -> tuple[list[tuple[int, list[str]]], tuple[int, str] | None]:
    """Split the text into records with their first line, by the separator that fits the header."""
    first = 1
    if text[:4].casefold() == "sep=":
        text, first = text.partition("\n")[2], 2
    separator = _separator(text, columns)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True,
                        skipinitialspace=separator != "\t")
    records: list[tuple[int, list[str]]] = []
    line = 0
    try:
        for record in reader:
            if records or any(cell.strip() for cell in record):
                records.append((line + first, [cell.strip() for cell in record]))
            line = reader.line_num
    except csv.Error as error:
        return records, (line + first, str(error))
    return records, None


def _separator(text: str, columns: Mapping[str, str | None]) -> str:
    """Choose the separator that makes the most known columns of the header, then the most cells."""
    header = next((line for line in text.splitlines() if line.strip()), "")

    def fit(separator: str) -> tuple[int, int]:
        cells = header.split(separator)
        return sum(_name(cell)[0] in columns for cell in cells), len(cells)

    return max(_SEPARATORS, key=fit)


# ---------------------------------------------------------------- the header


def _name(cell: str) -> tuple[str, str | None]:
    """Split a header cell into the column's name and its unit."""
    found = _HEADER_CELL.fullmatch(cell.strip().strip('"').strip())
    if found is None:
        return cell.strip(), None
    name = re.sub(r"[\s-]+", "_", found["name"].strip().casefold())
    return name, found["unit"].strip() if found["unit"] is not None else None


def _header(
    file: str, line: int, header: list[str], columns: Mapping[str, str | None]
) -> tuple[list[str], dict[str, str], list[Problem]]:
    """Read the header: name of each column ('' where it is not known), and units."""
    names: list[str] = []
    units: dict[str, str] = {}
    problems: list[Problem] = []
    for cell in header:
        name, unit = _name(cell)
        problem = _column_problem(name, unit, names, columns) if cell else None
        if problem:
            problems.append(Problem(file, f"line {line}, column {shown(cell)}", *problem))
        elif unit:
            units[name] = unit
        names.append(name if name in columns and name not in names else "")
    return names, units, problems


def _column_problem(
    name: str, unit: str | None, before: list[str], columns: Mapping[str, str | None]
) -> tuple[str, str, str] | None:
    """Say what is wrong with one header cell."""
    if name not in columns:
        near = nearest(name, columns)
        others = f"leave it out; known are {', '.join(columns)}"
        return "a known column", shown(name), f"write {near}, if that is meant" if near else others
    if name in before:
        return "each column once", "the same column again", "leave one of them out"
    dimension = columns[name]
    if dimension is None:
        if unit:
            return "a column without unit", f"the unit {shown(unit)}", f"write {name}"
        return None
    if dimension.endswith("?"):
        dimension, unit = dimension.removesuffix("?"), unit or SI_UNITS[dimension.removesuffix("?")]
    if not unit:
        return (f"the unit of {dimension_words(dimension)} in square brackets", "no unit",
                f"write {name} [{known_units(dimension)[0]}] or another of "
                f"{', '.join(known_units(dimension))}")
    try:
        factor_to_si(unit, dimension, fuel_density_kg_m3=720.0)
    except UnitError as error:
        return error.needed, error.found, error.mend
    return None


def _required(
    file: str, line: int, names: list[str], required: tuple[str, ...]
) -> Iterator[Problem]:
    for name in required:
        if name not in names:
            yield Problem(file, f"line {line}", f"the column {name}", "a header without it",
                          f"add the column {name}")


def _nameless(
    file: str, header: list[str], body: list[tuple[int, list[str]]]
) -> Iterator[Problem]:
    """Report cells under no name; a spreadsheet may leave a column that is empty throughout."""
    nameless = [place for place, cell in enumerate(header) if not cell]
    for line, record in body:
        for place in nameless:
            if len(record) == len(header) and record[place]:
                yield Problem(file, f"line {line}, cell {place + 1}", "a column with a name",
                              f"{shown(record[place])} under an empty header cell",
                              "name the column or empty the cell")


# ---------------------------------------------------------------- the rows


def _rows(
    file: str, names: list[str], body: list[tuple[int, list[str]]]
) -> tuple[list[CsvRow], list[Problem]]:
    """Fit the records to the header."""
    rows: list[CsvRow] = []
    problems: list[Problem] = []
    for line, record in body:
        if len(record) != len(names):
            mend = ("put a text that holds the separator in quotes" if len(record) > len(names)
                    else "look for a missing separator")
            problems.append(Problem(file, f"line {line}", f"{len(names)} cells, as in the header",
                                    f"{len(record)} cells", mend))
            continue
        cells = {name: cell for name, cell in zip(names, record, strict=True) if name and cell}
        rows.append(CsvRow(line, cells))
    return rows, problems
