"""A campaign on disk: what is read, everything that can be wrong with it, and how that is said."""

from __future__ import annotations

import dataclasses
import hashlib
import math
import os
import pickle
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stdday.campaign import (
    UNCERTAINTY_DEFAULTS,
    check_campaign,
    fingerprint_question,
    load_campaign,
)
from stdday.errors import CampaignError, InputError
from stdday.metrics import METRICS
from stdday.toml_lines import key_lines, path_text
from stdday.units import parse_quantity
from tests.make_campaign import CAMPAIGN, COLUMNS, changed, line_of, make_campaign

DEMOS = Path(__file__).resolve().parents[1] / "data_demo"


def errors(folder):
    return [problem for problem in check_campaign(folder) if problem.level == "error"]


def costs(folder):
    return [problem for problem in check_campaign(folder) if problem.level == "cost"]


def only_error(folder):
    found = errors(folder)
    assert len(found) == 1, [str(problem) for problem in found]
    return found[0]


# ---- a sound campaign ------------------------------------------------------------------------


def test_a_sound_campaign_has_no_problems(tmp_path):
    assert [str(problem) for problem in check_campaign(make_campaign(tmp_path))] == []


def test_everything_is_read_in_si(tmp_path):
    campaign = load_campaign(make_campaign(tmp_path))
    assert campaign.folder == tmp_path.resolve()
    assert (campaign.compare_reference, campaign.primary) == (
        "A", ("takeoff_ground_roll", "climb_rate"))
    reference = campaign.reference
    assert reference.weight_kg == 600.0
    assert reference.temperature_offset_k == 0.0
    assert reference.climb_pressure_altitudes_m == pytest.approx((304.8, 1219.2))
    assert reference.cruise_power_fraction == pytest.approx((0.55, 0.65, 0.75))
    assert reference.liftoff_airspeed_ms == pytest.approx(48 * 1852 / 3600)
    assert campaign.matters["climb_rate"] == pytest.approx(80 * 0.3048 / 60)
    one = campaign.airplanes["one"]
    assert one.maximum_weight_kg == pytest.approx(1323 * 0.45359237)
    assert one.rated_engine_speed_rps == pytest.approx(5300 / 60)
    assert one.fuel_density_kg_m3 == pytest.approx(720.0)
    assert one.airspeed_calibration[1] == pytest.approx((100 * 1852 / 3600, 101 * 1852 / 3600))
    assert one.continuous_engine_speed_rps is None
    assert one.limits == {}
    b = campaign.configurations["B"]
    assert (b.propeller.blades, b.propeller.control, b.propeller.mass_kg, b.propeller.price) == (
        3, "constant speed", 14.0, None)
    assert b.rpm_schedule[1] == pytest.approx((62 * 1852 / 3600, 4950 / 60))
    assert campaign.configurations["A"].rpm_schedule is None
    home = campaign.airfields["home"]
    assert (home.time_zone_offset_s, home.runways[1].name) == (3600.0, "26")
    assert home.elevation_m == pytest.approx(36.576)
    assert home.runways[1].true_bearing_rad == pytest.approx(math.radians(262))
    assert home.runways[1].slope == pytest.approx(-0.003)
    assert campaign.display["speed"] == "kt"
    assert [flight.id for flight in campaign.flights] == ["F01", "F02", "F03"]


def test_uncertainties_given_and_by_default(tmp_path):
    campaign = load_campaign(make_campaign(tmp_path))
    assert campaign.sigma("weight") == 6.0
    assert campaign.sigma("power") == 0.02
    assert campaign.sigma("airspeed_delay") == 0.5
    assert campaign.between("between_blocks", "climb_rate") == (
        "absolute", pytest.approx(20 * 0.3048 / 60))
    assert campaign.between("between_blocks", "takeoff_ground_roll") == ("relative", 0.03)
    assert campaign.between("between_blocks", "fuel_flow") == ("relative", 0.01)
    # per cent of a metric that is itself in per cent is an amount, not a share of it
    assert campaign.between("between_blocks", "climb_gradient") == (
        "absolute", pytest.approx(0.002))
    given_keys = {"weight", "between_blocks.climb_rate", "between_blocks.takeoff_ground_roll"}
    assert set(campaign.defaults_used) == set(UNCERTAINTY_DEFAULTS) - given_keys
    with pytest.raises(InputError, match="key must be one of outside_air"):
        campaign.sigma("between_blocks")
    with pytest.raises(InputError, match="metric must be one of takeoff_ground_roll"):
        campaign.between("between_blocks", "stall_airspeed")


def test_every_default_can_be_read():
    for default in UNCERTAINTY_DEFAULTS.values():
        table, _, metric = default.key.partition(".")
        assert not metric or (default.dimension == METRICS[metric].dimension and
                              table in ("between_blocks", "between_flights"))
        relative = metric and "%" in default.default and default.dimension != "fraction"
        assert parse_quantity(default.default, "fraction" if relative else default.dimension) > 0
        assert default.meaning.endswith(".")


