"""GPX tracks: the document by expat, without anything of its own running; the points by gpxpy.

A track file is untrusted. Document types and entities are refused before anything is expanded,
nothing is fetched, and what stands outside of a point is passed over. Each point is handed to gpxpy
by itself, so that a damaged one costs that point and not the file.
"""

from __future__ import annotations

import datetime
import math
import re
from typing import Any, cast
from xml.etree.ElementTree import Element, SubElement
from xml.parsers import expat

import numpy as np
from gpxpy.gpx import GPXException, GPXTrackPoint
from gpxpy.gpxfield import gpx_fields_from_xml

from stdday.recording_types import Finding, refused
from stdday.tracks_kind import GPX, track_text
from stdday.tracks_types import DAMAGED, NOT_VALID, Fixes

__all__ = ["read_gpx"]

#: What is read of a point; longer text is none of these.
_WANTED = ("ele", "time", "speed", "course", "fix")
_LONGEST_TEXT = 64
_CUT_POINT = "point cut off by the end of the file"
_DECLARATION = re.compile(r"\s*<\?xml[^>]*\?>")
_ENCODING = re.compile(rb"<\?xml[^>]*encoding=[\"']([A-Za-z][\w.-]{0,40})[\"']")
_CODINGS = {"utf-8": "", "utf8": "", "us-ascii": "", "utf-16": "", "iso-8859-1": "latin-1",
            "latin-1": "latin-1", "windows-1252": "cp1252", "iso-8859-15": "iso-8859-15"}


def read_gpx(data: bytes, name: str) -> Fixes:
    """Read the track points of a GPX document.

    Altitude is above mean sea level, speed in m/s and course from true north, as the format has it;
    speed and course are taken from extensions too, whatever their prefix.

    Parameters
    ----------
    data : bytes
        Content of the file, unpacked.
    name : str
        Its name in messages.

    Returns
    -------
    Fixes
        One row a ``trkpt``, of all tracks and segments in the order of the file.

    Raises
    ------
    CampaignError
        It holds a document type or an entity, is no XML, or holds no track point.

    Examples
    --------
    >>> fixes = read_gpx(b'<gpx><trk><trkseg><trkpt lat="50.5" lon="8.25"><ele>150.5</ele>'
    ...                  b'<time>2024-05-01T10:00:00Z</time></trkpt></trkseg></trk></gpx>', "a.gpx")
    >>> fixes.utc_s, fixes.channels["latitude"], fixes.channels["gps_altitude"]
    (array([1.7145576e+09]), array([50.5]), array([150.5]))
    """
    reader = _Document(name)
    findings = reader.read(_decoded(data, name))
    if not reader.count:
        raise refused(name, "", "a track with points (trkpt)", "none",
                      "export the track that was recorded, not a route or waypoints")
    rows = [_row(point) for point in reader.points]
    good = [row for row in rows if isinstance(row, tuple)]
    set_aside = {reason: rows.count(reason) for reason in (DAMAGED, NOT_VALID) if reason in rows}
    if reader.count > len(rows):
        set_aside[_CUT_POINT] = reader.count - len(rows)
    table = np.array(good, dtype=np.float64).reshape(len(good), 6)
    channels = {"latitude": table[:, 1], "longitude": table[:, 2], "gps_altitude": table[:, 3],
                "ground_speed": table[:, 4], "track": np.radians(table[:, 5])}
    return Fixes(name, GPX, table[:, 0], channels, reader.count, set_aside, findings=findings)


def _decoded(data: bytes, name: str) -> str:
    """Text of the document: by its byte order mark, its own declaration, or as UTF-8."""
    declared = _ENCODING.match(data.lstrip()[:200])
    coding = _CODINGS.get(declared[1].decode("ascii").lower(), "") if declared else ""
    text = data.decode(coding, errors="replace") if coding else track_text(data, name)
    return _DECLARATION.sub("", text, count=1)


