"""flights.csv: how it is read, what is refused row by row, blocks, and what empty cells cost."""

from __future__ import annotations

import datetime
import math
import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stdday.campaign import check_campaign, load_campaign
from stdday.csv_tables import CsvRow, CsvTable
from stdday.flights import AirplaneFacts, Surroundings, read_flights
from stdday.names import id_fault, nearest
from tests.make_campaign import CAMPAIGN, HEADER, ROWS, make_campaign

AROUND = Surroundings(
    {"A": "one", "B": "one", "C": "two"},
    {"one": AirplaneFacts(600.0, 340.0, 720.0), "two": AirplaneFacts(900.0, 500.0, 720.0)},
    {"home": ("08", "26"), "wide": ("17L", "17R"), "away": ()})


def read(tmp_path, text, **more):
    folder = make_campaign(tmp_path, flights=text, **more)
    flights, problems = read_flights(folder, AROUND)
    return flights, problems


def errors(problems):
    return [problem for problem in problems if problem.level == "error"]


def one_flight(tmp_path, header, row):
    """Read one flight from a few columns; the three that are needed stand before them."""
    text = f"flight,configuration,log,{header}\nF01,A,f01.csv,{row}\n"
    flights, problems = read(tmp_path, text)
    return flights[0], errors(problems)


# ---- reading -----------------------------------------------------------------------------------


def test_every_column_in_si(tmp_path):
    header = ("flight,configuration,date,log,columns,takeoff_weight [lb],fuel_at_start [US gal],"
              "airfield,runway,altimeter_setting [inHg],reported_temperature [F],"
              "reported_dew_point [C],reported_wind_from [deg],reported_wind_speed [m/s],block,"
              "installation,pilot,engine_hours [h],flaps,mixture,runway_condition,crew_note,use,"
              "why_not")
    row = ('F01,A,2026-05-04,f01.csv,panel,1234,20,home,8,29.92,59,10,270,5,spring,first fit,'
           'pilot one,1240.6,10 deg,rich,"paved, wet","rough, =1+1 <b>",no,a bird at lift-off')
    flights, problems = read(tmp_path, f"{header}\n{row}\n")
    assert problems == []
    flight = flights[0]
    assert flight.row == 2
    assert flight.date == datetime.date(2026, 5, 4)
    assert flight.takeoff_weight_kg == pytest.approx(1234 * 0.45359237)
    assert flight.fuel_at_start_m3 == pytest.approx(20 * 0.003785411784)
    assert flight.altimeter_setting_pa == pytest.approx(29.92 * 3386.388640341)
    assert flight.reported_temperature_k == pytest.approx(288.15)
    assert flight.reported_dew_point_k == pytest.approx(283.15)
    assert flight.reported_wind_from_rad == pytest.approx(1.5 * math.pi)
    assert flight.reported_wind_speed_ms == 5.0
    assert flight.engine_hours_h == pytest.approx(1240.6)
    assert (flight.runway, flight.block, flight.installation) == ("08", "spring", "first fit")
    assert (flight.use, flight.why_not) == (False, "a bird at lift-off")
    assert flight.crew_note == "rough, =1+1 <b>"
    assert flight.runway_condition == "paved, wet"
    assert flight.log_names == ("logs/f01.csv",)
    assert flight.logs == (tmp_path.resolve() / "logs" / "f01.csv",)


def test_the_least_that_is_needed(tmp_path):
    flights, problems = read(tmp_path, "flight,configuration,log\nF01,A,f01.csv\n")
    assert errors(problems) == []
    flight = flights[0]
    assert (flight.block, flight.installation, flight.columns) == ("A1", "one", "panel")
    assert flight.date is None
    assert flight.takeoff_weight_kg is None
    assert flight.use is True


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_separators_marks_and_line_ends(tmp_path, separator, mark, end):
    rows = [line.replace(",", separator) for line in (HEADER, *ROWS)]
    content = mark + (end.join(rows) + end).encode()
    flights, problems = read(tmp_path, content)
    assert errors(problems) == []
    assert [flight.takeoff_weight_kg for flight in flights] == [576.0, 583.0, 569.0]


