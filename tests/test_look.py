"""`look` and `new --from`: what they show and write, and that nothing untrusted does harm."""

from __future__ import annotations

import csv
import dataclasses
import html.parser
import json
import os
import tomllib
from pathlib import Path

import pytest

from stdday import command
from stdday.campaign import check_campaign
from stdday.columns import load_columns
from stdday.errors import CampaignError, StddayError
from stdday.look import look_at
from stdday.look_page import look_page, look_picture, save_look, write_whole
from stdday.look_text import look_lines
from stdday.new_from import csv_cell, file_name_fault, write_campaign_from
from tests.recordings.shapes import HELD_OUT, SHAPES, make
from tests.test_propose import HOSTILE

ENGLISH = SHAPES[0]


@pytest.fixture
def log(tmp_path):
    """A plain recording on disk."""
    place = tmp_path / "flight one.csv"
    place.write_bytes(make(ENGLISH).content)
    return place


def put(folder: Path, name: str, shape=ENGLISH, **change) -> Path:
    place = folder / name
    place.write_bytes(make(dataclasses.replace(shape, **change)).content)
    return place


# ---- look ---------------------------------------------------------------------------------------


def test_look_says_all_that_it_should(log):
    text = "\n".join(look_lines(look_at(log)))
    for words in ("Proposed columns, none of them confirmed", "First rows as they would be read",
                  "2661 rows = 2661 used", "take-off at", "climb at", "level run at", "landing at",
                  "uncorrected", "Findings:", "Only you know:", "true or magnetic"):
        assert words in text


def test_what_was_flown_is_found(log):
    looked = look_at(log)
    kinds = [one.kind for one in looked.found if one.used]
    assert kinds.count("take-off") == kinds.count("landing") == 1
    assert kinds.count("level run") >= 4
    assert kinds.count("climb") >= 2


def test_first_rows_are_those_of_the_file(log):
    lines = look_lines(look_at(log))
    first = next(place for place, line in enumerate(lines) if line.startswith("First rows"))
    assert "937" in lines[first + 1]          # GPS altitude of the first row, as the file has it
    assert log.read_text().splitlines()[1].split(",")[4] == "937"


def test_per_cent_of_power_stays_per_cent_and_makes_no_claim(tmp_path):
    looked = look_at(put(tmp_path, "a.csv", SHAPES[10]))
    assert "power [%]" in "\n".join(look_lines(looked)) or "power mean" in "\n".join(
        look_lines(looked))
    assert not [one for one in looked.recording.findings if "specific consumption" in one.what]


@pytest.mark.parametrize("shape", [*SHAPES, *HELD_OUT], ids=lambda shape: shape.key)
def test_every_shape_can_be_looked_at(shape, tmp_path):
    looked = look_at(put(tmp_path, "a.csv", shape))
    assert looked.recording is not None
    assert looked.recording.rows.used == looked.recording.rows.in_file
    assert "<svg" in look_page(looked)


def test_the_picture_has_one_time_axis(log):
    made = look_picture(look_at(log)).to_plotly_json()
    axes = [part for name, part in made["layout"].items() if name.startswith("xaxis")]
    assert len(axes) >= 4
    assert len({tuple(axis["range"]) for axis in axes}) == 1


class Tags(html.parser.HTMLParser):
    """Collects elements and attributes of a page."""

    def __init__(self):
        super().__init__()
        self.tags, self.attributes = set(), set()

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}


def test_the_page_stands_alone_and_runs_nothing(log):
    page = look_page(look_at(log))
    seen = Tags()
    seen.feed(page)
    assert not seen.tags & {"script", "link", "img", "iframe", "object", "a"}
    assert not {name for name in seen.attributes if name.startswith("on")} | (
        seen.attributes & {"src", "href"})
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "").replace("http-equiv", "")


