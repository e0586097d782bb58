"""Surveys of all flights: the same however they are made, none lost, none held in memory."""

from __future__ import annotations

import gc
import multiprocessing
import os
import pickle
import shutil
import signal
import subprocess
import sys
import textwrap
import time
import warnings
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from stdday import archive, ledger, pipeline, report, survey
from stdday.archive import survey_all
from stdday.campaign import load_campaign
from stdday.decisions import DECISION_COLUMNS, read_decisions
from stdday.errors import CampaignError, InputError, Problem, StddayError
from stdday.survey import TRACE_SAMPLES, Survey, survey_tasks
from stdday.workers import Workers

DEMO = Path(__file__).resolve().parents[1] / "data_demo" / "propeller_change"
#: Of the demo: one flight in two files, one of each recorder, both propellers.
FLIGHTS = ("F01", "F03", "F05", "F06")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A campaign of four flights of the demo."""
    place = tmp_path / "campaign"
    shutil.copytree(DEMO / "columns", place / "columns")
    shutil.copy(DEMO / "campaign.toml", place)
    lines = (DEMO / "flights.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    kept = [line for line in lines if line.split(",")[0] in ("flight", *FLIGHTS)]
    (place / "flights.csv").write_text("".join(kept), encoding="utf-8")
    (place / "logs").mkdir()
    for name in ("f01", "f03a", "f03b", "f05", "f06"):
        shutil.copy(DEMO / "logs" / f"{name}.csv.gz", place / "logs")
    return place


@pytest.fixture
def pool(monkeypatch: pytest.MonkeyPatch) -> None:
    """Start processes however little there is to read."""
    monkeypatch.setattr(archive, "POOL_BYTES", 0)


def surveys(folder: Path, jobs: int = 1) -> dict[str, Survey]:
    with Workers(jobs) as workers:
        return survey_all(load_campaign(folder), read_decisions(folder), workers)


def assert_same(one: dict[str, Survey], two: dict[str, Survey]) -> None:
    assert list(one) == list(two)
    for name, first in one.items():
        second = two[name]
        pd.testing.assert_frame_equal(first.points.table, second.points.table, check_exact=True)
        pd.testing.assert_frame_equal(
            first.points.segments, second.points.segments, check_exact=True)
        assert first.trace_time_s.tobytes() == second.trace_time_s.tobytes()
        assert {key: samples.tobytes() for key, samples in first.trace.items()} == {
            key: samples.tobytes() for key, samples in second.trace.items()}
        assert (first.points.orphans, first.points.decided) == (
            second.points.orphans, second.points.decided)
        assert (first.channels, first.rows, first.findings, first.sources) == (
            second.channels, second.rows, second.findings, second.sources)


def entries(folder: Path, kind: str) -> dict[str, int]:
    """Entries of the cache and when each was written."""
    return {path.name: path.stat().st_mtime_ns for path in (folder / ".cache").glob(f"{kind}-*")}


def content(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes()
            for path in folder.rglob("*") if path.is_file()}


def decide(folder: Path, *rows: dict[str, str]) -> None:
    columns = [name for name, dimension in DECISION_COLUMNS.items() if dimension is None]
    table = pd.DataFrame([dict.fromkeys(columns, "") | row for row in rows])
    table.to_csv(folder / "decisions.csv", index=False)


# ---- the same results ----------------------------------------------------------------------------


def test_results_are_the_same_bytes_for_any_processes_cache_and_place(
    folder: Path, pool: None, tmp_path: Path
) -> None:
    told: list[tuple[str, int, int]] = []
    pipeline.run(folder, tmp_path / "cold", 1, lambda *told_now: told.append(told_now))
    first = content(tmp_path / "cold")
    reading = [done for stage, done, total in told if stage == told[0][0] and total == 4]
    assert reading == [0, 1, 2, 3, 4]    # one stage, one bar
    pipeline.run(folder, tmp_path / "warm", 1)
    assert content(tmp_path / "warm") == first
    shutil.rmtree(folder / ".cache")
    pipeline.run(folder, jobs=2)
    assert content(folder / "results") == first
    assert multiprocessing.active_children() == []


def test_what_comes_out_of_the_cache_is_what_went_in(folder: Path) -> None:
    point = surveys(folder)["F01"].points.table["point"].iloc[0]
    decide(folder, {"point": point, "flight": "F01", "kind": "take-off", "use": "no",
                    "reason": "gust"},
           {"point": "F05-climb-000000", "flight": "F05", "kind": "climb", "use": "yes"})
    cold = surveys(folder)
    assert list(cold["F01"].points.decided) == [point]
    assert [decision.row for decision in cold["F05"].points.orphans] == [3]
    assert_same(cold, surveys(folder))


def test_an_entry_that_is_damaged_is_made_anew(folder: Path) -> None:
    cold = surveys(folder)
    paths = sorted((folder / ".cache").glob("survey-*"))
    whole = paths[0].read_bytes()
    assert len(paths) == len(FLIGHTS)
    paths[0].write_bytes(whole[: len(whole) // 2])
    place = whole.index(b'"segments"') + 400
    digit = whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1:]    # another number
    paths[1].write_bytes(digit)
    paths[2].write_bytes(pickle.dumps({"flight": "F01"}))
    paths[3].write_bytes(b"")
    recordings = sorted((folder / ".cache").glob("recording-*"))
    recordings[0].write_bytes(b"PK\x03\x04 no archive")
    np.savez(recordings[1], time_s=np.array([{}], dtype=object), allow_pickle=True)
    assert_same(cold, surveys(folder))
    assert paths[0].read_bytes() == whole
    (folder / ".cache" / "other.txt").write_text("mine")
    surveys(folder)
    assert (folder / ".cache" / "other.txt").exists()


def test_the_size_of_parts_changes_nothing(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pipeline.run(folder, tmp_path / "whole")
    monkeypatch.setattr(ledger, "POINTS_AT_ONCE", 3)
    monkeypatch.setattr(report, "FLIGHTS_AT_ONCE", 1)
    pipeline.run(folder, tmp_path / "parts")
    assert content(tmp_path / "parts") == content(tmp_path / "whole")


def test_processes_share_the_analysis_and_the_report_too(
    folder: Path, pool: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shared: list[str] = []
    hand_out = Workers._hand_out

    def noted(self: Workers, function, left, count):  # type: ignore[no-untyped-def]
        shared.append(function.__module__)
        return hand_out(self, function, left, count)

    monkeypatch.setattr(Workers, "_hand_out", noted)
    monkeypatch.setattr(report, "FLIGHTS_AT_ONCE", 2)
    pipeline.run(folder, tmp_path / "two", jobs=2)
    assert list(dict.fromkeys(shared)) == ["stdday.archive", "stdday.outcome", "stdday.report"]
    pipeline.run(folder, tmp_path / "one")
    assert content(tmp_path / "two") == content(tmp_path / "one")


# ---- what is made anew ---------------------------------------------------------------------------


def test_a_decision_makes_its_flight_anew_and_no_other(folder: Path) -> None:
    point = surveys(folder)["F05"].points.table["point"].iloc[0]
    before, recordings = entries(folder, "survey"), entries(folder, "recording")
    decide(folder, {"point": point, "flight": "F05", "kind": "take-off", "use": "no",
                    "reason": "wind"})
    found = surveys(folder)["F05"].points.table.set_index("point")
    assert found.loc[point, "reason"] == "decided: wind"
    after = entries(folder, "survey")
    assert len(before.items() & after.items()) == len(FLIGHTS) - 1    # the old one was let go
    assert len(after) == len(FLIGHTS)
    assert entries(folder, "recording") == recordings


def test_a_line_added_above_changes_nothing_but_the_line_that_is_told(folder: Path) -> None:
    lost = {"point": "F05-climb-000000", "flight": "F05", "kind": "climb", "use": "yes"}
    decide(folder, lost)
    surveys(folder)
    before = entries(folder, "survey")
    decide(folder, lost | {"point": "F06-climb-000000", "flight": "F06"}, lost)
    orphan, = surveys(folder)["F05"].points.orphans
    assert orphan.row == 3
    assert len(before.items() & entries(folder, "survey").items()) == len(FLIGHTS) - 1


@pytest.mark.parametrize(("file", "old", "new", "anew"), [
    ("columns/panel.toml", 'unit = "hPa"', 'unit = "mbar"', 3),
    ("flights.csv", "smooth, cool", "smooth and cool", 1),
    ("campaign.toml", 'liftoff_airspeed = "', 'liftoff_airspeed = " ', 0),
    ("campaign.toml", "48 kt", "47 kt", 4),
])
def test_what_a_survey_rests_on_makes_it_anew(
    folder: Path, file: str, old: str, new: str, anew: int
) -> None:
    surveys(folder)
    before = entries(folder, "survey")
    text = (folder / file).read_text(encoding="utf-8")
    assert old in text
    (folder / file).write_text(text.replace(old, new), encoding="utf-8")
    surveys(folder)
    assert len(before.items() - entries(folder, "survey").items()) == anew


def test_a_flight_that_left_takes_its_entries_along(folder: Path) -> None:
    surveys(folder)
    lines = (folder / "flights.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (folder / "flights.csv").write_text("".join(lines[:-1]), encoding="utf-8")
    surveys(folder)
    assert len(entries(folder, "survey")) == len(entries(folder, "recording")) == 3


def test_results_are_kept_where_nothing_changed_and_mended_where_they_did(folder: Path) -> None:
    told: list[str] = []
    pipeline.run(folder)
    first = content(folder / "results")
    stamps = {name: (folder / "results" / name).stat().st_mtime_ns for name in first}
    pipeline.run(folder, progress=lambda stage, done, total: told.append(stage))
    assert told == ["nothing changed, results kept"]
    assert {name: (folder / "results" / name).stat().st_mtime_ns for name in first} == stamps
    assert len((folder / "history.csv").read_text().splitlines()) == 3
    (folder / "results" / "values.csv").write_text("changed by hand")
    pipeline.run(folder)
    assert content(folder / "results") == first


# ---- processes -----------------------------------------------------------------------------------


def test_problems_of_all_flights_are_told_at_once(folder: Path, pool: None) -> None:
    campaign = load_campaign(folder)
    (folder / "logs" / "f01.csv.gz").write_text("nothing")
    (folder / "logs" / "f05.csv.gz").unlink()
    for jobs in (1, 2):
        with pytest.raises(CampaignError) as caught, Workers(jobs) as workers:
            survey_all(campaign, (), workers)
        files = [problem.file for problem in caught.value.problems]
        assert files == ["logs/f01.csv.gz", "logs/f05.csv.gz"]
    with pytest.raises(InputError, match="jobs must be at least 1"):
        pipeline.make(campaign, 0)
    flights = tuple(replace(flight, columns=None) for flight in campaign.flights)
    with pytest.raises(CampaignError, match="write the name of the file in columns/"):
        survey_all(replace(campaign, flights=flights))


def test_a_recording_that_cannot_be_searched_is_a_problem_of_its_flight(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise InputError("time must not run backwards")

    monkeypatch.setattr(survey, "find_points", refuse)
    with pytest.raises(CampaignError, match=r"flight F03: needed .*must not run backwards") as told:
        surveys(folder)
    assert len(told.value.problems) == len(FLIGHTS)


def test_processes_are_started_only_where_they_pay(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def started(*_: object) -> None:
        raise AssertionError("processes for 2 MB")

    monkeypatch.setattr(Workers, "_start", started)
    surveys(folder, jobs=2)
    monkeypatch.setattr(archive, "POOL_BYTES", 0)
    shutil.rmtree(folder / ".cache")
    with pytest.raises(AssertionError):
        surveys(folder, jobs=2)


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
def test_a_process_that_is_killed_is_told_and_costs_no_results(folder: Path, pool: None) -> None:
    pipeline.run(folder, jobs=2)
    before = content(folder / "results")
    shutil.rmtree(folder / ".cache")
    (folder / "decisions.csv").write_text("point,flight,kind,start_utc,end_utc,use,reason\n")

    def kill(stage: str, done: int, total: int) -> None:
        del stage, total
        if done == 1:
            for child in multiprocessing.active_children():
                os.kill(child.pid or 0, signal.SIGKILL)

    with pytest.raises(StddayError, match=r"ended from outside.*--jobs 1"):
        pipeline.run(folder, jobs=2, progress=kill)
    assert multiprocessing.active_children() == []
    assert content(folder / "results") == before
    pipeline.run(folder, jobs=2)


def test_an_interruption_leaves_no_process_and_whole_results(folder: Path, pool: None) -> None:
    pipeline.run(folder, jobs=2)
    before = content(folder / "results")
    shutil.rmtree(folder / ".cache")
    (folder / "decisions.csv").write_text("point,flight,kind,start_utc,end_utc,use,reason\n")

    def interrupt(stage: str, done: int, total: int) -> None:
        del stage, total
        if done == 1:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        pipeline.run(folder, jobs=2, progress=interrupt)
    assert multiprocessing.active_children() == []
    assert content(folder / "results") == before
    assert not list((folder / ".cache").glob(".writing-*"))


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals")
@pytest.mark.parametrize(("sent", "to_group"), [
    (signal.SIGKILL, False), (signal.SIGTERM, False), (signal.SIGINT, True)])
def test_no_process_outlives_the_one_that_started_it(
    folder: Path, tmp_path: Path, sent: signal.Signals, to_group: bool
) -> None:
    """Killed, ended, or stopped with Ctrl-C, which a terminal sends to the whole group."""
    script = tmp_path / "script.py"
    script.write_text(textwrap.dedent("""\
        import multiprocessing, sys, time
        from pathlib import Path
        from stdday import archive
        from stdday.campaign import load_campaign
        from stdday.workers import Workers

        def told(done, total):
            if done == 1:
                print(*(child.pid for child in multiprocessing.active_children()), flush=True)
                time.sleep(60)

        if __name__ == "__main__":
            archive.POOL_BYTES = 0
            with Workers(2) as workers:
                archive.survey_all(load_campaign(Path(sys.argv[1])), (), workers, told)
        """))
    library = str(Path(archive.__file__).parents[1])
    parent = subprocess.Popen([sys.executable, str(script), str(folder)], stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE, text=True, start_new_session=True,
                              env=os.environ | {"PYTHONPATH": library})
    assert parent.stdout is not None
    children = [int(pid) for pid in parent.stdout.readline().split()]
    assert len(children) == 2
    (os.killpg if to_group else os.kill)(parent.pid, sent)
    _, errors = parent.communicate(timeout=60)
    late = time.monotonic() + 20
    while any(alive(pid) for pid in children):
        assert time.monotonic() < late, "a process was left"
        time.sleep(0.05)
    assert errors.count("Traceback") <= 1    # the interrupted one's own


def alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    state = Path(f"/proc/{pid}/stat")    # one that ended and waits to be asked is not alive
    return not state.is_file() or state.read_text().rpartition(")")[2].split()[0] != "Z"


def warn(text: str) -> str:
    warnings.warn(text, RuntimeWarning, stacklevel=1)
    return text.upper()


def fail(text: str) -> None:
    raise CampaignError([Problem(text, "line 2", "a number", "'x'", "write one")])


def test_warnings_and_errors_come_whole_from_another_process() -> None:
    with Workers(2) as workers:
        with pytest.warns(RuntimeWarning) as caught:
            done = dict(workers.each(warn, ["one", "two", "three"], pays=True))
        assert done == {0: "ONE", 1: "TWO", 2: "THREE"}
        assert sorted(str(one.message) for one in caught) == ["one", "three", "two"]
        assert {Path(one.filename).name for one in caught} == {"test_archive.py"}
        with pytest.raises(CampaignError) as told:
            list(workers.each(fail, ["a.csv", "b.csv"]))
        assert told.value.problems[0].where == "line 2"
    assert multiprocessing.active_children() == []


# ---- memory --------------------------------------------------------------------------------------


def test_a_survey_holds_nothing_of_the_recording_but_its_trace(folder: Path) -> None:
    for found in surveys(folder).values():
        assert found.rows.used > 10 * TRACE_SAMPLES
        seen, waiting, arrays = set(), [found], []
        while waiting:
            thing = waiting.pop()
            if id(thing) in seen or isinstance(thing, type | type(sys)) or callable(thing):
                continue
            seen.add(id(thing))
            if isinstance(thing, np.ndarray):
                arrays.append(thing)
                waiting.append(thing.base)
            waiting += gc.get_referents(thing)
        assert len(arrays) > 5
        longest = max(max(array.shape, default=0) for array in arrays)
        assert longest <= TRACE_SAMPLES
        assert len(pickle.dumps(found)) < 100_000


def test_a_task_is_small_however_many_flights_there_are(folder: Path) -> None:
    campaign = load_campaign(folder)
    alone = len(pickle.dumps(survey_tasks(campaign)[0]))
    flights = campaign.flights + tuple(
        replace(campaign.flights[0], id=f"G{number}", logs=()) for number in range(500))
    assert len(pickle.dumps(survey_tasks(replace(campaign, flights=flights))[0])) == alone < 20_000
