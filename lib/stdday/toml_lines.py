"""Where each key of a TOML text stands, so that a message can give the line.

`tomllib` gives no lines for values. This scanner walks a text that tomllib has already accepted;
its paths are compared with what tomllib read, and where the two do not agree it gives no line at
all rather than a wrong one.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

__all__ = ["KeyPath", "key_lines", "line_for", "path_text"]

#: Path of a key: names of tables and keys, and positions in arrays.
KeyPath = tuple[str | int, ...]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SCALAR = re.compile(r"[^,\]}#\n]*")
_STRINGS = (
    re.compile(r'"""(?:\\.|[^\\])*?"{3,5}(?!")', re.DOTALL),
    re.compile(r"'''.*?'{3,5}(?!')", re.DOTALL),
    re.compile(r'"(?:\\.|[^"\\\n])*"'),
    re.compile(r"'[^'\n]*'"),
)


def key_lines(text: str, parsed: dict[str, object]) -> dict[KeyPath, int]:
    r"""Find the line of every table, key and array item of a TOML text.

    Parameters
    ----------
    text : str
        The text as tomllib accepted it.
    parsed : dict
        What tomllib read from it.

    Returns
    -------
    dict of KeyPath to int
        Line [1-based] of each path; empty where the text is too unusual to be sure; never raises.

    Examples
    --------
    >>> import tomllib
    >>> text = '[a]\nb = [1,\n 2]\n"c d".e = { f = "x" }'
    >>> key_lines(text, tomllib.loads(text))[("a", "c d", "e", "f")]
    4
    """
    scanner = _Scanner(text.replace("\r\n", "\n"))
    try:
        scanner.document()
    except (_UnsureError, RecursionError):
        return {}
    if set(_paths(parsed)) != set(scanner.lines):
        return {}
    return scanner.lines


def line_for(lines: dict[KeyPath, int], path: KeyPath) -> int | None:
    """Find the line of a path or, for a key that is absent, of the table that lacks it.

    Parameters
    ----------
    lines : dict
        As `key_lines` gives it.
    path : KeyPath
        The path looked for.

    Returns
    -------
    int or None
        Line [1-based]; None where it is not known; never raises.

    Examples
    --------
    >>> line_for({("a",): 3}, ("a", "absent"))
    3
    """
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


def path_text(path: KeyPath) -> str:
    """Write a path as it would stand in the file.

    Parameters
    ----------
    path : KeyPath
        The path.

    Returns
    -------
    str
        Names joined by points, quoted where TOML needs it; positions of arrays, from 1, in
        brackets; never raises.

    Examples
    --------
    >>> path_text(("airfield", "my field", "runways", 0, "slope"))
    'airfield."my field".runways[1].slope'
    """
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            name = part if _BARE.fullmatch(part) else json.dumps(part, ensure_ascii=False)
            text += f".{name}" if text else name
    return text


def _paths(value: object, path: KeyPath = ()) -> Iterator[KeyPath]:
    """Walk every path of what tomllib read."""
    items: list[tuple[str | int, object]] = []
    if isinstance(value, dict):
        items = list(value.items())
    elif isinstance(value, list):
        items = list(enumerate(value))
    for name, inner in items:
        yield (*path, name)
        yield from _paths(inner, (*path, name))


class _UnsureError(Exception):
    """The text holds something that the scanner does not follow."""


class _Scanner:
    """Walk a TOML text once, noting the line of every path."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.place = 0
        self.counted = (0, 1)
        self.lines: dict[KeyPath, int] = {}
        self.arrays: dict[KeyPath, int] = {}

    def document(self) -> None:
        """Read headers and keys to the end."""
        table: KeyPath = ()
        self.blank()
        while self.place < len(self.text):
            if self.text[self.place] == "[":
                table = self.header()
            else:
                self.pair(table)
            self.blank()

    def line(self) -> int:
        """Line of the current place."""
        start, line = self.counted
        self.counted = (self.place, line + self.text.count("\n", start, self.place))
        return self.counted[1]

    def note(self, path: KeyPath) -> None:
        """Note the line of a path and of the tables it makes on the way."""
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], self.line())

    def blank(self) -> None:
        """Pass blanks, line ends and comments."""
        found = _BLANK.match(self.text, self.place)
        self.place = found.end() if found else self.place

    def expect(self, mark: str) -> None:
        """Pass one mark."""
        if not self.text.startswith(mark, self.place):
            raise _UnsureError
        self.place += len(mark)

    def header(self) -> KeyPath:
        """Read ``[table]`` or ``[[table]]``; gives its path."""
        double = self.text.startswith("[[", self.place)
        self.expect("[[" if double else "[")
        path: KeyPath = ()
        for part in self.key():
            path = (*path, part)
            if path in self.arrays:
                path = (*path, self.arrays[path])
        if double:
            path = self.array_table(path)
        self.note(path)
        self.lines[path] = self.line()
        self.expect("]]" if double else "]")
        return path

    def array_table(self, path: KeyPath) -> KeyPath:
        """Count one more table of an array of tables."""
        bare = path[:-1] if path and isinstance(path[-1], int) else path
        self.arrays[bare] = self.arrays.get(bare, -1) + 1
        return (*bare, self.arrays[bare])

    def pair(self, table: KeyPath) -> None:
        """Read ``key = value``."""
        path: KeyPath = (*table, *self.key())
        self.note(path)
        self.expect("=")
        self.value(path)

    def key(self) -> KeyPath:
        """Read a key, dotted or quoted."""
        parts = [self.key_part()]
        while self.text.startswith(".", self.place):
            self.place += 1
            parts.append(self.key_part())
        return tuple(parts)

    def key_part(self) -> str:
        """Read one part of a key."""
        self.blank()
        if self.text[self.place:self.place + 1] in ('"', "'"):
            raw = self.string()
            part = _unquoted(raw)
        else:
            found = _BARE.match(self.text, self.place)
            if found is None:
                raise _UnsureError
            part, self.place = found[0], found.end()
        self.blank()
        return part

    def string(self) -> str:
        """Read a quoted string of any of the four kinds."""
        for kind in _STRINGS:
            found = kind.match(self.text, self.place)
            if found:
                self.place = found.end()
                return found[0]
        raise _UnsureError

    def value(self, path: KeyPath) -> None:
        """Read a value, noting what is inside."""
        self.blank()
        mark = self.text[self.place:self.place + 1]
        if mark == "[":
            self.array(path)
        elif mark == "{":
            self.inline_table(path)
        elif mark in ('"', "'"):
            self.string()
        else:
            found = _SCALAR.match(self.text, self.place)
            self.place = found.end() if found else self.place

    def array(self, path: KeyPath) -> None:
        """Read an array."""
        self.expect("[")
        position = 0
        self.blank()
        while not self.text.startswith("]", self.place):
            self.note((*path, position))
            self.value((*path, position))
            self.blank()
            self.comma_or("]")
            position += 1
        self.expect("]")

    def inline_table(self, path: KeyPath) -> None:
        """Read an inline table."""
        self.expect("{")
        self.blank()
        while not self.text.startswith("}", self.place):
            self.pair(path)
            self.blank()
            self.comma_or("}")
        self.expect("}")

    def comma_or(self, end: str) -> None:
        """Pass a comma, or stand before the end."""
        if self.text.startswith(",", self.place):
            self.place += 1
            self.blank()
        elif not self.text.startswith(end, self.place):
            raise _UnsureError


def _unquoted(raw: str) -> str:
    """Text of a quoted key."""
    if raw.startswith("'"):
        return raw[1:-1]
    try:
        return str(json.loads(raw))
    except ValueError:
        raise _UnsureError from None
