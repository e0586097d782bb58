"""What was met in real recordings, file layout and time, each in a small invented file.

The values expected are what the file says, worked out by hand; the numbers are those of the list of
oddities that was counted in real recordings.
"""

from __future__ import annotations

import datetime
from pathlib import Path

import numpy as np
import pytest

from stdday.columns import load_columns
from stdday.errors import CampaignError
from stdday.find_takeoffs import find_takeoffs
from stdday.recording import Recording
from stdday.recording_sessions import lay_out_sessions
from stdday.recording_stamps import Stamps
from stdday.recording_time import make_time_base
from stdday.signals import Trace
from tests.make_flights import Plan, make_flight
from tests.read_invented import KT, MIDNIGHT, TEN, read, said

DAY = datetime.date(2024, 5, 1)

UNDATED = """\
delimiter = ","
header_rows = [1]
time = { columns = ["Time"], format = "%H:%M:%S" }
missing = ["---"]
[channels]
indicated_airspeed = { column = "IAS", unit = "kt" }
"""
ELAPSED = UNDATED.replace('columns = ["Time"], format = "%H:%M:%S"',
                          'columns = ["Time"], format = "elapsed seconds"')
COUNTED = UNDATED.replace('columns = ["Time"], format = "%H:%M:%S"',
                          'interval = "1 s", interval_sigma = "3 %"')


def clock(seconds: float) -> str:
    return f"{int(seconds) // 3600:02d}:{int(seconds) // 60 % 60:02d}:{int(seconds) % 60:02d}"


def rows(stamps: list[float], start: float = 50.0) -> str:
    return "Time,IAS\n" + "".join(f"{clock(stamp)},{start + place}\n"
                                  for place, stamp in enumerate(stamps))


def speeds(recording: Recording) -> list[float]:
    return list(np.round(recording.channels["indicated_airspeed"] / KT, 6))


def seconds(recording: Recording) -> list[float]:
    return list(np.round(recording.time_s - MIDNIGHT, 6))


# ---------------------------------------------------------------- file layout


HEADERS = [
    # 1: no header, one, three, three of another kind, seven, and a block of eleven lines
    ([], "header_rows = []", ("#1", "#2", "kt")),
    (["Time,IAS"], "header_rows = [1]", ("Time", "IAS", "kt")),
    (["# a panel", "#h:m:s,kt", "Time,IAS"], "header_rows = [3]\nunit_row = 2\ncomment = '#'",
     ("Time", "IAS", None)),
    (["made by hand", "Clock,Airspeed (kt)", "Time,IAS"], "header_rows = [3]",
     ("Time", "IAS", "kt")),
    (["a", "b", "c", "d", "e", "Time,IAS", "hms,kt"], "header_rows = [6]\nunit_row = 7",
     ("Time", "IAS", None)),
    ([*(f"key {number}: value" for number in range(11)), "", "Time,IAS"], "header_rows = [13]",
     ("Time", "IAS", "kt")),
]


@pytest.mark.parametrize(("header", "where", "names"), HEADERS)
def test_01_headers_of_any_depth(
    tmp_path: Path, header: list[str], where: str, names: tuple[str, str, str | None]
) -> None:
    time, speed, unit = names
    given = f', unit = "{unit}"' if unit else ""
    columns = (f'delimiter = ","\n{where}\ntime = {{ columns = ["{time}"], format = "%H:%M:%S" }}\n'
               f'[channels]\nindicated_airspeed = {{ column = "{speed}"{given} }}\n')
    text = "\n".join([*header, "10:00:00,50", "10:00:01,51"]) + "\n"
    recording = read(tmp_path, text, columns, date=DAY)
    assert (seconds(recording), speeds(recording)) == ([36_000.0, 36_001.0], [50.0, 51.0])
    assert str(recording.rows) == "2 rows = 2 used"


