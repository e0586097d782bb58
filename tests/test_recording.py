"""Recordings through a columns file: shapes of files, values to the last digit, rows accounted."""

from __future__ import annotations

import datetime
import gzip
import io
import re
import zipfile
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stdday.channels import find_channel
from stdday.columns import load_columns
from stdday.errors import CampaignError, InputError, StddayError
from stdday.recording import FlightSource, Recording, read_flight, read_source
from stdday.recording_channels import drop_spikes
from stdday.recording_file import numbers_from_text, read_table
from stdday.recording_header import read_header
from tests.read_invented import KT, TEN, said
from tests.read_invented import read as read_any

PLAIN = """\
delimiter = ","
header_rows = [1]
time = { columns = ["Date", "Time"], format = "%Y-%m-%d %H:%M:%S" }
missing = ["", "---"]
[channels]
indicated_airspeed = { column = "Airspeed", unit = "kt" }
outside_air_temperature = { column = "OAT", unit = "degC" }
"""
ROWS = """\
Date,Time,Airspeed,OAT,Note
2024-05-01,10:00:00,50,15.0,a
2024-05-01,10:00:01,51.5,,b
2024-05-01,10:00:02,+53,-5.5,c
"""


def read(folder: Path, content: str | bytes | dict[str, str | bytes], columns: str = PLAIN,
         **facts: object) -> Recording:
    return read_any(folder, content, columns, **facts)


def check_plain(recording: Recording) -> None:
    """Compare with what ROWS say."""
    assert list(recording.time_s - TEN) == [0.0, 1.0, 2.0]
    np.testing.assert_allclose(recording.channels["indicated_airspeed"],
                               [50.0 * KT, 51.5 * KT, 53.0 * KT], rtol=1e-15)
    np.testing.assert_allclose(recording.channels["outside_air_temperature"],
                               [288.15, np.nan, 267.65], rtol=1e-15)


# ---------------------------------------------------------------- shapes of files


def test_a_plain_file(tmp_path: Path) -> None:
    recording = read(tmp_path, ROWS)
    check_plain(recording)
    assert recording.flight == "F1"
    assert str(recording.rows) == "3 rows = 3 used"
    assert recording.findings == ()
    assert recording.interval_s == 1.0
    assert recording.sources[0][0] == "logs/one.csv"
    assert re.fullmatch("[0-9a-f]{64}", recording.sources[0][1])


@pytest.mark.parametrize("data", [
    ROWS.replace("\n", "\r\n").encode(),
    ROWS.replace("\n", "\r").encode(),
    ROWS.replace("\n", "\r\r\n").encode(),
    ROWS.encode("utf-8-sig"),
    ROWS.encode("utf-16"),
    ROWS.encode("utf-16-le"),
    ROWS.encode("utf-16-be"),
    ROWS.encode("utf-32"),
    gzip.compress(ROWS.encode()),
    ROWS.replace(",", " , ").encode(),
    ROWS.replace("\n", ",\n").encode(),
    ROWS.replace("\n", ",,\n", 1).replace("a\n", "a,,\n").replace("b\n", "b,,\n").replace(
        "c\n", "c,,\n").encode(),
    re.sub("[^,\n]+", lambda cell: f'"{cell[0]}"', ROWS).encode(),
    ROWS.replace(",a", ',"a, quoted ""twice"""').encode(),
    ROWS.replace(",b", ',29.92"').encode(),
], ids=["crlf", "cr", "crcrlf", "bom", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "gzip",
        "padded", "trailing delimiter", "trailing delimiters", "quoted", "delimiter in quotes",
        "inch mark"])
def test_the_same_file_in_other_clothes(tmp_path: Path, data: bytes) -> None:
    recording = read(tmp_path, data)
    check_plain(recording)
    assert str(recording.rows) == "3 rows = 3 used"
    assert recording.findings == ()


def test_a_zip_of_one_file(tmp_path: Path) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.mkdir("folder")
        archive.writestr("folder/one.csv", ROWS)
    check_plain(read(tmp_path, packed.getvalue()))
    with zipfile.ZipFile(packed, "a") as archive:
        archive.writestr("two.csv", ROWS)
    with pytest.raises(CampaignError, match="zip archive of one file; found 2 files"):
        read(tmp_path, packed.getvalue())


