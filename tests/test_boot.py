"""The set-up: every state an environment can be in, without fetching anything."""

from __future__ import annotations

import ast
import importlib.util
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
import tomllib
from pathlib import Path

import pytest

import boot

ROOT = Path(__file__).resolve().parents[1]
OLD_PYTHON_FILES = ("lib/boot.py", "workbook/__main__.py", "tests/__main__.py")
POSIX = pytest.mark.skipif(sys.platform == "win32", reason="Windows itself keeps files in use")


@pytest.fixture
def root(tmp_path):
    """A project folder with a lock file, in a path with spaces."""
    folder = tmp_path / "with two spaces" / "standard day"
    folder.mkdir(parents=True)
    (folder / "lib").mkdir()
    (folder / "lib" / "stdday_probe.py").write_text("answer = 42\n")
    (folder / "requirements.lock").write_bytes(b"one==1.0\ntwo==2.0\n")
    (folder / "requirements-test.lock").write_bytes(b"one==1.0\ntwo==2.0\nthree==3.0\n")
    return str(folder)


class Maker:
    """Stands for venv and pip: makes a folder that looks like an environment, and counts."""

    def __init__(self, seconds=0.0, fails_with=None):
        self.made, self.seconds, self.fails_with = [], seconds, fails_with

    def __call__(self, root, purpose, handle, tell):
        folder = boot.environment_folder(root, purpose)
        python = Path(boot.python_of(folder))
        python.parent.mkdir(parents=True)
        python.symlink_to(sys.executable)
        (Path(folder) / "pyvenv.cfg").write_text(f"home = {Path(sys.executable).parent}\n")
        (Path(folder) / boot.IN_USE).touch()
        time.sleep(self.seconds)
        if self.fails_with is not None:
            raise self.fails_with
        self.made.append(folder)


def make(root, maker, purpose="workbook", works_after_move=True):
    """One start: what it used, and what it told."""
    told = []
    python = boot.environment_python(
        root, purpose, make=maker, probe=lambda python: works_after_move, tell=told.append
    )
    return python, "\n".join(told)


@pytest.fixture(autouse=True)
def _release(monkeypatch):
    """Let go, after each test, of the environments it held as in use."""
    held = []
    hold = boot.hold

    def noting(folder):
        handle = hold(folder)
        held.append(handle)
        return handle

    monkeypatch.setattr(boot, "hold", noting)
    boot.held_in_tests = held
    yield
    release()


def release():
    while boot.held_in_tests:
        handle = boot.held_in_tests.pop()
        if handle is not None and handle >= 0:
            os.close(handle)


@pytest.mark.parametrize("name", OLD_PYTHON_FILES)
def test_parses_on_python_3_8(name):
    text = (ROOT / name).read_text(encoding="utf-8")
    ast.parse(text, feature_version=(3, 8))


def old_pythons():
    for version in ("3.8", "3.9", "3.10"):
        command = shutil.which(f"python{version}")
        if command and not subprocess.run([command, "-c", ""], capture_output=True).returncode:
            yield command, version


def test_an_old_python_on_this_computer_gets_words():
    tried = 0
    for command, version in old_pythons():
        for purpose in ("workbook", "tests"):
            answer = subprocess.run([command, ROOT / purpose], capture_output=True, text=True)
            assert answer.returncode == 1
            assert f"this is Python {version}" in answer.stderr
            assert "Traceback" not in answer.stderr
            tried += 1
    if not tried:
        pytest.skip("no Python 3.8 to 3.10 on this computer to be refused (the files still parse)")


def test_minimum_python_is_the_one_of_pyproject():
    with open(ROOT / "pyproject.toml", "rb") as file:
        wanted = tomllib.load(file)["project"]["requires-python"]
    major, minor = boot.MINIMUM
    assert wanted == f">={major}.{minor}"


def test_too_old_names_a_newer_python_where_there_is_one():
    with pytest.raises(boot.BootError, match=r"needs Python 3\.11 or newer; this is Python 3\.9"):
        boot.check_python("workbook", (3, 9), lambda: None)
    with pytest.raises(boot.BootError, match=r"Start with:  python3\.13 workbook"):
        boot.check_python("workbook", (3, 10), lambda: "python3.13")
    boot.check_python("workbook", (3, 11), lambda: None)


