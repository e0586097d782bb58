"""decisions.csv: what a person overruled, read whole or refused with the row."""

from __future__ import annotations

import math
import pickle

import pytest

from stdday.decisions import DECISION_COLUMNS, check_decisions, read_decisions
from stdday.errors import CampaignError

HEADER = ("point,flight,kind,start_utc,end_utc,use,reason,runway,wind_from [deg],wind_speed [kt],"
          "flaps,weight [kg],decided_at")
POINT = "F01-climb-093120,F01,climb,2026-05-04T09:31:20Z,2026-05-04T09:35:50Z"


def write(folder, *rows, header=HEADER):
    (folder / "decisions.csv").write_text("\n".join((header, *rows, "")), encoding="utf-8")
    return folder


def test_no_file_means_no_decisions(tmp_path):
    assert read_decisions(tmp_path) == ()
    assert check_decisions(tmp_path) == []


def test_a_header_alone_means_no_decisions(tmp_path):
    assert read_decisions(write(tmp_path)) == ()


def test_columns_are_those_of_the_format():
    assert list(DECISION_COLUMNS) == [cell.split(" ")[0] for cell in HEADER.split(",")]


def test_everything_in_si(tmp_path):
    row = f'{POINT},no,"turned, 30 deg of bank",08,270,10,10 deg,580,2026-05-10 18:00'
    found = read_decisions(write(tmp_path, row))[0]
    assert (found.point, found.flight, found.kind, found.row) == (
        "F01-climb-093120", "F01", "climb", 2)
    # seconds since 1970-01-01 UTC of 2026-05-04 09:31:20: 20577 days and 34280 s (by hand)
    assert found.start_s == 20577 * 86400 + 34280
    assert found.end_s - found.start_s == 270.0
    assert found.use is False
    assert found.reason == "turned, 30 deg of bank"
    assert (found.runway, found.flaps, found.weight_kg) == ("08", "10 deg", 580.0)
    assert found.wind_from_rad == pytest.approx(1.5 * math.pi)
    assert found.wind_speed_ms == pytest.approx(10 * 1852 / 3600)
    assert found.decided_at == "2026-05-10 18:00"
    assert pickle.loads(pickle.dumps(found)) == found


def test_empty_cells_leave_what_was_found(tmp_path):
    found = read_decisions(write(tmp_path, f"{POINT},,,,,,,,"))[0]
    assert (found.use, found.runway, found.wind_from_rad, found.weight_kg, found.reason) == (
        None, None, None, None, "")


@pytest.mark.parametrize(("text", "same"), [
    ("2026-05-04T09:31:20", True), ("2026-05-04 09:31:20", True),
    ("2026-05-04T11:31:20+02:00", True), ("2026-05-04T09:31:20.5Z", False),
])
def test_times_are_utc_unless_they_say_otherwise(tmp_path, text, same):
    row = f"p,F01,climb,{text},2026-05-04T09:35:50Z,,,,,,,,"
    found = read_decisions(write(tmp_path, row))[0]
    assert (found.start_s == 20577 * 86400 + 34280) == same


def test_in_the_order_of_the_file(tmp_path):
    folder = write(tmp_path, f"{POINT},yes,,,,,,,", f"{POINT},no,second thoughts,,,,,,")
    assert [decision.use for decision in read_decisions(folder)] == [True, False]


@pytest.mark.parametrize(("row", "column", "needed", "found", "mend"), [
    (",F01,climb,,,,,,,,,,", "point", "the point", "an empty cell", "results/points.csv"),
    ("p,,climb,,,,,,,,,,", "flight", "the flight", "an empty cell", "results/points.csv"),
    ("p,F01,,,,,,,,,,,", "kind", "the kind", "an empty cell", "results/points.csv"),
    ("p,F01,climb,09:31:20,,,,,,,,,", "start_utc", "a date and time in UTC", "'09:31:20'",
     "2025-06-14T09:31:20Z"),
    ("p,F01,climb,2026-05-04,,,,,,,,,", "start_utc", "a date and time", "'2026-05-04'", "T09:31"),
    ("p,F01,climb,2026-05-04T09:31:20Z,2026-05-04T09:31:20Z,,,,,,,,", "end_utc",
     "an end after the start", "'2026-05-04T09:31:20Z'", "both times"),
    (f"{POINT},perhaps,,,,,,,", "use", "yes, no or nothing", "'perhaps'", "yes or no"),
    (f"{POINT},no,,,,,,,", "reason", "the reason why", "an empty cell", "stands in the report"),
    (f"{POINT},,,,370,,,,", "wind_from", "0 deg to 360 deg", "'370'", "unit in the header"),
    (f"{POINT},,,,,-3,,,", "wind_speed", "0 kt to 100 kt", "'-3'", "unit in the header"),
    (f"{POINT},,,,,,,5 kg,", "weight", "a number", "'5 kg'", 'write "5"'),
])
def test_faults_of_one_row(tmp_path, row, column, needed, found, mend):
    problems = check_decisions(write(tmp_path, row))
    assert len(problems) == 1, [str(problem) for problem in problems]
    assert (problems[0].file, problems[0].where) == ("decisions.csv", f"line 2, {column}")
    assert needed in problems[0].needed
    assert found in problems[0].found
    assert mend in problems[0].mend
    with pytest.raises(CampaignError):
        read_decisions(tmp_path)


def test_all_faults_at_once(tmp_path):
    folder = write(tmp_path, f"{POINT},perhaps,,,,,,,", f"{POINT},no,,,,,,,", "p,F01")
    with pytest.raises(CampaignError) as caught:
        read_decisions(folder)
    assert [problem.where for problem in caught.value.problems] == [
        "line 4", "line 2, use", "line 3, reason"]


def test_a_column_without_unit(tmp_path):
    problems = check_decisions(write(tmp_path, header=HEADER.replace("[kg]", "")))
    assert problems[0].needed == "the unit of a mass in square brackets"
