"""A campaign's folder, read and checked in one pass: everything wrong with it is told at once."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

from stdday.campaign_checks import cross_checks
from stdday.campaign_defaults import UNCERTAINTY_DEFAULTS, UncertaintyDefault
from stdday.campaign_file import CampaignFile, problem_line, read_campaign_file
from stdday.campaign_tables import (
    AirfieldTable,
    AirplaneTable,
    ConfigurationTable,
    DecideTable,
    ReferenceTable,
)
from stdday.campaign_types import (
    Airfield,
    Airplane,
    Between,
    Campaign,
    Configuration,
    Decide,
    Propeller,
    Reference,
    Runway,
)
from stdday.campaign_values import read_display, read_matters, read_uncertainty
from stdday.card_files import read_cards
from stdday.columns import load_columns
from stdday.decisions import check_decisions
from stdday.errors import CampaignError, Problem
from stdday.flights import AirplaneFacts, Flight, Surroundings, read_flights

__all__ = [
    "UNCERTAINTY_DEFAULTS",
    "Airfield",
    "Airplane",
    "Between",
    "Campaign",
    "Configuration",
    "Flight",
    "Propeller",
    "Reference",
    "Runway",
    "UncertaintyDefault",
    "check_campaign",
    "fingerprint_question",
    "load_campaign",
]

_ASSUMED_EFFICIENCY = (0.70, 0.82)

# Field of a Reference for each key of [reference].
_REFERENCE_FIELDS = {
    "weight": "weight_kg",
    "temperature": "temperature_offset_k",
    "takeoff_pressure_altitude": "takeoff_pressure_altitude_m",
    "climb_pressure_altitudes": "climb_pressure_altitudes_m",
    "cruise_pressure_altitude": "cruise_pressure_altitude_m",
    "cruise_power": "cruise_power_fraction",
    "liftoff_airspeed": "liftoff_airspeed_ms",
    "climb_airspeed": "climb_airspeed_ms",
    "runway_slope": "runway_slope",
    "runway_surface": "runway_surface",
}


def load_campaign(folder: Path | str) -> Campaign:
    """Read a campaign that has no errors.

    Parameters
    ----------
    folder : Path
        Folder with ``campaign.toml`` and ``flights.csv``.

    Returns
    -------
    Campaign
        In SI; what absent entries cost is in its `costs`.

    Raises
    ------
    CampaignError
        With every error of ``campaign.toml``, ``flights.csv``, the columns files that flights name
        and ``decisions.csv``, and every recording that is not there.

    Examples
    --------
    >>> load_campaign("no such folder")
    Traceback (most recent call last):
    stdday.errors.CampaignError: campaign.toml: needed the file campaign.toml; found no such \
