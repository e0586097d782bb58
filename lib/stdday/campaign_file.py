"""``campaign.toml`` as it stands on disk: what could be read, and everything wrong with it.

One fault never hides another: what could not be read is taken out, and the rest goes on to be
checked.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic.fields import FieldInfo

from stdday.campaign_tables import (
    SCHEMA,
    AirfieldTable,
    AirplaneTable,
    CampaignTable,
    CompareTable,
    ConfigurationTable,
    DecideTable,
    PropellerTable,
    ReferenceTable,
    RunwayTable,
    Table,
)
from stdday.errors import Problem
from stdday.names import nearest
from stdday.toml_lines import KeyPath, key_lines, line_for, path_text
from stdday.units import shown

__all__ = ["CAMPAIGN_FILE", "CampaignFile", "problem_line", "read_campaign_file"]

#: Name of the file in a campaign's folder.
CAMPAIGN_FILE = "campaign.toml"

_LARGEST_FILE = 5_000_000


@dataclass(frozen=True)
class CampaignFile:
    """What could be read from ``campaign.toml``, and how to speak of its places.

    Parameters
    ----------
    table : CampaignTable
        What could be read; whatever was wrong is None.
    raw : dict
        What the file says, as TOML.
    lines : dict
        Line of each key path, where known.
    """

    table: CampaignTable
    raw: dict[str, Any]
    lines: dict[KeyPath, int] = field(default_factory=dict)

    def names(self, table: str) -> tuple[str, ...]:
        """Names of the airplanes, configurations or airfields, whether or not they are sound."""
        found = self.raw.get(table)
        return tuple(found) if isinstance(found, dict) else ()

    def problem(
        self, path: KeyPath, needed: str, found: str, mend: str, *, cost: bool = False
    ) -> Problem:
        """Make the problem of a key path."""
        return Problem(CAMPAIGN_FILE, self.where(path), needed, found, mend,
                       "cost" if cost else "error")

    def where(self, path: KeyPath) -> str:
        """Say where a key path stands."""
        line = line_for(self.lines, path)
        return ", ".join(part for part in (f"line {line}" if line else "", path_text(path)) if part)


def read_campaign_file(folder: Path) -> tuple[CampaignFile | None, list[Problem]]:
    """Read ``campaign.toml`` and find everything wrong with its keys and values.

    Parameters
    ----------
    folder : Path
        Folder of the campaign.

    Returns
    -------
    CampaignFile or None
        What could be read; None where the file is absent or no TOML.
    list of Problem
        What is wrong, in the order of the file. Never raises for what is in the folder.

    Examples
    --------
    >>> read_campaign_file(Path("no such folder"))[1][0].needed
    'the file campaign.toml'
    """
    content, problem = _content(folder)
    if content is None:
        return None, [problem] if problem else []
    try:
        raw = tomllib.loads(content)
    except (ValueError, RecursionError) as error:
        return None, [_syntax_problem(error)]
    lines = key_lines(content, raw)
    kept, errors = _sound_part(raw)
    file = CampaignFile(kept, raw, lines)
    problems = [_problem(file, error) for error in errors]
    problems += list(_missing(file, {tuple(error["loc"]) for error in errors}))
    return file, sorted(problems, key=problem_line)


def problem_line(problem: Problem) -> float:
    """Line of a problem, for sorting.

    Parameters
    ----------
    problem : Problem
        The problem.

    Returns
    -------
    float
        The line [-]; infinity where it has none; never raises.

    Examples
    --------
    >>> problem_line(Problem("campaign.toml", "line 7, title", "a text", "5", "write it in quotes"))
    7.0
    """
    found = re.match(r"line (\d+)", problem.where)
    return float(found[1]) if found else float("inf")


# ---------------------------------------------------------------- the text


def _content(folder: Path) -> tuple[str | None, Problem | None]:
    """Read the text of the file."""
    path = folder / CAMPAIGN_FILE
    if not path.is_file():
        found = "no such folder" if not folder.is_dir() else "no such file in the folder"
        return None, Problem(CAMPAIGN_FILE, "", f"the file {CAMPAIGN_FILE}", found,
                             "give the folder of a campaign, or make one with "
                             "'python3 workbook new FOLDER'")
    try:
        data = path.read_bytes()
    except OSError as error:
        return None, Problem(CAMPAIGN_FILE, "", "a file that can be read",
                             error.strerror or "a fault of the disk", "check its permissions")
    if len(data) > _LARGEST_FILE:
        return None, Problem(CAMPAIGN_FILE, "", "a small text file", f"{len(data)} bytes",
                             "check that it is the right file")
    return _decoded(data)


def _decoded(data: bytes) -> tuple[str | None, Problem | None]:
    """Decode the file; TOML is always UTF-8."""
    try:
        return data.decode("utf-8-sig"), None
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        kind = "UTF-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "another encoding"
        where = "" if kind == "UTF-16" else f"line {line}"
        return None, Problem(CAMPAIGN_FILE, where, "text in UTF-8", kind,
                             "save the file again with the encoding UTF-8")


def _syntax_problem(error: Exception) -> Problem:
    """Say where TOML itself is broken."""
    message = str(error)
    found = re.search(r"\(at line (\d+), column (\d+)\)", message)
    where = f"line {found[1]}, column {found[2]}" if found else ""
    what = re.sub(r"\s*\(at [^)]*\)$", "", message).strip() or "a fault"
    if isinstance(error, RecursionError):
        what = "brackets nested too deep"
    elif "end of document" in message:
        where = "the end of the file"
    return Problem(CAMPAIGN_FILE, where, "well-formed TOML", what,
                   "check quotes, brackets, commas and that each key and table is written once")


# ---------------------------------------------------------------- keys and values


def _sound_part(raw: dict[str, Any]) -> tuple[CampaignTable, list[Any]]:
    """Read what can be read, and list the errors of the rest."""
    errors: list[Any] = []
    kept = raw
    while True:
        try:
            return CampaignTable.model_validate(kept), errors
        except ValidationError as error:
            found = error.errors(include_url=False)
        errors += found
        before = kept
        for one in found:
            kept = _without(kept, tuple(one["loc"]))
        if kept == before:              # a place that cannot be taken out: keep nothing
            kept = {}


def _without(value: Any, path: KeyPath) -> Any:
    """Copy a table without one path; a list that holds it goes as a whole."""
    name = path[0]
    if not isinstance(value, dict) or name not in value:
        return value
    rest = path[1:]
    inner = value[name]
    if rest and isinstance(inner, dict) and rest[0] in inner:
        return {**value, name: _without(inner, rest)}
    return {key: one for key, one in value.items() if key != name}


def _tables(raw: dict[str, Any]) -> Iterator[tuple[KeyPath, type[Table], dict[str, Any]]]:
    """Walk every table that has a model, with its path."""
    yield (), CampaignTable, raw
    yield from _inner((), raw, "reference", ReferenceTable)
    yield from _inner((), raw, "compare", CompareTable)
    yield from _inner((), raw, "decide", DecideTable)
    kinds: dict[str, type[Table]] = {
        "airplane": AirplaneTable, "configuration": ConfigurationTable, "airfield": AirfieldTable}
    for kind, model in kinds.items():
        found = raw.get(kind)
        if isinstance(found, dict):
            for name in found:
                yield from _inner((kind,), found, name, model)


def _inner(
    path: KeyPath, outer: dict[str, Any], name: str, model: type[Table]
) -> Iterator[tuple[KeyPath, type[Table], dict[str, Any]]]:
    """Walk one table and those inside it."""
    table = outer.get(name)
    if not isinstance(table, dict):
        return
    here: KeyPath = (*path, name)
    yield here, model, table
    if model is AirplaneTable:
        yield from _inner(here, table, "reference", ReferenceTable)
    if model is ConfigurationTable:
        yield from _inner(here, table, "propeller", PropellerTable)
    runways = table.get("runways") if model is AirfieldTable else None
    for place, runway in enumerate(runways if isinstance(runways, list) else ()):
        if isinstance(runway, dict):
            yield (*here, "runways", place), RunwayTable, runway


def _fields(model: type[Table]) -> dict[str, FieldInfo]:
    """Fields of a model by their key in the file."""
    return {info.alias or name: info for name, info in model.model_fields.items()}


def _missing(file: CampaignFile, faulty: set[KeyPath]) -> Iterator[Problem]:
    """Report the required keys that are absent."""
    for path, model, table in _tables(file.raw):
        optional = len(path) == 3 and path[2] == "reference"
        for key, info in _fields(model).items():
            extra = info.json_schema_extra
            required = isinstance(extra, dict) and extra.get("required") is True
            empty = key in table and table[key] in ({}, [])
            absent = key not in table or (empty and (*path, key) not in faulty)
            if absent and required and not optional:
                yield file.problem((*path, key), str(info.description), "nothing",
                                   _how_to_write(path, key, info))


def _how_to_write(path: KeyPath, key: str, info: FieldInfo) -> str:
    """Say how a key is written."""
    example = (info.examples or [""])[0]
    if example:
        return f"write {key} = {example}, with your own value"
    name = path_text((*path, key))
    named = {"airplane": "airplane.one", "configuration": "configuration.A"}
    return f"write a table [{named.get(name, name)}]"


def _problem(file: CampaignFile, error: Any) -> Problem:
    """Turn one error of pydantic into a problem."""
    path: KeyPath = tuple(error["loc"])
    info = _info(file.raw, path)
    words = str(info.description) if info else "a value"
    kind, value = error["type"], error["input"]
    if kind == "campaign":
        parts = error["ctx"]
        mend = parts["mend"]
        if mend == "fill it in" and info:
            mend = f"fill it in, such as {(info.examples or [''])[0]}"
        needed = f"{words}, {parts['needed']}" if info else parts["needed"]
        return file.problem(path, needed, parts["found"], mend)
    if kind == "extra_forbidden":
        return _unknown_key(file, path)
    if kind == "value_error":
        return file.problem(path, f"the version of the format, {SCHEMA}", shown(value),
                            f"write schema = {SCHEMA}; another version needs another workbook")
    needed = {"list_type": "values in square brackets", "model_type": "a table",
              "dict_type": "a table", "model_attributes_type": "a table"}
    return file.problem(path, f"{words}, {needed.get(kind, 'something else')}", shown(value),
                        _how_to_write(path[:-1], str(path[-1]), info) if info else "write a table")


def _info(raw: dict[str, Any], path: KeyPath) -> FieldInfo | None:
    """Find the declaration of a key, or of the list that an item is in."""
    models = {here: model for here, model, _ in _tables(raw)}
    for cut in (len(path) - 1, len(path) - 2):
        if cut >= 0 and path[:cut] in models and path[cut] in _fields(models[path[:cut]]):
            return _fields(models[path[:cut]])[str(path[cut])]
    return None


def _unknown_key(file: CampaignFile, path: KeyPath) -> Problem:
    """Report a key that is not known, with the nearest that is."""
    models = {here: model for here, model, _ in _tables(file.raw)}
    known = list(_fields(models[path[:-1]])) if path[:-1] in models else []
    table = f"[{path_text(path[:-1])}]" if len(path) > 1 else "the file"
    near = nearest(str(path[-1]), known)
    others = f"leave it out; known are {', '.join(known)}"
    mend = f"write {near}, if that is meant" if near else others
    return file.problem(path, f"a key that {table} can hold", shown(str(path[-1])), mend)
