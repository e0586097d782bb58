"""The command line: what each command does, prints and returns, with the work itself faked."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest

from stdday import command, opening
from stdday.errors import CampaignError, Problem, StddayError

ROOT = Path(__file__).resolve().parents[1]
BAD = Problem("flights.csv", "line 3, takeoff_weight", "a weight", "'heavy'", "write 585")
COST = Problem("flights.csv", "line 4", "a dew point", "nothing", "write it down", level="cost")


class Work:
    """Stands for the campaign's reading, running and keeping, and notes what was asked of it."""

    def __init__(self):
        self.calls, self.problems, self.current, self.error = [], [], False, None

    def run(self, folder, out=None, jobs=1, progress=None):
        self.calls.append(("run", folder, out, jobs))
        if progress is not None:
            progress("read", 1, 1)
        if self.error is not None:
            raise self.error
        return "results made"

    def up_to_date(self, folder, out=None):
        return self.current

    def load_results(self, folder, out=None):
        return "results kept"

    def check_campaign(self, folder):
        return self.problems

    def write_new_campaign(self, folder):
        self.calls.append(("new", folder))

    def open_jupyterlab(self, folder):
        self.calls.append(("open", folder))
        return 0


@pytest.fixture
def work(monkeypatch, tmp_path):
    work = Work()
    pieces = {
        "pipeline": {"run": work.run},
        "store": {"up_to_date": work.up_to_date, "load_results": work.load_results},
        "campaign": {"check_campaign": work.check_campaign},
        "new_campaign": {"write_new_campaign": work.write_new_campaign},
        "tables": {"headline": lambda results: f"headline of {results}"},
    }
    for name, content in pieces.items():
        piece = SimpleNamespace(**content)
        monkeypatch.setitem(sys.modules, f"stdday.{name}", piece)
        monkeypatch.setattr(f"stdday.{name}", piece, raising=False)
    monkeypatch.setattr(opening, "open_jupyterlab", work.open_jupyterlab)
    monkeypatch.setenv(opening.STATE_VARIABLE, str(tmp_path / "state"))
    demo = tmp_path / "demo"
    demo.mkdir()
    monkeypatch.setattr(command, "DEMO", demo)
    work.demo = demo
    return work


@pytest.fixture
def campaign(tmp_path):
    folder = tmp_path / "my campaign"
    folder.mkdir()
    (folder / "campaign.toml").touch()
    return folder


def test_without_a_folder_the_invented_example_is_made_and_opened(work, capsys):
    assert command.main([]) == 0
    printed = capsys.readouterr().out
    assert printed.startswith("Invented example")
    assert "headline of results made" in printed
    assert f"Report: {work.demo / 'results' / 'report.html'}" in printed
    assert [call[0] for call in work.calls] == ["run", "open"]


def test_what_is_up_to_date_is_not_made_again(work, capsys):
    work.current = True
    assert command.main([]) == 0
    assert "headline of results kept" in capsys.readouterr().out
    assert [call[0] for call in work.calls] == ["open"]


def test_no_open_stops_before_jupyterlab(work):
    assert command.main(["--no-open"]) == 0
    assert [call[0] for call in work.calls] == ["run"]


def test_the_campaign_last_opened_is_opened_again(work, campaign, capsys):
    assert command.main([str(campaign)]) == 0
    assert command.main([]) == 0
    assert work.calls[-1] == ("open", campaign)
    assert "Invented example" not in capsys.readouterr().out


def test_a_last_campaign_that_is_gone_is_said(work, campaign, capsys):
    command.main([str(campaign)])
    (campaign / "campaign.toml").unlink()
    assert command.main([]) == 0
    assert "is not there any more" in capsys.readouterr().err
    assert work.calls[-1] == ("open", work.demo)


def test_the_campaign_file_itself_may_be_named(work, campaign):
    assert command.main([str(campaign / "campaign.toml"), "--no-open"]) == 0
    assert work.calls[0][1] == campaign


def test_absent_entries_are_counted_before_a_run(work, campaign, capsys):
    work.problems = [COST]
    command.main([str(campaign), "--no-open"])
    assert "1 absent entry costs something" in capsys.readouterr().err