@pytest.mark.parametrize(("text", "kilograms"), [
    ("flight;configuration;log;takeoff_weight [kg]\nF01;A;f01.csv;585,5\n", 585.5),
    ("flight\tconfiguration\tlog\ttakeoff_weight [kg]\nF01\tA\tf01.csv\t585,5\n", 585.5),
    ('flight,configuration,log,takeoff_weight [kg]\nF01,A,f01.csv,"585,5"\n', 585.5),
    ("flight, configuration, log, takeoff_weight [kg]\n F01 , A , f01.csv , 585.5 \n", 585.5),
    ('sep=;\nflight;configuration;log;takeoff_weight [kg]\nF01;A;f01.csv;585,5\n', 585.5),
    ("\nFlight,Configuration,LOG,Takeoff weight [kg]\n\nF01,A,f01.csv,585.5\n\n", 585.5),
    ('"flight","configuration","log","takeoff_weight [kg]"\n"F01","A","f01.csv","585.5"\n', 585.5),
    ("flight,configuration,log,takeoff_weight [kg],\nF01,A,f01.csv,585.5,\n", 585.5),
])
def test_as_spreadsheets_write_it(tmp_path, text, kilograms):
    flights, problems = read(tmp_path, text)
    assert errors(problems) == []
    assert flights[0].takeoff_weight_kg == kilograms


@pytest.mark.parametrize(("codec", "name"), [("utf-16", "UTF-16"), ("cp1252", "Windows-1252")])
def test_other_encodings_are_read_with_a_finding(tmp_path, codec, name):
    text = "flight,configuration,log,pilot\nF01,A,f01.csv,Jörg’s friend\n"
    flights, problems = read(tmp_path, text.encode(codec))
    assert flights[0].pilot == "Jörg’s friend"
    finding = problems[0]
    assert (finding.level, finding.found) == ("cost", f"what was read as {name}")
    assert "accents" in finding.mend


def test_bytes_that_are_no_text(tmp_path):
    flights, problems = read(tmp_path, b"flight\0configuration\nF01\0A\n")
    assert flights == ()
    assert problems[0].needed == "a table as text"


def test_lines_are_those_of_the_file(tmp_path):
    text = ('\nflight,configuration,log,crew_note,use\n\nF01,A,f01.csv,"two\nlines",yes\n'
            "F02,A,f02.csv,,maybe\n")
    flights, problems = read(tmp_path, text)
    assert [flight.row for flight in flights] == [4, 6]
    assert errors(problems)[0].where == "line 6, use"


# ---- faults of the table -----------------------------------------------------------------------


