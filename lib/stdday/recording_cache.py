"""Recordings that have been read, kept in the campaign's ``.cache`` folder.

An entry is one ``.npz`` file, read without pickle: the arrays, and everything else as JSON. Its
name is the fingerprint of all that the recording depends on: the files, the columns file, the facts
of the flight and the code that reads. An entry that is damaged is passed over and written anew, and
the folder may be deleted at any time.
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
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from stdday.errors import StddayError
from stdday.recording_types import Finding, FloatArray, Recording, RowAccount

__all__ = ["CacheEntry", "cache_key", "code_fingerprint", "prune_cache"]

_CODE = ("_arrays", "_ranges", "atmosphere", "channels", "columns", "columns_types", "unit_names",
         "units")
_ABANDONED_S = 3600.0
_DAMAGE = (OSError, EOFError, ValueError, KeyError, TypeError, AttributeError, StddayError,
           zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError)


@cache
def code_fingerprint() -> str:
    """Fingerprint of the code that reads recordings, and of the packages it reads with.

    Returns
    -------
    str
        SHA-256; another one makes every entry be read anew.

    Raises
    ------
    OSError
        The code cannot be read.

    Examples
    --------
    >>> len(code_fingerprint())
    64
    """
    folder = Path(__file__).parent
    files = sorted([folder / f"{name}.py" for name in _CODE] + [*folder.glob("recording*.py")])
    total = hashlib.sha256(f"numpy {np.__version__} pandas {pd.__version__}".encode())
    for file in files:
        total.update(file.name.encode() + hashlib.sha256(file.read_bytes()).digest())
    return total.hexdigest()


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
        except _DAMAGE:
            return None

    def save(self, recording: Recording) -> None:
        """Write the entry beside its place and put it there whole.

        A cache that cannot be written (a read-only or full disk) costs time, never a result, so
        that is passed over.

        Parameters
        ----------
        recording : Recording
            What to keep; never raises.
        """
        content = {f"channel_{place}": samples
                   for place, samples in enumerate(recording.channels.values())}
        meta = json.dumps(_meta(recording, self.key)).encode("utf-8")
        try:
            self.folder.mkdir(exist_ok=True)
            handle, name = tempfile.mkstemp(dir=self.folder, prefix=".writing-", suffix=".npz")
        except OSError:
            return
        try:
            with os.fdopen(handle, "wb") as file:
                np.savez(file, allow_pickle=False, time_s=recording.time_s,
                         meta=np.frombuffer(meta, dtype=np.uint8), **content)
            Path(name).replace(self.path)
        except OSError:
            Path(name).unlink(missing_ok=True)


def prune_cache(folder: Path, keys: Collection[str]) -> None:
    """Delete entries that no recording of the campaign has any more, so that the cache stays small.

    Parameters
    ----------
    folder : Path
        The cache.
    keys : collection of str
        Keys of the entries that stay; never raises.

    Examples
    --------
    >>> prune_cache(Path("no such folder"), [])
    """
    stay = {CacheEntry(folder, key).path.name for key in keys}
    long_ago = time.time() - _ABANDONED_S
    for path in [*folder.glob("recording-*.npz"), *folder.glob(".writing-*.npz")]:
        with contextlib.suppress(OSError):
            abandoned = path.name.startswith(".") and path.stat().st_mtime < long_ago
            if abandoned or (not path.name.startswith(".") and path.name not in stay):
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
        "findings": [[item.level, item.what, item.spoils] for item in recording.findings],
        "sources": [list(pair) for pair in recording.sources],
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
        tuple((name, sha256) for name, sha256 in meta["sources"]))