def test_names_in_two_lines_with_a_unit_row_and_comments(tmp_path: Path) -> None:
    recording = read(tmp_path, """\
made by hand
# Engine;;Air;Air
# Speed;Time;Speed;Temp
# rpm;;[km/h];°C
2400;10:00:00;100,5;-0,0
# pause

2410;10:00:01;---;+1
""", """\
delimiter = ";"
decimal = ","
header_rows = [2, 3]
unit_row = 4
comment = "#"
missing = ["---"]
time = { columns = ["Time"], format = "%H:%M:%S" }
[channels]
engine_speed = { column = "Engine Speed" }
indicated_airspeed = { column = "Air Speed" }
outside_air_temperature = { column = "#4", unit = "degF" }
""", date=datetime.date(2024, 5, 1))
    assert list(recording.time_s - TEN) == [0.0, 1.0]
    np.testing.assert_allclose(recording.channels["engine_speed"], [40.0, 2410.0 / 60.0])
    np.testing.assert_allclose(recording.channels["indicated_airspeed"], [100.5 / 3.6, np.nan])
    # 0 degF is 255.372 K (NIST SP 811: K = (F + 459.67) / 1.8)
    np.testing.assert_allclose(recording.channels["outside_air_temperature"],
                               [459.67 / 1.8, 460.67 / 1.8])
    assert str(recording.rows) == "4 rows = 2 used + 1 blank line + 1 comment line"
    assert "the unit row gives '°C' for outside_air_temperature, the columns file 'degF'" in (
        said(recording))


def test_latin_1_is_read_and_said(tmp_path: Path) -> None:
    columns = PLAIN.replace("OAT", "OAT °C")
    recording = read(tmp_path, ROWS.replace("OAT", "OAT °C").encode("latin-1"), columns)
    check_plain(recording)
    assert "is not UTF-8; read as Latin-1" in said(recording)
    declared = read(tmp_path, ROWS.replace("OAT", "OAT °C").encode("latin-1"),
                    'encoding = "latin-1"\n' + columns)
    check_plain(declared)
    assert declared.findings == ()


def test_no_header_at_all(tmp_path: Path) -> None:
    columns = """\
delimiter = "\\t"
header_rows = []
time = { columns = ["#1"], format = "epoch seconds" }
[channels]
pitch = { column = "#3", unit = "deg" }
"""
    recording = read(tmp_path, f"{TEN}\tx\t90\n{TEN + 0.02}\ty\t45\n", columns)
    np.testing.assert_allclose(recording.time_s - TEN, [0.0, 0.02], atol=1e-6)
    np.testing.assert_allclose(recording.channels["pitch"], [np.pi / 2, np.pi / 4])


def test_duplicate_and_blank_names_go_by_position(tmp_path: Path) -> None:
    rows = ROWS.replace("Airspeed,OAT", "type,type")
    columns = PLAIN.replace('"Airspeed"', '"#3"').replace('"OAT"', '"#4"')
    check_plain(read(tmp_path, rows, columns))
    check_plain(read(tmp_path, rows.replace("type", ""), columns))
    with pytest.raises(CampaignError) as caught:
        read(tmp_path, rows, PLAIN.replace("Airspeed", "type").replace('"OAT"', '"#9"'))
    assert [str(problem) for problem in caught.value.problems] == [
        "logs/one.csv: line 1, header: needed the column 'type' for indicated_airspeed; found that "
        "name 2 times, in columns 3, 4. Mend: choose one by its position, such as \"#3\".",
        "logs/one.csv: line 1, header: needed column #9 for outside_air_temperature; found 5 "
        "columns. Mend: name a column that is there."]


def test_columns_that_are_not_there_are_all_told_with_the_nearest(tmp_path: Path) -> None:
    rows = ROWS.replace("Airspeed", "air speed").replace("OAT", "Temp").replace("Time", "Tyme")
    with pytest.raises(CampaignError) as caught:
        read(tmp_path, rows)
    found = [str(problem) for problem in caught.value.problems]
    assert len(found) == 3
    assert "the column 'Time' for time; found as nearest 'Tyme'" in found[0]
    assert "the column 'Airspeed' for indicated_airspeed; found as nearest 'air speed'" in found[1]
    assert "the column 'OAT' for outside_air_temperature" in found[2]
    with pytest.raises(CampaignError, match="is the delimiter right"):
        read(tmp_path, ROWS.replace(",", ";"))


