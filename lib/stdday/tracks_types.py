"""What the reader of each kind of track hands over: its fixes, every row accounted for."""

from __future__ import annotations

from dataclasses import dataclass, field

from stdday.recording_types import Finding, FloatArray

__all__ = ["CUT_OFF", "DAMAGED", "NOT_VALID", "NO_CHECKSUM", "OTHER", "WRONG_CHECKSUM", "Fixes"]

#: Why rows of a track are set aside.
CUT_OFF = "last line without a line end"
DAMAGED = "damaged fix"
NOT_VALID = "fix marked as not valid"
OTHER = "record of another kind"
WRONG_CHECKSUM = "wrong checksum"
NO_CHECKSUM = "checksum missing"


@dataclass(frozen=True, eq=False)
class Fixes:
    """The fixes of a track as its file gives them.

    Parameters
    ----------
    file : str
        Name of the file.
    kind : str
        Kind of track, as `stdday.tracks_kind` names it.
    utc_s : ndarray, shape (n,)
        Time of each fix since 1970-01-01 UTC [s]; NaN where it has none.
    channels : dict of str to ndarray, each of shape (n,)
        What the file gives, by channel [units of `stdday.channels`]; NaN where missing.
    in_file : int
        Rows of the file: points of GPX, lines of IGC and NMEA.
    set_aside : dict of str to int
        Rows that are no fix, by reason: ``in_file`` is their sum and the number of fixes.
    dated : bool
        Whether the date stands in the file; else it is the flight's.
    findings : list of Finding
        What was found on the way.
    step_deg : float
        Step in which the file gives positions [deg]; NaN where the format does not say.
    """

    file: str
    kind: str
    utc_s: FloatArray
    channels: dict[str, FloatArray]
    in_file: int
    set_aside: dict[str, int]
    dated: bool = True
    findings: list[Finding] = field(default_factory=list)
    step_deg: float = float("nan")