@pytest.mark.parametrize(("text", "where", "needed", "found", "mend"), [
    ("flight,configuration,log,takeoff_weight\nF01,A,f01.csv,585\n",
     "line 1, column 'takeoff_weight'", "the unit of a mass in square brackets", "no unit",
     "write takeoff_weight [kg] or another of kg, lb"),
    ("flight,configuration,log,takeoff_weight [kt]\nF01,A,f01.csv,585\n",
     "line 1, column 'takeoff_weight [kt]'", "a mass with its unit", "unit 'kt'", "unit of speed"),
    ("flight,configuration,log,fuel_at_start [gal]\nF01,A,f01.csv,20\n",
     "line 1, column 'fuel_at_start [gal]'", "a volume", "unit 'gal'", "'US gal' (3.785 L) or"),
    ("flight,configuration,log,take_off_weight [kg]\nF01,A,f01.csv,585\n",
     "line 1, column 'take_off_weight [kg]'", "a known column", "'take_off_weight'",
     "write takeoff_weight, if that is meant"),
    ("flight,configuration,log,zzz\nF01,A,f01.csv,585\n", "line 1, column 'zzz'",
     "a known column", "'zzz'", "leave it out; known are flight, configuration"),
    ("flight,configuration,log,pilot [kg]\nF01,A,f01.csv,x\n", "line 1, column 'pilot [kg]'",
     "a column without unit", "the unit 'kg'", "write pilot"),
    ("flight,configuration,log,pilot,Pilot\nF01,A,f01.csv,x,y\n", "line 1, column 'Pilot'",
     "each column once", "the same column again", "leave one of them out"),
    ("flight,log\nF01,f01.csv\n", "line 1", "the column configuration", "a header without it",
     "add the column configuration"),
    ("flight,configuration,log,pilot\nF01,A,f01.csv\n", "line 2", "4 cells, as in the header",
     "3 cells", "a missing separator"),
    ("flight,configuration,log,crew_note\nF01,A,f01.csv,rough, hot\n", "line 2",
     "4 cells, as in the header", "5 cells", "in quotes"),
    ("flight,configuration,log,crew_note\nF01,A,f01.csv,rough,\n", "line 2", "4 cells", "5 cells",
     "in quotes"),
    ('flight,configuration,log,crew_note\nF01,A,f01.csv,"rough\nF02,A,f02.csv,\n', "line 2",
     "cells between separators", "unexpected end of data", "quotation marks"),
    ("flight,configuration,log,\nF01,A,f01.csv,stray\n", "line 2, cell 4", "a column with a name",
     "'stray' under an empty header cell", "name the column or empty the cell"),
    ("", "", "a header line", "an empty file", "write the columns flight, configuration"),
    ("flight,configuration,log\n", "", "a row for each flight", "only the header, still to fill in",
     "one row a flight"),
])
def test_faults_of_the_table(tmp_path, text, where, needed, found, mend):
    problem = errors(read(tmp_path, text)[1])[0]
    assert problem.file == "flights.csv"
    assert problem.where == where
    assert needed in problem.needed
    assert found in problem.found
    assert mend in problem.mend


def test_no_file(tmp_path):
    flights, problems = read_flights(tmp_path, None)
    assert flights == ()
    assert (problems[0].file, problems[0].found) == ("flights.csv", "no such file")


# ---- faults of one row -------------------------------------------------------------------------


@pytest.mark.parametrize(("header", "row", "column", "needed", "found", "mend"), [
    ("date", "04.05.2026", "date", "year-month-day", "'04.05.2026'", "2025-06-14"),
    ("date", "05/04/26", "date", "year-month-day", "'05/04/26'", "2025-06-14"),
    ("date", "2026-02-30", "date", "year-month-day", "'2026-02-30'", "2025-06-14"),
    ("date", "0026-05-04", "date", "year-month-day", "'0026-05-04'", "2025-06-14"),
    ("takeoff_weight [kg]", "heavy", "takeoff_weight", "a number", "'heavy'", "finite number"),
    ("takeoff_weight [kg]", "585 kg", "takeoff_weight", "a number", "'585 kg'", 'write "585"'),
    ("takeoff_weight [kg]", "nan", "takeoff_weight", "a number", "'nan'", "finite number"),
    ("takeoff_weight [kg]", '"1,234"', "takeoff_weight", "a number", "'1,234'", "both ways"),
    ("takeoff_weight [kg]", "1234", "takeoff_weight", "near the maximum of 600 kg", "1234 kg",
     "(kg, lb)"),
    ("takeoff_weight [lb]", "583", "takeoff_weight", "above the empty weight of 340 kg", "264 kg",
     "(kg, lb)"),
    ("takeoff_weight [kg]", "5", "takeoff_weight", "of 20 kg to 20000 kg", "'5' kg", "unit in the"),
    ("altimeter_setting [hPa]", "29.92", "altimeter_setting", "of 850 hPa to 1100 hPa",
     "'29.92' hPa", "unit in the header"),
    ("altimeter_setting [inHg]", "1013", "altimeter_setting", "of 850 hPa to 1100 hPa",
     "'1013' inHg", "unit in the header"),
    ("reported_temperature [degC]", "72", "reported_temperature", "of -60 degC to 60 degC",
     "'72' degC", "unit in the header"),
    ("reported_wind_from [deg]", "370", "reported_wind_from", "of 0 deg to 360 deg", "'370' deg",
     "unit"),
    ("reported_wind_speed [kt]", "-5", "reported_wind_speed", "of 0 kt to 100 kt", "'-5' kt",
     "unit"),
    ("reported_temperature [degC],reported_dew_point [degC]", "10,15", "reported_dew_point",
     "at or below the temperature", "15.0 degC with 10.0 degC", "check both"),
    ("airfield", "hom", "airfield", "an airfield that campaign.toml has (home, wide, away)",
     "'hom'", "write home, if that is meant"),
    ("airfield,runway", "home,09", "runway", "a runway of home (08, 26)", "'09'",
     "add the runway to [airfield.home]"),
    ("airfield,runway", "wide,17", "runway", "a runway of wide (17L, 17R)", "'17'",
     "write 17R, if that is meant"),
    ("airfield,runway", "away,09", "runway", "a runway of away (none given)", "'09'",
     "add the runway to [airfield.away]"),
    ("runway", "08", "runway", "the airfield of the runway", "an empty airfield",
     "write the airfield too"),
    ("columns", "panell", "columns", "a file in columns/ (panel)", "'panell'", "write panel, if"),
    ("use", "maybe", "use", "yes or no", "'maybe'", "write yes or no"),
    ("use", "no", "why_not", "the reason why", "an empty cell", "it stands in the report"),
    ("block", "a/b", "block", "part of a file name", "it holds the mark /", "use letters"),
])
def test_faults_of_one_row(tmp_path, header, row, column, needed, found, mend):
    _, problems = one_flight(tmp_path, header, row)
    assert len(problems) == 1, [str(problem) for problem in problems]
    problem = problems[0]
    assert problem.where == f"line 2, {column}"
    assert needed in problem.needed
    assert found in problem.found
    assert mend in problem.mend


