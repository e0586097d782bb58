"""Columns proposed for any recording: which column is which channel, in which unit, and how sure.

Words, units, numbers and what columns say of each other are put together; one column is one
channel. Nothing is decided by the name of a product, and nothing proposed is used until a person
has confirmed it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from stdday.channels import CHANNELS
from stdday.columns_types import ColumnsFile, TimeSource, header_fingerprint
from stdday.propose_evidence import check_chosen, weigh
from stdday.propose_layout import Sheet, read_sheet
from stdday.propose_options import Option, options_of, words_of
from stdday.propose_time import find_time
from stdday.propose_types import (
    ChannelProposal,
    Column,
    Confidence,
    Layout,
    Proposal,
    RunnerUp,
)
from stdday.propose_units import split_unit
from stdday.propose_values import sentinels_of
from stdday.propose_words import north_of, side_of
from stdday.recording_bytes import load_bytes, unpack
from stdday.recording_header import Header, read_header

__all__ = ["header_of", "propose", "propose_bytes"]

FloatArray = NDArray[np.float64]

#: A channel is proposed from so many points on.
_LEAST = 2.4
#: Channels that an airplane may have one of on each side.
_ONE_A_SIDE = ("fuel_quantity", "fuel_flow", "engine_speed", "propeller_speed", "manifold_pressure",
               "power")
_SURE_MARGIN, _LIKELY_MARGIN = 1.5, 0.8


def propose(path: Path, name: str | None = None) -> Proposal:
    """Propose the columns of a recording.

    Parameters
    ----------
    path : Path
        The recording; packed or not, in any text encoding.
    name : str, optional
        Its name in messages; that of the file unless given.

    Returns
    -------
    Proposal
        One proposal a channel, with its reason, confidence and runners-up.

    Raises
    ------
    CampaignError
        It cannot be read, or no table can be seen in it.
    """
    said = path.name if name is None else name
    return propose_bytes(load_bytes(path, said), said)


def propose_bytes(raw: bytes, name: str) -> Proposal:
    r"""Propose the columns of a recording from its content.

    Parameters
    ----------
    raw : bytes
        Content of the file.
    name : str
        Its name in messages.

    Returns
    -------
    Proposal
        One proposal a channel, with its reason, confidence and runners-up.

    Raises
    ------
    CampaignError
        No table can be seen in it.

    Examples
    --------
    >>> rows = "".join(f"10:00:{n:02d},{60 + n % 40},29.92\n" for n in range(60))
    >>> proposal = propose_bytes(("UTC,IAS (kt),Baro\n" + rows).encode(), "one.csv")
    >>> [(item.channel, item.unit, item.confidence) for item in proposal.channels]
    [('indicated_airspeed', 'kt', 'sure'), ('altimeter_setting', 'inHg', 'likely')]
    """
    sheet = read_sheet(raw, name)
    header = header_of(sheet.layout, raw, name)
    names = _references(sheet, header.names)
    columns, marks = _cleaned(sheet.columns)
    timed = find_time(columns, lambda column: names[column.place], sheet.stride)
    usable = [column for column in columns
              if column.place not in timed.used and _is_numeric(column)]
    options = options_of(usable)
    seen = weigh(options, timed.seconds, bool(timed.proposal.columns))
    chosen = _assign(options)
    check_chosen(chosen, options, seen)
    made = [_channel(option, chosen, options, names, marks.get(option.column.place, ()))
            for option in chosen.values()]
    order = {channel: place for place, channel in enumerate(CHANNELS)}
    made.sort(key=lambda item: (order.get(item.channel, len(order)), item.channel))
    taken = {option.column.place for option in chosen.values()}
    unused = tuple(f"{names[column.place]}" for column in usable if column.place not in taken)
    fingerprint = header_fingerprint(header.names, header.units) \
        if len(sheet.layout.header_rows) == 1 else None
    return Proposal(name, sheet.layout, timed.proposal, tuple(made), sheet.missing, unused,
                    _notes(columns, sheet), sheet.rows, fingerprint)


def _is_numeric(column: Column) -> bool:
    """Whether a column holds numbers at most places that are filled."""
    known = column.known.size
    return known >= 3 and known >= 0.6 * column.filled


def _cleaned(columns: Sequence[Column]) -> tuple[list[Column], dict[int, tuple[str, ...]]]:
    """Take marks for a missing value out of the numbers, and say which they were."""
    made, marks = [], {}
    for column in columns:
        found = sentinels_of(column)
        if found:
            hit = np.isin(column.values, found)
            marks[column.place] = tuple(dict.fromkeys(str(cell) for cell in column.text[hit]))[:5]
            column = replace(column, values=np.where(hit, np.nan, column.values))
        made.append(column)
    return made, marks


def _references(sheet: Sheet, names: Sequence[str]) -> list[str]:
    """What a columns file calls each column: its name where that is plain and alone, else #7."""
    found = []
    for column in sheet.columns:
        said = names[column.place] if column.place < len(names) else ""
        plain = said and said.isprintable() and len(said) <= 80 and names.count(said) == 1 \
            and not said.startswith("#") and column.name
        found.append(said if plain else f"#{column.place + 1}")
    return found