@pytest.mark.parametrize(("header", "where", "unit"), [
    ("#h:m:s,kt\nTime,IAS", "header_rows = [2]\nunit_row = 1\ncomment = '#'", None),  # before
    ("Time,IAS\nh:m:s,[kt]", "header_rows = [1]\nunit_row = 2", None),
    ("Time,IAS [kt]", "header_rows = [1]", "kt"),      # in brackets in the name
    ("Time,IAS;kt", "header_rows = [1]", "kt"),        # name and unit in one cell
    ("Time,IAS", "header_rows = [1]", "kt"),           # no unit anywhere
])
def test_02_units_wherever_they_stand(
    tmp_path: Path, header: str, where: str, unit: str | None
) -> None:
    name = header.split("\n")[0 if "unit_row = 1" not in where else 1].split(",")[1]
    given = f', unit = "{unit}"' if unit else ""
    columns = (f'delimiter = ","\n{where}\ntime = {{ columns = ["Time"], format = "%H:%M:%S" }}\n'
               f'[channels]\nindicated_airspeed = {{ column = "{name}"{given} }}\n')
    recording = read(tmp_path, f"{header}\n10:00:00,50\n10:00:01,51\n", columns, date=DAY)
    assert speeds(recording) == [50.0, 51.0]


def test_03_blank_and_duplicate_names(tmp_path: Path) -> None:
    text = "Time,type,,type\n10:00:00,1,50,2\n10:00:01,1,51,2\n"
    columns = UNDATED.replace('"IAS"', '"#3"')
    assert speeds(read(tmp_path, text, columns, date=DAY)) == [50.0, 51.0]
    with pytest.raises(CampaignError, match="that name 2 times, in columns 2, 4"):
        read(tmp_path, text, UNDATED.replace('"IAS"', '"type"'), date=DAY)


def test_04_semicolon_decimal_comma_crlf_blanks_and_signs(tmp_path: Path) -> None:
    columns = ('delimiter = ";"\ndecimal = ","\nheader_rows = [1]\n'
               'time = { columns = ["Time"], format = "%H:%M:%S" }\n[channels]\n'
               'latitude = { column = "Lat °", unit = "deg" }\n'
               'indicated_airspeed = { column = "IAS", unit = "kt" }\n')
    text = "Time ; Lat ° ; IAS\r\n10:00:00 ; +50,5 ; 50,25\r\n10:00:01 ; -50,5 ; 51,5\r\n"
    recording = read(tmp_path, text, columns, date=DAY)
    assert list(recording.channels["latitude"]) == [50.5, -50.5]
    assert speeds(recording) == [50.25, 51.5]


@pytest.mark.parametrize("last", ["10:00:03,5", "10:00:03", "10:00:03,53.25", "10:00:03,5\n",
                                  "10:0"])
def test_05_a_last_line_that_may_be_cut_is_not_trusted(tmp_path: Path, last: str) -> None:
    text = "Time,IAS,x\n10:00:00,50,1\n10:00:01,51,1\n10:00:02,52,1\n" + last
    recording = read(tmp_path, text, UNDATED, date=DAY)
    assert speeds(recording) == [50.0, 51.0, 52.0]
    assert (recording.rows.in_file, recording.rows.used) == (4, 3)
    assert "line 5" in said(recording)


def test_06_trailing_delimiters_and_empty_columns(tmp_path: Path) -> None:
    for tail in (",", ",,,"):
        text = "Time,IAS" + tail + f"\n10:00:00,50{tail}\n10:00:01,51{tail}\n"
        recording = read(tmp_path, text, UNDATED, date=DAY)
        assert (speeds(recording), recording.findings) == ([50.0, 51.0], ())


def test_06_a_row_that_lacks_only_empty_cells_is_whole(tmp_path: Path) -> None:
    text = "Time,IAS,a,b\n10:00:00,50,,\n10:00:01,51\n10:00:02,52,\n10:00:03\n10:00:04,54,,\n"
    recording = read(tmp_path, text, UNDATED, date=DAY)
    assert speeds(recording) == [50.0, 51.0, 52.0, 54.0]
    assert str(recording.rows) == "5 rows = 4 used + 1 fewer cells than the other rows"
    # where one whole row has something there, lacking it is a damage
    filled = text.replace("54,,", "54,,7")
    assert speeds(read(tmp_path, filled, UNDATED, date=DAY)) == [50.0, 54.0]