@pytest.mark.parametrize(("row", "column", "needed", "found", "mend"), [
    (",A,f01.csv", "flight", "a name for the flight", "an empty cell", "such as F01"),
    ("F01,,f01.csv", "configuration", "a configuration", "an empty cell", "configuration flown"),
    ("F01,D,f01.csv", "configuration", "a configuration that campaign.toml has (A, B, C)", "'D'",
     "as [configuration.NAME]"),
    ("F01,A,", "log", "the recording in logs/", "an empty cell", "write its file name"),
    ("F01,A,f1.csv", "log", "the file logs/f1.csv", "no such file", "write f01.csv, if"),
    ("F01,A,zzzzzzz.dat", "log", "the file logs/zzzzzzz.dat", "no such file", "copy the recording"),
    ("F01,A,f01.csv | f01.csv", "log", "each recording once", "'f01.csv | f01.csv'", "second one"),
    ("F01,A,f01.csv | ", "log", "separated by |", "'f01.csv |'", "no name empty"),
    ("F01,A,logs", "log", "the file logs", "no such file", "copy the recording"),
    ("../x,A,f01.csv", "flight", "part of a file name", "it holds the mark /", "letters"),
    ("nul,A,f01.csv", "flight", "part of a file name", "kept by one operating system", "letters"),
    (".hidden,A,f01.csv", "flight", "part of a file name", "a point or dash", "letters"),
    ("a\u202eb,A,f01.csv", "flight", "part of a file name", "cannot be seen", "letters"),
    ("F" * 70 + ",A,f01.csv", "flight", "part of a file name", "longer than 64", "letters"),
])
def test_faults_of_the_names(tmp_path, row, column, needed, found, mend):
    _, problems = read(tmp_path, f"flight,configuration,log\n{row}\n")
    told = [problem for problem in errors(problems) if problem.where == f"line 2, {column}"]
    assert len(told) == 1, [str(problem) for problem in problems]
    assert needed in told[0].needed
    assert found in told[0].found
    assert mend in told[0].mend


@pytest.mark.parametrize("name", [
    "../f01.csv", "logs/../../f01.csv", "/etc/passwd", "C:\\x.csv", "C:x.csv", "..\\f01.csv",
    "~/x.csv", "\\\\host\\x.csv", "logs\\..\\..\\x",
])
def test_a_recording_may_not_leave_the_folder(tmp_path, name):
    _, problems = read(tmp_path, f"flight,configuration,log\nF01,A,{name}\n")
    assert errors(problems)[0].needed == "a file in the campaign's folder"


