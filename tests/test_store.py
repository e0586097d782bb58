"""Results on disk: the same bytes twice, whole at whatever step a machine stops."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest

from stdday import store
from stdday.errors import StddayError
from stdday.results import Results

STEPS = ("written", "old removed", "target moved", "new in place", "mark removed", "done")


class Stopped(Exception):
    """The machine stops here."""


def _results(mark: str) -> Results:
    table = pd.DataFrame({"metric": [mark, "=HYPERLINK(1)"], "estimate": [1.5, float("nan")]})
    empty = pd.DataFrame({"point": []})
    tables = {name: empty for name in Results.core_names()} | {"values": table}
    return Results(meta={"title": mark}, **tables)


def _save(folder: Path, mark: str, stop_at: str = "") -> None:
    def step(name: str) -> None:
        if name == stop_at:
            raise Stopped

    store.save_results(folder, _results(mark), lambda r: f"<p>{r.meta['title']}</p>", step=step)


def _read(folder: Path) -> dict[str, bytes]:
    target = folder / "results"
    return {
        path.relative_to(target).as_posix(): path.read_bytes()
        for path in sorted(target.rglob("*"))
        if path.is_file()
    }


@pytest.fixture
def campaign(tmp_path: Path) -> Path:
    folder = tmp_path / "my campaign"
    folder.mkdir()
    (folder / "campaign.toml").write_text("schema = 1\n")
    return folder


def test_the_same_results_are_the_same_bytes(campaign: Path) -> None:
    _save(campaign, "one")
    first = _read(campaign)
    _save(campaign, "one")
    assert _read(campaign) == first
    assert {"values.csv", "results.json", "report.html", "provenance.json"} <= set(first)
    assert "complete" not in first


@pytest.mark.parametrize("stop_at", STEPS)
def test_a_stop_at_any_step_leaves_whole_results(campaign: Path, stop_at: str) -> None:
    _save(campaign, "one")
    old = _read(campaign)
    with pytest.raises(Stopped):
        _save(campaign, "two", stop_at)
    store.recover(campaign / "results")
    found = _read(campaign)
    _save(campaign, "two")
    new = _read(campaign)
    assert found in (old, new)
    if stop_at in ("written", "old removed"):
        assert found == old
    assert sorted(path.name for path in campaign.iterdir()) == ["campaign.toml", "results"]


def test_results_read_back_as_they_were_written(campaign: Path) -> None:
    _save(campaign, "one")
    back = store.load_results(campaign)
    pd.testing.assert_frame_equal(back.values, _results("one").values)
    assert back.meta["title"] == "one"


def test_a_spreadsheet_formula_is_disarmed_in_csv_only(campaign: Path) -> None:
    _save(campaign, "one")
    text = (campaign / "results" / "values.csv").read_text()
    assert "'=HYPERLINK(1)" in text
    assert store.load_results(campaign).values["metric"].tolist() == ["one", "=HYPERLINK(1)"]


def test_a_folder_not_made_by_a_run_is_left_alone(campaign: Path) -> None:
    (campaign / "results").mkdir()
    (campaign / "results" / "thesis.txt").write_text("mine")
    with pytest.raises(StddayError, match=r"not made by a run.*--out"):
        _save(campaign, "one")
    assert (campaign / "results" / "thesis.txt").read_text() == "mine"


def test_up_to_date_until_an_input_changes(campaign: Path) -> None:
    assert not store.up_to_date(campaign)
    _save(campaign, "one")
    assert store.up_to_date(campaign)
    (campaign / "decisions.csv").write_text("point\n")
    assert not store.up_to_date(campaign)


def test_results_of_another_schema_are_refused_with_the_mend(campaign: Path) -> None:
    _save(campaign, "one")
    path = campaign / "results" / "results.json"
    path.write_text(json.dumps(json.loads(path.read_text()) | {"schema": 99}))
    with pytest.raises(StddayError, match=r"schema 99.*Mend: run the campaign again"):
        store.load_results(campaign)


def test_no_results_say_how_to_make_them(campaign: Path) -> None:
    with pytest.raises(StddayError, match="run the campaign first"):
        store.load_results(campaign)


def test_history_gains_one_line_a_run(campaign: Path) -> None:
    store.add_history(campaign, "q1", {"logs/a.csv": "f" * 64})
    store.add_history(campaign, "q2", {})
    lines = (campaign / "history.csv").read_text().splitlines()
    assert lines[0] == "run_at_utc,question,recordings"
    assert lines[1].endswith(",q1,logs/a.csv=ffffffffffffffff")
    assert len(lines) == 3


def test_what_changed_after_the_first_result_is_told(campaign: Path) -> None:
    logs = {"logs/a.csv": "a" * 64, "logs/b.csv": "b" * 64}
    before = store.since_first_result(campaign, "q1", logs)
    assert (before["question"], before["words"]) == (False, "")
    store.add_history(campaign, "q1", logs)
    assert store.since_first_result(campaign, "q1", logs) == before
    new = {"logs/a.csv": "c" * 64, "logs/c.csv": "d" * 64}
    changed = store.since_first_result(campaign, "q2", new)
    assert changed["question"]
    assert changed["recordings_changed"] == ["logs/a.csv"]
    assert changed["recordings_added"] == ["logs/c.csv"]
    assert changed["recordings_removed"] == ["logs/b.csv"]
    assert changed["words"].startswith("question, reference conditions or what matters changed")
    assert changed["words"].endswith("self-attested)")
    store.add_history(campaign, "q2", new)  # a second run does not make it the first
    assert store.since_first_result(campaign, "q2", new) == changed
    assert store.since_first_result(campaign, "q1", logs) == before
