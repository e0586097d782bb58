"""A campaign to fill in: commented files in a new folder."""

from __future__ import annotations

from pathlib import Path

from stdday.campaign_defaults import DISPLAY_DEFAULTS, UNCERTAINTY_DEFAULTS
from stdday.campaign_file import CAMPAIGN_FILE
from stdday.decisions import DECISION_COLUMNS, DECISIONS_FILE
from stdday.errors import StddayError
from stdday.flights import FLIGHT_COLUMNS, FLIGHTS_FILE

__all__ = ["new_campaign_files", "write_new_campaign"]

_FOLDERS = ("logs", "columns", "cards")

_HEADER_UNITS = {
    "takeoff_weight": "kg",
    "fuel_at_start": "L",
    "altimeter_setting": "hPa",
    "reported_temperature": "degC",
    "reported_dew_point": "degC",
    "reported_wind_from": "deg",
    "reported_wind_speed": "kt",
    "engine_hours": "h",
    "wind_from": "deg",
    "wind_speed": "kt",
    "weight": "kg",
}

_CAMPAIGN = '''\
# A flight-test campaign. Replace every "…" by your own value; what is still to fill in is listed by
#     python3 workbook check FOLDER
# Quantities stand in quotes with their unit, as you would say them: "1320 lb", "62 kt", "11.0 m^2",
# "100 hp", "29.92 inHg", "5.5 US gal/h". Everything behind a # is a remark.
# Local rules, the approved handbook and licensed people decide what may be flown; this does not.

schema = 1                               # version of this format
title = "…"                              # stands on top of every page
question = "…"                           # what you want to know, in one sentence

[compare]                                # leave this table out if there is only one configuration
reference = "A"                          # differences are the other configuration minus this one
# The few metrics that answer the question. False claims are controlled over these together, so name
# them before you look at results; all others are shown too, as exploratory.
primary = ["takeoff_ground_roll", "climb_rate", "cruise_true_airspeed"]

[reference]                              # the conditions that every result is corrected to
weight = "…"                             # at most the maximum weight
temperature = "ISA+0"                    # the standard day, plus or minus kelvin
takeoff_pressure_altitude = "0 ft"
climb_pressure_altitudes = ["1000 ft", "4000 ft"]    # that your climbs pass through
cruise_pressure_altitude = "4000 ft"                 # near that of your level runs
cruise_power = ["55 %", "65 %", "75 %"]              # of rated power
liftoff_airspeed = "…"                   # calibrated; one lift-off airspeed for all take-offs
climb_airspeed = "…"                     # calibrated; one climb airspeed for all climbs
runway_slope = "0 %"
runway_surface = "paved, dry"            # take-offs from another surface are not pooled with it

[matters]                                # the least difference that would change your decision
takeoff_ground_roll = "…"                # such as "25 m" or "80 ft"
climb_rate = "…"                         # such as "80 ft/min"
cruise_true_airspeed = "…"               # such as "3 kt"
# fuel_flow = "1 L/h"

[airplane.one]                           # a table for each airplane; "one" is any short name
name = "…"
maximum_weight = "…"
# empty_weight = "350 kg"                # helps where a take-off weight was not written down
wing_area = "…"
wing_span = "…"
induction = "…"                          # "naturally aspirated" or "turbocharged"
# critical_altitude = "15000 ft"         # of a turbocharged engine
rated_power = "…"
rated_engine_speed = "…"
# continuous_engine_speed = "5000 rpm"
gear_ratio = "…"                         # engine over propeller speed, no quotes; 1.0 if direct
fuel_density = "…"                       # such as "0.72 kg/L" or "6.0 lb/US gal"
power_from = "…"                         # "logged power", or "fuel flow" with specific_consumption
# specific_consumption = "285 g/kWh"     # at the mixture of your level runs
airspeed_calibration = "none"            # or [["50 kt", "51.5 kt"], …]: indicated, calibrated; or
# "from flights": box patterns of level legs, found in recordings or written on cards
# static_share_of_airspeed_error = "100 %"    # how much of it the altimeter shares, if you know
# temperature_recovery_factor = "75 %"   # share of the ram rise that the temperature probe shows
assumed_efficiency = ["70 %", "82 %"]    # propulsive efficiency in climb and in cruise
# limits = { flap = "70 kt", manoeuvring = "90 kt", never_exceed = "130 kt", crosswind = "12 kt" }
# [airplane.one.reference]               # where this airplane has reference conditions of its own

[configuration.A]                        # what the others are compared with
airplane = "one"
label = "…"                              # such as "two-blade fixed pitch"
propeller = { blades = "…", diameter = "…", control = "…" }    # "fixed pitch" or "constant speed"
# also, in the same brackets: mass = "9 kg", price = "1200 euros"

[configuration.B]                        # leave this table out if there is only one configuration
airplane = "one"
label = "…"
changed = ["propeller", "mass"]          # what may differ: propeller, airframe, engine, mass
propeller = { blades = "…", diameter = "…", control = "…" }
# rpm_schedule = [["48 kt", "5300 rpm"], ["62 kt", "4950 rpm"]]    # engine speed the governor holds

[airfield.home]                          # a table for each airfield you took off from
elevation = "…"
time_zone = "…"                          # of the dates and times you write down, such as "UTC+1"
runways = [                              # each direction its own; slope is positive uphill
    { name = "…", true_bearing = "…", slope = "…", surface = "paved, dry" },
]
'''

