"""Names that people give: whether they can be part of a file name, and what a slip may mean."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable

__all__ = ["id_fault", "nearest", "to_fill_in"]

#: Words that stand where a person has still to write something.
_PLACEHOLDERS = {"", "…", "...", "?", "fill in", "to fill in", "todo", "tbd"}
_RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)
_FORBIDDEN = '/\\:*?"<>|;='
_LONGEST_ID = 64


def nearest(word: str, known: Iterable[str], cutoff: float = 0.55) -> str | None:
    """Find the known word that a misspelt one is nearest to.

    Parameters
    ----------
    word : str
        What was found.
    known : iterable of str
        What would be right.
    cutoff : float
        Least likeness, 0 to 1 [-].

    Returns
    -------
    str or None
        The nearest, or None where none is near; never raises.

    Examples
    --------
    >>> nearest("wingarea", ["wing_area", "wing_span"])
    'wing_area'
    """
    folded = {one.casefold(): one for one in known}
    found = difflib.get_close_matches(word[:100].casefold(), folded, n=1, cutoff=cutoff)
    return folded[found[0]] if found else None


def to_fill_in(value: object) -> bool:
    """Whether a value is only a place to write in, such as ``"…"``.

    Parameters
    ----------
    value : object
        What was found.

    Returns
    -------
    bool
        True for a text that is blank or one of the marks of a new campaign; never raises.

    Examples
    --------
    >>> to_fill_in("…"), to_fill_in("600 kg")
    (True, False)
    """
    return isinstance(value, str) and value.strip().casefold() in _PLACEHOLDERS


def id_fault(name: str) -> str | None:
    """Say why a name cannot be part of a file name on every system.

    Parameters
    ----------
    name : str
        Name of a flight, configuration, airplane or airfield.

    Returns
    -------
    str or None
        What is wrong with it; None for a good name; never raises.

    Examples
    --------
    >>> id_fault("A-07"), id_fault("a/b"), id_fault("con")
    (None, 'it holds the mark /', 'the name is kept by one operating system for itself')
    """
    forbidden = [mark for mark in name if mark in _FORBIDDEN]
    hidden = [mark for mark in name if unicodedata.category(mark)[0] in "CZ" and mark != " "]
    checks = (
        (not name.strip(), "it is empty"),
        (len(name) > _LONGEST_ID, f"it is longer than {_LONGEST_ID} characters"),
        (bool(forbidden), f"it holds the mark {''.join(forbidden[:1])}"),
        (bool(hidden), "it holds a character that cannot be seen"),
        (name != name.strip(), "it begins or ends with a blank"),
        (name.startswith((".", "-")) or name.endswith("."),
         "it begins or ends with a point or dash"),
        (bool(_RESERVED.fullmatch(name)), "the name is kept by one operating system for itself"),
    )
    return next((fault for wrong, fault in checks if wrong), None)
