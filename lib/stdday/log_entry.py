"""One entry of the cell ``log`` in flights.csv: a recording, and what to add to its times."""

from __future__ import annotations

import re

from stdday.errors import InputError
from stdday.units import UnitError, parse_quantity, shown

__all__ = ["parse_log"]

_ENTRY = re.compile(r"(.*\S)\s+@(.*)", re.DOTALL)
#: Furthest that a clock may be wrong [s]: thirty years, as satellite weeks begin anew after 19.6.
_FURTHEST_S = 30.0 * 366.0 * 86_400.0


def parse_log(text: str) -> tuple[str, float | None]:
    """Read one entry of the cell ``log``.

    Parameters
    ----------
    text : str
        Such as ``logs/a.gpx`` or ``logs/a.gpx @ +3.2 s``: 3.2 s are added to its times.

    Returns
    -------
    tuple of (str, float or None)
        Name of the recording, and what is added to its times [s]; None where nothing is said.

    Raises
    ------
    UnitError
        What follows the ``@`` is no time.

    Examples
    --------
    >>> parse_log("logs/a.gpx @ +3.2 s"), parse_log("logs/a.gpx @ -1 h"), parse_log("logs/a.csv")
    (('logs/a.gpx', 3.2), ('logs/a.gpx', -3600.0), ('logs/a.csv', None))
    >>> parse_log("logs/a.gpx @ soon")
    Traceback (most recent call last):
    stdday.units.UnitError: needed a time to add to those of the recording, with its unit; \
found 'soon'. Mend: write such as logs/a.gpx @ +3.2 s, or leave out what follows the name.
    """
    found = _ENTRY.fullmatch(text.strip())
    if found is None:
        return text.strip(), None
    name, written = found[1], found[2].strip()
    plain = re.sub(r"^[+](?![+-])\s*|^(-)\s*", r"\1", written.replace("\u2212", "-"))
    try:
        offset_s = parse_quantity(plain, "time")
    except InputError:
        offset_s = float("nan")
    if not abs(offset_s) <= _FURTHEST_S:
        raise UnitError("a time to add to those of the recording, with its unit", shown(written),
                        f"write such as {name[:60]} @ +3.2 s, or leave out what follows the name")
    return name, offset_s
