"""What kind of track a file holds, told from its content and never from its name."""

from __future__ import annotations

import re
from pathlib import Path

from stdday.errors import CampaignError
from stdday.recording_bytes import load_bytes, to_utf8, unpack

__all__ = ["GPX", "IGC", "NMEA", "is_track", "track_kind", "track_text"]

GPX, IGC, NMEA = "GPX", "IGC", "NMEA 0183"

#: How much of a file is looked at [bytes], and how many of its lines.
_LOOKED_AT, _LINES = 65_536, 200

_GPX = re.compile(r"\s*(?:<\?[^>]*\?>|<!--.*?-->|<!DOCTYPE[^\[>]*(?:\[.*?\]\s*)?>|\s)*"
                  r"<(?:[A-Za-z_][\w.-]*:)?gpx[\s>/]", re.DOTALL)
_NMEA = re.compile(r"\$(?:[A-Z]{2}[A-Z]{3}|P[A-Z]{3}\w*),")
_NMEA_WANTED = re.compile(r"\$[A-Z]{2}(?:RMC|GGA|VTG),")
_IGC_FIX = re.compile(r"B\d{6}\d{7}[NS]\d{8}[EW][AV](?:-\d{4}|\d{5})")
_IGC_DATE = re.compile(r"HFDTE(?:DATE)?:?\d{6}")


def track_kind(data: bytes) -> str:
    r"""Tell which kind of track the content of a file is.

    GPX is a document whose outermost element is ``gpx``; NMEA 0183 has sentences (``$GPRMC,…``) in
    most of its first lines; IGC has a fix record (``B``) or a date record (``HFDTE``) in them.

    Parameters
    ----------
    data : bytes
        Content of the file, unpacked.

    Returns
    -------
    str
        ``GPX``, ``IGC`` or ``NMEA 0183``; empty where it is none of them; never raises.

    Examples
    --------
    >>> track_kind(b'<?xml version="1.0"?><gpx version="1.1">')
    'GPX'
    >>> track_kind(b"$GPRMC,100000,A,5000.000,N,00800.000,E,0.0,,010524,,,A*50\r\n")
    'NMEA 0183'
    >>> track_kind(b"AXXX001\r\nHFDTE010524\r\nB1000005000000N00800000EA0010000148\r\n")
    'IGC'
    >>> track_kind(b"Date,Time,Airspeed\n2024-05-01,10:00:00,50\n")
    ''
    """
    head = track_text(data[:_LOOKED_AT], "")
    if _GPX.match(head):
        return GPX
    lines = [line.strip() for line in head.splitlines()[:_LINES] if line.strip()]
    if any(map(_NMEA_WANTED.match, lines)) and 2 * sum(map(bool, map(_NMEA.match, lines))) > len(
            lines):
        return NMEA
    if any(map(_IGC_FIX.match, lines)) or (
            lines and lines[0].startswith("A") and any(map(_IGC_DATE.match, lines))):
        return IGC
    return ""


def track_text(data: bytes, name: str) -> str:
    """Decode a track; what is no text becomes a mark that no reader takes for a number.

    Parameters
    ----------
    data : bytes
        Content of the file, unpacked.
    name : str
        Its name in messages.

    Returns
    -------
    str
        Text without byte order mark; never raises.

    Examples
    --------
    >>> track_text("<gpx/>".encode("utf-16"), "a.gpx")
    '<gpx/>'
    """
    text, _ = to_utf8(data, None, 1, name)
    return text.decode("utf-8", errors="replace").removeprefix("\ufeff")


def is_track(path: Path) -> bool:
    """Tell whether a file is a track, which needs no columns file.

    Parameters
    ----------
    path : Path
        The file; packed or not.

    Returns
    -------
    bool
        False also where it cannot be read (reading it says why); never raises.

    Examples
    --------
    >>> is_track(Path("no such file"))
    False
    """
    try:
        return bool(track_kind(unpack(load_bytes(path, path.name), path.name)))
    except CampaignError:
        return False