@pytest.mark.skipif(os.name == "nt", reason="links need a right there")
def test_a_link_out_of_the_folder_is_refused(tmp_path):
    (tmp_path / "outside.csv").write_text("x")
    folder = make_campaign(tmp_path / "campaign",
                           flights="flight,configuration,log\nF01,A,f09.csv\n")
    (folder / "logs" / "f09.csv").symlink_to(tmp_path / "outside.csv")
    problem = errors(read_flights(folder, AROUND)[1])[0]
    assert problem.found == "'f09.csv', a link to another place"


def test_where_a_recording_may_lie(tmp_path):
    (tmp_path / "logs" / "may").mkdir(parents=True)
    (tmp_path / "logs" / "may" / "f04.csv").write_text("x")
    text = ("flight,configuration,log\nF01,A,logs/f01.csv\nF02,A,may/f04.csv\n"
            "F03,A,f02.csv | f03.csv\n")
    flights, problems = read(tmp_path, text)
    assert errors(problems) == []
    assert [flight.log_names for flight in flights] == [
        ("logs/f01.csv",), ("logs/may/f04.csv",), ("logs/f02.csv", "logs/f03.csv")]
    assert all(path.is_absolute() for flight in flights for path in flight.logs)


def test_names_and_recordings_belong_to_one_flight(tmp_path):
    text = "flight,configuration,log\nF01,A,f01.csv\nf01,A,f02.csv\nF03,A,f01.csv | f03.csv\n"
    problems = errors(read(tmp_path, text)[1])
    assert [problem.where for problem in problems] == ["line 3, flight", "line 4, log"]
    assert problems[0].found == "'f01', which line 2 has too"
    assert "count twice" in problems[1].mend


def test_a_flight_not_used_needs_no_recording(tmp_path):
    text = "flight,configuration,log,use,why_not\nF01,A,,no,recorder was off\n"
    flights, problems = read(tmp_path, text)
    assert errors(problems) == []
    assert (flights[0].use, flights[0].logs) == (False, ())


def test_several_columns_files_must_be_named(tmp_path):
    folder = make_campaign(tmp_path, flights="flight,configuration,log\nF01,A,f01.csv\n")
    (folder / "columns" / "second.toml").write_text("")
    problem = errors(read_flights(folder, AROUND)[1])[0]
    assert problem.where == "line 2, columns"
    assert "with 2 files in columns/" in problem.found
    text = "flight,configuration,log,columns\nF01,A,f01.csv,panel.toml\n"
    (folder / "flights.csv").write_text(text)
    assert read_flights(folder, AROUND)[0][0].columns == "panel"


def test_a_weight_over_the_maximum_is_used_and_said(tmp_path):
    text = "flight,configuration,log,takeoff_weight [kg]\nF01,A,f01.csv,620\n"
    flights, problems = read(tmp_path, text)
    assert flights[0].takeoff_weight_kg == 620.0
    told = [problem for problem in problems if problem.where == "line 2, takeoff_weight"]
    assert (told[0].level, told[0].needed) == ("cost", "at most the maximum weight of 600 kg")


def test_fuel_by_mass_takes_the_airplanes_density(tmp_path):
    flight, problems = one_flight(tmp_path, "fuel_at_start [kg]", "72")
    assert problems == []
    assert flight.fuel_at_start_m3 == pytest.approx(0.1)


def test_without_campaign_toml_its_names_are_not_checked(tmp_path):
    folder = make_campaign(tmp_path, flights="flight,configuration,log,airfield,runway,"
                           "fuel_at_start [L]\nF01,Z,f01.csv,x,y,5\n")
    flights, problems = read_flights(folder, None)
    assert errors(problems) == []
    assert (flights[0].configuration, flights[0].airfield, flights[0].runway) == ("Z", "x", "y")


@pytest.mark.parametrize(("written", "known"), [
    ("home,8", "08"), ("home,08", "08"), ("wide,17l", "17L"),
])
def test_runways_as_spreadsheets_leave_them(tmp_path, written, known):
    flight, problems = one_flight(tmp_path, "airfield,runway", written)
    assert (problems, flight.runway) == ([], known)