def test_07_one_flight_from_two_units_counts_once(tmp_path: Path) -> None:
    first, second = (rows(list(range(start, start + 60)), 50.0 + start) for start in (0, 1))
    recording = read(tmp_path, {"a.csv": first, "b.csv": second}, UNDATED, date=DAY)
    assert recording.time_s.size in (60, 61)
    assert recording.rows.in_file == 120
    assert recording.rows.used + sum(recording.rows.set_aside.values()) == 120


def test_08_the_name_of_a_file_is_no_evidence(tmp_path: Path) -> None:
    text = rows([36_000, 36_001])
    one = read(tmp_path, {"twin_engine_oshkosh.csv": text}, UNDATED, date=DAY)
    other = read(tmp_path, {"glider.csv": text}, UNDATED, date=DAY)
    assert speeds(one) == speeds(other) == [50.0, 51.0]
    assert one.sources[0][1] == other.sources[0][1]


def test_09_sessions_that_start_their_clock_again_are_days(tmp_path: Path) -> None:
    # the second begins 14 062 s earlier in the day than the first has ended
    first, second = np.arange(36_000, 36_040), np.arange(36_039 - 14_062, 36_039 - 14_032)
    third = np.arange(21_000, 21_020)
    recording = read(tmp_path, rows([*first, *second, *third]), UNDATED, date=DAY)
    assert seconds(recording) == [*first, *(second + 86_400.0), *(third + 2 * 86_400.0)]
    assert speeds(recording) == [50.0 + place for place in range(90)]
    assert recording.sessions == (
        (TEN, TEN + 39.0), (MIDNIGHT + 86_400.0 + 21_977.0, MIDNIGHT + 86_400.0 + 22_006.0),
        (MIDNIGHT + 2 * 86_400.0 + 21_000.0, MIDNIGHT + 2 * 86_400.0 + 21_019.0))
    finding = next(item for item in recording.findings if "set back 2 times" in item.what)
    assert (finding.level, finding.sure) == ("caution", "likely")
    assert "dates of the later sessions are not known" in finding.spoils


def test_09_a_later_session_of_the_same_day_stays_on_it(tmp_path: Path) -> None:
    recording = read(tmp_path, rows([*range(100, 140), *range(50_000, 50_040)]), UNDATED, date=DAY)
    assert seconds(recording)[40] == 50_000.0
    assert len(recording.sessions) == 2


def test_09_seconds_that_start_again_are_sessions_apart(tmp_path: Path) -> None:
    text = "Time,IAS\n" + "".join(f"{second},{50 + second}\n" for _ in range(3)
                                  for second in range(20))
    recording = read(tmp_path, text, ELAPSED, date=DAY)
    each = np.arange(20.0)
    assert seconds(recording) == [*each, *(each + 19.0 + 3600.0), *(each + 2 * 3619.0)]
    assert [round(end - start) for start, end in recording.sessions] == [19, 19, 19]
    assert "how long it was off" in said(recording)


def test_09_sessions_with_dates_are_put_in_order_where_they_do_not_overlap() -> None:
    late, early = 5_000.0 + np.arange(30.0), 1_000.0 + np.arange(30.0)
    stamps = Stamps(np.concatenate([late, early]) + MIDNIGHT, dated=True)
    base = make_time_base(stamps, "one.csv")
    assert list(base.keep) == [*range(30, 60), *range(30)]
    assert list(base.time_s - MIDNIGHT) == [*early, *late]
    assert base.set_aside == {}
    assert "2 stretches of rows do not stand in order of time" in base.findings[0].what