class _Document:
    """Gather the points of a document while expat goes through it."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.count = 0
        self.points: list[Element] = []
        self.point: Element | None = None
        self.depth = 0
        self.field = ""
        self.text = ""

    def read(self, text: str) -> list[Finding]:
        """Go through the document; what is read before a fault in it is kept, and said."""
        parser = expat.ParserCreate("utf-8")
        parser.buffer_text = True
        parser.StartDoctypeDeclHandler = self._refuse
        parser.EntityDeclHandler = self._refuse
        parser.ExternalEntityRefHandler = self._refuse
        parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._characters
        try:
            parser.Parse(text.encode("utf-8", errors="replace"), True)
        except expat.ExpatError as error:
            return [self._fault(error)]
        return []

    def _fault(self, error: expat.ExpatError) -> Finding:
        """Say where the document ends before its end; without any point it is refused."""
        why = expat.ErrorString(error.code) or "not well formed"
        if not self.points:
            raise refused(self.name, f"line {error.lineno}", "a whole GPX document",
                          f"a fault in its XML ({why}) before its first point",
                          "export it again") from None
        return Finding("caution", f"{self.name}: its XML is damaged or cut off in line "
                       f"{error.lineno} ({why})", "what stands behind it is lost; the points "
                       "before it are used")

    def _refuse(self, *_: object) -> int:
        raise refused(self.name, "", "a GPX document without a document type or entities", "one",
                      "export the track again; a track needs neither, and they can do harm")

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        local = tag.rpartition(":")[2]
        if self.point is None:
            if local == "trkpt":
                self.count += 1
                self.depth = 0
                self.point = Element("trkpt", {key: text[:_LONGEST_TEXT] for key, text in
                                               attributes.items() if key in ("lat", "lon")})
            return
        self.depth += 1
        direct = self.depth == 1
        known = local in _WANTED and (direct or local in ("speed", "course"))
        self.field = local if known and (direct or self.point.find(local) is None) else ""
        self.text = ""

    def _characters(self, text: str) -> None:
        if self.field and len(self.text) <= _LONGEST_TEXT:
            self.text += text[:_LONGEST_TEXT + 1]

    def _end(self, tag: str) -> None:
        if self.point is None:
            return
        if self.depth == 0:
            if tag.rpartition(":")[2] == "trkpt":
                self.points.append(self.point)
                self.point = None
            return
        self.depth -= 1
        if self.field:
            for old in self.point.findall(self.field):
                self.point.remove(old)
            SubElement(self.point, self.field).text = self.text.strip()
            self.field = ""


def _row(point: Element) -> tuple[float, ...] | str:
    """Time, latitude, longitude, altitude, speed and course; or why the point is set aside."""
    fix = point.find("fix")
    if fix is not None:
        if fix.text == "none":
            return NOT_VALID
        point.remove(fix)
    for child in list(point):
        if not child.text:
            point.remove(child)
    try:
        # as version 1.0, which has speed and course among the fields of a point; its own type of
        # a node is that of a text by mistake
        read: Any = gpx_fields_from_xml(GPXTrackPoint, cast(str, point), "1.0")
    except (GPXException, ValueError, OverflowError):
        return DAMAGED
    seconds = float("nan") if read.time is None else _utc_s(read.time)
    values = (read.latitude, read.longitude, read.elevation, read.speed,
              None if read.course is None or read.course < 0.0 else read.course)
    return (seconds, *(float("nan") if value is None or math.isinf(value) else float(value)
                       for value in values))


def _utc_s(moment: datetime.datetime) -> float:
    """Time of a point [s]; without a zone it is UTC, as the format has it."""
    zone = moment.utcoffset()
    plain = moment.replace(tzinfo=None)
    seconds = float((np.datetime64(plain, "us") - np.datetime64(0, "s")) / np.timedelta64(1, "us"))
    return seconds / 1e6 - (0.0 if zone is None else zone.total_seconds())
