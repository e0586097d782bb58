"""Results on disk: built beside, put in place whole, remade only when an input changed.

This module alone writes results.  A run writes everything into ``results.new``, then swaps by
renaming; whichever step a machine stops at, either the old or the new results are whole, and the
next start completes the swap.
"""

from __future__ import annotations

import csv
import hashlib
import json
import platform
import shutil
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pandas as pd
from pandas.api.types import is_numeric_dtype

from stdday import __version__
from stdday.errors import StddayError
from stdday.results import Results
from stdday.results_json import SCHEMA, in_slices, read_json, write_json

__all__ = [
    "add_history", "fingerprints", "load_results", "recover", "save_results",
    "since_first_result", "up_to_date",
]  # fmt: skip

MARK = "provenance.json"
_TABLES = ("values", "effects", "pairs", "points", "corrections")
_INPUTS = ("campaign.toml", "flights.csv", "decisions.csv")
_INPUT_FOLDERS = ("logs", "columns", "cards")
_PACKAGES = ("numpy", "scipy", "pandas", "plotly", "pint", "pydantic")
#: First characters that make a spreadsheet take a cell for a formula.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def _sha256(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while block := stream.read(1 << 20):
            digest.update(block)
    return digest.hexdigest()


def code_fingerprint() -> str:
    """SHA-256 over the source files of the package, so that a new version remakes results."""
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parent.glob("*")):
        if path.suffix in {".py", ".html", ".css"}:
            digest.update(path.name.encode())
            digest.update(path.read_bytes().replace(b"\r\n", b"\n"))
    return digest.hexdigest()


def fingerprints(folder: Path) -> dict[str, str]:
    """SHA-256 of every input of a campaign.

    Parameters
    ----------
    folder : Path
        Campaign folder.

    Returns
    -------
    dict of str to str
        Fingerprint by name relative to the folder, in order.
    """
    found = [folder / name for name in _INPUTS if (folder / name).is_file()]
    for name in _INPUT_FOLDERS:
        found += [path for path in sorted((folder / name).rglob("*")) if path.is_file()]
    return {path.relative_to(folder).as_posix(): _sha256(path) for path in found}


def _lock_fingerprint() -> str:
    lock = Path(__file__).resolve().parents[2] / "requirements.lock"
    return _sha256(lock) if lock.is_file() else ""


def provenance(folder: Path) -> dict[str, Any]:
    """What a run rests on: inputs, versions and code, without paths, times or job count.

    Parameters
    ----------
    folder : Path
        Campaign folder.

    Returns
    -------
    dict
    """
    return {
        "made_by": "Standard Day",
        "schema": SCHEMA,
        "command": "run",
        "version": __version__,
        "code": code_fingerprint(),
        "lock": _lock_fingerprint(),
        "python": ".".join(platform.python_version_tuple()[:2]),
        "packages": {name: version(name) for name in _PACKAGES},
        "inputs": fingerprints(folder),
    }


def results_folder(folder: Path, out: Path | None = None) -> Path:
    """Folder of a campaign's results: ``results`` in it, or the one asked for."""
    return out if out is not None else folder / "results"


def _beside(target: Path, word: str) -> Path:
    return target.with_name(f"{target.name}.{word}")


def recover(target: Path) -> None:
    """Complete a swap that was interrupted, so that whole results stand in their place.

    Parameters
    ----------
    target : Path
        Results folder.
    """
    old, new = _beside(target, "old"), _beside(target, "new")
    if not target.exists():
        if (new / "complete").is_file():
            (new / "complete").unlink()
            new.rename(target)
        elif (old / MARK).is_file():
            old.rename(target)
    if _made_here(old) and target.exists():
        _remove(old)
    (target / "complete").unlink(missing_ok=True)


def _made_here(folder: Path) -> bool:
    return (folder / MARK).is_file()


def _remove(folder: Path) -> None:
    try:
        shutil.rmtree(folder)
    except OSError as error:
        raise StddayError(
            f"{folder.name}: cannot be replaced, since {error.filename} is held open by another "
            "program or write-protected. Mend: close that program, then run again."
        ) from error


def _swap(target: Path, new: Path, step: Callable[[str], None]) -> None:
    """Put new results in the place of old ones; `step` is told of each step (for tests)."""
    old = _beside(target, "old")
    if old.exists():
        _remove(old)
    step("old removed")
    if target.exists():
        try:
            target.rename(old)
        except OSError as error:
            raise StddayError(
                f"{target.name}: cannot be replaced ({error.strerror}); a program holds one of its "
                "files open. Mend: close the report and the tables, then run again."
            ) from error
    step("target moved")
    new.rename(target)
    step("new in place")
    (target / "complete").unlink()
    step("mark removed")
    if old.exists():
        _remove(old)
    step("done")


