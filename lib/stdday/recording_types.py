"""What a recording is once it has been read: samples, rows accounted for, findings in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from stdday.errors import CampaignError, Problem, StddayError

__all__ = ["SESSION_BREAK_S", "Finding", "FloatArray", "Recording", "RowAccount", "refused"]

#: A recorder that wrote nothing for longer than this [s] was switched off in between: the longest
#: gap met within one flight was 226 s.
SESSION_BREAK_S = 600.0

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Finding:
    """Something a person should know about a recording.

    Parameters
    ----------
    level : {"note", "caution"}
        ``note`` says how something was read; ``caution`` says that something is wrong.
    what : str
        What was found, with counts and places.
    spoils : str
        What it spoils; empty where it spoils nothing.
    sure : {"sure", "likely", "possible"}
        How sure it is: ``sure`` was counted, ``likely`` fits nothing else that is common,
        ``possible`` has other explanations as good.

    Examples
    --------
    >>> print(Finding("caution", "3 cells hold text", "those samples are missing"))
    3 cells hold text: those samples are missing
    >>> print(Finding("caution", "unit looks like ft", "heights are wrong", "likely"))
    unit looks like ft: heights are wrong (likely)
    """

    level: Literal["note", "caution"]
    what: str
    spoils: str = ""
    sure: Literal["sure", "likely", "possible"] = "sure"

    def __str__(self) -> str:
        """Give what was found, what it spoils and, where it is not sure, how sure it is."""
        text = f"{self.what}: {self.spoils}" if self.spoils else self.what
        return text if self.sure == "sure" else f"{text} ({self.sure})"


@dataclass(frozen=True)
class RowAccount:
    """Every row of the files of a recording, used or set aside with a reason.

    A row is a line after the header, whatever it holds.

    Parameters
    ----------
    in_file : int
        Rows in the files.
    used : int
        Rows whose samples are in the recording.
    set_aside : mapping of str to int
        Rows left out, by reason.

    Raises
    ------
    StddayError
        The rows do not add up (a fault of this program, never of the recording).

    Examples
    --------
    >>> account = RowAccount(10, 8, {"blank line": 2})
    >>> print(account)
    10 rows = 8 used + 2 blank line
    >>> print(account.plus(RowAccount(5, 4, {"blank line": 1})))
    15 rows = 12 used + 3 blank line
    """

    in_file: int
    used: int
    set_aside: Mapping[str, int]

    def __post_init__(self) -> None:
        """Refuse an account that does not add up."""
        if self.in_file != self.used + sum(self.set_aside.values()):
            raise StddayError(f"rows do not add up: {self}")

    def __str__(self) -> str:
        """Give the account as a sum."""
        parts = [f"{self.used} used"]
        parts += [f"{count} {reason}" for reason, count in self.set_aside.items()]
        return f"{self.in_file} rows = {' + '.join(parts)}"

    def plus(self, other: RowAccount) -> RowAccount:
        """Add the account of another file.

        Parameters
        ----------
        other : RowAccount
            Account of the other file.

        Returns
        -------
        RowAccount
            Both together; never raises.
        """
        reasons = dict(self.set_aside)
        for reason, count in other.set_aside.items():
            reasons[reason] = reasons.get(reason, 0) + count
        return RowAccount(self.in_file + other.in_file, self.used + other.used, reasons)


@dataclass(frozen=True, eq=False)
class Recording:
    """One flight as it was recorded, in SI on a strictly increasing UTC time base.

    Parameters
    ----------
    flight : str
        Id of the flight.
    time_s : ndarray, shape (n,)
        Seconds since 1970-01-01 UTC [s], strictly increasing.
    channels : mapping of str to ndarray, each of shape (n,)
        Samples by channel name, in the units of `stdday.channels.CHANNELS`; NaN where missing.
    track_reference, heading_reference : {"true", "magnetic", None}
        North that the direction is counted from; None where the columns file does not say.
    rows : RowAccount
        Every row of the files, used or set aside.
    findings : tuple of Finding
        What a person should know about the recording.
    sources : tuple of (str, str)
        Name and SHA-256 of each file.
    interval_sigma : float
        Standard uncertainty of every elapsed time, as a fraction of it [-], where rows were
        counted for want of a clock; 0 where there is one. It is one factor for the whole recording:
        every rate is divided by it, every time and every distance along the ground multiplied.
    """

    flight: str
    time_s: FloatArray
    channels: Mapping[str, FloatArray]
    track_reference: str | None
    heading_reference: str | None
    rows: RowAccount
    findings: tuple[Finding, ...]
    sources: tuple[tuple[str, str], ...] = field(default=())
    interval_sigma: float = 0.0

    @property
    def sessions(self) -> tuple[tuple[float, float], ...]:
        """First and last time [s] of each stretch that the recorder ran without a long break."""
        if not self.time_s.size:
            return ()
        breaks = np.flatnonzero(np.diff(self.time_s) > SESSION_BREAK_S)
        firsts = [0, *(breaks + 1).tolist()]
        lasts = [*breaks.tolist(), self.time_s.size - 1]
        return tuple((float(self.time_s[first]), float(self.time_s[last]))
                     for first, last in zip(firsts, lasts, strict=True))

    @property
    def interval_s(self) -> float:
        """Typical time between two samples [s]: the median; NaN for a single sample."""
        return float(np.median(np.diff(self.time_s))) if self.time_s.size > 1 else float("nan")


def refused(file: str, where: str, needed: str, found: str, mend: str) -> CampaignError:
    """Make the error for a recording that cannot be read.

    Parameters
    ----------
    file : str
        Name of the recording.
    where : str
        Line or column; may be empty.
    needed, found, mend : str
        What was needed, what was found, and how to mend it.

    Returns
    -------
    CampaignError
        With that one problem; never raises.

    Examples
    --------
    >>> print(refused("logs/one.csv", "", "text", "a picture", "export it as CSV"))
    logs/one.csv: needed text; found a picture. Mend: export it as CSV.
    """
    return CampaignError([Problem(file, where, needed, found, mend)])