def test_made_once_then_used(root):
    maker = Maker()
    first, told = make(root, maker)
    again, nothing = make(root, maker)
    assert first == again == boot.python_of(maker.made[0])
    assert len(maker.made) == 1
    assert "is ready" in told
    assert nothing == ""


def test_line_endings_of_the_lock_do_not_matter(root):
    before = boot.environment_folder(root, "workbook")
    Path(root, "requirements.lock").write_bytes(b"one==1.0\r\ntwo==2.0\r\n")
    assert boot.environment_folder(root, "workbook") == before


def test_ready_is_told_in_a_moment(root):
    make(root, Maker())
    folder = boot.environment_folder(root, "workbook")
    started = time.perf_counter()
    for _ in range(20):
        assert boot.state_of(folder, root) == "ready"
    assert time.perf_counter() - started < 1.0


def test_half_made_is_made_again(root):
    make(root, Maker())
    folder = Path(boot.environment_folder(root, "workbook"))
    (folder / boot.STAMP).unlink()
    (folder / "left over").touch()
    release()
    maker = Maker()
    _, told = make(root, maker)
    assert "cut short" in told
    assert len(maker.made) == 1
    assert not (folder / "left over").exists()


def test_python_gone_is_made_again(root):
    make(root, Maker())
    release()
    folder = Path(boot.environment_folder(root, "workbook"))
    (folder / "pyvenv.cfg").write_text(f"home = {root}/no longer there\n")
    maker = Maker()
    _, told = make(root, maker)
    assert "is gone" in told
    assert len(maker.made) == 1


@pytest.mark.parametrize("works", [True, False])
def test_moved_folder_is_used_where_it_works_else_made_again(root, works):
    make(root, Maker())
    release()
    moved = root + " moved"
    shutil.move(root, moved)
    maker = Maker()
    python, told = make(moved, maker, works_after_move=works)
    assert python.startswith(moved)
    assert "was moved or copied" in told
    assert len(maker.made) == (0 if works else 1)
    assert make(moved, maker)[1] == ""


def test_a_new_lock_makes_a_new_one_beside_and_removes_the_old(root):
    maker = Maker()
    make(root, maker)
    release()
    Path(root, "requirements.lock").write_bytes(b"one==1.1\n")
    _, told = make(root, maker)
    assert len(maker.made) == 2
    assert not Path(maker.made[0]).exists()
    assert "no longer needed" in told


@POSIX
def test_an_environment_in_use_stays(root):
    maker = Maker()
    make(root, maker)                       # held: as by an open workbook
    Path(root, "requirements.lock").write_bytes(b"one==1.1\n")
    _, told = make(root, maker)
    assert Path(boot.python_of(maker.made[0])).exists()
    assert "no longer needed" not in told


@POSIX
def test_in_use_and_broken_is_refused_in_words(root):
    make(root, Maker())
    Path(boot.environment_folder(root, "workbook"), boot.STAMP).unlink()
    maker = Maker()
    with pytest.raises(boot.BootError, match="a program is using it"):
        make(root, maker)
    assert maker.made == []


def test_environments_of_tests_and_workbook_leave_each_other(root):
    maker = Maker()
    make(root, maker)
    make(root, maker, purpose="tests")
    release()
    Path(root, "requirements-test.lock").write_bytes(b"three==3.1\n")
    make(root, maker, purpose="tests")
    workbook, old_tests, new_tests = (Path(folder).exists() for folder in maker.made)
    assert (workbook, old_tests, new_tests) == (True, False, True)


def test_two_at_once_one_builds_one_waits(root):
    maker, told, used = Maker(seconds=0.6), [], []

    def one_start():
        python, words = make(root, maker)
        used.append(python)
        told.append(words)

    starts = [threading.Thread(target=one_start) for _ in range(2)]
    for start in starts:
        start.start()
    for start in starts:
        start.join(timeout=30)
    assert len(maker.made) == 1
    assert used[0] == used[1]
    assert sum("waiting for it" in words for words in told) == 1


