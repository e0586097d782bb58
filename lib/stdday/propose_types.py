"""What a columns proposal is: a frozen record of what was guessed, why, and how sure it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["ChannelProposal", "Column", "Confidence", "Layout", "Proposal", "RunnerUp",
           "TimeProposal"]

#: How sure a proposal is; ``ask`` means that a person must choose.
Confidence = Literal["sure", "likely", "ask"]


@dataclass(frozen=True, eq=False)
class Column:
    """One column of a recording, as its header and a sample of its cells show it.

    Parameters
    ----------
    place : int
        Position from 0.
    name : str
        Name in the names row; may be blank.
    words : str
        All that the header says of it but its unit.
    unit : str
        Unit as it stands in the header; empty where there is none.
    unit_place : str
        Where the unit stands: ``row``, ``bracket``, ``suffix`` or empty.
    text : ndarray of object, shape (n,)
        Sampled cells, stripped.
    values : ndarray, shape (n,)
        The same as numbers [unit of the file]; NaN where none.
    """

    place: int
    name: str
    words: str
    unit: str
    unit_place: str
    text: NDArray[np.object_]
    values: NDArray[np.float64]

    @property
    def filled(self) -> int:
        """Cells that hold something."""
        return int((self.text != "").sum())

    @property
    def known(self) -> NDArray[np.float64]:
        """Numbers that are there."""
        return self.values[np.isfinite(self.values)]


@dataclass(frozen=True)
class Layout:
    """How the cells of a recording are laid out.

    Parameters
    ----------
    delimiter, decimal : str
        Separator of cells and mark of decimals.
    header_rows : tuple of int
        Lines that hold names, from 1.
    unit_row : int or None
        Line that holds units, from 1.
    depth : int
        Lines before the first row of data.
    comment : str or None
        What comment lines begin with.
    encoding : str or None
        Encoding that must be named; None where the bytes show it.
    facts : tuple of (str, str)
        Keys and values of a block of metadata above the names.
    """

    delimiter: str
    decimal: str
    header_rows: tuple[int, ...]
    unit_row: int | None
    depth: int
    comment: str | None
    encoding: str | None
    facts: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class RunnerUp:
    """Another column, or another reading of the same column, that a channel could be.

    Parameters
    ----------
    column : str
        Column as a columns file names it.
    unit : str
        Unit it would have.
    reason : str
        What speaks for it.
    """

    column: str
    unit: str
    reason: str


@dataclass(frozen=True)
class ChannelProposal:
    """Which column a channel is proposed to be.

    Parameters
    ----------
    channel : str
        Name of the channel.
    column : str
        Column as a columns file names it: its name, or ``#7``.
    header : str
        What the header says of it.
    unit : str
        Unit.
    reference : {"true", "magnetic", None}
        North of a direction, where the header says it.
    offset : str or None
        Offset of normal acceleration.
    missing : tuple of str
        Marks of its own for a missing value.
    reason : str
        What speaks for it, in words.
    confidence : {"sure", "likely", "ask"}
        How sure it is.
    runners_up : tuple of RunnerUp
        What else it could be, the best first.
    question : str
        What only a person can answer; empty where nothing is open.
    """

    channel: str
    column: str
    header: str
    unit: str
    reference: str | None
    offset: str | None
    missing: tuple[str, ...]
    reason: str
    confidence: Confidence
    runners_up: tuple[RunnerUp, ...]
    question: str


@dataclass(frozen=True)
class TimeProposal:
    """How the time of a row is proposed to be read.

    Parameters
    ----------
    columns : tuple of str
        Columns whose cells, joined by a blank, are the time; empty where there is none.
    format : str
        Format of a columns file.
    utc_offset : str or None
        Fixed offset from UTC, or ``airfield``.
    utc_offset_column : str or None
        Column of the offset.
    interval : str or None
        Time between two rows, where no column holds the time; it must be confirmed.
    reason : str
        What speaks for it.
    confidence : {"sure", "likely", "ask"}
        How sure it is.
    question : str
        What only a person can answer; empty where nothing is open.
    dated : bool
        Whether the date stands in the recording.
    """

    columns: tuple[str, ...]
    format: str
    utc_offset: str | None
    utc_offset_column: str | None
    interval: str | None
    reason: str
    confidence: Confidence
    question: str
    dated: bool


@dataclass(frozen=True)
class Proposal:
    """Columns proposed for a recording; nothing of it is used until a person confirms it.

    Parameters
    ----------
    file : str
        Name of the recording.
    layout : Layout
        How its cells are laid out.
    time : TimeProposal
        How its time is read.
    channels : tuple of ChannelProposal
        One a channel that was found, in the order of `stdday.channels.CHANNELS`.
    missing : tuple of str
        Marks that stand for a missing value.
    unused : tuple of str
        Columns that hold numbers and are proposed for nothing.
    notes : tuple of str
        What else was seen, in words.
    rows : int
        Rows of data in the file.
    fingerprint : str or None
        Fingerprint of the header, where one line of names and one of units make it.
    """

    file: str
    layout: Layout
    time: TimeProposal
    channels: tuple[ChannelProposal, ...]
    missing: tuple[str, ...]
    unused: tuple[str, ...]
    notes: tuple[str, ...]
    rows: int
    fingerprint: str | None = None

    @property
    def questions(self) -> tuple[str, ...]:
        """All that only a person can answer."""
        found = [self.time.question, *(item.question for item in self.channels)]
        return tuple(question for question in found if question)