def test_09_sessions_with_dates_that_overlap_are_not_both_believed() -> None:
    first, second = 5_000.0 + np.arange(100.0), 4_900.0 + np.arange(60.0) * 3.0
    stamps = Stamps(np.concatenate([first, second]) + MIDNIGHT, dated=True)
    order, time_s = lay_out_sessions(stamps.utc_s, stamps, "one.csv", [])
    assert list(order) == list(range(160))
    assert np.array_equal(time_s, stamps.utc_s)
    assert make_time_base(stamps, "one.csv").set_aside == {"time goes back": 60}


def test_09_nothing_is_found_across_sessions() -> None:
    one = make_flight(3, 1.0, Plan())
    away = one.time_s + 86_400.0
    channels = {name: np.concatenate([samples, samples]) for name, samples in one.channels.items()}
    both = find_takeoffs(Trace(np.concatenate([one.time_s, away]), channels))
    alone = find_takeoffs(Trace(one.time_s, one.channels))
    # the delay of the receiver is estimated from all of a recording, and moves every start
    assert [point.start_s for point in both] == pytest.approx([
        point.start_s + day for day in (0.0, 86_400.0) for point in alone], abs=0.1)


def test_10_what_a_header_says_of_persons_stays_out(tmp_path: Path) -> None:
    text = "serial 1234, owner Jane Invented, D-XXXX\nTime,IAS\n10:00:00,50\n10:00:01,51\n"
    recording = read(tmp_path, text, UNDATED.replace("[1]", "[2]"), date=DAY)
    assert "Invented" not in repr(recording)
    assert "D-XXXX" not in said(recording)


# ---------------------------------------------------------------- time


def test_11_a_clock_that_is_wrong_at_power_up(tmp_path: Path) -> None:
    early = [36_000 - 2110 + second for second in range(14)]
    right = [36_000 + 13 + second for second in range(200)]
    recording = read(tmp_path, rows([*early, *right]), UNDATED, date=DAY)
    assert dict(recording.rows.set_aside) == {"clock not yet set at power-up": 14}
    assert seconds(recording) == right
    assert "the clock jumps by +2110 s after 14 rows" in said(recording)


def test_12_an_offset_that_flips_in_flight(tmp_path: Path) -> None:
    columns = UNDATED.replace('"%H:%M:%S" }', '"%H:%M:%S", utc_offset_column = "Off" }')
    text = "Time,Off,IAS\n"
    for second in range(40):
        flipped = 10 <= second < 15 or 25 <= second < 30
        local = 36_000 + second + (0 if flipped else -18_000)
        text += f"{clock(local)},{'+00:00' if flipped else '-05:00'},{50 + second}\n"
    recording = read(tmp_path, text, columns, date=DAY)
    assert seconds(recording) == [36_000 + second for second in range(40)]
    assert "the offset from UTC of 10 rows is not the usual -5 h" in said(recording)


def test_13_time_that_goes_back_by_a_second(tmp_path: Path) -> None:
    stamps = [*range(36_000, 36_020), *range(36_018, 36_040)]
    recording = read(tmp_path, rows(stamps), UNDATED, date=DAY)
    assert seconds(recording) == list(range(36_000, 36_040))
    assert dict(recording.rows.set_aside) == {"time goes back": 2}
    assert "2 rows that overlap others were set aside" in said(recording)


def test_14_repeats_and_missed_seconds_are_spread(tmp_path: Path) -> None:
    stamps = [0, 1, 2, 2, 4, 5, 7, 7, 8]
    recording = read(tmp_path, rows([36_000 + stamp for stamp in stamps]), UNDATED, date=DAY)
    assert seconds(recording) == [36_000.0 + place for place in range(9)]
    assert "2 rows repeat the time of the row before" in said(recording)