_COLUMNS = '''\
# One kind of recording: which column is which quantity, in which unit. Remove the # in front of a
# line and put your recorder's own words in place of these. Name this file in flights.csv: recorder

# delimiter = ","                        # or ";", or "\\t"
# decimal = "."                          # or ","
# header_rows = [1]                      # lines that hold the names of the columns, counted from 1
# unit_row = 2                           # where units stand in a line of their own
# time = { columns = ["Date", "Time"], format = "%Y-%m-%d %H:%M:%S", utc_offset = "UTC" }
# missing = ["", "---", "NaN"]           # what stands where nothing was measured

# [channels]                             # our name = { your column, its unit }
# ground_speed = { column = "…", unit = "kt" }
# track = { column = "…", unit = "deg", reference = "true" }
# gps_altitude = { column = "…", unit = "ft" }
# indicated_airspeed = { column = "…", unit = "kt" }
# pressure_altitude = { column = "…", unit = "ft" }
# outside_air_temperature = { column = "…", unit = "degC" }
# engine_speed = { column = "…", unit = "rpm" }
# manifold_pressure = { column = "…", unit = "inHg" }
# fuel_flow = { column = "…", unit = "L/h" }
# power = { column = "…", unit = "%" }
'''


def new_campaign_files() -> dict[str, str]:
    """Texts of a campaign to fill in.

    Returns
    -------
    dict of str to str
        Text of each file by its name in the folder; never raises.

    Examples
    --------
    >>> list(new_campaign_files())
    ['campaign.toml', 'flights.csv', 'decisions.csv', 'columns/recorder.toml']
    """
    return {
        CAMPAIGN_FILE: f"{_CAMPAIGN}\n{_display()}\n{_uncertainty()}",
        FLIGHTS_FILE: _header(FLIGHT_COLUMNS),
        DECISIONS_FILE: _header(DECISION_COLUMNS),
        "columns/recorder.toml": _COLUMNS,
    }


def write_new_campaign(folder: Path | str) -> None:
    """Write a campaign to fill in.

    Parameters
    ----------
    folder : Path
        Where; it is made where it is not there.

    Raises
    ------
    StddayError
        If a file would be overwritten (nothing is written then), or the disk refuses.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_new_campaign(folder)
    ...     sorted(path.name for path in Path(folder).iterdir())
    ['campaign.toml', 'cards', 'columns', 'decisions.csv', 'flights.csv', 'logs']
    """
    root, files = Path(folder), new_campaign_files()
    _refuse_to_overwrite(root, files)
    try:
        for name in _FOLDERS:
            (root / name).mkdir(parents=True, exist_ok=True)
        for name, text in files.items():
            with (root / name).open("x", encoding="utf-8", newline="\n") as stream:
                stream.write(text)
    except OSError as error:
        reason = error.strerror or "a fault of the disk"
        raise StddayError(f"{error.filename or root}: cannot be written ({reason}). Mend: choose "
                          "another folder, or free the place.") from error


def _refuse_to_overwrite(root: Path, files: dict[str, str]) -> None:
    """Raise where anything stands in the way."""
    in_the_way = [name for name in files if (root / name).exists() or (root / name).is_symlink()]
    in_the_way += [name for name in _FOLDERS if (root / name).exists() and
                   not (root / name).is_dir()]
    if root.exists() and not root.is_dir():
        raise StddayError(f"{root}: needed a folder for the new campaign; found a file. "
                          "Mend: give another name.")
    if in_the_way:
        raise StddayError(f"{root}: needed a folder without {', '.join(in_the_way)}; found "
                          f"{'it' if len(in_the_way) == 1 else 'them'} there, and nothing was "
                          "written. Mend: choose another folder, or move what is there.")


def _header(columns: dict[str, str | None]) -> str:
    """Header of a table, with the units of its quantities."""
    cells = [f"{name} [{_HEADER_UNITS[name]}]" if dimension else name
             for name, dimension in columns.items()]
    return ",".join(cells) + "\n"


def _display() -> str:
    """Units of tables, as remarks."""
    rows = [f'# {key} = "{unit}"' for key, unit in DISPLAY_DEFAULTS.items() if key != "mass"]
    title = "# [display]                              # units of tables, cards and figures"
    return "\n".join([title, *rows, ""])


def _uncertainty() -> str:
    """Uncertainties with their defaults, as remarks."""
    lines = ["# [uncertainty]                          # one sigma; taken unless you give your own"]
    table, said = "", ""
    for default in UNCERTAINTY_DEFAULTS.values():
        before, _, name = default.key.rpartition(".")
        if before != table:
            lines += ["", f"# [uncertainty.{before}]"]
            table = before
        if default.meaning != said:
            lines.append(f"#     {default.meaning}")
            said = default.meaning
        lines.append(f'# {name} = "{default.default}"')
    return "\n".join([*lines, ""])
