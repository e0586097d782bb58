"""Tables of ``campaign.toml`` whose keys are metrics, uncertainties or kinds of quantity."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from stdday.campaign_defaults import (
    DISPLAY_DEFAULTS,
    DISPLAY_DIMENSIONS,
    UNCERTAINTY_DEFAULTS,
)
from stdday.campaign_file import CampaignFile
from stdday.campaign_types import Between
from stdday.errors import Problem
from stdday.metrics import METRICS
from stdday.names import nearest, to_fill_in
from stdday.toml_lines import KeyPath
from stdday.units import UnitError, factor_to_si, known_units, parse_quantity, shown

__all__ = ["fuel_density", "read_display", "read_matters", "read_uncertainty"]

_BETWEEN = ("between_blocks", "between_flights")


def fuel_density(file: CampaignFile) -> float | None:
    """Find the density of the fuel, where all airplanes burn the same.

    Parameters
    ----------
    file : CampaignFile
        The file.

    Returns
    -------
    float or None
        Density [kg/m^3]; None where it is not the same, or not known; never raises.
    """
    found = {one.fuel_density for one in (file.table.airplane or {}).values()}
    return found.pop() if len(found) == 1 else None


def read_display(file: CampaignFile) -> tuple[dict[str, str], list[Problem]]:
    """Read the units of tables and figures.

    Parameters
    ----------
    file : CampaignFile
        The file.

    Returns
    -------
    dict of str to str
        Unit of each kind of quantity, given or by default.
    list of Problem
        What is wrong; never raises.
    """
    units, problems = dict(DISPLAY_DEFAULTS), []
    for key, unit in (file.table.display or {}).items():
        path: KeyPath = ("display", key)
        if key not in DISPLAY_DIMENSIONS:
            problems.append(_unknown(file, path, "a kind of quantity", DISPLAY_DIMENSIONS))
            continue
        dimension = DISPLAY_DIMENSIONS[key]
        if not isinstance(unit, str) or not unit.strip():
            problems.append(file.problem(
                path, f"a unit ({', '.join(known_units(dimension))})", shown(unit),
                f'write it in quotes, such as "{DISPLAY_DEFAULTS[key]}"'))
            continue
        try:
            factor_to_si(unit, dimension)
        except UnitError as error:
            problems.append(file.problem(path, error.needed, error.found, error.mend))
            continue
        for same in ("weight", "mass") if key in ("weight", "mass") else (key,):
            units[same] = unit.strip()
    return units, problems


def read_matters(file: CampaignFile) -> tuple[dict[str, float], list[Problem]]:
    """Read the differences that would matter.

    Parameters
    ----------
    file : CampaignFile
        The file.

    Returns
    -------
    dict of str to float
        By metric, in SI.
    list of Problem
        What is wrong or, for metrics that are not made yet, without effect; never raises.
    """
    values: dict[str, float] = {}
    problems: list[Problem] = []
    for name, text in (file.table.matters or {}).items():
        path: KeyPath = ("matters", name)
        if name not in METRICS:
            problems.append(_unknown(file, path, "the name of a metric", METRICS))
            continue
        value, problem = _amount(file, path, text, METRICS[name].dimension)
        if value == 0.0:
            problem = file.problem(path, "a difference above zero", shown(text),
                                   "write the least difference that would change your decision")
        if problem:
            problems.append(problem)
        elif value is not None:
            values[name] = value
        if not METRICS[name].made:
            problems.append(file.problem(path, "a metric that this version makes", shown(name),
                                         "keep it for a later version; it changes nothing now",
                                         cost=True))
    return values, problems


def read_uncertainty(file: CampaignFile) -> tuple[dict[str, Any], tuple[str, ...], list[Problem]]:
    """Read the uncertainties, given or by default.

    Parameters
    ----------
    file : CampaignFile
        The file.

    Returns
    -------
    dict
        As `Campaign.uncertainty`.
    tuple of str
        Keys that the campaign does not give.
    list of Problem
        What is wrong; never raises.
    """
    given, problems = _given(file)
    scalars = [key for key in UNCERTAINTY_DEFAULTS if "." not in key]
    values: dict[str, Any] = {key: _default(key)[1] for key in scalars}
    for table in _BETWEEN:
        keys = [key for key in UNCERTAINTY_DEFAULTS if key.startswith(f"{table}.")]
        values[table] = {key.partition(".")[2]: _default(key) for key in keys}
    for key, value in given.items():
        table, _, metric = key.partition(".")
        if metric:
            values[table][metric] = value
        else:
            values[table] = value[1]
    used = tuple(key for key in UNCERTAINTY_DEFAULTS if key not in given)
    return values, used, problems


def _given(file: CampaignFile) -> tuple[dict[str, Between], list[Problem]]:
    """Read the uncertainties that the campaign gives, by key."""
    given: dict[str, Between] = {}
    problems: list[Problem] = []
    for key, value in (file.table.uncertainty or {}).items():
        path: KeyPath = ("uncertainty", key)
        if key in _BETWEEN and isinstance(value, dict):
            items = [(f"{key}.{metric}", (*path, metric), text) for metric, text in value.items()]
        elif key in _BETWEEN:
            problems.append(file.problem(path, "a table of metrics", shown(value),
                                         'write it such as { climb_rate = "15 ft/min" }'))
            continue
        else:
            items = [(key, path, value)]
        for name, place, text in items:
            found, problem = _sigma(file, name, place, text)
            if problem:
                problems.append(problem)
            elif found:
                given[name] = found
    return given, problems


def _sigma(
    file: CampaignFile, name: str, path: KeyPath, text: object
) -> tuple[Between | None, Problem | None]:
    """Read one uncertainty."""
    table, _, metric = name.partition(".")
    if metric and metric not in METRICS:
        return None, _unknown(file, path, "the name of a metric", METRICS)
    if not metric and name not in UNCERTAINTY_DEFAULTS:
        known = [key for key in UNCERTAINTY_DEFAULTS if "." not in key]
        return None, _unknown(file, path, "an uncertainty", [*known, *_BETWEEN])
    dimension = METRICS[metric].dimension if metric else UNCERTAINTY_DEFAULTS[table].dimension
    relative = bool(metric) and _is_relative(text, dimension)
    value, problem = _amount(file, path, text, "fraction" if relative else dimension)
    if value is None:
        return None, problem
    return ("relative" if relative else "absolute", value), problem


def _is_relative(text: object, dimension: str) -> bool:
    """Whether a change is given as a share of a value that is itself no share."""
    return isinstance(text, str) and "%" in text and dimension not in ("fraction", "none")


def _default(key: str) -> Between:
    """Give a default in SI."""
    default = UNCERTAINTY_DEFAULTS[key]
    if "." in key and _is_relative(default.default, default.dimension):
        return "relative", parse_quantity(default.default, "fraction")
    return "absolute", parse_quantity(default.default, default.dimension)


def _amount(
    file: CampaignFile, path: KeyPath, text: object, dimension: str
) -> tuple[float | None, Problem | None]:
    """Read an amount that may not be negative."""
    try:
        value = parse_quantity(text, dimension, fuel_density_kg_m3=fuel_density(file))
    except UnitError as error:
        if to_fill_in(text):
            return None, file.problem(path, error.needed, f"{error.found}, still to fill in",
                                      "fill it in, a number and its unit")
        return None, file.problem(path, error.needed, error.found, error.mend)
    if value < 0.0:
        return None, file.problem(path, "an amount that is not negative", shown(text),
                                  "leave out the sign")
    return value, None


def _unknown(file: CampaignFile, path: KeyPath, words: str, known: Iterable[str]) -> Problem:
    """Report a key that is not known, with the nearest that is."""
    name, names = str(path[-1]), list(known)
    near = nearest(name, names)
    mend = f"write {near}, if that is meant" if near else f"write one of {', '.join(names)}"
    return file.problem(path, words, shown(name), mend)