@pytest.mark.skipif(sys.platform == "win32", reason="no such kill on Windows")
def test_killed_in_the_middle_does_not_hang_the_next_start(root):
    killed = f"""
import sys, time
sys.path.insert(0, {str(ROOT / "lib")!r})
import boot, os
def make(root, purpose, handle, tell):
    os.makedirs(boot.environment_folder(root, purpose))
    print("half made", flush=True)
    time.sleep(60)
boot.environment_python({root!r}, "workbook", make=make)
"""
    process = subprocess.Popen([sys.executable, "-c", killed], stdout=subprocess.PIPE, text=True)
    with process:
        assert process.stdout.readline() == "half made\n"
        process.send_signal(signal.SIGKILL)
    maker = Maker()
    _, told = make(root, maker)
    assert "cut short" in told
    assert len(maker.made) == 1


def test_interrupted_leaves_nothing_and_says_so(root, monkeypatch, capsys):
    monkeypatch.setattr(boot, "lacking", lambda root, purpose: ["one"])
    monkeypatch.setattr(boot, "make_environment", Maker(fails_with=KeyboardInterrupt()))
    assert boot.start(root, "workbook", []) == 130
    assert "Stopped before the set-up was complete" in capsys.readouterr().err
    assert not Path(boot.environment_folder(root, "workbook")).exists()


def test_a_failure_leaves_nothing_and_says_why(root, monkeypatch, capsys):
    monkeypatch.setattr(boot, "lacking", lambda root, purpose: ["one"])
    monkeypatch.setattr(boot, "make_environment", Maker(fails_with=boot.BootError("no network")))
    assert boot.start(root, "workbook", []) == 1
    assert capsys.readouterr().err.strip() == "no network"
    assert not Path(boot.environment_folder(root, "workbook")).exists()


def test_without_ensurepip_in_words(root, monkeypatch):
    found = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name: None if name == "ensurepip" else found(name)
    )
    with pytest.raises(boot.BootError, match=r"ensurepip.*is missing") as caught:
        boot.environment_python(root, "workbook", tell=lambda text: None)
    assert "apt install python3." in str(caught.value)
    assert not Path(boot.environment_folder(root, "workbook")).exists()


def test_a_folder_that_cannot_be_written_to_in_words(root):
    Path(root, ".venv").write_text("in the way")
    with pytest.raises(boot.BootError, match="cannot be written to"):
        make(root, Maker())


def test_a_full_disk_is_seen_before_anything_is_fetched(root, monkeypatch):
    usage = shutil.disk_usage(root)._replace(free=10_000_000)
    monkeypatch.setattr(shutil, "disk_usage", lambda path: usage)
    maker = Maker()
    with pytest.raises(boot.BootError, match="free disk space"):
        make(root, maker)
    assert maker.made == []


# What pip 23.2 printed, shortened: with an index address where nothing listens; told to ask none;
# and with a hash altered in the lock.
OFFLINE = [
    "WARNING: Retrying (Retry(total=0, connect=None, read=None)) after connection broken by "
    "'NewConnectionError('<pip._vendor.urllib3.connection.HTTPConnection object at 0x7f>: "
    "Failed to establish a new connection: [Errno 111] Connection refused')': /simple/ambiance/",
    "ERROR: Could not find a version that satisfies the requirement ambiance==1.3.1",
    "ERROR: No matching distribution found for ambiance==1.3.1",
]
NO_INDEX = OFFLINE[1:]
ALTERED = ["ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE. If you have"]


@pytest.mark.parametrize(
    ("log", "words"),
    [
        (OFFLINE, "no package index answered"),
        (NO_INDEX, "told to ask no index"),
        (ALTERED, "not the file that was tested"),
        (["ERROR: Could not install: [Errno 28] No space left on device"], "The disk is full"),
        (["something new"], "pip could not install"),
    ],
)
def test_why_pip_failed_in_words(log, words):
    text = boot.explain(log)
    assert words in text
    assert log[-1][:120] in text
    assert "start again" in text