folder. Mend: give the folder of a campaign, or make one with 'python3 workbook new FOLDER'.
    """
    campaign, problems = _read(Path(folder))
    errors = [problem for problem in problems if problem.level == "error"]
    if errors or campaign is None:
        raise CampaignError(errors)
    return campaign


def check_campaign(folder: Path | str) -> list[Problem]:
    """Find everything wrong with a campaign, and what its absent entries cost.

    Parameters
    ----------
    folder : Path
        Folder of the campaign.

    Returns
    -------
    list of Problem
        By file; errors and costs, told apart by `level`. Never raises for what is in the folder.

    Examples
    --------
    >>> [problem.found for problem in check_campaign("no such folder")]
    ['no such folder']
    """
    return _read(Path(folder))[1]


def fingerprint_question(campaign: Campaign) -> str:
    """Fingerprint of what was asked, so that it shows when a question changed after the answer.

    Parameters
    ----------
    campaign : Campaign
        The campaign.

    Returns
    -------
    str
        SHA-256, in hexadecimal, of question, reference conditions, what matters, primary metrics
        and the reference configuration; the way they are written in the file does not matter.
        Never raises.
    """
    asked = {
        "question": campaign.question,
        "reference": asdict(campaign.reference),
        "reference_overrides": {name: airplane.reference_overrides
                                for name, airplane in campaign.airplanes.items()
                                if airplane.reference_overrides},
        "matters": campaign.matters,
        "primary": sorted(campaign.primary),
        "compare_reference": campaign.compare_reference,
    }
    text = json.dumps(_rounded(asked), sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def _rounded(value: Any) -> Any:
    """Round numbers to 10 digits, so that 62 kt and the same in km/h are the same question."""
    if isinstance(value, dict):
        return {key: _rounded(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(one) for one in value]
    return f"{value:.10g}" if isinstance(value, float) else value


# ---------------------------------------------------------------- reading


def _read(folder: Path) -> tuple[Campaign | None, list[Problem]]:
    """Read a campaign; None where it has errors."""
    file, problems = read_campaign_file(folder)
    if not folder.is_dir():
        return None, problems
    flights, flight_problems = read_flights(folder, _surroundings(file) if file else None)
    parts: dict[str, Any] = {}
    if file:
        problems += cross_checks(file)
        for name, (value, found) in (("display", read_display(file)),
                                     ("matters", read_matters(file))):
            parts[name] = value
            problems += found
        parts["uncertainty"], parts["defaults_used"], found = read_uncertainty(file)
        problems = sorted([*problems, *found], key=problem_line)
    problems += flight_problems + _columns_problems(folder, flights) + check_decisions(folder)
    problems += read_cards(folder, [flight.id for flight in flights])[1]
    if file is None or any(problem.level == "error" for problem in problems):
        return None, problems
    problems += _unflown(file, flights)
    return _campaign(folder, file, flights, tuple(problems), parts), problems


def _surroundings(file: CampaignFile) -> Surroundings:
    """Gather what flights may name."""
    configurations = file.table.configuration or {}
    airplanes = file.table.airplane or {}
    airfields = file.table.airfield or {}
    return Surroundings(
        {name: configurations[name].airplane if name in configurations else None
         for name in file.names("configuration")},
        {name: AirplaneFacts(one.maximum_weight, one.empty_weight, one.fuel_density)
         for name, one in airplanes.items()},
        {name: _runway_names(airfields.get(name), file.raw["airfield"][name])
         for name in file.names("airfield")})


def _runway_names(airfield: AirfieldTable | None, raw: object) -> tuple[str, ...] | None:
    """Names of the runways; None where they could not be read."""
    if airfield is None or (airfield.runways is None and isinstance(raw, dict)
                            and "runways" in raw):
        return None
    names = [runway.name for runway in airfield.runways or []]
    return tuple(name for name in names if name is not None)


def _columns_problems(folder: Path, flights: tuple[Flight, ...]) -> list[Problem]:
    """Find what is wrong in the columns files of the flights that are used."""
    problems: list[Problem] = []
    for name in sorted({flight.columns for flight in flights if flight.use and flight.columns}):
        try:
            columns = load_columns(folder / "columns" / f"{name}.toml")
        except CampaignError as error:
            problems += error.problems
            continue
        if not columns.confirmed:
            problems.append(Problem(
                f"columns/{name}.toml", "confirmed", "columns that a person has looked at",
                "proposed by the workbook, not confirmed", "look at every channel, then write "
                "confirmed = true", "cost"))
    return problems


def _unflown(file: CampaignFile, flights: tuple[Flight, ...]) -> list[Problem]:
    """Say which configurations have no flight to show."""
    flown = {flight.configuration for flight in flights if flight.use}
    return [file.problem(("configuration", name), "a flight that is used", "none: the results have "
                         "nothing for this configuration", "add its flights to flights.csv",
                         cost=True)
            for name in file.names("configuration") if name not in flown]


# ---------------------------------------------------------------- building


def _campaign(
    folder: Path, file: CampaignFile, flights: tuple[Flight, ...], costs: tuple[Problem, ...],
    parts: dict[str, Any],
) -> Campaign:
    """Build the campaign; nothing here is absent, since a required key that is stops before."""
    table: Any = file.table
    configurations = {name: _configuration(name, one) for name, one in table.configuration.items()}
    compare = table.compare
    return Campaign(
        folder=folder.resolve(), title=table.title, question=table.question,
        compare_reference=compare.reference if compare else next(iter(configurations)),
        primary=tuple(compare.primary or ()) if compare else (),
        reference=Reference(**_reference(table.reference)),
        airplanes={name: _airplane(name, one) for name, one in table.airplane.items()},
        configurations=configurations,
        airfields={name: _airfield(name, one) for name, one in (table.airfield or {}).items()},
        flights=flights, costs=costs, decide=_decide(table.decide), **parts)


def _decide(table: DecideTable | None) -> Decide:
    """What a decision weighs."""
    if table is None:
        return Decide()
    hours = None if table.hours_a_year is None else table.hours_a_year / 3600
    return Decide(table.fuel_price, hours, table.resale, table.runway)


def _reference(table: ReferenceTable | None) -> dict[str, Any]:
    """Fields of a Reference that a table gives."""
    given = {} if table is None else {
        field: getattr(table, key) for key, field in _REFERENCE_FIELDS.items()}
    return {field: tuple(value) if isinstance(value, list) else value
            for field, value in given.items() if value is not None}


def _airplane(name: str, table: AirplaneTable) -> Airplane:
    """Build an airplane."""
    of: Any = table
    return Airplane(
        id=name, name=of.name or name, maximum_weight_kg=of.maximum_weight,
        empty_weight_kg=of.empty_weight, wing_area_m2=of.wing_area, wing_span_m=of.wing_span,
        induction=of.induction, critical_altitude_m=of.critical_altitude,
        rated_power_w=of.rated_power, rated_engine_speed_rps=of.rated_engine_speed,
        continuous_engine_speed_rps=of.continuous_engine_speed, gear_ratio=of.gear_ratio,
        fuel_density_kg_m3=of.fuel_density, power_from=of.power_from,
        specific_consumption_kg_j=of.specific_consumption, power_chart=of.power_chart,
        airspeed_calibration=of.airspeed_calibration,
        assumed_efficiency=of.assumed_efficiency or _ASSUMED_EFFICIENCY,
        takeoff_exponents=of.takeoff_exponents, limits=dict(of.limits or {}),
        reference_overrides=_reference(of.reference),
        static_share_of_airspeed_error=of.static_share_of_airspeed_error,
        temperature_recovery_factor=of.temperature_recovery_factor)


def _configuration(name: str, table: ConfigurationTable) -> Configuration:
    """Build a configuration."""
    of: Any = table
    propeller = Propeller(of.propeller.blades, of.propeller.diameter, of.propeller.control,
                          of.propeller.mass, of.propeller.price)
    return Configuration(name, of.airplane, of.label or name, tuple(of.changed or ()), propeller,
                         of.rpm_schedule)


def _airfield(name: str, table: AirfieldTable) -> Airfield:
    """Build an airfield."""
    of: Any = table
    runways = tuple(Runway(one.name, one.true_bearing, one.slope, one.surface, one.length)
                    for one in of.runways or ())
    return Airfield(name, of.elevation, of.time_zone, runways)
