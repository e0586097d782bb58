"""Which columns hold the time of a row: date, clock and offset in any split, or seconds."""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from stdday.columns_types import parse_utc_offset
from stdday.propose_types import Column, Confidence, TimeProposal
from stdday.propose_words import tokens, zone_of

__all__ = ["TimeFound", "find_time"]

FloatArray = NDArray[np.float64]

_DATES = ("%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y",
          "%m-%d-%Y", "%d.%m.%y", "%d/%m/%y", "%m/%d/%y", "%d-%b-%Y", "%d %b %Y", "%d-%b-%y",
          "%d-%m-%y", "%m-%d-%y", "%Y%m%d")
_CLOCKS = ("%H:%M:%S", "%I:%M:%S %p", "%H:%M", "%H%M%S", "%H.%M.%S")
_SWAPPED = {"%d/%m/%Y": "%m/%d/%Y", "%d-%m-%Y": "%m-%d-%Y", "%d/%m/%y": "%m/%d/%y",
            "%d-%m-%y": "%m-%d-%y"}
_SWAPPED |= {other: one for one, other in _SWAPPED.items()}
_ISO = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d([.,]\d+)?)?\s*(Z|[+-]\d\d:?(\d\d)?)?")
_ZONED = re.compile(r".*\d(Z|\s*[+-]\d\d:?(\d\d)?)")
_OFFSET = re.compile(r"(?:UTC|GMT)?\s*[+-]\d{1,2}(?::?\d\d)?|UTC|Z")
_WORDS = frozenset(re.split(
    " ", "time zeit heure temps elapsed timestamp t sec seconds secs sekunden sekunde secondes "
    "seconde s clock uhr uhrzeit laufzeit ms millis epoch unix unixtime posix utc gmt stamp"))
_LOOKED_AT = 400


@dataclass(frozen=True, eq=False)
class TimeFound:
    """The time proposed, and what it uses.

    Parameters
    ----------
    proposal : TimeProposal
        The proposal.
    used : frozenset of int
        Columns that it uses, and other columns of times.
    seconds : ndarray, shape (n,)
        Time of the sampled rows from any zero [s]; row numbers where there is none.
    """

    proposal: TimeProposal
    used: frozenset[int]
    seconds: FloatArray


@dataclass(frozen=True)
class _Way:
    """One way to read the time."""

    columns: tuple[Column, ...]
    form: str
    dated: bool
    zone: str | None
    offset: Column | None = None
    swapped: bool = False
    rank: float = 0.0


def find_time(
    columns: Sequence[Column], name_of: Callable[[Column], str], stride: int = 1
) -> TimeFound:
    """Find the time of a row.

    Parameters
    ----------
    columns : sequence of Column
        Columns of a recording.
    name_of : callable
        What a columns file calls a column.
    stride : int
        Rows from one sampled row to the next [-].

    Returns
    -------
    TimeFound
        The best way to read it; an interval to be asked for where there is none; never raises.

    Examples
    --------
    >>> cells = np.array([f"10:00:{second:02d}" for second in range(30)], dtype=object)
    >>> clock = Column(0, "UTC", "UTC", "", "", cells, np.full(30, np.nan))
    >>> found = find_time([clock], lambda column: column.name)
    >>> found.proposal.format, found.proposal.dated, found.proposal.utc_offset
    ('%H:%M:%S', False, 'UTC')
    """
    kinds = {column.place: _kind(column) for column in columns}
    ways = [*_text_ways(columns, kinds), *_split_ways(columns), *_number_ways(columns)]
    timed = [(way, seconds) for way in ways
             if np.isfinite(seconds := _seconds(way)).mean() > 0.5 and _runs(seconds)]
    used = frozenset(place for place, kind in kinds.items() if kind)
    if not timed:
        count = columns[0].text.size if columns else 0
        return TimeFound(_asked(), used, np.arange(count, dtype=float) * stride)
    way, seconds = max(timed, key=lambda item: item[0].rank)
    used |= {column.place for column in way.columns}
    used |= {column.place for other, _ in timed for column in other.columns
             if other.form not in ("elapsed seconds",) or tokens(column.words)[0] & _WORDS}
    return TimeFound(_proposal(way, name_of), used, seconds)


def _asked() -> TimeProposal:
    """Ask for the interval of a recording without a time."""
    return TimeProposal((), "", None, None, "1 s", "no column holds a time", "ask",
                        "No column holds the time: how long is it from one row to the next? (1 s "
                        "is only a guess; recorders that say 1 s are often 2 to 5 % slow)", False)