def test_14_rows_are_not_a_second_apart_and_elapsed_time_is_the_stamps(tmp_path: Path) -> None:
    stamps = [int(36_000 + 1.045 * row) for row in range(1000)]
    recording = read(tmp_path, rows(stamps), UNDATED, date=DAY)
    assert recording.time_s[-1] - recording.time_s[0] == pytest.approx(1.045 * 999, abs=1.0)
    assert np.diff(recording.time_s).min() > 0.3
    # a steady climb of 5 m/s keeps its rate: counting rows as seconds would give 5.2
    altitude = 5.0 * 1.045 * np.arange(1000)
    rate = np.polyfit(recording.time_s - recording.time_s[0], altitude, 1)[0]
    assert rate == pytest.approx(5.0, rel=2e-3)


def test_15_a_real_gap_stays_a_gap(tmp_path: Path) -> None:
    recording = read(tmp_path, rows([*range(36_000, 36_050), *range(36_275, 36_325)]), UNDATED,
                     date=DAY)
    assert np.diff(recording.time_s).max() == 226.0
    assert "1 gaps between samples, the longest 226.0 s from 2024-05-01T10:00:49 UTC" in (
        said(recording))
    assert len(recording.sessions) == 1


@pytest.mark.parametrize("step", [0.02, 0.3, 0.6, 1.0, 2.0, 5.0, 8.0, 20.0])
def test_16_any_sampling(tmp_path: Path, step: float) -> None:
    text = "Time,IAS\n" + "".join(f"{row * step:.3f},{50 + row % 3}\n" for row in range(60))
    recording = read(tmp_path, text, ELAPSED, date=DAY)
    np.testing.assert_allclose(np.diff(recording.time_s), step, atol=2e-6)
    assert recording.rows.used == 60


