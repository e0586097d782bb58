"""Columns files: what is read, and that everything wrong is told at once with its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from stdday.campaign import check_campaign, load_campaign
from stdday.channels import CHANNELS, find_channel, unit_scale
from stdday.columns import ColumnsFile, header_fingerprint, load_columns, parse_utc_offset
from stdday.errors import CampaignError, InputError
from tests.make_campaign import make_campaign

GOOD = """\
# a panel that writes local time
delimiter = ";"
decimal = ","
header_rows = [1, 2]
unit_row = 3
comment = "#"
encoding = "latin-1"
missing = ["", "---"]
time = { columns = ["Date", "Time"], format = "%d.%m.%Y %H:%M:%S", utc_offset_column = "Zone" }
[channels]
track = { column = "Trk", unit = "deg", reference = "true", missing = ["-1"] }
normal_acceleration = { column = "#7", unit = "g", offset = "1 g" }
engine_speed = { column = "RPM" }
power = { column = "Pwr", unit = "%" }
oil_temperature = { column = "Oil T", unit = "°F" }
"""


def load(folder: Path, text: str, name: str = "panel") -> ColumnsFile:
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return load_columns(path)


def problems(folder: Path, text: str) -> list[str]:
    with pytest.raises(CampaignError) as caught:
        load(folder, text)
    return [str(problem) for problem in caught.value.problems]


def test_every_entry_is_read(tmp_path: Path) -> None:
    columns = load(tmp_path, GOOD)
    assert (columns.name, columns.delimiter, columns.decimal) == ("panel", ";", ",")
    assert (columns.header_rows, columns.unit_row, columns.header_depth) == ((1, 2), 3, 3)
    assert (columns.comment, columns.encoding, columns.missing) == ("#", "iso8859-1", ("", "---"))
    assert columns.time.columns == ("Date", "Time")
    assert columns.time.utc_offset_column == "Zone"
    assert columns.time.dated
    track, acceleration, speed, power, oil = columns.channels
    assert (track.reference, track.missing) == ("true", ("-1",))
    assert (acceleration.column, acceleration.offset) == ("#7", 1.0)
    assert speed.unit is None
    assert power.unit == "%"
    assert oil.channel.dimension == "temperature"


def test_what_may_be_left_out(tmp_path: Path) -> None:
    columns = load(tmp_path, """\
delimiter = "\\t"
header_rows = []
time = { columns = ["#1"], format = "%H:%M" }
[channels]
pitch = { column = "#2", unit = "deg" }
""")
    assert (columns.decimal, columns.missing, columns.comment, columns.encoding) == (
        ".", (), None, None)
    assert columns.header_depth == 0
    assert not columns.time.dated
    assert columns.time.utc_offset_s == 0.0


def test_a_byte_order_mark_is_passed(tmp_path: Path) -> None:
    path = tmp_path / "panel.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.encode())
    assert load_columns(path).name == "panel"


def test_everything_wrong_is_told_at_once_with_line_and_key(tmp_path: Path) -> None:
    found = problems(tmp_path, """\
