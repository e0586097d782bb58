"""From the bytes of a file to text: unpacked, in UTF-8, with one kind of line end.

A recording is untrusted: whatever its bytes are, the answer is text or an error that names
the file.
"""

from __future__ import annotations

import gzip
import io
import zipfile
import zlib
from pathlib import Path
from typing import IO

from stdday.errors import CampaignError
from stdday.recording_types import Finding, refused

__all__ = ["MOST_BYTES", "even_line_ends", "load_bytes", "to_utf8", "unpack"]

#: Largest recording that is read, unpacked [bytes]; a day at 50 Hz with 60 columns is half of it.
MOST_BYTES = 2 * 1024**3

_BOMS = (
    (b"\xef\xbb\xbf", "utf-8-sig"),
    (b"\xff\xfe\x00\x00", "utf-32"),
    (b"\x00\x00\xfe\xff", "utf-32"),
    (b"\xff\xfe", "utf-16"),
    (b"\xfe\xff", "utf-16"),
)
_LOOKED_AT = 4096


def load_bytes(path: Path, name: str) -> bytes:
    """Read a file as it is.

    Parameters
    ----------
    path : Path
        Where it is.
    name : str
        Its name in messages.

    Returns
    -------
    bytes
        Its content.

    Raises
    ------
    CampaignError
        The file is not there, cannot be read, or is too large.

    Examples
    --------
    >>> load_bytes(Path("no such file"), "logs/one.csv")
    Traceback (most recent call last):
    stdday.errors.CampaignError: logs/one.csv: needed a recording; found no such file. \
Mend: put it there, or mend the cell `log` in flights.csv.
    """
    try:
        if path.is_file() and path.stat().st_size > MOST_BYTES:
            raise _too_large(name)
        return path.read_bytes()
    except FileNotFoundError:
        raise refused(name, "", "a recording", "no such file",
                      "put it there, or mend the cell `log` in flights.csv") from None
    except OSError as error:
        raise refused(name, "", "a file that can be read", str(error.strerror),
                      "see that it is a file and that you may read it") from None


def unpack(raw: bytes, name: str) -> bytes:
    """Unpack a gzip file or a zip archive of one file; other bytes pass as they are.

    Parameters
    ----------
    raw : bytes
        Content of the file; what it is shows in its first bytes, whatever its name.
    name : str
        Its name in messages.

    Returns
    -------
    bytes
        Content, unpacked.

    Raises
    ------
    CampaignError
        The archive is damaged, locked, too large, or holds not exactly one file.

    Examples
    --------
    >>> unpack(gzip.compress(b"a,b"), "one.csv.gz"), unpack(b"a,b", "one.csv")
    (b'a,b', b'a,b')
    """
    if raw[:2] == b"\x1f\x8b":
        return _unpacked(gzip.GzipFile(fileobj=io.BytesIO(raw)), name)
    if raw[:4] == b"PK\x03\x04":
        return _unzipped(raw, name)
    return raw


def _unzipped(raw: bytes, name: str) -> bytes:
    """Unpack the one file of a zip archive."""
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            members = [item for item in archive.infolist() if not item.is_dir()]
            if len(members) != 1:
                raise refused(name, "", "a zip archive of one file", f"{len(members)} files",
                              "unpack it, and name each file in flights.csv")
            return _unpacked(archive.open(members[0]), name)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, OSError, ValueError):
        raise _damaged(name) from None


def _unpacked(stream: gzip.GzipFile | IO[bytes], name: str) -> bytes:
    """Read a compressed stream up to the largest size."""
    try:
        with stream as opened:
            data: bytes = opened.read(MOST_BYTES + 1)
    except (OSError, EOFError, zlib.error, zipfile.BadZipFile, NotImplementedError, RuntimeError):
        raise _damaged(name) from None
    if len(data) > MOST_BYTES:
        raise _too_large(name)
    return data


def to_utf8(data: bytes, encoding: str | None, header_depth: int, name: str
            ) -> tuple[bytes, list[Finding]]:
    """Turn text of any encoding into UTF-8.

    A byte order mark comes first, then the encoding that the columns file names, then what the
    header shows: UTF-16 has a zero in every other byte; what is not UTF-8 is read as Latin-1, and
    said so.

    Parameters
    ----------
    data : bytes
        Content of the recording.
    encoding : str or None
        Encoding that the columns file names.
    header_depth : int
        Lines before the first row of data.
    name : str
        The recording's name in findings.

    Returns
    -------
    tuple of (bytes, list of Finding)
        The text in UTF-8 without byte order mark; never raises.

    Examples
    --------
    >>> to_utf8("t;°C".encode("utf-16"), None, 1, "one.csv")[0].decode()
    't;°C'
    >>> to_utf8("t;°C".encode("latin-1"), None, 1, "one.csv")[1][0].what
    'one.csv is not UTF-8; read as Latin-1'
    """
    for mark, coding in _BOMS:
        if data.startswith(mark):
            return data.decode(coding, errors="replace").encode(), []
    if encoding is not None and encoding != "utf-8":
        return data.decode(encoding, errors="replace").encode(errors="replace"), []
    wide = _wide(data[:_LOOKED_AT])
    if encoding is None and wide is not None:
        return data.decode(wide, errors="replace").encode(), []
    head = b"\n".join(data[: 100 * _LOOKED_AT].split(b"\n")[: max(header_depth, 1)])
    try:
        head.decode("utf-8")
    except UnicodeDecodeError:
        if encoding is None and b"\0" not in head:
            note = Finding("note", f"{name} is not UTF-8; read as Latin-1")
            return data.decode("latin-1").encode(), [note]
    return data, []


def _wide(head: bytes) -> str | None:
    """Tell UTF-16 without a byte order mark by its zeros."""
    pairs = len(head) // 2
    even, odd = head[0:2 * pairs:2].count(0), head[1:2 * pairs:2].count(0)
    if pairs >= 4 and odd > 0.7 * pairs and even < 0.1 * pairs:
        return "utf-16-le"
    if pairs >= 4 and even > 0.7 * pairs and odd < 0.1 * pairs:
        return "utf-16-be"
    return None


def even_line_ends(data: bytes) -> bytes:
    r"""Turn every kind of line end into one line feed.

    A carriage return that stands alone in a file whose lines end otherwise stays: the row it is in
    is damaged and will be set aside.

    Parameters
    ----------
    data : bytes
        Text in UTF-8.

    Returns
    -------
    bytes
        The text; never raises.

    Examples
    --------
    >>> even_line_ends(b"a\r\nb\r\n"), even_line_ends(b"a\rb\r"), even_line_ends(b"a\rb\n")
    (b'a\nb\n', b'a\nb\n', b'a\rb\n')
    """
    if b"\r" not in data:
        return data
    if b"\n" not in data:
        return data.replace(b"\r", b"\n")
    return data.replace(b"\r\r\n", b"\n").replace(b"\r\n", b"\n")


def _damaged(name: str) -> CampaignError:
    """Make the error for an archive that cannot be unpacked."""
    return refused(name, "", "a whole gzip or zip file without a password",
                   "one that cannot be unpacked", "copy it again from the recorder, or unpack it")


def _too_large(name: str) -> CampaignError:
    """Make the error for a recording that is too large."""
    return refused(name, "", f"a recording of at most {MOST_BYTES // 1024**2} MB", "more",
                   "see that it is one flight, or cut it in files")