def _proposal(way: _Way, name_of: Callable[[Column], str]) -> TimeProposal:
    """Describe a way in words."""
    names = tuple(name_of(column) for column in way.columns)
    said = " and ".join(repr(column.words or f"column {column.place + 1}")[:60]
                        for column in way.columns)
    reason = f"{said} read as {way.form}"
    question, confidence = "", "sure"
    if way.swapped:
        confidence = "ask"
        question = ("Every day and month of the date could be swapped: is it "
                    f"{way.form.split()[0]} or {_SWAPPED[way.form.split()[0]]}?")
    elif way.form == "elapsed seconds":
        confidence, reason = "likely", f"{said} counts up evenly: seconds from some start"
        question = "The recording has no clock: write the date of the flight in flights.csv."
    elif way.zone is None and way.offset is None:
        confidence = "likely"
        question = "Is its time UTC? If it is local time, write utc_offset, or \"airfield\"."
    elif way.zone == "local" and way.offset is None:
        confidence = "ask"
        question = ("Its time is local: write the airfield's time_zone in campaign.toml, or the "
                    "offset from UTC in utc_offset.")
    if not way.dated and way.form != "elapsed seconds":
        question += " The recording has no date: write that of the flight in flights.csv."
    numeric = way.form.split()[-1] in ("seconds", "milliseconds")
    fixed = None if numeric or way.offset is not None or way.zone == "own" else (
        "airfield" if way.zone == "local" else "UTC")
    offset = None if way.offset is None else name_of(way.offset)
    sure: dict[str, Confidence] = {"sure": "sure", "likely": "likely", "ask": "ask"}
    return TimeProposal(names, way.form, fixed, offset, None, reason, sure[confidence],
                        question.strip(), way.dated)


# ---------------------------------------------------------------- cells of text


