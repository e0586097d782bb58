"""What the entries of ``campaign.toml`` must have to do with each other."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

from stdday.campaign_file import CampaignFile
from stdday.campaign_tables import (
    AirfieldTable,
    AirplaneTable,
    ConfigurationTable,
    ReferenceTable,
    RunwayTable,
)
from stdday.errors import Problem
from stdday.metrics import METRICS
from stdday.names import id_fault, nearest
from stdday.toml_lines import KeyPath
from stdday.units import shown

__all__ = ["cross_checks"]

_RUNWAY_NUMBER = re.compile(r"(\d{1,2})[LRC]?", re.IGNORECASE)
# Magnetic variation and rounding together stay below this, a runway taken for its reverse does not.
_LARGEST_BEARING_ERROR = math.radians(70.0)
_REVERSED = 1.1


def cross_checks(file: CampaignFile) -> list[Problem]:
    """Find entries that do not fit each other, and what absent ones cost.

    Parameters
    ----------
    file : CampaignFile
        What could be read; an entry that was wrong by itself is left out of every check here.

    Returns
    -------
    list of Problem
        Errors and costs; never raises.

    Examples
    --------
    >>> from stdday.campaign_tables import CampaignTable
    >>> raw = {"configuration": {"A": {"airplane": "one"}}}
    >>> file = CampaignFile(CampaignTable.model_validate(raw), raw)
    >>> cross_checks(file)[0].needed
    'an airplane of this campaign (none)'
    """
    problems = [*_ids(file), *_compare(file), *_primary(file)]
    for name, airplane in (file.table.airplane or {}).items():
        problems += [*_airplane(file, name, airplane), *_weights(file, name, airplane),
                     *_overrides(file, name, airplane)]
    for name, configuration in (file.table.configuration or {}).items():
        problems += [*_configuration(file, name, configuration),
                     *_schedule(file, name, configuration), *_change(file, name, configuration)]
    for name, airfield in (file.table.airfield or {}).items():
        problems += _runways(file, name, airfield)
    return [*problems, *_lists(file, ("reference",), file.table.reference)]


def _ids(file: CampaignFile) -> Iterator[Problem]:
    """Names that cannot be part of a file name."""
    for table in ("airplane", "configuration", "airfield"):
        seen: dict[str, str] = {}
        for name in file.names(table):
            fault = id_fault(name)
            if fault:
                yield file.problem((table, name), "a name that can be part of a file name",
                                   f"{shown(name)}: {fault}",
                                   "use letters, digits, blanks and the marks _ - . +")
            before = seen.setdefault(name.casefold(), name)
            if before != name:
                yield file.problem((table, name), "names that differ by more than capitals",
                                   f"{shown(before)} and {shown(name)}", "give one another name")


# ---------------------------------------------------------------- compare


def _compare(file: CampaignFile) -> Iterator[Problem]:
    """Check the configuration that the others are compared with."""
    known, compare = file.names("configuration"), file.table.compare
    if len(known) > 1 and "compare" not in file.raw:
        yield file.problem(("compare",), "what is compared with what", "nothing",
                           f'write a table [compare] with reference = "{known[0]}"')
    reference = compare.reference if compare else None
    if reference is not None and reference not in known:
        yield _no_such(file, ("compare", "reference"), "a configuration", reference, known)


def _no_such(
    file: CampaignFile, path: KeyPath, words: str, name: str, known: tuple[str, ...]
) -> Problem:
    """Report a name that the campaign does not have."""
    near = nearest(name, known)
    listed = ", ".join(known) or "none"
    return file.problem(path, f"{words} of this campaign ({listed})", shown(name),
                        f'write "{near}", if that is meant' if near else "write one of them")


def _primary(file: CampaignFile) -> Iterator[Problem]:
    """Check the metrics that answer the question."""
    compare = file.table.compare
    primary = (compare.primary if compare else None) or []
    path: KeyPath = ("compare", "primary")
    if compare and not primary and len(file.names("configuration")) > 1:
        yield file.problem(path, "the metrics that answer the question", "nothing: every "
                           "difference is exploratory, and false claims are not controlled",
                           'write primary = ["takeoff_ground_roll"] or others', cost=True)
    for place, name in enumerate(primary):
        here: KeyPath = (*path, place)
        if name not in METRICS:
            near = nearest(name, METRICS)
            made = ", ".join(metric.name for metric in METRICS.values() if metric.made)
            yield file.problem(here, "the name of a metric", shown(name), f'write "{near}", if '
                               "that is meant" if near else f"write one of {made}")
        elif not METRICS[name].made:
            yield file.problem(here, "a metric that this version makes", f"{shown(name)}: this "
                               "version does not make it yet", "leave it out for now")
        elif name in primary[:place]:
            yield file.problem(here, "each metric once", shown(name), "leave the second one out")
        elif name not in (file.raw.get("matters") or {}):
            yield file.problem(("matters",), f"the difference of {name} that would matter",
                               "nothing: it cannot be said that there is no difference of note",
                               f"write {name} in [matters]", cost=True)


# ---------------------------------------------------------------- airplanes


def _airplane(file: CampaignFile, name: str, airplane: AirplaneTable) -> Iterator[Problem]:
    """Check the engine and where its power and the airspeed come from."""
    path: KeyPath = ("airplane", name)
    raw = file.raw["airplane"][name]
    if airplane.induction == "turbocharged" and "critical_altitude" not in raw:
        yield file.problem((*path, "critical_altitude"), "the critical altitude of a turbocharged "
                           "engine", "nothing", 'write critical_altitude = "15000 ft", with your '
                           "own value")
    if airplane.induction == "naturally aspirated" and "critical_altitude" in raw:
        yield file.problem((*path, "critical_altitude"), "no critical altitude for a naturally "
                           "aspirated engine", shown(raw["critical_altitude"]),
                           "leave it out, or correct induction")
    if airplane.power_from == "power chart" and "power_chart" not in raw:
        yield file.problem((*path, "power_chart"), "the power chart, to turn engine speed and "
                           "manifold pressure into power", "nothing",
                           'write power_chart = [["2100 rpm", "20 inHg", "60 kW"], …], from the '
                           "engine's manual")
    if airplane.power_from == "fuel flow" and "specific_consumption" not in raw:
        yield file.problem((*path, "specific_consumption"), "the specific fuel consumption, to "
                           "turn fuel flow into power", "nothing",
                           'write specific_consumption = "285 g/kWh", with your own value')
    yield from _airspeeds(file, path, airplane)
    rated, lasting = airplane.rated_engine_speed, airplane.continuous_engine_speed
    if rated and lasting and lasting > rated:
        yield file.problem((*path, "continuous_engine_speed"), "at most the rated engine speed",
                           shown(raw["continuous_engine_speed"]), "check both engine speeds")


def _airspeeds(file: CampaignFile, path: KeyPath, airplane: AirplaneTable) -> Iterator[Problem]:
    """Say what an airplane without calibration, efficiencies or recovery factor costs."""
    needed = "the owner's table of indicated and calibrated airspeeds"
    mend = 'write [["50 kt", "51.5 kt"], …] from the handbook or a calibration'
    here: KeyPath = (*path, "airspeed_calibration")
    if airplane.airspeed_calibration == "none":
        yield file.problem(here, needed, '"none": airspeeds are taken as indicated, with wider '
                           "intervals", mend, cost=True)
    if airplane.assumed_efficiency is None and "assumed_efficiency" not in file.raw["airplane"][
            path[1]]:
        yield file.problem((*path, "assumed_efficiency"), "the propulsive efficiency in climb and "
                           "cruise", "nothing: 70 % and 82 % are assumed",
                           'write assumed_efficiency = ["70 %", "82 %"], with your own values',
                           cost=True)
    if "temperature_recovery_factor" not in file.raw["airplane"][path[1]]:
        yield file.problem((*path, "temperature_recovery_factor"), "the share of the ram rise that "
                           "the temperature probe takes up", "nothing: half of it, with all from "
                           "none to the whole in the intervals",
                           'write temperature_recovery_factor = "75 %", with your own value: the '
                           "slope of the temperature shown against the square of airspeed",
                           cost=True)


def _weights(file: CampaignFile, name: str, airplane: AirplaneTable) -> Iterator[Problem]:
    """Check the weights of an airplane against each other."""
    most, least = airplane.maximum_weight, airplane.empty_weight
    own = airplane.reference.weight if airplane.reference else None
    common = file.table.reference.weight if file.table.reference else None
    reference = own if own is not None else common
    path: KeyPath = (("airplane", name, "reference", "weight") if own is not None
                     else ("reference", "weight"))
    if most and least and least >= most:
        yield file.problem(("airplane", name, "empty_weight"), "less than the maximum weight",
                           f"{least:.0f} kg against {most:.0f} kg", "check both weights")
    if most and reference and reference > most + 1e-6:
        yield file.problem(path, f"at most the maximum weight of airplane {shown(name)}, "
                           f"{most:.0f} kg", f"{reference:.0f} kg",
                           "lower it, or give the airplane its own in "
                           f"[airplane.{name}.reference]")
    if least and reference and reference <= least:
        yield file.problem(path, f"more than the empty weight of airplane {shown(name)}, "
                           f"{least:.0f} kg", f"{reference:.0f} kg", "check both weights")


def _overrides(file: CampaignFile, name: str, airplane: AirplaneTable) -> Iterator[Problem]:
    """Check an airplane's own reference conditions; results pair them by position."""
    own, common = airplane.reference, file.table.reference
    path: KeyPath = ("airplane", name, "reference")
    yield from _lists(file, path, own)
    for key in ("climb_pressure_altitudes", "cruise_power"):
        mine, theirs = (getattr(table, key) if table else None for table in (own, common))
        if mine and theirs and len(mine) != len(theirs):
            yield file.problem((*path, key), f"as many values as in [reference], {len(theirs)}",
                               f"{len(mine)}", "give one for each: they are compared in pairs")