def header_of(layout: Layout, raw: bytes, name: str) -> Header:
    r"""Read a header as the reader of recordings will.

    Parameters
    ----------
    layout : Layout
        How the recording is laid out.
    raw : bytes
        Its content.
    name : str
        Its name in messages.

    Returns
    -------
    Header
        Names and units.

    Raises
    ------
    CampaignError
        As `stdday.recording_header.read_header`.

    Examples
    --------
    >>> layout = Layout(",", ".", (1,), None, 1, None, None)
    >>> header_of(layout, b"Time,Airspeed\n1,2\n", "one.csv").names
    ('Time', 'Airspeed')
    """
    columns = ColumnsFile("", "", layout.delimiter, layout.decimal, layout.header_rows,
                          layout.unit_row, layout.comment, layout.encoding,
                          TimeSource((), "ISO 8601"), (), ())
    return read_header(unpack(raw, name), columns, name)[0]


# ---------------------------------------------------------------- one column one channel


def _assign(options: Sequence[Option]) -> dict[str, Option]:
    """Give each channel one column, so that together most speaks for it."""
    channels = sorted({option.channel.name for option in options})
    places = sorted({option.column.place for option in options})
    if not channels:
        return {}
    best: dict[tuple[str, int], Option] = {}
    for option in options:
        key = (option.channel.name, option.column.place)
        if key not in best or option.total > best[key].total:
            best[key] = option
    gain = np.zeros((len(channels), len(places)))
    for (channel, place), option in best.items():
        if option.total >= _LEAST and (option.word > 0.0 or option.extra >= 1.0
                                       or option.value >= 3.0):
            gain[channels.index(channel), places.index(place)] = option.total
    rows, cols = linear_sum_assignment(-gain)
    return {channels[row]: best[channels[row], places[col]]
            for row, col in zip(rows.tolist(), cols.tolist(), strict=True) if gain[row, col] > 0.0}


def _rivals(option: Option, chosen: dict[str, Option], options: Sequence[Option]) -> list[Option]:
    """Other columns for the same channel, and other channels for the same column."""
    held = {one.column.place: one for one in chosen.values()}
    found: list[Option] = []
    for one in options:
        same_channel = one.channel.name == option.channel.name
        same_column = one.column is option.column
        if same_channel == same_column or one.total < _LEAST - 1.0:
            continue
        if same_channel:
            better = held.get(one.column.place)
            if better is not None and better.total - one.total >= 1.0:
                continue
        else:
            better = chosen.get(one.channel.name)
            if better is not None and better.total - one.total >= 1.0:
                continue
        found.append(one)
    found.sort(key=lambda one: -one.total)
    first: dict[tuple[str, int], Option] = {}
    for one in found:
        first.setdefault((one.channel.name, one.column.place), one)
    return list(first.values())


def _same(one: Option, two: Option) -> bool:
    """Whether two columns hold the same numbers, perhaps in two units."""
    both = np.isfinite(one.inside) & np.isfinite(two.inside)
    if one.channel.name != two.channel.name or both.sum() < 10:
        return False
    apart = np.abs(one.inside[both] - two.inside[both])
    return bool(np.median(apart) <= 0.01 * max(float(np.ptp(one.inside[both])), 1e-9))


# ---------------------------------------------------------------- how sure