def test_run_returns_0_only_when_results_were_written(work, campaign, tmp_path, capsys):
    out = tmp_path / "elsewhere"
    assert command.main(["run", str(campaign), "--out", str(out), "--jobs", "2"]) == 0
    assert work.calls == [("run", campaign, out, 2)]
    assert f"Report: {out / 'report.html'}" in capsys.readouterr().out
    work.error = CampaignError([BAD])
    assert command.main(["run", str(campaign)]) == 1
    told = capsys.readouterr()
    assert str(BAD) in told.err
    assert "headline" not in told.out
    assert "Traceback" not in told.err


@pytest.mark.parametrize(
    ("error", "status", "words"),
    [
        (StddayError("the weight is missing"), 1, "the weight is missing"),
        (PermissionError(13, "Permission denied", "results"), 1, "could not be read or written"),
        (KeyboardInterrupt(), 130, "earlier results are as they were"),
    ],
)
def test_what_stops_a_run_is_told_in_words(work, campaign, capsys, error, status, words):
    work.error = error
    assert command.main(["run", str(campaign)]) == status
    assert words in capsys.readouterr().err


def test_a_fault_of_the_workbook_is_not_hidden(work, campaign):
    work.error = ZeroDivisionError()
    with pytest.raises(ZeroDivisionError):
        command.main(["run", str(campaign)])


@pytest.mark.parametrize(
    ("problems", "status", "words"),
    [
        ([], 0, "nothing is wrong or absent"),
        ([COST], 0, "The campaign can run. 1 absent entry costs something"),
        ([COST, BAD, BAD], 1, "2 to mend; the campaign cannot run yet"),
    ],
)
def test_check_lists_everything(work, campaign, capsys, problems, status, words):
    work.problems = problems
    assert command.main(["check", str(campaign)]) == status
    printed = capsys.readouterr().out
    assert words in printed
    for problem in problems:
        assert str(problem) in printed


def test_new_says_what_comes_next(work, tmp_path, capsys):
    assert command.main(["new", str(tmp_path / "a new one")]) == 0
    assert work.calls == [("new", tmp_path / "a new one")]
    assert f'check "{tmp_path / "a new one"}"' in capsys.readouterr().out


@pytest.mark.parametrize("typed", [["no such"], ["run", "no such"], ["check", "no such"]])
def test_a_folder_that_is_not_there(typed, capsys):
    assert command.main(typed) == 1
    assert "There is no folder no such" in capsys.readouterr().err


@pytest.mark.parametrize("typed", [["run"], ["run", "x", "--jobs", "0"], ["--what"], ["a", "b"]])
def test_what_is_not_understood_ends_with_2(typed, capsys):
    with pytest.raises(SystemExit) as ended:
        command.main(typed)
    assert ended.value.code == 2
    assert "usage" in capsys.readouterr().err


def test_the_commands_of_the_help(capsys):
    with pytest.raises(SystemExit):
        command.main(["--help"])
    printed = capsys.readouterr().out
    for word in ("run FOLDER", "check FOLDER", "new FOLDER", "--no-open"):
        assert word in printed


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_one_bar_a_stage_on_a_terminal():
    terminal = Terminal()
    with command.StageProgress(terminal) as progress:
        for done in range(3):
            progress("read", done, 2)
        progress("compare", 1, 1)
    drawn = terminal.getvalue()
    assert "read" in drawn
    assert "2/2" in drawn
    assert "compare" in drawn
    assert "1/1" in drawn


def test_a_bar_is_closed_before_an_error_is_told():
    terminal = Terminal()

    def stopped():
        with command.StageProgress(terminal) as progress:
            progress("read", 1, 2)
            raise StddayError("bad")

    with pytest.raises(StddayError):
        stopped()
    assert terminal.getvalue().endswith("\n")


def test_starts_in_a_moment_without_the_heavy_libraries():
    script = (
        "import sys, stdday.command, stdday.opening, json;"
        "print(json.dumps([m for m in ('pandas', 'numpy', 'scipy', 'plotly', 'pydantic', 'pint')"
        " if m in sys.modules]))"
    )
    started = time.perf_counter()
    answer = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, check=True, text=True,
        env={"PYTHONPATH": str(ROOT / "lib"), "PATH": ""},
    )
    assert json.loads(answer.stdout) == []
    assert time.perf_counter() - started < 5.0