# ---- order and blocks --------------------------------------------------------------------------


def blocks(tmp_path, rows, header="flight,configuration,date,block,use,why_not"):
    lines = [f"{header},log"]
    logs = []
    for place, row in enumerate(rows):
        logs.append(f"log{place}.csv")
        lines.append(f"{row},{logs[-1]}")
    flights, problems = read(tmp_path, "\n".join(lines) + "\n", logs=tuple(logs))
    return [(flight.id, flight.block) for flight in flights], errors(problems)


def test_a_block_is_an_unbroken_run_in_date_order(tmp_path):
    found, problems = blocks(tmp_path, [
        "F5,A,2026-07-01,,,", "F1,A,2026-05-01,,,", "F2,A,2026-05-03,,,", "F4,B,2026-06-02,,,",
        "F3,B,2026-06-01,,,"])
    assert problems == []
    assert found == [("F1", "A1"), ("F2", "A1"), ("F3", "B1"), ("F4", "B1"), ("F5", "A2")]


def test_flights_of_one_day_keep_the_order_of_the_file(tmp_path):
    found, _ = blocks(tmp_path, ["F1,A,2026-05-01,,,", "F2,B,2026-05-01,,,", "F3,A,2026-05-01,,,"])
    assert found == [("F1", "A1"), ("F2", "B1"), ("F3", "A2")]


def test_a_flight_without_date_follows_the_one_before(tmp_path):
    found, _ = blocks(tmp_path, ["F1,A,2026-05-09,,,", "F2,B,,,,", "F3,A,2026-05-01,,,"])
    assert [name for name, _ in found] == ["F3", "F1", "F2"]


def test_airplanes_have_blocks_of_their_own(tmp_path):
    """Two airplanes flown in turn were not rebuilt between flights."""
    found, _ = blocks(tmp_path, ["F1,A,2026-05-01,,,", "F2,C,2026-05-02,,,", "F3,A,2026-05-03,,,",
                                 "F4,C,2026-05-04,,,"])
    assert found == [("F1", "A1"), ("F2", "C1"), ("F3", "A1"), ("F4", "C1")]


def test_a_flight_not_used_still_stands_in_its_block(tmp_path):
    found, _ = blocks(tmp_path, ["F1,A,2026-05-01,,,", "F2,B,2026-05-02,,no,bad log",
                                 "F3,A,2026-05-03,,,"])
    assert [block for _, block in found] == ["A1", "B1", "A2"]


def test_given_blocks_stand_and_break_the_runs(tmp_path):
    found, problems = blocks(tmp_path, [
        "F1,A,2026-05-01,A1,,", "F2,A,2026-05-02,,,", "F3,A,2026-05-03,,,", "F4,B,2026-05-04,x,,",
        "F5,A,2026-05-05,,,"])
    assert problems == []
    assert [block for _, block in found] == ["A1", "A2", "A2", "x", "A3"]


def test_a_block_of_two_configurations_is_refused(tmp_path):
    _, problems = blocks(tmp_path, ["F1,A,2026-05-01,x,,", "F2,B,2026-05-02,x,,"])
    assert problems[0].where == "line 3, block"
    assert problems[0].found == "'x', which line 2 has for configuration A"


@given(st.lists(st.sampled_from("AB"), max_size=8))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=30,
          deadline=None)
def test_blocks_change_exactly_where_the_configuration_does(tmp_path, order):
    rows = [f"F{place},{name},2026-05-{place + 1:02d},,," for place, name in enumerate(order)]
    found, _ = blocks(tmp_path, rows)
    names = [block for _, block in found]
    for place in range(1, len(order)):
        assert (names[place] == names[place - 1]) == (order[place] == order[place - 1])
    assert len(set(names)) == sum(1 for place in range(len(order))
                                  if place == 0 or order[place] != order[place - 1])


# ---- costs -------------------------------------------------------------------------------------