def _channel(
    option: Option, chosen: dict[str, Option], options: Sequence[Option], names: Sequence[str],
    marks: tuple[str, ...],
) -> ChannelProposal:
    """Describe a chosen reading: reason, confidence, runners-up, question."""
    rivals = [one for one in _rivals(option, chosen, options) if not _same(option, one)]
    margin = option.total - max((one.total for one in rivals), default=0.0)
    units = [one for one in options if one.column is option.column and one is not option
             and one.channel.name == option.channel.name] if option.how in ("guess",) else []
    confidence = _confidence(option, margin)
    runners = [RunnerUp(names[one.column.place], one.unit,
                        "; ".join([*([] if one.channel.name == option.channel.name else
                                     [f"as {one.channel.name}"]), *one.reasons[:2]]))
               for one in [*units, *rivals][:4]]
    offset = "1 g" if option.base == "normal_acceleration" and \
        abs(option.spread.middle) < 0.3 else None
    north = north_of(words_of(option.column)) if option.channel.reference else None
    reasons = [*option.reasons, *(f"BUT {text}" for text in option.against)]
    return ChannelProposal(
        option.channel.name, names[option.column.place], words_of(option.column)[:120],
        option.unit, north, offset, _marks(option, marks), "; ".join(reasons), confidence,
        tuple(runners), _question(option, confidence, rivals, units, names, north))


def _marks(option: Option, marks: tuple[str, ...]) -> tuple[str, ...]:
    """Marks for a missing value of one column; -1 is one for a direction."""
    known = option.column.known
    if option.base in ("track", "heading") and known.size and (known == -1.0).any() and \
            not ((known < 0.0) & (known != -1.0)).any():
        cells = option.column.text[option.column.values == -1.0]
        return (*marks, str(cells[0]))
    return marks


def _sided(option: Option) -> bool:
    """Whether a column is of one tank or engine only; an L in brackets is a litre."""
    words, _, where = split_unit(option.column.name)
    said = words if where == "bracket" else option.column.name
    return option.base in _ONE_A_SIDE and side_of(said or words_of(option.column))


def _confidence(option: Option, margin: float) -> Confidence:
    """Word for how sure a reading is."""
    sided = _sided(option)
    # a pressure that moves may be that of the air
    moves = option.base == "altimeter_setting" and option.value < 3.0
    open_ = option.how in ("open", "guess") or sided or moves
    if option.against or open_ or margin < _LIKELY_MARGIN:
        return "ask"
    placed = option.base not in ("latitude", "longitude") or option.extra >= 2.0
    if option.word >= 2.9 and option.how in ("given", "shown") and option.value >= 0.0 and \
            margin >= _SURE_MARGIN and placed:
        return "sure"
    shown = option.extra >= 2.0 and (
        option.word >= 1.0 or option.base in ("latitude", "longitude", "ground_speed"))
    if option.value > -1.4 and (option.word >= 2.0 or shown):
        return "likely"
    return "ask"


def _question(
    option: Option, confidence: Confidence, rivals: Sequence[Option], units: Sequence[Option],
    names: Sequence[str], north: str | None,
) -> str:
    """What a person must say."""
    name, column = option.channel.name, names[option.column.place]
    parts = []
    if confidence == "ask":
        parts.append(_doubt(option, rivals, units, names))
    if option.channel.reference and north is None:
        parts.append(f"Is {name} ({column!r}) true or magnetic?")
    return " ".join(parts)


def _doubt(
    option: Option, rivals: Sequence[Option], units: Sequence[Option], names: Sequence[str]
) -> str:
    """What makes a reading uncertain, as a question."""
    name, column = option.channel.name, names[option.column.place]
    if option.against:
        return f"Look at {column!r} as {name}: {option.against[0]}."
    if _sided(option):
        return (f"{column!r} may be of one tank or side only: is it {name} of the whole "
                f"airplane, in {option.unit}?")
    if option.how == "open":
        return f"Which gallon is that of {column!r}: US gal or imp gal?"
    if units:
        listed = " or ".join([option.unit, *(one.unit for one in units[:3])])
        return f"What is the unit of {column!r} ({name}): {listed}?"
    if rivals and rivals[0].column is not option.column:
        return f"Which column is {name}: {column!r} or {names[rivals[0].column.place]!r}?"
    other = f" or {rivals[0].channel.name}" if rivals else ""
    return f"Is {column!r} {name}{other}?"


def _notes(columns: Sequence[Column], sheet: Sheet) -> tuple[str, ...]:
    """What else was seen."""
    notes = []
    texty = [column for column in columns
             if column.known.size and 0.6 * column.filled <= column.known.size < column.filled]
    for column in texty[:5]:
        wrong = column.text[(column.text != "") & ~np.isfinite(column.values)]
        left = [cell for cell in wrong.tolist() if cell not in sheet.missing]
        if left:
            notes.append(f"column {column.place + 1} holds {len(left)} cells that are no numbers, "
                         f"such as {str(left[0])[:30]!r}")
    names = [column.name for column in columns if column.name]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        notes.append(f"names that occur more than once: {', '.join(n[:30] for n in twice[:5])}")
    return tuple(notes)