def test_a_campaign_passes_between_processes(tmp_path):
    campaign = load_campaign(make_campaign(tmp_path))
    assert pickle.loads(pickle.dumps(campaign)) == campaign
    with pytest.raises(dataclasses.FrozenInstanceError):
        campaign.title = "another"


def test_reference_of_one_airplane(tmp_path):
    text = CAMPAIGN + '[airplane.one.reference]\nweight = "550 kg"\nclimb_airspeed = "60 kt"\n'
    campaign = load_campaign(make_campaign(tmp_path, campaign=text))
    own = campaign.reference_for("one")
    assert (own.weight_kg, campaign.reference.weight_kg) == (550.0, 600.0)
    assert own.climb_airspeed_ms == pytest.approx(60 * 1852 / 3600)
    assert own.liftoff_airspeed_ms == campaign.reference.liftoff_airspeed_ms
    assert campaign.airplane_of("B") is campaign.airplanes["one"]
    for ask in (campaign.reference_for, campaign.airplane_of):
        with pytest.raises(InputError, match="must be one of"):
            ask("none of these")


def test_one_configuration_is_a_whole_campaign(tmp_path):
    text = CAMPAIGN[:CAMPAIGN.index("[configuration.B]")] + CAMPAIGN[CAMPAIGN.index("[airfield"):]
    text = text.replace('[compare]\nreference = "A"\n'
                        'primary = ["takeoff_ground_roll", "climb_rate"]\n', "")
    flights = "flight,configuration,log\nF01,A,f01.csv\n"
    campaign = load_campaign(make_campaign(tmp_path, campaign=text, flights=flights))
    assert (campaign.compare_reference, campaign.primary) == ("A", ())


def test_trade_notation_and_other_ways_to_write(tmp_path):
    text = changed('temperature = "ISA+0"', 'temperature = "ISA-5"')
    text = text.replace('"UTC+1"', '"UTC-3:30"').replace("2.15", "1")
    text = text.replace('rated_power = "78 kW"', 'rated_power = "106 PS"')
    text = text.replace('climb_rate = "80 ft/min"', 'climb_rate = "80 fpm"\nfuel_flow = "2 lb/h"')
    campaign = load_campaign(make_campaign(tmp_path, campaign=text))
    assert campaign.reference.temperature_offset_k == -5.0
    assert campaign.airfields["home"].time_zone_offset_s == -12600.0
    assert campaign.airplanes["one"].gear_ratio == 1.0
    assert campaign.airplanes["one"].rated_power_w == pytest.approx(106 * 735.49875)
    assert campaign.matters["fuel_flow"] == pytest.approx(2 * 0.45359237 / 3600 / 720)


def test_price_and_other_texts_are_kept_as_written(tmp_path):
    odd = "<script>alert(1)</script> | =1+1 \\u202e"
    text = changed('mass = "9 kg"', f'mass = "9 kg", price = "{odd}"').replace(
        'title = "Two', f'title = "{odd} Two')
    campaign = load_campaign(make_campaign(tmp_path, campaign=text))
    assert campaign.configurations["A"].propeller.price.startswith("<script>")
    assert campaign.title.startswith("<script>alert(1)</script> | =1+1 \u202e")


@pytest.mark.parametrize("demo", sorted(DEMOS.glob("*/flights.csv")), ids=lambda p: p.parent.name)
def test_the_demo_has_no_errors(demo):
    assert [str(problem) for problem in errors(demo.parent)] == []


# ---- one fault each, its message read ----------------------------------------------------------