# ---------------------------------------------------------------- rows


def test_the_last_line_is_believed_only_with_its_end(tmp_path: Path) -> None:
    cut = ROWS + "2024-05-01,10:00:03,5"
    recording = read(tmp_path, cut)
    check_plain(recording)
    assert str(recording.rows) == "4 rows = 3 used + 1 last line without a line end"
    whole = read(tmp_path, ROWS + "2024-05-01,10:00:03,55,1,d")
    assert str(whole.rows) == "4 rows = 3 used + 1 last line without a line end"


def test_every_reason_is_counted(tmp_path: Path) -> None:
    recording = read(tmp_path, ROWS.encode() + b"".join([
        b"\n", b"   \n",
        b"2024-05-01,10:00:03,54\n",
        b"2024-05-01,10:00:03,54,1,x,y\n",
        b"2024-05-01,10:00:03,54,1,\0\0\n",
        b"2024-05-01,10:00:03,54,1,\rx\n",
        b"2024-05-01,10:00:03,54,1," + b"x" * 1_000_001 + b"\n",
        b'2024-05-01,10:00:03,54,1,"open\n',
        b"2024-05-01,yes,54,1,x\n",
        b",,,,\n",
        b"2024-05-01,10:00:01,54,1,x\n",
        b"2024-05-01,10:00:04,54,1,x\n",
    ]))
    assert recording.rows.in_file == 15
    assert recording.rows.used == 4
    assert dict(recording.rows.set_aside) == {
        "blank line": 2, "control characters": 2, "longer than 1 MB": 1, "quotes not closed": 1,
        "fewer cells than the other rows": 1, "more cells than the other rows": 1,
        "time missing or unreadable": 2, "time goes back": 1}
    assert list(recording.time_s - TEN) == [0.0, 1.0, 2.0, 4.0]


def test_rows_wider_than_the_header_are_told(tmp_path: Path) -> None:
    rows = ROWS.replace(",a", ",a,7").replace(",b", ",b,7").replace(",c", ",c,7")
    recording = read(tmp_path, rows)
    check_plain(recording)
    assert "the header has 5 names and the rows have 6 cells" in said(recording)


def test_rows_that_do_not_reach_a_column_are_refused(tmp_path: Path) -> None:
    with pytest.raises(CampaignError, match="needed column #4; found rows of 3 cells"):
        read(tmp_path, re.sub(r"(?m)^(2024.*?),[^,]*,[a-c]$", r"\1", ROWS))


# ---------------------------------------------------------------- values


def test_text_in_a_numeric_column_is_missing_and_told(tmp_path: Path) -> None:
    rows = ROWS.replace(",50,", ",118.5 RX,").replace(",51.5,", ",0x1F,").replace(
        "15.0", "inf").replace("-5.5", "True")
    recording = read(tmp_path, rows)
    np.testing.assert_allclose(recording.channels["indicated_airspeed"],
                               [np.nan, np.nan, 53.0 * KT])
    assert np.isnan(recording.channels["outside_air_temperature"]).all()
    assert ("2 cells of indicated_airspeed hold no number ('118.5 RX' in line 2, '0x1F' in line 3)"
            in said(recording))
    assert "2 cells of outside_air_temperature hold no number ('inf' in line 2, 'True' in line 4)" \
        in said(recording)


def test_numbers_that_stand_for_missing(tmp_path: Path) -> None:
    columns = PLAIN.replace('"---"]', '"---", "-1777"]').replace(
        'unit = "kt"', 'unit = "kt", missing = ["-1"]')
    rows = ROWS.replace(",50,", ",-1.0,").replace("15.0", "-1777.0").replace("-5.5", "-1")
    recording = read(tmp_path, rows, columns)
    np.testing.assert_allclose(recording.channels["indicated_airspeed"],
                               [np.nan, 51.5 * KT, 53.0 * KT])
    np.testing.assert_allclose(recording.channels["outside_air_temperature"],
                               [np.nan, np.nan, 272.15])
    assert recording.findings == ()