delimiter = ","
decimal = ","
header_row = [1]
header_rows = [0]
time = { columns = [], format = "%d %H" }
[channels]
airspeed = { column = "IAS", unit = "kt" }
track = { column = "Trk", unit = "kt", reference = "north" }
pitch = { unit = "deg" }
roll = { column = "Roll", unit = "deg", reference = "true", offset = "1 deg" }
fuel_flow = { column = "FF", unit = "gal/h" }
time = { column = "T", unit = "s" }
""")
    starts = {line.split(": needed")[0] for line in found}
    assert starts == {
        "columns/panel.toml: line 3, header_row",
        "columns/panel.toml: line 2, decimal",
        "columns/panel.toml: line 4, header_rows",
        "columns/panel.toml: line 5, time.columns",
        "columns/panel.toml: line 5, time.format",
        "columns/panel.toml: line 7, channels.airspeed",
        "columns/panel.toml: line 8, channels.track.unit",
        "columns/panel.toml: line 8, channels.track.reference",
        "columns/panel.toml: line 9, channels.pitch.column",
        "columns/panel.toml: line 10, channels.roll.reference",
        "columns/panel.toml: line 10, channels.roll.offset",
        "columns/panel.toml: line 11, channels.fuel_flow.unit",
        "columns/panel.toml: line 12, channels.time",
    }
    text = "\n".join(found)
    assert "Mend: write header_rows." in text
    assert "write true_airspeed or indicated_airspeed" in text
    assert "'US gal'" in text
    assert "write it as time = { … } above" in text


@pytest.mark.parametrize(("text", "said"), [
    ("a = [", "columns/panel.toml: needed TOML in UTF-8"),
    ("", "delimiter: needed one of \",\" or \";\" or \"\\t\" or \"|\"; found nothing"),
    ("channels = 3", "channels: needed a table with at least one channel; found 3"),
    ("time = 'now'", "time: needed a table; found 'now'"),
    ("header_rows = [3, 1]", "header_rows: needed line numbers in order, each once"),
    ("header_rows = [1]\nunit_row = 1", "unit_row: needed one line number from 1"),
    ("encoding = 'klingon'", "encoding: needed a known text encoding; found 'klingon'"),
    ("encoding = 'base64'", "encoding: needed a known text encoding; found 'base64'"),
    ("missing = ['', -1]", "missing: needed a list of texts in quotes"),
    ("time = { columns = ['t'], interval = '1 s', format = '%H:%M' }",
     "time.interval: needed either a time column or an interval; found columns and an interval"),
    ("time = { }", "without a time column, time = { interval = \"1 s\", interval_sigma"),
    ("time = { interval = '1 s' }", "time.interval_sigma: needed a share with its unit, such as "
     "\"3 %\"; found nothing. Mend: write interval_sigma = \"3 %\": recorders said to write once"),
    ("time = { interval = 1, interval_sigma = '3 %' }", "time.interval: needed a time with its"),
    ("time = { interval = '0 s', interval_sigma = '3 %' }", "time.interval: needed 0.001 to 600 s"),
    ("time = { interval = '1 s', interval_sigma = '80 %' }", "interval_sigma: needed 0 to 50 %"),
    ("confirmed = 'yes'", "confirmed: needed true or false; found 'yes'"),
    ("header = 'abc'", "header: needed sixteen hexadecimal digits in quotes; found 'abc'"),
    ("time = { columns = ['t'], format = '%I:%M:%S' }", "gives hours and minutes"),
    ("time = { columns = ['t'], format = '%d.%m. %H:%M' }", "gives hours and minutes"),
    ("time = { columns = ['a', 'b'], format = 'epoch seconds' }", "needed one column"),
    ("time = { columns = ['a'], format = '%H:%M', utc_offset = 'summer' }",
     "needed an offset from UTC; found 'summer'"),
    ("time = { columns = ['a'], format = '%H:%M', utc_offset = 'UTC', utc_offset_column = 'z' }",
     "either utc_offset or utc_offset_column"),
    ("time = { columns = ['a'], format = '%Y-%m-%d %H:%M%z', utc_offset = 'UTC' }",
     "needed one offset from UTC"),
])
def test_each_fault_is_said(tmp_path: Path, text: str, said: str) -> None:
    assert any(said in line for line in problems(tmp_path, text)), problems(tmp_path, text)


def test_a_file_that_is_not_there_or_no_text(tmp_path: Path) -> None:
    with pytest.raises(CampaignError, match="needed this file; found nothing"):
        load_columns(tmp_path / "absent.toml")
    with pytest.raises(CampaignError, match="a file that can be read"):
        load_columns(tmp_path)
    (tmp_path / "wide.toml").write_bytes("a = 1".encode("utf-16"))
    with pytest.raises(CampaignError, match="TOML in UTF-8"):
        load_columns(tmp_path / "wide.toml")
    (tmp_path / "deep.toml").write_text("a = " + "[" * 100_000)
    with pytest.raises(CampaignError, match="TOML in UTF-8"):
        load_columns(tmp_path / "deep.toml")


@pytest.mark.parametrize(("text", "seconds"), [
    ("UTC", 0.0), ("z", 0.0), ("UTC+1", 3600.0), ("UTC-3:30", -12600.0), ("+0530", 19800.0),
    ("-05:00", -18000.0), ("5.5", 19800.0), ("+10", 36000.0), ("\u22121", -3600.0),
    ("", None), ("+5:75", None), ("25", None), ("-300", None), ("1 hour", None), ("١", None),
])
def test_offsets_from_utc(text: str, seconds: float | None) -> None:
    assert parse_utc_offset(text) == seconds


@pytest.mark.parametrize("name", sorted(CHANNELS))
def test_the_unit_inside_is_its_own(name: str) -> None:
    assert unit_scale(CHANNELS[name], CHANNELS[name].unit) == (1.0, 0.0)


def test_units_of_channels() -> None:
    # 1 inHg = 3386.39 Pa, 1 US gal = 3.785412 L, 1 kt = 1852 m/h: NIST SP 811, appendix B.8
    scale, _ = unit_scale(CHANNELS["altimeter_setting"], "inHg")
    assert scale == pytest.approx(3386.39, rel=1e-6)
    scale, _ = unit_scale(CHANNELS["fuel_flow"], "gph")
    assert scale == pytest.approx(3.785412e-3 / 3600.0, rel=1e-6)
    assert unit_scale(CHANNELS["engine_speed"], "rpm")[0] == pytest.approx(1.0 / 60.0, rel=1e-15)
    assert unit_scale(CHANNELS["normal_acceleration"], "m/s^2")[0] == pytest.approx(1 / 9.80665)
    assert unit_scale(CHANNELS["fuel_flow"], "kg/h", fuel_density_kg_m3=720.0)[0] == pytest.approx(
        1.0 / 720.0 / 3600.0)
    with pytest.raises(InputError, match="rated_power"):
        unit_scale(CHANNELS["power"], "%")
    with pytest.raises(InputError, match="or write % for per cent of the rated power"):
        unit_scale(CHANNELS["power"], "kt")


def test_names_of_limit_channels() -> None:
    assert find_channel("exhaust_gas_temperature_4") is not None
    assert find_channel("fuel_pressure") is not None
    for wrong in ("temperature", "_temperature", "Oil_temperature", "oil_temperature_", "wind"):
        assert find_channel(wrong) is None


def test_a_recording_without_a_time_column(tmp_path: Path) -> None:
    text = GOOD.replace('columns = ["Date", "Time"], format = "%d.%m.%Y %H:%M:%S", '
                        'utc_offset_column = "Zone"',
                        'interval = "0.5 s", interval_sigma = "3 %"')
    time = load(tmp_path, text).time
    assert (time.columns, time.interval_s, time.interval_sigma) == ((), 0.5, 0.03)
    assert not time.clocked
    assert not time.numeric
    assert not time.dated


def test_confirmed_and_the_header_it_was_written_for(tmp_path: Path) -> None:
    assert load(tmp_path, GOOD).confirmed
    assert load(tmp_path, "confirmed = true\n" + GOOD).confirmed
    assert not load(tmp_path, "confirmed = false\n" + GOOD).confirmed
    assert load(tmp_path, GOOD).header is None
    mark = header_fingerprint(["Date", "Time"], ["", "s"])
    assert load(tmp_path, f'header = "{mark}"\n' + GOOD).header == mark
    assert mark != header_fingerprint(["Date", "Time"], [])
    assert mark != header_fingerprint(["Time", "Date"], ["", "s"])


def test_a_columns_file_that_nobody_confirmed_is_a_cost(tmp_path: Path) -> None:
    folder = make_campaign(tmp_path)
    path = next((folder / "columns").glob("*.toml"))
    path.write_text("confirmed = false\n" + path.read_text(encoding="utf-8"), encoding="utf-8")
    problems = check_campaign(folder)
    assert [(problem.level, problem.file, problem.found) for problem in problems] == [
        ("cost", f"columns/{path.name}", "proposed by the workbook, not confirmed")]
    assert load_campaign(folder).costs == tuple(problems)
