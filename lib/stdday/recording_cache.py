"""Recordings that have been read, kept in the campaign's ``.cache`` folder.

An entry is one ``.npz`` file, read without pickle: the arrays, and everything else as JSON. Its
name is the fingerprint of all that the recording depends on: the files, the columns file, the facts
of the flight and the code. An entry that is damaged is passed over and written anew, and the folder
may be deleted at any time. What was found in recordings is kept beside them by `survey_cache`.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import tempfile
import time
import zipfile
import zlib
from collections.abc import Callable, Collection, Mapping
from dataclasses import astuple, dataclass
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from stdday.errors import StddayError
from stdday.recording_types import Finding, FloatArray, Recording, RowAccount

__all__ = ["DAMAGE", "CacheEntry", "cache_key", "code_fingerprint", "prune_cache", "write_whole"]

#: Packages whose version may change what is read or found.
_PACKAGES = ("gpxpy", "numpy", "pandas", "pint", "pygeomag", "pynmea2", "scipy")
#: Names of entries, and the beginning of the names of those that are being written.
_ENTRIES, _WRITING = ("recording-*.npz", "survey-*.json"), ".writing-"
_ABANDONED_S = 3600.0
#: What reading a damaged entry may raise.
DAMAGE = (OSError, EOFError, LookupError, ValueError, TypeError, AttributeError, StddayError,
          zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError)


@cache
def code_fingerprint() -> str:
    """Fingerprint of the package's code and of the packages that read and search recordings.

    Returns
    -------
    str
        SHA-256; another one makes every entry be made anew. All modules count, so that none that
        matters can be forgotten.

    Raises
    ------
    OSError
        The code cannot be read.

    Examples
    --------
    >>> len(code_fingerprint())
    64
    """
    total = hashlib.sha256(" ".join(map(_version, _PACKAGES)).encode())
    for file in sorted(Path(__file__).parent.glob("*.py")):
        total.update(file.name.encode() + hashlib.sha256(file.read_bytes()).digest())
    return total.hexdigest()


def _version(package: str) -> str:
    """Name and version of a package; the name alone where it is not installed."""
    try:
        return f"{package} {version(package)}"
    except PackageNotFoundError:
        return package


def cache_key(facts: Mapping[str, str]) -> str:
    """Key of an entry: the fingerprint of all that it depends on.

    Parameters
    ----------
    facts : mapping of str to str
        All that the recording depends on.

    Returns
    -------
    str
        SHA-256; never raises.

    Examples
    --------
    >>> cache_key({"a": "1", "b": "2"}) == cache_key({"b": "2", "a": "1"})
    True
    """
    return hashlib.sha256(json.dumps(dict(facts), sort_keys=True).encode()).hexdigest()


@dataclass(frozen=True)
class CacheEntry:
    """Place of one recording in the cache.

    Parameters
    ----------
    folder : Path
        The cache.
    key : str
        As `cache_key` gives it.

    Examples
    --------
    >>> CacheEntry(Path("no such folder"), "00").load() is None
    True
    """

    folder: Path
    key: str

    @property
    def path(self) -> Path:
        """File of the entry."""
        return self.folder / f"recording-{self.key[:40]}.npz"

    def load(self) -> Recording | None:
        """Read the entry.

        Returns
        -------
        Recording or None
            None where there is none, or it is damaged; never raises.
        """
        try:
            with np.load(io.BytesIO(self.path.read_bytes()), allow_pickle=False) as arrays:
                content = {name: arrays[name] for name in arrays.files}
            meta = json.loads(content["meta"].tobytes().decode("utf-8"))
            return _recording(meta, content) if meta["key"] == self.key else None
        except DAMAGE:
            return None

    def save(self, recording: Recording) -> None:
        """Write the entry, as `write_whole` does.

        Parameters
        ----------
        recording : Recording
            What to keep; never raises.
        """
        content = {f"channel_{place}": samples
                   for place, samples in enumerate(recording.channels.values())}
        meta = json.dumps(_meta(recording, self.key)).encode("utf-8")
        write_whole(self.path, lambda file: np.savez(
            file, allow_pickle=False, time_s=recording.time_s,
            meta=np.frombuffer(meta, dtype=np.uint8), **content))


def write_whole(path: Path, write: Callable[[BinaryIO], object]) -> None:
    """Write an entry beside its place and put it there whole.

    A cache that cannot be written (a read-only or full disk) costs time, never a result, so that
    is passed over.

    Parameters
    ----------
    path : Path
        Place of the entry; its folder is made.
    write : callable
        Told the open file to write to; never raises.
    """
    try:
        path.parent.mkdir(exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=_WRITING)
    except OSError:
        return
    try:
        with os.fdopen(handle, "wb") as file:
            write(file)
        Path(name).replace(path)
    except OSError:
        Path(name).unlink(missing_ok=True)


def prune_cache(folder: Path, stay: Collection[str]) -> None:
    """Delete entries that no flight of the campaign has any more, so that the cache stays small.

    Parameters
    ----------
    folder : Path
        The cache.
    stay : collection of str
        File names of the entries that stay; never raises.

    Examples
    --------
    >>> prune_cache(Path("no such folder"), [])
    """
    long_ago = time.time() - _ABANDONED_S
    for path in [found for pattern in _ENTRIES for found in folder.glob(pattern)]:
        with contextlib.suppress(OSError):
            if path.name not in stay:
                path.unlink()
    for path in folder.glob(f"{_WRITING}*"):
        with contextlib.suppress(OSError):
            if path.stat().st_mtime < long_ago:
                path.unlink()


def _meta(recording: Recording, key: str) -> dict[str, object]:
    """Everything of a recording but its arrays."""
    return {
        "key": key,
        "flight": recording.flight,
        "channels": list(recording.channels),
        "track_reference": recording.track_reference,
        "heading_reference": recording.heading_reference,
        "rows": [recording.rows.in_file, recording.rows.used, dict(recording.rows.set_aside)],
        "findings": [astuple(item) for item in recording.findings],
        "sources": [list(pair) for pair in recording.sources],
        "interval_sigma": recording.interval_sigma,
    }


def _recording(meta: dict[str, Any], content: dict[str, FloatArray]) -> Recording:
    """Make a recording from an entry; what does not fit together raises."""
    time_s = content["time_s"]
    channels = {name: content[f"channel_{place}"] for place, name in enumerate(meta["channels"])}
    if any(samples.shape != time_s.shape or samples.dtype != np.float64
           for samples in (time_s, *channels.values())):
        raise ValueError("arrays of different lengths")
    in_file, used, set_aside = meta["rows"]
    return Recording(
        str(meta["flight"]), time_s, channels, meta["track_reference"], meta["heading_reference"],
        RowAccount(in_file, used, set_aside),
        tuple(Finding(*item) for item in meta["findings"]),
        tuple((name, sha256) for name, sha256 in meta["sources"]), meta["interval_sigma"])
