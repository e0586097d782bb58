"""A new campaign: what is to fill in is told, filled in it passes, and nothing is overwritten."""

from __future__ import annotations

import re
import tomllib

import pytest

from stdday.campaign import UNCERTAINTY_DEFAULTS, check_campaign, load_campaign
from stdday.decisions import DECISION_COLUMNS, read_decisions
from stdday.errors import StddayError
from stdday.flights import FLIGHT_COLUMNS
from stdday.new_campaign import new_campaign_files, write_new_campaign
from tests.make_campaign import COLUMNS

# What a person would write in place of each "…", by the key before it, in the order of the file.
ANSWERS = {
    "title": ['"Ours"'], "question": ['"Is it shorter?"'], "weight": ['"600 kg"'],
    "liftoff_airspeed": ['"48 kt"'], "climb_airspeed": ['"62 kt"'],
    "takeoff_ground_roll": ['"25 m"'], "climb_rate": ['"80 fpm"'],
    "cruise_true_airspeed": ['"3 kt"'], "name": ['"two-seater"', '"08"'],
    "maximum_weight": ['"1320 lb"'], "wing_area": ['"118 sq ft"'], "wing_span": ['"30 ft"'],
    "induction": ['"naturally aspirated"'], "rated_power": ['"100 hp"'],
    "rated_engine_speed": ['"5800 rpm"'], "gear_ratio": ["2.43"],
    "fuel_density": ['"6.0 lb/US gal"'], "power_from": ['"logged power"'],
    "label": ['"two-blade"', '"three-blade"'], "blades": ["2", "3"],
    "diameter": ['"66 in"', '"1.70 m"'], "control": ['"fixed pitch"', '"fixed pitch"'],
    "elevation": ['"120 ft"'], "time_zone": ['"UTC+1"'], "true_bearing": ['"82 deg"'],
    "slope": ['"0.3 %"'],
}
FLIGHT = "F01,A,2026-05-04,f01.csv,recorder,580,80,home,08,1013,15,8,80,5,,,,,,,,,yes,"


def filled_in(text):
    answers = {key: iter(values) for key, values in ANSWERS.items()}

    def answer(found):
        return f"{found[1]} = {next(answers[found[1]])}"

    lines = [line if line.startswith("#") else re.sub(r'(\w+) = "…"', answer, line)
             for line in text.splitlines()]
    assert all(next(rest, None) is None for rest in answers.values()), "an answer was not asked"
    return "\n".join(lines).replace('"600 kg"', '"590 kg"') + "\n"


def errors(folder):
    return [problem for problem in check_campaign(folder) if problem.level == "error"]


def test_what_is_written(tmp_path):
    write_new_campaign(tmp_path / "deep" / "mine")
    names = {path.relative_to(tmp_path / "deep" / "mine").as_posix()
             for path in (tmp_path / "deep" / "mine").rglob("*")}
    assert names == {"campaign.toml", "flights.csv", "decisions.csv", "logs", "columns", "cards",
                     "columns/recorder.toml"}


def test_every_place_to_fill_in_is_told_with_an_example(tmp_path):
    write_new_campaign(tmp_path)
    text = (tmp_path / "campaign.toml").read_text(encoding="utf-8")
    places = [(number, line) for number, line in enumerate(text.splitlines(), 1)
              if not line.startswith("#") and '"…"' in line]
    asked = sum(line.count('"…"') for _, line in places)
    told = [problem for problem in errors(tmp_path) if problem.file == "campaign.toml"]
    assert len(told) == asked > 25
    assert {int(re.match(r"line (\d+)", problem.where)[1]) for problem in told} == {
        number for number, _ in places}
    for problem in told:
        assert problem.found == "'…', still to fill in"
        assert re.search(r"fill it in|write it such as", problem.mend), problem.mend
    others = [problem for problem in errors(tmp_path) if problem.file != "campaign.toml"]
    assert [(problem.file, problem.found) for problem in others] == [
        ("flights.csv", "only the header, still to fill in")]


