"""A campaign begun from recordings: copies, proposed columns, flights with what the files tell."""

from __future__ import annotations

import csv
import datetime
import io
import re
import shutil
import tempfile
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from stdday.errors import StddayError
from stdday.flights import FLIGHT_COLUMNS, FLIGHTS_FILE
from stdday.look import Looked, look_at
from stdday.new_campaign import new_campaign_files, write_new_campaign
from stdday.propose_toml import columns_toml, harmless
from stdday.propose_types import Proposal

__all__ = ["NewFrom", "csv_cell", "file_name_fault", "write_campaign_from"]

_MOST_FILES = 2_000
_SAME_SHARE = 0.5
_STILL_MS = 3.0


@dataclass(frozen=True)
class NewFrom:
    """What was made of recordings.

    Parameters
    ----------
    flights : tuple of str
        One line a flight: id, date, recordings, columns.
    questions : tuple of str
        What only a person can answer, from the recordings.
    """

    flights: tuple[str, ...]
    questions: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class _Log:
    """One recording to be taken in."""

    path: Path
    looked: Looked
    start_s: float
    end_s: float
    columns: str = ""


@dataclass(frozen=True, eq=False)
class _Row:
    """One flight to be."""

    logs: tuple[_Log, ...]
    why_not: str = ""


def write_campaign_from(folder: Path, recordings: Sequence[Path]) -> NewFrom:
    """Begin a campaign from recordings: all of it, or nothing.

    Parameters
    ----------
    folder : Path
        The campaign; a folder that is not there yet, or is empty.
    recordings : sequence of Path
        Recordings of any kind; they are copied under their own names and left as they are.

    Returns
    -------
    NewFrom
        What was made, and what is still to be answered.

    Raises
    ------
    StddayError
        The folder is not empty, two recordings have one name, a name cannot be used, a recording
        cannot be read, or the disk refuses; nothing is written then.
    """
    _check_folder(folder)
    _check_names(recordings)
    logs = [_log(path) for path in recordings]
    logs, columns = _named_columns(sorted(logs, key=_order))
    rows = _rows(logs)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".new-campaign-", dir=folder.parent) as held:
            made = Path(held, "campaign")
            _write(made, logs, columns, rows)
            if folder.is_dir():
                folder.rmdir()
            made.rename(folder)
    except OSError as error:
        reason = error.strerror or "a fault of the disk"
        raise StddayError(f"{folder}: cannot be written ({reason}). Mend: choose another folder, or"
                          " free the place.") from error
    return _told(rows)


def _check_folder(folder: Path) -> None:
    """See that the folder is free."""
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise StddayError(f"{folder}: needed a folder for the new campaign; found a file. "
                          "Mend: give another name.")
    if folder.is_dir() and any(folder.iterdir()):
        raise StddayError(f"{folder}: needed an empty folder, or none; found files there, and "
                          "nothing was written. Mend: choose another folder.")


def file_name_fault(name: str) -> str:
    """Say why a recording cannot be taken in under its own name.

    Parameters
    ----------
    name : str
        Name of the file.

    Returns
    -------
    str
        What is wrong; empty for a good name; never raises.

    Examples
    --------
    >>> file_name_fault("flight 1.csv"), file_name_fault("=a|b.csv")
    ('', 'a name that begins with = reads as a formula in a spreadsheet')
    """
    if name[:1] in ("=", "+", "-", "@"):
        return f"a name that begins with {name[0]} reads as a formula in a spreadsheet"
    if any(unicodedata.category(sign)[0] == "C" for sign in name):
        return "it holds a character that cannot be seen"
    found = [sign for sign in name if sign in '|@\\/:*?"<>']
    if found:
        return (f"it holds the mark {found[0]}, which has a meaning of its own in flights.csv or "
                "in file names")
    if name != name.strip() or name in ("", ".", "..") or len(name) > 150:
        return "it is empty, too long, or begins or ends with a blank"
    return ""


