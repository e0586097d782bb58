"""Opening a campaign: its own notebooks, what is remembered, and JupyterLab."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from stdday import opening


def notebook(text, output="demo's number"):
    return {
        "cells": [
            {"cell_type": "markdown", "id": "a", "metadata": {}, "source": ["# Title"]},
            {
                "cell_type": "code", "id": "b", "metadata": {}, "execution_count": 1,
                "source": [text],
                "outputs": [{"output_type": "stream", "name": "stdout", "text": [output]}],
            },
        ],
        "metadata": {}, "nbformat": 4, "nbformat_minor": 5,
    }


def write(path, content):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(content), encoding="utf-8")


@pytest.fixture
def workbook(tmp_path):
    folder = tmp_path / "workbook"
    write(folder / "00_start.ipynb", notebook("one = 1"))
    write(folder / "10_next.ipynb", notebook("two = 2"))
    return folder


@pytest.fixture
def campaign(tmp_path):
    folder = tmp_path / "my campaign"
    folder.mkdir()
    return folder


@pytest.fixture
def state(tmp_path, monkeypatch):
    folder = tmp_path / "state"
    monkeypatch.setenv(opening.STATE_VARIABLE, str(folder))
    return folder


def copy_of(campaign, name="00_start.ipynb"):
    return json.loads((campaign / "notebooks" / name).read_text(encoding="utf-8"))


def test_notebooks_are_copied_without_the_demos_numbers(workbook, campaign):
    assert opening.copy_notebooks(workbook, campaign, with_outputs=False) == []
    code = copy_of(campaign)["cells"][1]
    assert (code["outputs"], code["execution_count"], code["source"]) == ([], None, ["one = 1"])
    names = sorted(path.name for path in (campaign / "notebooks").glob("*.ipynb"))
    assert names == ["00_start.ipynb", "10_next.ipynb"]


def test_the_demo_keeps_its_numbers(workbook, campaign):
    opening.copy_notebooks(workbook, campaign, with_outputs=True)
    assert copy_of(campaign) == notebook("one = 1")


def test_an_edited_copy_is_never_written_over(workbook, campaign):
    opening.copy_notebooks(workbook, campaign, with_outputs=False)
    mine = notebook("my own = 'words'")
    write(campaign / "notebooks" / "00_start.ipynb", mine)
    assert opening.copy_notebooks(workbook, campaign, with_outputs=False) == []
    write(workbook / "00_start.ipynb", notebook("one = 1.1"))
    for _ in range(2):
        told = opening.copy_notebooks(workbook, campaign, with_outputs=False)
        assert len(told) == 1
        assert "00_start.ipynb is kept" in told[0]
        assert copy_of(campaign) == mine


def test_a_copy_that_was_only_run_is_brought_up_to_date(workbook, campaign):
    opening.copy_notebooks(workbook, campaign, with_outputs=False)
    write(campaign / "notebooks" / "00_start.ipynb", notebook("one = 1", "my number"))
    opening.copy_notebooks(workbook, campaign, with_outputs=False)
    assert copy_of(campaign)["cells"][1]["outputs"][0]["text"] == ["my number"]
    write(workbook / "00_start.ipynb", notebook("one = 1.1"))
    opening.copy_notebooks(workbook, campaign, with_outputs=False)
    assert copy_of(campaign)["cells"][1]["source"] == ["one = 1.1"]


def test_a_copy_of_unknown_origin_or_unreadable_is_kept(workbook, campaign):
    target = campaign / "notebooks"
    write(target / "00_start.ipynb", notebook("mine = 0"))
    (target / "10_next.ipynb").write_text("half a note")
    opening.copy_notebooks(workbook, campaign, with_outputs=False)
    assert copy_of(campaign) == notebook("mine = 0")
    assert (target / "10_next.ipynb").read_text() == "half a note"


def test_a_deleted_copy_comes_back(workbook, campaign):
    opening.copy_notebooks(workbook, campaign, with_outputs=False)
    (campaign / "notebooks" / "00_start.ipynb").unlink()
    opening.copy_notebooks(workbook, campaign, with_outputs=False)
    assert copy_of(campaign)["cells"][1]["source"] == ["one = 1"]


def test_source_as_one_text_or_as_lines_is_the_same():
    lines, text = notebook("one = 1"), notebook("one = 1")
    text["cells"][1]["source"] = "one = 1"
    assert opening._cells(lines) == opening._cells(text)


@pytest.mark.parametrize(
    ("platform", "environment", "ends"),
    [
        ("win32", {"LOCALAPPDATA": "D:/AppData/Local"}, "AppData/Local/Standard Day"),
        ("darwin", {}, "Library/Application Support/Standard Day"),
        ("linux", {"XDG_STATE_HOME": "/state"}, "/state/standard-day"),
        ("linux", {}, ".local/state/standard-day"),
        ("win32", {opening.STATE_VARIABLE: "mine"}, "mine"),
    ],
)
def test_state_folder_of_each_system(platform, environment, ends):
    assert opening.state_folder(environment, platform).as_posix().endswith(ends)


def test_what_was_opened_last_is_remembered(campaign, state):
    assert opening.last_opened() is None
    opening.remember(campaign)
    assert opening.last_opened() == campaign
    (state / "opened.json").write_text("[]")
    assert opening.last_opened() is None


def test_a_state_folder_that_cannot_be_made_is_no_error(campaign, tmp_path, monkeypatch):
    (tmp_path / "file").touch()
    monkeypatch.setenv(opening.STATE_VARIABLE, str(tmp_path / "file" / "state"))
    opening.remember(campaign)
    assert opening.last_opened() is None


def test_jupyterlab_is_for_this_computer_with_its_token(workbook, campaign, state, monkeypatch):
    monkeypatch.setenv("JUPYTER_TOKEN", "")
    opening.copy_notebooks(workbook, campaign, with_outputs=False)
    started = []
    status = opening.open_jupyterlab(campaign, become=lambda *what: started.append(what) or 0)
    command, environment = started[0]
    assert status == 0
    assert command[:4] == [sys.executable, "-P", "-m", "jupyterlab"]
    assert "--ServerApp.ip=127.0.0.1" in command
    assert "--LabApp.default_url=/lab/tree/notebooks/00_start.ipynb" in command
    assert not any("token" in word.lower() for word in command)
    assert "JUPYTER_TOKEN" not in environment
    assert environment["STDDAY_OPENED"] == "1"
    settings = Path(environment["JUPYTERLAB_SETTINGS_DIR"])
    news = settings / "@jupyterlab" / "apputils-extension" / "notification.jupyterlab-settings"
    assert json.loads(news.read_text())["fetchNews"] == "false"
    assert settings.is_relative_to(state)


def test_a_persons_own_settings_are_kept(campaign, state):
    opening.open_jupyterlab(campaign, become=lambda *what: 0)
    (news,) = state.rglob("notification.jupyterlab-settings")
    news.write_text('{"fetchNews": "true"}')
    opening.open_jupyterlab(campaign, become=lambda *what: 0)
    assert news.read_text() == '{"fetchNews": "true"}'


def test_a_free_port_can_be_listened_on():
    assert 1024 < opening.free_port() < 65536


def answer_of(address):
    try:
        with urllib.request.urlopen(address, timeout=5) as answer:
            return answer.status, answer.read().decode(errors="replace")
    except urllib.error.HTTPError as error:
        with error:
            return error.code, ""


@pytest.mark.skipif(sys.platform == "win32", reason="stopped by a signal that Windows lacks")
def test_jupyterlab_really_starts_refuses_strangers_and_ends(workbook, campaign, state, tmp_path):
    """Started as for a person, but with no browser to open; loopback only."""
    opening.copy_notebooks(workbook, campaign, with_outputs=False)
    command = [*opening.jupyterlab_command(campaign, opening.free_port()), "--no-browser"]
    environment = opening.jupyterlab_environment(campaign, state)
    environment.update(JUPYTER_RUNTIME_DIR=str(tmp_path / "run"), IPYTHONDIR=str(tmp_path / "i"))
    with (
        open(tmp_path / "log", "w+", encoding="utf-8") as log,
        subprocess.Popen(command, env=environment, stdout=log, stderr=log) as process,
    ):
        try:
            address = wait_for_address(process, tmp_path / "log")
            base, token = address.split("?token=")
            assert answer_of(address)[0] == 200
            assert answer_of(f"{base.split('/lab')[0]}/api/contents")[0] == 403
            listing = f"{base.split('/lab')[0]}/api/contents/notebooks?token={token}"
            assert "00_start.ipynb" in answer_of(listing)[1]
            assert base.endswith("/lab/tree/notebooks/00_start.ipynb")
        finally:
            process.send_signal(signal.SIGTERM)
            try:
                process.wait(timeout=20)
            finally:
                process.kill()
    assert process.returncode == 0


def wait_for_address(process, log):
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline and process.poll() is None:
        text = log.read_text(encoding="utf-8")
        found = re.search(r"http://127\.0\.0\.1:\d+/lab\S*\?token=[0-9a-f]{32,}", text)
        if found:
            return found.group()
        time.sleep(0.1)
    raise AssertionError(f"no address was printed:\n{log.read_text(encoding='utf-8')}")


def test_children_do_not_inherit_the_mark_of_an_opened_workbook():
    """Stored notebooks are made without it; nothing in the test run may set it."""
    assert "STDDAY_OPENED" not in os.environ