def test_samples_out_of_bounds_are_missing_and_counted(tmp_path: Path) -> None:
    recording = read(tmp_path, ROWS.replace("15.0", "900").replace("-5.5", "-300"))
    assert np.isnan(recording.channels["outside_air_temperature"]).all()
    assert ("2 of 3 samples of outside_air_temperature are outside 200 to 340 K (900 in the file)"
            in said(recording))


def gps(rows: list[tuple[float, float, float]]) -> str:
    lines = ["t,lat,lon,gs,trk"]
    lines += [f"{TEN + place},{lat},{lon},{speed},10"
              for place, (lat, lon, speed) in enumerate(rows)]
    return "\n".join(lines) + "\n"


GPS = """\
delimiter = ","
header_rows = [1]
time = { columns = ["t"], format = "epoch seconds" }
[channels]
latitude = { column = "lat", unit = "deg" }
longitude = { column = "lon", unit = "deg" }
ground_speed = { column = "gs", unit = "kt" }
track = { column = "trk", unit = "deg" }
"""


def test_a_position_of_zero_takes_its_fix_with_it(tmp_path: Path) -> None:
    recording = read(tmp_path, gps([(0, 0, 18), (50, 0, 20), (+50.25, -8.5, 21)]), GPS)
    assert np.isnan(recording.channels["latitude"][0])
    assert np.isnan(recording.channels["ground_speed"][0])
    assert np.isnan(recording.channels["track"][0])
    assert list(recording.channels["latitude"][1:]) == [50.0, 50.25]
    assert list(recording.channels["longitude"][1:]) == [0.0, -8.5]
    assert "the position is 0, 0 in 1 rows" in said(recording)
    assert recording.track_reference is None
    assert "whether track is true or magnetic is not said" in said(recording)


def test_ground_speed_that_cannot_be_flown(tmp_path: Path) -> None:
    speeds = [60.0] * 30 + [563.0, 540.0] + [61.0] * 30
    recording = read(tmp_path, gps([(50, 8, speed) for speed in speeds]), GPS)
    kept = recording.channels["ground_speed"]
    assert np.flatnonzero(np.isnan(kept)).tolist() == [30, 31]
    assert "2 samples of ground_speed cannot be flown" in said(recording)


def test_spikes_after_a_drop_out_go_and_flight_stays() -> None:
    time_s = np.arange(100.0)
    speed = np.full(100, 30.0)
    speed[40:58] = np.nan
    speed[58:61] = [250.0, 240.0, 235.0]
    kept, dropped = drop_spikes(time_s, speed)
    assert dropped == 3
    assert np.isnan(kept[40:61]).all()
    assert np.array_equal(kept[61:], speed[61:])
    # a hammerhead: 100 kt to nothing and back, 12 m/s^2
    flown = np.concatenate([np.full(20, 50.0), [38.0, 26.0, 14.0, 2.0, 14.0, 26.0, 38.0],
                            np.full(20, 50.0)])
    kept, dropped = drop_spikes(np.arange(flown.size, dtype=float), flown)
    assert dropped == 0


def test_normal_acceleration_of_either_convention(tmp_path: Path) -> None:
    columns = """\
delimiter = ","
header_rows = [1]
time = { columns = ["t"], format = "epoch seconds" }
[channels]
normal_acceleration = { column = "G", unit = "g" }
"""
    rows = "t,G\n" + "".join(f"{TEN + place},{load}\n" for place, load in enumerate([0, 0.5, 0]))
    assert "normal_acceleration is 0.00 g at most times" in said(read(tmp_path, rows, columns))
    moved = read(tmp_path, rows, columns.replace('"g" }', '"g", offset = "1 g" }'))
    assert list(moved.channels["normal_acceleration"]) == [1.0, 1.5, 1.0]
    assert moved.findings == ()


def test_directions_of_both_conventions_come_to_one_circle(tmp_path: Path) -> None:
    columns = GPS.replace('unit = "deg" }\n', 'unit = "deg", reference = "magnetic" }\n').replace(
        "latitude = ", "#").replace("longitude = ", "#")
    rows = gps([(1, 1, 20)] * 3).replace(",10\n", ",-90\n", 1).replace(",10\n", ",360\n", 1)
    recording = read(tmp_path, rows, columns)
    np.testing.assert_allclose(recording.channels["track"],
                               [1.5 * np.pi, 0.0, np.pi / 18.0], atol=1e-15)
    assert recording.track_reference == "magnetic"