FAULTS = [
    # what is changed; place; needed; found; mend
    ('schema = 1', 'schema = 2', "schema", "the version of the format, 1", "2", "write schema = 1"),
    ('schema = 1\n', '', "schema", "the version of the format", "nothing", "write schema = 1"),
    ('title = "Two propellers on one two-seater"', 'title = 5', "title", "a text in quotes", "5",
     "write it in quotes"),
    ('title =', 'titel =', "titel", "a key that the file can hold", "'titel'", "write title, if"),
    ('weight = "600 kg"', 'weight = 600', "reference.weight", "the reference weight",
     "the bare number 600", 'such as "600 kg", in quotes'),
    ('weight = "600 kg"', 'weight = "600"', "reference.weight", "a mass", "'600'", '"600 kg"'),
    ('weight = "600 kg"', 'weight = "600 kt"', "reference.weight", "a mass", "'600 kt'",
     "that is a unit of speed"),
    ('weight = "600 kg"', 'weight = "60000 kg"', "reference.weight", "of 20 kg to 20000 kg",
     "'60000 kg'", "check the number and its unit"),
    ('weight = "600 kg"', 'weight = "1,320 lb"', "reference.weight", "a mass", "'1,320 lb'",
     'write "1320 lb"'),
    ('weight = "600 kg"', 'weight = "650 kg"', "reference.weight",
     "at most the maximum weight of airplane 'one', 600 kg", "650 kg", "lower it, or give"),
    ('weight = "600 kg"', 'weight = "330 kg"', "reference.weight", "more than the empty weight",
     "330 kg", "check both weights"),
    ('temperature = "ISA+0"', 'temperature = "15 degC"', "reference.temperature",
     '"ISA" plus or minus kelvin', "'15 degC'", 'write it such as "ISA+0"'),
    ('temperature = "ISA+0"', 'temperature = "ISA+80"', "reference.temperature", "within 60",
     "'ISA+80'", "check the number"),
    ('"ISA+0"\n', '"ISA+0"\ntemprature = "ISA"\n', "reference.temprature", "[reference] can hold",
     "'temprature'", "write temperature, if that is meant"),
    ('liftoff_airspeed = "48 kt"\n', '', "reference.liftoff_airspeed",
     "the common calibrated lift-off airspeed", "nothing", 'write liftoff_airspeed = "48 kt"'),
    ('"55 %", "65 %"', '"55 %", 65', "reference.cruise_power[2]", "a share", "the bare number 65",
     '"65 %"'),
    ('"55 %", "65 %"', '"65 %", "65 %"', "reference.cruise_power[2]", "each value once",
     "the same value again", "leave the second one out"),
    ('"55 %", "65 %", "75 %"', '', "reference.cruise_power", "the cruise powers", "nothing",
     'write cruise_power = ["55 %"'),
    ('["1000 ft", "4000 ft"]', '"1000 ft"', "reference.climb_pressure_altitudes",
     "values in square brackets", "'1000 ft'", 'write climb_pressure_altitudes = ["1000 ft"'),
    ('runway_surface = "paved, dry"', 'runway_surface = "…"', "reference.runway_surface",
     "the reference runway surface, a text", "'…', still to fill in", "fill it in, such as"),
    ('reference = "A"', 'reference = "C"', "compare.reference", "a configuration of this campaign "
     "(A, B)", "'C'", "write one of them"),
    ('"climb_rate"]', '"climb_rat"]', "compare.primary[2]", "the name of a metric", "'climb_rat'",
     'write "climb_rate", if that is meant'),
    ('"climb_rate"]', '"stall_airspeed"]', "compare.primary[2]", "a metric that this version makes",
     "this version does not make it yet", "leave it out for now"),
    ('"climb_rate"]', '"takeoff_ground_roll"]', "compare.primary[2]", "each metric once",
     "'takeoff_ground_roll'", "leave the second one out"),
    ('climb_rate = "80 ft/min"', 'climb_rat = "80 ft/min"', "matters.climb_rat",
     "the name of a metric", "'climb_rat'", "write climb_rate, if that is meant"),
    ('takeoff_ground_roll = "25 m"', 'takeoff_ground_roll = "25 kt"', "matters.takeoff_ground_roll",
     "a length", "'25 kt'", "unit of speed"),
    ('takeoff_ground_roll = "25 m"', 'takeoff_ground_roll = "-25 m"', "matters.takeoff_ground_roll",
     "not negative", "'-25 m'", "leave out the sign"),
    ('takeoff_ground_roll = "25 m"', 'takeoff_ground_roll = "0 m"', "matters.takeoff_ground_roll",
     "above zero", "'0 m'", "the least difference"),
    ('wing_area =', 'wingarea =', "airplane.one.wingarea", "[airplane.one] can hold", "'wingarea'",
     "write wing_area, if"),
    ('"11.0 m^2"', '"11.0 m"', "airplane.one.wing_area", "an area", "'11.0 m'", "unit of length"),
    ('"naturally aspirated"', '"naturaly aspirated"', "airplane.one.induction",
     '"naturally aspirated", "turbocharged"', "'naturaly aspirated'",
     'write "naturally aspirated", if'),
    ('"naturally aspirated"', '"turbocharged"', "airplane.one.critical_altitude",
     "the critical altitude of a turbocharged engine", "nothing", 'critical_altitude = "15000 ft"'),
    ('gear_ratio', 'critical_altitude = "9000 ft"\ngear_ratio', "airplane.one.critical_altitude",
     "no critical altitude for a naturally", "'9000 ft'", "leave it out"),
    ('2.15', '"2.15"', "airplane.one.gear_ratio", "a plain number", "'2.15'", "without quotes"),
    ('2.15', 'nan', "airplane.one.gear_ratio", "a plain number", "nan", "check the number"),
    ('2.15', 'true', "airplane.one.gear_ratio", "a plain number", "True", "write a number"),
    ('"0.72 kg/L"', '"6 lb/gal"', "airplane.one.fuel_density", "a density", "'6 lb/gal'",
     "'US gal' (3.785 L) or 'imp gal'"),
    ('"logged power"', '"power chart"', "airplane.one.power_chart", "the power chart", "nothing",
     "power_chart = [["),
    ('"logged power"', '"fuel flow"', "airplane.one.specific_consumption",
     "the specific fuel consumption", "nothing", 'specific_consumption = "285 g/kWh"'),
    ('"340 kg"', '"700 kg"', "airplane.one.empty_weight", "less than the maximum weight",
     "700 kg against 600 kg", "check both weights"),
    ('[["40 kt", "42 kt"], ["100 kt", "101 kt"]]', '[["40 kt", "42 kt"]]',
     "airplane.one.airspeed_calibration", "at least two pairs", "1 pair", "check the table"),
    ('[["40 kt", "42 kt"], ["100 kt", "101 kt"]]', '[["100 kt", "101 kt"], ["40 kt", "42 kt"]]',
     "airplane.one.airspeed_calibration", "the first rising", "pair 2", "in rising order"),
    ('[["40 kt", "42 kt"], ["100 kt", "101 kt"]]', '[["40 kt", "42 kt"], ["100 kt", "140 kt"]]',
     "airplane.one.airspeed_calibration", "within 25 kt", "40 kt", "check the table"),
    ('[["40 kt", "42 kt"], ["100 kt", "101 kt"]]', '[["40 kt", "42 kt"], ["100 kt"]]',
     "airplane.one.airspeed_calibration", "a table of pairs", "['100 kt'] as pair 2", "such as"),
    ('[["40 kt", "42 kt"], ["100 kt", "101 kt"]]', '"flights"',
     "airplane.one.airspeed_calibration", '"from flights"', "'flights'", 'write "none"'),
    ('["70 %", "82 %"]', '["70 %"]', "airplane.one.assumed_efficiency", "two quantities",
     "['70 %']", "write it such as"),
    ('gear_ratio', 'limits = { flap = "70 kg" }\ngear_ratio', "airplane.one.limits", "a speed",
     "'70 kg'", "unit of mass"),
    ('gear_ratio', 'limits = { flaps = "70 kt" }\ngear_ratio', "airplane.one.limits",
     "one of the limits stall", "'flaps'", "write flap, if"),
    ('gear_ratio', 'takeoff_exponents = { weight = 2.4 }\ngear_ratio',
     "airplane.one.takeoff_exponents", "the exponents weight, density", "{'weight': 2.4}",
     "write it such as"),
    ('gear_ratio', 'continuous_engine_speed = "5500 rpm"\ngear_ratio',
     "airplane.one.continuous_engine_speed", "at most the rated", "'5500 rpm'", "check both"),
    ('[configuration.A]\nairplane = "one"', '[configuration.A]\nairplane = "two"',
     "configuration.A.airplane", "an airplane of this campaign (one)", "'two'",
     "write one of them"),
    ('blades = 2', 'blades = 2.5', "configuration.A.propeller.blades", "a whole number", "2.5",
     "write a whole number"),
    ('"fixed pitch", mass', '"fixed pich", mass', "configuration.A.propeller.control",
     '"fixed pitch", "constant speed"', "'fixed pich'", 'write "fixed pitch", if'),
    ('diameter = "1.68 m"', 'diametre = "1.68 m", diameter = "1.68 m"',
     "configuration.A.propeller.diametre", "[configuration.A.propeller] can hold", "'diametre'",
     "write diameter, if"),
    ('diameter = "1.68 m", ', '', "configuration.A.propeller.diameter", "the propeller diameter",
     "nothing", 'write diameter = "1.68 m"'),
    ('["propeller", "mass"]', '["propelers"]', "configuration.B.changed[1]", 'one of "propeller"',
     "'propelers'", 'write "propeller", if'),
    ('["propeller", "mass"]', '["airframe"]', "configuration.B.changed", '"propeller" among',
     "['airframe']", 'add "propeller"'),
    ('"constant speed", mass', '"fixed pitch", mass', "configuration.B.rpm_schedule",
     "no schedule for a fixed pitch", "a schedule", "leave it out"),
    ('["62 kt", "4950 rpm"]', '["62 kt", "6950 rpm"]', "configuration.B.rpm_schedule",
     "up to the rated 5300 rpm", "6950 rpm", "whether they are engine speeds"),
    ('["62 kt", "4950 rpm"]', '["62 kt", "4950"]', "configuration.B.rpm_schedule",
     "an engine or propeller speed", "'4950'", '"4950 rpm"'),
    ('elevation = "120 ft"', 'elevation = "120"', "airfield.home.elevation", "a length", "'120'",
     '"120 ft"'),
    ('"UTC+1"', '"CET"', "airfield.home.time_zone", "difference from UTC", "'CET'", '"UTC+1"'),
    ('"UTC+1"', '"UTC+19"', "airfield.home.time_zone", "within 14 hours", "'UTC+19'", "such as"),
    ('"82 deg"', '"82"', "airfield.home.runways[1].true_bearing", "an angle", "'82'", '"82 deg"'),
    ('"82 deg"', '"262 deg"', "airfield.home.runways[1].true_bearing", "near that of runway '08'",
     "178 deg away", "direction of take-off"),
    ('name = "26"', 'name = "08"', "airfield.home.runways[2].name", "each runway once", "'08'",
     "give each direction its own name"),
    ('weight = "6 kg"', 'wieght = "6 kg"', "uncertainty.wieght", "an uncertainty", "'wieght'",
     "write weight, if that is meant"),
    ('weight = "6 kg"', 'weight = "6 %"', "uncertainty.weight", "a mass", "'6 %'", "unit of"),
    ('weight = "6 kg"', 'weight = "-6 kg"', "uncertainty.weight", "not negative", "'-6 kg'",
     "leave out the sign"),
    ('weight = "6 kg"', 'outside_air_temperature_bias = "1 degree"',
     "uncertainty.outside_air_temperature_bias", "a difference of temperature", "'1 degree'", ""),
    ('{ climb_rate = "20 ft/min"', '{ climbrate = "20 ft/min"',
     "uncertainty.between_blocks.climbrate", "the name of a metric", "'climbrate'",
     "write climb_rate, if"),
    ('{ climb_rate = "20 ft/min", takeoff_ground_roll = "3 %" }', '"20 ft/min"',
     "uncertainty.between_blocks", "a table of metrics", "'20 ft/min'", "such as { climb_rate"),
    ('[uncertainty]', '[display]\nspeed = "knotts"\n[uncertainty]', "display.speed", "a speed",
     "'knotts'", "write 'knots', if"),
    ('[uncertainty]', '[display]\nspeeds = "kt"\n[uncertainty]', "display.speeds",
     "a kind of quantity", "'speeds'", "write speed, if"),
    ('[uncertainty]', '[display]\nspeed = 5\n[uncertainty]', "display.speed", "a unit", "5",
     'such as "kt"'),
    ('[uncertainty]', '[display]\nfuel_flow = "lb/h"\n[uncertainty]', "display.fuel_flow",
     "fuel by volume", "'lb/h'", "L/h"),
    ('[uncertainty]', '[uncertanty]', "uncertanty", "a key that the file can hold", "'uncertanty'",
     "write uncertainty, if"),
    ('[airplane.one]', '[airplane."o/ne"]', None, "a name that can be part of a file name",
     "it holds the mark /", "use letters"),
]