def _lists(file: CampaignFile, path: KeyPath, table: ReferenceTable | None) -> Iterator[Problem]:
    """Check that no reference condition is given twice."""
    for key in ("climb_pressure_altitudes", "cruise_power"):
        values = (getattr(table, key) if table else None) or []
        for place, value in enumerate(values):
            if any(abs(value - before) < 1e-9 for before in values[:place]):
                yield file.problem((*path, key, place), "each value once", "the same value again",
                                   "leave the second one out")


# ---------------------------------------------------------------- configurations


def _configuration(
    file: CampaignFile, name: str, configuration: ConfigurationTable
) -> Iterator[Problem]:
    """Check that the airplane exists, and what equal load needs."""
    path: KeyPath = ("configuration", name)
    known = file.names("airplane")
    if configuration.airplane is not None and configuration.airplane not in known:
        yield _no_such(file, (*path, "airplane"), "an airplane", configuration.airplane, known)
    propeller = configuration.propeller
    raw = file.raw["configuration"][name].get("propeller")
    if len(file.names("configuration")) > 1 and propeller and "mass" not in raw:
        yield file.problem((*path, "propeller", "mass"), "the propeller's mass", "nothing: the "
                           "comparison at equal load cannot count it", "weigh the propeller",
                           cost=True)