def _safe(value: object) -> object:
    """Keep a text from being taken for a formula by a spreadsheet."""
    if isinstance(value, str) and value.startswith(_FORMULA):
        return "'" + value
    return value


def _write_csv(path: Path, table: pd.DataFrame) -> None:
    texts = [name for name in table.columns if not is_numeric_dtype(table[name])]
    with path.open("w", encoding="utf-8", newline="") as stream:
        for place, part in enumerate(in_slices(table)):
            printed = part.assign(**{name: part[name].map(_safe) for name in texts})
            printed.to_csv(stream, header=place == 0, index=False, lineterminator="\n",
                           quoting=csv.QUOTE_MINIMAL)  # fmt: skip


def _write_pieces(path: Path, pieces: Iterable[str]) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        for piece in pieces:
            stream.write(piece)


def save_results(
    folder: Path,
    results: Results,
    report: Callable[[Results], Iterable[str]],
    out: Path | None = None,
    step: Callable[[str], None] = lambda _: None,
    made: Mapping[str, Any] | None = None,
) -> Path:
    """Write results beside the old ones and put them in place whole.

    Parameters
    ----------
    folder : Path
        Campaign folder.
    results : Results
        What to write.
    report : callable
        Makes the report's HTML text from results, in pieces.
    out : Path, optional
        Results folder, where not ``results`` in the campaign.
    step : callable, optional
        Told the name of each step of the swap.
    made : mapping, optional
        What the results rest on, as `provenance` told it before they were made; now, unless given.

    Returns
    -------
    Path
        The results folder.

    Raises
    ------
    StddayError
        Where a folder stands there that this program did not make, or a file is held open.
    """
    target = results_folder(folder, out)
    recover(target)
    if target.exists() and not _made_here(target) and any(target.iterdir()):
        raise StddayError(
            f"{target.name}: this folder was not made by a run and is not replaced. Mend: move it, "
            "or name another folder with --out."
        )
    new = _beside(target, "new")
    if new.exists():
        _remove(new)
    (new / "tables").mkdir(parents=True)
    made = provenance(folder) if made is None else made
    for name, table in results.all_tables().items():
        where = new if name in _TABLES else new / "tables"
        _write_csv(where / f"{name}.csv", table)
    with (new / "results.json").open("w", encoding="utf-8", newline="") as stream:
        write_json(stream, results, made)
    told = replace(results, meta=results.meta | {"provenance": made})
    _write_pieces(new / "report.html", report(told))
    mark = dict(made) | {"outputs": _outputs(new)}
    (new / MARK).write_bytes((json.dumps(mark, indent=1) + "\n").encode())
    (new / "complete").write_bytes(b"")
    step("written")
    if target.exists() and not any(target.iterdir()):
        target.rmdir()
    _swap(target, new, step)
    return target


def load_results(folder: Path, out: Path | None = None) -> Results:
    """Read the results of a campaign back.

    Parameters
    ----------
    folder : Path
        Campaign folder.
    out : Path, optional
        Results folder, where not ``results`` in the campaign.

    Returns
    -------
    Results

    Raises
    ------
    StddayError
        Where there are none, or they are of another schema.
    """
    target = results_folder(folder, out)
    recover(target)
    path = target / "results.json"
    if not path.is_file():
        raise StddayError(
            f"{target.name}: no results here yet. Mend: run the campaign first "
            "(python3 workbook run FOLDER)."
        )
    with path.open(encoding="utf-8", newline="") as stream:
        content = read_json(stream)
    if content.get("schema") != SCHEMA:
        raise StddayError(
            f"{path.name}: made by another version of the workbook (schema "
            f"{content.get('schema')}, needed {SCHEMA}). Mend: run the campaign again."
        )
    meta = content["meta"] | {"provenance": content["provenance"]}
    tables = content["tables"]
    core = {name: tables.pop(name) for name in Results.core_names()}
    return Results(meta=meta, **core, tables=tables)