def _check_names(recordings: Sequence[Path]) -> None:
    """See that each recording can keep its name."""
    if not 0 < len(recordings) <= _MOST_FILES:
        raise StddayError(f"--from needed 1 to {_MOST_FILES} recordings; found {len(recordings)}. "
                          "Mend: name the recordings after --from.")
    seen: dict[str, Path] = {}
    for path in recordings:
        said = harmless(str(path))
        fault = file_name_fault(path.name)
        if fault:
            raise StddayError(f"{said}: needed a file name that can stay as it is; found that "
                              f"{fault}. Mend: rename your file, and name it again.")
        key = unicodedata.normalize("NFC", path.name).casefold()
        if key in seen:
            raise StddayError(f"{said}: needed recordings with different names; found the same name"
                              f" in {harmless(str(seen[key]))}, and recordings are never renamed. "
                              "Mend: rename one of them yourself.")
        seen[key] = path


def _log(path: Path) -> _Log:
    """Look at one recording."""
    looked = look_at(path)
    if looked.proposal is not None and looked.columns is None:
        raise StddayError(f"{looked.name}: needed at least one column that is a channel; found "
                          "none. Mend: leave it out, and write its columns file by hand.")
    if looked.recording is None or not looked.recording.time_s.size:
        return _Log(path, looked, float("nan"), float("nan"))
    time = looked.recording.time_s
    return _Log(path, looked, float(time[0]), float(time[-1]))


def _order(log: _Log) -> tuple[bool, float, str]:
    """Order of recordings: by time where they are dated, then by name."""
    known = log.looked.dated and np.isfinite(log.start_s)
    return not known, log.start_s if known else 0.0, log.path.name


# ---------------------------------------------------------------- columns and flights


def _kind_key(proposal: Proposal) -> str:
    """What makes two recordings of one kind: layout, time and channels."""
    layout = replace(proposal.layout, facts=())
    channels = [(item.channel, item.column, item.unit, item.reference, item.offset)
                for item in proposal.channels]
    time = (proposal.time.columns, proposal.time.format, proposal.time.utc_offset,
            proposal.time.utc_offset_column)
    return repr((layout, time, channels, proposal.fingerprint))


def _named_columns(logs: Sequence[_Log]) -> tuple[list[_Log], dict[str, str]]:
    """One columns file a kind of recording."""
    known: dict[str, str] = {}
    texts: dict[str, str] = {}
    made = []
    for log in logs:
        proposal = log.looked.proposal
        if proposal is None:
            made.append(log)
            continue
        key = _kind_key(proposal)
        if key not in known:
            known[key] = "recorder" if not known else f"recorder_{len(known) + 1}"
            texts[known[key]] = columns_toml(proposal, log.looked.name)
        made.append(replace(log, columns=known[key]))
    return made, texts


def _rows(logs: Sequence[_Log]) -> list[_Row]:
    """One flight a recording; two of the same time are one flight, or are counted once."""
    rows: list[_Row] = []
    for log in logs:
        place = next((index for index, row in enumerate(rows)
                      if not row.why_not and _same_flight(row.logs[0], log)), None)
        if place is None:
            rows.append(_Row((log,)))
            continue
        kinds = {one.columns for one in (*rows[place].logs, log) if one.columns}
        if len(kinds) <= 1:
            rows[place] = replace(rows[place], logs=(*rows[place].logs, log))
        else:
            rows.append(_Row((log,), f"the same time as F{place + 1:02d}, from another recorder: "
                             "a flight counts once"))
    return rows


def _same_flight(one: _Log, two: _Log) -> bool:
    """Whether two dated recordings are mostly of the same time."""
    if not (one.looked.dated and two.looked.dated):
        return False
    shared = min(one.end_s, two.end_s) - max(one.start_s, two.start_s)
    shorter = min(one.end_s - one.start_s, two.end_s - two.start_s)
    return bool(shared > _SAME_SHARE * shorter > 0.0)


# ---------------------------------------------------------------- writing


def _write(made: Path, logs: Sequence[_Log], columns: dict[str, str], rows: Sequence[_Row]) -> None:
    """Write the whole campaign in a folder of its own."""
    write_new_campaign(made)
    for log in logs:
        shutil.copyfile(log.path, made / "logs" / log.path.name)
    if columns:
        (made / "columns" / "recorder.toml").unlink()
    for name, text in columns.items():
        (made / "columns" / f"{name}.toml").write_text(text, encoding="utf-8", newline="\n")
    (made / FLIGHTS_FILE).write_text(_flights(rows), encoding="utf-8", newline="")