ALTITUDE = """\
delimiter = ","
header_rows = [1]
time = { columns = ["t"], format = "elapsed seconds" }
[channels]
indicated_altitude = { column = "alt", unit = "ft" }
altimeter_setting = { column = "set", unit = "inHg" }
"""


def test_pressure_altitude_from_indicated_and_setting(tmp_path: Path) -> None:
    day = datetime.date(2024, 5, 1)
    rows = "t,alt,set\n0,1000,29.92126\n1,1000,29.0\n2,1000,\n3,,29.92126\n"
    recording = read(tmp_path, rows, ALTITUDE, date=day, altimeter_setting_pa=101_325.0)
    feet = recording.channels["pressure_altitude"] / 0.3048
    # 29.92 in Hg is the standard; at 29.0 in Hg 863 ft are added (FAA-CT-8080-2, figure 8, from
    # memory)
    assert feet[0] == pytest.approx(1000.0, abs=0.01)
    assert feet[1] == pytest.approx(1863.0, abs=2.0)
    assert feet[2] == pytest.approx(1000.0, abs=1e-9)
    assert np.isnan(feet[3])
    assert "pressure altitude of 1 rows uses the flight's altimeter setting, 1013.2 hPa" in (
        said(recording))
    assert "was turned 1 times, between 982.1 and 1013.3 hPa" in said(recording)


def test_no_pressure_altitude_without_a_setting(tmp_path: Path) -> None:
    day = datetime.date(2024, 5, 1)
    recording = read(tmp_path, "t,alt,set\n0,1000,\n1,1000,\n", ALTITUDE, date=day)
    assert "pressure_altitude" not in recording.channels
    assert "give altimeter_setting in flights.csv" in said(recording)


def test_power_in_per_cent_and_fuel_by_mass_need_the_airplane(tmp_path: Path) -> None:
    columns = """\
delimiter = ","
header_rows = [1]
time = { columns = ["t"], format = "epoch seconds" }
[channels]
power = { column = "p", unit = "%" }
fuel_flow = { column = "f", unit = "kg/h" }
"""
    rows = f"t,p,f\n{TEN},50,18\n{TEN + 1},100,0\n"
    recording = read(tmp_path, rows, columns, rated_power_w=78_000.0, fuel_density_kg_m3=720.0)
    np.testing.assert_allclose(recording.channels["power"], [39_000.0, 78_000.0])
    np.testing.assert_allclose(recording.channels["fuel_flow"], [18.0 / 720.0 / 3600.0, 0.0])
    with pytest.raises(CampaignError) as caught:
        read(tmp_path, rows, columns)
    text = str(caught.value)
    assert "campaign.toml: airplane.rated_power: needed the rated power" in text
    assert "columns/panel.toml: channels.fuel_flow.unit: needed" in text
    assert "fuel_density" in text


def test_units_missing_in_the_unit_row_are_told(tmp_path: Path) -> None:
    columns = PLAIN.replace("header_rows = [1]", "header_rows = [1]\nunit_row = 2").replace(
        ', unit = "kt"', "").replace(', unit = "degC"', "")
    with pytest.raises(CampaignError) as caught:
        read(tmp_path, ROWS.replace("Note\n", "Note\n,,,furlongs,\n"), columns)
    text = str(caught.value)
    assert "logs/one.csv: channels.indicated_airspeed: needed the unit of 'Airspeed' in the " \
        "unit row; found an empty cell" in text
    assert "logs/one.csv: channels.outside_air_temperature.unit: needed a temperature" in text


def test_a_recording_of_another_day_is_told(tmp_path: Path) -> None:
    date = datetime.date(2024, 6, 1)
    assert "begins on 2024-05-01 UTC, and flights.csv says 2024-06-01" in said(
        read(tmp_path, ROWS, date=date))


# ---------------------------------------------------------------- files of one flight


def part(start: int, speeds: list[float], temperature: str = "15") -> str:
    lines = ["Date,Time,Airspeed,OAT,Note"]
    lines += [f"2024-05-01,10:{place // 60:02d}:{place % 60:02d},{speed},{temperature},x"
              for place, speed in enumerate(speeds, start)]
    return "\n".join(lines) + "\n"


