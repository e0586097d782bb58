"""The cache: what goes in comes out, damage is passed over, another input is another entry."""

from __future__ import annotations

import dataclasses
import os
import time
from pathlib import Path

import numpy as np
import pytest

from stdday.recording_cache import CacheEntry, cache_key, code_fingerprint, prune_cache
from stdday.recording_types import Finding, Recording, RowAccount


@pytest.fixture
def recording() -> Recording:
    time_s = 1.7e9 + np.arange(5.0)
    channels = {"pitch": np.array([0.1, np.nan, -0.0, 1e-300, 3.0]), "roll": np.zeros(5)}
    return Recording("F1", time_s, channels, "true", None,
                     RowAccount(7, 5, {"blank line": 1, "time goes back": 1}),
                     (Finding("note", "°ok", ""), Finding("caution", "no", "all", "possible")),
                     (("logs/a.csv", "00"),), 0.02)


def same(one: Recording, two: Recording) -> bool:
    return (
        one.time_s.tobytes() == two.time_s.tobytes()
        and list(one.channels) == list(two.channels)
        and all(one.channels[name].tobytes() == two.channels[name].tobytes()
                for name in one.channels)
        and all(getattr(one, field.name) == getattr(two, field.name)
                for field in dataclasses.fields(one) if field.name not in ("time_s", "channels"))
        and list(one.rows.set_aside) == list(two.rows.set_aside)
    )


def test_a_recording_comes_back_to_the_last_bit(tmp_path: Path, recording: Recording) -> None:
    entry = CacheEntry(tmp_path / ".cache", cache_key({"a": "1"}))
    assert entry.load() is None
    entry.save(recording)
    back = entry.load()
    assert back is not None
    assert same(recording, back)
    assert [path.name for path in entry.folder.iterdir()] == [entry.path.name]


def test_another_key_is_another_entry(tmp_path: Path, recording: Recording) -> None:
    entry = CacheEntry(tmp_path, cache_key({"a": "1"}))
    entry.save(recording)
    assert CacheEntry(tmp_path, cache_key({"a": "2"})).load() is None
    # an entry under a name that is not its own is not believed
    other = CacheEntry(tmp_path, cache_key({"a": "2"}))
    entry.path.rename(other.path)
    assert other.load() is None


def test_damage_at_any_place_is_passed_over_and_mended(
    tmp_path: Path, recording: Recording
) -> None:
    entry = CacheEntry(tmp_path, cache_key({}))
    entry.save(recording)
    whole = entry.path.read_bytes()
    for cut in range(0, len(whole), 97):
        entry.path.write_bytes(whole[:cut])
        assert entry.load() is None
    for place in range(0, len(whole), 37):
        entry.path.write_bytes(whole[:place] + bytes([whole[place] ^ 0x55]) + whole[place + 1:])
        back = entry.load()
        assert back is None or same(recording, back)
    entry.path.write_bytes(b"text")
    assert entry.load() is None
    entry.save(recording)
    assert entry.load() is not None


def test_pickled_arrays_are_not_read(tmp_path: Path) -> None:
    entry = CacheEntry(tmp_path, cache_key({}))
    np.savez(entry.path, time_s=np.array([{}], dtype=object), meta=np.zeros(1, dtype=np.uint8))
    assert entry.load() is None


def test_a_cache_that_cannot_be_written_costs_nothing(
    tmp_path: Path, recording: Recording
) -> None:
    (tmp_path / "file").write_text("")
    CacheEntry(tmp_path / "file", "00").save(recording)
    assert CacheEntry(tmp_path / "file", "00").load() is None


def test_entries_nobody_has_any_more_go(tmp_path: Path, recording: Recording) -> None:
    old, new = CacheEntry(tmp_path, cache_key({"a": "1"})), CacheEntry(tmp_path, cache_key({}))
    old.save(recording)
    new.save(recording)
    fresh, left = tmp_path / ".writing-1.npz", tmp_path / ".writing-2.npz"
    for path in (fresh, left, tmp_path / "other.txt"):
        path.write_text("")
    os.utime(left, (time.time() - 7200.0,) * 2)
    prune_cache(tmp_path, [new.path.name])
    assert {path.name for path in tmp_path.iterdir()} == {
        new.path.name, fresh.name, "other.txt"}


def test_the_code_is_part_of_the_key() -> None:
    assert code_fingerprint() == code_fingerprint()
    assert len(code_fingerprint()) == 64