def _flights(rows: Sequence[_Row]) -> str:
    """Text of flights.csv."""
    header = new_campaign_files()[FLIGHTS_FILE]
    held = io.StringIO()
    writer = csv.writer(held, lineterminator="\n")
    for place, row in enumerate(rows):
        cells = dict.fromkeys(FLIGHT_COLUMNS, "")
        looked = row.logs[0].looked
        cells |= {
            "flight": f"F{place + 1:02d}", "configuration": "A",
            "date": _date(row.logs[0]), "log": " | ".join(log.path.name for log in row.logs),
            "columns": next((log.columns for log in row.logs if log.columns), ""),
            "altimeter_setting": _setting(looked), "crew_note": _place(looked),
            "use": "no" if row.why_not else "", "why_not": row.why_not,
        }
        writer.writerow([csv_cell(cells[name]) for name in FLIGHT_COLUMNS])
    return header + held.getvalue()


def csv_cell(text: str) -> str:
    """Make a text harmless in a cell that a spreadsheet may open.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        On one line; a sign that begins a formula gets an apostrophe before it; never raises.

    Examples
    --------
    >>> csv_cell("=1+1"), csv_cell("F01")
    ("'=1+1", 'F01')
    """
    plain = harmless(text, 500)
    return f"'{plain}" if re.match(r"[=+\-@]", plain) else plain


def _date(log: _Log) -> str:
    """UTC date of a recording that has one."""
    if not log.looked.dated or not np.isfinite(log.start_s):
        return ""
    return datetime.datetime.fromtimestamp(log.start_s, datetime.UTC).date().isoformat()


def _setting(looked: Looked) -> str:
    """Altimeter setting that was recorded most [hPa]."""
    recording = looked.recording
    if recording is None or "altimeter_setting" not in recording.channels:
        return ""
    values = recording.channels["altimeter_setting"]
    known = np.round(values[np.isfinite(values)] / 100.0, 1)
    if not known.size:
        return ""
    each, counts = np.unique(known, return_counts=True)
    return f"{each[np.argmax(counts)]:.1f}"


def _place(looked: Looked) -> str:
    """Where it stood or was first seen, as a remark."""
    recording = looked.recording
    if recording is None or not {"latitude", "longitude"} <= recording.channels.keys():
        return ""
    latitude, longitude = recording.channels["latitude"], recording.channels["longitude"]
    speed = recording.channels.get("ground_speed", np.full(latitude.shape, np.nan))
    known = np.flatnonzero(np.isfinite(latitude) & np.isfinite(longitude))
    if not known.size:
        return ""
    still = known[speed[known] < _STILL_MS]
    at = int(still[0]) if still.size else int(known[0])
    north, east = float(latitude[at]), float(longitude[at])
    height = ""
    if "gps_altitude" in recording.channels and np.isfinite(recording.channels["gps_altitude"][at]):
        height = f", {recording.channels['gps_altitude'][at] / 0.3048:.0f} ft by satellite"
    word = "stood" if still.size else "first seen"
    return (f"{word} at {abs(north):.4f} {'N' if north >= 0 else 'S'} "
            f"{abs(east):.4f} {'E' if east >= 0 else 'W'}{height} (from the recording)")


def _told(rows: Sequence[_Row]) -> NewFrom:
    """Say what was made and what is open."""
    flights, questions = [], []
    for place, row in enumerate(rows):
        names = " and ".join(log.looked.name for log in row.logs)
        date = _date(row.logs[0]) or "no date in the recording"
        columns = next((f"columns {log.columns}" for log in row.logs if log.columns), "a track")
        why = f"; not used: {row.why_not}" if row.why_not else ""
        flights.append(f"F{place + 1:02d}: {date}: {names} ({columns}){why}")
        for log in row.logs:
            if log.looked.why_not:
                questions.append(f"{log.looked.name} cannot be read yet: {log.looked.why_not}")
            if log.looked.proposal is not None:
                questions += [f"{log.columns}: {harmless(question, 300)}"
                              for question in log.looked.proposal.questions]
    return NewFrom(tuple(flights), tuple(dict.fromkeys(questions)))