@pytest.mark.parametrize(("old", "new", "where", "needed", "found", "mend"), FAULTS)
def test_one_fault_is_told_with_its_mend(tmp_path, old, new, where, needed, found, mend):
    text = changed(old, new)
    problems = errors(make_campaign(tmp_path, campaign=text))
    assert problems, "nothing was found"
    told = [problem for problem in problems if needed in problem.needed and found in problem.found
            and mend in problem.mend and (where is None or where in problem.where)]
    assert len(told) == 1, [str(problem) for problem in problems]
    assert told[0].file == "campaign.toml"
    with pytest.raises(CampaignError):
        load_campaign(tmp_path)


@pytest.mark.parametrize(("old", "new", "where"), [row[:3] for row in FAULTS if row[1] and row[2]])
def test_the_line_is_the_right_one(tmp_path, old, new, where):
    """A line is given, and it holds the key, or the table that lacks it."""
    text = changed(old, new)
    problems = [problem for problem in errors(make_campaign(tmp_path, campaign=text))
                if where in problem.where]
    lines = text.splitlines()
    for problem in problems:
        number = int(problem.where.split(",")[0].removeprefix("line "))
        key = where.rpartition(".")[2].split("[")[0]
        table = where.rpartition(".")[0]
        line = lines[number - 1]
        assert key in line or f"[{table}]" in line or key == "runways", (problem.where, line)