def costs(tmp_path, header, *rows):
    lines = [f"flight,configuration,log,{header}"]
    lines += [f"F0{place},A,f0{place}.csv,{row}" for place, row in enumerate(rows, 1)]
    _, problems = read(tmp_path, "\n".join(lines) + "\n")
    return {problem.where: problem for problem in problems if problem.level == "cost"}


FULL = ("date,takeoff_weight [kg],airfield,runway,altimeter_setting [hPa],"
        "reported_temperature [degC],reported_dew_point [degC],reported_wind_from [deg],"
        "reported_wind_speed [kt],use,why_not")
FULL_ROW = "2026-05-04,576,home,08,1021,9,3,60,5,yes,"


def test_nothing_absent_costs_nothing(tmp_path):
    assert costs(tmp_path, FULL, FULL_ROW) == {}


@pytest.mark.parametrize(("column", "says"), [
    ("date", "cannot be placed in time"), ("takeoff_weight", "widens every interval"),
    ("runway", "the slope cannot be corrected"), ("altimeter_setting", "recorded altitude alone"),
    ("reported_temperature", "extrapolated down"), ("reported_dew_point", "the humidity is drawn"),
    ("reported_wind_speed", "from the recording alone"),
    ("reported_wind_from", "the reported wind cannot be used"),
])
def test_an_empty_cell_says_what_it_costs(tmp_path, column, says):
    names = [cell.split(" ")[0] for cell in FULL.split(",")]
    cells = FULL_ROW.split(",")
    cells[names.index(column)] = ""
    found = costs(tmp_path, FULL, FULL_ROW, ",".join(cells))
    assert list(found) == [column]
    assert found[column].found.startswith("nothing for flight F02: ")
    assert says in found[column].found


def test_absent_columns_are_told_once(tmp_path):
    found = costs(tmp_path, "pilot", "x", "y", "z")
    assert len(found) == 7
    assert "nothing for every flight" in found["column reported_dew_point, absent"].found
    assert "column runway, absent" not in found          # the airfield's absence says it already


def test_a_flight_not_used_costs_nothing(tmp_path):
    assert costs(tmp_path, FULL, ",,,,,,,,,no,bad log") == {}


def test_calm_needs_no_direction(tmp_path):
    assert costs(tmp_path, FULL, FULL_ROW.replace(",60,5,", ",,0,")) == {}


# ---- whole campaign, and anything --------------------------------------------------------------


def test_flights_within_a_campaign(tmp_path):
    campaign = load_campaign(make_campaign(tmp_path))
    assert [(flight.block, flight.installation) for flight in campaign.flights] == [
        ("A1", "one"), ("A1", "one"), ("B1", "one")]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=80,
          deadline=None)
@given(st.one_of(
    st.binary(max_size=120),
    st.text(alphabet='F01A,;\t"\n\r[]kg|=é\u202e\0 ./\\', max_size=120).map(
        lambda text: ("flight,configuration,log,takeoff_weight [kg]\n" + text).encode())))
def test_any_bytes_are_read_or_told(tmp_path, data):
    folder = make_campaign(tmp_path, campaign=CAMPAIGN, flights=data)
    problems = check_campaign(folder)
    if not any(problem.level == "error" for problem in problems):
        load_campaign(folder)


@given(st.text(max_size=80))
def test_a_name_that_passes_makes_a_file(name):
    """Whatever passes has no part that a file system reads as a folder."""
    if id_fault(name) is None:
        assert Path(f"{name}.csv").name == f"{name}.csv"
        assert Path("x", name).parent == Path("x")
        assert name.strip() == name != ""


def test_nearest():
    assert nearest("Takeoff_Wieght", ["takeoff_weight", "flaps"]) == "takeoff_weight"
    assert nearest("zzz", ["takeoff_weight"]) is None
    assert nearest("a" * 10**6, ["takeoff_weight"]) is None


def test_a_cell_without_good_unit_is_none():
    table = CsvTable("flights.csv", {}, ("takeoff_weight",), ())
    assert table.quantity(CsvRow(2, {"takeoff_weight": "5"}), "takeoff_weight", "mass") is None