def up_to_date(
    folder: Path, out: Path | None = None, made: Mapping[str, Any] | None = None
) -> bool:
    """Whether results stand there whole that rest on the present inputs, code and lock.

    Parameters
    ----------
    folder : Path
        Campaign folder.
    out : Path, optional
        Results folder, where not ``results`` in the campaign.
    made : mapping, optional
        The present `provenance`, where it is known.

    Returns
    -------
    bool
        False also where a file of the results is missing or was changed by hand.
    """
    target = results_folder(folder, out)
    recover(target)
    if not (target / MARK).is_file():
        return False
    try:
        old = json.loads((target / MARK).read_text(encoding="utf-8"))
    except ValueError:
        return False
    outputs = old.pop("outputs", None) if isinstance(old, dict) else None
    if made is None:
        # what changed since the first result is for a run alone to compare
        kept = ("first_result",) if isinstance(old, dict) and "first_result" in old else ()
        made = provenance(folder) | {name: old[name] for name in kept}
    return old == made and outputs == _outputs(target)


def _outputs(target: Path) -> dict[str, str]:
    """SHA-256 of every file of results but the one that keeps them."""
    found = (path for path in sorted(target.rglob("*")) if path.is_file() and path.name != MARK)
    return {path.relative_to(target).as_posix(): _sha256(path) for path in found}


def since_first_result(
    folder: Path, question: str, recordings: Mapping[str, str]
) -> dict[str, Any]:
    """Compare question and recordings with those of the first run in ``history.csv``.

    Parameters
    ----------
    folder : Path
        Campaign folder.
    question : str
        Present fingerprint of question, reference conditions and what matters.
    recordings : mapping of str to str
        Present fingerprint of each recording.

    Returns
    -------
    dict
        ``question``, whether it is another one; ``recordings_added``, ``recordings_changed`` and
        ``recordings_removed``, their names; ``words``, the same for a reader. A rerun with the same
        inputs gives the same, since only the first run counts. Never raises: a file that is no
        history counts as none.
    """
    first = _first_run(folder)
    asked, known = first if first else (question, _short(recordings))
    now = _short(recordings)
    found = {
        "question": asked != question,
        "recordings_added": sorted(set(now) - set(known)),
        "recordings_changed": sorted(n for n in set(now) & set(known) if now[n] != known[n]),
        "recordings_removed": sorted(set(known) - set(now)),
    }
    return found | {"words": _since_words(found)}


def _short(recordings: Mapping[str, str]) -> dict[str, str]:
    """Fingerprints as the history keeps them."""
    return {name: value[:16] for name, value in recordings.items()}


def _first_run(folder: Path) -> tuple[str, dict[str, str]] | None:
    """Question and recordings of the first run; None where there was none."""
    path = folder / "history.csv"
    lines = path.read_text(encoding="utf-8-sig").splitlines() if path.is_file() else []
    parts = lines[1].split(",", 2) if len(lines) > 1 else []
    if len(parts) < 3:
        return None
    pairs = (item.rpartition("=") for item in parts[2].strip('"').split(" | ") if "=" in item)
    return parts[1], {name: value for name, _, value in pairs}


def _since_words(found: Mapping[str, Any]) -> str:
    """What changed after the first result, for a reader; empty where nothing did."""
    parts = []
    if found["question"]:
        parts.append(
            "question, reference conditions or what matters changed after the first result"
        )
    for kind in ("added", "changed", "removed"):
        count = len(found[f"recordings_{kind}"])
        if count:
            some = "recording was" if count == 1 else "recordings were"
            parts.append(f"{count} {some} {kind} after the first result")
    if not parts:
        return ""
    return (
        "; ".join(parts) + " (by history.csv, which the owner keeps and could have changed: "
        "self-attested)"
    )


def add_history(folder: Path, question: str, recordings: Mapping[str, str]) -> None:
    """Add one line on this run to the campaign's ``history.csv``.

    Parameters
    ----------
    folder : Path
        Campaign folder.
    question : str
        Fingerprint of question, reference conditions and what matters.
    recordings : mapping of str to str
        Fingerprint of each recording.

    Raises
    ------
    StddayError
        Where the file cannot be written.
    """
    path = folder / "history.csv"
    header = ["run_at_utc", "question", "recordings"]
    known = path.read_text(encoding="utf-8") if path.is_file() else ",".join(header) + "\n"
    listed = " | ".join(f"{name}={value[:16]}" for name, value in recordings.items())
    line = f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ},{question},{listed}\n"
    temporary = path.with_suffix(".csv.new")
    try:
        temporary.write_text(known + line, encoding="utf-8", newline="\n")
        temporary.replace(path)
    except OSError as error:
        raise StddayError(
            f"history.csv: cannot be written ({error.strerror}). Mend: make the campaign folder "
            "writable, or close the program that holds the file."
        ) from error