def test_every_problem_at_once(tmp_path):
    text = CAMPAIGN
    for old, new in (('weight = "600 kg"', 'weight = 600'), ('wing_area', 'wingarea'),
                     ('reference = "A"', 'reference = "Z"'), ('"climb_rate"]', '"climbrate"]'),
                     ('weight = "6 kg"', 'wait = "6 kg"'), ('"UTC+1"', '"CET"')):
        text = text.replace(old, new, 1)
    flights = ("flight,configuration,date,log,columns\n"
               "F01,A,4.5.2026,f01.csv,panel\nF01,C,2026-05-04,f09.csv,pannel\n")
    folder = make_campaign(tmp_path, campaign=text, flights=flights)
    (folder / "columns" / "panel.toml").write_text(COLUMNS.replace('unit = "kt"', 'unit = "kg"'))
    (folder / "decisions.csv").write_text("point,flight,kind,start_utc,end_utc,use,reason\n"
                                          "p,F01,climb,,,perhaps,\n")
    found = errors(folder)
    places = [f"{problem.file} {problem.where}" for problem in found]
    for expected in ("reference.weight", "wingarea", "airplane.one.wing_area", "compare.reference",
                     "compare.primary[2]", "uncertainty.wait", "airfield.home.time_zone",
                     "flights.csv line 2, date", "flights.csv line 3, configuration",
                     "flights.csv line 3, log", "flights.csv line 3, columns", "columns/panel.toml",
                     "decisions.csv line 2, use"):
        assert any(expected in place for place in places), (expected, places)
    with pytest.raises(CampaignError) as caught:
        load_campaign(folder)
    assert len(caught.value.problems) == len(found)