def _schedule(
    file: CampaignFile, name: str, configuration: ConfigurationTable
) -> Iterator[Problem]:
    """Check the engine speeds that a governor holds."""
    path: KeyPath = ("configuration", name, "rpm_schedule")
    control = configuration.propeller.control if configuration.propeller else None
    raw = file.raw["configuration"][name]
    if control == "fixed pitch" and "rpm_schedule" in raw:
        yield file.problem(path, "no schedule for a fixed pitch propeller", "a schedule",
                           'leave it out, or write control = "constant speed"')
    if control == "constant speed" and "rpm_schedule" not in raw:
        yield file.problem(path, "the engine speed that the governor holds at each airspeed",
                           "nothing: corrected take-offs and climbs keep the engine speed flown",
                           'write rpm_schedule = [["48 kt", "5300 rpm"], …]', cost=True)
    airplane = (file.table.airplane or {}).get(configuration.airplane or "")
    rated = airplane.rated_engine_speed if airplane else None
    fastest = max((speed for _, speed in configuration.rpm_schedule or ()), default=0.0)
    if rated and fastest > _REVERSED * rated:
        yield file.problem(path, f"engine speeds up to the rated {60 * rated:.0f} rpm",
                           f"{60 * fastest:.0f} rpm", "check whether they are engine speeds")


def _change(file: CampaignFile, name: str, configuration: ConfigurationTable) -> Iterator[Problem]:
    """Check what is said to differ from the reference configuration of the same airplane."""
    compare = file.table.compare
    other = (file.table.configuration or {}).get((compare.reference if compare else "") or "")
    if other is None or other is configuration or other.airplane != configuration.airplane:
        return
    path: KeyPath = ("configuration", name, "changed")
    if "changed" not in file.raw["configuration"][name]:
        yield file.problem(path, "what may differ from the reference configuration", "nothing: it "
                           "cannot be told what is held common",
                           'write changed = ["propeller"], or airframe, engine, mass', cost=True)
    changed = configuration.changed
    if changed is not None and "propeller" not in changed and (
            configuration.propeller != other.propeller):
        yield file.problem(path, '"propeller" among what changed, since the propellers differ',
                           shown(changed), 'add "propeller", or correct the propeller')


# ---------------------------------------------------------------- airfields


def _runways(file: CampaignFile, name: str, airfield: AirfieldTable) -> Iterator[Problem]:
    """Check that runways are told apart and point where their names say."""
    seen: set[str] = set()
    for place, runway in enumerate(airfield.runways or []):
        path: KeyPath = ("airfield", name, "runways", place)
        if runway.name and runway.name.casefold() in seen:
            yield file.problem((*path, "name"), "each runway once", shown(runway.name),
                               "give each direction its own name")
        seen.add((runway.name or "").casefold())
        off = _bearing_error(runway)
        if off > _LARGEST_BEARING_ERROR:
            yield file.problem((*path, "true_bearing"), f"a bearing near that of runway "
                               f"{shown(runway.name)}", f"{math.degrees(off):.0f} deg away from it",
                               "check that it is the direction of take-off")


def _bearing_error(runway: RunwayTable) -> float:
    """Angle between a runway's bearing and its number [rad]; 0 where either is not known."""
    found = _RUNWAY_NUMBER.fullmatch((runway.name or "").strip())
    if found is None or runway.true_bearing is None:
        return 0.0
    return abs(math.remainder(runway.true_bearing - math.radians(10.0 * int(found[1])), math.tau))