def test_16_three_rows_share_one_stamp(tmp_path: Path) -> None:
    stamps = [36_000 + row // 3 for row in range(30)]
    recording = read(tmp_path, rows(stamps), UNDATED, date=DAY)
    np.testing.assert_allclose(recording.time_s - TEN, np.arange(30) / 3.0, atol=1e-6)


def test_17_no_time_column(tmp_path: Path) -> None:
    text = "IAS,x\n50,1\n51,1\n\nbad\n53,1\n54,1\n"
    recording = read(tmp_path, text, COUNTED, date=DAY)
    assert seconds(recording) == [0.0, 1.0, 3.0, 4.0]  # a damaged row took its second, a blank none
    assert recording.interval_sigma == 0.03
    finding = next(item for item in recording.findings if "no time column" in item.what)
    assert (finding.level, finding.sure) == ("caution", "sure")
    assert "every rate, time and distance carries those 3 %" in finding.spoils
    clocked = read(tmp_path, rows([0, 1]), UNDATED, date=DAY)
    assert clocked.interval_sigma == 0.0


def test_17_no_time_column_asks_for_the_interval_and_the_date(tmp_path: Path) -> None:
    (tmp_path / "panel.toml").write_text(COUNTED.replace(', interval_sigma = "3 %"', ""))
    with pytest.raises(CampaignError) as caught:
        load_columns(tmp_path / "panel.toml")
    assert 'Mend: write interval_sigma = "3 %": recorders said to write once a second were found ' \
        "to write every 1.02 to 1.05 s" in str(caught.value)
    with pytest.raises(CampaignError, match="write the date in flights"):
        read(tmp_path, "IAS\n50\n51\n", COUNTED)


def test_18_midnight_zero_steps_and_two_dates(tmp_path: Path) -> None:
    stamps = [86_397, 86_398, 86_398, 86_399, 0, 1, 1, 2]
    recording = read(tmp_path, rows(stamps), UNDATED, date=DAY)
    assert seconds(recording)[0] == 86_397.0
    assert seconds(recording)[-1] == 86_402.0
    assert (np.diff(recording.time_s) > 0.0).all()


def test_18_descending_files_are_turned_and_told(tmp_path: Path) -> None:
    recording = read(tmp_path, rows(list(range(36_060, 36_000, -1))), UNDATED, date=DAY)
    assert seconds(recording) == list(range(36_001, 36_061))
    assert speeds(recording) == [109.0 - place for place in range(60)]
    assert "runs backwards in time; its rows were turned" in said(recording)
    over = [*range(5, -1, -1), *range(86_399, 86_390, -1)]
    recording = read(tmp_path, rows(over), UNDATED, date=DAY)
    assert np.array_equal(np.diff(recording.time_s), np.ones(14))


def test_18_rows_of_another_year_are_left_out(tmp_path: Path) -> None:
    columns = UNDATED.replace("%H:%M:%S", "%Y-%m-%d %H:%M:%S")
    text = "Time,IAS\n" + "".join(f"2024-05-01 10:00:{row:02d},{50 + row}\n" for row in range(40))
    text = text.replace("2024-05-01 10:00:20", "2034-05-01 10:00:20")
    recording = read(tmp_path, text, columns)
    assert dict(recording.rows.set_aside) == {"time many days from that of most rows": 1}
    assert "clock of 1 rows is over 15 days from that of most rows" in said(recording)


@pytest.mark.parametrize(("columns", "cells"), [
    ('columns = ["d", "t"], format = "%Y-%m-%d %H:%M:%S", utc_offset_column = "z"',
     "d,t,z\n2024-05-01,12:00:0{},+02:00\n"),
    ('columns = ["u"], format = "%d.%m.%Y %H:%M:%S"', "l,u\n12:00,01.05.2024 10:00:0{}\n"),
    ('columns = ["s"], format = "ISO 8601"', "s,e\n2024-05-01T12:00:0{}+02:00,1714557600\n"),
    ('columns = ["e"], format = "epoch seconds"', "s,e\nnoon,171455760{}\n"),
])
def test_19_date_time_and_offset_in_any_split(tmp_path: Path, columns: str, cells: str) -> None:
    head, row = cells.split("\n", 1)
    text = f"{head},IAS\n" + "".join(row.format(second).rstrip("\n") + f",{50 + second}\n"
                                     for second in range(3))
    kind = ('delimiter = ","\nheader_rows = [1]\ntime = { ' + columns + ' }\n[channels]\n'
            'indicated_airspeed = { column = "IAS", unit = "kt" }\n')
    recording = read(tmp_path, text, kind)
    assert list(recording.time_s - TEN) == [0.0, 1.0, 2.0]


def test_a_header_that_is_not_the_one_the_columns_file_was_written_for(tmp_path: Path) -> None:
    text = rows([36_000, 36_001])
    recording = read(tmp_path, text, 'header = "0123456789abcdef"\n' + UNDATED, date=DAY)
    finding = recording.findings[0]
    assert "its header is not the one that columns/panel.toml was written for" in finding.what
    right = finding.spoils.split('"')[1]
    assert read(tmp_path, text, f'header = "{right}"\n' + UNDATED, date=DAY).findings == ()
    swapped = text.replace("Time,IAS", "IAS,Time").replace("%H", "%H")
    with pytest.raises(CampaignError):
        read(tmp_path, swapped, f'header = "{right}"\n' + UNDATED, date=DAY)




# ---------------------------------------------------------------- flight content


@pytest.mark.parametrize(("plan", "named"), [
    (Plan(touch_and_go=True), "touch-and-go"),    # 41
    (Plan(abort=True), "abort"),
    (Plan(rolling=True), "rolling"),              # 44
    (Plan(soft=True), ""),                        # 45
    (Plan(slow_flight=True), ""),                 # 43
    (Plan(starts_airborne=True), ""),             # 46
    (Plan(ends_airborne=True), ""),
])
def test_41_to_46_what_only_looks_like_a_takeoff_is_not_used(plan: Plan, named: str) -> None:
    made = make_flight(11, 1.0, plan)
    points = find_takeoffs(Trace(made.time_s, made.channels))
    used = [point for point in points if point.used]
    assert len(used) <= len(made.truth.takeoffs)
    assert not named or any(named in point.reason for point in points if not point.used)