def test_problems_of_the_file_stand_in_its_order(tmp_path):
    text = changed('weight = "6 kg"', 'wait = "6 kg"').replace('"UTC+1"', '"CET"').replace(
        'reference = "A"', 'reference = "Z"')
    found = [problem.where for problem in errors(make_campaign(tmp_path, campaign=text))]
    numbers = [int(where.split(",")[0].removeprefix("line ")) for where in found]
    assert numbers == sorted(numbers)
    assert len(numbers) == 3


# ---- the file itself ---------------------------------------------------------------------------


def test_no_folder_and_no_file(tmp_path):
    assert only_error(tmp_path / "none").found == "no such folder"
    problem = errors(tmp_path)[0]
    assert (problem.file, problem.found) == ("campaign.toml", "no such file in the folder")
    assert "workbook new FOLDER" in problem.mend
    assert errors(tmp_path)[1].file == "flights.csv"


@pytest.mark.parametrize(("text", "where", "found"), [
    ('schema = 1\ntitle = "open\n', "line 2, column 14", "Illegal character"),
    ("schema = \n", "line 1, column 10", "Invalid value"),
    ('[a]\n[a]\n', "line 2", "Cannot declare"),
    ("schema = [1,", "the end of the file", "Invalid value"),
    ("x = " + "[" * 4000, "", "brackets nested too deep"),
    ("x = " + "9" * 5000, "", "Exceeds the limit"),
])
def test_broken_toml(tmp_path, text, where, found):
    problem = only_error(make_campaign(tmp_path, campaign=text))
    assert problem.where.startswith(where)
    assert problem.found.startswith(found)
    assert "quotes, brackets, commas" in problem.mend


def test_broken_toml_does_not_hide_what_is_wrong_with_the_flights(tmp_path):
    flights = "flight,configuration,log\nF01,A,f09.csv\n"
    folder = make_campaign(tmp_path, campaign="x = ", flights=flights)
    assert [problem.file for problem in errors(folder)] == ["campaign.toml", "flights.csv"]


def test_byte_order_mark_and_windows_line_ends(tmp_path):
    folder = make_campaign(tmp_path)
    data = b"\xef\xbb\xbf" + changed('weight = "600 kg"', "weight = 600").replace(
        "\n", "\r\n").encode()
    (folder / "campaign.toml").write_bytes(data)
    line = line_of('weight = "600 kg"')
    assert only_error(folder).where == f"line {line}, reference.weight"


@pytest.mark.parametrize(("codec", "found", "where"), [
    ("utf-16", "UTF-16", ""), ("latin-1", "another encoding", "line 2"),
])
def test_other_encodings_are_refused(tmp_path, codec, found, where):
    folder = make_campaign(tmp_path)
    text = CAMPAIGN.replace("Two propellers", "Zwei Müller-Propeller")
    (folder / "campaign.toml").write_bytes(text.encode(codec))
    problem = only_error(folder)
    assert (problem.found, problem.where) == (found, where)
    assert "UTF-8" in problem.mend


def test_a_table_where_a_value_stands_and_the_other_way_round(tmp_path):
    text = CAMPAIGN + 'airfield_note = "x"\n'
    text = text.replace("[matters]\ntakeoff_ground_roll = \"25 m\"\nclimb_rate = \"80 ft/min\"\n",
                        "").replace('question =', 'matters = "25 m"\nquestion =')
    found = {problem.where.split(", ")[-1]: problem for problem in
             errors(make_campaign(tmp_path, campaign=text))}
    assert "a table" in found["matters"].needed
    assert "uncertainty.airfield_note" in found
    folder = make_campaign(tmp_path, campaign='schema = 1\nairplane = 5\nreference = ["x"]\n')
    told = {problem.where.split(", ")[-1]: problem.needed for problem in errors(folder)
            if problem.file == "campaign.toml"}
    assert "a table" in told["airplane"]
    assert "a table" in told["reference"]
    assert "configuration" in told