def _some(column: Column) -> NDArray[np.object_]:
    """Filled cells, spread over the column."""
    filled = column.text[column.text != ""]
    return np.asarray(filled[:: max(1, filled.size // _LOOKED_AT)])


def _kind(column: Column) -> str:
    """Kind of a column of text: a stamp, a date, a clock, an offset, or nothing of it."""
    cells = _some(column)
    if not cells.size:
        return ""
    rules = {
        "iso": _ISO, "date": re.compile(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{2,4}"
                                        r"|\d{1,2}[- ][A-Za-z]{3}[- ]\d{2,4}"),
        "clock": re.compile(r"\d{1,2}:\d\d(:\d\d([.,]\d+)?)?( ?[AaPp][Mm])?"),
        "both": re.compile(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{2,4}[T ,]+\d{1,2}:\d\d(:\d\d([.,]\d+)?)?"
                           r"( ?[AaPp][Mm])?"),
    }
    for kind, rule in rules.items():
        if sum(rule.fullmatch(str(cell)) is not None for cell in cells) > 0.8 * cells.size:
            return kind
    return _packed_kind(column, cells)


def _packed_kind(column: Column, cells: NDArray[np.object_]) -> str:
    """Kind of a column whose cells are digits only, or offsets."""
    words, _ = tokens(column.words + " " + column.unit)
    if all(_OFFSET.fullmatch(str(cell)) and parse_utc_offset(str(cell)) is not None
           for cell in cells):
        named = words & {"offset", "ofst", "utcofst", "zone", "tz", "timezone", "utc", "zeitzone",
                         "decalage", "utcoffset", "diff", "fuseau", "gmt"}
        return "offset" if named else ""
    if words & {"date", "datum", "day", "dat", "utcdate"} and all(
            re.fullmatch(r"(19|20)\d{6}", str(cell)) for cell in cells):
        return "date"
    if words & (_WORDS | {"hhmmss"}) and all(
            re.fullmatch(r"([01]\d|2[0-3])[0-5]\d[0-5]\d([.,]\d+)?", str(cell)) for cell in cells):
        return "clock"
    return ""


def _text_ways(columns: Sequence[Column], kinds: dict[int, str]) -> list[_Way]:
    """Ways to read the time from cells of text."""
    of = {kind: [column for column in columns if kinds[column.place] == kind]
          for kind in ("iso", "date", "clock", "both", "offset")}
    ways: list[_Way] = []
    for column in of["iso"]:
        own = _ZONED.fullmatch(str(_some(column)[0])) is not None
        zone = "own" if own else zone_of(column.words)
        ways.append(_ranked(_Way((column,), "ISO 8601", True, zone,
                                 None if own or zone == "utc" else _first(of["offset"]))))
    for column in of["both"]:
        ways += _both_ways(column, _first(of["offset"]))
    for clock in of["clock"]:
        form = _clock_form(clock)
        if not form:
            continue
        zone = zone_of(clock.words)
        for date in of["date"]:
            ways += _date_ways(date, clock, form, _first(of["offset"]))
        ways.append(_ranked(_Way((clock,), form, False, zone,
                                 None if zone == "utc" else _first(of["offset"]))))
    return ways


def _first(columns: Sequence[Column]) -> Column | None:
    """First column, if there is one."""
    return columns[0] if columns else None


def _date_ways(date: Column, clock: Column, form: str, offset: Column | None) -> list[_Way]:
    """Ways to read a date and a clock beside each other."""
    one, two = zone_of(date.words), zone_of(clock.words)
    if one and two and one != two:
        return []        # a local date with a UTC clock is wrong around midnight
    zone = two or one
    found = _date_form(date, ".".join((date.words, clock.words)))
    if found is None:
        return []
    day, swapped = found
    if swapped and "%p" in form and day.startswith("%d"):
        day = _SWAPPED[day]        # who writes AM and PM mostly writes the month first; still asked
    used = None if zone == "utc" else offset
    return [_ranked(_Way((date, clock), f"{day} {form}", True, zone, used, swapped))]


def _both_ways(column: Column, offset: Column | None) -> list[_Way]:
    """Ways to read a date and a clock in one cell."""
    cells = [re.split(r"([T ,]+)", str(cell), maxsplit=1) for cell in _some(column)]
    whole = [parts for parts in cells if len(parts) == 3]
    if not whole:
        return []
    days = np.array([parts[0] for parts in whole], dtype=object)
    clocks = np.array([parts[2] for parts in whole], dtype=object)
    blank = np.full(days.size, np.nan)
    found = _date_form(Column(0, "", "", "", "", days, blank), column.words)
    form = _clock_form(Column(0, "", "", "", "", clocks, blank))
    if found is None or not form:
        return []
    zone = zone_of(column.words)
    used = None if zone == "utc" else offset
    return [_ranked(_Way((column,), f"{found[0]}{whole[0][1]}{form}", True, zone, used, found[1]))]


def _clock_form(column: Column) -> str:
    """Format of a column of clocks; empty where none fits."""
    cells = [re.sub(r"(\d)[.,]\d+(\D*)$", r"\1\2", str(cell)) if ":" in str(cell)
             else re.sub(r"[.,]\d+$", "", str(cell)) for cell in _some(column)]
    return next((form for form in _CLOCKS if _share(cells, form) > 0.9), "")


def _date_form(column: Column, words: str) -> tuple[str, bool] | None:
    """Format of a column of dates, and whether day and month could be swapped."""
    cells = [str(cell) for cell in _some(column)]
    fits = [form for form in _DATES if _share(cells, form) > 0.9
            and not (form.endswith("%y") and re.search(r"\d{4}$", cells[0]))]
    if not fits:
        return None
    form = fits[0]
    return form, _SWAPPED.get(form) in fits and any(_differ(cell) for cell in cells)


def _differ(cell: str) -> bool:
    """Whether day and month of a date are not the same number."""
    parts = re.split(r"[-/.]", cell)
    return len(parts) == 3 and parts[0] != parts[1]


def _share(cells: Sequence[str], form: str) -> float:
    """Share of cells that a format reads."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        read = pd.to_datetime(pd.Series(list(cells), dtype=object), format=form, errors="coerce")
    return float(read.notna().mean()) if len(cells) else 0.0


# ---------------------------------------------------------------- numbers


_SPLIT = {
    "%Y": (frozenset({"year", "jahr", "annee", "an", "yyyy", "yr"}), 1980, 2100),
    "%m": (frozenset({"month", "monat", "mois", "mon"}), 1, 12),
    "%d": (frozenset({"day", "tag", "jour", "dd"}), 1, 31),
    "%H": (frozenset({"hour", "hours", "stunde", "heure", "hh", "hr", "std", "h"}), 0, 23),
    "%M": (frozenset({"minute", "minutes", "min", "mm", "minuten"}), 0, 59),
    "%S": (frozenset({"second", "seconds", "sec", "sekunde", "seconde", "ss", "s", "secs",
                      "sekunden", "secondes"}), 0, 60),
}


def _split_ways(columns: Sequence[Column]) -> list[_Way]:
    """Ways to read hours, minutes and seconds that stand in columns of their own."""
    parts: dict[str, Column] = {}
    for form, (names, low, high) in _SPLIT.items():
        for column in columns:
            known = column.known
            if (form not in parts and known.size and tokens(column.words)[0] & names
                    and known.min() >= low and known.max() <= high
                    and (form == "%S" or bool((known % 1 == 0).all()))):
                parts[form] = column
    apart = len({column.place for column in parts.values()}) == len(parts)
    if not {"%H", "%M", "%S"} <= parts.keys() or not apart:
        return []
    dated = {"%Y", "%m", "%d"} <= parts.keys()
    forms = list(_SPLIT) if dated else ["%H", "%M", "%S"]
    chosen = tuple(parts[form] for form in forms)
    zone = next((zone for column in chosen if (zone := zone_of(column.words))), None)
    return [_ranked(_Way(chosen, " ".join(forms), dated, zone))]


def _number_ways(columns: Sequence[Column]) -> list[_Way]:
    """Ways to read the time from a number of seconds."""
    ways = []
    for column in columns:
        known = column.known
        if known.size < 3 or known.size < 0.9 * column.filled or not _counts(known):
            continue
        middle = float(np.median(np.abs(known)))
        words = tokens(column.words + " " + column.unit)[0]
        if 4e8 < middle < 4.1e9:
            ways.append(_ranked(_Way((column,), "epoch seconds", True, "own")))
        elif 4e11 < middle < 4.1e12:
            ways.append(_ranked(_Way((column,), "epoch milliseconds", True, "own")))
        elif (words & _WORDS and not words & {"ms", "millis", "min", "minutes", "h"}) or (
                not column.words and _even(known)):
            ways.append(_ranked(_Way((column,), "elapsed seconds", False, "own")))
    return ways


def _counts(known: FloatArray) -> bool:
    """Whether numbers nearly always grow, or nearly always fall."""
    steps = np.diff(known)
    up, down = float((steps >= 0).mean()), float((steps <= 0).mean())
    return max(up, down) > 0.97 and float((steps != 0).mean()) > 0.2


def _even(known: FloatArray) -> bool:
    """Whether numbers grow by nearly even steps, as a count of seconds does."""
    steps = np.diff(known)
    middle = float(np.median(steps))
    return 0.0 < middle <= 60.0 and float((np.abs(steps - middle) <= 0.35 * middle).mean()) > 0.8


# ---------------------------------------------------------------- ranking


def _ranked(way: _Way) -> _Way:
    """Rank a way: with a date, with a known zone, with whole seconds, few columns."""
    rank = 4.0 * way.dated + 2.0 * (way.zone in ("utc", "own") or way.offset is not None)
    rank += 1.0 * ("%S" in way.form or "second" in way.form or way.form == "ISO 8601")
    rank -= 1.5 * way.swapped + 0.1 * len(way.columns)
    rank -= 0.6 * (way.form == "elapsed seconds") - 0.3 * (way.form == "epoch seconds")
    rank += 0.05 * ("milliseconds" in way.form)
    return _Way(way.columns, way.form, way.dated, way.zone, way.offset, way.swapped, rank)


def _seconds(way: _Way) -> FloatArray:
    """Time of the sampled rows [s], from any zero."""
    if way.form.endswith("milliseconds"):
        return way.columns[0].values / 1000.0
    if way.form.endswith("seconds"):
        return way.columns[0].values
    joined = pd.Series(way.columns[0].text, dtype=object)
    for column in way.columns[1:]:
        joined = joined + " " + column.text
    rule = r"(:\d\d|\d{6}|\s\d{1,2})[.,](\d+)"
    parts = joined.str.extract(rule)[1]
    fraction = pd.to_numeric("0." + parts, errors="coerce").fillna(0.0).to_numpy(dtype=np.float64)
    joined = joined.str.replace(rule, r"\1", regex=True)
    form = "ISO8601" if way.form == "ISO 8601" else way.form
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        read = pd.to_datetime(joined, format=form, errors="coerce", utc=True)
    stamps = read.to_numpy(dtype="datetime64[us]")
    return np.where(np.isnat(stamps), np.nan, stamps.astype(np.int64) / 1e6 + fraction)


def _runs(seconds: FloatArray) -> bool:
    """Whether time moves on at all, mostly in one direction."""
    known = seconds[np.isfinite(seconds)]
    steps = np.diff(known)
    if not steps.size or not (steps != 0).any():
        return False
    return max(float((steps >= 0).mean()), float((steps <= 0).mean())) > 0.9