def test_a_recorder_that_was_restarted(tmp_path: Path) -> None:
    recording = read(tmp_path, {"b.csv": part(100, [60, 61]), "a.csv": part(0, [50, 51])})
    assert list(recording.time_s - TEN) == [0.0, 1.0, 100.0, 101.0]
    np.testing.assert_allclose(recording.channels["indicated_airspeed"] / KT, [50, 51, 60, 61])
    assert str(recording.rows) == "4 rows = 4 used"
    assert [name for name, _ in recording.sources] == ["logs/b.csv", "logs/a.csv"]
    assert said(recording).splitlines()[-1].endswith("they do not overlap")


def test_two_recorders_of_one_flight_count_once(tmp_path: Path) -> None:
    # item 7: one flight from two units, one second apart, 1059 and 1057 rows
    first = part(0, list(range(40, 60)))
    second = part(1, list(range(70, 88)))
    recording = read(tmp_path, {"a.csv": first, "b.csv": second})
    assert recording.time_s.size == 20
    np.testing.assert_allclose(recording.channels["indicated_airspeed"] / KT, range(40, 60))
    assert str(recording.rows) == "38 rows = 20 used + 18 already recorded in the flight's first " \
        "file"


def test_a_second_file_fills_what_the_first_lacks(tmp_path: Path) -> None:
    first = part(0, [50, 51, 52, 53, 54, 55], temperature="")
    second = "Date,Time,Airspeed,OAT,Note\n" + "".join(
        f"2024-05-01,10:00:{clock},99,{temperature},x\n" for clock, temperature in (
            ("00.5", 10), ("01.5", 12), ("02.5", 14), ("04.5", 18), ("05.5", 20), ("06.5", 22)))
    recording = read(tmp_path, {"a.csv": first, "b.csv": second})
    assert list(recording.time_s - TEN) == [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.5]
    # between 2.5 and 4.5 s lie two intervals: nothing is filled at 3 and 4 s
    np.testing.assert_allclose(recording.channels["outside_air_temperature"] - 273.15,
                               [np.nan, 11.0, 13.0, np.nan, np.nan, 19.0, 22.0])
    np.testing.assert_allclose(recording.channels["indicated_airspeed"] / KT,
                               [50, 51, 52, 53, 54, 55, 99])
    assert str(recording.rows) == "12 rows = 12 used"


def test_directions_are_filled_the_short_way_round(tmp_path: Path) -> None:
    columns = GPS.replace('"trk", unit = "deg"', '"trk", unit = "deg", reference = "true"')
    first = "t,lat,lon,gs,trk\n" + f"{TEN},50,179.9,20,\n{TEN + 1},50,,20,\n{TEN + 2},50,8,20,\n"
    second = "t,lat,lon,gs,trk\n" + f"{TEN + .5},50,179.9,20,359\n{TEN + 1.5},50,-179.9,20,3\n"
    recording = read(tmp_path, {"a.csv": first, "b.csv": second}, columns)
    assert recording.channels["track"][1] == pytest.approx(np.radians(1.0), abs=1e-12)
    assert abs(recording.channels["longitude"][1]) == pytest.approx(180.0, abs=1e-9)


