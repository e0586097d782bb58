"""A small sound campaign on disk, for tests that break one thing in it."""

from __future__ import annotations

from pathlib import Path

CAMPAIGN = '''\
schema = 1
title = "Two propellers on one two-seater"
question = "Does the three-blade propeller shorten the take-off?"

[compare]
reference = "A"
primary = ["takeoff_ground_roll", "climb_rate"]

[reference]
weight = "600 kg"
temperature = "ISA+0"
takeoff_pressure_altitude = "0 ft"
climb_pressure_altitudes = ["1000 ft", "4000 ft"]
cruise_pressure_altitude = "4000 ft"
cruise_power = ["55 %", "65 %", "75 %"]
liftoff_airspeed = "48 kt"
climb_airspeed = "62 kt"
runway_slope = "0 %"
runway_surface = "paved, dry"

[matters]
takeoff_ground_roll = "25 m"
climb_rate = "80 ft/min"

[airplane.one]
name = "the two-seater"
maximum_weight = "1323 lb"
empty_weight = "340 kg"
wing_area = "11.0 m^2"
wing_span = "9.2 m"
induction = "naturally aspirated"
rated_power = "78 kW"
rated_engine_speed = "5300 rpm"
gear_ratio = 2.15
fuel_density = "0.72 kg/L"
power_from = "logged power"
airspeed_calibration = [["40 kt", "42 kt"], ["100 kt", "101 kt"]]
temperature_recovery_factor = "0 %"
assumed_efficiency = ["70 %", "82 %"]

[configuration.A]
airplane = "one"
label = "two-blade fixed pitch"
propeller = { blades = 2, diameter = "1.68 m", control = "fixed pitch", mass = "9 kg" }

[configuration.B]
airplane = "one"
label = "three-blade constant speed"
changed = ["propeller", "mass"]
propeller = { blades = 3, diameter = "1.70 m", control = "constant speed", mass = "14 kg" }
rpm_schedule = [["48 kt", "5300 rpm"], ["62 kt", "4950 rpm"]]

[airfield.home]
elevation = "120 ft"
time_zone = "UTC+1"
runways = [
    { name = "08", true_bearing = "82 deg", slope = "0.3 %", surface = "paved, dry" },
    { name = "26", true_bearing = "262 deg", slope = "-0.3 %", surface = "paved, dry" },
]

[uncertainty]
weight = "6 kg"
between_blocks = { climb_rate = "20 ft/min", takeoff_ground_roll = "3 %" }
'''

HEADER = ("flight,configuration,date,log,columns,takeoff_weight [kg],airfield,runway,"
          "altimeter_setting [hPa],reported_temperature [degC],reported_dew_point [degC],"
          "reported_wind_from [deg],reported_wind_speed [kt],use,why_not")
ROWS = (
    "F01,A,2026-05-04,f01.csv,panel,576,home,08,1021,9,3,60,5,yes,",
    "F02,A,2026-05-07,f02.csv,panel,583,home,26,1016,12,7,220,2,yes,",
    "F03,B,2026-05-24,f03.csv,panel,569,home,26,1015,17,11,240,10,yes,",
)

COLUMNS = '''\
delimiter = ","
decimal = "."
header_rows = [1]
time = { columns = ["Date", "Time"], format = "%Y-%m-%d %H:%M:%S", utc_offset = "UTC" }
[channels]
indicated_airspeed = { column = "Airspeed", unit = "kt" }
'''


def make_campaign(
    folder: Path, *, campaign: str = CAMPAIGN, flights: str | bytes | None = None,
    logs: tuple[str, ...] = ("f01.csv", "f02.csv", "f03.csv"),
) -> Path:
    """Write the campaign; `flights` stands for the whole of flights.csv."""
    for name in ("logs", "columns"):
        (folder / name).mkdir(parents=True, exist_ok=True)
    for name in logs:
        (folder / "logs" / name).write_text("Date,Time,Airspeed\n")
    (folder / "columns" / "panel.toml").write_text(COLUMNS)
    (folder / "campaign.toml").write_text(campaign, encoding="utf-8")
    content = "\n".join((HEADER, *ROWS, "")) if flights is None else flights
    data = content.encode("utf-8") if isinstance(content, str) else content
    (folder / "flights.csv").write_bytes(data)
    return folder


def changed(old: str, new: str) -> str:
    """The campaign with one thing changed."""
    assert CAMPAIGN.count(old) >= 1, f"{old!r} is not in the campaign"
    return CAMPAIGN.replace(old, new, 1)


def line_of(text: str, campaign: str = CAMPAIGN) -> int:
    """Line of the first place that holds a text."""
    return 1 + next(place for place, line in enumerate(campaign.splitlines()) if text in line)
