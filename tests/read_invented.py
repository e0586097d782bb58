"""Invented recordings read as one flight, for the tests of reading."""

from __future__ import annotations

from pathlib import Path

from stdday.columns import load_columns
from stdday.recording import FlightSource, Recording, read_source

# 2024-05-01 10:00 UTC: 19844 days after 1970-01-01 (54 years of 365 days, 13 leap days, 121 days)
TEN = 19_844 * 86_400.0 + 36_000.0
MIDNIGHT = TEN - 36_000.0
KT = 1852.0 / 3600.0
FT = 0.3048


def read(folder: Path, content: str | bytes | dict[str, str | bytes], columns: str,
         **facts: object) -> Recording:
    """Read files as one flight."""
    files = content if isinstance(content, dict) else {"one.csv": content}
    logs = []
    for name, data in files.items():
        path = folder / name
        path.write_bytes(data.encode() if isinstance(data, str) else data)
        logs.append((f"logs/{name}", path))
    (folder / "panel.toml").write_text(columns, encoding="utf-8")
    kinds = (load_columns(folder / "panel.toml"),) * len(logs)
    return read_source(FlightSource("F1", tuple(logs), kinds, **facts))  # type: ignore[arg-type]


def said(recording: Recording) -> str:
    """All findings as one text."""
    return "\n".join(str(finding) for finding in recording.findings)