def test_a_second_north_is_left_out(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(gps([(1, 1, 20)] * 3))
    (tmp_path / "b.csv").write_text(gps([(1, 1, 20)] * 5))
    kinds = []
    for north in ("true", "magnetic"):
        path = tmp_path / f"{north}.toml"
        path.write_text(GPS.replace('"trk", unit = "deg"',
                                    f'"trk", unit = "deg", reference = "{north}"'))
        kinds.append(load_columns(path))
    logs = tuple((name, tmp_path / name) for name in ("a.csv", "b.csv"))
    recording = read_source(FlightSource("F1", logs, tuple(kinds)))
    assert recording.track_reference == "true"
    assert np.isfinite(recording.channels["track"]).tolist() == [True] * 3 + [False] * 2
    assert "its track is magnetic, that of the flight's first file true" in said(recording)


# ---------------------------------------------------------------- files that are none


@pytest.mark.parametrize(("data", "message"), [
    (b"", "needed rows of data after line 1; found 0 lines"),
    (b"Date,Time", "needed rows of data after line 1; found 1 lines"),
    (ROWS.splitlines(keepends=True)[0].encode(), "at least one whole row of data; found no rows"),
    (b"\x7fELF\x00\x01\x02" + bytes(range(256)) * 40, "text; found zero bytes, as in a binary"),
    (bytes(range(1, 256)) * 40 + b"\n", "needed the column 'Date' for time"),
    (b"x" * 10_000_000 + b"\n1\n", "a header line of at most 1000000 bytes; found 10000000"),
    (b"," * 20_000 + b"\n1\n", "at most 10000 columns; found 20001"),
    (b'"' + b"x" * 900_000 + b"\n1\n", "needed the column 'Date' for time"),
    (gzip.compress(ROWS.encode())[:40], "whole gzip or zip file"),
    (gzip.compress(ROWS.encode())[:-8] + b"12345678", "whole gzip or zip file"),
    (b"PK\x03\x04 and more", "whole gzip or zip file"),
    (ROWS.replace("10:00", "noon").encode(), "needed times in the format"),
    (ROWS.replace("2024", "1024").encode(), "needed a row with a time; found none"),
], ids=lambda item: item[:12] if isinstance(item, bytes) else "")
def test_what_is_no_recording_is_refused_by_name(
    tmp_path: Path, data: bytes, message: str
) -> None:
    with pytest.raises(CampaignError, match=re.escape(message)) as caught:
        read(tmp_path, data)
    assert str(caught.value).startswith("logs/one.csv: ")
    assert len(str(caught.value)) < 3000


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    (tmp_path / "panel.toml").write_text(PLAIN)
    kind = load_columns(tmp_path / "panel.toml")
    for path, message in ((tmp_path / "no.csv", "no such file"), (tmp_path, "a file that can be")):
        with pytest.raises(CampaignError, match=message):
            read_source(FlightSource("F1", (("logs/no.csv", path),), (kind,)))
    with pytest.raises(InputError, match="no recording to read"):
        read_source(FlightSource("F1", (), ()))


# ---------------------------------------------------------------- the two ways of reading cells

CELLS = st.one_of(
    st.sampled_from(["", " ", "1", "-0.0", "+5", " 7 ", "1e3", "1e999", "nan", "inf", "---", "1.",
                     ".5", "5-", "0x1F", "1_0", "True", "99999999999999999999", "1 2", "١", "1e",
                     "-", ".", "e5", "1,5", "\t3", "3\t", "NaN", "1.5e-3", "\xa05", "-9999"]),
    st.floats(allow_nan=False, allow_infinity=False).map(repr),
    st.integers(-10**20, 10**20).map(str),
    st.text(alphabet="0123456789.+-eE ", max_size=8),
)


@settings(max_examples=300, deadline=None)
@given(st.lists(st.tuples(CELLS, CELLS), min_size=1, max_size=8), st.sampled_from([".", ","]))
def test_both_ways_of_reading_cells_agree(rows: list[tuple[str, str]], decimal: str) -> None:
    columns = SimpleNamespace(
        delimiter=";", decimal=decimal, comment=None, missing=("---", "-9999"), header_rows=(1,),
        header_depth=1, unit_row=None, encoding="utf-8")
    body = "".join(f"{left};{right};x\n" for left, right in rows)
    tables = []
    for note in ("note", '"note"'):  # a quote anywhere makes the cells be read line by line
        header, data, _ = read_header(f"a;b;c\n{body}1;1;{note}\n".encode(), columns, "f")
        tables.append(read_table(header, data, columns, [], {0: (), 1: ()}))
    fast, slow = tables
    for place in (0, 1):
        np.testing.assert_allclose(fast.numbers[place], slow.numbers[place], rtol=1e-15)
        counts = [table.bad[place].count if place in table.bad else 0 for table in tables]
        assert counts[0] == counts[1]
        values, wrong = numbers_from_text(
            np.array([row[place] for row in rows], dtype=object), decimal, columns.missing)
        marks = values == -9999.0
        np.testing.assert_allclose(np.where(marks, np.nan, values), slow.numbers[place][:-1])
        assert int(wrong.sum()) == counts[1]


# ---------------------------------------------------------------- mutated files

LONG = part(0, [40 + 0.5 * place for place in range(40)]).encode()
PIECES = [b"\n", b"\r", b"\r\n", b",", b";", b'"', b"\0", b"\xff", b"\xc3", b" ", b"-", b"999999",
          b"nan", b",,,,", b"\n\n\n", b"2024-05-01,10:00:00,1,2,3\n", b"10:00:00", b"99:99:99",
          b"\xef\xbb\xbf", b"\x1a", b"=1+1", b"<b>", b"1e400", b"#7"]
MUTATIONS = st.lists(st.tuples(
    st.sampled_from(["cut", "insert", "replace", "flip", "repeat", "drop line", "swap lines"]),
    st.integers(0, len(LONG)), st.integers(0, 60), st.sampled_from(PIECES)), min_size=1, max_size=5)


def mutate(data: bytes, mutations: list[tuple[str, int, int, bytes]]) -> bytes:
    for kind, place, size, piece in mutations:
        place = min(place, max(len(data) - 1, 0))
        if kind == "cut":
            data = data[:place] if size > 30 else data[:place] + data[place + size:]
        elif kind == "insert":
            data = data[:place] + piece + data[place:]
        elif kind == "replace":
            data = data[:place] + piece + data[place + len(piece):]
        elif kind == "flip" and data:
            data = data[:place] + bytes([data[place] ^ (1 << size % 8)]) + data[place + 1:]
        elif kind == "repeat":
            data = data[:place] + data[place:place + size] * 2 + data[place + size:]
        else:
            lines = data.split(b"\n")
            first, second = place % len(lines), size % len(lines)
            if kind == "drop line":
                del lines[first]
            else:
                lines[first], lines[second] = lines[second], lines[first]
            data = b"\n".join(lines)
    return data


def lines_after_header(data: bytes) -> int:
    """Count the lines after the first, by another way than the reader's."""
    text = data.decode("latin-1").removeprefix("\xef\xbb\xbf")
    if "\n" not in text:
        text = text.replace("\r", "\n")
    lines = text.split("\n")[1:]
    return len(lines) - (not lines or not lines[-1])


@settings(max_examples=400, deadline=None)
@given(MUTATIONS)
def test_mutated_files_never_crash_and_every_row_is_accounted_for(
    tmp_path_factory: pytest.TempPathFactory, mutations: list[tuple[str, int, int, bytes]]
) -> None:
    data = mutate(LONG, mutations)
    recording, refusal = None, ""
    try:
        recording = read(tmp_path_factory.getbasetemp(), data)
    except StddayError as error:
        refusal = str(error)
    if recording is None:
        assert refusal.startswith("logs/one.csv: ")
        return
    rows = recording.rows
    assert rows.in_file == rows.used + sum(rows.set_aside.values()) == lines_after_header(data)
    assert rows.used == recording.time_s.size
    assert (np.diff(recording.time_s) > 0.0).all()
    for name, samples in recording.channels.items():
        assert samples.shape == recording.time_s.shape
        channel = find_channel(name)
        assert channel is not None
        known = samples[np.isfinite(samples)]
        assert known.size + np.isnan(samples).sum() == samples.size
        assert ((known >= channel.low) & (known <= channel.high)).all()


def test_columns_are_one_or_one_a_file(tmp_path: Path) -> None:
    (tmp_path / "panel.toml").write_text(PLAIN)
    kind = load_columns(tmp_path / "panel.toml")
    airplane = SimpleNamespace(rated_power_w=None, fuel_density_kg_m3=None)
    campaign = SimpleNamespace(airfields={}, airplanes={"one": airplane},
                               configurations={"A": SimpleNamespace(airplane="one")})
    flight = SimpleNamespace(id="F1", configuration="A", airfield=None, date=None,
                             logs=(tmp_path / "one.csv",), log_names=("logs/one.csv",),
                             altimeter_setting_pa=None, log_offsets_s=(None,))
    (tmp_path / "one.csv").write_text(ROWS)
    check_plain(read_flight(flight, kind, campaign))
    with pytest.raises(InputError, match="got 2 for 1 recordings"):
        read_flight(flight, [kind, kind], campaign)