def test_pip_fetches_only_wheels_with_hashes_of_the_lock(root, monkeypatch):
    commands = []

    def run(command, handle, listen):
        commands.append(command)
        listen("Collecting one==1.0")
        if "venv" in command:
            subprocess.run([*command, "--without-pip"], check=True)
        return 0

    monkeypatch.setattr(boot, "_run", run)
    monkeypatch.setenv("PIP_TARGET", "elsewhere")
    boot.environment_python(root, "workbook", tell=lambda text: None)
    pip = commands[1]
    assert {"--require-hashes", "--only-binary=:all:", "-I"} <= set(pip)
    assert pip[-2:] == ["-r", os.path.join(root, "requirements.lock")]
    assert "PIP_TARGET" not in boot._clean_environment()


def test_lib_is_found_by_a_relative_path_even_after_a_move(root):
    folder = os.path.join(root, ".venv", "one")
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", folder], check=True)
    boot._point_at_lib(root, folder)
    moved = root + " é moved"
    shutil.move(root, moved)
    python = boot.python_of(os.path.join(moved, ".venv", "one"))
    answer = subprocess.run(
        [python, "-I", "-c", "import stdday_probe; print(stdday_probe.__file__)"],
        check=True, capture_output=True, encoding="utf-8", env={**os.environ, "PYTHONUTF8": "1"},
    )
    assert Path(answer.stdout.strip()).parent == Path(moved, "lib")


def test_a_step_holds_the_build_lock_too(root):
    """A killed start's pip is waited for, not written over."""
    with boot.build_lock(root, print) as handle:
        log = []
        script = f"import os; print(os.get_inheritable({handle}))"
        assert boot._run([sys.executable, "-c", script], handle, log.append) == 0
    if sys.platform != "win32":
        assert log == ["True"]


def project(root, *requirements):
    lines = ", ".join(f'"{requirement}"' for requirement in requirements)
    Path(root, "pyproject.toml").write_text(
        f"[project]\ndependencies = [{lines}]\n"
        "[project.optional-dependencies]\ntest = ['no-such-package>=1']\n"
    )


def test_a_python_that_has_everything_is_used_and_said_so(root, monkeypatch, capsys):
    project(root, "pytest>=1.0")
    started = []
    monkeypatch.setattr(boot, "become", lambda command, environment: started.append(command) or 0)
    assert boot.start(root, "workbook", ["-m", "stdday.command"]) == 0
    assert started == [[sys.executable, "-P", "-m", "stdday.command"]]
    assert "Using the Python that started this" in capsys.readouterr().err
    assert not Path(root, ".venv").exists()


def test_what_a_python_lacks(root):
    project(root, "pytest>=1.0", "pytest>=999.0", "no-such-package>=1")
    too_old, absent = boot.lacking(root, "workbook")
    assert too_old.startswith("pytest>=999.0 (has ")
    assert absent == "no-such-package>=1"
    assert len(boot.lacking(root, "tests")) == 3


def test_versions_compare_by_number():
    assert boot._release("2.10") > boot._release("2.9.1")
    assert boot._release("6.0.12.20261113") > boot._release("6.0")
    assert boot._release("3.0rc1") == (3, 0)


def test_the_program_gets_lib_and_one_numerical_thread(root, monkeypatch):
    monkeypatch.setenv("PYTHONHOME", "/nowhere")
    environment = boot.child_environment(root)
    assert environment["PYTHONPATH"] == os.path.join(root, "lib")
    assert environment["OPENBLAS_NUM_THREADS"] == environment["OMP_NUM_THREADS"] == "1"
    assert "PYTHONHOME" not in environment


def test_works_from_any_folder(tmp_path):
    """`python3 /path/to/workbook check ...` from elsewhere, with the Python at hand."""
    if boot.lacking(str(ROOT), "workbook"):
        pytest.skip("this Python lacks what pyproject.toml asks for")
    (tmp_path / "argparse.py").write_text("raise SystemExit('shadowed')\n")
    answer = subprocess.run(
        [sys.executable, ROOT / "workbook", "check", "no such campaign"],
        cwd=tmp_path, capture_output=True, text=True,
    )
    assert answer.returncode == 1
    assert "There is no folder no such campaign" in answer.stderr