def test_names_of_tables_that_need_quotes(tmp_path):
    text = CAMPAIGN.replace("[airfield.home]", '[airfield."home field"]').replace(
        '"120 ft"', '"120"')
    problem = errors(make_campaign(tmp_path, campaign=text))[0]
    assert problem.where == f'line {line_of("120 ft")}, airfield."home field".elevation'


def test_names_that_differ_by_capitals_alone(tmp_path):
    text = CAMPAIGN + '[airfield.Home]\nelevation = "5 ft"\ntime_zone = "UTC"\n'
    assert only_error(make_campaign(tmp_path, campaign=text)).found == "'home' and 'Home'"


def test_two_configurations_need_a_reference(tmp_path):
    text = changed('[compare]\nreference = "A"\nprimary = ["takeoff_ground_roll", "climb_rate"]\n',
                   "")
    problem = only_error(make_campaign(tmp_path, campaign=text))
    assert problem.needed == "what is compared with what"
    assert 'reference = "A"' in problem.mend


def test_a_wrong_entry_makes_no_second_complaint_elsewhere(tmp_path):
    """A runway that cannot be read is one fault, not a fault of each flight from it too."""
    text = changed('slope = "0.3 %"', 'slope = 0.3')
    assert "runways[1].slope" in only_error(make_campaign(tmp_path, campaign=text)).where
    text = changed('maximum_weight = "1323 lb"', 'maximum_weight = 1323')
    assert "maximum_weight" in only_error(make_campaign(tmp_path, campaign=text)).where


def test_own_reference_conditions_pair_with_the_common_ones(tmp_path):
    text = CAMPAIGN + '[airplane.one.reference]\ncruise_power = ["65 %"]\nweight = "900 kg"\n'
    found = {problem.where.split(", ")[-1]: problem for problem in
             errors(make_campaign(tmp_path, campaign=text))}
    assert "as many values as in [reference], 3" in found[
        "airplane.one.reference.cruise_power"].needed
    assert "at most the maximum weight" in found["airplane.one.reference.weight"].needed


# ---- what absent entries cost --------------------------------------------------------------------


@pytest.mark.parametrize(("old", "new", "where", "found"), [
    ('[["40 kt", "42 kt"], ["100 kt", "101 kt"]]', '"none"', "airplane.one.airspeed_calibration",
     "airspeeds are taken as indicated"),
    ('assumed_efficiency = ["70 %", "82 %"]\n', "", "airplane.one.assumed_efficiency",
     "70 % and 82 % are assumed"),
    ('changed = ["propeller", "mass"]\n', "", "configuration.B.changed", "held common"),
    ('rpm_schedule = [["48 kt", "5300 rpm"], ["62 kt", "4950 rpm"]]\n', "",
     "configuration.B.rpm_schedule", "keep the engine speed flown"),
    (', mass = "9 kg"', "", "configuration.A.propeller.mass", "equal load"),
    ('climb_rate = "80 ft/min"\n', "", "matters", "no difference of note"),
    ('primary = ["takeoff_ground_roll", "climb_rate"]\n', "", "compare.primary", "exploratory"),
    ('[matters]\n', '[matters]\nstall_airspeed = "1 kt"\n', "matters.stall_airspeed",
     "'stall_airspeed'"),
])
def test_costs_are_said_and_stop_nothing(tmp_path, old, new, where, found):
    folder = make_campaign(tmp_path, campaign=changed(old, new))
    told = [problem for problem in costs(folder) if where in problem.where]
    assert len(told) == 1, [str(problem) for problem in costs(folder)]
    assert found in told[0].found
    assert load_campaign(folder).costs == tuple(costs(folder))


def test_a_configuration_without_flights(tmp_path):
    flights = "flight,configuration,log\nF01,A,f01.csv\n"
    folder = make_campaign(tmp_path, flights=flights)
    assert any("configuration.B" in problem.where and "none: the results" in problem.found
               for problem in costs(folder))


def test_defaults_of_the_airplane(tmp_path):
    text = changed('assumed_efficiency = ["70 %", "82 %"]\n', "")
    one = load_campaign(make_campaign(tmp_path, campaign=text)).airplanes["one"]
    assert one.assumed_efficiency == (0.70, 0.82)


# ---- fingerprint -------------------------------------------------------------------------------