def test_filled_in_it_passes(tmp_path):
    write_new_campaign(tmp_path)
    path = tmp_path / "campaign.toml"
    path.write_text(filled_in(path.read_text(encoding="utf-8")), encoding="utf-8")
    with (tmp_path / "flights.csv").open("a", encoding="utf-8") as stream:
        stream.write(f"{FLIGHT}\n{FLIGHT.replace('F01,A', 'F02,B').replace('f01', 'f02')}\n")
    for name in ("f01.csv", "f02.csv"):
        (tmp_path / "logs" / name).write_text("Date,Time,Airspeed\n")
    assert {problem.file for problem in errors(tmp_path)} == {"columns/recorder.toml"}
    (tmp_path / "columns" / "recorder.toml").write_text(COLUMNS)
    assert [str(problem) for problem in errors(tmp_path)] == []
    campaign = load_campaign(tmp_path)
    assert campaign.airplanes["one"].gear_ratio == 2.43
    assert set(campaign.defaults_used) == set(UNCERTAINTY_DEFAULTS)
    assert read_decisions(tmp_path) == ()


def test_the_remarks_are_right_too(tmp_path):
    """Every remark that is an entry, taken out of its remark, is read without complaint."""
    text = filled_in(new_campaign_files()["campaign.toml"])
    entry = re.compile(r"^# (?=\[|\w+ = )", re.MULTILINE)
    plain = entry.sub("", text)
    plain = plain.replace('[airplane.one.reference]', '[airplane.one.reference]  # own\n')
    plain = plain.replace('critical_altitude = "15000 ft"', "", 1)       # for another engine
    plain = plain.replace(
        'control = "fixed pitch" }\nrpm_schedule', 'control = "constant speed" }\nrpm_schedule')
    write_new_campaign(tmp_path)
    (tmp_path / "campaign.toml").write_text(plain, encoding="utf-8")
    told = [str(problem) for problem in errors(tmp_path) if problem.file == "campaign.toml"]
    assert told == []
    uncertainty = tomllib.loads(plain)["uncertainty"]
    given = {key for key, value in uncertainty.items() if isinstance(value, str)} | {
        f"{table}.{key}" for table, values in uncertainty.items() if isinstance(values, dict)
        for key in values}
    assert given == set(UNCERTAINTY_DEFAULTS)


def test_headers_hold_every_column():
    files = new_campaign_files()
    for name, columns in (("flights.csv", FLIGHT_COLUMNS), ("decisions.csv", DECISION_COLUMNS)):
        cells = files[name].strip().split(",")
        assert [cell.split(" ")[0] for cell in cells] == list(columns)
        assert all(("[" in cell) == bool(columns[cell.split(" ")[0]]) for cell in cells)


@pytest.mark.parametrize("name", ["campaign.toml", "flights.csv", "decisions.csv",
                                  "columns/recorder.toml"])
def test_nothing_is_overwritten(tmp_path, name):
    (tmp_path / name).parent.mkdir(exist_ok=True)
    (tmp_path / name).write_text("mine")
    before = sorted(path.name for path in tmp_path.rglob("*"))
    with pytest.raises(StddayError, match="nothing was written") as caught:
        write_new_campaign(tmp_path)
    assert name in str(caught.value)
    assert (tmp_path / name).read_text() == "mine"
    assert sorted(path.name for path in tmp_path.rglob("*")) == before


def test_other_things_in_the_folder_stay(tmp_path):
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "f01.csv").write_text("mine")
    (tmp_path / "notes.txt").write_text("mine")
    write_new_campaign(tmp_path)
    assert (tmp_path / "logs" / "f01.csv").read_text() == "mine"
    assert (tmp_path / "notes.txt").read_text() == "mine"


def test_a_file_in_the_way_of_a_folder(tmp_path):
    (tmp_path / "logs").write_text("mine")
    with pytest.raises(StddayError, match="needed a folder without logs; found it there"):
        write_new_campaign(tmp_path)
    target = tmp_path / "file"
    target.write_text("mine")
    with pytest.raises(StddayError, match="needed a folder for the new campaign; found a file"):
        write_new_campaign(target)


def test_a_place_that_cannot_be_written(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(StddayError, match=r"cannot be written \(.+\)\. Mend: choose another"):
        write_new_campaign(tmp_path / "file" / "inner")
