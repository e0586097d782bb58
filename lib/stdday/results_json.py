"""Results as one JSON text, written and read in pieces: memory holds some rows of it at a time."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Mapping
from typing import Any, TextIO

import pandas as pd

from stdday.results import Results

__all__ = ["SCHEMA", "in_slices", "read_json", "write_json"]

SCHEMA = 1
#: Rows of a table that are text at once [-].
ROWS_AT_ONCE = 2000
#: Characters read at once.
CHARACTERS_AT_ONCE = 1 << 18


def in_slices(table: pd.DataFrame) -> Iterator[pd.DataFrame]:
    """Divide a table into some rows at a time, the last of them fewer; one slice if it is empty.

    Parameters
    ----------
    table : DataFrame
        Any table.

    Yields
    ------
    DataFrame

    Examples
    --------
    >>> [len(part) for part in in_slices(pd.DataFrame({"a": range(4100)}))]
    [2000, 2000, 100]
    """
    for start in range(0, max(len(table), 1), ROWS_AT_ONCE):
        yield table.iloc[start : start + ROWS_AT_ONCE]


def write_json(stream: TextIO, results: Results, made: Mapping[str, Any]) -> None:
    """Write results as JSON: schema, meta, provenance, and columns and rows of each table.

    Parameters
    ----------
    stream : text stream
        Where to.
    results : Results
        What to write.
    made : mapping
        What they rest on.
    """
    head = {"schema": SCHEMA, "meta": results.meta, "provenance": made}
    stream.write(_text(head)[:-1] + ',"tables":{')
    for place, (name, table) in enumerate(results.all_tables().items()):
        columns = _text(json.loads(table.iloc[:0].to_json(orient="split"))["columns"])
        stream.write(f'{"," if place else ""}{_text(name)}:{{"columns":{columns},"rows":[')
        for part_of, part in enumerate(in_slices(table)):
            rows = json.loads(part.to_json(orient="split", double_precision=12))["data"]
            stream.write(("," if part_of else "") + _text(rows)[1:-1])
        stream.write("]}")
    stream.write("}}\n")


def _text(value: object) -> str:
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False)


def read_json(stream: TextIO) -> dict[str, Any]:
    """Read what `write_json` wrote.

    Parameters
    ----------
    stream : text stream
        Where from.

    Returns
    -------
    dict
        Schema, meta and provenance, and data frames by name as ``tables``.

    Raises
    ------
    ValueError
        Where the text is no JSON object.

    Examples
    --------
    >>> import io
    >>> read_json(io.StringIO('{"schema":1,"tables":{"a":{"columns":["x"],"rows":[[2]]}}}'))
    {'schema': 1, 'tables': {'a':    x
    0  2}}
    """
    text = _Text(stream)
    return {
        key: {name: _table(text) for name in text.names()} if key == "tables" else text.value()
        for key in text.names()
    }


def _table(text: _Text) -> pd.DataFrame:
    """Read a table."""
    columns: list[str] = []
    parts = [pd.DataFrame()]
    for key in text.names():
        if key == "rows":
            parts = [pd.DataFrame(rows) for rows in _some_rows(text)]
        else:
            columns = text.value()
    table = _together(parts).reindex(columns=range(len(columns))).set_axis(columns, axis=1)
    return _typed(table)


def _together(parts: list[pd.DataFrame]) -> pd.DataFrame:
    """Put the parts of a table together, each column of the type that all of its values ask for."""
    parts = [part for part in parts if len(part)]
    if len(parts) < 2:
        return parts[0] if parts else pd.DataFrame()
    table = pd.concat(parts, ignore_index=True)
    for name in table.columns:
        if len({part[name].dtype for part in parts}) > 1:
            table[name] = pd.Series([value for part in parts for value in part[name].tolist()])
    return table


def _some_rows(text: _Text) -> Iterator[list[list[Any]]]:
    """Read rows, so many at a time; like texts are kept once."""
    rows: list[list[Any]] = []
    for row in text.items():
        rows.append([sys.intern(cell) if isinstance(cell, str) else cell for cell in row])
        if len(rows) == ROWS_AT_ONCE:
            yield rows
            rows = []
    yield rows


def _typed(table: pd.DataFrame) -> pd.DataFrame:
    """Columns that hold only blanks become numbers again."""
    for column in table.columns:
        values = table[column]
        if values.dtype == object and values.map(lambda v: v is None).all():
            table[column] = values.astype(float)
    return table


class _Text:
    """JSON text, value by value, of which little is held at a time."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._held, self._at = "", 0
        self._decoder = json.JSONDecoder()

    def _more(self, least: int = 0) -> bool:
        """Hold so many more characters; whether there were any left."""
        read = self._stream.read(max(least, CHARACTERS_AT_ONCE))
        self._held, self._at = self._held[self._at :] + read, 0
        return bool(read)

    def _next(self) -> str:
        """Character that stands next, blanks passed over; empty at the end."""
        while True:
            while self._held[self._at : self._at + 1].isspace():
                self._at += 1
            if self._at < len(self._held) or not self._more():
                return self._held[self._at : self._at + 1]

    def _mark(self, one_of: str) -> str:
        """Pass over a mark that must stand next."""
        found = self._next()
        if not found or found not in one_of:
            raise ValueError(f"one of {one_of!r} must come next; found {found!r}")
        self._at += 1
        return found

    def value(self) -> Any:
        """Read the value that stands next."""
        self._next()
        while True:
            try:
                found, end = self._decoder.raw_decode(self._held, self._at)
            except json.JSONDecodeError:
                if not self._more(len(self._held)):
                    raise
            else:
                if end < len(self._held) or not self._more():    # a number might go on
                    self._at = end
                    return found

    def items(self) -> Iterator[Any]:
        """Read a list, value by value."""
        self._mark("[")
        if self._next() == "]":
            self._mark("]")
            return
        while True:
            yield self.value()
            if self._mark(",]") == "]":
                return

    def names(self) -> Iterator[str]:
        """Read an object name by name; whoever asks reads the value of each before the next."""
        self._mark("{")
        if self._next() == "}":
            self._mark("}")
            return
        while True:
            key: str = self.value()
            self._mark(":")
            yield key
            if self._mark(",}") == "}":
                return