def test_fingerprint_holds_over_spelling_and_changes_with_the_question(tmp_path):
    def fingerprint(text):
        return fingerprint_question(load_campaign(make_campaign(tmp_path, campaign=text)))

    first = fingerprint(CAMPAIGN)
    assert len(first) == 2 * hashlib.sha256().digest_size
    same = CAMPAIGN.replace('weight = "600 kg"', 'weight = "0.6 t"  # the same').replace(
        '"takeoff_ground_roll", "climb_rate"', '"climb_rate", "takeoff_ground_roll"')
    assert fingerprint(same) == first
    assert fingerprint(changed('"1323 lb"', '"1350 lb"')) == first      # not part of the question
    asked = (('question = "Does', 'question = "How much does'), ('reference = "A"',
             'reference = "B"\n'), ('"25 m"', '"30 m"'), ('"62 kt"', '"63 kt"'),
             ('["takeoff_ground_roll", "climb_rate"]', '["climb_rate"]'))
    for old, new in asked:
        text = changed(old, new)
        if new.startswith('reference = "B"'):
            text = text.replace('changed = ["propeller", "mass"]', "").replace(
                '[configuration.A]', '[configuration.A]\nchanged = ["propeller", "mass"]')
        assert fingerprint(text) != first


# ---- lines -------------------------------------------------------------------------------------


def test_lines_of_every_kind_of_key():
    text = ('a = 1\nb.c = "x # [y]"\n"q.r" = \'z\'\n[t] # hi\nx = """\nmulti ] [\n"""\n'
            'y = [[1, 2], # c\n  ["a", 3],\n]\nz = { p = 1, "s t" = { r = [1] } }\n'
            'd = 1979-05-27 07:32:00Z\n[[u]]\nk = 1\n[[u]]\nk = 2\n[u.v]\nw = 3\n[t.sub."x y"]\n'
            "m = '''a'b''''\n[t.sub]\nn = +1.0")
    lines = key_lines(text, tomllib.loads(text))
    told = {path_text(path): line for path, line in lines.items()}
    expected = {"a": 1, "b.c": 2, '"q.r"': 3, "t": 4, "t.x": 5, "t.y": 8, "t.y[2][1]": 9, "t.z": 11,
                't.z."s t".r[1]': 11, "t.d": 12, "u[1].k": 14, "u[2].k": 16, "u[2].v.w": 18,
                't.sub."x y".m': 20, "t.sub": 21, "t.sub.n": 22}
    assert {path: told[path] for path in expected} == expected


TOML_KEYS = st.sampled_from(["a", "b", "c", "long_name", '"q r"'])
TOML_VALUES = st.recursive(
    st.sampled_from(["1", "2.5", '"x"', "'y # z'", "true", "1979-05-27", '"""m\nn"""']),
    lambda inner: st.lists(inner, max_size=3).map(lambda items: "[" + ",\n ".join(items) + "]"),
    max_leaves=5)


@given(st.lists(st.tuples(st.sampled_from(["", "[t]", "[t.s]", "[[r]]", "# remark"]), TOML_KEYS,
                          TOML_VALUES), max_size=6))
def test_a_line_given_holds_the_key(rows):
    """For any text that tomllib takes, the line of each key holds that key."""
    text = "\n".join(f"{head}\n{key} = {value}" for head, key, value in rows)
    try:
        parsed = tomllib.loads(text)
    except ValueError:
        return
    lines = key_lines(text, parsed)
    assert bool(lines) == bool(parsed)
    written = text.split("\n")
    for path, line in lines.items():
        if isinstance(path[-1], str):
            assert path[-1] in written[line - 1]


# ---- anything ----------------------------------------------------------------------------------


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture],
          deadline=None)
@given(st.data())
def test_any_value_anywhere_is_read_or_told(tmp_path, data):
    """Whatever stands behind a key, the check answers with problems and never breaks."""
    lines = CAMPAIGN.splitlines()
    place = data.draw(st.sampled_from([n for n, line in enumerate(lines) if " = " in line
                                       and line.strip()[0] != "{"]))
    value = data.draw(st.sampled_from(["5", "-1.5", '""', '"x"', "[]", "{}", "[[1], [2]]", "true",
                                       "nan", '"1 kg"', '["a", 5]', "1979-05-27", "{ a = 1 }",
                                       '"\\u0000"', '"65 %"', "0x" + "f" * 40]))
    lines[place] = lines[place].split(" = ")[0] + " = " + value
    folder = make_campaign(tmp_path, campaign="\n".join(lines) + "\n")
    problems = check_campaign(folder)
    if not any(problem.level == "error" for problem in problems):
        load_campaign(folder)


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="needs a user whom a disk refuses")
def test_a_file_that_may_not_be_read(tmp_path):
    folder = make_campaign(tmp_path)
    (folder / "campaign.toml").chmod(0)
    assert "permissions" in only_error(folder).mend


def test_looking_at_a_campaign_is_quick():
    """Importing the campaign's reader brings in no pandas and no pint."""
    code = "import sys, stdday.campaign; print('pandas' in sys.modules, 'pint' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True,
                          env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)})
    assert done.stdout.split() == ["False", "False"]