def test_without_save_the_picture_goes_to_a_new_folder(log, capsys, tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    before = set(log.parent.iterdir())
    assert command.main(["look", str(log)]) == 0
    printed = capsys.readouterr().out
    place = Path(printed.rpartition("Picture: ")[2].strip())
    assert place.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert {path for path in log.parent.iterdir() if path.is_file()} == {
        path for path in before if path.is_file()}


def test_save_writes_columns_and_picture_and_replaces_nothing(log, capsys, tmp_path):
    place = tmp_path / "panel.toml"
    assert command.main(["look", str(log), "--save", str(place)]) == 0
    assert not load_columns(place).confirmed
    assert (tmp_path / "panel.toml.html").is_file()
    before = place.read_bytes()
    assert command.main(["look", str(log), "--save", str(place)]) == 1
    assert "Mend:" in capsys.readouterr().err
    assert place.read_bytes() == before
    assert not [path for path in tmp_path.iterdir() if path.suffix == ".part"]


def test_nothing_is_left_half_written(tmp_path, monkeypatch):
    def full(held, place):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("stdday.look_page._put", full)
    with pytest.raises(StddayError, match="No space left"):
        write_whole(tmp_path / "a.html", "text")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_told(log, tmp_path):
    with pytest.raises(StddayError, match="cannot be written"):
        save_look(look_at(log), tmp_path / "none" / "a.toml")


@pytest.mark.parametrize(("content", "words"), [
    (b"", "empty file"), (b"\x00\x01" * 5000, "binary file"), (b"just words\n" * 20, "rows of")])
def test_what_cannot_be_looked_at_is_told(content, words, tmp_path, capsys):
    place = tmp_path / "a.csv"
    place.write_bytes(content)
    assert command.main(["look", str(place)]) == 1
    printed = capsys.readouterr().err
    assert words in printed
    assert "Traceback" not in printed


def test_a_recording_that_is_not_there_is_told(tmp_path, capsys):
    assert command.main(["look", str(tmp_path / "none.csv")]) == 1
    assert "no such file" in capsys.readouterr().err


def test_a_track_is_looked_at_without_a_proposal(tmp_path):
    fixes = "".join(
        f"<trkpt lat='{50 + n * 3e-4:.6f}' lon='8.0'><ele>{100 + n}</ele>"
        f"<time>2024-05-01T10:{n // 60:02d}:{n % 60:02d}Z</time></trkpt>" for n in range(300))
    place = tmp_path / "a.gpx"
    place.write_text(f"<?xml version='1.0'?><gpx version='1.1' creator='invented' "
                     f"xmlns='http://www.topografix.com/GPX/1/1'><trk><trkseg>{fixes}</trkseg>"
                     "</trk></gpx>")
    looked = look_at(place)
    assert looked.kind == "GPX"
    assert looked.proposal is None
    assert "A GPX track" in "\n".join(look_lines(looked))
    with pytest.raises(StddayError, match="nothing to save"):
        save_look(looked, tmp_path / "a.toml")


def hostile_log(folder: Path, words: str) -> Path:
    """A recording whose header, cells and metadata hold hostile text."""
    quoted = '"' + words.replace('"', '""').replace("\n", " ") + '"'
    rows = "".join(f"10:{n // 60:02d}:{n % 60:02d},{40 + n % 60},{n % 90},{quoted}\n"
                   for n in range(300))
    place = folder / "a.csv"
    place.write_text(f"{quoted}\nUTC,{quoted} IAS [kt],GS [kt],{quoted}\n{rows}", encoding="utf-8")
    return place


@pytest.mark.parametrize("words", HOSTILE)
def test_hostile_text_does_no_harm_in_page_and_terminal(words, tmp_path):
    looked = look_at(hostile_log(tmp_path, words))
    text = "\n".join(look_lines(looked))
    assert all(sign.isprintable() or sign == "\n" for sign in text)
    page = look_page(looked)
    seen = Tags()
    seen.feed(page)
    assert "script" not in seen.tags


# ---- new --from ---------------------------------------------------------------------------------


def rows_of(folder: Path) -> list[dict[str, str]]:
    with (folder / "flights.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_a_campaign_is_begun_from_recordings(tmp_path, capsys):
    logs = [put(tmp_path, "one.csv"), put(tmp_path, "two.csv", seed=21),
            put(tmp_path, "drei.csv", SHAPES[3])]
    folder = tmp_path / "campaign"
    assert command.main(["new", str(folder), "--from", *map(str, logs)]) == 0
    assert sorted(path.name for path in (folder / "logs").iterdir()) == [
        "drei.csv", "one.csv", "two.csv"]
    for path in logs:
        assert (folder / "logs" / path.name).read_bytes() == path.read_bytes()
    rows = rows_of(folder)
    assert [row["flight"] for row in rows] == ["F01", "F02", "F03"]
    by_log = {row["log"]: row for row in rows}
    assert by_log["one.csv"]["date"] == make(ENGLISH).flight.start.date().isoformat()
    assert by_log["one.csv"]["columns"] == by_log["two.csv"]["columns"] != by_log["drei.csv"][
        "columns"]
    assert " N " in by_log["one.csv"]["crew_note"]
    for path in (folder / "columns").iterdir():
        assert tomllib.loads(path.read_text(encoding="utf-8"))["confirmed"] is False
    printed = capsys.readouterr().out
    assert "Only you know" in printed or "only you know" in printed


def test_check_then_lists_what_only_the_person_knows(tmp_path):
    folder = tmp_path / "campaign"
    write_campaign_from(folder, [put(tmp_path, "one.csv")])
    problems = check_campaign(folder)
    assert {problem.file for problem in problems} >= {"campaign.toml"}
    assert not [problem for problem in problems if problem.file.startswith("columns/")
                and problem.level == "error"]
    assert not [problem for problem in problems if problem.file == "flights.csv"
                and problem.level == "error" and "log" in problem.where]


def test_the_altimeter_setting_is_taken_over(tmp_path):
    folder = tmp_path / "campaign"
    write_campaign_from(folder, [put(tmp_path, "one.csv", SHAPES[2])])
    wanted = make(SHAPES[2]).flight.channels["altimeter_setting"][0] / 100.0
    setting = rows_of(folder)[0]["altimeter_setting [hPa]"]
    assert float(setting) == pytest.approx(wanted, abs=0.5)


def test_a_flight_of_two_recorders_counts_once(tmp_path):
    folder = tmp_path / "campaign"
    write_campaign_from(folder, [put(tmp_path, "one.csv", seed=7),
                                 put(tmp_path, "other.csv", seed=7, step=2),
                                 put(tmp_path, "third.csv", SHAPES[5], seed=7)])
    rows = rows_of(folder)
    used = [row for row in rows if row["use"] != "no"]
    assert len(used) == 1
    assert used[0]["log"] in ("one.csv | other.csv", "third.csv")
    assert all("counts once" in row["why_not"] for row in rows if row["use"] == "no")


def test_a_recording_without_a_date_leaves_it_empty(tmp_path):
    folder = tmp_path / "campaign"
    made = write_campaign_from(folder, [put(tmp_path, "one.csv", SHAPES[4])])
    assert rows_of(folder)[0]["date"] == ""
    assert any("no date" in question for question in made.questions)


@pytest.mark.parametrize("pair", [("one.csv", "one.csv"), ("one.csv", "ONE.CSV")])
def test_recordings_of_one_name_are_refused_and_nothing_is_written(tmp_path, pair):
    for place in ("a", "b"):
        (tmp_path / place).mkdir()
    logs = [put(tmp_path / "a", pair[0]), put(tmp_path / "b", pair[1])]
    with pytest.raises(StddayError, match=r"never renamed"):
        write_campaign_from(tmp_path / "campaign", logs)
    assert not (tmp_path / "campaign").exists()


@pytest.mark.parametrize("name", ["=1+1.csv", "a|b.csv", "-x.csv", "a@b.csv", "a\x07.csv"])
def test_names_that_would_do_harm_are_refused(tmp_path, name):
    if os.name == "nt":
        pytest.skip("such a name cannot be made there")
    with pytest.raises(StddayError, match="Mend: rename"):
        write_campaign_from(tmp_path / "campaign", [put(tmp_path, name)])
    assert not (tmp_path / "campaign").exists()


def test_a_folder_that_holds_something_is_left_alone(tmp_path):
    log = put(tmp_path, "one.csv")
    folder = tmp_path / "campaign"
    folder.mkdir()
    (folder / "note.txt").write_text("mine")
    with pytest.raises(StddayError, match="nothing was"):
        write_campaign_from(folder, [log])
    assert [path.name for path in folder.iterdir()] == ["note.txt"]


def test_an_empty_folder_is_taken(tmp_path):
    folder = tmp_path / "campaign"
    folder.mkdir()
    write_campaign_from(folder, [put(tmp_path, "one.csv")])
    assert (folder / "flights.csv").is_file()


def test_one_bad_recording_stops_all_and_leaves_nothing(tmp_path):
    bad = tmp_path / "bad.csv"
    bad.write_bytes(b"")
    with pytest.raises(CampaignError, match="empty file"):
        write_campaign_from(tmp_path / "campaign", [put(tmp_path, "one.csv"), bad])
    assert sorted(path.name for path in tmp_path.iterdir()) == ["bad.csv", "one.csv"]


@pytest.mark.parametrize("words", HOSTILE)
def test_hostile_text_does_no_harm_in_a_campaign(tmp_path, words):
    folder = tmp_path / "campaign"
    made = write_campaign_from(folder, [hostile_log(tmp_path, words)])
    assert {path.name for path in tmp_path.iterdir()} == {"a.csv", "campaign"}
    for row in rows_of(folder):
        assert not [cell for cell in row.values() if cell and cell[0] in "=+-@"]
    assert all(sign.isprintable() for line in (*made.flights, *made.questions) for sign in line)


def test_cells_are_harmless_in_a_spreadsheet():
    assert csv_cell("=HYPERLINK(1)") == "'=HYPERLINK(1)"
    assert csv_cell("a\r\nb") == "a b"
    assert [bool(file_name_fault(name)) for name in ("a.csv", "=a.csv", "..", "a\nb")] == [
        False, True, True, True]


def test_a_finding_is_never_lost_between_reading_and_showing(log):
    looked = look_at(log)
    text = json.dumps("\n".join(look_lines(looked)))
    for finding in looked.recording.findings:
        assert finding.what[:40] in text
